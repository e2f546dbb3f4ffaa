//! Batches, lots on the shelf and the records as a whole, one module per verb.

mod at_bench;
mod batch;
mod copies;
mod deviations;
mod experiment;
mod lot;
mod study;
mod study_lines;
mod trace;
mod type_back;

use crate::answer::{Answer, Failure};
use crate::arguments::{BatchVerb, Common, RecordsVerb, RecordsWhat};
use crate::paper::{Look, Paper};
use levigate_project::workbench::readings_table::ReadingsTable;
use serde::Serialize;

/// Answers a question about the records.
pub(crate) fn records(common: &Common, asked: &RecordsVerb, look: Look) -> Result<Answer, Failure> {
    match asked {
        RecordsVerb::Batch(asked) => match &asked.what {
            BatchVerb::List(asked) => batch::list(common, asked, look),
            BatchVerb::Show(asked) => batch::show(common, asked, look),
            BatchVerb::Export(asked) => batch::export(common, asked),
            BatchVerb::Deviations(asked) => deviations::deviations(common, asked, look),
            BatchVerb::Enter(asked) => at_bench::enter(common, asked, look),
            BatchVerb::Sign(asked) => at_bench::sign(common, asked, look),
            BatchVerb::Advise(asked) => at_bench::advise(common, asked, look),
            BatchVerb::Course(asked) => at_bench::course(common, asked, look),
            BatchVerb::TypeBack(asked) => type_back::type_back(common, asked, look),
        },
        RecordsVerb::Lot(asked) => lot::lot(common, asked, look),
        RecordsVerb::Trace(asked) => trace::trace(common, asked, look),
        RecordsVerb::Experiment(asked) => experiment::experiment(common, &asked.what, look),
        RecordsVerb::Study(asked) => study::study(common, &asked.what, look),
        RecordsVerb::Records(asked) => match &asked.what {
            RecordsWhat::Check(place) => copies::check(common, place, look),
        },
        RecordsVerb::Backup(asked) => copies::backup(common, asked, look),
        RecordsVerb::Restore(asked) => copies::restored(common, asked, look),
    }
}

#[derive(Serialize)]
struct Brought {
    table: ReadingsTable,
    kept: bool,
}

/// What a table of readings brings, or would bring.
fn brought(common: &Common, table: ReadingsTable, kept: bool, look: Look) -> Result<Answer, Failure> {
    if common.json {
        return Answer::json(&Brought { table, kept });
    }
    let mut paper = Paper::new(look);
    for line in &table.lines {
        paper.hanging(0, &format!("line {}:", line.line), &line.words);
        for wrong in &line.wrong {
            paper.paragraph(2, wrong);
        }
    }
    for wrong in &table.wrong {
        paper.paragraph(0, wrong);
    }
    let done = if kept { "are kept" } else { "would be kept" };
    paper.paragraph(0, &format!("{} readings {done}.", table.readings));
    Ok(Answer::text(paper.finish()))
}
