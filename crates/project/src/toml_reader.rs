//! Walks a TOML table with the place of every value at hand and collects all that is wrong with it.

use crate::diagnostic::{Diagnostic, at};
use rust_decimal::Decimal;
use std::ops::Range;
use std::str::FromStr;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// The text as a table.
///
/// # Errors
/// When it is not TOML, with the place.
pub(crate) fn parsed<'t>(file: &str, text: &'t str) -> Result<Spanned<DeTable<'t>>, Vec<Diagnostic>> {
    DeTable::parse(text).map_err(|error| {
        let span = error.span().unwrap_or(0..0);
        let what = format!("this is not TOML: {}", error.message());
        let what_now =
            "check quotes, brackets and the decimal point (a decimal comma is not a number in a file)";
        vec![at((file, text), &span, "not-toml", "", what, what_now)]
    })
}

/// A walk over one text.
pub(crate) struct Reader<'t> {
    file: &'t str,
    text: &'t str,
    problems: Vec<Diagnostic>,
}

impl<'t> Reader<'t> {
    pub(crate) fn new(file: &'t str, text: &'t str) -> Self {
        Self { file, text, problems: Vec::new() }
    }

    pub(crate) fn finish(self) -> Vec<Diagnostic> {
        self.problems
    }

    fn push(&mut self, span: &Range<usize>, code: &str, field: String, what: String, what_now: &str) {
        self.problems.push(at((self.file, self.text), span, code, field, what, what_now));
    }

    pub(crate) fn missing(&mut self, span: &Range<usize>, path: &str, key: &str, what_now: &str) {
        self.push(span, "missing", join(path, key), format!("{key} is missing"), what_now);
    }

    pub(crate) fn wrong(&mut self, table: &DeTable<'_>, path: &str, key: &str, what: String, what_now: &str) {
        let span = self.span(table, key).unwrap_or(0..0);
        self.push(&span, "wrong-value", join(path, key), what, what_now);
    }

    pub(crate) fn span(&self, table: &DeTable<'_>, key: &str) -> Option<Range<usize>> {
        table.get(key).map(toml::Spanned::span)
    }

    /// Complains about every field that is not known, with the nearest known one.
    pub(crate) fn known_fields(&mut self, table: &DeTable<'_>, path: &str, known: &[&str]) {
        for key in table.keys() {
            let name = key.get_ref().as_ref();
            if !known.contains(&name) {
                let nearest =
                    known.iter().min_by_key(|candidate| strsim::damerau_levenshtein(candidate, name));
                let what_now = match nearest {
                    Some(nearest) if strsim::damerau_levenshtein(nearest, name) <= 3 => {
                        format!("did you mean {nearest}?")
                    }
                    _ => format!("known fields are {}", known.join(", ")),
                };
                self.push(
                    &key.span(),
                    "unknown-field",
                    join(path, name),
                    format!("\"{name}\" is not a field here"),
                    &what_now,
                );
            }
        }
    }

    pub(crate) fn string(&mut self, table: &DeTable<'_>, path: &str, key: &str) -> Option<String> {
        let value = table.get(key)?;
        match value.get_ref() {
            DeValue::String(text) => Some(text.to_string()),
            other => {
                let what = format!("text is expected, this is {}", other.type_str());
                self.push(&value.span(), "not-text", join(path, key), what, "put it in quotes");
                None
            }
        }
    }

    pub(crate) fn required_string(
        &mut self,
        table: &DeTable<'_>,
        path: &str,
        key: &str,
        span: &Range<usize>,
        what_now: &str,
    ) -> Option<String> {
        if !table.contains_key(key) {
            self.missing(span, path, key, what_now);
            return None;
        }
        let text = self.string(table, path, key)?;
        if text.trim().is_empty() {
            self.wrong(table, path, key, format!("{key} is empty"), what_now);
            return None;
        }
        Some(text)
    }

    pub(crate) fn bool(&mut self, table: &DeTable<'_>, path: &str, key: &str) -> Option<bool> {
        let value = table.get(key)?;
        if let Some(answer) = value.get_ref().as_bool() {
            return Some(answer);
        }
        let what = format!("true or false is expected, this is {}", value.get_ref().type_str());
        self.push(
            &value.span(),
            "not-yes-or-no",
            join(path, key),
            what,
            "write true or false without quotes",
        );
        None
    }

    pub(crate) fn decimal(&mut self, table: &DeTable<'_>, path: &str, key: &str) -> Option<Decimal> {
        let value = table.get(key)?;
        self.decimal_value(value.get_ref(), &value.span(), &join(path, key))
    }

    fn decimal_value(&mut self, value: &DeValue<'_>, span: &Range<usize>, field: &str) -> Option<Decimal> {
        let digits = match value {
            DeValue::Integer(number) if number.radix() == 10 => number.as_str(),
            DeValue::Float(number) => number.as_str(),
            DeValue::String(text) => {
                let what_now = if text.contains(',') {
                    "write the number without quotes and with a decimal point"
                } else {
                    "write the number without quotes"
                };
                self.push(
                    span,
                    "not-a-number",
                    field.to_owned(),
                    format!("\"{text}\" is text, not a number"),
                    what_now,
                );
                return None;
            }
            other => {
                let what = format!("a number is expected, this is {}", other.type_str());
                self.push(span, "not-a-number", field.to_owned(), what, "write a plain number");
                return None;
            }
        };
        let plain = digits.replace('_', "");
        let parsed =
            Decimal::from_str(plain.trim_start_matches('+')).or_else(|_| Decimal::from_scientific(&plain));
        match parsed {
            Ok(number) => Some(number),
            Err(_) => {
                let what = format!("{digits} cannot be held as a decimal number");
                self.push(span, "not-a-number", field.to_owned(), what, "write a plain finite number");
                None
            }
        }
    }

    /// `[low, high]` with low not above high.
    pub(crate) fn window(&mut self, table: &DeTable<'_>, path: &str, key: &str) -> Option<[Decimal; 2]> {
        let value = table.get(key)?;
        let field = join(path, key);
        let Some(items) = value.get_ref().as_array().filter(|items| items.len() == 2) else {
            let what = "a window is expected".to_owned();
            self.push(&value.span(), "not-a-window", field, what, "write [low, high]");
            return None;
        };
        let ends: Vec<Option<Decimal>> =
            items.iter().map(|item| self.decimal_value(item.get_ref(), &item.span(), &field)).collect();
        let (low, high) = (ends[0]?, ends[1]?);
        if low > high {
            self.push(
                &value.span(),
                "not-a-window",
                field,
                format!("the window runs from {low} down to {high}"),
                "write the lower end first",
            );
            return None;
        }
        Some([low, high])
    }

    /// A list of numbers.
    pub(crate) fn numbers(&mut self, table: &DeTable<'_>, path: &str, key: &str) -> Option<Vec<Decimal>> {
        let value = table.get(key)?;
        let field = join(path, key);
        let Some(items) = value.get_ref().as_array() else {
            let what = "a list of numbers is expected".to_owned();
            self.push(&value.span(), "not-a-list", field, what, "write [1.0, 2.0]");
            return None;
        };
        items.iter().map(|item| self.decimal_value(item.get_ref(), &item.span(), &field)).collect()
    }

    /// A list of rows of numbers, each with its place.
    pub(crate) fn rows(
        &mut self,
        table: &DeTable<'_>,
        path: &str,
        key: &str,
        width: usize,
    ) -> Option<Vec<(Range<usize>, Vec<Decimal>)>> {
        let value = table.get(key)?;
        let field = join(path, key);
        let what_now = format!("write a list of rows of {width} numbers: [[1.0, 2.0], [1.5, 3.0]]");
        let Some(items) = value.get_ref().as_array() else {
            let what = "a list of rows of numbers is expected".to_owned();
            self.push(&value.span(), "not-a-list", field, what, &what_now);
            return None;
        };
        let mut rows = Vec::new();
        for item in items.iter() {
            let cells = item.get_ref().as_array().map_or(&[][..], |cells| cells);
            if cells.len() != width {
                let what = format!("a row of {width} numbers is expected, this has {}", cells.len());
                self.push(&item.span(), "not-a-row", field.clone(), what, &what_now);
                continue;
            }
            let numbers: Option<Vec<Decimal>> =
                cells.iter().map(|cell| self.decimal_value(cell.get_ref(), &cell.span(), &field)).collect();
            rows.extend(numbers.map(|numbers| (item.span(), numbers)));
        }
        (rows.len() == items.len()).then_some(rows)
    }

    /// A list of pairs of numbers.
    pub(crate) fn pairs(&mut self, table: &DeTable<'_>, path: &str, key: &str) -> Option<Vec<[Decimal; 2]>> {
        let value = table.get(key)?;
        let field = join(path, key);
        let what_now = "write [[0.1, 40.0], [10.0, 3.0]]";
        let Some(items) = value.get_ref().as_array() else {
            let what = "a list of pairs is expected".to_owned();
            self.push(&value.span(), "not-a-list", field, what, what_now);
            return None;
        };
        let mut pairs = Vec::new();
        for item in items.iter() {
            let Some(ends) = item.get_ref().as_array().filter(|ends| ends.len() == 2) else {
                let what = "a pair of numbers is expected".to_owned();
                self.push(&item.span(), "not-a-pair", field.clone(), what, what_now);
                continue;
            };
            let ends: Vec<Option<Decimal>> =
                ends.iter().map(|end| self.decimal_value(end.get_ref(), &end.span(), &field)).collect();
            if let [Some(first), Some(second)] = ends[..] {
                pairs.push([first, second]);
            }
        }
        (pairs.len() == items.len()).then_some(pairs)
    }

    /// Adds a complaint about a place that has no key of its own.
    pub(crate) fn complain(
        &mut self,
        span: &Range<usize>,
        code: &str,
        field: String,
        what: String,
        what_now: &str,
    ) {
        self.push(span, code, field, what, what_now);
    }

    /// Adds a complaint made elsewhere.
    pub(crate) fn say(&mut self, problem: Diagnostic) {
        self.problems.push(problem);
    }

    pub(crate) fn strings(&mut self, table: &DeTable<'_>, path: &str, key: &str) -> Vec<String> {
        self.strings_with_places(table, path, key).into_iter().map(|(text, _)| text).collect()
    }

    pub(crate) fn strings_with_places(
        &mut self,
        table: &DeTable<'_>,
        path: &str,
        key: &str,
    ) -> Vec<(String, Range<usize>)> {
        let Some(value) = table.get(key) else { return Vec::new() };
        let field = join(path, key);
        let Some(items) = value.get_ref().as_array() else {
            self.push(
                &value.span(),
                "not-a-list",
                field,
                "a list is expected".to_owned(),
                "write [\"one\", \"two\"]",
            );
            return Vec::new();
        };
        let mut texts = Vec::new();
        for item in items.iter() {
            match item.get_ref().as_str() {
                Some(text) => texts.push((text.to_owned(), item.span())),
                None => self.push(
                    &item.span(),
                    "not-text",
                    field.clone(),
                    format!("text is expected, this is {}", item.get_ref().type_str()),
                    "put it in quotes",
                ),
            }
        }
        texts
    }

    pub(crate) fn choice(
        &mut self,
        table: &DeTable<'_>,
        path: &str,
        key: &str,
        known: &[&str],
    ) -> Option<String> {
        let text = self.string(table, path, key)?;
        if known.contains(&text.as_str()) {
            return Some(text);
        }
        let what_now = format!("use one of {}", known.join(", "));
        self.wrong(table, path, key, format!("\"{text}\" is not known here"), &what_now);
        None
    }

    pub(crate) fn table<'a, 'i>(
        &mut self,
        table: &'a DeTable<'i>,
        path: &str,
        key: &str,
    ) -> Option<(&'a DeTable<'i>, Range<usize>)> {
        let value = table.get(key)?;
        if let Some(inner) = value.get_ref().as_table() {
            return Some((inner, value.span()));
        }
        let what = format!("a table is expected, this is {}", value.get_ref().type_str());
        self.push(
            &value.span(),
            "not-a-table",
            join(path, key),
            what,
            "write its fields under a heading in brackets",
        );
        None
    }

    pub(crate) fn tables<'a, 'i>(
        &mut self,
        table: &'a DeTable<'i>,
        path: &str,
        key: &str,
    ) -> Vec<(&'a DeTable<'i>, Range<usize>)> {
        let Some(value) = table.get(key) else { return Vec::new() };
        let heading = format!("write each one under [[{key}]]");
        let Some(items) = value.get_ref().as_array() else {
            let what = format!("a list of {key} entries is expected");
            self.push(&value.span(), "not-a-list", join(path, key), what, &heading);
            return Vec::new();
        };
        let mut found = Vec::new();
        for item in items.iter() {
            match item.get_ref().as_table() {
                Some(inner) => found.push((inner, item.span())),
                None => {
                    let what = format!("a {key} entry is expected");
                    self.push(&item.span(), "not-a-table", join(path, key), what, &heading);
                }
            }
        }
        found
    }
}

/// The text with everything under a table made blank, so that the rest stands where it stood.
pub(crate) fn without_table(text: &str, table: &str) -> String {
    let mut rest = String::with_capacity(text.len());
    let mut within = false;
    for line in text.split_inclusive('\n') {
        let head = line.trim_start();
        if head.starts_with('[') {
            let name = head.trim_start_matches('[').trim_start();
            let ends = |rest: &str| rest.trim_start().starts_with([']', '.']);
            within = name.strip_prefix(table).is_some_and(ends);
        }
        if within {
            rest.extend(line.chars().map(|letter| if letter == '\n' { '\n' } else { ' ' }));
        } else {
            rest.push_str(line);
        }
    }
    rest
}

/// A field below a path.
pub(crate) fn join(path: &str, key: &str) -> String {
    if path.is_empty() { key.to_owned() } else { format!("{path}, {key}") }
}
