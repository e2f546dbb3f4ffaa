//! What a table makes, written in one write.

use super::{Asked, OnFile, Preview, What, plan};
use crate::diagnostic::Diagnostic;
use crate::records::{Formula, FormulaVersion, Id, Kept, Kind, Lot, MaterialOverlay, OverlaySort, Status};
use crate::store::{LogEntry, StoreError};
use crate::workbench::stock::statuses;
use crate::workspace::{SampleFormula, Save, Together, VersionText, Workspace};
use jiff::civil::Date;
use levigate_facts::Facts;
use serde::Serialize;
use std::collections::BTreeMap;

/// How often it is looked anew because somebody wrote in between.
const TRIES: usize = 10;

/// Something a table makes.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Planned {
    Formula { name: String, text: String, reason: String },
    Version { formula: Id<Formula>, based_on: u32, text: String, reason: String },
    Lot { lot: Box<Lot>, status: Option<(Status, String)> },
    Overlay(MaterialOverlay),
}

/// What a workspace holds that decides what a table makes; by default nothing.
#[derive(Clone, Debug, Default)]
pub struct Standing {
    lots: Vec<Kept<Lot>>,
    statuses: BTreeMap<Id<Lot>, Status>,
    formulas: Vec<(Kept<Formula>, Vec<Kept<FormulaVersion>>)>,
    prices: BTreeMap<String, String>,
    log_length: u64,
}

impl Standing {
    /// The same beside the facts.
    #[must_use]
    pub fn on_file<'w>(&'w self, facts: &'w Facts, day: Date, decides: bool) -> OnFile<'w> {
        OnFile {
            facts,
            day,
            lots: &self.lots,
            statuses: &self.statuses,
            formulas: &self.formulas,
            prices: &self.prices,
            decides,
        }
    }
}

/// Reads what decides what a table of a kind makes.
///
/// # Errors
/// The workspace cannot be read.
pub async fn standing(workspace: &Workspace, what: What) -> Result<Standing, StoreError> {
    // The length comes first: whatever is written while the rest is read keeps this from being written.
    let log_length = workspace.store().head().await?.length;
    let mut found = Standing { log_length, ..Standing::default() };
    match what {
        What::Lot => {
            found.lots = workspace.all().await?;
            found.statuses = statuses(workspace).await?;
        }
        What::Formula => {
            let mut versions: BTreeMap<Id<Formula>, Vec<Kept<FormulaVersion>>> = BTreeMap::new();
            for version in workspace.all::<FormulaVersion>().await? {
                versions.entry(version.what.formula).or_default().push(version);
            }
            let formulas = workspace.all::<Formula>().await?.into_iter();
            found.formulas = formulas
                .map(|formula| (versions.remove(&formula.id).unwrap_or_default(), formula))
                .map(|(versions, formula)| (formula, versions))
                .collect();
        }
        What::Material => {
            let overlays = workspace.latest::<MaterialOverlay>().await?.into_iter();
            let prices = overlays.filter(|one| one.what.sort == OverlaySort::Price && !one.what.withdrawn);
            found.prices = prices.map(|one| (one.what.key, one.what.text)).collect();
        }
    }
    Ok(found)
}

/// What was made of a table.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Brought {
    /// The report, row by row.
    pub report: Preview,
    /// The records, in the order of the table.
    pub made: Vec<Made>,
}

/// A record that was made.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Made {
    /// `formula`, `version`, `lot`, `material` or `price`.
    pub what: &'static str,
    /// Identity: of the formula, the lot; the key of the raw material.
    pub id: String,
    /// Name or code.
    pub name: String,
    /// Its number: of the version, of the entry.
    pub number: u32,
}

/// Why nothing was brought in.
#[derive(Clone, Debug, thiserror::Error)]
pub enum BringError {
    /// The table cannot be read.
    #[error("the table cannot be read")]
    Table(Vec<Diagnostic>),
    /// Something is not answered or not understood; the report says what.
    #[error("{}", .0.missing.join(" "))]
    NotReady(Box<Preview>),
    /// The workspace refused or failed.
    #[error(transparent)]
    Store(#[from] StoreError),
}

/// Brings a table in: everything it makes, or nothing.
///
/// # Errors
/// The table cannot be read, something in it is not answered or not understood, or the workspace refused. Nothing is written then.
pub async fn bring(
    workspace: &Workspace,
    (facts, day): (&Facts, Date),
    (who, decides): (&str, bool),
    (file, bytes): (&str, &[u8]),
    asked: &Asked,
) -> Result<Brought, BringError> {
    let mut tries = 0;
    loop {
        let standing = standing(workspace, asked.what).await?;
        let on_file = standing.on_file(facts, day, decides);
        let (report, planned) = plan(&on_file, file, bytes, asked).map_err(BringError::Table)?;
        if !report.ready {
            return Err(BringError::NotReady(Box::new(report)));
        }
        let records = planned.into_iter().map(|one| record(one, facts)).collect();
        match workspace.keep_together(who, records, standing.log_length).await {
            Ok(written) => return Ok(Brought { made: made(&written)?, report }),
            Err(StoreError::LogMoved { .. }) if tries < TRIES => tries += 1,
            Err(error) => return Err(error.into()),
        }
    }
}

fn record(planned: Planned, facts: &Facts) -> Together {
    let version = |text: String, reason: String| VersionText {
        text,
        reason,
        engine_version: env!("CARGO_PKG_VERSION").to_owned(),
        data_version: facts.version(),
    };
    match planned {
        Planned::Formula { name, text, reason } => {
            Together::Formula(SampleFormula { name, versions: vec![version(text, reason)] })
        }
        Planned::Version { formula, based_on, text, reason } => {
            let (version, tab) = (version(text, reason), None);
            Together::Version(Save { formula, based_on, parent: based_on, version, tab })
        }
        Planned::Lot { lot, status } => Together::Lot(lot, status),
        Planned::Overlay(overlay) => Together::Overlay(overlay),
    }
}

/// The records that were written, as they are spoken of; a decision about a lot is part of the lot, a first version of its formula.
fn made(written: &[LogEntry]) -> Result<Vec<Made>, StoreError> {
    let mut made: Vec<Made> = Vec::new();
    for entry in written {
        match entry.entry.kind {
            Kind::Formula => {
                let kept: Kept<Formula> = crate::workspace::open(entry)?;
                made.push(Made { what: "formula", id: kept.id.to_string(), name: kept.what.name, number: 1 });
            }
            Kind::FormulaVersion => {
                let kept: Kept<FormulaVersion> = crate::workspace::open(entry)?;
                let id = kept.what.formula.to_string();
                if made.iter().all(|one| one.id != id) {
                    made.push(Made { what: "version", id, name: kept.what.reason, number: kept.number });
                }
            }
            Kind::Lot => {
                let kept: Kept<Lot> = crate::workspace::open(entry)?;
                let name = kept.what.code;
                made.push(Made { what: "lot", id: kept.id.to_string(), name, number: kept.number });
            }
            Kind::MaterialOverlay => {
                let kept: Kept<MaterialOverlay> = crate::workspace::open(entry)?;
                let what = if kept.what.sort == OverlaySort::Price { "price" } else { "material" };
                made.push(Made { what, id: kept.what.key.clone(), name: kept.what.key, number: kept.number });
            }
            _ => {}
        }
    }
    Ok(made)
}
