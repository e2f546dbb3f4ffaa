//! The answer: what was understood, the curves, and every model with its errors.

use super::recovery::RecoveryFit;
use super::together::{LoopReading, TemperatureReading};
use crate::flow_table::{Direction, Form, LeftOutAll, Meaning, Understood};
use levigate_measure::written::{Description, Figure};
use levigate_measure::{Grade, Outcome};
use levigate_process::flow::fit::Weights;
use levigate_process::flow::model::FlowModel;
use serde::Serialize;

const MEASURED_RATE: Description = Description::computed("1/s", "as measured, in SI").graded(Grade::Measured);

/// Curves with the models fitted to them.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FlowFit {
    /// File the curves came from; `-` for standard input, empty for what was pasted.
    pub file: String,
    /// SHA-256 of its bytes.
    pub sha256: String,
    /// How it was read.
    pub form: Form,
    /// What each column was understood to hold.
    pub understood: Vec<Understood>,
    /// What a person should confirm before trusting the numbers.
    pub to_confirm: Vec<String>,
    /// What else is worth knowing of the file.
    pub remarks: Vec<String>,
    /// What was left out and why.
    pub left_out: LeftOutAll,
    /// How residuals were weighed.
    pub weights: Weights,
    /// The spindle, where readings were turned into points.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub spindle: Option<String>,
    /// The curves.
    pub curves: Vec<CurveFit>,
    /// The recoveries after a strong shear.
    pub recoveries: Vec<RecoveryFit>,
    /// Loops between rising and falling sweeps.
    pub loops: Vec<LoopReading>,
    /// How temperature changes the viscosity, where one sample was measured at enough temperatures.
    pub temperature: Option<TemperatureReading>,
}

/// A curve with the models fitted to it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CurveFit {
    /// What tells it from the others of the file.
    pub name: String,
    /// Name of the sample, where the file says one.
    pub sample: String,
    /// Temperature, C, where the file says one.
    pub temperature_c: Option<f64>,
    /// Sweep up or down, where it is known.
    pub direction: Option<Direction>,
    /// What its two columns hold: the shear rate or speed, and the stress, viscosity or reading.
    pub meanings: [Meaning; 2],
    /// Points measured.
    pub measured: usize,
    /// Points outside the shear rates asked for; they were not fitted.
    pub outside: usize,
    /// How many points were gathered into fewer, and how, in words.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub gathered: Option<String>,
    /// The points fitted, by rising shear rate.
    pub points: Vec<PointReading>,
    /// Lowest and highest shear rate fitted.
    pub window: Option<Window>,
    /// Models fitted, best first.
    pub models: Vec<ModelReading>,
    /// Models without a fit, and why.
    pub without: Vec<Without>,
    /// The model to take and why.
    pub taken: Option<Taken>,
    /// Yield stress, where the model taken has one and the points settle it.
    pub yield_stress: Outcome,
    /// Viscosity at rest, where the model taken has one and the points settle it.
    pub viscosity_at_rest: Outcome,
    /// Why it could not be fitted.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub trouble: Option<Trouble>,
}

impl CurveFit {
    /// Stress of the model taken at a shear rate, Pa.
    #[must_use]
    pub fn stress_taken(&self, shear_rate: f64) -> Option<f64> {
        let taken = self.taken.as_ref()?.model;
        let fit = self.models.iter().find(|fit| fit.model == taken)?;
        let values: Option<Vec<f64>> =
            fit.parameters.iter().map(|parameter| parameter.estimate.value).collect();
        Some(taken.stress(&values?, shear_rate))
    }
}

/// Why a curve could not be fitted.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Trouble {
    /// What is wrong.
    pub what: String,
    /// What to do.
    pub what_now: String,
}

/// A point as fitted.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PointReading {
    /// Line of the file, from 1; of the first, where several were gathered.
    pub line: usize,
    /// Shear rate, 1/s.
    pub shear_rate: f64,
    /// Stress, Pa.
    pub stress: f64,
    /// Measured points it stands for.
    #[serde(skip_serializing_if = "is_one")]
    pub count: usize,
}

#[expect(clippy::trivially_copy_pass_by_ref, reason = "as serde asks")]
pub(super) fn is_one(count: &usize) -> bool {
    *count == 1
}

/// Shear rates fitted.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Window {
    /// Lowest, 1/s.
    #[serde(serialize_with = "rate")]
    pub from: f64,
    /// Highest, 1/s.
    #[serde(serialize_with = "rate")]
    pub to: f64,
}

fn rate<S: serde::Serializer>(value: &f64, serializer: S) -> Result<S::Ok, S::Error> {
    Figure::new(*value, &MEASURED_RATE).serialize(serializer)
}

/// A model without a fit.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Without {
    /// The model.
    pub model: FlowModel,
    /// Its name for people.
    pub name: &'static str,
    /// Why.
    pub why: String,
}

/// The model to take.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Taken {
    /// The model.
    pub model: FlowModel,
    /// Its name for people.
    pub name: &'static str,
    /// Why, in words.
    pub why: String,
    /// What the points do not settle about it, in words.
    pub not_settled: Vec<String>,
    /// What the order of the residuals says against it, in words.
    pub pattern: Option<String>,
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
    /// Residuals, as weighed, in the order of the points.
    pub residuals: Vec<f64>,
    /// Stresses of the model at the points, Pa.
    pub fitted_stress: Vec<f64>,
    /// Points that stand apart, by their place in `points`, from 0.
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
