//! The file of `adjust`: a formula file with what happens at the beaker.
//!
//! ```toml
//! [adjust]
//! with = "Sodium hydroxide 20 %"
//! window = [3.7, 3.9]            # else the pH of [target]
//! [calibration]                  # see the file of `calibrate`
//! [[bench]]
//! ph = 2.45                      # a settled reading; or mv, or trace = [[0, 2.6], [10, 2.5], ...]
//! [[bench]]
//! add_g = 21.4
//! [[bench]]
//! ph = 3.66
//! ```

use super::calibration::{CalibrationFile, read_calibration};
use crate::diagnostic::{Diagnostic, at};
use crate::flow_file::number;
use crate::formula_file::{self, FormulaFile, PH_METHODS};
use crate::toml_reader::{Reader, parsed};
use levigate_facts::PhBench;
use levigate_process::settling::Moment;
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;
use std::ops::Range;
use toml::de::DeTable;

/// `levigate schema adjust`.
pub const SCHEMA: &str = include_str!("adjust.schema.json");

/// Tables of this file besides those of a formula.
const TABLES: [&str; 3] = ["adjust", "calibration", "bench"];
/// Most entries at the bench.
const MOST: usize = 500;
/// Most readings of one trace.
const MOST_TRACE: usize = 5000;

/// How a pH is read, as far as it is said.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct MethodTyped {
    /// Diluted to 10 %.
    pub diluted: Option<bool>,
    /// Temperature, C.
    pub temperature_c: Option<f64>,
    /// Age, h.
    pub age_h: Option<f64>,
}

/// What was read.
#[derive(Clone, Debug, PartialEq)]
pub enum Shown {
    /// A settled pH.
    Ph(f64),
    /// Millivolts.
    Millivolt(f64),
    /// A drifting reading: seconds and pH.
    Trace(Vec<Moment>),
}

/// One thing that happened.
#[derive(Clone, Debug, PartialEq)]
pub enum Happened {
    /// Something went in.
    Added {
        /// Grams.
        grams: f64,
        /// What, where it is not the adjuster.
        with: Option<String>,
    },
    /// The pH was read.
    Read {
        /// What was shown.
        shown: Shown,
        /// Scatter, pH.
        scatter: Option<f64>,
        /// How.
        method: MethodTyped,
    },
}

/// One entry with its place.
#[derive(Clone, Debug, PartialEq)]
pub struct Entry {
    /// What happened.
    pub happened: Happened,
    pub(crate) place: Range<usize>,
    pub(crate) field: String,
}

/// The file.
#[derive(Clone, Debug)]
pub struct AdjustFile {
    /// The formula.
    pub formula: FormulaFile,
    /// Adjuster by name.
    pub with: String,
    /// Its assay, %.
    pub assay_percent: Option<f64>,
    /// Window, where it is not that of the formula.
    pub window: Option<[f64; 2]>,
    /// How the target is read.
    pub method: MethodTyped,
    /// Finished batch, g.
    pub batch_g: Option<f64>,
    /// Of the q.s. line not in yet, g.
    pub held_back_g: Option<f64>,
    /// Last digit of the balance, g.
    pub balance_g: Option<Decimal>,
    /// Smallest portion, g.
    pub portion_g: Option<f64>,
    /// Calibration.
    pub calibration: Option<CalibrationFile>,
    /// What happened, in order.
    pub entries: Vec<Entry>,
    pub(crate) place: Range<usize>,
    pub(crate) file: String,
    pub(crate) text: String,
}

impl AdjustFile {
    /// Name and text.
    pub(crate) fn text(&self) -> (&str, &str) {
        (&self.file, &self.text)
    }

    /// A complaint about `[adjust]`.
    pub(crate) fn complain(&self, code: &str, field: &str, what: String, what_now: &str) -> Diagnostic {
        at(self.text(), &self.place, code, format!("adjust, {field}"), what, what_now)
    }
}

/// Reads the file.
///
/// # Errors
/// All that is wrong with the text, each with its place.
pub fn read(file: &str, text: &str, known: &PhBench) -> Result<AdjustFile, Vec<Diagnostic>> {
    let table = parsed(file, text)?;
    let top = table.get_ref();
    let mut reader = Reader::new(file, text);
    let calibration = read_calibration(&mut reader, top, known);
    let entries = read_entries(&mut reader, top);
    let own = reader.table(top, "", "adjust");
    if own.is_none() && !top.contains_key("adjust") {
        reader.missing(&(0..0), "", "adjust", "write [adjust] with = \"the acid or base in use\"");
    }
    let adjust = own.and_then(|(table, span)| {
        let path = "adjust";
        reader.known_fields(
            table,
            path,
            &[
                "with",
                "assay_percent",
                "window",
                "method",
                "temperature_c",
                "age_h",
                "batch_g",
                "held_back_g",
                "balance_g",
                "portion_g",
                "note",
            ],
        );
        reader.string(table, path, "note");
        let with = reader.required_string(table, path, "with", &span, "name the acid or base in use");
        let window = reader.window(table, path, "window");
        let balance_g = reader.decimal(table, path, "balance_g");
        Some((
            with?,
            number(&mut reader, table, path, "assay_percent", [1e-6, 100.0]),
            window.and_then(|[low, high]| Some([low.to_f64()?, high.to_f64()?])),
            read_method(&mut reader, table, path),
            number(&mut reader, table, path, "batch_g", [0.01, 1e8]),
            number(&mut reader, table, path, "held_back_g", [0.0, 1e8]),
            balance_g,
            number(&mut reader, table, path, "portion_g", [1e-6, 1e4]),
            reader.span(table, "with").unwrap_or(span),
        ))
    });
    let problems = reader.finish();
    let formula = formula_file::read_beside(file, text, &TABLES);
    match (formula, adjust, problems.is_empty()) {
        (
            Ok(formula),
            Some((with, assay_percent, window, method, batch_g, held_back_g, balance_g, portion_g, place)),
            true,
        ) => Ok(AdjustFile {
            formula,
            with,
            assay_percent,
            window,
            method,
            batch_g,
            held_back_g,
            balance_g,
            portion_g,
            calibration,
            entries,
            place,
            file: file.to_owned(),
            text: text.to_owned(),
        }),
        (formula, _, _) => {
            let mut all = problems;
            all.extend(formula.err().into_iter().flatten());
            Err(all)
        }
    }
}

fn read_method(reader: &mut Reader<'_>, table: &DeTable<'_>, path: &str) -> MethodTyped {
    MethodTyped {
        diluted: reader.choice(table, path, "method", &PH_METHODS).map(|word| word == PH_METHODS[1]),
        temperature_c: number(reader, table, path, "temperature_c", [0.0, 95.0]),
        age_h: number(reader, table, path, "age_h", [0.0, 1e5]),
    }
}

fn read_entries(reader: &mut Reader<'_>, top: &DeTable<'_>) -> Vec<Entry> {
    let mut entries = Vec::new();
    let rows = reader.tables(top, "", "bench");
    if let Some((row, _)) = rows.get(MOST) {
        let what = format!("{} entries at the bench", rows.len());
        reader.wrong(row, "bench", "ph", what, &format!("at most {MOST} are taken"));
        return entries;
    }
    for (at, (row, span)) in rows.into_iter().enumerate() {
        let path = format!("bench {}", at + 1);
        reader.known_fields(
            row,
            &path,
            &["add_g", "with", "ph", "mv", "trace", "scatter", "method", "temperature_c", "age_h", "note"],
        );
        reader.string(row, &path, "note");
        let given: Vec<&str> =
            ["add_g", "ph", "mv", "trace"].into_iter().filter(|key| row.contains_key(*key)).collect();
        let [one] = given[..] else {
            let what_now = "an entry is one addition (add_g) or one reading (ph, mv or trace)";
            match given.get(1) {
                Some(second) => {
                    reader.wrong(
                        row,
                        &path,
                        second,
                        format!("the entry has {}", given.join(" and ")),
                        what_now,
                    );
                }
                None => reader.missing(&span, &path, "ph", what_now),
            }
            continue;
        };
        let happened = if one == "add_g" {
            let with = reader.string(row, &path, "with");
            for key in ["scatter", "method", "temperature_c", "age_h"] {
                if row.contains_key(key) {
                    reader.wrong(row, &path, key, format!("{key} belongs to a reading"), "take it out");
                }
            }
            number(reader, row, &path, "add_g", [0.0, 1e7]).map(|grams| Happened::Added { grams, with })
        } else {
            if row.contains_key("with") {
                reader.wrong(row, &path, "with", "with belongs to an addition".to_owned(), "take it out");
            }
            let scatter = number(reader, row, &path, "scatter", [1e-4, 1.0]);
            let method = read_method(reader, row, &path);
            let shown = match one {
                "ph" => number(reader, row, &path, "ph", [-1.0, 15.0]).map(Shown::Ph),
                "mv" => number(reader, row, &path, "mv", [-1000.0, 1000.0]).map(Shown::Millivolt),
                _ => read_trace(reader, row, &path),
            };
            shown.map(|shown| Happened::Read { shown, scatter, method })
        };
        let place = reader.span(row, one).unwrap_or(span);
        entries.extend(happened.map(|happened| Entry { happened, place, field: path }));
    }
    entries
}

fn read_trace(reader: &mut Reader<'_>, row: &DeTable<'_>, path: &str) -> Option<Shown> {
    let pairs = reader.pairs(row, path, "trace")?;
    if pairs.len() > MOST_TRACE {
        let what = format!("{} readings in one trace", pairs.len());
        reader.wrong(row, path, "trace", what, &format!("at most {MOST_TRACE} are taken: keep every tenth"));
        return None;
    }
    let moments: Option<Vec<Moment>> =
        pairs.iter().map(|[time, ph]| Some(Moment { time_s: time.to_f64()?, ph: ph.to_f64()? })).collect();
    moments.map(Shown::Trace)
}
