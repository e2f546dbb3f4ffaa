//! The course of quantities whose rates of change are known: ordinary differential equations.
//!
//! ```text
//! y' = f(t, y),  followed by the pair of Dormand and Prince: a step of order 5, its error by the difference to one of order 4
//! next step = step 0.9 error^(-1/5), at most five times as long, at least a fifth
//! ```
//!
//! Written here and not taken from a library because the steps depend on a power of the error, and a library takes that from the system's
//! mathematics: the last bit of the answer would differ from machine to machine. Range: equations that are not stiff, a few of them. Source: J. R.
//! Dormand, P. J. Prince, J. Comput. Appl. Math. 6 (1980) 19, coefficients from memory; the sums they must fulfil are tested.
//! Cases: below, by closed forms; `tests/cross/heat.toml`.

use crate::elementary::Elementary as _;
use crate::root::bracketed;
use thiserror::Error;

/// How carefully a course is followed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Care {
    /// Error of a step, relative to the quantity.
    pub relative: f64,
    /// Error of a step that is always allowed, in the unit of the quantity.
    pub absolute: f64,
    /// Most steps.
    pub most_steps: usize,
}

impl Default for Care {
    fn default() -> Self {
        Self { relative: 1e-8, absolute: 1e-8, most_steps: 100_000 }
    }
}

/// A course that was followed.
#[derive(Clone, Debug, PartialEq)]
pub struct Course<const N: usize> {
    /// Time and quantities at every step, the start first.
    pub points: Vec<(f64, [f64; N])>,
    /// Whether it stopped because the goal was reached, not because the time was over.
    pub reached: bool,
}

impl<const N: usize> Course<N> {
    /// Time and quantities at the end.
    #[must_use]
    pub fn end(&self) -> (f64, [f64; N]) {
        self.points.last().copied().unwrap_or((0.0, [f64::NAN; N]))
    }
}

/// Why a course could not be followed.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum CourseError {
    /// A rate is not a number.
    #[error("a rate of change is not a finite number at {time}")]
    NotFinite {
        /// Time.
        time: f64,
    },
    /// The bound on steps was reached.
    #[error("{steps} steps lead to {time} only")]
    TooManySteps {
        /// Steps.
        steps: usize,
        /// Time reached.
        time: f64,
    },
}

impl CourseError {
    /// What to do about it.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            Self::NotFinite { .. } => "check the inputs at that time",
            Self::TooManySteps { .. } => {
                "shorten the time, or check for a part that changes far faster than the rest"
            }
        }
    }
}

/// Where the rates are taken within a step, and the weights of those before.
const PLACES: [f64; 6] = [0.2, 0.3, 0.8, 8.0 / 9.0, 1.0, 1.0];
const WEIGHTS: [&[f64]; 6] = [
    &[0.2],
    &[3.0 / 40.0, 9.0 / 40.0],
    &[44.0 / 45.0, -56.0 / 15.0, 32.0 / 9.0],
    &[19_372.0 / 6561.0, -25_360.0 / 2187.0, 64_448.0 / 6561.0, -212.0 / 729.0],
    &[9017.0 / 3168.0, -355.0 / 33.0, 46_732.0 / 5247.0, 49.0 / 176.0, -5103.0 / 18_656.0],
    &[35.0 / 384.0, 0.0, 500.0 / 1113.0, 125.0 / 192.0, -2187.0 / 6784.0, 11.0 / 84.0],
];
/// Weights of order 5 less those of order 4.
const ERRORS: [f64; 7] =
    [71.0 / 57_600.0, 0.0, -71.0 / 16_695.0, 71.0 / 1920.0, -17_253.0 / 339_200.0, 22.0 / 525.0, -1.0 / 40.0];

/// One step: the quantities after it and how far off they may be.
fn step<const N: usize>(
    rates: &impl Fn(f64, &[f64; N]) -> [f64; N],
    (time, from): (f64, &[f64; N]),
    length: f64,
) -> ([f64; N], [f64; N]) {
    let mut taken = vec![rates(time, from)];
    let mut at = *from;
    for (place, weights) in PLACES.iter().zip(WEIGHTS) {
        at = *from;
        for (weight, rate) in weights.iter().zip(&taken) {
            for (value, rate) in at.iter_mut().zip(rate) {
                *value += length * weight * rate;
            }
        }
        taken.push(rates(time + place * length, &at));
    }
    let mut off = [0.0; N];
    for (weight, rate) in ERRORS.iter().zip(&taken) {
        for (off, rate) in off.iter_mut().zip(rate) {
            *off += length * weight * rate;
        }
    }
    (at, off)
}

/// Follows a course from a start until a time, or until `goal` is no longer below zero.
///
/// # Errors
/// [`CourseError`] when a rate is no number or the steps do not suffice.
pub fn follow<const N: usize>(
    rates: impl Fn(f64, &[f64; N]) -> [f64; N],
    (start, from): (f64, [f64; N]),
    until: f64,
    goal: impl Fn(f64, &[f64; N]) -> f64,
    care: &Care,
) -> Result<Course<N>, CourseError> {
    let mut course = Course { points: vec![(start, from)], reached: goal(start, &from) >= 0.0 };
    let (mut time, mut at) = (start, from);
    let mut length = 1e-3 * (until - start);
    let mut steps = 0;
    while !course.reached && time < until {
        if steps >= care.most_steps {
            return Err(CourseError::TooManySteps { steps, time });
        }
        steps += 1;
        let last = time + length >= until;
        if last {
            length = until - time;
        }
        let (next, off) = step(&rates, (time, &at), length);
        if next.iter().chain(&off).any(|value| !value.is_finite()) {
            // Too long a step may overshoot into what has no meaning; a short one that does is an error.
            length *= 0.2;
            if length <= 1e-12 * (until - start) {
                return Err(CourseError::NotFinite { time });
            }
            continue;
        }
        let error = (0..N).fold(0.0_f64, |worst, of| {
            let allowed = care.absolute + care.relative * at[of].abs().max(next[of].abs());
            worst.max(off[of].abs() / allowed)
        });
        let grow = if error > 0.0 { (0.9 * error.to_the(-0.2)).clamp(0.2, 5.0) } else { 5.0 };
        if error > 1.0 {
            length *= grow.min(0.9);
            continue;
        }
        if goal(time + length, &next) >= 0.0 {
            // Where within the step: by steps of part of its length, each as good as the whole.
            let miss = |share: f64| {
                let (there, _) = step(&rates, (time, &at), share * length);
                goal(time + share * length, &there)
            };
            let share = bracketed(miss, 0.0, 1.0, 1e-12, 100).unwrap_or(1.0);
            at = step(&rates, (time, &at), share * length).0;
            time += share * length;
            course.reached = true;
        } else {
            time = if last { until } else { time + length };
            at = next;
            length *= grow;
        }
        course.points.push((time, at));
    }
    Ok(course)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn never<const N: usize>(_: f64, _: &[f64; N]) -> f64 {
        -1.0
    }

    #[test]
    fn the_weights_fulfil_their_sums() {
        for (place, weights) in PLACES.iter().zip(WEIGHTS) {
            assert!((weights.iter().sum::<f64>() - place).abs() < 1e-14);
        }
        assert!(ERRORS.iter().sum::<f64>().abs() < 1e-15);
        // Of order 5: sum of b c^k = 1/(k + 1) up to k = 4.
        let places: Vec<f64> = core::iter::once(0.0).chain(PLACES).collect();
        for power in 1..5 {
            let sum: f64 =
                WEIGHTS[5].iter().zip(&places).map(|(weight, place)| weight * place.powi(power)).sum();
            assert!((sum - 1.0 / f64::from(power + 1)).abs() < 1e-14, "{power}");
        }
    }

    #[test]
    fn decay_and_a_swing_are_their_closed_forms() {
        let course =
            follow(|_, y: &[f64; 1]| [-0.3 * y[0]], (0.0, [5.0]), 20.0, never, &Care::default()).unwrap();
        let (time, end) = course.end();
        assert_eq!(time, 20.0);
        assert!((end[0] - 5.0 * (-6.0_f64).exp_e()).abs() < 1e-7);
        let swing =
            follow(|_, y: &[f64; 2]| [y[1], -y[0]], (0.0, [0.0, 1.0]), 3.0, never, &Care::default()).unwrap();
        assert!((swing.end().1[0] - 3.0_f64.sine()).abs() < 1e-6);
    }

    #[test]
    fn a_goal_is_reached_where_the_closed_form_says() {
        let course = follow(
            |_, y: &[f64; 1]| [0.1 * (95.0 - y[0])],
            (0.0, [20.0]),
            1e4,
            |_, y| y[0] - 75.0,
            &Care::default(),
        );
        let course = course.unwrap();
        assert!(course.reached);
        let (time, end) = course.end();
        assert!((end[0] - 75.0).abs() < 1e-9);
        assert!((time - 10.0 * (75.0_f64 / 20.0).log_e()).abs() < 1e-6, "{time}");
        // One that is never reached ends with the time; one that holds at the start is reached there.
        let far = follow(
            |_, y: &[f64; 1]| [0.1 * (95.0 - y[0])],
            (0.0, [20.0]),
            1e3,
            |_, y| y[0] - 96.0,
            &Care::default(),
        );
        assert!(!far.unwrap().reached);
        let here = follow(|_, _: &[f64; 1]| [1.0], (0.0, [20.0]), 1e3, |_, y| y[0] - 20.0, &Care::default());
        assert_eq!(here.unwrap().end().0, 0.0);
    }

    #[test]
    fn rates_that_are_no_numbers_and_endless_steps_are_errors() {
        let error =
            follow(|_, _: &[f64; 1]| [f64::NAN], (0.0, [1.0]), 1.0, never, &Care::default()).unwrap_err();
        assert!(matches!(error, CourseError::NotFinite { .. }));
        let stiff = Care { most_steps: 50, ..Care::default() };
        let error = follow(|_, y: &[f64; 1]| [-1e9 * y[0]], (0.0, [1.0]), 1.0, never, &stiff).unwrap_err();
        assert!(matches!(error, CourseError::TooManySteps { steps: 50, .. }));
    }
}
