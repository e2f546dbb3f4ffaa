//! `heat`: how long a batch takes to warm and to cool.

use crate::answer::{Answer, Failure};
use crate::arguments::{Common, MakingFile};
use crate::numbers;
use crate::paper::{Lean, Look, Paper};
use crate::verbs::tables::{notes, results};
use levigate_measure::Outcome;
use levigate_project::workbench::making::heat::{self as of, HeatReading, StageReading};

/// Answers.
pub(crate) fn heat(common: &Common, asked: &MakingFile, look: Look) -> Result<Answer, Failure> {
    super::answer(common, asked, look, |facts, input| of::heat(facts, input.pair()), page)
}

fn page(paper: &mut Paper, reading: &HeatReading) {
    paper.title("Warming, holding, cooling");
    results(
        paper,
        &[
            ("it boils at", &reading.boils),
            ("distance to boiling", &reading.margin),
            ("comes to in the end", &reading.reachable),
        ],
    );
    stage(paper, "Warming", &reading.heat_up);
    let hints: Vec<(&str, &Outcome)> =
        [("overshoot, switched off at the goal", &reading.overshoot), ("switch off at", &reading.switch_off)]
            .into_iter()
            .filter_map(|(name, outcome)| outcome.as_ref().map(|outcome| (name, outcome)))
            .collect();
    if !hints.is_empty() {
        results(paper, &hints);
    }
    stage(paper, "Holding", &reading.hold);
    if let Some(cooling) = &reading.cool_down {
        stage(paper, "Cooling", cooling);
    }
    for medium in &reading.medium {
        paper.heading("What flows through the jacket", medium.does);
        results(
            paper,
            &[
                ("units of transfer", &medium.transfer_units),
                ("gives of what it could", &medium.effectiveness),
                ("comes back at first", &medium.returns_at_first),
                ("comes back at last", &medium.returns_at_last),
            ],
        );
    }
    if let Some(film) = &reading.film {
        paper.heading("Through the wall", "half way up");
        results(
            paper,
            &[
                ("viscosity at the impeller", &film.viscosity),
                ("Reynolds number", &film.reynolds),
                ("film of the batch", &film.inside),
                ("overall coefficient", &film.overall),
            ],
        );
    }
    paper.heading("Losses", "at the temperature to be reached: the power that holds it");
    let losses = &reading.losses;
    results(
        paper,
        &[
            ("through the wall", &losses.wall),
            ("surface, convection", &losses.convection),
            ("surface, radiation", &losses.radiation),
            ("surface, evaporation", &losses.evaporation),
            ("all", &losses.total),
        ],
    );
    if !reading.path.is_empty() {
        paper.heading("Course", "");
        let rows: Vec<Vec<String>> = reading
            .path
            .iter()
            .map(|point| {
                vec![numbers::result(&point.time, false), numbers::result(&point.temperature, false)]
            })
            .collect();
        paper.columns(&[("min", Lean::Right), ("C", Lean::Right)], &rows);
    }
    paper.heading("Mind", "");
    notes(paper, &reading.notes);
}

fn stage(paper: &mut Paper, name: &str, stage: &StageReading) {
    paper.heading(name, "");
    results(paper, &[("time", &stage.time), ("heat used", &stage.heat), ("water lost", &stage.water)]);
}
