//! A hold answered as results that explain themselves.

use super::{HeatResistance, Kind, LethalUnit, MOST_TOLD, Resistance};
use crate::heat::record::TemperatureRecord;
use levigate_measure::{Grade, Note, Outcome};
use serde::{Deserialize, Serialize};

/// The cases of the room.
const CROSS: &str = "tests/cross/lethality.toml";
/// Water activity below which microbes are told to be better protected than in the tables (common practice, no source).
const DILUTE: f64 = 0.95;
/// Part of a reduction from outside the measured temperatures from which it is marked.
const MARKED: f64 = 0.01;

/// Said of a reduction that rests on z.
const EXTRAPOLATED: &str =
    "extrapolated by z from the temperatures D was measured at: the further, the less it means";

/// What was heated.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Medium {
    /// A water phase, or a product with much water.
    #[default]
    Water,
    /// An oil phase.
    Oil,
    /// A powder.
    Powder,
}

impl Medium {
    /// The words of a file.
    pub const WORDS: [&'static str; 3] = ["water", "oil", "powder"];

    /// By its word.
    #[must_use]
    pub fn of(word: &str) -> Option<Self> {
        [Self::Water, Self::Oil, Self::Powder]
            .into_iter()
            .zip(Self::WORDS)
            .find(|(_, own)| *own == word)
            .map(|(of, _)| of)
    }
}

/// What is asked.
#[derive(Clone, Debug, PartialEq)]
pub struct Asked {
    /// The record.
    pub record: TemperatureRecord,
    /// What was heated.
    pub medium: Medium,
    /// Its water activity, where it is known.
    pub water_activity: Option<f64>,
    /// Its pH, where it is known.
    pub ph: Option<f64>,
}

/// Units of heat treatment.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct UnitReading {
    /// Key of the unit.
    pub key: String,
    /// Its name.
    pub name: String,
    /// What it is used for.
    pub used_for: String,
    /// Units.
    pub units: Outcome,
}

/// What the hold does to an organism.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct OrganismReading {
    /// Key of the organism.
    pub key: String,
    /// Its name.
    pub organism: String,
    /// What kind of cell.
    pub kind: Kind,
    /// What it was heated in when its resistance was measured.
    pub measured_in: String,
    /// At which temperatures, in words.
    pub measured_at: String,
    /// Whether more than a hundredth of the reduction falls outside these temperatures.
    pub extrapolated: bool,
    /// Log reduction; the interval is from the most to the least resistant reported.
    pub log_reduction: Outcome,
    /// Time for one tenth to survive at the hottest of the record, min.
    pub d_at_hottest: Outcome,
}

/// What a hold does.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LethalityReading {
    /// Length of the record, min.
    pub time: Outcome,
    /// Highest temperature, C.
    pub hottest: Outcome,
    /// Units of heat treatment.
    pub units: Vec<UnitReading>,
    /// Organisms.
    pub organisms: Vec<OrganismReading>,
    /// What must be known of the whole.
    pub notes: Vec<Note>,
}

/// Answers what a hold does.
#[must_use]
pub fn lethality(asked: &Asked, organisms: &[&HeatResistance], units: &[&LethalUnit]) -> LethalityReading {
    let record = &asked.record;
    let hottest = record.temperatures_c()[1];
    let as_logged = |value: f64, unit: &'static str| {
        Outcome::new(value, unit, Grade::Measured, "of the record").input(
            "points",
            record.points().len() as f64,
            "",
            None,
        )
    };
    LethalityReading {
        time: as_logged(record.time_s() / 60.0, "min"),
        hottest: as_logged(hottest, "C"),
        units: units.iter().map(|unit| unit_reading(unit, record)).collect(),
        organisms: organisms
            .iter()
            .filter(|organism| applies(organism, asked))
            .map(|organism| organism_reading(organism, asked, hottest))
            .collect(),
        notes: whole_notes(asked, organisms),
    }
}

/// Whether the figures of an organism may be used at the pH; one that is not known is no acid.
fn applies(organism: &HeatResistance, asked: &Asked) -> bool {
    organism.below_ph.is_none_or(|below| asked.ph.is_some_and(|ph| ph < below))
}

fn unit_reading(unit: &LethalUnit, record: &TemperatureRecord) -> UnitReading {
    let units = Outcome::new(unit.over(record), "min", Grade::Computed, "lethal rate over the record")
        .by("integral of 10^((T - T_r)/z) dt, straight pieces integrated exactly")
        .input("T_r", unit.reference_c, "C", Some(&unit.source))
        .input("z", unit.z_k, "K", Some(&unit.source))
        .proved_by(CROSS)
        .source(&unit.source);
    UnitReading { key: unit.key.clone(), name: unit.name.clone(), used_for: unit.used_for.clone(), units }
}

fn organism_reading(organism: &HeatResistance, asked: &Asked, hottest: f64) -> OrganismReading {
    let [most, middle, least] =
        [Resistance::Most, Resistance::Middle, Resistance::Least].map(|of| organism.curve(of));
    let recalled =
        [&organism.source, &organism.z_source].iter().any(|source| source.as_str() == "from-memory");
    let grade = if recalled { Grade::RuleOfThumb } else { Grade::Correlated };
    let method = "death by heat, first order, over the record";
    let [low, value, high] = [&most, &middle, &least].map(|curve| curve.reduction(&asked.record));
    let extrapolated = value.below + value.above > MARKED * value.log10;
    let log_reduction = match asked.medium {
        Medium::Water => {
            let told = |log10: f64| log10.min(MOST_TOLD);
            // An upper end beyond what is told is left open: it is not known to lie at the most that is told.
            let upper = if high.log10 > MOST_TOLD { f64::INFINITY } else { high.log10 };
            let mut outcome = Outcome::new(told(value.log10), "log10", grade, method)
                .within(told(low.log10), upper, None)
                .by("integral of dt / D(T), straight pieces integrated exactly")
                .valid_for("wet heat in dilute liquids, near the temperatures D was measured at")
                .proved_by(CROSS);
            if low.log10 == high.log10 && high.log10 <= MOST_TOLD {
                (outcome.low, outcome.high) = (None, None);
            }
            if high.log10 > MOST_TOLD {
                let text = format!("more than {MOST_TOLD} is not told, since nobody counts so far");
                outcome = outcome.note("capped", text);
            }
            if value.log10 > MOST_TOLD {
                outcome = outcome.term("as computed", value.log10, "log10");
            }
            if extrapolated {
                outcome = outcome.note("extrapolated", EXTRAPOLATED);
            }
            if asked.water_activity.is_some_and(|activity| activity < DILUTE) {
                outcome.grade = Grade::RuleOfThumb;
            }
            outcome
        }
        Medium::Oil | Medium::Powder => Outcome::refuse(
            "log10",
            method,
            "D was measured in water; in oil and dry powder microbes stand heat many times longer",
        ),
    };
    let with = |outcome: Outcome| {
        let outcome = outcome.source(&organism.source).source(&organism.z_source);
        let outcome = organism.d.iter().fold(outcome, |outcome, d| {
            outcome
                .input(format!("D at {} C, least", d.at_c), d.least_min, "min", Some(&organism.source))
                .input(format!("D at {} C, most", d.at_c), d.most_min, "min", Some(&organism.source))
        });
        outcome.input("z, least", organism.z_k[0], "K", Some(&organism.z_source)).input(
            "z, most",
            organism.z_k[1],
            "K",
            Some(&organism.z_source),
        )
    };
    let [longest, d, shortest] = [&most, &middle, &least].map(|curve| curve.d_min(hottest));
    let mut d_at_hottest = Outcome::new(d, "min", grade, "D carried to the highest temperature")
        .by("log10 D = log10 D_r - (T - T_r)/z");
    if shortest < longest {
        d_at_hottest = d_at_hottest.within(shortest, longest, None);
    }
    let [from, to] = organism.measured_c();
    OrganismReading {
        key: organism.key.clone(),
        organism: organism.organism.clone(),
        kind: organism.kind,
        measured_in: organism.medium.clone(),
        measured_at: if from < to { format!("{from} to {to} C") } else { format!("{from} C") },
        extrapolated,
        log_reduction: with(log_reduction),
        d_at_hottest: with(d_at_hottest.proved_by(CROSS)),
    }
}

fn whole_notes(asked: &Asked, organisms: &[&HeatResistance]) -> Vec<Note> {
    let mut notes = vec![
        Note::new(
            "spores",
            "bacterial spores outlive such a hold: heating a phase is no control of spores, and nothing here is sterile",
        ),
        Note::new(
            "wetted",
            "the figures hold for cells in the liquid at the temperature logged: not for lumps of powder, foam, the rim, lid and \
             outlet of the vessel, which stay cooler, and not for what is added afterwards",
        ),
    ];
    if let Some(activity) = asked.water_activity.filter(|activity| *activity < DILUTE) {
        notes.push(Note::new(
            "little-water",
            format!("at a water activity of {activity} microbes stand heat longer than these figures, measured in dilute liquids, say"),
        ));
    }
    let left_out: Vec<String> = organisms
        .iter()
        .filter(|organism| !applies(organism, asked))
        .map(|organism| format!("{} (below pH {})", organism.organism, organism.below_ph.unwrap_or(f64::NAN)))
        .collect();
    if !left_out.is_empty() {
        let why = asked.ph.map_or_else(|| "no pH is given".to_owned(), |ph| format!("the pH is {ph}"));
        notes.push(Note::new("left-out", format!("{why}: left out are {}", left_out.join(", "))));
    }
    notes
}
