//! `experiment`: designed experiments as they stand, what their runs say, readings from a table, a figure.

use super::brought;
use crate::answer::{Answer, Failure};
use crate::arguments::{Common, ExperimentDraw, ExperimentEnter, ExperimentShow, ExperimentVerb, Where};
use crate::input::InputBytes;
use crate::paper::{Lean, Look, Paper};
use crate::shelf::{Shelf, Want, block_on, not_kept, refused, who};
use crate::verbs::proof::{looking, of_runs};
use crate::writing::write_whole;
use levigate_documents::figure::Rendition;
use levigate_documents::sight::drawn;
use levigate_project::workbench::experiments::{
    Asking, ExperimentAnswer, ExperimentBook, ExperimentCard, RunTold, bring_run_readings, experiment_answer,
    experiment_book, experiment_called, experiment_cards, experiment_seen, look_at_run_readings,
};
use serde::Serialize;

pub(super) fn experiment(common: &Common, asked: &ExperimentVerb, look: Look) -> Result<Answer, Failure> {
    match asked {
        ExperimentVerb::List(place) => list(common, place, look),
        ExperimentVerb::Show(asked) => show(common, asked, look),
        ExperimentVerb::Enter(asked) => enter(common, asked, look),
        ExperimentVerb::Draw(asked) => draw(common, asked, look),
    }
}

#[derive(Serialize)]
struct Listed<'a> {
    experiments: &'a [ExperimentCard],
}

fn list(common: &Common, place: &Where, look: Look) -> Result<Answer, Failure> {
    block_on(async {
        let shelf = Shelf::open(common, place, Want::Read).await?;
        let all = experiment_cards(&shelf.workspace).await.map_err(|error| refused(&error))?;
        if common.json {
            return Answer::json(&Listed { experiments: &all });
        }
        let mut paper = Paper::new(look);
        if all.is_empty() {
            paper.paragraph(0, "No experiment yet. One is planned in the browser, under Experiments.");
            return Ok(Answer::text(paper.finish()));
        }
        let rows: Vec<Vec<String>> = all
            .iter()
            .map(|card| {
                let of = if card.formula.is_empty() {
                    "freely named parts".to_owned()
                } else {
                    format!("{}, version {}", card.formula, card.version)
                };
                vec![card.number.to_string(), card.name.clone(), of, card.stands.clone()]
            })
            .collect();
        let heads =
            [("", Lean::Right), ("Experiment", Lean::Left), ("Of", Lean::Left), ("Stands", Lean::Left)];
        paper.columns(&heads, &rows);
        Ok(Answer::text(paper.finish()))
    })
}

#[derive(Serialize)]
struct Shown<'a> {
    experiment: &'a ExperimentBook,
    says: &'a ExperimentAnswer,
}

fn show(common: &Common, asked: &ExperimentShow, look: Look) -> Result<Answer, Failure> {
    block_on(async {
        let shelf = Shelf::open(common, &asked.place, Want::Read).await?;
        let records =
            experiment_called(&shelf.workspace, &asked.experiment).await.map_err(|error| refused(&error))?;
        let book = experiment_book(&records);
        let asking = Asking { model: asked.model.clone().unwrap_or_default(), ..Asking::default() };
        let says = experiment_answer(&records, &asking).map_err(|error| not_kept(&error))?;
        if common.json {
            return Answer::json(&Shown { experiment: &book, says: &says });
        }
        let mut paper = Paper::new(look);
        sheet(&mut paper, &book);
        for one in &says.refused {
            paper.gap();
            let name = if one.name.is_empty() { String::new() } else { format!("{}: ", one.name) };
            paper.paragraph(0, &format!("{name}{}; {}.", one.what, one.what_now));
        }
        if let Some(answer) = &says.answer {
            of_runs(&mut paper, answer);
        }
        Ok(Answer::text(paper.finish()))
    })
}

fn sheet(paper: &mut Paper, book: &ExperimentBook) {
    let card = &book.card;
    paper.title(&card.name);
    let of = if card.formula.is_empty() {
        "with freely named parts".to_owned()
    } else {
        format!("with {}, version {}", card.formula, card.version)
    };
    paper.paragraph(0, &format!("Experiment {} {of}; {} runs, {}.", card.number, card.planned, card.stands));
    paper.paragraph(0, &book.first);
    let blocks = book.runs.iter().any(|run| run.block.is_some());
    for (name, runs) in [("Run sheet", &book.runs), ("Check batches", &book.checks)] {
        if runs.is_empty() {
            continue;
        }
        let mut heads: Vec<(String, Lean)> = vec![("run".to_owned(), Lean::Right)];
        if blocks {
            heads.push(("block".to_owned(), Lean::Right));
        }
        heads.extend(card.parts.iter().map(|part| (format!("{part}, %"), Lean::Right)));
        heads.extend(book.typed.settings.iter().map(|one| (named(&one.name, &one.unit), Lean::Right)));
        heads.extend(book.typed.reads.iter().map(|one| (named(&one.name, &one.unit), Lean::Right)));
        heads.push(("made".to_owned(), Lean::Left));
        let heads: Vec<(&str, Lean)> = heads.iter().map(|(head, lean)| (head.as_str(), *lean)).collect();
        let row = |run: &RunTold| {
            let mut cells = vec![run.run.clone()];
            if blocks {
                cells.push(run.block.map(|block| block.to_string()).unwrap_or_default());
            }
            cells.extend(run.percent.iter().chain(&run.settings).cloned());
            cells.extend(
                run.read
                    .iter()
                    .map(|read| read.as_ref().map_or_else(|| "–".to_owned(), |it| it.typed.clone())),
            );
            cells.push(match &run.batch {
                Some(batch) if batch.trial_number > 0 => {
                    format!("trial {}, version {}", batch.trial_number, batch.version)
                }
                Some(_) => "made".to_owned(),
                None => String::new(),
            });
            cells
        };
        paper.heading(name, "");
        paper.columns(&heads, &runs.iter().map(row).collect::<Vec<_>>());
    }
}

fn named(name: &str, unit: &str) -> String {
    if unit.is_empty() { name.to_owned() } else { format!("{name}, {unit}") }
}

fn enter(common: &Common, asked: &ExperimentEnter, look: Look) -> Result<Answer, Failure> {
    let input = InputBytes::measured(&asked.file)?;
    let table = (input.name.as_str(), input.bytes.as_slice());
    block_on(async {
        let want = if asked.look { Want::Read } else { Want::Write };
        let shelf = Shelf::open(common, &asked.by.place, want).await?;
        let records =
            experiment_called(&shelf.workspace, &asked.experiment).await.map_err(|error| refused(&error))?;
        let seen =
            look_at_run_readings(&records, table).map_err(|problems| Failure::bad_input(problems, None))?;
        if !asked.look {
            let who = who(asked.by.who.as_ref(), shelf.sample);
            bring_run_readings(&shelf.workspace, &who, records.root().id, table)
                .await
                .map_err(|error| not_kept(&error))?;
        }
        brought(common, seen, !asked.look, look)
    })
}

#[derive(Serialize)]
struct Drawn {
    title: String,
    caption: String,
    file: String,
}

fn draw(common: &Common, asked: &ExperimentDraw, look: Look) -> Result<Answer, Failure> {
    block_on(async {
        let shelf = Shelf::open(common, &asked.place, Want::Read).await?;
        let records =
            experiment_called(&shelf.workspace, &asked.experiment).await.map_err(|error| refused(&error))?;
        let model = asked.model.clone().unwrap_or_default();
        let seen = experiment_seen(&records, &looking(&asked.plane, &model)).map_err(|one| {
            let fault = levigate_project::workbench::keeping::FieldFault {
                field: one.name,
                what: one.what,
                why: "the models are drawn where they speak".to_owned(),
                what_now: one.what_now,
            };
            not_kept(&fault.into())
        })?;
        let figure = drawn("experiment", &seen, Rendition::Print);
        write_whole(&asked.svg, figure.svg.as_bytes())?;
        let file = asked.svg.display().to_string();
        if common.json {
            return Answer::json(&Drawn { title: figure.title, caption: figure.caption, file });
        }
        let mut paper = Paper::new(look);
        paper.paragraph(0, &format!("{}. {} {file} is written.", figure.title, figure.caption));
        Ok(Answer::text(paper.finish()))
    })
}
