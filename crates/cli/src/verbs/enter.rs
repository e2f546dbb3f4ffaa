//! `enter`: a trial, a reading, an observation, a flow curve, a challenge test or a lot written into a workspace.

use crate::answer::{Answer, Failure};
use crate::arguments::{
    By, Common, Enter, EnterChallenge, EnterCurve, EnterLot, EnterObservation, EnterReading, EnterTrial,
    Entry,
};
use crate::input::InputBytes;
use crate::shelf::{Shelf, Want, block_on, not_kept, refused, who};
use crate::verbs::flow::fit::question;
use levigate_project::bringing::count_table;
use levigate_project::records::{Formula, FormulaVersion, Kept, PHOTO_LIMIT_BYTES};
use levigate_project::workbench::challenge_tests::{
    TypedChallenge, faults_of_table, keep_challenge, typed_of_table,
};
use levigate_project::workbench::curves::{MeasuredFile, TypedCurve, keep_curve};
use levigate_project::workbench::keeping::KeepError;
use levigate_project::workbench::lots::{TypedCoaValue, TypedLot, keep_lot};
use levigate_project::workbench::readings::{TypedObservation, TypedReading, add_reading, observe};
use levigate_project::workbench::trials::{TypedLotTaken, TypedTrial, begin_trial, trial_numbered};
use serde::Serialize;
use std::collections::BTreeMap;
use std::io::Read;
use std::path::Path;

#[derive(Serialize)]
struct Entered<'a> {
    what: &'static str,
    id: String,
    number: u32,
    who: &'a str,
}

/// Enters what was typed.
pub(crate) fn enter(common: &Common, asked: &Enter) -> Result<Answer, Failure> {
    block_on(async {
        match &asked.what {
            Entry::Trial(asked) => trial(common, asked).await,
            Entry::Reading(asked) => reading(common, asked).await,
            Entry::Observation(asked) => observation(common, asked).await,
            Entry::Curve(asked) => curve(common, asked).await,
            Entry::Challenge(asked) => challenge(common, asked).await,
            Entry::Lot(asked) => lot(common, asked).await,
        }
    })
}

fn told<T>(common: &Common, what: &'static str, kept: &Kept<T>, words: &str) -> Result<Answer, Failure> {
    if common.json {
        return Answer::json(&Entered { what, id: kept.id.to_string(), number: kept.number, who: &kept.who });
    }
    Ok(Answer::text(format!("{words}\n")))
}

async fn at(common: &Common, by: &By) -> Result<(Shelf, String), Failure> {
    let shelf = Shelf::open(common, &by.place, Want::Write).await?;
    let who = who(by.who.as_ref(), shelf.sample);
    Ok((shelf, who))
}

async fn trial(common: &Common, asked: &EnterTrial) -> Result<Answer, Failure> {
    let (shelf, who) = at(common, &asked.by).await?;
    let formula = shelf.formula(&asked.formula).await?;
    let newest = newest(&shelf, &formula).await?;
    let unit_at = asked.size.find(|sign: char| sign.is_alphabetic()).unwrap_or(asked.size.len());
    let (size, unit) = asked.size.split_at(unit_at);
    let mut typed = TypedTrial {
        version: asked.version.unwrap_or(newest),
        changed: asked.changed.clone(),
        size: size.trim().to_owned(),
        unit: unit.trim().to_owned(),
        process: asked.process.clone(),
        made: asked.made.clone(),
        ..TypedTrial::default()
    };
    if let Some(number) = asked.copy {
        let before = trial_numbered(&shelf.workspace, formula.id, number).await;
        let before = before.map_err(|error| refused(&error))?;
        typed.parent = before.id.to_string();
        if let (true, Some(batch)) = (typed.size.is_empty(), &before.what.batch_size) {
            (typed.size, typed.unit) = (batch.size.typed.clone(), batch.unit.clone());
        }
        if typed.process.is_empty() {
            typed.process.clone_from(&before.what.process);
        }
        // Lines of another version may stand elsewhere; then the lots are named anew.
        if before.what.version == typed.version {
            let taken = before.what.lots.iter();
            typed.lots = taken.map(|lot| TypedLotTaken { line: lot.line, code: lot.code.clone() }).collect();
        }
    }
    for text in &asked.lots {
        let (line, code) = pair("--lot", text, "write it like 8=MA-2608-14")?;
        let line = line.parse::<usize>().ok().and_then(|line| line.checked_sub(1)).ok_or_else(|| {
            let what = format!("\"{line}\" is not the number of a line");
            Failure::bad_option("not-a-line", "--lot", what, "lines are counted from 1, as on the sheet")
        })?;
        typed.lots.retain(|lot| lot.line != line);
        typed.lots.push(TypedLotTaken { line, code: code.to_owned() });
    }
    let kept = begin_trial(&shelf.workspace, &who, formula.id, &typed).await;
    let kept = kept.map_err(|error| not_kept(&error))?;
    let words = format!("Trial {} of {}, version {}.", kept.number, formula.what.name, kept.what.version);
    told(common, "trial", &kept, &words)
}

async fn reading(common: &Common, asked: &EnterReading) -> Result<Answer, Failure> {
    let (shelf, who) = at(common, &asked.by).await?;
    let formula = shelf.formula(&asked.formula).await?;
    let trial = trial_numbered(&shelf.workspace, formula.id, asked.trial).await;
    let trial = trial.map_err(|error| refused(&error))?;
    let mut conditions = BTreeMap::new();
    for text in &asked.conditions {
        let (name, value) = pair("--condition", text, "write it like speed=20rpm")?;
        conditions.insert(name.to_owned(), value.to_owned());
    }
    let typed = TypedReading {
        quantity: asked.quantity.clone(),
        value: asked.value.clone(),
        unit: asked.unit.clone(),
        method: asked.method.clone(),
        temperature_c: asked.temperature.clone(),
        age: asked.age.clone(),
        instrument: asked.instrument.clone(),
        conditions,
        note: asked.note.clone(),
        ..TypedReading::default()
    };
    let kept = add_reading(&shelf.workspace, &who, trial.id, &typed).await;
    let kept = kept.map_err(|error| not_kept(&error))?.kept;
    let words = format!(
        "Reading {} on trial {}: {} {} {}",
        kept.number, trial.number, kept.what.quantity, kept.what.value.typed, kept.what.unit
    );
    told(common, "reading", &kept, words.trim_end())
}

async fn observation(common: &Common, asked: &EnterObservation) -> Result<Answer, Failure> {
    let photo = asked.photo.as_deref().map(photo_bytes).transpose()?;
    let (shelf, who) = at(common, &asked.by).await?;
    let formula = shelf.formula(&asked.formula).await?;
    let trial = trial_numbered(&shelf.workspace, formula.id, asked.trial).await;
    let trial = trial.map_err(|error| refused(&error))?;
    let typed = TypedObservation {
        text: asked.text.clone(),
        shows: asked.shows.clone(),
        ..TypedObservation::default()
    };
    let kept = observe(&shelf.workspace, &who, trial.id, &typed, photo).await;
    let kept = kept.map_err(|error| not_kept(&error))?.kept;
    let mut words = format!("Observation {} on trial {}.", kept.number, trial.number);
    if !kept.what.taken_out.is_empty() {
        words.push_str(&format!(" Taken out of the photo's file: {}.", kept.what.taken_out.join(", ")));
    }
    told(common, "observation", &kept, &words)
}

async fn curve(common: &Common, asked: &EnterCurve) -> Result<Answer, Failure> {
    let typed = TypedCurve {
        asked: question(&asked.model, &asked.table)?,
        curve: asked.curve.clone(),
        model: asked.model.clone(),
        temperature_c: asked.temperature.clone(),
        age: asked.age.clone(),
        instrument: asked.instrument.clone(),
        geometry: asked.geometry.clone(),
        waiting: asked.waiting.clone(),
        note: asked.note.clone(),
        ..TypedCurve::default()
    };
    let input = InputBytes::measured(&asked.file)?;
    let name = if input.name == "-" { String::new() } else { input.name };
    let file = MeasuredFile { name, bytes: input.bytes };
    let (shelf, who) = at(common, &asked.by).await?;
    let formula = shelf.formula(&asked.formula).await?;
    let trial = trial_numbered(&shelf.workspace, formula.id, asked.trial).await;
    let trial = trial.map_err(|error| refused(&error))?;
    let kept = keep_curve(&shelf.workspace, &shelf.facts, &who, trial.id, &file, &typed).await;
    let kept = kept.map_err(|error| not_kept(&error))?.kept;
    let words = match &kept.what.recovery {
        None => {
            format!("Flow curve {} on trial {}: {} points.", kept.number, trial.number, kept.what.count())
        }
        Some(_) => format!(
            "Recovery {} on trial {}: {} readings over time.",
            kept.number,
            trial.number,
            kept.what.count()
        ),
    };
    told(common, "curve", &kept, &words)
}

fn photo_bytes(path: &Path) -> Result<Vec<u8>, Failure> {
    let mut bytes = Vec::new();
    let most = u64::try_from(PHOTO_LIMIT_BYTES).unwrap_or(u64::MAX).saturating_add(1);
    let read = std::fs::File::open(path).and_then(|file| file.take(most).read_to_end(&mut bytes));
    read.map_err(|error| {
        let what = format!("{} cannot be read: {error}", path.display());
        Failure::could_not("unreadable-file", what, "check the name")
    })?;
    Ok(bytes)
}

async fn challenge(common: &Common, asked: &EnterChallenge) -> Result<Answer, Failure> {
    let input = InputBytes::measured(&asked.file)?;
    let table = count_table(&input.name, &input.bytes).map_err(|problems| {
        let text = std::str::from_utf8(&input.bytes).ok();
        Failure::bad_input(problems, text.map(|text| (input.name.as_str(), text)))
    })?;
    let (shelf, who) = at(common, &asked.by).await?;
    let formula = shelf.formula(&asked.formula).await?;
    let mut typed = TypedChallenge {
        version: asked.version.unwrap_or(newest(&shelf, &formula).await?),
        sample: asked.sample.clone(),
        laboratory: asked.laboratory.clone(),
        started: asked.started.clone(),
        method: asked.method.clone(),
        ph: asked.ph.clone(),
        age: asked.age.clone(),
        unit: asked.unit.clone(),
        recovered_percent: asked.recovered.clone(),
        alone_percent: asked.alone.clone(),
        note: asked.note.clone(),
        ..typed_of_table(&table)
    };
    if let Some(number) = asked.trial {
        let trial = trial_numbered(&shelf.workspace, formula.id, number).await;
        typed.trial = trial.map_err(|error| refused(&error))?.id.to_string();
    }
    let kept =
        keep_challenge(&shelf.workspace, &who, formula.id, &typed).await.map_err(|error| match error {
            KeepError::Typed(_) => Failure::bad_input(faults_of_table(&input.name, &table, error), None),
            KeepError::Store(error) => refused(&error),
        })?;
    let kept = kept.kept;
    let words = format!(
        "Challenge test {} of {}, version {}: {} organisms on {} days.",
        kept.number,
        formula.what.name,
        kept.what.version,
        kept.what.organisms.len(),
        kept.what.days.len()
    );
    told(common, "challenge-test", &kept, &words)
}

/// Number of the newest saved version; none is zero.
async fn newest(shelf: &Shelf, formula: &Kept<Formula>) -> Result<u32, Failure> {
    let versions: Vec<Kept<FormulaVersion>> =
        shelf.workspace.of(formula.id).await.map_err(|error| refused(&error))?;
    Ok(versions.last().map_or(0, |version| version.number))
}

async fn lot(common: &Common, asked: &EnterLot) -> Result<Answer, Failure> {
    let (shelf, who) = at(common, &asked.by).await?;
    let mut certificate = Vec::new();
    for text in &asked.certificate {
        let (name, value) = pair("--certificate", text, "write it like \"Loss on drying=0.3 %\"")?;
        let (value, limits) = match value.strip_suffix(']').and_then(|value| value.rsplit_once('[')) {
            Some((value, limits)) => (value.trim(), limits.split_once("..").unwrap_or(("", limits))),
            None => (value, ("", "")),
        };
        let (value, unit) = value.split_once(' ').unwrap_or((value, ""));
        certificate.push(TypedCoaValue {
            name: name.to_owned(),
            value: value.to_owned(),
            unit: unit.trim().to_owned(),
            least: limits.0.trim().to_owned(),
            most: limits.1.trim().to_owned(),
        });
    }
    let digits = asked.quantity.find(|sign: char| sign.is_alphabetic()).unwrap_or(asked.quantity.len());
    let (quantity, unit) = asked.quantity.split_at(digits);
    let typed = TypedLot {
        material: asked.material.clone(),
        code: asked.code.clone(),
        supplier: asked.supplier.clone(),
        assay_percent: asked.assay.clone(),
        quantity: quantity.trim().to_owned(),
        quantity_unit: unit.trim().to_owned(),
        location: asked.location.clone(),
        received: asked.received.clone(),
        expiry: asked.expiry.clone(),
        retest: asked.retest.clone(),
        certificate,
        documents: asked.documents.join("\n"),
        note: asked.note.clone(),
    };
    let kept = keep_lot(&shelf.workspace, &shelf.facts, &who, &typed, None).await;
    let kept = kept.map_err(|error| not_kept(&error))?;
    let words = format!("Lot {} of {}.", kept.what.code, kept.what.material);
    told(common, "lot", &kept, &words)
}

fn pair<'t>(option: &str, text: &'t str, what_now: &str) -> Result<(&'t str, &'t str), Failure> {
    match text.split_once('=') {
        Some((name, value)) if !name.trim().is_empty() => Ok((name.trim(), value.trim())),
        _ => {
            let what = format!("\"{text}\" has no equals sign with a name before it");
            Err(Failure::bad_option("not-a-pair", option, what, what_now))
        }
    }
}
