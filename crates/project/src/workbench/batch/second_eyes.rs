//! The second pair of eyes: whether somebody other than the maker has looked at a batch, at the moment of signing and afterwards.
//!
//! Where people log in, a batch is first signed by whoever made it and then reviewed or released by somebody else. Whoever made it is
//! everybody who signed for having made it, and whoever kept most of its entries. Where nobody else is there, they may go on alone,
//! with a reason that stands in the record for good. Where nobody logs in there is no telling one person from another, and the
//! record says that.

use super::BatchRecords;
use crate::people::{Roll, folded};
use crate::records::{How, Kept, SignOff, SignedAs};
use crate::workbench::keeping::FieldFault;
use std::collections::{BTreeMap, BTreeSet};

/// Who a name is: a person by any name they ever had, else the name itself.
fn person(roll: &Roll, name: &str) -> String {
    roll.bearer(name).map_or_else(|| folded(name), |id| id.to_string())
}

/// How many entries each hand kept, struck ones too: what was typed was typed.
fn hands(records: &BatchRecords, roll: &Roll) -> BTreeMap<String, usize> {
    let mut hands: BTreeMap<String, usize> = BTreeMap::new();
    for entry in &records.entries {
        *hands.entry(person(roll, &entry.who)).or_default() += 1;
    }
    hands
}

/// Whoever made a batch: who signed for it, and who kept most of its entries.
fn makers(records: &BatchRecords, roll: &Roll) -> BTreeSet<String> {
    let hands = hands(records, roll);
    let most = hands.values().copied().max().unwrap_or_default();
    let typed = hands.into_iter().filter(|(_, entries)| *entries == most).map(|(hand, _)| hand);
    let made = records.sign_offs.iter().filter(|signed| signed.what.signed_as == SignedAs::Made);
    typed.chain(made.map(|signed| person(roll, &signed.who))).collect()
}

/// Whether a signature needs another hand than the maker's. Rejecting stops a batch: whoever may sign off may do that at any time.
fn needs_another(signed_as: SignedAs) -> bool {
    matches!(signed_as, SignedAs::Reviewed | SignedAs::Released)
}

/// What stands against somebody signing a batch, where people log in. `alone` is the reason why nobody else does.
///
/// # Errors
/// Nobody has signed for having made it yet, or they made it themselves and give no reason.
pub(super) fn may_sign(
    records: &BatchRecords,
    roll: &Roll,
    (who, signed_as, alone): (&str, SignedAs, &str),
) -> Result<(), FieldFault> {
    if roll.is_empty() || !needs_another(signed_as) {
        return Ok(());
    }
    if !records.sign_offs.iter().any(|signed| signed.what.signed_as == SignedAs::Made) {
        return Err(FieldFault::new(
            "signed_as",
            "nobody has signed for having made it yet",
            "what is reviewed or released must be what its maker stands for",
            "let whoever made it sign first",
        ));
    }
    if !alone.is_empty() || !makers(records, roll).contains(&person(roll, who)) {
        return Ok(());
    }
    let own = hands(records, roll).get(&person(roll, who)).copied().unwrap_or_default();
    let all = records.entries.len();
    let noun = if all == 1 { "entry" } else { "entries" };
    let signed = |one: &Kept<SignOff>| {
        one.what.signed_as == SignedAs::Made && person(roll, &one.who) == person(roll, who)
    };
    let made = match records.sign_offs.iter().any(signed) {
        true => "signed for having made this batch, and",
        false => "made most of this batch:",
    };
    Err(FieldFault::new(
        "alone",
        &format!("{who} {made} {own} of {all} {noun} are in that name"),
        "a record is looked at by somebody who did not write it",
        "let somebody else sign, or write why nobody else can: it stands in the record",
    ))
}

/// The reason that is written down with a signature: that of a maker who goes on alone. Of anybody else it would say what is not so.
pub(super) fn needed_alone(
    records: &BatchRecords,
    roll: &Roll,
    (who, signed_as, alone): (&str, SignedAs, &str),
) -> String {
    let needed =
        !roll.is_empty() && needs_another(signed_as) && makers(records, roll).contains(&person(roll, who));
    if needed { alone.to_owned() } else { String::new() }
}

/// Whether somebody other than the maker has looked at a batch, in a sentence that is empty before anybody signed, and as yes or no.
pub(super) fn seen_by(records: &BatchRecords) -> (String, bool) {
    let signed = &records.sign_offs;
    let Some(last) = signed.last() else { return (String::new(), false) };
    if signed.iter().all(|one| one.how == How::Initialled) {
        let names: BTreeSet<String> = signed.iter().map(|one| folded(&one.who)).collect();
        let words = match names.len() {
            1 => "Initialled by one person; nobody else has looked.".to_owned(),
            many => format!("Initialled under {many} names; nobody's password stands behind them."),
        };
        return (words, false);
    }
    let looked =
        signed.iter().rev().find(|one| needs_another(one.what.signed_as) && one.how != How::Initialled);
    let Some(looked) = looked else {
        let words = match last.what.signed_as {
            SignedAs::Rejected => format!("Rejected by {}; nobody has reviewed or released it.", last.who),
            _ => "Nobody else has looked at it yet.".to_owned(),
        };
        return (words, false);
    };
    let (who, words) = (&looked.who, looked.what.signed_as.words());
    let alone = looked.what.alone.trim_end_matches('.');
    if !alone.is_empty() {
        return (format!("Made and {words} by {who} alone: {alone}."), false);
    }
    // Signed before this was asked: only the names tell.
    if makers(&before(records, looked), &Roll::default()).contains(&folded(who)) {
        return (format!("Made and {words} by {who}; no reason is on record."), false);
    }
    (format!("Made by one person, {words} by another: {who}."), true)
}

/// What was there when a signature was given.
fn before(records: &BatchRecords, signed: &Kept<SignOff>) -> BatchRecords {
    let mut then = records.clone();
    then.entries.retain(|entry| entry.sequence <= signed.what.through);
    then.sign_offs.retain(|one| one.sequence < signed.sequence);
    then
}
