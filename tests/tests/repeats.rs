//! What a model always misses and what repeats foretell: laboratories drawn from the belief itself, and a printed example.

use levigate_assess::repeats::{Misses, from_repeats};

/// Normal numbers from a seed (a linear congruence and Box and Muller's turn).
struct Chance(u64);

impl Chance {
    fn even(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        ((self.0 >> 11) as f64 + 0.5) / (1_u64 << 53) as f64
    }

    fn normal(&mut self) -> f64 {
        (-2.0 * self.even().ln()).sqrt() * (2.0 * std::f64::consts::PI * self.even()).cos()
    }
}

#[test]
fn the_limits_hold_as_often_as_they_say_and_the_errors_shrink() {
    let mut chance = Chance(5);
    let (laboratories, trials) = (400, 6);
    let mut held = vec![0; trials];
    let mut error = vec![0.0; trials];
    for _ in 0..laboratories {
        let mut misses = Misses::default();
        let common = 0.5 * chance.normal();
        let formulas = [0, 1].map(|_| 0.5_f64.sqrt() * chance.normal());
        for at in 0..trials {
            let (formula, predicted, deviation) = (["a", "b"][at % 2], 1.0 + 0.01 * at as f64, 0.02);
            let read = predicted + deviation * (common + formulas[at % 2] + 0.5 * chance.normal());
            let awaited = misses.foretell(formula, predicted, deviation).unwrap();
            held[at] += usize::from(awaited.low <= read && read <= awaited.high);
            error[at] += (read - awaited.value).abs();
            assert!(misses.learn(formula, predicted, deviation, read));
        }
    }
    for held in &held {
        let share = *held as f64 / f64::from(laboratories);
        // Four standard deviations of such a share.
        assert!((share - 0.95).abs() < 4.0 * (0.95_f64 * 0.05 / 400.0).sqrt(), "{share}");
    }
    assert!(error[4] + error[5] < 0.8 * (error[0] + error[1]), "{error:?}");
}

#[test]
fn repeats_alone_foretell_by_student() {
    // Mean 10, standard deviation 2 of five: 10 +- 2.776 * 2 * sqrt(1.2), the factor from printed tables of Student's t for four degrees.
    let means = [8.0, 9.0, 9.0, 11.0, 13.0];
    let found = from_repeats(&means).unwrap();
    assert!((found.value - 10.0).abs() < 1e-12);
    assert!((found.high - (10.0 + 2.776_445 * 2.0 * 1.2_f64.sqrt())).abs() < 1e-5, "{found:?}");
    assert_eq!(from_repeats(&means[..1]), None);
    assert_eq!(from_repeats(&[3.0, 3.0]), None);
}

#[test]
fn a_slip_teaches_nothing() {
    let mut misses = Misses::default();
    assert!(!misses.learn("a", 1.0, 0.01, 2.0));
    assert_eq!(misses.foretell("a", 1.0, 0.01), Misses::default().foretell("a", 1.0, 0.01));
}
