//! The ingredient list of a market as of a day, with the worksheet behind it.
//!
//! Every blend is split into its ingredients, water is summed over all sources, equal names are merged. Names above the limit of
//! free order stand in descending weight at the time of addition; below it any order is allowed, and ours is descending too. A
//! name at exactly the limit is kept in order where the act does not free it. Colorants stand last; a fragrance is one name,
//! followed by the allergens the day asks for. Proved by the open lists in `tests/published/rules_label.toml`.

use levigate_formula::library::InWater;
use levigate_measure::Note;
use serde::Serialize;
use std::collections::BTreeMap;
use thiserror::Error;

use crate::allergens::{AllergenReading, Naming, is_fragrant};
use crate::book::{LabelRules, Market, Standing, Status, Warning};
use crate::limits::{LimitReading, Verdict};
use crate::question::{Amount, Question, exceeds};

/// Why no list can be written.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum LabelError {
    /// No label rules for the market.
    #[error("no label rules are held for this market")]
    NoRules,
}

impl LabelError {
    /// What to do about it.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            Self::NoRules => {
                "Ask for a market with label rules, such as eu, or add a [[label]] record to the rules."
            }
        }
    }
}

/// Part of the list a name stands in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Zone {
    /// In descending order of weight.
    Descending,
    /// In any order, after the first part.
    AnyOrder,
    /// Colorants, in any order at the end.
    Colorant,
}

/// What a name stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Kind {
    /// An ingredient.
    Ingredient,
    /// A fragrance composition or an oil.
    Fragrance,
    /// An allergen named beside the fragrance that carries it.
    Allergen,
}

/// One name of the list.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LabelEntry {
    /// Name as printed, with its nano mark.
    pub name: String,
    /// Amount at the time of addition, % w/w.
    pub amount: Amount,
    /// Where it stands.
    pub zone: Zone,
    /// What it stands for.
    pub kind: Kind,
    /// Substance keys behind it.
    pub substances: Vec<String>,
    /// Lines it comes from.
    pub lines: Vec<usize>,
    /// What is not certain about its place or name.
    pub remarks: Vec<String>,
}

/// Words an act puts on the label, with the reason.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LabelWarning {
    /// The words and whether they are quoted.
    pub warning: Warning,
    /// Annex and entry.
    pub because: String,
    /// For products placed on the market on the day.
    pub placing: Standing,
    /// How well the rule is known.
    pub status: Status,
    /// Source key.
    pub source: String,
}

/// The list and its worksheet.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct IngredientList {
    /// Heading in the words of the act.
    pub heading: String,
    /// The list as printed, without the heading.
    pub text: String,
    /// The names in order.
    pub entries: Vec<LabelEntry>,
    /// Warnings from the lists of limits.
    pub warnings: Vec<LabelWarning>,
    /// What the reader must decide or know.
    pub notes: Vec<Note>,
    /// Act and article.
    pub act: String,
    /// How well the rule is known.
    pub status: Status,
    /// Source key.
    pub source: String,
}

/// Writes the list.
///
/// # Errors
/// When no label rules are held for the market.
pub fn ingredient_list(
    question: &Question<'_>,
    market: &Market,
    limits: &[LimitReading],
    allergens: &[AllergenReading],
    shelf_life_months: Option<f64>,
) -> Result<IngredientList, LabelError> {
    let rules = market.label.as_ref().ok_or(LabelError::NoRules)?;
    let mut notes = Vec::new();
    let mut entries = gather(question, market, rules, allergens, &mut notes);
    add_allergens(allergens, &mut entries, &mut notes);
    for entry in &mut entries {
        entry.zone = zone_of(question, rules, entry);
    }
    entries.sort_by(|a, b| {
        a.zone
            .cmp(&b.zone)
            .then_with(|| b.amount.percent.total_cmp(&a.amount.percent))
            .then_with(|| a.name.to_lowercase().cmp(&b.name.to_lowercase()))
    });
    mark_uncertain_places(rules, &mut entries);
    let names: Vec<&str> = entries.iter().map(|entry| entry.name.as_str()).collect();
    notes.extend(general_notes(question, rules, &entries, shelf_life_months));
    Ok(IngredientList {
        heading: rules.heading.clone(),
        text: names.join(", "),
        warnings: warnings(limits),
        entries,
        notes,
        act: rules.act.clone(),
        status: rules.status,
        source: rules.source.clone(),
    })
}

/// Opens the composition into names.
fn gather(
    question: &Question<'_>,
    market: &Market,
    rules: &LabelRules,
    allergens: &[AllergenReading],
    notes: &mut Vec<Note>,
) -> Vec<LabelEntry> {
    let mut names: BTreeMap<String, LabelEntry> = BTreeMap::new();
    for line in &question.composition.lines {
        let scale = line.percent / 100.0;
        if scale <= 0.0 {
            continue;
        }
        let carrier = carrier_of(question, market, rules, allergens, line);
        for part in &line.constituents {
            if part.high <= 0.0 {
                continue;
            }
            let amount = Amount { percent: part.typical, low: part.low, high: part.high }.times(scale);
            let mut remarks = Vec::new();
            // Flower waters and juices behave as water but keep their own name.
            let substance = question.substance(&part.substance);
            let inci = substance.and_then(|substance| substance.inci.as_ref());
            let has_role =
                |role: &str| substance.is_some_and(|substance| substance.roles.iter().any(|own| own == role));
            let plain_water = substance.is_some_and(|substance| substance.in_water == InWater::Water)
                && inci.is_none_or(|inci| inci.eq_ignore_ascii_case(&rules.water));
            let (name, kind) = if plain_water {
                (rules.water.clone(), Kind::Ingredient)
            } else if has_role("impurity") {
                notes.push(Note::new(
                    "not-an-ingredient",
                    format!(
                        "{} from {} is an impurity and is left out: impurities and processing aids absent from the product are not ingredients.",
                        question.name_of(&part.substance),
                        question.line_name(line.line)
                    ),
                ));
                continue;
            } else if let Some(carrier) =
                carrier.as_ref().filter(|_| is_fragrant(question, market, &part.substance))
            {
                (carrier.clone(), Kind::Fragrance)
            } else {
                let mut name = question.name_of(&part.substance);
                if has_role("nano") {
                    name = format!("{name} {}", rules.nano_mark);
                }
                if inci.is_none() {
                    remarks.push("no INCI name is held for it; the name here is the plain name".to_owned());
                }
                (name, Kind::Ingredient)
            };
            let entry = names.entry(name.to_lowercase()).or_insert_with(|| LabelEntry {
                name,
                amount: Amount::default(),
                zone: Zone::AnyOrder,
                kind,
                substances: Vec::new(),
                lines: Vec::new(),
                remarks: Vec::new(),
            });
            entry.amount = entry.amount.plus(amount);
            if !entry.substances.contains(&part.substance) {
                entry.substances.push(part.substance.clone());
            }
            if !entry.lines.contains(&line.line) {
                entry.lines.push(line.line);
            }
            for remark in remarks {
                if !entry.remarks.contains(&remark) {
                    entry.remarks.push(remark);
                }
            }
        }
    }
    let mut entries: Vec<LabelEntry> = names.into_values().collect();
    for entry in &mut entries {
        cap_fragrance(question, entry);
    }
    entries
}

/// Ranges of the parts of one oil compensate each other: an oil alone in its lines is never more than the lines.
fn cap_fragrance(question: &Question<'_>, entry: &mut LabelEntry) {
    if entry.kind != Kind::Fragrance {
        return;
    }
    let whole: f64 =
        entry.lines.iter().filter_map(|line| question.line(*line)).map(|line| line.percent).sum();
    entry.amount.high = entry.amount.high.min(whole);
    entry.amount.percent = entry.amount.percent.min(whole);
    entry.amount.low = entry.amount.low.min(entry.amount.percent);
}

/// Under which name the fragrant part of a line stands: the oil's own, the group of the allergen list, or the fragrance word.
fn carrier_of(
    question: &Question<'_>,
    market: &Market,
    rules: &LabelRules,
    allergens: &[AllergenReading],
    line: &levigate_formula::composition::SettledLine,
) -> Option<String> {
    let group = allergens
        .iter()
        .find(|reading| {
            reading.natural
                && reading.must_be_named()
                && reading.from.iter().any(|from| from.line == line.line)
        })
        .map(|reading| reading.label_name.clone());
    let fragrance = question.functions(line).iter().any(|function| function == "fragrance");
    let oil = line
        .constituents
        .iter()
        .find(|part| {
            question.has_role(&part.substance, "fragrance")
                && !question.has_role(&part.substance, "fragrance-constituent")
        })
        .map(|part| question.name_of(&part.substance));
    let listed_oil = || {
        // A material that the list names as a whole has been read among the allergens of its line.
        allergens
            .iter()
            .find(|reading| reading.natural && reading.from.iter().any(|from| from.line == line.line))?;
        market
            .allergens_for(&question.material_identifiers(&line.material))
            .into_iter()
            .find(|(allergen, _)| allergen.natural)
            .map(|(_, member)| member.name.clone())
    };
    group.or(oil).or_else(listed_oil).or_else(|| fragrance.then(|| rules.fragrance.clone()))
}

/// Puts the allergens beside the fragrance that carries them, unless the name stands already.
fn add_allergens(allergens: &[AllergenReading], entries: &mut Vec<LabelEntry>, notes: &mut Vec<Note>) {
    for reading in allergens {
        match (reading.naming, reading.placing) {
            (Naming::Name, Standing::InForce) => {
                let lower = reading.label_name.to_lowercase();
                let stands = entries.iter().any(|entry| {
                    entry.name.to_lowercase() == lower
                        || (entry.kind == Kind::Ingredient
                            && reading.from.iter().all(|from| entry.substances.contains(&from.substance)))
                });
                if stands {
                    continue;
                }
                let amount = Amount {
                    percent: reading.amount.value.unwrap_or(0.0),
                    low: reading.amount.low.unwrap_or(0.0),
                    high: reading.amount.high.unwrap_or(0.0),
                };
                entries.push(LabelEntry {
                    name: reading.label_name.clone(),
                    amount,
                    zone: Zone::AnyOrder,
                    kind: Kind::Allergen,
                    substances: reading.from.iter().map(|from| from.substance.clone()).collect(),
                    lines: reading.from.iter().map(|from| from.line).collect(),
                    remarks: Vec::new(),
                });
            }
            (Naming::Name, Standing::Coming { from }) => notes.push(Note::new(
                "allergen-coming",
                format!(
                    "{} ({:.4} %) must be named on products placed on the market from {from}.",
                    reading.label_name,
                    reading.amount.value.unwrap_or(0.0)
                ),
            )),
            (Naming::MayNeedNaming, _) => notes.push(Note::new(
                "allergen-possible",
                format!(
                    "{} reaches {:.4} % at the highest content the statements allow, above {} %: name it or ask for a closer statement.",
                    reading.label_name,
                    reading.amount.high.unwrap_or(0.0),
                    reading.above_percent
                ),
            )),
            _ => {}
        }
    }
}

fn zone_of(question: &Question<'_>, rules: &LabelRules, entry: &LabelEntry) -> Zone {
    let colours = !entry.substances.is_empty()
        && entry
            .substances
            .iter()
            .all(|key| question.has_role(key, "colorant") || question.has_role(key, "pigment"));
    let limit = rules.any_order_below_percent;
    let ordered = if rules.exactly_is_free {
        exceeds(entry.amount.percent, limit)
    } else {
        !exceeds(limit, entry.amount.percent)
    };
    if colours {
        Zone::Colorant
    } else if ordered {
        Zone::Descending
    } else {
        Zone::AnyOrder
    }
}

fn mark_uncertain_places(rules: &LabelRules, entries: &mut [LabelEntry]) {
    let limit = rules.any_order_below_percent;
    for entry in entries.iter_mut() {
        if entry.zone != Zone::Colorant && entry.amount.low < limit && exceeds(entry.amount.high, limit) {
            entry.remarks.push(format!(
                "its range {:.3} to {:.3} % lies on both sides of {limit} %",
                entry.amount.low, entry.amount.high
            ));
        }
    }
    for at in 1..entries.len() {
        let (before, after) = entries.split_at_mut(at);
        if let (Some(first), Some(second)) = (before.last_mut(), after.first_mut())
            && first.zone == Zone::Descending
            && second.zone == Zone::Descending
            && exceeds(second.amount.high, first.amount.low)
        {
            let text = format!(
                "the ranges of {} and {} overlap, so their order is not certain",
                first.name, second.name
            );
            first.remarks.push(text.clone());
            second.remarks.push(text);
        }
    }
}

fn warnings(limits: &[LimitReading]) -> Vec<LabelWarning> {
    let mut list: Vec<LabelWarning> = Vec::new();
    for reading in limits.iter().filter(|reading| reading.verdict != Verdict::DoesNotApply) {
        for warning in &reading.warnings {
            if list.iter().any(|known| known.warning.text == warning.text) {
                continue;
            }
            list.push(LabelWarning {
                warning: warning.clone(),
                because: match reading.status {
                    Status::Guidance => format!("guidance, not law ({})", reading.name),
                    _ => format!("Annex {}, entry {} ({})", reading.annex, reading.entry, reading.name),
                },
                placing: reading.placing,
                status: reading.status,
                source: reading.source.clone(),
            });
        }
    }
    list
}

fn general_notes(
    question: &Question<'_>,
    rules: &LabelRules,
    entries: &[LabelEntry],
    shelf_life_months: Option<f64>,
) -> Vec<Note> {
    let mut notes = vec![Note::new(
        "free-order",
        format!(
            "Below {} % any order is allowed; here it is descending, and a name at exactly {} % {}.",
            rules.any_order_below_percent,
            rules.any_order_below_percent,
            if rules.exactly_is_free { "may stand there too" } else { "is kept in descending order" }
        ),
    )];
    notes.extend(acid_and_base(question));
    if entries.iter().any(|entry| entry.kind == Kind::Fragrance && entry.name != rules.fragrance) {
        notes.push(Note::new(
            "oil-or-fragrance",
            format!(
                "An oil used to scent may stand under its own name or within \"{}\"; an oil of the allergen list is named in either case. Decide and keep to it.",
                rules.fragrance
            ),
        ));
    }
    if let Some(limit) = rules.durability_months {
        notes.push(match shelf_life_months {
            Some(months) if months > limit => Note::new(
                "period-after-opening",
                format!(
                    "At {months} months, more than {limit}, the date of minimum durability may be left out; the period after opening is given instead, unless opening does not matter for the product."
                ),
            ),
            Some(months) => Note::new(
                "durability-date",
                format!(
                    "At {months} months, not more than {limit}, the label needs the date of minimum durability."
                ),
            ),
            None => Note::new(
                "durability-unknown",
                format!(
                    "No shelf life is given: up to {limit} months the label needs the date of minimum durability, above that the period after opening."
                ),
            ),
        });
    }
    notes.extend(rules.notes.iter().map(|text| Note { code: "rule".into(), text: text.clone() }));
    match rules.dates.placing(question.day) {
        Standing::InForce => {}
        other => notes.push(Note::new(
            "label-rule-date",
            format!("The rules of this list do not hold for certain on {}: {other:?}.", question.day),
        )),
    }
    notes
}

/// Acids and bases may be named as added or as the salt they form; the choice is asked for, not made.
fn acid_and_base(question: &Question<'_>) -> Option<Note> {
    let named = |role: &str| -> Vec<String> {
        question
            .composition
            .substances
            .iter()
            .filter(|(key, share)| share.percent > 0.0 && question.has_role(key, role))
            .map(|(key, _)| question.name_of(key))
            .collect()
    };
    let (acids, bases) = (named("acid"), named("base"));
    (!acids.is_empty() && !bases.is_empty()).then(|| {
        Note::new(
            "acid-and-base",
            format!(
                "Named as added: {} with {}. If your policy is to name the salt that forms, change both names together; the list must say one thing.",
                acids.join(", "),
                bases.join(", ")
            ),
        )
    })
}
