//! What the verbs of making take: each one TOML file, or `-`.

use clap::{Args, Subcommand};
use std::path::PathBuf;

/// The verbs of making.
#[derive(Debug, Subcommand)]
pub(crate) enum MakingVerb {
    /// Water lost from an open vessel, by the model and by the balance, and what to make up
    #[command(after_help = EVAPORATE_HELP)]
    Evaporate(RecordedFile),
    /// Warming, holding and cooling of a batch on a hot plate or in a jacketed vessel: times, losses, distance to boiling
    #[command(after_help = HEAT_HELP)]
    Heat(MakingFile),
    /// What a hold does to microbes, over the temperature record: lethal units and log reductions
    #[command(after_help = LETHALITY_HELP)]
    Lethality(RecordedFile),
    /// A batch turned in a vessel: power, flow, blending, vortex and air, grains, and how its gum takes up water
    #[command(after_help = MIX_HELP)]
    Mix(MakingOfFormula),
    /// From the bench to the plant: the speed of each rule beside the others, times, and the cost of the batch
    #[command(after_help = SCALE_HELP)]
    Scale(MakingOfFormula),
    /// What buffers say of a pH electrode: slope, offset, how sure a pH read through it is
    #[command(after_help = CALIBRATE_HELP)]
    Calibrate(MakingFile),
    /// The next addition of an acid or base at the beaker, from the formula and the readings so far
    #[command(after_help = ADJUST_HELP)]
    Adjust(MakingFile),
    /// How sure a batch is: every line, pH, acids, viscosity, cost; what contributes most and what would help
    #[command(after_help = UNCERTAINTY_HELP)]
    Uncertainty(Uncertainty),
    /// How a formula is made: steps with their reasons, or what the steps of the file break
    #[command(after_help = PROCEDURE_HELP)]
    Procedure(MakingProcedure),
    /// What the balances, meters and thermometers on serial ports of this machine show
    #[command(after_help = INSTRUMENTS_HELP)]
    Instruments(JoinedInstruments),
}

/// `instruments`
#[derive(Debug, Args)]
pub(crate) struct JoinedInstruments {
    /// TOML file of the instruments
    #[arg(value_name = "FILE")]
    pub(crate) file: PathBuf,
    /// Listen for this many seconds
    #[arg(long, value_name = "SECONDS", default_value_t = 3, value_parser = clap::value_parser!(u16).range(1..=3600))]
    pub(crate) listen: u16,
    /// Say how this line would be understood, instead of listening; may be given more than once
    #[arg(long, value_name = "LINE")]
    pub(crate) line: Vec<String>,
}

/// Example of `instruments`.
const INSTRUMENTS_HELP: &str = "A file with the instruments (levigate schema instruments describes all of it):

  [[instrument]]
  name = \"balance 1\"
  reads = \"mass\"
  port = \"/dev/ttyUSB0\"
  baud = 9600
  line = \"{mark} {number} {unit}\"
  settled = [\"still\"]

Speed, bits and parity must be those the instrument is set to. Nothing is ever written to it. levigate serve --instruments FILE shows the readings
at the beaker. An instrument that types like a keyboard needs no file.";

/// `uncertainty`
#[derive(Debug, Args)]
pub(crate) struct Uncertainty {
    /// Formula file, or a TOML file whose uncertainty table names one
    #[arg(value_name = "FILE")]
    pub(crate) file: PathBuf,
    /// Batch, g, instead of that of the file
    #[arg(long, value_name = "G")]
    pub(crate) batch: Option<f64>,
    /// Make so many draws [default: until two digits stand still, at most 100000]
    #[arg(long, value_name = "N")]
    pub(crate) draws: Option<usize>,
    /// Seed [default: 1]; the same seed gives the same digits
    #[arg(long, value_name = "N")]
    pub(crate) seed: Option<u64>,
    /// Market whose limits count [default: eu]
    #[arg(long, value_name = "MARKET")]
    pub(crate) market: Option<String>,
}

/// A verb that takes one file.
#[derive(Debug, Args)]
pub(crate) struct MakingFile {
    /// TOML file with the question
    #[arg(value_name = "FILE")]
    pub(crate) file: PathBuf,
}

/// A verb that takes one file and perhaps the record of a logger.
#[derive(Debug, Args)]
pub(crate) struct RecordedFile {
    /// The file.
    #[command(flatten)]
    pub(crate) question: MakingFile,
    /// CSV of a logger with time and temperature, instead of the record in the file
    #[arg(long, value_name = "CSV")]
    pub(crate) record: Option<PathBuf>,
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
/// `procedure`
#[derive(Debug, Args)]
pub(crate) struct MakingProcedure {
    /// Formula file, with steps of its own or without
    #[arg(value_name = "FORMULA")]
    pub(crate) formula: PathBuf,
    /// Write the steps as they stand in a formula file, to be changed there
    #[arg(long, conflicts_with = "json")]
    pub(crate) toml: bool,
}

/// Example of `procedure`.
const PROCEDURE_HELP: &str = "Without [[step]] in the file the procedure is proposed from the raw materials; with them, the steps are held \
    against what the handling of the raw materials asks, and every rule they break is told.\n\n\
    levigate procedure gel.toml --toml >> gel.toml takes the proposal into the file, to be changed there:\n\n  \
    [[step]]\n  does = \"add\"\n  lines = [{ material = \"Water\", share_percent = 33 }, { material = \"Glycerin\" }]\n  \
    temperature_c = [20, 25]\n  stirring = \"brisk\"";

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
  batch_g = 200
  speed_rpm = 900
  [pilot]
  vessel = \"kettle-10-l\"
  batch_kg = 8
  jacket = { heat_c = 95, cool_c = 15 }
  [plant]
  vessel = \"vessel-1200-l\"
  batch_kg = 1000
  jacket = { heat_c = 95, cool_c = 15 }
  [heat]
  to_c = 75
  hold_min = 20
  down_to_c = 40
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
/// Example of `heat`.
const HEAT_HELP: &str =
    "A file with batch, vessel and temperatures (levigate schema heat describes all of it):

  batch_kg = 1000
  water_percent = 88
  vessel = \"vessel-1200-l\"
  open_percent = 5
  from_c = 20
  to_c = 75
  hold_min = 20
  down_to_c = 40
  rpm = 60
  activation_kj_mol = 18
  [jacket]                     # or [plate] with power_w; without either the usual hot plate
  heat_c = 95
  heat_flow_kg_h = 12000
  cool_c = 15
  [liquid]
  model = \"power-law\"
  K = 3.0
  n = 0.4";

/// Example of `lethality`.
const LETHALITY_HELP: &str =
    "A file with a temperature record (levigate schema lethality describes all of it):

  ph = 5.2
  water_activity = 0.98
  [record]
  points = [[0, 25], [50, 75], [70, 75], [170, 25]]   # minutes and C; unit = \"h\" or \"s\" otherwise";
/// Example of `calibrate`.
const CALIBRATE_HELP: &str =
    "A file with the buffers that were read (levigate schema calibrate describes all of it):

  [calibration]
  temperature_c = 25
  points = [
    { buffer = \"standard-phthalate\", mv = 174.3 },
    { buffer = \"standard-phosphate\", mv = 6.8 },
  ]
  window = [4.5, 5.5]        # what is to be read
  [[sample]]
  mv = 100.0";
/// Example of `adjust`.
const ADJUST_HELP: &str =
    "A formula file with what happens at the beaker (levigate schema adjust describes all of it):

  [product]
  name = \"Acid toner\"
  type = \"toner\"
  site = \"face\"
  leave_on = true
  [batch]
  size_g = 250
  balance_g = 0.01
  [[phase]]
  name = \"A\"
  line = [
    { material = \"Water\", remainder = true },
    { material = \"Glycolic acid 70 %\", percent = 10 },
    { material = \"Sodium hydroxide 20 %\", to_ph = 3.8 },
  ]
  [adjust]
  with = \"Sodium hydroxide 20 %\"
  window = [3.7, 3.9]
  [[bench]]
  ph = 1.62                  # a settled reading; or mv, or trace = [[seconds, pH], ...]
  [[bench]]
  add_g = 20.00
  [[bench]]
  ph = 3.61";

/// Example of `uncertainty`.
const UNCERTAINTY_HELP: &str =
    "A formula, alone or with its balances and lots (levigate schema uncertainty describes them):

  [product]
  name = \"Citrate toner\"
  type = \"toner\"
  site = \"face\"
  leave_on = true
  [target]
  ph = [4.0, 4.4]
  [[phase]]
  name = \"A\"
  [[phase.line]]
  material = \"Water\"
  remainder = true
  [[phase.line]]
  material = \"Sodium benzoate\"
  percent = 0.30
  [[phase.line]]
  material = \"Citric acid\"
  percent = 0.15
  [uncertainty]
  batch_g = 200
  meter_ph = 0.02
  [[uncertainty.balance]]
  readability_g = 0.1
  [[uncertainty.balance]]
  readability_g = 0.01
  lines = [2, 3]";
