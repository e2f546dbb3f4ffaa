//! The file of `optimise`: a formula with `[optimise]` in it, or `[optimise]` alone with the name of a formula file.
//!
//! ```toml
//! [optimise]
//! formula = "night-toner-mandelic.toml"   # left out where the formula stands in this file
//! others = 2                     # other answers sought
//! near_percent = 10              # by how much of the aim they may be worse
//! points = 7                     # limits held between the ends, where two or three aims stand against each other
//! seed = 1
//! [[optimise.aim]]               # one; two or three stand against each other
//! of = "cost_per_kg"
//! want = "least"                 # or "most"; what is usual for it, where it is left out
//! [[optimise.line]]              # a line that may move, in the unit it is typed in; of a line that is solved for a pH, the pH
//! material = "Propanediol"       # or line = 6
//! least = 2
//! most = 6
//! step = 0.05
//! optional = true                # it may also be left out
//! [[optimise.one_of]]            # how many of these are in: exactly one, where least and most are left out
//! materials = ["Glycerin", "Propanediol"]
//! [[optimise.wish]]
//! of = "free_preservative_mg_kg"
//! material = "Sodium benzoate"
//! least = 1500
//! [[optimise.wish]]
//! sum = ["Glycerin", "Propanediol"]       # each times its factor, where factors are given
//! least = 5
//! [[optimise.wish]]
//! ratio = ["Xanthan gum"]
//! to = ["Sclerotium gum"]
//! most = 3
//! ```

use crate::diagnostic::Diagnostic;
use crate::flow_file::number;
use crate::formula_file::FormulaFile;
use crate::making_file::finished;
use crate::toml_reader::{Reader, join, parsed, without_table};
use levigate_assess::better::{AimAsked, Asked, Move, Quantity, WORDS, WishAsked, WishOn};
use levigate_facts::Facts;
use levigate_formula::sheet::Amount;
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;
use std::ops::Range;
use toml::de::DeTable;

/// `levigate schema optimise`.
pub const SCHEMA: &str = include_str!("optimise.schema.json");

const PATH: &str = "optimise";
const FIELDS: [&str; 9] =
    ["formula", "others", "near_percent", "points", "seed", "aim", "line", "one_of", "wish"];
const QUANTITY: [&str; 7] = ["of", "material", "shear_rate", "sum", "factors", "ratio", "to"];
/// Step of a level or a pH where nobody names one.
const USUAL_STEP: Decimal = Decimal::from_parts(5, 0, 0, false, 2);

/// Name of the formula file; nothing where the formula stands in the same text.
///
/// # Errors
/// A text that is no TOML.
pub fn formula_named(file: &str, text: &str) -> Result<Option<String>, Vec<Diagnostic>> {
    let root = parsed(file, text)?;
    let mut reader = Reader::new(file, text);
    let found =
        reader.table(root.get_ref(), "", PATH).and_then(|(table, _)| reader.string(table, PATH, "formula"));
    finished(reader, Some(found))
}

/// The text with everything under `[optimise]` made blank, so that the rest is a formula whose lines stand where they stood.
#[must_use]
pub fn formula_of(text: &str) -> String {
    without_table(text, PATH)
}

/// Reads `[optimise]` for a formula.
///
/// # Errors
/// All that is wrong with the table, each with its place.
pub fn read(file: &str, text: &str, formula: &FormulaFile, facts: &Facts) -> Result<Asked, Vec<Diagnostic>> {
    let root = parsed(file, text)?;
    let mut reader = Reader::new(file, text);
    let Some((table, span)) = reader.table(root.get_ref(), "", PATH) else {
        reader.missing(&(0..0), "", PATH, "write [optimise] with what is aimed at, wished, and may move");
        return Err(reader.finish());
    };
    reader.known_fields(table, PATH, &FIELDS);
    let mut lines = Lines { formula, facts };
    let count = |reader: &mut Reader<'_>, key: &str, range: [f64; 2]| {
        number(reader, table, PATH, key, range).and_then(|count| count.to_usize())
    };
    let others = count(&mut reader, "others", [0.0, 9.0]).unwrap_or(2);
    let rungs = count(&mut reader, "points", [1.0, 40.0]);
    let near_percent = number(&mut reader, table, PATH, "near_percent", [0.0, 500.0]).unwrap_or(10.0);
    let seed =
        number(&mut reader, table, PATH, "seed", [0.0, 9e15]).and_then(|seed| seed.to_u64()).unwrap_or(1);
    let moves = moves(&mut reader, table, &mut lines);
    let groups = groups(&mut reader, table, &mut lines);
    let aims = aims(&mut reader, table, &mut lines);
    let wishes = wishes(&mut reader, table, &mut lines);
    if !table.contains_key("line") {
        reader.missing(&span, PATH, "line", "write [[optimise.line]] with material, least and most");
    }
    if !table.contains_key("aim") {
        reader.missing(&span, PATH, "aim", "write [[optimise.aim]] with of = \"cost_per_kg\"");
    }
    if aims.len() > 3 {
        reader.wrong(
            table,
            PATH,
            "aim",
            format!("{} aims", aims.len()),
            "three can stand against each other at most",
        );
    }
    finished(reader, Some(Asked { moves, groups, aims, wishes, others, near_percent, rungs, seed }))
}

/// Lines of the formula by what a person calls them.
struct Lines<'l> {
    formula: &'l FormulaFile,
    facts: &'l Facts,
}

impl Lines<'_> {
    fn named(&self, typed: &str) -> Result<usize, String> {
        let key = |typed: &str| self.facts.names.resolve_material(typed).ok();
        let wanted = key(typed);
        let all = || self.formula.sheet.lines().enumerate();
        let found: Vec<usize> = all()
            .filter(|(_, (_, line))| {
                line.material == typed || (wanted.is_some() && key(&line.material) == wanted)
            })
            .map(|(at, _)| at)
            .collect();
        match found.as_slice() {
            [one] => Ok(*one),
            [] => {
                let names: Vec<&str> = all().map(|(_, (_, line))| line.material.as_str()).collect();
                Err(format!("\"{typed}\" is in no line of the formula; its lines are: {}", names.join(", ")))
            }
            several => Err(format!(
                "\"{typed}\" is in {} lines of the formula; name the line by its number",
                several.len()
            )),
        }
    }

    fn name(&self, line: usize) -> String {
        self.formula.sheet.lines().nth(line).map(|(_, line)| line.material.clone()).unwrap_or_default()
    }

    /// The line of a table, by material or number.
    fn of(
        &self,
        reader: &mut Reader<'_>,
        table: &DeTable<'_>,
        path: &str,
        span: &Range<usize>,
    ) -> Option<usize> {
        if let Some(typed) = number(reader, table, path, "line", [1.0, 10_000.0]) {
            let line = typed.to_usize().filter(|_| typed.fract() == 0.0).and_then(|line| line.checked_sub(1));
            let count = self.formula.sheet.lines().count();
            let line = line.filter(|line| *line < count);
            if line.is_none() {
                reader.wrong(
                    table,
                    path,
                    "line",
                    format!("there is no line {typed}"),
                    &format!("count the lines of the formula from 1 to {count}"),
                );
            }
            return line;
        }
        let typed = reader.required_string(
            table,
            path,
            "material",
            span,
            "name the raw material as its line does",
        )?;
        self.named(&typed)
            .map_err(|what| reader.wrong(table, path, "material", what, "write it as its line does"))
            .ok()
    }

    fn list(&self, reader: &mut Reader<'_>, table: &DeTable<'_>, path: &str, key: &str) -> Vec<usize> {
        let mut found = Vec::new();
        for (typed, span) in reader.strings_with_places(table, path, key) {
            match self.named(&typed) {
                Ok(line) => found.push(line),
                Err(what) => reader.complain(
                    &span,
                    "not-in-formula",
                    join(path, key),
                    what,
                    "write it as its line does",
                ),
            }
        }
        found
    }
}

fn moves(reader: &mut Reader<'_>, table: &DeTable<'_>, lines: &mut Lines<'_>) -> Vec<Move> {
    let path = join(PATH, "line");
    let mut found: Vec<Move> = Vec::new();
    for (own, span) in reader.tables(table, PATH, "line") {
        reader.known_fields(own, &path, &["material", "line", "least", "most", "step", "optional"]);
        let line = lines.of(reader, own, &path, &span);
        let mut end = |key: &str| {
            if !own.contains_key(key) {
                reader.missing(&span, &path, key, "write least and most, in the unit the line is typed in");
            }
            reader.decimal(own, &path, key)
        };
        let (low, high) = (end("least"), end("most"));
        let step = reader.decimal(own, &path, "step").unwrap_or(USUAL_STEP);
        let may_be_off = reader.bool(own, &path, "optional").unwrap_or(false);
        let (Some(line), Some(low), Some(high)) = (line, low, high) else { continue };
        let amount = lines.formula.sheet.lines().nth(line).map(|(_, line)| line.amount);
        let most =
            if matches!(amount, Some(Amount::ToPh(_))) { Decimal::from(14) } else { Decimal::ONE_HUNDRED };
        if low < Decimal::ZERO || high > most || low > high {
            let what = format!("{low} to {high} is no range here");
            reader.wrong(own, &path, "least", what, &format!("the least first, both between 0 and {most}"));
            continue;
        }
        if step < Decimal::new(1, 4) || step > most {
            reader.wrong(own, &path, "step", format!("a step of {step}"), "it is at least 0.0001");
            continue;
        }
        if found.iter().any(|other| other.line == line) {
            reader.wrong(
                own,
                &path,
                "material",
                format!("{} moves twice", lines.name(line)),
                "name every line once",
            );
            continue;
        }
        found.push(Move { line, low, high, step, may_be_off });
    }
    found
}

fn groups(
    reader: &mut Reader<'_>,
    table: &DeTable<'_>,
    lines: &mut Lines<'_>,
) -> Vec<(Vec<usize>, usize, usize)> {
    let path = join(PATH, "one_of");
    let mut found = Vec::new();
    for (own, span) in reader.tables(table, PATH, "one_of") {
        reader.known_fields(own, &path, &["materials", "least", "most"]);
        let own_lines = lines.list(reader, own, &path, "materials");
        if own_lines.len() < 2 && !own.contains_key("materials") {
            reader.missing(&span, &path, "materials", "name two lines or more");
        }
        let mut count =
            |key: &str| number(reader, own, &path, key, [0.0, 1000.0]).and_then(|count| count.to_usize());
        let (least, most) = (count("least"), count("most"));
        let least = least.unwrap_or(1);
        let most = most.unwrap_or(least.max(1));
        found.push((own_lines, least, most));
    }
    found
}

fn aims(reader: &mut Reader<'_>, table: &DeTable<'_>, lines: &mut Lines<'_>) -> Vec<AimAsked> {
    let path = join(PATH, "aim");
    let mut found = Vec::new();
    for (own, span) in reader.tables(table, PATH, "aim") {
        reader.known_fields(own, &path, &[&QUANTITY[..], &["want"]].concat());
        let want = reader.choice(own, &path, "want", &["least", "most"]);
        let Some((of, name)) = quantity(reader, own, &path, &span, lines) else { continue };
        let most = want.map_or_else(|| of.usually_most(), |want| want == "most");
        found.push(AimAsked { of, name, most });
    }
    found
}

fn wishes(reader: &mut Reader<'_>, table: &DeTable<'_>, lines: &mut Lines<'_>) -> Vec<WishAsked> {
    let path = join(PATH, "wish");
    let mut found = Vec::new();
    for (own, span) in reader.tables(table, PATH, "wish") {
        reader.known_fields(own, &path, &[&QUANTITY[..], &["least", "most"]].concat());
        let mut end = |key: &str| number(reader, own, &path, key, [-1e9, 1e9]);
        let (least, most) = (end("least"), end("most"));
        let Some((of, name)) = quantity(reader, own, &path, &span, lines) else { continue };
        if least.is_none() && most.is_none() {
            reader.missing(&span, &path, "least", "write least, most or both");
            continue;
        }
        if least.zip(most).is_some_and(|(least, most)| least > most) {
            reader.wrong(own, &path, "least", "the least is above the most".to_owned(), "exchange the two");
            continue;
        }
        found.push(WishAsked { on: WishOn { of, name }, least, most });
    }
    found
}

/// What an aim or a wish speaks of, and its name.
fn quantity(
    reader: &mut Reader<'_>,
    own: &DeTable<'_>,
    path: &str,
    span: &Range<usize>,
    lines: &Lines<'_>,
) -> Option<(Quantity, String)> {
    let names = |all: &[usize]| all.iter().map(|line| lines.name(*line)).collect::<Vec<_>>().join(" + ");
    if own.contains_key("sum") {
        let all = lines.list(reader, own, path, "sum");
        let factors: Vec<f64> = reader
            .numbers(own, path, "factors")
            .unwrap_or_default()
            .iter()
            .filter_map(ToPrimitive::to_f64)
            .collect();
        if !factors.is_empty() && factors.len() != all.len() {
            let what = format!("{} factors for {} lines", factors.len(), all.len());
            reader.wrong(own, path, "factors", what, "write one for every line, in their order");
            return None;
        }
        let name = if all.len() > 1 { format!("the sum of {}", names(&all)) } else { names(&all) };
        let factor = |place: usize| factors.get(place).copied().unwrap_or(1.0);
        let sum = all.iter().enumerate().map(|(place, line)| (*line, factor(place))).collect();
        if all.is_empty() && reader.strings_with_places(own, path, "sum").is_empty() {
            reader.wrong(own, path, "sum", "it names no line".to_owned(), "name the lines that are summed");
        }
        return (!all.is_empty()).then_some((Quantity::Sum(sum), name));
    }
    if own.contains_key("ratio") {
        let over = lines.list(reader, own, path, "ratio");
        let under = lines.list(reader, own, path, "to");
        if over.is_empty() || under.is_empty() {
            reader.missing(span, path, "to", "write ratio = [\"Xanthan gum\"] and to = [\"Sclerotium gum\"]");
            return None;
        }
        let name = format!("{} to {}", names(&over), names(&under));
        return Some((Quantity::Ratio(over, under), name));
    }
    let words = WORDS.map(|(word, ..)| word);
    if !own.contains_key("of") {
        reader.missing(span, path, "of", "say of what: of = \"cost_per_kg\", or sum or ratio with lines");
        return None;
    }
    let word = reader.choice(own, path, "of", &words)?;
    let name = WORDS.iter().find(|(known, ..)| *known == word).map_or("", |(.., name)| name);
    match word.as_str() {
        "free_preservative_mg_kg" => {
            let line = lines.of(reader, own, path, span)?;
            Some((Quantity::FreePreservative(line), format!("free acid of {}", lines.name(line))))
        }
        "viscosity_mpa_s" if own.contains_key("shear_rate") => {
            let rate = number(reader, own, path, "shear_rate", [1e-3, 1e5])?;
            Some((Quantity::ViscosityAt(rate), format!("viscosity at {rate} 1/s")))
        }
        word => Quantity::plain(word).map(|of| (of, name.to_owned())),
    }
}
