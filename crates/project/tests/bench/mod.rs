//! A batch as a workspace would have kept it, for tests without one.

use levigate_project::records::{Batch, BatchEntry, How, Id, Kept, Plan, Trial};
use levigate_project::workbench::batch::BatchRecords;
use std::collections::BTreeMap;
use uuid::Uuid;

/// A record as Ines kept it.
pub(crate) fn kept<T>(id: u128, number: u32, what: T) -> Kept<T> {
    Kept {
        id: Id::from_uuid(Uuid::from_u128(id)),
        number,
        sequence: u64::from(number),
        who: "Ines".to_owned(),
        how: How::Initialled,
        when: "2026-11-24T09:00:00Z".parse().unwrap(),
        corrects: None,
        what,
    }
}

/// The first batch of a plan, number 7, with what was entered on it.
pub(crate) fn records(plan: Plan, entries: Vec<Kept<BatchEntry>>) -> BatchRecords {
    let trial = Trial {
        formula: Id::from_uuid(Uuid::from_u128(1)),
        version: 1,
        parent: None,
        changed: String::new(),
        batch_size: None,
        process: String::new(),
        made: None,
        lots: Vec::new(),
    };
    let batch = Batch {
        trial: Id::from_uuid(Uuid::from_u128(5)),
        code: "261124-01".to_owned(),
        plan,
        engine_version: "test".to_owned(),
        data_version: "test".to_owned(),
        sent_sha256: String::new(),
        note: String::new(),
    };
    BatchRecords {
        batch: kept(7, 1, batch),
        trial: kept(5, 1, trial),
        entries,
        sign_offs: Vec::new(),
        samples: Vec::new(),
        readings: Vec::new(),
        places: Vec::new(),
        lots: Vec::new(),
        statuses: BTreeMap::new(),
    }
}
