//! How sure a batch is: the same numbers as the verb, and fields that cannot be.

use crate::house::{House, TONER};
use levigate_project::facts::shipped;
use levigate_project::making_file::uncertainty::read;
use levigate_project::workbench::making::uncertainty::uncertainty;
use serde_json::{Value, json};

/// The verb's answer about a formula text, with a table of its own.
fn verb(formula: &str, table: &str) -> Value {
    let asked = read("asked", table).unwrap();
    let day = jiff::civil::date(2026, 11, 24);
    serde_json::to_value(uncertainty(&shipped().unwrap(), (day, "eu"), ("f", formula), &asked).unwrap())
        .unwrap()
}

#[tokio::test]
async fn the_page_has_the_numbers_of_the_verb() {
    let house = House::open().await;
    // A draft of no formula: no trials speak into it.
    let mut draft = house.draft.clone();
    draft.target.ph_low = "3.6".to_owned();
    let (_, text) = house.post("/api/toml", &json!({ "draft": draft })).await;
    let formula = text["text"].as_str().unwrap();
    let (status, page) = house.post("/api/sure", &json!({ "draft": draft })).await;
    assert_eq!(status, 200, "{page}");
    let said = verb(formula, "[uncertainty]\ndraws = 20000\n");
    for part in ["lines", "results", "helps", "counted", "not_counted"] {
        assert_eq!(page[part], said[part], "{part}");
    }
    let asked = json!({ "batch_g": "500", "balance_g": "0,001", "repeatability_g": "0.0008", "meter_ph": "0.02", "price_percent": "10" });
    let (status, page) = house.post("/api/sure", &json!({ "draft": draft, "asked": asked })).await;
    assert_eq!(status, 200, "{page}");
    let said = verb(
        formula,
        "[uncertainty]\ndraws = 20000\nbatch_g = 500\nmeter_ph = 0.02\nprice_half_width_percent = 10\n\
         [[uncertainty.balance]]\nreadability_g = 0.001\nrepeatability_g = 0.0008\n",
    );
    assert_eq!((&page["lines"], &page["results"]), (&said["lines"], &said["results"]));
    assert_eq!(page["line_ids"].as_array().unwrap().len(), TONER.matches("[[phase.line]]").count());
    assert!(!page["sources"].as_object().unwrap().is_empty());
}

#[tokio::test]
async fn a_field_that_cannot_be_is_told_with_its_name() {
    let house = House::open().await;
    for (field, text) in [
        ("batch_g", "none"),
        ("batch_g", "0"),
        ("balance_g", "-0.01"),
        ("repeatability_g", "1e9"),
        ("meter_ph", "7"),
        ("price_percent", "120"),
    ] {
        let (status, told) =
            house.post("/api/sure", &json!({ "draft": house.draft, "asked": { field: text } })).await;
        assert_eq!(status, 422, "{told}");
        assert_eq!(told["place"]["field"], field, "{told}");
        assert!(!told["what"].as_str().unwrap().is_empty() && !told["what_now"].as_str().unwrap().is_empty());
    }
    let (status, told) = house.post("/api/sure", &json!({ "draft": {} })).await;
    assert_eq!((status, told), (200, Value::Null), "a sheet without lines is new, not wrong");
}
