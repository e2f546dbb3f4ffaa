//! Decisions about a lot: whether it may be used, by whom that may be said, and why.

use super::root_of;
use crate::people::{Denied, Hand, Right};
use crate::records::{Id, Kept, Lot, LotStatus, Status};
use crate::workbench::keeping::{Form, TypedDevice, keep_sent, short};
use crate::workbench::people::PeopleError;
use crate::workspace::{KeptOnce, Workspace};
use serde::{Deserialize, Serialize};

/// A decision about a lot as typed.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct TypedStatus {
    /// Identity and moment from the device.
    #[serde(flatten)]
    pub device: TypedDevice,
    /// `quarantine`, `released`, `rejected` or `used_up`.
    pub status: String,
    /// Why.
    pub reason: String,
}

/// Whether somebody may decide this about a lot of which that was decided last.
///
/// Anybody who enters work may say that a lot waits or that nothing is left of it. Releasing and rejecting is for those who may judge
/// lots, and so is every step out of rejected: else a lot that was turned down comes back by way of the quarantine.
///
/// # Errors
/// They may not; the refusal says who may.
pub fn may_decide(hand: &Hand, before: Option<Status>, status: Status) -> Result<(), Denied> {
    let judges = matches!(status, Status::Released | Status::Rejected) || before == Some(Status::Rejected);
    hand.may(if judges { Right::JudgeLots } else { Right::Enter })
}

/// Keeps a decision about a lot, once, however often a device sends it.
///
/// # Errors
/// Whoever decides may not, what was typed cannot be kept, another record has its identity, there is no such lot, or the workspace
/// refused.
pub async fn decide_lot(
    workspace: &Workspace,
    hand: &Hand,
    lot: Id<Lot>,
    typed: &TypedStatus,
) -> Result<KeptOnce<LotStatus>, PeopleError> {
    let mut form = Form::default();
    let root = root_of(workspace, lot).await?;
    let (id, from) = form.sent(&typed.device, root.uuid(), typed, None);
    let status = Status::from_word(typed.status.trim());
    if status.is_none() {
        let what = format!("\"{}\" is no status of a lot", short(&typed.status));
        let why = "a lot waits, may be used, may not, or is used up";
        form.fault("status", &what, why, "choose quarantine, released, rejected or used_up");
    }
    let why = "whoever takes the lot must know what the decision rests on";
    let reason = form.needed("reason", &typed.reason, why, "write why in a few words");
    let status = form.done(status)?.unwrap_or(Status::Quarantine);
    let decided: Vec<Kept<LotStatus>> = workspace.of(root).await?;
    // What is sent again is judged by what stood before it, not by itself.
    let earlier = decided.iter().take_while(|kept| Some(kept.id) != id).last();
    may_decide(hand, earlier.map(|kept| kept.what.status), status)?;
    let decided = LotStatus { lot: root, status, reason, from };
    let workspace = workspace.known(hand.how);
    Ok(keep_sent(&workspace, &hand.name, id, (decided, None), |decided| &decided.from).await?)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::records::Role;

    #[test]
    fn the_bench_never_moves_a_rejected_lot() {
        let bench = Hand { role: Role::Bench, ..Hand::initialled("Ivo Stone") };
        let waits = [Status::Quarantine, Status::UsedUp];
        for before in [None, Some(Status::Quarantine), Some(Status::Released), Some(Status::UsedUp)] {
            for status in waits {
                assert!(may_decide(&bench, before, status).is_ok(), "{before:?} {status:?}");
            }
            for status in [Status::Released, Status::Rejected] {
                assert!(may_decide(&bench, before, status).is_err(), "{before:?} {status:?}");
            }
        }
        for (status, word) in Status::ALL {
            let denied = may_decide(&bench, Some(Status::Rejected), status).unwrap_err();
            let told = "Ivo Stone has the role bench; only a reviewer or an admin may release or reject a lot, or \
                        take a rejected one up again";
            assert_eq!(denied.to_string(), told, "{word}");
            for role in [Role::Reviewer, Role::Admin] {
                let hand = Hand { role, ..bench.clone() };
                assert!(may_decide(&hand, Some(Status::Rejected), status).is_ok(), "{role} {word}");
            }
        }
        // Where nobody logs in, whoever works alone decides.
        let alone = Hand::initialled("Quillfen Laboratory");
        assert!(may_decide(&alone, Some(Status::Rejected), Status::Released).is_ok());
    }
}
