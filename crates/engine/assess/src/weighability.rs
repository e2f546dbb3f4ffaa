//! Whether each line can be weighed at the bench batch on the balance at hand, and the least costly way out where it cannot.

use levigate_formula::composition::Composition;
use levigate_formula::library::Material;
use levigate_formula::settle::{Basis, Settled};
use levigate_formula::sheet::Sheet;
use levigate_measure::Outcome;
use levigate_measure::weighing::{Balance, BalanceRecord, Dilution, DilutionLimits, Weighable, Weighing};
use levigate_measure::written::{Described, Description, result};
use rust_decimal::Decimal;
use rust_decimal::prelude::{FromPrimitive, ToPrimitive};
use serde::{Deserialize, Serialize};

/// How a laboratory weighs; shipped in `data/methods/batch_sheet.toml`, which the batch sheet reads too.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct WeighingPractice {
    /// Tolerances of lines that state none.
    pub tolerance: Tolerances,
    /// Strongest stock solution proposed, percent.
    pub strongest_stock_percent: f64,
}

/// Permitted weighing error of a line that states none itself.
#[derive(Clone, Debug, Default, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Tolerances {
    /// For lines whose material has one of the functions, percent of the target.
    pub sensitive_percent: Decimal,
    /// The functions.
    pub sensitive_functions: Vec<String>,
    /// For all others, percent of the target.
    pub other_percent: Decimal,
    /// Source key.
    pub source: String,
}

impl Tolerances {
    /// The tolerance of a raw material, percent of the target.
    #[must_use]
    pub fn percent_of(&self, material: Option<&Material>) -> Decimal {
        let sensitive = material.is_some_and(|material| {
            material.functions.iter().any(|function| self.sensitive_functions.contains(function))
        });
        if sensitive { self.sensitive_percent } else { self.other_percent }
    }
}

struct Target;
impl Described for Target {
    const OF: Description = Description::computed("g", "percent of the batch")
        .by("m = p * batch / 100")
        .proved_by("exact arithmetic");
}

struct LargerBatch;
impl Described for LargerBatch {
    const OF: Description =
        Description::computed("g", "smallest round batch in which the line weighs within its tolerance")
            .by("m >= 2 s / p")
            .proved_by("tests/published/weighing.toml");
}

struct FinerBalance;
impl Described for FinerBalance {
    const OF: Description =
        Description::computed("g", "coarsest readability on which the line weighs within its tolerance")
            .by("m >= 2 s / p")
            .proved_by("tests/published/weighing.toml");
}

/// How well the lines can be weighed.
#[derive(Clone, Debug, Serialize)]
pub struct WeighingReading {
    /// Batch, g.
    pub batch_g: f64,
    /// Readability of the balance, g.
    pub readability_g: f64,
    /// Minimum weight at 0.10 % as a pharmacopoeia asks, for information.
    pub pharmacy_minimum: Outcome,
    /// Lines.
    pub lines: Vec<LineWeighing>,
}

/// How well one line can be weighed.
#[derive(Clone, Debug, Serialize)]
pub struct LineWeighing {
    /// Line.
    pub line: usize,
    /// Target, g.
    #[serde(serialize_with = "result::<Target, _, _>")]
    pub grams: f64,
    /// Tolerance, percent of the target.
    pub tolerance_percent: f64,
    /// Expanded uncertainty of the share in the batch, percent of it.
    pub expanded_percent: Outcome,
    /// Smallest weight for the tolerance.
    pub minimum_weight: Outcome,
    /// Verdict.
    pub weighable: Weighable,
    /// A stock solution that makes it weighable.
    pub stock: Option<Dilution>,
    /// Smallest round batch in which it weighs well, g.
    #[serde(serialize_with = "result::<LargerBatch, _, _>")]
    pub larger_batch_g: Option<f64>,
    /// Coarsest readability on which it weighs well, g.
    #[serde(serialize_with = "result::<FinerBalance, _, _>")]
    pub finer_balance_g: Option<f64>,
}

/// Judges every line of the batch named on the sheet. `None` when the balance cannot be one.
pub(crate) fn weighing(
    sheet: &Sheet,
    settled: &Settled<'_>,
    composition: &Composition,
    practice: &WeighingPractice,
) -> Option<WeighingReading> {
    let balance = Balance::try_from(BalanceRecord {
        name: None,
        readability_g: sheet.batch.balance_g,
        repeatability_g: sheet.batch.repeatability_g.and_then(|grams| grams.to_f64()),
        capacity_g: None,
        certificate: None,
    })
    .ok()?;
    let batch_g = sheet.batch.size_g.to_f64()?;
    let masses: Vec<f64> = composition.lines.iter().map(|line| line.percent / 100.0 * batch_g).collect();
    let weighing = Weighing::of(&balance, &masses);
    let typed: Vec<_> = sheet.lines().map(|(_, line)| line).collect();
    let spare_g = masses.get(settled.remainder).copied().and_then(Decimal::from_f64).unwrap_or_default();
    let lines = composition
        .lines
        .iter()
        .enumerate()
        .map(|(index, line)| {
            let material = settled.materials[index];
            let tolerance_percent = typed
                .get(line.line)
                .and_then(|line| line.tolerance_percent)
                .filter(|own| *own > Decimal::ZERO)
                .unwrap_or_else(|| practice.tolerance.percent_of(Some(material)))
                .to_f64()
                .unwrap_or(f64::NAN);
            let tolerance = tolerance_percent / 100.0;
            let weighable = weighing.judge(index, tolerance);
            let solved = settled.basis[index] == Basis::ToPh;
            let weak = weighable.is_weak() && masses[index] > 0.0 && !solved;
            LineWeighing {
                line: line.line,
                grams: masses[index],
                tolerance_percent,
                expanded_percent: weighing.expanded_percent(index),
                minimum_weight: balance.minimum_weight(tolerance),
                weighable,
                stock: (weak && dissolves(material))
                    .then(|| {
                        stock(&balance, masses[index], tolerance, practice.strongest_stock_percent, spare_g)
                    })
                    .flatten(),
                larger_batch_g: weak
                    .then(|| weighing.larger_batch_g(index, tolerance))
                    .flatten()
                    .and_then(|grams| grams.to_f64()),
                finer_balance_g: weak
                    .then(|| weighing.finer_readability_g(index, tolerance))
                    .flatten()
                    .and_then(|grams| grams.to_f64()),
            }
        })
        .collect();
    Some(WeighingReading {
        batch_g,
        readability_g: balance.readability_g(),
        pharmacy_minimum: balance.pharmacy_minimum_weight(),
        lines,
    })
}

/// A gum cannot be stocked at a strength that pours, an oil not at all.
fn dissolves(material: &Material) -> bool {
    use levigate_formula::library::Wetting;
    !matches!(
        material.wetting,
        Some(Wetting::PreWet | Wetting::HotDispersion | Wetting::RaisePh | Wetting::Premix)
    ) && !material.functions.iter().any(|function| function == "emollient" || function == "fragrance")
}

fn stock(
    balance: &Balance,
    needed_g: f64,
    tolerance: f64,
    strongest_percent: f64,
    carrier_to_spare_g: Decimal,
) -> Option<Dilution> {
    balance.dilution(&DilutionLimits {
        needed_g: Decimal::from_f64(needed_g)?.round_dp(6),
        tolerance,
        strongest_percent,
        carrier_to_spare_g,
    })
}
