//! The record of a batch as a whole, as it is put on paper: plan, what was done, lots, readings against the brief, and what holds it.
//!
//! It stands for the moment of its last record, not for the moment it is printed: the same record is the same paper on any day.

use super::state::{BatchState, batch_state};
use super::{BatchRecords, gather_batch};
use crate::audit::entry_hash;
use crate::formula_file;
use crate::records::{Batch, Did, Id, Kept, Method, Plan, PlanLine, Reading, in_force};
use crate::sheet::Target;
use crate::store::StoreError;
use crate::workbench::keeping::{KeepError, Struck, struck};
use crate::workbench::lots::lot_of;
use crate::workbench::readings::name_of;
use crate::workbench::trials::against_target;
use crate::workspace::Workspace;
use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::Offset;
use levigate_facts::Facts;
use serde::Serialize;
use std::collections::BTreeMap;

/// A batch record.
#[derive(Clone, Debug, Serialize)]
pub struct BatchRecord {
    /// What was to be done.
    pub plan: Plan,
    /// What was done.
    pub state: BatchState,
    /// The lots that went in, in the order they were first taken.
    pub lots: Vec<LotInRecord>,
    /// What was read on the trial, against the brief.
    pub readings: Vec<ReadingInRecord>,
    /// What the brief asks for, in words.
    pub brief: Vec<String>,
    /// Names of the raw materials that went in besides, by key.
    pub names: BTreeMap<String, String>,
    /// What holds the record.
    pub seal: Seal,
    /// When its last record was kept.
    pub as_of: Timestamp,
}

/// A lot that went into a batch.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct LotInRecord {
    /// Numbers of the lines it was taken for; none for what went in besides.
    pub lines: Vec<usize>,
    /// Raw material.
    pub name: String,
    /// Code of the lot.
    pub code: String,
    /// It is on file.
    pub on_file: bool,
    /// Supplier.
    pub supplier: String,
    /// Assay as typed, percent.
    pub assay: String,
    /// Not to be used after.
    pub expiry: Option<Date>,
    /// To be tested again on.
    pub retest: Option<Date>,
}

/// A reading of the trial.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct ReadingInRecord {
    /// Number on the trial.
    pub number: u32,
    /// What was read.
    pub name: String,
    /// As typed, with the unit.
    pub value: String,
    /// Method and conditions, in words.
    pub conditions: String,
    /// The instrument.
    pub instrument: String,
    /// Who.
    pub who: String,
    /// When.
    pub when: Timestamp,
    /// What struck it out.
    pub struck: Option<Struck>,
    /// How it stands to the brief, in words; empty where the brief asks nothing of it.
    pub stands: String,
}

/// What holds a record together.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Seal {
    /// Records of the batch, signatures not counted.
    pub records: usize,
    /// Place of the last of them in the log of the workspace.
    pub place: u64,
    /// Link of the chain there.
    pub link: String,
    /// Places of records whose content no longer is what was written.
    pub broken: Vec<u64>,
    /// Whether what each signature covers still is what was signed, in the order of the signatures.
    pub signatures: Vec<bool>,
}

/// Gathers the record of a batch.
///
/// # Errors
/// There is no such batch, or the workspace cannot be read.
pub async fn batch_record(
    workspace: &Workspace,
    facts: &Facts,
    id: Id<Batch>,
) -> Result<BatchRecord, StoreError> {
    let records = gather_batch(workspace, id).await?;
    let trial = &records.trial.what;
    let readings: Vec<Kept<Reading>> = workspace.of(records.trial.id).await?;
    let version = workspace.version(trial.formula, trial.version).await?;
    let target =
        formula_file::read("formula", &version.what.text).map(|file| file.sheet.target).unwrap_or_default();
    let own = workspace.of_batch(&records.batch).await?;
    let mut signatures = Vec::new();
    for signed in &records.sign_offs {
        signatures.push(workspace.sign_off_holds(&records.batch, &signed.what).await?);
    }
    let broken = own
        .iter()
        .filter(|found| entry_hash(&found.entry, found.number) != found.hash)
        .map(|found| found.sequence)
        .collect();
    let last = own.last();
    let seal = Seal {
        records: own.len(),
        place: last.map_or(0, |found| found.sequence),
        link: last.map(|found| found.link.clone()).unwrap_or_default(),
        broken,
        signatures,
    };
    let signed = records.sign_offs.iter().map(|signed| signed.when);
    let as_of = own.iter().map(|found| found.entry.when).chain(signed).max().unwrap_or(records.batch.when);
    Ok(BatchRecord {
        plan: records.batch.what.plan.clone(),
        state: batch_state(&records, day_of(as_of)),
        lots: lots(facts, &records),
        readings: told(&readings, &target),
        brief: super::plan::checks(&target),
        names: names(facts, &records),
        seal,
        as_of,
    })
}

impl BatchRecord {
    /// The name of a raw material that went in besides.
    #[must_use]
    pub fn name_of(&self, key: &str) -> String {
        self.names.get(key).cloned().unwrap_or_else(|| key.to_owned())
    }
}

fn names(facts: &Facts, records: &BatchRecords) -> BTreeMap<String, String> {
    let keys = records.entries.iter().filter_map(|entry| match &entry.what.did {
        Did::Added { material, .. } => Some(material),
        _ => None,
    });
    keys.filter_map(|key| Some((key.clone(), facts.library.materials.get(key)?.name.clone()))).collect()
}

/// The day of a moment, in universal time.
#[must_use]
pub fn day_of(when: Timestamp) -> Date {
    Offset::UTC.to_datetime(when).date()
}

fn lots(facts: &Facts, records: &BatchRecords) -> Vec<LotInRecord> {
    let mut found: Vec<LotInRecord> = Vec::new();
    for entry in in_force(&records.entries).into_iter().filter(|entry| !entry.what.withdrawn) {
        let (line, key) = match &entry.what.did {
            Did::Weighed { line, material, .. } => (Some(*line), material.as_str()),
            Did::Added { material, .. } => (None, material.as_str()),
            _ => (None, "water"),
        };
        let Some(lot) = entry.what.did.lot() else { continue };
        let planned = planned_lines(&records.batch.what.plan).find(|planned| planned.material == key);
        let name = planned
            .map(|planned| planned.name.clone())
            .or_else(|| facts.library.materials.get(key).map(|record| record.name.clone()))
            .unwrap_or_else(|| key.to_owned());
        if let Some(known) = found.iter_mut().find(|known| known.code == lot.code && known.name == name) {
            known.lines.extend(line.filter(|line| !known.lines.contains(line)));
            continue;
        }
        let filed = lot_of(&records.lots, key, &lot.code).map(|lot| &lot.what);
        found.push(LotInRecord {
            lines: line.into_iter().collect(),
            name,
            code: lot.code.clone(),
            on_file: filed.is_some(),
            supplier: filed.map(|lot| lot.supplier.clone()).unwrap_or_default(),
            assay: filed
                .and_then(|lot| lot.assay_percent.as_ref())
                .map(|assay| assay.typed.clone())
                .unwrap_or_default(),
            expiry: filed.and_then(|lot| lot.expiry),
            retest: filed.and_then(|lot| lot.retest),
        });
    }
    found
}

/// Lines and portions of lines, in the order of the steps.
pub(super) fn planned_lines(plan: &Plan) -> impl Iterator<Item = &PlanLine> {
    plan.steps.iter().filter_map(|step| step.line.as_ref())
}

fn told(readings: &[Kept<Reading>], target: &Target) -> Vec<ReadingInRecord> {
    let strikes = struck(readings);
    let one = |kept: &Kept<Reading>| {
        let reading = &kept.what;
        let struck = strikes.get(&kept.id).cloned();
        ReadingInRecord {
            number: kept.number,
            name: name_of(&reading.quantity).to_owned(),
            value: [reading.value.typed.as_str(), reading.unit.as_str()].join(" ").trim().to_owned(),
            conditions: conditions(reading),
            instrument: reading.instrument.clone(),
            who: kept.who.clone(),
            when: kept.when,
            stands: if struck.is_some() { String::new() } else { against_target(reading, target) },
            struck,
        }
    };
    readings.iter().filter(|kept| !kept.what.withdrawn).map(one).collect()
}

/// Method, temperature, age and further conditions; what was not noted is said.
fn conditions(reading: &Reading) -> String {
    let method = match &reading.method {
        Method::Other(words) => words.clone(),
        method => String::from(method.clone()),
    };
    let temperature = reading
        .temperature_c
        .as_ref()
        .map_or_else(|| "temperature not noted".to_owned(), |celsius| format!("{} \u{00B0}C", celsius.typed));
    let age = reading
        .age_h
        .as_ref()
        .map_or_else(|| "age not noted".to_owned(), |hours| format!("{} h old", hours.typed));
    let more = reading.conditions.iter().map(|(name, value)| format!("{name} {value}"));
    let note = Some(reading.note.clone()).filter(|note| !note.is_empty());
    [method, temperature, age].into_iter().chain(more).chain(note).collect::<Vec<_>>().join(", ")
}

/// The same for a batch that may have been asked for by code, with the errors of typed input.
///
/// # Errors
/// See [`batch_record`].
pub async fn record_called(
    workspace: &Workspace,
    facts: &Facts,
    name: &str,
) -> Result<BatchRecord, KeepError> {
    let batch = super::batch_called(workspace, name).await?;
    Ok(batch_record(workspace, facts, batch.id).await?)
}
