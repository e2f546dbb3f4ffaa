//! The pH at the beaker: the question of the adjuster put together from the frozen plan, the version that is made, what was weighed and
//! what was read, and the answer with what the page needs around it.
//!
//! What is in the beaker is what went in, not what was planned: lines that are not in yet are not counted. The line that is added to the
//! pH, and what was put in besides at its step, are the additions; what goes in is an entry like any other, so that the composition of
//! the batch holds their sum. An entry that was taken back never happened.

mod calibration;

pub(super) use calibration::line_through;
pub use calibration::{KeptCalibration, KnownBuffer, OfferedCalibration};

use super::progress::{Done, Progress, in_order};
use super::{BatchRecords, lots_of_lines, plain, sheet_as_weighed};
use crate::batch_sheet::{Practice, SheetCaution, caution};
use crate::diagnostic::Diagnostic;
use crate::formula_file;
use crate::making_file::adjust::{AdjustFile, Entry, Happened, MethodTyped, Shown};
use crate::making_file::calibration::CalibrationFile;
use crate::records::{BatchEntry, Did, FormulaVersion, Kept, Method, PlanCaution, PlanLine};
use crate::store::StoreError;
use crate::workbench::assess::facts_for;
use crate::workbench::keeping::short;
use crate::workbench::making::adjust::{self, AdjustReading, SettlingReading};
use crate::workspace::Workspace;
use calibration::{calibration_of, kept_calibration, known_buffers};
use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::Offset;
use levigate_facts::Facts;
use levigate_formula::sheet::Sheet;
use levigate_measure::{Grade, Outcome};
use levigate_process::settling::Moment;
use rust_decimal::Decimal;
use rust_decimal::prelude::{FromPrimitive, ToPrimitive};
use serde::Serialize;

/// Name of a version's text in messages.
const FILE: &str = "formula";
/// A series that has moved this long without telling where it ends is a matter for the electrode, s. Common practice, no source.
const STUCK_S: i64 = 300;
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

/// Readings of one electrode left in one place.
#[derive(Clone, Debug, Serialize)]
pub struct Series {
    /// When the last one was read.
    pub last: Timestamp,
    /// Where they end; absent where the person saw the last one stand.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub settling: Option<SettlingReading>,
    /// What to do about a meter that does not come to rest; empty where nothing.
    pub stuck: String,
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

/// The advice at a step that adds to a pH; none where the plan has no such step. `with` names what is to be added next where it is not
/// what went in last.
#[must_use]
pub fn advise(facts: &Facts, beaker: &Beaker, step: usize, with: &str) -> Option<BenchAdvice> {
    let records = &beaker.records;
    let file = formula_file::read(FILE, &beaker.version.what.text).ok();
    let laid = file.as_ref().and_then(|file| facts_for(facts, FILE, file).ok());
    let facts = laid.as_deref().unwrap_or(facts);
    let plan = &records.batch.what.plan;
    let line = plan.steps.get(step.checked_sub(1)?)?.line.as_ref()?;
    let to_ph = line.to_ph?;
    let done = in_order(&records.entries);
    let happened = happened(&done, step, line);
    let (asked, unknown) = match (with.trim(), facts.names.resolve_material(with.trim())) {
        ("", _) => (None, None),
        (_, Ok(key)) => (Some(key.to_owned()), None),
        (name, Err(nearest)) => (None, Some(not_known(name, &nearest))),
    };
    let last = || happened.iter().rev().find_map(|one| one.with.clone());
    let with = asked.or_else(last).unwrap_or_else(|| line.material.clone());
    let calibrated = done.iter().rev().find(|one| matches!(one.entry.what.did, Did::Calibrated { .. }));
    let calibration = calibrated.and_then(|one| calibration_of(&facts.ph_bench, &one.entry.what.did).ok());
    let half = facts.ph_bench.convention.as_ref().map_or(0.0, |convention| convention.target_ph);
    let typed_window = file.as_ref().and_then(|file| file.sheet.target.ph);
    let window = window(typed_window, to_ph, half);
    let question = file.and_then(|mut formula| {
        formula.sheet = in_the_beaker(facts, records, &formula.sheet, (&done, step, line))?;
        Some(AdjustFile {
            formula,
            assay_percent: assay(facts, records, line).filter(|_| with == line.material),
            with: with.clone(),
            window: Some(window),
            method: MethodTyped::default(),
            batch_g: None,
            held_back_g: Some(0.0),
            balance_g: None,
            portion_g: None,
            calibration: calibration.clone(),
            entries: happened.iter().map(|one| one.entry.clone()).collect(),
            place: 0..0,
            file: FILE.to_owned(),
            text: String::new(),
        })
    });
    let told = question.map(|question| adjust::advise(facts, &question));
    let heard = |advice: &AdjustReading| advice.report.readings.iter().any(|reading| reading.used);
    let method = levigate_assess::adjusting::Method { diluted: false, temperature_c: 25.0, age_h: None };
    let (next, say) = match &told {
        _ if unknown.is_some() => ("refused", unknown.unwrap_or_default()),
        None => ("refused", "Nothing is in the batch yet: weigh what stands before this step.".to_owned()),
        Some(Err(problems)) => ("refused", refusal(problems)),
        Some(Ok(advice)) if heard(advice) => (advice.report.next, advice.report.say.clone()),
        Some(Ok(_)) => (
            "read",
            format!("Read the pH first, {}: the advice starts from where the batch stands.", method.words()),
        ),
    };
    let advice = told.and_then(Result::ok);
    let cautions = if with == line.material { Vec::new() } else { cautions_of(facts, &with) };
    Some(BenchAdvice {
        step,
        name: facts.library.materials.get(&with).map_or_else(|| with.clone(), |record| record.name.clone()),
        line: (with == line.material).then_some(line.number),
        with,
        window: Outcome::new(0.5 * (window[0] + window[1]), "", Grade::Measured, "as typed in the formula")
            .within(window[0], window[1], None),
        entries: records.entries.len(),
        next,
        say,
        series: series(&happened, advice.as_ref()),
        advice,
        calibration: calibrated.zip(calibration).and_then(|(one, of)| {
            kept_calibration(facts, one, CalibrationFile { window: Some(window), ..of })
        }),
        offered: beaker.offered.clone(),
        buffers: known_buffers(&facts.ph_bench),
        cautions,
    })
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

/// The window of the formula where the pH the line is added to lies in it, else that pH with the convention's half width.
fn window(of_formula: Option<[Decimal; 2]>, to_ph: Decimal, half: f64) -> [f64; 2] {
    match of_formula.filter(|[low, high]| *low < *high && (*low..=*high).contains(&to_ph)) {
        Some([low, high]) => [plain(low), plain(high)],
        None => [plain(to_ph) - half, plain(to_ph) + half],
    }
}

/// One entry of the question.
struct Bench {
    entry: Entry,
    /// What went in, where something did.
    with: Option<String>,
    /// When its last reading was made, and whether it stood.
    read: Option<Read>,
}

/// When a series began and ended.
#[derive(Clone, Copy)]
struct Read {
    first: Timestamp,
    last: Timestamp,
    stands: bool,
}

/// What happened at the step, in order: additions, and readings gathered to series between them.
fn happened(done: &[Done<'_>], step: usize, line: &PlanLine) -> Vec<Bench> {
    let mut all: Vec<Bench> = Vec::new();
    let entry =
        |happened: Happened, number: u32| Entry { happened, place: 0..0, field: format!("entry {number}") };
    let mut moving: Vec<(Timestamp, f64)> = Vec::new();
    let mut before: Option<(Method, Option<f64>)> = None;
    for one in done {
        let kept = one.entry;
        match &kept.what.did {
            Did::Weighed { material, mass, .. } | Did::Added { material, mass, .. }
                if is_added(&kept.what, step, line) =>
            {
                let grams = plain(mass.net_g().unwrap_or_default());
                let happened = Happened::Added { grams, with: Some(material.clone()) };
                let with = Some(material.clone());
                all.push(Bench { entry: entry(happened, kept.number), with, read: None });
                before = None;
            }
            Did::Ph { value, method, temperature_c, settled, age_h } if kept.what.step == Some(step) => {
                let Some(ph) = value.value.and_then(|value| value.to_f64()) else { continue };
                let warm = temperature_c.value.and_then(|value| value.to_f64());
                let same = before.as_ref() == Some(&(method.clone(), warm));
                if !same {
                    moving.clear();
                }
                moving.push((one.at, ph));
                let start = moving[0].0;
                let trace = moving
                    .iter()
                    .map(|(at, ph)| Moment { time_s: at.duration_since(start).as_secs_f64(), ph: *ph });
                let shown = if *settled { Shown::Ph(ph) } else { Shown::Trace(trace.collect()) };
                let happened = Happened::Read {
                    shown,
                    scatter: None,
                    method: MethodTyped {
                        diluted: Some(*method == Method::TenPercentInWater),
                        temperature_c: warm,
                        age_h: age_h.as_ref().and_then(|age| age.value?.to_f64()),
                    },
                };
                let read = Some(Read { first: start, last: one.at, stands: *settled });
                let bench = Bench { entry: entry(happened, kept.number), with: None, read };
                // One series is one reading: the last word of it counts.
                match all.last_mut().filter(|last| same && last.read.is_some()) {
                    Some(last) => *last = bench,
                    None => all.push(bench),
                }
                before = Some((method.clone(), warm));
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
    (done, step, line): (&[Done<'_>], usize, &PlanLine),
) -> Option<Sheet> {
    let plan = &records.batch.what.plan;
    let before = done.iter().filter(|one| !is_added(&one.entry.what, step, line));
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

/// Whether an entry is an addition of the step: of its line, or of something besides.
fn is_added(entry: &BatchEntry, step: usize, line: &PlanLine) -> bool {
    match &entry.did {
        Did::Weighed { line: number, .. } => *number == line.number && entry.step.is_none_or(|of| of == step),
        Did::Added { .. } => entry.step == Some(step),
        _ => false,
    }
}

/// The assay of the lot a line was weighed from.
fn assay(facts: &Facts, records: &BatchRecords, line: &PlanLine) -> Option<f64> {
    let lots = lots_of_lines(facts, &records.entries, &records.lots);
    lots.iter().find(|lot| lot.line == line.number)?.assay_percent?.to_f64()
}

/// How the readings since the last addition stand.
fn series(happened: &[Bench], advice: Option<&AdjustReading>) -> Option<Series> {
    let read = happened.last()?.read?;
    let settling = advice.and_then(|advice| {
        advice.settling.iter().find(|settling| settling.number == happened.len() && !read.stands)
    });
    let moving = settling.is_some_and(|settling| settling.ph.value.is_none());
    let held = settling.filter(|settling| settling.notes.iter().any(|note| note.code == "all-the-same"));
    let stuck = if moving && read.last.duration_since(read.first).as_secs() >= STUCK_S {
        "The reading has not come to rest for minutes. Take the electrode out, rinse and blot it, and read it in a buffer: a film on the \
         glass or a clogged junction does this. If it is right in the buffer, stir gently and read again in a fresh place."
    } else if held.is_some() {
        "Every reading is the same to the digit: make sure that the display is not on hold."
    } else {
        ""
    };
    Some(Series { last: read.last, settling: settling.cloned(), stuck: stuck.to_owned() })
}
