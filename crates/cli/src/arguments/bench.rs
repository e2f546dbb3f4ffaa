//! `flow read`: readings of bench instruments.

use clap::Args;
use std::path::PathBuf;

/// `flow read`
#[derive(Debug, Args)]
pub(crate) struct FlowRead {
    /// TOML with the readings; - is standard input
    #[arg(value_name = "FILE")]
    pub(crate) file: PathBuf,
    /// Write only the points, as the TOML that `flow fit -` takes
    #[arg(long)]
    pub(crate) curve: bool,
}

/// Example of `flow read`.
pub(super) const READ_HELP: &str =
    "A file with one table for every reading (levigate schema flow-read describes all of it):

  [[disc]]
  name = \"gel, lot 4\"
  spindle = \"disc, 27 mm\"
  full_scale_un_m = 718.7                  # torque of the instrument
  speed_rpm = [5, 10, 20]
  reading_percent = [32.6, 41.5, 52.9]     # or dial_viscosity_mpa_s
  temperature_c = 25.0
  age_h = 24
  error_percent = 1.0                      # of each torque or time
  [[cup]]
  cup = \"iso-2431-4\"
  seconds = 62.0
  density_kg_m3 = 1010
  [[run]]
  timed = \"mark\"                           # or front, dose with dose_ml and width_mm
  tilt_deg = 30
  thickness_mm = 1.0
  distance_mm = 50
  seconds = 20.0
  [[cone]]
  radius_mm = 20
  angle_deg = 1.0
  speed_rpm = [1, 10, 100]
  torque_un_m = [10, 40, 160]

levigate flow read bench.toml --curve | levigate flow fit -";
