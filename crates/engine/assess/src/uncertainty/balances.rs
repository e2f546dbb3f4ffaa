//! On which balance each line goes, and in how many portions: what that makes of its mass.
//!
//! ```text
//! u^2(m) = sum over the portions of u^2(share of m, balance of the portion)
//! ```
//!
//! A line goes onto the balance that is named for it, else onto the finest range it fits ("up to 5 g"), else onto the usual one; a portion of a
//! line goes by its own weight. Weighings of portions are independent; joined, they are taken as normal. Case: `in_portions` of
//! `levigate_measure::weighing`.

use super::Ask;
use crate::assess::Assessed;
use crate::procedure::{Asked, procedure};
use levigate_measure::uncertainty::Scatter;
use levigate_measure::weighing::Balance;

/// The balances of a batch.
pub(super) struct Balances<'a> {
    ask: &'a Ask<'a>,
    /// Shares of every line of the sheet in which it is weighed.
    portions: Vec<Vec<f64>>,
}

impl<'a> Balances<'a> {
    pub(super) fn of(ask: &'a Ask<'a>, assessed: &Assessed<'_>) -> Self {
        let lines = ask.inquiry.sheet.lines().count();
        let mut portions = vec![Vec::new(); lines];
        let known = &ask.inquiry.known;
        let made = ask.handling.and_then(|(handling, convention)| {
            let sheet = ask.inquiry.sheet;
            procedure(&Asked { sheet, assessed, known, handling, standing: None, convention }).ok()
        });
        for part in made.iter().flat_map(|made| &made.steps).flat_map(|step| &step.lines) {
            if let Some(own) = portions.get_mut(part.line) {
                own.push(part.share_percent.map_or(1.0, |percent| percent / 100.0));
            }
        }
        for own in &mut portions {
            // Steps a person wrote may forget a part of a line: it is weighed all the same.
            let sum: f64 = own.iter().sum();
            if (sum - 1.0).abs() > 1e-6 {
                *own = vec![1.0];
            }
        }
        Self { ask, portions }
    }

    /// How many portions a line is weighed in.
    pub(super) fn portions(&self, line: usize) -> usize {
        self.portions.get(line).map_or(1, Vec::len)
    }

    /// The balance for so many grams of a line.
    pub(super) fn on(&self, line: usize, grams: f64) -> &'a Balance {
        let others = &self.ask.others;
        let named = others.iter().find(|other| other.lines.contains(&line));
        let range = || {
            let fits = others.iter().filter(|other| other.up_to_g.is_some_and(|most| grams <= most));
            fits.min_by(|a, b| a.up_to_g.unwrap_or(f64::MAX).total_cmp(&b.up_to_g.unwrap_or(f64::MAX)))
        };
        named.or_else(range).map_or(&self.ask.balance, |other| &other.balance)
    }

    /// The balance that the largest portion of a line goes onto.
    pub(super) fn of_line(&self, line: usize, grams: f64) -> &'a Balance {
        let largest = self.portions.get(line).map_or(1.0, |own| own.iter().copied().fold(0.0, f64::max));
        self.on(line, grams * largest)
    }

    /// Scatter of the mass of a line.
    pub(super) fn scatter(&self, line: usize, grams: f64) -> Scatter {
        self.joined(line, grams, |portion_g| self.on(line, portion_g))
    }

    /// The same with the line on another balance.
    pub(super) fn scatter_on(&self, balance: &Balance, line: usize, grams: f64) -> Scatter {
        self.joined(line, grams, |_| balance)
    }

    fn joined<'b>(&self, line: usize, grams: f64, on: impl Fn(f64) -> &'b Balance) -> Scatter {
        match self.portions.get(line).map(Vec::as_slice) {
            Some(shares) if shares.len() > 1 => {
                let one = |share: &f64| on(grams * share).scatter(grams * share).standard_deviation();
                Scatter::normal(shares.iter().map(|share| one(share).powi(2)).sum::<f64>().sqrt())
            }
            _ => on(grams).scatter(grams),
        }
    }
}
