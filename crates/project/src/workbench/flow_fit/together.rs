//! What several curves of a file say together: the loop between a rising and a falling sweep, and how temperature thins.

use super::{CurveFit, PROOF_TEMPERATURE, PROOF_THIXOTROPY};
use crate::flow_table::Direction;
use levigate_measure::elementary::Elementary as _;
use levigate_measure::{Grade, Outcome};
use levigate_process::flow::fit::Curve;
use levigate_process::flow::temperature::{TemperatureLaw, law_through};
use levigate_process::flow::thixotropy::loop_between;
use serde::Serialize;

/// Temperatures nearer than this are one, C.
const SAME_C: f64 = 0.5;

/// The loop between two sweeps.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LoopReading {
    /// Name of the rising sweep.
    pub up: String,
    /// Name of the falling sweep.
    pub down: String,
    /// Area between them over the shear rate; below zero where the falling one lies above.
    pub area: Outcome,
    /// Rising over falling stress, the mean of the logarithms: 1 is no loop.
    pub ratio: Outcome,
}

/// How temperature changes the viscosity at one shear rate.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TemperatureReading {
    /// Curves it rests on.
    pub curves: Vec<String>,
    /// Shear rate of the viscosities: the geometric middle of the window all curves share.
    pub shear_rate: Outcome,
    /// Activation energy by Arrhenius.
    pub activation_energy: Outcome,
}

fn engine(curve: &CurveFit) -> Option<Curve> {
    let (rates, stresses): (Vec<f64>, Vec<f64>) =
        curve.points.iter().map(|point| (point.shear_rate, point.stress)).unzip();
    Curve::new(&rates, &stresses).ok()
}

fn together(a: &CurveFit, b: &CurveFit) -> bool {
    let same = match (a.temperature_c, b.temperature_c) {
        (Some(a), Some(b)) => (a - b).abs() < SAME_C,
        (None, None) => true,
        _ => false,
    };
    same && a.sample == b.sample
}

/// Loops of rising sweeps with the falling ones that follow them.
pub(super) fn loops(curves: &[CurveFit]) -> Vec<LoopReading> {
    let pairs = curves.windows(2).filter(|pair| {
        pair[0].direction == Some(Direction::Up)
            && pair[1].direction == Some(Direction::Down)
            && together(&pair[0], &pair[1])
    });
    pairs
        .filter_map(|pair| {
            let scatter =
                pair.iter().filter_map(|curve| curve.models.first()).map(|fit| fit.root_mean_square);
            let scatter =
                scatter.fold(None, |most: Option<f64>, rms| Some(most.map_or(rms, |most| most.max(rms))));
            let found = loop_between(&engine(&pair[0])?, &engine(&pair[1])?, scatter).ok()?;
            let [low, high] = found.window;
            let note = "only loops of one protocol (speed of the ramps, time at the top) compare";
            let outcome = |value: f64, unit: &'static str, method: &'static str| {
                Outcome::new(value, unit, Grade::Computed, method)
                    .proved_by(PROOF_THIXOTROPY)
                    .input("lowest shear rate of both", low, "1/s", None)
                    .input("highest shear rate of both", high, "1/s", None)
                    .note("one-protocol", note)
            };
            let mut ratio = outcome(
                found.mean_logarithm.exp_e(),
                "",
                "mean logarithm of rising over falling stress, every decade alike",
            );
            if let Some(error) = found.logarithm_error {
                let end = |side: f64| (found.mean_logarithm + side * 1.96 * error).exp_e();
                ratio = ratio.within(end(-1.0), end(1.0), Some(0.95));
            }
            Some(LoopReading {
                up: pair[0].name.clone(),
                down: pair[1].name.clone(),
                area: outcome(found.area_pa_s, "Pa/s", "area between the sweeps over the shear rate"),
                ratio,
            })
        })
        .collect()
}

/// The law of temperature through the curves of one sample, where there are three temperatures or more.
pub(super) fn temperature(curves: &[CurveFit]) -> Option<TemperatureReading> {
    let usable: Vec<&CurveFit> = curves
        .iter()
        .filter(|curve| curve.temperature_c.is_some() && curve.taken.is_some())
        .filter(|curve| curve.direction != Some(Direction::Down))
        .collect();
    let first = usable.first()?;
    if usable.iter().any(|curve| curve.sample != first.sample) {
        return None;
    }
    let low = usable.iter().filter_map(|curve| Some(curve.window.as_ref()?.from)).fold(0.0, f64::max);
    let high =
        usable.iter().filter_map(|curve| Some(curve.window.as_ref()?.to)).fold(f64::INFINITY, f64::min);
    if low >= high {
        return None;
    }
    let middle = (low * high).sqrt();
    let values: Vec<(f64, f64)> = usable
        .iter()
        .filter_map(|curve| Some((curve.temperature_c?, curve.stress_taken(middle)? / middle)))
        .collect();
    let mean = values.iter().map(|value| value.0).sum::<f64>() / values.len() as f64;
    let law = law_through(&values, TemperatureLaw::Arrhenius, mean).ok()?;
    let energy = law.parameters.get(1)?;
    let mut outcome = Outcome::new(
        energy.value,
        energy.unit,
        Grade::Calibrated,
        "Arrhenius through the viscosities of the models taken, at one shear rate",
    )
    .by("eta(T) = eta(T0) exp(E / R (1/T - 1/T0))")
    .proved_by(PROOF_TEMPERATURE)
    .valid_for(format!("{:.0} to {:.0} C", law.window_c[0], law.window_c[1]));
    if let Some([low, high]) = energy.limits {
        outcome = outcome.within(low, high, Some(0.95));
    }
    if let Some(why) = &energy.not_settled {
        outcome = Outcome::refuse(energy.unit, "Arrhenius", why.clone());
    }
    Some(TemperatureReading {
        curves: usable.iter().map(|curve| curve.name.clone()).collect(),
        shear_rate: Outcome::new(
            middle,
            "1/s",
            Grade::Computed,
            "geometric middle of the window all curves share",
        ),
        activation_energy: outcome,
    })
}
