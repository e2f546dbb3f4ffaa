//! A house to knock at: a workspace in memory with a formula of two versions, a trial, a reading, a photo, a lot and a batch, and the
//! routes over it.

use crate::desk::{desk_at, workspace};
use axum::Router;
use axum::body::Body;
use axum::http::{Request, Response};
use http_body_util::BodyExt;
use levigate_web::WorkspaceDesk;
use levigate_web::desk::{
    BatchDesk, Desk, Draft, SaveVersion, TypedBatch, TypedEntry, TypedLot, TypedObservation, TypedReading,
    TypedTrial,
};
use std::sync::Arc;
use tower::ServiceExt;

pub(crate) const PORT: u16 = 7117;
pub(crate) const HOST: &str = "127.0.0.1:7117";
pub(crate) const TONER: &str = include_str!("../../../../examples/night-toner-mandelic.toml");

/// The entry on the batch.
pub(crate) const ENTRY: &str = "018f0000-0000-7000-8000-000000000001";

/// One grey pixel.
pub(crate) const PIXEL: &[u8] = &[
    0x89, 0x50, 0x4E, 0x47, 0x0D, 0x0A, 0x1A, 0x0A, 0, 0, 0, 13, 0x49, 0x48, 0x44, 0x52, 0, 0, 0, 1, 0, 0, 0,
    1, 8, 0, 0, 0, 0, 0x3A, 0x7E, 0x9B, 0x55, 0, 0, 0, 10, 0x49, 0x44, 0x41, 0x54, 0x78, 0x9C, 0x63, 0x60, 0,
    0, 0, 2, 0, 1, 0x48, 0xAF, 0xA4, 0x71, 0, 0, 0, 0, 0x49, 0x45, 0x4E, 0x44, 0xAE, 0x42, 0x60, 0x82,
];

/// The house.
pub(crate) struct House {
    router: Router,
    pub(crate) token: String,
    pub(crate) draft: Draft,
    pub(crate) formula: String,
    pub(crate) trial: String,
    pub(crate) reading: String,
    pub(crate) observation: String,
    pub(crate) lot: String,
    pub(crate) batch: String,
}

impl House {
    pub(crate) async fn open() -> Self {
        let desk: WorkspaceDesk = desk_at(workspace()).await;
        let mut draft = desk.import_toml(TONER).await.unwrap();
        let formula = desk.new_formula(&draft, "first").await.unwrap().id;
        draft.target.ph_low = "3.5".to_owned();
        let save = SaveVersion { draft: draft.clone(), reason: "wider".to_owned(), base: 1 };
        desk.save_version(&formula, &save).await.unwrap();
        let typed = TypedTrial { version: 2, size: "200".to_owned(), ..TypedTrial::default() };
        let trial = desk.begin_trial(&formula, &typed).await.unwrap().id;
        let typed =
            TypedReading { quantity: "ph".to_owned(), value: "3,83".to_owned(), ..TypedReading::default() };
        let reading = desk.add_reading(&trial, &typed).await.unwrap().id;
        let typed = TypedObservation {
            text: "clear".to_owned(),
            shows: "a clear beaker".to_owned(),
            ..TypedObservation::default()
        };
        let observation = desk.observe(&trial, &typed, Some(PIXEL.to_vec())).await.unwrap().id;
        let typed = TypedLot {
            material: "Mandelic acid".to_owned(),
            code: "M-1".to_owned(),
            assay_percent: "99".to_owned(),
            ..TypedLot::default()
        };
        let lot = desk.add_lot(&typed).await.unwrap().id;
        let typed = TypedBatch { version: 2, size: "200".to_owned(), ..TypedBatch::default() };
        let batch = desk.start_batch(&formula, &typed).await.unwrap().id.to_string();
        let typed = TypedEntry {
            id: ENTRY.to_owned(),
            did: "note".to_owned(),
            text: "begun".to_owned(),
            ..TypedEntry::default()
        };
        desk.batch_entry(&batch, &typed, None).await.unwrap();
        let router = levigate_web::serve::router(Arc::new(desk), PORT).unwrap();
        let mut house =
            Self { router, token: String::new(), draft, formula, trial, reading, observation, lot, batch };
        let page = text(house.send(get("/formulas")).await).await;
        let rest = page.split("name=\"levigate-token\" content=\"").nth(1).unwrap();
        house.token = rest.split('"').next().unwrap().to_owned();
        house
    }

    pub(crate) async fn send(&self, request: Request<Body>) -> Response<Body> {
        self.router.clone().oneshot(request).await.unwrap()
    }

    pub(crate) fn with_body(&self, method: &str, path: &str, body: Vec<u8>) -> Request<Body> {
        Request::builder()
            .method(method)
            .uri(path)
            .header("host", HOST)
            .header("origin", format!("http://{HOST}"))
            .header("x-levigate-token", &self.token)
            .body(Body::from(body))
            .unwrap()
    }

    /// Sends JSON and gives status and answer.
    pub(crate) async fn post(&self, path: &str, body: &serde_json::Value) -> (u16, serde_json::Value) {
        let request = self.with_body("POST", path, body.to_string().into_bytes());
        let response = self.send(request).await;
        let status = response.status().as_u16();
        (status, serde_json::from_str(&text(response).await).unwrap())
    }

    /// Reads JSON.
    pub(crate) async fn read(&self, path: &str) -> serde_json::Value {
        let response = self.send(get(path)).await;
        assert_eq!(response.status(), 200, "{path}");
        serde_json::from_str(&text(response).await).unwrap()
    }

    /// Every JSON route that takes a body.
    pub(crate) fn bodies(&self) -> Vec<(&'static str, String)> {
        let Self { formula, trial, reading, observation, lot, batch, .. } = self;
        vec![
            ("POST", "/api/assess".to_owned()),
            ("POST", "/api/figures".to_owned()),
            ("POST", "/api/in-use".to_owned()),
            ("POST", "/api/level".to_owned()),
            ("POST", "/api/procedure".to_owned()),
            ("POST", "/api/sure".to_owned()),
            ("POST", "/api/scale".to_owned()),
            ("POST", "/api/measurement".to_owned()),
            ("POST", "/api/toml".to_owned()),
            ("POST", "/api/materials".to_owned()),
            ("POST", "/api/formulas".to_owned()),
            ("POST", "/api/formulas/import".to_owned()),
            ("POST", format!("/api/formulas/{formula}/versions")),
            ("PUT", format!("/api/formulas/{formula}/draft")),
            ("POST", format!("/api/formulas/{formula}/trials")),
            ("POST", format!("/api/trials/{trial}/readings")),
            ("POST", format!("/api/trials/{trial}/observations")),
            ("POST", format!("/api/readings/{reading}/correction")),
            ("POST", format!("/api/observations/{observation}/correction")),
            ("POST", "/api/adjust".to_owned()),
            ("POST", "/api/calibrate".to_owned()),
            ("POST", "/api/flow/fit".to_owned()),
            ("POST", format!("/api/trials/{trial}/curves")),
            ("POST", "/api/lots".to_owned()),
            ("POST", format!("/api/lots/{lot}/correction")),
            ("POST", "/api/login".to_owned()),
            ("POST", "/api/me/logout".to_owned()),
            ("POST", "/api/me/password".to_owned()),
            ("POST", "/api/sign".to_owned()),
            ("POST", "/api/people".to_owned()),
            ("POST", "/api/people/first".to_owned()),
            ("POST", format!("/api/people/{lot}")),
            ("POST", format!("/api/formulas/{formula}/batches")),
            ("POST", format!("/api/batches/{batch}/entries")),
            ("POST", format!("/api/batches/{batch}/undo")),
            ("POST", format!("/api/batches/{batch}/corrections")),
            ("POST", format!("/api/batches/{batch}/sign-off")),
            ("POST", format!("/api/batches/{batch}/samples")),
            ("POST", format!("/api/lots/{lot}/status")),
            ("POST", format!("/api/lots/{lot}/movements")),
            ("POST", "/api/bring-in/preview".to_owned()),
            ("POST", "/api/bring-in".to_owned()),
        ]
    }
}

pub(crate) fn get(path: &str) -> Request<Body> {
    Request::get(path).header("host", HOST).body(Body::empty()).unwrap()
}

pub(crate) async fn text(response: Response<Body>) -> String {
    String::from_utf8_lossy(&response.into_body().collect().await.unwrap().to_bytes()).into_owned()
}
