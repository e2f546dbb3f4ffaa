//! A formula in one line of a list: what it is, its pH, the gravest thing to say about it.

use super::assess::{diagnose, facts_for, known};
use super::complaint::sentence;
use super::draft::market_of;
use crate::formula_file;
use jiff::civil::Date;
use levigate_assess::{Gravity, Inquiry};
use levigate_facts::Facts;
use std::collections::BTreeSet;

/// A formula in one line.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Summary {
    /// Name of the product; empty when the text cannot be read.
    pub name: String,
    /// Site and product type (`face serum`).
    pub kind: String,
    /// Client or project.
    pub client: String,
    /// Number of lines.
    pub lines: usize,
    /// The gravest finding, or why there is none.
    pub first: String,
    /// Its gravity; empty where there is no finding.
    pub gravity: &'static str,
    /// pH.
    pub ph: Option<f64>,
    /// Keys of the raw materials in it.
    pub materials: BTreeSet<String>,
}

/// Sums a formula text up. A text that cannot be assessed says so in [`Summary::first`].
#[must_use]
pub fn summarise(facts: &Facts, day: Date, market: &str, file: &str, text: &str) -> Summary {
    let formula = match formula_file::read(file, text) {
        Ok(formula) => formula,
        Err(list) => {
            let first = list.first().map(|one| sentence(&one.what)).unwrap_or_default();
            return Summary { first, gravity: Gravity::Stop.word(), ..Summary::default() };
        }
    };
    let product = &formula.sheet.product;
    let mut summary = Summary {
        name: product.name.clone(),
        kind: format!("{} {}", product.site, product.kind).trim().to_owned(),
        client: product.client.clone().unwrap_or_default(),
        lines: formula.sheet.lines().count(),
        ..Summary::default()
    };
    let facts = match facts_for(facts, file, &formula) {
        Ok(facts) => facts,
        Err(list) => {
            summary.first = list.first().map(|one| sentence(&one.what)).unwrap_or_default();
            summary.gravity = Gravity::Stop.word();
            return summary;
        }
    };
    summary.materials = formula
        .sheet
        .lines()
        .filter_map(|(_, line)| facts.names.resolve_material(&line.material).ok().map(str::to_owned))
        .collect();
    let market = market_of(&formula.sheet, market, &facts.rules);
    match levigate_assess::assess(&Inquiry { sheet: &formula.sheet, known: known(&facts), day, market }) {
        Ok(assessed) => {
            summary.ph = assessed.assessment.ph.neat.value;
            if let Some(finding) = assessed.assessment.findings.first() {
                summary.first.clone_from(&finding.found);
                summary.gravity = finding.gravity.word();
            }
        }
        Err(error) => {
            summary.first =
                diagnose(&formula, &error).first().map(|one| sentence(&one.what)).unwrap_or_default();
            summary.gravity = Gravity::Stop.word();
        }
    }
    summary
}
