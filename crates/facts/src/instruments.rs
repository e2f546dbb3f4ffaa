//! How instruments of the bench are made: `[[spindle]]`, `[[torque_range]]`, `[[flow_cup]]`.

use levigate_measure::Sourced;
use levigate_process::flow::cup::FlowCup;
use levigate_process::flow::spindle::DiscSpindle;
use serde::Deserialize;
use std::collections::BTreeMap;

use crate::Facts;
use crate::records::Ledger;
use crate::text::{Placed, Tables};

/// What is known of bench instruments.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Instruments {
    /// Disc spindles by key.
    pub spindles: BTreeMap<String, DiscSpindle>,
    /// Common full-scale torques by key, N m.
    pub torques_n_m: BTreeMap<String, Sourced<f64>>,
    /// Flow cups by key.
    pub cups: BTreeMap<String, FlowCup>,
}

impl Instruments {
    /// The torque assumed where nobody said: `medium`, N m.
    #[must_use]
    pub fn medium_torque_n_m(&self) -> Option<f64> {
        self.torques_n_m.get("medium").map(|torque| torque.value)
    }
}

/// `[[torque_range]]`: a full-scale torque that is common.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct TorqueRange {
    key: String,
    full_scale_n_m: f64,
    source: String,
}

impl Facts {
    /// Takes all spindles, torques and cups.
    pub(crate) fn take_in_instruments(&mut self, tables: &mut Tables<'_>, ledger: &mut Ledger<'_>) {
        for Placed { value, place } in tables.take::<DiscSpindle>("spindle") {
            if ledger.enter(tables, "spindle", &value.key, &place) {
                self.instruments.spindles.insert(value.key.clone(), value);
            }
        }
        for Placed { value, place } in tables.take::<TorqueRange>("torque_range") {
            if ledger.enter(tables, "torque_range", &value.key, &place) {
                let TorqueRange { key, full_scale_n_m, source } = value;
                let torque = Sourced { value: full_scale_n_m, source };
                self.instruments.torques_n_m.insert(key, torque);
            }
        }
        for Placed { value, place } in tables.take::<FlowCup>("flow_cup") {
            if ledger.enter(tables, "flow_cup", &value.key, &place) {
                self.instruments.cups.insert(value.key.clone(), value);
            }
        }
    }
}
