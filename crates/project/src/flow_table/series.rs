//! Which columns of a table make a curve, and whether they agree.

use super::grid::Grid;
use super::header::{Block, Column};
use super::ledger::{Fault, Ledger};
use super::number::number;
use super::units::Meaning;
use crate::records::DecimalSign;

/// Which columns make a curve.
#[derive(Clone, Debug)]
pub(super) struct Series {
    pub(super) x: Column,
    pub(super) y: Column,
    pub(super) name: String,
}

/// The pairs of columns that are curves.
pub(super) fn series(grid: &Grid<'_>, sign: DecimalSign, block: &mut Block) -> Result<Vec<Series>, Fault> {
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
pub(super) fn put_repeats_aside(grid: &Grid<'_>, block: &mut Block) {
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
pub(super) fn put_empty_rates_aside(grid: &Grid<'_>, sign: DecimalSign, block: &mut Block) {
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
pub(super) fn agree(grid: &Grid<'_>, sign: DecimalSign, block: &mut Block, ledger: &mut Ledger) {
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
