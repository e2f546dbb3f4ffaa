//! Binding, routing, running.

use crate::desk::Desk;
use crate::lan::{Certificate, LanOptions, Pairing};
use crate::listen::{Listening, answer};
use crate::people::sessions::{Sessions, random_token};
use crate::people::waits::Waits;
use crate::people::{Signatures, pages as people_pages, routes as people};
use crate::trouble::Trouble;
use crate::window::{Door, FirstCode, House, Unseated};
use crate::{
    adjusting, api, assets, batch_pages, batches, bench, better, bringing, challenge, experiments, foresight,
    guard, instead, instruments, lot_pages, making, measured, measurement, microbes, pages, papers, studies,
};
use axum::Router;
use axum::middleware::from_fn_with_state;
use axum::response::IntoResponse;
use axum::routing::{get, post};
use levigate_project::instrument::Instruments;
use std::net::{IpAddr, Ipv4Addr, SocketAddr};
use std::sync::{Arc, Mutex};
use tokio::net::TcpListener;
use tokio_rustls::TlsAcceptor;
use tower_http::catch_panic::CatchPanicLayer;

/// Where to listen: always on the loopback address, and in the network where that is asked for.
#[derive(Clone, Debug, Default)]
pub struct ServeOptions {
    /// Port on the loopback address; 0 takes a free one.
    pub port: u16,
    /// The door to the network.
    pub lan: Option<LanOptions>,
    /// Instruments on ports of this machine.
    pub instruments: Option<Arc<dyn Instruments>>,
}

/// A server that is bound but does not answer yet.
#[derive(Debug)]
pub struct Bound {
    /// Address on this machine.
    pub address: SocketAddr,
    house: Arc<House>,
    doors: Vec<Listening>,
}

impl Bound {
    /// Address for a browser on this machine.
    #[must_use]
    pub fn url(&self) -> String {
        format!("http://{}/", self.address)
    }

    /// What a tablet has to be told, where there is a door to the network.
    #[must_use]
    pub fn pairing(&self) -> Option<&Pairing> {
        self.house.pairing.as_ref()
    }

    /// The code by which the first person comes in, where there is a door to the network and nobody yet.
    #[must_use]
    pub fn first_code(&self) -> Option<String> {
        let code = self.house.first_code.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
        code.as_ref().map(|code| code.code.clone())
    }

    /// Answers until the future ends.
    ///
    /// # Errors
    /// When a door cannot be waited for.
    pub async fn run(self, until: impl Future<Output = ()> + Send + 'static) -> std::io::Result<()> {
        let (tell, told) = tokio::sync::watch::channel(false);
        let doors: Vec<_> =
            self.doors.into_iter().map(|door| tokio::spawn(answer(door, told.clone()))).collect();
        until.await;
        let _ = tell.send(true);
        for door in doors {
            door.await.map_err(std::io::Error::other)?;
        }
        Ok(())
    }
}

/// Binds the loopback address, and the one in the network where it is asked for.
///
/// # Errors
/// When a port is taken, an address is not this machine's, the certificate cannot be made or no random numbers can be had.
pub async fn bind(desk: Arc<dyn Desk>, options: ServeOptions) -> std::io::Result<Bound> {
    let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, options.port)).await?;
    let address = listener.local_addr()?;
    let mut house = house(desk)?;
    house.instruments = options.instruments;
    let network = match options.lan {
        None => None,
        Some(lan) => {
            let listener = TcpListener::bind((lan.address, lan.port)).await?;
            let port = listener.local_addr()?.port();
            let names: Vec<String> = std::iter::once(lan.address.to_string()).chain(lan.names).collect();
            let made = Certificate::of(&lan.folder, &names, jiff::Timestamp::now())?;
            let hosts: Vec<String> = names.iter().flat_map(|name| hosts_of(name, port)).collect();
            let urls: Vec<String> =
                names.iter().map(|name| format!("https://{}:{port}/", host(name))).collect();
            let tls = (TlsAcceptor::from(made.config), urls.first().cloned().unwrap_or_default());
            house.pairing = Some(Pairing {
                urls,
                fingerprint: made.fingerprint,
                root_fingerprint: made.root_fingerprint,
                until: made.until,
                fresh: made.fresh,
                root: made.root,
            });
            if house.open() {
                house.first_code = Mutex::new(Some(FirstCode::roll()?));
            }
            Some((listener, hosts, port, tls))
        }
    };
    let house = Arc::new(house);
    let mut doors =
        vec![Listening { listener, router: routes(loopback(Arc::clone(&house), address.port())), tls: None }];
    if let Some((listener, hosts, port, tls)) = network {
        let cookie = format!("__Host-levigate-{port}");
        let door = Door { house: Arc::clone(&house), hosts, network: true, cookie };
        doors.push(Listening { listener, router: routes(door), tls: Some(tls) });
    }
    Ok(Bound { address, house, doors })
}

/// An address or name as it stands in a URL.
fn host(name: &str) -> String {
    match name.parse() {
        Ok(IpAddr::V6(address)) => format!("[{address}]"),
        _ => name.to_owned(),
    }
}

/// What a browser may send as the host of a name: without the port where it is the usual one of HTTPS.
fn hosts_of(name: &str, port: u16) -> Vec<String> {
    let name = host(name);
    let plain = (port == 443).then(|| name.clone());
    std::iter::once(format!("{name}:{port}")).chain(plain).collect()
}

fn house(desk: Arc<dyn Desk>) -> std::io::Result<House> {
    Ok(House {
        desk: Unseated(desk),
        token: random_token()?,
        sessions: Sessions::default(),
        waits: Waits::default(),
        signatures: Signatures::default(),
        first_code: Mutex::new(None),
        pairing: None,
        instruments: None,
    })
}

fn loopback(house: Arc<House>, port: u16) -> Door {
    let hosts = ["127.0.0.1", "localhost", "[::1]"].map(|name| format!("{name}:{port}")).to_vec();
    Door { house, hosts, network: false, cookie: format!("levigate-{port}") }
}

/// The routes, for a server reached at this port of the loopback address.
///
/// # Errors
/// When no random numbers can be had for the token.
pub fn router(desk: Arc<dyn Desk>, port: u16) -> std::io::Result<Router> {
    Ok(routes(loopback(Arc::new(house(desk)?), port)))
}

/// The routes, for a server reached in the network under this host, without encryption: for tests.
///
/// # Errors
/// When no random numbers can be had for the token.
pub fn network_router(desk: Arc<dyn Desk>, host: &str) -> std::io::Result<Router> {
    let house = Arc::new(house(desk)?);
    let cookie = "__Host-levigate".to_owned();
    Ok(routes(Door { house, hosts: vec![host.to_owned()], network: true, cookie }))
}

/// The routes behind a door.
fn routes(door: Door) -> Router {
    let door = Arc::new(door);
    Router::new()
        .route("/", get(pages::start))
        .route("/formulas", get(pages::formulas))
        .route("/formulas/new", get(pages::new_formula))
        .route("/formulas/{id}", get(pages::formula))
        .route("/formulas/{id}/difference", get(pages::difference))
        .route("/formulas/{id}/trials", get(pages::trials))
        .route("/formulas/{id}/tree", get(pages::tree))
        .route("/formulas/{id}/challenge", get(challenge::show))
        .route("/formulas/{id}/microbes", get(microbes::show))
        .route("/formulas/{id}/batch-sheet", get(pages::batch_sheet))
        .route("/formulas/{id}/batch-sheet.pdf", get(pages::batch_sheet_pdf))
        .route("/formulas/{id}/formula.toml", get(pages::formula_toml))
        .route("/batches", get(batch_pages::batches))
        .route("/batches/worker.js", get(assets::bench_worker))
        .route("/batches/{id}", get(batch_pages::batch))
        .route("/lots", get(lot_pages::lots))
        .route("/lots/{id}", get(lot_pages::lot))
        .route("/materials", get(pages::materials))
        .route("/materials/new", get(pages::new_material))
        .route("/materials/{key}", get(pages::material))
        .route("/measurement", get(pages::measurement))
        .route("/bring-in", get(bringing::show))
        .route("/settings", get(pages::settings))
        .route("/reading-numbers", get(pages::reading_numbers))
        .route("/photos/{id}", get(bench::photo))
        .route("/static/{*name}", get(assets::file))
        .route("/api/assess", post(api::assess))
        .route("/api/figures", post(api::figures))
        .route("/api/in-use", post(api::in_use))
        .route("/api/level", post(api::level))
        .route("/api/procedure", post(api::procedure))
        .route("/api/sure", post(making::sure))
        .route("/api/scale", post(making::scale))
        .route("/api/measurement", post(measurement::read))
        .route("/api/bring-in", post(bringing::bring_in))
        .route("/api/bring-in/preview", post(bringing::preview))
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
        .route("/api/formulas/{id}/trials/effects", get(bench::trial_effects))
        .route("/api/trials/{id}/readings", post(bench::add_reading))
        .route("/api/trials/{id}/observations", post(bench::observe))
        .route("/api/readings/{id}/correction", post(bench::correct_reading))
        .route("/api/observations/{id}/correction", post(bench::correct_observation))
        .route("/api/formulas/{id}/challenge", get(challenge::tests).post(challenge::keep))
        .route("/api/formulas/{id}/microbes", get(microbes::bare).post(microbes::answered))
        .route("/api/challenges/{id}/correction", post(challenge::correct))
        .route("/api/challenge/table", post(challenge::table))
        .route("/api/instruments", get(instruments::shown))
        .route("/api/adjust", post(adjusting::adjust))
        .route("/api/calibrate", post(adjusting::calibrate))
        .route("/api/flow/fit", post(measured::fit_flow))
        .route("/api/trials/{id}/curves", post(measured::keep_curve))
        .route("/api/curves/{id}/correction", post(measured::correct_curve))
        .route("/api/curves/{id}/fit", get(measured::curve_fit))
        .route("/api/lots", get(bench::lots).post(bench::add_lot))
        .route("/api/lots/{id}/correction", post(bench::correct_lot))
        .route("/login", get(people_pages::login))
        .route("/people", get(people_pages::people))
        .route("/pairing", get(people_pages::pairing))
        .route("/pairing/certificate", get(people_pages::certificate))
        .route("/api/login", post(people::log_in))
        .route("/api/me/logout", post(people::log_out))
        .route("/api/me/password", post(people::own_password))
        .route("/api/sign", post(people::sign))
        .route("/api/people", get(people::people).post(people::add))
        .route("/api/people/first", post(people::first))
        .route("/api/people/{id}", post(people::change))
        .merge(batches::routes())
        .merge(better::routes())
        .merge(instead::routes())
        .merge(papers::routes())
        .merge(studies::routes())
        .merge(foresight::routes())
        .merge(experiments::routes())
        .layer(CatchPanicLayer::custom(|_: Box<dyn std::any::Any + Send>| Trouble::broken().into_response()))
        .layer(from_fn_with_state(Arc::clone(&door), guard::watch))
        .with_state(door)
}
