//! `batch enter`, `batch sign`, `batch advise`, `batch course`: what the page at the beaker does, from a file.

use crate::answer::{Answer, Failure};
use crate::arguments::{BatchAdvise, BatchCourse, BatchEnter, BatchSign, Common};
use crate::input::{FactsUsed, Input};
use crate::paper::{Lean, Look, Paper};
use crate::shelf::{Shelf, Want, block_on, not_kept, refused, who};
use crate::verbs::making::{adjust, lethality};
use crate::verbs::tables::results;
use crate::verbs::{day, people};
use levigate_measure::Outcome;
use levigate_project::workbench::batch::{
    BenchAdvice, EnteredAll, TemperatureCourse, TypedSignOff, TypedVessel, adjusting_step, advise as advice,
    batch_called, batch_state, enter_all, gather_batch, gather_beaker, keep_log, read_entries,
    sign_with_password, temperature_course,
};
use levigate_project::workbench::people::roll;
use serde::Serialize;

#[derive(Serialize)]
struct Entered<'a> {
    who: &'a str,
    #[serde(flatten)]
    all: &'a EnteredAll,
}

/// Keeps what a file holds, all of it or nothing.
pub(super) fn enter(common: &Common, asked: &BatchEnter, look: Look) -> Result<Answer, Failure> {
    let input = Input::read(&asked.file)?;
    let file = read_entries(input.pair()).map_err(|problems| input.refused(problems))?;
    block_on(async {
        let shelf = Shelf::open(common, &asked.by.place, Want::Write).await?;
        let who = who(asked.by.who.as_ref(), shelf.sample);
        let by = (who.as_str(), day(None));
        let all = enter_all(&shelf.workspace, &shelf.facts, by, &asked.batch, &file).await;
        let all = all.map_err(|error| not_kept(&error))?;
        if common.json {
            return Answer::json(&Entered { who: &who, all: &all });
        }
        let mut paper = Paper::new(look);
        rows(&mut paper, &all);
        match &all.next {
            Some(next) => paper.hanging(0, &format!("next, step {}:", next.number), &next.text),
            None => paper.paragraph(0, "Every step is done or left out."),
        }
        Ok(Answer::text(paper.finish()))
    })
}

fn rows(paper: &mut Paper, all: &EnteredAll) {
    let rows: Vec<Vec<String>> = all
        .kept
        .iter()
        .map(|row| {
            vec![
                row.what.replace('_', " "),
                row.number.to_string(),
                if row.already { "was kept before" } else { "kept" }.to_owned(),
                row.line.map(|line| format!("line {line}: {}", row.verdict)).unwrap_or_default(),
            ]
        })
        .collect();
    let heads = [("", Lean::Left), ("No.", Lean::Right), ("", Lean::Left), ("Stands", Lean::Left)];
    paper.columns(&heads, &rows);
    for row in all.kept.iter().filter(|row| !row.slip.is_empty()) {
        paper.hanging(2, "look:", &row.slip);
    }
}

#[derive(Serialize)]
struct Signed<'a> {
    id: String,
    batch: &'a str,
    who: &'a str,
    signed_as: &'static str,
    known_by: &'a str,
    records: usize,
    content_sha256: &'a str,
    seen_by: &'a str,
}

/// Signs a batch off.
pub(super) fn sign(common: &Common, asked: &BatchSign, look: Look) -> Result<Answer, Failure> {
    block_on(async {
        let shelf = Shelf::open(common, &asked.by.place, Want::Write).await?;
        let name = who(asked.by.who.as_ref(), shelf.sample);
        let batch = batch_called(&shelf.workspace, &asked.batch).await.map_err(|error| refused(&error))?;
        let people_here = roll(&shelf.workspace).await.map_err(|error| refused(&error))?;
        let password = match people_here.is_empty() {
            true => None,
            false => Some(people::heard(asked.password_stdin, &name)?),
        };
        let typed = TypedSignOff {
            signed_as: asked.signed_as.clone(),
            who: String::new(),
            alone: asked.alone.clone(),
            note: asked.note.clone(),
        };
        let by = (name.as_str(), password.as_deref());
        let kept = sign_with_password(&shelf.workspace, &shelf.facts, by, batch.id, &typed).await;
        let kept = kept.map_err(|error| people::told(&error))?;
        let records = gather_batch(&shelf.workspace, batch.id).await.map_err(|error| refused(&error))?;
        let state = batch_state(&records, day(None));
        let signed = Signed {
            id: kept.id.to_string(),
            batch: &state.code,
            who: &kept.who,
            signed_as: kept.what.signed_as.words(),
            known_by: &kept.what.known_by,
            records: kept.what.records,
            content_sha256: &kept.what.content_sha256,
            seen_by: &state.seen_by,
        };
        if common.json {
            return Answer::json(&signed);
        }
        let mut paper = Paper::new(look);
        let words = format!(
            "Batch {} is signed as {} by {}, {}; {} records, {}.",
            signed.batch,
            signed.signed_as,
            signed.who,
            signed.known_by,
            signed.records,
            signed.content_sha256.get(..12).unwrap_or_default()
        );
        paper.paragraph(0, &words);
        paper.paragraph(0, signed.seen_by);
        Ok(Answer::text(paper.finish()))
    })
}

#[derive(Serialize)]
struct Advised<'a> {
    batch: &'a str,
    advice: &'a BenchAdvice,
    facts: &'a FactsUsed,
}

/// Says what is to be added next, from the plan, the version and the entries.
pub(super) fn advise(common: &Common, asked: &BatchAdvise, look: Look) -> Result<Answer, Failure> {
    block_on(async {
        let shelf = Shelf::open(common, &asked.place, Want::Read).await?;
        let batch = batch_called(&shelf.workspace, &asked.batch).await.map_err(|error| refused(&error))?;
        let records = gather_batch(&shelf.workspace, batch.id).await.map_err(|error| refused(&error))?;
        let step = asked.step.or_else(|| adjusting_step(&records, day(None)));
        let beaker = gather_beaker(&shelf.workspace, day(None), records).await;
        let beaker = beaker.map_err(|error| refused(&error))?;
        let with = asked.with.as_deref().unwrap_or_default();
        let found = step.and_then(|step| advice(&shelf.facts, &beaker, step, with));
        let found = found.ok_or_else(|| {
            let what = match asked.step {
                Some(step) => format!("step {step} of batch {} does not add to a pH", batch.what.code),
                None => format!("no step of batch {} adds to a pH", batch.what.code),
            };
            Failure::bad_option("no-such-step", "step", what, "see its steps with levigate batch show")
        })?;
        if common.json {
            let code = &batch.what.code;
            return Answer::json(&Advised { batch: code, advice: &found, facts: &shelf.used });
        }
        let mut paper = Paper::new(look);
        paper.title(&format!("Batch {}, step {}: {}", batch.what.code, found.step, found.name));
        match &found.advice {
            Some(reading) => adjust::page(&mut paper, reading),
            None => paper.paragraph(0, &found.say),
        }
        if let Some(series) = found.series.as_ref().filter(|series| !series.stuck.is_empty()) {
            paper.hanging(2, "meter:", &series.stuck);
        }
        for caution in &found.cautions {
            paper.hanging(2, "heed:", &caution.text);
        }
        Ok(Answer::text(paper.finish()))
    })
}

#[derive(Serialize)]
struct Course<'a> {
    batch: &'a str,
    #[serde(flatten)]
    course: &'a TemperatureCourse,
    #[serde(skip_serializing_if = "Option::is_none")]
    kept: Option<&'a EnteredAll>,
    facts: &'a FactsUsed,
}

/// Shows the temperature over time, with the record of a logger kept first where one is given.
pub(super) fn course(common: &Common, asked: &BatchCourse, look: Look) -> Result<Answer, Failure> {
    let log = asked.log.as_ref().map(|path| Input::read(path)).transpose()?;
    block_on(async {
        let want = if log.is_some() { Want::Write } else { Want::Read };
        let shelf = Shelf::open(common, &asked.by.place, want).await?;
        let name = who(asked.by.who.as_ref(), shelf.sample);
        let kept = match &log {
            Some(input) => {
                let by = (name.as_str(), day(None));
                let kept = keep_log(&shelf.workspace, &shelf.facts, by, &asked.batch, input.pair()).await;
                Some(kept.map_err(|error| not_kept(&error))?)
            }
            None => None,
        };
        let batch = batch_called(&shelf.workspace, &asked.batch).await.map_err(|error| refused(&error))?;
        let records = gather_batch(&shelf.workspace, batch.id).await.map_err(|error| refused(&error))?;
        let vessel = TypedVessel {
            vessel: asked.vessel.clone(),
            heat_c: asked.heat_c.clone(),
            cool_c: asked.cool_c.clone(),
            rpm: asked.rpm.clone(),
        };
        let course = temperature_course(&shelf.facts, &records, &vessel).map_err(|error| not_kept(&error))?;
        if common.json {
            let (code, facts) = (&batch.what.code, &shelf.used);
            return Answer::json(&Course { batch: code, course: &course, kept: kept.as_ref(), facts });
        }
        let mut paper = Paper::new(look);
        paper.title(&format!("Temperature of batch {}", batch.what.code));
        if let Some(all) = &kept {
            rows(&mut paper, all);
        }
        told(&mut paper, &course);
        Ok(Answer::text(paper.finish()))
    })
}

fn told(paper: &mut Paper, course: &TemperatureCourse) {
    if let Some(begins) = course.begins {
        let words = format!("Time runs from {} UTC.", begins.strftime("%Y-%m-%d %H:%M"));
        paper.paragraph(0, &words);
    }
    if course.planned.is_empty() {
        paper.paragraph(0, "The plan warms nothing.");
    } else {
        paper.heading("As planned", "");
        let takes: Vec<(&str, &Outcome)> =
            course.planned.iter().map(|stage| (stage.name.as_str(), &stage.takes)).collect();
        results(paper, &takes);
    }
    if !course.typed.is_empty() || !course.logged.is_empty() {
        paper.heading("As read", "");
        let rows: Vec<Vec<String>> = course
            .typed
            .iter()
            .map(|one| {
                vec![format!("{:.1}", one.minute), one.value.to_string(), format!("entry {}", one.entry)]
            })
            .collect();
        if !rows.is_empty() {
            let heads = [("min", Lean::Right), ("\u{b0}C", Lean::Right), ("", Lean::Left)];
            paper.columns(&heads, &rows);
        }
        if let (Some(first), Some(last)) = (course.logged.first(), course.logged.last()) {
            let hottest = course.logged.iter().map(|point| point.1).fold(f64::NEG_INFINITY, f64::max);
            let words = format!(
                "logged: {} points from {:.1} to {:.1} min, hottest {hottest} \u{b0}C",
                course.logged.len(),
                first.0,
                last.0
            );
            paper.paragraph(2, &words);
        }
    }
    let names: Vec<String> = course
        .held
        .iter()
        .map(|held| format!("held at {} \u{b0}C or above ({} min asked for)", held.at_c, held.planned_min))
        .collect();
    let mut rows: Vec<(&str, &Outcome)> =
        names.iter().zip(&course.held).map(|(name, held)| (name.as_str(), &held.kept)).collect();
    rows.extend(course.evaporation.iter().map(|found| ("water that goes off by the model", &found.loss)));
    rows.extend(course.went_off.iter().map(|found| ("water that went off by the balance", found)));
    if !rows.is_empty() {
        paper.heading("What follows", "");
        results(paper, &rows);
    }
    if let Some(reading) = &course.lethality {
        lethality::page(paper, reading);
    }
    for note in &course.notes {
        paper.hanging(2, "note:", note);
    }
}
