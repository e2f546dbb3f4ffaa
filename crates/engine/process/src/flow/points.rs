//! Liquids that are not a model: a flow curve given by points, and a liquid a factor thinner or thicker than another.

use super::liquid::Liquid;
use levigate_measure::elementary::Elementary as _;
use thiserror::Error;

/// Viscosity at some shear rates, straight between them on logarithmic axes.
///
/// Below the lowest shear rate the viscosity is held, which is the least it can be for a thinning liquid; above the highest the
/// last slope goes on. The stress never falls.
#[derive(Clone, Debug, PartialEq)]
pub struct Points {
    /// Logarithms of shear rate and stress, rising in both.
    logs: Vec<(f64, f64)>,
}

/// Why points are no flow curve.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum PointsError {
    /// Too few.
    #[error("{points} points do not show a flow curve")]
    TooFew {
        /// How many.
        points: usize,
    },
    /// A shear rate or viscosity that cannot be.
    #[error("point {place}: a shear rate of {shear_rate} 1/s with {viscosity} Pa s cannot be")]
    NotAPoint {
        /// Place in the list, from 1.
        place: usize,
        /// Shear rate, 1/s.
        shear_rate: f64,
        /// Viscosity, Pa s.
        viscosity: f64,
    },
    /// Two points at one shear rate.
    #[error("two points have the shear rate {shear_rate} 1/s")]
    Twice {
        /// Shear rate, 1/s.
        shear_rate: f64,
    },
    /// The stress falls.
    #[error("the stress falls from {from} to {to} Pa above {shear_rate} 1/s")]
    Falls {
        /// Shear rate of the lower point, 1/s.
        shear_rate: f64,
        /// Stress there, Pa.
        from: f64,
        /// Stress at the next, Pa.
        to: f64,
    },
}

impl PointsError {
    /// What to do about it.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            Self::TooFew { .. } => "give two points at least, better five over three decades",
            Self::NotAPoint { .. } => "both lie above zero",
            Self::Twice { .. } => "keep one of them, or their mean",
            Self::Falls { .. } => {
                "a stress that falls with the shear rate is slip or a sample that changes: leave the point out or measure again"
            }
        }
    }
}

impl Points {
    /// Shear rates, 1/s, with viscosities, Pa s, in any order.
    ///
    /// # Errors
    /// [`PointsError`] for fewer than two points, a point that cannot be, a shear rate given twice, a falling stress.
    pub fn new(points: &[(f64, f64)]) -> Result<Self, PointsError> {
        if points.len() < 2 {
            return Err(PointsError::TooFew { points: points.len() });
        }
        for (at, &(shear_rate, viscosity)) in points.iter().enumerate() {
            let sound = |value: f64| value.is_finite() && value > 0.0;
            if !sound(shear_rate) || !sound(viscosity) || !sound(shear_rate * viscosity) {
                return Err(PointsError::NotAPoint { place: at + 1, shear_rate, viscosity });
            }
        }
        let mut logs: Vec<(f64, f64)> =
            points.iter().map(|(rate, eta)| (rate.log_e(), (rate * eta).log_e())).collect();
        logs.sort_by(|a, b| a.0.total_cmp(&b.0));
        for pair in logs.windows(2) {
            let (lower, upper) = (pair[0], pair[1]);
            if lower.0 >= upper.0 {
                return Err(PointsError::Twice { shear_rate: lower.0.exp_e() });
            }
            if upper.1 < lower.1 {
                let (shear_rate, from, to) = (lower.0.exp_e(), lower.1.exp_e(), upper.1.exp_e());
                return Err(PointsError::Falls { shear_rate, from, to });
            }
        }
        Ok(Self { logs })
    }

    /// Shear rates from the lowest to the highest point, 1/s.
    #[must_use]
    pub fn window(&self) -> [f64; 2] {
        let end = |at: Option<&(f64, f64)>| at.map_or(f64::NAN, |log| log.0.exp_e());
        [end(self.logs.first()), end(self.logs.last())]
    }
}

impl Liquid for Points {
    fn stress(&self, shear_rate: f64) -> f64 {
        let x = shear_rate.log_e();
        let above = self.logs.partition_point(|log| log.0 < x);
        if above == 0 {
            let (rate, stress) = self.logs[0];
            return (stress + x - rate).exp_e();
        }
        let above = above.min(self.logs.len() - 1);
        let (low, high) = (self.logs[above - 1], self.logs[above]);
        // A tiny rise where two points have one stress keeps the stress of every shear rate its own.
        let slope = ((high.1 - low.1) / (high.0 - low.0)).max(1e-9);
        (low.1 + slope * (x - low.0)).exp_e()
    }

    fn yield_stress(&self) -> f64 {
        0.0
    }
}

/// A liquid whose stress is a factor of that of another at every shear rate.
#[derive(Clone, Debug, PartialEq)]
pub struct Scaled<L> {
    /// The other.
    pub liquid: L,
    /// The factor, above zero.
    pub factor: f64,
}

impl<L: Liquid> Liquid for Scaled<L> {
    fn stress(&self, shear_rate: f64) -> f64 {
        self.factor * self.liquid.stress(shear_rate)
    }

    fn yield_stress(&self) -> f64 {
        self.factor * self.liquid.yield_stress()
    }

    fn rate(&self, stress_pa: f64) -> f64 {
        self.liquid.rate(stress_pa / self.factor)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::flow::film::Incline;
    use crate::flow::pipe::HerschelBulkley;

    #[test]
    fn points_of_a_power_law_are_the_power_law() {
        let law = HerschelBulkley { yield_pa: 0.0, consistency: 3.0, index: 0.4 };
        let of = |rate: f64| (rate, law.viscosity(rate));
        let points = Points::new(&[of(100.0), of(0.1), of(3.0)]).unwrap();
        for rate in [0.1, 0.7, 30.0, 1e4] {
            assert!((points.stress(rate) / law.stress(rate) - 1.0).abs() < 1e-12);
            assert!((points.rate(law.stress(rate)) / rate - 1.0).abs() < 1e-9);
        }
        // Below the points the viscosity is held.
        assert!((points.viscosity(1e-4) / law.viscosity(0.1) - 1.0).abs() < 1e-12);
        let wall = Incline { angle_deg: 90.0, density_kg_m3: 1000.0, gravity_m_s2: 9.81 };
        let (by_points, by_law) = (wall.surface_speed_of(&points, 5e-3), wall.surface_speed_of(&law, 5e-3));
        assert!((by_points / by_law - 1.0).abs() < 1e-3, "{by_points} {by_law}");
    }

    #[test]
    fn what_is_no_curve_is_refused() {
        assert_eq!(Points::new(&[(1.0, 1.0)]), Err(PointsError::TooFew { points: 1 }));
        assert!(matches!(
            Points::new(&[(1.0, 1.0), (-2.0, 1.0)]),
            Err(PointsError::NotAPoint { place: 2, .. })
        ));
        assert!(matches!(Points::new(&[(1.0, 1.0), (1.0, 2.0)]), Err(PointsError::Twice { .. })));
        assert!(matches!(Points::new(&[(1.0, 1.0), (10.0, 0.05)]), Err(PointsError::Falls { .. })));
        assert!(matches!(Points::new(&[(1.0, f64::NAN), (2.0, 1.0)]), Err(PointsError::NotAPoint { .. })));
    }

    #[test]
    fn a_scaled_liquid_is_thicker_by_the_factor_everywhere() {
        let gel = HerschelBulkley { yield_pa: 4.0, consistency: 3.0, index: 0.5 };
        let thick = Scaled { liquid: gel, factor: 1.5 };
        assert_eq!(thick.yield_stress(), 6.0);
        assert!((thick.rate(thick.stress(7.0)) / 7.0 - 1.0).abs() < 1e-12);
    }
}
