//! How sure a batch is and how it goes to the plant: the same numbers as the verbs, and fields that cannot be.

use crate::house::{House, TONER};
use levigate_project::facts::shipped;
use levigate_project::making_file::uncertainty::read;
use levigate_project::workbench::making::scale::scale;
use levigate_project::workbench::making::uncertainty::uncertainty;
use serde_json::{Value, json};

/// A bench and a plant.
pub(crate) const UP: &str = "[bench]\nvessel = \"beaker-250-ml\"\nbatch_g = 200\nspeed_rpm = 600\n\
    [plant]\nvessel = \"vessel-300-l\"\nbatch_kg = 200\njacket = { heat_c = 90, cool_c = 15 }\n\
    [heat]\nto_c = 60\ndown_to_c = 30\n";

/// The verb's answer about a formula text, with a table of its own.
fn verb(formula: &str, table: &str) -> Value {
    let asked = read("asked", table).unwrap();
    let day = jiff::civil::date(2026, 11, 24);
    serde_json::to_value(uncertainty(&shipped().unwrap(), (day, "eu"), ("f", formula), &asked).unwrap())
        .unwrap()
}

/// The same to twelve digits, told by the first place where it is not.
#[track_caller]
fn same(page: &Value, verb: &Value, path: &str) {
    match (page, verb) {
        (Value::Object(page), Value::Object(verb)) => {
            assert_eq!(page.len(), verb.len(), "{path}");
            page.iter().for_each(|(key, value)| same(value, &verb[key], &format!("{path}/{key}")));
        }
        (Value::Array(page), Value::Array(verb)) => {
            assert_eq!(page.len(), verb.len(), "{path}");
            page.iter()
                .zip(verb)
                .enumerate()
                .for_each(|(at, (one, other))| same(one, other, &format!("{path}/{at}")));
        }
        (Value::Number(one), Value::Number(other)) => {
            let (one, other) = (one.as_f64().unwrap(), other.as_f64().unwrap());
            assert!((one - other).abs() <= 1e-12 * other.abs(), "{path}: {one} {other}");
        }
        _ => assert_eq!(page, verb, "{path}"),
    }
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
        same(&page[part], &said[part], part);
    }
    let asked = json!({ "batch_g": "500", "balance_g": "0,001", "repeatability_g": "0.0008", "meter_ph": "0.02", "price_percent": "10" });
    let (status, page) = house.post("/api/sure", &json!({ "draft": draft, "asked": asked })).await;
    assert_eq!(status, 200, "{page}");
    let said = verb(
        formula,
        "[uncertainty]\ndraws = 20000\nbatch_g = 500\nmeter_ph = 0.02\nprice_half_width_percent = 10\n\
         [[uncertainty.balance]]\nreadability_g = 0.001\nrepeatability_g = 0.0008\n",
    );
    same(&page["lines"], &said["lines"], "lines");
    same(&page["results"], &said["results"], "results");
    // Another balance by range, one line kept on the usual one, a certificate.
    let ids: Vec<&str> = page["line_ids"].as_array().unwrap().iter().filter_map(Value::as_str).collect();
    let asked = json!({
        "balances": [{ "name": "fine", "readability_g": "0.0001", "up_to_g": "5" }, {}, { "name": "not typed yet" }],
        "lines": {
            ids[7]: { "balance": "usual", "assay_percent": "99.4", "spread": "0.3", "spread_is": "standard" },
            ids[2]: { "balance": "0" },
            "of a line that is gone": { "balance": "0", "spread": "1" },
        },
    });
    let (status, page) = house.post("/api/sure", &json!({ "draft": draft, "asked": asked })).await;
    assert_eq!(status, 200, "{page}");
    let said = verb(
        formula,
        "[uncertainty]\ndraws = 20000\n[[uncertainty.balance]]\nreadability_g = 0.01\n\
         [[uncertainty.balance]]\nreadability_g = 0.01\nlines = [8]\n\
         [[uncertainty.balance]]\nname = \"fine\"\nreadability_g = 0.0001\nlines = [3]\n\
         [[uncertainty.balance]]\nname = \"fine\"\nreadability_g = 0.0001\nup_to_g = 5\n\
         [[uncertainty.lot]]\nline = 8\nassay_percent = 99.4\nstandard = 0.3\n",
    );
    for part in ["lines", "results", "helps"] {
        same(&page[part], &said[part], part);
    }
    assert!(page["lines"].as_array().unwrap().iter().any(|line| line["balance"] == "fine"));
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
    let (_, page) = house.post("/api/sure", &json!({ "draft": house.draft })).await;
    let id = page["line_ids"][7].as_str().unwrap();
    for (asked, field) in [
        (
            json!({ "balances": [{ "readability_g": "0.1" }, { "readability_g": "-1" }] }),
            "balances.1.readability_g".to_owned(),
        ),
        (json!({ "lines": { id: { "assay_percent": "99" } } }), format!("lines.{id}.spread")),
        (json!({ "lines": { id: { "spread": "400" } } }), format!("lines.{id}.spread")),
    ] {
        let (status, told) = house.post("/api/sure", &json!({ "draft": house.draft, "asked": asked })).await;
        assert_eq!(status, 422, "{told}");
        assert_eq!(told["place"]["field"], field, "{told}");
    }
    let (status, told) = house.post("/api/sure", &json!({ "draft": {} })).await;
    assert_eq!((status, told), (200, Value::Null), "a sheet without lines is new, not wrong");
}

#[tokio::test]
async fn the_page_scales_as_the_verb_does() {
    let house = House::open().await;
    let draft = &house.draft;
    let (_, text) = house.post("/api/toml", &json!({ "draft": draft })).await;
    let (status, page) = house.post("/api/scale", &json!({ "draft": draft, "text": UP })).await;
    assert_eq!(status, 200, "{page}");
    let when = (jiff::civil::date(2026, 11, 24), "eu");
    let formula = Some(("f", text["text"].as_str().unwrap()));
    let verb = scale(&shipped().unwrap(), when, ("q", UP), formula).unwrap();
    let verb: Value = serde_json::from_str(&serde_json::to_string(&verb).unwrap()).unwrap();
    for part in ["steps", "bench", "heating", "vessel_hours", "does_not_scale", "liquid"] {
        assert!(!verb[part].is_null(), "{part}");
        same(&page["found"][part], &verb[part], part);
    }
    assert_eq!(page["found"]["heating"].as_array().unwrap().len(), 2);
    let (_, asked) = house.post("/api/scale", &json!({ "draft": draft })).await;
    let vessels = asked["vessels"].as_array().unwrap();
    assert!(vessels.len() > 5 && asked["found"].is_null());
    assert!(vessels.iter().any(|one| one["key"] == "vessel-300-l" && one["jacketed"] == true));
    assert!(vessels.iter().any(|one| one["key"] == "beaker-250-ml" && one["jacketed"] == false));
    let wrong = UP.replace("batch_kg = 200", "batch_kg = 9000");
    let (status, told) = house.post("/api/scale", &json!({ "draft": draft, "text": wrong })).await;
    assert_eq!(status, 422, "{told}");
    assert!(told["place"]["field"].as_str().unwrap().starts_with("plant"), "{told}");
}
