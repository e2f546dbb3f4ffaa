//! Intervals read from draws, and whether the law of propagation agrees with them.
//!
//! With `M` draws in order and `q = pM` (to the nearest whole number) an interval reaches from one draw to the `q`-th after it: the
//! one with equal tails begins at `(M - q)/2`, the shortest wherever it is shortest. The law of propagation is confirmed when both ends of
//! its interval lie within `delta` of those of the draws, `delta` being half a unit of the last digit of the standard uncertainty that counts.
//!
//! Source: JCGM 101:2008, 5.3.4, 7.7, 8.1. Cases: `tests/published/uncertainty.toml`.

use super::monte_carlo::number;
use crate::elementary::Elementary as _;

/// A coverage interval.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Coverage {
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

/// Steps from the lower to the upper end of an interval among so many draws, and places at which it can begin.
fn steps(count: usize, coverage: f64) -> (usize, usize) {
    let last = count.saturating_sub(1);
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "between nothing and the count"
    )]
    let steps = ((coverage.clamp(0.0, 1.0) * number(count) + 0.5).floor() as usize).min(last);
    (steps, last - steps)
}

/// Places, from 0, of the ends of the interval with equal tails among so many draws in order.
#[must_use]
pub fn equal_tail_places(count: usize, coverage: f64) -> (usize, usize) {
    let (steps, spare) = steps(count, coverage);
    // `(M - q)/2`, or the next whole number, counted from 1; `spare` is `M - q - 1`.
    let low = (spare + 1).div_ceil(2).saturating_sub(1).min(spare);
    (low, low + steps)
}

impl Coverage {
    /// The interval with equal tails. Reorders the draws.
    #[must_use]
    pub fn equal_tails(draws: &mut [f64], coverage: f64) -> Self {
        if draws.is_empty() {
            return Self { low: f64::NAN, high: f64::NAN };
        }
        let (low, high) = equal_tail_places(draws.len(), coverage);
        let (below, upper, _) = draws.select_nth_unstable_by(high, f64::total_cmp);
        let upper = *upper;
        let lower = if low < high { *below.select_nth_unstable_by(low, f64::total_cmp).1 } else { upper };
        Self { low: lower, high: upper }
    }

    /// The shortest interval. Sorts the draws.
    #[must_use]
    pub fn shortest(draws: &mut [f64], coverage: f64) -> Self {
        draws.sort_unstable_by(f64::total_cmp);
        let (steps, spare) = steps(draws.len(), coverage);
        let mut best = Self { low: f64::NAN, high: f64::NAN };
        let mut width = f64::INFINITY;
        for (low, high) in draws.iter().zip(draws.iter().skip(steps)).take(spare + 1) {
            if high - low < width {
                width = high - low;
                best = Self { low: *low, high: *high };
            }
        }
        best
    }
}

/// Half a unit of the last digit that counts: with two digits 0.0754 counts to 0.075, so 0.0005.
#[must_use]
pub fn last_digit_tolerance(standard_uncertainty: f64, digits: i32) -> f64 {
    if !(standard_uncertainty > 0.0 && standard_uncertainty.is_finite()) {
        return 0.0;
    }
    #[expect(clippy::cast_possible_truncation, reason = "an exponent")]
    let mut exponent = standard_uncertainty.log_10().floor() as i32 - digits + 1;
    // Rounded up to one digit more: 0.0996 with two digits counts to 0.10.
    let whole = (standard_uncertainty / 10f64.to_the(f64::from(exponent))).round();
    if whole >= 10f64.to_the(f64::from(digits)) {
        exponent += 1;
    }
    0.5 * 10f64.to_the(f64::from(exponent))
}

/// Whether the law of propagation agrees with the draws.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Validation {
    /// Distance of the lower ends.
    pub low: f64,
    /// Distance of the upper ends.
    pub high: f64,
    /// What it may be.
    pub tolerance: f64,
}

impl Validation {
    /// Holds the interval of the law of propagation against that of the draws.
    #[must_use]
    pub fn of(propagated: Coverage, drawn: Coverage, standard_uncertainty: f64, digits: i32) -> Self {
        Self {
            low: (propagated.low - drawn.low).abs(),
            high: (propagated.high - drawn.high).abs(),
            tolerance: last_digit_tolerance(standard_uncertainty, digits),
        }
    }

    /// Whether both ends agree.
    #[must_use]
    pub fn confirmed(&self) -> bool {
        self.low <= self.tolerance && self.high <= self.tolerance
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ends_are_draws_by_their_rank() {
        // A hundred draws at 95 %: q = 95, r = 3 (counted from 1), so the 3rd and the 98th.
        let mut draws: Vec<f64> = (1..=100).rev().map(f64::from).collect();
        assert_eq!(Coverage::equal_tails(&mut draws, 0.95), Coverage { low: 3.0, high: 98.0 });
        // 1000 draws: q = 950, r = 25.
        assert_eq!(equal_tail_places(1000, 0.95), (24, 974));
        let mut skewed: Vec<f64> = (0..1000).map(|k| f64::from(k) * f64::from(k)).collect();
        assert_eq!(Coverage::shortest(&mut skewed, 0.95), Coverage { low: 0.0, high: 902_500.0 });
        assert!(Coverage::shortest(&mut [], 0.95).low.is_nan());
    }

    #[test]
    fn tolerances_as_the_supplement_has_them() {
        // The first two are the examples of JCGM 101, 7.9.2 (from memory): 0.00035 g with two digits, 2 K with one.
        for (u, digits, tolerance) in
            [(0.000_35, 2, 0.000_005), (2.0, 1, 0.5), (0.0754, 2, 0.0005), (0.0996, 2, 0.005)]
        {
            assert!((last_digit_tolerance(u, digits) / tolerance - 1.0).abs() < 1e-12, "{u}");
        }
        assert_eq!(last_digit_tolerance(0.0, 2), 0.0);
    }
}
