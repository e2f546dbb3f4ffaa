//! What a batch costs: material, losses, people and vessel, packs, units filled, and what is bought against what is used.
//!
//! ```text
//! good      = batch (1 - v/100)
//! fill      = V rho (1 + g/100)                    grams in a unit, give-away included
//! units     = floor(good / fill)
//! unit      = c / (1 - v/100) fill/1000 + sum p (1 + s/100) + hours rates / units + fixed / units
//! with overhead = unit (1 + h/100)
//! bought    = p(q) q,  q from the need rounded up to the pack size, at least the least order
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | c, v | cost of the material, loss in making and filling | currency/kg, % |
//! | V, rho, g | declared volume, density, give-away | mL, g/mL, % |
//! | p, s | part of the pack, its scrap | currency, % |
//! | h | overhead | % |
//!
//! Decimal arithmetic throughout. Range: one currency. Case: `crates/engine/rules/src/batch_cost.rs`.

use levigate_measure::written::{Described, Description, result};
use rust_decimal::Decimal;
use rust_decimal::RoundingStrategy;
use serde::Serialize;
use thiserror::Error;

/// Work of people or time of a vessel.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Work {
    /// What.
    pub words: String,
    /// Hours.
    pub hours: Decimal,
    /// How many people or vessels.
    pub count: Decimal,
    /// Currency per hour of each.
    pub per_hour: Decimal,
}

/// A part of the pack.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PackPart {
    /// What.
    pub words: String,
    /// Currency each.
    pub each: Decimal,
    /// Scrap, percent.
    pub scrap_percent: Decimal,
}

/// What goes into a unit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fill {
    /// By volume, mL, at a density in g/mL.
    Volume {
        /// mL.
        ml: Decimal,
        /// g/mL.
        density: Decimal,
    },
    /// By mass, g.
    Mass(Decimal),
}

/// A batch to be priced.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BatchQuestion {
    /// Batch, kg.
    pub batch_kg: Decimal,
    /// Cost of the material before losses, currency/kg; none where it is not known.
    pub material_per_kg: Option<Decimal>,
    /// Loss in making and filling, percent.
    pub loss_percent: Decimal,
    /// What goes into a unit; none for bulk.
    pub fill: Option<Fill>,
    /// Give-away over the declared content, percent.
    pub give_away_percent: Decimal,
    /// Parts of the pack.
    pub pack: Vec<PackPart>,
    /// People and vessels.
    pub work: Vec<Work>,
    /// Tests, release and the like, currency per batch.
    pub fixed: Decimal,
    /// Overhead, percent of the sum.
    pub overhead_percent: Decimal,
}

/// Why a batch has no price.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum BatchCostError {
    /// A number that cannot be.
    #[error("{field} is {value}")]
    Number {
        /// Field.
        field: &'static str,
        /// As given.
        value: Decimal,
    },
    /// Too large or small to be held.
    #[error("the amounts are too large or too small to be added exactly")]
    OutOfRange,
}

impl BatchCostError {
    /// What to do about it.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            Self::Number { .. } => {
                "a batch and a fill lie above zero, a loss from 0 to below 100 %, prices and hours not below zero"
            }
            Self::OutOfRange => "check the units: kilograms, millilitres, currency per kilogram",
        }
    }
}

struct Kilograms;
impl Described for Kilograms {
    const OF: Description =
        Description::computed("kg", "batch less losses").proved_by("crates/engine/rules/src/batch_cost.rs");
}
struct Grams;
impl Described for Grams {
    const OF: Description = Description::computed("g", "declared volume times density, with the give-away")
        .proved_by("crates/engine/rules/src/batch_cost.rs");
}
struct Units;
impl Described for Units {
    const OF: Description = Description::computed("units", "good mass over the fill, whole units")
        .proved_by("crates/engine/rules/src/batch_cost.rs");
}
struct Money;
impl Described for Money {
    const OF: Description = Description::computed("currency of the prices", "decimal arithmetic")
        .proved_by("crates/engine/rules/src/batch_cost.rs");
}
struct Percent;
impl Described for Percent {
    const OF: Description = Description::computed("%", "as given").proved_by("exact decimal");
}

/// What a batch costs.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BatchCost {
    /// Good mass, kg.
    #[serde(serialize_with = "result::<Kilograms, _, _>")]
    pub good_kg: Decimal,
    /// Mass in a unit with its give-away, g.
    #[serde(serialize_with = "result::<Grams, _, _>")]
    pub fill_g: Option<Decimal>,
    /// Units filled.
    #[serde(serialize_with = "result::<Units, _, _>")]
    pub units: Option<Decimal>,
    /// Material of the batch.
    #[serde(serialize_with = "result::<Money, _, _>")]
    pub material: Option<Decimal>,
    /// Of it lost in making and filling.
    #[serde(serialize_with = "result::<Money, _, _>")]
    pub lost: Option<Decimal>,
    /// Of it given away over the declared content.
    #[serde(serialize_with = "result::<Money, _, _>")]
    pub given_away: Option<Decimal>,
    /// People and vessels.
    #[serde(serialize_with = "result::<Money, _, _>")]
    pub work: Decimal,
    /// Good bulk, currency per kg.
    #[serde(serialize_with = "result::<Money, _, _>")]
    pub good_per_kg: Option<Decimal>,
    /// A unit: bulk in it.
    #[serde(serialize_with = "result::<Money, _, _>")]
    pub unit_bulk: Option<Decimal>,
    /// A unit: its pack.
    #[serde(serialize_with = "result::<Money, _, _>")]
    pub unit_pack: Decimal,
    /// A unit: people and vessels.
    #[serde(serialize_with = "result::<Money, _, _>")]
    pub unit_work: Option<Decimal>,
    /// A unit: tests and release.
    #[serde(serialize_with = "result::<Money, _, _>")]
    pub unit_fixed: Option<Decimal>,
    /// A unit before overhead.
    #[serde(serialize_with = "result::<Money, _, _>")]
    pub unit: Option<Decimal>,
    /// A unit with overhead.
    #[serde(serialize_with = "result::<Money, _, _>")]
    pub unit_with_overhead: Option<Decimal>,
    /// Loss, percent.
    #[serde(serialize_with = "result::<Percent, _, _>")]
    pub loss_percent: Decimal,
}

fn checked(field: &'static str, value: Decimal, good: bool) -> Result<Decimal, BatchCostError> {
    if good { Ok(value) } else { Err(BatchCostError::Number { field, value }) }
}

fn not_below(field: &'static str, value: Decimal) -> Result<Decimal, BatchCostError> {
    checked(field, value, value >= Decimal::ZERO)
}

fn above(field: &'static str, value: Decimal) -> Result<Decimal, BatchCostError> {
    checked(field, value, value > Decimal::ZERO)
}

fn more(value: Decimal, percent: Decimal) -> Option<Decimal> {
    value.checked_mul(Decimal::ONE.checked_add(percent.checked_div(Decimal::ONE_HUNDRED)?)?)
}

/// Prices a batch.
///
/// # Errors
/// [`BatchCostError`] for a number that cannot be.
pub fn batch_cost(asked: &BatchQuestion) -> Result<BatchCost, BatchCostError> {
    above("batch_kg", asked.batch_kg)?;
    let loss = asked.loss_percent;
    checked("loss_percent", loss, loss >= Decimal::ZERO && loss < Decimal::ONE_HUNDRED)?;
    not_below("give_away_percent", asked.give_away_percent)?;
    not_below("fixed", asked.fixed)?;
    not_below("overhead_percent", asked.overhead_percent)?;
    if let Some(price) = asked.material_per_kg {
        not_below("material_per_kg", price)?;
    }
    for part in &asked.pack {
        not_below("each", part.each)?;
        not_below("scrap_percent", part.scrap_percent)?;
    }
    for work in &asked.work {
        not_below("hours", work.hours)?;
        not_below("count", work.count)?;
        not_below("per_hour", work.per_hour)?;
    }
    match asked.fill {
        Some(Fill::Volume { ml, density }) => {
            above("fill_ml", ml)?;
            above("density", density)?;
        }
        Some(Fill::Mass(grams)) => {
            above("fill_g", grams)?;
        }
        None => {}
    }
    priced(asked).ok_or(BatchCostError::OutOfRange)
}

fn priced(asked: &BatchQuestion) -> Option<BatchCost> {
    let thousand = Decimal::ONE_THOUSAND;
    let kept = Decimal::ONE.checked_sub(asked.loss_percent.checked_div(Decimal::ONE_HUNDRED)?)?;
    let good_kg = asked.batch_kg.checked_mul(kept)?;
    let declared = match asked.fill {
        Some(Fill::Volume { ml, density }) => Some(ml.checked_mul(density)?),
        Some(Fill::Mass(grams)) => Some(grams),
        None => None,
    };
    let fill_g = declared.and_then(|grams| more(grams, asked.give_away_percent));
    let units = match fill_g {
        Some(fill) => Some(good_kg.checked_mul(thousand)?.checked_div(fill)?.floor()),
        None => None,
    };
    let some_units = units.filter(|units| *units > Decimal::ZERO);
    let work = asked.work.iter().try_fold(Decimal::ZERO, |sum, work| {
        sum.checked_add(work.hours.checked_mul(work.count)?.checked_mul(work.per_hour)?)
    })?;
    let unit_pack = asked
        .pack
        .iter()
        .try_fold(Decimal::ZERO, |sum, part| sum.checked_add(more(part.each, part.scrap_percent)?))?;
    let material = asked.material_per_kg.and_then(|price| price.checked_mul(asked.batch_kg));
    let good_per_kg = asked.material_per_kg.and_then(|price| price.checked_div(kept));
    let unit_bulk =
        good_per_kg.zip(fill_g).and_then(|(price, fill)| price.checked_mul(fill)?.checked_div(thousand));
    let over_units = |sum: Decimal| some_units.and_then(|units| sum.checked_div(units));
    let (unit_work, unit_fixed) = (over_units(work), over_units(asked.fixed));
    let unit = unit_bulk
        .zip(unit_work)
        .zip(unit_fixed)
        .and_then(|((bulk, work), fixed)| bulk.checked_add(unit_pack)?.checked_add(work)?.checked_add(fixed));
    Some(BatchCost {
        good_kg,
        fill_g,
        units,
        lost: asked.material_per_kg.and_then(|price| price.checked_mul(asked.batch_kg.checked_sub(good_kg)?)),
        given_away: asked.material_per_kg.zip(declared).zip(fill_g.zip(some_units)).and_then(
            |((price, declared), (fill, units))| {
                fill.checked_sub(declared)?.checked_mul(units)?.checked_div(thousand)?.checked_mul(price)
            },
        ),
        material,
        work,
        good_per_kg,
        unit_bulk,
        unit_pack,
        unit_work,
        unit_fixed,
        unit_with_overhead: unit.and_then(|unit| more(unit, asked.overhead_percent)),
        unit,
        loss_percent: asked.loss_percent,
    })
}

/// A price from a quantity on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Break {
    /// Quantity it holds from, kg.
    pub from_kg: Decimal,
    /// Currency per kg.
    pub per_kg: Decimal,
}

/// How a material is sold.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Offer {
    /// Mass of a pack, kg.
    pub pack_kg: Decimal,
    /// Least order, kg.
    pub least_kg: Decimal,
    /// Prices.
    pub breaks: Vec<Break>,
}

/// A way to buy.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Purchase {
    /// Ordered, kg.
    #[serde(serialize_with = "result::<Ordered, _, _>")]
    pub order_kg: Decimal,
    /// Currency per kg.
    #[serde(serialize_with = "result::<Money, _, _>")]
    pub per_kg: Decimal,
    /// Paid.
    #[serde(serialize_with = "result::<Money, _, _>")]
    pub paid: Decimal,
    /// Paid per kg that is used, if the rest is of no use.
    #[serde(serialize_with = "result::<Money, _, _>")]
    pub per_kg_used: Decimal,
    /// Left over, kg.
    #[serde(serialize_with = "result::<Ordered, _, _>")]
    pub left_kg: Decimal,
}

struct Ordered;
impl Described for Ordered {
    const OF: Description = Description::computed("kg", "need rounded up to packs, at least the least order")
        .proved_by("crates/engine/rules/src/batch_cost.rs");
}

/// The ways to buy a need: at the price of the quantity needed, and at each break above it. The cheapest in all stands first.
///
/// # Errors
/// [`BatchCostError`] for a number that cannot be.
pub fn purchases(need_kg: Decimal, offer: &Offer) -> Result<Vec<Purchase>, BatchCostError> {
    above("need_kg", need_kg)?;
    above("pack_kg", offer.pack_kg)?;
    not_below("least_kg", offer.least_kg)?;
    for price in &offer.breaks {
        not_below("per_kg", price.per_kg)?;
        not_below("from_kg", price.from_kg)?;
    }
    bought(need_kg, offer).ok_or(BatchCostError::OutOfRange)
}

fn bought(need_kg: Decimal, offer: &Offer) -> Option<Vec<Purchase>> {
    let packed = |kg: Decimal| {
        let packs = kg
            .checked_div(offer.pack_kg)?
            .round_dp_with_strategy(12, RoundingStrategy::MidpointAwayFromZero)
            .ceil();
        packs.checked_mul(offer.pack_kg)
    };
    let base = packed(need_kg.max(offer.least_kg))?;
    let mut orders = vec![base];
    for price in &offer.breaks {
        let order = packed(price.from_kg)?;
        if order > base {
            orders.push(order);
        }
    }
    orders.sort();
    orders.dedup();
    let mut ways = Vec::new();
    for order_kg in orders {
        let price =
            offer.breaks.iter().filter(|price| price.from_kg <= order_kg).max_by_key(|price| price.from_kg);
        let Some(price) = price else { continue };
        let paid = price.per_kg.checked_mul(order_kg)?;
        ways.push(Purchase {
            order_kg,
            per_kg: price.per_kg,
            paid,
            per_kg_used: paid.checked_div(need_kg)?,
            left_kg: order_kg.checked_sub(need_kg)?,
        });
    }
    ways.sort_by(|a, b| a.paid.cmp(&b.paid).then(a.order_kg.cmp(&b.order_kg)));
    Some(ways)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn dec(text: &str) -> Decimal {
        text.parse().unwrap()
    }

    fn near(ours: Option<Decimal>, theirs: &str) {
        let places = theirs.split('.').nth(1).map_or(0, str::len);
        assert_eq!(ours.unwrap().round_dp(u32::try_from(places).unwrap()), dec(theirs));
    }

    #[test]
    fn a_unit_of_serum_adds_up_as_worked_by_hand() {
        let part = |each: &str, scrap: &str| PackPart {
            words: String::new(),
            each: dec(each),
            scrap_percent: dec(scrap),
        };
        let work = |hours: &str, count: &str, rate: &str| Work {
            words: String::new(),
            hours: dec(hours),
            count: dec(count),
            per_hour: dec(rate),
        };
        let cost = batch_cost(&BatchQuestion {
            batch_kg: dec("1000"),
            material_per_kg: Some(dec("3.4743")),
            loss_percent: dec("4"),
            fill: Some(Fill::Volume { ml: dec("30"), density: dec("1.02") }),
            give_away_percent: dec("1.5"),
            pack: vec![part("0.38", "2"), part("0.09", "3"), part("0.05", "1"), part("0.11", "2")],
            work: vec![work("8", "1", "28"), work("12", "4", "22")],
            fixed: Decimal::ZERO,
            overhead_percent: dec("8"),
        })
        .unwrap();
        near(cost.good_per_kg, "3.6190625");
        near(cost.fill_g, "31.059");
        near(cost.unit_bulk, "0.1124045");
        near(Some(cost.unit_pack), "0.643");
        near(cost.units, "30908");
        assert_eq!(cost.work, dec("1280"));
        near(cost.unit_work, "0.0414132");
        near(cost.unit, "0.7968177");
        near(cost.unit_with_overhead, "0.8605631");
    }

    #[test]
    fn six_hundred_kilograms_fill_bottles() {
        let cost = batch_cost(&BatchQuestion {
            batch_kg: dec("600"),
            material_per_kg: None,
            loss_percent: dec("2.5"),
            fill: Some(Fill::Volume { ml: dec("400"), density: dec("1.006") }),
            give_away_percent: Decimal::ZERO,
            pack: Vec::new(),
            work: Vec::new(),
            fixed: Decimal::ZERO,
            overhead_percent: Decimal::ZERO,
        })
        .unwrap();
        near(cost.fill_g, "402.400");
        near(cost.units, "1453");
    }

    #[test]
    fn a_price_break_pays_only_if_the_rest_is_used() {
        let price = |from: &str, per_kg: &str| Break { from_kg: dec(from), per_kg: dec(per_kg) };
        let offer =
            Offer { pack_kg: dec("1"), least_kg: dec("1"), breaks: vec![price("1", "45"), price("5", "38")] };
        let ways = purchases(dec("2.65"), &offer).unwrap();
        assert_eq!(ways.len(), 2);
        assert_eq!((ways[0].order_kg, ways[0].paid), (dec("3"), dec("135")));
        assert_eq!((ways[1].order_kg, ways[1].paid), (dec("5"), dec("190")));
        near(Some(ways[0].per_kg_used), "50.94");
        near(Some(ways[1].per_kg_used), "71.70");
    }

    #[test]
    fn what_cannot_be_is_refused() {
        let offer = Offer { pack_kg: Decimal::ZERO, least_kg: Decimal::ZERO, breaks: Vec::new() };
        assert!(matches!(purchases(dec("1"), &offer), Err(BatchCostError::Number { .. })));
    }
}
