//! What runs say of a linear model, and the model of the runs: leverage, residuals each by its own scatter, prediction of what was left out,
//! lack of fit where runs were repeated, and a number by which models of different size compare.
//!
//! ```text
//! h_i = x_i' (X'X)^-1 x_i      PRESS = sum (e_i/(1 - h_i))^2      t_i = e_i / (s_(i) sqrt(1 - h_i))      s_(i)^2 = (S - e_i^2/(1 - h_i))/(n - p - 1)
//! lack of fit: F = ((S - S_pure)/(n - p - d)) / (S_pure/d)        AICc = n ln(S/n) + 2k + 2k(k + 1)/(n - k - 1),  k = p + 1
//! ```
//!
//! | symbol | meaning |
//! |---|---|
//! | S | sum of squared residuals of n runs and p terms |
//! | S_pure, d | squares of repeated runs about their means, and the degrees of freedom of these |
//! | t_i | residual of run i by the scatter of the others; beyond about 3 it stands apart |
//!
//! Source: Allen, Technometrics 16 (1974) 125 (PRESS); Belsley, Kuh and Welsch, Regression Diagnostics (1980); Hurvich and Tsai, Biometrika 76
//! (1989) 297, all from memory. Cases: `tests/published/mixtures.toml`; `tests/cross/analysis.toml`, by another program.

use crate::distribution::{fisher_beyond, student_beyond};
use crate::elementary::Elementary as _;
use crate::exact::{sum, sum_of_squares};
use crate::regression::{Regression, RegressionError, mean, number};

/// A run whose leverage leaves less than this has a term to itself: its residual is nothing whatever was measured.
const ALONE: f64 = 1e-9;
/// Settings that differ by no more than this are the same.
const SAME: f64 = 1e-9;
/// A term takes part in another where its share of it is above this.
const TAKES_PART: f64 = 1e-7;

/// What repeated runs say.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Repeats {
    /// Squares of repeated runs about their means.
    pub pure: f64,
    /// Their degrees of freedom.
    pub pure_degrees: usize,
    /// What is left of the residuals.
    pub lack: f64,
    /// Its degrees of freedom; none, and nothing can be said of it.
    pub lack_degrees: usize,
}

impl Repeats {
    /// Standard deviation of one run about its mean.
    #[must_use]
    pub fn scatter(&self) -> f64 {
        (self.pure / number(self.pure_degrees)).sqrt()
    }

    /// Mean square of the misfit over that of repeated runs; `None` where no settings are left to see a misfit by.
    #[must_use]
    pub fn ratio(&self) -> Option<f64> {
        (self.lack_degrees > 0)
            .then(|| (self.lack / number(self.lack_degrees)) / (self.pure / number(self.pure_degrees)))
    }

    /// Probability of such a ratio or a larger one where the model fits.
    #[must_use]
    pub fn beyond(&self) -> Option<f64> {
        self.ratio().map(|ratio| fisher_beyond(ratio, number(self.lack_degrees), number(self.pure_degrees)))
    }
}

/// A fitted model and what its runs say of it.
#[derive(Clone, Debug, PartialEq)]
pub struct Analysis {
    /// The fit.
    pub fit: Regression,
    /// Leverage of every run.
    pub leverages: Vec<f64>,
    /// What repeated runs say; absent where none were repeated.
    pub repeats: Option<Repeats>,
}

impl Analysis {
    /// Fits. `settings`: what each run was made at, by which repeated runs are known; `rows`: its terms.
    ///
    /// # Errors
    /// [`RegressionError`].
    pub fn of(settings: &[Vec<f64>], rows: &[Vec<f64>], observed: &[f64]) -> Result<Self, RegressionError> {
        let fit = Regression::fit(rows, observed)?;
        let leverages = rows.iter().map(|row| fit.leverage(row).min(1.0)).collect();
        let groups = repeated(settings);
        let pure_degrees = observed.len() - groups.len();
        let repeats = (pure_degrees > 0).then(|| {
            let pure = sum(groups.iter().map(|group| {
                let values: Vec<f64> = group.iter().map(|run| observed[*run]).collect();
                let middle = mean(&values);
                sum_of_squares(values.iter().map(|value| value - middle))
            }));
            Repeats {
                pure,
                pure_degrees,
                lack: (fit.residual_sum - pure).max(0.0),
                lack_degrees: fit.degrees.saturating_sub(pure_degrees),
            }
        });
        Ok(Self { fit, leverages, repeats })
    }

    fn left(&self, run: usize) -> Option<f64> {
        Some(1.0 - self.leverages[run]).filter(|left| *left > ALONE)
    }

    /// Sum of the squares by which every run is missed when it is left out; `None` where one has a term to itself.
    #[must_use]
    pub fn press(&self) -> Option<f64> {
        let misses: Option<Vec<f64>> =
            (0..self.leverages.len()).map(|run| Some(self.fit.residuals[run] / self.left(run)?)).collect();
        Some(sum_of_squares(misses?))
    }

    /// Residual of a run by the scatter of the others; `None` where it has a term to itself or nothing tells the scatter.
    #[must_use]
    pub fn apart(&self, run: usize) -> Option<f64> {
        apart(self.fit.residuals[run], self.leverages[run], self.fit.residual_sum, self.fit.degrees)
    }

    /// Probability that the furthest of so many runs stands so far apart by chance.
    #[must_use]
    pub fn chance(&self, run: usize) -> Option<f64> {
        self.apart(run).map(|apart| chance(apart, self.leverages.len(), self.fit.degrees))
    }

    /// Share of the spread about the mean that the model explains.
    #[must_use]
    pub fn explained(&self) -> f64 {
        self.fit.explained(true)
    }

    /// The same by mean squares, so that a term that brings nothing does not raise it.
    #[must_use]
    pub fn adjusted(&self) -> Option<f64> {
        let total = self.fit.total_sum / number(self.leverages.len().checked_sub(1).filter(|n| *n > 0)?);
        let variance = self.fit.variance()?;
        (total > 0.0).then(|| 1.0 - variance / total)
    }

    /// Share of the spread that the model foretells of runs it was not shown.
    #[must_use]
    pub fn foretold(&self) -> Option<f64> {
        let press = self.press()?;
        (self.fit.total_sum > 0.0).then(|| 1.0 - press / self.fit.total_sum)
    }

    /// Akaike's criterion with its correction for few runs; the smaller, the better. `None` where the runs are too few for it, or nothing is
    /// left to explain.
    #[must_use]
    pub fn aicc(&self) -> Option<f64> {
        let (runs, size) = (number(self.leverages.len()), number(self.fit.coefficients.len() + 1));
        let left = runs - size - 1.0;
        (left > 0.0 && self.fit.residual_sum > 0.0).then(|| {
            runs * (self.fit.residual_sum / runs).log_e() + 2.0 * size + 2.0 * size * (size + 1.0) / left
        })
    }
}

/// A residual by the scatter of the others: `sum` of squared residuals, with so many `degrees` of freedom.
#[must_use]
pub fn apart(residual: f64, leverage: f64, sum: f64, degrees: usize) -> Option<f64> {
    let left = Some(1.0 - leverage).filter(|left| *left > ALONE)?;
    let degrees = degrees.checked_sub(1).filter(|degrees| *degrees > 0)?;
    let variance = (sum - residual * residual / left) / number(degrees);
    (variance > 0.0).then(|| residual / (variance * left).sqrt())
}

/// Probability that the furthest of so many stands so far [`apart`] by chance, the number of those that could have been it allowed for.
#[must_use]
pub fn chance(apart: f64, count: usize, degrees: usize) -> f64 {
    (2.0 * number(count) * student_beyond(apart.abs(), number(degrees.saturating_sub(1)))).min(1.0)
}

/// Runs by what they were made at.
fn repeated(settings: &[Vec<f64>]) -> Vec<Vec<usize>> {
    let mut groups: Vec<Vec<usize>> = Vec::new();
    for (run, setting) in settings.iter().enumerate() {
        let same = |group: &Vec<usize>| {
            settings[group[0]].iter().zip(setting).all(|(one, other)| (one - other).abs() <= SAME)
        };
        match groups.iter_mut().find(|group| same(group)) {
            Some(group) => group.push(run),
            None => groups.push(vec![run]),
        }
    }
    groups
}

/// Which of the terms before it a term is made of, where runs do not tell it apart from them; places from zero.
#[must_use]
pub fn made_of(rows: &[Vec<f64>], term: usize) -> Vec<usize> {
    let before: Vec<Vec<f64>> = rows.iter().map(|row| row[..term].to_vec()).collect();
    let own: Vec<f64> = rows.iter().map(|row| row[term]).collect();
    match Regression::fit(&before, &own) {
        Ok(fit) => (0..term).filter(|place| fit.coefficients[*place].abs() > TAKES_PART).collect(),
        Err(_) => Vec::new(),
    }
}
