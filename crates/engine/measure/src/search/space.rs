//! What may move, what is wished, and what a point is worth.

use thiserror::Error;

/// A part that may move.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Part {
    /// Least, where it is in.
    pub low: f64,
    /// Most.
    pub high: f64,
    /// It stands on multiples of this; anywhere, where there is none.
    pub step: Option<f64>,
    /// It may also be left out (zero).
    pub may_be_off: bool,
}

impl Part {
    /// Least and most that stand on a step.
    #[must_use]
    pub fn ends(&self) -> [f64; 2] {
        match self.step {
            // A hair inwards, so that 0.15 in steps of 0.05 is a step.
            Some(step) => [(self.low / step - 1e-9).ceil() * step, (self.high / step + 1e-9).floor() * step],
            None => [self.low, self.high],
        }
    }

    /// The same with one end moved outwards, never below nothing.
    #[must_use]
    pub fn relaxed(mut self, side: Side, by: f64) -> Self {
        match side {
            Side::Low => self.low = (self.low - by).max(0.0),
            Side::High => self.high += by,
        }
        self
    }

    pub(super) fn range(&self) -> f64 {
        (self.high - self.low).max(1e-9)
    }
}

/// How many of some parts are in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Group {
    /// Parts.
    pub parts: Vec<usize>,
    /// Least.
    pub least: usize,
    /// Most.
    pub most: usize,
}

/// Where a point may lie.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Space {
    /// Parts.
    pub parts: Vec<Part>,
    /// How many of some parts are in.
    pub groups: Vec<Group>,
    /// What all parts together may be, each times its factor.
    pub room: Option<(Vec<f64>, f64)>,
    /// A reading that is no more than a number plus the count of parts that are in.
    pub counted: Option<usize>,
}

impl Space {
    /// Whether a part is in.
    #[must_use]
    pub fn on(at: &[f64]) -> Vec<bool> {
        at.iter().map(|value| *value > 0.0).collect()
    }

    pub(super) fn has_choices(&self) -> bool {
        self.parts.iter().any(|part| part.may_be_off)
    }
}

/// What is wished of a reading.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Wish {
    /// Reading.
    pub reading: usize,
    /// Least.
    pub low: Option<f64>,
    /// Most.
    pub high: Option<f64>,
    /// What counts as one unit of missing it.
    pub scale: f64,
    /// By how much a limit is moved to see what that would buy.
    pub give: f64,
}

impl Wish {
    /// The same with one side moved outwards.
    #[must_use]
    pub fn relaxed(mut self, side: Side, by: f64) -> Self {
        match side {
            Side::Low => self.low = self.low.map(|low| low - by),
            Side::High => self.high = self.high.map(|high| high + by),
        }
        self
    }

    /// By how much a reading misses it, in its scale.
    #[must_use]
    pub fn missed(&self, reading: f64) -> f64 {
        let below = self.low.map_or(0.0, |low| low - reading);
        let above = self.high.map_or(0.0, |high| reading - high);
        below.max(above).max(0.0) / self.scale
    }
}

/// A side of a wish.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Side {
    /// Its least.
    Low,
    /// Its most.
    High,
}

/// What is aimed at.
#[derive(Clone, Debug, PartialEq)]
pub enum Aim {
    /// As little of a reading as can be, or as much; with what counts as one unit of it.
    Reading {
        /// Reading.
        reading: usize,
        /// As much as can be.
        most: bool,
        /// What counts as one unit.
        scale: f64,
    },
    /// As little as can be of readings together, each times its factor.
    Readings(Vec<(usize, f64)>),
    /// As little as can be of the parts, each times its factor.
    Parts(Vec<f64>),
    /// Nothing: any point that keeps the wishes.
    Nothing,
}

impl Aim {
    /// The number to make small.
    #[must_use]
    pub fn of(&self, at: &[f64], readings: &[f64]) -> f64 {
        match self {
            Self::Reading { reading, most, scale } => {
                let value = readings[*reading] / scale;
                if *most { -value } else { value }
            }
            Self::Readings(factors) => {
                factors.iter().map(|(reading, factor)| factor * readings[*reading]).sum()
            }
            Self::Parts(factors) => factors.iter().zip(at).map(|(factor, value)| factor * value).sum(),
            Self::Nothing => 0.0,
        }
    }
}

/// What is asked.
#[derive(Clone, Debug, PartialEq)]
pub struct Problem {
    /// Where a point may lie.
    pub space: Space,
    /// What is aimed at.
    pub aim: Aim,
    /// What is wished.
    pub wishes: Vec<Wish>,
}

impl Problem {
    /// How far a point misses the wishes, and its aim.
    #[must_use]
    pub fn judged(&self, at: Vec<f64>, readings: Vec<f64>) -> Point {
        let missed = self.wishes.iter().map(|wish| wish.missed(readings[wish.reading])).sum();
        let aim = self.aim.of(&at, &readings);
        Point { at, readings, aim, missed }
    }
}

/// A point with its true readings.
#[derive(Clone, Debug, PartialEq)]
pub struct Point {
    /// Where it is.
    pub at: Vec<f64>,
    /// Readings.
    pub readings: Vec<f64>,
    /// Aim, to be made small.
    pub aim: f64,
    /// Sum of what is missed, each in its scale.
    pub missed: f64,
}

impl Point {
    /// Whether it keeps all wishes.
    #[must_use]
    pub fn keeps(&self) -> bool {
        self.missed <= super::KEPT
    }

    pub(super) fn merit(&self, penalty: f64) -> f64 {
        self.aim + penalty * self.missed
    }

    /// Whether it is better: nearer to the wishes first, then nearer to the aim.
    #[must_use]
    pub fn better_than(&self, other: &Self) -> bool {
        match (self.keeps(), other.keeps()) {
            (true, true) => self.aim < other.aim - 1e-12 * (1.0 + other.aim.abs()),
            (true, false) => true,
            (false, true) => false,
            (false, false) => self.missed < other.missed * (1.0 - 1e-9),
        }
    }
}

/// What is asked for readings.
pub trait Oracle: Sync {
    /// Readings at a point; nothing where there are none.
    fn readings(&self, at: &[f64]) -> Option<Vec<f64>>;
}

/// Told now and then how far it is: points read so far, and the best aim that keeps all wishes. Ends the search by answering false.
pub type Watch<'w> = dyn FnMut(usize, Option<f64>) -> bool + 'w;

/// Why there is no answer.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum SearchError {
    /// A part has no place.
    #[error("part {} has no multiple of its step between its least and its most", part + 1)]
    NoPlace {
        /// Part.
        part: usize,
    },
    /// The groups and the room leave no point at all.
    #[error("no choice of the parts keeps every group within the room there is")]
    NoChoice,
    /// Nothing could be read anywhere it looked.
    #[error("the readings cannot be computed at any of the {tried} points that were tried")]
    Unreadable {
        /// Points tried.
        tried: usize,
    },
    /// It was ended.
    #[error("it was ended before there was an answer")]
    Ended,
}
