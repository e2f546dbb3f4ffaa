//! Reading until settled: where a drifting electrode will end, how sure that is, how long to wait.
//!
//! ```text
//! R(t) = R_end + A exp(-t / tau)                          or with a second, faster term
//! wait until  |R(t) - R_end| < tolerance
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | R, R_end | reading, settled reading | pH |
//! | A | how far the first reading stood from it | pH |
//! | tau | time constant of the electrode in this product | s |
//!
//! A single odd reading weighs little (Huber's weights, from memory). Whether there is a drift at all, and whether one term tells it, is judged by
//! the corrected information criterion, and of few readings by whether a straight line rises or falls more surely than by chance; what has not bent within
//! the readings is not extended. Range: 4 readings that stand, 6 and more that drift, of one electrode left in one place; an electrode whose junction clogs, or a sample that reacts, does not settle by this law. An exponential approach is what
//! an electrode with a film in front of it does (common practice, no source). Cases: `tests/cross/settling.toml`.

use crate::flow::estimate::student_95;
use levigate_measure::elementary::Elementary as _;
use levigate_measure::least_squares::{Fit, Room, Stop, least_squares};
use thiserror::Error;

/// Fewest readings that can be told to stand.
const FEWEST: usize = 4;
/// Fewest from which it can be told where a drift ends.
const FEWEST_FOR_ONE: usize = 6;
/// Fewest for a second term.
const FEWEST_FOR_TWO: usize = 8;
/// Most readings that are looked at, the last ones.
const MOST: usize = 2000;
/// An approach that has not come this many time constants along has not bent enough to say where it ends.
const BENT: f64 = 1.0;
/// Huber's constant, in standard deviations.
const HUBER: f64 = 1.5;
/// A reading further off than this many standard deviations is named.
const ODD: f64 = 4.0;
/// Rounds of weights.
const ROUNDS: usize = 6;
/// A second term, and a drift at all, must gain this much.
const GAIN: f64 = 2.0;

/// A reading.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Moment {
    /// Time, s.
    pub time_s: f64,
    /// Reading.
    pub ph: f64,
}

/// Why nothing is said.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum SettlingError {
    /// Too few readings.
    #[error("{readings} readings do not tell a drift; at least {needed} are needed")]
    TooFew {
        /// Readings.
        readings: usize,
        /// Needed.
        needed: usize,
    },
    /// Times that do not rise or are no numbers.
    #[error("reading {at} has no time after the one before it")]
    NotInOrder {
        /// Which, from 1.
        at: usize,
    },
    /// A reading that cannot be.
    #[error("reading {at} is {ph}")]
    NotUsable {
        /// Which, from 1.
        at: usize,
        /// As given.
        ph: f64,
    },
    /// The drift is straight: where it ends cannot be seen yet.
    #[error("the reading is still drifting by {per_minute:.3} pH per minute and has not begun to bend")]
    StillDrifting {
        /// Drift over the last half of the readings, pH per minute.
        per_minute: f64,
    },
}

impl SettlingError {
    /// What to do.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            Self::TooFew { .. } => "note time and reading every ten seconds or so, for a minute",
            Self::NotInOrder { .. } => "give the readings in the order of their times",
            Self::NotUsable { .. } => "give the pH the meter shows, between -1 and 15",
            Self::StillDrifting { .. } => {
                "wait and read on; if it goes on for minutes, clean the electrode and check it in a buffer"
            }
        }
    }
}

/// Where a reading ends.
#[derive(Clone, Debug, PartialEq)]
pub struct Settled {
    /// Settled reading.
    pub ph: f64,
    /// Standard uncertainty of it, rounding of the display included.
    pub uncertainty: f64,
    /// Ends of its 95 % interval.
    pub interval: [f64; 2],
    /// Slowest time constant, s; none where the reading stands.
    pub time_constant_s: Option<f64>,
    /// Exponential terms: 0 where the reading stands.
    pub terms: usize,
    /// Distance of the last moment from the settled reading by the fit.
    pub to_go: f64,
    /// Time still to wait after the last reading until the tolerance is kept, s.
    pub wait_s: f64,
    /// Scatter of the readings about the fit.
    pub scatter: f64,
    /// Readings that stand far off, from 0; they count little.
    pub odd: Vec<usize>,
    /// Whether every reading is the same to the digit: a display on hold looks like this too.
    pub all_the_same: bool,
}

/// Where a drifting reading ends and how long to wait until it is within `tolerance` of there; `digit` is the last digit of the display.
///
/// # Errors
/// [`SettlingError`].
pub fn settle(moments: &[Moment], digit: f64, tolerance: f64) -> Result<Settled, SettlingError> {
    let moments = &moments[moments.len().saturating_sub(MOST)..];
    usable(moments)?;
    let rounding = digit / 12f64.sqrt();
    let standing = still(moments, rounding);
    let start = moments[0].time_s;
    let span = moments[moments.len() - 1].time_s - start;
    // Times in spans, so that every rate is of the size of one.
    let times: Vec<f64> = moments.iter().map(|one| (one.time_s - start) / span).collect();
    let values: Vec<f64> = moments.iter().map(|one| one.ph).collect();
    let one = approach::<3>(&times, &values, rounding);
    let two = (moments.len() >= FEWEST_FOR_TWO).then(|| approach::<5>(&times, &values, rounding)).flatten();
    let trends = trends(moments, digit, rounding);
    if trends && moments.len() < FEWEST_FOR_ONE {
        return Err(SettlingError::TooFew { readings: moments.len(), needed: FEWEST_FOR_ONE });
    }
    // The criterion punishes the three constants of an approach so much that it calls a short drift standing: the trend speaks too.
    let drifts = trends
        || one.as_ref().is_some_and(|fit| fit.criterion + GAIN < standing.criterion)
        || two.as_ref().is_some_and(|fit| fit.criterion + GAIN < standing.criterion);
    if !drifts {
        return Ok(standing.settled(moments, rounding));
    }
    let better = match (&one, &two) {
        (Some(one), Some(two)) if two.criterion + GAIN < one.criterion && two.bent() => two,
        (Some(one), _) => one,
        (None, Some(two)) => two,
        (None, None) => return Err(SettlingError::StillDrifting { per_minute: 60.0 * drift(moments) }),
    };
    if !better.bent() {
        return Err(SettlingError::StillDrifting { per_minute: 60.0 * drift(moments) });
    }
    Ok(better.settled(span, rounding, tolerance))
}

fn usable(moments: &[Moment]) -> Result<(), SettlingError> {
    for (at, one) in moments.iter().enumerate() {
        if !(-1.0..=15.0).contains(&one.ph) {
            return Err(SettlingError::NotUsable { at: at + 1, ph: one.ph });
        }
        let after = at == 0 || one.time_s > moments[at - 1].time_s;
        if !(after && one.time_s.abs() < 1e7) {
            return Err(SettlingError::NotInOrder { at: at + 1 });
        }
    }
    if moments.len() < FEWEST {
        return Err(SettlingError::TooFew { readings: moments.len(), needed: FEWEST });
    }
    Ok(())
}

/// Slope of a straight line, per second, and its standard error for a scatter not below the rounding of the display.
fn line(moments: &[Moment], rounding: f64) -> (f64, f64) {
    let count = moments.len() as f64;
    let time = moments.iter().map(|one| one.time_s).sum::<f64>() / count;
    let ph = moments.iter().map(|one| one.ph).sum::<f64>() / count;
    let spread: f64 = moments.iter().map(|one| (one.time_s - time).powi(2)).sum();
    if spread <= 0.0 {
        return (0.0, f64::INFINITY);
    }
    let rise: f64 = moments.iter().map(|one| (one.time_s - time) * (one.ph - ph)).sum();
    let slope = rise / spread;
    let off: f64 = moments.iter().map(|one| (one.ph - ph - slope * (one.time_s - time)).powi(2)).sum();
    let variance = (off / (count - 2.0).max(1.0)).max(rounding * rounding);
    (slope, (variance / spread).sqrt())
}

/// Whether the readings move by more than a digit and a straight line is surer than chance.
fn trends(moments: &[Moment], digit: f64, rounding: f64) -> bool {
    let (slope, error) = line(moments, rounding);
    let span = moments[moments.len() - 1].time_s - moments[0].time_s;
    (slope * span).abs() > digit && slope.abs() > student_95(moments.len() - 2) * error
}

/// Slope of a straight line through the last half, per second.
fn drift(moments: &[Moment]) -> f64 {
    line(&moments[moments.len() / 2..], 0.0).0
}

fn middle(values: impl Iterator<Item = f64>) -> f64 {
    let mut values: Vec<f64> = values.collect();
    values.sort_by(f64::total_cmp);
    let half = values.len() / 2;
    if values.len() % 2 == 1 { values[half] } else { 0.5 * (values[half - 1] + values[half]) }
}

/// Scatter by the middle of the absolute residuals, not below the rounding of the display.
fn scatter(residuals: &[f64], rounding: f64) -> f64 {
    (1.4826 * middle(residuals.iter().map(|one| one.abs()))).max(rounding).max(1e-9)
}

/// Huber's weight of a residual.
fn weight(residual: f64, scatter: f64) -> f64 {
    let far = residual.abs() / (HUBER * scatter);
    if far <= 1.0 { 1.0 } else { 1.0 / far }
}

/// Corrected information criterion of a robust sum of squares in units of a fixed scatter.
fn criterion(residuals: &[f64], scale: f64, parameters: usize) -> f64 {
    let loss: f64 = residuals
        .iter()
        .map(|one| {
            let far = one.abs() / scale;
            if far <= HUBER { far * far } else { HUBER * (2.0 * far - HUBER) }
        })
        .sum();
    let (n, k) = (residuals.len() as f64, parameters as f64 + 1.0);
    let correction = if n > k + 1.0 { 2.0 * k * (k + 1.0) / (n - k - 1.0) } else { f64::INFINITY };
    n * (loss.max(1e-12) / n).log_e() + 2.0 * k + correction
}

fn odd(residuals: &[f64], scatter: f64) -> Vec<usize> {
    (0..residuals.len()).filter(|&at| residuals[at].abs() > ODD * scatter).collect()
}

/// A reading that stands.
struct Still {
    ph: f64,
    residuals: Vec<f64>,
    scatter: f64,
    criterion: f64,
}

fn still(moments: &[Moment], rounding: f64) -> Still {
    let mut ph = middle(moments.iter().map(|one| one.ph));
    let mut residuals: Vec<f64> = Vec::new();
    let mut found = rounding;
    for _ in 0..ROUNDS {
        residuals = moments.iter().map(|one| one.ph - ph).collect();
        found = scatter(&residuals, rounding);
        let weights: f64 = residuals.iter().map(|one| weight(*one, found)).sum();
        ph += residuals.iter().map(|one| weight(*one, found) * one).sum::<f64>() / weights;
    }
    let criterion = criterion(&residuals, rounding.max(1e-9), 1);
    Still { ph, residuals, scatter: found, criterion }
}

impl Still {
    fn settled(&self, moments: &[Moment], rounding: f64) -> Settled {
        let count = moments.len();
        let uncertainty = (self.scatter / (count as f64).sqrt()).root_sum_square(rounding);
        let half = student_95(count - 1) * uncertainty;
        Settled {
            ph: self.ph,
            uncertainty,
            interval: [self.ph - half, self.ph + half],
            time_constant_s: None,
            terms: 0,
            to_go: 0.0,
            wait_s: 0.0,
            scatter: self.scatter,
            odd: odd(&self.residuals, self.scatter),
            all_the_same: moments.iter().all(|one| one.ph == moments[0].ph),
        }
    }
}

/// A fitted approach: end, then amplitude and logarithm of the rate of each term, rates per span, the slower term first.
struct Approach<const P: usize> {
    parameters: [f64; P],
    deviation_of_end: f64,
    residuals: Vec<f64>,
    scatter: f64,
}

/// What both forms of an approach can say.
trait Ending {
    fn bent(&self) -> bool;
    fn settled(&self, span_s: f64, rounding: f64, tolerance: f64) -> Settled;
}

/// One or two terms behind one face.
struct Found {
    criterion: f64,
    ending: Box<dyn Ending>,
}

impl Found {
    fn bent(&self) -> bool {
        self.ending.bent()
    }

    fn settled(&self, span_s: f64, rounding: f64, tolerance: f64) -> Settled {
        self.ending.settled(span_s, rounding, tolerance)
    }
}

/// Value and derivatives of an approach at a time in spans. The second rate stands `e^x` above the first and twice it at least.
fn model<const P: usize>(parameters: &[f64; P], time: f64, row: &mut [f64; P]) -> f64 {
    let slow = parameters[2].exp_e();
    let first = (-slow * time).exp_e();
    let mut value = parameters[0] + parameters[1] * first;
    row[0] = 1.0;
    row[1] = first;
    row[2] = -parameters[1] * first * slow * time;
    if P == 5 {
        let apart = 2.0 + parameters[4].exp_e();
        let second = (-slow * apart * time).exp_e();
        value += parameters[3] * second;
        row[2] -= parameters[3] * second * slow * apart * time;
        row[3] = second;
        row[4] = -parameters[3] * second * slow * (apart - 2.0) * time;
    }
    value
}

fn approach<const P: usize>(times: &[f64], values: &[f64], rounding: f64) -> Option<Found> {
    let count = times.len();
    let first = values[0];
    let last = middle(values[count - (count / 4).max(1)..].iter().copied());
    let mut bounds = [[f64::NEG_INFINITY, f64::INFINITY]; P];
    bounds[2] = [0.02_f64.log_e(), 500_f64.log_e()];
    if P == 5 {
        bounds[4] = [0.5_f64.log_e(), 200_f64.log_e()];
    }
    let mut best: Option<(Fit<P>, Vec<f64>)> = None;
    let mut weights = vec![1.0; count];
    let mut found = rounding;
    for round in 0..ROUNDS {
        let mut fit_from = |start: [f64; P]| {
            least_squares(count, start, &bounds, &Stop::default(), &mut Room::new(), |p, residuals, rows| {
                for (at, &time) in times.iter().enumerate() {
                    let root: f64 = f64::sqrt(weights[at]);
                    residuals[at] = root * (model(p, time, &mut rows[at]) - values[at]);
                    rows[at].iter_mut().for_each(|entry| *entry *= root);
                }
                residuals.iter().all(|one| one.is_finite())
            })
            .ok()
        };
        let starts: Vec<[f64; P]> = match &best {
            Some((fit, _)) => vec![fit.parameters],
            None => [0.5_f64, 2.0, 5.0, 12.0]
                .iter()
                .map(|rate| {
                    let mut start = [0.0; P];
                    start[0] = last;
                    start[1] = first - last;
                    start[2] = rate.log_e();
                    if P == 5 {
                        start[3] = 0.3 * (first - last);
                        start[4] = 4_f64.log_e();
                    }
                    start
                })
                .collect(),
        };
        let fit = starts.into_iter().filter_map(&mut fit_from).min_by(|a, b| a.sum.total_cmp(&b.sum))?;
        let mut row = [0.0; P];
        let residuals: Vec<f64> = times
            .iter()
            .zip(values)
            .map(|(time, value)| value - model(&fit.parameters, *time, &mut row))
            .collect();
        found = scatter(&residuals, rounding);
        let last_round = round + 1 == ROUNDS || residuals.iter().all(|one| weight(*one, found) >= 1.0);
        weights = residuals.iter().map(|one| weight(*one, found)).collect();
        best = Some((fit, residuals));
        if last_round {
            break;
        }
    }
    let (fit, residuals) = best?;
    let covariance = fit.covariance()?;
    // The covariance is scaled by the scatter of this fit, with the display's rounding as the least there can be.
    let variance = fit.variance()?.max(1e-300);
    let scale = variance.max(rounding * rounding) / variance;
    Some(Found {
        criterion: criterion(&residuals, rounding.max(1e-9), P),
        ending: Box::new(Approach {
            parameters: fit.parameters,
            deviation_of_end: (covariance[0][0] * scale).sqrt(),
            scatter: found,
            residuals,
        }),
    })
}

impl<const P: usize> Approach<P> {
    fn away(&self, time: f64) -> f64 {
        model(&self.parameters, time, &mut [0.0; P]) - self.parameters[0]
    }
}

impl<const P: usize> Ending for Approach<P> {
    fn bent(&self) -> bool {
        self.parameters[2].exp_e() >= BENT
    }

    fn settled(&self, span_s: f64, rounding: f64, tolerance: f64) -> Settled {
        let rate = self.parameters[2].exp_e();
        // The slow term alone decides late; the sum may cross the end on the way, so that the last crossing is looked for.
        let size = self.parameters[1].abs() + if P == 5 { self.parameters[3].abs() } else { 0.0 };
        let far = ((size / tolerance).max(1.0).log_e() / rate).max(1.0);
        let wait = if self.away(far).abs() > tolerance || far <= 1.0 {
            far - 1.0
        } else {
            let (mut low, mut high) = (1.0, far);
            if self.away(low).abs() <= tolerance {
                high = low;
            }
            for _ in 0..60 {
                let half = 0.5 * (low + high);
                if self.away(half).abs() > tolerance {
                    low = half;
                } else {
                    high = half;
                }
            }
            high - 1.0
        };
        let ph = self.parameters[0];
        let uncertainty = self.deviation_of_end.root_sum_square(rounding);
        let half = student_95(self.residuals.len().saturating_sub(P).max(1)) * uncertainty;
        Settled {
            ph,
            uncertainty,
            interval: [ph - half, ph + half],
            time_constant_s: Some(span_s / rate),
            terms: (P - 1) / 2,
            to_go: self.away(1.0),
            wait_s: wait * span_s,
            scatter: self.scatter,
            odd: odd(&self.residuals, self.scatter),
            all_the_same: false,
        }
    }
}
