//! Orders that fall or rise and limits of a share, against another program.

use levigate_measure::order::{order, share_limits};
use serde::Deserialize;
use std::path::Path;

#[derive(Deserialize)]
struct Cross {
    order: Vec<Ordered>,
    share: Vec<Share>,
}

#[derive(Deserialize)]
struct Ordered {
    values: Vec<f64>,
    falling_by_chance: f64,
    rising_by_chance: f64,
}

#[derive(Deserialize)]
struct Share {
    found: usize,
    of: usize,
    limits: [f64; 2],
}

#[test]
fn scores_and_limits_are_those_of_another_program() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("cross/order.toml");
    let cross: Cross = toml::from_str(&std::fs::read_to_string(path).unwrap()).unwrap();
    assert_eq!((cross.order.len(), cross.share.len()), (6, 6));
    for case in &cross.order {
        let found = order(&case.values).unwrap();
        for (ours, theirs) in [
            (found.falling_by_chance, case.falling_by_chance),
            (found.rising_by_chance, case.rising_by_chance),
        ] {
            assert!((ours - theirs).abs() < 1e-9 * (1.0 + theirs), "{ours} {theirs}");
        }
    }
    for case in &cross.share {
        let limits = share_limits(case.found, case.of, 0.95).unwrap();
        for (ours, theirs) in limits.into_iter().zip(case.limits) {
            assert!((ours - theirs).abs() < 1e-8, "{} of {}: {ours} {theirs}", case.found, case.of);
        }
    }
}

#[test]
fn nothing_is_said_of_too_few_or_of_numbers_all_alike() {
    assert_eq!(order(&[1.0, 2.0]), None);
    assert_eq!(order(&[1.0, f64::NAN, 2.0]), None);
    assert_eq!(order(&[1.0; 9]), None);
    assert_eq!(share_limits(0, 0, 0.95), None);
    assert_eq!(share_limits(3, 2, 0.95), None);
    // A tie takes the normal way and changes little.
    let with_a_tie = order(&[5.0, 4.0, 4.0, 3.0, 2.0, 1.0, 0.5]).unwrap();
    assert!(with_a_tie.falling_by_chance < 0.01 && with_a_tie.rising_by_chance > 0.99);
}
