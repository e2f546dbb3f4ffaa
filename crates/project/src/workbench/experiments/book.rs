//! One experiment as it stands: its run sheet, what was made and read, changes of its plan; and the list of all.

use super::typed::{TypedExperiment, typed_experiment};
use super::{ExperimentRecords, gather_experiments};
use crate::records::{ExperimentBatch, ExperimentReading, Kept};
use crate::store::StoreError;
use crate::workbench::keeping::{Struck, corrects, struck};
use crate::workspace::Workspace;
use jiff::Timestamp;
use levigate_measure::{Grade, Outcome};
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive as _;
use serde::Serialize;

/// An experiment in the list.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ExperimentCard {
    /// Its first record.
    pub id: String,
    /// Number.
    pub number: u32,
    /// Name.
    pub name: String,
    /// Formula; empty where parts are named freely.
    pub formula: String,
    /// Identity of the formula.
    pub formula_id: String,
    /// Version; 0 without a formula.
    pub version: u32,
    /// Parts by name.
    pub parts: Vec<String>,
    /// Settings by name.
    pub settings: Vec<String>,
    /// What is read.
    pub reads: Vec<String>,
    /// Runs on the sheet.
    pub planned: usize,
    /// Runs with every reading.
    pub whole: usize,
    /// How it stands, in words.
    pub stands: String,
    /// It was given up.
    pub given_up: bool,
}

/// A change of the plan.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ExperimentChange {
    /// Why.
    pub reason: String,
    /// Who.
    pub who: String,
    /// When.
    pub when: Timestamp,
    /// The experiment was given up with it.
    pub given_up: bool,
}

/// The batch a run was made as.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct BatchTold {
    /// The trial; empty without a formula.
    pub trial: String,
    /// Its number; 0 without a formula.
    pub trial_number: u32,
    /// Version that was made; 0 without a formula.
    pub version: u32,
    /// Who began it.
    pub who: String,
    /// When.
    pub when: Timestamp,
}

/// A run, or a check batch, as it stands.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RunTold {
    /// Number, or name of the check batch.
    pub run: String,
    /// Block; none where there is one only.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub block: Option<u32>,
    /// Percent of every part, to the last digit.
    pub percent: Vec<String>,
    /// Level of every setting.
    pub settings: Vec<String>,
    /// What it was made as.
    pub batch: Option<BatchTold>,
    /// What was read, one for every reading of the plan; nothing where it was not.
    pub read: Vec<Option<ReadingTold>>,
}

/// A reading as it stands.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ReadingTold {
    /// Identity.
    pub id: String,
    /// Number in the experiment.
    pub number: u32,
    /// Run.
    pub run: String,
    /// What was read.
    pub name: String,
    /// Unit.
    pub unit: String,
    /// Replicates as typed, parted by semicolons.
    pub typed: String,
    /// Their mean.
    pub mean: Outcome,
    /// Remark.
    pub note: String,
    /// Who.
    pub who: String,
    /// When it was kept.
    pub when: Timestamp,
    /// Number of the reading it stands in place of.
    pub corrects: Option<u32>,
    /// What struck it.
    pub struck: Option<Struck>,
}

/// An experiment as it stands.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ExperimentBook {
    /// Head.
    #[serde(flatten)]
    pub card: ExperimentCard,
    /// What it shall tell.
    pub why: String,
    /// The plan as it stands, as it would be typed again.
    pub typed: TypedExperiment,
    /// The run sheet, in the order to make them.
    pub runs: Vec<RunTold>,
    /// Check batches.
    pub checks: Vec<RunTold>,
    /// All readings, the newest last.
    pub readings: Vec<ReadingTold>,
    /// Changes of the plan, the newest last.
    pub changes: Vec<ExperimentChange>,
    /// What should be done first.
    pub first: String,
}

/// Mean of the replicates of a reading; nothing where one is no number.
pub(super) fn mean_of(reading: &ExperimentReading) -> Option<f64> {
    let values: Option<Vec<Decimal>> = reading.values.iter().map(|value| value.value).collect();
    let values = values.filter(|values| !values.is_empty())?;
    (values.iter().sum::<Decimal>() / Decimal::from(values.len())).to_f64()
}

fn reading_told(records: &ExperimentRecords, kept: &Kept<ExperimentReading>) -> ReadingTold {
    let what = &kept.what;
    let unit = records.plan().reads.iter().find(|read| read.name == what.read).map(|read| read.unit.clone());
    let unit = unit.unwrap_or_default();
    let typed: Vec<&str> = what.values.iter().map(|value| value.typed.as_str()).collect();
    let method = "mean of the replicates as typed";
    ReadingTold {
        id: kept.id.to_string(),
        number: kept.number,
        run: what.run.clone(),
        name: what.read.clone(),
        mean: mean_of(what).map_or_else(
            || Outcome::refuse(unit.clone(), method, "it is no number"),
            |mean| Outcome::new(mean, unit.clone(), Grade::Measured, method),
        ),
        unit,
        typed: typed.join("; "),
        note: what.note.clone(),
        who: kept.who.clone(),
        when: kept.when,
        corrects: corrects(&records.readings, kept),
        struck: None,
    }
}

fn run_told(
    records: &ExperimentRecords,
    (run, block): (String, Option<u32>),
    levels: (&[Decimal], &[Decimal]),
) -> RunTold {
    let text = |list: &[Decimal]| list.iter().map(|one| one.normalize().to_string()).collect();
    let batch = records.batch_of(&run).map(|kept| batch_told(records, kept));
    let reads = records.plan().reads.iter();
    let read = reads
        .map(|read| {
            let mut counted = records.counted();
            let kept = counted.find(|kept| kept.what.run == run && kept.what.read == read.name)?;
            Some(reading_told(records, kept))
        })
        .collect();
    RunTold { run, block, percent: text(levels.0), settings: text(levels.1), batch, read }
}

fn batch_told(records: &ExperimentRecords, kept: &Kept<ExperimentBatch>) -> BatchTold {
    let trial = kept.what.trial;
    BatchTold {
        trial: trial.map(|id| id.to_string()).unwrap_or_default(),
        trial_number: trial.and_then(|id| records.trials.get(&id).copied()).unwrap_or(0),
        version: kept.what.version.unwrap_or(0),
        who: kept.who.clone(),
        when: kept.when,
    }
}

fn card(records: &ExperimentRecords) -> ExperimentCard {
    let (root, plan) = (records.root(), records.plan());
    let read = |run: u32| {
        let run = run.to_string();
        let there = |name: &str| records.counted().any(|kept| kept.what.run == run && kept.what.read == name);
        plan.reads.iter().filter(|read| there(&read.name)).count()
    };
    let whole = plan.runs.iter().filter(|run| read(run.number) == plan.reads.len()).count();
    let some = plan.runs.iter().filter(|run| read(run.number) > 0).count();
    let stands = if plan.withdrawn {
        "given up".to_owned()
    } else if whole == plan.runs.len() {
        "every run is read".to_owned()
    } else if some == 0 && records.batches.is_empty() {
        "not begun".to_owned()
    } else {
        format!("{some} of {} runs read", plan.runs.len())
    };
    ExperimentCard {
        id: root.id.to_string(),
        number: root.number,
        name: plan.name.clone(),
        formula: records.formula.as_ref().map(|kept| kept.what.name.clone()).unwrap_or_default(),
        formula_id: records.formula.as_ref().map(|kept| kept.id.to_string()).unwrap_or_default(),
        version: plan.of.map_or(0, |of| of.version),
        parts: plan.parts.iter().map(|part| part.name.clone()).collect(),
        settings: plan.settings.iter().map(|one| one.name.clone()).collect(),
        reads: plan.reads.iter().map(|one| one.name.clone()).collect(),
        planned: plan.runs.len(),
        whole,
        stands,
        given_up: plan.withdrawn,
    }
}

/// All experiments, the newest in front.
///
/// # Errors
/// The workspace cannot be read.
pub async fn experiment_cards(workspace: &Workspace) -> Result<Vec<ExperimentCard>, StoreError> {
    Ok(gather_experiments(workspace).await?.iter().rev().map(card).collect())
}

/// An experiment as it stands.
#[must_use]
pub fn experiment_book(records: &ExperimentRecords) -> ExperimentBook {
    let plan = records.plan();
    let struck = struck(&records.readings);
    let readings = records
        .readings
        .iter()
        .filter(|kept| !kept.what.withdrawn)
        .map(|kept| ReadingTold { struck: struck.get(&kept.id).cloned(), ..reading_told(records, kept) });
    let runs: Vec<RunTold> = plan
        .runs
        .iter()
        .map(|run| run_told(records, (run.number.to_string(), run.block), (&run.percent, &run.settings)))
        .collect();
    let checks = records.checks().map(|kept| {
        run_told(records, (kept.what.check.clone(), None), (&kept.what.percent, &kept.what.settings))
    });
    let change = |kept: &Kept<crate::records::Experiment>| {
        let reason = kept.corrects.as_ref()?.reason.clone();
        Some(ExperimentChange {
            reason,
            who: kept.who.clone(),
            when: kept.when,
            given_up: kept.what.withdrawn,
        })
    };
    ExperimentBook {
        first: first(records, &runs),
        card: card(records),
        why: plan.why.clone(),
        typed: typed_experiment(plan),
        checks: checks.collect(),
        readings: readings.collect(),
        changes: records.plans.iter().filter_map(change).collect(),
        runs,
    }
}

fn first(records: &ExperimentRecords, runs: &[RunTold]) -> String {
    if records.plan().withdrawn {
        return "Given up; what was made and read stays to be seen.".to_owned();
    }
    let missing = |run: &&RunTold| run.read.iter().any(Option::is_none);
    let Some(next) = runs.iter().find(missing) else {
        return "Every run is read: what they say stands below.".to_owned();
    };
    let blends: Vec<String> = records
        .plan()
        .parts
        .iter()
        .zip(&next.percent)
        .map(|(part, percent)| format!("{} {percent} %", part.name))
        .collect();
    let verb = if next.batch.is_some() { "Read next" } else { "Make next" };
    format!("{verb}: run {}, {}.", next.run, blends.join(", "))
}
