//! What is believed of some numbers, and what measurements teach about them: Bayes' rule with normal distributions.
//!
//! ```text
//! minimise (theta - mu)' C^-1 (theta - mu) + sum ((y_i - h_i(theta)) / s_i)^2      over theta
//! theta_hat = the minimiser;   C_hat = (C^-1 + J' R^-1 J)^-1                        there
//! ```
//!
//! | symbol | meaning |
//! |---|---|
//! | theta | the numbers sought |
//! | mu, C | mean and covariance believed before |
//! | y_i, h_i, s_i | a measurement, its prediction from theta, its standard deviation |
//! | J, R | derivatives of h, variances of the measurements |
//!
//! The search runs in units of the belief (`theta = mu + L u`, `C = L L'`), where the matrix to be solved is the unit matrix plus something
//! never negative, so that numbers no measurement speaks of simply stay as believed. Derivatives by central differences. Where h is
//! straight the result is exact; else it is the most probable value with the curvature there (Laplace), which holds as long as h bends little over
//! what is left of the belief. Source: Gelman and others, Bayesian Data Analysis, chapters 3 and 4 (from memory). Cases: `tests/tests/belief.rs`,
//! the reference sets of NIST with a belief so wide that it says nothing, and maximum a posteriori fits by another program.

use crate::elementary::Elementary as _;
use thiserror::Error;

/// Most turns of the search.
const TURNS: usize = 200;
/// Step of the differences, in standard deviations of what is left of the belief.
const DIFFERENCE: f64 = 1e-4;
/// The search ends when a step is shorter than this, in standard deviations of the belief.
const SETTLED: f64 = 1e-10;
/// A step that promises less than this share of the sum of squares promises nothing.
const NOTHING: f64 = 1e-14;
/// A measurement further from what was believed than this many standard deviations contradicts it (about one in a hundred does by chance).
const CONTRADICTS: f64 = 2.576;

/// Why nothing was learned.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum BeliefError {
    /// Means and covariances do not fit each other, or are no numbers, or no covariance at all.
    #[error("a mean and a covariance of {means} numbers are needed")]
    NoBelief {
        /// Number of means.
        means: usize,
    },
    /// A measurement without a value or with a standard deviation that is not above zero.
    #[error("measurement {at} has no value or no standard deviation above zero")]
    NoMeasurement {
        /// Its place, from 0.
        at: usize,
    },
    /// The prediction is not a number where it is asked.
    #[error("the prediction gives no number for what is believed")]
    NoPrediction,
    /// The search did not settle.
    #[error("the search did not settle within {turns} turns")]
    NotSettled {
        /// Turns taken.
        turns: usize,
    },
}

impl BeliefError {
    /// What to do about it.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            Self::NoBelief { .. } => {
                "give a finite mean and a standard deviation of at least zero for each number"
            }
            Self::NoMeasurement { .. } => "give each measurement with its repeatability",
            Self::NoPrediction => "look whether the formula can be predicted at all",
            Self::NotSettled { .. } => "leave out the measurement that fits the others least",
        }
    }
}

/// A normal distribution of several numbers.
#[derive(Clone, Debug, PartialEq)]
pub struct Belief {
    mean: Vec<f64>,
    covariance: Vec<f64>,
}

/// A measurement.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Measurement {
    /// Value.
    pub value: f64,
    /// Standard deviation, above zero.
    pub deviation: f64,
}

/// What a measurement said against what was believed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lesson {
    /// Predicted before.
    pub before: f64,
    /// Predicted after.
    pub after: f64,
    /// Standard deviation of the prediction before, without that of the measurement.
    pub deviation_before: f64,
    /// The same after.
    pub deviation_after: f64,
    /// Measured less predicted before, in standard deviations of both together.
    pub surprise: f64,
}

impl Lesson {
    /// Whether the measurement contradicts what was believed: about one in a hundred does by chance.
    #[must_use]
    pub fn contradicts(&self) -> bool {
        self.surprise.abs() > CONTRADICTS
    }
}

/// What was learned.
#[derive(Clone, Debug, PartialEq)]
pub struct Learned {
    /// The belief after.
    pub belief: Belief,
    /// What each measurement said, in their order.
    pub lessons: Vec<Lesson>,
    /// Share of the variance of each number that is gone: 0 nothing learned, near 1 all settled.
    pub share: Vec<f64>,
}

impl Belief {
    /// A belief from means and a covariance, row by row.
    ///
    /// # Errors
    /// [`BeliefError::NoBelief`] for sizes that do not fit, values that are not finite or no covariance: not symmetric, or with a negative direction.
    pub fn new(mean: Vec<f64>, covariance: Vec<f64>) -> Result<Self, BeliefError> {
        let means = mean.len();
        let fits = covariance.len() == means * means
            && mean.iter().chain(&covariance).all(|value| value.is_finite())
            && (0..means).all(|i| covariance[i * means + i] >= 0.0)
            && (0..means).all(|i| {
                (0..i).all(|j| {
                    let scale = (covariance[i * means + i] * covariance[j * means + j]).sqrt();
                    let (here, there) = (covariance[i * means + j], covariance[j * means + i]);
                    (here - there).abs() <= 1e-9 * scale && here.abs() <= scale * (1.0 + 1e-9)
                })
            });
        if fits { Ok(Self { mean, covariance }) } else { Err(BeliefError::NoBelief { means }) }
    }

    /// A belief in which the numbers have nothing to do with each other; a standard deviation of zero holds a number fast.
    ///
    /// # Errors
    /// See [`Belief::new`].
    pub fn independent(mean: Vec<f64>, deviations: &[f64]) -> Result<Self, BeliefError> {
        let means = mean.len();
        if deviations.len() != means || deviations.iter().any(|deviation| *deviation < 0.0) {
            return Err(BeliefError::NoBelief { means });
        }
        let mut covariance = vec![0.0; means * means];
        for (i, deviation) in deviations.iter().enumerate() {
            covariance[i * means + i] = deviation * deviation;
        }
        Self::new(mean, covariance)
    }

    /// Means.
    #[must_use]
    pub fn mean(&self) -> &[f64] {
        &self.mean
    }

    /// Covariance of two numbers.
    #[must_use]
    pub fn covariance(&self, one: usize, other: usize) -> f64 {
        self.covariance[one * self.mean.len() + other]
    }

    /// Standard deviation of a number.
    #[must_use]
    pub fn deviation(&self, of: usize) -> f64 {
        self.covariance(of, of).sqrt()
    }

    /// Standard deviation of a result with this gradient.
    #[must_use]
    pub fn deviation_of(&self, gradient: &[f64]) -> f64 {
        let mut variance = 0.0;
        for (i, by_i) in gradient.iter().enumerate() {
            for (j, by_j) in gradient.iter().enumerate() {
                variance += by_i * by_j * self.covariance(i, j);
            }
        }
        variance.max(0.0).sqrt()
    }

    /// Learns from measurements. `predict` fills the predictions for the numbers given, in the order of the measurements, and says whether
    /// they are numbers.
    ///
    /// # Errors
    /// [`BeliefError`].
    pub fn learn(
        &self,
        measurements: &[Measurement],
        mut predict: impl FnMut(&[f64], &mut [f64]) -> bool,
    ) -> Result<Learned, BeliefError> {
        let mut search = Search::over(self, measurements, &mut predict)?;
        let before = search.stand(vec![0.0; self.mean.len()]).ok_or(BeliefError::NoPrediction)?;
        let after = search.settle(before.clone())?;
        Ok(search.learned(&before, &after))
    }

    /// How surprising measurements are before anything is learned from them: measured less predicted, in standard deviations of both together.
    ///
    /// # Errors
    /// [`BeliefError`].
    pub fn surprises(
        &self,
        measurements: &[Measurement],
        mut predict: impl FnMut(&[f64], &mut [f64]) -> bool,
    ) -> Result<Vec<f64>, BeliefError> {
        let mut search = Search::over(self, measurements, &mut predict)?;
        let before = search.stand(vec![0.0; self.mean.len()]).ok_or(BeliefError::NoPrediction)?;
        Ok((0..measurements.len()).map(|at| search.surprise(&before, at)).collect())
    }
}

impl Belief {
    /// These numbers and others that have nothing to do with them, behind.
    #[must_use]
    pub fn and(&self, others: &Self) -> Self {
        let (own, all) = (self.mean.len(), self.mean.len() + others.mean.len());
        let mut covariance = vec![0.0; all * all];
        for i in 0..all {
            for j in 0..all {
                covariance[i * all + j] = match (i < own, j < own) {
                    (true, true) => self.covariance(i, j),
                    (false, false) => others.covariance(i - own, j - own),
                    _ => 0.0,
                };
            }
        }
        Self { mean: self.mean.iter().chain(&others.mean).copied().collect(), covariance }
    }

    /// Some of the numbers alone, in the order of their places.
    #[must_use]
    pub fn part(&self, places: &[usize]) -> Self {
        Self {
            mean: places.iter().map(|&place| self.mean[place]).collect(),
            covariance: places
                .iter()
                .flat_map(|&row| places.iter().map(move |&column| self.covariance(row, column)))
                .collect(),
        }
    }

    /// Learns from measurements that speak of some of the numbers; the others follow by what they have to do with these.
    ///
    /// ```text
    /// r | s  stays as believed:   r = mu_r + B (s - mu_s),  B = C_rs C_ss^-1
    /// ```
    ///
    /// `predict` is given the numbers at `places` (each once), in that order. The shares are of those numbers.
    ///
    /// # Errors
    /// [`BeliefError`].
    pub fn learn_about(
        &self,
        places: &[usize],
        measurements: &[Measurement],
        predict: impl FnMut(&[f64], &mut [f64]) -> bool,
    ) -> Result<Learned, BeliefError> {
        let before = self.part(places);
        let learned = before.learn(measurements, predict)?;
        let (size, some) = (self.mean.len(), places.len());
        let root = lower_root(&before.covariance, some);
        // Row by row of B for all numbers; those spoken of come out as themselves.
        let ties: Vec<Vec<f64>> = (0..size)
            .map(|row| {
                let shared: Vec<f64> = places.iter().map(|&place| self.covariance(row, place)).collect();
                solve(&root, some, &shared)
            })
            .collect();
        let step: Vec<f64> =
            learned.belief.mean.iter().zip(&before.mean).map(|(new, old)| new - old).collect();
        let change: Vec<f64> =
            learned.belief.covariance.iter().zip(&before.covariance).map(|(new, old)| new - old).collect();
        let mut after = self.clone();
        for (mean, tie) in after.mean.iter_mut().zip(&ties) {
            *mean += dot(tie, &step);
        }
        for (i, tie) in ties.iter().enumerate() {
            let moved: Vec<f64> = change.chunks_exact(some.max(1)).map(|row| dot(row, tie)).collect();
            for (j, other) in ties.iter().enumerate().take(i + 1) {
                let value = self.covariance(i, j) + dot(other, &moved);
                after.covariance[i * size + j] = value;
                after.covariance[j * size + i] = value;
            }
        }
        // What was learned itself goes in as found, without the rounding of the way back.
        for (a, &i) in places.iter().enumerate() {
            after.mean[i] = learned.belief.mean[a];
            for (b, &j) in places.iter().enumerate() {
                after.covariance[i * size + j] = learned.belief.covariance[a * some + b];
            }
        }
        Ok(Learned { belief: after, ..learned })
    }

    /// The inverse of the covariance, row by row; nothing along a direction without extent.
    #[must_use]
    pub fn precision(&self) -> Vec<f64> {
        let size = self.mean.len();
        let root = lower_root(&self.covariance, size);
        let unit = |at: usize| -> Vec<f64> { (0..size).map(|i| f64::from(u8::from(i == at))).collect() };
        (0..size).flat_map(|at| solve(&root, size, &unit(at))).collect()
    }

    /// Columns of the spread: the covariance is the sum of their outer products. Directions without extent are left out.
    #[must_use]
    pub fn columns(&self) -> Vec<Vec<f64>> {
        let size = self.mean.len();
        let root = lower_root(&self.covariance, size);
        (0..size)
            .map(|j| (0..size).map(|i| root[i * size + j]).collect::<Vec<f64>>())
            .filter(|column| column.iter().any(|value| *value != 0.0))
            .collect()
    }
}

/// The search in units of the belief.
struct Search<'a, F> {
    belief: &'a Belief,
    /// Lower root of the covariance.
    root: Vec<f64>,
    /// How far each direction is still open, as the last derivatives say.
    reach: Vec<f64>,
    measurements: &'a [Measurement],
    predict: &'a mut F,
}

impl<'a, F: FnMut(&[f64], &mut [f64]) -> bool> Search<'a, F> {
    fn over(
        belief: &'a Belief,
        measurements: &'a [Measurement],
        predict: &'a mut F,
    ) -> Result<Self, BeliefError> {
        let bad = measurements
            .iter()
            .position(|one| !(one.value.is_finite() && one.deviation.is_finite() && one.deviation > 0.0));
        if let Some(at) = bad {
            return Err(BeliefError::NoMeasurement { at });
        }
        let size = belief.mean.len();
        let root = lower_root(&belief.covariance, size);
        Ok(Self { belief, root, reach: vec![1.0; size], measurements, predict })
    }

    /// Measured less predicted, in standard deviations of both together.
    fn surprise(&self, before: &Stand, at: usize) -> f64 {
        let measurement = &self.measurements[at];
        let predicted = measurement.deviation * dot(before.row(at), before.row(at)).sqrt();
        (measurement.value - before.predictions[at]) / predicted.root_sum_square(measurement.deviation)
    }

    fn numbers(&self, place: &[f64]) -> Vec<f64> {
        let size = place.len();
        (0..size)
            .map(|i| self.belief.mean[i] + (0..=i).map(|j| self.root[i * size + j] * place[j]).sum::<f64>())
            .collect()
    }

    /// Predictions at a place; none where they are no numbers.
    fn at(&mut self, place: &[f64]) -> Option<Vec<f64>> {
        let mut predictions = vec![0.0; self.measurements.len()];
        let numbers = self.numbers(place);
        let good = (self.predict)(&numbers, &mut predictions);
        (good && predictions.iter().all(|value| value.is_finite())).then_some(predictions)
    }

    /// Derivatives of the predictions by the place, in standard deviations of the measurements, row by row.
    fn slopes(&mut self, place: &[f64]) -> Option<Vec<f64>> {
        let size = place.len();
        let mut slopes = vec![0.0; self.measurements.len() * size];
        for j in 0..size {
            let step = DIFFERENCE * self.reach[j];
            let mut moved = place.to_vec();
            moved[j] = place[j] + step;
            let above = self.at(&moved)?;
            moved[j] = place[j] - step;
            let below = self.at(&moved)?;
            let mut squares = 1.0;
            for (i, measurement) in self.measurements.iter().enumerate() {
                let slope = (above[i] - below[i]) / (2.0 * step * measurement.deviation);
                slopes[i * size + j] = slope;
                squares += slope * slope;
            }
            self.reach[j] = 1.0 / squares.sqrt();
        }
        Some(slopes)
    }

    fn cost(&self, place: &[f64], predictions: &[f64]) -> f64 {
        let own: f64 = place.iter().map(|u| u * u).sum();
        own + self
            .measurements
            .iter()
            .zip(predictions)
            .map(|(m, p)| ((p - m.value) / m.deviation).powi(2))
            .sum::<f64>()
    }

    /// A place with its predictions and their derivatives.
    fn stand(&mut self, place: Vec<f64>) -> Option<Stand> {
        let predictions = self.at(&place)?;
        let slopes = self.slopes(&place)?;
        Some(Stand { place, predictions, slopes })
    }

    /// From a start downhill until a step no longer moves anything.
    fn settle(&mut self, mut stand: Stand) -> Result<Stand, BeliefError> {
        let size = stand.place.len();
        let mut damping = 0.0;
        for _ in 0..TURNS {
            let mut downhill: Vec<f64> = stand.place.iter().map(|u| -u).collect();
            for (i, measurement) in self.measurements.iter().enumerate() {
                let miss = (stand.predictions[i] - measurement.value) / measurement.deviation;
                for (down, slope) in downhill.iter_mut().zip(stand.row(i)) {
                    *down -= slope * miss;
                }
            }
            let mut curvature = stand.curvature();
            for j in 0..size {
                curvature[j * size + j] *= 1.0 + damping;
            }
            let step = solve(&lower_root(&curvature, size), size, &downhill);
            let longest = step.iter().fold(0.0_f64, |most, s| most.max(s.abs()));
            let next: Vec<f64> = stand.place.iter().zip(&step).map(|(u, s)| u + s).collect();
            let cost = self.cost(&stand.place, &stand.predictions);
            let better = self.at(&next).is_some_and(|found| self.cost(&next, &found) <= cost);
            if better {
                stand = self.stand(next).ok_or(BeliefError::NoPrediction)?;
                damping = if damping < 1e-6 { 0.0 } else { damping * 0.1 };
            } else {
                damping = (damping * 10.0).max(1e-3);
            }
            // A step that short, or that promises nothing, moves nothing, whether it went down by rounding or not.
            let promised = dot(&downhill, &step);
            if longest <= SETTLED || promised <= NOTHING * (1.0 + cost) || (!better && damping > 1e12) {
                return Ok(stand);
            }
        }
        Err(BeliefError::NotSettled { turns: TURNS })
    }

    fn learned(&self, before: &Stand, after: &Stand) -> Learned {
        let size = before.place.len();
        let root_of_curvature = lower_root(&after.curvature(), size);
        // Column by column of L A^-1 L', with L the root of the covariance believed before.
        let mut covariance = vec![0.0; size * size];
        for j in 0..size {
            let row: Vec<f64> = self.root[j * size..(j + 1) * size].to_vec();
            let solved = solve(&root_of_curvature, size, &row);
            for i in 0..size {
                covariance[i * size + j] = dot(&self.root[i * size..(i + 1) * size], &solved);
            }
        }
        let lessons = self
            .measurements
            .iter()
            .enumerate()
            .map(|(i, measurement)| {
                let (old, new) = (before.row(i), after.row(i));
                let deviation_before = measurement.deviation * dot(old, old).sqrt();
                let left = dot(new, &solve(&root_of_curvature, size, new));
                Lesson {
                    before: before.predictions[i],
                    after: after.predictions[i],
                    deviation_before,
                    deviation_after: measurement.deviation * left.max(0.0).sqrt(),
                    surprise: self.surprise(before, i),
                }
            })
            .collect();
        let share = (0..size)
            .map(|i| {
                let had = self.belief.covariance[i * size + i];
                if had > 0.0 { (1.0 - covariance[i * size + i] / had).clamp(0.0, 1.0) } else { 0.0 }
            })
            .collect();
        Learned { belief: Belief { mean: self.numbers(&after.place), covariance }, lessons, share }
    }
}

/// A place of the search with what is predicted there.
#[derive(Clone, Debug)]
struct Stand {
    place: Vec<f64>,
    predictions: Vec<f64>,
    /// Derivatives of the predictions by the place, in standard deviations of the measurements, row by row.
    slopes: Vec<f64>,
}

impl Stand {
    fn row(&self, of: usize) -> &[f64] {
        &self.slopes[of * self.place.len()..(of + 1) * self.place.len()]
    }

    /// Unit matrix plus the squared slopes.
    fn curvature(&self) -> Vec<f64> {
        let size = self.place.len();
        let mut matrix = vec![0.0; size * size];
        for row in self.slopes.chunks_exact(size.max(1)) {
            for (i, by_i) in row.iter().enumerate() {
                for (j, by_j) in row.iter().enumerate() {
                    matrix[i * size + j] += by_i * by_j;
                }
            }
        }
        for i in 0..size {
            matrix[i * size + i] += 1.0;
        }
        matrix
    }
}

fn dot(one: &[f64], other: &[f64]) -> f64 {
    one.iter().zip(other).map(|(a, b)| a * b).sum()
}

/// Lower root of a symmetric matrix that is never negative (Cholesky); a direction without extent gives a column of zeros.
fn lower_root(matrix: &[f64], size: usize) -> Vec<f64> {
    let mut root = vec![0.0_f64; size * size];
    for j in 0..size {
        let own: f64 = (0..j).map(|k| root[j * size + k].powi(2)).sum();
        let pivot = matrix[j * size + j] - own;
        if pivot <= 1e-14 * matrix[j * size + j] {
            continue;
        }
        let pivot = pivot.sqrt();
        root[j * size + j] = pivot;
        for i in j + 1..size {
            let shared: f64 = (0..j).map(|k| root[i * size + k] * root[j * size + k]).sum();
            root[i * size + j] = (matrix[i * size + j] - shared) / pivot;
        }
    }
    root
}

/// Solves `root root' x = right`; nothing along a direction without extent.
fn solve(root: &[f64], size: usize, right: &[f64]) -> Vec<f64> {
    let mut x = right.to_vec();
    let along = |pivot: f64, value: f64| if pivot == 0.0 { 0.0 } else { value / pivot };
    for i in 0..size {
        let known: f64 = (0..i).map(|j| root[i * size + j] * x[j]).sum();
        x[i] = along(root[i * size + i], x[i] - known);
    }
    for i in (0..size).rev() {
        let known: f64 = (i + 1..size).map(|j| root[j * size + i] * x[j]).sum();
        x[i] = along(root[i * size + i], x[i] - known);
    }
    x
}
