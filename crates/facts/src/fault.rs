//! What can be wrong with a text of facts, with its place and what to do.

use std::fmt;

use crate::text::Place;

/// One thing that stops a text from being read.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum Fault {
    /// The text is not TOML.
    #[error("{place}: not valid TOML: {message}")]
    Syntax {
        /// Where.
        place: Place,
        /// What the parser says.
        message: String,
    },
    /// A value outside any table of records.
    #[error("{place}: `{name}` stands outside a table of records")]
    Stray {
        /// Where.
        place: Place,
        /// Its name.
        name: String,
    },
    /// A table of records that the schema does not know.
    #[error("{place}: unknown table `{table}`")]
    UnknownTable {
        /// Where.
        place: Place,
        /// Its name.
        table: String,
        /// The tables there are.
        known: Vec<&'static str>,
    },
    /// A record that does not follow the schema.
    #[error("{place}: {table} {}{}: {message}", key.as_deref().unwrap_or("without a key"), field.as_deref().map(|field| format!(", field `{field}`")).unwrap_or_default())]
    Record {
        /// Where.
        place: Place,
        /// Table.
        table: String,
        /// Key of the record, where it has one.
        key: Option<String>,
        /// Field, where it can be told.
        field: Option<String>,
        /// Why.
        message: String,
    },
    /// Two records of one layer share a key.
    #[error("{place}: {table} {key} is already defined at {first}")]
    Duplicate {
        /// Where.
        place: Place,
        /// Table.
        table: String,
        /// Key.
        key: String,
        /// Where it was first.
        first: Place,
    },
    /// A record that belongs to a material which does not exist.
    #[error("{place}: {table} for unknown material `{material}`")]
    NoSuchMaterial {
        /// Where.
        place: Place,
        /// Table.
        table: String,
        /// Material key as written.
        material: String,
    },
    /// Facts that cannot be put together, such as a reaction with an unknown component.
    #[error("{place}: {message}")]
    Incoherent {
        /// Where.
        place: Place,
        /// Why.
        message: String,
    },
}

impl Fault {
    /// Where it is.
    #[must_use]
    pub fn place(&self) -> &Place {
        match self {
            Self::Syntax { place, .. }
            | Self::Stray { place, .. }
            | Self::UnknownTable { place, .. }
            | Self::Record { place, .. }
            | Self::Duplicate { place, .. }
            | Self::NoSuchMaterial { place, .. }
            | Self::Incoherent { place, .. } => place,
        }
    }

    /// What is wrong, without its place.
    #[must_use]
    pub fn what(&self) -> String {
        if let Self::Record { message, .. } = self {
            return message.clone();
        }
        let text = self.to_string();
        text.strip_prefix(&format!("{}: ", self.place())).unwrap_or(&text).to_owned()
    }

    /// The field it concerns, as `table key, field`; less where less is known.
    #[must_use]
    pub fn field(&self) -> String {
        let words = |parts: &[Option<&str>]| parts.iter().flatten().copied().collect::<Vec<_>>().join(" ");
        match self {
            Self::Record { table, key, field, .. } => {
                let record = words(&[Some(table), key.as_deref()]);
                field.as_ref().map_or(record.clone(), |field| format!("{record}, {field}"))
            }
            Self::Duplicate { table, key, .. } => words(&[Some(table), Some(key)]),
            Self::NoSuchMaterial { table, material, .. } => {
                format!("{}, material", words(&[Some(table), Some(material)]))
            }
            Self::UnknownTable { table, .. } => table.clone(),
            Self::Stray { name, .. } => name.clone(),
            Self::Syntax { .. } | Self::Incoherent { .. } => String::new(),
        }
    }

    /// What to do about it.
    #[must_use]
    pub fn hint(&self) -> String {
        match self {
            Self::Syntax { .. } => {
                "Correct the line; text stands in double quotes, numbers use a point, lists stand in [ ]."
                    .to_owned()
            }
            Self::Stray { .. } => "Put it below a header such as [[substance]] or [[material]].".to_owned(),
            Self::UnknownTable { known, .. } => format!("Use one of: {}.", known.join(", ")),
            Self::Record { .. } => "Compare the record with the schema in data/README.md.".to_owned(),
            Self::Duplicate { .. } => "Keep one of the two, or give one another key.".to_owned(),
            Self::NoSuchMaterial { .. } => {
                "Write the key of a material as `levigate materials` lists it.".to_owned()
            }
            Self::Incoherent { .. } => "Correct the record, or define what it refers to.".to_owned(),
        }
    }
}

/// Everything that stopped a set of texts from being read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FactsError {
    /// At least one fault, in the order of the texts.
    pub faults: Vec<Fault>,
}

impl fmt::Display for FactsError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (index, fault) in self.faults.iter().enumerate() {
            if index > 0 {
                writeln!(f)?;
            }
            write!(f, "{fault} ({})", fault.hint())?;
        }
        Ok(())
    }
}

impl std::error::Error for FactsError {}
