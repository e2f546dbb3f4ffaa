//! The batch in the beaker: how much strong base it still needs to a pH, by the equilibrium, and how every doubt moves that.
//!
//! ```text
//! Q(pH; g)   strong base that would bring the beaker, with g grams of each adjuster in it, to the pH   (below zero: acid)
//! dQ_p       = -beta (dpH/dp) u_p,     beta = dQ/dpH
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | Q, dQ_p | base needed, change of it by one standard uncertainty of p | mol |
//! | beta | buffer capacity of the beaker | mol per pH |
//! | p | a constant, the coefficients of the ions, a content, the strength of an adjuster, ... | |
//!
//! Amounts and not pH are what doubts add up in: a wrong assay is the same amount of acid at every pH, while what it does to the pH differs by
//! orders of magnitude along a titration.

use super::{Convention, Trouble};
use crate::assess::Known;
use crate::certainty;
use crate::metals::brought;
use crate::mixture::system_for;
use crate::wanted::{TENFOLD, strong_base_to};
use levigate_formula::aqueous::{Conditions, Doubt, Portion, Ray, System, Workspace};
use levigate_formula::composition::{Composition, ConstituentShare};
use levigate_formula::library::{InWater, Material};
use levigate_formula::settle::Settled;
use levigate_formula::sheet::Sheet;
use levigate_formula::water_phase::WaterPhase;

/// How far a relative content of an adjuster may be off, as one standard uncertainty of its composition.
fn relative_spread(constituents: &[ConstituentShare]) -> f64 {
    constituents
        .iter()
        .filter(|part| part.substance != "water" && part.typical > 0.0)
        .map(|part| 0.5 * (part.high - part.low) / part.typical / 3f64.sqrt())
        .fold(0.0, f64::max)
}

/// Where the pH is asked for: temperature, dilution and the grams of every adjuster.
#[derive(Clone, Copy, Debug)]
pub(super) struct Place<'g> {
    /// Which of the temperatures.
    pub(super) system: usize,
    /// Whether one part stands in nine of water.
    pub(super) diluted: bool,
    /// Grams of every adjuster.
    pub(super) grams: &'g [f64],
}

impl<'g> Place<'g> {
    /// Neat, at the temperature of the target.
    pub(super) fn neat(grams: &'g [f64]) -> Self {
        Self { system: 0, diluted: false, grams }
    }
}

/// What the equilibrium says of a place and a pH.
#[derive(Clone, Debug)]
pub(super) struct Stand {
    /// Strong base needed, mol.
    pub(super) base_mol: f64,
    /// Buffer capacity, mol per pH.
    pub(super) capacity_mol: f64,
    /// Change of the base needed by one standard uncertainty of every doubt, mol.
    pub(super) pulls: Vec<f64>,
}

/// The batch, laid out for solving.
pub(super) struct Beaker {
    /// Prepared systems by temperature, C.
    systems: Vec<(f64, System)>,
    /// What the beaker holds before any adjuster.
    base: Portion,
    /// What one gram of each adjuster brings.
    along: Vec<Portion>,
    /// Components moved by one standard uncertainty of every content, mol.
    contents: Vec<(String, Vec<f64>)>,
    /// Relative standard uncertainty of the strength of each adjuster.
    strengths: Vec<f64>,
    doubt: Doubt,
    convention: Convention,
    /// Before any adjuster, g.
    pub(super) mass_g: f64,
    /// The phases themselves, for the heat.
    pub(super) phase: WaterPhase,
    pub(super) brings: Vec<WaterPhase>,
    workspace: Workspace,
}

impl Beaker {
    /// Lays out the beaker: `finished_g` of the formula without its adjusters, less what of the q.s. line is held back.
    pub(super) fn of(
        sheet: &Sheet,
        settled: &Settled<'_>,
        known: &Known<'_>,
        adjusters: &[(&Material, Option<f64>)],
        batch: &super::Batch,
        convention: &Convention,
        temperatures_c: &[f64],
    ) -> Result<Self, Trouble> {
        let library = known.library;
        let mut hundred = WaterPhase::of_lines(&settled.lines, library);
        for (component, mol) in brought(sheet, known.chemistry).0 {
            *hundred.components_mol.entry(component).or_default() += mol;
        }
        let share = batch.finished_g / 100.0;
        let held = WaterPhase::of_constituents(&settled.lines[settled.remainder].constituents, library);
        let phase = WaterPhase::default().along(&hundred, share).along(&held, -batch.held_back_g);
        let opened: Vec<Vec<ConstituentShare>> = adjusters
            .iter()
            .map(|(material, assay)| levigate_formula::settle::with_assay(material, *assay))
            .collect();
        let brings: Vec<WaterPhase> =
            opened.iter().map(|parts| WaterPhase::of_constituents(parts, library)).collect();
        let mut systems: Vec<(f64, System)> = Vec::new();
        for &temperature_c in temperatures_c {
            if systems.iter().all(|(known, _)| *known != temperature_c) {
                let conditions = Conditions { temperature_c, ..Conditions::default() };
                let phases = std::iter::once(&phase).chain(&brings);
                systems.push((temperature_c, system_for(known.chemistry, phases, &conditions)?.0));
            }
        }
        let Some((_, system)) = systems.first() else { return Err(Trouble::NoTemperature) };
        let composition = Composition::of(settled.lines.clone());
        let (solvent, _) = certainty::solvent_shift(&phase, library, known.chemistry);
        let doubt = Doubt { solvent: (solvent.fraction > 0.0).then_some(solvent), ..Doubt::default() };
        let base = Portion::of(system, &phase);
        let along = brings.iter().map(|brings| Portion::of(system, brings)).collect();
        let contents = contents(settled, &composition, known, system, share, convention);
        let strengths = opened
            .iter()
            .zip(adjusters)
            .map(|(parts, (_, assay))| {
                let spread = if assay.is_some() { 0.0 } else { relative_spread(parts) };
                (spread * spread + convention.strength_relative.powi(2)).sqrt()
            })
            .collect();
        Ok(Self {
            base,
            along,
            contents,
            strengths,
            doubt,
            convention: convention.clone(),
            mass_g: batch.finished_g - batch.held_back_g,
            systems,
            phase,
            brings,
            workspace: Workspace::new(),
        })
    }

    /// Which of the systems stands for a temperature.
    pub(super) fn system_at(&self, temperature_c: f64) -> Option<usize> {
        self.systems.iter().position(|(known, _)| *known == temperature_c)
    }

    /// The system of the target's temperature.
    pub(super) fn system(&self) -> &System {
        &self.systems[0].1
    }

    /// What the beaker holds with grams of every adjuster, as a phase.
    pub(super) fn phase_with(&self, grams: &[f64]) -> WaterPhase {
        grams
            .iter()
            .zip(&self.brings)
            .fold(self.phase.clone(), |phase, (grams, brings)| phase.along(brings, *grams))
    }

    /// What the beaker holds at a place.
    fn portion(&self, place: &Place<'_>) -> Portion {
        let mut portion = self.base.clone();
        for (grams, along) in place.grams.iter().zip(&self.along) {
            for (into, from) in portion.components_mol.iter_mut().zip(&along.components_mol) {
                *into += grams * from;
            }
            portion.water_kg += grams * along.water_kg;
            portion.neutral_mol += grams * along.neutral_mol;
        }
        if place.diluted {
            portion.water_kg += TENFOLD * (self.mass_g + place.grams.iter().sum::<f64>()) / 1000.0;
        }
        portion
    }

    /// Strong base needed at a place to a pH, mol; the workspace is solved there.
    fn base_needed(&mut self, place: &Place<'_>, ph: f64) -> Result<(f64, Portion), Trouble> {
        let portion = self.portion(place);
        let system = &self.systems[place.system].1;
        strong_base_to(system, portion, ph, &mut self.workspace)?.ok_or(Trouble::NoSuchPh { ph })
    }

    /// What the equilibrium says of a place and a pH.
    pub(super) fn stand(&mut self, place: &Place<'_>, ph: f64) -> Result<Stand, Trouble> {
        let nothing = vec![0.0; place.grams.len()];
        // From the formula without adjusters, for the doubt about the buffer capacity as a whole.
        let (whole, _) = self.base_needed(&Place { grams: &nothing, ..*place }, ph)?;
        let (base_mol, portion) = self.base_needed(place, ph)?;
        let system = &self.systems[place.system].1;
        let sensitivities = system.sensitivities(&self.workspace);
        let water = portion.water_kg;
        let capacity_mol = -water / sensitivities.by_total[0];
        if !(capacity_mol > 0.0 && capacity_mol.is_finite()) {
            return Err(Trouble::NoSuchPh { ph });
        }
        let mut pulls = Vec::with_capacity(64);
        let totals = self.workspace.totals_given();
        system.ph_pulls(totals, &self.workspace, &sensitivities, &self.doubt, |_, size| {
            pulls.push(if size.is_finite() { -capacity_mol * size } else { 0.0 });
        });
        let moved = |components: &[f64]| -> f64 {
            let by_total = sensitivities.by_total.iter().zip(components);
            -capacity_mol / water * by_total.map(|(slope, mol)| slope * mol).sum::<f64>()
        };
        pulls.extend(self.contents.iter().map(|(_, components)| moved(components)));
        for ((grams, along), strength) in place.grams.iter().zip(&self.along).zip(&self.strengths) {
            pulls.push(grams * strength * moved(&along.components_mol));
        }
        pulls.push(self.excess_mol());
        pulls.push(self.convention.capacity_relative * whole);
        Ok(Stand { base_mol, capacity_mol, pulls })
    }

    /// One standard uncertainty of the acid or base nobody knows of, mol.
    pub(super) fn excess_mol(&self) -> f64 {
        self.convention.excess_mmol_kg * self.mass_g / 1e6
    }

    /// Strong base needed at a place to a pH, mol.
    pub(super) fn needed(&mut self, place: &Place<'_>, ph: f64) -> Result<f64, Trouble> {
        self.base_needed(place, ph).map(|(base, _)| base)
    }

    /// pH at a place with so much strong base in it besides, mol.
    pub(super) fn ph(&mut self, place: &Place<'_>, strong_base_mol: f64) -> Result<f64, Trouble> {
        let mut portion = self.portion(place);
        portion.components_mol[0] -= strong_base_mol;
        let nothing = Portion::of_components(vec![0.0; portion.components_mol.len()]);
        let ray = Ray { base: portion, along: nothing, most: 1.0 };
        Ok(self.systems[place.system].1.solve_along(&ray, 0.0, &mut self.workspace)?)
    }

    /// Names of the doubts, in the order of [`Stand::pulls`].
    pub(super) fn doubts(
        &mut self,
        place: &Place<'_>,
        ph: f64,
        adjusters: &[&str],
    ) -> Result<Vec<String>, Trouble> {
        self.base_needed(place, ph)?;
        let system = &self.systems[place.system].1;
        let sensitivities = system.sensitivities(&self.workspace);
        let mut names = Vec::new();
        let totals = self.workspace.totals_given();
        system.ph_pulls(totals, &self.workspace, &sensitivities, &self.doubt, |name, _| names.push(name()));
        names.extend(self.contents.iter().map(|(name, _)| name.clone()));
        names.extend(adjusters.iter().map(|name| format!("strength of {name}")));
        names.push("acid or base nobody knows of".to_owned());
        names.push("buffer capacity as a whole".to_owned());
        Ok(names)
    }
}

/// What one standard uncertainty of every content moves, mol in the beaker: the range of a grade, and the weighing and assay of a line.
fn contents(
    settled: &Settled<'_>,
    composition: &Composition,
    known: &Known<'_>,
    system: &System,
    share: f64,
    convention: &Convention,
) -> Vec<(String, Vec<f64>)> {
    let library = known.library;
    let mut found = Vec::new();
    let mut take = |name: String, phase: &WaterPhase, amount: f64| {
        let portion = Portion::of(system, phase);
        if portion.components_mol.iter().any(|mol| mol.abs() > 0.0) {
            found.push((name, portion.components_mol.iter().map(|mol| mol * amount).collect()));
        }
    };
    for (key, part) in &composition.substances {
        let Some(substance) = library.substances.get(key) else { continue };
        let ionic = matches!(substance.in_water, InWater::Components { .. } | InWater::Polyion { .. });
        let half = 0.5 * (part.high - part.low);
        if ionic && half > 0.0 {
            let one = ConstituentShare { substance: key.clone(), low: 100.0, typical: 100.0, high: 100.0 };
            let phase = WaterPhase::of_constituents(&[one], library);
            take(format!("content of {}", substance.name), &phase, half / 3f64.sqrt() * share);
        }
    }
    for (line, material) in settled.lines.iter().zip(&settled.materials) {
        let phase = WaterPhase::of_constituents(&line.constituents, library);
        take(
            format!("weighing and assay of {}", material.name),
            &phase,
            line.percent * share * convention.line_relative,
        );
    }
    found
}
