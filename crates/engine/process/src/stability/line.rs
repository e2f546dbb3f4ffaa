//! One straight line over time, its confidence limit, and where that limit leaves the limits of the attribute.
//!
//! ```text
//! y(t) = a + b t        limit(t) = y(t) -+ k s sqrt(1/n + (t - t0)^2/S)        t0 mean time, S sum of (t - t0)^2
//! ```
//!
//! The lower limit curves downwards, so from where it lies inside it leaves once at the most: at the root of
//! `(b^2 - c/S) z^2 + 2 b u z + u^2 - c/n = 0` with `z = t - t0`, `u = y(t0) - L`, `c = (k s)^2`, taken in the form that does not cancel.
//! It never leaves only where the slope rises by more than `k s/sqrt(S)`. A slope that is not told from none still has a crossing: it says
//! how little is known by then, not that anything decays.
//!
//! Source: ICH Q1E (2003), B.1, from memory; the closed form follows from it. Cases: `tests/published/shelf_life.toml`.

use levigate_measure::distribution::Confidence;

/// A straight line over months, as its sums left it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Line {
    /// What it says at the start.
    pub intercept: f64,
    /// Change per month.
    pub slope: f64,
    /// One over this is the variance of its height at the middle, in variances of one reading.
    pub count: f64,
    /// Middle of the times, in months.
    pub middle: f64,
    /// Sum of the squared distances of the times from their middle; that of all batches where they share a slope.
    pub spread: f64,
    /// Standard deviation of one reading.
    pub scatter: f64,
    /// Its degrees of freedom.
    pub degrees: usize,
}

/// Limits an attribute must keep.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Limits {
    /// Least.
    pub lower: Option<f64>,
    /// Most.
    pub upper: Option<f64>,
}

/// When the confidence limit of a line leaves the limits of the attribute.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Crossing {
    /// It lies outside at the start already.
    Outside,
    /// It leaves after these months.
    At(f64),
    /// It never leaves: the line moves inwards faster than its limit spreads.
    Never,
}

impl Crossing {
    /// Whichever comes first.
    #[must_use]
    pub fn earlier(self, other: Self) -> Self {
        match (self, other) {
            (Self::Outside, _) | (_, Self::Outside) => Self::Outside,
            (Self::At(one), Self::At(two)) => Self::At(one.min(two)),
            (Self::At(one), Self::Never) | (Self::Never, Self::At(one)) => Self::At(one),
            (Self::Never, Self::Never) => Self::Never,
        }
    }

    /// Months until it leaves; none where it never does.
    #[must_use]
    pub fn months(self) -> Option<f64> {
        match self {
            Self::Outside => Some(0.0),
            Self::At(months) => Some(months),
            Self::Never => None,
        }
    }
}

impl Line {
    /// What the line says at a time.
    #[must_use]
    pub fn at(&self, months: f64) -> f64 {
        self.intercept + self.slope * months
    }

    /// Standard error of the line at a time.
    #[must_use]
    pub fn standard_error(&self, months: f64) -> f64 {
        let away = months - self.middle;
        self.scatter * (1.0 / self.count + away * away / self.spread).sqrt()
    }

    /// Standard error of the slope.
    #[must_use]
    pub fn slope_error(&self) -> f64 {
        self.scatter / self.spread.sqrt()
    }

    /// Lower and upper confidence limit of the line at a time.
    #[must_use]
    pub fn band(&self, months: f64, confidence: &Confidence) -> (f64, f64) {
        let (middle, half) = (self.at(months), confidence.factor(self.degrees) * self.standard_error(months));
        (middle - half, middle + half)
    }

    /// Lower and upper limit for one further reading at a time.
    #[must_use]
    pub fn band_of_readings(&self, months: f64, confidence: &Confidence) -> (f64, f64) {
        let error = self.standard_error(months);
        let half = confidence.factor(self.degrees) * (self.scatter * self.scatter + error * error).sqrt();
        (self.at(months) - half, self.at(months) + half)
    }

    /// When the confidence limit leaves the limits. No limit is never left.
    #[must_use]
    pub fn leaves(&self, limits: Limits, confidence: &Confidence) -> Crossing {
        let reach = confidence.factor(self.degrees) * self.scatter;
        let lower = limits.lower.map_or(Crossing::Never, |least| self.falls_below(least, reach));
        let mirrored = Self { intercept: -self.intercept, slope: -self.slope, ..*self };
        lower.earlier(limits.upper.map_or(Crossing::Never, |most| mirrored.falls_below(-most, reach)))
    }

    /// When `line - reach sqrt(1/n + z^2/S)` falls below a number.
    fn falls_below(&self, least: f64, reach: f64) -> Crossing {
        let wide = reach * reach;
        let start = 1.0 / self.count + self.middle * self.middle / self.spread;
        if self.intercept - least < reach * start.sqrt() {
            return Crossing::Outside;
        }
        let above = self.at(self.middle) - least;
        let a = self.slope * self.slope - wide / self.spread;
        let half_b = self.slope * above;
        let c = above * above - wide / self.count;
        let root = (half_b * half_b - a * c).max(0.0).sqrt();
        let from_middle = if self.slope <= 0.0 {
            // A line that does not move and whose height is known exactly never leaves.
            c / (root - half_b)
        } else if a < 0.0 {
            (-half_b - root) / a
        } else {
            return Crossing::Never;
        };
        let months = self.middle + from_middle;
        if months.is_finite() { Crossing::At(months.max(0.0)) } else { Crossing::Never }
    }
}
