//! The readings of an attribute over time, as they are judged: the number itself, the percent of the start, or the distance of a colour
//! from the start.
//!
//! Equations: `t = (day pulled - start)/30.4375 d`, `y = mean of the replicates`, `y% = 100 y/y_start`,
//! `dE = sqrt((L-L0)^2 + (a-a0)^2 + (b-b0)^2)` (the colour difference of 1976). Proved by `tests/cross/studies.toml`.

use super::StudyRecords;
use crate::records::{AttributeReads, Kept, START, Study, StudyAttribute, StudyReading, TypedNumber};
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;
use serde::Serialize;

/// Days of a month by which times are given in months.
const DAYS_OF_A_MONTH: f64 = 30.4375;

/// How a reading stands to the limits of its attribute.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// Within them.
    Within,
    /// Below the least.
    Below,
    /// Above the most.
    Above,
    /// It is no number, or there is no start to compare it with: a person must look.
    NotCompared,
    /// There is no limit.
    NoLimit,
}

/// A reading as it is judged.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Judged<'r> {
    pub(super) kept: &'r Kept<StudyReading>,
    /// Months since the start, by the day really pulled.
    pub(super) months: f64,
    /// Mean of the replicates; for a colour that of L*.
    pub(super) mean: Option<f64>,
    /// What the limits speak of.
    pub(super) value: Option<f64>,
    pub(super) verdict: Verdict,
}

/// Months between the start and a day.
pub(super) fn months_after(start: jiff::civil::Date, on: jiff::civil::Date) -> f64 {
    let days = (on - start).get_days();
    f64::from(days) / DAYS_OF_A_MONTH
}

/// Unit of what the limits of an attribute speak of.
pub(super) fn judged_unit(attribute: &StudyAttribute) -> String {
    match attribute.reads {
        AttributeReads::Value => attribute.unit.clone(),
        AttributeReads::PercentOfStart => "% of the start".to_owned(),
        AttributeReads::Colour => "distance from the start".to_owned(),
        AttributeReads::Scale => "steps".to_owned(),
    }
}

/// Means of the numbers of replicates, by their place in a replicate. Nothing where one of them is no number.
fn means(values: &[TypedNumber], numbers: usize) -> Option<Vec<f64>> {
    let read: Option<Vec<f64>> = values.iter().map(|value| value.value.and_then(|it| it.to_f64())).collect();
    let read = read?;
    if read.is_empty() || read.len() % numbers != 0 {
        return None;
    }
    let replicates = f64::from(u32::try_from(read.len() / numbers).ok()?);
    Some((0..numbers).map(|at| read.iter().skip(at).step_by(numbers).sum::<f64>() / replicates).collect())
}

/// The means at the start of a batch in a pack.
fn at_start(records: &StudyRecords, like: &StudyReading, numbers: usize) -> Option<Vec<f64>> {
    let start = records.counted().find(|kept| {
        let read = &kept.what;
        read.condition == START
            && read.batch == like.batch
            && read.pack == like.pack
            && read.attribute == like.attribute
    })?;
    means(&start.what.values, numbers)
}

/// Judges a reading of the plan as it stands.
pub(super) fn judge<'r>(records: &StudyRecords, kept: &'r Kept<StudyReading>) -> Judged<'r> {
    let plan: &Study = records.plan();
    let read = &kept.what;
    let months = months_after(plan.start, read.on);
    let attribute = plan.attributes.iter().find(|it| it.name == read.attribute);
    let Some(attribute) = attribute else {
        return Judged { kept, months, mean: None, value: None, verdict: Verdict::NotCompared };
    };
    let means_here = means(&read.values, attribute.numbers());
    let mean = means_here.as_ref().and_then(|means| means.first().copied());
    let value = match attribute.reads {
        AttributeReads::Value | AttributeReads::Scale => mean,
        AttributeReads::PercentOfStart => at_start(records, read, 1)
            .and_then(|start| start.first().copied())
            .filter(|start| *start > 0.0)
            .and_then(|start| mean.map(|mean| 100.0 * mean / start)),
        AttributeReads::Colour => means_here.as_ref().and_then(|here| {
            let start = at_start(records, read, 3)?;
            let squares = here.iter().zip(&start).map(|(here, start)| (here - start) * (here - start));
            Some(squares.sum::<f64>().sqrt())
        }),
    };
    Judged { kept, months, mean, value, verdict: verdict(attribute, &read.values, value) }
}

/// A limit as a number.
pub(super) fn limit(limit: Option<&TypedNumber>) -> Option<f64> {
    limit.and_then(|it| it.value).and_then(|it| it.to_f64())
}

fn verdict(attribute: &StudyAttribute, typed: &[TypedNumber], value: Option<f64>) -> Verdict {
    let (lower, upper) = (limit(attribute.lower.as_ref()), limit(attribute.upper.as_ref()));
    if lower.is_none() && upper.is_none() {
        return Verdict::NoLimit;
    }
    match value {
        Some(value) if lower.is_some_and(|least| value < least) => Verdict::Below,
        Some(value) if upper.is_some_and(|most| value > most) => Verdict::Above,
        Some(_) => Verdict::Within,
        None if attribute.reads == AttributeReads::Value && lower.is_none() => {
            let most = attribute.upper.as_ref().and_then(|it| it.value);
            let within = |value: &TypedNumber| most.is_some_and(|most| at_most(value, most));
            if typed.iter().all(within) { Verdict::Within } else { Verdict::NotCompared }
        }
        None => Verdict::NotCompared,
    }
}

/// `< 10` lies within an upper limit of ten and more; `< 5000` says nothing about a limit of a thousand.
fn at_most(value: &TypedNumber, most: Decimal) -> bool {
    let below = value.typed.trim().strip_prefix(['<', '\u{2264}']);
    value
        .value
        .or_else(|| below.and_then(|text| TypedNumber::read_either(text).value))
        .is_some_and(|number| number <= most)
}

/// Two readings that count were measured otherwise than each other.
pub(super) fn measured_at<'a>(
    attribute: &'a StudyAttribute,
    read: &'a StudyReading,
) -> std::collections::BTreeMap<&'a str, &'a str> {
    let planned = attribute.measured_at.iter().map(|(name, value)| (name.as_str(), value.as_str()));
    let own = read.measured_at.iter().map(|(name, value)| (name.as_str(), value.as_str()));
    planned.chain(own).collect()
}
