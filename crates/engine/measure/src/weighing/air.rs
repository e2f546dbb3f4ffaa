//! Air: its density, and what its buoyancy does to a weighing.
//!
//! ```text
//! rho_a = (0.34848 p - 0.009 h exp(0.061 t)) / (273.15 + t)           kg/m3
//! m     = R (1 - rho_a/rho_w) / (1 - rho_a/rho)
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | p, h, t | pressure, relative humidity, temperature | hPa, %, C |
//! | R, m | reading of a balance set with weights, mass of what lies on it | g |
//! | rho_w, rho | density of the weights (8000), of what is weighed | kg/m3 |
//!
//! In a batch what counts is how much a line floats more or less than the whole, `m (f_i / f - 1)` with `f` the factor of the batch's own density.
//! For shares by mass the factor cancels to first order, since all lines of a water-based formula have nearly the density of water; it counts
//! for a fill checked by volume (0.105 %) and for a powder or an oil beside water. Range: 900 to 1100 hPa, 10 to 30 C, humidity below 80 %;
//! within 2e-4 of the full equation there. Source: the short form of the CIPM equation (OIML R 111, E.3), as quoted by `masscor`.
//! Cases: `tests/published/weighing.toml`.

use crate::elementary::Elementary as _;

/// Density of the weights that balances are set with, kg/m3.
const WEIGHTS_KG_M3: f64 = 8000.0;

/// The air around a balance.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Air {
    /// Pressure, hPa.
    pub pressure_hpa: f64,
    /// Relative humidity, %.
    pub humidity_percent: f64,
    /// Temperature, C.
    pub temperature_c: f64,
}

impl Air {
    /// Density, kg/m3; nothing outside the range of the equation.
    #[must_use]
    pub fn density_kg_m3(&self) -> Option<f64> {
        let Self { pressure_hpa: p, humidity_percent: h, temperature_c: t } = *self;
        let fits = (900.0..=1100.0).contains(&p) && (0.0..=80.0).contains(&h) && (10.0..=30.0).contains(&t);
        fits.then(|| (0.348_48 * p - 0.009 * h * (0.061 * t).exp_e()) / (273.15 + t))
    }
}

/// Factor from the reading of a balance to the mass of what lies on it, densities in kg/m3.
#[must_use]
pub fn buoyancy_factor(air_kg_m3: f64, sample_kg_m3: f64) -> f64 {
    (1.0 - air_kg_m3 / WEIGHTS_KG_M3) / (1.0 - air_kg_m3 / sample_kg_m3)
}

/// Density of the air of a laboratory, kg/m3: near sea level, and between 2000 m up and a cold day by the sea (short form of the CIPM equation).
pub const USUAL_AIR_KG_M3: [f64; 3] = [1.2, 0.95, 1.25];

/// What buoyancy does to the lines of a batch beside each other.
#[derive(Clone, Debug, PartialEq)]
pub struct Floating {
    /// Mass of each line over its reading, as far as it differs from that of the batch: 1 where they are the same.
    pub factors: Vec<f64>,
    /// The line whose share moves most.
    pub line: usize,
    /// By how much its mass is off its reading beside the others, g.
    pub shift_g: f64,
}

/// Looks at the lines of a batch: readings in g, densities of air, lines and batch in kg/m3. A line without a density is taken to float as the batch does; none where no
/// line has one.
#[must_use]
pub fn floating(
    air_kg_m3: f64,
    readings_g: &[f64],
    densities: &[Option<f64>],
    batch_kg_m3: f64,
) -> Option<Floating> {
    let whole = buoyancy_factor(air_kg_m3, batch_kg_m3);
    let factor =
        |density: &Option<f64>| density.map_or(1.0, |density| buoyancy_factor(air_kg_m3, density) / whole);
    let factors: Vec<f64> = densities.iter().map(factor).collect();
    let shifts = readings_g.iter().zip(&factors).map(|(reading, factor)| reading * (factor - 1.0));
    let (line, shift_g) = shifts.enumerate().max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()))?;
    densities.iter().any(Option::is_some).then_some(Floating { factors, line, shift_g })
}
