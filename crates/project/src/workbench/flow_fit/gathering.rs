//! Curves of very many points: gathered into fewer before the fit, and said so.

use super::{PointReading, TimedReading};
use crate::flow_table::{MeasuredPoint, TimedPoint};
use levigate_measure::elementary::Elementary as _;

/// More points than this are gathered.
const MOST: usize = 400;
/// Strips of equal width.
const STRIPS: usize = 200;

/// Points as they go into the fit.
pub(super) struct Gathered<P> {
    pub(super) points: Vec<P>,
    pub(super) words: Option<String>,
}

/// Points in a strip: the first line, the means of both numbers, how many.
struct Strip {
    line: usize,
    x: f64,
    y: f64,
    count: usize,
}

/// Gathers points, `x` rising, into strips of equal width in `x`.
fn strips(points: &[(usize, f64, f64)]) -> Vec<Strip> {
    let (Some(first), Some(last)) = (points.first(), points.last()) else { return Vec::new() };
    let width = (last.1 - first.1) / STRIPS as f64;
    let mut strips: Vec<Strip> = Vec::with_capacity(STRIPS);
    let mut upper = f64::NEG_INFINITY;
    for &(line, x, y) in points {
        if x > upper {
            let strip = ((x - first.1) / width).floor();
            upper = first.1 + (strip + 1.0) * width;
            strips.push(Strip { line, x: 0.0, y: 0.0, count: 0 });
        }
        if let Some(strip) = strips.last_mut() {
            strip.count += 1;
            strip.line = strip.line.min(line);
            strip.x += x;
            strip.y += y;
        }
    }
    for strip in &mut strips {
        strip.x /= strip.count as f64;
        strip.y /= strip.count as f64;
    }
    strips
}

/// Gathers points sorted by shear rate where they are too many: the geometric means of rate and stress in strips of equal width.
pub(super) fn gathered(points: Vec<MeasuredPoint>) -> Gathered<PointReading> {
    let plain = |point: &MeasuredPoint| PointReading {
        line: point.line,
        shear_rate: point.shear_rate,
        stress: point.stress,
        count: 1,
    };
    let alike =
        points.first().zip(points.last()).is_none_or(|(first, last)| first.shear_rate == last.shear_rate);
    if points.len() <= MOST || alike {
        return Gathered { points: points.iter().map(plain).collect(), words: None };
    }
    let logarithms: Vec<(usize, f64, f64)> =
        points.iter().map(|point| (point.line, point.shear_rate.log_e(), point.stress.log_e())).collect();
    let strips: Vec<PointReading> = strips(&logarithms)
        .into_iter()
        .map(|Strip { line, x, y, count }| PointReading {
            line,
            shear_rate: x.exp_e(),
            stress: y.exp_e(),
            count,
        })
        .collect();
    let words = format!(
        "{} points were gathered into {} before the fit: geometric means in strips of equal width in the logarithm of the shear rate",
        points.len(),
        strips.len()
    );
    Gathered { points: strips, words: Some(words) }
}

/// Gathers readings over time, times rising, where they are too many: strips as wide as the time to them, so that the beginning keeps its readings.
pub(super) fn gathered_over_time(points: Vec<TimedPoint>) -> Gathered<TimedReading> {
    let plain = |point: &TimedPoint| TimedReading {
        line: point.line,
        time_s: point.time_s,
        viscosity: point.viscosity,
        count: 1,
    };
    let span = points.first().zip(points.last()).map_or(0.0, |(first, last)| last.time_s - first.time_s);
    if points.len() <= MOST || span <= 0.0 {
        return Gathered { points: points.iter().map(plain).collect(), words: None };
    }
    // One usual step is added to every time, so that the first at zero has a logarithm.
    let step = span / points.len() as f64;
    let logarithms: Vec<(usize, f64, f64)> = points
        .iter()
        .map(|point| (point.line, (point.time_s + step).log_e(), point.viscosity.log_e()))
        .collect();
    let strips: Vec<TimedReading> = strips(&logarithms)
        .into_iter()
        .map(|Strip { line, x, y, count }| TimedReading {
            line,
            time_s: (x.exp_e() - step).max(0.0),
            viscosity: y.exp_e(),
            count,
        })
        .collect();
    let words = format!(
        "{} readings were gathered into {} before the fit: geometric means in strips of equal width in the logarithm of the time",
        points.len(),
        strips.len()
    );
    Gathered { points: strips, words: Some(words) }
}
