//! What the verbs of making take: each one TOML file, or `-`.

use clap::{Args, Subcommand};
use std::path::PathBuf;

/// The verbs of making.
#[derive(Debug, Subcommand)]
pub(crate) enum MakingVerb {
    /// Water lost from an open vessel, by the model and by the balance, and what to make up
    #[command(after_help = EVAPORATE_HELP)]
    Evaporate(MakingFile),
    /// What a hold does to microbes, over the temperature record: lethal units and log reductions
    #[command(after_help = LETHALITY_HELP)]
    Lethality(MakingFile),
}

/// A verb that takes one file.
#[derive(Debug, Args)]
pub(crate) struct MakingFile {
    /// TOML file with the question
    #[arg(value_name = "FILE")]
    pub(crate) file: PathBuf,
}

/// Example of `evaporate`.
const EVAPORATE_HELP: &str =
    "A file with batch, surface and temperatures (levigate schema evaporate describes all of it):

  batch_g = 200
  water_percent = 92
  vessel = \"beaker-250-ml\"
  open_percent = 50
  [air]
  temperature_c = 22
  humidity_percent = 45
  [record]
  points = [[0, 25], [15, 75], [35, 75], [75, 30]]   # minutes and C
  [balance]
  tare_g = 182.46
  gross_g = 375.62
  samples_g = 2.10
  [[content]]
  name = \"Hypromellose\"
  percent = 1.2";

/// Example of `lethality`.
const LETHALITY_HELP: &str =
    "A file with a temperature record (levigate schema lethality describes all of it):

  ph = 5.2
  water_activity = 0.98
  [record]
  points = [[0, 25], [50, 75], [70, 75], [170, 25]]   # minutes and C; unit = \"h\" or \"s\" otherwise";
