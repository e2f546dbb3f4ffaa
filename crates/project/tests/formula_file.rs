//! The formula file: what is written is read back, and what is wrong is told with its place.

use levigate_project::formula_file::{self, SCHEMA};
use proptest::prelude::*;

const GOOD: &str = r#"
[product]
name = "Test \"gel\""
type = "gel"
site = "face"
leave_on = true
markets = ["eu"]

[target]
ph = [5.0, 5.50]

[target.pack]
name = "tube"
fill = 1.7
unit = "fl oz US"

[[phase]]
name = "A"

[[phase.line]]
material = "Water"
remainder = true

[[phase.line]]
material = "Glycerin"
percent = 4.00

[[phase]]
name = "B"
[[phase.line]]
material = "Sodium hydroxide 10 %"
to_ph = 5.2
"#;

#[test]
fn what_is_written_is_read_back() {
    let first = formula_file::read("a.toml", GOOD).unwrap();
    let text = formula_file::write(&first.sheet, None).unwrap();
    let second = formula_file::read("b.toml", &text).unwrap();
    assert_eq!(first.sheet, second.sheet);
    assert!(text.contains("percent = 4.00"), "digits stay as typed");
}

fn complaints(text: &str) -> Vec<String> {
    formula_file::read("f.toml", text).err().unwrap_or_default().iter().map(ToString::to_string).collect()
}

#[test]
fn each_mistake_is_told_with_its_place() {
    for (change, to, line, says) in [
        ("percent = 4.00", "percent = \"4,0\"", 26, "without quotes and with a decimal point"),
        ("percent = 4.00", "percnt = 4.00", 24, "give percent"),
        ("percent = 4.00", "percent = 4.00\nto_ph = 5", 27, "one amount"),
        ("ph = [5.0, 5.50]", "ph = [5.5, 5.0]", 10, "lower end first"),
        ("unit = \"fl oz US\"", "unit = \"oz\"", 15, "not a unit of content"),
        ("leave_on = true", "leave_on = \"yes\"", 6, "true or false"),
        ("percent = 4.00", "percent = 4,00", 26, "not TOML"),
        ("percent = 4.00", "percent = nan", 26, "finite"),
    ] {
        let told = complaints(&GOOD.replace(change, to));
        assert!(
            told.iter().any(|text| text.starts_with(&format!("f.toml:{line}:")) && text.contains(says)),
            "{to}: {told:?}"
        );
    }
}

#[test]
fn the_schema_knows_the_same_fields_as_the_reader() {
    let schema: serde_json::Value = serde_json::from_str(SCHEMA).unwrap();
    let line = schema["$defs"]["line"]["properties"].as_object().unwrap();
    for key in line.keys() {
        let value = match key.as_str() {
            "material" => continue,
            "remainder" => "true",
            "lot" | "note" => "\"x\"",
            _ => "5",
        };
        let amount = ["percent", "active_percent", "remainder", "to_ph"].contains(&key.as_str());
        let text = if amount {
            GOOD.replace("percent = 4.00", &format!("{key} = {value}"))
        } else {
            GOOD.replace("percent = 4.00", &format!("percent = 4\n{key} = {value}"))
        };
        formula_file::read("f.toml", &text).unwrap_or_else(|told| panic!("{key}: {told:?}"));
    }
    for (name, heading) in [("product", "[product]"), ("target", "[target]")] {
        for key in schema["properties"][name]["properties"].as_object().unwrap().keys() {
            let told = formula_file::read(
                "f.toml",
                &GOOD.replace(heading, &format!("{heading}\n{key} = 1994-01-01")),
            );
            if let Err(told) = told {
                assert!(told.iter().all(|one| one.code != "unknown-field"), "{key}: {told:?}");
            }
        }
    }
}

proptest! {
    #[test]
    fn any_text_is_answered(text in "\\PC{0,400}") {
        let _ = formula_file::read("any", &text);
    }

    #[test]
    fn any_damage_is_answered(at in 0usize..600, with in "\\PC{0,4}") {
        let mut text = GOOD.to_owned();
        let mut at = at.min(text.len());
        while !text.is_char_boundary(at) { at -= 1; }
        text.insert_str(at, &with);
        if let Err(told) = formula_file::read("any", &text) {
            prop_assert!(!told.is_empty());
            for one in told { prop_assert!(!one.what.is_empty() && !one.what_now.is_empty()); }
        }
    }
}
