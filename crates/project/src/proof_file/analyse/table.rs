//! A table: the first row names the columns, an empty cell is a value that is not there.

use super::{Data, DataRow, Typed, complaint};
use crate::bringing::table;
use crate::diagnostic::Diagnostic;

/// Heads of columns that only count the rows.
const COUNTS: [&str; 6] = ["run", "row", "no", "no.", "number", "nr"];
/// Head of the column that marks check batches.
const CHECK: &str = "check";

/// Reads a table.
///
/// # Errors
/// All that is wrong, each with its line.
pub(super) fn read(file: &str, bytes: &[u8]) -> Result<Data, Vec<Diagnostic>> {
    let table = table::read(bytes, "").map_err(|fault| {
        vec![complaint(file, (fault.line, 0), fault.code, &fault.field, fault.what, &fault.what_now)]
    })?;
    let (head, rows) = table.rows.split_first().ok_or_else(Vec::new)?;
    let width = (0..head.cells.len()).rev().find(|at| !head.text(*at).is_empty()).map_or(0, |last| last + 1);
    let heads: Vec<&str> = (0..width).map(|at| head.text(at)).collect();
    let mut problems = Vec::new();
    for (at, name) in heads.iter().enumerate() {
        let field = format!("column {}", at + 1);
        if name.is_empty() {
            let what = "a column without a name";
            problems.push(complaint(
                file,
                (head.line, 0),
                "no-name",
                &field,
                what,
                "name every column in the first row",
            ));
        } else if number(name).is_some() {
            let what = format!("the first row should name the columns, here stands {name}");
            let what_now = "write a first row like: x1, x2, viscosity";
            problems.push(complaint(file, (head.line, 0), "no-name", &field, what, what_now));
        } else if heads[..at].contains(name) {
            let what = format!("{name} stands here twice");
            problems.push(complaint(file, (head.line, 0), "twice", &field, what, "name every column once"));
        }
    }
    if !problems.is_empty() {
        return Err(problems);
    }
    let is = |at: &usize, known: &[&str]| known.iter().any(|word| heads[*at].eq_ignore_ascii_case(word));
    let check = (0..width).find(|at| is(at, &[CHECK]));
    let kept: Vec<usize> =
        (0..width).filter(|at| !(is(at, &[CHECK]) || (*at == 0 && is(at, &COUNTS)))).collect();
    let mut found = Vec::new();
    for (place, row) in rows.iter().enumerate() {
        let mut cells = Vec::with_capacity(kept.len());
        for at in &kept {
            let text = row.text(*at);
            let cell = number(text);
            if cell.is_none() && !text.is_empty() {
                let what = format!("\u{201c}{text}\u{201d} is not a number");
                let what_now = "write a plain number, or leave the cell empty where nothing was measured";
                problems.push(complaint(file, (row.line, 0), "not-a-number", heads[*at], what, what_now));
            }
            cells.push(cell);
        }
        let beyond = (width..row.cells.len()).find(|at| !row.text(*at).is_empty());
        if let Some(at) = beyond {
            let what = format!("cell {} has no column: the first row names {width}", at + 1);
            problems.push(complaint(
                file,
                (row.line, 0),
                "no-column",
                "",
                what,
                "name the column, or take the cell out",
            ));
        }
        let check = check.is_some_and(|at| !row.text(at).is_empty());
        found.push(DataRow { number: place + 1, at: (row.line, 0), cells, check });
    }
    if !problems.is_empty() {
        return Err(problems);
    }
    Ok(Data { columns: kept.iter().map(|at| heads[*at].to_owned()).collect(), rows: found })
}

/// A number with a point or, where no point stands in it, a comma.
fn number(text: &str) -> Option<Typed> {
    let plain = if text.contains('.') { text.to_owned() } else { text.replacen(',', ".", 1) };
    Typed::of(plain.trim().trim_start_matches('+'))
}
