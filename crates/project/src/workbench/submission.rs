//! What to send to a challenge test: which edge of the pH window, what samples, which organisms, what must be neutralised.
//!
//! The edge follows from the working shares the equilibrium gives at both edges: the weaker one is sent. Where one preservative is weaker at
//! the one and another at the other edge, both are. Amounts and ageing are common practice; the laboratory decides.

use super::assess::assess;
use super::sheet::version_code;
use crate::diagnostic::Diagnostic;
use jiff::civil::Date;
use levigate_assess::preserving::PreservationAt;
use levigate_facts::Facts;
use levigate_measure::Outcome;
use serde::Serialize;

/// A working share is told from another where it is below this part of it.
const WEAKER: f64 = 0.99;
/// Product for each organism, g, and for the neutraliser and what is kept back.
const GRAMS_PER_ORGANISM: u32 = 20;
const GRAMS_BESIDE: u32 = 60;

/// What to send.
#[derive(Clone, Debug, Serialize)]
pub struct Submission {
    /// Product.
    pub product: String,
    /// For whom.
    pub client: Option<String>,
    /// Code of the version.
    pub version_code: String,
    /// As of.
    pub as_of: String,
    /// Which edge, in words.
    pub edge: String,
    /// pH to send, where one is told.
    pub ph: Vec<Outcome>,
    /// Preservatives, with their working amount at both edges.
    pub preservatives: Vec<Sent>,
    /// Samples, in words.
    pub samples: Vec<String>,
    /// Organisms.
    pub organisms: Vec<String>,
    /// What to ask for.
    pub asked: Vec<String>,
    /// What is open.
    pub open: Vec<String>,
}

/// A preservative.
#[derive(Clone, Debug, Serialize)]
pub struct Sent {
    /// Name.
    pub name: String,
    /// As weighed.
    pub weighed: String,
    /// Working form at the low edge, % w/w.
    pub at_low: Option<Outcome>,
    /// Working form at the high edge, % w/w.
    pub at_high: Option<Outcome>,
    /// What may stop it before counting, in words; empty where nothing is on file.
    pub neutraliser: String,
    /// Source of that.
    pub source: String,
}

/// What to send of a formula text.
///
/// # Errors
/// What is wrong with the formula.
pub fn submission(
    facts: &Facts,
    day: Date,
    market: &str,
    file: &str,
    text: &str,
) -> Result<Submission, Vec<Diagnostic>> {
    let assessed = assess(facts, day, market, file, text)?;
    let (sheet, assessment) = (assessed.formula.sheet, assessed.assessment);
    let at = |edge: &str| assessment.preservatives.at.iter().find(|one| one.edge == edge);
    let (low, high) = (at("low edge"), at("high edge"));
    let standing = low.or_else(|| at("as it stands")).or(assessment.preservatives.at.first());
    let mut open = Vec::new();
    let preservatives: Vec<Sent> = standing
        .map(|standing| standing.preservatives.as_slice())
        .unwrap_or_default()
        .iter()
        .map(|one| {
            let hint =
                facts.rules.neutralisers.values().find(|hint| hint.substances.contains(&one.substance));
            let working = |at: Option<&PreservationAt>| {
                let at = at?.preservatives.iter().find(|other| other.substance == one.substance)?;
                Some(at.working.clone())
            };
            Sent {
                name: one.name.clone(),
                weighed: format!("{:.3} % w/w", one.weighed_percent),
                at_low: working(low),
                at_high: working(high),
                neutraliser: hint.map(|hint| hint.words.clone()).unwrap_or_default(),
                source: hint.map(|hint| hint.source.clone()).unwrap_or_default(),
            }
        })
        .collect();
    if preservatives.is_empty() {
        open.push(
            "No preservative of this formula is on file: which pH is the weakest is not told.".to_owned(),
        );
    }
    let unknown: Vec<&str> =
        preservatives.iter().filter(|one| one.neutraliser.is_empty()).map(|one| one.name.as_str()).collect();
    if !unknown.is_empty() {
        open.push(format!("No neutraliser is on file for {}.", unknown.join(", ")));
    }
    let (edge, ph) = weakest(&preservatives, assessment.ph.target, &assessment.ph.product);
    if assessment.ph.target.is_none() {
        open.push("The formula sets no pH window: its edges are not known.".to_owned());
    }
    let organisms: Vec<String> =
        facts.preservation.organisms.values().map(|one| format!("{} ({})", one.name, one.group)).collect();
    let count = u32::try_from(organisms.len()).unwrap_or(5);
    let grams = GRAMS_PER_ORGANISM * count + GRAMS_BESIDE;
    Ok(Submission {
        product: sheet.product.name.clone(),
        client: sheet.product.client.clone(),
        version_code: version_code(text),
        as_of: day.to_string(),
        edge,
        ph,
        preservatives,
        samples: vec![
            format!("Fresh: {grams} g in the pack it is sold in (common practice, no source: {GRAMS_PER_ORGANISM} g for each organism, {GRAMS_BESIDE} g for neutraliser and keeping back)."),
            "Aged: as much again, from the end of the warm study, or of the longest storage there is: preservatives are lost to pack, heat and time.".to_owned(),
            "Without preservative: as much again, where the laboratory shows that its organisms live in the product.".to_owned(),
        ],
        organisms,
        asked: vec![
            "Counts of every day with dilution and plates, and the floor where nothing was found: not the reductions alone.".to_owned(),
            "The calculated initial count of each organism, and how it was counted.".to_owned(),
            "Recovery with product and neutraliser, and with the neutraliser alone, in percent of the control.".to_owned(),
            "pH of the sample as it arrived.".to_owned(),
        ],
        open,
    })
}

/// The edge where preservatives work least, in words, with the pH to send.
fn weakest(preservatives: &[Sent], target: Option<[f64; 2]>, stands: &Outcome) -> (String, Vec<Outcome>) {
    let Some([low, high]) = target else {
        return ("the pH as it stands: no window is set".to_owned(), vec![stands.clone()]);
    };
    let edge = |ph: f64| {
        Outcome::new(
            ph,
            "",
            levigate_measure::Grade::Computed,
            "edge of the pH window where less of a preservative works",
        )
        .proved_by("tests/published/preservation.toml")
    };
    let (mut weaker_low, mut weaker_high) = (Vec::new(), Vec::new());
    for one in preservatives {
        let value = |outcome: &Option<Outcome>| outcome.as_ref().and_then(|outcome| outcome.value);
        let (Some(at_low), Some(at_high)) = (value(&one.at_low), value(&one.at_high)) else { continue };
        if at_low < WEAKER * at_high {
            weaker_low.push(one.name.as_str());
        } else if at_high < WEAKER * at_low {
            weaker_high.push(one.name.as_str());
        }
    }
    match (weaker_low.is_empty(), weaker_high.is_empty()) {
        (true, true) => (
            format!(
                "either edge of pH {low} to {high}: what is known of the preservatives does not change between them"
            ),
            vec![edge(low), edge(high)],
        ),
        (true, false) => (
            format!("the upper edge, pH {high}: there least of {} works", weaker_high.join(" and ")),
            vec![edge(high)],
        ),
        (false, true) => (
            format!("the lower edge, pH {low}: there least of {} works", weaker_low.join(" and ")),
            vec![edge(low)],
        ),
        (false, false) => (
            format!(
                "both edges: least of {} works at pH {low}, least of {} at pH {high}",
                weaker_low.join(" and "),
                weaker_high.join(" and ")
            ),
            vec![edge(low), edge(high)],
        ),
    }
}
