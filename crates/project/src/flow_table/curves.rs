//! Rows of a table into points, points into curves. Whatever is left out is listed with its reason.

use super::grid::Grid;
use super::header::{Block, Column};
use super::number::{number, why_not};
use super::words::Meaning;
use super::{Choices, Direction, Fault, Ledger, MOST_CURVES, MeasuredCurve, MeasuredPoint, Spindle, sweeps};
use crate::records::DecimalSign;
use levigate_process::flow::spindle::DialReading;

/// Below this percent of full torque a reading of a spring instrument is coarse: common practice, no source.
const COARSE_PERCENT: f64 = 10.0;
/// Temperatures further apart than this are different curves, K.
const APART_K: f64 = 1.5;

/// Which columns make a curve.
#[derive(Clone, Debug)]
pub(super) struct Series {
    x: Column,
    y: Column,
    name: String,
}

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

fn above(block: &Block, names: &[&str]) -> Option<String> {
    let found = block.about.iter().rev().find(|(name, value)| {
        let name = super::words::plain_label(name);
        names.contains(&name.as_str()) && !value.is_empty()
    });
    found.map(|(_, value)| value.clone())
}

/// `25 °C`, `298.15 K`.
fn degrees(text: &str, sign: DecimalSign) -> Option<f64> {
    let end = text.find(|sign: char| !(sign.is_ascii_digit() || ".,-+".contains(sign))).unwrap_or(text.len());
    let value = number(&text[..end], sign)?;
    let unit = Meaning::Temperature.unit(text[end..].trim());
    Some(unit.map_or(value, |(unit, _)| unit.si(value)))
}

/// The pairs of columns that are curves.
fn series(grid: &Grid<'_>, sign: DecimalSign, block: &mut Block) -> Result<Vec<Series>, Fault> {
    put_repeats_aside(grid, block);
    put_empty_rates_aside(grid, sign, block);
    let of = |block: &Block, meaning: Meaning| -> Vec<usize> {
        (0..block.columns.len()).filter(|at| block.columns[*at].meaning == meaning).collect()
    };
    let rates = of(block, Meaning::ShearRate);
    let (xs, order) = if rates.is_empty() {
        (of(block, Meaning::Speed), [Meaning::Reading, Meaning::DialViscosity])
    } else {
        (rates, [Meaning::Stress, Meaning::Viscosity])
    };
    let line = block.header.map_or(0, |row| grid.line(row));
    let ys = order.map(|meaning| of(block, meaning)).into_iter().find(|found| !found.is_empty());
    let (Some(ys), false) = (ys, xs.is_empty()) else {
        return Err(Fault::new(
            "no-flow-curve",
            "the columns that are left make no flow curve: a shear rate with a stress or viscosity is needed",
            "say which column holds what, as name=meaning:unit",
        )
        .on(line));
    };
    let names: Vec<String> =
        xs.iter().chain(&ys).map(|at| format!("\"{}\"", block.columns[*at].name)).collect();
    let pairs: Vec<(usize, usize)> = match (xs.len(), ys.len()) {
        (1, _) => ys.iter().map(|y| (xs[0], *y)).collect(),
        (x, y) if x == y && side_by_side(&xs, &ys) => xs.iter().copied().zip(ys.iter().copied()).collect(),
        _ => {
            return Err(Fault::new(
                "duplicate-column",
                format!("which columns belong together cannot be told: {}", names.join(", ")),
                "say which of them are not used: NAME=unused, or #3=unused for the third column",
            )
            .on(line));
        }
    };
    let many = pairs.len() > 1;
    if many {
        for at in xs.iter().chain(&ys) {
            block.columns[*at].doubt(format!("there are {} curves beside one another", pairs.len()));
        }
    }
    Ok(pairs
        .into_iter()
        .enumerate()
        .map(|(number, (x, y))| Series {
            x: block.columns[x].clone(),
            y: block.columns[y].clone(),
            name: if many { series_name(grid, block, x, y, xs.len() == 1, number) } else { String::new() },
        })
        .collect())
}

fn side_by_side(xs: &[usize], ys: &[usize]) -> bool {
    let first_x = xs.iter().zip(ys).all(|(x, y)| x < y) && xs.iter().skip(1).zip(ys).all(|(x, y)| y < x);
    let first_y = xs.iter().zip(ys).all(|(x, y)| y < x) && ys.iter().skip(1).zip(xs).all(|(y, x)| x < y);
    first_x || first_y
}

/// What tells curves side by side apart: the name above the pair, the name of the column, else a number.
fn series_name(grid: &Grid<'_>, block: &Block, x: usize, y: usize, one_rate: bool, number: usize) -> String {
    let (x, y) = (&block.columns[x], &block.columns[y]);
    if one_rate {
        return y.name.clone();
    }
    let from = x.at.min(y.at);
    let above =
        block.header.and_then(|row| row.checked_sub(1)).map(|row| grid.cell(row, from).trim().to_owned());
    above.filter(|name| !name.is_empty()).unwrap_or_else(|| format!("curve {}", number + 1))
}

/// A column that says the same as one before it is not used.
fn put_repeats_aside(grid: &Grid<'_>, block: &mut Block) {
    let [first, end] = block.rows;
    for later in 1..block.columns.len() {
        let repeats = (0..later).find(|earlier| {
            let (a, b) = (&block.columns[*earlier], &block.columns[later]);
            a.meaning == b.meaning
                && a.meaning != Meaning::Unused
                && a.unit.map(|unit| unit.symbol) == b.unit.map(|unit| unit.symbol)
                && (first..end).all(|row| grid.cell(row, a.at) == grid.cell(row, b.at))
        });
        if let Some(earlier) = repeats {
            let why = format!("it says the same as column {}", block.columns[earlier].at + 1);
            block.columns[later].put_aside(why);
        }
    }
}

/// Spindle instruments write zeros where they know no shear rate.
fn put_empty_rates_aside(grid: &Grid<'_>, sign: DecimalSign, block: &mut Block) {
    let [first, end] = block.rows;
    if !block.columns.iter().any(|column| column.meaning == Meaning::Speed) {
        return;
    }
    let mut empty = 0;
    for column in block.columns.iter_mut().filter(|column| column.meaning == Meaning::ShearRate) {
        if (first..end).all(|row| number(grid.cell(row, column.at), sign).is_none_or(|value| value == 0.0)) {
            column.put_aside(
                "it holds no number above zero: the instrument does not know the shear rate of this spindle"
                    .to_owned(),
            );
            empty += 1;
        }
    }
    if empty > 0 {
        for column in block.columns.iter_mut().filter(|column| column.meaning == Meaning::Viscosity) {
            column.meaning = Meaning::DialViscosity;
        }
    }
}

/// Where shear rate, stress and viscosity are all there, they must agree; where the unit of the viscosity is not written, they give it.
fn agree(grid: &Grid<'_>, sign: DecimalSign, block: &mut Block, ledger: &mut Ledger) {
    let of = |meaning: Meaning| block.columns.iter().position(|column| column.meaning == meaning);
    let (Some(rate), Some(stress), Some(viscosity)) =
        (of(Meaning::ShearRate), of(Meaning::Stress), of(Meaning::Viscosity))
    else {
        return;
    };
    let [first, end] = block.rows;
    let value = |row: usize, at: usize| {
        let column = &block.columns[at];
        number(grid.cell(row, column.at), sign).map(|value| column.si(value)).filter(|value| *value > 0.0)
    };
    let mut shares: Vec<f64> = (first..end)
        .take(1000)
        .filter_map(|row| Some(value(row, stress)? / (value(row, rate)? * value(row, viscosity)?)))
        .collect();
    shares.sort_by(f64::total_cmp);
    let Some(middle) = shares.get(shares.len() / 2).copied() else { return };
    let near = |value: f64| (middle / value - 1.0).abs() < 0.05;
    if near(1.0) {
        let column = &mut block.columns[viscosity];
        if !column.has_written_unit()
            && let Some(unit) = column.unit
        {
            column.take_unit(unit, "stress over shear rate agrees".to_owned(), true);
        }
        return;
    }
    let column = &mut block.columns[viscosity];
    if !column.has_written_unit()
        && let Some(unit) = Meaning::Viscosity.units().iter().find(|unit| near(unit.factor))
    {
        column.take_unit(
            unit,
            format!("no unit is written; stress over shear rate gives {}", unit.symbol),
            true,
        );
        return;
    }
    ledger.confirm(format!(
        "stress over shear rate is {middle:.4} times the viscosity of the file: one of the units is not what is written, or the viscosity is \
         not of these columns; the stress was taken",
    ));
    for at in [stress, viscosity] {
        block.columns[at].doubt("stress, shear rate and viscosity do not agree".to_owned());
    }
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
fn put_counters_aside(grid: &Grid<'_>, block: &mut Block, series: &[Series]) {
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
    texts: [&str; 2],
    sign: DecimalSign,
    line: usize,
    ledger: &mut Ledger,
) -> Option<(f64, f64)> {
    let mut values = [0.0; 2];
    for ((value, text), column) in values.iter_mut().zip(texts).zip([&series.x, &series.y]) {
        let Some(found) = number(text, sign) else {
            ledger.leave_out(line, column, text, why_not(text, sign));
            return None;
        };
        let si = column.si(found);
        if si <= 0.0 {
            let why = if si == 0.0 {
                "a logarithm needs a value above zero; at rest there is no point of a flow curve"
            } else {
                "a sign means the direction of turning or a drifted zero; a flow curve has values above zero"
            };
            ledger.leave_out(line, column, text, why.to_owned());
            return None;
        }
        if !si.is_finite() || !(1e-30..1e30).contains(&si) {
            ledger.leave_out(line, column, text, "no instrument measures that".to_owned());
            return None;
        }
        if column.meaning == Meaning::Reading && si > 100.0 {
            ledger.leave_out(line, column, text, "the reading lies above full torque".to_owned());
            return None;
        }
        *value = si;
    }
    Some((values[0], values[1]))
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

/// Points in SI: as measured, or turned from readings of a spindle.
fn flow_points(
    series: &Series,
    points: Vec<Raw>,
    spindle: Option<&Spindle>,
    ledger: &mut Ledger,
) -> Result<Vec<MeasuredPoint>, Fault> {
    if series.x.meaning != Meaning::Speed {
        let viscosity = series.y.meaning == Meaning::Viscosity;
        return Ok(points
            .into_iter()
            .map(|Raw { line, x, y, typed, .. }| MeasuredPoint {
                line,
                shear_rate: x,
                stress: if viscosity { x * y } else { y },
                typed,
            })
            .collect());
    }
    let Some(Spindle { disc, torque_n_m }) = spindle else {
        return Err(Fault::new(
            "spindle-not-said",
            "speeds and readings of a spindle are no flow curve until the spindle is known",
            "say the spindle by the diameter of its disc and the full-scale torque of the instrument",
        ));
    };
    let percent = |x: f64, y: f64| match series.y.meaning {
        Meaning::Reading => y,
        _ => 100.0 * y * x * disc.reference_torque_n_m / (disc.full_scale_pa_s_rpm * torque_n_m),
    };
    let mut sorted: Vec<(Raw, f64, usize)> = Vec::new();
    for point in points {
        let reading = percent(point.x, point.y);
        if reading > 100.0 {
            let why =
                format!("it would be {reading:.0} % of full torque with this spindle; is it the right one?");
            ledger.leave_out(point.line, &series.y, &point.typed[1], why);
            continue;
        }
        match sorted.iter_mut().find(|(known, _, _)| known.x == point.x) {
            Some((_, sum, count)) => {
                *sum += reading;
                *count += 1;
            }
            None => sorted.push((point, reading, 1)),
        }
    }
    sorted.sort_by(|a, b| a.0.x.total_cmp(&b.0.x));
    let readings: Vec<DialReading> = sorted
        .iter()
        .map(|(point, sum, count)| DialReading { rpm: point.x, percent: sum / *count as f64 })
        .collect();
    if sorted.iter().any(|(_, _, count)| *count > 1) {
        ledger.note("Readings at the same speed were averaged.".to_owned());
    }
    let coarse = readings.iter().filter(|reading| reading.percent < COARSE_PERCENT).count();
    if coarse > 0 {
        ledger.note(format!(
            "{coarse} readings lie below {COARSE_PERCENT} % of full torque, where a spring instrument is coarse; they were kept."
        ));
    }
    let turned = disc
        .flow_points(&readings, *torque_n_m)
        .map_err(|error| Fault::new("no-curve", error.to_string(), error.hint()))?;
    let held = turned.iter().filter(|point| point.held).count();
    if held > 0 {
        ledger.note(format!(
            "At {held} speeds the slope lies outside 0.1 to 1, where the conversion is tabled; its end was taken."
        ));
    }
    Ok(sorted
        .into_iter()
        .zip(turned)
        .map(|((raw, _, _), point)| MeasuredPoint {
            line: raw.line,
            shear_rate: point.shear_rate,
            stress: point.stress_pa,
            typed: raw.typed,
        })
        .collect())
}
