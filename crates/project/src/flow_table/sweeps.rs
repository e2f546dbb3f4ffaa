//! Sweeps up and down in one run of points: told from the order of the shear rates.

use super::Direction;
use super::curves::Raw;

/// Fewer points than this are no sweep.
const FEWEST: usize = 4;
/// A sweep covers this share of all the shear rates, in the logarithm.
const COVERS: f64 = 0.6;
/// More turns than this are no sweeps.
const MOST: usize = 12;
/// Shear rates nearer than this are held, not changed.
const HELD: f64 = 1.001;

/// The sweeps of a run; one part without direction where it has none.
pub(super) fn parted(points: Vec<Raw>) -> Vec<(Option<Direction>, Vec<Raw>)> {
    let mut starts: Vec<(usize, Option<Direction>)> = vec![(0, None)];
    for at in 1..points.len() {
        let (before, here) = (points[at - 1].x, points[at].x);
        let step = if here > before * HELD {
            Direction::Up
        } else if here * HELD < before {
            Direction::Down
        } else {
            continue;
        };
        if let Some((_, direction)) = starts.last_mut() {
            match *direction {
                None => *direction = Some(step),
                Some(known) if known != step => starts.push((at, None)),
                Some(_) => {}
            }
        }
        if starts.len() > MOST {
            return vec![(None, points)];
        }
    }
    if starts.len() < 2 {
        let direction = starts[0].1;
        return vec![(direction, points)];
    }
    let span = |points: &[Raw]| {
        let (low, high) = points
            .iter()
            .fold((f64::INFINITY, 0.0_f64), |(low, high), point| (low.min(point.x), high.max(point.x)));
        (high / low).log10()
    };
    let whole = span(&points);
    let ends: Vec<usize> = starts.iter().skip(1).map(|(start, _)| *start).chain([points.len()]).collect();
    let sound = starts
        .iter()
        .zip(&ends)
        .all(|((start, _), end)| end - start >= FEWEST && span(&points[*start..*end]) >= COVERS * whole);
    if !sound {
        return vec![(None, points)];
    }
    let mut rest = points;
    let mut parts = Vec::new();
    for (start, direction) in starts.into_iter().rev() {
        parts.push((direction, rest.split_off(start)));
    }
    parts.reverse();
    parts
}
