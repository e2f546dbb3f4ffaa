//! What is asked about the flow of a draft beside its figure.

use levigate_project::workbench::flow_in_use::SheetInUse;
use levigate_project::workbench::flow_level;
use serde::Serialize;
use std::collections::BTreeMap;

/// The level of a thickener for a viscosity.
#[derive(Clone, Debug, Serialize)]
pub struct Level {
    /// Level, ladder and advice.
    #[serde(flatten)]
    pub found: flow_level::Level,
    /// Citation of every source key.
    pub sources: BTreeMap<String, String>,
}

/// What the flow of a draft means in use.
#[derive(Clone, Debug, Serialize)]
pub struct InUse {
    /// Sizes, answers, or why there are none.
    #[serde(flatten)]
    pub found: SheetInUse,
    /// Citation of every source key.
    pub sources: BTreeMap<String, String>,
}
