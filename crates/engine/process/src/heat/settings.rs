//! What heat and evaporation are asked with where nobody gives other values: the room.

use crate::heat::evaporation::Room;
use crate::properties::{Air, air};
use serde::{Deserialize, Serialize};

/// `[room]`: the air around.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RoomSizes {
    /// Temperature, C.
    pub temperature_c: f64,
    /// Relative humidity, percent.
    pub humidity_percent: f64,
    /// Speed along the surface, m/s.
    pub speed_m_s: f64,
    /// Height above the sea, m.
    pub altitude_m: f64,
    /// Pressure, kPa, instead of the height.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pressure_kpa: Option<f64>,
    /// Why these values.
    pub reason: String,
    /// Source.
    pub source: String,
}

impl RoomSizes {
    /// The air.
    #[must_use]
    pub fn room(&self) -> Room {
        let pressure =
            self.pressure_kpa.map_or_else(|| air::pressure_at_pa(self.altitude_m), |kpa| 1e3 * kpa);
        Room {
            air: Air::of_humidity(self.temperature_c, 0.01 * self.humidity_percent, pressure),
            speed_m_s: self.speed_m_s,
        }
    }
}

/// `[evaporation]`: how far the law may be off.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct EvaporationDoubt {
    /// To both sides within the range of the law, percent.
    pub within_percent: f64,
    /// To both sides outside of it, percent.
    pub outside_percent: f64,
    /// Why these values.
    pub reason: String,
    /// Source.
    pub source: String,
}

/// `[heat_loss]`: how a vessel loses heat to the room.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct HeatLoss {
    /// From the outside of the wall, convection and radiation, W/(m2 K).
    pub wall_w_m2_k: f64,
    /// From the surface by convection, open or covered, W/(m2 K).
    pub surface_w_m2_k: f64,
    /// Emissivity of the open surface.
    pub emissivity: f64,
    /// How far all of it may be off, percent.
    pub doubt_percent: f64,
    /// Why these values.
    pub reason: String,
    /// Source.
    pub source: String,
}

/// `[hot_plate]`: a plate of the bench.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct HotPlate {
    /// Power, W.
    pub power_w: f64,
    /// Heat capacity, J/K.
    pub heat_capacity_j_k: f64,
    /// Contact with the bottom of the vessel, W/(m2 K).
    pub contact_w_m2_k: f64,
    /// Loss to the room, W/K.
    pub loss_w_k: f64,
    /// Temperature its regulator keeps it below, C.
    pub most_c: f64,
    /// How far the contact may be off, percent.
    pub doubt_percent: f64,
    /// Why these values.
    pub reason: String,
    /// Source.
    pub source: String,
}

/// `[jacket_side]`: what stands between the wall and what flows in a jacket.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct JacketSide {
    /// Film of a liquid, W/(m2 K).
    pub liquid_w_m2_k: f64,
    /// Film of steam that condenses, W/(m2 K).
    pub steam_w_m2_k: f64,
    /// Fouling of both sides together, m2 K/W.
    pub fouling_m2_k_w: f64,
    /// How far the film of the batch may be off, percent.
    pub doubt_percent: f64,
    /// Why these values.
    pub reason: String,
    /// Source.
    pub source: String,
}

/// Least and most that a size may be, by its field.
#[must_use]
pub fn limits(field: &str) -> [f64; 2] {
    match field {
        "temperature_c" => [-10.0, 50.0],
        "humidity_percent" | "within_percent" | "outside_percent" | "open_percent" | "percent" => {
            [0.0, 100.0]
        }
        "water_percent" => [1.0, 100.0],
        "water_activity" => [0.01, 1.0],
        "speed_m_s" => [0.0, 5.0],
        "altitude_m" => [-430.0, 5000.0],
        "pressure_kpa" => [50.0, 110.0],
        "wall_w_m2_k" | "surface_w_m2_k" => [0.0, 200.0],
        "emissivity" => [0.0, 1.0],
        "doubt_percent" => [0.0, 90.0],
        "power_w" => [1.0, 1e6],
        "heat_capacity_j_k" => [10.0, 1e6],
        "heat_capacity_j_kg_k" => [1000.0, 4300.0],
        "conductivity_w_m_k" => [0.05, 0.7],
        "contact_w_m2_k" => [5.0, 1e4],
        "loss_w_k" => [0.0, 1000.0],
        "most_c" => [30.0, 600.0],
        "liquid_w_m2_k" | "steam_w_m2_k" | "outside_w_m2_k" => [10.0, 1e5],
        "fouling_m2_k_w" => [0.0, 0.1],
        "u_w_m2_k" => [1.0, 1e4],
        "area_m2" => [1e-4, 1000.0],
        "heat_c" => [20.0, 250.0],
        "cool_c" => [-30.0, 60.0],
        "heat_flow_kg_h" | "cool_flow_kg_h" => [0.1, 1e7],
        "flow_heat_capacity_j_kg_k" => [500.0, 4300.0],
        "from_c" | "down_to_c" => [-5.0, 120.0],
        "to_c" => [-5.0, 149.0],
        "hold_min" => [0.0, 10_000.0],
        "rpm" => [0.1, 30_000.0],
        "stirrer_w" => [0.0, 1e6],
        "activation_kj_mol" => [-100.0, 200.0],
        "liquid_at_c" => [0.0, 120.0],
        "lining_mm" => [0.0, 50.0],
        "lining_w_m_k" => [0.01, 500.0],
        "batch_g" => [1.0, 2e7],
        "batch_kg" => [0.001, 20_000.0],
        "surface_cm2" => [0.5, 1e6],
        _ => [0.0, 1e9],
    }
}
