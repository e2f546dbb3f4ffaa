//! Substances: identity, what they give in water, plausible numbers.

use levigate_formula::library::{InWater, Substance};
use std::collections::BTreeMap;

use super::cas::check_digit;
use super::{Desk, Flaw};

const TABLE: &str = "substance";
/// Charges of a substance sum to zero within this.
const NEUTRAL: f64 = 1e-6;
/// A molar mass may differ from the formula by this share: tables of atomic weights are rounded.
const MASS_SHARE: f64 = 2e-4;

pub(super) fn look(desk: &mut Desk<'_>) {
    let facts = desk.facts;
    let mut numbers: BTreeMap<&str, &str> = BTreeMap::new();
    let mut names: BTreeMap<String, &str> = BTreeMap::new();
    for substance in facts.library.substances.values() {
        let key = &substance.key;
        desk.kebab(TABLE, key);
        identity(desk, substance, &mut numbers);
        let own = [key, &substance.name].into_iter().chain(&substance.aliases);
        desk.names(TABLE, key, own, &mut names);
        if substance.roles.is_empty() {
            desk.report(TABLE, key, "roles", Flaw::Empty);
        }
        in_water(desk, substance);
        numbers_of(desk, substance);
    }
}

fn identity<'f>(desk: &mut Desk<'_>, substance: &'f Substance, numbers: &mut BTreeMap<&'f str, &'f str>) {
    let key = &substance.key;
    if let Some(inci) = &substance.inci {
        let letters = inci.chars().filter(|letter| letter.is_alphabetic()).count();
        if letters > 5 && !inci.chars().any(char::is_lowercase) {
            desk.report(TABLE, key, "inci", Flaw::Capitals { inci: inci.clone() });
        }
    }
    for number in &substance.cas {
        cas_number(desk, TABLE, key, number);
        if let Some(other) = numbers.insert(number, key) {
            desk.report(
                TABLE,
                key,
                "cas",
                Flaw::CasShared { number: number.clone(), other: other.to_owned() },
            );
        }
    }
    let (Some(formula), Some(given)) = (&substance.formula, &substance.molar_mass_g_mol) else { return };
    match mass_of(formula, &desk.facts.elements) {
        None => desk.report(TABLE, key, "formula", Flaw::Formula { formula: formula.clone() }),
        Some(computed) if (computed - given.value).abs() > MASS_SHARE * computed => {
            desk.report(TABLE, key, "molar_mass_g_mol", Flaw::MolarMass { given: given.value, computed });
        }
        Some(_) => {}
    }
}

/// Reports a CAS number that is not one.
pub(super) fn cas_number(desk: &mut Desk<'_>, table: &'static str, key: &str, number: &str) {
    match check_digit(number) {
        None => desk.report(table, key, "cas", Flaw::CasForm { number: number.to_owned() }),
        Some((expected, found)) if expected != found => {
            desk.report(
                table,
                key,
                "cas",
                Flaw::CasCheckDigit { number: number.to_owned(), found, expected },
            );
        }
        Some(_) => {}
    }
}

fn in_water(desk: &mut Desk<'_>, substance: &Substance) {
    let key = &substance.key;
    let (gives, crystal_water) = match &substance.in_water {
        InWater::Components { gives, crystal_water } => {
            if substance.molar_mass_g_mol.is_none() {
                desk.report(TABLE, key, "molar_mass_g_mol", Flaw::Empty);
            }
            (gives, *crystal_water)
        }
        InWater::Polyion { gives_mol_per_kg, .. } => (gives_mol_per_kg, 0.0),
        _ => return,
    };
    desk.within(TABLE, key, "crystal_water", crystal_water, (0.0, 24.0), "mol/mol");
    if gives.is_empty() {
        desk.report(TABLE, key, "gives", Flaw::Empty);
    }
    let mut charge = 0.0;
    for (name, amount) in gives {
        match desk.facts.chemistry.components.get(name) {
            Some(component) => charge += f64::from(component.charge) * amount,
            None => desk.report(TABLE, key, "gives", Flaw::UnknownComponent { component: name.clone() }),
        }
        if name != "H+" {
            desk.within(TABLE, key, "gives", *amount, (f64::MIN_POSITIVE, 1000.0), "mol");
        }
    }
    if charge.abs() > NEUTRAL {
        desk.report(TABLE, key, "gives", Flaw::Charge { charge });
    }
}

fn numbers_of(desk: &mut Desk<'_>, substance: &Substance) {
    let key = &substance.key;
    desk.sourced_within(
        TABLE,
        key,
        "molar_mass_g_mol",
        substance.molar_mass_g_mol.as_ref(),
        (1.0, 5000.0),
        "g/mol",
    );
    desk.sourced_within(TABLE, key, "log_p", substance.log_p.as_ref(), (-12.0, 25.0), "");
    desk.sourced_within(
        TABLE,
        key,
        "density_kg_m3",
        substance.density_kg_m3.as_ref(),
        (600.0, 2500.0),
        "kg/m3",
    );
    desk.sourced_within(
        TABLE,
        key,
        "natural_origin_index",
        substance.natural_origin_index.as_ref(),
        (0.0, 1.0),
        "",
    );
    for entry in &substance.solubility {
        desk.word(TABLE, key, "solubility", &entry.of, &["neutral", "as-is"]);
        desk.within(TABLE, key, "solubility", entry.g_per_kg_water, (1e-6, 20_000.0), "g/kg water");
        desk.within(TABLE, key, "solubility", entry.temperature_c, (-10.0, 120.0), "C");
    }
}

/// Molar mass of a formula: symbols, numbers, brackets; parts after a point with a leading number.
fn mass_of(formula: &str, elements: &BTreeMap<String, f64>) -> Option<f64> {
    let mut total = 0.0;
    for part in formula.split(['.', '·']) {
        let digits = part.bytes().take_while(u8::is_ascii_digit).count();
        let (times, rest) = part.split_at(digits);
        let times = if times.is_empty() { 1.0 } else { times.parse().ok()? };
        total += times * mass_of_part(rest, elements)?;
    }
    Some(total)
}

fn mass_of_part(part: &str, elements: &BTreeMap<String, f64>) -> Option<f64> {
    let letters: Vec<char> = part.chars().collect();
    let mut open: Vec<f64> = vec![0.0];
    let mut at = 0;
    while let Some(&letter) = letters.get(at) {
        at += 1;
        let mass = match letter {
            '(' => {
                open.push(0.0);
                continue;
            }
            ')' if open.len() > 1 => open.pop()?,
            letter if letter.is_ascii_uppercase() => {
                let mut symbol = letter.to_string();
                if let Some(next) = letters.get(at).filter(|next| next.is_ascii_lowercase()) {
                    symbol.push(*next);
                    at += 1;
                }
                *elements.get(&symbol)?
            }
            _ => return None,
        };
        let number: String = letters.iter().skip(at).take_while(|next| next.is_ascii_digit()).collect();
        at += number.len();
        let count = if number.is_empty() { 1.0 } else { number.parse().ok()? };
        *open.last_mut()? += mass * count;
    }
    match open.as_slice() {
        [mass] if !letters.is_empty() => Some(*mass),
        _ => None,
    }
}
