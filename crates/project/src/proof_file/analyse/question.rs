//! The TOML of a question.

use super::{Data, DataRow, Said, Typed};
use crate::diagnostic::{Diagnostic, place};
use crate::flow_file::number;
use crate::making_file::finished;
use crate::proof_file::confidence;
use crate::proof_file::design::{MODELS, USUAL_STARTS, conditions, count};
use crate::toml_reader::{Reader, parsed};
use levigate_measure::desirability::Wish;
use levigate_measure::experiment::{Condition, Joined, Model, Process};
use rust_decimal::Decimal;
use std::ops::Range;
use toml::de::DeTable;

const FIELDS: [&str; 27] = [
    "title",
    "columns",
    "runs",
    "total_percent",
    "model",
    "joined",
    "process",
    "grid",
    "confidence_percent",
    "starts",
    "seed",
    "equation",
    "start",
    "profile",
    "part",
    "setting",
    "response",
    "ask",
    "condition",
    // Of the design that the runs came from; not looked at here.
    "step_percent",
    "plan",
    "steps",
    "goal",
    "keep",
    "middles",
    "repeats",
    "blocks",
];
pub(crate) const JOINED: [(&str, Joined); 2] = [("added", Joined::Added), ("crossed", Joined::Crossed)];
pub(crate) const PROCESS: [(&str, Process); 3] =
    [("linear", Process::Linear), ("pairs", Process::Pairs), ("quadratic", Process::Quadratic)];

/// A part or a setting with its ends, where they are typed.
pub(in crate::proof_file) type Ranged = (String, [Option<f64>; 2]);

/// Where a model is asked: place in the file, levels, what was measured there.
pub(super) type AskedAt = ((usize, usize), Vec<f64>, Vec<f64>);

/// A question as typed.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Asked {
    pub(super) title: String,
    pub(super) total: Option<f64>,
    pub(super) model: Option<Model>,
    pub(super) joined: Joined,
    pub(super) process: Option<Process>,
    pub(super) grid: bool,
    pub(super) confidence: f64,
    pub(super) starts: usize,
    pub(super) seed: u64,
    pub(super) equation: Option<String>,
    pub(super) start: Vec<(String, f64)>,
    pub(super) profile: bool,
    pub(super) parts: Vec<Ranged>,
    pub(super) settings: Vec<Ranged>,
    pub(super) responses: Vec<(String, String, Option<Wish>)>,
    pub(super) ask: Vec<AskedAt>,
    pub(super) conditions: Vec<Condition>,
    /// A word of the command line that is no model.
    pub(super) unknown_model: Option<String>,
}

impl Asked {
    /// What is asked of a table without a word beside it.
    pub(super) fn plain() -> Self {
        Self {
            title: String::new(),
            total: None,
            model: None,
            joined: Joined::default(),
            process: None,
            grid: false,
            confidence: 0.95,
            starts: USUAL_STARTS,
            seed: 1,
            equation: None,
            start: Vec::new(),
            profile: false,
            parts: Vec::new(),
            settings: Vec::new(),
            responses: Vec::new(),
            ask: Vec::new(),
            conditions: Vec::new(),
            unknown_model: None,
        }
    }

    /// The same with what stands beside the file laid over.
    pub(super) fn with(mut self, said: &Said) -> Self {
        if !said.responses.is_empty() {
            let known = std::mem::take(&mut self.responses);
            self.responses = said
                .responses
                .iter()
                .map(|name| {
                    let own = known.iter().find(|(known, ..)| known == name).cloned();
                    own.unwrap_or_else(|| (name.clone(), String::new(), None))
                })
                .collect();
        }
        for (name, wish) in &said.wishes {
            match self.responses.iter_mut().find(|(known, ..)| known == name) {
                Some((_, _, own)) => *own = Some(*wish),
                None => self.responses.push((name.clone(), String::new(), Some(*wish))),
            }
        }
        for name in &said.settings {
            if !self.settings.iter().any(|(known, _)| known == name) {
                self.settings.push((name.clone(), [None; 2]));
            }
        }
        if let Some(word) = &said.model {
            let known = MODELS.iter().find(|(known, _)| known == word);
            self.model = known.map(|(_, model)| *model);
            self.unknown_model = known.is_none().then(|| word.clone());
        }
        if said.equation.is_some() {
            self.equation.clone_from(&said.equation);
        }
        for (name, value) in &said.start {
            self.start.retain(|(known, _)| known != name);
            self.start.push((name.clone(), *value));
        }
        self.profile |= said.profile;
        self.grid |= said.grid;
        self
    }
}

/// Reads it.
///
/// # Errors
/// All that is wrong with the text.
pub(super) fn read(file: &str, text: &str) -> Result<(Asked, Data), Vec<Diagnostic>> {
    let table = parsed(file, text)?;
    let top = table.get_ref();
    let mut reader = Reader::new(file, text);
    let r = &mut reader;
    r.known_fields(top, "", &FIELDS);
    let data = data(r, top, text);
    let total = number(r, top, "", "total_percent", [0.001, 100.0]);
    let parts = ranged(r, top, "part", ["low_percent", "high_percent"]);
    let model = r.choice(top, "", "model", &MODELS.map(|(word, _)| word));
    let joined = r.choice(top, "", "joined", &JOINED.map(|(word, _)| word));
    let process = r.choice(top, "", "process", &PROCESS.map(|(word, _)| word));
    let conditions = conditions(r, top, parts.len(), total.unwrap_or(100.0));
    if !conditions.is_empty() && total.is_none() {
        r.missing(
            &(0..0),
            "",
            "total_percent",
            "write what the parts make together, so that least_percent has its meaning",
        );
    }
    let asked = Asked {
        title: r.string(top, "", "title").unwrap_or_default(),
        total,
        model: MODELS.iter().find(|(word, _)| model.as_deref() == Some(*word)).map(|(_, model)| *model),
        joined: JOINED
            .iter()
            .find(|(word, _)| joined.as_deref() == Some(*word))
            .map_or_else(Joined::default, |(_, one)| *one),
        process: PROCESS.iter().find(|(word, _)| process.as_deref() == Some(*word)).map(|(_, one)| *one),
        grid: r.bool(top, "", "grid").unwrap_or(false),
        confidence: confidence(r, top),
        starts: count(r, top, "starts", 1000.0).unwrap_or(USUAL_STARTS),
        seed: number(r, top, "", "seed", [0.0, 9e15]).map_or(1, seed),
        equation: r.string(top, "", "equation"),
        start: start(r, top),
        profile: r.bool(top, "", "profile").unwrap_or(false),
        settings: ranged(r, top, "setting", ["low", "high"]),
        responses: responses(r, top),
        ask: ask(r, top, text),
        parts,
        conditions,
        unknown_model: None,
    };
    finished(reader, Some((asked, data)))
}

fn seed(number: f64) -> u64 {
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "within bounds")]
    let seed = number as u64;
    seed
}

/// The nearest binary number of a decimal.
fn nearest(decimal: &Decimal) -> f64 {
    decimal.to_string().parse().unwrap_or(f64::NAN)
}

fn at(text: &str, span: &Range<usize>) -> (usize, usize) {
    place(text, span.start)
}

fn data(reader: &mut Reader<'_>, top: &DeTable<'_>, text: &str) -> Data {
    let columns = reader.strings(top, "", "columns");
    if !top.contains_key("columns") {
        reader.missing(
            &(0..0),
            "",
            "columns",
            "write columns = [\"x1\", \"x2\", \"viscosity\"]: one name for every number of a run",
        );
    }
    if let Some(twice) = columns.iter().enumerate().find(|(at, name)| columns[..*at].contains(name)) {
        reader.wrong(top, "", "columns", format!("{} stands here twice", twice.1), "name every column once");
    }
    if !top.contains_key("runs") {
        reader.missing(
            &(0..0),
            "",
            "runs",
            "write runs = [[0.2, 0.8, 4.1], [0.5, 0.5, 6.0]]: one row for every run",
        );
    }
    let rows = reader.rows(top, "", "runs", columns.len()).unwrap_or_default();
    let rows = rows.into_iter().zip(1..).map(|((span, cells), number)| DataRow {
        number,
        at: at(text, &span),
        cells: cells.iter().map(|cell| Typed::of(&cell.to_string())).collect(),
        check: false,
    });
    Data { rows: rows.collect(), columns }
}

pub(in crate::proof_file) fn ranged(
    reader: &mut Reader<'_>,
    top: &DeTable<'_>,
    key: &str,
    ends: [&str; 2],
) -> Vec<Ranged> {
    let mut found: Vec<Ranged> = Vec::new();
    for (place, (table, span)) in reader.tables(top, "", key).into_iter().enumerate() {
        let path = format!("{key} {}", place + 1);
        reader.known_fields(table, &path, &["name", ends[0], ends[1]]);
        let name = reader.required_string(table, &path, "name", &span, "write its name").unwrap_or_default();
        let range = ends.map(|end| number(reader, table, &path, end, [-1e9, 1e9]));
        if let [Some(low), Some(high)] = range
            && low > high
        {
            reader.wrong(
                table,
                &path,
                ends[1],
                format!("{high} is below the least of {low}"),
                "exchange the two",
            );
        }
        if found.iter().any(|(known, _)| *known == name) {
            reader.wrong(table, &path, "name", format!("{name} stands here twice"), "name every one once");
        }
        found.push((name, range));
    }
    found
}

fn responses(reader: &mut Reader<'_>, top: &DeTable<'_>) -> Vec<(String, String, Option<Wish>)> {
    let mut found = Vec::new();
    for (place, (table, span)) in reader.tables(top, "", "response").into_iter().enumerate() {
        let path = format!("response {}", place + 1);
        let fields = ["name", "unit", "wish", "low", "target", "high", "weight", "weight_above"];
        reader.known_fields(table, &path, &fields);
        let name = reader.required_string(table, &path, "name", &span, "write its name").unwrap_or_default();
        let unit = reader.string(table, &path, "unit").unwrap_or_default();
        found.push((name, unit, wish(reader, table, &path, &span)));
    }
    found
}

fn wish(reader: &mut Reader<'_>, table: &DeTable<'_>, path: &str, span: &Range<usize>) -> Option<Wish> {
    let word = reader.choice(table, path, "wish", &["larger", "smaller", "target"])?;
    let wanted: &[&str] = match word.as_str() {
        "larger" => &["low", "target"],
        "smaller" => &["target", "high"],
        _ => &["low", "target", "high"],
    };
    let mut ends = Vec::new();
    for key in wanted {
        if !table.contains_key(*key) {
            let what_now = "larger wants low and target, smaller target and high, target all three";
            reader.missing(span, path, key, what_now);
        }
        ends.extend(number(reader, table, path, key, [-1e12, 1e12]));
    }
    let weight = number(reader, table, path, "weight", [0.01, 100.0]).unwrap_or(1.0);
    let above = number(reader, table, path, "weight_above", [0.01, 100.0]).unwrap_or(weight);
    if ends.len() != wanted.len() {
        return None;
    }
    if ends.windows(2).any(|pair| pair[0] >= pair[1]) {
        let what = format!("{} do not rise: {ends:?}", wanted.join(", "));
        reader.wrong(table, path, "target", what, "write them in the order least, target, most");
        return None;
    }
    Some(match word.as_str() {
        "larger" => Wish::Larger { low: ends[0], target: ends[1], weight },
        "smaller" => Wish::Smaller { target: ends[0], high: ends[1], weight },
        _ => Wish::Target { low: ends[0], target: ends[1], high: ends[2], weights: [weight, above] },
    })
}

fn ask(reader: &mut Reader<'_>, top: &DeTable<'_>, text: &str) -> Vec<AskedAt> {
    let mut found = Vec::new();
    for (place, (table, span)) in reader.tables(top, "", "ask").into_iter().enumerate() {
        let path = format!("ask {}", place + 1);
        reader.known_fields(table, &path, &["levels", "measured"]);
        if !table.contains_key("levels") {
            reader.missing(
                &span,
                &path,
                "levels",
                "write levels = [0.4, 0.6]: one for every part, then every setting",
            );
        }
        let mut numbers = |key: &str| -> Vec<f64> {
            reader.numbers(table, &path, key).unwrap_or_default().iter().map(nearest).collect()
        };
        let (levels, measured) = (numbers("levels"), numbers("measured"));
        found.push((at(text, &span), levels, measured));
    }
    found
}

fn start(reader: &mut Reader<'_>, top: &DeTable<'_>) -> Vec<(String, f64)> {
    let Some((table, _)) = reader.table(top, "", "start") else { return Vec::new() };
    let names: Vec<String> = table.keys().map(|key| key.get_ref().to_string()).collect();
    names
        .into_iter()
        .filter_map(|name| Some((name.clone(), nearest(&reader.decimal(table, "start", &name)?))))
        .collect()
}
