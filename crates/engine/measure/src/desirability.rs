//! Several wishes at once as one number between 0 and 1.
//!
//! ```text
//! larger      d = ((y - L)/(T - L))^r      0 below L, 1 from T on
//! smaller     d = ((U - y)/(U - T))^r      1 up to T, 0 beyond U
//! target      both, with T between L and U
//! together    D = (d_1 d_2 ... d_m)^(1/m)
//! ```
//!
//! L, T and U in the unit of what is wished for; r above zero, one for a straight line, larger where only near the target is good enough.
//! One wish not met at all makes D zero, whatever the others.
//! Source: Derringer and Suich, J. Qual. Technol. 12 (1980) 214, from memory. Cases: `tests/published/mixtures.toml`.

use crate::elementary::Elementary as _;
use serde::Serialize;

/// What is wished of one attribute.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "wish")]
pub enum Wish {
    /// As much as can be.
    Larger {
        /// Nothing is worth anything below it.
        low: f64,
        /// More is worth no more.
        target: f64,
        /// Exponent.
        weight: f64,
    },
    /// As little as can be.
    Smaller {
        /// Less is worth no more.
        target: f64,
        /// Nothing is worth anything beyond it.
        high: f64,
        /// Exponent.
        weight: f64,
    },
    /// As near as can be.
    Target {
        /// Nothing is worth anything below it.
        low: f64,
        /// What is wished.
        target: f64,
        /// Nor beyond it.
        high: f64,
        /// Exponents below and above the target.
        weights: [f64; 2],
    },
}

impl Wish {
    /// How well a value meets it, 0 to 1; 0 for what is not a number.
    #[must_use]
    pub fn met(&self, value: f64) -> f64 {
        let rise = |from: f64, to: f64, weight: f64| {
            let share = (value - from) / (to - from);
            if share >= 1.0 {
                1.0
            } else if share > 0.0 {
                share.to_the(weight)
            } else {
                0.0
            }
        };
        match *self {
            Self::Larger { low, target, weight } => rise(low, target, weight),
            Self::Smaller { target, high, weight } => rise(high, target, weight),
            Self::Target { low, target, high, weights: [below, above] } => {
                if value <= target {
                    rise(low, target, below)
                } else {
                    rise(high, target, above)
                }
            }
        }
    }

    /// How far a value is from being worth anything, in widths of the wish; 0 where it is worth something.
    fn missing(&self, value: f64) -> f64 {
        let away = |from: f64, to: f64| ((from - value) / (to - from)).max(0.0);
        let miss = match *self {
            Self::Larger { low, target, .. } => away(low, target),
            Self::Smaller { target, high, .. } => away(high, target),
            Self::Target { low, target, high, .. } => away(low, target).max(away(high, target)),
        };
        if miss.is_nan() { f64::MAX } else { miss }
    }
}

/// How well values meet their wishes together; one for no wish.
#[must_use]
pub fn together(wishes: &[Wish], values: &[f64]) -> f64 {
    let product: f64 = wishes.iter().zip(values).map(|(wish, value)| wish.met(*value)).product();
    #[expect(clippy::cast_precision_loss, reason = "a few wishes")]
    let power = 1.0 / wishes.len().max(1) as f64;
    product.to_the(power)
}

/// A number to climb by: [`together`], and where that is nothing, how far it is from being something, below zero.
#[must_use]
pub fn climbing(wishes: &[Wish], values: &[f64]) -> f64 {
    let all = together(wishes, values);
    if all > 0.0 {
        return all;
    }
    -wishes.iter().zip(values).map(|(wish, value)| wish.missing(*value)).sum::<f64>()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_wish_rises_between_its_ends() {
        let target = Wish::Target { low: 2.0, target: 3.0, high: 5.0, weights: [1.0, 2.0] };
        let met: Vec<f64> = [1.0, 2.5, 3.0, 4.0, 5.0, f64::NAN].map(|y| target.met(y)).to_vec();
        assert_eq!(met, [0.0, 0.5, 1.0, 0.25, 0.0, 0.0]);
        let smaller = Wish::Smaller { target: 1.0, high: 3.0, weight: 1.0 };
        assert_eq!([0.0, 2.0, 4.0].map(|y| smaller.met(y)), [1.0, 0.5, 0.0]);
        assert_eq!(together(&[target, smaller], &[4.0, 3.5]), 0.0);
        assert!((together(&[target, smaller], &[4.0, 2.0]) - 0.125_f64.sqrt()).abs() < 1e-15);
        assert!(climbing(&[smaller], &[4.0]) > climbing(&[smaller], &[5.0]));
    }
}
