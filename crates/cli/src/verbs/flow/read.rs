//! `flow read`: bench readings as viscosities and points of a flow curve.

use crate::answer::{Answer, Failure, complaint};
use crate::arguments::{Common, FlowRead as Asked};
use crate::input::{self, FactsUsed, Input};
use crate::numbers;
use crate::paper::{Lean, Look, Paper};
use crate::verbs::tables::{notes, results};
use levigate_measure::Outcome;
use levigate_project::workbench::flow_read::{Compared, EntryReading, FlowRead, Law, flow_read};
use serde::Serialize;

/// Pairs of entries told on the screen; all are in the JSON.
const TOLD: usize = 12;

#[derive(Serialize)]
struct Written<'a> {
    #[serde(flatten)]
    read: &'a FlowRead,
    facts: &'a FactsUsed,
}

/// Reads a file of bench readings.
pub(crate) fn read(common: &Common, asked: &Asked, look: Look) -> Result<Answer, Failure> {
    let (facts, used) = input::facts(&common.facts)?;
    let input = Input::read(&asked.file)?;
    let read = flow_read(&facts, input.pair()).map_err(|problems| input.refused(problems))?;
    if asked.curve {
        return read.curve.map(Answer::text).ok_or_else(|| {
            let what = "no entry, and no sample of several cups or runs, gives three points";
            let what_now = "read at three speeds, with three cups, or at three tilts; without --curve single viscosities are told";
            input.refused(vec![complaint("no-curve", &input.name, "", what, what_now)])
        });
    }
    if common.json {
        return Answer::json(&Written { read: &read, facts: &used });
    }
    let mut paper = Paper::new(look);
    let file = if read.file == "-" { "standard input" } else { &read.file };
    paper.title(&format!("Readings of {file}"));
    read.entries.iter().for_each(|entry| entry_page(&mut paper, entry));
    read.laws.iter().for_each(|law| law_page(&mut paper, law));
    beside_page(&mut paper, &read.beside);
    if read.curve.is_some() {
        paper.gap();
        paper.paragraph(0, "Three points or more: levigate flow read FILE --curve | levigate flow fit -");
    }
    if let Some(remark) = used.remark() {
        paper.paragraph(2, &remark);
    }
    Ok(Answer::text(paper.finish()))
}

fn entry_page(paper: &mut Paper, entry: &EntryReading) {
    paper.heading(entry.title(), &entry.with);
    for statement in &entry.statements {
        paper.paragraph(2, &statement.words);
    }
    if !entry.points.is_empty() {
        paper.gap();
        let with_ends = |of: &Outcome| {
            let value = numbers::value(of.value.unwrap_or(0.0), None, None);
            [value, numbers::interval(of).unwrap_or_default()]
        };
        let rows: Vec<Vec<String>> = entry
            .points
            .iter()
            .map(|point| [&point.shear_rate, &point.stress, &point.viscosity].map(with_ends).concat())
            .collect();
        paper.columns(
            &[
                ("1/s", Lean::Right),
                ("", Lean::Left),
                ("Pa", Lean::Right),
                ("", Lean::Left),
                ("Pa\u{b7}s", Lean::Right),
                ("", Lean::Left),
            ],
            &rows,
        );
    }
    if let Some(trouble) = &entry.trouble {
        paper.hanging(2, "no points:", &format!("{}; {}", trouble.what, trouble.what_now));
    }
    notes(paper, &entry.notes);
    notes(paper, entry.statements.iter().flat_map(|statement| &statement.viscosity.notes));
}

fn law_page(paper: &mut Paper, law: &Law) {
    let name = if law.name.is_empty() { "Power law" } else { &law.name };
    paper.heading(name, &format!("power law through {}", law.entries.join(", ")));
    results(paper, &[("consistency", &law.consistency), ("flow index", &law.index)]);
    if let Some(trouble) = &law.trouble {
        paper.hanging(2, "what to do:", &trouble.what_now);
    }
}

fn beside_page(paper: &mut Paper, beside: &[Compared]) {
    if beside.is_empty() {
        return;
    }
    paper.heading("Side by side", "statements nearest in speed or shear rate");
    for pair in beside.iter().take(TOLD) {
        let [first, second] = &pair.entries;
        let ratio = pair.ratio.value.map_or_else(|| "\u{2013}".to_owned(), |value| format!("{value:.3}"));
        paper.paragraph(2, &format!("{first} over {second}: {ratio}"));
        if pair.unlike.is_empty() {
            paper.hanging(4, "note:", "the same conditions: the ratio is that of the products");
        }
        for note in &pair.ratio.notes {
            paper.hanging(4, "note:", &note.text);
        }
    }
    if beside.len() > TOLD {
        paper.paragraph(2, &format!("{} more pairs are in --json", beside.len() - TOLD));
    }
}
