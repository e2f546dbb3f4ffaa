//! What nobody should send: arbitrary bytes, addresses and numbers get an answer a person can act on, and nothing falls over.

use crate::house::{HOST, House, text};
use axum::body::Body;
use axum::http::{Request, StatusCode};
use levigate_evidence::damage::damaged;
use levigate_web::desk::{OwnConstituent, OwnMaterial};
use proptest::prelude::*;
use serde_json::json;
use tokio::sync::OnceCell;

/// One house for all cases: opening one reads all facts.
async fn house() -> &'static House {
    static HOUSE: OnceCell<House> = OnceCell::const_new();
    HOUSE.get_or_init(House::open).await
}

fn run<T>(future: impl Future<Output = T>) -> T {
    tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap().block_on(future)
}

/// Bodies as the page sends them, by the end of their route, one field a line.
fn sound_bodies(house: &House) -> Vec<(&'static str, String)> {
    let constituent = |substance: &str, percent: &str| OwnConstituent {
        substance: substance.to_owned(),
        min: percent.to_owned(),
        typical: percent.to_owned(),
        max: percent.to_owned(),
    };
    let material = OwnMaterial {
        name: "House lye".to_owned(),
        form: "solution".to_owned(),
        functions: "base".to_owned(),
        constituents: vec![constituent("sodium-hydroxide", "10"), constituent("water", "90")],
        ..OwnMaterial::default()
    };
    let draft = &house.draft;
    let table = |what: &str| {
        json!({
            "file": "list.csv",
            "text": "Raw material;Lot;%;Received\nGlycerin 99.5 %;G-1;5;03/04/2026\nSomething else;S-1;q.s.;\n",
            "asked": { "what": what, "head": 1, "days": "day-first", "columns": [{ "column": "#3", "field": "unused" }],
                "picks": { "Something else": "water" }, "changed": [{ "line": 2, "column": 2, "text": "G-2" }], "leave_out": [3] },
        })
    };
    let bodies = [
        ("assess", json!({ "draft": draft })),
        (
            "figures",
            json!({ "draft": draft, "looks": { "flow": { "upright": "stress", "across": [1, 100] } } }),
        ),
        ("in-use", json!({ "draft": draft, "sizes": { "dose_ml": 0.5 } })),
        ("level", json!({ "draft": draft, "line": "none", "mpa_s": 6000.0 })),
        ("procedure", json!({ "draft": draft })),
        ("scale", json!({ "draft": draft, "text": crate::sure::UP })),
        ("sure", json!({ "draft": draft, "asked": { "batch_g": "300", "balance_g": "0.01" } })),
        ("measurement", crate::measured::question()),
        ("toml", json!({ "draft": draft })),
        ("materials", json!(material)),
        ("formulas", json!({ "draft": draft, "reason": "begun" })),
        ("import", json!({ "text": crate::house::TONER })),
        ("versions", json!({ "draft": draft, "reason": "tried", "base": 2 })),
        ("draft", json!({ "draft": draft, "base": 2 })),
        ("adjust", json!({ "text": crate::adjusting::BEAKER })),
        ("calibrate", json!({ "text": crate::adjusting::BUFFERS })),
        ("fit", crate::measured::question()),
        ("curves", crate::measured::kept()),
        ("batches", crate::batches::start()),
        ("entries", crate::batches::weighed("018f0000-0000-7000-8000-000000000002", "9.98")),
        (
            "undo",
            json!({ "id": "018f0000-0000-7000-8000-000000000003", "entry": crate::house::ENTRY, "reason": "wrong" }),
        ),
        ("sign-off", json!({ "signed_as": "made", "note": "done" })),
        ("samples", json!({ "net": "30", "location": "shelf 2", "until": "2028-01-31" })),
        ("status", json!({ "status": "released", "reason": "certificate seen" })),
        ("movements", json!({ "net": "-12,5", "unit": "g", "reason": "spilled" })),
        ("preview", table("formula")),
        ("bring-in", table("lot")),
    ];
    bodies.map(|(route, body)| (route, serde_json::to_string_pretty(&body).unwrap())).to_vec()
}

/// A body with damage and the end of its route.
fn damaged_bodies() -> impl Strategy<Value = (&'static str, String)> {
    let bodies = run(async { sound_bodies(house().await) });
    (0..bodies.len()).prop_flat_map(move |at| {
        let (route, body) = bodies[at].clone();
        damaged(vec![body]).prop_map(move |body| (route, body))
    })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 96, max_shrink_iters: 60, ..ProptestConfig::default() })]

    #[test]
    fn damaged_bodies_get_an_answer_or_a_refusal_with_a_place((route, body) in damaged_bodies()) {
        run(async {
            let house = house().await;
            let (method, path) = house.bodies().into_iter().find(|(_, path)| path.ends_with(&format!("/{route}"))).unwrap();
            let response = house.send(house.with_body(method, &path, body.into_bytes())).await;
            let status = response.status();
            let said = text(response).await;
            assert!(!status.is_server_error(), "{path} {status}: {said}");
            if status.is_client_error() {
                let told: serde_json::Value = serde_json::from_str(&said).unwrap();
                assert!(told["place"].is_object(), "{path}: {told}");
            }
        });
    }

    #[test]
    fn a_damaged_formula_file_is_read_or_refused(formula in damaged(vec![crate::house::TONER.to_owned()])) {
        run(async {
            let (status, told) = house().await.post("/api/formulas/import", &json!({ "text": formula })).await;
            assert!(matches!(status, 200 | 422), "{status}: {told}");
        });
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn arbitrary_bytes_get_an_answer_with_a_place(bytes in proptest::collection::vec(any::<u8>(), 0..400)) {
        run(async {
            let house = house().await;
            for (method, path) in house.bodies() {
                let response = house.send(house.with_body(method, &path, bytes.clone())).await;
                let status = response.status();
                assert!(!status.is_server_error(), "{method} {path}: {status}");
                if status.is_client_error() {
                    let told: serde_json::Value = serde_json::from_str(&text(response).await).unwrap();
                    assert!(told["place"].is_object(), "{method} {path}: {told}");
                }
            }
        });
    }

    #[test]
    fn arbitrary_addresses_get_an_answer(tail in "[ -~]{0,40}") {
        run(async {
            let house = house().await;
            let tail: String = tail.chars().filter(|letter| !" \"<>\\^`{|}#".contains(*letter)).collect();
            let formula = &house.formula;
            let starts = ["/", "/login?to=", "/pairing/", "/people/", "/api/", "/api/formulas/", "/formulas/", "/materials/", "/static/", "/photos/", "/api/lots?material=", "/api/materials?words=", "/api/batches/", "/api/batches?most=", "/api/lots/", "/api/trace?lot=", "/api/trace?batch="].map(str::to_owned);
            let more = [format!("/formulas/{formula}?version="), format!("/formulas/{formula}/trials?"), format!("/api/formulas/{formula}/difference?left=")];
            for start in starts.into_iter().chain(more) {
                let Ok(request) = Request::get(format!("{start}{tail}")).header("host", HOST).body(Body::empty()) else { continue };
                let status = house.send(request).await.status();
                assert!(!status.is_server_error(), "{start}{tail}: {status}");
            }
        });
    }

    #[test]
    fn arbitrary_amounts_are_told_in_their_field(amount in "\\PC{0,12}", material in "\\PC{0,12}") {
        run(async {
            let house = house().await;
            let body = serde_json::json!({ "draft": { "phases": [{ "id": "a", "lines": [{ "id": "x", "material": material, "amount": amount }] }] } });
            let response = house.send(house.with_body("POST", "/api/assess", body.to_string().into_bytes())).await;
            assert_eq!(response.status(), StatusCode::OK);
        });
    }

    #[test]
    fn arbitrary_words_on_the_bench_are_kept_or_told_in_their_field(words in "\\PC{0,30}", more in "\\PC{0,30}", number in any::<u32>()) {
        run(async {
            let house = house().await;
            let bodies = serde_json::json!({
                "trials": { "version": number, "parent": words, "size": more, "unit": words, "made": more, "lots": [{ "line": number, "code": words }] },
                "readings": { "quantity": words, "value": more, "method": words, "temperature_c": more, "age": words, "conditions": { "speed": more } },
                "observations": { "text": words, "shows": more, "photo": words },
                "correction": { "reason": words, "instead": { "text": more, "quantity": words, "value": more, "material": words, "code": more } },
                "fit": { "file": words, "text": more, "bytes": words, "asked": { "model": more, "spindle": words } },
                "curves": { "text": crate::measured::TABLE, "model": words, "age": more, "temperature_c": words, "note": more },
                "batches": { "id": words, "version": number, "size": more, "unit": words, "code": more, "lots": [{ "line": number, "code": words }], "balances": [{ "name": words, "readability_g": more }] },
                "entries": { "id": words, "at": more, "did": words, "step": number, "line": number, "net": more, "text": words },
                "undo": { "id": words, "entry": more, "reason": words },
                "corrections": { "entry": words, "reason": more, "instead": { "id": words, "did": "weighed", "net": more } },
                "sign-off": { "signed_as": words, "who": more, "note": words },
                "samples": { "label": words, "net": more, "unit": words, "location": more, "until": words },
                "status": { "status": words, "reason": more },
                "movements": { "net": words, "unit": more, "reason": words },
                "preview": { "text": words, "asked": { "what": "formula", "sheet": more, "columns": [{ "column": words, "field": more }], "shares": words } },
                "bring-in": { "text": crate::measured::TABLE, "asked": { "what": "lot", "head": number, "days": words, "unit": more, "changed": [{ "line": number, "column": number, "text": words }] } },
                "lots": { "material": words, "code": more, "assay_percent": words, "received": more, "certificate": [{ "name": words, "value": more }] },
            });
            for (_, path) in house.bodies() {
                let Some(body) = path.rsplit('/').next().and_then(|last| bodies.get(last)) else { continue };
                let (status, told) = house.post(&path, body).await;
                assert!(matches!(status, 200 | 404 | 422), "{path}: {status} {told}");
                if status != 200 {
                    assert!(!told["what"].as_str().unwrap().is_empty() && !told["what_now"].as_str().unwrap().is_empty(), "{path}: {told}");
                }
            }
        });
    }
}
