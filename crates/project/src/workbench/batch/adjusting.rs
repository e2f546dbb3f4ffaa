//! The pH at the beaker: the question of the adjuster put together from the frozen plan, the version that is made, what was weighed and
//! what was read, and the answer with what the page needs around it.
//!
//! What is in the beaker is what went in, not what was planned: lines that are not in yet are not counted. The line that is added to the
//! pH, its first portion too, and what was put in besides at its step, are the additions; what goes in is an entry like any other, so that the composition of
//! the batch holds their sum. An entry that was taken back never happened.

mod calibration;
mod series;

pub(super) use calibration::line_through;
pub use calibration::{KeptCalibration, KnownBuffer, OfferedCalibration};
pub use series::{Series, Together};

use super::progress::{Done, Progress, in_order};
use super::{BatchRecords, lots_of_lines, plain, sheet_as_weighed};
use crate::batch_sheet::{Practice, SheetCaution, caution};
use crate::diagnostic::Diagnostic;
use crate::formula_file::{self, FormulaFile};
use crate::making_file::adjust::{AdjustFile, Entry, Happened, MethodTyped};
use crate::making_file::calibration::CalibrationFile;
use crate::records::{BatchEntry, Did, FormulaVersion, Kept, PlanCaution, PlanLine};
use crate::store::StoreError;
use crate::workbench::assess::facts_for;
use crate::workbench::keeping::short;
use crate::workbench::making::adjust::{self, AdjustReading};
use crate::workspace::Workspace;
use calibration::{calibration_of, kept_calibration, known_buffers};
use jiff::civil::Date;
use jiff::tz::Offset;
use levigate_assess::adjusting::{Window, window_about};
use levigate_facts::Facts;
use levigate_formula::sheet::Sheet;
use levigate_measure::{Grade, Outcome};
use rust_decimal::Decimal;
use rust_decimal::prelude::{FromPrimitive, ToPrimitive};
use serde::Serialize;
use series::Growing;

/// Name of a version's text in messages.
const FILE: &str = "formula";
/// Entries looked through for calibrations of other batches.
const LOOKED_THROUGH: u32 = 2000;

/// What a page shows of a pH that is being adjusted.
#[derive(Clone, Debug, Serialize)]
pub struct BenchAdvice {
    /// Step of the plan.
    pub step: usize,
    /// Key of the acid or base in use.
    pub with: String,
    /// Its name.
    pub name: String,
    /// Its line in the plan; none where it is put in besides.
    pub line: Option<usize>,
    /// The window.
    pub window: Outcome,
    /// How it is read, in words.
    pub read: String,
    /// How many entries of the batch this rests on: an answer to fewer is an old one.
    pub entries: usize,
    /// `read` before any reading counts, else what the adjuster says: `add`, `done`, `read`, `beyond`, `wrong-way`, `none-sure`, `finer`;
    /// `refused` where it says nothing.
    pub next: &'static str,
    /// The one instruction.
    pub say: String,
    /// The advice with its reasons.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub advice: Option<AdjustReading>,
    /// The readings since the last addition.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub series: Option<Series>,
    /// The calibration that counts.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub calibration: Option<KeptCalibration>,
    /// Calibrations of the same day on other batches.
    pub offered: Vec<OfferedCalibration>,
    /// Buffers that can be named.
    pub buffers: Vec<KnownBuffer>,
    /// What must be heeded of what is put in besides; of a line of the plan its step says it.
    pub cautions: Vec<PlanCaution>,
}

/// What the advice about a batch rests on.
#[derive(Clone, Debug)]
pub struct Beaker {
    /// The batch.
    pub records: BatchRecords,
    /// The version that is made.
    pub version: Kept<FormulaVersion>,
    /// Calibrations of the same day on other batches, the newest first.
    pub offered: Vec<OfferedCalibration>,
}

/// Reads what the advice about a batch rests on.
///
/// # Errors
/// The workspace cannot be read.
pub async fn gather_beaker(
    workspace: &Workspace,
    day: Date,
    records: BatchRecords,
) -> Result<Beaker, StoreError> {
    let version = workspace.version(records.trial.what.formula, records.batch.what.plan.version).await?;
    let mut offered: Vec<OfferedCalibration> = Vec::new();
    let entries: Vec<Kept<BatchEntry>> = workspace.newest(LOOKED_THROUGH).await?;
    for one in in_order(&entries).iter().rev() {
        let entry = &one.entry.what;
        let Did::Calibrated { buffers, temperature_c, .. } = &entry.did else { continue };
        let same_day = Offset::UTC.to_datetime(one.at).date() == day;
        let known =
            |other: &OfferedCalibration| other.buffers == *buffers && other.instrument == entry.instrument;
        if !same_day || entry.batch == records.batch.id || offered.iter().any(known) {
            continue;
        }
        offered.push(OfferedCalibration {
            batch: workspace.get(entry.batch).await?.what.code,
            when: one.at,
            instrument: entry.instrument.clone(),
            buffers: buffers.clone(),
            temperature_c: temperature_c.clone(),
        });
    }
    Ok(Beaker { records, version, offered })
}

/// The step of a batch that adds to a pH and comes next; the last such step where all are done, none where there is none.
#[must_use]
pub fn adjusting_step(records: &BatchRecords, day: Date) -> Option<usize> {
    let next = super::batch_state(records, day).next.unwrap_or(usize::MAX);
    let steps = records.batch.what.plan.steps.iter();
    let adds = steps.filter(|step| step.line.as_ref().is_some_and(|line| line.to_ph.is_some()));
    let numbers: Vec<usize> = adds.map(|step| step.number).collect();
    numbers.iter().copied().find(|number| *number >= next).or(numbers.last().copied())
}

/// A step that adds to a pH, and what happened at it.
struct AtTheStep<'a> {
    facts: &'a Facts,
    records: &'a BatchRecords,
    done: Vec<Done<'a>>,
    step: usize,
    line: &'a PlanLine,
    happened: Vec<Bench>,
}

/// The advice at a step that adds to a pH; none where the plan has no such step. `with` names what is to be added next where it is not
/// what went in last.
#[must_use]
pub fn advise(facts: &Facts, beaker: &Beaker, step: usize, with: &str) -> Option<BenchAdvice> {
    let records = &beaker.records;
    let file = formula_file::read(FILE, &beaker.version.what.text).ok();
    let laid = file.as_ref().and_then(|file| facts_for(facts, FILE, file).ok());
    let facts = laid.as_deref().unwrap_or(facts);
    let line = records.batch.what.plan.steps.get(step.checked_sub(1)?)?.line.as_ref()?;
    let (to_ph, convention) = (line.to_ph?, facts.ph_bench.convention.as_ref()?);
    let done = in_order(&records.entries);
    let at = AtTheStep {
        facts,
        records,
        step,
        line,
        happened: happened(&done, (step, line), convention.reading_ph),
        done,
    };
    let (with, unknown) = at.adjuster(with);
    let target = file.as_ref().map(|file| file.sheet.target.clone()).unwrap_or_default();
    let window = window_about(&target, to_ph, convention);
    let calibrated = at.done.iter().rev().find(|one| matches!(one.entry.what.did, Did::Calibrated { .. }));
    let calibration = calibrated.and_then(|one| calibration_of(&facts.ph_bench, &one.entry.what.did).ok());
    let question = file.and_then(|formula| at.question(formula, &with, window, calibration.clone()));
    let told = question.map(|question| adjust::advise(facts, &question));
    let (next, say) = match unknown {
        Some(unknown) => ("refused", unknown),
        None => instruction(told.as_ref()),
    };
    let advice = told.and_then(Result::ok);
    let own = with == line.material;
    let [low, high] = window.ph;
    Some(BenchAdvice {
        step,
        name: facts.library.materials.get(&with).map_or_else(|| with.clone(), |record| record.name.clone()),
        line: own.then_some(line.number),
        window: Outcome::new(0.5 * (low + high), "", Grade::Measured, "as typed in the formula")
            .within(low, high, None),
        read: window.method.words(),
        entries: records.entries.len(),
        next,
        say,
        series: at
            .happened
            .last()
            .and_then(|last| last.read.as_ref())
            .map(|series| series.shown(advice.as_ref(), at.happened.len(), convention.reading_ph)),
        advice,
        calibration: calibrated.zip(calibration).and_then(|(one, of)| {
            kept_calibration(facts, one, CalibrationFile { window: Some(window.ph), ..of })
        }),
        offered: beaker.offered.clone(),
        buffers: known_buffers(&facts.ph_bench),
        cautions: if own { Vec::new() } else { cautions_of(facts, &with) },
        with,
    })
}

impl AtTheStep<'_> {
    /// Key of what is added next: what is asked for, else what went in last, else that of the plan; and what to say of a name nobody knows.
    fn adjuster(&self, asked: &str) -> (String, Option<String>) {
        let (known, unknown) = match (asked.trim(), self.facts.names.resolve_material(asked.trim())) {
            ("", _) => (None, None),
            (_, Ok(key)) => (Some(key.to_owned()), None),
            (name, Err(nearest)) => (None, Some(not_known(name, &nearest))),
        };
        let last = || self.happened.iter().rev().find_map(|one| one.with.clone());
        (known.or_else(last).unwrap_or_else(|| self.line.material.clone()), unknown)
    }

    /// The question of the adjuster; none while nothing is in the batch.
    fn question(
        &self,
        mut formula: FormulaFile,
        with: &str,
        window: Window,
        calibration: Option<CalibrationFile>,
    ) -> Option<AdjustFile> {
        formula.sheet =
            in_the_beaker(self.facts, self.records, &formula.sheet, &self.done, (self.line, self.step))?;
        Some(AdjustFile {
            formula,
            assay_percent: assay(self.facts, self.records, self.line).filter(|_| with == self.line.material),
            with: with.to_owned(),
            window: Some(window.ph),
            method: MethodTyped {
                diluted: Some(window.method.diluted),
                temperature_c: Some(window.method.temperature_c),
                age_h: window.method.age_h,
            },
            batch_g: None,
            held_back_g: Some(0.0),
            balance_g: None,
            portion_g: None,
            calibration,
            entries: self.happened.iter().map(|one| one.entry.clone()).collect(),
            place: 0..0,
            file: FILE.to_owned(),
            text: String::new(),
        })
    }
}

/// What is next, as a word and as the one instruction.
fn instruction(told: Option<&Result<AdjustReading, Vec<Diagnostic>>>) -> (&'static str, String) {
    let advice = match told {
        None => {
            return (
                "refused",
                "Nothing is in the batch yet: weigh what stands before this step.".to_owned(),
            );
        }
        Some(Err(problems)) => return ("refused", refusal(problems)),
        Some(Ok(advice)) => advice,
    };
    if advice.report.readings.iter().any(|reading| reading.used) {
        return (advice.report.next, advice.report.say.clone());
    }
    let say = format!("Read the pH first, {}: the advice starts from where the batch stands.", advice.method);
    ("read", say)
}

fn not_known(name: &str, nearest: &[String]) -> String {
    let what_now = match nearest {
        [] => "Search the raw materials for an acid or base.".to_owned(),
        nearest => format!("Did you mean {}?", nearest.join(", ")),
    };
    format!("No raw material is called \"{}\". {what_now}", short(name))
}

/// What must be heeded of what is put in besides.
fn cautions_of(facts: &Facts, with: &str) -> Vec<PlanCaution> {
    let (Some(material), Ok(practice)) = (facts.library.materials.get(with), Practice::shipped()) else {
        return Vec::new();
    };
    let told = |one: SheetCaution| PlanCaution { hazard: one.hazard, text: one.text, source: one.source };
    caution::of_line(material, None, &facts.library, &practice).into_iter().map(told).collect()
}

fn refusal(problems: &[Diagnostic]) -> String {
    problems.first().map_or_else(String::new, |one| {
        let mut what = one.what.chars();
        let first: String = what.next().map(|sign| sign.to_uppercase().collect()).unwrap_or_default();
        format!("{first}{}: {}.", what.as_str(), one.what_now)
    })
}

/// One entry of the question.
struct Bench {
    entry: Entry,
    /// What went in, where something did.
    with: Option<String>,
    /// The readings, where it was read.
    read: Option<Growing>,
}

/// What happened at the step, in order: additions, and readings gathered to series between them.
fn happened(done: &[Done<'_>], (step, line): (usize, &PlanLine), repeatability: f64) -> Vec<Bench> {
    let mut all: Vec<Bench> = Vec::new();
    let entry =
        |happened: Happened, number: u32| Entry { happened, place: 0..0, field: format!("entry {number}") };
    for one in done {
        let kept = one.entry;
        match &kept.what.did {
            Did::Weighed { material, mass, .. } | Did::Added { material, mass, .. }
                if is_added(&kept.what, line) || besides(&kept.what, step) =>
            {
                let grams = plain(mass.net_g().unwrap_or_default());
                let happened = Happened::Added { grams, with: Some(material.clone()) };
                all.push(Bench {
                    entry: entry(happened, kept.number),
                    with: Some(material.clone()),
                    read: None,
                });
            }
            Did::Ph { value, method, temperature_c, settled, age_h } if kept.what.step == Some(step) => {
                let Some(ph) = value.value.and_then(|value| value.to_f64()) else { continue };
                let warm = temperature_c.value.and_then(|value| value.to_f64());
                let last = all.last().and_then(|last| last.read.clone());
                // One series is one reading.
                let (mut series, goes_on) = match last.filter(|series| series.is_of(method, warm)) {
                    Some(series) => (series, true),
                    None => (Growing::new(method, warm), false),
                };
                series.take(one.at, ph, *settled, age_h.as_ref().and_then(|age| age.value?.to_f64()));
                let happened = series.happened(repeatability);
                let bench = Bench { entry: entry(happened, kept.number), with: None, read: Some(series) };
                if goes_on {
                    all.pop();
                }
                all.push(bench);
            }
            _ => {}
        }
    }
    all
}

/// The formula of what is in the beaker now, without what is added at the step.
fn in_the_beaker(
    facts: &Facts,
    records: &BatchRecords,
    sheet: &Sheet,
    done: &[Done<'_>],
    (line, step): (&PlanLine, usize),
) -> Option<Sheet> {
    let plan = &records.batch.what.plan;
    let before =
        done.iter().filter(|one| !is_added(&one.entry.what, line) && !besides(&one.entry.what, step));
    let others: Vec<Kept<BatchEntry>> = before.map(|one| one.entry.clone()).collect();
    let mut progress = Progress::of(plan, &others);
    // What is not in yet does not count, though it is to come.
    for known in &mut progress.lines {
        known.target_g = known.actual_g();
    }
    let lots = lots_of_lines(facts, &records.entries, &records.lots);
    let mut made = sheet_as_weighed(sheet, &progress, &lots)?;
    if let Some(balance) = plan.balances.first() {
        made.batch.balance_g = balance.readability_g;
        made.batch.repeatability_g = balance.repeatability_g.and_then(Decimal::from_f64);
    }
    Some(made)
}

/// Whether an entry is an addition of the line, here or as its first portion in an earlier step: each took its part of the risk.
fn is_added(entry: &BatchEntry, line: &PlanLine) -> bool {
    matches!(&entry.did, Did::Weighed { line: number, .. } if *number == line.number)
}

/// Whether an entry is something put in besides the plan at the step.
fn besides(entry: &BatchEntry, step: usize) -> bool {
    matches!(&entry.did, Did::Added { .. }) && entry.step == Some(step)
}

/// The assay of the lot a line was weighed from.
fn assay(facts: &Facts, records: &BatchRecords, line: &PlanLine) -> Option<f64> {
    let lots = lots_of_lines(facts, &records.entries, &records.lots);
    lots.iter().find(|lot| lot.line == line.number)?.assay_percent?.to_f64()
}
