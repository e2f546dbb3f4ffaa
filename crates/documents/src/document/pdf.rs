//! A document as PDF: archival, tagged, the same bytes for the same document.

use super::Document;
use crate::setting::Setting;
use crate::{DocumentError, Paper};
use serde_json::Value;

const TEMPLATE: &str = include_str!("paper.typ");

/// The document as PDF. Two calls with the same document give the same bytes.
///
/// # Errors
/// A date that is none, or a page the layout refuses.
pub fn document_pdf(document: &Document, paper: Paper) -> Result<Vec<u8>, DocumentError> {
    let data = data(document)?;
    setting(document, &data, paper).pdf()
}

fn data(document: &Document) -> Result<Value, DocumentError> {
    serde_json::to_value(document).map_err(|error| DocumentError::Layout { why: error.to_string() })
}

fn setting<'a>(document: &'a Document, data: &'a Value, paper: Paper) -> Setting<'a> {
    Setting { template: TEMPLATE, data, paper, date: &document.date, code: &document.code }
}

#[cfg(test)]
#[path = "../../tests/making/mod.rs"]
mod making;

#[cfg(test)]
mod tests {
    use super::making::{Choice, record};
    use super::*;
    use crate::{blank_record, filled_record};
    use levigate_project::paper_code;

    const HOSTILE: &str = "#panic(\"x\") *bold* $x$ =1+1 <script> \u{202E}\u{7}";

    /// The words on each page, blanks that bind as plain ones, with the size of their type.
    fn pages(document: &Document, paper: Paper) -> Vec<Vec<(String, f64)>> {
        let data = data(document).unwrap();
        let mut pages = crate::setting::looked_at::pages(&setting(document, &data, paper));
        for (word, _) in pages.iter_mut().flatten() {
            *word = word.replace('\u{00A0}', " ");
        }
        pages
    }

    fn text(words: &[(String, f64)]) -> String {
        words.iter().map(|(word, _)| word.as_str()).collect::<Vec<_>>().join(" ")
    }

    fn whole(document: &Document) -> String {
        pages(document, Paper::A4).iter().map(|words| text(words)).collect::<Vec<_>>().join(" ")
    }

    #[test]
    fn every_page_says_what_it_is_how_many_there_are_and_carries_its_own_code() {
        let record = record(Choice { lines: 30, ..Choice::default() });
        for document in [blank_record(&record), filled_record(&record)] {
            for paper in [Paper::A4, Paper::Letter] {
                let pages = pages(&document, paper);
                assert!(pages.len() > 2, "{}", pages.len());
                for (at, words) in pages.iter().enumerate() {
                    let page = text(words);
                    assert!(page.contains(&format!("Page {} of {}", at + 1, pages.len())), "{page}");
                    assert!(page.contains("batch QL-2611-99"), "{page}");
                    let code = words.iter().find_map(|(word, _)| paper_code::read(word)).expect("a code");
                    assert_eq!((code.batch.as_str(), code.page), ("QL-2611-99", u32::try_from(at + 1).ok()));
                    assert_eq!(code.version_code, "7F3A20C1D2E3");
                }
            }
        }
    }

    #[test]
    fn the_blank_has_every_weight_large_and_a_box_for_everything_that_is_written() {
        let record = record(Choice::default());
        let pages = pages(&blank_record(&record), Paper::A4);
        let large: Vec<&str> =
            pages.iter().flatten().filter(|(_, size)| *size >= 20.0).map(|(word, _)| word.as_str()).collect();
        let planned = || record.plan.steps.iter().filter_map(|step| step.line.as_ref());
        for line in planned() {
            assert!(
                large.contains(&line.grams.to_string().as_str()),
                "{} is not among {large:?}",
                line.grams
            );
        }
        let all = pages.iter().map(|words| text(words)).collect::<Vec<_>>().join(" ");
        let lines = planned().count();
        for (label, times) in
            [("Reading 1, g", lines), ("Reading 2, g", lines), ("then pH", 4), ("Vessel with batch, g", 1)]
        {
            assert_eq!(all.matches(label).count(), times, "{label}");
        }
        for words in [
            "75 \u{00B0}C, 200 rpm, 20 min",
            "Temperature, \u{00B0}C",
            "pH 5.2 to 5.8",
            "first 0.50 g",
            "Reviewed: name and signature",
        ] {
            assert!(all.contains(words), "{words}: {all}");
        }
    }

    #[test]
    fn the_record_leaves_nothing_out_that_was_entered() {
        let record = record(Choice::default());
        let all = whole(&filled_record(&record));
        for words in [
            "Struck out by entry 3",
            "decimal sign slipped",
            "Takes back entry 2",
            "Typed back from paper, initials ik",
            "too much",
            "+0.50",
            "left out",
            "initialled, not authenticated",
            "Within 5.2 to 5.8.",
            "MA-2608-14",
            "2028-08-02",
            "sample shelf 2",
            "Covers 12 records",
            "abababab abababab",
            "12 records of this batch were hashed anew",
            "cdcdcdcd",
            "goes on",
            "11.20 g",
        ] {
            assert!(all.contains(words), "{words}: {all}");
        }
        for entry in &record.state.entries {
            assert!(all.contains(&format!(" {} 2026-11-24", entry.number)), "entry {}", entry.number);
        }
    }

    #[test]
    fn a_record_that_was_tampered_with_says_so_first() {
        let mut record = record(Choice::default());
        record.seal.broken = vec![17];
        record.seal.signatures = vec![false];
        let all = whole(&filled_record(&record));
        let (told, lines) = (all.find("no longer is what was written"), all.find("Raw material"));
        assert!(told < lines && told.is_some(), "{all}");
        assert!(
            all.contains("in place 17 of the log") && all.contains("no longer is what was signed"),
            "{all}"
        );
    }

    #[test]
    fn what_people_typed_stays_text_and_four_hundred_lines_fit() {
        let record = record(Choice { lines: 400, text: HOSTILE });
        for document in [blank_record(&record), filled_record(&record)] {
            let pages = pages(&document, Paper::Letter);
            assert!(pages.len() > 20, "{}", pages.len());
            let all = pages.iter().map(|words| text(words)).collect::<Vec<_>>().join(" ");
            assert!(all.matches("#panic").count() > 400, "{}", all.matches("#panic").count());
            assert!(all.contains("*bold*") && all.contains("$x$") && !all.contains('\u{7}'));
        }
    }

    #[test]
    fn the_same_record_gives_the_same_bytes() {
        let document = filled_record(&record(Choice::default()));
        let once = document_pdf(&document, Paper::A4).unwrap();
        assert!(once.starts_with(b"%PDF-"));
        assert!(once == document_pdf(&document, Paper::A4).unwrap(), "two runs differ");
        assert!(once != document_pdf(&document, Paper::Letter).unwrap(), "Letter is another page");
        let text = String::from_utf8_lossy(&once);
        assert!(text.contains("pdfaid:part") && text.contains("/StructTreeRoot"), "archival and tagged");
        assert!(!text.contains("http://levigate") && !text.contains("/URI"), "nothing to open");
    }
}
