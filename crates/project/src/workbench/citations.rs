//! What stands behind a source key, in words.

use levigate_facts::{Facts, Source};
use serde_json::Value;
use std::collections::BTreeMap;

/// A source as a reader wants it: who, what, when, where.
#[must_use]
pub fn citation(source: &Source) -> String {
    let mut words = String::new();
    if let Some(authors) = &source.authors {
        words.push_str(authors.trim_end_matches('.'));
        words.push_str(". ");
    }
    words.push_str(source.title.trim_end_matches('.'));
    words.push('.');
    if let Some(year) = source.year {
        words.push_str(&format!(" {year}."));
    }
    if let Some(identifier) = &source.identifier {
        words.push_str(&format!(" {identifier}."));
    }
    words
}

/// Citations of all source keys that stand in a result: under `source`, `sources` or a name that ends in `_source`.
#[must_use]
pub fn citations_in(facts: &Facts, result: &Value) -> BTreeMap<String, String> {
    let mut found = BTreeMap::new();
    gather(facts, result, &mut found);
    found
}

fn gather(facts: &Facts, value: &Value, found: &mut BTreeMap<String, String>) {
    match value {
        Value::Array(values) => values.iter().for_each(|value| gather(facts, value, found)),
        Value::Object(fields) => {
            for (name, value) in fields {
                match value {
                    Value::String(key) if name == "source" || name.ends_with("_source") => {
                        add(facts, key, found)
                    }
                    Value::Array(keys) if name == "sources" => {
                        keys.iter().filter_map(Value::as_str).for_each(|key| add(facts, key, found));
                    }
                    other => gather(facts, other, found),
                }
            }
        }
        _ => {}
    }
}

fn add(facts: &Facts, key: &str, found: &mut BTreeMap<String, String>) {
    if !found.contains_key(key)
        && let Some(source) = facts.sources.get(key)
    {
        found.insert(key.to_owned(), citation(source));
    }
}
