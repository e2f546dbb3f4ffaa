//! What lies between two trials and what each difference did to everything that is read: by the engine, beside what was read, with what is
//! left unexplained and which difference to try alone next.

mod about;
mod attributes;
mod patches;
mod readings;
mod words;

pub(in crate::workbench::trials) use patches::with_water_lost;

use super::book::{ChangeSince, Desk, SheetMade};
use super::flow::flow_book_without;
use super::{FlowBook, TrialRecords};
use crate::records::{Kept, Trial};
use crate::workbench::assess::known;
use crate::workbench::complaint::complaints;
use attributes::Between;
use jiff::civil::Date;
use levigate_assess::AssessError;
use levigate_facts::Facts;
use levigate_measure::Outcome;
use patches::{as_it_went_in, patches};
use serde::Serialize;

/// Two trials and what lies between them.
#[derive(Clone, Debug, Serialize)]
pub struct Effects {
    /// Number of the trial it is told from.
    pub left: u32,
    /// Number of the trial it leads to.
    pub right: u32,
    /// Everything that is found to differ: lines, lots, weights, how it was made, what went off.
    pub differs: Vec<ChangeSince>,
    /// What the differences did, reading by reading.
    pub attributes: Vec<AttributeEffects>,
    /// Why nothing is told.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub refused: Option<String>,
}

/// How effects on a reading add up.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Scale {
    /// They are added.
    Difference,
    /// They are factors and multiply.
    Factor,
}

/// What the differences did to one reading.
#[derive(Clone, Debug, Serialize)]
pub struct AttributeEffects {
    /// A word of its own: `ph`, `viscosity`, `density`, `dry-matter`, `cost`, `preservative-KEY`.
    pub key: String,
    /// Name.
    pub name: String,
    /// How it is read or meant.
    pub conditions: String,
    /// How effects add up.
    pub scale: Scale,
    /// What the engine expects of the two trials.
    pub predicted: Vec<Outcome>,
    /// What was read of the two, as typed; none where nothing stands that can be compared.
    pub readings: [Option<String>; 2],
    /// What each difference did, in the order of the newer sheet.
    pub differences: Vec<Difference>,
    /// What differs and no model here speaks of.
    pub not_computed: Vec<NotComputed>,
    /// Change that all of them explain.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub explained: Option<Outcome>,
    /// Change that was read.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub measured: Option<Outcome>,
    /// What of it stays unexplained.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub unexplained: Option<Outcome>,
    /// What it comes to, in a sentence.
    pub say: String,
    /// The trial that tells most next, in words; empty where there is none to advise.
    pub next: String,
    /// Why nothing is told of this reading.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub refused: Option<String>,
}

/// One difference, as the engine tells it.
#[derive(Clone, Debug, Serialize)]
pub struct Difference {
    /// What.
    pub what: String,
    /// In the trial it is told from; empty where it was not there.
    pub was: String,
    /// In the other; empty where it is gone.
    pub now: String,
    /// What it did to the reading.
    pub effect: Outcome,
}

/// A difference no model here speaks of.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct NotComputed {
    /// What.
    pub what: String,
    /// In the trial it is told from.
    pub was: String,
    /// In the other.
    pub now: String,
    /// Why it is not computed.
    pub why: String,
}

impl Effects {
    /// What the differences did to a reading, by its word.
    #[must_use]
    pub fn on(&self, key: &str) -> Option<&AttributeEffects> {
        self.attributes.iter().find(|one| one.key == key)
    }
}

/// Lays what lies between two trials out. `bench` are the trials of the whole workspace, which the flow is learned from: all but what was read
/// of these two, so that no change explains itself.
///
/// # Errors
/// The number of a trial that is not there.
pub fn trial_effects(
    facts: &Facts,
    day: Date,
    market: &str,
    (records, bench): (&TrialRecords, &[TrialRecords]),
    [left, right]: [u32; 2],
) -> Result<Effects, u32> {
    let find = |number: u32| records.trials.iter().find(|trial| trial.number == number).ok_or(number);
    let pair = [find(left)?, find(right)?];
    let nothing = FlowBook::default();
    let desk = Desk { facts, day, market, records, flow: &nothing };
    let differs = desk.differs(pair[0], pair[1]);
    let (attributes, refused) = match between(&desk, bench, pair) {
        Ok(attributes) => (attributes, None),
        Err(why) => (Vec::new(), Some(why)),
    };
    Ok(Effects { left, right, differs, attributes, refused })
}

fn between(
    desk: &Desk<'_>,
    bench: &[TrialRecords],
    pair: [&Kept<Trial>; 2],
) -> Result<Vec<AttributeEffects>, String> {
    let (from, facts) = desk.sheet_made(pair[0])?;
    let (to, newer) = desk.sheet_made(pair[1])?;
    if facts.version() != newer.version() {
        return Err("the two versions bring different facts of their own: what a difference did cannot be told from what the facts did".to_owned());
    }
    let known = known(&facts);
    let sheets = [as_it_went_in(&from, &known)?, as_it_went_in(&to, &known)?];
    let thickens = |key: &str| known.flow.facts.thickeners.contains_key(key);
    let patches = patches([&from, &to], [&sheets[0], &sheets[1]], thickens);
    let any_thickener =
        [&from, &to].iter().flat_map(|made| made.lines()).any(|line| thickens(line.key.as_str()));
    let learned = if any_thickener {
        flow_book_without(desk.facts, desk.day, desk.market, bench, &pair.map(|trial| trial.id))
    } else {
        FlowBook::default()
    };
    Between {
        desk,
        known,
        facts: &facts,
        pair,
        made: [&from, &to],
        sheets: &sheets,
        patches: &patches,
        experience: learned.experience(),
    }
    .all()
}

fn first(error: &AssessError) -> String {
    complaints(error).into_iter().next().map(|one| one.what).unwrap_or_default()
}

/// What differs in the lots and in the making and no model of a reading speaks of. `thickens` tells whose lots the flow speaks of.
fn not_computed(
    desk: &Desk<'_>,
    pair: [&Kept<Trial>; 2],
    [from, to]: [&SheetMade; 2],
    speaks_of_lot: impl Fn(&str) -> bool,
) -> Vec<NotComputed> {
    let mut found = Vec::new();
    let mut tell = |what: &str, was: &str, now: &str, why: &str| {
        found.push(NotComputed {
            what: what.to_owned(),
            was: was.to_owned(),
            now: now.to_owned(),
            why: why.to_owned(),
        });
    };
    for line in to.lines().iter().filter(|line| !speaks_of_lot(&line.key)) {
        let same = from.lines().iter().find(|other| other.key == line.key && other.lot != line.lot);
        if let Some(other) = same.filter(|other| other.lot_assay == line.lot_assay) {
            let why = if line.lot_assay.is_empty() {
                "no assay of either lot is on file"
            } else {
                "the assays are the same; what else differs is not on file"
            };
            tell(&format!("lot of {}", line.material), &other.lot, &line.lot, why);
        }
    }
    let [before, after] = pair;
    if before.what.process != after.what.process {
        let why = "words about the making are not computed with";
        tell("how it was made", &before.what.process, &after.what.process, why);
    }
    for change in desk.making_differs(before, after) {
        tell(&change.what, &change.was, &change.now, "no model here speaks of what it does to this reading");
    }
    found
}
