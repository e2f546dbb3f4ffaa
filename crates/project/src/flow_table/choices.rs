//! What a person says about a table, beside what stands in it.

use super::header::Column;
use super::ledger::Fault;
use super::units::Meaning;
use super::words::parted;
use crate::records::DecimalSign;
use serde::{Deserialize, Serialize};

/// What the person says about a table, beside what stands in it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Choices {
    /// Worksheet; all when empty.
    pub sheet: String,
    /// What columns hold.
    pub columns: Vec<ColumnChoice>,
    /// The decimal sign, where it is not to be told from the cells.
    pub decimal: Option<DecimalSign>,
    /// Part a run of points where the shear rates turn.
    pub split_sweeps: bool,
    /// Leave points below this torque out.
    pub torque_floor: Option<TorqueFloor>,
    /// When the strong shear before a recovery ended, s on the clock of the file, where the table does not say it.
    pub shear_ended_s: Option<f64>,
}

impl Default for Choices {
    fn default() -> Self {
        Self {
            sheet: String::new(),
            columns: Vec::new(),
            decimal: None,
            split_sweeps: true,
            torque_floor: None,
            shear_ended_s: None,
        }
    }
}

/// What a column holds, as the person says.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct ColumnChoice {
    /// Name as it stands in the file, or `#2` for the second column.
    pub name: String,
    /// What it holds.
    pub meaning: Meaning,
    /// Its unit; as written in the file when empty.
    #[serde(default)]
    pub unit: String,
}

impl ColumnChoice {
    /// Reads `NAME=MEANING` or `NAME=MEANING:UNIT`.
    ///
    /// # Errors
    /// What is wrong with it, and what to do.
    pub fn read(text: &str) -> Result<Self, (String, String)> {
        let known: Vec<&str> = Meaning::ALL.iter().map(|meaning| meaning.word()).collect();
        let what_now = format!("write NAME=MEANING or NAME=MEANING:UNIT; meanings are {}", known.join(", "));
        let Some((name, rest)) = text.rsplit_once('=').filter(|(name, _)| !name.trim().is_empty()) else {
            return Err((format!("\"{text}\" does not say what a column means"), what_now));
        };
        let (meaning, unit) = rest.split_once(':').unwrap_or((rest, ""));
        let Some(meaning) = Meaning::from_word(meaning) else {
            return Err((format!("\"{meaning}\" is not the meaning of a column"), what_now));
        };
        let unit = unit.trim();
        if !unit.is_empty() && meaning.unit(unit).is_none() {
            let units: Vec<&str> = meaning.units().iter().map(|unit| unit.symbol).collect();
            let units = if units.is_empty() {
                "it has none".to_owned()
            } else {
                format!("use one of {}", units.join(", "))
            };
            return Err((format!("\"{unit}\" is not a unit of {}", meaning.words()), units));
        }
        Ok(Self { name: name.trim().to_owned(), meaning, unit: unit.to_owned() })
    }
}

impl Choices {
    pub(super) fn of(&self, at: usize, name: &str, label: &str) -> Option<&ColumnChoice> {
        self.columns.iter().find(|choice| {
            let wanted = choice.name.trim();
            wanted == name
                || wanted == label
                || wanted.strip_prefix('#').and_then(|place| place.parse::<usize>().ok()) == Some(at + 1)
        })
    }

    /// A choice for a column that is not there is a slip of the hand.
    pub(super) fn all_found(&self, columns: &[Column]) -> Result<(), Fault> {
        let lost = self.columns.iter().find(|choice| {
            !columns
                .iter()
                .any(|column| self.of(column.at, &column.name, &parted(&column.name).0) == Some(choice))
        });
        lost.map_or(Ok(()), |choice| {
            let names: Vec<String> = columns.iter().map(|column| format!("\"{}\"", column.name)).collect();
            Err(Fault::new(
                "no-such-column",
                format!("no column is called \"{}\"", choice.name),
                format!("the columns are {}; #2 is the second one", names.join(", ")),
            ))
        })
    }
}

/// The least torque whose points count.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct TorqueFloor {
    /// Value.
    pub value: f64,
    /// Unit: `%` of full torque, or one of torque.
    pub unit: String,
}

impl TorqueFloor {
    pub(super) fn column<'c>(&self, columns: &'c [Column]) -> Result<(&'c Column, f64), Fault> {
        let of = |meaning: Meaning| {
            let (unit, _) = meaning.unit(&self.unit)?;
            let column = columns.iter().find(|column| column.meaning == meaning)?;
            Some((column, unit.si(self.value)))
        };
        of(Meaning::Reading).or_else(|| of(Meaning::Torque)).ok_or_else(|| {
            Fault::new(
                "no-torque",
                format!("no column holds a torque that {} {} could be held against", self.value, self.unit),
                "leave the least torque away, or say which column holds the torque: NAME=torque:mN.m or NAME=reading",
            )
        })
    }
}
