//! Kinds of impellers and their numbers.

use serde::{Deserialize, Serialize};

/// Families of impellers: what correlations tell apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Family {
    /// Upright blades on a disc.
    DiscTurbine,
    /// Upright blades on the shaft.
    FlatBlade,
    /// Tilted blades on the shaft.
    PitchedBlade,
    /// A propeller.
    Propeller,
    /// Narrow, curved, twisted blades.
    Hydrofoil,
    /// A bar on the bottom turned by a magnet.
    MagneticBar,
    /// An anchor or gate close to the wall.
    Anchor,
    /// A helical ribbon.
    HelicalRibbon,
    /// A rotor in a slotted stator.
    RotorStator,
    /// A disc with teeth on its rim.
    SawToothDisc,
}

impl Family {
    /// Whether it sweeps the whole vessel and so moves a thick batch everywhere.
    #[must_use]
    pub fn sweeps_the_wall(self) -> bool {
        matches!(self, Self::Anchor | Self::HelicalRibbon)
    }
}

/// A number with its range and source.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Number {
    /// What is taken.
    pub value: f64,
    /// Least that is published or remembered.
    pub low: f64,
    /// Most.
    pub high: f64,
    /// Source key.
    pub source: String,
}

/// A kind of impeller.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ImpellerKind {
    /// Key.
    pub key: String,
    /// Name.
    pub words: String,
    /// Family.
    pub family: Family,
    /// Blades.
    pub blades: u32,
    /// Height of a blade before it is tilted, over the diameter.
    pub blade_ratio: f64,
    /// Tilt of the blades against the plane of rotation, degrees.
    pub angle_deg: f64,
    /// Diameter over that of the vessel, from and to, that it is usually made with.
    pub diameter_ratio: [f64; 2],
    /// Power number of turbulent flow with baffles.
    #[serde(default)]
    pub turbulent: Option<Number>,
    /// Power number times Reynolds number of slow flow.
    #[serde(default)]
    pub laminar: Option<Number>,
    /// Flow number of turbulent flow: what it pumps over speed and cube of the diameter.
    #[serde(default)]
    pub pumping: Option<Number>,
    /// Mean shear rate in the vessel over the speed.
    pub shear: Number,
    /// Zwietering's constant of suspending grains.
    #[serde(default)]
    pub suspending: Option<Number>,
}
