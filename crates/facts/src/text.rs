//! Text to records: one TOML file is a set of named tables of records; each record is read on its own, so that one bad
//! record hides no other, and keeps the place it came from.

use serde::de::DeserializeOwned;
use std::collections::BTreeMap;
use std::fmt;
use std::sync::Arc;
use toml::Spanned;
use toml::de::{DeTable, DeValue, ValueDeserializer};

use crate::fault::Fault;

/// Where in which text.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Place {
    /// File name as given to the loader.
    pub file: Arc<str>,
    /// Line, from 1.
    pub line: usize,
    /// Column in characters, from 1.
    pub column: usize,
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}:{}:{}", self.file, self.line, self.column)
    }
}

/// The place of a field in a record, found again in its text: a check sees values, not text. `field` is a name, or a name and what is
/// wrong in it (`constituents, glycerin`). The place of the record where neither is found.
#[must_use]
pub fn place_of_field(text: &str, record: &Place, field: &str) -> Place {
    let mut parts = field.split(", ").map(str::trim);
    let name = parts.next().unwrap_or_default();
    let quoted: Vec<String> = parts.map(|part| format!("\"{part}\"")).collect();
    let lines = || {
        let own = text.lines().enumerate().skip(record.line);
        // Tables within the record have a dot in their header.
        own.take_while(|(_, line)| !line.starts_with('[') || line.contains('.'))
    };
    let at = |(index, line): (usize, &str), byte: usize| Place {
        file: Arc::clone(&record.file),
        line: index + 1,
        column: line.get(..byte).map_or(1, |before| before.chars().count() + 1),
    };
    let by_word = quoted.iter().find_map(|word| {
        lines().find_map(|(index, line)| line.find(word).map(|byte| at((index, line), byte)))
    });
    let by_name = || {
        lines().find_map(|(index, line)| {
            let byte = line.find(name)?;
            let starts =
                line.get(..byte)?.trim_end().chars().next_back().is_none_or(|before| "{,".contains(before));
            let ends = line.get(byte + name.len()..)?.trim_start().starts_with('=');
            (starts && ends).then(|| at((index, line), byte))
        })
    };
    by_word.or_else(|| (!name.is_empty()).then(by_name).flatten()).unwrap_or_else(|| record.clone())
}

/// A record with the place it was read from.
#[derive(Clone, Debug, PartialEq)]
pub struct Placed<T> {
    /// The record.
    pub value: T,
    /// Where it starts.
    pub place: Place,
}

/// One text with its name and line starts.
struct Text<'t> {
    name: Arc<str>,
    text: &'t str,
    line_starts: Vec<usize>,
}

impl<'t> Text<'t> {
    fn new(name: &str, text: &'t str) -> Self {
        let line_starts = std::iter::once(0)
            .chain(text.bytes().enumerate().filter(|(_, byte)| *byte == b'\n').map(|(at, _)| at + 1))
            .collect();
        Self { name: name.into(), text, line_starts }
    }

    fn line_of(&self, offset: usize) -> usize {
        self.line_starts.partition_point(|start| *start <= offset).max(1)
    }

    fn line_text(&self, line: usize) -> &'t str {
        let start = self.line_starts.get(line - 1).copied().unwrap_or(0);
        let end = self.line_starts.get(line).copied().unwrap_or(self.text.len());
        self.text.get(start..end).unwrap_or("")
    }

    fn place(&self, offset: usize) -> Place {
        let line = self.line_of(offset);
        let start = self.line_starts.get(line - 1).copied().unwrap_or(0);
        let column =
            self.text.get(start..offset.min(self.text.len())).map_or(1, |before| before.chars().count() + 1);
        Place { file: Arc::clone(&self.name), line, column }
    }

    /// The name left of the last `=` up to the offset, or the name that starts at the offset.
    fn field_at(&self, offset: usize) -> Option<String> {
        let line = self.line_of(offset);
        let start = self.line_starts.get(line - 1).copied().unwrap_or(0);
        let text = self.line_text(line);
        let at = offset.saturating_sub(start);
        let here = text.get(at..).unwrap_or("");
        let bare: String =
            here.chars().take_while(|letter| letter.is_alphanumeric() || "_-+\"".contains(*letter)).collect();
        if !bare.is_empty() && here.get(bare.len()..).is_some_and(|rest| rest.trim_start().starts_with('=')) {
            return Some(bare.trim_matches('"').to_owned());
        }
        let before = text.get(..at).unwrap_or("");
        let left = before.get(..before.rfind('=')?)?.trim_end();
        let name =
            left.rsplit(|letter: char| "{,".contains(letter)).next().unwrap_or(left).trim().trim_matches('"');
        (!name.is_empty()).then(|| name.to_owned())
    }
}

/// One record not yet read into its type.
struct Raw<'t> {
    text: usize,
    value: Spanned<DeValue<'t>>,
}

/// The tables of a set of texts. Take out each kind of record once; what is left over is refused.
#[derive(Default)]
pub struct Tables<'t> {
    texts: Vec<Text<'t>>,
    tables: BTreeMap<String, Vec<Raw<'t>>>,
    taken: Vec<&'static str>,
    cited: Vec<(String, usize, usize)>,
    faults: Vec<Fault>,
}

impl<'t> Tables<'t> {
    /// Splits the texts into tables. Broken texts become faults.
    #[must_use]
    pub fn split(texts: &[(&'t str, &'t str)]) -> Self {
        let mut all = Self::default();
        for (name, text) in texts {
            all.split_one(Text::new(name, text), |_| true);
        }
        all
    }

    /// Splits out only the tables named; the rest of the text is not looked at.
    #[must_use]
    pub fn split_part((name, text): (&'t str, &'t str), tables: &[&str]) -> Self {
        let mut all = Self::default();
        all.split_one(Text::new(name, text), |table| tables.contains(&table));
        all
    }

    fn split_one(&mut self, text: Text<'t>, wanted: impl Fn(&str) -> bool) {
        let index = self.texts.len();
        match DeTable::parse(text.text) {
            Err(error) => {
                let place = text.place(error.span().map_or(0, |span| span.start));
                self.faults.push(Fault::Syntax { place, message: error.message().trim().to_owned() });
            }
            Ok(table) => {
                for (name, value) in table.into_inner() {
                    if !wanted(name.get_ref()) {
                        continue;
                    }
                    gather_from(&value, is_source(name.get_ref()), index, &mut self.cited);
                    let place = text.place(name.span().start);
                    let name = name.into_inner().into_owned();
                    let span = value.span();
                    match value.into_inner() {
                        DeValue::Array(records)
                            if records.iter().all(|record| record.get_ref().is_table()) =>
                        {
                            let list = self.tables.entry(name).or_default();
                            list.extend(records.into_iter().map(|value| Raw { text: index, value }));
                        }
                        other @ DeValue::Table(_) => {
                            let value = Spanned::new(span, other);
                            self.tables.entry(name).or_default().push(Raw { text: index, value });
                        }
                        _ => self.faults.push(Fault::Stray { place, name }),
                    }
                }
            }
        }
        self.texts.push(text);
    }

    /// Source keys that stand beside values, with the first place of each.
    #[must_use]
    pub fn citations(&self) -> BTreeMap<String, Place> {
        let mut first: BTreeMap<String, Place> = BTreeMap::new();
        for (key, text, offset) in &self.cited {
            if !first.contains_key(key)
                && let Some(text) = self.texts.get(*text)
            {
                first.insert(key.clone(), text.place(*offset));
            }
        }
        first
    }

    /// Takes out all records of one table (`[[substance]]`), in the order of the files.
    pub fn take<T: DeserializeOwned>(&mut self, table: &'static str) -> Vec<Placed<T>> {
        self.taken.push(table);
        let mut records = Vec::new();
        for raw in self.tables.remove(table).unwrap_or_default() {
            let Some(text) = self.texts.get(raw.text) else { continue };
            let start = raw.value.span().start;
            let key = name_of(raw.value.get_ref());
            match T::deserialize(ValueDeserializer::from(raw.value)) {
                Ok(value) => records.push(Placed { value, place: text.place(start) }),
                Err(error) => {
                    let at = error.span().map_or(start, |span| span.start);
                    self.faults.push(Fault::Record {
                        place: text.place(at),
                        table: table.to_owned(),
                        key,
                        field: text.field_at(at),
                        message: error.message().trim().to_owned(),
                    });
                }
            }
        }
        records
    }

    /// Adds a fault found while the records were put together.
    pub fn refuse(&mut self, fault: Fault) {
        self.faults.push(fault);
    }

    /// All faults, with tables that nobody took.
    #[must_use]
    pub fn finish(mut self) -> Vec<Fault> {
        for (table, records) in std::mem::take(&mut self.tables) {
            for raw in records.iter().take(1) {
                if let Some(text) = self.texts.get(raw.text) {
                    self.faults.push(Fault::UnknownTable {
                        place: text.place(raw.value.span().start),
                        table: table.clone(),
                        known: self.taken.clone(),
                    });
                }
            }
        }
        self.faults.sort_by(|a, b| a.place().cmp(b.place()));
        self.faults
    }
}

/// Every text under a field `source` or `..._source`, however deep.
fn gather_citations(table: &DeTable<'_>, text: usize, cited: &mut Vec<(String, usize, usize)>) {
    for (name, value) in table {
        gather_from(value, is_source(name.get_ref()), text, cited);
    }
}

fn is_source(field: &str) -> bool {
    field == "source" || field.ends_with("_source")
}

fn gather_from(
    value: &Spanned<DeValue<'_>>,
    is_source: bool,
    text: usize,
    cited: &mut Vec<(String, usize, usize)>,
) {
    match value.get_ref() {
        DeValue::String(key) if is_source => cited.push((key.to_string(), text, value.span().start)),
        DeValue::Array(values) => values.iter().for_each(|value| gather_from(value, is_source, text, cited)),
        DeValue::Table(table) => gather_citations(table, text, cited),
        _ => {}
    }
}

/// What a person would call the record: its `key`, `name`, `product`, `material`, `substance` or `code`.
fn name_of(value: &DeValue<'_>) -> Option<String> {
    let DeValue::Table(table) = value else { return None };
    ["key", "product", "material", "substance", "code", "name"]
        .iter()
        .find_map(|field| table.get(*field).and_then(|value| value.get_ref().as_str().map(str::to_owned)))
}
