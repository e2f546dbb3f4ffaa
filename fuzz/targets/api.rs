//! Bodies sent to the JSON routes over a real desk: never a failure of the server.
#![no_main]

use axum::Router;
use axum::body::Body;
use axum::http::Request;
use http_body_util::BodyExt as _;
use levigate_web::{DeskSetup, WorkspaceDesk};
use libfuzzer_sys::fuzz_target;
use std::cell::RefCell;
use std::sync::Arc;
use tower::ServiceExt as _;

const HOST: &str = "127.0.0.1:7207";
/// What is saved stays in memory, so the desk is set up afresh now and then.
const FRESH_AFTER: usize = 500;

struct House {
    runtime: tokio::runtime::Runtime,
    router: Router,
    token: String,
    sent: usize,
}

impl House {
    fn new() -> Self {
        let runtime =
            tokio::runtime::Builder::new_current_thread().enable_all().build().expect("a runtime starts");
        let router = runtime.block_on(async {
            let store = levigate_store::SqliteStore::in_memory().await.expect("a store opens");
            let workspace = levigate_store::with_machine(Arc::new(store));
            let setup = DeskSetup {
                studio: "Test bench".to_owned(),
                person: "Ines".to_owned(),
                sample: false,
                market: "eu".to_owned(),
                day: std::sync::Arc::new(|| jiff::civil::date(2026, 11, 26)),
            };
            let facts = levigate_facts::shipped().expect("the shipped facts can be read");
            let desk = WorkspaceDesk::open(workspace, facts, setup).await.expect("a desk opens");
            levigate_web::serve::router(Arc::new(desk), 7207).expect("a router is made")
        });
        let page = runtime.block_on(async {
            let request = Request::get("/formulas").header("host", HOST).body(Body::empty());
            let response = router.clone().oneshot(request.expect("a request")).await.expect("an answer");
            response.into_body().collect().await.expect("a page").to_bytes()
        });
        let page = String::from_utf8_lossy(&page);
        let token = page.split("name=\"levigate-token\" content=\"").nth(1).and_then(|rest| rest.split('"').next());
        Self { token: token.expect("a token").to_owned(), runtime, router, sent: 0 }
    }
}

thread_local! {
    static HOUSE: RefCell<Option<House>> = const { RefCell::new(None) };
}

fuzz_target!(|input: &[u8]| {
    let Some((route, body)) = input.split_first() else { return };
    let path = match route {
        b'a' => "/api/assess",
        b'f' => "/api/figures",
        b't' => "/api/toml",
        b'm' => "/api/materials",
        b'i' => "/api/formulas/import",
        b'v' => "/api/bring-in/preview",
        b'b' => "/api/bring-in",
        _ => return,
    };
    HOUSE.with_borrow_mut(|house| {
        if house.as_ref().is_none_or(|house| house.sent >= FRESH_AFTER) {
            *house = Some(House::new());
        }
        let Some(house) = house.as_mut() else { return };
        house.sent += 1;
        let request = Request::post(path)
            .header("host", HOST)
            .header("origin", format!("http://{HOST}"))
            .header("x-levigate-token", &house.token)
            .body(Body::from(body.to_vec()))
            .expect("a request");
        let answer = house.runtime.block_on(house.router.clone().oneshot(request)).expect("an answer");
        assert!(!answer.status().is_server_error(), "{path}: {}", answer.status());
    });
});
