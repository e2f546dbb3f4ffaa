//! What a batch is made in: `[[impeller]]`, `[[wall_material]]`, `[[vessel]]`, `[[hydration]]`.

use levigate_process::hydration::Hydration;
use levigate_process::impeller::ImpellerKind;
use levigate_process::vessel::{Vessel, VesselError, VesselSize, WallMaterial};
use std::collections::BTreeMap;

use crate::Facts;
use crate::records::Ledger;
use crate::text::{Placed, Tables};

/// What is known of vessels and what turns in them.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Mixing {
    /// Kinds of impellers by key.
    pub impellers: BTreeMap<String, ImpellerKind>,
    /// Materials of walls by key.
    pub wall_materials: BTreeMap<String, WallMaterial>,
    /// Vessels by key, as written.
    pub vessels: BTreeMap<String, VesselSize>,
    /// How gums take up water, by key.
    pub hydration: BTreeMap<String, Hydration>,
}

impl Mixing {
    /// A vessel by its key.
    ///
    /// # Errors
    /// [`VesselError`] when there is none or its sizes cannot be.
    pub fn vessel(&self, key: &str) -> Result<Vessel, VesselError> {
        let size = self.vessels.get(key).ok_or_else(|| VesselError::Unknown {
            key: key.to_owned(),
            what: "a vessel",
            known: self.vessels.keys().cloned().collect(),
        })?;
        self.made(size)
    }

    /// A vessel as written, with the impellers and materials that are known.
    ///
    /// # Errors
    /// [`VesselError`] when its sizes cannot be.
    pub fn made(&self, size: &VesselSize) -> Result<Vessel, VesselError> {
        size.made(&self.impellers, &self.wall_materials)
    }
}

impl Facts {
    /// Takes all impellers, materials and vessels.
    pub(crate) fn take_in_mixing(&mut self, tables: &mut Tables<'_>, ledger: &mut Ledger<'_>) {
        for Placed { value, place } in tables.take::<ImpellerKind>("impeller") {
            if ledger.enter(tables, "impeller", &value.key, &place) {
                self.mixing.impellers.insert(value.key.clone(), value);
            }
        }
        for Placed { value, place } in tables.take::<WallMaterial>("wall_material") {
            if ledger.enter(tables, "wall_material", &value.key, &place) {
                self.mixing.wall_materials.insert(value.key.clone(), value);
            }
        }
        for Placed { value, place } in tables.take::<VesselSize>("vessel") {
            if ledger.enter(tables, "vessel", &value.key, &place) {
                self.mixing.vessels.insert(value.key.clone(), value);
            }
        }
        for Placed { value, place } in tables.take::<Hydration>("hydration") {
            if ledger.enter(tables, "hydration", &value.key, &place) {
                self.mixing.hydration.insert(value.key.clone(), value);
            }
        }
    }
}
