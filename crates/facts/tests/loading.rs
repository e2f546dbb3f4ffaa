//! The loader: shipped data load, errors carry a place, layers override.

use levigate_facts::{Fault, Place, place_of_field, shipped};
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

#[test]
fn part_of_a_text_is_laid_over_with_the_places_of_the_whole() {
    let text = "[product]\nname = \"mine\"\n\n[[substance]]\nkey = \"x\"\nname = 1\n";
    let error =
        shipped().unwrap().overlay_part(("own.toml", text), &["substance"], Layer::Formula).unwrap_err();
    let [fault] = &error.faults[..] else { panic!("{error}") };
    assert_eq!((fault.place().line, fault.place().column), (6, 8));
    assert_eq!(fault.field(), "substance x, name");
    assert!(!fault.what().contains("own.toml"), "{}", fault.what());
}

#[test]
fn a_row_laid_over_that_breaks_a_shipped_one_is_named_itself() {
    let text = "# ours\n[[component]]\nname = \"HCO3-\"\ncharge = -1\nlabel = \"bicarbonate\"\n";
    let error = shipped().unwrap().overlay(&[("own.toml", text)], Layer::Laboratory).unwrap_err();
    assert_eq!((&*error.faults[0].place().file, error.faults[0].place().line), ("own.toml", 2), "{error}");
}

#[test]
fn a_field_is_found_again_in_its_record() {
    let text = "[[material]]\nkey = \"m\"\nconstituents = [\n  { substance = \"µ\", min = 1 },\n]\n[[material]]\ncas = [\"1\"]\n";
    let record = Place { file: "own.toml".into(), line: 1, column: 1 };
    let found = |field: &str| {
        let place = place_of_field(text, &record, field);
        (place.line, place.column)
    };
    assert_eq!(found("constituents"), (3, 1));
    assert_eq!(found("constituents, µ"), (4, 17));
    assert_eq!(found("min"), (4, 22));
    assert_eq!(found("cas"), (1, 1));
    assert_eq!(found(""), (1, 1));
}

#[test]
fn the_code_follows_the_content_and_nothing_else() {
    let shipped = shipped().unwrap();
    let laid = |name: &str, text: &str| {
        let mut facts = shipped.clone();
        facts.overlay(&[(name, text)], Layer::Laboratory).unwrap();
        facts.version()
    };
    let text = "[[substance]]\nkey = \"x\"\nname = \"x\"\n";
    assert_eq!(laid("a.toml", text), laid("b.toml", text));
    assert_ne!(laid("a.toml", text), laid("a.toml", &text.replace('x', "y")));
    assert_ne!(laid("a.toml", text), shipped.version());
    assert_eq!(shipped.code, levigate_facts::SHIPPED_CODE);
    assert!(shipped.code.len() == 12 && shipped.version().ends_with(&format!("+{}", shipped.code)));
}

#[test]
fn the_practice_of_weighing_is_read_from_the_settings() {
    let weighing = shipped().unwrap().weighing;
    assert!(weighing.tolerance.sensitive_percent < weighing.tolerance.other_percent);
    assert!(weighing.tolerance.sensitive_functions.iter().any(|function| function == "preservative"));
    assert!(weighing.strongest_stock_percent > 0.0);
}
