//! Readings over time from a spreadsheet, a CSV file or pasted cells: everything of it is taken, or nothing.
//!
//! Columns are found by their heads. The time stands under `days`, `weeks` or `months`, or under `time` with the unit in brackets. Then
//! either one row is one reading: what it belongs to stands under `batch` or `temperature`, the reading in the column that is left, its unit
//! in brackets; or one row is one time, and every further column is a batch or a temperature.

use super::{DAYS_OF_A_MONTH, LONGEST_MONTHS, TIME_UNITS};
use crate::bringing::rows_of;
use crate::diagnostic::Diagnostic;
use crate::records::TypedNumber;
use rust_decimal::prelude::ToPrimitive;

/// Most readings of a table.
const MOST_READINGS: usize = 20_000;

/// What the readings of a table belong to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Belongs {
    /// To a batch.
    Batch,
    /// To a temperature.
    Temperature,
}

impl Belongs {
    fn other(self) -> Self {
        match self {
            Self::Batch => Self::Temperature,
            Self::Temperature => Self::Batch,
        }
    }

    fn heads(self) -> &'static [&'static str] {
        match self {
            Self::Batch => &["batch", "lot", "trial", "sample"],
            Self::Temperature => &["temperature", "temp", "condition", "storage", "kept at"],
        }
    }
}

/// Readings of one batch or temperature.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Group {
    /// Its name, as written.
    pub(super) name: String,
    /// Line it stands on first.
    pub(super) line: usize,
    /// Months since the start, and the reading.
    pub(super) readings: Vec<(f64, f64)>,
}

/// What a table holds.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct OverTime {
    /// What was read, where a head says it.
    pub(super) attribute: String,
    /// Its unit, where a head says it.
    pub(super) unit: String,
    /// Groups in the order they begin.
    pub(super) groups: Vec<Group>,
}

/// Reads a table; `months`: of one unit of time, where the options say one.
///
/// # Errors
/// All that is wrong with it, each with its line.
pub(super) fn read(
    (file, bytes): (&str, &[u8]),
    belongs: Belongs,
    months: Option<f64>,
) -> Result<OverTime, Vec<Diagnostic>> {
    let rows = rows_of(file, bytes)?;
    let Some(((head_line, heads), rows)) = rows.split_first() else { return Ok(OverTime::default()) };
    let mut reading = Reading { file, problems: Vec::new() };
    let found = reading.columns((*head_line, heads), belongs, months);
    let table = found.map(|columns| reading.groups(&columns, heads, rows));
    match table {
        Some(table) if reading.problems.is_empty() => Ok(table),
        _ => Err(reading.problems),
    }
}

/// Which column holds what.
struct Columns {
    time: usize,
    months: f64,
    group: Option<usize>,
    /// A column that must say the same in every row.
    alike: Option<usize>,
    read: Vec<usize>,
}

struct Reading<'f> {
    file: &'f str,
    problems: Vec<Diagnostic>,
}

impl Reading<'_> {
    fn complain(&mut self, line: usize, code: &str, field: &str, what: String, what_now: &str) {
        self.problems.push(Diagnostic {
            code: code.to_owned(),
            file: self.file.to_owned(),
            line,
            column: 0,
            field: field.to_owned(),
            what,
            what_now: what_now.to_owned(),
            sheet_line: None,
        });
    }

    fn columns(
        &mut self,
        (line, heads): (usize, &[String]),
        belongs: Belongs,
        months: Option<f64>,
    ) -> Option<Columns> {
        let words: Vec<String> = heads.iter().map(|head| plain(head)).collect();
        let Some((time, written)) =
            words.iter().enumerate().find_map(|(at, word)| Some((at, time_of(word, &heads[at])?)))
        else {
            let what_now = "head the column of times with days, weeks or months";
            self.complain(line, "no-column", "", "no column holds the time".to_owned(), what_now);
            return None;
        };
        let months = match (written, months) {
            (Some(written), Some(said)) if written != said => {
                let what = format!("{} and time_unit say two units", heads[time]);
                self.complain(line, "two-units", "time_unit", what, "leave time_unit out");
                return None;
            }
            (Some(months), _) | (None, Some(months)) => months,
            (None, None) => {
                let what = format!("\"{}\" says no unit of time", heads[time]);
                let what_now = "head it with days, weeks or months, or say time_unit=weeks";
                self.complain(line, "no-unit", &heads[time], what, what_now);
                return None;
            }
        };
        let group = words.iter().position(|word| belongs.heads().contains(&word.as_str()));
        let beside = words.iter().position(|word| belongs.other().heads().contains(&word.as_str()));
        let alike = beside.filter(|_| belongs == Belongs::Batch);
        let left =
            |at: &usize| *at != time && ![group, beside].contains(&Some(*at)) && !words[*at].is_empty();
        let read: Vec<usize> = (0..heads.len()).filter(left).collect();
        let what = match (read.len(), group) {
            (0, _) => "no column holds the readings".to_owned(),
            (2.., Some(_)) => {
                let names: Vec<&str> = read.iter().map(|at| heads[*at].as_str()).collect();
                format!("each of these columns could be the readings: {}", names.join(", "))
            }
            _ => return Some(Columns { time, months, group, alike, read }),
        };
        let what_now = "leave one column beside the time and what the row belongs to, or give every batch a column of its own";
        self.complain(line, "no-column", "", what, what_now);
        None
    }

    fn groups(&mut self, columns: &Columns, heads: &[String], rows: &[(usize, Vec<String>)]) -> OverTime {
        let mut table = OverTime::default();
        if columns.group.is_some() || columns.read.len() == 1 {
            let (name, unit) = parted(&heads[columns.read[0]]);
            (table.attribute, table.unit) = (name.to_owned(), unit.to_owned());
        }
        self.alike(columns, heads, rows);
        let mut counted = 0;
        for (line, cells) in rows {
            let cell = |at: usize| cells.get(at).map_or("", |text| text.trim());
            let Some(time) = self.number(*line, &heads[columns.time], cell(columns.time)) else { continue };
            let time = time * columns.months;
            if !(0.0..=LONGEST_MONTHS).contains(&time) {
                let what = format!("a reading after {time:.1} months");
                let what_now = "times count from the start, up to 240 months";
                self.complain(*line, "out-of-range", &heads[columns.time], what, what_now);
                continue;
            }
            for at in &columns.read {
                let text = cell(*at);
                // A time at which one of the batches was not read leaves its cell empty; a row of its own does not.
                if text.is_empty() && columns.read.len() > 1 {
                    continue;
                }
                let Some(value) = self.number(*line, &heads[*at], text) else { continue };
                let group = match columns.group {
                    Some(group) => cell(group),
                    None if columns.read.len() > 1 => &heads[*at],
                    None => "",
                };
                counted += 1;
                put(&mut table.groups, group, *line, (time, value));
            }
        }
        if counted == 0 && self.problems.is_empty() {
            let what_now = "choose the table with the readings";
            self.complain(0, "no-rows", "", "there is a head and no reading below it".to_owned(), what_now);
        }
        if counted > MOST_READINGS {
            let what = format!("these are {counted} readings; at most {MOST_READINGS} are taken");
            self.complain(0, "too-many", "", what, "split the table");
        }
        table
    }

    /// Lines are laid through what was kept alike.
    fn alike(&mut self, columns: &Columns, heads: &[String], rows: &[(usize, Vec<String>)]) {
        let Some(at) = columns.alike else { return };
        let mut first = None;
        for (line, cells) in rows {
            let text = cells.get(at).map_or("", |text| text.trim());
            let first = *first.get_or_insert(text);
            if text != first {
                let what = format!("kept at \"{text}\", the rows before at \"{first}\"");
                let what_now = "one line goes through readings of one condition: take the rows of one; several temperatures are a matter of arrhenius";
                self.complain(*line, "mixed-conditions", &heads[at], what, what_now);
                return;
            }
        }
    }

    fn number(&mut self, line: usize, field: &str, text: &str) -> Option<f64> {
        let value = TypedNumber::read_either(text).value.and_then(|value| value.to_f64());
        if value.is_none() {
            let what = if text.is_empty() {
                "nothing stands here".to_owned()
            } else {
                format!("\"{}\" is not a number", text.chars().take(40).collect::<String>())
            };
            let what_now =
                "write a plain number, or take the row out; a reading below a limit of detection is none";
            self.complain(line, "not-a-number", field, what, what_now);
        }
        value
    }
}

fn put(groups: &mut Vec<Group>, name: &str, line: usize, reading: (f64, f64)) {
    match groups.iter_mut().find(|group| group.name == name) {
        Some(group) => group.readings.push(reading),
        None => groups.push(Group { name: name.to_owned(), line, readings: vec![reading] }),
    }
}

/// A head without its unit, in small letters.
fn plain(head: &str) -> String {
    parted(head).0.to_lowercase()
}

/// Name and unit of a head: `ascorbic acid (% of label)`.
fn parted(head: &str) -> (&str, &str) {
    let head = head.trim();
    let inner = head.strip_suffix([')', ']']).and_then(|head| head.rsplit_once(['(', '[']));
    inner.map_or((head, ""), |(name, unit)| (name.trim(), unit.trim()))
}

/// Whether a column holds the time, and months of its unit where the head says one.
fn time_of(word: &str, head: &str) -> Option<Option<f64>> {
    let unit = |word: &str| {
        let word = word.to_lowercase();
        TIME_UNITS
            .iter()
            .find(|(unit, _)| *unit == word || unit.trim_end_matches('s') == word)
            .map(|unit| unit.1)
    };
    if let Some(months) = unit(word) {
        return Some(Some(months));
    }
    let (name, rest) = word.split_once([',', ' ']).unwrap_or((word, ""));
    match name {
        "time" | "age" => {
            let written = if parted(head).1.is_empty() { rest.trim() } else { parted(head).1 };
            let years = ["years", "year", "a"].contains(&written).then_some(12.0);
            let hours = ["hours", "hour", "h"].contains(&written).then_some(1.0 / (24.0 * DAYS_OF_A_MONTH));
            let short = match written {
                "d" => Some(TIME_UNITS[0].1),
                "w" | "wk" => Some(TIME_UNITS[1].1),
                _ => None,
            };
            Some(unit(written).or(short).or(years).or(hours))
        }
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(text: &str, belongs: Belongs) -> Result<OverTime, Vec<Diagnostic>> {
        read(("readings.csv", text.as_bytes()), belongs, None)
    }

    #[test]
    fn a_row_for_each_reading_and_a_column_for_each_batch_say_the_same() {
        let long = "batch;weeks;pH\nA;0;5,40\nB;0;5,44\nA;26;5,31\nB;26;5,36\n";
        let wide = "Time (weeks);A;B\n0;5,40;5,44\n26;5,31;5,36\n";
        let (long, wide) = (of(long, Belongs::Batch).unwrap(), of(wide, Belongs::Batch).unwrap());
        let readings = |table: &OverTime| -> Vec<(String, Vec<(f64, f64)>)> {
            table.groups.iter().map(|group| (group.name.clone(), group.readings.clone())).collect()
        };
        assert_eq!(readings(&long), readings(&wide));
        assert_eq!(long.attribute, "pH");
        assert!((long.groups[0].readings[1].0 - 5.979).abs() < 1e-3, "26 weeks are six months");
    }

    #[test]
    fn a_head_says_attribute_and_unit() {
        let text = "temperature (°C),days,ascorbic acid (% of label)\n40,0,101.3\n40,28,97.8\n";
        let table = of(text, Belongs::Temperature).unwrap();
        assert_eq!((table.attribute.as_str(), table.unit.as_str()), ("ascorbic acid", "% of label"));
        assert_eq!(table.groups[0].name, "40");
    }

    #[test]
    fn what_is_wrong_is_told_with_its_line_and_nothing_is_taken() {
        let lines = |text: &str| -> Vec<(usize, String)> {
            let problems = of(text, Belongs::Batch).unwrap_err();
            problems.into_iter().map(|one| (one.line, one.code)).collect()
        };
        let said = |line, code: &str| (line, code.to_owned());
        assert_eq!(
            lines("batch;weeks;pH\nA;0;5.4\nA;soon;5.3\nA;8;<5\nA;-1;5\nA;9;\n"),
            [
                said(3, "not-a-number"),
                said(4, "not-a-number"),
                said(5, "out-of-range"),
                said(6, "not-a-number")
            ]
        );
        assert_eq!(lines("batch;pH\nA;5.4\n"), [said(1, "no-column")]);
        assert_eq!(lines("batch;time;pH\nA;0;5.4\n"), [said(1, "no-unit")]);
        assert_eq!(lines("batch;weeks;pH;viscosity\nA;0;5.4;4000\n"), [said(1, "no-column")]);
        assert_eq!(lines("batch;weeks;pH\n"), [said(0, "no-rows")]);
        let mixed = "batch;condition;weeks;pH\nA;25;0;5.4\nA;40;4;5.3\n";
        assert_eq!(lines(mixed), [said(3, "mixed-conditions")]);
        assert!(read(("t", b"batch;weeks;pH\nA;0;5\n"), Belongs::Batch, Some(1.0)).is_err());
    }
}
