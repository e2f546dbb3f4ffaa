//! How much acid or base a pH that moved stands for: what would have had to form in the product, by its own buffer.
//!
//! Equation: `n = b(pH1) - b(pH2)`, with `b` the strong base per kilogram with which the product as made stands at a pH. Above zero acid
//! has formed, below it base.
//!
//! The buffer is that of the composition as made; what has changed of it since is not in it. Range: one water phase at 25 C.
//! Cases: `tests/cross/studies.toml` (a lactate buffer by hand); laws: two steps make one, there and back is nothing, and a small step is the
//! buffer capacity.

use crate::assess::{AssessError, Known, solved};
use crate::mixture::{Mixture, MixtureError};
use levigate_formula::aqueous::{Portion, Ray, Reach, Workspace};
use levigate_formula::sheet::Sheet;
use levigate_formula::water_phase::WaterPhase;
use levigate_measure::{Grade, Outcome};
use serde::Serialize;
use std::collections::BTreeSet;

const PROOF: &str = "tests/cross/studies.toml";
/// Most acid or base that can be meant, mmol per 100 g.
const MOST_MMOL: f64 = 400.0;
/// Step of the pH by which the capacity at an end is told.
const STEP_PH: f64 = 0.01;

/// What a pH that moved stands for.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PhShift {
    /// pH before.
    pub from: Outcome,
    /// pH after.
    pub to: Outcome,
    /// Acid that would have had to form, mmol/kg; below zero base.
    pub acid: Outcome,
    /// Buffer capacity between the two, mmol/kg per pH.
    pub capacity: Outcome,
    /// Substances in the product.
    #[serde(skip)]
    pub substances: BTreeSet<String>,
}

/// What a shift from one pH to another stands for. `reading_ph`: standard uncertainty of a reading.
///
/// # Errors
/// [`AssessError`] when the sheet cannot be settled or the equilibrium has no answer. A pH the product cannot reach is a refusal in
/// [`PhShift::acid`].
pub fn ph_shift(
    sheet: &Sheet,
    known: &Known<'_>,
    (from, to): (f64, f64),
    reading_ph: f64,
) -> Result<PhShift, AssessError> {
    const METHOD: &str = "strong acid or base that moves the product as made from one pH to the other";
    let (_, composition, mixture) = solved(sheet, known)?;
    let base = |ph: f64| base_to(&mixture, ph);
    let ends = (base(from)?, base(to)?);
    let read = |ph: f64| {
        let half = 2.0 * reading_ph;
        Outcome::new(ph, "", Grade::Measured, "as read").within(ph - half, ph + half, Some(0.95))
    };
    let (acid, capacity) = match ends {
        (Some(before), Some(after)) => {
            let slope = |ph: f64, at: f64| -> Result<f64, AssessError> {
                Ok(base(ph + STEP_PH)?.map_or(0.0, |beyond| (beyond - at) / STEP_PH))
            };
            let (first, last) = (slope(from, before)?, slope(to, after)?);
            let doubt = 2.0 * reading_ph * (first * first + last * last).sqrt();
            let acid = before - after;
            let mean = if (to - from).abs() < 1e-6 { first } else { acid / (from - to) };
            let told = Outcome::new(acid, "mmol/kg", Grade::Computed, METHOD)
                .within(acid - doubt, acid + doubt, Some(0.95))
                .by("n = b(pH before) - b(pH after)")
                .proved_by(PROOF)
                .valid_for("the composition as made, one water phase, 25 C")
                .input("pH before", from, "", None)
                .input("pH after", to, "", None)
                .input("uncertainty of a reading", reading_ph, "", None)
                .note(
                    "constants",
                    "the interval is that of the two readings; what constants leave open comes to it",
                );
            let told = if acid.abs() <= doubt {
                told.note("no-shift", "two readings differ by so much without anything having happened")
            } else {
                told
            };
            (told, Outcome::new(mean, "mmol/kg per pH", Grade::Computed, METHOD).proved_by(PROOF))
        }
        _ => {
            let why =
                "the product does not reach one of the two with any strong acid or base that could be meant";
            (Outcome::refuse("mmol/kg", METHOD, why), Outcome::refuse("mmol/kg per pH", METHOD, why))
        }
    };
    let substances = composition.substances.keys().cloned().collect();
    Ok(PhShift { from: read(from), to: read(to), acid, capacity, substances })
}

/// Strong base with which the product as made stands at a pH, mmol/kg; below zero acid. `None` where it is out of reach.
fn base_to(mixture: &Mixture, ph: f64) -> Result<Option<f64>, AssessError> {
    let acid = ph < mixture.speciation.ph;
    let sign = if acid { 1.0 } else { -1.0 };
    let along =
        WaterPhase { components_mol: [("H+".to_owned(), sign * 1e-3)].into(), ..WaterPhase::default() };
    let system = &mixture.system;
    let ray = Ray {
        base: Portion::of(system, &mixture.phase),
        along: Portion::of(system, &along),
        most: MOST_MMOL,
    };
    let mut workspace = Workspace::new();
    let reach = system.solve_to_ph(&ray, ph, &mut workspace).map_err(MixtureError::from)?;
    Ok(match reach {
        // Per 100 g to per kilogram.
        Reach::At(mmol) => Some(-10.0 * sign * mmol),
        _ => None,
    })
}
