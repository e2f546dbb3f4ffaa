//! The file of a temperature logger into a record: a time, or the time of day, and a temperature in every row.

use super::bytes::{Content, content};
use super::grid::Grid;
use super::header::{Column, column, settle, units_row};
use super::number::{looks_numeric, number, why_not};
use super::units::Meaning;
use super::{Choices, Fault, text};
use crate::diagnostic::Diagnostic;
use levigate_measure::Note;
use levigate_process::heat::TemperatureRecord;

/// A record as read.
#[derive(Clone, Debug, PartialEq)]
pub struct LoggedTemperature {
    /// The record; its time begins at its first point.
    pub record: TemperatureRecord,
    /// How it was read, in one sentence.
    pub told: String,
}

impl LoggedTemperature {
    /// How it was read, as a note.
    #[must_use]
    pub fn note(&self) -> Note {
        Note::new("logged", self.told.clone())
    }
}

/// Reads the file of a logger. `file` is only used in messages.
///
/// # Errors
/// What is wrong with it, with its line and what to do.
pub fn temperature_log(file: &str, bytes: &[u8]) -> Result<LoggedTemperature, Vec<Diagnostic>> {
    read(file, bytes).map_err(|fault| vec![fault.diagnose(file)])
}

fn read(file: &str, bytes: &[u8]) -> Result<LoggedTemperature, Fault> {
    let Content::Text(text, _) = content(bytes)? else {
        return Err(Fault::new(
            "not-a-table",
            "this is a workbook",
            "save the sheet with times and temperatures as CSV",
        ));
    };
    let (plain, clocked) = without_clocks(&text);
    let (grid, _) = text::grid(&plain).map_err(|fault| Fault {
        what_now: "a record has a time and a temperature in every row".to_owned(),
        ..fault
    })?;
    let (row, [time, temperature]) = header(&grid)?;
    if !clocked && !time.has_written_unit() {
        return Err(Fault::new(
            "no-unit",
            "the unit of the times is not written",
            "write it into the head of the column: time (min), time (s) or time (h)",
        )
        .on(grid.line(row))
        .in_column(time.at, &time.name));
    }
    let (sign, sure) = text::decimal_sign(&grid);
    if let Err(doubt) = sure {
        return Err(Fault::new("decimal-sign", doubt, "save the file with a decimal point"));
    }
    let (mut points, mut lines, mut left_out): (Vec<(f64, f64)>, Vec<usize>, Vec<String>) =
        Default::default();
    for at in row + 1..grid.len() {
        let [first, second] = [time.at, temperature.at].map(|column| grid.cell(at, column));
        match (number(first, sign), number(second, sign)) {
            (Some(when), Some(warm)) => {
                points.push((if clocked { when } else { time.si(when) }, temperature.si(warm)));
                lines.push(grid.line(at));
            }
            // The row of units below the names, and remarks.
            _ if points.is_empty() && !looks_numeric(first) && !looks_numeric(second) => {}
            (read, _) => {
                let cell = if read.is_none() { first } else { second };
                left_out.push(format!("line {}: {}", grid.line(at), why_not(cell, sign)));
            }
        }
    }
    let begins = points.first().map_or(0.0, |point| point.0);
    let count = points.len();
    let record =
        TemperatureRecord::new(points.into_iter().map(|(time, warm)| (time - begins, warm)).collect());
    let record = record.map_err(|error| {
        let number = error.number().unwrap_or(1);
        Fault::new("no-record", error.to_string(), error.hint())
            .on(lines.get(number - 1).copied().unwrap_or(0))
    })?;
    let lost = match left_out.as_slice() {
        [] => String::new(),
        [first, ..] => format!("; {} rows are left out, the first on {first}", left_out.len()),
    };
    let told = format!(
        "the record is that of {file}: {count} points of \"{}\" and \"{}\"{lost}",
        time.name, temperature.name
    );
    Ok(LoggedTemperature { record, told })
}

/// The last row of the head (names, or the units below them), and the columns of time and temperature; the first of each.
fn header(grid: &Grid<'_>) -> Result<(usize, [Column; 2]), Fault> {
    let choices = Choices::default();
    for row in 0..grid.len() {
        let cells = grid.row(row);
        let named = cells.iter().enumerate().filter(|(_, cell)| !cell.is_empty() && !looks_numeric(cell));
        let columns: Vec<Column> =
            named.map(|(at, cell)| column(at, cell, &choices)).collect::<Result<_, _>>()?;
        let of = |meaning: Meaning| columns.iter().find(|column| column.meaning == meaning).cloned();
        if let Some((time, temperature)) = of(Meaning::Time).zip(of(Meaning::Temperature)) {
            let mut pair = [time, temperature];
            let units = row + 1 < grid.len() && units_row(grid, row + 1, &mut pair)?;
            settle(grid, row, &mut pair, &choices)?;
            return Ok((row + usize::from(units), pair));
        }
    }
    Err(Fault::new(
        "no-record",
        "no row names a time and a temperature",
        "name the columns in the first row: time (min), temperature (C)",
    ))
}

/// The text with times of day (10:05, 10:05:30, with or without a date before them) as seconds since the first day, and whether there are any.
fn without_clocks(text: &str) -> (String, bool) {
    let (mut plain, mut clocked) = (String::with_capacity(text.len()), false);
    let (mut first_day, mut nights, mut before) = (None, 0.0, f64::NEG_INFINITY);
    for line in text.split_inclusive('\n') {
        let Some((start, end, seconds)) = clock(line) else {
            plain.push_str(line);
            continue;
        };
        clocked = true;
        let (date_start, day) = match date_before(&line[..start]) {
            Some((at, day)) => (at, Some(day)),
            None => (start, None),
        };
        let since = match day {
            Some(day) => 86_400.0 * (day - *first_day.get_or_insert(day)) + seconds,
            None => {
                // Without a date a time far below the one before is one of the next day.
                if seconds + 43_200.0 < before {
                    nights += 1.0;
                }
                before = seconds;
                86_400.0 * nights + seconds
            }
        };
        plain.push_str(&line[..date_start]);
        plain.push_str(&since.to_string());
        plain.push_str(&line[end..]);
    }
    (plain, clocked)
}

/// The first time of day of a line: where it begins and ends, and its whole seconds.
fn clock(line: &str) -> Option<(usize, usize, f64)> {
    let bytes = line.as_bytes();
    let digits = |from: usize| bytes[from..].iter().take_while(|byte| byte.is_ascii_digit()).count();
    let mut at = 0;
    while at < bytes.len() {
        let hours = digits(at);
        if hours == 0 {
            at += 1;
            continue;
        }
        let mut end = at + hours;
        let mut parts = vec![line[at..end].parse::<f64>().ok()?];
        while parts.len() < 3 && bytes.get(end) == Some(&b':') && digits(end + 1) == 2 {
            parts.push(line[end + 1..end + 3].parse().ok()?);
            end += 3;
        }
        if hours <= 2 && parts.len() > 1 && parts[0] < 24.0 && parts[1..].iter().all(|part| *part < 60.0) {
            let seconds = parts.iter().zip([3600.0, 60.0, 1.0]).map(|(part, weight)| part * weight).sum();
            return Some((at, end, seconds));
        }
        at = end;
    }
    None
}

/// A date right before a time of day, `2026-11-27 ` or `2026-11-27T`: where it begins, and its day.
fn date_before(text: &str) -> Option<(usize, f64)> {
    let start = text.len().checked_sub(11).filter(|start| text.is_char_boundary(*start))?;
    let date: jiff::civil::Date = text[start..].trim_end_matches([' ', 'T']).parse().ok()?;
    let since = jiff::civil::date(2000, 1, 1).until(date).ok()?;
    Some((start, f64::from(since.get_days())))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn points(text: &str) -> Vec<(f64, f64)> {
        temperature_log("log.csv", text.as_bytes()).unwrap().record.points().to_vec()
    }

    #[test]
    fn minutes_and_degrees_of_any_separator_and_sign_are_read() {
        let wanted = vec![(0.0, 22.5), (300.0, 35.0), (600.0, 47.25)];
        assert_eq!(points("time (min),temperature (C)\n0,22.5\n5,35\n10,47.25\n"), wanted);
        assert_eq!(points("Zeit [min];Temperatur [°C]\n0;22,5\n5;35,0\n10;47,25\n"), wanted);
        assert_eq!(points("logger 7\n\ntime\ttemperature\nmin\tC\n0\t22.5\n5\t35\n10\t47.25\n").len(), 3);
        // Fahrenheit is turned into C by its unit.
        let hot = points("time (s),temperature (F)\n0,212\n60,212\n");
        assert!((hot[0].1 - 100.0).abs() < 1e-9);
    }

    #[test]
    fn times_of_day_count_from_the_first_through_midnight_and_over_dates() {
        assert_eq!(points("time,temperature\n23:50,70\n00:20,40\n"), vec![(0.0, 70.0), (1800.0, 40.0)]);
        let dated = "time;temperature (C)\n2026-11-27 23:50:30;70,5\n2026-11-28 00:20:30;40,5\n";
        assert_eq!(points(dated), vec![(0.0, 70.5), (1800.0, 40.5)]);
        assert_eq!(points("time,temperature\n2026-11-27T10:00:00,70\n2026-11-27T10:00:30,71\n")[1].0, 30.0);
    }

    #[test]
    fn what_is_no_record_is_said_with_its_line() {
        for (text, line, code) in [
            ("time,temperature (C)\n0,22\n5,35\n", 1, "no-unit"),
            ("time (min),temperature (C)\n0,22\n5,35\n4,36\n", 4, "no-record"),
            ("time (min),temperature (C)\n0,22\n5,350\n", 3, "no-record"),
            ("a,b\n0,22\n5,35\n", 0, "no-record"),
        ] {
            let told = temperature_log("log.csv", text.as_bytes()).unwrap_err();
            assert_eq!((told[0].line, told[0].code.as_str()), (line, code), "{text}");
        }
        let with_gap = "time (min),temperature (C)\n0,22\n5,---\n10,40\n";
        let read = temperature_log("log.csv", with_gap.as_bytes()).unwrap();
        assert_eq!(read.record.points().len(), 2);
        assert!(read.told.contains("1 rows are left out, the first on line 3"), "{}", read.told);
        assert!(temperature_log("x", b"PK\x03\x04....").is_err() && temperature_log("x", b"").is_err());
    }

    proptest::proptest! {
        #[test]
        fn no_text_ever_panics(text in "\\PC{0,200}") {
            let _ = temperature_log("log.csv", text.as_bytes());
            let _ = temperature_log("log.csv", format!("time (min),temperature (C)\n{text}\n10:05,{text}").as_bytes());
        }
    }
}
