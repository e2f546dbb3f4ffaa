//! Preservatives and published inhibitory concentrations: references that exist, ranges in order.

use levigate_formula::library::{Preservative, WorkingForm};

use super::{Desk, Flaw};

const TABLE: &str = "preservative";

pub(super) fn look(desk: &mut Desk<'_>) {
    let facts = desk.facts;
    for (key, preservative) in &facts.library.preservatives {
        one(desk, key, preservative);
    }
    for entry in &facts.library.inhibitory {
        let key = format!("{}/{}/{}", entry.substance, entry.organism, entry.source);
        if !facts.library.substances.contains_key(&entry.substance) {
            desk.report(
                "mic",
                &key,
                "substance",
                Flaw::UnknownSubstance { substance: entry.substance.clone() },
            );
        }
        if entry.low_mg_l > entry.high_mg_l {
            desk.report("mic", &key, "low_mg_l", Flaw::Order { low: entry.low_mg_l, high: entry.high_mg_l });
        }
        desk.within("mic", &key, "low_mg_l", entry.low_mg_l, (1e-4, 1e6), "mg/L");
        desk.within("mic", &key, "high_mg_l", entry.high_mg_l, (1e-4, 1e6), "mg/L");
        if let Some(ph) = entry.test_ph {
            desk.within("mic", &key, "test_ph", ph, (0.0, 14.0), "pH");
        }
    }
}

fn one(desk: &mut Desk<'_>, key: &str, preservative: &Preservative) {
    let facts = desk.facts;
    for (field, substance) in [("substance", &preservative.substance), ("acts_as", &preservative.acts_as)] {
        if !facts.library.substances.contains_key(substance) {
            desk.report(TABLE, key, field, Flaw::UnknownSubstance { substance: substance.clone() });
        }
    }
    if let WorkingForm::Undissociated { species } = &preservative.working_form
        && !facts.chemistry.reactions.iter().any(|reaction| reaction.product == *species)
    {
        desk.report(TABLE, key, "working_form", Flaw::UnknownSpecies { species: species.clone() });
    }
    for (field, range, meant, unit) in [
        ("ph_window", &preservative.ph_window, (0.0, 14.0), "pH"),
        ("use_percent", &preservative.use_percent, (0.0, 100.0), "%"),
    ] {
        let Some(range) = range else { continue };
        desk.within(TABLE, key, field, range.low, meant, unit);
        desk.within(TABLE, key, field, range.high, meant, unit);
        if range.low > range.high {
            desk.report(TABLE, key, field, Flaw::Order { low: range.low, high: range.high });
        }
    }
    for word in preservative.spectrum.values() {
        desk.word(TABLE, key, "spectrum", word, &["good", "fair", "weak", "none"]);
    }
}
