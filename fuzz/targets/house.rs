//! A house to knock at: a workspace in memory with a formula, a trial, a lot and a batch, and the routes over it.

use axum::Router;
use axum::body::Body;
use axum::http::{Method, Request, StatusCode};
use http_body_util::BodyExt as _;
use levigate_project::workspace::Workspace;
use levigate_web::desk::{BatchDesk as _, Desk as _, TypedBatch, TypedLot, TypedTrial};
use levigate_web::{DeskSetup, WorkspaceDesk};
use std::sync::Arc;
use tower::ServiceExt as _;

const HOST: &str = "127.0.0.1:7207";
const TONER: &str = include_str!("../../examples/night-toner-mandelic.toml");

pub struct House {
    pub runtime: tokio::runtime::Runtime,
    pub workspace: Workspace,
    pub formula: String,
    pub trial: String,
    pub lot: String,
    pub batch: String,
    router: Router,
    token: String,
    sent: usize,
}

impl House {
    pub fn new() -> Self {
        let runtime =
            tokio::runtime::Builder::new_current_thread().enable_all().build().expect("a runtime starts");
        let (workspace, router, [formula, trial, lot, batch]) = runtime.block_on(async {
            let store = levigate_store::SqliteStore::in_memory().await.expect("a store opens");
            let workspace = levigate_store::with_machine(Arc::new(store));
            let setup = DeskSetup {
                studio: "Test bench".to_owned(),
                person: "Ines".to_owned(),
                sample: false,
                market: "eu".to_owned(),
                day: Arc::new(|| jiff::civil::date(2026, 11, 26)),
            };
            let facts = levigate_facts::shipped().expect("the shipped facts can be read");
            let desk = WorkspaceDesk::open(workspace.clone(), facts, setup).await.expect("a desk opens");
            let draft = desk.import_toml(TONER).await.expect("the example is read");
            let formula = desk.new_formula(&draft, "first").await.expect("a formula is kept").id;
            let typed = TypedTrial { version: 1, size: "200".to_owned(), ..TypedTrial::default() };
            let trial = desk.begin_trial(&formula, &typed).await.expect("a trial is begun").id;
            let typed = TypedLot {
                material: "Mandelic acid".to_owned(),
                code: "M-1".to_owned(),
                assay_percent: "99".to_owned(),
                ..TypedLot::default()
            };
            let lot = desk.add_lot(&typed).await.expect("a lot is kept").id;
            let typed = TypedBatch {
                version: 1,
                size: "200".to_owned(),
                code: "QUILL-7".to_owned(),
                ..TypedBatch::default()
            };
            let batch = desk.start_batch(&formula, &typed).await.expect("a batch is begun").id.to_string();
            let router = levigate_web::serve::router(Arc::new(desk), 7207).expect("a router is made");
            (workspace, router, [formula, trial, lot, batch])
        });
        let mut house =
            Self { runtime, workspace, formula, trial, lot, batch, router, token: String::new(), sent: 0 };
        let (_, page) = house.send(Method::GET, "/formulas", &[]).expect("the page of the formulas");
        let page = String::from_utf8_lossy(&page).into_owned();
        let token =
            page.split("name=\"levigate-token\" content=\"").nth(1).and_then(|rest| rest.split('"').next());
        house.token = token.expect("a token").to_owned();
        house
    }

    /// What is saved stays in memory, so a house is left now and then.
    pub fn worn(&self, after: usize) -> bool {
        self.sent >= after
    }

    /// Counts something that was done.
    pub fn count(&mut self) {
        self.sent += 1;
    }

    /// Sends a body to an address; nothing where it is none.
    pub fn send(&mut self, method: Method, path: &str, body: &[u8]) -> Option<(StatusCode, Vec<u8>)> {
        self.count();
        let request = Request::builder()
            .method(method)
            .uri(path)
            .header("host", HOST)
            .header("origin", format!("http://{HOST}"))
            .header("x-levigate-token", &self.token)
            .body(Body::from(body.to_vec()))
            .ok()?;
        let router = self.router.clone();
        Some(self.runtime.block_on(async {
            let answer = router.oneshot(request).await.expect("an answer");
            let status = answer.status();
            (status, answer.into_body().collect().await.expect("a body").to_bytes().to_vec())
        }))
    }
}
