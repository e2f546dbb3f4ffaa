//! Natural-origin content after ISO 16128, where indices are held; the part without an index opens the interval.
//!
//! Equation: `N = sum of index * p / sum of p`, and without formulation water `N' = (sum of index * p - w) / (sum of p - w)`, since
//! water has the index 1.
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | `p` | percent of a raw material or a constituent | % w/w |
//! | `w` | water from all sources | % w/w |
//!
//! Line by line `index * p` is never taken below the water the line brings, so that an index of zero for a wet material does not
//! count against the rest. A raw material's own index is used before those of its constituents. Source: ISO 16128-2:2017 as quoted on public pages. The
//! result is a content, never a claim: the standard sets no threshold. Proved by the example in `tests/published/rules_natural.toml`.

use levigate_measure::written::{Described, Description, result};
use levigate_measure::{Grade, Outcome};
use serde::Serialize;

use crate::question::Question;

struct WithoutIndex;
impl Described for WithoutIndex {
    const OF: Description =
        Description::computed("% w/w", "sum of what has no published index").proved_by("exact arithmetic");
}

/// Natural-origin content with and without formulation water.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct NaturalContent {
    /// With water, %.
    pub with_water: Outcome,
    /// Without water, %.
    pub without_water: Outcome,
    /// Percent of the product without an index.
    #[serde(serialize_with = "result::<WithoutIndex, _, _>")]
    pub unknown_percent: f64,
    /// Names of what has no index, largest first.
    pub unknown: Vec<String>,
}

/// Sums the indices.
#[must_use]
pub fn natural_content(question: &Question<'_>) -> NaturalContent {
    let mut sum = Sum::default();
    for line in &question.composition.lines {
        if line.percent > 0.0 {
            sum.add_line(question, line);
        }
    }
    sum.unknown.sort_by(|a, b| b.0.total_cmp(&a.0).then_with(|| a.1.cmp(&b.1)));
    let unknown: Vec<String> =
        sum.unknown.iter().map(|(percent, name)| format!("{name} ({percent:.3} %)")).collect();
    let with_water = outcome(&sum, 0.0, "natural-origin content, water included", &unknown);
    let without_water = outcome(&sum, sum.water, "natural-origin content, water left out", &unknown);
    NaturalContent { with_water, without_water, unknown_percent: sum.unknown_percent, unknown }
}

#[derive(Default)]
struct Sum {
    total: f64,
    water: f64,
    natural: f64,
    /// The natural part without water.
    dry: f64,
    unknown_percent: f64,
    unknown: Vec<(f64, String)>,
    terms: Vec<(String, f64)>,
    sources: Vec<String>,
}

impl Sum {
    fn add_line(&mut self, question: &Question<'_>, line: &levigate_formula::composition::SettledLine) {
        self.total += line.percent;
        let scale = line.percent / 100.0;
        let water: f64 = line
            .constituents
            .iter()
            .filter(|part| question.is_water(&part.substance))
            .map(|part| part.typical * scale)
            .sum();
        self.water += water;
        let own = question
            .library
            .materials
            .get(&line.material)
            .and_then(|material| material.natural_origin_index.as_ref());
        if let Some(index) = own {
            self.dry += (index.value * line.percent - water).max(0.0);
            self.add(question.line_name(line.line), line.percent, index.value, &index.source);
            return;
        }
        let mut named = 0.0;
        for part in &line.constituents {
            let percent = part.typical * scale;
            named += percent;
            if question.is_water(&part.substance) {
                self.add("water".to_owned(), percent, 1.0, "iso-16128-rule");
                continue;
            }
            let index = question
                .substance(&part.substance)
                .and_then(|substance| substance.natural_origin_index.as_ref());
            match index {
                Some(index) => {
                    self.dry += index.value * percent;
                    self.add(question.name_of(&part.substance), percent, index.value, &index.source);
                }
                None => self.add_unknown(question.name_of(&part.substance), percent),
            }
        }
        if line.percent - named > 1e-9 {
            self.add_unknown(question.line_name(line.line), line.percent - named);
        }
    }

    fn add(&mut self, name: String, percent: f64, index: f64, source: &str) {
        self.natural += index * percent;
        self.terms.push((name, index * percent));
        if !self.sources.iter().any(|known| known == source) {
            self.sources.push(source.to_owned());
        }
    }

    fn add_unknown(&mut self, name: String, percent: f64) {
        if percent > 0.0 {
            self.unknown_percent += percent;
            match self.unknown.iter_mut().find(|(_, known)| *known == name) {
                Some(known) => known.0 += percent,
                None => self.unknown.push((percent, name)),
            }
        }
    }
}

fn outcome(sum: &Sum, water: f64, method: &'static str, unknown: &[String]) -> Outcome {
    let whole = sum.total - water;
    if whole <= 1e-9 {
        return Outcome::refuse("%", method, "nothing is left to relate the content to");
    }
    let natural = if water > 0.0 { sum.dry } else { sum.natural };
    let low = 100.0 * natural / whole;
    let high = 100.0 * (natural + sum.unknown_percent) / whole;
    let value = if sum.unknown_percent > 1e-9 { f64::NAN } else { low };
    let mut outcome = if value.is_finite() {
        Outcome::new(value, "%", Grade::Computed, method)
    } else {
        Outcome::refuse(
            "%",
            method,
            format!(
                "{:.2} % of the product has no published index, so only bounds can be given",
                sum.unknown_percent
            ),
        )
    }
    .within(low, high.min(100.0), None)
    .by(if water > 0.0 { "N' = (Σ I·p − w)/(Σ p − w)" } else { "N = Σ I·p/Σ p" })
    .valid_for("indices from 0 to 1; a content, not a claim")
    .proved_by("tests/published/rules_natural.toml")
    .source("iso-16128-rule")
    .input("without an index", sum.unknown_percent, "% w/w", None)
    .note(
        "not-a-claim",
        "The standard sets no threshold; wording on a pack needs documents for every index.",
    );
    for source in &sum.sources {
        outcome = outcome.source(source.clone());
    }
    for (name, value) in &sum.terms {
        outcome = outcome.term(name.clone(), *value, "% w/w");
    }
    if !unknown.is_empty() {
        outcome = outcome.note("missing", format!("No index is held for: {}.", unknown.join(", ")));
    }
    outcome
}
