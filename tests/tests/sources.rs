//! Every source a result names stands in the list of sources, every proof is a file: nothing on a page points nowhere.

use jiff::civil::date;
use levigate_project::workbench::assess::assess;
use serde_json::Value;
use std::collections::BTreeSet;
use std::path::Path;

fn gather(value: &Value, found: &mut BTreeSet<String>, proofs: &mut BTreeSet<String>) {
    match value {
        Value::Object(fields) => {
            for (name, inner) in fields {
                if name == "proof" {
                    proofs.extend(inner.as_str().map(str::to_owned));
                }
                if name == "sources"
                    && let Some(keys) = inner.as_array()
                {
                    found.extend(keys.iter().filter_map(Value::as_str).map(str::to_owned));
                }
                gather(inner, found, proofs);
            }
        }
        Value::Array(items) => items.iter().for_each(|item| gather(item, found, proofs)),
        _ => {}
    }
}

#[test]
fn every_source_and_proof_named_is_on_file() {
    let facts = levigate_facts::shipped().unwrap();
    let examples = Path::new(env!("CARGO_MANIFEST_DIR")).join("../examples");
    let (mut found, mut proofs) = (BTreeSet::new(), BTreeSet::new());
    for folder in [examples.clone(), examples.join("scenarios")] {
        for entry in std::fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            let name = path.to_string_lossy().into_owned();
            if !name.ends_with(".toml") || name.contains("prices") {
                continue;
            }
            let text = std::fs::read_to_string(&path).unwrap();
            let done = assess(&facts, date(2026, 11, 24), "eu", &name, &text).unwrap();
            gather(&serde_json::to_value(&done.assessment).unwrap(), &mut found, &mut proofs);
        }
    }
    assert!(found.len() > 20, "only {} sources are named", found.len());
    let missing: Vec<&String> = found
        .iter()
        .filter(|key| !facts.sources.contains_key(*key) && !key.starts_with("statement-"))
        .collect();
    assert!(missing.is_empty(), "named by results but not on file: {missing:?}");
    let cases: Vec<&String> =
        proofs.iter().filter(|proof| proof.starts_with("tests/") || proof.starts_with("examples/")).collect();
    assert!(cases.len() > 5, "only {cases:?} are named as proofs");
    for proof in cases {
        let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("..").join(proof);
        assert!(file.is_file(), "a result names {proof} as its proof, and there is no such file");
    }
}
