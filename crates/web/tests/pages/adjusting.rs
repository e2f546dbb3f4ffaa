//! The pH at the bench through the routes.

use crate::house::House;
use serde_json::json;

/// Buffers that were read.
pub(crate) const BUFFERS: &str = "[calibration]\ntemperature_c = 25\npoints = [{ buffer = \"standard-phthalate\", mv = 174.3 },\n\
    { buffer = \"standard-phosphate\", mv = 6.8 }]\n";

/// A batch at the beaker.
pub(crate) const BEAKER: &str = "[product]\nname = \"Toner\"\ntype = \"toner\"\nsite = \"face\"\nleave_on = true\n[batch]\nsize_g = 250\n\
    balance_g = 0.01\n[[phase]]\nname = \"A\"\n[[phase.line]]\nmaterial = \"Water\"\nremainder = true\n[[phase.line]]\n\
    material = \"Glycolic acid 70 %\"\npercent = 10\n[[phase.line]]\nmaterial = \"Sodium hydroxide 20 %\"\nto_ph = 3.8\n[adjust]\n\
    with = \"Sodium hydroxide 20 %\"\nwindow = [3.7, 3.9]\n[[bench]]\nph = 1.75\n[[bench]]\nadd_g = 20\n[[bench]]\n\
    trace = [[0, 3.70], [10, 3.64], [20, 3.62], [30, 3.61], [40, 3.61], [50, 3.61]]\n";

#[tokio::test]
async fn a_batch_at_the_beaker_gets_its_next_addition() {
    let house = House::open().await;
    let (status, told) = house.post("/api/adjust", &json!({ "text": BEAKER })).await;
    assert_eq!(status, 200, "{told}");
    assert_eq!(told["next"], "add");
    assert!(told["add"]["value"].as_f64().unwrap() > 0.0);
    let (status, told) = house.post("/api/calibrate", &json!({ "text": BUFFERS })).await;
    assert_eq!(status, 200, "{told}");
    assert!((told["slope_percent"]["value"].as_f64().unwrap() - 99.2).abs() < 1.0, "{told}");
}

#[tokio::test]
async fn what_is_wrong_is_told_with_its_line() {
    let house = House::open().await;
    let wrong = BEAKER.replace("add_g = 20", "add_g = \"20\"");
    let (status, told) = house.post("/api/adjust", &json!({ "text": wrong })).await;
    assert_eq!(status, 422, "{told}");
    assert_eq!(told["place"]["line"], 26, "{told}");
    let (status, told) = house.post("/api/adjust", &json!({ "text": "x".repeat(600_000) })).await;
    assert_eq!((status, told["code"].as_str()), (422, Some("too-long")), "{told}");
}
