//! `sheet`: what to weigh, in which order, how well it can be weighed; on the screen and as files.

use super::papers::unmade;
use super::{day, papers};
use crate::answer::{Answer, Failure};
use crate::arguments::{Common, Sheet, SheetOf, Written};
use crate::input::{self, FactsUsed, Input};
use crate::numbers;
use crate::paper::{Ink, Lean, Look, Paper};
use levigate_documents::{sheet_csv, sheet_document, sheet_html};
use levigate_measure::weighing::Balance;
use levigate_project::batch_sheet::{BatchLine, BatchSheet, BatchStep, Part};
use levigate_project::sheet::parse_size;
use levigate_project::workbench::sheet::{Bench, batch_sheet};
use rust_decimal::Decimal;
use serde::Serialize;
use std::path::Path;

#[derive(Serialize)]
struct Filled<'a> {
    #[serde(flatten)]
    sheet: &'a BatchSheet,
    facts: &'a FactsUsed,
}

/// Makes the sheet asked for and writes the files.
pub(crate) fn sheet(common: &Common, asked: &Sheet, look: Look) -> Result<Answer, Failure> {
    if asked.what == SheetOf::Specification {
        return super::specification::specification(common, asked, look);
    }
    if asked.what == SheetOf::Submission {
        return super::submission::submission(common, asked, look);
    }
    let bench = bench(asked)?;
    let (facts, used) = input::facts(&common.facts)?;
    let input = Input::read(&asked.formula)?;
    let sheet = batch_sheet(&facts, day(asked.date), &bench, &input.name, &input.text)
        .map_err(|problems| input.refused(problems))?;
    // All are made before the first is written, so that a failure leaves none behind.
    let mut files: Vec<(&Path, Vec<u8>)> = Vec::new();
    if let Some(out) = &asked.html {
        files.push((out, sheet_html(&sheet).into_bytes()));
    }
    if let Some(out) = &asked.csv {
        files.push((out, sheet_csv(&sheet).map_err(|error| unmade(&error))?));
    }
    if let Some(out) = &asked.files.pdf {
        files.push((out, pdf(&sheet, papers::size(asked.files.paper))?));
    }
    if let Some(out) = &asked.files.xlsx {
        files.push((out, papers::bytes(&sheet_document(&sheet), Written::Xlsx, asked.files.paper)?));
    }
    let answer = if common.json {
        Answer::json(&Filled { sheet: &sheet, facts: &used })?
    } else {
        Answer::text(page(&sheet, &used, look))
    };
    papers::write(files, answer)
}

#[cfg(feature = "pdf")]
fn pdf(sheet: &BatchSheet, paper: levigate_documents::Paper) -> Result<Vec<u8>, Failure> {
    levigate_documents::sheet_pdf_on(sheet, paper).map_err(|error| unmade(&error))
}

#[cfg(not(feature = "pdf"))]
fn pdf(_: &BatchSheet, _: levigate_documents::Paper) -> Result<Vec<u8>, Failure> {
    Err(papers::without_pdf())
}

fn bench(asked: &Sheet) -> Result<Bench, Failure> {
    let size_g = asked.size.as_deref().map(|text| mass("--size", text)).transpose()?;
    let balance = asked.balance.as_deref().map(|text| {
        let readability = mass("--balance", text)?;
        Balance::with_readability(readability)
            .map_err(|error| Failure::bad_option("balance", "--balance", error.to_string(), error.hint()))
    });
    Ok(Bench { size_g, balance: balance.transpose()? })
}

fn mass(option: &str, text: &str) -> Result<Decimal, Failure> {
    parse_size(text).map_err(|error| Failure::bad_option("mass", option, error.to_string(), error.hint()))
}

fn page(sheet: &BatchSheet, used: &FactsUsed, look: Look) -> String {
    let mut paper = Paper::new(look);
    paper.title(&sheet.product);
    let client = sheet.client.as_deref().map(|client| format!("; for {client}")).unwrap_or_default();
    paper.paragraph(
        0,
        &format!(
            "{} g on a balance of {} g; version {}; {}{client}",
            sheet.size_g, sheet.balance.readability_g, sheet.version_code, sheet.date
        ),
    );
    for step in &sheet.steps {
        written_step(&mut paper, step);
    }
    paper.heading("Total", &format!("{} g", sheet.total_g));
    paper.hanging(2, "vessel:", &sheet.vessel.text);
    if let Some(least) = sheet.pharmacy_minimum.value {
        let below = sheet.below_pharmacy_minimum;
        let least = numbers::value(least, None, None);
        paper.hanging(
            2,
            "for information:",
            &format!("USP <41> at 0.10 % would ask for {least} g or more; {below} lines are below. Nothing binds cosmetics to it."),
        );
    }
    for note in &sheet.notes {
        paper.hanging(2, "note:", &note.text);
    }
    if let Some(remark) = used.remark() {
        paper.paragraph(2, &remark);
    }
    paper.finish()
}

fn written_step(paper: &mut Paper, step: &BatchStep) {
    let at = step.temperature_c.map(|celsius| format!(" at {celsius} °C")).unwrap_or_default();
    paper.heading(
        &format!("{} {}{at}", step.number, step.phase),
        step.instruction.as_deref().unwrap_or_default(),
    );
    for caution in &step.cautions {
        paper.marked("  caution", Ink::Amber, &caution.text);
    }
    let rows: Vec<Vec<String>> = step.lines.iter().map(line_row).collect();
    paper.columns(
        &[
            ("", Lean::Right),
            ("raw material", Lean::Left),
            ("lot", Lean::Left),
            ("%", Lean::Right),
            ("g", Lean::Right),
            ("within g", Lean::Right),
            ("uncertain %", Lean::Right),
            ("weighing", Lean::Left),
        ],
        &rows,
    );
    for line in &step.lines {
        remarks(paper, line);
    }
    paper.paragraph(2, &format!("Phase {} g", step.subtotal_g));
}

fn line_row(line: &BatchLine) -> Vec<String> {
    vec![
        line.number.to_string(),
        line.name.clone(),
        line.lot.clone().unwrap_or_default(),
        line.percent.to_string(),
        line.grams.to_string(),
        format!("± {}", line.tolerance_g),
        line.expanded.value.map(|value| numbers::value(value, None, None)).unwrap_or_default(),
        line.weighable.word().to_owned(),
    ]
}

fn remarks(paper: &mut Paper, line: &BatchLine) {
    if let Part::ToPh { ph, first_percent, why, first_g, rest_g } = &line.part {
        let how = if first_g.is_zero() {
            format!("to pH {ph}: read the pH first, then all of it by the meter. {why}")
        } else {
            format!(
                "to pH {ph}: first {first_g} g ({first_percent} %), the remaining {rest_g} g by the meter. {why}"
            )
        };
        paper.hanging(4, &format!("{}:", line.number), how.trim_end());
    }
    if line.weighable.is_weak() {
        let remedies: Vec<&str> = line.remedies.iter().map(|remedy| remedy.text.as_str()).collect();
        let remedies =
            if remedies.is_empty() { String::new() } else { format!(". {}", remedies.join(" Or: ")) };
        paper.hanging(4, &format!("{}:", line.number), &format!("{}{remedies}", line.verdict));
    }
    for caution in &line.cautions {
        paper.marked(&format!("    {}: caution", line.number), Ink::Amber, &caution.text);
    }
    if let Some(note) = &line.note {
        paper.hanging(4, &format!("{}:", line.number), note);
    }
}
