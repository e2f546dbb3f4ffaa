//! What a solved system says: pH, species, free metals, what every ligand is bound to, residuals.

use super::names::charge_of_name;
use super::system::{Role, System, shared};
use super::workspace::Workspace;
use core::f64::consts::LN_10;
use levigate_measure::Note;
use serde::Serialize;
use std::collections::BTreeMap;
use std::sync::Arc;

/// One dissolved species.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SpeciesAmount {
    /// Name.
    pub name: String,
    /// Molality, mol/kg water.
    pub molality: f64,
    /// Charge number.
    pub charge: i32,
    /// Components and how many of each.
    #[serde(serialize_with = "shared")]
    pub components: Arc<BTreeMap<String, i32>>,
    /// log10 of the activity coefficient.
    pub log10_gamma: f64,
}

/// Relative residuals of the balances.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Residuals {
    /// Largest relative miss of a mass balance.
    pub mass_balance: f64,
    /// Miss of the proton balance relative to what it adds up.
    pub proton_balance: f64,
    /// Net charge relative to the sum of the charges; not zero when the totals given are not electroneutral.
    pub charge_balance: f64,
    /// Relative miss of the ionic strength.
    pub ionic_strength: f64,
}

/// A solved water phase in plain numbers.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Speciation {
    /// -log10 of the activity of H+.
    pub ph: f64,
    /// Ionic strength, mol/kg water.
    pub ionic_strength: f64,
    /// Water activity by the equation of the law of mass action, dissolved species only.
    pub water_activity: f64,
    /// Sum of the molalities of all dissolved species and the non-electrolytes given, mol/kg water.
    pub sum_of_molalities: f64,
    /// Species in the order of the system; components that take part in nothing and polyacid units after them.
    pub species: Vec<SpeciesAmount>,
    /// Free molality of every metal ion, by component name.
    pub free_metals: BTreeMap<String, f64>,
    /// Moles of the held gas taken up (negative: given off), mol/kg water; zero without one.
    pub gas_taken_up: f64,
    /// Residuals.
    pub residuals: Residuals,
    /// Iterations.
    pub iterations: usize,
    /// Ionic strength beyond what the activity model is trusted for.
    pub beyond_trusted: bool,
    /// Activity coefficients held at their limit.
    pub held: bool,
    /// A polyacid's parameters were used outside their ionic strengths.
    pub polyacid_outside: bool,
}

impl Speciation {
    /// Molality of a species, zero where it does not occur.
    #[must_use]
    pub fn molality(&self, species: &str) -> f64 {
        self.species.iter().find(|row| row.name == species).map_or(0.0, |row| row.molality)
    }

    /// Share of a component's total that is present as the species (0 to 1), `None` where the component is absent.
    #[must_use]
    pub fn share(&self, species: &str, component: &str) -> Option<f64> {
        let total = self.total(component);
        let row = self.species.iter().find(|row| row.name == species)?;
        let count = f64::from(row.components.get(component).copied()?);
        (total > 0.0).then(|| count * row.molality / total)
    }

    /// Total of a component over all species, mol/kg water.
    #[must_use]
    pub fn total(&self, component: &str) -> f64 {
        self.species
            .iter()
            .filter_map(|row| row.components.get(component).map(|&count| f64::from(count) * row.molality))
            .sum()
    }

    /// For one ligand: how much of it each metal holds, and how much is held by none (key ``), mol/kg water.
    #[must_use]
    pub fn bound(&self, ligand: &str) -> BTreeMap<String, f64> {
        let mut held: BTreeMap<String, f64> = BTreeMap::new();
        for row in &self.species {
            let Some(&count) = row.components.get(ligand) else { continue };
            let amount = f64::from(count) * row.molality;
            let metal = row.components.keys().find(|name| is_metal(name)).cloned().unwrap_or_default();
            *held.entry(metal).or_insert(0.0) += amount;
        }
        held
    }

    /// The undissociated share of an acid: the share of its component in metal-free species that carry the most protons among
    /// those named (`HBenzoate` of `Benzoate-`); see [`System::neutral_form`].
    #[must_use]
    pub fn undissociated(&self, system: &System, component: &str) -> Option<f64> {
        let species = system.neutral_form(component)?;
        self.share(&species, component)
    }
}

/// Whether a component is a metal ion that matters for chelation: a bare element symbol with charge two or more.
#[must_use]
pub fn is_metal(component: &str) -> bool {
    let symbol = component.split(['+', '-']).next().unwrap_or_default();
    charge_of_name(component) >= 2
        && (1..=2).contains(&symbol.len())
        && symbol.chars().next().is_some_and(|c| c.is_ascii_uppercase())
        && symbol.chars().skip(1).all(|c| c.is_ascii_lowercase())
}

impl Workspace {
    /// Molalities of the last solution, mol/kg water, in the order of [`System::species`].
    #[must_use]
    pub fn molalities(&self) -> &[f64] {
        &self.m
    }
}

impl System {
    /// Name and molality of the uncharged units of every polyacid at the last solution of a workspace.
    pub fn uncharged_units<'s, 'w>(
        &'s self,
        totals: &'w [f64],
        workspace: &'w Workspace,
    ) -> impl Iterator<Item = (&'s str, f64)> {
        let chains = self.chains.iter().zip(&self.chain_products).zip(&self.chain_component);
        chains.map(|((model, product), place)| {
            (product.as_str(), totals[*place] * model.ionised(workspace.x[0], workspace.y).neutral)
        })
    }

    /// Name of the uncharged species made of one of this component and protons only, if there is one.
    #[must_use]
    pub fn neutral_form(&self, component: &str) -> Option<String> {
        if let Some(Role::Chain(_)) = self.place(component).map(|place| self.roles[place]) {
            return Some(self.chain_product(component));
        }
        self.facts
            .iter()
            .find(|fact| {
                fact.charge == 0
                    && fact.components.get(component) == Some(&1)
                    && fact.components.keys().all(|name| name == component || name == "H+")
            })
            .map(|fact| fact.name.clone())
    }

    fn chain_product(&self, component: &str) -> String {
        let place = self.chain_component.iter().position(|&place| self.names[place] == component);
        place.and_then(|chain| self.chain_products.get(chain)).cloned().unwrap_or_default()
    }

    /// Whether a polyacid stands outside the ionic strengths of its parameters at the last solution of a workspace.
    pub(crate) fn polyacid_outside(&self, workspace: &Workspace) -> bool {
        let mut chains = self.chains.iter().zip(&workspace.chain_totals);
        chains.any(|(chain, &total)| total > 0.0 && !chain.covers(workspace.y))
    }

    /// Reads the last solution of a workspace.
    #[must_use]
    pub fn read(&self, totals: &[f64], workspace: &Workspace) -> Speciation {
        let strength = workspace.ionic_strength();
        let gamma = self.activity.at(strength);
        let log10_gamma = |charge: i32| {
            if charge == 0 {
                gamma.neutral / LN_10
            } else {
                f64::from(charge * charge) * gamma.charged / LN_10
            }
        };
        let mut species: Vec<SpeciesAmount> = self
            .facts
            .iter()
            .zip(&workspace.m)
            .zip(&self.members)
            .map(|((fact, &molality), member)| SpeciesAmount {
                name: fact.name.clone(),
                molality,
                charge: fact.charge,
                components: Arc::clone(&fact.components),
                log10_gamma: match fact.charge {
                    0 => member.salting_out * gamma.neutral / LN_10,
                    charge => log10_gamma(charge),
                },
            })
            .collect();
        for &place in &self.spectators {
            let name = self.names[place].clone();
            species.push(SpeciesAmount {
                molality: totals[place],
                charge: self.charges[place],
                components: Arc::new(BTreeMap::from([(name.clone(), 1)])),
                name,
                log10_gamma: log10_gamma(self.charges[place]),
            });
        }
        for (chain, model) in self.chains.iter().enumerate() {
            let place = self.chain_component[chain];
            let ionised = model.ionised(workspace.x[0], workspace.y);
            let name = self.names[place].clone();
            let mut push = |product: String, share: f64, charge, components| {
                let molality = totals[place] * share;
                let components = Arc::new(components);
                species.push(SpeciesAmount { name: product, molality, charge, components, log10_gamma: 0.0 });
            };
            push(name.clone(), ionised.degree, -1, BTreeMap::from([(name.clone(), 1)]));
            let both = BTreeMap::from([(name, 1), ("H+".to_owned(), 1)]);
            push(self.chain_products[chain].clone(), ionised.neutral, 0, both);
        }
        let free_metals = species
            .iter()
            .filter(|row| row.molality > 0.0 && row.components.len() == 1 && is_metal(&row.name))
            .map(|row| (row.name.clone(), row.molality))
            .collect();
        let gas_taken_up = self.gas.map_or(0.0, |link| {
            let name = &self.names[link.component];
            let dissolved: f64 = species
                .iter()
                .filter_map(|row| row.components.get(name).map(|&count| f64::from(count) * row.molality))
                .sum();
            dissolved - totals[link.component]
        });
        let residuals = self.residuals(totals, &species, strength, workspace);
        let model = self.activity.model();
        Speciation {
            ph: workspace.ph(),
            ionic_strength: strength,
            water_activity: workspace.water_activity(),
            sum_of_molalities: workspace.sum_of_molalities(),
            free_metals,
            gas_taken_up,
            residuals,
            iterations: workspace.iterations,
            beyond_trusted: strength > model.trusted_to(),
            held: strength > model.held_from(),
            polyacid_outside: self.polyacid_outside(workspace),
            species,
        }
    }

    fn residuals(
        &self,
        totals: &[f64],
        species: &[SpeciesAmount],
        strength: f64,
        workspace: &Workspace,
    ) -> Residuals {
        let mut mass_balance: f64 = 0.0;
        for (&place, sums) in self.solved.iter().zip(&workspace.slots).skip(1) {
            if totals[place] > 1e-25 {
                mass_balance = mass_balance.max((sums.amount - totals[place]).abs() / totals[place]);
            }
        }
        let (mut net, mut all) = (0.0, 0.0);
        for row in species {
            net += f64::from(row.charge) * row.molality;
            all += f64::from(row.charge.abs()) * row.molality;
        }
        Residuals {
            mass_balance,
            proton_balance: self.residual(workspace),
            charge_balance: if all > 0.0 { net / all } else { 0.0 },
            ionic_strength: (workspace.strength_sum() / strength - 1.0).abs(),
        }
    }
}

impl Speciation {
    /// What a reader must know about the range of the model.
    #[must_use]
    pub fn notes(&self, system: &System) -> Vec<Note> {
        let mut notes = Vec::new();
        let model = system.conditions().activity;
        if self.held {
            notes.push(Note::new(
                "activity-held",
                format!(
                    "the ionic strength of {:.2} mol/kg lies above the activity model; its coefficients are held at their value for {} mol/kg and the interval is wider",
                    self.ionic_strength,
                    model.held_from()
                ),
            ));
        } else if self.beyond_trusted {
            notes.push(Note::new(
                "activity-range",
                format!(
                    "the ionic strength of {:.2} mol/kg lies above the {} mol/kg for which the activity model is trusted; the interval is wider",
                    self.ionic_strength,
                    model.trusted_to()
                ),
            ));
        }
        if self.polyacid_outside {
            notes.push(Note::new(
                "polyacid-range",
                "the apparent pKa of a polymer is used outside the ionic strengths it was read at; the interval is wider",
            ));
        }
        if self.residuals.charge_balance.abs() > 1e-6 {
            notes.push(Note::new(
                "not-neutral",
                format!(
                    "the amounts given do not add up to zero charge (net {:.2e} of the charges); the protons were counted as given",
                    self.residuals.charge_balance
                ),
            ));
        }
        notes
    }
}

#[cfg(test)]
mod tests {
    use super::is_metal;

    #[test]
    fn metals_are_bare_cations_of_charge_two_or_more() {
        for name in ["Ca+2", "Fe+3", "Cu+2", "Al+3"] {
            assert!(is_metal(name), "{name}");
        }
        for name in ["Na+", "H+", "Citrate-3", "CO3-2", "CaOH+", "Arginine+2"] {
            assert!(!is_metal(name), "{name}");
        }
    }
}
