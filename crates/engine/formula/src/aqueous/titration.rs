//! Adding something step by step, and how much of it brings a solution to a pH.
//!
//! Totals move along a straight line: `T(a) = T0 + a t`. Every step starts from the last solution. The amount for a pH is found by a
//! bracketed search (Brent) on that line; where no amount within the bound reaches it, the nearest pH is reported.

use super::error::AqueousError;
use super::solve::Workspace;
use super::system::System;
use levigate_measure::root::bracketed;
use serde::Serialize;

/// A solution and the direction in which an addition moves it, per unit of amount.
#[derive(Clone, Debug, PartialEq)]
pub struct Addition<'a> {
    /// Totals without the addition, mol/kg water, in the order of the system.
    pub start: &'a [f64],
    /// Change of the totals per unit of amount.
    pub per_unit: &'a [f64],
    /// Sum of non-electrolytes, mol/kg water.
    pub neutral_molality: f64,
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

impl Addition<'_> {
    fn totals(&self, amount: f64, room: &mut Vec<f64>) {
        room.clear();
        room.extend(self.start.iter().zip(self.per_unit).map(|(start, step)| start + amount * step));
    }
}

impl System {
    /// The curve at the given amounts.
    ///
    /// # Errors
    /// The first error of the solver.
    pub fn titrate(
        &self,
        addition: &Addition<'_>,
        amounts: impl IntoIterator<Item = f64>,
        workspace: &mut Workspace,
    ) -> Result<Vec<TitrationPoint>, AqueousError> {
        let mut room = Vec::with_capacity(self.names.len());
        amounts
            .into_iter()
            .map(|amount| {
                addition.totals(amount, &mut room);
                self.solve(&room, addition.neutral_molality, workspace)?;
                Ok(TitrationPoint { amount, ph: workspace.ph(), ionic_strength: workspace.ionic_strength() })
            })
            .collect()
    }

    /// The amount that brings the solution to a pH, to `1e-10` of the most.
    ///
    /// # Errors
    /// [`AqueousError::Unreachable`] with the nearest pH, or an error of the solver.
    pub fn amount_for_ph(
        &self,
        addition: &Addition<'_>,
        target: f64,
        workspace: &mut Workspace,
    ) -> Result<f64, AqueousError> {
        if !target.is_finite() {
            return Err(AqueousError::NotUsable { what: "the pH asked for".to_owned(), value: target });
        }
        if !(addition.most > 0.0 && addition.most.is_finite()) {
            return Err(AqueousError::NotUsable {
                what: "the most that may be added".to_owned(),
                value: addition.most,
            });
        }
        let mut room = Vec::with_capacity(self.names.len());
        let mut ph_at = |amount: f64| {
            addition.totals(amount, &mut room);
            self.solve(&room, addition.neutral_molality, workspace).map(|()| workspace.ph())
        };
        let start = ph_at(0.0)?;
        if (start - target).abs() < 1e-10 {
            return Ok(0.0);
        }
        let wanted = (target - start).signum();
        let unreachable = |nearest_ph, nearest_amount, limit| AqueousError::Unreachable {
            target,
            nearest_ph,
            nearest_amount,
            limit,
        };
        // Growing steps until the target is passed.
        let mut nearest = (0.0, start);
        let (mut before, mut amount) = (0.0, addition.most * 1e-6);
        let after = loop {
            let ph = ph_at(amount)?;
            if (target - ph) * wanted <= 0.0 {
                break amount;
            }
            if (ph - target).abs() < (nearest.1 - target).abs() {
                nearest = (amount, ph);
            }
            if amount >= addition.most {
                let limit = if nearest.0 == 0.0 {
                    "the addition moves the pH the other way"
                } else if nearest.0 < addition.most * 0.999 {
                    "the addition passes its furthest point before that"
                } else {
                    "the most that may be added"
                };
                return Err(unreachable(nearest.1, nearest.0, limit));
            }
            before = amount;
            amount = (amount * 4.0).min(addition.most);
        };
        let mut trouble = None;
        let found = bracketed(
            |amount| match ph_at(amount) {
                Ok(ph) => ph - target,
                Err(error) => {
                    trouble.get_or_insert(error);
                    f64::NAN
                }
            },
            before,
            after,
            1e-10 * addition.most.min(after * 100.0),
            120,
        );
        match (found, trouble) {
            (_, Some(error)) => Err(error),
            (Ok(amount), None) => Ok(amount),
            (Err(_), None) => Err(unreachable(nearest.1, nearest.0, "the search did not settle")),
        }
    }
}
