//! Sizes that the questions of use are asked with: pack, hand, film, finger, drops, centrifuge. Shipped in `data/flow/use.toml`, laid over
//! by a laboratory's own or by what a person types.

use serde::{Deserialize, Serialize};

/// A tube by its bore.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Bore {
    /// Inner diameter, mm.
    pub bore_mm: f64,
    /// Length, mm.
    pub length_mm: f64,
}

/// What pushes the product out.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Drive {
    /// A pump: the hand pushes through the nozzle, a spring draws through the dip tube afterwards.
    Pump,
    /// A squeezed bottle: the hand pushes through dip tube and nozzle.
    Squeeze,
}

impl Drive {
    /// Both, as written.
    pub const WORDS: [&'static str; 2] = ["pump", "squeeze"];

    /// By its word.
    #[must_use]
    pub fn named(word: &str) -> Option<Self> {
        match word {
            "pump" => Some(Self::Pump),
            "squeeze" => Some(Self::Squeeze),
            _ => None,
        }
    }
}

/// The pack and the hand on it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Dispensing {
    /// What pushes.
    pub drive: Drive,
    /// Volume of a stroke, mL.
    pub stroke_ml: f64,
    /// Time of a stroke, s.
    pub stroke_s: f64,
    /// Time from one stroke to the next, s.
    pub interval_s: f64,
    /// Pressure of the hand in the pack or chamber, kPa.
    pub pressure_kpa: f64,
    /// Diameter of the piston the finger presses, mm.
    pub piston_mm: f64,
    /// Suction by which a pump refills, kPa.
    pub suction_kpa: f64,
    /// Height the product is lifted, mm.
    pub rise_mm: f64,
    /// Dip tube.
    pub dip_tube: Bore,
    /// Nozzle.
    pub nozzle: Bore,
    /// Why these sizes.
    pub reason: String,
    /// Source of the sizes.
    pub source: String,
}

/// A film on a slope.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OnSlope {
    /// Angle against the horizontal, degrees.
    pub angle_deg: f64,
    /// Thickness as put on, mm.
    pub thickness_mm: f64,
    /// Distance from the upper edge, mm.
    pub distance_mm: f64,
    /// Time, s.
    pub time_s: f64,
    /// Thickness it shall drain to, mm.
    pub down_to_mm: f64,
}

/// A dose on the hand.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OnHand {
    /// Volume, mL.
    pub dose_ml: f64,
    /// Width of the patch it lies as, mm.
    pub width_mm: f64,
    /// Its length down the slope, mm.
    pub length_mm: f64,
    /// Tilt against the horizontal, degrees.
    pub angle_deg: f64,
    /// Time, s.
    pub time_s: f64,
}

/// Marks of the finger in a film.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct InFilm {
    /// Mean thickness of the film, um.
    pub film_um: f64,
    /// Distance of the marks, mm.
    pub wavelength_mm: f64,
    /// Half their height, um.
    pub amplitude_um: f64,
    /// Surface tension, mN/m.
    pub surface_tension_mn_m: f64,
    /// Contact angle of a spreading rim on skin, degrees.
    pub contact_angle_deg: f64,
    /// Percent of the marks that may be left.
    pub left_percent: f64,
    /// Time until the film sets, s.
    pub sets_s: f64,
}

/// A finger that spreads.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OnSkin {
    /// Speed, m/s.
    pub speed_m_s: f64,
    /// Thickness of the film, um.
    pub film_um: f64,
    /// Length of the contact, mm.
    pub length_mm: f64,
    /// Width of the contact, mm.
    pub width_mm: f64,
    /// How many times thicker the film enters under a slanting finger than it leaves.
    pub opening: f64,
}

/// Film, dose, marks and finger.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Draining {
    /// A film on a slope.
    pub film: OnSlope,
    /// A dose on the hand.
    pub dose: OnHand,
    /// Marks in a film.
    pub marks: InFilm,
    /// A finger on the skin.
    pub finger: OnSkin,
    /// Why these sizes.
    pub reason: String,
    /// Source of the sizes.
    pub source: String,
}

/// Drops of a size with their share.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SizeClass {
    /// Diameter, um.
    pub diameter_um: f64,
    /// Share of the volume of all drops, percent.
    pub volume_percent: f64,
}

/// What is to be held.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Held {
    /// Median diameter of the volume, um.
    pub diameter_um: f64,
    /// Geometric standard deviation of the diameters; 1 for drops of one size.
    pub spread: f64,
    /// Sizes one by one, instead of median and deviation.
    #[serde(default)]
    pub class: Vec<SizeClass>,
    /// Density of drop or grain, kg/m3.
    pub density_kg_m3: f64,
    /// Volume of all of them in the product, percent.
    pub volume_percent: f64,
    /// Viscosity within a drop whose surface moves, mPa s; none for a stiff surface.
    #[serde(default)]
    pub inner_viscosity_mpa_s: Option<f64>,
}

/// How it stands.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OnShelf {
    /// Height of the product, mm.
    pub height_mm: f64,
    /// Months.
    pub months: f64,
    /// How many times the yield stress that just holds a single drop is asked for.
    pub safety_factor: f64,
}

/// A centrifuge test.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Spun {
    /// Distance of the sample from the axis, mm.
    pub radius_mm: f64,
    /// Speed, rpm.
    pub rpm: f64,
    /// Minutes.
    pub minutes: f64,
}

/// Air stirred in.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Air {
    /// Diameters of bubbles, mm.
    pub diameters_mm: Vec<f64>,
    /// Depth of the product, mm.
    pub depth_mm: f64,
    /// Hours until it gels or is filled.
    pub hours: f64,
}

/// Drops, shelf, centrifuge, bubbles.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Standing {
    /// What is to be held.
    pub drops: Held,
    /// How it stands.
    pub shelf: OnShelf,
    /// A centrifuge test.
    pub centrifuge: Spun,
    /// Air stirred in.
    pub bubbles: Air,
    /// Why these sizes.
    pub reason: String,
    /// Source of the sizes.
    pub source: String,
}

/// Least and most that a field of these sizes, of a stage or of a word can mean; by its name, which carries its unit. Limits of what can be
/// typed, not of what is sensible.
#[must_use]
pub fn limits(field: &str) -> [f64; 2] {
    match field {
        "contact_angle_deg" => [0.1, 180.0],
        "left_percent" => [0.01, 99.9],
        "volume_percent" => [0.0, 100.0],
        "spread" => [1.0, 10.0],
        "safety_factor" => [1.0, 1000.0],
        "opening" => [1.001, 1000.0],
        "rpm" => [0.01, 1e6],
        "constant" => [0.1, 1000.0],
        "surface_tension_mn_m" => [0.1, 1000.0],
        "density_kg_m3" => [1.0, 25_000.0],
        "density_difference_kg_m3" => [0.01, 25_000.0],
        "shear_rate" | "from" | "to" => [1e-9, 1e9],
        "low" | "high" => [0.0, 1e15],
        _ if field.ends_with("_deg") => [0.1, 90.0],
        _ => [1e-6, 1e9],
    }
}
