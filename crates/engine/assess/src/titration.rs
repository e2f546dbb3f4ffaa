//! Titration on paper: the pH of the formula without its adjusters against what is added of one acid or base.
//!
//! What is added goes on top of the formula, as at the bench, and does not take the place of the q.s. line.

use crate::assess::{AssessError, Known};
use crate::metals::brought;
use crate::mixture::system_for;
use levigate_formula::aqueous::{Conditions, Doubt, PhInterval, Portion, Ray, Reach, System, Workspace};
use levigate_formula::library::Material;
use levigate_formula::settle::{settle, with_assay};
use levigate_formula::sheet::Sheet;
use levigate_formula::water_phase::WaterPhase;
use levigate_measure::written::{Description, Figure};
use levigate_measure::{Grade, Outcome};
use serde::{Serialize, Serializer};

/// Points of a curve.
const POINTS: usize = 61;
/// Most of the titrant, g per 100 g of formula.
const MOST_G: f64 = 400.0;

/// One point of the curve.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct TitrationPoint {
    /// Added, g per kg of formula without adjusters.
    pub added_g_per_kg: f64,
    /// pH there.
    pub ph: PointPh,
}

/// pH of a point with its interval from constants and coefficients, coverage 0.95.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PointPh {
    /// pH.
    pub value: f64,
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

impl Serialize for PointPh {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        const OF: Description = Description::computed("", "equilibrium of the water phase")
            .covering(0.95)
            .proved_by("tests/cross/aqueous_reference.toml");
        Figure::new(self.value, &OF).within(self.low, self.high).serialize(serializer)
    }
}

/// A titration.
#[derive(Clone, Debug, Serialize)]
pub struct Titration {
    /// Name of what is added.
    pub with: String,
    /// pH before.
    pub start_ph: Outcome,
    /// pH wanted.
    pub to_ph: f64,
    /// What reaches it, g per kg of formula without adjusters.
    pub amount: Outcome,
    /// The same as percent of the product it ends in.
    pub percent: Outcome,
    /// Slope there: g per kg for one tenth of a pH unit.
    pub per_tenth: Outcome,
    /// The curve, past the pH wanted.
    pub curve: Vec<TitrationPoint>,
}

/// Titrates the formula without its adjusters with a raw material.
///
/// # Errors
/// [`AssessError`] when the sheet cannot be settled or the equilibrium has no answer. A pH that cannot be reached is a refusal in
/// [`Titration::amount`] that names the nearest.
pub fn titrate(
    sheet: &Sheet,
    known: &Known<'_>,
    with: &Material,
    assay_percent: Option<f64>,
    to_ph: f64,
) -> Result<Titration, AssessError> {
    let settled = settle(sheet, |typed| crate::assess::resolve(known, typed)).map_err(AssessError::Settle)?;
    let mut base = WaterPhase::of_lines(&settled.lines, known.library);
    for (component, mol) in brought(sheet, known.chemistry).0 {
        *base.components_mol.entry(component).or_default() += mol;
    }
    let along = WaterPhase::of_constituents(&with_assay(with, assay_percent), known.library);
    let (system, _) = system_for(known.chemistry, [&base, &along], &Conditions::default())?;
    let mut workspace = Workspace::new();
    let ray = Ray { base: Portion::of(&system, &base), along: Portion::of(&system, &along), most: MOST_G };
    let start = system.solve_along(&ray, 0.0, &mut workspace)?;
    let doubt = interval(&system, &workspace);
    let start_ph = Outcome::new(start, "", Grade::Computed, "equilibrium of the water phase")
        .within(doubt.low, doubt.high, Some(0.95))
        .proved_by("tests/cross/aqueous_reference.toml");
    const METHOD: &str = "equilibrium of the water phase, amount solved for the pH";
    let (amount, percent, per_tenth, most) = match system.solve_to_ph(&ray, to_ph, &mut workspace)? {
        Reach::At(grams) => {
            let step = (grams * 1e-4).max(1e-7);
            let beyond = system.solve_along(&ray, grams + step, &mut workspace)?;
            let slope = (beyond - system.solve_along(&ray, grams, &mut workspace)?) / step;
            let interval = interval(&system, &workspace);
            let half = 2.0 * interval.standard_uncertainty / slope.abs();
            let share = |grams: f64| 100.0 * grams / (100.0 + grams);
            let (low, high) = ((grams - half).max(0.0), grams + half);
            let mut amount = Outcome::new(grams * 10.0, "g/kg", Grade::Computed, METHOD)
                .within(low * 10.0, high * 10.0, Some(0.95))
                .by("pH(amount) = pH wanted")
                .proved_by("tests/cross/scenarios.toml")
                .input("slope", slope / 10.0, "pH per g/kg", None)
                .note("grades", "without what the grades leave open; titrate an aliquot before the batch");
            for part in interval.contributions.iter().take(3) {
                amount =
                    amount.term(part.name.clone(), part.standard_uncertainty / slope.abs() * 10.0, "g/kg");
            }
            (
                amount,
                Outcome::new(share(grams), "% w/w", Grade::Computed, METHOD)
                    .within(share(low), share(high), Some(0.95))
                    .proved_by("tests/cross/scenarios.toml"),
                Outcome::new(
                    (1.0 / slope).abs(),
                    "g/kg per 0.1 pH",
                    Grade::Computed,
                    "slope of the curve at the pH wanted",
                )
                .by("0.1 / (d pH / d amount)"),
                (grams * 1.6).max(0.01),
            )
        }
        Reach::WrongWay { ph } => {
            let why = format!(
                "{} moves the pH away from {to_ph}; without it the formula stands at pH {ph:.2}",
                with.name
            );
            refused(&why, 1.0)
        }
        Reach::NotEnough { amount, ph } => {
            let why = format!(
                "pH {to_ph} is not reached; the nearest is pH {ph:.2} with {:.1} g/kg",
                amount * 10.0
            );
            refused(&why, amount.max(1.0))
        }
    };
    workspace.forget();
    let mut curve = Vec::with_capacity(POINTS);
    for point in 0..POINTS {
        #[expect(clippy::cast_precision_loss, reason = "a few dozen points")]
        let grams = most * point as f64 / (POINTS - 1) as f64;
        let value = system.solve_along(&ray, grams, &mut workspace)?;
        let doubt = interval(&system, &workspace);
        let ph = PointPh { value, low: doubt.low, high: doubt.high };
        curve.push(TitrationPoint { added_g_per_kg: grams * 10.0, ph });
    }
    Ok(Titration { with: with.name.clone(), start_ph, to_ph, amount, percent, per_tenth, curve })
}

/// How sure the pH last solved for is, from constants and coefficients.
fn interval(system: &System, workspace: &Workspace) -> PhInterval {
    let totals = workspace.totals_given();
    system.ph_interval(totals, workspace, &system.sensitivities(workspace), &Doubt::default())
}

fn refused(why: &str, most: f64) -> (Outcome, Outcome, Outcome, f64) {
    const METHOD: &str = "equilibrium of the water phase, amount solved for the pH";
    (
        Outcome::refuse("g/kg", METHOD, why),
        Outcome::refuse("% w/w", METHOD, why),
        Outcome::refuse("g/kg per 0.1 pH", METHOD, why),
        most,
    )
}
