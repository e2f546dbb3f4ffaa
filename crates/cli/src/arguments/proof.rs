//! What the verbs of proof take: each one TOML file, or `-`.

use super::MakingFile;
use clap::Subcommand;

/// The verbs of proof.
#[derive(Debug, Subcommand)]
pub(crate) enum ProofVerb {
    /// A challenge test held against the criteria of standards, side by side; how fast each organism dies
    #[command(after_help = CHALLENGE_HELP)]
    Challenge(MakingFile),
    /// How long an attribute stays within its limits, from readings over time in one batch or several
    #[command(after_help = SHELF_LIFE_HELP)]
    ShelfLife(MakingFile),
    /// Which blends of parts to make, so that a model of them is settled best by so many runs, in random order
    #[command(after_help = DESIGN_HELP)]
    Design(MakingFile),
    /// How fast a content is lost at several temperatures, and what that says of storage
    #[command(after_help = ARRHENIUS_HELP)]
    Arrhenius(MakingFile),
}

/// Example of `design`.
const DESIGN_HELP: &str = "A file with the parts of a mixture (levigate schema design describes all of it):

  title = \"three thickeners\"
  total_percent = 1.4
  model = \"quadratic\"
  runs = 10
  step_percent = 0.1
  [[part]]
  name = \"Xanthan gum\"
  low_percent = 0.1
  high_percent = 0.8
  [[part]]
  name = \"Sclerotium gum\"
  high_percent = 1.0
  [[part]]
  name = \"Hydroxyethylcellulose\"
  low_percent = 0.2
  high_percent = 1.2";
/// Example of `challenge`.
const CHALLENGE_HELP: &str = "A file with counts (levigate schema challenge describes all of it):

  title = \"serum, trial 4, pH 5.4\"
  [neutraliser]
  recovered_percent = 82
  alone_percent = 95
  [[organism]]
  name = \"Pseudomonas aeruginosa\"
  kind = \"bacteria\"
  initial = 4.7e5
  counts = [[7, 240]]
  below = [[14, 10], [28, 10]]
  [[organism]]
  name = \"Candida albicans\"
  kind = \"yeast\"
  initial = 6.1e4
  counts = [[7, 3.0e3], [14, 420]]
  below = [[28, 10]]
  [[organism]]
  name = \"Aspergillus brasiliensis\"
  kind = \"mould\"
  initial = 3.2e4
  counts = [[7, 2.9e4], [14, 2.1e4], [28, 2.6e3]]";
/// Example of `shelf-life`.
const SHELF_LIFE_HELP: &str =
    "A file with readings over time (levigate schema shelf-life describes all of it):

  attribute = \"ascorbic acid\"
  unit = \"% of label\"
  condition = \"25 C\"
  time_unit = \"weeks\"
  lower = 90
  wanted_months = 24
  [[batch]]
  name = \"trial 3\"
  readings = [[0, 101.3], [4, 100.2], [8, 99.6], [12, 98.3], [16, 97.9], [20, 96.6], [24, 96.1]]";
/// Example of `arrhenius`.
const ARRHENIUS_HELP: &str =
    "A file with readings at two temperatures or more (levigate schema arrhenius describes all of it):

  attribute = \"ascorbic acid\"
  unit = \"% of label\"
  time_unit = \"weeks\"
  order = \"first\"
  lower = 90
  store_c = [25, 30]
  [[condition]]
  temperature_c = 25
  readings = [[0, 101.3], [4, 100.2], [8, 99.6], [12, 98.3], [16, 97.9], [20, 96.6], [24, 96.1]]
  [[condition]]
  temperature_c = 40
  readings = [[0, 101.3], [4, 97.8], [8, 94.9], [12, 91.6]]";
