//! What the flow figure of a sheet shows: the predicted curve, the life of the product along it, what the brief wants.

use super::assess::{Bench, known};
use super::complaint::{Complaint, complaints};
use super::curves::curves_read;
use crate::records::{FlowCurve, Formula, Id, Kept, Trial};
use crate::store::StoreError;
use crate::workspace::Workspace;
use jiff::civil::Date;
use levigate_assess::flow_use::Flows;
use levigate_assess::{Assessed, Inquiry};
use levigate_facts::Facts;
use levigate_formula::sheet::Sheet;
use levigate_measure::Outcome;
use levigate_measure::elementary::Elementary as _;
use levigate_measure::root::bracketed;
use levigate_process::flow::life::Stage;
use levigate_process::flow::reading::life;
use levigate_process::flow::{Liquid as _, Prediction};
use rust_decimal::prelude::ToPrimitive;

/// Points of the curve for each decade, and the decades it runs over.
const PER_DECADE: i32 = 8;
const DECADES: (i32, i32) = (-6, 6);
/// Shear rate at which a window is drawn where the curve gives no other, 1/s.
const STATED_RATE: f64 = 10.0;
/// A curve that falls by less than this over three decades has no shear rate of its own at which it shows a reading.
const FLAT: f64 = 1.15;
/// A plateau is reached where the curve comes within this of it inside the evidence.
const REACHED: f64 = 1.1;

/// One point of the curve.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CurvePoint {
    /// Shear rate, 1/s.
    pub shear_rate: f64,
    /// Lowest, best and highest viscosity, Pa s.
    pub viscosity_pa_s: [f64; 3],
}

/// What the brief wants.
#[derive(Clone, Debug, PartialEq)]
pub struct Wanted {
    /// Shear rate at which the curve shows what the brief's instrument shows, 1/s.
    pub shear_rate: f64,
    /// Window, mPa s.
    pub mpa_s: [f64; 2],
}

/// What the flow figure of a sheet shows.
#[derive(Clone, Debug, Default)]
pub struct FlowSheet {
    /// Temperature, C.
    pub temperature_c: f64,
    /// How the viscosity of the brief is meant.
    pub condition: String,
    /// The curve; empty where a thickener is not known.
    pub curve: Vec<CurvePoint>,
    /// Why there is none.
    pub refused: Option<String>,
    /// Shear rates the evidence covers, 1/s.
    pub window: [f64; 2],
    /// What the brief wants.
    pub wanted: Option<Wanted>,
    /// Yield stress, Pa, where there surely is one.
    pub yield_stress: Option<f64>,
    /// Viscosity at rest, Pa s, where the evidence reaches it.
    pub at_rest: Option<f64>,
    /// Stages of its life: name, lowest and highest shear rate, 1/s.
    pub life: Vec<(String, [f64; 2])>,
}

/// Computes what the flow figure shows.
///
/// # Errors
/// Everything that is wrong with the sheet.
pub fn flow_sheet(
    facts: &Facts,
    day: Date,
    market: &str,
    sheet: &Sheet,
    bench: Option<Bench<'_>>,
) -> Result<FlowSheet, Vec<Complaint>> {
    let mut known = known(facts);
    known.flow.bench = bench;
    let inquiry = Inquiry { sheet, known, day, market };
    let assessed = levigate_assess::assess(&inquiry).map_err(|error| complaints(&error))?;
    Ok(of(facts, sheet, &assessed))
}

/// The same from an assessment that is made already.
#[must_use]
pub fn of(facts: &Facts, sheet: &Sheet, assessed: &Assessed<'_>) -> FlowSheet {
    let reading = &assessed.assessment.flow;
    let shown = FlowSheet {
        temperature_c: reading.temperature_c,
        condition: reading.condition.clone(),
        refused: reading.at_brief.refused.clone().map(|refusal| refusal.to_string()),
        window: reading.window,
        ..FlowSheet::default()
    };
    if reading.curve.is_empty() {
        return shown;
    }
    let liquid = &assessed.flow;
    let reached =
        |at_rest: &f64| (1.0 / REACHED..=REACHED).contains(&(at_rest / liquid.viscosity(reading.window[0])));
    let at_rest = reading.at_rest.value.filter(reached);
    FlowSheet {
        curve: curve(liquid),
        wanted: wanted(sheet, liquid, &reading.at_brief),
        yield_stress: surely(&reading.yield_stress),
        at_rest,
        life: stages(facts, assessed),
        ..shown
    }
}

fn curve(liquid: &Prediction) -> Vec<CurvePoint> {
    (DECADES.0 * PER_DECADE..=DECADES.1 * PER_DECADE)
        .map(|step| 10f64.to_the(f64::from(step) / f64::from(PER_DECADE)))
        .map(|shear_rate| CurvePoint { shear_rate, viscosity_pa_s: liquid.viscosity_within(shear_rate) })
        .collect()
}

/// A value whose interval lies above zero.
fn surely(outcome: &Outcome) -> Option<f64> {
    outcome.value.filter(|value| *value > 0.0 && outcome.low.is_none_or(|low| low > 0.0))
}

/// The window is drawn where the predicted curve has the viscosity that the brief's instrument is predicted to show: the curve runs
/// through the box exactly when the reading lies in the window.
fn wanted(sheet: &Sheet, liquid: &Prediction, at_brief: &Outcome) -> Option<Wanted> {
    let target = sheet.target.viscosity.as_ref()?;
    let mpa_s = [target.mpa_s[0].to_f64()?, target.mpa_s[1].to_f64()?];
    let shear_rate = at_brief.value.map_or(STATED_RATE, |read| rate_of(liquid, 1e-3 * read));
    Some(Wanted { shear_rate, mpa_s })
}

fn rate_of(liquid: &Prediction, viscosity_pa_s: f64) -> f64 {
    let (low, high) = (1e-2, 1e4);
    if liquid.viscosity(0.1) < FLAT * liquid.viscosity(100.0) {
        return STATED_RATE;
    }
    let miss = |ln_rate: f64| liquid.viscosity(ln_rate.exp_e()).log_e() - viscosity_pa_s.log_e();
    bracketed(miss, low.log_e(), high.log_e(), 1e-9, 200).map_or(STATED_RATE, f64::exp_e)
}

fn stages(facts: &Facts, assessed: &Assessed<'_>) -> Vec<(String, [f64; 2])> {
    let Ok(flows) = Flows::of(assessed) else { return Vec::new() };
    let stages: Vec<&Stage> = facts.flow_use.stages.values().collect();
    life(&flows.known(), &stages)
        .into_iter()
        .filter_map(|stage| {
            let rate = &stage.shear_rate;
            let (low, high) = (rate.low.or(rate.value)?, rate.high.or(rate.value)?);
            Some((stage.name, [low, high]))
        })
        .collect()
}

/// A curve that was measured on a trial.
#[derive(Clone, Debug, PartialEq)]
pub struct MeasuredOnTrial {
    /// Name (`trial 3, 7 d`).
    pub name: String,
    /// Shear rate (1/s) and viscosity (Pa s), shear rates rising; thinned out where there are very many.
    pub points: Vec<[f64; 2]>,
}

/// Curves that are shown beside a prediction; the latest ones.
const MOST_CURVES: usize = 4;
/// Points of each that are shown.
const MOST_POINTS: usize = 60;

/// What was measured on the trials of a formula and was not struck out.
///
/// # Errors
/// The workspace cannot be read.
pub async fn measured_on_trials(
    workspace: &Workspace,
    formula: Id<Formula>,
) -> Result<Vec<MeasuredOnTrial>, StoreError> {
    let mut all = Vec::new();
    let trials: Vec<Kept<Trial>> = workspace.of(formula).await?;
    for trial in trials {
        let curves: Vec<Kept<FlowCurve>> = workspace.of(trial.id).await?;
        let stand = curves_read(&curves)
            .into_iter()
            .filter(|read| read.struck.is_none() && !read.curve.withdrawn && read.curve.recovery.is_none());
        all.extend(stand.map(|read| on_trial(trial.number, &read.curve)));
    }
    Ok(all.split_off(all.len().saturating_sub(MOST_CURVES)))
}

fn on_trial(trial: u32, curve: &FlowCurve) -> MeasuredOnTrial {
    let mut name = format!("trial {trial}");
    if let Some(age) = &curve.age_h {
        let unit = if age.typed.chars().any(char::is_alphabetic) { "" } else { " h" };
        name.push_str(&format!(", {}{unit}", age.typed));
    }
    if let Some(direction) = curve.direction {
        name.push_str(&format!(", {}", direction.words()));
    }
    let usable = curve.points.iter().filter(|point| point.shear_rate > 0.0);
    let mut points: Vec<[f64; 2]> =
        usable.map(|point| [point.shear_rate, point.stress / point.shear_rate]).collect();
    points.sort_by(|a, b| a[0].total_cmp(&b[0]));
    let step = points.len().div_ceil(MOST_POINTS).max(1);
    MeasuredOnTrial { name, points: points.into_iter().step_by(step).collect() }
}
