//! The pH that is wanted, read as the target says, beside the pH of the product neat at 25 C that everything else is told in.
//!
//! ```text
//! b(e)  strong base (below zero: acid) that brings the product, as it is read, to an edge e of the window
//! e_neat = pH of the product neat at 25 C with b(e) in it
//! ```
//!
//! A window that is read at 10 % in water or at another temperature is a window of the product neat at 25 C somewhere else: the same product
//! stands at its edges. Range and proof are those of the equilibrium; a target within 0 to 95 C.

use crate::adjusting::Method;
use crate::certainty::Certainty;
use crate::mixture::Mixture;
use levigate_formula::aqueous::{AqueousError, Chemistry, Portion, Ray, Reach, System, Workspace};
use levigate_formula::sheet::Target;
use levigate_measure::{Grade, Outcome};
use rust_decimal::prelude::ToPrimitive;

/// Parts of water on one part of product where the product is read diluted.
pub(crate) const TENFOLD: f64 = 9.0;

/// The window of a target.
pub(crate) struct Wanted {
    /// As typed.
    pub(crate) typed: [f64; 2],
    /// How it is read, where that is not neat at 25 C: in words, and what the equilibrium expects to be read so.
    pub(crate) otherwise: Option<(String, Outcome)>,
    /// The window of the product neat at 25 C; none where no acid or base leads there.
    pub(crate) neat: Option<[f64; 2]>,
}

/// Reads the window of a target; none where it sets none.
pub(crate) fn wanted(
    target: &Target,
    mixture: &Mixture,
    chemistry: &Chemistry,
    certainty: &Certainty,
) -> Result<Option<Wanted>, AqueousError> {
    let Some(typed) = target.ph.and_then(|[low, high]| Some([low.to_f64()?, high.to_f64()?])) else {
        return Ok(None);
    };
    let method = Method::of(&target.ph_read);
    if method.is_usual() {
        return Ok(Some(Wanted { typed, otherwise: None, neat: Some(typed) }));
    }
    let system = mixture.system.at_temperature(chemistry, method.temperature_c)?;
    // A mixture is a hundred grams of product.
    let neat = Portion::of(&mixture.system, &mixture.phase);
    let mut read = neat.clone();
    if method.diluted {
        read.water_kg += TENFOLD * 0.1;
    }
    let mut workspace = Workspace::new();
    let at_read = with_strong_base(&system, &read, 0.0, &mut workspace)?;
    let outcome =
        Outcome::new(at_read, "", Grade::Computed, "equilibrium of the product as the target is read");
    let totals = workspace.totals_given().to_vec();
    let outcome = certainty
        .of_state(outcome, &system, &totals, &workspace)
        .proved_by("tests/cross/random_reference.toml")
        .input("pH neat", mixture.speciation.ph, "", None);
    let mut carried = |edge: f64| -> Result<Option<f64>, AqueousError> {
        match strong_base_to(&system, read.clone(), edge, &mut workspace)? {
            Some((base_mol, _)) => {
                let mut workspace = Workspace::new();
                with_strong_base(&mixture.system, &neat, base_mol, &mut workspace).map(Some)
            }
            None => Ok(None),
        }
    };
    let [low, high] = typed;
    let edges = carried(low)?.zip(carried(high)?);
    Ok(Some(Wanted { typed, otherwise: Some((method.words(), outcome)), neat: edges.map(<[f64; 2]>::from) }))
}

/// pH of a portion with so much strong base in it besides, mol.
fn with_strong_base(
    system: &System,
    portion: &Portion,
    base_mol: f64,
    workspace: &mut Workspace,
) -> Result<f64, AqueousError> {
    let mut base = portion.clone();
    base.components_mol[0] -= base_mol;
    let along = Portion::of_components(vec![0.0; base.components_mol.len()]);
    system.solve_along(&Ray { base, along, most: 1.0 }, 0.0, workspace)
}

/// Strong base that brings a portion to a pH, mol, below zero where it is acid, and the portion it was sought from; the workspace is solved
/// there. None where no amount leads there.
pub(crate) fn strong_base_to(
    system: &System,
    mut portion: Portion,
    ph: f64,
    workspace: &mut Workspace,
) -> Result<Option<(f64, Portion)>, AqueousError> {
    // So much acid first that whatever is sought is base; what is left of it decides.
    let far = 3.0 * portion.components_mol.iter().map(|mol| mol.abs()).sum::<f64>() + 2.0 * portion.water_kg;
    portion.components_mol[0] += far;
    let mut strong_base = vec![0.0; portion.components_mol.len()];
    strong_base[0] = -1.0;
    let ray = Ray { base: portion, along: Portion::of_components(strong_base), most: 2.0 * far };
    Ok(match system.solve_to_ph(&ray, ph, workspace)? {
        Reach::At(amount) => Some((amount - far, ray.base)),
        Reach::WrongWay { .. } | Reach::NotEnough { .. } => None,
    })
}
