//! The routes from outside: who may ask, and what comes back.

use crate::house::{HOST, House, get, text};
use axum::body::Body;
use axum::http::{Request, StatusCode};

#[tokio::test]
async fn every_page_answers_with_a_policy_that_allows_nothing_from_elsewhere() {
    let house = House::open().await;
    let (formula, photo) = (&house.formula, &house.observation);
    let paths = [
        "/formulas",
        "/formulas/new",
        "/formulas/{}",
        "/formulas/{}?version=1",
        "/formulas/{}/difference?left=1&right=2",
        "/formulas/{}/trials",
        "/formulas/{}/batch-sheet?size=500",
        "/formulas/{}/batch-sheet.pdf",
        "/formulas/{}/formula.toml",
        "/materials",
        "/materials?words=acid",
        "/materials/new",
        "/materials/mandelic-acid",
        "/measurement",
        "/studies",
        "/studies/new",
        "/studies/new?formula={}",
        "/api/studies",
        "/api/studies/due?days=90",
        "/settings",
        "/reading-numbers",
        "/static/formula.js",
        "/static/style/base.css",
        "/api/formulas",
        "/api/formulas/{}/trials",
        "/api/lots",
        "/api/lots?material=mandelic%20acid",
    ];
    let paths = paths.iter().map(|path| path.replace("{}", formula));
    for path in paths.chain([format!("/photos/{photo}")]) {
        let path = path.as_str();
        let response = house.send(get(path)).await;
        assert_eq!(response.status(), StatusCode::OK, "{path}");
        let headers = response.headers();
        let policy = headers["content-security-policy"].to_str().unwrap();
        assert!(policy.starts_with("default-src 'none'") && !policy.contains("unsafe"), "{path}: {policy}");
        assert_eq!(headers["x-content-type-options"], "nosniff", "{path}");
        assert_eq!(headers["referrer-policy"], "no-referrer", "{path}");
        assert_eq!(headers["cross-origin-resource-policy"], "same-origin", "{path}");
    }
}

#[tokio::test]
async fn a_foreign_host_page_or_token_is_refused() {
    let house = House::open().await;
    for host in ["evil.example", "127.0.0.1", "127.0.0.1:80", "localhost:7118", ""] {
        let request = Request::get("/formulas").header("host", host).body(Body::empty()).unwrap();
        let refused = house.send(request).await;
        assert_eq!(refused.status(), StatusCode::FORBIDDEN, "{host}");
        assert!(!text(refused).await.contains(&house.token), "the token is not told under a foreign name");
    }
    for host in [HOST, "localhost:7117", "[::1]:7117"] {
        let request = Request::get("/formulas").header("host", host).body(Body::empty()).unwrap();
        assert_eq!(house.send(request).await.status(), StatusCode::OK, "{host}");
    }
    for (name, value) in [
        ("origin", "http://evil.example"),
        ("origin", "null"),
        ("origin", "https://127.0.0.1:7117"),
        ("sec-fetch-site", "cross-site"),
        ("sec-fetch-site", "same-site"),
        ("x-levigate-token", "0"),
    ] {
        for (method, path) in house.bodies() {
            let mut request = house.with_body(method, &path, b"{}".to_vec());
            request.headers_mut().insert(name, value.parse().unwrap());
            let response = house.send(request).await;
            assert_eq!(response.status(), StatusCode::FORBIDDEN, "{path}, {name}: {value}");
            assert!(text(response).await.contains("\"what_now\""));
        }
    }
    let sound = house.send(house.with_body("POST", "/api/assess", b"{}".to_vec())).await;
    assert_eq!(sound.status(), StatusCode::OK);
}

#[tokio::test]
async fn no_path_leads_out_of_the_folder_of_files() {
    let house = House::open().await;
    for path in [
        "/static/../Cargo.toml",
        "/static/..%2fCargo.toml",
        "/static/%2e%2e/Cargo.toml",
        "/static//etc/passwd",
        "/static/style/../../src/lib.rs",
        "/static/fonts/",
        "/formulas/..%2f..%2fetc%2fpasswd",
        "/materials/%00",
    ] {
        let response = house.send(get(path)).await;
        assert!(response.status().is_client_error(), "{path}: {}", response.status());
    }
}

#[tokio::test]
async fn what_was_typed_never_becomes_markup() {
    let house = House::open().await;
    let name = "</script><script>alert(1)</script><img src=x onerror=alert(1)>";
    let mut draft = house.draft.clone();
    draft.product.name = name.to_owned();
    let body = serde_json::json!({ "draft": draft, "reason": name });
    let (_, saved) = house.post("/api/formulas", &body).await;
    let id = saved["id"].as_str().unwrap();
    let trial = serde_json::json!({ "version": 1, "changed": name, "process": name });
    let (status, trial) = house.post(&format!("/api/formulas/{id}/trials"), &trial).await;
    assert_eq!(status, 200, "{trial}");
    let trial = trial["id"].as_str().unwrap();
    let reading =
        serde_json::json!({ "quantity": name, "value": name, "unit": name, "method": name, "note": name });
    assert_eq!(house.post(&format!("/api/trials/{trial}/readings"), &reading).await.0, 200);
    let seen = serde_json::json!({ "text": name, "shows": name });
    assert_eq!(house.post(&format!("/api/trials/{trial}/observations"), &seen).await.0, 200);
    let lot =
        serde_json::json!({ "material": "mandelic-acid", "code": name, "supplier": name, "note": name });
    assert_eq!(house.post("/api/lots", &lot).await.0, 200);
    for path in [
        format!("/formulas/{id}/trials"),
        "/materials/mandelic-acid".to_owned(),
        "/formulas".to_owned(),
        format!("/formulas/{id}"),
        format!("/formulas/{id}/batch-sheet"),
        format!("/materials?words={}", "%3Cscript%3Ealert(1)%3C%2Fscript%3E"),
    ] {
        let page = text(house.send(get(&path)).await).await;
        assert!(!page.contains("<script>alert") && !page.contains("<img src=x"), "{path}");
    }
}

#[tokio::test]
async fn a_conflict_writes_nothing_and_names_the_newest() {
    let house = House::open().await;
    let body = serde_json::json!({ "draft": house.draft, "reason": "second thoughts", "base": 1 });
    let path = format!("/api/formulas/{}/versions", house.formula);
    let (status, told) = house.post(&path, &body).await;
    assert_eq!(status, 200);
    assert!(told["conflict"].is_object(), "{told}");
    assert_eq!(house.read(&path).await.as_array().unwrap().len(), 2);
}

#[tokio::test]
async fn too_much_is_told_and_a_missing_reason_is_asked_for() {
    let house = House::open().await;
    let large = vec![b' '; 3 * 1024 * 1024];
    let response = house.send(house.with_body("POST", "/api/assess", large)).await;
    assert_eq!(response.status(), StatusCode::PAYLOAD_TOO_LARGE);
    let body = serde_json::json!({ "draft": house.draft, "reason": "  ", "base": 2 });
    let (status, told) = house.post(&format!("/api/formulas/{}/versions", house.formula), &body).await;
    assert_eq!(status, 422);
    assert_eq!(told["place"]["field"], "reason");
    let response = house.send(get("/nowhere")).await;
    assert_eq!(response.status(), StatusCode::NOT_FOUND);
    assert!(text(response).await.contains("To the formulas"));
}
