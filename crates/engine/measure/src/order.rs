//! Whether numbers in their order rise or fall, and how often something happens: tests that take no law for granted.
//!
//! ```text
//! S   = pairs that rise - pairs that fall                                (Kendall)
//! p   = P(S at most so low) where every order is as likely as another
//! low, high: k of n would be found, or more (fewer), with probability (1 - c)/2      (Clopper and Pearson)
//! ```
//!
//! Without ties and up to [`MOST_EXACT`] numbers the distribution of S is counted out; beyond, and with ties, S is taken as normal with its variance
//! and half a pair off (continuity). Sources: Kendall, Biometrika 30 (1938) 81; Clopper and Pearson, Biometrika 26 (1934) 404 (from memory). Cases:
//! `tests/cross/order.toml` by another program.

use crate::distribution::fisher_quantile;
use crate::elementary::Elementary as _;

/// Most numbers whose orders are counted out.
pub const MOST_EXACT: usize = 60;

/// Which way numbers go in their order.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Order {
    /// Pairs that rise less pairs that fall.
    pub score: f64,
    /// Probability of so low a score by chance: small where they fall.
    pub falling_by_chance: f64,
    /// Probability of so high a score by chance: small where they rise.
    pub rising_by_chance: f64,
}

/// Kendall's score of numbers in their order; none for fewer than three or where all are alike.
#[must_use]
pub fn order(values: &[f64]) -> Option<Order> {
    let count = values.len();
    if count < 3 || values.iter().any(|value| !value.is_finite()) {
        return None;
    }
    let (mut rising, mut falling) = (0_u32, 0_u32);
    for (at, one) in values.iter().enumerate() {
        for other in &values[at + 1..] {
            rising += u32::from(other > one);
            falling += u32::from(other < one);
        }
    }
    let pairs = (count * (count - 1) / 2) as f64;
    let score = f64::from(rising) - f64::from(falling);
    let ties = f64::from(rising) + f64::from(falling) < pairs;
    if !ties && count <= MOST_EXACT {
        let shares = inversions(count);
        let tail = |least: u32| shares.iter().skip(least as usize).sum::<f64>().min(1.0);
        return Some(Order { score, falling_by_chance: tail(falling), rising_by_chance: tail(rising) });
    }
    let n = count as f64;
    let tied: f64 = groups(values).map(|t| t * (t - 1.0) * (2.0 * t + 5.0)).sum();
    let variance = (n * (n - 1.0) * (2.0 * n + 5.0) - tied) / 18.0;
    if variance <= 0.0 {
        return None;
    }
    let below = |score: f64| ((score + 1.0) / variance.sqrt()).normal_below();
    Some(Order { score, falling_by_chance: below(score), rising_by_chance: below(-score) })
}

/// Sizes of the groups of equal numbers.
fn groups(values: &[f64]) -> impl Iterator<Item = f64> {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let sizes: Vec<f64> =
        sorted.chunk_by(|one, other| one == other).map(|alike| alike.len() as f64).collect();
    sizes.into_iter()
}

/// Share of the orders of so many numbers with so many falling pairs, by their number.
fn inversions(count: usize) -> Vec<f64> {
    let mut shares = vec![1.0];
    for size in 2..=count {
        let mut next = vec![0.0; shares.len() + size - 1];
        for (at, share) in shares.iter().enumerate() {
            for more in 0..size {
                next[at + more] += share / size as f64;
            }
        }
        shares = next;
    }
    shares
}

/// Limits of the probability behind `found` of `of`, that hold it with a probability of at least `within`; none for none of none.
#[must_use]
pub fn share_limits(found: usize, of: usize, within: f64) -> Option<[f64; 2]> {
    if of == 0 || found > of || !(0.0..1.0).contains(&within) {
        return None;
    }
    let beyond = 0.5 * (1.0 - within);
    let (k, n) = (found as f64, of as f64);
    let low = if found == 0 {
        0.0
    } else {
        k / (k + (n - k + 1.0) * fisher_quantile(beyond, 2.0 * (n - k + 1.0), 2.0 * k))
    };
    let high = if found == of {
        1.0
    } else {
        let f = fisher_quantile(beyond, 2.0 * (k + 1.0), 2.0 * (n - k));
        (k + 1.0) * f / (n - k + (k + 1.0) * f)
    };
    Some([low, high])
}
