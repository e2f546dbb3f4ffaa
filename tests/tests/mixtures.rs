//! Mixture experiments and wishes against published sets and another program.

#![expect(clippy::unwrap_used, reason = "tests stop at the first surprise")]

use levigate_measure::desirability::{Wish, climbing, together};
use levigate_measure::distribution::{Confidence, Sides};
use levigate_measure::experiment::analysis::made_of;
use levigate_measure::experiment::mixture::whole;
use levigate_measure::experiment::{
    Analysis, Bounds, Joined, MixtureError, Model, Process, Region, Terms, within,
};
use levigate_measure::regression::RegressionError;
use serde::Deserialize;
use std::path::Path;

#[derive(Deserialize)]
struct Published {
    yarn: Yarn,
    etch: Etch,
    screening: Screening,
    propellant: Propellant,
    tyre: Tyre,
    conversion: Conversion,
}

#[derive(Deserialize)]
struct Yarn {
    runs: Vec<Vec<f64>>,
    coefficients: Vec<f64>,
    errors: Vec<f64>,
    residual_sum: f64,
    degrees: usize,
    scatter: f64,
    explained: f64,
    adjusted: f64,
    ratio: f64,
}

#[derive(Deserialize)]
struct Etch {
    runs: Vec<Vec<f64>>,
    printed: Vec<f64>,
    coefficients: Vec<f64>,
    residual_sum: f64,
    degrees: usize,
    scatter: f64,
    explained: f64,
    adjusted: f64,
    quadratic_explained: f64,
    quadratic_scatter: f64,
}

#[derive(Deserialize)]
struct Screening {
    runs: Vec<Vec<f64>>,
    coefficients: Vec<f64>,
    scatter: f64,
    degrees: usize,
    explained: f64,
    first_sixteen: Vec<f64>,
    first_sixteen_scatter: f64,
}

#[derive(Deserialize)]
struct Propellant {
    row: Vec<f64>,
    sum: f64,
}

#[derive(Deserialize)]
struct Tyre {
    models: Vec<Vec<f64>>,
    at: Vec<f64>,
    printed_values: Vec<f64>,
    printed_worths: Vec<f64>,
    printed_worth: f64,
    values: Vec<f64>,
    worths: Vec<f64>,
    worth: f64,
    best: f64,
}

#[derive(Deserialize)]
struct Conversion {
    models: Vec<Vec<f64>>,
    middle_worths: Vec<f64>,
    middle_worth: f64,
    cube: f64,
    best: f64,
}

#[derive(Deserialize)]
struct Cross {
    case: Vec<Case>,
}

#[derive(Deserialize)]
struct Case {
    name: String,
    order: Option<u8>,
    runs: Vec<Vec<f64>>,
    coefficients: Vec<f64>,
    errors: Vec<f64>,
    low: Vec<f64>,
    high: Vec<f64>,
    leverages: Vec<f64>,
    apart: Vec<f64>,
    residual_sum: f64,
    total: f64,
    press: f64,
    aicc: f64,
    lack_ratio: Option<f64>,
    lack_beyond: Option<f64>,
    #[serde(default)]
    asked: Vec<Vec<f64>>,
    #[serde(default)]
    asked_mean: Vec<f64>,
    #[serde(default)]
    asked_high: Vec<f64>,
    #[serde(default)]
    asked_next_high: Vec<f64>,
}

fn read<T: serde::de::DeserializeOwned>(file: &str) -> T {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(file);
    toml::from_str(&std::fs::read_to_string(path).unwrap()).unwrap()
}

fn published() -> Published {
    read("published/mixtures.toml")
}

/// Terms of a blend alone.
fn blend(model: Model, parts: usize) -> Terms {
    Terms { parts, settings: 0, blend: model, process: Process::Linear, joined: Joined::Added }
}

/// Terms of a response surface of settings alone.
fn surface(settings: usize) -> Terms {
    let (blend, process, joined) = (Model::Linear, Process::Quadratic, Joined::Added);
    Terms { parts: 0, settings, blend, process, joined }
}

fn analysed(terms: Terms, runs: &[Vec<f64>]) -> Result<Analysis, RegressionError> {
    let settings: Vec<Vec<f64>> = runs
        .iter()
        .map(|run| {
            let own = &run[..run.len() - 1];
            let all: f64 = own[..terms.parts].iter().sum();
            own.iter().enumerate().map(|(at, x)| if at < terms.parts { x / all } else { *x }).collect()
        })
        .collect();
    let rows: Vec<Vec<f64>> = settings.iter().map(|setting| terms.of(setting)).collect();
    let observed: Vec<f64> = runs.iter().map(|run| run[run.len() - 1]).collect();
    Analysis::of(&settings, &rows, &observed)
}

fn near(what: &str, ours: &[f64], theirs: &[f64], within: f64) {
    assert_eq!(ours.len(), theirs.len(), "{what}");
    for (one, other) in ours.iter().zip(theirs) {
        assert!((one - other).abs() <= within * other.abs().max(1.0), "{what}: {one} {other}");
    }
}

#[test]
fn a_published_lattice_gives_its_coefficients_errors_and_analysis() {
    let set = published().yarn;
    let found = analysed(blend(Model::Quadratic, 3), &set.runs).unwrap();
    near("coefficients", &found.fit.coefficients, &set.coefficients, 1e-12);
    let errors: Vec<f64> = (0..6).map(|term| found.fit.standard_error(term).unwrap()).collect();
    near("errors", &errors, &set.errors, 5e-7);
    near("sum", &[found.fit.residual_sum], &[set.residual_sum], 1e-12);
    assert_eq!(found.fit.degrees, set.degrees);
    let told = [found.fit.scatter().unwrap(), found.explained(), found.adjusted().unwrap()];
    near("fit", &told, &[set.scatter, set.explained, set.adjusted], 6e-6);
    let ratio = (found.fit.total_sum - found.fit.residual_sum) / 5.0 / found.fit.variance().unwrap();
    near("F", &[ratio], &[set.ratio], 1e-5);
    // A lattice with its own model leaves nothing to see a misfit by: all that is left is pure error.
    let repeats = found.repeats.unwrap();
    assert_eq!((repeats.pure_degrees, repeats.lack_degrees, repeats.ratio()), (9, 0, None));
    near("pure", &[repeats.pure], &[set.residual_sum], 1e-12);
}

#[test]
fn a_special_cubic_is_found_and_the_misfit_of_the_quadratic_is_flagged() {
    let set = published().etch;
    let cubic = analysed(blend(Model::SpecialCubic, 3), &set.runs).unwrap();
    near("printed", &cubic.fit.coefficients, &set.printed, 0.05);
    near("coefficients", &cubic.fit.coefficients, &set.coefficients, 1e-6);
    near("sum", &[cubic.fit.residual_sum], &[set.residual_sum], 1e-6);
    assert_eq!(cubic.fit.degrees, set.degrees);
    let told = [cubic.fit.scatter().unwrap(), cubic.explained(), cubic.adjusted().unwrap()];
    near("fit", &told, &[set.scatter, set.explained, set.adjusted], 1e-6);
    let quadratic = analysed(blend(Model::Quadratic, 3), &set.runs).unwrap();
    near(
        "quadratic",
        &[quadratic.explained(), quadratic.fit.scatter().unwrap()],
        &[set.quadratic_explained, set.quadratic_scatter],
        1e-4,
    );
    assert!(quadratic.repeats.unwrap().beyond().unwrap() < 0.01);
    assert!(cubic.repeats.unwrap().beyond().unwrap() > 0.05);
    assert!(cubic.aicc().unwrap() < quadratic.aicc().unwrap());
}

#[test]
fn a_screening_of_eight_parts_gives_its_coefficients() {
    let set = published().screening;
    let all = analysed(blend(Model::Linear, 8), &set.runs).unwrap();
    near("all", &all.fit.coefficients, &set.coefficients, 5e-7);
    near("fit", &[all.fit.scatter().unwrap(), all.explained()], &[set.scatter, set.explained], 1e-6);
    assert_eq!(all.fit.degrees, set.degrees);
    let sixteen = analysed(blend(Model::Linear, 8), &set.runs[..16]).unwrap();
    near("sixteen", &sixteen.fit.coefficients, &set.first_sixteen, 1e-6);
    near("scatter", &[sixteen.fit.scatter().unwrap()], &[set.first_sixteen_scatter], 1e-6);
    // Twenty runs do not carry the thirty-six terms of a quadratic model.
    assert_eq!(
        analysed(blend(Model::Quadratic, 8), &set.runs),
        Err(RegressionError::TooFew { observations: 20, terms: 36 })
    );
}

#[test]
fn runs_that_do_not_tell_terms_apart_name_those_that_hang_together() {
    // Blends along one line of the simplex, b always half of a: b is a part of a.
    let settings: Vec<Vec<f64>> = [0.1, 0.2, 0.3, 0.4, 0.5].map(|a| vec![a, 0.5 * a, 1.0 - 1.5 * a]).to_vec();
    let terms = blend(Model::Quadratic, 3);
    let rows: Vec<Vec<f64>> = settings.iter().cycle().take(10).map(|setting| terms.of(setting)).collect();
    let settings: Vec<Vec<f64>> = settings.iter().cycle().take(10).cloned().collect();
    let refused = Analysis::of(&settings, &rows, &[1.0; 10]);
    assert_eq!(refused, Err(RegressionError::Dependent { term: 2 }));
    assert_eq!(made_of(&rows, 1), [0]);
}

#[test]
fn rows_of_a_published_set_that_do_not_add_up_are_caught() {
    let set = published().propellant;
    let caught = whole(&[set.row]);
    assert!(matches!(caught, Err(MixtureError::NotWhole { blend: 1, sum }) if (sum - set.sum).abs() < 1e-9));
}

#[test]
fn everything_told_of_runs_is_what_another_program_tells() {
    let cases: Cross = read("cross/analysis.toml");
    assert_eq!(cases.case.len(), 7);
    let confidence = Confidence::new(0.95, Sides::Two).unwrap();
    for case in &cases.case {
        let width = case.runs[0].len() - 1;
        let terms = match (case.name.as_str(), case.order) {
            (_, Some(1)) => blend(Model::Linear, width),
            (_, Some(2)) => blend(Model::Quadratic, width),
            (_, Some(3)) => blend(Model::SpecialCubic, width),
            (name, _) => Terms {
                settings: 1,
                joined: if name == "crossed" { Joined::Crossed } else { Joined::Added },
                ..blend(Model::Quadratic, 3)
            },
        };
        let found = analysed(terms, &case.runs).unwrap();
        let (name, runs) = (&case.name, case.runs.len());
        let of_terms =
            |of: &dyn Fn(usize) -> f64| (0..found.fit.coefficients.len()).map(of).collect::<Vec<f64>>();
        near(name, &found.fit.coefficients, &case.coefficients, 1e-9);
        near(name, &of_terms(&|term| found.fit.standard_error(term).unwrap()), &case.errors, 1e-9);
        let factor = confidence.factor(found.fit.degrees);
        let end = |sign: f64| {
            of_terms(&|term| {
                found.fit.coefficients[term] + sign * factor * found.fit.standard_error(term).unwrap()
            })
        };
        near(name, &end(-1.0), &case.low, 1e-9);
        near(name, &end(1.0), &case.high, 1e-9);
        near(name, &found.leverages, &case.leverages, 1e-9);
        let apart: Vec<f64> = (0..runs).map(|run| found.apart(run).unwrap()).collect();
        near(name, &apart, &case.apart, 1e-8);
        near(
            name,
            &[found.fit.residual_sum, found.fit.total_sum, found.press().unwrap(), found.aicc().unwrap()],
            &[case.residual_sum, case.total, case.press, case.aicc],
            1e-9,
        );
        near(name, &[found.foretold().unwrap()], &[1.0 - case.press / case.total], 1e-9);
        assert_eq!(case.lack_ratio.is_some(), found.repeats.and_then(|repeats| repeats.ratio()).is_some());
        if let (Some(ratio), Some(beyond)) = (case.lack_ratio, case.lack_beyond) {
            let repeats = found.repeats.unwrap();
            near(name, &[repeats.ratio().unwrap(), repeats.beyond().unwrap()], &[ratio, beyond], 1e-8);
        }
        for (place, asked) in case.asked.iter().enumerate() {
            let row = terms.of(asked);
            let (mean, lever) = (found.fit.predicted(&row), found.fit.leverage(&row));
            let wide = |more: f64| mean + factor * found.fit.scatter().unwrap() * (more + lever).sqrt();
            near(
                name,
                &[mean, wide(0.0), wide(1.0)],
                &[case.asked_mean[place], case.asked_high[place], case.asked_next_high[place]],
                1e-9,
            );
        }
    }
}

fn tyre_wishes() -> [Wish; 4] {
    [
        Wish::Larger { low: 120.0, target: 170.0, weight: 1.0 },
        Wish::Larger { low: 1000.0, target: 1300.0, weight: 1.0 },
        Wish::Target { low: 400.0, target: 500.0, high: 600.0, weights: [1.0; 2] },
        Wish::Target { low: 60.0, target: 67.5, high: 75.0, weights: [1.0; 2] },
    ]
}

fn says(models: &[Vec<f64>], at: &[f64]) -> Vec<f64> {
    let row = surface(3).of(at);
    models.iter().map(|model| model.iter().zip(&row).map(|(b, x)| b * x).sum()).collect()
}

#[test]
fn the_published_tyre_meets_its_wishes_and_the_search_finds_its_top() {
    let set = published().tyre;
    let wishes = tyre_wishes();
    let values = says(&set.models, &set.at);
    near("values", &values, &set.values, 8e-6);
    near("printed", &values, &set.printed_values, 6e-4);
    let worths: Vec<f64> = wishes.iter().zip(&values).map(|(wish, value)| wish.met(*value)).collect();
    near("worths", &worths, &set.worths, 1e-5);
    near("printed", &worths, &set.printed_worths, 2e-3);
    near("together", &[together(&wishes, &values)], &[set.worth], 1e-6);
    near("printed", &[together(&wishes, &values)], &[set.printed_worth], 5e-4);
    let region = Region::of(Bounds(vec![]), vec![], vec![[-1.633, 1.633]; 3]).unwrap();
    let worth = |run: &[f64]| climbing(&wishes, &says(&set.models, run));
    let (at, best) = region.best(10, 1, worth);
    near("best", &[best], &[set.best], 1e-6);
    // No point of a grid is better.
    let grid = |place: i32| f64::from(place) * 1.633 / 30.0;
    for (a, b) in (-30..=30).flat_map(|a| (-30..=30).map(move |b| (a, b))) {
        for c in -30..=30 {
            assert!(worth(&[grid(a), grid(b), grid(c)]) <= best, "{at:?}");
        }
    }
    assert_eq!(region.best(10, 1, worth), (at, best), "the same seed, the same answer");
}

#[test]
fn the_published_conversion_is_bettered_to_its_printed_worth() {
    let set = published().conversion;
    let wishes = [
        Wish::Larger { low: 80.0, target: 97.0, weight: 1.0 },
        Wish::Target { low: 55.0, target: 57.5, high: 60.0, weights: [1.0; 2] },
    ];
    let middle = says(&set.models, &[0.0; 3]);
    let worths: Vec<f64> = wishes.iter().zip(&middle).map(|(wish, value)| wish.met(*value)).collect();
    near("worths", &worths, &set.middle_worths, 1e-5);
    near("middle", &[together(&wishes, &middle)], &[set.middle_worth], 1e-6);
    let region = Region::of(Bounds(vec![]), vec![], vec![[-set.cube, set.cube]; 3]).unwrap();
    let (_, best) = region.best(10, 1, |run| climbing(&wishes, &says(&set.models, run)));
    near("best", &[best], &[set.best], 1e-6);
}

#[test]
fn the_best_blend_of_a_fitted_model_is_no_worse_than_a_fine_grid() {
    let set = published().etch;
    let terms = blend(Model::SpecialCubic, 3);
    let fit = analysed(terms, &set.runs).unwrap().fit;
    let bounds = Bounds(vec![[0.1, 0.7], [0.0, 0.5], [0.1, 0.6]]);
    let region = Region::of(bounds.clone(), vec![], vec![]).unwrap();
    for wish in [
        Wish::Larger { low: 600.0, target: 900.0, weight: 1.0 },
        Wish::Target { low: 500.0, target: 610.0, high: 640.0, weights: [1.0, 2.0] },
        Wish::Smaller { target: 100.0, high: 450.0, weight: 2.0 },
        // Out of reach: the nearest is told.
        Wish::Larger { low: 2000.0, target: 3000.0, weight: 1.0 },
    ] {
        let worth = |run: &[f64]| climbing(&[wish], &[fit.predicted(&terms.of(run))]);
        let (at, best) = region.best(20, 7, worth);
        assert!(region.holds(&at) && (at.iter().sum::<f64>() - 1.0).abs() < 1e-9, "{at:?}");
        for one in within(&bounds, 0.005).unwrap() {
            assert!(worth(&one) <= best + 1e-9, "{wish:?}: {one:?} {at:?}");
        }
    }
}
