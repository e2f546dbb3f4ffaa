//! Finds the header lines of a table and what their columns mean.

use super::grid::Grid;
use super::number::{clock, looks_numeric};
use super::units::{Meaning, Unit, is_no_unit, is_unit};
use super::words::{meaning_of, parted};
use super::{Choices, Fault, Understood};

/// Cells of what stands above a table that are kept.
const MOST_ABOUT: usize = 60;

/// A column of a table.
#[derive(Clone, Debug)]
pub(super) struct Column {
    /// Place, from 0.
    pub(super) at: usize,
    /// Name as found.
    pub(super) name: String,
    /// What it holds.
    pub(super) meaning: Meaning,
    /// Its unit; none where the meaning has none.
    pub(super) unit: Option<&'static Unit>,
    written_unit: Option<String>,
    why: Vec<String>,
    pub(super) sure: bool,
}

impl Column {
    /// What is said back about it.
    pub(super) fn understood(&self) -> Understood {
        Understood {
            column: self.at + 1,
            name: self.name.clone(),
            meaning: self.meaning,
            words: self.meaning.words(),
            unit: self.unit.map_or_else(String::new, |unit| unit.symbol.to_owned()),
            factor: self.unit.map(|unit| unit.factor),
            why: self.why.join("; "),
            sure: self.sure,
        }
    }

    /// A value of it in SI.
    pub(super) fn si(&self, value: f64) -> f64 {
        self.unit.map_or(value, |unit| unit.si(value))
    }

    /// Takes another unit and says why.
    pub(super) fn take_unit(&mut self, unit: &'static Unit, why: String, sure: bool) {
        self.unit = Some(unit);
        self.why.push(why);
        self.sure = sure;
    }

    /// Leaves it out of use and says why.
    pub(super) fn put_aside(&mut self, why: String) {
        self.meaning = Meaning::Unused;
        self.unit = None;
        self.why.push(why);
    }

    /// Whether its unit was found, not assumed.
    pub(super) fn has_written_unit(&self) -> bool {
        self.written_unit.is_some()
    }

    pub(super) fn doubt(&mut self, why: String) {
        self.why.push(why);
        self.sure = false;
    }
}

/// A table under one header.
#[derive(Clone, Debug)]
pub(super) struct Block {
    /// Its columns.
    pub(super) columns: Vec<Column>,
    /// Row of the header in the grid, where there is one.
    pub(super) header: Option<usize>,
    /// First row of the table and one past the last.
    pub(super) rows: [usize; 2],
    /// What stands above it: name and value.
    pub(super) about: Vec<(String, String)>,
}

/// The tables of a grid.
pub(super) fn blocks(grid: &Grid<'_>, choices: &Choices) -> Result<Vec<Block>, Fault> {
    let mut blocks: Vec<Block> = Vec::new();
    let mut about = Vec::new();
    let mut row = 0;
    while row < grid.len() {
        if let Some(mut columns) = header(grid, row, choices)? {
            if let Some(block) = blocks.last_mut() {
                // What stands between two tables belongs to the second.
                let end = row;
                let start = (block.rows[0]..end)
                    .rev()
                    .find(|at| has_number(grid, *at))
                    .map_or(block.rows[0], |at| at + 1);
                block.rows[1] = start;
                about = (start..end).flat_map(|at| told(grid, at)).take(MOST_ABOUT).collect();
            }
            let units = units_row(grid, row + 1, &mut columns)?;
            let first = row + 1 + usize::from(units);
            settle(grid, row, &mut columns, choices)?;
            blocks.push(Block {
                columns,
                header: Some(row),
                rows: [first, grid.len()],
                about: std::mem::take(&mut about),
            });
            row = first;
            continue;
        }
        if blocks.is_empty() && about.len() < MOST_ABOUT {
            about.extend(told(grid, row));
        }
        row += 1;
    }
    if blocks.is_empty() {
        blocks.push(without_header(grid, choices, about)?);
    }
    Ok(blocks)
}

fn has_number(grid: &Grid<'_>, row: usize) -> bool {
    grid.row(row).iter().filter(|cell| looks_numeric(cell) || clock(cell).is_some()).count() >= 2
}

/// `Name: value`, in one cell or two.
fn told(grid: &Grid<'_>, row: usize) -> Option<(String, String)> {
    let mut cells =
        grid.row(row).iter().map(|cell| cell.trim_start_matches('#').trim()).filter(|cell| !cell.is_empty());
    let first = cells.next()?;
    let rest: Vec<&str> = cells.collect();
    if rest.is_empty() {
        let (name, value) = first.split_once([':', '='])?;
        return Some((name.trim().to_owned(), value.trim().to_owned()));
    }
    let name = first.trim_end_matches([':', '=']);
    (!looks_numeric(name)).then(|| (name.to_owned(), rest.join(" ")))
}

/// The columns of a row, when it is a header.
fn header(grid: &Grid<'_>, row: usize, choices: &Choices) -> Result<Option<Vec<Column>>, Fault> {
    let cells = grid.row(row);
    // Most rows are numbers; a header has none, and two names at least.
    if cells.len() < 2 || looks_numeric(&cells[0]) {
        return Ok(None);
    }
    let names = cells.iter().filter(|cell| !cell.is_empty() && !looks_numeric(cell)).count();
    let numbers = cells.iter().filter(|cell| looks_numeric(cell)).count();
    if names < 2 || numbers * 2 > names {
        return Ok(None);
    }
    let columns: Vec<Column> = cells
        .iter()
        .enumerate()
        .filter(|(_, cell)| !cell.is_empty())
        .map(|(at, cell)| column(at, cell, choices))
        .collect::<Result<_, _>>()?;
    Ok(is_curve(&columns).then_some(columns))
}

/// Whether the columns make a flow curve, or a value over time.
fn is_curve(columns: &[Column]) -> bool {
    let has = |wanted: &[Meaning]| columns.iter().any(|column| wanted.contains(&column.meaning));
    has(&[Meaning::ShearRate, Meaning::Speed, Meaning::Time])
        && has(&[Meaning::Stress, Meaning::Viscosity, Meaning::Reading, Meaning::DialViscosity])
}

/// A column by the name at its head.
pub(super) fn column(at: usize, cell: &str, choices: &Choices) -> Result<Column, Fault> {
    // A line of names may begin with the sign of a remark; `#2` is the second column of a table without names.
    let cell = if cell.bytes().skip(1).all(|byte| byte.is_ascii_digit()) {
        cell
    } else {
        cell.trim_start_matches('#')
    };
    let name = cell.split_whitespace().collect::<Vec<_>>().join(" ");
    let (label, written_unit) = parted(cell);
    let mut column =
        Column { at, name, meaning: Meaning::Unused, unit: None, written_unit, why: Vec::new(), sure: true };
    if let Some(choice) = choices.of(at, &column.name, &label) {
        column.meaning = choice.meaning;
        column.why.push("as you said".to_owned());
        if !choice.unit.is_empty() {
            column.written_unit = Some(choice.unit.clone());
        }
        return Ok(column);
    }
    let by_name = meaning_of(&label);
    if let Some(meaning) = by_name {
        column.meaning = meaning;
        column.why.push(if meaning == Meaning::Unused {
            format!("\"{label}\" is no part of a flow curve")
        } else {
            format!("\"{label}\" is a name of {}", meaning.words())
        });
        let fits = column.written_unit.as_deref().is_none_or(|unit| meaning.unit(unit).is_some());
        // Torque in percent is a reading; a time constant is no time.
        if meaning == Meaning::Torque
            && column.written_unit.as_deref().is_some_and(|unit| Meaning::Reading.unit(unit).is_some())
        {
            column.meaning = Meaning::Reading;
        } else if !fits && label.trim().chars().count() < 3 {
            column.put_aside("its unit is of something else".to_owned());
        }
        return Ok(column);
    }
    let by_unit = column.written_unit.as_deref().and_then(|unit| {
        [Meaning::ShearRate, Meaning::Stress, Meaning::Viscosity, Meaning::Temperature, Meaning::Speed]
            .into_iter()
            .find(|meaning| meaning.unit(unit).is_some_and(|(_, sure)| sure))
    });
    match by_unit {
        Some(meaning) if matches!(meaning, Meaning::ShearRate | Meaning::Stress | Meaning::Viscosity) => {
            column.meaning = meaning;
            column.doubt(format!("its unit is one of {}; the name says nothing", meaning.words()));
        }
        _ => column.why.push("no name of anything on a flow curve".to_owned()),
    }
    Ok(column)
}

/// Takes the units of the row below the header, when it is one.
pub(super) fn units_row(grid: &Grid<'_>, row: usize, columns: &mut [Column]) -> Result<bool, Fault> {
    let cells = grid.row(row);
    let written: Vec<&str> = cells.iter().map(AsRef::as_ref).filter(|cell: &&str| !cell.is_empty()).collect();
    let units = written.iter().filter(|cell| is_unit(cell)).count();
    if units == 0 || units * 2 < written.len() || written.iter().any(|cell| looks_numeric(cell)) {
        return Ok(false);
    }
    for column in columns {
        let text = grid.cell(row, column.at).trim();
        if !text.is_empty() && !is_no_unit(text) && column.written_unit.is_none() {
            column.written_unit = Some(text.trim_matches(['[', ']', '(', ')']).to_owned());
        }
    }
    Ok(true)
}

/// Settles the units: as written, or the usual one with a doubt.
pub(super) fn settle(
    grid: &Grid<'_>,
    row: usize,
    columns: &mut [Column],
    choices: &Choices,
) -> Result<(), Fault> {
    // A spindle instrument shows a viscosity, but not that of a flow curve.
    let speeds_only = columns.iter().any(|column| column.meaning == Meaning::Speed)
        && !columns.iter().any(|column| column.meaning == Meaning::ShearRate);
    for column in columns.iter_mut() {
        if speeds_only && column.meaning == Meaning::Viscosity {
            column.meaning = Meaning::DialViscosity;
            column
                .why
                .push("beside a speed and without a shear rate it is what the instrument shows".to_owned());
        }
        if column.meaning == Meaning::Torque
            && column.written_unit.as_deref().is_some_and(|unit| Meaning::Reading.unit(unit).is_some())
        {
            column.meaning = Meaning::Reading;
        }
        let units = column.meaning.units();
        let Some(usual) = units.first() else { continue };
        let Some(text) = column.written_unit.clone().filter(|text| !is_no_unit(text)) else {
            let why = format!("no unit is written; {} is the usual one", usual.symbol);
            let plain = matches!(
                column.meaning,
                Meaning::Reading | Meaning::Speed | Meaning::Temperature | Meaning::Time
            );
            column.take_unit(usual, why, plain && column.sure);
            continue;
        };
        match column.meaning.unit(&text) {
            Some((unit, sure)) => {
                let mut why = format!("unit \"{text}\"");
                if !sure {
                    why.push_str(", whose capital letters leave a doubt");
                }
                let sure = sure && column.sure;
                column.take_unit(unit, why, sure);
            }
            None => {
                let known: Vec<&str> = units.iter().map(|unit| unit.symbol).collect();
                return Err(Fault::new(
                    "unit-does-not-fit",
                    format!("\"{text}\" is not a unit of {}", column.meaning.words()),
                    format!("use one of {}, or say what the column holds", known.join(", ")),
                )
                .on(grid.line(row))
                .in_column(column.at, &column.name));
            }
        }
    }
    choices.all_found(columns)?;
    Ok(())
}

/// A table of numbers alone, whose columns the person names by their place.
fn without_header(grid: &Grid<'_>, choices: &Choices, about: Vec<(String, String)>) -> Result<Block, Fault> {
    let first = (0..grid.len()).find(|row| has_number(grid, *row)).ok_or_else(|| {
        Fault::new(
            "no-points",
            "no row holds two numbers",
            "a flow curve has a shear rate and a stress or viscosity in every row",
        )
    })?;
    let above = first.checked_sub(1).filter(|row| grid.row(*row).len() > 1 && !has_number(grid, *row));
    let mut columns: Vec<Column> = (0..grid.row(first).len())
        .map(|at| {
            let name = above.map(|row| grid.cell(row, at)).filter(|name| !name.is_empty());
            column(at, name.unwrap_or(&format!("#{}", at + 1)), choices)
        })
        .collect::<Result<_, _>>()?;
    if !is_curve(&columns) {
        let found: Vec<String> = columns.iter().map(|column| format!("\"{}\"", column.name)).collect();
        let known: Vec<&str> = columns
            .iter()
            .filter(|column| column.meaning != Meaning::Unused)
            .map(|column| column.meaning.words())
            .collect();
        let known = if known.is_empty() {
            "none was understood".to_owned()
        } else {
            format!("understood: {}", known.join(", "))
        };
        return Err(Fault::new(
            "no-flow-curve",
            format!("no columns of a flow curve were found; the columns are {}; {known}", found.join(", ")),
            "a curve needs a shear rate with a stress or viscosity, or a speed with a percent of full torque or a dial viscosity, and a recovery \
             a time with a viscosity; say which column holds what, as name=meaning:unit or #2=viscosity:mPa.s",
        )
        .on(grid.line(above.unwrap_or(first))));
    }
    settle(grid, above.unwrap_or(first), &mut columns, choices)?;
    Ok(Block { columns, header: above, rows: [first, grid.len()], about })
}
