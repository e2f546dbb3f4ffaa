//! The density estimate against measured mixtures of glycerol and water.

use levigate_formula::composition::{Composition, ConstituentShare, SettledLine};
use levigate_formula::density::density;
use serde::Deserialize;
use std::path::Path;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Cases {
    case: Vec<Case>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Case {
    source: String,
    glycerin_percent: f64,
    g_ml: f64,
}

fn mixture(glycerin_percent: f64) -> Composition {
    let part = |substance: &str, typical: f64| ConstituentShare {
        substance: substance.to_owned(),
        low: typical,
        typical,
        high: typical,
    };
    Composition::of(vec![SettledLine {
        line: 0,
        phase: 0,
        material: "mixture".to_owned(),
        percent: 100.0,
        exact: None,
        constituents: vec![part("glycerin", glycerin_percent), part("water", 100.0 - glycerin_percent)],
    }])
}

#[test]
fn the_interval_holds_what_was_measured() {
    let facts = levigate_facts::shipped().unwrap();
    assert!(facts.library.substances.contains_key("glycerin"));
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("published/density.toml");
    let cases: Cases = toml::from_str(&std::fs::read_to_string(file).unwrap()).unwrap();
    assert!(cases.case.len() >= 4);
    for case in cases.case {
        let outcome = density(&mixture(case.glycerin_percent), &facts.library);
        let (low, value, high) = (outcome.low.unwrap(), outcome.value.unwrap(), outcome.high.unwrap());
        assert!(
            low <= case.g_ml && case.g_ml <= high,
            "{}: {low} to {high} misses {}",
            case.source,
            case.g_ml
        );
        assert!(
            (value / case.g_ml - 1.0).abs() < 0.013,
            "{}: {value} for {}",
            case.glycerin_percent,
            case.g_ml
        );
        assert!(high / low < 1.04, "an interval that holds everything proves nothing: {low} to {high}");
    }
}
