//! `arrhenius`: how fast a content is lost at several temperatures.

use crate::answer::{Answer, Failure};
use crate::arguments::{Common, QuestionOrTable};
use crate::paper::{Look, Paper};
use crate::verbs::proof::answer_of;
use crate::verbs::tables::{notes, results};
use levigate_measure::Outcome;
use levigate_project::workbench::proof::arrhenius::{self as of, DecayReading, LawReading, Order};

/// Answers.
pub(crate) fn arrhenius(common: &Common, asked: &QuestionOrTable, look: Look) -> Result<Answer, Failure> {
    let question = (asked.file.as_path(), asked.with.as_slice());
    answer_of(common, question, look, |_, input, with| of::arrhenius(input, with), page)
}

pub(crate) fn page(paper: &mut Paper, reading: &DecayReading) {
    paper.title(&format!("How fast it is lost: {}", reading.attribute));
    for law in &reading.laws {
        one(paper, law);
    }
    paper.heading("Mind", "");
    notes(paper, &reading.notes);
}

fn one(paper: &mut Paper, law: &LawReading) {
    let words = match law.order {
        Order::Zero => "the same amount in the same time",
        Order::First => "the same share in the same time",
        Order::Second => "with the square of what is left",
    };
    paper.heading(&format!("{} order", word(law.order)), words);
    let mut rows: Vec<(String, &Outcome)> = vec![
        ("start".to_owned(), &law.start),
        ("activation energy".to_owned(), &law.energy),
        ("the same by two steps".to_owned(), &law.energy_by_steps),
        ("scatter of one reading".to_owned(), &law.scatter),
        ("the law holds".to_owned(), &law.bend),
    ];
    for own in &law.rates {
        rows.push((format!("rate at {} C by itself", plain(&own.temperature)), &own.rate));
    }
    for stored in &law.stored {
        let at = plain(&stored.temperature);
        rows.push((format!("rate at {at} C by the law"), &stored.rate));
        rows.extend(stored.time_to_limit.iter().map(|time| (format!("down to the limit at {at} C"), time)));
        rows.push((format!("ten kelvin above {at} C, times"), &stored.ten_kelvin));
    }
    rows.extend(law.seasons.iter().map(|seasons| ("steady temperature of the seasons".to_owned(), seasons)));
    let named: Vec<(&str, &Outcome)> = rows.iter().map(|(name, outcome)| (name.as_str(), *outcome)).collect();
    results(paper, &named);
}

/// A temperature as it was typed.
fn plain(outcome: &Outcome) -> String {
    outcome.value.map_or_else(String::new, |value| value.to_string())
}

fn word(order: Order) -> &'static str {
    match order {
        Order::Zero => "Zero",
        Order::First => "First",
        Order::Second => "Second",
    }
}
