//! The files of questions about proof, one module each: `levigate schema VERB` describes them.

pub mod analyse;
pub mod arrhenius;
pub mod challenge;
pub mod design;
pub mod microbes;
pub mod optimise;
mod over_time;
pub mod pack;
pub mod shelf_life;
pub mod substitute;

use crate::diagnostic::Diagnostic;
use crate::toml_reader::Reader;
use rust_decimal::prelude::ToPrimitive;
use toml::de::DeTable;

/// Days of a month, by which weeks and days are turned into months.
const DAYS_OF_A_MONTH: f64 = 30.4375;
/// Units of time by their words, with their months.
const TIME_UNITS: [(&str, f64); 3] =
    [("days", 1.0 / DAYS_OF_A_MONTH), ("weeks", 7.0 / DAYS_OF_A_MONTH), ("months", 1.0)];
/// Times beyond this many months are slips.
const LONGEST_MONTHS: f64 = 240.0;

/// Months of one unit of the times of a file.
fn time_unit(reader: &mut Reader<'_>, top: &DeTable<'_>) -> f64 {
    let words = TIME_UNITS.map(|unit| unit.0);
    let word = reader.choice(top, "", "time_unit", &words);
    TIME_UNITS.iter().find(|(known, _)| word.as_deref() == Some(*known)).map_or(1.0, |unit| unit.1)
}

/// `readings`, as months and value.
fn readings(
    reader: &mut Reader<'_>,
    table: &DeTable<'_>,
    path: &str,
    months: f64,
) -> Option<Vec<(f64, f64)>> {
    let pairs = reader.pairs(table, path, "readings")?;
    let mut found = Vec::with_capacity(pairs.len());
    for [time, value] in pairs {
        let (time, value) = (time.to_f64()? * months, value.to_f64()?);
        if !(0.0..=LONGEST_MONTHS).contains(&time) {
            let what = format!("a reading after {time:.1} months");
            reader.wrong(
                table,
                path,
                "readings",
                what,
                "times count from the start, up to 240 months; time_unit says in which unit",
            );
            return None;
        }
        found.push((time, value));
    }
    Some(found)
}

/// `confidence_percent`, as a share.
fn confidence(reader: &mut Reader<'_>, top: &DeTable<'_>) -> f64 {
    crate::flow_file::number(reader, top, "", "confidence_percent", [60.0, 99.99])
        .map_or(0.95, |percent| 0.01 * percent)
}

/// A list of temperatures.
fn temperatures(reader: &mut Reader<'_>, top: &DeTable<'_>, key: &str) -> Vec<f64> {
    let numbers = reader.numbers(top, "", key).unwrap_or_default();
    let found: Vec<f64> = numbers.iter().filter_map(ToPrimitive::to_f64).collect();
    if let Some(wrong) = found.iter().find(|c| !(-30.0..=100.0).contains(*c)) {
        reader.wrong(top, "", key, format!("a temperature of {wrong} C"), "it lies between -30 and 100 C");
    }
    found
}

/// Name by which what stands beside a table is spoken of.
pub const OPTIONS: &str = "--with";

/// What stands beside a table, each `key = value`, as the text of a file: a value that is nothing else is a text.
///
/// # Errors
/// The one that has no key and value.
fn options_text(options: &[String]) -> Result<String, Vec<Diagnostic>> {
    let mut text = String::new();
    for (place, option) in options.iter().enumerate() {
        let parts = option.split_once('=').map(|(key, value)| (key.trim(), value.trim()));
        let known = |key: &str| {
            !key.is_empty() && key.chars().all(|c| c.is_ascii_alphanumeric() || matches!(c, '_' | '-' | '.'))
        };
        let Some((key, value)) = parts.filter(|(key, _)| known(key)) else {
            return Err(vec![Diagnostic {
                code: "not-an-option".to_owned(),
                file: OPTIONS.to_owned(),
                line: place + 1,
                column: 0,
                field: option.chars().take(40).collect(),
                what: "this is no key and value".to_owned(),
                what_now: "write it like --with lower=90".to_owned(),
                sheet_line: None,
            }]);
        };
        let plain =
            toml::from_str::<toml::Table>(&format!("value = {value}")).is_ok_and(|table| table.len() == 1);
        let quoted = toml::Value::String(value.to_owned()).to_string();
        text.push_str(&format!("{key} = {}\n", if plain { value } else { &quoted }));
    }
    Ok(text)
}

/// What was handed in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Handed<'b> {
    /// TOML that says everything.
    Whole(&'b str),
    /// A table, and the text of what stands beside it.
    Table(&'b [u8], String),
}

/// Tells a file from a table.
///
/// # Errors
/// Something stands beside a file, or is no key and value.
pub fn handed<'b>(
    (file, bytes): (&str, &'b [u8]),
    options: &[String],
) -> Result<Handed<'b>, Vec<Diagnostic>> {
    match std::str::from_utf8(bytes).ok().filter(|text| is_toml(text)) {
        Some(text) if options.is_empty() => Ok(Handed::Whole(text)),
        Some(text) => Err(as_a_whole(
            (file, text),
            OPTIONS,
            "this file says by itself what stands beside a table".to_owned(),
            "write it into the file, or hand a table in",
        )),
        None => options_text(options).map(|text| Handed::Table(bytes, text)),
    }
}

/// Whether a text is TOML and not a table: a table has no sign of equality and no heading in its first line.
fn is_toml(text: &str) -> bool {
    let mut lines = text.trim_start_matches('\u{feff}').lines().map(str::trim);
    lines.find(|line| !line.is_empty() && !line.starts_with('#')).is_none_or(|line| {
        let key = line.split_once('=').map(|(key, _)| key.trim());
        line.starts_with('[')
            || key.is_some_and(|key| {
                !key.is_empty()
                    && key.chars().all(|c| c.is_ascii_alphanumeric() || matches!(c, '_' | '-' | '.' | '"'))
            })
    })
}

/// What is wrong with a text as a whole.
fn as_a_whole(text: (&str, &str), field: &str, what: String, what_now: &str) -> Vec<Diagnostic> {
    let mut reader = Reader::new(text.0, text.1);
    reader.complain(&(0..0), "no-answer", field.to_owned(), what, what_now);
    reader.finish()
}
