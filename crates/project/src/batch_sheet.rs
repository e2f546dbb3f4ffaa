//! The batch sheet: what to weigh, in which order, how well it can be weighed, and what to heed, for one size and one balance.
//!
//! Grams are decimals, rounded to the balance so that they add up to the batch exactly. Date and version code are passed
//! in: this module has no clock and makes no codes. Evaporation is not included, and the sheet says so.

mod build;
pub(crate) mod caution;
mod making;
mod practice;
mod remedy;

pub use caution::SheetCaution;
pub(crate) use making::how as how_in_words;
pub use making::{MakingLine, MakingStep};
pub use practice::{
    FlammablePractice, HazardWords, HotPractice, Practice, PracticeError, StockPractice, VesselPractice,
    shipped_balances,
};

use levigate_assess::procedure::Procedure;
use levigate_formula::composition::Composition;
use levigate_formula::library::Library;
use levigate_formula::sheet::Sheet;
use levigate_measure::rounding::{Absorbed, RoundingError};
use levigate_measure::weighing::{Balance, BalanceRecord, Dilution, Weighable};
use levigate_measure::written::{Described, Description, result};
use levigate_measure::{Grade, Note, Outcome};
use rust_decimal::Decimal;
use serde::Serialize;
use thiserror::Error;

/// What a batch sheet is made from.
#[derive(Clone, Copy, Debug)]
pub struct BatchOrder<'a> {
    /// The formula as written.
    pub sheet: &'a Sheet,
    /// The same with all amounts settled.
    pub composition: &'a Composition,
    /// Facts about the raw materials.
    pub library: &'a Library,
    /// Batch size, g.
    pub size_g: Decimal,
    /// The balance.
    pub balance: &'a Balance,
    /// Bench practice.
    pub practice: &'a Practice,
    /// How it is made; a sheet without it says only what is weighed.
    pub procedure: Option<&'a Procedure>,
    /// Code of the formula version: the hash of its content.
    pub version_code: &'a str,
    /// Date of the sheet, ISO.
    pub date: &'a str,
}

struct Sum;
impl Described for Sum {
    const OF: Description =
        Description::computed("g", "sum of the lines as rounded to the balance").proved_by("exact decimal");
}

/// Grams to weigh.
struct Grams;
impl Described for Grams {
    const OF: Description =
        Description::computed("g", "percent of the batch, rounded to the balance so that the batch adds up")
            .by("m = p * batch / 100")
            .proved_by("tests/published/weighing.toml");
}

struct Tolerance;
impl Described for Tolerance {
    const OF: Description =
        Description::computed("g", "tolerance of the line in whole divisions of the balance")
            .proved_by("exact decimal");
}

struct FirstPart;
impl Described for FirstPart {
    const OF: Description =
        Description::computed("g", "what surely keeps to the far edge of the window before the pH is read")
            .by("m_1 = min(best, bound, m), rounded down to what can be weighed")
            .proved_by("tests/tests/adjusting.rs");
}

struct Rest;
impl Described for Rest {
    const OF: Description = Description::computed("g", "what is then left of the amount solved for the pH")
        .proved_by("exact decimal");
}

struct RemedyGrams;
impl Described for RemedyGrams {
    const OF: Description = Description::computed("g", "least that weighs within the tolerance of the line")
        .by("m >= 2 s / p")
        .proved_by("tests/published/weighing.toml");
}

struct BatchVolume;
impl Described for BatchVolume {
    const OF: Description = Description::computed("mL", "volumes of the raw materials added up")
        .graded(Grade::RuleOfThumb)
        .by("V = sum of m_i / rho_i");
}

struct VesselSize;
impl Described for VesselSize {
    const OF: Description = Description::computed("mL", "smallest vessel on file with room to stir")
        .graded(Grade::RuleOfThumb)
        .sources(&["common-practice"]);
}

struct Percent;
impl Described for Percent {
    const OF: Description =
        Description::computed("% w/w", "as typed; 100 minus all other lines; or solved for the pH")
            .proved_by("exact decimal");
}

/// A batch sheet.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BatchSheet {
    /// Name of the product.
    pub product: String,
    /// Client or project.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub client: Option<String>,
    /// Code of the formula version.
    pub version_code: String,
    /// Date, ISO.
    pub date: String,
    /// Batch size, g, with the decimals of the balance.
    pub size_g: Decimal,
    /// The balance.
    pub balance: BalanceRecord,
    /// Repeatability the figures rest on, g.
    pub repeatability_g: f64,
    /// Steps in order of making.
    pub steps: Vec<BatchStep>,
    /// How it is made, step by step.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub making: Vec<MakingStep>,
    /// Sum of all lines, g; equal to the batch size.
    #[serde(serialize_with = "result::<Sum, _, _>")]
    pub total_g: Decimal,
    /// Who took the rounding difference.
    pub absorbed: Absorbed,
    /// The same in words.
    pub rounding: String,
    /// Vessel for the whole batch.
    pub vessel: Vessel,
    /// Minimum weight at 0.10 %, for information.
    pub pharmacy_minimum: Outcome,
    /// Lines below it.
    pub below_pharmacy_minimum: usize,
    /// What a reader must know.
    pub notes: Vec<Note>,
}

/// One phase of the making.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BatchStep {
    /// Number, from 1.
    pub number: usize,
    /// Name of the phase.
    pub phase: String,
    /// Temperature at which it is worked, C.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub temperature_c: Option<Decimal>,
    /// What is done, in words.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub instruction: Option<String>,
    /// Cautions for the step as a whole.
    pub cautions: Vec<SheetCaution>,
    /// Lines in order of addition.
    pub lines: Vec<BatchLine>,
    /// Sum of the phase, g.
    #[serde(serialize_with = "result::<Sum, _, _>")]
    pub subtotal_g: Decimal,
}

/// One line to weigh.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BatchLine {
    /// Number on the sheet, from 1: actual weights are typed back by it.
    pub number: usize,
    /// Key of the raw material.
    pub material: String,
    /// Name of the raw material.
    pub name: String,
    /// Lot.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub lot: Option<String>,
    /// Remark of the formula.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
    /// Percent of the batch; digits as typed.
    #[serde(serialize_with = "result::<Percent, _, _>")]
    pub percent: Decimal,
    /// How the amount is meant.
    pub part: Part,
    /// Grams to weigh, with the decimals of the balance.
    #[serde(serialize_with = "result::<Grams, _, _>")]
    pub grams: Decimal,
    /// Tolerance, percent of the target.
    pub tolerance_percent: Decimal,
    /// Tolerance in whole divisions, g; zero when it is less than one division.
    #[serde(serialize_with = "result::<Tolerance, _, _>")]
    pub tolerance_g: Decimal,
    /// Expanded uncertainty of the share in the batch, percent of it.
    pub expanded: Outcome,
    /// Smallest weight for the tolerance of the line.
    pub minimum_weight: Outcome,
    /// Verdict.
    pub weighable: Weighable,
    /// The verdict with its figures.
    pub verdict: String,
    /// What to do about a weak line, the least costly first.
    pub remedies: Vec<Remedy>,
    /// Cautions for handling it.
    pub cautions: Vec<SheetCaution>,
}

/// How the amount of a line is meant.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "is")]
pub enum Part {
    /// Weighed as it stands.
    Fixed,
    /// q.s. to 100.
    Remainder,
    /// Added to a pH: first what surely keeps to its window, the rest by the meter.
    ToPh {
        /// The pH.
        ph: Decimal,
        /// Share that goes in first, percent.
        first_percent: Decimal,
        /// Why it is so much and no more; empty where no procedure says it.
        why: String,
        /// First addition, g; zero where the pH is read first.
        #[serde(serialize_with = "result::<FirstPart, _, _>")]
        first_g: Decimal,
        /// What is then left of the computed amount, g.
        #[serde(serialize_with = "result::<Rest, _, _>")]
        rest_g: Decimal,
    },
}

/// Kind of a remedy.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum RemedyKind {
    /// A stock in water.
    Stock,
    /// A premix with another line.
    Premix,
    /// A finer balance.
    FinerBalance,
    /// A larger batch.
    LargerBatch,
}

/// What to do about a weak line.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Remedy {
    /// Kind.
    pub kind: RemedyKind,
    /// In words, with all figures.
    pub text: String,
    /// The stock or premix.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub dilution: Option<Dilution>,
    /// Number of the line that gives the carrier.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub carrier_number: Option<usize>,
    /// Portion to weigh, batch size or readability, g.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[serde(serialize_with = "result::<RemedyGrams, _, _>")]
    pub grams: Option<Decimal>,
}

/// Vessel for the batch.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Vessel {
    /// Volume of the batch, mL, from the densities on file.
    #[serde(serialize_with = "result::<BatchVolume, _, _>")]
    pub batch_ml: f64,
    /// Size, mL; `None` when no size on file is large enough.
    #[serde(serialize_with = "result::<VesselSize, _, _>")]
    pub size_ml: Option<f64>,
    /// In words.
    pub text: String,
    /// Lines whose density was assumed.
    pub density_assumed: usize,
}

/// Why no sheet can be made.
#[derive(Clone, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum BatchSheetError {
    /// The composition is not that of the formula.
    #[error("the formula has {written} lines, the composition {settled}")]
    LinesDiffer {
        /// Lines of the formula.
        written: usize,
        /// Lines of the composition.
        settled: usize,
    },
    /// No lines.
    #[error("the formula has no lines")]
    NoLines,
    /// A percentage that is no amount.
    #[error("line {number} has {percent} %, which cannot be weighed")]
    NotAnAmount {
        /// Line, from 1.
        number: usize,
        /// Percent.
        percent: f64,
    },
    /// A tolerance that is none.
    #[error("line {number} has a tolerance of {percent} %; it must be above 0 and below 100")]
    Tolerance {
        /// Line, from 1.
        number: usize,
        /// Percent.
        percent: Decimal,
    },
    /// The lines cannot be rounded to the balance.
    #[error(transparent)]
    Rounding(#[from] RoundingError),
}

impl BatchSheetError {
    /// What to do about it.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            Self::LinesDiffer { .. } => "settle the amounts of this very formula first",
            Self::NoLines => "write at least one line with a percentage",
            Self::NotAnAmount { .. } => "correct the amount of that line",
            Self::Tolerance { .. } => "write tolerance_percent as 2 for two percent, or leave it out",
            Self::Rounding(error) => error.hint(),
        }
    }
}

impl BatchSheet {
    /// All lines in order.
    pub fn lines(&self) -> impl Iterator<Item = &BatchLine> {
        self.steps.iter().flat_map(|step| &step.lines)
    }

    /// Lines that the balance cannot weigh well.
    pub fn weak_lines(&self) -> impl Iterator<Item = &BatchLine> {
        self.lines().filter(|line| line.weighable.is_weak())
    }
}

#[cfg(test)]
mod tests;
