//! `shelf-life`: how long an attribute stays within its limits.

use crate::answer::{Answer, Failure};
use crate::arguments::{Common, QuestionOrTable};
use crate::numbers;
use crate::paper::{Lean, Look, Paper};
use crate::verbs::proof::answer_of;
use crate::verbs::tables::{notes, results};
use levigate_measure::Outcome;
use levigate_measure::distribution::Sides;
use levigate_project::workbench::proof::shelf_life::{self as of, Model, ShelfLifeReading, TestReading};

/// Answers.
pub(crate) fn shelf_life(common: &Common, asked: &QuestionOrTable, look: Look) -> Result<Answer, Failure> {
    let question = (asked.file.as_path(), asked.with.as_slice());
    answer_of(common, question, look, of::shelf_life, page)
}

const HEADS: [(&str, Lean); 6] = [
    ("batch", Lean::Left),
    ("readings", Lean::Right),
    ("start", Lean::Right),
    ("per month", Lean::Right),
    ("leaves", Lean::Right),
    ("alone", Lean::Right),
];

pub(crate) fn page(paper: &mut Paper, reading: &ShelfLifeReading) {
    paper.title(&format!("How long it keeps: {}", reading.attribute));
    if !reading.condition.is_empty() {
        paper.paragraph(2, &format!("kept at {}", reading.condition));
    }
    paper.gap();
    match reading.stated.value {
        Some(months) => paper.hanging(
            2,
            &format!("{months} months"),
            "may be stated by these data under the rule named below",
        ),
        None => paper.hanging(2, "nothing", reading.stated.refused.as_deref().unwrap_or("may be stated")),
    }
    if let Some(wanted) = &reading.wanted {
        let months = wanted.months.value.unwrap_or_default();
        paper.hanging(2, &format!("{months} months wanted:"), &wanted.words);
    }
    paper.heading("What bounds it", "the earlier of the two, in whole months");
    results(
        paper,
        &[("the confidence limit leaves", &reading.leaves), ("reach beyond the data", &reading.reach)],
    );
    notes(paper, &reading.stated.notes);
    let sides = match reading.sides {
        Sides::One => "one-sided limits of the mean",
        Sides::Two => "two-sided limits of the mean",
    };
    paper.heading("Batches", &format!("{}; {sides}", words_of(reading.model)));
    let rows: Vec<Vec<String>> = reading
        .batches
        .iter()
        .map(|batch| {
            let short = |outcome: &Outcome| {
                outcome
                    .value
                    .map_or_else(|| "–".to_owned(), |value| numbers::value(value, outcome.low, outcome.high))
            };
            let name = batch.batch.clone();
            let readings = batch.readings.value.unwrap_or_default().to_string();
            let [leaves, alone] = [&batch.leaves, &batch.leaves_alone].map(short);
            vec![name, readings, short(&batch.start), short(&batch.slope), leaves, alone]
        })
        .collect();
    paper.columns(&HEADS, &rows);
    notes(paper, reading.batches.iter().flat_map(|batch| &batch.slope.notes));
    let mut tests: Vec<(&str, &Outcome)> = Vec::new();
    for (name, test) in [("slopes differ", &reading.slopes), ("heights differ", &reading.heights)] {
        tests.extend(test.iter().map(|TestReading { beyond, .. }| (name, beyond)));
    }
    tests.push(("lines are straight", &reading.lack_of_fit));
    tests.extend(reading.furthest.iter().map(|furthest| ("furthest reading, by chance", &furthest.chance)));
    paper.heading("Asked of the data", "probability of what was seen where there is nothing to see");
    results(paper, &tests);
    if let Some(furthest) = reading.furthest.as_ref().filter(|furthest| furthest.apart) {
        let words = format!(
            "{} at {} months of {}: {}",
            numbers::result(&furthest.value, true),
            numbers::result(&furthest.months, false),
            furthest.batch,
            "it stands apart from its line"
        );
        paper.hanging(2, "reading:", &words);
    }
    paper.heading("Mind", "");
    notes(paper, &reading.notes);
}

fn words_of(model: Model) -> &'static str {
    match model {
        Model::OneLine => "one line for all",
        Model::OneSlope => "one slope, each its own height",
        Model::OwnLines => "each its own line, one scatter for all",
    }
}
