//! The file of `lethality`.
//!
//! ```toml
//! medium = "water"               # water (usual), oil, powder
//! ph = 5.2
//! water_activity = 0.98
//! organisms = ["escherichia-coli"]   # by key; all of the facts, where it is left out
//! [record]
//! points = [[0, 25], [50, 75], [70, 75], [170, 25]]   # time and temperature in C
//! unit = "min"                   # s, min (usual), h
//! ```

use super::{finished, read_record};
use crate::diagnostic::Diagnostic;
use crate::flow_file::number;
use crate::toml_reader::{Reader, parsed};
use levigate_process::heat::TemperatureRecord;
use levigate_process::heat::lethality::{Asked, Medium};
use std::collections::BTreeMap;

/// `levigate schema lethality`.
pub const SCHEMA: &str = include_str!("lethality.schema.json");

/// A question with the organisms it names; none means all.
#[derive(Clone, Debug, PartialEq)]
pub struct LethalityFile {
    /// The question.
    pub asked: Asked,
    /// Keys of organisms.
    pub organisms: Vec<String>,
}

/// Reads a question; `known` are the organisms of the facts, `logged` a record from elsewhere that stands for `[record]`.
///
/// # Errors
/// All that is wrong with the text, each with its place.
pub fn read<O>(
    file: &str,
    text: &str,
    known: &BTreeMap<String, O>,
    logged: Option<TemperatureRecord>,
) -> Result<LethalityFile, Vec<Diagnostic>> {
    let table = parsed(file, text)?;
    let top = table.get_ref();
    let mut reader = Reader::new(file, text);
    reader.known_fields(top, "", &["title", "medium", "ph", "water_activity", "organisms", "record"]);
    reader.string(top, "", "title");
    let medium = reader.choice(top, "", "medium", &Medium::WORDS).and_then(|word| Medium::of(&word));
    let ph = number(&mut reader, top, "", "ph", [0.0, 14.0]);
    let water_activity = number(&mut reader, top, "", "water_activity", [0.0, 1.0]);
    let organisms = reader.strings(top, "", "organisms");
    for organism in organisms.iter().filter(|organism| !known.contains_key(*organism)) {
        let nearest = known.keys().min_by_key(|key| strsim::damerau_levenshtein(key, organism));
        let what_now =
            nearest.map_or_else(|| "the facts know none".to_owned(), |key| format!("did you mean {key}?"));
        reader.wrong(top, "", "organisms", format!("no organism is called \"{organism}\""), &what_now);
    }
    let own = read_record(&mut reader, top, (file, text));
    if logged.is_none() && !top.contains_key("record") {
        let what_now =
            "write [record] with points of time and temperature, or name a file of them with --record";
        reader.missing(&(0..0), "", "record", what_now);
    }
    let found = logged.or(own).map(|record| LethalityFile {
        asked: Asked { record, medium: medium.unwrap_or_default(), water_activity, ph },
        organisms,
    });
    finished(reader, found)
}
