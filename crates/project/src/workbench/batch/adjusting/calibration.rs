//! The calibration of a meter as an entry of a batch: read, taken over, told.

use super::super::progress::Done;
use crate::making_file::calibration::{CalibrationFile, Point, USUAL_MV, USUAL_PH};
use crate::records::{BufferRead, Did, TypedNumber};
use crate::workbench::making::calibrate::{self, CalibrationReading};
use jiff::Timestamp;
use levigate_facts::{Facts, PhBench};
use rust_decimal::Decimal;
use rust_decimal::prelude::{FromPrimitive, ToPrimitive};
use serde::Serialize;

/// A calibration of this batch.
#[derive(Clone, Debug, Serialize)]
pub struct KeptCalibration {
    /// Number of its entry.
    pub number: u32,
    /// Who.
    pub who: String,
    /// When.
    pub when: Timestamp,
    /// The meter.
    pub instrument: String,
    /// Whether the buffers bracket the window.
    pub brackets: bool,
    /// What it says, with the facts of today.
    pub reading: CalibrationReading,
}

/// A calibration that another batch of the day rests on: as it was typed, so that it can be taken over.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct OfferedCalibration {
    /// Code of the batch.
    pub batch: String,
    /// When.
    pub when: Timestamp,
    /// The meter.
    pub instrument: String,
    /// The buffers.
    pub buffers: Vec<BufferRead>,
    /// Their temperature, C.
    pub temperature_c: TypedNumber,
}

/// A buffer that can be named.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct KnownBuffer {
    /// Key.
    pub key: String,
    /// Name.
    pub name: String,
    /// pH it is called by.
    pub called: String,
}

/// A calibration that was kept, as the adjuster takes it.
///
/// # Errors
/// A buffer that is not known any more, or has no value at the temperature.
pub(super) fn calibration_of(known: &PhBench, did: &Did) -> Result<CalibrationFile, (String, String)> {
    match did {
        Did::Calibrated { buffers, temperature_c, .. } => typed_calibration(known, buffers, temperature_c),
        _ => Err((String::new(), String::new())),
    }
}

fn typed_calibration(
    known: &PhBench,
    buffers: &[BufferRead],
    temperature_c: &TypedNumber,
) -> Result<CalibrationFile, (String, String)> {
    let number = |typed: &TypedNumber| typed.value.and_then(|value| value.to_f64()).unwrap_or(f64::NAN);
    let warm = number(temperature_c);
    let mut points = Vec::new();
    for read in buffers {
        let millivolt = number(&read.millivolt);
        let own = read.ph.as_ref().map(number);
        let point = match (known.buffers.get(&read.buffer), own) {
            (_, Some(ph)) => Point {
                key: String::new(),
                name: format!("buffer of pH {ph}"),
                family: String::new(),
                ph,
                uncertainty: USUAL_PH,
                millivolt,
            },
            (Some(buffer), None) => Point {
                key: buffer.key.clone(),
                name: buffer.name.clone(),
                family: buffer.family.clone(),
                ph: buffer.ph_at(warm).ok_or_else(|| {
                    let what = format!("{} has no value at {warm} \u{b0}C", buffer.name);
                    (what, "calibrate nearer to 25 \u{b0}C, or type the pH of the buffer".to_owned())
                })?,
                uncertainty: buffer.uncertainty,
                millivolt,
            },
            (None, None) => {
                let names: Vec<&str> = known.buffers.keys().map(String::as_str).collect();
                let what = format!("no buffer is called \"{}\"", read.buffer);
                return Err((what, format!("known are {}", names.join(", "))));
            }
        };
        points.push(point);
    }
    Ok(CalibrationFile {
        temperature_c: warm,
        uncertainty_mv: USUAL_MV,
        points,
        check: None,
        window: None,
        place: 0..0,
    })
}

/// Slope in percent of the ideal one and reading at pH 7 in mV of typed buffers, as they are told.
///
/// # Errors
/// Buffers that are not known, or make no line.
pub(in super::super) fn line_through(
    known: &PhBench,
    buffers: &[BufferRead],
    temperature_c: &TypedNumber,
) -> Result<[Decimal; 2], (String, String)> {
    let typed = typed_calibration(known, buffers, temperature_c)?;
    let line = calibrate::line(&typed, ("", "")).map_err(|problems| {
        let first = problems.into_iter().next();
        first.map_or_else(Default::default, |one| (one.what, one.what_now))
    })?;
    let told = |value: f64| Decimal::from_f64(value).unwrap_or_default().round_dp(1);
    Ok([told(line.slope_percent()), told(line.offset_mv)])
}

pub(super) fn kept_calibration(
    facts: &Facts,
    one: &Done<'_>,
    of: CalibrationFile,
) -> Option<KeptCalibration> {
    let line = calibrate::line(&of, ("", "")).ok()?;
    Some(KeptCalibration {
        number: one.entry.number,
        who: one.entry.who.clone(),
        when: one.at,
        instrument: one.entry.what.instrument.clone(),
        brackets: of.window.is_some_and(|window| line.brackets(window)),
        reading: calibrate::reading(&facts.ph_bench, &of, &line),
    })
}

pub(super) fn known_buffers(known: &PhBench) -> Vec<KnownBuffer> {
    let mut buffers: Vec<&levigate_measure::ph_meter::Buffer> = known.buffers.values().collect();
    buffers.sort_by(|one, other| one.nominal_ph.total_cmp(&other.nominal_ph));
    let told = |buffer: &&levigate_measure::ph_meter::Buffer| KnownBuffer {
        key: buffer.key.clone(),
        name: buffer.name.clone(),
        called: format!("{:.2}", buffer.nominal_ph),
    };
    buffers.iter().map(told).collect()
}
