//! The product as a solved mixture: the amounts of the adjusters and the equilibrium of the water phase.
//!
//! Totals are linear in the percent of an adjuster (what it brings, minus what the q.s. line gives up for it), so its amount is solved
//! for along a straight line of compositions.

use levigate_formula::aqueous::sensitivity::Sensitivities;
use levigate_formula::aqueous::{
    AqueousError, Chemistry, Conditions, Portion, Ray, Reach, Speciation, System, Workspace,
};
use levigate_formula::library::Library;
use levigate_formula::settle::Settled;
use levigate_formula::water_phase::WaterPhase;
use rust_decimal::prelude::ToPrimitive;
use std::collections::BTreeMap;
use thiserror::Error;

/// Components present in less than this are left out, mol per 100 g.
const TRACE_MOL: f64 = 1e-22;

/// Why the mixture has no answer.
#[derive(Clone, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum MixtureError {
    /// The equilibrium has no answer.
    #[error("the equilibrium of the water phase has no answer: {0}")]
    Aqueous(#[from] AqueousError),
    /// No amount of the adjuster reaches the pH.
    #[error(
        "pH {aim:.2} cannot be reached with \"{material}\"; the nearest is pH {nearest_ph:.2} with {at_percent:.3} %"
    )]
    Unreachable {
        /// Line.
        line: usize,
        /// Material name.
        material: String,
        /// pH wanted.
        aim: f64,
        /// Nearest pH.
        nearest_ph: f64,
        /// Amount at the nearest pH, % w/w.
        at_percent: f64,
        /// Whether the product without the adjuster already lies beyond the aim.
        wrong_way: bool,
    },
}

impl MixtureError {
    /// Line it is about, from 0.
    #[must_use]
    pub fn line(&self) -> Option<usize> {
        match self {
            Self::Unreachable { line, .. } => Some(*line),
            Self::Aqueous(_) => None,
        }
    }

    /// What to do.
    #[must_use]
    pub fn hint(&self) -> String {
        match self {
            Self::Aqueous(error) => error.hint().to_owned(),
            Self::Unreachable { wrong_way: true, nearest_ph, .. } => format!(
                "without it the product stands at pH {nearest_ph:.2}; use an adjuster that works the other way, or aim at the other side"
            ),
            Self::Unreachable { .. } => {
                "use a stronger solution of the adjuster, a stronger acid or base, or less of what it must neutralise".to_owned()
            }
        }
    }
}

/// The solved water phase of a product.
#[derive(Clone, Debug)]
pub struct Mixture {
    /// What 100 g hold.
    pub phase: WaterPhase,
    /// Reactions of the components present, at 25 C.
    pub system: System,
    /// Totals in the order of the system, mol/kg water.
    pub totals: Vec<f64>,
    /// Sum of the non-electrolytes, mol/kg water.
    pub neutral_molality: f64,
    /// The equilibrium.
    pub speciation: Speciation,
    /// The solver's state at it, to go on from.
    pub workspace: Workspace,
    /// How the pH answers to totals and constants.
    pub sensitivities: Sensitivities,
    /// Components the chemistry does not know, with their mol per 100 g.
    pub not_in_model: BTreeMap<String, f64>,
}

impl Mixture {
    /// How the pH moves along a line of compositions, per unit of it, to first order.
    #[must_use]
    pub fn ph_slope(&self, along: &WaterPhase) -> f64 {
        let kg = self.phase.water_g / 1000.0;
        let concentrating = -along.water_g / 1000.0 / kg;
        self.system
            .components()
            .iter()
            .zip(&self.sensitivities.by_total)
            .zip(&self.totals)
            .map(|((name, slope), total)| {
                slope * (along.components_mol.get(name).copied().unwrap_or(0.0) / kg + total * concentrating)
            })
            .sum()
    }
}

/// Totals of a phase in the order of a system, mol/kg water, and the molality of the non-electrolytes.
pub(crate) fn totals_of(system: &System, phase: &WaterPhase) -> Result<(Vec<f64>, f64), AqueousError> {
    if phase.water_g <= 0.0 {
        return Err(AqueousError::NoWater { water_percent: phase.water_g });
    }
    let kg = phase.water_g / 1000.0;
    let totals = system
        .components()
        .iter()
        .map(|name| phase.components_mol.get(name).copied().unwrap_or(0.0) / kg)
        .collect();
    Ok((totals, phase.neutral_mol.values().sum::<f64>() / kg))
}

/// Lays out the system for everything in these phases.
pub(crate) fn system_for<'p>(
    chemistry: &Chemistry,
    phases: impl IntoIterator<Item = &'p WaterPhase>,
    conditions: &Conditions,
) -> Result<(System, BTreeMap<String, f64>), AqueousError> {
    let mut present: BTreeMap<&str, f64> = BTreeMap::new();
    // Sodium and chloride are always laid out: whatever moves the pH by strong acid or base finds them there.
    for ion in ["Na+", "Cl-"] {
        present.insert(ion, 1.0);
    }
    for phase in phases {
        for (name, mol) in &phase.components_mol {
            *present.entry(name).or_default() += mol.abs();
        }
    }
    let mut unknown = BTreeMap::new();
    let mut known = Vec::new();
    for (name, mol) in present {
        if name == "H+" || chemistry.components.contains_key(name) {
            if mol > TRACE_MOL {
                known.push(name);
            }
        } else {
            unknown.insert(name.to_owned(), mol);
        }
    }
    Ok((System::prepare(chemistry, known, conditions)?, unknown))
}

/// Settles the adjusters (changing `settled`) and solves the water phase. `brought` are components that come with the water and
/// the raw materials without standing in the formula (hardness, metals), mol per 100 g.
///
/// # Errors
/// [`MixtureError`] when there is no water, a pH cannot be reached, or a solver gives up.
pub fn solve(
    settled: &mut Settled<'_>,
    library: &Library,
    chemistry: &Chemistry,
    brought: &BTreeMap<String, f64>,
) -> Result<Mixture, MixtureError> {
    let conditions = Conditions::default();
    let mut base = WaterPhase::of_lines(&settled.lines, library);
    for (component, mol) in brought {
        *base.components_mol.entry(component.clone()).or_default() += mol;
    }
    let (adjusters, aim) = match &settled.to_ph {
        Some((lines, aim)) => {
            (lines.iter().map(|line| (*line, direction(settled, *line, library))).collect(), aim.to_f64())
        }
        None => (Vec::new(), None),
    };
    let (system, not_in_model) = system_for(
        chemistry,
        std::iter::once(&base).chain(adjusters.iter().map(|(_, along)| along)),
        &conditions,
    )?;
    let mut workspace = Workspace::new();
    let mut phase = base;
    if let Some(aim) = aim
        && let Some((line, along, percent)) =
            adjust(&system, &phase, &adjusters, aim, settled, &mut workspace)?
    {
        phase = phase.along(along, percent);
        settled.set_adjuster(line, percent);
    }
    let (totals, neutral_molality) = totals_of(&system, &phase)?;
    system.solve(&totals, neutral_molality, &mut workspace)?;
    let speciation = system.read(&totals, &workspace);
    let sensitivities = system.sensitivities(&workspace);
    Ok(Mixture {
        phase,
        system,
        totals,
        neutral_molality,
        speciation,
        workspace,
        sensitivities,
        not_in_model,
    })
}

/// What one percent of an adjuster changes: what it brings minus what the q.s. line gives up.
pub(crate) fn direction(settled: &Settled<'_>, line: usize, library: &Library) -> WaterPhase {
    let brings = WaterPhase::of_constituents(&settled.lines[line].constituents, library);
    let gives_up = WaterPhase::of_constituents(&settled.lines[settled.remainder].constituents, library);
    brings.along(&gives_up, -1.0)
}

/// Chooses among the adjusters the one that works towards the aim: its line, its direction and its amount.
fn adjust<'d>(
    system: &System,
    base: &WaterPhase,
    adjusters: &'d [(usize, WaterPhase)],
    aim: f64,
    settled: &Settled<'_>,
    workspace: &mut Workspace,
) -> Result<Option<(usize, &'d WaterPhase, f64)>, MixtureError> {
    // The far end keeps a little of the q.s. line, which may be all the water there is.
    let most = settled.lines[settled.remainder].percent * 0.95;
    let mut nearest: Option<MixtureError> = None;
    for (line, along) in adjusters {
        let unreachable = |nearest_ph: f64, at_percent: f64, wrong_way: bool| MixtureError::Unreachable {
            line: *line,
            material: settled.materials[*line].name.clone(),
            aim,
            nearest_ph,
            at_percent,
            wrong_way,
        };
        let ray = Ray { base: Portion::of(system, base), along: Portion::of(system, along), most };
        match system.solve_to_ph(&ray, aim, workspace)? {
            Reach::At(percent) => return Ok(Some((*line, along, percent))),
            Reach::WrongWay { ph } => {
                nearest.get_or_insert(unreachable(ph, 0.0, true));
            }
            Reach::NotEnough { amount, ph } => nearest = Some(unreachable(ph, amount, false)),
        }
    }
    nearest.map_or(Ok(None), Err)
}
