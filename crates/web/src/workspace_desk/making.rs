//! How a draft is made, how sure a batch of it is, and how it goes to the plant.

use super::judging::value;
use super::troubles::diagnosed;
use super::{Inner, WorkspaceDesk, bench};
use crate::desk::{Answer, Draft, Made, Way};
use crate::draft_sheet;
use crate::making::{DRAWS, MakingDesk, Scaled, Sure, SureAsked};
use crate::trouble::{Kind, Trouble};
use async_trait::async_trait;
use levigate_project::sheet::parse_typed;
use levigate_project::workbench::assess::Bench;
use levigate_project::workbench::citations::citations_in;
use levigate_project::workbench::complaint::sentence;
use levigate_project::workbench::draft::market_of;
use levigate_project::workbench::making::scale::{SheetTrouble, sheet_scale, vessels};
use levigate_project::workbench::making::uncertainty::{MadeWith, sheet_uncertainty};
use levigate_project::workbench::procedure::sheet_procedure;
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;

#[async_trait]
impl MakingDesk for WorkspaceDesk {
    async fn sure(&self, formula: &str, draft: &Draft, asked: &SureAsked) -> Answer<Option<Sure>> {
        let (formula, draft, asked) = (formula.to_owned(), draft.clone(), asked.clone());
        let known = bench::flow(self).await?;
        self.work(move |desk| sure(desk, known.for_formula(&formula), &draft, &asked)).await?
    }

    async fn scale(&self, formula: &str, draft: &Draft, text: String) -> Answer<Scaled> {
        let (formula, draft, known) = (formula.to_owned(), draft.clone(), bench::flow(self).await?);
        self.work(move |desk| scale(desk, known.for_formula(&formula), &draft, &text)).await?
    }
}

/// A number as typed; nothing where nothing stands.
fn typed(field: &'static str, text: &str, [least, most]: [f64; 2]) -> Answer<Option<Decimal>> {
    if text.trim().is_empty() {
        return Ok(None);
    }
    let refuse = |what: String, what_now: String| {
        Trouble::new(Kind::BadInput, "not-a-size", what, "", what_now).in_field(field)
    };
    let number =
        parse_typed(text).map_err(|error| refuse(sentence(&error.to_string()), sentence(error.hint())))?;
    if number.to_f64().is_some_and(|value| (least..=most).contains(&value)) {
        return Ok(Some(number));
    }
    Err(refuse(
        format!("{number} cannot be."),
        format!("Type a number between {least} and {most}, or leave it empty."),
    ))
}

/// How sure a batch of a draft is; nothing where it cannot be assessed.
fn sure(desk: &Inner, bench: Bench<'_>, draft: &Draft, asked: &SureAsked) -> Answer<Option<Sure>> {
    let (Ok(facts), Ok(reading)) = (desk.shelf.facts_with(&draft.own_facts), draft_sheet::read(draft)) else {
        return Ok(None);
    };
    if reading.line_ids.is_empty() {
        return Ok(None);
    }
    let size = |field, text: &str, limits| {
        typed(field, text, limits).map(|found| found.and_then(|size| size.to_f64()))
    };
    let with = MadeWith {
        batch_g: size("batch_g", &asked.batch_g, [0.001, 1e9])?,
        readability_g: typed("balance_g", &asked.balance_g, [1e-7, 1e4])?,
        repeatability_g: size("repeatability_g", &asked.repeatability_g, [0.0, 1e4])?,
        meter_ph: size("meter_ph", &asked.meter_ph, [0.0, 2.0])?,
        price_half_width_percent: size("price_percent", &asked.price_percent, [0.0, 99.0])?,
        draws: DRAWS,
    };
    let market = market_of(&reading.sheet, &desk.setup.market, &facts.rules);
    match sheet_uncertainty(&facts, (desk.day(), market), &reading.sheet, Some(bench), &with) {
        Ok(found) => {
            let sources = citations_in(&facts, &value(&found));
            Ok(Some(Sure { found, line_ids: reading.line_ids, sources }))
        }
        Err(complaints) => match complaints.into_iter().find(|one| one.field == "bench.balance_g") {
            Some(one) => Err(Trouble::new(Kind::BadInput, "no-balance", one.what, one.why, one.what_now)
                .in_field("balance_g")),
            // The sheet itself tells what is wrong with it.
            None => Ok(None),
        },
    }
}

/// A draft from the bench to the plant.
fn scale(desk: &Inner, bench: Bench<'_>, draft: &Draft, text: &str) -> Answer<Scaled> {
    const MEND: &str = "The sheet cannot be assessed as it stands: mend what is marked in it first.";
    let refused = |vessels, why: &str| Scaled { vessels, refused: why.to_owned(), ..Scaled::default() };
    let Ok(facts) = desk.shelf.facts_with(&draft.own_facts) else {
        return Ok(refused(vessels(&desk.shelf.facts()), MEND));
    };
    let known = vessels(&facts);
    if text.trim().is_empty() {
        return Ok(Scaled { vessels: known, ..Scaled::default() });
    }
    let Ok(reading) = draft_sheet::read(draft) else { return Ok(refused(known, MEND)) };
    let market = market_of(&reading.sheet, &desk.setup.market, &facts.rules);
    match sheet_scale(&facts, (desk.day(), market), (&reading.sheet, Some(bench)), ("", text)) {
        Ok(found) => {
            let sources = citations_in(&facts, &value(&found));
            Ok(Scaled { vessels: known, found: Some(found), refused: String::new(), sources })
        }
        Err(SheetTrouble::Question(problems)) => Err(diagnosed("scale", &problems)),
        Err(SheetTrouble::Sheet(complaints)) => {
            let flow = complaints.iter().find(|one| one.field == "sheet" && one.line.is_none());
            let why = flow.map_or_else(|| MEND.to_owned(), |one| format!("{} {}", one.what, one.what_now));
            Ok(refused(known, &why))
        }
    }
}

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
