//! Signing off, and the sample that is kept.

use super::second_eyes::{may_sign, needed_alone};
use super::{ENGINE_VERSION, gather_batch};
use crate::people::Right;
use crate::records::{
    Batch, FromDevice, How, Id, Kept, RetainedSample, SignOff, SignedAs, TypedMass, TypedNumber, WEIGHT_UNITS,
};
use crate::workbench::keeping::{FieldFault, Form, KeepError, TypedDevice, keep_sent, short};
use crate::workbench::people::{PeopleError, Signature, hand_of, roll};
use crate::workspace::{KeptOnce, Workspace};
use levigate_facts::Facts;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

/// A signature as typed.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct TypedSignOff {
    /// `made`, `reviewed`, `released` or `rejected`; made when empty.
    pub signed_as: String,
    /// Who signs, where nobody logs in; whoever works here when empty.
    pub who: String,
    /// Why whoever made the batch also reviews or releases it: nobody else here. Empty where somebody else does.
    pub alone: String,
    /// Remark.
    pub note: String,
}

/// Signs a batch off as a person who gives a name and, where people log in, their password: for whoever has no page before them.
///
/// # Errors
/// The name or the password is not theirs, they may not, or as [`sign_off`].
pub async fn sign_with_password(
    workspace: &Workspace,
    facts: &Facts,
    (who, password): (&str, Option<&str>),
    batch: Id<Batch>,
    typed: &TypedSignOff,
) -> Result<Kept<SignOff>, PeopleError> {
    let hand = hand_of(workspace, who, password).await?;
    let made = matches!(typed.signed_as.trim(), "" | "made");
    hand.may(if made { Right::Enter } else { Right::SignOff })?;
    let signature = Signature::of(&hand, workspace.clock().now());
    Ok(sign_off(workspace, facts, &signature, batch, typed).await?)
}

/// Signs a batch off with everything that was entered up to now, with a signature that was just given.
///
/// # Errors
/// What was typed cannot be kept, nothing was entered yet, or the workspace refused.
pub async fn sign_off(
    workspace: &Workspace,
    facts: &Facts,
    signature: &Signature,
    batch: Id<Batch>,
    typed: &TypedSignOff,
) -> Result<Kept<SignOff>, KeepError> {
    let mut form = Form::default();
    let signed_as = match typed.signed_as.trim() {
        "" => Some(SignedAs::Made),
        word => SignedAs::from_word(word),
    };
    if signed_as.is_none() {
        let what = format!("\"{}\" is nothing a person signs for", short(&typed.signed_as));
        let why = "who reads it later must know what was meant by it";
        form.fault("signed_as", &what, why, "send made, reviewed, released or rejected");
    }
    let signed_as = form.done(signed_as)?.unwrap_or(SignedAs::Made);
    let records = gather_batch(workspace, batch).await?;
    if records.entries.is_empty() {
        let fault = FieldFault::new(
            "entry",
            "nothing was entered on this batch yet",
            "a signature holds what was entered",
            "enter what was done, then sign",
        );
        return Err(fault.into());
    }
    // A name that was proved is not exchanged for one that was typed.
    let typed_name = Some(typed.who.trim()).filter(|name| !name.is_empty());
    let who = typed_name.filter(|_| signature.how == How::Initialled).unwrap_or(&signature.who);
    let roll = roll(workspace).await?;
    if !roll.is_empty() && signature.how == How::Initialled {
        let why = "people log in at this workspace, and a signature is theirs";
        let fault = FieldFault::new("password", "no password was heard", why, "sign with your password");
        return Err(fault.into());
    }
    let alone = typed.alone.trim();
    may_sign(&records, &roll, (who, signed_as, alone))?;
    let signed = SignOff {
        batch,
        signed_as,
        known_by: signature.words(),
        through: 0,
        records: 0,
        content_sha256: String::new(),
        engine_version: ENGINE_VERSION.to_owned(),
        data_version: facts.version(),
        note: typed.note.trim().to_owned(),
        alone: needed_alone(&records, &roll, (who, signed_as, alone)),
    };
    Ok(workspace.known(signature.how).sign_off(who, &records.batch, signed).await?)
}

/// A sample to be kept, as typed.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct TypedSample {
    /// Identity and moment from the device.
    #[serde(flatten)]
    pub device: TypedDevice,
    /// What stands on its label; the batch code when empty.
    pub label: String,
    /// Its weight.
    pub net: String,
    /// Unit; grams when empty.
    pub unit: String,
    /// In what it is kept.
    pub container: String,
    /// Where it stands.
    pub location: String,
    /// To be kept until, ISO.
    pub until: String,
    /// Remark.
    pub note: String,
}

/// Keeps a record of a retained sample, once, however often a device sends it.
///
/// # Errors
/// What was typed cannot be kept, another record has its identity, there is no such batch, or the workspace refused.
pub async fn keep_sample(
    workspace: &Workspace,
    who: &str,
    batch: Id<Batch>,
    typed: &TypedSample,
) -> Result<KeptOnce<RetainedSample>, KeepError> {
    let code = workspace.get(batch).await?.what.code;
    let mut form = Form::default();
    let (id, from) = form.sent(&typed.device, batch.uuid(), typed, None);
    let unit = Some(typed.unit.trim()).filter(|unit| !unit.is_empty()).unwrap_or("g");
    if !WEIGHT_UNITS.iter().any(|(known, _)| *known == unit) {
        let what = format!("\"{}\" is not a unit of weight here", short(unit));
        form.fault("unit", &what, "a balance shows mass", "choose mg, g or kg");
    }
    let limits = (Decimal::ZERO, Decimal::from(100_000_000));
    let net: Option<TypedNumber> = form.number("net", &typed.net, limits, "it is what the balance shows");
    let why = "a sample that nobody finds was not kept";
    let sample = RetainedSample {
        batch,
        label: Some(typed.label.trim()).filter(|label| !label.is_empty()).unwrap_or(&code).to_owned(),
        mass: net.map(|net| TypedMass { net: Some(net), unit: unit.to_owned(), ..TypedMass::default() }),
        container: typed.container.trim().to_owned(),
        location: form.needed("location", &typed.location, why, "write where it stands"),
        until: form.day("until", &typed.until),
        note: typed.note.trim().to_owned(),
        from,
        withdrawn: false,
    };
    let sample = form.done(sample)?;
    keep_sent(workspace, who, id, (sample, None), |sample| &sample.from).await
}

/// Strikes a retained sample out: thrown away, or never there.
///
/// # Errors
/// No such sample, struck already, without a reason, or the workspace refused.
pub async fn strike_sample(
    workspace: &Workspace,
    who: &str,
    id: Id<RetainedSample>,
    reason: &str,
) -> Result<Kept<RetainedSample>, KeepError> {
    let reason = crate::workbench::readings::reasoned(reason)?;
    let struck = workspace.get(id).await?.what;
    let what = RetainedSample { withdrawn: true, from: FromDevice::default(), ..struck };
    Ok(workspace.correct(who, id, reason, what).await?)
}
