//! What is due when: every pull of every study with its window, what was read of it, and what is missing.

use super::practice::StudyPractice;
use super::{StudyRecords, gather_studies};
use crate::records::{PlannedPull, START};
use crate::store::StoreError;
use crate::workspace::Workspace;
use jiff::ToSpan as _;
use jiff::civil::{Date, Weekday};
use serde::Serialize;

/// How a pull stands on a day.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum PullState {
    /// Its window is over and something of it is not read.
    Overdue,
    /// Its window is open.
    Due,
    /// It comes.
    Coming,
    /// All of it is read.
    Read,
}

/// A pull of a study.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct StudyPull {
    /// Condition, or `start`.
    pub condition: String,
    /// The time in words: `13 weeks`, `start`.
    pub pull: String,
    /// The day it is due.
    pub due: Date,
    /// First day of its window.
    pub from: Date,
    /// Last day of its window.
    pub to: Date,
    /// The day of the week where it is no working day; it is not moved by itself.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub weekend: Option<&'static str>,
    /// How it stands.
    pub state: PullState,
    /// In words.
    pub words: String,
    /// Readings that belong to it.
    pub wanted: usize,
    /// Those that are there.
    pub read: usize,
}

/// A pull in the calendar of all studies.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct DuePull {
    /// The study, by its first record.
    pub study: String,
    /// Its number.
    pub number: u32,
    /// Its name.
    pub name: String,
    /// The formula.
    pub formula: String,
    /// The pull.
    #[serde(flatten)]
    pub pull: StudyPull,
}

/// Whether two names of a condition and a time are those of a reading's place.
fn window(start: Date, pull: PlannedPull) -> (Date, Date, Date) {
    let due = pull.due(start);
    let days = i64::from(StudyPractice::shipped().window_days(pull.days()));
    let days = if pull == PlannedPull::START { 0 } else { days };
    let moved = |by: i64| due.checked_add(by.days()).unwrap_or(due);
    (due, moved(-days), moved(days))
}

/// How early or late a sample was pulled, where it was outside its window.
pub(super) fn late_words(start: Date, pull: PlannedPull, on: Date) -> String {
    let (due, from, to) = window(start, pull);
    let days = (on - due).get_days();
    let many = |days: i32| if days == 1 { "1 day".to_owned() } else { format!("{days} days") };
    if on < from {
        format!("{} early", many(-days))
    } else if on > to {
        format!("{} late", many(days))
    } else {
        String::new()
    }
}

/// All pulls of a study in the order they are due.
pub(super) fn pulls_of(records: &StudyRecords, today: Date) -> Vec<StudyPull> {
    let plan = records.plan();
    let wanted = plan.batches.len() * plan.packs.len() * plan.attributes.len();
    let planned = plan
        .conditions
        .iter()
        .flat_map(|condition| condition.pulls.iter().map(|pull| (condition.name.as_str(), *pull)));
    let mut pulls: Vec<StudyPull> = std::iter::once((START, PlannedPull::START))
        .chain(planned)
        .map(|(condition, pull)| {
            let read = records
                .counted()
                .filter(|kept| kept.what.condition == condition && kept.what.pull == Some(pull))
                .count();
            let (due, from, to) = window(plan.start, pull);
            let state = if read >= wanted {
                PullState::Read
            } else if today > to {
                PullState::Overdue
            } else if today >= from {
                PullState::Due
            } else {
                PullState::Coming
            };
            let weekend = match due.weekday() {
                Weekday::Saturday => Some("Saturday"),
                Weekday::Sunday => Some("Sunday"),
                _ => None,
            };
            let words = words((state, today), (due, to), (read, wanted));
            let (condition, pull) = (condition.to_owned(), pull.to_string());
            StudyPull { condition, pull, due, from, to, weekend, state, words, wanted, read }
        })
        .collect();
    pulls.sort_by_key(|pull| pull.due);
    pulls
}

fn words(
    (state, today): (PullState, Date),
    (due, to): (Date, Date),
    (read, wanted): (usize, usize),
) -> String {
    let days = (due - today).get_days();
    let many = |days: i32| if days == 1 { "1 day".to_owned() } else { format!("{days} days") };
    let part = if read > 0 && read < wanted { format!("; {read} of {wanted} read") } else { String::new() };
    let stands = match state {
        PullState::Read => return "all read".to_owned(),
        PullState::Overdue => format!("overdue by {}", many(-days)),
        PullState::Due if days == 0 => "due today".to_owned(),
        PullState::Due if days > 0 => format!("due in {}, may be pulled now", many(days)),
        PullState::Due => format!("due {} ago, may be pulled until {to}", many(-days)),
        PullState::Coming => format!("due in {}", many(days)),
    };
    stands + &part
}

/// What is overdue, due now, and comes within so many days, over all studies that were not given up; earliest first.
///
/// # Errors
/// The workspace cannot be read.
pub async fn due_pulls(
    workspace: &Workspace,
    today: Date,
    days_ahead: i64,
) -> Result<Vec<DuePull>, StoreError> {
    let until = today.checked_add(days_ahead.days()).unwrap_or(today);
    let mut due = Vec::new();
    for records in gather_studies(workspace).await? {
        if records.plan().withdrawn {
            continue;
        }
        for pull in pulls_of(&records, today) {
            let listed = match pull.state {
                PullState::Overdue | PullState::Due => true,
                PullState::Coming => pull.due <= until,
                PullState::Read => false,
            };
            if listed {
                due.push(DuePull {
                    study: records.root().id.to_string(),
                    number: records.root().number,
                    name: records.plan().name.clone(),
                    formula: records.formula.what.name.clone(),
                    pull,
                });
            }
        }
    }
    due.sort_by(|one, other| one.pull.due.cmp(&other.pull.due).then(one.number.cmp(&other.number)));
    Ok(due)
}
