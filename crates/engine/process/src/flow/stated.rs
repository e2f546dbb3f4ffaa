//! A viscosity as it must be stated: with what it was read, at what speed, at what temperature, how old. And what keeps two from being compared.
//!
//! A single reading of a thinning product is a number of its conditions. Two are put side by side whatever they are; the answer says which conditions differ
//! or are not known, and only where none does is their ratio that of the products. Allowed without a word: 1 % of speed, torque and size, 0.5 K of
//! temperature, ages apart by less than a third (common practice, no source).

use serde::{Deserialize, Serialize};

/// Speeds, torques and sizes apart by less are the same, relative.
const SAME: f64 = 0.01;
/// Temperatures apart by less are the same, K.
const SAME_K: f64 = 0.5;
/// Ages apart by less are the same, as a ratio.
const SAME_AGE: f64 = 4.0 / 3.0;
/// Readings below this share of the full scale are not to be trusted, percent.
const LEAST_PERCENT: f64 = 10.0;

/// What a viscosity was read with.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub enum ReadWith {
    /// A spindle of a rotational viscometer.
    Spindle {
        /// In words: shape and size.
        words: String,
        /// Diameter, mm, where known.
        diameter_mm: Option<f64>,
        /// Full-scale torque, N m, where known.
        torque_n_m: Option<f64>,
    },
    /// An instrument that sets a shear rate: cone and plate, coaxial cylinders.
    ShearRate {
        /// Shear rate, 1/s.
        shear_rate: f64,
    },
    /// A flow cup.
    Cup {
        /// In words.
        words: String,
    },
}

/// A viscosity with its conditions; what is not known stays empty and counts as a difference.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StatedViscosity {
    /// Viscosity as shown, Pa s.
    pub viscosity_pa_s: f64,
    /// With what.
    pub read_with: Option<ReadWith>,
    /// Speed, rpm; for a spindle.
    pub rpm: Option<f64>,
    /// Percent of the full scale; for a spindle.
    pub percent: Option<f64>,
    /// Temperature, C.
    pub temperature_c: Option<f64>,
    /// Age of the sample, h.
    pub age_h: Option<f64>,
}

/// A condition that keeps two viscosities apart.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Unlike {
    /// Condition.
    pub condition: &'static str,
    /// The first's.
    pub first: String,
    /// The second's.
    pub second: String,
}

/// Two viscosities side by side.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Beside {
    /// First over second, as shown.
    pub ratio: f64,
    /// Conditions that differ or are not known.
    pub unlike: Vec<Unlike>,
    /// What to say before the ratio; none where it is that of the products.
    pub warning: Option<String>,
}

impl StatedViscosity {
    /// The statement in one line.
    #[must_use]
    pub fn statement(&self) -> String {
        let mut parts = vec![format!("{:.0} mPa s", self.viscosity_pa_s * 1e3)];
        parts.push(self.with_words());
        if matches!(self.read_with, Some(ReadWith::Spindle { .. }) | None) {
            parts.push(known(self.rpm, "rpm", "speed"));
        }
        parts.push(known(self.temperature_c, "C", "temperature"));
        parts.push(known(self.age_h, "h old", "age"));
        parts.join(", ")
    }

    /// What the reading itself leaves to doubt.
    #[must_use]
    pub fn doubts(&self) -> Vec<String> {
        let mut doubts = Vec::new();
        match self.percent {
            Some(percent) if percent < LEAST_PERCENT => doubts.push(format!(
                "{percent} % of the full scale: below {LEAST_PERCENT} % the error of the scale rules; take a larger spindle or a higher speed"
            )),
            Some(percent) if percent > 100.0 => {
                doubts.push(format!("{percent} % of the full scale: beyond it nothing is read; take a smaller spindle or a lower speed"));
            }
            _ => {}
        }
        if matches!(self.read_with, Some(ReadWith::Spindle { .. })) {
            doubts.push("the number belongs to this spindle and speed; a liquid that thins has another viscosity at any shear rate".to_owned());
        }
        doubts
    }

    /// Two viscosities side by side, with what keeps them from being compared.
    #[must_use]
    pub fn beside(&self, other: &Self) -> Beside {
        let mut unlike = Vec::new();
        let mut note = |condition, same: bool, first: String, second: String| {
            if !same {
                unlike.push(Unlike { condition, first, second });
            }
        };
        note("instrument", self.same_instrument(other), self.with_words(), other.with_words());
        let spindle = |it: &Self| matches!(it.read_with, Some(ReadWith::Spindle { .. }) | None);
        if spindle(self) || spindle(other) {
            let same = both(self.rpm, other.rpm, near);
            note("speed", same, known(self.rpm, "rpm", "speed"), known(other.rpm, "rpm", "speed"));
        }
        let same = both(self.temperature_c, other.temperature_c, |a, b| (a - b).abs() <= SAME_K);
        let words = |it: &Self| known(it.temperature_c, "C", "temperature");
        note("temperature", same, words(self), words(other));
        let same = both(self.age_h, other.age_h, |a, b| a == b || (a.max(b) / a.min(b)) < SAME_AGE);
        let words = |it: &Self| known(it.age_h, "h old", "age");
        note("age", same, words(self), words(other));
        let warning = (!unlike.is_empty()).then(|| {
            let named: Vec<String> = unlike
                .iter()
                .map(|it| format!("{} ({} against {})", it.condition, it.first, it.second))
                .collect();
            format!(
                "not the same conditions: {}; the ratio may be theirs and not that of the products",
                named.join("; ")
            )
        });
        Beside { ratio: self.viscosity_pa_s / other.viscosity_pa_s, unlike, warning }
    }

    fn with_words(&self) -> String {
        match &self.read_with {
            None => "instrument not stated".to_owned(),
            Some(ReadWith::ShearRate { shear_rate }) => format!("at {shear_rate} 1/s"),
            Some(ReadWith::Cup { words }) => words.clone(),
            Some(ReadWith::Spindle { words, torque_n_m, .. }) => match torque_n_m {
                Some(torque) => format!("{words}, {:.0} uN m", torque * 1e6),
                None => format!("{words}, torque not stated"),
            },
        }
    }

    fn same_instrument(&self, other: &Self) -> bool {
        match (&self.read_with, &other.read_with) {
            (Some(ReadWith::ShearRate { shear_rate: a }), Some(ReadWith::ShearRate { shear_rate: b })) => {
                near(*a, *b)
            }
            (Some(ReadWith::Cup { words: a }), Some(ReadWith::Cup { words: b })) => alike(a, b),
            (
                Some(ReadWith::Spindle { words: a, diameter_mm: size_a, torque_n_m: torque_a }),
                Some(ReadWith::Spindle { words: b, diameter_mm: size_b, torque_n_m: torque_b }),
            ) => {
                // The viscosity shown does not hang on the torque; its error does. So an unknown torque on both sides is no difference.
                let torque = (torque_a.is_none() && torque_b.is_none()) || both(*torque_a, *torque_b, near);
                let size = match (size_a, size_b) {
                    (Some(a), Some(b)) => near(*a, *b),
                    _ => alike(a, b),
                };
                size && torque
            }
            _ => false,
        }
    }
}

fn near(a: f64, b: f64) -> bool {
    (a - b).abs() <= SAME * a.abs().max(b.abs())
}

fn alike(a: &str, b: &str) -> bool {
    a.trim().eq_ignore_ascii_case(b.trim())
}

/// Both known, and the same.
fn both(first: Option<f64>, second: Option<f64>, same: impl Fn(f64, f64) -> bool) -> bool {
    matches!((first, second), (Some(a), Some(b)) if same(a, b))
}

fn known(value: Option<f64>, unit: &str, name: &str) -> String {
    value.map_or_else(|| format!("{name} not stated"), |value| format!("{value} {unit}"))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn gel() -> StatedViscosity {
        StatedViscosity {
            viscosity_pa_s: 22.0,
            read_with: Some(ReadWith::Spindle {
                words: "disc, 27 mm".to_owned(),
                diameter_mm: Some(27.3),
                torque_n_m: Some(7.187e-4),
            }),
            rpm: Some(20.0),
            percent: Some(55.0),
            temperature_c: Some(25.0),
            age_h: Some(24.0),
        }
    }

    #[test]
    fn the_statement_has_all_conditions() {
        assert_eq!(gel().statement(), "22000 mPa s, disc, 27 mm, 719 uN m, 20 rpm, 25 C, 24 h old");
        let bare = StatedViscosity { read_with: None, rpm: None, temperature_c: None, age_h: None, ..gel() };
        assert_eq!(
            bare.statement(),
            "22000 mPa s, instrument not stated, speed not stated, temperature not stated, age not stated"
        );
    }

    #[test]
    fn the_same_conditions_compare_without_a_word() {
        let other =
            StatedViscosity { viscosity_pa_s: 15.8, temperature_c: Some(25.3), age_h: Some(26.0), ..gel() };
        let beside = gel().beside(&other);
        assert!((beside.ratio - 22.0 / 15.8).abs() < 1e-12);
        assert_eq!((beside.unlike.len(), beside.warning), (0, None));
    }

    #[test]
    fn every_condition_that_differs_or_is_not_known_is_named() {
        let named = |other: &StatedViscosity| -> Vec<&str> {
            gel().beside(other).unlike.iter().map(|it| it.condition).collect()
        };
        let spindle = |words: &str, diameter_mm, torque_n_m| {
            Some(ReadWith::Spindle { words: words.to_owned(), diameter_mm, torque_n_m })
        };
        let other = |change: &dyn Fn(&mut StatedViscosity)| {
            let mut other = gel();
            change(&mut other);
            other
        };
        assert_eq!(named(&other(&|it| it.rpm = Some(10.0))), ["speed"]);
        assert_eq!(named(&other(&|it| it.rpm = None)), ["speed"]);
        assert_eq!(named(&other(&|it| it.temperature_c = Some(22.0))), ["temperature"]);
        assert_eq!(named(&other(&|it| it.age_h = Some(2.0))), ["age"]);
        assert_eq!(named(&other(&|it| it.age_h = None)), ["age"]);
        assert_eq!(named(&other(&|it| it.read_with = None)), ["instrument"]);
        let larger = spindle("disc, 35 mm", Some(34.7), Some(7.187e-4));
        assert_eq!(named(&other(&|it| it.read_with.clone_from(&larger))), ["instrument"]);
        let weaker = spindle("disc, 27 mm", Some(27.3), Some(6.7e-5));
        assert_eq!(named(&other(&|it| it.read_with.clone_from(&weaker))), ["instrument"]);
        let cone = Some(ReadWith::ShearRate { shear_rate: 10.0 });
        assert_eq!(named(&other(&|it| it.read_with.clone_from(&cone))), ["instrument"]);
        let all = StatedViscosity { read_with: None, rpm: None, temperature_c: None, age_h: None, ..gel() };
        let beside = all.beside(&all);
        assert_eq!(beside.unlike.len(), 4);
        assert!(beside.warning.unwrap().contains("age not stated"));
    }

    #[test]
    fn a_reading_at_the_foot_of_the_scale_is_doubted() {
        let low = StatedViscosity { percent: Some(4.0), ..gel() };
        assert_eq!((gel().doubts().len(), low.doubts().len()), (1, 2));
    }
}
