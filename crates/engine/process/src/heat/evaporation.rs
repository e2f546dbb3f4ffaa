//! Water that leaves an open vessel.
//!
//! ```text
//! still air   E = 35 rho_d (rho_a - rho_s)^(1/3) (W_s - W_a)                  kg/(m2 h), and at least 5e-5 (p_s - p_a)
//! moving air  E = Sh D/L c M_w ln((1 - x_a)/(1 - x_s))
//!             Sh = 0.664 Re^(1/2) Sc^(1/3) up to Re 5e5, (0.037 Re^(4/5) - 871) Sc^(1/3) above
//! both        E = (E_still^3 + E_moving^3)^(1/3), times the open part of the surface
//! p_s = a_w p_sat(T),   loss = A integral of E(T(t)) dt
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | rho_d | dry air per volume at the surface: with the moist density the loss at 85 C would double | kg/m3 |
//! | rho_a, rho_s, W_a, W_s | density and humidity ratio of the air in the room and at the surface | kg/m3, kg/kg dry |
//! | p_s, p_a, x | vapour pressure at the surface, in the room; its share of the pressure | Pa, - |
//! | L, D, c | length of the surface along the wind, diffusivity, moles of gas in a volume | m, m2/s, mol/m3 |
//!
//! Range: water of 7 to 94 C, air of 6 to 35 C and 28 to 95 % humidity, surfaces from 0.07 m2: there the mean deviation of the law for still air is
//! 18 %, and the interval is 30 % to both sides; outside of it 50 %. A boiling batch is refused: it loses what the heat drives out. The
//! law that is linear in the humidity ratio, (25 + 19 v)(W_s - W_a), is not used: hot, the ratio grows without bound and with it the loss.
//! Sources: M. M. Shah, HVAC&R Research 8 (2002) 125, the equation and its floor for light air from memory; flat plate after F. P. Incropera, from
//! memory. Cases: `tests/cross/evaporation.toml`, `tests/published/heat.toml`.

mod reading;

pub use reading::{Asked, Balance, Content, ContentReading, EvaporationReading, Weighed, evaporation};

use super::record::TemperatureRecord;
use crate::flow::integral;
use crate::properties::{Air, air, water};
use levigate_measure::elementary::Elementary as _;
use levigate_measure::root::bracketed;

/// Factor of the law for still air.
const STILL: f64 = 35.0;
/// Least of the law for still air, kg/(m2 h Pa).
const FLOOR: f64 = 5e-5;
/// Reynolds number at which a boundary layer turns turbulent.
const TURBULENT: f64 = 5e5;
const WATER_KG_MOL: f64 = 0.018_015_268;
const GAS_J_MOL_K: f64 = 8.314_462_618;

/// The free surface of a batch.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Surface {
    /// Area, m2.
    pub area_m2: f64,
    /// Part of it that is open, 0 to 1.
    pub open: f64,
    /// Water activity of the batch.
    pub water_activity: f64,
}

/// The air over it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Room {
    /// Air of the room.
    pub air: Air,
    /// Its speed along the surface, m/s.
    pub speed_m_s: f64,
}

impl Room {
    /// The air at the surface of water of a temperature and activity.
    fn at_surface(&self, temperature_c: f64, activity: f64) -> Air {
        let vapour_pa = activity * water::vapour_pressure_pa(temperature_c);
        Air { temperature_c, vapour_pa, pressure_pa: self.air.pressure_pa }
    }

    /// Loss into still air, kg/(m2 s); not finite at and above boiling.
    #[must_use]
    pub fn still(&self, temperature_c: f64, activity: f64) -> f64 {
        let surface = self.at_surface(temperature_c, activity);
        if surface.vapour_pa >= surface.pressure_pa {
            return f64::INFINITY;
        }
        let [lifted, floor] = self.hourly(&surface);
        // Where the air is wetter than the surface, water settles on it: that is no loss.
        lifted.max(floor).max(0.0) / 3600.0
    }

    /// What the lift of the moist air carries away from a surface, and the floor of the law, kg/(m2 h); below nothing where water settles.
    fn hourly(&self, surface: &Air) -> [f64; 2] {
        let lift = (self.air.density_kg_m3() - surface.density_kg_m3()).max(0.0).to_the(1.0 / 3.0);
        [
            STILL * surface.dry_kg_m3() * lift * (surface.humidity_ratio() - self.air.humidity_ratio()),
            FLOOR * (surface.vapour_pa - self.air.vapour_pa),
        ]
    }

    /// Shares of the way between two temperatures at which the loss bends: where it begins, where moist air begins to rise, and where
    /// that carries more than the floor of the law.
    fn bends(&self, [from, to]: [f64; 2], activity: f64) -> Vec<f64> {
        let at = |share: f64| self.at_surface(from + share * (to - from), activity);
        let wetter = |share: f64| at(share).vapour_pa - self.air.vapour_pa;
        let lighter = |share: f64| self.air.density_kg_m3() - at(share).density_kg_m3();
        let above_floor = |share: f64| {
            let [lifted, floor] = self.hourly(&at(share));
            lifted - floor
        };
        let between = |function: &dyn Fn(f64) -> f64, ends: [f64; 2]| {
            bracketed(function, ends[0], ends[1], 1e-12, 200).ok()
        };
        let mut bends: Vec<f64> =
            [between(&wetter, [0.0, 1.0]), between(&lighter, [0.0, 1.0])].into_iter().flatten().collect();
        bends.sort_by(f64::total_cmp);
        let ends: Vec<f64> = [0.0].into_iter().chain(bends.iter().copied()).chain([1.0]).collect();
        bends.extend(ends.windows(2).filter_map(|ends| between(&above_floor, [ends[0], ends[1]])));
        bends
    }

    /// Loss into air that moves along a surface of a length, kg/(m2 s), the lift of warm air left out; not finite at and above boiling.
    #[must_use]
    pub fn moving(&self, temperature_c: f64, activity: f64, length_m: f64) -> f64 {
        let surface = self.at_surface(temperature_c, activity);
        let (at, far) = (surface.vapour_share(), self.air.vapour_share());
        if at >= 1.0 {
            return f64::INFINITY;
        }
        // Properties of the layer between: the mean of both temperatures.
        let film = 0.5 * (temperature_c + self.air.temperature_c);
        let pressure = self.air.pressure_pa;
        let density = 0.5 * (surface.density_kg_m3() + self.air.density_kg_m3());
        let viscosity = air::viscosity_pa_s(film) / density;
        let diffusivity = air::diffusivity_m2_s(film, pressure);
        let third = (viscosity / diffusivity).to_the(1.0 / 3.0);
        let reynolds = self.speed_m_s * length_m / viscosity;
        let sherwood = if reynolds <= TURBULENT {
            0.664 * reynolds.sqrt() * third
        } else {
            (0.037 * reynolds.to_the(0.8) - 871.0) * third
        };
        let moles = pressure / (GAS_J_MOL_K * (film + water::ZERO_C));
        let driven = ((1.0 - far) / (1.0 - at)).log_e().max(0.0);
        sherwood * diffusivity / length_m * moles * WATER_KG_MOL * driven
    }

    /// Loss of a surface as it is covered, kg/s; not finite at and above boiling.
    #[must_use]
    pub fn loss_kg_s(&self, temperature_c: f64, surface: &Surface) -> f64 {
        let still = self.still(temperature_c, surface.water_activity);
        let both = if self.speed_m_s > 0.0 {
            // The side of a square of the same area: what the wind runs along.
            let moving = self.moving(temperature_c, surface.water_activity, surface.area_m2.sqrt());
            (still.powi(3) + moving.powi(3)).to_the(1.0 / 3.0)
        } else {
            still
        };
        if surface.open <= 0.0 { 0.0 } else { both * surface.area_m2 * surface.open }
    }
}

/// Water lost over a record, kg; not finite where it boils.
#[must_use]
pub fn loss_kg(record: &TemperatureRecord, surface: &Surface, room: &Room) -> f64 {
    record
        .pieces()
        .map(|piece| {
            let [from, to] = piece.temperatures_c;
            // Pieces of two kelvin at most, in which the loss grows by a tenth, cut where it bends.
            let even = ((to - from).abs() / 2.0).ceil().clamp(1.0, 100.0);
            let mut ends: Vec<f64> = std::iter::successors(Some(0.0), |end| Some(end + 1.0))
                .take_while(|end| *end <= even)
                .map(|end| end / even)
                .chain(room.bends(piece.temperatures_c, surface.water_activity))
                .collect();
            ends.sort_by(f64::total_cmp);
            let loss = |share: f64| room.loss_kg_s(from + share * (to - from), surface);
            integral::over_bends(&ends, 1e-6, 16, loss) * piece.time_s
        })
        .sum()
}

/// Why the law is stretched, in words; empty within its range.
#[must_use]
pub fn outside(temperatures_c: [f64; 2], surface: &Surface, room: &Room) -> Vec<String> {
    let mut why = Vec::new();
    if temperatures_c[1] > 94.0 || temperatures_c[0] < 7.0 {
        why.push("water of 7 to 94 C".to_owned());
    }
    if !(6.0..=35.0).contains(&room.air.temperature_c) {
        why.push("air of 6 to 35 C".to_owned());
    }
    let humidity = room.air.vapour_pa / water::vapour_pressure_pa(room.air.temperature_c);
    if !(0.28..=0.95).contains(&humidity) {
        why.push("air of 28 to 95 % humidity".to_owned());
    }
    if surface.area_m2 < 0.07 {
        why.push("surfaces from 0.07 m2".to_owned());
    }
    why
}
