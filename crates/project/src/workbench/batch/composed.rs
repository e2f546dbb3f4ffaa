//! What the batch really is: shares of what went in, the formula that follows, yield and reconciliation.

use super::progress::{LineProgress, Portion, Progress};
use crate::records::Plan;
use levigate_formula::sheet::{Amount, Line, Sheet};
use levigate_measure::weighing::{Balance, Weighing};
use levigate_measure::{Grade, Outcome};
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;

/// Key of the raw material that goes off and is given back.
const WATER: &str = "water";

/// Grams as a plain number.
pub(super) fn plain(grams: Decimal) -> f64 {
    grams.to_f64().unwrap_or(f64::NAN)
}

/// The balance of the plan that an instrument means: the one of that name, else the first.
fn balance_of<'p>(balances: &'p [Balance], instrument: &str) -> Option<&'p Balance> {
    let named = |balance: &&Balance| {
        let name = balance.record().name.as_deref().unwrap_or_default();
        !name.is_empty() && name.eq_ignore_ascii_case(instrument.trim())
    };
    balances.iter().find(named).or(balances.first())
}

/// Everything that went in on its balances.
#[derive(Clone, Debug)]
pub(super) struct OnBalances {
    balances: Vec<Balance>,
    portions: Vec<Vec<(f64, f64)>>,
}

impl OnBalances {
    /// The lines in the order of the plan, then what was added, then the water given back. Where a line is not in yet, what is
    /// missing stands in for it, weighed in one go.
    pub(super) fn of(plan: &Plan, progress: &Progress) -> Self {
        let balances: Vec<Balance> =
            plan.balances.iter().filter_map(|record| Balance::try_from(record.clone()).ok()).collect();
        let portion = |portion: &Portion| {
            let grams = plain(portion.grams);
            let own = balance_of(&balances, &portion.instrument);
            (grams, own.map_or(0.0, |balance| balance.standard_uncertainty_g(grams)))
        };
        let mut portions: Vec<Vec<(f64, f64)>> = progress
            .lines
            .iter()
            .map(|line| {
                let mut in_it: Vec<(f64, f64)> = line.portions.iter().map(portion).collect();
                let to_come = line.to_come_g();
                if to_come > Decimal::ZERO {
                    in_it.push(portion(&Portion { grams: to_come, instrument: String::new() }));
                }
                in_it
            })
            .collect();
        portions.extend(progress.added.iter().map(|added| added.portions.iter().map(portion).collect()));
        portions.push(progress.water.iter().map(portion).collect());
        Self { balances, portions }
    }

    /// The weighing of all of it.
    pub(super) fn weighing(&self) -> Option<Weighing<'_>> {
        Some(Weighing::in_portions(self.balances.first()?, &self.portions))
    }
}

/// Mass of the finished batch, g: what went in and is still to go in, less what went off and was not given back.
#[must_use]
pub(super) fn finished_g(progress: &Progress) -> Decimal {
    let missing: Decimal = progress.lines.iter().map(LineProgress::to_come_g).sum();
    let went_off = progress.went_off_g().unwrap_or_default().max(Decimal::ZERO);
    progress.total_in_g() + missing - went_off
}

/// Grams of a line in the finished batch: of the water line, less what went off and with what was given back.
#[must_use]
pub(super) fn in_batch_g(progress: &Progress, line: &LineProgress) -> Decimal {
    let own = line.actual_g() + line.to_come_g();
    let first_water = progress.lines.iter().find(|other| other.planned.material == WATER);
    if first_water.is_none_or(|water| water.planned.number != line.planned.number) {
        return own;
    }
    let given: Decimal = progress.water.iter().map(|portion| portion.grams).sum();
    own + given - progress.went_off_g().unwrap_or_default().max(Decimal::ZERO)
}

/// Percent of a line in the finished batch, with what the balances leave open.
pub(super) fn share(progress: &Progress, weighing: Option<&Weighing<'_>>, at: usize) -> Outcome {
    let method = "grams of the line in grams of the finished batch, as weighed";
    let Some(line) = progress.lines.get(at) else { return Outcome::refuse("% w/w", method, "no such line") };
    let (own, all) = (in_batch_g(progress, line), finished_g(progress));
    if all <= Decimal::ZERO {
        return Outcome::refuse("% w/w", method, "nothing is in the batch");
    }
    let percent = 100.0 * plain(own) / plain(all);
    let mut outcome = Outcome::new(percent, "% w/w", Grade::Computed, method)
        .by("p = 100 m / B")
        .proved_by("tests/cross/batches.toml")
        .source("masscor")
        .input("in the batch", plain(own), "g", None)
        .input("finished batch", plain(all), "g", None);
    if let Some(relative) = weighing.and_then(|weighing| weighing.relative_standard(at)) {
        let half = percent * levigate_measure::weighing::COVERAGE_FACTOR * relative;
        outcome = outcome.within((percent - half).max(0.0), percent + half, Some(0.95));
    }
    if line.to_come_g() > Decimal::ZERO {
        outcome = outcome.note("open", "It is not all in yet: what is missing is counted as if it were.");
    }
    if progress.went_off_g().is_none() {
        outcome = outcome.note(
            "evaporation",
            "The vessel was not weighed empty and full: what may have gone off is not in it.",
        );
    }
    outcome
}

/// The formula that was really made: the same sheet with every line at the share it has in the finished batch, the lots that were
/// taken with their assays, and what was put in besides as lines of the last phase. None before anything is in, and where hardly anything
/// is left of what went in, so that a share is no number a sheet can hold.
#[must_use]
pub fn sheet_as_weighed(sheet: &Sheet, progress: &Progress, lots: &[LotOfLine]) -> Option<Sheet> {
    let all = finished_g(progress);
    if all <= Decimal::ZERO || progress.total_in_g() <= Decimal::ZERO {
        return None;
    }
    let percent = |grams: Decimal| {
        let percent = grams.checked_mul(Decimal::ONE_HUNDRED)?.checked_div(all)?;
        Some(percent.round_dp(8).normalize())
    };
    let mut made = sheet.clone();
    for (at, line) in made.phases.iter_mut().flat_map(|phase| &mut phase.lines).enumerate() {
        let known = progress.lines.iter().find(|known| known.planned.number == at + 1)?;
        if !matches!(line.amount, Amount::Remainder(true)) {
            line.amount = Amount::Percent(percent(in_batch_g(progress, known))?);
        }
        if let Some(lot) = lots.iter().find(|lot| lot.line == at + 1) {
            line.lot = Some(lot.code.clone());
            line.assay_percent = lot.assay_percent.or(line.assay_percent);
        }
    }
    made.batch.size_g = all;
    let last = made.phases.last_mut()?;
    for added in &progress.added {
        let grams = added.portions.iter().map(|portion| portion.grams).sum();
        last.lines.push(Line {
            material: added.material.clone(),
            amount: Amount::Percent(percent(grams)?),
            assay_percent: None,
            lot: None,
            note: Some("put in besides".to_owned()),
            tolerance_percent: None,
        });
    }
    Some(made)
}

/// The lot a line was weighed from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LotOfLine {
    /// Number of the line, from 1.
    pub line: usize,
    /// Code.
    pub code: String,
    /// Its assay, percent, where its record has an active and the lot is on file.
    pub assay_percent: Option<Decimal>,
}

/// What became of what was charged. `charged = in - went off`; `unexplained = charged - good - samples - known losses`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Balanced {
    /// What is in the vessel when nothing is taken out, g.
    pub charged_g: Decimal,
    /// Good product, g.
    pub good_g: Decimal,
    /// Samples, g.
    pub samples_g: Decimal,
    /// Known losses, g.
    pub lost_g: Decimal,
    /// The rest, g.
    pub unexplained_g: Decimal,
}

impl Balanced {
    /// None before good product was weighed.
    #[must_use]
    pub fn of(progress: &Progress) -> Option<Self> {
        let good_g = progress.output_g?;
        let charged_g = progress.total_in_g() - progress.went_off_g().unwrap_or_default();
        let (samples_g, lost_g) = (progress.samples_g, progress.lost_g);
        let unexplained_g = charged_g - good_g - samples_g - lost_g;
        Some(Self { charged_g, good_g, samples_g, lost_g, unexplained_g })
    }

    /// Yield, percent.
    #[must_use]
    pub fn yield_percent(&self) -> Option<Decimal> {
        self.percent(self.good_g)
    }

    /// Accounted for, percent.
    #[must_use]
    pub fn accounted_percent(&self) -> Option<Decimal> {
        self.percent(self.good_g + self.samples_g + self.lost_g)
    }

    fn percent(&self, grams: Decimal) -> Option<Decimal> {
        grams.checked_mul(Decimal::ONE_HUNDRED)?.checked_div(self.charged_g)
    }
}
