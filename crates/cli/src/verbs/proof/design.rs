//! `design`: which blends to make, so that a model of them is settled best.

use crate::answer::{Answer, Failure};
use crate::arguments::{Common, DesignFile, MakingFile};
use crate::input::Input;
use crate::paper::{Lean, Look, Paper};
use crate::verbs::making::answer;
use crate::verbs::tables::{notes, results};
use crate::writing::write_whole;
use levigate_project::workbench::proof::design::{self as of, BlendsReading};
use std::cell::RefCell;
use std::path::Path;

/// Answers, and writes the formulas of the runs.
pub(crate) fn design(common: &Common, asked: &DesignFile, look: Look) -> Result<Answer, Failure> {
    let made = RefCell::new(None);
    let file = MakingFile { file: asked.file.clone() };
    let ask = |_: &_, input: &Input| {
        let reading = of::design(input.pair())?;
        *made.borrow_mut() = Some(reading.clone());
        Ok(reading)
    };
    let mut answer = answer(common, &file, look, ask, page)?;
    if let (Some(formula), Some(folder), Some(reading)) = (&asked.formula, &asked.into, made.into_inner()) {
        let base = Input::read(formula)?;
        let sheets = of::run_sheets(&reading, base.pair()).map_err(|problems| base.refused(problems))?;
        write_all(folder, &sheets)?;
        answer.remarks.push(format!("{} formulas were written to {}.", sheets.len(), folder.display()));
    }
    Ok(answer)
}

/// Writes them all, or none where one of them is there.
fn write_all(folder: &Path, sheets: &[(String, String)]) -> Result<(), Failure> {
    if let Some((name, _)) = sheets.iter().find(|(name, _)| folder.join(name).exists()) {
        return Err(Failure::could_not(
            "already-there",
            format!("{} is there already", folder.join(name).display()),
            "name an empty folder after --into",
        ));
    }
    std::fs::create_dir_all(folder).map_err(|error| {
        Failure::could_not(
            "unwritable-folder",
            format!("the folder {} cannot be made: {error}", folder.display()),
            "check the name and the rights",
        )
    })?;
    sheets.iter().try_for_each(|(name, text)| write_whole(&folder.join(name), text.as_bytes()))
}

fn page(paper: &mut Paper, reading: &BlendsReading) {
    let title = if reading.title.is_empty() { String::new() } else { format!(": {}", reading.title) };
    paper.title(&format!("Blends to make{title}"));
    paper.heading("Runs", "percent of the product, in the order to make them");
    let mut heads: Vec<(&str, Lean)> = vec![("run", Lean::Right)];
    if reading.blocks_clear.is_some() {
        heads.push(("block", Lean::Right));
    }
    heads.extend(reading.parts.iter().chain(&reading.settings).map(|name| (name.as_str(), Lean::Right)));
    let rows: Vec<Vec<String>> = reading
        .runs
        .iter()
        .map(|run| {
            let block = run.block.map(|block| block.to_string());
            let percent =
                run.percent.iter().map(|percent| format!("{:.3}", percent.value.unwrap_or_default()));
            let levels = run.settings.iter().map(|level| level.value.unwrap_or_default().to_string());
            std::iter::once(run.number.to_string()).chain(block).chain(percent).chain(levels).collect()
        })
        .collect();
    paper.columns(&heads, &rows);
    paper.heading(
        "How well they settle it",
        &format!("{} terms: {}", reading.terms.len(), reading.terms.join(", ")),
    );
    let mut told = vec![
        ("blends chosen from", &reading.candidates),
        ("D", &reading.d),
        ("G efficiency, %", &reading.g_efficiency),
        ("mean variance of a prediction", &reading.mean_variance),
    ];
    told.extend(reading.blocks_clear.iter().map(|clear| ("blocks clear of the terms", clear)));
    results(paper, &told);
    paper.heading("Mind", "");
    notes(paper, &reading.notes);
}
