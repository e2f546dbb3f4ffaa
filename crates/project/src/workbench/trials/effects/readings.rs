//! Readings of two trials that can be held against each other.

use super::super::TrialRecords;
use super::NotComputed;
use crate::records::{Kept, Reading, Trial, TypedNumber, in_force};
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;

/// A reading as it enters the comparison.
#[derive(Clone, Debug)]
pub(super) struct Taken<'r, H> {
    pub(super) reading: &'r Reading,
    /// On the scale effects add up on.
    pub(super) value: f64,
    /// How it was read, where that decides what the engine expects.
    pub(super) how: H,
}

/// The readings that stand on a trial and mean something to `means`.
pub(super) fn taken_on<'r, H>(
    records: &'r TrialRecords,
    trial: &Kept<Trial>,
    means: impl Fn(&'r Kept<Reading>) -> Option<(f64, H)>,
) -> Vec<Taken<'r, H>> {
    let readings = records.readings.get(&trial.id).map_or(&[][..], Vec::as_slice);
    let stand = in_force(readings).into_iter().filter(|reading| !reading.what.withdrawn);
    stand
        .filter_map(|reading| {
            let (value, how) = means(reading).filter(|(value, _)| value.is_finite())?;
            Some(Taken { reading: &reading.what, value, how })
        })
        .collect()
}

/// The pair of readings most alike in temperature, age and by `apart`, the later where several are; the last of one trial where the other has
/// none.
pub(super) fn most_alike<'r, H: Clone>(
    before: &[Taken<'r, H>],
    after: &[Taken<'r, H>],
    apart: impl Fn(&H, &H) -> f64,
) -> [Option<Taken<'r, H>>; 2] {
    let number = |number: &Option<TypedNumber>| plain(number.as_ref().and_then(|number| number.value));
    // Ages tell by their ratio, temperatures by their difference; what was not noted stands behind what was read alike.
    let unlike = |was: &Taken<'_, H>, now: &Taken<'_, H>| {
        let ages = number(&was.reading.age_h).zip(number(&now.reading.age_h));
        let aged = ages.map_or(1.0, |(was, now)| ((was + 1.0) / (now + 1.0)).log10().abs());
        let degrees = number(&was.reading.temperature_c).zip(number(&now.reading.temperature_c));
        aged + degrees.map_or(1.0, |(was, now)| (was - now).abs() / 5.0) + apart(&was.how, &now.how)
    };
    let pairs = after.iter().rev().flat_map(|now| before.iter().rev().map(move |was| (was, now)));
    let best = pairs.min_by(|one, other| unlike(one.0, one.1).total_cmp(&unlike(other.0, other.1)));
    match best {
        Some((was, now)) => [Some(was.clone()), Some(now.clone())],
        None => [before.last().cloned(), after.last().cloned()],
    }
}

pub(super) fn plain(value: Option<Decimal>) -> Option<f64> {
    value.and_then(|value| value.to_f64())
}

/// A reading as typed, with its unit.
pub(super) fn as_typed(reading: &Reading) -> String {
    format!("{} {}", reading.value.typed, reading.unit).trim().to_owned()
}

/// Readings taken otherwise: age, and temperature where the engine does not follow it.
pub(super) fn unlike_readings(read: [Option<&Reading>; 2], follows_temperature: bool) -> Vec<NotComputed> {
    let [Some(was), Some(now)] = read else { return Vec::new() };
    let temperature = ("temperature of the reading", &was.temperature_c, &now.temperature_c, " \u{b0}C");
    let age = ("age of the sample read", &was.age_h, &now.age_h, " h");
    let typed = |number: &Option<TypedNumber>, unit: &str| {
        number.as_ref().map_or_else(|| "not noted".to_owned(), |number| format!("{}{unit}", number.typed))
    };
    let mut found: Vec<NotComputed> = [temperature, age]
        .into_iter()
        .skip(usize::from(follows_temperature))
        .filter(|(_, was, now, _)| {
            was.as_ref().and_then(|one| one.value) != now.as_ref().and_then(|one| one.value)
        })
        .map(|(what, was, now, unit)| NotComputed {
            what: what.to_owned(),
            was: typed(was, unit),
            now: typed(now, unit),
            why: "the two were not read alike".to_owned(),
        })
        .collect();
    if !was.instrument.is_empty() && !now.instrument.is_empty() && was.instrument != now.instrument {
        found.push(NotComputed {
            what: "instrument".to_owned(),
            was: was.instrument.clone(),
            now: now.instrument.clone(),
            why: "the two were not read alike".to_owned(),
        });
    }
    found
}
