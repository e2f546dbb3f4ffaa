//! A vessel as people write it, in millimetres: `[[vessel]]` of the facts, or a table of a question.

use super::{Baffles, Bottom, BottomShape, Impeller, Jacket, Vessel, VesselError, Wall, WallMaterial};
use crate::impeller::ImpellerKind;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// The bottom as written.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BottomSize {
    /// Shape.
    pub shape: BottomShape,
    /// Depth, mm; not for a flat one.
    #[serde(default)]
    pub depth_mm: f64,
}

/// Baffles as written.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BaffleSize {
    /// How many.
    pub count: u32,
    /// Width of each, mm.
    pub width_mm: f64,
}

/// A jacket as written.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct JacketSize {
    /// It runs round the bottom too.
    pub bottom: bool,
    /// Height it reaches to, from the lowest point, mm.
    pub to_mm: f64,
}

/// A wall as written.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WallSize {
    /// Key of the material.
    pub material: String,
    /// Thickness, mm.
    pub thickness_mm: f64,
}

/// An impeller as written; what is left out is as its kind usually is.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ImpellerSize {
    /// Key of the kind.
    pub kind: String,
    /// Diameter, mm.
    pub diameter_mm: f64,
    /// Height of a blade before it is tilted, mm.
    #[serde(default)]
    pub blade_mm: Option<f64>,
    /// Blades.
    #[serde(default)]
    pub blades: Option<u32>,
    /// Tilt against the plane of rotation, degrees.
    #[serde(default)]
    pub angle_deg: Option<f64>,
    /// Height of its middle above the lowest point, mm; a third of the diameter of the vessel where it is left out.
    #[serde(default)]
    pub clearance_mm: Option<f64>,
    /// How many on the shaft.
    #[serde(default = "one")]
    pub count: u32,
    /// It stands off the middle or slanted.
    #[serde(default)]
    pub off_centre: bool,
    /// Power number of turbulent flow, where it was measured or stated.
    #[serde(default)]
    pub power_number: Option<f64>,
}

fn one() -> u32 {
    1
}

/// A vessel as written.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct VesselSize {
    /// Key.
    pub key: String,
    /// Name.
    pub words: String,
    /// Volume people call it by, L.
    pub nominal_l: f64,
    /// Inner diameter, mm.
    pub diameter_mm: f64,
    /// Inner height from the lowest point to the rim, mm.
    pub height_mm: f64,
    /// Bottom.
    pub bottom: BottomSize,
    /// Baffles.
    #[serde(default)]
    pub baffles: Option<BaffleSize>,
    /// Jacket.
    #[serde(default)]
    pub jacket: Option<JacketSize>,
    /// Wall.
    #[serde(default)]
    pub wall: Option<WallSize>,
    /// Impeller it usually has.
    #[serde(default)]
    pub impeller: Option<ImpellerSize>,
    /// Why these sizes.
    #[serde(default)]
    pub reason: Option<String>,
    /// Source key of the sizes.
    pub source: String,
}

impl ImpellerSize {
    /// The impeller in a vessel of a diameter.
    ///
    /// # Errors
    /// [`VesselError::Unknown`] when the kind is not among those given.
    pub fn made(
        &self,
        vessel_diameter_m: f64,
        kinds: &BTreeMap<String, ImpellerKind>,
    ) -> Result<Impeller, VesselError> {
        let kind = found(&self.kind, "an impeller", kinds)?;
        let diameter_m = 1e-3 * self.diameter_mm;
        Ok(Impeller {
            diameter_m,
            blade_m: self.blade_mm.map_or(kind.blade_ratio * diameter_m, |blade| 1e-3 * blade),
            blades: self.blades.unwrap_or(kind.blades),
            angle_deg: self.angle_deg.unwrap_or(kind.angle_deg),
            clearance_m: self.clearance_mm.map_or(vessel_diameter_m / 3.0, |height| 1e-3 * height),
            count: self.count,
            off_centre: self.off_centre,
            power_number: self.power_number,
            kind: kind.clone(),
        })
    }
}

impl VesselSize {
    /// The vessel, with the kinds of impellers and the materials of walls it names.
    ///
    /// # Errors
    /// [`VesselError`] when a size cannot be or a key is not known.
    pub fn made(
        &self,
        kinds: &BTreeMap<String, ImpellerKind>,
        materials: &BTreeMap<String, WallMaterial>,
    ) -> Result<Vessel, VesselError> {
        let bottom = Bottom { shape: self.bottom.shape, depth_m: 1e-3 * self.bottom.depth_mm };
        let mut vessel =
            Vessel::new(self.words.clone(), 1e-3 * self.diameter_mm, 1e-3 * self.height_mm, bottom)?;
        if let Some(baffles) = self.baffles {
            vessel =
                vessel.with_baffles(Baffles { count: baffles.count, width_m: 1e-3 * baffles.width_mm })?;
        }
        if let Some(jacket) = self.jacket {
            vessel = vessel.with_jacket(Jacket { bottom: jacket.bottom, to_m: 1e-3 * jacket.to_mm })?;
        }
        if let Some(wall) = &self.wall {
            let material = found(&wall.material, "a wall material", materials)?.clone();
            vessel = vessel.with_wall(Wall { material, thickness_m: 1e-3 * wall.thickness_mm })?;
        }
        if let Some(impeller) = &self.impeller {
            let impeller = impeller.made(vessel.diameter_m(), kinds)?;
            vessel = vessel.with_impeller(impeller)?;
        }
        Ok(vessel)
    }
}

fn found<'a, T>(key: &str, what: &'static str, known: &'a BTreeMap<String, T>) -> Result<&'a T, VesselError> {
    known.get(key).ok_or_else(|| VesselError::Unknown {
        key: key.to_owned(),
        what,
        known: known.keys().cloned().collect(),
    })
}
