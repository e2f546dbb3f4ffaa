//! The procedure as a person wrote it: steps in order, what goes in at each, how warm, how long.
//!
//! A sheet without steps has no procedure of its own; one is proposed from the materials then.

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

/// What is done in a step.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum StepKind {
    /// Lines are put together in a vessel of their own, to be added later.
    Premix,
    /// Lines or premixes go into the batch.
    Add,
    /// A powder is brought into moving liquid and wetted out.
    Disperse,
    /// A polymer swells.
    Hydrate,
    /// The batch is warmed.
    Heat,
    /// The batch is kept warm for the sake of its microbes.
    Hold,
    /// The batch is cooled.
    Cool,
    /// Evaporated water is given back by weight.
    MakeUp,
    /// Air leaves the batch.
    DeAir,
    /// Acid or base goes in and the pH is read.
    AdjustPh,
    /// The product is looked at and measured.
    Check,
}

impl StepKind {
    /// All, in the order a batch usually meets them.
    pub const ALL: [Self; 11] = [
        Self::Premix,
        Self::Add,
        Self::Disperse,
        Self::Hydrate,
        Self::Heat,
        Self::Hold,
        Self::Cool,
        Self::MakeUp,
        Self::DeAir,
        Self::AdjustPh,
        Self::Check,
    ];

    /// The word written in formula files.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Premix => "premix",
            Self::Add => "add",
            Self::Disperse => "disperse",
            Self::Hydrate => "hydrate",
            Self::Heat => "heat",
            Self::Hold => "hold",
            Self::Cool => "cool",
            Self::MakeUp => "make-up",
            Self::DeAir => "de-air",
            Self::AdjustPh => "adjust-ph",
            Self::Check => "check",
        }
    }

    /// The kind of a word.
    #[must_use]
    pub fn of(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|kind| kind.word() == word)
    }
}

/// One step of a procedure as written.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WrittenStep {
    /// What is done.
    pub does: StepKind,
    /// Name of a premix; later steps add it by that name.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub name: Option<String>,
    /// Lines that go in, in this order.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub lines: Vec<StepPart>,
    /// Premixes that go in after the lines, by name.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub premixes: Vec<String>,
    /// Temperature, C, from and to; as in the step before where it is not said.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub temperature_c: Option<[Decimal; 2]>,
    /// How it is stirred: a key of the facts, or words.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stirring: Option<String>,
    /// How long, minutes, from and to.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub minutes: Option<[Decimal; 2]>,
    /// What is looked at before going on.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub checks: Vec<String>,
    /// The instruction in the person's own words.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

impl WrittenStep {
    /// A step that says no more than what is done.
    #[must_use]
    pub fn new(does: StepKind) -> Self {
        Self {
            does,
            name: None,
            lines: Vec::new(),
            premixes: Vec::new(),
            temperature_c: None,
            stirring: None,
            minutes: None,
            checks: Vec::new(),
            note: None,
        }
    }
}

/// A line of the formula, or a share of it, in a step.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StepPart {
    /// The raw material as it stands in the formula.
    pub material: String,
    /// Which of the lines of that name, from 1.
    #[serde(default = "first", skip_serializing_if = "is_first")]
    pub nth: usize,
    /// Share of the line, percent; all of it where it is not said.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub share_percent: Option<Decimal>,
}

fn first() -> usize {
    1
}

#[expect(clippy::trivially_copy_pass_by_ref, reason = "the shape serde asks for")]
fn is_first(nth: &usize) -> bool {
    *nth == 1
}
