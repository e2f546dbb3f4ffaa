//! The file of bench readings, walked with the place of every value at hand.

use super::{FIELDS_OF_ALL, TABLES};
use crate::diagnostic::{Diagnostic, at};
use crate::flow_file::number;
use crate::toml_reader::{Reader, join, parsed};
use levigate_facts::Facts;
use levigate_process::flow::cup::FlowCup;
use levigate_process::flow::rotor::{
    CoaxialCylinders, ConePlate, ParallelPlates, STANDARD_END_EFFECT, Turn, angular_speed,
};
use levigate_process::flow::run::Timed;
use levigate_process::flow::spindle::{DialReading, DiscSpindle, chosen};
use rust_decimal::prelude::ToPrimitive;
use std::ops::Range;
use toml::de::DeTable;

/// Most entries of a file.
const MOST_ENTRIES: usize = 60;
/// Most readings of an entry.
const MOST_READINGS: usize = 400;
const LENGTH_MM: [f64; 2] = [1e-3, 1e4];
const SECONDS: [f64; 2] = [1e-3, 1e7];
const RPM: [f64; 2] = [1e-6, 1e6];
const TORQUE_UN_M: [f64; 2] = [1e-6, 1e9];

/// One table of the file.
#[derive(Clone, Debug)]
pub(super) struct Entry {
    pub name: String,
    /// `cup 1`.
    pub field: String,
    pub place: Range<usize>,
    pub temperature_c: Option<f64>,
    pub age_h: Option<f64>,
    pub density_kg_m3: Option<f64>,
    pub error_percent: Option<f64>,
    pub instrument: Instrument,
}

/// What was read with and what it showed.
#[derive(Clone, Debug)]
pub(super) enum Instrument {
    Cup { cup: FlowCup, time_s: f64 },
    Run { timed: Timed, tilt_deg: f64, distance_m: f64, time_s: f64 },
    Coaxial { cylinders: CoaxialCylinders, end_effect_assumed: bool, turns: Vec<Turn> },
    Cone { cone: ConePlate, turns: Vec<Turn> },
    Plates { plates: ParallelPlates, turns: Vec<Turn> },
    Disc(Disc),
}

/// A disc with its readings.
#[derive(Clone, Debug)]
pub(super) struct Disc {
    pub spindle: DiscSpindle,
    pub torque_n_m: f64,
    /// The torque was said, not assumed.
    pub torque_said: bool,
    pub assumptions: Vec<String>,
    pub readings: Vec<DialReading>,
}

/// Reads a file; entries in the order of the text.
pub(super) fn read(facts: &Facts, file: &str, text: &str) -> Result<Vec<Entry>, Vec<Diagnostic>> {
    let root = parsed(file, text)?;
    let table = root.get_ref();
    let mut reader = Reader::new(file, text);
    reader.known_fields(table, "", &[&["title"][..], &TABLES].concat());
    let _ = reader.string(table, "", "title");
    let mut entries = Vec::new();
    let mut tables = 0;
    for kind in TABLES {
        for (index, (row, span)) in reader.tables(table, "", kind).into_iter().enumerate() {
            tables += 1;
            let walk = Walk { row, span, path: format!("{kind} {}", index + 1), facts, text: (file, text) };
            entries.extend(walk.entry(&mut reader, kind));
        }
    }
    let mut problems = reader.finish();
    let whole = |code, what: String, what_now: String| at((file, text), &(0..0), code, "", what, what_now);
    if tables == 0 && problems.is_empty() {
        let headings = TABLES.map(|kind| format!("[[{kind}]]")).join(", ");
        let what_now = format!("write each under its heading: {headings}; see levigate schema flow-read");
        problems.push(whole("no-readings", "there is no reading in it".to_owned(), what_now));
    }
    if tables > MOST_ENTRIES {
        let what = format!("{tables} readings stand here, more than {MOST_ENTRIES}");
        problems.push(whole("too-many", what, "split the file by sample".to_owned()));
    }
    entries.sort_by_key(|entry: &Entry| entry.place.start);
    if problems.is_empty() { Ok(entries) } else { Err(problems) }
}

/// One table under the walk.
struct Walk<'a, 'i> {
    row: &'a DeTable<'i>,
    span: Range<usize>,
    path: String,
    facts: &'a Facts,
    text: (&'a str, &'a str),
}

impl Walk<'_, '_> {
    fn entry(&self, reader: &mut Reader<'_>, kind: &str) -> Option<Entry> {
        let instrument = match kind {
            "cup" => self.cup(reader),
            "run" => self.run(reader),
            "coaxial" => self.coaxial(reader),
            "cone" => self.cone(reader),
            "plates" => self.plates(reader),
            _ => self.disc(reader),
        };
        let (row, path) = (self.row, self.path.as_str());
        let entry = Entry {
            name: reader.string(row, path, "name").unwrap_or_default().trim().to_owned(),
            field: self.path.clone(),
            place: self.span.clone(),
            temperature_c: number(reader, row, path, "temperature_c", [-20.0, 150.0]),
            age_h: number(reader, row, path, "age_h", [0.0, 1e6]),
            density_kg_m3: number(reader, row, path, "density_kg_m3", [100.0, 25_000.0]),
            error_percent: number(reader, row, path, "error_percent", [0.0, 90.0]),
            instrument: instrument?,
        };
        Some(entry)
    }

    /// Complains of fields that are none of this kind.
    fn fields(&self, reader: &mut Reader<'_>, own: &[&str]) {
        reader.known_fields(self.row, &self.path, &[own, &FIELDS_OF_ALL].concat());
    }

    fn required(&self, reader: &mut Reader<'_>, key: &str, ends: [f64; 2], what_now: &str) -> Option<f64> {
        if !self.row.contains_key(key) {
            reader.missing(&self.span, &self.path, key, what_now);
        }
        number(reader, self.row, &self.path, key, ends)
    }

    fn millimetres(&self, reader: &mut Reader<'_>, key: &str) -> Option<f64> {
        self.required(reader, key, LENGTH_MM, "give it in mm").map(|length| length * 1e-3)
    }

    fn seconds(&self, reader: &mut Reader<'_>) -> Option<f64> {
        self.required(reader, "seconds", SECONDS, "give the time taken, in s")
    }

    fn list(&self, reader: &mut Reader<'_>, key: &str, [low, high]: [f64; 2]) -> Option<Vec<f64>> {
        if !self.row.contains_key(key) {
            reader.missing(&self.span, &self.path, key, "give a list with one number for every reading");
        }
        let given = reader.numbers(self.row, &self.path, key)?;
        if given.is_empty() || given.len() > MOST_READINGS {
            let what = format!("{} readings stand in {key}", given.len());
            let what_now = format!("give 1 to {MOST_READINGS}");
            reader.wrong(self.row, &self.path, key, what, &what_now);
            return None;
        }
        let values: Vec<f64> = given.iter().filter_map(ToPrimitive::to_f64).collect();
        if let Some(value) = values.iter().find(|value| !(low..=high).contains(*value)) {
            let what = format!("{value} stands in {key}");
            let what_now = format!("each lies between {low} and {high}; leave out what was read at rest");
            reader.wrong(self.row, &self.path, key, what, &what_now);
            return None;
        }
        Some(values)
    }

    /// Speeds with what was read at them.
    fn pairs(&self, reader: &mut Reader<'_>, key: &str, ends: [f64; 2]) -> Option<Vec<(f64, f64)>> {
        let (speeds, values) = (self.list(reader, "speed_rpm", RPM), self.list(reader, key, ends));
        let (speeds, values) = (speeds?, values?);
        if speeds.len() != values.len() {
            let what = format!("{} of speed_rpm and {} of {key} do not pair up", speeds.len(), values.len());
            reader.wrong(self.row, &self.path, key, what, "give one value for every speed");
            return None;
        }
        let mut sorted = speeds.clone();
        sorted.sort_by(f64::total_cmp);
        if let Some(twice) = sorted.windows(2).find(|pair| pair[0] == pair[1]) {
            let what = format!("the speed {} stands there twice", twice[0]);
            let what_now = "give each speed once; a way up and a way down are two tables";
            reader.wrong(self.row, &self.path, "speed_rpm", what, what_now);
            return None;
        }
        Some(speeds.into_iter().zip(values).collect())
    }

    fn turns(&self, reader: &mut Reader<'_>) -> Option<Vec<Turn>> {
        let pairs = self.pairs(reader, "torque_un_m", TORQUE_UN_M)?;
        let turn =
            |(rpm, torque): (f64, f64)| Turn { rad_per_s: angular_speed(rpm), torque_n_m: torque * 1e-6 };
        Some(pairs.into_iter().map(turn).collect())
    }

    fn cup(&self, reader: &mut Reader<'_>) -> Option<Instrument> {
        self.fields(reader, &["cup", "own", "seconds"]);
        let time_s = self.seconds(reader);
        let cup = match (self.row.contains_key("cup"), self.row.contains_key("own")) {
            (true, false) => self.known_cup(reader),
            (false, true) => self.own_cup(reader),
            (both, _) => {
                let known: Vec<&str> = self.facts.instruments.cups.keys().map(String::as_str).collect();
                let what_now = format!("give cup as one of {}; or own dimensions", known.join(", "));
                if both {
                    let what = "a cup is named and has dimensions of its own".to_owned();
                    reader.wrong(self.row, &self.path, "own", what, "leave one of them out");
                } else {
                    reader.missing(&self.span, &self.path, "cup", &what_now);
                }
                None
            }
        };
        Some(Instrument::Cup { cup: cup?, time_s: time_s? })
    }

    fn known_cup(&self, reader: &mut Reader<'_>) -> Option<FlowCup> {
        let cups = &self.facts.instruments.cups;
        let known: Vec<&str> = cups.keys().map(String::as_str).collect();
        let key = reader.choice(self.row, &self.path, "cup", &known)?;
        cups.get(&key).cloned()
    }

    fn own_cup(&self, reader: &mut Reader<'_>) -> Option<FlowCup> {
        const OWN: [&str; 4] = ["radius_mm", "length_mm", "mean_height_mm", "volume_ml"];
        let (table, span) = reader.table(self.row, &self.path, "own")?;
        let path = join(&self.path, "own");
        reader.known_fields(table, &path, &OWN);
        let [radius, length, height, volume] = OWN.map(|key| {
            if !table.contains_key(key) {
                reader.missing(
                    &span,
                    &path,
                    key,
                    "give radius and length of the nozzle, mean height of the liquid above the outlet, volume",
                );
            }
            number(reader, table, &path, key, LENGTH_MM)
        });
        let cup = FlowCup::of_dimensions(radius? * 1e-3, length? * 1e-3, height? * 1e-3, volume? * 1e-6);
        match cup {
            Ok(cup) => Some(cup),
            Err(error) => {
                let what_now = error.hint();
                reader.say(at(self.text, &span, "wrong-value", path, error.to_string(), what_now));
                None
            }
        }
    }

    fn run(&self, reader: &mut Reader<'_>) -> Option<Instrument> {
        const KINDS: [&str; 3] = ["mark", "front", "dose"];
        let sizes: &[&str] = &["timed", "tilt_deg", "distance_mm", "seconds"];
        if !self.row.contains_key("timed") {
            reader.missing(&self.span, &self.path, "timed", &format!("write one of {}", KINDS.join(", ")));
        }
        let kind = reader.choice(self.row, &self.path, "timed", &KINDS);
        let tilt_deg = self.required(reader, "tilt_deg", [0.01, 90.0], "give it in degrees");
        let (distance_m, time_s) = (self.millimetres(reader, "distance_mm"), self.seconds(reader));
        let timed = if kind.as_deref()? == "dose" {
            self.fields(reader, &[sizes, &["dose_ml", "width_mm"]].concat());
            let volume = self.required(reader, "dose_ml", [1e-6, 1e5], "give the dose in ml");
            let width_m = self.millimetres(reader, "width_mm");
            Timed::Dose { volume_per_width_m2: volume? * 1e-6 / width_m? }
        } else {
            self.fields(reader, &[sizes, &["thickness_mm"]].concat());
            let thickness_m = self.millimetres(reader, "thickness_mm")?;
            if kind.as_deref() == Some("mark") {
                Timed::Mark { thickness_m }
            } else {
                Timed::Front { thickness_m }
            }
        };
        Some(Instrument::Run { timed, tilt_deg: tilt_deg?, distance_m: distance_m?, time_s: time_s? })
    }

    fn coaxial(&self, reader: &mut Reader<'_>) -> Option<Instrument> {
        const OWN: [&str; 6] =
            ["inner_radius_mm", "outer_radius_mm", "length_mm", "end_effect", "speed_rpm", "torque_un_m"];
        self.fields(reader, &OWN);
        let [inner, outer, length] =
            ["inner_radius_mm", "outer_radius_mm", "length_mm"].map(|key| self.millimetres(reader, key));
        let end_effect = number(reader, self.row, &self.path, "end_effect", [1.0, 3.0]);
        let turns = self.turns(reader);
        let cylinders = CoaxialCylinders {
            inner_radius_m: inner?,
            outer_radius_m: outer?,
            length_m: length?,
            end_effect: end_effect.unwrap_or(STANDARD_END_EFFECT),
        };
        if cylinders.ratio() <= 1.0 {
            let what = "the outer radius is not larger than the inner one".to_owned();
            reader.wrong(self.row, &self.path, "outer_radius_mm", what, "check both; radii, not diameters");
            return None;
        }
        Some(Instrument::Coaxial { cylinders, end_effect_assumed: end_effect.is_none(), turns: turns? })
    }

    fn cone(&self, reader: &mut Reader<'_>) -> Option<Instrument> {
        self.fields(reader, &["radius_mm", "angle_deg", "speed_rpm", "torque_un_m"]);
        let radius_m = self.millimetres(reader, "radius_mm");
        let angle_deg = self.required(reader, "angle_deg", [0.01, 4.0], "give it in degrees, up to 4");
        let turns = self.turns(reader);
        let cone = ConePlate { radius_m: radius_m?, angle_deg: angle_deg? };
        Some(Instrument::Cone { cone, turns: turns? })
    }

    fn plates(&self, reader: &mut Reader<'_>) -> Option<Instrument> {
        self.fields(reader, &["radius_mm", "gap_mm", "speed_rpm", "torque_un_m"]);
        let (radius_m, gap_m) = (self.millimetres(reader, "radius_mm"), self.millimetres(reader, "gap_mm"));
        let turns = self.turns(reader);
        let plates = ParallelPlates { radius_m: radius_m?, gap_m: gap_m? };
        Some(Instrument::Plates { plates, turns: turns? })
    }

    fn disc(&self, reader: &mut Reader<'_>) -> Option<Instrument> {
        const SHOWN: [&str; 2] = ["reading_percent", "dial_viscosity_mpa_s"];
        self.fields(reader, &["spindle", "full_scale_un_m", "speed_rpm", SHOWN[0], SHOWN[1]]);
        let (row, path) = (self.row, self.path.as_str());
        let what_now = "say which, by its diameter: \"disc, 27 mm\"";
        let words = reader.required_string(row, path, "spindle", &self.span, what_now);
        let said = number(reader, row, path, "full_scale_un_m", TORQUE_UN_M).map(|torque| torque * 1e-6);
        let [percents, viscosities] = SHOWN.map(|key| row.contains_key(key));
        if percents && viscosities {
            let what = "percent and viscosity are both given".to_owned();
            reader.wrong(row, path, SHOWN[1], what, "keep one of the two");
            return None;
        }
        let (key, ends) = if viscosities { (SHOWN[1], [1e-3, 1e12]) } else { (SHOWN[0], [1e-3, 100.0]) };
        let pairs = self.pairs(reader, key, ends);
        let words = words?;
        let instruments = &self.facts.instruments;
        let usual = said.or(instruments.medium_torque_n_m())?;
        let spindles = || instruments.spindles.values();
        let Some(choice) = chosen(&words, spindles(), usual, None) else {
            let known: Vec<String> = spindles().map(DiscSpindle::words).collect();
            let what = format!("\"{words}\" does not say which spindle");
            let what_now = format!("say its shape and diameter; known are {}", known.join("; "));
            reader.wrong(row, path, "spindle", what, &what_now);
            return None;
        };
        let torque_n_m = said.unwrap_or(choice.torque_n_m);
        let by_words = chosen(&words, spindles(), f64::NAN, None).is_some_and(|of| of.torque_n_m.is_finite());
        let assumed = |line: &String| !(said.is_some() && line.contains("full-scale torque"));
        let full = |rpm: f64| choice.spindle.full_scale(rpm, torque_n_m);
        let readings = pairs?.into_iter().map(|(rpm, shown)| DialReading {
            rpm,
            percent: if viscosities { 0.1 * shown / full(rpm) } else { shown },
        });
        Some(Instrument::Disc(Disc {
            spindle: choice.spindle.clone(),
            torque_n_m,
            torque_said: said.is_some() || by_words,
            assumptions: choice.assumptions.iter().filter(|line| assumed(line)).cloned().collect(),
            readings: readings.collect(),
        }))
    }
}
