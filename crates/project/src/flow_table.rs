//! Measured tables into flow curves and recoveries: text with any separator, pasted cells, workbooks.
//!
//! Bytes in, curves out; no file is opened here. What every column was understood to hold is said back, with its unit, the factor to SI,
//! why, and whether it is sure; a person can say otherwise ([`Choices`]). Nothing is lost without a word: what is no point is listed
//! with its line and the reason. Nothing is guessed either: a unit that is not written is the usual one *with a doubt*, a sign that may
//! part thousands makes the cell no number, a table without names is refused until its columns are named.

pub(crate) mod bytes;
mod choices;
mod curves;
mod grid;
mod header;
mod held;
pub(crate) mod ledger;
mod logger;
mod measured;
mod number;
mod recovery;
mod series;
mod sweeps;
mod text;
mod turned;
mod units;
pub(crate) mod words;
pub(crate) mod workbook;

pub use choices::{Choices, ColumnChoice, TorqueFloor};
pub use logger::{LoggedTemperature, temperature_log};
pub use measured::{Direction, Held, MeasuredCurve, MeasuredPoint, MeasuredRecovery, TimedPoint};
pub use text::Separator;
pub use units::{Meaning, Unit};

use crate::diagnostic::Diagnostic;
use crate::records::DecimalSign;
use bytes::Content;
use grid::Grid;
use ledger::{Fault, Ledger, too_many_columns};
use levigate_process::flow::spindle::DiscSpindle;
use serde::Serialize;
use std::collections::BTreeMap;

/// Most characters of a text.
const MOST_CHARACTERS: usize = 256_000_000;
/// Most rows of a table: those of a worksheet.
const MOST_ROWS: usize = 1_048_576;
/// Most columns of a table.
const MOST_COLUMNS: usize = 512;
/// Most curves of a file.
const MOST_CURVES: usize = 200;
/// Points left out that are named one by one; the rest are counted.
const MOST_NAMED: usize = 200;

/// A disc spindle on an instrument.
#[derive(Clone, Debug, PartialEq)]
pub struct Spindle {
    /// The spindle.
    pub disc: DiscSpindle,
    /// Full-scale torque of the instrument, N m.
    pub torque_n_m: f64,
}

/// A measured table as understood.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FlowTable {
    /// How it was read: encoding, separator, decimal sign.
    pub form: Form,
    /// What each column was understood to hold.
    pub understood: Vec<Understood>,
    /// The curves, in the order of the file.
    #[serde(skip)]
    pub curves: Vec<MeasuredCurve>,
    /// The recoveries after a strong shear, in the order of the file.
    #[serde(skip)]
    pub recoveries: Vec<MeasuredRecovery>,
    /// What was left out: counted by reason, and the first of them by line.
    pub left_out: LeftOutAll,
    /// What a person should confirm.
    pub to_confirm: Vec<String>,
    /// What else is worth knowing.
    pub remarks: Vec<String>,
}

/// How a table was read.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Form {
    /// `text`, `workbook` or `toml`.
    pub kind: &'static str,
    /// Encoding of a text.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub encoding: Option<&'static str>,
    /// What parts the columns of a text.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub separator: Option<&'static str>,
    /// The decimal sign.
    pub decimal: DecimalSign,
    /// Worksheets read.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub sheets: Vec<String>,
    /// Rows with something in them.
    pub rows: usize,
}

/// What a column was understood to hold.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Understood {
    /// Place, from 1.
    pub column: usize,
    /// Name as found.
    pub name: String,
    /// What it holds.
    pub meaning: Meaning,
    /// The same for people.
    pub words: &'static str,
    /// Unit; empty where it has none.
    pub unit: String,
    /// Factor to SI (to rpm for speeds, C for temperatures, percent for readings).
    pub factor: Option<f64>,
    /// Why, in words.
    pub why: String,
    /// Whether it is sure; else a person should confirm it.
    pub sure: bool,
}

/// A point that was left out.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LeftOut {
    /// Line, from 1.
    pub line: usize,
    /// Name of the column.
    pub name: String,
    /// What stands there.
    pub text: String,
    /// Why.
    pub why: String,
}

/// Points left out for one reason.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LeftOutCount {
    /// The reason.
    pub why: String,
    /// How many.
    pub count: usize,
}

/// Everything that was left out.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct LeftOutAll {
    /// How many points.
    pub count: usize,
    /// By reason.
    pub by_reason: Vec<LeftOutCount>,
    /// The first of them.
    pub first: Vec<LeftOut>,
}

/// Reads a measured table. `file` is only used in messages.
///
/// # Errors
/// What is wrong with it, with its line and what to do.
pub fn read(
    file: &str,
    bytes: &[u8],
    choices: &Choices,
    spindle: Option<&Spindle>,
) -> Result<FlowTable, Vec<Diagnostic>> {
    read_table(bytes, choices, spindle).map_err(|fault| vec![fault.diagnose(file)])
}

fn read_table(bytes: &[u8], choices: &Choices, spindle: Option<&Spindle>) -> Result<FlowTable, Fault> {
    match bytes::content(bytes)? {
        Content::Text(text, encoding) => {
            let (grid, separator) = text::grid(&text)?;
            let mut reading = Reading::new(choices, spindle);
            if encoding == "Windows-1252" && !text.is_ascii() {
                reading
                    .ledger
                    .note("The text is no UTF-8; it was read as Windows-1252 (Latin-1).".to_owned());
            }
            reading.table("", &grid)?;
            let form = Form {
                kind: "text",
                encoding: Some(encoding),
                separator: Some(separator.words()),
                decimal: reading.decimal,
                sheets: Vec::new(),
                rows: grid.len(),
            };
            reading.finish(form)
        }
        Content::Workbook => {
            let sheets = workbook::worksheets(bytes, &choices.sheet)?;
            let mut reading = Reading::new(choices, spindle);
            let (mut read, mut rows, mut trouble) = (Vec::new(), 0, None);
            let several = sheets.iter().filter(|sheet| sheet.grid.len() > 0).count() > 1;
            for sheet in sheets.into_iter().filter(|sheet| sheet.grid.len() > 0) {
                match reading.table(if several { &sheet.name } else { "" }, &sheet.grid) {
                    Ok(()) => {
                        rows += sheet.grid.len();
                        if sheet.formulas > 0 {
                            reading.ledger.note(format!(
                                "{} cells of the sheet \"{}\" hold formulas; the values the spreadsheet computed last were read.",
                                sheet.formulas, sheet.name
                            ));
                        }
                        read.push(sheet.name);
                    }
                    Err(fault) if matches!(fault.code, "no-flow-curve" | "no-points") => {
                        reading.ledger.note(format!("The sheet \"{}\" holds no flow curve.", sheet.name));
                        trouble = trouble.or(Some(fault));
                    }
                    Err(fault) => return Err(fault),
                }
            }
            if read.is_empty() {
                return Err(trouble.unwrap_or_else(|| {
                    Fault::new(
                        "empty-file",
                        "no worksheet holds anything",
                        "save the sheet with the measurement",
                    )
                }));
            }
            let form = Form {
                kind: "workbook",
                encoding: None,
                separator: None,
                decimal: reading.decimal,
                sheets: read,
                rows,
            };
            reading.finish(form)
        }
    }
}

/// A reading of one file, table by table.
struct Reading<'c> {
    choices: &'c Choices,
    spindle: Option<&'c Spindle>,
    decimal: DecimalSign,
    understood: Vec<Understood>,
    curves: Vec<MeasuredCurve>,
    recoveries: Vec<MeasuredRecovery>,
    ledger: Ledger,
}

impl<'c> Reading<'c> {
    fn new(choices: &'c Choices, spindle: Option<&'c Spindle>) -> Self {
        Self {
            choices,
            spindle,
            decimal: DecimalSign::Point,
            understood: Vec::new(),
            curves: Vec::new(),
            recoveries: Vec::new(),
            ledger: Ledger::default(),
        }
    }

    fn table(&mut self, sheet: &str, grid: &Grid<'_>) -> Result<(), Fault> {
        let mut blocks = header::blocks(grid, self.choices)?;
        let (decimal, sure) = text::decimal_sign(grid);
        self.decimal = self.choices.decimal.unwrap_or(decimal);
        if let (None, Err(doubt)) = (self.choices.decimal, sure) {
            self.ledger.confirm(doubt);
        }
        let several = blocks.len() > 1;
        for (number, block) in blocks.iter_mut().enumerate() {
            let table = if several { format!("table {}", number + 1) } else { String::new() };
            let named = |name: String| {
                let table = if name.is_empty() { table.clone() } else { String::new() };
                let parts = [sheet.to_owned(), name, table];
                parts.into_iter().filter(|part| !part.is_empty()).collect::<Vec<_>>().join(", ")
            };
            let (choices, spindle) = (self.choices, self.spindle);
            let over_time =
                recovery::recoveries(grid, self.decimal, block, choices, spindle, &mut self.ledger)?;
            let found = match over_time {
                Some(found) => {
                    let of_table =
                        found.into_iter().map(|one| MeasuredRecovery { name: named(one.name), ..one });
                    self.recoveries.extend(of_table);
                    Vec::new()
                }
                None => curves::curves(grid, self.decimal, block, choices, spindle, &mut self.ledger)?,
            };
            for column in &block.columns {
                let understood = column.understood();
                if !self.understood.contains(&understood) {
                    if !understood.sure {
                        self.ledger.confirm(format!(
                            "column {}, \"{}\": {} {}; {}",
                            understood.column,
                            understood.name,
                            understood.words,
                            if understood.unit.is_empty() {
                                String::new()
                            } else {
                                format!("in {}", understood.unit)
                            },
                            understood.why
                        ));
                    }
                    self.understood.push(understood);
                }
            }
            self.curves.extend(found.into_iter().map(|one| MeasuredCurve { name: named(one.name), ..one }));
        }
        Ok(())
    }

    fn finish(mut self, form: Form) -> Result<FlowTable, Fault> {
        if self.curves.iter().all(|curve| curve.points.is_empty())
            && self.recoveries.iter().all(|one| one.points.is_empty())
        {
            let reasons: Vec<String> =
                self.ledger.by_reason.iter().map(|(why, count)| format!("{count} times {why}")).collect();
            let because =
                if reasons.is_empty() { String::new() } else { format!(" ({})", reasons.join("; ")) };
            return Err(Fault::new(
                "no-points",
                format!("there is no point left under the names of the columns{because}"),
                "look whether the columns are the right ones; say which holds what as name=meaning:unit",
            ));
        }
        distinct(
            self.curves
                .iter_mut()
                .map(|one| &mut one.name)
                .chain(self.recoveries.iter_mut().map(|one| &mut one.name))
                .collect(),
        );
        Ok(FlowTable {
            form,
            understood: self.understood,
            curves: self.curves,
            recoveries: self.recoveries,
            left_out: self.ledger.left_out(),
            to_confirm: self.ledger.to_confirm,
            remarks: self.ledger.remarks,
        })
    }
}

/// Gives curves of the same name numbers, so that each can be spoken of.
fn distinct(names: Vec<&mut String>) {
    let mut seen: BTreeMap<String, usize> = BTreeMap::new();
    for name in &names {
        *seen.entry((*name).clone()).or_default() += 1;
    }
    let mut numbers: BTreeMap<String, usize> = BTreeMap::new();
    for name in names.into_iter().filter(|name| seen.get(*name).is_some_and(|count| *count > 1)) {
        let number = numbers.entry(name.clone()).or_default();
        *number += 1;
        *name = format!("{} ({number})", if name.is_empty() { "curve" } else { name.as_str() });
    }
}

/// A complaint about a file as a whole.
pub(crate) fn complaint(
    file: &str,
    code: &str,
    field: &str,
    what: impl Into<String>,
    what_now: impl Into<String>,
) -> Diagnostic {
    Diagnostic {
        code: code.to_owned(),
        file: file.to_owned(),
        line: 0,
        column: 0,
        field: field.to_owned(),
        what: what.into(),
        what_now: what_now.into(),
        sheet_line: None,
    }
}
