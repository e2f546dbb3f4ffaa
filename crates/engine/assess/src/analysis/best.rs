//! The blend that meets the wishes best.

use super::{Asked, Fitted, Named, PROOF};
use levigate_measure::desirability::{Wish, climbing, together};
use levigate_measure::experiment::Region;
use levigate_measure::{Grade, Note, Outcome};
use serde::Serialize;

/// A wish and how well it is met.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Met {
    /// Response.
    pub name: String,
    /// What the model says, with the limits of the mean.
    pub mean: Outcome,
    /// The same for one measurement.
    pub next: Outcome,
    /// How well it is met, 0 to 1.
    pub met: Outcome,
}

/// The best blend.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BestReading {
    /// Parts and settings.
    pub levels: Vec<Named>,
    /// Wishes.
    pub wishes: Vec<Met>,
    /// How well they are met together, 0 to 1.
    pub worth: Outcome,
    /// What must be known.
    pub notes: Vec<Note>,
}

/// Searches the region.
pub(super) fn best(asked: &Asked, region: &Region, fitted: &[Fitted<'_>]) -> BestReading {
    let wished: Vec<(&Fitted<'_>, Wish)> =
        fitted.iter().filter_map(|one| Some((one, one.response.wish?))).collect();
    let wishes: Vec<Wish> = wished.iter().map(|(_, wish)| *wish).collect();
    let values = |run: &[f64]| -> Vec<f64> {
        wished.iter().map(|(one, _)| one.analysis.fit.predicted(&one.row(run))).collect()
    };
    let (at, _) = region.best(asked.starts, asked.seed, |run| climbing(&wishes, &values(run)));
    let found = values(&at);
    let worth = together(&wishes, &found);
    let method = "how well the wishes are met together";
    BestReading {
        levels: asked
            .levels(&at)
            .into_iter()
            .map(|Named { name, value }| Named {
                name,
                value: Outcome {
                    grade: Grade::Calibrated,
                    method: "of the best blend that was found".into(),
                    ..value
                },
            })
            .collect(),
        wishes: wished
            .iter()
            .zip(&found)
            .map(|((one, wish), value)| Met {
                name: one.response.name.clone(),
                mean: one.outcome(&at, asked.confidence, false),
                next: one.outcome(&at, asked.confidence, true),
                met: Outcome::new(wish.met(*value), "", Grade::Computed, "desirability of the mean")
                    .proved_by(PROOF),
            })
            .collect(),
        worth: Outcome::new(worth, "", Grade::Computed, method).by("(d1 d2 .. dm)^(1/m)").proved_by(PROOF),
        notes: notes(asked, &at, &wished, &found, worth),
    }
}

fn notes(asked: &Asked, at: &[f64], wished: &[(&Fitted<'_>, Wish)], found: &[f64], worth: f64) -> Vec<Note> {
    let mut notes = Vec::new();
    if worth <= 0.0 {
        let missed: Vec<&str> = wished
            .iter()
            .zip(found)
            .filter(|((_, wish), value)| wish.met(**value) <= 0.0)
            .map(|((one, _), _)| one.response.name.as_str())
            .collect();
        notes.push(Note::new(
            "out-of-reach",
            format!(
                "No blend that was found meets every wish; this one comes nearest. Missed: {}.",
                missed.join(", ")
            ),
        ));
    }
    let edge = |level: f64, [low, high]: [f64; 2]| {
        let near = 1e-6 * (high - low).max(1e-9);
        if high - low < 1e-9 {
            None
        } else if level <= low + near {
            Some("least")
        } else if level >= high - near {
            Some("most")
        } else {
            None
        }
    };
    let settings = asked.settings.iter().map(|(name, _)| (name, [-1.0, 1.0]));
    let ends = asked.parts.iter().zip(asked.bounds.iter().copied()).chain(settings);
    let edges: Vec<String> = ends
        .zip(at)
        .filter_map(|((name, ends), level)| Some(format!("{name} at its {}", edge(*level, ends)?)))
        .collect();
    if !edges.is_empty() {
        notes.push(Note::new(
            "edge",
            format!(
                "It lies at the edge of the region: {}. A better one may lie beyond, where no run was made.",
                edges.join(", ")
            ),
        ));
    }
    let doubtful: Vec<&str> = wished
        .iter()
        .filter(|(one, wish)| {
            let (mean, away) = one.says(at);
            [mean - away[1], mean + away[1]].iter().any(|end| wish.met(*end) <= 0.0)
        })
        .map(|(one, _)| one.response.name.as_str())
        .collect();
    if worth > 0.0 && !doubtful.is_empty() {
        notes.push(Note::new(
            "doubtful",
            format!("The next batch may still miss a wish within its limits: {}.", doubtful.join(", ")),
        ));
    }
    notes.push(Note::new(
        "search",
        "Searched from many starts with the means of the models: a good blend, not surely the best; make it as a check batch.",
    ));
    notes
}
