//! What the bench teaches about the pH: readings of trials move what is believed of contents, bound base, constants and the electrode.
//!
//! ```text
//! y = h(u) + e,     u_k ~ N(0, 1) in the standard uncertainties the facts give,     e ~ N(0, s^2)
//! u_hat = the most probable u;     repeated:  u = mu + C J' (y - h(u_i) - J (mu - u_i)) / (J C J' + s^2),   J = dh/du at u_i
//! ```
//!
//! | symbol | meaning |
//! |---|---|
//! | y, h | pH read; pH of the making by the equilibrium ([`Pot`]) |
//! | u | hidden numbers: contents and bound base of raw materials (half of each variance with the lot), constants, coefficients, solvent, base that nobody counts in a formula, the electrode |
//! | mu, C | what was believed before |
//! | s | scatter of a reading |
//!
//! The joint belief begins with the facts and goes from trial to trial in their order; readings of one trial share its calibration and its
//! weighings, which are forgotten after it. Each reading is straightened where the belief about it ends up (an iterated Kalman update: the most probable
//! value of Bayes' rule with normal beliefs, curvature there). A reading foretold holds between what the equilibrium gives at the most probable
//! numbers moved to either side, so that a band follows the bend of a titration curve. Nothing is kept: the story is told anew from the readings with the facts of
//! today. A raw material is named only as far as the readings tell it from others. Cases: `tests/tests/ph_learning.rs`, a full posterior by another program and
//! laboratories drawn from the belief itself.

mod pot;
mod telling;

pub use pot::{NoPot, Pot, ReadHow};
pub use telling::{Number, TaughtAmount, TaughtPh};

use levigate_measure::belief::{Belief, BeliefError, Lesson as Taken, Measurement};
use levigate_measure::elementary::Elementary as _;
use pot::{About, Straight};
use std::collections::BTreeMap;

/// A reading further from what was believed than so many standard deviations is a slip, not a lesson: judgement, no source; as for flow.
const BEYOND_BELIEF: f64 = 8.0;
/// Most turns of straightening.
const TURNS: usize = 30;
/// Straightening ends when no hidden number moves by more, in its standard uncertainties.
const SETTLED: f64 = 1e-7;
const WIDTH_95: f64 = 1.959_964;

/// A hidden number.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Key {
    /// Of a raw material, whatever its lot: material, what.
    Grade(String, String),
    /// Of a lot beside its grade: material, lot, what.
    Lot(String, String, String),
    Constant(String),
    /// Base that nobody counts, in every making of a formula.
    Excess(String),
    Electrode,
    TrialElectrode,
    TrialWeighing,
}

impl Key {
    /// Whether it ends with the trial.
    fn passes(&self) -> bool {
        matches!(self, Self::TrialElectrode | Self::TrialWeighing)
    }
}

/// The formula a making is of.
#[derive(Clone, Copy, Debug)]
pub struct Making<'a> {
    /// By any name of its own.
    pub formula: &'a str,
    /// Its name for people.
    pub name: &'a str,
}

/// What is expected to be read.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Foretold {
    /// pH.
    pub ph: f64,
    /// Lower end of what holds a reading with a probability of 0.95.
    pub low: f64,
    /// Upper end.
    pub high: f64,
    /// Standard deviation about the middle, scatter of the reading included.
    pub deviation: f64,
}

/// A reading of a trial.
#[derive(Clone, Debug)]
pub struct Read {
    /// The making as it was read.
    pub pot: Pot,
    /// pH.
    pub ph: f64,
}

/// A trial as far as its pH was read.
#[derive(Clone, Debug)]
pub struct Lesson {
    /// The trial in words.
    pub trial: String,
    /// What was read, in order.
    pub readings: Vec<Read>,
}

/// What became of a reading.
#[derive(Clone, Debug, PartialEq)]
pub struct Heard {
    /// Foretold from the trials before.
    pub foretold: Option<Foretold>,
    /// What it said against what was believed; none where it taught nothing.
    pub taken: Option<Taken>,
    /// Why it taught nothing.
    pub refused: Option<String>,
}

/// Everything the bench has taught so far.
#[derive(Clone, Debug, Default)]
pub struct Experience {
    belief: Option<Belief>,
    places: BTreeMap<Key, usize>,
    about: BTreeMap<Key, About>,
    /// Trials that moved a number, in order.
    from: BTreeMap<Key, Vec<String>>,
    /// Readings and trials learned from.
    learned: [usize; 2],
}

fn dot(one: &[f64], other: &[f64]) -> f64 {
    one.iter().zip(other).map(|(a, b)| a * b).sum()
}

/// `C J'`.
fn moved_by(belief: &Belief, slopes: &[f64]) -> Vec<f64> {
    (0..slopes.len())
        .map(|row| {
            slopes.iter().enumerate().map(|(column, slope)| belief.covariance(row, column) * slope).sum()
        })
        .collect()
}

impl Experience {
    /// Whether anything was learned that a making hangs on.
    #[must_use]
    pub fn speaks_of(&self, pot: &Pot) -> bool {
        self.learned[0] > 0 && pot.numbers.iter().any(|one| self.places.contains_key(&one.key))
    }

    /// How many readings of how many trials taught.
    #[must_use]
    pub fn readings_and_trials(&self) -> [usize; 2] {
        self.learned
    }

    /// Places of the numbers of a making; those not met before get a seat with what the facts say.
    fn seats(&mut self, pot: &Pot) -> Result<Vec<usize>, BeliefError> {
        let fresh: Vec<&pot::Number> =
            pot.numbers.iter().filter(|one| !self.places.contains_key(&one.key)).collect();
        let start = Belief::independent(vec![0.0; fresh.len()], &vec![1.0; fresh.len()])?;
        let first = self.belief.as_ref().map_or(0, |belief| belief.mean().len());
        self.belief = Some(self.belief.take().map_or_else(|| start.clone(), |belief| belief.and(&start)));
        for (seat, one) in (first..).zip(fresh) {
            self.places.insert(one.key.clone(), seat);
            self.about.insert(one.key.clone(), one.about.clone());
        }
        Ok(pot.numbers.iter().filter_map(|one| self.places.get(&one.key).copied()).collect())
    }

    /// What is believed of the numbers of a making, in their order.
    fn belief_of(&self, pot: &Pot) -> Option<Belief> {
        let size = pot.numbers.len();
        let places: Vec<Option<usize>> =
            pot.numbers.iter().map(|one| self.places.get(&one.key).copied()).collect();
        let mut covariance = vec![0.0; size * size];
        for (i, one) in places.iter().enumerate() {
            for (j, other) in places.iter().enumerate() {
                covariance[i * size + j] = match (one, other, &self.belief) {
                    (Some(one), Some(other), Some(belief)) => belief.covariance(*one, *other),
                    _ => f64::from(u8::from(i == j)),
                };
            }
        }
        let mean = |place: &Option<usize>| {
            place.zip(self.belief.as_ref()).map_or(0.0, |(place, belief)| belief.mean()[place])
        };
        Belief::new(places.iter().map(mean).collect(), covariance).ok()
    }

    /// What is expected to be read on a making.
    #[must_use]
    pub fn foretell(&self, pot: &Pot) -> Option<Foretold> {
        let belief = self.belief_of(pot)?;
        let Straight { ph, slopes } = pot.straight(belief.mean())?;
        let moved = moved_by(&belief, &slopes);
        let noise = pot.noise();
        let deviation = dot(&moved, &slopes).max(0.0).sqrt().root_sum_square(noise);
        let end = |sign: f64| {
            let far = sign * WIDTH_95 / deviation;
            let there: Vec<f64> =
                belief.mean().iter().zip(&moved).map(|(mean, by)| mean + far * by).collect();
            let reached =
                pot.straight(&there).map_or_else(|| ph + far * dot(&moved, &slopes), |straight| straight.ph);
            reached + far * noise * noise
        };
        let (one, other) = (end(-1.0), end(1.0));
        Some(Foretold { ph, low: one.min(other), high: one.max(other), deviation })
    }

    /// Learns from a trial: first everything is foretold from the trials before, then its readings are taken in one by one.
    pub fn learn(&mut self, lesson: &Lesson) -> Vec<Heard> {
        let foretold: Vec<Option<Foretold>> =
            lesson.readings.iter().map(|one| self.foretell(&one.pot)).collect();
        let before = self.clone();
        let mut taught = 0;
        let heard = lesson
            .readings
            .iter()
            .zip(foretold)
            .map(|(read, foretold)| match self.take_in(read) {
                Ok(taken) => {
                    taught += 1;
                    Heard { foretold, taken: Some(taken), refused: None }
                }
                Err(why) => Heard { foretold, taken: None, refused: Some(why) },
            })
            .collect();
        if taught == 0 {
            *self = before;
            return heard;
        }
        self.learned = [self.learned[0] + taught, self.learned[1] + 1];
        self.forget_the_trial();
        self.note_what_moved(&before, &lesson.trial);
        heard
    }

    fn take_in(&mut self, read: &Read) -> Result<Taken, String> {
        let mut widened = self.clone();
        let places = widened.seats(&read.pot).map_err(|error| error.to_string())?;
        let belief = widened.belief.take().ok_or("nothing is open about it")?;
        let part = belief.part(&places);
        let measurement = Measurement { value: read.ph, deviation: read.pot.noise() };
        let (point, Straight { ph, slopes }) = settle(&part, read)
            .ok_or("the equilibrium has no answer where the reading would lead".to_owned())?;
        let offset = ph - dot(&slopes, &point);
        let learned = belief
            .learn_about(&places, &[measurement], |numbers, predicted| {
                predicted[0] = offset + dot(&slopes, numbers);
                true
            })
            .map_err(|error| error.to_string())?;
        let taken = learned.lessons.first().copied().ok_or("nothing was read")?;
        if taken.surprise.abs() > BEYOND_BELIEF {
            return Err(format!(
                "it lies {:.0} standard deviations {} what was believed, which is taken for a slip: look at the meter, the lots and the weighings",
                taken.surprise.abs(),
                if taken.surprise > 0.0 { "above" } else { "below" }
            ));
        }
        widened.belief = Some(learned.belief);
        *self = widened;
        Ok(taken)
    }

    /// What belongs to one trial alone means nothing to the next.
    fn forget_the_trial(&mut self) {
        let Some(belief) = self.belief.take() else { return };
        let mut kept: Vec<(Key, usize)> = std::mem::take(&mut self.places).into_iter().collect();
        kept.retain(|(key, _)| !key.passes());
        kept.sort_by_key(|(_, place)| *place);
        self.about.retain(|key, _| !key.passes());
        let places: Vec<usize> = kept.iter().map(|(_, place)| *place).collect();
        self.belief = Some(belief.part(&places));
        self.places = kept.into_iter().enumerate().map(|(seat, (key, _))| (key, seat)).collect();
    }

    /// A trial stands beside every number it moved by more than a tenth of what was open, or closed by as much.
    fn note_what_moved(&mut self, before: &Self, trial: &str) {
        let Some(belief) = &self.belief else { return };
        for (key, place) in &self.places {
            let (had, open) = before
                .places
                .get(key)
                .zip(before.belief.as_ref())
                .map_or((0.0, 1.0), |(place, belief)| (belief.mean()[*place], belief.deviation(*place)));
            let step = (belief.mean()[*place] - had).abs() / open;
            let closed = 1.0 - (belief.deviation(*place) / open).powi(2);
            if step > 0.1 || closed > 0.1 {
                self.from.entry(key.clone()).or_default().push(trial.to_owned());
            }
        }
    }
}

/// Where the most probable numbers lie after a reading, and the reading straightened there.
fn settle(part: &Belief, read: &Read) -> Option<(Vec<f64>, Straight)> {
    let noise = read.pot.noise();
    let size = part.mean().len();
    // A place is the mean moved by the covariance times a weight; its distance from what was believed is then weight' C weight.
    let mut weight = vec![0.0; size];
    let place = |weight: &[f64]| -> Vec<f64> {
        part.mean().iter().zip(moved_by(part, weight)).map(|(mean, by)| mean + by).collect()
    };
    let cost =
        |weight: &[f64], ph: f64| dot(weight, &moved_by(part, weight)) + ((read.ph - ph) / noise).powi(2);
    let mut straight = read.pot.straight(part.mean())?;
    for _ in 0..TURNS {
        let Straight { ph, slopes } = &straight;
        let by = moved_by(part, slopes);
        let ahead = read.ph - ph + dot(&by, &weight);
        let pull = ahead / (dot(&by, slopes) + noise * noise);
        let wanted: Vec<f64> = slopes.iter().map(|slope| pull * slope).collect();
        let here = cost(&weight, *ph);
        let mut share = 1.0;
        let mut found = None;
        while share > 1e-3 {
            let next: Vec<f64> =
                weight.iter().zip(&wanted).map(|(from, to)| from + share * (to - from)).collect();
            if let Some(there) = read.pot.straight(&place(&next))
                && cost(&next, there.ph) <= here + 1e-12
            {
                found = Some((next, there));
                break;
            }
            share *= 0.5;
        }
        let Some((next, there)) = found else { break };
        let step = place(&next)
            .iter()
            .zip(place(&weight))
            .fold(0.0_f64, |most, (new, old)| most.max((new - old).abs()));
        (weight, straight) = (next, there);
        if step < SETTLED {
            break;
        }
    }
    Some((place(&weight), straight))
}
