//! What is put to a lot or taken from it by hand.

use super::{gather_stock, root_of, unit};
use crate::records::{FromDevice, Id, Kept, Lot, StockMovement, TypedMass, TypedNumber, in_force};
use crate::workbench::keeping::{FieldFault, Form, KeepError, TypedDevice, keep_sent};
use crate::workbench::lots::lot_root;
use crate::workspace::{KeptOnce, Workspace};
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

/// A movement as typed.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct TypedMovement {
    /// Identity and moment from the device.
    #[serde(flatten)]
    pub device: TypedDevice,
    /// How much; with a minus it was taken.
    pub net: String,
    /// Unit; grams when empty.
    pub unit: String,
    /// Why.
    pub reason: String,
    /// Remark.
    pub note: String,
    /// It was looked at that more is taken than is left by what is on file.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    pub sure: bool,
}

/// Keeps what was put to a lot or taken from it by hand, once, however often a device sends it.
///
/// # Errors
/// What was typed cannot be kept, more is taken than is left and nobody is sure of it, another record has its identity, there is no such
/// lot, or the workspace refused.
pub async fn move_stock(
    workspace: &Workspace,
    who: &str,
    lot: Id<Lot>,
    typed: &TypedMovement,
) -> Result<KeptOnce<StockMovement>, KeepError> {
    let mut form = Form::default();
    let lot = root_of(workspace, lot).await?;
    let (id, from) = form.sent(&typed.device, lot.uuid(), typed, None);
    let text = typed.net.trim().replace('\u{2212}', "-");
    let (taken, digits) = match text.strip_prefix('-') {
        Some(digits) => (true, digits),
        None => (false, text.strip_prefix('+').unwrap_or(&text)),
    };
    let why = "it is what is put to the lot, or with a minus what is taken from it";
    if digits.trim().is_empty() {
        form.fault("net", "no weight is typed", why, "type it like 500 or -12.5");
    }
    let limits = (Decimal::ZERO, Decimal::from(100_000_000));
    let net = form.number("net", digits, limits, why);
    if net.as_ref().is_some_and(|net| net.value == Some(Decimal::ZERO)) {
        form.fault("net", "nothing is moved", why, "type it like 500 or -12.5");
    }
    let unit = unit(&mut form, &typed.unit);
    let why = "a count that differs has a cause";
    let reason = form.needed("reason", &typed.reason, why, "write why: counted, spilled, given away");
    let () = form.done(())?;
    let mass = TypedMass { net, unit, ..TypedMass::default() };
    if taken && !typed.sure {
        no_more_than_there_is(workspace, lot, id, &mass).await?;
    }
    let note = typed.note.trim().to_owned();
    let moved = StockMovement { lot, mass, taken, reason, note, from };
    keep_sent(workspace, who, id, (moved, None), |moved| &moved.from).await
}

/// More than is left of a lot cannot be taken from it; the paper may be wrong all the same, so it is asked, not forbidden.
async fn no_more_than_there_is(
    workspace: &Workspace,
    root: Id<Lot>,
    id: Option<Id<StockMovement>>,
    mass: &TypedMass,
) -> Result<(), KeepError> {
    let stock = gather_stock(workspace).await?;
    let kept = |movement: &Kept<StockMovement>| Some(movement.id) == id;
    if stock.moved.get(&root).is_some_and(|moved| moved.iter().any(kept)) {
        return Ok(());
    }
    let newest = in_force(&stock.lots).into_iter().find(|lot| lot_root(&stock.lots, lot.id) == root);
    let Some(left) = newest.and_then(|lot| stock.left_g(lot)) else { return Ok(()) };
    let grams = mass.net_g().unwrap_or_default();
    if grams <= left.max(Decimal::ZERO) {
        return Ok(());
    }
    let (grams, left) = (grams.normalize(), left.normalize());
    let fault = FieldFault::new(
        "net",
        &format!("{grams} g are to be taken, and {left} g are left"),
        "the decimal sign or the unit may have slipped, or the count on file is wrong",
        "look at the number and its unit; if it is so, keep it as it is",
    );
    Err(fault.into())
}

/// Takes a movement back by its opposite, which names it.
///
/// # Errors
/// No such movement, without a reason, or the workspace refused.
pub async fn take_back_movement(
    workspace: &Workspace,
    who: &str,
    id: Id<StockMovement>,
    reason: &str,
) -> Result<Kept<StockMovement>, KeepError> {
    let reason = crate::workbench::readings::reasoned(reason)?;
    let what = workspace.get(id).await?.what;
    let nothing = TypedNumber { typed: "0".to_owned(), value: Some(Decimal::ZERO) };
    let mass = TypedMass { net: Some(nothing), unit: "g".to_owned(), ..TypedMass::default() };
    let what = StockMovement { mass, from: FromDevice::default(), ..what };
    Ok(workspace.correct(who, id, reason, what).await?)
}
