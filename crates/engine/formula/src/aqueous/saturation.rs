//! What may fall out: neutral forms of weak acids against their solubility, salts against their solubility products.
//!
//! ```text
//! acid   S = m(neutral form) / s(T)           ln s linear in 1/T between published temperatures
//! salt   SI = log10(ion activity product) - log10 Ksp(T)
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | S | degree of saturation; above 1 crystals may form | - |
//! | s | solubility of the neutral form in pure water | mol/kg water |
//! | SI | saturation index; above 0 the salt may fall out | - |
//!
//! Nothing precipitates in the model and no kinetics are implied: many salts stay dissolved far above saturation. Outside the published
//! temperatures the nearest value is used and said so. Salting-out and co-solvents are not counted.

use super::chemistry::{Chemistry, SpeciesSolubility};
use super::system::{System, at_temperature};
use super::workspace::Workspace;
use core::f64::consts::LN_10;
use levigate_measure::elementary::Elementary as _;
use serde::Serialize;

/// A dissolved neutral form against its solubility.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct AcidSaturation {
    /// Species.
    pub species: String,
    /// Its molality, mol/kg water.
    pub molality: f64,
    /// Its solubility at the temperature, mol/kg water.
    pub solubility: f64,
    /// Their ratio.
    pub degree: f64,
    /// The temperature lies outside the published values.
    pub outside_temperatures: bool,
    /// Source key.
    pub source: String,
}

/// A salt against its solubility product.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SaltSaturation {
    /// Solid.
    pub solid: String,
    /// log10 of the ion activity product.
    pub log10_iap: f64,
    /// log10 of the solubility product at the temperature.
    pub log10_ksp: f64,
    /// Saturation index.
    pub index: f64,
    /// Source key.
    pub source: String,
}

/// Solubility of a species at a temperature from its rows, `None` without any. The flag tells whether the temperature is outside.
#[must_use]
pub fn solubility_at(rows: &[&SpeciesSolubility], temperature_c: f64) -> Option<(f64, bool)> {
    let mut points: Vec<(f64, f64)> = rows
        .iter()
        .filter(|row| row.mol_per_kg_water > 0.0)
        .map(|row| (row.temperature_c, row.mol_per_kg_water.log_e()))
        .collect();
    points.sort_by(|a, b| a.0.total_cmp(&b.0));
    let (first, last) = (points.first()?, points.last()?);
    if temperature_c <= first.0 {
        return Some((first.1.exp_e(), temperature_c < first.0 - 0.5));
    }
    if temperature_c >= last.0 {
        return Some((last.1.exp_e(), temperature_c > last.0 + 0.5));
    }
    let inverse = |t: f64| 1.0 / (t + 273.15);
    let pair = points.windows(2).find(|pair| temperature_c <= pair[1].0)?;
    let share = (inverse(temperature_c) - inverse(pair[0].0)) / (inverse(pair[1].0) - inverse(pair[0].0));
    Some(((pair[0].1 + share * (pair[1].1 - pair[0].1)).exp_e(), false))
}

impl System {
    /// Saturation of every neutral form for which the chemistry has a solubility, at the last solution of the workspace.
    #[must_use]
    pub fn acid_saturation(
        &self,
        chemistry: &Chemistry,
        workspace: &Workspace,
        totals: &[f64],
    ) -> Vec<AcidSaturation> {
        let formed = self.facts.iter().zip(workspace.molalities()).filter(|(fact, _)| fact.charge == 0);
        let inert = self.spectators.iter().filter(|&&place| self.charges[place] == 0);
        let present = formed
            .map(|(fact, molality)| (&fact.name, *molality))
            .chain(inert.map(|&place| (&self.names[place], totals[place])))
            .filter(|(_, molality)| *molality > 0.0);
        let mut found = Vec::new();
        for (species, molality) in present {
            let rows: Vec<&SpeciesSolubility> =
                chemistry.solubilities.iter().filter(|solubility| solubility.species == *species).collect();
            if let Some((solubility, outside)) = solubility_at(&rows, self.conditions.temperature_c) {
                found.push(AcidSaturation {
                    species: species.clone(),
                    molality,
                    solubility,
                    degree: molality / solubility,
                    outside_temperatures: outside,
                    source: rows[0].source.clone(),
                });
            }
        }
        found
    }

    /// Saturation index of every salt whose components are all present.
    #[must_use]
    pub fn salt_saturation(
        &self,
        chemistry: &Chemistry,
        workspace: &Workspace,
        totals: &[f64],
    ) -> Vec<SaltSaturation> {
        let mut found = Vec::new();
        'solids: for solid in &chemistry.solids {
            let mut ln_product = 0.0;
            for (name, &count) in &solid.into {
                let ln_activity = if name == "H2O" {
                    workspace.water_activity().log_e()
                } else {
                    match self.ln_activity(name, workspace, totals) {
                        Some(value) => value,
                        None => continue 'solids,
                    }
                };
                ln_product += f64::from(count) * ln_activity;
            }
            let log10_ksp =
                at_temperature(solid.log10_ksp, solid.enthalpy_kj_mol, None, self.conditions.temperature_c);
            let log10_iap = ln_product / LN_10;
            found.push(SaltSaturation {
                solid: solid.name.clone(),
                log10_iap,
                log10_ksp,
                index: log10_iap - log10_ksp,
                source: solid.source.clone(),
            });
        }
        found
    }

    /// ln of the activity of a component at the last solution; `None` where it is absent.
    fn ln_activity(&self, name: &str, workspace: &Workspace, totals: &[f64]) -> Option<f64> {
        let place = self.place(name)?;
        if let Some(slot) = self.slot_of(place) {
            let present = slot == 0 || workspace.totals[slot] > 0.0;
            return present.then(|| workspace.x[slot]);
        }
        if let Some(link) = self.gas
            && link.component == place
        {
            return Some(link.ln_constant - f64::from(link.protons) * workspace.x[0]);
        }
        let charge = f64::from(self.charges[place]);
        let gamma = self.activity.at(workspace.ionic_strength());
        (totals[place] > 0.0).then(|| totals[place].log_e() + charge * charge * gamma.charged)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn solubility_is_interpolated_and_never_extrapolated() {
        let row = |t: f64, s: f64| SpeciesSolubility {
            species: "HA".into(),
            mol_per_kg_water: s,
            temperature_c: t,
            source: String::new(),
        };
        let rows = [row(25.0, 0.028), row(5.0, 0.015)];
        let rows: Vec<&SpeciesSolubility> = rows.iter().collect();
        assert_eq!(solubility_at(&rows, 0.0), Some((0.015_f64.log_e().exp_e(), true)));
        let (middle, outside) = solubility_at(&rows, 15.0).unwrap();
        assert!(middle > 0.015 && middle < 0.028 && !outside);
        assert_eq!(solubility_at(&[], 15.0), None);
    }
}
