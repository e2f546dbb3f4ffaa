//! Sheets as people bring them: title blocks, merged and repeated heads, phases in rows and columns, percent in five spellings, days in
//! seven; what is not understood is told with its row and column, and nothing is guessed. The workbooks are written by another program's
//! library.

#![expect(clippy::unwrap_used, reason = "tests stop at the first surprise")]

use jiff::civil::{Date, date};
use levigate_facts::{Facts, shipped};
use levigate_project::bringing::{Asked, Changed, ColumnAsked, Fate, Field, OnFile, Preview, What, look};
use levigate_project::formula_file;
use levigate_project::sheet::Amount;
use proptest::prelude::*;
use rust_xlsxwriter::{ExcelDateTime, Format, Formula, Workbook, Worksheet};
use std::collections::BTreeMap;
use std::io::Write as _;
use std::sync::LazyLock;

static FACTS: LazyLock<Facts> = LazyLock::new(|| shipped().expect("the shipped facts can be read"));
const DAY: Date = date(2026, 11, 27);

fn asked(what: What) -> Asked {
    Asked { what, ..Asked::default() }
}

fn read_as(file: &str, bytes: &[u8], asked: &Asked) -> Result<Preview, String> {
    let (statuses, prices) = (BTreeMap::new(), BTreeMap::new());
    let on_file = OnFile {
        facts: &FACTS,
        day: DAY,
        lots: &[],
        statuses: &statuses,
        formulas: &[],
        prices: &prices,
        decides: true,
    };
    look(&on_file, file, bytes, asked).map_err(|problems| {
        assert!(problems.iter().all(|one| !one.what.is_empty() && !one.what_now.is_empty()), "{problems:?}");
        problems[0].code.clone()
    })
}

fn seen(bytes: &[u8], asked: &Asked) -> Preview {
    read_as("list.xlsx", bytes, asked).unwrap()
}

fn fates(preview: &Preview) -> Vec<(usize, Fate)> {
    preview.rows.iter().map(|row| (row.line, row.fate)).collect()
}

fn lines(preview: &Preview) -> Vec<(String, String, String)> {
    let file = formula_file::read("x", &preview.formula.as_ref().unwrap().text).unwrap();
    let amount = |amount: &Amount| match amount {
        Amount::Percent(value) => format!("{value}"),
        Amount::ActivePercent(value) => format!("{value} active"),
        Amount::Remainder(_) => "rest".to_owned(),
        Amount::ToPh(ph) => format!("pH {ph}"),
    };
    let of = |phase: &levigate_project::sheet::Phase| {
        phase
            .lines
            .iter()
            .map(|line| (phase.name.clone(), line.material.clone(), amount(&line.amount)))
            .collect::<Vec<_>>()
    };
    file.sheet.phases.iter().flat_map(of).collect()
}

fn line(phase: &str, material: &str, amount: &str) -> (String, String, String) {
    (phase.to_owned(), material.to_owned(), amount.to_owned())
}

fn book(fill: impl FnOnce(&mut Worksheet)) -> Vec<u8> {
    let mut book = Workbook::new();
    fill(book.add_worksheet());
    book.save_to_buffer().unwrap()
}

/// A development sheet: title block, a head of two rows with merged cells, phases in rows, percent as a form of showing, a sum by formula,
/// remarks below.
fn development_sheet() -> Vec<u8> {
    book(|sheet| {
        let (bold, percent) = (Format::new().set_bold(), Format::new().set_num_format("0.00%"));
        sheet.merge_range(0, 0, 0, 4, "Quillfen Laboratory", &bold).unwrap();
        sheet.write(1, 0, "Product name:").unwrap().write(1, 1, "Calm gel 7").unwrap();
        sheet.write(2, 0, "Date").unwrap().write(2, 1, "14.11.2026").unwrap();
        sheet.merge_range(4, 1, 4, 2, "Ingredient", &bold).unwrap();
        sheet.write(5, 0, "No.").unwrap().write(5, 1, "Trade name").unwrap().write(5, 2, "INCI").unwrap();
        sheet.write(5, 3, "% w/w").unwrap().write(5, 4, "Remarks").unwrap();
        sheet.write(6, 0, "Phase A").unwrap();
        sheet.write(7, 1, "Water").unwrap().write(7, 2, "Aqua").unwrap().write(7, 3, "q.s. to 100").unwrap();
        sheet.write(8, 1, "Glycerin 99.5 %").unwrap().write(8, 2, "Glycerin").unwrap();
        sheet.write_number_with_format(8, 3, 0.05, &percent).unwrap();
        sheet.write(9, 1, "HumecTop 13").unwrap().write(9, 2, "Propanediol").unwrap();
        sheet.write_number_with_format(9, 3, 0.03, &percent).unwrap();
        sheet.write(10, 0, "Phase B: cool down").unwrap();
        sheet.write(11, 1, "Phenoxyethanol").unwrap().write(11, 3, "0,9 %").unwrap();
        sheet.write(11, 4, "below 40 °C").unwrap();
        sheet.write(12, 1, "Citric acid").unwrap().write(12, 3, "q.s. to pH 5.2").unwrap();
        sheet.write(13, 1, "Total").unwrap();
        sheet
            .write_formula_with_format(13, 3, Formula::new("SUM(D9:D12)").set_result("0.08"), &percent)
            .unwrap();
        sheet.write(15, 0, "Heat phase A to 75 °C, cool, add B.").unwrap();
    })
}

#[test]
fn a_development_sheet_becomes_a_formula_with_everything_told() {
    let preview = seen(&development_sheet(), &asked(What::Formula));
    assert_eq!(preview.form.head_line, Some(6));
    let formula = preview.formula.as_ref().unwrap();
    assert_eq!(formula.name, "Calm gel 7");
    assert_eq!(
        lines(&preview),
        [
            line("A", "Water, purified", "rest"),
            line("A", "Glycerin 99.5 %", "5.00"),
            line("A", "HumecTop 13", "3.00"),
            line("B: cool down", "Phenoxyethanol", "0.9"),
            line("B: cool down", "Citric acid", "pH 5.2"),
        ]
        .map(|mut one| {
            // The record may be called by its grade.
            if one.1 == "Citric acid" {
                one.1 = lines(&preview)[4].1.clone();
            }
            one
        })
    );
    assert!(lines(&preview)[4].1.starts_with("Citric acid"));
    assert_eq!(formula.sum.value, Some(8.9));
    assert!(preview.ready, "{:?}", preview.missing);
    // A trade name nobody knows is not replaced by its INCI name; that is offered first.
    assert_eq!(preview.unknown.len(), 1);
    assert_eq!(preview.unknown[0].name, "HumecTop 13");
    assert!(preview.unknown[0].offers[0].why.contains("INCI"), "{:?}", preview.unknown[0].offers);
    assert!(preview.remarks.iter().any(|remark| remark.contains("holds a formula")), "{:?}", preview.remarks);
    let passed: Vec<usize> =
        preview.rows.iter().filter(|row| row.fate == Fate::PassedOver).map(|row| row.line).collect();
    assert_eq!(passed, [7, 11, 14, 16]);
    assert!(formula.text.contains("Brought in from list.xlsx, sheet Sheet1."));
    assert!(formula.text.contains("row 10"), "{}", formula.text);
    assert!(formula.text.contains("Written around the list: Heat phase A to 75 °C, cool, add B."));
}

#[test]
fn a_picked_name_is_taken_and_a_typed_cell_stands_for_the_one_in_the_sheet() {
    let mut asked = asked(What::Formula);
    asked.picks.insert("humectop 13".to_owned(), "Propanediol".to_owned());
    asked.changed = vec![Changed { line: 12, column: 4, text: "1.1".to_owned() }];
    asked.name = "Other gel".to_owned();
    let preview = seen(&development_sheet(), &asked);
    assert_eq!(lines(&preview)[2].1, "Propanediol 99.8 %");
    assert_eq!(lines(&preview)[3].2, "1.1");
    assert_eq!(preview.formula.unwrap().name, "Other gel");
}

#[test]
fn signs_of_writing_are_no_difference_and_the_nearest_grade_is_offered_first() {
    let text = "Raw material;INCI;%\nGlycerin 99,5%;Glycerin;5\nCitric acid 50% sol.;Citric Acid, Aqua;1\nWater;;q.s.\nTotal (%);;100\n";
    let preview = read_as("x.csv", text.as_bytes(), &asked(What::Formula)).unwrap();
    assert_eq!(lines(&preview)[0].1, "Glycerin 99.5 %");
    assert_eq!(preview.unknown.len(), 1);
    assert_eq!(preview.unknown[0].offers[0].name, "Citric acid 50 % solution");
    assert_eq!(preview.rows[3].fate, Fate::PassedOver);
}

#[test]
fn a_column_of_another_list_says_that_it_is_not_kept() {
    let text = "Raw material;Supplier;%;Colour of the drum\nWater;Fenwick;q.s.;blue\n";
    let preview = read_as("x.csv", text.as_bytes(), &asked(What::Formula)).unwrap();
    assert_eq!(preview.columns[1].why, "the supplier is not kept with a line of a formula");
    assert!(preview.columns[1].sure && !preview.columns[3].sure);
}

#[test]
fn phases_in_a_column_commas_and_a_repeated_head_are_read() {
    let text = "Rohstoff;Phase;Gew.-%\nWasser demin.;A;ad 100\nGlycerin 99,5 %;;3,50\nRohstoff;Phase;Gew.-%\nXanthan gum, 80 mesh;B;0,4\n;;\nSumme;;100,00\n";
    let preview = read_as("creme.csv", text.as_bytes(), &asked(What::Formula)).unwrap();
    let got = lines(&preview);
    assert_eq!(got[0], line("A", "Wasser demin.", "rest"));
    assert_eq!(got[1].0, "A");
    assert_eq!(got[1].2, "3.50");
    assert_eq!(got[2], line("B", "Xanthan gum, 80 mesh", "0.4"));
    assert_eq!(preview.formula.as_ref().unwrap().name, "creme");
    assert_eq!(fates(&preview).iter().filter(|(_, fate)| *fate == Fate::PassedOver).count(), 2);
}

#[test]
fn a_sum_that_is_not_a_hundred_is_told_and_not_repaired() {
    let text = "Raw material;%\nWater;90\nGlycerin 99.5 %;8.5\n";
    let preview = read_as("x.csv", text.as_bytes(), &asked(What::Formula)).unwrap();
    let formula = preview.formula.as_ref().unwrap();
    assert_eq!(formula.sum.value, Some(98.5));
    assert!(formula.sum_words.contains("98.5 %, not 100 %"), "{}", formula.sum_words);
    assert_eq!(lines(&preview).iter().map(|one| one.2.as_str()).collect::<Vec<_>>(), ["90", "8.5"]);
    let fill = formula.fill.clone().unwrap();
    assert_eq!((fill.line, fill.column), (2, 2));
    let again = Asked { changed: vec![fill], ..asked(What::Formula) };
    let preview = read_as("x.csv", text.as_bytes(), &again).unwrap();
    assert_eq!(lines(&preview)[0].2, "rest");
}

#[test]
fn shares_of_one_are_asked_about() {
    let text = "Raw material\tAmount\nWater\t0.92\nGlycerin 99.5 %\t0.05\nPropanediol\t0.03\n";
    let preview = read_as("", text.as_bytes(), &asked(What::Formula)).unwrap();
    assert!(!preview.ready);
    assert_eq!(preview.questions[0].id, "shares");
    let fraction = Asked { shares: "fraction".to_owned(), ..asked(What::Formula) };
    let preview = read_as("", text.as_bytes(), &fraction).unwrap();
    assert!(preview.ready, "{:?}", preview.missing);
    assert_eq!(preview.formula.unwrap().sum.value, Some(100.0));
}

#[test]
fn amounts_that_say_nothing_are_told_with_row_and_column() {
    let text = "Phase;Raw material;%\nA;Water;q.s.\nA;Citric acid;q.s.\nA;Glycerin 99.5 %;3-5\nA;Propanediol;120\nA;;4\nA;Betaine;#REF!\n";
    let preview = read_as("x.csv", text.as_bytes(), &asked(What::Formula)).unwrap();
    let troubled: Vec<(usize, usize)> = preview
        .rows
        .iter()
        .filter(|row| row.fate == Fate::NotUnderstood)
        .map(|row| (row.line, row.troubles[0].column))
        .collect();
    assert_eq!(troubled, [(3, 3), (4, 3), (5, 3), (6, 2), (7, 3)]);
    assert!(!preview.ready);
    let left = Asked { leave_out_rest: true, ..asked(What::Formula) };
    let preview = read_as("x.csv", text.as_bytes(), &left).unwrap();
    assert!(preview.ready);
    assert_eq!(lines(&preview).len(), 1);
    // What was left out stands on the formula.
    assert!(preview.formula.unwrap().text.contains("Left out: row 3"));
}

fn stock_sheet() -> Vec<u8> {
    let mut book = Workbook::new();
    book.add_worksheet().set_name("Notes").unwrap();
    let sheet = book.add_worksheet().set_name("Stock 2026").unwrap();
    let (day, percent) = (Format::new().set_num_format("dd/mm/yyyy"), Format::new().set_num_format("0.0%"));
    let heads = [
        "Raw material",
        "Lot No.",
        "Supplier",
        "Received",
        "Exp. date",
        "Qty",
        "Unit",
        "Assay",
        "Location",
        "Status",
        "Barcode",
    ];
    for (at, head) in heads.iter().enumerate() {
        sheet.write(0, at as u16, *head).unwrap();
    }
    sheet.merge_range(1, 0, 2, 0, "Mandelic acid", &Format::new()).unwrap();
    sheet.write(1, 1, "MA-1").unwrap().write(1, 2, "Fenwick").unwrap();
    sheet.write_datetime_with_format(1, 3, ExcelDateTime::from_ymd(2026, 8, 21).unwrap(), &day).unwrap();
    sheet.write(1, 4, "20.08.2028").unwrap().write(1, 5, 5).unwrap().write(1, 6, "kg").unwrap();
    sheet.write_number_with_format(1, 7, 0.992, &percent).unwrap();
    sheet.write(1, 8, "Shelf 3").unwrap().write(1, 9, "approved").unwrap();
    sheet.write(2, 1, "MA-2").unwrap().write(2, 3, 46_250).unwrap().write(2, 5, "5 lb").unwrap();
    sheet.write(3, 0, "Propanediol").unwrap().write(3, 1, "PD-7").unwrap().write(3, 4, "06/2028").unwrap();
    sheet.write(4, 0, "Elixir 9").unwrap().write(4, 1, "E-1").unwrap().write(4, 9, "fine").unwrap();
    sheet.write(5, 0, "Propanediol").unwrap().write(5, 1, "PD-8").unwrap().write(5, 5, "2 L").unwrap();
    book.save_to_buffer().unwrap()
}

#[test]
fn a_sheet_of_stock_becomes_lots_and_what_is_unclear_is_told() {
    let preview = seen(&stock_sheet(), &asked(What::Lot));
    assert_eq!(preview.form.sheet, "Stock 2026");
    assert_eq!(preview.form.sheets.len(), 2);
    assert_eq!(
        fates(&preview),
        [
            (2, Fate::Made),
            (3, Fate::Made),
            (4, Fate::NotUnderstood),
            (5, Fate::NotUnderstood),
            (6, Fate::NotUnderstood)
        ]
    );
    let words: Vec<&str> = preview.rows.iter().map(|row| row.words.as_str()).collect();
    assert_eq!(
        words[0],
        "lot MA-1 of Mandelic acid: 5 kg, assay 99.2 %, received 2026-08-21, expires 2028-08-20, released"
    );
    // 5 avoirdupois pounds of 453.59237 g; day 46250 counted by Python's datetime from 1899-12-30.
    assert_eq!(words[1], "lot MA-2 of Mandelic acid: 2267.96185 g, received 2026-08-16");
    assert_eq!(preview.questions.iter().map(|one| one.id).collect::<Vec<_>>(), ["months"]);
    let last = seen(&stock_sheet(), &Asked { months: "last".to_owned(), ..asked(What::Lot) });
    assert!(last.rows[2].words.ends_with("expires 2028-06-30"), "{:?}", last.rows[2]);
    let columns: Vec<usize> = preview.rows[3].troubles.iter().map(|one| one.column).collect();
    assert_eq!(columns, [1, 10]);
    assert!(preview.rows[4].troubles[0].what.contains("volume"), "{:?}", preview.rows[4]);
    let barcode = preview.columns.iter().find(|column| column.name == "Barcode").unwrap();
    assert_eq!(barcode.field, Field::Unused);
}

#[test]
fn days_that_may_be_two_days_are_asked_about_once() {
    let text = "Raw material,Lot,Received,Expiry\nPropanediol,A,03/04/2026,03/04/2028\nPropanediol,B,05/06/2026,07/08/2028\n";
    let preview = read_as("x.csv", text.as_bytes(), &asked(What::Lot)).unwrap();
    assert_eq!(preview.questions.iter().map(|one| one.id).collect::<Vec<_>>(), ["days"]);
    assert!(!preview.ready);
    for (order, wanted) in [("day-first", "received 2026-04-03"), ("month-first", "received 2026-03-04")] {
        let answered = Asked { days: order.to_owned(), ..asked(What::Lot) };
        let preview = read_as("x.csv", text.as_bytes(), &answered).unwrap();
        assert!(preview.ready && preview.rows[0].words.contains(wanted), "{:?}", preview.rows);
    }
    // One day that leaves no doubt settles it for the table.
    let settled = format!("{text}Propanediol,C,24/11/2026,\n");
    let preview = read_as("x.csv", settled.as_bytes(), &asked(What::Lot)).unwrap();
    assert!(preview.questions.is_empty() && preview.rows[0].words.contains("received 2026-04-03"));
    assert_eq!(
        read_as("x.csv", text.as_bytes(), &Asked { days: "x".into(), ..asked(What::Lot) }),
        Err("no-such-order".into())
    );
}

#[test]
fn a_quantity_without_a_unit_and_a_thousands_comma_are_asked_about() {
    let text = "Raw material;Lot;Quantity\nPropanediol;A;25\nPropanediol;B;1,250\n";
    let preview = read_as("x.csv", text.as_bytes(), &asked(What::Lot)).unwrap();
    assert_eq!(preview.questions[0].id, "unit");
    let answered = Asked { unit: "kg".to_owned(), ..asked(What::Lot) };
    let preview = read_as("x.csv", text.as_bytes(), &answered).unwrap();
    assert!(preview.rows[0].words.contains("25 kg"));
    assert_eq!(preview.rows[1].troubles[0].offers, ["1250", "1.25"]);
}

#[test]
fn a_code_twice_is_the_same_lot_or_told() {
    let text = "Raw material;Lot;Quantity (kg)\nPropanediol;A;25\nPropanediol;A;25\nPropanediol;a;20\n";
    let preview = read_as("x.csv", text.as_bytes(), &asked(What::Lot)).unwrap();
    assert_eq!(fates(&preview), [(2, Fate::Made), (3, Fate::PassedOver), (4, Fate::NotUnderstood)]);
}

#[test]
fn prices_and_own_raw_materials_come_out_of_a_purchasing_list() {
    let text = "Raw material;INCI;Supplier;Art. No.;EUR/kg;Function;Form;Active %\n\
                Glycerin 99.5 %;Glycerin;Fenwick;GL-995;1,90;;;\n\
                Diolet 13;Propanediol;Fenwick;PD-13;6,20;Humectant;liquid;\n\
                Lactet 80;Aqua, Lactic Acid;Fenwick;LA-80;4,10;Acid;solution;80\n\
                Mystery blend;Aqua, Glycerin, Betaine;Fenwick;MB;9,00;;;\n\
                Propanediol;Propanediol;Fenwick;;on request;;;\n";
    let preview = read_as("prices.csv", text.as_bytes(), &asked(What::Material)).unwrap();
    assert_eq!(
        fates(&preview),
        [(2, Fate::Made), (3, Fate::Made), (4, Fate::Made), (5, Fate::NotUnderstood), (6, Fate::There)]
    );
    assert!(preview.rows[0].words.starts_with("a price for Glycerin 99.5 %: 1.90 EUR per kg"));
    assert!(preview.rows[1].words.starts_with("a raw material of your own: Diolet 13"));
    assert!(!preview.ready);
    let mut like = asked(What::Material);
    like.picks.insert("Mystery blend".to_owned(), "like:glycerin-86".to_owned());
    let key = FACTS.names.resolve_material("Glycerin 86.5 % in water").unwrap();
    like.picks.insert("Mystery blend".to_owned(), format!("like:{key}"));
    let preview = read_as("prices.csv", text.as_bytes(), &like).unwrap();
    assert!(preview.ready, "{:?} {:?}", preview.missing, preview.rows);
    assert!(preview.rows[3].notes[0].contains("Glycerin 86.5 % in water"));
}

#[test]
fn a_price_without_currency_is_asked_about_and_one_of_another_weight_told() {
    let text = "Raw material;Price\nPropanediol;6.20\nGlycerin 99.5 %;0.25 €/100 g\n";
    let preview = read_as("x.csv", text.as_bytes(), &asked(What::Material)).unwrap();
    assert_eq!(preview.questions[0].id, "currency");
    let answered = Asked { currency: "chf".to_owned(), ..asked(What::Material) };
    let preview = read_as("x.csv", text.as_bytes(), &answered).unwrap();
    assert!(preview.rows[0].words.contains("6.20 CHF per kg"), "{:?}", preview.rows);
    assert_eq!(preview.rows[1].fate, Fate::NotUnderstood);
}

#[test]
fn columns_can_be_chosen_and_a_list_without_heads_is_not_sure() {
    let text = "Water\tq.s.\nGlycerin 99.5 %\t5\n";
    let preview = read_as("", text.as_bytes(), &asked(What::Formula)).unwrap();
    assert!(preview.columns.iter().all(|column| !column.sure));
    assert_eq!(lines(&preview).len(), 2);
    let wrong = Asked {
        columns: vec![ColumnAsked { column: "#9".into(), field: "percent".into() }],
        ..asked(What::Formula)
    };
    assert_eq!(read_as("", text.as_bytes(), &wrong), Err("no-such-column".to_owned()));
    let head = Asked { head: Some(77), ..asked(What::Formula) };
    assert_eq!(read_as("", text.as_bytes(), &head), Err("no-such-row".to_owned()));
    let sheet = Asked { sheet: "None".into(), ..asked(What::Lot) };
    assert_eq!(read_as("x", &stock_sheet(), &sheet), Err("no-such-sheet".to_owned()));
}

#[test]
fn what_is_no_table_or_too_large_is_refused_with_words() {
    for (bytes, code) in [
        (b"".to_vec(), "empty-file"),
        (b"only words\nhere".to_vec(), "no-columns"),
        (b"%PDF-1.7 x".to_vec(), "not-a-table"),
        (b"\xD0\xCF\x11\xE0 old".to_vec(), "not-a-table"),
        (b"PK\x03\x04 broken".to_vec(), "broken-workbook"),
        (format!("a;b\n{}", "1;2\n".repeat(20_001)).into_bytes(), "too-large"),
        (format!("{}\n", "1;".repeat(300)).into_bytes(), "too-large"),
        (unpacking_without_end(), "too-large"),
        (
            book(|sheet| {
                sheet.write(0, 250, "far away").unwrap();
            }),
            "too-large",
        ),
        (book(|_| {}), "empty-file"),
    ] {
        assert_eq!(read_as("x", &bytes, &asked(What::Lot)), Err(code.to_owned()));
    }
    // One cell in the last row is not a million rows.
    let far = book(|sheet| {
        sheet.write(0, 0, "Raw material").unwrap().write(0, 1, "Lot").unwrap();
        sheet.write(1_048_575, 0, "Propanediol").unwrap().write(1_048_575, 1, "A").unwrap();
    });
    assert_eq!(fates(&seen(&far, &asked(What::Lot))), [(1_048_576, Fate::Made)]);
}

/// A small file that unpacks to more than is read.
fn unpacking_without_end() -> Vec<u8> {
    let mut archive = zip::ZipWriter::new(std::io::Cursor::new(Vec::new()));
    let how = zip::write::SimpleFileOptions::default().compression_method(zip::CompressionMethod::Deflated);
    archive.start_file("xl/workbook.xml", how).unwrap();
    let room = vec![b' '; 1 << 20];
    for _ in 0..210 {
        archive.write_all(&room).unwrap();
    }
    archive.finish().unwrap().into_inner()
}

/// Cells as they come: names, amounts, days, and whatever else somebody types.
fn a_cell() -> impl Strategy<Value = String> {
    prop_oneof![
        "\\PC{0,12}",
        prop::sample::select(vec![
            "Water",
            "Glycerin 99.5 %",
            "Mandelic acid",
            "q.s.",
            "q.s. to 100",
            "to pH 5",
            "5 %",
            "0,5",
            "1,250",
            "-3",
            "1e9",
            "99999999999999999999999999",
            "03/04/2027",
            "31.02.2026",
            "06/2028",
            "25 kg",
            "2 L",
            "released",
            "Phase A",
            "Total",
            "EUR",
            "Aqua, Glycerin",
            "56-81-5",
        ])
        .prop_map(str::to_owned),
        "[0-9.,/% -]{0,10}",
    ]
}

fn a_table() -> impl Strategy<Value = String> {
    let heads = prop::collection::vec(
        prop::sample::select(vec![
            "Phase",
            "Raw material",
            "INCI",
            "CAS",
            "% w/w",
            "Lot",
            "Supplier",
            "Received",
            "Expiry",
            "Retest",
            "Quantity",
            "Unit",
            "Assay",
            "Status",
            "Price (EUR/kg)",
            "Price",
            "Function",
            "Form",
            "Remark",
            "",
        ]),
        1..8,
    );
    let rows = prop::collection::vec(prop::collection::vec(a_cell(), 0..8), 0..12);
    (heads, rows).prop_map(|(heads, rows)| {
        let line = |cells: &[String]| {
            cells
                .iter()
                .map(|cell| format!("\"{}\"", cell.replace('"', "\"\"")))
                .collect::<Vec<_>>()
                .join(";")
        };
        let heads: Vec<String> = heads.into_iter().map(str::to_owned).collect();
        std::iter::once(line(&heads)).chain(rows.iter().map(|row| line(row))).collect::<Vec<_>>().join("\n")
    })
}

fn an_answer() -> impl Strategy<Value = Asked> {
    let word = |words: &'static [&'static str]| prop::sample::select(words).prop_map(str::to_owned);
    (
        prop::sample::select(vec![What::Formula, What::Material, What::Lot]),
        (
            word(&["", "day-first", "month-first"]),
            word(&["", "kg", "lb", "barrel"]),
            word(&["", "eur", "Euro", "€"]),
        ),
        (word(&["", "percent", "fraction", "other"]), any::<bool>(), prop::option::of(0_usize..6)),
        prop::collection::btree_map(
            "\\PC{0,8}",
            word(&["", "water", "like:water", "like:none", "none"]),
            0..3,
        ),
        prop::collection::vec((0_usize..9, 0_usize..9, a_cell()), 0..3),
    )
        .prop_map(|(what, (days, unit, currency), (shares, leave_out_rest, head), picks, changed)| {
            Asked {
                what,
                days,
                unit,
                currency,
                shares,
                leave_out_rest,
                head,
                picks,
                changed: changed
                    .into_iter()
                    .map(|(line, column, text)| Changed { line, column, text })
                    .collect(),
                ..Asked::default()
            }
        })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, ..ProptestConfig::default() })]

    #[test]
    fn no_table_and_no_answer_panics_and_every_row_is_told(table in a_table(), asked in an_answer()) {
        if let Ok(preview) = read_as("x.csv", table.as_bytes(), &asked) {
            let mut told: Vec<usize> = preview.rows.iter().map(|row| row.line).collect();
            told.dedup();
            prop_assert_eq!(told.len(), preview.rows.len(), "a row is told once");
            prop_assert!(preview.rows.iter().all(|row| row.fate != Fate::NotUnderstood || !row.troubles.is_empty()));
            prop_assert!(preview.ready == preview.missing.is_empty());
            if let Some(formula) = &preview.formula {
                prop_assert!(formula_file::read("x", &formula.text).is_ok());
            }
        }
    }

    #[test]
    fn no_bytes_panic(bytes in prop::collection::vec(any::<u8>(), 0..300), asked in an_answer()) {
        let _ = read_as("x", &bytes, &asked);
        let _ = read_as("x", &[b"Raw material;Lot;%\n".as_slice(), &bytes].concat(), &asked);
    }

    #[test]
    fn a_damaged_workbook_is_read_or_refused(at in any::<prop::sample::Index>(), byte in any::<u8>()) {
        static BOOK: LazyLock<Vec<u8>> = LazyLock::new(stock_sheet);
        let mut bytes = BOOK.clone();
        let at = at.index(bytes.len());
        bytes[at] = byte;
        let _ = read_as("x", &bytes, &asked(What::Lot));
    }
}
