//! Limits: how much of a substance the product holds, from all sources, on the basis of the act, against its maximum.
//!
//! Equation: `a = sum over lines i and substances s of p_i * x_(i,s) / 100 * n_s * M_basis / M_s`.
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | `p_i` | percent of line i in the product | % w/w |
//! | `x_(i,s)` | share of substance s in the raw material | % w/w |
//! | `n_s` | molecules of the basis in one of s | 1 |
//! | `M` | molar mass | g/mol |
//!
//! "Exceeds" is strict. A maximum that lies inside the interval of the amount gives "may exceed". A row that is not yet in force
//! is read all the same and carries its dates. Proved by the salt-to-acid factors in `tests/published/rules_limits.toml`.

use jiff::civil::Date;
use levigate_measure::written::{Described, Description, result};
use levigate_measure::{Grade, Outcome};
use serde::Serialize;
use std::collections::BTreeMap;

use crate::book::{
    Condition, Dates, Limit, Market, Member, Otherwise, Purpose, Row, Standing, Status, Warning,
};
use crate::question::{Amount, Question, exceeds};

/// How an amount stands to a limit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// Not above the maximum, over the whole interval.
    Within,
    /// The typical amount is not above the maximum, the upper end of its interval is.
    MayExceed,
    /// Above the maximum.
    Exceeds,
    /// The list prohibits the substance.
    Prohibited,
    /// The entry lists product types, and this product is none of them.
    NotPermittedHere,
    /// The entry sets no number; its conditions stand.
    ConditionsOnly,
    /// The entry does not speak of this product or this use.
    DoesNotApply,
    /// The amount could not be brought to the basis of the act.
    NotComparable,
}

impl Verdict {
    /// The words shown to people.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Within => "within",
            Self::MayExceed => "may exceed",
            Self::Exceeds => "exceeds",
            Self::Prohibited => "prohibited",
            Self::NotPermittedHere => "not permitted in this product type",
            Self::ConditionsOnly => "conditions only",
            Self::DoesNotApply => "does not apply",
            Self::NotComparable => "not comparable",
        }
    }
}

struct Factor;
impl Described for Factor {
    const OF: Description = Description::computed("", "molar mass of the basis over that of the substance")
        .by("f = z M(basis) / M");
}

/// One substance that counts towards a limit.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Counted {
    /// Substance key, or material key where a whole material is meant.
    pub substance: String,
    /// Name.
    pub name: String,
    /// Percent of the product as it is.
    pub amount: Amount,
    /// Factor to the basis; absent when no molar mass is known.
    #[serde(serialize_with = "result::<Factor, _, _>")]
    pub factor: Option<f64>,
    /// Lines it comes from.
    pub lines: Vec<usize>,
}

/// A condition and whether it is met.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ConditionReading {
    /// The condition in words.
    pub text: String,
    /// Met, not met, or not decided by what is known.
    pub met: Option<bool>,
    /// Why.
    pub why: String,
}

/// What one row of one entry says about the product.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LimitReading {
    /// Key of the limit.
    pub key: String,
    /// Act.
    pub act: String,
    /// Act that last changed the entry.
    pub amended_by: Option<String>,
    /// Annex.
    pub annex: String,
    /// Entry.
    pub entry: String,
    /// Row letter.
    pub row: Option<String>,
    /// Name of the entry, or of the group a row speaks of.
    pub name: String,
    /// Products the row speaks of.
    pub products: String,
    /// What counts.
    pub counted: Vec<Counted>,
    /// Basis in words; absent: as it is.
    pub basis: Option<String>,
    /// The amount on the basis, % w/w.
    pub amount: Outcome,
    /// Maximum, % w/w.
    pub maximum_percent: Option<f64>,
    /// Amount in percent of the maximum.
    pub share_of_maximum: Option<Outcome>,
    /// Verdict on the amount.
    pub verdict: Verdict,
    /// Verdict in words.
    pub words: &'static str,
    /// Why, where the verdict needs a reason.
    pub reason: Option<String>,
    /// For products placed on the market on the day.
    pub placing: Standing,
    /// For products made available on the day.
    pub available: Standing,
    /// The dates themselves.
    pub dates: Dates,
    /// Conditions.
    pub conditions: Vec<ConditionReading>,
    /// Words for the label.
    pub warnings: Vec<Warning>,
    /// Lines, each once.
    pub lines: Vec<usize>,
    /// How well the rule is known.
    pub status: Status,
    /// Source key.
    pub source: String,
    /// Remark of the entry.
    pub note: Option<String>,
}

impl LimitReading {
    /// Whether something stands against the product as it is: an amount or a condition.
    #[must_use]
    pub fn objects(&self) -> bool {
        matches!(self.verdict, Verdict::Exceeds | Verdict::Prohibited | Verdict::NotPermittedHere)
            || (self.verdict != Verdict::DoesNotApply
                && self.conditions.iter().any(|condition| condition.met == Some(false)))
    }
}

/// A preserving substance without a place in the list of preservatives.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct UnlistedReading {
    /// Substance key.
    pub substance: String,
    /// Name.
    pub name: String,
    /// Percent of the product.
    pub amount: Amount,
    /// Lines.
    pub lines: Vec<usize>,
    /// What is said.
    pub text: String,
    /// Source key.
    pub source: String,
}

/// A member of a limit with what the product holds of it.
struct Part<'a> {
    member: &'a Member,
    substance: String,
    name: String,
    /// Amounts by line.
    by_line: Vec<(usize, Amount)>,
}

/// Reads every limit that speaks of a substance in the product.
#[must_use]
pub fn limits(question: &Question<'_>, market: &Market) -> Vec<LimitReading> {
    let mut parts: BTreeMap<&str, Vec<Part<'_>>> = BTreeMap::new();
    for (key, share) in &question.composition.substances {
        if share.high <= 0.0 {
            continue;
        }
        for (limit, member) in market.limits_for(&question.identifiers(key)) {
            let by_line = share
                .from
                .iter()
                .map(|part| (part.line, Amount { percent: part.percent, low: part.low, high: part.high }))
                .collect();
            parts.entry(&limit.key).or_default().push(Part {
                member,
                substance: key.clone(),
                name: question.name_of(key),
                by_line,
            });
        }
    }
    whole_materials(question, market, &mut parts);
    let mut readings = Vec::new();
    for (key, parts) in parts {
        if let Some(limit) = market.limits.get(key) {
            read_limit(question, limit, &parts, &mut readings);
        }
    }
    readings
}

/// Materials a rule names as a whole (an oil, a balsam), where none of their constituents was counted already.
fn whole_materials<'a>(
    question: &Question<'_>,
    market: &'a Market,
    parts: &mut BTreeMap<&'a str, Vec<Part<'a>>>,
) {
    for line in &question.composition.lines {
        if line.percent <= 0.0 {
            continue;
        }
        for (limit, member) in market.limits_for(&question.material_identifiers(&line.material)) {
            let list = parts.entry(&limit.key).or_default();
            if list.iter().any(|part| part.by_line.iter().any(|(at, _)| *at == line.line)) {
                continue;
            }
            list.push(Part {
                member,
                substance: line.material.clone(),
                name: question.line_name(line.line),
                by_line: vec![(
                    line.line,
                    Amount { percent: line.percent, low: line.percent, high: line.percent },
                )],
            });
        }
    }
}

fn read_limit(question: &Question<'_>, limit: &Limit, parts: &[Part<'_>], readings: &mut Vec<LimitReading>) {
    let counted: Vec<(&Part<'_>, Counted)> =
        parts.iter().filter_map(|part| Some((part, count(question, limit, part)?))).collect();
    if counted.is_empty() {
        return;
    }
    let rows: Vec<&Row> = limit.rows.iter().filter(|row| row.scope.speaks_of(question.usage)).collect();
    let Some(first) = limit.rows.first() else { return };
    if rows.is_empty() {
        readings.push(outside(question, limit, first, counted.into_iter().map(|(_, counted)| counted)));
        return;
    }
    for row in rows {
        let chosen: Vec<(&Part<'_>, Counted)> = counted
            .iter()
            .filter(|(part, _)| {
                row.only.is_empty()
                    || part.member.counts_with.as_ref().is_some_and(|group| row.only.contains(group))
            })
            .map(|(part, counted)| (*part, counted.clone()))
            .collect();
        if row.each {
            let mut groups: BTreeMap<String, Vec<Counted>> = BTreeMap::new();
            for (part, counted) in chosen {
                let group = part.member.counts_with.clone().unwrap_or_else(|| counted.name.clone());
                groups.entry(group).or_default().push(counted);
            }
            for (group, counted) in groups {
                readings.push(read_row(question, limit, row, group, counted));
            }
        } else if !chosen.is_empty() {
            let counted = chosen.into_iter().map(|(_, counted)| counted).collect();
            readings.push(read_row(question, limit, row, limit.name.clone(), counted));
        }
    }
}

/// What counts of one substance under the purpose of the limit; nothing when no line is left.
fn count(question: &Question<'_>, limit: &Limit, part: &Part<'_>) -> Option<Counted> {
    let mut amount = Amount::default();
    let mut lines = Vec::new();
    for (line, of_line) in &part.by_line {
        if serves(question, limit.purpose, *line) {
            amount = amount.plus(*of_line);
            if !lines.contains(line) {
                lines.push(*line);
            }
        }
    }
    if lines.is_empty() || amount.high <= 0.0 {
        return None;
    }
    let factor = match &limit.basis {
        None => Some(1.0),
        Some(basis) => {
            let own = question
                .substance(&part.substance)
                .and_then(|substance| substance.molar_mass_g_mol.as_ref().map(|mass| mass.value));
            own.or(part.member.molar_mass_g_mol)
                .filter(|mass| *mass > 0.0)
                .map(|mass| part.member.basis_per_molecule.unwrap_or(1.0) * basis.molar_mass_g_mol / mass)
        }
    };
    Some(Counted { substance: part.substance.clone(), name: part.name.clone(), amount, factor, lines })
}

/// Whether a line uses its material for the purpose of the limit. A material without declared functions counts either way.
fn serves(question: &Question<'_>, purpose: Purpose, line: usize) -> bool {
    let Some(settled) = question.line(line) else { return true };
    let functions = question.functions(settled);
    let preserves = functions.iter().any(|function| function == "preservative");
    match purpose {
        Purpose::Any => true,
        Purpose::Preservative => preserves || functions.is_empty(),
        Purpose::OtherThanPreservative => !preserves,
    }
}

fn lines_of(counted: &[Counted]) -> Vec<usize> {
    let mut lines: Vec<usize> = counted.iter().flat_map(|part| part.lines.iter().copied()).collect();
    lines.sort_unstable();
    lines.dedup();
    lines
}

/// The amount on the basis with everything that went into it.
fn amount_of(question: &Question<'_>, limit: &Limit, counted: &[Counted]) -> (Outcome, Option<Amount>) {
    let basis = limit.basis.as_ref().map(|basis| basis.name.as_str());
    let method = basis.map_or_else(
        || "sum over all lines".to_owned(),
        |name| format!("sum over all lines, expressed as {name}"),
    );
    if let Some(missing) = counted.iter().find(|part| part.factor.is_none()) {
        let why = format!(
            "no molar mass is known for {}, so it cannot be expressed as {}",
            missing.name,
            basis.unwrap_or("the basis of the act")
        );
        return (Outcome::refuse("% w/w", method, why).source(limit.source.clone()), None);
    }
    let total = counted
        .iter()
        .fold(Amount::default(), |sum, part| sum.plus(part.amount.times(part.factor.unwrap_or(1.0))));
    let mut outcome = Outcome::new(total.percent, "% w/w", Grade::Computed, method)
        .within(total.low, total.high, None)
        .by("a = Σ p·n·M(basis)/M(substance)")
        .proved_by("tests/published/rules_limits.toml")
        .source(limit.source.clone());
    for part in counted {
        outcome = outcome.input(part.name.clone(), part.amount.percent, "% w/w", None);
        if let (Some(name), Some(factor)) = (basis, part.factor) {
            outcome = outcome.input(format!("factor {} to {name}", part.name), factor, "", None);
        }
        for line in &part.lines {
            let of_line: f64 =
                question.composition.substances.get(&part.substance).map_or(part.amount.percent, |share| {
                    share.from.iter().filter(|from| from.line == *line).map(|from| from.percent).sum()
                });
            outcome = outcome.term(
                format!("{} from {}", part.name, question.line_name(*line)),
                of_line * part.factor.unwrap_or(1.0),
                "% w/w",
            );
        }
    }
    (outcome, Some(total))
}

fn read_row(
    question: &Question<'_>,
    limit: &Limit,
    row: &Row,
    name: String,
    counted: Vec<Counted>,
) -> LimitReading {
    let (amount, total) = amount_of(question, limit, &counted);
    let (verdict, reason) = judge(row, total);
    let share_of_maximum = match (total, row.max_percent) {
        (Some(total), Some(maximum)) if maximum > 0.0 => {
            let scale = 100.0 / maximum;
            Some(
                Outcome::new(
                    total.percent * scale,
                    "% of the maximum",
                    Grade::Computed,
                    "amount over maximum",
                )
                .within(total.low * scale, total.high * scale, None),
            )
        }
        _ => None,
    };
    let warnings = row
        .warnings
        .iter()
        .filter(|warning| match (warning.above_percent, total) {
            (Some(above), Some(total)) => exceeds(total.high, above),
            _ => true,
        })
        .cloned()
        .collect();
    LimitReading {
        share_of_maximum,
        amount,
        verdict,
        words: verdict.words(),
        reason,
        conditions: row.conditions.iter().map(|condition| read_condition(question, condition)).collect(),
        warnings,
        ..frame(question.day, limit, row, name, counted)
    }
}

/// Everything of a reading that does not depend on the amount.
fn frame(day: Date, limit: &Limit, row: &Row, name: String, counted: Vec<Counted>) -> LimitReading {
    LimitReading {
        key: limit.key.clone(),
        act: limit.act.clone(),
        amended_by: limit.amended_by.clone(),
        annex: limit.annex.clone(),
        entry: limit.entry.clone(),
        row: row.row.clone(),
        name,
        products: row.products.clone(),
        lines: lines_of(&counted),
        counted,
        basis: limit.basis.as_ref().map(|basis| basis.name.clone()),
        amount: Outcome::refuse("% w/w", "sum over all lines", "not asked"),
        maximum_percent: row.max_percent,
        share_of_maximum: None,
        verdict: Verdict::DoesNotApply,
        words: Verdict::DoesNotApply.words(),
        reason: None,
        placing: row.dates.placing(day),
        available: row.dates.available(day),
        dates: row.dates.clone(),
        conditions: Vec::new(),
        warnings: Vec::new(),
        status: row.status.unwrap_or(limit.status),
        source: row.source.clone().unwrap_or_else(|| limit.source.clone()),
        note: limit.note.clone(),
    }
}

fn judge(row: &Row, total: Option<Amount>) -> (Verdict, Option<String>) {
    let Some(total) = total else {
        return (
            Verdict::NotComparable,
            Some("the amount could not be brought to the basis of the act".to_owned()),
        );
    };
    match row.max_percent {
        None => (Verdict::ConditionsOnly, None),
        Some(maximum) if maximum <= 0.0 => (
            Verdict::Prohibited,
            Some(
                "traces that cannot be avoided in good manufacturing practice are judged apart (Article 17)"
                    .to_owned(),
            ),
        ),
        Some(maximum) if exceeds(total.percent, maximum) => (Verdict::Exceeds, None),
        Some(maximum) if exceeds(total.high, maximum) => (
            Verdict::MayExceed,
            Some(format!("the highest content the raw materials allow is {:.4} %", total.high)),
        ),
        Some(_) => (Verdict::Within, None),
    }
}

/// A product that no row speaks of.
fn outside(
    question: &Question<'_>,
    limit: &Limit,
    row: &Row,
    counted: impl Iterator<Item = Counted>,
) -> LimitReading {
    let counted: Vec<Counted> = counted.collect();
    let (amount, _) = amount_of(question, limit, &counted);
    let listed: Vec<&str> = limit.rows.iter().map(|row| row.products.as_str()).collect();
    let (verdict, reason) = match limit.otherwise {
        Otherwise::NotPermitted => (
            Verdict::NotPermittedHere,
            format!(
                "the entry lists only: {}; this product is {}",
                listed.join("; "),
                question.usage.words()
            ),
        ),
        Otherwise::NoLimit => (
            Verdict::DoesNotApply,
            format!("the entry speaks of: {}; this product is {}", listed.join("; "), question.usage.words()),
        ),
    };
    LimitReading {
        amount,
        maximum_percent: None,
        verdict,
        words: verdict.words(),
        reason: Some(reason),
        ..frame(question.day, limit, row, limit.name.clone(), counted)
    }
}

fn read_condition(question: &Question<'_>, condition: &Condition) -> ConditionReading {
    let text = condition.text().to_owned();
    let (met, why) = match condition {
        Condition::Ph { low, high, strict, .. } => read_ph(question.ph, *low, *high, *strict),
        Condition::NotUnder { years, .. } => {
            if question.usage.under_three {
                (Some(false), "the product is meant for children under three years".to_owned())
            } else {
                (None, format!("the product is taken not to be for children under {years} years"))
            }
        }
        Condition::Without { names, .. } => {
            let wanted: Vec<String> = names.iter().map(|name| name.to_lowercase()).collect();
            let found: Vec<String> = question
                .composition
                .substances
                .iter()
                .filter(|(_, share)| share.high > 0.0)
                .filter(|(key, _)| question.identifiers(key).iter().any(|own| wanted.contains(own)))
                .map(|(key, _)| question.name_of(key))
                .collect();
            if found.is_empty() {
                (Some(true), "none of the named substances is declared in a raw material".to_owned())
            } else {
                (Some(false), format!("the product holds {}", found.join(", ")))
            }
        }
        Condition::Document { .. } => {
            (None, "only a document or a measurement can show it; none is evaluated here".to_owned())
        }
    };
    ConditionReading { text, met, why }
}

fn read_ph(
    ph: Option<(f64, f64)>,
    low: Option<f64>,
    high: Option<f64>,
    strict: bool,
) -> (Option<bool>, String) {
    let Some((from, to)) = ph else {
        return (None, "the pH of the product is not known".to_owned());
    };
    let under = low.is_some_and(|low| if strict { from <= low } else { from < low });
    let over = high.is_some_and(|high| if strict { to >= high } else { to > high });
    match (under, over) {
        (false, false) => (Some(true), format!("the product lies at pH {from:.2} to {to:.2}")),
        (true, _) => (Some(false), format!("at pH {from:.2} it does not hold")),
        (_, true) => (Some(false), format!("at pH {to:.2} it does not hold")),
    }
}

/// Substances that are there to preserve without standing in the market's list: the known ones, and every substance with
/// the role of a preservative that no entry of annex V names.
#[must_use]
pub fn unlisted_preservatives(question: &Question<'_>, market: &Market) -> Vec<UnlistedReading> {
    let mut readings = Vec::new();
    for (key, share) in &question.composition.substances {
        if share.high <= 0.0 {
            continue;
        }
        let identifiers = question.identifiers(key);
        let lines = {
            let mut lines: Vec<usize> = share.from.iter().map(|from| from.line).collect();
            lines.dedup();
            lines
        };
        let reading = |text: String, source: String| UnlistedReading {
            substance: key.clone(),
            name: question.name_of(key),
            amount: Amount { percent: share.percent, low: share.low, high: share.high },
            lines: lines.clone(),
            text,
            source,
        };
        let known = market.unlisted_for(&identifiers);
        if let Some(unlisted) = known.first() {
            readings.push(reading(unlisted.text.clone(), unlisted.source.clone()));
        } else if ["preservative", "preservative-booster"].iter().any(|role| question.has_role(key, role))
            && !market.limits.is_empty()
            && !market.limits_for(&identifiers).iter().any(|(limit, _)| limit.annex == "V")
        {
            let text = format!(
                "{} works against microbes, but no entry of the list of preservatives held here names it: it is declared for another function, and what it adds must be shown by a challenge test.",
                question.name_of(key)
            );
            readings.push(reading(text, "common-practice".to_owned()));
        }
    }
    readings
}
