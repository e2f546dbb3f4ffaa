//! How things flow: `[[cosolvent_viscosity]]`, `[[flow_family]]`, `[[thickener]]` and `[[synergy]]`.

use levigate_process::flow::datasheet::{Family, SynergyFact, Thickener, Understood, learn};
use levigate_process::flow::solvent::Cosolvent;

use crate::records::Ledger;
use crate::text::{Placed, Tables};
use crate::{Facts, Fault};

impl Facts {
    /// Takes what is known of solvents and thickeners. Raw materials and spindles must be in already: a datasheet speaks of them.
    pub(crate) fn take_in_flow(&mut self, tables: &mut Tables<'_>, ledger: &mut Ledger<'_>) {
        for Placed { value, place } in tables.take::<Cosolvent>("cosolvent_viscosity") {
            if ledger.enter(tables, "cosolvent_viscosity", &value.substance, &place) {
                self.flow.cosolvents.insert(value.substance.clone(), value);
            }
        }
        let mut renewed = Vec::new();
        for Placed { value, place } in tables.take::<Family>("flow_family") {
            if ledger.enter(tables, "flow_family", &value.key, &place) {
                renewed.push(value.key.clone());
                self.flow.families.insert(value.key.clone(), value);
            }
        }
        let mut records = tables.take::<Thickener>("thickener");
        // A family laid over another one changes what its thickeners are, though their records stay.
        let own: Vec<String> = records.iter().map(|one| one.value.material.clone()).collect();
        let touched: Vec<Thickener> = self
            .flow
            .thickeners
            .values()
            .map(|one| &one.record)
            .filter(|record| renewed.contains(&record.family) && !own.contains(&record.material))
            .cloned()
            .collect();
        for record in touched {
            let key = ("thickener".to_owned(), record.material.clone());
            if let Some(place) = ledger.place_of(&key) {
                self.understand(tables, Placed { value: record, place });
            }
        }
        for Placed { value, place } in records.drain(..) {
            if ledger.enter(tables, "thickener", &value.material, &place) {
                self.understand(tables, Placed { value, place });
            }
        }
        for Placed { value, place } in tables.take::<SynergyFact>("synergy") {
            let [one, other] = &value.between;
            if ledger.enter(tables, "synergy", &format!("{one}/{other}"), &place) {
                self.flow.synergies.retain(|old| old.between != value.between);
                self.flow.synergies.push(value);
            }
        }
    }

    /// Turns a record into law and parameters.
    fn understand(&mut self, tables: &mut Tables<'_>, Placed { value, place }: Placed<Thickener>) {
        let mut refuse = |message: String| tables.refuse(Fault::Incoherent { place: place.clone(), message });
        let Some(material) = self.library.materials.get(&value.material) else {
            return refuse(format!("thickener {}: no such raw material", value.material));
        };
        let Some(family) = self.flow.families.get(&value.family) else {
            return refuse(format!(
                "thickener {}: no [[flow_family]] has the key `{}`",
                value.material, value.family
            ));
        };
        let active =
            material.constituents.iter().find(|part| Some(&part.substance) == material.active.as_ref());
        let share = active.map_or(1.0, |part| part.typical / 100.0);
        match learn(family, &value, share, |key| self.instruments.spindles.get(key).cloned()) {
            Ok((law, knowledge)) => {
                let understood = Understood { family: family.clone(), law, knowledge, record: value };
                self.flow.thickeners.insert(understood.record.material.clone(), understood);
            }
            Err(error) => refuse(format!("thickener {}: {error}; {}", value.material, error.hint())),
        }
    }
}
