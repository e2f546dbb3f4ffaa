//! Binding, routing, running.

use crate::desk::Desk;
use crate::trouble::Trouble;
use crate::window::Room;
use crate::{api, assets, bench, guard, measured, measurement, pages};
use axum::Router;
use axum::middleware::from_fn_with_state;
use axum::response::IntoResponse;
use axum::routing::{get, post};
use std::net::{Ipv4Addr, SocketAddr};
use std::sync::Arc;
use tower_http::catch_panic::CatchPanicLayer;

/// Where to listen. Only the loopback address is ever used.
#[derive(Clone, Copy, Debug, Default)]
pub struct ServeOptions {
    /// Port; 0 takes a free one.
    pub port: u16,
}

/// A server that is bound but does not answer yet.
#[derive(Debug)]
pub struct Bound {
    /// Address.
    pub address: SocketAddr,
    listener: tokio::net::TcpListener,
    router: Router,
}

impl Bound {
    /// Address for a browser.
    #[must_use]
    pub fn url(&self) -> String {
        format!("http://{}/", self.address)
    }

    /// Answers until the future ends.
    ///
    /// # Errors
    /// When the socket fails.
    pub async fn run(self, until: impl Future<Output = ()> + Send + 'static) -> std::io::Result<()> {
        axum::serve(self.listener, self.router).with_graceful_shutdown(until).await
    }
}

/// Binds the loopback address.
///
/// # Errors
/// When the port is taken or no random numbers can be had.
pub async fn bind(desk: Arc<dyn Desk>, options: ServeOptions) -> std::io::Result<Bound> {
    let listener = tokio::net::TcpListener::bind((Ipv4Addr::LOCALHOST, options.port)).await?;
    let address = listener.local_addr()?;
    Ok(Bound { address, listener, router: router(desk, address.port())? })
}

/// The routes, for a server reached at this port of the loopback address.
///
/// # Errors
/// When no random numbers can be had for the token.
pub fn router(desk: Arc<dyn Desk>, port: u16) -> std::io::Result<Router> {
    let mut secret = [0_u8; 32];
    getrandom::fill(&mut secret).map_err(|error| std::io::Error::other(error.to_string()))?;
    let token = secret.iter().map(|byte| format!("{byte:02x}")).collect();
    let hosts = ["127.0.0.1", "localhost", "[::1]"].map(|name| format!("{name}:{port}")).to_vec();
    let room = Arc::new(Room { desk, token, hosts });
    Ok(Router::new()
        .route("/", get(pages::start))
        .route("/formulas", get(pages::formulas))
        .route("/formulas/new", get(pages::new_formula))
        .route("/formulas/{id}", get(pages::formula))
        .route("/formulas/{id}/difference", get(pages::difference))
        .route("/formulas/{id}/trials", get(pages::trials))
        .route("/formulas/{id}/batch-sheet", get(pages::batch_sheet))
        .route("/formulas/{id}/batch-sheet.pdf", get(pages::batch_sheet_pdf))
        .route("/formulas/{id}/formula.toml", get(pages::formula_toml))
        .route("/materials", get(pages::materials))
        .route("/materials/new", get(pages::new_material))
        .route("/materials/{key}", get(pages::material))
        .route("/measurement", get(pages::measurement))
        .route("/settings", get(pages::settings))
        .route("/reading-numbers", get(pages::reading_numbers))
        .route("/photos/{id}", get(bench::photo))
        .route("/static/{*name}", get(assets::file))
        .route("/api/assess", post(api::assess))
        .route("/api/figures", post(api::figures))
        .route("/api/in-use", post(api::in_use))
        .route("/api/level", post(api::level))
        .route("/api/measurement", post(measurement::read))
        .route("/api/toml", post(api::toml))
        .route("/api/materials", get(api::search_materials).post(api::save_material))
        .route("/api/materials/{key}", get(api::material))
        .route("/api/formulas", get(api::formulas).post(api::new_formula))
        .route("/api/formulas/import", post(api::import))
        .route("/api/formulas/{id}/versions", get(api::versions).post(api::save_version))
        .route("/api/formulas/{id}/versions/{number}", get(api::version))
        .route("/api/formulas/{id}/difference", get(api::difference))
        .route("/api/formulas/{id}/draft", axum::routing::put(api::keep_draft).delete(api::drop_draft))
        .route("/api/formulas/{id}/trials", get(bench::trials).post(bench::begin_trial))
        .route("/api/trials/{id}/readings", post(bench::add_reading))
        .route("/api/trials/{id}/observations", post(bench::observe))
        .route("/api/readings/{id}/correction", post(bench::correct_reading))
        .route("/api/observations/{id}/correction", post(bench::correct_observation))
        .route("/api/flow/fit", post(measured::fit_flow))
        .route("/api/trials/{id}/curves", post(measured::keep_curve))
        .route("/api/curves/{id}/correction", post(measured::correct_curve))
        .route("/api/curves/{id}/fit", get(measured::curve_fit))
        .route("/api/lots", get(bench::lots).post(bench::add_lot))
        .route("/api/lots/{id}/correction", post(bench::correct_lot))
        .layer(CatchPanicLayer::custom(|_: Box<dyn std::any::Any + Send>| Trouble::broken().into_response()))
        .layer(from_fn_with_state(Arc::clone(&room), guard::watch))
        .with_state(room))
}
