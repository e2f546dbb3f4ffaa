//! `assess`: everything that follows from a formula, the findings first.

use super::tables::{contents, findings, flow, preserving, rules, water};
use super::{USUAL_MARKET, day};
use crate::answer::{Answer, FOUND, Failure};
use crate::arguments::{Assess, Common, FailOn};
use crate::input::{self, FactsUsed, Input};
use crate::paper::{Look, Paper};
use levigate_assess::{Assessment, Gravity};
use levigate_project::formula_file::{self, FormulaFile};
use levigate_project::workbench::assess::{FormulaAssessed, assess as assess_formula};
use levigate_project::workbench::draft::market_of;
use serde::Serialize;

#[derive(Serialize)]
struct Written<'a> {
    product: &'a levigate_formula::sheet::Product,
    #[serde(flatten)]
    assessment: &'a Assessment,
    facts: &'a FactsUsed,
}

/// Assesses a formula.
pub(crate) fn assess(common: &Common, asked: &Assess, look: Look) -> Result<Answer, Failure> {
    let (facts, used) = input::facts(&common.facts)?;
    let input = Input::read(&asked.formula)?;
    let read = formula_file::read(&input.name, &input.text).map_err(|problems| input.refused(problems))?;
    let market = asked
        .market
        .as_deref()
        .unwrap_or_else(|| market_of(&read.sheet, USUAL_MARKET, &facts.rules))
        .to_lowercase();
    let day = day(asked.date);
    let assessed = assess_formula(&facts, day, &market, &input.name, &input.text)
        .map_err(|problems| input.refused(problems))?;
    let mut answer = if common.json {
        Answer::json(&Written {
            product: &assessed.formula.sheet.product,
            assessment: &assessed.assessment,
            facts: &used,
        })?
    } else {
        Answer::text(page(&assessed, &used, look))
    };
    if asked.fail_on.is_some_and(|gravity| fails(&assessed.assessment, gravity)) {
        answer.exit = FOUND;
    }
    Ok(answer)
}

fn fails(assessment: &Assessment, asked: FailOn) -> bool {
    let least = match asked {
        FailOn::Stop => Gravity::Stop,
        FailOn::Change => Gravity::Change,
        FailOn::Check => Gravity::Check,
        FailOn::Know => Gravity::Know,
    };
    // Gravest first, so a graver one is the smaller.
    assessment.findings.iter().any(|finding| finding.gravity <= least)
}

fn page(assessed: &FormulaAssessed, used: &FactsUsed, look: Look) -> String {
    let FormulaAssessed { formula, assessment } = assessed;
    let mut paper = Paper::new(look);
    head(&mut paper, formula, assessment);
    findings::findings(&mut paper, assessment);
    contents::lines(&mut paper, &formula.sheet, assessment);
    contents::composition(&mut paper, assessment);
    water::acidity(&mut paper, assessment);
    water::adjusters(&mut paper, assessment);
    flow::flow(&mut paper, &assessment.flow);
    preserving::windows(&mut paper, assessment);
    preserving::preservation(&mut paper, assessment);
    preserving::acids_and_crystals(&mut paper, assessment);
    water::metals(&mut paper, assessment);
    rules::limits(&mut paper, &assessment.rules);
    rules::allergens(&mut paper, &assessment.rules);
    rules::label(&mut paper, &assessment.rules);
    rules::origin(&mut paper, &assessment.rules);
    rules::cost(&mut paper, &assessment.rules);
    foot(&mut paper, used);
    paper.finish()
}

fn head(paper: &mut Paper, formula: &FormulaFile, assessment: &Assessment) {
    let product = &formula.sheet.product;
    paper.title(&product.name);
    let stays = if product.leave_on { "leave-on" } else { "rinse-off" };
    let client = product.client.as_deref().map(|client| format!("; for {client}")).unwrap_or_default();
    let market = &assessment.rules.market;
    let known = if assessment.rules.market_known { "" } else { " (no rules on file)" };
    paper.paragraph(
        0,
        &format!(
            "{} for {}, {stays}{client}; market {market}{known}, rules as of {}",
            product.kind, product.site, assessment.as_of
        ),
    );
}

/// What the whole page rests on.
pub(crate) fn foot(paper: &mut Paper, used: &FactsUsed) {
    paper.heading("", "● measured  ◉ calibrated  ○ computed  ◌ correlated  ~ rule of thumb");
    if let Some(remark) = used.remark() {
        paper.paragraph(2, &remark);
    }
    paper.paragraph(
        2,
        "Nothing here says that a product may be sold: that takes a qualified safety assessor, a challenge test and the rules of the \
         place of sale.",
    );
}
