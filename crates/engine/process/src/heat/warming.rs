//! A batch that is warmed, held and cooled: on a hot plate, in a jacket, by standing in the room.
//!
//! ```text
//! (m c_p + C_v) dT/dt = q + P_s - losses(T)
//! jacket  q = W (1 - exp(-U A/W)) (T_in - T);  with plenty of flow q = U A (T_j - T)
//! plate   q = K (T_p - T),  C_p dT_p/dt = P - q - L (T_p - T_a)
//! losses  h_w A_w (T - T_a) + h_s A_s (T - T_a) + open part (e s A_s (T^4 - T_a^4) + E h_fg)
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | m c_p, C_v | heat capacity of the batch, of what warms with it | J/K |
//! | W | heat capacity of what flows through the jacket | W/K |
//! | K, L | contact between plate and vessel, loss of the plate | W/K |
//! | P, P_s | power of the plate, of the stirrer | W |
//! | E | water lost (`evaporation`) | kg/s |
//!
//! Range: a batch of one temperature (stirred; a wall film slower than the liquid mixes), below boiling, its mass taken as unchanged by what
//! evaporates. With constant coefficients the courses are the closed forms `t = m c_p/(U A) ln((T_j - T_1)/(T_j - T_2))` and its kin.
//! Cases: `tests/published/heat.toml`, `tests/cross/heat.toml`.

mod medium;
mod reading;

pub use medium::MediumReading;
pub use reading::{
    Asked, FilmReading, Goal, HeatReading, LossReading, PathPoint, StageReading, Warmer, heat,
};

use super::evaporation::{Room, Surface};
use super::film::Passage;
use crate::properties::BatchLiquid;
use crate::properties::water::{self, ZERO_C};
use levigate_measure::course::{Care, Course, CourseError, follow};
use levigate_measure::elementary::Elementary as _;
use levigate_measure::root::bracketed;

/// Stefan's and Boltzmann's constant, W/(m2 K4).
const RADIATION: f64 = 5.670_374_419e-8;
/// Longest that is followed, s: thirty days.
pub const LONGEST_S: f64 = 30.0 * 86_400.0;
/// The regulator of a plate takes the power back over this much, K.
const REGULATED_K: f64 = 5.0;

/// What a batch loses to the room.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Losses {
    /// Through its wall, W/K.
    pub wall_w_k: f64,
    /// From its surface by convection, W/K.
    pub surface_w_k: f64,
    /// Emissivity of the surface.
    pub emissivity: f64,
    /// The surface.
    pub surface: Surface,
    /// The room.
    pub room: Room,
    /// How much more than the middle, for all of it.
    pub lean: f64,
}

/// Losses by what takes them, W, and the water, kg/s.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LossParts {
    /// Through the wall.
    pub wall: f64,
    /// From the surface by convection.
    pub convection: f64,
    /// By radiation.
    pub radiation: f64,
    /// By evaporation.
    pub evaporation: f64,
    /// Water lost, kg/s.
    pub water_kg_s: f64,
}

impl LossParts {
    /// All together, W.
    #[must_use]
    pub fn total(&self) -> f64 {
        self.wall + self.convection + self.radiation + self.evaporation
    }
}

impl Losses {
    /// Losses at a temperature, C.
    #[must_use]
    pub fn at(&self, temperature_c: f64) -> LossParts {
        let over = temperature_c - self.room.air.temperature_c;
        let [hot, cold] =
            [temperature_c, self.room.air.temperature_c].map(|celsius| (celsius + ZERO_C).powi(4));
        let water_kg_s = self.lean * self.room.loss_kg_s(temperature_c, &self.surface);
        let open_m2 = self.surface.area_m2 * self.surface.open;
        LossParts {
            wall: self.lean * self.wall_w_k * over,
            convection: self.lean * self.surface_w_k * over,
            radiation: self.lean * self.emissivity * RADIATION * open_m2 * (hot - cold),
            evaporation: water_kg_s * water::evaporation_j_kg(temperature_c),
            water_kg_s,
        }
    }
}

/// What flows through a jacket.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct JacketFlow {
    /// Temperature it comes in with, C.
    pub in_c: f64,
    /// Its heat capacity over time, W/K; none where there is plenty, or steam.
    pub flow_w_k: Option<f64>,
}

/// A hot plate.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Plate {
    /// Power, W.
    pub power_w: f64,
    /// Heat capacity, J/K.
    pub heat_capacity_j_k: f64,
    /// Contact with the vessel, W/K.
    pub contact_w_k: f64,
    /// Loss to the room, W/K.
    pub loss_w_k: f64,
    /// Temperature its regulator keeps it below, C.
    pub most_c: f64,
}

/// What gives or takes heat.
#[derive(Clone)]
pub enum Source<'l> {
    /// A hot plate.
    Plate(Plate),
    /// A plate that is off and stays under the vessel.
    PlateOff(Plate),
    /// A jacket: what flows, how heat passes, area in m2, how the film leans.
    Jacket(JacketFlow, Passage<'l>, f64, f64),
    /// Nothing but the room.
    Room,
}

/// A batch that warms or cools.
#[derive(Clone)]
pub struct Batch<'l> {
    /// Mass, kg.
    pub mass_kg: f64,
    /// Its liquid.
    pub liquid: BatchLiquid,
    /// Heat capacity of what warms with it, J/K.
    pub vessel_j_k: f64,
    /// Power of the stirrer that becomes heat, W.
    pub stirrer_w: f64,
    /// Losses.
    pub losses: Losses,
    /// What gives or takes heat.
    pub source: Source<'l>,
}

/// What is followed: temperature of batch and plate, heat given to the batch, lost by it and used, J, water lost, kg.
pub type State = [f64; 6];

impl Batch<'_> {
    /// Heat capacity, J/K.
    #[must_use]
    pub fn heat_capacity_j_k(&self, temperature_c: f64) -> f64 {
        self.mass_kg * self.liquid.heat_capacity_at(temperature_c) + self.vessel_j_k
    }

    /// Heat from the source into the batch and heat the source uses, W.
    fn given(&self, batch_c: f64, plate_c: f64) -> [f64; 2] {
        match &self.source {
            Source::Plate(plate) => {
                let share = ((plate.most_c - plate_c) / REGULATED_K).clamp(0.0, 1.0);
                [plate.contact_w_k * (plate_c - batch_c), share * plate.power_w]
            }
            Source::PlateOff(plate) => [plate.contact_w_k * (plate_c - batch_c), 0.0],
            Source::Jacket(flow, passage, area_m2, lean) => {
                let passes = area_m2 * passage.overall(batch_c, flow.in_c, *lean);
                let taken = match flow.flow_w_k {
                    Some(flow_w_k) => flow_w_k * (1.0 - (-passes / flow_w_k).exp_e()),
                    None => passes,
                };
                [taken * (flow.in_c - batch_c); 2]
            }
            Source::Room => [0.0; 2],
        }
    }

    fn rates(&self, state: &State) -> State {
        let [batch_c, plate_c, ..] = *state;
        let [given, used] = self.given(batch_c, plate_c);
        let losses = self.losses.at(batch_c);
        let warms = (given + self.stirrer_w - losses.total()) / self.heat_capacity_j_k(batch_c);
        let plate_warms = match &self.source {
            Source::Plate(plate) | Source::PlateOff(plate) => {
                let room_c = self.losses.room.air.temperature_c;
                (used - given - plate.loss_w_k * (plate_c - room_c)) / plate.heat_capacity_j_k
            }
            Source::Jacket(..) | Source::Room => 0.0,
        };
        [warms, plate_warms, given + self.stirrer_w, losses.total(), used, losses.water_kg_s]
    }

    /// How fast it warms, K/s.
    #[must_use]
    pub fn warms_k_s(&self, state: &State) -> f64 {
        self.rates(state)[0]
    }

    /// Where a batch stands at the start: the plate as warm as it.
    #[must_use]
    pub fn start(temperature_c: f64) -> State {
        [temperature_c, temperature_c, 0.0, 0.0, 0.0, 0.0]
    }

    /// Follows it until its temperature reaches another, or the longest time.
    ///
    /// # Errors
    /// [`CourseError`] when the course cannot be followed.
    pub fn until(&self, from: State, to_c: f64) -> Result<Course<6>, CourseError> {
        let sign = if to_c >= from[0] { 1.0 } else { -1.0 };
        let goal = |_: f64, state: &State| sign * (state[0] - to_c);
        follow(|_, state: &State| self.rates(state), (0.0, from), LONGEST_S, goal, &Care::default())
    }

    /// Follows it until it no longer warms.
    ///
    /// # Errors
    /// [`CourseError`] when the course cannot be followed.
    pub fn until_rest(&self, from: State) -> Result<Course<6>, CourseError> {
        let goal = |_: f64, state: &State| -self.warms_k_s(state);
        follow(|_, state: &State| self.rates(state), (0.0, from), LONGEST_S, goal, &Care::default())
    }

    /// Heat that a batch of a temperature gains when its plate has settled, W.
    fn settled_gain_w(&self, batch_c: f64) -> f64 {
        let plate_c = match &self.source {
            Source::Plate(plate) => {
                let room_c = self.losses.room.air.temperature_c;
                let miss = |plate_c: f64| {
                    let [given, used] = self.given(batch_c, plate_c);
                    used - given - plate.loss_w_k * (plate_c - room_c)
                };
                bracketed(miss, room_c.min(batch_c) - 1.0, plate.most_c.max(batch_c) + 1.0, 1e-9, 200)
                    .unwrap_or(batch_c)
            }
            _ => batch_c,
        };
        self.given(batch_c, plate_c)[0] + self.stirrer_w - self.losses.at(batch_c).total()
    }

    /// The temperature it comes to in the end, C, between two others; the nearer of them when it does not settle between.
    #[must_use]
    pub fn settles_c(&self, low_c: f64, high_c: f64) -> f64 {
        if self.settled_gain_w(low_c) <= 0.0 {
            return low_c;
        }
        if self.settled_gain_w(high_c) >= 0.0 {
            return high_c;
        }
        bracketed(|celsius| self.settled_gain_w(celsius), low_c, high_c, 1e-6, 200).unwrap_or(low_c)
    }
}
