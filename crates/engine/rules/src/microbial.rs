//! How many microbes a finished product may hold, by where it is used, and what the water alone brings of them.
//!
//! Equation: `n = c w / 100`, with the water weighed taken as 1 g/mL.
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | `n` | count the water brings into the product before anything dies or grows | CFU/g |
//! | `c` | count of the water | CFU/mL |
//! | `w` | water weighed in as water | % w/w |
//!
//! The classes are data (`data/rules/microbial.toml`). A count of the water says nothing about preservation; it says how much of the
//! limit is spent before the first raw material. Proved by `tests/cross/scenarios.toml`, point 7.2 (a product of two numbers).

use levigate_measure::{Grade, Outcome};
use serde::{Deserialize, Serialize};

use crate::book::Status;
use crate::question::Question;
use crate::usage::Scope;

/// A class of finished products and its limits.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct MicrobialClass {
    /// Key.
    pub key: String,
    /// The class in words.
    pub words: String,
    /// Products it speaks of, any of these; the class without any is for all others.
    #[serde(default)]
    pub scope: Vec<Scope>,
    /// Most aerobic bacteria, yeast and mould together, CFU/g.
    pub most_cfu_per_g: f64,
    /// A single count is out of limit only above this, CFU/g.
    pub out_above_cfu_per_g: f64,
    /// Organisms that must not be found in 1 g.
    pub absent: Vec<String>,
    /// Source key.
    pub source: String,
    /// How well the row was read.
    pub status: Status,
}

/// The class of a product and what its water brings.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct MicrobialReading {
    /// Key of the class.
    pub key: String,
    /// The class in words.
    pub class: String,
    /// Whether the class is one of the strict ones, for eye, mucous membrane or small children.
    pub strict: bool,
    /// Most aerobic bacteria, yeast and mould together.
    pub most: Outcome,
    /// Organisms that must not be found in 1 g.
    pub absent: Vec<String>,
    /// What the water brings, where its count is given.
    pub from_water: Option<Outcome>,
    /// Lines of the water, from 0.
    pub water_lines: Vec<usize>,
}

/// Content of water from which a raw material counts as water, %.
const WATER_PERCENT: f64 = 99.0;

/// The class of a product, absent when none is on file. `water_cfu_per_ml` is the count of the water, zero or more.
#[must_use]
pub fn microbial<'c>(
    question: &Question<'_>,
    classes: impl IntoIterator<Item = &'c MicrobialClass>,
    water_cfu_per_ml: Option<f64>,
) -> Option<MicrobialReading> {
    let (mut named, mut other) = (None, None);
    for class in classes {
        if class.scope.is_empty() {
            other = Some(class);
        } else if class.scope.iter().any(|scope| scope.speaks_of(question.usage)) {
            named = Some(class);
        }
    }
    let class = named.or(other)?;
    let mut most =
        Outcome::new(class.most_cfu_per_g, "CFU/g", Grade::Correlated, "limit for finished products")
            .source(class.source.clone())
            .input("out of limit only above", class.out_above_cfu_per_g, "CFU/g", Some(&class.source))
            .note("total", "aerobic mesophilic bacteria, yeast and mould together");
    if class.status == Status::FromMemory {
        most =
            most.note("from-memory", "This row is recalled, not read: check it in the standard before use.");
    }
    let (lines, percent) = water(question);
    Some(MicrobialReading {
        key: class.key.clone(),
        class: class.words.clone(),
        strict: named.is_some(),
        most,
        absent: class.absent.clone(),
        from_water: water_cfu_per_ml.map(|count| {
            Outcome::new(
                count * percent / 100.0,
                "CFU/g",
                Grade::Computed,
                "count of the water times its share",
            )
            .by("n = c w / 100")
            .proved_by("tests/cross/scenarios.toml")
            .input("count of the water", count, "CFU/mL", None)
            .input("water weighed in", percent, "% w/w", None)
            .note("before-anything", "before anything dies or grows, and without what raw materials bring")
        }),
        water_lines: lines,
    })
}

/// Lines that are water, and their sum, % w/w.
fn water(question: &Question<'_>) -> (Vec<usize>, f64) {
    let mut lines = Vec::new();
    let mut sum = 0.0;
    for line in &question.composition.lines {
        let water: f64 = line
            .constituents
            .iter()
            .filter(|part| question.is_water(&part.substance))
            .map(|part| part.typical)
            .sum();
        if water >= WATER_PERCENT {
            lines.push(line.line);
            sum += line.percent;
        }
    }
    (lines, sum)
}
