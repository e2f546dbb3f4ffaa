//! `sheet --of specification`: what the product must be like.

use super::{day, papers};
use crate::answer::{Answer, Failure};
use crate::arguments::{Common, Sheet};
use crate::input::{self, FactsUsed, Input};
use crate::numbers;
use crate::paper::{Lean, Look, Paper};
use levigate_documents::specification_paper;
use levigate_project::workbench::specification::{Specification, specification as specified};
use serde::Serialize;

#[derive(Serialize)]
struct Told<'a> {
    #[serde(flatten)]
    specification: &'a Specification,
    facts: &'a FactsUsed,
}

/// Writes the specification.
pub(super) fn specification(common: &Common, asked: &Sheet, look: Look) -> Result<Answer, Failure> {
    if asked.html.is_some() || asked.csv.is_some() {
        return Err(Failure::bad_option(
            "of",
            "--of",
            "a specification is written as PDF or as a workbook",
            "use --pdf or --xlsx",
        ));
    }
    let (facts, used) = input::facts(&common.facts)?;
    let input = Input::read(&asked.formula)?;
    let market = asked.market.to_lowercase();
    let found = specified(&facts, day(asked.date), &market, &input.name, &input.text)
        .map_err(|problems| input.refused(problems))?;
    let files = papers::files(&specification_paper(&found), &asked.files)?;
    let answer = if common.json {
        Answer::json(&Told { specification: &found, facts: &used })?
    } else {
        Answer::text(page(&found, look))
    };
    papers::write(files, answer)
}

fn page(of: &Specification, look: Look) -> String {
    let mut paper = Paper::new(look);
    paper.title(&format!("{}, specification", of.product));
    paper.paragraph(0, &format!("{}; version {}; as of {}", of.used, of.version_code, of.as_of));
    paper.heading("What is tested", "");
    let rows: Vec<Vec<String>> = of
        .properties
        .iter()
        .map(|property| {
            let expected = property.expected.as_ref().map(|outcome| numbers::result(outcome, false));
            vec![
                property.name.clone(),
                if property.limits.is_empty() { "–".to_owned() } else { property.limits.clone() },
                expected.unwrap_or_default(),
                property.method.clone(),
            ]
        })
        .collect();
    let heads = [("", Lean::Left), ("Limits", Lean::Left), ("Computed", Lean::Left), ("Method", Lean::Left)];
    paper.columns(&heads, &rows);
    if let Some(microbes) = &of.microbes {
        paper.heading("Microbes", &format!("{}, a standard and not law", microbes.standard));
        paper.hanging(2, "at most:", &numbers::result(&microbes.limits.most, true));
        paper.hanging(2, "absent in 1 g:", &microbes.limits.absent.join(", "));
        for note in &microbes.limits.most.notes {
            paper.hanging(2, "note:", &note.text);
        }
    }
    if let Some(label) = &of.label {
        paper.heading("Ingredients", &label.act);
        paper.hanging(2, &format!("{}:", label.heading), &label.text);
    }
    if !of.keeping.is_empty() {
        paper.heading("Pack and keeping", "");
        of.keeping.iter().for_each(|(name, value)| paper.hanging(2, &format!("{name}:"), value));
    }
    paper.heading("Not said by the formula", "");
    of.open.iter().for_each(|words| paper.paragraph(2, words));
    paper.finish()
}
