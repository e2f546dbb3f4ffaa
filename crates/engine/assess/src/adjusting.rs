//! pH at the bench: the next addition of an acid or base, from the model of the formula and from the readings so far.
//!
//! ```text
//! A(pH) = grams of the adjuster that bring the batch to the pH, normal: mean and deviation by model and readings
//! bound:      largest a with   P(A(far edge) < a) <= risk of this step      (given that it is not past already, where a reading shows that)
//! best:       a that makes     P(A(near edge) < a) - P(A(far edge) < a)    largest
//! addition:   the smaller of the two, less what is in, rounded down to the balance
//! risk:       0.025, 0.0125, 0.00625, ...  of the 1st, 2nd, 3rd ... addition; 0.02 of one before any reading; all together at most 0.05
//! ```
//!
//! The far edge is the end of the window that an addition too large runs past. The model gives A before anything is read, with the doubt of constants,
//! contents and strengths; every settled reading then says where the batch really stands and how strongly it resists, so that acid nobody knew of, a
//! buffer stronger or weaker than thought and the electrode's own error are told anew after each addition (see `learning`). A reading that the
//! model and the readings before it make all but impossible is said to be one; the doubts are then taken so wide that it is not, and what the
//! readings say rules.
//!
//! Range: one water phase at equilibrium, read settled; doubts are normal where they are learned, and have the tails of Student's t with four
//! degrees of freedom in every probability that is told. Conventions of how sure things are
//! stand in `data/methods/ph_bench.toml`. Proof: `tests/tests/adjusting.rs`, a thousand batches and more of each formula made with wrong constants, assays,
//! strengths and electrodes; it shares the solver of the water phase and the facts with what it proves.

mod asked;
mod beaker;
mod drift;
mod first;
mod learning;
mod telling;
mod words;

pub use asked::{Addition, Batch, Convention, Dosing, Meter, Method, Reading, Setting, Trouble, Window};
pub use drift::{Direction, Drift, Drifting};
pub use first::{FirstPortion, first_portion, window_about};
pub use telling::{Counted, HeardReading, Report, Reported};

use crate::assess::{AssessError, Known, resolve};
use beaker::{Beaker, Place};
use learning::{Amount, Heard, Learned};
use levigate_formula::library::Material;
use levigate_formula::settle::{Settled, settle};
use levigate_formula::sheet::Sheet;
use levigate_measure::elementary::Elementary as _;

/// Standard normal quantiles of the risk of each addition: 0.025, 0.0125, ... (Abramowitz and Stegun 26.2, inverted).
const LADDER: [f64; 8] =
    [1.959_964, 2.241_403, 2.497_705, 2.734_369, 2.955_167, 3.162_909, 3.359_689, 3.547_105];
/// Quantile of the risk of an addition before anything was read: 0.02. Nothing but the model speaks then, and no reading would show that doubts
/// run wider than stated.
const UNREAD: f64 = 2.053_749;
/// Degrees of freedom of a stated doubt: a standard uncertainty that is itself known to a third (JCGM 100, G.4, from memory). What is told has the
/// tails of Student's t, so that it holds too where doubts run wider than stated.
const DEGREES: f64 = 4.0;
/// In the window with this probability there is nothing left to do.
const SURE: f64 = 0.9;
/// What another addition must gain in probability to be worth it.
const GAIN: f64 = 0.03;
/// A reading this surprising contradicts the model, in standard deviations (one in a thousand does by chance).
const CONTRADICTS: f64 = 3.29;
/// Readings this far from the temperature of the target are not used, K.
const FAR_K: f64 = 15.0;
/// One division of the balance that moves the pH by more than this share of the window is too coarse.
const COARSE: f64 = 0.25;
/// Points between the edges where the best place is looked for.
const POINTS: usize = 64;

/// What to do next.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Next {
    /// In the window.
    Done,
    /// Read first: something went in after the last reading.
    Read,
    /// Add so many grams of the adjuster.
    Add {
        /// Grams.
        grams: f64,
        /// Whether the far edge and not the best place sets it.
        by_edge: bool,
    },
    /// The batch has run past the window.
    Beyond,
    /// No addition however small keeps to the far edge surely.
    NoneSure,
    /// What may be added is less than can be weighed: dilute the adjuster so many times.
    Finer {
        /// Grams that could be added.
        grams: f64,
        /// Times.
        times: f64,
    },
}

/// The advice in numbers.
#[derive(Clone, Debug)]
pub struct Advice {
    /// What to do.
    pub next: Next,
    /// Of the present adjuster in the batch, g.
    pub grams: f64,
    /// Largest total the far edge allows at the risk of this step, g.
    pub bound_g: f64,
    /// Total that is best, g.
    pub best_g: f64,
    /// Risk of this step to run past the far edge.
    pub risk: f64,
    /// Probability that the batch stands in the window now, and after the addition.
    pub within: [f64; 2],
    /// pH now by all that is known, with its 95 % interval.
    pub now: [f64; 3],
    /// The same after the addition; where nothing is added, the same as now.
    pub then: [f64; 3],
    /// What one portion moves in the window, pH.
    pub portion_ph: f64,
    /// Standard uncertainty of a reading: electrode and scatter, pH.
    pub reading_ph: f64,
    /// Whether the window is too narrow for the meter and the portion.
    pub too_narrow: bool,
    /// What was learned.
    learned: Learned,
    /// Readings that were not used, with the reason.
    pub left_out: Vec<(usize, String)>,
    /// Places of the readings used.
    heard: Vec<usize>,
}

impl Advice {
    /// Surprise of each reading used, in standard deviations, with its place.
    pub fn surprises(&self) -> impl Iterator<Item = (usize, f64)> + '_ {
        self.heard.iter().copied().zip(self.learned.surprises.iter().copied())
    }

    /// Readings that contradict the model and what was read before.
    #[must_use]
    pub fn contradictions(&self) -> Vec<(usize, f64)> {
        self.surprises().filter(|(_, surprise)| surprise.abs() > CONTRADICTS).collect()
    }

    /// Grams in all to the lower and to the upper edge: mean and deviation.
    #[must_use]
    pub fn edges(&self) -> [[f64; 2]; 2] {
        self.learned.edges.map(|edge| [edge.grams, edge.deviation])
    }
}

/// A batch at the bench: formula, adjusters, meter, balance. The first adjuster is the one in use.
pub struct Bench<'a> {
    pub(crate) known: Known<'a>,
    pub(crate) settled: Settled<'a>,
    pub(crate) adjusters: Vec<(&'a Material, Option<f64>)>,
    pub(crate) batch: Batch,
    pub(crate) window: Window,
    pub(crate) meter: Meter,
    pub(crate) dosing: Dosing,
    pub(crate) convention: Convention,
    beaker: Beaker,
}

impl<'a> Bench<'a> {
    /// Lays out a batch.
    ///
    /// # Errors
    /// [`Trouble`] for a formula that cannot be settled or laid out, and for numbers that cannot be.
    pub fn of(
        sheet: &Sheet,
        known: Known<'a>,
        setting: Setting<'a>,
        convention: &Convention,
    ) -> Result<Self, Trouble> {
        let Setting { adjusters, batch, window, meter, dosing, temperatures_c } = setting;
        for (what, value, sound) in [
            ("the batch", batch.finished_g, batch.finished_g > 0.0 && batch.finished_g < 1e9),
            (
                "what is held back of the q.s. line",
                batch.held_back_g,
                batch.held_back_g >= 0.0 && batch.held_back_g < batch.finished_g,
            ),
            ("the width of the window", window.ph[1] - window.ph[0], window.ph[1] > window.ph[0]),
            ("the lower edge", window.ph[0], window.ph[0] >= 0.0),
            ("the upper edge", window.ph[1], window.ph[1] <= 14.0),
            (
                "the uncertainty of the meter",
                meter.offset_uncertainty,
                (0.0..=2.0).contains(&meter.offset_uncertainty),
            ),
            ("the readability of the balance", dosing.readability_g, dosing.readability_g > 0.0),
            ("the portion", dosing.portion_g, dosing.portion_g > 0.0),
        ] {
            if !(sound && value.is_finite()) {
                return Err(Trouble::NotUsable { what, value });
            }
        }
        let settled = settle(sheet, |typed| resolve(&known, typed))
            .map_err(|errors| Trouble::Formula(AssessError::Settle(errors)))?;
        let mut temperatures = vec![window.method.temperature_c];
        temperatures.extend(
            temperatures_c.into_iter().filter(|at| (at - window.method.temperature_c).abs() <= FAR_K),
        );
        let beaker = Beaker::of(sheet, &settled, &known, &adjusters, &batch, convention, &temperatures)?;
        Ok(Self {
            known,
            settled,
            adjusters,
            batch,
            window,
            meter,
            dosing,
            convention: convention.clone(),
            beaker,
        })
    }

    /// Grams of every adjuster after so many additions.
    fn grams_after(&self, additions: &[Addition], after: usize) -> Vec<f64> {
        let mut grams = vec![0.0; self.adjusters.len()];
        for addition in additions.iter().take(after) {
            if let Some(into) = grams.get_mut(addition.adjuster) {
                *into += addition.grams;
            }
        }
        grams
    }

    /// What of the readings can be used, and why the others cannot.
    fn hear(&self, additions: &[Addition], readings: &[Reading]) -> Hearing {
        let mut hearing = Hearing::default();
        let wanted = &self.window.method;
        for (at, reading) in readings.iter().enumerate() {
            let off = reading.method.temperature_c - wanted.temperature_c;
            if reading.method.diluted != wanted.diluted {
                let why = format!(
                    "read {}, the target is {}: the two numbers are not the same thing; read it as the target says",
                    reading.method.words(),
                    wanted.words()
                );
                hearing.left_out.push((at, why));
                continue;
            }
            let system = self.beaker.system_at(reading.method.temperature_c).filter(|_| off.abs() <= FAR_K);
            let Some(system) = system else {
                let why = format!(
                    "read at {} \u{b0}C, the target at {} \u{b0}C: cool first, then read",
                    reading.method.temperature_c, wanted.temperature_c
                );
                hearing.left_out.push((at, why));
                continue;
            };
            let count = additions.iter().take(reading.after).filter(|one| one.adjuster == 0).count();
            hearing.places.push(at);
            hearing.heard.push(Heard {
                ph: reading.ph,
                scatter: reading.scatter.unwrap_or(self.convention.reading_ph),
                system,
                diluted: reading.method.diluted,
                grams: self.grams_after(additions, reading.after),
                grams_uncertainty: self.dosing.uncertainty_g * f64::sqrt(count as f64),
            });
        }
        hearing
    }

    /// What to do next, after these additions and readings.
    ///
    /// # Errors
    /// [`Trouble`] where the equilibrium has no answer, or an adjuster does nothing.
    pub fn advise(&mut self, additions: &[Addition], readings: &[Reading]) -> Result<Advice, Trouble> {
        let Hearing { places, heard, left_out } = self.hear(additions, readings);
        let grams = self.grams_after(additions, additions.len());
        let place = Place { system: 0, diluted: self.window.method.diluted, grams: &grams };
        let learned =
            learning::learn(&mut self.beaker, &heard, self.window.ph, &place, &self.meter, CONTRADICTS)?;
        let far = usize::from(learned.base_per_gram > 0.0);
        let (near_edge, far_edge) = (learned.edges[1 - far], learned.edges[far]);
        // Every addition took its part of the whole risk, also one of an adjuster that was since diluted or exchanged.
        let quantile = if heard.is_empty() { UNREAD } else { quantile(additions) };
        let risk = 1.0 - quantile.normal_below();
        let at = grams[0];
        let dose = self.dosing.uncertainty_g;
        let (best_g, _) = best(&near_edge, &far_edge, at, dose);
        let within_at = |total: f64, dose: f64| {
            let told = |edge: &Amount| student_below(edge.deviations(total, dose));
            (told(&near_edge) - told(&far_edge)).clamp(0.0, 1.0)
        };
        let last = heard.last();
        let unread = last.map_or(grams.iter().any(|grams| *grams > 0.0), |last| last.grams != grams);
        let width = self.window.ph[1] - self.window.ph[0];
        let scatter = last.map_or(self.convention.reading_ph, |last| last.scatter);
        let reading_ph = learned.electrode[1].root_sum_square(scatter);
        // A batch read well short of the far edge has not run past it, however wide the doubts are: amounts below what is in are ruled out.
        let short = last.is_some_and(|last| {
            let left = if far == 1 { self.window.ph[1] - last.ph } else { last.ph - self.window.ph[0] };
            !unread && left > CONTRADICTS * self.meter.offset_uncertainty.root_sum_square(last.scatter)
        });
        let bound_g = bound(&far_edge, short.then_some(at), (quantile, risk), dose);
        let per_ph = (learned.between_mol[0] / width).abs().max(1e-300);
        let portion_ph = self.dosing.portion_g * learned.base_per_gram.abs() / per_ph;
        let inside = last.is_some_and(|last| (self.window.ph[0]..=self.window.ph[1]).contains(&last.ph));
        let past = last.is_some_and(|last| {
            if far == 1 { last.ph > self.window.ph[1] } else { last.ph < self.window.ph[0] }
        });
        let now_within = within_at(at, 0.0);
        let total = best_g.min(bound_g);
        let next = if unread {
            Next::Read
        } else if past {
            Next::Beyond
        } else if inside && (now_within >= SURE || within_at(total.max(at), dose) < now_within + GAIN) {
            Next::Done
        } else {
            self.portion(at, total, bound_g < best_g)
        };
        let added = if let Next::Add { grams, .. } = next { grams } else { 0.0 };
        let mut now = self.expect(&learned, &place)?;
        // Far outside the window the edges say little about where it stands: there the reading does.
        if let Some(last) =
            last.filter(|last| !unread && (last.ph - learned.electrode[0] - now[0]).abs() > reading_ph)
        {
            let (ph, half) = (last.ph - learned.electrode[0], 1.96 * reading_ph);
            now = [ph, ph - half, ph + half];
        }
        let then = if added > 0.0 {
            let mut grams = grams.clone();
            grams[0] += added;
            self.expect(&learned, &Place { grams: &grams, ..place })?
        } else {
            now
        };
        Ok(Advice {
            next,
            grams: at,
            bound_g,
            best_g,
            risk,
            within: [now_within, if added > 0.0 { within_at(at + added, dose) } else { now_within }],
            now,
            then,
            portion_ph,
            reading_ph,
            too_narrow: 0.5 * width < 1.96 * reading_ph + 0.5 * portion_ph,
            learned,
            left_out,
            heard: places,
        })
    }

    /// The addition to a total, as it can be weighed.
    fn portion(&self, at: f64, total: f64, by_edge: bool) -> Next {
        let wanted = total - at;
        if wanted <= 0.0 {
            return Next::NoneSure;
        }
        let digit = self.dosing.readability_g;
        // Rounded down, with a grain for what is exact but for its last bit.
        let grams = (wanted / digit + 1e-9).floor() * digit;
        if grams >= self.dosing.portion_g.max(digit) {
            Next::Add { grams, by_edge }
        } else {
            let times = (10.0 * self.dosing.portion_g.max(digit) / wanted).max(2.0);
            Next::Finer { grams: wanted, times: round_up(times) }
        }
    }

    /// pH expected at a place, with its 95 % interval.
    fn expect(&mut self, learned: &Learned, place: &Place<'_>) -> Result<[f64; 3], Trouble> {
        let [low, high] = self.window.ph;
        let mut ends = [0.5 * (low + high); 3];
        for (end, deviations) in ends.iter_mut().zip([0.0, -1.959_964, 1.959_964]) {
            // What is missing depends on where it ends: each end is looked for by itself.
            for _ in 0..4 {
                let share = ((*end - low) / (high - low)).clamp(-1.0, 2.0);
                let between = |at: usize| {
                    learned.shifts[0][at] + share * (learned.shifts[1][at] - learned.shifts[0][at])
                };
                // Base that is missing makes the batch as acid as if that much strong base were taken out.
                let found = self.beaker.ph(place, deviations * between(1).max(0.0) - between(0))?;
                let moved = (found - *end).abs();
                *end = found;
                if moved < 1e-3 {
                    break;
                }
            }
        }
        Ok(ends)
    }
}

/// Quantile of the risk of the next addition after these.
fn quantile(additions: &[Addition]) -> f64 {
    LADDER[additions.len().min(LADDER.len() - 1)]
}

/// Share of Student's t with [`DEGREES`] below a number (Abramowitz and Stegun 26.7.4).
fn student_below(t: f64) -> f64 {
    let square = t * t / (DEGREES + t * t);
    0.5 + 0.5 * square.sqrt().copysign(t) * (1.0 + 0.5 * (1.0 - square))
}

/// Readings that are used, their places among all, and the others with the reason.
#[derive(Default)]
struct Hearing {
    places: Vec<usize>,
    heard: Vec<Heard>,
    left_out: Vec<(usize, String)>,
}

/// The largest total that keeps to the far edge at a risk; `from` is what is in where the batch surely has not run past.
fn bound(far: &Amount, from: Option<f64>, (quantile, risk): (f64, f64), dose: f64) -> f64 {
    let deviation = far.deviation.root_sum_square(dose);
    let Some(from) = from else { return far.grams - quantile * deviation };
    let before = far.below(from, dose);
    let (mut low, mut high) = (from, far.grams.max(from) + 10.0 * deviation);
    for _ in 0..100 {
        let half = 0.5 * (low + high);
        if far.below(half, dose) - before < risk * (1.0 - before) {
            low = half;
        } else {
            high = half;
        }
    }
    low
}

/// The total that makes the window most probable.
fn best(near: &Amount, far: &Amount, at: f64, dose: f64) -> (f64, f64) {
    let within = |total: f64| near.below(total, dose) - far.below(total, dose);
    let (low, high) = (near.grams.max(at), far.grams.max(at));
    let mut found = (at, within(at));
    for point in 0..=POINTS {
        let total = low + (high - low) * point as f64 / POINTS as f64;
        let value = within(total);
        if value > found.1 {
            found = (total, value);
        }
    }
    found
}

/// A number of times to dilute as one would say it: 2, 5, 10, 20, 50, ...
fn round_up(times: f64) -> f64 {
    let mut step = 1.0;
    loop {
        for of in [2.0, 5.0, 10.0] {
            if of * step >= times || step > 1e6 {
                return of * step;
            }
        }
        step *= 10.0;
    }
}
