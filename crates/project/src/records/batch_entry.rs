//! What was done on a batch, entry by entry, as it was typed.
//!
//! The identity of an entry is made by the device it was typed on, so that the same entry sent twice is kept once. An entry is
//! taken back by a correction that keeps it; taking that back puts it in force again.

use jiff::Timestamp;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::{
    Batch, Id, Kind, LINE_LIMIT, Lot, MediaType, Mention, Method, Record, RecordError, TEXT_LIMIT,
    TypedNumber, at_most, required,
};
use crate::store::LotUse;

/// Units a weight is typed in, with their grams.
pub const WEIGHT_UNITS: [(&str, Decimal); 3] =
    [("g", Decimal::ONE), ("kg", Decimal::ONE_THOUSAND), ("mg", Decimal::from_parts(1, 0, 0, false, 3))];

/// Most points of the record of a logger that are kept with a batch: a day, one every ten seconds or so.
pub const MOST_LOGGED: usize = 10_000;

/// One entry.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct BatchEntry {
    /// The batch.
    pub batch: Id<Batch>,
    /// What the clock of the device said when it was typed; of what came back on paper, when it was written there. The envelope has
    /// the time it was kept.
    pub device_time: Timestamp,
    /// It was written on paper and typed back later.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub paper: Option<FromPaper>,
    /// Step of the plan it belongs to, from 1.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub step: Option<usize>,
    /// Balance, thermometer, meter: as the person calls it.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub instrument: String,
    /// Remark.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub note: String,
    /// What was done.
    #[serde(flatten)]
    pub did: Did,
    /// SHA-256 of what was sent, by which a second sending is told from another entry with the same identity.
    pub sent_sha256: String,
    /// It was kept after the batch had been signed off.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub after_sign_off: bool,
    /// The record only takes back the one it corrects and puts nothing in its place.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub withdrawn: bool,
}

/// What is known of the sheet an entry was typed back from.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct FromPaper {
    /// Identifier on the sheet, as it was checked against the batch.
    pub code: String,
    /// What the clock of the device said when it was typed. Who typed stands in the envelope.
    pub typed_at: Timestamp,
    /// Whether a time stands on the sheet; without one the entry stands at the time it was typed.
    pub timed: bool,
    /// Initials on the sheet: who did it.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub initials: String,
}

/// What was done.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "did", rename_all = "snake_case")]
pub enum Did {
    /// A line was weighed and put in; several weighings of one line add up.
    Weighed {
        /// Number of the line, from 1.
        line: usize,
        /// Raw material it is, by key.
        material: String,
        /// Lot taken.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        lot: Option<LotNamed>,
        /// Where the lot has another assay than the plan counted with: what the whole line should then weigh in a batch of the planned
        /// size, g.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        corrected_g: Option<Decimal>,
        /// The weight.
        mass: TypedMass,
    },
    /// Something outside the plan was put in: an acid or base, a correction by hand.
    Added {
        /// Raw material, by key.
        material: String,
        /// Lot taken.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        lot: Option<LotNamed>,
        /// The weight.
        mass: TypedMass,
    },
    /// Water was given back for what went off.
    Water {
        /// Lot taken.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        lot: Option<LotNamed>,
        /// The weight.
        mass: TypedMass,
    },
    /// The empty vessel with all that stays in it was weighed.
    Vessel {
        /// Its weight, in `gross`.
        mass: TypedMass,
    },
    /// The vessel with the batch in it was weighed.
    Gross {
        /// Its weight, in `gross`.
        mass: TypedMass,
    },
    /// A temperature was read, C.
    Temperature {
        /// As typed.
        value: TypedNumber,
    },
    /// A logger recorded the temperature; its time begins at the moment of the entry.
    TemperatureLog {
        /// Time, s, and temperature, C, point by point.
        points: Vec<(Decimal, Decimal)>,
        /// How its file was read.
        told: String,
    },
    /// The stirrer was set, rpm.
    Speed {
        /// As typed.
        value: TypedNumber,
    },
    /// A pH meter was calibrated.
    Calibrated {
        /// Buffers with what the meter showed in them.
        buffers: Vec<BufferRead>,
        /// Temperature of the buffers, C.
        temperature_c: TypedNumber,
        /// Percent of the ideal slope, as it was told when it was kept.
        slope_percent: Decimal,
        /// Reading at pH 7, mV, as it was told when it was kept.
        offset_mv: Decimal,
    },
    /// A pH was read.
    Ph {
        /// As typed.
        value: TypedNumber,
        /// How the sample was presented.
        method: Method,
        /// Temperature of the sample, C.
        temperature_c: TypedNumber,
        /// Age of the batch, h.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        age_h: Option<TypedNumber>,
        /// The person saw it stand; otherwise it is one of a series that is still moving.
        #[serde(default, skip_serializing_if = "std::ops::Not::not")]
        settled: bool,
    },
    /// The step was begun; its timer runs from here.
    Started,
    /// The step was finished.
    Finished,
    /// The step was left out.
    Skipped {
        /// Why.
        reason: String,
    },
    /// A check of the step was looked at.
    Checked {
        /// What was looked at.
        what: String,
        /// What was found.
        found: String,
    },
    /// A sample was taken out.
    Sample {
        /// What for.
        purpose: String,
        /// Its weight.
        mass: TypedMass,
    },
    /// The finished product was weighed out.
    Output {
        /// The weight of good product.
        mass: TypedMass,
    },
    /// Product known to be lost: left in the vessel, in the line, in the filter.
    Lost {
        /// Where.
        purpose: String,
        /// Its weight.
        mass: TypedMass,
    },
    /// A remark.
    Note {
        /// In words.
        text: String,
    },
    /// Something was done otherwise than planned.
    Deviation {
        /// What.
        text: String,
        /// Why.
        reason: String,
        /// What was decided.
        decision: String,
    },
    /// A photo; its bytes are kept beside the entry.
    Photo {
        /// What it shows, for those who cannot see it.
        shows: String,
        /// Media type.
        media: MediaType,
        /// What stood in the file beside the picture and was taken out.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        taken_out: Vec<String>,
    },
    /// Too much of a line went in, and this was decided.
    Decided {
        /// Number of the line, from 1.
        line: usize,
        /// What.
        way: OverWay,
        /// How much of it was in when it was decided, g. Once less is in, because a weighing was corrected, the decision lapses.
        seen_g: Decimal,
    },
}

/// A buffer that was read.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct BufferRead {
    /// Key of the buffer; empty where its pH was typed.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub buffer: String,
    /// Its pH by its own certificate, where it is none of the known ones.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ph: Option<TypedNumber>,
    /// What the meter showed, mV.
    pub millivolt: TypedNumber,
}

/// What is done when too much of a line went in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum OverWay {
    /// It stays; the others stay as planned.
    Accept,
    /// All others become as much more.
    Rescale,
    /// The q.s. line becomes as much less.
    FromRemainder,
}

impl OverWay {
    /// The way of a stored word.
    #[must_use]
    pub fn from_word(word: &str) -> Option<Self> {
        match word {
            "accept" => Some(Self::Accept),
            "rescale" => Some(Self::Rescale),
            "from_remainder" => Some(Self::FromRemainder),
            _ => None,
        }
    }
}

/// A lot as it was named.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct LotNamed {
    /// Code as typed or picked.
    pub code: String,
    /// Under which it is traced: the identity of the first entry of the lot on file, else raw material and code.
    pub key: String,
    /// The lot on file, by the entry that stood when it was taken.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub on_file: Option<Id<Lot>>,
}

/// A weight as typed: net, or gross and tare, or all three.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct TypedMass {
    /// The empty boat or vessel.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tare: Option<TypedNumber>,
    /// With what is in it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub gross: Option<TypedNumber>,
    /// What was weighed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub net: Option<TypedNumber>,
    /// Unit, one of [`WEIGHT_UNITS`].
    pub unit: String,
}

impl TypedMass {
    fn factor(&self) -> Option<Decimal> {
        WEIGHT_UNITS.iter().find(|(unit, _)| *unit == self.unit).map(|(_, grams)| *grams)
    }

    fn grams(&self, number: Option<&TypedNumber>) -> Option<Decimal> {
        number?.value?.checked_mul(self.factor()?)
    }

    /// Net weight, g: as typed, else gross less tare.
    #[must_use]
    pub fn net_g(&self) -> Option<Decimal> {
        self.grams(self.net.as_ref())
            .or_else(|| self.gross_g()?.checked_sub(self.grams(self.tare.as_ref()).unwrap_or_default()))
    }

    /// Gross weight, g.
    #[must_use]
    pub fn gross_g(&self) -> Option<Decimal> {
        self.grams(self.gross.as_ref())
    }

    /// Gross less tare where both were typed beside a net weight, and it is another number.
    #[must_use]
    pub fn contradicts(&self) -> Option<Decimal> {
        let net = self.grams(self.net.as_ref())?;
        let difference = self.gross_g()?.checked_sub(self.grams(self.tare.as_ref())?)?;
        (difference != net).then_some(difference)
    }

    pub(crate) fn check(&self) -> Result<(), RecordError> {
        if self.factor().is_none() {
            let what = format!("{} is not a unit of weight here", self.unit.escape_debug());
            return Err(RecordError::Contradiction { field: "unit", what });
        }
        for number in [&self.tare, &self.gross, &self.net].into_iter().flatten() {
            required("weight", &number.typed)?;
        }
        match self.net_g() {
            Some(net) if net >= Decimal::ZERO && net <= Decimal::from(100_000_000) => Ok(()),
            Some(net) => {
                let what = format!("{net} g cannot have been weighed");
                Err(RecordError::Contradiction { field: "weight", what })
            }
            None => Err(RecordError::Empty { field: "weight" }),
        }
    }
}

impl Did {
    /// The word under which it is stored.
    #[must_use]
    pub fn word(&self) -> &'static str {
        match self {
            Self::Weighed { .. } => "weighed",
            Self::Added { .. } => "added",
            Self::Water { .. } => "water",
            Self::Vessel { .. } => "vessel",
            Self::Gross { .. } => "gross",
            Self::Temperature { .. } => "temperature",
            Self::TemperatureLog { .. } => "temperature_log",
            Self::Speed { .. } => "speed",
            Self::Calibrated { .. } => "calibrated",
            Self::Ph { .. } => "ph",
            Self::Started => "started",
            Self::Finished => "finished",
            Self::Skipped { .. } => "skipped",
            Self::Checked { .. } => "checked",
            Self::Sample { .. } => "sample",
            Self::Output { .. } => "output",
            Self::Lost { .. } => "lost",
            Self::Note { .. } => "note",
            Self::Deviation { .. } => "deviation",
            Self::Photo { .. } => "photo",
            Self::Decided { .. } => "decided",
        }
    }

    /// The weight in it.
    #[must_use]
    pub fn mass(&self) -> Option<&TypedMass> {
        match self {
            Self::Weighed { mass, .. }
            | Self::Added { mass, .. }
            | Self::Water { mass, .. }
            | Self::Vessel { mass }
            | Self::Gross { mass }
            | Self::Sample { mass, .. }
            | Self::Output { mass }
            | Self::Lost { mass, .. } => Some(mass),
            _ => None,
        }
    }

    /// The lot that went into the batch with it.
    #[must_use]
    pub fn lot(&self) -> Option<&LotNamed> {
        match self {
            Self::Weighed { lot, .. } | Self::Added { lot, .. } | Self::Water { lot, .. } => lot.as_ref(),
            _ => None,
        }
    }
}

impl Record for BatchEntry {
    const KIND: Kind = Kind::BatchEntry;
    fn belongs_to(&self) -> Option<(Kind, Uuid)> {
        Some((Kind::Batch, self.batch.uuid()))
    }
    fn mentions(&self) -> Vec<Mention> {
        let lot = self.did.lot().and_then(|lot| lot.on_file);
        lot.map(|id| Mention::Record { kind: Kind::Lot, scope: String::new(), id: id.uuid() })
            .into_iter()
            .collect()
    }
    fn uses(&self) -> Vec<LotUse> {
        if self.withdrawn {
            return Vec::new();
        }
        let Some(lot) = self.did.lot() else { return Vec::new() };
        let grams = self.did.mass().and_then(TypedMass::net_g).unwrap_or_default();
        vec![LotUse::new(&lot.key, grams)]
    }
    fn check(&self) -> Result<(), RecordError> {
        at_most("instrument", &self.instrument, LINE_LIMIT)?;
        at_most("note", &self.note, TEXT_LIMIT)?;
        if let Some(paper) = &self.paper {
            required("identifier of the sheet", &paper.code)?;
            at_most("initials", &paper.initials, LINE_LIMIT)?;
        }
        if let Some(mass) = self.did.mass() {
            mass.check()?;
        }
        if let Some(lot) = self.did.lot() {
            required("lot code", &lot.code)?;
            at_most("lot code", &lot.key, 2 * LINE_LIMIT)?;
        }
        match &self.did {
            Did::Weighed { material, .. } | Did::Added { material, .. } => required("raw material", material),
            Did::Temperature { value } | Did::Speed { value } => required("value", &value.typed),
            Did::Calibrated { buffers, temperature_c, .. } => {
                required("temperature", &temperature_c.typed)?;
                if buffers.len() < 2 {
                    return Err(RecordError::Empty { field: "buffers" });
                }
                buffers.iter().try_for_each(|buffer| required("reading", &buffer.millivolt.typed))
            }
            Did::Ph { value, method, temperature_c, .. } => {
                required("value", &value.typed)?;
                required("method", &String::from(method.clone()))?;
                required("temperature", &temperature_c.typed)
            }
            Did::TemperatureLog { points, told } => {
                if points.len() < 2 || points.len() > MOST_LOGGED {
                    let what = format!("{} points, from 2 to {MOST_LOGGED} are kept", points.len());
                    return Err(RecordError::Contradiction { field: "record of the logger", what });
                }
                at_most("how the file was read", told, TEXT_LIMIT)
            }
            Did::Skipped { reason } => required("reason", reason),
            Did::Checked { what, found } => {
                required("what was looked at", what)?;
                at_most("what was found", found, TEXT_LIMIT)
            }
            Did::Sample { purpose, .. } | Did::Lost { purpose, .. } => {
                at_most("purpose", purpose, LINE_LIMIT)
            }
            Did::Note { text } => {
                if text.trim().is_empty() {
                    return Err(RecordError::Empty { field: "text" });
                }
                at_most("text", text, TEXT_LIMIT)
            }
            Did::Deviation { text, reason, decision } => {
                required("text", text)?;
                required("reason", reason)?;
                at_most("decision", decision, TEXT_LIMIT)
            }
            Did::Photo { shows, .. } => at_most("what the photo shows", shows, TEXT_LIMIT),
            _ => Ok(()),
        }
    }
}
