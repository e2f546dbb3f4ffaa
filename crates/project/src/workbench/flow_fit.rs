//! Fit flow models to measured curves, and laws of recovery to readings over time: a file or pasted cells in, what was understood and every model with its errors out.
//!
//! The answer as JSON ([`FlowFit`]): `understood` says what each column was taken for and what is to be confirmed; `curves` holds, for each
//! curve, its `points` in the order of rising shear rate (the residuals, fitted stresses and outliers of each model count in that
//! order), `models` with their parameters in SI (each a result with 95 % limits, and its `standard_error` a result of its own), which one is
//! `taken` and why, and what the points do not settle. `recoveries` holds readings over time after a strong shear in the same way, with their laws.
//! A curve that cannot be fitted says why in `trouble` and spoils no other.

mod form;
mod gathering;
mod recovery;
mod report;
mod together;

pub use form::SCHEMA;
pub use levigate_process::flow::fit::Weights;
pub use recovery::{LawReading, LawTaken, RecoveryFit, TimedReading, law_word};
pub use report::{
    CurveFit, FlowFit, ModelReading, ParameterReading, PointReading, Taken, Trouble, Window, Without,
};
pub use together::{LoopReading, TemperatureReading};

use crate::diagnostic::Diagnostic;
use crate::flow_table::{self, Choices, FlowTable, MeasuredCurve, Spindle};
use gathering::{Gathered, gathered};
use levigate_facts::Facts;
use levigate_measure::{Grade, Outcome};
use levigate_process::flow::fit::{Curve, Fitted, ModelFit, Ranking, fit_all, fit_model};
use levigate_process::flow::model::FlowModel;
use levigate_process::flow::spindle::chosen;
use levigate_process::flow::thixotropy::RecoveryLaw;
pub(crate) use recovery::recovered;
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

/// The case the fits are held against.
const PROOF: &str = "tests/cross/flow_fits.csv";
const PROOF_TEMPERATURE: &str = "tests/cross/flow_temperature.toml";
const PROOF_THIXOTROPY: &str = "exact arithmetic";
const PROOF_RECOVERY: &str = "tests/cross/flow_recovery.toml";
const STANDARD_ERROR: &str = "covariance at the solution, with the variance of the residuals";

/// What is asked of the curves.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Asked {
    /// This model or law of recovery alone, by its name; all when empty.
    pub model: String,
    /// How residuals are weighed.
    pub weights: Weights,
    /// Lowest and highest shear rate to fit, 1/s.
    pub shear: [Option<f64>; 2],
    /// The spindle, where the table holds speeds and readings: `disc, 27 mm, 700 uN.m`.
    pub spindle: String,
    /// What the person says about the table.
    pub table: Choices,
}

/// Fits the curves of a measured table, or of a TOML with the points in it. `file` is only used in messages.
///
/// # Errors
/// What is wrong with the file or the question, each with its place.
pub fn flow_fit(facts: &Facts, file: &str, bytes: &[u8], asked: &Asked) -> Result<FlowFit, Vec<Diagnostic>> {
    let (table, asked, spindle) = curves_of(facts, file, bytes, asked)?;
    let named = named(file, &asked.model)?;
    fits_what_is_there(file, named, &table)?;
    let FlowTable { form, understood, curves, recoveries, left_out, to_confirm, remarks } = table;
    let curves: Vec<CurveFit> = curves.into_iter().map(|curve| refit(curve, named.model(), &asked)).collect();
    let recoveries: Vec<RecoveryFit> =
        recoveries.into_iter().map(|one| recovered(one, named.law())).collect();
    let mut troubles = curves
        .iter()
        .map(|one| (&one.name, &one.trouble))
        .chain(recoveries.iter().map(|one| (&one.name, &one.trouble)));
    if let Some((name, Some(trouble))) = troubles.next()
        && troubles.all(|(_, trouble)| trouble.is_some())
    {
        let mut what = trouble.what.clone();
        for left in left_out.by_reason.iter().take(3) {
            what.push_str(&format!("; {} left out: {}", left.count, left.why));
        }
        return Err(vec![flow_table::complaint(file, "no-curve", name, what, &trouble.what_now)]);
    }
    Ok(FlowFit {
        file: file.to_owned(),
        sha256: Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect(),
        form,
        understood,
        to_confirm,
        remarks,
        left_out,
        weights: asked.weights,
        spindle,
        loops: together::loops(&curves),
        temperature: together::temperature(&curves),
        curves,
        recoveries,
    })
}

/// The curves of a file with the question as the file itself may put it, and the spindle in words.
pub(crate) fn curves_of(
    facts: &Facts,
    file: &str,
    bytes: &[u8],
    asked: &Asked,
) -> Result<(FlowTable, Asked, Option<String>), Vec<Diagnostic>> {
    if let Some(text) = form::as_toml(file, bytes) {
        let (table, asked) = form::read(facts, file, text, asked)?;
        return Ok((table, asked, None));
    }
    let (spindle, assumed) = spindle_of(facts, file, &asked.spindle)?;
    let mut table = flow_table::read(file, bytes, &asked.table, spindle.as_ref())?;
    table.to_confirm.extend(assumed);
    let words = spindle.map(|Spindle { disc, torque_n_m }| {
        format!("{}, full-scale torque {:.4} uN m", disc.words(), torque_n_m * 1e6)
    });
    Ok((table, asked.clone(), words))
}

/// The spindle of some words, and what was assumed about it.
fn spindle_of(
    facts: &Facts,
    file: &str,
    words: &str,
) -> Result<(Option<Spindle>, Vec<String>), Vec<Diagnostic>> {
    if words.trim().is_empty() {
        return Ok((None, Vec::new()));
    }
    let instruments = &facts.instruments;
    let assumed = instruments.medium_torque_n_m();
    let choice = assumed.and_then(|torque| chosen(words, instruments.spindles.values(), torque, None));
    match choice {
        Some(choice) => {
            let spindle = Spindle { disc: choice.spindle.clone(), torque_n_m: choice.torque_n_m };
            Ok((Some(spindle), choice.assumptions))
        }
        None => {
            let known: Vec<String> = instruments.spindles.values().map(|spindle| spindle.words()).collect();
            Err(vec![flow_table::complaint(
                file,
                "unknown-spindle",
                "spindle",
                format!("\"{words}\" does not say which spindle"),
                format!(
                    "say its diameter and the full-scale torque, such as \"disc, 27 mm, 700 uN.m\"; known are {}",
                    known.join("; ")
                ),
            )])
        }
    }
}

/// The word a model is called by on the command line and in JSON.
#[must_use]
pub fn model_word(model: FlowModel) -> String {
    serde_json::to_value(model).ok().and_then(|word| word.as_str().map(str::to_owned)).unwrap_or_default()
}

/// What a word of [`Asked::model`] names.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Named {
    /// Nothing: all are wanted.
    All,
    /// A model of a flow curve.
    Model(FlowModel),
    /// A law of recovery.
    Law(RecoveryLaw),
}

impl Named {
    pub(crate) fn model(self) -> Option<FlowModel> {
        if let Self::Model(model) = self { Some(model) } else { None }
    }

    pub(crate) fn law(self) -> Option<RecoveryLaw> {
        if let Self::Law(law) = self { Some(law) } else { None }
    }
}

pub(crate) fn named(file: &str, word: &str) -> Result<Named, Vec<Diagnostic>> {
    if word.is_empty() {
        return Ok(Named::All);
    }
    let model = FlowModel::ALL.into_iter().find(|model| model_word(*model) == word || model.words() == word);
    let law = RecoveryLaw::ALL.into_iter().find(|law| law_word(*law) == word || law.words() == word);
    model.map(Named::Model).or(law.map(Named::Law)).ok_or_else(|| {
        let known: Vec<String> = FlowModel::ALL.into_iter().map(model_word).collect();
        let laws: Vec<String> = RecoveryLaw::ALL.into_iter().map(law_word).collect();
        let what = format!("no flow model is called \"{word}\"");
        let what_now = format!("use one of {}; for a recovery {}", known.join(", "), laws.join(" or "));
        vec![flow_table::complaint(file, "unknown-model", "model", what, what_now)]
    })
}

/// A model is for flow curves, a law for recoveries.
fn fits_what_is_there(file: &str, named: Named, table: &FlowTable) -> Result<(), Vec<Diagnostic>> {
    let (what, what_now) = match named {
        Named::Model(model) if table.curves.is_empty() => (
            format!("{} is a model of flow curves, and the file holds a recovery over time", model.words()),
            "leave the model away, or say that the time is unused: NAME=unused",
        ),
        Named::Law(law) if table.recoveries.is_empty() => (
            format!(
                "{} is a law of recovery, and the file holds no readings over time at one shear rate",
                law.words()
            ),
            "leave it away, or say which column holds the time: NAME=time:s",
        ),
        _ => return Ok(()),
    };
    Err(vec![flow_table::complaint(file, "model-does-not-fit", "model", what, what_now)])
}

/// Fits one curve: the model asked for, or all.
pub(crate) fn refit(curve: MeasuredCurve, model: Option<FlowModel>, asked: &Asked) -> CurveFit {
    let [low, high] = asked.shear;
    let within = |rate: f64| low.is_none_or(|low| rate >= low) && high.is_none_or(|high| rate <= high);
    let (measured, mut points) = (curve.points.len(), curve.points);
    points.retain(|point| within(point.shear_rate));
    let outside = measured - points.len();
    points.sort_by(|a, b| a.shear_rate.total_cmp(&b.shear_rate));
    let Gathered { points, words: gathered } = gathered(points);
    let no = |what: &str| Outcome::refuse("Pa", "model taken", what.to_owned());
    let mut reading = CurveFit {
        name: curve.name,
        sample: curve.sample,
        temperature_c: curve.temperature_c,
        direction: curve.direction,
        meanings: curve.meanings,
        measured,
        outside,
        gathered,
        points,
        window: None,
        models: Vec::new(),
        without: Vec::new(),
        taken: None,
        yield_stress: no("no model was fitted"),
        viscosity_at_rest: Outcome::refuse("Pa s", "model taken", "no model was fitted"),
        trouble: None,
    };
    let (rates, stresses): (Vec<f64>, Vec<f64>) =
        reading.points.iter().map(|point| (point.shear_rate, point.stress)).unzip();
    match Curve::new(&rates, &stresses) {
        Ok(engine) => rank(&mut reading, &engine, model, asked.weights),
        Err(error) => {
            let what = if outside > 0 {
                format!("{error}; {outside} points lie outside the shear rates asked for")
            } else {
                error.to_string()
            };
            reading.trouble = Some(Trouble { what, what_now: error.hint().to_owned() });
        }
    }
    reading
}

fn rank(reading: &mut CurveFit, engine: &Curve, model: Option<FlowModel>, weights: Weights) {
    let mut ranking = match model {
        None => fit_all(engine, weights),
        Some(model) => match fit_model(engine, model, weights) {
            Ok(fit) => Ranking { fits: vec![fit], without: Vec::new(), taken: Some(0) },
            Err(error) => {
                Ranking { fits: Vec::new(), without: vec![(model, error.to_string())], taken: None }
            }
        },
    };
    if let Some(at) = ranking.taken {
        // The limits of what is taken are worth the search; those of the others only compare.
        let fit = ranking.fits.remove(at);
        ranking.fits.insert(at, fit.with_profiles(engine));
    }
    let [from, to] = engine.window();
    reading.window = Some(Window { from, to });
    reading.taken = ranking.taken.map(|at| taken(&ranking, at, model.is_some()));
    reading.models = ranking.fits.iter().map(|fit| model_reading(fit, engine)).collect();
    let named = |symbol: &str, unit: &'static str, what: &str| {
        let Some(at) = ranking.taken else {
            return Outcome::refuse(unit, "model taken", "the points do not suffice to take a model");
        };
        let fit = &ranking.fits[at];
        match fit.parameters.iter().find(|parameter| parameter.symbol == symbol) {
            None => Outcome::refuse(
                unit,
                "model taken",
                format!("the model taken ({}) has no {what}", fit.model.words()),
            ),
            Some(parameter) => match &parameter.not_settled {
                Some(why) => Outcome::refuse(unit, "model taken", why.clone()),
                None => parameter_reading(parameter, PROOF).estimate,
            },
        }
    };
    (reading.yield_stress, reading.viscosity_at_rest) =
        (named("tau0", "Pa", "yield stress"), named("eta0", "Pa s", "viscosity at rest"));
    reading.without =
        ranking.without.into_iter().map(|(model, why)| Without { model, name: model.words(), why }).collect();
}

fn taken(ranking: &Ranking, at: usize, asked: bool) -> Taken {
    let fit = &ranking.fits[at];
    let why = if asked {
        "it was asked for".to_owned()
    } else if at == 0 {
        "it has the lowest corrected Akaike criterion, and none with fewer parameters comes within 2 of it"
            .to_owned()
    } else {
        format!(
            "it has the fewest parameters among those within 2 of the lowest corrected Akaike criterion, which {} has",
            ranking.fits[0].model.words()
        )
    };
    let unsettled = fit.parameters.iter().filter_map(|parameter| {
        let why = parameter.not_settled.as_ref()?;
        Some(format!("{} ({}): {why}", parameter.words, parameter.symbol))
    });
    let pattern = fit.runs().filter(|runs| runs.systematic).map(|runs| {
        format!(
            "the residuals keep their sign over long stretches ({} where chance gives about {:.0}): the model misses the shape of the curve",
            runs.found, runs.expected
        )
    });
    Taken { model: fit.model, name: fit.model.words(), why, not_settled: unsettled.collect(), pattern }
}

fn model_reading(fit: &ModelFit, curve: &Curve) -> ModelReading {
    let values = fit.values();
    ModelReading {
        model: fit.model,
        name: fit.model.words(),
        parameters: fit.parameters.iter().map(|one| parameter_reading(one, PROOF)).collect(),
        aicc: fit.aicc,
        root_mean_square: fit.root_mean_square,
        residuals: fit.residuals.clone(),
        fitted_stress: curve.points().map(|(rate, _)| fit.model.stress(&values, rate)).collect(),
        outliers: fit.outliers.clone(),
    }
}

fn parameter_reading(fitted: &Fitted, proof: &'static str) -> ParameterReading {
    let outcome = |value: f64, method: &'static str| {
        Outcome::new(value, fitted.unit, Grade::Calibrated, method).proved_by(proof)
    };
    let mut estimate =
        outcome(fitted.value, "least squares on the measured points; limits by the covariance");
    if let Some(profile) = fitted.profile {
        estimate = outcome(
            fitted.value,
            "least squares on the measured points; limits by the profile of the sum of squares",
        );
        let end = |end: Option<f64>, open: f64| end.unwrap_or(open);
        estimate = estimate.within(
            end(profile.low, f64::NEG_INFINITY),
            end(profile.high, f64::INFINITY),
            Some(0.95),
        );
    } else if let Some([low, high]) = fitted.limits {
        estimate = estimate.within(low, high, Some(0.95));
    }
    let standard_error = fitted.standard_error.map_or_else(
        || Outcome::refuse(fitted.unit, STANDARD_ERROR, "the points do not settle it"),
        |value| outcome(value, STANDARD_ERROR),
    );
    ParameterReading {
        symbol: fitted.symbol,
        words: fitted.words,
        estimate,
        standard_error,
        not_settled: fitted.not_settled.clone(),
    }
}
