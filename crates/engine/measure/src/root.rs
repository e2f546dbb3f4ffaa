//! Bracketed root finding by Brent's method.
//!
//! Source: R. P. Brent, *Algorithms for Minimization without Derivatives* (1973), chapter 4 (from memory; the laws below are tested).
//! Inverse quadratic interpolation or the secant step where it stays well inside the bracket, bisection otherwise, so the
//! bracket always holds the root and the number of steps is bounded.

use thiserror::Error;

/// Why no root was found.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum RootError {
    /// The function has the same sign at both ends.
    #[error("no sign change between {low} and {high} (values {at_low} and {at_high})")]
    NotBracketed {
        /// Lower end.
        low: f64,
        /// Upper end.
        high: f64,
        /// Function there.
        at_low: f64,
        /// Function there.
        at_high: f64,
    },
    /// The function gave something that is not a number.
    #[error("the function is not a finite number at {at}")]
    NotFinite {
        /// Argument.
        at: f64,
    },
    /// The bound on steps was reached.
    #[error("no root within {steps} steps; the remaining bracket is {width} wide")]
    NotConverged {
        /// Steps taken.
        steps: usize,
        /// Width of the bracket then.
        width: f64,
    },
}

impl RootError {
    /// What to do about it.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            Self::NotBracketed { .. } => "widen the range, or accept the nearer end",
            Self::NotFinite { .. } => "check the inputs at that point",
            Self::NotConverged { .. } => "loosen the tolerance or allow more steps",
        }
    }
}

/// Root of `function` between `low` and `high`, to `tolerance` in the argument, in at most `most_steps` steps.
///
/// # Errors
/// [`RootError`] when the ends do not bracket a root, the function is not finite, or the bound is reached.
pub fn bracketed(
    mut function: impl FnMut(f64) -> f64,
    low: f64,
    high: f64,
    tolerance: f64,
    most_steps: usize,
) -> Result<f64, RootError> {
    let (mut a, mut b) = (low, high);
    let (mut at_a, mut at_b) = (function(a), function(b));
    for (x, value) in [(a, at_a), (b, at_b)] {
        if !value.is_finite() {
            return Err(RootError::NotFinite { at: x });
        }
    }
    if at_a == 0.0 {
        return Ok(a);
    }
    if at_b == 0.0 {
        return Ok(b);
    }
    if at_a.signum() == at_b.signum() {
        return Err(RootError::NotBracketed { low, high, at_low: at_a, at_high: at_b });
    }
    let (mut c, mut at_c) = (a, at_a);
    let mut step = b - a;
    let mut previous = step;
    for _ in 0..most_steps {
        if at_b.signum() == at_c.signum() {
            c = a;
            at_c = at_a;
            step = b - a;
            previous = step;
        }
        if at_c.abs() < at_b.abs() {
            (a, b, c) = (b, c, b);
            (at_a, at_b, at_c) = (at_b, at_c, at_b);
        }
        let accuracy = 2.0 * f64::EPSILON * b.abs() + 0.5 * tolerance;
        let half = 0.5 * (c - b);
        if half.abs() <= accuracy || at_b == 0.0 {
            return Ok(b);
        }
        if previous.abs() >= accuracy && at_a.abs() > at_b.abs() {
            let ratio = at_b / at_a;
            let (mut p, mut q) = if a == c {
                (2.0 * half * ratio, 1.0 - ratio)
            } else {
                let (u, v) = (at_a / at_c, at_b / at_c);
                (
                    ratio * (2.0 * half * u * (u - v) - (b - a) * (v - 1.0)),
                    (u - 1.0) * (v - 1.0) * (ratio - 1.0),
                )
            };
            if p > 0.0 {
                q = -q;
            }
            p = p.abs();
            if 2.0 * p < (3.0 * half * q - (accuracy * q).abs()).min((previous * q).abs()) {
                previous = step;
                step = p / q;
            } else {
                step = half;
                previous = half;
            }
        } else {
            step = half;
            previous = half;
        }
        a = b;
        at_a = at_b;
        b += if step.abs() > accuracy { step } else { accuracy.copysign(half) };
        at_b = function(b);
        if !at_b.is_finite() {
            return Err(RootError::NotFinite { at: b });
        }
    }
    Err(RootError::NotConverged { steps: most_steps, width: (c - b).abs() })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn finds_the_root_of_two() {
        let root = bracketed(|x| x * x - 2.0, 0.0, 2.0, 1e-14, 100).unwrap();
        assert!((root - std::f64::consts::SQRT_2).abs() < 1e-12);
    }

    #[test]
    fn a_steep_function_does_not_trap_it() {
        let root = bracketed(|x: f64| x.powi(21) - 1e-9, 0.0, 10.0, 1e-13, 200).unwrap();
        assert!((root.powi(21) / 1e-9 - 1.0).abs() < 1e-9);
    }

    #[test]
    fn says_when_the_ends_do_not_bracket() {
        assert!(matches!(
            bracketed(|x| x * x + 1.0, -1.0, 1.0, 1e-9, 50),
            Err(RootError::NotBracketed { .. })
        ));
    }
}
