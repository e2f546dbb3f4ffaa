//! The readings of flow.

use levigate_measure::Grade;
use levigate_measure::Outcome;
use levigate_measure::written::{Described, Description, Figure, result};
use serde::{Serialize, Serializer};

struct Temperature;
impl Described for Temperature {
    const OF: Description = Description::computed("C", "temperature of the brief, 25 C where it says none")
        .graded(Grade::Measured)
        .proved_by("as typed");
}

struct Window;
impl Described for Window {
    const OF: Description =
        Description::computed("1/s", "shear rates that the evidence of every thickener covers")
            .proved_by("the tightest range of all families");
}

struct Viscosity;
impl Described for Viscosity {
    const OF: Description = Description::computed("Pa s", "flow of the composition")
        .graded(Grade::RuleOfThumb)
        .covering(0.95)
        .by("eta = k eta_s (1 + E), sum of c_i / C_i(E) = 1")
        .proved_by("tests/published/flow_prediction.toml");
}

struct ShearRate;
impl Described for ShearRate {
    const OF: Description =
        Description::computed("1/s", "point of the table").proved_by("chosen, not computed");
}

/// How the formula flows.
#[derive(Clone, Debug, Serialize)]
pub struct FlowReading {
    /// Temperature, C.
    #[serde(serialize_with = "result::<Temperature, _, _>")]
    pub temperature_c: f64,
    /// How `at_brief` is meant: spindle and speed, or the shear rate.
    pub condition: String,
    /// Viscosity as the brief speaks of it, mPa s: what the spindle shows, else the viscosity at a stated shear rate.
    pub at_brief: Outcome,
    /// Viscosity of the solvent without polymer, mPa s.
    pub solvent: Outcome,
    /// Viscosity at rest, Pa s; refused where there is a yield stress.
    pub at_rest: Outcome,
    /// Yield stress, Pa.
    pub yield_stress: Outcome,
    /// Thickeners.
    pub thickeners: Vec<ThickenerReading>,
    /// Viscosity over shear rate; empty where a thickener is not known.
    pub curve: Vec<CurvePoint>,
    /// Shear rates that the evidence covers, 1/s.
    #[serde(serialize_with = "result::<Window, _, _>")]
    pub window: [f64; 2],
}

/// One thickener.
#[derive(Clone, Debug, Serialize)]
pub struct ThickenerReading {
    /// Lines.
    pub lines: Vec<usize>,
    /// Raw material key.
    pub material: String,
    /// Raw material name.
    pub name: String,
    /// Name of its family.
    pub family: String,
    /// Dose in the water phase, g/dL.
    pub dose: Outcome,
    /// Viscosity it would give alone at the shear rate of the condition, mPa s.
    pub alone: Outcome,
}

/// One point of the curve.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CurvePoint {
    /// Shear rate, 1/s.
    pub shear_rate: f64,
    /// Lowest, best and highest viscosity, Pa s; the ends hold it with a probability of 0.95.
    pub viscosity_pa_s: [f64; 3],
}

impl Serialize for CurvePoint {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        #[derive(Serialize)]
        struct Point {
            shear_rate: Figure,
            viscosity: Figure,
        }
        let [low, best, high] = self.viscosity_pa_s;
        Point {
            shear_rate: Figure::new(self.shear_rate, const { &ShearRate::OF }),
            viscosity: Figure::new(best, const { &Viscosity::OF }).within(low, high),
        }
        .serialize(serializer)
    }
}
