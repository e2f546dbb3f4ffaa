//! The file of `design`.
//!
//! ```toml
//! title = "three thickeners"
//! total_percent = 1.4             # what the parts make together; 100, where it is left out
//! model = "quadratic"             # linear, special-cubic, full-cubic
//! runs = 10                       # three more than the model has terms, where it is left out
//! step_percent = 0.1              # of the grid that is chosen from; a twentieth of the total, where it is left out
//! starts = 10
//! seed = 1
//! plan = "lattice"                # centroid; chosen, where it is left out
//! steps = 2                       # of a lattice
//! goal = "predictions"            # what runs are chosen for: terms, where it is left out
//! middles = 3                     # the middle of the region, so often
//! repeats = 2                     # so many runs a second time
//! blocks = 2
//! [[part]]
//! name = "Xanthan gum"
//! low_percent = 0.1
//! high_percent = 0.8
//! [[setting]]                     # beside the blend, as in the file of analyse, with process and joined
//! name = "temperature"
//! low = 20
//! high = 40
//! [[keep]]                        # made whatever else is chosen
//! levels = [0.5, 0.5, 0.4, 20]
//! [[condition]]                   # the sum of factors times percent is at least so much
//! factors = [1, 0, -2]
//! least_percent = 0
//! ```

use super::analyse::question::{JOINED, PROCESS, ranged};
use super::as_a_whole;
use crate::diagnostic::Diagnostic;
use crate::flow_file::number;
use crate::making_file::finished;
use crate::toml_reader::{Reader, parsed};
use levigate_assess::blends::{Asked, BlendsError, Plan};
use levigate_measure::experiment::{Condition, Goal, Joined, Model, Process};
use rust_decimal::prelude::ToPrimitive;
use std::collections::BTreeSet;
use toml::de::DeTable;

/// `levigate schema design`.
pub const SCHEMA: &str = include_str!("design.schema.json");

const FIELDS: [&str; 19] = [
    "title",
    "total_percent",
    "model",
    "runs",
    "step_percent",
    "starts",
    "seed",
    "part",
    "condition",
    "plan",
    "steps",
    "goal",
    "setting",
    "process",
    "joined",
    "keep",
    "middles",
    "repeats",
    "blocks",
];
pub(crate) const GOALS: [(&str, Goal); 2] = [("terms", Goal::Terms), ("predictions", Goal::Predictions)];
pub(crate) const MODELS: [(&str, Model); 4] = [
    ("linear", Model::Linear),
    ("quadratic", Model::Quadratic),
    ("special-cubic", Model::SpecialCubic),
    ("full-cubic", Model::FullCubic),
];
/// Starts where nobody says how many.
pub(crate) const USUAL_STARTS: usize = 10;

/// Reads a question.
///
/// # Errors
/// All that is wrong with the text, each with its place.
pub fn read(file: &str, text: &str) -> Result<Asked, Vec<Diagnostic>> {
    let table = parsed(file, text)?;
    let top = table.get_ref();
    let mut reader = Reader::new(file, text);
    reader.known_fields(top, "", &FIELDS);
    let title = reader.string(top, "", "title").unwrap_or_default();
    let total_percent = number(&mut reader, top, "", "total_percent", [0.001, 100.0]).unwrap_or(100.0);
    let word = reader.choice(top, "", "model", &MODELS.map(|(word, _)| word));
    let model = MODELS
        .iter()
        .find(|(known, _)| word.as_deref() == Some(*known))
        .map_or(Model::Quadratic, |(_, model)| *model);
    let runs = count(&mut reader, top, "runs", 500.0);
    let step_percent = number(&mut reader, top, "", "step_percent", [0.000_1, 100.0]);
    let starts = count(&mut reader, top, "starts", 1000.0).unwrap_or(USUAL_STARTS);
    let seed = number(&mut reader, top, "", "seed", [0.0, 9e15]).and_then(|seed| seed.to_u64()).unwrap_or(1);
    let parts = parts(&mut reader, top, total_percent);
    let conditions = conditions(&mut reader, top, parts.len(), total_percent);
    let r = &mut reader;
    let plan = match r.choice(top, "", "plan", &["chosen", "lattice", "centroid"]).as_deref() {
        Some("lattice") => {
            let steps = count(r, top, "steps", 20.0).and_then(|steps| u32::try_from(steps).ok());
            Plan::Lattice(steps.unwrap_or(2))
        }
        Some("centroid") => Plan::Centroid,
        _ => Plan::Chosen,
    };
    let goal = r.choice(top, "", "goal", &GOALS.map(|(word, _)| word));
    let process = r.choice(top, "", "process", &PROCESS.map(|(word, _)| word));
    let joined = r.choice(top, "", "joined", &JOINED.map(|(word, _)| word));
    let settings: Vec<(String, [f64; 2])> = ranged(r, top, "setting", ["low", "high"])
        .into_iter()
        .map(|(name, ends)| {
            if ends.contains(&None) || ends[0] >= ends[1] {
                r.missing(&(0..0), &name, "low", "write low and high of the setting, low below high");
            }
            (name, ends.map(|end| end.unwrap_or(0.0)))
        })
        .collect();
    let kept = kept(r, top, &parts, total_percent, &settings);
    let mut few = |key: &str, most: f64| {
        number(r, top, "", key, [0.0, most]).and_then(|few| few.to_usize()).unwrap_or(0)
    };
    let (middles, repeats, blocks) =
        (few("middles", 50.0), few("repeats", 100.0), few("blocks", 20.0).max(1));
    let asked = Asked {
        title,
        parts,
        total_percent,
        conditions,
        model,
        settings,
        process: PROCESS
            .iter()
            .find(|(word, _)| process.as_deref() == Some(*word))
            .map_or(Process::Linear, |(_, one)| *one),
        joined: JOINED
            .iter()
            .find(|(word, _)| joined.as_deref() == Some(*word))
            .map_or(Joined::Added, |(_, one)| *one),
        plan,
        goal: GOALS
            .iter()
            .find(|(word, _)| goal.as_deref() == Some(*word))
            .map_or(Goal::Terms, |(_, one)| *one),
        runs,
        kept,
        middles,
        repeats,
        blocks,
        step_percent,
        starts,
        seed,
    };
    finished(reader, Some(asked))
}

/// `[[keep]]`: blends that are made anyway, with their settings.
fn kept(
    reader: &mut Reader<'_>,
    top: &DeTable<'_>,
    parts: &[(String, [f64; 2])],
    total: f64,
    settings: &[(String, [f64; 2])],
) -> Vec<Vec<f64>> {
    let width = parts.len() + settings.len();
    let mut found = Vec::new();
    for (place, (table, span)) in reader.tables(top, "", "keep").into_iter().enumerate() {
        let path = format!("keep {}", place + 1);
        reader.known_fields(table, &path, &["levels"]);
        let what_now =
            format!("write levels = [...]: {width} numbers, percent of every part, then the settings");
        if !table.contains_key("levels") {
            reader.missing(&span, &path, "levels", &what_now);
            continue;
        }
        let levels: Vec<f64> = reader
            .numbers(table, &path, "levels")
            .unwrap_or_default()
            .iter()
            .filter_map(ToPrimitive::to_f64)
            .collect();
        let sum: f64 = levels.iter().take(parts.len()).sum();
        if levels.len() != width {
            reader.wrong(table, &path, "levels", format!("{} levels stand here", levels.len()), &what_now);
        } else if (sum - total).abs() > 1e-6 * total {
            let what = format!("the parts add up to {sum}, not to {total}");
            reader.wrong(table, &path, "levels", what, "correct the levels");
        } else {
            let shares = levels[..parts.len()].iter().map(|percent| percent / sum);
            let coded = levels[parts.len()..]
                .iter()
                .zip(settings)
                .map(|(level, (_, [low, high]))| (2.0 * level - low - high) / (high - low));
            found.push(shares.chain(coded).collect());
        }
    }
    found
}

pub(super) fn count(reader: &mut Reader<'_>, top: &DeTable<'_>, key: &str, most: f64) -> Option<usize> {
    let found = number(reader, top, "", key, [1.0, most])?;
    if found.fract() != 0.0 {
        reader.wrong(top, "", key, format!("{key} is {found}"), "write a whole number");
    }
    found.to_usize()
}

fn parts(reader: &mut Reader<'_>, top: &DeTable<'_>, total: f64) -> Vec<(String, [f64; 2])> {
    let mut names = BTreeSet::new();
    let mut found = Vec::new();
    for (place, (table, span)) in reader.tables(top, "", "part").into_iter().enumerate() {
        let path = format!("part {}", place + 1);
        reader.known_fields(table, &path, &["name", "low_percent", "high_percent"]);
        let name = reader.required_string(table, &path, "name", &span, "write its name").unwrap_or_default();
        if !name.is_empty() && !names.insert(name.clone()) {
            reader.wrong(table, &path, "name", format!("{name} stands here twice"), "name every part once");
        }
        let low = number(reader, table, &path, "low_percent", [0.0, 100.0]).unwrap_or(0.0);
        let high = number(reader, table, &path, "high_percent", [0.0, 100.0]).unwrap_or(total);
        if low > high {
            reader.wrong(
                table,
                &path,
                "high_percent",
                format!("{high} is below the least of {low}"),
                "exchange the two",
            );
        }
        found.push((name, [low, high.min(total)]));
    }
    if found.len() < 2 {
        reader.missing(
            &(0..0),
            "",
            "part",
            "write [[part]] with name, low_percent and high_percent, two of them at least",
        );
    }
    found
}

pub(super) fn conditions(
    reader: &mut Reader<'_>,
    top: &DeTable<'_>,
    parts: usize,
    total: f64,
) -> Vec<Condition> {
    let mut found = Vec::new();
    for (place, (table, span)) in reader.tables(top, "", "condition").into_iter().enumerate() {
        let path = format!("condition {}", place + 1);
        reader.known_fields(table, &path, &["factors", "least_percent"]);
        if !table.contains_key("factors") {
            reader.missing(&span, &path, "factors", "write factors = [1, 0, -2]: one for every part");
        }
        let factors: Vec<f64> = reader
            .numbers(table, &path, "factors")
            .unwrap_or_default()
            .iter()
            .filter_map(ToPrimitive::to_f64)
            .collect();
        if table.contains_key("factors") && factors.len() != parts {
            reader.wrong(
                table,
                &path,
                "factors",
                format!("{} factors for {parts} parts", factors.len()),
                "write one for every part, in their order",
            );
            continue;
        }
        let least = number(reader, table, &path, "least_percent", [-1e4, 1e4]).unwrap_or(0.0);
        found.push(Condition { factors, least: least / total });
    }
    found
}

/// Why there is no plan, said of the file.
#[must_use]
pub fn refused(file: &str, text: &str, error: &BlendsError) -> Vec<Diagnostic> {
    let (what, hint) = match error {
        BlendsError::Region(error) => (error.to_string(), error.hint()),
        BlendsError::Choice(error) => (error.to_string(), error.hint()),
        BlendsError::Outside { percent } => {
            let shown: Vec<String> = percent.iter().map(|percent| format!("{percent:.3}")).collect();
            (
                format!("the blend {} % of the plan leaves the bounds", shown.join(", ")),
                "widen the bounds, or leave plan out and have the runs chosen within them",
            )
        }
    };
    as_a_whole((file, text), "part", what, hint)
}

/// A part without a line of its own in the formula of the runs.
pub(crate) fn no_line(file: &str, part: &str, lines: usize) -> Diagnostic {
    let what = match lines {
        0 => format!("no line of this formula is {part}"),
        1 => format!("the line of {part} is not in percent"),
        _ => format!("{lines} lines of this formula are {part}"),
    };
    Diagnostic {
        code: "no-line".to_owned(),
        file: file.to_owned(),
        line: 0,
        column: 0,
        field: String::new(),
        what,
        what_now: "give every part one line with percent, named as in the design".to_owned(),
        sheet_line: None,
    }
}

/// A formula that cannot be written.
pub(crate) fn unwritable(file: &str, error: &str) -> Diagnostic {
    Diagnostic {
        code: "unwritable".to_owned(),
        what: error.to_owned(),
        what_now: "correct the formula".to_owned(),
        ..no_line(file, "", 0)
    }
}
