//! Hurdles: properties of the product itself that hold microbes back, beside the published list of low-risk properties.
//!
//! The list (ISO 29621) is information: one property alone makes a product a low risk by the standard; milder ones combined need a
//! written assessment of the risk. The pack is a hurdle in use, not in the bulk.

use levigate_measure::written::{Description, Figure};
use levigate_measure::{Grade, Outcome};
use serde::{Deserialize, Serialize};

use super::PreservationQuestion;

/// Property a hurdle is read from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum HurdleTrait {
    /// pH at most this.
    PhAtMost,
    /// pH at least this.
    PhAtLeast,
    /// Water activity at most this.
    WaterActivityAtMost,
    /// Percent of alcohol above this.
    AlcoholAbove,
    /// Filled hot above this temperature, C; not read from a formula.
    HotFillAbove,
    /// Percent of a substance above this.
    SubstanceAbove,
    /// Water content at most this, %.
    WaterAtMost,
}

impl HurdleTrait {
    /// What the value of a product is for this property.
    fn describes(self) -> &'static Description {
        const PH: Description = Description::computed("", "pH looked at");
        const ACTIVITY: Description = Description::computed("", "water activity of the product")
            .graded(Grade::Correlated)
            .proved_by("tests/cross/aqueous_reference.toml");
        const CONTENT: Description =
            Description::computed("% w/w", "sum over the lines that bring it").proved_by("exact arithmetic");
        const FILLED: Description =
            Description::computed("C", "temperature of filling, as stated").graded(Grade::Measured);
        match self {
            Self::PhAtMost | Self::PhAtLeast => &PH,
            Self::WaterActivityAtMost => &ACTIVITY,
            Self::AlcoholAbove | Self::SubstanceAbove | Self::WaterAtMost => &CONTENT,
            Self::HotFillAbove => &FILLED,
        }
    }
}

/// One property of the list.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Hurdle {
    /// Stable key.
    pub key: String,
    /// Property.
    pub of: HurdleTrait,
    /// Value.
    pub value: f64,
    /// Substances it speaks of, by key, for alcohols and named substances.
    #[serde(default)]
    pub substances: Vec<String>,
    /// In words.
    pub text: String,
    /// Source key.
    pub source: String,
}

/// A hurdle and whether the product has it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct HurdleReading {
    /// Key.
    pub key: String,
    /// In words.
    pub text: String,
    /// Value of the product, where it is known.
    pub found: Option<Figure>,
    /// The product has it; nothing when it is not known.
    pub met: Option<bool>,
    /// Source key.
    pub source: String,
}

impl Hurdle {
    /// Whether a product has it: `found` is its value, `worst` the end of the interval that is farthest from having it.
    #[must_use]
    pub fn read(&self, found: Option<f64>, worst: Option<f64>) -> HurdleReading {
        let met = worst.or(found).map(|value| match self.of {
            HurdleTrait::PhAtMost | HurdleTrait::WaterActivityAtMost | HurdleTrait::WaterAtMost => {
                value <= self.value
            }
            HurdleTrait::PhAtLeast => value >= self.value,
            HurdleTrait::AlcoholAbove | HurdleTrait::SubstanceAbove | HurdleTrait::HotFillAbove => {
                value > self.value
            }
        });
        HurdleReading {
            key: self.key.clone(),
            text: self.text.clone(),
            found: found.map(|value| Figure::new(value, self.of.describes())),
            met,
            source: self.source.clone(),
        }
    }
}

/// Reads the list of low-risk properties at one pH.
#[must_use]
pub fn hurdles(question: &PreservationQuestion<'_>, water_activity: Option<&Outcome>) -> Vec<HurdleReading> {
    question
        .facts
        .hurdles
        .values()
        .map(|hurdle| {
            let (found, worst) = match hurdle.of {
                HurdleTrait::PhAtMost | HurdleTrait::PhAtLeast => (Some(question.ph), None),
                // The upper end of the interval must lie below, or the hurdle is not shown to be there.
                HurdleTrait::WaterActivityAtMost => (
                    water_activity.and_then(|activity| activity.value),
                    water_activity.and_then(|activity| activity.high),
                ),
                HurdleTrait::AlcoholAbove | HurdleTrait::SubstanceAbove => {
                    let content = hurdle.substances.iter().map(|key| question.composition.percent(key));
                    (Some(content.sum()), None)
                }
                HurdleTrait::HotFillAbove => (None, None),
                HurdleTrait::WaterAtMost => (Some(water_percent(question)), None),
            };
            hurdle.read(found, worst)
        })
        .collect()
}

fn water_percent(question: &PreservationQuestion<'_>) -> f64 {
    question
        .composition
        .substances
        .iter()
        .filter(|(key, _)| {
            question
                .library
                .substances
                .get(*key)
                .is_some_and(|substance| matches!(substance.in_water, crate::library::InWater::Water))
        })
        .map(|(_, share)| share.percent)
        .sum()
}
