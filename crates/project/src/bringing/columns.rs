//! Which row names the columns, and what each column holds.

use super::field::{Field, field_of};
use super::reading::is_amount;
use super::shares::grams_in_head;
use super::table::{Stored, Table};
use super::{ColumnAsked, What};
use crate::flow_table::ledger::Fault;
use serde::Serialize;
use std::collections::BTreeSet;

/// Rows in which the names of the columns are looked for.
const LOOKED_AT: usize = 80;
/// Cells shown of a column.
const EXAMPLES: usize = 3;

/// What a column was understood to hold.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ColumnRead {
    /// Place, from 1.
    pub column: usize,
    /// Its letter in a spreadsheet.
    pub letter: String,
    /// Its head as found; empty where it has none.
    pub name: String,
    /// What it holds.
    pub field: Field,
    /// The same in words.
    pub words: &'static str,
    /// Why.
    pub why: String,
    /// Whether a person said so or its head does; else it should be looked at.
    pub sure: bool,
    /// The first cells with something in them.
    pub examples: Vec<String>,
}

/// Where the list stands in the table.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Layout {
    /// Row that names the columns.
    pub(super) header: Option<usize>,
    /// First row of the list.
    pub(super) first: usize,
    pub(super) columns: Vec<ColumnRead>,
}

impl Layout {
    /// The column of a field, from 0.
    pub(super) fn of(&self, field: Field) -> Option<usize> {
        self.columns.iter().find(|column| column.field == field).map(|column| column.column - 1)
    }

    /// The head of a column, or its letter.
    pub(super) fn title(&self, column: usize) -> String {
        let found = self.columns.get(column);
        let name = found.map(|column| column.name.as_str()).unwrap_or_default();
        if name.is_empty() { format!("column {}", letter(column)) } else { name.to_owned() }
    }
}

/// The letter of a column, from 0: A, B, ..., Z, AA.
pub(super) fn letter(mut column: usize) -> String {
    let mut letters = Vec::new();
    loop {
        letters.push(char::from(b'A' + u8::try_from(column % 26).unwrap_or(0)));
        column /= 26;
        if column == 0 {
            break;
        }
        column -= 1;
    }
    letters.iter().rev().collect()
}

/// Finds the list in a table and says what its columns hold.
pub(super) fn layout(
    table: &Table,
    what: What,
    header: Option<usize>,
    asked: &[ColumnAsked],
) -> Result<Layout, Fault> {
    let header = match header {
        Some(0) => None,
        Some(line) => {
            let found = table.rows.iter().position(|row| row.line == line);
            Some(found.ok_or_else(|| {
                let what = format!("row {line} is empty or not there");
                Fault::new("no-such-row", what, "name the row that holds the names of the columns").on(line)
            })?)
        }
        None => found_header(table, what),
    };
    let mut first = header.map_or(0, |row| row + 1);
    let units = header
        .and_then(|row| table.rows.get(row + 1))
        .filter(|row| row.filled().count() > 0 && row.filled().all(|(_, cell)| is_unit(&cell.text)));
    if units.is_some() {
        first += 1;
    }
    let mut columns: Vec<ColumnRead> = (0..table.width)
        .map(|at| {
            let head = header.map(|row| table.rows[row].text(at)).unwrap_or_default();
            let unit = units.map(|row| row.text(at)).unwrap_or_default();
            let name = if unit.is_empty() { head.to_owned() } else { format!("{head} [{unit}]") };
            column(table, what, first, at, name)
        })
        .collect();
    if header.is_none() && what == What::Formula {
        by_content(table, first, &mut columns);
    }
    percent_before_grams(&mut columns);
    only_once(&mut columns);
    choose(&mut columns, what, asked)?;
    Ok(Layout { header, first, columns })
}

fn column(table: &Table, what: What, first: usize, at: usize, name: String) -> ColumnRead {
    let cells = table.rows.iter().skip(first).map(|row| row.text(at)).filter(|text| !text.is_empty());
    let examples: Vec<String> = cells.take(EXAMPLES).map(|text| text.chars().take(40).collect()).collect();
    let (field, why, sure) = match field_of(what, &name) {
        Some((Field::Unused, _)) => {
            (Field::Unused, "its head speaks of something that is not kept".to_owned(), true)
        }
        Some((field, _)) => (field, format!("its head says \"{name}\""), true),
        None if name.is_empty() && examples.is_empty() => (Field::Unused, "it is empty".to_owned(), true),
        None if name.is_empty() => (Field::Unused, "it has no head".to_owned(), false),
        None => {
            let elsewhere = What::ALL.into_iter().find_map(|other| field_of(other, &name));
            match elsewhere.filter(|(field, _)| *field != Field::Unused) {
                Some((field, _)) => {
                    let kept = match what {
                        What::Formula => "a line of a formula",
                        What::Material => "a raw material",
                        What::Lot => "a lot",
                    };
                    (Field::Unused, format!("the {} is not kept with {kept}", field.words()), true)
                }
                None => (Field::Unused, "its head says nothing that is known here".to_owned(), false),
            }
        }
    };
    ColumnRead { column: at + 1, letter: letter(at), name, field, words: field.words(), why, sure, examples }
}

/// The row that names most columns; nothing where none names two, one of them the raw material or what must be there.
fn found_header(table: &Table, what: What) -> Option<usize> {
    let mut best: (usize, Option<usize>) = (0, None);
    for (at, row) in table.rows.iter().take(LOOKED_AT).enumerate() {
        let mut fields = BTreeSet::new();
        let (mut whole, mut others) = (0, 0);
        for (_, cell) in row.filled() {
            match field_of(what, &cell.text) {
                Some((field, exact)) if cell.stored == Stored::Text => {
                    fields.insert(field);
                    whole += usize::from(exact);
                }
                _ => others += 1,
            }
        }
        fields.remove(&Field::Unused);
        let named = [Field::Material, Field::Inci, Field::Cas].iter().any(|field| fields.contains(field));
        let enough = fields.len() >= 2 && named || what == What::Material && named && others == 0;
        let score = fields.len() * 4 + whole;
        if enough && score > best.0 {
            best = (score, Some(at));
        }
    }
    best.1
}

/// Units alone, as they stand in a row below the names.
fn is_unit(text: &str) -> bool {
    let text = text.trim_matches(['(', ')', '[', ']', ' ']).to_lowercase();
    let known = [
        "%",
        "% w/w",
        "w/w",
        "wt%",
        "wt %",
        "g",
        "kg",
        "mg",
        "lb",
        "oz",
        "eur/kg",
        "€/kg",
        "usd/kg",
        "$/kg",
        "gbp/kg",
        "£/kg",
        "eur",
        "usd",
        "gbp",
        "€",
        "$",
        "£",
        "dd.mm.yyyy",
        "dd/mm/yyyy",
        "mm/dd/yyyy",
        "yyyy-mm-dd",
        "tt.mm.jjjj",
        "-",
        "–",
    ];
    known.contains(&text.as_str())
}

/// A list without names: the column of words is the raw material, the one of amounts the percent.
fn by_content(table: &Table, first: usize, columns: &mut [ColumnRead]) {
    let share = |at: usize, fits: fn(&str, &Stored) -> bool| {
        let cells = table.rows.iter().skip(first).filter_map(|row| row.cells.get(at));
        let (mut yes, mut all) = (0_usize, 0_usize);
        for cell in cells.filter(|cell| !cell.text.is_empty()) {
            all += 1;
            yes += usize::from(fits(&cell.text, &cell.stored));
        }
        if all * 2 >= table.rows.len() - first.min(table.rows.len()) && yes * 4 >= all * 3 { yes } else { 0 }
    };
    let amounts = |text: &str, stored: &Stored| !matches!(stored, Stored::Text) || is_amount(text);
    let words = |text: &str, stored: &Stored| {
        matches!(stored, Stored::Text)
            && !is_amount(text)
            && text.chars().filter(|sign| sign.is_alphabetic()).count() > 2
    };
    for (field, fits, why) in [
        (Field::Percent, amounts as fn(&str, &Stored) -> bool, "amounts stand in it; it has no head"),
        (Field::Material, words, "words stand in it; it has no head"),
    ] {
        let best = (0..columns.len())
            .filter(|at| columns[*at].field == Field::Unused)
            .max_by_key(|at| (share(*at, fits), std::cmp::Reverse(*at)));
        if let Some(at) = best.filter(|at| share(*at, fits) > 0) {
            set(&mut columns[at], field, why, false);
        }
    }
}

fn set(column: &mut ColumnRead, field: Field, why: &str, sure: bool) {
    column.field = field;
    column.words = field.words();
    column.why = why.to_owned();
    column.sure = sure;
}

/// Where percent and grams both stand, the percent are read: the grams are those of one batch.
fn percent_before_grams(columns: &mut [ColumnRead]) {
    let grams = |column: &ColumnRead| grams_in_head(&column.name).is_some();
    let is = |column: &ColumnRead| column.field == Field::Percent;
    let Some(percent) = columns.iter().find(|column| is(column) && !grams(column)) else { return };
    let why = format!("column {} holds the percent; these are the grams of a batch", percent.letter);
    for column in columns.iter_mut().filter(|column| is(column) && grams(column)) {
        set(column, Field::Unused, &why, true);
    }
}

/// A field is read from one column: the one whose head fits whole, else the first.
fn only_once(columns: &mut [ColumnRead]) {
    let mut taken: BTreeSet<Field> = BTreeSet::new();
    for at in 0..columns.len() {
        let field = columns[at].field;
        if field != Field::Unused && !taken.insert(field) {
            let first =
                columns.iter().find(|column| column.field == field).map(|column| column.letter.clone());
            let why =
                format!("column {} is read as the {} already", first.unwrap_or_default(), field.words());
            set(&mut columns[at], Field::Unused, &why, false);
        }
    }
}

/// What a person said.
fn choose(columns: &mut [ColumnRead], what: What, asked: &[ColumnAsked]) -> Result<(), Fault> {
    for choice in asked {
        let field = Field::from_word(&choice.field).filter(|field| what.takes(*field)).ok_or_else(|| {
            let words: Vec<&str> = what.fields().into_iter().map(Field::word).collect();
            Fault::new(
                "no-such-field",
                format!("\"{}\" is nothing a column of this list can hold", short(&choice.field)),
                format!("choose one of {}", words.join(", ")),
            )
        })?;
        let at = columns.iter().position(|column| is_called(column, &choice.column)).ok_or_else(|| {
            let names: Vec<String> = columns
                .iter()
                .filter(|column| !column.name.is_empty())
                .map(|column| column.name.clone())
                .collect();
            Fault::new(
                "no-such-column",
                format!("no column is called \"{}\"", short(&choice.column)),
                format!("name one of {}, or its place like #2", names.join(", ")),
            )
        })?;
        if field != Field::Unused {
            for other in columns.iter_mut().filter(|column| column.field == field) {
                set(other, Field::Unused, "another column was chosen for it", true);
            }
        }
        set(&mut columns[at], field, "it was chosen", true);
    }
    Ok(())
}

fn is_called(column: &ColumnRead, name: &str) -> bool {
    match name.strip_prefix('#') {
        Some(place) => place.parse() == Ok(column.column),
        None => {
            column.name.eq_ignore_ascii_case(name.trim()) || column.letter.eq_ignore_ascii_case(name.trim())
        }
    }
}

fn short(text: &str) -> String {
    text.chars().take(40).collect()
}

#[cfg(test)]
mod tests {
    use super::super::table::read;
    use super::*;

    fn laid(what: What, text: &str) -> (Layout, Vec<(Field, usize)>) {
        let table = read(text.as_bytes(), "").unwrap();
        let laid = layout(&table, what, None, &[]).unwrap();
        let fields =
            laid.columns.iter().filter(|one| one.field != Field::Unused).map(|one| (one.field, one.column));
        (laid.clone(), fields.collect())
    }

    #[test]
    fn letters_go_on_behind_z() {
        let letters: Vec<String> = [0, 25, 26, 51, 52, 701, 702].into_iter().map(letter).collect();
        assert_eq!(letters, ["A", "Z", "AA", "AZ", "BA", "ZZ", "AAA"]);
    }

    #[test]
    fn the_names_are_found_below_a_title_block_with_units_under_them() {
        let text =
            "Quillfen Laboratory;;\nHand gel;rev. 3;\n;;\nPhase;Raw material;Amount\n;;(% w/w)\nA;Water;70\n";
        let (laid, fields) = laid(What::Formula, text);
        assert_eq!((laid.header, laid.first), (Some(2), 4));
        assert_eq!(fields, [(Field::Phase, 1), (Field::Material, 2), (Field::Percent, 3)]);
    }

    #[test]
    fn a_list_without_names_is_read_by_what_stands_in_it_and_not_surely() {
        let (laid, fields) = laid(What::Formula, "Water\tq.s.\nGlycerin\t5,0\nXanthan gum\t0,3\n");
        assert_eq!((laid.header, laid.first), (None, 0));
        assert_eq!(fields, [(Field::Material, 1), (Field::Percent, 2)]);
        assert!(laid.columns.iter().all(|column| !column.sure));
    }

    #[test]
    fn a_field_is_read_once_and_what_was_chosen_wins() {
        let text = "Name;INCI;Amount %;% w/w\nWater;Aqua;1;2\n";
        let (_, fields) = laid(What::Formula, text);
        assert_eq!(fields, [(Field::Material, 1), (Field::Inci, 2), (Field::Percent, 3)]);
        let table = read(text.as_bytes(), "").unwrap();
        let asked = [ColumnAsked { column: "#4".into(), field: "percent".into() }];
        let laid = layout(&table, What::Formula, None, &asked).unwrap();
        assert_eq!(laid.of(Field::Percent), Some(3));
        for (column, field, code) in [("x", "percent", "no-such-column"), ("#4", "price", "no-such-field")] {
            let asked = [ColumnAsked { column: column.into(), field: field.into() }];
            assert_eq!(layout(&table, What::Formula, None, &asked).unwrap_err().code, code);
        }
    }
}
