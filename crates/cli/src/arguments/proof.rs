//! What the verbs of proof take: each one TOML file, or `-`.

use super::{MakingFile, Where};
use clap::{Args, Subcommand};
use levigate_measure::desirability::Wish;
use levigate_project::workbench::proof::analyse::wish_of;
use std::path::PathBuf;

/// The verbs of proof.
#[derive(Debug, Subcommand)]
pub(crate) enum ProofVerb {
    /// A challenge test held against the criteria of standards, side by side; how fast each organism dies
    #[command(after_help = CHALLENGE_HELP)]
    Challenge(ChallengeAsked),
    /// Counts of a finished product held against its limit, organisms that must not be there, what water and raw materials bring, low-risk properties
    #[command(after_help = MICROBES_HELP)]
    Microbes(Microbes),
    /// How long an attribute stays within its limits, from readings over time in one batch or several
    #[command(after_help = SHELF_LIFE_HELP)]
    ShelfLife(QuestionOrTable),
    /// Which blends of parts to make, so that a model of them is settled best by so many runs, in random order
    #[command(after_help = DESIGN_HELP)]
    Design(DesignFile),
    /// The better formula: levels of lines that may move, so that an aim is met best and every wish is kept
    #[command(after_help = OPTIMISE_HELP)]
    Optimise(Optimise),
    /// A raw material is gone or dear: what could stand in its place, and what that does to each formula that uses it
    #[command(after_help = SUBSTITUTE_HELP)]
    Substitute(Substitute),
    /// What runs say: a model of blends and settings with its limits, the best blend by wishes; or an equation fitted to data
    #[command(after_help = ANALYSE_HELP)]
    Analyse(AnalyseFile),
    /// What a pack lets in and out: oxygen and what it can take, water that leaves and when that is too much
    #[command(after_help = PACK_HELP)]
    Pack(MakingFile),
    /// How fast a content is lost at several temperatures, and what that says of storage
    #[command(after_help = ARRHENIUS_HELP)]
    Arrhenius(QuestionOrTable),
}

/// A verb that takes a file, or a table and what stands beside it.
#[derive(Debug, Args)]
pub(crate) struct QuestionOrTable {
    /// TOML file with the question, or a table of the readings (CSV, .xlsx); - for standard input
    #[arg(value_name = "FILE")]
    pub(crate) file: PathBuf,
    /// What a file would say beside a table of readings: lower=90; may be given more than once
    #[arg(long, value_name = "KEY=VALUE")]
    pub(crate) with: Vec<String>,
}

/// `challenge`
#[derive(Debug, Args)]
pub(crate) struct ChallengeAsked {
    /// TOML file with the question, or a table of the counts (CSV, .xlsx); - for standard input
    #[arg(value_name = "FILE", required_unless_present = "kept")]
    pub(crate) file: Option<PathBuf>,
    /// What a file would say beside a table of counts: neutraliser.recovered_percent=82; may be given more than once
    #[arg(long, value_name = "KEY=VALUE")]
    pub(crate) with: Vec<String>,
    /// The tests kept with a formula of a workspace, by its name or part of it
    #[arg(long, value_name = "FORMULA", conflicts_with_all = ["file", "with"])]
    pub(crate) kept: Option<String>,
    /// One of them, by its number
    #[arg(long, value_name = "N", requires = "kept")]
    pub(crate) test: Option<u32>,
    /// Which workspace.
    #[command(flatten)]
    pub(crate) place: Where,
}

/// `optimise`
#[derive(Debug, Args)]
pub(crate) struct Optimise {
    /// Formula file with an optimise table, or a TOML file whose optimise table names one
    #[arg(value_name = "FILE")]
    pub(crate) file: PathBuf,
    /// Write the first answer as a formula file
    #[arg(long, conflicts_with = "json")]
    pub(crate) toml: bool,
    /// End the search after so many formulas [default: when it is done]
    #[arg(long, value_name = "N")]
    pub(crate) most_formulas: Option<usize>,
    /// Market whose limits count [default: eu]
    #[arg(long, value_name = "MARKET")]
    pub(crate) market: Option<String>,
}

/// `substitute`
#[derive(Debug, Args)]
pub(crate) struct Substitute {
    /// Raw material that is gone, by any of its names
    #[arg(value_name = "MATERIAL", required_unless_present = "question")]
    pub(crate) material: Option<String>,
    /// Formula files; - reads one from standard input
    #[arg(value_name = "FORMULA", required_unless_present_any = ["question", "workspace"])]
    pub(crate) formulas: Vec<PathBuf>,
    /// A TOML file that says all of it, instead of MATERIAL and FORMULA (levigate schema substitute); - reads it from standard input
    #[arg(long, value_name = "FILE", conflicts_with_all = ["material", "formulas", "with", "most"])]
    pub(crate) question: Option<PathBuf>,
    /// Every formula of the workspace in this folder that uses it, in its newest version
    #[arg(long, value_name = "DIR", conflicts_with = "formulas")]
    pub(crate) workspace: Option<PathBuf>,
    /// Put this raw material in its place; may be given more than once [default: the nearest ones]
    #[arg(long, value_name = "MATERIAL")]
    pub(crate) with: Vec<String>,
    /// How many of the nearest [default: 5]
    #[arg(long, value_name = "N")]
    pub(crate) most: Option<usize>,
    /// Market whose limits count, where a formula of a workspace names none [default: eu]
    #[arg(long, value_name = "MARKET")]
    pub(crate) market: Option<String>,
}

/// Examples of `substitute`.
const SUBSTITUTE_HELP: &str = "Each formula that uses it is assessed anew with each candidate; the amount follows the function where a rule is known.

  levigate substitute \"Xanthan gum\" toner.toml gel.toml
  levigate substitute \"Sodium benzoate\" toner.toml --with \"Potassium sorbate\"
  levigate substitute \"Xanthan gum\" --workspace DIR

As a file (--question), which levigate schema substitute describes:

  [substitute]
  material = \"Xanthan gum\"
  with = [\"Sclerotium gum\"]
  formulas = [\"toner.toml\"]";

/// Example of `optimise`.
const OPTIMISE_HELP: &str =
    "A formula with what may move, aims and wishes (levigate schema optimise describes all of it):

  [product]
  name = \"Toner\"
  type = \"toner\"
  site = \"face\"
  leave_on = true
  [target]
  ph = [4.8, 5.2]
  [[phase]]
  name = \"A\"
  [[phase.line]]
  material = \"Water\"
  remainder = true
  [[phase.line]]
  material = \"Glycerin\"
  percent = 4
  [[phase.line]]
  material = \"Propanediol\"
  percent = 3
  [[phase.line]]
  material = \"Sodium benzoate\"
  percent = 0.4
  [[phase.line]]
  material = \"Lactic acid 90 %\"
  to_ph = 5.0
  [[price]]
  material = \"glycerin\"
  per_kg = \"2.10\"
  currency = \"EUR\"
  date = \"2026-09-01\"
  [[price]]
  material = \"propanediol\"
  per_kg = \"6.50\"
  currency = \"EUR\"
  date = \"2026-09-01\"
  [[optimise.aim]]
  of = \"cost_per_kg\"
  [[optimise.line]]
  material = \"Glycerin\"
  least = 1
  most = 4
  [[optimise.line]]
  material = \"Propanediol\"
  least = 1
  most = 5
  optional = true
  [[optimise.line]]
  material = \"Sodium benzoate\"
  least = 0.2
  most = 0.5
  [[optimise.wish]]
  sum = [\"Glycerin\", \"Propanediol\"]
  least = 6
  [[optimise.wish]]
  of = \"free_preservative_mg_kg\"
  material = \"Sodium benzoate\"
  least = 250";
/// `microbes`
#[derive(Debug, Args)]
pub(crate) struct Microbes {
    /// TOML file with the counts, or -
    #[arg(value_name = "FILE")]
    pub(crate) file: PathBuf,
    /// Formula file whose class, water, pH and contents are taken
    #[arg(long, value_name = "FORMULA")]
    pub(crate) formula: Option<PathBuf>,
}

/// Example of `microbes`.
const MICROBES_HELP: &str = "A file with plates (levigate schema microbes describes all of it):

  title = \"serum, batch 7\"
  class = \"other\"
  [[count]]
  of = \"bacteria\"
  plates = [[0.1, 44], [0.1, 38], [0.01, 4], [0.01, 6]]
  [[count]]
  of = \"fungi\"
  plates = [[0.1, 0], [0.1, 0]]
  [[looked_for]]
  organism = \"Pseudomonas aeruginosa\"
  found = false
  in_g = 1
  [water]
  cfu_per_ml = 40
  percent = 82
  [low_risk]
  ph = 5.4
  water_activity = 0.97
  alcohol_percent = 0
  water_percent = 82";
/// `design`
#[derive(Debug, Args)]
pub(crate) struct DesignFile {
    /// TOML file with the question
    #[arg(value_name = "FILE")]
    pub(crate) file: PathBuf,
    /// Formula whose lines of the parts are filled in for every run
    #[arg(long, value_name = "FORMULA", requires = "into")]
    pub(crate) formula: Option<PathBuf>,
    /// Folder the formulas of the runs are written to; none that is there is written over
    #[arg(long, value_name = "FOLDER", requires = "formula")]
    pub(crate) into: Option<PathBuf>,
}

/// `analyse`
#[derive(Debug, Args)]
pub(crate) struct AnalyseFile {
    /// TOML file with the question, or a table whose first row names its columns; - for standard input
    #[arg(value_name = "FILE")]
    pub(crate) file: PathBuf,
    /// Column that was measured [default: the last]; may be given more than once
    #[arg(long, value_name = "COLUMN")]
    pub(crate) response: Vec<String>,
    /// Column that is a setting, not a part; may be given more than once
    #[arg(long, value_name = "COLUMN")]
    pub(crate) setting: Vec<String>,
    /// linear, quadratic, special-cubic or full-cubic [default: what the data carry]
    #[arg(long, value_name = "MODEL")]
    pub(crate) model: Option<String>,
    /// Lay the region out, for three parts
    #[arg(long)]
    pub(crate) grid: bool,
    /// Fit this equation instead: \"y = b1*(1 - exp(-b2*x))\"
    #[arg(long, value_name = "EQUATION")]
    pub(crate) equation: Option<String>,
    /// Starting values: b1=200,b2=0.001
    #[arg(long, value_name = "NAME=VALUE", value_delimiter = ',', value_parser = started, requires = "equation")]
    pub(crate) start: Vec<(String, f64)>,
    /// Limits of the parameters along the profile too
    #[arg(long)]
    pub(crate) profile: bool,
    /// What is wished of a column, beside or in place of the file: tack=smaller:2:5, foam=larger:20:60, viscosity=target:9000:12000:15000
    #[arg(long, value_name = "NAME=WISH", value_parser = wish_of)]
    pub(crate) wish: Vec<(String, Wish)>,
    /// Write what the runs say across three parts, or two settings, as a figure: contour lines with their numbers
    #[arg(long, value_name = "FILE.svg", conflicts_with = "equation")]
    pub(crate) plot: Option<PathBuf>,
    /// What is drawn.
    #[command(flatten)]
    pub(crate) plane: PlaneAsked,
}

/// What a figure across parts shows.
#[derive(Debug, Args)]
pub(crate) struct PlaneAsked {
    /// Draw this column [default: the first]; wishes for all wishes together
    #[arg(long, value_name = "COLUMN", default_value = "")]
    pub(crate) of: String,
    /// Vary these: three parts, or two settings [default: the first]
    #[arg(long, value_name = "NAME,NAME,NAME", value_delimiter = ',')]
    pub(crate) across: Vec<String>,
    /// Hold one at a level [default: the middle of the region]; may be given more than once
    #[arg(long, value_name = "NAME=LEVEL", value_parser = held_at)]
    pub(crate) held: Vec<(String, String)>,
}

/// One level that is held.
fn held_at(text: &str) -> Result<(String, String), String> {
    let (name, level) = text.rsplit_once('=').ok_or("write temperature=30")?;
    Ok((name.trim().to_owned(), level.trim().to_owned()))
}

/// One starting value.
fn started(text: &str) -> Result<(String, f64), String> {
    let (name, value) = text.split_once('=').ok_or("write b1=0.5")?;
    let value: f64 = value.trim().parse().map_err(|_| format!("{value} is not a number; write b1=0.5"))?;
    if value.is_finite() { Ok((name.trim().to_owned(), value)) } else { Err("it must be finite".to_owned()) }
}

/// Example of `analyse`.
const ANALYSE_HELP: &str = "A table, or a file with runs (levigate schema analyse describes all of it):

  title = \"three thickeners, yield stress\"
  columns = [\"Xanthan gum\", \"Sclerotium gum\", \"Hydroxyethylcellulose\", \"yield stress\"]
  runs = [[0.8, 0.4, 0.2, 9.1], [0.8, 0.4, 0.2, 8.7], [0.1, 1.0, 0.3, 6.2], [0.1, 0.1, 1.2, 1.1],
          [0.1, 0.1, 1.2, 1.4], [0.45, 0.7, 0.25, 8.9], [0.45, 0.25, 0.7, 5.2], [0.1, 0.55, 0.75, 3.1],
          [0.4, 0.5, 0.5, 6.4], [0.4, 0.5, 0.5, 6.0]]
  [[response]]
  name = \"yield stress\"
  unit = \"Pa\"
  wish = \"target\"
  low = 5
  target = 7
  high = 9
  [[ask]]
  levels = [0.3, 0.6, 0.5]
  measured = [5.9]";
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
const CHALLENGE_HELP: &str =
    "A table of counts: levigate challenge counts.csv --with neutraliser.recovered_percent=82 --with neutraliser.alone_percent=95

  organism;kind;initial;day 7;day 14;day 28
  Pseudomonas aeruginosa;bacteria;4.7e5;240 260;<10;<10

Or a file with counts (levigate schema challenge describes all of it):

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
    "A table of readings, with what else must be known beside it: levigate shelf-life readings.csv --with lower=90

  batch;weeks;ascorbic acid (% of label)
  trial 3;0;101.3
  trial 3;4;100.2

Or a file with readings over time (levigate schema shelf-life describes all of it):

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
    "A table of readings, with what else must be known beside it: levigate arrhenius warm.csv --with lower=90

  temperature;weeks;ascorbic acid (% of label)
  25;0;101.3
  40;4;97.8

Or a file with readings at two temperatures or more (levigate schema arrhenius describes all of it):

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

/// Example of `pack`.
const PACK_HELP: &str =
    "A file with what lets air in or what water was lost (levigate schema pack describes all of it):

  fill_g = 31.5
  water_percent = 65
  [oxygen]
  headspace_ml = 5
  doses = 60
  air_per_dose_ml = [0.0, 1.0]
  ingress_ul_day = 4
  months = 12
  [[takes_up]]
  name = \"ascorbic acid\"
  percent = 15.2
  molar_mass_g_mol = 176.12
  per_oxygen = [1, 2]
  [water]
  loss_g = [0.20, 0.26]
  over_days = 84
  tested = { temperature_c = 40, humidity_percent = 20 }
  stored = { temperature_c = 25, humidity_percent = 50 }
  limit_percent = 3";
