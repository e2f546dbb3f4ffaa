//! pH and what hangs on it: in air, diluted, buffer capacity, ionic strength, water activity, osmolality.

use crate::certainty::{self, Certainty};
use crate::mixture::{Mixture, totals_of};
use crate::reading::PhReading;
use crate::wanted::wanted;
use levigate_formula::aqueous::water_activity;
use levigate_formula::aqueous::{AqueousError, Chemistry, Conditions, System, Workspace};
use levigate_formula::sheet::Sheet;
use levigate_formula::water_phase::WaterPhase;
use levigate_measure::{Grade, Outcome};
use std::collections::BTreeMap;

/// Carbon dioxide is worth a second pH above this, or where the buffer is weak.
const ALKALINE_PH: f64 = 7.5;
const WEAK_BUFFER_MOL_KG: f64 = 0.002;

/// Reads everything that hangs on the pH.
pub(crate) fn acidity(
    sheet: &Sheet,
    mixture: &Mixture,
    chemistry: &Chemistry,
    certainty: &Certainty,
) -> Result<PhReading, AqueousError> {
    let neat = certainty::neat(mixture, certainty);
    let mut workspace = mixture.workspace.clone();
    let speciation = &mixture.speciation;
    let buffer = mixture.sensitivities.buffer_capacity;
    let in_air = if speciation.ph > ALKALINE_PH || buffer < WEAK_BUFFER_MOL_KG {
        Some(in_air(mixture, chemistry, certainty, &mut workspace)?)
    } else {
        None
    };
    let per_product = mixture.phase.water_g / 100.0 * 1000.0;
    let osmolality = speciation.sum_of_molalities;
    let strength = Outcome::new(
        speciation.ionic_strength,
        "mol/kg water",
        Grade::Computed,
        "equilibrium of the water phase",
    )
    .by("I = 1/2 sum of z^2 m")
    .proved_by("tests/cross/aqueous_reference.toml");
    let kg = mixture.phase.water_g / 1000.0;
    let neutral: BTreeMap<String, f64> =
        mixture.phase.neutral_mol.iter().map(|(key, mol)| (key.clone(), mol / kg)).collect();
    let ions = (speciation.sum_of_molalities - mixture.neutral_molality).max(0.0);
    let activity = water_activity::of_product(chemistry, ions, &neutral);
    let wanted = wanted(&sheet.target, mixture, chemistry, certainty)?;
    let target = wanted.as_ref().map(|wanted| wanted.typed);
    let target_neat = wanted.as_ref().and_then(|wanted| wanted.neat);
    let (target_read, at_target) = wanted.and_then(|wanted| wanted.otherwise).unzip();
    Ok(PhReading {
        in_air,
        ten_percent: diluted(mixture, certainty, &mut workspace)?,
        buffer_capacity: Outcome::new(
            buffer * per_product,
            "mmol/kg per pH",
            Grade::Computed,
            "equilibrium of the water phase answered to a little strong base",
        )
        .by("beta = d(base)/d(pH)")
        .proved_by("tests/cross/aqueous_reference.toml")
        .input("pH", speciation.ph, "", None),
        ionic_strength: strength,
        water_activity: activity,
        osmolality: Outcome::new(
            osmolality,
            "mol/kg water",
            Grade::Computed,
            "sum of all dissolved particles",
        )
        .by("sum of m")
        .note("ideal", "osmotic coefficients are taken as one")
        .input("non-electrolytes", mixture.neutral_molality, "mol/kg water", None),
        target,
        target_read,
        at_target,
        target_neat,
        product: neat.clone(),
        neat,
    })
}

fn in_air(
    mixture: &Mixture,
    chemistry: &Chemistry,
    certainty: &Certainty,
    workspace: &mut Workspace,
) -> Result<Outcome, AqueousError> {
    let names: Vec<&str> = mixture.system.components().iter().map(String::as_str).collect();
    let system = System::prepare(chemistry, names, &Conditions::default().in_air())?;
    let (totals, neutral) = totals_of(&system, &mixture.phase)?;
    workspace.forget();
    system.solve(&totals, neutral, workspace)?;
    let outcome = Outcome::new(
        workspace.ph(),
        "",
        Grade::Computed,
        "equilibrium of the water phase with the carbon dioxide of air",
    );
    let outcome = certainty.of_state(outcome, &system, &totals, workspace);
    workspace.forget();
    Ok(outcome
        .by("log10 p(CO2)/atm = -3.377")
        .proved_by("tests/cross/aqueous_reference.toml")
        .input("pH without carbon dioxide", mixture.speciation.ph, "", None)
        .note(
            "equilibrium",
            "where it ends after standing open for long; a closed pack stays nearer to the other value",
        ))
}

/// pH of ten grams of product in ninety grams of water.
fn diluted(
    mixture: &Mixture,
    certainty: &Certainty,
    workspace: &mut Workspace,
) -> Result<Outcome, AqueousError> {
    let water = WaterPhase { water_g: 900.0, ..WaterPhase::default() };
    let (totals, neutral) = totals_of(&mixture.system, &mixture.phase.along(&water, 1.0))?;
    mixture.system.solve(&totals, neutral, workspace)?;
    let outcome = Outcome::new(
        workspace.ph(),
        "",
        Grade::Computed,
        "equilibrium of ten grams of product with ninety grams of water",
    );
    Ok(certainty
        .of_state(outcome, &mixture.system, &totals, workspace)
        .proved_by("examples/scenarios/2-aha-toner-serum.toml")
        .input("pH neat", mixture.speciation.ph, "", None)
        .note(
            "pure-water",
            "with water free of carbon dioxide and hardness; state the method beside every reading",
        ))
}
