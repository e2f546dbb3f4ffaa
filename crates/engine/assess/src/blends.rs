//! Which blends of parts to make, so that a model of them is settled best by so many runs.

use levigate_measure::experiment::{
    Bounds, Condition, ExchangeError, MixtureError, Model, choose, vertices, within,
};
use levigate_measure::uncertainty::stream::{Stream, source};
use levigate_measure::{Grade, Note, Outcome};
use serde::Serialize;

/// The published designs.
const PROOF: &str = "crates/engine/measure/src/experiment/exchange.rs";
/// Most corners that are laid beside the grid.
const MOST_CORNERS: usize = 2_000;

/// What is asked.
#[derive(Clone, Debug, PartialEq)]
pub struct Asked {
    /// What it is for, in words.
    pub title: String,
    /// Parts with their bounds, percent of the product.
    pub parts: Vec<(String, [f64; 2])>,
    /// What the parts make together, percent of the product.
    pub total_percent: f64,
    /// Side conditions over shares of the total.
    pub conditions: Vec<Condition>,
    /// Model.
    pub model: Model,
    /// Runs; as many as the model has terms and three more, where it is left out.
    pub runs: Option<usize>,
    /// Step of the grid, percent of the product.
    pub step_percent: f64,
    /// Starts.
    pub starts: usize,
    /// Seed of the starts and of the order.
    pub seed: u64,
}

/// One run.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Run {
    /// When it is made: runs are in random order.
    pub number: usize,
    /// Percent of every part.
    pub percent: Vec<Outcome>,
}

/// A plan of runs.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BlendsReading {
    /// What it is for.
    pub title: String,
    /// Names of the parts.
    pub parts: Vec<String>,
    /// Model.
    pub model: Model,
    /// Its terms, the parts counted from one.
    pub terms: Vec<String>,
    /// Runs in the order to make them.
    pub runs: Vec<Run>,
    /// Blends that were chosen from.
    pub candidates: Outcome,
    /// How well the terms are settled together.
    pub d: Outcome,
    /// How far the least certain prediction is from the best that could be.
    pub g_efficiency: Outcome,
    /// What must be known.
    pub notes: Vec<Note>,
}

/// Why there is no plan.
#[derive(Clone, Debug, PartialEq)]
pub enum BlendsError {
    /// The region.
    Region(MixtureError),
    /// The choice.
    Choice(ExchangeError),
}

/// Plans runs.
///
/// # Errors
/// [`BlendsError`].
pub fn blends(asked: &Asked) -> Result<BlendsReading, BlendsError> {
    let shares = |percent: f64| percent / asked.total_percent;
    let bounds = Bounds(asked.parts.iter().map(|(_, ends)| ends.map(shares)).collect());
    let mut candidates = within(&bounds, shares(asked.step_percent)).map_err(BlendsError::Region)?;
    candidates.retain(|blend| asked.conditions.iter().all(|condition| condition.holds(blend)));
    let corners = vertices(&bounds, &asked.conditions).unwrap_or_default();
    let laid = corners.len() <= MOST_CORNERS && !corners.is_empty();
    if laid {
        candidates.extend(corners);
    }
    let rows: Vec<Vec<f64>> = candidates.iter().map(|blend| asked.model.terms(blend)).collect();
    let terms = asked.model.names(asked.parts.len());
    let runs = asked.runs.unwrap_or(terms.len() + 3);
    let chosen = choose(&rows, runs, asked.starts, asked.seed).map_err(BlendsError::Choice)?;
    let order = shuffled(chosen.runs, asked.seed);
    #[expect(clippy::cast_precision_loss, reason = "counts of blends and terms")]
    let (count, size) = (candidates.len() as f64, terms.len() as f64);
    let computed =
        |value: f64, method: &'static str| Outcome::new(value, "", Grade::Computed, method).proved_by(PROOF);
    Ok(BlendsReading {
        title: asked.title.clone(),
        parts: asked.parts.iter().map(|(name, _)| name.clone()).collect(),
        model: asked.model,
        runs: order
            .into_iter()
            .zip(1..)
            .map(|(place, number)| Run {
                number,
                percent: candidates[place]
                    .iter()
                    .map(|share| {
                        Outcome::new(
                            share * asked.total_percent,
                            "% w/w",
                            Grade::Computed,
                            "of the blend that was chosen",
                        )
                    })
                    .collect(),
            })
            .collect(),
        candidates: Outcome::new(
            count,
            "",
            Grade::Computed,
            "blends of the grid, with the corners of the region",
        ),
        d: computed(chosen.d, "how well all terms are settled together, over shares of the total")
            .by("D = det(X'X/n)^(1/p)"),
        g_efficiency: computed(
            100.0 * size / chosen.largest_variance,
            "least certain prediction at a blend of the grid against the best that could be",
        )
        .by("100 p / (n max x'(X'X)^-1 x)"),
        terms,
        notes: notes(runs, asked, laid),
    })
}

/// In random order, so that what drifts over the day falls on all blends alike.
fn shuffled(mut places: Vec<usize>, seed: u64) -> Vec<usize> {
    let mut stream = Stream::of(seed, source("order of runs"), 0);
    for last in (1..places.len()).rev() {
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            clippy::cast_precision_loss,
            reason = "a few dozen runs"
        )]
        let other = ((stream.unit() * (last + 1) as f64) as usize).min(last);
        places.swap(last, other);
    }
    places
}

fn notes(runs: usize, asked: &Asked, laid: bool) -> Vec<Note> {
    let mut notes = vec![Note::new(
        "order",
        "Make the runs in the order they stand: it is random, so that what drifts falls on all alike. Hold everything else as it is.",
    )];
    let terms = asked.model.names(asked.parts.len()).len();
    if runs == terms {
        notes.push(Note::new(
            "nothing-left",
            "As many runs as terms: nothing is left to tell how much a run scatters. Three more would.",
        ));
    }
    if !laid {
        notes.push(Note::new("corners", "The corners of the region are too many to lay beside the grid: it is chosen from the grid alone."));
    }
    notes.push(Note::new("good", "A good choice by exchange from random starts, not surely the best one; the same seed gives the same runs."));
    notes
}
