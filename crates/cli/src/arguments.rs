//! What can be typed on the command line.

mod bench;
mod bringing;
mod in_use;
mod making;
mod papers;
mod people;
mod proof;
mod records;

pub(crate) use bench::FlowRead;
pub(crate) use bringing::{Days, Import, ImportTable, ImportWhat, Months, Onto, Shares};
pub(crate) use in_use::{FlowLife, FlowUse};
pub(crate) use making::{
    JoinedInstruments, MakingFile, MakingOfFormula, MakingProcedure, MakingVerb, RecordedFile, Uncertainty,
};
pub(crate) use papers::{Files, Label, OnPaper, Sheet, SheetOf, Written};
pub(crate) use people::{People, PeopleAdd, PeopleChange, PeopleList, PeopleVerb};
pub(crate) use proof::{
    AnalyseFile, ChallengeAsked, DesignFile, Microbes, Optimise, PlaneAsked, ProofVerb, QuestionOrTable,
    Substitute,
};
pub(crate) use records::{
    Backup, BatchAdvise, BatchCourse, BatchDeviations, BatchEnter, BatchExport, BatchList, BatchShow,
    BatchSign, BatchTypeBack, BatchVerb, EnterChallenge, EnterLot, ExperimentDraw, ExperimentEnter,
    ExperimentShow, ExperimentVerb, ExportForm, LotShow, RecordsVerb, RecordsWhat, Restore, StudyDue,
    StudyEnter, StudyLossesAsked, StudyShow, StudyTrendAsked, StudyVerb, TraceAsked,
};

use clap::{Args, Parser, Subcommand, ValueEnum};
use jiff::civil::Date;
use rust_decimal::Decimal;
use std::net::IpAddr;
use std::path::PathBuf;

/// Everything that can be typed.
#[derive(Debug, Parser)]
#[command(
    name = "levigate",
    version = levigate_facts::SHIPPED_LINE,
    about = "A workbench for formulators of water-based leave-on cosmetics",
    long_about = "Levigate takes a formula and says what follows from it: composition, pH, what is left of the preservative at \
                  that pH, free metal, limits, label, cost and how well it can be weighed. Each number comes with its interval \
                  and its evidence.\n\nWithout a verb it opens the sample workspace in a browser.",
    after_help = "A file written as - is read from standard input.\n\
                  Exit: 0 done, whatever was found; 2 the input is wrong; 1 it could not be done; assess --fail-on: 3.",
    max_term_width = 100
)]
pub(crate) struct Arguments {
    /// What holds for every verb.
    #[command(flatten)]
    pub(crate) common: Common,
    /// The verb.
    #[command(subcommand)]
    pub(crate) verb: Option<Verb>,
}

/// What holds for every verb.
#[derive(Clone, Debug, Default, Args)]
pub(crate) struct Common {
    /// Answer as JSON
    #[arg(long, global = true)]
    pub(crate) json: bool,
    /// A folder of your own facts (TOML), laid over the shipped ones; may be given more than once
    #[arg(long, global = true, value_name = "DIR")]
    pub(crate) facts: Vec<PathBuf>,
}

/// The verbs.
#[derive(Debug, Subcommand)]
pub(crate) enum Verb {
    /// Everything that follows from a formula, the findings first
    Assess(Assess),
    /// The batch sheet of a formula: what to weigh, in which order, and how well it can be weighed
    Sheet(Sheet),
    /// The species, pH and free metals of a bare solution
    Speciate(Speciate),
    /// How much of an acid or base brings a formula to a pH, and the curve on the way
    Titrate(Titrate),
    /// The ingredient list and warnings of a formula for a market as of a date
    Label(Label),
    /// Find raw materials by part of a name, INCI name, CAS number or function
    Materials(Materials),
    /// The trials of a formula in a workspace: lots, readings beside predictions, observations
    Trials(Trials),
    /// How well readings were foretold from the trials before them, and what trials taught
    #[command(after_help = PREDICTIONS_HELP)]
    Predictions(Predictions),
    /// The lots of raw materials in a workspace
    Lots(Lots),
    /// Enter a trial, a reading, an observation, a flow curve or a lot into a workspace
    Enter(Enter),
    /// Bring a formula, raw materials or lots in from a spreadsheet: all of it or nothing
    Import(Import),
    /// Who logs in to a workspace, and what they may do
    People(People),
    /// How it flows: fit measured curves; out of the pack, over the skin, on the shelf
    Flow(Flow),
    /// Making it.
    #[command(flatten)]
    Making(MakingVerb),
    /// Proving it.
    #[command(flatten)]
    Proof(ProofVerb),
    /// Batches, lots on the shelf, the records as a whole
    #[command(flatten)]
    Records(RecordsVerb),
    /// The facts Levigate works with
    Data(Data),
    /// The form of the files Levigate reads
    Schema(Schema),
    /// Open a workspace in the browser
    Serve(Serve),
    /// Write completions for a shell
    Completions(Completions),
    /// Write the manual page
    Manual,
}

/// `assess`
#[derive(Debug, Args)]
pub(crate) struct Assess {
    /// Formula file
    #[arg(value_name = "FORMULA")]
    pub(crate) formula: PathBuf,
    /// The day whose rules and prices count [default: today, UTC]
    #[arg(long, value_name = "YYYY-MM-DD")]
    pub(crate) date: Option<Date>,
    /// Market whose rules count, instead of those named in the formula
    #[arg(long, value_name = "MARKET")]
    pub(crate) market: Option<String>,
    /// End with exit code 3 when a finding is at least this grave
    #[arg(long, value_name = "GRAVITY")]
    pub(crate) fail_on: Option<FailOn>,
}

/// `speciate`
#[derive(Debug, Args)]
pub(crate) struct Speciate {
    /// Solution file
    #[arg(value_name = "FILE")]
    pub(crate) solution: PathBuf,
}

/// `titrate`
#[derive(Debug, Args)]
pub(crate) struct Titrate {
    /// Formula file
    #[arg(value_name = "FORMULA")]
    pub(crate) formula: PathBuf,
    /// Acid or base raw material to add
    #[arg(long, value_name = "MATERIAL")]
    pub(crate) with: String,
    /// The pH wanted
    #[arg(long, value_name = "PH")]
    pub(crate) to: Decimal,
}

/// `materials`
#[derive(Debug, Args)]
pub(crate) struct Materials {
    /// What you remember of it; none lists all
    #[arg(value_name = "WORDS")]
    pub(crate) words: Vec<String>,
    /// Most raw materials to list
    #[arg(long, value_name = "NUMBER", default_value_t = 1000)]
    pub(crate) most: usize,
}

/// Which workspace.
#[derive(Clone, Debug, Default, Args)]
pub(crate) struct Where {
    /// Folder of the workspace [default: the sample workspace]
    #[arg(long, value_name = "DIR")]
    pub(crate) workspace: Option<PathBuf>,
}

/// `trials`
#[derive(Debug, Args)]
pub(crate) struct Trials {
    /// Name of a formula in the workspace or part of it, its identity, or a formula file with its name
    #[arg(value_name = "FORMULA-OR-NAME")]
    pub(crate) formula: String,
    /// Which trial came from which, drawn as a tree, with how the readings of each stand
    #[arg(long, conflicts_with = "between")]
    pub(crate) tree: bool,
    /// What lies between two trials and what each difference did to everything that is read, by their numbers
    #[arg(long, num_args = 2, value_names = ["TRIAL", "TRIAL"])]
    pub(crate) between: Option<Vec<u32>>,
    /// Which workspace.
    #[command(flatten)]
    pub(crate) place: Where,
}

/// `predictions`
#[derive(Debug, Args)]
pub(crate) struct Predictions {
    /// Name of a formula in the workspace or part of it, its identity, or a formula file with its name [default: all formulas]
    #[arg(value_name = "FORMULA-OR-NAME")]
    pub(crate) formula: Option<String>,
    /// What would have been foretold without what trials taught
    #[arg(long)]
    pub(crate) untaught: bool,
    /// Which workspace.
    #[command(flatten)]
    pub(crate) place: Where,
}

/// Examples of `predictions`.
const PREDICTIONS_HELP: &str =
    "The prediction beside a reading knows the trials before it and never the reading itself.

  levigate predictions
  levigate predictions \"hand gel\"
  levigate predictions \"hand gel\" --untaught --json";

/// `lots`
#[derive(Debug, Args)]
pub(crate) struct Lots {
    /// Raw material by any of its names; none lists the lots of all
    #[arg(value_name = "MATERIAL")]
    pub(crate) material: Option<String>,
    /// What stands on the shelf, in the order in which it should be used: state, what is left, until when, where
    #[arg(long)]
    pub(crate) shelf: bool,
    /// Which workspace.
    #[command(flatten)]
    pub(crate) place: Where,
}

/// `enter`
#[derive(Debug, Args)]
pub(crate) struct Enter {
    /// What to enter.
    #[command(subcommand)]
    pub(crate) what: Entry,
}

/// What can be entered.
#[derive(Debug, Subcommand)]
pub(crate) enum Entry {
    /// A trial of a saved version
    Trial(EnterTrial),
    /// A reading on a trial
    Reading(EnterReading),
    /// An observation on a trial
    Observation(EnterObservation),
    /// A measured flow curve on a trial
    Curve(Box<EnterCurve>),
    /// A challenge test, from a table of its counts (CSV, .xlsx): all of it or nothing
    #[command(after_long_help = records::CHALLENGE_TABLE_HELP)]
    Challenge(Box<EnterChallenge>),
    /// A lot of a raw material
    Lot(EnterLot),
}

/// Who enters it and where.
#[derive(Clone, Debug, Default, Args)]
pub(crate) struct By {
    /// Who enters it [default: the name of your account]
    #[arg(long, value_name = "NAME")]
    pub(crate) who: Option<String>,
    /// Which workspace.
    #[command(flatten)]
    pub(crate) place: Where,
}

/// `enter trial`
#[derive(Debug, Args)]
pub(crate) struct EnterTrial {
    /// Name of the formula or part of it, or a formula file with its name
    #[arg(value_name = "FORMULA-OR-NAME")]
    pub(crate) formula: String,
    /// Saved version that is made [default: the newest]
    #[arg(long = "of-version", value_name = "N")]
    pub(crate) version: Option<u32>,
    /// Copy the trial of this number: size, making and lots
    #[arg(long, value_name = "N")]
    pub(crate) copy: Option<u32>,
    /// What is changed against it
    #[arg(long, value_name = "TEXT", default_value = "")]
    pub(crate) changed: String,
    /// Batch size with its unit, such as 200g or 1.5kg
    #[arg(long, value_name = "MASS", default_value = "")]
    pub(crate) size: String,
    /// How it is made
    #[arg(long, value_name = "TEXT", default_value = "")]
    pub(crate) process: String,
    /// The day it was made [default: today]
    #[arg(long, value_name = "YYYY-MM-DD", default_value = "")]
    pub(crate) made: String,
    /// Lot taken for a line, counted from 1: 8=MA-2608-14; may be given more than once
    #[arg(long = "lot", value_name = "LINE=CODE")]
    pub(crate) lots: Vec<String>,
    /// Who and where.
    #[command(flatten)]
    pub(crate) by: By,
}

/// `enter reading`
#[derive(Debug, Args)]
pub(crate) struct EnterReading {
    /// Name of the formula or part of it, or a formula file with its name
    #[arg(value_name = "FORMULA-OR-NAME")]
    pub(crate) formula: String,
    /// Number of the trial
    #[arg(value_name = "TRIAL")]
    pub(crate) trial: u32,
    /// What was read: ph, viscosity, density, weight, temperature, or a name of your own
    #[arg(value_name = "QUANTITY")]
    pub(crate) quantity: String,
    /// The value as the instrument shows it
    #[arg(value_name = "VALUE", allow_hyphen_values = true)]
    pub(crate) value: String,
    /// Unit, where it is not the usual one
    #[arg(long, value_name = "UNIT", default_value = "")]
    pub(crate) unit: String,
    /// How the sample was presented: neat, "10 % in water", or in words
    #[arg(long, value_name = "WORDS", default_value = "neat")]
    pub(crate) method: String,
    /// Temperature of the sample, C
    #[arg(long, value_name = "C", default_value = "", allow_hyphen_values = true)]
    pub(crate) temperature: String,
    /// Age of the sample: 24h, 7d, "4 weeks"
    #[arg(long, value_name = "TIME", default_value = "")]
    pub(crate) age: String,
    /// The instrument
    #[arg(long, value_name = "NAME", default_value = "")]
    pub(crate) instrument: String,
    /// A further condition: spindle="disc, 30 mm"; may be given more than once
    #[arg(long = "condition", value_name = "NAME=VALUE")]
    pub(crate) conditions: Vec<String>,
    /// Remark
    #[arg(long, value_name = "TEXT", default_value = "")]
    pub(crate) note: String,
    /// Who and where.
    #[command(flatten)]
    pub(crate) by: By,
}

/// `enter observation`
#[derive(Debug, Args)]
pub(crate) struct EnterObservation {
    /// Name of the formula or part of it, or a formula file with its name
    #[arg(value_name = "FORMULA-OR-NAME")]
    pub(crate) formula: String,
    /// Number of the trial
    #[arg(value_name = "TRIAL")]
    pub(crate) trial: u32,
    /// What you saw, smelled or felt
    #[arg(value_name = "TEXT")]
    pub(crate) text: String,
    /// A photo: PNG, JPEG or WebP, at most 8 MB
    #[arg(long, value_name = "FILE")]
    pub(crate) photo: Option<PathBuf>,
    /// What the photo shows, for those who cannot see it
    #[arg(long, value_name = "TEXT", default_value = "")]
    pub(crate) shows: String,
    /// Who and where.
    #[command(flatten)]
    pub(crate) by: By,
}

/// `enter curve`
#[derive(Debug, Args)]
pub(crate) struct EnterCurve {
    /// Name of the formula or part of it, or a formula file with its name
    #[arg(value_name = "FORMULA-OR-NAME")]
    pub(crate) formula: String,
    /// Number of the trial
    #[arg(value_name = "TRIAL")]
    pub(crate) trial: u32,
    /// Measured table, as for flow fit
    #[arg(value_name = "FILE")]
    pub(crate) file: PathBuf,
    /// Which curve of the file, by its name in flow fit; needed where there are several
    #[arg(long, value_name = "NAME", default_value = "")]
    pub(crate) curve: String,
    /// The model you take for it: herschel-bulkley, cross, ...
    #[arg(long, value_name = "MODEL", default_value = "")]
    pub(crate) model: String,
    /// Temperature of the sample, C [default: that of the file]
    #[arg(long, value_name = "C", default_value = "", allow_hyphen_values = true)]
    pub(crate) temperature: String,
    /// Age of the sample: 24h, 7d, "4 weeks"
    #[arg(long, value_name = "TIME", default_value = "")]
    pub(crate) age: String,
    /// The instrument
    #[arg(long, value_name = "NAME", default_value = "")]
    pub(crate) instrument: String,
    /// The geometry: "cone, 2 degrees, 60 mm"
    #[arg(long, value_name = "WORDS", default_value = "")]
    pub(crate) geometry: String,
    /// Waiting before and at each point
    #[arg(long, value_name = "WORDS", default_value = "")]
    pub(crate) waiting: String,
    /// Remark
    #[arg(long, value_name = "TEXT", default_value = "")]
    pub(crate) note: String,
    /// How the table is read and fitted.
    #[command(flatten)]
    pub(crate) table: TableAsked,
    /// Who and where.
    #[command(flatten)]
    pub(crate) by: By,
}

/// `flow`
#[derive(Debug, Args)]
pub(crate) struct Flow {
    /// What to ask about the flow.
    #[command(subcommand)]
    pub(crate) what: FlowVerb,
}

/// The verbs of `flow`.
#[derive(Debug, Subcommand)]
pub(crate) enum FlowVerb {
    /// Fit flow models to a measured curve, or laws of recovery to readings over time; rank them and say what the points do not settle
    Fit(FlowFit),
    /// Out of the pack: pressure, force, dose, refill of a pump
    #[command(after_help = in_use::DISPENSE_HELP)]
    Dispense(FlowUse),
    /// Over the skin: does it run off, how far a dose runs, does it stand, level, drag
    #[command(after_help = in_use::DRAIN_HELP)]
    Drain(FlowUse),
    /// On the shelf: creaming of drops, what a centrifuge run stands for, bubbles
    #[command(after_help = in_use::CREAM_HELP)]
    Cream(FlowUse),
    /// Along the life of the product: shear rates with stress and viscosity, words of a brief
    #[command(after_help = in_use::LIFE_HELP)]
    Life(FlowLife),
    /// Predict the flow curve of a formula and the viscosity its brief speaks of
    Predict(FlowPredict),
    /// How much of a thickener gives the viscosity wanted, and which levels to make when that is not sure
    Level(FlowLevel),
    /// Bench readings (cup, timed run, cylinders, cone, plates, disc) as viscosities and points, and what keeps two from being compared
    #[command(after_help = bench::READ_HELP)]
    Read(FlowRead),
}

/// `flow predict`
#[derive(Debug, Args)]
pub(crate) struct FlowPredict {
    /// Formula file, or with --workspace the name of a formula in it: its newest version
    #[arg(value_name = "FORMULA")]
    pub(crate) formula: PathBuf,
    /// Temperature [default: that of the brief, else 25 C]
    #[arg(long, value_name = "C", allow_negative_numbers = true)]
    pub(crate) temperature: Option<Decimal>,
    /// Shear rate to state the viscosity at, 1/s; may be given several times [default: decades from 0.01 to 1000]
    #[arg(long, value_name = "RATE", allow_negative_numbers = true)]
    pub(crate) shear: Vec<f64>,
    /// Spindle of the viscometer in words ("disc, 27 mm") [default: that of the brief]
    #[arg(long, value_name = "SPINDLE")]
    pub(crate) spindle: Option<String>,
    /// Its speed, rpm [default: that of the brief]
    #[arg(long, value_name = "RPM", allow_negative_numbers = true)]
    pub(crate) speed: Option<Decimal>,
    /// Full-scale torque of the viscometer, uN m [default: 718.7]
    #[arg(long, value_name = "UN_M", allow_negative_numbers = true)]
    pub(crate) torque: Option<Decimal>,
    /// Folder of a workspace whose trials and certificates are learned from; FORMULA may then be the name of a formula in it
    #[arg(long, value_name = "DIR")]
    pub(crate) workspace: Option<PathBuf>,
}

/// `flow level`
#[derive(Debug, Args)]
#[command(
    after_long_help = "What is left out is taken from [target.viscosity] of the formula, and the material may be left out where there is \
                             one thickener:\n\n  levigate flow level gel.toml --material \"Hypromellose\" --target 6000 --spindle \"disc 27 mm\" --speed 20"
)]
pub(crate) struct FlowLevel {
    /// Formula file, or with --workspace the name of a formula in it: its newest version
    #[arg(value_name = "FORMULA")]
    pub(crate) formula: PathBuf,
    /// Raw material whose level is sought [default: the only thickener]
    #[arg(long, value_name = "NAME")]
    pub(crate) material: Option<String>,
    /// Viscosity wanted, mPa.s [default: the middle of the brief's window]
    #[arg(long, value_name = "MPA_S", allow_negative_numbers = true)]
    pub(crate) target: Option<f64>,
    /// Spindle in words, such as "disc 27 mm" [default: as in the brief]
    #[arg(long, value_name = "WORDS", conflicts_with = "shear")]
    pub(crate) spindle: Option<String>,
    /// Speed, rpm [default: as in the brief]
    #[arg(long, value_name = "RPM", allow_negative_numbers = true, conflicts_with = "shear")]
    pub(crate) speed: Option<Decimal>,
    /// Shear rate at which the viscosity is wanted instead, 1/s
    #[arg(long, value_name = "RATE", allow_negative_numbers = true)]
    pub(crate) shear: Option<f64>,
    /// Temperature, C [default: as in the brief, else 25]
    #[arg(long, value_name = "C", allow_negative_numbers = true)]
    pub(crate) temperature: Option<Decimal>,
    /// Folder of a workspace whose trials and certificates are learned from; FORMULA may then be the name of a formula in it
    #[arg(long, value_name = "DIR")]
    pub(crate) workspace: Option<PathBuf>,
}

/// `flow fit`
#[derive(Debug, Args)]
#[command(
    after_long_help = "A TOML with the points in it is taken too, on standard input or as a file (levigate schema flow-fit):\n\n  \
                             [[curve]]\n  name = \"T7\"\n  temperature_c = 25.0\n  \
                             shear_rate_1_s = [0.1, 1.0, 10.0, 100.0]\n  stress_pa = [6.1, 8.2, 12.5, 30.1]\n\n\
                             Readings over time at one low shear rate are a recovery after a strong shear; a table with the intervals before, strong \
                             and after is parted. As TOML:\n\n  [[recovery]]\n  time_s = [0, 5, 10, 20, 40, 80, 160, 320]\n  \
                             viscosity_mpa_s = [3010, 4060, 4980, 6460, 8720, 10750, 11830, 12010]"
)]
pub(crate) struct FlowFit {
    /// Measured table: CSV, tabbed or spaced text, .xlsx, or a TOML with the points in it
    #[arg(value_name = "FILE")]
    pub(crate) file: PathBuf,
    /// Fit this model alone: newton, power-law, herschel-bulkley, cross, ...; for a recovery first-order or stretched [default: all, ranked]
    #[arg(long, value_name = "MODEL")]
    pub(crate) model: Option<String>,
    /// How the table is read and fitted.
    #[command(flatten)]
    pub(crate) table: TableAsked,
}

/// How a measured table is read and fitted.
#[derive(Clone, Debug, Args)]
pub(crate) struct TableAsked {
    /// How residuals are weighed
    #[arg(long, value_name = "WEIGHTS", value_enum, default_value_t = FitWeights::Log)]
    pub(crate) weights: FitWeights,
    /// Fit only shear rates from MIN to MAX, 1/s; an end may be left out
    #[arg(long, value_name = "MIN..MAX")]
    pub(crate) shear: Option<String>,
    /// What a column holds, by its name or place: "Visc.=viscosity:cP", "#2=stress:Pa"; may be given more than once
    #[arg(long = "column", value_name = "NAME=MEANING[:UNIT]")]
    pub(crate) columns: Vec<String>,
    /// Worksheet of a workbook [default: all]
    #[arg(long, value_name = "NAME", default_value = "")]
    pub(crate) sheet: String,
    /// The decimal sign [default: told from the numbers]
    #[arg(long, value_name = "SIGN", value_enum)]
    pub(crate) decimal: Option<DecimalSignTyped>,
    /// Fit sweeps up and down as one curve
    #[arg(long)]
    pub(crate) together: bool,
    /// Leave out points below this torque, such as 10% or 0.5uN.m
    #[arg(long, value_name = "TORQUE")]
    pub(crate) least_torque: Option<String>,
    /// Spindle of readings at several speeds, with the full-scale torque: "disc, 27 mm, 700 uN.m"
    #[arg(long, value_name = "WORDS", default_value = "")]
    pub(crate) spindle: String,
    /// When the strong shear before a recovery ended, s on the clock of the file [default: as the table shows, else 0]
    #[arg(long, value_name = "SECONDS", allow_negative_numbers = true)]
    pub(crate) shear_ended: Option<f64>,
}

/// The decimal sign.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum DecimalSignTyped {
    /// 0.5
    Point,
    /// 0,5
    Comma,
}

/// How residuals are weighed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum FitWeights {
    /// Logarithm of model over measured: every decade counts the same
    Log,
    /// Model over measured, less one
    Relative,
    /// Difference of the stresses: the highest decade decides
    Linear,
}

/// `data`
#[derive(Debug, Args)]
pub(crate) struct Data {
    /// What to do with the facts.
    #[command(subcommand)]
    pub(crate) what: DataVerb,
}

/// The verbs of `data`.
#[derive(Debug, Subcommand)]
pub(crate) enum DataVerb {
    /// Prove schema, sources, CAS check digits, ranges, units, dates and duplicates
    Check,
}

/// `schema`
#[derive(Debug, Args)]
pub(crate) struct Schema {
    /// Which form
    #[arg(value_name = "WHAT")]
    pub(crate) what: SchemaOf,
}

/// Forms that can be described.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum SchemaOf {
    /// The formula file, as JSON Schema
    Formula,
    /// The TOML of `flow fit`, as JSON Schema
    FlowFit,
    /// The file of `flow read`, as JSON Schema
    FlowRead,
    /// The file of flow dispense, as JSON Schema
    FlowDispense,
    /// The file of flow drain, as JSON Schema
    FlowDrain,
    /// The file of flow cream, as JSON Schema
    FlowCream,
    /// The file of evaporate, as JSON Schema
    Evaporate,
    /// The file of heat, as JSON Schema
    Heat,
    /// The file of lethality, as JSON Schema
    Lethality,
    /// The file of mix, as JSON Schema
    Mix,
    /// The file of scale, as JSON Schema
    Scale,
    /// The file of calibrate, as JSON Schema
    Calibrate,
    /// The file of adjust, as JSON Schema
    Adjust,
    /// The file of uncertainty, as JSON Schema
    Uncertainty,
    /// The file of batch enter, as JSON Schema
    BatchEnter,
    /// The file of challenge, as JSON Schema
    Challenge,
    /// The file of microbes, as JSON Schema
    Microbes,
    /// The file of shelf-life, as JSON Schema
    ShelfLife,
    /// The file of pack, as JSON Schema
    Pack,
    /// The file of arrhenius, as JSON Schema
    Arrhenius,
    /// The file of design, as JSON Schema
    Design,
    /// The file of optimise, as JSON Schema
    Optimise,
    /// The file of substitute, as JSON Schema
    Substitute,
    /// The file of analyse, as JSON Schema
    Analyse,
    /// The file of instruments, as JSON Schema
    Instruments,
}

/// `serve`
#[derive(Debug, Default, Args)]
pub(crate) struct Serve {
    /// Folder of the workspace; made when it is new [default: the sample workspace]
    #[arg(long, value_name = "DIR")]
    pub(crate) workspace: Option<PathBuf>,
    /// Port on this machine [default: 7207, or the next free one]
    #[arg(long, value_name = "N")]
    pub(crate) port: Option<u16>,
    /// Print the address only, open no browser
    #[arg(long)]
    pub(crate) no_browser: bool,
    /// File of the instruments on serial ports of this machine, whose readings the pages at the beaker then show
    #[arg(long, value_name = "FILE")]
    pub(crate) instruments: Option<PathBuf>,
    /// Listen in the network too, encrypted and with login, on this address of the machine [default: the one it reaches others by]
    #[arg(long, value_name = "ADDRESS", num_args = 0..=1)]
    pub(crate) lan: Option<Option<IpAddr>>,
    /// Port in the network [default: 7447]
    #[arg(long, value_name = "N", requires = "lan")]
    pub(crate) lan_port: Option<u16>,
    /// A name by which the network knows this machine; may be given more than once
    #[arg(long, value_name = "NAME", requires = "lan")]
    pub(crate) lan_name: Vec<String>,
}

/// `completions`
#[derive(Debug, Args)]
pub(crate) struct Completions {
    /// Shell
    #[arg(value_name = "SHELL")]
    pub(crate) shell: clap_complete::Shell,
}

/// How grave a finding must be to fail.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum FailOn {
    /// Do not make it like this
    Stop,
    /// Something must change before the product can be proved
    Change,
    /// A test, a document or a decision is missing
    Check,
    /// Worth knowing
    Know,
}
