//! Typed equations: the reference sets of NIST through the words of their models, grammar, derivatives, refusals.

#![expect(clippy::unwrap_used, reason = "tests stop at the first surprise")]

use levigate_measure::distribution::{Confidence, Sides};
use levigate_measure::equation::{Equation, Refused, What, Worked, fit, profile, unknown_names};
use levigate_measure::least_squares::FitError;
use proptest::prelude::*;
use serde::Deserialize;
use std::path::Path;

#[derive(Deserialize)]
struct Nonlinear {
    set: Vec<NonlinearSet>,
}

#[derive(Deserialize)]
struct NonlinearSet {
    name: String,
    model: String,
    start: [Vec<f64>; 2],
    certified: Vec<f64>,
    certified_deviation: Vec<f64>,
    sum_of_squares: f64,
    data: Vec<Vec<f64>>,
}

#[derive(Deserialize)]
struct Linear {
    set: Vec<LinearSet>,
}

#[derive(Deserialize)]
struct LinearSet {
    name: String,
    model: String,
    certified: Vec<String>,
    certified_deviation: Vec<String>,
    residual_sum: String,
    data: Vec<Vec<f64>>,
}

#[derive(Deserialize)]
struct Floors {
    floor: Vec<Floor>,
}

/// Digits that must agree, from the worse of both starts.
#[derive(Deserialize)]
struct Floor {
    name: String,
    parameters: f64,
    deviations: f64,
    sum: f64,
}

fn read<T: serde::de::DeserializeOwned>(file: &str) -> T {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(file);
    toml::from_str(&std::fs::read_to_string(path).unwrap()).unwrap()
}

/// Digits that two numbers share, at most 11 as NIST prints for these sets.
fn digits(found: f64, certified: f64, nothing: f64) -> f64 {
    if (found - certified).abs() <= nothing || found == certified {
        return 11.0;
    }
    (-((found - certified) / certified).abs().log10()).clamp(0.0, 11.0)
}

fn names(stem: &str, count: usize) -> Vec<String> {
    (1..=count).map(|at| if count == 1 { stem.to_owned() } else { format!("{stem}{at}") }).collect()
}

fn columns(width: usize) -> Vec<String> {
    std::iter::once("y".to_owned()).chain(names("x", width - 1)).collect()
}

#[test]
fn the_reference_sets_come_out_of_the_words_of_their_models() {
    let floors: Floors = read("published/nist_floors.toml");
    let (nonlinear, linear): (Nonlinear, Linear) =
        (read("published/nist_strd.toml"), read("published/nist_linear.toml"));
    assert_eq!((nonlinear.set.len(), linear.set.len(), floors.floor.len()), (23, 9, 32));
    let mut misses = Vec::new();
    let mut hold = |name: &str, start: usize, reached: [f64; 3]| {
        let floor = floors.floor.iter().find(|floor| floor.name == name).unwrap();
        println!("{name:9} {start} {:5.1} {:5.1} {:5.1}", reached[0], reached[1], reached[2]);
        if reached[0] < floor.parameters || reached[1] < floor.deviations || reached[2] < floor.sum {
            misses.push(format!("{name} from start {start}: {reached:.1?}"));
        }
    };
    let least = |digits: &mut dyn Iterator<Item = f64>| digits.fold(f64::INFINITY, f64::min);
    for set in &nonlinear.set {
        let columns = columns(set.data[0].len());
        let mut parameters = unknown_names(&set.model, &columns).unwrap();
        parameters.sort();
        let equation = Equation::read(&set.model, &columns, &parameters).unwrap();
        for (number, start) in set.start.iter().enumerate() {
            let found =
                fit(&equation, &set.data, start).unwrap_or_else(|error| panic!("{}: {error}", set.name));
            let of = found.parameters.iter().zip(&set.certified);
            let errors = (0..parameters.len()).map(|at| found.error(at).unwrap_or(f64::NAN));
            let errors = errors.zip(&set.certified_deviation);
            hold(
                &set.name,
                number + 1,
                [
                    least(&mut of.map(|(ours, theirs)| digits(*ours, *theirs, 0.0))),
                    least(&mut errors.map(|(ours, theirs)| digits(ours, *theirs, 0.0))),
                    digits(found.residual_sum, set.sum_of_squares, 0.0),
                ],
            );
        }
    }
    for set in &linear.set {
        let columns = columns(set.data[0].len());
        let parameters = unknown_names(&set.model, &columns).unwrap();
        let equation = Equation::read(&set.model, &columns, &parameters).unwrap();
        assert!(equation.model.is_linear(), "{}", set.name);
        let found = fit(&equation, &set.data, &vec![0.0; parameters.len()]).unwrap();
        assert_eq!(found.evaluations, None);
        let number = |text: &String| text.parse::<f64>().unwrap();
        // Where nothing is left, what is found must be rounding of the largest observation.
        let nothing = 1e-12 * set.data.iter().map(|row| row[0].abs()).fold(0.0, f64::max);
        let of = found.parameters.iter().zip(&set.certified);
        let errors = (0..parameters.len()).map(|at| found.error(at).unwrap()).zip(&set.certified_deviation);
        hold(
            &set.name,
            0,
            [
                least(&mut of.map(|(ours, theirs)| digits(*ours, number(theirs), 0.0))),
                least(&mut errors.map(|(ours, theirs)| digits(ours, number(theirs), nothing))),
                digits(found.residual_sum, number(&set.residual_sum), nothing * nothing),
            ],
        );
    }
    assert!(misses.is_empty(), "{}", misses.join("\n"));
}

/// An equation over y, x and z with parameters a, b and c.
fn equation(text: &str) -> Equation {
    let columns = ["y", "x", "z"].map(str::to_owned);
    let mut parameters = unknown_names(text, &columns).unwrap();
    parameters.sort();
    Equation::read(text, &columns, &parameters).unwrap()
}

fn value(text: &str, parameters: &[f64]) -> f64 {
    equation(text).model.value(&[0.0, 2.0, 3.0], parameters, &mut Worked::default())
}

#[test]
fn signs_bind_as_on_paper() {
    for (text, wanted) in [
        ("y = a - 2 - 3", 5.0),
        ("y = a/2/5", 1.0),
        ("y = a - x^2", 6.0),
        ("y = a - -x^2", 14.0),
        ("y = a*2^3^0", 20.0),
        ("y = a + 2^-1", 10.5),
        ("y = a + (-x)^2", 14.0),
        ("y = a*x**2", 40.0),
        ("y = [a + x]*1.5e1", 180.0),
        ("y = a + 2.5e+0 - .5", 12.0),
        ("y = EXP(0)*a + cos(pi)", 9.0),
        ("y = a \u{d7} x \u{2212} z", 17.0),
        ("y = a + abs(x - z) + sqrt(4) + log10(100) + log(1)", 15.0),
    ] {
        assert!((value(text, &[10.0]) - wanted).abs() < 1e-12, "{text}: {}", value(text, &[10.0]));
    }
    assert!(equation("y = a + b*x + c*exp(z)/2").model.is_linear());
    assert!(!equation("y = a + x^b").model.is_linear() && !equation("y = a*b*x").model.is_linear());
    assert!(
        !equation("y = x/(a + 1)").model.is_linear() && equation("y = (a + b*x)/z - 2").model.is_linear()
    );
}

#[test]
fn derivatives_are_those_of_small_differences() {
    for text in [
        "y = a*exp(-b*x) + c",
        "y = ln(a*x)*log10(b + z)/sqrt(c)",
        "y = sin(a*x) + cos(b*z) - tan(c/10)",
        "y = asin(a/10) + acos(b/10) + atan(c*x)",
        "y = sinh(a) - cosh(b*x) + tanh(c)*z",
        "y = abs(-a*x)^b/(c + x)",
        "y = (a + b)^(c*x/2) - x^c",
        "y = a*b*c*x/(1 + a*x + b*x^2)",
    ] {
        let (equation, mut room) = (equation(text), Worked::default());
        let (row, at) = ([0.0, 2.0, 3.0], [1.3, 0.7, 1.9]);
        let mut slopes = [0.0; 3];
        equation.model.slopes(&row, &at, &mut slopes, &mut room);
        for j in 0..3 {
            let step = 1e-6;
            let mut moved = |by: f64| {
                let mut p = at;
                p[j] += by;
                equation.model.value(&row, &p, &mut room)
            };
            let rough = (moved(step) - moved(-step)) / (2.0 * step);
            assert!(
                (slopes[j] - rough).abs() < 1e-7 * rough.abs().max(1.0),
                "{text} {j}: {} {rough}",
                slopes[j]
            );
        }
    }
}

#[test]
fn what_is_wrong_is_told_with_its_place() {
    let columns = ["y", "x"].map(str::to_owned);
    let own = ["a", "b"].map(str::to_owned);
    for (text, about, what) in [
        ("y = a + 2x*b", "x", What::NoSign("`x`".to_owned())),
        ("y = a + exp x*b", "exp", What::NoArgument("exp".to_owned())),
        ("y = a + b*c", "c", What::Unknown("c".to_owned())),
        ("y = a*foo(x) + b", "foo", What::NoFunction("foo".to_owned())),
        ("y = a + b*(x", "", What::Missing("the end of a bracket")),
        ("y = a + b*x)", ")", What::Missing("the beginning of this bracket")),
        ("y = a + b*", "", What::Missing("a number, a name or a bracket")),
        ("y = a = b", "=", What::SecondEquality),
        ("a + b*x", "", What::Missing("=")),
        ("y = a + b*x; z", ";", What::Character(';')),
        ("y = a + b*1.2.3", "1.2.3", What::Number("1.2.3".to_owned())),
        ("y = a + b*y", "y", What::Observed),
        ("y*x = a + b", "x", What::Observed),
        ("2 = a + b*x", "2 ", What::Observed),
        ("y = a*x", "y = a*x", What::Unused("b".to_owned())),
    ] {
        let error = Equation::read(text, &columns, &own).unwrap_err();
        assert_eq!((error.what.clone(), text.get(error.at.clone())), (what, Some(about)), "{text}");
        assert!(!error.to_string().is_empty() && !error.what.hint().is_empty());
    }
    let deep = format!("y = a + b*{}x{}", "(".repeat(5000), ")".repeat(5000));
    assert_eq!(Equation::read(&deep, &columns, &own).unwrap_err().what, What::TooLong);
    for deep in [
        format!("y = a + b*{}x{}", "(".repeat(1500), ")".repeat(1500)),
        format!("y = a + b*{}x", "-".repeat(3000)),
        format!("y = a + b{}", "^x".repeat(1500)),
    ] {
        assert_eq!(Equation::read(&deep, &columns, &own).unwrap_err().what, What::TooDeep);
    }
}

#[test]
fn what_the_data_do_not_settle_is_said() {
    let columns = ["y", "x"].map(str::to_owned);
    let rows: Vec<Vec<f64>> =
        [1.0, 2.0, 3.0, 4.0, 5.0].map(|x: f64| vec![3.0 * (-0.4 * x).exp() + 0.01 * x, x]).to_vec();
    let read = |text: &str, own: &[&str]| {
        Equation::read(text, &columns, &own.iter().map(|name| (*name).to_owned()).collect::<Vec<_>>())
            .unwrap()
    };
    // a and b only ever stand as a product.
    let product = fit(&read("y = a*b*exp(-c*x)", &["a", "b", "c"]), &rows, &[1.0, 2.0, 0.3]).unwrap();
    assert_eq!((product.error(0), product.condition.is_none_or(|condition| condition > 1e10)), (None, true));
    let refused = fit(&read("y = a + b*x + c*2*x", &["a", "b", "c"]), &rows, &[0.0; 3]);
    assert!(matches!(refused, Err(Refused::Solution(_))), "{refused:?}");
    let refused = fit(&read("y = a*exp(-b*x)", &["a", "b"]), &rows[..1], &[1.0, 1.0]);
    assert_eq!(refused, Err(Refused::Search(FitError::TooFewPoints { points: 1, parameters: 2 })));
    let refused = fit(&read("y = ln(a - x)*b", &["a", "b"]), &rows, &[2.5, 1.0]);
    assert_eq!(refused, Err(Refused::Start { row: 3 }));
    let refused = fit(&read("ln(y - 1) = a + b*x", &["a", "b"]), &rows, &[0.0; 2]);
    assert_eq!(refused, Err(Refused::Observed { row: 3 }));
}

#[test]
fn a_profile_is_the_plain_interval_where_the_equation_is_straight_and_lopsided_where_it_bends() {
    let columns = ["y", "x"].map(str::to_owned);
    let rows: Vec<Vec<f64>> = [(0.5, 1.9), (1.0, 3.3), (2.0, 5.6), (4.0, 7.8), (8.0, 9.6), (16.0, 9.9)]
        .map(|(x, y)| vec![y, x])
        .to_vec();
    let own = ["a", "b"].map(str::to_owned);
    let factor = Confidence::new(0.95, Sides::Two).unwrap().factor(4);
    let straight = Equation::read("y = a + b*ln(x)", &columns, &own).unwrap();
    let found = fit(&straight, &rows, &[0.0; 2]).unwrap();
    let half = factor * found.error(1).unwrap();
    let [low, high] = profile(&straight, &rows, &found, 1, factor).map(Option::unwrap);
    assert!((low - (found.parameters[1] - half)).abs() < 1e-7 * half, "{low}");
    assert!((high - (found.parameters[1] + half)).abs() < 1e-7 * half, "{high}");
    // scipy 1.17.1 (tests/cross/profile.py): least squares with b held, and the roots of the rise of the sum.
    let bent = Equation::read("y = a*x/(b + x)", &columns, &own).unwrap();
    let found = fit(&bent, &rows, &[10.0, 1.0]).unwrap();
    let cross: Profile = read("cross/profile.toml");
    for at in 0..2 {
        let [low, high] = profile(&bent, &rows, &found, at, factor).map(Option::unwrap);
        assert!((found.parameters[at] / cross.parameters[at] - 1.0).abs() < 1e-8);
        assert!(
            (low / cross.low[at] - 1.0).abs() < 1e-6 && (high / cross.high[at] - 1.0).abs() < 1e-6,
            "{low} {high}"
        );
    }
}

#[derive(Deserialize)]
struct Profile {
    parameters: Vec<f64>,
    low: Vec<f64>,
    high: Vec<f64>,
}

proptest! {
    #[test]
    fn no_text_breaks_the_reading(text in "[-+*/^()=. 0-9a-z]{0,60}|\\PC{0,40}") {
        let columns = ["y", "x"].map(str::to_owned);
        let parameters = ["a", "b"].map(str::to_owned);
        for text in [text.clone(), format!("y = {text}")] {
            match Equation::read(&text, &columns, &parameters) {
                Ok(equation) => {
                    let mut slopes = [0.0; 2];
                    equation.model.slopes(&[1.0, 2.0], &[0.5, 3.0], &mut slopes, &mut Worked::default());
                }
                Err(error) => {
                    prop_assert!(text.get(error.at.clone()).is_some(), "{text}: {error:?}");
                    prop_assert!(!error.what.hint().is_empty());
                }
            }
        }
    }
}
