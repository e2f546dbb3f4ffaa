//! What was read at a pull: everything of it is kept or nothing. A correction is an entry of its own; the struck one stays.

use super::{StudyRecords, gather_study};
use crate::records::{
    AttributeReads, FromDevice, Id, Kept, PlannedPull, START, Study, StudyAttribute, StudyReading,
    TypedNumber,
};
use crate::store::StoreError;
use crate::workbench::keeping::{Form, KeepError, short};
use crate::workbench::readings::reasoned;
use crate::workspace::Workspace;
use jiff::civil::Date;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// How often a write is made anew because somebody wrote in between.
pub(super) const TRIES: usize = 20;

/// What was read at a pull, as typed.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct TypedPull {
    /// Condition; `start` at the start.
    pub condition: String,
    /// The planned time in words; empty for a pull beside the plan.
    pub pull: String,
    /// The day it was really pulled, ISO; today when empty.
    pub on: String,
    /// Readings; empty ones are passed over.
    pub values: Vec<TypedValue>,
}

/// One reading as typed.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct TypedValue {
    /// Batch.
    pub batch: String,
    /// Pack.
    pub pack: String,
    /// Attribute.
    pub attribute: String,
    /// Replicates, parted by semicolons; of a colour L*, a*, b* with blanks between them.
    pub value: String,
    /// How it was measured where that is otherwise than planned.
    pub measured_at: BTreeMap<String, String>,
    /// Remark.
    pub note: String,
    /// In a correction: the day really pulled; as it was when empty.
    pub on: String,
}

/// Keeps what was read at a pull: all of it or nothing.
///
/// # Errors
/// What was typed cannot be kept, something of it is read already, there is no such study, or the workspace refused.
pub async fn keep_pull(
    workspace: &Workspace,
    (who, today): (&str, Date),
    study: Id<Study>,
    typed: &TypedPull,
) -> Result<Vec<Kept<StudyReading>>, KeepError> {
    for _ in 0..TRIES {
        let length = workspace.store().head().await?.length;
        let records = gather_study(workspace, study).await?;
        let readings = read_pull(&records, today, typed)?;
        match workspace.add_all(who, readings, length).await {
            Err(StoreError::LogMoved { .. }) => {}
            kept => return Ok(kept?),
        }
    }
    Err(crate::workbench::readings_table::busy())
}

/// Puts another reading in the place of one, or takes it back.
///
/// # Errors
/// See [`keep_pull`]; also without a reason, or when it has been corrected already.
pub async fn correct_study_reading(
    workspace: &Workspace,
    (who, today): (&str, Date),
    id: Id<StudyReading>,
    reason: &str,
    instead: Option<&TypedValue>,
) -> Result<Kept<StudyReading>, KeepError> {
    let reason = reasoned(reason)?;
    let struck = workspace.get(id).await?.what;
    let what = match instead {
        None => StudyReading { withdrawn: true, from: FromDevice::default(), ..struck },
        Some(typed) => {
            let records = gather_study(workspace, struck.study).await?;
            let mut form = Form::default();
            let attribute = attribute_named(&mut form, records.plan(), &struck.attribute);
            let on = form.day("on", &typed.on).unwrap_or(struck.on);
            day_fits(&mut form, records.plan(), on, today);
            let values =
                attribute.map(|attribute| read_values(&mut form, ("value", attribute), &typed.value));
            let measured_at =
                if typed.measured_at.is_empty() { struck.measured_at } else { cleaned(&typed.measured_at) };
            form.done(StudyReading {
                on,
                values: values.unwrap_or_default(),
                measured_at,
                note: typed.note.trim().to_owned(),
                from: FromDevice::default(),
                ..struck
            })?
        }
    };
    Ok(workspace.correct(who, id, reason, what).await?)
}

/// Reads what was typed of a pull.
///
/// # Errors
/// Everything that is wrong with it.
pub(super) fn read_pull(
    records: &StudyRecords,
    today: Date,
    typed: &TypedPull,
) -> Result<Vec<StudyReading>, KeepError> {
    let plan = records.plan();
    let mut form = Form::default();
    if plan.withdrawn {
        form.fault(
            "condition",
            "the study was given up",
            "nothing is read on it any more",
            "plan another study",
        );
    }
    let (condition, pull) = place(&mut form, plan, typed);
    let on = form.day("on", &typed.on).unwrap_or(today);
    day_fits(&mut form, plan, on, today);
    let mut readings: Vec<StudyReading> = Vec::new();
    for value in typed.values.iter().filter(|value| !value.value.trim().is_empty()) {
        let batch = named(&mut form, "batch", &value.batch, plan.batches.iter().map(|it| it.name.as_str()));
        let pack = named(&mut form, "pack", &value.pack, plan.packs.iter().map(|it| it.name.as_str()));
        let Some(attribute) = attribute_named(&mut form, plan, &value.attribute) else { continue };
        let field = place_of(&batch, &pack, &attribute.name);
        let values = read_values(&mut form, (&field, attribute), &value.value);
        let reading = StudyReading {
            study: records.root().id,
            batch,
            pack,
            condition: condition.clone(),
            pull,
            on,
            attribute: attribute.name.clone(),
            values,
            measured_at: cleaned(&value.measured_at),
            note: value.note.trim().to_owned(),
            from: FromDevice::default(),
            withdrawn: false,
        };
        let there =
            records.counted().map(|kept| &kept.what).chain(&readings).any(|it| same_place(it, &reading));
        if there {
            form.fault(
                &field,
                &format!("{} of {} in {} is read already", reading.attribute, reading.batch, reading.pack),
                "a place in the plan holds one reading, with its replicates",
                "correct the one that is there, or leave this one empty",
            );
        }
        readings.push(reading);
    }
    if readings.is_empty() {
        form.fault(
            "values",
            "nothing is typed yet",
            "a pull is what was read",
            "type one reading at the least",
        );
    }
    form.done(readings)
}

/// Field of a reading in a form: batch, pack and attribute.
fn place_of(batch: &str, pack: &str, attribute: &str) -> String {
    format!("{batch} | {pack} | {attribute}")
}

/// Whether two readings have one place in the plan.
pub(super) fn same_place(one: &StudyReading, other: &StudyReading) -> bool {
    let on = one.pull.is_some() || one.on == other.on;
    one.batch == other.batch
        && one.pack == other.pack
        && one.condition == other.condition
        && one.pull == other.pull
        && on
        && one.attribute == other.attribute
}

fn place(form: &mut Form, plan: &Study, typed: &TypedPull) -> (String, Option<PlannedPull>) {
    let condition = typed.condition.trim();
    if condition.eq_ignore_ascii_case(START) {
        return (START.to_owned(), Some(PlannedPull::START));
    }
    let Some(planned) = plan.conditions.iter().find(|it| it.name.eq_ignore_ascii_case(condition)) else {
        let names: Vec<&str> = plan.conditions.iter().map(|it| it.name.as_str()).collect();
        form.fault(
            "condition",
            &format!("\"{}\" is not a condition of this study", short(condition)),
            "a reading belongs to where the sample was kept",
            &format!("write start, {}", names.join(", or ")),
        );
        return (condition.to_owned(), None);
    };
    let words = typed.pull.trim();
    let pull = planned.pulls.iter().find(|pull| pull.to_string().eq_ignore_ascii_case(words)).copied();
    if pull.is_none() && !words.is_empty() {
        form.fault(
            "pull",
            &format!("\"{}\" is not a pull planned at {}", short(words), planned.name),
            "what is read is told apart by its pull",
            &format!(
                "write {}, or leave it empty for a pull beside the plan",
                super::planning::pulls_text(&planned.pulls)
            ),
        );
    }
    (planned.name.clone(), pull)
}

fn day_fits(form: &mut Form, plan: &Study, on: Date, today: Date) {
    if on < plan.start {
        form.fault(
            "on",
            &format!("{on} is before the start, {}", plan.start),
            "times count from the start",
            "look at the day",
        );
    }
    if on > today {
        form.fault(
            "on",
            &format!("{on} has not come yet"),
            "a pull is entered when it was pulled",
            "look at the day",
        );
    }
}

fn named<'a>(form: &mut Form, field: &str, typed: &str, mut known: impl Iterator<Item = &'a str>) -> String {
    let typed = typed.trim();
    match known.find(|name| name.eq_ignore_ascii_case(typed)) {
        Some(name) => name.to_owned(),
        None => {
            form.fault(
                field,
                &format!("\"{}\" is not a {field} of this study", short(typed)),
                "a reading belongs to what the plan names",
                "write it as it stands in the plan, or change the plan first",
            );
            typed.to_owned()
        }
    }
}

fn attribute_named<'p>(form: &mut Form, plan: &'p Study, typed: &str) -> Option<&'p StudyAttribute> {
    let found = plan.attributes.iter().find(|it| it.name.eq_ignore_ascii_case(typed.trim()));
    if found.is_none() {
        form.fault(
            "attribute",
            &format!("\"{}\" is not read in this study", short(typed)),
            "a number without an attribute of the plan has no unit and no limit",
            "write it as it stands in the plan, or change the plan first",
        );
    }
    found
}

fn cleaned(conditions: &BTreeMap<String, String>) -> BTreeMap<String, String> {
    conditions
        .iter()
        .map(|(name, value)| (name.trim().to_owned(), value.trim().to_owned()))
        .filter(|(name, value)| !name.is_empty() && !value.is_empty())
        .collect()
}

/// The replicates of a reading.
fn read_values(
    form: &mut Form,
    (field, attribute): (&str, &StudyAttribute),
    typed: &str,
) -> Vec<TypedNumber> {
    let mut fault = |what: String, why: &str, what_now: &str| form.fault(field, &what, why, what_now);
    let replicates: Vec<&str> = typed.split(';').map(str::trim).filter(|text| !text.is_empty()).collect();
    let name = &attribute.name;
    if replicates.is_empty() {
        fault(
            format!("{name} is empty"),
            "the reading itself is missing",
            "type it as the instrument shows it",
        );
    }
    let mut values = Vec::new();
    for replicate in replicates {
        match attribute.reads {
            AttributeReads::Colour => {
                let three: Vec<TypedNumber> =
                    replicate.split_whitespace().map(TypedNumber::read_either).collect();
                if three.len() != 3 || three.iter().any(|number| number.value.is_none()) {
                    fault(
                        format!("\"{}\" is not a colour", short(replicate)),
                        "a colour is L*, a* and b*",
                        "type three numbers with blanks between them, like 62.1 -1.2 8.4",
                    );
                }
                values.extend(three);
            }
            AttributeReads::Scale => {
                let number = TypedNumber::read_either(replicate);
                let step = number.value.and_then(|value| usize::try_from(value).ok());
                let whole = number.value.is_some_and(|value| value.fract().is_zero());
                if !whole || step.is_none_or(|step| step >= attribute.steps.len()) {
                    fault(
                        format!("\"{}\" is not a step of {name}", short(replicate)),
                        "a step has a word on which people agreed",
                        &format!("type a whole number from 0 to {}", attribute.steps.len().saturating_sub(1)),
                    );
                }
                values.push(number);
            }
            AttributeReads::Value | AttributeReads::PercentOfStart => {
                let number = TypedNumber::read_either(replicate);
                let ph = levigate_formula::names::folded(name) == "ph";
                if ph
                    && number
                        .value
                        .is_none_or(|ph| !(Decimal::NEGATIVE_ONE..=Decimal::from(15)).contains(&ph))
                {
                    fault(
                        format!("\"{}\" is not a pH", short(replicate)),
                        "a pH meter reads from about 0 to 14",
                        "look for a decimal sign that is missing; replicates are parted by a semicolon",
                    );
                } else if attribute.reads == AttributeReads::PercentOfStart
                    && number.value.is_none_or(|value| value < Decimal::ZERO)
                {
                    fault(
                        format!("\"{}\" is not a number for {name}", short(replicate)),
                        "it is judged in percent of the start",
                        "type a number of zero or more; replicates are parted by a semicolon",
                    );
                } else if !replicate.contains(|sign: char| sign.is_ascii_digit()) && replicate.len() > 12 {
                    fault(
                        format!("\"{}\" is no reading of {name}", short(replicate)),
                        "words belong into the remark",
                        "type a number, < 10, or n.d.",
                    );
                }
                values.push(number);
            }
        }
    }
    values
}
