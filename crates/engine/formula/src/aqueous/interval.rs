//! The interval of a pH: constants, amounts, activity coefficients and mixed solvent, added as independent standard uncertainties.
//!
//! ```text
//! u^2 = sum (dpH/dp u_p)^2          low, high = pH -+ 2 u
//! ```
//!
//! | source of doubt | standard uncertainty | from |
//! |---|---|---|
//! | constant | the row's own, or by its mark; grows away from 25 C where enthalpy or heat capacity is missing | data |
//! | total | relative standard deviation given by the caller, per component | formula |
//! | coefficient of a single charge | log10: 0.1 I up to I = 0.5, then 0.05 + 0.2 (I - 0.5) | our convention, after the spread of Davies against measured coefficients |
//! | coefficient of a neutral species | log10: 0.1 I, the whole term | our convention |
//! | mixed solvent | the whole shift of pH that the co-solvent rule predicts | data, or from memory |
//! | pH scale | 0.01 | Bates, *Determination of pH* (1973), liquid junction of standards |
//!
//! The predicted shift of a mixed solvent is not applied to the value, because rules for glycols differ too much; it widens the
//! interval by its full size. Coverage is about 95 % where the parts are as stated.

use super::sensitivity::Sensitivities;
use super::speciation::Speciation;
use super::system::{SpeciesFact, System};
use super::workspace::Workspace;
use levigate_measure::elementary::Elementary as _;
use levigate_measure::{Grade, Outcome};
use serde::Serialize;
use std::collections::BTreeMap;

/// Standard uncertainty of the pH scale itself, for the liquid junction of standards (Bates, *Determination of pH*, 1973).
pub const PH_SCALE: f64 = 0.01;

/// Shift of log10 of acid constants in a solvent that is not all water.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct SolventShift {
    /// Mass fraction of co-solvents in the solvent.
    pub fraction: f64,
    /// Rise of the pKa of a neutral or anionic acid, per charge created.
    pub acid: f64,
    /// Change of the pKa of a cationic acid (negative: it becomes stronger).
    pub base: f64,
}

/// What the caller knows about the amounts and the solvent.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Doubt {
    /// Relative standard deviation of the total of a component, by name. Proton totals move with their component.
    pub totals: BTreeMap<String, f64>,
    /// Standard deviation of the proton total by itself, mol/kg water (assay of the acid or base).
    pub protons: f64,
    /// Mixed solvent.
    pub solvent: Option<SolventShift>,
}

/// One contribution to the standard uncertainty of the pH.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Contribution {
    /// Where it comes from: a species, a component, `activity coefficients`, `mixed solvent`, ...
    pub name: String,
    /// Its share as a standard uncertainty of pH.
    pub standard_uncertainty: f64,
}

/// The interval of a pH.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PhInterval {
    /// pH.
    pub ph: f64,
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
    /// Combined standard uncertainty.
    pub standard_uncertainty: f64,
    /// Contributions, largest first.
    pub contributions: Vec<Contribution>,
}

/// Default rule where no row names the co-solvent: from memory, order of magnitude of ethanol and glycols in water.
const ACID_SHIFT_PER_FRACTION: f64 = 1.5;
const BASE_SHIFT_PER_FRACTION: f64 = -0.7;

impl SolventShift {
    /// Shift by the rows of the chemistry; co-solvents without a row count with a default from memory.
    ///
    /// `masses` are the substances of the water phase that mix with water, g; `water_g` the water beside them. The second value
    /// tells whether a default was used.
    #[must_use]
    pub fn of(chemistry: &super::Chemistry, masses: &BTreeMap<String, f64>, water_g: f64) -> (Self, bool) {
        let total: f64 = water_g + masses.values().sum::<f64>();
        let mut shift = Self::default();
        let mut guessed = false;
        if total <= 0.0 || total.is_nan() {
            return (shift, guessed);
        }
        for (key, &grams) in masses {
            let fraction = grams / total;
            let row = chemistry.cosolvents.iter().find(|row| &row.substance == key);
            guessed |= row.is_none() && fraction > 0.0;
            let (acid, base) = row.map_or((ACID_SHIFT_PER_FRACTION, BASE_SHIFT_PER_FRACTION), |row| {
                (row.acid_shift_per_fraction, row.base_shift_per_fraction)
            });
            shift.fraction += fraction;
            shift.acid += acid * fraction;
            shift.base += base * fraction;
        }
        (shift, guessed)
    }

    /// Shift of log10 of an acid constant: each proton taken up by a charge of -q raises it by q times the acid shift, by a neutral or
    /// positive form changes it by the base shift. Complexes are left where they are.
    #[must_use]
    pub fn of_constant(&self, fact: &SpeciesFact) -> f64 {
        let protons = fact.components.get("H+").copied().unwrap_or(0);
        if fact.components.len() > 2 || protons == 0 {
            return 0.0;
        }
        let mut shift = 0.0;
        for step in 0..protons.max(0) {
            let before = fact.charge - protons + step;
            shift += if before < 0 { self.acid * f64::from(-before) } else { self.base };
        }
        // Water and hydrolysis give protons off: the same charges the other way round.
        shift - self.acid * f64::from((-protons).max(0)) * 0.5
    }
}

/// Standard uncertainty of log10 of the coefficient of a single charge.
#[must_use]
pub fn coefficient_uncertainty(ionic_strength: f64) -> f64 {
    if ionic_strength < 0.5 { 0.1 * ionic_strength } else { 0.05 + 0.2 * (ionic_strength - 0.5) }
}

/// Name of the doubt about the coefficients of charged and of neutral species.
const COEFFICIENTS: &str = "activity coefficients";

impl System {
    /// Every source of doubt about the pH a workspace last solved for, always all of them and in the same order: its name, asked for only where
    /// it is wanted, and what one standard uncertainty of it does to the pH, with its sign. The pH scale itself is not among them.
    pub fn ph_pulls(
        &self,
        totals: &[f64],
        solved: &Workspace,
        sensitivities: &Sensitivities,
        doubt: &Doubt,
        mut see: impl FnMut(&dyn Fn() -> String, f64),
    ) {
        let strength = solved.ionic_strength();
        let outside = if self.polyacid_outside(solved) { 2.0 } else { 1.0 };
        for (fact, slope) in self.facts.iter().zip(&sensitivities.by_constant) {
            see(&|| format!("constant of {}", fact.name), slope * fact.uncertainty_log10);
        }
        for (chain, slope) in sensitivities.by_polyacid.iter().enumerate() {
            let name = &self.names[self.chain_component[chain]];
            let size = self.chains[chain].uncertainty(strength.log_e()) * outside;
            see(&|| format!("apparent pKa of {name}"), slope * size);
        }
        for (place, name) in self.names.iter().enumerate() {
            if let Some(&relative) = doubt.totals.get(name) {
                let size = sensitivities.by_total[place] * totals[place] * relative;
                see(&|| format!("amount of {name}"), size);
            }
        }
        see(&|| "amount of acid and base".to_owned(), sensitivities.by_total[0] * doubt.protons);
        if self.conditions.activity != super::ActivityModel::Ideal {
            let charged = sensitivities.by_charged_coefficient * coefficient_uncertainty(strength);
            let neutral = sensitivities.by_neutral_coefficient * 0.1 * strength.min(1.0);
            see(&|| COEFFICIENTS.to_owned(), charged);
            see(&|| COEFFICIENTS.to_owned(), neutral);
        }
        if let Some(solvent) = doubt.solvent {
            see(&|| "mixed solvent".to_owned(), self.solvent_pull(sensitivities, solvent));
        }
    }

    /// The interval of the pH a workspace last solved for.
    #[must_use]
    pub fn ph_interval(
        &self,
        totals: &[f64],
        solved: &Workspace,
        sensitivities: &Sensitivities,
        doubt: &Doubt,
    ) -> PhInterval {
        let ph = solved.ph();
        let mut parts: Vec<Contribution> = Vec::new();
        self.ph_pulls(totals, solved, sensitivities, doubt, |name, size| {
            if !(size.is_finite() && size.abs() > 1e-6) {
                return;
            }
            let name = name();
            match parts.last_mut() {
                // Coefficients of ions and of neutral species are two doubts and one line.
                Some(last) if last.name == COEFFICIENTS && name == COEFFICIENTS => {
                    last.standard_uncertainty = last.standard_uncertainty.root_sum_square(size);
                }
                _ => parts.push(Contribution { name, standard_uncertainty: size.abs() }),
            }
        });
        parts.push(Contribution { name: "pH scale".to_owned(), standard_uncertainty: PH_SCALE });
        parts.sort_by(|a, b| {
            b.standard_uncertainty.total_cmp(&a.standard_uncertainty).then(a.name.cmp(&b.name))
        });
        let variance: f64 = parts.iter().map(|part| part.standard_uncertainty.powi(2)).sum();
        let standard_uncertainty = variance.sqrt();
        PhInterval {
            ph,
            low: ph - 2.0 * standard_uncertainty,
            high: ph + 2.0 * standard_uncertainty,
            standard_uncertainty,
            contributions: parts,
        }
    }

    /// Shift of pH when every acid constant moves with the solvent, [`SolventShift::of_constant`].
    fn solvent_pull(&self, sensitivities: &Sensitivities, solvent: SolventShift) -> f64 {
        let slopes = self.facts.iter().zip(&sensitivities.by_constant);
        let pull: f64 = slopes.map(|(fact, slope)| slope * solvent.of_constant(fact)).sum();
        let chains: f64 = sensitivities.by_polyacid.iter().sum();
        pull + chains * solvent.acid
    }
}

impl PhInterval {
    /// The pH as a result for people.
    #[must_use]
    pub fn outcome(&self, system: &System, speciation: &Speciation) -> Outcome {
        let model = system.conditions().activity;
        let mut outcome = Outcome::new(self.ph, "", Grade::Computed, "equilibrium of the water phase")
            .within(self.low, self.high, Some(0.95))
            .by(model.equation())
            .valid_for("0-95 C; ionic strength to 0.5 mol/kg with Davies, 0.1 with the extended form")
            .proved_by("tests/cross/aqueous_reference.toml")
            .input("temperature", system.conditions().temperature_c, "C", None)
            .input("I", speciation.ionic_strength, "mol/kg water", None);
        for part in self.contributions.iter().take(5) {
            outcome = outcome.term(part.name.clone(), part.standard_uncertainty, "pH");
        }
        for (fact, row) in system.species().iter().zip(&speciation.species) {
            if row.molality > 1e-7 && !fact.source.is_empty() {
                outcome = outcome.source(fact.source.clone());
            }
        }
        for (name, source) in &system.salting_out_sources {
            if !source.is_empty()
                && speciation.species.iter().any(|row| row.name == *name && row.molality > 1e-7)
            {
                outcome = outcome.source(source.clone());
            }
        }
        for (chain, product) in system.chains.iter().zip(&system.chain_products) {
            if speciation.species.iter().any(|row| row.name == *product && row.molality > 1e-7) {
                outcome = chain.sources.iter().filter(|key| !key.is_empty()).fold(outcome, Outcome::source);
            }
        }
        outcome.notes.extend(speciation.notes(system));
        outcome
    }
}
