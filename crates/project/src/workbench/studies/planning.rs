//! A study as typed, changes of its plan, and how many samples it needs.

use super::practice::StudyPractice;
use super::{StudyRecords, gather_study};
use crate::records::{
    AttributeReads, ConditionRole, Formula, FromDevice, Id, Kept, PlannedPull, PullUnit, Study,
    StudyAttribute, StudyBatch, StudyCondition, StudyPack, TypedNumber,
};
use crate::workbench::keeping::{Form, KeepError, TypedDevice, keep_sent, short};
use crate::workbench::readings::reasoned;
use crate::workspace::{KeptOnce, Workspace};
use levigate_measure::{Grade, Outcome};
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// A study as typed.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct TypedStudy {
    /// Identity and moment from the device.
    #[serde(flatten)]
    pub device: TypedDevice,
    /// The saved version.
    pub version: u32,
    /// Name.
    pub name: String,
    /// Why it is made.
    pub why: String,
    /// The day everything goes to its place, ISO.
    pub start: String,
    /// Batches.
    pub batches: Vec<TypedStudyBatch>,
    /// Packs.
    pub packs: Vec<TypedStudyPack>,
    /// Conditions.
    pub conditions: Vec<TypedStudyCondition>,
    /// Attributes.
    pub attributes: Vec<TypedStudyAttribute>,
    /// Packs opened at each pull; one when empty.
    pub units_per_pull: String,
    /// Reserve, percent; the usual one when empty.
    pub reserve_percent: String,
    /// Shelf life wanted, months.
    pub wanted_months: String,
    /// Remark.
    pub note: String,
}

/// A batch as typed.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct TypedStudyBatch {
    /// Code or name.
    pub name: String,
    /// Identity of the trial; empty for one made elsewhere.
    pub trial: String,
}

/// A pack as typed.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct TypedStudyPack {
    /// Name.
    pub name: String,
    /// How much is in it.
    pub fill: String,
    /// What it is made of.
    pub material: String,
}

/// A condition as typed.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct TypedStudyCondition {
    /// Name.
    pub name: String,
    /// Temperature, C.
    pub temperature_c: String,
    /// Relative humidity, percent.
    pub humidity_percent: String,
    /// What it is for; storage when empty.
    pub role: String,
    /// How it is held.
    pub words: String,
    /// Pulls: `4, 8, 13 weeks, 6, 12 months`.
    pub pulls: String,
}

/// An attribute as typed.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct TypedStudyAttribute {
    /// Name.
    pub name: String,
    /// How it is read; the value itself when empty.
    pub reads: String,
    /// Unit.
    pub unit: String,
    /// Least.
    pub lower: String,
    /// Most.
    pub upper: String,
    /// It may drift up or down.
    pub either_way: bool,
    /// How it is measured, by name.
    pub measured_at: BTreeMap<String, String>,
    /// Words of a scale, from step 0 on; a key of a shipped scale stands for its words.
    pub steps: Vec<String>,
}

/// Plans a study, once, however often a device sends it.
///
/// # Errors
/// What was typed cannot be kept, there is no such formula, version or trial, or the workspace refused.
pub async fn plan_study(
    workspace: &Workspace,
    who: &str,
    formula: Id<Formula>,
    typed: &TypedStudy,
) -> Result<KeptOnce<Study>, KeepError> {
    let mut form = Form::default();
    let (id, from) = form.sent(&typed.device, formula.uuid(), typed, None);
    let study = read_study(form, formula, typed)?;
    keep_sent(workspace, who, id, (Study { from, ..study }, None), |study| &study.from).await
}

/// Changes the plan of a study; the plan before stays, with the reason. What was read keeps its place, so nothing that was read may
/// vanish from the plan.
///
/// # Errors
/// See [`plan_study`]; also without a reason, or when readings would lose their place.
pub async fn change_study(
    workspace: &Workspace,
    who: &str,
    id: Id<Study>,
    reason: &str,
    typed: &TypedStudy,
) -> Result<Kept<Study>, KeepError> {
    let reason = reasoned(reason)?;
    let records = gather_study(workspace, id).await?;
    let formula = records.plan().formula;
    let mut form = Form::default();
    if records.plan().withdrawn {
        form.fault(
            "name",
            "the study was given up",
            "its plan is closed",
            "plan another study; what was read stays to be seen",
        );
    }
    let study = read_study(form, formula, typed)?;
    still_there(&records, &study)?;
    let newest = records.plans[records.plans.len() - 1].id;
    Ok(workspace.correct(who, newest, reason, study).await?)
}

/// Gives a study up; what was read stays.
///
/// # Errors
/// No such study, given up already, without a reason, or the workspace refused.
pub async fn give_up_study(
    workspace: &Workspace,
    who: &str,
    id: Id<Study>,
    reason: &str,
) -> Result<Kept<Study>, KeepError> {
    let reason = reasoned(reason)?;
    let records = gather_study(workspace, id).await?;
    let study = Study { withdrawn: true, from: FromDevice::default(), ..records.plan().clone() };
    let newest = records.plans[records.plans.len() - 1].id;
    Ok(workspace.correct(who, newest, reason, study).await?)
}

/// Everything that was read must still have its place.
fn still_there(records: &StudyRecords, study: &Study) -> Result<(), KeepError> {
    let mut form = Form::default();
    let before = records.plan();
    if before.start != study.start && records.counted().next().is_some() {
        form.fault(
            "start",
            "the start is moved, and readings count from it",
            "every time of a reading would be another one",
            "leave the start as it is; give the study up and plan another one where it was wrong",
        );
    }
    for reading in records.counted() {
        let read = &reading.what;
        let was = before.attributes.iter().find(|it| it.name == read.attribute);
        let is = study.attributes.iter().find(|it| it.name == read.attribute);
        let same = match (was, is) {
            (Some(was), Some(is)) => was.reads == is.reads && was.unit == is.unit,
            (None, Some(_)) => true,
            (_, None) => false,
        };
        let lost = [
            ("batches", &read.batch, study.batches.iter().any(|it| it.name == read.batch)),
            ("packs", &read.pack, study.packs.iter().any(|it| it.name == read.pack)),
            (
                "conditions",
                &read.condition,
                read.condition == crate::records::START
                    || study.conditions.iter().any(|it| it.name == read.condition),
            ),
            ("attributes", &read.attribute, same),
        ];
        if let Some((field, name, _)) = lost.into_iter().find(|(.., there)| !there) {
            form.fault(
                field,
                &format!("\"{name}\" has readings and is not in the new plan as it was"),
                "what was read keeps its place, its unit and the way it is judged",
                "leave it in the plan; take its pulls out, or add another one beside it",
            );
            break;
        }
    }
    form.done(())
}

/// Reads a study from what was typed.
fn read_study(mut form: Form, formula: Id<Formula>, typed: &TypedStudy) -> Result<Study, KeepError> {
    let practice = StudyPractice::shipped();
    let name = form.needed("name", &typed.name, "a study is found by its name", "write what is kept and why");
    let why = form.needed(
        "why",
        &typed.why,
        "no standard sets conditions and limits for cosmetics: whoever plans says why these",
        "write it in a sentence: launch in spring, change of pack, claim of 24 months",
    );
    let start = form.day("start", &typed.start);
    if typed.start.trim().is_empty() {
        form.fault(
            "start",
            "no day is typed",
            "every pull counts from it",
            "choose the day everything goes to its place",
        );
    }
    let mut batches = Vec::new();
    for batch in typed.batches.iter().filter(|batch| !batch.name.trim().is_empty()) {
        let trial = match batch.trial.trim() {
            "" => None,
            text => match text.parse() {
                Ok(id) => Some(id),
                Err(_) => {
                    form.fault(
                        "batches",
                        "this is not a trial",
                        "a batch belongs to a trial of this formula or to none",
                        "choose it from the list",
                    );
                    None
                }
            },
        };
        batches.push(StudyBatch { name: batch.name.trim().to_owned(), trial });
    }
    needed(&mut form, "batches", batches.is_empty(), "a batch", "name the batch or trial that is kept");
    let packs: Vec<StudyPack> = typed
        .packs
        .iter()
        .filter(|pack| !pack.name.trim().is_empty())
        .map(|pack| StudyPack {
            name: pack.name.trim().to_owned(),
            fill: pack.fill.trim().to_owned(),
            material: pack.material.trim().to_owned(),
        })
        .collect();
    needed(&mut form, "packs", packs.is_empty(), "a pack", "name the pack, glass jar at the least");
    let conditions: Vec<StudyCondition> = typed
        .conditions
        .iter()
        .filter(|condition| !condition.name.trim().is_empty())
        .map(|condition| read_condition(&mut form, condition))
        .collect();
    needed(&mut form, "conditions", conditions.is_empty(), "a condition", "choose where samples are kept");
    let attributes: Vec<StudyAttribute> = typed
        .attributes
        .iter()
        .filter(|attribute| !attribute.name.trim().is_empty())
        .map(|attribute| read_attribute(&mut form, practice, attribute))
        .collect();
    needed(&mut form, "attributes", attributes.is_empty(), "an attribute", "choose what is read: pH first");
    let units_per_pull = match typed.units_per_pull.trim() {
        "" => 1,
        text => text.parse().ok().filter(|units| (1..=100).contains(units)).unwrap_or_else(|| {
            form.fault(
                "units_per_pull",
                &format!("\"{}\" is not a number of packs", short(text)),
                "so many are opened at each pull",
                "type a whole number from 1 to 100",
            );
            1
        }),
    };
    let percent = (Decimal::ZERO, Decimal::from(300));
    let reserve = match typed.reserve_percent.trim() {
        "" => practice.reserve.percent.as_str(),
        text => text,
    };
    let reserve_percent =
        form.number("reserve_percent", reserve, percent, "it is kept beside the plan, for what goes wrong");
    let wanted_months = form.number(
        "wanted_months",
        &typed.wanted_months,
        (Decimal::ONE, Decimal::from(120)),
        "it is the shelf life that is wanted, in months",
    );
    form.done(Study {
        formula,
        version: typed.version,
        name,
        why,
        start: start.unwrap_or_default(),
        batches,
        packs,
        conditions,
        attributes,
        units_per_pull,
        reserve_percent: reserve_percent.unwrap_or_else(|| TypedNumber::read_either("0")),
        wanted_months,
        note: typed.note.trim().to_owned(),
        from: FromDevice::default(),
        withdrawn: false,
    })
}

fn needed(form: &mut Form, field: &str, missing: bool, what: &str, what_now: &str) {
    if missing {
        form.fault(field, &format!("there is not {what} yet"), "without it nothing can be pulled", what_now);
    }
}

fn read_condition(form: &mut Form, typed: &TypedStudyCondition) -> StudyCondition {
    let name = typed.name.trim().to_owned();
    let temperature_c = form.number(
        "conditions",
        &typed.temperature_c,
        (Decimal::from(-80), Decimal::from(100)),
        "it is the temperature samples are kept at, in degrees Celsius",
    );
    let humidity_percent = form.number(
        "conditions",
        &typed.humidity_percent,
        (Decimal::ZERO, Decimal::from(100)),
        "it is the relative humidity, in percent",
    );
    let role = match typed.role.trim() {
        "" => ConditionRole::Storage,
        word => ConditionRole::from_word(word).unwrap_or_else(|| {
            form.fault(
                "conditions",
                &format!("\"{}\" is not what a condition is for", short(word)),
                "it decides what may be concluded from it",
                "write storage, cold, intermediate, accelerated or stress",
            );
            ConditionRole::Stress
        }),
    };
    let pulls = read_pulls(&typed.pulls).unwrap_or_else(|wrong| {
        form.fault(
            "conditions",
            &format!("\"{}\" is not a time of a pull at {name}", short(&wrong)),
            "a pull is counted from the start",
            "type them like 4, 8, 13 weeks, 6, 12 months",
        );
        Vec::new()
    });
    if name.eq_ignore_ascii_case(crate::records::START) {
        form.fault(
            "conditions",
            "a condition cannot be called start",
            "the start stands for itself",
            "give it another name",
        );
    }
    StudyCondition {
        name,
        temperature_c,
        humidity_percent,
        role,
        words: typed.words.trim().to_owned(),
        pulls,
    }
}

/// Reads times of pulls, earliest first: `4, 8, 13 weeks, 6, 12 months`. A number without a unit takes the next unit behind it.
///
/// # Errors
/// What is no time of a pull.
pub(super) fn read_pulls(typed: &str) -> Result<Vec<PlannedPull>, String> {
    let mut pulls: Vec<PlannedPull> = Vec::new();
    let mut waiting: Vec<u32> = Vec::new();
    let spaced = typed.replace([',', ';'], " ");
    for word in spaced.split_whitespace() {
        let digits = word.find(|sign: char| !sign.is_ascii_digit()).unwrap_or(word.len());
        let (number, unit) = word.split_at(digits);
        if !number.is_empty() {
            waiting.push(number.parse().ok().filter(|n| *n > 0).ok_or_else(|| word.to_owned())?);
        }
        let unit = match unit.trim_end_matches('.').to_lowercase().as_str() {
            "" | "and" => continue,
            "d" | "day" | "days" => PullUnit::Days,
            "w" | "wk" | "week" | "weeks" => PullUnit::Weeks,
            "m" | "mo" | "month" | "months" => PullUnit::Months,
            _ => return Err(word.to_owned()),
        };
        if waiting.is_empty() {
            return Err(word.to_owned());
        }
        pulls.extend(waiting.drain(..).map(|after| PlannedPull { after, unit }));
    }
    if let Some(left) = waiting.first() {
        return Err(left.to_string());
    }
    pulls.sort_by_key(|pull| (pull.days(), pull.unit));
    pulls.dedup();
    Ok(pulls)
}

fn read_attribute(form: &mut Form, practice: &StudyPractice, typed: &TypedStudyAttribute) -> StudyAttribute {
    let name = typed.name.trim().to_owned();
    let reads = match typed.reads.trim() {
        "" => AttributeReads::Value,
        word => AttributeReads::from_word(word).unwrap_or_else(|| {
            form.fault(
                "attributes",
                &format!("\"{}\" is not a way to read {name}", short(word)),
                "it decides how a reading is judged",
                "write value, percent-of-start, colour or scale",
            );
            AttributeReads::Value
        }),
    };
    let any = (Decimal::from(-1_000_000_000), Decimal::from(1_000_000_000));
    let lower =
        form.number("attributes", &typed.lower, any, &format!("it is the least of {name} that is within"));
    let upper =
        form.number("attributes", &typed.upper, any, &format!("it is the most of {name} that is within"));
    let value = |limit: &Option<TypedNumber>| limit.as_ref().and_then(|it| it.value);
    if let (Some(least), Some(most)) = (value(&lower), value(&upper))
        && least >= most
    {
        form.fault(
            "attributes",
            &format!("the limits of {name} are exchanged: {least} is not below {most}"),
            "between them it is within",
            "write the smaller one as the least",
        );
    }
    let steps: Vec<String> = match typed.steps.as_slice() {
        [key] => practice
            .scales
            .iter()
            .find(|scale| scale.key == key.trim())
            .map_or_else(Vec::new, |scale| scale.steps.clone()),
        words => words.iter().map(|word| word.trim().to_owned()).filter(|word| !word.is_empty()).collect(),
    };
    if reads == AttributeReads::Scale && steps.len() < 2 {
        form.fault(
            "attributes",
            &format!("the scale of {name} has no words"),
            "a step without a word means another thing to everybody",
            "choose a scale, or write the words of its steps",
        );
    }
    let unit = match reads {
        AttributeReads::Value | AttributeReads::PercentOfStart => typed.unit.trim().to_owned(),
        AttributeReads::Colour | AttributeReads::Scale => String::new(),
    };
    if unit.is_empty()
        && matches!(reads, AttributeReads::Value | AttributeReads::PercentOfStart)
        && levigate_formula::names::folded(&name) != "ph"
    {
        form.fault(
            "attributes",
            &format!("{name} has no unit"),
            "a number without its unit means nothing later; only a pH has none",
            "write its unit, such as mPa·s, g, % of label",
        );
    }
    let measured_at = typed
        .measured_at
        .iter()
        .map(|(name, value)| (name.trim().to_owned(), value.trim().to_owned()))
        .filter(|(name, value)| !name.is_empty() && !value.is_empty())
        .collect();
    StudyAttribute { name, reads, unit, lower, upper, either_way: typed.either_way, measured_at, steps }
}

/// The plan as it would be typed again.
#[must_use]
pub fn typed_of(study: &Study) -> TypedStudy {
    let text = |number: &Option<TypedNumber>| number.as_ref().map(|it| it.typed.clone()).unwrap_or_default();
    TypedStudy {
        device: TypedDevice::default(),
        version: study.version,
        name: study.name.clone(),
        why: study.why.clone(),
        start: study.start.to_string(),
        batches: study
            .batches
            .iter()
            .map(|batch| TypedStudyBatch {
                name: batch.name.clone(),
                trial: batch.trial.map(|id| id.to_string()).unwrap_or_default(),
            })
            .collect(),
        packs: study
            .packs
            .iter()
            .map(|pack| TypedStudyPack {
                name: pack.name.clone(),
                fill: pack.fill.clone(),
                material: pack.material.clone(),
            })
            .collect(),
        conditions: study
            .conditions
            .iter()
            .map(|condition| TypedStudyCondition {
                name: condition.name.clone(),
                temperature_c: text(&condition.temperature_c),
                humidity_percent: text(&condition.humidity_percent),
                role: role_word(condition.role).to_owned(),
                words: condition.words.clone(),
                pulls: pulls_text(&condition.pulls),
            })
            .collect(),
        attributes: study
            .attributes
            .iter()
            .map(|attribute| TypedStudyAttribute {
                name: attribute.name.clone(),
                reads: reads_word(attribute.reads).to_owned(),
                unit: attribute.unit.clone(),
                lower: text(&attribute.lower),
                upper: text(&attribute.upper),
                either_way: attribute.either_way,
                measured_at: attribute.measured_at.clone(),
                steps: attribute.steps.clone(),
            })
            .collect(),
        units_per_pull: study.units_per_pull.to_string(),
        reserve_percent: study.reserve_percent.typed.clone(),
        wanted_months: text(&study.wanted_months),
        note: study.note.clone(),
    }
}

fn role_word(role: ConditionRole) -> &'static str {
    ConditionRole::ALL.into_iter().find(|(known, ..)| *known == role).map_or("storage", |(_, word, _)| word)
}

fn reads_word(reads: AttributeReads) -> &'static str {
    AttributeReads::ALL.into_iter().find(|(known, _)| *known == reads).map_or("value", |(_, word)| word)
}

/// Times of pulls as a person types them, units said once.
pub(super) fn pulls_text(pulls: &[PlannedPull]) -> String {
    let mut words = Vec::new();
    for (at, pull) in pulls.iter().enumerate() {
        let same = pulls.get(at + 1).is_some_and(|next| next.unit == pull.unit);
        words.push(if same { pull.after.to_string() } else { pull.to_string() });
    }
    words.join(", ")
}

/// How many packs a study needs: those of the start, those of every pull at every condition, and the reserve; every batch and every kind
/// of pack.
#[must_use]
pub fn samples_needed(study: &Study) -> Outcome {
    let count = |number: usize| u32::try_from(number).unwrap_or(u32::MAX);
    let each = count(study.batches.len())
        .saturating_mul(count(study.packs.len()))
        .saturating_mul(study.units_per_pull);
    let pulls = study.conditions.iter().map(|condition| count(condition.pulls.len())).sum::<u32>();
    let planned = each.saturating_mul(pulls.saturating_add(1));
    let percent = study.reserve_percent.value.unwrap_or_default().to_f64().unwrap_or(0.0);
    let reserve = (f64::from(planned) * percent / 100.0).ceil();
    Outcome::new(
        f64::from(planned) + reserve,
        "packs",
        Grade::Computed,
        "packs opened at the start and at every pull, and the reserve rounded up",
    )
    .by("batches x packs x opened at a pull x (1 + pulls) + reserve")
    .proved_by("tests/cross/studies.toml")
    .input("batches", f64::from(count(study.batches.len())), "", None)
    .input("kinds of pack", f64::from(count(study.packs.len())), "", None)
    .input("opened at a pull", f64::from(study.units_per_pull), "", None)
    .input("pulls at all conditions", f64::from(pulls), "", None)
    .term("at the start", f64::from(each), "packs")
    .term("at pulls", f64::from(each.saturating_mul(pulls)), "packs")
    .term("reserve", reserve, "packs")
    .note(
        "weighed-again",
        "packs that are only weighed and put back serve again, so fewer may do; packs that are opened do not",
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pulls_are_read_as_a_person_writes_them_and_written_back() {
        let text = |typed: &str| pulls_text(&read_pulls(typed).unwrap());
        assert_eq!(text("6, 12 months; 4, 8 and 13 weeks"), "4, 8, 13 weeks, 6, 12 months");
        assert_eq!(text("1d 2w 3m"), "1 day, 2 weeks, 3 months");
        assert_eq!(text(""), "");
        for wrong in ["4, 8", "weeks", "4 moons", "0 days", "-1 week", "99999999999 days"] {
            assert!(read_pulls(wrong).is_err(), "{wrong}");
        }
    }
}
