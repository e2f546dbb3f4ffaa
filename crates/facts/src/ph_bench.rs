//! pH at the bench: `[[ph_buffer]]`, `[[ph_meter_rule]]`, `[ph_adjusting]`, `[[ph_drift]]`.

use levigate_assess::adjusting::{Convention, Drift};
use levigate_measure::ph_meter::{Buffer, MeterRule};
use std::collections::BTreeMap;

use crate::Facts;
use crate::records::Ledger;
use crate::text::{Placed, Tables};

/// What is known of pH at the bench.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct PhBench {
    /// Buffers by key.
    pub buffers: BTreeMap<String, Buffer>,
    /// Rules for a calibration by key.
    pub rules: BTreeMap<String, MeterRule>,
    /// How sure things are where nobody measured.
    pub convention: Option<Convention>,
    /// What moves the pH later, by key.
    pub drifts: BTreeMap<String, Drift>,
}

impl Facts {
    /// Takes all buffers, rules and conventions.
    pub(crate) fn take_in_ph_bench(&mut self, tables: &mut Tables<'_>, ledger: &mut Ledger<'_>) {
        for Placed { value, place } in tables.take::<Buffer>("ph_buffer") {
            if ledger.enter(tables, "ph_buffer", &value.key, &place) {
                self.ph_bench.buffers.insert(value.key.clone(), value);
            }
        }
        for Placed { value, place } in tables.take::<MeterRule>("ph_meter_rule") {
            if ledger.enter(tables, "ph_meter_rule", &value.key, &place) {
                self.ph_bench.rules.insert(value.key.clone(), value);
            }
        }
        for Placed { value, place } in tables.take::<Convention>("ph_adjusting") {
            if ledger.enter(tables, "ph_adjusting", "convention", &place) {
                self.ph_bench.convention = Some(value);
            }
        }
        for Placed { value, place } in tables.take::<Drift>("ph_drift") {
            if ledger.enter(tables, "ph_drift", &value.key, &place) {
                self.ph_bench.drifts.insert(value.key.clone(), value);
            }
        }
    }
}
