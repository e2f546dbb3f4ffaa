//! Measured flow curves and recoveries of a trial: kept from a file with what was understood of it, corrected, taken back, shown.
//!
//! The points are kept as they stood in the file and as understood. Of the fit the person took, model, weights and window are kept; its
//! parameters follow from the points and are computed anew, so that a better fit speaks about old curves too.

use super::flow_fit::{
    Asked, CurveFit, Named, RecoveryFit, curves_of, law_word, model_word, named, recovered, refit,
};
use super::keeping::{FieldFault, Form, KeepError, Struck, TypedDevice, corrects, keep_sent, struck};
use super::readings::{age, reasoned};
use crate::diagnostic::Diagnostic;
use crate::flow_table::{FlowTable, Held, MeasuredCurve, MeasuredPoint, MeasuredRecovery, TimedPoint};
use crate::records::{
    CurveColumn, CurvePoint, FitTaken, FlowCurve, FromDevice, HeldShear, Id, Kept, MOST_POINTS, OverTime,
    ReadingBefore, ReadingOverTime, Trial, TypedNumber,
};
use crate::workspace::{KeptOnce, Workspace};
use jiff::Timestamp;
use levigate_facts::Facts;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

/// A measured file as it is handed in.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct MeasuredFile {
    /// Its name; empty for what was pasted.
    pub name: String,
    /// Its bytes.
    pub bytes: Vec<u8>,
}

/// What a person says about a curve that is to be kept.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct TypedCurve {
    /// Identity and moment from the device.
    #[serde(flatten)]
    pub device: TypedDevice,
    /// How the file is to be read, and the window and weights of the fit.
    pub asked: Asked,
    /// Name of the curve in the report; needed where the file holds several.
    pub curve: String,
    /// The model taken, by its word; none when empty.
    pub model: String,
    /// Temperature of the sample, C; that of the file when empty.
    pub temperature_c: String,
    /// Age of the sample: hours, or with `h`, `d`, `weeks`.
    pub age: String,
    /// The instrument.
    pub instrument: String,
    /// The geometry.
    pub geometry: String,
    /// Waiting before and at each point.
    pub waiting: String,
    /// Remark.
    pub note: String,
}

/// A kept curve as it is shown.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CurveRead {
    /// Identity.
    pub id: Id<FlowCurve>,
    /// Number on the trial.
    pub number: u32,
    /// What was kept.
    #[serde(flatten)]
    pub curve: FlowCurve,
    /// Who entered it.
    pub who: String,
    /// When.
    pub when: Timestamp,
    /// Number of the entry it corrects.
    pub corrects: Option<u32>,
    /// What struck it out.
    pub struck: Option<Struck>,
}

/// Keeps a curve of a measured file on a trial, once, however often a device sends it.
///
/// # Errors
/// The file cannot be read, what was typed cannot be kept, another record has its identity, there is no such trial, or the workspace
/// refused.
pub async fn keep_curve(
    workspace: &Workspace,
    facts: &Facts,
    who: &str,
    trial: Id<Trial>,
    file: &MeasuredFile,
    typed: &TypedCurve,
) -> Result<KeptOnce<FlowCurve>, KeepError> {
    let mut form = Form::default();
    let (id, from) = form.sent(&typed.device, trial.uuid(), typed, Some(&file.bytes));
    let () = form.done(())?;
    let curve = FlowCurve { from, ..read_curve(facts, trial, file, typed)? };
    keep_sent(workspace, who, id, (curve, None), |curve| &curve.from).await
}

/// Keeps a curve in the place of another, or takes the other back when nothing stands in its place.
///
/// # Errors
/// See [`keep_curve`]; also without a reason, or when it has been corrected already.
pub async fn correct_curve(
    workspace: &Workspace,
    facts: &Facts,
    who: &str,
    id: Id<FlowCurve>,
    reason: &str,
    instead: Option<(&MeasuredFile, &TypedCurve)>,
) -> Result<Kept<FlowCurve>, KeepError> {
    let reason = reasoned(reason)?;
    let struck = workspace.get(id).await?.what;
    let what = match instead {
        Some((file, typed)) => read_curve(facts, struck.trial, file, typed)?,
        None => FlowCurve { withdrawn: true, from: FromDevice::default(), ..struck },
    };
    Ok(workspace.correct(who, id, reason, what).await?)
}

/// The curves of a trial as they are shown, in the order they were entered.
#[must_use]
pub fn curves_read(curves: &[Kept<FlowCurve>]) -> Vec<CurveRead> {
    let strikes = struck(curves);
    curves
        .iter()
        .map(|curve| CurveRead {
            id: curve.id,
            number: curve.number,
            curve: curve.what.clone(),
            who: curve.who.clone(),
            when: curve.when,
            corrects: corrects(curves, curve),
            struck: strikes.get(&curve.id).cloned(),
        })
        .collect()
}

/// The fit of what was kept.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(untagged)]
pub enum KeptFit {
    /// Of a flow curve.
    Curve(Box<CurveFit>),
    /// Of a recovery after a strong shear.
    Recovery(Box<RecoveryFit>),
}

/// The fit of a kept curve: the model or law the person took, else all of them.
///
/// # Errors
/// The model or the window is none that is known.
pub fn fit_of(curve: &FlowCurve) -> Result<KeptFit, Vec<Diagnostic>> {
    let mut asked = Asked::default();
    let mut taken = Named::All;
    if let Some(fit) = &curve.fit {
        taken = named("", &fit.model)?;
        asked.weights = serde_json::from_value(fit.weights.clone().into()).unwrap_or_default();
        for (end, text) in asked.shear.iter_mut().zip(&fit.shear_rate_1_s) {
            *end = text.as_ref().and_then(|text| text.parse().ok());
        }
    }
    Ok(match &curve.recovery {
        Some(over_time) => {
            KeptFit::Recovery(Box::new(recovered(measured_over_time(curve, over_time), taken.law())))
        }
        None => KeptFit::Curve(Box::new(refit(measured(curve), taken.model(), &asked))),
    })
}

/// The units of the two columns.
fn units_of(curve: &FlowCurve) -> [&'static str; 2] {
    curve.columns.each_ref().map(|column| {
        column.meaning.units().iter().find(|unit| unit.symbol == column.unit).map_or("", |unit| unit.symbol)
    })
}

fn celsius(curve: &FlowCurve) -> Option<f64> {
    curve.temperature_c.as_ref().and_then(|number| number.value.and_then(|value| value.try_into().ok()))
}

/// A kept curve as it was measured.
fn measured(curve: &FlowCurve) -> MeasuredCurve {
    MeasuredCurve {
        name: curve.name.clone(),
        sample: String::new(),
        temperature_c: celsius(curve),
        direction: curve.direction,
        columns: curve.columns.each_ref().map(|column| column.name.clone()),
        units: units_of(curve),
        meanings: curve.columns.each_ref().map(|column| column.meaning),
        points: curve
            .points
            .iter()
            .map(|point| MeasuredPoint {
                line: point.line,
                shear_rate: point.shear_rate,
                stress: point.stress,
                typed: point.typed.clone().map(String::into_boxed_str),
            })
            .collect(),
    }
}

/// A kept recovery as it was measured.
fn measured_over_time(curve: &FlowCurve, over_time: &OverTime) -> MeasuredRecovery {
    let held = |held: &Option<HeldShear>| {
        let held = held.as_ref()?;
        Some(Held { value: held.value, unit: if held.unit == "rpm" { "rpm" } else { "1/s" } })
    };
    MeasuredRecovery {
        name: curve.name.clone(),
        sample: String::new(),
        temperature_c: celsius(curve),
        columns: curve.columns.each_ref().map(|column| column.name.clone()),
        units: units_of(curve),
        meanings: curve.columns.each_ref().map(|column| column.meaning),
        at: held(&over_time.at),
        strong: held(&over_time.strong),
        before: over_time.before.iter().map(|reading| reading.viscosity).collect(),
        points: over_time
            .readings
            .iter()
            .map(|reading| TimedPoint {
                line: reading.line,
                time_s: reading.time_s,
                viscosity: reading.viscosity,
                typed: reading.typed.clone().map(String::into_boxed_str),
            })
            .collect(),
    }
}

fn of_file(problems: &[Diagnostic]) -> KeepError {
    let fault = |problem: &Diagnostic| {
        let place = if problem.line > 0 { format!("line {}: ", problem.line) } else { String::new() };
        FieldFault::new("file", &format!("{place}{}", problem.what), &problem.field, &problem.what_now)
    };
    KeepError::Typed(problems.iter().map(fault).collect())
}

fn read_curve(
    facts: &Facts,
    trial: Id<Trial>,
    file: &MeasuredFile,
    typed: &TypedCurve,
) -> Result<FlowCurve, KeepError> {
    let (table, asked, spindle) =
        curves_of(facts, &file.name, &file.bytes, &typed.asked).map_err(|problems| of_file(&problems))?;
    let mut form = Form::default();
    let found = Found::of(&table, &typed.curve)?;
    if found.count() > MOST_POINTS {
        form.fault(
            "file",
            &format!("the curve has {} points", found.count()),
            &format!("at most {MOST_POINTS} are kept"),
            "thin the file out before it is kept; a flow curve needs some tens of points",
        );
    }
    let model = match (named("", &typed.model), &found) {
        (Ok(Named::All), _) => None,
        (Ok(Named::Model(model)), Found::Curve(_)) => Some(model_word(model)),
        (Ok(Named::Law(law)), Found::Recovery(_)) => Some(law_word(law)),
        (Ok(_), _) => {
            form.fault(
                "model",
                &format!("\"{}\" does not fit what is kept", typed.model),
                "flow curves have models, recoveries over time have laws",
                "name one that was fitted to it, or none",
            );
            None
        }
        (Err(problems), _) => {
            for problem in problems {
                form.fault(
                    "model",
                    &problem.what,
                    "the fit is kept by the name of its model",
                    &problem.what_now,
                );
            }
            None
        }
    };
    let weights = serde_json::to_value(asked.weights).ok();
    let fit = model.map(|model| FitTaken {
        model,
        weights: weights.as_ref().and_then(|word| word.as_str()).unwrap_or_default().to_owned(),
        shear_rate_1_s: asked.shear.map(|end| end.map(|rate| rate.to_string())),
    });
    let temperature = form.number(
        "temperature_c",
        &typed.temperature_c,
        (Decimal::from(-30), Decimal::from(150)),
        "it is the temperature of the sample, in degrees Celsius",
    );
    let of_the_file = found.temperature_c().map(|value| TypedNumber::read_either(&format!("{value:.2}")));
    let text = |text: &str| text.trim().to_owned();
    let curve = FlowCurve {
        trial,
        name: found.name().to_owned(),
        file: file.name.rsplit(['/', '\\']).next().unwrap_or_default().to_owned(),
        sha256: Sha256::digest(&file.bytes).iter().map(|byte| format!("{byte:02x}")).collect(),
        columns: found.columns(),
        points: found.points(),
        recovery: found.over_time(),
        spindle: spindle.unwrap_or_default(),
        temperature_c: temperature.or(of_the_file),
        age_h: age(&mut form, &typed.age),
        instrument: text(&typed.instrument),
        geometry: text(&typed.geometry),
        direction: found.direction(),
        waiting: text(&typed.waiting),
        note: text(&typed.note),
        fit,
        from: FromDevice::default(),
        withdrawn: false,
    };
    form.done(curve)
}

/// The curve or recovery of a file that is meant.
enum Found<'t> {
    Curve(&'t MeasuredCurve),
    Recovery(&'t MeasuredRecovery),
}

impl<'t> Found<'t> {
    /// The one of a name; the only one where none is named.
    fn of(table: &'t FlowTable, name: &str) -> Result<Self, KeepError> {
        let all =
            || table.curves.iter().map(Found::Curve).chain(table.recoveries.iter().map(Found::Recovery));
        let count = all().count();
        let found = all().find(|one| (count == 1 && name.is_empty()) || one.name() == name);
        found.ok_or_else(|| {
            let names: Vec<String> = all().map(|one| one.name().to_owned()).collect();
            let fault = FieldFault::new(
                "curve",
                &format!("which of the {count} curves of the file is meant is not said"),
                "each curve is kept for itself",
                &format!("name one of {}", names.join("; ")),
            );
            fault.into()
        })
    }

    fn name(&self) -> &'t str {
        match self {
            Self::Curve(curve) => &curve.name,
            Self::Recovery(recovery) => &recovery.name,
        }
    }

    fn count(&self) -> usize {
        match self {
            Self::Curve(curve) => curve.points.len(),
            Self::Recovery(recovery) => recovery.points.len(),
        }
    }

    fn temperature_c(&self) -> Option<f64> {
        match self {
            Self::Curve(curve) => curve.temperature_c,
            Self::Recovery(recovery) => recovery.temperature_c,
        }
    }

    fn direction(&self) -> Option<crate::flow_table::Direction> {
        if let Self::Curve(curve) = self { curve.direction } else { None }
    }

    fn columns(&self) -> [CurveColumn; 2] {
        let (names, meanings, units) = match self {
            Self::Curve(curve) => (&curve.columns, &curve.meanings, &curve.units),
            Self::Recovery(recovery) => (&recovery.columns, &recovery.meanings, &recovery.units),
        };
        [0, 1].map(|at| CurveColumn {
            name: names[at].clone(),
            meaning: meanings[at],
            unit: units[at].to_owned(),
        })
    }

    fn points(&self) -> Vec<CurvePoint> {
        let Self::Curve(curve) = self else { return Vec::new() };
        let point = |point: &MeasuredPoint| CurvePoint {
            line: point.line,
            typed: point.typed.clone().map(String::from),
            shear_rate: point.shear_rate,
            stress: point.stress,
        };
        curve.points.iter().map(point).collect()
    }

    fn over_time(&self) -> Option<OverTime> {
        let Self::Recovery(recovery) = self else { return None };
        let held =
            |held: Option<Held>| held.map(|one| HeldShear { value: one.value, unit: one.unit.to_owned() });
        let reading = |point: &TimedPoint| ReadingOverTime {
            line: point.line,
            typed: point.typed.clone().map(String::from),
            time_s: point.time_s,
            viscosity: point.viscosity,
        };
        Some(OverTime {
            at: held(recovery.at),
            strong: held(recovery.strong),
            before: recovery.before.iter().map(|&viscosity| ReadingBefore { viscosity }).collect(),
            readings: recovery.points.iter().map(reading).collect(),
        })
    }
}
