//! Fit flow models to measured curves.

use crate::diagnostic::Diagnostic;
use crate::flow_table::{self, MeasuredCurve};
use levigate_measure::{Grade, Outcome};
pub use levigate_process::flow::fit::Weights;
use levigate_process::flow::fit::{Curve, Fitted, ModelFit, Ranking, fit_all, fit_model};
use levigate_process::flow::model::FlowModel;
use serde::Serialize;

/// The case the fits are held against.
const PROOF: &str = "tests/cross/flow_fits.csv";

/// What is asked of the curves.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Asked {
    /// This model alone, by its name; all when empty.
    pub model: String,
    /// How residuals are weighed.
    pub weights: Weights,
    /// Lowest and highest shear rate to fit, 1/s.
    pub window: [Option<f64>; 2],
}

/// Curves with the models fitted to them.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FlowFit {
    /// File the curves came from.
    pub file: String,
    /// How residuals were weighed.
    pub weights: Weights,
    /// The curves.
    pub curves: Vec<CurveFit>,
}

/// A curve with the models fitted to it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CurveFit {
    /// The curve.
    #[serde(skip)]
    pub curve: MeasuredCurve,
    /// Lowest and highest shear rate fitted.
    pub window: Window,
    /// Models fitted, best first.
    pub models: Vec<ModelReading>,
    /// Models without a fit, and why.
    pub without: Vec<Without>,
    /// The model to take and why.
    pub taken: Option<Taken>,
}

/// Shear rates fitted.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Window {
    /// Lowest.
    pub from: Outcome,
    /// Highest.
    pub to: Outcome,
}

/// A model without a fit.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Without {
    /// The model.
    pub model: FlowModel,
    /// Why.
    pub why: String,
}

/// The model to take.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Taken {
    /// The model.
    pub model: FlowModel,
    /// Why, in words.
    pub why: String,
}

/// A fitted model.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ModelReading {
    /// The model.
    pub model: FlowModel,
    /// Its name for people.
    pub name: &'static str,
    /// Its parameters.
    pub parameters: Vec<ParameterReading>,
    /// Corrected Akaike criterion; absent where the points do not suffice.
    pub aicc: Option<f64>,
    /// Root of the mean square of the residuals.
    pub root_mean_square: f64,
    /// Residuals in the order of rising shear rate.
    pub residuals: Vec<f64>,
    /// Points that stand apart, in the order of rising shear rate, from 0.
    pub outliers: Vec<usize>,
}

/// A fitted parameter, SI.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ParameterReading {
    /// Symbol.
    pub symbol: &'static str,
    /// Meaning in words.
    pub words: &'static str,
    /// Value with 95 % limits.
    #[serde(flatten)]
    pub estimate: Outcome,
    /// Standard error of the value.
    pub standard_error: Outcome,
    /// Why the value is not to be named, where it is not.
    pub not_settled: Option<String>,
}

/// Fits the curves of a measured table. `file` is only used in messages.
///
/// # Errors
/// What is wrong with the file or the question, each with its place.
pub fn flow_fit(file: &str, bytes: &[u8], asked: &Asked) -> Result<FlowFit, Vec<Diagnostic>> {
    let table = flow_table::read(file, bytes, &flow_table::Choices::default(), None)?;
    let model = named_model(file, &asked.model)?;
    let mut curves = Vec::new();
    for curve in table.curves {
        curves.push(fitted(file, curve, model, asked)?);
    }
    Ok(FlowFit { file: file.to_owned(), weights: asked.weights, curves })
}

/// The word a model is called by on the command line and in JSON.
#[must_use]
pub fn model_word(model: FlowModel) -> String {
    serde_json::to_value(model).ok().and_then(|word| word.as_str().map(str::to_owned)).unwrap_or_default()
}

fn named_model(file: &str, word: &str) -> Result<Option<FlowModel>, Vec<Diagnostic>> {
    if word.is_empty() {
        return Ok(None);
    }
    let found = FlowModel::ALL.into_iter().find(|model| model_word(*model) == word || model.words() == word);
    found.map(Some).ok_or_else(|| {
        let known: Vec<String> = FlowModel::ALL.into_iter().map(model_word).collect();
        let what = format!("no flow model is called \"{word}\"");
        vec![flow_table::complaint(
            file,
            "unknown-model",
            "model",
            what,
            format!("use one of {}", known.join(", ")),
        )]
    })
}

fn fitted(
    file: &str,
    curve: MeasuredCurve,
    model: Option<FlowModel>,
    asked: &Asked,
) -> Result<CurveFit, Vec<Diagnostic>> {
    let [low, high] = asked.window;
    let within = |rate: f64| low.is_none_or(|low| rate >= low) && high.is_none_or(|high| rate <= high);
    let points = curve.points.iter().filter(|point| within(point.shear_rate));
    let (rates, stresses): (Vec<f64>, Vec<f64>) =
        points.map(|point| (point.shear_rate, point.stress)).unzip();
    let engine = Curve::new(&rates, &stresses).map_err(|error| {
        vec![flow_table::complaint(file, "no-curve", &curve.name, error.to_string(), error.hint())]
    })?;
    let ranking = match model {
        None => fit_all(&engine, asked.weights),
        Some(model) => match fit_model(&engine, model, asked.weights) {
            Ok(fit) => Ranking { fits: vec![fit], without: Vec::new(), taken: Some(0) },
            Err(error) => {
                Ranking { fits: Vec::new(), without: vec![(model, error.to_string())], taken: None }
            }
        },
    };
    let [from, to] = engine.window().map(|rate| Outcome::new(rate, "1/s", Grade::Measured, "points fitted"));
    let taken =
        ranking.taken.map(|at| Taken { model: ranking.fits[at].model, why: why(&ranking, at, model) });
    Ok(CurveFit {
        curve,
        window: Window { from, to },
        models: ranking.fits.iter().map(model_reading).collect(),
        without: ranking.without.into_iter().map(|(model, why)| Without { model, why }).collect(),
        taken,
    })
}

fn why(ranking: &Ranking, at: usize, asked: Option<FlowModel>) -> String {
    if asked.is_some() {
        return "it was asked for".to_owned();
    }
    if at == 0 {
        return "it has the lowest corrected Akaike criterion".to_owned();
    }
    format!(
        "it has the fewest parameters among those within 2 of the lowest corrected Akaike criterion ({})",
        ranking.fits[0].model.words()
    )
}

fn model_reading(fit: &ModelFit) -> ModelReading {
    ModelReading {
        model: fit.model,
        name: fit.model.words(),
        parameters: fit.parameters.iter().map(parameter_reading).collect(),
        aicc: fit.aicc,
        root_mean_square: fit.root_mean_square,
        residuals: fit.residuals.clone(),
        outliers: fit.outliers.clone(),
    }
}

fn parameter_reading(fitted: &Fitted) -> ParameterReading {
    let outcome = |value: f64| {
        Outcome::new(value, fitted.unit, Grade::Calibrated, "least squares on the measured points")
            .proved_by(PROOF)
    };
    let mut estimate = outcome(fitted.value);
    if let Some([low, high]) = fitted.limits {
        estimate = estimate.within(low, high, Some(0.95));
    }
    let standard_error = fitted.standard_error.map_or_else(
        || Outcome::refuse(fitted.unit, "covariance at the solution", "the points do not settle it"),
        outcome,
    );
    ParameterReading {
        symbol: fitted.symbol,
        words: fitted.words,
        estimate,
        standard_error,
        not_settled: fitted.not_settled.clone(),
    }
}
