//! `challenge`: a challenge test held against the criteria of standards, handed in or kept with a formula.

use crate::answer::{Answer, Failure};
use crate::arguments::{ChallengeAsked, Common};
use crate::input::FactsUsed;
use crate::numbers;
use crate::paper::{Lean, Look, Paper};
use crate::shelf::{Shelf, Want, block_on, refused};
use crate::verbs::proof::answer_of;
use crate::verbs::tables::{notes, results};
use levigate_measure::Outcome;
use levigate_project::workbench::challenge_tests::{
    ChallengeBook, ChallengeRead, challenge_book, gather_challenge,
};
use levigate_project::workbench::proof::challenge::{
    self as of, Cell, ChallengeReading, Dying, Judged, Says,
};
use serde::Serialize;

/// Answers.
pub(crate) fn challenge(common: &Common, asked: &ChallengeAsked, look: Look) -> Result<Answer, Failure> {
    match (&asked.kept, &asked.file) {
        (Some(formula), _) => kept(common, asked, formula, look),
        (None, Some(file)) => answer_of(common, (file, &asked.with), look, of::challenge, page),
        (None, None) => Err(Failure::bad_option(
            "no-counts",
            "FILE",
            "there are no counts".to_owned(),
            "name a file, or --kept with a formula",
        )),
    }
}

#[derive(Serialize)]
struct Kept<'a> {
    #[serde(flatten)]
    book: &'a ChallengeBook,
    facts: &'a FactsUsed,
}

fn kept(common: &Common, asked: &ChallengeAsked, formula: &str, look: Look) -> Result<Answer, Failure> {
    block_on(async {
        let shelf = Shelf::open(common, &asked.place, Want::Read).await?;
        let formula = shelf.formula(formula).await?;
        let records =
            gather_challenge(&shelf.workspace, formula.id).await.map_err(|error| refused(&error))?;
        let mut book = challenge_book(&shelf.facts, &records);
        if let Some(number) = asked.test {
            book.tests.retain(|test| test.number == number);
            if book.tests.is_empty() {
                return Err(Failure::bad_option(
                    "not-in-workspace",
                    "--test",
                    format!("{} has no challenge test {number}", book.name),
                    "leave --test out to see all of them",
                ));
            }
        }
        if common.json {
            return Answer::json(&Kept { book: &book, facts: &shelf.used });
        }
        let mut paper = Paper::new(look);
        match book.tests.as_slice() {
            [test] if asked.test.is_some() => one_kept(&mut paper, test),
            tests => list(&mut paper, &book.name, tests),
        }
        Ok(Answer::text(paper.finish()))
    })
}

fn list(paper: &mut Paper, name: &str, tests: &[ChallengeRead]) {
    paper.title(&format!("Challenge tests of {name}"));
    if tests.is_empty() {
        paper.paragraph(0, "None yet. levigate enter challenge keeps one, or the page of the formula.");
    }
    for test in tests {
        paper.heading(&format!("{}  {}", test.number, test.test.sample), "");
        paper.paragraph(2, &of_test(test));
        match &test.reading {
            Some(reading) => {
                for judged in &reading.criteria {
                    paper.hanging(2, &format!("{}:", word(judged.says)), &judged.verdict);
                }
            }
            None => paper.paragraph(2, &struck(test)),
        }
    }
}

/// Version, trial, day and laboratory.
fn of_test(test: &ChallengeRead) -> String {
    let mut words = vec![format!("version {}", test.test.version)];
    words.extend(test.trial_number.map(|number| format!("trial {number}")));
    words.extend(test.test.started.map(|day| format!("inoculated {day}")));
    words.extend(Some(test.test.laboratory.clone()).filter(|text| !text.is_empty()));
    words.join(", ")
}

fn struck(test: &ChallengeRead) -> String {
    match &test.struck {
        Some(struck) => format!("struck out: {}", struck.reason),
        None => "taken back".to_owned(),
    }
}

fn one_kept(paper: &mut Paper, test: &ChallengeRead) {
    match &test.reading {
        Some(reading) => page(paper, reading),
        None => {
            paper.title(&test.test.sample);
            paper.paragraph(0, &struck(test));
        }
    }
    paper.paragraph(0, &of_test(test));
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
