//! How sure a batch is.

use crate::diagnostic::Diagnostic;
use crate::formula_file;
use crate::making_file::uncertainty::USUAL_SEED;
pub use crate::making_file::uncertainty::UncertaintyFile;
pub use crate::making_file::uncertainty::{NamedBalance, NamedLot, TypedClass};
use crate::workbench::assess::{Bench, diagnose, facts_for, known};
use crate::workbench::complaint::{Complaint, complaints, sentence};
use jiff::civil::Date;
use levigate_assess::uncertainty::{Ask, Assigned, BatchError, LotSpread, batch};
pub use levigate_assess::uncertainty::{
    BatchUncertainty, Help, LineUncertainty, Remedy, ResultUncertainty, ShareOfVariance, Spread, TargetHelp,
};
use levigate_assess::{AssessError, Inquiry};
use levigate_facts::Facts;
use levigate_formula::sheet::{Product, Sheet};
pub use levigate_measure::weighing::{Balance, BalanceRecord};
use levigate_measure::weighing::{Verified, WeighingError};
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;
use serde::Serialize;

/// The answer with the product it speaks of.
#[derive(Clone, Debug, Serialize)]
pub struct UncertaintyReading {
    /// The product.
    pub product: Product,
    /// How sure its batch is.
    #[serde(flatten)]
    pub batch: BatchUncertainty,
}

/// Tells how sure the batch of a formula is.
///
/// # Errors
/// Everything that is wrong with the formula or with what was asked, each with its place as far as it has one.
pub fn uncertainty(
    facts: &Facts,
    when: (Date, &str),
    (file, text): (&str, &str),
    asked: &UncertaintyFile,
) -> Result<UncertaintyReading, Vec<Diagnostic>> {
    let formula = formula_file::read(file, text)?;
    let facts = facts_for(facts, file, &formula)?;
    of_sheet(&facts, when, &formula.sheet, None, asked).map_err(|trouble| match trouble {
        Trouble::Assess(error) => diagnose(&formula, &error),
        Trouble::Said { line, code, what, what_now } => {
            vec![formula.diagnose_line(line, code, what, what_now)]
        }
    })
}

/// What a batch is made with, where it is not as its sheet says.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct MadeWith {
    /// Batch, g.
    pub batch_g: Option<f64>,
    /// Readability of the usual balance, g.
    pub readability_g: Option<Decimal>,
    /// Its repeatability, g.
    pub repeatability_g: Option<f64>,
    /// Class and interval of its plate.
    pub class: Option<TypedClass>,
    /// Lines, from 0, that go onto the usual balance whatever they weigh.
    pub usual_lines: Vec<usize>,
    /// Further balances, each with lines or a range.
    pub others: Vec<NamedBalance>,
    /// What certificates of lots say.
    pub lots: Vec<NamedLot>,
    /// Standard uncertainty of a pH reading.
    pub meter_ph: Option<f64>,
    /// Half-width of the prices, percent.
    pub price_half_width_percent: Option<f64>,
    /// Draws.
    pub draws: usize,
}

impl MadeWith {
    fn question(&self, sheet: &Sheet) -> Result<UncertaintyFile, WeighingError> {
        let own = BalanceRecord {
            name: None,
            readability_g: self.readability_g.unwrap_or(sheet.batch.balance_g),
            // The repeatability on the sheet is that of the balance on the sheet.
            repeatability_g: self.repeatability_g.or(sheet
                .batch
                .repeatability_g
                .filter(|_| self.readability_g.is_none())
                .and_then(|grams| grams.to_f64())),
            capacity_g: None,
            certificate: None,
        };
        let balance = Balance::try_from(own)?;
        let usual = |lines: Vec<usize>| NamedBalance {
            balance: balance.clone(),
            lines,
            up_to_g: None,
            class: self.class.clone(),
        };
        let kept = Some(self.usual_lines.clone()).filter(|lines| !lines.is_empty());
        Ok(UncertaintyFile {
            formula: None,
            batch_g: self.batch_g,
            draws: self.draws,
            steady_digits: None,
            seed: USUAL_SEED,
            coverage: 0.95,
            price_half_width_percent: self.price_half_width_percent,
            meter_ph: self.meter_ph,
            balances: std::iter::once(usual(Vec::new()))
                .chain(kept.map(usual))
                .chain(self.others.iter().cloned())
                .collect(),
            lots: self.lots.clone(),
        })
    }
}

/// Tells how sure the batch of a sheet is, with what the bench has taught about its flow.
///
/// # Errors
/// Everything that is wrong with the sheet or with what it is made with.
pub fn sheet_uncertainty(
    facts: &Facts,
    when: (Date, &str),
    sheet: &Sheet,
    bench: Option<Bench<'_>>,
    with: &MadeWith,
) -> Result<UncertaintyReading, Vec<Complaint>> {
    let no_balance = |error: WeighingError| {
        vec![Complaint {
            field: "bench.balance_g",
            what: sentence(&error.to_string()),
            what_now: sentence(error.hint()),
            ..Complaint::default()
        }]
    };
    let asked = with.question(sheet).map_err(no_balance)?;
    of_sheet(facts, when, sheet, bench, &asked).map_err(|trouble| match trouble {
        Trouble::Assess(error) => complaints(&error),
        Trouble::Said { line, code, what, what_now } => vec![Complaint {
            line,
            field: match line {
                Some(_) if code == "no-active" => "lot",
                Some(_) => "amount",
                None => "sheet",
            },
            what: sentence(&what),
            what_now: sentence(&what_now),
            ..Complaint::default()
        }],
    })
}

enum Trouble {
    Assess(AssessError),
    Said { line: Option<usize>, code: &'static str, what: String, what_now: String },
}

fn of_sheet(
    facts: &Facts,
    (day, market): (Date, &str),
    typed: &Sheet,
    bench: Option<Bench<'_>>,
    asked: &UncertaintyFile,
) -> Result<UncertaintyReading, Trouble> {
    let mut sheet = typed.clone();
    for lot in &asked.lots {
        if let (Some(line), Some(assay)) =
            (sheet.phases.iter_mut().flat_map(|phase| &mut phase.lines).nth(lot.line), lot.assay_percent)
        {
            line.assay_percent = Some(assay);
        }
    }
    let wrong = |code, what: String, what_now: String| Trouble::Said { line: None, code, what, what_now };
    let usual = asked.balances.iter().find(|balance| balance.is_usual());
    let balance = match usual {
        Some(named) => verified(facts, named),
        None => balance_of(&sheet)
            .map_err(|error| wrong("no-balance", error.to_string(), error.hint().to_owned()))?,
    };
    let others = asked.balances.iter().filter(|balance| !balance.is_usual());
    let mut known = known(facts);
    known.flow.bench = bench;
    let ask = Ask {
        inquiry: Inquiry { sheet: &sheet, known, day, market },
        batch_g: asked.batch_g.or(sheet.batch.size_g.to_f64()).unwrap_or(f64::NAN),
        balance,
        others: others
            .map(|named| Assigned {
                balance: verified(facts, named),
                lines: named.lines.clone(),
                up_to_g: named.up_to_g,
            })
            .collect(),
        handling: Some((&facts.handling, facts.ph_bench.convention.as_ref())),
        lots: asked.lots.iter().map(|lot| LotSpread { line: lot.line, spread: lot.spread }).collect(),
        price_half_width_percent: asked.price_half_width_percent,
        meter_ph: asked.meter_ph,
        coverage: asked.coverage,
        draws: asked.draws,
        steady_digits: asked.steady_digits,
        seed: asked.seed,
    };
    let batch = batch(&ask).map_err(|error| match error {
        BatchError::Assess(error) => Trouble::Assess(error),
        BatchError::Given(error) => wrong("cannot-be", error.to_string(), error.hint().to_owned()),
        BatchError::NoSuchLine { line, count } => wrong(
            "no-such-line",
            format!("a balance or a lot is named for line {}, and the formula has {count}", line + 1),
            "count the lines of the formula from 1, phase after phase".to_owned(),
        ),
        BatchError::NoActive { line, material } => Trouble::Said {
            line: Some(line),
            code: "no-active",
            what: format!(
                "the record of \"{material}\" names no active substance, so the assay of a lot means nothing"
            ),
            what_now: "leave the lot out, or name the active in the record".to_owned(),
        },
        BatchError::Draws { failed, made } => wrong(
            "no-equilibrium",
            format!("the equilibrium has no answer in {failed} of {made} draws"),
            "look for a line so small that its weighing may leave nothing of it, or for a spread that is too wide"
                .to_owned(),
        ),
    })?;
    Ok(UncertaintyReading { product: typed.product.clone(), batch })
}

/// A balance with the errors its class permits.
fn verified(facts: &Facts, named: &NamedBalance) -> Balance {
    let balance = named.balance.clone();
    let class = named.class.as_ref();
    let steps =
        class.and_then(|typed| facts.making.balance_classes.get(&typed.class).map(|steps| (steps, typed)));
    match steps {
        Some((steps, typed)) => {
            let division = balance.readability_g();
            balance.verified(Verified::of(steps, typed.interval_g, division))
        }
        None => balance,
    }
}

/// The balance named on the sheet.
fn balance_of(sheet: &Sheet) -> Result<Balance, WeighingError> {
    Balance::try_from(BalanceRecord {
        name: None,
        readability_g: sheet.batch.balance_g,
        repeatability_g: sheet.batch.repeatability_g.and_then(|grams| grams.to_f64()),
        capacity_g: None,
        certificate: None,
    })
}
