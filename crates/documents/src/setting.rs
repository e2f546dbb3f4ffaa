//! The world a page layout sees: one template, one file of data, the fonts, a fixed date; no folder, no network, no packages.

use crate::escape::without_controls;
use crate::qr::qr_svg;
use crate::{DocumentError, Paper};
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

const FONTS: [&[u8]; 4] = [
    include_bytes!("../fonts/atkinson-hyperlegible-next-regular.ttf"),
    include_bytes!("../fonts/atkinson-hyperlegible-next-semibold.ttf"),
    include_bytes!("../fonts/atkinson-hyperlegible-next-bold.ttf"),
    include_bytes!("../fonts/literata-medium.ttf"),
];
/// Pages that codes are made for before the number of pages is known.
const PAGES_FORESEEN: usize = 6;
/// Name of the data in a template.
const DATA: &str = "/data.json";

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

/// What is set.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Setting<'a> {
    /// The template.
    pub(crate) template: &'static str,
    /// What people typed and what follows from it, as JSON; nothing of it is ever read as markup.
    pub(crate) data: &'a Value,
    /// Size of the paper.
    pub(crate) paper: Paper,
    /// The day, ISO.
    pub(crate) date: &'a str,
    /// Identifier of the document; each page carries it as a QR code with the number of the page.
    pub(crate) code: &'a str,
}

impl Setting<'_> {
    /// The document as PDF: archival and tagged, the same bytes for the same document.
    ///
    /// # Errors
    /// A date that is none, or a page the layout refuses.
    pub(crate) fn pdf(&self) -> Result<Vec<u8>, DocumentError> {
        let date = date_of(self.date)?;
        let written = self.laid_out(date).and_then(|document| {
            // A name in a script that no font here covers cannot be archived; it can still be printed.
            self.write(&document, date, &[PdfStandard::A_2a]).or_else(|_| self.write(&document, date, &[]))
        });
        // What was remembered for this page is let go, so that a server that prints all day stays small.
        typst::comemo::evict(4);
        written
    }

    /// The pages. The codes take the same room whatever stands in them, so that a second run with enough of them changes no page.
    pub(crate) fn laid_out(&self, date: Datetime) -> Result<PagedDocument, DocumentError> {
        let document = self.with_codes(date, PAGES_FORESEEN)?;
        let pages = document.pages().len();
        if pages <= PAGES_FORESEEN { Ok(document) } else { self.with_codes(date, pages) }
    }

    fn with_codes(&self, date: Datetime, pages: usize) -> Result<PagedDocument, DocumentError> {
        let mut data = self.data.clone();
        let codes: Result<Vec<String>, DocumentError> =
            (1..=pages).map(|page| qr_svg(&format!("{}/{page}", self.code))).collect();
        data["codes"] = json!(codes?);
        data["code"] = json!(self.code);
        let (name, height_mm) = match self.paper {
            Paper::A4 => ("a4", 297.0),
            Paper::Letter => ("us-letter", 279.4),
        };
        data["paper"] = json!(name);
        data["page_height"] = json!(height_mm);
        let desk = Desk::new(self.template, data, date)?;
        typst::compile::<PagedDocument>(&desk)
            .output
            .map_err(|errors| DocumentError::Layout { why: said(&errors) })
    }

    fn write(
        &self,
        document: &PagedDocument,
        date: Datetime,
        standards: &[PdfStandard],
    ) -> Result<Vec<u8>, DocumentError> {
        let standards = PdfStandards::new(standards)
            .map_err(|error| DocumentError::Writing { why: error.message().to_string() })?;
        let options = PdfOptions {
            ident: Smart::Custom(format!("{} {}", self.code, self.date)),
            creator: Smart::Custom(Some("Levigate".to_owned())),
            timestamp: Some(Timestamp::new_utc(date)),
            standards,
            ..PdfOptions::default()
        };
        typst_pdf::pdf(document, &options).map_err(|errors| DocumentError::Writing { why: said(&errors) })
    }
}

fn said(errors: &[SourceDiagnostic]) -> String {
    errors.iter().take(5).map(|error| error.message.to_string()).collect::<Vec<_>>().join("; ")
}

/// A day as the layout has it.
pub(crate) fn date_of(text: &str) -> Result<Datetime, DocumentError> {
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

struct Desk {
    template: Source,
    data: FileId,
    data_bytes: Bytes,
    date: Datetime,
}

impl Desk {
    fn new(template: &str, mut data: Value, date: Datetime) -> Result<Self, DocumentError> {
        tidy(&mut data);
        let place = |name: &str| -> Result<FileId, DocumentError> {
            let failed = |error| DocumentError::Layout { why: format!("{error:?}") };
            let path = VirtualPath::new(name).map_err(failed)?;
            Ok(FileId::new(RootedPath::new(VirtualRoot::Project, path)))
        };
        Ok(Self {
            template: Source::new(place("/page.typ")?, template.to_owned()),
            data: place(DATA)?,
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
pub(crate) mod looked_at {
    //! What stands on laid-out pages, for tests.

    use super::*;
    use typst::layout::{Frame, FrameItem};

    /// The words on each page, in the order they are set, with the size of their type in points.
    pub(crate) fn pages(setting: &Setting<'_>) -> Vec<Vec<(String, f64)>> {
        fn collect(frame: &Frame, words: &mut Vec<(String, f64)>) {
            for (_, item) in frame.items() {
                match item {
                    FrameItem::Group(group) => collect(&group.frame, words),
                    FrameItem::Text(text) => words.push((text.text.to_string(), text.size.to_pt())),
                    _ => {}
                }
            }
        }
        let document = setting.laid_out(date_of(setting.date).unwrap()).unwrap();
        let page = |frame: &Frame| {
            let mut words = Vec::new();
            collect(frame, &mut words);
            words
        };
        document.pages().iter().map(|laid| page(&laid.frame)).collect()
    }

    #[test]
    fn only_an_iso_date_is_a_date() {
        assert!(date_of("2026-11-24").is_ok());
        for text in ["24.11.2026", "2026-13-01", "2026-02-30", "2026-11-24T10:00", "", "-1-1-1", "٢٠٢٦-١١-٢٤"]
        {
            assert!(date_of(text).is_err(), "{text}");
        }
    }
}
