//! `data check`: proves the facts, the shipped ones and those laid over them.

use crate::answer::{Answer, BAD_INPUT, DONE, Failure, complaint};
use crate::arguments::Common;
use crate::diagnostics;
use crate::input::{self, FactsUsed};
use crate::paper::{Lean, Look, Paper};
use levigate_facts::check::{Finding, check};
use levigate_facts::{Facts, place_of_field, shipped_text};
use levigate_project::diagnostic::Diagnostic;
use serde::Serialize;
use std::borrow::Cow;
use std::collections::BTreeMap;

/// What the check looks at, for people.
const LOOKED_AT: &str = "Proved: schema, every source known and used, CAS check digits, ranges and sums, charges, masses against \
    formulas, names that mean one thing, references to what exists, dates of the rules.";

#[derive(Serialize)]
struct Written<'a> {
    /// Records per table.
    records: BTreeMap<&'a str, usize>,
    flaws: &'a [Diagnostic],
    facts: &'a FactsUsed,
}

/// Checks the facts.
pub(crate) fn check_data(common: &Common, look: Look) -> Result<Answer, Failure> {
    let (facts, used) = input::facts(&common.facts)?;
    let flaws: Vec<Diagnostic> = check(&facts).iter().map(flaw).collect();
    let records = records(&facts);
    let exit = if flaws.is_empty() { DONE } else { BAD_INPUT };
    if common.json {
        let answer = Answer::json(&Written { records, flaws: &flaws, facts: &used })?;
        return Ok(Answer { exit, ..answer });
    }
    let mut paper = Paper::new(look);
    paper.title(&format!("Facts {}", used.version));
    let rows: Vec<Vec<String>> =
        records.iter().map(|(table, count)| vec![(*table).to_owned(), count.to_string()]).collect();
    paper.columns(&[("records", Lean::Left), ("", Lean::Right)], &rows);
    paper.gap();
    paper.paragraph(0, LOOKED_AT);
    if let Some(remark) = used.remark() {
        paper.paragraph(0, &remark);
    }
    let verdict = match flaws.len() {
        0 => "Nothing to mend.".to_owned(),
        1 => "1 flaw to mend.".to_owned(),
        many => format!("{many} flaws to mend."),
    };
    paper.paragraph(0, &verdict);
    let remarks = flaws.first().map(|first| {
        let text = text_of(&first.file);
        let input = text.as_ref().map(|text| (first.file.as_str(), text.as_ref()));
        diagnostics::rendered(&flaws, input, look.colour)
    });
    Ok(Answer { text: paper.finish(), remarks: remarks.into_iter().collect(), exit })
}

fn records(facts: &Facts) -> BTreeMap<&str, usize> {
    let mut records = BTreeMap::new();
    for (table, _) in facts.places.keys() {
        *records.entry(table.as_str()).or_default() += 1;
    }
    records
}

fn flaw(finding: &Finding) -> Diagnostic {
    let file = finding.place.as_ref().map(|place| place.file.to_string()).unwrap_or_default();
    let field = [finding.table, &finding.key, &finding.field].join(" ").trim().to_owned();
    let mut problem = complaint("facts", &file, &field, finding.flaw.to_string(), finding.flaw.hint());
    if let Some(place) = &finding.place {
        let exact = text_of(&place.file).map(|text| place_of_field(&text, place, &finding.field));
        let place = exact.as_ref().unwrap_or(place);
        problem.line = place.line;
        problem.column = place.column;
    }
    problem
}

/// A shipped text, or one of a folder laid over.
fn text_of(file: &str) -> Option<Cow<'static, str>> {
    shipped_text(file).map(Cow::Borrowed).or_else(|| Some(Cow::Owned(std::fs::read_to_string(file).ok()?)))
}
