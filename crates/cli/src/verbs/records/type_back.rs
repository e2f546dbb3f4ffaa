//! `batch type-back`: a sheet that was filled by hand, into the record.

use crate::answer::{Answer, Failure};
use crate::arguments::{BatchTypeBack, Common};
use crate::input::Input;
use crate::paper::{Lean, Look, Paper};
use crate::shelf::{Shelf, Want, block_on, not_kept, who};
use crate::verbs::day;
use levigate_project::workbench::batch::{RowKept, TypedSheet, rows_of_table, type_back as typed};
use serde::Serialize;

#[derive(Serialize)]
struct Told<'a> {
    who: &'a str,
    rows: &'a [RowKept],
}

/// Keeps what stands on the sheet, all of it or nothing.
pub(super) fn type_back(common: &Common, asked: &BatchTypeBack, look: Look) -> Result<Answer, Failure> {
    let input = Input::read(&asked.rows)?;
    let rows = rows_of_table(&input.name, &input.text).map_err(|problems| input.refused(problems))?;
    let sheet = TypedSheet {
        code: asked.sheet.clone(),
        day: asked.day.map(|day| day.to_string()).unwrap_or_default(),
        utc_offset: asked.utc_offset.clone(),
        rows,
        sure: asked.sure,
    };
    block_on(async {
        let shelf = Shelf::open(common, &asked.by.place, Want::Write).await?;
        let who = who(asked.by.who.as_ref(), shelf.sample);
        let by = (who.as_str(), day(None));
        let kept = typed(&shelf.workspace, &shelf.facts, by, &asked.batch, &sheet).await;
        let kept = kept.map_err(|error| not_kept(&error))?;
        if common.json {
            return Answer::json(&Told { who: &who, rows: &kept });
        }
        let mut paper = Paper::new(look);
        let row = |row: &RowKept| {
            let state = if row.already { "was kept before" } else { "kept" };
            vec![
                row.line.clone(),
                row.name.clone(),
                format!("entry {}", row.number),
                state.to_owned(),
                row.verdict.to_owned(),
            ]
        };
        let heads = [
            ("Line", Lean::Right),
            ("", Lean::Left),
            ("", Lean::Left),
            ("", Lean::Left),
            ("Stands", Lean::Left),
        ];
        paper.columns(&heads, &kept.iter().map(row).collect::<Vec<_>>());
        for row in kept.iter().filter(|row| !row.slip.is_empty()) {
            paper.hanging(2, &format!("line {}:", row.line), &row.slip);
        }
        Ok(Answer::text(paper.finish()))
    })
}
