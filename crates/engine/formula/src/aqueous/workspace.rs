//! The state of a solution and the room it is computed in.

use super::layout::Layout;
use super::polyacid::Ionised;
use super::solve::Border;
use super::species::{SlotSums, Sums};
use super::system::System;
use core::f64::consts::LN_10;
use levigate_measure::elementary::Elementary as _;
use std::sync::Arc;

/// Place of the right side among the columns.
pub(super) const RIGHT: usize = 3;
/// Place of the amount.
pub(super) const AMOUNT: usize = 2;

/// State of a solution and room to compute in; one per thread, reused from solve to solve.
#[derive(Clone, Debug, Default)]
pub struct Workspace {
    /// ln activity of the unknowns.
    pub(crate) x: Vec<f64>,
    /// ln of the ionic strength.
    pub(crate) y: f64,
    pub(crate) ln_water: f64,
    /// Ionic strength of the last evaluation.
    pub(super) strength: f64,
    /// Molality of every species of the system.
    pub(crate) m: Vec<f64>,
    /// Totals of the unknowns as used (with the gas taken into account).
    pub(crate) totals: Vec<f64>,
    pub(crate) chain_totals: Vec<f64>,
    /// Protonation every unknown and every polyacid is counted from; protons of every species beyond those of its components.
    pub(crate) reference: Vec<f64>,
    pub(crate) chain_reference: Vec<f64>,
    pub(crate) protons: Vec<f64>,
    pub(crate) proton_total: f64,
    /// What is taken off on both sides by the references, for the rounding of the balance.
    pub(super) proton_scale: f64,
    pub(crate) spectator_strength: f64,
    pub(crate) spectator_sum: f64,
    /// First guess: a row of the grid, what is left of every total beside its strong complexes, protons per unknown, constants of
    /// pairs.
    pub(super) guess: Vec<f64>,
    pub(super) free: Vec<f64>,
    pub(super) held_protons: Vec<f64>,
    pub(super) pair_constant: Vec<f64>,
    pub(super) pair_left: Vec<f64>,
    /// Shared factors of the species.
    pub(super) activities: Vec<f64>,
    pub(super) proton_powers: Vec<f64>,
    pub(super) water_powers: Vec<f64>,
    pub(super) bonds: Vec<f64>,
    pub(super) inverse_coefficients: Vec<f64>,
    /// What the species add up to, per unknown; the last one takes what nobody asks for.
    pub(crate) slots: Vec<SlotSums>,
    pub(super) ionised: Vec<Ionised>,
    pub(crate) sums: Sums,
    /// The matrix, or its factors when `factored`.
    pub(super) matrix: Vec<f64>,
    pub(super) factored: bool,
    /// Right side, then the step of the unknowns.
    pub(super) step: Vec<f64>,
    /// Columns of ln I, ln a_w, the amount along a ray (for a given pH) and the right side, solved with the factors; what is left of
    /// the border.
    pub(super) columns: Vec<[f64; 4]>,
    pub(super) border: Border,
    pub(super) last_x: Vec<f64>,
    pub(super) last_step: Vec<f64>,
    /// What the proton balance added up when protons were counted; `None` until evaluated.
    pub(super) turnover: Option<f64>,
    /// Totals last solved for along a ray, in the order of the components.
    pub(super) given: Vec<f64>,
    /// Ends of the ray and the slope of the totals on it.
    pub(super) base: Arranged,
    pub(super) along: Arranged,
    pub(super) slope: Arranged,
    /// The layout all of this fits.
    layout: Option<Arc<Layout>>,
    pub(super) ready: bool,
    /// Iterations of the last solve.
    pub iterations: usize,
    /// Whether the last solve needed the bracketed method.
    pub bracketed: bool,
    /// Never use the direct method (for tests of the other one).
    pub bracketed_only: bool,
}

/// Totals as the solver takes them: linear in the totals given.
#[derive(Clone, Debug, Default)]
pub(super) struct Arranged {
    /// Of the unknowns, with the gas taken into account.
    pub(super) solved: Vec<f64>,
    pub(super) chains: Vec<f64>,
    /// Ionic strength and sum of molalities of what takes part in nothing.
    pub(super) strength: f64,
    pub(super) sum: f64,
}

impl Workspace {
    /// An empty workspace; it fits itself to the system at the first solve.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// Forgets the last solution, so that the next solve starts cold.
    pub fn forget(&mut self) {
        self.ready = false;
    }

    /// pH of the last solution.
    #[must_use]
    pub fn ph(&self) -> f64 {
        -self.x.first().copied().unwrap_or(f64::NAN) / LN_10
    }

    /// Ionic strength of the last solution, mol/kg.
    #[must_use]
    pub fn ionic_strength(&self) -> f64 {
        self.y.exp_e()
    }

    /// Totals last solved for along a ray, mol/kg, in the order of [`System::components`].
    #[must_use]
    pub fn totals_given(&self) -> &[f64] {
        &self.given
    }

    /// Sum of all molalities of the last solution, mol/kg.
    pub(crate) fn sum_of_molalities(&self) -> f64 {
        self.sums.all
    }

    /// Ionic strength summed over the species of the last solution, mol/kg.
    pub(crate) fn strength_sum(&self) -> f64 {
        self.sums.strength
    }

    /// Water activity of the last solution by the equation of the law of mass action.
    #[must_use]
    pub fn water_activity(&self) -> f64 {
        self.ln_water.exp_e()
    }
}

impl System {
    /// Gives a workspace the sizes of this system; one that had another forgets its solution.
    pub(super) fn fit(&self, w: &mut Workspace) {
        if w.layout.as_ref().is_some_and(|layout| Arc::ptr_eq(layout, &self.layout)) {
            return;
        }
        let layout = &self.layout;
        let (slots, chains) = (self.solved.len(), self.chains.len());
        for values in [
            &mut w.x,
            &mut w.totals,
            &mut w.free,
            &mut w.held_protons,
            &mut w.step,
            &mut w.last_x,
            &mut w.last_step,
        ] {
            values.clear();
            values.resize(slots, 0.0);
        }
        w.reference = vec![0.0; slots + 1];
        w.guess = vec![0.0; self.grid.width()];
        w.m = vec![0.0; self.members.len()];
        w.chain_totals = vec![0.0; chains];
        w.chain_reference = vec![0.0; chains];
        w.protons = vec![0.0; self.members.len()];
        w.pair_constant = vec![0.0; layout.pairs.len()];
        w.pair_left = vec![0.0; layout.pairs.len()];
        w.inverse_coefficients = vec![1.0; layout.most_charge as usize + 1 + layout.salting_out.len()];
        w.activities = vec![1.0; slots + 1];
        w.bonds = vec![0.0; layout.bonds.len()];
        w.slots = vec![SlotSums::default(); slots + 1];
        w.ionised = vec![Ionised::default(); chains];
        w.matrix = vec![0.0; layout.arrow.len() + 1];
        w.columns = vec![[0.0; 4]; slots];
        w.layout = Some(Arc::clone(layout));
        w.ready = false;
    }
}

/// Entries of an unknown in the rows of the ionic strength and of the sum of molalities.
pub(super) fn rows_of(w: &Workspace, slot: usize) -> (f64, f64) {
    if slot == 0 {
        (w.sums.strength_by_proton, w.sums.proton_plus - w.sums.proton_minus)
    } else {
        (0.5 * w.slots[slot].charge, w.slots[slot].amount)
    }
}
