//! Points in SI: as measured, or turned from readings of a spindle.

use super::curves::Raw;
use super::ledger::{Fault, Ledger};
use super::series::Series;
use super::units::Meaning;
use super::{MeasuredPoint, Spindle};
use levigate_process::flow::spindle::DialReading;

/// Below this percent of full torque a reading of a spring instrument is coarse: common practice, no source.
const COARSE_PERCENT: f64 = 10.0;

/// Points in SI: as measured, or turned from readings of a spindle.
pub(super) fn flow_points(
    series: &Series,
    points: Vec<Raw>,
    spindle: Option<&Spindle>,
    ledger: &mut Ledger,
) -> Result<Vec<MeasuredPoint>, Fault> {
    if series.x.meaning != Meaning::Speed {
        let viscosity = series.y.meaning == Meaning::Viscosity;
        return Ok(points
            .into_iter()
            .map(|Raw { line, x, y, typed, .. }| MeasuredPoint {
                line,
                shear_rate: x,
                stress: if viscosity { x * y } else { y },
                typed,
            })
            .collect());
    }
    let Some(Spindle { disc, torque_n_m }) = spindle else {
        return Err(Fault::new(
            "spindle-not-said",
            "speeds and readings of a spindle are no flow curve until the spindle is known",
            "say the spindle by the diameter of its disc and the full-scale torque of the instrument",
        ));
    };
    let percent = |x: f64, y: f64| match series.y.meaning {
        Meaning::Reading => y,
        _ => 100.0 * y * x * disc.reference_torque_n_m / (disc.full_scale_pa_s_rpm * torque_n_m),
    };
    let mut sorted: Vec<(Raw, f64, usize)> = Vec::new();
    for point in points {
        let reading = percent(point.x, point.y);
        if reading > 100.0 {
            let why =
                format!("it would be {reading:.0} % of full torque with this spindle; is it the right one?");
            ledger.leave_out(point.line, &series.y, &point.typed[1], why);
            continue;
        }
        match sorted.iter_mut().find(|(known, _, _)| known.x == point.x) {
            Some((_, sum, count)) => {
                *sum += reading;
                *count += 1;
            }
            None => sorted.push((point, reading, 1)),
        }
    }
    sorted.sort_by(|a, b| a.0.x.total_cmp(&b.0.x));
    let readings: Vec<DialReading> = sorted
        .iter()
        .map(|(point, sum, count)| DialReading { rpm: point.x, percent: sum / *count as f64 })
        .collect();
    if sorted.iter().any(|(_, _, count)| *count > 1) {
        ledger.note("Readings at the same speed were averaged.".to_owned());
    }
    let coarse = readings.iter().filter(|reading| reading.percent < COARSE_PERCENT).count();
    if coarse > 0 {
        ledger.note(format!(
            "{coarse} readings lie below {COARSE_PERCENT} % of full torque, where a spring instrument is coarse; they were kept."
        ));
    }
    let turned = disc
        .flow_points(&readings, *torque_n_m)
        .map_err(|error| Fault::new("no-curve", error.to_string(), error.hint()))?;
    let held = turned.iter().filter(|point| point.held).count();
    if held > 0 {
        ledger.note(format!(
            "At {held} speeds the slope lies outside 0.1 to 1, where the conversion is tabled; its end was taken."
        ));
    }
    Ok(sorted
        .into_iter()
        .zip(turned)
        .map(|((raw, _, _), point)| MeasuredPoint {
            line: raw.line,
            shear_rate: point.shear_rate,
            stress: point.stress_pa,
            typed: raw.typed,
        })
        .collect())
}
