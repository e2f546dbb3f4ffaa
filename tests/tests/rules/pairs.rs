//! Pairs that do not go together, graded by amount.

use crate::question::{FACTS, Line, cases, close, composition, day, known_source, usage};
use levigate_rules::Question;
use levigate_rules::incompatibility::incompatibilities;
use serde::Deserialize;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct PairFile {
    case: Vec<PairCase>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct PairCase {
    name: String,
    source: String,
    lines: Vec<Line>,
    rule: String,
    /// Absent: the pair must not be found.
    severity: Option<String>,
    size: Option<f64>,
    tolerance: Option<f64>,
    first_mmol: Option<f64>,
    second_mmol: Option<f64>,
}

#[test]
fn pairs_are_graded_by_amount() {
    let file: PairFile = cases("rules_incompatibilities");
    for case in &file.case {
        known_source(&case.source);
        let (usage, composition) = (usage("face", true), composition(&case.lines));
        let question = Question {
            composition: &composition,
            library: &FACTS.library,
            usage: &usage,
            day: day(None),
            ph: None,
        };
        let readings = incompatibilities(&question, FACTS.rules.incompatibilities.values(), None);
        let reading = readings.iter().find(|reading| reading.key == case.rule);
        let Some(severity) = &case.severity else {
            assert!(reading.is_none(), "{}", case.name);
            continue;
        };
        let reading = reading.unwrap_or_else(|| panic!("{}: not found", case.name));
        assert_eq!(serde_json::to_value(reading.severity).unwrap(), severity.as_str(), "{}", case.name);
        let size = reading.size.value.unwrap();
        let tolerance = case.tolerance.unwrap();
        assert!(close(size, case.size.unwrap(), tolerance), "{}: size {size}", case.name);
        let sum = |side: &[levigate_rules::incompatibility::SideItem]| -> f64 {
            side.iter().map(|item| item.mmol_per_kg.unwrap()).sum()
        };
        if let Some(expected) = case.first_mmol {
            let found = sum(&reading.first);
            assert!(close(found, expected, 0.01), "{}: first {found}", case.name);
        }
        if let Some(expected) = case.second_mmol {
            let found = sum(&reading.second);
            assert!(close(found, expected, 0.01), "{}: second {found}", case.name);
        }
    }
}
