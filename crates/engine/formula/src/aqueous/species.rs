//! What the species of a system add up to at given activities.
//!
//! ```text
//! m_i = K_i [g_i^-1 a(H+)^p_i a_w^w_i] prod_j a_j^n_ij
//! ```
//!
//! | symbol | meaning |
//! |---|---|
//! | m_i | molality of species i, mol/kg water |
//! | K_i | its formation constant |
//! | g_i | its activity coefficient: one value for every size of charge |
//! | p_i, w_i, n_ij | protons, water and other components it holds |
//!
//! The activities of the components are computed once, the coefficient with the bracket once for every (p, w, size of charge) that
//! occurs. A species then costs a few multiplications, and is added to the one or two components it is made of.

use super::activity::Coefficients;
use super::layout::Member;
use super::system::System;
use super::workspace::Workspace;
use levigate_measure::fast_exp::{exp, exp_in_place};

/// The product of constant and shared factors is held below this and the activities of the unknowns below the next, so that no
/// iterate however wild gives something that is not a number.
const MOST_FACTOR: f64 = 1e200;
const MOST_LN_ACTIVITY: f64 = 115.0;

/// What the species of one unknown add up to.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct SlotSums {
    /// Moles of the component.
    pub(crate) amount: f64,
    /// The protons held with it, beyond the reference.
    pub(crate) protons: f64,
    /// Fall of its amount with ln I.
    pub(crate) pull: f64,
    /// Sum of z^2.
    pub(crate) charge: f64,
}

impl SlotSums {
    #[inline(always)]
    fn add<const ALL: bool>(&mut self, amount: f64, protons: f64, squared: f64) {
        self.amount += amount;
        if ALL {
            self.protons += protons * amount;
            self.charge += squared * amount;
        }
    }
}

/// Sums over all species.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Sums {
    /// Protons above the references, and those missing from them.
    pub(crate) proton_plus: f64,
    pub(crate) proton_minus: f64,
    pub(crate) strength: f64,
    pub(crate) all: f64,
    /// Sum of molalities that the totals allow at most; keeps a wild iterate from drying the water out.
    pub(crate) most: f64,
    /// Of the last evaluation with derivatives: how the protons change with ln a(H+) and ln I, the ionic strength with both.
    pub(crate) protons_by_proton: f64,
    pub(crate) protons_by_strength: f64,
    pub(crate) strength_by_proton: f64,
    pub(crate) strength_by_strength: f64,
}

/// Sums over the species alone, by two lanes.
#[derive(Clone, Copy, Debug, Default)]
struct Total {
    amount: f64,
    charge: f64,
    /// Protons beyond the references: with their signs, and without.
    net: f64,
    gross: f64,
    protons_twice: f64,
    charge_protons: f64,
    charge_twice: f64,
}

impl Total {
    fn of<const ALL: bool>(m: &[f64], protons: &[f64], squared: &[f64]) -> Self {
        let mut lanes = [[0.0; 2]; 7];
        let (m, last_m) = m.as_chunks::<2>();
        let (protons, last_protons) = protons.as_chunks::<2>();
        let (squared, last_squared) = squared.as_chunks::<2>();
        for ((m, protons), squared) in m.iter().zip(protons).zip(squared) {
            add_lanes::<ALL, 2>(&mut lanes, m, protons, squared);
        }
        let mut sums = lanes.map(|[one, other]| [one + other]);
        if let ([m], [protons], [squared]) = (last_m, last_protons, last_squared) {
            add_lanes::<ALL, 1>(&mut sums, &[*m], &[*protons], &[*squared]);
        }
        let [[amount], [charge], [net], [gross], [protons_twice], [charge_protons], [charge_twice]] = sums;
        Self { amount, charge, net, gross, protons_twice, charge_protons, charge_twice }
    }
}

#[inline(always)]
fn add_lanes<const ALL: bool, const N: usize>(
    sums: &mut [[f64; N]; 7],
    m: &[f64; N],
    protons: &[f64; N],
    squared: &[f64; N],
) {
    for k in 0..N {
        let (bound, charge) = (protons[k] * m[k], squared[k] * m[k]);
        sums[0][k] += m[k];
        sums[1][k] += charge;
        sums[2][k] += bound;
        sums[3][k] += bound.abs();
        if ALL {
            sums[4][k] += protons[k] * bound;
            sums[5][k] += protons[k] * charge;
            sums[6][k] += squared[k] * charge;
        }
    }
}

impl Sums {
    /// What the proton balance adds up.
    pub(crate) fn turnover(&self) -> f64 {
        self.proton_plus + self.proton_minus
    }
}

impl System {
    /// Molalities and sums at the unknowns of the workspace; with `MATRIX` also the matrix of the balances and all derivatives.
    pub(super) fn evaluate<const MATRIX: bool>(&self, w: &mut Workspace) {
        let gamma = self.shared_factors(w);
        let layout = &*self.layout;
        if MATRIX {
            w.slots.fill(SlotSums::default());
            w.matrix.fill(0.0);
        } else {
            w.slots.iter_mut().for_each(|slot| slot.amount = 0.0);
        }
        let Workspace { activities, slots, matrix, protons, m, .. } = &mut *w;
        let (activities, protons, m) = (&activities[..], &protons[..], &mut m[..]);
        let (slots, matrix) = (&mut slots[..], &mut matrix[..]);
        let (singles, pairs) = self.members.split_at(layout.singles);
        let (single_protons, pair_protons) = protons.split_at(layout.singles);
        let (single_m, pair_m) = m.split_at_mut(layout.singles);
        for ((member, protons), molality) in singles.iter().zip(single_protons).zip(single_m) {
            let first = member.pair[0] as usize;
            *molality *= activities[first];
            slots[first].add::<MATRIX>(*molality, *protons, member.squared);
        }
        for ((member, protons), molality) in pairs.iter().zip(pair_protons).zip(pair_m) {
            let [first, second] = member.pair.map(|slot| slot as usize);
            *molality *= activities[first] * activities[second];
            slots[first].add::<MATRIX>(*molality, *protons, member.squared);
            slots[second].add::<MATRIX>(*molality, *protons, member.squared);
            if MATRIX {
                matrix[member.place as usize] += *molality;
            }
        }
        for more in &layout.more {
            let (molality, squared) = (m[more.species], self.members[more.species].squared);
            for term in &more.terms {
                slots[term.slot].add::<MATRIX>(term.count() * molality, protons[more.species], squared);
            }
            if MATRIX {
                for (place, factor) in &more.couplings {
                    matrix[*place] += factor * molality;
                }
            }
        }
        let total = Total::of::<MATRIX>(m, protons, &layout.squared);
        let mut sums = w.sums;
        sums.proton_plus = 0.5 * (total.gross + total.net);
        sums.proton_minus = 0.5 * (total.gross - total.net);
        sums.all = w.spectator_sum + total.amount;
        sums.strength = w.spectator_strength + 0.5 * total.charge;
        if MATRIX {
            sums.protons_by_proton = total.protons_twice;
            sums.protons_by_strength = -gamma.charged_slope * total.charge_protons;
            sums.strength_by_proton = 0.5 * total.charge_protons;
            sums.strength_by_strength = -0.5 * gamma.charged_slope * total.charge_twice;
        }
        w.sums = sums;
        self.add_chains::<MATRIX>(w);
        w.sums.strength = w.sums.strength.max(1e-12);
        // Chains count condensed charges, which divalent counter-ions are fewer than.
        w.sums.all = w.sums.all.clamp(0.0, w.sums.most);
        if MATRIX {
            self.follow_strength(&gamma, w);
            self.assemble(w);
        }
    }

    /// How the sums per unknown fall with ln I: charged species by the sums over z^2, neutral ones one by one.
    fn follow_strength(&self, gamma: &Coefficients, w: &mut Workspace) {
        for slot in &mut w.slots {
            slot.pull = gamma.charged_slope * slot.charge;
        }
        for &species in &self.layout.neutral {
            let Member { salting_out, pair: [first, second], .. } = self.members[species];
            let pull = salting_out * gamma.neutral_slope * w.m[species];
            w.sums.protons_by_strength -= w.protons[species] * pull;
            w.slots[first as usize].pull += pull;
            w.slots[second as usize].pull += pull;
        }
        for more in &self.layout.more {
            let pull = self.members[more.species].salting_out * gamma.neutral_slope * w.m[more.species];
            for term in &more.terms {
                w.slots[term.slot].pull += term.count() * pull;
            }
        }
    }

    /// Activities of the unknowns, the powers of H+ and water, the coefficient of every size of charge, and their product with the
    /// constant of every species, left in its molality.
    fn shared_factors(&self, w: &mut Workspace) -> Coefficients {
        w.strength = exp(w.y);
        let gamma = self.activity.at(w.strength);
        for (activity, x) in w.activities.iter_mut().zip(&w.x) {
            *activity = if *x < MOST_LN_ACTIVITY { *x } else { MOST_LN_ACTIVITY };
        }
        exp_in_place(&mut w.activities[..w.x.len()]);
        let (proton, water) = (w.activities[0], exp(w.ln_water));
        let layout = &*self.layout;
        layout.proton_powers.fill(proton, &mut w.proton_powers);
        layout.water_powers.fill(water, &mut w.water_powers);
        // z^2 grows by odd numbers.
        let single = exp(-gamma.charged);
        let (mut factor, mut odd) = (1.0, single);
        let (charged, neutral) = w.inverse_coefficients.split_at_mut(layout.most_charge as usize + 1);
        for coefficient in charged {
            *coefficient = factor;
            factor *= odd;
            odd *= single * single;
        }
        for (coefficient, multiple) in neutral.iter_mut().zip(&layout.salting_out) {
            *coefficient = exp(-multiple * gamma.neutral);
        }
        for (value, bond) in w.bonds.iter_mut().zip(&layout.bonds) {
            *value = w.inverse_coefficients[bond.coefficient]
                * w.proton_powers[layout.proton_powers.place(bond.protons)]
                * w.water_powers[layout.water_powers.place(bond.water)];
        }
        let bonds = &w.bonds[..];
        for (molality, member) in w.m.iter_mut().zip(&self.members) {
            *molality = held_below(member.constant * bonds[member.bond as usize]);
        }
        for more in &layout.more {
            let factor = &mut w.m[more.species];
            for term in &more.terms {
                for _ in 0..term.times {
                    *factor = held_below(*factor * w.activities[term.slot]);
                }
            }
        }
        gamma
    }

    fn add_chains<const MATRIX: bool>(&self, w: &mut Workspace) {
        for (chain, model) in self.chains.iter().enumerate() {
            let total = w.chain_totals[chain];
            let ionised = model.ionised(w.x[0], w.y);
            w.ionised[chain] = ionised;
            if total <= 0.0 {
                continue;
            }
            let sums = &mut w.sums;
            if w.chain_reference[chain] > 0.5 {
                sums.proton_minus += total * ionised.degree;
            } else {
                sums.proton_plus += total * ionised.neutral;
            }
            let condensed = (ionised.degree - model.condensed_from).max(0.0);
            sums.strength -= 0.5 * total * condensed;
            sums.all -= total * condensed;
            if !MATRIX {
                continue;
            }
            sums.protons_by_proton -= total * ionised.by_ln_proton;
            sums.protons_by_strength -= total * ionised.by_ln_strength;
            if condensed > 0.0 {
                sums.strength_by_proton -= 0.5 * total * ionised.by_ln_proton;
                sums.strength_by_strength -= 0.5 * total * ionised.by_ln_strength;
            }
        }
    }

    /// Completes the matrix from the sums per unknown; an absent component keeps its place with a one.
    fn assemble(&self, w: &mut Workspace) {
        let arrow = self.layout.arrow;
        w.matrix[0] = w.sums.protons_by_proton;
        for (slot, sums) in w.slots.iter().enumerate().take(w.x.len()).skip(1) {
            if w.totals[slot] == 0.0 {
                w.matrix[arrow.place(slot, slot)] = 1.0;
            } else {
                w.matrix[arrow.place(slot, slot)] += sums.amount;
                w.matrix[arrow.place(slot, 0)] = sums.protons;
            }
        }
    }
}

/// A factor held below the most; the most also for what is not a number.
#[inline(always)]
fn held_below(value: f64) -> f64 {
    if value < MOST_FACTOR { value } else { MOST_FACTOR }
}
