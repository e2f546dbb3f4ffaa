//! Rows of a table into points, points into curves. Whatever is left out is listed with its reason.

use super::grid::Grid;
use super::header::{Block, Column};
use super::ledger::{Fault, Ledger};
use super::number::{number, why_not};
use super::series::{Series, agree, series};
use super::turned::flow_points;
use super::units::Meaning;
use super::{Choices, Direction, MOST_CURVES, MeasuredCurve, Spindle, sweeps};
use crate::records::DecimalSign;

/// Temperatures further apart than this are different curves, K.
const APART_K: f64 = 1.5;

/// A point on its way.
#[derive(Clone, Debug)]
pub(super) struct Raw {
    pub(super) line: usize,
    pub(super) x: f64,
    pub(super) y: f64,
    pub(super) typed: [Box<str>; 2],
    temperature_c: Option<f64>,
}

struct Group {
    key: (usize, String, String),
    points: Vec<Raw>,
}

/// The curves of one table.
pub(super) fn curves(
    grid: &Grid<'_>,
    sign: DecimalSign,
    block: &mut Block,
    choices: &Choices,
    spindle: Option<&Spindle>,
    ledger: &mut Ledger,
) -> Result<Vec<MeasuredCurve>, Fault> {
    let series = series(grid, sign, block)?;
    agree(grid, sign, block, ledger);
    let groups = groups(grid, sign, block, &series, choices, ledger)?;
    let sample_above =
        above(block, &["sample", "sample name", "probe", "name", "test", "echantillon", "muestra"]);
    let temperature_above =
        above(block, &["temperature", "temperatur", "temp", "t"]).and_then(|text| degrees(&text, sign));
    let mut curves = Vec::new();
    for Group { key: (at, sample, direction), points } in groups {
        let series = &series[at];
        let parts = temperatures(points);
        let several = parts.len() > 1;
        for (temperature, points) in parts {
            let of_file =
                if sample.is_empty() { sample_above.clone().unwrap_or_default() } else { sample.clone() };
            let temperature = temperature.or(temperature_above);
            let mut name: Vec<String> =
                [of_file.clone(), series.name.clone()].into_iter().filter(|part| !part.is_empty()).collect();
            if let (true, Some(temperature)) = (several, temperature) {
                name.push(format!("{temperature:.0} °C"));
            }
            if !direction.is_empty() {
                name.push(direction.clone());
            }
            let said = Direction::of_words(&direction);
            let sweeps = if said.is_none() && choices.split_sweeps {
                sweeps::parted(points)
            } else {
                vec![(None, points)]
            };
            let many = sweeps.len() > 1;
            if many {
                ledger.confirm(format!(
                    "{}: the shear rates turn, so it was read as {} sweeps; say so if they belong together",
                    name.first().map_or("the curve", String::as_str),
                    sweeps.len()
                ));
            }
            for (number, (found, points)) in sweeps.into_iter().enumerate() {
                let mut name = name.clone();
                let direction = said.or(found);
                if many {
                    name.push(format!("{} {}", direction.map_or("sweep", Direction::words), number / 2 + 1));
                }
                let points = flow_points(series, points, spindle, ledger)?;
                curves.push(MeasuredCurve {
                    name: name.join(", "),
                    sample: of_file.clone(),
                    temperature_c: temperature,
                    direction,
                    columns: [series.x.name.clone(), series.y.name.clone()],
                    units: [&series.x, &series.y].map(|column| column.unit.map_or("", |unit| unit.symbol)),
                    meanings: [series.x.meaning, series.y.meaning],
                    points,
                });
                if curves.len() > MOST_CURVES {
                    return Err(Fault::new(
                        "too-many-curves",
                        format!("there are more than {MOST_CURVES} curves in this file"),
                        "look whether a column of running numbers was taken for the name of the sample; say --column NAME=unused",
                    ));
                }
            }
        }
    }
    Ok(curves)
}

pub(super) fn above(block: &Block, names: &[&str]) -> Option<String> {
    let found = block.about.iter().rev().find(|(name, value)| {
        let name = super::words::plain_label(name);
        names.contains(&name.as_str()) && !value.is_empty()
    });
    found.map(|(_, value)| value.clone())
}

/// `25 °C`, `298.15 K`.
pub(super) fn degrees(text: &str, sign: DecimalSign) -> Option<f64> {
    let end = text.find(|sign: char| !(sign.is_ascii_digit() || ".,-+".contains(sign))).unwrap_or(text.len());
    let value = number(&text[..end], sign)?;
    let unit = Meaning::Temperature.unit(text[end..].trim());
    Some(unit.map_or(value, |(unit, _)| unit.si(value)))
}

fn groups(
    grid: &Grid<'_>,
    sign: DecimalSign,
    block: &mut Block,
    series: &[Series],
    choices: &Choices,
    ledger: &mut Ledger,
) -> Result<Vec<Group>, Fault> {
    let [first, end] = block.rows;
    put_counters_aside(grid, block, series);
    let of = |meaning: Meaning| block.columns.iter().find(|column| column.meaning == meaning);
    let samples: Vec<&Column> =
        block.columns.iter().filter(|column| column.meaning == Meaning::Sample).collect();
    let (direction, temperature) = (of(Meaning::Direction), of(Meaning::Temperature));
    let floor = choices.torque_floor.as_ref().map(|floor| floor.column(&block.columns)).transpose()?;
    let mut groups: Vec<Group> = Vec::new();
    let mut last = 0;
    for row in first..end {
        let cells = grid.row(row);
        let line = grid.line(row);
        let blank = |at: usize| cells.get(at).is_none_or(|cell| cell.is_empty());
        if series.iter().all(|series| blank(series.x.at) && blank(series.y.at))
            || !cells.iter().any(|cell| super::number::looks_numeric(cell))
        {
            ledger.remark(line, cells);
            continue;
        }
        let text = |column: &Column| grid.cell(row, column.at);
        let below = floor.as_ref().and_then(|(column, least)| {
            let value = column.si(number(text(column), sign)?);
            (value < *least).then_some(*column)
        });
        if let Some(column) = below {
            ledger.leave_out(
                line,
                column,
                text(column),
                "it lies below the torque you set as the least".to_owned(),
            );
            continue;
        }
        for (at, of_series) in series.iter().enumerate() {
            if series.len() > 1 && blank(of_series.x.at) && blank(of_series.y.at)
                || series.len() > 1 && blank(of_series.y.at)
            {
                continue;
            }
            let Some((x, y)) = pair(of_series, [text(&of_series.x), text(&of_series.y)], sign, line, ledger)
            else {
                continue;
            };
            let sample = samples
                .iter()
                .map(|column| text(column))
                .filter(|text| !text.is_empty())
                .collect::<Vec<_>>()
                .join(", ");
            let key = (at, sample, direction.map_or("", text).to_owned());
            if groups.get(last).is_none_or(|group| group.key != key) {
                last = match groups.iter().position(|group| group.key == key) {
                    Some(place) => place,
                    None if groups.len() >= 4 * MOST_CURVES => {
                        return Err(Fault::new(
                            "too-many-curves",
                            format!("there are more than {MOST_CURVES} curves in this file"),
                            "look whether a column of running numbers was taken for the name of the sample: say NAME=unused",
                        ));
                    }
                    None => {
                        groups.push(Group { key, points: Vec::new() });
                        groups.len() - 1
                    }
                };
            }
            let temperature =
                temperature.and_then(|column| number(text(column), sign).map(|value| column.si(value)));
            groups[last].points.push(Raw {
                line,
                x,
                y,
                typed: [text(&of_series.x).into(), text(&of_series.y).into()],
                temperature_c: temperature,
            });
        }
    }
    Ok(groups)
}

/// A column of names with a new one in most rows counts points and names no sample.
pub(super) fn put_counters_aside(grid: &Grid<'_>, block: &mut Block, series: &[Series]) {
    let [first, end] = block.rows;
    let rows: Vec<usize> = (first..end)
        .filter(|row| series.iter().any(|series| !grid.cell(*row, series.x.at).is_empty()))
        .take(3000)
        .collect();
    for column in block.columns.iter_mut().filter(|column| column.meaning == Meaning::Sample) {
        let mut names: Vec<&str> = rows.iter().map(|row| grid.cell(*row, column.at)).collect();
        names.sort_unstable();
        names.dedup();
        if names.len() > 2 && names.len() * 2 > rows.len() {
            column.put_aside("it has another value in most rows: it counts points".to_owned());
        }
    }
}

/// Both values of a row in SI; `None` and an entry in the ledger where one cannot be.
fn pair(
    series: &Series,
    [x, y]: [&str; 2],
    sign: DecimalSign,
    line: usize,
    ledger: &mut Ledger,
) -> Option<(f64, f64)> {
    let x = positive(&series.x, x, sign, line, ledger)?;
    Some((x, positive(&series.y, y, sign, line, ledger)?))
}

/// A value of a column in SI; `None` and an entry in the ledger where it cannot be one of a flowing liquid.
pub(super) fn positive(
    column: &Column,
    text: &str,
    sign: DecimalSign,
    line: usize,
    ledger: &mut Ledger,
) -> Option<f64> {
    let Some(found) = number(text, sign) else {
        ledger.leave_out(line, column, text, why_not(text, sign));
        return None;
    };
    let si = column.si(found);
    let why = if si == 0.0 {
        "a logarithm needs a value above zero; at rest there is no point of a flow curve"
    } else if si < 0.0 {
        "a sign means the direction of turning or a drifted zero; a flow curve has values above zero"
    } else if !si.is_finite() || !(1e-30..1e30).contains(&si) {
        "no instrument measures that"
    } else if column.meaning == Meaning::Reading && si > 100.0 {
        "the reading lies above full torque"
    } else {
        return Some(si);
    };
    ledger.leave_out(line, column, text, why.to_owned());
    None
}

/// Points parted by temperature, where the temperatures fall apart into a few with three points or more each.
fn temperatures(points: Vec<Raw>) -> Vec<(Option<f64>, Vec<Raw>)> {
    let mut known: Vec<f64> = points.iter().filter_map(|point| point.temperature_c).collect();
    let mean =
        |values: &[f64]| (!values.is_empty()).then(|| values.iter().sum::<f64>() / values.len() as f64);
    if known.len() < points.len() {
        return vec![(mean(&known), points)];
    }
    known.sort_by(f64::total_cmp);
    let mut edges: Vec<(f64, usize)> = Vec::new();
    let mut start = 0;
    for at in 1..=known.len() {
        if at == known.len() || known[at] - known[at - 1] > APART_K {
            edges.push((known[at - 1], at - start));
            start = at;
        }
    }
    if edges.len() < 2 || edges.len() > 24 || edges.iter().any(|(_, count)| *count < 3) {
        return vec![(mean(&known), points)];
    }
    let mut parts: Vec<(Vec<f64>, Vec<Raw>)> = vec![Default::default(); edges.len()];
    let mut order: Vec<usize> = Vec::new();
    for point in points {
        let temperature = point.temperature_c.unwrap_or_default();
        let at = edges.iter().position(|(upper, _)| temperature <= *upper).unwrap_or(edges.len() - 1);
        if !order.contains(&at) {
            order.push(at);
        }
        parts[at].0.push(temperature);
        parts[at].1.push(point);
    }
    order
        .into_iter()
        .map(|at| {
            let (temperatures, points) = std::mem::take(&mut parts[at]);
            (mean(&temperatures), points)
        })
        .collect()
}
