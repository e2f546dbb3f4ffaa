//! The shapes of the written rules: limits as tuples, allergens, label rules, exposure, each with dates, source and status.
//!
//! A limit is never keyed on its entry number alone: act, annex, entry and row letter together name it, because two acts may
//! give one number twice. Every row has dates, and two of them where the act does: one for placing on the market, one for
//! making available.

use jiff::civil::Date;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

use crate::challenge::{Criterion, NeutraliserHint};
use crate::extrapolation::Reach;
use crate::incompatibility::IncompatibilityRule;
use crate::microbial::MicrobialClass;
use crate::plates::Plating;
use crate::usage::{Category, Scope};

/// All rules, by market.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct RuleBook {
    /// Markets by key (`eu`).
    pub markets: BTreeMap<String, Market>,
    /// Pairs that do not go together, wherever the product is sold.
    pub incompatibilities: BTreeMap<String, IncompatibilityRule>,
    /// Classes of finished products by the microbes they may hold, wherever the product is sold.
    pub microbial: BTreeMap<String, MicrobialClass>,
    /// Which plates count, by kind of microbes.
    pub plating: BTreeMap<String, Plating>,
    /// Criteria of challenge tests.
    pub challenge: BTreeMap<String, Criterion>,
    /// What stops preservatives before counting.
    pub neutralisers: BTreeMap<String, NeutraliserHint>,
    /// How far beyond the data a shelf life may be stated.
    pub extrapolation: BTreeMap<String, Reach>,
}

impl RuleBook {
    /// The rules of a market, absent when none are held.
    #[must_use]
    pub fn market(&self, key: &str) -> Option<&Market> {
        self.markets.get(&key.trim().to_lowercase())
    }

    /// Enters or replaces a limit and keeps the index in step.
    pub fn enter_limit(&mut self, limit: Limit) {
        self.markets.entry(limit.market.clone()).or_default().enter_limit(limit);
    }

    /// Enters or replaces an allergen and keeps the index in step.
    pub fn enter_allergen(&mut self, allergen: Allergen) {
        self.markets.entry(allergen.market.clone()).or_default().enter_allergen(allergen);
    }

    /// Keys of all sources the rules name, in order.
    #[must_use]
    pub fn source_keys(&self) -> std::collections::BTreeSet<&str> {
        let mut keys = std::collections::BTreeSet::new();
        for market in self.markets.values() {
            market.gather_sources(&mut keys);
        }
        keys.extend(self.incompatibilities.values().flat_map(|rule| rule.sources.iter().map(String::as_str)));
        keys.extend(self.microbial.values().map(|class| class.source.as_str()));
        keys.extend(self.plating.values().map(|row| row.source.as_str()));
        keys.extend(self.challenge.values().map(|one| one.source.as_str()));
        keys.extend(self.neutralisers.values().map(|one| one.source.as_str()));
        keys.extend(self.extrapolation.values().map(|row| row.source.as_str()));
        keys
    }
}

/// The rules of one market.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Market {
    /// Limits by key.
    pub limits: BTreeMap<String, Limit>,
    /// Allergens by key.
    pub allergens: BTreeMap<String, Allergen>,
    /// How an ingredient list is written.
    pub label: Option<LabelRules>,
    /// Default exposures by key.
    pub exposure: BTreeMap<String, Exposure>,
    /// Substances used to preserve without standing in the list of preservatives.
    pub unlisted: BTreeMap<String, Unlisted>,
    /// Limits a name, CAS number or key speaks of: identifier to (limit key, position of the member).
    limits_of: BTreeMap<String, Vec<(String, usize)>>,
    /// The same for allergens.
    allergens_of: BTreeMap<String, Vec<(String, usize)>>,
    /// The same for unlisted substances.
    unlisted_of: BTreeMap<String, Vec<(String, usize)>>,
}

impl Market {
    /// Enters or replaces a limit.
    pub fn enter_limit(&mut self, limit: Limit) {
        if self.limits.contains_key(&limit.key) {
            forget(&mut self.limits_of, &limit.key);
        }
        remember(&mut self.limits_of, &limit.key, &limit.members);
        self.limits.insert(limit.key.clone(), limit);
    }

    /// Enters or replaces an allergen.
    pub fn enter_allergen(&mut self, allergen: Allergen) {
        if self.allergens.contains_key(&allergen.key) {
            forget(&mut self.allergens_of, &allergen.key);
        }
        remember(&mut self.allergens_of, &allergen.key, &allergen.members);
        self.allergens.insert(allergen.key.clone(), allergen);
    }

    /// Enters or replaces an unlisted preserving substance.
    pub fn enter_unlisted(&mut self, unlisted: Unlisted) {
        if self.unlisted.contains_key(&unlisted.key) {
            forget(&mut self.unlisted_of, &unlisted.key);
        }
        remember(&mut self.unlisted_of, &unlisted.key, std::slice::from_ref(&unlisted.member));
        self.unlisted.insert(unlisted.key.clone(), unlisted);
    }

    /// Limits whose members one of the identifiers names, each once, with the member that speaks of it.
    #[must_use]
    pub fn limits_for(&self, identifiers: &[String]) -> Vec<(&Limit, &Member)> {
        found(&self.limits_of, identifiers)
            .into_iter()
            .filter_map(|(key, at)| {
                let limit = self.limits.get(key)?;
                Some((limit, limit.members.get(at)?))
            })
            .collect()
    }

    /// Allergens whose members one of the identifiers names. Oils share CAS numbers (a flower oil and a peel oil of one tree), so
    /// an oil found by its name keeps out the oils found by number alone.
    #[must_use]
    pub fn allergens_for(&self, identifiers: &[String]) -> Vec<(&Allergen, &Member)> {
        let mut hits: Vec<(&Allergen, &Member)> = found(&self.allergens_of, identifiers)
            .into_iter()
            .filter_map(|(key, at)| {
                let allergen = self.allergens.get(key)?;
                Some((allergen, allergen.members.get(at)?))
            })
            .collect();
        if hits.len() > 1 {
            let by_name = |allergen: &Allergen| {
                allergen.natural
                    && allergen.members.iter().any(|member| {
                        member
                            .names
                            .iter()
                            .chain([&member.name])
                            .any(|name| identifiers.iter().any(|own| own.eq_ignore_ascii_case(name)))
                    })
            };
            if hits.iter().any(|(allergen, _)| by_name(allergen)) {
                hits.retain(|(allergen, _)| !allergen.natural || by_name(allergen));
            }
        }
        hits
    }

    /// Substances that preserve without being listed.
    #[must_use]
    pub fn unlisted_for(&self, identifiers: &[String]) -> Vec<&Unlisted> {
        found(&self.unlisted_of, identifiers)
            .into_iter()
            .filter_map(|(key, _)| self.unlisted.get(key))
            .collect()
    }

    fn gather_sources<'a>(&'a self, keys: &mut std::collections::BTreeSet<&'a str>) {
        for limit in self.limits.values() {
            keys.insert(&limit.source);
            keys.extend(limit.rows.iter().filter_map(|row| row.source.as_deref()));
        }
        keys.extend(self.allergens.values().map(|allergen| allergen.source.as_str()));
        keys.extend(self.exposure.values().map(|row| row.source.as_str()));
        keys.extend(self.unlisted.values().map(|row| row.source.as_str()));
        keys.extend(self.label.iter().map(|label| label.source.as_str()));
    }
}

fn remember(index: &mut BTreeMap<String, Vec<(String, usize)>>, key: &str, members: &[Member]) {
    for (at, member) in members.iter().enumerate() {
        for identifier in member.identifiers() {
            let list = index.entry(identifier).or_default();
            let item = (key.to_owned(), at);
            if !list.contains(&item) {
                list.push(item);
            }
        }
    }
}

fn forget(index: &mut BTreeMap<String, Vec<(String, usize)>>, key: &str) {
    for list in index.values_mut() {
        list.retain(|(owner, _)| owner != key);
    }
}

/// One hit per rule: the first identifier that names a member decides which member it is.
fn found<'a>(
    index: &'a BTreeMap<String, Vec<(String, usize)>>,
    identifiers: &[String],
) -> Vec<(&'a str, usize)> {
    let mut hits: BTreeMap<&str, usize> = BTreeMap::new();
    for identifier in identifiers {
        for (key, at) in index.get(identifier).into_iter().flatten() {
            hits.entry(key).or_insert(*at);
        }
    }
    hits.into_iter().collect()
}

/// How well the text of a rule is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Status {
    /// Read in the text of the act.
    Verified,
    /// Part read in the act, part recalled.
    Mixed,
    /// Read in a secondary source.
    Secondary,
    /// Recalled, not found.
    FromMemory,
    /// Guidance of a committee, not law.
    Guidance,
}

impl Status {
    /// The words shown to people.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Verified => "read in the text of the act",
            Self::Mixed => "partly read in the act, partly from memory",
            Self::Secondary => "from a secondary source",
            Self::FromMemory => "from memory, not verified",
            Self::Guidance => "guidance of a committee, not law, from memory",
        }
    }
}

/// What the limit is expressed as.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Basis {
    /// Name (`benzoic acid`).
    pub name: String,
    /// Molar mass, g/mol.
    pub molar_mass_g_mol: f64,
}

/// One substance a rule speaks of.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Member {
    /// INCI name, or the name in the act where there is none.
    pub name: String,
    /// CAS numbers.
    #[serde(default)]
    pub cas: Vec<String>,
    /// Further names, INCI or plain.
    #[serde(default)]
    pub names: Vec<String>,
    /// Molar mass, g/mol, used where the facts have none of their own.
    #[serde(default)]
    pub molar_mass_g_mol: Option<f64>,
    /// Molecules of the basis in one of the substance; 1 where nothing is said.
    #[serde(default)]
    pub basis_per_molecule: Option<f64>,
    /// Substances with the same word here count together where a row speaks of each one.
    #[serde(default)]
    pub counts_with: Option<String>,
}

impl Member {
    /// Everything that names it, in lower case: CAS numbers first, then names.
    #[must_use]
    pub fn identifiers(&self) -> Vec<String> {
        let mut all = self.cas.clone();
        all.push(self.name.to_lowercase());
        all.extend(self.names.iter().map(|name| name.to_lowercase()));
        all
    }
}

/// Which use of the substance the limit is about.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Purpose {
    /// Every use, all summed.
    #[default]
    Any,
    /// Use as a preservative; lines whose material has another declared function are counted under another entry.
    Preservative,
    /// Use as anything but a preservative.
    OtherThanPreservative,
}

/// What holds for a product that no row speaks of.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Otherwise {
    /// The substance may not be used there.
    NotPermitted,
    /// The entry sets no limit there.
    NoLimit,
}

/// An entry of a list of limits with its rows.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Limit {
    /// Stable key (`eu-iii-376`).
    pub key: String,
    /// Market.
    pub market: String,
    /// The act.
    pub act: String,
    /// The act that last changed the entry, as far as known.
    #[serde(default)]
    pub amended_by: Option<String>,
    /// Annex or part (`III`, `V`, `guidance`).
    pub annex: String,
    /// Entry number.
    pub entry: String,
    /// Name in plain words.
    pub name: String,
    /// What the limit is expressed as; absent: the substance as it is.
    #[serde(default)]
    pub basis: Option<Basis>,
    /// Which use it is about.
    #[serde(default)]
    pub purpose: Purpose,
    /// What holds where no row applies.
    #[serde(default = "no_limit")]
    pub otherwise: Otherwise,
    /// Substances, summed unless a row says "each".
    #[serde(rename = "member", default)]
    pub members: Vec<Member>,
    /// Rows.
    #[serde(rename = "row")]
    pub rows: Vec<Row>,
    /// How well it is known.
    pub status: Status,
    /// Source key.
    pub source: String,
    /// Remark.
    #[serde(default)]
    pub note: Option<String>,
}

fn no_limit() -> Otherwise {
    Otherwise::NoLimit
}

/// One row: for which products, how much, since when.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Row {
    /// Row letter in the act, where it has one.
    #[serde(default)]
    pub row: Option<String>,
    /// Products it speaks of; absent: all.
    #[serde(default)]
    pub scope: Scope,
    /// Products in the words of the table.
    pub products: String,
    /// Most, % w/w on the basis. Zero: prohibited. Absent: no number, only conditions.
    #[serde(default)]
    pub max_percent: Option<f64>,
    /// The maximum holds for each substance (or each group that counts together), not for the sum.
    #[serde(default)]
    pub each: bool,
    /// Only these members count (by `counts_with`); empty: all.
    #[serde(default)]
    pub only: Vec<String>,
    /// Conditions.
    #[serde(default)]
    pub conditions: Vec<Condition>,
    /// Words for the label.
    #[serde(default)]
    pub warnings: Vec<Warning>,
    /// When.
    pub dates: Dates,
    /// Status where it differs from the entry's.
    #[serde(default)]
    pub status: Option<Status>,
    /// Source where it differs from the entry's.
    #[serde(default)]
    pub source: Option<String>,
}

/// A condition beside the number.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", tag = "kind", deny_unknown_fields)]
pub enum Condition {
    /// pH of the finished product within these ends.
    Ph {
        /// Lowest.
        #[serde(default)]
        low: Option<f64>,
        /// Highest.
        #[serde(default)]
        high: Option<f64>,
        /// The ends themselves are excluded ("below 11").
        #[serde(default)]
        strict: bool,
        /// In words.
        text: String,
    },
    /// Not for children under this age, years.
    NotUnder {
        /// Years.
        years: u8,
        /// In words.
        text: String,
    },
    /// None of these may be in the product.
    Without {
        /// Names or CAS numbers.
        names: Vec<String>,
        /// In words.
        text: String,
    },
    /// Something only a document or a person can show.
    Document {
        /// In words.
        text: String,
    },
}

impl Condition {
    /// The condition in words.
    #[must_use]
    pub fn text(&self) -> &str {
        match self {
            Self::Ph { text, .. }
            | Self::NotUnder { text, .. }
            | Self::Without { text, .. }
            | Self::Document { text } => text,
        }
    }
}

/// Words an act puts on the label.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Warning {
    /// The words.
    pub text: String,
    /// Quoted from the act; false: paraphrased or recalled, take the wording from the act.
    pub quoted: bool,
    /// Only above this amount, % on the basis.
    #[serde(default)]
    pub above_percent: Option<f64>,
}

/// When a row holds. At least one of `in_force_before` and `placing_from` is given.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Dates {
    /// Known to hold on this day; began earlier, the first day is not recorded.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub in_force_before: Option<Date>,
    /// First day on which a product placed on the market must observe it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub placing_from: Option<Date>,
    /// First day on which a product made available must observe it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub available_from: Option<Date>,
    /// Last day for placing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub placing_to: Option<Date>,
    /// Last day for making available.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub available_to: Option<Date>,
}

/// Whether a row holds on a day.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "kind")]
pub enum Standing {
    /// It holds.
    InForce,
    /// It will hold.
    Coming {
        /// First day.
        from: Date,
    },
    /// It held until.
    Ended {
        /// Last day.
        on: Date,
    },
    /// The day lies before the first day for which it is known to hold.
    NotKnown {
        /// First day for which it is known.
        before: Date,
    },
}

impl Standing {
    /// Whether it holds on the day asked for.
    #[must_use]
    pub fn holds(self) -> bool {
        self == Self::InForce
    }
}

impl Dates {
    /// Whether any beginning is given at all.
    #[must_use]
    pub fn is_dated(&self) -> bool {
        self.in_force_before.is_some() || self.placing_from.is_some()
    }

    /// For products placed on the market on the day.
    #[must_use]
    pub fn placing(&self, day: Date) -> Standing {
        standing(day, self.placing_from, self.in_force_before, self.placing_to)
    }

    /// For products made available on the day, whenever they were placed.
    #[must_use]
    pub fn available(&self, day: Date) -> Standing {
        let from = self.available_from.or(self.placing_from);
        standing(day, from, self.in_force_before, self.available_to.or(self.placing_to))
    }
}

fn standing(day: Date, from: Option<Date>, known_from: Option<Date>, to: Option<Date>) -> Standing {
    if let Some(on) = to
        && day > on
    {
        return Standing::Ended { on };
    }
    match (from, known_from) {
        (Some(from), _) if day < from => Standing::Coming { from },
        (None, Some(before)) if day < before => Standing::NotKnown { before },
        _ => Standing::InForce,
    }
}

/// An allergen that is named on the label above a threshold.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Allergen {
    /// Stable key.
    pub key: String,
    /// Market.
    pub market: String,
    /// Act.
    pub act: String,
    /// Annex and entry.
    pub entry: String,
    /// Name on the label; the members are summed under it.
    pub label_name: String,
    /// Members with the names of the glossary.
    #[serde(rename = "member")]
    pub members: Vec<Member>,
    /// An oil, extract or balsam that counts with its whole amount.
    #[serde(default)]
    pub natural: bool,
    /// Label above this in leave-on products, % w/w.
    pub leave_on_above_percent: f64,
    /// Label above this in rinse-off products, % w/w.
    pub rinse_off_above_percent: f64,
    /// When the duty to name it holds.
    pub dates: Dates,
    /// Other limits and conditions of the entry, in words.
    #[serde(default)]
    pub note: Option<String>,
    /// How well it is known.
    pub status: Status,
    /// Source key.
    pub source: String,
}

/// How a market writes an ingredient list.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LabelRules {
    /// Market.
    pub market: String,
    /// Act and article.
    pub act: String,
    /// Heading in the words of the act.
    pub heading: String,
    /// Below this percentage any order is allowed.
    pub any_order_below_percent: f64,
    /// A name at exactly that percentage may also stand in any order.
    pub exactly_is_free: bool,
    /// Name of water.
    pub water: String,
    /// Name of a fragrance composition.
    pub fragrance: String,
    /// Nano mark.
    pub nano_mark: String,
    /// Months of durability above which the period after opening replaces the date.
    pub durability_months: Option<f64>,
    /// Remarks printed under the worksheet.
    #[serde(default)]
    pub notes: Vec<String>,
    /// When.
    pub dates: Dates,
    /// How well it is known.
    pub status: Status,
    /// Source key.
    pub source: String,
}

/// A default exposure for a product type.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Exposure {
    /// Stable key.
    pub key: String,
    /// Market.
    pub market: String,
    /// Product type in the words of the table.
    pub product: String,
    /// Categories it stands for.
    #[serde(default)]
    pub categories: Vec<Category>,
    /// Applied, g per day.
    pub applied_g_day: Option<f64>,
    /// Applied, mg per kg of body weight and day.
    pub applied_mg_kg_day: Option<f64>,
    /// Retention factor.
    pub retention: Option<f64>,
    /// Exposure after retention, g per day.
    pub exposure_g_day: Option<f64>,
    /// Exposure after retention, mg per kg of body weight and day.
    pub exposure_mg_kg_day: Option<f64>,
    /// Skin area, cm2.
    #[serde(default)]
    pub area_cm2: Option<f64>,
    /// Applications per day.
    #[serde(default)]
    pub frequency_per_day: Option<f64>,
    /// How well it is known.
    pub status: Status,
    /// Source key.
    pub source: String,
}

/// A substance people use to preserve that does not stand in the market's list of preservatives.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Unlisted {
    /// Stable key.
    pub key: String,
    /// Market.
    pub market: String,
    /// What it is.
    pub member: Member,
    /// What is said of it.
    pub text: String,
    /// Source key.
    pub source: String,
}
