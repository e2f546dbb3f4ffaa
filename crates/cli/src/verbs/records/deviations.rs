//! `batch deviations`: what went otherwise than planned, over a span of days.

use super::batch::moment;
use crate::answer::{Answer, Failure};
use crate::arguments::{BatchDeviations, Common};
use crate::paper::{Look, Paper};
use crate::shelf::{Shelf, Want, block_on, refused};
use crate::verbs::{day, papers};
use levigate_documents::deviation_list;
use levigate_project::workbench::batch::{DeviationList, deviations_between};

/// Lists them and writes the files asked for.
pub(super) fn deviations(common: &Common, asked: &BatchDeviations, look: Look) -> Result<Answer, Failure> {
    let to = day(asked.to);
    if asked.from > to {
        let what = format!("{} is after {to}", asked.from);
        return Err(Failure::bad_option("span", "--from", what, "name the first day, then the last"));
    }
    block_on(async {
        let shelf = Shelf::open(common, &asked.place, Want::Read).await?;
        let list = deviations_between(&shelf.workspace, (asked.from, to)).await;
        let list = list.map_err(|error| refused(&error))?;
        let files = papers::files(&deviation_list(&list), &asked.files)?;
        let answer = if common.json { Answer::json(&list)? } else { Answer::text(told(&list, look)) };
        papers::write(files, answer)
    })
}

fn told(list: &DeviationList, look: Look) -> String {
    let mut paper = Paper::new(look);
    let span = (list.from.map(|day| day.to_string()), list.to.map(|day| day.to_string()));
    paper.title(&format!("Deviations, {} to {}", span.0.unwrap_or_default(), span.1.unwrap_or_default()));
    if list.rows.is_empty() {
        paper.paragraph(0, "Nothing went otherwise than planned, as far as the records show.");
    }
    for row in &list.rows {
        let entry = row.entry.map(|entry| format!(", entry {entry}")).unwrap_or_default();
        paper.heading(
            &format!("{}{entry}", row.batch),
            &format!("{}, {} (UTC)", row.product, moment(row.when)),
        );
        paper.hanging(2, &format!("{}:", row.kind), &row.text);
        for (word, text) in [("why:", &row.reason), ("decided:", &row.decision)] {
            if !text.is_empty() {
                paper.hanging(2, word, text);
            }
        }
        paper.hanging(2, "by:", &format!("{}, {}", row.who, row.known_by));
        if let Some(struck) = &row.struck {
            paper.hanging(2, "struck out:", &format!("by {}: {}", struck.who, struck.reason));
        }
    }
    paper.finish()
}
