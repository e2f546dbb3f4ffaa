//! The solver: mass balances, proton balance and ionic strength together, from a cold or a warm start.
//!
//! ```text
//! ln m_i = ln K_i + sum_j n_ij x_j + w_i ln a_w - ln g_i(I)            species
//! sum_i n_ij m_i = T_j                                                   mass and proton balances
//! I = 1/2 sum_i z_i^2 m_i
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | x_j | ln of the activity of component j | - |
//! | m_i | molality of species i | mol/kg water |
//! | n_ij | number of component j in species i | - |
//! | T_j | total of component j; of H+ it may be negative | mol/kg water |
//! | w_i | water molecules in the law of mass action | - |
//!
//! At fixed I the balances are the gradient of the convex function `sum m_i - sum T_j x_j`, so there is exactly one solution. Newton's
//! method is taken with this symmetric matrix, the right side written in logarithms (`ln(sum/T)` instead of `sum - T`), which makes the
//! step right in size far from the solution; I is a further unknown, `a_w` follows from the last iterate. Ligands are counted from the
//! protonation nearest to the one they have, so that the proton balance never is a small difference of large sums.
//! If that does not converge within its bound, I is bracketed and the convex problem is solved by damped steps for every I; this
//! cannot fail for finite totals except by rounding.
//! Proof: `tests/cross/aqueous_reference.toml` (30 reference solutions), residuals below 1e-10 for random mixtures (property tests).

use super::error::AqueousError;
use super::fast_exp::{exp, exp_in_place};
use super::linear::{factor, largest, log_ratio, ridge, solve_factored};
use super::system::{Role, System};
use core::f64::consts::LN_10;

/// Totals below this are treated as absent, mol/kg.
pub(super) const NOTHING: f64 = 1e-25;
/// ln of the activity of a component that is absent.
pub(crate) const ABSENT: f64 = -1e4;
/// Most iterations of the direct method before the bracketed one takes over.
const MOST_DIRECT: usize = 60;
/// Longest step in ln of an activity.
pub(super) const LONGEST_STEP: f64 = 25.0;
/// Relative residual every answer must meet.
pub(super) const RESIDUAL: f64 = 1e-10;

/// State of a solution and room to compute in; one per thread, reused from solve to solve.
#[derive(Clone, Debug, Default)]
pub struct Workspace {
    /// ln activity of the unknowns.
    pub(crate) x: Vec<f64>,
    /// ln of the ionic strength.
    pub(crate) y: f64,
    pub(crate) ln_water: f64,
    /// Molality of every species of the system.
    pub(crate) m: Vec<f64>,
    /// Totals of the unknowns as used (with the gas taken into account).
    pub(crate) totals: Vec<f64>,
    pub(crate) chain_totals: Vec<f64>,
    /// Protonation every unknown is counted from.
    pub(crate) reference: Vec<f64>,
    pub(crate) chain_reference: Vec<f64>,
    /// Protons of every species beyond the reference of its components.
    pub(crate) protons: Vec<f64>,
    pub(crate) proton_total: f64,
    pub(crate) spectator_strength: f64,
    pub(crate) spectator_sum: f64,
    /// First guess: what is left of every total beside its strong complexes, protons per total, conditional constants of pairs.
    pub(crate) free: Vec<f64>,
    pub(crate) held_protons: Vec<f64>,
    pub(crate) pair_constant: Vec<f64>,
    pub(super) positive: Vec<f64>,
    pub(super) matrix: Vec<f64>,
    pub(super) right: Vec<f64>,
    pub(super) border: Vec<f64>,
    pub(super) strength_row: Vec<f64>,
    pub(super) water_border: Vec<f64>,
    /// Columns of the amount and row of the proton balance, for a given pH.
    pub(super) amount_border: Vec<f64>,
    pub(super) proton_row: Vec<f64>,
    /// Totals last solved for along a ray, in the order of the components.
    pub(super) given: Vec<f64>,
    /// Ends of the ray and the slope of the totals on it.
    pub(super) base: Arranged,
    pub(super) along: Arranged,
    pub(super) slope: Arranged,
    pub(super) last_x: Vec<f64>,
    pub(super) last_step: Vec<f64>,
    pub(super) sums: Sums,
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

#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Sums {
    pub(super) proton_plus: f64,
    pub(super) proton_minus: f64,
    pub(super) strength: f64,
    pub(super) all: f64,
    /// Sum of molalities that the totals allow at most; keeps a wild iterate from drying the water out.
    pub(super) most: f64,
}

/// What the species of one group add up to.
#[derive(Clone, Copy, Debug, Default)]
struct GroupSums {
    amount: f64,
    protons: f64,
    protons_squared: f64,
    charge: f64,
    charge_protons: f64,
    neutral: f64,
    neutral_protons: f64,
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
        self.y.exp()
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
        self.ln_water.exp()
    }
}

/// Water activity in the law of mass action: `1 - 0.017 sum m` (the reference program's equation, after Garrels and Christ 1965), and
/// Raoult's law where that is higher (sum above about 3.3 mol/kg), so that it stays positive.
#[must_use]
pub fn water_activity(sum_of_molalities: f64) -> f64 {
    let linear = 1.0 - 0.017 * sum_of_molalities;
    if sum_of_molalities < 2.0 { linear } else { linear.max(raoult(sum_of_molalities)) }
}

fn raoult(sum_of_molalities: f64) -> f64 {
    1.0 / (1.0 + super::water::WATER_KG_PER_MOL * sum_of_molalities)
}

/// Derivative of ln of [`water_activity`]; zero where the sum is held at nothing.
pub(crate) fn ln_water_slope(sum_of_molalities: f64) -> f64 {
    if sum_of_molalities <= 0.0 {
        return 0.0;
    }
    let linear = 1.0 - 0.017 * sum_of_molalities;
    let raoult = raoult(sum_of_molalities);
    if sum_of_molalities < 2.0 || linear >= raoult {
        -0.017 / linear
    } else {
        -super::water::WATER_KG_PER_MOL * raoult
    }
}

impl System {
    /// Solves for the totals (in the order of [`System::components`]), from the last solution of the workspace if it has one.
    ///
    /// `neutral_molality` is the sum of dissolved non-electrolytes that are not part of the system; it lowers the water activity.
    ///
    /// # Errors
    /// [`AqueousError`] for totals that cannot be, or when the residual of 1e-10 is not met.
    pub fn solve(
        &self,
        totals: &[f64],
        neutral_molality: f64,
        workspace: &mut Workspace,
    ) -> Result<(), AqueousError> {
        self.load(totals, neutral_molality, workspace)?;
        workspace.bracketed = false;
        workspace.iterations = 0;
        if !workspace.bracketed_only && self.solve_direct(workspace) {
            workspace.ready = true;
            return Ok(());
        }
        workspace.bracketed = true;
        self.first_guess(workspace);
        let residual = self.solve_bracketed(workspace);
        workspace.ready = residual <= RESIDUAL;
        if workspace.ready {
            Ok(())
        } else {
            Err(AqueousError::NotConverged { iterations: workspace.iterations, residual })
        }
    }

    /// Checks the totals and puts them in order; makes a first guess where there is no usable last solution.
    fn load(&self, totals: &[f64], neutral_molality: f64, w: &mut Workspace) -> Result<(), AqueousError> {
        self.check_totals(totals, neutral_molality)?;
        self.fit(w);
        let mut same = w.ready;
        let (mut strength, mut sum) = (0.0, neutral_molality);
        for &component in &self.spectators {
            let charge = f64::from(self.charges[component]);
            strength += 0.5 * charge * charge * totals[component];
            sum += totals[component];
        }
        w.spectator_strength = strength;
        w.spectator_sum = sum;
        let mut most = sum + totals[0].abs() + 2.0;
        for (slot, &component) in self.solved.iter().enumerate() {
            let total = totals[component];
            let value = if slot > 0 && total < NOTHING { 0.0 } else { total };
            same &= slot == 0 || (value == 0.0) == (w.totals[slot] == 0.0);
            w.totals[slot] = value;
            most += 5.0 * value.abs();
        }
        w.sums.most = most;
        if let Some(link) = self.gas {
            w.totals[0] -= link.protons * totals[link.component];
        }
        for (chain, &component) in self.chain_component.iter().enumerate() {
            w.chain_totals[chain] = totals[component];
        }
        if same {
            self.count_protons_of_last(w);
        } else {
            self.first_guess(w);
        }
        Ok(())
    }

    /// Gives a workspace the sizes of this system; one that had others forgets its solution.
    pub(super) fn fit(&self, w: &mut Workspace) {
        let (slots, species, chains) = (self.solved.len(), self.facts.len(), self.chains.len());
        if w.x.len() == slots && w.m.len() == species && w.chain_totals.len() == chains {
            return;
        }
        for values in [
            &mut w.x,
            &mut w.totals,
            &mut w.reference,
            &mut w.free,
            &mut w.held_protons,
            &mut w.positive,
            &mut w.right,
            &mut w.border,
            &mut w.strength_row,
            &mut w.water_border,
            &mut w.amount_border,
            &mut w.proton_row,
            &mut w.last_x,
            &mut w.last_step,
        ] {
            *values = vec![0.0; slots];
        }
        w.m = vec![0.0; species];
        w.protons = vec![0.0; species];
        w.chain_totals = vec![0.0; chains];
        w.chain_reference = vec![0.0; chains];
        w.pair_constant = vec![0.0; self.pairs.len()];
        w.matrix = vec![0.0; slots * slots];
        w.ready = false;
    }

    fn check_totals(&self, totals: &[f64], neutral_molality: f64) -> Result<(), AqueousError> {
        if totals.len() != self.names.len() {
            #[expect(clippy::cast_precision_loss, reason = "a small count")]
            let value = totals.len() as f64;
            return Err(AqueousError::NotUsable { what: "the number of totals".to_owned(), value });
        }
        for (place, &value) in totals.iter().enumerate() {
            if !value.is_finite() || value.abs() >= 1000.0 {
                return Err(AqueousError::NotUsable {
                    what: format!("the total of `{}`", self.names[place]),
                    value,
                });
            }
            if place > 0 && value < 0.0 {
                return Err(AqueousError::NegativeTotal { component: self.names[place].clone(), value });
            }
        }
        if (0.0..100_000.0).contains(&neutral_molality) {
            Ok(())
        } else {
            Err(AqueousError::NotUsable {
                what: "the molality of non-electrolytes".to_owned(),
                value: neutral_molality,
            })
        }
    }

    /// Molalities, sums and, where asked, the matrix and the column of the ionic strength.
    pub(super) fn evaluate(&self, w: &mut Workspace, with_matrix: bool) {
        let gamma = self.activity.at(exp(w.y));
        let (proton, water) = (w.x[0], w.ln_water);
        let slots = w.x.len();
        // The unknowns are activities of the bare components here; only sums and steps use the counted basis.
        let numbers = self.ln_k.iter().zip(&self.water).zip(&self.charge_squared).zip(&self.neutral);
        for ((m, protons), (((ln_k, waters), charge_squared), neutral)) in
            w.m.iter_mut().zip(&self.protons).zip(numbers)
        {
            *m = ln_k + waters * water - charge_squared * gamma.charged - neutral * gamma.neutral
                + protons * proton;
        }
        for group in self.group_starts.windows(2) {
            let (from, to) = (group[0] as usize, group[1] as usize);
            let terms = self.starts[from] as usize..self.starts[from + 1] as usize;
            let mut shift = 0.0;
            for (slot, count) in self.term_slot[terms.clone()].iter().zip(&self.term_count[terms]) {
                shift += count * w.x[*slot as usize];
            }
            for m in &mut w.m[from..to] {
                *m += shift;
            }
        }
        exp_in_place(&mut w.m);
        w.positive.fill(0.0);
        if with_matrix {
            w.matrix.fill(0.0);
            w.border.fill(0.0);
            w.strength_row.fill(0.0);
        }
        let mut sums = Sums {
            strength: w.spectator_strength,
            all: w.spectator_sum,
            most: w.sums.most,
            ..Sums::default()
        };
        for group in self.group_starts.windows(2) {
            let (from, to) = (group[0] as usize, group[1] as usize);
            let mut added = GroupSums::default();
            let numbers = self.charge_squared[from..to].iter().zip(&self.neutral[from..to]);
            for ((m, protons), (charge_squared, neutral)) in
                w.m[from..to].iter().zip(&w.protons[from..to]).zip(numbers)
            {
                let bound = protons * m;
                sums.proton_plus += bound.max(0.0);
                sums.proton_minus += (-bound).max(0.0);
                added.amount += m;
                added.protons += bound;
                added.protons_squared += protons * bound;
                added.charge += charge_squared * m;
                added.charge_protons += charge_squared * bound;
                added.neutral += neutral * m;
                added.neutral_protons += neutral * bound;
            }
            sums.all += added.amount;
            sums.strength += 0.5 * added.charge;
            let terms = self.starts[from] as usize..self.starts[from + 1] as usize;
            let (slots_of, counts) = (&self.term_slot[terms.clone()], &self.term_count[terms]);
            for (slot, count) in slots_of.iter().zip(counts) {
                w.positive[*slot as usize] += count * added.amount;
            }
            if with_matrix {
                let by_strength = -(added.charge * gamma.charged_slope + added.neutral * gamma.neutral_slope);
                w.matrix[0] += added.protons_squared;
                w.border[0] -=
                    added.charge_protons * gamma.charged_slope + added.neutral_protons * gamma.neutral_slope;
                w.strength_row[0] += 0.5 * added.charge_protons;
                for (place, (slot, count)) in slots_of.iter().zip(counts).enumerate() {
                    let slot = *slot as usize;
                    w.border[slot] += count * by_strength;
                    w.strength_row[slot] += 0.5 * count * added.charge;
                    w.matrix[slot * slots] += count * added.protons;
                    let scaled = count * added.amount;
                    for (second, other) in slots_of[..=place].iter().zip(counts) {
                        let second = *second as usize;
                        let (row, column) = if slot >= second { (slot, second) } else { (second, slot) };
                        w.matrix[row * slots + column] += scaled * other;
                    }
                }
            }
        }
        for (chain, model) in self.chains.iter().enumerate() {
            let total = w.chain_totals[chain];
            if total <= 0.0 {
                continue;
            }
            let ionised = model.ionised(proton, w.y);
            if w.chain_reference[chain] > 0.5 {
                sums.proton_minus += total * ionised.degree;
            } else {
                sums.proton_plus += total * ionised.neutral;
            }
            let condensed = (ionised.degree - model.condensed_from).max(0.0);
            sums.strength -= 0.5 * total * condensed;
            sums.all += total * (ionised.degree.min(model.condensed_from) - ionised.degree);
            if with_matrix {
                w.matrix[0] -= total * ionised.by_ln_proton;
                w.border[0] -= total * ionised.by_ln_strength;
                if condensed > 0.0 {
                    w.strength_row[0] -= 0.5 * total * ionised.by_ln_proton;
                }
            }
        }
        sums.strength = sums.strength.max(1e-12);
        // Chains count condensed charges, which divalent counter-ions are fewer than.
        sums.all = sums.all.clamp(0.0, sums.most);
        w.sums = sums;
    }

    /// Right side in logarithms; returns the largest logarithmic miss.
    pub(super) fn misses(&self, w: &mut Workspace) -> f64 {
        let slots = w.x.len();
        let plus = w.sums.proton_plus + (-w.proton_total).max(0.0);
        let minus = w.sums.proton_minus + w.proton_total.max(0.0);
        let miss = log_ratio(plus, minus);
        let mut worst = miss.abs();
        // The weight that a step in ln(plus/minus) needs in front of the plain matrix.
        let curvature_plus = w.matrix[0];
        w.right[0] = if miss.abs() < 0.1 {
            plus - minus
        } else {
            self.proton_weight(w, plus, minus, curvature_plus) * miss
        };
        for slot in 1..slots {
            if w.totals[slot] == 0.0 {
                w.right[slot] = 0.0;
                w.matrix[slot * slots + slot] = 1.0;
                continue;
            }
            let miss = log_ratio(w.positive[slot], w.totals[slot]);
            worst = worst.max(miss.abs());
            w.right[slot] = w.positive[slot] * miss;
        }
        worst
    }

    fn proton_weight(&self, w: &Workspace, plus: f64, minus: f64, curvature: f64) -> f64 {
        let mut curvature_plus = 0.0;
        for (protons, m) in w.protons.iter().zip(&w.m) {
            if *protons > 0.0 {
                curvature_plus += protons * protons * m;
            }
        }
        for (chain, total) in w.chain_totals.iter().enumerate() {
            if w.chain_reference[chain] < 0.5 && *total > 0.0 {
                curvature_plus -= total * self.chains[chain].ionised(w.x[0], w.y).by_ln_proton;
            }
        }
        let curvature_minus = (curvature - curvature_plus).max(0.0);
        let slope = curvature_plus / plus + curvature_minus / minus;
        if slope > 0.0 { curvature / slope } else { plus.max(minus) }
    }

    /// Newton's method with the ionic strength as a further unknown. True when converged.
    fn solve_direct(&self, w: &mut Workspace) -> bool {
        let slots = w.x.len();
        let mut last = (f64::INFINITY, w.y, 0.0, 0);
        for iteration in 1..=MOST_DIRECT {
            w.iterations = iteration;
            self.evaluate(w, true);
            let worst = self.misses(w);
            let strength_miss = log_ratio(w.sums.strength, exp(w.y));
            let miss = worst.max(strength_miss.abs());
            if !miss.is_finite() {
                return false;
            }
            // A step that made things much worse is taken back to a quarter.
            if miss > 2.0 * last.0 && miss > 0.5 && last.3 < 6 {
                w.x.copy_from_slice(&w.last_x);
                w.y = last.1;
                w.right.copy_from_slice(&w.last_step);
                let scale = 0.25_f64.powi(last.3 + 1);
                self.step(w, scale, last.2 * scale);
                last.3 += 1;
                continue;
            }
            let (mut step_y, mut step_water) = self.newton_step(w, slots, strength_miss);
            if largest(&w.right) > LONGEST_STEP {
                // One complex outweighs all else and the matrix is nearly singular: hold the step in the useful directions.
                self.evaluate(w, true);
                self.misses(w);
                ridge(&mut w.matrix, slots, 1e-3);
                (step_y, step_water) = self.newton_step(w, slots, strength_miss);
            }
            let scale = (LONGEST_STEP / largest(&w.right).max(1e-300)).min(1.0);
            if miss > 0.2 {
                w.right.iter_mut().for_each(|value| *value *= scale);
                w.last_x.copy_from_slice(&w.x);
                w.last_step.copy_from_slice(&w.right);
                last = (miss, w.y, step_y * scale, 0);
                self.step(w, 1.0, step_y * scale);
            } else {
                last.0 = f64::INFINITY;
                self.step(w, scale, step_y * scale);
            }
            w.ln_water = (w.ln_water + step_water).clamp(-5.0, 0.0);
            if miss < 1e-6 && scale == 1.0 {
                self.evaluate(w, false);
                let water_miss = (water_activity(w.sums.all).ln() - w.ln_water).abs();
                if self.residual(w) < 0.1 * RESIDUAL
                    && (w.sums.strength / exp(w.y) - 1.0).abs() < 1e-11
                    && water_miss < 1e-10
                {
                    return true;
                }
            }
        }
        false
    }

    /// Leaves the step of the unknowns in `right`; returns those of ln I and of ln a(H2O).
    ///
    /// The ionic strength is a border of the symmetric matrix; the water activity a second one where it matters (sum of molalities
    /// above about 0.3), else it simply follows.
    fn newton_step(&self, w: &mut Workspace, slots: usize, strength_miss: f64) -> (f64, f64) {
        let water_miss = water_activity(w.sums.all).ln() - w.ln_water;
        let coupled = w.ln_water < -0.005;
        let strength = w.sums.strength;
        let (mut own, mut cross, mut sum_slope) = (0.0, 0.0, 0.0);
        if coupled {
            (own, cross) = self.water_column(w);
            sum_slope = -ln_water_slope(w.sums.all);
        }
        factor(&mut w.matrix, slots);
        solve_factored(&w.matrix, &mut w.right, slots);
        solve_factored(&w.matrix, &mut w.border, slots);
        let (mut along, mut across) = (0.0, 0.0);
        for slot in 0..slots {
            along += w.strength_row[slot] * w.right[slot];
            across += w.strength_row[slot] * w.border[slot];
        }
        let pivot = (self.strength_slope(w) - strength - across).min(-0.1 * strength);
        let mut first = along - strength * strength_miss;
        let mut step_water = water_miss;
        if coupled {
            solve_factored(&w.matrix, &mut w.water_border, slots);
            let (mut sum_right, mut sum_border, mut sum_water, mut across_water) = (0.0, 0.0, 0.0, 0.0);
            for slot in 0..slots {
                let row = if slot == 0 { w.sums.proton_plus - w.sums.proton_minus } else { w.positive[slot] };
                sum_right += row * w.right[slot];
                sum_border += row * w.border[slot];
                sum_water += row * w.water_border[slot];
                across_water += w.strength_row[slot] * w.water_border[slot];
            }
            // [pivot, cross - across_water; -k sum_border, 1 + k (own - sum_water)] [dy, dv] = [first, miss + k sum_right]
            let (b, c) = (cross - across_water, -sum_slope * sum_border);
            let d = (1.0 + sum_slope * (own - sum_water)).max(0.2);
            let second = water_miss + sum_slope * sum_right;
            let determinant = pivot * d - b * c;
            if determinant < -1e-12 * strength {
                step_water = (pivot * second - c * first) / determinant;
                first -= b * step_water;
            }
            step_water = step_water.clamp(-0.3, 0.3);
        }
        let step_y = (first / pivot).clamp(-3.0, 3.0);
        for slot in 0..slots {
            w.right[slot] = -w.right[slot] - w.border[slot] * step_y;
            if coupled {
                w.right[slot] -= w.water_border[slot] * step_water;
            }
        }
        (step_y, step_water)
    }

    /// Derivatives with respect to ln a(H2O): those of the balances into `water_border`; those of the sum of molalities and of the
    /// ionic strength are returned.
    pub(super) fn water_column(&self, w: &mut Workspace) -> (f64, f64) {
        let (mut own, mut cross) = (0.0, 0.0);
        w.water_border.fill(0.0);
        for index in 0..w.m.len() {
            let pull = self.water[index] * w.m[index];
            if pull == 0.0 {
                continue;
            }
            own += pull;
            cross += 0.5 * self.charge_squared[index] * pull;
            w.water_border[0] += w.protons[index] * pull;
            for term in self.starts[index] as usize..self.starts[index + 1] as usize {
                w.water_border[self.term_slot[term] as usize] += self.term_count[term] * pull;
            }
        }
        (own, cross)
    }

    /// Adds a step given in the counted basis: a ligand's own unknown moves by its step less its protons' share.
    pub(super) fn step(&self, w: &mut Workspace, scale: f64, step_y: f64) {
        let proton = w.right[0] * scale;
        w.x[0] = (w.x[0] + proton).clamp(-100.0, 20.0);
        for slot in 1..w.x.len() {
            if w.totals[slot] > 0.0 {
                w.x[slot] += w.right[slot] * scale - w.reference[slot] * proton;
            }
        }
        w.y = (w.y + step_y).clamp(-25.0, 10.0);
    }

    /// Half the sum of z^2 dm/d ln I at fixed activities of the components.
    pub(super) fn strength_slope(&self, w: &Workspace) -> f64 {
        let slope = self.activity.at(exp(w.y)).charged_slope;
        let mut sum = 0.0;
        for (charge_squared, m) in self.charge_squared.iter().zip(&w.m) {
            sum -= 0.5 * charge_squared * charge_squared * slope * m;
        }
        for (chain, model) in self.chains.iter().enumerate() {
            let total = w.chain_totals[chain];
            if total > 0.0 {
                let ionised = model.ionised(w.x[0], w.y);
                if ionised.degree > model.condensed_from {
                    sum -= 0.5 * total * ionised.by_ln_strength;
                }
            }
        }
        sum
    }

    /// Largest relative residual of the balances at the last evaluation: every component against its total, H+ against the sum of
    /// what holds protons.
    pub(crate) fn residual(&self, w: &Workspace) -> f64 {
        let mut worst: f64 = 0.0;
        for slot in 1..w.x.len() {
            if w.totals[slot] > 0.0 {
                worst = worst.max((w.positive[slot] - w.totals[slot]).abs() / w.totals[slot]);
            }
        }
        let plus = w.sums.proton_plus + (-w.proton_total).max(0.0);
        let minus = w.sums.proton_minus + w.proton_total.max(0.0);
        // Rounding of the totals themselves sets a floor where the balance is a difference of large amounts.
        let rounding = 4.0 * f64::EPSILON * self.proton_scale(w);
        let miss = ((plus - minus).abs() - rounding).max(0.0);
        worst.max(miss / plus.max(minus).max(1e-300))
    }

    fn proton_scale(&self, w: &Workspace) -> f64 {
        let mut scale = w.totals[0].abs();
        for slot in 1..w.x.len() {
            scale += w.reference[slot].abs() * w.totals[slot];
        }
        scale
    }

    /// Total of the unknown of a component as the solver uses it.
    pub(crate) fn slot_of(&self, component: usize) -> Option<usize> {
        match self.roles[component] {
            Role::Solved(slot) => Some(slot),
            _ => None,
        }
    }
}
