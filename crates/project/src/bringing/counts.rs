//! A table of counts of a challenge test: a row per organism, a column per day. Everything or nothing: what cannot be read is told with its line,
//! and nothing is taken.

use super::table::read;
use crate::diagnostic::Diagnostic;
use serde::Serialize;

/// Days of a test at most.
const LAST_DAY: u16 = 365;

/// What a table held, as texts.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct CountTable {
    /// Days, ascending.
    pub days: Vec<u16>,
    /// Organisms.
    pub rows: Vec<CountTableRow>,
}

/// A row.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct CountTableRow {
    /// Name.
    pub organism: String,
    /// `bacteria`, `yeast`, `mould`; empty where no column says it.
    pub kind: String,
    /// Initial count.
    pub initial: String,
    /// Counts, one text per day.
    pub counts: Vec<String>,
    /// Line it stands on.
    pub line: usize,
}

/// What a column holds.
enum Holds {
    Organism,
    Kind,
    Initial,
    Day(u16),
    Other,
}

/// Reads a table: CSV, columns pasted from a sheet, or a workbook. Several columns of one day are plates of that day.
///
/// # Errors
/// What cannot be read, with its line.
pub fn count_table(file: &str, bytes: &[u8]) -> Result<CountTable, Vec<Diagnostic>> {
    let table =
        read(bytes, "").map_err(|fault| vec![told(file, 0, fault.code, &fault.what, &fault.what_now)])?;
    let Some((head, rows)) = table.rows.split_first() else { return Ok(CountTable::default()) };
    let holds: Vec<Holds> = (0..table.width).map(|column| holds(head.text(column))).collect();
    let mut problems = Vec::new();
    let mut days: Vec<u16> =
        holds.iter().filter_map(|one| if let Holds::Day(day) = one { Some(*day) } else { None }).collect();
    days.sort_unstable();
    days.dedup();
    for (found, what, what_now) in [
        (
            holds.iter().any(|one| matches!(one, Holds::Organism)),
            "no column is headed organism",
            "head the column of names with organism",
        ),
        (
            holds.iter().any(|one| matches!(one, Holds::Initial)),
            "no column holds the initial count",
            "head it with initial, inoculum or 0",
        ),
        (
            !days.is_empty(),
            "no column is headed by a day",
            "head the columns of counts with the day: 7, or day 7",
        ),
    ] {
        if !found {
            problems.push(told(file, head.line, "no-column", what, what_now));
        }
    }
    // Without its columns a row says nothing that could be complained about.
    if !problems.is_empty() {
        return Err(problems);
    }
    let mut read_rows = Vec::new();
    for row in rows {
        let mut one = CountTableRow {
            counts: vec![String::new(); days.len()],
            line: row.line,
            ..CountTableRow::default()
        };
        for (column, hold) in holds.iter().enumerate() {
            let text = row.text(column).trim();
            match hold {
                Holds::Organism => one.organism = text.to_owned(),
                Holds::Kind => text.to_lowercase().clone_into(&mut one.kind),
                Holds::Initial => one.initial = text.to_owned(),
                Holds::Day(day) => {
                    let place = days.iter().position(|other| other == day);
                    if let Some(count) = place.and_then(|place| one.counts.get_mut(place)) {
                        let apart = if count.is_empty() || text.is_empty() { "" } else { " " };
                        *count = format!("{count}{apart}{text}");
                    }
                }
                Holds::Other => {}
            }
        }
        if one.organism.is_empty() {
            let what_now = "write the organism, or take the row out";
            problems.push(told(file, row.line, "no-organism", "this row names no organism", what_now));
        } else if one.initial.is_empty() {
            let what = format!("{} has no initial count", one.organism);
            problems.push(told(
                file,
                row.line,
                "no-initial",
                &what,
                "write what was put in over the mass of the product",
            ));
        }
        read_rows.push(one);
    }
    if read_rows.is_empty() && problems.is_empty() {
        problems.push(told(
            file,
            head.line,
            "no-rows",
            "there is a head and nothing below it",
            "choose the table with the counts",
        ));
    }
    if problems.is_empty() { Ok(CountTable { days, rows: read_rows }) } else { Err(problems) }
}

fn holds(head: &str) -> Holds {
    let word = head.trim().to_lowercase();
    match word.as_str() {
        "organism" | "microorganism" | "micro-organism" | "strain" | "name" => return Holds::Organism,
        "kind" | "type" | "group" => return Holds::Kind,
        _ => {}
    }
    if ["initial", "inoculum", "start", "n0"].iter().any(|begin| word.starts_with(begin)) {
        return Holds::Initial;
    }
    let digits: String = word.chars().filter(char::is_ascii_digit).collect();
    let letters: String = word.chars().filter(|sign| sign.is_alphabetic()).collect();
    let of_days = ["", "d", "day", "days", "t"].contains(&letters.as_str());
    match digits.parse::<u16>() {
        Ok(0) if of_days => Holds::Initial,
        Ok(day) if of_days && day <= LAST_DAY => Holds::Day(day),
        _ => Holds::Other,
    }
}

fn told(file: &str, line: usize, code: &str, what: &str, what_now: &str) -> Diagnostic {
    Diagnostic {
        code: code.to_owned(),
        file: file.to_owned(),
        line,
        column: 0,
        field: String::new(),
        what: what.to_owned(),
        what_now: what_now.to_owned(),
        sheet_line: None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_are_found_in_their_heads_and_two_columns_of_a_day_are_two_plates() {
        let text =
            "Organism;Kind;Initial count;Day 7;day 7;T14\nCandida albicans;Yeast;6,1e4;3000;3200;<10\n";
        let read = count_table("counts.csv", text.as_bytes()).unwrap();
        assert_eq!(read.days, [7, 14]);
        assert_eq!((read.rows[0].kind.as_str(), read.rows[0].initial.as_str()), ("yeast", "6,1e4"));
        assert_eq!(read.rows[0].counts, ["3000 3200", "<10"]);
    }

    #[test]
    fn a_table_with_a_fault_gives_nothing_but_its_line() {
        let text = "organism,initial,7\nE. coli,1e6,10\n,1e5,20\nS. aureus,,30\n";
        let problems = count_table("counts.csv", text.as_bytes()).unwrap_err();
        assert_eq!(problems.iter().map(|one| one.line).collect::<Vec<_>>(), [3, 4]);
        let headless = count_table("counts.csv", b"a,b\n1,2\n").unwrap_err();
        assert_eq!(headless.len(), 3);
    }
}
