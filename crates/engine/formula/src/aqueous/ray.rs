//! A straight line of compositions: a solution and what an addition changes per unit of its amount.
//!
//! ```text
//! T_j(t) = (base_j + t along_j) / (W + t w)
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | t | amount of the addition, 0 to `most` | whatever `along` is per |
//! | T_j | total of component j | mol/kg water |
//! | base_j, along_j | what the solution holds, and what one unit of the addition changes | mol |
//! | W, w | the same for water | kg |
//!
//! An addition that takes the place of something else (an adjuster against the q.s. line) has what it displaces subtracted in `along`.

use super::error::AqueousError;
use super::system::System;
use super::workspace::Workspace;
use crate::water_phase::WaterPhase;
use serde::Serialize;

/// What a portion holds, in the order of [`System::components`].
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Portion {
    /// Components, mol.
    pub components_mol: Vec<f64>,
    /// Water, kg.
    pub water_kg: f64,
    /// Non-electrolytes, mol.
    pub neutral_mol: f64,
}

impl Portion {
    /// The components of a system that a water phase holds; others are left out.
    #[must_use]
    pub fn of(system: &System, phase: &WaterPhase) -> Self {
        Self {
            components_mol: system
                .components()
                .iter()
                .map(|name| phase.components_mol.get(name).copied().unwrap_or(0.0))
                .collect(),
            water_kg: phase.water_g / 1000.0,
            neutral_mol: phase.neutral_mol.values().sum(),
        }
    }

    /// A solution given by its totals, as one kilogram of water.
    #[must_use]
    pub fn of_totals(totals: &[f64], neutral_molality: f64) -> Self {
        Self { components_mol: totals.to_vec(), water_kg: 1.0, neutral_mol: neutral_molality }
    }

    /// What adds components and no water.
    #[must_use]
    pub fn of_components(components_mol: Vec<f64>) -> Self {
        Self { components_mol, ..Self::default() }
    }
}

/// A straight line of compositions.
#[derive(Clone, Debug, PartialEq)]
pub struct Ray {
    /// The solution without the addition.
    pub base: Portion,
    /// What one unit of the addition changes.
    pub along: Portion,
    /// Most of the addition that can be meant.
    pub most: f64,
}

/// One point of a titration curve.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct TitrationPoint {
    /// Amount added.
    pub amount: f64,
    /// pH there.
    pub ph: f64,
    /// Ionic strength there, mol/kg water.
    pub ionic_strength: f64,
}

impl Ray {
    /// Water at an amount, kg.
    ///
    /// # Errors
    /// [`AqueousError::NoWater`] where none is left.
    pub(crate) fn water_at(&self, amount: f64) -> Result<f64, AqueousError> {
        let kg = self.base.water_kg + amount * self.along.water_kg;
        if kg > 0.0 { Ok(kg) } else { Err(AqueousError::NoWater { water_percent: 1000.0 * kg }) }
    }

    /// Writes the totals at an amount into `totals` (mol/kg water) and returns the molality of the non-electrolytes.
    ///
    /// # Errors
    /// [`AqueousError::NoWater`] where the addition has displaced all of it.
    pub fn at(&self, amount: f64, totals: &mut Vec<f64>) -> Result<f64, AqueousError> {
        let kg = self.water_at(amount)?;
        totals.clear();
        let parts = self.base.components_mol.iter().zip(&self.along.components_mol);
        totals.extend(parts.map(|(base, along)| (base + amount * along) / kg));
        Ok((self.base.neutral_mol + amount * self.along.neutral_mol) / kg)
    }
}

impl System {
    /// Solves at an amount, going on from the last solution of the workspace, and returns the pH.
    ///
    /// The totals solved for are left in [`Workspace::totals_given`].
    ///
    /// # Errors
    /// Those of [`System::solve`], and [`AqueousError::NoWater`].
    pub fn solve_along(
        &self,
        ray: &Ray,
        amount: f64,
        workspace: &mut Workspace,
    ) -> Result<f64, AqueousError> {
        let mut totals = core::mem::take(&mut workspace.given);
        let solved = ray.at(amount, &mut totals).and_then(|neutral| self.solve(&totals, neutral, workspace));
        workspace.given = totals;
        solved.map(|()| workspace.ph())
    }

    /// The curve at the given amounts.
    ///
    /// # Errors
    /// The first error of the solver.
    pub fn titrate(
        &self,
        ray: &Ray,
        amounts: impl IntoIterator<Item = f64>,
        workspace: &mut Workspace,
    ) -> Result<Vec<TitrationPoint>, AqueousError> {
        amounts
            .into_iter()
            .map(|amount| {
                let ph = self.solve_along(ray, amount, workspace)?;
                Ok(TitrationPoint { amount, ph, ionic_strength: workspace.ionic_strength() })
            })
            .collect()
    }
}
