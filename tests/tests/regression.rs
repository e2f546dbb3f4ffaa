//! Linear least squares, means and the analysis of groups against the reference sets of NIST; distributions against another program.

#![expect(clippy::unwrap_used, reason = "tests stop at the first surprise")]

use levigate_measure::distribution::{Confidence, Sides, fisher_beyond, fisher_quantile, student_beyond};
use levigate_measure::exact::sum_of_squares;
use levigate_measure::groups::{Groups, about_first};
use levigate_measure::regression::{Regression, RegressionError, mean};
use rust_decimal::Decimal;
use serde::Deserialize;
use std::path::Path;

#[derive(Deserialize)]
struct Linear {
    set: Vec<LinearSet>,
    univariate: Vec<Univariate>,
}

#[derive(Deserialize)]
struct LinearSet {
    name: String,
    powers: Option<u32>,
    constant: bool,
    certified: Vec<String>,
    certified_deviation: Vec<String>,
    residual_sum: String,
    degrees: usize,
    r_squared: String,
    data: Vec<Vec<f64>>,
}

#[derive(Deserialize)]
struct Univariate {
    name: String,
    mean: String,
    deviation: String,
    data: Vec<String>,
}

fn read<T: serde::de::DeserializeOwned>(file: &str) -> T {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(file);
    toml::from_str(&std::fs::read_to_string(path).unwrap()).unwrap()
}

/// Digits that a number shares with one given as text, at most 15; `zero` is what counts as nothing.
fn digits(found: f64, certified: &str, zero: f64) -> f64 {
    let certified: f64 = certified.parse().unwrap();
    if certified == 0.0 {
        return if found.abs() <= zero { 15.0 } else { 0.0 };
    }
    let miss = ((found - certified) / certified).abs();
    if miss == 0.0 { 15.0 } else { (-miss.log10()).min(15.0) }
}

fn terms(set: &LinearSet, x: &[f64]) -> Vec<f64> {
    let mut row = Vec::new();
    if set.constant {
        row.push(1.0);
    }
    match set.powers {
        Some(powers) => row.extend((1..=powers).map(|power| x[0].powi(i32::try_from(power).unwrap()))),
        None => row.extend_from_slice(x),
    }
    row
}

#[test]
fn linear_sets_of_nist() {
    let sets: Linear = read("published/nist_linear.toml");
    assert_eq!(sets.set.len(), 9);
    for set in &sets.set {
        let rows: Vec<Vec<f64>> = set.data.iter().map(|row| terms(set, &row[1..])).collect();
        let observed: Vec<f64> = set.data.iter().map(|row| row[0]).collect();
        let fit = Regression::fit(&rows, &observed).unwrap_or_else(|error| panic!("{}: {error}", set.name));
        // The powers of Filip's abscissas are rounded before they are used; that alone leaves seven digits.
        let floor = if set.name == "Filip" { 7.0 } else { 9.0 };
        let found = fit.coefficients.iter().zip(&set.certified).map(|(b, c)| digits(*b, c, 0.0));
        let found = found.fold(f64::INFINITY, f64::min);
        // Where the certified residual is nothing, what is left must be rounding of the largest observation.
        let nothing = 1e-12 * observed.iter().map(|y| y.abs()).fold(0.0, f64::max);
        let deviations = (0..fit.coefficients.len())
            .map(|term| digits(fit.standard_error(term).unwrap(), &set.certified_deviation[term], nothing))
            .fold(f64::INFINITY, f64::min);
        let residual = digits(fit.residual_sum, &set.residual_sum, nothing * nothing);
        let explained = digits(fit.explained(set.constant), &set.r_squared, 0.0);
        println!("{:9} {found:4.1} {deviations:4.1} {residual:4.1} {explained:4.1}", set.name);
        assert_eq!(fit.degrees, set.degrees, "{}", set.name);
        assert!(found >= floor && deviations >= floor && residual >= floor, "{}", set.name);
        assert!(explained >= 9.0, "{}", set.name);
    }
}

#[test]
fn univariate_sets_of_nist() {
    let sets: Linear = read("published/nist_linear.toml");
    assert_eq!(sets.univariate.len(), 8);
    for set in &sets.univariate {
        let typed: Vec<Decimal> = set.data.iter().map(|text| text.parse().unwrap()).collect();
        let (first, values) = about_first(&typed);
        let middle = mean(&values);
        let first: f64 = first.to_string().parse().unwrap();
        let spread = sum_of_squares(values.iter().map(|value| value - middle));
        #[expect(clippy::cast_precision_loss, reason = "a few hundred")]
        let deviation = (spread / (values.len() - 1) as f64).sqrt();
        assert!(digits(first + middle, &set.mean, 0.0) >= 14.0, "{}", set.name);
        assert!(digits(deviation, &set.deviation, 0.0) >= 13.0, "{} {deviation}", set.name);
    }
}

#[derive(Deserialize)]
struct GroupSets {
    set: Vec<GroupSet>,
}

#[derive(Deserialize)]
struct GroupSet {
    name: String,
    between: String,
    within: String,
    ratio: String,
    r_squared: String,
    scatter: String,
    groups: Vec<Vec<String>>,
}

#[test]
fn groups_of_nist() {
    let sets: GroupSets = read("published/nist_groups.toml");
    assert_eq!(sets.set.len(), 5);
    for set in &sets.set {
        let typed: Vec<Decimal> = set.groups.iter().flatten().map(|text| text.parse().unwrap()).collect();
        let (_, values) = about_first(&typed);
        let mut left = values.as_slice();
        let groups: Vec<&[f64]> = set
            .groups
            .iter()
            .map(|group| {
                let (these, rest) = left.split_at(group.len());
                left = rest;
                these
            })
            .collect();
        let found = Groups::of(&groups).unwrap();
        for (what, value, certified) in [
            ("between", found.between, &set.between),
            ("within", found.within, &set.within),
            ("ratio", found.ratio(), &set.ratio),
            ("explained", found.explained(), &set.r_squared),
            ("scatter", found.scatter(), &set.scatter),
        ] {
            assert!(digits(value, certified, 0.0) >= 13.0, "{} {what} {value} {certified}", set.name);
        }
        // Read as binary first, the set with thirteen digits in common keeps only what its numbers still hold.
        let binary: Vec<Vec<f64>> =
            set.groups.iter().map(|group| group.iter().map(|text| text.parse().unwrap()).collect()).collect();
        let floor = if set.name == "SmLs07" { 2.0 } else { 9.0 };
        assert!(digits(Groups::of(&binary).unwrap().ratio(), &set.ratio, 0.0) >= floor, "{}", set.name);
    }
}

#[derive(Deserialize)]
struct Distributions {
    fisher: Vec<[f64; 4]>,
    fisher_quantile: Vec<[f64; 4]>,
    student: Vec<[f64; 3]>,
    student_quantile: Vec<[f64; 3]>,
}

#[test]
fn distributions_of_another_program() {
    let cases: Distributions = read("cross/distributions.toml");
    let near = |ours: f64, theirs: f64, least: f64, what: &[f64]| {
        assert!((ours / theirs - 1.0).abs() < least, "{what:?}: {ours} {theirs}");
    };
    for case in &cases.fisher {
        near(fisher_beyond(case[0], case[1], case[2]), case[3], 1e-11, case);
    }
    for case in &cases.fisher_quantile {
        near(fisher_quantile(case[0], case[1], case[2]), case[3], 1e-10, case);
    }
    for case in &cases.student {
        near(student_beyond(case[0], case[1]), case[2], 1e-11, case);
    }
    for case in &cases.student_quantile {
        let one = Confidence::new(case[0], Sides::One).unwrap();
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "whole and small")]
        near(one.factor(case[1] as usize), case[2], 1e-11, case);
    }
}

#[test]
fn what_cannot_be_fitted_is_refused_by_its_place() {
    let rows = [[1.0, 2.0, 3.0], [1.0, 4.0, 5.0], [1.0, 6.0, 7.0], [1.0, 9.0, 10.0]];
    assert_eq!(Regression::fit(&rows, &[1.0, 2.0, 3.0, 4.0]), Err(RegressionError::Dependent { term: 3 }));
    assert_eq!(
        Regression::fit(&rows[..2], &[1.0, 2.0]),
        Err(RegressionError::TooFew { observations: 2, terms: 3 })
    );
    assert_eq!(
        Regression::fit(&[[1.0], [f64::NAN]], &[1.0, 2.0]),
        Err(RegressionError::NotANumber { row: 2 })
    );
    let exact = Regression::fit(&[[1.0, 0.0], [1.0, 1.0]], &[3.0, 5.0]).unwrap();
    assert_eq!((exact.degrees, exact.variance(), exact.standard_error(0)), (0, None, None));
}
