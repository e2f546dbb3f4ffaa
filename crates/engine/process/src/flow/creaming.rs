//! Drops of many sizes over a shelf life, and what a centrifuge says about it.
//!
//! ```text
//! s   = sum over the sizes of f(d) min(1, v(d) t / H)        share of the volume that has left a layer of height H
//! ln d ~ normal(ln d50, ln sg)                            log-normal distribution of the volume
//! RCF = (2 pi N / 60)^2 r / g                             relative centrifugal force
//! t'  = t v(RCF) / v(1) = t RCF eta(tau) / eta(RCF tau)       standing that a centrifuge run stands for
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | f(d), v(d) | share of the volume of a size, its speed (see `suspension`) | -, m/s |
//! | H, t | height of the layer, time | m, s |
//! | d50, sg | median of the volume, geometric standard deviation | m, - |
//! | N, r | speed of the rotor, distance of the sample from its axis | rpm, m |
//! | tau | stress the drop exerts at rest | Pa |
//!
//! Range: drops spread evenly at first, none merges or ripens, no Brownian motion (drops well above half a micrometre). The centrifuge pulls RCF
//! times harder: where the viscosity depends on the stress, or where that pull breaks a yield stress that holds at rest, the run is
//! not equivalent to any standing. Sources: Stokes' law as in `suspension`; for the log-normal distribution the closed form with the
//! normal integral (below and in `tests/cross/flow_use.csv`).

use super::film::GRAVITY_M_S2;
use super::integral;
use super::liquid::Liquid;
use super::suspension::Particle;
use core::f64::consts::PI;
use levigate_measure::elementary::Elementary as _;

/// Sizes of drops by their volume.
#[derive(Clone, Debug, PartialEq)]
pub enum Sizes {
    /// Log-normal.
    LogNormal {
        /// Median diameter of the volume, m.
        median_m: f64,
        /// Geometric standard deviation, from 1.
        spread: f64,
    },
    /// Diameter, m, with its share of the volume; shares of any scale.
    Table(Vec<(f64, f64)>),
}

/// A layer that stands.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Layer {
    /// Height, m.
    pub height_m: f64,
    /// Time, s.
    pub time_s: f64,
    /// Volume share of the drops, 0 to below 1.
    pub volume_share: f64,
}

/// Widest size looked at, in standard deviations of the logarithm.
const WIDEST: f64 = 8.0;

impl Sizes {
    /// The diameter below which half of the volume lies, m.
    #[must_use]
    pub fn median(&self) -> f64 {
        match self {
            Self::LogNormal { median_m, .. } => *median_m,
            Self::Table(rows) => {
                let mut rows = rows.clone();
                rows.sort_by(|a, b| a.0.total_cmp(&b.0));
                let half = 0.5 * rows.iter().map(|row| row.1).sum::<f64>();
                let mut below = 0.0;
                for (diameter, share) in &rows {
                    below += share;
                    if below >= half {
                        return *diameter;
                    }
                }
                rows.last().map_or(f64::NAN, |row| row.0)
            }
        }
    }

    /// Share of the volume that has left a layer of a liquid, 0 to 1; `drop` gives density and inner viscosity, its diameter is not used.
    #[must_use]
    pub fn share_gone(&self, drop: &Particle, liquid: &dyn Liquid, layer: &Layer) -> f64 {
        let gone = |diameter_m: f64| {
            let speed = Particle { diameter_m, ..*drop }.speed_in(liquid, layer.volume_share).abs();
            (speed * layer.time_s / layer.height_m).min(1.0)
        };
        match self {
            Self::Table(rows) => {
                let whole: f64 = rows.iter().map(|row| row.1).sum();
                rows.iter().map(|(diameter, share)| share * gone(*diameter)).sum::<f64>() / whole
            }
            Self::LogNormal { median_m, spread } if *spread <= 1.0 => gone(*median_m),
            Self::LogNormal { median_m, spread } => {
                let width = spread.log_e();
                let diameter = |z: f64| median_m * (width * z).exp_e();
                // Two places where the share bends: the smallest drop that moves at all and the smallest that has gone through.
                let moves = first(|z| gone(diameter(z)) > 0.0);
                let through = first(|z| gone(diameter(z)) >= 1.0).max(moves);
                let normal = |z: f64| (-0.5 * z * z).exp_e() / (2.0 * PI).sqrt();
                integral::over(moves, through, 40, |z| normal(z) * gone(diameter(z)))
                    + integral::over(through, WIDEST, 40, normal)
            }
        }
    }
}

/// Where a condition that stays true once it is true begins, in standard deviations.
fn first(holds: impl Fn(f64) -> bool) -> f64 {
    if holds(-WIDEST) {
        return -WIDEST;
    }
    let (mut low, mut high) = (-WIDEST, WIDEST);
    for _ in 0..50 {
        let middle = 0.5 * (low + high);
        if holds(middle) {
            high = middle;
        } else {
            low = middle;
        }
    }
    high
}

/// A run in a centrifuge.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Centrifuge {
    /// Distance of the sample from the axis, m.
    pub radius_m: f64,
    /// Speed, rpm.
    pub rpm: f64,
    /// Time, s.
    pub time_s: f64,
}

/// What a run stands for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Equivalence {
    /// As long as this would take standing, s: `factor` times what the force alone says, by the viscosities at both stresses.
    Standing {
        /// Time, s.
        time_s: f64,
        /// Viscosity at rest over that in the centrifuge.
        factor: f64,
    },
    /// Nothing: the drop is held at rest and torn loose in the centrifuge.
    TornLoose,
    /// Nothing: the drop is held in both.
    HeldInBoth,
}

impl Centrifuge {
    /// Relative centrifugal force, times gravity.
    #[must_use]
    pub fn force(&self) -> f64 {
        (2.0 * PI * self.rpm / 60.0).powi(2) * self.radius_m / GRAVITY_M_S2
    }

    /// Standing time that the run stands for, for one drop in a liquid.
    #[must_use]
    pub fn equivalent(&self, drop: &Particle, liquid: &dyn Liquid, volume_share: f64) -> Equivalence {
        let force = self.force();
        // Weight and centrifugal force enter the speed and the stress alike, by the density difference.
        let pulled = Particle { density_difference_kg_m3: drop.density_difference_kg_m3 * force, ..*drop };
        let (standing, spun) =
            (drop.speed_in(liquid, volume_share).abs(), pulled.speed_in(liquid, volume_share).abs());
        if spun <= 0.0 {
            Equivalence::HeldInBoth
        } else if standing <= 0.0 {
            Equivalence::TornLoose
        } else {
            Equivalence::Standing { time_s: self.time_s * spun / standing, factor: spun / standing / force }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::flow::liquid::Modelled;
    use crate::flow::model::FlowModel;
    use crate::flow::pipe::HerschelBulkley;
    use proptest::prelude::*;

    const OIL: Particle =
        Particle { diameter_m: 0.0, density_difference_kg_m3: -80.0, inner_viscosity_pa_s: None };
    const SHELF: Layer = Layer { height_m: 0.1, time_s: 3.0e7, volume_share: 0.002 };

    #[test]
    fn the_force_is_the_usual_laboratory_figure() {
        // 1.118e-5 r[cm] N^2: 100 mm at 3000 rpm 1006 times gravity.
        let run = Centrifuge { radius_m: 0.1, rpm: 3000.0, time_s: 1800.0 };
        assert!((run.force() / (1.118e-5 * 10.0 * 9e6) - 1.0).abs() < 1e-3, "{}", run.force());
    }

    #[test]
    fn in_a_newtonian_liquid_the_run_stands_for_force_times_time() {
        let liquid = HerschelBulkley { yield_pa: 0.0, consistency: 5.0, index: 1.0 };
        let run = Centrifuge { radius_m: 0.1, rpm: 3000.0, time_s: 1800.0 };
        let drop = Particle { diameter_m: 5e-6, ..OIL };
        let Equivalence::Standing { time_s, factor } = run.equivalent(&drop, &liquid, 0.0) else {
            panic!("it moves");
        };
        assert!((factor - 1.0).abs() < 1e-8 && (time_s / (1800.0 * run.force()) - 1.0).abs() < 1e-8);
        // Thinning within the range of the two stresses makes the centrifuge the faster.
        let thinning = Modelled { model: FlowModel::CrossThinning, parameters: vec![5.0, 5000.0, 0.6] };
        let Equivalence::Standing { factor, .. } = run.equivalent(&drop, &thinning, 0.0) else {
            panic!("it moves");
        };
        assert!(factor > 2.0, "{factor}");
    }

    #[test]
    fn a_yield_stress_makes_the_centrifuge_say_nothing() {
        let run = Centrifuge { radius_m: 0.1, rpm: 3000.0, time_s: 1800.0 };
        let drop = Particle { diameter_m: 5e-6, ..OIL };
        let needed = drop.yield_stress_to_hold();
        let gel = |yield_pa| HerschelBulkley { yield_pa, consistency: 1.0, index: 0.5 };
        assert_eq!(run.equivalent(&drop, &gel(10.0 * needed), 0.0), Equivalence::TornLoose);
        assert_eq!(run.equivalent(&drop, &gel(2000.0 * needed), 0.0), Equivalence::HeldInBoth);
    }

    #[test]
    fn a_table_is_the_sum_of_its_rows() {
        let liquid = HerschelBulkley { yield_pa: 0.0, consistency: 20.0, index: 1.0 };
        let sizes = Sizes::Table(vec![(2e-6, 1.0), (5e-6, 3.0)]);
        let of = |diameter_m| {
            (Particle { diameter_m, ..OIL }.speed_in(&liquid, 0.002) * SHELF.time_s / 0.1).min(1.0)
        };
        let by_hand = 0.25 * of(2e-6) + 0.75 * of(5e-6);
        assert!((sizes.share_gone(&OIL, &liquid, &SHELF) / by_hand - 1.0).abs() < 1e-12);
        assert_eq!(sizes.median(), 5e-6);
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(32))]

        #[test]
        fn what_is_thicker_or_stands_shorter_creams_less(
            median in 0.5e-6..2e-5_f64, spread in 1.0..3.0_f64, eta in 0.05..100.0_f64, more in 1.05..3.0_f64,
        ) {
            let sizes = Sizes::LogNormal { median_m: median, spread };
            let liquid = |consistency| HerschelBulkley { yield_pa: 0.0, consistency, index: 1.0 };
            let gone = sizes.share_gone(&OIL, &liquid(eta), &SHELF);
            prop_assert!((0.0..=1.0 + 1e-9).contains(&gone));
            prop_assert!(sizes.share_gone(&OIL, &liquid(eta * more), &SHELF) <= gone + 1e-9);
            let longer = Layer { time_s: SHELF.time_s * more, ..SHELF };
            prop_assert!(sizes.share_gone(&OIL, &liquid(eta), &longer) >= gone - 1e-9);
        }
    }
}
