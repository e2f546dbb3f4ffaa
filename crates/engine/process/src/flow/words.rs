//! Words of a brief as bands of numbers. Which numbers a word means is a convention of `data/flow/words.toml`, laid over by the laboratory's own;
//! here it is only asked whether a liquid meets them.

use super::band::{Band, Holds, Spread};
use super::dose::Patch;
use super::film::{GRAVITY_M_S2, Incline};
use super::heap::Heap;
use super::levelling::Marks;
use super::liquid::Liquid;
use serde::{Deserialize, Serialize};

/// A word.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Word {
    /// Key.
    pub key: String,
    /// The word as people say it.
    pub words: String,
    /// What is meant, in one sentence.
    pub means: String,
    /// The bands; all of them must hold.
    pub band: Vec<WordBand>,
    /// Why these numbers.
    pub reason: String,
    /// Source key; `convention` where it is one.
    pub source: String,
}

/// A quantity between limits.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WordBand {
    /// The quantity and its conditions.
    pub of: Quantity,
    /// At least, in the unit of the quantity.
    #[serde(default)]
    pub low: Option<f64>,
    /// At most.
    #[serde(default)]
    pub high: Option<f64>,
}

/// What a word speaks of.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub enum Quantity {
    /// Viscosity at a shear rate, mPa s.
    Viscosity {
        /// Shear rate, 1/s.
        shear_rate: f64,
    },
    /// Yield stress, Pa.
    YieldStress {},
    /// How many times the viscosity falls from one shear rate to another.
    Thinning {
        /// Lower shear rate, 1/s.
        from: f64,
        /// Higher shear rate, 1/s.
        to: f64,
    },
    /// How far a dose runs, mm.
    Run {
        /// Dose, mL.
        dose_ml: f64,
        /// Side of the patch it lies as, mm.
        patch_mm: f64,
        /// Tilt against the horizontal, degrees.
        angle_deg: f64,
        /// Time, s.
        time_s: f64,
    },
    /// How high a dose stands, mm.
    Heap {
        /// Dose, mL.
        dose_ml: f64,
    },
    /// Time until a tenth of the marks in a film is left, s.
    Levelling {
        /// Thickness of the film, um.
        film_um: f64,
        /// Distance of the marks, mm.
        wavelength_mm: f64,
        /// Half their height, um.
        amplitude_um: f64,
        /// Surface tension, mN/m.
        surface_tension_mn_m: f64,
    },
}

impl Quantity {
    /// Unit of its number.
    #[must_use]
    pub fn unit(&self) -> &'static str {
        match self {
            Self::Viscosity { .. } => "mPa s",
            Self::YieldStress {} => "Pa",
            Self::Thinning { .. } => "",
            Self::Run { .. } | Self::Heap { .. } => "mm",
            Self::Levelling { .. } => "s",
        }
    }

    /// The quantity in words.
    #[must_use]
    pub fn words(&self) -> String {
        match self {
            Self::Viscosity { shear_rate } => format!("viscosity at {shear_rate} 1/s"),
            Self::YieldStress {} => "yield stress".to_owned(),
            Self::Thinning { from, to } => format!("viscosity at {from} over that at {to} 1/s"),
            Self::Run { dose_ml, patch_mm, angle_deg, time_s } => format!(
                "run of {dose_ml} mL, {patch_mm} mm wide, on a hand tilted {angle_deg} degrees, in {time_s} s"
            ),
            Self::Heap { dose_ml } => format!("height of a heap of {dose_ml} mL"),
            Self::Levelling { film_um, wavelength_mm, .. } => {
                format!("time for marks {wavelength_mm} mm apart in {film_um} um to fall to a tenth")
            }
        }
    }

    /// Numbers that must lie above zero, with the name of their field.
    #[must_use]
    pub fn conditions(&self) -> Vec<(&'static str, f64)> {
        match *self {
            Self::Viscosity { shear_rate } => vec![("shear_rate", shear_rate)],
            Self::YieldStress {} => Vec::new(),
            Self::Thinning { from, to } => vec![("from", from), ("to", to)],
            Self::Run { dose_ml, patch_mm, angle_deg, time_s } => vec![
                ("dose_ml", dose_ml),
                ("patch_mm", patch_mm),
                ("angle_deg", angle_deg),
                ("time_s", time_s),
            ],
            Self::Heap { dose_ml } => vec![("dose_ml", dose_ml)],
            Self::Levelling { film_um, wavelength_mm, amplitude_um, surface_tension_mn_m } => vec![
                ("film_um", film_um),
                ("wavelength_mm", wavelength_mm),
                ("amplitude_um", amplitude_um),
                ("surface_tension_mn_m", surface_tension_mn_m),
            ],
        }
    }

    /// The shear rate that decides it, 1/s, where one does.
    #[must_use]
    pub fn rate(&self) -> Option<f64> {
        match self {
            Self::Viscosity { shear_rate } => Some(*shear_rate),
            Self::Thinning { to, .. } => Some(*to),
            Self::YieldStress {} | Self::Run { .. } | Self::Heap { .. } | Self::Levelling { .. } => None,
        }
    }

    /// The number for a liquid; infinite where it never happens.
    #[must_use]
    pub fn of(&self, liquid: &dyn Liquid, density_kg_m3: f64) -> f64 {
        match *self {
            Self::Viscosity { shear_rate } => 1e3 * liquid.viscosity(shear_rate),
            Self::YieldStress {} => liquid.yield_stress(),
            Self::Thinning { from, to } => liquid.viscosity(from) / liquid.viscosity(to),
            Self::Run { dose_ml, patch_mm, angle_deg, time_s } => {
                let patch =
                    Patch { volume_m3: dose_ml * 1e-6, width_m: patch_mm * 1e-3, length_m: patch_mm * 1e-3 };
                let hand = Incline { angle_deg, density_kg_m3, gravity_m_s2: GRAVITY_M_S2 };
                1e3 * patch.run(liquid, &hand, time_s).way_m
            }
            Self::Heap { dose_ml } => {
                1e3 * Heap::of(liquid.yield_stress(), density_kg_m3, dose_ml * 1e-6).height_m
            }
            Self::Levelling { film_um, wavelength_mm, amplitude_um, surface_tension_mn_m } => Marks {
                film_m: film_um * 1e-6,
                wavelength_m: wavelength_mm * 1e-3,
                amplitude_m: amplitude_um * 1e-6,
                surface_tension_n_m: surface_tension_mn_m * 1e-3,
                density_kg_m3,
            }
            .time_to(liquid, 0.1),
        }
    }
}

/// Whether a liquid meets a word.
#[derive(Clone, Debug, PartialEq)]
pub struct Met {
    /// Whether all bands hold.
    pub holds: Holds,
    /// The number behind each band and whether it lies within.
    pub bands: Vec<(Spread, Holds)>,
}

/// Which words a liquid meets, in the order of the words. Quantities that several words speak of are computed once.
#[must_use]
pub fn met(words: &[&Word], band: &Band<'_>, density_kg_m3: f64) -> Vec<Met> {
    let mut known: Vec<(Quantity, Spread)> = Vec::new();
    let mut of = |quantity: &Quantity| match known.iter().find(|(have, _)| have == quantity) {
        Some((_, spread)) => *spread,
        None => {
            let spread = band.spread(|liquid| quantity.of(liquid, density_kg_m3));
            known.push((*quantity, spread));
            spread
        }
    };
    words
        .iter()
        .map(|word| {
            let bands: Vec<(Spread, Holds)> = word
                .band
                .iter()
                .map(|band| {
                    let spread = of(&band.of);
                    (spread, Holds::within(spread, band.low, band.high))
                })
                .collect();
            let holds = bands.iter().fold(Holds::Surely, |all, (_, holds)| all.and(*holds));
            Met { holds, bands }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::flow::pipe::HerschelBulkley;

    #[test]
    fn a_word_is_met_surely_perhaps_or_not() {
        let word = Word {
            key: "thin".to_owned(),
            words: "thin".to_owned(),
            means: String::new(),
            band: vec![WordBand {
                of: Quantity::Viscosity { shear_rate: 10.0 },
                low: None,
                high: Some(100.0),
            }],
            reason: String::new(),
            source: "convention".to_owned(),
        };
        let liquid = |pa_s: f64| HerschelBulkley { yield_pa: 0.0, consistency: pa_s, index: 1.0 };
        for (low, middle, high, wanted) in [
            (0.04, 0.05, 0.06, Holds::Surely),
            (0.05, 0.09, 0.12, Holds::Perhaps),
            (0.2, 0.3, 0.4, Holds::Not),
        ] {
            let (thin, middle, thick) = (liquid(low), liquid(middle), liquid(high));
            let band = Band { thin: &thin, middle: &middle, thick: &thick };
            assert_eq!(met(&[&word], &band, 1000.0)[0].holds, wanted);
        }
    }
}
