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
    /// A batch turned in a vessel: power, flow, blending, vortex and air, grains, and how its gum takes up water
    #[command(after_help = MIX_HELP)]
    Mix(MakingOfFormula),
    /// From the bench to the plant: the speed of each rule beside the others, times, and the cost of the batch
    #[command(after_help = SCALE_HELP)]
    Scale(MakingOfFormula),
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

/// A verb that takes one file, and a formula for the liquid of it.
#[derive(Debug, Args)]
pub(crate) struct MakingOfFormula {
    /// TOML file with the question
    #[arg(value_name = "FILE")]
    pub(crate) file: PathBuf,
    /// Formula file whose predicted flow is taken, instead of a liquid table
    #[arg(long, value_name = "FORMULA")]
    pub(crate) formula: Option<PathBuf>,
}

/// Example of `mix`.
const MIX_HELP: &str = "A file with a vessel, a speed and a liquid (levigate schema mix describes all of it):

  speed_rpm = 600
  batch_kg = 0.2
  vessel = \"beaker-250-ml\"       # or sizes under [vessel]
  [liquid]
  model = \"power-law\"
  K = 3.0
  n = 0.4
  factor = 1.3                     # it may be so many times thicker or thinner
  [start]
  viscosity_mpa_s = 1.0            # before it thickens
  [gum]
  kind = \"xanthan\"
  gum_g = 1.0
  polyol_g = 6.0
  readings = [[5, 900], [15, 1900], [30, 2600], [60, 2950], [1440, 3050]]   # minutes and mPa s";
/// Example of `scale`.
const SCALE_HELP: &str =
    "A file with a bench, a plant and a liquid (levigate schema scale describes all of it):

  [liquid]
  model = \"power-law\"
  K = 0.8
  n = 0.5
  [bench]
  vessel = \"beaker-250-ml\"
  batch_kg = 0.2
  speed_rpm = 900
  [pilot]
  vessel = \"kettle-10-l\"
  batch_kg = 8
  [plant]
  vessel = \"vessel-1200-l\"
  batch_kg = 1000
  [[addition]]
  name = \"gum in glycerol\"
  minutes = 2
  kg = 0.01
  powder = true
  [making]
  material_per_kg = \"3.4743\"
  loss_percent = 4
  fill_ml = 30
  give_away_percent = 1.5
  [[making.pack]]
  name = \"bottle and pump\"
  each = \"0.63\"
  scrap_percent = 2
  [[making.work]]
  name = \"weighing, mixing, filling\"
  hours = 12
  count = 4
  per_hour = \"22\"";
/// Example of `lethality`.
const LETHALITY_HELP: &str =
    "A file with a temperature record (levigate schema lethality describes all of it):

  ph = 5.2
  water_activity = 0.98
  [record]
  points = [[0, 25], [50, 75], [70, 75], [170, 25]]   # minutes and C; unit = \"h\" or \"s\" otherwise";
