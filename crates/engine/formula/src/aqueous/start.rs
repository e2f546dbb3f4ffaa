//! First guess of a cold start: pH from protonations known on a grid, then strong one-to-one complexes pair by pair.
//!
//! Nothing here decides the answer, only how few steps Newton's method needs.

use super::fast_exp::exp;
use super::solve::{ABSENT, Arranged, Workspace, water_activity};
use super::system::{GRID_LEAST_PH, GRID_POINTS, GRID_STEP_PH, System, grid_ph};
use core::f64::consts::LN_10;

/// A place on the grid of pH: between two points.
#[derive(Clone, Copy, Debug)]
struct Place {
    low: usize,
    share: f64,
}

impl Place {
    fn at(ph: f64) -> Self {
        let position = ((ph - GRID_LEAST_PH) / GRID_STEP_PH).clamp(0.0, 34.999);
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped above")]
        let low = position as usize;
        Self { low, share: position.fract() }
    }

    fn ln_proton(self) -> f64 {
        -(grid_ph(self.low) + GRID_STEP_PH * self.share) * LN_10
    }

    fn of(self, grid: &[f64; GRID_POINTS]) -> f64 {
        grid[self.low] + self.share * (grid[self.low + 1] - grid[self.low])
    }
}

impl System {
    /// Guesses every unknown from the totals alone.
    pub(crate) fn first_guess(&self, w: &mut Workspace) {
        w.free.copy_from_slice(&w.totals);
        w.held_protons.fill(0.0);
        let mut place = self.place_on_grid(w, 0.0);
        for _ in 0..2 {
            let Some(bound) = self.allocate(w, place) else { break };
            place = self.place_on_grid(w, bound);
        }
        self.set_unknowns(w, place);
        self.count_protons(w, place);
    }

    /// Guesses the amount along the ray of the workspace that gives a pH, within bounds, and every unknown there.
    ///
    /// `water` is what the base and one unit of the addition hold, kg. At a given pH the proton balance is straight in the amount but
    /// for what complexes hold.
    pub(super) fn first_guess_at_ph(
        &self,
        ph: f64,
        water: [f64; 2],
        (least, most): (f64, f64),
        w: &mut Workspace,
    ) -> Option<f64> {
        let place = Place::at(ph);
        let protonation = |slot: usize| place.of(&self.grid_protonation[slot]);
        let balance = |arranged: &Arranged, kg: f64, excess: f64| {
            let mut sum = kg * excess - arranged.solved[0];
            for (slot, total) in arranged.solved.iter().enumerate().skip(1) {
                sum += total * protonation(slot);
            }
            for (total, grid) in arranged.chains.iter().zip(&self.chain_grid) {
                sum += total * place.of(grid);
            }
            sum
        };
        let mut excess = place.of(&self.grid_free);
        let mut amount = least;
        for _ in 0..3 {
            let straight = -balance(&w.base, water[0], excess) / balance(&w.along, water[1], excess);
            amount = if straight.is_finite() { straight.clamp(least, most) } else { least };
            self.go_along(amount, water, w)?;
            w.free.copy_from_slice(&w.totals);
            w.held_protons.fill(0.0);
            let Some(bound) = self.allocate(w, place) else { break };
            excess = place.of(&self.grid_free) + bound;
            for slot in 1..w.free.len() {
                excess -= (w.totals[slot] - w.free[slot]) * protonation(slot);
            }
        }
        self.set_unknowns(w, place);
        w.x[0] = -ph * LN_10;
        self.count_protons(w, place);
        Some(amount)
    }

    /// pH at which what is free balances the protons that are not bound in complexes.
    fn place_on_grid(&self, w: &Workspace, bound_protons: f64) -> Place {
        let balance = |point: usize| {
            let mut sum = self.grid_free[point] + bound_protons - w.totals[0];
            for slot in 1..w.free.len() {
                sum += w.free[slot] * self.grid_protonation[slot][point];
            }
            for (total, grid) in w.chain_totals.iter().zip(&self.chain_grid) {
                sum += total * grid[point];
            }
            sum
        };
        // The balance falls with rising pH: halve the grid until two neighbours enclose the root.
        let (mut low, mut high) = (0, GRID_POINTS - 1);
        while high - low > 1 {
            let middle = usize::midpoint(low, high);
            if balance(middle) > 0.0 {
                low = middle;
            } else {
                high = middle;
            }
        }
        let (at_low, at_high) = (balance(low), balance(high));
        let share = if at_low > 0.0 && at_high < 0.0 { at_low / (at_low - at_high) } else { 0.5 };
        Place { low, share }
    }

    /// Lets pairs form complexes, strongest first; returns the protons bound in them, `None` where no pair matters.
    fn allocate(&self, w: &mut Workspace, place: Place) -> Option<f64> {
        if self.pairs.is_empty() {
            return None;
        }
        let proton = place.ln_proton();
        let mut any = false;
        for (pair, constant) in self.pairs.iter().zip(&mut w.pair_constant) {
            *constant = 0.0;
            let (first, second) = (w.totals[pair.first], w.totals[pair.second]);
            if first == 0.0 || second == 0.0 {
                continue;
            }
            let base = -place.of(&self.grid_ln_sum[pair.first]) - place.of(&self.grid_ln_sum[pair.second]);
            for &species in &pair.species {
                let index = species as usize;
                *constant += exp((self.grid_ln_k[index] + self.protons[index] * proton + base).min(200.0));
            }
            if *constant * first.max(second) < 0.2 {
                *constant = 0.0;
            } else {
                any = true;
            }
        }
        if !any {
            return None;
        }
        w.free.copy_from_slice(&w.totals);
        w.held_protons.fill(0.0);
        let mut bound_protons = 0.0;
        for _ in 0..self.pairs.len() {
            let mut best = (0, 0.0);
            for (index, &constant) in w.pair_constant.iter().enumerate() {
                if constant > best.1 {
                    best = (index, constant);
                }
            }
            let (index, constant) = best;
            if constant == 0.0 {
                break;
            }
            w.pair_constant[index] = 0.0;
            let pair = &self.pairs[index];
            let (first, second) = (w.free[pair.first], w.free[pair.second]);
            let complex = complex_of(first, second, constant);
            let apart = (first - second).abs();
            let more = 0.5 * (apart + (apart * apart + 4.0 * complex / constant).sqrt());
            let less = complex / (constant * more);
            (w.free[pair.first], w.free[pair.second]) =
                if first > second { (more, less) } else { (less, more) };
            // The protonation of the pair's complex: of its strongest species.
            let strongest = pair.species.iter().fold((0.0, f64::NEG_INFINITY), |strongest, &species| {
                let index = species as usize;
                let ln = self.grid_ln_k[index] + self.protons[index] * proton;
                if ln > strongest.1 { (self.protons[index], ln) } else { strongest }
            });
            bound_protons += complex * strongest.0;
            let owner = self.proton_owner[pair.species[0] as usize] as usize;
            w.held_protons[owner] += complex * strongest.0;
        }
        Some(bound_protons)
    }

    fn set_unknowns(&self, w: &mut Workspace, place: Place) {
        w.x[0] = place.ln_proton();
        let mut strength = w.spectator_strength + 0.5 * (exp(w.x[0]) + exp(-32.2 - w.x[0]));
        for slot in 1..w.x.len() {
            if w.totals[slot] == 0.0 {
                w.x[slot] = ABSENT;
                continue;
            }
            let free = w.free[slot].max(1e-30 * w.totals[slot]);
            w.x[slot] = free.ln() - place.of(&self.grid_ln_sum[slot]);
            let charge = f64::from(self.charges[self.solved[slot]]) + place.of(&self.grid_protonation[slot]);
            strength += 0.5 * free * charge * charge;
        }
        for (total, grid) in w.chain_totals.iter().zip(&self.chain_grid) {
            strength += 0.5 * total * (1.0 - grid[place.low]);
        }
        w.y = strength.max(1e-9).ln();
        w.ln_water = water_activity(w.spectator_sum).ln();
    }

    /// Chooses the protonation every ligand is counted from: the nearest whole number to its average.
    fn count_protons(&self, w: &mut Workspace, place: Place) {
        for slot in 1..w.x.len() {
            let total = w.totals[slot];
            w.reference[slot] = if total > 0.0 {
                let free = w.free[slot] * place.of(&self.grid_protonation[slot]);
                ((free + w.held_protons[slot]) / total).round()
            } else {
                0.0
            };
        }
        for (reference, grid) in w.chain_reference.iter_mut().zip(&self.chain_grid) {
            *reference = grid[place.low].round();
        }
        self.apply_reference(w);
    }

    /// The same from the species of the last solution.
    pub(crate) fn count_protons_of_last(&self, w: &mut Workspace) {
        w.held_protons.fill(0.0);
        w.free.fill(0.0);
        for index in 0..w.m.len() {
            w.held_protons[self.proton_owner[index] as usize] += self.protons[index] * w.m[index];
            for term in self.starts[index] as usize..self.starts[index + 1] as usize {
                w.free[self.term_slot[term] as usize] += self.term_count[term] * w.m[index];
            }
        }
        for slot in 1..w.x.len() {
            w.reference[slot] =
                if w.free[slot] > 0.0 { (w.held_protons[slot] / w.free[slot]).round() } else { 0.0 };
        }
        let position = ((-w.x[0] / LN_10 - GRID_LEAST_PH) / GRID_STEP_PH).clamp(0.0, 34.9);
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped above")]
        let point = position.round() as usize;
        for (reference, grid) in w.chain_reference.iter_mut().zip(&self.chain_grid) {
            *reference = grid[point].round();
        }
        self.apply_reference(w);
    }

    /// Rewrites the proton numbers of the species and the proton total with the reference of every ligand.
    fn apply_reference(&self, w: &mut Workspace) {
        w.proton_total = counted(w, &w.totals, &w.chain_totals);
        for index in 0..w.protons.len() {
            let mut protons = self.protons[index];
            for term in self.starts[index] as usize..self.starts[index + 1] as usize {
                protons -= self.term_count[term] * w.reference[self.term_slot[term] as usize];
            }
            w.protons[index] = protons;
        }
    }
}

/// Proton total less what the references of the ligands hold.
pub(super) fn counted(w: &Workspace, totals: &[f64], chains: &[f64]) -> f64 {
    let mut total = totals[0];
    for (reference, amount) in w.reference.iter().zip(totals).skip(1) {
        total -= reference * amount;
    }
    for (reference, amount) in w.chain_reference.iter().zip(chains) {
        total -= reference * amount;
    }
    total
}

/// Amount of a one-to-one complex of two totals: the smaller root of its quadratic, without cancellation.
fn complex_of(first: f64, second: f64, constant: f64) -> f64 {
    let sum = first + second + 1.0 / constant;
    let root = (sum * sum - 4.0 * first * second).max(0.0).sqrt();
    2.0 * first * second / (sum + root)
}
