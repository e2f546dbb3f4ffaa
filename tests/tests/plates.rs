//! Counts on plates, held against printed examples and another program.

use levigate_rules::plates::{Plate, PlateError, Worth, plate_count};
use proptest::prelude::*;
use serde::Deserialize;
use std::path::Path;

#[derive(Deserialize)]
struct Cases {
    count: Vec<Case>,
}

#[derive(Deserialize)]
struct Case {
    name: String,
    countable: [u32; 2],
    plates: Vec<(f64, u32)>,
    cfu_per_g: f64,
    low: Option<f64>,
    high: Option<f64>,
    scattered: Option<bool>,
}

fn plates(list: &[(f64, u32)]) -> Vec<Plate> {
    list.iter()
        .map(|(product_g_ml, colonies)| Plate { product_g_ml: *product_g_ml, colonies: *colonies })
        .collect()
}

#[test]
fn counts_that_were_printed_and_counts_of_another_program() {
    for file in ["published/plates.toml", "cross/plates.toml"] {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(file);
        let cases: Cases = toml::from_str(&std::fs::read_to_string(path).unwrap()).unwrap();
        for case in &cases.count {
            let ours = plate_count(&plates(&case.plates), 1.0, case.countable).unwrap();
            let near = |what: &str, ours: f64, theirs: f64, least: f64| {
                assert!((ours / theirs - 1.0).abs() < least, "{} {what}: {ours} {theirs}", case.name);
            };
            near("count", ours.cfu_per_g, case.cfu_per_g, 1e-5);
            let (low, high) = ours.within.unwrap();
            case.low.inspect(|theirs| near("low", low, *theirs, 1e-6));
            case.high.inspect(|theirs| near("high", high, *theirs, 1e-6));
            case.scattered.inspect(|theirs| assert_eq!(ours.scattered, *theirs, "{}", case.name));
        }
    }
}

#[test]
fn no_colony_is_a_floor_and_too_many_are_at_least() {
    let count = |list: &[(f64, u32)]| plate_count(&plates(list), 1.0, [30, 300]).unwrap();
    let none = count(&[(0.1, 0), (0.1, 0), (0.01, 0)]);
    assert_eq!((none.worth, none.cfu_per_g), (Worth::Below, 10.0));
    let many = count(&[(0.1, 900), (0.01, 420)]);
    assert_eq!((many.worth, many.cfu_per_g.round()), (Worth::AtLeast, 30_000.0));
    assert_eq!(count(&[(0.1, 12), (0.1, 18)]).worth, Worth::Estimated);
    // Nothing where most product is, something where less is: all plates speak together.
    let odd = count(&[(0.1, 0), (0.01, 3)]);
    assert_eq!((odd.worth, odd.colonies, odd.plates), (Worth::Estimated, 3, 2));
    assert_eq!(plate_count(&[], 1.0, [30, 300]), Err(PlateError::NoPlate));
    assert_eq!(plate_count(&plates(&[(0.1, 50)]), 0.0, [30, 300]), Err(PlateError::NothingPlated));
}

proptest! {
    /// More of the product on each plate makes the same colonies a smaller count; its limits hold it.
    #[test]
    fn more_product_with_the_same_colonies_is_a_smaller_count(colonies in prop::collection::vec(0u32..400, 1..6), product in 0.001..0.5f64) {
        let of = |product: f64| plate_count(&plates(&colonies.iter().map(|one| (product, *one)).collect::<Vec<_>>()), 1.0, [30, 300]).unwrap();
        let (one, two) = (of(product), of(2.0 * product));
        prop_assert!((one.cfu_per_g / two.cfu_per_g - 2.0).abs() < 1e-9);
        if let Some((low, high)) = one.within {
            prop_assert!(low <= one.cfu_per_g && one.cfu_per_g <= high);
        }
    }
}
