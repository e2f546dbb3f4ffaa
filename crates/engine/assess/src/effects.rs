//! What the differences between two makings did to a reading: each by the engine, and what of a measured change they leave unexplained.
//!
//! ```text
//! e_i   = mean over all orders of ( f(S and i) - f(S) ),   sum of e_i = f(all) - f(none)
//! u_i^2 = sum over doubts k of ( pull_k of e_i )^2
//! rest  = measured change - sum of e_i
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | f(S) | reading of the first making with the differences S of the second in it: pH, ln viscosity, density, a content | its own |
//! | e_i, u_i | effect of a difference, its standard uncertainty | its own |
//! | pull_k | change by one standard uncertainty of a doubt: a constant, the coefficients, a content, a law of flow | its own |
//!
//! What one difference does depends on the others; the mean over all orders is the only way to share a total that is fair to alike differences and
//! adds up (L. S. Shapley, Annals of Mathematics Studies 28 (1953) 307, from memory). A doubt both makings share cancels as far as it moves both alike,
//! so that a change is known far better than either pH. More than [`MOST_TOGETHER`] differences are shared out over two orders only, theirs and the reverse.
//! Range: that of the model asked; a line that is solved for a pH hides what the others do to it. What is read of one making stands in
//! [`attributes`]; of its flow in [`crate::flow::learning::Shared`]. Cases: `tests/tests/effects.rs`.

pub mod attributes;

use crate::assess::{AssessError, Known, solved};
use levigate_formula::sheet::Sheet;
use levigate_formula::water_phase::WaterPhase;
use std::collections::BTreeMap;

/// Differences whose every combination is looked at.
pub const MOST_TOGETHER: usize = 8;

/// A number with every doubt about it, each as what one standard uncertainty of it does.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Stand {
    /// The number.
    pub value: f64,
    /// By doubt, with its sign.
    pub pulls: BTreeMap<String, f64>,
}

impl Stand {
    /// A number nothing is open about.
    #[must_use]
    pub fn of(value: f64) -> Self {
        Self { value, pulls: BTreeMap::new() }
    }

    /// Standard uncertainty: the doubts are independent of each other.
    #[must_use]
    pub fn uncertainty(&self) -> f64 {
        self.pulls.values().map(|pull| pull * pull).sum::<f64>().sqrt()
    }

    /// Adds so much of another one; a doubt that both have is the same doubt.
    pub fn add(&mut self, times: f64, other: &Self) {
        self.value += times * other.value;
        for (doubt, pull) in &other.pulls {
            *self.pulls.entry(doubt.clone()).or_default() += times * pull;
        }
    }

    /// Whence to where.
    #[must_use]
    pub fn change(from: &Self, to: &Self) -> Self {
        let mut change = to.clone();
        change.add(-1.0, from);
        change
    }
}

/// The pH of a sheet, neat at 25 C; see [`attributes::ph`].
///
/// # Errors
/// [`AssessError`] for a sheet that cannot be settled or solved.
pub fn ph_stand(sheet: &Sheet, known: &Known<'_>) -> Result<Stand, AssessError> {
    let (_, composition, mixture) = solved(sheet, known)?;
    Ok(attributes::ph(&mixture, &composition, known))
}

/// What weighing one making leaves open about its pH: one standard uncertainty, where every line may be off by a relative share of its own.
///
/// # Errors
/// [`AssessError`] for a sheet that cannot be settled or solved.
pub fn weighing_doubt(sheet: &Sheet, known: &Known<'_>, relative: f64) -> Result<f64, AssessError> {
    let (settled, _, mixture) = solved(sheet, known)?;
    let squares =
        settled.lines.iter().enumerate().filter(|(at, _)| *at != settled.remainder).map(|(_, line)| {
            let along = WaterPhase::of_constituents(&line.constituents, known.library);
            (mixture.ph_slope(&along) * line.percent * relative).powi(2)
        });
    Ok(squares.filter(|square| square.is_finite()).sum::<f64>().sqrt())
}

/// Shares a change out among differences: `stand` answers for the first making with the marked differences in it.
///
/// # Errors
/// The first one of `stand`.
pub fn shared_out<E>(
    differences: usize,
    mut stand: impl FnMut(&[bool]) -> Result<Stand, E>,
) -> Result<Vec<Stand>, E> {
    if differences > MOST_TOGETHER {
        return over_two_orders(differences, stand);
    }
    let sets = 1_usize << differences;
    let marks = |set: usize| -> Vec<bool> { (0..differences).map(|at| set >> at & 1 == 1).collect() };
    let stands: Vec<Stand> = (0..sets).map(|set| stand(&marks(set))).collect::<Result<_, _>>()?;
    let weights = order_weights(differences);
    let effect = |at: usize| {
        let mut effect = Stand::default();
        for set in (0..sets).filter(|set| set >> at & 1 == 0) {
            let change = Stand::change(&stands[set], &stands[set | 1 << at]);
            effect.add(weights[set.count_ones() as usize], &change);
        }
        effect
    };
    Ok((0..differences).map(effect).collect())
}

/// Share of the orders in which just so many differences stand before one of them: `s! (n - s - 1)! / n!`.
fn order_weights(differences: usize) -> Vec<f64> {
    let count = |number: usize| {
        (1..=number).map(|factor| u32::try_from(factor).map_or(0.0, f64::from)).product::<f64>()
    };
    (0..differences)
        .map(|before| count(before) * count(differences - before - 1) / count(differences))
        .collect()
}

/// The mean of their order and its reverse.
fn over_two_orders<E>(
    differences: usize,
    mut stand: impl FnMut(&[bool]) -> Result<Stand, E>,
) -> Result<Vec<Stand>, E> {
    let mut effects = vec![Stand::default(); differences];
    let forth: Vec<usize> = (0..differences).collect();
    let back: Vec<usize> = forth.iter().rev().copied().collect();
    for order in [forth, back] {
        let mut marks = vec![false; differences];
        let mut before = stand(&marks)?;
        for at in order {
            marks[at] = true;
            let after = stand(&marks)?;
            effects[at].add(0.5, &Stand::change(&before, &after));
            before = after;
        }
    }
    Ok(effects)
}

/// The next trial that tells most: the first making with one of the differences in it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct NextTrial {
    /// Which difference.
    pub difference: usize,
    /// What of its effect is open now, given the change of all together, one standard deviation.
    pub open: f64,
    /// What would be open then.
    pub open_then: f64,
}

/// Which difference to try alone, where the change of all together is known and a reading has a standard deviation. Of everything that may
/// be behind the change, `open` holds how far its effect may be off, one standard deviation.
///
/// ```text
/// C_i = v_i (v - v_i) / v,      C_i then = C_i r / (C_i + r)
/// ```
/// with v the variances of the effects, v their sum and r that of the change between two readings. None where fewer than two are in question, or
/// where a reading is too coarse to tell them apart.
#[must_use]
pub fn next_trial(open: &[f64], reading: f64) -> Option<NextTrial> {
    let variances: Vec<f64> = open.iter().map(|deviation| deviation.powi(2)).collect();
    let all: f64 = variances.iter().sum();
    let noise = 2.0 * reading * reading;
    let told = |variance: f64| variance * (all - variance) / all;
    let (difference, open) = variances
        .iter()
        .map(|variance| told(*variance))
        .enumerate()
        .filter(|(_, open)| open.is_finite() && *open > noise)
        .reduce(|best, one| if one.1 > best.1 { one } else { best })?;
    Some(NextTrial { difference, open: open.sqrt(), open_then: (open * noise / (open + noise)).sqrt() })
}
