//! A line with one bend through survivors, after Weibull: slow at first, or fast at first with survivors that last.
//!
//! ```text
//! log10 N = a - 3 (t/T)^p + e,  e normal with one deviation s
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | `T` | time for a thousandth to survive | h |
//! | `p` | shape: above 1 a shoulder, below 1 a tail, 1 the straight line with `D = T/3` | 1 |
//!
//! Counts below their floor enter with the probability of that, as in the straight line. For a shape the rest is a straight line along
//! `t^p`; the best shape is looked for between a tenth and ten, and all four parameters are polished together by Newton's steps. Limits
//! follow from the curvature of `ln L` at its top, on the logarithms of `T` and `p`, by Student's factor for the counts found less three.
//! Which line describes better is told by `AICc = 2 k - 2 ln L + 2 k (k + 1)/(n - k - 1)`, with k = 3 and 4 and all n counts.
//!
//! Range: counts found at four different times or more; a best shape at either end of the range is refused. Sources: Mafart et al., Int. J.
//! Food Microbiol. 72 (2002) 107 (the form, here written by the time of three decades in place of one), from memory. Case:
//! `tests/cross/killing_shape.toml`.

use super::likelihood::{Mean, deviations, information, likelihood, line, solved};
use super::{KillingError, Survivors, number};
use levigate_measure::elementary::Elementary as _;
use levigate_measure::uncertainty::student;

/// Decades of the time that stands for the line.
const DECADES: f64 = 3.0;
/// Natural logarithms of the shapes looked at.
const SHAPES: [f64; 2] = [-core::f64::consts::LN_10, core::f64::consts::LN_10];
/// Steps between them.
const LOOKS: u16 = 60;
/// A deviation below this is none.
const EXACT: f64 = 1e-6;

/// A line with one bend.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bent {
    /// Decimal logarithm at the start.
    pub start: f64,
    /// Hours for a thousandth to survive.
    pub three_log_hours: f64,
    /// Its limits.
    pub three_log_within: Option<(f64, f64)>,
    /// Shape.
    pub shape: f64,
    /// Its limits.
    pub shape_within: Option<(f64, f64)>,
    /// Deviation of one logarithm about the line.
    pub scatter: f64,
    /// AICc of the straight line less that of this one; `None` with five counts or fewer. Above zero this one describes better.
    pub gain: Option<f64>,
}

impl Bent {
    /// Decimal logarithm after so many hours.
    #[must_use]
    pub fn at(&self, hours: f64) -> f64 {
        self.start - DECADES * (hours.max(0.0) / self.three_log_hours).to_the(self.shape)
    }
}

/// The line with one bend, with limits that cover a share.
///
/// # Errors
/// [`KillingError`].
pub fn bent(points: &[Survivors], coverage: f64) -> Result<Bent, KillingError> {
    if points.iter().any(|point| !(point.hours.is_finite() && point.log.is_finite() && point.hours >= 0.0)) {
        return Err(KillingError::NotANumber);
    }
    let mut times: Vec<f64> = points.iter().filter(|point| !point.below).map(|point| point.hours).collect();
    let found = times.len();
    times.sort_by(f64::total_cmp);
    times.dedup();
    if times.len() < 4 {
        return Err(KillingError::TooFewTimes { times: times.len() });
    }
    let straight = line(points, |point| point.hours)?;
    let longest = points.iter().map(|point| point.hours).fold(0.0, f64::max);
    let ln_shape = best_shape(points, longest)?;
    let along = line(points, |point| (point.hours / longest).to_the(ln_shape.exp_e()))?;
    if along.slope >= 0.0 || along.slope.is_nan() {
        return Err(KillingError::NotFalling { per_hour: straight.slope });
    }
    let ln_time = longest.log_e() + (DECADES / -along.slope).log_e() / ln_shape.exp_e();
    let at = polished(points, [along.start, ln_time, ln_shape, along.scatter.log_e()]);
    let [start, ln_time, ln_shape, ln_scatter] = at;
    let (top, scatter) =
        (likelihood(points, |point| mean(at, point.hours).value, ln_scatter.exp_e()), ln_scatter.exp_e());
    // As in the straight line: as many degrees as were found, less three.
    let free = number(found) - 3.0;
    let inflated = (number(found) / free).sqrt();
    let errors = deviations::<3, 4>(points, |hours| mean(at, hours), scatter).filter(|_| scatter > EXACT);
    let limits = |middle: f64, error: f64| {
        let half = student::factor(coverage, free) * error * inflated;
        ((middle - half).exp_e(), (middle + half).exp_e())
    };
    let count = number(points.len());
    let weighed = |top: f64, k: f64| 2.0 * k - 2.0 * top + 2.0 * k * (k + 1.0) / (count - k - 1.0);
    Ok(Bent {
        start,
        three_log_hours: ln_time.exp_e(),
        three_log_within: errors.map(|errors| limits(ln_time, errors[1])),
        shape: ln_shape.exp_e(),
        shape_within: errors.map(|errors| limits(ln_shape, errors[2])),
        scatter: scatter * inflated,
        gain: (points.len() > 5).then(|| weighed(straight.likelihood, 3.0) - weighed(top, 4.0)),
    })
}

/// Natural logarithm of the shape whose line is likeliest: looked for in steps, then between the neighbours of the best.
fn best_shape(points: &[Survivors], longest: f64) -> Result<f64, KillingError> {
    let of = |ln_shape: f64| {
        line(points, |point| (point.hours / longest).to_the(ln_shape.exp_e()))
            .map_or(f64::NEG_INFINITY, |line| line.likelihood)
    };
    let width = (SHAPES[1] - SHAPES[0]) / f64::from(LOOKS);
    let looked = (0..=LOOKS).map(|step| SHAPES[0] + width * f64::from(step));
    let best = looked.max_by(|one, other| of(*one).total_cmp(&of(*other))).unwrap_or(0.0);
    if best - SHAPES[0] < 0.5 * width || SHAPES[1] - best < 0.5 * width {
        return Err(KillingError::NoShape);
    }
    // The golden section of the three steps around it.
    let golden = 0.5 * (5f64.sqrt() - 1.0);
    let [mut low, mut high] = [best - width, best + width];
    while high - low > 1e-9 {
        let [one, other] = [high - golden * (high - low), low + golden * (high - low)];
        if of(one) >= of(other) {
            high = other;
        } else {
            low = one;
        }
    }
    Ok(0.5 * (low + high))
}

/// Newton's steps in all four parameters while they climb.
fn polished(points: &[Survivors], start: [f64; 4]) -> [f64; 4] {
    let value = |at: [f64; 4]| likelihood(points, |point| mean(at, point.hours).value, at[3].exp_e());
    let mut now = start;
    for _ in 0..20 {
        if now[3] < EXACT.log_e() {
            break;
        }
        let (gradient, curvature) = information::<3, 4>(points, |hours| mean(now, hours), now[3].exp_e());
        let Some(step) = solved(curvature, gradient) else { break };
        let next: [f64; 4] = core::array::from_fn(|i| now[i] + step[i]);
        // At the top the likelihood itself is told to a dozen digits only; a step that small is taken on the word of the gradient.
        let small = step.iter().all(|step| step.abs() < 1e-6);
        if !small && value(next) < value(now) {
            break;
        }
        now = next;
        if step.iter().all(|step| step.abs() < 1e-13) {
            break;
        }
    }
    now
}

/// The line at a time, by its start and the logarithms of `T` and `p`.
fn mean([start, ln_time, ln_shape, _]: [f64; 4], hours: f64) -> Mean<3> {
    if hours <= 0.0 {
        return Mean { value: start, by: [1.0, 0.0, 0.0], bend: [[0.0; 3]; 3] };
    }
    let shape = ln_shape.exp_e();
    let ln_gone = shape * (hours.log_e() - ln_time);
    let gone = DECADES * ln_gone.exp_e();
    let across = shape * gone * (1.0 + ln_gone);
    Mean {
        value: start - gone,
        by: [1.0, shape * gone, -gone * ln_gone],
        bend: [
            [0.0; 3],
            [0.0, -shape * shape * gone, across],
            [0.0, across, -gone * ln_gone * (1.0 + ln_gone)],
        ],
    }
}
