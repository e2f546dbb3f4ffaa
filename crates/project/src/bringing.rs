//! Bringing in what stands in other people's sheets: a formula, raw materials of the laboratory's own, or lots, from a spreadsheet, a
//! CSV file or pasted cells.
//!
//! ```text
//! bytes -> table (cells that know what they were) -> layout (which row names the columns, what each holds, and why)
//!       -> preview, row by row: what will be made, what is there already, what is not understood, where and what to do
//!       -> records, written together or not at all
//! ```
//!
//! Nothing is guessed. A day that may be two days, a number whose comma may part thousands, shares that may be percent or fractions, a
//! quantity without its unit, a name that is not on file: each is asked about, and the answer stands in [`Asked`]. A row that is not
//! understood keeps everything from being written until it is mended or left out by name. The same table brought in again makes nothing
//! twice: what is there already is said.

mod columns;
mod counts;
mod desk;
mod field;
mod formula;
mod keep;
mod lot;
mod material;
mod names;
mod reading;
mod shares;
pub(crate) mod table;

pub use columns::ColumnRead;
pub use counts::{CountTable, CountTableRow, count_table};
pub use field::Field;
pub use keep::{BringError, Brought, Made, Standing, bring, standing};
pub use names::{NameOffer, UnknownName};

use crate::diagnostic::Diagnostic;
use crate::flow_table::ledger::Fault;
use crate::records::{DecimalSign, Formula, FormulaVersion, Id, Kept, Lot, Status};
use columns::layout;
use desk::{Desk, apply, says_sum};
use jiff::civil::Date;
use keep::Planned;
use levigate_facts::Facts;
use levigate_measure::Outcome;
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, BTreeSet};

/// Most characters kept of a cell.
const MOST_CELL: usize = 1_000;
/// Most rows of which each is told; the rest are counted.
const MOST_TOLD: usize = 2_000;
/// What is shown of a formula without a value.
const NOT_COMPUTED: &str = "(formula, not computed)";
/// Most texts typed instead of cells, names picked, rows left out.
const MOST_ANSWERS: usize = 20_000;

/// The rows of a table as texts, each with its line; days as year-month-day. For lists that are no formula, raw material or lot.
///
/// # Errors
/// The table cannot be read.
pub(crate) fn rows_of(file: &str, bytes: &[u8]) -> Result<Vec<(usize, Vec<String>)>, Vec<Diagnostic>> {
    let table = table::read(bytes, "").map_err(|fault| vec![fault.diagnose(file)])?;
    let text = |cell: table::Cell| match cell.stored {
        table::Stored::Day(day) => day.to_string(),
        table::Stored::Number(number) => number.to_string(),
        _ => cell.text,
    };
    let row = |row: table::Row| (row.line, row.cells.into_iter().map(text).collect());
    Ok(table.rows.into_iter().map(row).collect())
}

/// What a table brings.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum What {
    /// One formula, a line in every row.
    #[default]
    Formula,
    /// Raw materials of the laboratory's own, one in every row.
    Material,
    /// Lots of raw materials, one in every row.
    Lot,
}

impl What {
    /// All.
    pub const ALL: [Self; 3] = [Self::Formula, Self::Material, Self::Lot];

    /// The word it is chosen by.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Formula => "formula",
            Self::Material => "material",
            Self::Lot => "lot",
        }
    }
}

/// What is asked of a table; everything may be left out.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Asked {
    /// What it brings.
    pub what: What,
    /// The sheet of a workbook; empty: the first with anything on it.
    pub sheet: String,
    /// Line of the row that names the columns; 0: no row does; none: it is looked for.
    pub head: Option<usize>,
    /// What columns hold, where it is not as found.
    pub columns: Vec<ColumnAsked>,
    /// `day-first` or `month-first` for days like 03/04/2027.
    pub days: String,
    /// `last` or `first`: the day that is meant by a month alone.
    pub months: String,
    /// Unit of quantities that have none: mg, g, kg, oz, lb.
    pub unit: String,
    /// Currency of prices that have none.
    pub currency: String,
    /// `percent`, `fraction` or `grams` where the amounts of a formula leave it open.
    pub shares: String,
    /// What a name means that is not on file, by the name: the key of a raw material; `like:` and a key for a grade of one's own with its
    /// composition.
    pub picks: BTreeMap<String, String>,
    /// Texts typed instead of cells.
    pub changed: Vec<Changed>,
    /// Lines left out.
    pub leave_out: BTreeSet<usize>,
    /// Every row that is not understood is left out.
    pub leave_out_rest: bool,
    /// Name of the formula; empty: as the sheet says.
    pub name: String,
    /// Product type; empty: serum.
    #[serde(rename = "type")]
    pub kind: String,
    /// Site of use; empty: face.
    pub site: String,
    /// Whether it is rinsed off.
    pub rinse_off: bool,
    /// Where a formula of this name is there: `version` for its next version, `formula` for another formula.
    pub onto: String,
}

/// What a column holds, as a person said.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct ColumnAsked {
    /// Its head, its letter, or its place like `#2`.
    pub column: String,
    /// What it holds, by the word of [`Field`].
    pub field: String,
}

/// A text typed instead of a cell.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Changed {
    /// Line, from 1.
    pub line: usize,
    /// Place of the column, from 1.
    pub column: usize,
    /// The text.
    pub text: String,
}

/// What is on file already, and who asks.
#[derive(Clone, Copy, Debug)]
pub struct OnFile<'w> {
    /// The facts with everything laid over them that counts here.
    pub facts: &'w Facts,
    /// The day.
    pub day: Date,
    /// All lots, struck ones too.
    pub lots: &'w [Kept<Lot>],
    /// What was decided last about lots.
    pub statuses: &'w BTreeMap<Id<Lot>, Status>,
    /// All formulas with their versions.
    pub formulas: &'w [(Kept<Formula>, Vec<Kept<FormulaVersion>>)],
    /// Texts of own prices by the key of the raw material.
    pub prices: &'w BTreeMap<String, String>,
    /// Whether whoever asks may decide about lots.
    pub decides: bool,
}

/// What a table will bring, row by row.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Preview {
    /// File.
    pub file: String,
    /// What it brings.
    pub what: What,
    /// How it was read.
    pub form: TableForm,
    /// What the columns were understood to hold.
    pub columns: Vec<ColumnRead>,
    /// What must be answered, and what was.
    pub questions: Vec<Question>,
    /// Names that are not on file.
    pub unknown: Vec<UnknownName>,
    /// The rows.
    pub rows: Vec<RowRead>,
    /// Rows by what becomes of them.
    pub counts: Counts,
    /// What the formula is, where one is brought.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub formula: Option<FormulaRead>,
    /// What else is worth knowing.
    pub remarks: Vec<String>,
    /// Whether it can be brought in as it stands.
    pub ready: bool,
    /// Why not.
    pub missing: Vec<String>,
}

/// How a table was read.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TableForm {
    /// `text` or `workbook`.
    pub kind: &'static str,
    /// Encoding of a text.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub encoding: Option<&'static str>,
    /// What parts the columns of a text.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub separator: Option<&'static str>,
    /// Decimal sign of its texts, where they show one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub decimal: Option<DecimalSign>,
    /// The sheet it stands on.
    pub sheet: String,
    /// All sheets.
    pub sheets: Vec<SheetThere>,
    /// Line of the row that names the columns; none where no row does.
    pub head_line: Option<usize>,
}

/// A sheet of a workbook.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct SheetThere {
    /// Name.
    pub name: String,
    /// Rows with something in them.
    pub rows: usize,
}

/// Something that must be answered by a person.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Question {
    /// The field of [`Asked`] that takes the answer.
    pub id: &'static str,
    /// What is asked.
    pub what: String,
    /// Why.
    pub why: String,
    /// Answers: what is sent, and its words.
    pub choices: Vec<(String, String)>,
    /// What was answered; empty for nothing yet.
    pub answer: String,
}

/// What becomes of a row.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Fate {
    /// It makes something.
    Made,
    /// It is on file already.
    There,
    /// It is no entry of the list: a heading, a sum, a remark.
    PassedOver,
    /// It was left out by a person.
    LeftOut,
    /// It is not understood.
    NotUnderstood,
}

/// A row as understood.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RowRead {
    /// Line, from 1.
    pub line: usize,
    /// What becomes of it.
    pub fate: Fate,
    /// What it makes, in words; else what it is.
    pub words: String,
    /// What is not understood.
    pub troubles: Vec<CellTrouble>,
    /// What else is worth knowing.
    pub notes: Vec<String>,
}

/// A cell that is not understood.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct CellTrouble {
    /// Place of the column, from 1; 0 for the row as a whole.
    pub column: usize,
    /// Its head.
    pub name: String,
    /// What stands there.
    pub text: String,
    /// What is wrong.
    pub what: String,
    /// What to do.
    pub what_now: String,
    /// Texts that may have been meant.
    pub offers: Vec<String>,
}

/// Rows by what becomes of them.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Counts {
    /// Make something.
    pub made: usize,
    /// Are on file already.
    pub there: usize,
    /// Are no entries.
    pub passed_over: usize,
    /// Were left out.
    pub left_out: usize,
    /// Are not understood.
    pub not_understood: usize,
}

/// The formula a table holds.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FormulaRead {
    /// Name.
    pub name: String,
    /// Where the name comes from.
    pub name_from: String,
    /// Product type.
    #[serde(rename = "type")]
    pub kind: String,
    /// Site of use.
    pub site: String,
    /// Whether it stays on.
    pub leave_on: bool,
    /// What the percentages add up to.
    pub sum: Outcome,
    /// What follows from the sum.
    pub sum_words: String,
    /// A cell whose change makes the water fill up to 100, where no line does.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub fill: Option<Changed>,
    /// What will be made of it: a formula, a version, nothing.
    pub becomes: String,
    /// The formula file.
    pub text: String,
}

/// Looks at a table without writing anything. `file` is only used in words.
///
/// # Errors
/// The table cannot be read at all; what is wrong with single rows stands in the preview.
pub fn look(
    on_file: &OnFile<'_>,
    file: &str,
    bytes: &[u8],
    asked: &Asked,
) -> Result<Preview, Vec<Diagnostic>> {
    plan(on_file, file, bytes, asked).map(|(preview, _)| preview)
}

fn plan(
    on_file: &OnFile<'_>,
    file: &str,
    bytes: &[u8],
    asked: &Asked,
) -> Result<(Preview, Vec<Planned>), Vec<Diagnostic>> {
    planned(on_file, file, bytes, asked).map_err(|fault| vec![fault.diagnose(file)])
}

fn planned(
    on_file: &OnFile<'_>,
    file: &str,
    bytes: &[u8],
    asked: &Asked,
) -> Result<(Preview, Vec<Planned>), Fault> {
    if asked.changed.len() + asked.picks.len() + asked.leave_out.len() > MOST_ANSWERS {
        return Err(Fault::new("too-large", "there are too many answers", "mend the table itself"));
    }
    let mut table = table::read(bytes, &asked.sheet)?;
    let laid = layout(&table, asked.what, asked.head, &asked.columns)?;
    apply(&mut table, &asked.changed);
    let mut desk = Desk::new(on_file, file, &table, &laid, asked)?;
    let (formula, planned) = match asked.what {
        What::Formula => formula::read(&mut desk),
        What::Material => (None, material::read(&mut desk)),
        What::Lot => (None, lot::read(&mut desk)),
    };
    Ok(desk.finish(formula, planned))
}
