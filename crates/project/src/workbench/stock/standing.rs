//! All lots as they stand on the shelf: what may be taken, what is left, until when, and which one of a raw material goes first.

use super::{gather_stock, turn};
use crate::records::{Kept, Lot, Status, in_force};
use crate::store::StoreError;
use crate::workbench::lots::{LotCard, card_of, lot_root};
use crate::workspace::Workspace;
use jiff::civil::Date;
use levigate_facts::Facts;
use levigate_formula::names::folded;
use levigate_measure::Outcome;
use rust_decimal::Decimal;
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};

/// Days in a month on average, of the calendar of 400 years: 146097 days in 4800 months.
const DAYS_IN_A_MONTH: f64 = 146_097.0 / 4_800.0;

/// A lot as it stands on the shelf.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ShelfLot {
    /// The lot.
    #[serde(flatten)]
    pub card: LotCard,
    /// What was decided last; none before anything was.
    pub status: Option<Status>,
    /// What is left.
    pub left: Outcome,
    /// When it expires or is to be tested again, told from the day; empty where no day is on file.
    pub until: String,
    /// What speaks against taking it.
    pub against: Vec<String>,
    /// Nothing speaks against it.
    pub usable: bool,
    /// Of several lots of its raw material the one to take first: it expires first of those that can be taken. Of one lot it is not asked.
    pub first: bool,
}

/// All lots in force: by raw material, in the order in which they should be used.
///
/// # Errors
/// The workspace cannot be read.
pub async fn shelf_lots(
    workspace: &Workspace,
    facts: &Facts,
    day: Date,
) -> Result<Vec<ShelfLot>, StoreError> {
    let stock = gather_stock(workspace).await?;
    let mut lots: Vec<(&Kept<Lot>, ShelfLot)> = in_force(&stock.lots)
        .into_iter()
        .map(|lot| {
            let mut against = stock.against(lot, day, Decimal::ZERO);
            let status = stock.statuses.get(&lot_root(&stock.lots, lot.id)).copied();
            if status != Some(Status::UsedUp) && stock.left_g(lot) == Some(Decimal::ZERO) {
                against.push("Nothing is left of it by what is on file.".to_owned());
            }
            let shelf = ShelfLot {
                card: card_of(facts, day, &stock.lots, lot),
                status,
                left: stock.left(lot),
                until: until(&lot.what, day),
                usable: against.is_empty(),
                against,
                first: false,
            };
            (lot, shelf)
        })
        .collect();
    lots.sort_by_cached_key(|(lot, shelf)| {
        (folded(&shelf.card.material_name), lot.what.material.clone(), turn(lot, shelf.usable))
    });
    let mut standing: BTreeMap<String, usize> = BTreeMap::new();
    for (lot, _) in lots.iter().filter(|(_, shelf)| shelf.status != Some(Status::UsedUp)) {
        *standing.entry(lot.what.material.clone()).or_default() += 1;
    }
    let mut begun: BTreeSet<String> = BTreeSet::new();
    Ok(lots
        .into_iter()
        .map(|(lot, shelf)| {
            let several = standing.get(&lot.what.material).is_some_and(|count| *count > 1);
            let first = several && shelf.usable && begun.insert(lot.what.material.clone());
            ShelfLot { first, ..shelf }
        })
        .collect())
}

/// When a lot expires or is to be tested again, told from a day: the nearer of the two; empty where neither is on file.
pub(super) fn until(lot: &Lot, day: Date) -> String {
    let days = |to: Date| (to - day).get_days();
    // Beyond three months nobody counts days.
    let count = |days: i32| match days {
        1 => "1 day".to_owned(),
        ..100 => format!("{days} days"),
        _ => format!("{} months", f64::from(days).div_euclid(DAYS_IN_A_MONTH)),
    };
    let expires = lot.expiry.map(|expiry| match days(expiry) {
        0 => (0, "expires today".to_owned()),
        left if left > 0 => (left, format!("expires in {}", count(left))),
        past => (past, format!("expired {} ago", count(-past))),
    });
    let retest = lot.retest.map(|retest| match days(retest) {
        0 => (0, "to be tested again today".to_owned()),
        left if left > 0 => (left, format!("to be tested again in {}", count(left))),
        past => (past, format!("to be tested again since {}", count(-past))),
    });
    match (expires, retest) {
        // What has expired is not tested back.
        (Some((left, expires)), Some(_)) if left < 0 => expires,
        (Some((left, expires)), Some((test, _))) if left <= test => expires,
        (_, Some((_, retest))) => retest,
        (Some((_, expires)), None) => expires,
        (None, None) => String::new(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    #[test]
    fn the_nearer_day_is_told_from_today() {
        let day = date(2026, 11, 27);
        let told = |expiry: Option<Date>, retest: Option<Date>| {
            until(&Lot { expiry, retest, ..Lot::default() }, day)
        };
        assert_eq!(told(None, None), "");
        assert_eq!(told(Some(date(2026, 12, 9)), None), "expires in 12 days");
        assert_eq!(told(Some(date(2026, 11, 28)), None), "expires in 1 day");
        assert_eq!(told(Some(day), Some(day)), "expires today");
        assert_eq!(told(Some(date(2026, 11, 24)), Some(date(2026, 11, 20))), "expired 3 days ago");
        assert_eq!(
            told(Some(date(2027, 11, 24)), Some(date(2026, 11, 20))),
            "to be tested again since 7 days"
        );
        assert_eq!(told(Some(date(2028, 11, 27)), None), "expires in 24 months");
        assert_eq!(told(Some(date(2028, 2, 29)), Some(date(2027, 2, 28))), "to be tested again in 93 days");
    }
}
