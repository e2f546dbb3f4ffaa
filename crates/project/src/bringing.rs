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
mod field;
mod formula;
mod keep;
mod lot;
mod material;
mod names;
mod reading;
mod table;

pub use columns::ColumnRead;
pub use field::Field;
pub use keep::{BringError, Brought, Made, Standing, bring, standing};
pub use names::{NameOffer, UnknownName};

use crate::diagnostic::Diagnostic;
use crate::flow_table::ledger::Fault;
use crate::records::{DecimalSign, Formula, FormulaVersion, Id, Kept, Lot, Status};
use columns::{Layout, layout};
use jiff::civil::Date;
use keep::Planned;
use levigate_facts::Facts;
use levigate_formula::names::folded;
use levigate_measure::Outcome;
use reading::{DayOrder, Unread};
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, BTreeSet};
use table::{Cell, Row, Stored, Table};

/// Most characters kept of a cell.
const MOST_CELL: usize = 1_000;
/// Most rows of which each is told; the rest are counted.
const MOST_TOLD: usize = 2_000;
/// Words of a row that sums the others up.
const SUMS: [&str; 10] = [
    "total",
    "sum",
    "summe",
    "gesamt",
    "somme",
    "suma",
    "totale",
    "subtotal",
    "zwischensumme",
    "grand total",
];
/// What is shown of a formula without a value.
const NOT_COMPUTED: &str = "(formula, not computed)";
/// Most texts typed instead of cells, names picked, rows left out.
const MOST_ANSWERS: usize = 20_000;

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
    /// Unit of quantities that have none: mg, g, kg, oz, lb.
    pub unit: String,
    /// Currency of prices that have none.
    pub currency: String,
    /// `percent` or `fraction` where the amounts of a formula leave it open.
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

/// Puts what was typed in the place of cells.
fn apply(table: &mut Table, changed: &[Changed]) {
    for change in changed {
        let Some(column) = change.column.checked_sub(1).filter(|column| *column < table.width) else {
            continue;
        };
        if let Some(row) = table.rows.iter_mut().find(|row| row.line == change.line) {
            if row.cells.len() <= column {
                row.cells.resize(column + 1, Cell::default());
            }
            let text: String = change.text.trim().chars().take(MOST_CELL).collect();
            row.cells[column] = Cell { text, ..Cell::default() };
        }
    }
}

/// What all three kinds of table are read with.
struct Desk<'r> {
    on_file: &'r OnFile<'r>,
    file: &'r str,
    table: &'r Table,
    layout: &'r Layout,
    asked: &'r Asked,
    decimal: Option<DecimalSign>,
    order: Option<DayOrder>,
    rows: Vec<RowRead>,
    questions: Vec<Question>,
    unknown: names::Unknown,
    remarks: Vec<String>,
    missing: Vec<String>,
}

/// Whether a row says that it sums the others up: with its first words, and with nothing else.
fn says_sum(row: &Row) -> bool {
    row.filled().next().is_some_and(|(_, cell)| {
        let first = cell.text.split(['(', '[', ':', '%', '=']).next().unwrap_or_default();
        SUMS.contains(&folded(first).as_str())
    })
}

impl<'r> Desk<'r> {
    fn new(
        on_file: &'r OnFile<'r>,
        file: &'r str,
        table: &'r Table,
        layout: &'r Layout,
        asked: &'r Asked,
    ) -> Result<Self, Fault> {
        let mut desk = Self {
            on_file,
            file,
            table,
            layout,
            asked,
            decimal: None,
            order: None,
            rows: Vec::new(),
            questions: Vec::new(),
            unknown: names::Unknown::default(),
            remarks: table.remarks.clone(),
            missing: Vec::new(),
        };
        desk.decimal = reading::decimal_sign(desk.texts(Field::numeric));
        desk.order = desk.day_order()?;
        for field in asked.what.must() {
            if layout.of(*field).is_none() {
                desk.missing.push(format!("No column holds the {}; say which one does.", field.words()));
            }
        }
        let named = [Field::Material, Field::Inci, Field::Cas];
        if named.iter().all(|field| layout.of(*field).is_none()) {
            desk.missing.push("No column names the raw material; say which one does.".to_owned());
        }
        Ok(desk)
    }

    /// Texts in the columns of some fields, below the head.
    fn texts(&self, wanted: fn(Field) -> bool) -> impl Iterator<Item = &'r str> {
        let (table, layout) = (self.table, self.layout);
        let columns: Vec<usize> =
            layout.columns.iter().filter(|one| wanted(one.field)).map(|one| one.column - 1).collect();
        table
            .rows
            .iter()
            .skip(layout.first)
            .flat_map(move |row| {
                columns.clone().into_iter().filter_map(|at| row.cells.get(at)).collect::<Vec<_>>()
            })
            .filter(|cell| cell.stored == Stored::Text && !cell.text.is_empty())
            .map(|cell| cell.text.as_str())
    }

    /// In which order days are written, as the table shows or a person said.
    fn day_order(&mut self) -> Result<Option<DayOrder>, Fault> {
        let (day_first, month_first, either) = reading::day_orders(self.texts(Field::dated));
        let asked = match self.asked.days.as_str() {
            "" => None,
            "day-first" => Some(DayOrder::DayFirst),
            "month-first" => Some(DayOrder::MonthFirst),
            other => {
                let other: String = other.chars().take(40).collect();
                return Err(Fault::new(
                    "no-such-order",
                    format!("\"{other}\" is no order of day and month"),
                    "say day-first or month-first",
                ));
            }
        };
        if asked.is_none() && day_first != month_first {
            return Ok(Some(if day_first { DayOrder::DayFirst } else { DayOrder::MonthFirst }));
        }
        if either || day_first && month_first {
            self.ask(Question {
                id: "days",
                what: "In days like 03/04/2027, what stands first?".to_owned(),
                why: if day_first && month_first {
                    "Some days of this table can only have the day first, others only the month.".to_owned()
                } else {
                    "No day of this table shows it: every first and second number could be a month."
                        .to_owned()
                },
                choices: vec![
                    ("day-first".to_owned(), "the day: 3 April".to_owned()),
                    ("month-first".to_owned(), "the month: March 4".to_owned()),
                ],
                answer: self.asked.days.clone(),
            });
        }
        Ok(asked)
    }

    /// Puts a question; an answer that is none of the choices is none.
    fn ask(&mut self, mut question: Question) {
        if question.choices.iter().all(|(choice, _)| *choice != question.answer) {
            question.answer.clear();
        }
        self.questions.push(question);
    }

    /// Rows below the head, as the reader of one kind takes them.
    fn listed(&self) -> impl Iterator<Item = &'r Row> + use<'r> {
        self.table.rows.iter().skip(self.layout.first)
    }

    fn cell<'c>(&self, row: &'c Row, field: Field) -> Option<&'c Cell> {
        row.cells.get(self.layout.of(field)?).filter(|cell| !cell.text.is_empty())
    }

    fn text<'c>(&self, row: &'c Row, field: Field) -> &'c str {
        self.cell(row, field).map_or("", |cell| cell.text.as_str())
    }

    /// Whether a row says again what the columns are called.
    fn repeats_head(&self, row: &Row) -> bool {
        let Some(head) = self.layout.header.and_then(|at| self.table.rows.get(at)) else { return false };
        let same = row.filled().filter(|(at, cell)| head.text(*at).eq_ignore_ascii_case(&cell.text)).count();
        same >= 2 && same * 2 > row.filled().count()
    }

    /// What becomes of a row before anybody looks what kind of list it is.
    fn set_aside(&mut self, row: &Row) -> bool {
        if self.asked.what != What::Formula && says_sum(row) && !self.asked.leave_out.contains(&row.line) {
            self.told(row.line, Fate::PassedOver, "a sum of the sheet".to_owned(), Vec::new(), Vec::new());
            return true;
        }
        let words = if self.asked.leave_out.contains(&row.line) {
            (Fate::LeftOut, "left out")
        } else if self.repeats_head(row) {
            (Fate::PassedOver, "the names of the columns once more")
        } else {
            return false;
        };
        self.told(row.line, words.0, words.1.to_owned(), Vec::new(), Vec::new());
        true
    }

    fn told(
        &mut self,
        line: usize,
        fate: Fate,
        words: String,
        troubles: Vec<CellTrouble>,
        notes: Vec<String>,
    ) {
        self.rows.push(RowRead { line, fate, words, troubles, notes });
    }

    /// Tells what became of an entry: what it makes, or why not.
    fn entry(
        &mut self,
        line: usize,
        fate: Fate,
        words: String,
        troubles: Vec<CellTrouble>,
        notes: Vec<String>,
    ) {
        let fate = match fate {
            Fate::NotUnderstood if self.asked.leave_out_rest => Fate::LeftOut,
            other => other,
        };
        self.told(line, fate, words, troubles, notes);
    }

    fn trouble(&self, row: &Row, field: Field, unread: Unread) -> CellTrouble {
        let column = self.layout.of(field);
        CellTrouble {
            column: column.map_or(0, |column| column + 1),
            name: column.map_or_else(|| field.words().to_owned(), |column| self.layout.title(column)),
            text: self.text(row, field).chars().take(80).collect(),
            what: unread.what,
            what_now: unread.what_now,
            offers: unread.offers,
        }
    }

    /// How the file is spoken of.
    fn file_words(&self) -> String {
        let file = if self.file.is_empty() || self.file == "-" { "pasted cells" } else { self.file };
        let file = file.rsplit(['/', '\\']).next().unwrap_or(file);
        let file: String = file.chars().take(120).collect();
        if self.table.sheet.is_empty() { file } else { format!("{file}, sheet {}", self.table.sheet) }
    }

    fn finish(mut self, formula: Option<FormulaRead>, planned: Vec<Planned>) -> (Preview, Vec<Planned>) {
        let unanswered = self.questions.iter().filter(|question| question.answer.is_empty()).count();
        if unanswered > 0 {
            self.missing.push(match unanswered {
                1 => "One question is not answered.".to_owned(),
                more => format!("{more} questions are not answered."),
            });
        }
        let mut counts = Counts::default();
        for row in &self.rows {
            *match row.fate {
                Fate::Made => &mut counts.made,
                Fate::There => &mut counts.there,
                Fate::PassedOver => &mut counts.passed_over,
                Fate::LeftOut => &mut counts.left_out,
                Fate::NotUnderstood => &mut counts.not_understood,
            } += 1;
        }
        if counts.not_understood > 0 {
            self.missing.push(match counts.not_understood {
                1 => "One row is not understood: mend it or leave it out.".to_owned(),
                more => format!("{more} rows are not understood: mend them or leave them out."),
            });
        }
        if planned.is_empty() && self.missing.is_empty() {
            self.missing.push(match counts.there {
                0 => "There is nothing in it that could be brought in.".to_owned(),
                _ => "Everything in it is on file already.".to_owned(),
            });
        }
        let hidden = self.rows.len().saturating_sub(MOST_TOLD);
        if hidden > 0 {
            // What is not understood is shown before what is.
            self.rows.sort_by_key(|row| (std::cmp::Reverse(row.fate == Fate::NotUnderstood), row.line));
            self.rows.truncate(MOST_TOLD);
            self.rows.sort_by_key(|row| row.line);
            self.remarks.push(format!("{hidden} rows more are not listed here; they are counted."));
        }
        let sheets = self.table.sheets.iter();
        let preview = Preview {
            file: self.file.to_owned(),
            what: self.asked.what,
            form: TableForm {
                kind: self.table.kind,
                encoding: self.table.encoding,
                separator: self.table.separator,
                decimal: self.decimal,
                sheet: self.table.sheet.clone(),
                sheets: sheets.map(|(name, rows)| SheetThere { name: name.clone(), rows: *rows }).collect(),
                head_line: self.layout.header.and_then(|at| self.table.rows.get(at)).map(|row| row.line),
            },
            columns: self.layout.columns.clone(),
            questions: self.questions,
            unknown: self.unknown.list(self.asked),
            rows: self.rows,
            counts,
            formula,
            remarks: self.remarks,
            ready: self.missing.is_empty(),
            missing: self.missing,
        };
        (preview, planned)
    }
}
