//! Which blends of parts to make, so that a model of them is settled best by so many runs.

use levigate_measure::experiment::blocks::blocks;
use levigate_measure::experiment::{
    Bounds, Choice, Condition, ExchangeError, Goal, Joined, MixtureError, Model, Process, Terms, centroid,
    choose_by, judge, lattice, variances, vertices, within,
};
use levigate_measure::uncertainty::stream::{Stream, source};
use levigate_measure::{Grade, Note, Outcome};
use serde::Serialize;

/// The published designs.
const PROOF: &str = "crates/engine/measure/src/experiment/exchange.rs";
/// Most corners that are laid beside the grid.
const MOST_CORNERS: usize = 2_000;

/// Most blends that are laid out, settings beside them: more take long to choose from and bring nothing.
const MOST_CANDIDATES: usize = 60_000;
/// Parts of the total that a grid steps in where nobody says it: the finest that is not too fine.
const USUAL_STEPS: [f64; 8] = [20.0, 16.0, 12.0, 10.0, 8.0, 6.0, 5.0, 4.0];

/// Most blends of a plan with a name.
const MOST_NAMED: usize = 500;

/// Where the runs come from.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Plan {
    /// Chosen by exchange.
    #[default]
    Chosen,
    /// Every blend of so many steps between the least of all parts and one of them alone.
    Lattice(u32),
    /// Every part alone, every two in equal shares, and so on, above the least of all.
    Centroid,
}

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
    /// Settings with their least and most.
    pub settings: Vec<(String, [f64; 2])>,
    /// Terms of the settings.
    pub process: Process,
    /// How settings act beside the blend.
    pub joined: Joined,
    /// Where the runs come from.
    pub plan: Plan,
    /// What chosen runs are chosen for.
    pub goal: Goal,
    /// Runs, kept ones and middles among them; as many as the model has terms and three more, where it is left out.
    pub runs: Option<usize>,
    /// Runs that are made whatever else is chosen: shares, then coded settings.
    pub kept: Vec<Vec<f64>>,
    /// How often the middle of the region is made.
    pub middles: usize,
    /// How many runs are made a second time.
    pub repeats: usize,
    /// Blocks.
    pub blocks: usize,
    /// Step of the grid, percent of the product; a twentieth of the total, or wider where that is too fine.
    pub step_percent: Option<f64>,
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
    /// Its block, from one; absent where there is one only.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub block: Option<usize>,
    /// Percent of every part.
    pub percent: Vec<Outcome>,
    /// Level of every setting.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub settings: Vec<Outcome>,
}

/// A plan of runs.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BlendsReading {
    /// What it is for.
    pub title: String,
    /// Names of the parts.
    pub parts: Vec<String>,
    /// Names of the settings.
    pub settings: Vec<String>,
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
    /// Mean variance of a prediction over the blends that were chosen from, times the runs.
    pub mean_variance: Outcome,
    /// How clear of the terms the blocks stand; absent where there is one only.
    pub blocks_clear: Option<Outcome>,
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
    /// A plan with a name that leaves the region.
    Outside {
        /// The first blend outside, percent of every part.
        percent: Vec<f64>,
    },
}

/// Plans runs.
///
/// # Errors
/// [`BlendsError`].
pub fn blends(asked: &Asked) -> Result<BlendsReading, BlendsError> {
    let shares = |percent: f64| percent / asked.total_percent;
    let bounds = Bounds(asked.parts.iter().map(|(_, ends)| ends.map(shares)).collect());
    let mut candidates = asked.laid_out(&bounds)?;
    candidates.retain(|blend| asked.conditions.iter().all(|condition| condition.holds(blend)));
    let corners = vertices(&bounds, &asked.conditions).unwrap_or_default();
    let laid = corners.len() <= MOST_CORNERS && !corners.is_empty();
    if laid {
        candidates.extend(corners.iter().cloned());
    }
    let terms = Terms {
        parts: asked.parts.len(),
        settings: asked.settings.len(),
        blend: asked.model,
        process: asked.process,
        joined: asked.joined,
    };
    let count = terms.count();
    if candidates.is_empty() {
        return Err(BlendsError::Choice(ExchangeError::NotTold { candidates: 0, terms: count }));
    }
    let middle = mean(if laid { &corners } else { &candidates });
    let mut candidates = asked.beside(candidates);
    let laid_out = candidates.len();
    // Kept runs and the middle stand behind what is laid out.
    let mut kept: Vec<usize> = Vec::new();
    let mut add = |run: Vec<f64>| {
        candidates.push(run);
        candidates.len() - 1
    };
    kept.extend(asked.kept.iter().cloned().map(&mut add));
    if asked.middles > 0 {
        let run = middle.into_iter().chain(asked.settings.iter().map(|_| 0.0)).collect();
        kept.extend(std::iter::repeat_n(add(run), asked.middles));
    }
    let named = asked.named(&bounds)?;
    if let Some(named) = &named {
        kept.extend(named.iter().cloned().map(&mut add));
    }
    let rows: Vec<Vec<f64>> = candidates.iter().map(|run| terms.of(run)).collect();
    let runs = match named {
        Some(_) => kept.len(),
        None => asked.runs.unwrap_or(count + 3 + asked.middles),
    };
    let choice = Choice { runs, kept, goal: asked.goal, starts: asked.starts, seed: asked.seed };
    let mut made = choose_by(&rows, &choice).map_err(BlendsError::Choice)?.runs;
    made.extend(doubtful(&rows, &made, asked.repeats));
    let chosen = judge(&rows, &made)
        .ok_or(BlendsError::Choice(ExchangeError::NotTold { candidates: rows.len(), terms: count }))?;
    let order = shuffled(made, asked.seed);
    let of_runs: Vec<Vec<f64>> = order.iter().map(|place| rows[*place].clone()).collect();
    let (of, clear) = blocks(&of_runs, asked.blocks, asked.seed).unwrap_or((vec![0; order.len()], 0.0));
    let mut order: Vec<(usize, usize)> = of.into_iter().zip(order).collect();
    order.sort_by_key(|(block, _)| *block);
    let computed =
        |value: f64, method: &'static str| Outcome::new(value, "", Grade::Computed, method).proved_by(PROOF);
    let parts = asked.parts.len();
    Ok(BlendsReading {
        title: asked.title.clone(),
        parts: asked.parts.iter().map(|(name, _)| name.clone()).collect(),
        settings: asked.settings.iter().map(|(name, _)| name.clone()).collect(),
        model: asked.model,
        runs: order
            .iter()
            .zip(1..)
            .map(|((block, place), number)| Run {
                number,
                block: (asked.blocks > 1).then_some(block + 1),
                percent: candidates[*place][..parts]
                    .iter()
                    .map(|share| {
                        let percent = share * asked.total_percent;
                        Outcome::new(percent, "% w/w", Grade::Computed, "of the blend that was chosen")
                    })
                    .collect(),
                settings: candidates[*place][parts..]
                    .iter()
                    .zip(&asked.settings)
                    .map(|(z, (_, [low, high]))| {
                        let level = low + 0.5 * (z + 1.0) * (high - low);
                        Outcome::new(level, "", Grade::Computed, "of the run that was chosen")
                    })
                    .collect(),
            })
            .collect(),
        candidates: Outcome::new(
            number(laid_out),
            "",
            Grade::Computed,
            "blends of the grid, with the corners of the region and the ends of the settings",
        ),
        d: computed(chosen.d, "how well all terms are settled together, over shares of the total")
            .by("D = det(X'X/n)^(1/p)"),
        g_efficiency: computed(
            100.0 * number(count) / chosen.largest_variance,
            "least certain prediction at a blend of the grid against the best that could be",
        )
        .by("100 p / (n max x'(X'X)^-1 x)"),
        mean_variance: computed(
            chosen.mean_variance,
            "mean variance of a prediction over the blends that were chosen from, times the runs, over that of one run",
        )
        .by("I = n mean x'(X'X)^-1 x"),
        blocks_clear: (asked.blocks > 1).then(|| {
            Outcome::new(100.0 * clear, "%", Grade::Computed, "how clear of the terms the blocks stand")
                .by("100 (det Z'(I - H)Z / det Z'CZ)^(1/(b - 1))")
                .proved_by("crates/engine/measure/src/experiment/blocks.rs")
        }),
        terms: terms.names(&asked.labels()),
        notes: notes(order.len(), count, asked, laid, clear),
    })
}

impl Asked {
    fn labels(&self) -> Vec<String> {
        let parts = (1..=self.parts.len()).map(|part| format!("x{part}"));
        parts.chain((1..=self.settings.len()).map(|setting| format!("z{setting}"))).collect()
    }

    fn levels(&self) -> &'static [f64] {
        if self.process == Process::Quadratic { &[-1.0, 0.0, 1.0] } else { &[-1.0, 1.0] }
    }

    /// The blends of the grid.
    fn laid_out(&self, bounds: &Bounds) -> Result<Vec<Vec<f64>>, BlendsError> {
        // So many runs stand for every blend.
        let each = self.settings.iter().fold(1_usize, |each, _| each.saturating_mul(self.levels().len()));
        let fitting = |step: f64| {
            let blends = within(bounds, step)?;
            if blends.len().saturating_mul(each) > MOST_CANDIDATES {
                return Err(MixtureError::TooFine { step, most: MOST_CANDIDATES / each.max(1) });
            }
            Ok(blends)
        };
        let found = match self.step_percent {
            Some(percent) => fitting(percent / self.total_percent),
            None => USUAL_STEPS
                .into_iter()
                .map(|parts| fitting(1.0 / parts))
                .find(|found| !matches!(found, Err(MixtureError::TooFine { .. })))
                .unwrap_or(Err(MixtureError::TooFine { step: 0.25, most: MOST_CANDIDATES })),
        };
        found.map_err(BlendsError::Region)
    }

    /// Blends with every setting at its ends, and in the middle where squares are asked for.
    fn beside(&self, blends: Vec<Vec<f64>>) -> Vec<Vec<f64>> {
        let levels = self.levels();
        let mut runs = blends;
        for _ in &self.settings {
            runs = runs
                .iter()
                .flat_map(|run| levels.iter().map(move |z| run.iter().copied().chain([*z]).collect()))
                .collect();
        }
        runs
    }

    /// The runs of a plan that has a name; nothing where they are chosen.
    fn named(&self, bounds: &Bounds) -> Result<Option<Vec<Vec<f64>>>, BlendsError> {
        let parts = self.parts.len();
        let whole = match self.plan {
            Plan::Chosen => return Ok(None),
            Plan::Lattice(steps) => lattice(parts, steps),
            Plan::Centroid => centroid(parts),
        };
        let whole = whole.map_err(BlendsError::Region)?;
        if whole.len() > MOST_NAMED {
            return Err(BlendsError::Region(MixtureError::Parts { parts }));
        }
        let least: f64 = bounds.0.iter().map(|[low, _]| low).sum();
        let blends: Vec<Vec<f64>> = whole
            .iter()
            .map(|blend| blend.iter().zip(&bounds.0).map(|(x, [low, _])| low + x * (1.0 - least)).collect())
            .collect();
        let keeps = |blend: &&Vec<f64>| {
            bounds.hold(blend) && self.conditions.iter().all(|condition| condition.holds(blend))
        };
        match blends.iter().find(|blend| !keeps(blend)) {
            Some(outside) => Err(BlendsError::Outside {
                percent: outside.iter().map(|share| share * self.total_percent).collect(),
            }),
            None => Ok(Some(self.beside(blends))),
        }
    }
}

/// The runs whose own prediction is least certain, so many of them.
fn doubtful(rows: &[Vec<f64>], made: &[usize], count: usize) -> Vec<usize> {
    let Some(variances) = variances(rows, made) else { return Vec::new() };
    let mut once: Vec<usize> = made.to_vec();
    once.sort_unstable();
    once.dedup();
    once.sort_by(|one, other| variances[*other].total_cmp(&variances[*one]).then(one.cmp(other)));
    once.truncate(count);
    once
}

fn mean(blends: &[Vec<f64>]) -> Vec<f64> {
    let parts = blends.first().map_or(0, Vec::len);
    (0..parts)
        .map(|part| blends.iter().map(|blend| blend[part]).sum::<f64>() / number(blends.len()))
        .collect()
}

fn number(count: usize) -> f64 {
    #[expect(clippy::cast_precision_loss, reason = "counts of blends, runs and terms")]
    let value = count as f64;
    value
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

fn notes(runs: usize, terms: usize, asked: &Asked, laid: bool, clear: f64) -> Vec<Note> {
    let mut notes = vec![Note::new(
        "order",
        "Make the runs in the order they stand: it is random, so that what drifts falls on all alike. Hold everything else as it is.",
    )];
    if runs == terms {
        notes.push(Note::new(
            "nothing-left",
            "As many runs as terms: nothing is left to tell how much a run scatters. Three more would.",
        ));
    }
    if asked.middles < 2 && asked.repeats == 0 {
        notes.push(Note::new(
            "no-repeats",
            "No run is made twice on purpose: without repeats nothing tells a misfit of the model from scatter. middles = 3 or repeats = 3 asks for them.",
        ));
    }
    if asked.blocks > 1 && clear < 0.5 {
        notes.push(Note::new(
            "blocks",
            "The blocks can hardly be told from the terms: make more runs, or fewer blocks.",
        ));
    }
    if !laid {
        notes.push(Note::new("corners", "The corners of the region are too many to lay beside the grid: it is chosen from the grid alone."));
    }
    if asked.plan == Plan::Chosen {
        notes.push(Note::new("good", "A good choice by exchange from random starts, not surely the best one; the same seed gives the same runs."));
    }
    notes
}
