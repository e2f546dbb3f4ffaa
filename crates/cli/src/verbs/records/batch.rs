//! `batch`: the batches of a workspace.

use crate::answer::{Answer, Failure};
use crate::arguments::{BatchExport, BatchList, BatchShow, Common, ExportForm, Where, Written};
use crate::input::FactsUsed;
use crate::numbers;
use crate::paper::{Lean, Look, Paper};
use crate::shelf::{Shelf, Want, block_on, refused};
use crate::verbs::{day, papers};
use jiff::Timestamp;
use levigate_documents::{batch_csv, blank_record, deviation_list, filled_record};
use levigate_project::records::Plan;
use levigate_project::workbench::batch::{
    BatchCard, BatchState, LineState, batch_called, batch_record, batch_state, batches, deviations_of,
    gather_batch,
};
use rust_decimal::Decimal;
use serde::Serialize;

#[derive(Serialize)]
struct Listed<'a> {
    batches: &'a [BatchCard],
}

/// Lists the newest batches.
pub(crate) fn list(common: &Common, asked: &BatchList, look: Look) -> Result<Answer, Failure> {
    block_on(async {
        let shelf = Shelf::open(common, &asked.place, Want::Read).await?;
        let found = batches(&shelf.workspace, asked.most).await.map_err(|error| refused(&error))?;
        if common.json {
            return Answer::json(&Listed { batches: &found });
        }
        let mut paper = Paper::new(look);
        if found.is_empty() {
            paper.paragraph(0, "No batch yet. One is started on the trials of a formula in the browser.");
            return Ok(Answer::text(paper.finish()));
        }
        let rows: Vec<Vec<String>> = found
            .iter()
            .map(|card| {
                let [done, all] = card.steps;
                vec![
                    card.code.clone(),
                    card.product.clone(),
                    card.version.to_string(),
                    card.size_g.to_string(),
                    moment(card.when),
                    if card.signed.is_empty() {
                        format!("{done} of {all} steps")
                    } else {
                        card.signed.clone()
                    },
                ]
            })
            .collect();
        let heads = [
            ("Batch", Lean::Left),
            ("Product", Lean::Left),
            ("Version", Lean::Right),
            ("Size, g", Lean::Right),
            ("Started", Lean::Left),
            ("", Lean::Left),
        ];
        paper.columns(&heads, &rows);
        Ok(Answer::text(paper.finish()))
    })
}

#[derive(Serialize)]
struct Shown<'a> {
    #[serde(flatten)]
    state: &'a BatchState,
    facts: &'a FactsUsed,
}

/// Shows one batch.
pub(crate) fn show(common: &Common, asked: &BatchShow, look: Look) -> Result<Answer, Failure> {
    block_on(async {
        let (shelf, state, _) = open(common, &asked.place, &asked.batch).await?;
        if common.json {
            return Answer::json(&Shown { state: &state, facts: &shelf.used });
        }
        Ok(Answer::text(told(&state, look)))
    })
}

async fn open(common: &Common, place: &Where, name: &str) -> Result<(Shelf, BatchState, Plan), Failure> {
    let shelf = Shelf::open(common, place, Want::Read).await?;
    let batch = batch_called(&shelf.workspace, name).await.map_err(|error| refused(&error))?;
    let records = gather_batch(&shelf.workspace, batch.id).await.map_err(|error| refused(&error))?;
    let state = batch_state(&records, day(None));
    Ok((shelf, state, records.batch.what.plan))
}

/// Date and minute, in universal time.
pub(super) fn moment(when: Timestamp) -> String {
    when.strftime("%Y-%m-%d %H:%M").to_string()
}

fn told(state: &BatchState, look: Look) -> String {
    let mut paper = Paper::new(look);
    paper.title(&format!("Batch {}", state.code));
    paper.paragraph(
        0,
        &format!(
            "{}, version {}, trial {}; {} g; started by {} on {} (UTC)",
            state.product,
            state.version,
            state.trial_number,
            state.size,
            state.who,
            moment(state.when)
        ),
    );
    match state.next.and_then(|next| state.steps.get(next.saturating_sub(1))) {
        Some(step) => paper.hanging(0, &format!("next, step {}:", step.number), &step.text),
        None => paper.paragraph(0, "Every step is done or left out."),
    }
    lines(&mut paper, &state.lines);
    water_and_yield(&mut paper, state);
    steps(&mut paper, state);
    entries(&mut paper, state);
    signatures(&mut paper, state);
    paper.finish()
}

fn plain(value: Option<Decimal>) -> String {
    value.map(|value| value.to_string()).unwrap_or_default()
}

fn lines(paper: &mut Paper, lines: &[LineState]) {
    paper.heading("Lines", "grams as weighed, percent of the finished batch");
    let rows: Vec<Vec<String>> = lines
        .iter()
        .map(|line| {
            vec![
                line.number.to_string(),
                line.name.clone(),
                line.target.to_string(),
                plain(line.actual),
                numbers::result(&line.percent, false),
                line.deviation.map(|percent| percent.round_dp(2).to_string()).unwrap_or_default(),
                line.verdict.to_owned(),
            ]
        })
        .collect();
    let heads = [
        ("", Lean::Right),
        ("Raw material", Lean::Left),
        ("Target", Lean::Right),
        ("Weighed", Lean::Right),
        ("% w/w", Lean::Left),
        ("Off, %", Lean::Right),
        ("", Lean::Left),
    ];
    paper.columns(&heads, &rows);
    for line in lines {
        let word = format!("line {}:", line.number);
        for remark in line.remarks.iter().chain(Some(&line.slip).filter(|slip| !slip.is_empty())) {
            paper.hanging(2, &word, remark);
        }
        for way in &line.ways {
            paper.hanging(2, &word, &way.words);
            way.left.iter().for_each(|left| paper.paragraph(6, left));
        }
    }
}

fn water_and_yield(paper: &mut Paper, state: &BatchState) {
    let water = &state.water;
    if water.vessel.is_some() || water.went_off.is_some() {
        paper.heading("Water", "tare arithmetic");
        if let (Some(off), Some(back)) = (water.went_off, water.to_give_back) {
            let words = format!("{off} g went off, {} g given back, {back} g to give back", water.given_back);
            paper.paragraph(2, &words);
        } else {
            paper.paragraph(2, &water.needs);
        }
    }
    if let Some(balanced) = &state.balanced {
        paper.heading("Yield", "");
        let percent = |value: Option<Decimal>| plain(value.map(|value| value.round_dp(1)));
        paper.paragraph(
            2,
            &format!(
                "{} g of {} g charged: {} %; with samples ({} g) and known losses ({} g) {} % is accounted for, {} g is not.",
                balanced.good,
                balanced.charged,
                percent(balanced.r#yield),
                balanced.samples,
                balanced.lost,
                percent(balanced.accounted),
                balanced.unexplained
            ),
        );
        if !balanced.remark.is_empty() {
            paper.hanging(2, "look:", &balanced.remark);
        }
    }
}

fn steps(paper: &mut Paper, state: &BatchState) {
    paper.heading("Steps", "");
    let rows: Vec<Vec<String>> =
        state
            .steps
            .iter()
            .map(|step| {
                let mut words = vec![step.text.clone()];
                words.extend(step.portion.as_ref().map(|portion| {
                    format!("part {} of {}, {} g", portion.number, portion.of, portion.target)
                }));
                words.extend(
                    step.procedure.as_ref().map(|own| own.instruction.clone()).filter(|it| !it.is_empty()),
                );
                words.extend(step.procedure.as_ref().map(|own| own.how.clone()).filter(|it| !it.is_empty()));
                words.extend(step.temperature_c.map(|celsius| format!("{celsius} °C")));
                words.extend(step.checks.iter().cloned());
                words.extend(step.cautions.iter().map(|caution| caution.text.clone()));
                if !step.skipped.is_empty() {
                    words.push(format!("left out: {}", step.skipped));
                }
                vec![step.number.to_string(), step.stands.to_owned(), words.join("; ")]
            })
            .collect();
    paper.columns(&[("", Lean::Right), ("", Lean::Left), ("", Lean::Left)], &rows);
}

fn entries(paper: &mut Paper, state: &BatchState) {
    if state.entries.is_empty() {
        return;
    }
    paper.heading("Entries", "as typed, in the order they were kept (UTC)");
    let rows: Vec<Vec<String>> = state
        .entries
        .iter()
        .map(|entry| {
            let mut words = entry.words();
            if let Some((number, reason)) = &entry.corrects {
                let verb = if entry.entry.withdrawn { "takes back" } else { "instead of" };
                words = format!("{verb} {number} ({reason}): {words}");
            }
            if let Some(struck) = &entry.struck {
                words.push_str(&format!("; struck out by {}", struck.by));
            }
            if entry.entry.after_sign_off {
                words.push_str("; after sign-off");
            }
            vec![entry.number.to_string(), moment(entry.entry.device_time), entry.who.clone(), words]
        })
        .collect();
    let heads = [("", Lean::Right), ("Done", Lean::Left), ("By", Lean::Left), ("", Lean::Left)];
    paper.columns(&heads, &rows);
}

fn signatures(paper: &mut Paper, state: &BatchState) {
    if state.sign_offs.is_empty() && state.samples.is_empty() {
        return;
    }
    paper.heading("Signed off and kept", "");
    if !state.seen_by.is_empty() {
        paper.paragraph(2, &state.seen_by);
    }
    for signed in &state.sign_offs {
        let mut words = format!(
            "by {} on {} (UTC), {}; {} records, {}",
            signed.who,
            moment(signed.when),
            signed.known_by,
            signed.records,
            signed.content_sha256.get(..12).unwrap_or_default()
        );
        for (count, one, many) in [
            (signed.entries_after, "entry", "entries"),
            (signed.others_after, "reading or sample", "readings or samples"),
        ] {
            match count {
                0 => {}
                1 => words.push_str(&format!("; 1 {one} came after it")),
                _ => words.push_str(&format!("; {count} {many} came after it")),
            }
        }
        paper.hanging(2, &format!("{}:", signed.signed_as), &words);
    }
    for sample in &state.samples {
        let until = sample.sample.until.map(|day| format!(", until {day}")).unwrap_or_default();
        let struck = if sample.struck.is_some() { "; struck out" } else { "" };
        let words = format!("{}, {}{until}{struck}", sample.sample.label, sample.sample.location);
        paper.hanging(2, "retained sample:", &words);
    }
}

#[derive(Serialize)]
struct Exported<'a> {
    plan: &'a Plan,
    state: &'a BatchState,
}

/// Exports one batch.
pub(crate) fn export(common: &Common, asked: &BatchExport) -> Result<Answer, Failure> {
    block_on(async {
        let bytes = match asked.form {
            ExportForm::Json | ExportForm::Csv => {
                if asked.format.is_some() {
                    return Err(Failure::bad_option(
                        "format",
                        "--format",
                        "everything as data or as rows has one form only",
                        "leave --format out, or export it --as record, blank or deviations",
                    ));
                }
                let (_, state, plan) = open(common, &asked.place, &asked.batch).await?;
                match asked.form {
                    ExportForm::Csv => batch_csv(&state).map_err(|error| papers::unmade(&error))?,
                    _ => Answer::json(&Exported { plan: &plan, state: &state })?.text.into_bytes(),
                }
            }
            _ => paper(common, asked).await?,
        };
        papers::told(bytes, asked.out.as_deref())
    })
}

/// The record of a batch, the sheet to be filled, or its deviations.
async fn paper(common: &Common, asked: &BatchExport) -> Result<Vec<u8>, Failure> {
    let format = asked.format.unwrap_or(if common.json { Written::Json } else { Written::Pdf });
    if format != Written::Json && asked.out.is_none() {
        return Err(papers::needs_a_file());
    }
    let shelf = Shelf::open(common, &asked.place, Want::Read).await?;
    let batch = batch_called(&shelf.workspace, &asked.batch).await.map_err(|error| refused(&error))?;
    if asked.form == ExportForm::Deviations {
        let list = deviations_of(&shelf.workspace, &batch).await.map_err(|error| refused(&error))?;
        return papers::as_asked(&list, &deviation_list(&list), format, asked.paper);
    }
    let record = batch_record(&shelf.workspace, &shelf.facts, batch.id).await;
    let record = record.map_err(|error| refused(&error))?;
    let document =
        if asked.form == ExportForm::Blank { blank_record(&record) } else { filled_record(&record) };
    papers::as_asked(&record, &document, format, asked.paper)
}
