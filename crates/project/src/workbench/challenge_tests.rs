//! Challenge tests of a formula: kept as they were typed, corrected, taken back, and judged anew each time they are shown.

use super::citations::citations_in;
use super::keeping::{FieldFault, Form, KeepError, Struck, TypedDevice, corrects, keep_sent, short, struck};
use super::readings::{age, reasoned};
use crate::bringing::{CountTable, CountTableRow, count_table};
use crate::diagnostic::Diagnostic;
use crate::formula_file;
use crate::records::{
    ChallengeTest, Formula, FormulaVersion, FromDevice, Id, Inoculated, Kept, MOST_DAYS, MOST_ORGANISMS,
    Trial, TypedNumber,
};
use crate::store::StoreError;
use crate::workspace::{KeptOnce, Workspace};
use jiff::Timestamp;
pub use levigate_assess::challenge::{ChallengeReading, Dying};
use levigate_assess::challenge::{Test, challenge};
use levigate_facts::Facts;
use levigate_measure::written::Figure;
use levigate_rules::challenge::{Count, Kind, Neutraliser, Series};
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// Recovery from which a neutraliser counts as working, %, where the test says no other.
const LEAST_RECOVERY: f64 = 50.0;
/// Largest count anybody types.
const MOST: f64 = 1e12;
/// Last day of a test.
const LAST_DAY: u16 = 365;
/// Units of counts.
const UNITS: [&str; 2] = ["CFU/g", "CFU/mL"];

/// A test as typed.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct TypedChallenge {
    /// Identity and moment from the device.
    #[serde(flatten)]
    pub device: TypedDevice,
    /// The saved version that was made.
    pub version: u32,
    /// Identity of the trial; empty for none.
    pub trial: String,
    /// The sample.
    pub sample: String,
    /// Who tested it.
    pub laboratory: String,
    /// The day it was inoculated, ISO.
    pub started: String,
    /// By which method.
    pub method: String,
    /// pH of the sample.
    pub ph: String,
    /// Age of the sample.
    pub age: String,
    /// Unit; CFU/g when empty.
    pub unit: String,
    /// Recovered with product and neutraliser, %.
    pub recovered_percent: String,
    /// Recovered with the neutraliser alone, %.
    pub alone_percent: String,
    /// Days, as typed.
    pub days: Vec<String>,
    /// Rows.
    pub rows: Vec<TypedOrganism>,
    /// Remark.
    pub note: String,
}

/// A row as typed.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct TypedOrganism {
    /// Name.
    pub organism: String,
    /// `bacteria`, `yeast` or `mould`.
    pub kind: String,
    /// Calculated initial count.
    pub initial: String,
    /// Counts, one text per day.
    pub counts: Vec<String>,
}

/// The challenge tests of a formula.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ChallengeBook {
    /// Identity of the formula.
    pub formula: String,
    /// Name of the product.
    pub name: String,
    /// Its saved versions, newest first, with why they were saved.
    pub versions: Vec<(u32, String)>,
    /// Its trials, newest first: identity, number, version.
    pub trials: Vec<(Id<Trial>, u32, u32)>,
    /// The tests in the order they were entered.
    pub tests: Vec<ChallengeRead>,
    /// Citation of every source key.
    pub sources: BTreeMap<String, String>,
}

/// A kept test as it is shown.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ChallengeRead {
    /// Identity.
    pub id: Id<ChallengeTest>,
    /// Number.
    pub number: u32,
    /// What was kept.
    #[serde(flatten)]
    pub test: ChallengeTest,
    /// Number of its trial.
    pub trial_number: Option<u32>,
    /// What follows from it; nothing for one that was struck or taken back.
    pub reading: Option<ChallengeReading>,
    /// Who entered it.
    pub who: String,
    /// When.
    pub when: Timestamp,
    /// Number of the test it corrects.
    pub corrects: Option<u32>,
    /// What struck it out.
    pub struck: Option<Struck>,
}

/// Everything the workspace holds about the challenge tests of a formula.
#[derive(Clone, Debug)]
pub struct ChallengeRecords {
    formula: Kept<Formula>,
    versions: Vec<Kept<FormulaVersion>>,
    trials: Vec<Kept<Trial>>,
    tests: Vec<Kept<ChallengeTest>>,
}

/// Reads everything the workspace holds about the challenge tests of a formula.
///
/// # Errors
/// There is no such formula, or the workspace cannot be read.
pub async fn gather_challenge(
    workspace: &Workspace,
    formula: Id<Formula>,
) -> Result<ChallengeRecords, StoreError> {
    Ok(ChallengeRecords {
        formula: workspace.get(formula).await?,
        versions: workspace.of(formula).await?,
        trials: workspace.of(formula).await?,
        tests: workspace.of(formula).await?,
    })
}

/// Lays the tests of a formula out, each judged by all criteria on file.
#[must_use]
pub fn challenge_book(facts: &Facts, records: &ChallengeRecords) -> ChallengeBook {
    let strikes = struck(&records.tests);
    let tests: Vec<ChallengeRead> = records
        .tests
        .iter()
        .map(|kept| {
            let stands = !strikes.contains_key(&kept.id) && !kept.what.withdrawn;
            ChallengeRead {
                id: kept.id,
                number: kept.number,
                trial_number: kept
                    .what
                    .trial
                    .and_then(|id| records.trials.iter().find(|trial| trial.id == id))
                    .map(|trial| trial.number),
                reading: stands.then(|| challenge(&test_of(&kept.what), facts.rules.challenge.values())),
                test: kept.what.clone(),
                who: kept.who.clone(),
                when: kept.when,
                corrects: corrects(&records.tests, kept),
                struck: strikes.get(&kept.id).cloned(),
            }
        })
        .collect();
    let sources = citations_in(facts, &serde_json::to_value(&tests).unwrap_or_default());
    let newest =
        records.versions.last().and_then(|version| formula_file::read("formula", &version.what.text).ok());
    ChallengeBook {
        formula: records.formula.id.to_string(),
        name: newest
            .map(|file| file.sheet.product.name)
            .filter(|name| !name.trim().is_empty())
            .unwrap_or_else(|| records.formula.what.name.clone()),
        versions: records.versions.iter().rev().map(|one| (one.number, one.what.reason.clone())).collect(),
        trials: records.trials.iter().rev().map(|one| (one.id, one.number, one.what.version)).collect(),
        tests,
        sources,
    }
}

/// Keeps a test, once, however often a device sends it.
///
/// # Errors
/// What was typed cannot be kept, another record has its identity, there is no such version, or the workspace refused.
pub async fn keep_challenge(
    workspace: &Workspace,
    who: &str,
    formula: Id<Formula>,
    typed: &TypedChallenge,
) -> Result<KeptOnce<ChallengeTest>, KeepError> {
    let mut form = Form::default();
    let (id, from) = form.sent(&typed.device, formula.uuid(), typed, None);
    let () = form.done(())?;
    let test = ChallengeTest { from, ..read_challenge(formula, typed)? };
    keep_sent(workspace, who, id, (test, None), |test| &test.from).await
}

/// Keeps a test in the place of another, or takes the other back when nothing stands in its place.
///
/// # Errors
/// See [`keep_challenge`]; also without a reason, or when it has been corrected already.
pub async fn correct_challenge(
    workspace: &Workspace,
    who: &str,
    id: Id<ChallengeTest>,
    reason: &str,
    instead: Option<&TypedChallenge>,
) -> Result<Kept<ChallengeTest>, KeepError> {
    let reason = reasoned(reason)?;
    let struck = workspace.get(id).await?.what;
    let what = match instead {
        Some(typed) => read_challenge(struck.formula, typed)?,
        None => ChallengeTest { withdrawn: true, from: FromDevice::default(), ..struck },
    };
    Ok(workspace.correct(who, id, reason, what).await?)
}

/// Reads a test from what was typed. Rows without a name and without counts are passed over.
///
/// # Errors
/// Everything that is wrong with it, field by field.
pub fn read_challenge(formula: Id<Formula>, typed: &TypedChallenge) -> Result<ChallengeTest, KeepError> {
    let mut form = Form::default();
    let (days, order) = days(&mut form, &typed.days);
    let organisms = organisms(&mut form, typed, &order);
    if organisms.is_empty() {
        form.fault(
            "rows.0.organism",
            "no organism has a count yet",
            "a test is its counts",
            "type the organisms with what was put in and what was counted, or bring a table in",
        );
    }
    let unit = match typed.unit.trim() {
        "" => UNITS[0].to_owned(),
        unit => unit.to_owned(),
    };
    if !UNITS.contains(&unit.as_str()) {
        form.fault(
            "unit",
            &format!("\"{}\" is no unit of counts", short(&unit)),
            "counts are held against each other in one unit",
            "choose CFU/g or CFU/mL",
        );
    }
    let trial = form.identity::<Trial>(&typed.trial, true);
    let percent = |form: &mut Form, field: &str, text: &str| {
        let why = "it is what was recovered, in percent of the control";
        form.number(field, text, (Decimal::ZERO, Decimal::from(1000)), why)
    };
    let recovered_percent = percent(&mut form, "recovered_percent", &typed.recovered_percent);
    let alone_percent = percent(&mut form, "alone_percent", &typed.alone_percent);
    for (one, other, field) in [
        (&recovered_percent, &typed.alone_percent, "alone_percent"),
        (&alone_percent, &typed.recovered_percent, "recovered_percent"),
    ] {
        if one.is_some() && other.trim().is_empty() {
            form.fault(
                field,
                "the other recovery is missing",
                "a neutraliser must neutralise, and must not kill by itself",
                "type both, or neither",
            );
        }
    }
    let test = ChallengeTest {
        formula,
        version: typed.version,
        trial,
        sample: typed.sample.trim().to_owned(),
        laboratory: typed.laboratory.trim().to_owned(),
        started: form.day("started", &typed.started),
        method: typed.method.trim().to_owned(),
        ph: form.number(
            "ph",
            &typed.ph,
            (Decimal::NEGATIVE_ONE, Decimal::from(15)),
            "a pH meter reads from about 0 to 14",
        ),
        age_h: age(&mut form, &typed.age),
        unit,
        recovered_percent,
        alone_percent,
        days,
        organisms,
        note: typed.note.trim().to_owned(),
        from: FromDevice::default(),
        withdrawn: false,
    };
    form.done(test)
}

/// The form of a table of counts, as a person would have typed it.
#[must_use]
pub fn typed_of_table(table: &CountTable) -> TypedChallenge {
    let row = |row: &CountTableRow| TypedOrganism {
        organism: row.organism.clone(),
        kind: row.kind.clone(),
        initial: row.initial.clone(),
        counts: row.counts.clone(),
    };
    TypedChallenge {
        days: table.days.iter().map(u16::to_string).collect(),
        rows: table.rows.iter().map(row).collect(),
        ..TypedChallenge::default()
    }
}

/// The counts of a table, where nothing is kept of it.
///
/// # Errors
/// All that is wrong with it, each with its line.
pub fn series_of_table((file, bytes): (&str, &[u8])) -> Result<Vec<Series>, Vec<Diagnostic>> {
    let table = count_table(file, bytes)?;
    let typed = typed_of_table(&table);
    let mut form = Form::default();
    let (days, order) = days(&mut form, &typed.days);
    let organisms = organisms(&mut form, &typed, &order);
    match form.done(()) {
        Ok(()) => Ok(series(&days, &organisms)),
        Err(faults) => Err(faults_of_table(file, &table, faults)),
    }
}

/// Faults of a form, told of the table it came from.
#[must_use]
pub fn faults_of_table(file: &str, table: &CountTable, error: KeepError) -> Vec<Diagnostic> {
    let faults = match error {
        KeepError::Typed(faults) => faults,
        KeepError::Store(error) => vec![FieldFault::new("", &error.to_string(), "", "")],
    };
    let of = |fault: FieldFault| {
        let place = fault.field.strip_prefix("rows.").and_then(|rest| rest.split_once('.'));
        let row = place.and_then(|(row, name)| Some((table.rows.get(row.parse::<usize>().ok()?)?, name)));
        let field = match row {
            Some((row, name)) => {
                let at =
                    name.strip_prefix("counts.").and_then(|at| table.days.get(at.parse::<usize>().ok()?));
                let name = at.map_or_else(|| name.to_owned(), |day| format!("day {day}"));
                format!("{}, {name}", short(&row.organism))
            }
            None => fault.field.clone(),
        };
        Diagnostic {
            code: "not-a-count".to_owned(),
            file: file.to_owned(),
            line: row.map_or(0, |(row, _)| row.line),
            column: 0,
            field,
            what: fault.what.trim_end_matches('.').to_owned(),
            what_now: fault.what_now,
            sheet_line: None,
        }
    };
    faults.into_iter().map(of).collect()
}

/// Days in ascending order, and the place each had as typed.
fn days(form: &mut Form, typed: &[String]) -> (Vec<u16>, Vec<usize>) {
    let mut read: Vec<(u16, usize)> = Vec::new();
    for (place, text) in typed.iter().enumerate().filter(|(_, text)| !text.trim().is_empty()) {
        let field = format!("days.{place}");
        match text.trim().parse::<u16>() {
            Ok(day) if (1..=LAST_DAY).contains(&day) => {
                if read.iter().any(|(other, _)| *other == day) {
                    form.fault(
                        &field,
                        &format!("day {day} stands there twice"),
                        "one column holds all plates of a day",
                        "put both counts into one cell, with a space between",
                    );
                }
                read.push((day, place));
            }
            _ => form.fault(
                &field,
                &format!("\"{}\" is not a day of a test", short(text)),
                "the start is the initial count, days are counted from it",
                "type a whole number from 1 to 365",
            ),
        }
    }
    if read.is_empty() || read.len() > MOST_DAYS {
        form.fault(
            "days.0",
            "no day of counting, or too many",
            "a test is counted on days",
            &format!("type 1 to {MOST_DAYS} days"),
        );
    }
    read.sort_unstable();
    read.into_iter().unzip()
}

fn organisms(form: &mut Form, typed: &TypedChallenge, order: &[usize]) -> Vec<Inoculated> {
    let mut found: Vec<Inoculated> = Vec::new();
    for (place, row) in typed.rows.iter().enumerate() {
        let field = |name: &str| format!("rows.{place}.{name}");
        let counted = row.counts.iter().any(|count| !count.trim().is_empty());
        if row.initial.trim().is_empty() && !counted {
            continue;
        }
        let organism = form.needed(
            &field("organism"),
            &row.organism,
            "counts of nobody say nothing",
            "type the name of the organism",
        );
        if found.iter().any(|other| other.organism == organism) {
            form.fault(
                &field("organism"),
                &format!("{} stands there twice", short(&organism)),
                "one row holds all counts of an organism",
                "put its plates into one cell, with a space between",
            );
        }
        let initial = form.needed(
            &field("initial"),
            &row.initial,
            "every reduction is counted from it",
            "type what was put in over the mass of the product: 4.7e5",
        );
        if !initial.is_empty() && !matches!(counts_of(&initial), Ok(Some(Count::Found(_)))) {
            form.fault(
                &field("initial"),
                &format!("\"{}\" is not an initial count", short(&initial)),
                "it is calculated from the inoculum, not found on the plate",
                "type it like 4.7e5 or 470000",
            );
        }
        let kind = kind_of(&row.kind).unwrap_or_else(|| {
            form.fault(
                &field("kind"),
                "the kind is not known",
                "criteria ask different things of bacteria, yeast and mould",
                "choose one of them",
            );
            Kind::Bacteria
        });
        let mut counts = Vec::new();
        for at in order {
            let text = row.counts.get(*at).map_or("", |text| text.trim());
            if let Err(cell) = counts_of(text) {
                form.fault(
                    &field(&format!("counts.{at}")),
                    &format!("\"{}\" is not a count", short(&cell)),
                    "a count is above zero; nothing found is the floor it was not found above",
                    "type it like 240 or 2.4e3, <10 where nothing was found, and two plates with a space between",
                );
            }
            counts.push(text.to_owned());
        }
        found.push(Inoculated { organism, kind, initial, counts });
    }
    if found.len() > MOST_ORGANISMS {
        form.fault(
            "rows.0.organism",
            "these are too many organisms",
            "they would not be read",
            &format!("keep at most {MOST_ORGANISMS}"),
        );
    }
    found
}

fn kind_of(word: &str) -> Option<Kind> {
    match word.trim() {
        "bacteria" | "bacterium" => Some(Kind::Bacteria),
        "yeast" => Some(Kind::Yeast),
        "mould" | "mold" => Some(Kind::Mould),
        _ => None,
    }
}

/// The mean of what stands in a cell; nothing where it is empty.
///
/// # Errors
/// The part that is not a count.
fn counts_of(text: &str) -> Result<Option<Count>, String> {
    let text = text.replace("< ", "<");
    let mut plates = Vec::new();
    for part in text.split([' ', ';', '/', '\u{a0}', '\t']).filter(|part| !part.is_empty()) {
        let (below, digits) = match part.strip_prefix('<') {
            Some(digits) => (true, digits),
            None => (false, part),
        };
        let plain = digits.starts_with(|sign: char| sign.is_ascii_digit());
        let value = digits.replace(',', ".").parse::<f64>().ok().filter(|_| plain);
        let Some(value) = value.filter(|value| *value > 0.0 && *value <= MOST) else {
            return Err(part.to_owned());
        };
        plates.push(if below { Count::Below(value) } else { Count::Found(value) });
    }
    Ok(Count::mean(&plates))
}

fn series(days: &[u16], organisms: &[Inoculated]) -> Vec<Series> {
    let one = |one: &Inoculated| {
        let Ok(Some(Count::Found(initial))) = counts_of(&one.initial) else { return None };
        let counts = days.iter().zip(&one.counts);
        Some(Series {
            organism: one.organism.clone(),
            kind: one.kind,
            initial,
            counts: counts.filter_map(|(day, text)| Some((*day, counts_of(text).ok()??))).collect(),
        })
    };
    organisms.iter().filter_map(one).collect()
}

/// The question behind a kept test.
fn test_of(kept: &ChallengeTest) -> Test {
    let percent = |number: &Option<TypedNumber>| {
        number.as_ref().and_then(|number| number.value).and_then(|value| value.to_f64())
    };
    Test {
        title: kept.sample.clone(),
        unit: kept.unit.clone(),
        series: series(&kept.days, &kept.organisms),
        neutraliser: percent(&kept.recovered_percent).zip(percent(&kept.alone_percent)).map(
            |(recovered_percent, alone_percent)| Neutraliser {
                recovered_percent,
                alone_percent,
                least_percent: LEAST_RECOVERY,
            },
        ),
    }
}

/// Both lines of an organism as they are drawn: day, and the decimal logarithm by the straight line and by the one with a bend.
#[must_use]
pub fn lines_of(dying: &Dying) -> Vec<(f64, Option<f64>, Option<f64>)> {
    let value = |figure: &Option<Figure>| figure.and_then(|figure| figure.value());
    let drawn = dying.drawn.iter();
    drawn
        .filter_map(|point| Some((point.days.value()?, value(&point.straight), value(&point.bent))))
        .collect()
}

/// A count as it is drawn.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CountPoint {
    /// Day; 0 is the start.
    pub day: u16,
    /// Decimal logarithm of the count, or of its floor.
    pub log: f64,
    /// It lies below its floor.
    pub below: bool,
}

/// Counts of a kept test as they are drawn, the start first, by organism.
#[must_use]
pub fn points_of(kept: &ChallengeTest) -> Vec<(String, Vec<CountPoint>)> {
    let point = |(day, count): (u16, Count)| match count {
        Count::Found(value) => CountPoint { day, log: value.log10(), below: false },
        Count::Below(value) => CountPoint { day, log: value.log10(), below: true },
    };
    test_of(kept)
        .series
        .into_iter()
        .map(|one| {
            let start = std::iter::once((0, Count::Found(one.initial)));
            (one.organism, start.chain(one.counts).map(point).collect())
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cell_holds_one_plate_or_several_and_floors() {
        assert_eq!(counts_of("240 260"), Ok(Some(Count::Found(250.0))));
        assert_eq!(counts_of("2,4e3"), Ok(Some(Count::Found(2400.0))));
        assert_eq!(counts_of("< 10"), Ok(Some(Count::Below(10.0))));
        assert_eq!(counts_of("<10 30"), Ok(Some(Count::Found(20.0))));
        assert_eq!(counts_of("  "), Ok(None));
        for bad in ["0", "-3", "nan", "inf", "<", "many", "1e300", "3 x"] {
            assert!(counts_of(bad).is_err(), "{bad}");
        }
    }
}
