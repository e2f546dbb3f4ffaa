//! What the columns are, whether the parts add up, and the question that follows.

use super::question::{Asked, Ranged};
use super::{Data, DataRow, Question, Typed, complaint, wrong_equation};
use crate::diagnostic::Diagnostic;
use levigate_assess::analysis::{Ask, Asked as Runs, Response};
use levigate_assess::equation::Asked as EquationAsked;
use levigate_measure::Note;
use levigate_measure::equation::{Equation, MOST_PARAMETERS, unknown_names};
use levigate_measure::experiment::Process;

/// A sum within this share of 1 or 100 was meant to be that.
const MEANT: f64 = 0.02;
/// Rounding of the digits may explain at most this share of the total.
const ROUNDED: f64 = 0.005;
/// Heads of the column that says in which block a run was made.
const BLOCKS: [&str; 2] = ["block", "blocks"];
/// What binary numbers lose.
const BINARY: f64 = 1e-9;

/// Settles a question.
pub(super) fn settled(file: &str, asked: Asked, data: Data) -> Result<Question, Vec<Diagnostic>> {
    if data.rows.is_empty() {
        return Err(vec![complaint(
            file,
            (0, 0),
            "no-rows",
            "",
            "there is no run",
            "write one row for every run",
        )]);
    }
    if asked.equation.is_some() {
        return equation(file, asked, data).map(|asked| Question::Equation(Box::new(asked)));
    }
    if let Some(word) = &asked.unknown_model {
        let what = format!("there is no model {word}");
        let what_now = "linear, quadratic, special-cubic and full-cubic are known";
        return Err(vec![complaint(file, (0, 0), "no-model", "model", what, what_now)]);
    }
    runs(file, asked, &data).map(|asked| Question::Runs(Box::new(asked)))
}

fn runs(file: &str, asked: Asked, data: &Data) -> Result<Runs, Vec<Diagnostic>> {
    let mut problems = Vec::new();
    let responses = if asked.responses.is_empty() {
        data.columns.last().map(|name| (name.clone(), String::new(), None)).into_iter().collect()
    } else {
        asked.responses
    };
    let block = block_column([&asked.settings, &asked.parts], &responses, data);
    let parts: Vec<Ranged> = if asked.parts.is_empty() {
        let other = |name: &&String| {
            !responses.iter().any(|(known, ..)| known == *name)
                && !asked.settings.iter().any(|(known, _)| known == *name)
        };
        let columns =
            data.columns.iter().enumerate().filter(|(at, _)| Some(*at) != block).map(|(_, name)| name);
        columns.filter(other).map(|name| (name.clone(), [None; 2])).collect()
    } else {
        asked.parts
    };
    let mut column = |name: &str| {
        let found = data.columns.iter().position(|known| known == name);
        if found.is_none() {
            let what = format!("no column is called {name}");
            let what_now = format!("the columns are {}", data.columns.join(", "));
            problems.push(complaint(file, (0, 0), "no-column", "", what, &what_now));
        }
        found.unwrap_or(0)
    };
    let of_parts: Vec<usize> = parts.iter().map(|(name, _)| column(name)).collect();
    let of_settings: Vec<usize> = asked.settings.iter().map(|(name, _)| column(name)).collect();
    let of_responses: Vec<usize> = responses.iter().map(|(name, ..)| column(name)).collect();
    if !problems.is_empty() {
        return Err(problems);
    }
    if parts.len() == 1 || parts.len() > 12 || (parts.is_empty() && asked.settings.is_empty()) {
        let what = format!("{} columns are left as parts of a mixture", parts.len());
        let what_now = "give two parts to twelve, or name every other column as a setting; a last column is what was measured";
        return Err(vec![complaint(file, (0, 0), "parts", "", what, what_now)]);
    }
    let fitted = |row: &&DataRow| !row.check && of_responses.iter().any(|at| row.cells[*at].is_some());
    let (total, shares, notes) = shares(file, asked.total, &of_parts, data, &mut problems);
    let level = |row: &DataRow, at: usize, problems: &mut Vec<Diagnostic>| {
        row.cells[at].map(|cell| cell.value).unwrap_or_else(|| {
            let what = "a run without this level";
            problems.push(complaint(
                file,
                row.at,
                "empty",
                &data.columns[at],
                what,
                "write what it was made with",
            ));
            f64::NAN
        })
    };
    let of_row: Vec<Vec<f64>> = data
        .rows
        .iter()
        .zip(shares)
        .map(|(row, mut levels)| {
            levels.extend(of_settings.iter().map(|at| level(row, *at, &mut problems)));
            levels
        })
        .collect();
    let kept: Vec<usize> = (0..data.rows.len()).filter(|at| fitted(&&data.rows[*at])).collect();
    let blocks: Vec<f64> = block.map_or_else(Vec::new, |column| {
        kept.iter().map(|at| level(&data.rows[*at], column, &mut problems)).collect()
    });
    if kept.is_empty() {
        let what = "no run has a measured value";
        problems.push(complaint(
            file,
            (0, 0),
            "no-rows",
            "",
            what,
            "fill the last column, or name the measured one",
        ));
    }
    let range = |at: usize| {
        let levels = kept.iter().map(|row| of_row[*row][at]);
        levels.fold([f64::INFINITY, f64::NEG_INFINITY], |[low, high], x| [low.min(x), high.max(x)])
    };
    let bounds = parts.iter().enumerate().map(|(at, (_, ends))| {
        let seen = range(at);
        [ends[0].map_or(seen[0], |low| low / total), ends[1].map_or(seen[1], |high| (high / total).min(1.0))]
    });
    let bounds = bounds.collect();
    let mut settings = Vec::new();
    for (place, (name, ends)) in asked.settings.iter().enumerate() {
        let seen = range(parts.len() + place);
        let own = [ends[0].unwrap_or(seen[0]), ends[1].unwrap_or(seen[1])];
        if own[0] >= own[1] {
            let what = format!("{name} is the same in all runs");
            problems.push(complaint(
                file,
                (0, 0),
                "no-change",
                name,
                what,
                "leave the column out, or make runs at another level",
            ));
        }
        settings.push((name.clone(), own));
    }
    let mut ask: Vec<Ask> = (0..data.rows.len())
        .filter(|at| !kept.contains(at))
        .map(|at| Ask {
            levels: of_row[at].clone(),
            measured: of_responses
                .iter()
                .map(|column| data.rows[at].cells[*column].map(|cell| cell.value))
                .collect(),
        })
        .collect();
    let width = parts.len() + settings.len();
    for (at, levels, measured) in asked.ask {
        if levels.len() != width || measured.len() > responses.len() {
            let what = format!("{} levels and {} measured values", levels.len(), measured.len());
            let what_now = format!(
                "write {width} levels, parts and then settings, and at most {} measured values",
                responses.len()
            );
            problems.push(complaint(file, at, "ask", "ask", what, &what_now));
            continue;
        }
        let sum: f64 = levels[..parts.len()].iter().sum();
        if !parts.is_empty() && (sum - total).abs() > ROUNDED * total {
            let what = format!("the parts add up to {sum}, not to {total}");
            problems.push(complaint(file, at, "not-whole", "ask", what, "correct the levels"));
        }
        let shared =
            levels.iter().enumerate().map(|(at, x)| if at < parts.len() { x / sum } else { *x }).collect();
        let measured = (0..responses.len()).map(|at| measured.get(at).copied()).collect();
        ask.push(Ask { levels: shared, measured });
    }
    if !problems.is_empty() {
        return Err(problems);
    }
    #[expect(clippy::float_cmp, reason = "one is exact")]
    let unit = if total == 1.0 { "" } else { "% w/w" };
    let surface = parts.is_empty();
    Ok(Runs {
        title: asked.title,
        parts: parts.into_iter().map(|(name, _)| name).collect(),
        total,
        unit: unit.to_owned(),
        bounds,
        conditions: asked.conditions,
        settings,
        // Of settings alone the terms of the settings are the model.
        model: asked.model.or(if surface {
            asked.process.map(|_| levigate_measure::experiment::Model::Linear)
        } else {
            None
        }),
        process: asked.process.unwrap_or(Process::Linear),
        joined: asked.joined,
        responses: responses
            .into_iter()
            .zip(&of_responses)
            .map(|((name, unit, wish), at)| Response {
                name,
                unit,
                wish,
                values: kept.iter().map(|row| data.rows[*row].cells[*at].map(|cell| cell.value)).collect(),
            })
            .collect(),
        runs: kept.iter().map(|at| of_row[*at].clone()).collect(),
        blocks: numbered(&blocks),
        ask,
        confidence: asked.confidence,
        grid: asked.grid,
        starts: asked.starts,
        seed: asked.seed,
        notes,
    })
}

/// The column that says in which block a run was made, where it is nothing else.
fn block_column(
    others: [&[Ranged]; 2],
    responses: &[(String, String, Option<levigate_measure::desirability::Wish>)],
    data: &Data,
) -> Option<usize> {
    data.columns.iter().position(|name| {
        let taken = responses.iter().any(|(known, ..)| known == name)
            || others.into_iter().flatten().any(|(known, _)| known == name);
        !taken && BLOCKS.iter().any(|word| name.eq_ignore_ascii_case(word))
    })
}

/// Blocks by number: where a number is what they are called by, that; where not, their place among them.
fn numbered(blocks: &[f64]) -> Vec<u32> {
    let mut known: Vec<f64> = blocks.to_vec();
    known.sort_by(f64::total_cmp);
    known.dedup();
    let whole = |block: &f64| block.fract() == 0.0 && (0.0..1e6).contains(block);
    let all_whole = known.iter().all(whole);
    let number = |block: &f64| {
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "whole, from 0 to a million"
        )]
        let own = all_whole.then_some(*block as u32);
        let place = known.iter().position(|other| other == block).map_or(0, |place| place + 1);
        own.unwrap_or_else(|| u32::try_from(place).unwrap_or(u32::MAX))
    };
    blocks.iter().map(number).collect()
}

/// What the parts make together, the shares of every row, and what must be said of them.
fn shares(
    file: &str,
    typed: Option<f64>,
    parts: &[usize],
    data: &Data,
    problems: &mut Vec<Diagnostic>,
) -> (f64, Vec<Vec<f64>>, Vec<Note>) {
    let mut sums = Vec::new();
    for row in &data.rows {
        let cells: Option<Vec<Typed>> = parts.iter().map(|at| row.cells[*at]).collect();
        if cells.is_none() {
            let what_now = "write a share for every part, nothing as 0";
            problems.push(complaint(
                file,
                row.at,
                "empty",
                "",
                "a run without the share of a part",
                what_now,
            ));
        }
        let cells = cells.unwrap_or_default();
        if cells.iter().any(|cell| cell.value < 0.0) {
            let what = "a share below nothing";
            problems.push(complaint(file, row.at, "negative", "", what, "correct the share"));
        }
        let sum: f64 = cells.iter().map(|cell| cell.value).sum();
        let half: f64 = cells.iter().map(|cell| cell.half).sum();
        sums.push((cells, sum, half));
    }
    if parts.is_empty() {
        return (1.0, vec![Vec::new(); data.rows.len()], Vec::new());
    }
    let total = typed.unwrap_or_else(|| {
        let mut all: Vec<f64> = sums.iter().map(|(_, sum, _)| *sum).collect();
        all.sort_by(f64::total_cmp);
        let middle = all[all.len() / 2];
        [1.0, 100.0].into_iter().find(|total| (middle - total).abs() <= MEANT * total).unwrap_or(middle)
    });
    let mut rounded = Vec::new();
    for (row, (cells, sum, half)) in data.rows.iter().zip(&sums) {
        let miss = (sum - total).abs();
        if cells.is_empty() || miss <= BINARY * total {
            continue;
        }
        if miss <= half.min(ROUNDED * total) + BINARY * total {
            rounded.push(row.number.to_string());
            continue;
        }
        // Digits that a binary number does not hold are no slip.
        let shown = (sum * 1e9).round() / 1e9;
        let what = format!("run {}: the parts add up to {shown}, not to {total}", row.number);
        let what_now =
            "correct the shares; a part held fixed is left out, total_percent says what the rest makes";
        problems.push(complaint(file, row.at, "not-whole", "", what, what_now));
    }
    let notes = if rounded.is_empty() {
        Vec::new()
    } else {
        let which = rounded.join(", ");
        vec![Note::new(
            "rounded",
            format!(
                "Runs {which} add up to the total only within the digits they are written with; their shares were taken as parts of their own sum."
            ),
        )]
    };
    let shares = sums.iter().map(|(cells, sum, _)| match cells.as_slice() {
        // It was complained about.
        [] => vec![f64::NAN; parts.len()],
        cells => cells.iter().map(|cell| cell.value / sum).collect(),
    });
    let shares = shares.collect();
    (total, shares, notes)
}

fn equation(file: &str, asked: Asked, data: Data) -> Result<EquationAsked, Vec<Diagnostic>> {
    let text = asked.equation.unwrap_or_default();
    let wrong = |error| wrong_equation(&text, &error);
    let named = unknown_names(&text, &data.columns).map_err(wrong)?;
    let started: Vec<String> = asked.start.iter().map(|(name, _)| name.clone()).collect();
    // First as if every name were a parameter: an equation straight in them needs no start.
    let all: Vec<String> =
        started.iter().chain(named.iter().filter(|name| !started.contains(name))).cloned().collect();
    let names = match Equation::read(&text, &data.columns, &all) {
        Ok(equation) if equation.model.is_linear() => all,
        _ => started,
    };
    let equation = Equation::read(&text, &data.columns, &names).map_err(wrong)?;
    if names.is_empty() || names.len() > MOST_PARAMETERS {
        let what = format!("the equation has {} parameters", names.len());
        let what_now = "write an equation with one parameter to twelve, each with a start";
        return Err(vec![complaint(super::EQUATION, (0, 0), "parameters", "", what, what_now)]);
    }
    let complete = |row: &&DataRow| equation.columns.iter().all(|at| row.cells[*at].is_some());
    let left_out = data.rows.iter().filter(|row| !complete(row)).count();
    let rows: Vec<(usize, Vec<f64>)> = data
        .rows
        .iter()
        .filter(complete)
        .map(|row| {
            (row.number, row.cells.iter().map(|cell| cell.map_or(f64::NAN, |cell| cell.value)).collect())
        })
        .collect();
    if rows.is_empty() {
        let what = "no row has a value in every column of the equation";
        return Err(vec![complaint(file, (0, 0), "no-rows", "", what, "fill the columns, or name others")]);
    }
    let notes = (left_out > 0).then(|| {
        Note::new(
            "left-out",
            format!("{left_out} rows without a value in a column of the equation are left out."),
        )
    });
    let start =
        |name: &String| asked.start.iter().find(|(known, _)| known == name).map_or(0.0, |(_, value)| *value);
    Ok(EquationAsked {
        title: asked.title,
        equation,
        text: text.clone(),
        columns: data.columns,
        parameters: names.iter().map(|name| (name.clone(), start(name))).collect(),
        rows,
        confidence: asked.confidence,
        profile: asked.profile,
        notes: notes.into_iter().collect(),
    })
}
