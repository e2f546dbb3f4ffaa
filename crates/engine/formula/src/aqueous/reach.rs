//! The amount of an addition that brings a solution to a pH.
//!
//! The activity of H+ is given, so the amount `t` is unknown in its place: Newton's method over `x_j` of the other components,
//! `y = ln I`, `v = ln a_w` and `t`, with the proton balance as the further equation.
//!
//! ```text
//! [ A   b   w  -T' ] [dx]     [ sum_i n_ij m_i - T_j(t) ]
//! [ p   .   .   .  ] [dy]     [ proton balance          ]
//! [ s   .   .   .  ] [dv] = - [ ionic strength          ]
//! [ q   .   .   .  ] [dt]     [ water activity          ]
//! ```
//!
//! `A` is the symmetric block of the balances, `b` and `w` their derivatives in `y` and `v`, `T'` the slopes of the totals along the ray.
//! At a given pH the forms of a ligand keep their proportions but for complexes and ionic strength: the proton balance is nearly
//! straight in `t`, and `x_j` moves as `ln T_j(t)`, so the unknowns are carried along as `x_j - ln T_j(t)` and few steps are needed.
//!
//! Where the steps do not settle between 0 and the most that may be added (there is no such amount, or the way is too crooked), the
//! amount is searched for as at the bench: growing additions until the pH is passed, then Brent's method. Only that search says that a
//! pH cannot be reached.
//! Proof: both ways agree on random mixtures (property tests in `tests/aqueous_reach.rs`).

use super::error::AqueousError;
use super::linear::{largest, log_ratio};
use super::ray::Ray;
use super::solve::{LONGEST_STEP, NOTHING, ln_water_slope, water_activity};
use super::start::counted;
use super::system::System;
use super::workspace::{AMOUNT, Arranged, Workspace, rows_of};
use levigate_measure::elementary::Elementary as _;
use levigate_measure::root::bracketed;

/// A pH this near to the aim is the aim: a hundred thousandth of what an electrode reads.
const PH_TOLERANCE: f64 = 1e-7;
/// A pH that moves by less has not moved.
const SOLVER_NOISE: f64 = 1e-8;
/// Most Newton steps at a given pH.
const MOST_DIRECT: usize = 40;
/// Most steps of Brent's method.
const MOST_STEPS: usize = 200;
/// Least amount the direct method looks at, as a share of the most.
const LEAST_SHARE: f64 = 1e-14;
/// First addition of the search, as a share of the most.
const FIRST_SHARE: f64 = 1e-6;

/// What the question for an amount came to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Reach {
    /// This amount reaches the pH; the workspace is solved there.
    At(f64),
    /// The addition moves the pH the other way from the start.
    WrongWay {
        /// pH without any of it.
        ph: f64,
    },
    /// The addition does not bring it there within the most.
    NotEnough {
        /// Amount that comes nearest.
        amount: f64,
        /// pH there.
        ph: f64,
    },
}

/// One Newton step besides that of the unknowns, which stays in `step`.
#[derive(Clone, Copy, Debug)]
struct Step {
    strength: f64,
    water: f64,
    amount: f64,
}

impl System {
    /// The amount along a ray, 0 to [`Ray::most`], that brings the solution to the pH `aim`.
    ///
    /// The pH at the amount found is the aim within 1e-7, or as near as neighbouring floating-point amounts come. The last solution of the
    /// workspace is not used; after [`Reach::At`] the workspace holds the solution at the amount.
    ///
    /// # Errors
    /// [`AqueousError::NotUsable`] for an aim or a most that is no number; else those of [`System::solve_along`].
    pub fn solve_to_ph(&self, ray: &Ray, aim: f64, workspace: &mut Workspace) -> Result<Reach, AqueousError> {
        if !aim.is_finite() {
            return Err(AqueousError::NotUsable { what: "the pH asked for".to_owned(), value: aim });
        }
        if !(ray.most > 0.0 && ray.most.is_finite()) {
            let what = "the most that may be added".to_owned();
            return Err(AqueousError::NotUsable { what, value: ray.most });
        }
        if !workspace.bracketed_only
            && let Some(amount) = self.reach_directly(ray, aim, workspace)
        {
            workspace.ready = true;
            let steps = workspace.iterations;
            if (self.solve_along(ray, amount, workspace)? - aim).abs() < PH_TOLERANCE {
                workspace.iterations += steps;
                return Ok(Reach::At(amount));
            }
        }
        workspace.forget();
        self.search_amount(ray, aim, workspace)
    }

    /// Newton's method at a given pH. `None` where it does not settle within the bounds of the ray.
    fn reach_directly(&self, ray: &Ray, aim: f64, w: &mut Workspace) -> Option<f64> {
        self.fit(w);
        let [mut base, mut along] = [core::mem::take(&mut w.base), core::mem::take(&mut w.along)];
        self.arrange(&ray.base.components_mol, ray.base.neutral_mol, &mut base)?;
        self.arrange(&ray.along.components_mol, ray.along.neutral_mol, &mut along)?;
        (w.base, w.along) = (base, along);
        let water = [ray.base.water_kg, ray.along.water_kg];
        let bounds = (LEAST_SHARE * ray.most, ray.most);
        let mut amount = self.first_guess_at_ph(aim, water, bounds, w)?;
        let mut at_bound = 0;
        for iteration in 1..=MOST_DIRECT {
            w.iterations = iteration;
            self.evaluate::<true>(w);
            w.factored = false;
            self.misses(w);
            let settled = self.residual(w) < 1e-9;
            let mut step = self.step_at_ph(w)?;
            let next = (amount + step.amount).clamp(0.1 * amount, bounds.1).max(bounds.0);
            step.amount = next - amount;
            // Held at a bound again and again: the amount lies beyond it.
            at_bound = if next == bounds.0 || next == bounds.1 { at_bound + 1 } else { 0 };
            if at_bound > 2 {
                return None;
            }
            let moved = self.take_step(&step, next, water, w)?;
            amount = next;
            if settled && moved < 1e-6 {
                return Some(amount);
            }
        }
        None
    }

    /// Arranges what a portion holds as the solver takes it. `None` where the portion is not one of this system.
    fn arrange(&self, components: &[f64], neutral: f64, into: &mut Arranged) -> Option<()> {
        if components.len() != self.names.len() {
            return None;
        }
        into.solved.clear();
        into.solved.extend(self.solved.iter().map(|&component| components[component]));
        if let Some(link) = self.gas {
            into.solved[0] -= f64::from(link.protons) * components[link.component];
        }
        into.chains.clear();
        into.chains.extend(self.chain_component.iter().map(|&component| components[component]));
        (into.strength, into.sum) = (0.0, neutral);
        for &component in &self.spectators {
            let charge = f64::from(self.charges[component]);
            into.strength += 0.5 * charge * charge * components[component];
            into.sum += components[component];
        }
        Some(())
    }

    /// Sets the totals of the workspace to an amount along its ray, and their slopes. `None` where the ray has left what can be.
    pub(super) fn go_along(&self, amount: f64, water: [f64; 2], w: &mut Workspace) -> Option<()> {
        let kg = water[0] + amount * water[1];
        if kg.is_nan() || kg <= 0.0 {
            return None;
        }
        let at = |base: f64, along: f64| {
            let total = (base + amount * along) / kg;
            (total, (along - total * water[1]) / kg)
        };
        let mut most = 2.0;
        w.slope.solved.resize(w.totals.len(), 0.0);
        let solved = w.base.solved.iter().zip(&w.along.solved).zip(&mut w.slope.solved);
        for (slot, (total, ((base, along), slope))) in w.totals.iter_mut().zip(solved).enumerate() {
            (*total, *slope) = at(*base, *along);
            if slot > 0 && *total < NOTHING {
                if *base != 0.0 || *along != 0.0 {
                    return None;
                }
                *total = 0.0;
            }
            most += 5.0 * total.abs();
        }
        w.slope.chains.resize(w.chain_totals.len(), 0.0);
        let chains = w.base.chains.iter().zip(&w.along.chains).zip(&mut w.slope.chains);
        for (total, ((base, along), slope)) in w.chain_totals.iter_mut().zip(chains) {
            (*total, *slope) = at(*base, *along);
            if *total < 0.0 {
                return None;
            }
        }
        (w.spectator_strength, w.slope.strength) = at(w.base.strength, w.along.strength);
        (w.spectator_sum, w.slope.sum) = at(w.base.sum, w.along.sum);
        w.sums.most = most + w.spectator_sum;
        (w.spectator_strength >= 0.0 && w.sums.most.is_finite()).then_some(())
    }

    /// The step of ln I, ln a_w and the amount; the columns of the unknowns stay in the workspace.
    fn step_at_ph(&self, w: &mut Workspace) -> Option<Step> {
        let arrow = self.layout.arrow;
        let strength = w.sums.strength;
        let [own, cross] = self.border_columns(w);
        let [by_strength, by_water, ..] = core::mem::take(&mut w.columns[0]);
        let mut by_amount = -counted(w, &w.slope.solved, &w.slope.chains);
        let mut strength_by_amount = w.slope.strength;
        let mut sum_by_amount = w.slope.sum;
        for (chain, model) in self.chains.iter().enumerate() {
            let (ionised, slope) = (w.ionised[chain], w.slope.chains[chain]);
            by_amount +=
                slope * if w.chain_reference[chain] > 0.5 { -ionised.degree } else { ionised.neutral };
            let condensed = (ionised.degree - model.condensed_from).max(0.0);
            strength_by_amount -= 0.5 * slope * condensed;
            sum_by_amount -= slope * condensed;
        }
        // The activity of H+ is given: its row and column leave the matrix, only a one stays in its place.
        w.matrix[0] = 1.0;
        for slot in 1..w.x.len() {
            w.matrix[arrow.place(slot, 0)] = 0.0;
            // The balances are written in logarithms, `sum ln(sum / T)`: a total moves them by the sum, which is far from it at first.
            w.columns[slot][AMOUNT] = if w.totals[slot] > 0.0 {
                -w.slots[slot].amount * w.slope.solved[slot] / w.totals[slot]
            } else {
                0.0
            };
        }
        arrow.factor(&mut w.matrix);
        arrow.solve(&w.matrix, &mut w.columns);
        // What the rows of the proton balance, of the ionic strength and of the sum of molalities take from the four columns.
        let (mut protons, mut strengths, mut sums) = ([0.0; 4], [0.0; 4], [0.0; 4]);
        for slot in 1..w.x.len() {
            let (strength, amount) = rows_of(w, slot);
            for (k, column) in w.columns[slot].into_iter().enumerate() {
                protons[k] += w.slots[slot].protons * column;
                strengths[k] += strength * column;
                sums[k] += amount * column;
            }
        }
        let slope = ln_water_slope(w.sums.all);
        let proton_miss = w.sums.proton_plus - w.sums.proton_minus - w.proton_total;
        let strength_miss = strength * log_ratio(strength, w.strength);
        let water_miss = w.ln_water - water_activity(w.sums.all).log_e();
        // Rows of the bordered system left after elimination of the unknowns: [d ln I, d ln a_w, dt | right side].
        let first = [
            by_strength - protons[0],
            by_water - protons[1],
            by_amount - protons[2],
            protons[3] - proton_miss,
        ];
        let second = [
            (w.sums.strength_by_strength - strength - strengths[0]).min(-0.1 * strength),
            cross - strengths[1],
            strength_by_amount - strengths[2],
            strengths[3] - strength_miss,
        ];
        let third = [
            slope * sums[0],
            1.0 - slope * (own - sums[1]),
            -slope * (sum_by_amount - sums[2]),
            -slope * sums[3] - water_miss,
        ];
        // The amount is eliminated by the proton balance, the rest is two by two.
        if first[2] == 0.0 || !first[2].is_finite() {
            return None;
        }
        let less = |row: [f64; 4]| {
            let share = row[2] / first[2];
            [row[0] - share * first[0], row[1] - share * first[1], row[3] - share * first[3]]
        };
        let (second, third) = (less(second), less(third));
        let pivot = second[0].min(-0.1 * strength);
        let determinant = pivot * third[1] - second[1] * third[0];
        let water = ((pivot * third[2] - third[0] * second[2]) / determinant).clamp(-0.3, 0.3);
        let by_y = ((second[2] - second[1] * water) / pivot).clamp(-3.0, 3.0);
        let amount = (first[3] - first[0] * by_y - first[1] * water) / first[2];
        (water.is_finite() && by_y.is_finite() && amount.is_finite()).then_some(Step {
            strength: by_y,
            water,
            amount,
        })
    }

    /// Moves the workspace by a step to the amount `next`; returns the largest change of an unknown beyond that of its total.
    fn take_step(&self, step: &Step, next: f64, water: [f64; 2], w: &mut Workspace) -> Option<f64> {
        w.step[0] = 0.0;
        let slots = w.x.len();
        for slot in 1..slots {
            let [by_y, by_v, by_amount, right] = w.columns[slot];
            let straight = -right - by_y * step.strength - by_v * step.water - by_amount * step.amount;
            // The unknown is carried along with the logarithm of its total: kept is the total before.
            let total = w.totals[slot];
            w.step[slot] =
                if total > 0.0 { straight - w.slope.solved[slot] / total * step.amount } else { 0.0 };
            w.last_x[slot] = total;
        }
        self.go_along(next, water, w)?;
        let most = largest(&w.step);
        if !most.is_finite() {
            return None;
        }
        let scale = (LONGEST_STEP / most.max(1e-300)).min(1.0);
        for slot in 1..slots {
            if w.totals[slot] > 0.0 {
                w.x[slot] += w.step[slot] * scale + log_ratio(w.totals[slot], w.last_x[slot]);
            }
        }
        w.y = (w.y + step.strength * scale).clamp(-25.0, 10.0);
        w.ln_water = (w.ln_water + step.water * scale).clamp(-5.0, 0.0);
        w.proton_total = counted(w, &w.totals, &w.chain_totals);
        Some(most.max(step.strength.abs()).max(step.water.abs()))
    }

    /// Growing additions until the aim is passed, then Brent's method.
    fn search_amount(&self, ray: &Ray, aim: f64, w: &mut Workspace) -> Result<Reach, AqueousError> {
        let at_start = self.solve_along(ray, 0.0, w)?;
        if (at_start - aim).abs() < 0.01 * PH_TOLERANCE {
            return Ok(Reach::At(0.0));
        }
        let passed = |ph: f64| (ph - aim) * (at_start - aim) <= 0.0;
        let mut nearest = (0.0, at_start);
        let (mut before, mut amount) = (0.0, ray.most * FIRST_SHARE);
        loop {
            let ph = self.solve_along(ray, amount, w)?;
            if passed(ph) {
                break;
            }
            if (ph - aim).abs() < (nearest.1 - aim).abs() {
                nearest = (amount, ph);
            } else if nearest.0 == 0.0 && (ph - at_start).abs() > SOLVER_NOISE {
                return Ok(Reach::WrongWay { ph: at_start });
            }
            if amount >= ray.most {
                return Ok(match nearest {
                    (0.0, ph) => Reach::WrongWay { ph },
                    (amount, ph) => Reach::NotEnough { amount, ph },
                });
            }
            before = amount;
            amount = (amount * 4.0).min(ray.most);
        }
        let mut trouble = None;
        let mut best = (amount, f64::INFINITY);
        // Brent's method also ends where neighbouring amounts lie on both sides of the aim.
        let _ = bracketed(
            |amount| match self.solve_along(ray, amount, w) {
                Ok(ph) => {
                    let miss = ph - aim;
                    if miss.abs() < best.1 {
                        best = (amount, miss.abs());
                    }
                    if miss.abs() < 0.1 * PH_TOLERANCE { 0.0 } else { miss }
                }
                Err(error) => {
                    trouble.get_or_insert(error);
                    f64::NAN
                }
            },
            before,
            amount,
            0.0,
            MOST_STEPS,
        );
        match trouble {
            Some(error) => Err(error),
            None => {
                self.solve_along(ray, best.0, w)?;
                Ok(Reach::At(best.0))
            }
        }
    }
}
