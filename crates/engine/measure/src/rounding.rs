//! Rounding the lines of a batch to what a balance can show, without breaking the total.
//!
//! Every target is brought to a whole number of divisions of the balance. Where the sheet has a q.s. line, the others
//! are rounded to the nearest division and the q.s. line takes what is left. Where it has none, each line is rounded
//! down and the divisions still missing go to the lines with the largest remainders, so that no line is off by a whole
//! division. All of it in decimals: the total is the batch size to the last digit.

use rust_decimal::{Decimal, RoundingStrategy};
use serde::{Deserialize, Serialize};
use thiserror::Error;

/// Who took the difference that rounding makes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", tag = "by")]
pub enum Absorbed {
    /// The q.s. line, by its position.
    Remainder {
        /// Position among the lines, from 0.
        line: usize,
    },
    /// The lines with the largest remainders.
    LargestRemainder,
}

/// Targets in whole divisions.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Apportioned {
    /// Grams per line, with the decimals of the division.
    pub grams: Vec<Decimal>,
    /// Who took the difference.
    pub absorbed: Absorbed,
    /// The difference: for a q.s. line what it took more (or less) than its exact target, else the sum of what the
    /// lines were raised by.
    pub difference: Decimal,
}

/// Why a batch cannot be rounded.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum RoundingError {
    /// The division is zero or below.
    #[error("a balance division of {division} g is not a division")]
    Division {
        /// What was given.
        division: Decimal,
    },
    /// The batch is not a whole number of divisions.
    #[error(
        "a batch of {total} g is not a whole number of {division} g divisions; the nearest are {below} g and {above} g"
    )]
    TotalOffDivision {
        /// Batch.
        total: Decimal,
        /// Division.
        division: Decimal,
        /// Next size below.
        below: Decimal,
        /// Next size above.
        above: Decimal,
    },
    /// A target is below zero, or the batch is not above it.
    #[error("a target of {grams} g cannot be weighed")]
    Negative {
        /// The target.
        grams: Decimal,
    },
    /// The lines do not add up to the batch.
    #[error("the lines add up to {sum} g, the batch is {total} g")]
    SumDiffers {
        /// Sum of the lines.
        sum: Decimal,
        /// Batch.
        total: Decimal,
    },
    /// The q.s. line would fall below zero.
    #[error("the other lines take {others} g of {total} g; nothing is left for the q.s. line")]
    NothingLeft {
        /// Sum of the other lines, rounded.
        others: Decimal,
        /// Batch.
        total: Decimal,
    },
    /// The q.s. position is outside the list.
    #[error("there is no line {line} among {lines}")]
    NoSuchLine {
        /// Position.
        line: usize,
        /// Lines.
        lines: usize,
    },
    /// Numbers too large for exact arithmetic.
    #[error("a batch of {total} g in divisions of {division} g is outside the exact range")]
    OutOfRange {
        /// Batch.
        total: Decimal,
        /// Division.
        division: Decimal,
    },
}

impl RoundingError {
    /// What to do about it.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            Self::Division { .. } => "give the readability of the balance, such as 0.01g",
            Self::TotalOffDivision { .. } => {
                "choose one of the two sizes, or a balance with a finer readability"
            }
            Self::Negative { .. } => "correct the percentage of that line",
            Self::SumDiffers { .. } => {
                "make the lines add up to 100 %, or make one line q.s. (remainder = true)"
            }
            Self::NothingLeft { .. } => "the lines leave no room for the q.s. line: lower one of them",
            Self::NoSuchLine { .. } => "name a q.s. line that is on the sheet",
            Self::OutOfRange { .. } => "choose a batch and a balance that belong together",
        }
    }
}

/// Rounds the targets to whole divisions so that they add up to `total` exactly. `remainder` is the position of the q.s.
/// line, whose own target only serves to report the difference.
///
/// # Errors
/// Targets that cannot be weighed, a total off the division, or lines that do not add up.
pub fn apportion(
    targets: &[Decimal],
    total: Decimal,
    division: Decimal,
    remainder: Option<usize>,
) -> Result<Apportioned, RoundingError> {
    if division <= Decimal::ZERO {
        return Err(RoundingError::Division { division });
    }
    if let Some(&grams) =
        targets.iter().chain([&total]).find(|grams| grams.is_sign_negative() && !grams.is_zero())
    {
        return Err(RoundingError::Negative { grams });
    }
    let out_of_range = RoundingError::OutOfRange { total, division };
    let whole = count(total, division).ok_or_else(|| out_of_range.clone())?;
    if !whole.fract().is_zero() {
        let below = whole.floor() * division;
        return Err(RoundingError::TotalOffDivision {
            total,
            division,
            below: below.normalize(),
            above: (below + division).normalize(),
        });
    }
    let counts: Vec<Decimal> = targets
        .iter()
        .map(|grams| count(*grams, division))
        .collect::<Option<_>>()
        .ok_or_else(|| out_of_range.clone())?;
    match remainder {
        Some(line) => to_remainder(targets, &counts, whole, total, division, line),
        None => largest_remainder(targets, &counts, whole, total, division),
    }
}

/// One amount in the nearest whole divisions (half a division upwards).
///
/// # Errors
/// A division that is none, or numbers outside the exact range.
pub fn to_division(grams: Decimal, division: Decimal) -> Result<Decimal, RoundingError> {
    if division <= Decimal::ZERO {
        return Err(RoundingError::Division { division });
    }
    let count = count(grams, division).ok_or(RoundingError::OutOfRange { total: grams, division })?;
    shown(nearest(count), division).ok_or(RoundingError::OutOfRange { total: grams, division })
}

/// One amount in whole divisions, never more than it was.
///
/// # Errors
/// As [`to_division`].
pub fn down_to_division(grams: Decimal, division: Decimal) -> Result<Decimal, RoundingError> {
    if division <= Decimal::ZERO {
        return Err(RoundingError::Division { division });
    }
    let count = count(grams, division).ok_or(RoundingError::OutOfRange { total: grams, division })?;
    shown(count.floor(), division).ok_or(RoundingError::OutOfRange { total: grams, division })
}

fn to_remainder(
    targets: &[Decimal],
    counts: &[Decimal],
    whole: Decimal,
    total: Decimal,
    division: Decimal,
    line: usize,
) -> Result<Apportioned, RoundingError> {
    let Some(&own) = targets.get(line) else {
        return Err(RoundingError::NoSuchLine { line, lines: targets.len() });
    };
    let mut rounded: Vec<Decimal> = counts.iter().map(|count| nearest(*count)).collect();
    let others: Decimal =
        rounded.iter().enumerate().filter(|(at, _)| *at != line).map(|(_, count)| *count).sum();
    if others > whole {
        return Err(RoundingError::NothingLeft { others: others * division, total });
    }
    rounded[line] = whole - others;
    let grams = all_shown(&rounded, division, total)?;
    let difference = grams[line] - own;
    Ok(Apportioned { grams, absorbed: Absorbed::Remainder { line }, difference })
}

fn largest_remainder(
    targets: &[Decimal],
    counts: &[Decimal],
    whole: Decimal,
    total: Decimal,
    division: Decimal,
) -> Result<Apportioned, RoundingError> {
    let mut rounded: Vec<Decimal> = counts.iter().map(Decimal::floor).collect();
    let sum: Decimal = targets.iter().copied().sum();
    let missing = whole - rounded.iter().copied().sum::<Decimal>();
    // A target computed from a solved amount carries a rounding of its own; a whole division off is a wrong sum.
    if (sum - total).abs() >= division || missing.is_sign_negative() && !missing.is_zero() {
        return Err(RoundingError::SumDiffers { sum, total });
    }
    let mut order: Vec<usize> = (0..counts.len()).collect();
    order.sort_by(|a, b| counts[*b].fract().cmp(&counts[*a].fract()).then(a.cmp(b)));
    let mut left = missing;
    for line in order {
        if left.is_zero() {
            break;
        }
        rounded[line] += Decimal::ONE;
        left -= Decimal::ONE;
    }
    if !left.is_zero() {
        return Err(RoundingError::SumDiffers { sum, total });
    }
    let grams = all_shown(&rounded, division, total)?;
    let difference = grams
        .iter()
        .zip(targets)
        .map(|(grams, target)| *grams - *target)
        .filter(|raised| raised.is_sign_positive())
        .sum();
    Ok(Apportioned { grams, absorbed: Absorbed::LargestRemainder, difference })
}

/// How many divisions, with the fraction; nothing beyond a million million of them, so that sums stay exact.
fn count(grams: Decimal, division: Decimal) -> Option<Decimal> {
    let most = Decimal::new(1_000_000_000_000, 0);
    grams.checked_div(division).filter(|count| count.abs() <= most)
}

fn nearest(count: Decimal) -> Decimal {
    count.round_dp_with_strategy(0, RoundingStrategy::MidpointAwayFromZero)
}

fn shown(count: Decimal, division: Decimal) -> Option<Decimal> {
    let mut grams = count.checked_mul(division)?;
    grams.rescale(division.normalize().scale());
    Some(grams)
}

fn all_shown(counts: &[Decimal], division: Decimal, total: Decimal) -> Result<Vec<Decimal>, RoundingError> {
    counts
        .iter()
        .map(|count| shown(*count, division))
        .collect::<Option<_>>()
        .ok_or(RoundingError::OutOfRange { total, division })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn decimals(numbers: &[&str]) -> Vec<Decimal> {
        numbers.iter().map(|number| number.parse().unwrap()).collect()
    }

    #[test]
    fn the_remainder_line_takes_the_difference() {
        let targets = decimals(&["141.666", "8.334", "50.000"]);
        let result = apportion(&targets, Decimal::new(200, 0), Decimal::new(1, 2), Some(0)).unwrap();
        assert_eq!(result.grams, decimals(&["141.67", "8.33", "50.00"]));
        assert_eq!(result.grams[2].to_string(), "50.00");
        assert_eq!(result.difference, Decimal::new(4, 3));
    }

    #[test]
    fn without_a_remainder_line_the_largest_remainders_are_raised() {
        let third = decimals(&["33.3333", "33.3333", "33.3334"]);
        let result = apportion(&third, Decimal::new(100, 0), Decimal::new(1, 1), None).unwrap();
        assert_eq!(result.grams, decimals(&["33.3", "33.3", "33.4"]));
        assert_eq!(result.absorbed, Absorbed::LargestRemainder);
    }

    #[test]
    fn a_size_off_the_division_names_its_neighbours() {
        let error = apportion(&[], "33.33".parse().unwrap(), "0.2".parse().unwrap(), None).unwrap_err();
        assert!(error.to_string().contains("33.2 g and 33.4 g"), "{error}");
    }

    #[test]
    fn what_cannot_be_rounded_is_refused() {
        let d = Decimal::new(1, 2);
        let hundred = Decimal::new(100, 0);
        assert!(matches!(
            apportion(&[hundred], hundred, Decimal::ZERO, None),
            Err(RoundingError::Division { .. })
        ));
        assert!(matches!(
            apportion(&[-Decimal::ONE, hundred], hundred, d, Some(1)),
            Err(RoundingError::Negative { .. })
        ));
        assert!(matches!(
            apportion(&decimals(&["60", "50"]), hundred, d, None),
            Err(RoundingError::SumDiffers { .. })
        ));
        assert!(matches!(
            apportion(&decimals(&["60", "0", "50"]), hundred, d, Some(1)),
            Err(RoundingError::NothingLeft { .. })
        ));
        assert!(matches!(apportion(&[hundred], hundred, d, Some(3)), Err(RoundingError::NoSuchLine { .. })));
    }

    proptest! {
        #[test]
        fn the_total_is_exact_and_no_line_is_a_division_off(
            shares in prop::collection::vec(1u32..100_000, 1..60),
            total in 1u32..20_000,
            division in prop::sample::select(vec!["0.0001", "0.001", "0.01", "0.05", "0.1", "0.2", "1"]),
        ) {
            let division: Decimal = division.parse().unwrap();
            let total = Decimal::from(total) * Decimal::from(10u32) * division;
            let sum: Decimal = shares.iter().map(|share| Decimal::from(*share)).sum();
            let mut targets: Vec<Decimal> =
                shares.iter().map(|share| (Decimal::from(*share) / sum * total).round_dp(10)).collect();
            let rest: Decimal = targets.iter().skip(1).copied().sum();
            targets[0] = total - rest;
            prop_assume!(!targets[0].is_sign_negative());

            let even = apportion(&targets, total, division, None).unwrap();
            prop_assert_eq!(even.grams.iter().copied().sum::<Decimal>(), total);
            for (grams, target) in even.grams.iter().zip(&targets) {
                prop_assert!((*grams - *target).abs() < division);
                prop_assert!((*grams % division).is_zero());
            }

            if let Ok(filled) = apportion(&targets, total, division, Some(0)) {
                prop_assert_eq!(filled.grams.iter().copied().sum::<Decimal>(), total);
                for (grams, target) in filled.grams.iter().zip(&targets).skip(1) {
                    prop_assert!((*grams - *target).abs() * Decimal::TWO <= division);
                }
                prop_assert!(
                    filled.difference.abs() * Decimal::TWO <= division * Decimal::from(targets.len() as u64)
                );
            }
        }
    }
}
