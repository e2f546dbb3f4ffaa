//! A recovery in the TOML: readings over time after a strong shear.

use crate::diagnostic::Diagnostic;
use crate::flow_table::{Held, Meaning, MeasuredRecovery, TimedPoint, complaint};
use serde::Deserialize;

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(super) struct Written {
    pub(super) name: String,
    temperature_c: Option<f64>,
    shear_rate_1_s: Option<f64>,
    strong_shear_rate_1_s: Option<f64>,
    before_pa_s: Vec<f64>,
    before_mpa_s: Vec<f64>,
    time_s: Vec<f64>,
    stress_pa: Vec<f64>,
    viscosity_pa_s: Vec<f64>,
    viscosity_mpa_s: Vec<f64>,
}

/// The recovery written down, checked.
pub(super) fn measured(
    file: &str,
    field: &str,
    written: &Written,
) -> Result<MeasuredRecovery, Vec<Diagnostic>> {
    let fault = |what: String, what_now: &str| vec![complaint(file, "no-recovery", field, what, what_now)];
    let usable = |value: f64| value.is_finite() && value > 0.0;
    for (name, rate) in
        [("shear_rate_1_s", written.shear_rate_1_s), ("strong_shear_rate_1_s", written.strong_shear_rate_1_s)]
    {
        if rate.is_some_and(|rate| !usable(rate)) {
            return Err(fault(
                format!("{name} is no shear rate above zero"),
                "give it in 1/s, or leave it out",
            ));
        }
    }
    let given: Vec<_> = [
        (&written.stress_pa, Meaning::Stress, "Pa", 1.0),
        (&written.viscosity_pa_s, Meaning::Viscosity, "Pa s", 1.0),
        (&written.viscosity_mpa_s, Meaning::Viscosity, "mPa s", 1e-3),
    ]
    .into_iter()
    .filter(|(values, ..)| !values.is_empty())
    .collect();
    let [(values, meaning, unit, factor)] = given.as_slice() else {
        return Err(fault(
            format!("{} lists of values stand beside the time", given.len()),
            "give time_s with one of viscosity_mpa_s, viscosity_pa_s and stress_pa",
        ));
    };
    let times = &written.time_s;
    if times.len() != values.len() {
        let what =
            format!("{} times and {} of {} do not pair up", times.len(), values.len(), meaning.words());
        return Err(fault(what, "give one value for every time"));
    }
    let rate = match (meaning, written.shear_rate_1_s) {
        (Meaning::Stress, None) => {
            return Err(fault(
                "a stress over time is a viscosity only with the shear rate it was read at".to_owned(),
                "give shear_rate_1_s",
            ));
        }
        (Meaning::Stress, Some(rate)) => rate,
        _ => 1.0,
    };
    let sound = |(time, value): (&f64, &f64)| *time >= 0.0 && time.is_finite() && usable(*value);
    if let Some(at) = times.iter().zip(values.iter()).position(|pair| !sound(pair)) {
        let what = format!("reading {}: {} after {} s cannot be", at + 1, values[at], times[at]);
        return Err(fault(
            what,
            "count the time from the end of the strong shear, and give values above zero",
        ));
    }
    let before: Vec<f64> = written
        .before_pa_s
        .iter()
        .copied()
        .chain(written.before_mpa_s.iter().map(|value| value * 1e-3))
        .collect();
    if !before.iter().copied().all(usable) {
        return Err(fault(
            "a viscosity before the strong shear is not above zero".to_owned(),
            "leave out what was not read",
        ));
    }
    Ok(MeasuredRecovery {
        name: written.name.clone(),
        sample: written.name.clone(),
        temperature_c: written.temperature_c,
        columns: [Meaning::Time.word(), meaning.word()].map(str::to_owned),
        units: ["s", unit],
        meanings: [Meaning::Time, *meaning],
        at: written.shear_rate_1_s.map(|value| Held { value, unit: "1/s" }),
        strong: written.strong_shear_rate_1_s.map(|value| Held { value, unit: "1/s" }),
        before,
        points: times
            .iter()
            .zip(values.iter())
            .enumerate()
            .map(|(at, (time, value))| TimedPoint {
                line: at + 1,
                time_s: *time,
                viscosity: value * factor / rate,
                typed: [time.to_string().into(), value.to_string().into()],
            })
            .collect(),
    })
}
