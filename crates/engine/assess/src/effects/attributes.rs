//! What is read of one making, each with every doubt about it by name, so that two makings can be held against each other.
//!
//! ```text
//! x = t a,       d ln a = -ln 10 (1 - a) (d pH - d pK)          undissociated acid
//! d rho = -rho^2 w_s d v_s                                       density, for every specific volume that is not known
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | x, t | acid in its undissociated form, all of it as that acid | % w/w |
//! | a | its undissociated share | - |
//! | rho, w_s, v_s | density, mass fraction and specific volume of a substance | g/mL, -, mL/g |
//!
//! The share of an acid answers to the pH as one with a single step does; where the steps of an acid lie near each other that is the wide side.
//! Cases: `tests/tests/effects_attributes.rs`, against constants, contents and volumes really moved.

use super::Stand;
use crate::assess::Known;
use crate::certainty::{content_pull, solvent_shift};
use crate::mixture::Mixture;
use crate::reading::Assessment;
use levigate_formula::aqueous::Doubt;
use levigate_formula::composition::Composition;
use levigate_formula::density::{density, density_doubts};
use levigate_formula::library::{InWater, Library, WorkingForm};
use std::f64::consts::LN_10;

/// The pH, neat at 25 C, with the doubts about constants, coefficients and contents. The scale of the pH is left out: every reading and every
/// prediction shares it.
#[must_use]
pub fn ph(mixture: &Mixture, composition: &Composition, known: &Known<'_>) -> Stand {
    let (solvent, _) = solvent_shift(&mixture.phase, known.library, known.chemistry);
    let doubt = Doubt { solvent: (solvent.fraction > 0.0).then_some(solvent), ..Doubt::default() };
    let mut stand = Stand::of(mixture.speciation.ph);
    let mut coefficients = 0;
    let (totals, workspace) = (&mixture.totals, &mixture.workspace);
    mixture.system.ph_pulls(totals, workspace, &mixture.sensitivities, &doubt, |name, size| {
        if size.is_finite() && size != 0.0 {
            // Coefficients of ions and of neutral species are two doubts of one name.
            let mut name = name();
            if stand.pulls.contains_key(&name) {
                coefficients += 1;
                name = format!("{name}, {coefficients}");
            }
            stand.pulls.insert(name, size);
        }
    });
    for (key, share) in &composition.substances {
        stand.pulls.extend(content_pull(mixture, key, share, known.library));
    }
    stand
}

/// Density, g/mL; none for an empty formula.
#[must_use]
pub fn density_of(composition: &Composition, library: &Library) -> Option<Stand> {
    let mut stand = Stand::of(density(composition, library).value?);
    stand.pulls.extend(density_doubts(composition, library));
    Some(stand)
}

/// All but the water, % w/w: what stays on drying, where nothing else goes off.
#[must_use]
pub fn dry_matter(composition: &Composition, library: &Library) -> Stand {
    let is_water = |key: &String| {
        library.substances.get(key).is_some_and(|substance| matches!(substance.in_water, InWater::Water))
    };
    let mut stand = Stand::default();
    for (key, share) in composition.substances.iter().filter(|(key, _)| !is_water(key)) {
        stand.value += share.percent;
        let pull = (share.high - share.low) / 12.0_f64.sqrt();
        if pull > 0.0 {
            stand.pulls.insert(content_of(key, library), pull);
        }
    }
    stand
}

/// A preservative in the form that acts, % w/w of the product, oil left aside; `ph` is the reading of [`ph`] for the same making. Nothing of it
/// where it is not in the formula.
#[must_use]
pub fn preservative(
    key: &str,
    assessment: &Assessment,
    (mixture, composition): (&Mixture, &Composition),
    ph: &Stand,
    known: &Known<'_>,
) -> Option<Stand> {
    let stands = assessment.preservatives.at.iter().find(|at| at.edge == "as it stands");
    let Some(reading) =
        stands.and_then(|at| at.preservatives.iter().find(|reading| reading.substance == key))
    else {
        return Some(Stand::default());
    };
    let mut stand = Stand::of(reading.working.value?);
    if let (Some(record), Some(share)) = (known.library.preservatives.get(key), reading.share.value)
        && let WorkingForm::Undissociated { species } = &record.working_form
    {
        let answers = stand.value * LN_10 * (1.0 - share.clamp(0.0, 1.0));
        for (doubt, pull) in &ph.pulls {
            stand.pulls.insert(doubt.clone(), -answers * pull);
        }
        if let Some(fact) = mixture.system.species().iter().find(|fact| fact.name == *species) {
            *stand.pulls.entry(format!("constant of {species}")).or_default() +=
                answers * fact.uncertainty_log10;
        }
    }
    if let Some(share) = composition.substances.get(key).filter(|share| share.percent > 0.0) {
        let relative = (share.high - share.low) / 12.0_f64.sqrt() / share.percent;
        if relative > 0.0 {
            *stand.pulls.entry(content_of(key, known.library)).or_default() += stand.value * relative;
        }
    }
    Some(stand)
}

/// Name of the doubt about the content of a substance, the same for every reading.
fn content_of(key: &str, library: &Library) -> String {
    format!("content of {}", library.substances.get(key).map_or(key, |substance| &substance.name))
}
