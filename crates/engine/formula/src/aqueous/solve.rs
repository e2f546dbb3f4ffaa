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
//! step right in size far from the solution; ln I and ln a_w are two further unknowns that border the matrix. Ligands are counted
//! from the protonation nearest to the one they have, so that the proton balance never is a small difference of large sums.
//!
//! What makes it quick: species are evaluated by group (`species`), the matrix is an arrow (`linear`), and its factors are kept. Near
//! the solution a step with factors made at a miss of `e` leaves `e` times the miss, so the last steps need the sums alone; and a
//! solution that is asked for anew with other totals begins with a step by the factors it was left with, before anything is
//! evaluated: that step follows the tangent of the solution to the new totals.
//!
//! If that does not converge within its bound, I is bracketed and the convex problem is solved by damped steps for every I; this
//! cannot fail for finite totals except by rounding.
//! Proof: `tests/cross/aqueous_reference.toml` (30 reference solutions), residuals below 1e-10 for random mixtures (property tests).

use super::error::AqueousError;
use super::linear::{NEAR_RATIO, larger, largest, log_near, log_ratio};
use super::start::counted;
use super::system::System;
use super::workspace::{RIGHT, Workspace, rows_of};
use levigate_measure::fast_exp::ln;

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
/// Where a step with the factors at hand is expected to leave a miss below this, the sums alone are evaluated next.
const NEAR: f64 = 1e-9;
/// Protons are counted anew when what is added up in their balance has grown by this factor.
const MOST_TURNOVER: f64 = 2.0;

/// What is left of the rows of ln I and ln a_w when the unknowns are eliminated.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Border {
    /// Row of ln I: its own column, then that of ln a_w.
    strength: [f64; 2],
    /// Row of ln a_w.
    water: [f64; 2],
    /// Fall of ln a_w with the sum of molalities.
    slope: f64,
    /// Miss at which the factors were made.
    made_at: f64,
}

/// How far the balances are from being met.
#[derive(Clone, Copy, Debug)]
pub(super) struct Misses {
    /// Largest, in logarithms.
    worst: f64,
    strength: f64,
    water: f64,
    met: bool,
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
        workspace.factored = false;
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
        let (mut strength, mut sum) = (0.0, neutral_molality);
        for &component in &self.spectators {
            let charge = f64::from(self.charges[component]);
            strength += 0.5 * charge * charge * totals[component];
            sum += totals[component];
        }
        // The sums of the last solution stay good for a first step.
        w.sums.strength += strength - w.spectator_strength;
        w.sums.all += sum - w.spectator_sum;
        (w.spectator_strength, w.spectator_sum) = (strength, sum);
        let mut most = sum + totals[0].abs() + 2.0;
        let mut same = w.ready;
        for ((slot, &component), kept) in self.solved.iter().enumerate().zip(&mut w.totals) {
            let total = totals[component];
            let value = if slot > 0 && total < NOTHING { 0.0 } else { total };
            same &= slot == 0 || (value == 0.0) == (*kept == 0.0);
            *kept = value;
            most += 5.0 * value.abs();
        }
        w.sums.most = most;
        if let Some(link) = self.gas {
            w.totals[0] -= f64::from(link.protons) * totals[link.component];
        }
        for (kept, &component) in w.chain_totals.iter_mut().zip(&self.chain_component) {
            *kept = totals[component];
        }
        if !same {
            self.first_guess(w);
        } else if w.turnover.is_none_or(|counted| w.sums.turnover() > MOST_TURNOVER * counted) {
            self.count_protons_of_last(w);
        } else {
            w.proton_total = counted(w, &w.totals, &w.chain_totals);
        }
        Ok(())
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

    /// Newton's method with ionic strength and water activity as further unknowns. True when converged.
    fn solve_direct(&self, w: &mut Workspace) -> bool {
        // Miss before the last step, ln I then, step of ln I, times it was taken back.
        let mut last = (f64::INFINITY, w.y, 0.0, 0);
        let mut with_matrix = true;
        if w.factored && self.chains.is_empty() {
            let misses = self.misses(w);
            self.layout.arrow.solve(&w.matrix, w.step.as_chunks_mut::<1>().0);
            let (step_y, step_water) = self.newton_step(w, misses);
            with_matrix = misses.worst * misses.worst.max(w.border.made_at) > NEAR;
            self.take(w, misses.worst, (step_y, step_water), &mut last);
        }
        for iteration in 1..=MOST_DIRECT {
            w.iterations = iteration;
            if with_matrix {
                self.evaluate::<true>(w);
                w.factored = false;
                w.turnover.get_or_insert(w.sums.turnover());
            } else {
                self.evaluate::<false>(w);
            }
            let misses = self.misses(w);
            if misses.met {
                return true;
            }
            if !misses.worst.is_finite() {
                return false;
            }
            // A step that made things much worse is taken back to a quarter.
            if misses.worst > 2.0 * last.0 && misses.worst > 0.5 && last.3 < 6 {
                w.x.copy_from_slice(&w.last_x);
                w.y = last.1;
                w.step.copy_from_slice(&w.last_step);
                last.3 += 1;
                let scale = 0.25_f64.powi(last.3);
                self.step(w, scale, last.2 * scale);
                with_matrix = true;
                continue;
            }
            if with_matrix {
                self.factor(w, misses.worst, 0.0);
            } else {
                self.layout.arrow.solve(&w.matrix, w.step.as_chunks_mut::<1>().0);
            }
            let mut steps = self.newton_step(w, misses);
            if largest(&w.step) > LONGEST_STEP {
                // One complex outweighs all else and the matrix is nearly singular: hold the step in the useful directions.
                self.evaluate::<true>(w);
                self.misses(w);
                self.factor(w, misses.worst, 1e-3);
                steps = self.newton_step(w, misses);
            }
            with_matrix = misses.worst * w.border.made_at > NEAR;
            self.take(w, misses.worst, steps, &mut last);
        }
        false
    }

    /// Takes the step of the workspace, cut to its longest; remembers where it came from where it may have to be taken back.
    fn take(
        &self,
        w: &mut Workspace,
        miss: f64,
        (step_y, step_water): (f64, f64),
        last: &mut (f64, f64, f64, i32),
    ) {
        let scale = (LONGEST_STEP / largest(&w.step).max(1e-300)).min(1.0);
        if miss > 0.2 {
            w.step.iter_mut().for_each(|value| *value *= scale);
            w.last_x.copy_from_slice(&w.x);
            w.last_step.copy_from_slice(&w.step);
            *last = (miss, w.y, step_y * scale, 0);
            self.step(w, 1.0, step_y * scale);
        } else {
            last.0 = f64::INFINITY;
            self.step(w, scale, step_y * scale);
        }
        w.ln_water = (w.ln_water + step_water).clamp(-5.0, 0.0);
    }

    /// Right side in logarithms, into `step`, and how far the balances are from being met.
    pub(super) fn misses(&self, w: &mut Workspace) -> Misses {
        let mut worst: f64 = 0.0;
        for ((sums, total), right) in w.slots[1..].iter().zip(&w.totals[1..]).zip(&mut w.step[1..]) {
            // An absent component has neither amount nor total.
            *right = (sums.amount - total) / larger(1e-300, sums.amount + total);
            worst = larger(worst, right.abs());
        }
        let near = worst < NEAR_RATIO;
        worst = 0.0;
        for ((sums, total), right) in w.slots[1..].iter().zip(&w.totals[1..]).zip(&mut w.step[1..]) {
            let miss = if near { log_near(*right) } else { log_ratio(sums.amount, *total) };
            worst = larger(worst, miss.abs());
            *right = sums.amount * miss;
        }
        let plus = w.sums.proton_plus + (-w.proton_total).max(0.0);
        let minus = w.sums.proton_minus + w.proton_total.max(0.0);
        let protons = log_ratio(plus, minus);
        // Near the balance its plain miss; else with the weight that a step in ln(plus/minus) needs in front of the plain matrix.
        w.step[0] =
            if protons.abs() < 0.1 { plus - minus } else { self.proton_weight(w, plus, minus) * protons };
        let proton_residual = relative(plus, minus, w.totals[0].abs() + w.proton_scale);
        let strength = log_ratio(w.sums.strength, w.strength);
        let water = ln(water_activity(w.sums.all)) - w.ln_water;
        Misses {
            met: worst.max(proton_residual) < 0.1 * RESIDUAL
                && strength.abs() < 0.1 * RESIDUAL
                && water.abs() < RESIDUAL,
            worst: worst.max(protons.abs()).max(strength.abs()),
            strength,
            water,
        }
    }

    fn proton_weight(&self, w: &Workspace, plus: f64, minus: f64) -> f64 {
        let mut curvature_plus = 0.0;
        for (protons, m) in w.protons.iter().zip(&w.m) {
            if *protons > 0.0 {
                curvature_plus += protons * protons * m;
            }
        }
        for ((total, reference), ionised) in w.chain_totals.iter().zip(&w.chain_reference).zip(&w.ionised) {
            if *reference < 0.5 {
                curvature_plus -= total * ionised.by_ln_proton;
            }
        }
        let curvature = w.sums.protons_by_proton;
        let curvature_minus = (curvature - curvature_plus).max(0.0);
        let slope = curvature_plus / plus + curvature_minus / minus;
        if slope > 0.0 { curvature / slope } else { plus.max(minus) }
    }

    /// Factors the matrix, solves for the right side in `step`, and eliminates the unknowns from the rows of ln I and ln a_w.
    fn factor(&self, w: &mut Workspace, miss: f64, ridge: f64) {
        let arrow = self.layout.arrow;
        if ridge > 0.0 {
            arrow.ridge(&mut w.matrix, ridge);
        }
        arrow.factor(&mut w.matrix);
        w.factored = true;
        let [own, cross] = self.border_columns(w);
        arrow.solve(&w.matrix, &mut w.columns);
        for (step, column) in w.step.iter_mut().zip(&w.columns) {
            *step = column[RIGHT];
        }
        let slope = -ln_water_slope(w.sums.all);
        let (mut across, mut along) = ([0.0; 2], [0.0; 2]);
        for (slot, column) in w.columns.iter().enumerate() {
            let (strength, amount) = rows_of(w, slot);
            for k in 0..2 {
                across[k] += strength * column[k];
                along[k] += amount * column[k];
            }
        }
        let strength = w.sums.strength;
        w.border = Border {
            strength: [
                (w.sums.strength_by_strength - strength - across[0]).min(-0.1 * strength),
                cross - across[1],
            ],
            water: [-slope * along[0], (1.0 + slope * (own - along[1])).max(0.2)],
            slope,
            made_at: miss,
        };
    }

    /// Columns of ln I, ln a_w and the right side of the balances; returned is what ln a_w does to the sum of molalities and to the ionic strength.
    pub(super) fn border_columns(&self, w: &mut Workspace) -> [f64; 2] {
        for ((column, sums), right) in w.columns.iter_mut().zip(&w.slots).zip(&w.step) {
            *column = [-sums.pull, 0.0, 0.0, *right];
        }
        w.columns[0][0] = w.sums.protons_by_strength;
        let (mut own, mut cross) = (0.0, 0.0);
        for &species in &self.layout.watery {
            let member = &self.members[species];
            let pull = f64::from(self.layout.bonds[member.bond as usize].water) * w.m[species];
            own += pull;
            cross += 0.5 * member.squared * pull;
            w.columns[0][1] += w.protons[species] * pull;
            for term in self.layout.terms_of(species) {
                w.columns[term.slot][1] += term.count() * pull;
            }
        }
        [own, cross]
    }

    /// Turns the solved right side in `step` into the step of the unknowns; returns those of ln I and of ln a_w.
    fn newton_step(&self, w: &mut Workspace, misses: Misses) -> (f64, f64) {
        let (mut along, mut sum) = (0.0, 0.0);
        for (slot, step) in w.step.iter().enumerate() {
            let (strength, amount) = rows_of(w, slot);
            along += strength * step;
            sum += amount * step;
        }
        let Border { strength: [pivot, across], water: [below, own], slope, .. } = w.border;
        let strength = w.sums.strength;
        let mut first = along - strength * misses.strength;
        let second = misses.water + slope * sum;
        let determinant = pivot * own - across * below;
        let mut step_water = misses.water;
        if determinant < -1e-12 * strength {
            step_water = (pivot * second - below * first) / determinant;
            first -= across * step_water;
        }
        step_water = step_water.clamp(-0.3, 0.3);
        let step_y = (first / pivot).clamp(-3.0, 3.0);
        for (value, column) in w.step.iter_mut().zip(&w.columns) {
            *value = -*value - column[0] * step_y - column[1] * step_water;
        }
        (step_y, step_water)
    }

    /// Adds a step given in the counted basis: a ligand's own unknown moves by its step less its protons' share.
    pub(super) fn step(&self, w: &mut Workspace, scale: f64, step_y: f64) {
        let proton = w.step[0] * scale;
        w.x[0] = (w.x[0] + proton).clamp(-100.0, 20.0);
        // What is absent stays so: its reference and its step are nothing.
        for ((x, step), reference) in w.x[1..].iter_mut().zip(&w.step[1..]).zip(&w.reference[1..]) {
            *x += step * scale - reference * proton;
        }
        w.y = (w.y + step_y).clamp(-25.0, 10.0);
    }

    /// Largest relative residual of the balances at the last evaluation: every component against its total, H+ against the sum of
    /// what holds protons.
    pub(crate) fn residual(&self, w: &Workspace) -> f64 {
        let mut worst: f64 = 0.0;
        for (sums, total) in w.slots[1..].iter().zip(&w.totals[1..]) {
            if *total > 0.0 {
                worst = worst.max((sums.amount - total).abs() / total);
            }
        }
        let plus = w.sums.proton_plus + (-w.proton_total).max(0.0);
        let minus = w.sums.proton_minus + w.proton_total.max(0.0);
        worst.max(relative(plus, minus, w.totals[0].abs() + w.proton_scale))
    }
}

/// Miss of the proton balance against what it adds up. Rounding of the totals themselves, which add up to `scale`, sets a floor
/// where the balance is a difference of large amounts.
fn relative(plus: f64, minus: f64, scale: f64) -> f64 {
    ((plus - minus).abs() - 4.0 * f64::EPSILON * scale).max(0.0) / plus.max(minus).max(1e-300)
}
