//! What is told of a procedure.

use crate::adjusting::FirstPortion;
use crate::finding::Gravity;
use levigate_formula::sheet::StepKind;
use levigate_measure::written::{Described, Description, result};
use levigate_measure::{Grade, Outcome};
use levigate_process::flow::reading::BubbleReading;
use serde::Serialize;

/// A procedure.
#[derive(Clone, Debug, Serialize)]
pub struct Procedure {
    /// Name of the product.
    pub product: String,
    /// Whether a person wrote the steps; else they are proposed.
    pub written: bool,
    /// Whether the batch is heated.
    pub heated: bool,
    /// Steps in order.
    pub steps: Vec<Step>,
    /// What the procedure as a whole breaks; what a step breaks stands with the step.
    pub broken: Vec<Broken>,
    /// Smallest sets of demands that no procedure keeps.
    pub conflicts: Vec<Conflict>,
    /// Where the proposal leaves the order of the phases as written, and why.
    pub departures: Vec<Departure>,
    /// What must be known before it is made.
    pub questions: Vec<Question>,
    /// The step that sets the pH, where a person's own steps have none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub offer: Option<Offer>,
    /// What goes in before the pH is read; the steps tell it.
    #[serde(skip)]
    pub first: Option<FirstPortion>,
}

struct Celsius;
impl Described for Celsius {
    const OF: Description = Description::computed("C", "limits and needs of what is in the vessel")
        .graded(Grade::RuleOfThumb)
        .by("max of at-least to min of keep-below");
}

struct Minutes;
impl Described for Minutes {
    const OF: Description =
        Description::computed("min", "habit for the step, or as typed").graded(Grade::RuleOfThumb);
}

struct Percent;
impl Described for Percent {
    const OF: Description =
        Description::computed("% w/w", "percent of the line times the share that goes in here")
            .by("p * s")
            .proved_by("exact arithmetic");
}

struct Grams;
impl Described for Grams {
    const OF: Description = Description::computed("g", "percent of the batch, before rounding to a balance")
        .by("m = p * batch / 100")
        .proved_by("exact arithmetic");
}

struct Share;
impl Described for Share {
    const OF: Description =
        Description::computed("%", "share of the line that goes in here").graded(Grade::RuleOfThumb);
}

struct Parts;
impl Described for Parts {
    const OF: Description = Description::computed("", "carrier over what it carries, by weight")
        .by("r = m(carrier) / m(carried)")
        .proved_by("exact arithmetic");
}

struct Tip;
impl Described for Tip {
    const OF: Description =
        Description::computed("m/s", "habit for the way to stir").graded(Grade::RuleOfThumb).by("v = pi N D");
}

struct First;
impl Described for First {
    const OF: Description = Description::computed(
        "g",
        "largest addition whose 95 % bound by the model stays inside the far edge of the window, before anything is read",
    )
    .by("m_1 = min(best, bound, m), rounded down to what can be weighed")
    .proved_by("tests/tests/adjusting.rs");
}

struct PerStep;
impl Described for PerStep {
    const OF: Description = Description::computed("g", "solved again 0.05 pH further on")
        .by("m(pH + 0.05) - m(pH)")
        .proved_by("tests/cross/procedure.toml");
}

/// One step.
#[derive(Clone, Debug, Serialize)]
pub struct Step {
    /// Position, from 1.
    pub number: usize,
    /// Name that stays while the procedure is the same: kind and what goes in.
    pub key: String,
    /// What is done.
    pub does: StepKind,
    /// Name of a premix.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub name: Option<String>,
    /// What is done, in plain sentences.
    pub instruction: String,
    /// A person's own words.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
    /// Lines that go in, in this order.
    pub lines: Vec<StepLine>,
    /// Premixes that go in after them, by name.
    pub premixes: Vec<String>,
    /// Temperature of what is in the vessel.
    pub temperature: Option<Temperature>,
    /// How it is stirred.
    pub stirring: Option<Stirred>,
    /// How long, minutes; absent where it depends on vessel and heat.
    #[serde(serialize_with = "result::<Minutes, _, _>")]
    pub minutes: Option<[f64; 2]>,
    /// Parts of carrier per part of what it carries, in a premix.
    #[serde(serialize_with = "result::<Parts, _, _>")]
    pub parts: Option<f64>,
    /// How acid or base goes in.
    pub adding: Vec<Adding>,
    /// How long bubbles take to rise in the finished product.
    pub bubbles: Vec<BubbleReading>,
    /// What is looked at before going on.
    pub checks: Vec<String>,
    /// What can hurt somebody; filled in by whoever knows the words of the bench.
    pub cautions: Vec<Caution>,
    /// Why it stands here.
    pub because: Vec<Because>,
    /// Source keys of what is done and of what is looked at.
    pub sources: Vec<String>,
    /// What it breaks.
    pub broken: Vec<Broken>,
}

/// A line in a step.
#[derive(Clone, Debug, Serialize)]
pub struct StepLine {
    /// Line of the formula, from 0.
    pub line: usize,
    /// Raw material key.
    pub material: String,
    /// Raw material name.
    pub name: String,
    /// Percent of the product.
    #[serde(serialize_with = "result::<Percent, _, _>")]
    pub percent: f64,
    /// Grams.
    #[serde(serialize_with = "result::<Grams, _, _>")]
    pub grams: f64,
    /// Share of the line, percent; absent where all of it goes in.
    #[serde(serialize_with = "result::<Share, _, _>")]
    pub share_percent: Option<f64>,
}

/// A temperature, from and to.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Temperature {
    /// C.
    #[serde(serialize_with = "result::<Celsius, _, _>", rename = "range")]
    pub celsius: [f64; 2],
}

/// A way to stir.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Stirred {
    /// Key of the facts; absent for a person's own words.
    pub key: Option<String>,
    /// In words.
    pub words: String,
    /// Speed of the tip.
    #[serde(serialize_with = "result::<Tip, _, _>")]
    pub tip_speed: Option<[f64; 2]>,
    /// Source keys.
    pub sources: Vec<String>,
}

/// How acid or base goes in.
#[derive(Clone, Debug, Serialize)]
pub struct Adding {
    /// Line, from 0.
    pub line: usize,
    /// Raw material name.
    pub name: String,
    /// Grams that go in before the pH is read; absent where they went in before this step.
    #[serde(serialize_with = "result::<First, _, _>")]
    pub first_g: Option<f64>,
    /// How much all of it at once warms the batch, where most of it goes in.
    pub warms_by: Option<Outcome>,
    /// Grams for 0.05 pH near the end, where the pH is set.
    #[serde(serialize_with = "result::<PerStep, _, _>")]
    pub for_0_05_ph: Option<f64>,
}

/// What can hurt somebody, on the step where it can.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Caution {
    /// Hazard (`caustic`, `flammable`, `heat`, ...).
    pub hazard: String,
    /// Plain words.
    pub text: String,
    /// Source key.
    pub source: String,
}

/// Why a step stands where it stands.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Because {
    /// Key of the rule.
    pub rule: String,
    /// Where that puts it: `After the carbomer`.
    pub stands: String,
    /// Why, one sentence.
    pub why: String,
    /// Source keys.
    pub sources: Vec<String>,
}

/// A step that sets the pH, offered to a person's own steps.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Offer {
    /// Number it would have, from 1.
    pub number: usize,
    /// Line that is added to the pH, from 0.
    pub line: usize,
    /// What would change, in a sentence.
    pub says: String,
    /// Why, in sentences.
    pub why: String,
    /// Share of the line that stays where it stands, percent as text; empty where none does or nothing is moved.
    pub stays_percent: String,
    /// Whether the line, or the rest of it, goes in with the new step.
    pub brings: bool,
    /// Source keys.
    pub sources: Vec<String>,
}

/// Something a procedure breaks.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Broken {
    /// Key of the rule.
    pub rule: String,
    /// What it weighs.
    pub gravity: Gravity,
    /// Step that breaks it, from 1; absent for the whole.
    pub number: Option<usize>,
    /// What stands wrong.
    pub found: String,
    /// What happens then.
    pub breaks: String,
    /// Why the rule is there.
    pub why: String,
    /// Source keys.
    pub sources: Vec<String>,
}

/// A smallest set of demands that no procedure keeps.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Conflict {
    /// The demands, in words, each with its reason and sources.
    pub demands: Vec<Because>,
    /// Which of them the proposal does not keep, from 1.
    pub left_out: usize,
    /// What that does.
    pub breaks: String,
    /// What it weighs.
    pub gravity: Gravity,
}

/// A line that stands elsewhere than in the phases as written.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Departure {
    /// Key of the rule.
    pub rule: String,
    /// Line that waits, from 0.
    pub line: usize,
    /// What is changed.
    pub found: String,
    /// What would happen as written.
    pub breaks: String,
    /// Why.
    pub why: String,
    /// What it weighs.
    pub gravity: Gravity,
    /// Source keys.
    pub sources: Vec<String>,
}

/// Something that must be known before it is made.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Question {
    /// Key.
    pub key: String,
    /// Line it is about, from 0.
    pub line: usize,
    /// The question.
    pub asks: String,
    /// What was taken.
    pub taken: String,
    /// The other answers, raw material names.
    pub otherwise: Vec<String>,
    /// What hangs on it.
    pub why: String,
    /// Source keys.
    pub sources: Vec<String>,
}
