//! Predict how a formula flows, at conditions of one's own.

use super::assess::{Bench, known, with_assessed};
use crate::diagnostic::Diagnostic;
use jiff::civil::Date;
use levigate_assess::flow::{FlowReading, flowing_at, reading_at, viscosity_at};
use levigate_facts::Facts;
use levigate_formula::sheet::{Product, ViscosityTarget};
use levigate_measure::Outcome;
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;
use serde::Serialize;

/// Most a shear rate may be, 1/s, and its inverse the least.
const MOST_RATE: f64 = 1e6;

/// Conditions; what is not given is taken from the brief.
#[derive(Clone, Debug, Default)]
pub struct Asked {
    /// Temperature, C.
    pub temperature_c: Option<Decimal>,
    /// Shear rates, 1/s.
    pub shear_rates: Vec<f64>,
    /// Spindle, in words.
    pub spindle: Option<String>,
    /// Speed, rpm.
    pub speed_rpm: Option<Decimal>,
    /// Full-scale torque of the instrument, uN m.
    pub torque_un_m: Option<Decimal>,
}

/// How a formula flows.
#[derive(Clone, Debug, Serialize)]
pub struct FlowPrediction {
    /// Product.
    pub product: Product,
    /// The reading.
    #[serde(flatten)]
    pub flow: FlowReading,
    /// Viscosities at the shear rates asked for, Pa s.
    pub viscosities: Vec<Outcome>,
}

/// Predicts, with what the bench has taught where there is one.
///
/// # Errors
/// What is wrong with the formula, or a condition that cannot be.
pub fn predict(
    facts: &Facts,
    (day, market): (Date, &str),
    (file, text): (&str, &str),
    asked: &Asked,
    bench: Option<Bench<'_>>,
) -> Result<FlowPrediction, Vec<Diagnostic>> {
    with_assessed(facts, (day, market), file, text, |formula, facts, assessed| {
        let sheet = &formula.sheet;
        let refuse = |what: String, what_now: &str| {
            Err(vec![formula.diagnose_line(None, "condition-out-of-range", what, what_now.to_owned())])
        };
        let brief = sheet.target.viscosity.as_ref();
        let celsius = asked.temperature_c.or(brief.and_then(|brief| brief.temperature_c));
        let temperature_c = celsius.and_then(|celsius| celsius.to_f64()).unwrap_or(25.0);
        if !(0.0..=90.0).contains(&temperature_c) {
            return refuse(
                format!("{temperature_c} C is outside 0 to 90 C"),
                "give a temperature between 0 and 90",
            );
        }
        if let Some(rate) =
            asked.shear_rates.iter().find(|rate| !(1.0 / MOST_RATE..=MOST_RATE).contains(*rate))
        {
            return refuse(
                format!("a shear rate of {rate} 1/s cannot be"),
                "give shear rates from 1e-6 to 1e6 1/s",
            );
        }
        for (name, number) in [("speed", asked.speed_rpm), ("torque", asked.torque_un_m)] {
            if number.is_some_and(|number| number <= Decimal::ZERO) {
                return refuse(format!("a {name} of zero or less cannot be"), "give a number above zero");
            }
        }
        let mut known = known(facts);
        known.flow.bench = bench;
        if let Some(torque) = asked.torque_un_m.and_then(|torque| torque.to_f64()) {
            known.flow.torque_n_m = Some(torque * 1e-6);
        }
        let flowing = flowing_at(assessed, sheet, &known, temperature_c);
        let prediction = flowing.blend.predict();
        let conditions = ViscosityTarget {
            // What a disc of a size nobody named must hold.
            mpa_s: brief.map_or_else(
                || {
                    let at_ten = prediction.viscosity_within(10.0)[2] * 2e3;
                    [Decimal::ZERO, Decimal::from_f64_retain(at_ten).unwrap_or(Decimal::ONE)]
                },
                |brief| brief.mpa_s,
            ),
            spindle: asked.spindle.clone().or_else(|| brief.and_then(|brief| brief.spindle.clone())),
            speed_rpm: asked.speed_rpm.or(brief.and_then(|brief| brief.speed_rpm)),
            temperature_c: celsius,
            age_h: brief.and_then(|brief| brief.age_h),
        };
        Ok(FlowPrediction {
            product: sheet.product.clone(),
            flow: reading_at(&flowing, &prediction, Some(&conditions), &known.flow),
            viscosities: asked
                .shear_rates
                .iter()
                .map(|rate| viscosity_at(&flowing, &prediction, *rate))
                .collect(),
        })
    })
}
