//! Balances, pH meters and thermometers that write lines of text: how they are joined, and what a line says.
//!
//! Every maker writes another line. What they share is a number, a unit and perhaps a mark of whether it has settled; a [`LinePattern`] says where they stand.
//! Who reads the lines off a port stands behind [`Instruments`].

mod file;
mod line;

pub use file::{SCHEMA, read};
pub use line::{Line, LinePattern, PatternError, Unread};

use serde::Serialize;

/// What an instrument reads.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Reads {
    /// Mass, in g, mg or kg.
    Mass,
    /// pH.
    Ph,
    /// Temperature, C.
    Temperature,
}

impl Reads {
    /// Words of the file, in the order of the variants.
    pub const WORDS: [&str; 3] = ["mass", "ph", "temperature"];

    /// Reads a word of the file.
    #[must_use]
    pub fn of(word: &str) -> Option<Self> {
        [Self::Mass, Self::Ph, Self::Temperature]
            .into_iter()
            .zip(Self::WORDS)
            .find_map(|(one, known)| (known == word).then_some(one))
    }
}

/// When an instrument writes.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Writes {
    /// All the time.
    #[default]
    Always,
    /// When its key is pressed; what it then writes is meant.
    OnKey,
}

impl Writes {
    /// Words of the file, in the order of the variants.
    pub const WORDS: [&str; 2] = ["always", "on key"];
}

/// Parity of a serial line.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Parity {
    /// None.
    #[default]
    None,
    /// Even.
    Even,
    /// Odd.
    Odd,
}

impl Parity {
    /// Words of the file, in the order of the variants.
    pub const WORDS: [&str; 3] = ["none", "even", "odd"];
}

/// How bytes travel on a serial line.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SerialLine {
    /// Name of the port on this machine.
    pub port: String,
    /// Bits per second.
    pub baud: u32,
    /// Bits of a character, 7 or 8.
    pub data_bits: u8,
    /// Parity.
    pub parity: Parity,
    /// Stop bits, 1 or 2.
    pub stop_bits: u8,
}

/// An instrument on a port of this machine.
#[derive(Clone, Debug)]
pub struct Instrument {
    /// Its name at the bench, which the entries carry.
    pub name: String,
    /// What it reads.
    pub reads: Reads,
    /// When it writes.
    pub writes: Writes,
    /// Its serial line.
    pub serial: SerialLine,
    /// What its lines look like.
    pub pattern: LinePattern,
}

/// How an instrument stands now.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct InstrumentShown {
    /// Its name.
    pub name: String,
    /// What it reads.
    pub reads: Reads,
    /// When it writes.
    pub writes: Writes,
    /// What it showed last; nothing before its first line, and once the line is broken.
    pub line: Option<Line>,
    /// How many lines it has written.
    pub count: u64,
    /// Since its last line, ms.
    pub age_ms: u64,
    /// Why nothing can be read: the port is not there, the line cannot be understood.
    pub trouble: Option<String>,
}

/// The instruments of this machine.
pub trait Instruments: std::fmt::Debug + Send + Sync {
    /// How each stands now.
    fn shown(&self) -> Vec<InstrumentShown>;
}
