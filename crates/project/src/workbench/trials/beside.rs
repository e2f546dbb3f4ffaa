//! A reading beside the prediction and the target, in words. Unlike conditions are never compared without saying so.

use super::book::Prediction;
use super::flow::{number_in, to_mpa_s};
use crate::records::{Method, Reading, TypedNumber};
use crate::workbench::complaint::sentence;
use levigate_assess::adjusting::Method as ReadAs;
use levigate_formula::names::folded;
use levigate_formula::sheet::{PhRead, Target, ViscosityTarget};
use levigate_measure::Outcome;
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;
use serde::Serialize;

/// Predictions are for this temperature, C.
const PREDICTED_AT_C: Decimal = Decimal::from_parts(25, 0, 0, false, 0);
/// A temperature nearer than this is the same one: a bench thermometer reads to half a degree. Common practice, no source.
const SAME_TEMPERATURE_C: Decimal = Decimal::ONE;

/// How a reading stands to the prediction.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Stands {
    /// Within the interval.
    Inside,
    /// Below it.
    Below,
    /// Above it.
    Above,
    /// The prediction has no interval.
    NoInterval,
    /// The conditions are not those of the prediction, or not noted.
    Unlike,
    /// Nothing is predicted for it.
    NotPredicted,
    /// What was typed is no number.
    NotANumber,
}

/// A reading beside what was predicted and what is wanted.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Beside {
    /// The prediction it is laid beside.
    pub predicted: Option<Outcome>,
    /// For which conditions that is.
    pub predicted_for: String,
    /// How it stands.
    pub stands: Stands,
    /// The same in words, with the conditions that differ.
    pub words: String,
    /// How it stands to the target, in words; empty where there is none.
    pub target: String,
}

impl Beside {
    fn bare(stands: Stands, words: &str) -> Self {
        Self {
            predicted: None,
            predicted_for: String::new(),
            stands,
            words: words.to_owned(),
            target: String::new(),
        }
    }
}

/// Lays a reading beside the prediction for its trial.
/// `foreseen` is the viscosity predicted for the conditions of the reading itself, or why there is none.
pub(super) fn beside(
    reading: &Reading,
    prediction: &Prediction,
    foreseen: Option<&Result<(String, Outcome), String>>,
    target: Option<&Target>,
) -> Beside {
    let mut beside = match reading.quantity.as_str() {
        "ph" => ph(reading, prediction),
        "density" => density(reading, prediction),
        "viscosity" => viscosity_foreseen(reading, prediction, foreseen),
        _ => Beside::bare(Stands::NotPredicted, ""),
    };
    if let Some(target) = target {
        beside.target = against_target(reading, target);
    }
    beside
}

fn ph(reading: &Reading, prediction: &Prediction) -> Beside {
    let (outcome, words) = match &reading.method {
        Method::Neat => (prediction.ph.as_ref(), "neat, 25 °C"),
        Method::TenPercentInWater => (prediction.ten_percent.as_ref(), "10 % in water, 25 °C"),
        Method::Other(method) => {
            let words = format!(
                "Read otherwise ({method}); predictions are for the product neat and for 10 % in water. Not compared."
            );
            return Beside::bare(Stands::Unlike, &words);
        }
    };
    compared(reading, reading.value.value, outcome, words, prediction, Some(PREDICTED_AT_C))
}

fn density(reading: &Reading, prediction: &Prediction) -> Beside {
    let per_ml = match folded(&reading.unit).as_str() {
        "g/ml" | "g/cm3" | "g/cm³" | "kg/l" => Some(Decimal::ONE),
        "kg/m3" | "kg/m³" | "g/l" => Some(Decimal::ONE_THOUSAND),
        _ => None,
    };
    let Some(per_ml) = per_ml else {
        return Beside::bare(
            Stands::Unlike,
            "Its unit is not one of density known here (g/mL, kg/m³). Not compared.",
        );
    };
    let value = reading.value.value.and_then(|value| value.checked_div(per_ml));
    compared(reading, value, prediction.density.as_ref(), "25 °C", prediction, Some(PREDICTED_AT_C))
}

/// A viscosity is laid beside what was predicted for its own spindle, speed and temperature.
fn viscosity_foreseen(
    reading: &Reading,
    prediction: &Prediction,
    foreseen: Option<&Result<(String, Outcome), String>>,
) -> Beside {
    match foreseen {
        Some(Ok((words, outcome))) => {
            let value = reading.value.value.zip(to_mpa_s(&reading.unit));
            let value = value.and_then(|(value, factor)| value.checked_mul(factor));
            compared(reading, value, Some(outcome), words, prediction, None)
        }
        Some(Err(why)) => Beside::bare(Stands::Unlike, &sentence(&format!("{why}. Not compared"))),
        None => Beside::bare(Stands::NotPredicted, "Nothing is predicted for it."),
    }
}

/// Whether a value lies within the interval of a prediction, and what of the conditions differs.
fn compared(
    reading: &Reading,
    value: Option<Decimal>,
    outcome: Option<&Outcome>,
    predicted_for: &str,
    prediction: &Prediction,
    predicted_at_c: Option<Decimal>,
) -> Beside {
    let Some((outcome, predicted)) = outcome.and_then(|outcome| Some((outcome, outcome.value?))) else {
        let why = outcome.and_then(|outcome| outcome.refused.clone()).or_else(|| prediction.refused.clone());
        let words = why.map_or_else(
            || "Nothing is predicted for it.".to_owned(),
            |why| sentence(&format!("nothing is predicted for it: {why}")),
        );
        return Beside::bare(Stands::NotPredicted, &words);
    };
    let mut beside = Beside {
        predicted: Some(outcome.clone()),
        predicted_for: predicted_for.to_owned(),
        ..Beside::bare(Stands::NotANumber, "What was typed is no number. Not compared.")
    };
    let decimals = value.map_or(0, |value| usize::try_from(value.scale()).unwrap_or(0));
    let Some(value) = value.and_then(|value| value.to_f64()) else { return beside };
    let (stands, words) = match (outcome.low, outcome.high) {
        (Some(low), _) if value < low => {
            (Stands::Below, format!("{} below the interval", distance(low - value, decimals)))
        }
        (_, Some(high)) if value > high => {
            (Stands::Above, format!("{} above the interval", distance(value - high, decimals)))
        }
        (Some(_), Some(_)) => (Stands::Inside, "inside the interval".to_owned()),
        _ => {
            let way = if value < predicted { "below" } else { "above" };
            (
                Stands::NoInterval,
                format!(
                    "{} {way} the prediction, which has no interval",
                    distance((value - predicted).abs(), decimals)
                ),
            )
        }
    };
    let unlike =
        match reading.temperature_c.as_ref().map(|temperature| (&temperature.typed, temperature.value)) {
            // Predicted for the temperature of the reading itself.
            Some((_, Some(_))) if predicted_at_c.is_none() => None,
            Some((_, Some(value)))
                if predicted_at_c.is_some_and(|at| (value - at).abs() <= SAME_TEMPERATURE_C) =>
            {
                None
            }
            Some((typed, _)) => Some(format!("Read at {typed} °C, predicted for 25 °C: unlike conditions.")),
            None => Some("The temperature of the sample was not noted; predicted for 25 °C.".to_owned()),
        };
    (beside.stands, beside.words) = match unlike {
        None => (stands, sentence(&words)),
        Some(unlike) => (Stands::Unlike, format!("{unlike} As it stands it lies {words}.")),
    };
    beside
}

/// A distance in two figures, never finer than the reading was taken.
fn distance(far: f64, decimals: usize) -> String {
    let digits = match far {
        far if far >= 9.95 => 0,
        far if far >= 0.995 => 1,
        far if far >= 0.0995 => 2,
        _ => 3,
    };
    let digits = digits.min(decimals);
    let text = format!("{far:.digits$}");
    if text.chars().all(|sign| matches!(sign, '0' | '.')) {
        let step = 10_f64.powi(-i32::try_from(digits).unwrap_or(0));
        format!("less than {step:.digits$}")
    } else {
        text
    }
}

pub(in crate::workbench) fn against_target(reading: &Reading, target: &Target) -> String {
    let Some(value) = reading.value.value else { return String::new() };
    match (reading.quantity.as_str(), &reading.method) {
        ("ph", _) => {
            target.ph.map(|window| ph_against(reading, value, window, &target.ph_read)).unwrap_or_default()
        }
        ("viscosity", _) => {
            target.viscosity.as_ref().map(|target| viscosity(reading, value, target)).unwrap_or_default()
        }
        _ => String::new(),
    }
}

/// A pH against the window of the target, where both are read alike.
fn ph_against(reading: &Reading, value: Decimal, window: [Decimal; 2], read: &PhRead) -> String {
    let wanted = ReadAs::of(read);
    let alike = match reading.method {
        Method::Neat => !wanted.diluted,
        Method::TenPercentInWater => wanted.diluted,
        Method::Other(_) => false,
    };
    if !alike {
        return format!("The target is for a pH read {}. Not compared.", wanted.words());
    }
    let mut unlike = Vec::new();
    let mut compare = |name: &str, wanted: Option<f64>, unit: &str, near: f64, had: Option<Decimal>| {
        if let Some((wanted, had)) = wanted.zip(had.and_then(|had| had.to_f64()))
            && (had - wanted).abs() >= near
        {
            unlike.push(format!("{name} {had}{unit} instead of {wanted}{unit}"));
        }
    };
    let noted = |number: &Option<TypedNumber>| number.as_ref().and_then(|number| number.value);
    let near_c = SAME_TEMPERATURE_C.to_f64().unwrap_or(1.0);
    compare("temperature", Some(wanted.temperature_c), " °C", near_c, noted(&reading.temperature_c));
    compare("age", wanted.age_h, " h", f64::MIN_POSITIVE, noted(&reading.age_h));
    let mut words = window_words(value, window, "");
    if !unlike.is_empty() {
        words.push_str(&format!(" Unlike conditions: {}.", unlike.join("; ")));
    }
    words
}

fn window_words(value: Decimal, [low, high]: [Decimal; 2], unit: &str) -> String {
    let stands = if value < low {
        "below it"
    } else if value > high {
        "above it"
    } else {
        "inside it"
    };
    format!("Target {low} to {high}{unit}: {stands}.")
}

fn viscosity(reading: &Reading, value: Decimal, target: &ViscosityTarget) -> String {
    let Some(to_mpa_s) = to_mpa_s(&reading.unit) else {
        return "The target is in mPa·s. Not compared.".to_owned();
    };
    let Some(value) = value.checked_mul(to_mpa_s) else { return String::new() };
    let mut words = window_words(value, target.mpa_s, " mPa·s");
    let condition = |name: &str| {
        reading.conditions.iter().find(|(known, _)| folded(known) == name).map(|(_, value)| value.clone())
    };
    let mut unlike = Vec::new();
    let mut compare = |name: &str, wanted: Option<Decimal>, unit: &str, had: Option<Decimal>| {
        let Some(wanted) = wanted else { return };
        match had {
            Some(had) if had == wanted => {}
            Some(had) => {
                unlike.push(format!("{name} {} instead of {}{unit}", had.normalize(), wanted.normalize()))
            }
            None => unlike.push(format!("{name} not noted, {}{unit} wanted", wanted.normalize())),
        }
    };
    compare("speed", target.speed_rpm, " rpm", number_in(condition("speed")));
    compare(
        "temperature",
        target.temperature_c,
        " °C",
        reading.temperature_c.as_ref().and_then(|number| number.value),
    );
    compare("age", target.age_h, " h", reading.age_h.as_ref().and_then(|number| number.value));
    if let Some(wanted) = &target.spindle {
        match condition("spindle") {
            Some(had) if folded(&had) == folded(wanted) => {}
            Some(had) => unlike.push(format!("spindle \"{had}\" instead of \"{wanted}\"")),
            None => unlike.push(format!("spindle not noted, \"{wanted}\" wanted")),
        }
    }
    if !unlike.is_empty() {
        words.push_str(&format!(" Unlike conditions: {}.", unlike.join("; ")));
    }
    words
}
