//! Written rules: CAS numbers of members, masses that agree with the substances, thresholds in order, neutralisers for substances that there are. That every rule has dates is
//! seen to when it is read.

use levigate_rules::book::Member;
use std::collections::BTreeMap;

use super::substances::cas_number;
use super::{Desk, Flaw};

/// A mass printed in an act may differ from ours by this share.
const MASS_SHARE: f64 = 2e-3;

pub(super) fn look(desk: &mut Desk<'_>) {
    let facts = desk.facts;
    let masses: BTreeMap<&str, f64> = facts
        .library
        .substances
        .values()
        .filter_map(|substance| substance.molar_mass_g_mol.as_ref().map(|mass| (substance, mass.value)))
        .flat_map(|(substance, mass)| substance.cas.iter().map(move |number| (number.as_str(), mass)))
        .collect();
    for (key, hint) in &facts.rules.neutralisers {
        for substance in hint.substances.iter().filter(|key| !facts.library.substances.contains_key(*key)) {
            let flaw = Flaw::UnknownSubstance { substance: substance.clone() };
            desk.report("neutraliser", key, "substances", flaw);
        }
    }
    for market in facts.rules.markets.values() {
        for (key, limit) in &market.limits {
            members(desk, "limit", key, &limit.members, &masses);
            if limit.rows.is_empty() {
                desk.report("limit", key, "row", Flaw::Empty);
            }
        }
        for (key, allergen) in &market.allergens {
            members(desk, "allergen", key, &allergen.members, &masses);
            let (low, high) = (allergen.leave_on_above_percent, allergen.rinse_off_above_percent);
            desk.within("allergen", key, "leave_on_above_percent", low, (0.0, 100.0), "%");
            desk.within("allergen", key, "rinse_off_above_percent", high, (0.0, 100.0), "%");
            if low > high {
                desk.report("allergen", key, "leave_on_above_percent", Flaw::Order { low, high });
            }
        }
    }
}

fn members(
    desk: &mut Desk<'_>,
    table: &'static str,
    key: &str,
    members: &[Member],
    masses: &BTreeMap<&str, f64>,
) {
    if members.is_empty() {
        desk.report(table, key, "member", Flaw::Empty);
    }
    for member in members {
        for number in &member.cas {
            cas_number(desk, table, key, number);
        }
        let Some(given) = member.molar_mass_g_mol else { continue };
        let known = member.cas.iter().find_map(|number| masses.get(number.as_str()).copied());
        if let Some(computed) = known
            && (given - computed).abs() > MASS_SHARE * computed
        {
            desk.report(table, key, format!("member {}", member.name), Flaw::MolarMass { given, computed });
        }
    }
}
