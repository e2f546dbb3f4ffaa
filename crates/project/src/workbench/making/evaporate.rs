//! How much water a batch loses, by the model and by the balance.

use super::needed;
use crate::diagnostic::Diagnostic;
use crate::flow_table::LoggedTemperature;
use crate::making_file::evaporate::read;
use levigate_facts::Facts;
use levigate_process::heat::evaporation as of;
pub use levigate_process::heat::evaporation::{Balance, ContentReading, EvaporationReading};

/// Water lost; `logged` is a record that stands for that of the file.
///
/// # Errors
/// All that is wrong with the text.
pub fn evaporate(
    facts: &Facts,
    (file, text): (&str, &str),
    logged: Option<&LoggedTemperature>,
) -> Result<EvaporationReading, Vec<Diagnostic>> {
    let usual = needed((file, text), facts.making.room.as_ref(), "room")?;
    let doubt = needed((file, text), facts.making.evaporation.as_ref(), "evaporation")?;
    let asked = read(file, text, &facts.mixing, usual, logged.map(|logged| logged.record.clone()))?;
    let mut reading = of::evaporation(&asked, doubt);
    reading.notes.extend(logged.map(LoggedTemperature::note));
    Ok(reading)
}
