//! What can be typed about tables that are brought in.

use super::By;
use clap::{Args, Subcommand, ValueEnum};
use std::path::PathBuf;

/// `import`
#[derive(Debug, Args)]
pub(crate) struct Import {
    /// What the table holds.
    #[command(subcommand)]
    pub(crate) what: ImportWhat,
}

/// The verbs of `import`.
#[derive(Debug, Subcommand)]
pub(crate) enum ImportWhat {
    /// One formula: a raw material and its percent in every row, phases as rows or as a column
    #[command(after_help = FORMULA_HELP)]
    Formula(ImportFormula),
    /// Raw materials: prices for those on file, and raw materials of your own
    #[command(after_help = MATERIAL_HELP)]
    Material(ImportTable),
    /// Lots: raw material, code, supplier, dates, quantity, assay, place and status
    #[command(after_help = LOT_HELP)]
    Lot(ImportTable),
}

// A line of the help is broken behind a hundred signs, and an example must run as it stands.
const FORMULA_HELP: &str = "Example:\n  printf 'Phase;Raw material;%%\\nA;Water;q.s.\\nA;Glycerin;5\\n' | levigate import formula - --dry-run";
const MATERIAL_HELP: &str = "Example:\n  printf 'Raw material;EUR/kg\\nGlycerin 99.5 %%;1.90\\n' | levigate import material - --dry-run";
const LOT_HELP: &str = "Example:\n  printf 'Raw material;Lot;Quantity\\nMandelic acid;MA-1;5 kg\\n' | levigate import lot - --dry-run";

/// `import formula`
#[derive(Debug, Args)]
pub(crate) struct ImportFormula {
    /// The table.
    #[command(flatten)]
    pub(crate) table: ImportTable,
    /// Name of the formula [default: as the table says]
    #[arg(long, value_name = "NAME", default_value = "")]
    pub(crate) name: String,
    /// What it is: serum, gel, toner, lotion, cream [default: serum]
    #[arg(long = "type", value_name = "TYPE", default_value = "")]
    pub(crate) kind: String,
    /// Where it is used: face, eye, body, hand, scalp [default: face]
    #[arg(long, value_name = "SITE", default_value = "")]
    pub(crate) site: String,
    /// It is rinsed off
    #[arg(long)]
    pub(crate) rinse_off: bool,
    /// What the amounts are where the table leaves it open
    #[arg(long, value_name = "SHARES")]
    pub(crate) shares: Option<Shares>,
    /// What it becomes where a formula of this name is on file
    #[arg(long, value_name = "WHAT")]
    pub(crate) onto: Option<Onto>,
}

/// What amounts are.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum Shares {
    /// 0.05 is 0.05 %
    Percent,
    /// 0.05 is 5 %
    Fraction,
    /// grams of a batch, made percent of what they add up to or of what a q.s. line fills up to
    Grams,
}

/// What a formula becomes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum Onto {
    /// The next version of the one on file
    Version,
    /// Another formula of the same name
    Formula,
}

/// Which of two numbers of a date stands first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum Days {
    /// 03/04/2027 is 3 April
    DayFirst,
    /// 03/04/2027 is March 4
    MonthFirst,
}

/// Which day of a month is meant.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum Months {
    /// Its last
    Last,
    /// Its first
    First,
}

/// A table and how it is read.
#[derive(Debug, Args)]
pub(crate) struct ImportTable {
    /// Spreadsheet (.xlsx) or text (CSV, pasted cells)
    #[arg(value_name = "FILE")]
    pub(crate) file: PathBuf,
    /// Sheet of a workbook [default: the first with anything on it]
    #[arg(long, value_name = "NAME", default_value = "")]
    pub(crate) sheet: String,
    /// Row that names the columns; 0 where none does [default: it is looked for]
    #[arg(long, value_name = "ROW")]
    pub(crate) head: Option<usize>,
    /// What columns hold, where it is not as found: percent=Amount,material=#2; a column by its head, its letter or its place
    #[arg(long, value_name = "FIELD=COLUMN", value_delimiter = ',')]
    pub(crate) columns: Vec<String>,
    /// What stands first in days like 03/04/2027
    #[arg(long, value_name = "ORDER")]
    pub(crate) days: Option<Days>,
    /// Which day a month alone means, as in 06/2027
    #[arg(long, value_name = "DAY")]
    pub(crate) months: Option<Months>,
    /// Unit of quantities that have none: mg, g, kg, oz, lb
    #[arg(long, value_name = "UNIT", default_value = "")]
    pub(crate) unit: String,
    /// Currency of prices that have none
    #[arg(long, value_name = "CODE", default_value = "")]
    pub(crate) currency: String,
    /// What a name means that is not on file: "Gly 99=Glycerin 99.5 %"; like: before it makes one of your own with its composition
    #[arg(long = "pick", value_name = "NAME=MATERIAL")]
    pub(crate) picks: Vec<String>,
    /// A text instead of a cell: "C7=q.s. to 100"; may be given more than once
    #[arg(long = "cell", value_name = "CELL=TEXT")]
    pub(crate) cells: Vec<String>,
    /// A row to leave out; may be given more than once
    #[arg(long, value_name = "ROW", value_delimiter = ',')]
    pub(crate) leave_out: Vec<usize>,
    /// Leave out every row that is not understood
    #[arg(long)]
    pub(crate) leave_out_rest: bool,
    /// Show what would be made and write nothing
    #[arg(long)]
    pub(crate) dry_run: bool,
    /// Who and where.
    #[command(flatten)]
    pub(crate) by: By,
}
