//! Two formula texts side by side: which lines and which points of the brief changed, and what follows from it.
//!
//! Lines are matched by raw material in the longest common order (the usual longest common subsequence), so that a line put in
//! does not make all below it look changed. What has no partner in that order but stands elsewhere has moved.

use super::assess::{diagnose, facts_for, known};
use super::draft::market_of;
use crate::diagnostic::Diagnostic;
use crate::formula_file::{self, FormulaFile};
use jiff::civil::Date;
use levigate_assess::finding::{Concerns, Finding};
use levigate_assess::{Assessment, Inquiry};
use levigate_facts::Facts;
use levigate_formula::names::folded;
use levigate_formula::sheet::{Amount, Line, Phase, Sheet, Target};
use levigate_measure::Outcome;
use rust_decimal::Decimal;
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
}

impl Side {
    fn read(
        facts: &Facts,
        day: Date,
        market: &str,
        (file, text): (&str, &str),
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
        let market = market_of(&formula.sheet, market);
        let inquiry = Inquiry { sheet: &formula.sheet, known: known(&facts), day, market };
        let assessment =
            levigate_assess::assess(&inquiry).map(|assessed| assessed.assessment).map_err(|error| {
                let all: Vec<String> = diagnose(&formula, &error).into_iter().map(|one| one.what).collect();
                all.join("; ")
            });
        Ok(Self { formula, keys, assessment })
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
    let left = Side::read(facts, day, market, left)?;
    let right = Side::read(facts, day, market, right)?;
    let mut lines = brief(&left.formula.sheet, &right.formula.sheet);
    lines.extend(steps(&left.formula.sheet, &right.formula.sheet));
    lines.extend(line_changes(&left, &right));
    let (findings_gone, findings_new) = findings(&left, &right);
    Ok(FormulaDifference { lines, consequences: consequences(&left, &right), findings_gone, findings_new })
}

// ---- lines

fn line_changes(left: &Side, right: &Side) -> Vec<LineChange> {
    let (older, newer) = (left.lines(), right.lines());
    let pairs = longest_common(&left.keys, &right.keys);
    let mut partner_of_newer: Vec<Option<usize>> = vec![None; newer.len()];
    let mut taken: Vec<bool> = vec![false; older.len()];
    for (old, new) in &pairs {
        partner_of_newer[*new] = Some(*old);
        taken[*old] = true;
    }
    // What stands elsewhere finds its first free namesake.
    let mut moved: Vec<bool> = vec![false; newer.len()];
    for new in 0..newer.len() {
        if partner_of_newer[new].is_none() {
            let namesake = (0..older.len()).find(|old| !taken[*old] && left.keys[*old] == right.keys[new]);
            if let Some(old) = namesake {
                partner_of_newer[new] = Some(old);
                taken[old] = true;
                moved[new] = true;
            }
        }
    }
    let removed = |from: usize, to: usize, out: &mut Vec<LineChange>| {
        for old in (from..to).filter(|old| !taken[*old]) {
            let (phase, line) = older[old];
            out.push(LineChange {
                phase: phase.name.clone(),
                material: line.material.clone(),
                left: words(line, false),
                right: String::new(),
                left_percent: left.percent(old),
                right_percent: None,
                change: Change::Removed,
            });
        }
    };
    let mut out = Vec::new();
    let mut reached = 0;
    for (new, (phase, line)) in newer.iter().enumerate() {
        let old = partner_of_newer[new];
        if let Some(old) = old.filter(|_| !moved[new]) {
            removed(reached, old, &mut out);
            reached = old + 1;
        }
        let before = old.and_then(|old| older.get(old));
        let with_note = before.is_some_and(|(_, before)| before.note != line.note);
        let change = match before {
            None => Change::Added,
            Some((_, before)) if differs(before, line) => Change::Changed,
            Some((place, _)) if moved[new] || place.name != phase.name => Change::Moved,
            Some(_) => Change::Same,
        };
        out.push(LineChange {
            phase: phase.name.clone(),
            material: line.material.clone(),
            left: before.map(|(_, before)| words(before, with_note)).unwrap_or_default(),
            right: words(line, with_note),
            left_percent: old.and_then(|old| left.percent(old)),
            right_percent: right.percent(new),
            change,
        });
    }
    removed(reached, older.len(), &mut out);
    out
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
fn words(line: &Line, with_note: bool) -> String {
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

// ---- brief and steps

fn changed(phase: &str, what: &str, left: String, right: String) -> Option<LineChange> {
    (left != right).then(|| LineChange {
        phase: phase.to_owned(),
        material: what.to_owned(),
        change: match (left.is_empty(), right.is_empty()) {
            (true, _) => Change::Added,
            (_, true) => Change::Removed,
            _ => Change::Changed,
        },
        left,
        right,
        left_percent: None,
        right_percent: None,
    })
}

fn brief(left: &Sheet, right: &Sheet) -> Vec<LineChange> {
    let (older, newer) = (points(left), points(right));
    older
        .into_iter()
        .zip(newer)
        .filter_map(|((what, left), (_, right))| changed("brief", what, left, right))
        .collect()
}

/// The points of a brief, always the same ones in the same order.
fn points(sheet: &Sheet) -> Vec<(&'static str, String)> {
    let (product, target) = (&sheet.product, &sheet.target);
    let text = |text: &Option<String>| text.clone().unwrap_or_default();
    let number = |number: Option<Decimal>, unit: &str| {
        number.map(|number| format!("{} {unit}", number.normalize())).unwrap_or_default()
    };
    vec![
        ("name", product.name.clone()),
        ("product type", product.kind.clone()),
        ("site", product.site.clone()),
        ("use", if product.leave_on { "leave-on" } else { "rinse-off" }.to_owned()),
        ("markets", product.markets.join(", ")),
        ("client", text(&product.client)),
        ("remark", text(&product.note)),
        ("pH window", window(target.ph, "")),
        ("viscosity", viscosity(target)),
        ("clarity", text(&target.clarity)),
        (
            "cost per kg",
            target
                .cost_per_kg
                .as_ref()
                .map(|money| format!("{} {}", money.amount.normalize(), money.currency))
                .unwrap_or_default(),
        ),
        ("natural origin", number(target.natural_origin_percent, "%")),
        ("free from", target.free_from.join(", ")),
        ("shelf life", number(target.shelf_life_months, "months")),
        ("pack", pack(target)),
        (
            "metals expected",
            target
                .metals_mg_kg
                .iter()
                .map(|(ion, mg)| format!("{ion} {} mg/kg", mg.normalize()))
                .collect::<Vec<_>>()
                .join(", "),
        ),
        (
            "bench",
            format!(
                "{} g on a balance that reads to {} g",
                sheet.batch.size_g.normalize(),
                sheet.batch.balance_g.normalize()
            ),
        ),
    ]
}

fn window(window: Option<[Decimal; 2]>, unit: &str) -> String {
    window
        .map(|[low, high]| {
            format!("{} to {} {unit}", low.normalize(), high.normalize()).trim_end().to_owned()
        })
        .unwrap_or_default()
}

fn viscosity(target: &Target) -> String {
    let Some(viscosity) = &target.viscosity else { return String::new() };
    let mut words = window(Some(viscosity.mpa_s), "mPa·s");
    if let Some(spindle) = &viscosity.spindle {
        words.push_str(&format!(", {spindle}"));
    }
    for (number, unit) in
        [(viscosity.speed_rpm, "rpm"), (viscosity.temperature_c, "°C"), (viscosity.age_h, "h")]
    {
        if let Some(number) = number {
            words.push_str(&format!(", {} {unit}", number.normalize()));
        }
    }
    words
}

fn pack(target: &Target) -> String {
    let Some(pack) = &target.pack else { return String::new() };
    let airless = if pack.airless { ", airless" } else { "" };
    let cost = pack
        .cost
        .as_ref()
        .map(|cost| format!(", {} {}", cost.amount.normalize(), cost.currency))
        .unwrap_or_default();
    let unit = crate::formula_writer::unit(pack.unit);
    format!("{}, {} {unit}{airless}{cost}", pack.name, pack.fill.normalize())
}

/// Temperature and step of phases that both have.
fn steps(left: &Sheet, right: &Sheet) -> Vec<LineChange> {
    let mut out = Vec::new();
    for newer in &right.phases {
        let Some(older) = left.phases.iter().find(|older| older.name == newer.name) else { continue };
        let degrees = |phase: &Phase| {
            phase.temperature_c.map(|degrees| format!("{} °C", degrees.normalize())).unwrap_or_default()
        };
        let step = |phase: &Phase| phase.step.clone().unwrap_or_default();
        out.extend(changed(&newer.name, "temperature", degrees(older), degrees(newer)));
        out.extend(changed(&newer.name, "step", step(older), step(newer)));
    }
    out
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
