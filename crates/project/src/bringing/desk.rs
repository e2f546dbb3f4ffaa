//! What all three kinds of table are read with: the cells of a row by their field, questions, and what becomes of each row.

use super::columns::Layout;
use super::keep::Planned;
use super::names;
use super::reading::{self, DayForm, DayOrder, Unread};
use super::table::{Cell, Row, Stored, Table};
use super::{
    Asked, CellTrouble, Changed, Counts, Fate, Field, FormulaRead, MOST_CELL, MOST_TOLD, OnFile, Preview,
    Question, RowRead, SheetThere, TableForm, What,
};
use crate::flow_table::ledger::Fault;
use crate::records::DecimalSign;
use levigate_formula::names::folded;

/// Words of a row that sums the others up.
const SUMS: [&str; 10] = [
    "total",
    "sum",
    "summe",
    "gesamt",
    "somme",
    "suma",
    "totale",
    "subtotal",
    "zwischensumme",
    "grand total",
];

/// Puts what was typed in the place of cells.
pub(super) fn apply(table: &mut Table, changed: &[Changed]) {
    for change in changed {
        let Some(column) = change.column.checked_sub(1).filter(|column| *column < table.width) else {
            continue;
        };
        if let Some(row) = table.rows.iter_mut().find(|row| row.line == change.line) {
            if row.cells.len() <= column {
                row.cells.resize(column + 1, Cell::default());
            }
            let text: String = change.text.trim().chars().take(MOST_CELL).collect();
            row.cells[column] = Cell { text, ..Cell::default() };
        }
    }
}

/// What all three kinds of table are read with.
pub(super) struct Desk<'r> {
    pub(super) on_file: &'r OnFile<'r>,
    pub(super) file: &'r str,
    pub(super) table: &'r Table,
    pub(super) layout: &'r Layout,
    pub(super) asked: &'r Asked,
    pub(super) decimal: Option<DecimalSign>,
    pub(super) days: DayForm,
    /// Remarks that stand around the list.
    pub(super) asides: Vec<String>,
    pub(super) rows: Vec<RowRead>,
    pub(super) questions: Vec<Question>,
    pub(super) unknown: names::Unknown,
    pub(super) remarks: Vec<String>,
    pub(super) missing: Vec<String>,
}

/// Whether a row says that it sums the others up: with its first words, and with nothing else.
pub(super) fn says_sum(row: &Row) -> bool {
    row.filled().next().is_some_and(|(_, cell)| {
        let first = cell.text.split(['(', '[', ':', '%', '=']).next().unwrap_or_default();
        SUMS.contains(&folded(first).as_str())
    })
}

impl<'r> Desk<'r> {
    pub(super) fn new(
        on_file: &'r OnFile<'r>,
        file: &'r str,
        table: &'r Table,
        layout: &'r Layout,
        asked: &'r Asked,
    ) -> Result<Self, Fault> {
        let mut desk = Self {
            on_file,
            file,
            table,
            layout,
            asked,
            decimal: None,
            days: DayForm::default(),
            asides: Vec::new(),
            rows: Vec::new(),
            questions: Vec::new(),
            unknown: names::Unknown::default(),
            remarks: table.remarks.clone(),
            missing: Vec::new(),
        };
        desk.decimal = reading::decimal_sign(desk.texts(Field::numeric));
        desk.days = DayForm { order: desk.day_order()?, last_of_month: desk.months() };
        for field in asked.what.must() {
            if layout.of(*field).is_none() {
                desk.missing.push(format!("No column holds the {}; say which one does.", field.words()));
            }
        }
        let named = [Field::Material, Field::Inci, Field::Cas];
        if named.iter().all(|field| layout.of(*field).is_none()) {
            desk.missing.push("No column names the raw material; say which one does.".to_owned());
        }
        Ok(desk)
    }

    /// Texts in the columns of some fields, below the head.
    fn texts(&self, wanted: fn(Field) -> bool) -> impl Iterator<Item = &'r str> {
        let (table, layout) = (self.table, self.layout);
        let columns: Vec<usize> =
            layout.columns.iter().filter(|one| wanted(one.field)).map(|one| one.column - 1).collect();
        table
            .rows
            .iter()
            .skip(layout.first)
            .flat_map(move |row| {
                columns.clone().into_iter().filter_map(|at| row.cells.get(at)).collect::<Vec<_>>()
            })
            .filter(|cell| cell.stored == Stored::Text && !cell.text.is_empty())
            .map(|cell| cell.text.as_str())
    }

    /// In which order days are written, as the table shows or a person said.
    fn day_order(&mut self) -> Result<Option<DayOrder>, Fault> {
        let (day_first, month_first, either) = reading::day_orders(self.texts(Field::dated));
        let asked = match self.asked.days.as_str() {
            "" => None,
            "day-first" => Some(DayOrder::DayFirst),
            "month-first" => Some(DayOrder::MonthFirst),
            other => {
                let other: String = other.chars().take(40).collect();
                return Err(Fault::new(
                    "no-such-order",
                    format!("\"{other}\" is no order of day and month"),
                    "say day-first or month-first",
                ));
            }
        };
        if asked.is_none() && day_first != month_first {
            return Ok(Some(if day_first { DayOrder::DayFirst } else { DayOrder::MonthFirst }));
        }
        if either || day_first && month_first {
            self.ask(Question {
                id: "days",
                what: "In days like 03/04/2027, what stands first?".to_owned(),
                why: if day_first && month_first {
                    "Some days of this table can only have the day first, others only the month.".to_owned()
                } else {
                    "No day of this table shows it: every first and second number could be a month."
                        .to_owned()
                },
                choices: vec![
                    ("day-first".to_owned(), "the day: 3 April".to_owned()),
                    ("month-first".to_owned(), "the month: March 4".to_owned()),
                ],
                answer: self.asked.days.clone(),
            });
        }
        Ok(asked)
    }

    /// Which day of a month is meant where a month stands alone: asked where one does.
    fn months(&mut self) -> Option<bool> {
        if !reading::months_alone(self.texts(Field::dated)) {
            return None;
        }
        self.ask(Question {
            id: "months",
            what: "Which day is meant where only a month stands, as in 06/2027?".to_owned(),
            why: "An expiry is mostly the last day of its month; a certificate may say otherwise.".to_owned(),
            choices: vec![
                ("last".to_owned(), "the last: 30 June".to_owned()),
                ("first".to_owned(), "the first: 1 June".to_owned()),
            ],
            answer: self.asked.months.clone(),
        });
        match self.asked.months.as_str() {
            "last" => Some(true),
            "first" => Some(false),
            _ => None,
        }
    }

    /// Puts a question; an answer that is none of the choices is none.
    pub(super) fn ask(&mut self, mut question: Question) {
        if question.choices.iter().all(|(choice, _)| *choice != question.answer) {
            question.answer.clear();
        }
        self.questions.push(question);
    }

    /// Rows below the head, as the reader of one kind takes them.
    pub(super) fn listed(&self) -> impl Iterator<Item = &'r Row> + use<'r> {
        self.table.rows.iter().skip(self.layout.first)
    }

    pub(super) fn cell<'c>(&self, row: &'c Row, field: Field) -> Option<&'c Cell> {
        row.cells.get(self.layout.of(field)?).filter(|cell| !cell.text.is_empty())
    }

    pub(super) fn text<'c>(&self, row: &'c Row, field: Field) -> &'c str {
        self.cell(row, field).map_or("", |cell| cell.text.as_str())
    }

    /// Whether a row says again what the columns are called.
    fn repeats_head(&self, row: &Row) -> bool {
        let Some(head) = self.layout.header.and_then(|at| self.table.rows.get(at)) else { return false };
        let same = row.filled().filter(|(at, cell)| head.text(*at).eq_ignore_ascii_case(&cell.text)).count();
        same >= 2 && same * 2 > row.filled().count()
    }

    /// What becomes of a row before anybody looks what kind of list it is.
    pub(super) fn set_aside(&mut self, row: &Row) -> bool {
        if self.asked.what != What::Formula && says_sum(row) && !self.asked.leave_out.contains(&row.line) {
            self.told(row.line, Fate::PassedOver, "a sum of the sheet".to_owned(), Vec::new(), Vec::new());
            return true;
        }
        let words = if self.asked.leave_out.contains(&row.line) {
            (Fate::LeftOut, "left out")
        } else if self.repeats_head(row) {
            (Fate::PassedOver, "the names of the columns once more")
        } else {
            return false;
        };
        self.told(row.line, words.0, words.1.to_owned(), Vec::new(), Vec::new());
        true
    }

    pub(super) fn told(
        &mut self,
        line: usize,
        fate: Fate,
        words: String,
        troubles: Vec<CellTrouble>,
        notes: Vec<String>,
    ) {
        self.rows.push(RowRead { line, fate, words, troubles, notes });
    }

    /// Tells what became of an entry: what it makes, or why not.
    pub(super) fn entry(
        &mut self,
        line: usize,
        fate: Fate,
        words: String,
        troubles: Vec<CellTrouble>,
        notes: Vec<String>,
    ) {
        let fate = match fate {
            Fate::NotUnderstood if self.asked.leave_out_rest => Fate::LeftOut,
            other => other,
        };
        self.told(line, fate, words, troubles, notes);
    }

    pub(super) fn trouble(&self, row: &Row, field: Field, unread: Unread) -> CellTrouble {
        let column = self.layout.of(field);
        let unread = if unread.asked {
            let what_now = "answer the question about the table, or type it here".to_owned();
            Unread { what_now, offers: Vec::new(), ..unread }
        } else {
            unread
        };
        CellTrouble {
            column: column.map_or(0, |column| column + 1),
            name: column.map_or_else(|| field.words().to_owned(), |column| self.layout.title(column)),
            text: self.text(row, field).chars().take(80).collect(),
            what: unread.what,
            what_now: unread.what_now,
            offers: unread.offers,
        }
    }

    /// How the file is spoken of.
    pub(super) fn file_words(&self) -> String {
        let file = if self.file.is_empty() || self.file == "-" { "pasted cells" } else { self.file };
        let file = file.rsplit(['/', '\\']).next().unwrap_or(file);
        let file: String = file.chars().take(120).collect();
        if self.table.sheet.is_empty() { file } else { format!("{file}, sheet {}", self.table.sheet) }
    }

    pub(super) fn finish(
        mut self,
        formula: Option<FormulaRead>,
        planned: Vec<Planned>,
    ) -> (Preview, Vec<Planned>) {
        let unanswered = self.questions.iter().filter(|question| question.answer.is_empty()).count();
        if unanswered > 0 {
            self.missing.push(match unanswered {
                1 => "One question is not answered.".to_owned(),
                more => format!("{more} questions are not answered."),
            });
        }
        let mut counts = Counts::default();
        for row in &self.rows {
            *match row.fate {
                Fate::Made => &mut counts.made,
                Fate::There => &mut counts.there,
                Fate::PassedOver => &mut counts.passed_over,
                Fate::LeftOut => &mut counts.left_out,
                Fate::NotUnderstood => &mut counts.not_understood,
            } += 1;
        }
        if counts.not_understood > 0 {
            self.missing.push(match counts.not_understood {
                1 => "One row is not understood: mend it or leave it out.".to_owned(),
                more => format!("{more} rows are not understood: mend them or leave them out."),
            });
        }
        if planned.is_empty() && self.missing.is_empty() {
            self.missing.push(match counts.there {
                0 => "There is nothing in it that could be brought in.".to_owned(),
                _ => "Everything in it is on file already.".to_owned(),
            });
        }
        let hidden = self.rows.len().saturating_sub(MOST_TOLD);
        if hidden > 0 {
            // What is not understood is shown before what is.
            self.rows.sort_by_key(|row| (std::cmp::Reverse(row.fate == Fate::NotUnderstood), row.line));
            self.rows.truncate(MOST_TOLD);
            self.rows.sort_by_key(|row| row.line);
            self.remarks.push(format!("{hidden} rows more are not listed here; they are counted."));
        }
        let sheets = self.table.sheets.iter();
        let preview = Preview {
            file: self.file.to_owned(),
            what: self.asked.what,
            form: TableForm {
                kind: self.table.kind,
                encoding: self.table.encoding,
                separator: self.table.separator,
                decimal: self.decimal,
                sheet: self.table.sheet.clone(),
                sheets: sheets.map(|(name, rows)| SheetThere { name: name.clone(), rows: *rows }).collect(),
                head_line: self.layout.header.and_then(|at| self.table.rows.get(at)).map(|row| row.line),
            },
            columns: self.layout.columns.clone(),
            questions: self.questions,
            unknown: self.unknown.list(self.asked),
            rows: self.rows,
            counts,
            formula,
            remarks: self.remarks,
            ready: self.missing.is_empty(),
            missing: self.missing,
        };
        (preview, planned)
    }
}
