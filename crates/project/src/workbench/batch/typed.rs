//! What a device sends: a batch to start, an entry, as typed.

use super::{BatchRecords, LineProgress, Progress};
use crate::audit::content_hash;
use crate::flow_table::temperature_log;
use crate::paper_code;
use crate::records::{
    BatchEntry, BufferRead, Did, FromPaper, LotNamed, MOST_LOGGED, Method, OverWay, Photo, PhotoError,
    PlanLine, TypedMass, TypedNumber, WEIGHT_UNITS,
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
    /// In words: a remark, what deviated, what was looked at, what a photo shows, what a sample is for; of a logger its file.
    pub text: String,
    /// Why.
    pub reason: String,
    /// What was decided, or what was found.
    pub decision: String,
    /// `accept`, `rescale` or `from_remainder`.
    pub way: String,
    /// Of a calibration: the buffers.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub buffers: Vec<TypedBuffer>,
    /// Of a pH or a calibration: temperature of the sample or the buffers, C.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub temperature_c: String,
    /// Of a pH: `neat`, `10 % in water` or other words; neat when empty.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub method: String,
    /// Of a pH: age of the batch, a number of hours or with its unit.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub age: String,
    /// Of a pH: the person saw it stand.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    pub settled: bool,
    /// Balance, thermometer, meter.
    pub instrument: String,
    /// Remark.
    pub note: String,
    /// The sheet it is typed back from; none for what is typed at the beaker.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub paper: Option<TypedPaper>,
}

/// The sheet an entry is typed back from. `at` of the entry is then the time on the sheet, or empty.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct TypedPaper {
    /// Identifier on the sheet.
    pub code: String,
    /// What the clock of the device says, ISO; the time it is kept when empty.
    pub typed_at: String,
    /// Initials on the sheet.
    pub initials: String,
}

/// A buffer as typed.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct TypedBuffer {
    /// Key of a known buffer; empty where its pH is typed.
    pub buffer: String,
    /// Its pH by its certificate, where it is none of the known ones.
    pub ph: String,
    /// What the meter showed, mV.
    pub mv: String,
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
    let paper = typed.paper.as_ref().and_then(|paper| from_paper(&mut form, records, now, (typed, paper)));
    let unmarked = paper.as_ref().map_or(now, |paper| paper.typed_at);
    let device_time = form.moment(&typed.at).unwrap_or(unmarked);
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
        paper,
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

/// The sheet, if it is one of this batch.
fn from_paper(
    form: &mut Form,
    records: &BatchRecords,
    now: Timestamp,
    (typed, paper): (&TypedEntry, &TypedPaper),
) -> Option<FromPaper> {
    let batch = &records.batch.what;
    let why = "what stands on the sheet of one batch is not put to another";
    let code: String = paper.code.split_whitespace().collect::<String>().to_uppercase();
    match paper_code::read(&code) {
        None => {
            let what = format!("\"{}\" is not the identifier of a batch sheet", short(&paper.code));
            let now = "type what stands beside the square code at the foot of the page";
            form.fault("paper", &what, why, now);
        }
        Some(read) if read.batch != batch.code => {
            let what = format!("this is a sheet of batch {}, not of {}", short(&read.batch), batch.code);
            form.fault("paper", &what, why, "open that batch, or take the right sheet");
        }
        Some(read) if !read.version_code.eq_ignore_ascii_case(&batch.plan.version_code) => {
            let what = format!(
                "the sheet says version {}, the batch is of {}",
                short(&read.version_code),
                batch.plan.version_code
            );
            form.fault("paper", &what, why, "take the sheet that was printed for this batch");
        }
        Some(_) => {}
    }
    let typed_at = form.moment(&paper.typed_at).unwrap_or(now);
    let timed = !typed.at.trim().is_empty();
    Some(FromPaper { code, typed_at, timed, initials: paper.initials.trim().to_owned() })
}

fn did(form: &mut Form, facts: &Facts, records: &BatchRecords, typed: &TypedEntry) -> Option<Did> {
    let text = || typed.text.trim().to_owned();
    Some(match typed.did.as_str() {
        "weighed" => {
            let line = line_of(form, records, typed)?;
            let lot = lot_named(records, &line.material, &typed.lot);
            let mass = mass(form, typed, false)?;
            Did::Weighed { line: line.number, material: line.material, lot, corrected_g: None, mass }
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
        "calibrated" => calibrated(form, facts, typed)?,
        "ph" => ph(form, typed)?,
        "temperature_log" => logged(form, typed)?,
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

/// A calibration: what was typed must make a line.
fn calibrated(form: &mut Form, facts: &Facts, typed: &TypedEntry) -> Option<Did> {
    let warm = temperature(form, typed, "buffers have another pH at another temperature")?;
    let mut buffers = Vec::new();
    for (at, one) in typed.buffers.iter().enumerate() {
        let why = "the slope of the electrode is read off the buffers";
        let limits = (Decimal::from(-1000), Decimal::from(1000));
        let millivolt = form.number(&format!("buffers.{at}.mv"), &one.mv, limits, why);
        let ph = form.number(&format!("buffers.{at}.ph"), &one.ph, (Decimal::ZERO, Decimal::from(14)), why);
        let buffer = one.buffer.trim().to_owned();
        match (millivolt, buffer.is_empty() && ph.is_none()) {
            (Some(millivolt), false) => buffers.push(BufferRead { buffer, ph, millivolt }),
            (_, true) => {
                let what_now = "choose the buffer, or type its pH";
                form.fault(&format!("buffers.{at}.buffer"), "it does not say which buffer", why, what_now);
            }
            (None, false) => {
                let what_now = "type what the meter shows in it, in mV";
                form.fault(&format!("buffers.{at}.mv"), "no reading is typed", why, what_now);
            }
        }
    }
    match super::adjusting::line_through(&facts.ph_bench, &buffers, &warm) {
        Ok(told) => {
            let [slope_percent, offset_mv] = told;
            Some(Did::Calibrated { buffers, temperature_c: warm, slope_percent, offset_mv })
        }
        Err((what, what_now)) => {
            form.fault("buffers", &what, "two buffers and more make the line of an electrode", &what_now);
            None
        }
    }
}

fn ph(form: &mut Form, typed: &TypedEntry) -> Option<Did> {
    let limits = (Decimal::NEGATIVE_ONE, Decimal::from(15));
    let value = value(form, typed, limits, "a pH meter reads from about 0 to 14");
    let warm = temperature(form, typed, "the same batch has another pH at another temperature");
    let method = match typed.method.trim() {
        "" => Method::Neat,
        words => Method::from(words.to_owned()),
    };
    let age_h = crate::workbench::readings::age(form, &typed.age);
    Some(Did::Ph { value: value?, method, temperature_c: warm?, age_h, settled: typed.settled })
}

fn temperature(form: &mut Form, typed: &TypedEntry, why: &str) -> Option<TypedNumber> {
    if typed.temperature_c.trim().is_empty() {
        form.fault("temperature_c", "no temperature is typed", why, "type it in degrees Celsius");
    }
    form.number("temperature_c", &typed.temperature_c, (Decimal::from(-5), Decimal::from(100)), why)
}

/// The record of a logger: its file is the text, the name of the file the remark.
fn logged(form: &mut Form, typed: &TypedEntry) -> Option<Did> {
    let name = match typed.note.trim() {
        "" => "the record",
        name => name,
    };
    let why = "a record has a time and a temperature in every row";
    let read = match temperature_log(name, typed.text.as_bytes()) {
        Ok(read) => read,
        Err(complaints) => {
            for one in complaints {
                form.fault("text", &one.what, why, &one.what_now);
            }
            return None;
        }
    };
    let points = read.record.points();
    if points.len() > MOST_LOGGED {
        let what = format!("the record has {} points, at most {MOST_LOGGED} are kept", points.len());
        form.fault(
            "text",
            &what,
            "it is kept with the batch, point by point",
            "export one point every ten seconds",
        );
        return None;
    }
    let decimal =
        |value: f64, decimals: u32| Some(Decimal::try_from(value).ok()?.round_dp(decimals).normalize());
    let points = points.iter().map(|(time_s, celsius)| Some((decimal(*time_s, 3)?, decimal(*celsius, 3)?)));
    Some(Did::TemperatureLog { points: points.collect::<Option<_>>()?, told: read.told })
}

fn line_of(form: &mut Form, records: &BatchRecords, typed: &TypedEntry) -> Option<PlanLine> {
    let found = records.batch.what.plan.lines().into_iter().find(|line| line.number == typed.line);
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
