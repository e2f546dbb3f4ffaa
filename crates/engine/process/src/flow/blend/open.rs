//! What is open about a blend, taken apart into independent parts that can be drawn one by one.
//!
//! ```text
//! theta_i + sum over its columns j of z_j L_ij        parameters of a thickener
//! eta_s exp(z s_s),   k exp(z s_k)                    solvent, drops
//! tau exp(z w_i b_i)                                  law of a thickener, w_i its share in d ln tau, b_i how far laws like it miss
//! ```
//!
//! Every `z` is standard normal. Parameters, gains and solvent go through the laws, so that what bends bends; how far a law misses is itself
//! a judgement on the logarithm of the stress and is taken at the weights of the blend as it was meant. Small parts add up to the variance of
//! [`Blend::predict`]. Case: below, and `tests/cross/uncertainty_flow.toml`.

use super::{Blend, Numbers};
use crate::flow::thickener::Theta;

/// One independent part of what is open.
#[derive(Clone, Debug, PartialEq)]
pub struct Open {
    /// What it is, without the name of the thickener.
    pub words: &'static str,
    /// Place of the thickener it belongs to; none where it belongs to the blend.
    pub thickener: Option<usize>,
    moves: Moves,
}

#[derive(Clone, Debug, PartialEq)]
enum Moves {
    Parameters(usize, Theta),
    Gain(usize, f64),
    All(Numbers),
    Stress(f64),
    Solvent(f64),
}

/// A blend moved within what is open.
#[derive(Clone, Debug, PartialEq)]
pub struct Moved {
    /// Its numbers.
    pub numbers: Numbers,
    /// What is added to ln of every stress.
    pub ln_stress: f64,
    /// What is added to ln of the viscosity of the solvent.
    pub ln_solvent: f64,
}

impl Moved {
    /// Goes back to the best numbers, without asking for room anew.
    pub fn begin(&mut self, best: &Numbers) {
        self.numbers.thetas.copy_from_slice(&best.thetas);
        self.numbers.gains.copy_from_slice(&best.gains);
        self.numbers.miss = best.miss;
        (self.ln_stress, self.ln_solvent) = (0.0, 0.0);
    }
}

impl Open {
    /// Moves by so many standard deviations.
    pub fn by(&self, z: f64, moved: &mut Moved) {
        let shift =
            |theta: &mut Theta, by: &Theta| theta.iter_mut().zip(by).for_each(|(value, by)| *value += z * by);
        match &self.moves {
            Moves::Parameters(place, by) => {
                if let Some(theta) = moved.numbers.thetas.get_mut(*place) {
                    shift(theta, by);
                }
            }
            Moves::Gain(place, by) => {
                if let Some(gain) = moved.numbers.gains.get_mut(*place) {
                    *gain += z * by;
                }
            }
            Moves::All(by) => {
                moved.numbers.thetas.iter_mut().zip(&by.thetas).for_each(|(theta, by)| shift(theta, by));
                moved.numbers.gains.iter_mut().zip(&by.gains).for_each(|(gain, by)| *gain += z * by);
                moved.numbers.miss += z * by.miss;
            }
            Moves::Stress(by) => moved.ln_stress += z * by,
            Moves::Solvent(by) => moved.ln_solvent += z * by,
        }
    }
}

impl Blend<'_> {
    /// The parts of what is open near a shear rate, 1/s. Parts of no size are left out.
    #[must_use]
    pub fn open(&self, rate: f64) -> Vec<Open> {
        let numbers = self.numbers();
        let together = self.together(&numbers, rate, &[]);
        let share = together.specific / (1.0 + together.specific);
        let mut open = Vec::new();
        match &self.taught {
            None => {
                for (place, one) in self.thickeners.iter().enumerate() {
                    for column in &one.knowledge.columns {
                        let moves = Moves::Parameters(place, column.theta);
                        open.push(Open { words: column.words, thickener: Some(place), moves });
                    }
                }
                for (place, one) in self.synergies.iter().enumerate().filter(|(_, one)| one.spread > 0.0) {
                    let moves = Moves::Gain(place, one.spread);
                    open.push(Open { words: "gain of two thickeners together", thickener: None, moves });
                }
            }
            Some(taught) => {
                for column in &taught.columns {
                    let moves = Moves::All(column.clone());
                    open.push(Open {
                        words: "what the readings of trials leave open",
                        thickener: None,
                        moves,
                    });
                }
                let by = taught.own_miss * self.model_spread(&together, rate)[0];
                open.push(Open {
                    words: "what is this formula's own",
                    thickener: None,
                    moves: Moves::Stress(by),
                });
            }
        }
        for (place, (one, (weight, _))) in self.thickeners.iter().zip(&together.parts).enumerate() {
            let outside = (one.beyond.powi(2) - one.own.powi(2)).max(0.0) + one.beyond_window(rate).powi(2);
            let own = if self.taught.is_some() { 0.0 } else { one.own.powi(2) };
            let by = weight * share * (own + outside).sqrt();
            if by > 0.0 {
                let words = if outside > own { "flow law beyond the evidence" } else { "flow law" };
                open.push(Open { words, thickener: Some(place), moves: Moves::Stress(by) });
            }
        }
        for (words, moves, size) in [
            ("viscosity of the solvent", Moves::Solvent(self.solvent_spread), self.solvent_spread),
            ("what the drops do", Moves::Stress(self.drops_spread), self.drops_spread),
        ] {
            if size > 0.0 {
                open.push(Open { words, thickener: None, moves });
            }
        }
        open
    }

    /// Nothing moved.
    #[must_use]
    pub fn unmoved(&self) -> Moved {
        Moved { numbers: self.numbers(), ln_stress: 0.0, ln_solvent: 0.0 }
    }
}

#[cfg(test)]
mod tests {
    use crate::flow::blend::{Blend, Dosed, Knowledge};
    use crate::flow::thickener::{Growth, Law, Reference, Surroundings, Thickening};
    use levigate_measure::belief::Belief;
    use levigate_measure::elementary::Elementary as _;

    const WATER: f64 = 0.000_89;

    /// A small step along every part, added in squares, is the variance of the band.
    #[test]
    fn small_parts_add_up_to_the_band() {
        let reference = Reference { dose_g_dl: 1.0, ionic_strength: 0.01 };
        let known = |law: Law, theta: [f64; 7]| {
            let spreads = [0.3, 0.1, 0.2, 0.0, 0.02, 2.0, 0.05];
            Knowledge::of(law, Belief::independent(theta.to_vec(), &spreads).unwrap())
        };
        let coil = Law::Coil { growth: Growth::EighthRoot };
        let knowledge = [
            (coil, known(coil, [2.5, 0.0, 3.2, 1.0, 0.65, 10.0, 0.0])),
            (Law::Rod, known(Law::Rod, [2.3, 1.6, -7.0, -2.0, 0.85, 3.0, 0.0])),
        ];
        let around = Surroundings {
            temperature_c: 25.0,
            solvent_pa_s: WATER,
            water_pa_s: WATER,
            ionic_strength: 0.03,
            added_salt: 0.0,
            dissociated: 0.6,
        };
        let thickeners = knowledge.iter().map(|(law, knowledge)| Dosed {
            law: Thickening { law: *law, reference },
            knowledge,
            dose_g_dl: 0.6,
            around,
            own: 0.1,
            beyond: 0.15,
            window: [1.0, 100.0],
        });
        let blend = Blend {
            solvent_pa_s: WATER,
            // The band counts the solvent in full, and the laws let a thinned polymer feel less of it: left out of this sum.
            solvent_spread: 0.0,
            thickeners: thickeners.collect(),
            synergies: Vec::new(),
            drops: 1.1,
            drops_spread: 0.05,
            taught: None,
        };
        for rate in [0.2, 10.0, 400.0] {
            let ln_at = |part: &super::Open, z: f64| {
                let mut moved = blend.unmoved();
                part.by(z, &mut moved);
                blend.stress_with(&moved.numbers, rate).log_e() + moved.ln_stress
            };
            let slope = |part: &super::Open| (ln_at(part, 0.01) - ln_at(part, -0.01)) / 0.02;
            let sum: f64 = blend.open(rate).iter().map(|part| slope(part).powi(2)).sum();
            let band = blend.predict().spread(rate);
            assert!((sum.sqrt() / band - 1.0).abs() < 0.01, "{} and {band} at {rate}", sum.sqrt());
        }
    }
}
