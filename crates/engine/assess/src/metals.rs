//! Metals and chelants: what stays free, which chelant holds which metal, and what each chelant could still hold.

use crate::mixture::Mixture;
use levigate_formula::aqueous::Chemistry;
use levigate_formula::aqueous::speciation::is_metal;
use levigate_formula::sheet::Sheet;
use levigate_measure::elementary::Elementary as _;
use levigate_measure::written::{Described, Description, result};
use levigate_measure::{Grade, Outcome};
use rust_decimal::prelude::ToPrimitive;
use serde::Serialize;
use std::collections::BTreeMap;

struct Total;
impl Described for Total {
    const OF: Description =
        Description::computed("mmol/kg", "sum over all raw materials and what the brief says water brings")
            .proved_by("exact arithmetic");
}

struct HeldBy;
impl Described for HeldBy {
    const OF: Description = Description::computed("%", "equilibrium of the water phase")
        .by("share of the metal in complexes with it")
        .proved_by("tests/cross/aqueous_reference.toml");
}

struct Holds;
impl Described for Holds {
    const OF: Description = Description::computed("mmol/kg", "equilibrium of the water phase")
        .proved_by("tests/cross/aqueous_reference.toml");
}

/// Metals and chelants of the product.
#[derive(Clone, Debug, Serialize)]
pub struct MetalsReading {
    /// Metals present.
    pub metals: Vec<MetalReading>,
    /// Chelants present.
    pub chelants: Vec<ChelantReading>,
    /// Ions of the brief that the equilibrium model does not know.
    pub not_known: Vec<String>,
}

/// One metal.
#[derive(Clone, Debug, Serialize)]
pub struct MetalReading {
    /// Ion (`Ca+2`).
    pub ion: String,
    /// Word.
    pub label: String,
    /// All of it, mmol per kg of product.
    #[serde(serialize_with = "result::<Total, _, _>")]
    pub total_mmol_kg: f64,
    /// Whether the formula itself brings it (and not only water and impurities).
    pub from_formula: bool,
    /// Free ion, mol per kg of water.
    pub free: Outcome,
    /// Held by something, percent of the total.
    pub held_percent: Outcome,
    /// What holds it most, by component label and percent.
    #[serde(serialize_with = "result::<HeldBy, _, _>")]
    pub held_by: Vec<(String, f64)>,
}

/// One chelant.
#[derive(Clone, Debug, Serialize)]
pub struct ChelantReading {
    /// Component (`EDTA-4`).
    pub component: String,
    /// Word.
    pub label: String,
    /// All of it, mmol per kg of product.
    #[serde(serialize_with = "result::<Total, _, _>")]
    pub total_mmol_kg: f64,
    /// Not holding any metal, percent.
    pub free_percent: Outcome,
    /// What it holds, mmol per kg of product, by metal label.
    #[serde(serialize_with = "result::<Holds, _, _>")]
    pub holds: Vec<(String, f64)>,
    /// What of calcium it could still hold one to one, mg per kg of product.
    pub calcium_capacity: Option<Outcome>,
}

/// What water and raw materials bring besides the formula, mol per 100 g of product, from the mg/kg of the brief; entered as
/// chlorides so that the mixture stays neutral.
pub(crate) fn brought(sheet: &Sheet, chemistry: &Chemistry) -> (BTreeMap<String, f64>, Vec<String>) {
    let mut mol: BTreeMap<String, f64> = BTreeMap::new();
    let mut not_known = Vec::new();
    for (ion, amount) in &sheet.target.metals_mg_kg {
        let component = chemistry.components.get(ion).filter(|component| component.charge > 0);
        match (component.and_then(|component| component.molar_mass_g_mol), amount.to_f64()) {
            (Some(molar_mass), Some(mg_kg)) if mg_kg >= 0.0 => {
                let amount = mg_kg / 1000.0 / molar_mass / 10.0;
                let charge = component.map_or(0.0, |component| f64::from(component.charge));
                *mol.entry(ion.clone()).or_default() += amount;
                *mol.entry("Cl-".to_owned()).or_default() += amount * charge;
            }
            _ => not_known.push(ion.clone()),
        }
    }
    (mol, not_known)
}

/// Reads metals and chelants from the solved mixture.
pub(crate) fn metals(
    mixture: &Mixture,
    chemistry: &Chemistry,
    brought: &BTreeMap<String, f64>,
    not_known: Vec<String>,
) -> MetalsReading {
    let label = |name: &str| {
        chemistry
            .components
            .get(name)
            .map(|component| component.label.clone())
            .filter(|label| !label.is_empty())
            .unwrap_or_else(|| name.to_owned())
    };
    // mmol per kg of product for each mol per kg of water.
    let to_product = mixture.phase.water_g / 100.0 * 1000.0;
    let mut metals = Vec::new();
    let mut chelants = Vec::new();
    for (name, &total) in mixture.system.components().iter().zip(&mixture.totals) {
        if total <= 0.0 {
            continue;
        }
        if is_metal(name) {
            let in_formula = mixture.phase.components_mol.get(name).copied().unwrap_or(0.0)
                - brought.get(name).copied().unwrap_or(0.0);
            metals.push(metal(mixture, name, total, to_product, in_formula > total * 1e-9, &label));
        } else if chemistry.components.get(name).is_some_and(|component| component.chelant) {
            chelants.push(chelant(mixture, name, total, to_product, &label));
        }
    }
    MetalsReading { metals, chelants, not_known }
}

fn metal(
    mixture: &Mixture,
    name: &str,
    total: f64,
    to_product: f64,
    from_formula: bool,
    label: &impl Fn(&str) -> String,
) -> MetalReading {
    let speciation = &mixture.speciation;
    let free = speciation.free_metals.get(name).copied().unwrap_or(0.0);
    let mut by: BTreeMap<&str, f64> = BTreeMap::new();
    let mut leading: Option<(f64, &str)> = None;
    for row in &speciation.species {
        let Some(count) = row.components.get(name) else { continue };
        let amount = f64::from(*count) * row.molality;
        let partner = row.components.keys().find(|key| *key != name && *key != "H+");
        if let Some(partner) = partner {
            *by.entry(partner).or_default() += amount / total * 100.0;
        } else if row.components.contains_key("H+") {
            *by.entry("hydroxide").or_default() += amount / total * 100.0;
        }
        if row.components.len() > 1 && leading.is_none_or(|(most, _)| amount > most) {
            leading = Some((amount, &row.name));
        }
    }
    let mut held_by: Vec<(String, f64)> = by
        .into_iter()
        .filter(|(_, percent)| *percent >= 0.1)
        .map(|(partner, percent)| (label(partner), percent))
        .collect();
    held_by.sort_by(|a, b| b.1.total_cmp(&a.1));
    let fact = leading.and_then(|(_, name)| mixture.system.species().iter().find(|fact| fact.name == name));
    let spread = 10f64.to_the(2.0 * fact.map_or(0.02, |fact| fact.uncertainty_log10));
    let mut outcome = Outcome::new(free, "mol/kg water", Grade::Computed, "equilibrium of the water phase")
        .within(free / spread, (free * spread).min(total), Some(0.95))
        .by("m = K * product of activities / activity coefficient")
        .valid_for("dissolved metal; nothing precipitates in the model, no redox")
        .proved_by("tests/cross/aqueous_reference.toml")
        .input("total", total, "mol/kg water", None)
        .input("pH", speciation.ph, "", None);
    if let Some(fact) = fact {
        outcome = outcome
            .input(format!("log10 K of {}", fact.name), fact.log10_k, "", Some(&fact.source))
            .source(fact.source.clone())
            .note("interval", format!("interval from the constant of {}, which holds most of it", fact.name));
    }
    let held = (1.0 - free / total) * 100.0;
    let low = (1.0 - (free * spread).min(total) / total) * 100.0;
    let high = (1.0 - free / spread / total) * 100.0;
    MetalReading {
        ion: name.to_owned(),
        label: label(name),
        total_mmol_kg: total * to_product,
        from_formula,
        free: outcome,
        held_percent: Outcome::new(held, "%", Grade::Computed, "equilibrium of the water phase")
            .within(low, high, Some(0.95))
            .by("1 - free / total")
            .proved_by("tests/cross/aqueous_reference.toml"),
        held_by,
    }
}

fn chelant(
    mixture: &Mixture,
    name: &str,
    total: f64,
    to_product: f64,
    label: &impl Fn(&str) -> String,
) -> ChelantReading {
    let bound = mixture.speciation.bound(name);
    // Sodium and potassium pairs are not what a chelant is added for; only what `bound` files under a metal counts as held.
    let free = bound.get("").copied().unwrap_or(0.0);
    let mut holds: Vec<(String, f64)> = bound
        .iter()
        .filter(|(metal, amount)| !metal.is_empty() && **amount > total * 1e-6)
        .map(|(metal, amount)| (label(metal), amount * to_product))
        .collect();
    holds.sort_by(|a, b| b.1.total_cmp(&a.1));
    let free_percent = free / total * 100.0;
    let calcium = 40.078;
    ChelantReading {
        component: name.to_owned(),
        label: label(name),
        total_mmol_kg: total * to_product,
        free_percent: Outcome::new(free_percent, "%", Grade::Computed, "equilibrium of the water phase")
            .by("not in any complex with a metal, of the total")
            .proved_by("tests/cross/aqueous_reference.toml")
            .input("total", total * to_product, "mmol/kg product", None),
        holds,
        calcium_capacity: Some(
            Outcome::new(
                free * to_product * calcium,
                "mg/kg",
                Grade::Computed,
                "what is free, taken one to one",
            )
            .by("c = n(free) * 40.078 g/mol")
            .source("iupac-atomic-weights")
            .input("free chelant", free * to_product, "mmol/kg product", None)
            .note(
                "upper-bound",
                "one to one and complete; at low pH the complex with calcium is weak and less is held",
            ),
        ),
    }
}
