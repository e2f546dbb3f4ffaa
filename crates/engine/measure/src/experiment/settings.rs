//! Terms of models over a blend and the settings it is made at.
//!
//! ```text
//! added       f(x) + g(z)             crossed     f(x) (1 + g(z))
//! g(z)        sum c_k z_k  (+ sum c_kl z_k z_l  (+ sum c_kk z_k^2))
//! ```
//!
//! | symbol | meaning |
//! |---|---|
//! | f | a model of the blend, [`Model`]; a constant where there are no parts |
//! | z | settings, coded so that the range studied runs from -1 to 1 |
//!
//! Source: Cornell, Experiments with Mixtures (process variables), from memory. Cases: `tests/published/mixtures.toml`,
//! `tests/cross/analysis.toml`.

use super::mixture::Model;
use serde::{Deserialize, Serialize};

/// Which terms the settings have.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Process {
    /// Every setting by itself.
    #[default]
    Linear,
    /// And every two together.
    Pairs,
    /// And every one squared.
    Quadratic,
}

/// How settings act beside the blend.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Joined {
    /// The same for every blend.
    #[default]
    Added,
    /// Differently for every blend.
    Crossed,
}

/// The terms of a model over `parts` shares and `settings` coded settings.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Terms {
    /// Parts; none, and the model has a constant instead.
    pub parts: usize,
    /// Settings.
    pub settings: usize,
    /// Terms of the blend.
    pub blend: Model,
    /// Terms of the settings.
    pub process: Process,
    /// How they are put together.
    pub joined: Joined,
}

impl Terms {
    /// The terms of a run: shares of the parts, then coded settings.
    #[must_use]
    pub fn of(&self, run: &[f64]) -> Vec<f64> {
        let (blend, settings) = run.split_at(self.parts.min(run.len()));
        let mut terms = if self.parts == 0 { vec![1.0] } else { self.blend.terms(blend) };
        let of_settings = self.polynomial(settings);
        match self.joined {
            Joined::Added => terms.extend(of_settings),
            Joined::Crossed => {
                let alone = terms.clone();
                terms.extend(of_settings.iter().flat_map(|z| alone.iter().map(move |x| z * x)));
            }
        }
        terms
    }

    /// How many there are.
    #[must_use]
    pub fn count(&self) -> usize {
        self.of(&vec![0.0; self.parts + self.settings]).len()
    }

    /// Their names by those of parts and settings.
    #[must_use]
    pub fn names(&self, labels: &[String]) -> Vec<String> {
        let (parts, settings) = labels.split_at(self.parts.min(labels.len()));
        let mut names =
            if self.parts == 0 { vec!["constant".to_owned()] } else { self.blend.named(parts, " × ") };
        let mut of_settings: Vec<String> = settings.to_vec();
        if self.process != Process::Linear {
            of_settings
                .extend(pairs(settings.len()).map(|(i, j)| format!("{} × {}", settings[i], settings[j])));
        }
        if self.process == Process::Quadratic {
            of_settings.extend(settings.iter().map(|name| format!("{name}²")));
        }
        match self.joined {
            Joined::Crossed if self.parts > 0 => {
                let alone = names.clone();
                names
                    .extend(of_settings.iter().flat_map(|z| alone.iter().map(move |x| format!("{x} × {z}"))));
            }
            _ => names.extend(of_settings),
        }
        names
    }

    fn polynomial(&self, z: &[f64]) -> Vec<f64> {
        let mut terms = z.to_vec();
        if self.process != Process::Linear {
            terms.extend(pairs(z.len()).map(|(i, j)| z[i] * z[j]));
        }
        if self.process == Process::Quadratic {
            terms.extend(z.iter().map(|z| z * z));
        }
        terms
    }
}

fn pairs(count: usize) -> impl Iterator<Item = (usize, usize)> {
    (0..count).flat_map(move |i| (i + 1..count).map(move |j| (i, j)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_term_has_its_name() {
        let labels: Vec<String> = ["a", "b", "c", "warm", "fast"].map(str::to_owned).to_vec();
        for parts in [0, 3] {
            let labels = &labels[3 - parts..];
            for blend in [Model::Linear, Model::Quadratic, Model::SpecialCubic, Model::FullCubic] {
                for process in [Process::Linear, Process::Pairs, Process::Quadratic] {
                    for joined in [Joined::Added, Joined::Crossed] {
                        let terms = Terms { parts, settings: 2, blend, process, joined };
                        assert_eq!(terms.names(labels).len(), terms.count(), "{terms:?}");
                    }
                }
            }
        }
        let crossed = Terms {
            parts: 3,
            settings: 1,
            blend: Model::Quadratic,
            process: Process::Linear,
            joined: Joined::Crossed,
        };
        let names = crossed.names(&labels[..4]);
        assert_eq!((names[3].as_str(), names[9].as_str()), ("a × b", "a × b × warm"));
        let run = crossed.of(&[0.5, 0.25, 0.25, -1.0]);
        assert_eq!((run[3], run[9]), (0.125, -0.125));
    }
}
