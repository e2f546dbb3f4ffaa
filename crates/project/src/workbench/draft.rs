//! Assess a sheet as it stands in the fields of a page: the verb behind every keystroke.

use super::assess::known;
use super::complaint::{Complaint, complaints};
use super::weigh::{LineOnBalance, weigh};
use jiff::civil::Date;
use levigate_assess::flow::Bench;
use levigate_assess::{AssessError, Assessment, Inquiry};
use levigate_facts::Facts;
use levigate_formula::settle::SettleError;
use levigate_formula::sheet::Sheet;
use levigate_rules::book::RuleBook;

/// A sheet assessed and weighed.
#[derive(Clone, Debug)]
pub struct SheetAssessed {
    /// What follows from it.
    pub assessment: Assessment,
    /// The lines on the balance, in the order of the assessment; empty when the batch cannot be weighed.
    pub weighing: Vec<LineOnBalance>,
    /// Why it cannot be weighed.
    pub complaint: Option<Complaint>,
}

/// Assesses a sheet, with what the bench of the workspace has taught where there is one.
///
/// # Errors
/// Everything that is wrong with it, line by line.
pub fn assess_sheet(
    facts: &Facts,
    day: Date,
    market: &str,
    sheet: &Sheet,
    bench: Option<Bench<'_>>,
) -> Result<SheetAssessed, Vec<Complaint>> {
    let mut known = known(facts);
    known.flow.bench = bench;
    let inquiry = Inquiry { sheet, known, day, market };
    let assessment = match levigate_assess::assess(&inquiry) {
        Ok(assessed) => assessed.assessment,
        Err(error) => return Err(complaints(&error)),
    };
    let (weighing, complaint) = match weigh(sheet, &assessment) {
        Ok(weighing) => (weighing, None),
        Err(complaint) => (Vec::new(), Some(*complaint)),
    };
    Ok(SheetAssessed { assessment, weighing, complaint })
}

/// The market a sheet is read for: the first it names that has rules on file, else the first it names, else the usual one.
#[must_use]
pub fn market_of<'a>(sheet: &'a Sheet, usual: &'a str, rules: &RuleBook) -> &'a str {
    let named = &sheet.product.markets;
    named.iter().find(|market| rules.market(market).is_some()).or(named.first()).map_or(usual, String::as_str)
}

/// A complaint about a name that means no raw material; none where it means one.
#[must_use]
pub fn unknown_material(facts: &Facts, typed: &str) -> Option<Complaint> {
    let nearest = facts.names.resolve_material(typed).err()?;
    let error = SettleError::UnknownMaterial { line: 0, name: typed.to_owned(), nearest };
    let mut complaint = complaints(&AssessError::Settle(vec![error])).into_iter().next()?;
    complaint.line = None;
    Some(complaint)
}
