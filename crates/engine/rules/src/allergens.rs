//! Allergens to be named on the label: summed over every oil and substance, grouped, against the threshold, as of a day.
//!
//! Equation: `a = sum over lines i and members s of p_i * x_(i,s) / 100`, compared strictly: exactly 0.001 % in a leave-on product
//! needs no name. A listed oil counts with its whole amount and its listed constituents count again under their own names, since
//! the act exempts neither. Proved by `tests/published/rules_allergens.toml`.

use levigate_measure::{Grade, Outcome};
use serde::Serialize;
use std::collections::BTreeMap;

use crate::book::{Allergen, Dates, Market, Standing, Status};
use crate::question::{Amount, Question, exceeds};

/// Roles that make a constituent part of a fragrance or an essential oil.
const FRAGRANT: &[&str] = &["fragrance", "fragrance-constituent", "fragrance-allergen"];

/// Whether an allergen must be named.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Naming {
    /// Above the threshold.
    Name,
    /// Not above at the typical content, above at the highest content the statements allow.
    MayNeedNaming,
    /// Not above.
    NotNeeded,
}

/// Amount of one allergen from one line.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FromLine {
    /// Line.
    pub line: usize,
    /// Substance or material key.
    pub substance: String,
    /// Amount, % w/w of the product.
    pub amount: Amount,
}

/// What the list says about one allergen.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct AllergenReading {
    /// Key.
    pub key: String,
    /// Name on the label.
    pub label_name: String,
    /// Act.
    pub act: String,
    /// Entry.
    pub entry: String,
    /// The amount, % w/w.
    pub amount: Outcome,
    /// Threshold that holds for the product, % w/w.
    pub above_percent: f64,
    /// Against the threshold, whatever the day.
    pub naming: Naming,
    /// For products placed on the market on the day.
    pub placing: Standing,
    /// For products made available on the day.
    pub available: Standing,
    /// The dates themselves.
    pub dates: Dates,
    /// Where it comes from.
    pub from: Vec<FromLine>,
    /// It is an oil, extract or balsam, counted whole.
    pub natural: bool,
    /// Other limits and conditions of the entry, in words.
    pub note: Option<String>,
    /// How well it is known.
    pub status: Status,
    /// Source key.
    pub source: String,
}

impl AllergenReading {
    /// Whether a product placed on the market on the day must carry the name.
    #[must_use]
    pub fn must_be_named(&self) -> bool {
        self.naming == Naming::Name && self.placing.holds()
    }
}

/// Reads the allergens of the product, largest amount first.
#[must_use]
pub fn allergens(question: &Question<'_>, market: &Market) -> Vec<AllergenReading> {
    let mut found: BTreeMap<&str, Vec<FromLine>> = BTreeMap::new();
    for (key, share) in &question.composition.substances {
        for (allergen, _) in market.allergens_for(&question.identifiers(key)) {
            let list = found.entry(&allergen.key).or_default();
            for part in &share.from {
                let amount = if allergen.natural {
                    oil_on_line(question, market, part.line).unwrap_or(Amount {
                        percent: part.percent,
                        low: part.low,
                        high: part.high,
                    })
                } else {
                    Amount { percent: part.percent, low: part.low, high: part.high }
                };
                list.push(FromLine { line: part.line, substance: key.clone(), amount });
            }
        }
    }
    whole_oils(question, market, &mut found);
    let mut readings: Vec<AllergenReading> = found
        .into_iter()
        .filter_map(|(key, from)| Some(read(question, market.allergens.get(key)?, from)))
        .filter(|reading| reading.amount.high.is_some_and(|high| high > 0.0))
        .collect();
    readings.sort_by(|a, b| {
        let (x, y) = (a.amount.value.unwrap_or(0.0), b.amount.value.unwrap_or(0.0));
        y.total_cmp(&x).then_with(|| a.label_name.cmp(&b.label_name))
    });
    readings
}

/// Raw materials the list names as a whole, where no constituent stood for them.
fn whole_oils<'a>(question: &Question<'_>, market: &'a Market, found: &mut BTreeMap<&'a str, Vec<FromLine>>) {
    for line in &question.composition.lines {
        if line.percent <= 0.0 {
            continue;
        }
        for (allergen, _) in market.allergens_for(&question.material_identifiers(&line.material)) {
            let list = found.entry(&allergen.key).or_default();
            if list.iter().any(|from| from.line == line.line) {
                continue;
            }
            let amount = oil_on_line(question, market, line.line).unwrap_or(Amount {
                percent: line.percent,
                low: line.percent,
                high: line.percent,
            });
            list.push(FromLine { line: line.line, substance: line.material.clone(), amount });
        }
    }
}

/// The fragrant part of a line: an oil diluted in a carrier counts without the carrier. Nothing when the line has no fragrant
/// constituent.
pub(crate) fn oil_on_line(question: &Question<'_>, market: &Market, line: usize) -> Option<Amount> {
    let settled = question.line(line)?;
    let scale = settled.percent / 100.0;
    let mut sum = Amount::default();
    for part in &settled.constituents {
        if is_fragrant(question, market, &part.substance) {
            sum = sum.plus(Amount { percent: part.typical, low: part.low, high: part.high }.times(scale));
        }
    }
    // Ranges of constituents of one oil compensate each other: the oil is never more than the line.
    let whole = settled.percent;
    (sum.high > 0.0).then(|| Amount {
        percent: sum.percent.min(whole),
        low: sum.low.min(sum.percent.min(whole)),
        high: sum.high.min(whole),
    })
}

/// Whether a substance belongs to a fragrance: by its role, or because the allergen list names it.
pub(crate) fn is_fragrant(question: &Question<'_>, market: &Market, key: &str) -> bool {
    FRAGRANT.iter().any(|role| question.has_role(key, role))
        || !market.allergens_for(&question.identifiers(key)).is_empty()
}

fn read(question: &Question<'_>, allergen: &Allergen, from: Vec<FromLine>) -> AllergenReading {
    let total = from.iter().fold(Amount::default(), |sum, part| sum.plus(part.amount));
    let above = if question.usage.leave_on {
        allergen.leave_on_above_percent
    } else {
        allergen.rinse_off_above_percent
    };
    let naming = if exceeds(total.percent, above) {
        Naming::Name
    } else if exceeds(total.high, above) {
        Naming::MayNeedNaming
    } else {
        Naming::NotNeeded
    };
    let mut amount =
        Outcome::new(total.percent, "% w/w", Grade::Computed, "sum over all oils and substances")
            .within(total.low, total.high, None)
            .by("a = Σ p·x/100")
            .proved_by("tests/published/rules_allergens.toml")
            .source(allergen.source.clone())
            .input("named above", above, "% w/w", Some(&allergen.source));
    for part in &from {
        amount = amount.term(
            format!("{} from {}", question.name_of(&part.substance), question.line_name(part.line)),
            part.amount.percent,
            "% w/w",
        );
    }
    AllergenReading {
        key: allergen.key.clone(),
        label_name: allergen.label_name.clone(),
        act: allergen.act.clone(),
        entry: allergen.entry.clone(),
        amount,
        above_percent: above,
        naming,
        placing: allergen.dates.placing(question.day),
        available: allergen.dates.available(question.day),
        dates: allergen.dates.clone(),
        from,
        natural: allergen.natural,
        note: allergen.note.clone(),
        status: allergen.status,
        source: allergen.source.clone(),
    }
}
