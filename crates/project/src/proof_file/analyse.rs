//! The file of `analyse`: TOML, or a table whose first row names its columns.
//!
//! ```toml
//! title = "three thickeners"
//! columns = ["Xanthan gum", "Sclerotium gum", "HEC", "temperature", "viscosity"]
//! runs = [[0.2, 0.6, 0.6, 20, 4.1], [0.8, 0.4, 0.2, 40, 3.3]]
//! total_percent = 1.4             # as the runs add up, where it is left out
//! model = "quadratic"             # what the data carry, where it is left out
//! joined = "crossed"              # settings act differently on every blend; added
//! process = "pairs"               # terms of the settings; linear, quadratic
//! grid = true                     # the region laid out, for three parts
//! [[part]]                        # every column that is nothing else, where none is named
//! name = "Xanthan gum"
//! low_percent = 0.1               # as far as the runs reach
//! [[setting]]
//! name = "temperature"
//! [[response]]                    # the last column, where none is named
//! name = "viscosity"
//! unit = "Pa s"
//! wish = "target"                 # larger, smaller
//! low = 3.0
//! target = 4.0
//! high = 5.0
//! [[ask]]
//! levels = [0.4, 0.5, 0.5, 25]    # parts, then settings
//! measured = [3.9]                # of a check batch
//! ```
//!
//! With `equation = "y = b1*exp(-b2*x)"` and `start = { b1 = 1, b2 = 0.1 }` the columns are what the equation names.

pub(super) mod question;
mod settled;
mod table;

pub(crate) use question::{JOINED, PROCESS};

use super::is_toml;
use crate::diagnostic::{Diagnostic, place};
use levigate_assess::analysis::AnalysisError;
use levigate_assess::equation::Asked as EquationAsked;
use levigate_measure::desirability::Wish;
use levigate_measure::equation::{EquationError, Refused};

/// `levigate schema analyse`.
pub const SCHEMA: &str = include_str!("analyse.schema.json");
/// What an equation is called that stands beside the file.
pub const EQUATION: &str = "the equation";

/// What stands beside the file.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Said {
    /// Columns that were measured.
    pub responses: Vec<String>,
    /// Columns that are settings, not parts.
    pub settings: Vec<String>,
    /// Model.
    pub model: Option<String>,
    /// Equation.
    pub equation: Option<String>,
    /// Starting values.
    pub start: Vec<(String, f64)>,
    /// Whether limits are sought along the profile.
    pub profile: bool,
    /// Whether the region is laid out.
    pub grid: bool,
    /// What is wished of columns, by their names.
    pub wishes: Vec<(String, Wish)>,
}

/// A wish from the command line: `NAME=larger:LOW:TARGET`, `NAME=smaller:TARGET:HIGH` or `NAME=target:LOW:TARGET:HIGH`.
///
/// # Errors
/// What is wrong with it, and how it is written.
pub fn wish_of(text: &str) -> Result<(String, Wish), String> {
    const HOW: &str = "write viscosity=target:9000:12000:15000, tack=smaller:2:5 or foam=larger:20:60";
    let (name, wish) = text.rsplit_once('=').ok_or(HOW)?;
    let mut words = wish.split(':').map(str::trim);
    let word = words.next().unwrap_or_default();
    let numbers: Vec<f64> = words
        .map(|number| number.parse::<f64>().ok().filter(|number| number.is_finite()))
        .collect::<Option<_>>()
        .ok_or(HOW)?;
    if numbers.windows(2).any(|pair| pair[0] >= pair[1]) {
        return Err(format!("the numbers of {name} do not rise; {HOW}"));
    }
    let wish = match (word, &numbers[..]) {
        ("larger", [low, target]) => Wish::Larger { low: *low, target: *target, weight: 1.0 },
        ("smaller", [target, high]) => Wish::Smaller { target: *target, high: *high, weight: 1.0 },
        ("target", [low, target, high]) => {
            Wish::Target { low: *low, target: *target, high: *high, weights: [1.0, 1.0] }
        }
        _ => return Err(HOW.to_owned()),
    };
    Ok((name.trim().to_owned(), wish))
}

/// A question, ready to be answered.
#[derive(Clone, Debug, PartialEq)]
pub enum Question {
    /// Runs of a designed experiment.
    Runs(Box<levigate_assess::analysis::Asked>),
    /// An equation.
    Equation(Box<EquationAsked>),
}

/// A number as typed, and half of its last digit.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Typed {
    value: f64,
    half: f64,
}

impl Typed {
    /// From plain digits with a decimal point.
    fn of(text: &str) -> Option<Self> {
        let value = text.parse::<f64>().ok().filter(|value| value.is_finite())?;
        let (digits, power) = text.split_once(['e', 'E']).unwrap_or((text, "0"));
        let decimals = digits.split_once('.').map_or(0, |(_, decimals)| decimals.len());
        let place = power.parse::<i32>().ok()? - i32::try_from(decimals).ok()?;
        Some(Self { value, half: 0.5 * 10f64.powi(place) })
    }
}

/// A row of the data.
#[derive(Clone, Debug, PartialEq)]
struct DataRow {
    /// Number, from one.
    number: usize,
    /// Line and column of the file.
    at: (usize, usize),
    /// A cell for every column; nothing where it is empty.
    cells: Vec<Option<Typed>>,
    /// Whether it is a check batch, by a column of that name.
    check: bool,
}

/// Columns and rows.
#[derive(Clone, Debug, Default, PartialEq)]
struct Data {
    columns: Vec<String>,
    rows: Vec<DataRow>,
}

/// Reads a question.
///
/// # Errors
/// All that is wrong, each with its place.
pub fn read((file, bytes): (&str, &[u8]), said: &Said) -> Result<Question, Vec<Diagnostic>> {
    let text = std::str::from_utf8(bytes).ok().filter(|text| is_toml(text));
    let (question, data) = match text {
        Some(text) => question::read(file, text)?,
        None => (question::Asked::plain(), table::read(file, bytes)?),
    };
    settled::settled(file, question.with(said), data)
}

fn complaint(
    file: &str,
    (line, column): (usize, usize),
    code: &str,
    field: &str,
    what: impl Into<String>,
    what_now: &str,
) -> Diagnostic {
    Diagnostic {
        code: code.to_owned(),
        file: file.to_owned(),
        line,
        column,
        field: field.to_owned(),
        what: what.into(),
        what_now: what_now.to_owned(),
        sheet_line: None,
    }
}

/// An equation that cannot be read, with the place in it.
fn wrong_equation(text: &str, error: &EquationError) -> Vec<Diagnostic> {
    let about = text.get(error.at.clone()).unwrap_or_default();
    let (_, column) = place(text, error.at.start);
    let near = if about.is_empty() { String::new() } else { format!(", at `{about}`") };
    vec![complaint(
        EQUATION,
        (1, column),
        "equation",
        "",
        format!("{error} (character {column}{near})"),
        error.what.hint(),
    )]
}

/// Why runs carry no answer.
#[must_use]
pub fn refused_runs(file: &str, error: &AnalysisError) -> Vec<Diagnostic> {
    let (field, what, hint) = match error {
        AnalysisError::Region(error) => ("part".to_owned(), error.to_string(), error.hint()),
        AnalysisError::NoModel { response, why, hint } => (response.clone(), why.clone(), *hint),
        AnalysisError::NothingSeen { why } => ("part".to_owned(), why.clone(), error.hint()),
    };
    vec![complaint(file, (0, 0), "no-answer", &field, what, hint)]
}

/// Why an equation is not fitted.
#[must_use]
pub fn refused_equation(file: &str, asked: &EquationAsked, error: &Refused) -> Vec<Diagnostic> {
    let numbered = |row: usize| asked.rows.get(row.wrapping_sub(1)).map_or(row, |(number, _)| *number);
    let what = match error {
        Refused::Observed { row } => {
            format!("what stands to the left is no number for row {}", numbered(*row))
        }
        Refused::Start { row } => {
            format!("at the starting values the equation gives no number for row {}", numbered(*row))
        }
        Refused::Solution(levigate_measure::regression::RegressionError::Dependent { term }) => {
            let name = asked.parameters.get(term - 1).map_or("", |(name, _)| name.as_str());
            format!("the data do not tell {name} apart from the parameters before it")
        }
        other => other.to_string(),
    };
    vec![complaint(file, (0, 0), "no-answer", "equation", what, error.hint())]
}
