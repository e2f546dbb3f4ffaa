//! A measured flow curve: pairs of shear rate and stress that can be fitted.

use levigate_measure::elementary::Elementary as _;
use thiserror::Error;

/// Why points are no curve.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum CurveError {
    /// Rates and stresses do not pair up.
    #[error("{rates} shear rates and {stresses} stresses do not pair up")]
    Unpaired {
        /// Rates.
        rates: usize,
        /// Stresses.
        stresses: usize,
    },
    /// A value that cannot be.
    #[error("point {point}: shear rate {shear_rate} 1/s with stress {stress} Pa cannot be fitted")]
    NotPositive {
        /// Point, from 0.
        point: usize,
        /// Shear rate, 1/s.
        shear_rate: f64,
        /// Stress, Pa.
        stress: f64,
    },
    /// Too few different shear rates.
    #[error("{different} different shear rates are no curve")]
    OneRate {
        /// Different shear rates.
        different: usize,
    },
}

impl CurveError {
    /// What to do about it.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            Self::Unpaired { .. } => "give one stress or viscosity for every shear rate",
            Self::NotPositive { .. } => {
                "leave out points at rest and readings below zero; a sign means the direction, not the amount"
            }
            Self::OneRate { .. } => "measure at three or more speeds",
        }
    }
}

/// A measured flow curve.
#[derive(Clone, Debug, PartialEq)]
pub struct Curve {
    pub(crate) rates: Vec<f64>,
    pub(crate) stresses: Vec<f64>,
    pub(crate) ln_rates: Vec<f64>,
    pub(crate) ln_stresses: Vec<f64>,
    pub(crate) most_stress: f64,
    temperature_c: Option<f64>,
}

impl Curve {
    /// A curve of shear rates (1/s) and stresses (Pa), in any order, repeats allowed.
    ///
    /// # Errors
    /// [`CurveError`] for points that are no positive numbers, or fewer than two different shear rates.
    pub fn new(rates: &[f64], stresses: &[f64]) -> Result<Self, CurveError> {
        if rates.len() != stresses.len() {
            return Err(CurveError::Unpaired { rates: rates.len(), stresses: stresses.len() });
        }
        let mut points: Vec<(f64, f64)> = Vec::with_capacity(rates.len());
        for (point, (&shear_rate, &stress)) in rates.iter().zip(stresses).enumerate() {
            let usable = |value: f64| value.is_finite() && value > 0.0;
            if !(usable(shear_rate) && usable(stress)) {
                return Err(CurveError::NotPositive { point, shear_rate, stress });
            }
            points.push((shear_rate, stress));
        }
        points.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut different: Vec<f64> = points.iter().map(|point| point.0).collect();
        different.dedup();
        if different.len() < 2 {
            return Err(CurveError::OneRate { different: different.len() });
        }
        Ok(Self {
            ln_rates: points.iter().map(|point| point.0.log_e()).collect(),
            ln_stresses: points.iter().map(|point| point.1.log_e()).collect(),
            most_stress: points.iter().map(|point| point.1).fold(0.0, f64::max),
            rates: points.iter().map(|point| point.0).collect(),
            stresses: points.iter().map(|point| point.1).collect(),
            temperature_c: None,
        })
    }

    /// The same curve with the temperature it was measured at, C.
    #[must_use]
    pub fn at_temperature(mut self, temperature_c: f64) -> Self {
        self.temperature_c = Some(temperature_c);
        self
    }

    /// Temperature it was measured at, C, where said.
    #[must_use]
    pub fn temperature_c(&self) -> Option<f64> {
        self.temperature_c
    }

    /// Number of points.
    #[must_use]
    pub fn len(&self) -> usize {
        self.rates.len()
    }

    /// Never: a curve has at least two points.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.rates.is_empty()
    }

    /// Lowest and highest shear rate, 1/s.
    #[must_use]
    pub fn window(&self) -> [f64; 2] {
        [self.rates[0], self.rates[self.rates.len() - 1]]
    }

    /// Shear rates (rising) and stresses.
    pub fn points(&self) -> impl Iterator<Item = (f64, f64)> + '_ {
        self.rates.iter().copied().zip(self.stresses.iter().copied())
    }

    pub(crate) fn lowest_viscosity(&self) -> f64 {
        self.points().map(|(rate, stress)| stress / rate).fold(f64::INFINITY, f64::min)
    }
}

/// Slopes through the neighbours on both sides of points in the order of rising abscissa; one-sided at the ends.
pub(crate) fn local_slopes(points: &[(f64, f64)]) -> Vec<f64> {
    (0..points.len())
        .map(|i| {
            let (left, right) = (points[i.saturating_sub(1)], points[(i + 1).min(points.len() - 1)]);
            (right.1 - left.1) / (right.0 - left.0)
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn points_that_cannot_be_are_refused_with_their_place() {
        assert_eq!(
            Curve::new(&[1.0, 2.0], &[3.0, f64::NAN]).map_err(|error| error.to_string().contains("point 1")),
            Err(true)
        );
        assert_eq!(Curve::new(&[1.0, 1.0], &[3.0, 3.0]), Err(CurveError::OneRate { different: 1 }));
    }
}
