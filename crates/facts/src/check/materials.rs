//! Raw materials: shares that make one hundred, references that exist, plausible numbers, dated user data.

use levigate_formula::library::{Material, Range};
use std::collections::{BTreeMap, BTreeSet};

use super::{Desk, Flaw};

const TABLE: &str = "material";
/// Typical shares sum to 100 within this, percent.
const SUM: f64 = 0.01;

pub(super) fn look(desk: &mut Desk<'_>) {
    let facts = desk.facts;
    let mut names: BTreeMap<String, &str> = BTreeMap::new();
    for material in facts.library.materials.values() {
        let key = &material.key;
        desk.kebab(TABLE, key);
        let own = [key, &material.name].into_iter().chain(&material.aliases);
        desk.names(TABLE, key, own, &mut names);
        if material.functions.is_empty() {
            desk.report(TABLE, key, "functions", Flaw::Empty);
        }
        shares(desk, material);
        numbers(desk, material);
        user_data(desk, material);
    }
}

fn shares(desk: &mut Desk<'_>, material: &Material) {
    let key = &material.key;
    let mut seen: BTreeSet<&str> = BTreeSet::new();
    let mut sum = 0.0;
    for part in &material.constituents {
        if !desk.facts.library.substances.contains_key(&part.substance) {
            desk.report(
                TABLE,
                key,
                "constituents",
                Flaw::UnknownSubstance { substance: part.substance.clone() },
            );
        }
        if !seen.insert(&part.substance) {
            desk.report(TABLE, key, "constituents", Flaw::Twice { entry: part.substance.clone() });
        }
        for (low, high) in
            [(0.0, part.min), (part.min, part.typical), (part.typical, part.max), (part.max, 100.0)]
        {
            if low.is_nan() || high.is_nan() || low > high {
                desk.report(
                    TABLE,
                    key,
                    format!("constituents, {}", part.substance),
                    Flaw::Order { low, high },
                );
            }
        }
        sum += part.typical;
    }
    if material.constituents.is_empty() {
        desk.report(TABLE, key, "constituents", Flaw::Empty);
    } else if sum.is_nan() || (sum - 100.0).abs() > SUM {
        desk.report(TABLE, key, "constituents", Flaw::TypicalSum { sum });
    }
    for (field, substance) in [("active", &material.active), ("balance", &material.balance)] {
        if let Some(substance) = substance
            && !seen.contains(substance.as_str())
        {
            desk.report(TABLE, key, field, Flaw::NotAConstituent { substance: substance.clone() });
        }
    }
}

fn numbers(desk: &mut Desk<'_>, material: &Material) {
    let key = &material.key;
    range(desk, key, "ph_works", material.ph_works.as_ref(), (0.0, 14.0), "pH");
    range(desk, key, "ph_survives", material.ph_survives.as_ref(), (0.0, 14.0), "pH");
    range(desk, key, "use_level_percent", material.use_level_percent.as_ref(), (0.0, 100.0), "%");
    desk.sourced_within(TABLE, key, "heat_limit_c", material.heat_limit_c.as_ref(), (0.0, 300.0), "C");
    desk.sourced_within(TABLE, key, "flash_point_c", material.flash_point_c.as_ref(), (-60.0, 400.0), "C");
    desk.sourced_within(
        TABLE,
        key,
        "density_kg_m3",
        material.density_kg_m3.as_ref(),
        (50.0, 3000.0),
        "kg/m3",
    );
    desk.sourced_within(
        TABLE,
        key,
        "natural_origin_index",
        material.natural_origin_index.as_ref(),
        (0.0, 1.0),
        "",
    );
    if let Some(tolerance) = &material.electrolyte_tolerance {
        desk.word(TABLE, key, "electrolyte_tolerance", &tolerance.class, &["low", "medium", "high"]);
        if let Some(strength) = tolerance.ionic_strength_mol_kg {
            desk.within(TABLE, key, "electrolyte_tolerance", strength, (0.0, 6.0), "mol/kg water");
        }
    }
}

fn range(
    desk: &mut Desk<'_>,
    key: &str,
    field: &str,
    range: Option<&Range>,
    meant: (f64, f64),
    unit: &'static str,
) {
    let Some(range) = range else { return };
    desk.within(TABLE, key, field, range.low, meant, unit);
    desk.within(TABLE, key, field, range.high, meant, unit);
    if range.low > range.high {
        desk.report(TABLE, key, field, Flaw::Order { low: range.low, high: range.high });
    }
}

fn user_data(desk: &mut Desk<'_>, material: &Material) {
    let key = &material.key;
    for price in &material.prices {
        desk.date(TABLE, key, "price", &price.date);
        if price.currency.len() != 3 || !price.currency.bytes().all(|letter| letter.is_ascii_uppercase()) {
            desk.word(
                TABLE,
                key,
                "currency",
                &price.currency,
                &["EUR", "USD", "GBP", "CHF", "another ISO 4217 code"],
            );
        }
        if price.per_kg.is_sign_negative() {
            desk.report(TABLE, key, "price", Flaw::Order { low: 0.0, high: -1.0 });
        }
    }
    for document in &material.documents {
        desk.date(TABLE, key, "document", &document.date);
        if let Some(date) = &document.valid_to {
            desk.date(TABLE, key, "document", date);
        }
    }
    for limit in &material.ifra_limits {
        desk.date(TABLE, key, "ifra_limit", &limit.date);
        desk.within(TABLE, key, "ifra_limit", limit.max_percent, (0.0, 100.0), "%");
    }
}
