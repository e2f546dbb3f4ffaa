//! An invented batch with everything a record can hold: lines within and outside their tolerance, a slip that was taken back, a
//! deviation, a sheet typed back, a reading, a signature. Texts and the number of lines are the test's to choose.

use jiff::Timestamp;
use levigate_project::records::{Batch, BatchEntry, Did, Kept, Plan, RetainedSample, SignOff, Trial};
use levigate_project::workbench::batch::{
    BatchRecord, BatchRecords, LotInRecord, ReadingInRecord, Seal, batch_state, day_of,
};
use serde_json::{Value, json};
use std::collections::BTreeMap;

/// What may be chosen.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Choice<'a> {
    /// Lines to weigh.
    pub(crate) lines: usize,
    /// A text that stands wherever a person can type one.
    pub(crate) text: &'a str,
}

impl Default for Choice<'_> {
    fn default() -> Self {
        Self { lines: 5, text: "Invented gel" }
    }
}

fn id(number: usize) -> String {
    format!("00000000-0000-4000-8000-{number:012}")
}

fn kept<T: serde::de::DeserializeOwned>(number: usize, place: usize, what: Value) -> Kept<T> {
    let mut all = json!({
        "id": id(place), "number": number, "sequence": place, "who": "Ines", "how": "initialled",
        "when": "2026-11-24T10:30:00Z",
    });
    if let (Some(all), Some(what)) = (all.as_object_mut(), what.as_object()) {
        all.extend(what.clone());
    }
    serde_json::from_value(all).expect("a record")
}

/// The plan: so many lines of 1.00 g and more, a step of work, one line by the meter, a check.
pub(crate) fn plan(choice: Choice<'_>) -> Plan {
    let mut steps: Vec<Value> = (1..=choice.lines)
        .map(|number| {
            let grams = format!("{number}.00");
            json!({
                "number": number, "kind": "weigh", "phase": "A", "text": format!("Weigh {} {number}", choice.text),
                "line": {
                    "number": number, "material": format!("material-{number}"), "name": format!("{} {number}", choice.text),
                    "percent": "1.00", "grams": grams, "tolerance_percent": "1", "tolerance_g": "0.01",
                    "remainder": number == 1,
                },
                "cautions": [{ "hazard": "dust", "text": choice.text, "source": "from-memory" }],
            })
        })
        .collect();
    let next = choice.lines + 1;
    steps.push(json!({
        "number": next, "kind": "work", "phase": "B", "text": choice.text, "temperature_c": "75.0", "speed_rpm": "200", "hold_min": "20",
    }));
    steps.push(json!({
        "number": next + 1, "kind": "adjust", "phase": "C", "text": "Add a base in portions until the pH is 5.5",
        "line": {
            "number": next, "material": "base", "name": "Invented base", "percent": "0.3", "grams": "0.56", "tolerance_percent": "5",
            "tolerance_g": "0.02", "to_ph": "5.50", "first_g": "0.50",
        },
    }));
    steps.push(json!({ "number": next + 2, "kind": "make_up", "text": "Give back the water that went off" }));
    steps.push(json!({
        "number": next + 3, "kind": "check", "text": "Check the batch against the brief", "checks": ["pH 5.2 to 5.8", choice.text],
    }));
    serde_json::from_value(json!({
        "product": choice.text, "version": 3, "version_code": "7f3a20c1d2e3", "size_g": "200.00",
        "balances": [{ "name": "bench", "readability_g": "0.01" }], "steps": steps,
    }))
    .expect("a plan")
}

fn entry(number: usize, minute: usize, more: Value) -> Kept<BatchEntry> {
    let mut what = json!({
        "batch": id(2), "device_time": format!("2026-11-24T{:02}:{:02}:00Z", 8 + minute / 60, minute % 60), "instrument": "bench",
        "sent_sha256": "",
    });
    if let (Some(what), Some(more)) = (what.as_object_mut(), more.as_object()) {
        what.extend(more.clone());
    }
    kept(number, 10 + number, what)
}

fn grams(typed: &str) -> Value {
    let value: &str = typed.trim();
    json!({ "net": { "typed": value, "value": value }, "unit": "g" })
}

fn entries(choice: Choice<'_>) -> Vec<Kept<BatchEntry>> {
    let mut all = Vec::new();
    for line in 1..=choice.lines {
        let step = line;
        let weighed = |typed: &str| json!({ "did": "weighed", "line": line, "material": format!("material-{line}"), "step": step, "mass": grams(typed) });
        let number = all.len() + 1;
        match line {
            // Ten times what was asked for, taken back.
            2 => {
                all.push(entry(number, line, weighed("20.00")));
                let mut back = entry(number + 1, line, weighed("20.00"));
                back.corrects = Some(levigate_project::records::Correction {
                    supersedes: all[number - 1].id,
                    reason: format!("decimal sign slipped, {}", choice.text),
                });
                back.what.withdrawn = true;
                all.push(back);
                let mut again = weighed("2.00");
                again["lot"] = json!({ "code": "MA-2608-14", "key": "x" });
                again["note"] = json!(choice.text);
                all.push(entry(number + 2, line, again));
            }
            // Too much, and typed back from paper.
            3 => {
                let mut paper = weighed("3.50");
                paper["paper"] = json!({
                    "code": "LEVIGATE/BLANK/QL-2611-99/7F3A20C1D2E3/1", "typed_at": "2026-11-24T12:00:00Z", "timed": true, "initials": "ik",
                });
                all.push(entry(number, line, paper));
            }
            _ => all.push(entry(number, line, weighed(&format!("{line}.00")))),
        }
    }
    let more = [
        json!({ "did": "deviation", "text": choice.text, "reason": choice.text, "decision": "goes on" }),
        json!({ "did": "skipped", "step": choice.lines + 3, "reason": choice.text }),
        json!({ "did": "checked", "step": choice.lines + 4, "what": "appearance", "found": choice.text }),
        json!({ "did": "output", "mass": grams("11.20") }),
    ];
    for one in more {
        let number = all.len() + 1;
        all.push(entry(number, choice.lines + number, one));
    }
    all
}

/// The records behind it.
pub(crate) fn records(choice: Choice<'_>) -> BatchRecords {
    let trial: Kept<Trial> =
        kept(1, 1, json!({ "formula": id(90), "version": 3, "lots": [], "process": "", "changed": "" }));
    let batch: Kept<Batch> = kept(
        1,
        2,
        json!({
            "trial": id(1), "code": "QL-2611-99", "plan": plan(choice), "engine_version": "test", "data_version": "test", "sent_sha256": "",
        }),
    );
    let signed: Kept<SignOff> = kept(
        1,
        9000,
        json!({
            "batch": id(2), "signed_as": "made", "known_by": "initialled, not authenticated", "through": 8000, "records": 12,
            "content_sha256": "ab".repeat(32), "engine_version": "test", "data_version": "test", "note": choice.text,
        }),
    );
    let sample: Kept<RetainedSample> =
        kept(1, 8001, json!({ "batch": id(2), "label": choice.text, "location": "sample shelf 2" }));
    BatchRecords {
        batch,
        trial,
        entries: entries(choice),
        sign_offs: vec![signed],
        samples: vec![sample],
        readings: Vec::new(),
        places: Vec::new(),
        lots: Vec::new(),
        statuses: BTreeMap::new(),
    }
}

/// The record of the batch.
pub(crate) fn record(choice: Choice<'_>) -> BatchRecord {
    let records = records(choice);
    let as_of: Timestamp = "2026-11-24T12:00:00Z".parse().expect("a moment");
    let reading = ReadingInRecord {
        number: 1,
        name: "pH".to_owned(),
        value: "5.47".to_owned(),
        conditions: "neat, 25 \u{00B0}C, 24 h old".to_owned(),
        instrument: choice.text.to_owned(),
        who: "Ines".to_owned(),
        when: as_of,
        struck: None,
        stands: "Within 5.2 to 5.8.".to_owned(),
    };
    let lot = LotInRecord {
        lines: vec![2],
        name: choice.text.to_owned(),
        code: "MA-2608-14".to_owned(),
        on_file: true,
        supplier: choice.text.to_owned(),
        assay: "99.2".to_owned(),
        expiry: Some("2028-08-02".parse().expect("a day")),
        retest: None,
    };
    assert!(records.entries.iter().any(|entry| matches!(entry.what.did, Did::Deviation { .. })));
    BatchRecord {
        plan: records.batch.what.plan.clone(),
        state: batch_state(&records, day_of(as_of)),
        lots: vec![lot],
        readings: vec![reading],
        brief: vec!["pH 5.2 to 5.8".to_owned()],
        names: BTreeMap::new(),
        seal: Seal {
            records: 12,
            place: 8001,
            link: "cd".repeat(32),
            broken: Vec::new(),
            signatures: vec![true],
        },
        as_of,
    }
}
