//! Findings about the water phase: how far its model can be trusted, what holds the pH, metals and chelants.

use super::digits;
use crate::finding::{Concerns, Finding, Gravity};
use crate::metals::MetalsReading;
use crate::mixture::Mixture;
use crate::reading::PhReading;
use levigate_formula::composition::Composition;
use levigate_formula::library::Library;

/// Buffer capacity below which air and impurities move the pH, mmol per kg and pH unit (common practice, no source).
const WEAK_BUFFER: f64 = 1.0;
/// Unknown substances above this share are worth a word, %.
const MUCH_UNKNOWN_PERCENT: f64 = 0.1;
/// A chelant with less than this left free has nothing for the metals of water, %.
const USED_UP_PERCENT: f64 = 10.0;

/// Findings about the water phase.
pub(crate) fn findings(
    mixture: &Mixture,
    composition: &Composition,
    library: &Library,
    ph: &PhReading,
    metals: &MetalsReading,
    metals_stated: bool,
) -> Vec<Finding> {
    let mut found = Vec::new();
    let strength = mixture.speciation.ionic_strength;
    if mixture.speciation.beyond_trusted || mixture.speciation.held {
        found.push(
            Finding::new(
                "beyond-the-activity-model",
                Gravity::Check,
                Concerns::target("ph"),
                format!(
                    "Ionic strength {} mol/kg lies beyond what the activity model is trusted for.",
                    digits(strength)
                ),
                "Take the pH as a guide with its wider interval; titrate an aliquot before the batch.",
            )
            .rule("range of the activity model")
            .number("ionic strength", strength, "mol/kg water"),
        );
    }
    if let Some(buffer) = ph.buffer_capacity.value.filter(|buffer| *buffer < WEAK_BUFFER) {
        found.push(
            Finding::new(
                "hardly-buffered",
                Gravity::Check,
                Concerns::target("ph"),
                format!("The product is hardly buffered: {} mmol/kg move it by one pH unit.", digits(buffer)),
                "Carbon dioxide from the air and impurities will move the pH; add a buffer pair near the pH wanted.",
            )
            .rule("buffer capacity of the water phase")
            .number("buffer capacity", buffer, "mmol/kg per pH"),
        );
    }
    found.extend(unknown(mixture, composition, library));
    found.extend(used_up(composition, library, metals));
    found.extend(metals_not_stated(metals, metals_stated));
    for ion in &metals.not_known {
        found.push(
            Finding::new(
                "metal-not-known",
                Gravity::Check,
                Concerns::target("metals"),
                format!("\"{ion}\" is not an ion the equilibrium model knows."),
                "Write it like Ca+2, Mg+2, Fe+3, Cu+2, Zn+2 or Al+3.",
            )
            .rule("components of the equilibrium model"),
        );
    }
    found
}

fn unknown(mixture: &Mixture, composition: &Composition, library: &Library) -> Option<Finding> {
    let mut keys: Vec<&str> = mixture
        .phase
        .unknown_g
        .iter()
        .filter(|(_, grams)| **grams >= MUCH_UNKNOWN_PERCENT)
        .map(|(key, _)| key.as_str())
        .collect();
    keys.extend(mixture.phase.without_molar_mass.iter().map(String::as_str));
    keys.sort_unstable();
    keys.dedup();
    if keys.is_empty() && mixture.not_in_model.is_empty() {
        return None;
    }
    let mut names: Vec<String> = keys
        .iter()
        .map(|key| library.substances.get(*key).map_or_else(|| (*key).to_owned(), |one| one.name.clone()))
        .collect();
    names.extend(mixture.not_in_model.keys().cloned());
    let mut lines: Vec<usize> = keys
        .iter()
        .filter_map(|key| composition.substances.get(*key))
        .flat_map(|share| share.from.iter().map(|from| from.line))
        .collect();
    lines.sort_unstable();
    lines.dedup();
    Some(
        Finding::new(
            "left-out-of-the-chemistry",
            Gravity::Check,
            Concerns::lines(&lines),
            format!(
                "How these behave in water is not on file, so the pH leaves them out: {}.",
                names.join(", ")
            ),
            "If one of them is an acid, a base or a salt, add it to the facts or measure the pH.",
        )
        .rule("equilibrium of the water phase"),
    )
}

/// A chelant is there for metals that nobody has put a number to.
fn metals_not_stated(metals: &MetalsReading, stated: bool) -> Option<Finding> {
    let idle: Vec<&str> = metals
        .chelants
        .iter()
        .filter(|chelant| chelant.holds.is_empty())
        .map(|chelant| chelant.label.as_str())
        .collect();
    let total: f64 = metals.chelants.iter().map(|chelant| chelant.total_mmol_kg).sum();
    (!stated && !idle.is_empty()).then(|| {
        Finding::new(
            "metals-not-stated",
            Gravity::Know,
            Concerns::target("metals"),
            format!(
                "{} mmol/kg of chelant ({}) stand against an unknown amount of metal.",
                digits(total),
                idle.join(", ")
            ),
            "Ask for the hardness of the water and the iron and copper (mg/kg) of water and raw materials, and enter them in the brief.",
        )
        .rule("chelant against hardness and metals, one to one")
        .number("chelant", total, "mmol/kg")
    })
}

fn used_up(composition: &Composition, library: &Library, metals: &MetalsReading) -> Vec<Finding> {
    let mut found = Vec::new();
    for chelant in &metals.chelants {
        let free = chelant.free_percent.value.unwrap_or(100.0);
        let holds_formula_metal: Vec<&str> = metals
            .metals
            .iter()
            .filter(|metal| {
                metal.from_formula && chelant.holds.iter().any(|(label, _)| *label == metal.label)
            })
            .map(|metal| metal.label.as_str())
            .collect();
        if free >= USED_UP_PERCENT {
            continue;
        }
        let mut lines = lines_with(composition, library, &chelant.component);
        for metal in &metals.metals {
            if metal.from_formula {
                lines.extend(lines_with(composition, library, &metal.ion));
            }
        }
        lines.sort_unstable();
        lines.dedup();
        let held: Vec<String> = chelant
            .holds
            .iter()
            .filter(|(_, mmol)| *mmol >= chelant.total_mmol_kg * 0.01)
            .map(|(metal, mmol)| format!("{metal} {} mmol/kg", digits(*mmol)))
            .collect();
        let gravity = if holds_formula_metal.is_empty() { Gravity::Check } else { Gravity::Change };
        found.push(
            Finding::new(
                "chelant-used-up",
                gravity,
                Concerns::lines(&lines),
                format!(
                    "Of {} mmol/kg {} {} stays free; it holds {}.",
                    digits(chelant.total_mmol_kg),
                    chelant.label,
                    if free < 0.01 { "practically nothing".to_owned() } else { format!("only {} %", digits(free)) },
                    held.join(", ")
                ),
                if holds_formula_metal.is_empty() {
                    "Use more chelant, or better water.".to_owned()
                } else {
                    format!(
                        "It takes the {} the product is made with, and nothing is left for iron and copper: leave the chelant out, or use one that lets {} go.",
                        holds_formula_metal.join(" and "),
                        holds_formula_metal.join(" and ")
                    )
                },
            )
            .rule("equilibrium of the water phase")
            .number("chelant", chelant.total_mmol_kg, "mmol/kg")
            .number("free", free, "%"),
        );
    }
    found
}

pub(crate) fn lines_with(composition: &Composition, library: &Library, component: &str) -> Vec<usize> {
    use levigate_formula::library::InWater;
    composition
        .substances
        .iter()
        .filter(|(key, _)| match library.substances.get(*key).map(|substance| &substance.in_water) {
            Some(InWater::Components { gives, .. }) => gives.contains_key(component),
            Some(InWater::Polyion { gives_mol_per_kg, .. }) => gives_mol_per_kg.contains_key(component),
            _ => false,
        })
        .flat_map(|(_, share)| share.from.iter().map(|from| from.line))
        .collect()
}
