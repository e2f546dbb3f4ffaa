//! A liquid known within limits, and what follows from it at both edges.
//!
//! Nearly every question asked here falls or rises with the liquid's stress throughout, so that its answers at the edges bound its answers
//! between. A ratio of two viscosities does not: between edges of different slope it is only as good as the edges.

use super::liquid::Liquid;

/// A liquid between a thinner and a thicker one.
#[derive(Clone, Copy)]
pub struct Band<'l> {
    /// Thinner edge.
    pub thin: &'l dyn Liquid,
    /// The liquid itself.
    pub middle: &'l dyn Liquid,
    /// Thicker edge.
    pub thick: &'l dyn Liquid,
}

impl core::fmt::Debug for Band<'_> {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.debug_struct("Band").finish_non_exhaustive()
    }
}

/// An answer with its least and most.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spread {
    /// For the liquid itself.
    pub value: f64,
    /// Least.
    pub low: f64,
    /// Most.
    pub high: f64,
}

impl<'l> Band<'l> {
    /// A liquid without limits.
    #[must_use]
    pub fn exact(liquid: &'l dyn Liquid) -> Self {
        Self { thin: liquid, middle: liquid, thick: liquid }
    }

    /// Whether both edges are the liquid itself.
    #[must_use]
    pub fn is_exact(&self) -> bool {
        let same = |a: &dyn Liquid, b: &dyn Liquid| {
            core::ptr::addr_eq(core::ptr::from_ref(a), core::ptr::from_ref(b))
        };
        same(self.thin, self.middle) && same(self.thick, self.middle)
    }

    /// What follows from the liquid, at both edges.
    pub fn spread(&self, answer: impl Fn(&dyn Liquid) -> f64) -> Spread {
        Spread::of(self.each(answer))
    }

    /// What follows from the thin edge, the liquid itself and the thick edge, in this order.
    pub fn each<T: Clone>(&self, answer: impl Fn(&dyn Liquid) -> T) -> [T; 3] {
        let middle = answer(self.middle);
        if self.is_exact() {
            return [middle.clone(), middle.clone(), middle];
        }
        [answer(self.thin), middle, answer(self.thick)]
    }
}

impl Spread {
    /// Of what was found for the thin edge, the liquid itself and the thick edge.
    #[must_use]
    pub fn of([thin, value, thick]: [f64; 3]) -> Self {
        Self { value, low: thin.min(thick).min(value), high: thin.max(thick).max(value) }
    }
}

/// Whether something holds, for a liquid known within limits.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Holds {
    /// At both edges.
    Surely,
    /// For part of the band.
    Perhaps,
    /// Nowhere in the band.
    Not,
}

impl Holds {
    /// The word shown to people.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Surely => "surely",
            Self::Perhaps => "perhaps",
            Self::Not => "not",
        }
    }

    /// Whether an answer lies within limits that may be open.
    #[must_use]
    pub fn within(answer: Spread, low: Option<f64>, high: Option<f64>) -> Self {
        let (low, high) = (low.unwrap_or(f64::NEG_INFINITY), high.unwrap_or(f64::INFINITY));
        if answer.low >= low && answer.high <= high {
            Self::Surely
        } else if answer.high < low || answer.low > high {
            Self::Not
        } else {
            Self::Perhaps
        }
    }

    /// Both together.
    #[must_use]
    pub fn and(self, other: Self) -> Self {
        match (self, other) {
            (Self::Not, _) | (_, Self::Not) => Self::Not,
            (Self::Surely, Self::Surely) => Self::Surely,
            _ => Self::Perhaps,
        }
    }
}
