//! How a product is used: `[[life_stage]]`, `[[flow_word]]`, and the sizes of `[flow_dispense]`, `[flow_drain]`, `[flow_cream]`.

use levigate_process::flow::life::Stage;
use levigate_process::flow::settings::{Dispensing, Draining, Standing, limits};
use levigate_process::flow::words::Word;
use serde::Serialize;
use std::collections::BTreeMap;

use crate::records::Ledger;
use crate::text::{Place, Placed, Tables};
use crate::{Facts, Fault};

/// What is known of the use of a product.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct FlowUse {
    /// Stages of its life by key.
    pub stages: BTreeMap<String, Stage>,
    /// Words of a brief by key.
    pub words: BTreeMap<String, Word>,
    /// The usual pack.
    pub dispensing: Option<Dispensing>,
    /// The usual hand.
    pub draining: Option<Draining>,
    /// The usual shelf.
    pub standing: Option<Standing>,
}

/// Refuses a record with a size that cannot be: everything is computed from these, so that nothing may be zero or endless.
fn sound(tables: &mut Tables<'_>, record: &impl Serialize, place: &Place) {
    let flaw = toml::Value::try_from(record).ok().and_then(|value| flaw_in("", &value));
    if let Some(message) = flaw {
        tables.refuse(Fault::Incoherent { place: place.clone(), message });
    }
}

/// The first size outside its limits, or a span that runs backwards.
fn flaw_in(field: &str, value: &toml::Value) -> Option<String> {
    let number =
        |value: &toml::Value| value.as_float().or_else(|| value.as_integer().map(|whole| whole as f64));
    match value {
        toml::Value::Table(fields) => fields.iter().find_map(|(name, value)| flaw_in(name, value)),
        toml::Value::Array(items) => {
            let numbers: Vec<f64> = items.iter().filter_map(number).collect();
            let span = field != "diameters_mm" && numbers.len() == 2 && numbers.len() == items.len();
            if span && numbers[0] > numbers[1] {
                return Some(format!("{field} runs from {} down to {}", numbers[0], numbers[1]));
            }
            items.iter().find_map(|item| flaw_in(field, item))
        }
        _ if field == "order" => None,
        _ => number(value).and_then(|number| {
            let [low, high] = limits(field);
            (!(low..=high).contains(&number))
                .then(|| format!("{field} is {number}: it lies between {low} and {high}"))
        }),
    }
}

impl Facts {
    /// Takes all stages, words and sizes.
    pub(crate) fn take_in_flow_use(&mut self, tables: &mut Tables<'_>, ledger: &mut Ledger<'_>) {
        for Placed { value, place } in tables.take::<Stage>("life_stage") {
            sound(tables, &value, &place);
            if ledger.enter(tables, "life_stage", &value.key, &place) {
                self.flow_use.stages.insert(value.key.clone(), value);
            }
        }
        for Placed { value, place } in tables.take::<Word>("flow_word") {
            sound(tables, &value, &place);
            if ledger.enter(tables, "flow_word", &value.key, &place) {
                self.flow_use.words.insert(value.key.clone(), value);
            }
        }
        for Placed { value, place } in tables.take::<Dispensing>("flow_dispense") {
            sound(tables, &value, &place);
            if ledger.enter(tables, "flow_dispense", "pack", &place) {
                self.flow_use.dispensing = Some(value);
            }
        }
        for Placed { value, place } in tables.take::<Draining>("flow_drain") {
            sound(tables, &value, &place);
            if ledger.enter(tables, "flow_drain", "hand", &place) {
                self.flow_use.draining = Some(value);
            }
        }
        for Placed { value, place } in tables.take::<Standing>("flow_cream") {
            sound(tables, &value, &place);
            if ledger.enter(tables, "flow_cream", "shelf", &place) {
                self.flow_use.standing = Some(value);
            }
        }
    }
}
