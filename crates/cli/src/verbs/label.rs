//! `label`: the ingredient list and warnings for a market as of a date.

use super::tables::rules;
use super::{day, papers};
use crate::answer::{Answer, Failure};
use crate::arguments::{Common, Label};
use crate::input::{self, FactsUsed, Input};
use crate::paper::{Look, Paper};
use levigate_documents::label_text;
use levigate_project::workbench::label::{LabelReading, label as label_of};
use levigate_project::workbench::sheet::version_code;
use serde::Serialize;

#[derive(Serialize)]
struct Written<'a> {
    #[serde(flatten)]
    reading: &'a LabelReading,
    facts: &'a FactsUsed,
}

/// Writes the label.
pub(crate) fn label(common: &Common, asked: &Label, look: Look) -> Result<Answer, Failure> {
    let (facts, used) = input::facts(&common.facts)?;
    let input = Input::read(&asked.formula)?;
    let market = asked.market.to_lowercase();
    let reading = label_of(&facts, day(asked.date), &market, &input.name, &input.text)
        .map_err(|problems| input.refused(problems))?;
    let document = label_text(&reading, &version_code(&input.text));
    let files = papers::files(&document, &asked.files)?;
    if common.json {
        return papers::write(files, Answer::json(&Written { reading: &reading, facts: &used })?);
    }
    let mut paper = Paper::new(look);
    paper.title(&reading.product);
    paper.paragraph(0, &format!("market {}, rules as of {}", reading.market, reading.as_of));
    match &reading.label {
        Some(list) => rules::ingredient_list(&mut paper, list),
        None => paper.hanging(2, "no list:", reading.refused.as_deref().unwrap_or_default()),
    }
    rules::allergen_table(&mut paper, &reading.allergens);
    if let Some(remark) = used.remark() {
        paper.heading("", &remark);
    }
    papers::write(files, Answer::text(paper.finish()))
}
