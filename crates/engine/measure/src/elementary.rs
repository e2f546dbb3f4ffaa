//! Logarithms, exponentials and powers that give the same bits on every machine.
//!
//! The standard library takes them from the system's mathematics library, whose last bit differs from system to system; `libm` is
//! Rust all the way down. Sums, products, quotients and roots are exact to the last bit everywhere by IEEE 754 and need no stand-in.

/// Elementary functions as methods, named apart from those of the standard library.
pub trait Elementary: Copy {
    /// Natural logarithm.
    #[must_use]
    fn log_e(self) -> f64;
    /// Natural logarithm of one more than the number.
    #[must_use]
    fn log_e_1p(self) -> f64;
    /// Decimal logarithm.
    #[must_use]
    fn log_10(self) -> f64;
    /// Exponential.
    #[must_use]
    fn exp_e(self) -> f64;
    /// The number raised to a power.
    #[must_use]
    fn to_the(self, power: f64) -> f64;
    /// Sine of an angle in radians.
    #[must_use]
    fn sine(self) -> f64;
    /// Share of the standard normal distribution below the number.
    #[must_use]
    fn normal_below(self) -> f64;
    /// Root of the sum of two squares, for numbers whose squares are finite.
    #[must_use]
    fn root_sum_square(self, other: f64) -> f64;
}

impl Elementary for f64 {
    #[inline]
    fn log_e(self) -> f64 {
        libm::log(self)
    }

    #[inline]
    fn log_e_1p(self) -> f64 {
        libm::log1p(self)
    }

    #[inline]
    fn log_10(self) -> f64 {
        libm::log10(self)
    }

    #[inline]
    fn exp_e(self) -> f64 {
        libm::exp(self)
    }

    #[inline]
    fn to_the(self, power: f64) -> f64 {
        libm::pow(self, power)
    }

    #[inline]
    fn sine(self) -> f64 {
        libm::sin(self)
    }

    #[inline]
    fn normal_below(self) -> f64 {
        0.5 * libm::erfc(-self * core::f64::consts::FRAC_1_SQRT_2)
    }

    #[inline]
    fn root_sum_square(self, other: f64) -> f64 {
        (self * self + other * other).sqrt()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    #[expect(clippy::disallowed_methods, reason = "held against the functions they stand in for")]
    fn they_are_the_functions_they_stand_in_for() {
        let near = |ours: f64, theirs: f64| {
            assert!((ours - theirs).abs() <= 4e-16 * theirs.abs(), "{ours} {theirs}")
        };
        for step in 1..2000 {
            let x = f64::from(step) * 0.013_7;
            near(x.log_e(), x.ln());
            near(x.log_10(), x.log10());
            near(x.log_e_1p(), x.ln_1p());
            assert!((x.sine() - x.sin()).abs() <= 2e-16);
            near(x.exp_e(), x.exp());
            near(10f64.to_the(x - 14.0), 10f64.powf(x - 14.0));
            near(x.root_sum_square(0.3), x.hypot(0.3));
        }
    }
}
