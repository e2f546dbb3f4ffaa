//! `study`: stability studies as they stand, what is due, and readings from a table.

use super::brought;
use super::study_lines;
use crate::answer::{Answer, Failure};
use crate::arguments::{Common, StudyDue, StudyEnter, StudyShow, StudyVerb, Where};
use crate::input::InputBytes;
use crate::paper::{Lean, Look, Paper};
use crate::shelf::{Shelf, Want, block_on, not_kept, refused, who};
use crate::verbs::day;
use levigate_project::workbench::studies::{
    DuePull, StudyBook, StudyCard, StudyPull, StudyRead, Verdict, bring_readings, due_pulls,
    look_at_readings, study_book, study_called, study_cards,
};
use serde::Serialize;

pub(super) fn study(common: &Common, asked: &StudyVerb, look: Look) -> Result<Answer, Failure> {
    match asked {
        StudyVerb::List(place) => list(common, place, look),
        StudyVerb::Show(asked) => show(common, asked, look),
        StudyVerb::Due(asked) => due(common, asked, look),
        StudyVerb::Trend(asked) => study_lines::trend(common, asked, look),
        StudyVerb::Losses(asked) => study_lines::losses(common, asked, look),
        StudyVerb::Enter(asked) => enter(common, asked, look),
    }
}

#[derive(Serialize)]
struct Listed<'a> {
    studies: &'a [StudyCard],
}

fn list(common: &Common, place: &Where, look: Look) -> Result<Answer, Failure> {
    block_on(async {
        let shelf = Shelf::open(common, place, Want::Read).await?;
        let studies = study_cards(&shelf.workspace, day(None)).await.map_err(|error| refused(&error))?;
        if common.json {
            return Answer::json(&Listed { studies: &studies });
        }
        let mut paper = Paper::new(look);
        if studies.is_empty() {
            paper.paragraph(0, "No study yet. One is planned in the browser, under Studies.");
            return Ok(Answer::text(paper.finish()));
        }
        let rows: Vec<Vec<String>> = studies
            .iter()
            .map(|card| {
                vec![
                    card.number.to_string(),
                    card.name.clone(),
                    format!("{}, version {}", card.formula, card.version),
                    card.start.to_string(),
                    if card.given_up {
                        "given up".to_owned()
                    } else {
                        card.next.as_ref().map_or_else(|| "every pull is read".to_owned(), named)
                    },
                ]
            })
            .collect();
        let heads = [
            ("", Lean::Right),
            ("Study", Lean::Left),
            ("Formula", Lean::Left),
            ("Start", Lean::Left),
            ("Next", Lean::Left),
        ];
        paper.columns(&heads, &rows);
        Ok(Answer::text(paper.finish()))
    })
}

fn named(pull: &StudyPull) -> String {
    let weekend = pull.weekend.map(|day| format!(" (a {day})")).unwrap_or_default();
    if pull.pull == pull.condition {
        format!("start: {}", pull.words)
    } else {
        format!("{} at {}{weekend}: {}", pull.pull, pull.condition, pull.words)
    }
}

#[derive(Serialize)]
struct Calendar<'a> {
    due: &'a [DuePull],
}

fn due(common: &Common, asked: &StudyDue, look: Look) -> Result<Answer, Failure> {
    block_on(async {
        let shelf = Shelf::open(common, &asked.place, Want::Read).await?;
        let due =
            due_pulls(&shelf.workspace, day(None), asked.days).await.map_err(|error| refused(&error))?;
        if common.json {
            return Answer::json(&Calendar { due: &due });
        }
        let mut paper = Paper::new(look);
        if due.is_empty() {
            paper.paragraph(0, &format!("Nothing is to be pulled in the next {} days.", asked.days));
            return Ok(Answer::text(paper.finish()));
        }
        let rows: Vec<Vec<String>> = due
            .iter()
            .map(|one| {
                let pull = &one.pull;
                vec![
                    pull.weekend.map_or_else(|| pull.due.to_string(), |day| format!("{} {day}", pull.due)),
                    format!("{}, {}", pull.pull, pull.condition),
                    one.name.clone(),
                    pull.words.clone(),
                ]
            })
            .collect();
        let heads =
            [("Due", Lean::Left), ("Pull", Lean::Left), ("Study", Lean::Left), ("Stands", Lean::Left)];
        paper.columns(&heads, &rows);
        Ok(Answer::text(paper.finish()))
    })
}

fn show(common: &Common, asked: &StudyShow, look: Look) -> Result<Answer, Failure> {
    block_on(async {
        let shelf = Shelf::open(common, &asked.place, Want::Read).await?;
        let records = study_called(&shelf.workspace, &asked.study).await.map_err(|error| refused(&error))?;
        let book = study_book(&records, day(None));
        if common.json {
            return Answer::json(&book);
        }
        let mut paper = Paper::new(look);
        told(&mut paper, &book);
        Ok(Answer::text(paper.finish()))
    })
}

fn told(paper: &mut Paper, book: &StudyBook) {
    let card = &book.card;
    paper.title(&card.name);
    paper.paragraph(
        0,
        &format!(
            "Study {} of {}, version {}, since {}; {}; {}",
            card.number,
            card.formula,
            card.version,
            card.start,
            card.batches.join(", "),
            book.samples.value.map(|packs| format!("{packs:.0} packs")).unwrap_or_default(),
        ),
    );
    paper.paragraph(0, &book.first);
    paper.heading("Pulls", "");
    let rows: Vec<Vec<String>> = book
        .pulls
        .iter()
        .map(|pull| {
            vec![
                pull.due.to_string(),
                pull.pull.clone(),
                if pull.pull == pull.condition { String::new() } else { pull.condition.clone() },
                pull.words.clone(),
            ]
        })
        .collect();
    let heads = [("Due", Lean::Left), ("Pull", Lean::Left), ("Condition", Lean::Left), ("", Lean::Left)];
    paper.columns(&heads, &rows);
    for attribute in &book.typed.attributes {
        let read: Vec<&StudyRead> = book
            .readings
            .iter()
            .filter(|read| read.attribute == attribute.name && read.struck.is_none())
            .collect();
        if read.is_empty() {
            continue;
        }
        paper.heading(&attribute.name, &attribute.unit);
        let rows: Vec<Vec<String>> = read
            .into_iter()
            .map(|read| {
                vec![
                    if read.pull.is_empty() { read.on.to_string() } else { read.pull.clone() },
                    if read.condition == read.pull { String::new() } else { read.condition.clone() },
                    read.batch.clone(),
                    read.typed.clone(),
                    match read.verdict {
                        Verdict::Within => String::new(),
                        Verdict::Below => "below the least".to_owned(),
                        Verdict::Above => "above the most".to_owned(),
                        Verdict::NotCompared => "look yourself".to_owned(),
                        Verdict::NoLimit => "no limit".to_owned(),
                    },
                ]
            })
            .collect();
        let heads = [
            ("Pull", Lean::Left),
            ("Condition", Lean::Left),
            ("Batch", Lean::Left),
            ("Read", Lean::Right),
            ("", Lean::Left),
        ];
        paper.columns(&heads, &rows);
    }
    let struck = book.readings.iter().filter(|read| read.struck.is_some()).count();
    if struck > 0 {
        paper.gap();
        paper.paragraph(0, &format!("{struck} struck out; the page shows them with their reasons."));
    }
}

fn enter(common: &Common, asked: &StudyEnter, look: Look) -> Result<Answer, Failure> {
    let input = InputBytes::measured(&asked.file)?;
    let table = (input.name.as_str(), input.bytes.as_slice());
    block_on(async {
        let want = if asked.look { Want::Read } else { Want::Write };
        let shelf = Shelf::open(common, &asked.by.place, want).await?;
        let records = study_called(&shelf.workspace, &asked.study).await.map_err(|error| refused(&error))?;
        let seen = look_at_readings(&records, day(None), table)
            .map_err(|problems| Failure::bad_input(problems, None))?;
        if !asked.look {
            let who = who(asked.by.who.as_ref(), shelf.sample);
            let by = (who.as_str(), day(None));
            bring_readings(&shelf.workspace, by, records.root().id, table)
                .await
                .map_err(|error| not_kept(&error))?;
        }
        brought(common, seen, !asked.look, look)
    })
}
