//! Free acids: how much of every weak acid stands undissociated at the pH of the product.

use crate::mixture::Mixture;
use levigate_formula::aqueous::interval::coefficient_uncertainty;
use levigate_formula::aqueous::system::SpeciesFact;
use levigate_formula::library::{InWater, Library, Substance};
use levigate_measure::written::{Described, Description, result};
use levigate_measure::{Grade, Outcome};
use serde::Serialize;
use std::collections::BTreeMap;

struct TotalPercent;
impl Described for TotalPercent {
    const OF: Description = Description::computed("% w/w", "sum over all raw materials, as the free acid")
        .by("w = n * M")
        .proved_by("exact arithmetic");
}

/// One weak acid.
#[derive(Clone, Debug, Serialize)]
pub struct AcidReading {
    /// Component of the equilibrium model.
    pub component: String,
    /// Name of the acid.
    pub name: String,
    /// Undissociated share, 0 to 1.
    pub share: Outcome,
    /// Undissociated acid, % w/w of the product.
    pub free_percent: Option<Outcome>,
    /// All of it as acid, % w/w of the product.
    #[serde(serialize_with = "result::<TotalPercent, _, _>")]
    pub total_percent: Option<f64>,
}

/// Interval of an undissociated share (0 to 1) at a given pH, coverage 0.95: the odds of the form move with the uncertainty of its
/// constant and of the activity coefficient, both in log10.
pub(crate) fn share_interval(share: f64, fact: &SpeciesFact, coefficient_log10: f64) -> [f64; 2] {
    let slope = 10f64.powf(2.0 * fact.uncertainty_log10.hypot(coefficient_log10));
    let odds = share / (1.0 - share).max(f64::MIN_POSITIVE);
    [odds / slope, odds * slope].map(|odds| odds / (1.0 + odds))
}

/// The substance that is this species by itself: benzoic acid for the species made of benzoate and one proton.
pub(crate) fn substance_of<'l>(fact: &SpeciesFact, library: &'l Library) -> Option<&'l Substance> {
    let parts: BTreeMap<String, f64> =
        fact.components.iter().map(|(name, count)| (name.clone(), f64::from(*count))).collect();
    library.substances.values().find(|substance| {
        matches!(&substance.in_water, InWater::Components { gives, crystal_water } if *gives == parts && *crystal_water == 0.0)
    })
}

/// The share of a species of one component when the pH moves a little: each form of it by its protons, all else as it stands.
fn shifted(mixture: &Mixture, component: &str, species: &str, by_ph: f64) -> Option<f64> {
    let (mut wanted, mut all) = (None, 0.0);
    for row in &mixture.speciation.species {
        let Some(&count) = row.components.get(component) else { continue };
        let protons = f64::from(row.components.get("H+").copied().unwrap_or(0));
        let amount = f64::from(count) * row.molality * 10f64.powf(-by_ph * protons);
        all += amount;
        if row.name == species {
            wanted = Some(amount);
        }
    }
    wanted.filter(|_| all > 0.0).map(|wanted| wanted / all)
}

/// Reads every acid of the product that has an uncharged form, the largest first.
pub(crate) fn acids(mixture: &Mixture, library: &Library) -> Vec<AcidReading> {
    let coefficient = coefficient_uncertainty(mixture.speciation.ionic_strength);
    let mut found: Vec<(f64, AcidReading)> = Vec::new();
    for component in mixture.system.components().iter().filter(|name| *name != "H+") {
        let Some(species) = mixture.system.neutral_form(component) else { continue };
        let Some(fact) = mixture.system.species().iter().find(|fact| fact.name == species) else { continue };
        // A neutral base stands as its own component; its uncharged form is no acid.
        if fact.components.get("H+").copied().unwrap_or(0) < 1 {
            continue;
        }
        let total = mixture.speciation.total(component);
        let Some(share) = mixture.speciation.share(&species, component).filter(|_| total > 0.0) else {
            continue;
        };
        let substance = substance_of(fact, library);
        let bounds = share_interval(share, fact, coefficient);
        let off = [-0.1, 0.1].map(|off| shifted(mixture, component, &species, off).unwrap_or(share));
        let mass = substance.and_then(|one| one.molar_mass_g_mol.as_ref());
        // Percent of the product for each mol per kg of water.
        let percent = mass.map(|mass| mass.value * mixture.phase.water_g / 1000.0);
        let outcome = |scale: f64, unit: &'static str| {
            Outcome::new(share * scale, unit, Grade::Computed, "equilibrium of the water phase")
                .within(bounds[0] * scale, bounds[1] * scale, Some(0.95))
                .by("share of the acid's units that stand in the uncharged form")
                .proved_by("tests/cross/scenarios.toml")
                .source(fact.source.clone())
                .input("pH", mixture.speciation.ph, "", None)
                .input(format!("log10 K of {species}"), fact.log10_k, "", Some(&fact.source))
                .term("0.1 lower in pH", off[0] * scale, unit)
                .term("0.1 higher in pH", off[1] * scale, unit)
                .note(
                    "at-this-ph",
                    "for the computed pH as if it were exact; the terms say what a pH meter off by 0.1 does",
                )
        };
        found.push((
            total,
            AcidReading {
                component: component.clone(),
                name: substance.map_or_else(|| species.clone(), |one| one.name.clone()),
                share: outcome(1.0, ""),
                free_percent: percent.map(|percent| outcome(percent * total, "% w/w")),
                total_percent: percent.map(|percent| percent * total),
            },
        ));
    }
    found.sort_by(|a, b| b.0.total_cmp(&a.0));
    found.into_iter().map(|(_, reading)| reading).collect()
}
