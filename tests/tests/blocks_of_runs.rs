//! What blocks of runs differ by is taken out of the model: held against another program that codes the blocks otherwise.
#![allow(clippy::unwrap_used)]

use levigate_assess::analysis::{AnalysisReading, ResponseReading};
use levigate_project::workbench::proof::analyse::{Analysed, Said, analyse};
use serde::Deserialize;

#[derive(Deserialize)]
struct Case {
    runs: Vec<[f64; 5]>,
    blocks: Vec<f64>,
    cross_terms: Vec<f64>,
    cross_errors: Vec<f64>,
    asked: Vec<[f64; 3]>,
    asked_mean: Vec<f64>,
    asked_low: Vec<f64>,
    asked_high: Vec<f64>,
    scatter: f64,
    pure: f64,
    lack_beyond: f64,
}

fn case() -> Case {
    toml::from_str(include_str!("../cross/blocks_of_runs.toml")).unwrap()
}

/// The runs as a table; the blends asked for are rows nothing was read of.
fn table(case: &Case, block: impl Fn(f64) -> f64) -> String {
    let mut text = "block,a,b,c,viscosity\n".to_owned();
    for [own, a, b, c, read] in &case.runs {
        text.push_str(&format!("{},{a},{b},{c},{read}\n", block(*own)));
    }
    for [a, b, c] in &case.asked {
        text.push_str(&format!("1,{a},{b},{c},\n"));
    }
    text
}

fn answered(text: &str) -> AnalysisReading {
    let said = Said { model: Some("quadratic".to_owned()), ..Said::default() };
    let Analysed::Runs(reading) = analyse(("runs.csv", text.as_bytes()), &said).unwrap() else { panic!() };
    *reading
}

fn terms(one: &ResponseReading) -> Vec<(f64, f64)> {
    one.terms.iter().map(|term| (term.coefficient.value.unwrap(), term.error.value.unwrap())).collect()
}

#[test]
fn terms_limits_and_misfit_are_those_of_the_other_program() {
    let case = case();
    let reading = answered(&table(&case, |own| own));
    assert_eq!(reading.parts, ["a", "b", "c"]);
    let one = &reading.responses[0];
    let near = |ours: Option<f64>, theirs: f64| {
        assert!((ours.unwrap() - theirs).abs() < 1e-9 * (1.0 + theirs.abs()), "{ours:?} {theirs}");
    };
    let own = terms(one);
    for (at, (theirs, error)) in case.cross_terms.iter().zip(&case.cross_errors).enumerate() {
        near(Some(own[3 + at].0), *theirs);
        near(Some(own[3 + at].1), *error);
    }
    near(Some(own[6].0), case.blocks[0]);
    near(Some(own[7].0), case.blocks[1]);
    assert!((case.blocks.iter().sum::<f64>()).abs() < 1e-12 && one.terms[6].name.starts_with("block 1"));
    for (at, asked) in one.asked.iter().enumerate() {
        near(asked.mean.value, case.asked_mean[at]);
        near(asked.mean.low, case.asked_low[at]);
        near(asked.mean.high, case.asked_high[at]);
    }
    assert_eq!(one.asked.len(), case.asked.len());
    near(one.fit.scatter.value, case.scatter);
    near(one.fit.pure.value, case.pure);
    near(one.fit.lack_of_fit.value, case.lack_beyond);
    assert!(one.notes.iter().any(|note| note.code == "blocks"));
}

#[test]
fn a_shift_of_one_block_leaves_every_other_term_where_it_was() {
    let case = case();
    let before = answered(&table(&case, |own| own));
    let mut shifted = self::case();
    for run in shifted.runs.iter_mut().filter(|run| run[0] == 2.0) {
        run[4] += 3.0;
    }
    let after = answered(&table(&shifted, |own| own));
    let (before, after) = (terms(&before.responses[0]), terms(&after.responses[0]));
    // The middle of three blocks goes up by one: the parts by themselves, and nothing else of the blend.
    for (at, (one, other)) in before.iter().zip(&after).take(6).enumerate() {
        let moved = if at < 3 { 1.0 } else { 0.0 };
        assert!((other.0 - one.0 - moved).abs() < 1e-9 && (other.1 - one.1).abs() < 1e-9, "{at}");
    }
    // One block alone is none.
    let none = answered(&table(&case, |_| 4.0));
    assert_eq!(none.responses[0].terms.len(), 6);
}
