//! Heat: temperature records, what a hold does to microbes, warming and cooling of vessels, water lost on the way.

pub mod evaporation;
pub mod film;
pub mod lethality;
pub mod record;
pub mod settings;
pub mod warming;

pub use record::{RecordError, TemperatureRecord};
