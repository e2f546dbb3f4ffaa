//! A run, or a check batch, begun as a trial of a version with exactly its percents.

use super::{ExperimentRecords, TRIES, gather_experiment};
use crate::formula_file;
use crate::records::{Experiment, ExperimentBatch, FormulaVersion, Id, Kept, TypedNumber};
use crate::store::StoreError;
use crate::workbench::keeping::{FieldFault, Form, KeepError};
use crate::workbench::trials::{TypedLotTaken, TypedTrial, read_trial};
use crate::workspace::{Save, VersionText, Workspace};
use levigate_formula::sheet::Amount;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

/// A batch to begin, as typed.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct TypedMaking {
    /// Number of the run; none for a check batch.
    pub run: Option<u32>,
    /// Percents of a check batch, one for every part.
    pub percent: Vec<String>,
    /// Settings of a check batch.
    pub settings: Vec<String>,
    /// Batch size; that of the formula when empty.
    pub size: String,
    /// Its unit; grams when empty.
    pub unit: String,
    /// The day, ISO; the day of the entry when empty.
    pub made: String,
}

/// Begins a run or a check batch: a version with its percents where there is none yet, a trial of it, and the mark that it is of this
/// experiment; all of it or nothing. Of an experiment without a formula the mark alone.
///
/// # Errors
/// What was typed cannot be, the run was begun already, or the workspace refused.
pub async fn make_run(
    workspace: &Workspace,
    (who, data_version): (&str, &str),
    experiment: Id<Experiment>,
    typed: &TypedMaking,
) -> Result<Kept<ExperimentBatch>, KeepError> {
    for _ in 0..TRIES {
        let records = gather_experiment(workspace, experiment).await?;
        let batch = read_batch(&records, typed)?;
        let Some(of) = records.plan().of else {
            return Ok(workspace.add(who, batch).await?);
        };
        let versions: Vec<Kept<FormulaVersion>> = workspace.of(of.formula).await?;
        let Some(base) = versions.iter().find(|version| version.number == of.version) else {
            let kind = crate::records::Kind::FormulaVersion;
            return Err(StoreError::Missing { kind, id: of.version.to_string() }.into());
        };
        let newest = versions.iter().map(|version| version.number).max().unwrap_or(of.version);
        let words = words_of(records.plan(), &batch);
        let text = text_of(&records, base, &batch)?;
        let same = versions.iter().find(|version| version.what.text == text);
        let title = match batch.run {
            Some(run) => {
                format!("Run {run} of experiment {}, {}", records.root().number, records.plan().name)
            }
            None => {
                format!("{} of experiment {}, {}", batch.check, records.root().number, records.plan().name)
            }
        };
        let save = same.is_none().then(|| Save {
            formula: of.formula,
            based_on: newest,
            parent: of.version,
            version: VersionText {
                text: text.clone(),
                reason: format!("{title}: {}", words.0),
                engine_version: env!("CARGO_PKG_VERSION").to_owned(),
                data_version: data_version.to_owned(),
            },
            tab: None,
        });
        let trial = TypedTrial {
            version: same.map_or(of.version, |version| version.number),
            changed: format!("{title}: {}", words.0),
            size: typed.size.clone(),
            unit: typed.unit.clone(),
            process: words.1,
            made: typed.made.clone(),
            lots: Vec::<TypedLotTaken>::new(),
            ..TypedTrial::default()
        };
        let trial = read_trial(same.unwrap_or(base), &trial)?;
        match workspace.begin_run(who, save, trial, batch).await {
            Err(StoreError::Moved { .. }) => {}
            kept => return Ok(kept?),
        }
    }
    Err(crate::workbench::readings_table::busy())
}

fn read_batch(records: &ExperimentRecords, typed: &TypedMaking) -> Result<ExperimentBatch, KeepError> {
    let plan = records.plan();
    let mut form = Form::default();
    if plan.withdrawn {
        form.fault(
            "run",
            "the experiment was given up",
            "nothing is made for it any more",
            "plan another one",
        );
    }
    let batch = ExperimentBatch {
        experiment: records.root().id,
        run: typed.run,
        check: String::new(),
        percent: Vec::new(),
        settings: Vec::new(),
        version: None,
        trial: None,
    };
    if let Some(number) = typed.run {
        if records.batch_of(&number.to_string()).is_some() {
            let what = format!("run {number} was begun already");
            form.fault(
                "run",
                &what,
                "each run of the sheet is made once; a repeat stands there as a run of its own",
                "go to its trial",
            );
        }
        let Some(run) = plan.runs.iter().find(|run| run.number == number) else {
            let what = format!("there is no run {number}");
            form.fault(
                "run",
                &what,
                "the sheet says what is made",
                &format!("choose one from 1 to {}", plan.runs.len()),
            );
            return form.done(batch);
        };
        return form.done(ExperimentBatch {
            percent: run.percent.clone(),
            settings: run.settings.clone(),
            ..batch
        });
    }
    let (percent, settings) = read_blend(&mut form, plan, &typed.percent, &typed.settings);
    let check = format!("check {}", records.checks().count() + 1);
    form.done(ExperimentBatch { check, percent, settings, ..batch })
}

/// A blend with its settings as typed: percents that add up to what the parts make together.
pub(super) fn read_blend(
    form: &mut Form,
    plan: &Experiment,
    percent: &[String],
    settings: &[String],
) -> (Vec<Decimal>, Vec<Decimal>) {
    let mut level = |field: String, name: &str, text: Option<&String>| {
        let text = text.map(String::as_str).unwrap_or_default();
        let number = TypedNumber::read_either(text).value;
        if number.is_none() {
            let what = if text.trim().is_empty() {
                format!("{name} is empty")
            } else {
                format!("\"{text}\" is not a number for {name}")
            };
            form.fault(&field, &what, "a blend has a level for everything that is varied", "type a number");
        }
        number.unwrap_or_default()
    };
    let mut shares: Vec<Decimal> = plan
        .parts
        .iter()
        .enumerate()
        .map(|(at, part)| level(format!("percent.{at}"), &part.name, percent.get(at)))
        .collect();
    let settings: Vec<Decimal> = plan
        .settings
        .iter()
        .enumerate()
        .map(|(at, one)| level(format!("settings.{at}"), &one.name, settings.get(at)))
        .collect();
    let total = plan.total_percent.value.unwrap_or_default();
    let left = total - shares.iter().sum::<Decimal>();
    // What rounding to a few digits leaves is taken up by the largest part.
    if left.abs() <= total * Decimal::new(5, 4) {
        if let Some(largest) = shares.iter_mut().max() {
            *largest += left;
        }
    } else {
        let what =
            format!("the parts make {} % together, not {} %", (total - left).normalize(), total.normalize());
        form.fault(
            "percent.0",
            &what,
            "what the parts make together is held",
            &format!(
                "{} % are {}",
                left.abs().normalize(),
                if left > Decimal::ZERO { "missing" } else { "too much" }
            ),
        );
    }
    if shares.iter().any(|share| *share < Decimal::ZERO) {
        form.fault(
            "percent.0",
            "a part is below zero",
            "nothing is taken out of a mixture",
            "type percents of zero or more",
        );
    }
    (shares.into_iter().map(|share| share.normalize()).collect(), settings)
}

/// Percents in words, and the settings in words.
fn words_of(plan: &Experiment, batch: &ExperimentBatch) -> (String, String) {
    let parts =
        plan.parts.iter().zip(&batch.percent).map(|(part, percent)| format!("{} {percent} %", part.name));
    let settings = plan.settings.iter().zip(&batch.settings).map(|(one, level)| {
        let unit = if one.unit.is_empty() { String::new() } else { format!(" {}", one.unit) };
        format!("{} {level}{unit}", one.name)
    });
    (parts.collect::<Vec<_>>().join(", "), settings.collect::<Vec<_>>().join("; "))
}

/// The text of the version with the percents of a batch in their lines; what is left goes to the line that takes up the rest.
fn text_of(
    records: &ExperimentRecords,
    base: &Kept<FormulaVersion>,
    batch: &ExperimentBatch,
) -> Result<String, KeepError> {
    let broken = |what: &str| {
        KeepError::from(FieldFault::new("run", what, "a run is made from its lines", "save the version anew"))
    };
    let mut file = formula_file::read("formula", &base.what.text)
        .map_err(|_| broken("the version of this experiment cannot be read"))?;
    let mut lines: Vec<_> = file.sheet.phases.iter_mut().flat_map(|phase| &mut phase.lines).collect();
    for (part, percent) in records.plan().parts.iter().zip(&batch.percent) {
        let Some(line) = part.line.and_then(|at| lines.get_mut(at)) else {
            return Err(broken(&format!("{} has no line in the version", part.name)));
        };
        match &mut line.amount {
            Amount::Percent(own) | Amount::ActivePercent(own) => *own = *percent,
            // What takes up the rest follows from the others.
            _ => {}
        }
    }
    formula_file::write(&file.sheet, file.own_facts.as_deref())
        .map_err(|_| broken("the version with these percents cannot be written"))
}
