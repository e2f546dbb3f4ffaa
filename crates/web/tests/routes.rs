//! The routes from outside: who may ask, what comes back, and that nothing anybody sends makes them fall over.

#![expect(clippy::unwrap_used, reason = "a step that fails is a test that fails")]

mod fixture;

use axum::Router;
use axum::body::Body;
use axum::http::{Request, Response, StatusCode};
use fixture::Shelf;
use http_body_util::BodyExt;
use proptest::prelude::*;
use std::sync::Arc;
use tower::ServiceExt;

const PORT: u16 = 7117;
const HOST: &str = "127.0.0.1:7117";
/// Every JSON route that takes a body.
const BODIES: [(&str, &str); 8] = [
    ("POST", "/api/assess"),
    ("POST", "/api/figures"),
    ("POST", "/api/toml"),
    ("POST", "/api/materials"),
    ("POST", "/api/formulas"),
    ("POST", "/api/formulas/import"),
    ("POST", "/api/formulas/night-tide-toner/versions"),
    ("PUT", "/api/formulas/night-tide-toner/draft"),
];

fn router() -> Router {
    levigate_web::serve::router(Arc::new(Shelf::sample()), PORT).unwrap()
}

async fn send(router: &Router, request: Request<Body>) -> Response<Body> {
    router.clone().oneshot(request).await.unwrap()
}

async fn text(response: Response<Body>) -> String {
    String::from_utf8_lossy(&response.into_body().collect().await.unwrap().to_bytes()).into_owned()
}

fn get(path: &str) -> Request<Body> {
    Request::get(path).header("host", HOST).body(Body::empty()).unwrap()
}

async fn token(router: &Router) -> String {
    let page = text(send(router, get("/formulas")).await).await;
    let rest = page.split("name=\"levigate-token\" content=\"").nth(1).unwrap();
    rest.split('"').next().unwrap().to_owned()
}

fn with_body(method: &str, path: &str, token: &str, body: Vec<u8>) -> Request<Body> {
    Request::builder()
        .method(method)
        .uri(path)
        .header("host", HOST)
        .header("origin", format!("http://{HOST}"))
        .header("x-levigate-token", token)
        .body(Body::from(body))
        .unwrap()
}

#[tokio::test]
async fn every_page_answers_with_a_policy_that_allows_nothing_from_elsewhere() {
    let router = router();
    for path in [
        "/formulas",
        "/formulas/new",
        "/formulas/night-tide-toner",
        "/formulas/night-tide-toner?version=1",
        "/formulas/night-tide-toner/difference?left=1&right=2",
        "/formulas/night-tide-toner/batch-sheet?size=500",
        "/formulas/night-tide-toner/batch-sheet.pdf",
        "/formulas/night-tide-toner/formula.toml",
        "/materials",
        "/materials?words=acid",
        "/materials/new",
        "/materials/citric-acid",
        "/settings",
        "/reading-numbers",
        "/static/formula.js",
        "/static/style/base.css",
        "/api/formulas",
    ] {
        let response = send(&router, get(path)).await;
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
    let router = router();
    let token = token(&router).await;
    for host in ["evil.example", "127.0.0.1", "127.0.0.1:80", "localhost:7118", ""] {
        let request = Request::get("/formulas").header("host", host).body(Body::empty()).unwrap();
        assert_eq!(send(&router, request).await.status(), StatusCode::FORBIDDEN, "{host}");
    }
    for host in [HOST, "localhost:7117", "[::1]:7117"] {
        let request = Request::get("/formulas").header("host", host).body(Body::empty()).unwrap();
        assert_eq!(send(&router, request).await.status(), StatusCode::OK, "{host}");
    }
    for (name, value) in [
        ("origin", "http://evil.example"),
        ("origin", "null"),
        ("origin", "https://127.0.0.1:7117"),
        ("sec-fetch-site", "cross-site"),
        ("sec-fetch-site", "same-site"),
        ("x-levigate-token", "0"),
    ] {
        let mut request = with_body("POST", "/api/assess", &token, b"{}".to_vec());
        request.headers_mut().insert(name, value.parse().unwrap());
        let response = send(&router, request).await;
        assert_eq!(response.status(), StatusCode::FORBIDDEN, "{name}: {value}");
        assert!(text(response).await.contains("\"what_now\""));
    }
    let sound = send(&router, with_body("POST", "/api/assess", &token, b"{}".to_vec())).await;
    assert_eq!(sound.status(), StatusCode::OK);
}

#[tokio::test]
async fn no_path_leads_out_of_the_folder_of_files() {
    let router = router();
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
        let response = send(&router, get(path)).await;
        assert!(response.status().is_client_error(), "{path}: {}", response.status());
    }
}

#[tokio::test]
async fn what_was_typed_never_becomes_markup() {
    let router = router();
    let token = token(&router).await;
    let name = "</script><script>alert(1)</script><img src=x onerror=alert(1)>";
    let body = serde_json::json!({ "draft": { "product": { "name": name } }, "reason": name });
    let response =
        send(&router, with_body("POST", "/api/formulas", &token, body.to_string().into_bytes())).await;
    let saved: serde_json::Value = serde_json::from_str(&text(response).await).unwrap();
    let id = saved["id"].as_str().unwrap();
    for path in [
        "/formulas".to_owned(),
        format!("/formulas/{id}"),
        format!("/formulas/{id}/batch-sheet"),
        format!("/materials?words={}", "%3Cscript%3Ealert(1)%3C%2Fscript%3E"),
    ] {
        let page = text(send(&router, get(&path)).await).await;
        assert!(!page.contains("<script>alert") && !page.contains("<img src=x"), "{path}");
    }
}

#[tokio::test]
async fn a_conflict_writes_nothing_and_names_the_newest() {
    let router = router();
    let token = token(&router).await;
    let body =
        serde_json::json!({ "draft": fixture::sample_draft(), "reason": "second thoughts", "base": 1 });
    let path = "/api/formulas/night-tide-toner/versions";
    let response = send(&router, with_body("POST", path, &token, body.to_string().into_bytes())).await;
    assert_eq!(response.status(), StatusCode::OK);
    assert!(text(response).await.contains("\"conflict\""));
    let list = text(send(&router, get(path)).await).await;
    assert_eq!(serde_json::from_str::<Vec<serde_json::Value>>(&list).unwrap().len(), 2);
}

#[tokio::test]
async fn too_much_is_told_and_a_missing_reason_is_asked_for() {
    let router = router();
    let token = token(&router).await;
    let large = vec![b' '; 3 * 1024 * 1024];
    let response = send(&router, with_body("POST", "/api/assess", &token, large)).await;
    assert_eq!(response.status(), StatusCode::PAYLOAD_TOO_LARGE);
    let body = serde_json::json!({ "draft": fixture::sample_draft(), "reason": "  ", "base": 2 });
    let response = send(&router, with_body("POST", BODIES[6].1, &token, body.to_string().into_bytes())).await;
    assert_eq!(response.status(), StatusCode::UNPROCESSABLE_ENTITY);
    assert!(text(response).await.contains("\"field\":\"reason\""));
    let response = send(&router, get("/nowhere")).await;
    assert_eq!(response.status(), StatusCode::NOT_FOUND);
    assert!(text(response).await.contains("To the formulas"));
}

fn run<T>(future: impl Future<Output = T>) -> T {
    tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap().block_on(future)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn arbitrary_bytes_get_an_answer_with_a_place(bytes in proptest::collection::vec(any::<u8>(), 0..400)) {
        run(async {
            let router = router();
            let token = token(&router).await;
            for (method, path) in BODIES {
                let response = send(&router, with_body(method, path, &token, bytes.clone())).await;
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
            let router = router();
            let tail: String = tail.chars().filter(|letter| !" \"<>\\^`{|}#".contains(*letter)).collect();
            for start in ["/", "/api/", "/api/formulas/", "/formulas/", "/materials/", "/static/", "/api/materials?words=", "/formulas/night-tide-toner?version=", "/api/formulas/night-tide-toner/difference?left="] {
                let Ok(request) = Request::get(format!("{start}{tail}")).header("host", HOST).body(Body::empty()) else { continue };
                let status = send(&router, request).await.status();
                assert!(!status.is_server_error(), "{start}{tail}: {status}");
            }
        });
    }

    #[test]
    fn arbitrary_amounts_are_told_in_their_field(amount in "\\PC{0,12}", material in "\\PC{0,12}") {
        run(async {
            let router = router();
            let token = token(&router).await;
            let body = serde_json::json!({ "draft": { "phases": [{ "id": "a", "lines": [{ "id": "x", "material": material, "amount": amount }] }] } });
            let response = send(&router, with_body("POST", "/api/assess", &token, body.to_string().into_bytes())).await;
            assert_eq!(response.status(), StatusCode::OK);
        });
    }
}
