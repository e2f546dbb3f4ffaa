//! A dilution that makes a small amount weighable.

use super::{Balance, COVERAGE_FACTOR};
use crate::written::{Described, Description, result};
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;
use serde::Serialize;

struct Strength;
impl Described for Strength {
    const OF: Description =
        Description::computed("% w/w", "the round strength that wastes least material").by("c = m / (m + v)");
}

struct ForStock;
impl Described for ForStock {
    const OF: Description = Description::computed("g", "weighed to make the dilution");
}

struct Portion;
impl Described for Portion {
    const OF: Description = Description::computed("g", "weighed into the batch").by("P = amount / c");
}

struct Expanded;
impl Described for Expanded {
    const OF: Description = Description::computed("%", "three weighings combined, k = 2")
        .by("(u/amount)^2 = (1 - c)^2 ((u_m/m)^2 + (u_v/v)^2) + (u_P/P)^2");
}

/// A dilution that makes a small amount weighable: `portion_g` of it carries the amount needed.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Dilution {
    /// Strength, percent w/w.
    #[serde(serialize_with = "result::<Strength, _, _>")]
    pub strength_percent: Decimal,
    /// Material to weigh for making it, g.
    #[serde(serialize_with = "result::<ForStock, _, _>")]
    pub material_g: Decimal,
    /// Carrier to weigh for making it, g.
    #[serde(serialize_with = "result::<ForStock, _, _>")]
    pub carrier_g: Decimal,
    /// Dilution to weigh into the batch, g.
    #[serde(serialize_with = "result::<Portion, _, _>")]
    pub portion_g: Decimal,
    /// Carrier that comes with the portion, g: to take off the carrier's own line.
    #[serde(serialize_with = "result::<Portion, _, _>")]
    pub carrier_in_portion_g: Decimal,
    /// Expanded uncertainty (k = 2) of the amount that reaches the batch, percent: three weighings combined.
    #[serde(serialize_with = "result::<Expanded, _, _>")]
    pub expanded_percent: f64,
}

/// What limits a dilution.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DilutionLimits {
    /// Amount of the material needed, g.
    pub needed_g: Decimal,
    /// Permitted relative error.
    pub tolerance: f64,
    /// Strongest dilution that stays one phase and can be poured, percent w/w.
    pub strongest_percent: f64,
    /// Carrier that the formula has to spare, g.
    pub carrier_to_spare_g: Decimal,
}

impl Balance {
    /// The dilution that wastes least material: `c = m/(m + v)`, amount `= c P`, so
    /// `(u/amount)^2 = (1 - c)^2 ((u_m/m)^2 + (u_v/v)^2) + (u_P/P)^2`, all three weighings on this balance.
    #[must_use]
    pub fn dilution(&self, limits: &DilutionLimits) -> Option<Dilution> {
        // Strengths in thousandths of a percent, sizes in grams.
        const STRENGTHS: [i32; 10] = [50_000, 25_000, 20_000, 10_000, 5_000, 2_000, 1_000, 500, 200, 100];
        const SIZES: [i32; 9] = [5, 10, 20, 50, 100, 200, 500, 1000, 2000];
        let (needed, spare) = (limits.needed_g.to_f64()?, limits.carrier_to_spare_g.to_f64()?);
        let least = self.minimum_weight_g(limits.tolerance);
        // Most strengths and sizes fail plainly, rounded to the division or not; decimal arithmetic is for those that may fit.
        let slack = 2.0 * self.readability_g;
        let mut best: Option<Dilution> = None;
        for thousandths in STRENGTHS {
            let percent = f64::from(thousandths) / 1000.0;
            let portion = 100.0 * needed / percent;
            if percent > limits.strongest_percent
                || portion - needed > spare + slack
                || portion + slack < least
            {
                continue;
            }
            let strength = Decimal::new(i64::from(thousandths), 3).normalize();
            let least_made = (1.1 * portion).max(100.0 * least / percent) - slack;
            // Sizes ascend: the first that fits wastes least at this strength.
            let candidate = SIZES
                .into_iter()
                .filter(|made| f64::from(*made) >= least_made)
                .find_map(|made| self.try_dilution(limits, strength, Decimal::from(made)));
            if let Some(candidate) = candidate
                && best.as_ref().is_none_or(|best| candidate.material_g < best.material_g)
            {
                best = Some(candidate);
            }
        }
        best
    }

    fn try_dilution(&self, limits: &DilutionLimits, strength: Decimal, made_g: Decimal) -> Option<Dilution> {
        let division = self.record.readability_g;
        let portion_g = limits.needed_g.checked_mul(Decimal::ONE_HUNDRED)?.checked_div(strength)?;
        let portion_g = crate::rounding::to_division(portion_g, division).ok()?;
        let material_g = made_g.checked_mul(strength)?.checked_div(Decimal::ONE_HUNDRED)?;
        let material_g = crate::rounding::to_division(material_g, division).ok()?;
        let carrier_g = made_g - material_g;
        let carrier_in_portion_g = portion_g - limits.needed_g;
        let fits = carrier_in_portion_g <= limits.carrier_to_spare_g
            // A little must stay in the beaker.
            && portion_g * Decimal::new(11, 1) <= made_g
            && material_g * Decimal::ONE_HUNDRED == made_g * strength;
        if !fits {
            return None;
        }
        let (material, carrier, portion) = (material_g.to_f64()?, carrier_g.to_f64()?, portion_g.to_f64()?);
        let least = self.minimum_weight_g(limits.tolerance);
        let relative = |mass: f64| self.standard_uncertainty_g(mass) / mass;
        let rest = 1.0 - material / (material + carrier);
        let made = rest * rest * (relative(material).powi(2) + relative(carrier).powi(2));
        let expanded = COVERAGE_FACTOR * (made + relative(portion).powi(2)).sqrt();
        (material >= least && portion >= least && expanded <= limits.tolerance).then(|| Dilution {
            strength_percent: strength,
            material_g,
            carrier_g: crate::rounding::to_division(carrier_g, division).unwrap_or(carrier_g),
            portion_g,
            carrier_in_portion_g: crate::rounding::to_division(carrier_in_portion_g, division)
                .unwrap_or(carrier_in_portion_g),
            expanded_percent: 100.0 * expanded,
        })
    }
}
