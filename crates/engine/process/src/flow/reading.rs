//! The questions of use answered as results that explain themselves: out of the pack, over the skin, on the shelf, and along the life.
//!
//! Every number is an [`Outcome`] with the limits that follow from those of the liquid; every yes or no is a [`Verdict`] that says *surely*,
//! *perhaps* or *not* and why.

mod along;
mod cream;
mod dispense;
mod drain;

pub use along::{StageReading, WordBandReading, WordReading, life, words};
pub use cream::{BubbleReading, CreamReading, cream};
pub use dispense::{DispenseReading, TubeReading, dispense};
pub use drain::{DrainReading, drain};

use super::band::{Band, Holds, Spread};
use super::life::Stage;
use super::settings::{Dispensing, Draining, Standing};
use super::words::Word;
use levigate_measure::{Grade, Outcome};
use serde::Serialize;

/// The case of the whole room.
pub(crate) const CROSS: &str = "tests/cross/flow_use.csv";

/// A liquid and what is known of it.
#[derive(Clone, Debug)]
pub struct Known<'l> {
    /// The liquid within its limits.
    pub band: Band<'l>,
    /// Density, kg/m3, with its least and most.
    pub density_kg_m3: Spread,
    /// How good the flow curve is.
    pub grade: Grade,
    /// Probability that its limits are meant to hold; none for hard limits.
    pub coverage: Option<f64>,
    /// Shear rates its evidence covers, 1/s; none where it is given as known everywhere.
    pub window: Option<[f64; 2]>,
    /// Where it comes from, in words.
    pub from: String,
}

/// Whether something holds, and why.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Verdict {
    /// The question.
    pub question: &'static str,
    /// Surely, perhaps, or not.
    pub holds: Holds,
    /// Why, in one sentence.
    pub because: String,
}

/// The sizes, stages and words to ask with.
#[derive(Clone, Debug)]
pub struct Customs<'a> {
    /// Stages of the life.
    pub stages: Vec<&'a Stage>,
    /// Words of a brief.
    pub words: Vec<&'a Word>,
    /// The pack.
    pub dispensing: &'a Dispensing,
    /// The hand.
    pub draining: &'a Draining,
    /// The shelf.
    pub standing: &'a Standing,
}

/// Everything that a flow curve means for the person, as one answer.
///
/// In JSON an object with the keys `life` (stages in their order: `key`, `name`, `shear_rate`, `stress`, `viscosity`, `published`,
/// `by_stress`, `reason`), `words` (`key`, `words`, `means`, `holds`, `bands`, `reason`), `dispense`, `drain` and `cream` with the fields of
/// their types. Each number is a result object, each verdict `{ "question", "holds": "surely" | "perhaps" | "not", "because" }`.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct InUse {
    /// The life of the product on the curve.
    pub life: Vec<StageReading>,
    /// The words of a brief it meets.
    pub words: Vec<WordReading>,
    /// Out of the pack.
    pub dispense: DispenseReading,
    /// Over the skin.
    pub drain: DrainReading,
    /// On the shelf.
    pub cream: CreamReading,
}

/// Answers everything.
#[must_use]
pub fn in_use(known: &Known<'_>, customs: &Customs<'_>) -> InUse {
    InUse {
        life: life(known, &customs.stages),
        words: words(known, &customs.words),
        dispense: dispense(known, customs.dispensing),
        drain: drain(known, customs.draining),
        cream: cream(known, customs.standing),
    }
}

/// How a number is found.
pub(crate) struct Way {
    pub(crate) method: &'static str,
    pub(crate) equation: &'static str,
    pub(crate) range: &'static str,
    pub(crate) proof: Option<&'static str>,
    pub(crate) sources: &'static [&'static str],
}

impl Known<'_> {
    /// A number that follows from the liquid; `rate` is the shear rate that decides it, 1/s. An endless number is refused with `never`.
    pub(crate) fn outcome(
        &self,
        way: &Way,
        unit: &'static str,
        answer: Spread,
        rate: Option<f64>,
        never: &str,
    ) -> Outcome {
        // Endless is an answer, no number is a failure.
        let mut outcome = if answer.value == f64::INFINITY && !never.is_empty() {
            Outcome::refuse(unit, way.method, never)
        } else {
            Outcome::new(answer.value, unit, self.grade, way.method)
        };
        // Limits that are the value itself, but for its last bits, say nothing: the liquid was given as known.
        if answer.high - answer.low > 1e-9 * answer.value.abs() {
            outcome = outcome.within(answer.low, answer.high, self.coverage);
        }
        outcome = outcome.by(way.equation).valid_for(way.range);
        if let Some(proof) = way.proof {
            outcome = outcome.proved_by(proof);
        }
        outcome.sources = way.sources.iter().map(|key| (*key).to_owned()).collect();
        outcome = outcome.input_text("flow curve", self.from.clone());
        if let (Some([low, high]), Some(rate)) = (self.window, rate)
            && rate > 0.0
            && !(low * (1.0 - 1e-6)..=high * (1.0 + 1e-6)).contains(&rate)
        {
            outcome.grade = outcome.grade.weaker(Grade::RuleOfThumb);
            outcome = outcome.note(
                "outside-evidence",
                format!(
                    "decided at a shear rate {} those that the evidence of the flow curve covers, {} to {} 1/s",
                    if rate < low { "below" } else { "above" },
                    figures(low),
                    figures(high)
                ),
            );
        }
        outcome
    }

    /// The answer at the least and most of the density too; it rises or falls with it throughout.
    pub(crate) fn with_density(&self, answer: impl Fn(&dyn super::Liquid, f64) -> f64) -> Spread {
        self.over_density(|density| self.band.spread(|liquid| answer(liquid, density)))
    }

    /// The same for answers that take the whole band at one density.
    pub(crate) fn over_density(&self, of: impl Fn(f64) -> Spread) -> Spread {
        let middle = of(self.density_kg_m3.value);
        if self.density_kg_m3.low >= self.density_kg_m3.high {
            return middle;
        }
        let (light, heavy) = (of(self.density_kg_m3.low), of(self.density_kg_m3.high));
        Spread {
            value: middle.value,
            low: middle.low.min(light.low).min(heavy.low),
            high: middle.high.max(light.high).max(heavy.high),
        }
    }
}

impl Spread {
    /// In another unit.
    pub(crate) fn times(self, factor: f64) -> Self {
        Self { value: self.value * factor, low: self.low * factor, high: self.high * factor }
    }
}

/// Three significant figures, for sentences.
pub(crate) fn figures(value: f64) -> String {
    if value == 0.0 || !value.is_finite() {
        return format!("{value}");
    }
    let text = format!("{value:.2e}");
    let Some((digits, power)) = text.split_once('e') else { return text };
    match power.parse::<i32>() {
        Ok(power @ -3..=4) => {
            let places = usize::try_from(2 - power).unwrap_or(0);
            let rounded: f64 = text.parse().unwrap_or(value);
            let plain = format!("{rounded:.places$}");
            if plain.contains('.') {
                plain.trim_end_matches('0').trim_end_matches('.').to_owned()
            } else {
                plain
            }
        }
        _ => format!("{}e{power}", digits.trim_end_matches('0').trim_end_matches('.')),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sentences_carry_three_figures() {
        for (value, text) in [
            (1273.24, "1270"),
            (0.5, "0.5"),
            (12.0, "12"),
            (1.234e-9, "1.23e-9"),
            (98_700.0, "98700"),
            (2.0e7, "2e7"),
            (0.0, "0"),
        ] {
            assert_eq!(figures(value), text);
        }
    }
}
