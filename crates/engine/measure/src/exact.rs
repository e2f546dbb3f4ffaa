//! Sums and products with the rounding kept: twice the digits of a number where a difference would otherwise eat them.
//!
//! A [`Wide`] is an unevaluated sum of two numbers. A sum of two numbers and its rounding are exact by six additions (Knuth); a product and
//! its rounding by one fused multiplication. Relative error of a dot product about 1e-32 times its condition, instead of 1e-16.
//! Source: Dekker, Numer. Math. 18 (1971) 224; Ogita, Rump and Oishi, SIAM J. Sci. Comput. 26 (2005) 1955, both from memory.

/// A number as the unevaluated sum of a leading part and what its rounding left.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Wide {
    high: f64,
    low: f64,
}

impl Wide {
    /// The number itself.
    #[must_use]
    pub fn from(value: f64) -> Self {
        Self { high: value, low: 0.0 }
    }

    /// The same and one more number.
    #[must_use]
    pub fn and(self, more: f64) -> Self {
        let (sum, rest) = two_sum(self.high, more);
        Self::settled(sum, rest + self.low)
    }

    /// The same and a product of two numbers.
    #[must_use]
    pub fn and_product(self, one: f64, other: f64) -> Self {
        let product = one * other;
        let rounding = libm::fma(one, other, -product);
        let (sum, rest) = two_sum(self.high, product);
        Self::settled(sum, rest + (self.low + rounding))
    }

    /// The nearest plain number.
    #[must_use]
    pub fn value(self) -> f64 {
        self.high + self.low
    }

    fn settled(high: f64, low: f64) -> Self {
        let sum = high + low;
        Self { high: sum, low: low - (sum - high) }
    }
}

fn two_sum(one: f64, other: f64) -> (f64, f64) {
    let sum = one + other;
    let part = sum - one;
    (sum, (one - (sum - part)) + (other - part))
}

/// Sum of numbers, rounded once.
#[must_use]
pub fn sum(values: impl IntoIterator<Item = f64>) -> f64 {
    values.into_iter().fold(Wide::default(), Wide::and).value()
}

/// Sum of squares, rounded once.
#[must_use]
pub fn sum_of_squares(values: impl IntoIterator<Item = f64>) -> f64 {
    values.into_iter().fold(Wide::default(), |sum, value| sum.and_product(value, value)).value()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_rounding_would_eat_is_kept() {
        assert_eq!(sum([1e16, 1.0, -1e16]), 1.0);
        let tiny = 1.0 / 1_073_741_824.0;
        let product = Wide::from(-1.0).and_product(1.0 + tiny, 1.0 - tiny);
        assert_eq!(product.value(), -tiny * tiny);
    }
}
