//! What can be typed about batches, lots on the shelf and the records as a whole.

use super::papers::{OnPaper, Written};
use super::{By, PlaneAsked, Where};
use clap::{Args, Subcommand, ValueEnum};
use jiff::civil::Date;
use std::path::PathBuf;

/// The verbs about records.
#[derive(Debug, Subcommand)]
pub(crate) enum RecordsVerb {
    /// The batches of a workspace: list them, show one, export one
    Batch(Batch),
    /// A lot with its stock: what is left, what was decided, which batches took of it
    Lot(LotShow),
    /// Which batches hold a lot, and which lots are in a batch
    Trace(TraceAsked),
    /// Designed experiments: list them, show one with what its runs say, bring readings in, draw a figure
    Experiment(ExperimentAsked),
    /// Stability studies: list them, show one, say what is due
    Study(StudyAsked),
    /// The records of a workspace as a whole
    Records(Records),
    /// Copy a workspace into a new file while it is in use, and prove the copy
    Backup(Backup),
    /// Make a workspace in a new folder from a copy, and prove it
    Restore(Restore),
}

/// `batch`
#[derive(Debug, Args)]
pub(crate) struct Batch {
    /// What to do.
    #[command(subcommand)]
    pub(crate) what: BatchVerb,
}

/// The verbs of `batch`.
#[derive(Debug, Subcommand)]
pub(crate) enum BatchVerb {
    /// The newest batches
    List(BatchList),
    /// One batch as it stands: lines against their targets, water, yield, entries, signatures
    Show(BatchShow),
    /// One batch on paper or as data: everything that was entered, the record filled or to be filled by hand, its deviations
    Export(BatchExport),
    /// What went otherwise than planned, over a span of days
    Deviations(BatchDeviations),
    /// Enter what was done, read and seen on a batch, from one file: all of it or nothing
    #[command(after_long_help = ENTER_HELP)]
    Enter(BatchEnter),
    /// Sign a batch: for having made it, then as somebody else who reviews, releases or rejects it
    Sign(BatchSign),
    /// What is to be added next to reach the pH, from the plan, the version and what was entered
    Advise(BatchAdvise),
    /// The temperature over time, as planned and as read; the record of a logger is kept with the batch first
    Course(BatchCourse),
    /// Type a sheet back that was filled by hand, by the numbers of its lines
    TypeBack(BatchTypeBack),
}

/// Example of `batch enter`.
const ENTER_HELP: &str = "A file with what was done (levigate schema batch-enter describes all of it):

  [[entry]]
  did = \"temperature\"
  value = 24.5               # digits stay as typed; a decimal comma in quotes: \"24,5\"
  instrument = \"thermometer 2\"
  at = 2026-11-24T15:30:00Z  # the same entry at the same moment is kept once
  [[entry]]
  did = \"checked\"
  text = \"Colour against the retained sample\"
  decision = \"the same\"
  [[reading]]
  quantity = \"ph\"
  value = \"5,62\"
  temperature_c = 23
  age = \"1 day\"
  [[observation]]
  text = \"Clear, no gel at the wall\"";

/// `batch enter`
#[derive(Debug, Args)]
pub(crate) struct BatchEnter {
    /// Code of the batch or its identity
    #[arg(value_name = "BATCH")]
    pub(crate) batch: String,
    /// File with the entries, or - for standard input
    #[arg(value_name = "FILE", default_value = "-")]
    pub(crate) file: PathBuf,
    /// Who enters, and which workspace.
    #[command(flatten)]
    pub(crate) by: By,
}

/// `batch sign`
#[derive(Debug, Args)]
pub(crate) struct BatchSign {
    /// Code of the batch or its identity
    #[arg(value_name = "BATCH")]
    pub(crate) batch: String,
    /// What is signed for: made, reviewed, released or rejected
    #[arg(long = "as", value_name = "WORD", default_value = "made")]
    pub(crate) signed_as: String,
    /// Why whoever made it also reviews or releases it; it stands in the record
    #[arg(long, value_name = "REASON", default_value = "")]
    pub(crate) alone: String,
    /// Remark
    #[arg(long, value_name = "TEXT", default_value = "")]
    pub(crate) note: String,
    /// Where people log in: read the password from the first line of standard input instead of asking for it
    #[arg(long)]
    pub(crate) password_stdin: bool,
    /// Who signs, and which workspace.
    #[command(flatten)]
    pub(crate) by: By,
}

/// `batch advise`
#[derive(Debug, Args)]
pub(crate) struct BatchAdvise {
    /// Code of the batch or its identity
    #[arg(value_name = "BATCH")]
    pub(crate) batch: String,
    /// Step of the plan that adds to a pH [default: the one that comes next, else the last]
    #[arg(long, value_name = "NUMBER")]
    pub(crate) step: Option<usize>,
    /// What is to be added next [default: what went in last, else the line of the plan]
    #[arg(long = "with", value_name = "MATERIAL")]
    pub(crate) with: Option<String>,
    /// Which workspace.
    #[command(flatten)]
    pub(crate) place: Where,
}

/// `batch course`
#[derive(Debug, Args)]
pub(crate) struct BatchCourse {
    /// Code of the batch or its identity
    #[arg(value_name = "BATCH")]
    pub(crate) batch: String,
    /// Table of a logger (CSV) to keep with the batch first, once
    #[arg(long, value_name = "FILE")]
    pub(crate) log: Option<PathBuf>,
    /// Vessel of the facts, for how long warming and cooling takes
    #[arg(long, value_name = "KEY", default_value = "")]
    pub(crate) vessel: String,
    /// Temperature of what heats its jacket, C; a hot plate where it is left out
    #[arg(long = "heat", value_name = "CELSIUS", default_value = "")]
    pub(crate) heat_c: String,
    /// Temperature of what cools its jacket, C; the room where it is left out
    #[arg(long = "cool", value_name = "CELSIUS", default_value = "")]
    pub(crate) cool_c: String,
    /// Speed of the stirrer, rpm [default: that entered last]
    #[arg(long, value_name = "RPM", default_value = "")]
    pub(crate) rpm: String,
    /// Who keeps the table of the logger, and which workspace.
    #[command(flatten)]
    pub(crate) by: By,
}

/// `batch list`
#[derive(Debug, Args)]
pub(crate) struct BatchList {
    /// Most batches to list
    #[arg(long, value_name = "NUMBER", default_value_t = 50)]
    pub(crate) most: u32,
    /// Which workspace.
    #[command(flatten)]
    pub(crate) place: Where,
}

/// `batch show`
#[derive(Debug, Args)]
pub(crate) struct BatchShow {
    /// Code of the batch or its identity
    #[arg(value_name = "BATCH")]
    pub(crate) batch: String,
    /// Which workspace.
    #[command(flatten)]
    pub(crate) place: Where,
}

/// In which form.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum ExportForm {
    /// Everything as data: plan, state, entries, signatures
    Json,
    /// One row for each entry
    Csv,
    /// The batch record as it stands
    Record,
    /// The record before anything is made, with boxes to write in
    Blank,
    /// What went otherwise than planned
    Deviations,
}

/// `batch export`
#[derive(Debug, Args)]
pub(crate) struct BatchExport {
    /// Code of the batch or its identity
    #[arg(value_name = "BATCH")]
    pub(crate) batch: String,
    /// In which form
    #[arg(long = "as", value_name = "FORM", default_value = "json")]
    pub(crate) form: ExportForm,
    /// How a record, a blank or a list of deviations is written [default: pdf]
    #[arg(long, value_name = "FORMAT")]
    pub(crate) format: Option<Written>,
    /// Size of the paper
    #[arg(long, value_name = "PAPER", default_value = "a4")]
    pub(crate) paper: OnPaper,
    /// Write it into a file instead of standard output; a PDF or a workbook needs one
    #[arg(long, value_name = "OUT")]
    pub(crate) out: Option<PathBuf>,
    /// Which workspace.
    #[command(flatten)]
    pub(crate) place: Where,
}

/// `batch deviations`
#[derive(Debug, Args)]
pub(crate) struct BatchDeviations {
    /// First day of the span
    #[arg(long, value_name = "YYYY-MM-DD")]
    pub(crate) from: Date,
    /// Last day of the span [default: today, UTC]
    #[arg(long, value_name = "YYYY-MM-DD")]
    pub(crate) to: Option<Date>,
    /// Files to write
    #[command(flatten)]
    pub(crate) files: super::papers::Files,
    /// Which workspace.
    #[command(flatten)]
    pub(crate) place: Where,
}

/// `batch type-back`
#[derive(Debug, Args)]
pub(crate) struct BatchTypeBack {
    /// Code of the batch or its identity
    #[arg(value_name = "BATCH")]
    pub(crate) batch: String,
    /// Table with the columns line, reading_1, reading_2, lot, time, initials as CSV, or - for standard input
    #[arg(value_name = "FILE")]
    pub(crate) rows: PathBuf,
    /// What stands beside the square code on the sheet
    #[arg(long, value_name = "CODE")]
    pub(crate) sheet: String,
    /// The day the sheet was filled [default: that on which the batch was begun]
    #[arg(long, value_name = "YYYY-MM-DD")]
    pub(crate) day: Option<Date>,
    /// How far the clock on the wall is from universal time
    #[arg(long, value_name = "OFFSET", default_value = "+00:00", allow_hyphen_values = true)]
    pub(crate) utc_offset: String,
    /// Figures that look like a slip were looked at: that is what stands on the sheet
    #[arg(long)]
    pub(crate) sure: bool,
    /// Who types, and which workspace.
    #[command(flatten)]
    pub(crate) by: By,
}

/// `lot`
#[derive(Debug, Args)]
pub(crate) struct LotShow {
    /// Lot code, or the identity of its entry
    #[arg(value_name = "CODE")]
    pub(crate) code: String,
    /// Its raw material by any of its names, where the code alone means more than one lot
    #[arg(long, value_name = "MATERIAL")]
    pub(crate) material: Option<String>,
    /// Which workspace.
    #[command(flatten)]
    pub(crate) place: Where,
}

/// `trace`
#[derive(Debug, Args)]
pub(crate) struct TraceAsked {
    /// Forward from a lot code: which batches hold it
    #[arg(long, value_name = "CODE", required_unless_present = "batch")]
    pub(crate) lot: Option<String>,
    /// Raw material of the lot, where the code alone means more than one
    #[arg(long, value_name = "MATERIAL", requires = "lot")]
    pub(crate) material: Option<String>,
    /// Back from a batch: which lots are in it
    #[arg(long, value_name = "BATCH")]
    pub(crate) batch: Option<String>,
    /// Which workspace.
    #[command(flatten)]
    pub(crate) place: Where,
}

/// `experiment`
#[derive(Debug, Args)]
pub(crate) struct ExperimentAsked {
    /// What to do.
    #[command(subcommand)]
    pub(crate) what: ExperimentVerb,
}

/// The verbs of `experiment`.
#[derive(Debug, Subcommand)]
pub(crate) enum ExperimentVerb {
    /// All experiments, the newest first
    List(Where),
    /// One experiment as it stands: its run sheet, what was read, what the runs say
    Show(ExperimentShow),
    /// Bring readings in from a table (CSV, .xlsx): all of it or nothing
    #[command(after_long_help = EXPERIMENT_ENTER_HELP)]
    Enter(ExperimentEnter),
    /// Write a figure of what the runs say across three parts, or two settings
    Draw(ExperimentDraw),
}

/// Example of `experiment enter`.
const EXPERIMENT_ENTER_HELP: &str = "A table with one row for each run; the first row names the columns:

  run;Viscosity (mPa·s);Tack
  3;11800;2,4

The sheet that the page gives as CSV comes back as it is: columns of parts and settings are passed over. Units must be those of the plan.";

/// `experiment show`
#[derive(Debug, Args)]
pub(crate) struct ExperimentShow {
    /// Number of the experiment, words of its name, or its identity
    #[arg(value_name = "EXPERIMENT")]
    pub(crate) experiment: String,
    /// linear, quadratic, special-cubic, full-cubic, or data for the one the data speak for [default: as planned]
    #[arg(long, value_name = "MODEL")]
    pub(crate) model: Option<String>,
    /// Which workspace.
    #[command(flatten)]
    pub(crate) place: Where,
}

/// `experiment enter`
#[derive(Debug, Args)]
pub(crate) struct ExperimentEnter {
    /// Number of the experiment, words of its name, or its identity
    #[arg(value_name = "EXPERIMENT")]
    pub(crate) experiment: String,
    /// Table with the readings, or - for standard input
    #[arg(value_name = "FILE", default_value = "-")]
    pub(crate) file: PathBuf,
    /// Say what it would bring, and write nothing
    #[arg(long)]
    pub(crate) look: bool,
    /// Who enters, and which workspace.
    #[command(flatten)]
    pub(crate) by: By,
}

/// `experiment draw`
#[derive(Debug, Args)]
pub(crate) struct ExperimentDraw {
    /// Number of the experiment, words of its name, or its identity
    #[arg(value_name = "EXPERIMENT")]
    pub(crate) experiment: String,
    /// File to write
    #[arg(long, value_name = "FILE.svg")]
    pub(crate) svg: PathBuf,
    /// linear, quadratic, special-cubic, full-cubic, or data for the one the data speak for [default: as planned]
    #[arg(long, value_name = "MODEL")]
    pub(crate) model: Option<String>,
    /// What is drawn.
    #[command(flatten)]
    pub(crate) plane: PlaneAsked,
    /// Which workspace.
    #[command(flatten)]
    pub(crate) place: Where,
}

/// `study`
#[derive(Debug, Args)]
pub(crate) struct StudyAsked {
    /// What to do.
    #[command(subcommand)]
    pub(crate) what: StudyVerb,
}

/// The verbs of `study`.
#[derive(Debug, Subcommand)]
pub(crate) enum StudyVerb {
    /// All studies, the newest first
    List(Where),
    /// One study as it stands: its pulls, what was read, against which limits
    Show(StudyShow),
    /// What is to be pulled: overdue, now, and in the days to come
    Due(StudyDue),
    /// How long an attribute keeps at a condition: lines, limits, what may be stated; of a pH also what its shift stands for
    Trend(StudyTrendAsked),
    /// How fast a content is lost at the temperatures of a study, and what that says of storage
    Losses(StudyLossesAsked),
    /// Bring readings in from a table (CSV, .xlsx): all of it or nothing
    #[command(after_long_help = STUDY_ENTER_HELP)]
    Enter(StudyEnter),
}

/// Example of `study enter`.
const STUDY_ENTER_HELP: &str = "A table with one row for each batch at each pull; the first row names the columns:

  condition;week;day;batch;pH;Viscosity (mPa·s)
  25 °C, 60 % r.h.;26;2026-11-27;QL-2605-01;5,40;4090
  40/75;26;2026-11-27;QL-2605-01;5,18;3690

Times stand under days, weeks or months, or in words under pull; week 0 is the start. A condition is known by its name, or by its
temperature where one alone has it. Units must be those of the plan.";

/// `study show`
#[derive(Debug, Args)]
pub(crate) struct StudyShow {
    /// Number of the study, words of its name, or its identity
    #[arg(value_name = "STUDY")]
    pub(crate) study: String,
    /// Which workspace.
    #[command(flatten)]
    pub(crate) place: Where,
}

/// `study due`
#[derive(Debug, Args)]
pub(crate) struct StudyDue {
    /// Days to look ahead
    #[arg(long, value_name = "DAYS", default_value_t = 42, value_parser = clap::value_parser!(i64).range(0..=3660))]
    pub(crate) days: i64,
    /// Which workspace.
    #[command(flatten)]
    pub(crate) place: Where,
}

/// `study trend`
#[derive(Debug, Args)]
pub(crate) struct StudyTrendAsked {
    /// What is read of which study.
    #[command(flatten)]
    pub(crate) of: StudyLossesAsked,
    /// Condition, by its name or the beginning of it [default: the first at which it is kept and sold]
    #[arg(long, value_name = "CONDITION")]
    pub(crate) condition: Option<String>,
}

/// `study losses`
#[derive(Debug, Args)]
pub(crate) struct StudyLossesAsked {
    /// Number of the study, words of its name, or its identity
    #[arg(value_name = "STUDY")]
    pub(crate) study: String,
    /// What is read, by its name
    #[arg(value_name = "ATTRIBUTE")]
    pub(crate) attribute: String,
    /// Kind of pack [default: the first of the plan]
    #[arg(long, value_name = "PACK")]
    pub(crate) pack: Option<String>,
    /// Which workspace.
    #[command(flatten)]
    pub(crate) place: Where,
}

/// `study enter`
#[derive(Debug, Args)]
pub(crate) struct StudyEnter {
    /// Number of the study, words of its name, or its identity
    #[arg(value_name = "STUDY")]
    pub(crate) study: String,
    /// Table with the readings, or - for standard input
    #[arg(value_name = "FILE", default_value = "-")]
    pub(crate) file: PathBuf,
    /// Say what it would bring, and write nothing
    #[arg(long)]
    pub(crate) look: bool,
    /// Who enters, and which workspace.
    #[command(flatten)]
    pub(crate) by: By,
}

/// `records`
#[derive(Debug, Args)]
pub(crate) struct Records {
    /// What to do.
    #[command(subcommand)]
    pub(crate) what: RecordsWhat,
}

/// The verbs of `records`.
#[derive(Debug, Subcommand)]
pub(crate) enum RecordsWhat {
    /// Prove that every record is as it was written: contents, chain, photos, index of lots, signatures
    Check(Where),
}

/// `backup`
#[derive(Debug, Args)]
pub(crate) struct Backup {
    /// File to write; it must not be there yet [default: a file named after the moment, in the folder backups of the workspace]
    #[arg(value_name = "OUT")]
    pub(crate) out: Option<PathBuf>,
    /// Which workspace.
    #[command(flatten)]
    pub(crate) place: Where,
}

/// `restore`
#[derive(Debug, Args)]
pub(crate) struct Restore {
    /// Copy to restore from
    #[arg(value_name = "COPY")]
    pub(crate) copy: PathBuf,
    /// New folder of the workspace; it must not be there yet, or be empty
    #[arg(value_name = "DIR")]
    pub(crate) folder: PathBuf,
}

/// Example of `enter challenge`.
pub(super) const CHALLENGE_TABLE_HELP: &str =
    "A table with one row for each organism and one column for each day; the first row names the columns:

  organism;kind;initial;day 7;day 14;day 28
  Pseudomonas aeruginosa;bacteria;4.7e5;240;<10;<10
  Candida albicans;yeast;6.1e4;3000;420;<10
  Aspergillus brasiliensis;mould;3.2e4;29000;21000;2600

Several plates stand in one cell with a space between; <10 says nothing was found above ten.";

/// `enter challenge`
#[derive(Debug, Args)]
pub(crate) struct EnterChallenge {
    /// Name of the formula or part of it, or a formula file with its name
    #[arg(value_name = "FORMULA-OR-NAME")]
    pub(crate) formula: String,
    /// Table with the counts, or - for standard input
    #[arg(value_name = "FILE", default_value = "-")]
    pub(crate) file: PathBuf,
    /// Saved version that was made [default: the newest]
    #[arg(long = "of-version", value_name = "N")]
    pub(crate) version: Option<u32>,
    /// Trial the sample came from, by its number
    #[arg(long, value_name = "N")]
    pub(crate) trial: Option<u32>,
    /// The sample, as the laboratory calls it
    #[arg(long, value_name = "TEXT", default_value = "")]
    pub(crate) sample: String,
    /// Who tested it
    #[arg(long, value_name = "NAME", default_value = "")]
    pub(crate) laboratory: String,
    /// The day it was inoculated
    #[arg(long, value_name = "YYYY-MM-DD", default_value = "")]
    pub(crate) started: String,
    /// By which method
    #[arg(long, value_name = "TEXT", default_value = "")]
    pub(crate) method: String,
    /// pH of the sample
    #[arg(long, value_name = "PH", default_value = "")]
    pub(crate) ph: String,
    /// Age of the sample: 24h, 3d
    #[arg(long, value_name = "TIME", default_value = "")]
    pub(crate) age: String,
    /// CFU/g or CFU/mL [default: CFU/g]
    #[arg(long, value_name = "UNIT", default_value = "")]
    pub(crate) unit: String,
    /// Recovered with product and neutraliser, in percent of the control
    #[arg(long, value_name = "PERCENT", default_value = "")]
    pub(crate) recovered: String,
    /// Recovered with the neutraliser alone, in percent of the control
    #[arg(long, value_name = "PERCENT", default_value = "")]
    pub(crate) alone: String,
    /// Remark
    #[arg(long, value_name = "TEXT", default_value = "")]
    pub(crate) note: String,
    /// Who and where.
    #[command(flatten)]
    pub(crate) by: By,
}

/// `enter lot`
#[derive(Debug, Args)]
pub(crate) struct EnterLot {
    /// Raw material by any of its names
    #[arg(value_name = "MATERIAL")]
    pub(crate) material: String,
    /// Lot code on the drum
    #[arg(value_name = "CODE")]
    pub(crate) code: String,
    /// Supplier
    #[arg(long, value_name = "NAME", default_value = "")]
    pub(crate) supplier: String,
    /// Assay of the active substance, percent w/w
    #[arg(long, value_name = "PERCENT", default_value = "")]
    pub(crate) assay: String,
    /// How much was received, with its unit: 500g, 25kg
    #[arg(long, value_name = "MASS", default_value = "")]
    pub(crate) quantity: String,
    /// Where it stands
    #[arg(long, value_name = "PLACE", default_value = "")]
    pub(crate) location: String,
    /// Received on
    #[arg(long, value_name = "YYYY-MM-DD", default_value = "")]
    pub(crate) received: String,
    /// To be tested again on
    #[arg(long, value_name = "YYYY-MM-DD", default_value = "")]
    pub(crate) retest: String,
    /// Not to be used after
    #[arg(long, value_name = "YYYY-MM-DD", default_value = "")]
    pub(crate) expiry: String,
    /// A value of the certificate, with its limits where there are: "Loss on drying=0.3 % [0..0.5]"; may be given more than once
    #[arg(long = "certificate", value_name = "NAME=VALUE")]
    pub(crate) certificate: Vec<String>,
    /// Name of a document; may be given more than once
    #[arg(long = "document", value_name = "NAME")]
    pub(crate) documents: Vec<String>,
    /// Remark
    #[arg(long, value_name = "TEXT", default_value = "")]
    pub(crate) note: String,
    /// Who and where.
    #[command(flatten)]
    pub(crate) by: By,
}
