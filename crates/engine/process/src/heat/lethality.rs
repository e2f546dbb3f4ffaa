//! What a hold does to microbes: lethal units and log reductions over a temperature record.
//!
//! ```text
//! dN/dt = -ln(10) N / D(T)         log reduction = integral of dt / D(T)
//! log10 D(T) = log10 D_r - (T - T_r)/z
//! units = integral of 10^((T - T_r)/z) dt                          minutes at T_r that do the same
//! over a straight piece from T1 to T2:  dt (L2 - L1) / ln(L2/L1)        with the rates L at its ends: exact, not the mean of the rates
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | D, z | time for one tenth to survive, temperature step that makes it a tenth | min, K |
//! | T_r | temperature D or the unit refers to | C |
//! | L | lethal rate | - |
//!
//! Range: wet heat in dilute aqueous liquids at temperatures near those where D was measured; between several measured D straight in log10 D
//! over T, beyond them by z. Oil, powders and little water protect microbes by powers of ten: refused or noted. Reductions above
//! 12 are not told. Case: `tests/cross/lethality.toml`.

mod reading;

pub use reading::{Asked, LethalityReading, Medium, OrganismReading, UnitReading, lethality};

use super::record::{Piece, TemperatureRecord};
use levigate_measure::elementary::Elementary as _;
use serde::{Deserialize, Serialize};

/// Most log reductions that are told: nobody counts beyond.
pub const MOST_TOLD: f64 = 12.0;

/// What kind of cell.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Kind {
    /// Growing cells of bacteria, yeasts and moulds.
    Vegetative,
    /// Spores of yeasts and moulds.
    FungalSpores,
    /// Spores of bacteria.
    BacterialSpores,
}

impl Kind {
    /// In words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Vegetative => "vegetative",
            Self::FungalSpores => "fungal spores",
            Self::BacterialSpores => "bacterial spores",
        }
    }
}

/// Times for one tenth to survive at a temperature, min.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct DValue {
    /// Temperature, C.
    pub at_c: f64,
    /// Least reported, min.
    pub least_min: f64,
    /// Most reported, min.
    pub most_min: f64,
}

/// `[[heat_resistance]]`: how an organism dies of heat.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct HeatResistance {
    /// Key.
    pub key: String,
    /// Its name.
    pub organism: String,
    /// What kind of cell.
    pub kind: Kind,
    /// What it was heated in.
    pub medium: String,
    /// D by rising temperature.
    pub d: Vec<DValue>,
    /// Least and most z, K.
    pub z_k: [f64; 2],
    /// The figures hold below this pH only.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub below_ph: Option<f64>,
    /// Source of D.
    pub source: String,
    /// Source of z.
    pub z_source: String,
    /// Remark.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

/// Which end of what is reported.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Resistance {
    /// The most resistant.
    Most,
    /// The middle: geometric mean of D, mean of z.
    Middle,
    /// The least resistant.
    Least,
}

impl HeatResistance {
    /// Temperatures D was measured at, C.
    #[must_use]
    pub fn measured_c(&self) -> [f64; 2] {
        match (self.d.first(), self.d.last()) {
            (Some(first), Some(last)) => [first.at_c, last.at_c],
            _ => [f64::NAN; 2],
        }
    }

    /// The curve of D over temperature.
    #[must_use]
    pub fn curve(&self, of: Resistance) -> DeathCurve {
        let nodes = self.d.iter().map(|d| {
            let ln_d = match of {
                Resistance::Most => d.most_min.log_e(),
                Resistance::Middle => 0.5 * (d.least_min.log_e() + d.most_min.log_e()),
                Resistance::Least => d.least_min.log_e(),
            };
            (d.at_c, ln_d)
        });
        let [least, most] = self.z_k;
        // A small z makes them tough below the measured temperatures, a large one above.
        let (z_below, z_above) = match of {
            Resistance::Most => (least, most),
            Resistance::Middle => (0.5 * (least + most), 0.5 * (least + most)),
            Resistance::Least => (most, least),
        };
        DeathCurve { nodes: nodes.collect(), z_below, z_above }
    }
}

/// D over temperature: straight in log D between its nodes, by z beyond them.
#[derive(Clone, Debug, PartialEq)]
pub struct DeathCurve {
    nodes: Vec<(f64, f64)>,
    z_below: f64,
    z_above: f64,
}

/// A log reduction and how much of it fell outside the temperatures D was measured at.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reduction {
    /// Log reduction.
    pub log10: f64,
    /// Part of it below the lowest measured temperature.
    pub below: f64,
    /// Part of it above the highest.
    pub above: f64,
}

impl DeathCurve {
    /// Natural logarithm of D in minutes.
    fn ln_d(&self, temperature_c: f64) -> f64 {
        const LN_10: f64 = core::f64::consts::LN_10;
        let (Some(first), Some(last)) = (self.nodes.first(), self.nodes.last()) else { return f64::NAN };
        if temperature_c <= first.0 {
            return first.1 + (first.0 - temperature_c) * LN_10 / self.z_below;
        }
        if temperature_c >= last.0 {
            return last.1 - (temperature_c - last.0) * LN_10 / self.z_above;
        }
        let pair = self.nodes.windows(2).find(|pair| temperature_c <= pair[1].0);
        pair.map_or(f64::NAN, |pair| {
            let share = (temperature_c - pair[0].0) / (pair[1].0 - pair[0].0);
            pair[0].1 + share * (pair[1].1 - pair[0].1)
        })
    }

    /// D at a temperature, min.
    #[must_use]
    pub fn d_min(&self, temperature_c: f64) -> f64 {
        self.ln_d(temperature_c).exp_e()
    }

    /// The reduction over a record.
    #[must_use]
    pub fn reduction(&self, record: &TemperatureRecord) -> Reduction {
        let nodes: Vec<f64> = self.nodes.iter().map(|node| node.0).collect();
        let (Some(&lowest), Some(&highest)) = (nodes.first(), nodes.last()) else {
            return Reduction { log10: f64::NAN, below: f64::NAN, above: f64::NAN };
        };
        let (mut below, mut inside, mut above) = (0.0, 0.0, 0.0);
        for piece in record.pieces() {
            for [low, high] in windows(&nodes) {
                let part = piece.rate_integral_min(low, high, |temperature| -self.ln_d(temperature));
                // A hold exactly at a measured temperature is no extrapolation.
                let at = piece.temperatures_c[0];
                let flat = piece.temperatures_c[0] == piece.temperatures_c[1];
                if high <= lowest && !(flat && at == lowest) {
                    below += part;
                } else if low >= highest && !(flat && at == highest) {
                    above += part;
                } else {
                    inside += part;
                }
            }
        }
        Reduction { log10: below + inside + above, below, above }
    }
}

/// The windows between places, from below the first to above the last.
fn windows(places: &[f64]) -> impl Iterator<Item = [f64; 2]> + '_ {
    let lows = core::iter::once(f64::NEG_INFINITY).chain(places.iter().copied());
    let highs = places.iter().copied().chain(core::iter::once(f64::INFINITY));
    lows.zip(highs).map(|(low, high)| [low, high])
}

impl Piece {
    /// Integral over time (min) of the exponential of what is linear in temperature within a window.
    fn rate_integral_min(&self, low_c: f64, high_c: f64, ln_rate: impl Fn(f64) -> f64) -> f64 {
        let minutes = self.between(low_c, high_c) / 60.0;
        if minutes <= 0.0 {
            return 0.0;
        }
        let [start, end] = self.temperatures_c.map(|temperature| temperature.clamp(low_c, high_c));
        let (first, last) = (ln_rate(start), ln_rate(end));
        minutes * first.exp_e() * mean_of_exponential(last - first)
    }
}

/// `(exp(x) - 1)/x`, the mean of an exponential along a line.
fn mean_of_exponential(x: f64) -> f64 {
    if x.abs() < 1e-3 {
        1.0 + x / 2.0 * (1.0 + x / 3.0 * (1.0 + x / 4.0 * (1.0 + x / 5.0)))
    } else {
        (x.exp_e() - 1.0) / x
    }
}

/// `[[lethal_unit]]`: a unit of heat treatment, minutes at a temperature that do the same.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LethalUnit {
    /// Key.
    pub key: String,
    /// Its name.
    pub name: String,
    /// Temperature, C.
    pub reference_c: f64,
    /// Temperature step that makes it ten times as much, K.
    pub z_k: f64,
    /// What it is used for.
    pub used_for: String,
    /// Source.
    pub source: String,
}

impl LethalUnit {
    /// Units over a record, min.
    #[must_use]
    pub fn over(&self, record: &TemperatureRecord) -> f64 {
        let ln_rate =
            |temperature: f64| (temperature - self.reference_c) * core::f64::consts::LN_10 / self.z_k;
        record.pieces().map(|piece| piece.rate_integral_min(f64::NEG_INFINITY, f64::INFINITY, ln_rate)).sum()
    }
}
