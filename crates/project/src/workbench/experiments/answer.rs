//! What the runs of an experiment say, told anew from its readings each time.

use super::ExperimentRecords;
use super::book::mean_of;
use super::making::read_blend;
use super::planning::{bound, meant};
use super::typed::TypedExperiment;
use crate::proof_file::analyse::refused_runs;
use crate::proof_file::design::{MODELS, USUAL_STARTS};
use crate::records::{Experiment, ExperimentWish, TypedNumber};
use crate::workbench::keeping::{FieldFault, Form, KeepError};
use levigate_assess::analysis::{
    Across, AnalysisError, AnalysisReading, Ask, Asked, Response, Seen, Sight, analysis, sight,
};
use levigate_measure::desirability::Wish;
use levigate_measure::experiment::{Joined, Model, Process};
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive as _;
use serde::{Deserialize, Serialize};

/// How it is asked.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct Asking {
    /// Model; as planned when empty, `data` for the one the data speak for.
    pub model: String,
    /// A blend the models are asked about, percent of every part; none when all are empty.
    pub percent: Vec<String>,
    /// Its settings.
    pub settings: Vec<String>,
}

/// Why something is not answered.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Unanswered {
    /// Reading it is about; empty for all.
    pub name: String,
    /// What stands in the way.
    pub what: String,
    /// What to do.
    pub what_now: String,
}

/// What the runs say.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct ExperimentAnswer {
    /// Models, predictions, the best blend; absent where nothing can be told.
    pub answer: Option<AnalysisReading>,
    /// Readings of which nothing can be told, and why.
    pub refused: Vec<Unanswered>,
    /// What is asked about is what check batches gave, by their names and in their order; then the blend that was typed.
    pub asked: Vec<String>,
}

/// Where it is looked at.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct Looking {
    /// Reading; the first when empty, `wishes` for all wishes together.
    pub of: String,
    /// Names of three parts, two settings, or a part of two and a setting; the first ones when empty.
    pub across: Vec<String>,
    /// What is held: name and level.
    pub held: Vec<(String, String)>,
    /// Model, see [`Asking`].
    pub model: String,
}

/// A run that lies in the plane.
#[derive(Clone, Debug, PartialEq)]
pub struct SeenRun {
    /// Its number.
    pub run: String,
    /// Place of the plane.
    pub at: [f64; 2],
    /// What was read of it; nothing where it was not, or where all wishes are looked at.
    pub value: Option<f64>,
}

/// What is seen.
#[derive(Clone, Debug, PartialEq)]
pub struct SeenSurface {
    /// The plane, the region, the heights.
    pub seen: Seen,
    /// Place of what is looked at among the responses; none for the wishes.
    pub place: Option<usize>,
    /// Name.
    pub name: String,
    /// Unit.
    pub unit: String,
    /// Names of parts and settings, with their units.
    pub labels: Vec<(String, String)>,
    /// How many of them are parts.
    pub parts: usize,
    /// Runs in the plane.
    pub runs: Vec<SeenRun>,
    /// The best blend, where it lies in the plane.
    pub best: Option<[f64; 2]>,
}

fn number(number: Option<&TypedNumber>) -> f64 {
    number.and_then(|it| it.value).and_then(|value| value.to_f64()).unwrap_or(0.0)
}

fn float(value: &Decimal) -> f64 {
    value.to_f64().unwrap_or(f64::NAN)
}

fn wish_of(wish: &ExperimentWish) -> Wish {
    let (low, target, high) =
        (number(wish.low.as_ref()), number(Some(&wish.target)), number(wish.high.as_ref()));
    match wish.wish.as_str() {
        "larger" => Wish::Larger { low, target, weight: 1.0 },
        "smaller" => Wish::Smaller { target, high, weight: 1.0 },
        _ => Wish::Target { low, target, high, weights: [1.0, 1.0] },
    }
}

fn model_of(plan: &Experiment, typed: &str) -> Option<Model> {
    match typed.trim() {
        "data" => None,
        word => MODELS
            .iter()
            .find(|(known, _)| *known == word)
            .map(|(_, model)| *model)
            .or_else(|| Some(meant(plan).0)),
    }
}

/// Shares and settings of a blend.
fn levels(total: f64, percent: &[Decimal], settings: &[Decimal]) -> Vec<f64> {
    percent.iter().map(|one| float(one) / total).chain(settings.iter().map(float)).collect()
}

/// The question about all runs, with the readings named.
fn question(records: &ExperimentRecords, model: &str, reads: &[usize]) -> Asked {
    let plan = records.plan();
    let total = number(Some(&plan.total_percent));
    let (_, process, joined, _) = meant(plan);
    let value = |run: &str, read: &str| {
        let kept = records.counted().find(|kept| kept.what.run == run && kept.what.read == read)?;
        mean_of(&kept.what)
    };
    let responses = reads.iter().filter_map(|at| plan.reads.get(*at)).map(|read| Response {
        name: read.name.clone(),
        unit: read.unit.clone(),
        values: plan.runs.iter().map(|run| value(&run.number.to_string(), &read.name)).collect(),
        wish: read.wish.as_ref().map(wish_of),
    });
    let checks = records.checks().map(|kept| Ask {
        levels: levels(total, &kept.what.percent, &kept.what.settings),
        measured: reads
            .iter()
            .filter_map(|at| plan.reads.get(*at))
            .map(|read| value(&kept.what.check, &read.name))
            .collect(),
    });
    Asked {
        title: plan.name.clone(),
        parts: plan.parts.iter().map(|part| part.name.clone()).collect(),
        total,
        unit: "% w/w".to_owned(),
        bounds: plan
            .parts
            .iter()
            .map(|part| [&part.least, &part.most].map(|it| (number(Some(it)) / total).min(1.0)))
            .collect(),
        conditions: bound(&plan.conditions, total),
        settings: plan
            .settings
            .iter()
            .map(|one| (one.name.clone(), [&one.low, &one.high].map(|it| number(Some(it)))))
            .collect(),
        model: model_of(plan, model),
        process,
        joined,
        runs: plan.runs.iter().map(|run| levels(total, &run.percent, &run.settings)).collect(),
        blocks: plan.runs.iter().map_while(|run| run.block).collect(),
        responses: responses.collect(),
        ask: checks.collect(),
        confidence: 0.95,
        grid: false,
        starts: USUAL_STARTS,
        seed: plan.seed,
        notes: Vec::new(),
    }
}

/// Which readings carry a model, and why the others do not.
fn answerable(records: &ExperimentRecords, model: &str) -> (Vec<usize>, Vec<Unanswered>) {
    let mut told = Vec::new();
    let mut refused = Vec::new();
    for (at, read) in records.plan().reads.iter().enumerate() {
        let mut asked = question(records, model, &[at]);
        let count = asked.responses[0].values.iter().flatten().count();
        // Wishes are for all together; here only whether there is a model.
        asked.responses[0].wish = None;
        let problem = if count == 0 {
            Some(("no run is read yet".to_owned(), "enter what was read of the runs".to_owned()))
        } else {
            analysis(&asked).err().map(|error| why(&error))
        };
        match problem {
            None => told.push(at),
            Some((what, what_now)) => refused.push(Unanswered { name: read.name.clone(), what, what_now }),
        }
    }
    (told, refused)
}

fn why(error: &AnalysisError) -> (String, String) {
    match error {
        AnalysisError::NoModel { why, hint, .. } => (why.clone(), (*hint).to_owned()),
        other => {
            let told = refused_runs("experiment", other);
            told.into_iter().next().map(|one| (one.what, one.what_now)).unwrap_or_default()
        }
    }
}

/// Answers.
///
/// # Errors
/// The blend that is asked about cannot be.
pub fn experiment_answer(
    records: &ExperimentRecords,
    asking: &Asking,
) -> Result<ExperimentAnswer, KeepError> {
    let plan = records.plan();
    let (told, mut refused) = answerable(records, &asking.model);
    let mut asked = question(records, &asking.model, &told);
    let mut names: Vec<String> = records.checks().map(|kept| kept.what.check.clone()).collect();
    if asking.percent.iter().chain(&asking.settings).any(|text| !text.trim().is_empty()) {
        let mut form = Form::default();
        let (percent, settings) = read_blend(&mut form, plan, &asking.percent, &asking.settings);
        form.done(())?;
        let levels = levels(asked.total, &percent, &settings);
        asked.ask.push(Ask { levels, measured: vec![None; told.len()] });
        names.push("as typed".to_owned());
    }
    if told.is_empty() {
        return Ok(ExperimentAnswer { answer: None, refused, asked: names });
    }
    let answer = match analysis(&asked) {
        Ok(answer) => Some(answer),
        Err(error) => {
            let (what, what_now) = why(&error);
            refused.push(Unanswered { name: String::new(), what, what_now });
            None
        }
    };
    Ok(ExperimentAnswer { answer, refused, asked: names })
}

/// Looks at a reading, or at all wishes together, across parts or settings.
///
/// # Errors
/// Nothing can be seen there, and why.
pub fn experiment_seen(records: &ExperimentRecords, looking: &Looking) -> Result<SeenSurface, Unanswered> {
    let plan = records.plan();
    let (told, refused) = answerable(records, &looking.model);
    let known = looking.of == WISHES
        || looking.of.is_empty()
        || told.iter().any(|at| plan.reads[*at].name == looking.of);
    if told.is_empty() || !known {
        let own = refused.iter().find(|one| one.name == looking.of).or(refused.first());
        return Err(own.cloned().unwrap_or_else(|| Unanswered {
            name: looking.of.clone(),
            what: format!("\"{}\" is not read in this experiment", looking.of),
            what_now: "choose one of its readings".to_owned(),
        }));
    }
    let asked = question(records, &looking.model, &told);
    let runs: Vec<String> = plan.runs.iter().map(|run| run.number.to_string()).collect();
    surface(&asked, labels(plan), &runs, looking)
}

/// The word for all wishes together.
const WISHES: &str = "wishes";

/// Looks at one response of a question, or at all wishes together. `runs` names its runs, `labels` parts and settings with their units.
pub(crate) fn surface(
    asked: &Asked,
    labels: Vec<(String, String)>,
    runs: &[String],
    looking: &Looking,
) -> Result<SeenSurface, Unanswered> {
    let unanswered = |what: String, what_now: &str| Unanswered {
        name: looking.of.clone(),
        what,
        what_now: what_now.to_owned(),
    };
    let wishes = looking.of == WISHES;
    let place = asked.responses.iter().position(|response| response.name == looking.of);
    let place = if wishes { None } else { place.or(looking.of.is_empty().then_some(0)) };
    if place.is_none() && !wishes {
        let names: Vec<&str> = asked.responses.iter().map(|response| response.name.as_str()).collect();
        return Err(unanswered(
            format!("\"{}\" was not measured", looking.of),
            &format!("choose {}, or wishes for all wishes together", names.join(", ")),
        ));
    }
    if wishes && asked.responses.iter().all(|response| response.wish.is_none()) {
        return Err(unanswered(
            "nothing is wished of any reading".to_owned(),
            "say what is wished: larger, smaller or a target",
        ));
    }
    let look = sight_of(&labels, looking).map_err(|fault| Unanswered {
        name: fault.field,
        what: fault.what,
        what_now: fault.what_now,
    })?;
    let seen = sight(asked, &look).map_err(|error| {
        let (what, what_now) = why(&error);
        unanswered(what, &what_now)
    })?;
    let name = place.map_or_else(|| "All wishes together".to_owned(), |at| asked.responses[at].name.clone());
    let unit = place.map_or_else(String::new, |at| asked.responses[at].unit.clone());
    let marks = seen.marks.iter().map(|mark| SeenRun {
        run: runs.get(mark.run).cloned().unwrap_or_default(),
        at: mark.at,
        value: place.and_then(|at| asked.responses[at].values.get(mark.run).copied().flatten()),
    });
    let runs = marks.collect();
    let best = seen.best.filter(|_| wishes);
    Ok(SeenSurface { labels, parts: asked.parts.len(), place, name, unit, runs, best, seen })
}

fn labels(plan: &Experiment) -> Vec<(String, String)> {
    let parts = plan.parts.iter().map(|part| (part.name.clone(), "% w/w".to_owned()));
    parts.chain(plan.settings.iter().map(|one| (one.name.clone(), one.unit.clone()))).collect()
}

fn sight_of(names: &[(String, String)], looking: &Looking) -> Result<Sight, FieldFault> {
    let place = |name: &str| {
        names.iter().position(|(known, _)| known == name).ok_or_else(|| {
            FieldFault::new(
                "across",
                &format!("\"{name}\" is not varied here"),
                "the plan names what is",
                "choose another",
            )
        })
    };
    let across: Vec<usize> = looking
        .across
        .iter()
        .filter(|name| !name.is_empty())
        .map(|name| place(name))
        .collect::<Result<_, _>>()?;
    let across = match across[..] {
        [] => None,
        [one] => Some(Across::Line(one)),
        [one, other] => Some(Across::Square([one, other])),
        [one, other, third] => Some(Across::Triangle([one, other, third])),
        _ => {
            let why = "a plane has three parts or two axes";
            return Err(FieldFault::new(
                "across",
                "these are too many",
                why,
                "choose three parts, or two settings",
            ));
        }
    };
    let mut held = Vec::new();
    for (name, level) in looking.held.iter().filter(|(_, level)| !level.trim().is_empty()) {
        let value = TypedNumber::read_either(level).value.and_then(|value| value.to_f64());
        let Some(value) = value else {
            let what = format!("\"{level}\" is not a level of {name}");
            return Err(FieldFault::new(
                "held",
                &what,
                "it is held at a number",
                "type a number, or leave it empty",
            ));
        };
        held.push((place(name)?, value));
    }
    Ok(Sight { across, held })
}

/// The region of a plan that is being typed, with its runs; nothing where it has not three parts.
#[must_use]
pub fn region_seen(
    typed: &TypedExperiment,
    plan: &levigate_assess::blends::BlendsReading,
) -> Option<SeenSurface> {
    if plan.parts.len() != 3 {
        return None;
    }
    let read = |text: &str| TypedNumber::read_either(text).value.and_then(|value| value.to_f64());
    let total = if typed.total_percent.trim().is_empty() { 100.0 } else { read(&typed.total_percent)? };
    let bounds: Option<Vec<[f64; 2]>> = typed
        .parts
        .iter()
        .map(|part| Some([read(&part.least)? / total, (read(&part.most)? / total).min(1.0)]))
        .collect();
    let conditions = typed.conditions.iter().filter_map(|one| {
        let text = |text: &str| if text.trim().is_empty() { Some(0.0) } else { read(text) };
        let mut factors: Vec<f64> = one.factors.iter().map(|factor| text(factor)).collect::<Option<_>>()?;
        factors.resize(3, 0.0);
        Some(levigate_measure::experiment::Condition { factors, least: text(&one.least_percent)? / total })
    });
    let runs: Vec<Vec<f64>> = plan
        .runs
        .iter()
        .map(|run| run.percent.iter().map(|one| one.value.unwrap_or(f64::NAN) / total).collect())
        .collect();
    let asked = Asked {
        title: String::new(),
        parts: plan.parts.clone(),
        total,
        unit: "% w/w".to_owned(),
        bounds: bounds?,
        conditions: conditions.collect(),
        settings: Vec::new(),
        model: None,
        process: Process::Linear,
        joined: Joined::Added,
        runs,
        blocks: Vec::new(),
        responses: Vec::new(),
        ask: Vec::new(),
        confidence: 0.95,
        grid: false,
        starts: 1,
        seed: 1,
        notes: Vec::new(),
    };
    let mut seen = sight(&asked, &Sight::default()).ok()?;
    // The runs are what is told of a plan; no model speaks yet.
    seen.points.clear();
    Some(SeenSurface {
        labels: plan.parts.iter().map(|name| (name.clone(), "% w/w".to_owned())).collect(),
        parts: 3,
        place: None,
        name: "The region".to_owned(),
        unit: String::new(),
        runs: seen
            .marks
            .iter()
            .map(|mark| SeenRun { run: plan.runs[mark.run].number.to_string(), at: mark.at, value: None })
            .collect(),
        best: None,
        seen,
    })
}
