//! Which model the runs carry.

use super::blocks::Blocks;
use super::{AnalysisError, Asked, CROSS, LEVEL, Response, computed, number};
use levigate_measure::distribution::fisher_beyond;
use levigate_measure::experiment::analysis::made_of;
use levigate_measure::experiment::{Analysis, Model, Process, Terms};
use levigate_measure::regression::RegressionError;
use levigate_measure::{Grade, Outcome};
use serde::Serialize;

/// More terms than these are only counted.
const MOST_NAMED: usize = 3;

/// Why a model was taken.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Taken {
    /// It was asked for.
    AskedFor,
    /// The data speak for it most.
    ByTheData,
    /// It fits to the last digit.
    Exact,
    /// The runs are too few to compare models: the smallest.
    Smallest,
}

/// A model that was tried.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct StepReading {
    /// Model.
    pub model: String,
    /// How many terms it has.
    pub terms: Outcome,
    /// Degrees of freedom that are left.
    pub degrees: Outcome,
    /// By which models compare, the smaller the better.
    pub criterion: Outcome,
    /// Probability that what it adds to the one before is chance.
    pub adds: Outcome,
    /// Why the runs do not carry it.
    pub refused: Option<String>,
}

/// A model with its terms, what it says, and the runs it rests on.
pub(super) type Model3 = (Terms, Analysis, Vec<usize>);

/// The word for a model.
pub(super) fn word(terms: Terms) -> String {
    let blend = match terms.blend {
        Model::Linear => "linear",
        Model::Quadratic => "quadratic",
        Model::SpecialCubic => "special cubic",
        Model::FullCubic => "full cubic",
    };
    let settings = match terms.process {
        Process::Linear => "linear",
        Process::Pairs => "pairs",
        Process::Quadratic => "quadratic",
    };
    match (terms.parts, terms.settings) {
        (_, 0) => blend.to_owned(),
        (0, _) => settings.to_owned(),
        _ => {
            let joined = match terms.joined {
                levigate_measure::experiment::Joined::Added => "and",
                levigate_measure::experiment::Joined::Crossed => "crossed with",
            };
            format!("{blend} {joined} {settings} in the settings")
        }
    }
}

fn steps(asked: &Asked) -> Vec<Terms> {
    let of = |blend, process| Terms {
        parts: asked.parts.len(),
        settings: asked.settings.len(),
        blend,
        process,
        joined: asked.joined,
    };
    match asked.parts.len() {
        0 if asked.settings.len() == 1 => {
            [Process::Linear, Process::Quadratic].map(|process| of(Model::Linear, process)).to_vec()
        }
        0 => [Process::Linear, Process::Pairs, Process::Quadratic]
            .map(|process| of(Model::Linear, process))
            .to_vec(),
        1 | 2 => {
            [Model::Linear, Model::Quadratic, Model::FullCubic].map(|blend| of(blend, asked.process)).to_vec()
        }
        _ => [Model::Linear, Model::Quadratic, Model::SpecialCubic, Model::FullCubic]
            .map(|blend| of(blend, asked.process))
            .to_vec(),
    }
}

/// Chooses: the model, what was tried, why, in words.
pub(super) fn choose(
    asked: &Asked,
    coded: &[Vec<f64>],
    response: &Response,
) -> Result<(Model3, Vec<StepReading>, Taken, String), AnalysisError> {
    let places: Vec<usize> =
        (0..coded.len()).filter(|place| response.values.get(*place).copied().flatten().is_some()).collect();
    let settings: Vec<Vec<f64>> = places.iter().map(|place| coded[*place].clone()).collect();
    let blocks = Blocks::of(asked, &places);
    // A run made again in another block is no repetition of it: what the blocks differ by lies between the two.
    let alike: Vec<Vec<f64>> = settings
        .iter()
        .zip(&blocks.of_run)
        .map(|(run, block)| run.iter().copied().chain([f64::from(*block)]).collect())
        .collect();
    let observed: Vec<f64> = places.iter().filter_map(|place| response.values[*place]).collect();
    let tried: Vec<(Terms, Result<Analysis, String>)> = steps(asked)
        .into_iter()
        .map(|terms| {
            let row = |(run, block): (&Vec<f64>, &Vec<f64>)| [&terms.of(run)[..], block].concat();
            let rows: Vec<Vec<f64>> = settings.iter().zip(&blocks.rows).map(row).collect();
            let found = Analysis::of(&alike, &rows, &observed);
            (terms, found.map_err(|error| why((asked, &blocks), terms, &rows, &error)))
        })
        .collect();
    let readings = readings(&tried, blocks.count());
    let wanted = tried.iter().position(|(terms, _)| match asked.parts.len() {
        0 => Some(terms.process) == asked.model.map(|_| asked.process),
        _ => Some(terms.blend) == asked.model,
    });
    let (at, taken) = match wanted {
        Some(at) => (at, Taken::AskedFor),
        None => by_the_data(&tried),
    };
    let (terms, found) = tried.into_iter().nth(at).unwrap_or_else(|| unreachable!("a step was chosen"));
    match found {
        Ok(analysis) => {
            let words = words(&readings, at, taken);
            Ok(((terms, analysis, places), readings, taken, words))
        }
        Err(why) => Err(AnalysisError::NoModel {
            response: response.name.clone(),
            why: format!("a {} model: {why}", word(terms)),
            hint: "make more runs that tell these apart, or ask for a smaller model",
        }),
    }
}

/// The model the data speak for most.
fn by_the_data(tried: &[(Terms, Result<Analysis, String>)]) -> (usize, Taken) {
    let fitted = || tried.iter().enumerate().filter_map(|(at, (_, found))| Some((at, found.as_ref().ok()?)));
    // A model that leaves rounding alone needs no criterion.
    let exact = fitted().find(|(_, one)| {
        one.fit.degrees > 0
            && one.fit.residual_sum <= 1e-24 * one.fit.total_about_zero
            && one.fit.total_sum > 0.0
    });
    if let Some((at, _)) = exact {
        return (at, Taken::Exact);
    }
    let least = fitted()
        .filter_map(|(at, one)| Some((at, one.aicc()?)))
        .min_by(|(_, one), (_, other)| one.total_cmp(other));
    least.map_or((0, Taken::Smallest), |(at, _)| (at, Taken::ByTheData))
}

fn readings(tried: &[(Terms, Result<Analysis, String>)], of_blocks: usize) -> Vec<StepReading> {
    let mut before: Option<&Analysis> = None;
    let mut found = Vec::new();
    for (terms, one) in tried {
        let count =
            Outcome::new(number(terms.count() + of_blocks), "", Grade::Computed, "terms of the model");
        let method_of_degrees = "runs less terms";
        let (criterion, adds) = (
            "Akaike's criterion, corrected for few runs",
            "probability by Fisher's F that what the terms add is chance",
        );
        let reading = match one {
            Err(why) => StepReading {
                model: word(*terms),
                terms: count,
                degrees: Outcome::refuse("", method_of_degrees, why.clone()),
                criterion: Outcome::refuse("", criterion, why.clone()),
                adds: Outcome::refuse("", adds, why.clone()),
                refused: Some(why.clone()),
            },
            Ok(one) => {
                let ratio = before.and_then(|before| {
                    let more = before.fit.degrees.checked_sub(one.fit.degrees).filter(|more| *more > 0)?;
                    let gained = (before.fit.residual_sum - one.fit.residual_sum).max(0.0) / number(more);
                    Some(fisher_beyond(gained / one.fit.variance()?, number(more), number(one.fit.degrees)))
                });
                let why_not =
                    if before.is_none() { "it is the first" } else { "no run is left to judge it by" };
                StepReading {
                    model: word(*terms),
                    terms: count,
                    degrees: Outcome::new(number(one.fit.degrees), "", Grade::Computed, method_of_degrees),
                    criterion: computed(
                        one.aicc(),
                        "",
                        criterion,
                        "the runs are too few for it, or nothing is left to explain",
                    )
                    .by("n ln(S/n) + 2k + 2k(k + 1)/(n - k - 1)"),
                    adds: computed(ratio, "", adds, why_not).proved_by(CROSS),
                    refused: None,
                }
            }
        };
        found.push(reading);
        before = one.as_ref().ok().or(before);
    }
    found
}

fn words(steps: &[StepReading], at: usize, taken: Taken) -> String {
    let own = &steps[at].model;
    let mut words = match taken {
        Taken::AskedFor => format!("A {own} model, as asked."),
        Taken::Exact => format!("A {own} model: it fits to the last digit."),
        Taken::Smallest => format!("A {own} model: the runs are too few to compare larger ones."),
        Taken::ByTheData => format!("A {own} model: of those the runs carry the data speak for it most."),
    };
    let chance = |step: &StepReading| step.adds.value;
    if let Some(own_chance) = chance(&steps[at]) {
        let verdict = if own_chance < LEVEL { "beyond chance" } else { "no more than chance may give" };
        words += &format!(" What it adds to the smaller one is {verdict} ({}).", probability(own_chance));
    }
    if let Some(larger) = steps[at + 1..].iter().find(|step| step.refused.is_none())
        && let Some(chance) = chance(larger)
    {
        words += &format!(
            " What a {} one would add {} ({}).",
            larger.model,
            if chance < LEVEL {
                "is beyond chance by the test of Fisher: the two ways of asking differ, make more runs"
            } else {
                "may be chance"
            },
            probability(chance)
        );
    }
    if let Some(refused) = steps[at + 1..].iter().find(|step| step.refused.is_some()) {
        words += &format!(
            " A {} one cannot be told: {}.",
            refused.model,
            refused.refused.as_deref().unwrap_or_default()
        );
    }
    words
}

fn probability(chance: f64) -> String {
    if chance < 0.001 { "p below 0.001".to_owned() } else { format!("p {chance:.3}") }
}

/// Why runs do not carry a model, with names.
fn why(
    (asked, blocks): (&Asked, &Blocks),
    terms: Terms,
    rows: &[Vec<f64>],
    error: &RegressionError,
) -> String {
    match error {
        RegressionError::TooFew { observations, terms } => {
            format!("{observations} runs cannot settle {terms} terms")
        }
        RegressionError::Dependent { term } => {
            let names: Vec<String> = terms.names(&asked.labels()).into_iter().chain(blocks.names()).collect();
            let own = &names[term - 1];
            let made: Vec<&str> =
                made_of(rows, term - 1).into_iter().map(|place| names[place].as_str()).collect();
            if made.is_empty() {
                format!("the runs say nothing of {own}")
            } else if made.len() > MOST_NAMED {
                format!("the runs do not tell {own} apart from {} smaller terms together", made.len())
            } else {
                format!("the runs do not tell {own} apart from {}", made.join(", "))
            }
        }
        other => other.to_string(),
    }
}
