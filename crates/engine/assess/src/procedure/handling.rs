//! The shapes of the facts about handling: what a procedure may not do, how powders swell, how hard is stirred, what must be asked.
//!
//! These types are the schema of `data/process/handling.toml`. A laboratory lays rules of its own over them.

use super::constraint::Event;
use crate::finding::Gravity;
use levigate_formula::library::{Charge, Form, Wetting};
use levigate_formula::sheet::StepKind;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// All that is known of handling.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Handling {
    /// Usual temperatures and shares; absent only in facts without the shipped ones.
    pub usual: Option<Usual>,
    /// Rules by key.
    pub rules: BTreeMap<String, Rule>,
    /// Ways to stir by key.
    pub stirring: BTreeMap<String, Stirring>,
    /// How polymers are brought in and swell, by key.
    pub swelling: BTreeMap<String, Swelling>,
    /// What must be asked, by key.
    pub questions: BTreeMap<String, Question>,
    /// What is looked at in a step, by key.
    pub checks: BTreeMap<String, StepCheck>,
}

/// `[handling]`: usual temperatures and shares.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Usual {
    /// The room, C.
    pub room_c: [f64; 2],
    /// The batch is cooled to this for what bears no heat, C.
    pub cool_down_c: f64,
    /// A phase worked from here on makes the batch a hot one, C.
    pub hot_from_c: f64,
    /// The hold of a hot batch, C.
    pub hold_c: f64,
    /// How long it is held, minutes.
    pub hold_minutes: [f64; 2],
    /// A hot step is worked at most this much above what it needs, C.
    pub spread_c: f64,
    /// Distance kept from a flash point, C.
    pub flash_margin_c: f64,
    /// Share of the water that is heated for a powder that is dispersed hot and swells cold, percent.
    pub hot_water_percent: f64,
    /// A degree of saturation from which crystals on the way are a danger.
    pub crystals_from: f64,
    /// Source key.
    pub source: String,
}

/// `[[handling_rule]]`: one thing a procedure keeps to, and why.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Rule {
    /// Stable key, kebab-case.
    pub key: String,
    /// What it asks.
    pub asks: Asks,
    /// Only for batches of which all of this is true.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub when: Vec<When>,
    /// Not for batches of which any of this is true.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub unless: Vec<When>,
    /// How much it weighs when it is broken.
    pub gravity: Gravity,
    /// Why, one sentence.
    pub why: String,
    /// What happens when it is broken, one sentence.
    pub breaks: String,
    /// Where the reason is told while the rule is kept.
    #[serde(default)]
    pub told: Told,
    /// Source key.
    pub source: String,
}

/// Where the reason of a rule is told while it is kept.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Told {
    /// At the later of two steps.
    #[default]
    Later,
    /// At both.
    Both,
    /// Nowhere: what goes without saying is told only when it is broken.
    Broken,
}

/// What a rule asks.
#[expect(clippy::large_enum_variant, reason = "a few dozen of them, read once")]
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub enum Asks {
    /// One goes in before the other.
    Before {
        /// Goes in first.
        first: Who,
        /// Goes in after it.
        then: Who,
    },
    /// It meets a carrier in a vessel of its own before it meets the batch.
    With {
        /// What is carried.
        what: Who,
        /// Carriers, the best first; of the first kind that the formula has, the one of the same phase, of the right amount, or the largest.
        carriers: Vec<Who>,
        /// Parts of carrier per part, from and to: of several carriers the one with so much is taken, and no more of it than the upper figure.
        /// Absent: all of the carrier.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        parts: Option<[f64; 2]>,
        /// What the premix is called (`slurry`).
        premix: String,
    },
    /// The batch is at least this warm when it goes in.
    AtLeast {
        /// What.
        what: Who,
        /// Temperature, C.
        celsius: f64,
    },
    /// From then on the batch is never warmer.
    KeepBelow {
        /// What.
        what: Who,
        /// Limit.
        limit: Limit,
    },
    /// The procedure has such a step.
    Needs {
        /// Step.
        event: Event,
    },
}

/// Where an upper temperature comes from.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Limit {
    /// The heat limit of the raw material.
    HeatLimit,
    /// The temperature a preservative is added below.
    AddBelow,
    /// Its flash point, with a margin.
    FlashPoint,
    /// A temperature, C.
    Celsius(f64),
}

/// Which lines or steps are meant: all of what is given must fit, within a list one suffices.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Who {
    /// A step instead of lines.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub event: Option<Event>,
    /// Functions of the raw material.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub functions: Vec<String>,
    /// Functions it does not have.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub without: Vec<String>,
    /// Forms.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub form: Vec<Form>,
    /// How it is brought into water.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub wetting: Vec<Wetting>,
    /// Charges.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub charge: Vec<Charge>,
    /// Substances it holds, of one percent or more of it.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub holds: Vec<String>,
    /// Substances it holds any of, however little.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub holds_any: Vec<String>,
    /// Substances it does not hold.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub holds_no: Vec<String>,
    /// Hazards of its cautions.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub hazard: Vec<String>,
    /// What it is in this formula; all must be true.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub is: Vec<Is>,
    /// What it is not in this formula; none may be true.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub is_not: Vec<Is>,
    /// At least this much of it in the product, percent.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub percent_from: Option<f64>,
}

/// What a line is in its formula.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Is {
    /// The water the batch is made with.
    Water,
    /// Added to a pH.
    Adjuster,
    /// Salt of a weak acid that preserves.
    WeakAcidSalt,
    /// Computed to crystallise before the base is in.
    FallsOut,
    /// Gives metal ions or other strong electrolyte to the water.
    Electrolyte,
    /// A liquid in which powders are wetted: polyol, little water, not flammable.
    Polyol,
    /// Has a heat limit below the hold of a hot batch.
    HeatSensitive,
    /// Swells: one of the swelling records fits.
    Swells,
}

/// What a batch is like.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum When {
    /// It has a thickener.
    Thick,
    /// It has none.
    Thin,
    /// It is heated.
    Heated,
    /// It is not heated.
    Cold,
    /// Its pH is set with a base.
    BaseAdjusts,
    /// Its pH is set with an acid.
    AcidAdjusts,
    /// Its pH is set.
    Adjusted,
    /// Its thickener gels when the base goes in.
    GelsWithBase,
    /// Its thickener gels without the base.
    GelsByItself,
}

/// `[[stirring]]`: a way to stir.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Stirring {
    /// Key.
    pub key: String,
    /// In words.
    pub words: String,
    /// Speed of the tip of the stirrer, m/s, from and to.
    pub tip_m_s: [f64; 2],
    /// Source key.
    pub source: String,
}

/// `[[swelling]]`: how a polymer is brought in and swells.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Swelling {
    /// Key.
    pub key: String,
    /// Which raw materials; the first record by key that fits is taken.
    pub who: Who,
    /// How it is brought in.
    pub how: SwellingHow,
    /// What is done to bring it in, one sentence.
    pub disperse: String,
    /// What is done while it swells, one sentence.
    pub hydrate: String,
    /// How it is stirred while it goes in: key of a way to stir.
    pub disperse_stirring: String,
    /// How it is stirred while it swells.
    pub hydrate_stirring: String,
    /// How long it swells, minutes.
    pub minutes: [f64; 2],
    /// Gels only when a base goes in.
    #[serde(default)]
    pub gels_with_base: bool,
    /// What is looked at before going on.
    #[serde(default)]
    pub check: String,
    /// What can hurt somebody while it swells, in plain words; empty where nothing can.
    #[serde(default)]
    pub caution: String,
    /// Hazard of the caution (`caustic`, ...).
    #[serde(default)]
    pub hazard: String,
    /// Source key.
    pub source: String,
}

/// How a polymer is brought in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum SwellingHow {
    /// At room temperature.
    Cold,
    /// In hot water, and it swells hot.
    Hot,
    /// In part of the water, hot; it swells when the rest is added cold.
    HotThenCold,
}

/// `[[handling_question]]`: what must be known of a raw material before it is made.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Question {
    /// Key.
    pub key: String,
    /// Which raw materials raise it.
    pub who: Who,
    /// Material keys of the answers.
    pub answers: Vec<String>,
    /// The question.
    pub asks: String,
    /// What hangs on it.
    pub why: String,
    /// Source key.
    pub source: String,
}

/// `[[step_check]]`: what is looked at in a step of a kind.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StepCheck {
    /// Key.
    pub key: String,
    /// In steps of this kind.
    pub does: StepKind,
    /// Only in batches of which all of this is true.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub when: Vec<When>,
    /// Words.
    pub text: String,
    /// Source key.
    pub source: String,
}
