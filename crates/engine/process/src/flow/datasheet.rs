//! What is written about thickeners and what it says about the parameters of their laws.
//!
//! ```text
//! reading      R = tau(k_N(n) N) / (k_N(1) N)          what a disc spindle at N rpm shows, through the inverse spindle model
//! before       theta ~ (family values, family spreads), the strength unknown within a factor of twenty around the first reading's
//! after        by `measure::belief` from every reading, as ln R with the standard deviation r
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | R | middle of the datasheet's range on a logarithmic scale | Pa s |
//! | r | a quarter of the range on that scale: the range is taken to hold 95 % of all lots; with the doubt of the spindle added | - |
//! | tau, k_N, n | stress, shear rate per rpm, flow index (see `spindle`) | Pa, 1/s, - |
//!
//! So a datasheet is evidence of the same kind as a measurement: two values at two doses also teach the exponent of the dose. A later
//! measurement of a lot goes on from the belief that results. Case: `tests/published/flow_prediction.toml`.

use super::blend::Knowledge;
use super::liquid::Liquid;
use super::solvent::{Cosolvent, glycerol_water};
use super::spindle::DiscSpindle;
use super::thickener::{Growth, Law, Reference, Response, Surroundings, Theta, Thickening};
use levigate_measure::belief::{Belief, BeliefError, Measurement};
use levigate_measure::elementary::Elementary as _;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// A value that spans decades: its spread is a factor, one standard deviation.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Scale {
    /// Value.
    pub value: f64,
    /// Factor of one standard deviation, at least 1.
    pub factor: f64,
    /// Source key.
    pub source: String,
}

/// A value with a standard deviation in its own unit.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Spread {
    /// Value.
    pub value: f64,
    /// Standard deviation.
    pub spread: f64,
    /// Source key.
    pub source: String,
}

/// What the evidence of a family covers.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Evidence {
    /// Doses, g/dL of water phase.
    pub dose_g_dl: [f64; 2],
    /// Shear rates, 1/s.
    pub shear_rate: [f64; 2],
    /// pH.
    pub ph: [f64; 2],
    /// Temperatures, C.
    pub temperature_c: [f64; 2],
    /// Highest ionic strength, mol/kg.
    pub ionic_strength: f64,
    /// Source key.
    pub source: String,
}

/// `[[flow_family]]`: thickeners that follow one law with parameters alike.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Family {
    /// Key.
    pub key: String,
    /// Name.
    pub name: String,
    /// Law.
    pub law: LawWord,
    /// Growth of the plateau; coils only.
    #[serde(default)]
    pub growth: Option<Growth>,
    /// Source of law and growth.
    pub source: String,
    /// Evidence grade of a prediction with it: `correlated` or `rule-of-thumb`.
    pub grade: GradeWord,
    /// What the parameters are for.
    pub reference: Reference,
    /// Exponent of the dose: coils beside that of the growth (0), rods of the stress, microgels of the yield stress.
    pub dose_exponent: Spread,
    /// Coils: stress at which thinning sets in at 1 g/dL, Pa. Rods and microgels: shear rate at the reference dose, 1/s.
    pub critical: Scale,
    /// Exponent of the dose in it.
    pub critical_exponent: Spread,
    /// Coils and rods: one less the flow index. Microgels: flow index.
    pub thinning: Spread,
    /// Heat of activation beyond that of the solvent, kJ/mol.
    pub heat_kj_mol: Spread,
    /// Coils and rods: exponent of the ionic strength.
    #[serde(default)]
    pub salt_exponent: Option<Spread>,
    /// Microgels: added ionic strength that halves the yield stress, mol/kg.
    #[serde(default)]
    pub salt_half_mol_kg: Option<Scale>,
    /// Acid groups must be dissociated for it to thicken.
    #[serde(default)]
    pub neutralise: bool,
    /// Standard deviation of ln stress that the law itself carries inside its evidence.
    pub model_spread: f64,
    /// What it covers.
    pub evidence: Evidence,
    /// What a reader must know, in words.
    #[serde(default)]
    pub remarks: Vec<levigate_measure::Sourced<String>>,
}

/// Law as written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum LawWord {
    /// Disordered chain.
    Coil,
    /// Stiff chain or weak gel.
    Rod,
    /// Swollen particles.
    Microgel,
}

/// Grade as written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum GradeWord {
    /// From a published correlation.
    Correlated,
    /// Trade habit or an estimate from few facts.
    RuleOfThumb,
}

/// One value on a datasheet.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Datasheet {
    /// Percent w/w in water.
    pub percent: f64,
    /// Of dry polymer rather than of the powder as supplied.
    #[serde(default)]
    pub dry: bool,
    /// Range, mPa.s.
    pub mpa_s: [f64; 2],
    /// Temperature, C.
    pub temperature_c: f64,
    /// Key of the disc spindle; none: a disc of unknown size, or a narrow gap where `shear_rate` is given.
    #[serde(default)]
    pub spindle: Option<String>,
    /// Speed, rpm.
    #[serde(default)]
    pub speed_rpm: Option<f64>,
    /// Shear rate where the value was read at one, 1/s.
    #[serde(default)]
    pub shear_rate: Option<f64>,
    /// Ionic strength of the test solution, mol/kg.
    #[serde(default)]
    pub ionic_strength: Option<f64>,
    /// Source key.
    pub source: String,
}

/// `[[thickener]]`: how a raw material thickens.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Thickener {
    /// Raw material key.
    pub material: String,
    /// Family key.
    pub family: String,
    /// Coils: intrinsic viscosity, dL/g. Rods: stress at the reference dose, microgels: yield stress there, Pa. Where no datasheet says it.
    #[serde(default)]
    pub strength: Option<Scale>,
    /// In the place of the family's.
    #[serde(default)]
    pub critical: Option<Scale>,
    /// In the place of the family's.
    #[serde(default)]
    pub thinning: Option<Spread>,
    /// In the place of the family's.
    #[serde(default)]
    pub dose_exponent: Option<Spread>,
    /// Values on datasheets.
    #[serde(default)]
    pub datasheet: Vec<Datasheet>,
    /// Temperature range above which it gels or comes out, C.
    #[serde(default)]
    pub gels_above_c: Option<Range>,
}

/// A closed range with its source.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Range {
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
    /// Source key.
    pub source: String,
}

/// Why a thickener's record gives no parameters.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum DatasheetError {
    /// Neither a strength nor a datasheet value.
    #[error("neither a strength nor a datasheet value is given")]
    NoStrength,
    /// A coil without growth, or another law with one.
    #[error("a growth belongs to a coil and to nothing else")]
    Growth,
    /// The wrong kind of salt effect.
    #[error("a coil or rod has a salt_exponent, a microgel salt_half_mol_kg")]
    Salt,
    /// A number that cannot be.
    #[error("{field} {value} cannot be")]
    Number {
        /// Field.
        field: &'static str,
        /// As written.
        value: f64,
    },
    /// A reading that says neither speed nor shear rate.
    #[error("a datasheet value needs speed_rpm or shear_rate, and not both")]
    Condition,
    /// A spindle that no record defines.
    #[error("spindle `{key}` is not defined")]
    Spindle {
        /// Key.
        key: String,
    },
    /// The datasheet values cannot be brought together with the family.
    #[error("the datasheet values teach nothing: {0}")]
    Belief(BeliefError),
    /// No strength reaches the reading.
    #[error("no strength of the law gives {mpa_s} mPa.s at {percent} %")]
    OutOfReach {
        /// Middle of the range, mPa.s.
        mpa_s: f64,
        /// Dose, %.
        percent: f64,
    },
}

/// `[[synergy]]`: two families that gain together.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SynergyFact {
    /// Keys of the two families, or of two raw materials.
    pub between: [String; 2],
    /// Logarithm of the factor at equal shares, with its standard deviation.
    pub strength: Spread,
}

/// A thickener with its family, law and what is known of its parameters.
#[derive(Clone, Debug, PartialEq)]
pub struct Understood {
    /// As written.
    pub record: Thickener,
    /// Its family.
    pub family: Family,
    /// Law.
    pub law: Thickening,
    /// Parameters with their spread.
    pub knowledge: Knowledge,
}

/// Facts of flow.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct FlowFacts {
    /// What makes water thicker, by substance.
    pub cosolvents: BTreeMap<String, Cosolvent>,
    /// Families.
    pub families: BTreeMap<String, Family>,
    /// Thickeners by raw material.
    pub thickeners: BTreeMap<String, Understood>,
    /// Pairs that gain together.
    pub synergies: Vec<SynergyFact>,
}

/// Standard deviation of ln reading for a disc of unknown size: the one line for all discs misses some by a quarter.
const UNKNOWN_DISC: f64 = 0.15;
/// Density of a dilute solution, g/mL: percent to g/dL.
const SOLUTION_G_ML: f64 = 1.0;

impl DatasheetError {
    /// What to do about it.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            Self::NoStrength => "add a datasheet value (range, percent, temperature, speed), or a strength",
            Self::Growth => "give `growth` to a coil, and only to it",
            Self::Salt => "give the one of the two that the law takes",
            Self::Number { .. } => "write a finite number above zero, ranges from low to high",
            Self::Condition => "say at which speed, or at which shear rate, the value was read",
            Self::Spindle { .. } => {
                "use the key of a [[spindle]], or leave it out for a disc of unknown size"
            }
            Self::Belief(error) => error.hint(),
            Self::OutOfReach { .. } => "look at the unit (mPa.s) and the percent",
        }
    }
}

impl Datasheet {
    /// Dose, g/dL, for a share of the polymer in the powder from 0 to 1.
    #[must_use]
    pub fn dose(&self, active_share: f64) -> f64 {
        self.percent * SOLUTION_G_ML * if self.dry { 1.0 } else { active_share }
    }

    /// What the thickener finds around it in the test solution.
    #[must_use]
    pub fn surroundings(&self, reference: &Reference) -> Surroundings {
        let water = glycerol_water(0.0, self.temperature_c);
        let salt = self.ionic_strength.unwrap_or(reference.ionic_strength);
        Surroundings {
            temperature_c: self.temperature_c,
            solvent_pa_s: water,
            water_pa_s: water,
            ionic_strength: salt,
            // A datasheet is written for the neutralised gel in plain water.
            added_salt: self.ionic_strength.unwrap_or(0.0),
            dissociated: 1.0,
        }
    }
}

/// A response in its solvent.
#[derive(Clone, Copy, Debug)]
struct InSolvent {
    response: Response,
    solvent_pa_s: f64,
}

impl Liquid for InSolvent {
    fn stress(&self, shear_rate: f64) -> f64 {
        self.response.stress(shear_rate) + self.solvent_pa_s * shear_rate
    }

    fn yield_stress(&self) -> f64 {
        self.response.yield_stress()
    }
}

/// What a disc spindle shows, Pa s: the shear rate settles with the slope of the curve at it.
#[must_use]
pub fn dial_viscosity(liquid: &dyn Liquid, spindle: Option<&DiscSpindle>, rpm: f64) -> f64 {
    let factor = |index: f64| match spindle {
        Some(spindle) => spindle.rate_factor(index),
        None => one_line(index.clamp(0.1, 1.0)),
    };
    let index = |rate: f64| (liquid.stress(rate * 1.01) / liquid.stress(rate)).log_e() / 1.01_f64.log_e();
    let miss = |ln_rate: f64| (factor(index(ln_rate.exp_e())) * rpm).log_e() - ln_rate;
    // A secant; the first step supposes that the index stays.
    let mut before = (factor(0.5) * rpm).log_e();
    let mut miss_before = miss(before);
    let mut here = before + miss_before;
    for _ in 0..20 {
        let miss_here = miss(here);
        let slope = (miss_here - miss_before) / (here - before);
        if miss_here.abs() < 1e-11 || !slope.is_finite() || slope >= 0.0 {
            break;
        }
        (before, miss_before) = (here, miss_here);
        here -= miss_here / slope;
    }
    let stress = liquid.stress(here.exp_e());
    match spindle {
        Some(spindle) => stress / spindle.stress_pa_per_percent / 100.0 * spindle.full_scale_pa_s_rpm / rpm,
        None => stress / (one_line(1.0) * rpm),
    }
}

/// Shear rate for each rpm by the one line for all discs, 1/s (Briggs and Steffe, J. Texture Studies 28 (1997) 517, from memory).
fn one_line(index: f64) -> f64 {
    0.263 * index.to_the(-0.771)
}

/// Law and parameters out of a family, a record and its datasheet values. `active_share` is the share of the polymer in the powder, 0 to 1.
///
/// # Errors
/// [`DatasheetError`] for records that contradict themselves or readings no strength reaches.
pub fn learn(
    family: &Family,
    record: &Thickener,
    active_share: f64,
    spindle: impl Fn(&str) -> Option<DiscSpindle>,
) -> Result<(Thickening, Knowledge), DatasheetError> {
    let law = law(family)?;
    let thickening = Thickening { law, reference: family.reference };
    let dose_exponent = record.dose_exponent.as_ref().unwrap_or(&family.dose_exponent);
    let critical = record.critical.as_ref().unwrap_or(&family.critical);
    let thinning = record.thinning.as_ref().unwrap_or(&family.thinning);
    let (salt, salt_spread) = match (&family.salt_exponent, &family.salt_half_mol_kg) {
        (Some(salt), None) if law != Law::Microgel => (salt.value, salt.spread),
        (None, Some(salt)) if law == Law::Microgel => (salt.value.log_e(), salt.factor.log_e()),
        _ => return Err(DatasheetError::Salt),
    };
    for (field, scale) in
        [("critical", critical)].into_iter().chain(record.strength.iter().map(|one| ("strength", one)))
    {
        if !(scale.value > 0.0 && scale.value.is_finite() && scale.factor >= 1.0 && scale.factor.is_finite())
        {
            return Err(DatasheetError::Number { field, value: scale.value });
        }
    }
    let mut theta = [
        record.strength.as_ref().map_or(0.0, |one| one.value.log_e()),
        dose_exponent.value,
        critical.value.log_e(),
        family.critical_exponent.value,
        thinning.value,
        family.heat_kj_mol.value,
        salt,
    ];
    let spreads = [
        record.strength.as_ref().map_or(3.0, |one| one.factor.log_e()),
        dose_exponent.spread,
        critical.factor.log_e(),
        family.critical_exponent.spread,
        thinning.spread,
        family.heat_kj_mol.spread,
        salt_spread,
    ];
    let mut readings = Vec::new();
    for sheet in &record.datasheet {
        readings.push(Reading::of(sheet, active_share, &family.reference, &spindle)?);
    }
    match (readings.first(), &record.strength) {
        (None, None) => return Err(DatasheetError::NoStrength),
        (Some(first), None) => theta[0] = first.strength(&thickening, theta)?,
        _ => {}
    }
    let belief = Belief::independent(theta.to_vec(), &spreads).map_err(DatasheetError::Belief)?;
    let measurements: Vec<Measurement> =
        readings.iter().map(|one| Measurement { value: one.ln_middle, deviation: one.spread }).collect();
    let learned = belief
        .learn(&measurements, |numbers, predictions| {
            let theta: Theta = std::array::from_fn(|place| numbers[place]);
            for (prediction, reading) in predictions.iter_mut().zip(&readings) {
                *prediction = reading.of_law(&thickening, &theta);
            }
            true
        })
        .map_err(DatasheetError::Belief)?;
    Ok((thickening, Knowledge::of(law, learned.belief)))
}

fn law(family: &Family) -> Result<Law, DatasheetError> {
    match (family.law, family.growth) {
        (LawWord::Coil, Some(growth)) => Ok(Law::Coil { growth }),
        (LawWord::Rod, None) => Ok(Law::Rod),
        (LawWord::Microgel, None) => Ok(Law::Microgel),
        _ => Err(DatasheetError::Growth),
    }
}

/// A datasheet value ready for comparison.
struct Reading {
    ln_middle: f64,
    spread: f64,
    dose: f64,
    around: Surroundings,
    spindle: Option<DiscSpindle>,
    at: At,
    percent: f64,
}

#[derive(Clone, Copy)]
enum At {
    Speed(f64),
    Rate(f64),
}

impl Reading {
    fn of(
        sheet: &Datasheet,
        active_share: f64,
        reference: &Reference,
        spindle: &impl Fn(&str) -> Option<DiscSpindle>,
    ) -> Result<Self, DatasheetError> {
        let [low, high] = sheet.mpa_s;
        for (field, value) in [("mpa_s", low), ("percent", sheet.percent)] {
            if !(value > 0.0 && value.is_finite()) {
                return Err(DatasheetError::Number { field, value });
            }
        }
        if !(high >= low && high.is_finite()) {
            return Err(DatasheetError::Number { field: "mpa_s", value: high });
        }
        if !(0.0..=100.0).contains(&sheet.temperature_c) {
            return Err(DatasheetError::Number { field: "temperature_c", value: sheet.temperature_c });
        }
        let at = match (sheet.speed_rpm, sheet.shear_rate) {
            (Some(rpm), None) => At::Speed(rpm),
            (None, Some(rate)) => At::Rate(rate),
            _ => return Err(DatasheetError::Condition),
        };
        let (At::Speed(number) | At::Rate(number)) = at;
        if !(number > 0.0 && number.is_finite()) {
            return Err(DatasheetError::Number { field: "speed_rpm or shear_rate", value: number });
        }
        let disc = match &sheet.spindle {
            Some(key) => Some(spindle(key).ok_or_else(|| DatasheetError::Spindle { key: key.clone() })?),
            None => None,
        };
        let quarter = (high / low).log_e() / 4.0;
        let doubt = match (at, &disc) {
            (At::Speed(_), None) => UNKNOWN_DISC,
            (At::Speed(_), Some(_)) => super::spindle::ACCURACY,
            (At::Rate(_), _) => 0.02,
        };
        Ok(Self {
            ln_middle: 0.5 * (low.log_e() + high.log_e()) - 1000_f64.log_e(),
            spread: quarter.root_sum_square(doubt),
            dose: sheet.dose(active_share),
            around: sheet.surroundings(reference),
            spindle: disc,
            at,
            percent: sheet.percent,
        })
    }

    /// ln of the value the law gives, Pa s.
    fn of_law(&self, law: &Thickening, theta: &Theta) -> f64 {
        let liquid = InSolvent {
            response: law.response(theta, self.dose, &self.around),
            solvent_pa_s: self.around.solvent_pa_s,
        };
        match self.at {
            At::Speed(rpm) => dial_viscosity(&liquid, self.spindle.as_ref(), rpm).log_e(),
            At::Rate(rate) => liquid.viscosity(rate).log_e(),
        }
    }

    /// Strength at which the law gives the value, other parameters as they are.
    fn strength(&self, law: &Thickening, mut theta: Theta) -> Result<f64, DatasheetError> {
        let (mut low, mut high) = (-25.0, 25.0);
        let mut miss = |strength: f64| {
            theta[0] = strength;
            self.of_law(law, &theta) - self.ln_middle
        };
        if !(miss(low) < 0.0 && miss(high) > 0.0) {
            return Err(DatasheetError::OutOfReach {
                mpa_s: self.ln_middle.exp_e() * 1e3,
                percent: self.percent,
            });
        }
        while high - low > 1e-6 {
            let middle = 0.5 * (low + high);
            if miss(middle) < 0.0 { low = middle } else { high = middle }
        }
        Ok(0.5 * (low + high))
    }
}
