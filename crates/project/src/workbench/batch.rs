//! Batches at the bench: started with their trial, filled entry by entry, signed off, taken up again as the next trial.
//!
//! An entry carries an identity made by the device it was typed on, so that a device that does not know whether its entry arrived
//! sends it again without harm. Everything that is shown follows from the frozen plan and the entries in force; what was struck out
//! stays on record.

mod adjusting;
mod composed;
mod course;
mod deviations;
mod entering;
mod list;
mod over;
mod plan;
mod portion_state;
mod progress;
mod record;
mod second_eyes;
mod signing;
mod state;
mod typed;
mod typed_back;

pub use adjusting::{
    Beaker, BenchAdvice, KeptCalibration, KnownBuffer, OfferedCalibration, Series, Together, adjusting_step,
    advise, gather_beaker,
};
use composed::plain;
pub use composed::{Balanced, LotOfLine, sheet_as_weighed};
pub use course::{CourseReading, Held, PlannedStage, TemperatureCourse, TypedVessel, temperature_course};
pub use deviations::{Deviated, DeviationList, deviations_between, deviations_of};
pub use entering::{
    EnteredAll, EnteredRow, EntriesFile, NextStep, SCHEMA as ENTER_SCHEMA, enter_all, keep_log, read_entries,
};
pub use levigate_measure::Outcome;
pub use list::{BatchCard, BatchFilled, BatchMade, batches, made_on, next_of};
pub use over::{LineAfter, WayOut};
pub use plan::{PlanOrder, plan};
pub use portion_state::PortionState;
pub use progress::{
    AddedProgress, Done, GrossRead, LineProgress, Portion, Progress, Stands, StepAmount, StepProgress,
    in_order,
};
pub use record::{BatchRecord, LotInRecord, ReadingInRecord, Seal, batch_record, day_of, record_called};
pub use signing::{TypedSample, TypedSignOff, keep_sample, sign_off, sign_with_password, strike_sample};
pub use state::{
    AddedState, BalancedState, BatchState, EntryState, LineState, ReadingState, SampleState, SignOffState,
    Standing, StepState, WaterState, batch_state,
};
pub use typed::{TypedBuffer, TypedEntry, TypedPaper};
pub use typed_back::{RowKept, TypedRow, TypedSheet, rows_of_table, type_back};

use super::keeping::{FieldFault, Form, KeepError, short};
use super::lots::{lot_of, lot_root};
use super::stock::statuses;
use super::trials::{TypedLotTaken, TypedTrial, read_trial, size_in_grams};
use crate::audit::content_hash;
use crate::records::{
    Batch, BatchEntry, Correction, Did, Formula, Id, Kept, Kind, Lot, Plan, Reading, RetainedSample, SignOff,
    Status, Trial, is_batch_code,
};
use crate::store::StoreError;
use crate::workspace::{KeptOnce, Workspace};
use jiff::civil::Date;
use levigate_facts::Facts;
use levigate_measure::weighing::BalanceRecord;
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// Version of the program, as it stands beside what it made.
const ENGINE_VERSION: &str = env!("CARGO_PKG_VERSION");
/// How many batches of one day get a code of their own.
const MOST_A_DAY: u32 = 999;

/// A batch to start, as typed.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct TypedBatch {
    /// Identity made on the device, a UUID; one is made here when empty.
    pub id: String,
    /// The saved version that is made.
    pub version: u32,
    /// Identity of the trial it goes on from; empty for none.
    pub parent: String,
    /// The one thing changed against it.
    pub changed: String,
    /// Batch size; that of the formula when empty.
    pub size: String,
    /// Its unit, g or kg; grams when empty.
    pub unit: String,
    /// How it is made, in words.
    pub process: String,
    /// The day, ISO; the day of the entry when empty.
    pub made: String,
    /// Batch code; one of the day when empty.
    pub code: String,
    /// Lots intended, line by line from 0.
    pub lots: Vec<TypedLotTaken>,
    /// Balances; the one of the formula when empty.
    pub balances: Vec<TypedBalance>,
    /// Remark.
    pub note: String,
}

/// A balance as typed.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct TypedBalance {
    /// What it is called on the bench: an entry names it so.
    pub name: String,
    /// Readability, g.
    pub readability_g: String,
    /// Repeatability, g; the readability when empty.
    pub repeatability_g: String,
}

/// A batch that was started, now or when it was sent the first time.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Started {
    /// The batch.
    pub id: Id<Batch>,
    /// Its code.
    pub code: String,
    /// Its trial.
    pub trial: Id<Trial>,
    /// It was there already.
    pub already: bool,
}

/// Everything the workspace holds about a batch.
#[derive(Clone, Debug)]
pub struct BatchRecords {
    /// The batch.
    pub batch: Kept<Batch>,
    /// Its trial.
    pub trial: Kept<Trial>,
    /// What was done, in the order it was kept, struck entries too.
    pub entries: Vec<Kept<BatchEntry>>,
    /// Signatures.
    pub sign_offs: Vec<Kept<SignOff>>,
    /// Samples kept.
    pub samples: Vec<Kept<RetainedSample>>,
    /// What was read on its trial, struck readings too.
    pub readings: Vec<Kept<Reading>>,
    /// Of a batch that was signed off: kind and place in the log of all its records, readings and observations of its trial too.
    pub places: Vec<(Kind, u64)>,
    /// All lots of the workspace.
    pub lots: Vec<Kept<Lot>>,
    /// What was decided last about each lot, by its first entry.
    pub statuses: BTreeMap<Id<Lot>, Status>,
}

/// Reads everything the workspace holds about a batch.
///
/// # Errors
/// There is no such batch, or the workspace cannot be read.
pub async fn gather_batch(workspace: &Workspace, id: Id<Batch>) -> Result<BatchRecords, StoreError> {
    let batch = workspace.get(id).await?;
    let sign_offs: Vec<Kept<SignOff>> = workspace.of(id).await?;
    Ok(BatchRecords {
        trial: workspace.get(batch.what.trial).await?,
        entries: workspace.of(id).await?,
        places: if sign_offs.is_empty() { Vec::new() } else { workspace.places_of_batch(&batch).await? },
        sign_offs,
        samples: workspace.of(id).await?,
        readings: workspace.of(batch.what.trial).await?,
        lots: workspace.all().await?,
        statuses: statuses(workspace).await?,
        batch,
    })
}

/// The batch a person means: by identity or by code.
///
/// # Errors
/// There is none, or the workspace cannot be read.
pub async fn batch_called(workspace: &Workspace, name: &str) -> Result<Kept<Batch>, StoreError> {
    match name.parse::<Id<Batch>>() {
        Ok(id) => workspace.get(id).await,
        Err(_) => workspace.batch_of_code(&name.trim().to_ascii_uppercase()).await,
    }
}

/// Starts a batch of a saved version, and its trial with it.
///
/// # Errors
/// What was typed cannot be kept, the version cannot be made in this size on these balances, the code is taken, or the workspace
/// refused.
pub async fn start_batch(
    workspace: &Workspace,
    facts: &Facts,
    (who, day): (&str, Date),
    formula: Id<Formula>,
    typed: &TypedBatch,
) -> Result<Started, KeepError> {
    let mut form = Form::default();
    let sent_sha256 = content_hash(serde_json::to_string(typed).unwrap_or_default().as_bytes());
    let id = form.identity(&typed.id, true);
    if let Some(there) = started_already(workspace, id, &sent_sha256).await? {
        return Ok(there);
    }
    let code = batch_code(workspace, &mut form, &typed.code, day).await?;
    let () = form.done(())?;
    let (trial, plan) = prepared(workspace, facts, day, formula, typed).await?;
    let made = Batch {
        trial: Id::from_uuid(uuid::Uuid::nil()),
        code,
        plan,
        engine_version: ENGINE_VERSION.to_owned(),
        data_version: facts.version(),
        sent_sha256: sent_sha256.clone(),
        note: typed.note.trim().to_owned(),
    };
    match workspace.begin_batch(who, trial, id, |trial| Batch { trial, ..made }).await {
        Ok((trial, batch)) => {
            Ok(Started { id: batch.id, code: batch.what.code, trial: trial.id, already: false })
        }
        Err(StoreError::AlreadyKept { .. }) => {
            let there = started_already(workspace, id, &sent_sha256).await?;
            there.ok_or_else(|| taken().into())
        }
        Err(StoreError::Moved { .. }) => Err(taken().into()),
        Err(error) => Err(error.into()),
    }
}

/// The plan that a batch would have, before it is frozen.
///
/// # Errors
/// As [`start_batch`], but for identity and code.
pub async fn plan_before(
    workspace: &Workspace,
    facts: &Facts,
    day: Date,
    formula: Id<Formula>,
    typed: &TypedBatch,
) -> Result<Plan, KeepError> {
    prepared(workspace, facts, day, formula, typed).await.map(|(_, plan)| plan)
}

/// The trial of a batch and its plan.
async fn prepared(
    workspace: &Workspace,
    facts: &Facts,
    day: Date,
    formula: Id<Formula>,
    typed: &TypedBatch,
) -> Result<(Trial, Plan), KeepError> {
    let mut form = Form::default();
    let balances: Vec<BalanceRecord> =
        typed.balances.iter().enumerate().filter_map(|(at, one)| balance(&mut form, at, one)).collect();
    let () = form.done(())?;
    let version = workspace.version(formula, typed.version).await?;
    let trial = read_trial(
        &version,
        &TypedTrial {
            version: typed.version,
            parent: typed.parent.clone(),
            changed: typed.changed.clone(),
            size: typed.size.clone(),
            unit: typed.unit.clone(),
            process: typed.process.clone(),
            made: typed.made.clone(),
            lots: typed.lots.clone(),
        },
    )?;
    let lots: Vec<Kept<Lot>> = workspace.all().await?;
    let plan = plan(&PlanOrder {
        facts,
        day,
        version: &version,
        size_g: trial.batch_size.as_ref().and_then(size_in_grams),
        balances: &balances,
        lots: &lots,
        taken: &trial.lots,
    })?;
    Ok((trial, plan))
}

async fn started_already(
    workspace: &Workspace,
    id: Option<Id<Batch>>,
    sent_sha256: &str,
) -> Result<Option<Started>, KeepError> {
    let Some(id) = id else { return Ok(None) };
    match workspace.get(id).await {
        Ok(batch) if batch.what.sent_sha256 == sent_sha256 => {
            Ok(Some(Started { id, code: batch.what.code, trial: batch.what.trial, already: true }))
        }
        Ok(_) => Err(StoreError::IdentityTaken { id: id.uuid() }.into()),
        Err(StoreError::Missing { .. }) => Ok(None),
        Err(error) => Err(error.into()),
    }
}

fn taken() -> FieldFault {
    FieldFault::new(
        "code",
        "a batch has this code already",
        "a batch is found by its code, by person and label",
        "choose another code, or leave the field empty",
    )
}

async fn batch_code(
    workspace: &Workspace,
    form: &mut Form,
    typed: &str,
    day: Date,
) -> Result<String, KeepError> {
    let free = async |code: &str| match workspace.batch_of_code(code).await {
        Ok(_) => Ok(false),
        Err(StoreError::Missing { .. }) => Ok(true),
        Err(error) => Err(KeepError::from(error)),
    };
    let code = typed.trim().to_ascii_uppercase();
    if code.is_empty() {
        for number in 1..=MOST_A_DAY {
            let code = format!("{}-{number:02}", day.strftime("%y%m%d"));
            if free(&code).await? {
                return Ok(code);
            }
        }
        return Err(taken().into());
    }
    if !is_batch_code(&code) {
        form.fault(
            "code",
            &format!("\"{}\" is not a batch code", short(typed)),
            "it stands on labels, in file names and in addresses",
            "use letters, digits, - _ and . only, at most 40",
        );
    } else if !free(&code).await? {
        return Err(taken().into());
    }
    Ok(code)
}

fn balance(form: &mut Form, at: usize, typed: &TypedBalance) -> Option<BalanceRecord> {
    if *typed == TypedBalance::default() {
        return None;
    }
    let limits = (Decimal::new(1, 6), Decimal::from(10_000));
    let why = "it decides what can be weighed";
    let field = |name: &str| format!("balances.{at}.{name}");
    let readability = form.number(&field("readability_g"), &typed.readability_g, limits, why);
    if typed.readability_g.trim().is_empty() {
        form.fault(
            &field("readability_g"),
            "no readability is typed",
            why,
            "type the smallest step, such as 0.01",
        );
    }
    let limits = (Decimal::ZERO, Decimal::from(10_000));
    let repeatability = form.number(&field("repeatability_g"), &typed.repeatability_g, limits, why);
    Some(BalanceRecord {
        name: Some(typed.name.trim().chars().take(120).collect::<String>()).filter(|name| !name.is_empty()),
        readability_g: readability?.value?,
        repeatability_g: repeatability.and_then(|it| it.value?.to_f64()),
        capacity_g: None,
        certificate: None,
    })
}

/// Keeps an entry, once, however often it is sent.
///
/// # Errors
/// What was typed cannot be kept, another entry has its identity, or the workspace refused.
pub async fn keep_entry(
    workspace: &Workspace,
    facts: &Facts,
    (who, day): (&str, Date),
    batch: Id<Batch>,
    (typed, photo): (&TypedEntry, Option<Vec<u8>>),
) -> Result<KeptOnce<BatchEntry>, KeepError> {
    let mut form = Form::default();
    let id = form.identity(&typed.id, false);
    let Some(id) = form.done(id)? else { return Err(taken().into()) };
    let records = gather_batch(workspace, batch).await?;
    let sent = typed.sent_sha256(photo.as_deref());
    if let Some(kept) = records.entries.iter().find(|entry| entry.id == id) {
        return if kept.what.sent_sha256 == sent {
            Ok(KeptOnce { kept: kept.clone(), already: true })
        } else {
            Err(StoreError::IdentityTaken { id: id.uuid() }.into())
        };
    }
    let now = workspace.clock().now();
    let (mut entry, photo) = typed::read_entry(facts, &records, now, typed, photo)?;
    correct_for_lot(workspace, facts, day, &records, &mut entry).await?;
    let same = |there: &BatchEntry| there.batch == batch && there.sent_sha256 == sent;
    Ok(workspace.keep_once(who, id, entry, (None, photo), same).await?)
}

/// Where a lot was taken that has another assay than the plan counted with: what the whole line should then weigh.
async fn correct_for_lot(
    workspace: &Workspace,
    facts: &Facts,
    day: Date,
    records: &BatchRecords,
    entry: &mut BatchEntry,
) -> Result<(), KeepError> {
    let Did::Weighed { line, lot: Some(lot), corrected_g, .. } = &mut entry.did else { return Ok(()) };
    *corrected_g = target_with_lot(workspace, facts, day, records, *line, &lot.code).await?;
    Ok(())
}

/// What a line should weigh with another lot than planned, in a batch of the planned size, g; none where nothing changes.
///
/// # Errors
/// The workspace cannot be read.
pub async fn target_with_lot(
    workspace: &Workspace,
    facts: &Facts,
    day: Date,
    records: &BatchRecords,
    line: usize,
    code: &str,
) -> Result<Option<Decimal>, KeepError> {
    let planned = &records.batch.what.plan;
    let Some(of) = planned.lines().into_iter().find(|of| of.number == line) else { return Ok(None) };
    let assay = |code: &str| lot_of(&records.lots, &of.material, code).and_then(plan::assay);
    if assay(code) == assay(&of.lot) {
        return Ok(None);
    }
    let version = workspace.version(records.trial.what.formula, planned.version).await?;
    let mut taken = records.trial.what.lots.clone();
    let at = line.saturating_sub(1);
    taken.retain(|taken| taken.line != at);
    taken.push(crate::records::LotTaken { line: at, material: of.material.clone(), code: code.to_owned() });
    let order = PlanOrder {
        facts,
        day,
        version: &version,
        size_g: Some(planned.size_g),
        balances: &planned.balances,
        lots: &records.lots,
        taken: &taken,
    };
    // Facts may have changed so that the version can no longer be planned: then the target stays what was frozen.
    let Ok(again) = plan(&order) else { return Ok(None) };
    let grams = again.lines().into_iter().find(|of| of.number == line).map(|of| of.grams);
    Ok(grams.filter(|grams| *grams != of.grams))
}

/// An undo as typed.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct TypedUndo {
    /// Identity of the undo, made on the device.
    pub id: String,
    /// The entry that is taken back, or the undo that is.
    pub entry: String,
    /// What the clock of the device said.
    pub at: String,
    /// Why.
    pub reason: String,
}

/// Takes an entry back; it stays on record. An undo is taken back the same way, and then the entry counts again.
///
/// # Errors
/// No such entry (it may not have arrived yet: send again), struck already, without a reason, or the workspace refused.
pub async fn undo(
    workspace: &Workspace,
    who: &str,
    batch: Id<Batch>,
    typed: &TypedUndo,
) -> Result<KeptOnce<BatchEntry>, KeepError> {
    let mut form = Form::default();
    let id = form.identity(&typed.id, false);
    let entry: Option<Id<BatchEntry>> = typed.entry.trim().parse().ok();
    if entry.is_none() {
        let what = format!("\"{}\" is not an entry", short(&typed.entry));
        form.fault("entry", &what, "an undo names what it takes back", "send the identity of the entry");
    }
    let why = "what was struck stays, and the reason stands beside it";
    let reason = form.needed("reason", &typed.reason, why, "write why in a few words: mistyped, wrong line");
    let device_time = form.moment(&typed.at).unwrap_or_else(|| workspace.clock().now());
    let (Some(id), Some(entry)) = form.done((id, entry))? else { return Err(taken().into()) };
    let sent = content_hash(serde_json::to_string(typed).unwrap_or_default().as_bytes());
    let same = |there: &BatchEntry| there.batch == batch && there.sent_sha256 == sent;
    let target = workspace.get(entry).await?;
    if target.what.batch != batch {
        return Err(StoreError::Missing { kind: Kind::BatchEntry, id: entry.to_string() }.into());
    }
    let signed: Vec<Kept<SignOff>> = workspace.of(batch).await?;
    let what = BatchEntry {
        device_time,
        sent_sha256: sent.clone(),
        after_sign_off: !signed.is_empty(),
        withdrawn: !target.what.withdrawn,
        ..target.what
    };
    let correction = Correction { supersedes: entry, reason };
    Ok(workspace.keep_once(who, id, what, (Some(correction), None), same).await?)
}

/// Puts an entry in the place of another, which stays on record.
///
/// # Errors
/// See [`keep_entry`] and [`undo`].
pub async fn correct_entry(
    workspace: &Workspace,
    facts: &Facts,
    (who, day): (&str, Date),
    batch: Id<Batch>,
    (entry, reason): (Id<BatchEntry>, &str),
    typed: &TypedEntry,
) -> Result<KeptOnce<BatchEntry>, KeepError> {
    let mut form = Form::default();
    let id = form.identity(&typed.id, false);
    let why = "what was struck stays, and the reason stands beside it";
    let reason = form.needed("reason", reason, why, "write why in a few words: misread, wrong line");
    let Some(id) = form.done(id)? else { return Err(taken().into()) };
    let records = gather_batch(workspace, batch).await?;
    let now = workspace.clock().now();
    let (mut what, _) = typed::read_entry(facts, &records, now, typed, None)?;
    correct_for_lot(workspace, facts, day, &records, &mut what).await?;
    // The same entry in the place of another, or for another reason, is another sending.
    let sent = content_hash(format!("{}\n{entry}\n{reason}", what.sent_sha256).as_bytes());
    what.sent_sha256.clone_from(&sent);
    let same = |there: &BatchEntry| there.batch == batch && there.sent_sha256 == sent;
    let correction = Correction { supersedes: entry, reason };
    Ok(workspace.keep_once(who, id, what, (Some(correction), None), same).await?)
}

/// The lots a batch was made from, line by line, the last one of each line.
#[must_use]
pub fn lots_of_lines(facts: &Facts, entries: &[Kept<BatchEntry>], all: &[Kept<Lot>]) -> Vec<LotOfLine> {
    let mut lots: BTreeMap<usize, LotOfLine> = BTreeMap::new();
    for one in in_order(entries) {
        if let Did::Weighed { line, material, lot: Some(lot), .. } = &one.entry.what.did {
            let active = facts.library.materials.get(material).is_some_and(|record| record.active.is_some());
            let on_file = lot_of(all, material, &lot.code).filter(|_| active);
            let assay_percent = on_file.and_then(plan::assay);
            lots.insert(*line, LotOfLine { line: *line, code: lot.code.clone(), assay_percent });
        }
    }
    lots.into_values().collect()
}

/// Under which a lot is traced: the identity of its first entry.
#[must_use]
pub fn lot_key(lots: &[Kept<Lot>], id: Id<Lot>) -> String {
    lot_root(lots, id).to_string()
}
