//! No text brings the loader down: it reads it, or names a place in it.

use levigate_facts::{Facts, FactsError, shipped_text};
use levigate_formula::library::Layer;
use proptest::prelude::*;

/// Reads a text as a laboratory's own; an error must point into the text.
fn read(text: &str) -> Result<(), FactsError> {
    let mut facts = Facts::default();
    let result = facts.overlay(&[("own.toml", text)], Layer::Laboratory).map(|_| ());
    if let Err(error) = &result {
        assert!(!error.faults.is_empty());
        for fault in &error.faults {
            let place = fault.place();
            assert_eq!(&*place.file, "own.toml", "{fault}");
            assert!(place.line >= 1 && place.line <= text.lines().count().max(1) + 1, "{fault}");
            assert!(place.column >= 1, "{fault}");
            assert!(!fault.hint().is_empty());
        }
        assert!(!error.to_string().is_empty());
    }
    result
}

/// Real records to damage.
fn sample() -> String {
    [
        "substances/chelants.toml",
        "materials/chelants.toml",
        "equilibria/inorganic.toml",
        "methods/spindles.toml",
        "methods/flow_cups.toml",
        "materials/thickeners.toml",
        "flow/families.toml",
        "flow/thickeners.toml",
        "flow/solvents.toml",
        "flow/life.toml",
        "flow/words.toml",
        "flow/use.toml",
    ]
    .iter()
    .filter_map(|path| shipped_text(path))
    .map(|text| text.chars().take(3000).collect::<String>())
    .collect()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn any_bytes(bytes in proptest::collection::vec(any::<u8>(), 0..400)) {
        let _ = read(&String::from_utf8_lossy(&bytes));
    }

    #[test]
    fn anything_that_looks_like_a_record(
        table in "(substance|material|reaction|component|price|solid|source|spindle|torque_range|flow_cup|thickener|flow_family|cosolvent_viscosity|synergy|life_stage|flow_word|flow_dispense|[a-z]{1,6})",
        fields in proptest::collection::vec(("[a-z_]{1,12}", "(1|-1|1e400|nan|inf|true|\"[a-zé·]{0,5}\"|\\[\\]|\\{\\}|2026-01-01)"), 0..8),
    ) {
        let body: String = fields.iter().map(|(name, value)| format!("{name} = {value}\n")).collect();
        let _ = read(&format!("[[{table}]]\n{body}"));
    }

    #[test]
    fn real_records_with_damage(at in 0.0..1.0f64, length in 0usize..30, junk in "[\\x00-\\x7Fé€]{0,20}") {
        let letters: Vec<char> = sample().chars().collect();
        let start = ((letters.len() as f64) * at) as usize;
        let end = (start + length).min(letters.len());
        let text: String = letters.iter().take(start).copied().chain(junk.chars()).chain(letters.iter().skip(end).copied()).collect();
        let _ = read(&text);
    }
}

#[test]
fn deep_and_long_texts_are_refused_or_read() {
    let deep = format!("[[substance]]\nkey = {}1{}\n", "[".repeat(20_000), "]".repeat(20_000));
    assert!(read(&deep).is_err());
    let tables = format!("[[substance]]\nkey = {}1{}\n", "{a=".repeat(20_000), "}".repeat(20_000));
    assert!(read(&tables).is_err());
    let dotted = format!("[[substance]]\nkey{} = 1\n", ".a".repeat(50_000));
    assert!(read(&dotted).is_err());
    let header = format!("[a{}]\nb = 1\n", ".a".repeat(50_000));
    assert!(read(&header).is_err());
    let long = format!("[[substance]]\nkey = \"{}\"\nname = \"n\"\n", "a".repeat(1_000_000));
    assert!(read(&long).is_ok());
    assert!(read(&"[[substance]]\n".repeat(2000)).is_err());
}

#[test]
fn a_text_in_another_encoding_is_refused_with_its_place() {
    let error = read("[[substance]]\nkey = \"a\"\nname = \"\u{FFFD}\u{0}\"\n").unwrap_err();
    assert_eq!(error.faults[0].place().line, 3);
}
