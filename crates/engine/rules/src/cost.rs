//! Cost per kilogram and per pack from dated prices, in decimal arithmetic.
//!
//! Equations: `c = sum of p * k / 100 / (1 - v / 100)` and, per pack, `c * m / 1000 + b` with `m = V * rho / 1000` for a fill by volume.
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | `p` | percent of the line as supplied | % w/w |
//! | `k` | price as supplied | currency/kg |
//! | `v` | loss in making and filling | % |
//! | `V`, `m` | fill by volume, by mass | mL, g |
//! | `rho` | density | kg/m3 |
//! | `b` | empty pack with its filling | currency |
//!
//! Two currencies are never added: the answer is then refused. A line without a price leaves the sum a lower bound. Ounces of weight
//! and fluid ounces are different units. Proved by `tests/published/rules_cost.toml`.

use jiff::civil::Date;
use levigate_formula::composition::Composition;
use levigate_formula::library::{Library, Price};
use levigate_formula::sheet::Pack;
use levigate_measure::written::{Described, Description, result};
use levigate_measure::{Grade, Note, Outcome};
use rust_decimal::Decimal;
use rust_decimal::prelude::{FromPrimitive, ToPrimitive};
use serde::Serialize;

/// Density with its range, kg/m3.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Density {
    /// Least.
    pub low: f64,
    /// Typical.
    pub typical: f64,
    /// Most.
    pub high: f64,
}

/// What the cost is asked for.
#[derive(Clone, Copy, Debug)]
pub struct CostQuestion<'a> {
    /// What the product consists of.
    pub composition: &'a Composition,
    /// Raw materials with their prices.
    pub library: &'a Library,
    /// Day of the answer; later prices are not used.
    pub day: Date,
    /// Loss in making and filling, %.
    pub loss_percent: Option<Decimal>,
    /// Pack.
    pub pack: Option<&'a Pack>,
    /// Density, needed for a fill by volume.
    pub density: Option<Density>,
}

struct ShareOfCost;
impl Described for ShareOfCost {
    const OF: Description =
        Description::computed("%", "cost of the line over the cost of the bulk, before losses")
            .proved_by("exact arithmetic");
}

struct LineCost;
impl Described for LineCost {
    const OF: Description = Description::computed(
        "currency of the price per kg of product",
        "price times percent, before losses",
    )
    .by("c = price * p / 100")
    .proved_by("exact decimal");
}

/// Cost of one line in a kilogram of product.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CostLine {
    /// Line.
    pub line: usize,
    /// Name of the raw material.
    pub name: String,
    /// Price used.
    pub price: Option<Price>,
    /// Cost in a kilogram of product, before losses.
    #[serde(serialize_with = "result::<LineCost, _, _>")]
    pub per_kg: Option<Decimal>,
    /// Share of the bulk cost, %.
    #[serde(serialize_with = "result::<ShareOfCost, _, _>")]
    pub share_percent: Option<f64>,
}

/// Cost of the product.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Cost {
    /// Cost per kilogram, losses included.
    pub per_kg: Outcome,
    /// The same, exact.
    pub per_kg_exact: Option<Decimal>,
    /// Cost of one filled pack.
    pub per_pack: Option<Outcome>,
    /// Currency.
    pub currency: Option<String>,
    /// Lines.
    pub lines: Vec<CostLine>,
    /// Lines without a usable price.
    pub unpriced: Vec<usize>,
    /// Oldest price used, ISO date.
    pub oldest_price: Option<String>,
}

/// Adds up the cost.
#[must_use]
pub fn cost(question: &CostQuestion<'_>) -> Cost {
    let mut notes = Vec::new();
    let mut lines = Vec::new();
    for settled in question.composition.lines.iter().filter(|line| line.percent > 0.0) {
        let material = question.library.materials.get(&settled.material);
        let name = material.map_or_else(|| settled.material.clone(), |material| material.name.clone());
        let price = material.and_then(|material| latest(&material.prices, question.day, &name, &mut notes));
        let percent =
            settled.exact.or_else(|| Decimal::from_f64(settled.percent).map(|percent| percent.round_dp(6)));
        let per_kg = price.as_ref().zip(percent).and_then(|(price, percent)| {
            price.per_kg.checked_mul(percent)?.checked_div(Decimal::ONE_HUNDRED)
        });
        lines.push(CostLine { line: settled.line, name, price, per_kg, share_percent: None });
    }
    let unpriced: Vec<usize> =
        lines.iter().filter(|line| line.per_kg.is_none()).map(|line| line.line).collect();
    let mut currencies: Vec<String> = lines
        .iter()
        .filter_map(|line| line.price.as_ref())
        .map(|price| price.currency.to_uppercase())
        .collect();
    currencies.sort();
    currencies.dedup();
    let oldest_price =
        lines.iter().filter_map(|line| line.price.as_ref()).map(|price| price.date.clone()).min();
    let total = total_of(&lines, question.loss_percent);
    let mut answer = Cost {
        per_kg: refused("", "no line has a price"),
        per_kg_exact: None,
        per_pack: None,
        currency: None,
        lines,
        unpriced,
        oldest_price,
    };
    match (currencies.as_slice(), total) {
        ([], _) => {}
        ([currency], Some(total)) => priced(question, &mut answer, currency, total),
        ([_], None) => {
            answer.per_kg =
                refused("", "the amounts are out of range, or the loss is not between 0 and 100 %");
        }
        (several, _) => {
            answer.per_kg = refused(
                "",
                &format!(
                    "the prices are in different currencies ({}); enter them in one",
                    several.join(", ")
                ),
            );
        }
    }
    answer.per_kg.notes.extend(notes);
    if answer.per_pack.is_none() && question.pack.is_some() {
        answer.per_pack = Some(Outcome::refuse(
            "",
            "cost of a filled pack",
            answer.per_kg.refused.clone().unwrap_or_else(|| "the cost per kilogram is not known".to_owned()),
        ));
    }
    answer
}

fn refused(unit: &'static str, why: &str) -> Outcome {
    Outcome::refuse(unit, "sum over the lines", why)
}

/// The newest price not later than the day.
fn latest(prices: &[Price], day: Date, name: &str, notes: &mut Vec<Note>) -> Option<Price> {
    let mut best: Option<(Date, &Price)> = None;
    let mut later = false;
    for price in prices {
        match price.date.parse::<Date>() {
            Ok(date) if date <= day => {
                if best.is_none_or(|(known, _)| date >= known) {
                    best = Some((date, price));
                }
            }
            Ok(_) => later = true,
            Err(_) => notes.push(Note::new(
                "price-date",
                format!(
                    "A price of {name} has the date \"{}\", which is not a date; it was not used.",
                    price.date
                ),
            )),
        }
    }
    if best.is_none() && later {
        notes.push(Note::new(
            "price-later",
            format!("{name} has only prices later than {day}; none was used."),
        ));
    }
    best.map(|(_, price)| price.clone())
}

fn total_of(lines: &[CostLine], loss_percent: Option<Decimal>) -> Option<(Decimal, Decimal)> {
    let bulk = lines
        .iter()
        .filter_map(|line| line.per_kg)
        .try_fold(Decimal::ZERO, |sum, cost| sum.checked_add(cost))?;
    let loss = loss_percent.unwrap_or(Decimal::ZERO);
    if loss < Decimal::ZERO || loss >= Decimal::ONE_HUNDRED {
        return None;
    }
    let kept = Decimal::ONE.checked_sub(loss.checked_div(Decimal::ONE_HUNDRED)?)?;
    Some((bulk, bulk.checked_div(kept)?))
}

fn priced(question: &CostQuestion<'_>, answer: &mut Cost, currency: &str, (bulk, total): (Decimal, Decimal)) {
    let (bulk_number, number) = (bulk.to_f64().unwrap_or(f64::NAN), total.to_f64().unwrap_or(f64::NAN));
    for line in &mut answer.lines {
        line.share_percent = line
            .per_kg
            .and_then(|cost| cost.to_f64())
            .filter(|_| bulk_number > 0.0)
            .map(|cost| 100.0 * cost / bulk_number);
    }
    let mut per_kg = Outcome::new(number, format!("{currency}/kg"), Grade::Computed, "sum over the lines")
        .by("c = Σ p·k/100/(1 − v/100)")
        .proved_by("tests/published/rules_cost.toml");
    for line in &answer.lines {
        if let Some(cost) = line.per_kg.and_then(|cost| cost.to_f64()) {
            per_kg = per_kg.term(line.name.clone(), cost, format!("{currency}/kg"));
        }
    }
    if let Some(loss) = question.loss_percent.and_then(|loss| loss.to_f64()) {
        per_kg = per_kg.input("loss", loss, "%", None);
    }
    if let Some(oldest) = &answer.oldest_price {
        per_kg = per_kg.input_text("oldest price", oldest.clone());
    }
    if answer.unpriced.is_empty() {
        per_kg = per_kg.within(number, number, None);
    } else {
        let names: Vec<&str> =
            answer.lines.iter().filter(|line| line.per_kg.is_none()).map(|line| line.name.as_str()).collect();
        per_kg = per_kg.within(number, f64::NAN, None).note(
            "lower-bound",
            format!("No price is held for: {}. The sum is a lower bound.", names.join(", ")),
        );
    }
    answer.per_kg = per_kg;
    answer.per_kg_exact = Some(total);
    answer.currency = Some(currency.to_owned());
    answer.per_pack = question.pack.map(|pack| per_pack(question, pack, currency, number));
}

fn per_pack(question: &CostQuestion<'_>, pack: &Pack, currency: &str, per_kg: f64) -> Outcome {
    let method = "cost of a filled pack";
    let Some(fill) = pack.fill.to_f64().filter(|fill| *fill > 0.0) else {
        return Outcome::refuse("", method, "the fill is not a positive number");
    };
    let empty = match &pack.cost {
        None => 0.0,
        Some(money) if money.currency.eq_ignore_ascii_case(currency) => {
            money.amount.to_f64().unwrap_or(f64::NAN)
        }
        Some(money) => {
            return Outcome::refuse(
                "",
                method,
                format!(
                    "the pack is priced in {} and the bulk in {currency}; enter them in one",
                    money.currency
                ),
            );
        }
    };
    let size = fill * pack.unit.size();
    let grams = if pack.unit.is_volume() {
        let Some(density) = question.density else {
            return Outcome::refuse("", method, "a fill by volume needs the density of the product");
        };
        [density.typical, density.low, density.high].map(|density| size * density / 1000.0)
    } else {
        [size; 3]
    };
    let price = grams.map(|grams| per_kg * grams / 1000.0 + empty);
    let mut outcome = Outcome::new(price[0], currency.to_owned(), Grade::Computed, method)
        .within(price[1].min(price[2]), price[1].max(price[2]), None)
        .by("c·m/1000 + b")
        .proved_by("tests/published/rules_cost.toml")
        .input("fill", grams[0], "g", None)
        .input("bulk", per_kg, format!("{currency}/kg"), None)
        .input("empty pack", empty, currency.to_owned(), None);
    if pack.cost.is_none() {
        outcome = outcome
            .note("bulk-only", "No price of the empty pack is given: this is the cost of the bulk in it.");
    }
    outcome
}
