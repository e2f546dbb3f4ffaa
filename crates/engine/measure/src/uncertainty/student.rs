//! Coverage factors: the quantiles of the normal distribution and of Student's t for any number of degrees of freedom.
//!
//! `P(|t| <= k) = 1 - I(nu/(nu + k^2); nu/2, 1/2)` with the regularised incomplete beta function. Solved for k by bracketing.
//! Range: coverage above 0 and below 1, degrees of freedom from 0.1 up. Relative accuracy of k about 1e-10, held against scipy in
//! `tests/cross/uncertainty.toml`. Source of the use: JCGM 100, annex G.

use crate::distribution::incomplete_beta;
use crate::elementary::Elementary as _;
use crate::root::bracketed;

/// From here on Student's t is the normal distribution to ten digits.
const MANY: f64 = 1e9;
/// Fewest degrees of freedom.
const LEAST_DEGREES: f64 = 0.1;

/// Factor by which a standard uncertainty is multiplied to cover a two-sided share of Student's t; infinite degrees give the normal one.
/// `NaN` where the coverage is not between 0 and 1 or the degrees are below 0.1.
#[must_use]
pub fn factor(coverage: f64, degrees: f64) -> f64 {
    if !(coverage > 0.0 && coverage < 1.0 && degrees >= LEAST_DEGREES) {
        return f64::NAN;
    }
    let miss = |ln_k: f64| outside(ln_k.exp_e(), degrees).max(1e-300).log_e() - (1.0 - coverage).log_e();
    // The tail falls with the power of the degrees at the least, so the bracket has room for a few of them.
    bracketed(miss, -60.0, 300.0, 1e-13, 400).map_or(f64::NAN, f64::exp_e)
}

/// Share of the standard normal distribution below a point.
#[must_use]
pub fn normal_below(z: f64) -> f64 {
    0.5 * libm::erfc(-z / core::f64::consts::SQRT_2)
}

/// Two-sided share of Student's t beyond `k`.
#[must_use]
pub fn outside(k: f64, degrees: f64) -> f64 {
    if degrees >= MANY {
        return libm::erfc(k / core::f64::consts::SQRT_2);
    }
    let square = k * k;
    if !square.is_finite() {
        return 0.0;
    }
    incomplete_beta(0.5 * degrees, 0.5, degrees / (degrees + square), square / (degrees + square))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn published_factors() {
        // JCGM 100, table G.2.
        for (coverage, degrees, k) in [
            (0.95, 1.0, 12.71),
            (0.95, 10.0, 2.23),
            (0.99, 16.0, 2.92),
            (0.9545, 5.0, 2.65),
            (0.95, f64::INFINITY, 1.960),
        ] {
            assert!(
                (factor(coverage, degrees) - k).abs() < 0.006,
                "{degrees}: {}",
                factor(coverage, degrees)
            );
        }
    }

    #[test]
    fn one_degree_is_cauchys() {
        // The quantile of one degree of freedom is a tangent.
        for coverage in [0.5, 0.9, 0.99, 0.999_99] {
            let angle = core::f64::consts::FRAC_PI_2 * coverage;
            let tangent = libm::tan(angle);
            assert!((factor(coverage, 1.0) / tangent - 1.0).abs() < 1e-9);
        }
        assert!(factor(1.0, 5.0).is_nan() && factor(0.95, 0.0).is_nan());
    }
}
