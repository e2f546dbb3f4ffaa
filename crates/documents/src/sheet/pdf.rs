//! The batch sheet as PDF: archival, tagged, the same bytes for the same sheet.

use super::Paper;
use super::words::Printed;
use crate::DocumentError;
use crate::escape::without_controls;
use levigate_project::batch_sheet::BatchSheet;
use serde_json::{Value, json};
use std::sync::LazyLock;
use typst::diag::{FileError, FileResult, SourceDiagnostic};
use typst::foundations::{Bytes, Datetime, Duration, Smart};
use typst::syntax::{FileId, RootedPath, Source, VirtualPath, VirtualRoot};
use typst::text::{Font, FontBook};
use typst::utils::LazyHash;
use typst::{Library, LibraryExt, World};
use typst_kit::fonts::{FontStore, embedded};
use typst_layout::PagedDocument;
use typst_pdf::{PdfOptions, PdfStandard, PdfStandards, Timestamp};

const TEMPLATE: &str = include_str!("sheet.typ");
const FONTS: [&[u8]; 4] = [
    include_bytes!("../../fonts/atkinson-hyperlegible-next-regular.ttf"),
    include_bytes!("../../fonts/atkinson-hyperlegible-next-semibold.ttf"),
    include_bytes!("../../fonts/atkinson-hyperlegible-next-bold.ttf"),
    include_bytes!("../../fonts/literata-medium.ttf"),
];

static LIBRARY: LazyLock<LazyHash<Library>> = LazyLock::new(|| LazyHash::new(Library::default()));
/// Our own families first; the embedded ones give Greek, Cyrillic and signs that ours lack.
static FONT_STORE: LazyLock<FontStore> = LazyLock::new(|| {
    let mut store = FontStore::new();
    store.extend(FONTS.into_iter().flat_map(|bytes| {
        Font::iter(Bytes::new(bytes)).map(|font| {
            let info = font.info().clone();
            (font, info)
        })
    }));
    store.extend(embedded());
    store
});

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
    let date = date_of(&sheet.date)?;
    let desk = Desk::new(sheet, paper, date)?;
    let document = typst::compile::<PagedDocument>(&desk)
        .output
        .map_err(|errors| DocumentError::Layout { why: said(&errors) });
    let written = document.and_then(|document| {
        // A name in a script that no font here covers cannot be archived; it can still be printed.
        write(&document, sheet, date, &[PdfStandard::A_2a]).or_else(|_| write(&document, sheet, date, &[]))
    });
    // What was remembered for this page is let go, so that a server that prints all day stays small.
    typst::comemo::evict(4);
    written
}

fn write(
    document: &PagedDocument,
    sheet: &BatchSheet,
    date: Datetime,
    standards: &[PdfStandard],
) -> Result<Vec<u8>, DocumentError> {
    let standards = PdfStandards::new(standards)
        .map_err(|error| DocumentError::Writing { why: error.message().to_string() })?;
    let options = PdfOptions {
        ident: Smart::Custom(format!("{} {} {}", sheet.version_code, sheet.size_g, sheet.date)),
        creator: Smart::Custom(Some("Levigate".to_owned())),
        timestamp: Some(Timestamp::new_utc(date)),
        standards,
        ..PdfOptions::default()
    };
    typst_pdf::pdf(document, &options).map_err(|errors| DocumentError::Writing { why: said(&errors) })
}

fn said(errors: &[SourceDiagnostic]) -> String {
    errors.iter().take(5).map(|error| error.message.to_string()).collect::<Vec<_>>().join("; ")
}

fn date_of(text: &str) -> Result<Datetime, DocumentError> {
    let wrong = || DocumentError::Date { date: without_controls(text).chars().take(40).collect() };
    let mut parts = text.splitn(3, '-');
    let mut part = |digits: usize| {
        let part =
            parts.next().filter(|part| part.len() == digits && part.bytes().all(|b| b.is_ascii_digit()));
        part.and_then(|part| part.parse::<i32>().ok()).ok_or_else(wrong)
    };
    let (year, month, day) = (part(4)?, part(2)?, part(2)?);
    let small = |number: i32| u8::try_from(number).map_err(|_| wrong());
    Datetime::from_ymd_hms(year, small(month)?, small(day)?, 0, 0, 0).ok_or_else(wrong)
}

/// The world the layout sees: the template, the data, the fonts, a fixed date; no folder, no network, no packages.
struct Desk {
    template: Source,
    data: FileId,
    data_bytes: Bytes,
    date: Datetime,
}

impl Desk {
    fn new(sheet: &BatchSheet, paper: Paper, date: Datetime) -> Result<Self, DocumentError> {
        let failed = |why: String| DocumentError::Layout { why };
        let mut data = serde_json::to_value(Printed::of(sheet)).map_err(|error| failed(error.to_string()))?;
        tidy(&mut data);
        let (name, height_mm) = match paper {
            Paper::A4 => ("a4", 297.0),
            Paper::Letter => ("us-letter", 279.4),
        };
        data["paper"] = json!(name);
        data["page_height"] = json!(height_mm);
        let place = |name: &str| -> Result<FileId, DocumentError> {
            let path = VirtualPath::new(name).map_err(|error| failed(format!("{error:?}")))?;
            Ok(FileId::new(RootedPath::new(VirtualRoot::Project, path)))
        };
        Ok(Self {
            template: Source::new(place("/sheet.typ")?, TEMPLATE.to_owned()),
            data: place("/sheet.json")?,
            data_bytes: Bytes::from_string(data.to_string()),
            date,
        })
    }
}

/// Takes control characters out of every text.
fn tidy(value: &mut Value) {
    match value {
        Value::String(text) => *text = without_controls(text),
        Value::Array(values) => values.iter_mut().for_each(tidy),
        Value::Object(fields) => fields.values_mut().for_each(tidy),
        _ => {}
    }
}

impl World for Desk {
    fn library(&self) -> &LazyHash<Library> {
        &LIBRARY
    }

    fn book(&self) -> &LazyHash<FontBook> {
        FONT_STORE.book()
    }

    fn main(&self) -> FileId {
        self.template.id()
    }

    fn source(&self, id: FileId) -> FileResult<Source> {
        if id == self.template.id() { Ok(self.template.clone()) } else { Err(FileError::AccessDenied) }
    }

    fn file(&self, id: FileId) -> FileResult<Bytes> {
        if id == self.data { Ok(self.data_bytes.clone()) } else { Err(FileError::AccessDenied) }
    }

    fn font(&self, index: usize) -> Option<Font> {
        FONT_STORE.font(index)
    }

    fn today(&self, _offset: Option<Duration>) -> Option<Datetime> {
        Some(self.date)
    }
}

#[cfg(test)]
#[path = "../../tests/toner/mod.rs"]
mod toner;

#[cfg(test)]
mod tests {
    use super::*;
    use typst::layout::{Frame, FrameItem};

    #[test]
    fn only_an_iso_date_is_a_date() {
        assert!(date_of("2026-11-24").is_ok());
        for text in ["24.11.2026", "2026-13-01", "2026-02-30", "2026-11-24T10:00", "", "-1-1-1", "٢٠٢٦-١١-٢٤"]
        {
            assert!(date_of(text).is_err(), "{text}");
        }
    }

    /// The words on each page, in the order they are set, with the size of their type.
    fn pages(sheet: &BatchSheet, paper: Paper) -> Vec<Vec<(String, f64)>> {
        fn collect(frame: &Frame, words: &mut Vec<(String, f64)>) {
            for (_, item) in frame.items() {
                match item {
                    FrameItem::Group(group) => collect(&group.frame, words),
                    FrameItem::Text(text) => words.push((text.text.to_string(), text.size.to_pt())),
                    _ => {}
                }
            }
        }
        let desk = Desk::new(sheet, paper, date_of(&sheet.date).unwrap()).unwrap();
        let compiled = typst::compile::<PagedDocument>(&desk);
        assert!(compiled.warnings.is_empty(), "{:?}", compiled.warnings);
        let document = compiled.output.unwrap();
        document
            .pages()
            .iter()
            .map(|page| {
                let mut words = Vec::new();
                collect(&page.frame, &mut words);
                words
            })
            .collect()
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
        for words in &pages {
            let little: String =
                words.iter().filter(|(_, size)| small(*size)).map(|(word, _)| word.as_str()).collect();
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
