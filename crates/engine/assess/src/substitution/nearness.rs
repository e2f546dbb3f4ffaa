//! How near two raw materials are, property by property.
//!
//! Each property that is known of both gives a distance from 0 to 1; one that is known of one alone, or of none, says so and counts as
//! half way. The distance of the whole is their mean. The scales are judgement, no source.

use super::Wanted;
use levigate_formula::library::{Form, InWater, Library, Material, Range, Substance};
use levigate_measure::elementary::Elementary as _;
use levigate_measure::{Grade, Outcome};
use rust_decimal::prelude::ToPrimitive;
use serde::Serialize;

/// What a property that is not known counts.
const HALF_WAY: f64 = 0.5;
/// Factor in amount, solubility or price that counts as wholly different.
const WHOLLY: f64 = 10.0;
/// Units of pH that count as wholly different.
const WHOLLY_PH: f64 = 3.0;

/// One property of two raw materials.
#[derive(Clone, Debug, Serialize)]
pub struct PropertyReading {
    /// Name.
    pub name: &'static str,
    /// Of the one that is gone, in words.
    pub gone: String,
    /// Of the other, in words.
    pub other: String,
    /// How far, 0 to 1; refused where it is not known of both.
    pub distance: Outcome,
}

/// How far two raw materials are from each other.
#[must_use]
pub fn nearness(gone: &Material, other: &Material, wanted: &Wanted<'_>) -> (Outcome, Vec<PropertyReading>) {
    let known = &wanted.known;
    let pair = [gone, other];
    let mut all = vec![functions(gone, other)];
    all.push(words("charge", pair.map(|one| one.charge.map(|charge| format!("{charge:?}").to_lowercase()))));
    all.push(words("form", pair.map(|one| Some(form(one.form).to_owned()))));
    all.push(words("in water", pair.map(|one| main_in_water(one, wanted))));
    if pair.iter().any(|one| known.flow.facts.thickeners.contains_key(&one.key)) {
        let family =
            |one: &Material| known.flow.facts.thickeners.get(&one.key).map(|own| own.family.name.clone());
        all.push(words("thickener family", pair.map(family)));
    }
    all.push(words(
        "salt it bears",
        pair.map(|one| one.electrolyte_tolerance.as_ref().map(|tolerance| tolerance.class.clone())),
    ));
    all.push(ranges("pH in which it works", pair.map(|one| one.ph_works.as_ref())));
    all.push(ranges("pH it survives", pair.map(|one| one.ph_survives.as_ref())));
    all.push(factor("usual level, %", pair.map(|one| one.use_level_percent.as_ref().map(middle))));
    all.push(factor("solubility, g per kg of water", pair.map(|one| solubility(one, wanted))));
    let index = |one: &Material| natural(one, wanted);
    all.push(difference("natural-origin index", pair.map(index), 1.0));
    let latest = |one: &Material| {
        let day = wanted.day.to_string();
        let newest =
            one.prices.iter().filter(|price| price.date <= day).max_by(|a, b| a.date.cmp(&b.date))?;
        newest.per_kg.to_f64()
    };
    let currency = |one: &Material| one.prices.first().map(|price| price.currency.clone());
    let prices = if currency(gone) == currency(other) { pair.map(latest) } else { [latest(gone), None] };
    all.push(factor("price per kg", prices));
    let distances = all.iter().map(|property| property.distance.value.unwrap_or(HALF_WAY));
    #[expect(clippy::cast_precision_loss, reason = "a dozen properties")]
    let mean = distances.sum::<f64>() / all.len() as f64;
    let distance =
        Outcome::new(mean, "", Grade::RuleOfThumb, "mean over the properties, one not known as half way")
            .note("judgement", "the scales of the properties are judgement, no source");
    (distance, all)
}

fn told(distance: f64) -> Outcome {
    Outcome::new(
        distance.clamp(0.0, 1.0),
        "",
        Grade::RuleOfThumb,
        "distance of one property, 0 alike, 1 wholly different",
    )
}

fn property(name: &'static str, words: [Option<String>; 2], distance: Option<f64>) -> PropertyReading {
    let [gone, other] = words.map(|words| words.unwrap_or_else(|| "not known".to_owned()));
    let distance = distance.map_or_else(
        || Outcome::refuse("", "distance of one property, 0 alike, 1 wholly different", "not known of both"),
        told,
    );
    PropertyReading { name, gone, other, distance }
}

/// Alike or not.
fn words(name: &'static str, both: [Option<String>; 2]) -> PropertyReading {
    let distance = match &both {
        [Some(gone), Some(other)] => Some(if gone == other { 0.0 } else { 1.0 }),
        _ => None,
    };
    property(name, both, distance)
}

fn functions(gone: &Material, other: &Material) -> PropertyReading {
    let shared = gone.functions.iter().filter(|one| other.functions.contains(one)).count();
    let all = gone.functions.len() + other.functions.len() - shared;
    #[expect(clippy::cast_precision_loss, reason = "a few functions")]
    let distance = (all > 0).then(|| 1.0 - shared as f64 / all as f64);
    property("functions", [gone, other].map(|one| Some(one.functions.join(", "))), distance)
}

/// By how many times.
fn factor(name: &'static str, both: [Option<f64>; 2]) -> PropertyReading {
    let distance = match both {
        [Some(gone), Some(other)] if gone > 0.0 && other > 0.0 => {
            Some((gone / other).log_e().abs() / WHOLLY.log_e())
        }
        _ => None,
    };
    property(name, both.map(|one| one.map(crate::findings::digits)), distance)
}

fn difference(name: &'static str, both: [Option<f64>; 2], wholly: f64) -> PropertyReading {
    let distance = match both {
        [Some(gone), Some(other)] => Some((gone - other).abs() / wholly),
        _ => None,
    };
    property(name, both.map(|one| one.map(crate::findings::digits)), distance)
}

/// How much of the range of the one that is gone the other does not reach.
fn ranges(name: &'static str, both: [Option<&Range>; 2]) -> PropertyReading {
    let distance = match both {
        [Some(gone), Some(other)] => {
            Some(((other.low - gone.low).max(0.0) + (gone.high - other.high).max(0.0)) / WHOLLY_PH)
        }
        _ => None,
    };
    let words = |range: &Range| format!("{} to {}", range.low, range.high);
    property(name, both.map(|range| range.map(words)), distance)
}

fn middle(range: &Range) -> f64 {
    (range.low.max(1e-3) * range.high.max(1e-3)).sqrt()
}

fn form(form: Form) -> &'static str {
    match form {
        Form::Powder => "powder",
        Form::Granules => "granules",
        Form::Liquid => "liquid",
        Form::Solution => "solution",
        Form::Dispersion => "dispersion",
        Form::Paste => "paste",
        Form::Wax => "wax",
    }
}

/// The substance a raw material is bought for: its active, else the largest that is not water.
#[must_use]
pub fn main_substance<'a>(material: &Material, library: &'a Library) -> Option<&'a Substance> {
    let substances = &library.substances;
    if let Some(active) = material.active.as_ref().and_then(|key| substances.get(key)) {
        return Some(active);
    }
    let parts = material
        .constituents
        .iter()
        .filter_map(|part| Some((part.typical, substances.get(&part.substance)?)));
    parts
        .filter(|(_, substance)| !matches!(substance.in_water, InWater::Water))
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, substance)| substance)
}

fn main_in_water(material: &Material, wanted: &Wanted<'_>) -> Option<String> {
    let words = match &main_substance(material, wanted.known.library)?.in_water {
        InWater::Water => "water",
        InWater::Components { .. } => "dissolves and ionises",
        InWater::Polyion { .. } => "charged chain",
        InWater::Neutral => "dissolves without charge",
        InWater::Polymer => "chain that counts as mass only",
        InWater::Oil => "belongs to the oil",
        InWater::Insoluble => "does not dissolve",
        InWater::Unknown => return None,
    };
    Some(words.to_owned())
}

fn solubility(material: &Material, wanted: &Wanted<'_>) -> Option<f64> {
    let values = &main_substance(material, wanted.known.library)?.solubility;
    let near_room = values
        .iter()
        .min_by(|a, b| (a.temperature_c - 22.0).abs().total_cmp(&(b.temperature_c - 22.0).abs()));
    near_room.map(|value| value.g_per_kg_water)
}

fn natural(material: &Material, wanted: &Wanted<'_>) -> Option<f64> {
    let own = material.natural_origin_index.as_ref().map(|index| index.value);
    own.or_else(|| {
        main_substance(material, wanted.known.library)?.natural_origin_index.as_ref().map(|index| index.value)
    })
}
