//! How a draft is made.

use super::Inner;
use super::judging::value;
use crate::desk::{Draft, Made, Way};
use crate::draft_sheet;
use levigate_project::workbench::assess::Bench;
use levigate_project::workbench::citations::citations_in;
use levigate_project::workbench::procedure::sheet_procedure;

/// The procedure of a draft; nothing where it cannot be assessed.
pub(super) fn made(desk: &Inner, bench: Bench<'_>, draft: &Draft) -> Option<Made> {
    let facts = desk.shelf.facts_with(&draft.own_facts).ok()?;
    let reading = draft_sheet::read(draft).ok()?;
    if reading.line_ids.is_empty() {
        return None;
    }
    let (procedure, steps) = sheet_procedure(&facts, &reading.sheet, Some(bench)).ok()?;
    let fields = if draft.steps.is_empty() {
        draft_sheet::write_steps(&steps, &reading.sheet, &reading.line_ids)
    } else {
        draft.steps.clone()
    };
    let sources = citations_in(&facts, &value(&procedure));
    let ways = facts.handling.stirring.values();
    Some(Made {
        procedure,
        fields,
        line_ids: reading.line_ids,
        ways: ways.map(|way| Way { key: way.key.clone(), words: way.words.clone() }).collect(),
        sources,
    })
}
