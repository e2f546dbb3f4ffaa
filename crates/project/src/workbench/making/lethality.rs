//! What a hold does to microbes.

use crate::diagnostic::Diagnostic;
use crate::flow_table::LoggedTemperature;
use crate::making_file::lethality::read;
use levigate_facts::Facts;
use levigate_process::heat::lethality as of;
pub use levigate_process::heat::lethality::{Kind, LethalityReading, OrganismReading, UnitReading};

/// What a hold does to the organisms of the facts; `logged` is a record that stands for that of the file.
///
/// # Errors
/// All that is wrong with the text.
pub fn lethality(
    facts: &Facts,
    (file, text): (&str, &str),
    logged: Option<&LoggedTemperature>,
) -> Result<LethalityReading, Vec<Diagnostic>> {
    let known = &facts.making.heat_resistance;
    let question = read(file, text, known, logged.map(|logged| logged.record.clone()))?;
    let named = |key: &String| question.organisms.is_empty() || question.organisms.contains(key);
    let organisms: Vec<_> =
        known.iter().filter(|(key, _)| named(key)).map(|(_, organism)| organism).collect();
    let units: Vec<_> = facts.making.lethal_units.values().collect();
    let mut reading = of::lethality(&question.asked, &organisms, &units);
    reading.notes.extend(logged.map(LoggedTemperature::note));
    Ok(reading)
}
