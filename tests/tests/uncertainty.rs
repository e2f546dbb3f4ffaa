//! The law of propagation, Monte Carlo and the straight line against what guides print and other programs compute.

use levigate_measure::uncertainty::coverage::{Coverage, Validation};
use levigate_measure::uncertainty::line::Line;
use levigate_measure::uncertainty::monte_carlo::{Steady, draw, draw_until_steady};
use levigate_measure::uncertainty::propagation::{propagate, propagate_together};
use levigate_measure::uncertainty::shares::{Part, shares};
use levigate_measure::uncertainty::student::factor;
use levigate_measure::uncertainty::{
    Correlation, Distribution, Draws, Estimate, Inputs, Order, Propagation, Scatter,
};
use serde::Deserialize;

const DRAWS: usize = 1_000_000;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Published {
    case: Vec<Case>,
    line: Vec<LineCase>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Case {
    id: String,
    source: String,
    input: Vec<Input>,
    expect: Vec<Expected>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Input {
    name: String,
    is: Distribution,
    degrees: Option<f64>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Expected {
    what: String,
    value: f64,
    within: f64,
    from: String,
}

fn published() -> Published {
    toml::from_str(include_str!("../published/uncertainty.toml")).expect("the cases can be read")
}

/// Molar mass of potassium hydrogen phthalate from those of C, H, O and K.
fn phthalate(x: &[f64]) -> f64 {
    8.0 * x[0] + 5.0 * x[1] + 4.0 * x[2] + x[3]
}

fn model(id: &str) -> fn(&[f64]) -> f64 {
    match id {
        "quam-a1" => |x| 1000.0 * x[0] * x[1] / (100.0 + x[2] + x[3] + x[4]),
        "quam-a2" => {
            |x| x[9] * 1000.0 * (0.3888 + x[0] + x[1]) * x[2] / (phthalate(&x[3..7]) * (x[7] + x[8]))
        }
        "quam-a3" => |x| {
            let mass = 0.3888 + x[0] + x[1];
            x[13] * 1000.0 * mass * x[2] * (x[7] + x[8])
                / ((x[9] + x[10]) * phthalate(&x[3..7]) * (x[11] + x[12]))
        },
        "gum-h1" => |x| x[0] + x[1] + x[2] + x[3] - x[0] * (x[4] * (x[5] + x[6]) + x[7] * x[8]),
        "jcgm-101-9.2.2" | "jcgm-101-9.2.3" | "jcgm-101-9.2.4" => |x| x.iter().sum(),
        "jcgm-101-9.3" => |x| (x[0] + x[1]) * (1.0 + (x[2] - 1.2) * (1.0 / x[3] - 1.0 / x[4])) - 100_000.0,
        "jcgm-101-9.4 at 0" | "jcgm-101-9.4 at 0.010" | "jcgm-101-9.4 at 0.050" => {
            |x| x[0] * x[0] + x[1] * x[1]
        }
        "jcgm-101-9.5" => {
            |x| x[0] + x[1] + x[2] + x[3] - x[0] * (x[7] * (x[5] + x[6]) + x[4] * x[8]) - 50_000_000.0
        }
        other => panic!("no model is called {other}"),
    }
}

/// Everything that is asked of a case.
struct Worked {
    inputs: Inputs,
    first: Propagation,
    second: Propagation,
    drawn: Draws,
}

impl Worked {
    fn of(case: &Case) -> Self {
        let named = case.input.iter().map(|input| (input.name.clone(), input.is));
        let inputs = Inputs::new(named, Correlation::none()).expect("inputs");
        let estimates: Vec<Estimate> = inputs
            .estimates()
            .into_iter()
            .zip(&case.input)
            .map(|(estimate, input)| estimate.degrees(input.degrees.unwrap_or(estimate.degrees)))
            .collect();
        let model = model(&case.id);
        let follow = |order| {
            propagate(inputs.names(), &estimates, &Correlation::none(), order, model).expect("a propagation")
        };
        let (first, second) = (follow(Order::First), follow(Order::Second));
        let drawn = draw(&inputs, 1, DRAWS, 20_261_127, |x, y| y[0] = model(x)).expect("draws");
        Self { inputs, first, second, drawn }
    }

    fn propagated(&self, coverage: f64) -> Coverage {
        let half = self.first.expanded(coverage);
        Coverage { low: self.first.value - half, high: self.first.value + half }
    }

    fn figure(&self, what: &str) -> f64 {
        let words: Vec<&str> = what.split(' ').collect();
        let coverage = || words.last().expect("a word").parse().expect("a coverage");
        match words[..] {
            ["value"] => self.first.value,
            ["u"] => self.first.standard_uncertainty,
            ["u", "second", "order"] => self.second.standard_uncertainty,
            ["degrees"] => self.first.effective_degrees,
            ["k", _] => self.first.coverage_factor(coverage()),
            ["U", _] => self.first.expanded(coverage()),
            ["low", _] => self.propagated(coverage()).low,
            ["high", _] => self.propagated(coverage()).high,
            ["contribution", ..] => {
                let name = &what["contribution ".len()..];
                let place = self.inputs.names().iter().position(|one| one == name).expect("an input");
                self.first.contributions[place].abs()
            }
            ["drawn", "mean"] => self.drawn.mean(0),
            ["drawn", "sd"] => self.drawn.standard_deviation(0),
            ["drawn", "low", _] => self.drawn.equal_tails(0, coverage()).low,
            ["drawn", "high", _] => self.drawn.equal_tails(0, coverage()).high,
            ["shortest", "low", _] => self.drawn.shortest(0, coverage()).low,
            ["shortest", "high", _] => self.drawn.shortest(0, coverage()).high,
            ["confirmed", coverage, digits] => {
                let (coverage, digits) =
                    (coverage.parse().expect("a coverage"), digits.parse().expect("digits"));
                let drawn = self.drawn.shortest(0, coverage);
                let u = self.first.standard_uncertainty;
                f64::from(u8::from(Validation::of(self.propagated(coverage), drawn, u, digits).confirmed()))
            }
            _ => panic!("nothing is called {what}"),
        }
    }
}

#[test]
fn the_guides_examples() {
    for case in published().case {
        assert!(!case.source.is_empty());
        let worked = Worked::of(&case);
        for expected in &case.expect {
            let got = worked.figure(&expected.what);
            assert!(
                (got - expected.value).abs() <= expected.within,
                "{} ({}): {} is {got}, {} has {} within {}",
                case.id,
                case.source,
                expected.what,
                expected.from,
                expected.value,
                expected.within
            );
        }
    }
}

/// JCGM 100, H.2: two voltages and a phase read together; the figures in the guide, and unrounded by another program.
#[test]
fn correlated_inputs_and_several_outputs() {
    let readings = [
        [5.007, 4.994, 5.005, 4.990, 4.999],
        [0.019_663, 0.019_639, 0.019_640, 0.019_685, 0.019_678],
        [1.0456, 1.0438, 1.0468, 1.0428, 1.0433],
    ];
    let mean = |row: &[f64; 5]| row.iter().sum::<f64>() / 5.0;
    let covariance = |one: &[f64; 5], other: &[f64; 5]| {
        let (a, b) = (mean(one), mean(other));
        one.iter().zip(other).map(|(x, y)| (x - a) * (y - b)).sum::<f64>() / 20.0
    };
    let u = readings.map(|row| covariance(&row, &row).sqrt());
    let names = ["V", "I", "phi"].map(str::to_owned);
    let estimates: Vec<Estimate> =
        readings.iter().zip(u).map(|(row, u)| Estimate::new(mean(row), u)).collect();
    let mut correlation = Correlation::none();
    for (one, other) in [(0, 1), (0, 2), (1, 2)] {
        let r = covariance(&readings[one], &readings[other]) / (u[one] * u[other]);
        correlation = correlation.between(one, other, r);
    }
    for ((_, _, r), expected) in correlation.pairs().iter().zip([-0.3553, 0.8576, -0.6451]) {
        assert!((r - expected).abs() < 5e-4);
    }
    let model = |x: &[f64], y: &mut [f64]| {
        let impedance = x[0] / x[1];
        (y[0], y[1], y[2]) = (impedance * x[2].cos(), impedance * x[2].sin(), impedance);
    };
    let together =
        propagate_together(&names, &estimates, &correlation, Order::First, 3, model).expect("outputs");
    for (output, (value, u, within)) in together.outputs.iter().zip([
        (127.732, 0.0711, 5e-5),
        (219.847, 0.2956, 1e-4),
        (254.260, 0.2363, 5e-5),
    ]) {
        assert!((output.value - value).abs() < 5e-4, "{}", output.value);
        assert!((output.standard_uncertainty - u).abs() < within, "{}", output.standard_uncertainty);
    }
    for (place, expected) in [(1, -0.588), (2, -0.485), (5, 0.9925)] {
        assert!((together.correlation[place] - expected).abs() < 5e-4, "{}", together.correlation[place]);
    }
    // The same by drawing from the joint normal distribution.
    let normal = |estimate: &Estimate| Distribution::Normal {
        mean: estimate.value,
        sd: estimate.standard_uncertainty,
    };
    let inputs =
        Inputs::new(names.into_iter().zip(estimates.iter().map(normal)), correlation).expect("inputs");
    let drawn = draw(&inputs, 3, DRAWS, 1, model).expect("draws");
    for (output, u) in [0.0711, 0.2956, 0.2363].into_iter().enumerate() {
        assert!((drawn.standard_deviation(output) / u - 1.0).abs() < 0.005);
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct LineCase {
    name: String,
    source: String,
    x: Vec<f64>,
    y: Vec<f64>,
    u: Option<f64>,
    intercept: [f64; 2],
    slope: [f64; 2],
    covariance: Option<f64>,
    chi_square: Option<f64>,
    correlation: Option<f64>,
    within: f64,
    back: Option<Back>,
    ahead: Option<Ahead>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Back {
    y: f64,
    u: OfReading,
    x: f64,
    u_x: f64,
    within: f64,
}

#[derive(Deserialize)]
#[serde(untagged)]
enum OfReading {
    Known(f64),
    AsTheOthers(String),
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Ahead {
    x: f64,
    u: f64,
    y: f64,
    u_y: f64,
    within: f64,
}

#[test]
fn the_guides_lines() {
    for case in published().line {
        let points: Vec<(f64, f64)> = case.x.iter().copied().zip(case.y.iter().copied()).collect();
        let uncertainties = case.u.map(|u| vec![u; points.len()]);
        let line = Line::through(&points, uncertainties.as_deref()).expect("a line");
        let near = |got: f64, expected: f64, within: f64| {
            assert!((got - expected).abs() <= within, "{} ({}): {got}, {expected}", case.name, case.source);
        };
        near(line.intercept, case.intercept[0], case.within);
        near(line.u_intercept, case.intercept[1], case.within);
        near(line.slope, case.slope[0], case.within);
        near(line.u_slope, case.slope[1], case.within);
        if let Some(expected) = case.covariance {
            near(line.covariance, expected, case.within);
        }
        if let Some(expected) = case.chi_square {
            near(line.chi_square, expected, case.within);
        }
        if let Some(expected) = case.correlation {
            near(line.correlation(), expected, 5e-4);
        }
        if let Some(back) = &case.back {
            let u = match &back.u {
                OfReading::Known(u) => *u,
                OfReading::AsTheOthers(word) => {
                    assert_eq!(word, "scatter");
                    line.scatter
                }
            };
            let read = line.abscissa(Estimate::new(back.y, u));
            near(read.value, back.x, back.within);
            near(read.standard_uncertainty, back.u_x, back.within);
        }
        if let Some(ahead) = &case.ahead {
            let read = line.ordinate(Estimate::new(ahead.x, ahead.u));
            near(read.value, ahead.y, ahead.within);
            near(read.standard_uncertainty, ahead.u_y, ahead.within);
        }
    }
}

/// QUAM A5: cadmium leached from a dish, the concentration read back from the line. The table of another program has 0.0150(14) mg/dm2,
/// and 0.260(18) mg/L for the concentration read back from two absorbances.
#[test]
fn cadmium_from_a_dish() {
    let case = published().line.into_iter().find(|case| case.source == "quam-a5").expect("the line");
    let points: Vec<(f64, f64)> = case.x.iter().copied().zip(case.y.iter().copied()).collect();
    let line = Line::through(&points, None).expect("a line");
    let absorbance = Estimate::new(0.5 * (0.0712 + 0.0716), line.scatter / 2f64.sqrt());
    let concentration = line.abscissa(absorbance);
    assert!((concentration.value - 0.260).abs() < 5e-4, "{concentration:?}");
    assert!((concentration.standard_uncertainty - 0.018).abs() < 5e-4, "{concentration:?}");
    let triangular =
        |value: f64, half: f64| Distribution::Triangular { low: value - half, high: value + half };
    let inputs = Inputs::new(
        [
            (
                "c0",
                Distribution::Normal { mean: concentration.value, sd: concentration.standard_uncertainty },
            ),
            ("filling", triangular(0.995, 0.005)),
            ("reading", triangular(1.0, 0.01)),
            ("temperature", Distribution::within(0.0, 332.0 * 2.1e-4 * 2.0)),
            ("calibration", triangular(0.0, 2.5)),
            ("diameter", Distribution::Normal { mean: 2.70, sd: 0.01 }),
            ("shape", Distribution::Normal { mean: 1.0, sd: 0.05 / 1.96 }),
            ("acid", Distribution::Normal { mean: 1.0, sd: 0.0008 }),
            ("time", Distribution::within(1.0, 0.0015)),
            ("f temperature", Distribution::within(1.0, 0.1)),
        ],
        Correlation::none(),
    )
    .expect("inputs");
    let model = |x: &[f64]| {
        let volume = (332.0 * x[1] * x[2] + x[3] + x[4]) / 1000.0;
        let area = std::f64::consts::PI * (x[5] / 2.0).powi(2) * x[6];
        x[0] * volume / area * x[7] * x[8] * x[9]
    };
    let estimates = inputs.estimates();
    let found = propagate(inputs.names(), &estimates, &Correlation::none(), Order::First, model)
        .expect("a propagation");
    assert!((found.value - 0.0150).abs() < 5e-5, "{}", found.value);
    assert!((found.standard_uncertainty - 0.0014).abs() < 5e-5, "{}", found.standard_uncertainty);
}

#[test]
fn draws_go_on_until_the_answer_is_steady() {
    let case = published().case.into_iter().find(|case| case.id == "jcgm-101-9.3").expect("the mass");
    let named = case.input.iter().map(|input| (input.name.clone(), input.is));
    let inputs = Inputs::new(named, Correlation::none()).expect("inputs");
    let model = model(&case.id);
    let ask = Steady { coverage: 0.95, digits: 1, most: 3_000_000, seed: 5 };
    let done = draw_until_steady(&inputs, 1, &ask, |x, y| y[0] = model(x)).expect("draws");
    assert!(done.steady);
    assert_eq!(done.tolerances, [0.005]);
    assert!((done.draws.standard_deviation(0) - 0.0754).abs() < 0.005);
    // A second digit takes more draws; a third more than there are.
    let two =
        draw_until_steady(&inputs, 1, &Steady { digits: 2, ..ask }, |x, y| y[0] = model(x)).expect("draws");
    assert!(two.steady && two.draws.outputs[0].len() > done.draws.outputs[0].len());
    let few = Steady { digits: 3, most: 100_000, ..ask };
    assert!(!draw_until_steady(&inputs, 1, &few, |x, y| y[0] = model(x)).expect("draws").steady);
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Crossed {
    factor: Vec<FactorCase>,
    batch: BatchCase,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct FactorCase {
    coverage: f64,
    degrees: f64,
    k: f64,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct BatchCase {
    percent: Vec<f64>,
    batch_g: f64,
    division_g: f64,
    repeatability_g: f64,
    draws: u32,
    mean: Vec<f64>,
    standard_deviation: Vec<f64>,
    low: Vec<f64>,
    high: Vec<f64>,
}

fn crossed() -> Crossed {
    toml::from_str(include_str!("../cross/uncertainty.toml")).expect("the cases can be read")
}

#[test]
fn coverage_factors_are_those_of_another_program() {
    let cases = crossed().factor;
    assert!(cases.len() > 100);
    for FactorCase { coverage, degrees, k } in cases {
        let got = factor(coverage, degrees);
        assert!((got / k - 1.0).abs() < 1e-9, "{coverage} {degrees}: {got}, {k}");
    }
}

fn parts(case: &BatchCase) -> Vec<Part> {
    let part = |(place, percent): (usize, &f64)| Part {
        name: format!("line {place}"),
        value: percent / 100.0 * case.batch_g,
        scatter: Scatter { normal: case.repeatability_g, triangular: case.division_g, rectangular: 0.0 },
        aim: None,
    };
    case.percent.iter().enumerate().map(part).collect()
}

#[test]
fn shares_of_a_batch_are_those_another_program_draws() {
    let case = crossed().batch;
    let spreads = shares(&parts(&case), DRAWS, 0.95, 3).expect("shares");
    let (ours, theirs) = (1.0 / 1e6, 1.0 / f64::from(case.draws));
    for (line, spread) in spreads.iter().enumerate() {
        let sd = case.standard_deviation[line];
        let miss = |got: f64, expected: f64, error: f64| {
            let allowed = 4.5 * error * sd * (ours + theirs).sqrt();
            assert!((got - expected).abs() < allowed, "line {line}: {got}, {expected} within {allowed}");
        };
        miss(spread.mean, case.mean[line], 1.0);
        miss(spread.standard_deviation, sd, 0.71);
        // sqrt(p (1 - p)) over the density of the normal distribution at its 2.5 % point.
        miss(spread.interval.low, case.low[line], 0.156 / 0.0584);
        miss(spread.interval.high, case.high[line], 0.156 / 0.0584);
    }
}

/// What is held of the tails gives the same ends as keeping and sorting every draw.
#[test]
fn shares_are_those_of_draws_that_are_all_kept() {
    let mut all = parts(&crossed().batch);
    all.truncate(6);
    for part in &mut all {
        part.scatter.triangular = 0.0;
    }
    let named = all
        .iter()
        .map(|part| (part.name.clone(), Distribution::Normal { mean: part.value, sd: part.scatter.normal }));
    let inputs = Inputs::new(named, Correlation::none()).expect("inputs");
    for (draws, coverage) in [(50, 0.95), (3_000, 0.5), (10_000, 0.95), (100_001, 0.99)] {
        let spreads = shares(&all, draws, coverage, 11).expect("shares");
        let kept = draw(&inputs, 6, draws, 11, |x, y| {
            // The same order of operations, so the same bits.
            let inverse = 1.0 / x.iter().sum::<f64>();
            y.iter_mut().zip(x).for_each(|(y, x)| *y = x * inverse);
        })
        .expect("draws");
        for (line, spread) in spreads.iter().enumerate() {
            assert_eq!(spread.interval, kept.equal_tails(line, coverage), "{draws} {coverage} {line}");
            assert!((spread.mean / kept.mean(line) - 1.0).abs() < 1e-14);
            assert!((spread.standard_deviation / kept.standard_deviation(line) - 1.0).abs() < 1e-10);
        }
    }
}
