//! Water lost, answered as results that explain themselves: by the model and by the balance, side by side.

use super::{Room, Surface, loss_kg, outside};
use crate::flow::band::Holds;
use crate::flow::reading::{Verdict, figures};
use crate::heat::record::TemperatureRecord;
use crate::heat::settings::EvaporationDoubt;
use crate::properties::water;
use levigate_measure::{Grade, Note, Outcome};
use serde::Serialize;

/// The case of the room.
const CROSS: &str = "tests/cross/evaporation.toml";

/// What the balance said, g.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Weighed {
    /// Vessel, stirrer and whatever stays with them.
    pub tare_g: f64,
    /// All of it afterwards.
    pub gross_g: f64,
    /// Samples taken out.
    pub samples_g: f64,
    /// `(tare + batch) - gross - samples`, worked out with the decimals as typed.
    pub missing_g: f64,
}

/// A part of the formula to follow.
#[derive(Clone, Debug, PartialEq)]
pub struct Content {
    /// Name.
    pub name: String,
    /// Percent in the formula.
    pub percent: f64,
}

/// What is asked.
#[derive(Clone, Debug, PartialEq)]
pub struct Asked {
    /// Mass of the batch, kg.
    pub batch_kg: f64,
    /// Mass fraction of water in it.
    pub water: f64,
    /// The temperature; none where only the balance is asked.
    pub record: Option<TemperatureRecord>,
    /// The surface; none where only the balance is asked.
    pub surface: Option<Surface>,
    /// The air.
    pub room: Room,
    /// A skin, a foam or an oil layer covers it.
    pub skin: bool,
    /// The balance.
    pub weighed: Option<Weighed>,
    /// What to follow.
    pub contents: Vec<Content>,
}

/// A part of the formula as it stands when the water is not made up.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ContentReading {
    /// Name.
    pub name: String,
    /// Percent in the formula.
    pub planned: Outcome,
    /// Percent without the water lost.
    pub without_water: Outcome,
}

/// What the balance says.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Balance {
    /// Water to make up, g.
    pub make_up: Outcome,
    /// Part of the batch, percent.
    pub part: Outcome,
}

/// Water lost.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct EvaporationReading {
    /// Loss at the hottest of the record, kg/(m2 h).
    pub rate: Outcome,
    /// Water lost, by the model, g.
    pub loss: Outcome,
    /// Part of the batch, by the model, percent.
    pub part: Outcome,
    /// By the balance.
    pub balance: Option<Balance>,
    /// How many times stronger everything else stands than planned, when the water is not made up.
    pub stronger: Outcome,
    /// Parts of the formula.
    pub contents: Vec<ContentReading>,
    /// Whether both agree.
    pub verdicts: Vec<Verdict>,
    /// What must be known of the whole.
    pub notes: Vec<Note>,
}

/// Answers how much water was lost.
#[must_use]
pub fn evaporation(asked: &Asked, doubt: &EvaporationDoubt) -> EvaporationReading {
    let model = by_model(asked, doubt);
    let loss = model.loss.clone();
    let balance = asked.weighed.as_ref().map(|weighed| by_balance(weighed, asked));
    let (stronger, contents) = effect(asked, balance.as_ref(), &loss);
    let mut verdicts = Vec::new();
    if let Some(balance) = &balance {
        verdicts.extend(agreement(&balance.make_up, &loss));
    }
    EvaporationReading {
        rate: model.rate,
        part: model.part,
        loss,
        balance,
        stronger,
        contents,
        verdicts,
        notes: notes(asked),
    }
}

struct Modelled {
    rate: Outcome,
    loss: Outcome,
    part: Outcome,
}

fn by_model(asked: &Asked, law: &EvaporationDoubt) -> Modelled {
    const METHOD: &str = "mass transfer into air over the temperature record";
    let refused = |why: &str| {
        let of = |unit: &'static str| Outcome::refuse(unit, METHOD, why);
        Modelled { rate: of("kg/(m2 h)"), loss: of("g"), part: of("%") }
    };
    let (Some(record), Some(surface)) = (&asked.record, &asked.surface) else {
        return refused("for the model give the record of temperatures and the surface");
    };
    let temperatures = record.temperatures_c();
    let boils = water::boiling_c(asked.room.air.pressure_pa, surface.water_activity);
    if let Some(boils) = boils.filter(|boils| temperatures[1] >= *boils) {
        return refused(&format!(
            "it boils at {} C: then the heat decides what it loses, not the air",
            figures(boils)
        ));
    }
    let kg = loss_kg(record, surface, &asked.room);
    if kg > asked.batch_kg * asked.water {
        return refused("more than all of its water: the batch dries up");
    }
    let why = outside(temperatures, surface, &asked.room);
    let doubt = 0.01 * if why.is_empty() { law.within_percent } else { law.outside_percent };
    let grade = if why.is_empty() { Grade::Correlated } else { Grade::RuleOfThumb };
    let with = |value: f64, unit: &'static str| {
        let least = if asked.skin { 0.0 } else { value * (1.0 - doubt) };
        let mut outcome = Outcome::new(value, unit, grade, METHOD)
            .by("E = 35 rho_d (rho_a - rho_s)^(1/3) (W_s - W_a), with that of moving air")
            .valid_for("water of 7 to 94 C, air of 6 to 35 C and 28 to 95 %, surfaces from 0.07 m2")
            .within(least, value * (1.0 + doubt), None)
            .proved_by(CROSS)
            .input("surface", surface.area_m2, "m2", None)
            .input("open part", surface.open, "", None)
            .input("water activity", surface.water_activity, "", None)
            .input("air", asked.room.air.temperature_c, "C", None)
            .input("vapour in it", asked.room.air.vapour_pa, "Pa", None)
            .input("its speed", asked.room.speed_m_s, "m/s", None)
            .source(&law.source)
            .input("pressure", asked.room.air.pressure_pa, "Pa", None);
        if !why.is_empty() {
            outcome = outcome.note(
                "outside-range",
                format!(
                    "outside of what the law was measured for ({}): the interval is wider",
                    why.join(", ")
                ),
            );
        }
        outcome
    };
    let rate = asked.room.loss_kg_s(temperatures[1], &Surface { open: 1.0, ..*surface }) / surface.area_m2;
    Modelled {
        rate: with(3600.0 * rate, "kg/(m2 h)").input("at", temperatures[1], "C", None),
        loss: with(1000.0 * kg, "g").input("time", record.time_s() / 60.0, "min", None),
        part: with(100.0 * kg / asked.batch_kg, "%"),
    }
}

fn by_balance(weighed: &Weighed, asked: &Asked) -> Balance {
    let batch_g = 1000.0 * asked.batch_kg;
    let with = |value: f64, unit: &'static str| {
        Outcome::new(value, unit, Grade::Measured, "by the balance")
            .by("(tare + batch) - gross - samples")
            .proved_by("tests/cross/scenarios.toml")
            .input("tare", weighed.tare_g, "g", None)
            .input("batch", batch_g, "g", None)
            .input("gross", weighed.gross_g, "g", None)
            .input("samples", weighed.samples_g, "g", None)
    };
    if weighed.missing_g < 0.0 {
        let why = format!(
            "it weighs {} g more than it can: check tare, batch and gross, and whether something was added",
            figures(-weighed.missing_g)
        );
        let of = |unit: &'static str| Outcome::refuse(unit, "by the balance", why.clone());
        return Balance { make_up: of("g"), part: of("%") };
    }
    Balance { make_up: with(weighed.missing_g, "g"), part: with(100.0 * weighed.missing_g / batch_g, "%") }
}

/// How everything else stands without the water lost: by the balance where it spoke, else by the model.
fn effect(asked: &Asked, balance: Option<&Balance>, model: &Outcome) -> (Outcome, Vec<ContentReading>) {
    let batch_g = 1000.0 * asked.batch_kg;
    let lost = balance.map(|balance| &balance.make_up).filter(|lost| lost.value.is_some()).unwrap_or(model);
    let of = |factor: f64, unit: &'static str| {
        let share = |lost_g: f64| factor / (1.0 - lost_g / batch_g);
        match lost.value {
            Some(value) => {
                let outcome = Outcome::new(share(value), unit, lost.grade, "all but the water stays")
                    .by("c = c_0 / (1 - loss/batch)")
                    .input("loss", value, "g", None)
                    .proved_by("exact arithmetic");
                match (lost.low, lost.high) {
                    (Some(low), Some(high)) => outcome.within(share(low), share(high), None),
                    _ => outcome,
                }
            }
            None => Outcome::refuse(unit, "all but the water stays", "how much was lost is not known"),
        }
    };
    let contents = asked.contents.iter().map(|content| ContentReading {
        name: content.name.clone(),
        planned: Outcome::new(content.percent, "%", Grade::Computed, "as typed"),
        without_water: of(content.percent, "%"),
    });
    (of(1.0, ""), contents.collect())
}

/// Whether the loss weighed lies within that of the model.
fn agreement(weighed: &Outcome, model: &Outcome) -> Option<Verdict> {
    let (weighed, value, low, high) = (weighed.value?, model.value?, model.low?, model.high?);
    let holds = if (low..=high).contains(&weighed) { Holds::Surely } else { Holds::Not };
    let hint = if weighed > high {
        "; more is missing than can have evaporated: look for spills, what stuck to other tools, a line weighed short or a sample not written down"
    } else if weighed < low {
        "; less is missing than should have evaporated: a skin or lid, a cooler surface, or something added twice"
    } else {
        ""
    };
    Some(Verdict {
        question: "balance and model agree",
        holds,
        because: format!(
            "{} g by the balance, {} g ({} to {}) by the model{hint}",
            figures(weighed),
            figures(value),
            figures(low),
            figures(high)
        ),
    })
}

fn notes(asked: &Asked) -> Vec<Note> {
    let mut notes = Vec::new();
    if asked.surface.is_some_and(|surface| surface.open > 0.0) {
        notes.push(Note::new(
            "surface",
            "an unstirred surface is 1 to 3 K cooler than the batch, and a skin, foam, oil layer or the rim above it keeps water back",
        ));
    }
    if asked.skin {
        notes.push(Note::new(
            "skin",
            "a skin or oil layer was told: the loss may be anything down to nothing",
        ));
    }
    if asked.surface.is_some_and(|surface| surface.open < 1.0) {
        notes.push(Note::new(
            "covered",
            "a covered part loses nothing here: what drips back from the lid stays, what is lifted off with it is lost",
        ));
    }
    if asked.weighed.is_none() {
        notes.push(Note::new(
            "weigh",
            "weigh tare and gross and make up by the balance: the model tells what to expect, not what to add",
        ));
    }
    if asked.weighed.is_some_and(|weighed| weighed.samples_g > 0.0) {
        notes.push(Note::new(
            "samples",
            "samples leave as they were when taken: what each held too much or too little of is left out",
        ));
    }
    notes
}
