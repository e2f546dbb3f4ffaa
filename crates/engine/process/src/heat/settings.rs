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
        "batch_g" => [1.0, 2e7],
        "batch_kg" => [0.001, 20_000.0],
        "surface_cm2" => [0.5, 1e6],
        _ => [0.0, 1e9],
    }
}
