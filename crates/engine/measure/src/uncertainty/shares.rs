//! Parts that are measured one by one and end up as shares of their sum: the lines of a weighed batch.
//!
//! ```text
//! m_i = m0_i + s_i N + t_i T + e_i R          w_i = m_i / sum_j m_j
//! ```
//!
//! | symbol | meaning |
//! |---|---|
//! | m0_i | what the part was meant to be |
//! | N, s_i | standard normal, its standard deviation |
//! | T, t_i | triangular between -1 and 1 (the rounding of two readings), its half-width |
//! | R, e_i | rectangular between -1 and 1, its half-width |
//!
//! Mean, standard deviation and the interval of equal tails of every share over up to 10^8 draws. The draws are not kept: a few thousand
//! tell where the tails begin, with five standard deviations to spare, and of the others only those beyond are held. The ends of the
//! interval are the very draws that sorting all of them would give ([`super::coverage`]); where the tails held turn out too short, all
//! draws of that share are held in a second run.
//!
//! Proof: `tests/cross/uncertainty.toml` (numpy), and against [`super::monte_carlo`], which keeps every draw.

use super::UncertaintyError;
use super::coverage::{Coverage, equal_tail_places};
use super::monte_carlo::number;
use super::scatter::Scatter;
use super::stream::{CHUNK, Normals, Stream, source};
use rayon::prelude::*;

/// Most draws.
pub const MOST_DRAWS: usize = 100_000_000;
/// Chunks that tell where the tails begin.
const PILOT: usize = 4;
/// Standard deviations of a rank between the edge of the tail as the pilot tells it and what is held.
const TO_SPARE: f64 = 5.0;

/// A part of a sum.
#[derive(Clone, Debug, PartialEq)]
pub struct Part {
    /// Name; fixes its draws, whatever stands before it.
    pub name: String,
    /// What it is meant to be; above zero.
    pub value: f64,
    /// How it scatters about that.
    pub scatter: Scatter,
    /// Shares of the sum that count as met.
    pub aim: Option<[f64; 2]>,
}

/// How a share scatters.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spread {
    /// Mean.
    pub mean: f64,
    /// Standard deviation.
    pub standard_deviation: f64,
    /// Interval of equal tails.
    pub interval: Coverage,
    /// Share of the draws that met the aim, 0 to 1, where there is one.
    pub met: Option<f64>,
}

/// Draws the parts and tells how their shares scatter.
///
/// # Errors
/// [`UncertaintyError`] for a spread or a value that cannot be, two parts of one name, or a number of draws that cannot be made.
pub fn shares(
    parts: &[Part],
    draws: usize,
    coverage: f64,
    seed: u64,
) -> Result<Vec<Spread>, UncertaintyError> {
    check(parts, draws, coverage)?;
    let total: f64 = parts.iter().map(|part| part.value).sum();
    let run = Run {
        parts,
        draws,
        seed,
        normals: Normals::default(),
        meant: parts.iter().map(|part| part.value / total).collect(),
    };
    let all = f64::INFINITY;
    let pilot_draws = draws.min(PILOT * CHUNK);
    let everything = vec![Held { below: all, above: -all }; parts.len()];
    let pilot = run.chunks(0..pilot_draws.div_ceil(CHUNK), &everything);
    let held: Vec<Held> = (0..parts.len()).map(|part| tails_of(&pilot, part, coverage)).collect();
    let chunks = draws.div_ceil(CHUNK);
    let made = run.chunks(0..chunks, &held);
    let mut spreads = Vec::with_capacity(parts.len());
    for part in 0..parts.len() {
        let spread = run.read(&made, part, held[part], coverage);
        spreads.push(match spread {
            Some(spread) => spread,
            None => {
                let mut only = vec![Held { below: -all, above: all }; parts.len()];
                only[part] = Held { below: all, above: -all };
                let again = run.chunks(0..chunks, &only);
                run.read(&again, part, only[part], coverage).unwrap_or(Spread {
                    mean: f64::NAN,
                    standard_deviation: f64::NAN,
                    interval: Coverage { low: f64::NAN, high: f64::NAN },
                    met: None,
                })
            }
        });
    }
    Ok(spreads)
}

fn check(parts: &[Part], draws: usize, coverage: f64) -> Result<(), UncertaintyError> {
    if !(2..=MOST_DRAWS).contains(&draws) {
        return Err(UncertaintyError::Draws { draws, least: 2, most: MOST_DRAWS });
    }
    if !(coverage > 0.0 && coverage < 1.0) {
        return Err(UncertaintyError::Parameter { what: "coverage", value: coverage });
    }
    let mut names: Vec<&String> = parts.iter().map(|part| &part.name).collect();
    names.sort();
    if let Some(pair) = names.windows(2).find(|pair| pair[0] == pair[1]) {
        return Err(UncertaintyError::NamedTwice { name: pair[0].clone() });
    }
    for part in parts {
        if !(part.value > 0.0 && part.value.is_finite()) {
            return Err(UncertaintyError::Parameter { what: "part of a sum", value: part.value });
        }
        part.scatter.check()?;
    }
    Ok(())
}

/// Draws below and above these are held.
#[derive(Clone, Copy, Debug)]
struct Held {
    below: f64,
    above: f64,
}

/// What is left of a chunk, per part: sums about the share that was meant, and the draws in the tails.
#[derive(Clone, Debug)]
struct Left {
    sum: f64,
    squares: f64,
    met: usize,
    tails: Vec<f64>,
}

struct Run<'a> {
    parts: &'a [Part],
    draws: usize,
    seed: u64,
    normals: Normals,
    /// Share of every part as it was meant.
    meant: Vec<f64>,
}

/// Room for one chunk.
struct Room {
    columns: Vec<Vec<f64>>,
    inverse: Vec<f64>,
    tails: Vec<f64>,
}

impl Run<'_> {
    fn chunks(&self, chunks: core::ops::Range<usize>, held: &[Held]) -> Vec<Vec<Left>> {
        let room = || Room {
            columns: vec![vec![0.0; CHUNK]; self.parts.len()],
            inverse: vec![0.0; CHUNK],
            tails: vec![0.0; CHUNK],
        };
        chunks.into_par_iter().map_init(room, |room, chunk| self.chunk(chunk, held, room)).collect()
    }

    fn chunk(&self, chunk: usize, held: &[Held], room: &mut Room) -> Vec<Left> {
        let count = (self.draws - chunk * CHUNK).min(CHUNK);
        room.inverse.fill(0.0);
        for (part, column) in self.parts.iter().zip(&mut room.columns) {
            let mut stream = Stream::of(self.seed, source(&part.name), chunk as u64);
            part.scatter.fill(part.value, &mut stream, &self.normals, column);
            for (sum, value) in room.inverse.iter_mut().zip(&*column) {
                *sum += value;
            }
        }
        room.inverse.iter_mut().for_each(|sum| *sum = 1.0 / *sum);
        let columns = room.columns.iter_mut().zip(&self.meant).zip(held).zip(self.parts);
        columns
            .map(|(((column, meant), held), part)| {
                let column = &mut column[..count];
                let (mut sum, mut squares) = (0.0, 0.0);
                for (value, inverse) in column.iter_mut().zip(&room.inverse) {
                    *value *= inverse;
                    let off = *value - meant;
                    sum += off;
                    squares += off * off;
                }
                let met = part.aim.map_or(0, |[low, high]| {
                    column.iter().filter(|value| (low..=high).contains(value)).count()
                });
                let mut kept = 0;
                for value in column {
                    // Written whether it counts or not: a branch taken one time in twenty costs more.
                    room.tails[kept] = *value;
                    kept += usize::from(*value < held.below) | usize::from(*value > held.above);
                }
                Left { sum, squares, met, tails: room.tails[..kept].to_vec() }
            })
            .collect()
    }

    /// Joins the chunks in order. `None` where the tails held are too short.
    fn read(&self, made: &[Vec<Left>], part: usize, held: Held, coverage: f64) -> Option<Spread> {
        let (mut sum, mut squares) = (0.0, 0.0);
        let mut tails = Vec::with_capacity(made.iter().map(|left| left[part].tails.len()).sum());
        for left in made {
            sum += left[part].sum;
            squares += left[part].squares;
            tails.extend_from_slice(&left[part].tails);
        }
        let count = number(self.draws);
        let (low, high) = equal_tail_places(self.draws, coverage);
        let below = tails.iter().filter(|value| **value < held.below).count();
        let interval = if tails.len() == self.draws {
            Coverage::equal_tails(&mut tails, coverage)
        } else {
            let from_top = self.draws - 1 - high;
            if low >= below || from_top >= tails.len() - below {
                return None;
            }
            let top = tails.len() - 1 - from_top;
            let lower = *tails.select_nth_unstable_by(low, f64::total_cmp).1;
            let upper = *tails.select_nth_unstable_by(top, f64::total_cmp).1;
            Coverage { low: lower, high: upper }
        };
        let off = sum / count;
        let met: usize = made.iter().map(|left| left[part].met).sum();
        Some(Spread {
            met: self.parts[part].aim.map(|_| number(met) / count),
            mean: self.meant[part] + off,
            standard_deviation: ((squares - count * off * off).max(0.0) / (count - 1.0)).sqrt(),
            interval,
        })
    }
}

/// Where the tails of a part begin, as the first chunks tell it.
fn tails_of(pilot: &[Vec<Left>], part: usize, coverage: f64) -> Held {
    let mut draws: Vec<f64> = pilot.iter().flat_map(|left| left[part].tails.iter().copied()).collect();
    draws.sort_unstable_by(f64::total_cmp);
    let count = number(draws.len());
    let tail = 0.5 * (1.0 - coverage);
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a rank")]
    let rank = (tail * count + TO_SPARE * (tail * (1.0 - tail) * count).sqrt() + 2.0).ceil() as usize;
    if 2 * rank >= draws.len() {
        return Held { below: f64::INFINITY, above: f64::NEG_INFINITY };
    }
    Held { below: draws[rank], above: draws[draws.len() - 1 - rank] }
}
