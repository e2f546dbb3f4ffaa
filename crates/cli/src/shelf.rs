//! A workspace opened for one verb of the command line, with the facts that count in it.

use crate::answer::Failure;
use crate::arguments::{Common, Where};
use crate::input::{self, FactsUsed, Input};
use crate::place;
use crate::sample;
use levigate_facts::Facts;
use levigate_formula::library::Layer;
use levigate_project::formula_file;
use levigate_project::records::{Formula, Kept};
use levigate_project::store::StoreError;
use levigate_project::workbench::keeping::KeepError;
use levigate_project::workbench::shelf::{laid_over, own_texts};
use levigate_project::workbench::trials::formulas_called;
use levigate_project::workspace::Workspace;
use levigate_store::{folder, open_workspace, open_workspace_to_read, with_machine};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// A workspace with its facts.
pub(crate) struct Shelf {
    pub(crate) workspace: Workspace,
    pub(crate) facts: Facts,
    pub(crate) used: FactsUsed,
    /// Whether it is the sample.
    pub(crate) sample: bool,
}

/// What a verb wants of the workspace.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Want {
    /// Read, also while another program has it open.
    Read,
    /// Write.
    Write,
}

/// The folder of the workspace that was named, or of the sample.
fn folder_of(asked: &Where) -> Result<PathBuf, Failure> {
    asked.workspace.clone().or_else(place::sample).ok_or_else(no_home)
}

impl Shelf {
    /// Whether there is a workspace to open; nothing is made.
    pub(crate) fn is_there(asked: &Where) -> Result<bool, Failure> {
        folder_of(asked).map(|folder| place::is_workspace(&folder))
    }

    /// Opens the workspace that was named, or the sample.
    pub(crate) async fn open(common: &Common, asked: &Where, want: Want) -> Result<Self, Failure> {
        let sample = asked.workspace.is_none();
        let folder = folder_of(asked)?;
        if !place::is_workspace(&folder) {
            return Err(Failure::could_not(
                "no-workspace",
                format!("there is no workspace in {}", folder.display()),
                if sample {
                    "open the sample once with levigate serve, or name a folder with --workspace"
                } else {
                    "name the folder of a workspace, or make one with levigate serve --workspace DIR"
                },
            ));
        }
        let store = match want {
            Want::Read => open_workspace_to_read(&folder).await,
            Want::Write => open_workspace(&folder).await,
        };
        let workspace = with_machine(Arc::new(store.map_err(|error| refused(&error))?));
        let (mut facts, mut used) = input::facts(&common.facts)?;
        overlay_workspace(&mut facts, &folder)?;
        let texts = own_texts(&workspace).await.map_err(|error| refused(&error))?;
        let (facts, _) = laid_over(&facts, &texts);
        used.version = facts.version();
        Ok(Self { workspace, facts, used, sample })
    }

    /// The one formula a person means by a name, or by a file that has it.
    pub(crate) async fn formula(&self, name: &str) -> Result<Kept<Formula>, Failure> {
        let path = Path::new(name);
        let mut called = name.to_owned();
        if path.is_file() {
            let input = Input::read(path)?;
            let file = formula_file::read(&input.name, &input.text).map_err(|list| input.refused(list))?;
            called = file.sheet.product.name;
        }
        let found = formulas_called(&self.workspace, &called).await.map_err(|error| refused(&error))?;
        if let [one] = found.as_slice() {
            return Ok(one.clone());
        }
        let (what, names) = if found.is_empty() {
            let all: Vec<Kept<Formula>> = self.workspace.all().await.map_err(|error| refused(&error))?;
            (format!("no formula in the workspace is called \"{called}\""), all)
        } else {
            (format!("\"{called}\" is part of more than one name"), found)
        };
        let names: Vec<String> = names.into_iter().map(|formula| formula.what.name).collect();
        let what_now = if names.is_empty() {
            "the workspace holds no formula yet; start one with levigate serve".to_owned()
        } else {
            format!("name one of these: {}", names.join("; "))
        };
        Err(Failure::bad_option("no-such-formula", "FORMULA-OR-NAME", what, what_now))
    }
}

/// Runs a verb that asks a workspace.
pub(crate) fn block_on<T>(work: impl Future<Output = Result<T, Failure>>) -> Result<T, Failure> {
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().map_err(|error| {
        Failure::could_not("no-threads", error.to_string(), "close other programs and try again")
    })?;
    runtime.block_on(work)
}

/// Lays the facts in the workspace's own folder over everything.
pub(crate) fn overlay_workspace(facts: &mut Facts, place: &Path) -> Result<(), Failure> {
    let own = place.join(folder::FACTS);
    if own.is_dir() {
        input::overlay(facts, &[own], Layer::Workspace)?;
    }
    Ok(())
}

/// Who works here, by the name of the account.
pub(crate) fn person() -> String {
    let named = ["USER", "USERNAME"]
        .iter()
        .find_map(|name| std::env::var(name).ok().filter(|name| !name.trim().is_empty()));
    named.unwrap_or_else(|| "formulator".to_owned())
}

/// Who enters something: the name given, the studio in the sample, else the account.
pub(crate) fn who(asked: Option<&String>, sample: bool) -> String {
    match asked {
        Some(name) => name.clone(),
        None if sample => sample::STUDIO.to_owned(),
        None => person(),
    }
}

pub(crate) fn no_home() -> Failure {
    Failure::could_not(
        "no-home",
        "the system names no folder for a person's data",
        "name a folder yourself with --workspace DIR",
    )
}

/// The workspace refused: a missing or unfit record is the caller's input, the rest could not be done.
pub(crate) fn refused(error: &StoreError) -> Failure {
    match error {
        StoreError::Missing { .. } | StoreError::Unfit(_) | StoreError::AlreadyCorrected { .. } => {
            Failure::bad_option("not-in-workspace", "", error.to_string(), error.hint())
        }
        _ => Failure::could_not("workspace-not-opened", error.to_string(), error.hint()),
    }
}

/// Why an entry was not kept.
pub(crate) fn not_kept(error: &KeepError) -> Failure {
    match error {
        KeepError::Typed(faults) => Failure {
            problems: faults
                .iter()
                .map(|fault| {
                    let what = fault.what.trim_end_matches('.').to_owned();
                    crate::answer::complaint("not-kept", "", &fault.field, what, &fault.what_now)
                })
                .collect(),
            input: None,
            exit: crate::answer::BAD_INPUT,
        },
        KeepError::Store(error) => refused(error),
    }
}
