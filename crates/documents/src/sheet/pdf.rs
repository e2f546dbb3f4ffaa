//! The batch sheet as PDF: archival, tagged, the same bytes for the same sheet.

use super::Paper;
use super::words::Printed;
use crate::DocumentError;
use crate::setting::Setting;
use levigate_project::batch_sheet::BatchSheet;
use levigate_project::paper_code;
use serde_json::Value;

const TEMPLATE: &str = include_str!("sheet.typ");

/// The sheet as PDF on A4.
///
/// # Errors
/// As [`sheet_pdf_on`].
pub fn sheet_pdf(sheet: &BatchSheet) -> Result<Vec<u8>, DocumentError> {
    sheet_pdf_on(sheet, Paper::A4)
}

/// The sheet as PDF on a paper of choice. Two calls with the same sheet give the same bytes: the date is that of the sheet.
///
/// # Errors
/// A date that is none, or a page the layout refuses.
pub fn sheet_pdf_on(sheet: &BatchSheet, paper: Paper) -> Result<Vec<u8>, DocumentError> {
    let data = data(sheet)?;
    setting(sheet, &data, paper, &paper_code::of_version("sheet", &sheet.version_code)).pdf()
}

fn data(sheet: &BatchSheet) -> Result<Value, DocumentError> {
    serde_json::to_value(Printed::of(sheet)).map_err(|error| DocumentError::Layout { why: error.to_string() })
}

fn setting<'a>(sheet: &'a BatchSheet, data: &'a Value, paper: Paper, code: &'a str) -> Setting<'a> {
    Setting { template: TEMPLATE, data, paper, date: &sheet.date, code }
}

#[cfg(test)]
#[path = "../../tests/toner/mod.rs"]
mod toner;

#[cfg(test)]
mod tests {
    use super::*;

    /// The words on each page, in the order they are set, with the size of their type.
    fn pages(sheet: &BatchSheet, paper: Paper) -> Vec<Vec<(String, f64)>> {
        let data = data(sheet).unwrap();
        let code = paper_code::of_version("sheet", &sheet.version_code);
        crate::setting::looked_at::pages(&setting(sheet, &data, paper, &code))
    }
    fn all(pages: &[Vec<(String, f64)>]) -> String {
        pages.iter().flatten().map(|(word, _)| word.as_str()).collect::<Vec<_>>().join("|")
    }

    #[test]
    fn every_page_says_what_it_is_and_how_many_there_are() {
        let sheet = toner::sheet("200", "0.01", |_, _| {});
        for paper in [Paper::A4, Paper::Letter] {
            let pages = pages(&sheet, paper);
            for (at, words) in pages.iter().enumerate() {
                let page: String =
                    words.iter().map(|(word, _)| word.as_str()).collect::<String>().replace('\u{00A0}', " ");
                assert!(page.contains(&format!("Page {} of {}", at + 1, pages.len())), "{page}");
                assert!(page.contains("version 7f3a-20c1"), "{page}");
            }
        }
    }

    #[test]
    fn every_weight_is_there_in_large_type_and_nothing_is_small() {
        let sheet = toner::sheet("200", "0.01", |_, _| {});
        let pages = pages(&sheet, Paper::A4);
        let large: Vec<&str> =
            pages.iter().flatten().filter(|(_, size)| *size >= 16.0).map(|(word, _)| word.as_str()).collect();
        for line in sheet.lines() {
            let grams = line.grams.to_string();
            assert!(large.contains(&grams.as_str()), "{grams} is not among {large:?}");
        }
        let small = |size: f64| size < 12.0 - 1e-6;
        let code = paper_code::of_version("sheet", &sheet.version_code);
        for (at, words) in pages.iter().enumerate() {
            let little: String =
                words.iter().filter(|(_, size)| small(*size)).map(|(word, _)| word.as_str()).collect();
            // The identifier stands in the footer too, once.
            let code = format!("{code}/{}", at + 1);
            assert_eq!(little.matches(&code).count(), 1, "{little}");
            let little = little.replace(&code, "");
            assert!(little.contains("Page") && little.len() < 80, "only the footer may be small: {little}");
        }
    }

    #[test]
    fn what_people_typed_stays_text() {
        let hostile = "#panic(\"x\") *bold* $x$ #read(\"/etc/passwd\") <script>";
        let sheet = toner::sheet("200", "0.01", |sheet, materials| {
            sheet.product.name = hostile.to_owned();
            sheet.phases[0].step = Some(hostile.to_owned());
            materials[1].name = hostile.to_owned();
        });
        let words = all(&pages(&sheet, Paper::A4)).replace('|', "");
        assert!(words.matches("#panic").count() >= 3, "{words}");
        assert!(words.contains("*bold*") && words.contains("$x$"), "{words}");
    }

    #[test]
    fn the_same_sheet_gives_the_same_bytes() {
        let sheet = toner::sheet("200", "0.01", |_, _| {});
        let once = sheet_pdf(&sheet).unwrap();
        let again = sheet_pdf(&sheet).unwrap();
        assert!(once.starts_with(b"%PDF-"), "a PDF");
        assert!(once == again, "two runs differ");
        assert!(once != sheet_pdf_on(&sheet, Paper::Letter).unwrap(), "Letter is another page");
        let text = String::from_utf8_lossy(&once);
        // The archival and the tagged mark stand in plain metadata.
        assert!(text.contains("pdfaid:part") && text.contains("/StructTreeRoot"), "archival and tagged");
    }

    #[test]
    fn a_script_without_a_font_is_still_printed() {
        let sheet = toner::sheet("200", "0.01", |sheet, materials| {
            sheet.product.name = "化粧水 \u{1F9EA} \u{202E}abc\u{0007}".to_owned();
            materials[1].name = "Вода Ωμέγα".to_owned();
        });
        assert!(sheet_pdf(&sheet).unwrap().starts_with(b"%PDF-"));
    }

    #[test]
    fn sixty_lines_and_long_names_fit() {
        let sheet = toner::sheet("1000", "0.01", |sheet, materials| {
            materials[1].name = "Polyglyceryl-10-pentaisostearate-behenate-crosspolymer ".repeat(4);
            let line = sheet.phases[0].lines[1].clone();
            for _ in 0..55 {
                let mut line = line.clone();
                line.amount = levigate_formula::sheet::Amount::Percent(rust_decimal::Decimal::new(5, 1));
                sheet.phases[0].lines.push(line);
            }
        });
        let pages = pages(&sheet, Paper::Letter);
        assert!(pages.len() > 6, "{}", pages.len());
        assert!(sheet.lines().count() > 60);
    }
}
