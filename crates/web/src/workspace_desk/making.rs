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
use levigate_project::workbench::complaint::{Complaint, sentence};
use levigate_project::workbench::draft::market_of;
use levigate_project::workbench::making::scale::{SheetTrouble, sheet_scale, vessels};
use levigate_project::workbench::making::uncertainty::{
    Balance, BalanceRecord, MadeWith, NamedBalance, NamedLot, Spread, TypedClass, sheet_uncertainty,
};
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
fn typed(field: &str, text: &str, [least, most]: [f64; 2]) -> Answer<Option<Decimal>> {
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

/// Most further balances that are taken.
const MOST_BALANCES: usize = 12;

/// The field of the plate that a complaint is about.
fn field_of(complaint: &Complaint, line_ids: &[String]) -> Option<String> {
    match complaint.field {
        "bench.balance_g" => Some("balance_g".to_owned()),
        "lot" => Some(format!("lines.{}.spread", line_ids.get(complaint.line?)?)),
        _ => None,
    }
}

/// What a batch is made with, as typed.
fn made_with(asked: &SureAsked, line_ids: &[String]) -> Answer<MadeWith> {
    let size = |field: &str, text: &str, limits| {
        typed(field, text, limits).map(|found| found.and_then(|size| size.to_f64()))
    };
    let class =
        |text: &str| (!text.is_empty()).then(|| TypedClass { class: text.to_owned(), interval_g: None });
    let known: Vec<&String> = asked.lines.keys().filter(|id| line_ids.contains(id)).collect();
    let place = |id: &String| line_ids.iter().position(|one| one == id);
    let on = |balance: &str| -> Vec<usize> {
        let named =
            known.iter().filter(|id| asked.lines.get(**id).is_some_and(|line| line.balance == balance));
        named.filter_map(|id| place(id)).collect()
    };
    let mut others = Vec::new();
    for (at, one) in asked.balances.iter().enumerate().take(MOST_BALANCES) {
        let field = |name: &str| format!("balances.{at}.{name}");
        let Some(readability_g) = typed(&field("readability_g"), &one.readability_g, [1e-7, 1e4])? else {
            continue;
        };
        let record = BalanceRecord {
            name: Some(one.name.trim().chars().take(60).collect()).filter(|name: &String| !name.is_empty()),
            readability_g,
            repeatability_g: size(&field("repeatability_g"), &one.repeatability_g, [0.0, 1e4])?,
            capacity_g: None,
            certificate: None,
        };
        let balance = Balance::try_from(record).map_err(|error| {
            Trouble::new(
                Kind::BadInput,
                "no-balance",
                sentence(&error.to_string()),
                "",
                sentence(error.hint()),
            )
            .in_field(field("readability_g"))
        })?;
        let up_to_g = size(&field("up_to_g"), &one.up_to_g, [1e-6, 1e9])?;
        let named = |lines, up_to_g| NamedBalance {
            balance: balance.clone(),
            lines,
            up_to_g,
            class: class(&one.class),
        };
        let lines = on(&at.to_string());
        if !lines.is_empty() {
            others.push(named(lines, None));
        }
        if up_to_g.is_some() {
            others.push(named(Vec::new(), up_to_g));
        }
    }
    let mut lots = Vec::new();
    for id in &known {
        let (Some(line), Some(one)) = (place(id), asked.lines.get(*id)) else { continue };
        let field = |name: &str| format!("lines.{id}.{name}");
        let spread = size(&field("spread"), &one.spread, [0.0, 100.0])?;
        let assay_percent = typed(&field("assay_percent"), &one.assay_percent, [0.001, 100.0])?;
        match spread {
            Some(spread) => lots.push(NamedLot {
                line,
                assay_percent,
                spread: if one.spread_is == "standard" {
                    Spread::Standard(spread)
                } else {
                    Spread::HalfWidth(spread)
                },
            }),
            None if assay_percent.is_some() => {
                return Err(Trouble::new(
                    Kind::BadInput,
                    "no-spread",
                    "The certificate gives an assay, and nothing says how sure it is.",
                    "Without it the lot would count as exact.",
                    "Type how far it may be off, in percentage points.",
                )
                .in_field(field("spread")));
            }
            None => {}
        }
    }
    Ok(MadeWith {
        batch_g: size("batch_g", &asked.batch_g, [0.001, 1e9])?,
        readability_g: typed("balance_g", &asked.balance_g, [1e-7, 1e4])?,
        repeatability_g: size("repeatability_g", &asked.repeatability_g, [0.0, 1e4])?,
        class: class(&asked.class),
        usual_lines: on("usual"),
        others,
        lots,
        meter_ph: size("meter_ph", &asked.meter_ph, [0.0, 2.0])?,
        price_half_width_percent: size("price_percent", &asked.price_percent, [0.0, 99.0])?,
        draws: DRAWS,
    })
}

/// How sure a batch of a draft is; nothing where it cannot be assessed.
fn sure(desk: &Inner, bench: Bench<'_>, draft: &Draft, asked: &SureAsked) -> Answer<Option<Sure>> {
    let (Ok(facts), Ok(reading)) = (desk.shelf.facts_with(&draft.own_facts), draft_sheet::read(draft)) else {
        return Ok(None);
    };
    if reading.line_ids.is_empty() {
        return Ok(None);
    }
    let with = made_with(asked, &reading.line_ids)?;
    let market = market_of(&reading.sheet, &desk.setup.market, &facts.rules);
    match sheet_uncertainty(&facts, (desk.day(), market), &reading.sheet, Some(bench), &with) {
        Ok(found) => {
            let sources = citations_in(&facts, &value(&found));
            Ok(Some(Sure { found, line_ids: reading.line_ids, sources }))
        }
        Err(complaints) => {
            match complaints.into_iter().find_map(|one| Some((field_of(&one, &reading.line_ids)?, one))) {
                Some((field, one)) => {
                    Err(Trouble::new(Kind::BadInput, "cannot-be", one.what, one.why, one.what_now)
                        .in_field(field))
                }
                // The sheet itself tells what is wrong with it.
                None => Ok(None),
            }
        }
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
