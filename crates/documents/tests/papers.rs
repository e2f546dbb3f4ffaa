//! Documents as workbooks, read back by another library: numbers are numbers, text is text, nothing runs.

mod making;
mod toner;

use calamine::{Data, Reader, Xlsx, open_workbook_from_rs};
use levigate_documents::{
    Document, Paper, blank_record, deviation_list, document_xlsx, filled_record, sheet_document,
};
use levigate_project::workbench::batch::{Deviated, DeviationList};
use making::{Choice, record};
use std::io::Cursor;

/// The cells of every sheet, by its name.
fn read_back(document: &Document) -> Vec<(String, Vec<Vec<Data>>)> {
    let bytes = document_xlsx(document, Paper::A4).expect("a workbook");
    let mut book: Xlsx<_> = open_workbook_from_rs(Cursor::new(bytes)).expect("a workbook that opens");
    let names = book.sheet_names();
    names
        .into_iter()
        .map(|name| {
            let formulas = book.worksheet_formula(&name).expect("formulas can be asked for");
            assert!(formulas.used_cells().next().is_none(), "{name} holds a formula");
            let range = book.worksheet_range(&name).expect("cells");
            (name, range.rows().map(<[Data]>::to_vec).collect())
        })
        .collect()
}

fn sheet<'s>(book: &'s [(String, Vec<Vec<Data>>)], name: &str) -> &'s [Vec<Data>] {
    &book.iter().find(|(known, _)| known == name).unwrap_or_else(|| panic!("no sheet {name}")).1
}

/// The cell under a head in the row whose first cell is this number.
fn under<'s>(rows: &'s [Vec<Data>], head: &str, number: f64) -> &'s Data {
    let heads = rows.iter().position(|row| row.contains(&Data::String(head.to_owned()))).expect("the head");
    let column =
        rows[heads].iter().position(|cell| *cell == Data::String(head.to_owned())).expect("the column");
    let row = rows[heads..].iter().find(|row| row[0] == Data::Float(number)).expect("the row");
    &row[column]
}

#[test]
fn weights_are_numbers_with_the_value_that_was_typed() {
    let book = read_back(&filled_record(&record(Choice::default())));
    let lines = sheet(&book, "Lines");
    assert_eq!(under(lines, "Weighed, g", 3.0), &Data::Float(3.5));
    assert_eq!(under(lines, "Target, g", 3.0), &Data::Float(3.0));
    assert_eq!(under(lines, "Off, g", 3.0), &Data::Float(0.5));
    assert_eq!(under(lines, "Stands", 3.0), &Data::String("too much".to_owned()));
    let entered = sheet(&book, "Everything that was entered");
    assert_eq!(under(entered, "g", 2.0), &Data::Float(20.0), "what was struck is still there");
    let blank = read_back(&blank_record(&record(Choice::default())));
    let steps = sheet(&blank, "Steps");
    let heads = &steps[2];
    for head in ["Line", "Weigh, g", "Reading 1, g", "Reading 2, g", "Lot", "Time", "Initials"] {
        assert!(heads.contains(&Data::String(head.to_owned())), "{head}: {heads:?}");
    }
}

#[test]
fn nothing_that_was_typed_is_run() {
    for hostile in
        ["=HYPERLINK(\"x\")", "+1+1", "-2+3", "@SUM(A1)", "=cmd|' /C calc'!A0", "\u{1}\u{202E}bell\u{7}"]
    {
        let record = record(Choice { text: hostile, ..Choice::default() });
        let list = DeviationList {
            batch: Some("QL-2611-99".to_owned()),
            version_code: Some("7f3a20c1d2e3".to_owned()),
            from: None,
            to: None,
            rows: vec![Deviated {
                batch: "QL-2611-99".to_owned(),
                product: hostile.to_owned(),
                version: 1,
                kind: "written down",
                entry: Some(1),
                step: None,
                when: record.as_of,
                who: hostile.to_owned(),
                known_by: "initialled, not authenticated",
                text: hostile.to_owned(),
                reason: hostile.to_owned(),
                decision: hostile.to_owned(),
                struck: None,
            }],
            batches: 1,
            day: "2026-11-24".parse().expect("a day"),
        };
        let sheet = toner::sheet("200", "0.01", |_, materials| materials[0].name = hostile.to_owned());
        for document in
            [filled_record(&record), blank_record(&record), deviation_list(&list), sheet_document(&sheet)]
        {
            let texts: Vec<String> = read_back(&document)
                .into_iter()
                .flat_map(|(_, rows)| rows.into_iter().flatten())
                .filter_map(|cell| if let Data::String(text) = cell { Some(text) } else { None })
                .collect();
            let kept = hostile.trim_start_matches(['\u{1}', '\u{202E}']).trim_end_matches('\u{7}');
            assert!(texts.iter().any(|text| text.contains(kept)), "{hostile} in {}", document.kind);
        }
    }
}

#[test]
fn the_same_document_is_the_same_file_and_long_ones_are_whole() {
    let document = filled_record(&record(Choice { lines: 400, ..Choice::default() }));
    let once = document_xlsx(&document, Paper::A4).expect("a workbook");
    assert!(once == document_xlsx(&document, Paper::A4).expect("a workbook"), "two runs differ");
    let book = read_back(&document);
    let lines = sheet(&book, "Lines");
    assert!((1..=400_u32).all(|number| lines.iter().any(|row| row[0] == Data::Float(f64::from(number)))));
    let names: Vec<&str> = book.iter().map(|(name, _)| name.as_str()).collect();
    assert_eq!(names[0], "Batch record");
    assert!(names.iter().all(|name| name.len() <= 31), "{names:?}");
}

#[test]
fn a_batch_sheet_has_its_grams_as_numbers_and_empty_cells_to_fill() {
    let sheet_of = toner::sheet("200", "0.01", |_, _| {});
    let book = read_back(&sheet_document(&sheet_of));
    let lines = sheet(&book, "Lines");
    for line in sheet_of.lines() {
        let number: f64 = line.number.to_string().parse().expect("a number");
        let grams: f64 = line.grams.to_string().parse().expect("grams");
        assert_eq!(under(lines, "Weigh, g", number), &Data::Float(grams), "{}", line.name);
        assert!(matches!(under(lines, "Reading 2, g", number), Data::Empty | Data::String(_)));
    }
}
