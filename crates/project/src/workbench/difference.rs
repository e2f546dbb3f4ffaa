//! Two formula texts side by side: which lines and which points of the brief changed, and what follows from it.
//!
//! Lines are matched by raw material in the longest common order (the usual longest common subsequence), so that a line put in
//! does not make all below it look changed. What has no partner in that order but stands elsewhere has moved.

mod brief;
mod making;

pub use making::StepChange;

use super::assess::{diagnose, facts_for, known};
use super::draft::market_of;
use crate::diagnostic::Diagnostic;
use crate::formula_file::{self, FormulaFile};
use jiff::civil::Date;
use levigate_assess::finding::{Concerns, Finding};
use levigate_assess::procedure::Procedure;
use levigate_assess::{Assessment, Inquiry};
use levigate_facts::Facts;
use levigate_formula::names::folded;
use levigate_formula::sheet::{Amount, Line, Phase};
use levigate_measure::Outcome;
use serde::Serialize;
use std::collections::BTreeMap;

/// What became of a line.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Change {
    /// Nothing.
    Same,
    /// Amount, assay, lot, tolerance or remark.
    Changed,
    /// Only in the newer.
    Added,
    /// Only in the older.
    Removed,
    /// Stands elsewhere or in another phase.
    Moved,
}

impl Change {
    /// The word.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Same => "same",
            Self::Changed => "changed",
            Self::Added => "added",
            Self::Removed => "removed",
            Self::Moved => "moved",
        }
    }
}

/// One line, or one point of the brief, in two versions.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LineChange {
    /// Phase; `brief` for a point of the brief.
    pub phase: String,
    /// Raw material, or what of the brief or phase it is.
    pub material: String,
    /// As typed in the older; empty where it is not there.
    pub left: String,
    /// As typed in the newer.
    pub right: String,
    /// Settled percent in the older, where it could be assessed.
    pub left_percent: Option<Outcome>,
    /// Settled percent in the newer.
    pub right_percent: Option<Outcome>,
    /// What became of it.
    pub change: Change,
}

/// One thing that follows, in two versions.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ConsequenceChange {
    /// What.
    pub name: String,
    /// In the older.
    pub left: Option<Outcome>,
    /// In the newer.
    pub right: Option<Outcome>,
}

/// Two versions side by side.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct FormulaDifference {
    /// Changed points of the brief, then lines in the order of the newer; a removed line stands where it was.
    pub lines: Vec<LineChange>,
    /// Steps of the procedures, proposed or written, in the order of the newer; empty where one has none.
    pub steps: Vec<StepChange>,
    /// What follows.
    pub consequences: Vec<ConsequenceChange>,
    /// Findings only in the older.
    pub findings_gone: Vec<Finding>,
    /// Findings only in the newer.
    pub findings_new: Vec<Finding>,
}

/// One side.
struct Side {
    formula: FormulaFile,
    /// Key of the raw material of each line, or its folded name where no record is found.
    keys: Vec<String>,
    /// The assessment, or why there is none.
    assessment: Result<Assessment, String>,
    /// How it is made, where that was asked for and follows.
    procedure: Option<Procedure>,
}

impl Side {
    fn read(
        facts: &Facts,
        day: Date,
        market: &str,
        (file, text): (&str, &str),
        with_steps: bool,
    ) -> Result<Self, Vec<Diagnostic>> {
        let formula = formula_file::read(file, text)?;
        let facts = facts_for(facts, file, &formula)?;
        let keys = formula
            .sheet
            .lines()
            .map(|(_, line)| {
                facts
                    .names
                    .resolve_material(&line.material)
                    .map_or_else(|_| folded(&line.material), str::to_owned)
            })
            .collect();
        let market = market_of(&formula.sheet, market, &facts.rules);
        let inquiry = Inquiry { sheet: &formula.sheet, known: known(&facts), day, market };
        let assessed = levigate_assess::assess(&inquiry);
        let procedure = assessed.as_ref().ok().filter(|_| with_steps).and_then(|assessed| {
            super::procedure::of_assessed(&facts, &known(&facts), &formula.sheet, assessed).ok()
        });
        let assessment = assessed.map(|assessed| assessed.assessment).map_err(|error| {
            let all: Vec<String> = diagnose(&formula, &error).into_iter().map(|one| one.what).collect();
            all.join("; ")
        });
        Ok(Self { formula, keys, assessment, procedure })
    }

    fn lines(&self) -> Vec<(&Phase, &Line)> {
        self.formula
            .sheet
            .phases
            .iter()
            .flat_map(|phase| phase.lines.iter().map(move |line| (phase, line)))
            .collect()
    }

    fn percent(&self, line: usize) -> Option<Outcome> {
        let assessment = self.assessment.as_ref().ok()?;
        assessment.lines.get(line).map(|line| line.percent.clone())
    }
}

/// Lays two formula texts (name and content) side by side, the older first.
///
/// # Errors
/// What is wrong with a text. A text that is read but cannot be assessed is compared line by line all the same.
pub fn difference(
    facts: &Facts,
    day: Date,
    market: &str,
    left: (&str, &str),
    right: (&str, &str),
) -> Result<FormulaDifference, Vec<Diagnostic>> {
    let left = Side::read(facts, day, market, left, true)?;
    let right = Side::read(facts, day, market, right, true)?;
    let (findings_gone, findings_new) = findings(&left, &right);
    Ok(FormulaDifference {
        lines: lines(&left, &right),
        steps: making::steps(&left, &right),
        consequences: consequences(&left, &right),
        findings_gone,
        findings_new,
    })
}

/// Only the brief and the lines of two formula texts side by side.
///
/// # Errors
/// As [`difference`].
pub(super) fn line_difference(
    facts: &Facts,
    day: Date,
    market: &str,
    left: (&str, &str),
    right: (&str, &str),
) -> Result<Vec<LineChange>, Vec<Diagnostic>> {
    let left = Side::read(facts, day, market, left, false)?;
    let right = Side::read(facts, day, market, right, false)?;
    Ok(lines(&left, &right))
}

fn lines(left: &Side, right: &Side) -> Vec<LineChange> {
    let mut lines = brief::brief(&left.formula.sheet, &right.formula.sheet);
    lines.extend(brief::steps(&left.formula.sheet, &right.formula.sheet));
    lines.extend(line_changes(left, right));
    lines
}

// ---- lines

/// Which line of the older a line of the newer was.
#[derive(Clone, Copy)]
struct Partner {
    older: usize,
    /// It stands out of the common order.
    moved: bool,
}

/// The partner of every line of the newer: in the common order, or the first free namesake elsewhere.
fn partners(older: &[String], newer: &[String]) -> Vec<Option<Partner>> {
    let mut partners: Vec<Option<Partner>> = vec![None; newer.len()];
    let mut taken = vec![false; older.len()];
    for (old, new) in longest_common(older, newer) {
        partners[new] = Some(Partner { older: old, moved: false });
        taken[old] = true;
    }
    for (new, key) in newer.iter().enumerate() {
        if partners[new].is_none()
            && let Some(old) = (0..older.len()).find(|old| !taken[*old] && older[*old] == *key)
        {
            partners[new] = Some(Partner { older: old, moved: true });
            taken[old] = true;
        }
    }
    partners
}

fn line_changes(left: &Side, right: &Side) -> Vec<LineChange> {
    let (older, newer) = (left.lines(), right.lines());
    let partners = partners(&left.keys, &right.keys);
    let removed = |range: std::ops::Range<usize>, out: &mut Vec<LineChange>| {
        let gone = range.filter(|old| !partners.iter().flatten().any(|partner| partner.older == *old));
        out.extend(gone.map(|old| removed_line(left, old, older[old])));
    };
    let mut out = Vec::new();
    let mut reached = 0;
    for (new, (phase, line)) in newer.iter().enumerate() {
        let partner = partners[new];
        if let Some(partner) = partner.filter(|partner| !partner.moved) {
            removed(reached..partner.older, &mut out);
            reached = partner.older + 1;
        }
        let before = partner.map(|partner| older[partner.older]);
        let with_note = before.is_some_and(|(_, before)| before.note != line.note);
        let moved = partner.is_some_and(|partner| partner.moved);
        let change = match before {
            None => Change::Added,
            Some((_, before)) if differs(before, line) => Change::Changed,
            Some((place, _)) if moved || place.name != phase.name => Change::Moved,
            Some(_) => Change::Same,
        };
        out.push(LineChange {
            phase: phase.name.clone(),
            material: line.material.clone(),
            left: before.map(|(_, before)| words(before, with_note)).unwrap_or_default(),
            right: words(line, with_note),
            left_percent: partner.and_then(|partner| left.percent(partner.older)),
            right_percent: right.percent(new),
            change,
        });
    }
    removed(reached..older.len(), &mut out);
    out
}

fn removed_line(left: &Side, at: usize, (phase, line): (&Phase, &Line)) -> LineChange {
    LineChange {
        phase: phase.name.clone(),
        material: line.material.clone(),
        left: words(line, false),
        right: String::new(),
        left_percent: left.percent(at),
        right_percent: None,
        change: Change::Removed,
    }
}

/// Positions that two lists have in common in the same order, as many as can be.
fn longest_common(left: &[String], right: &[String]) -> Vec<(usize, usize)> {
    let mut length = vec![vec![0_u32; right.len() + 1]; left.len() + 1];
    for old in (0..left.len()).rev() {
        for new in (0..right.len()).rev() {
            length[old][new] = if left[old] == right[new] {
                length[old + 1][new + 1] + 1
            } else {
                length[old + 1][new].max(length[old][new + 1])
            };
        }
    }
    let (mut old, mut new) = (0, 0);
    let mut pairs = Vec::new();
    while old < left.len() && new < right.len() {
        if left[old] == right[new] {
            pairs.push((old, new));
            old += 1;
            new += 1;
        } else if length[old + 1][new] >= length[old][new + 1] {
            old += 1;
        } else {
            new += 1;
        }
    }
    pairs
}

fn differs(left: &Line, right: &Line) -> bool {
    left.amount != right.amount
        || left.assay_percent != right.assay_percent
        || left.lot != right.lot
        || left.tolerance_percent != right.tolerance_percent
        || left.note != right.note
}

/// A line as a person would say it.
pub(super) fn words(line: &Line, with_note: bool) -> String {
    let mut words = match line.amount {
        Amount::Percent(percent) => format!("{percent} %"),
        Amount::ActivePercent(percent) => format!("{percent} % active"),
        Amount::Remainder(_) => "q.s. to 100".to_owned(),
        Amount::ToPh(ph) => format!("q.s. to pH {ph}"),
    };
    if let Some(assay) = line.assay_percent {
        words.push_str(&format!(", assay {assay} %"));
    }
    if let Some(lot) = &line.lot {
        words.push_str(&format!(", lot {lot}"));
    }
    if let Some(tolerance) = line.tolerance_percent {
        words.push_str(&format!(", within {tolerance} %"));
    }
    if let Some(note) = line.note.as_ref().filter(|_| with_note) {
        words.push_str(&format!(" ({note})"));
    }
    words
}

// ---- consequences

fn consequences(left: &Side, right: &Side) -> Vec<ConsequenceChange> {
    let readings = |side: &Side| -> Vec<(String, Outcome)> {
        match &side.assessment {
            Ok(assessment) => readings(assessment),
            Err(why) => vec![(
                "assessment".to_owned(),
                Outcome::refuse("", "settling and equilibrium", format!("it cannot be assessed: {why}")),
            )],
        }
    };
    let older = readings(left);
    let mut newer = readings(right);
    let mut out: Vec<ConsequenceChange> = older
        .into_iter()
        .map(|(name, left)| {
            let right = newer.iter().position(|(other, _)| *other == name).map(|at| newer.remove(at).1);
            ConsequenceChange { name, left: Some(left), right }
        })
        .collect();
    out.extend(newer.into_iter().map(|(name, right)| ConsequenceChange {
        name,
        left: None,
        right: Some(right),
    }));
    out
}

/// What a formulator looks at first, in that order.
fn readings(assessment: &Assessment) -> Vec<(String, Outcome)> {
    let ph = &assessment.ph;
    let mut out = vec![("pH".to_owned(), ph.neat.clone())];
    if let Some(in_air) = &ph.in_air {
        out.push(("pH in air".to_owned(), in_air.clone()));
    }
    out.push(("pH of 10 % in water".to_owned(), ph.ten_percent.clone()));
    out.push(("buffer capacity".to_owned(), ph.buffer_capacity.clone()));
    let stands = assessment.preservatives.at.iter().find(|at| at.edge == "as it stands");
    for reading in stands.map(|at| at.preservatives.as_slice()).unwrap_or_default() {
        out.push((format!("{}, at work", reading.name), reading.working.clone()));
    }
    out.push(("ionic strength".to_owned(), ph.ionic_strength.clone()));
    out.push(("water activity".to_owned(), ph.water_activity.clone()));
    out.push(("water".to_owned(), assessment.composition.water.clone()));
    out.push(("density".to_owned(), assessment.composition.density.clone()));
    out.push(("natural origin".to_owned(), assessment.rules.natural.with_water.clone()));
    out.push(("cost per kg".to_owned(), assessment.rules.cost.per_kg.clone()));
    if let Some(per_pack) = &assessment.rules.cost.per_pack {
        out.push(("cost per pack".to_owned(), per_pack.clone()));
    }
    out
}

// ---- findings

/// Findings are the same when they say the same thing of the same raw materials; their numbers may differ.
fn findings(left: &Side, right: &Side) -> (Vec<Finding>, Vec<Finding>) {
    let older = named(left);
    let newer = named(right);
    let only = |these: &[(String, &Finding)], those: &[(String, &Finding)]| -> Vec<Finding> {
        let mut there: BTreeMap<&str, usize> = BTreeMap::new();
        for (name, _) in those {
            *there.entry(name).or_default() += 1;
        }
        these
            .iter()
            .filter(|(name, _)| match there.get_mut(name.as_str()) {
                Some(count) if *count > 0 => {
                    *count -= 1;
                    false
                }
                _ => true,
            })
            .map(|(_, finding)| (*finding).clone())
            .collect()
    };
    (only(&older, &newer), only(&newer, &older))
}

fn named(side: &Side) -> Vec<(String, &Finding)> {
    let Ok(assessment) = &side.assessment else { return Vec::new() };
    assessment
        .findings
        .iter()
        .map(|finding| {
            let about = match &finding.concerns {
                Concerns::Lines { lines } => {
                    let names: Vec<&str> =
                        lines.iter().filter_map(|line| side.keys.get(*line)).map(String::as_str).collect();
                    names.join("+")
                }
                Concerns::Phase { phase } => {
                    side.formula.sheet.phases.get(*phase).map(|phase| phase.name.clone()).unwrap_or_default()
                }
                Concerns::Target { target } => target.clone(),
                Concerns::Product => String::new(),
            };
            (format!("{}/{}/{about}", finding.code, finding.gravity.word()), finding)
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn day() -> Date {
        jiff::civil::date(2026, 11, 24)
    }

    const OLD: &str = r#"
[product]
name = "Test toner"
type = "toner"
site = "face"
leave_on = true
markets = ["eu"]

[target]
ph = [4.0, 4.6]

[[phase]]
name = "A"

[[phase.line]]
material = "Water"
remainder = true

[[phase.line]]
material = "Glycerin"
percent = 3.00

[[phase.line]]
material = "Sodium benzoate"
percent = 0.40

[[phase]]
name = "B"

[[phase.line]]
material = "Citric acid"
to_ph = 4.4
"#;

    fn changes(right: &str) -> FormulaDifference {
        let facts = levigate_facts::shipped().unwrap();
        difference(&facts, day(), "eu", ("old", OLD), ("new", right)).unwrap()
    }

    fn rows(found: &FormulaDifference) -> Vec<(&str, &str, &str, Change)> {
        found
            .lines
            .iter()
            .map(|line| (line.material.as_str(), line.left.as_str(), line.right.as_str(), line.change))
            .collect()
    }

    #[test]
    fn the_same_text_differs_in_nothing() {
        let found = changes(OLD);
        assert!(found.lines.iter().all(|line| line.change == Change::Same), "{:?}", rows(&found));
        assert!(found.findings_gone.is_empty() && found.findings_new.is_empty());
        assert!(found.consequences.iter().all(|one| one.left == one.right && one.left.is_some()));
    }

    #[test]
    fn digits_do_not_make_a_change_but_amounts_do() {
        let found = changes(&OLD.replace("3.00", "3").replace("0.40", "0.50"));
        let rows = rows(&found);
        assert_eq!(rows[1], ("Glycerin", "3.00 %", "3 %", Change::Same));
        assert_eq!(rows[2], ("Sodium benzoate", "0.40 %", "0.50 %", Change::Changed));
        let water = &found.lines[0];
        let percent = |outcome: &Option<Outcome>| outcome.as_ref().unwrap().value.unwrap();
        assert!(percent(&water.left_percent) > percent(&water.right_percent));
    }

    #[test]
    fn a_removed_line_stands_where_it_was_and_a_moved_one_where_it_is() {
        let glycerin = "[[phase.line]]\nmaterial = \"Glycerin\"\npercent = 3.00\n";
        let without = changes(&OLD.replace(glycerin, ""));
        assert_eq!(rows(&without)[1], ("Glycerin", "3.00 %", "", Change::Removed));
        assert_eq!(rows(&without).len(), 4);
        let moved = changes(&format!("{}\n{glycerin}", OLD.replace(glycerin, "")));
        assert_eq!(rows(&moved)[3], ("Glycerin", "3.00 %", "3.00 %", Change::Moved));
        assert_eq!(rows(&moved).len(), 4);
    }

    #[test]
    fn the_brief_is_compared_too_and_the_ph_follows() {
        let found = changes(&OLD.replace("[4.0, 4.6]", "[5.4, 5.8]").replace("to_ph = 4.4", "to_ph = 5.6"));
        assert_eq!(rows(&found)[0], ("pH window", "4 to 4.6", "5.4 to 5.8", Change::Changed));
        let ph = &found.consequences[0];
        assert_eq!(ph.name, "pH");
        let value = |outcome: &Option<Outcome>| outcome.as_ref().unwrap().value.unwrap();
        assert!((value(&ph.left) - 4.4).abs() < 1e-6 && (value(&ph.right) - 5.6).abs() < 1e-6);
        let at_work = found.consequences.iter().find(|one| one.name.ends_with("at work")).unwrap();
        // Benzoic acid, pKa 4.2: far less is undissociated at pH 5.6 than at 4.4.
        assert!(value(&at_work.left) > 5.0 * value(&at_work.right));
        assert!(!found.findings_new.is_empty(), "a preservative that hardly works is a new finding");
    }

    #[test]
    fn a_version_that_cannot_be_assessed_is_compared_line_by_line() {
        let found = changes(&OLD.replace("remainder = true", "percent = 50"));
        assert_eq!(rows(&found)[0], ("Water", "q.s. to 100", "50 %", Change::Changed));
        let last = found.consequences.last().unwrap();
        assert_eq!(last.name, "assessment");
        assert!(last.right.as_ref().unwrap().refused.as_ref().unwrap().contains("q.s."));
    }

    #[test]
    fn a_text_that_is_no_formula_names_its_place() {
        let facts = levigate_facts::shipped().unwrap();
        let wrong = difference(&facts, day(), "eu", ("old", OLD), ("new", "[product\n")).unwrap_err();
        assert_eq!((wrong[0].file.as_str(), wrong[0].line), ("new", 1));
    }

    proptest! {
        #[test]
        fn a_common_order_is_one_and_whole_for_equals(
            left in prop::collection::vec("[a-d]", 0..12),
            right in prop::collection::vec("[a-d]", 0..12),
        ) {
            let pairs = longest_common(&left, &right);
            for pair in pairs.windows(2) {
                prop_assert!(pair[0].0 < pair[1].0 && pair[0].1 < pair[1].1);
            }
            prop_assert!(pairs.iter().all(|(old, new)| left[*old] == right[*new]));
            prop_assert_eq!(longest_common(&left, &left).len(), left.len());
            prop_assert_eq!(longest_common(&right, &left).len(), pairs.len());
        }
    }
}
