//! How the formula flows: solvent, thickeners and drops brought together into a curve with its band, and read as the brief speaks of it.
//!
//! ```text
//! c = 100 p a / V,   V = 100/rho - w_oil/rho_oil          g polymer per dL of water phase, V in mL per 100 g of product
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | p, a | percent of the line; share of the polymer in it, the lot's assay where one is given | %, - |
//! | rho, rho_oil | density of the product, of the oil (0.92) | g/mL |
//!
//! Range: water phases with up to 10 % of oil in drops, read after a night's rest; the network of surfactants, waxes and clays is not seen.
//! Laws: `process::flow::{solvent, thickener, blend}`. Cases: `tests/published/flow_prediction.toml`, `tests/cross/scenarios.toml`.

pub mod learning;
pub mod level;
mod outcomes;
pub mod reading;

pub use learning::Experience;
pub use levigate_process::flow::prediction::Prediction;
pub(crate) use outcomes::{STATED_RATE, dial_of};
pub use reading::{CurvePoint, FlowReading, ThickenerReading};

use crate::assess::{Assessed, Known};
use crate::mixture::Mixture;
use levigate_formula::composition::Composition;
use levigate_formula::library::{InWater, Library};
use levigate_formula::sheet::{Sheet, ViscosityTarget};
use levigate_measure::Outcome;
use levigate_measure::elementary::Elementary as _;
use levigate_process::flow::blend::{Blend, Dosed, Synergy, drops_factor};
use levigate_process::flow::datasheet::{Evidence, FlowFacts, SynergyFact, Understood};
use levigate_process::flow::solvent::{Cosolvent, glycerol_water, mixture};
use levigate_process::flow::spindle::DiscSpindle;
use levigate_process::flow::thickener::Surroundings;
use rust_decimal::prelude::ToPrimitive;
use std::collections::BTreeMap;

/// Density of an oil, g/mL.
pub(crate) const OIL_G_ML: f64 = 0.92;
/// What a dissolved solid of no known viscosity does: ln of the relative viscosity per mass fraction, and its doubt (urea 0.9, salt 1.7, sugar 2.9,
/// from memory).
pub(crate) const ANY_SOLID: [f64; 2] = [1.8, 0.9];
/// Degree of charge from which further counter-ions of polyacrylate stay with the chain: unit spacing over Bjerrum length.
pub(crate) const FREE_CHARGES: f64 = 0.353;

/// What flow needs to know.
#[derive(Clone, Copy, Debug)]
pub struct KnownFlow<'a> {
    /// Solvents and thickeners.
    pub facts: &'a FlowFacts,
    /// Disc spindles.
    pub spindles: &'a BTreeMap<String, DiscSpindle>,
    /// Full-scale torque taken where nobody said, N m.
    pub torque_n_m: Option<f64>,
    /// What the bench of this workspace has taught; none where there is no bench.
    pub bench: Option<Bench<'a>>,
}

/// What the bench has taught, and for which formula it is asked.
#[derive(Clone, Copy, Debug)]
pub struct Bench<'a> {
    /// What was learned.
    pub experience: &'a Experience,
    /// The formula, by the name its trials go under.
    pub formula: &'a str,
}

/// A formula ready for its flow to be computed, and computed again with other parameters.
#[derive(Clone, Debug)]
pub struct Flowing<'a> {
    /// What is predicted.
    pub blend: Blend<'a>,
    /// The thickeners in the order of the blend.
    pub thickeners: Vec<ThickenerIn<'a>>,
    /// Raw materials that thicken in a way nothing is known of: line and name.
    pub not_known: Vec<(usize, String)>,
    /// The same for surfactants and waxes, whose thickening is not predicted.
    pub not_predicted: Vec<(usize, String)>,
    /// Temperature, C.
    pub temperature_c: f64,
    /// Parts of the solvent besides water: substance and mass fraction.
    pub cosolvents: Vec<(&'a Cosolvent, f64)>,
    /// Dissolved solids without a law, mass fraction.
    pub other_solids: f64,
    /// Volume share of the oil.
    pub oil_share: f64,
    /// Viscosity of the solvent with its lowest and highest, Pa s.
    pub solvent_pa_s: [f64; 3],
    /// From what the bench taught about every thickener in it, in words; none where about one it taught nothing.
    pub learned: Option<String>,
}

impl Flowing<'_> {
    /// Takes what the bench has taught into the prediction.
    pub fn learn_from(&mut self, Bench { experience, formula }: Bench<'_>) {
        self.blend.taught = experience.taught(self, formula);
        self.learned = experience.words(self);
    }
}

/// A thickener as the formula has it.
#[derive(Clone, Debug)]
pub struct ThickenerIn<'a> {
    /// What is known.
    pub known: &'a Understood,
    /// Lines it comes from.
    pub lines: Vec<usize>,
    /// Name of the raw material.
    pub name: String,
    /// Lot its first line names; empty where it names none.
    pub lot: String,
    /// Ways in which it stands outside its evidence.
    pub outside: Vec<Outside>,
    /// Dissociated share of its acid groups, where it needs them.
    pub dissociated: Option<f64>,
}

/// A way to stand outside the evidence.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Outside {
    /// What of.
    pub what: Quantity,
    /// Here.
    pub here: f64,
    /// The nearest that is covered.
    pub covered: f64,
}

/// What evidence is limited in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Quantity {
    /// Dose, g/dL.
    Dose,
    /// pH.
    Ph,
    /// Temperature, C.
    Temperature,
    /// Ionic strength, mol/kg.
    Salt,
    /// Polyols and alcohols in the solvent, mass fraction.
    Cosolvent,
}

impl Quantity {
    /// Name and unit.
    #[must_use]
    pub fn words(self) -> (&'static str, &'static str) {
        match self {
            Self::Dose => ("dose", "g/dL"),
            Self::Ph => ("pH", ""),
            Self::Temperature => ("temperature", "C"),
            Self::Salt => ("ionic strength", "mol/kg"),
            Self::Cosolvent => ("polyols in the solvent", "of 1"),
        }
    }
}

/// Most of polyols and alcohols in the solvent that the evidence in water still speaks for.
const MOST_COSOLVENT: f64 = 0.15;

impl Outside {
    /// Standard deviation of ln stress it costs: judgement, no source.
    fn costs(&self) -> f64 {
        let ratio = || (self.here.max(1e-6) / self.covered.max(1e-6)).log_e().abs();
        match self.what {
            Quantity::Dose => 0.5 * ratio(),
            Quantity::Ph => 0.4 * (self.here - self.covered).abs(),
            Quantity::Temperature => 0.02 * (self.here - self.covered).abs(),
            Quantity::Salt => 0.3 * ratio(),
            Quantity::Cosolvent => 1.5 * (self.here - self.covered),
        }
    }
}

fn outside(evidence: &Evidence, found: [f64; 5]) -> Vec<Outside> {
    let [dose, ph, temperature, salt, cosolvent] = found;
    let ranges = [
        (Quantity::Dose, dose, evidence.dose_g_dl),
        (Quantity::Ph, ph, evidence.ph),
        (Quantity::Temperature, temperature, evidence.temperature_c),
        (Quantity::Salt, salt, [0.0, evidence.ionic_strength]),
        (Quantity::Cosolvent, cosolvent, [0.0, MOST_COSOLVENT]),
    ];
    let out = ranges.into_iter().filter(|(_, here, [low, high])| here < low || here > high);
    out.map(|(what, here, [low, high])| Outside { what, here, covered: if here < low { low } else { high } })
        .collect()
}

/// What a formula is, to be made ready.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Ask<'a, 'q> {
    pub(crate) sheet: &'q Sheet,
    pub(crate) composition: &'q Composition,
    pub(crate) mixture: &'q Mixture,
    pub(crate) library: &'a Library,
    pub(crate) density_g_ml: Option<f64>,
    pub(crate) known: KnownFlow<'a>,
}

/// Temperature at which the brief speaks of viscosity, C.
pub(crate) fn brief_temperature(target: Option<&ViscosityTarget>) -> f64 {
    target.and_then(|target| target.temperature_c).and_then(|celsius| celsius.to_f64()).unwrap_or(25.0)
}

/// Makes a formula ready for its flow to be computed at a temperature.
pub(crate) fn ready<'a>(ask: &Ask<'a, '_>, temperature_c: f64) -> Flowing<'a> {
    let phase = &ask.mixture.phase;
    let parts: Vec<(&Cosolvent, f64)> = phase
        .neutral_g
        .iter()
        .filter_map(|(key, grams)| Some((ask.known.facts.cosolvents.get(key)?, *grams)))
        .filter(|(_, grams)| *grams > 0.0)
        .collect();
    let other_g: f64 =
        phase.neutral_g.values().sum::<f64>() - parts.iter().map(|(_, grams)| grams).sum::<f64>();
    let solvent_g = phase.water_g + parts.iter().map(|(_, grams)| grams).sum::<f64>();
    let cosolvents: Vec<(&Cosolvent, f64)> =
        parts.into_iter().map(|(one, grams)| (one, grams / solvent_g.max(1e-9))).collect();
    let other_solids = other_g.max(0.0) / (solvent_g + other_g.max(0.0)).max(1e-9);
    let [mixed, doubt] = mixture(cosolvents.iter().copied(), temperature_c);
    let solvent_pa_s = mixed * (ANY_SOLID[0] * other_solids).exp_e();
    let solvent_spread = doubt.root_sum_square(ANY_SOLID[1] * other_solids);
    let volume_ml = 100.0 / ask.density_g_ml.unwrap_or(1.0);
    let oil_ml = phase.oil_g / OIL_G_ML;
    let water_phase_dl = ((volume_ml - oil_ml) / 100.0).max(1e-6);
    let oil_share = (oil_ml / volume_ml).clamp(0.0, 1.0);
    let cosolvent_share: f64 = cosolvents.iter().map(|(_, share)| share).sum();
    let mut flowing = Flowing {
        blend: Blend {
            solvent_pa_s,
            solvent_spread,
            thickeners: Vec::new(),
            synergies: Vec::new(),
            drops: drops_factor(oil_share),
            drops_spread: 0.5 * drops_factor(oil_share).log_e(),
            taught: None,
        },
        thickeners: Vec::new(),
        learned: None,
        not_known: Vec::new(),
        not_predicted: Vec::new(),
        temperature_c,
        cosolvents,
        other_solids,
        oil_share,
        solvent_pa_s: [-2.0, 0.0, 2.0].map(|z| solvent_pa_s * (z * solvent_spread).exp_e()),
    };
    let water_pa_s = glycerol_water(0.0, temperature_c);
    for (material, (grams, lines)) in doses(ask) {
        let Some(record) = ask.library.materials.get(material) else { continue };
        let Some(known) = ask.known.facts.thickeners.get(material) else {
            let named = lines.iter().map(|line| (*line, record.name.clone()));
            let soft = ["surfactant", "emollient", "emulsifier"]
                .iter()
                .any(|word| record.functions.iter().any(|own| own == word));
            if soft {
                flowing.not_predicted.extend(named)
            } else {
                flowing.not_known.extend(named)
            }
            continue;
        };
        let dose_g_dl = grams / water_phase_dl;
        let (dissociated, own_charges) =
            if known.family.neutralise { charges(ask, record.active.as_deref()) } else { (1.0, 0.0) };
        let ionic_strength = ask.mixture.speciation.ionic_strength;
        let around = Surroundings {
            temperature_c,
            solvent_pa_s,
            water_pa_s,
            ionic_strength,
            added_salt: (ionic_strength - 0.5 * own_charges).max(0.0),
            dissociated,
        };
        let found = [dose_g_dl, ask.mixture.speciation.ph, temperature_c, ionic_strength, cosolvent_share];
        let outside = outside(&known.family.evidence, found);
        let beyond =
            outside.iter().fold(known.family.model_spread, |sum, one| sum.root_sum_square(one.costs()));
        flowing.blend.thickeners.push(Dosed {
            law: known.law,
            knowledge: &known.knowledge,
            dose_g_dl,
            around,
            own: known.family.model_spread,
            beyond,
            window: known.family.evidence.shear_rate,
        });
        let first = lines.first().and_then(|line| ask.sheet.lines().nth(*line));
        flowing.thickeners.push(ThickenerIn {
            known,
            lot: first.and_then(|(_, line)| line.lot.clone()).unwrap_or_default(),
            lines,
            name: record.name.clone(),
            outside,
            dissociated: known.family.neutralise.then_some(dissociated),
        });
    }
    flowing.blend.synergies = synergies(&flowing.thickeners, ask.known.facts);
    if let Some(bench) = ask.known.bench {
        flowing.learn_from(bench);
    }
    flowing
}

/// Grams of polymer per 100 g of product and lines, by raw material, of everything that thickens.
fn doses<'q>(ask: &Ask<'_, 'q>) -> BTreeMap<&'q str, (f64, Vec<usize>)> {
    let mut doses: BTreeMap<&str, (f64, Vec<usize>)> = BTreeMap::new();
    for line in &ask.composition.lines {
        let Some(material) = ask.library.materials.get(&line.material) else { continue };
        let thickens = ask.known.facts.thickeners.contains_key(&line.material)
            || material.functions.iter().any(|function| function == "thickener");
        if !thickens || line.percent <= 0.0 {
            continue;
        }
        let active = line.constituents.iter().find(|part| Some(&part.substance) == material.active.as_ref());
        let share = active.map_or(1.0, |part| part.typical / 100.0);
        let dose = doses.entry(line.material.as_str()).or_default();
        dose.0 += line.percent * share;
        dose.1.push(line.line);
    }
    doses
}

/// Dissociated share of the acid groups of a polymer and its free counter-ions, mol/kg water.
fn charges(ask: &Ask<'_, '_>, active: Option<&str>) -> (f64, f64) {
    let substance = active.and_then(|key| ask.library.substances.get(key));
    let component = substance.and_then(|substance| match &substance.in_water {
        InWater::Polyion { gives_mol_per_kg, .. } => gives_mol_per_kg.keys().find(|name| name.ends_with('-')),
        _ => None,
    });
    let speciation = &ask.mixture.speciation;
    let units = component.map(|component| {
        let free: f64 = speciation
            .species
            .iter()
            .filter(|row| row.components.get("H+").is_some_and(|protons| *protons > 0))
            .filter_map(|row| Some(f64::from(*row.components.get(component)?) * row.molality))
            .sum();
        (speciation.total(component), free)
    });
    match units.filter(|(total, _)| *total > 0.0) {
        Some((total, free)) => {
            let dissociated = (1.0 - free / total).clamp(0.0, 1.0);
            (dissociated, total * dissociated.min(FREE_CHARGES))
        }
        None => (without_groups(ask.mixture.speciation.ph), 0.0),
    }
}

/// Dissociated share of a polyacid whose groups do not stand in the equilibrium: an apparent constant of 6.0 (5.5 to 6.5, common practice).
pub(crate) fn without_groups(ph: f64) -> f64 {
    1.0 / (1.0 + 10f64.to_the(6.0 - ph))
}

/// Gain of two thickeners of different families that nobody measured, as standard deviation of the logarithm of the factor at equal
/// shares: judgement, no source.
const GAIN_NOT_KNOWN: f64 = 0.25;

fn synergies(thickeners: &[ThickenerIn<'_>], facts: &FlowFacts) -> Vec<Synergy> {
    let is =
        |one: &ThickenerIn<'_>, key: &str| one.known.family.key == key || one.known.record.material == key;
    let mut found = Vec::new();
    for (i, one) in thickeners.iter().enumerate() {
        for (j, other) in thickeners.iter().enumerate().skip(i + 1) {
            let fits = |fact: &&SynergyFact| {
                let [first, second] = &fact.between;
                (is(one, first) && is(other, second)) || (is(one, second) && is(other, first))
            };
            if let Some(fact) = facts.synergies.iter().find(fits) {
                let (strength, spread) = (fact.strength.value, fact.strength.spread);
                found.push(Synergy { pair: [i, j], strength, spread });
            } else if one.known.family.key != other.known.family.key {
                found.push(Synergy { pair: [i, j], strength: 0.0, spread: GAIN_NOT_KNOWN });
            }
        }
    }
    found
}

/// An assessed formula ready for its flow to be computed at another temperature.
#[must_use]
pub fn flowing_at<'a>(
    assessed: &Assessed<'a>,
    sheet: &Sheet,
    known: &Known<'a>,
    temperature_c: f64,
) -> Flowing<'a> {
    let ask = Ask {
        sheet,
        composition: &assessed.composition,
        mixture: &assessed.mixture,
        library: known.library,
        density_g_ml: assessed.assessment.composition.density.value,
        known: known.flow,
    };
    ready(&ask, temperature_c)
}

/// All that is read of a prediction, at conditions of one's own.
#[must_use]
pub fn reading_at(
    flowing: &Flowing<'_>,
    prediction: &Prediction,
    conditions: Option<&ViscosityTarget>,
    known: &KnownFlow<'_>,
) -> FlowReading {
    outcomes::reading(flowing, prediction, conditions, known)
}

/// Viscosity (Pa s) at a shear rate (1/s).
#[must_use]
pub fn viscosity_at(flowing: &Flowing<'_>, prediction: &Prediction, shear_rate: f64) -> Outcome {
    outcomes::viscosity_at(flowing, prediction, shear_rate)
}

/// What is predicted for conditions: spindle, speed and age as a brief or a reading names them, at the temperature the flow is ready for.
/// The first part says how it is meant.
#[must_use]
pub fn at_conditions(
    flowing: &Flowing<'_>,
    conditions: &ViscosityTarget,
    known: &KnownFlow<'_>,
) -> (String, Outcome) {
    outcomes::at_conditions(flowing, &flowing.blend.predict(), Some(conditions), known)
}

/// The viscosity predicted at a shear rate (1/s), at the temperature the flow is ready for.
#[must_use]
pub fn at_shear_rate(flowing: &Flowing<'_>, shear_rate: f64) -> Outcome {
    outcomes::at_shear_rate(flowing, &flowing.blend.predict(), shear_rate)
}

/// The prediction and its reading at the conditions of the brief.
pub(crate) fn flow<'a>(ask: &Ask<'a, '_>) -> (Flowing<'a>, Prediction, FlowReading) {
    let target = ask.sheet.target.viscosity.as_ref();
    let flowing = ready(ask, brief_temperature(target));
    let prediction = flowing.blend.predict();
    let reading = outcomes::reading(&flowing, &prediction, target, &ask.known);
    (flowing, prediction, reading)
}
