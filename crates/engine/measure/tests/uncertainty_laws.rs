//! Laws that hold whatever the numbers: threads and order change nothing, no uncertainty in gives none out, scale and sum carry through.

use levigate_measure::uncertainty::monte_carlo::draw;
use levigate_measure::uncertainty::propagation::propagate;
use levigate_measure::uncertainty::shares::{Part, Spread, shares};
use levigate_measure::uncertainty::{Correlation, Distribution, Inputs, Order, Scatter};
use proptest::prelude::*;

fn on_threads<T: Send>(threads: usize, work: impl FnOnce() -> T + Send) -> T {
    rayon::ThreadPoolBuilder::new().num_threads(threads).build().expect("threads").install(work)
}

fn parts(masses: &[f64]) -> Vec<Part> {
    let part = |(place, mass): (usize, &f64)| Part {
        name: format!("line {place}"),
        value: *mass,
        scatter: Scatter {
            normal: 0.01,
            triangular: 0.01,
            rectangular: if place % 3 == 0 { 0.002 } else { 0.0 },
        },
        aim: Some([0.0, 0.1]),
    };
    masses.iter().enumerate().map(part).collect()
}

fn bits(spreads: &[Spread]) -> Vec<[u64; 4]> {
    let of = |s: &Spread| [s.mean, s.standard_deviation, s.interval.low, s.interval.high].map(f64::to_bits);
    spreads.iter().map(of).collect()
}

fn mixed(values: &[f64]) -> Inputs {
    let kind = |(place, value): (usize, &f64)| {
        let spread = 0.01 * value.abs() + 0.1;
        let is = match place % 5 {
            0 => Distribution::Normal { mean: *value, sd: spread },
            1 => Distribution::within(*value, spread),
            2 => Distribution::Triangular { low: value - spread, high: value + spread },
            3 => Distribution::Arcsine { low: value - spread, high: value + spread },
            _ => Distribution::Student { mean: *value, scale: spread, degrees: 7.0 },
        };
        (format!("x{place}"), is)
    };
    Inputs::new(values.iter().enumerate().map(kind), Correlation::none()).expect("inputs")
}

#[test]
fn every_distribution_has_the_mean_and_deviation_it_says() {
    let all = [
        Distribution::Normal { mean: 2.0, sd: 3.0 },
        Distribution::Rectangular { low: -1.0, high: 5.0 },
        Distribution::Resolution { shown: 0.12, step: 0.01 },
        Distribution::Triangular { low: 1.0, high: 2.0 },
        Distribution::Trapezoid { low: -2.0, high: 4.0, top: 0.4 },
        Distribution::CurvilinearTrapezoid { low: -1.0, high: 1.0, inexact: 0.5 },
        Distribution::Arcsine { low: -0.5, high: 0.7 },
        Distribution::Student { mean: 1.0, scale: 2.0, degrees: 18.0 },
        Distribution::Student { mean: 1.0, scale: 2.0, degrees: 5.5 },
    ];
    for distribution in all {
        let inputs = Inputs::new([("x", distribution)], Correlation::none()).unwrap();
        let drawn = draw(&inputs, 1, 1_000_000, 4, |x, y| y[0] = x[0]).unwrap();
        let sd = distribution.standard_deviation();
        assert!((drawn.mean(0) - distribution.mean()).abs() < 4.5e-3 * sd, "{distribution:?}");
        assert!((drawn.standard_deviation(0) / sd - 1.0).abs() < 8e-3, "{distribution:?}");
    }
}

#[test]
fn what_cannot_be_is_refused_with_a_hint() {
    let normal = Distribution::Normal { mean: 0.0, sd: 1.0 };
    let refusals = [
        Inputs::new([("x", normal), ("x", normal)], Correlation::none()).unwrap_err(),
        Inputs::new([("x", Distribution::Rectangular { low: 1.0, high: 0.0 })], Correlation::none())
            .unwrap_err(),
        Inputs::new([("x", normal)], Correlation::none().between(0, 1, 0.5)).unwrap_err(),
        Inputs::new(
            ["x", "y", "z"].map(|name| (name, normal)),
            Correlation::none().between(0, 1, 0.9).between(1, 2, 0.9).between(0, 2, -0.9),
        )
        .unwrap_err(),
        draw(&mixed(&[1.0]), 1, 1, 0, |x, y| y[0] = x[0]).unwrap_err(),
        draw(&mixed(&[1.0]), 1, 10, 0, |_, y| y[0] = f64::NAN).unwrap_err(),
        shares(&parts(&[1.0, 0.0]), 100, 0.95, 0).unwrap_err(),
        shares(&parts(&[1.0, 2.0]), 100, 1.0, 0).unwrap_err(),
    ];
    for refusal in refusals {
        assert!(!refusal.to_string().is_empty() && !refusal.hint().is_empty());
    }
}

#[test]
fn full_correlation_adds_deviations_and_its_opposite_takes_them_off() {
    let normal = Distribution::Normal { mean: 1.0, sd: 1.0 };
    for (coefficient, expected) in [(1.0, 2.0), (-1.0, 0.0), (0.5, 3f64.sqrt())] {
        let correlation = Correlation::none().between(0, 1, coefficient);
        let inputs = Inputs::new([("x", normal), ("y", normal)], correlation.clone()).unwrap();
        let sum = |x: &[f64]| x[0] + x[1];
        let found = propagate(inputs.names(), &inputs.estimates(), &correlation, Order::First, sum).unwrap();
        assert!((found.standard_uncertainty - expected).abs() < 1e-9);
        let drawn = draw(&inputs, 1, 200_000, 9, |x, y| y[0] = sum(x)).unwrap();
        assert!((drawn.standard_deviation(0) - expected).abs() < 0.01);
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn the_number_of_threads_changes_no_bit(
        masses in prop::collection::vec(0.5f64..200.0, 2..16), draws in 100usize..20_000, seed: u64,
    ) {
        let parts = parts(&masses);
        let made = |threads| on_threads(threads, || shares(&parts, draws, 0.95, seed).unwrap());
        let one = bits(&made(1));
        prop_assert_eq!(&one, &bits(&made(2)));
        prop_assert_eq!(&one, &bits(&made(5)));
        let inputs = mixed(&masses);
        let product = |x: &[f64], y: &mut [f64]| y[0] = x.iter().product();
        let kept = |threads| on_threads(threads, || draw(&inputs, 1, draws, seed, product).unwrap());
        prop_assert_eq!(kept(1), kept(2));
    }

    #[test]
    fn the_order_of_the_lines_changes_no_draw(
        masses in prop::collection::vec(0.5f64..200.0, 2..16), seed: u64,
    ) {
        let forward = parts(&masses);
        let backward: Vec<Part> = forward.iter().rev().cloned().collect();
        let one = shares(&forward, 5_000, 0.95, seed).unwrap();
        let mut other = shares(&backward, 5_000, 0.95, seed).unwrap();
        other.reverse();
        // The total is added up the other way round, which moves its last bit.
        for (one, other) in one.iter().zip(&other) {
            prop_assert!((one.mean / other.mean - 1.0).abs() < 1e-13);
            prop_assert!((one.standard_deviation / other.standard_deviation - 1.0).abs() < 1e-7);
            prop_assert!((one.interval.low / other.interval.low - 1.0).abs() < 1e-12);
        }
    }

    #[test]
    fn no_uncertainty_in_gives_none_out(masses in prop::collection::vec(0.5f64..200.0, 1..16), seed: u64) {
        let mut sure = parts(&masses);
        for part in &mut sure {
            part.scatter = Scatter::default();
        }
        let total: f64 = masses.iter().sum();
        for (spread, mass) in shares(&sure, 3_000, 0.95, seed).unwrap().iter().zip(&masses) {
            prop_assert!((spread.mean - mass / total).abs() < 1e-15);
            prop_assert!(spread.standard_deviation < 1e-15);
            prop_assert!(spread.interval.high - spread.interval.low == 0.0);
        }
        let named = masses.iter().enumerate().map(|(k, m)| (format!("{k}"), Distribution::Normal { mean: *m, sd: 0.0 }));
        let inputs = Inputs::new(named, Correlation::none()).unwrap();
        let found = propagate(inputs.names(), &inputs.estimates(), &Correlation::none(), Order::Second, |x| {
            x.iter().product()
        }).unwrap();
        prop_assert_eq!(found.standard_uncertainty, 0.0);
    }

    /// A linear model has the uncertainty of the guide exactly, and nothing of second order.
    #[test]
    fn a_weighted_sum_is_exact(weights in prop::collection::vec(-5.0f64..5.0, 1..8)) {
        let values: Vec<f64> = weights.iter().map(|w| 3.0 + w).collect();
        let inputs = mixed(&values);
        let sum = |x: &[f64]| x.iter().zip(&weights).map(|(x, w)| x * w).sum::<f64>();
        let estimates = inputs.estimates();
        let expected = estimates.iter().zip(&weights).map(|(e, w)| (w * e.standard_uncertainty).powi(2)).sum::<f64>();
        let first = propagate(inputs.names(), &estimates, &Correlation::none(), Order::First, sum).unwrap();
        prop_assert!((first.standard_uncertainty - expected.sqrt()).abs() < 1e-10 * (1.0 + expected.sqrt()));
        let second = propagate(inputs.names(), &estimates, &Correlation::none(), Order::Second, sum).unwrap();
        prop_assert!(second.second_order_variance.abs() < 1e-8);
        let shares: f64 = first.shares().iter().sum();
        prop_assert!((shares - 1.0).abs() < 1e-12 || expected == 0.0);
    }
}
