//! Readings of a balance against its certificate: the error of indication load by load, and a net weight from two readings.
//!
//! ```text
//! m       = R - E(R)                                   E by straight lines between the loads of the certificate
//! u(R)^2  = s^2 + 2 d^2/12 + (e R / (2 sqrt 3))^2      u(E) = U(R)/k, U likewise
//! net     = (R2 - E(R2)) - (R1 - E(R1))                u(net)^2 = s^2 + 2 d^2/12 + (e net / (2 sqrt 3))^2 + u(E1)^2 + u(E2)^2 + 2 (L/sqrt 3)^2
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | R, R1, R2 | reading; empty vessel, full vessel | g |
//! | E, U, k | error of indication, its expanded uncertainty, coverage factor | g, g, 1 |
//! | s, d, e, L | repeatability, division, eccentricity per load, linearity, as in [`super`] | g, g, g/g, g |
//!
//! A reading counts both roundings (zero and load). Beyond the last load of the certificate the end stands; below the first the error goes to
//! nothing at no load, the uncertainty stands. The two corrections of a net weight are taken as independent, although one set of weights
//! stands behind both: the larger answer. Source: `masscor`. Cases: `tests/published/weighing.toml`.

use super::Balance;
use crate::uncertainty::Scatter;
use serde::{Deserialize, Serialize};

/// One load of a calibration certificate.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Indication {
    /// Load, g.
    pub load_g: f64,
    /// Error of indication there (shown less true), g.
    pub error_g: f64,
    /// Its expanded uncertainty, g.
    pub expanded_g: f64,
}

/// A mass with its standard uncertainty.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Weighed {
    /// Conventional mass, g.
    pub mass_g: f64,
    /// Standard uncertainty, g.
    pub standard_g: f64,
}

/// Between the loads of a certificate: error and expanded uncertainty at a reading, g.
fn between(points: &[Indication], reading_g: f64) -> (f64, f64) {
    let Some((first, last)) = points.first().zip(points.last()) else { return (0.0, 0.0) };
    if reading_g >= last.load_g {
        return (last.error_g, last.expanded_g);
    }
    let above = points.partition_point(|point| point.load_g <= reading_g);
    if above == 0 {
        let share = if first.load_g > 0.0 { reading_g / first.load_g } else { 1.0 };
        return (first.error_g * share.max(0.0), first.expanded_g);
    }
    let (low, high) = (&points[above - 1], &points[above]);
    let share = (reading_g - low.load_g) / (high.load_g - low.load_g);
    let along = |from: f64, to: f64| from + share * (to - from);
    (along(low.error_g, high.error_g), along(low.expanded_g, high.expanded_g))
}

impl Balance {
    /// Error of indication at a reading and its standard uncertainty, g; nothing without a certificate.
    #[must_use]
    pub fn error_of_indication(&self, reading_g: f64) -> (f64, f64) {
        let Some(certificate) = &self.record.certificate else { return (0.0, 0.0) };
        if certificate.at.is_empty() {
            return (0.0, certificate.expanded_g / certificate.coverage_factor);
        }
        let (error, expanded) = between(&certificate.at, reading_g);
        (error, expanded / certificate.coverage_factor)
    }

    /// The conventional mass of one load from a reading against a clean zero.
    #[must_use]
    pub fn one_reading(&self, reading_g: f64) -> Weighed {
        let (error, own) = self.error_of_indication(reading_g);
        let variance = self.reading_variance_g2(reading_g) + own * own;
        Weighed { mass_g: reading_g - error, standard_g: variance.sqrt() }
    }

    /// A net weight from the readings of the empty and of the full vessel.
    #[must_use]
    pub fn two_readings(&self, empty_g: f64, full_g: f64) -> Weighed {
        let ((error_empty, own_empty), (error_full, own_full)) =
            (self.error_of_indication(empty_g), self.error_of_indication(full_g));
        let net = full_g - empty_g;
        let linearity = self.record.certificate.as_ref().and_then(|one| one.linearity_g).unwrap_or(0.0);
        let variance = self.reading_variance_g2(net)
            + own_empty * own_empty
            + own_full * own_full
            + 2.0 * linearity * linearity / 3.0;
        Weighed { mass_g: net - (error_full - error_empty), standard_g: variance.sqrt() }
    }

    /// How a net weight scatters, g; its standard deviation is [`Balance::standard_uncertainty_g`]. Linearity counts as normal here, the
    /// errors permitted by a class as rectangular.
    #[must_use]
    pub fn scatter(&self, net_g: f64) -> Scatter {
        let eccentricity = self.record.certificate.as_ref().and_then(|one| one.eccentricity_per_load);
        let permitted = self.class().map_or(0.0, |class| class.most_g(net_g));
        let rectangular = 0.5 * eccentricity.unwrap_or(0.0) * net_g + permitted;
        let limits = Scatter { normal: 0.0, triangular: self.readability_g, rectangular };
        let normal = self.standard_uncertainty_g(net_g).powi(2) - limits.standard_deviation().powi(2);
        Scatter { normal: normal.max(0.0).sqrt(), ..limits }
    }

    /// `s^2 + 2 d^2/12` and the corner-load part, g squared.
    fn reading_variance_g2(&self, load_g: f64) -> f64 {
        let (s, d) = (self.repeatability_g(), self.readability_g);
        let corner = self.record.certificate.as_ref().map_or(0.0, |one| one.eccentricity_g2(load_g));
        s * s + 2.0 * d * d / 12.0 + corner
    }
}
