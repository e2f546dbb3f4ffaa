//! What the trials of a workspace say about flow: each viscosity read beside what was predicted for its own conditions from the trials
//! before it, and what it taught.
//!
//! Trials are gone through in the order they were begun. The prediction beside a reading knows the trials before, never the trial itself.

mod taught;

pub use taught::{FlowLesson, MovedNumber, TaughtBy};

use super::TrialRecords;
use super::book::{Desk, SheetMade};
use super::ph::PhBook;
use crate::records::{FlowCurve, Formula, Id, Kept, Reading, Trial, TypedNumber, in_force};
use crate::store::StoreError;
use crate::workbench::assess::known;
use crate::workspace::Workspace;
use jiff::civil::Date;
use levigate_assess::flow::learning::{CertificateValue, How, Lesson, Seen, of_certificate, spindle_of};
use levigate_assess::flow::{Bench, Experience, at_conditions, at_shear_rate, flowing_at};
use levigate_assess::{Inquiry, Known};
use levigate_facts::Facts;
use levigate_formula::names::folded;
use levigate_formula::sheet::ViscosityTarget;
use levigate_measure::Outcome;
use levigate_measure::elementary::Elementary as _;
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;
use std::borrow::Cow;
use std::collections::BTreeMap;
use taught::{Told, learned};

/// Temperature where a reading names none, C.
pub(super) const USUAL_TEMPERATURE_C: f64 = 25.0;
/// Standard deviation of a reading of a viscometer, relative: a repeatability of 5 % at 95 % with the 3 % of the spindle's constants. Common
/// practice, no source.
pub(super) const READING_SPREAD: f64 = 0.04;

/// Standard deviation of a point of a measured curve, relative: the instrument's 3 % and what a law with so few parameters does not follow.
/// Judgement, no source.
const POINT_SPREAD: f64 = 0.06;
/// Most points of a curve that teach, spread evenly over its decades: more say nothing new about so few parameters.
const MOST_POINTS: usize = 12;

/// What is known about flow and pH after all trials, and what was foreseen for each.
#[derive(Clone, Debug, Default)]
pub struct FlowBook {
    experience: Experience,
    /// The same for the pH.
    pub(super) ph: PhBook,
    trials: BTreeMap<Id<Trial>, FlowOfTrial>,
    told: Vec<Told>,
}

/// What was foreseen for a trial from those before it, and what it taught.
#[derive(Clone, Debug, Default)]
pub(super) struct FlowOfTrial {
    /// Viscosity as the brief speaks of it, and how that is meant.
    pub(super) product: Option<(String, Outcome)>,
    /// The same for the conditions of each viscosity read; else why there is none.
    pub(super) readings: BTreeMap<Id<Reading>, Result<(String, Outcome), String>>,
    /// What the papers alone foresee for each viscosity read.
    pub(super) untaught: BTreeMap<Id<Reading>, Outcome>,
    /// What the trial taught.
    pub(super) lessons: Vec<FlowLesson>,
    /// Density by the model, 25 C.
    pub(super) density: Option<Outcome>,
}

impl FlowBook {
    /// What the bench has taught, asked for a formula by its identity; empty for one that is not kept yet.
    #[must_use]
    pub fn for_formula<'a>(&'a self, formula: &'a str) -> Bench<'a> {
        Bench { experience: &self.experience, formula }
    }

    /// What the trials say about the pH.
    #[must_use]
    pub fn ph(&self) -> &PhBook {
        &self.ph
    }

    /// Everything learned so far.
    pub(super) fn experience(&self) -> &Experience {
        &self.experience
    }

    pub(super) fn of(&self, trial: Id<Trial>) -> Option<&FlowOfTrial> {
        self.trials.get(&trial)
    }
}

/// The trials of all formulas of a workspace.
///
/// # Errors
/// The workspace cannot be read.
pub async fn gather_bench(workspace: &Workspace) -> Result<Vec<TrialRecords>, StoreError> {
    let mut all = Vec::new();
    for formula in workspace.all::<Formula>().await? {
        let records = super::gather(workspace, formula.id).await?;
        if !records.trials.is_empty() {
            all.push(records);
        }
    }
    Ok(all)
}

/// A viscosity read, with the conditions that matter.
#[derive(Clone, Debug)]
pub(super) struct Spoken {
    id: Id<Reading>,
    mpa_s: Decimal,
    pub(super) temperature_c: f64,
    spindle: Option<String>,
    speed_rpm: Option<Decimal>,
    shear_rate: Option<f64>,
}

impl Spoken {
    /// A viscosity that stands; why not, where it is one without number or unit. None for another quantity.
    pub(super) fn of(reading: &Kept<Reading>) -> Option<Result<Self, String>> {
        let what = &reading.what;
        if what.quantity != "viscosity" || what.withdrawn {
            return None;
        }
        let Some(value) = what.value.value.filter(|value| *value > Decimal::ZERO) else {
            return Some(Err("what was typed is no number above zero".to_owned()));
        };
        let Some(mpa_s) = to_mpa_s(&what.unit).and_then(|factor| value.checked_mul(factor)) else {
            return Some(Err("its unit is not one of viscosity known here (mPa·s, Pa·s, cP)".to_owned()));
        };
        let condition = |name: &str| {
            what.conditions.iter().find(|(known, _)| folded(known) == name).map(|(_, value)| value.clone())
        };
        Some(Ok(Self {
            id: reading.id,
            mpa_s,
            temperature_c: what
                .temperature_c
                .as_ref()
                .and_then(|typed| typed.value?.to_f64())
                .unwrap_or(USUAL_TEMPERATURE_C),
            spindle: condition("spindle"),
            speed_rpm: number_in(condition("speed")),
            shear_rate: number_in(condition("shear rate"))
                .and_then(|rate| rate.to_f64())
                .filter(|rate| *rate > 0.0),
        }))
    }

    /// How it was read; why it cannot be compared, where that is not said.
    pub(super) fn how<'a>(&self, known: &Known<'a>) -> Result<How<'a>, String> {
        if let Some(rate) = self.shear_rate {
            return Ok(How::ShearRate(rate));
        }
        let rpm = self.speed_rpm.and_then(|rpm| rpm.to_f64()).filter(|rpm| *rpm > 0.0);
        let (Some(words), Some(rpm)) = (&self.spindle, rpm) else {
            return Err("spindle and speed, or the shear rate, were not noted: a viscosity without them cannot be compared".to_owned());
        };
        match spindle_of(&known.flow, words, rpm, self.pa_s()) {
            Some((spindle, _)) => Ok(How::Dial(Some(spindle), rpm)),
            None => Err(format!("\"{words}\" is no disc spindle known here")),
        }
    }

    pub(super) fn pa_s(&self) -> f64 {
        self.mpa_s.to_f64().unwrap_or(0.0) / 1e3
    }

    /// The conditions as a brief would name them.
    pub(super) fn conditions(&self) -> ViscosityTarget {
        ViscosityTarget {
            mpa_s: [self.mpa_s, self.mpa_s],
            spindle: self.spindle.clone(),
            speed_rpm: self.speed_rpm,
            temperature_c: Decimal::try_from(self.temperature_c).ok(),
            age_h: None,
        }
    }
}

/// Factor from a unit of viscosity to mPa s.
pub(super) fn to_mpa_s(unit: &str) -> Option<Decimal> {
    match folded(unit).as_str() {
        "mpa·s" | "mpas" | "mpa s" | "mpa.s" | "cp" | "cps" => Some(Decimal::ONE),
        "pa·s" | "pas" | "pa s" | "pa.s" => Some(Decimal::ONE_THOUSAND),
        _ => None,
    }
}

/// The number at the start of a condition (`20 rpm`).
pub(super) fn number_in(text: Option<String>) -> Option<Decimal> {
    let text = text?;
    let first = text.split_whitespace().next()?;
    TypedNumber::read_either(first.trim_end_matches(|sign: char| !sign.is_ascii_digit())).value
}

/// A trial ready to be gone through.
pub(super) struct Prepared<'f> {
    pub(super) trial: &'f Kept<Trial>,
    pub(super) formula: &'f Kept<Formula>,
    pub(super) facts: Cow<'f, Facts>,
    pub(super) made: SheetMade,
    pub(super) readings: &'f [Kept<Reading>],
    spoken: Vec<Result<Spoken, (Id<Reading>, String)>>,
    curves: Vec<&'f FlowCurve>,
}

/// What a curve teaches: one point, the middle one, of each equal stretch of its decades.
fn taught_by(curve: &FlowCurve) -> Vec<Seen<'static>> {
    let mut points: Vec<(f64, f64)> =
        curve.points.iter().map(|point| (point.shear_rate, point.stress)).collect();
    points.sort_by(|a, b| a.0.total_cmp(&b.0));
    let (Some(first), Some(last)) = (points.first(), points.last()) else { return Vec::new() };
    let (low, decades) = (first.0.log_e(), (last.0 / first.0).log_e().max(1e-9));
    let stretch = |rate: f64| {
        let share = (rate.log_e() - low) / decades;
        ((share * MOST_POINTS as f64).max(0.0) as usize).min(MOST_POINTS - 1)
    };
    points
        .chunk_by(|one, other| stretch(one.0) == stretch(other.0))
        .filter_map(|alike| alike.get(alike.len() / 2))
        .map(|&(rate, stress)| Seen {
            how: How::ShearRate(rate),
            value_pa_s: stress / rate,
            deviation: POINT_SPREAD,
        })
        .collect()
}

/// The first percentage in words (`Viscosity, 0.5 % at pH 7.5`), with point or comma.
fn percent_in(words: &str) -> Option<f64> {
    let (before, _) = words.split_once('%')?;
    let before = before.trim_end();
    let digits = before.trim_end_matches(|sign: char| sign.is_ascii_digit() || sign == '.' || sign == ',');
    TypedNumber::read_either(&before[digits.len()..]).value?.to_f64().filter(|percent| *percent > 0.0)
}

/// What the viscosities on the certificates of lots teach, with the place of each lot in the log.
fn certificates<'f>(facts: &'f Facts, all: &[TrialRecords]) -> Vec<(u64, Lesson<'f>)> {
    // Every formula's records hold all lots of the workspace.
    let Some(records) = all.first() else { return Vec::new() };
    let known = known(facts);
    let mut lessons = Vec::new();
    for lot in in_force(&records.lots) {
        let (Some(thickener), Some(material)) =
            (facts.flow.thickeners.get(&lot.what.material), facts.library.materials.get(&lot.what.material))
        else {
            continue;
        };
        let polymer =
            material.constituents.iter().find(|part| Some(&part.substance) == material.active.as_ref());
        let share = polymer.map_or(1.0, |part| part.typical / 100.0);
        let viscosities =
            lot.what.certificate.iter().filter(|value| folded(&value.name).contains("viscosity"));
        for value in viscosities {
            let mpa_s = value.value.value.zip(to_mpa_s(&value.unit));
            let mpa_s = mpa_s.and_then(|(value, factor)| value.checked_mul(factor)?.to_f64());
            let Some(pa_s) = mpa_s.map(|mpa_s| mpa_s / 1e3).filter(|pa_s| *pa_s > 0.0) else { continue };
            let said =
                CertificateValue { lot: &lot.what.code, percent: percent_in(&value.name), value_pa_s: pa_s };
            let lesson = of_certificate(thickener, &material.name, said, share, &known.flow);
            lessons.extend(lesson.map(|lesson| (lot.sequence, lesson)));
        }
    }
    lessons
}

/// Goes through all trials of a workspace in the order they were begun.
#[must_use]
pub fn flow_book(facts: &Facts, day: Date, market: &str, all: &[TrialRecords]) -> FlowBook {
    flow_book_without(facts, day, market, all, &[])
}

/// The same, where what was read of some trials is left out.
pub(super) fn flow_book_without(
    facts: &Facts,
    day: Date,
    market: &str,
    all: &[TrialRecords],
    left_out: &[Id<Trial>],
) -> FlowBook {
    let nothing = FlowBook::default();
    let mut prepared: Vec<Prepared<'_>> = Vec::new();
    for records in all {
        let desk = Desk { facts, day, market, records, flow: &nothing };
        for trial in records.trials.iter().filter(|trial| !left_out.contains(&trial.id)) {
            let Ok((made, facts)) = desk.sheet_made(trial) else { continue };
            let readings = records.readings.get(&trial.id).map_or(&[][..], Vec::as_slice);
            let spoken = in_force(readings)
                .into_iter()
                .filter_map(|reading| Some(Spoken::of(reading)?.map_err(|why| (reading.id, why))))
                .collect();
            let curves = records.curves.get(&trial.id).map(|curves| in_force(curves)).unwrap_or_default();
            let curves = curves
                .into_iter()
                .map(|curve| &curve.what)
                .filter(|curve| !curve.withdrawn && curve.recovery.is_none())
                .collect();
            let formula = &records.formula;
            prepared.push(Prepared { trial, formula, facts, made, readings, spoken, curves });
        }
    }
    prepared.sort_by_key(|one| one.trial.sequence);
    let mut certificates = certificates(facts, all);
    certificates.sort_by_key(|(sequence, _)| *sequence);
    let mut certificates = certificates.into_iter().peekable();
    let mut book = FlowBook::default();
    for one in &prepared {
        while let Some((_, certificate)) =
            certificates.next_if(|(sequence, _)| *sequence < one.trial.sequence)
        {
            book.learn_certificate(&certificate);
        }
        let (found, told) = go_through(one, day, market, &mut book.experience);
        book.ph.go_through(one);
        book.trials.insert(one.trial.id, found);
        book.told.extend(told);
    }
    certificates.for_each(|(_, certificate)| book.learn_certificate(&certificate));
    book
}

fn go_through(
    one: &Prepared<'_>,
    day: Date,
    market: &str,
    experience: &mut Experience,
) -> (FlowOfTrial, Vec<Told>) {
    let (mut found, mut told) = (FlowOfTrial::default(), Vec::new());
    let formula = one.formula.id.to_string();
    let known = known(&one.facts);
    let inquiry = Inquiry { sheet: &one.made.sheet, known, day, market };
    let Ok(assessed) = levigate_assess::assess(&inquiry) else { return (found, told) };
    let ready = |temperature_c: f64, experience: &Experience| {
        let mut flowing = flowing_at(&assessed, &one.made.sheet, &known, temperature_c);
        flowing.learn_from(Bench { experience, formula: &formula });
        flowing
    };
    found.density = Some(assessed.assessment.composition.density.clone());
    let target = one.made.sheet.target.viscosity.as_ref();
    let wanted = target.and_then(|target| target.temperature_c?.to_f64()).unwrap_or(USUAL_TEMPERATURE_C);
    found.product = Some(match target {
        Some(target) => at_conditions(&ready(wanted, experience), target, &known.flow),
        None => (String::new(), assessed.assessment.flow.at_brief.clone()),
    });
    let mut taught = Vec::new();
    for spoken in &one.spoken {
        let spoken = match spoken {
            Ok(spoken) => spoken,
            Err((id, why)) => {
                found.readings.insert(*id, Err(why.clone()));
                continue;
            }
        };
        let how = match spoken.how(&known) {
            Ok(how) => how,
            Err(why) => {
                found.readings.insert(spoken.id, Err(why));
                continue;
            }
        };
        let foresee = |experience: &Experience| {
            let flowing = ready(spoken.temperature_c, experience);
            match how {
                How::ShearRate(rate) => (format!("at {rate} 1/s"), at_shear_rate(&flowing, rate)),
                How::Dial(..) => at_conditions(&flowing, &spoken.conditions(), &known.flow),
            }
        };
        found.untaught.insert(spoken.id, foresee(&Experience::default()).1);
        found.readings.insert(spoken.id, Ok(foresee(experience)));
        let seen = Seen { how, value_pa_s: spoken.pa_s(), deviation: READING_SPREAD };
        taught.push((spoken.temperature_c, vec![seen]));
    }
    for curve in &one.curves {
        let celsius = curve.temperature_c.as_ref().and_then(|typed| typed.value?.to_f64());
        taught.push((celsius.unwrap_or(USUAL_TEMPERATURE_C), taught_by(curve)));
    }
    let mut lessons: Vec<Lesson<'_>> = Vec::new();
    for (temperature_c, seen) in taught {
        match lessons.iter_mut().find(|lesson| lesson.flowing.temperature_c == temperature_c) {
            Some(lesson) => lesson.seen.extend(seen),
            None => lessons.push(Lesson {
                trial: one.trial.id.to_string(),
                formula: formula.clone(),
                flowing: flowing_at(&assessed, &one.made.sheet, &known, temperature_c),
                seen,
                certificate: false,
            }),
        }
    }
    for lesson in &lessons {
        let (lesson, materials) = learned(experience, lesson);
        let name = &one.formula.what.name;
        let taught = TaughtBy {
            source: format!("trial {} of {name}", one.trial.number),
            formula: Some(name.clone()),
            number: Some(one.trial.number),
            lesson: lesson.clone(),
        };
        told.push(Told { materials, taught });
        found.lessons.push(lesson);
    }
    (found, told)
}
