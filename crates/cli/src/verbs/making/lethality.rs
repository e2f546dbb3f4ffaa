//! `lethality`: what a hold does to microbes.

use crate::answer::{Answer, Failure};
use crate::arguments::{Common, RecordedFile};
use crate::numbers;
use crate::paper::{Lean, Look, Paper};
use crate::verbs::tables::{notes, results};
use levigate_measure::Outcome;
use levigate_project::workbench::making::lethality::{self as of, Kind, LethalityReading, OrganismReading};

/// Answers.
pub(crate) fn lethality(common: &Common, asked: &RecordedFile, look: Look) -> Result<Answer, Failure> {
    let logged = super::logged(asked)?;
    super::answer(
        common,
        &asked.question,
        look,
        |facts, input| of::lethality(facts, input.pair(), logged.as_ref()),
        page,
    )
}

pub(crate) fn page(paper: &mut Paper, reading: &LethalityReading) {
    paper.title("What the hold does to microbes");
    results(paper, &[("time of the record", &reading.time), ("hottest", &reading.hottest)]);
    paper.heading("Units of heat treatment", "minutes at their temperature that do the same");
    let rows: Vec<(&str, &Outcome)> =
        reading.units.iter().map(|unit| (unit.name.as_str(), &unit.units)).collect();
    results(paper, &rows);
    for kind in [Kind::Vegetative, Kind::FungalSpores, Kind::BacterialSpores] {
        let of_kind: Vec<&OrganismReading> =
            reading.organisms.iter().filter(|organism| organism.kind == kind).collect();
        if of_kind.is_empty() {
            continue;
        }
        paper.heading(&heading(kind), "tenfold reductions, from the most to the least resistant reported");
        let rows: Vec<_> = of_kind.iter().map(|organism| organism_row(organism)).collect();
        paper.columns(&HEADS, &rows);
        if let Some(why) = of_kind.iter().find_map(|organism| organism.log_reduction.refused.as_ref()) {
            paper.hanging(2, "no value:", why);
        }
        notes(paper, of_kind.iter().flat_map(|organism| &organism.log_reduction.notes));
    }
    paper.heading("Mind", "");
    notes(paper, &reading.notes);
}

const HEADS: [(&str, Lean); 5] = [
    ("", Lean::Left),
    ("log10", Lean::Right),
    ("interval", Lean::Left),
    ("D measured at", Lean::Left),
    ("evidence", Lean::Left),
];

fn organism_row(organism: &OrganismReading) -> Vec<String> {
    let reduction = &organism.log_reduction;
    let value = reduction.value.map(|value| numbers::value(value, reduction.low, reduction.high));
    vec![
        organism.organism.clone(),
        value.unwrap_or_else(|| "–".to_owned()),
        numbers::interval(reduction).unwrap_or_default(),
        organism.measured_at.clone(),
        numbers::grade(reduction),
    ]
}

fn heading(kind: Kind) -> String {
    let words = kind.words();
    let mut letters = words.chars();
    letters
        .next()
        .map_or_else(String::new, |first| first.to_uppercase().collect::<String>() + letters.as_str())
}
