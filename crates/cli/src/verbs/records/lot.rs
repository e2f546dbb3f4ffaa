//! `lot`: a lot with its stock.

use super::batch::moment;
use crate::answer::{Answer, Failure};
use crate::arguments::{Common, LotShow};
use crate::input::FactsUsed;
use crate::numbers;
use crate::paper::{Lean, Look, Paper};
use crate::shelf::{Shelf, Want, block_on, refused};
use crate::verbs::day;
use levigate_project::records::{AgainstSpecification, Kept, Lot, Status, TypedNumber};
use levigate_project::workbench::complaint::sentence;
use levigate_project::workbench::stock::{LotStock, Movement, lot_stock};
use levigate_project::workbench::trace::lots_called;
use serde::Serialize;

#[derive(Serialize)]
struct Written<'a> {
    lots: &'a [LotStock],
    facts: &'a FactsUsed,
}

/// Shows a lot, or all that have its code.
pub(crate) fn lot(common: &Common, asked: &LotShow, look: Look) -> Result<Answer, Failure> {
    block_on(async {
        let shelf = Shelf::open(common, &asked.place, Want::Read).await?;
        let all: Vec<Kept<Lot>> = shelf.workspace.all().await.map_err(|error| refused(&error))?;
        let found = lots_called(&shelf.facts, &all, asked.material.as_deref(), &asked.code);
        if found.is_empty() {
            let what = format!("no lot on file has the code \"{}\"", asked.code);
            return Err(Failure::bad_option("no-such-lot", "CODE", what, "see levigate lots"));
        }
        let mut lots = Vec::new();
        for lot in found {
            let stock = lot_stock(&shelf.workspace, &shelf.facts, day(None), lot.id).await;
            lots.push(stock.map_err(|error| refused(&error))?);
        }
        if common.json {
            return Answer::json(&Written { lots: &lots, facts: &shelf.used });
        }
        let mut paper = Paper::new(look);
        for (at, lot) in lots.iter().enumerate() {
            if at > 0 {
                paper.gap();
            }
            told(&mut paper, lot);
        }
        Ok(Answer::text(paper.finish()))
    })
}

fn told(paper: &mut Paper, lot: &LotStock) {
    let card = &lot.card;
    paper.title(&format!("Lot {} of {}", card.lot.code, card.material_name));
    let supplier = if card.lot.supplier.is_empty() { "supplier not noted" } else { &card.lot.supplier };
    let status = lot.status.map_or("nothing decided yet", Status::words);
    paper.paragraph(0, &format!("{supplier}; {status}; left: {}", numbers::result(&lot.left, true)));
    let days =
        [("received", card.lot.received), ("test again", card.lot.retest), ("expires", card.lot.expiry)];
    let days: Vec<String> =
        days.iter().filter_map(|(word, day)| day.map(|day| format!("{word} {day}"))).collect();
    let place = Some(&card.lot.location).filter(|place| !place.is_empty());
    let words: Vec<String> =
        days.into_iter().chain(place.map(|place| format!("stands in {place}"))).collect();
    if !words.is_empty() {
        paper.paragraph(0, &words.join("; "));
    }
    if !lot.until.is_empty() {
        paper.paragraph(0, &sentence(&lot.until));
    }
    for against in &lot.against {
        paper.hanging(0, "heed:", against);
    }
    certificate(paper, lot);
    for decided in &lot.decisions {
        let words = format!("{} by {} on {}", decided.reason, decided.who, moment(decided.when));
        paper.hanging(2, &format!("{}:", decided.status.words()), &words);
    }
    // What only takes another back is no movement of its own: the ledger knows.
    let counts = |moved: &&Movement| lot.ledger.iter().any(|line| line.id == Some(moved.id) && line.counts);
    for moved in lot.movements.iter().filter(counts) {
        let sign = if moved.movement.taken { "\u{2212}" } else { "+" };
        let net = moved.movement.mass.net.as_ref().map(|net| net.typed.as_str()).unwrap_or_default();
        let words = format!("{} by {} on {}", moved.movement.reason, moved.who, moment(moved.when));
        paper.hanging(2, &format!("{sign}{net} {}:", moved.movement.mass.unit), &words);
    }
    if lot.uses.is_empty() {
        return;
    }
    paper.heading("In batches", "");
    let rows: Vec<Vec<String>> = lot
        .uses
        .iter()
        .map(|used| {
            let struck = if used.struck { "struck out" } else { "" };
            vec![
                used.code.clone(),
                used.grams.value.map(|grams| grams.to_string()).unwrap_or_default(),
                used.who.clone(),
                moment(used.when),
                struck.to_owned(),
            ]
        })
        .collect();
    let heads = [
        ("Batch", Lean::Left),
        ("Grams", Lean::Right),
        ("By", Lean::Left),
        ("Kept (UTC)", Lean::Left),
        ("", Lean::Left),
    ];
    paper.columns(&heads, &rows);
}

fn certificate(paper: &mut Paper, lot: &LotStock) {
    let limit = |limit: Option<&TypedNumber>| limit.map(|limit| limit.typed.clone()).unwrap_or_default();
    let rows: Vec<Vec<String>> = lot
        .card
        .lot
        .certificate
        .iter()
        .zip(&lot.specification)
        .map(|(value, stands)| {
            let words = match stands {
                AgainstSpecification::Within => "within",
                AgainstSpecification::Below => "below the least",
                AgainstSpecification::Above => "above the most",
                AgainstSpecification::NotCompared => "not compared",
                AgainstSpecification::NoLimit => "no limit on file",
            };
            vec![
                value.name.clone(),
                format!("{} {}", value.value.typed, value.unit).trim().to_owned(),
                limit(value.least.as_ref()),
                limit(value.most.as_ref()),
                words.to_owned(),
            ]
        })
        .collect();
    if rows.is_empty() {
        return;
    }
    paper.heading("Certificate", "");
    let heads = [
        ("", Lean::Left),
        ("Found", Lean::Left),
        ("Least", Lean::Left),
        ("Most", Lean::Left),
        ("", Lean::Left),
    ];
    paper.columns(&heads, &rows);
}
