//! What the models of an experiment say across three parts or two axes, as one figure with its table: the same for a page and for a file.

use crate::figure::{AlongFigure, ContourAxis, ContourFigure, ContourMark, Rendition, Table};
use levigate_project::workbench::experiments::SeenSurface;

/// A figure with its words.
#[derive(Clone, Debug, PartialEq)]
pub struct Sighted {
    /// Name that is unique on the page.
    pub id: String,
    /// What it shows.
    pub title: String,
    /// In words.
    pub caption: String,
    /// The figure.
    pub svg: String,
    /// Its numbers.
    pub table: Table,
    /// Whether it lies across a plane; else it runs along one axis.
    pub plane: bool,
}

/// Digits of a level in a table.
const DIGITS: usize = 3;

/// Draws what is seen, as it follows the page.
#[must_use]
pub fn sighted(id: &str, of: &SeenSurface) -> Sighted {
    drawn(id, of, Rendition::Screen)
}

/// Draws what is seen.
#[must_use]
pub fn drawn(id: &str, of: &SeenSurface, rendition: Rendition) -> Sighted {
    let seen = &of.seen;
    let axes: Vec<ContourAxis> = seen
        .along
        .iter()
        .map(|along| ContourAxis {
            name: along.name.clone(),
            unit: of.labels.get(along.place).map(|(_, unit)| unit.clone()).unwrap_or_default(),
            low: along.low,
            high: along.high,
        })
        .collect();
    let names: Vec<&str> = axes.iter().map(|axis| axis.name.as_str()).collect();
    let title = match names[..] {
        [one] => format!("{} along {one}", of.name),
        [one, other] => format!("{} across {one} and {other}", of.name),
        _ => format!("{} across {}", of.name, names.join(", ")),
    };
    let table = table_of(&title, of);
    let caption = caption_of(of);
    if axes.len() == 1 {
        let axis = axes.into_iter().next().unwrap_or_else(|| ContourAxis {
            name: String::new(),
            unit: String::new(),
            low: 0.0,
            high: 1.0,
        });
        let level = |x: f64| axis.low + x * (axis.high - axis.low);
        let says = |says: &[(f64, [f64; 2])], worth: Option<f64>| match of.place {
            Some(place) => says.get(place).copied().unwrap_or((f64::NAN, [f64::NAN; 2])),
            None => (worth.unwrap_or(f64::NAN), [f64::NAN; 2]),
        };
        let mut points: Vec<(f64, f64, [f64; 2])> = seen
            .points
            .iter()
            .map(|point| {
                let (mean, away) = says(&point.says, point.worth);
                (level(point.at[0]), mean, away)
            })
            .collect();
        points.sort_by(|one, other| one.0.total_cmp(&other.0));
        let runs = of.runs.iter().filter_map(|run| Some((level(run.at[0]), run.value?)));
        let figure = AlongFigure {
            id: id.to_owned(),
            title: title.clone(),
            name: of.name.clone(),
            unit: of.unit.clone(),
            runs: runs.collect(),
            points,
            axis,
        };
        let svg = figure.svg(rendition);
        return Sighted { id: id.to_owned(), title, caption, svg, table, plane: false };
    }
    let figure = ContourFigure {
        id: id.to_owned(),
        title: title.clone(),
        name: of.name.clone(),
        unit: of.unit.clone(),
        outline: seen.outline.clone(),
        mesh: seen.mesh.clone(),
        heights: match of.place {
            Some(place) => seen.means.get(place).cloned().unwrap_or_default(),
            None => seen.worths.clone(),
        },
        marks: marks(of),
        best: of.best,
        points: seen.points.iter().map(|point| point.at).collect(),
        table: table.clone(),
        axes,
    };
    let svg = figure.svg(rendition);
    Sighted { id: id.to_owned(), title, caption, svg, table, plane: true }
}

/// Runs, those of one blend with one mark.
fn marks(of: &SeenSurface) -> Vec<ContourMark> {
    let mut marks: Vec<(ContourMark, Vec<String>)> = Vec::new();
    for run in &of.runs {
        let words = match run.value {
            Some(value) => shown(value),
            None if of.place.is_some() => "not read".to_owned(),
            None => run.run.clone(),
        };
        let near = |mark: &ContourMark| {
            (mark.at[0] - run.at[0]).abs() < 1e-4 && (mark.at[1] - run.at[1]).abs() < 1e-4
        };
        match marks.iter_mut().find(|(mark, _)| near(mark)) {
            Some((_, told)) => told.push(words),
            None => marks.push((ContourMark { at: run.at, words: String::new() }, vec![words])),
        }
    }
    marks.into_iter().map(|(mark, told)| ContourMark { words: told.join("; "), ..mark }).collect()
}

fn shown(value: f64) -> String {
    let digits = match value.abs() {
        size if size >= 1000.0 => 0,
        size if size >= 100.0 => 1,
        size if size >= 10.0 => 2,
        _ => 3,
    };
    let text = format!("{value:.digits$}");
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

fn caption_of(of: &SeenSurface) -> String {
    let mut words = String::new();
    let held: Vec<String> = of
        .seen
        .held
        .iter()
        .filter_map(|(place, level)| {
            let (name, unit) = of.labels.get(*place)?;
            Some(format!("{name} {}{}{unit}", shown(*level), if unit.is_empty() { "" } else { " " }))
        })
        .collect();
    if !held.is_empty() {
        words.push_str(&format!("Held: {}. ", held.join(", ")));
    }
    if of.seen.means.is_empty() && of.place.is_none() && of.seen.worths.is_empty() {
        words.push_str("The shaded region keeps all least and most; rings are the runs, with their numbers.");
        return words;
    }
    words.push_str(if of.place.is_some() {
        "Lines are means by the model, darker is more; rings are runs in this cut with what was read of them."
    } else {
        "0: one wish is not met at all; 1: all are met in full. Rings are runs in this cut with their numbers."
    });
    words
}

/// Levels of what is varied, what the model says, its limits.
fn table_of(title: &str, of: &SeenSurface) -> Table {
    let seen = &of.seen;
    let with =
        |name: &str, unit: &str| if unit.is_empty() { name.to_owned() } else { format!("{name}, {unit}") };
    let label = |place: usize| of.labels.get(place).map(|(name, unit)| with(name, unit)).unwrap_or_default();
    let mut head: Vec<String> = seen.along.iter().map(|along| label(along.place)).collect();
    // Of two parts the second is what the first leaves.
    let follows = (of.parts == 2 && seen.along.iter().any(|along| along.place == 0)).then_some(1);
    head.extend(follows.map(label));
    head.push(with(&of.name, &of.unit));
    if of.place.is_some() {
        let limits = ["Mean from", "Mean to", "Next batch from", "Next batch to"];
        head.extend(limits.map(|name| with(name, &of.unit)));
    }
    let level = |value: f64| if value.is_finite() { format!("{value:.DIGITS$}") } else { String::new() };
    let number =
        |value: f64| if value.is_finite() { shown(value).replace('-', "\u{2212}") } else { String::new() };
    let rows = seen.points.iter().map(|point| {
        let varied = seen.along.iter().map(|along| along.place).chain(follows);
        let mut row: Vec<String> =
            varied.map(|place| level(point.levels.get(place).copied().unwrap_or(f64::NAN))).collect();
        match of.place.and_then(|place| point.says.get(place)) {
            Some((mean, [own, next])) => {
                row.push(number(*mean));
                row.extend([mean - own, mean + own, mean - next, mean + next].map(number));
            }
            None => row.push(number(point.worth.unwrap_or(f64::NAN))),
        }
        row
    });
    let mut table = Table { caption: title.to_owned(), head, rows: rows.collect() };
    if seen.points.is_empty() {
        table = runs_table(title, of);
    }
    table
}

/// Where no model speaks yet the runs are the numbers.
fn runs_table(title: &str, of: &SeenSurface) -> Table {
    let axes = &of.seen.along;
    let head = ["Run".to_owned()]
        .into_iter()
        .chain(axes.iter().map(|along| format!("{}, % w/w", along.name)))
        .collect();
    const HIGH: f64 = 0.866_025_403_784_438_6;
    let rows = of.runs.iter().map(|run| {
        let up = run.at[1] / HIGH;
        let right = run.at[0] - 0.5 * up;
        let shares = [up, 1.0 - up - right, right];
        let levels = axes
            .iter()
            .zip(shares)
            .map(|(along, share)| format!("{:.DIGITS$}", along.low + share * (along.high - along.low)));
        [run.run.clone()].into_iter().chain(levels).collect()
    });
    Table { caption: title.to_owned(), head, rows: rows.collect() }
}
