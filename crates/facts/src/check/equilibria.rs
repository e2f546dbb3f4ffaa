//! Equilibrium rows: what the chemistry does not refuse by itself. Charges and stoichiometry are proved when it is built.

use std::collections::BTreeSet;

use super::{Desk, Flaw};

/// Components without a row of their own.
const BUILT_IN: [&str; 1] = ["H+"];

pub(super) fn look(desk: &mut Desk<'_>) {
    let facts = desk.facts;
    for reaction in &facts.chemistry.reactions {
        let key = &reaction.product;
        match reaction.uncertainty_log10 {
            None => desk.report("reaction", key, "uncertainty_log10", Flaw::NoUncertainty),
            Some(value) => desk.within("reaction", key, "uncertainty_log10", value, (0.001, 5.0), ""),
        }
        let quality = reaction.quality.as_deref().unwrap_or("");
        desk.word("reaction", key, "quality", quality, &["A", "B", "C", "M"]);
        if reaction.source.is_empty() {
            desk.report("reaction", key, "source", Flaw::Empty);
        }
    }
    let used: BTreeSet<&str> = facts
        .chemistry
        .reactions
        .iter()
        .flat_map(|reaction| reaction.from.keys())
        .chain(facts.chemistry.polyacids.iter().map(|polyacid| &polyacid.component))
        .chain(facts.library.substances.values().flat_map(|substance| substance.components()))
        .map(String::as_str)
        .collect();
    for name in facts.chemistry.components.keys() {
        if !used.contains(name.as_str()) && !BUILT_IN.contains(&name.as_str()) {
            desk.report("component", name, "", Flaw::Empty);
        }
    }
    for row in &facts.chemistry.salting_out {
        desk.within("salting_out", &row.species, "kg_mol", row.kg_mol, (-0.3, 0.5), "kg/mol");
        let quality = row.quality.as_deref().unwrap_or("");
        desk.word("salting_out", &row.species, "quality", quality, &["A", "B", "C", "M"]);
        if row.source.is_empty() {
            desk.report("salting_out", &row.species, "source", Flaw::Empty);
        }
    }
    for row in &facts.chemistry.norrish {
        if !facts.library.substances.contains_key(&row.substance) {
            let substance = row.substance.clone();
            desk.report("norrish", &row.substance, "substance", Flaw::UnknownSubstance { substance });
        }
    }
    for row in &facts.chemistry.cosolvents {
        if !facts.library.substances.contains_key(&row.substance) {
            let substance = row.substance.clone();
            desk.report("cosolvent", &row.substance, "substance", Flaw::UnknownSubstance { substance });
        }
        desk.within("cosolvent", &row.substance, "up_to_fraction", row.up_to_fraction, (0.0, 1.0), "");
    }
}
