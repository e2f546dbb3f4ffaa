//! Where a value comes from.

use levigate_formula::library::Layer;
use serde::{Deserialize, Serialize};

/// A publication, or a mark for what has none.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Source {
    /// Key used beside values.
    pub key: String,
    /// Title.
    pub title: String,
    /// Authors or issuing body.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub authors: Option<String>,
    /// Year.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub year: Option<u16>,
    /// DOI, ISBN, number of a standard or report.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub identifier: Option<String>,
    /// What was read of it.
    pub read: Read,
    /// Remark.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
    /// Layer the record came from; set by the loader.
    #[serde(default)]
    pub layer: Layer,
}

/// What was read of a source.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Read {
    /// The text or the data file itself.
    Text,
    /// A page about it or a table quoted from it.
    Page,
    /// Its abstract.
    Abstract,
    /// Nothing now; recalled.
    Memory,
    /// There is nothing to read (a mark such as common practice).
    None,
}
