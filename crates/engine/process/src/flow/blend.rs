//! Several thickeners in one solvent: the curve of the whole, its band, and how it answers to every parameter.
//!
//! ```text
//! sum of c_i / C_i(E) = 1            C_i(E): the dose of i that alone gives the specific stress E at this shear rate
//! tau = k tau_s (1 + E exp(4 S w_1 w_2)),   w_i = c_i / C_i
//! s^2 = sum over columns j (sum over i of d ln tau / d theta_i . L_ij)^2 + s_model^2
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | c_i | dose of thickener i | g/dL |
//! | E | stress of the polymers over that of the solvent at the same shear rate | - |
//! | S | logarithm of the factor two polymers gain at equal shares; 0 unless somebody measured it | - |
//! | tau_s, k | stress of the solvent; factor of the drops | Pa, - |
//! | L | columns of the spread of the parameters, so that their covariance is L L' | - |
//!
//! Equal effect by equal dose (Loewe 1926, from memory): each polymer stands for the amount of the other that would do the same, so one
//! polymer weighed in two lines is exactly itself, and a mixture of alike polymers lies between them on a logarithmic scale. `C_i` is found
//! by chords that start from the local exponents, which alone would give `(sum E_i^(1/p))^p`. Range: polymers that do
//! neither bind nor separate; surfactants that thicken by themselves are not seen. Case: below.

mod open;

pub use open::{Moved, Open};

use super::liquid::Liquid;
use super::prediction::{POINTS, Prediction, rate_at};
use super::thickener::{Law, PARAMETERS, Response, Surroundings, Theta, Thickening};
use levigate_measure::belief::Belief;
use levigate_measure::elementary::Elementary as _;

/// Part of the uncertainty of a thickener's parameters that moves as one.
#[derive(Clone, Debug, PartialEq)]
pub struct Column {
    /// What is uncertain.
    pub words: &'static str,
    /// Change of the parameters by one standard deviation of it.
    pub theta: Theta,
}

/// What is known of the parameters of a thickener.
#[derive(Clone, Debug, PartialEq)]
pub struct Knowledge {
    /// Best values.
    pub theta: Theta,
    /// Columns of the spread: the covariance is the sum of their outer products.
    pub columns: Vec<Column>,
    /// The same as a belief, for learning on.
    pub belief: Belief,
}

impl Knowledge {
    /// From a belief about the parameters of a law, in their order.
    ///
    /// The columns are those of Cholesky's root with the strength taken last, so that each is named after the parameter that leads it.
    #[must_use]
    pub fn of(law: Law, belief: Belief) -> Self {
        let mut left: [Theta; PARAMETERS] =
            std::array::from_fn(|i| std::array::from_fn(|j| belief.covariance(i, j)));
        let mut columns = Vec::new();
        for place in 0..PARAMETERS {
            let pivot = (place + 1) % PARAMETERS;
            let variance = left[pivot][pivot];
            if variance <= 1e-14 {
                continue;
            }
            let theta: Theta = std::array::from_fn(|i| left[i][pivot] / variance.sqrt());
            for (row, by) in left.iter_mut().zip(theta) {
                for (value, other) in row.iter_mut().zip(theta) {
                    *value -= by * other;
                }
            }
            columns.push(Column { words: law.symbols()[pivot].1, theta });
        }
        let theta = std::array::from_fn(|place| belief.mean()[place]);
        Self { theta, columns, belief }
    }
}

/// A thickener at its dose.
#[derive(Clone, Copy, Debug)]
pub struct Dosed<'k> {
    /// Law.
    pub law: Thickening,
    /// Parameters.
    pub knowledge: &'k Knowledge,
    /// Dose, g/dL of water phase.
    pub dose_g_dl: f64,
    /// What it finds around it.
    pub around: Surroundings,
    /// Standard deviation of ln stress that the law carries inside its evidence.
    pub own: f64,
    /// The same with what is added for being outside the evidence, apart from the shear rate.
    pub beyond: f64,
    /// Shear rates the evidence covers, 1/s.
    pub window: [f64; 2],
}

/// A gain by two polymers together.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Synergy {
    /// Places of the two.
    pub pair: [usize; 2],
    /// Logarithm of the factor at equal shares.
    pub strength: f64,
    /// Its standard deviation.
    pub spread: f64,
}

/// What is to be predicted.
#[derive(Clone, Debug)]
pub struct Blend<'k> {
    /// Viscosity of the solvent, Pa s.
    pub solvent_pa_s: f64,
    /// Standard deviation of its logarithm.
    pub solvent_spread: f64,
    /// Thickeners, each once.
    pub thickeners: Vec<Dosed<'k>>,
    /// Gains.
    pub synergies: Vec<Synergy>,
    /// Factor of the drops.
    pub drops: f64,
    /// Standard deviation of its logarithm.
    pub drops_spread: f64,
    /// What measurements taught about all of it together; what is known of each thickener alone where nothing did.
    pub taught: Option<Taught>,
}

/// Numbers of a blend that a measurement can move.
#[derive(Clone, Debug, PartialEq)]
pub struct Numbers {
    /// Parameters of the thickeners, in their order.
    pub thetas: Vec<Theta>,
    /// Strengths of the gains, in their order.
    pub gains: Vec<f64>,
    /// How far the laws miss, in standard deviations of what they carry themselves: the same at every shear rate.
    pub miss: f64,
}

/// What measurements taught about a blend.
#[derive(Clone, Debug, PartialEq)]
pub struct Taught {
    /// Best numbers.
    pub best: Numbers,
    /// Changes of the numbers by one standard deviation of each independent part of what is still open.
    pub columns: Vec<Numbers>,
    /// Standard deviation of the miss that belongs to no formula, in the unit of the miss.
    pub own_miss: f64,
}

/// Standard deviation of ln stress per decade of shear rate outside the evidence.
const PER_DECADE: f64 = 0.15;
/// ln of the doses between which the first exponent of the dose is taken.
const NEARBY: f64 = 0.05;
/// Least exponent of the dose that is believed.
const LEAST_EXPONENT: f64 = 0.3;
/// Longest step of the search for an equivalent dose, ln.
const LONGEST_STEP: f64 = 2.0;
/// Most turns of that search; two suffice where the doses are alike.
const MOST_TURNS: usize = 12;

/// Factor of drops in a liquid by their share of the volume: `(1 - phi/0.64)^-1.6` (Krieger and Dougherty, Trans. Soc. Rheol. 3 (1959) 137,
/// from memory; Einstein's 2.5 at the start). For drops that do not yield to the flow; to 0.3 of the volume.
#[must_use]
pub fn drops_factor(volume_share: f64) -> f64 {
    (1.0 - volume_share.clamp(0.0, 0.6) / 0.64).to_the(-1.6)
}

/// Stresses of the polymers alone and together at one shear rate.
struct Together {
    /// Stress of all polymers over that of the solvent, gains included.
    specific: f64,
    /// d ln of it for each d ln of the stress of each polymer at its equivalent dose, and that dose.
    parts: Vec<(f64, f64)>,
    /// Share products of the synergies.
    gains: Vec<f64>,
    /// The equivalent doses as found: a start for the next shear rate.
    doses: Vec<Equivalent>,
}

impl Blend<'_> {
    /// Stress at a shear rate, Pa.
    #[must_use]
    pub fn stress(&self, rate: f64) -> f64 {
        self.stress_with(&self.numbers(), rate)
    }

    /// Stress at a shear rate with numbers of one's own, Pa: what a calibration evaluates again and again.
    #[must_use]
    pub fn stress_with(&self, numbers: &Numbers, rate: f64) -> f64 {
        self.stress_of(numbers, &self.together(numbers, rate, &[]), rate)
    }

    fn stress_of(&self, numbers: &Numbers, together: &Together, rate: f64) -> f64 {
        let miss =
            if numbers.miss == 0.0 { 0.0 } else { numbers.miss * self.model_spread(together, rate)[0] };
        self.drops * self.solvent_pa_s * rate * (1.0 + together.specific) * miss.exp_e()
    }

    /// Best numbers.
    #[must_use]
    pub fn numbers(&self) -> Numbers {
        match &self.taught {
            Some(taught) => taught.best.clone(),
            None => Numbers {
                thetas: self.thickeners.iter().map(|one| one.knowledge.theta).collect(),
                gains: self.synergies.iter().map(|one| one.strength).collect(),
                miss: 0.0,
            },
        }
    }

    /// Yield stress with numbers of one's own, Pa; zero where no thickener yields.
    fn yield_stress_with(&self, numbers: &Numbers) -> f64 {
        let yields = self
            .thickeners
            .iter()
            .zip(&numbers.thetas)
            .any(|(one, theta)| one.law.response(theta, one.dose_g_dl, &one.around).yield_stress() > 0.0);
        // At the lowest shear rate only what yields still holds.
        if yields { self.stress_with(numbers, rate_at(0)) } else { 0.0 }
    }

    /// d ln stress / d theta for every thickener at a shear rate, numbers at their best.
    #[must_use]
    pub fn sensitivities(&self, rate: f64) -> Vec<Theta> {
        let numbers = self.numbers();
        self.slopes(&numbers, &self.together(&numbers, rate, &[]), rate)
    }

    fn slopes(&self, numbers: &Numbers, together: &Together, rate: f64) -> Vec<Theta> {
        let share = together.specific / (1.0 + together.specific);
        let parts = self.thickeners.iter().zip(&numbers.thetas).zip(&together.parts);
        parts
            .map(|((one, theta), (weight, dose))| {
                one.slopes(theta, *dose, rate).map(|slope| slope * weight * share)
            })
            .collect()
    }

    /// `start` holds the equivalent doses at a shear rate nearby, or nothing.
    fn together(&self, numbers: &Numbers, rate: f64, start: &[Equivalent]) -> Together {
        let thetas = &numbers.thetas;
        let ln_solvent = (self.solvent_pa_s * rate).log_e();
        let ln_specific = |one: &Dosed<'_>, theta: &Theta, ln_times: f64| {
            one.law.response(theta, one.dose_g_dl * ln_times.exp_e(), &one.around).stress(rate).log_e()
                - ln_solvent
        };
        let pairs = || self.thickeners.iter().zip(thetas);
        if let [only] = self.thickeners.as_slice() {
            let specific = thetas.first().map_or(0.0, |theta| ln_specific(only, theta, 0.0).exp_e());
            let parts = vec![(1.0, only.dose_g_dl)];
            return Together { specific, parts, gains: Vec::new(), doses: Vec::new() };
        }
        let mut doses: Vec<Equivalent> = pairs()
            .enumerate()
            .map(|(place, (one, theta))| {
                if let Some(nearby) = start.get(place) {
                    let ln_specific = ln_specific(one, theta, nearby.ln_times);
                    return Equivalent { ln_specific, ..*nearby };
                }
                let ln_alone = ln_specific(one, theta, 0.0);
                let exponent = (ln_specific(one, theta, NEARBY) - ln_alone) / NEARBY;
                Equivalent { ln_times: 0.0, ln_specific: ln_alone, exponent: exponent.max(LEAST_EXPONENT) }
            })
            .collect();
        let mut ln_all = equal_effect(&doses);
        for _ in 0..MOST_TURNS {
            for (dose, (one, theta)) in doses.iter_mut().zip(pairs()) {
                let step = ((ln_all - dose.ln_specific) / dose.exponent).clamp(-LONGEST_STEP, LONGEST_STEP);
                if step.abs() > 1e-7 {
                    let there = ln_specific(one, theta, dose.ln_times + step);
                    *dose = Equivalent {
                        ln_times: dose.ln_times + step,
                        ln_specific: there,
                        exponent: ((there - dose.ln_specific) / step).max(LEAST_EXPONENT),
                    };
                }
            }
            let next = equal_effect(&doses);
            let off = (next - ln_all).abs();
            ln_all = next;
            if off < 1e-4 && doses.iter().all(|dose| (ln_all - dose.ln_specific).abs() < 1e-2) {
                break;
            }
        }
        let ln_times: Vec<f64> = doses.iter().map(|dose| dose.ln_times_for(ln_all)).collect();
        // d ln E = sum of (w_i / p_i) d ln E_i / sum of (w_i / p_i): the polymer that does most of the work decides.
        let pulls: Vec<f64> =
            doses.iter().zip(&ln_times).map(|(dose, ln_times)| (-ln_times).exp_e() / dose.exponent).collect();
        let sum: f64 = pulls.iter().sum();
        let gains: Vec<f64> = self
            .synergies
            .iter()
            .map(|one| {
                let share = |place: usize| ln_times.get(place).map_or(0.0, |ln_times| (-ln_times).exp_e());
                4.0 * share(one.pair[0]) * share(one.pair[1])
            })
            .collect();
        let gain: f64 = numbers.gains.iter().zip(&gains).map(|(strength, share)| strength * share).sum();
        let equivalent =
            self.thickeners.iter().zip(&ln_times).map(|(one, ln_times)| one.dose_g_dl * ln_times.exp_e());
        Together {
            specific: if doses.is_empty() { 0.0 } else { (ln_all + gain).exp_e() },
            parts: pulls.iter().map(|pull| pull / sum).zip(equivalent).collect(),
            gains,
            doses,
        }
    }

    /// The whole curve with its band.
    #[must_use]
    pub fn predict(&self) -> Prediction {
        let numbers = self.numbers();
        let mut stress = [0.0; POINTS];
        let mut spread = [0.0; POINTS];
        if let ([only], None) = (self.thickeners.as_slice(), &self.taught) {
            self.alone(only, &mut stress, &mut spread);
        } else {
            // Every second point of a mixture: curve and band are smooth, and the search for equivalent doses is most of the work.
            let every = if self.thickeners.len() > 1 { 2 } else { 1 };
            let mut start: Vec<Equivalent> = Vec::new();
            for point in (0..POINTS).step_by(every) {
                let rate = rate_at(point);
                let together = self.together(&numbers, rate, &start);
                stress[point] = self.stress_of(&numbers, &together, rate);
                spread[point] = self.spread(&numbers, &together, rate);
                start = together.doses;
            }
            if every == 2 {
                between(&mut stress);
                for point in (1..POINTS).step_by(2) {
                    spread[point] = 0.5 * (spread[point - 1] + spread[point + 1]);
                }
            }
        }
        let yield_stress = self.yield_stress_with(&numbers);
        Prediction::new(stress, spread, yield_stress, self.window())
    }

    /// Stress and spread of one thickener: its response holds for every shear rate, so it is worked out once.
    fn alone(&self, only: &Dosed<'_>, stress: &mut [f64; POINTS], spread: &mut [f64; POINTS]) {
        let theta = &only.knowledge.theta;
        let (response, slopes) = only.law.response_and_slopes(theta, only.dose_g_dl, &only.around);
        let rest = self.solvent_spread.powi(2) + self.drops_spread.powi(2);
        for point in 0..POINTS {
            let rate = rate_at(point);
            let solvent = self.solvent_pa_s * rate;
            let (added, by) = response.stress_and_slopes(rate);
            let share = added / (solvent + added);
            let variance = only.variance(&slopes.of_stress(by), rate) * share * share;
            stress[point] = self.drops * (solvent + added);
            spread[point] = (variance + rest).sqrt();
        }
    }

    /// Shear rates that the evidence of all thickeners covers; everything where there are none.
    #[must_use]
    pub fn window(&self) -> [f64; 2] {
        let all = [rate_at(0), rate_at(POINTS - 1)];
        let [low, high] = self
            .thickeners
            .iter()
            .fold(all, |[low, high], one| [low.max(one.window[0]), high.min(one.window[1])]);
        if low <= high { [low, high] } else { [high, low] }
    }

    /// Standard deviation of ln stress that the laws carry themselves, and the part that is added outside its evidence: what
    /// trials teach about the first says nothing about the second.
    fn model_spread(&self, together: &Together, rate: f64) -> [f64; 2] {
        let share = together.specific / (1.0 + together.specific);
        let mut variance = [0.0; 2];
        for (one, (weight, _)) in self.thickeners.iter().zip(&together.parts) {
            let counts = (weight * share).powi(2);
            variance[0] += counts * one.own.powi(2);
            variance[1] +=
                counts * ((one.beyond.powi(2) - one.own.powi(2)).max(0.0) + one.beyond_window(rate).powi(2));
        }
        variance.map(f64::sqrt)
    }

    fn spread(&self, numbers: &Numbers, together: &Together, rate: f64) -> f64 {
        let share = together.specific / (1.0 + together.specific);
        let [model, outside] = self.model_spread(together, rate);
        let slopes = self.slopes(numbers, together, rate);
        let moved =
            |slopes: &Theta, by: &Theta| slopes.iter().zip(by).map(|(slope, by)| slope * by).sum::<f64>();
        let mut variance = self.solvent_spread.powi(2) + self.drops_spread.powi(2) + outside * outside;
        match &self.taught {
            None => {
                for (one, slopes) in self.thickeners.iter().zip(&slopes) {
                    let columns = &one.knowledge.columns;
                    variance +=
                        columns.iter().map(|column| moved(slopes, &column.theta).powi(2)).sum::<f64>();
                }
                for (one, gain) in self.synergies.iter().zip(&together.gains) {
                    variance += (one.spread * gain * share).powi(2);
                }
                variance += model * model;
            }
            Some(taught) => {
                for column in &taught.columns {
                    let thetas = slopes.iter().zip(&column.thetas).map(|(slopes, by)| moved(slopes, by));
                    let gains = together.gains.iter().zip(&column.gains).map(|(gain, by)| gain * by * share);
                    variance += (thetas.sum::<f64>() + gains.sum::<f64>() + column.miss * model).powi(2);
                }
                variance += (taught.own_miss * model).powi(2);
            }
        }
        // A thinned polymer feels its solvent less; that the solvent counts in full is the wide side.
        variance.sqrt()
    }
}

/// A blend with numbers of one's own, as a liquid.
#[derive(Clone, Copy, Debug)]
pub struct Numbered<'b, 'k> {
    /// The blend.
    pub blend: &'b Blend<'k>,
    /// The numbers.
    pub numbers: &'b Numbers,
}

impl Liquid for Numbered<'_, '_> {
    fn stress(&self, shear_rate: f64) -> f64 {
        self.blend.stress_with(self.numbers, shear_rate)
    }

    fn yield_stress(&self) -> f64 {
        self.blend.yield_stress_with(self.numbers)
    }
}

/// Fills every second point of a stress from its neighbours: a cubic in the logarithm through four of them, at the ends a parabola through
/// three.
fn between(stress: &mut [f64; POINTS]) {
    let ln: [f64; POINTS] =
        std::array::from_fn(|point| if point % 2 == 0 { stress[point].log_e() } else { 0.0 });
    for point in (1..POINTS).step_by(2) {
        let (left, right) = (ln[point - 1], ln[point + 1]);
        let before = point.checked_sub(3).map(|at| ln[at]);
        let after = ln.get(point + 3).copied();
        let filled = match (before, after) {
            (Some(before), Some(after)) => (9.0 * (left + right) - before - after) / 16.0,
            (None, Some(after)) => (3.0 * left + 6.0 * right - after) / 8.0,
            (Some(before), None) => (3.0 * right + 6.0 * left - before) / 8.0,
            (None, None) => 0.5 * (left + right),
        };
        stress[point] = filled.exp_e();
    }
}

/// A dose of one polymer on its way to the one that alone does what all do.
#[derive(Clone, Copy)]
struct Equivalent {
    /// ln of it over the dose there is.
    ln_times: f64,
    /// ln of what it does.
    ln_specific: f64,
    /// Exponent of the dose near it.
    exponent: f64,
}

impl Equivalent {
    /// ln of the dose for an effect over the dose there is.
    fn ln_times_for(&self, ln_all: f64) -> f64 {
        self.ln_times + (ln_all - self.ln_specific) / self.exponent
    }
}

/// ln of the effect at which the doses make one whole: `sum of c_i / C_i(E) = 1`.
fn equal_effect(doses: &[Equivalent]) -> f64 {
    let mut ln_all = doses.iter().map(|dose| dose.ln_specific).fold(-700.0, f64::max);
    for _ in 0..30 {
        let (mut sum, mut slope) = (0.0, 0.0);
        for dose in doses {
            let share = (-dose.ln_times_for(ln_all)).exp_e();
            sum += share;
            slope += share / dose.exponent;
        }
        // Newton on ln of the sum, which is nearly straight.
        let step = sum.log_e() * sum / slope;
        if !step.is_finite() {
            break;
        }
        ln_all += step;
        if step.abs() < 1e-9 {
            break;
        }
    }
    ln_all
}

impl Dosed<'_> {
    /// d ln stress / d theta at a dose and shear rate.
    fn slopes(&self, theta: &Theta, dose_g_dl: f64, rate: f64) -> Theta {
        let (response, slopes) = self.law.response_and_slopes(theta, dose_g_dl, &self.around);
        slopes.of_stress(response.stress_and_slopes(rate).1)
    }

    /// Variance of ln stress by the parameters and by what lies outside the evidence.
    fn variance(&self, slopes: &Theta, rate: f64) -> f64 {
        let mut variance = self.beyond.powi(2) + self.beyond_window(rate).powi(2);
        for column in &self.knowledge.columns {
            let moved: f64 = slopes.iter().zip(&column.theta).map(|(slope, by)| slope * by).sum();
            variance += moved * moved;
        }
        variance
    }

    /// Standard deviation for a shear rate outside the evidence.
    fn beyond_window(&self, rate: f64) -> f64 {
        let [low, high] = self.window;
        PER_DECADE * ((low / rate).log_10().max(0.0) + (rate / high).log_10().max(0.0))
    }

    /// What it adds alone.
    #[must_use]
    pub fn response(&self) -> Response {
        self.law.response(&self.knowledge.theta, self.dose_g_dl, &self.around)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::flow::thickener::{Growth, Reference};
    use proptest::prelude::*;

    const WATER: f64 = 0.000_89;

    fn around() -> Surroundings {
        Surroundings {
            temperature_c: 25.0,
            solvent_pa_s: WATER,
            water_pa_s: WATER,
            ionic_strength: 0.01,
            added_salt: 0.0,
            dissociated: 0.6,
        }
    }

    fn laws() -> [(Thickening, Knowledge); 3] {
        let reference = Reference { dose_g_dl: 1.0, ionic_strength: 0.01 };
        let known = |theta: Theta| {
            let spreads = [0.1, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0];
            Knowledge::of(Law::Rod, Belief::independent(theta.to_vec(), &spreads).unwrap())
        };
        [
            (
                Thickening { law: Law::Coil { growth: Growth::EighthRoot }, reference },
                known([2.5, 0.0, 3.2, 1.0, 0.65, 10.0, 0.0]),
            ),
            (Thickening { law: Law::Rod, reference }, known([2.3, 1.6, -7.0, -2.0, 0.85, 3.0, 0.0])),
            (Thickening { law: Law::Microgel, reference }, known([5.0, 0.9, 1.0, 0.0, 0.45, 3.0, -4.0])),
        ]
    }

    fn dosed<'k>((law, knowledge): &'k (Thickening, Knowledge), dose_g_dl: f64) -> Dosed<'k> {
        Dosed {
            law: *law,
            knowledge,
            dose_g_dl,
            around: around(),
            own: 0.1,
            beyond: 0.1,
            window: [0.1, 100.0],
        }
    }

    fn blend<'k>(thickeners: Vec<Dosed<'k>>) -> Blend<'k> {
        Blend {
            solvent_pa_s: WATER,
            solvent_spread: 0.02,
            thickeners,
            synergies: Vec::new(),
            drops: 1.0,
            drops_spread: 0.0,
            taught: None,
        }
    }

    proptest! {
        #[test]
        fn the_table_of_a_mixture_is_its_stress_at_every_point(one in 0.05..2.0f64, other in 0.05..2.0f64, pair in 0usize..3) {
            let laws = laws();
            let (first, second) = [(0, 1), (0, 2), (1, 2)][pair];
            let mixture = blend(vec![dosed(&laws[first], one), dosed(&laws[second], other)]);
            let table = mixture.predict();
            for point in 0..POINTS {
                let off = table.stress(rate_at(point)) / mixture.stress(rate_at(point));
                prop_assert!((off - 1.0).abs() < 0.01, "{} at {}", off, rate_at(point));
            }
        }

        #[test]
        fn one_polymer_in_two_doses_is_itself(dose in 0.1..2.0f64, part in 0.05..0.95f64, law in 0usize..3) {
            let laws = laws();
            let whole = blend(vec![dosed(&laws[law], dose)]).predict();
            let parts = vec![dosed(&laws[law], dose * part), dosed(&laws[law], dose * (1.0 - part))];
            let split = blend(parts).predict();
            for rate in [1e-5, 1e-2, 1.0, 30.0, 1e3] {
                let off = split.stress(rate) / whole.stress(rate);
                prop_assert!((off - 1.0).abs() < 2e-3, "{} at {}", off, rate);
            }
        }

        #[test]
        fn more_thickener_never_thins(dose in 0.05..2.0f64, more in 1.01..2.0f64, law in 0usize..3, rate in 1e-6..1e6f64) {
            let laws = laws();
            let less = blend(vec![dosed(&laws[law], dose)]).stress(rate);
            let thick = blend(vec![dosed(&laws[law], dose * more)]).stress(rate);
            prop_assert!(thick >= less);
        }

        #[test]
        fn a_mixture_is_thicker_than_each_alone(a in 0.05..1.0f64, b in 0.05..1.0f64, rate in 1e-4..1e4f64) {
            let laws = laws();
            let both = blend(vec![dosed(&laws[0], a), dosed(&laws[1], b)]);
            let mixed = both.stress(rate);
            for one in [blend(vec![dosed(&laws[0], a)]), blend(vec![dosed(&laws[1], b)])] {
                prop_assert!(mixed >= one.stress(rate) * (1.0 - 1e-9));
            }
        }
    }

    #[test]
    fn slopes_are_those_of_the_law() {
        const STEP: f64 = 1e-6;
        for (law, knowledge) in &laws() {
            let salted =
                Surroundings { added_salt: 0.02, ionic_strength: 0.03, temperature_c: 31.0, ..around() };
            let one = Dosed {
                law: *law,
                knowledge,
                dose_g_dl: 0.4,
                around: salted,
                own: 0.0,
                beyond: 0.0,
                window: [0.1, 100.0],
            };
            let theta = knowledge.theta;
            for rate in [1e-4, 0.3, 20.0, 5e3] {
                let slopes = one.slopes(&theta, one.dose_g_dl, rate);
                for place in 0..PARAMETERS {
                    let stress = |by: f64| {
                        let mut moved = theta;
                        moved[place] += by;
                        law.response(&moved, one.dose_g_dl, &salted).stress(rate).log_e()
                    };
                    let difference = (stress(STEP) - stress(-STEP)) / (2.0 * STEP);
                    assert!(
                        (slopes[place] - difference).abs() < 1e-3 * (1.0 + difference.abs()),
                        "{law:?} {place}"
                    );
                }
            }
        }
    }

    #[test]
    fn without_thickener_it_is_the_solvent() {
        let plain = blend(Vec::new()).predict();
        assert!((plain.viscosity(10.0) / WATER - 1.0).abs() < 1e-9);
        assert_eq!(plain.yield_stress(), 0.0);
        assert!((plain.spread(10.0) - 0.02).abs() < 1e-12);
    }

    #[test]
    fn the_band_is_that_of_the_parameters_to_first_order() {
        let laws = laws();
        let one = blend(vec![dosed(&laws[0], 1.0)]);
        let rate = 5.0;
        let mut moved = laws[0].1.theta;
        moved[0] += 0.001;
        let slope = (one.stress_with(&Numbers { thetas: vec![moved], ..one.numbers() }, rate)
            / one.stress(rate))
        .log_e()
            / 0.001;
        assert!((one.sensitivities(rate)[0][0] / slope - 1.0).abs() < 0.02);
        let expected = (0.1 * slope).root_sum_square(0.1).root_sum_square(0.02);
        assert!((one.predict().spread(rate) / expected - 1.0).abs() < 0.02);
    }

    #[test]
    fn drops_start_with_einstein() {
        assert!(((drops_factor(1e-4) - 1.0) / 1e-4 - 2.5).abs() < 1e-3);
        assert!(drops_factor(0.1) > 1.3 && drops_factor(0.1) < 1.35);
    }
}
