//! Curves of very many points: gathered into fewer before the fit, and said so.

use super::PointReading;
use crate::flow_table::MeasuredPoint;
use levigate_measure::elementary::Elementary as _;

/// More points than this are gathered.
const MOST: usize = 400;
/// Strips of equal width in the logarithm of the shear rate.
const STRIPS: usize = 200;

/// Points as they go into the fit.
pub(super) struct Gathered {
    pub(super) points: Vec<PointReading>,
    pub(super) words: Option<String>,
}

/// Gathers points sorted by shear rate where they are too many: the geometric means of rate and stress in strips of equal width.
pub(super) fn gathered(points: Vec<MeasuredPoint>) -> Gathered {
    let plain = |point: &MeasuredPoint| PointReading {
        line: point.line,
        shear_rate: point.shear_rate,
        stress: point.stress,
        count: 1,
    };
    let few = Gathered { points: Vec::new(), words: None };
    let (Some(first), Some(last)) = (points.first(), points.last()) else { return few };
    if points.len() <= MOST || first.shear_rate == last.shear_rate {
        return Gathered { points: points.iter().map(plain).collect(), words: None };
    }
    let low = first.shear_rate.log_e();
    let width = (last.shear_rate.log_e() - low) / STRIPS as f64;
    let mut strips: Vec<PointReading> = Vec::with_capacity(STRIPS);
    let mut upper = f64::NEG_INFINITY;
    for point in &points {
        let (ln_rate, ln_stress) = (point.shear_rate.log_e(), point.stress.log_e());
        if ln_rate > upper {
            let strip = ((ln_rate - low) / width).floor();
            upper = low + (strip + 1.0) * width;
            strips.push(PointReading { line: point.line, shear_rate: 0.0, stress: 0.0, count: 0 });
        }
        if let Some(strip) = strips.last_mut() {
            // Sums of logarithms until the strip is closed below.
            strip.shear_rate += ln_rate;
            strip.stress += ln_stress;
            strip.line = strip.line.min(point.line);
            strip.count += 1;
        }
    }
    for strip in &mut strips {
        strip.shear_rate = (strip.shear_rate / strip.count as f64).exp_e();
        strip.stress = (strip.stress / strip.count as f64).exp_e();
    }
    let words = format!(
        "{} points were gathered into {} before the fit: geometric means in strips of equal width in the logarithm of the shear rate",
        points.len(),
        strips.len()
    );
    Gathered { points: strips, words: Some(words) }
}
