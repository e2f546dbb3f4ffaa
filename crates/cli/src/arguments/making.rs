//! What the verbs of making take: each one TOML file, or `-`.

use clap::{Args, Subcommand};
use std::path::PathBuf;

/// The verbs of making.
#[derive(Debug, Subcommand)]
pub(crate) enum MakingVerb {
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

/// Example of `lethality`.
const LETHALITY_HELP: &str =
    "A file with a temperature record (levigate schema lethality describes all of it):

  ph = 5.2
  water_activity = 0.98
  [record]
  points = [[0, 25], [50, 75], [70, 75], [170, 25]]   # minutes and C; unit = \"h\" or \"s\" otherwise";
