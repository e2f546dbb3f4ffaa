//! What a device sends: a batch to start, an entry, as typed.

use super::{BatchRecords, LineProgress, Progress};
use crate::audit::content_hash;
use crate::records::{
    BatchEntry, Did, LotNamed, OverWay, Photo, PhotoError, PlanLine, TypedMass, TypedNumber, WEIGHT_UNITS,
};
use crate::workbench::keeping::{FieldFault, Form, KeepError, short};
use crate::workbench::lots::{lot_of, lot_root, named_key};
use jiff::Timestamp;
use levigate_facts::Facts;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

/// Key of the raw material that make-up water is.
const WATER: &str = "water";

/// An entry as typed. Fields that the kind of entry does not need are passed over.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct TypedEntry {
    /// Identity made on the device, a UUID.
    pub id: String,
    /// What the clock of the device said, ISO; the time it is kept when empty.
    pub at: String,
    /// What was done: a word of [`Did::word`].
    pub did: String,
    /// Step of the plan, from 1; 0 for none.
    pub step: usize,
    /// Number of the line, from 1; 0 for none.
    pub line: usize,
    /// Raw material by any of its names, for what is outside the plan.
    pub material: String,
    /// Lot code.
    pub lot: String,
    /// Weight of the empty boat or vessel.
    pub tare: String,
    /// Weight with what is in it.
    pub gross: String,
    /// What was weighed; of a decision, what was in when it was taken, in grams (what is in now when empty).
    pub net: String,
    /// Unit: g, kg, mg; grams when empty.
    pub unit: String,
    /// Temperature or speed.
    pub value: String,
    /// In words: a remark, what deviated, what was looked at, what a photo shows, what a sample is for.
    pub text: String,
    /// Why.
    pub reason: String,
    /// What was decided, or what was found.
    pub decision: String,
    /// `accept`, `rescale` or `from_remainder`.
    pub way: String,
    /// Balance, thermometer, meter.
    pub instrument: String,
    /// Remark.
    pub note: String,
}

impl TypedEntry {
    /// The hash by which a second sending is told from another entry.
    #[must_use]
    pub fn sent_sha256(&self, photo: Option<&[u8]>) -> String {
        let mut sent = serde_json::to_string(self).unwrap_or_default();
        if let Some(photo) = photo {
            sent.push_str(&content_hash(photo));
        }
        content_hash(sent.as_bytes())
    }
}

/// Reads an entry from what was typed.
///
/// # Errors
/// Everything that is wrong with it, field by field.
pub(super) fn read_entry(
    facts: &Facts,
    records: &BatchRecords,
    now: Timestamp,
    typed: &TypedEntry,
    photo: Option<Vec<u8>>,
) -> Result<(BatchEntry, Option<Photo>), KeepError> {
    let mut form = Form::default();
    let sent_sha256 = typed.sent_sha256(photo.as_deref());
    let device_time = moment(&mut form, &typed.at).unwrap_or(now);
    let step = Some(typed.step).filter(|step| *step > 0);
    if step.is_some_and(|step| step > records.batch.what.plan.steps.len()) {
        form.fault(
            "step",
            &format!("the plan has no step {}", typed.step),
            "an entry belongs to a step of the plan, or to none",
            "open the batch again",
        );
    }
    let mut kept = None;
    let did = if typed.did == "photo" {
        kept = picture(&mut form, typed, photo)?;
        kept.as_ref().map(|(photo, taken_out)| Did::Photo {
            shows: typed.text.trim().to_owned(),
            media: photo.media(),
            taken_out: taken_out.clone(),
        })
    } else {
        did(&mut form, facts, records, typed)
    };
    let entry = did.map(|did| BatchEntry {
        batch: records.batch.id,
        device_time,
        step,
        instrument: typed.instrument.trim().to_owned(),
        note: typed.note.trim().to_owned(),
        did,
        sent_sha256,
        after_sign_off: !records.sign_offs.is_empty(),
        withdrawn: false,
    });
    match form.done(entry)? {
        Some(entry) => Ok((entry, kept.map(|(photo, _)| photo))),
        None => Err(FieldFault::new("did", "nothing was done", "an entry says what", "send it again").into()),
    }
}

/// A moment, where one is given.
pub(super) fn moment(form: &mut Form, typed: &str) -> Option<Timestamp> {
    let typed = typed.trim();
    if typed.is_empty() {
        return None;
    }
    let read = typed.parse().ok();
    if read.is_none() {
        form.fault(
            "at",
            &format!("\"{}\" is not a moment", short(typed)),
            "the device says when it was done",
            "send it like 2026-11-24T09:30:00Z",
        );
    }
    read
}

fn did(form: &mut Form, facts: &Facts, records: &BatchRecords, typed: &TypedEntry) -> Option<Did> {
    let text = || typed.text.trim().to_owned();
    Some(match typed.did.as_str() {
        "weighed" => {
            let line = line_of(form, records, typed)?;
            let lot = lot_named(records, &line.material, &typed.lot);
            let mass = mass(form, typed, false)?;
            Did::Weighed { line: line.number, material: line.material.clone(), lot, corrected_g: None, mass }
        }
        "added" => {
            let material = material(form, facts, &typed.material)?;
            let lot = lot_named(records, &material, &typed.lot);
            Did::Added { lot, material, mass: mass(form, typed, false)? }
        }
        "water" => Did::Water { lot: lot_named(records, WATER, &typed.lot), mass: mass(form, typed, false)? },
        "vessel" => Did::Vessel { mass: mass(form, typed, true)? },
        "gross" => Did::Gross { mass: mass(form, typed, true)? },
        "temperature" => {
            let limits = (Decimal::from(-60), Decimal::from(300));
            Did::Temperature { value: value(form, typed, limits, "it is read in degrees Celsius")? }
        }
        "speed" => {
            let limits = (Decimal::ZERO, Decimal::from(50_000));
            Did::Speed { value: value(form, typed, limits, "it is set in turns a minute")? }
        }
        "started" => Did::Started,
        "finished" => Did::Finished,
        "skipped" => {
            let why = "a step that was left out is asked for later";
            Did::Skipped { reason: form.needed("reason", &typed.reason, why, "write why in a few words") }
        }
        "checked" => {
            let why = "a check is of something";
            let what = form.needed("text", &typed.text, why, "write what was looked at");
            Did::Checked { what, found: typed.decision.trim().to_owned() }
        }
        "sample" => Did::Sample { purpose: text(), mass: mass(form, typed, false)? },
        "output" => Did::Output { mass: mass(form, typed, false)? },
        "lost" => Did::Lost { purpose: text(), mass: mass(form, typed, false)? },
        "note" => {
            let why = "a remark without words says nothing";
            Did::Note { text: form.needed("text", &typed.text, why, "write it in a few words") }
        }
        "deviation" => {
            let why = "whoever reads the record later must be able to judge it";
            Did::Deviation {
                text: form.needed("text", &typed.text, why, "write what was done otherwise"),
                reason: form.needed("reason", &typed.reason, why, "write why"),
                decision: typed.decision.trim().to_owned(),
            }
        }
        "decided" => {
            let line = line_of(form, records, typed)?;
            let way = OverWay::from_word(typed.way.trim());
            if way.is_none() {
                let what = format!("\"{}\" is nothing that can be decided", short(&typed.way));
                let why = "too much of a line is accepted, made good by more of all others, or taken from the q.s. line";
                form.fault("way", &what, why, "send accept, rescale or from_remainder");
            }
            let limits = (Decimal::ZERO, Decimal::from(100_000_000));
            let seen =
                form.number("net", &typed.net, limits, "it is what was in when it was decided, in grams");
            let seen_g = match seen.and_then(|seen| seen.value) {
                Some(seen) => seen,
                None => {
                    let progress = Progress::of(&records.batch.what.plan, &records.entries);
                    let known = progress.lines.iter().find(|known| known.planned.number == line.number);
                    known.map(LineProgress::actual_g).unwrap_or_default()
                }
            };
            Did::Decided { line: line.number, way: way?, seen_g }
        }
        other => {
            let what = format!("\"{}\" is not a kind of entry", short(other));
            form.fault("did", &what, "an entry says what was done", "send weighed, temperature, note, ...");
            return None;
        }
    })
}

fn line_of<'r>(form: &mut Form, records: &'r BatchRecords, typed: &TypedEntry) -> Option<&'r PlanLine> {
    let found = records.batch.what.plan.lines().find(|line| line.number == typed.line);
    if found.is_none() {
        form.fault(
            "line",
            &format!("the plan has no line {}", typed.line),
            "what is weighed is a line of the plan; what is outside it is added",
            "open the batch again",
        );
    }
    found
}

/// A weight: net, or gross with or without tare. Of a vessel the gross weight is meant, wherever it was typed.
fn mass(form: &mut Form, typed: &TypedEntry, vessel: bool) -> Option<TypedMass> {
    let unit = match typed.unit.trim() {
        "" => "g",
        unit => unit,
    };
    if !WEIGHT_UNITS.iter().any(|(known, _)| *known == unit) {
        form.fault(
            "unit",
            &format!("\"{}\" is not a unit of weight here", short(unit)),
            "a balance shows mass",
            "choose mg, g or kg",
        );
        return None;
    }
    let limits = (Decimal::ZERO, Decimal::from(100_000_000));
    let why = "it is what the balance shows";
    let tare = form.number("tare", &typed.tare, limits, why);
    let mut gross = form.number("gross", &typed.gross, limits, why);
    let mut net = form.number("net", &typed.net, limits, why);
    if vessel && gross.is_none() {
        gross = net.take();
    }
    let mass = TypedMass { tare, gross, net, unit: unit.to_owned() };
    let typed_some = [&typed.tare, &typed.gross, &typed.net].iter().any(|text| !text.trim().is_empty());
    match mass.net_g() {
        Some(net) if net < Decimal::ZERO => {
            let what = format!("the net weight would be {net} g");
            form.fault("gross", &what, "the full vessel is heavier than the empty one", "read both again");
            None
        }
        Some(_) => Some(mass),
        None if typed_some => None,
        None => {
            let field = if vessel { "gross" } else { "net" };
            form.fault(field, "no weight is typed", why, "type what the balance shows");
            None
        }
    }
}

fn value(form: &mut Form, typed: &TypedEntry, limits: (Decimal, Decimal), why: &str) -> Option<TypedNumber> {
    if typed.value.trim().is_empty() {
        form.fault("value", "no number is typed", why, "type what the instrument shows");
    }
    form.number("value", &typed.value, limits, why)
}

fn material(form: &mut Form, facts: &Facts, typed: &str) -> Option<String> {
    match facts.names.resolve_material(typed.trim()) {
        Ok(key) => Some(key.to_owned()),
        Err(nearest) => {
            let what_now = if nearest.is_empty() {
                "search the raw materials, or add your own first".to_owned()
            } else {
                format!("did you mean {}?", nearest.join(", "))
            };
            let what = format!("no raw material is called \"{}\"", short(typed));
            form.fault("material", &what, "what goes into a batch must be known", &what_now);
            None
        }
    }
}

/// The lot a code means: one on file by its first entry, else raw material and code.
fn lot_named(records: &BatchRecords, material: &str, code: &str) -> Option<LotNamed> {
    let code = code.trim();
    if code.is_empty() {
        return None;
    }
    let code: String = code.chars().take(120).collect();
    Some(match lot_of(&records.lots, material, &code) {
        Some(lot) => LotNamed {
            code: lot.what.code.clone(),
            key: lot_root(&records.lots, lot.id).to_string(),
            on_file: Some(lot.id),
        },
        None => LotNamed { key: named_key(material, &code), code, on_file: None },
    })
}

type Picture = Option<(Photo, Vec<String>)>;

fn picture(form: &mut Form, typed: &TypedEntry, photo: Option<Vec<u8>>) -> Result<Picture, KeepError> {
    let why = "who cannot see it must still know what it shows, and a search finds only words";
    form.needed("text", &typed.text, why, "write what is to be seen in it");
    let Some(bytes) = photo else {
        form.fault("photo", "there is no photo", "only the picture itself is kept", "choose one");
        return Ok(None);
    };
    let refused = |error: PhotoError| {
        let why = "only the picture itself is kept, and only where it is one";
        KeepError::from(FieldFault::new("photo", &error.to_string(), why, error.hint()))
    };
    Photo::new(bytes).and_then(Photo::picture_only).map(Some).map_err(refused)
}
