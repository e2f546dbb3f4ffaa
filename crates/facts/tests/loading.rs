//! The loader: shipped data load, errors carry a place, layers override.

use levigate_facts::{Fault, shipped};
use levigate_formula::library::Layer;

#[test]
fn shipped_data_load() {
    let facts = shipped().unwrap();
    assert!(facts.library.substances.contains_key("water"));
    assert!(facts.overrides.is_empty());
}

#[test]
fn a_bad_record_is_named_with_line_column_key_and_field() {
    let text = "[[substance]]\nkey = \"good\"\nname = \"good\"\n\n[[substance]]\nkey = \"bad\"\nname = \"bad\"\nlog_p = { value = \"two\", source = \"from-memory\" }\n\n[[substance]]\nkey = \"worse\"\nname = \"worse\"\ncolour = \"red\"\n";
    let error = shipped().unwrap().overlay(&[("own.toml", text)], Layer::Laboratory).unwrap_err();
    assert_eq!(error.faults.len(), 2, "{error}");
    let Fault::Record { place, table, key, field, .. } = &error.faults[0] else { panic!("{error}") };
    assert_eq!(
        (place.line, table.as_str(), key.as_deref(), field.as_deref()),
        (8, "substance", Some("bad"), Some("value"))
    );
    let Fault::Record { place, key, field, message, .. } = &error.faults[1] else { panic!("{error}") };
    assert_eq!(
        (place.line, place.column, key.as_deref(), field.as_deref()),
        (13, 1, Some("worse"), Some("colour"))
    );
    assert!(message.contains("unknown field"), "{message}");
}

#[test]
fn a_later_layer_replaces_and_says_so() {
    let mut facts = shipped().unwrap();
    let text = "[[substance]]\nkey = \"water\"\nname = \"our water\"\nin_water = { kind = \"water\" }\n";
    let replaced = facts.overlay(&[("own.toml", text)], Layer::Workspace).unwrap();
    assert_eq!(replaced.len(), 1);
    assert_eq!(
        (replaced[0].key.as_str(), replaced[0].replaced, replaced[0].place.line),
        ("water", Layer::Shipped, 1)
    );
    assert_eq!(facts.library.substances["water"].layer, Layer::Workspace);
    assert_eq!(facts.overrides, replaced);
}

#[test]
fn the_same_key_twice_in_one_layer_is_refused_and_nothing_changes() {
    let mut facts = shipped().unwrap();
    let text = "[[substance]]\nkey = \"x\"\nname = \"x\"\n";
    let error = facts.overlay(&[("a.toml", text), ("b.toml", text)], Layer::Laboratory).unwrap_err();
    assert!(
        matches!(&error.faults[..], [Fault::Duplicate { first, place, .. }] if &*first.file == "a.toml" && &*place.file == "b.toml")
    );
    assert!(!facts.library.substances.contains_key("x"));
}

#[test]
fn unknown_tables_stray_values_and_broken_toml_are_refused() {
    let mut facts = shipped().unwrap();
    for (text, line) in
        [("[[subtsance]]\nkey = 1\n", 1), ("\nversion = 3\n", 2), ("[[substance]]\nkey = \n", 2)]
    {
        let error = facts.overlay(&[("own.toml", text)], Layer::Laboratory).unwrap_err();
        assert_eq!(error.faults[0].place().line, line, "{error}");
        assert!(!error.faults[0].hint().is_empty());
    }
}
