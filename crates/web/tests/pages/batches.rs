//! Batches through the routes: started, filled, undone, signed off; lots picked, traced, judged.

use crate::house::{ENTRY, House, PIXEL};
use base64::Engine as _;
use base64::prelude::BASE64_STANDARD;
use serde_json::{Value, json};

/// A batch as the page starts it.
pub(crate) fn start() -> Value {
    json!({ "id": "018f0000-0000-7000-8000-0000000000aa", "version": 2, "size": "200", "unit": "g", "code": "quill-7",
        "lots": [{ "line": 7, "code": "m-1" }], "balances": [{ "name": "bench", "readability_g": "0.01" }] })
}

/// Line 8 weighed, with the gross weight and the tare.
pub(crate) fn weighed(id: &str, net: &str) -> Value {
    json!({ "id": id, "at": "2026-11-24T09:30:00Z", "did": "weighed", "step": 1, "line": 8, "lot": "M-1", "net": net,
        "unit": "g", "instrument": "bench" })
}

fn id(number: u32) -> String {
    format!("018f0000-0000-7000-8000-{number:012}")
}

async fn started(house: &House) -> String {
    let path = format!("/api/formulas/{}/batches", house.formula);
    let (status, told) = house.post(&path, &start()).await;
    assert_eq!(
        (status, told["code"].as_str(), told["already"].as_bool()),
        (200, Some("QUILL-7"), Some(false)),
        "{told}"
    );
    let (status, again) = house.post(&path, &start()).await;
    assert_eq!((status, again["already"].as_bool()), (200, Some(true)));
    assert_eq!(again["trial"], told["trial"], "sent twice, started once");
    let mut other = start();
    other["size"] = json!("300");
    let (status, refused) = house.post(&path, &other).await;
    assert_eq!((status, refused["place"]["field"].as_str()), (422, Some("id")), "{refused}");
    other["id"] = json!("");
    let (status, refused) = house.post(&path, &other).await;
    assert_eq!((status, refused["place"]["field"].as_str()), (422, Some("code")), "{refused}");
    told["id"].as_str().unwrap().to_owned()
}

fn grams(value: &Value) -> f64 {
    value["value"].as_f64().unwrap_or_else(|| panic!("{value}"))
}

#[tokio::test]
async fn a_batch_makes_its_trial_and_its_plan_is_the_batch_sheet() {
    let house = House::open().await;
    let batch = started(&house).await;
    let state = house.read(&format!("/api/batches/{batch}")).await;
    assert_eq!(state["standing"], "started");
    let lines = state["lines"].as_array().unwrap();
    let total: f64 = lines.iter().map(|line| grams(&line["target"])).sum();
    assert!((total - 200.0).abs() < 1e-9, "{total}");
    assert_eq!(lines[7]["lot"], "m-1");
    assert!(lines.iter().any(|line| line["to_ph"].is_string() && grams(&line["first"]) > 0.0));
    let cautions =
        state["steps"].as_array().unwrap().iter().flat_map(|step| step["cautions"].as_array().unwrap());
    assert!(cautions.filter(|caution| !caution["text"].as_str().unwrap().is_empty()).count() > 0);
    let book = house.read(&format!("/api/formulas/{}/trials", house.formula)).await;
    let trials = book["trials"].as_array().unwrap();
    assert!(trials.iter().any(|trial| trial["id"] == state["trial"]), "the trial is there");
    // Found by its code too, and in the list, the newest first.
    assert_eq!(house.read("/api/batches/QUILL-7").await["id"], state["id"]);
    assert_eq!(house.read("/api/batches?most=1").await[0]["code"], "QUILL-7");
    assert_eq!(house.read("/api/batches").await.as_array().unwrap().len(), 2);
}

#[tokio::test]
async fn an_entry_sent_twice_is_kept_once_and_an_undo_is_undone() {
    let house = House::open().await;
    let batch = started(&house).await;
    let entries = format!("/api/batches/{batch}/entries");
    let state = house.read(&format!("/api/batches/{batch}")).await;
    let target = grams(&state["lines"][7]["target"]);
    let exact = format!("{target:.2}");
    let (status, told) = house.post(&entries, &weighed(&id(11), &exact)).await;
    assert_eq!(
        (status, told["already"].as_bool(), told["line"]["verdict"].as_str()),
        (200, Some(false), Some("within")),
        "{told}"
    );
    let (_, again) = house.post(&entries, &weighed(&id(11), &exact)).await;
    assert_eq!((again["already"].as_bool(), &again["number"]), (Some(true), &told["number"]));
    let (status, taken) = house.post(&entries, &weighed(&id(11), "1")).await;
    assert_eq!((status, taken["place"]["field"].as_str()), (422, Some("id")), "{taken}");
    // An undo of what has not arrived is to be sent again later.
    let undo = format!("/api/batches/{batch}/undo");
    let early = json!({ "id": id(12), "entry": id(99), "reason": "wrong boat" });
    assert_eq!(house.post(&undo, &early).await.0, 404);
    let elsewhere = json!({ "id": id(12), "entry": ENTRY, "reason": "another batch" });
    assert_eq!(house.post(&undo, &elsewhere).await.0, 404);
    let right = json!({ "id": id(12), "entry": id(11), "reason": "wrong boat" });
    for already in [false, true] {
        let (status, told) = house.post(&undo, &right).await;
        assert_eq!((status, told["already"].as_bool()), (200, Some(already)), "{told}");
        assert_eq!(told["line"]["verdict"], "open");
    }
    let (status, told) =
        house.post(&undo, &json!({ "id": id(13), "entry": id(11), "reason": "again" })).await;
    assert_eq!((status, told["code"].as_str()), (422, Some("already-corrected")));
    let (_, told) =
        house.post(&undo, &json!({ "id": id(14), "entry": id(12), "reason": "it was right" })).await;
    assert_eq!(told["line"]["verdict"], "within");
    let corrected = json!({ "entry": id(14), "reason": "misread", "instead": weighed(&id(15), "0.99") });
    let corrections = format!("/api/batches/{batch}/corrections");
    for already in [false, true] {
        let (status, told) = house.post(&corrections, &corrected).await;
        assert_eq!((status, told["already"].as_bool()), (200, Some(already)), "{told}");
        assert_eq!(told["line"]["verdict"], "short");
    }
    // The same entry in the place of another, or for another reason, is not what was kept.
    for (field, other) in [("entry", id(12)), ("reason", "wrong boat".to_owned())] {
        let mut changed = corrected.clone();
        changed[field] = json!(other);
        let (status, told) = house.post(&corrections, &changed).await;
        assert_eq!((status, told["place"]["field"].as_str()), (422, Some("id")), "{told}");
    }
    let state = house.read(&format!("/api/batches/{batch}")).await;
    let kept = state["entries"].as_array().unwrap();
    assert_eq!(kept.len(), 4, "everything stays on record");
    assert_eq!(kept[0]["mass"]["net"]["typed"], exact);
    assert_eq!(kept[0]["struck"]["reason"], "wrong boat");
    assert_eq!(kept[0]["device_time"], "2026-11-24T09:30:00Z");
}

#[tokio::test]
async fn too_much_is_told_with_the_ways_out_and_decided() {
    let house = House::open().await;
    let batch = started(&house).await;
    let entries = format!("/api/batches/{batch}/entries");
    let state = house.read(&format!("/api/batches/{batch}")).await;
    let target = grams(&state["lines"][7]["target"]);
    let (_, told) = house.post(&entries, &weighed(&id(21), &format!("{:.2}", 1.1 * target))).await;
    assert_eq!(told["line"]["verdict"], "over");
    let ways: Vec<&str> =
        told["line"]["ways"].as_array().unwrap().iter().map(|way| way["way"].as_str().unwrap()).collect();
    assert_eq!(ways, ["accept", "rescale", "from_remainder"]);
    let decided =
        json!({ "id": id(22), "at": "2026-11-24T09:31:00Z", "did": "decided", "line": 8, "way": "rescale" });
    let (status, told) = house.post(&entries, &decided).await;
    assert_eq!((status, told["line"]["verdict"].as_str()), (200, Some("within")));
    let state = house.read(&format!("/api/batches/{batch}")).await;
    assert!((grams(&state["size"]) - 220.0).abs() < 1.5, "{}", state["size"]);
    let (_, told) = house.post(&entries, &weighed(&id(23), &format!("{:.2}", 10.0 * target))).await;
    assert_eq!(told["line"]["verdict"], "over");
    let (status, told) =
        house.post(&entries, &json!({ "id": id(24), "did": "decided", "line": 8, "way": "pray" })).await;
    assert_eq!((status, told["place"]["field"].as_str()), (422, Some("way")));
}

#[tokio::test]
async fn a_lot_is_suggested_with_its_target_judged_and_traced() {
    let house = House::open().await;
    for (code, assay, expiry) in [("M-2", "90", "2027-01-31"), ("M-3", "99", "2026-01-31")] {
        let lot = json!({ "material": "mandelic-acid", "code": code, "assay_percent": assay, "expiry": expiry,
            "quantity": "0,5", "quantity_unit": "kg", "location": "shelf 3" });
        assert_eq!(house.post("/api/lots", &lot).await.0, 200);
    }
    let batch = started(&house).await;
    let path = format!("/api/batches/{batch}/lines/8/lots");
    let suggested = house.read(&path).await;
    let codes: Vec<&str> =
        suggested.as_array().unwrap().iter().map(|lot| lot["code"].as_str().unwrap()).collect();
    // M-3 has expired; M-1 has no day on file.
    assert_eq!(codes, ["M-2", "M-1", "M-3"]);
    assert!(suggested[2]["against"][0].as_str().unwrap().contains("Expired"));
    let state = house.read(&format!("/api/batches/{batch}")).await;
    let mandelic = house.draft.phases.iter().flat_map(|phase| &phase.lines).nth(7).unwrap();
    let (planned, active) = (grams(&state["lines"][7]["target"]), mandelic.amount.contains("active"));
    if active {
        // 90 % instead of 99 %: as much more.
        assert!((grams(&suggested[0]["target"]) / planned - 1.1).abs() < 1e-3, "{}", suggested[0]);
    }
    let lot = suggested[0]["id"].as_str().unwrap().to_owned();
    let mut entry = weighed(&id(31), "2.50");
    entry["lot"] = json!("m-2");
    let (status, told) = house.post(&format!("/api/batches/{batch}/entries"), &entry).await;
    assert_eq!(status, 200, "{told}");
    let stock = house.read(&format!("/api/lots/{lot}")).await;
    assert!((grams(&stock["left"]) - 497.5).abs() < 1e-9, "{}", stock["left"]);
    assert_eq!(stock["uses"][0]["code"], "QUILL-7");
    let status = format!("/api/lots/{lot}/status");
    let (refused, told) = house.post(&status, &json!({ "status": "lost", "reason": "x" })).await;
    assert_eq!((refused, told["place"]["field"].as_str()), (422, Some("status")));
    assert_eq!(house.post(&status, &json!({ "status": "rejected", "reason": "wet" })).await.0, 200);
    let moved = json!({ "net": "-10", "reason": "spilled" });
    assert_eq!(house.post(&format!("/api/lots/{lot}/movements"), &moved).await.0, 200);
    let stock = house.read(&format!("/api/lots/{lot}")).await;
    assert!((grams(&stock["left"]) - 487.5).abs() < 1e-9);
    // 500 received, 2.5 weighed, 10 spilled: the ledger says so line by line.
    let ledger = stock["ledger"].as_array().unwrap();
    let line = |at: usize| {
        (ledger[at]["moved"].as_str().unwrap(), grams(&ledger[at]["grams"]), grams(&ledger[at]["left"]))
    };
    assert_eq!(
        [line(0), line(1), line(2)],
        [("received", 500.0, 500.0), ("batch", -2.5, 497.5), ("by-hand", -10.0, 487.5)]
    );
    assert_eq!((ledger.len(), stock["held_in"][0]["code"].as_str()), (3, Some("QUILL-7")));
    assert_eq!(
        (stock["status"].as_str(), stock["against"][0].as_str()),
        (Some("rejected"), Some("It is rejected."))
    );
    let shelf = house.read("/api/lots/shelf").await;
    let on_shelf: Vec<(&str, bool, bool)> = shelf
        .as_array()
        .unwrap()
        .iter()
        .filter(|lot| lot["material"] == "mandelic-acid")
        .map(|lot| {
            (lot["code"].as_str().unwrap(), lot["usable"].as_bool().unwrap(), lot["first"].as_bool().unwrap())
        })
        .collect();
    assert_eq!(on_shelf, [("M-1", true, true), ("M-3", false, false), ("M-2", false, false)]);
    let state = house.read(&format!("/api/batches/{batch}")).await;
    assert_eq!(state["lines"][7]["remarks"][0], "Lot M-2 is rejected.");
    let traced = house.read("/api/trace?lot=m-2&batch=quill-7").await;
    assert_eq!(traced["forward"][0]["uses"][0]["code"], "QUILL-7");
    assert_eq!(traced["back"]["lots"][0]["lot"], "M-2");
    assert_eq!(house.read(&path).await[0]["code"], "M-1", "what is rejected is no longer in front");
}

#[tokio::test]
async fn more_than_there_is_is_asked_about_and_what_is_taken_back_stays() {
    let house = House::open().await;
    let lot = json!({ "material": "mandelic-acid", "code": "M-5", "quantity": "50" });
    let lot = house.post("/api/lots", &lot).await.1["id"].as_str().unwrap().to_owned();
    let movements = format!("/api/lots/{lot}/movements");
    let movement =
        |net: &str, sure: bool| json!({ "id": id(61), "net": net, "reason": "spilled", "sure": sure });
    for (net, what) in [("-50,1", "50.1 g are to be taken, and 50 g are left."), ("0", "Nothing is moved.")] {
        let (status, told) = house.post(&movements, &movement(net, false)).await;
        assert_eq!((status, told["what"].as_str()), (422, Some(what)), "{told}");
    }
    let (status, kept) = house.post(&movements, &movement("-50.1", true)).await;
    assert_eq!(status, 200, "{kept}");
    // Sent again, it is there already and nobody is asked anything.
    assert_eq!(house.post(&movements, &movement("-50.1", true)).await.1["already"], true);
    let back = format!("/api/movements/{}/correction", kept["id"].as_str().unwrap());
    assert_eq!(house.post(&back, &json!({})).await.0, 422, "without a reason");
    assert_eq!(house.post(&back, &json!({ "reason": "another lot" })).await.0, 200);
    let told = house.read(&format!("/api/lots/{lot}")).await;
    assert!((grams(&told["left"]) - 50.0).abs() < 1e-9);
    let line = &told["ledger"][1];
    assert_eq!(
        (line["counts"].as_bool(), line["struck"]["reason"].as_str()),
        (Some(false), Some("another lot"))
    );
    assert_eq!(told["ledger"].as_array().unwrap().len(), 2, "the opposite is told on the line it strikes");
}

#[tokio::test]
async fn a_batch_is_signed_off_and_what_comes_later_says_so() {
    let house = House::open().await;
    let batch = started(&house).await;
    let sign = format!("/api/batches/{batch}/sign-off");
    let (status, told) = house.post(&sign, &json!({})).await;
    assert_eq!((status, told["place"]["field"].as_str()), (422, Some("entry")), "{told}");
    let entries = format!("/api/batches/{batch}/entries");
    let photo =
        json!({ "id": id(41), "did": "photo", "text": "lumps", "photo": BASE64_STANDARD.encode(PIXEL) });
    let (status, told) = house.post(&entries, &photo).await;
    assert_eq!(status, 200, "{told}");
    let seen = house.send(crate::house::get(&format!("/photos/{}", id(41)))).await;
    assert_eq!(seen.status(), 200, "a photo on a batch is served as one");
    assert_eq!(house.post(&sign, &json!({ "who": "Ines", "note": "done" })).await.0, 200);
    let late = json!({ "id": id(42), "did": "note", "text": "a week later" });
    assert_eq!(house.post(&entries, &late).await.0, 200);
    let samples = format!("/api/batches/{batch}/samples");
    let (status, told) = house.post(&samples, &json!({ "net": "30" })).await;
    assert_eq!((status, told["place"]["field"].as_str()), (422, Some("location")));
    assert_eq!(house.post(&samples, &json!({ "net": "30", "location": "shelf 2" })).await.0, 200);
    let state = house.read(&format!("/api/batches/{batch}")).await;
    assert_eq!(state["standing"], "signed_off");
    let signed = &state["sign_offs"][0];
    assert_eq!(signed["others_after"].as_u64(), Some(1), "the sample");
    let reading = json!({ "quantity": "ph", "value": "5.4" });
    let trial = state["trial"].as_str().unwrap();
    let (status, told) = house.post(&format!("/api/trials/{trial}/readings"), &reading).await;
    assert_eq!(status, 200, "{told}");
    let read = house.read(&format!("/api/batches/{batch}")).await;
    assert_eq!(read["sign_offs"][0]["others_after"].as_u64(), Some(2), "the sample and the reading");
    assert_eq!(
        (signed["who"].as_str(), signed["known_by"].as_str()),
        (Some("Ines"), Some("initialled, not authenticated"))
    );
    assert_eq!((signed["records"].as_u64(), signed["entries_after"].as_u64()), (Some(3), Some(1)));
    assert_eq!(state["entries"][1]["after_sign_off"], true);
    assert_eq!(state["samples"][0]["label"], "QUILL-7");
    let next = house.read(&format!("/api/batches/{batch}/next")).await;
    assert_eq!((next["parent"].as_str(), next["size"].as_str()), (state["trial"].as_str(), Some("200.00")));
    let mut next = next;
    next["changed"] = json!("one thing");
    let (status, told) = house.post(&format!("/api/formulas/{}/batches", house.formula), &next).await;
    assert_eq!(status, 200, "{told}");
}

/// Sends it twice and once with other content under the same identity: kept once, the other refused with the field of the identity.
async fn twice(house: &House, path: &str, typed: &Value, other: (&str, &str)) {
    let (status, first) = house.post(path, typed).await;
    assert_eq!((status, first["already"].as_bool()), (200, Some(false)), "{path} {first}");
    let (status, again) = house.post(path, typed).await;
    assert_eq!(
        (status, again["already"].as_bool(), &again["id"]),
        (200, Some(true), &first["id"]),
        "{again}"
    );
    assert_eq!(again["number"], first["number"]);
    let mut changed = typed.clone();
    changed[other.0] = json!(other.1);
    let (status, refused) = house.post(path, &changed).await;
    assert_eq!((status, refused["place"]["field"].as_str()), (422, Some("id")), "{path} {refused}");
    changed["id"] = json!("no identity");
    let (status, refused) = house.post(path, &changed).await;
    assert_eq!((status, refused["place"]["field"].as_str()), (422, Some("id")), "{path} {refused}");
}

#[tokio::test]
async fn whatever_a_device_sends_twice_is_kept_once() {
    let house = House::open().await;
    let batch = started(&house).await;
    let trial = house.read(&format!("/api/batches/{batch}")).await["trial"].as_str().unwrap().to_owned();
    let at = "2026-11-24T09:30:00Z";
    let readings = format!("/api/trials/{trial}/readings");
    let typed = json!({ "id": id(901), "at": at, "quantity": "viscosity", "value": "1250,0", "temperature_c": "25", "age": "24 h",
        "conditions": { "spindle": "disc 30 mm", "speed": "20 rpm" } });
    twice(&house, &readings, &typed, ("value", "1300")).await;
    let observations = format!("/api/trials/{trial}/observations");
    let photo = BASE64_STANDARD.encode(PIXEL);
    let typed = json!({ "id": id(902), "at": at, "text": "a haze", "shows": "a beaker", "photo": photo });
    twice(&house, &observations, &typed, ("text", "clear")).await;
    let samples = format!("/api/batches/{batch}/samples");
    let typed = json!({ "id": id(903), "at": at, "net": "30", "location": "shelf 2" });
    twice(&house, &samples, &typed, ("location", "shelf 3")).await;
    let movements = format!("/api/lots/{}/movements", house.lot);
    let typed = json!({ "id": id(904), "at": at, "net": "-5", "reason": "spilled" });
    twice(&house, &movements, &typed, ("net", "-6")).await;
    let status = format!("/api/lots/{}/status", house.lot);
    let typed =
        json!({ "id": id(905), "at": at, "status": "released", "reason": "certificate looked through" });
    twice(&house, &status, &typed, ("reason", "another")).await;
    let state = house.read(&format!("/api/batches/{batch}")).await;
    assert_eq!(state["readings"].as_array().unwrap().len(), 1);
    assert_eq!(state["samples"].as_array().unwrap().len(), 1);
    let reading = &state["readings"][0];
    assert_eq!(
        (reading["typed"].as_str(), reading["when"].as_str()),
        (Some("1250,0"), Some(at)),
        "{reading}"
    );
    assert_eq!(reading["conditions"]["spindle"], "disc 30 mm");
    let lot = house.read(&format!("/api/lots/{}", house.lot)).await;
    assert_eq!(lot["movements"].as_array().unwrap().len(), 1);
    assert_eq!(lot["decisions"].as_array().unwrap().len(), 1);
    // Without an identity each sending is one more, as before.
    let typed = json!({ "quantity": "ph", "value": "3,80" });
    for _ in 0..2 {
        assert_eq!(house.post(&readings, &typed).await.0, 200);
    }
    assert_eq!(house.read(&format!("/api/batches/{batch}")).await["readings"].as_array().unwrap().len(), 3);
    // The same identity sent to another trial is another reading.
    let typed = json!({ "id": id(901), "at": at, "quantity": "viscosity", "value": "1250,0", "temperature_c": "25", "age": "24 h",
        "conditions": { "spindle": "disc 30 mm", "speed": "20 rpm" } });
    let (code, refused) = house.post(&format!("/api/trials/{}/readings", house.trial), &typed).await;
    assert_eq!((code, refused["place"]["field"].as_str()), (422, Some("id")), "{refused}");
}
