//! How the pH answers to totals, constants and coefficients: derivatives at the solution, not repeated solves.
//!
//! With the balances `g(u; p) = 0` in the unknowns `u = (x, ln I, ln a_w)` the derivative of pH with respect to any parameter is
//! `dpH/dp = (1/ln 10) lambda . dg/dp`, where `lambda` solves `(dg/du)^T lambda = e(H+)`: one linear system for all parameters.
//! Buffer capacity is `beta = -1 / (dpH/dT_H)` for a strong acid with an inert counter-ion.
//! Proof: agreement with finite differences (property tests in `tests/aqueous_laws.rs`).

use super::solve::ln_water_slope;
use super::system::{Role, System};
use super::workspace::Workspace;
use core::f64::consts::LN_10;

/// Derivatives of pH at a solution.
#[derive(Clone, Debug, PartialEq)]
pub struct Sensitivities {
    /// dpH/dT for every component in the order of the system, per mol/kg.
    pub by_total: Vec<f64>,
    /// dpH/dlog10 K for every species of [`System::species`].
    pub by_constant: Vec<f64>,
    /// dpH per unit of `pk` for every polyacid.
    pub by_polyacid: Vec<f64>,
    /// dpH per unit of log10 of the coefficient of a single charge.
    pub by_charged_coefficient: f64,
    /// dpH per unit of log10 of the coefficient of a neutral species.
    pub by_neutral_coefficient: f64,
    /// Buffer capacity: strong base (with an inert counter-ion of charge 1) per pH, mol/kg water.
    pub buffer_capacity: f64,
}

/// Weights of the balances: how much a change of each moves ln a(H+).
struct Adjoint {
    /// For every unknown.
    balance: Vec<f64>,
    strength: f64,
    water: f64,
}

impl System {
    /// Derivatives at the last solution of the workspace.
    #[must_use]
    pub fn sensitivities(&self, workspace: &Workspace) -> Sensitivities {
        let adjoint = self.adjoint(workspace);
        let sum_slope = ln_water_slope(workspace.sum_of_molalities());
        let to_ph = 1.0 / LN_10;
        let by_total: Vec<f64> = (0..self.names.len())
            .map(|place| {
                let charge = f64::from(self.charges[place]);
                let pull = match self.roles[place] {
                    Role::Solved(0) => -adjoint.balance[0],
                    Role::Solved(slot) => {
                        -adjoint.balance[slot] + workspace.reference[slot] * adjoint.balance[0]
                    }
                    Role::Spectator => 0.5 * charge * charge * adjoint.strength - sum_slope * adjoint.water,
                    Role::Gas => self.gas.map_or(0.0, |link| f64::from(link.protons)) * adjoint.balance[0],
                    Role::Chain(chain) => self.chain_pull(workspace, chain, &adjoint),
                };
                to_ph * pull
            })
            .collect();
        let (mut charged, mut neutral) = (0.0, 0.0);
        let mut by_constant = Vec::with_capacity(self.facts.len());
        for (species, member) in self.members.iter().enumerate() {
            let terms = self.layout.terms_of(species).iter();
            let held: f64 = terms.map(|term| term.count() * adjoint.balance[term.slot]).sum();
            let pull = workspace.m[species]
                * (held
                    + workspace.protons[species] * adjoint.balance[0]
                    + 0.5 * member.squared * adjoint.strength
                    - sum_slope * adjoint.water);
            charged -= member.squared * pull;
            neutral -= if member.squared == 0.0 { pull } else { 0.0 };
            by_constant.push(pull);
        }
        let by_polyacid = (0..self.chains.len())
            .map(|chain| {
                let total = workspace.chain_totals[chain];
                let ionised = self.chains[chain].ionised(workspace.x[0], workspace.y);
                let condensed = ionised.degree > self.chains[chain].condensed_from;
                let strength = if condensed { -0.5 * total * ionised.by_pk } else { 0.0 };
                to_ph * (-total * ionised.by_pk * adjoint.balance[0] + strength * adjoint.strength)
            })
            .collect();
        let acid = by_total[0] + to_ph * (0.5 * adjoint.strength - sum_slope * adjoint.water);
        let base = -by_total[0] + to_ph * (0.5 * adjoint.strength - sum_slope * adjoint.water);
        let slope = 0.5 * (base - acid);
        Sensitivities {
            by_total,
            by_constant,
            by_polyacid,
            by_charged_coefficient: charged,
            by_neutral_coefficient: neutral,
            buffer_capacity: if slope > 0.0 { 1.0 / slope } else { f64::NAN },
        }
    }

    fn chain_pull(&self, w: &Workspace, chain: usize, adjoint: &Adjoint) -> f64 {
        let ionised = self.chains[chain].ionised(w.x[0], w.y);
        let protons = if w.chain_reference[chain] > 0.5 { -ionised.degree } else { ionised.neutral };
        let condensed = (ionised.degree - self.chains[chain].condensed_from).max(0.0);
        (protons + w.chain_reference[chain]) * adjoint.balance[0] - 0.5 * condensed * adjoint.strength
            + ln_water_slope(w.sum_of_molalities()) * condensed * adjoint.water
    }

    fn adjoint(&self, w: &Workspace) -> Adjoint {
        let slots = w.x.len();
        let size = slots + 2;
        let mut matrix = vec![0.0; size * size];
        let gamma = self.activity.at(w.ionic_strength());
        let sum_slope = ln_water_slope(w.sum_of_molalities());
        let mut columns: Vec<(usize, f64)> = Vec::new();
        for (species, member) in self.members.iter().enumerate() {
            let m = w.m[species];
            let squared = member.squared;
            columns.clear();
            columns.push((0, w.protons[species]));
            columns.extend(self.layout.terms_of(species).iter().map(|term| (term.slot, term.count())));
            let rows = columns.len();
            let by_strength = squared * gamma.charged_slope + member.salting_out * gamma.neutral_slope;
            columns.push((slots, -by_strength));
            columns.push((slots + 1, f64::from(self.layout.bonds[member.bond as usize].water)));
            for &(column, change) in &columns {
                for &(row, count) in &columns[..rows] {
                    matrix[row * size + column] += count * change * m;
                }
                matrix[slots * size + column] += 0.5 * squared * change * m;
                matrix[(slots + 1) * size + column] -= sum_slope * change * m;
            }
        }
        for (chain, model) in self.chains.iter().enumerate() {
            let total = w.chain_totals[chain];
            let ionised = model.ionised(w.x[0], w.y);
            matrix[0] -= total * ionised.by_ln_proton;
            matrix[slots] -= total * ionised.by_ln_strength;
            if ionised.degree > model.condensed_from {
                matrix[slots * size] -= 0.5 * total * ionised.by_ln_proton;
                matrix[slots * size + slots] -= 0.5 * total * ionised.by_ln_strength;
                matrix[(slots + 1) * size] += sum_slope * total * ionised.by_ln_proton;
                matrix[(slots + 1) * size + slots] += sum_slope * total * ionised.by_ln_strength;
            }
        }
        matrix[slots * size + slots] -= w.ionic_strength();
        matrix[(slots + 1) * size + slots + 1] += 1.0;
        for slot in 1..slots {
            if w.totals[slot] == 0.0 {
                matrix[slot * size + slot] = 1.0;
            }
        }
        let mut right = vec![0.0; size];
        right[0] = 1.0;
        solve_transposed(&mut matrix, &mut right, size);
        Adjoint { strength: right[slots], water: right[slots + 1], balance: right[..slots].to_vec() }
    }
}

/// Solves `M^T x = b` by elimination with row scaling and partial pivoting; a lost pivot gives zero in its place.
fn solve_transposed(matrix: &mut [f64], right: &mut [f64], size: usize) {
    let mut work = vec![0.0; size * size];
    // Balances differ by many orders of magnitude: scale each, and take the scale back at the end.
    let mut scales = vec![1.0; size];
    for row in 0..size {
        let most = (0..size).fold(0.0_f64, |most, column| most.max(matrix[row * size + column].abs()));
        scales[row] = if most > 0.0 { 1.0 / most } else { 1.0 };
        for column in 0..size {
            work[column * size + row] = matrix[row * size + column] * scales[row];
        }
    }
    for pivot in 0..size {
        let best = (pivot..size)
            .max_by(|&a, &b| work[a * size + pivot].abs().total_cmp(&work[b * size + pivot].abs()))
            .unwrap_or(pivot);
        if best != pivot {
            for column in 0..size {
                work.swap(best * size + column, pivot * size + column);
            }
            right.swap(best, pivot);
        }
        let head = work[pivot * size + pivot];
        if head == 0.0 {
            continue;
        }
        for row in pivot + 1..size {
            let factor = work[row * size + pivot] / head;
            if factor != 0.0 {
                for column in pivot..size {
                    work[row * size + column] -= factor * work[pivot * size + column];
                }
                right[row] -= factor * right[pivot];
            }
        }
    }
    for pivot in (0..size).rev() {
        let mut value = right[pivot];
        for column in pivot + 1..size {
            value -= work[pivot * size + column] * right[column];
        }
        let head = work[pivot * size + pivot];
        right[pivot] = if head == 0.0 { 0.0 } else { value / head };
    }
    for (value, scale) in right.iter_mut().zip(&scales) {
        *value *= scale;
    }
}
