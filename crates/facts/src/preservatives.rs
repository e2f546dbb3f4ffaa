//! What preserves: `[[preservative]]` and `[[mic]]`; beside them `[[organism]]`, `[[counter_evidence]]` and `[[hurdle]]`.

use levigate_formula::library::{InhibitoryConcentration, Preservative};
use levigate_formula::preservation::{CounterEvidence, Hurdle, Organism};

use crate::records::Ledger;
use crate::text::{Placed, Tables};
use crate::{Facts, Fault};

impl Facts {
    /// Takes all preservatives, organisms and published inhibitory concentrations.
    pub(crate) fn take_in_preservatives(&mut self, tables: &mut Tables<'_>, ledger: &mut Ledger<'_>) {
        for Placed { mut value, place } in tables.take::<Preservative>("preservative") {
            if ledger.enter(tables, "preservative", &value.substance, &place) {
                value.layer = ledger.layer();
                self.library.preservatives.insert(value.substance.clone(), value);
            }
        }
        for Placed { value, place } in tables.take::<Organism>("organism") {
            if ledger.enter(tables, "organism", &value.key, &place) {
                self.preservation.organisms.insert(value.key.clone(), value);
            }
        }
        for Placed { value, place } in tables.take::<CounterEvidence>("counter_evidence") {
            if ledger.enter(tables, "counter_evidence", &value.key, &place) {
                self.preservation.counter_evidence.insert(value.key.clone(), value);
            }
        }
        for Placed { value, place } in tables.take::<Hurdle>("hurdle") {
            if ledger.enter(tables, "hurdle", &value.key, &place) {
                self.preservation.hurdles.insert(value.key.clone(), value);
            }
        }
        for Placed { value, place } in tables.take::<InhibitoryConcentration>("mic") {
            let key = format!("{}/{}/{}", value.substance, value.organism, value.source);
            if value.low_mg_l > value.high_mg_l || value.low_mg_l <= 0.0 {
                tables.refuse(Fault::Incoherent {
                    place: place.clone(),
                    message: format!(
                        "mic {key}: the lowest value must be above zero and not above the highest"
                    ),
                });
            }
            if ledger.enter(tables, "mic", &key, &place) {
                self.library.inhibitory.retain(|old| {
                    old.substance != value.substance
                        || old.organism != value.organism
                        || old.source != value.source
                });
                self.library.inhibitory.push(value);
            }
        }
    }
}
