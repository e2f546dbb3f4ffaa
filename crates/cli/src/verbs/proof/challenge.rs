//! `challenge`: a challenge test held against the criteria of standards.

use crate::answer::{Answer, Failure};
use crate::arguments::{Common, MakingFile};
use crate::numbers;
use crate::paper::{Lean, Look, Paper};
use crate::verbs::making::answer;
use crate::verbs::tables::{notes, results};
use levigate_measure::Outcome;
use levigate_project::workbench::proof::challenge::{
    self as of, Cell, ChallengeReading, Dying, Judged, Says,
};

/// Answers.
pub(crate) fn challenge(common: &Common, asked: &MakingFile, look: Look) -> Result<Answer, Failure> {
    answer(common, asked, look, |facts, input| of::challenge(facts, input.pair()), page)
}

const HEADS: [(&str, Lean); 5] = [
    ("organism", Lean::Left),
    ("day", Lean::Right),
    ("asked", Lean::Left),
    ("found, log10", Lean::Right),
    ("says", Lean::Left),
];

fn page(paper: &mut Paper, reading: &ChallengeReading) {
    let title = if reading.title.is_empty() { String::new() } else { format!(": {}", reading.title) };
    paper.title(&format!("Challenge test{title}"));
    for judged in &reading.criteria {
        paper.hanging(2, &format!("{}:", word(judged.says)), &judged.verdict);
    }
    for judged in &reading.criteria {
        one(paper, judged);
    }
    paper.heading("How fast they die", "hours for one tenth to survive");
    let rows: Vec<(&str, &Outcome)> =
        reading.dying.iter().map(|one| (one.organism.as_str(), &one.d)).collect();
    results(paper, &rows);
    paper.heading("When a thousandth is left", "hours, by the straight line and by a line with one bend");
    let beside: Vec<Vec<String>> = reading.dying.iter().map(thousandth).collect();
    paper.columns(&LINES, &beside);
    for one in &reading.dying {
        paper.hanging(2, &format!("{}:", one.organism), &one.bend.words);
    }
    paper.heading("Mind", "");
    notes(paper, &reading.notes);
}

fn one(paper: &mut Paper, judged: &Judged) {
    let decided = if judged.decided_by.is_empty() {
        String::new()
    } else {
        format!("decided by {}", judged.decided_by.join("; "))
    };
    paper.heading(&format!("{}, {}", judged.standard, judged.words), &decided);
    paper.columns(&HEADS, &judged.cells.iter().map(row).collect::<Vec<_>>());
    notes(paper, &judged.notes);
}

const LINES: [(&str, Lean); 4] = [
    ("organism", Lean::Left),
    ("straight, h", Lean::Right),
    ("with one bend, h", Lean::Right),
    ("shape", Lean::Right),
];

fn thousandth(one: &Dying) -> Vec<String> {
    let cell = |outcome: &Outcome| match outcome.value {
        Some(value) => {
            let value = numbers::value(value, outcome.low, outcome.high);
            match numbers::interval(outcome) {
                Some(interval) => format!("{value} ({interval})"),
                None => value,
            }
        }
        None => "\u{2013}".to_owned(),
    };
    vec![one.organism.clone(), cell(&one.three_log), cell(&one.bend.three_log), cell(&one.bend.shape)]
}

fn row(cell: &Cell) -> Vec<String> {
    let found = cell.found.value.map(|value| {
        let mark = match (cell.found.low, cell.found.high) {
            (Some(_), None) => "\u{2265} ",
            (None, Some(_)) => "\u{2264} ",
            _ => "",
        };
        format!("{mark}{}", numbers::value(value, Some(value - 0.05), Some(value + 0.05)))
    });
    let beside = cell.by_the_other_reading.map(|other| format!(" (by the other reading: {})", word(other)));
    vec![
        cell.organism.clone(),
        cell.day.to_string(),
        cell.asked.clone(),
        found.unwrap_or_else(|| "\u{2013}".to_owned()),
        format!("{}{}", word(cell.says), beside.unwrap_or_default()),
    ]
}

fn word(says: Says) -> &'static str {
    match says {
        Says::Met => "met",
        Says::NotCounted => "not counted",
        Says::Undecided => "cannot decide",
        Says::NotShown => "not shown",
        Says::NotMet => "not met",
        Says::NotValid => "not valid",
    }
}
