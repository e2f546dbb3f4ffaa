//! `serve`: opens a workspace, binds a port of this machine, says where, and answers until told to stop.

use crate::answer::{Answer, Failure};
use crate::arguments::{Common, Serve};
use crate::verbs::{USUAL_MARKET, day};
use crate::{browser, input, lan, place, sample, shelf, writing};
use levigate_facts::Facts;
use levigate_instruments::Listener;
use levigate_project::instrument::{self, Instruments};
use levigate_project::workspace::Workspace;
use levigate_store::{folder, open_or_create_workspace, with_machine};
use levigate_web::{Bound, Desk, DeskSetup, ServeOptions, WorkspaceDesk, bind};
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

/// First port that is tried.
const PORT: u16 = 7207;
/// Ports after it that are tried before the system is asked for any.
const PORTS: u16 = 20;
/// Threads that answer.
const THREADS: usize = 2;
/// Longest wait for answers under way when told to stop.
const LAST_WAIT: Duration = Duration::from_secs(3);

/// Serves a workspace until told to stop.
pub(crate) fn serve(common: &Common, asked: &Serve) -> Result<Answer, Failure> {
    let runtime =
        tokio::runtime::Builder::new_multi_thread().worker_threads(THREADS).enable_all().build().map_err(
            |error| Failure::could_not("no-threads", error.to_string(), "close other programs and try again"),
        )?;
    let done = runtime.block_on(run(common, asked));
    runtime.shutdown_timeout(LAST_WAIT);
    done
}

async fn run(common: &Common, asked: &Serve) -> Result<Answer, Failure> {
    let place = Place::of(asked)?;
    // The facts are read while the disk opens the database.
    let folders = common.facts.clone();
    let reading = tokio::task::spawn_blocking(move || input::facts(&folders));
    let store = open_or_create_workspace(&place.folder).await.map_err(|error| shelf::refused(&error))?;
    let store = Arc::new(store);
    let workspace = with_machine(Arc::<levigate_store::SqliteStore>::clone(&store));
    let (mut facts, used) = reading.await.map_err(|error| {
        Failure::could_not("facts-not-read", error.to_string(), "report this; it is a mistake of Levigate")
    })??;
    if place.sample {
        seed(&place.folder, &workspace, &facts).await?;
    }
    shelf::overlay_workspace(&mut facts, &place.folder)?;
    let desk = desk(workspace, facts, &place).await?;
    let network = lan::wanted(asked, &place.folder)?;
    let instruments = asked.instruments.as_deref().map(join).transpose()?;
    let options = ServeOptions { port: 0, lan: network, instruments };
    let bound = bind_port(desk, asked.port, &options).await?;
    // Whoever reads the address may ask for the end at once.
    let stop = told_to_stop();
    announce(&bound, &place, common.json);
    if let Some(remark) = used.remark() {
        let _ = writeln!(io::stderr(), "{remark}");
    }
    if !asked.no_browser {
        browser::open(&bound.url());
    }
    let ended = answer_until_told(bound, stop).await;
    // Nobody else holds the store once the server is gone, unless a browser would not let go; then the system frees it.
    if let Some(store) = Arc::into_inner(store) {
        store.close().await;
    }
    ended?;
    Ok(Answer {
        text: String::new(),
        remarks: vec!["Stopped. Everything saved is kept.".to_owned()],
        exit: 0,
    })
}

/// Which workspace.
struct Place {
    folder: PathBuf,
    sample: bool,
}

impl Place {
    fn of(asked: &Serve) -> Result<Self, Failure> {
        let place = match &asked.workspace {
            Some(folder) => Self { folder: folder.clone(), sample: false },
            None => Self { folder: place::sample().ok_or_else(shelf::no_home)?, sample: true },
        };
        if !place::is_workspace(&place.folder) && !place::is_free(&place.folder) {
            return Err(Failure::could_not(
                "folder-in-use",
                format!(
                    "{} holds files and is no workspace; nothing was written there",
                    place.folder.display()
                ),
                "name a new or empty folder after --workspace",
            ));
        }
        Ok(place)
    }
}

/// Begins the sample workspace, once, while nothing is in it.
async fn seed(place: &Path, workspace: &Workspace, facts: &Facts) -> Result<(), Failure> {
    let untouched = workspace.store().head().await.map_err(|error| shelf::refused(&error))?.length == 0;
    if !untouched {
        return Ok(());
    }
    let prices = place.join(folder::FACTS).join(sample::PRICES_FILE);
    if !prices.exists() {
        writing::write_whole(&prices, sample::PRICES.as_bytes())?;
    }
    sample::seed(workspace, facts).await.map_err(|error| shelf::refused(&error))?;
    Ok(())
}

/// The desk over the workspace.
async fn desk(workspace: Workspace, facts: Facts, place: &Place) -> Result<Arc<dyn Desk>, Failure> {
    let own_name = place.folder.file_name().map(|name| name.to_string_lossy().into_owned());
    let setup = DeskSetup {
        studio: if place.sample {
            sample::STUDIO.to_owned()
        } else {
            own_name.unwrap_or_else(|| "Workspace".to_owned())
        },
        person: if place.sample { sample::STUDIO.to_owned() } else { shelf::person() },
        sample: place.sample,
        market: USUAL_MARKET.to_owned(),
        day: Arc::new(|| day(None)),
    };
    let desk = WorkspaceDesk::open(workspace, facts, setup).await.map_err(|trouble| {
        Failure::could_not(trouble.code, format!("{} {}", trouble.what, trouble.why), trouble.what_now)
    })?;
    Ok(Arc::new(desk))
}

/// Listens to the instruments of a file.
fn join(file: &Path) -> Result<Arc<dyn Instruments>, Failure> {
    let input = input::Input::read(file)?;
    let (name, text) = input.pair();
    let joined = instrument::read(name, text).map_err(|problems| input.refused(problems))?;
    let listener = Listener::begin(joined).map_err(|error| {
        Failure::could_not("no-threads", error.to_string(), "close other programs and try again")
    })?;
    Ok(Arc::new(listener))
}

/// The port asked for, or the first free one from the usual on.
async fn bind_port(
    desk: Arc<dyn Desk>,
    asked: Option<u16>,
    options: &ServeOptions,
) -> Result<Bound, Failure> {
    let taken = |port: u16, error: &io::Error| {
        Failure::could_not(
            "port-not-bound",
            format!("port {port} of this machine cannot be used: {error}"),
            "leave --port out for the next free one, or stop what uses it",
        )
    };
    lan::free(options.lan.as_ref()).await?;
    let options = |port| ServeOptions { port, ..options.clone() };
    if let Some(port) = asked {
        return bind(desk, options(port)).await.map_err(|error| taken(port, &error));
    }
    for port in PORT..=PORT + PORTS {
        match bind(Arc::clone(&desk), options(port)).await {
            Ok(bound) => return Ok(bound),
            Err(error) if error.kind() == io::ErrorKind::AddrInUse => {}
            Err(error) => return Err(taken(port, &error)),
        }
    }
    bind(desk, options(0)).await.map_err(|error| taken(0, &error))
}

/// Says where the page is. A closed standard output stops nothing.
fn announce(bound: &Bound, place: &Place, json: bool) {
    let mut out = io::stdout().lock();
    let folder = place.folder.display().to_string();
    let text = if json {
        let mut said =
            serde_json::json!({ "address": bound.url(), "workspace": folder, "sample": place.sample });
        if let (Some(said), Some(told)) = (said.as_object_mut(), lan::as_json(bound)) {
            said.insert("lan".to_owned(), told);
        }
        said.to_string()
    } else {
        let what = if place.sample {
            format!("The sample workspace of {} (invented), kept in {folder}", sample::STUDIO)
        } else {
            format!("The workspace {folder}")
        };
        format!("{what}\n\n    {}\n\n{}Ctrl-C ends it.", bound.url(), lan::in_words(bound))
    };
    let _ = writeln!(out, "{text}").and_then(|()| out.flush());
}

/// Answers until Ctrl-C, or the system asks the program to end.
async fn answer_until_told(bound: Bound, stop: impl Future<Output = ()>) -> Result<(), Failure> {
    let (told, mut heard) = tokio::sync::watch::channel(false);
    let serving = tokio::spawn(bound.run(async move {
        let _ = heard.wait_for(|told| *told).await;
    }));
    tokio::pin!(serving);
    let failed = |error: String| {
        Failure::could_not("server-failed", error, "start it again; everything saved is kept")
    };
    tokio::select! {
        ended = &mut serving => {
            return match ended {
                Ok(Ok(())) => Ok(()),
                Ok(Err(error)) => Err(failed(error.to_string())),
                Err(error) => Err(failed(error.to_string())),
            };
        }
        () = stop => {}
    }
    let _ = told.send(true);
    // A browser may hold a connection open for as long as it likes; answers under way get a moment.
    let _ = tokio::time::timeout(LAST_WAIT, serving).await;
    Ok(())
}

/// Ends when Ctrl-C is pressed or the system asks the program to end; hears it from the moment it is called.
#[cfg(unix)]
fn told_to_stop() -> impl Future<Output = ()> {
    use tokio::signal::unix::{SignalKind, signal};
    let signals = [SignalKind::interrupt(), SignalKind::terminate()].map(signal);
    async move {
        match signals {
            [Ok(mut interrupt), Ok(mut terminate)] => tokio::select! {
                _ = interrupt.recv() => {}
                _ = terminate.recv() => {}
            },
            _ => {
                let _ = tokio::signal::ctrl_c().await;
            }
        }
    }
}

#[cfg(not(unix))]
async fn told_to_stop() {
    let _ = tokio::signal::ctrl_c().await;
}
