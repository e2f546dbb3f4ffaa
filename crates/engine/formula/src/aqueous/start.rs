//! First guess of a cold start: pH from protonations known on a grid, then strong one-to-one complexes pair by pair.
//!
//! Nothing here decides the answer, only how few steps Newton's method needs.

use super::solve::{ABSENT, water_activity};
use super::system::System;
use super::workspace::{Arranged, Workspace};
use core::f64::consts::LN_10;
use core::ops::Range;
use levigate_measure::elementary::Elementary as _;
use levigate_measure::fast_exp::{exp, exp_in_place, ln};
use std::sync::OnceLock;

const LEAST_PH: f64 = -1.5;
const STEP_PH: f64 = 0.5;
const POINTS: usize = 36;
const IONIC_STRENGTH: f64 = 0.05;
/// Least ionic strength guessed, mol/kg.
const LEAST_STRENGTH: f64 = 1e-9;
/// ln of the ionic product of water at 25 C.
const LN_WATER_PRODUCT: f64 = -32.2;
/// Sums on the grid are held below this.
const MOST_WEIGHT: f64 = 1e290;
/// Complexes are allocated anew where they have moved the pH by more.
const CLOSE_PH: f64 = 0.05;
/// A pair whose complex would hold less than about this share of either is left alone.
const STRONG: f64 = 0.2;

/// What is known beforehand at every pH of a coarse grid, at one ionic strength and without metals.
///
/// One row per point: H+ less OH-; per unknown the average protonation and z^2 of its own forms and ln of their sum; per polyacid its
/// neutral share; per pair of unknowns ln of the conditional constant of its complexes, and their average protonation and z^2. A row is
/// computed when it is first looked at.
#[derive(Clone, Debug, Default)]
pub(crate) struct Grid {
    slots: usize,
    chains: usize,
    pairs: usize,
    width: usize,
    /// ln of the coefficient of a single charge on it.
    ln_gamma: f64,
    /// Constants of the species at the ionic strength of the grid.
    weights: Vec<f64>,
    rows: Vec<OnceLock<Vec<f64>>>,
}

impl Grid {
    /// The grid of a system that is laid out.
    pub(crate) fn of(system: &System) -> Self {
        let (slots, chains, pairs) = (system.solved.len(), system.chains.len(), system.layout.pairs.len());
        let gamma = system.activity.at(IONIC_STRENGTH);
        let weights = system.members.iter().map(|member| {
            member.constant * exp(-member.squared * gamma.charged - member.salting_out * gamma.neutral)
        });
        Self {
            slots,
            chains,
            pairs,
            width: 1 + 3 * slots + chains + 3 * pairs,
            ln_gamma: gamma.charged,
            weights: weights.collect(),
            rows: vec![OnceLock::new(); POINTS],
        }
    }

    /// The row of a point.
    fn row(&self, system: &System, point: usize) -> &[f64] {
        self.rows[point].get_or_init(|| self.fill(system, ph_of(point)))
    }

    fn fill(&self, system: &System, ph: f64) -> Vec<f64> {
        let layout = &*system.layout;
        let mut row = vec![0.0; self.width];
        let mut powers = Vec::new();
        layout.proton_powers.fill(exp(-ph * LN_10), &mut powers);
        // Sum of the weights of some species, and the protons and z^2 counted with them.
        let sum = |species: Range<usize>| {
            let mut sums = [0.0; 3];
            for (member, weight) in system.members[species.clone()].iter().zip(&self.weights[species]) {
                let power = powers[layout.proton_powers.place(layout.bonds[member.bond as usize].protons)];
                let value = (weight * power).min(MOST_WEIGHT);
                sums[0] += value;
                sums[1] += member.protons * value;
                sums[2] += member.squared * value;
            }
            sums[0] = sums[0].max(1.0 / MOST_WEIGHT);
            sums
        };
        for species in &layout.groups {
            match layout.terms_of(species.start) {
                [] => row[0] = sum(species.clone())[1],
                [term] if term.times == 1 => {
                    let [total, protons, squared] = sum(species.clone());
                    row[self.protonation().start + term.slot] = protons / total;
                    row[self.squared().start + term.slot] = squared / total;
                    row[self.ln_sum().start + term.slot] = ln(total);
                }
                _ => {}
            }
        }
        for (place, pair) in layout.pairs.iter().enumerate() {
            let [total, protons, squared] = sum(pair.species.clone());
            let apart = row[self.ln_sum().start + pair.first] + row[self.ln_sum().start + pair.second];
            row[self.pair_constant().start + place] = ln(total) - apart;
            row[self.pair_protons().start + place] = protons / total;
            row[self.pair_squared().start + place] = squared / total;
        }
        for (value, chain) in row[self.chain()].iter_mut().zip(&system.chains) {
            *value = chain.ionised(-ph * LN_10, IONIC_STRENGTH.log_e()).neutral;
        }
        row
    }

    fn protonation(&self) -> Range<usize> {
        1..1 + self.slots
    }

    fn ln_sum(&self) -> Range<usize> {
        1 + self.slots..1 + 2 * self.slots
    }

    fn squared(&self) -> Range<usize> {
        1 + 2 * self.slots..1 + 3 * self.slots
    }

    fn chain(&self) -> Range<usize> {
        let start = self.squared().end;
        start..start + self.chains
    }

    fn pair_constant(&self) -> Range<usize> {
        let start = self.chain().end;
        start..start + self.pairs
    }

    fn pair_protons(&self) -> Range<usize> {
        let start = self.pair_constant().end;
        start..start + self.pairs
    }

    /// Numbers in a row.
    pub(super) fn width(&self) -> usize {
        self.width
    }

    fn pair_squared(&self) -> Range<usize> {
        let start = self.pair_protons().end;
        start..start + self.pairs
    }

    /// Everything at a pH, straight between the points beside it.
    fn at(&self, system: &System, ph: f64, into: &mut [f64]) {
        let position = ((ph - LEAST_PH) / STEP_PH).clamp(0.0, 34.999_999);
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped above")]
        let low = position as usize;
        let share = position.fract();
        for ((value, low), high) in into.iter_mut().zip(self.row(system, low)).zip(self.row(system, low + 1))
        {
            *value = low + share * (high - low);
        }
    }
}

fn ph_of(point: usize) -> f64 {
    #[expect(clippy::cast_precision_loss, reason = "at most 36")]
    let point = point as f64;
    LEAST_PH + STEP_PH * point
}

impl System {
    /// Guesses every unknown from the totals alone.
    pub(crate) fn first_guess(&self, w: &mut Workspace) {
        self.nothing_bound(w);
        let mut ph = self.ph_on_grid(w, 0.0);
        self.grid.at(self, ph, &mut w.guess);
        for _ in 0..2 {
            let Some(bound) = self.allocate(w) else { break };
            let before = core::mem::replace(&mut ph, self.ph_on_grid(w, bound));
            self.grid.at(self, ph, &mut w.guess);
            if (ph - before).abs() < CLOSE_PH {
                break;
            }
        }
        w.x[0] = -ph * LN_10;
        self.set_unknowns(w);
        self.count_protons(w);
    }

    fn nothing_bound(&self, w: &mut Workspace) {
        w.free.copy_from_slice(&w.totals);
        w.held_protons.fill(0.0);
        w.pair_constant.fill(0.0);
    }

    /// Ionic strength of what is free and what the pairs hold.
    fn guess_strength(&self, w: &Workspace) -> f64 {
        let mut sum = 2.0 * w.spectator_strength + dot(&w.free[1..], &w.guess[self.grid.squared()][1..]);
        for (total, neutral) in w.chain_totals.iter().zip(&w.guess[self.grid.chain()]) {
            sum += total * (1.0 - neutral);
        }
        let squared = &w.guess[self.grid.pair_squared()];
        for ((pair, constant), squared) in self.layout.pairs.iter().zip(&w.pair_constant).zip(squared) {
            sum += constant * w.free[pair.first] * w.free[pair.second] * squared;
        }
        (0.5 * sum).max(LEAST_STRENGTH)
    }

    /// ln of the coefficient of a single charge less that on the grid.
    fn off_grid(&self, strength: f64) -> f64 {
        self.activity.at(strength).charged - self.grid.ln_gamma
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
        self.grid.at(self, ph, &mut w.guess);
        let balance = |w: &Workspace, arranged: &Arranged, kg: f64, excess: f64| {
            let protonation = &w.guess[self.grid.protonation()];
            kg * excess - arranged.solved[0]
                + dot(&arranged.solved[1..], &protonation[1..])
                + dot(&arranged.chains, &w.guess[self.grid.chain()])
        };
        let mut excess = w.guess[0];
        let mut amount = least;
        for _ in 0..3 {
            let straight = -balance(w, &w.base, water[0], excess) / balance(w, &w.along, water[1], excess);
            amount = if straight.is_finite() { straight.clamp(least, most) } else { least };
            self.go_along(amount, water, w)?;
            self.nothing_bound(w);
            let Some(bound) = self.allocate(w) else { break };
            let protonation = &w.guess[self.grid.protonation()];
            excess = w.guess[0] + bound + dot(&w.free[1..], &protonation[1..])
                - dot(&w.totals[1..], &protonation[1..]);
        }
        w.x[0] = -ph * LN_10;
        self.set_unknowns(w);
        self.count_protons(w);
        Some(amount)
    }

    /// pH at which what is free balances the protons that are not bound in complexes.
    fn ph_on_grid(&self, w: &Workspace, bound_protons: f64) -> f64 {
        let balance = |point: usize| {
            let row = self.grid.row(self, point);
            row[0] + bound_protons - w.totals[0]
                + dot(&w.free[1..], &row[self.grid.protonation()][1..])
                + dot(&w.chain_totals, &row[self.grid.chain()])
        };
        // The balance falls with rising pH: halve the grid until two neighbours enclose the root.
        let (mut low, mut high) = (0, POINTS - 1);
        let (mut at_low, mut at_high) = (None, None);
        while high - low > 1 {
            let middle = usize::midpoint(low, high);
            let there = balance(middle);
            if there > 0.0 {
                (low, at_low) = (middle, Some(there));
            } else {
                (high, at_high) = (middle, Some(there));
            }
        }
        let at_low = at_low.unwrap_or_else(|| balance(low));
        let at_high = at_high.unwrap_or_else(|| balance(high));
        let share = if at_low > 0.0 && at_high < 0.0 { at_low / (at_low - at_high) } else { 0.5 };
        ph_of(low) + STEP_PH * share
    }

    /// Lets pairs form complexes: strongest first and one by one, then all at once. Returns the protons bound in them, `None` where no
    /// pair matters.
    fn allocate(&self, w: &mut Workspace) -> Option<f64> {
        let pairs = &self.layout.pairs;
        if pairs.is_empty() {
            return None;
        }
        w.free.copy_from_slice(&w.totals);
        w.pair_constant.fill(0.0);
        let off_grid = self.off_grid(self.guess_strength(w));
        let squared = &w.guess[self.grid.squared()];
        let numbers = w.guess[self.grid.pair_constant()].iter().zip(&w.guess[self.grid.pair_squared()]);
        for ((constant, pair), (ln_constant, bound)) in w.pair_constant.iter_mut().zip(pairs).zip(numbers) {
            *constant = ln_constant + (squared[pair.first] + squared[pair.second] - bound) * off_grid;
        }
        exp_in_place(&mut w.pair_constant);
        let mut any = false;
        for ((constant, left), pair) in w.pair_constant.iter_mut().zip(&mut w.pair_left).zip(pairs) {
            let (first, second) = (w.totals[pair.first], w.totals[pair.second]);
            let strong = first > 0.0 && second > 0.0 && *constant * first.max(second) > STRONG;
            *constant = if strong { *constant } else { 0.0 };
            *left = *constant;
            any |= strong;
        }
        if !any {
            return None;
        }
        self.bind_one_by_one(w);
        self.bind_together(w);
        w.held_protons.fill(0.0);
        let mut bound_protons = 0.0;
        let protons = &w.guess[self.grid.pair_protons()];
        for ((pair, constant), protons) in pairs.iter().zip(&w.pair_constant).zip(protons) {
            let held = constant * w.free[pair.first] * w.free[pair.second] * protons;
            bound_protons += held;
            w.held_protons[pair.owner] += held;
        }
        Some(bound_protons)
    }

    /// The strongest pair takes what it can of what is free, then the next.
    fn bind_one_by_one(&self, w: &mut Workspace) {
        loop {
            let mut best = (0, 0.0);
            for (index, &constant) in w.pair_left.iter().enumerate() {
                if constant > best.1 {
                    best = (index, constant);
                }
            }
            let (index, constant) = best;
            if constant == 0.0 {
                return;
            }
            w.pair_left[index] = 0.0;
            let pair = &self.layout.pairs[index];
            let (first, second) = (w.free[pair.first], w.free[pair.second]);
            let complex = complex_of(first, second, constant);
            let apart = (first - second).abs();
            let more = 0.5 * (apart + (apart * apart + 4.0 * complex / constant).sqrt());
            let less = complex / (constant * more);
            (w.free[pair.first], w.free[pair.second]) =
                if first > second { (more, less) } else { (less, more) };
        }
    }

    /// Weaker partners share in what a strong one was given: cations by the ligands that are left, then ligands by the cations.
    fn bind_together(&self, w: &mut Workspace) {
        for cations in [true, false] {
            w.step.fill(1.0);
            for (pair, constant) in self.layout.pairs.iter().zip(&w.pair_constant) {
                w.step[pair.first] += constant * w.free[pair.second];
                w.step[pair.second] += constant * w.free[pair.first];
            }
            for slot in 1..w.free.len() {
                if (self.charges[self.solved[slot]] > 0) == cations {
                    w.free[slot] = w.totals[slot] / w.step[slot];
                }
            }
        }
    }

    /// Every unknown but H+ from what is free of it.
    fn set_unknowns(&self, w: &mut Workspace) {
        let strength = self.guess_strength(w) + 0.5 * (exp(w.x[0]) + exp(LN_WATER_PRODUCT - w.x[0]));
        let off_grid = self.off_grid(strength);
        let ln_sums = &w.guess[self.grid.ln_sum()];
        let squared = &w.guess[self.grid.squared()];
        for slot in 1..w.x.len() {
            w.x[slot] = if w.totals[slot] > 0.0 {
                let free = w.free[slot].max(1e-30 * w.totals[slot]);
                ln(free) - ln_sums[slot] + squared[slot] * off_grid
            } else {
                ABSENT
            };
        }
        w.y = ln(strength);
        w.ln_water = ln(water_activity(w.spectator_sum));
    }

    /// Chooses the protonation every ligand is counted from: the nearest whole number to its average.
    fn count_protons(&self, w: &mut Workspace) {
        let protonation = &w.guess[self.grid.protonation()];
        for (slot, protonation) in protonation.iter().enumerate().skip(1) {
            let total = w.totals[slot];
            let held = w.free[slot] * protonation + w.held_protons[slot];
            w.reference[slot] = if total > 0.0 { (held / total).round_ties_even() } else { 0.0 };
        }
        for (reference, neutral) in w.chain_reference.iter_mut().zip(&w.guess[self.grid.chain()]) {
            *reference = neutral.round_ties_even();
        }
        self.apply_reference(w);
    }

    /// The same from the species of the last solution.
    pub(crate) fn count_protons_of_last(&self, w: &mut Workspace) {
        w.held_protons.fill(0.0);
        for ((owner, member), m) in self.layout.owner.iter().zip(&self.members).zip(&w.m) {
            w.held_protons[*owner] += member.protons * m;
        }
        for slot in 1..w.x.len() {
            let amount = w.slots[slot].amount;
            w.reference[slot] =
                if amount > 0.0 { (w.held_protons[slot] / amount).round_ties_even() } else { 0.0 };
        }
        for (reference, ionised) in w.chain_reference.iter_mut().zip(&w.ionised) {
            *reference = ionised.neutral.round_ties_even();
        }
        self.apply_reference(w);
    }

    /// Passes the references on to the species and the proton total.
    fn apply_reference(&self, w: &mut Workspace) {
        for (protons, member) in w.protons.iter_mut().zip(&self.members) {
            let [first, second] = member.pair;
            *protons = member.protons - w.reference[first as usize] - w.reference[second as usize];
        }
        for more in &self.layout.more {
            for term in &more.terms {
                w.protons[more.species] -= term.count() * w.reference[term.slot];
            }
        }
        w.proton_scale = w.reference[1..].iter().zip(&w.totals[1..]).map(|(a, b)| a.abs() * b).sum();
        w.proton_total = counted(w, &w.totals, &w.chain_totals);
        w.turnover = None;
        w.factored = false;
    }
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

/// Proton total less what the references of the ligands hold.
pub(super) fn counted(w: &Workspace, totals: &[f64], chains: &[f64]) -> f64 {
    totals[0] - dot(&w.reference[1..], &totals[1..]) - dot(&w.chain_reference, chains)
}

/// Amount of a one-to-one complex of two totals: the smaller root of its quadratic, without cancellation.
fn complex_of(first: f64, second: f64, constant: f64) -> f64 {
    let sum = first + second + 1.0 / constant;
    let root = (sum * sum - 4.0 * first * second).max(0.0).sqrt();
    2.0 * first * second / (sum + root)
}
