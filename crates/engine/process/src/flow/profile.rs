//! 95 % limits by the profile of the sum of squares: one parameter is held, all others are fitted anew, until the sum has grown by what
//! scatter allows. See [`super::estimate`] for the equation.

use super::estimate::{ProfileLimits, student_95};

/// A minimum whose profile is wanted, in the parameters of the search.
pub(crate) struct Minimum<const P: usize> {
    pub(crate) parameters: [f64; P],
    pub(crate) sum: f64,
    /// Points less free parameters.
    pub(crate) degrees: usize,
    /// Standard deviations where known: only the length of the first step hangs on them.
    pub(crate) deviations: [Option<f64>; P],
    pub(crate) bounds: [[f64; 2]; P],
}

/// Steps outwards before a side counts as open, each half as long again as the one before.
const STEPS: usize = 30;
/// Turns of the search between a point inside and one outside.
const TURNS: usize = 60;

impl<const P: usize> Minimum<P> {
    /// Limits of all parameters. `refit` fits within the bounds given, from a start, and gives parameters and sum.
    pub(crate) fn limits(
        &self,
        mut refit: impl FnMut([f64; P], &[[f64; 2]; P]) -> Option<([f64; P], f64)>,
    ) -> [ProfileLimits; P] {
        core::array::from_fn(|j| ProfileLimits {
            low: self.side(j, -1.0, &mut refit),
            high: self.side(j, 1.0, &mut refit),
        })
    }

    fn side(
        &self,
        j: usize,
        side: f64,
        refit: &mut impl FnMut([f64; P], &[[f64; 2]; P]) -> Option<([f64; P], f64)>,
    ) -> Option<f64> {
        let factor = student_95(self.degrees);
        let variance = self.sum / self.degrees as f64;
        if !(factor.is_finite() && variance > 0.0) {
            return None;
        }
        // How far the sum lies below what is allowed, as a root: nearly straight in the parameter.
        let mut warm = self.parameters;
        let mut miss = |value: f64| {
            let mut bounds = self.bounds;
            bounds[j] = [value, value];
            let mut start = warm;
            start[j] = value;
            let (found, sum) = refit(start, &bounds)?;
            warm = found;
            Some(((sum - self.sum).max(0.0) / variance).sqrt() - factor)
        };
        let end = if side < 0.0 { self.bounds[j][0] } else { self.bounds[j][1] };
        let mut step = side * self.deviations[j].unwrap_or(0.1).clamp(1e-9, 10.0) * 0.5 * factor;
        let (mut inside, mut inside_miss) = (self.parameters[j], -factor);
        for _ in 0..STEPS {
            let value = if side < 0.0 { (inside + step).max(end) } else { (inside + step).min(end) };
            let found = miss(value)?;
            if found >= 0.0 {
                return between([inside, value], [inside_miss, found], &mut miss);
            }
            if value == end {
                return None;
            }
            (inside, inside_miss) = (value, found);
            step *= 1.5;
        }
        None
    }
}

/// Where the miss is zero, by regula falsi with Illinois' halving.
fn between(mut x: [f64; 2], mut y: [f64; 2], miss: &mut impl FnMut(f64) -> Option<f64>) -> Option<f64> {
    let mut kept = None;
    for _ in 0..TURNS {
        let value = (x[0] * y[1] - x[1] * y[0]) / (y[1] - y[0]);
        let found = miss(value)?;
        if found.abs() < 1e-7 || (x[1] - x[0]).abs() < 1e-10 * x[1].abs().max(1e-3) {
            return Some(value);
        }
        let replaced = usize::from(found > 0.0);
        x[replaced] = value;
        y[replaced] = found;
        if kept == Some(1 - replaced) {
            y[1 - replaced] *= 0.5;
        }
        kept = Some(1 - replaced);
    }
    Some(0.5 * (x[0] + x[1]))
}
