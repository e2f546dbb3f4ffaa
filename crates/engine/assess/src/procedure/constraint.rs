//! What a procedure is held to, apart from who asked for it and why.
//!
//! ```text
//! before(a, b)        a stands at an earlier place than b
//! together(a, b)      a and b stand at one place
//! at-least(a, T)      the place of a is at T or warmer
//! keep-below(a, T)    the place of a and all later ones are at T or cooler
//! ```
//!
//! `at-least(y, T1)` and `keep-below(x, T2)` with T1 above T2 mean that y stands before x: so a set of constraints can be kept if and only if the
//! graph of what stands before what has no circle with a true "before" in it. See `order`.

use super::handling::Told;
use crate::finding::Gravity;
use serde::{Deserialize, Serialize};

/// Something that happens at one place of a procedure.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Mark {
    /// A line goes into the batch, from 0: all of it, or its first part.
    Line(usize),
    /// A further part of a line.
    Portion(usize, usize),
    /// A step that is no addition.
    Event(Event),
}

impl Mark {
    /// The line it is about.
    #[must_use]
    pub fn line(self) -> Option<usize> {
        match self {
            Self::Line(line) | Self::Portion(line, _) => Some(line),
            Self::Event(_) => None,
        }
    }
}

/// A step that is no addition.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Event {
    /// Warm for the sake of microbes.
    Hold,
    /// Evaporated water given back.
    MakeUp,
    /// Air leaves.
    DeAir,
    /// The pH is set.
    AdjustPh,
}

/// What is demanded.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Demand {
    /// The first stands before the second.
    Before(Mark, Mark),
    /// Both stand at one place.
    Together(Mark, Mark),
    /// The place is at least this warm, C.
    AtLeast(Mark, f64),
    /// From this place on it is never warmer, C.
    KeepBelow(Mark, f64),
}

impl Demand {
    /// The marks it speaks of.
    #[must_use]
    pub fn marks(&self) -> [Option<Mark>; 2] {
        match *self {
            Self::Before(one, other) | Self::Together(one, other) => [Some(one), Some(other)],
            Self::AtLeast(mark, _) | Self::KeepBelow(mark, _) => [Some(mark), None],
        }
    }
}

/// A demand with the rule it comes from.
#[derive(Clone, Debug, PartialEq)]
pub struct Constraint {
    /// Key of the rule.
    pub rule: String,
    /// What is demanded.
    pub demand: Demand,
    /// What it weighs.
    pub gravity: Gravity,
    /// Why, in words.
    pub why: String,
    /// What happens when it is broken.
    pub breaks: String,
    /// Where it is told while it is kept.
    pub told: Told,
    /// Source keys.
    pub sources: Vec<String>,
}
