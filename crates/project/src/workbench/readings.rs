//! What was read on a trial and what was seen: kept, corrected, taken back.
//!
//! A correction is an entry of its own that names the struck one and says why; the struck one stays and is shown as struck.

use super::keeping::{FieldFault, Form, KeepError, TypedDevice, keep_sent, short};
use crate::records::{
    FromDevice, Id, Kept, Method, Observation, Photo, PhotoError, Reading, Trial, TypedNumber,
};
use crate::workspace::{KeptOnce, Workspace};
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// The kinds of reading with a name of their own: word, name, usual unit.
pub const KINDS: [(&str, &str, &str); 6] = [
    ("ph", "pH", ""),
    ("viscosity", "Viscosity", "mPa·s"),
    ("density", "Density", "g/mL"),
    ("weight", "Weight", "g"),
    ("temperature", "Temperature", "°C"),
    (WATER_LOST, "Water that went off, not given back", "%"),
];
/// The word of what went off while it was made and was not given back, percent of what went in: everything else is counted with more of it.
pub const WATER_LOST: &str = "water-lost";
/// Hours of the units of age.
const AGES: [(&str, u32); 8] = [
    ("h", 1),
    ("hour", 1),
    ("hours", 1),
    ("d", 24),
    ("day", 24),
    ("days", 24),
    ("week", 168),
    ("weeks", 168),
];

/// A reading as typed.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct TypedReading {
    /// Identity and moment from the device.
    #[serde(flatten)]
    pub device: TypedDevice,
    /// A word of [`KINDS`], or what it is in the person's words.
    pub quantity: String,
    /// The value.
    pub value: String,
    /// Unit; the usual one of the kind when empty.
    pub unit: String,
    /// `neat`, `10 % in water` or other words; empty means neat.
    pub method: String,
    /// Temperature of the sample, C.
    pub temperature_c: String,
    /// Age of the sample: a number of hours, or with `h`, `d`, `days`, `weeks` behind it.
    pub age: String,
    /// The instrument.
    pub instrument: String,
    /// Further conditions by name; empty ones are passed over.
    pub conditions: BTreeMap<String, String>,
    /// Remark.
    pub note: String,
}

/// An observation as typed.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct TypedObservation {
    /// Identity and moment from the device.
    #[serde(flatten)]
    pub device: TypedDevice,
    /// What was seen.
    pub text: String,
    /// What the photo shows, for those who cannot see it.
    pub shows: String,
}

/// The name of a kind of reading; a free kind is its own name.
#[must_use]
pub fn name_of(quantity: &str) -> &str {
    KINDS.iter().find(|(word, _, _)| *word == quantity).map_or(quantity, |(_, name, _)| name)
}

/// Keeps a reading, once, however often a device sends it.
///
/// # Errors
/// What was typed cannot be kept, another record has its identity, there is no such trial, or the workspace refused.
pub async fn add_reading(
    workspace: &Workspace,
    who: &str,
    trial: Id<Trial>,
    typed: &TypedReading,
) -> Result<KeptOnce<Reading>, KeepError> {
    let mut form = Form::default();
    let (id, from) = form.sent(&typed.device, trial.uuid(), typed, None);
    let () = form.done(())?;
    let reading = Reading { from, ..read_reading(trial, typed)? };
    keep_sent(workspace, who, id, (reading, None), |reading| &reading.from).await
}

/// Keeps a reading in the place of another, or takes the other back when nothing stands in its place.
///
/// # Errors
/// See [`add_reading`]; also without a reason, or when it has been corrected already.
pub async fn correct_reading(
    workspace: &Workspace,
    who: &str,
    id: Id<Reading>,
    reason: &str,
    instead: Option<&TypedReading>,
) -> Result<Kept<Reading>, KeepError> {
    let reason = reasoned(reason)?;
    let struck = workspace.get(id).await?.what;
    let what = match instead {
        Some(typed) => read_reading(struck.trial, typed)?,
        None => Reading { withdrawn: true, from: FromDevice::default(), ..struck },
    };
    Ok(workspace.correct(who, id, reason, what).await?)
}

/// Keeps an observation, with a photo or without, once, however often a device sends it. What a photo's file holds beside the picture
/// is taken out first.
///
/// # Errors
/// Neither words nor photo, a photo that is none, no such trial, or the workspace refused.
pub async fn observe(
    workspace: &Workspace,
    who: &str,
    trial: Id<Trial>,
    typed: &TypedObservation,
    photo: Option<Vec<u8>>,
) -> Result<KeptOnce<Observation>, KeepError> {
    let mut form = Form::default();
    let (id, from) = form.sent(&typed.device, trial.uuid(), typed, photo.as_deref());
    let () = form.done(())?;
    let (text, shows) = (typed.text.trim().to_owned(), typed.shows.trim().to_owned());
    if text.is_empty() && (photo.is_none() || shows.is_empty()) {
        let fault = if photo.is_none() {
            FieldFault::new(
                "text",
                "nothing is written yet",
                "an observation is what you saw, smelled or felt",
                "write it in a few words, or choose a photo",
            )
        } else {
            FieldFault::new(
                "shows",
                "the photo has no words yet",
                "who cannot see it must still know what it shows, and a search finds only words",
                "write what is to be seen in it",
            )
        };
        return Err(fault.into());
    }
    let (photo, taken_out) = match photo {
        Some(bytes) => {
            let refused = |error: PhotoError| {
                let why = "only the picture itself is kept, and only where it is one";
                FieldFault::new("photo", &error.to_string(), why, error.hint())
            };
            let (photo, taken_out) = Photo::new(bytes).and_then(Photo::picture_only).map_err(refused)?;
            (Some(photo), taken_out)
        }
        None => (None, Vec::new()),
    };
    let media = photo.as_ref().map(Photo::media);
    let what = Observation { text, shows, photo: media, taken_out, from, ..Observation::in_words(trial, "") };
    keep_sent(workspace, who, id, (what, photo), |seen| &seen.from).await
}

/// Keeps other words in the place of an observation (its photo stays with it), or takes it back.
///
/// # Errors
/// See [`correct_reading`].
pub async fn correct_observation(
    workspace: &Workspace,
    who: &str,
    id: Id<Observation>,
    reason: &str,
    instead: Option<&TypedObservation>,
) -> Result<Kept<Observation>, KeepError> {
    let reason = reasoned(reason)?;
    let struck = workspace.get(id).await?.what;
    let what = match instead {
        Some(typed) => {
            let mut form = Form::default();
            let text = form.needed(
                "text",
                &typed.text,
                "the struck words need others in their place",
                "write what it should have said, or take it back",
            );
            form.done(Observation {
                shows: typed.shows.trim().to_owned(),
                ..Observation::in_words(struck.trial, text)
            })?
        }
        // The words are kept again because a record must say something; nobody shows them.
        None => Observation {
            withdrawn: true,
            ..Observation::in_words(
                struck.trial,
                if struck.text.is_empty() { struck.shows } else { struck.text },
            )
        },
    };
    Ok(workspace.correct(who, id, reason, what).await?)
}

pub(super) fn reasoned(reason: &str) -> Result<&str, KeepError> {
    let mut form = Form::default();
    form.needed(
        "reason",
        reason,
        "what was struck stays, and the reason stands beside it",
        "write why in a few words: misread, wrong trial, meter not calibrated",
    );
    form.done(reason.trim())
}

/// Reads a reading from what was typed.
///
/// # Errors
/// Everything that is wrong with it, field by field.
pub fn read_reading(trial: Id<Trial>, typed: &TypedReading) -> Result<Reading, KeepError> {
    let mut form = Form::default();
    let quantity = form.needed(
        "quantity",
        &typed.quantity,
        "a number without a name means nothing later",
        "choose what was read, or write it",
    );
    let kind = KINDS.iter().find(|(word, name, _)| *word == quantity || name.eq_ignore_ascii_case(&quantity));
    let quantity = kind.map_or(quantity, |(word, _, _)| (*word).to_owned());
    let typed_value = form.needed(
        "value",
        &typed.value,
        "the reading itself is missing",
        "type it as the instrument shows it; < 10 and n.d. are kept too",
    );
    let value = TypedNumber::read_either(&typed_value);
    // A range or a sign (`< 10`) holds a digit, and a meter that shows nothing is worth a word; a pH of letters is a slip of the hand.
    let letters = !typed_value.is_empty() && !typed_value.contains(|sign: char| sign.is_ascii_digit());
    if letters && quantity == "ph" {
        form.fault(
            "value",
            &format!("\"{}\" is not a pH", short(&typed_value)),
            "it would stand in the book and be compared with nothing",
            "type the number the meter shows; what it would not show belongs into an observation",
        );
    }
    if quantity == "ph"
        && let Some(ph) = value.value
        && !(Decimal::NEGATIVE_ONE..=Decimal::from(15)).contains(&ph)
    {
        form.fault(
            "value",
            &format!("pH {ph} cannot be"),
            "a pH meter reads from about 0 to 14",
            "look for a decimal sign that is missing",
        );
    }
    if quantity == WATER_LOST
        && value.value.is_none_or(|lost| !(Decimal::ZERO..=Decimal::from(50)).contains(&lost))
    {
        form.fault(
            "value",
            &format!("\"{}\" is no share of water that went off", short(&typed_value)),
            "it is percent of what went in, from 0 to 50, and everything else is counted with more of it",
            "weigh the vessel before and after, and type what is missing in percent of the batch",
        );
    }
    let unit = match (typed.unit.trim(), kind) {
        ("", Some((_, _, usual))) => (*usual).to_owned(),
        (unit, _) => unit.to_owned(),
    };
    let temperature_c = form.number(
        "temperature_c",
        &typed.temperature_c,
        (Decimal::from(-30), Decimal::from(150)),
        "it is the temperature of the sample, in degrees Celsius",
    );
    let age_h = age(&mut form, &typed.age);
    let method = typed.method.trim();
    let reading = Reading {
        trial,
        quantity,
        value,
        unit,
        method: Method::from(if method.is_empty() { "neat".to_owned() } else { method.to_owned() }),
        temperature_c,
        age_h,
        instrument: typed.instrument.trim().to_owned(),
        conditions: typed
            .conditions
            .iter()
            .map(|(name, value)| (name.trim().to_owned(), value.trim().to_owned()))
            .filter(|(name, value)| !name.is_empty() && !value.is_empty())
            .collect(),
        note: typed.note.trim().to_owned(),
        from: FromDevice::default(),
        withdrawn: false,
    };
    form.done(reading)
}

/// An age in hours; the text is kept with the unit it was typed in.
pub(super) fn age(form: &mut Form, typed: &str) -> Option<TypedNumber> {
    let typed = typed.trim();
    if typed.is_empty() {
        return None;
    }
    let digits = typed.find(|sign: char| sign.is_alphabetic()).unwrap_or(typed.len());
    let (number, unit) = typed.split_at(digits);
    let hours = match unit.trim() {
        "" => Some(1),
        unit => AGES.iter().find(|(word, _)| word.eq_ignore_ascii_case(unit)).map(|(_, hours)| *hours),
    };
    let value = TypedNumber::read_either(number).value.filter(|value| *value >= Decimal::ZERO);
    match (value, hours) {
        (Some(value), Some(hours)) if value.checked_mul(Decimal::from(hours)).is_some() => {
            Some(TypedNumber { typed: typed.to_owned(), value: value.checked_mul(Decimal::from(hours)) })
        }
        _ => {
            form.fault(
                "age",
                &format!("\"{}\" is not an age", short(typed)),
                "the age of the sample is counted from the end of making",
                "type hours, or a number with h, d or weeks: 24 h, 7 d, 4 weeks",
            );
            None
        }
    }
}
