//! What every case of the rules is made from: the shipped facts, a composition, a use, a day.

use jiff::civil::Date;
use levigate_facts::Facts;
use levigate_formula::composition::{Composition, ConstituentShare, SettledLine};
use levigate_formula::sheet::Product;
use levigate_rules::{Market, Usage};
use serde::Deserialize;
use serde::de::DeserializeOwned;
use std::collections::BTreeMap;
use std::sync::LazyLock;

pub(crate) static FACTS: LazyLock<Facts> =
    LazyLock::new(|| levigate_facts::shipped().expect("the shipped facts load"));

pub(crate) fn cases<T: DeserializeOwned>(name: &str) -> T {
    let path = format!("{}/published/{name}.toml", env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(path).expect("the case file is there");
    toml::from_str(&text).expect("the case file follows its schema")
}

pub(crate) fn eu() -> &'static Market {
    FACTS.rules.market("eu").expect("the rules of the EU are held")
}

pub(crate) fn known_source(key: &str) {
    assert!(FACTS.sources.contains_key(key), "unknown source {key}");
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Line {
    pub(crate) material: String,
    pub(crate) percent: f64,
    pub(crate) of: Option<BTreeMap<String, f64>>,
    #[serde(default)]
    pub(crate) spread: f64,
}

pub(crate) fn composition(lines: &[Line]) -> Composition {
    let settled = lines
        .iter()
        .enumerate()
        .map(|(at, line)| {
            let constituents = match &line.of {
                Some(of) => of
                    .iter()
                    .map(|(substance, share)| {
                        assert!(
                            FACTS.library.substances.contains_key(substance),
                            "unknown substance {substance}"
                        );
                        ConstituentShare {
                            substance: substance.clone(),
                            low: share - line.spread,
                            typical: *share,
                            high: share + line.spread,
                        }
                    })
                    .collect(),
                None => FACTS.library.materials[&line.material]
                    .constituents
                    .iter()
                    .map(|part| ConstituentShare {
                        substance: part.substance.clone(),
                        low: part.min,
                        typical: part.typical,
                        high: part.max,
                    })
                    .collect(),
            };
            SettledLine {
                line: at,
                phase: 0,
                material: line.material.clone(),
                percent: line.percent,
                exact: None,
                constituents,
            }
        })
        .collect();
    Composition::of(settled)
}

pub(crate) fn usage(site: &str, leave_on: bool) -> Usage {
    Usage::of(&Product {
        name: "Case".to_owned(),
        kind: "serum".to_owned(),
        site: site.to_owned(),
        leave_on,
        markets: vec!["eu".to_owned()],
        client: None,
        note: None,
    })
}

pub(crate) fn day(text: Option<&str>) -> Date {
    text.unwrap_or("2026-11-24").parse().expect("a date")
}

pub(crate) fn close(found: f64, expected: f64, relative: f64) -> bool {
    (found - expected).abs() <= relative * expected.abs() + 1e-12
}
