//! Measured tables into flow curves: text with any separator, pasted cells, workbooks.
//!
//! Bytes in, curves out; no file is opened here. What every column was understood to hold is said back, with its unit, the factor to SI,
//! why, and whether it is sure; a person can say otherwise ([`Choices`]). Nothing is lost without a word: what is no point is listed
//! with its line and the reason. Nothing is guessed either: a unit that is not written is the usual one *with a doubt*, a sign that may
//! part thousands makes the cell no number, a table without names is refused until its columns are named.

mod bytes;
mod curves;
mod grid;
mod header;
mod number;
mod sweeps;
mod text;
mod words;
mod workbook;

pub use text::Separator;
pub use words::{Meaning, Unit};

use crate::diagnostic::Diagnostic;
use crate::records::DecimalSign;
use bytes::Content;
use grid::Grid;
use header::Column;
use levigate_process::flow::spindle::DiscSpindle;
use serde::{Deserialize, Serialize};
use std::borrow::Cow;
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

/// What the person says about a table, beside what stands in it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Choices {
    /// Worksheet; all when empty.
    pub sheet: String,
    /// What columns hold.
    pub columns: Vec<ColumnChoice>,
    /// The decimal sign, where it is not to be told from the cells.
    pub decimal: Option<DecimalSign>,
    /// Part a run of points where the shear rates turn.
    pub split_sweeps: bool,
    /// Leave points below this torque out.
    pub torque_floor: Option<TorqueFloor>,
}

impl Default for Choices {
    fn default() -> Self {
        Self {
            sheet: String::new(),
            columns: Vec::new(),
            decimal: None,
            split_sweeps: true,
            torque_floor: None,
        }
    }
}

/// What a column holds, as the person says.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct ColumnChoice {
    /// Name as it stands in the file, or `#2` for the second column.
    pub name: String,
    /// What it holds.
    pub meaning: Meaning,
    /// Its unit; as written in the file when empty.
    #[serde(default)]
    pub unit: String,
}

impl ColumnChoice {
    /// Reads `NAME=MEANING` or `NAME=MEANING:UNIT`.
    ///
    /// # Errors
    /// What is wrong with it, and what to do.
    pub fn read(text: &str) -> Result<Self, (String, String)> {
        let known: Vec<&str> = Meaning::ALL.iter().map(|meaning| meaning.word()).collect();
        let what_now = format!("write NAME=MEANING or NAME=MEANING:UNIT; meanings are {}", known.join(", "));
        let Some((name, rest)) = text.rsplit_once('=').filter(|(name, _)| !name.trim().is_empty()) else {
            return Err((format!("\"{text}\" does not say what a column means"), what_now));
        };
        let (meaning, unit) = rest.split_once(':').unwrap_or((rest, ""));
        let Some(meaning) = Meaning::from_word(meaning) else {
            return Err((format!("\"{meaning}\" is not the meaning of a column"), what_now));
        };
        let unit = unit.trim();
        if !unit.is_empty() && meaning.unit(unit).is_none() {
            let units: Vec<&str> = meaning.units().iter().map(|unit| unit.symbol).collect();
            let units = if units.is_empty() {
                "it has none".to_owned()
            } else {
                format!("use one of {}", units.join(", "))
            };
            return Err((format!("\"{unit}\" is not a unit of {}", meaning.words()), units));
        }
        Ok(Self { name: name.trim().to_owned(), meaning, unit: unit.to_owned() })
    }
}

impl Choices {
    fn of(&self, at: usize, name: &str, label: &str) -> Option<&ColumnChoice> {
        self.columns.iter().find(|choice| {
            let wanted = choice.name.trim();
            wanted == name
                || wanted == label
                || wanted.strip_prefix('#').and_then(|place| place.parse::<usize>().ok()) == Some(at + 1)
        })
    }

    /// A choice for a column that is not there is a slip of the hand.
    fn all_found(&self, columns: &[Column]) -> Result<(), Fault> {
        let lost = self.columns.iter().find(|choice| {
            !columns.iter().any(|column| {
                self.of(column.at, &column.name, &words::parted(&column.name).0) == Some(choice)
            })
        });
        lost.map_or(Ok(()), |choice| {
            let names: Vec<String> = columns.iter().map(|column| format!("\"{}\"", column.name)).collect();
            Err(Fault::new(
                "no-such-column",
                format!("no column is called \"{}\"", choice.name),
                format!("the columns are {}; #2 is the second one", names.join(", ")),
            ))
        })
    }
}

/// The least torque whose points count.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct TorqueFloor {
    /// Value.
    pub value: f64,
    /// Unit: `%` of full torque, or one of torque.
    pub unit: String,
}

impl TorqueFloor {
    fn column<'c>(&self, columns: &'c [Column]) -> Result<(&'c Column, f64), Fault> {
        let of = |meaning: Meaning| {
            let (unit, _) = meaning.unit(&self.unit)?;
            let column = columns.iter().find(|column| column.meaning == meaning)?;
            Some((column, unit.si(self.value)))
        };
        of(Meaning::Reading).or_else(|| of(Meaning::Torque)).ok_or_else(|| {
            Fault::new(
                "no-torque",
                format!("no column holds a torque that {} {} could be held against", self.value, self.unit),
                "leave the least torque away, or say which column holds the torque: NAME=torque:mN.m or NAME=reading",
            )
        })
    }
}

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

/// Up or down.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Direction {
    /// Rising shear rates.
    Up,
    /// Falling shear rates.
    Down,
}

impl Direction {
    /// Its name.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Up => "up",
            Self::Down => "down",
        }
    }

    fn of_words(text: &str) -> Option<Self> {
        let text = words::plain_label(text);
        let is = |words: &[&str]| words.iter().any(|word| text == *word);
        if is(&[
            "up",
            "rising",
            "increasing",
            "ascending",
            "auf",
            "aufwarts",
            "hin",
            "montee",
            "subida",
            "salita",
        ]) {
            Some(Self::Up)
        } else if is(&[
            "down",
            "falling",
            "decreasing",
            "descending",
            "ab",
            "abwarts",
            "ruck",
            "descente",
            "bajada",
            "discesa",
        ]) {
            Some(Self::Down)
        } else {
            None
        }
    }
}

/// A measured curve.
#[derive(Clone, Debug, PartialEq)]
pub struct MeasuredCurve {
    /// What tells it from the others of the file; empty where it is the only one and has no name.
    pub name: String,
    /// Name of the sample, where the file says one.
    pub sample: String,
    /// Temperature, C, where the file says one.
    pub temperature_c: Option<f64>,
    /// Up or down, where it is known.
    pub direction: Option<Direction>,
    /// Names of its two columns.
    pub columns: [String; 2],
    /// Their units.
    pub units: [&'static str; 2],
    /// What they hold.
    pub meanings: [Meaning; 2],
    /// Its points in the order of the file.
    pub points: Vec<MeasuredPoint>,
}

/// A measured point.
#[derive(Clone, Debug, PartialEq)]
pub struct MeasuredPoint {
    /// Line of the file, from 1.
    pub line: usize,
    /// Shear rate, 1/s.
    pub shear_rate: f64,
    /// Stress, Pa.
    pub stress: f64,
    /// Both values as they stand in the file.
    pub typed: [Box<str>; 2],
}

/// What is wrong with a table.
#[derive(Clone, Debug, PartialEq)]
struct Fault {
    code: &'static str,
    what: String,
    what_now: String,
    line: usize,
    field: String,
}

impl Fault {
    fn new(code: &'static str, what: impl Into<String>, what_now: impl Into<String>) -> Self {
        Self { code, what: what.into(), what_now: what_now.into(), line: 0, field: String::new() }
    }

    fn on(mut self, line: usize) -> Self {
        self.line = line;
        self
    }

    fn in_column(mut self, at: usize, name: &str) -> Self {
        self.field = format!("column {}, {name}", at + 1);
        self
    }

    fn diagnose(self, file: &str) -> Diagnostic {
        Diagnostic { line: self.line, ..complaint(file, self.code, &self.field, self.what, self.what_now) }
    }
}

fn too_many_columns(line: usize) -> Fault {
    Fault::new(
        "too-many-columns",
        format!("there are more than {MOST_COLUMNS} columns"),
        "save the part with the curve alone: a shear rate with a stress or viscosity",
    )
    .on(line)
}

/// What is said about a table while it is read.
#[derive(Debug, Default)]
struct Ledger {
    count: usize,
    by_reason: BTreeMap<String, usize>,
    first: Vec<LeftOut>,
    to_confirm: Vec<String>,
    remarks: Vec<String>,
}

impl Ledger {
    fn leave_out(&mut self, line: usize, column: &Column, text: &str, why: String) {
        self.enter(line, &column.name, text, why);
    }

    fn enter(&mut self, line: usize, name: &str, text: &str, why: String) {
        self.count += 1;
        if self.first.len() < MOST_NAMED {
            let text = text.chars().take(60).collect();
            self.first.push(LeftOut { line, name: name.to_owned(), text, why: why.clone() });
        }
        *self.by_reason.entry(why).or_default() += 1;
    }

    /// A row without numbers below the header: a remark of the instrument.
    fn remark(&mut self, line: usize, cells: &[Cow<'_, str>]) {
        let text =
            cells.iter().filter(|cell| !cell.is_empty()).map(AsRef::as_ref).collect::<Vec<_>>().join(" ");
        if !text.is_empty() {
            self.enter(
                line,
                "",
                &text,
                "a row without a shear rate and its value: read as a remark".to_owned(),
            );
        }
    }

    fn confirm(&mut self, text: String) {
        if !self.to_confirm.contains(&text) && self.to_confirm.len() < MOST_NAMED {
            self.to_confirm.push(text);
        }
    }

    fn note(&mut self, text: String) {
        if !self.remarks.contains(&text) && self.remarks.len() < MOST_NAMED {
            self.remarks.push(text);
        }
    }

    fn left_out(&mut self) -> LeftOutAll {
        let by_reason = std::mem::take(&mut self.by_reason);
        LeftOutAll {
            count: self.count,
            by_reason: by_reason.into_iter().map(|(why, count)| LeftOutCount { why, count }).collect(),
            first: std::mem::take(&mut self.first),
        }
    }
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
            let found =
                curves::curves(grid, self.decimal, block, self.choices, self.spindle, &mut self.ledger)?;
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
            for mut curve in found {
                let table = if several && curve.name.is_empty() {
                    format!("table {}", number + 1)
                } else {
                    String::new()
                };
                let parts = [sheet.to_owned(), curve.name, table];
                curve.name = parts.into_iter().filter(|part| !part.is_empty()).collect::<Vec<_>>().join(", ");
                self.curves.push(curve);
            }
        }
        Ok(())
    }

    fn finish(mut self, form: Form) -> Result<FlowTable, Fault> {
        if self.curves.iter().all(|curve| curve.points.is_empty()) {
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
        distinct(&mut self.curves);
        Ok(FlowTable {
            form,
            understood: self.understood,
            curves: self.curves,
            left_out: self.ledger.left_out(),
            to_confirm: self.ledger.to_confirm,
            remarks: self.ledger.remarks,
        })
    }
}

/// Gives curves of the same name numbers, so that each can be spoken of.
fn distinct(curves: &mut [MeasuredCurve]) {
    let mut seen: BTreeMap<String, usize> = BTreeMap::new();
    for curve in curves.iter() {
        *seen.entry(curve.name.clone()).or_default() += 1;
    }
    let mut numbers: BTreeMap<String, usize> = BTreeMap::new();
    for curve in curves.iter_mut().filter(|curve| seen.get(&curve.name).is_some_and(|count| *count > 1)) {
        let number = numbers.entry(curve.name.clone()).or_default();
        *number += 1;
        curve.name = format!("{} ({number})", if curve.name.is_empty() { "curve" } else { &curve.name });
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
