//! The water phase of a formula: how much water there really is, and what it holds in moles.
//!
//! Water is summed over every raw material and the crystal water of hydrates; humectants and solvents do not count as water.
//! Amounts are per 100 g of product, so they are linear in the percent of every line; an adjuster line moves them along a
//! straight line ([`WaterPhase::along`]) and each trial of its amount costs only the equilibrium.

use crate::composition::{ConstituentShare, SettledLine};
use crate::library::{InWater, Library};
use std::collections::BTreeMap;

/// Molar mass of water, g/mol (IUPAC atomic weights).
pub const WATER_G_MOL: f64 = 18.015_28;

/// What 100 g of product hold in their water phase.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct WaterPhase {
    /// Water from all sources, g per 100 g of product.
    pub water_g: f64,
    /// Components of the equilibrium model, mol per 100 g of product.
    pub components_mol: BTreeMap<String, f64>,
    /// Substances dissolved without ionising: key and mol per 100 g of product.
    pub neutral_mol: BTreeMap<String, f64>,
    /// The same by mass, g per 100 g of product.
    pub neutral_g: BTreeMap<String, f64>,
    /// Oil, g per 100 g of product.
    pub oil_g: f64,
    /// Substances whose behaviour in water is not known, g per 100 g of product.
    pub unknown_g: BTreeMap<String, f64>,
    /// Substances that should ionise but have no molar mass on file.
    pub without_molar_mass: Vec<String>,
}

impl WaterPhase {
    /// The water phase of lines with settled amounts.
    #[must_use]
    pub fn of_lines(lines: &[SettledLine], library: &Library) -> Self {
        let mut phase = Self::default();
        for line in lines {
            phase.add_line(line, library);
        }
        phase
    }

    /// What one percent of a raw material brings: its constituents at their typical shares.
    #[must_use]
    pub fn of_constituents(constituents: &[ConstituentShare], library: &Library) -> Self {
        let mut phase = Self::default();
        phase.add_constituents(constituents, 1.0, library);
        phase
    }

    /// Adds what a line brings at its percent.
    pub fn add_line(&mut self, line: &SettledLine, library: &Library) {
        self.add_constituents(&line.constituents, line.percent, library);
    }

    fn add_constituents(&mut self, constituents: &[ConstituentShare], percent: f64, library: &Library) {
        for part in constituents {
            self.add(&part.substance, part.typical / 100.0 * percent, library);
        }
    }

    fn add(&mut self, key: &str, grams: f64, library: &Library) {
        let Some(substance) = library.substances.get(key) else {
            *self.unknown_g.entry(key.to_owned()).or_default() += grams;
            return;
        };
        match &substance.in_water {
            InWater::Water => self.water_g += grams,
            InWater::Components { gives, crystal_water } => {
                let Some(molar_mass) = &substance.molar_mass_g_mol else {
                    self.without_molar_mass.push(key.to_owned());
                    return;
                };
                let mol = grams / molar_mass.value;
                for (component, times) in gives {
                    *self.components_mol.entry(component.clone()).or_default() += mol * times;
                }
                self.water_g += mol * crystal_water * WATER_G_MOL;
            }
            InWater::Polyion { gives_mol_per_kg, .. } => {
                for (component, per_kg) in gives_mol_per_kg {
                    *self.components_mol.entry(component.clone()).or_default() += grams / 1000.0 * per_kg;
                }
            }
            InWater::Neutral => {
                *self.neutral_g.entry(key.to_owned()).or_default() += grams;
                if let Some(molar_mass) = &substance.molar_mass_g_mol {
                    *self.neutral_mol.entry(key.to_owned()).or_default() += grams / molar_mass.value;
                } else {
                    self.without_molar_mass.push(key.to_owned());
                }
            }
            InWater::Oil => self.oil_g += grams,
            InWater::Polymer | InWater::Insoluble => {}
            InWater::Unknown => *self.unknown_g.entry(key.to_owned()).or_default() += grams,
        }
    }

    /// This phase plus `amount` times `direction`.
    #[must_use]
    pub fn along(&self, direction: &Self, amount: f64) -> Self {
        let mut moved = self.clone();
        moved.water_g += amount * direction.water_g;
        moved.oil_g += amount * direction.oil_g;
        for (into, from) in [
            (&mut moved.components_mol, &direction.components_mol),
            (&mut moved.neutral_mol, &direction.neutral_mol),
            (&mut moved.neutral_g, &direction.neutral_g),
            (&mut moved.unknown_g, &direction.unknown_g),
        ] {
            for (key, value) in from {
                *into.entry(key.clone()).or_default() += amount * value;
            }
        }
        moved
    }

    /// Molality of each component, mol per kg of water.
    #[must_use]
    pub fn molalities(&self) -> BTreeMap<String, f64> {
        let kg = self.water_g / 1000.0;
        self.components_mol.iter().map(|(key, mol)| (key.clone(), mol / kg)).collect()
    }

    /// Share of the solvents other than water in the solvent, 0 to 1.
    #[must_use]
    pub fn solvent_share(&self, solvents: impl Fn(&str) -> bool) -> f64 {
        let other: f64 = self.neutral_g.iter().filter(|(key, _)| solvents(key)).map(|(_, grams)| grams).sum();
        if self.water_g + other > 0.0 { other / (self.water_g + other) } else { 0.0 }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::library::Substance;
    use levigate_measure::Sourced;

    fn substance(key: &str, in_water: InWater, molar_mass: f64) -> Substance {
        Substance {
            key: key.to_owned(),
            name: key.to_owned(),
            inci: None,
            cas: Vec::new(),
            formula: None,
            aliases: Vec::new(),
            roles: Vec::new(),
            molar_mass_g_mol: Some(Sourced { value: molar_mass, source: "test".to_owned() }),
            in_water,
            log_p: None,
            density_kg_m3: None,
            solubility: Vec::new(),
            natural_origin_index: None,
            layer: crate::library::Layer::Shipped,
        }
    }

    fn library() -> Library {
        let mut library = Library::default();
        for one in [
            substance("water", InWater::Water, WATER_G_MOL),
            substance("glycerin", InWater::Neutral, 92.09),
            substance(
                "hydrate",
                InWater::Components {
                    gives: BTreeMap::from([("Na+".to_owned(), 1.0), ("Cl-".to_owned(), 1.0)]),
                    crystal_water: 2.0,
                },
                58.44 + 2.0 * WATER_G_MOL,
            ),
        ] {
            library.substances.insert(one.key.clone(), one);
        }
        library
    }

    fn part(substance: &str, typical: f64) -> ConstituentShare {
        ConstituentShare { substance: substance.to_owned(), low: typical, typical, high: typical }
    }

    #[test]
    fn crystal_water_counts_and_humectants_do_not() {
        let phase = WaterPhase::of_constituents(
            &[part("water", 5000.0), part("glycerin", 3000.0), part("hydrate", 2000.0)],
            &library(),
        );
        let mol = 20.0 / (58.44 + 2.0 * WATER_G_MOL);
        assert!((phase.water_g - (50.0 + 2.0 * mol * WATER_G_MOL)).abs() < 1e-12);
        assert!((phase.components_mol["Na+"] - mol).abs() < 1e-15);
        assert_eq!(phase.neutral_g["glycerin"], 30.0);
        assert!((phase.solvent_share(|_| true) - 30.0 / (30.0 + phase.water_g)).abs() < 1e-12);
    }

    #[test]
    fn along_a_line_is_linear() {
        let library = library();
        let start = WaterPhase::of_constituents(&[part("water", 9000.0)], &library);
        let direction =
            WaterPhase::of_constituents(&[part("hydrate", 100.0), part("water", -100.0)], &library);
        let there = start.along(&direction, 3.0);
        assert!((there.water_g - (start.water_g + 3.0 * direction.water_g)).abs() < 1e-12);
        assert!((there.components_mol["Cl-"] - 3.0 * direction.components_mol["Cl-"]).abs() < 1e-15);
    }
}
