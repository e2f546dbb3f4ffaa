//! The lines through the readings of an attribute, and the law of temperature through those of a content. Where they carry none, the
//! points are shown all the same, with why there is no line.

use super::StudyRecords;
use super::practice::StudyPractice;
use super::series::{Judged, Verdict, judge, judged_unit, limit, measured_at};
use crate::records::{AttributeReads, ConditionRole, START, StudyAttribute, StudyCondition};
use crate::workbench::complaint::sentence;
use levigate_assess::shelf_life::{Scale, ShelfLifeReading, Study as Lines, shelf_life};
use levigate_facts::Facts;
use levigate_process::stability::decay::{Asked, DecayReading, decay};
use levigate_process::stability::pooling::CUSTOMARY_LEVEL;
use levigate_process::stability::{Limits, Loss, PoolingError};
use levigate_rules::extrapolation::{Harsher, Kept, Seen};
use serde::Serialize;

/// Unit of an assay whose change from the start is told.
const OF_LABEL: &str = "% of label";
/// A pull within its window counts as at its time, months.
const WINDOW_MONTHS: f64 = 0.25;
/// Confidence of a limit.
const CONFIDENCE: f64 = 0.95;

/// A point of a trend.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct TrendPoint {
    /// Months since the start.
    pub months: f64,
    /// What the limits speak of.
    pub value: f64,
}

/// The points of a batch.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TrendBatch {
    /// Name.
    pub name: String,
    /// Points, earliest first.
    pub points: Vec<TrendPoint>,
}

/// Why there is no answer.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Unanswered {
    /// What is missing or wrong.
    pub what: String,
    /// What to do.
    pub what_now: String,
}

impl Unanswered {
    pub(super) fn new(what: &str, what_now: &str) -> Self {
        Self { what: sentence(what), what_now: sentence(what_now) }
    }
}

/// An attribute over time at one condition in one kind of pack.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct StudyTrend {
    /// Attribute.
    pub attribute: String,
    /// Unit of the points.
    pub unit: String,
    /// Pack.
    pub pack: String,
    /// Condition.
    pub condition: String,
    /// It is kept and sold like that; of a harsher condition no shelf life follows.
    pub sold: bool,
    /// Least that is within.
    pub lower: Option<f64>,
    /// Most that is within.
    pub upper: Option<f64>,
    /// Points by batch.
    pub batches: Vec<TrendBatch>,
    /// The lines and what follows from them.
    pub answer: Option<ShelfLifeReading>,
    /// Why there are none.
    pub refused: Option<Unanswered>,
    /// What else must be known.
    pub notes: Vec<String>,
}

/// Which trend.
fn asked<'s>(
    records: &'s StudyRecords,
    (attribute, pack, condition): (&str, &str, &str),
) -> Option<(&'s StudyAttribute, &'s str, &'s StudyCondition)> {
    let plan = records.plan();
    let attribute = plan.attributes.iter().find(|it| it.name == attribute)?;
    let pack = plan.packs.iter().find(|it| it.name == pack)?;
    let condition = plan.conditions.iter().find(|it| it.name == condition)?;
    Some((attribute, &pack.name, condition))
}

/// An attribute over time at one condition in one kind of pack: the points, and the lines of the shelf-life computation over the batches.
/// `None` where the plan knows no such attribute, pack or condition.
#[must_use]
pub fn study_trend(facts: &Facts, records: &StudyRecords, of: (&str, &str, &str)) -> Option<StudyTrend> {
    let (attribute, pack, condition) = asked(records, of)?;
    let used: Vec<Judged<'_>> = records
        .counted()
        .filter(|kept| {
            let read = &kept.what;
            read.attribute == attribute.name
                && read.pack == pack
                && (read.condition == condition.name || read.condition == START)
        })
        .map(|kept| judge(records, kept))
        .collect();
    let batches = batches(records, &used);
    let mut notes = Vec::new();
    let without = used.iter().filter(|judged| judged.value.is_none()).count();
    if without > 0 {
        notes.push(format!(
            "{without} {} no number here, such as < 10, or {} no start to be compared with, and {} not drawn.",
            if without == 1 { "reading is" } else { "readings are" },
            if without == 1 { "has" } else { "have" },
            if without == 1 { "is" } else { "are" },
        ));
    }
    match attribute.reads {
        AttributeReads::PercentOfStart => notes.push(
            "Every point is in percent of the reading at the start, so a slip of that one moves all of its batch.".to_owned(),
        ),
        AttributeReads::Colour => notes.push(
            "A distance is never below nothing, so small ones lie too high; the start is nothing by definition and is left out of the line.".to_owned(),
        ),
        AttributeReads::Value | AttributeReads::Scale => {}
    }
    let mut trend = StudyTrend {
        attribute: attribute.name.clone(),
        unit: judged_unit(attribute),
        pack: pack.to_owned(),
        condition: condition.name.clone(),
        sold: matches!(condition.role, ConditionRole::Storage | ConditionRole::Cold),
        lower: limit(attribute.lower.as_ref()),
        upper: limit(attribute.upper.as_ref()),
        batches,
        answer: None,
        refused: None,
        notes,
    };
    if let Some(refused) = no_line(attribute, &used, &trend) {
        trend.refused = Some(refused);
        return Some(trend);
    }
    let harsher = if trend.sold {
        harsher(records, condition, &mut trend.notes)
    } else {
        trend.notes.push(
            "It is not kept and sold like this, so no shelf life follows: it shows early what may come."
                .to_owned(),
        );
        Harsher::default()
    };
    let drawn = |batch: &TrendBatch| {
        let points = batch
            .points
            .iter()
            .filter(|point| attribute.reads != AttributeReads::Colour || point.months > 0.0);
        (batch.name.clone(), points.map(|point| (point.months, point.value)).collect::<Vec<_>>())
    };
    let lines = Lines {
        attribute: attribute.name.clone(),
        unit: trend.unit.clone(),
        condition: condition.name.clone(),
        batches: trend.batches.iter().map(drawn).collect(),
        limits: Limits { lower: trend.lower, upper: trend.upper },
        scale: Scale::Plain,
        either_way: attribute.either_way,
        confidence: CONFIDENCE,
        level: CUSTOMARY_LEVEL,
        harsher,
        wanted_months: limit(records.plan().wanted_months.as_ref()).filter(|_| trend.sold),
    };
    match shelf_life(&lines, facts.rules.extrapolation.values()) {
        Ok(answer) => trend.answer = Some(answer),
        Err(error) => {
            let of = match &error {
                PoolingError::OneTime { batch, .. } | PoolingError::NotAReading { batch, .. } => {
                    lines.batches.get(batch.saturating_sub(1)).map(|(name, _)| format!(" ({name})"))
                }
                _ => None,
            };
            let what = format!("there is no line yet: {error}{}", of.unwrap_or_default());
            trend.refused = Some(Unanswered::new(&what, error.hint()));
        }
    }
    Some(trend)
}

fn batches(records: &StudyRecords, used: &[Judged<'_>]) -> Vec<TrendBatch> {
    let of = |name: &str| {
        let mut points: Vec<TrendPoint> = used
            .iter()
            .filter(|judged| judged.kept.what.batch == name)
            .filter_map(|judged| Some(TrendPoint { months: judged.months, value: judged.value? }))
            .collect();
        points.sort_by(|one, other| one.months.total_cmp(&other.months));
        points
    };
    let batches = records.plan().batches.iter();
    batches
        .map(|batch| TrendBatch { name: batch.name.clone(), points: of(&batch.name) })
        .filter(|batch| !batch.points.is_empty())
        .collect()
}

/// Why no line can be laid, before anything is computed.
fn no_line(attribute: &StudyAttribute, used: &[Judged<'_>], trend: &StudyTrend) -> Option<Unanswered> {
    if trend.batches.is_empty() {
        return Some(Unanswered::new(
            "nothing is read of this yet",
            "enter the start and the first pull, or choose another condition",
        ));
    }
    if attribute.reads == AttributeReads::Scale {
        return Some(Unanswered::new(
            "steps of a scale are words in an order, not distances, so no line goes through them",
            "look at when the step beyond the limit was first seen",
        ));
    }
    let counted = used.iter().filter(|judged| judged.value.is_some());
    let mut ways: Vec<String> = counted
        .map(|judged| {
            let at = measured_at(attribute, &judged.kept.what);
            let words: Vec<String> = at.iter().map(|(name, value)| format!("{name} {value}")).collect();
            if words.is_empty() { "not said how".to_owned() } else { words.join(", ") }
        })
        .collect();
    ways.sort();
    ways.dedup();
    if ways.len() > 1 {
        return Some(Unanswered::new(
            &format!("the readings were measured in different ways: {}", ways.join("; against ")),
            "a line through them would show the change of the method; correct what was typed wrong, or read a second attribute for the other way",
        ));
    }
    if trend.lower.is_none() && trend.upper.is_none() {
        return Some(Unanswered::new(
            "the plan sets no limit for this attribute, so nothing is ever left",
            "change the plan and give it a limit, with the reason",
        ));
    }
    None
}

/// What the harsher conditions of the study showed, over all attributes.
fn harsher(records: &StudyRecords, of: &StudyCondition, notes: &mut Vec<String>) -> Harsher {
    let kept = if of.role == ConditionRole::Cold { Kept::Cold } else { Kept::Room };
    // Harsher than the refrigerator is the room.
    let accelerated = if kept == Kept::Cold { ConditionRole::Storage } else { ConditionRole::Accelerated };
    let known = Harsher {
        kept,
        accelerated: seen(records, accelerated),
        intermediate: seen(records, ConditionRole::Intermediate),
    };
    let significant = &StudyPractice::shipped().significant;
    notes.push(match known.accelerated {
        Seen::Changed => "At the harsher condition something changed: outside a limit, or an assay by more than is let pass.".to_owned(),
        Seen::Unchanged => format!("At the harsher condition nothing changed in {} months.", significant.months),
        Seen::NotTested => format!(
            "The harsher condition was not looked at for {} months yet, so nothing is stated beyond the last pull.",
            significant.months
        ),
    });
    known
}

fn seen(records: &StudyRecords, role: ConditionRole) -> Seen {
    let significant = &StudyPractice::shipped().significant;
    let plan = records.plan();
    let names: Vec<&str> = plan
        .conditions
        .iter()
        .filter(|condition| condition.role == role)
        .map(|condition| condition.name.as_str())
        .collect();
    let judged: Vec<Judged<'_>> = records
        .counted()
        .filter(|kept| names.contains(&kept.what.condition.as_str()))
        .map(|kept| judge(records, kept))
        .collect();
    let moved = |judged: &Judged<'_>| {
        let read = &judged.kept.what;
        if !plan.attributes.iter().any(|it| it.name == read.attribute && it.unit == OF_LABEL) {
            return false;
        }
        let start = records.counted().find(|kept| {
            let start = &kept.what;
            start.condition == START
                && start.attribute == read.attribute
                && start.batch == read.batch
                && start.pack == read.pack
        });
        let start = start.and_then(|kept| judge(records, kept).value);
        let values = start.zip(judged.value);
        values.is_some_and(|(start, now)| (now - start).abs() >= significant.assay_percent)
    };
    let outside = |judged: &Judged<'_>| matches!(judged.verdict, Verdict::Below | Verdict::Above);
    let last = judged.iter().map(|judged| judged.months).fold(0.0, f64::max);
    if judged.iter().any(|judged| outside(judged) || moved(judged)) {
        Seen::Changed
    } else if last + WINDOW_MONTHS >= significant.months {
        Seen::Unchanged
    } else {
        Seen::NotTested
    }
}

/// A content at several temperatures.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct StudyLosses {
    /// Attribute.
    pub attribute: String,
    /// Unit.
    pub unit: String,
    /// Pack.
    pub pack: String,
    /// What the law says.
    pub answer: Option<DecayReading>,
    /// Why there is none.
    pub refused: Option<Unanswered>,
}

/// The law of temperature through the readings of a content in one kind of pack, over all conditions that hold a temperature and are no
/// mere stress. The start counts once. `None` where the plan knows no such attribute or pack.
#[must_use]
pub fn study_losses(records: &StudyRecords, (attribute, pack): (&str, &str)) -> Option<StudyLosses> {
    let plan = records.plan();
    let attribute = plan.attributes.iter().find(|it| it.name == attribute)?;
    let pack = &plan.packs.iter().find(|it| it.name == pack)?.name;
    let mut losses = StudyLosses {
        attribute: attribute.name.clone(),
        unit: attribute.unit.clone(),
        pack: pack.clone(),
        answer: None,
        refused: None,
    };
    if attribute.reads != AttributeReads::Value || attribute.unit.is_empty() {
        losses.refused = Some(Unanswered::new(
            "a law of temperature speaks of a content, and this is none",
            "choose an assay",
        ));
        return Some(losses);
    }
    let held: Vec<(&str, f64)> = plan
        .conditions
        .iter()
        .filter(|condition| condition.role != ConditionRole::Stress)
        .filter_map(|condition| Some((condition.name.as_str(), limit(condition.temperature_c.as_ref())?)))
        .collect();
    let lowest = held.iter().map(|(_, c)| *c).fold(f64::INFINITY, f64::min);
    let readings: Vec<Loss> = records
        .counted()
        .filter(|kept| kept.what.attribute == attribute.name && kept.what.pack == *pack)
        .filter_map(|kept| {
            let read = &kept.what;
            let temperature_c = if read.condition == START {
                lowest
            } else {
                held.iter().find(|(name, _)| *name == read.condition)?.1
            };
            let judged = judge(records, kept);
            Some(Loss { temperature_c, time: judged.months, content: judged.value? })
        })
        .collect();
    let store_c: Vec<f64> = plan
        .conditions
        .iter()
        .filter(|condition| matches!(condition.role, ConditionRole::Storage | ConditionRole::Cold))
        .filter_map(|condition| limit(condition.temperature_c.as_ref()))
        .collect();
    let asked = Asked {
        attribute: attribute.name.clone(),
        unit: attribute.unit.clone(),
        readings,
        order: None,
        lower: limit(attribute.lower.as_ref()),
        store_c,
        seasons_c: Vec::new(),
        confidence: CONFIDENCE,
    };
    match decay(&asked) {
        Ok(answer) => losses.answer = Some(answer),
        Err(error) => losses.refused = Some(Unanswered::new(&error.to_string(), error.hint())),
    }
    Some(losses)
}
