//! How much the batch warms when the acid or base goes in all at once and no heat is lost.
//!
//! ```text
//! q = sum n_i H_i (product without it) + sum n_i H_i (its own solution) - sum n_i H_i (product)
//! dT = q / c,    c = w 4.18 + (100 - w) 2.4
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | n_i | amount of species i in 100 g of product | mol |
//! | H_i | enthalpy of formation of species i from the components | kJ/mol |
//! | q | heat set free by 100 g of product | kJ |
//! | w | water in 100 g of product | g |
//! | c | heat capacity of 100 g of product | J/K |
//!
//! Range: acids and bases as solutions; a dry one brings its heat of solution, which is not on file, and is refused. Heats of dilution are
//! left out (a 20 % solution of sodium hydroxide: a few percent of the whole). Sources: enthalpies of the reactions in `data/equilibria`;
//! that of water from the slope of its ion product (`iapws-r11-07`); 4.18 and 2.4 J/(g K) for water and for polyols, from memory.
//! Proved by `tests/cross/scenarios.toml`, point 2.3.

use crate::mixture::{Mixture, direction, totals_of};
use core::f64::consts::LN_10;
use levigate_formula::aqueous::{AqueousError, Chemistry, System, Workspace, water};
use levigate_formula::library::Library;
use levigate_formula::settle::Settled;
use levigate_formula::water_phase::WaterPhase;
use levigate_measure::{Grade, Outcome};
use std::collections::BTreeMap;

const METHOD: &str = "heat of the reactions between the product without the line and the line";
const WATER_J_G_K: f64 = 4.18;
const REST_J_G_K: f64 = 2.4;
/// With less water than this share of itself a line counts as dry.
const DRY_BELOW: f64 = 0.2;
/// Standard uncertainty of an enthalpy that is not on file, kJ/mol.
const MISSING_KJ_MOL: f64 = 10.0;
/// And of one that is (spread among compilations).
const HELD_KJ_MOL: f64 = 2.0;

/// Warming by an acid or base line that stands in the mixture at `percent`, in kelvin; refused for a dry one, and where one of the two
/// solutions before mixing has no answer.
pub(crate) fn warming(
    mixture: &Mixture,
    settled: &Settled<'_>,
    line: usize,
    percent: f64,
    chemistry: &Chemistry,
    library: &Library,
) -> Outcome {
    if percent <= 0.0 {
        return Outcome::new(0.0, "K", Grade::Correlated, METHOD).note("none", "nothing of it is added");
    }
    let own = WaterPhase::default()
        .along(&WaterPhase::of_constituents(&settled.lines[line].constituents, library), percent);
    let before = mixture.phase.along(&direction(settled, line, library), -percent);
    let mixing = Mixing { before: &before, own: &own, own_g: percent, after: &mixture.phase, mass_g: 100.0 };
    mixing.warming(&mixture.system, chemistry)
}

/// What is mixed: a batch, what goes into it, and the batch then, all in the same amounts.
pub(crate) struct Mixing<'p> {
    /// The batch before.
    pub(crate) before: &'p WaterPhase,
    /// What goes in.
    pub(crate) own: &'p WaterPhase,
    /// Its mass, g.
    pub(crate) own_g: f64,
    /// The batch after.
    pub(crate) after: &'p WaterPhase,
    /// Mass of the batch after, g.
    pub(crate) mass_g: f64,
}

impl Mixing<'_> {
    /// Warming by mixing at once, in kelvin; refused for a dry addition, and where one of the three has no answer.
    pub(crate) fn warming(&self, system: &System, chemistry: &Chemistry) -> Outcome {
        if self.own.water_g < DRY_BELOW * self.own_g {
            return Outcome::refuse(
                "K",
                METHOD,
                "added dry, its heat of solution is not on file; dissolve it first, slowly, and let it cool",
            );
        }
        let mut heat = Heat::of(system);
        let mut workspace = Workspace::new();
        for (phase, sign) in [(self.after, 1.0), (self.before, -1.0), (self.own, -1.0)] {
            match at_rest(system, phase, &mut workspace) {
                Ok(totals) => heat.add(&totals, &workspace, sign * phase.water_g),
                Err(error) => return Outcome::refuse("K", METHOD, error.to_string()),
            }
        }
        let (released, uncertainty) = heat.released_kj(chemistry);
        let water = self.after.water_g;
        let capacity = water * WATER_J_G_K + (self.mass_g - water).max(0.0) * REST_J_G_K;
        let kelvin = |kj: f64| kj * 1000.0 / capacity;
        Outcome::new(kelvin(released), "K", Grade::Correlated, METHOD)
            .within(kelvin(released - 2.0 * uncertainty), kelvin(released + 2.0 * uncertainty), Some(0.95))
            .by("dT = q / c")
            .proved_by("tests/cross/scenarios.toml")
            .source("from-memory")
            .input("heat set free", released * 1000.0 / self.mass_g, "kJ/kg", None)
            .input("heat capacity", capacity / self.mass_g, "J/(g K)", Some("from-memory"))
            .note("at-once", "added all at once, nothing lost to the vessel and the air; slowly it is less")
    }
}

/// Solves a phase by itself and gives its totals.
fn at_rest(system: &System, phase: &WaterPhase, workspace: &mut Workspace) -> Result<Vec<f64>, AqueousError> {
    let (totals, neutral) = totals_of(system, phase)?;
    system.solve(&totals, neutral, workspace)?;
    Ok(totals)
}

/// Net amounts formed by the mixing, mol.
struct Heat<'s> {
    system: &'s System,
    /// In the order of the species of the system.
    species: Vec<f64>,
    /// Of the uncharged units of the polyacids.
    units: BTreeMap<&'s str, f64>,
}

impl<'s> Heat<'s> {
    fn of(system: &'s System) -> Self {
        Self { system, species: vec![0.0; system.species().len()], units: BTreeMap::new() }
    }

    /// Adds what a solution holds in its water; takes it away where the water is negative.
    fn add(&mut self, totals: &[f64], workspace: &Workspace, water_g: f64) {
        let kg = water_g / 1000.0;
        for (amount, molality) in self.species.iter_mut().zip(workspace.molalities()) {
            *amount += molality * kg;
        }
        for (product, molality) in self.system.uncharged_units(totals, workspace) {
            *self.units.entry(product).or_default() += molality * kg;
        }
    }

    /// Heat set free and its standard uncertainty, kJ.
    fn released_kj(&self, chemistry: &Chemistry) -> (f64, f64) {
        let mut released = 0.0;
        let mut variance = 0.0;
        let mut take = |amount: f64, enthalpy: Option<f64>| {
            released -= amount * enthalpy.unwrap_or(0.0);
            let doubt = if enthalpy.is_some() { HELD_KJ_MOL } else { MISSING_KJ_MOL };
            variance += (amount * doubt).powi(2);
        };
        for (species, (fact, &amount)) in self.system.species().iter().zip(&self.species).enumerate() {
            if fact.name == "OH-" {
                take(amount, Some(enthalpy_of_hydroxide_kj_mol()));
            } else if let Some(row) = self.system.reaction_of(chemistry, species) {
                take(amount, row.enthalpy_kj_mol);
            }
        }
        for &amount in self.units.values() {
            take(amount, None);
        }
        (released, variance.sqrt())
    }
}

/// Enthalpy of H2O = H+ + OH- at 25 C from the slope of the ion product.
fn enthalpy_of_hydroxide_kj_mol() -> f64 {
    let (centre, step) = (25.0, 1.0);
    let slope = (water::pkw(centre + step) - water::pkw(centre - step)) / (2.0 * step);
    let kelvin = centre + 273.15;
    -slope * LN_10 * water::GAS_CONSTANT * kelvin * kelvin / 1000.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_heat_of_neutralisation_of_water_is_the_published_one() {
        // 55.8 kJ/mol at 25 C by calorimetry (from memory); the slope of a fit to ion products is known to 2 % at best, which is far
        // below the uncertainty given to the warming.
        assert!(
            (enthalpy_of_hydroxide_kj_mol() / 55.8 - 1.0).abs() < 0.02,
            "{}",
            enthalpy_of_hydroxide_kj_mol()
        );
    }
}
