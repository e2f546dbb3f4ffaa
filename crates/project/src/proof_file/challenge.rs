//! The file of `challenge`.
//!
//! ```toml
//! title = "Balancing serum, trial 4, pH 5.4"
//! unit = "CFU/g"                  # CFU/mL
//! criteria = ["iso-11930-a"]      # keys; all of the facts, where it is left out
//! [neutraliser]
//! recovered_percent = 82          # with product and neutraliser, of the control
//! alone_percent = 95              # with the neutraliser alone
//! least_percent = 50
//! [[organism]]
//! name = "Escherichia coli"
//! kind = "bacteria"               # yeast, mould
//! initial = 3.4e6                 # calculated initial count
//! counts = [[2, 5.5e6], [7, 2.3e6], [14, 1.0e4]]     # day and count; a day may stand there more than once
//! below = [[28, 10]]              # day and detection floor
//! ```

use super::OPTIONS;
use crate::diagnostic::Diagnostic;
use crate::flow_file::number;
use crate::making_file::finished;
use crate::toml_reader::{Reader, parsed};
use levigate_assess::challenge::Test;
use levigate_rules::challenge::{Count, Criterion, Kind, Neutraliser, Series};
use rust_decimal::prelude::ToPrimitive;
use std::collections::{BTreeMap, BTreeSet};
use toml::de::DeTable;

/// `levigate schema challenge`.
pub const SCHEMA: &str = include_str!("challenge.schema.json");

const KINDS: [(&str, Kind); 3] =
    [("bacteria", Kind::Bacteria), ("yeast", Kind::Yeast), ("mould", Kind::Mould)];
/// Recovery from which a neutraliser counts as working, where nobody says another, %.
const LEAST_RECOVERY: f64 = 50.0;
/// Largest count anybody writes.
const MOST: f64 = 1e12;
/// Last day of a test.
const LAST_DAY: f64 = 365.0;

/// A question with the criteria it names; none means all.
#[derive(Clone, Debug, PartialEq)]
pub struct ChallengeFile {
    /// The test.
    pub test: Test,
    /// Keys of criteria.
    pub criteria: Vec<String>,
}

/// Reads a test; `known` are the criteria of the facts.
///
/// # Errors
/// All that is wrong with the text, each with its place.
pub fn read(
    file: &str,
    text: &str,
    known: &BTreeMap<String, Criterion>,
) -> Result<ChallengeFile, Vec<Diagnostic>> {
    let table = parsed(file, text)?;
    let top = table.get_ref();
    let mut reader = Reader::new(file, text);
    reader.known_fields(top, "", &["title", "unit", "criteria", "neutraliser", "organism"]);
    let mut question = beside(&mut reader, top, known);
    question.test.series = organisms(&mut reader, top);
    finished(reader, Some(question))
}

/// Reads what stands beside a table of counts.
///
/// # Errors
/// All that is wrong with it.
pub fn read_beside(
    options: &str,
    known: &BTreeMap<String, Criterion>,
) -> Result<ChallengeFile, Vec<Diagnostic>> {
    let table = parsed(OPTIONS, options)?;
    let top = table.get_ref();
    let mut reader = Reader::new(OPTIONS, options);
    reader.known_fields(top, "", &["title", "unit", "criteria", "neutraliser"]);
    let question = beside(&mut reader, top, known);
    finished(reader, Some(question))
}

/// Everything but the counts.
fn beside(reader: &mut Reader<'_>, top: &DeTable<'_>, known: &BTreeMap<String, Criterion>) -> ChallengeFile {
    let title = reader.string(top, "", "title").unwrap_or_default();
    let unit = reader.choice(top, "", "unit", &["CFU/g", "CFU/mL"]).unwrap_or_else(|| "CFU/g".to_owned());
    let criteria = reader.strings(top, "", "criteria");
    for key in criteria.iter().filter(|key| !known.contains_key(*key)) {
        let all: Vec<&str> = known.keys().map(String::as_str).collect();
        reader.wrong(
            top,
            "",
            "criteria",
            format!("no criterion is called \"{key}\""),
            &format!("use {}", all.join(", ")),
        );
    }
    let neutraliser = reader.table(top, "", "neutraliser").and_then(|(table, _)| neutraliser(reader, table));
    ChallengeFile { test: Test { title, unit, series: Vec::new(), neutraliser }, criteria }
}

fn neutraliser(reader: &mut Reader<'_>, table: &DeTable<'_>) -> Option<Neutraliser> {
    const PATH: &str = "neutraliser";
    reader.known_fields(table, PATH, &["recovered_percent", "alone_percent", "least_percent"]);
    for key in ["recovered_percent", "alone_percent"] {
        if !table.contains_key(key) {
            reader.missing(&(0..0), PATH, key, "write what was recovered, in percent of the control; leave the table out where nothing was shown");
        }
    }
    let mut percent = |key: &str| number(reader, table, PATH, key, [0.0, 1000.0]);
    let (recovered, alone, least) =
        (percent("recovered_percent"), percent("alone_percent"), percent("least_percent"));
    Some(Neutraliser {
        recovered_percent: recovered?,
        alone_percent: alone?,
        least_percent: least.unwrap_or(LEAST_RECOVERY),
    })
}

fn organisms(reader: &mut Reader<'_>, top: &DeTable<'_>) -> Vec<Series> {
    let mut found = Vec::new();
    let mut names = BTreeSet::new();
    for (place, (table, span)) in reader.tables(top, "", "organism").into_iter().enumerate() {
        let path = format!("organism {}", place + 1);
        reader.known_fields(table, &path, &["name", "kind", "initial", "counts", "below"]);
        let name = reader.required_string(table, &path, "name", &span, "write its name").unwrap_or_default();
        if !name.is_empty() && !names.insert(name.clone()) {
            reader.wrong(
                table,
                &path,
                "name",
                format!("{name} stands here twice"),
                "put all its counts under one heading",
            );
        }
        let word = reader.choice(table, &path, "kind", &KINDS.map(|(word, _)| word));
        if !table.contains_key("kind") {
            reader.missing(
                &span,
                &path,
                "kind",
                "write kind = \"bacteria\", \"yeast\" or \"mould\": criteria ask different things of them",
            );
        }
        if !table.contains_key("initial") {
            reader.missing(
                &span,
                &path,
                "initial",
                "write the calculated initial count: what was put in over the mass of the product",
            );
        }
        let initial = number(reader, table, &path, "initial", [1.0, MOST]);
        let mut counts = days(reader, table, &path, "counts", Count::Found);
        counts.extend(days(reader, table, &path, "below", Count::Below));
        if counts.is_empty() && !table.contains_key("counts") && !table.contains_key("below") {
            reader.missing(&span, &path, "counts", "write counts = [[7, 120]], or below = [[7, 10]] where nothing was found: day and count, day and floor");
        }
        let kind = KINDS.iter().find(|(known, _)| word.as_deref() == Some(*known)).map(|(_, kind)| *kind);
        if let (Some(kind), Some(initial)) = (kind, initial) {
            found.push(Series { organism: name, kind, initial, counts: by_day(counts) });
        }
    }
    if !top.contains_key("organism") {
        reader.missing(&(0..0), "", "organism", "write [[organism]] with name, kind, initial and counts");
    }
    found
}

/// Days with counts, or with floors.
fn days(
    reader: &mut Reader<'_>,
    table: &DeTable<'_>,
    path: &str,
    key: &str,
    count: fn(f64) -> Count,
) -> Vec<(u16, Count)> {
    let mut found = Vec::new();
    for [day, value] in reader.pairs(table, path, key).unwrap_or_default() {
        let (day, value) = (day.to_f64().unwrap_or(-1.0), value.to_f64().unwrap_or(0.0));
        if !(1.0..=LAST_DAY).contains(&day) || day.fract() != 0.0 {
            reader.wrong(
                table,
                path,
                key,
                format!("{day} is not a day of a test"),
                "write whole days after the start; the start is initial",
            );
            continue;
        }
        if !(value > 0.0 && value <= MOST) {
            let what_now = "a count is above zero; where nothing was found write the floor under below";
            reader.wrong(table, path, key, format!("a count of {value}"), what_now);
            continue;
        }
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "between 1 and 365")]
        found.push((day as u16, count(value)));
    }
    found
}

/// One count per day: the mean of its replicates.
fn by_day(counts: Vec<(u16, Count)>) -> Vec<(u16, Count)> {
    let mut days: BTreeMap<u16, Vec<Count>> = BTreeMap::new();
    for (day, count) in counts {
        days.entry(day).or_default().push(count);
    }
    days.into_iter().filter_map(|(day, counts)| Some((day, Count::mean(&counts)?))).collect()
}
