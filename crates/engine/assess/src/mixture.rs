//! The product as a solved mixture: the amounts of the adjusters and the equilibrium of the water phase.
//!
//! Totals are linear in the percent of an adjuster (what it brings, minus what the q.s. line gives up for it), so the search
//! for its amount costs one warm equilibrium per step.

use levigate_formula::aqueous::interval::{Doubt, PhInterval};
use levigate_formula::aqueous::sensitivity::Sensitivities;
use levigate_formula::aqueous::{AqueousError, Chemistry, Conditions, Speciation, System, Workspace};
use levigate_formula::composition::Composition;
use levigate_formula::library::Library;
use levigate_formula::settle::Settled;
use levigate_formula::water_phase::WaterPhase;
use levigate_measure::root::{RootError, bracketed};
use rust_decimal::prelude::ToPrimitive;
use std::collections::BTreeMap;
use thiserror::Error;

/// How closely an amount is solved, in the unit of the search: far below any balance.
const AMOUNT_TOLERANCE: f64 = 1e-9;
/// A pH this near to the aim is the aim: a hundred thousandth of what an electrode reads.
const PH_TOLERANCE: f64 = 1e-7;
const MOST_STEPS: usize = 120;
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
    /// The search did not settle.
    #[error("the search for the amount did not settle: {source}")]
    Search {
        /// Line.
        line: usize,
        /// Why.
        source: RootError,
    },
}

impl MixtureError {
    /// Line it is about, from 0.
    #[must_use]
    pub fn line(&self) -> Option<usize> {
        match self {
            Self::Unreachable { line, .. } | Self::Search { line, .. } => Some(*line),
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
            Self::Search { source, .. } => source.hint().to_owned(),
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
    let composition = Composition::of(settled.lines.clone());
    let mut base = WaterPhase::of(&composition, library);
    for (component, mol) in brought {
        *base.components_mol.entry(component.clone()).or_default() += mol;
    }
    let directions: Vec<(usize, WaterPhase)> = settled
        .to_ph
        .as_ref()
        .map(|(lines, _)| lines.clone())
        .unwrap_or_default()
        .into_iter()
        .map(|line| (line, direction(settled, line, library)))
        .collect();
    let (system, not_in_model) = system_for(
        chemistry,
        std::iter::once(&base).chain(directions.iter().map(|(_, phase)| phase)),
        &conditions,
    )?;
    let mut workspace = Workspace::new();
    let mut phase = base.clone();
    if let Some(aim) = settled.to_ph.as_ref().and_then(|(_, aim)| aim.to_f64()) {
        let (line, percent) = adjust(&system, &base, &directions, aim, settled, &mut workspace)?;
        if let Some((_, along)) = directions.iter().find(|(candidate, _)| *candidate == line) {
            phase = base.along(along, percent);
        }
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

/// What a search for an amount came to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Reach {
    /// The amount that reaches the pH.
    At(f64),
    /// It moves the pH the other way; the mixture without it stands at this pH.
    WrongWay(f64),
    /// Even the most of it ends at this amount and pH.
    TooLittle {
        /// Amount at the nearest pH.
        amount: f64,
        /// Nearest pH.
        ph: f64,
    },
}

/// Why a search broke off.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum SearchError {
    Aqueous(AqueousError),
    Root(RootError),
}

impl From<AqueousError> for SearchError {
    fn from(error: AqueousError) -> Self {
        Self::Aqueous(error)
    }
}

/// A straight line of compositions in the order of a system: each step of a search is a few multiplications and one equilibrium.
#[derive(Clone, Debug)]
pub(crate) struct Ray {
    base_mol: Vec<f64>,
    along_mol: Vec<f64>,
    base_water_g: f64,
    along_water_g: f64,
    base_neutral_mol: f64,
    along_neutral_mol: f64,
    totals: Vec<f64>,
}

impl Ray {
    pub(crate) fn new(system: &System, base: &WaterPhase, along: &WaterPhase) -> Self {
        let of = |phase: &WaterPhase| -> Vec<f64> {
            system
                .components()
                .iter()
                .map(|name| phase.components_mol.get(name).copied().unwrap_or(0.0))
                .collect()
        };
        let base_mol = of(base);
        Self {
            along_mol: of(along),
            base_water_g: base.water_g,
            along_water_g: along.water_g,
            base_neutral_mol: base.neutral_mol.values().sum(),
            along_neutral_mol: along.neutral_mol.values().sum(),
            totals: vec![0.0; base_mol.len()],
            base_mol,
        }
    }

    /// Totals at an amount, mol/kg water, and the molality of the non-electrolytes.
    fn at(&mut self, amount: f64) -> Result<(&[f64], f64), AqueousError> {
        let water_g = self.base_water_g + amount * self.along_water_g;
        if water_g <= 0.0 {
            return Err(AqueousError::NoWater { water_percent: water_g });
        }
        let kg = water_g / 1000.0;
        for ((total, base), along) in self.totals.iter_mut().zip(&self.base_mol).zip(&self.along_mol) {
            *total = (base + amount * along) / kg;
        }
        Ok((&self.totals, (self.base_neutral_mol + amount * self.along_neutral_mol) / kg))
    }
}

/// The search for the amount of something along a straight line of compositions.
pub(crate) struct Search<'a> {
    system: &'a System,
    ray: Ray,
    most: f64,
    ph_tolerance: f64,
    start: Option<Start>,
}

/// pH without and with a little, remembered from search to search along the same line.
#[derive(Clone, Copy, Debug)]
struct Start {
    at_start: f64,
    small: f64,
    at_small: f64,
}

impl<'a> Search<'a> {
    pub(crate) fn new(system: &'a System, base: &WaterPhase, along: &WaterPhase, most: f64) -> Self {
        Self { system, ray: Ray::new(system, base, along), most, ph_tolerance: PH_TOLERANCE, start: None }
    }

    /// The same, content with a pH this near to the aim.
    pub(crate) fn within(mut self, ph_tolerance: f64) -> Self {
        self.ph_tolerance = ph_tolerance;
        self
    }

    fn begin(&mut self, workspace: &mut Workspace) -> Result<Start, AqueousError> {
        if let Some(start) = self.start {
            return Ok(start);
        }
        let at_start = self.ph_at(0.0, workspace)?;
        let small = self.most.min(1e-4);
        let start = Start { at_start, small, at_small: self.ph_at(small, workspace)? };
        self.start = Some(start);
        Ok(start)
    }

    /// pH with an amount.
    pub(crate) fn ph_at(&mut self, amount: f64, workspace: &mut Workspace) -> Result<f64, AqueousError> {
        let (totals, neutral) = self.ray.at(amount)?;
        self.system.solve(totals, neutral, workspace)?;
        Ok(workspace.ph())
    }

    /// How sure the pH last solved for is, from constants and coefficients.
    pub(crate) fn interval(&self, workspace: &Workspace) -> PhInterval {
        let sensitivities = self.system.sensitivities(workspace);
        self.system.ph_interval(&self.ray.totals, &self.read(workspace), &sensitivities, &Doubt::default())
    }

    /// The equilibrium last solved for.
    pub(crate) fn read(&self, workspace: &Workspace) -> Speciation {
        self.system.read(&self.ray.totals, workspace)
    }

    /// The amount that brings the mixture to `aim`.
    pub(crate) fn reach(&mut self, aim: f64, workspace: &mut Workspace) -> Result<Reach, SearchError> {
        let Start { at_start, small, at_small } = self.begin(workspace)?;
        if (at_start - aim).abs() < self.ph_tolerance.min(1e-9) {
            return Ok(Reach::At(0.0));
        }
        if (at_small - at_start) * (aim - at_start) <= 0.0 {
            return Ok(Reach::WrongWay(at_start));
        }
        let passed = |ph: f64| (ph - aim) * (at_start - aim) <= 0.0;
        // By the slope at the start and a half more, then in growing steps until the aim is passed.
        let by_slope = 1.5 * (aim - at_start) / (at_small - at_start) * small;
        let mut amount = by_slope.clamp(0.02f64.min(self.most), self.most);
        let mut nearest = (0.0, at_start);
        let mut before = 0.0;
        loop {
            let ph = self.ph_at(amount, workspace)?;
            if passed(ph) {
                break;
            }
            if (ph - aim).abs() < (nearest.1 - aim).abs() {
                nearest = (amount, ph);
            }
            if amount >= self.most {
                return Ok(Reach::TooLittle { amount: nearest.0, ph: nearest.1 });
            }
            before = amount;
            amount = (amount * 3.0).min(self.most);
        }
        let mut trouble = None;
        let tolerance = self.ph_tolerance;
        let found = bracketed(
            |amount| match self.ph_at(amount, workspace) {
                Ok(ph) if (ph - aim).abs() < tolerance => 0.0,
                Ok(ph) => ph - aim,
                Err(error) => {
                    trouble.get_or_insert(error);
                    f64::NAN
                }
            },
            before,
            amount,
            AMOUNT_TOLERANCE,
            MOST_STEPS,
        );
        match (found, trouble) {
            (Ok(amount), _) => Ok(Reach::At(amount)),
            (Err(_), Some(error)) => Err(error.into()),
            (Err(error), None) => Err(SearchError::Root(error)),
        }
    }
}

/// Chooses among the adjusters the one that works towards the aim: its line and amount.
fn adjust(
    system: &System,
    base: &WaterPhase,
    directions: &[(usize, WaterPhase)],
    aim: f64,
    settled: &Settled<'_>,
    workspace: &mut Workspace,
) -> Result<(usize, f64), MixtureError> {
    // The far end keeps a little of the q.s. line, which may be all the water there is.
    let most = settled.lines[settled.remainder].percent * 0.95;
    let mut nearest: Option<MixtureError> = None;
    for (line, along) in directions {
        let unreachable = |nearest_ph: f64, at_percent: f64, wrong_way: bool| MixtureError::Unreachable {
            line: *line,
            material: settled.materials[*line].name.clone(),
            aim,
            nearest_ph,
            at_percent,
            wrong_way,
        };
        match Search::new(system, base, along, most).reach(aim, workspace) {
            Ok(Reach::At(percent)) => return Ok((*line, percent)),
            Ok(Reach::WrongWay(ph)) => {
                nearest.get_or_insert(unreachable(ph, 0.0, true));
            }
            Ok(Reach::TooLittle { amount, ph }) => nearest = Some(unreachable(ph, amount, false)),
            Err(SearchError::Aqueous(error)) => return Err(error.into()),
            Err(SearchError::Root(source)) => return Err(MixtureError::Search { line: *line, source }),
        }
    }
    Err(nearest.unwrap_or(MixtureError::Search {
        line: 0,
        source: RootError::NotConverged { steps: 0, width: 0.0 },
    }))
}
