//! A document as a workbook: a sheet for each section, numbers as numbers with the digits they are shown with, text as text.
//!
//! Nothing that was typed is ever a formula: every cell of words is written as a string, which a spreadsheet does not run whatever it
//! begins with. The time stamps of the file are those of the document.

use super::{Block, Cell, Document, Row, Section, StepBlock, Table};
use crate::escape::without_controls;
use crate::{DocumentError, Paper};
use rust_decimal::prelude::ToPrimitive;
use rust_xlsxwriter::{DocProperties, ExcelDateTime, Format, FormatAlign, FormatBorder, Workbook, Worksheet};

/// Most characters of a cell.
const LONGEST_CELL: usize = 32_000;
/// Most characters of the name of a sheet.
const LONGEST_NAME: usize = 31;
/// Widest column, characters.
const WIDEST: usize = 70;
/// Most digits a spreadsheet keeps of a number.
const MOST_DIGITS: usize = 15;

/// The document as a workbook. Two calls with the same document give the same bytes.
///
/// # Errors
/// A date that is none, or a sheet that cannot be written.
pub fn document_xlsx(document: &Document, paper: Paper) -> Result<Vec<u8>, DocumentError> {
    let wrong = |_| DocumentError::Date { date: document.date.chars().take(40).collect() };
    let stamp = ExcelDateTime::parse_from_str(&document.date).map_err(wrong)?;
    let mut book = Workbook::new();
    let properties = DocProperties::new()
        .set_title(clean(&format!("{}, {}", document.title, document.kind)))
        .set_subject(clean(&document.code))
        .set_creation_datetime(&stamp);
    book.set_properties(&properties);
    write(&mut book, document, paper)
        .and_then(|()| book.save_to_buffer())
        .map_err(|error| DocumentError::Writing { why: error.to_string() })
}

type Written = Result<(), rust_xlsxwriter::XlsxError>;

fn write(book: &mut Workbook, document: &Document, paper: Paper) -> Written {
    let mut names: Vec<String> = Vec::new();
    let first = name_of(&document.kind, &mut names);
    let sheet = book.add_worksheet();
    lay_out(sheet, &first, document, paper)?;
    let mut page = SheetPage::on(sheet);
    page.title(&document.title)?;
    page.words(&document.kind)?;
    page.gap();
    for (name, value) in &document.particulars {
        page.pair(name, value)?;
    }
    page.pair("Identifier", &document.code)?;
    page.fit()?;
    for section in &document.sections {
        let name = name_of(&section.name, &mut names);
        let sheet = book.add_worksheet();
        lay_out(sheet, &name, document, paper)?;
        let mut page = SheetPage::on(sheet);
        written_section(&mut page, section)?;
        page.fit()?;
    }
    Ok(())
}

fn lay_out(sheet: &mut Worksheet, name: &str, document: &Document, paper: Paper) -> Written {
    sheet.set_name(name)?;
    // The numbers of the sizes of paper in the file format: 1 is Letter, 9 is A4.
    sheet.set_paper_size(if paper == Paper::A4 { 9 } else { 1 });
    sheet.set_print_fit_to_pages(1, 0);
    // An ampersand begins a command in a footer.
    let running: String = clean(&document.running).replace('&', "&&").chars().take(120).collect();
    let code: String = clean(&document.code).replace('&', "&&").chars().take(80).collect();
    sheet.set_footer(format!("&L{running}&C{code}&RPage &P of &N"));
    Ok(())
}

fn written_section(page: &mut SheetPage<'_>, section: &Section) -> Written {
    page.title(&section.name)?;
    let mut steps: Vec<&StepBlock> = Vec::new();
    for block in &section.blocks {
        if let Block::Step(step) = block {
            steps.push(step);
            continue;
        }
        written_steps(page, &mut steps)?;
        match block {
            Block::Words { text } => page.words(text)?,
            Block::Heed { text } => page.strong(text)?,
            Block::Pairs { pairs } => {
                for (name, value) in pairs {
                    page.pair(name, value)?;
                }
            }
            Block::Table(table) => page.table(table)?,
            Block::Blanks { labels, .. } => {
                for label in labels {
                    page.blank(label)?;
                }
            }
            Block::Step(_) => {}
        }
        page.gap();
    }
    written_steps(page, &mut steps)
}

/// Steps that follow each other as one table, with empty cells where the paper has boxes.
fn written_steps(page: &mut SheetPage<'_>, steps: &mut Vec<&StepBlock>) -> Written {
    if steps.is_empty() {
        return Ok(());
    }
    let heads =
        ["Step", "Phase", "What is done", "As planned", "Line", "Weigh, g", "Tolerance", "Heed", "Look at"];
    let mut labels: Vec<String> = Vec::new();
    for label in steps.iter().flat_map(|step| step.boxes.iter().flatten()).map(|one| &one.label) {
        if !labels.contains(label) {
            labels.push(label.clone());
        }
    }
    let columns = heads.iter().map(|head| (*head).to_owned()).chain(labels.iter().cloned());
    let columns = columns.map(|head| super::Column { head, ..super::Column::default() }).collect();
    let row = |step: &&StepBlock| {
        let line = step.line.clone().unwrap_or_default();
        let mut cells = vec![
            Cell::words(&step.number),
            Cell::words(&step.phase),
            Cell::words(if step.line.is_some() { &line.name } else { &step.text }),
            Cell::words([step.how.as_str(), line.share.as_str()].join(" ").trim()),
            Cell::words(line.number),
            line.grams,
            Cell::words(line.tolerance),
            Cell::words(step.cautions.join(" ")),
            Cell::words(step.checks.join("; ")),
        ];
        let filled = |label: &String| {
            let boxed = step.boxes.iter().flatten().find(|one| one.label == *label);
            Cell::words(boxed.map(|one| one.filled.clone()).unwrap_or_default())
        };
        cells.extend(labels.iter().map(filled));
        Row::of(cells)
    };
    let table = Table { columns, rows: steps.iter().map(row).collect() };
    steps.clear();
    page.table(&table)
}

/// A sheet being written from above.
struct SheetPage<'s> {
    sheet: &'s mut Worksheet,
    row: u32,
    widths: Vec<usize>,
}

impl<'s> SheetPage<'s> {
    fn on(sheet: &'s mut Worksheet) -> Self {
        Self { sheet, row: 0, widths: Vec::new() }
    }

    fn gap(&mut self) {
        self.row += 1;
    }

    fn text(&mut self, column: u16, text: &str, format: &Format) -> Written {
        let text: String = clean(text).chars().take(LONGEST_CELL).collect();
        self.sheet.write_string_with_format(self.row, column, &text, format)?;
        Ok(())
    }

    fn widen(&mut self, column: usize, text: &str) {
        if self.widths.len() <= column {
            self.widths.resize(column + 1, 8);
        }
        self.widths[column] = self.widths[column].max(text.chars().count().min(WIDEST));
    }

    fn title(&mut self, text: &str) -> Written {
        self.text(0, text, &Format::new().set_bold().set_font_size(14))?;
        self.row += 2;
        Ok(())
    }

    fn words(&mut self, text: &str) -> Written {
        self.text(0, text, &Format::new())?;
        self.row += 1;
        Ok(())
    }

    fn strong(&mut self, text: &str) -> Written {
        self.text(0, text, &Format::new().set_bold())?;
        self.row += 1;
        Ok(())
    }

    fn pair(&mut self, name: &str, value: &str) -> Written {
        self.text(0, name, &Format::new().set_align(FormatAlign::Top))?;
        self.text(1, value, &Format::new().set_text_wrap().set_align(FormatAlign::Top))?;
        self.widen(0, name);
        self.widen(1, value);
        self.row += 1;
        Ok(())
    }

    fn blank(&mut self, label: &str) -> Written {
        self.text(0, label, &Format::new())?;
        self.sheet.write_blank(self.row, 1, &Format::new().set_border_bottom(FormatBorder::Thin))?;
        self.widen(0, label);
        self.row += 1;
        Ok(())
    }

    fn table(&mut self, table: &Table) -> Written {
        let head = Format::new().set_bold().set_text_wrap().set_border_bottom(FormatBorder::Thin);
        for (at, column) in (0_u16..).zip(&table.columns) {
            self.text(at, &column.head, &head)?;
            self.widen(usize::from(at), &column.head);
        }
        self.row += 1;
        for row in &table.rows {
            for (at, cell) in (0_u16..).zip(&row.cells) {
                self.cell(at, cell, row.struck)?;
            }
            self.row += 1;
            for words in row.heed.iter().chain(&row.below) {
                self.text(1, words, &Format::new())?;
                self.row += 1;
            }
        }
        Ok(())
    }

    fn cell(&mut self, column: u16, cell: &Cell, struck: bool) -> Written {
        let mut format = Format::new().set_align(FormatAlign::Top);
        if cell.strong {
            format = format.set_bold();
        }
        if struck {
            format = format.set_font_strikethrough();
        }
        self.widen(usize::from(column), &cell.text);
        // More digits than a spreadsheet keeps stay as they are printed.
        let exact =
            cell.number.filter(|number| number.mantissa().unsigned_abs().to_string().len() <= MOST_DIGITS);
        match exact.and_then(|number| Some((number, number.to_f64()?))) {
            Some((number, value)) => {
                let places = usize::try_from(number.scale()).unwrap_or_default();
                let shown = if places == 0 { "0".to_owned() } else { format!("0.{}", "0".repeat(places)) };
                self.sheet.write_number_with_format(
                    self.row,
                    column,
                    value,
                    &format.set_num_format(shown),
                )?;
                Ok(())
            }
            None => self.text(column, &cell.text, &format.set_text_wrap()),
        }
    }

    fn fit(&mut self) -> Written {
        for (at, width) in (0_u16..).zip(&self.widths) {
            let width = u32::try_from(width + 2).unwrap_or(10);
            self.sheet.set_column_width(at, f64::from(width))?;
        }
        Ok(())
    }
}

/// A name for a sheet: without the signs the file format refuses, short enough, and no name twice.
fn name_of(wanted: &str, taken: &mut Vec<String>) -> String {
    let plain: String = clean(wanted)
        .chars()
        .map(|sign| if matches!(sign, '[' | ']' | ':' | '*' | '?' | '/' | '\\' | '\'') { ' ' } else { sign })
        .collect();
    let plain = plain.trim();
    let base: String =
        if plain.is_empty() { "Sheet".to_owned() } else { plain.chars().take(LONGEST_NAME - 3).collect() };
    let mut name = base.trim().to_owned();
    let mut again = 2;
    while taken.iter().any(|other| other.eq_ignore_ascii_case(&name)) {
        name = format!("{} {again}", base.trim());
        again += 1;
    }
    taken.push(name.clone());
    name
}

fn clean(text: &str) -> String {
    without_controls(text)
}
