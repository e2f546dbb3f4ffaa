//! What buffers say of a pH electrode.

use crate::diagnostic::{Diagnostic, at};
use crate::making_file::calibration::{CalibrationFile, read};
use levigate_facts::{Facts, PhBench};
use levigate_measure::elementary::Elementary as _;
use levigate_measure::ph_meter::{BufferReading, Calibration, MeterError, RulePoint, nernst_mv};
use levigate_measure::{Grade, Note, Outcome};
use serde::Serialize;

const PROOF: &str = "tests/published/ph_meter.toml";
const METHOD: &str = "straight line through the buffers, weighted by their uncertainties";
/// Half width of 95 % in standard deviations.
const COVER: f64 = 1.959_964;
/// A slope below this share of the ideal one that another family of buffers would bring to within this of it is told.
const FAMILY_PERCENT: [f64; 2] = [98.0, 101.0];

/// A calibrated electrode as a person reads it.
#[derive(Clone, Debug, Serialize)]
pub struct CalibrationReading {
    /// Temperature of the buffers, C.
    pub temperature_c: f64,
    /// mV per pH.
    pub slope: Outcome,
    /// Percent of the ideal slope.
    pub slope_percent: Outcome,
    /// The ideal slope, mV per pH.
    pub ideal_slope: Outcome,
    /// Reading at pH 7, mV.
    pub offset: Outcome,
    /// pH at which the electrode gives nothing.
    pub zero_point: Outcome,
    /// The buffers.
    pub points: Vec<PointReading>,
    /// Check buffer: shown less true, pH; absent where none was read.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub check: Option<Outcome>,
    /// The rules.
    pub rules: Vec<RuleReading>,
    /// Standard uncertainty of a pH read through it, without the scatter of the reading, at the middle of what is to be read.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub electrode: Option<Outcome>,
    /// Samples.
    pub samples: Vec<SampleReading>,
    /// What the person must know.
    pub notes: Vec<Note>,
}

/// A buffer.
#[derive(Clone, Debug, Serialize)]
pub struct PointReading {
    /// Name.
    pub name: String,
    /// pH at the temperature.
    pub ph: Outcome,
    /// Reading less line, mV.
    pub residual: Outcome,
}

/// A rule.
#[derive(Clone, Debug, Serialize)]
pub struct RuleReading {
    /// Whose rule it is.
    pub name: String,
    /// Whether it holds.
    pub holds: bool,
    /// Its points.
    pub points: Vec<RulePoint>,
    /// Source.
    pub source: String,
}

/// A sample.
#[derive(Clone, Debug, Serialize)]
pub struct SampleReading {
    /// pH.
    pub ph: Outcome,
    /// What a meter shows that was not told the temperature; absent at the temperature of the buffers.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub without_compensation: Option<Outcome>,
}

/// Reads a calibration and what was measured with it.
///
/// # Errors
/// All that is wrong with the text; buffers that make no line.
pub fn calibrate(facts: &Facts, (file, text): (&str, &str)) -> Result<CalibrationReading, Vec<Diagnostic>> {
    let (typed, samples) = read(file, text, &facts.ph_bench)?;
    let calibration = line(&typed, (file, text))?;
    let mut reading = reading(&facts.ph_bench, &typed, &calibration);
    for sample in samples {
        let read = calibration.read(sample.millivolt, typed.uncertainty_mv, sample.temperature_c);
        let other = (sample.temperature_c - typed.temperature_c).abs() > 0.5;
        reading.samples.push(SampleReading {
            ph: computed(read.ph, "", COVER * read.uncertainty).input(
                "temperature of the sample",
                sample.temperature_c,
                "C",
                None,
            ),
            without_compensation: other.then(|| {
                let shown = calibration.shown_without_compensation(read.ph, sample.temperature_c);
                Outcome::new(shown, "", Grade::Computed, METHOD).proved_by(PROOF)
            }),
        });
        if other && reading.notes.iter().all(|note| note.code != "compensation") {
            reading.notes.push(Note::new(
                "compensation",
                "Temperature compensation moves the slope of the electrode only. The sample has another pH at another temperature: write the \
                 temperature beside every pH.",
            ));
        }
    }
    Ok(reading)
}

/// The line through typed buffers.
pub(crate) fn line(typed: &CalibrationFile, text: (&str, &str)) -> Result<Calibration, Vec<Diagnostic>> {
    let readings: Vec<BufferReading> = typed
        .points
        .iter()
        .map(|point| BufferReading {
            ph: point.ph,
            ph_uncertainty: point.uncertainty,
            millivolt: point.millivolt,
            millivolt_uncertainty: typed.uncertainty_mv,
        })
        .collect();
    Calibration::of(&readings, typed.temperature_c).map_err(|error: MeterError| {
        let what = error.to_string();
        vec![at(text, &typed.place, "no-calibration", "calibration, points", what, error.hint())]
    })
}

fn computed(value: f64, unit: &'static str, half: f64) -> Outcome {
    Outcome::new(value, unit, Grade::Computed, METHOD)
        .within(value - half, value + half, Some(0.95))
        .proved_by(PROOF)
}

/// Everything about a calibration but its samples.
pub(crate) fn reading(
    known: &PhBench,
    typed: &CalibrationFile,
    calibration: &Calibration,
) -> CalibrationReading {
    let ideal = nernst_mv(typed.temperature_c);
    let slope_half = COVER * calibration.slope_uncertainty_mv();
    let check = typed.check.as_ref();
    let rules: Vec<RuleReading> = known
        .rules
        .values()
        .map(|rule| {
            let points = calibration.against(rule, check.map(|check| check.ph));
            RuleReading {
                name: rule.name.clone(),
                holds: points.iter().all(|point| point.holds),
                points,
                source: rule.source.clone(),
            }
        })
        .collect();
    let electrode = typed.window.map(|[low, high]| {
        let ph = 0.5 * (low + high);
        let size = calibration.uncertainty_at(ph, 0.0, typed.temperature_c);
        Outcome::new(size, "", Grade::Computed, METHOD).proved_by(PROOF).input("pH", ph, "", None)
    });
    CalibrationReading {
        temperature_c: typed.temperature_c,
        slope: computed(calibration.slope_mv, "mV per pH", slope_half).by("E = E7 - k (pH - 7)"),
        slope_percent: computed(calibration.slope_percent(), "%", 100.0 * slope_half / ideal)
            .by("100 k / (ln 10 R T / F)"),
        ideal_slope: Outcome::new(ideal, "mV per pH", Grade::Computed, "Nernst equation")
            .by("ln 10 R T / F")
            .proved_by(PROOF),
        offset: computed(calibration.offset_mv, "mV", COVER * calibration.offset_uncertainty_mv()),
        zero_point: computed(
            calibration.zero_ph(),
            "",
            COVER * calibration.uncertainty_at(calibration.zero_ph(), 0.0, typed.temperature_c),
        ),
        points: typed
            .points
            .iter()
            .zip(&calibration.residuals)
            .map(|(point, [off, _])| PointReading {
                name: point.name.clone(),
                ph: Outcome::new(point.ph, "", Grade::Measured, "value of the buffer at the temperature")
                    .within(
                        point.ph - COVER * point.uncertainty,
                        point.ph + COVER * point.uncertainty,
                        Some(0.95),
                    ),
                // Two buffers lie on their line but for the last bit.
                residual: Outcome::new(
                    if off.abs() < 1e-9 { 0.0 } else { *off },
                    "mV",
                    Grade::Computed,
                    METHOD,
                ),
            })
            .collect(),
        check: check.map(|check| {
            let half = COVER
                * check.uncertainty.root_sum_square(calibration.uncertainty_at(
                    check.ph,
                    typed.uncertainty_mv,
                    typed.temperature_c,
                ));
            computed(check.shown - check.ph, "", half).input("check buffer", check.ph, "", None)
        }),
        rules,
        electrode,
        samples: Vec::new(),
        notes: notes(known, typed, calibration),
    }
}

fn notes(known: &PhBench, typed: &CalibrationFile, calibration: &Calibration) -> Vec<Note> {
    let mut notes = Vec::new();
    if let Some([low, high]) = typed.window
        && !calibration.brackets([low, high])
    {
        notes.push(Note::new(
            "not-bracketed",
            format!(
                "The buffers stand at pH {:.2} to {:.2} and do not bracket {low} to {high}: outside them a reading grows less sure with \
                 every step. Take a buffer beyond it.",
                calibration.span[0], calibration.span[1]
            ),
        ));
    }
    let mut families: Vec<&str> =
        typed.points.iter().map(|point| point.family.as_str()).filter(|family| !family.is_empty()).collect();
    families.sort_unstable();
    families.dedup();
    if families.len() > 1 {
        notes.push(Note::new(
            "two-families",
            "The buffers are of two families (standard and technical). That can be meant; make sure that each bottle is the one named: \
             phosphate is 6.86 where the technical buffer is 7.00.",
        ));
    }
    for at in calibration.off_the_line() {
        notes.push(Note::new(
            "off-the-line",
            format!(
                "{} lies {:.1} mV off the line of the others: a spoilt buffer, a rinse too few, or the wrong bottle.",
                typed.points[at].name, calibration.residuals[at][0]
            ),
        ));
    }
    if let Some(check) = &typed.check {
        let size = check.uncertainty.root_sum_square(calibration.uncertainty_at(
            check.ph,
            typed.uncertainty_mv,
            typed.temperature_c,
        ));
        if (check.shown - check.ph).abs() > COVER * size {
            notes.push(Note::new(
                "check-off",
                format!(
                    "The check buffer of pH {:.2} read {:.2}, further off than the calibration allows (\u{b1}{:.2}): calibrate again.",
                    check.ph,
                    check.shown,
                    COVER * size
                ),
            ));
        }
    }
    notes.extend(other_family(known, typed, calibration));
    notes
}

/// A buffer taken for its neighbour of the other family: said where the slope is poor as typed and right with the other.
fn other_family(known: &PhBench, typed: &CalibrationFile, calibration: &Calibration) -> Option<Note> {
    let [low, high] = FAMILY_PERCENT;
    if (low..=high).contains(&calibration.slope_percent()) {
        return None;
    }
    for (at, point) in typed.points.iter().enumerate() {
        let near = known.buffers.values().find(|buffer| {
            buffer.family != point.family
                && buffer
                    .ph_at(typed.temperature_c)
                    .is_some_and(|ph| (ph - point.ph).abs() > 0.05 && (ph - point.ph).abs() < 0.3)
        });
        let Some(other) = near else { continue };
        let mut changed = typed.clone();
        changed.points[at].ph = other.ph_at(typed.temperature_c)?;
        let slope = line(&changed, ("", "")).ok()?.slope_percent();
        if (low..=high).contains(&slope) {
            return Some(Note::new(
                "other-family",
                format!(
                    "With {} in place of {} the slope would be {slope:.1} %: was it the other bottle?",
                    other.name, point.name
                ),
            ));
        }
    }
    None
}
