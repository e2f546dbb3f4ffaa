//! The life of the product on the curve, and the words of the brief.

use super::{Known, Verdict, Way, figures};
use crate::flow::band::Holds;
use crate::flow::life::{OnCurve, Stage};
use crate::flow::words::{Word, met};
use levigate_measure::{Grade, Outcome};
use serde::Serialize;

/// A stage of the life of the product.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct StageReading {
    /// Key.
    pub key: String,
    /// Name.
    pub name: String,
    /// Shear rate that stands for it, 1/s, from the least to the most of its sizes.
    pub shear_rate: Outcome,
    /// Stress there, Pa.
    pub stress: Outcome,
    /// Viscosity there, mPa s.
    pub viscosity: Outcome,
    /// Shear rates somebody published for it, 1/s.
    pub published: Option<Outcome>,
    /// Whether weight or surface tension drives it, so that the liquid answers with the shear rate.
    pub by_stress: bool,
    /// Why these sizes.
    pub reason: String,
}

/// A word of the brief.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct WordReading {
    /// Key.
    pub key: String,
    /// The word.
    pub words: String,
    /// What is meant.
    pub means: String,
    /// Surely, perhaps or not.
    pub holds: Holds,
    /// The numbers behind it.
    pub bands: Vec<WordBandReading>,
    /// Why these numbers, a convention and no fact.
    pub reason: String,
}

/// One number behind a word.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct WordBandReading {
    /// What of the liquid.
    pub of: String,
    /// The number of the liquid.
    pub value: Outcome,
    /// At least, as the word wants it.
    pub at_least: Option<Outcome>,
    /// At most, as the word wants it.
    pub at_most: Option<Outcome>,
    /// Whether the number lies within.
    pub within: Verdict,
}

const STAGE: Way = Way {
    method: "shear rate from speeds, gaps and sizes, on the flow curve",
    equation: "g = U/h, 4 V/(t pi R^3), ks N, or g(tau) where weight or surface tension drives",
    range: "one shear rate stands for a span",
    proof: Some("crates/engine/process/src/flow/life.rs"),
    sources: &["metzner-otto-1957"],
};
const WORD: Way = Way {
    method: "number behind a word",
    equation: "as its quantity says",
    range: "a convention of this product",
    proof: None,
    sources: &[],
};

/// The stages on the curve, in their order.
#[must_use]
pub fn life(known: &Known<'_>, stages: &[&Stage]) -> Vec<StageReading> {
    let mut stages = stages.to_vec();
    stages.sort_by_key(|stage| stage.order);
    stages.into_iter().map(|stage| stage_reading(known, stage)).collect()
}

fn stage_reading(known: &Known<'_>, stage: &Stage) -> StageReading {
    let OnCurve { shear_rate, stress, viscosity, by_stress } =
        stage.on(&known.band, known.density_kg_m3.value);
    let at = Some(shear_rate.value);
    let mut rate = known.outcome(&STAGE, "1/s", shear_rate, at, "").source(stage.source.clone());
    // The span of sizes is no probability.
    rate.coverage = None;
    if !by_stress {
        rate.grade = Grade::RuleOfThumb;
        rate.notes.clear();
    }
    for (field, [low, high]) in stage.rate.spans() {
        rate = rate.input_text(field, format!("{low} to {high}"));
    }
    let mut stress = known.outcome(&STAGE, "Pa", stress, at, "");
    if by_stress {
        stress.coverage = None;
    }
    let published = stage.published.as_ref().map(|published| {
        let middle = (published.low * published.high).sqrt();
        Outcome::new(middle, "1/s", Grade::Correlated, "span of published values, its geometric middle")
            .within(published.low, published.high, None)
            .source(published.source.clone())
    });
    StageReading {
        key: stage.key.clone(),
        name: stage.name.clone(),
        shear_rate: rate,
        stress,
        viscosity: known.outcome(
            &STAGE,
            "mPa s",
            viscosity.times(1e3),
            at,
            "nothing moves: the yield stress holds",
        ),
        published,
        by_stress,
        reason: stage.reason.clone(),
    }
}

/// Which words the liquid meets.
#[must_use]
pub fn words(known: &Known<'_>, words: &[&Word]) -> Vec<WordReading> {
    let density = known.density_kg_m3.value;
    let found = met(words, &known.band, density);
    let limit = |word: &Word, unit: &'static str, value: f64| {
        Outcome::new(value, unit, Grade::RuleOfThumb, "limit of a word").source(word.source.clone())
    };
    words
        .iter()
        .zip(found)
        .map(|(word, met)| WordReading {
            key: word.key.clone(),
            words: word.words.clone(),
            means: word.means.clone(),
            holds: met.holds,
            bands: word
                .band
                .iter()
                .zip(met.bands)
                .map(|(band, (spread, holds))| {
                    let unit = band.of.unit();
                    let of = band.of.words();
                    let value = known
                        .outcome(&WORD, unit, spread, band.of.rate(), "it never happens")
                        .source(word.source.clone());
                    WordBandReading {
                        within: Verdict {
                            question: "the number lies within",
                            holds,
                            because: because(spread.value, unit, band.low, band.high),
                        },
                        of,
                        value,
                        at_least: band.low.map(|low| limit(word, unit, low)),
                        at_most: band.high.map(|high| limit(word, unit, high)),
                    }
                })
                .collect(),
            reason: word.reason.clone(),
        })
        .collect()
}

fn because(value: f64, unit: &str, low: Option<f64>, high: Option<f64>) -> String {
    let wanted = match (low, high) {
        (Some(low), Some(high)) => format!("{} to {}", figures(low), figures(high)),
        (Some(low), None) => format!("at least {}", figures(low)),
        (None, Some(high)) => format!("at most {}", figures(high)),
        (None, None) => "anything".to_owned(),
    };
    let is = if value.is_finite() { figures(value) } else { "endless".to_owned() };
    format!("{is} {unit}; the word wants {wanted}").replace("  ", " ").replace(" ;", ";")
}
