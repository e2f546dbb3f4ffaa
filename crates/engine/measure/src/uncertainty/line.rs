//! A straight line through points whose ordinates are uncertain, and what is read from it in either direction.
//!
//! ```text
//! w_k = 1/u_k^2     x0 = sum w x / sum w     y0 = sum w y / sum w
//! b = sum w (x - x0)(y - y0) / sum w (x - x0)^2          a = y0 - b x0
//! u(b)^2 = 1/sum w (x - x0)^2     u(a)^2 = 1/sum w + x0^2 u(b)^2     cov(a, b) = -x0 u(b)^2
//! ```
//!
//! Where the uncertainties of the ordinates are not known they are taken equal, and estimated from the residuals with `n - 2` degrees of
//! freedom. Reading forward, `y = a + b x`; backward, `x = (y - a)/b`; both by the law of propagation with the covariance. Range: abscissas
//! without uncertainty; a slope that is many times its uncertainty for reading backward.
//!
//! Source: ISO/TS 28037:2010, clause 6, and JCGM 100, H.3. Cases: `tests/published/uncertainty.toml`.

use super::UncertaintyError;
use super::inputs::Estimate;
use super::monte_carlo::number;

/// A fitted line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Line {
    /// Intercept.
    pub intercept: f64,
    /// Slope.
    pub slope: f64,
    /// Standard uncertainty of the intercept.
    pub u_intercept: f64,
    /// Standard uncertainty of the slope.
    pub u_slope: f64,
    /// Covariance of the two.
    pub covariance: f64,
    /// Weighted sum of the squared residuals.
    pub chi_square: f64,
    /// Standard deviation of one ordinate: one where the uncertainties were given, else from the residuals.
    pub scatter: f64,
    /// Degrees of freedom of the uncertainties: infinite where those of the ordinates were given.
    pub degrees: f64,
}

impl Line {
    /// The line through points `(x, y)`; `uncertainties` one per point, or none where they are not known.
    ///
    /// # Errors
    /// Fewer than two points (three without uncertainties), abscissas that are all the same, numbers that are not.
    pub fn through(points: &[(f64, f64)], uncertainties: Option<&[f64]>) -> Result<Self, UncertaintyError> {
        let count = points.len();
        let wrong = |what, value| Err(UncertaintyError::Parameter { what, value });
        let least = if uncertainties.is_some() { 2 } else { 3 };
        if count < least || uncertainties.is_some_and(|given| given.len() != count) {
            return wrong("number of points", number(count));
        }
        if let Some((x, y)) = points.iter().find(|(x, y)| !(x.is_finite() && y.is_finite())) {
            return wrong("point of a line", if x.is_finite() { *y } else { *x });
        }
        if let Some(u) = uncertainties.iter().copied().flatten().find(|u| !(u.is_finite() && **u > 0.0)) {
            return wrong("standard uncertainty of a point", *u);
        }
        let weight = |place: usize| uncertainties.map_or(1.0, |given| 1.0 / (given[place] * given[place]));
        let sum = |part: &dyn Fn(f64, f64) -> f64| -> f64 {
            points.iter().enumerate().map(|(place, (x, y))| weight(place) * part(*x, *y)).sum()
        };
        let all = sum(&|_, _| 1.0);
        let (x0, y0) = (sum(&|x, _| x) / all, sum(&|_, y| y) / all);
        let across = sum(&|x, _| (x - x0) * (x - x0));
        if across <= 0.0 || across.is_nan() {
            return wrong("spread of the abscissas", across);
        }
        let slope = sum(&|x, y| (x - x0) * (y - y0)) / across;
        let intercept = y0 - slope * x0;
        let chi_square = sum(&|x, y| (y - intercept - slope * x) * (y - intercept - slope * x));
        let (variance, degrees) = match uncertainties {
            Some(_) => (1.0, f64::INFINITY),
            None => (chi_square / number(count - 2), number(count - 2)),
        };
        let slope_variance = variance / across;
        Ok(Self {
            intercept,
            slope,
            u_intercept: (variance / all + x0 * x0 * slope_variance).sqrt(),
            u_slope: slope_variance.sqrt(),
            covariance: -x0 * slope_variance,
            chi_square,
            scatter: variance.sqrt(),
            degrees,
        })
    }

    /// Correlation of intercept and slope.
    #[must_use]
    pub fn correlation(&self) -> f64 {
        self.covariance / (self.u_intercept * self.u_slope)
    }

    /// The ordinate of the line at an abscissa that may be uncertain itself. The scatter of a new reading is not in it.
    #[must_use]
    pub fn ordinate(&self, x: Estimate) -> Estimate {
        let variance = self.along(x.value) + (self.slope * x.standard_uncertainty).powi(2);
        self.read(self.intercept + self.slope * x.value, variance)
    }

    /// The abscissa at which the line has an ordinate that was read with an uncertainty of its own.
    #[must_use]
    pub fn abscissa(&self, y: Estimate) -> Estimate {
        let x = (y.value - self.intercept) / self.slope;
        let variance =
            (self.along(x) + y.standard_uncertainty * y.standard_uncertainty) / (self.slope * self.slope);
        self.read(x, variance)
    }

    /// Variance of the line itself at an abscissa.
    fn along(&self, x: f64) -> f64 {
        self.u_intercept * self.u_intercept + x * x * self.u_slope * self.u_slope + 2.0 * x * self.covariance
    }

    fn read(&self, value: f64, variance: f64) -> Estimate {
        Estimate::new(value, variance.max(0.0).sqrt()).degrees(self.degrees)
    }
}
