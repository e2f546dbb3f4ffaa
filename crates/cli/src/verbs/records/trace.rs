//! `trace`: which batches hold a lot, which lots are in a batch.

use super::batch::moment;
use crate::answer::{Answer, Failure};
use crate::arguments::{Common, TraceAsked};
use crate::paper::{Lean, Look, Paper};
use crate::shelf::{Shelf, Want, block_on, refused};
use levigate_project::records::{Kept, Lot};
use levigate_project::workbench::batch::batch_called;
use levigate_project::workbench::stock::Used;
use levigate_project::workbench::trace::{Back, Forward, back, forward_from};
use serde::Serialize;

#[derive(Serialize)]
struct Traced {
    forward: Vec<Forward>,
    back: Option<Back>,
}

/// Traces.
pub(crate) fn trace(common: &Common, asked: &TraceAsked, look: Look) -> Result<Answer, Failure> {
    block_on(async {
        let shelf = Shelf::open(common, &asked.place, Want::Read).await?;
        let mut traced = Traced { forward: Vec::new(), back: None };
        if let Some(code) = &asked.lot {
            let lots: Vec<Kept<Lot>> = shelf.workspace.all().await.map_err(|error| refused(&error))?;
            let material = asked.material.as_deref();
            let found = forward_from(&shelf.workspace, &shelf.facts, &lots, material, code).await;
            traced.forward = found.map_err(|error| refused(&error))?;
            if traced.forward.is_empty() {
                let what = format!("no lot on file has the code \"{code}\", and no batch names it");
                return Err(Failure::bad_option("no-such-lot", "--lot", what, "see levigate lots"));
            }
        }
        if let Some(name) = &asked.batch {
            let lots: Vec<Kept<Lot>> = shelf.workspace.all().await.map_err(|error| refused(&error))?;
            let batch = batch_called(&shelf.workspace, name).await.map_err(|error| refused(&error))?;
            let found = back(&shelf.workspace, &lots, &batch).await.map_err(|error| refused(&error))?;
            traced.back = Some(found);
        }
        if common.json {
            return Answer::json(&traced);
        }
        Ok(Answer::text(told(&traced, look)))
    })
}

fn cells(used: &Used) -> Vec<String> {
    let grams = used.grams.value.map(|grams| grams.to_string()).unwrap_or_default();
    let struck = if used.struck { "struck out" } else { "" };
    vec![grams, used.who.clone(), moment(used.when), struck.to_owned()]
}

fn told(traced: &Traced, look: Look) -> String {
    let mut paper = Paper::new(look);
    let heads = |first: &'static [(&'static str, Lean)]| {
        let last = [("Grams", Lean::Right), ("By", Lean::Left), ("Kept (UTC)", Lean::Left), ("", Lean::Left)];
        first.iter().copied().chain(last).collect::<Vec<_>>()
    };
    for found in &traced.forward {
        let on_file = if found.id.is_some() { "" } else { " (not on file)" };
        paper.title(&format!("Lot {} of {}{on_file}: in which batches", found.lot, found.material));
        if found.uses.is_empty() {
            paper.paragraph(2, "In none.");
            continue;
        }
        let rows: Vec<Vec<String>> =
            found.uses.iter().map(|used| [vec![used.code.clone()], cells(used)].concat()).collect();
        paper.columns(&heads(&[("Batch", Lean::Left)]), &rows);
    }
    if let Some(back) = &traced.back {
        if !traced.forward.is_empty() {
            paper.gap();
        }
        paper.title(&format!("Batch {}, {}: which lots", back.batch, back.product));
        if back.lots.is_empty() {
            paper.paragraph(2, "No lot was named on its entries.");
            return paper.finish();
        }
        let rows: Vec<Vec<String>> = back
            .lots
            .iter()
            .map(|lot| {
                let on_file =
                    if lot.on_file { lot.lot.clone() } else { format!("{} (not on file)", lot.lot) };
                [vec![lot.material.clone(), on_file], cells(&lot.used)].concat()
            })
            .collect();
        paper.columns(&heads(&[("Raw material", Lean::Left), ("Lot", Lean::Left)]), &rows);
    }
    paper.finish()
}
