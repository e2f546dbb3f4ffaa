//! The inclined plate as a rheometer: how long a film or a dose takes to run a distance.
//!
//! ```text
//!                         stress at the plate      shear rate at the plate
//! mark on a film          G h                       (u/h) (n+1)/n               u = x/t, speed of the surface
//! front of a film         G h                       (u/h) (2n+1)/n              u = x/t, mean speed
//! front of a dose         G A/x (2n+1)/(n+1)        x^2/(t A) (n+1)/(2n+1)      A = volume over width; a long run
//! G = rho g sin(theta);   n from two or more runs: slope of ln stress over ln shear rate, whatever n is
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | h, x, t | thickness of the film, distance, time | m, m, s |
//! | A | volume of the dose over its width | m2 |
//! | n | flow index | - |
//!
//! One run gives one viscosity: exact for a Newtonian liquid, else apparent at the shear rates stated, for a flow index from 1 down to 0.3. Runs that differ
//! in tilt, thickness or dose give a power law. The factors of n are the same for all runs of a kind, so that the slope needs no guess.
//! Range: slow (no inertia), wide against its thickness, thickness above the some 2 mm at which surface tension at the front rules for a dose; no slip;
//! no yield stress. Sources: Jeffreys, Proc. Cambridge Philos. Soc. 26 (1930) 204; Huppert, Nature 300 (1982) 427 for the dose (n = 1), both from
//! memory; power law by the same wave equation. Cases: runs computed forward by `film` and `dose`, below.

use super::film::Incline;
use super::pipe::HerschelBulkley;
use levigate_measure::elementary::Elementary as _;
use serde::{Deserialize, Serialize};
use thiserror::Error;

/// Flow index down to which the shear rate of a single run is given.
const LEAST_INDEX: f64 = 0.3;
/// Stresses of runs must differ by at least this factor to show an index.
const APART: f64 = 1.2;

/// What was timed.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub enum Timed {
    /// A mark on the surface of a film.
    Mark {
        /// Thickness, m.
        thickness_m: f64,
    },
    /// The front of a film fed so that it keeps its thickness.
    Front {
        /// Thickness, m.
        thickness_m: f64,
    },
    /// The front of a dose that has run far against its length at rest.
    Dose {
        /// Volume over width, m2.
        volume_per_width_m2: f64,
    },
}

/// A run.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlateRun {
    /// The plate.
    pub incline: Incline,
    /// What was timed.
    pub timed: Timed,
    /// Distance, m.
    pub distance_m: f64,
    /// Time, s.
    pub time_s: f64,
}

/// A run as one point.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct RunPoint {
    /// Viscosity, Pa s: that of a Newtonian liquid, else apparent.
    pub viscosity_pa_s: f64,
    /// Stress at the plate of a Newtonian liquid, Pa.
    pub stress_pa: f64,
    /// Shear rate at the plate of a Newtonian liquid, 1/s.
    pub shear_rate: f64,
    /// True viscosity and shear rate for a flow index of 0.3: between it and the Newtonian point lies the liquid.
    pub thinnest: [f64; 2],
}

/// A power law through runs.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RunLaw {
    /// Consistency, Pa s^n.
    pub consistency: f64,
    /// Flow index.
    pub index: f64,
    /// Residuals ln(stress of the law / stress) of the runs in their order: none tell anything where there are only two runs.
    pub residuals: Vec<f64>,
    /// Lowest and highest shear rate at the plate, 1/s.
    pub window: [f64; 2],
}

/// Why runs give nothing.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum RunError {
    /// A value that cannot be.
    #[error("run {run}: {what} of {value} cannot be")]
    NotPositive {
        /// Run, from 0.
        run: usize,
        /// What.
        what: &'static str,
        /// As given, SI.
        value: f64,
    },
    /// Runs of different kinds, whose factors differ.
    #[error("run {run} timed something else than the first")]
    Mixed {
        /// Run, from 0.
        run: usize,
    },
    /// Stresses too near to each other.
    #[error("stresses from {low} to {high} Pa do not show how the liquid thins")]
    TooAlike {
        /// Lowest, Pa.
        low: f64,
        /// Highest, Pa.
        high: f64,
    },
    /// A slope that no liquid has.
    #[error("a flow index of {index} came out")]
    NoLiquid {
        /// Slope found.
        index: f64,
    },
}

impl RunError {
    /// What to do about it.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            Self::NotPositive { .. } => {
                "give it above zero, in SI units; the tilt above 0 and up to 90 degrees"
            }
            Self::Mixed { .. } => {
                "time the same thing in all runs: the mark, the front of a film, or the front of a dose"
            }
            Self::TooAlike { .. } => {
                "tilt the plate more or take a thicker film for one run: half as much stress again at least"
            }
            Self::NoLiquid { .. } => {
                "runs where the stress rises and the speed does not, or far more than it, are disturbed by drying, slip or a yield stress"
            }
        }
    }
}

impl Timed {
    /// Factors of stress and shear rate at a flow index.
    fn factors(self, n: f64) -> (f64, f64) {
        match self {
            Self::Mark { .. } => (1.0, (n + 1.0) / n),
            Self::Front { .. } => (1.0, (2.0 * n + 1.0) / n),
            Self::Dose { .. } => ((2.0 * n + 1.0) / (n + 1.0), (n + 1.0) / (2.0 * n + 1.0)),
        }
    }
}

impl PlateRun {
    /// Stress and shear rate without the factors of the index.
    fn bare(&self) -> (f64, f64) {
        let pull = self.incline.pull_pa_m();
        match self.timed {
            Timed::Mark { thickness_m } | Timed::Front { thickness_m } => {
                (pull * thickness_m, self.distance_m / self.time_s / thickness_m)
            }
            Timed::Dose { volume_per_width_m2 } => (
                pull * volume_per_width_m2 / self.distance_m,
                self.distance_m.powi(2) / (self.time_s * volume_per_width_m2),
            ),
        }
    }

    fn check(&self, run: usize) -> Result<(), RunError> {
        let size = match self.timed {
            Timed::Mark { thickness_m } | Timed::Front { thickness_m } => ("a thickness", thickness_m),
            Timed::Dose { volume_per_width_m2 } => ("a volume over width", volume_per_width_m2),
        };
        let pull = ("a pull along the plate", self.incline.pull_pa_m());
        let angle = self.incline.angle_deg;
        let tilt = ("a tilt", if angle <= 90.0 { angle } else { f64::NAN });
        for (what, value) in [size, ("a distance", self.distance_m), ("a time", self.time_s), tilt, pull] {
            if !(value > 0.0 && value.is_finite()) {
                return Err(RunError::NotPositive { run, what, value });
            }
        }
        Ok(())
    }

    /// The run as one point of a flow curve.
    ///
    /// # Errors
    /// [`RunError::NotPositive`] for values that cannot be.
    pub fn point(&self) -> Result<RunPoint, RunError> {
        self.check(0)?;
        let ((stress_pa, shear_rate), thin) = (self.at_index(1.0), self.at_index(LEAST_INDEX));
        Ok(RunPoint {
            viscosity_pa_s: stress_pa / shear_rate,
            stress_pa,
            shear_rate,
            thinnest: [thin.0 / thin.1, thin.1],
        })
    }

    /// Stress (Pa) and shear rate (1/s) at the plate for a flow index.
    #[must_use]
    pub fn at_index(&self, index: f64) -> (f64, f64) {
        let (stress, rate) = self.bare();
        let (of_stress, of_rate) = self.timed.factors(index);
        (stress * of_stress, rate * of_rate)
    }

    /// Time a power-law liquid takes for the distance, s: the run computed forward.
    #[must_use]
    pub fn time_of(&self, liquid: &HerschelBulkley) -> f64 {
        let (of_stress, of_rate) = self.timed.factors(liquid.index);
        let at_one_second = PlateRun { time_s: 1.0, ..*self }.bare();
        let rate = (at_one_second.0 * of_stress / liquid.consistency).to_the(1.0 / liquid.index);
        at_one_second.1 * of_rate / rate
    }
}

/// The power law through two or more runs of one kind that differ in tilt, thickness or dose, by least squares in the logarithms.
///
/// # Errors
/// [`RunError`] for values that cannot be, runs of different kinds or of stresses too alike, or a slope that no liquid has.
pub fn power_law(runs: &[PlateRun]) -> Result<RunLaw, RunError> {
    let mut logs = Vec::new();
    for (run, plate) in runs.iter().enumerate() {
        plate.check(run)?;
        if core::mem::discriminant(&plate.timed) != core::mem::discriminant(&runs[0].timed) {
            return Err(RunError::Mixed { run });
        }
        let (stress, rate) = plate.bare();
        logs.push((rate.log_e(), stress.log_e()));
    }
    let low = logs.iter().map(|log| log.1).fold(f64::INFINITY, f64::min);
    let high = logs.iter().map(|log| log.1).fold(f64::NEG_INFINITY, f64::max);
    if logs.len() < 2 || high - low < APART.log_e() {
        return Err(RunError::TooAlike { low: low.exp_e(), high: high.exp_e() });
    }
    let count = logs.len() as f64;
    let mean = logs.iter().fold((0.0, 0.0), |sum, log| (sum.0 + log.0 / count, sum.1 + log.1 / count));
    let (mut xy, mut xx) = (0.0, 0.0);
    for (rate, stress) in &logs {
        xy += (rate - mean.0) * (stress - mean.1);
        xx += (rate - mean.0).powi(2);
    }
    let index = xy / xx;
    if !(0.05..=1.5).contains(&index) {
        return Err(RunError::NoLiquid { index });
    }
    let (of_stress, of_rate) = runs[0].timed.factors(index);
    let ln_consistency = mean.1 + of_stress.log_e() - index * (mean.0 + of_rate.log_e());
    let rates = logs.iter().map(|log| log.0.exp_e() * of_rate);
    Ok(RunLaw {
        consistency: ln_consistency.exp_e(),
        index,
        residuals: logs.iter().map(|(rate, stress)| mean.1 + index * (rate - mean.0) - stress).collect(),
        window: [rates.clone().fold(f64::INFINITY, f64::min), rates.fold(0.0, f64::max)],
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::flow::dose::Patch;
    use crate::flow::film::GRAVITY_M_S2;

    fn plate(angle_deg: f64) -> Incline {
        Incline { angle_deg, density_kg_m3: 1020.0, gravity_m_s2: GRAVITY_M_S2 }
    }

    fn power(consistency: f64, index: f64) -> HerschelBulkley {
        HerschelBulkley { yield_pa: 0.0, consistency, index }
    }

    fn mark(incline: Incline, thickness_m: f64, liquid: &HerschelBulkley) -> PlateRun {
        let speed = incline.surface_speed(liquid, thickness_m);
        PlateRun { incline, timed: Timed::Mark { thickness_m }, distance_m: 0.1, time_s: 0.1 / speed }
    }

    #[test]
    fn films_computed_forward_give_their_liquid_back() {
        let newtonian = power(2.5, 1.0);
        let point = mark(plate(30.0), 1e-3, &newtonian).point().unwrap();
        assert!((point.viscosity_pa_s / 2.5 - 1.0).abs() < 1e-12);
        let liquid = power(8.0, 0.45);
        let runs: Vec<PlateRun> = [15.0, 30.0, 60.0].map(|angle| mark(plate(angle), 2e-3, &liquid)).to_vec();
        let law = power_law(&runs).unwrap();
        assert!((law.consistency / 8.0 - 1.0).abs() < 1e-10 && (law.index / 0.45 - 1.0).abs() < 1e-10);
        assert!(law.residuals.iter().all(|residual| residual.abs() < 1e-12));
        let front = |thickness_m: f64| {
            let incline = plate(45.0);
            let speed = incline.flow_per_width(&liquid, thickness_m) / thickness_m;
            PlateRun { incline, timed: Timed::Front { thickness_m }, distance_m: 0.1, time_s: 0.1 / speed }
        };
        let law = power_law(&[front(1e-3), front(2e-3)]).unwrap();
        assert!((law.consistency / 8.0 - 1.0).abs() < 1e-10 && (law.index / 0.45 - 1.0).abs() < 1e-10);
        for run in runs {
            assert!((run.time_of(&liquid) / run.time_s - 1.0).abs() < 1e-10);
        }
    }

    #[test]
    fn doses_computed_forward_give_their_liquid_back() {
        // A short patch that has run far against its length: the run is then that of a line of liquid.
        let patch = Patch { volume_m3: 0.5e-6, width_m: 0.01, length_m: 1e-4 };
        let run = |angle: f64, liquid: &HerschelBulkley| {
            let incline = plate(angle);
            let way = patch.run(liquid, &incline, 600.0);
            PlateRun {
                incline,
                timed: Timed::Dose { volume_per_width_m2: patch.per_width() },
                distance_m: way.way_m + patch.length_m,
                time_s: 600.0,
            }
        };
        let newtonian = power(5.0, 1.0);
        let point = run(30.0, &newtonian).point().unwrap();
        assert!((point.viscosity_pa_s / 5.0 - 1.0).abs() < 1e-6, "{}", point.viscosity_pa_s);
        let liquid = power(8.0, 0.6);
        let law = power_law(&[run(20.0, &liquid), run(60.0, &liquid)]).unwrap();
        assert!(
            (law.consistency / 8.0 - 1.0).abs() < 1e-6 && (law.index / 0.6 - 1.0).abs() < 1e-6,
            "{law:?}"
        );
    }

    #[test]
    fn one_run_of_a_thinning_liquid_lies_between_its_ends() {
        let liquid = power(8.0, 0.6);
        let point = mark(plate(30.0), 1e-3, &liquid).point().unwrap();
        let true_rate = (point.stress_pa / 8.0).to_the(1.0 / 0.6);
        assert!(point.shear_rate < true_rate && true_rate < point.thinnest[1]);
        assert!(
            point.thinnest[0] < point.stress_pa / true_rate
                && point.stress_pa / true_rate < point.viscosity_pa_s
        );
    }

    #[test]
    fn runs_that_tell_nothing_are_refused() {
        let liquid = power(8.0, 0.6);
        let run = mark(plate(30.0), 1e-3, &liquid);
        assert!(matches!(power_law(&[run, run]), Err(RunError::TooAlike { .. })));
        assert!(matches!(power_law(&[]), Err(RunError::TooAlike { .. })));
        let dose = PlateRun { timed: Timed::Dose { volume_per_width_m2: 5e-5 }, ..run };
        assert_eq!(power_law(&[run, dose]), Err(RunError::Mixed { run: 1 }));
        let thicker = PlateRun { timed: Timed::Mark { thickness_m: 2e-3 }, time_s: run.time_s * 30.0, ..run };
        assert!(matches!(power_law(&[run, thicker]), Err(RunError::NoLiquid { .. })));
        let flat = PlateRun { incline: plate(0.0), ..run };
        assert!(matches!(flat.point(), Err(RunError::NotPositive { what: "a tilt", .. })));
    }
}
