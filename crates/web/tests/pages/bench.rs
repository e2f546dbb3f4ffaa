//! Trials, readings, observations, photos and lots through the routes.

use crate::house::{House, PIXEL, get, text};
use base64::Engine as _;
use base64::prelude::BASE64_STANDARD;
use http_body_util::BodyExt;
use serde_json::json;

#[tokio::test]
async fn a_reading_is_kept_as_typed_and_stands_beside_its_prediction() {
    let house = House::open().await;
    let book = house.read(&format!("/api/formulas/{}/trials", house.formula)).await;
    let trial = &book["trials"][0];
    assert_eq!((trial["number"].as_u64(), trial["version"].as_u64()), (Some(1), Some(2)));
    assert!(trial["prediction"]["ph"]["value"].is_number());
    assert_eq!(trial["readings"][0]["typed"], "3,83");
    assert_eq!(trial["readings"][0]["beside"]["stands"], "unlike", "no temperature was noted");
    let path = format!("/api/trials/{}/readings", house.trial);
    let (status, told) = house.post(&path, &json!({ "quantity": "ph", "value": "383" })).await;
    assert_eq!((status, told["place"]["field"].as_str()), (422, Some("value")));
    let (status, _) =
        house.post(&path, &json!({ "quantity": "ph", "value": "3.8", "temperature_c": "25" })).await;
    assert_eq!(status, 200);
    let book = house.read(&format!("/api/formulas/{}/trials", house.formula)).await;
    assert_eq!(book["trials"][0]["readings"][1]["beside"]["stands"], "inside");
}

#[tokio::test]
async fn a_correction_strikes_out_once_and_leaves_what_was() {
    let house = House::open().await;
    let path = format!("/api/readings/{}/correction", house.reading);
    let instead = json!({ "quantity": "ph", "value": "3.88" });
    let (status, told) = house.post(&path, &json!({ "reason": " ", "instead": instead })).await;
    assert_eq!((status, told["place"]["field"].as_str()), (422, Some("reason")));
    assert_eq!(house.post(&path, &json!({ "reason": "misread", "instead": instead })).await.0, 200);
    let (status, told) = house.post(&path, &json!({ "reason": "again", "instead": instead })).await;
    assert_eq!((status, told["code"].as_str()), (422, Some("already-corrected")));
    let path = format!("/api/observations/{}/correction", house.observation);
    assert_eq!(house.post(&path, &json!({ "reason": "wrong beaker" })).await.0, 200);
    let book = house.read(&format!("/api/formulas/{}/trials", house.formula)).await;
    let readings = &book["trials"][0]["readings"];
    assert_eq!(readings[0]["typed"], "3,83");
    assert_eq!(readings[0]["struck"]["reason"], "misread");
    assert_eq!(readings[1]["corrects"], 1);
    let seen = &book["trials"][0]["observations"];
    assert_eq!(seen[0]["text"], "clear");
    assert!(seen[1]["withdrawn"].as_bool().unwrap() && seen[1]["photo"].is_null(), "{seen}");
}

#[tokio::test]
async fn a_photo_is_served_as_what_it_is_and_as_nothing_else() {
    let house = House::open().await;
    let response = house.send(get(&format!("/photos/{}", house.observation))).await;
    assert_eq!(response.status(), 200);
    let headers = response.headers().clone();
    assert_eq!(headers["content-type"], "image/png");
    assert_eq!(headers["x-content-type-options"], "nosniff");
    assert!(headers["content-security-policy"].to_str().unwrap().contains("sandbox"));
    assert!(headers["content-disposition"].to_str().unwrap().ends_with(".png\""));
    assert_eq!(response.into_body().collect().await.unwrap().to_bytes(), PIXEL);
    for id in [house.trial.as_str(), "none", "00000000-0000-0000-0000-000000000000"] {
        let response = house.send(get(&format!("/photos/{id}"))).await;
        assert_eq!(response.status(), 404, "{id}");
        assert!(
            response.headers()["content-security-policy"].to_str().unwrap().contains("script-src 'self'")
        );
    }
}

#[tokio::test]
async fn what_is_no_photo_is_refused_and_nothing_is_kept() {
    let house = House::open().await;
    let path = format!("/api/trials/{}/observations", house.trial);
    let strangers: [&[u8]; 4] =
        [b"<svg xmlns='http://www.w3.org/2000/svg'/>", b"<!doctype html>", b"GIF89a", &PIXEL[..40]];
    for bytes in strangers {
        let body = json!({ "text": "seen", "photo": BASE64_STANDARD.encode(bytes) });
        let (status, told) = house.post(&path, &body).await;
        assert_eq!((status, told["place"]["field"].as_str()), (422, Some("photo")), "{told}");
    }
    let large = BASE64_STANDARD.encode(vec![0x89_u8; 8 * 1024 * 1024 + 1]);
    let (status, told) = house.post(&path, &json!({ "text": "seen", "photo": large })).await;
    assert_eq!(status, 422, "{told}");
    let larger = "A".repeat(12 * 1024 * 1024);
    assert_eq!(house.post(&path, &json!({ "text": "seen", "photo": larger })).await.0, 413);
    let (status, told) = house.post(&path, &json!({ "photo": BASE64_STANDARD.encode(PIXEL) })).await;
    assert_eq!((status, told["place"]["field"].as_str()), (422, Some("shows")), "a photo needs words");
    let book = house.read(&format!("/api/formulas/{}/trials", house.formula)).await;
    assert_eq!(book["trials"][0]["observations"].as_array().unwrap().len(), 1);
}

#[tokio::test]
async fn the_batch_sheet_is_laid_out_for_the_paper_asked_for() {
    let house = House::open().await;
    let pdf = |paper: &str| format!("/formulas/{}/batch-sheet.pdf?paper={paper}", house.formula);
    let mut sheets = Vec::new();
    for paper in ["", "a4", "letter"] {
        let response = house.send(get(&pdf(paper))).await;
        assert_eq!(response.status(), 200, "{paper}");
        sheets.push(response.into_body().collect().await.unwrap().to_bytes());
    }
    assert!(sheets[0] == sheets[1] && sheets[1] != sheets[2]);
    assert_eq!(house.send(get(&pdf("folio"))).await.status(), 422);
}

#[tokio::test]
async fn a_trial_is_copied_with_its_lots_and_says_what_differs() {
    let house = House::open().await;
    let path = format!("/api/formulas/{}/trials", house.formula);
    let (status, told) = house.post(&path, &json!({ "version": 9 })).await;
    assert_eq!(status, 404, "{told}");
    let (status, told) = house.post(&path, &json!({ "version": 2, "size": "-3", "unit": "lb" })).await;
    assert_eq!((status, told["place"]["field"].as_str()), (422, Some("unit")));
    let other = json!({ "version": 2, "lots": [{ "line": 99, "code": "X" }] });
    assert_eq!(house.post(&path, &other).await.1["place"]["field"], "lots");
    let copy = json!({ "version": 1, "parent": house.trial, "size": "0,4", "unit": "kg", "changed": "wider",
        "lots": [{ "line": 7, "code": "m-1" }, { "line": 0, "code": " " }] });
    let (status, kept) = house.post(&path, &copy).await;
    assert_eq!((status, kept["number"].as_u64()), (200, Some(3)), "{kept}");
    let trial = house.read(&path).await["trials"][2].clone();
    assert_eq!(trial["parent"], 1);
    assert_eq!(trial["lines"][7]["lot_assay"], "99", "{}", trial["lines"][7]);
    let differs: Vec<&str> =
        trial["changes"].as_array().unwrap().iter().filter_map(|one| one["what"].as_str()).collect();
    assert!(differs.contains(&"batch size") && differs.contains(&"lot of Mandelic acid"), "{differs:?}");
    let page = text(house.send(get(&format!("/formulas/{}/trials", house.formula))).await).await;
    assert!(page.contains("Trials"));
    assert!(text(house.send(get("/formulas")).await).await.contains("3 trials"));
}

#[tokio::test]
async fn a_lot_is_found_by_any_name_of_its_material_and_its_code_is_its_own() {
    let house = House::open().await;
    let lots = house.read("/api/lots?material=Mandelic%20Acid").await;
    assert_eq!(lots[0]["code"], "M-1");
    assert_eq!(lots[0]["assay_percent"]["value"], "99");
    assert!(house.read("/api/lots?material=water").await.as_array().unwrap().is_empty());
    let twice = json!({ "material": "mandelic-acid", "code": "m-1" });
    let (status, told) = house.post("/api/lots", &twice).await;
    assert_eq!((status, told["place"]["field"].as_str()), (422, Some("code")));
    let path = format!("/api/lots/{}/correction", house.lot);
    let instead = json!({ "material": "mandelic-acid", "code": "M-1", "assay_percent": "98,6", "expiry": "2026-01-31" });
    assert_eq!(house.post(&path, &json!({ "reason": "read from the wrong certificate" })).await.0, 422);
    let (status, _) =
        house.post(&path, &json!({ "reason": "read from the wrong certificate", "instead": instead })).await;
    assert_eq!(status, 200);
    let lots = house.read("/api/lots?material=mandelic-acid").await;
    let lots = lots.as_array().unwrap();
    let stands = lots.iter().find(|lot| lot["struck"].is_null()).unwrap();
    assert_eq!(stands["assay_percent"]["typed"], "98,6");
    assert_eq!(stands["dates"], "Expired on 2026-01-31.");
    assert_eq!(lots.len(), 2);
}
