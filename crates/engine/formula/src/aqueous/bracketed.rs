//! The method that takes over where the direct one does not converge: ln I is bracketed, and at every trial the convex problem is
//! solved by Newton steps whose length is checked along the way.

use super::linear::{largest, slope_along};
use super::solve::{LONGEST_STEP, RESIDUAL, water_activity};
use super::system::System;
use super::workspace::Workspace;
use levigate_measure::elementary::Elementary as _;

impl System {
    /// Brackets ln I and solves the convex problem for every trial. Returns the residual reached.
    pub(super) fn solve_bracketed(&self, w: &mut Workspace) -> f64 {
        let (mut low, mut high) = (1e-12_f64.log_e(), 1e4_f64.log_e());
        let start = (w.x.clone(), w.ln_water);
        let mut best = f64::INFINITY;
        for round in 0..120 {
            for _ in 0..12 {
                self.solve_convex(w);
                let next = water_activity(w.sums.all).log_e();
                let change = (next - w.ln_water).abs();
                w.ln_water = next;
                if change < 1e-14 {
                    break;
                }
            }
            let miss = w.sums.strength.log_e() - w.y;
            best = self.residual(w);
            if miss.abs() < 1e-13 && best < RESIDUAL {
                return best;
            }
            if miss > 0.0 {
                low = low.max(w.y);
            } else {
                high = high.min(w.y);
            }
            if high - low < 1e-14 {
                return best;
            }
            let proposal = w.y + miss;
            // The fixed-point step where it stays inside and still gains, else the middle.
            let inside = proposal > low && proposal < high && round % 3 != 2;
            w.y = if inside { proposal } else { 0.5 * (low + high) };
            if !best.is_finite() {
                w.x.copy_from_slice(&start.0);
                w.ln_water = start.1;
            }
        }
        best
    }

    /// Minimises the convex function at fixed I and water activity by Newton steps whose length is checked along the way.
    fn solve_convex(&self, w: &mut Workspace) {
        let arrow = self.layout.arrow;
        for _ in 0..400 {
            w.iterations += 1;
            self.evaluate::<true>(w);
            self.misses(w);
            let gradient = self.gradient(w);
            let before = w.x.clone();
            let curvature = w.matrix.clone();
            if self.residual(w) < 1e-14 {
                return;
            }
            let right = w.step.clone();
            let mut damping = 0.0;
            // Logarithmic step first, then the plain Newton step (which always descends); damped until it is not too long.
            for attempt in 0..14 {
                w.matrix.copy_from_slice(&curvature);
                arrow.ridge(&mut w.matrix, damping);
                w.step.copy_from_slice(if attempt < 4 { &right } else { &gradient });
                arrow.factor(&mut w.matrix);
                arrow.solve(&w.matrix, w.step.as_chunks_mut::<1>().0);
                w.step.iter_mut().for_each(|value| *value = -*value);
                if slope_along(&gradient, &w.step) < 0.0 && largest(&w.step) <= LONGEST_STEP {
                    break;
                }
                damping = match attempt {
                    3 => 0.0,
                    _ if damping == 0.0 => 1e-8,
                    _ => damping * 100.0,
                };
            }
            let direction = w.step.clone();
            let most = largest(&direction);
            if most < 1e-15 {
                return;
            }
            let descent = slope_along(&gradient, &direction);
            let mut scale = (LONGEST_STEP / most).min(1.0);
            for _ in 0..40 {
                w.x.copy_from_slice(&before);
                w.step.copy_from_slice(&direction);
                self.step(w, scale, 0.0);
                self.evaluate::<false>(w);
                let there = slope_along(&self.gradient(w), &direction);
                if there <= 0.9 * descent.abs() || most * scale < 1e-9 {
                    break;
                }
                scale *= 0.4;
            }
            if most * scale < 1e-14 {
                return;
            }
        }
    }

    /// Gradient of the convex function in the counted basis, at the last evaluation.
    fn gradient(&self, w: &Workspace) -> Vec<f64> {
        let mut gradient = vec![0.0; w.x.len()];
        gradient[0] = w.sums.proton_plus - w.sums.proton_minus - w.proton_total;
        let amounts = w.slots.iter().zip(&w.totals);
        for (value, (sums, total)) in gradient.iter_mut().zip(amounts).skip(1) {
            if *total > 0.0 {
                *value = sums.amount - total;
            }
        }
        gradient
    }
}
