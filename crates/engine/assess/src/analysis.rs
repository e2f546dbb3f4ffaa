//! Runs of a designed experiment answered: which model they carry, what it says of other blends, and which blend meets the wishes best.

mod best;
mod blocks;
mod models;
mod sight;

use blocks::Blocks;

pub use best::BestReading;
pub use models::{StepReading, Taken};
pub use sight::{Across, Along, Mark, Seen, SeenAt, Sight, sight};

use levigate_measure::desirability::Wish;
use levigate_measure::distribution::{Confidence, Sides};
use levigate_measure::experiment::{
    Analysis, Bounds, Condition, Joined, MixtureError, Model, Process, Region, Terms,
};
use levigate_measure::{Grade, Note, Outcome};
use serde::Serialize;

/// The published sets.
const PROOF: &str = "tests/published/mixtures.toml";
/// What another program makes of them.
const CROSS: &str = "tests/cross/analysis.toml";
/// Below this chance something stands.
const LEVEL: f64 = 0.05;
/// Parts of a hundred that a grid is laid out in.
const GRID: f64 = 0.05;

/// What is asked.
#[derive(Clone, Debug, PartialEq)]
pub struct Asked {
    /// What it is about, in words.
    pub title: String,
    /// Parts of the mixture; none, and there are settings alone.
    pub parts: Vec<String>,
    /// What they make together, in the unit of the runs.
    pub total: f64,
    /// Unit of the parts.
    pub unit: String,
    /// Least and most share of every part: the region that is asked about.
    pub bounds: Vec<[f64; 2]>,
    /// Side conditions over shares.
    pub conditions: Vec<Condition>,
    /// Settings with their least and most.
    pub settings: Vec<(String, [f64; 2])>,
    /// Model of the blend; the data choose where it is left out.
    pub model: Option<Model>,
    /// Terms of the settings.
    pub process: Process,
    /// How settings act beside the blend.
    pub joined: Joined,
    /// Runs: shares of the parts, adding up to one, then settings as they were.
    pub runs: Vec<Vec<f64>>,
    /// Block every run was made in; none where all were made in one. What blocks differ by is a term of its own and no part of what is foretold.
    pub blocks: Vec<u32>,
    /// What was measured.
    pub responses: Vec<Response>,
    /// Where the model is asked; levels like those of a run, and what a check batch gave.
    pub ask: Vec<Ask>,
    /// Probability that limits hold.
    pub confidence: f64,
    /// Whether the region is laid out as a grid.
    pub grid: bool,
    /// Starts of the search.
    pub starts: usize,
    /// Its seed.
    pub seed: u64,
    /// What the reader of the runs has to say.
    pub notes: Vec<Note>,
}

/// What was measured on the runs.
#[derive(Clone, Debug, PartialEq)]
pub struct Response {
    /// Name.
    pub name: String,
    /// Unit.
    pub unit: String,
    /// Value of every run; nothing where it was not measured.
    pub values: Vec<Option<f64>>,
    /// What is wished of it.
    pub wish: Option<Wish>,
}

/// Where the model is asked.
#[derive(Clone, Debug, PartialEq)]
pub struct Ask {
    /// Shares, then settings.
    pub levels: Vec<f64>,
    /// What was measured there, for every response.
    pub measured: Vec<Option<f64>>,
}

/// Why there is no answer.
#[derive(Clone, Debug, PartialEq)]
pub enum AnalysisError {
    /// The region.
    Region(MixtureError),
    /// No model of this response.
    NoModel {
        /// Response.
        response: String,
        /// Why.
        why: String,
        /// What to do.
        hint: &'static str,
    },
    /// Nothing of the region lies where it was looked at.
    NothingSeen {
        /// Why.
        why: String,
    },
}

/// A named number.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Named {
    /// Name.
    pub name: String,
    /// Number.
    pub value: Outcome,
}

/// A term of a model.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TermReading {
    /// What it is made of.
    pub name: String,
    /// Coefficient, over shares of the total and coded settings.
    pub coefficient: Outcome,
    /// Its standard error.
    pub error: Outcome,
    /// Probability of such a coefficient or a larger one were it nothing; absent for a part by itself, of which nobody asks that.
    pub chance: Option<Outcome>,
}

/// A run against the model.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RunReading {
    /// Number of the run, from one.
    pub number: usize,
    /// What was measured.
    pub measured: Outcome,
    /// What the model says.
    pub fitted: Outcome,
    /// The difference.
    pub residual: Outcome,
    /// How much the run alone settles its own prediction, 0 to 1.
    pub leverage: Outcome,
    /// The difference by the scatter of the others.
    pub apart: Outcome,
    /// Whether it stands apart by more than chance.
    pub stands_apart: bool,
}

/// What a model says at a blend.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Prediction {
    /// Parts and settings.
    pub levels: Vec<Named>,
    /// Mean of many batches, with the limits of the model.
    pub mean: Outcome,
    /// The next batch, with the limits for one measurement.
    pub next: Outcome,
    /// What a check batch gave.
    pub measured: Option<Outcome>,
    /// Whether it lies within the limits of the next batch; absent where nothing was measured or no limits are known.
    pub within: Option<bool>,
}

/// How well a model fits.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FitReading {
    /// Standard deviation of one run about the model.
    pub scatter: Outcome,
    /// Share of the spread that is explained.
    pub explained: Outcome,
    /// The same by mean squares.
    pub adjusted: Outcome,
    /// Share of the spread that is foretold of runs left out.
    pub foretold: Outcome,
    /// Standard deviation of repeated runs.
    pub pure: Outcome,
    /// Probability of such a misfit where the model fits.
    pub lack_of_fit: Outcome,
}

/// A response, answered.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ResponseReading {
    /// Name.
    pub name: String,
    /// Unit.
    pub unit: String,
    /// Models that were tried, smallest first.
    pub steps: Vec<StepReading>,
    /// The one that was taken.
    pub model: String,
    /// Why.
    pub taken: Taken,
    /// In words.
    pub words: String,
    /// Terms.
    pub terms: Vec<TermReading>,
    /// How well it fits.
    pub fit: FitReading,
    /// Runs.
    pub runs: Vec<RunReading>,
    /// What it says where it was asked.
    pub asked: Vec<Prediction>,
    /// What must be known.
    pub notes: Vec<Note>,
}

/// A point of the region.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct GridPoint {
    /// Parts.
    pub levels: Vec<Outcome>,
    /// What every model says, with the limits of the mean.
    pub values: Vec<Outcome>,
}

/// An experiment, answered.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct AnalysisReading {
    /// What it is about.
    pub title: String,
    /// Parts.
    pub parts: Vec<String>,
    /// Settings.
    pub settings: Vec<String>,
    /// What the parts make together; absent where there are none.
    pub total: Option<Outcome>,
    /// Responses.
    pub responses: Vec<ResponseReading>,
    /// The best blend by the wishes; absent where nothing is wished.
    pub best: Option<BestReading>,
    /// The region, where it is asked for and has three parts.
    pub grid: Vec<GridPoint>,
    /// What must be known.
    pub notes: Vec<Note>,
}

/// A model of one response.
struct Fitted<'a> {
    response: &'a Response,
    terms: Terms,
    analysis: Analysis,
    /// Places of the runs it rests on.
    places: Vec<usize>,
    factor: f64,
}

impl Fitted<'_> {
    /// Terms of a run; it stands in the middle of the blocks.
    fn row(&self, run: &[f64]) -> Vec<f64> {
        let mut row = self.terms.of(run);
        row.resize(self.analysis.fit.coefficients.len(), 0.0);
        row
    }

    /// Mean and how far its limits lie from it, for the mean and for one more measurement.
    fn says(&self, run: &[f64]) -> (f64, [f64; 2]) {
        let row = self.row(run);
        let mean = self.analysis.fit.predicted(&row);
        let scatter = self.analysis.fit.scatter().unwrap_or(f64::NAN);
        let leverage = self.analysis.fit.leverage(&row);
        (mean, [0.0, 1.0].map(|more: f64| self.factor * scatter * (more + leverage).sqrt()))
    }

    fn outcome(&self, run: &[f64], share: f64, one_more: bool) -> Outcome {
        let (mean, away) = self.says(run);
        let (method, away) = if one_more {
            ("what the fitted model says of one more measurement", away[1])
        } else {
            ("what the fitted model says of the mean", away[0])
        };
        Outcome::new(mean, self.response.unit.clone(), Grade::Calibrated, method)
            .within(mean - away, mean + away, away.is_finite().then_some(share))
            .proved_by(CROSS)
    }
}

/// A model of a response, with what was tried, why it was taken, and that in words.
type Fit<'a> = (Fitted<'a>, Vec<StepReading>, Taken, String);

/// A model of every response.
fn fits(asked: &Asked) -> Result<Vec<Fit<'_>>, AnalysisError> {
    let coded: Vec<Vec<f64>> = asked.runs.iter().map(|run| asked.coded(run)).collect();
    let sides = Confidence::new(asked.confidence, Sides::Two);
    let fit = |response| {
        let ((terms, analysis, places), steps, taken, words) = models::choose(asked, &coded, response)?;
        let factor = sides.as_ref().map_or(f64::NAN, |sides| sides.factor(analysis.fit.degrees));
        Ok((Fitted { response, terms, analysis, places, factor }, steps, taken, words))
    };
    asked.responses.iter().map(fit).collect()
}

/// Answers.
///
/// # Errors
/// [`AnalysisError`].
pub fn analysis(asked: &Asked) -> Result<AnalysisReading, AnalysisError> {
    let mut responses = Vec::new();
    let mut fitted = Vec::new();
    for (one, steps, taken, words) in fits(asked)? {
        responses.push(reading(asked, &one, steps, taken, words));
        fitted.push(one);
    }
    let wished = asked.responses.iter().any(|response| response.wish.is_some());
    let settings = vec![[-1.0, 1.0]; asked.settings.len()];
    let region = (wished || asked.grid)
        .then(|| Region::of(Bounds(asked.bounds.clone()), asked.conditions.clone(), settings))
        .transpose()
        .map_err(AnalysisError::Region)?;
    let best = region.as_ref().filter(|_| wished).map(|region| best::best(asked, region, &fitted));
    let grid = region
        .as_ref()
        .filter(|_| asked.grid && asked.parts.len() == 3)
        .map_or(Ok(Vec::new()), |region| grid(asked, region, &fitted))
        .map_err(AnalysisError::Region)?;
    Ok(AnalysisReading {
        title: asked.title.clone(),
        parts: asked.parts.clone(),
        settings: asked.settings.iter().map(|(name, _)| name.clone()).collect(),
        total: (!asked.parts.is_empty()).then(|| {
            Outcome::new(asked.total, asked.unit.clone(), Grade::Measured, "what the parts make together")
        }),
        responses,
        best,
        grid,
        notes: notes(asked),
    })
}

impl Asked {
    /// Settings brought to -1 to 1 over their range.
    fn coded(&self, run: &[f64]) -> Vec<f64> {
        let parts = self.parts.len();
        let of_setting = |(at, level): (usize, &f64)| {
            at.checked_sub(parts)
                .and_then(|at| self.settings.get(at))
                .map_or(*level, |(_, [low, high])| (2.0 * level - low - high) / (high - low))
        };
        run.iter().enumerate().map(of_setting).collect()
    }

    /// A coded run as it is made.
    fn levels(&self, coded: &[f64]) -> Vec<Named> {
        let (blend, settings) = coded.split_at(self.parts.len());
        let parts = self.parts.iter().zip(blend).map(|(name, share)| Named {
            name: name.clone(),
            value: Outcome::new(share * self.total, self.unit.clone(), Grade::Measured, "as asked"),
        });
        let settings = self.settings.iter().zip(settings).map(|((name, [low, high]), z)| Named {
            name: name.clone(),
            value: Outcome::new(low + 0.5 * (z + 1.0) * (high - low), "", Grade::Measured, "as asked"),
        });
        parts.chain(settings).collect()
    }

    fn labels(&self) -> Vec<String> {
        self.parts.iter().chain(self.settings.iter().map(|(name, _)| name)).cloned().collect()
    }
}

fn computed(value: Option<f64>, unit: &str, method: &'static str, why_not: &str) -> Outcome {
    value.filter(|value| value.is_finite()).map_or_else(
        || Outcome::refuse(unit.to_owned(), method, why_not),
        |value| Outcome::new(value, unit.to_owned(), Grade::Computed, method).proved_by(CROSS),
    )
}

fn reading(
    asked: &Asked,
    one: &Fitted<'_>,
    steps: Vec<StepReading>,
    taken: Taken,
    words: String,
) -> ResponseReading {
    let (analysis, unit) = (&one.analysis, one.response.unit.as_str());
    let fit = &analysis.fit;
    let nothing_left = "as many runs as terms: nothing is left to tell how much a run scatters";
    let alone = "one run has a term to itself: left out, it cannot be foretold";
    let not_repeated = "no blend was made twice";
    let saturated = "the blends that were made leave nothing to see a misfit by";
    let blocks = Blocks::of(asked, &one.places);
    let names = one.terms.names(&asked.labels()).into_iter().chain(blocks.names());
    let terms = names
        .enumerate()
        .map(|(place, name)| {
            let (value, error) = (fit.coefficients[place], fit.standard_error(place));
            let half = one.factor * error.unwrap_or(f64::NAN);
            let chance = error.filter(|error| *error > 0.0).map(|error| {
                let t = (value / error).abs();
                (2.0 * levigate_measure::distribution::student_beyond(t, number(fit.degrees))).min(1.0)
            });
            let asks = place >= asked.parts.len().max(1);
            TermReading {
                name,
                coefficient: Outcome::new(
                    value,
                    unit.to_owned(),
                    Grade::Calibrated,
                    "least squares over shares and coded settings",
                )
                .within(value - half, value + half, half.is_finite().then_some(asked.confidence))
                .proved_by(PROOF),
                error: computed(error, unit, "standard error", nothing_left),
                chance: asks.then(|| computed(chance, "", "probability by Student's t", nothing_left)),
            }
        })
        .collect();
    let runs = one.places.iter().enumerate().map(|(at, place)| {
        let measured = one.response.values[*place].unwrap_or(f64::NAN);
        let residual = fit.residuals[at];
        let chance = analysis.chance(at);
        RunReading {
            number: place + 1,
            measured: Outcome::new(measured, unit.to_owned(), Grade::Measured, "as given"),
            fitted: computed(Some(measured - residual), unit, "what the model says", ""),
            residual: computed(Some(residual), unit, "measured less model", ""),
            leverage: computed(
                Some(analysis.leverages[at]),
                "",
                "share of its own prediction that the run settles",
                "",
            )
            .by("h = x'(X'X)^-1 x"),
            apart: computed(
                analysis.apart(at),
                "",
                "residual by the scatter of the other runs",
                nothing_left,
            ),
            stands_apart: chance.is_some_and(|chance| chance < LEVEL),
        }
    });
    let runs: Vec<RunReading> = runs.collect();
    let repeats = analysis.repeats;
    let why_no_lack = if repeats.is_some() { saturated } else { not_repeated };
    let told = FitReading {
        scatter: computed(fit.scatter(), unit, "standard deviation of one run about the model", nothing_left),
        explained: computed(
            Some(analysis.explained()),
            "",
            "share of the spread about the mean that is explained",
            "all runs gave the same",
        ),
        adjusted: computed(analysis.adjusted(), "", "the same by mean squares", nothing_left),
        foretold: computed(
            analysis.foretold(),
            "",
            "share of the spread that is foretold of runs left out",
            alone,
        )
        .by("1 - PRESS/total"),
        pure: computed(
            repeats.map(|repeats| repeats.scatter()),
            unit,
            "standard deviation of repeated runs",
            not_repeated,
        ),
        lack_of_fit: computed(
            repeats.and_then(|repeats| repeats.beyond()),
            "",
            "probability of such a misfit or a larger one where the model fits",
            why_no_lack,
        ),
    };
    let asked_at = asked.ask.iter().map(|ask| prediction(asked, one, ask)).collect();
    let notes = remarks(asked, one, &told, &runs);
    ResponseReading {
        name: one.response.name.clone(),
        unit: unit.to_owned(),
        steps,
        model: models::word(one.terms),
        taken,
        words,
        terms,
        fit: told,
        runs,
        asked: asked_at,
        notes,
    }
}

fn prediction(asked: &Asked, one: &Fitted<'_>, ask: &Ask) -> Prediction {
    let coded = asked.coded(&ask.levels);
    let place = asked.responses.iter().position(|response| response.name == one.response.name);
    let measured = place.and_then(|place| ask.measured.get(place).copied().flatten());
    let (mean, away) = one.says(&coded);
    let mut next = one.outcome(&coded, asked.confidence, true);
    if one.outside(asked, &coded) {
        next = next.note(
            "outside",
            "This lies outside what the runs span: the model is a guess there, and its limits do not say how bad a one.",
        );
    }
    Prediction {
        levels: asked.levels(&coded),
        mean: one.outcome(&coded, asked.confidence, false),
        next,
        measured: measured
            .map(|value| Outcome::new(value, one.response.unit.clone(), Grade::Measured, "as given")),
        within: measured.filter(|_| away[1].is_finite()).map(|value| (value - mean).abs() <= away[1]),
    }
}

impl Fitted<'_> {
    /// Whether a run lies further out than every run the model rests on.
    fn outside(&self, asked: &Asked, coded: &[f64]) -> bool {
        let own = self.analysis.fit.leverage(&self.row(coded));
        let most = self.analysis.leverages.iter().copied().fold(0.0, f64::max);
        let beyond = |at: usize| {
            let levels = self.places.iter().map(|place| asked.coded(&asked.runs[*place])[at]);
            let (low, high) =
                levels.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), x| (low.min(x), high.max(x)));
            coded[at] < low - 1e-9 || coded[at] > high + 1e-9
        };
        own > most + 1e-9 || (0..coded.len()).any(beyond)
    }
}

fn remarks(asked: &Asked, one: &Fitted<'_>, told: &FitReading, runs: &[RunReading]) -> Vec<Note> {
    let mut notes = Vec::new();
    let blocks = Blocks::of(asked, &one.places);
    if let Some(furthest) = blocks.furthest(&one.analysis.fit.coefficients[one.terms.count()..]) {
        let decimals = [100.0, 10.0, 1.0, 0.1].into_iter().take_while(|size| furthest < *size).count();
        notes.push(Note::new(
            "blocks",
            format!(
                "What the blocks differ by is taken out; the furthest lies {furthest:.decimals$} {} from their middle, and a batch of another day may lie off by as much.",
                one.response.unit
            ),
        ));
    }
    if told.lack_of_fit.value.is_some_and(|chance| chance < LEVEL) {
        notes.push(Note::new(
            "misfit",
            "The model misses the blends by more than repeated runs differ: take a larger model or make runs between, and do not trust its limits.",
        ));
    }
    if let (Some(explained), Some(foretold)) = (told.adjusted.value, told.foretold.value)
        && explained - foretold > 0.2
    {
        notes.push(Note::new(
            "foretells-little",
            "It explains the runs much better than it foretells one left out: it has more terms than the runs carry, or hangs on single runs.",
        ));
    }
    let apart: Vec<String> =
        runs.iter().filter(|run| run.stands_apart).map(|run| run.number.to_string()).collect();
    if !apart.is_empty() {
        notes.push(Note::new(
            "apart",
            format!(
                "Run {} stands apart from the others by more than chance: look for a slip of the pen, a wrong weight, another batch of raw material. It is not left out.",
                apart.join(", ")
            ),
        ));
    }
    let alone: Vec<String> = runs
        .iter()
        .filter(|run| run.leverage.value.is_some_and(|own| own > 0.999_999))
        .map(|run| run.number.to_string())
        .collect();
    if !alone.is_empty() && one.analysis.fit.degrees > 0 {
        notes.push(Note::new(
            "alone",
            format!("Run {} settles a term by itself: nothing checks it. Make it again.", alone.join(", ")),
        ));
    }
    if one.places.len() < asked.runs.len() {
        let left = asked.runs.len() - one.places.len();
        notes.push(Note::new(
            "not-measured",
            if left == 1 {
                "One run without a value is left out.".to_owned()
            } else {
                format!("{left} runs without a value are left out.")
            },
        ));
    }
    notes
}

fn notes(asked: &Asked) -> Vec<Note> {
    let mut notes = asked.notes.clone();
    if !asked.parts.is_empty() {
        notes.push(Note::new(
            "coefficients",
            "The coefficient of a part by itself is what the model says of that part alone, which may lie far outside the region; of two parts together, how far a blend lies off the straight line between them.",
        ));
    }
    notes.push(Note::new(
        "causes",
        "What a model says holds for these raw materials, this way of making and this range; make a check batch before it is relied on.",
    ));
    if asked.grid && asked.parts.len() != 3 {
        notes.push(Note::new("no-grid", "A grid is laid out for three parts only."));
    }
    notes
}

fn grid(asked: &Asked, region: &Region, fitted: &[Fitted<'_>]) -> Result<Vec<GridPoint>, MixtureError> {
    let mut blends =
        levigate_measure::experiment::within(&Bounds(asked.bounds.clone()), step(&asked.bounds))?;
    blends.extend(region.corners().iter().cloned());
    let middle = vec![0.0; asked.settings.len()];
    let point = |blend: Vec<f64>| {
        let run: Vec<f64> = blend.iter().chain(&middle).copied().collect();
        region.holds(&run).then(|| GridPoint {
            levels: asked.levels(&run).into_iter().take(3).map(|level| level.value).collect(),
            values: fitted.iter().map(|one| one.outcome(&run, asked.confidence, false)).collect(),
        })
    };
    Ok(blends.into_iter().filter_map(point).collect())
}

/// Step of a grid: a twentieth of the widest part, one over a whole number.
fn step(bounds: &[[f64; 2]]) -> f64 {
    let widest = bounds.iter().map(|[low, high]| high - low).fold(0.0, f64::max);
    1.0 / (1.0 / (GRID * widest.max(1e-3))).round().max(1.0)
}

fn number(count: usize) -> f64 {
    #[expect(clippy::cast_precision_loss, reason = "counts of runs and terms")]
    let value = count as f64;
    value
}
