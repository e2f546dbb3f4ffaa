//! Monte Carlo: inputs drawn from their distributions, the model computed for every draw.
//!
//! A fixed number of draws ([`draw`]) or as many as make the answer steady ([`draw_until_steady`]): sequences of draws are made until twice
//! the standard deviation of the mean over the sequences lies below the tolerance for the mean, the standard uncertainty and both ends
//! of the interval. The tolerance is half a unit of the last digit of the standard uncertainty that counts.
//!
//! Range: 2 to 10^7 draws, of which every one is kept. Source: JCGM 101:2008, 7.2 to 7.9. Cases: `tests/published/uncertainty.toml`.

use super::UncertaintyError;
use super::coverage::{Coverage, last_digit_tolerance};
use super::inputs::Inputs;
use super::stream::{CHUNK, Normals};
use rayon::prelude::*;

/// Most draws that are kept.
pub const MOST_DRAWS: usize = 10_000_000;

/// The outputs of all draws.
#[derive(Clone, Debug, PartialEq)]
pub struct Draws {
    /// Per output, in the order of the draws.
    pub outputs: Vec<Vec<f64>>,
}

impl Draws {
    /// Mean of an output.
    #[must_use]
    pub fn mean(&self, output: usize) -> f64 {
        mean_and_deviation(&self.outputs[output]).0
    }

    /// Standard deviation of an output, over the number of draws less one.
    #[must_use]
    pub fn standard_deviation(&self, output: usize) -> f64 {
        mean_and_deviation(&self.outputs[output]).1
    }

    /// Interval of equal tails.
    #[must_use]
    pub fn equal_tails(&self, output: usize, coverage: f64) -> Coverage {
        Coverage::equal_tails(&mut self.outputs[output].clone(), coverage)
    }

    /// Shortest interval.
    #[must_use]
    pub fn shortest(&self, output: usize, coverage: f64) -> Coverage {
        Coverage::shortest(&mut self.outputs[output].clone(), coverage)
    }
}

/// Mean, and standard deviation over the number less one.
#[must_use]
pub fn mean_and_deviation(values: &[f64]) -> (f64, f64) {
    let count = number(values.len());
    // About the first value, so that nothing cancels where the spread is small.
    let about = values.first().copied().unwrap_or(f64::NAN);
    let mean = about + values.iter().map(|value| value - about).sum::<f64>() / count;
    let squares: f64 = values.iter().map(|value| (value - mean) * (value - mean)).sum();
    (mean, (squares / (count - 1.0)).sqrt())
}

#[expect(clippy::cast_precision_loss, reason = "far below 2^53")]
pub(super) fn number(count: usize) -> f64 {
    count as f64
}

/// Draws a number of times. The model writes its outputs into its second argument.
///
/// # Errors
/// [`UncertaintyError`] for a number of draws that cannot be made, inputs that cannot be drawn, or a model that gives no number.
pub fn draw(
    inputs: &Inputs,
    outputs: usize,
    draws: usize,
    seed: u64,
    model: impl Fn(&[f64], &mut [f64]) + Sync,
) -> Result<Draws, UncertaintyError> {
    check(inputs, draws)?;
    let chunks = draws.div_ceil(CHUNK);
    let mut kept = chunks_of(inputs, outputs, 0..chunks, seed, &model)?;
    for column in &mut kept.outputs {
        column.truncate(draws);
    }
    Ok(kept)
}

fn check(inputs: &Inputs, draws: usize) -> Result<(), UncertaintyError> {
    if !(2..=MOST_DRAWS).contains(&draws) {
        return Err(UncertaintyError::Draws { draws, least: 2, most: MOST_DRAWS });
    }
    inputs.can_be_drawn()
}

/// Computes whole chunks and joins them in order.
fn chunks_of(
    inputs: &Inputs,
    outputs: usize,
    chunks: core::ops::Range<usize>,
    seed: u64,
    model: &(impl Fn(&[f64], &mut [f64]) + Sync),
) -> Result<Draws, UncertaintyError> {
    let normals = Normals::default();
    let width = inputs.names().len();
    let computed: Result<Vec<Vec<Vec<f64>>>, UncertaintyError> = chunks
        .into_par_iter()
        .map_init(
            || (vec![vec![0.0; CHUNK]; width], vec![0.0; width], vec![0.0; outputs]),
            |(columns, x, y), chunk| {
                inputs.fill(seed, chunk as u64, &normals, columns);
                let mut made = vec![Vec::with_capacity(CHUNK); outputs];
                for draw in 0..CHUNK {
                    for (value, column) in x.iter_mut().zip(&*columns) {
                        *value = column[draw];
                    }
                    y.fill(f64::NAN);
                    model(x, y);
                    for (place, (value, column)) in y.iter().zip(&mut made).enumerate() {
                        if !value.is_finite() {
                            let name = format!("output {}", place + 1);
                            return Err(UncertaintyError::NotANumber { name, value: *value });
                        }
                        column.push(*value);
                    }
                }
                Ok(made)
            },
        )
        .collect();
    let mut joined = vec![Vec::new(); outputs];
    for made in computed? {
        for (all, column) in joined.iter_mut().zip(made) {
            all.extend(column);
        }
    }
    Ok(Draws { outputs: joined })
}

/// How a steady answer is asked for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Steady {
    /// Coverage of the interval.
    pub coverage: f64,
    /// Digits of the standard uncertainty that count, one or two as a rule.
    pub digits: i32,
    /// Most draws.
    pub most: usize,
    /// Seed.
    pub seed: u64,
}

/// Draws made until the answer was steady, or until there were no more to make.
#[derive(Clone, Debug, PartialEq)]
pub struct Stopped {
    /// The draws.
    pub draws: Draws,
    /// Whether every figure kept within its tolerance.
    pub steady: bool,
    /// Tolerance of every output.
    pub tolerances: Vec<f64>,
}

/// Draws until the mean, the standard uncertainty and both ends of the interval of equal tails of every output are steady.
///
/// # Errors
/// As [`draw`].
pub fn draw_until_steady(
    inputs: &Inputs,
    outputs: usize,
    ask: &Steady,
    model: impl Fn(&[f64], &mut [f64]) + Sync,
) -> Result<Stopped, UncertaintyError> {
    if !(ask.coverage > 0.0 && ask.coverage < 1.0) {
        return Err(UncertaintyError::Parameter { what: "coverage", value: ask.coverage });
    }
    let sequence = sequence(ask.coverage) / CHUNK;
    let most = ask.most.div_ceil(CHUNK);
    check(inputs, ask.most)?;
    let mut all = Draws { outputs: vec![Vec::new(); outputs] };
    // Per output, per sequence: mean, standard deviation, lower end, upper end.
    let mut figures: Vec<Vec<[f64; 4]>> = vec![Vec::new(); outputs];
    let mut made = 0;
    loop {
        let next = (made + sequence).min(most);
        let part = chunks_of(inputs, outputs, made..next, ask.seed, &model)?;
        made = next;
        for ((figures, all), mut column) in figures.iter_mut().zip(&mut all.outputs).zip(part.outputs) {
            all.extend_from_slice(&column);
            let (mean, deviation) = mean_and_deviation(&column);
            let interval = Coverage::equal_tails(&mut column, ask.coverage);
            figures.push([mean, deviation, interval.low, interval.high]);
        }
        let tolerances: Vec<f64> = (0..outputs)
            .map(|output| last_digit_tolerance(all.standard_deviation(output), ask.digits))
            .collect();
        let steady =
            figures[..].iter().zip(&tolerances).all(|(figures, tolerance)| is_steady(figures, *tolerance));
        if steady || made >= most {
            return Ok(Stopped { draws: all, steady, tolerances });
        }
    }
}

/// Draws of one sequence for a coverage, in whole chunks.
#[must_use]
pub fn sequence(coverage: f64) -> usize {
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "held below the most draws")]
    let least = (100.0 / (1.0 - coverage)).ceil().min(1e7) as usize;
    least.max(10_000).div_ceil(CHUNK) * CHUNK
}

/// Whether twice the standard deviation of the mean over the sequences (each with mean, deviation and both ends) lies below the tolerance.
#[must_use]
pub fn is_steady(sequences: &[[f64; 4]], tolerance: f64) -> bool {
    let count = number(sequences.len());
    sequences.len() >= 2
        && (0..4).all(|figure| {
            let column: Vec<f64> = sequences.iter().map(|sequence| sequence[figure]).collect();
            2.0 * mean_and_deviation(&column).1 / count.sqrt() <= tolerance
        })
}
