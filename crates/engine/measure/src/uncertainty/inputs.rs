//! The inputs of a model: their names, what is known of each, and how they hang together.

use super::UncertaintyError;
use super::distribution::Distribution;
use super::stream::{Normals, Stream, source};

/// An estimate with its standard uncertainty, as the law of propagation takes it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Estimate {
    /// Value.
    pub value: f64,
    /// Standard uncertainty.
    pub standard_uncertainty: f64,
    /// Degrees of freedom of the uncertainty; infinite where it is taken as known.
    pub degrees: f64,
}

impl Estimate {
    /// An estimate whose uncertainty is taken as known.
    #[must_use]
    pub fn new(value: f64, standard_uncertainty: f64) -> Self {
        Self { value, standard_uncertainty, degrees: f64::INFINITY }
    }

    /// With the degrees of freedom of its uncertainty.
    #[must_use]
    pub fn degrees(self, degrees: f64) -> Self {
        Self { degrees, ..self }
    }
}

/// Correlation coefficients between inputs; those not named are not correlated.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Correlation {
    pairs: Vec<(usize, usize, f64)>,
}

impl Correlation {
    /// No correlation.
    #[must_use]
    pub fn none() -> Self {
        Self::default()
    }

    /// With a coefficient between two inputs, by their places from 0. A later one for the same pair stands.
    #[must_use]
    pub fn between(mut self, one: usize, other: usize, coefficient: f64) -> Self {
        let (one, other) = (one.min(other), one.max(other));
        self.pairs.retain(|(a, b, _)| (*a, *b) != (one, other));
        self.pairs.push((one, other, coefficient));
        self
    }

    /// Pairs with their coefficients.
    #[must_use]
    pub fn pairs(&self) -> &[(usize, usize, f64)] {
        &self.pairs
    }

    /// # Errors
    /// A coefficient beyond one, a pair of one input with itself, or an input that is not there.
    pub fn check(&self, count: usize) -> Result<(), UncertaintyError> {
        for &(one, other, coefficient) in &self.pairs {
            if other >= count {
                return Err(UncertaintyError::NoSuchInput { place: other, count });
            }
            if one == other || !(-1.0..=1.0).contains(&coefficient) {
                return Err(UncertaintyError::Parameter {
                    what: "coefficient of correlation",
                    value: coefficient,
                });
            }
        }
        Ok(())
    }

    /// Inputs that are correlated with any other, and the lower triangle `L` with `L L^T` their matrix, row by row.
    fn triangle(&self) -> Result<(Vec<usize>, Vec<f64>), UncertaintyError> {
        let mut members: Vec<usize> = self.pairs.iter().flat_map(|(one, other, _)| [*one, *other]).collect();
        members.sort_unstable();
        members.dedup();
        let size = members.len();
        let mut matrix = vec![0.0; size * size];
        for k in 0..size {
            matrix[k * size + k] = 1.0;
        }
        for &(one, other, coefficient) in &self.pairs {
            let place = |input| members.binary_search(&input).unwrap_or(0);
            let (a, b) = (place(one), place(other));
            matrix[a * size + b] = coefficient;
            matrix[b * size + a] = coefficient;
        }
        for column in 0..size {
            for row in column..size {
                let before: f64 =
                    (0..column).map(|k| matrix[row * size + k] * matrix[column * size + k]).sum();
                let value = matrix[row * size + column] - before;
                if row == column {
                    // A coefficient of exactly one leaves nothing over.
                    if value < -1e-9 || value.is_nan() {
                        return Err(UncertaintyError::Correlations);
                    }
                    matrix[row * size + row] = value.max(0.0).sqrt();
                } else {
                    let head = matrix[column * size + column];
                    matrix[row * size + column] = if head > 1e-7 { value / head } else { 0.0 };
                }
            }
        }
        Ok((members, matrix))
    }
}

/// Named inputs with their distributions.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Inputs {
    names: Vec<String>,
    distributions: Vec<Distribution>,
    correlation: Correlation,
    joint: Option<Joint>,
}

/// Correlated inputs: their places, and their triangle row by row.
#[derive(Clone, Debug, PartialEq)]
struct Joint {
    members: Vec<usize>,
    triangle: Vec<f64>,
}

impl Inputs {
    /// The inputs, checked.
    ///
    /// # Errors
    /// [`UncertaintyError`] for impossible parameters, a name used twice, correlations that cannot be.
    pub fn new<N: Into<String>>(
        named: impl IntoIterator<Item = (N, Distribution)>,
        correlation: Correlation,
    ) -> Result<Self, UncertaintyError> {
        let (names, distributions): (Vec<String>, Vec<Distribution>) =
            named.into_iter().map(|(name, distribution)| (name.into(), distribution)).unzip();
        let mut sorted: Vec<&String> = names.iter().collect();
        sorted.sort();
        if let Some(pair) = sorted.windows(2).find(|pair| pair[0] == pair[1]) {
            return Err(UncertaintyError::NamedTwice { name: pair[0].clone() });
        }
        for distribution in &distributions {
            distribution.check()?;
        }
        correlation.check(names.len())?;
        let joint = if correlation.pairs().is_empty() {
            None
        } else {
            let (members, triangle) = correlation.triangle()?;
            Some(Joint { members, triangle })
        };
        Ok(Self { names, distributions, correlation, joint })
    }

    /// Names in order.
    #[must_use]
    pub fn names(&self) -> &[String] {
        &self.names
    }

    /// Distributions in order.
    #[must_use]
    pub fn distributions(&self) -> &[Distribution] {
        &self.distributions
    }

    /// Correlations.
    #[must_use]
    pub fn correlation(&self) -> &Correlation {
        &self.correlation
    }

    /// Means and standard deviations, as the law of propagation takes them. Degrees of freedom of a t count as its own.
    #[must_use]
    pub fn estimates(&self) -> Vec<Estimate> {
        let one = |distribution: &Distribution| match *distribution {
            Distribution::Student { mean, scale, degrees } => Estimate::new(mean, scale).degrees(degrees),
            other => Estimate::new(other.mean(), other.standard_deviation()),
        };
        self.distributions.iter().map(one).collect()
    }

    /// # Errors
    /// [`UncertaintyError::CorrelatedNotNormal`].
    pub(super) fn can_be_drawn(&self) -> Result<(), UncertaintyError> {
        let Some(joint) = &self.joint else { return Ok(()) };
        let other = joint
            .members
            .iter()
            .find(|place| !matches!(self.distributions[**place], Distribution::Normal { .. }));
        other.map_or(Ok(()), |place| {
            Err(UncertaintyError::CorrelatedNotNormal { name: self.names[*place].clone() })
        })
    }

    /// Fills a column for every input with the draws of one chunk.
    pub(super) fn fill(&self, seed: u64, chunk: u64, normals: &Normals, columns: &mut [Vec<f64>]) {
        for ((name, distribution), column) in self.names.iter().zip(&self.distributions).zip(&mut *columns) {
            let mut stream = Stream::of(seed, source(name), chunk);
            distribution.fill(&mut stream, normals, column);
        }
        if let Some(joint) = &self.joint {
            self.join(joint, columns);
        }
    }

    /// Turns independent normals into correlated ones, the last first, so that each still finds those before it as drawn.
    fn join(&self, joint: &Joint, columns: &mut [Vec<f64>]) {
        let size = joint.members.len();
        let normal = |place: usize| match self.distributions[place] {
            Distribution::Normal { mean, sd } => (mean, sd),
            _ => (0.0, 0.0),
        };
        let count = columns.first().map_or(0, Vec::len);
        for row in (0..size).rev() {
            let own = joint.members[row];
            let (mean, sd) = normal(own);
            let mut joined = vec![mean; count];
            for k in 0..=row {
                let (other, factor) = (joint.members[k], joint.triangle[row * size + k]);
                let (centre, scale) = normal(other);
                if scale <= 0.0 || sd <= 0.0 {
                    continue;
                }
                let factor = factor * sd / scale;
                for (value, drawn) in joined.iter_mut().zip(&columns[other]) {
                    *value += factor * (drawn - centre);
                }
            }
            columns[own] = joined;
        }
    }
}
