//! `lots`: the lots of raw materials in a workspace.

use crate::answer::{Answer, Failure};
use crate::arguments::{Common, Lots};
use crate::input::FactsUsed;
use crate::numbers;
use crate::paper::{Lean, Look, Paper};
use crate::shelf::{Shelf, Want, block_on, refused};
use crate::verbs::day;
use levigate_project::records::Status;
use levigate_project::workbench::lots::{LotCard, lots as lots_of};
use levigate_project::workbench::stock::{ShelfLot, shelf_lots};
use serde::Serialize;

#[derive(Serialize)]
struct Written<'a> {
    lots: &'a [LotCard],
    facts: &'a FactsUsed,
}

#[derive(Serialize)]
struct OnShelf<'a> {
    lots: &'a [ShelfLot],
    facts: &'a FactsUsed,
}

/// Lists lots.
pub(crate) fn lots(common: &Common, asked: &Lots, look: Look) -> Result<Answer, Failure> {
    block_on(async {
        let shelf = Shelf::open(common, &asked.place, Want::Read).await?;
        if let Some(name) = &asked.material
            && let Err(nearest) = shelf.facts.names.resolve_material(name)
        {
            let what_now = match nearest.as_slice() {
                [] => "see levigate materials".to_owned(),
                names => format!("did you mean {}?", names.join(", ")),
            };
            let what = format!("no raw material is called \"{name}\"");
            return Err(Failure::bad_option("unknown-material", "MATERIAL", what, what_now));
        }
        if asked.shelf {
            return on_shelf(common, asked, &shelf, look).await;
        }
        let found = lots_of(&shelf.workspace, &shelf.facts, day(None), asked.material.as_deref());
        let lots = found.await.map_err(|error| refused(&error))?;
        if common.json {
            return Answer::json(&Written { lots: &lots, facts: &shelf.used });
        }
        Ok(Answer::text(told(&lots, look)))
    })
}

/// What stands on the shelf, in the order in which it should be used.
async fn on_shelf(common: &Common, asked: &Lots, shelf: &Shelf, look: Look) -> Result<Answer, Failure> {
    let found = shelf_lots(&shelf.workspace, &shelf.facts, day(None)).await;
    let mut lots = found.map_err(|error| refused(&error))?;
    if let Some(name) = &asked.material {
        let key = shelf.facts.names.resolve_material(name).map_or(name.as_str(), |key| key).to_owned();
        lots.retain(|lot| lot.card.lot.material == key);
    }
    if common.json {
        return Answer::json(&OnShelf { lots: &lots, facts: &shelf.used });
    }
    let mut paper = Paper::new(look);
    if lots.is_empty() {
        paper.paragraph(0, "No lot is on file. levigate enter lot MATERIAL CODE enters one.");
        return Ok(Answer::text(paper.finish()));
    }
    let rows: Vec<Vec<String>> = lots
        .iter()
        .map(|lot| {
            vec![
                lot.card.material_name.clone(),
                lot.card.lot.code.clone(),
                lot.status.map_or("nothing decided", Status::words).to_owned(),
                if lot.left.value.is_some() { numbers::result(&lot.left, true) } else { String::new() },
                lot.until.clone(),
                lot.card.lot.location.clone(),
                if lot.first { "first" } else { "" }.to_owned(),
            ]
        })
        .collect();
    let heads = [
        ("Raw material", Lean::Left),
        ("Lot", Lean::Left),
        ("State", Lean::Left),
        ("Left", Lean::Right),
        ("Until", Lean::Left),
        ("Stands", Lean::Left),
        ("", Lean::Left),
    ];
    paper.columns(&heads, &rows);
    for lot in lots.iter().filter(|lot| lot.status != Some(Status::UsedUp)) {
        for against in &lot.against {
            paper.hanging(2, &format!("{}:", lot.card.lot.code), against);
        }
    }
    Ok(Answer::text(paper.finish()))
}

fn told(lots: &[LotCard], look: Look) -> String {
    let mut paper = Paper::new(look);
    if lots.is_empty() {
        paper.paragraph(0, "No lot is on file. levigate enter lot MATERIAL CODE enters one.");
        return paper.finish();
    }
    let date = |day: Option<jiff::civil::Date>| day.map(|day| day.to_string()).unwrap_or_default();
    let rows: Vec<Vec<String>> = lots
        .iter()
        .map(|card| {
            let assay = card.lot.assay_percent.as_ref().map(|assay| assay.typed.clone());
            let standing = match &card.struck {
                Some(struck) => format!("struck out: {}", struck.reason),
                None => card.dates.clone(),
            };
            vec![
                card.material_name.clone(),
                card.lot.code.clone(),
                assay.unwrap_or_default(),
                date(card.lot.received),
                date(card.lot.retest),
                date(card.lot.expiry),
                standing,
            ]
        })
        .collect();
    let heads = [
        ("Raw material", Lean::Left),
        ("Lot", Lean::Left),
        ("Assay, %", Lean::Right),
        ("Received", Lean::Left),
        ("Test again", Lean::Left),
        ("Expires", Lean::Left),
        ("", Lean::Left),
    ];
    paper.columns(&heads, &rows);
    for card in lots.iter().filter(|card| card.struck.is_none()) {
        let values =
            card.lot.certificate.iter().map(|value| {
                format!("{} {} {}", value.name, value.value.typed, value.unit).trim().to_owned()
            });
        let known: Vec<String> = values.chain(card.lot.documents.iter().cloned()).collect();
        if !known.is_empty() {
            paper.hanging(2, &format!("{}:", card.lot.code), &known.join("; "));
        }
    }
    paper.finish()
}
