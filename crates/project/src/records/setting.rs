//! A person's settings.

use serde::{Deserialize, Serialize};

use super::{DecimalSign, Kind, Record, RecordError, required};

/// Light or dark.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Theme {
    /// As the machine is set.
    #[default]
    System,
    /// Light.
    Light,
    /// Dark.
    Dark,
}

/// What one person chose; the latest counts.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Setting {
    /// Who.
    pub person: String,
    /// The decimal sign they write and read.
    #[serde(default)]
    pub decimal_sign: DecimalSign,
    /// Light or dark.
    #[serde(default)]
    pub theme: Theme,
}

impl Record for Setting {
    const KIND: Kind = Kind::Setting;
    fn scope(&self) -> String {
        self.person.clone()
    }
    fn check(&self) -> Result<(), RecordError> {
        required("person", &self.person)
    }
}
