//! The pH meter: what buffers make of millivolts, how good the electrode is, how sure a pH read through it.
//!
//! ```text
//! E    = E7 - k (pH - 7)                              straight line through the buffers, weighted
//! k_N  = ln 10 R T / F                                the ideal slope
//! pH   = 7 + (E7 - E) / k(t),   k(t) = k T(t) / T(cal)      temperature compensation moves the slope of the electrode only
//! u^2(pH) = (u^2(E7) + d^2 u^2(k) - 2 d cov(E7, k) + u^2(E)) / k^2,   d = pH - 7
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | E, E7 | reading in the sample, reading of the line at pH 7 (the offset) | mV |
//! | k, k_N | slope of the electrode, ideal slope | mV per pH |
//! | u(E) | standard uncertainty of one reading | mV |
//!
//! Each buffer weighs with `u^2(E) + k^2 u^2(buffer)`. The compensation turns the line about pH 7, which is where the electrodes in use have
//! their point of no temperature effect (common practice, no source); what the sample itself does with temperature stays in the reading.
//! Sources: CODATA 2018 constants; propagation after GUM (JCGM 100), straight line with uncertainties after ISO/TS 28037. Cases:
//! `tests/published/ph_meter.toml`.

use crate::elementary::Elementary as _;
use core::f64::consts::LN_10;
use serde::{Deserialize, Serialize};
use thiserror::Error;

/// Gas constant over Faraday constant, V/K (CODATA 2018: 8.314462618 / 96485.33212).
const R_OVER_F: f64 = 8.314_462_618 / 96_485.332_12;
/// Zero of the Celsius scale, K.
const ICE_K: f64 = 273.15;
/// Turns of the weights; two settle them to the last digit shown.
const TURNS: usize = 4;
/// A reading further from the line than this many of its standard uncertainties is off it (one in a hundred is by chance).
const OFF_THE_LINE: f64 = 2.576;

/// Ideal slope at a temperature in C, mV per pH.
#[must_use]
pub fn nernst_mv(temperature_c: f64) -> f64 {
    1000.0 * LN_10 * R_OVER_F * (temperature_c + ICE_K)
}

/// A buffer of the bench.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Buffer {
    /// Key.
    pub key: String,
    /// Name.
    pub name: String,
    /// Family: buffers of two families carry near the same names and are not the same.
    pub family: String,
    /// pH at 25 C, as the bottle is called.
    pub nominal_ph: f64,
    /// Temperature, C, and pH there, rising.
    pub at: Vec<[f64; 2]>,
    /// Standard uncertainty of the pH of a bottle in use.
    pub uncertainty: f64,
    /// Source of the table.
    pub source: String,
    /// Source of the uncertainty.
    pub uncertainty_source: String,
}

impl Buffer {
    /// pH at a temperature, C; none outside the table.
    #[must_use]
    pub fn ph_at(&self, temperature_c: f64) -> Option<f64> {
        let after = self.at.iter().position(|row| row[0] >= temperature_c)?;
        let [high_c, high_ph] = *self.at.get(after)?;
        if high_c == temperature_c {
            return Some(high_ph);
        }
        let [low_c, low_ph] = *self.at.get(after.checked_sub(1)?)?;
        Some(low_ph + (high_ph - low_ph) * (temperature_c - low_c) / (high_c - low_c))
    }
}

/// A rule a calibration is held against.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct MeterRule {
    /// Key.
    pub key: String,
    /// Whose rule it is.
    pub name: String,
    /// Slope, percent of the ideal one.
    pub slope_percent: [f64; 2],
    /// Reading at pH 7, mV.
    #[serde(default)]
    pub offset_mv: Option<[f64; 2]>,
    /// Whether a buffer between the two of the calibration must be read as a check.
    #[serde(default)]
    pub check_between: bool,
    /// Source.
    pub source: String,
}

/// A buffer read.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BufferReading {
    /// pH of the buffer at the temperature of the reading.
    pub ph: f64,
    /// Standard uncertainty of that.
    pub ph_uncertainty: f64,
    /// Reading, mV.
    pub millivolt: f64,
    /// Standard uncertainty of that, above zero.
    pub millivolt_uncertainty: f64,
}

/// Why there is no calibration.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum MeterError {
    /// Fewer than two buffers of different pH.
    #[error("{different} buffer of its own pH does not make a line")]
    TooFew {
        /// Buffers that differ.
        different: usize,
    },
    /// A number that cannot be.
    #[error("buffer reading {at} is not usable: {what} is {value}")]
    NotUsable {
        /// Which, from 1.
        at: usize,
        /// What.
        what: &'static str,
        /// As given.
        value: f64,
    },
    /// The readings do not fall as the pH rises.
    #[error("the readings rise with the pH ({slope:.1} mV per pH where a pH electrode falls)")]
    WrongWay {
        /// Slope, mV per pH.
        slope: f64,
    },
}

impl MeterError {
    /// What to do.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            Self::TooFew { .. } => "read at least two buffers on both sides of the target",
            Self::NotUsable { .. } => {
                "type the millivolts the meter shows and the pH of the buffer at its temperature"
            }
            Self::WrongWay { .. } => {
                "two buffers are exchanged, or the sign of the millivolts is lost: read them again"
            }
        }
    }
}

/// A calibrated electrode.
#[derive(Clone, Debug, PartialEq)]
pub struct Calibration {
    /// Temperature of the buffers, C.
    pub temperature_c: f64,
    /// Slope, mV per pH; above zero.
    pub slope_mv: f64,
    /// Reading at pH 7, mV: the offset.
    pub offset_mv: f64,
    /// Variances and covariance of offset and slope.
    covariance: [f64; 3],
    /// Of every buffer: reading less line, mV, and in its standard uncertainties.
    pub residuals: Vec<[f64; 2]>,
    /// pH of the lowest and the highest buffer.
    pub span: [f64; 2],
}

/// A pH read through a calibration.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ReadPh {
    /// pH.
    pub ph: f64,
    /// Standard uncertainty.
    pub uncertainty: f64,
}

impl Calibration {
    /// The line through buffers.
    ///
    /// # Errors
    /// [`MeterError`].
    pub fn of(readings: &[BufferReading], temperature_c: f64) -> Result<Self, MeterError> {
        usable(readings, temperature_c)?;
        let mut values: Vec<f64> = readings.iter().map(|one| one.ph).collect();
        values.sort_by(f64::total_cmp);
        // Closer than the bottles differ is the same buffer.
        values.dedup_by(|a, b| (*a - *b).abs() < 0.2);
        if values.len() < 2 {
            return Err(MeterError::TooFew { different: values.len() });
        }
        let mut slope = nernst_mv(temperature_c);
        let mut line = (0.0, 0.0, [0.0; 3]);
        for _ in 0..TURNS {
            line = straight(readings, slope);
            slope = line.1;
        }
        let (offset_mv, slope_mv, covariance) = line;
        if !(slope_mv > 0.0 && slope_mv.is_finite()) {
            return Err(MeterError::WrongWay { slope: -slope_mv });
        }
        let residuals = readings
            .iter()
            .map(|one| {
                let off = one.millivolt - (offset_mv - slope_mv * (one.ph - 7.0));
                [off, off / variance(one, slope_mv).sqrt()]
            })
            .collect();
        let lowest = readings.iter().map(|one| one.ph).fold(f64::INFINITY, f64::min);
        let highest = readings.iter().map(|one| one.ph).fold(f64::NEG_INFINITY, f64::max);
        Ok(Self { temperature_c, slope_mv, offset_mv, covariance, residuals, span: [lowest, highest] })
    }

    /// Slope in percent of the ideal one.
    #[must_use]
    pub fn slope_percent(&self) -> f64 {
        100.0 * self.slope_mv / nernst_mv(self.temperature_c)
    }

    /// Standard uncertainty of the slope, mV per pH.
    #[must_use]
    pub fn slope_uncertainty_mv(&self) -> f64 {
        self.covariance[1].sqrt()
    }

    /// Standard uncertainty of the offset, mV.
    #[must_use]
    pub fn offset_uncertainty_mv(&self) -> f64 {
        self.covariance[0].sqrt()
    }

    /// pH at which the electrode gives nothing.
    #[must_use]
    pub fn zero_ph(&self) -> f64 {
        7.0 + self.offset_mv / self.slope_mv
    }

    /// Buffers whose reading lies off the line by more than chance; with two buffers none can.
    #[must_use]
    pub fn off_the_line(&self) -> Vec<usize> {
        if self.residuals.len() < 3 {
            return Vec::new();
        }
        (0..self.residuals.len()).filter(|&at| self.residuals[at][1].abs() > OFF_THE_LINE).collect()
    }

    /// Whether the buffers stand on both sides of a window.
    #[must_use]
    pub fn brackets(&self, [low, high]: [f64; 2]) -> bool {
        self.span[0] <= low && high <= self.span[1]
    }

    /// pH of a sample at a temperature, C, with the slope moved to it; `millivolt_uncertainty` is that of the one reading.
    #[must_use]
    pub fn read(&self, millivolt: f64, millivolt_uncertainty: f64, temperature_c: f64) -> ReadPh {
        let turned = self.turned(temperature_c);
        let from_seven = (self.offset_mv - millivolt) / (self.slope_mv * turned);
        ReadPh {
            ph: 7.0 + from_seven,
            uncertainty: self.uncertainty_at(7.0 + from_seven, millivolt_uncertainty, temperature_c),
        }
    }

    /// Standard uncertainty of a pH read through this calibration.
    #[must_use]
    pub fn uncertainty_at(&self, ph: f64, millivolt_uncertainty: f64, temperature_c: f64) -> f64 {
        let turned = self.turned(temperature_c);
        let from_seven = (ph - 7.0) * turned;
        let [offset, slope, both] = self.covariance;
        let line = offset + from_seven * from_seven * slope - 2.0 * from_seven * both;
        (line.max(0.0) + millivolt_uncertainty * millivolt_uncertainty).sqrt() / (self.slope_mv * turned)
    }

    /// What a meter shows that was not told the temperature of the sample.
    #[must_use]
    pub fn shown_without_compensation(&self, ph: f64, temperature_c: f64) -> f64 {
        7.0 + (ph - 7.0) * self.turned(temperature_c)
    }

    fn turned(&self, temperature_c: f64) -> f64 {
        nernst_mv(temperature_c) / nernst_mv(self.temperature_c)
    }

    /// What a rule says of this calibration: each point in words, and whether it holds. `check` is the pH of a buffer read as a check.
    #[must_use]
    pub fn against(&self, rule: &MeterRule, check: Option<f64>) -> Vec<RulePoint> {
        let within = |value: f64, [low, high]: [f64; 2]| (low..=high).contains(&value);
        let percent = self.slope_percent();
        let [low, high] = rule.slope_percent;
        let mut points = vec![RulePoint {
            holds: within(percent, rule.slope_percent),
            words: format!("slope {percent:.1} % of the ideal one; wanted {low} to {high} %"),
        }];
        if let Some([low, high]) = rule.offset_mv {
            points.push(RulePoint {
                holds: within(self.offset_mv, [low, high]),
                words: format!("offset {:.1} mV at pH 7; wanted {low} to {high} mV", self.offset_mv),
            });
        }
        if rule.check_between {
            let between = check.is_some_and(|ph| self.span[0] < ph && ph < self.span[1]);
            points.push(RulePoint {
                holds: between,
                words: match check {
                    None => "no check buffer between the buffers of the calibration was read".to_owned(),
                    Some(ph) if between => format!("check buffer of pH {ph:.2} lies between the buffers"),
                    Some(ph) => format!("check buffer of pH {ph:.2} does not lie between the buffers"),
                },
            });
        }
        points
    }
}

/// One point of a rule.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct RulePoint {
    /// Whether it holds.
    pub holds: bool,
    /// What was found and what is wanted.
    pub words: String,
}

fn usable(readings: &[BufferReading], temperature_c: f64) -> Result<(), MeterError> {
    let bad = |at: usize, what, value| Err(MeterError::NotUsable { at, what, value });
    if !(-5.0..=100.0).contains(&temperature_c) {
        return bad(1, "temperature", temperature_c);
    }
    for (at, one) in readings.iter().enumerate() {
        let at = at + 1;
        if !(0.0..=14.0).contains(&one.ph) {
            return bad(at, "pH", one.ph);
        }
        if !(-1000.0..=1000.0).contains(&one.millivolt) {
            return bad(at, "millivolt", one.millivolt);
        }
        if !(one.millivolt_uncertainty > 0.0 && one.millivolt_uncertainty <= 100.0) {
            return bad(at, "uncertainty of the millivolts", one.millivolt_uncertainty);
        }
        if !(one.ph_uncertainty >= 0.0 && one.ph_uncertainty <= 1.0) {
            return bad(at, "uncertainty of the buffer", one.ph_uncertainty);
        }
    }
    Ok(())
}

/// Variance of a reading about the line, mV^2.
fn variance(one: &BufferReading, slope: f64) -> f64 {
    one.millivolt_uncertainty.root_sum_square(slope * one.ph_uncertainty).powi(2)
}

/// Offset at pH 7, slope, and their variances and covariance, by weighted least squares.
fn straight(readings: &[BufferReading], slope: f64) -> (f64, f64, [f64; 3]) {
    let weights: Vec<f64> = readings.iter().map(|one| 1.0 / variance(one, slope)).collect();
    let sum = |of: &dyn Fn(&BufferReading) -> f64| -> f64 {
        readings.iter().zip(&weights).map(|(one, weight)| weight * of(one)).sum()
    };
    let whole = sum(&|_| 1.0);
    let mean = sum(&|one| one.ph) / whole;
    let height = sum(&|one| one.millivolt) / whole;
    let spread = sum(&|one| (one.ph - mean).powi(2));
    let rise = sum(&|one| (one.ph - mean) * (one.millivolt - height)) / spread;
    let slope = -rise;
    let by_seven = 7.0 - mean;
    (
        height + rise * by_seven,
        slope,
        // E7 = height - slope (7 - mean): the mean height and the slope are independent.
        [1.0 / whole + by_seven * by_seven / spread, 1.0 / spread, -by_seven / spread],
    )
}
