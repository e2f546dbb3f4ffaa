//! A draft to what follows from it, and remarks beside its fields.

use super::Inner;
use super::troubles::remark;
use crate::desk::{Draft, FieldRemark, Judgement, Weighing};
use crate::draft_sheet;
use levigate_project::facts::Facts;
use levigate_project::workbench::citations::citations_in;
use levigate_project::workbench::draft::{assess_sheet, market_of, unknown_material};
use levigate_project::workbench::trials::FlowBook;
use serde::Serialize;
use serde_json::Value;

/// JSON of something; nothing where it has none.
pub(super) fn value(something: &impl Serialize) -> Value {
    serde_json::to_value(something).unwrap_or_default()
}

/// Judges a draft, with what the bench has taught.
pub(super) fn judge(desk: &Inner, taught: &FlowBook, formula: &str, draft: &Draft) -> Judgement {
    let facts = match desk.shelf.facts_with(&draft.own_facts) {
        Ok(facts) => facts,
        Err(remarks) => return Judgement { remarks, ..Judgement::default() },
    };
    let reading = match draft_sheet::read(draft) {
        Ok(reading) => reading,
        Err(mut remarks) => {
            remarks.extend(unknown_materials(&facts, draft));
            return Judgement { remarks, ..Judgement::default() };
        }
    };
    // A sheet without lines is not wrong, it is new.
    if reading.line_ids.is_empty() {
        return Judgement::default();
    }
    let market = market_of(&reading.sheet, &desk.setup.market, &facts.rules);
    let bench = Some(taught.for_formula(formula));
    let assessed = match assess_sheet(&facts, desk.day(), market, &reading.sheet, bench) {
        Ok(assessed) => assessed,
        Err(complaints) => {
            let remarks = complaints.into_iter().map(|one| remark(one, &reading.line_ids)).collect();
            return Judgement { remarks, line_ids: reading.line_ids, ..Judgement::default() };
        }
    };
    let assessment = value(&assessed.assessment);
    let weighing = assessed
        .weighing
        .iter()
        .map(|line| Weighing {
            grams: line.grams.to_string(),
            reading: value(&line.reading),
            uncertainty_percent: line.uncertainty_percent.as_ref().map(value).unwrap_or_default(),
        })
        .collect();
    let name = reading.sheet.product.name.as_str();
    Judgement {
        taught_ph: taught.ph().taught(&facts, &reading.sheet, (formula, name)).as_ref().map(value),
        remarks: assessed.complaint.into_iter().map(|one| remark(one, &reading.line_ids)).collect(),
        line_ids: reading.line_ids,
        weighing,
        sources: citations_in(&facts, &assessment),
        assessment: Some(assessment),
    }
}

/// Names nobody knows, told even while another field cannot be read.
fn unknown_materials(facts: &Facts, draft: &Draft) -> Vec<FieldRemark> {
    let lines = draft.phases.iter().flat_map(|phase| &phase.lines);
    lines
        .filter(|line| !line.material.trim().is_empty())
        .filter_map(|line| {
            let mut found = remark(unknown_material(facts, line.material.trim())?, &[]);
            found.line_id = Some(line.id.clone());
            Some(found)
        })
        .collect()
}
