//! The file of `uncertainty`: a formula with `[uncertainty]` in it, or `[uncertainty]` alone with the name of a formula file.
//!
//! ```toml
//! [uncertainty]
//! formula = "night-toner-mandelic.toml"   # left out where the formula stands in this file
//! batch_g = 200                           # that of the formula, where it is left out
//! draws = 100000                 # the most, with steady_digits
//! steady_digits = 2              # digits of each standard uncertainty that must stand still; usual where draws is left out
//! seed = 1
//! coverage = 0.95
//! price_half_width_percent = 10
//! meter_ph = 0.02
//! [[uncertainty.balance]]                 # the first without lines is for all lines that no other names
//! name = "bench"
//! readability_g = 0.01
//! repeatability_g = 0.008
//! [[uncertainty.balance]]
//! readability_g = 0.001
//! class = "II"                            # without a certificate: the errors its class permits
//! interval_g = 0.01                       # verification interval of the plate; the most it can be, where it is left out
//! lines = [3, 4]
//! [[uncertainty.balance]]
//! readability_g = 0.0001
//! up_to_g = 5                             # whatever weighs no more, where no balance is named for its line
//! [[uncertainty.lot]]
//! line = 3
//! assay_percent = 98.7
//! half_width = 0.5                        # or standard = 0.3, percentage points
//! ```

use super::finished;
use crate::diagnostic::Diagnostic;
use crate::flow_file::number;
use crate::toml_reader::{Reader, join, parsed};
use levigate_assess::uncertainty::{LEAST_DRAWS, MOST_DRAWS, Spread};
use levigate_measure::weighing::{Balance, BalanceRecord, Certificate, Indication};
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;
use std::ops::Range;
use toml::de::DeTable;

/// `levigate schema uncertainty`.
pub const SCHEMA: &str = include_str!("uncertainty.schema.json");

/// Draws where nobody says how many.
pub const USUAL_DRAWS: usize = 100_000;
/// Digits that must stand still where nobody says how many to draw.
pub const USUAL_DIGITS: i32 = 2;
/// Seed where nobody names one.
pub const USUAL_SEED: u64 = 1;

/// A balance with what it is for.
#[derive(Clone, Debug, PartialEq)]
pub struct NamedBalance {
    /// The balance.
    pub balance: Balance,
    /// Lines, from 0; none and no range: it is the usual one.
    pub lines: Vec<usize>,
    /// What weighs no more than this goes onto it, g.
    pub up_to_g: Option<f64>,
    /// Class it is verified in.
    pub class: Option<TypedClass>,
}

impl NamedBalance {
    /// Whether it is for whatever no other balance is for.
    #[must_use]
    pub fn is_usual(&self) -> bool {
        self.lines.is_empty() && self.up_to_g.is_none()
    }
}

/// Class and verification interval of a balance, as typed.
#[derive(Clone, Debug, PartialEq)]
pub struct TypedClass {
    /// `I` to `IIII`.
    pub class: String,
    /// Verification interval, g.
    pub interval_g: Option<f64>,
}

/// A lot with its certificate.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct NamedLot {
    /// Line, from 0.
    pub line: usize,
    /// Assay, percent; as the formula has it, where it is left out.
    pub assay_percent: Option<Decimal>,
    /// Its spread, percentage points.
    pub spread: Spread,
}

/// A question as read.
#[derive(Clone, Debug, PartialEq)]
pub struct UncertaintyFile {
    /// Name of the formula file; nothing where the formula stands in the same text.
    pub formula: Option<String>,
    /// Batch, g.
    pub batch_g: Option<f64>,
    /// Draws; the most where it is drawn until steady.
    pub draws: usize,
    /// Digits that must stand still before drawing ends; a fixed number is drawn without it.
    pub steady_digits: Option<i32>,
    /// Seed.
    pub seed: u64,
    /// Coverage.
    pub coverage: f64,
    /// Half-width of the prices, percent.
    pub price_half_width_percent: Option<f64>,
    /// Standard uncertainty of a pH reading.
    pub meter_ph: Option<f64>,
    /// Balances.
    pub balances: Vec<NamedBalance>,
    /// Lots.
    pub lots: Vec<NamedLot>,
}

const FIELDS: [&str; 10] = [
    "formula",
    "batch_g",
    "draws",
    "steady_digits",
    "seed",
    "coverage",
    "price_half_width_percent",
    "meter_ph",
    "balance",
    "lot",
];
const BALANCE: [&str; 9] = [
    "name",
    "readability_g",
    "repeatability_g",
    "capacity_g",
    "certificate",
    "class",
    "interval_g",
    "lines",
    "up_to_g",
];
/// Classes of balances, the finest first.
const CLASSES: [&str; 4] = ["I", "II", "III", "IIII"];
const CERTIFICATE: [&str; 5] =
    ["expanded_g", "coverage_factor", "linearity_g", "eccentricity_per_load", "at"];
const LOT: [&str; 4] = ["line", "assay_percent", "half_width", "standard"];
const PATH: &str = "uncertainty";
/// Heaviest mass anybody types, g.
const MOST_G: f64 = 1e9;
/// Most lines of a formula that a balance can be named for.
const MOST_LINES: f64 = 10_000.0;

/// Reads `[uncertainty]`; what else stands in the text is the formula's.
///
/// # Errors
/// All that is wrong with the table, each with its place.
pub fn read(file: &str, text: &str) -> Result<UncertaintyFile, Vec<Diagnostic>> {
    let root = parsed(file, text)?;
    let mut reader = Reader::new(file, text);
    let empty = DeTable::new();
    let table = reader.table(root.get_ref(), "", PATH).map_or(&empty, |(table, _)| table);
    reader.known_fields(table, PATH, &FIELDS);
    let count = |number: f64| number.to_usize();
    #[expect(clippy::cast_precision_loss, reason = "far below 2^53")]
    let draws = whole(&mut reader, table, "draws", [LEAST_DRAWS as f64, MOST_DRAWS as f64]).and_then(count);
    let seed = whole(&mut reader, table, "seed", [0.0, 9e15]).and_then(|seed| seed.to_u64());
    let digits = whole(&mut reader, table, "steady_digits", [1.0, 2.0]).and_then(|digits| digits.to_i32());
    // Whoever says how many is given so many.
    let steady_digits = digits.or_else(|| draws.is_none().then_some(USUAL_DIGITS));
    let found = UncertaintyFile {
        formula: reader.string(table, PATH, "formula"),
        batch_g: number(&mut reader, table, PATH, "batch_g", [0.001, MOST_G]),
        draws: draws.unwrap_or(USUAL_DRAWS),
        steady_digits,
        seed: seed.unwrap_or(USUAL_SEED),
        coverage: number(&mut reader, table, PATH, "coverage", [0.5, 0.999]).unwrap_or(0.95),
        price_half_width_percent: number(&mut reader, table, PATH, "price_half_width_percent", [0.0, 99.0]),
        meter_ph: number(&mut reader, table, PATH, "meter_ph", [0.0, 2.0]),
        balances: read_balances(&mut reader, table),
        lots: read_lots(&mut reader, table),
    };
    finished(reader, Some(found))
}

/// A whole number in a range.
fn whole(reader: &mut Reader<'_>, table: &DeTable<'_>, key: &str, range: [f64; 2]) -> Option<f64> {
    let value = number(reader, table, PATH, key, range)?;
    if value.fract() == 0.0 {
        return Some(value);
    }
    reader.wrong(table, PATH, key, format!("{key} is {value}"), "write a whole number");
    None
}

/// Lines as people count them, from 1.
fn line(value: Decimal) -> Option<usize> {
    value.to_usize().filter(|line| *line >= 1 && value.fract().is_zero()).map(|line| line - 1)
}

fn read_balances(reader: &mut Reader<'_>, table: &DeTable<'_>) -> Vec<NamedBalance> {
    let mut balances: Vec<NamedBalance> = Vec::new();
    let path = join(PATH, "balance");
    for (own, span) in reader.tables(table, PATH, "balance") {
        reader.known_fields(own, &path, &BALANCE);
        if !own.contains_key("readability_g") {
            reader.missing(&span, &path, "readability_g", "give the smallest step of its display in grams");
        }
        let typed = reader.numbers(own, &path, "lines").unwrap_or_default();
        let lines: Vec<usize> = typed.iter().copied().filter_map(line).collect();
        if lines.len() < typed.len() {
            let what = "a line that is no whole number above zero".to_owned();
            reader.wrong(own, &path, "lines", what, "count the lines of the formula from 1");
        }
        let up_to_g = number(reader, own, &path, "up_to_g", [1e-6, MOST_G]);
        let usual = typed.is_empty() && !own.contains_key("up_to_g");
        if usual && balances.iter().any(NamedBalance::is_usual) {
            let what = "two balances without lines or a range".to_owned();
            let what_now = "name the lines that are weighed on the second, or up_to_g";
            reader.wrong(own, &path, "readability_g", what, what_now);
        }
        if !typed.is_empty() && own.contains_key("up_to_g") {
            let what = "lines and a range for one balance".to_owned();
            reader.wrong(own, &path, "up_to_g", what, "give one of them");
        }
        if up_to_g.is_some_and(|most| balances.iter().any(|other| other.up_to_g == Some(most))) {
            let what = "two balances for the same range".to_owned();
            reader.wrong(own, &path, "up_to_g", what, "give each balance another end");
        }
        if let Some(twice) = lines.iter().find(|line| balances.iter().any(|other| other.lines.contains(line)))
        {
            let what = format!("line {} is weighed on two balances", twice + 1);
            reader.wrong(own, &path, "lines", what, "name each line for one balance");
        }
        let record = BalanceRecord {
            name: reader.string(own, &path, "name"),
            readability_g: reader.decimal(own, &path, "readability_g").unwrap_or(Decimal::ONE),
            repeatability_g: number(reader, own, &path, "repeatability_g", [0.0, MOST_G]),
            capacity_g: number(reader, own, &path, "capacity_g", [0.0, MOST_G]),
            certificate: read_certificate(reader, own, &path),
        };
        let class = read_class(reader, own, &path);
        match Balance::try_from(record) {
            Ok(balance) => balances.push(NamedBalance { balance, lines, up_to_g, class }),
            Err(error) => reader.wrong(own, &path, "readability_g", error.to_string(), error.hint()),
        }
    }
    balances
}

fn read_class(reader: &mut Reader<'_>, own: &DeTable<'_>, path: &str) -> Option<TypedClass> {
    let interval_g = number(reader, own, path, "interval_g", [1e-6, 1e4]);
    let class = reader.choice(own, path, "class", &CLASSES);
    if class.is_none() && interval_g.is_some() && !own.contains_key("class") {
        let what = "a verification interval without a class".to_owned();
        reader.wrong(own, path, "interval_g", what, "copy the class from the plate of the balance");
    }
    if class.is_some() && own.contains_key("certificate") {
        let what = "a class beside a certificate".to_owned();
        reader.wrong(own, path, "class", what, "leave the class out: the certificate says more");
    }
    Some(TypedClass { class: class?, interval_g })
}

fn read_certificate(reader: &mut Reader<'_>, own: &DeTable<'_>, path: &str) -> Option<Certificate> {
    let (table, span) = reader.table(own, path, "certificate")?;
    let path = join(path, "certificate");
    reader.known_fields(table, &path, &CERTIFICATE);
    let at: Vec<Indication> = reader
        .tables(table, &path, "at")
        .into_iter()
        .filter_map(|(point, span)| read_indication(reader, point, &span, &join(&path, "at")))
        .collect();
    if at.is_empty() && !table.contains_key("expanded_g") {
        reader.missing(&span, &path, "expanded_g", "copy U from the certificate, or list its loads under at");
    }
    Some(Certificate {
        expanded_g: number(reader, table, &path, "expanded_g", [0.0, MOST_G]).unwrap_or(0.0),
        coverage_factor: number(reader, table, &path, "coverage_factor", [1.0, 5.0]).unwrap_or(2.0),
        linearity_g: number(reader, table, &path, "linearity_g", [0.0, MOST_G]),
        eccentricity_per_load: number(reader, table, &path, "eccentricity_per_load", [0.0, 1.0]),
        at,
    })
}

fn read_indication(
    reader: &mut Reader<'_>,
    point: &DeTable<'_>,
    span: &Range<usize>,
    path: &str,
) -> Option<Indication> {
    reader.known_fields(point, path, &["load_g", "error_g", "expanded_g"]);
    for key in ["load_g", "error_g", "expanded_g"] {
        if !point.contains_key(key) {
            reader.missing(span, path, key, "copy the row of the certificate: load, error of indication, U");
        }
    }
    Some(Indication {
        load_g: number(reader, point, path, "load_g", [0.0, MOST_G])?,
        error_g: number(reader, point, path, "error_g", [-MOST_G, MOST_G])?,
        expanded_g: number(reader, point, path, "expanded_g", [0.0, MOST_G])?,
    })
}

fn read_lots(reader: &mut Reader<'_>, table: &DeTable<'_>) -> Vec<NamedLot> {
    let mut lots = Vec::new();
    let path = join(PATH, "lot");
    for (own, span) in reader.tables(table, PATH, "lot") {
        reader.known_fields(own, &path, &LOT);
        if !own.contains_key("line") {
            reader.missing(&span, &path, "line", "count the lines of the formula from 1");
        }
        let typed = number(reader, own, &path, "line", [1.0, MOST_LINES]);
        let place = typed.and_then(Decimal::from_f64_retain).and_then(line);
        if typed.is_some() && place.is_none() {
            let what = "a line that is no whole number".to_owned();
            reader.wrong(own, &path, "line", what, "count the lines of the formula from 1");
        }
        let half = number(reader, own, &path, "half_width", [0.0, 100.0]);
        let standard = number(reader, own, &path, "standard", [0.0, 100.0]);
        let spread = match (half, standard) {
            (Some(half), None) => Some(Spread::HalfWidth(half)),
            (None, Some(standard)) => Some(Spread::Standard(standard)),
            _ => {
                let what_now = "give one of them, in percentage points: the limits of a certificate as half_width, an uncertainty (U/k) as standard";
                reader.missing(&span, &path, "half_width or standard", what_now);
                None
            }
        };
        let assay_percent = reader.decimal(own, &path, "assay_percent");
        if let Some((line, spread)) = place.zip(spread) {
            if lots.iter().any(|other: &NamedLot| other.line == line) {
                let what = format!("line {} has two lots", line + 1);
                reader.wrong(own, &path, "line", what, "give one lot for each line");
            }
            lots.push(NamedLot { line, assay_percent, spread });
        }
    }
    lots
}

/// The text with everything under `[uncertainty]` made blank, so that the rest is a formula whose lines stand where they stood.
#[must_use]
pub fn formula_of(text: &str) -> String {
    crate::toml_reader::without_table(text, PATH)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_formula_stays_where_it_stood() {
        let text = "[product]\nname = \"x\"\n[uncertainty]\ndraws = 5\n[[uncertainty.lot]]\nline = 1\n[uncertain]\na = 1\n";
        let formula = formula_of(text);
        assert_eq!(formula.len(), text.len());
        assert!(
            formula.starts_with("[product]\nname = \"x\"\n   ") && formula.ends_with("[uncertain]\na = 1\n")
        );
        assert!(!formula.contains("draws") && !formula.contains("line"));
    }

    #[test]
    fn all_that_is_wrong_is_said_with_its_line() {
        let text = "[uncertainty]\ndraws = 12.5\ncoverage = 2\nsead = 3\n[[uncertainty.balance]]\nname = \"a\"\n[[uncertainty.lot]]\nline = 0\n";
        let problems = read("q", text).unwrap_err();
        let lines: Vec<usize> = problems.iter().map(|problem| problem.line).collect();
        for line in [2, 3, 4, 5, 7, 8] {
            assert!(lines.contains(&line), "{line}: {problems:#?}");
        }
        let twice = "[uncertainty]\n[[uncertainty.balance]]\nreadability_g = 0.001\nlines = [2]\n[[uncertainty.balance]]\n\
            readability_g = 0.0001\nlines = [3, 2]\n[[uncertainty.lot]]\nline = 2\nstandard = 0.1\n[[uncertainty.lot]]\nline = 2\nhalf_width = 1\n";
        let lines: Vec<usize> = read("q", twice).unwrap_err().iter().map(|problem| problem.line).collect();
        assert_eq!(lines, [7, 12], "one balance and one lot for each line");
        let ranges = "[uncertainty]\n[[uncertainty.balance]]\nreadability_g = 0.01\n[[uncertainty.balance]]\nreadability_g = 0.001\n\
            up_to_g = 5\n[[uncertainty.balance]]\nreadability_g = 0.0001\nlines = [2]\nup_to_g = 1\n[[uncertainty.balance]]\n\
            readability_g = 0.0001\nup_to_g = 5\n";
        let lines: Vec<usize> = read("q", ranges).unwrap_err().iter().map(|problem| problem.line).collect();
        assert_eq!(lines, [10, 13], "lines or a range, and each range once");
        let good = read("q", "[uncertainty]\n[[uncertainty.balance]]\nreadability_g = 0.001\nlines = [2]\n")
            .unwrap();
        assert_eq!(good.balances[0].lines, [1]);
        assert_eq!(good.draws, USUAL_DRAWS);
    }
}
