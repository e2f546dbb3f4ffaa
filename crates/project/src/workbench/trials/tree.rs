//! The trials of a formula as a tree: which came from which, laid out so that a line of trials stays in one lane and a side line stands beside it.
//!
//! A trial stands below the one it was copied from. One that was copied from none stands below the last earlier trial of its own version, else
//! of the versions that was edited from, and the tie says so: that is derived, nobody wrote it.

use super::beside::Stands;
use super::book::{Read, TrialView, VersionBrief};
use serde::Serialize;
use std::collections::BTreeMap;

/// How a trial hangs on the one above it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Tie {
    /// It is the first of its line.
    First,
    /// It was copied from it.
    Copied,
    /// Its version is the same, or was edited from the version of it.
    ByVersion,
}

/// How the readings of a trial stand to what was predicted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// Nothing was read.
    Unread,
    /// Nothing that was read can be held against a prediction.
    NotCompared,
    /// All inside.
    Inside,
    /// Some below, none above.
    Below,
    /// Some above, none below.
    Above,
    /// Some below, some above.
    Both,
}

impl Verdict {
    /// A sign of a shape of its own.
    #[must_use]
    pub fn sign(self) -> char {
        match self {
            Self::Unread => '○',
            Self::NotCompared => '◇',
            Self::Inside => '●',
            Self::Below => '▼',
            Self::Above => '▲',
            Self::Both => '◆',
        }
    }
}

/// One trial in the tree. The nodes stand in the order in which they are drawn from top to bottom.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct TreeNode {
    /// Number of the trial.
    pub number: u32,
    /// Version that was made.
    pub version: u32,
    /// The day it was made, ISO.
    pub made: String,
    /// Number of the trial above it.
    pub parent: Option<u32>,
    /// How it hangs on it.
    pub tie: Tie,
    /// Lane, from 0 on the left.
    pub lane: usize,
    /// Lanes further left whose line passes it by.
    pub passes: Vec<usize>,
    /// Whether a side line begins with it.
    pub branches: bool,
    /// Whether another trial hangs on it.
    pub goes_on: bool,
    /// What changed, in one line.
    pub says: String,
    /// How its readings stand.
    pub verdict: Verdict,
    /// The same in words.
    pub verdict_words: String,
}

/// Lays the trials out as a tree, those begun first first.
pub(super) fn tree(trials: &[TrialView], versions: &[VersionBrief]) -> Vec<TreeNode> {
    let ties: Vec<(Option<usize>, Tie)> = (0..trials.len()).map(|at| above(at, trials, versions)).collect();
    let mut below: BTreeMap<Option<usize>, Vec<usize>> = BTreeMap::new();
    for (at, (parent, _)) in ties.iter().enumerate() {
        below.entry(*parent).or_default().push(at);
    }
    // A trial stands below an earlier one only, so the newest trial of a line is known once all behind it are gone through.
    let mut newest: Vec<usize> = (0..trials.len()).collect();
    for at in (0..trials.len()).rev() {
        if let Some(parent) = ties[at].0 {
            newest[parent] = newest[parent].max(newest[at]);
        }
    }
    let none = Vec::new();
    let mut order: Vec<(usize, usize, bool)> = Vec::new();
    let mut waiting: Vec<(usize, usize, bool)> =
        below.get(&None).unwrap_or(&none).iter().rev().map(|root| (*root, 0, false)).collect();
    while let Some((at, lane, branches)) = waiting.pop() {
        order.push((at, lane, branches));
        let children = below.get(&Some(at)).unwrap_or(&none);
        // The line that still lives goes on in the lane of its parent, behind all that left it.
        let main = children.iter().copied().max_by_key(|child| newest[*child]);
        waiting.extend(main.map(|main| (main, lane, false)));
        let side = children.iter().rev().filter(|child| Some(**child) != main);
        waiting.extend(side.map(|child| (*child, lane + 1, true)));
    }
    let place: BTreeMap<usize, usize> = order.iter().enumerate().map(|(row, (at, ..))| (*at, row)).collect();
    let mut passes: Vec<Vec<usize>> = vec![Vec::new(); order.len()];
    for (row, (at, lane, branches)) in order.iter().enumerate() {
        let Some(above) = ties[*at].0.and_then(|parent| place.get(&parent)).filter(|_| !branches) else {
            continue;
        };
        (above + 1..row).for_each(|between| passes[between].push(*lane));
    }
    order
        .iter()
        .zip(passes)
        .map(|((at, lane, branches), mut passes)| {
            passes.sort_unstable();
            let (trial, (parent, tie)) = (&trials[*at], ties[*at]);
            let (verdict, verdict_words) = verdict(&trial.readings);
            TreeNode {
                number: trial.number,
                version: trial.version,
                made: trial.made.clone(),
                parent: parent.map(|parent| trials[parent].number),
                tie,
                lane: *lane,
                passes,
                branches: *branches,
                goes_on: below.contains_key(&Some(*at)),
                says: says(trial, versions, tie),
                verdict,
                verdict_words,
            }
        })
        .collect()
}

/// The trial above one, and how it hangs on it.
fn above(at: usize, trials: &[TrialView], versions: &[VersionBrief]) -> (Option<usize>, Tie) {
    let earlier = &trials[..at];
    if let Some(parent) = trials[at].parent
        && let Some(found) = earlier.iter().position(|other| other.number == parent)
    {
        return (Some(found), Tie::Copied);
    }
    let mut version = Some(trials[at].version);
    // A version is edited from an older one, so this ends.
    while let Some(number) = version {
        if let Some(found) = earlier.iter().rposition(|other| other.version == number) {
            return (Some(found), Tie::ByVersion);
        }
        let brief = versions.iter().find(|brief| brief.version == number);
        version = brief.and_then(|brief| brief.parent).filter(|parent| *parent < number);
    }
    (None, Tie::First)
}

fn says(trial: &TrialView, versions: &[VersionBrief], tie: Tie) -> String {
    if !trial.changed.is_empty() {
        return trial.changed.clone();
    }
    if tie == Tie::Copied {
        let mut changes = trial.changes.iter().map(|change| {
            let or = |text: &str| if text.is_empty() { "nothing" } else { text }.to_owned();
            format!("{}: {} instead of {}", change.what, or(&change.now), or(&change.was))
        });
        let first = changes.next().unwrap_or_else(|| "the same again".to_owned());
        return match changes.count() {
            0 => first,
            1 => format!("{first}; one more"),
            more => format!("{first}; {more} more"),
        };
    }
    let reason =
        versions.iter().find(|brief| brief.version == trial.version).map(|brief| brief.reason.as_str());
    match reason.filter(|reason| !reason.is_empty()) {
        Some(reason) => format!("version {}: {reason}", trial.version),
        None => format!("version {}", trial.version),
    }
}

/// How the readings that stand on a trial stand to what was predicted.
fn verdict(readings: &[Read]) -> (Verdict, String) {
    let stand: Vec<(&str, Stands)> =
        readings.iter().filter_map(|read| Some((read.name.as_str(), read.beside.as_ref()?.stands))).collect();
    let of = |wanted: Stands| {
        let mut names: Vec<&str> =
            stand.iter().filter(|(_, stands)| *stands == wanted).map(|(name, _)| *name).collect();
        names.dedup();
        names
    };
    let (below, above, inside) = (of(Stands::Below), of(Stands::Above), of(Stands::Inside));
    let verdict = match (stand.is_empty(), below.is_empty(), above.is_empty(), inside.is_empty()) {
        (true, ..) => Verdict::Unread,
        (_, true, true, true) => Verdict::NotCompared,
        (_, true, true, false) => Verdict::Inside,
        (_, false, true, _) => Verdict::Below,
        (_, true, false, _) => Verdict::Above,
        (_, false, false, _) => Verdict::Both,
    };
    let words = match verdict {
        Verdict::Unread => "nothing read".to_owned(),
        Verdict::NotCompared => "read, but nothing a prediction can be held against".to_owned(),
        _ => {
            let parts = [("below", below), ("above", above), ("inside", inside)];
            let told = parts.into_iter().filter(|(_, names)| !names.is_empty());
            told.map(|(word, names)| format!("{} {word}", names.join(", "))).collect::<Vec<_>>().join("; ")
        }
    };
    (verdict, words)
}
