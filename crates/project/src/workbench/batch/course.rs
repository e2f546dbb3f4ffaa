//! The temperature of a batch over time: as planned, as read, and what the readings mean for microbes and water.
//!
//! The planned course follows from the steps of the plan: warmed to, held, cooled to. How long warming and cooling take follows from
//! [`crate::workbench::making::heat`] where the person has named the vessel; else nobody knows, and it is said. Planned and read course
//! begin together, at the first reading of the first step that warms.

use super::BatchRecords;
use super::composed::plain;
use super::progress::{Progress, in_order};
use crate::flow_table::LoggedTemperature;
use crate::records::{BatchEntry, Did, Kept, Plan, PlanStep};
use crate::workbench::keeping::{Form, KeepError};
use crate::workbench::making::evaporate::{EvaporationReading, evaporate};
use crate::workbench::making::heat::{HeatReading, heat};
use crate::workbench::making::lethality::LethalityReading;
use jiff::Timestamp;
use levigate_facts::Facts;
use levigate_formula::sheet::StepKind as Does;
use levigate_measure::{Grade, Outcome};
use levigate_process::heat::TemperatureRecord;
use levigate_process::heat::lethality::{Asked, Medium, lethality};
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;
use serde::{Deserialize, Serialize};

/// Name of the question in complaints.
const FILE: &str = "vessel";
/// What a ramp takes in the drawing where nobody knows how long it takes, min: only so that it can be drawn.
const DRAWN_MIN: f64 = 20.0;
/// Raw material that is water.
const WATER: &str = "water";
/// Where a batch starts that no step says the temperature of, C: the middle of a usual room. Common practice, no source.
const ROOM_C: f64 = 22.5;

/// What is known of the vessel, as typed; all of it may be empty.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct TypedVessel {
    /// Key of a vessel of the facts; empty: not known.
    pub vessel: String,
    /// Temperature of what heats its jacket, C; empty: it stands on a hot plate.
    pub heat_c: String,
    /// Temperature of what cools its jacket, C; empty: the room cools it.
    pub cool_c: String,
    /// Speed of the stirrer, rpm; that entered last, where it is empty.
    pub rpm: String,
}

/// A stage of the planned course.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PlannedStage {
    /// Step of the plan, from 1.
    pub step: usize,
    /// What it is called.
    pub name: String,
    /// Time (min) and temperature (C) along it.
    pub points: Vec<(f64, f64)>,
    /// How long it takes, min; refused where it is not known.
    pub takes: Outcome,
    /// Temperature from and to that is asked for at its end, C.
    pub window_c: [f64; 2],
}

/// A reading of the thermometer or of the stirrer.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CourseReading {
    /// Time, min.
    pub minute: f64,
    /// Value: C or rpm.
    pub value: f64,
    /// Number of the entry.
    pub entry: u32,
    /// Step it was entered in.
    pub step: Option<usize>,
}

/// How long a hold was kept.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Held {
    /// Step of the plan, from 1.
    pub step: usize,
    /// Temperature asked for, C.
    pub at_c: f64,
    /// Asked for, min.
    pub planned_min: f64,
    /// At that temperature or above over the whole record, min.
    pub kept: Outcome,
}

/// The course of a batch.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TemperatureCourse {
    /// The moment the axis begins, where there is a reading.
    pub begins: Option<Timestamp>,
    /// As planned; empty for a batch that is not warmed.
    pub planned: Vec<PlannedStage>,
    /// As typed.
    pub typed: Vec<CourseReading>,
    /// As logged: time (min) and temperature (C).
    pub logged: Vec<(f64, f64)>,
    /// The stirrer as set.
    pub speeds: Vec<CourseReading>,
    /// The holds, where there is a record.
    pub held: Vec<Held>,
    /// What the record does to microbes.
    pub lethality: Option<LethalityReading>,
    /// Water the model lets go off over the record, where the vessel is known.
    pub evaporation: Option<EvaporationReading>,
    /// Water that went off by the balance, where it was weighed.
    pub went_off: Option<Outcome>,
    /// What must be known of it, in words.
    pub notes: Vec<String>,
}

/// Lays out the course of a batch.
///
/// # Errors
/// What was typed of the vessel is no vessel, or no number.
pub fn temperature_course(
    facts: &Facts,
    records: &BatchRecords,
    typed: &TypedVessel,
) -> Result<TemperatureCourse, KeepError> {
    let plan = &records.batch.what.plan;
    let progress = Progress::of(plan, &records.entries);
    let mut notes = Vec::new();
    let readings = Readings::of(plan, &records.entries);
    let vessel = read_vessel(facts, plan, &readings, typed)?;
    let planned = planned(facts, plan, vessel.as_ref(), &mut notes);
    let record = readings.record();
    if record.is_some() && !readings.logged.is_empty() && !readings.typed.is_empty() {
        notes.push("The record of the logger counts; the typed readings are drawn beside it.".to_owned());
    } else if record.is_some() && readings.logged.is_empty() {
        notes.push(
            "Between typed readings the temperature is taken to run straight; before the first and after the last nothing counts."
                .to_owned(),
        );
    }
    let held = record.as_ref().map(|record| held(plan, record)).unwrap_or_default();
    let evaporation = match (&record, &vessel) {
        (Some(record), Some(vessel)) => vessel.evaporation(facts, record, &mut notes),
        _ => None,
    };
    let went_off = progress.went_off_g().map(|grams| {
        Outcome::new(
            plain(grams),
            "g",
            Grade::Computed,
            "tare arithmetic; what clings to tools counts as gone off",
        )
        .by("w = V + in - out - G")
        .proved_by("tests/cross/batches.toml")
    });
    Ok(TemperatureCourse {
        begins: readings.begins,
        planned,
        lethality: record.as_ref().map(|record| against_microbes(facts, record)),
        held,
        evaporation,
        went_off,
        typed: readings.typed,
        logged: readings.logged,
        speeds: readings.speeds,
        notes,
    })
}

/// Readings in force, in minutes after the axis begins.
struct Readings {
    begins: Option<Timestamp>,
    typed: Vec<CourseReading>,
    logged: Vec<(f64, f64)>,
    speeds: Vec<CourseReading>,
}

impl Readings {
    fn of(plan: &Plan, entries: &[Kept<BatchEntry>]) -> Self {
        let done = in_order(entries);
        let warms = plan.steps.iter().find(|step| does(step) == Some(Does::Heat)).map(|step| step.number);
        let moments = |from: usize| {
            done.iter()
                .filter(move |one| one.entry.what.step.unwrap_or(0) >= from)
                .filter(|one| {
                    matches!(one.entry.what.did, Did::Temperature { .. } | Did::TemperatureLog { .. })
                })
                .map(|one| one.at)
                .min()
        };
        let begins = warms.and_then(moments).or_else(|| moments(0));
        let mut found = Self { begins, typed: Vec::new(), logged: Vec::new(), speeds: Vec::new() };
        for one in &done {
            let Some(begins) = begins.or(Some(one.at)) else { continue };
            let minute = one.at.duration_since(begins).as_secs_f64() / 60.0;
            let reading = |value: Option<Decimal>| {
                Some(CourseReading {
                    minute,
                    value: value?.to_f64()?,
                    entry: one.entry.number,
                    step: one.entry.what.step,
                })
            };
            match &one.entry.what.did {
                Did::Temperature { value } => found.typed.extend(reading(value.value)),
                Did::Speed { value } => found.speeds.extend(reading(value.value)),
                Did::TemperatureLog { points, .. } => {
                    let point = |(time_s, celsius): &(Decimal, Decimal)| {
                        (minute + plain(*time_s) / 60.0, plain(*celsius))
                    };
                    found.logged.extend(points.iter().map(point));
                }
                _ => {}
            }
        }
        found.logged.sort_by(|a, b| a.0.total_cmp(&b.0));
        found.typed.sort_by(|a, b| a.minute.total_cmp(&b.minute));
        found
    }

    /// The record that counts: that of the logger, else the typed readings; none where they are no record.
    fn record(&self) -> Option<TemperatureRecord> {
        let seconds = |(minute, celsius): (f64, f64)| (60.0 * minute, celsius);
        let typed = self.typed.iter().map(|reading| seconds((reading.minute, reading.value)));
        let points: Vec<(f64, f64)> = if self.logged.is_empty() {
            typed.collect()
        } else {
            self.logged.iter().copied().map(seconds).collect()
        };
        TemperatureRecord::new(points).ok()
    }
}

fn does(step: &PlanStep) -> Option<Does> {
    step.procedure.as_ref().map(|procedure| procedure.does)
}

/// A vessel of the facts with what warms and cools it.
struct Vessel {
    key: String,
    heat_c: Option<f64>,
    cool_c: Option<f64>,
    rpm: Option<f64>,
    batch_g: f64,
    water_percent: f64,
}

fn read_vessel(
    facts: &Facts,
    plan: &Plan,
    readings: &Readings,
    typed: &TypedVessel,
) -> Result<Option<Vessel>, KeepError> {
    let key = typed.vessel.trim();
    if key.is_empty() {
        return Ok(None);
    }
    let mut form = Form::default();
    if !facts.mixing.vessels.contains_key(key) {
        let what = format!("no vessel on file is called \"{}\"", crate::workbench::keeping::short(key));
        form.fault("vessel", &what, "its sizes decide how fast it warms", "choose one of the list");
    }
    let limits = (Decimal::ZERO, Decimal::from(200));
    let why = "it decides how fast the batch warms and cools";
    let heat_c = form.number("heat_c", &typed.heat_c, limits, why);
    let cool_c = form.number("cool_c", &typed.cool_c, limits, why);
    let rpm = form.number("rpm", &typed.rpm, (Decimal::ONE, Decimal::from(50_000)), why);
    let () = form.done(())?;
    let number = |typed: Option<crate::records::TypedNumber>| typed.and_then(|typed| typed.value?.to_f64());
    let water = plan.lines().into_iter().filter(|line| line.material == WATER).map(|line| line.percent);
    Ok(Some(Vessel {
        key: key.to_owned(),
        heat_c: number(heat_c),
        cool_c: number(cool_c),
        rpm: number(rpm).or_else(|| readings.speeds.last().map(|speed| speed.value)),
        batch_g: plain(plan.size_g),
        water_percent: plain(water.sum()),
    }))
}

impl Vessel {
    fn common(&self) -> String {
        format!(
            "batch_g = {}\nwater_percent = {}\nvessel = \"{}\"\n",
            self.batch_g, self.water_percent, self.key
        )
    }

    /// Warming to a temperature, or cooling to one where it is lower.
    fn ramp(&self, facts: &Facts, from_c: f64, to_c: f64) -> Result<HeatReading, String> {
        let (to, down) = if to_c >= from_c { (to_c, None) } else { (from_c, Some(to_c)) };
        let mut text = format!("{}from_c = {from_c}\nto_c = {to}\n", self.common());
        text.extend(down.map(|down| format!("down_to_c = {down}\n")));
        text.extend(self.rpm.map(|rpm| format!("rpm = {rpm}\n")));
        if self.heat_c.is_some() || self.cool_c.is_some() {
            text.push_str("[jacket]\n");
            // A jacket that only cools still needs something as warm as the batch.
            text.push_str(&format!("heat_c = {}\n", self.heat_c.unwrap_or(to)));
            text.extend(self.cool_c.map(|cool_c| format!("cool_c = {cool_c}\n")));
        }
        heat(facts, (FILE, &text)).map_err(|complaints| {
            complaints.first().map(|one| format!("{}: {}", one.what, one.what_now)).unwrap_or_default()
        })
    }

    fn evaporation(
        &self,
        facts: &Facts,
        record: &TemperatureRecord,
        notes: &mut Vec<String>,
    ) -> Option<EvaporationReading> {
        let logged =
            LoggedTemperature { record: record.clone(), told: "the record is that of the batch".to_owned() };
        match evaporate(facts, (FILE, &self.common()), Some(&logged)) {
            Ok(reading) => {
                notes.push("Evaporation is that of the open vessel; covered it loses far less.".to_owned());
                Some(reading)
            }
            Err(complaints) => {
                notes.extend(complaints.first().map(|one| format!("No evaporation: {}.", one.what)));
                None
            }
        }
    }
}

/// The planned course: from the first step that warms to the last that cools or holds.
fn planned(
    facts: &Facts,
    plan: &Plan,
    vessel: Option<&Vessel>,
    notes: &mut Vec<String>,
) -> Vec<PlannedStage> {
    let thermal = |step: &&PlanStep| matches!(does(step), Some(Does::Heat | Does::Hold | Does::Cool));
    let numbers = || plan.steps.iter().filter(thermal).map(|step| step.number);
    let (Some(first), Some(last)) = (numbers().min(), numbers().max()) else { return Vec::new() };
    let mut here_c = plan
        .steps
        .iter()
        .take_while(|step| step.number < first)
        .filter(|step| does(step) != Some(Does::Premix))
        .filter_map(|step| step.procedure.as_ref()?.temperature_c)
        .last()
        .map_or(ROOM_C, |[low, high]| 0.5 * (plain(low) + plain(high)));
    let (mut minute, mut unknown) = (0.0, false);
    let mut stages: Vec<PlannedStage> = Vec::new();
    for step in plan.steps.iter().filter(|step| (first..=last).contains(&step.number)) {
        let window_c =
            step.procedure.as_ref().and_then(|own| own.temperature_c).map(|window| window.map(plain));
        let hold_min = step.hold_min.map(plain).filter(|minutes| *minutes > 0.0);
        let (points, takes) = match (does(step), step.temperature_c.map(plain), hold_min) {
            (Some(Does::Heat | Does::Cool), Some(to_c), _) if to_c != here_c => {
                let (points, takes) = ramp(facts, vessel, minute, (here_c, to_c));
                if let (Some(why), true) = (&takes.refused, vessel.is_some()) {
                    notes.push(format!("{}: {why}.", step.text));
                }
                unknown |= points.is_empty();
                let drawn = vec![(minute, here_c), (minute + DRAWN_MIN, to_c)];
                (if points.is_empty() { drawn } else { points }, takes)
            }
            (_, _, Some(minutes)) => {
                let takes = Outcome::new(minutes, "min", Grade::RuleOfThumb, "as planned");
                (vec![(minute, here_c), (minute + minutes, here_c)], takes)
            }
            _ => continue,
        };
        if let Some((end, celsius)) = points.last() {
            (minute, here_c) = (*end, *celsius);
        }
        let name = step.text.clone();
        stages.push(PlannedStage {
            step: step.number,
            name,
            points,
            takes,
            window_c: window_c.unwrap_or([here_c; 2]),
        });
    }
    if unknown {
        notes.push(format!(
            "How long warming and cooling take is not known without the vessel: a ramp is drawn over {DRAWN_MIN} min, dotted, only to be seen."
        ));
    }
    stages
}

/// A ramp from a minute on, where it is known how it runs.
fn ramp(
    facts: &Facts,
    vessel: Option<&Vessel>,
    minute: f64,
    (from_c, to_c): (f64, f64),
) -> (Vec<(f64, f64)>, Outcome) {
    let refused = |why: String| (Vec::new(), Outcome::refuse("min", "heat balance followed over time", why));
    match vessel.map(|vessel| vessel.ramp(facts, from_c, to_c)) {
        Some(Ok(reading)) => ramp_of(&reading, minute, (from_c, to_c)),
        Some(Err(why)) => refused(why),
        None => refused("the vessel is not named".to_owned()),
    }
}

/// Course and time of the ramp of a reading, from a minute on.
fn ramp_of(reading: &HeatReading, minute: f64, (from_c, to_c): (f64, f64)) -> (Vec<(f64, f64)>, Outcome) {
    let takes = match (&reading.cool_down, to_c < from_c) {
        (Some(down), true) => down.time.clone(),
        _ => reading.heat_up.time.clone(),
    };
    let Some(minutes) = takes.value else { return (Vec::new(), takes) };
    let along = reading.path.iter().filter_map(|point| Some((point.time.value?, point.temperature.value?)));
    let mut points: Vec<(f64, f64)> =
        along.filter(|(time, _)| *time < minutes).map(|(time, celsius)| (minute + time, celsius)).collect();
    if points.first().is_none_or(|first| first.0 > minute) {
        points.insert(0, (minute, from_c));
    }
    points.push((minute + minutes, to_c));
    (points, takes)
}

fn held(plan: &Plan, record: &TemperatureRecord) -> Vec<Held> {
    plan.steps
        .iter()
        .filter(|step| does(step) == Some(Does::Hold))
        .filter_map(|step| {
            let (at_c, planned_min) = (plain(step.temperature_c?), plain(step.hold_min?));
            let minutes = record.time_above_s(at_c) / 60.0;
            let kept = Outcome::new(
                minutes,
                "min",
                Grade::Measured,
                "time of the record at the temperature or above",
            )
            .by("sum of the straight pieces at or above it")
            .input("temperature", at_c, "C", None);
            Some(Held { step: step.number, at_c, planned_min, kept })
        })
        .collect()
}

fn against_microbes(facts: &Facts, record: &TemperatureRecord) -> LethalityReading {
    let organisms: Vec<_> = facts.making.heat_resistance.values().collect();
    let units: Vec<_> = facts.making.lethal_units.values().collect();
    let asked = Asked { record: record.clone(), medium: Medium::Water, water_activity: None, ph: None };
    lethality(&asked, &organisms, &units)
}
