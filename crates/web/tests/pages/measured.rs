//! Measured flow curves through the routes.

use crate::house::House;
use base64::Engine as _;
use base64::prelude::BASE64_STANDARD;
use serde_json::{Value, json};

/// A table with a decimal comma, a unit that is not written and a row that is no point.
pub(crate) const TABLE: &str =
    "Shear rate [1/s];Viscosity [mPa·s]\n0,1;61000\n1;8200\n10;1250\n100;301\n200;220\n0;0\n";

/// A question as the page sends it.
pub(crate) fn question() -> Value {
    let table = json!({ "sheet": "", "columns": [{ "name": "#2", "meaning": "viscosity", "unit": "mPa s" }], "decimal": "comma",
        "split_sweeps": true, "torque_floor": null });
    json!({ "file": "T7.csv", "text": TABLE,
        "asked": { "model": "", "weights": "log", "shear": [null, 1000.0], "spindle": "", "table": table } })
}

/// A curve to be kept as the page sends it.
pub(crate) fn kept() -> Value {
    json!({ "file": "T7.csv", "text": TABLE, "curve": "", "model": "herschel-bulkley", "temperature_c": "25", "age": "24 h",
        "instrument": "the old one", "geometry": "cone, 2 degrees, 60 mm", "waiting": "1 min", "note": "after the weekend",
        "asked": { "weights": "log", "shear": [0.1, null] } })
}

#[tokio::test]
async fn a_pasted_table_is_understood_and_fitted() {
    let house = House::open().await;
    let (status, told) = house.post("/api/flow/fit", &question()).await;
    assert_eq!(status, 200, "{told}");
    assert_eq!(told["form"]["separator"], "semicolons");
    assert_eq!(told["understood"][1]["meaning"], "viscosity");
    assert_eq!(told["left_out"]["first"][0]["line"], 7);
    let curve = &told["curves"][0];
    let points = curve["points"].as_array().unwrap();
    assert!((points[0]["stress"].as_f64().unwrap() - 6.1).abs() < 1e-12, "{}", points[0]);
    let models = curve["models"].as_array().unwrap();
    assert!(models.len() > 5);
    for model in models {
        assert_eq!(model["residuals"].as_array().unwrap().len(), points.len());
        assert_eq!(model["fitted_stress"].as_array().unwrap().len(), points.len());
        for parameter in model["parameters"].as_array().unwrap() {
            for key in ["symbol", "words", "value", "unit", "low", "high", "standard_error", "not_settled"] {
                assert!(parameter.get(key).is_some(), "{key}: {parameter}");
            }
        }
    }
    assert!(curve["taken"]["why"].as_str().unwrap().len() > 10);
    let bytes: Vec<u8> = TABLE.encode_utf16().flat_map(u16::to_le_bytes).collect();
    let sent = json!({ "file": "T7.txt", "bytes": BASE64_STANDARD.encode([&[0xFF, 0xFE], bytes.as_slice()].concat()) });
    let (status, same) = house.post("/api/flow/fit", &sent).await;
    assert_eq!(status, 200, "{same}");
    assert_eq!(same["curves"][0]["points"], curve["points"]);
}

#[tokio::test]
async fn what_is_no_table_is_told_with_what_to_do() {
    let house = House::open().await;
    for (body, words) in [
        (json!({ "text": "" }), "nothing"),
        (json!({ "text": "a,b\n1,2\n3,4" }), "\"a\", \"b\""),
        (json!({ "bytes": "not base 64!" }), "whole"),
        (json!({ "text": TABLE, "asked": { "model": "none of them" } }), "none of them"),
        (json!({ "text": TABLE, "asked": { "shear": [500.0, null] } }), "0 different shear rates"),
    ] {
        let (status, told) = house.post("/api/flow/fit", &body).await;
        assert_eq!(status, 422, "{told}");
        assert!(told["what"].as_str().unwrap().contains(words), "{told}");
        assert!(told["place"].is_object() && !told["what_now"].as_str().unwrap().is_empty(), "{told}");
    }
}

#[tokio::test]
async fn a_curve_is_kept_as_it_stood_fitted_anew_and_struck() {
    let house = House::open().await;
    let path = format!("/api/trials/{}/curves", house.trial);
    let (status, entered) = house.post(&path, &kept()).await;
    assert_eq!(status, 200, "{entered}");
    let id = entered["id"].as_str().unwrap();
    let trials = format!("/api/formulas/{}/trials", house.formula);
    let book = house.read(&trials).await;
    let curve = &book["trials"][0]["curves"][0];
    assert_eq!(curve["points"][0]["typed"], json!(["0,1", "61000"]));
    assert_eq!((curve["file"].as_str(), curve["sha256"].as_str().unwrap().len()), (Some("T7.csv"), 64));
    assert_eq!(curve["columns"][1]["unit"], "mPa s");
    assert_eq!(curve["fit"]["model"], "herschel-bulkley");
    assert_eq!(curve["fit"]["shear_rate_1_s"], json!(["0.1", null]));
    assert_eq!(curve["temperature_c"]["typed"], "25");
    let fit = house.read(&format!("/api/curves/{id}/fit")).await;
    assert_eq!(fit["models"].as_array().unwrap().len(), 1);
    let (_, fresh) = house
        .post("/api/flow/fit", &json!({ "text": TABLE, "asked": { "model": "herschel-bulkley" } }))
        .await;
    assert_eq!(fit["models"][0]["parameters"], fresh["curves"][0]["models"][0]["parameters"]);

    let correction = format!("/api/curves/{id}/correction");
    let (status, told) = house.post(&correction, &json!({ "reason": "" })).await;
    assert_eq!((status, told["place"]["field"].as_str()), (422, Some("reason")));
    let (status, told) =
        house.post(&correction, &json!({ "reason": "wrong beaker", "instead": kept() })).await;
    assert_eq!(status, 200, "{told}");
    let book = house.read(&trials).await;
    let curves = &book["trials"][0]["curves"];
    assert_eq!(curves[0]["struck"]["reason"], "wrong beaker");
    assert_eq!((curves[0]["points"].as_array().unwrap().len(), curves[1]["corrects"].as_u64()), (5, Some(1)));
    let (status, told) = house.post(&correction, &json!({ "reason": "again" })).await;
    assert_eq!((status, told["code"].as_str()), (422, Some("already-corrected")));
}

#[tokio::test]
async fn which_of_several_curves_is_kept_is_said() {
    let house = House::open().await;
    let path = format!("/api/trials/{}/curves", house.trial);
    let text = "sample,shear rate [1/s],stress [Pa]\nA,1,2\nA,2,3\nB,1,4\nB,2,5\n";
    let (status, told) = house.post(&path, &json!({ "text": text })).await;
    assert_eq!((status, told["place"]["field"].as_str()), (422, Some("curve")), "{told}");
    assert_eq!(house.post(&path, &json!({ "text": text, "curve": "B" })).await.0, 200);
}

/// Exactly 8 + 5 g^0.5 Pa: by hand 13 at 1, 18 at 4, 23 at 9, 33 at 25, 58 at 100 1/s.
const GEL: &str = "shear rate [1/s];shear stress [Pa]\n1;13\n4;18\n9;23\n16;28\n25;33\n49;43\n100;58\n";

#[tokio::test]
async fn the_page_of_a_measurement_draws_what_was_read() {
    let house = House::open().await;
    let (status, told) = house.post("/api/measurement", &json!({ "text": GEL })).await;
    assert_eq!(status, 200, "{told}");
    let curve = &told["curve"];
    assert_eq!(
        (&curve["taken"]["model"], &curve["shown"]["model"]),
        (&json!("herschel-bulkley"), &json!("herschel-bulkley"))
    );
    let parameter = |at: usize| curve["shown"]["parameters"][at]["estimate"]["value"].as_f64().unwrap();
    for (at, expected) in [8.0, 5.0, 0.5].into_iter().enumerate() {
        assert!((parameter(at) / expected - 1.0).abs() < 1e-4, "{} instead of {expected}", parameter(at));
    }
    let plates: Vec<&Value> = told["plates"].as_array().unwrap().iter().collect();
    assert_eq!((plates.len(), &plates[0]["id"], &plates[1]["id"]), (2, &json!("flow"), &json!("residuals")));
    // Another model, and only the part of one figure that is looked at.
    let looks = json!({ "flow": { "upright": "stress", "across": [2, 50] } });
    let question = json!({ "text": GEL, "model": "power-law", "only": "flow", "looks": looks });
    let (_, told) = house.post("/api/measurement", &question).await;
    assert_eq!(told["curve"]["shown"]["model"], "power-law");
    assert_eq!(told["plates"].as_array().unwrap().len(), 1);
    assert!(told["plates"][0]["svg"].as_str().unwrap().contains("data-x-low=\"2\" data-x-high=\"50\""));
}

#[tokio::test]
async fn what_is_wrong_with_a_measurement_is_told_in_the_answer() {
    let house = House::open().await;
    for text in ["", "no numbers here", "a;b\n1;2\n", "shear rate [1/s];stress [Pa]\n1;13\n"] {
        let (status, told) = house.post("/api/measurement", &json!({ "text": text })).await;
        assert_eq!(status, 200, "{told}");
        let trouble = &told["troubles"][0];
        assert!(
            !trouble["what"].as_str().unwrap().is_empty()
                && !trouble["what_now"].as_str().unwrap().is_empty()
        );
    }
}

#[tokio::test]
async fn a_draft_is_asked_how_it_is_in_use() {
    let house = House::open().await;
    let draft = json!({ "product": { "name": "Thin" }, "phases": [{ "id": "p", "name": "A", "lines": [
        { "id": "a", "material": "Water", "kind": "remainder" }, { "id": "b", "material": "Glycerin", "kind": "percent", "amount": "5" }] }] });
    let ask = |dose: f64| json!({ "draft": draft, "sizes": { "dose_ml": dose, "angle_deg": 4000, "none-such": 1 } });
    let (status, told) = house.post("/api/in-use", &ask(0.5)).await;
    assert_eq!(status, 200, "{told}");
    let size = |told: &Value, name: &str| {
        told["sizes"].as_array().unwrap().iter().find(|size| size["name"] == name).unwrap()["value"]
            .as_f64()
            .unwrap()
    };
    assert_eq!(
        (size(&told, "dose_ml"), size(&told, "angle_deg")),
        (0.5, 45.0),
        "a tilt that cannot be is not taken"
    );
    let run = |told: &Value| told["answers"]["drain"]["run"]["value"].as_f64().unwrap();
    let (_, more) = house.post("/api/in-use", &ask(2.0)).await;
    assert!(run(&more) > run(&told), "more of it runs farther");
}
