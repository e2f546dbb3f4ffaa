//! What `flow dispense`, `flow drain`, `flow cream` and `flow life` take.

use clap::Args;
use std::path::PathBuf;

/// `flow dispense`, `flow drain`, `flow cream`
#[derive(Debug, Args)]
pub(crate) struct FlowUse {
    /// Formula file, or a file with a liquid table and the sizes that differ from the usual ones
    #[arg(value_name = "FILE")]
    pub(crate) file: PathBuf,
    /// Sizes that differ from the usual ones, for a formula
    #[arg(long, value_name = "FILE")]
    pub(crate) sizes: Option<PathBuf>,
}

/// `flow life`
#[derive(Debug, Args)]
pub(crate) struct FlowLife {
    /// Formula file, or a file with a liquid table
    #[arg(value_name = "FILE")]
    pub(crate) file: PathBuf,
}

/// Example of `flow dispense`.
pub(super) const DISPENSE_HELP: &str =
    "A file with a liquid (levigate schema flow-dispense describes all of it):

  [liquid]
  model = \"herschel-bulkley\"
  tau0 = 20.0
  K = 10.0
  n = 0.5
  density_kg_m3 = 1010
  factor = 1.2               # it may be so many times thicker or thinner
  [pack]
  drive = \"pump\"
  stroke_ml = 0.5
  dip_tube = { bore_mm = 2.0, length_mm = 120 }";
/// Example of `flow drain`.
pub(super) const DRAIN_HELP: &str = "A file with a liquid (levigate schema flow-drain describes all of it):

  [liquid]
  points = [[0.1, 40.0], [10, 3.0], [1000, 0.2]]   # shear rate in 1/s, viscosity in Pa s
  [dose]
  dose_ml = 0.3
  angle_deg = 60";
/// Example of `flow cream`.
pub(super) const CREAM_HELP: &str = "A file with a liquid (levigate schema flow-cream describes all of it):

  [liquid]
  model = \"cross\"
  eta0 = 20.0
  eta_inf = 0.01
  lambda = 5.0
  m = 0.7
  [drops]
  diameter_um = 3.0
  spread = 1.5
  [centrifuge]
  rpm = 3500";
/// Example of `flow life`.
pub(super) const LIFE_HELP: &str = "A file with a liquid:

  [liquid]
  model = \"power-law\"
  K = 3.0
  n = 0.4";
