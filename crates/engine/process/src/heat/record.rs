//! A temperature over time, as logged or as planned: straight lines between points.

use thiserror::Error;

/// Least and most temperature of a record, C: a vessel that is open to the air and a pressure cooker with room to spare.
pub const TEMPERATURES_C: [f64; 2] = [-20.0, 150.0];

/// A temperature over time.
#[derive(Clone, Debug, PartialEq)]
pub struct TemperatureRecord {
    points: Vec<(f64, f64)>,
}

/// A piece of a record between two points.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Piece {
    /// Length, s.
    pub time_s: f64,
    /// Temperature at its start and end, C.
    pub temperatures_c: [f64; 2],
}

/// Why points are no record.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum RecordError {
    /// Fewer than two points.
    #[error("a record needs two points at least")]
    TooFew,
    /// A time before the one above it.
    #[error("point {number} is earlier than the point above it")]
    Backwards {
        /// Point, from 1.
        number: usize,
    },
    /// A temperature that cannot be meant.
    #[error("point {number} is at {temperature_c} C")]
    Temperature {
        /// Point, from 1.
        number: usize,
        /// Its temperature, C.
        temperature_c: f64,
    },
    /// A number that is none.
    #[error("point {number} holds no number")]
    NotFinite {
        /// Point, from 1.
        number: usize,
    },
    /// All points at one time.
    #[error("the record takes no time")]
    NoTime,
}

impl RecordError {
    /// The point it is about, from 1.
    #[must_use]
    pub fn number(&self) -> Option<usize> {
        match self {
            Self::TooFew | Self::NoTime => None,
            Self::Backwards { number } | Self::Temperature { number, .. } | Self::NotFinite { number } => {
                Some(*number)
            }
        }
    }

    /// What to do.
    #[must_use]
    pub fn hint(&self) -> String {
        match self {
            Self::TooFew | Self::NoTime => "give a point for the start and one for the end".to_owned(),
            Self::Backwards { .. } => "write the points in the order of their times".to_owned(),
            Self::Temperature { .. } => format!(
                "temperatures are in C and lie between {} and {}",
                TEMPERATURES_C[0], TEMPERATURES_C[1]
            ),
            Self::NotFinite { .. } => "give time and temperature as plain numbers".to_owned(),
        }
    }
}

impl TemperatureRecord {
    /// A record of points of time (s) and temperature (C). Two points at one time are a jump.
    ///
    /// # Errors
    /// When the points are no record.
    pub fn new(points: Vec<(f64, f64)>) -> Result<Self, RecordError> {
        let mut before = f64::NEG_INFINITY;
        for (at, &(time_s, temperature_c)) in points.iter().enumerate() {
            let number = at + 1;
            if !time_s.is_finite() || !temperature_c.is_finite() {
                return Err(RecordError::NotFinite { number });
            }
            if time_s < before {
                return Err(RecordError::Backwards { number });
            }
            if !(TEMPERATURES_C[0]..=TEMPERATURES_C[1]).contains(&temperature_c) {
                return Err(RecordError::Temperature { number, temperature_c });
            }
            before = time_s;
        }
        match (points.first(), points.last()) {
            (Some(first), Some(last)) if points.len() > 1 => {
                if last.0 > first.0 {
                    Ok(Self { points })
                } else {
                    Err(RecordError::NoTime)
                }
            }
            _ => Err(RecordError::TooFew),
        }
    }

    /// Points of time, s, and temperature, C.
    #[must_use]
    pub fn points(&self) -> &[(f64, f64)] {
        &self.points
    }

    /// The pieces between the points.
    pub fn pieces(&self) -> impl Iterator<Item = Piece> + '_ {
        self.points
            .windows(2)
            .map(|pair| Piece { time_s: pair[1].0 - pair[0].0, temperatures_c: [pair[0].1, pair[1].1] })
    }

    /// Whole time, s.
    #[must_use]
    pub fn time_s(&self) -> f64 {
        self.pieces().map(|piece| piece.time_s).sum()
    }

    /// Lowest and highest temperature, C.
    #[must_use]
    pub fn temperatures_c(&self) -> [f64; 2] {
        self.points.iter().fold([f64::INFINITY, f64::NEG_INFINITY], |[low, high], point| {
            [low.min(point.1), high.max(point.1)]
        })
    }

    /// Time at a temperature and above, s.
    #[must_use]
    pub fn time_above_s(&self, temperature_c: f64) -> f64 {
        self.pieces().map(|piece| piece.between(temperature_c, f64::INFINITY)).sum()
    }
}

impl Piece {
    /// Time within a window of temperature, s.
    #[must_use]
    pub fn between(&self, low_c: f64, high_c: f64) -> f64 {
        let [start, end] = self.temperatures_c;
        let (least, most) = (start.min(end), start.max(end));
        if most > least {
            self.time_s * ((high_c.min(most) - low_c.max(least)) / (most - least)).max(0.0)
        } else if (low_c..high_c).contains(&start) {
            self.time_s
        } else {
            0.0
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_no_record_is_refused_with_its_point() {
        let of = |points: &[(f64, f64)]| TemperatureRecord::new(points.to_vec()).unwrap_err();
        assert_eq!(of(&[(0.0, 20.0)]), RecordError::TooFew);
        assert_eq!(of(&[(0.0, 20.0), (0.0, 30.0)]), RecordError::NoTime);
        assert_eq!(of(&[(1.0, 20.0), (0.0, 30.0)]), RecordError::Backwards { number: 2 });
        assert!(matches!(of(&[(0.0, 20.0), (1.0, 500.0)]), RecordError::Temperature { number: 2, .. }));
        assert_eq!(of(&[(0.0, f64::NAN), (1.0, 20.0)]), RecordError::NotFinite { number: 1 });
    }

    #[test]
    fn time_above_a_temperature_is_cut_out_of_the_lines() {
        let record = TemperatureRecord::new(vec![
            (0.0, 20.0),
            (600.0, 80.0),
            (1200.0, 80.0),
            (1200.0, 20.0),
            (1500.0, 20.0),
        ]);
        let record = record.unwrap();
        assert!((record.time_above_s(50.0) - 900.0).abs() < 1e-9);
        assert!((record.time_above_s(80.0) - 600.0).abs() < 1e-9);
        assert_eq!(record.temperatures_c(), [20.0, 80.0]);
        assert_eq!(record.time_s(), 1500.0);
    }
}
