//! How sure a batch is, against another program that draws the same batch and solves its charge balance in every draw.

use jiff::civil::{Date, date};
use levigate_facts::Facts;
use levigate_project::making_file::uncertainty::{UncertaintyFile, formula_of, read};
use levigate_project::workbench::assess::assess;
use levigate_project::workbench::making::uncertainty::{BatchUncertainty, ResultUncertainty, uncertainty};
use serde::Deserialize;

const DAY: Date = date(2026, 11, 24);

/// The batch of `tests/cross/uncertainty_batch.py`.
const TONER: &str = r#"
[product]
name = "Citrate toner"
type = "toner"
site = "face"
leave_on = true
[target]
ph = [4.15, 4.25]
[[phase]]
name = "A"
[[phase.line]]
material = "Water"
remainder = true
[[phase.line]]
material = "Sodium benzoate"
percent = 0.30
[[phase.line]]
material = "Citric acid"
percent = 0.15
[uncertainty]
batch_g = 200
draws = 1000000
[[uncertainty.balance]]
readability_g = 0.1
[[uncertainty.balance]]
readability_g = 0.01
lines = [2, 3]
"#;

fn asked(text: &str, facts: &Facts, change: impl Fn(&mut UncertaintyFile)) -> BatchUncertainty {
    let mut question = read("test", text).expect("a question");
    change(&mut question);
    uncertainty(facts, (DAY, "eu"), ("test", &formula_of(text)), &question).expect("an answer").batch
}

fn result<'b>(batch: &'b BatchUncertainty, key: &str) -> &'b ResultUncertainty {
    batch.results.iter().find(|one| one.key == key).expect("a result")
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Crossed {
    draws: f64,
    meant: Meant,
    making: Of,
    all: Of,
    tolerance: Tolerance,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Meant {
    ph: f64,
    undissociated: f64,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Of {
    ph: Figures,
    undissociated: Figures,
    limit: Option<Figures>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Figures {
    mean: f64,
    standard: f64,
    low: f64,
    high: f64,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Tolerance {
    citric_acid_within_5_percent: f64,
    ph_4_15_to_4_25: f64,
}

#[test]
fn the_batch_is_as_sure_as_another_program_finds_it() {
    let crossed: Crossed = toml::from_str(include_str!("../cross/uncertainty_batch.toml")).expect("the case");
    let facts = levigate_facts::shipped().expect("facts");
    let batch = asked(TONER, &facts, |_| {});
    // The two solvers differ by less than 1e-4 in pH: pKw, the Debye-Huckel slope and water activity to the last digit.
    let model = |key: &str| if key == "ph" { 2e-4 } else { 0.02 };
    let check = |key: &str, outcome: &levigate_measure::Outcome, figures: &Figures| {
        let error = figures.standard * (2.0 / crossed.draws).sqrt();
        let near = |what: &str, got: f64, expected: f64, sigmas: f64| {
            let allowed = sigmas * error + model(key);
            assert!((got - expected).abs() < allowed, "{key} {what}: {got}, {expected} within {allowed}");
        };
        near("mean", outcome.value.expect("a value"), figures.mean, 4.5);
        near("low", outcome.low.expect("a low end"), figures.low, 4.5 * 2.7);
        near("high", outcome.high.expect("a high end"), figures.high, 4.5 * 2.7);
        let standard = outcome.terms[0].value;
        assert!((standard / figures.standard - 1.0).abs() < 0.01, "{key}: {standard}, {}", figures.standard);
    };
    for (key, all, making) in [
        ("ph", &crossed.all.ph, &crossed.making.ph),
        ("undissociated", &crossed.all.undissociated, &crossed.making.undissociated),
    ] {
        let found = result(&batch, key);
        check(key, &found.drawn, all);
        check(key, &found.batch_to_batch, making);
        // The law of propagation beside it: the model is nearly straight over the spread.
        assert!((found.propagated.terms[0].value / all.standard - 1.0).abs() < 0.01, "{key}");
        assert!(found.agree);
    }
    check("limit", &result(&batch, "limit").batch_to_batch, crossed.making.limit.as_ref().expect("a limit"));
    let middle = |key: &str| result(&batch, key).propagated.value.expect("a value");
    assert!((middle("ph") - crossed.meant.ph).abs() < 2e-4);
    assert!((middle("undissociated") - crossed.meant.undissociated).abs() < 0.02);
    let chance = result(&batch, "ph").target.as_ref().expect("a target").batch_to_batch;
    assert!((chance - 100.0 * crossed.tolerance.ph_4_15_to_4_25).abs() < 0.5, "{chance}");
    let kept = batch.lines[2].within_tolerance.expect("a tolerance");
    assert!((kept - 100.0 * crossed.tolerance.citric_acid_within_5_percent).abs() < 0.25, "{kept}");
}

/// With weighing and lots made exact the spread that is left is the interval of the assessment.
#[test]
fn what_the_prediction_leaves_open_is_the_interval_of_the_assessment() {
    let facts = levigate_facts::shipped().expect("facts");
    let text = TONER
        .replace("readability_g = 0.1\n", "readability_g = 0.000001\n")
        .replace("= 0.01\n", "= 0.000001\n");
    let batch = asked(&text, &facts, |question| question.draws = 20_000);
    let formula = formula_of(&text);
    let assessed = assess(&facts, DAY, "eu", "test", &formula).expect("an assessment").assessment;
    let (low, high) = (assessed.ph.neat.low.expect("low"), assessed.ph.neat.high.expect("high"));
    let standard = result(&batch, "ph").propagated.terms[0].value;
    assert!((4.0 * standard / (high - low) - 1.0).abs() < 0.03, "{standard}, {low} to {high}");
}

#[test]
fn threads_change_no_bit_and_the_order_of_the_lines_no_figure() {
    let facts = levigate_facts::shipped().expect("facts");
    let made = |text: &str| asked(text, &facts, |question| question.draws = 5_000);
    let written = |threads| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().expect("threads");
        serde_json::to_string(&pool.install(|| made(TONER))).expect("JSON")
    };
    assert_eq!(written(1), written(2));
    let benzoate = "[[phase.line]]\nmaterial = \"Sodium benzoate\"\npercent = 0.30\n";
    let citric = "[[phase.line]]\nmaterial = \"Citric acid\"\npercent = 0.15\n";
    let turned = TONER.replace(&format!("{benzoate}{citric}"), &format!("{citric}{benzoate}"));
    assert_ne!(turned, TONER);
    let (one, other) = (made(TONER), made(&turned));
    for (one, other) in one.results.iter().zip(&other.results) {
        assert_eq!(one.key, other.key);
        for (one, other) in [(&one.drawn, &other.drawn), (&one.batch_to_batch, &other.batch_to_batch)] {
            let near = |a: Option<f64>, b: Option<f64>| (a.unwrap_or(0.0) - b.unwrap_or(0.0)).abs() < 1e-8;
            assert!(near(one.value, other.value) && near(one.low, other.low) && near(one.high, other.high));
        }
    }
}

#[test]
fn no_uncertainty_in_gives_none_from_batch_to_batch() {
    let facts = levigate_facts::shipped().expect("facts");
    let text = TONER.replace("readability_g = 0.1\n", "readability_g = 0.000001\nrepeatability_g = 0\n");
    let text = text.replace("readability_g = 0.01\n", "readability_g = 0.000001\nrepeatability_g = 0\n");
    let lots = "[[uncertainty.lot]]\nline = 2\nassay_percent = 99.5\nhalf_width = 0\n[[uncertainty.lot]]\nline = 3\nassay_percent = 99.7\nstandard = 0\n";
    let batch = asked(&format!("{text}{lots}"), &facts, |question| question.draws = 2_000);
    let ph = result(&batch, "ph");
    // A millionth of a gram is the finest balance there is.
    assert!(ph.batch_to_batch.terms[0].value < 1e-5, "{:?}", ph.batch_to_batch);
    assert!(ph.drawn.terms[0].value > 0.01);
    assert!(batch.lines.iter().all(|line| line.expanded_percent < 0.01));
    assert!(batch.helps.is_empty());
}

#[test]
fn every_shipped_formula_is_told_and_both_ways_agree_where_they_should() {
    let facts = levigate_facts::shipped().expect("facts");
    let examples = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../examples");
    for folder in [examples.clone(), examples.join("scenarios")] {
        for entry in std::fs::read_dir(folder).expect("a folder") {
            let path = entry.expect("an entry").path();
            let name = path.to_string_lossy().into_owned();
            if !name.ends_with(".toml") || name.contains("prices") {
                continue;
            }
            let text = std::fs::read_to_string(&path).expect("a formula");
            let batch = asked(&text, &facts, |question| question.draws = 4_000);
            assert!(batch.lines.iter().all(|line| line.expanded_percent.is_finite()), "{name}");
            for result in &batch.results {
                let (drawn, propagated) = (&result.drawn, &result.propagated);
                assert!(drawn.low <= drawn.value && drawn.value <= drawn.high, "{name}: {}", result.name);
                let (one, other) = (drawn.terms.first(), propagated.terms.first());
                if let (Some(one), Some(other)) = (one, other) {
                    let ratio = one.value / other.value;
                    assert!(
                        (0.7..1.4).contains(&ratio),
                        "{name}: {} drawn {} followed {}",
                        result.name,
                        one.value,
                        other.value
                    );
                }
                let shares: f64 = result.from.iter().map(|one| one.percent).sum();
                assert!(shares <= 100.0 + 1e-9, "{name}: {}", result.name);
            }
        }
    }
}
