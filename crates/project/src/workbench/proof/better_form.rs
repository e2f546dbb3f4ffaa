//! The question of a better formula as it stands in the fields of a page: how it begins for a formula, and how it becomes the file that
//! `optimise` reads. What is wrong with it comes back with the field it stands in.

mod start;

pub use start::{LineShown, StartedForm, started};

use crate::diagnostic::Diagnostic;
use crate::formula_file::FormulaFile;
use crate::formula_writer::quoted;
use crate::proof_file::optimise::read;
use crate::workbench::keeping::FieldFault;
use levigate_assess::better::Asked;
use levigate_facts::Facts;
use levigate_measure::decimal::parse_typed;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use std::fmt::Write as _;

/// Most aims, wishes and words of a list; a question has a few.
const MOST: usize = 100;

/// The question, every number as typed.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct BetterForm {
    /// What is aimed at: one, or two or three against each other.
    pub aims: Vec<AimField>,
    /// Lines of the formula in its order.
    pub lines: Vec<LineField>,
    /// Wishes.
    pub wishes: Vec<WishField>,
}

/// An aim.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct AimField {
    /// A word of `optimise`.
    pub of: String,
    /// Raw material, where the word asks for one.
    pub material: String,
    /// `least` or `most`.
    pub want: String,
}

/// What a line may do.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum May {
    /// It stays as it is.
    #[default]
    Stay,
    /// It moves between two levels.
    Move,
    /// It moves, or is left out.
    MoveOrOut,
    /// It is in, or another of the first group is.
    OneOfA,
    /// It is in, or another of the second group is.
    OneOfB,
}

/// A line.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct LineField {
    /// Raw material as its line names it.
    pub material: String,
    /// What it may do.
    pub may: May,
    /// Least, in the unit the line is typed in; of a line that is solved for a pH, the pH.
    pub least: String,
    /// Most.
    pub most: String,
    /// It stands on multiples of this.
    pub step: String,
}

/// A wish.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct WishField {
    /// A word of `optimise`, `sum` or `ratio`.
    pub of: String,
    /// Raw material, where the word asks for one.
    pub material: String,
    /// Raw materials of a sum, or above in a ratio.
    pub over: Vec<String>,
    /// Raw materials below in a ratio.
    pub under: Vec<String>,
    /// Least.
    pub least: String,
    /// Most.
    pub most: String,
}

/// A question as a file, and which field of the page each of its lines came from.
struct Written {
    text: String,
    /// First line of the file from which on a table is this row of the page.
    rows: Vec<(usize, String)>,
}

impl BetterForm {
    /// The tables of `[optimise]` for a formula.
    ///
    /// # Errors
    /// What is no number, with its field.
    pub fn tables(&self, formula: &FormulaFile) -> Result<String, Vec<FieldFault>> {
        self.written(formula).map(|written| written.text)
    }

    /// The question read, as `optimise` reads it.
    ///
    /// # Errors
    /// All that is wrong with it, each with its field: `lines.3.least`, `wishes.0.most`.
    pub fn asked(&self, formula: &FormulaFile, facts: &Facts) -> Result<Asked, Vec<FieldFault>> {
        let written = self.written(formula)?;
        read("question", &written.text, formula, facts)
            .map_err(|found| found.iter().map(|one| written.fault(one)).collect())
    }

    fn written(&self, formula: &FormulaFile) -> Result<Written, Vec<FieldFault>> {
        let mut to = Writer { text: "[optimise]\n".to_owned(), rows: Vec::new(), faults: Vec::new() };
        if self.aims.len() + self.wishes.len() + self.lines.len() > 4 * MOST {
            to.faults.push(FieldFault::new(
                "aims",
                "these are more aims, wishes and lines than are taken",
                "a question has a few of each",
                "leave some out",
            ));
            return Err(to.faults);
        }
        if self.aims.is_empty() {
            to.faults.push(FieldFault::new(
                "aims",
                "nothing is aimed at",
                "a better formula is better in something",
                "choose at least one aim",
            ));
        }
        for (place, aim) in self.aims.iter().enumerate() {
            to.table("aim", &format!("aims.{place}"));
            to.word("of", &aim.of);
            if !aim.material.is_empty() {
                to.word("material", &aim.material);
            }
            to.word("want", if aim.want == "most" { "most" } else { "least" });
        }
        self.write_lines(&mut to, formula);
        for (place, wish) in self.wishes.iter().enumerate() {
            let row = format!("wishes.{place}");
            to.table("wish", &row);
            match wish.of.as_str() {
                "sum" => to.list("sum", &wish.over),
                "ratio" => {
                    to.list("ratio", &wish.over);
                    to.list("to", &wish.under);
                }
                word => to.word("of", word),
            }
            if !wish.material.is_empty() {
                to.word("material", &wish.material);
            }
            to.number("least", &wish.least, &row);
            to.number("most", &wish.most, &row);
        }
        if to.faults.is_empty() { Ok(Written { text: to.text, rows: to.rows }) } else { Err(to.faults) }
    }

    /// Lines that may move, and the groups of which one is in.
    fn write_lines(&self, to: &mut Writer, formula: &FormulaFile) {
        let names: Vec<&str> = formula.sheet.lines().map(|(_, line)| line.material.as_str()).collect();
        if self.lines.iter().all(|line| line.may == May::Stay) {
            to.faults.push(FieldFault::new(
                "lines",
                "no line may move",
                "another formula has other levels",
                "let at least one line move",
            ));
        }
        for (place, line) in self.lines.iter().enumerate().filter(|(_, line)| line.may != May::Stay) {
            let row = format!("lines.{place}");
            to.table("line", &row);
            // A raw material in several lines is named by the number of the line.
            if names.iter().filter(|name| **name == line.material).count() > 1 {
                let _ = writeln!(to.text, "line = {}", place + 1);
            } else {
                to.word("material", &line.material);
            }
            for (key, typed) in [("least", &line.least), ("most", &line.most)] {
                if typed.trim().is_empty() {
                    to.faults.push(FieldFault::new(
                        &format!("{row}.{key}"),
                        "there is no number here",
                        "a line that may move has a least and a most",
                        "type it, or let the line stay",
                    ));
                }
                to.number(key, typed, &row);
            }
            to.number("step", &line.step, &row);
            if line.may != May::Move {
                let _ = writeln!(to.text, "optional = true");
                if parse_typed(&line.least).is_ok_and(|least| least <= Decimal::ZERO) {
                    to.faults.push(FieldFault::new(
                        &format!("{row}.least"),
                        "the least is nothing",
                        "left out is a choice of its own; the least holds where the line is in",
                        "type the least that does something",
                    ));
                }
            }
        }
        for (may, letter) in [(May::OneOfA, "A"), (May::OneOfB, "B")] {
            let within: Vec<(usize, String)> = (self.lines.iter().enumerate())
                .filter(|(_, line)| line.may == may)
                .map(|(place, line)| (place, line.material.clone()))
                .collect();
            match within.as_slice() {
                [] => {}
                [(place, _)] => to.faults.push(FieldFault::new(
                    &format!("lines.{place}.may"),
                    &format!("it is alone in group {letter}"),
                    "of a group exactly one is in, so it needs two lines",
                    "put another line into the group, or let this one move",
                )),
                several => {
                    to.table("one_of", &format!("lines.{}", several[0].0));
                    to.list("materials", &several.iter().map(|one| one.1.clone()).collect::<Vec<_>>());
                }
            }
        }
    }
}

struct Writer {
    text: String,
    rows: Vec<(usize, String)>,
    faults: Vec<FieldFault>,
}

impl Writer {
    fn table(&mut self, name: &str, row: &str) {
        self.rows.push((self.text.matches('\n').count() + 1, row.to_owned()));
        let _ = writeln!(self.text, "[[optimise.{name}]]");
    }

    fn word(&mut self, key: &str, word: &str) {
        let _ = writeln!(self.text, "{key} = {}", quoted(word));
    }

    fn list(&mut self, key: &str, words: &[String]) {
        let words: Vec<String> = words.iter().take(MOST).map(|word| quoted(word)).collect();
        let _ = writeln!(self.text, "{key} = [{}]", words.join(", "));
    }

    /// A number as typed, where there is one.
    fn number(&mut self, key: &str, typed: &str, row: &str) {
        if typed.trim().is_empty() {
            return;
        }
        match parse_typed(typed) {
            Ok(number) => {
                let _ = writeln!(self.text, "{key} = {}", number.normalize());
            }
            Err(error) => self.faults.push(FieldFault::new(
                &format!("{row}.{key}"),
                &error.to_string(),
                "a plain number stands here",
                error.hint(),
            )),
        }
    }
}

impl Written {
    /// What was found wrong with the file, as the field it came from.
    fn fault(&self, found: &Diagnostic) -> FieldFault {
        let row = self.rows.iter().rev().find(|(line, _)| *line <= found.line).map(|(_, row)| row.as_str());
        let last = found.field.rsplit(", ").next().unwrap_or_default();
        let field = match (row, last) {
            (Some(row), "sum" | "ratio" | "materials") => format!("{row}.over"),
            (Some(row), "to") => format!("{row}.under"),
            (Some(row), key) => format!("{row}.{key}"),
            (None, _) => "aims".to_owned(),
        };
        FieldFault::new(&field, &found.what, "the question cannot be asked so", &found.what_now)
    }
}
