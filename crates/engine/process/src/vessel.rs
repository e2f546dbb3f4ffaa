//! The vessel a batch is made in, and the impeller in it.
//!
//! ```text
//! V(z) = pi R^2 z^2 (3 h - z) / (3 h^2)            dished bottom, half a spheroid of depth h, filled to z <= h
//! V(z) = pi R^2 z^3 / (3 h^2)                    cone of depth h
//! V    = V(h) + pi R^2 (z - h)                   above the bottom
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | R, h | inner radius, depth of the bottom | m |
//! | z | depth of the liquid at its deepest | m |
//!
//! A half spheroid stands for every dished bottom by its depth: exact for the elliptical and the round one; a torispherical bottom of the
//! same depth holds a few percent less. Shaft, impeller and baffles take no room.
//! Sources: geometry. Cases: below, by closed forms.

mod written;

pub use written::{BaffleSize, BottomSize, ImpellerSize, JacketSize, VesselSize, WallSize};

use crate::flow::integral;
use crate::impeller::ImpellerKind;
use core::f64::consts::PI;
use levigate_measure::elementary::Elementary as _;
use serde::{Deserialize, Serialize};
use thiserror::Error;

/// Shape of the bottom.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum BottomShape {
    /// Flat.
    Flat,
    /// Dished: half a spheroid.
    Dished,
    /// A cone, its tip down.
    Cone,
}

/// The bottom.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bottom {
    /// Shape.
    pub shape: BottomShape,
    /// Depth, m; zero for a flat one.
    pub depth_m: f64,
}

/// Baffles along the wall.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Baffles {
    /// How many.
    pub count: u32,
    /// Width of each, m.
    pub width_m: f64,
}

/// The part of the wall that is heated or cooled.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Jacket {
    /// It runs round the bottom too.
    pub bottom: bool,
    /// Height it reaches to, from the lowest point, m.
    pub to_m: f64,
}

/// Material of a wall.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WallMaterial {
    /// Key.
    pub key: String,
    /// Name.
    pub words: String,
    /// Thermal conductivity, W/(m K).
    pub conductivity_w_m_k: f64,
    /// Density, kg/m3.
    pub density_kg_m3: f64,
    /// Heat capacity, J/(kg K).
    pub heat_capacity_j_kg_k: f64,
    /// Emissivity of its outside for heat, 0 to 1.
    pub emissivity: f64,
    /// Source key.
    pub source: String,
}

/// The wall.
#[derive(Clone, Debug, PartialEq)]
pub struct Wall {
    /// Material.
    pub material: WallMaterial,
    /// Thickness, m.
    pub thickness_m: f64,
}

/// An impeller in a vessel.
#[derive(Clone, Debug, PartialEq)]
pub struct Impeller {
    /// What kind it is, with its numbers.
    pub kind: ImpellerKind,
    /// Diameter, m.
    pub diameter_m: f64,
    /// Height of a blade along the shaft before it is tilted, m.
    pub blade_m: f64,
    /// Blades.
    pub blades: u32,
    /// Tilt of the blades against the plane of rotation, degrees: 90 stands upright.
    pub angle_deg: f64,
    /// Height of its middle above the lowest point of the bottom, m.
    pub clearance_m: f64,
    /// How many on the shaft.
    pub count: u32,
    /// It stands off the middle or slanted, so that the liquid does not turn as a whole.
    pub off_centre: bool,
    /// Power number of turbulent flow that somebody measured or its maker stated.
    pub power_number: Option<f64>,
}

/// A vessel with what stands in it; SI. Every vessel that exists can be: sizes were looked at when it was made.
#[derive(Clone, Debug, PartialEq)]
pub struct Vessel {
    words: String,
    diameter_m: f64,
    height_m: f64,
    bottom: Bottom,
    baffles: Option<Baffles>,
    jacket: Option<Jacket>,
    wall: Option<Wall>,
    impeller: Option<Impeller>,
}

/// How a batch stands in a vessel.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Filling {
    /// Volume, m3.
    pub volume_m3: f64,
    /// Depth at the deepest, m.
    pub depth_m: f64,
    /// Free surface, m2.
    pub surface_m2: f64,
    /// Wall and bottom that are wetted, m2.
    pub wetted_m2: f64,
    /// Wetted and heated or cooled by a jacket, m2; zero without one.
    pub jacketed_m2: f64,
    /// Depth of a cylinder of the same volume, m: what correlations for flat bottoms call the depth.
    pub cylinder_m: f64,
}

/// Why there is no such vessel, or no such batch in it.
#[derive(Clone, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum VesselError {
    /// A size outside what can be meant.
    #[error("{field} is {value} {unit}: it lies between {low} and {high}")]
    Size {
        /// Field.
        field: &'static str,
        /// As given.
        value: f64,
        /// Least.
        low: f64,
        /// Most.
        high: f64,
        /// Unit.
        unit: &'static str,
    },
    /// A size that does not fit into another.
    #[error("{field} of {value_mm:.0} mm does not fit: {within} is {limit_mm:.0} mm")]
    DoesNotFit {
        /// Field.
        field: &'static str,
        /// As given, mm.
        value_mm: f64,
        /// What it must fit into.
        within: &'static str,
        /// Its size, mm.
        limit_mm: f64,
    },
    /// A kind or material that nobody defines.
    #[error("`{key}` is not {what} that is known: {}", known.join(", "))]
    Unknown {
        /// As given.
        key: String,
        /// `an impeller`, `a wall material`.
        what: &'static str,
        /// Keys there are.
        known: Vec<String>,
    },
    /// More than it holds.
    #[error("{asked_l:.3} L do not go into the vessel, which holds {holds_l:.3} L to its rim")]
    TooFull {
        /// Asked, L.
        asked_l: f64,
        /// To the rim, L.
        holds_l: f64,
    },
    /// No volume.
    #[error("a batch of {volume_l} L is none")]
    Empty {
        /// Asked, L.
        volume_l: f64,
    },
}

impl VesselError {
    /// What to do about it.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            Self::Size { .. } => "check the size and its unit: sizes of vessels and impellers are in mm",
            Self::DoesNotFit { .. } => "measure again inside the vessel, or choose a smaller impeller",
            Self::Unknown { .. } => "use one of the keys listed, or add a record of your own with its source",
            Self::TooFull { .. } => {
                "choose a larger vessel: a working fill of 60 to 80 % leaves room for vortex and foam"
            }
            Self::Empty { .. } => "give the batch a mass above zero",
        }
    }

    /// The field it speaks of, where there is one.
    #[must_use]
    pub fn field(&self) -> Option<&'static str> {
        match self {
            Self::Size { field, .. } | Self::DoesNotFit { field, .. } => Some(field),
            Self::Unknown { what, .. } => Some(if *what == "an impeller" { "impeller" } else { "wall" }),
            Self::TooFull { .. } | Self::Empty { .. } => None,
        }
    }
}

impl Vessel {
    /// A bare round vessel: no baffles, jacket, wall or impeller yet.
    ///
    /// # Errors
    /// [`VesselError`] when a size cannot be: diameter 10 mm to 10 m, height 10 mm to 20 m, the bottom no deeper than the vessel.
    pub fn new(
        words: impl Into<String>,
        diameter_m: f64,
        height_m: f64,
        bottom: Bottom,
    ) -> Result<Self, VesselError> {
        within("diameter_mm", 1e3 * diameter_m, [10.0, 10_000.0], "mm")?;
        within("height_mm", 1e3 * height_m, [10.0, 20_000.0], "mm")?;
        let bottom =
            if bottom.shape == BottomShape::Flat { Bottom { depth_m: 0.0, ..bottom } } else { bottom };
        if bottom.shape != BottomShape::Flat {
            within("bottom.depth_mm", 1e3 * bottom.depth_m, [1.0, 10_000.0], "mm")?;
        }
        fits("bottom.depth_mm", bottom.depth_m, "the height", height_m)?;
        Ok(Self {
            words: words.into(),
            diameter_m,
            height_m,
            bottom,
            baffles: None,
            jacket: None,
            wall: None,
            impeller: None,
        })
    }

    /// The same with baffles.
    ///
    /// # Errors
    /// [`VesselError`] when there are more than twelve or they meet in the middle.
    pub fn with_baffles(mut self, baffles: Baffles) -> Result<Self, VesselError> {
        within("baffles.count", f64::from(baffles.count), [1.0, 12.0], "")?;
        within("baffles.width_mm", 1e3 * baffles.width_m, [1.0, 2000.0], "mm")?;
        fits("baffles.width_mm", baffles.width_m, "a quarter of the diameter", 0.25 * self.diameter_m)?;
        self.baffles = Some(baffles);
        Ok(self)
    }

    /// The same with a jacket.
    ///
    /// # Errors
    /// [`VesselError`] when it reaches above the rim.
    pub fn with_jacket(mut self, jacket: Jacket) -> Result<Self, VesselError> {
        within("jacket.to_mm", 1e3 * jacket.to_m, [1.0, 20_000.0], "mm")?;
        fits("jacket.to_mm", jacket.to_m, "the height", self.height_m)?;
        self.jacket = Some(jacket);
        Ok(self)
    }

    /// The same with a wall.
    ///
    /// # Errors
    /// [`VesselError`] when its thickness or conductivity cannot be.
    pub fn with_wall(mut self, wall: Wall) -> Result<Self, VesselError> {
        within("wall.thickness_mm", 1e3 * wall.thickness_m, [0.05, 100.0], "mm")?;
        within("wall.conductivity_w_m_k", wall.material.conductivity_w_m_k, [0.01, 500.0], "W/(m K)")?;
        self.wall = Some(wall);
        Ok(self)
    }

    /// The same with an impeller.
    ///
    /// # Errors
    /// [`VesselError`] when it is wider than the vessel or stands above its rim.
    pub fn with_impeller(mut self, impeller: Impeller) -> Result<Self, VesselError> {
        within("impeller.diameter_mm", 1e3 * impeller.diameter_m, [2.0, 9990.0], "mm")?;
        fits(
            "impeller.diameter_mm",
            impeller.diameter_m,
            "the inner diameter less a millimetre",
            self.diameter_m - 0.001,
        )?;
        within("impeller.blade_mm", 1e3 * impeller.blade_m, [0.5, 20_000.0], "mm")?;
        fits("impeller.blade_mm", impeller.blade_m, "the height", self.height_m)?;
        within("impeller.blades", f64::from(impeller.blades), [1.0, 24.0], "")?;
        within("impeller.angle_deg", impeller.angle_deg, [5.0, 90.0], "degrees")?;
        within("impeller.clearance_mm", 1e3 * impeller.clearance_m, [0.0, 20_000.0], "mm")?;
        fits("impeller.clearance_mm", impeller.clearance_m, "the height", self.height_m)?;
        within("impeller.count", f64::from(impeller.count), [1.0, 6.0], "")?;
        if let Some(number) = impeller.power_number {
            within("impeller.power_number", number, [0.02, 30.0], "")?;
        }
        self.impeller = Some(impeller);
        Ok(self)
    }

    /// Its name.
    #[must_use]
    pub fn words(&self) -> &str {
        &self.words
    }

    /// Inner diameter, m.
    #[must_use]
    pub fn diameter_m(&self) -> f64 {
        self.diameter_m
    }

    /// Inner height to the rim, m.
    #[must_use]
    pub fn height_m(&self) -> f64 {
        self.height_m
    }

    /// Bottom.
    #[must_use]
    pub fn bottom(&self) -> Bottom {
        self.bottom
    }

    /// Baffles, where there are any.
    #[must_use]
    pub fn baffles(&self) -> Option<Baffles> {
        self.baffles
    }

    /// Jacket, where there is one.
    #[must_use]
    pub fn jacket(&self) -> Option<Jacket> {
        self.jacket
    }

    /// Wall, where it is known.
    #[must_use]
    pub fn wall(&self) -> Option<&Wall> {
        self.wall.as_ref()
    }

    /// Impeller, where there is one.
    #[must_use]
    pub fn impeller(&self) -> Option<&Impeller> {
        self.impeller.as_ref()
    }

    /// Whether the liquid is kept from turning as a whole: by baffles or an impeller off the middle.
    #[must_use]
    pub fn swirl_is_broken(&self) -> bool {
        self.baffles.is_some() || self.impeller.as_ref().is_some_and(|impeller| impeller.off_centre)
    }

    /// Volume up to a depth at the deepest point, m3.
    #[must_use]
    pub fn volume_m3(&self, depth_m: f64) -> f64 {
        let area = 0.25 * PI * self.diameter_m.powi(2);
        let deep = self.bottom.depth_m;
        let below = depth_m.clamp(0.0, deep);
        let bottom = match self.bottom.shape {
            BottomShape::Flat => 0.0,
            BottomShape::Dished => area * below.powi(2) * (3.0 * deep - below) / (3.0 * deep.powi(2)),
            BottomShape::Cone => area * below.powi(3) / (3.0 * deep.powi(2)),
        };
        bottom + area * (depth_m - deep).max(0.0)
    }

    /// Volume to the rim, m3.
    #[must_use]
    pub fn brim_m3(&self) -> f64 {
        self.volume_m3(self.height_m)
    }

    /// How a batch stands in it.
    ///
    /// # Errors
    /// [`VesselError::TooFull`] or [`VesselError::Empty`].
    pub fn filled(&self, volume_m3: f64) -> Result<Filling, VesselError> {
        if !(volume_m3.is_finite() && volume_m3 > 0.0) {
            return Err(VesselError::Empty { volume_l: 1e3 * volume_m3 });
        }
        let brim = self.brim_m3();
        if volume_m3 > brim {
            return Err(VesselError::TooFull { asked_l: 1e3 * volume_m3, holds_l: 1e3 * brim });
        }
        let depth = self.depth_of(volume_m3);
        Ok(Filling {
            volume_m3,
            depth_m: depth,
            surface_m2: PI * self.radius_at(depth).powi(2),
            wetted_m2: self.wall_m2(0.0, depth),
            jacketed_m2: self.jacket.map_or(0.0, |jacket| {
                let from = if jacket.bottom { 0.0 } else { self.bottom.depth_m };
                let to = jacket.to_m.min(depth);
                // A jacket round the side only leaves a flat bottom free.
                let round = self.wall_m2(from, to.max(from));
                if !jacket.bottom && self.bottom.shape == BottomShape::Flat {
                    round - 0.25 * PI * self.diameter_m.powi(2)
                } else {
                    round
                }
                .max(0.0)
            }),
            cylinder_m: volume_m3 / (0.25 * PI * self.diameter_m.powi(2)),
        })
    }

    fn depth_of(&self, volume_m3: f64) -> f64 {
        let deep = self.bottom.depth_m;
        let held = self.volume_m3(deep);
        if volume_m3 >= held {
            return deep + (volume_m3 - held) / (0.25 * PI * self.diameter_m.powi(2));
        }
        let (mut low, mut high) = (0.0, deep);
        for _ in 0..60 {
            let middle = 0.5 * (low + high);
            if self.volume_m3(middle) < volume_m3 {
                low = middle;
            } else {
                high = middle;
            }
        }
        0.5 * (low + high)
    }

    /// Radius of the inside at a height above the lowest point, m.
    #[must_use]
    pub fn radius_at(&self, height_m: f64) -> f64 {
        let (radius, deep) = (0.5 * self.diameter_m, self.bottom.depth_m);
        if height_m >= deep {
            return radius;
        }
        let share = (height_m / deep).clamp(0.0, 1.0);
        match self.bottom.shape {
            BottomShape::Flat => radius,
            BottomShape::Dished => radius * (1.0 - (1.0 - share).powi(2)).sqrt(),
            BottomShape::Cone => radius * share,
        }
    }

    /// Inside of the wall and bottom between two heights above the lowest point, m2; a flat bottom counts where the range starts at it.
    fn wall_m2(&self, from_m: f64, to_m: f64) -> f64 {
        let (radius, deep) = (0.5 * self.diameter_m, self.bottom.depth_m);
        let (low, high) = (from_m.clamp(0.0, deep), to_m.clamp(0.0, deep));
        let bottom = match self.bottom.shape {
            BottomShape::Flat if from_m <= 0.0 => PI * radius.powi(2),
            BottomShape::Flat => 0.0,
            BottomShape::Cone => {
                let slant = radius.root_sum_square(deep) / deep;
                PI * radius * slant * (high.powi(2) - low.powi(2)) / deep
            }
            // In u, the height below the rim of the bottom over its depth, the ring is smooth.
            BottomShape::Dished => integral::over(1.0 - high / deep, 1.0 - low / deep, 20, |u| {
                2.0 * PI * radius * ((radius * u).powi(2) + deep.powi(2) * (1.0 - u * u)).sqrt()
            }),
        };
        let side = 2.0 * PI * radius * (to_m.max(deep) - from_m.max(deep));
        bottom + side
    }
}

fn within(
    field: &'static str,
    value: f64,
    [low, high]: [f64; 2],
    unit: &'static str,
) -> Result<(), VesselError> {
    if (low..=high).contains(&value) {
        Ok(())
    } else {
        Err(VesselError::Size { field, value, low, high, unit })
    }
}

fn fits(field: &'static str, value_m: f64, within: &'static str, limit_m: f64) -> Result<(), VesselError> {
    if value_m <= limit_m {
        Ok(())
    } else {
        Err(VesselError::DoesNotFit { field, value_mm: 1e3 * value_m, within, limit_mm: 1e3 * limit_m })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn vessel(shape: BottomShape, depth_m: f64) -> Vessel {
        Vessel::new("test", 1.0, 1.5, Bottom { shape, depth_m }).unwrap()
    }

    #[test]
    fn a_cylinder_is_a_cylinder() {
        let beaker = vessel(BottomShape::Flat, 0.3);
        let filling = beaker.filled(0.25 * PI).unwrap();
        assert!((filling.depth_m - 1.0).abs() < 1e-12 && (filling.cylinder_m - 1.0).abs() < 1e-12);
        assert!((filling.wetted_m2 - 1.25 * PI).abs() < 1e-12);
        assert!((filling.surface_m2 - 0.25 * PI).abs() < 1e-12);
        assert_eq!(filling.jacketed_m2, 0.0);
        let jacket = beaker.with_jacket(Jacket { bottom: false, to_m: 0.8 }).unwrap();
        assert!((jacket.filled(0.25 * PI).unwrap().jacketed_m2 - 0.8 * PI).abs() < 1e-12);
        assert!((jacket.filled(0.125 * PI).unwrap().jacketed_m2 - 0.5 * PI).abs() < 1e-12);
    }

    #[test]
    fn half_a_ball_a_spheroid_and_a_cone_by_their_closed_forms() {
        let ball = vessel(BottomShape::Dished, 0.5);
        assert!((ball.volume_m3(0.5) - PI / 12.0).abs() < 1e-12);
        assert!((ball.filled(PI / 12.0).unwrap().wetted_m2 - 0.5 * PI).abs() < 1e-9);
        // Half of an oblate spheroid, a 0.5, c 0.25: pi a^2 (1 + (1 - e^2)/e artanh e), e = sqrt(3)/2.
        let dish = vessel(BottomShape::Dished, 0.25);
        assert!((dish.volume_m3(0.25) - PI / 24.0).abs() < 1e-12);
        let e = 0.75_f64.sqrt();
        let closed = PI * 0.25 * (1.0 + 0.25 / e * e.atanh());
        assert!((dish.filled(PI / 24.0).unwrap().wetted_m2 - closed).abs() < 1e-8);
        let cone = vessel(BottomShape::Cone, 0.5);
        assert!((cone.volume_m3(0.5) - PI * 0.25 * 0.5 / 3.0).abs() < 1e-12);
        let slant = PI * 0.5 * 0.5_f64.sqrt();
        assert!((cone.filled(cone.volume_m3(0.5)).unwrap().wetted_m2 - slant).abs() < 1e-9);
    }

    #[test]
    fn what_cannot_be_is_refused_with_the_field() {
        let flat = Bottom { shape: BottomShape::Flat, depth_m: 0.0 };
        assert_eq!(Vessel::new("", f64::NAN, 1.0, flat).unwrap_err().field(), Some("diameter_mm"));
        let beaker = vessel(BottomShape::Flat, 0.0);
        let wide = beaker.clone().with_baffles(Baffles { count: 4, width_m: 0.3 }).unwrap_err();
        assert!(matches!(wide, VesselError::DoesNotFit { .. }));
        assert!(matches!(beaker.filled(2.0), Err(VesselError::TooFull { .. })));
        assert!(matches!(beaker.filled(0.0), Err(VesselError::Empty { .. })));
    }

    proptest! {
        #[test]
        fn depth_and_volume_are_each_others_inverse(
            shape in prop_oneof![Just(BottomShape::Flat), Just(BottomShape::Dished), Just(BottomShape::Cone)],
            deep in 0.05..0.5_f64, depth in 0.01..1.5_f64,
        ) {
            let vessel = vessel(shape, deep);
            let filling = vessel.filled(vessel.volume_m3(depth)).unwrap();
            prop_assert!((filling.depth_m - depth).abs() < 1e-9);
            prop_assert!(filling.wetted_m2 >= filling.surface_m2 - 1e-9);
        }
    }
}
