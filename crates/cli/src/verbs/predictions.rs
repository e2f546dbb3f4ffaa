//! `predictions`: how well readings were foretold from the trials before them, and what trials taught.

use crate::answer::{Answer, Failure};
use crate::arguments::{Common, Predictions};
use crate::input::FactsUsed;
use crate::numbers;
use crate::paper::{Lean, Look, Paper};
use crate::shelf::{Shelf, Want, block_on, refused};
use crate::verbs::{USUAL_MARKET, day};
use levigate_measure::Outcome;
use levigate_project::workbench::trials::{
    AttributeForesight, Foreseen, Foresight, flow_book, foresight, gather_bench,
};
use serde::Serialize;

#[derive(Serialize)]
struct Written<'a> {
    #[serde(flatten)]
    foresight: &'a Foresight,
    facts: &'a FactsUsed,
}

/// Lays predictions beside readings.
pub(crate) fn predictions(common: &Common, asked: &Predictions, look: Look) -> Result<Answer, Failure> {
    block_on(async {
        let shelf = Shelf::open(common, &asked.place, Want::Read).await?;
        let only = match &asked.formula {
            Some(name) => Some(shelf.formula(name).await?.id),
            None => None,
        };
        let bench = gather_bench(&shelf.workspace).await.map_err(|error| refused(&error))?;
        let flow = flow_book(&shelf.facts, day(None), USUAL_MARKET, &bench);
        let mut found = foresight(&shelf.facts, &bench, &flow, only);
        if asked.untaught {
            found = found.untaught();
        }
        if common.json {
            return Answer::json(&Written { foresight: &found, facts: &shelf.used });
        }
        Ok(Answer::text(told(&found, look)))
    })
}

fn told(found: &Foresight, look: Look) -> String {
    let mut paper = Paper::new(look);
    let of = found.formula.as_ref().map_or_else(|| "all formulas".to_owned(), Clone::clone);
    paper.title(&format!("How well we predict: {of}"));
    paper.paragraph(0, &found.say);
    for attribute in &found.attributes {
        one(&mut paper, attribute, found.formula.is_none());
    }
    if let Some(next) = &found.next_ph {
        paper.heading("The newest version", "pH, neat, 25 \u{b0}C, as a reading would show it");
        paper.hanging(2, "with what trials taught:", &with_band(&next.taught));
        paper.hanging(2, "from the papers alone:", &with_band(&next.untaught));
        for amount in &next.amounts {
            let words = format!(
                "{} with what trials taught, {} from the papers alone",
                with_band(&amount.taught),
                with_band(&amount.untaught)
            );
            paper.hanging(2, &format!("{} to its pH:", amount.name), &words);
        }
    }
    if !found.ph_numbers.is_empty() {
        paper.heading("What the pH taught", "");
        for number in &found.ph_numbers {
            paper.paragraph(2, &number.words);
        }
    }
    if !found.flow_numbers.is_empty() {
        paper.heading("What viscosities taught", "");
        let rows: Vec<Vec<String>> = found
            .flow_numbers
            .iter()
            .map(|one| {
                vec![
                    format!("{}: {}", one.of, one.number),
                    with_band(&one.before),
                    with_band(&one.after),
                    one.from.join(", "),
                ]
            })
            .collect();
        let heads =
            [("number", Lean::Left), ("before", Lean::Left), ("now", Lean::Left), ("from", Lean::Left)];
        paper.columns(&heads, &rows);
    }
    paper.finish()
}

fn with_band(outcome: &Outcome) -> String {
    numbers::result(outcome, true)
}

fn one(paper: &mut Paper, attribute: &AttributeForesight, with_formula: bool) {
    paper.heading(&attribute.name, &format!("by {}", attribute.by));
    paper.paragraph(2, &attribute.say);
    let errors = [
        ("mean error:", &attribute.mean_error),
        ("without what trials taught:", &attribute.mean_error_untaught),
    ];
    for (words, error) in errors {
        if let Some(error) = error {
            paper.hanging(2, words, &numbers::result(error, true));
        }
    }
    let rows: Vec<Vec<String>> = attribute.entries.iter().map(|entry| row(entry, with_formula)).collect();
    let heads = [
        ("trial", Lean::Left),
        ("as", Lean::Left),
        ("foretold", Lean::Left),
        ("read", Lean::Right),
        ("error", Lean::Right),
        ("in its band", Lean::Left),
    ];
    paper.columns(&heads, &rows);
    // What several trials have in common is said once.
    let mut said: Vec<(&str, Vec<String>)> = Vec::new();
    for entry in attribute.entries.iter().filter(|entry| !entry.words.is_empty()) {
        let trial = trial_of(entry, with_formula);
        match said.iter_mut().find(|(words, _)| *words == entry.words) {
            Some((_, trials)) if trials.contains(&trial) => {}
            Some((_, trials)) => trials.push(trial),
            None => said.push((&entry.words, vec![trial])),
        }
    }
    for (words, trials) in said {
        paper.paragraph(2, &format!("{}: {words}", trials.join(", ")));
    }
}

fn trial_of(entry: &Foreseen, with_formula: bool) -> String {
    if with_formula { format!("{} {}", entry.formula, entry.trial) } else { entry.trial.to_string() }
}

fn row(entry: &Foreseen, with_formula: bool) -> Vec<String> {
    let signed = |outcome: &Outcome| {
        let sign = if outcome.value.is_some_and(|value| value > 0.0) { "+" } else { "" };
        format!("{sign}{}", numbers::result(outcome, true))
    };
    vec![
        trial_of(entry, with_formula),
        entry.how.clone(),
        entry.foretold.as_ref().map(with_band).unwrap_or_default(),
        entry.read.as_ref().map(with_band).unwrap_or_default(),
        entry.error.as_ref().map(signed).unwrap_or_default(),
        match entry.inside {
            Some(true) => "yes",
            Some(false) => "no",
            None => "",
        }
        .to_owned(),
    ]
}
