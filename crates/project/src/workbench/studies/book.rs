//! One study as it stands: its plan, its pulls, what was read, and the list of all of them.

use super::calendar::{PullState, StudyPull, late_words, pulls_of};
use super::planning::{TypedStudy, samples_needed, typed_of};
use super::series::{Verdict, judge, judged_unit};
use super::{StudyRecords, gather_studies};
use crate::records::{AttributeReads, Kept, StudyReading};
use crate::store::StoreError;
use crate::workbench::keeping::{Struck, corrects, struck};
use crate::workspace::Workspace;
use jiff::Timestamp;
use jiff::civil::Date;
use levigate_measure::{Grade, Outcome};
use serde::Serialize;

/// A study in the list.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct StudyCard {
    /// Its first record.
    pub id: String,
    /// Number.
    pub number: u32,
    /// Name.
    pub name: String,
    /// Formula.
    pub formula: String,
    /// Identity of the formula.
    pub formula_id: String,
    /// Version.
    pub version: u32,
    /// The start.
    pub start: Date,
    /// Batches by name.
    pub batches: Vec<String>,
    /// Conditions by name.
    pub conditions: Vec<String>,
    /// The pull that comes next or is overdue.
    pub next: Option<StudyPull>,
    /// Readings outside their limits.
    pub outside: usize,
    /// It was given up.
    pub given_up: bool,
}

/// A change of the plan.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PlanChange {
    /// Why.
    pub reason: String,
    /// Who.
    pub who: String,
    /// When.
    pub when: Timestamp,
    /// The study was given up with it.
    pub given_up: bool,
}

/// A reading as it stands in the book.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct StudyRead {
    /// Identity.
    pub id: String,
    /// Number in the study.
    pub number: u32,
    /// Batch.
    pub batch: String,
    /// Pack.
    pub pack: String,
    /// Condition.
    pub condition: String,
    /// The pull in words; empty beside the plan.
    pub pull: String,
    /// The day really pulled.
    pub on: Date,
    /// Months since the start.
    pub months: Outcome,
    /// Attribute.
    pub attribute: String,
    /// Replicates as typed, parted by semicolons.
    pub typed: String,
    /// Unit as typed.
    pub unit: String,
    /// Mean of the replicates; of a colour not shown.
    pub mean: Outcome,
    /// What the limits speak of.
    pub judged: Outcome,
    /// The word of a scale.
    pub step: String,
    /// How it stands to the limits.
    pub verdict: Verdict,
    /// How early or late it was pulled, where outside the window.
    pub late: String,
    /// How it was measured where otherwise than planned.
    pub measured_at: String,
    /// Remark.
    pub note: String,
    /// Who.
    pub who: String,
    /// When it was kept.
    pub when: Timestamp,
    /// Number of the reading it stands in place of.
    pub corrects: Option<u32>,
    /// What struck it.
    pub struck: Option<Struck>,
}

/// A study as it stands.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct StudyBook {
    /// Head.
    #[serde(flatten)]
    pub card: StudyCard,
    /// Why it is made.
    pub why: String,
    /// The plan as it stands, as it would be typed again.
    pub typed: TypedStudy,
    /// Packs needed.
    pub samples: Outcome,
    /// All pulls in the order they are due.
    pub pulls: Vec<StudyPull>,
    /// All readings, the newest last.
    pub readings: Vec<StudyRead>,
    /// Changes of the plan, the newest last.
    pub changes: Vec<PlanChange>,
    /// What should be looked at first.
    pub first: String,
}

fn card(records: &StudyRecords, pulls: &[StudyPull]) -> StudyCard {
    let (root, plan) = (records.root(), records.plan());
    let next = pulls.iter().find(|pull| pull.state != PullState::Read).filter(|_| !plan.withdrawn);
    let outside = records
        .counted()
        .filter(|kept| matches!(judge(records, kept).verdict, Verdict::Below | Verdict::Above))
        .count();
    StudyCard {
        id: root.id.to_string(),
        number: root.number,
        name: plan.name.clone(),
        formula: records.formula.what.name.clone(),
        formula_id: records.formula.id.to_string(),
        version: plan.version,
        start: plan.start,
        batches: plan.batches.iter().map(|batch| batch.name.clone()).collect(),
        conditions: plan.conditions.iter().map(|condition| condition.name.clone()).collect(),
        next: next.cloned(),
        outside,
        given_up: plan.withdrawn,
    }
}

/// All studies, the newest in front.
///
/// # Errors
/// The workspace cannot be read.
pub async fn study_cards(workspace: &Workspace, today: Date) -> Result<Vec<StudyCard>, StoreError> {
    let studies = gather_studies(workspace).await?;
    Ok(studies.iter().rev().map(|records| card(records, &pulls_of(records, today))).collect())
}

/// A study as it stands on a day.
#[must_use]
pub fn study_book(records: &StudyRecords, today: Date) -> StudyBook {
    let plan = records.plan();
    let pulls = pulls_of(records, today);
    let struck = struck(&records.readings);
    let readings: Vec<StudyRead> = records
        .readings
        .iter()
        .filter(|kept| !kept.what.withdrawn)
        .map(|kept| StudyRead { struck: struck.get(&kept.id).cloned(), ..read(records, kept) })
        .collect();
    let changes = records
        .plans
        .iter()
        .filter_map(|kept| {
            let reason = kept.corrects.as_ref()?.reason.clone();
            Some(PlanChange { reason, who: kept.who.clone(), when: kept.when, given_up: kept.what.withdrawn })
        })
        .collect();
    let card = card(records, &pulls);
    StudyBook {
        first: first(&card, &pulls, &readings),
        card,
        why: plan.why.clone(),
        typed: typed_of(plan),
        samples: samples_needed(plan),
        pulls,
        readings,
        changes,
    }
}

fn first(card: &StudyCard, pulls: &[StudyPull], readings: &[StudyRead]) -> String {
    if card.given_up {
        return "Given up; what was read stays to be seen.".to_owned();
    }
    let outside = readings
        .iter()
        .find(|read| read.struck.is_none() && matches!(read.verdict, Verdict::Below | Verdict::Above));
    if let Some(read) = outside {
        let more = if card.outside > 1 { format!(", and {} more", card.outside - 1) } else { String::new() };
        let pull = if read.pull.is_empty() { "beside the plan" } else { &read.pull };
        return format!(
            "Outside its limits: {} of {} at {}, {pull}{more}.",
            read.attribute, read.batch, read.condition
        );
    }
    let named = |pull: &StudyPull| {
        let weekend = pull.weekend.map(|day| format!(" (a {day})")).unwrap_or_default();
        format!("{} at {}, {}{weekend}: {}", pull.pull, pull.condition, pull.due, pull.words)
    };
    match pulls.iter().find(|pull| pull.state != PullState::Read) {
        Some(pull) if pull.condition == crate::records::START => {
            format!("The start comes first: {}.", pull.words)
        }
        Some(pull) => format!("Next: {}.", named(pull)),
        None => "Every pull of the plan is read.".to_owned(),
    }
}

fn read(records: &StudyRecords, kept: &Kept<StudyReading>) -> StudyRead {
    let plan = records.plan();
    let judged = judge(records, kept);
    let what = &kept.what;
    let attribute = plan.attributes.iter().find(|it| it.name == what.attribute);
    let unit = attribute.map(|it| it.unit.clone()).unwrap_or_default();
    let numbers = attribute.map_or(1, |it| it.numbers());
    let typed: Vec<String> = what
        .values
        .chunks(numbers)
        .map(|replicate| replicate.iter().map(|it| it.typed.as_str()).collect::<Vec<_>>().join(" "))
        .collect();
    let reads = attribute.map_or(AttributeReads::Value, |it| it.reads);
    let method = match reads {
        AttributeReads::Value | AttributeReads::Scale => "the mean of what was read",
        AttributeReads::PercentOfStart => {
            "the mean, in percent of that of the same batch and pack at the start"
        }
        AttributeReads::Colour => "the distance from the colour of the same batch and pack at the start",
    };
    let compared = match judged.value {
        Some(value) => {
            let unit = attribute.map(judged_unit).unwrap_or_default();
            let outcome = Outcome::new(value, unit, Grade::Measured, method)
                .proved_by("tests/cross/studies.toml")
                .input_text("as typed", typed.join("; "));
            match reads {
                AttributeReads::PercentOfStart => outcome.by("100 y/y_start"),
                AttributeReads::Colour => outcome.by("sqrt((L-L0)^2 + (a-a0)^2 + (b-b0)^2)").note(
                    "colour",
                    "a distance says how far, not in which direction; look at the three numbers",
                ),
                AttributeReads::Value | AttributeReads::Scale => outcome,
            }
        }
        None => {
            Outcome::refuse("", method, "it is no number, or the start of this batch and pack was not read")
        }
    };
    let step = attribute.filter(|it| it.reads == AttributeReads::Scale).and_then(|attribute| {
        let step = judged.mean.filter(|mean| mean.fract() == 0.0 && *mean >= 0.0)?;
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "whole and not negative")]
        let at = step as usize;
        attribute.steps.get(at).cloned()
    });
    StudyRead {
        id: kept.id.to_string(),
        number: kept.number,
        batch: what.batch.clone(),
        pack: what.pack.clone(),
        condition: what.condition.clone(),
        pull: what.pull.map(|pull| pull.to_string()).unwrap_or_default(),
        on: what.on,
        months: Outcome::new(judged.months, "month", Grade::Measured, "days since the start over 30.4375"),
        attribute: what.attribute.clone(),
        typed: typed.join("; "),
        unit: unit.clone(),
        mean: match judged.mean {
            Some(mean) if numbers == 1 => Outcome::new(mean, unit, Grade::Measured, "mean of the replicates"),
            _ => Outcome::refuse("", "mean of the replicates", "it is not one number"),
        },
        judged: compared,
        step: step.unwrap_or_default(),
        verdict: judged.verdict,
        late: what.pull.map(|pull| late_words(plan.start, pull, what.on)).unwrap_or_default(),
        measured_at: what
            .measured_at
            .iter()
            .map(|(name, value)| format!("{name} {value}"))
            .collect::<Vec<_>>()
            .join(", "),
        note: what.note.clone(),
        who: kept.who.clone(),
        when: kept.when,
        corrects: corrects(&records.readings, kept),
        struck: None,
    }
}
