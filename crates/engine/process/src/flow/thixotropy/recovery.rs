//! The recovery of the viscosity after high shear, read at one low shear rate.
//!
//! ```text
//! recovery  eta(t) = eta_e - (eta_e - eta_s) exp(-(t / tau)^b)               b = 1: first order; else stretched
//! reached   1 - exp(-(t / tau)^b)                                            share of the way from eta_s to eta_e
//! time to   t(x) = tau (-ln(1 - x))^(1 / b)                                  x = 0.9: nine tenths of the way
//! limits    f +- t s_f,   s_f^2 = g' C g                                     g: derivatives of f by the constants, C: their covariance
//! chance    P = (S1 / S0)^((N - 3) / 2)                                      F test with 2 and N - 3 degrees, its integral in closed form
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | t | time from the end of the strong shear | s |
//! | eta_s, eta_e | viscosity right after the shear, and in the end | Pa s |
//! | tau, b | time of recovery, exponent | s, - |
//! | S1, S0, N | sums of squares of the first order and of one constant viscosity, readings | - |
//!
//! The constants are found by least squares of ln(law / reading). The limits of what follows from them are taken in the logarithm of (t / tau)^b,
//! of the viscosity and of the time. An end that the last reading has not come near is not named; where chance alone would
//! bring the change oftener than once in twenty there is no recovery. Sources: the stretched exponential after Kohlrausch (1854); the criterion after
//! Hurvich and Tsai, Biometrika 76 (1989) 297; both from memory. Cases: `tests/cross/flow_recovery.toml`.

use super::ThixotropyError;
use crate::flow::estimate::{Fitted, ProfileLimits, aicc, fitted, outliers, student_95};
use crate::flow::model::Parameter;
use crate::flow::profile::Minimum;
use levigate_measure::elementary::Elementary as _;
use levigate_measure::least_squares::{Fit, FitError, Room, Stop, least_squares};
use serde::{Deserialize, Serialize};

/// A law of recovery.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum RecoveryLaw {
    /// First order.
    FirstOrder,
    /// Stretched exponential.
    Stretched,
}

impl RecoveryLaw {
    /// Both laws.
    pub const ALL: [Self; 2] = [Self::FirstOrder, Self::Stretched];

    /// Viscosity (Pa s) a time (s) after the shear, from the constants in their order: start (Pa s), end (Pa s), time (s), exponent (1 where
    /// none is given).
    #[must_use]
    pub fn viscosity(constants: &[f64], time_s: f64) -> f64 {
        let constant = |place: usize| constants.get(place).copied().unwrap_or(1.0);
        let left = (-(time_s / constant(2)).to_the(constant(3))).exp_e();
        constant(1) - (constant(1) - constant(0)) * left
    }

    /// Its name for people.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::FirstOrder => "first order",
            Self::Stretched => "stretched exponential",
        }
    }
}

/// What follows from the constants of a law, with its 95 % limits by their covariance.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Followed {
    /// Value.
    pub value: f64,
    /// Limits; absent where the readings set none.
    pub limits: Option<[f64; 2]>,
}

/// A recovery as fitted.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Recovery {
    /// Law.
    pub law: RecoveryLaw,
    /// Viscosity after the shear and in the end, time of recovery, exponent where stretched.
    pub parameters: Vec<Fitted>,
    /// Share of the way back covered at the last reading.
    pub reached: Followed,
    /// Viscosity by the law at the last reading, Pa s.
    pub at_last_pa_s: Followed,
    /// Time to nine tenths of the way, s.
    pub nine_tenths_s: Followed,
    /// Residuals ln(law / reading) in the order of rising time.
    pub residuals: Vec<f64>,
    /// Root of their mean square.
    pub root_mean_square: f64,
    /// Akaike's criterion corrected for few points; absent where the points do not suffice.
    pub aicc: Option<f64>,
    /// First and last time, s.
    pub window_s: [f64; 2],
    /// Readings that stand apart, in the order of rising time.
    pub outliers: Vec<usize>,
}

/// The viscosity before the strong shear.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Before {
    /// Viscosity, Pa s: geometric mean of the readings taken for it.
    pub viscosity_pa_s: f64,
    /// Readings taken for it: the later half.
    pub readings: usize,
    /// Half the width of its 95 % limits in the logarithm; absent for one reading.
    pub half_width: Option<f64>,
}

impl Before {
    /// The viscosity before the strong shear from readings (Pa s) in their order: the earlier half is left to the start of the instrument. None
    /// without a reading above zero.
    #[must_use]
    pub fn of(readings: &[f64]) -> Option<Self> {
        let later = &readings[readings.len() / 2..];
        let logarithms: Vec<f64> = later
            .iter()
            .filter(|value| **value > 0.0 && value.is_finite())
            .map(|value| value.log_e())
            .collect();
        if logarithms.is_empty() {
            return None;
        }
        let count = logarithms.len() as f64;
        let mean = logarithms.iter().sum::<f64>() / count;
        let squares: f64 = logarithms.iter().map(|value| (value - mean).powi(2)).sum();
        let half_width = (logarithms.len() > 1)
            .then(|| student_95(logarithms.len() - 1) * (squares / (count - 1.0) / count).sqrt());
        Some(Self { viscosity_pa_s: mean.exp_e(), readings: logarithms.len(), half_width })
    }

    /// Its 95 % limits, Pa s; none for one reading.
    #[must_use]
    pub fn limits(&self) -> Option<[f64; 2]> {
        self.half_width.map(|half| [-1.0, 1.0].map(|side| self.viscosity_pa_s * (side * half).exp_e()))
    }
}

impl Recovery {
    fn constant(&self, place: usize) -> f64 {
        self.parameters.get(place).map_or(1.0, |parameter| parameter.value)
    }

    /// Viscosity after a time, Pa s.
    #[must_use]
    pub fn viscosity(&self, time_s: f64) -> f64 {
        let constants: Vec<f64> = self.parameters.iter().map(|parameter| parameter.value).collect();
        RecoveryLaw::viscosity(&constants, time_s)
    }

    /// Time to a share of the way back (0 to below 1), s.
    #[must_use]
    pub fn time_to(&self, share: f64) -> f64 {
        self.constant(2) * (-(1.0 - share).log_e()).to_the(1.0 / self.constant(3))
    }

    /// Viscosity at the last reading over that before the strong shear.
    #[must_use]
    pub fn share_of(&self, before: &Before) -> Followed {
        let value = self.at_last_pa_s.value / before.viscosity_pa_s;
        let limits = self.at_last_pa_s.limits.zip(before.half_width).map(|([low, high], half)| {
            let reach = (0.5 * (high / low).log_e()).root_sum_square(half);
            [-1.0, 1.0].map(|side| value * (side * reach).exp_e())
        });
        Followed { value, limits }
    }

    /// What lies outside the times read: an end hardly neared, a start long past at the first reading.
    fn judge(&mut self) {
        let [first, last] = self.window_s;
        let (reached, missed) = (self.reached.value, self.covered(first));
        let mut doubt = |place: usize, why: String| {
            if let Some(parameter) = self.parameters.get_mut(place)
                && parameter.not_settled.is_none()
            {
                parameter.not_settled = Some(why);
            }
        };
        if reached < NEAR_THE_END {
            let why = format!(
                "the last reading, after {last:.0} s, has come {:.0} % of the way; read longer to name it",
                100.0 * reached
            );
            doubt(1, why.clone());
            doubt(2, why);
        }
        if missed > 1.0 - NEAR_THE_END {
            let why = format!(
                "at the first reading, after {first:.1} s, {:.0} % had already come back; read earlier to name it",
                100.0 * missed
            );
            doubt(0, why);
        }
    }

    fn covered(&self, time_s: f64) -> f64 {
        1.0 - (-(time_s / self.constant(2)).to_the(self.constant(3))).exp_e()
    }
}

/// An end is named only when the last reading has covered this share of the way.
const NEAR_THE_END: f64 = 0.8;
/// Fewer readings tell no law from another.
const FEWEST: usize = 5;
/// A change that scatter alone would show oftener than this is none.
const BY_CHANCE: f64 = 0.05;
/// A law is taken over one with fewer constants when its criterion is lower by this.
const CLEARLY_LOWER: f64 = 2.0;

const fn scale(symbol: &'static str, words: &'static str, unit: &'static str) -> Parameter {
    Parameter { symbol, words, unit, by_logarithm: true, bounds: [1e-12, 1e12] }
}
const MEANT: [Parameter; 4] = [
    scale("eta_start", "viscosity right after the shear", "Pa s"),
    scale("eta_end", "viscosity in the end", "Pa s"),
    scale("tau", "time of recovery", "s"),
    Parameter { symbol: "b", words: "exponent", unit: "", by_logarithm: false, bounds: [0.1, 3.0] },
];

/// Fits one law of the recovery after high shear: times from the end of the shear (s) and viscosities (Pa s), with limits by covariance and by profile.
///
/// # Errors
/// [`ThixotropyError`] for readings that cannot be, fewer than constants, or a search that does not end.
pub fn recovery(readings: &[(f64, f64)], law: RecoveryLaw) -> Result<Recovery, ThixotropyError> {
    for (reading, (time, viscosity)) in readings.iter().copied().enumerate() {
        if !(time >= 0.0 && time.is_finite() && viscosity > 0.0 && viscosity.is_finite()) {
            return Err(ThixotropyError::NotAReading { reading, time, viscosity });
        }
    }
    let mut readings = readings.to_vec();
    readings.sort_by(|a, b| a.0.total_cmp(&b.0));
    match law {
        RecoveryLaw::FirstOrder => recovered::<3>(&readings, law),
        RecoveryLaw::Stretched => recovered::<4>(&readings, law),
    }
}

/// Both laws, the better first: first order unless the stretched one has an AICc lower by 2.
///
/// # Errors
/// As [`recovery`]; also where there are too few readings, where chance alone brings as much change, and where the viscosity falls.
pub fn recoveries(readings: &[(f64, f64)]) -> Result<Vec<Recovery>, ThixotropyError> {
    if readings.len() < FEWEST {
        return Err(ThixotropyError::TooFewReadings { readings: readings.len(), least: FEWEST });
    }
    let first = recovery(readings, RecoveryLaw::FirstOrder)?;
    let laws = match recovery(readings, RecoveryLaw::Stretched) {
        Ok(stretched) => {
            let better = matches!((stretched.aicc, first.aicc), (Some(s), Some(f)) if s < f - CLEARLY_LOWER);
            if better { vec![stretched, first] } else { vec![first, stretched] }
        }
        Err(_) => vec![first],
    };
    comes_back(readings, &laws)?;
    Ok(laws)
}

/// Whether anything changes beyond scatter, and upwards: the F test of the first order against one constant viscosity, whose probability has a
/// closed form for the two constants more.
fn comes_back(readings: &[(f64, f64)], laws: &[Recovery]) -> Result<(), ThixotropyError> {
    let logarithms: Vec<f64> = readings.iter().map(|reading| reading.1.log_e()).collect();
    let count = logarithms.len() as f64;
    let mean = logarithms.iter().sum::<f64>() / count;
    let steady: f64 = logarithms.iter().map(|value| (value - mean).powi(2)).sum();
    let first =
        laws.iter().find(|law| law.law == RecoveryLaw::FirstOrder).map_or(0.0, |law| law.root_mean_square);
    let by_chance = (count * first * first / steady).to_the(0.5 * (count - 3.0));
    if steady < 1e-18 * count || by_chance > BY_CHANCE {
        let scatter_percent = 100.0 * (steady / count).sqrt();
        return Err(ThixotropyError::Steady { viscosity: mean.exp_e(), scatter_percent });
    }
    let [from, to] = laws[0].window_s.map(|time| laws[0].viscosity(time));
    if to < from { Err(ThixotropyError::Falls { from, to }) } else { Ok(()) }
}

fn recovered<const P: usize>(readings: &[(f64, f64)], law: RecoveryLaw) -> Result<Recovery, ThixotropyError> {
    let logarithms: Vec<f64> = readings.iter().map(|reading| reading.1.log_e()).collect();
    let bounds: [[f64; 2]; P] = core::array::from_fn(|j| {
        if MEANT[j].by_logarithm { MEANT[j].bounds.map(f64::log_e) } else { MEANT[j].bounds }
    });
    let fill = |p: &[f64; P], residuals: &mut [f64], rows: &mut [[f64; P]]| {
        let (start, end, exponent) = (p[0].exp_e(), p[1].exp_e(), if P > 3 { p[3] } else { 1.0 });
        for (i, (time, _)) in readings.iter().enumerate() {
            // At time zero nothing has come back, whatever the exponent.
            let ln_ratio = if *time > 0.0 { time.log_e() - p[2] } else { -690.0 };
            let power = (exponent * ln_ratio).exp_e();
            let left = (-power).exp_e();
            let viscosity = end - (end - start) * left;
            residuals[i] = viscosity.log_e() - logarithms[i];
            let by_power = (end - start) * left * power / viscosity;
            rows[i][0] = start * left / viscosity;
            rows[i][1] = end * (1.0 - left) / viscosity;
            rows[i][2] = -by_power * exponent;
            if let Some(slope) = rows[i].get_mut(3) {
                *slope = by_power * ln_ratio;
            }
        }
        residuals.iter().all(|value| value.is_finite())
    };
    let mut room = Room::new();
    let mut best: Option<Fit<P>> = None;
    let mut trouble = FitError::TooFewPoints { points: readings.len(), parameters: P };
    for start in beginnings::<P>(readings) {
        match least_squares(readings.len(), start, &bounds, &Stop::default(), &mut room, fill) {
            Ok(fit) if best.as_ref().is_none_or(|best| fit.sum < best.sum) => best = Some(fit),
            Ok(_) => {}
            Err(error) => trouble = error,
        }
    }
    let fit = best.ok_or(trouble)?;
    let mut parameters = fitted(&MEANT[..P], &fit);
    let covariance = fit.covariance();
    let minimum = Minimum {
        parameters: fit.parameters,
        sum: fit.sum,
        degrees: readings.len().saturating_sub(fit.free()),
        deviations: core::array::from_fn(|j| covariance.map(|covariance| covariance[j][j].sqrt())),
        bounds,
    };
    let limits = minimum.limits(|start, bounds| {
        least_squares(readings.len(), start, bounds, &Stop::default(), &mut room, fill)
            .ok()
            .map(|fit| (fit.parameters, fit.sum))
    });
    for ((parameter, meant), limits) in parameters.iter_mut().zip(&MEANT).zip(limits) {
        let back = |value: f64| if meant.by_logarithm { value.exp_e() } else { value };
        parameter.profile = Some(ProfileLimits { low: limits.low.map(back), high: limits.high.map(back) });
    }
    let (mut residuals, mut rows) = (vec![0.0; readings.len()], vec![[0.0; P]; readings.len()]);
    fill(&fit.parameters, &mut residuals, &mut rows);
    let last = readings.len() - 1;
    let what_follows = following(&fit, readings[last].0, rows[last]);
    let mut found = Recovery {
        law,
        parameters,
        reached: what_follows[0],
        at_last_pa_s: what_follows[1],
        nine_tenths_s: what_follows[2],
        outliers: outliers(&residuals),
        residuals,
        root_mean_square: (fit.sum / readings.len() as f64).sqrt(),
        aicc: aicc(readings.len(), P, fit.sum),
        window_s: [readings[0].0, readings[last].0],
    };
    found.judge();
    Ok(found)
}

/// Share of the way at the last reading, viscosity there, time to nine tenths of the way, each with its limits. `at_last` holds the derivatives of
/// the logarithm of the viscosity there.
fn following<const P: usize>(fit: &Fit<P>, last_s: f64, at_last: [f64; P]) -> [Followed; 3] {
    let p = &fit.parameters;
    let exponent = if P > 3 { p[3] } else { 1.0 };
    let tenths = (10.0_f64.log_e()).log_e();
    let ln_ratio = if last_s > 0.0 { last_s.log_e() - p[2] } else { -690.0 };
    let (end, difference) = (p[1].exp_e(), p[1].exp_e() - p[0].exp_e());
    let way = |ln_power: f64| 1.0 - (-ln_power.exp_e()).exp_e();
    let ln_power = exponent * ln_ratio;
    let by = |tau: f64, b: f64| -> [f64; P] {
        core::array::from_fn(|j| match j {
            2 => tau,
            3 => b,
            _ => 0.0,
        })
    };
    let factor = student_95(fit.points.saturating_sub(fit.free()));
    let covariance = fit.covariance();
    let followed = |found: f64, by: [f64; P], back: &dyn Fn(f64) -> f64| {
        let squares = covariance.map(|covariance| {
            (0..P)
                .flat_map(|i| (0..P).map(move |j| (i, j)))
                .map(|(i, j)| by[i] * covariance[i][j] * by[j])
                .sum::<f64>()
        });
        let limits = squares
            .filter(|squares| *squares >= 0.0 && (factor * squares.sqrt()).is_finite())
            .map(|squares| [-1.0, 1.0].map(|side| back(found + side * factor * squares.sqrt())))
            .filter(|limits| limits.iter().all(|limit| limit.is_finite()));
        Followed { value: back(found), limits }
    };
    [
        followed(ln_power, by(-exponent, ln_ratio), &way),
        followed((end - difference * (1.0 - way(ln_power))).log_e(), at_last, &f64::exp_e),
        followed(p[2] + tenths / exponent, by(1.0, -tenths / (exponent * exponent)), &f64::exp_e),
    ]
}

/// Starting values: the first and last reading, and times over the window.
fn beginnings<const P: usize>(readings: &[(f64, f64)]) -> Vec<[f64; P]> {
    let (Some(first), Some(last)) = (readings.first(), readings.last()) else { return Vec::new() };
    let shortest = readings.iter().map(|reading| reading.0).find(|time| *time > 0.0).unwrap_or(1.0);
    let mut starts = Vec::new();
    for share in [0.1, 0.4, 0.7, 1.0] {
        for exponent in [0.5, 1.0] {
            let time = shortest * (last.0.max(2.0 * shortest) / shortest).to_the(share);
            let all = [first.1.log_e(), (1.05 * last.1).log_e(), time.log_e(), exponent];
            starts.push(core::array::from_fn(|j| all[j]));
        }
    }
    starts
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_made_recovery_gives_its_constants_back() {
        let of = |exponent: f64| -> Vec<(f64, f64)> {
            (0..25)
                .map(|k| f64::from(k * k) * 0.5)
                .map(|time| (time, 12.0 - 9.0 * (-(time / 40.0).to_the(exponent)).exp_e()))
                .collect()
        };
        let first = recovery(&of(1.0), RecoveryLaw::FirstOrder).unwrap();
        let stretched = recovery(&of(0.6), RecoveryLaw::Stretched).unwrap();
        for (found, wanted) in [(&first, &[3.0, 12.0, 40.0][..]), (&stretched, &[3.0, 12.0, 40.0, 0.6])] {
            for (parameter, wanted) in found.parameters.iter().zip(wanted) {
                assert!((parameter.value / wanted - 1.0).abs() < 1e-6, "{parameter:?}");
            }
        }
        assert!((first.time_to(0.9) / (40.0 * 10.0_f64.log_e()) - 1.0).abs() < 1e-6);
        assert!((stretched.viscosity(40.0) - (12.0 - 9.0 * (-1.0_f64).exp_e())).abs() < 1e-4);
        assert_eq!(recoveries(&of(0.6)).unwrap()[0].law, RecoveryLaw::Stretched);
    }

    #[test]
    fn an_end_that_was_not_waited_for_is_not_named() {
        let short: Vec<(f64, f64)> = (0..20)
            .map(f64::from)
            .map(|time| (time, (12.0 - 9.0 * (-time / 40.0).exp_e()) * (1.0 + 0.002 * (time * 7.0).sine())))
            .collect();
        let found = recovery(&short, RecoveryLaw::FirstOrder).unwrap();
        assert!(found.reached.value < NEAR_THE_END);
        assert!(found.parameters[1].not_settled.is_some() && found.parameters[0].not_settled.is_none());
    }

    #[test]
    fn readings_that_cannot_be_are_refused() {
        assert!(matches!(
            recovery(&[(0.0, 1.0), (-1.0, 2.0)], RecoveryLaw::FirstOrder),
            Err(ThixotropyError::NotAReading { reading: 1, .. })
        ));
        assert!(matches!(
            recovery(&[(0.0, 1.0), (1.0, 2.0)], RecoveryLaw::FirstOrder),
            Err(ThixotropyError::Fit(FitError::TooFewPoints { .. }))
        ));
    }

    #[test]
    fn what_does_not_come_back_is_no_recovery() {
        let steady: Vec<(f64, f64)> = (0..20)
            .map(f64::from)
            .map(|time| (time, 5.0 * (1.0 + 0.01 * (time * time * 7.0).sine())))
            .collect();
        assert!(matches!(recoveries(&steady), Err(ThixotropyError::Steady { .. })));
        let same: Vec<(f64, f64)> = (0..20).map(|time| (f64::from(time), 5.0)).collect();
        assert!(matches!(recoveries(&same), Err(ThixotropyError::Steady { .. })));
        let falling: Vec<(f64, f64)> = (0..20)
            .map(f64::from)
            .map(|time| (time, (3.0 + 9.0 * (-time / 4.0).exp_e()) * (1.0 + 0.002 * (time * 7.0).sine())))
            .collect();
        assert!(matches!(recoveries(&falling), Err(ThixotropyError::Falls { from, to }) if from > to));
        assert!(matches!(
            recoveries(&falling[..4]),
            Err(ThixotropyError::TooFewReadings { readings: 4, least: 5 })
        ));
    }

    #[test]
    fn the_share_of_what_was_before_carries_the_doubt_of_both() {
        // Later half 8, 8, 12, 12: geometric mean of 96^(1/2), deviations of ln: half the logarithm of 1.5 each.
        let before = Before::of(&[1.0, 2.0, 3.0, 4.0, 8.0, 12.0, 8.0, 12.0]).unwrap();
        assert!((before.viscosity_pa_s - 96.0_f64.sqrt()).abs() < 1e-12);
        let deviation = 0.5 * 1.5_f64.log_e() * (4.0_f64 / 3.0).sqrt() / 2.0;
        assert!((before.half_width.unwrap() - 3.182_446_31 * deviation).abs() < 1e-9);
        assert_eq!(Before::of(&[0.0, f64::NAN]), None);
        assert_eq!(Before::of(&[4.0]).unwrap().half_width, None);
        let made: Vec<(f64, f64)> = (0..30)
            .map(|k| f64::from(k) * 10.0)
            .map(|time| (time, 12.0 - 9.0 * (-time / 40.0).exp_e()))
            .collect();
        let share = recovery(&made, RecoveryLaw::FirstOrder).unwrap().share_of(&before);
        assert!((share.value - 12.0 / 96.0_f64.sqrt()).abs() < 0.01);
        // The law follows the readings exactly, so the doubt is that of what was before.
        let [low, high] = share.limits.unwrap();
        assert!((0.5 * (high / low).log_e() - before.half_width.unwrap()).abs() < 1e-6);
    }
}
