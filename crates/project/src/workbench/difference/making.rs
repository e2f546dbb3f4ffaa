//! The procedures of two versions side by side: which steps came, went, moved, and what is done otherwise in one.

use super::{Change, Partner, Side, partners};
use crate::batch_sheet::how_in_words;
use levigate_assess::procedure::{Procedure, Step, StepKind};
use serde::Serialize;

/// One step in two versions.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct StepChange {
    /// Number in the older, from 1.
    pub left_number: Option<usize>,
    /// Number in the newer, from 1.
    pub right_number: Option<usize>,
    /// What is done in it, a word of the formula file.
    pub does: StepKind,
    /// What is done, in the older; empty where it is not there.
    pub left: String,
    /// What is done, in the newer.
    pub right: String,
    /// What became of it.
    pub change: Change,
}

/// Steps in the order of the newer; a removed one stands where it was. Empty where a side has no procedure.
pub(super) fn steps(left: &Side, right: &Side) -> Vec<StepChange> {
    let (Some(older), Some(newer)) = (&left.procedure, &right.procedure) else { return Vec::new() };
    let (old_keys, new_keys) = (keys(left, older), keys(right, newer));
    let mut found = partners(&old_keys, &new_keys);
    pair_alike(&mut found, older, newer);
    let gone = |range: std::ops::Range<usize>| {
        range
            .filter(|old| !found.iter().flatten().any(|partner| partner.older == *old))
            .filter_map(|old| Some(removed(older.steps.get(old)?)))
            .collect::<Vec<_>>()
    };
    let mut out = Vec::new();
    let mut reached = 0;
    for (step, partner) in newer.steps.iter().zip(&found) {
        if let Some(partner) = partner.filter(|partner| !partner.moved) {
            out.extend(gone(reached..partner.older));
            reached = partner.older + 1;
        }
        let before = partner.and_then(|partner| older.steps.get(partner.older));
        let (was, is) = (before.map(words).unwrap_or_default(), words(step));
        let change = match partner {
            None => Change::Added,
            Some(_) if was != is => Change::Changed,
            Some(partner) if partner.moved => Change::Moved,
            Some(_) => Change::Same,
        };
        out.push(StepChange {
            left_number: before.map(|step| step.number),
            right_number: Some(step.number),
            does: step.does,
            left: was,
            right: is,
            change,
        });
    }
    out.extend(gone(reached..older.steps.len()));
    out
}

/// What a step is recognised by: its kind, and what goes in, by raw material and premix.
fn keys(side: &Side, procedure: &Procedure) -> Vec<String> {
    procedure
        .steps
        .iter()
        .map(|step| {
            let lines = step.lines.iter().filter_map(|line| side.keys.get(line.line)).map(String::as_str);
            let all = std::iter::once(step.does.word())
                .chain(lines)
                .chain(step.premixes.iter().map(String::as_str));
            all.collect::<Vec<_>>().join("+")
        })
        .collect()
}

/// Steps that are left over on both sides between the same neighbours and of the same kind are one step that changed.
fn pair_alike(found: &mut [Option<Partner>], older: &Procedure, newer: &Procedure) {
    for new in 0..found.len() {
        if found[new].is_some() {
            continue;
        }
        let in_order = |partner: &&Option<Partner>| partner.is_some_and(|partner| !partner.moved);
        let from = found[..new].iter().rev().find(in_order).copied().flatten().map_or(0, |one| one.older + 1);
        let to = found[new..].iter().find(in_order).copied().flatten();
        let to = to.map_or(older.steps.len(), |one| one.older);
        let taken = |old: usize| found.iter().flatten().any(|partner| partner.older == old);
        let alike = |old: &usize| {
            older.steps.get(*old).map(|step| step.does) == newer.steps.get(new).map(|step| step.does)
        };
        let free = (from..to).filter(|old| !taken(*old)).find(alike);
        found[new] = free.map(|older| Partner { older, moved: false });
    }
}

fn removed(step: &Step) -> StepChange {
    StepChange {
        left_number: Some(step.number),
        right_number: None,
        does: step.does,
        left: words(step),
        right: String::new(),
        change: Change::Removed,
    }
}

/// What is done in a step and how, as the batch sheet says it.
fn words(step: &Step) -> String {
    let mut words = step.note.clone().unwrap_or_else(|| step.instruction.clone());
    let how = how_in_words(step);
    if !how.is_empty() {
        words.push_str(&format!(" ({how})"));
    }
    for check in &step.checks {
        words.push_str(&format!(" Look: {check}"));
    }
    words
}
