//! A measured flow curve of a trial: which file it came from, its points as they stood there and as understood, the conditions, and the
//! fit the person took.

use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::{
    FromDevice, Id, Kind, LINE_LIMIT, Record, RecordError, TEXT_LIMIT, Trial, TypedNumber, at_most, required,
};
use crate::flow_table::{Direction, Meaning};

/// Most points of a curve that are kept.
pub const MOST_POINTS: usize = 20_000;

/// A measured flow curve.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct FlowCurve {
    /// The trial.
    pub trial: Id<Trial>,
    /// What tells it from other curves of its file; may be empty.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub name: String,
    /// Name of the file it came from; empty for what was pasted.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub file: String,
    /// SHA-256 of the bytes it came from.
    pub sha256: String,
    /// What the two columns of the file were understood to hold.
    pub columns: [CurveColumn; 2],
    /// Its points, in the order of the file; none where it is a recovery.
    pub points: Vec<CurvePoint>,
    /// Readings over time after a strong shear, in place of the points.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub recovery: Option<OverTime>,
    /// The spindle whose readings were turned into points, in words; empty where there was none.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub spindle: String,
    /// Temperature of the sample, C.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub temperature_c: Option<TypedNumber>,
    /// Age of the sample, hours since it was made.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub age_h: Option<TypedNumber>,
    /// The instrument.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub instrument: String,
    /// Geometry: cone, plates, cylinders, with their sizes.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub geometry: String,
    /// Sweep up or down.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub direction: Option<Direction>,
    /// Waiting before and at each point, in words.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub waiting: String,
    /// Remark.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub note: String,
    /// The fit the person took; its parameters follow from the points and are computed anew.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fit: Option<FitTaken>,
    /// When it was sent by a device, and the mark of what was sent.
    #[serde(flatten)]
    pub from: FromDevice,
    /// The record only takes back the one it corrects and puts nothing in its place.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub withdrawn: bool,
}

/// What a column was understood to hold.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct CurveColumn {
    /// Name as it stood in the file.
    pub name: String,
    /// What it holds.
    pub meaning: Meaning,
    /// Its unit.
    pub unit: String,
}

/// A point.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct CurvePoint {
    /// Line of the file, from 1.
    pub line: usize,
    /// Both values as they stood there.
    pub typed: [String; 2],
    /// Shear rate as understood, 1/s.
    #[serde(with = "as_text")]
    pub shear_rate: f64,
    /// Stress as understood, Pa.
    #[serde(with = "as_text")]
    pub stress: f64,
}

/// Readings over time at one shear rate after a strong shear.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct OverTime {
    /// What they were read at, where that is known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub at: Option<HeldShear>,
    /// The strong shear before them, where that was read too.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub strong: Option<HeldShear>,
    /// Readings before the strong shear.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub before: Vec<ReadingBefore>,
    /// The readings, in the order of the file.
    pub readings: Vec<ReadingOverTime>,
}

/// A shear that was held.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct HeldShear {
    /// Shear rate, or speed of a spindle.
    #[serde(with = "as_text")]
    pub value: f64,
    /// `1/s` or `rpm`.
    pub unit: String,
}

/// A reading before the strong shear.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct ReadingBefore {
    /// Viscosity as understood, Pa s.
    #[serde(with = "as_text")]
    pub viscosity: f64,
}

/// A reading over time.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ReadingOverTime {
    /// Line of the file, from 1.
    pub line: usize,
    /// Both values as they stood there.
    pub typed: [String; 2],
    /// Time from the end of the strong shear, s.
    #[serde(with = "as_text")]
    pub time_s: f64,
    /// Viscosity as understood, Pa s.
    #[serde(with = "as_text")]
    pub viscosity: f64,
}

impl FlowCurve {
    /// How many points or readings it holds.
    #[must_use]
    pub fn count(&self) -> usize {
        self.recovery.as_ref().map_or(self.points.len(), |recovery| recovery.readings.len())
    }
}

/// The fit the person took.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct FitTaken {
    /// Word of the model.
    pub model: String,
    /// Word of the weights.
    pub weights: String,
    /// Lowest and highest shear rate fitted, 1/s, as decimal text; absent ends were open.
    #[serde(default, skip_serializing_if = "no_ends")]
    pub shear_rate_1_s: [Option<String>; 2],
}

fn no_ends(ends: &[Option<String>; 2]) -> bool {
    ends.iter().all(Option::is_none)
}

impl Record for FlowCurve {
    const KIND: Kind = Kind::FlowCurve;
    fn belongs_to(&self) -> Option<(Kind, Uuid)> {
        Some((Kind::Trial, self.trial.uuid()))
    }
    fn check(&self) -> Result<(), RecordError> {
        let contradiction = |field: &'static str, what: String| RecordError::Contradiction { field, what };
        for (field, text) in [
            ("name", &self.name),
            ("file", &self.file),
            ("spindle", &self.spindle),
            ("instrument", &self.instrument),
            ("geometry", &self.geometry),
            ("waiting", &self.waiting),
        ] {
            at_most(field, text, LINE_LIMIT)?;
        }
        at_most("note", &self.note, TEXT_LIMIT)?;
        if self.sha256.len() != 64 || !self.sha256.bytes().all(|sign| sign.is_ascii_hexdigit()) {
            return Err(contradiction("sha256", "this is not the SHA-256 of a file".to_owned()));
        }
        for (field, number) in [("temperature", &self.temperature_c), ("age", &self.age_h)] {
            if let Some(number) = number {
                required(field, &number.typed)?;
            }
        }
        for column in &self.columns {
            at_most("column", &column.name, TEXT_LIMIT)?;
        }
        if self.count() == 0 || self.count() > MOST_POINTS {
            let what = format!("{} points; a curve that is kept has 1 to {MOST_POINTS}", self.count());
            return Err(contradiction("points", what));
        }
        let usable = |value: f64| value.is_finite() && value > 0.0;
        if let Some(point) =
            self.points.iter().find(|point| !(usable(point.shear_rate) && usable(point.stress)))
        {
            let what = format!("line {} holds no point of a flow curve", point.line);
            return Err(contradiction("points", what));
        }
        if let Some(recovery) = &self.recovery {
            recovery.check()?;
            if !self.points.is_empty() {
                let what = "a recovery holds readings over time and no points".to_owned();
                return Err(contradiction("points", what));
            }
        }
        for text in self.points.iter().flat_map(|point| &point.typed) {
            at_most("value of a point", text, LINE_LIMIT)?;
        }
        if let Some(fit) = &self.fit {
            required("model", &fit.model)?;
            required("weights", &fit.weights)?;
        }
        Ok(())
    }
}

impl OverTime {
    fn check(&self) -> Result<(), RecordError> {
        let contradiction = |what: String| RecordError::Contradiction { field: "recovery", what };
        let usable = |value: f64| value.is_finite() && value > 0.0;
        for held in [&self.at, &self.strong].into_iter().flatten() {
            if !usable(held.value) || !["1/s", "rpm"].contains(&held.unit.as_str()) {
                return Err(contradiction(format!(
                    "{} {} is no shear that can be held",
                    held.value, held.unit
                )));
            }
        }
        if self.before.len() > MOST_POINTS || !self.before.iter().all(|reading| usable(reading.viscosity)) {
            return Err(contradiction(
                "a reading before the shear is not above zero, or there are too many".to_owned(),
            ));
        }
        for reading in &self.readings {
            if !(usable(reading.viscosity) && reading.time_s >= 0.0 && reading.time_s.is_finite()) {
                return Err(contradiction(format!("line {} holds no reading after the shear", reading.line)));
            }
            for text in &reading.typed {
                at_most("value of a reading", text, LINE_LIMIT)?;
            }
        }
        Ok(())
    }
}

/// A number as the shortest text that is the same number, so that it comes back bit by bit.
mod as_text {
    use serde::{Deserialize as _, Deserializer, Serializer};

    #[expect(clippy::trivially_copy_pass_by_ref, reason = "as serde asks")]
    pub(super) fn serialize<S: Serializer>(value: &f64, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(&format_args!("{value:e}"))
    }

    pub(super) fn deserialize<'de, D: Deserializer<'de>>(deserializer: D) -> Result<f64, D::Error> {
        let text = String::deserialize(deserializer)?;
        text.parse().map_err(serde::de::Error::custom)
    }
}
