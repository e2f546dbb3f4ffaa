//! The plan of a batch, from the procedure and the batch sheet of a saved version with the lots that are to be taken.

mod steps;
mod told;

pub(super) use steps::checks;

use crate::batch_sheet::{BatchOrder, BatchSheet, Practice};
use crate::diagnostic::Diagnostic;
use crate::formula_file;
use crate::records::{FormulaVersion, Kept, Lot, LotTaken, Plan};
use crate::workbench::assess::{diagnose, facts_for, known};
use crate::workbench::draft::market_of;
use crate::workbench::keeping::{FieldFault, KeepError};
use crate::workbench::lots::lot_of;
use crate::workbench::procedure::of_assessed;
use crate::workbench::sheet::{Balance, version_code};
use jiff::civil::Date;
use levigate_assess::Inquiry;
use levigate_facts::Facts;
use levigate_formula::sheet::Sheet;
use levigate_measure::weighing::BalanceRecord;
use rust_decimal::Decimal;
use rust_decimal::prelude::FromPrimitive;

/// Name of a version's text in messages.
const FILE: &str = "formula";

/// What a plan is made from.
#[derive(Clone, Debug)]
pub struct PlanOrder<'a> {
    /// Facts that count.
    pub facts: &'a Facts,
    /// The day.
    pub day: Date,
    /// The version that is made.
    pub version: &'a Kept<FormulaVersion>,
    /// Batch size, g; the formula's own when not given.
    pub size_g: Option<Decimal>,
    /// Balances; the formula's own when there is none.
    pub balances: &'a [BalanceRecord],
    /// Lots of the workspace.
    pub lots: &'a [Kept<Lot>],
    /// Lots to be taken, line by line from 0.
    pub taken: &'a [LotTaken],
}

/// Makes the plan.
///
/// # Errors
/// The version cannot be assessed or weighed in this size on this balance; each fault with its field.
pub fn plan(order: &PlanOrder<'_>) -> Result<Plan, KeepError> {
    let text = &order.version.what.text;
    let unreadable = |list: Vec<Diagnostic>| {
        let what = list.first().map(|one| one.what.clone()).unwrap_or_default();
        KeepError::from(FieldFault::new(
            "version",
            &format!("version {} cannot be made: {what}", order.version.number),
            "a plan is made from a formula that can be assessed",
            "mend the formula and save it, then start the batch",
        ))
    };
    let file = formula_file::read(FILE, text).map_err(unreadable)?;
    let facts = facts_for(order.facts, FILE, &file).map_err(unreadable)?;
    let mut sheet = file.sheet.clone();
    if let Some(size_g) = order.size_g {
        sheet.batch.size_g = size_g;
    }
    take_lots(&mut sheet, &facts, order);
    let balances = balances(&sheet, order.balances)?;
    let first = balances.first().ok_or_else(|| no_balance("there is none", "name one"))?;
    // What goes in before the pH is read hangs on the balance.
    sheet.batch.balance_g = first.readability();
    sheet.batch.repeatability_g = Decimal::from_f64(first.repeatability_g());
    let market = market_of(&sheet, "eu", &facts.rules);
    let inquiry = Inquiry { sheet: &sheet, known: known(&facts), day: order.day, market };
    let assessed = levigate_assess::assess(&inquiry).map_err(|error| unreadable(diagnose(&file, &error)))?;
    let practice = Practice::shipped().map_err(|error| no_balance(&error.to_string(), "mend the facts"))?;
    let procedure = of_assessed(&facts, &known(&facts), &sheet, &assessed).map_err(|error| {
        let why = "a batch is made step by step, and no step follows";
        FieldFault::new("version", &error.to_string(), why, error.hint())
    })?;
    let code = version_code(text);
    let made = BatchSheet::build(&BatchOrder {
        sheet: &sheet,
        composition: &assessed.composition,
        library: &facts.library,
        size_g: sheet.batch.size_g,
        balance: first,
        practice: &practice,
        procedure: Some(&procedure),
        version_code: &code,
        date: &order.day.to_string(),
    })
    .map_err(|error| {
        let why = "what is weighed must be a number that the balance can show";
        FieldFault::new("size", &error.to_string(), why, error.hint())
    })?;
    Ok(Plan {
        product: made.product.clone(),
        version: order.version.number,
        version_code: code,
        size_g: made.size_g,
        balances: balances.iter().map(|balance| balance.record().clone()).collect(),
        steps: steps::steps(&steps::Making {
            procedure: &procedure,
            made: &made,
            target: &sheet.target,
            library: &facts.library,
            practice: &practice,
            room_c: facts.handling.usual.as_ref().map_or(f64::INFINITY, |usual| usual.room_c[1]),
        }),
        told: told::told(&procedure),
    })
}

/// Names the lots on the lines of the sheet, and lets the assay of each on file decide where the line itself gives none.
fn take_lots(sheet: &mut Sheet, facts: &Facts, order: &PlanOrder<'_>) {
    let lines = sheet.phases.iter_mut().flat_map(|phase| &mut phase.lines);
    for (at, line) in lines.enumerate() {
        if let Some(taken) = order.taken.iter().find(|taken| taken.line == at) {
            line.lot = Some(taken.code.clone());
        }
        let Some(code) = &line.lot else { continue };
        let Ok(key) = facts.names.resolve_material(&line.material) else { continue };
        let has_active = facts.library.materials.get(key).is_some_and(|record| record.active.is_some());
        if has_active && line.assay_percent.is_none() {
            line.assay_percent = lot_of(order.lots, key, code).and_then(assay);
        }
    }
}

/// The assay of a lot, where it is a share.
pub(super) fn assay(lot: &Kept<Lot>) -> Option<Decimal> {
    let assay = lot.what.assay_percent.as_ref()?.value?;
    (assay > Decimal::ZERO && assay <= Decimal::ONE_HUNDRED).then_some(assay)
}

fn no_balance(what: &str, what_now: &str) -> KeepError {
    FieldFault::new("balance", what, "what is weighed is rounded to what the balance shows", what_now).into()
}

fn balances(sheet: &Sheet, given: &[BalanceRecord]) -> Result<Vec<Balance>, KeepError> {
    let checked = |balance: Result<Balance, levigate_measure::weighing::WeighingError>| {
        balance.map_err(|error| no_balance(&error.to_string(), error.hint()))
    };
    if given.is_empty() {
        return Ok(vec![checked(Balance::with_readability(sheet.batch.balance_g))?]);
    }
    given.iter().map(|record| checked(Balance::try_from(record.clone()))).collect()
}
