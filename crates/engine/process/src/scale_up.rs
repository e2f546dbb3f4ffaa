//! From the bench to the plant: the speed of each rule, found with the power number and the viscosity of both scales.
//!
//! ```text
//! find N2 with  q(N2) = q(N1)
//! q: P/V, tip speed, blend time, Re, Fr, N d^0.85 / nu^0.1 (grains just suspended)
//! x  = ln(N1/N2) / ln(d2/d1)                     exponent from two scales that worked
//! N3 = N2 (d2/d3)^x
//! ```
//!
//! In turbulent flow of similar vessels the rules are powers of `R = d2/d1`: P/V `R^(-2/3)`, tip `R^-1`, Fr `R^(-1/2)`, Re `R^-2`, blend time 1, suspended `R^(-0.85)`.
//! A thickened batch is often laminar or between at the bench and turbulent in the plant, so that these powers are only a check here.
//! Sources: textbook. Cases: `tests/published/mixing.toml`, `tests/cross/mixing.toml`.

pub mod heated;
pub mod reading;

use crate::flow::Liquid;
use crate::mixing::stirred::{Edge, Pot, Stirred};
use levigate_measure::elementary::Elementary as _;
use levigate_measure::root::bracketed;
use serde::Serialize;

/// What is kept the same.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Rule {
    /// Power over volume.
    PowerPerVolume,
    /// Speed of the tip.
    TipSpeed,
    /// Time to blend.
    BlendTime,
    /// Reynolds number.
    Reynolds,
    /// Froude number.
    Froude,
    /// Grains just off the bottom.
    JustSuspended,
}

impl Rule {
    /// All of them.
    pub const ALL: [Self; 6] = [
        Self::PowerPerVolume,
        Self::TipSpeed,
        Self::BlendTime,
        Self::Reynolds,
        Self::Froude,
        Self::JustSuspended,
    ];

    /// The words shown to people.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::PowerPerVolume => "equal power per volume",
            Self::TipSpeed => "equal tip speed",
            Self::BlendTime => "equal blend time",
            Self::Reynolds => "equal Reynolds number",
            Self::Froude => "equal Froude number",
            Self::JustSuspended => "grains just suspended",
        }
    }

    /// What it keeps, in words.
    #[must_use]
    pub fn keeps(self) -> &'static str {
        match self {
            Self::PowerPerVolume => "drop size, dispersing and transfer, for turbulent flow",
            Self::TipSpeed => "the highest shear, for what shear harms",
            Self::BlendTime => "the time to even out an addition; seldom affordable",
            Self::Reynolds => "the pattern of flow alone; far too slow in practice",
            Self::Froude => "the shape of the surface and the vortex",
            Self::JustSuspended => "grains off the bottom",
        }
    }

    /// Power of the ratio of diameters by which the speed changes between similar vessels in turbulent flow.
    #[must_use]
    pub fn turbulent_exponent(self) -> f64 {
        match self {
            Self::PowerPerVolume => -2.0 / 3.0,
            Self::TipSpeed => -1.0,
            Self::BlendTime => 0.0,
            Self::Reynolds => -2.0,
            Self::Froude => -0.5,
            Self::JustSuspended => -0.85,
        }
    }

    /// What is kept, as a number that rises with the speed; none where there is none.
    fn of(self, pot: &Pot<'_>, at: &Stirred) -> Option<f64> {
        Some(match self {
            Self::PowerPerVolume => at.power_per_volume,
            Self::TipSpeed => at.tip_m_s,
            Self::BlendTime => 1.0 / at.blend_s?,
            Self::Reynolds => at.reynolds,
            Self::Froude => at.froude,
            Self::JustSuspended => {
                at.speed * pot.impeller.diameter_m.to_the(0.85)
                    / (at.viscosity_pa_s / pot.density_kg_m3).to_the(0.1)
            }
        })
    }
}

/// Speeds looked through, 1/s.
const SPEEDS: [f64; 2] = [1e-5, 1e4];

/// Speed of a rule in another pot, 1/s; none where the rule has no number at the first speed, or no speed reaches it.
#[must_use]
pub fn speed(rule: Rule, liquid: &dyn Liquid, (from, at): (&Pot<'_>, f64), to: &Pot<'_>) -> Option<f64> {
    let kept = rule.of(from, &from.at(liquid, at, Edge::Usual))?;
    let miss = |ln_speed: f64| {
        let there = to.at(liquid, ln_speed.exp_e(), Edge::Usual);
        // Where nothing is blended the time is endless, so that the rate is zero.
        rule.of(to, &there).map_or(-100.0, |value| value.log_e() - kept.log_e())
    };
    bracketed(miss, SPEEDS[0].log_e(), SPEEDS[1].log_e(), 1e-13, 300).ok().map(f64::exp_e)
}

/// Exponent of the speed over the diameter from two scales that both worked; none where the diameters are the same.
#[must_use]
pub fn exponent([first, second]: [(f64, f64); 2]) -> Option<f64> {
    let ((d1, n1), (d2, n2)) = (first, second);
    let apart = (d2 / d1).log_e();
    (apart.abs() > 1e-9).then(|| (n1 / n2).log_e() / apart)
}

/// Speed of a third scale by the exponent of two.
#[must_use]
pub fn extrapolated(exponent: f64, (d2, n2): (f64, f64), d3: f64) -> f64 {
    n2 * (d2 / d3).to_the(exponent)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::flow::pipe::HerschelBulkley;
    use crate::impeller::{Family, ImpellerKind, Number};
    use crate::vessel::{Baffles, Bottom, BottomShape, Impeller, Vessel};
    use core::f64::consts::PI;
    use proptest::prelude::*;

    fn kind() -> ImpellerKind {
        let number = |value| Number { value, low: value, high: value, source: String::new() };
        ImpellerKind {
            key: "test".to_owned(),
            words: "test".to_owned(),
            family: Family::PitchedBlade,
            blades: 4,
            blade_ratio: 0.2,
            angle_deg: 45.0,
            diameter_ratio: [0.3, 0.6],
            turbulent: None,
            laminar: None,
            pumping: Some(number(0.79)),
            shear: number(11.5),
            suspending: Some(number(5.8)),
        }
    }

    fn vessel(scale: f64) -> Vessel {
        let d = 0.5 * 0.07 * scale;
        Vessel::new("", 0.07 * scale, 0.1 * scale, Bottom { shape: BottomShape::Flat, depth_m: 0.0 })
            .and_then(|vessel| vessel.with_baffles(Baffles { count: 4, width_m: 0.007 * scale }))
            .and_then(|vessel| {
                vessel.with_impeller(Impeller {
                    kind: kind(),
                    diameter_m: d,
                    blade_m: 0.2 * d,
                    blades: 4,
                    angle_deg: 45.0,
                    clearance_m: 0.02 * scale,
                    count: 1,
                    off_centre: false,
                    power_number: None,
                })
            })
            .unwrap()
    }

    fn pot(vessel: &Vessel) -> Pot<'_> {
        let d = vessel.diameter_m();
        Pot::new(vessel, vessel.filled(0.25 * PI * d.powi(3) * 0.7).unwrap(), 1000.0).unwrap()
    }

    const WATER: HerschelBulkley = HerschelBulkley { yield_pa: 0.0, consistency: 1e-3, index: 1.0 };

    #[test]
    fn in_turbulent_flow_the_rules_are_the_powers_of_the_textbook() {
        // A stated power number keeps it constant.
        let state = |vessel: Vessel| {
            let mut impeller = vessel.impeller().unwrap().clone();
            impeller.power_number = Some(1.3);
            vessel.with_impeller(impeller).unwrap()
        };
        let (small, large) = (state(vessel(3.0)), state(vessel(30.0)));
        let (small, large) = (pot(&small), pot(&large));
        for rule in Rule::ALL {
            let ratio = speed(rule, &WATER, (&small, 20.0), &large).unwrap() / 20.0;
            let power = 10f64.to_the(rule.turbulent_exponent());
            assert!((ratio / power - 1.0).abs() < 0.01, "{rule:?}: {ratio} {power}");
        }
    }

    #[test]
    fn three_scales_give_the_exponent() {
        let x = exponent([(0.035, 10.0), (0.35, 10.0 * 10f64.to_the(-0.7))]).unwrap();
        assert!((x - 0.7).abs() < 1e-12);
        assert!((extrapolated(x, (0.35, 2.0), 0.7) / (2.0 * 2f64.to_the(-0.7)) - 1.0).abs() < 1e-12);
        assert_eq!(exponent([(0.1, 1.0), (0.1, 2.0)]), None);
    }

    proptest! {
        #[test]
        fn every_rule_returns_itself_in_the_same_pot(
            n in 0.3..30.0_f64, k in 1e-3..20.0_f64, index in 0.25..1.0_f64, tau in 0.0..20.0_f64,
        ) {
            let liquid = HerschelBulkley { yield_pa: tau, consistency: k, index };
            let one = vessel(2.0);
            let one = pot(&one);
            for rule in Rule::ALL {
                if let Some(found) = speed(rule, &liquid, (&one, n), &one) {
                    prop_assert!((found / n - 1.0).abs() < 1e-8, "{:?} {} {}", rule, found, n);
                } else {
                    prop_assert_eq!(rule, Rule::BlendTime);
                }
            }
        }

        #[test]
        fn power_rises_with_speed_and_a_power_law_of_one_is_newton(
            n in 0.05..50.0_f64, k in 1e-3..50.0_f64, index in 0.2..1.0_f64, tau in 0.0..50.0_f64,
        ) {
            let one = vessel(2.0);
            let one = pot(&one);
            let liquid = HerschelBulkley { yield_pa: tau, consistency: k, index };
            let at = |n: f64| one.at(&liquid, n, Edge::Usual);
            prop_assert!(at(1.05 * n).power_w > at(n).power_w);
            prop_assert!(at(1.05 * n).reynolds > at(n).reynolds);
            let newton = HerschelBulkley { yield_pa: 0.0, consistency: k, index: 1.0 };
            let there = one.at(&newton, n, Edge::Usual);
            prop_assert!((there.viscosity_pa_s / k - 1.0).abs() < 1e-9);
            prop_assert!((there.reynolds * k / (1000.0 * n * one.impeller.diameter_m.powi(2)) - 1.0).abs() < 1e-9);
        }
    }
}
