//! Records to facts: puts the records of a set of texts into the library, newer layers over older ones.

use levigate_formula::library::{Document, IfraLimit, Layer, Material, Price, Substance};
use levigate_formula::names::Names;
use levigate_measure::Sourced;
use serde::Deserialize;
use std::collections::BTreeMap;

use crate::text::{Place, Placed, Tables};
use crate::{Facts, Fault, Source};

/// A record of a later layer that replaced an earlier one.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Override {
    /// Table (`substance`, `material`, ...).
    pub table: String,
    /// Key.
    pub key: String,
    /// Layer of the record that was replaced.
    pub replaced: Layer,
    /// Layer of the record that stands now.
    pub layer: Layer,
    /// Where it stands.
    pub place: Place,
}

/// `[[price]]`: what a material costs, user data.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct PriceRecord {
    material: String,
    #[serde(deserialize_with = "as_written")]
    per_kg: rust_decimal::Decimal,
    currency: String,
    date: String,
    #[serde(default)]
    note: Option<String>,
}

/// A price with or without quotes; without, the decimal is the shortest that means the number.
fn as_written<'de, D: serde::Deserializer<'de>>(deserializer: D) -> Result<rust_decimal::Decimal, D::Error> {
    #[derive(Deserialize)]
    #[serde(untagged)]
    enum Written {
        Text(String),
        Whole(i64),
        Broken(f64),
    }
    let text = match Written::deserialize(deserializer)? {
        Written::Text(text) => text,
        Written::Whole(number) => number.to_string(),
        Written::Broken(number) => number.to_string(),
    };
    text.parse().map_err(|_| serde::de::Error::custom(format!("`{text}` is not a price")))
}

/// `[[document]]`: a document on file for a material, user data.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct DocumentRecord {
    material: String,
    kind: String,
    date: String,
    #[serde(default)]
    valid_to: Option<String>,
    place: String,
}

/// `[[ifra_limit]]`: a category limit from a certificate, user data.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct IfraLimitRecord {
    material: String,
    category: String,
    max_percent: f64,
    amendment: u32,
    date: String,
}

/// `[[element]]`: what one mole of an element weighs.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Element {
    symbol: String,
    atomic_weight: Sourced<f64>,
}

/// Prices are never shipped: they are dated data of the user.
fn price_shipped(place: &Place) -> Fault {
    Fault::Incoherent {
        place: place.clone(),
        message: "prices are data of the user; keep them in the laboratory's folder or the workspace"
            .to_owned(),
    }
}

/// Notes the place of each record and finds duplicates and replacements.
pub(crate) struct Ledger<'a> {
    layer: Layer,
    places: &'a mut BTreeMap<(String, String), (Layer, Place)>,
    replaced: Vec<Override>,
}

impl Ledger<'_> {
    /// Enters a record. False when the same layer already has it, which is a fault.
    pub(crate) fn enter(&mut self, tables: &mut Tables<'_>, table: &str, key: &str, place: &Place) -> bool {
        let entry = (table.to_owned(), key.to_owned());
        match self.places.get(&entry) {
            Some((layer, first)) if *layer == self.layer => {
                let (table, key) = entry;
                tables.refuse(Fault::Duplicate { place: place.clone(), table, key, first: first.clone() });
                return false;
            }
            Some((layer, _)) => self.replaced.push(Override {
                table: table.to_owned(),
                key: key.to_owned(),
                replaced: *layer,
                layer: self.layer,
                place: place.clone(),
            }),
            None => {}
        }
        self.places.insert(entry, (self.layer, place.clone()));
        true
    }
}

impl Ledger<'_> {
    /// The layer that is being laid over.
    pub(crate) fn layer(&self) -> Layer {
        self.layer
    }

    /// Where a record of any layer stands.
    pub(crate) fn place_of(&self, entry: &(String, String)) -> Option<Place> {
        self.places.get(entry).map(|(_, place)| place.clone())
    }

    /// Where a record of the layer that is being laid over stands.
    pub(crate) fn own_place_of(&self, table: &str, key: &str) -> Option<Place> {
        self.places
            .get(&(table.to_owned(), key.to_owned()))
            .filter(|(layer, _)| *layer == self.layer)
            .map(|(_, place)| place.clone())
    }

    /// Where the first record of some tables stands in the layer that is being laid over.
    pub(crate) fn first_of(&self, tables: &[&str]) -> Option<Place> {
        let own = self
            .places
            .iter()
            .filter(|((table, _), (layer, _))| *layer == self.layer && tables.contains(&table.as_str()));
        own.map(|(_, (_, place))| place.clone()).min()
    }
}

impl Facts {
    /// Takes all records out of the tables. Faults go to the tables; the caller throws the result away if there are any.
    pub(crate) fn take_in(&mut self, tables: &mut Tables<'_>, layer: Layer) -> Vec<Override> {
        let mut places = std::mem::take(&mut self.places);
        let mut ledger = Ledger { layer, places: &mut places, replaced: Vec::new() };
        self.take_in_sources(tables, &mut ledger);
        self.take_in_substances(tables, &mut ledger);
        self.take_in_materials(tables, &mut ledger);
        self.take_in_user_data(tables, layer);
        self.take_in_elements(tables, &mut ledger);
        self.take_in_equilibria(tables, &mut ledger);
        self.take_in_preservatives(tables, &mut ledger);
        self.take_in_rules(tables, &mut ledger);
        self.take_in_handling(tables, &mut ledger);
        self.take_in_instruments(tables, &mut ledger);
        self.take_in_flow_use(tables, &mut ledger);
        self.take_in_mixing(tables, &mut ledger);
        self.take_in_flow(tables, &mut ledger);
        self.take_in_making(tables, &mut ledger);
        self.take_in_ph_bench(tables, &mut ledger);
        let replaced = ledger.replaced;
        self.places = places;
        replaced
    }

    fn take_in_sources(&mut self, tables: &mut Tables<'_>, ledger: &mut Ledger<'_>) {
        for Placed { mut value, place } in tables.take::<Source>("source") {
            if ledger.enter(tables, "source", &value.key, &place) {
                value.layer = ledger.layer;
                self.sources.insert(value.key.clone(), value);
            }
        }
    }

    fn take_in_substances(&mut self, tables: &mut Tables<'_>, ledger: &mut Ledger<'_>) {
        for Placed { mut value, place } in tables.take::<Substance>("substance") {
            if ledger.enter(tables, "substance", &value.key, &place) {
                value.layer = ledger.layer;
                self.library.substances.insert(value.key.clone(), value);
            }
        }
    }

    fn take_in_elements(&mut self, tables: &mut Tables<'_>, ledger: &mut Ledger<'_>) {
        for Placed { value, place } in tables.take::<Element>("element") {
            if ledger.enter(tables, "element", &value.symbol, &place) {
                self.elements.insert(value.symbol, value.atomic_weight.value);
            }
        }
    }

    fn take_in_materials(&mut self, tables: &mut Tables<'_>, ledger: &mut Ledger<'_>) {
        for Placed { mut value, place } in tables.take::<Material>("material") {
            if ledger.layer == Layer::Shipped && !value.prices.is_empty() {
                tables.refuse(price_shipped(&place));
            }
            if ledger.enter(tables, "material", &value.key, &place) {
                value.layer = ledger.layer;
                self.library.materials.insert(value.key.clone(), value);
            }
        }
    }

    fn take_in_user_data(&mut self, tables: &mut Tables<'_>, layer: Layer) {
        for Placed { value, place } in tables.take::<PriceRecord>("price") {
            if layer == Layer::Shipped {
                tables.refuse(price_shipped(&place));
            }
            let PriceRecord { material, per_kg, currency, date, note } = value;
            if let Some(material) = self.material_for(tables, "price", &material, &place) {
                let price = Price { per_kg, currency, date, note };
                // A record that was saved again brings its earlier prices along.
                if !material.prices.contains(&price) {
                    material.prices.push(price);
                }
            }
        }
        for Placed { value, place } in tables.take::<DocumentRecord>("document") {
            let DocumentRecord { material, kind, date, valid_to, place: kept } = value;
            if let Some(material) = self.material_for(tables, "document", &material, &place) {
                material.documents.push(Document { kind, date, valid_to, place: kept });
            }
        }
        for Placed { value, place } in tables.take::<IfraLimitRecord>("ifra_limit") {
            let IfraLimitRecord { material, category, max_percent, amendment, date } = value;
            if let Some(material) = self.material_for(tables, "ifra_limit", &material, &place) {
                material.ifra_limits.push(IfraLimit { category, max_percent, amendment, date });
            }
        }
    }

    fn material_for(
        &mut self,
        tables: &mut Tables<'_>,
        table: &str,
        key: &str,
        place: &Place,
    ) -> Option<&mut Material> {
        // People name a raw material as they please; keys are for the shipped records. The names are gathered once: they do
        // not change while user data are taken in.
        let named = if self.library.materials.contains_key(key) {
            None
        } else {
            if self.names == Names::default() {
                self.names = Names::of(&self.library);
            }
            self.names.resolve_material(key).ok().map(str::to_owned)
        };
        let found = self.library.materials.get_mut(named.as_deref().unwrap_or(key));
        if found.is_none() {
            tables.refuse(Fault::NoSuchMaterial {
                place: place.clone(),
                table: table.to_owned(),
                material: key.to_owned(),
            });
        }
        found
    }
}
