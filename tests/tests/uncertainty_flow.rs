//! The viscosity of a batch in every draw, against another program that draws the same batches through the same published laws.

use jiff::civil::{Date, date};
use levigate_assess::{Assessed, Inquiry};
use levigate_facts::Facts;
use levigate_formula::sheet::Sheet;
use levigate_measure::Outcome;
use levigate_measure::belief::Belief;
use levigate_process::flow::Liquid as _;
use levigate_process::flow::blend::{Knowledge, Numbered};
use levigate_process::flow::datasheet::dial_viscosity;
use levigate_process::flow::spindle::chosen;
use levigate_project::formula_file;
use levigate_project::making_file::uncertainty::{formula_of, read};
use levigate_project::workbench::assess::{assess, facts_for, known};
use levigate_project::workbench::making::uncertainty::{BatchUncertainty, ResultUncertainty, uncertainty};
use rust_decimal::prelude::ToPrimitive as _;
use serde::Deserialize;

const DAY: Date = date(2026, 11, 24);
const HEAD: &str = "[product]\nname = \"x\"\ntype = \"toner\"\nsite = \"face\"\nleave_on = true\n";
const WATER: &str = "[[phase]]\nname = \"A\"\n[[phase.line]]\nmaterial = \"Water\"\nremainder = true\n";
const ASKED: &str =
    "[uncertainty]\nbatch_g = 100\ndraws = 400000\n[[uncertainty.balance]]\nreadability_g = 0.1\n";
const CELLULOSE: &str = "Hydroxyethylcellulose, high viscosity, surface-treated";
const COPOLYMER: &str = "Ammonium acryloyldimethyltaurate/VP copolymer";

fn line(material: &str, percent: f64) -> String {
    format!("[[phase.line]]\nmaterial = \"{material}\"\npercent = {percent}\n")
}

fn steep() -> String {
    format!("{HEAD}{WATER}{}{ASKED}", line(CELLULOSE, 0.8))
}

fn gel() -> String {
    let dial = "[target]\nviscosity = { mpa_s = [2000, 8000], temperature_c = 25, spindle = \"disc-27\", speed_rpm = 20 }\n";
    format!("{HEAD}{dial}{WATER}{}{}{ASKED}", line(COPOLYMER, 0.8), line("Sodium chloride", 0.3))
}

/// The shipped facts with the numbers of the case for one thickener.
fn facts_with(key: &str, theta: [f64; 7], spreads: [f64; 7]) -> Facts {
    let mut facts = levigate_facts::shipped().expect("facts");
    let known = facts.flow.thickeners.get_mut(key).expect("a thickener");
    known.knowledge =
        Knowledge::of(known.law.law, Belief::independent(theta.to_vec(), &spreads).expect("a belief"));
    facts
}

fn asked(facts: &Facts, text: &str, draws: usize) -> BatchUncertainty {
    let mut question = read("test", text).expect("a question");
    question.draws = draws;
    uncertainty(facts, (DAY, "eu"), ("test", &formula_of(text)), &question).expect("an answer").batch
}

fn viscosity(batch: &BatchUncertainty) -> &ResultUncertainty {
    batch.results.iter().find(|one| one.key == "viscosity").expect("a viscosity")
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Crossed {
    draws: f64,
    steep: Case,
    gel: Case,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Case {
    meant: f64,
    first_order: f64,
    making: Figures,
    all: Figures,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Figures {
    mean: f64,
    standard: f64,
    low: f64,
    high: f64,
}

#[track_caller]
fn check(outcome: &Outcome, figures: &Figures, draws: f64) {
    let error = figures.standard * (1.0 / draws + 1.0 / 400_000.0).sqrt();
    let near = |what: &str, got: Option<f64>, expected: f64, sigmas: f64| {
        let got = got.expect("a number").ln();
        // Water activity, the last digit of the viscosity of water and the constants of the spindle: 1e-3 of the viscosity.
        let allowed = sigmas * error + 1e-3;
        assert!((got - expected).abs() < allowed, "{what}: {got}, {expected} within {allowed}");
    };
    near("mean", outcome.value, figures.mean, 4.5);
    near("low", outcome.low, figures.low, 4.5 * 2.7);
    near("high", outcome.high, figures.high, 4.5 * 2.7);
    let standard = outcome.terms[0].value;
    assert!((standard / figures.standard - 1.0).abs() < 0.01, "{standard}, {}", figures.standard);
}

#[test]
fn the_viscosity_is_as_sure_as_another_program_finds_it() {
    let crossed: Crossed = toml::from_str(include_str!("../cross/uncertainty_flow.toml")).expect("the case");
    let ln = f64::ln;
    let cases = [
        (
            &crossed.steep,
            steep(),
            facts_with(
                "hydroxyethylcellulose-treated",
                [ln(9.0), 0.0, ln(20.0), 1.0, 0.68, 10.0, 0.0],
                [0.15, 0.0, 0.3, 0.0, 0.05, 0.0, 0.0],
            ),
        ),
        (
            &crossed.gel,
            gel(),
            facts_with(
                "ammonium-acryloyldimethyltaurate-vp",
                [ln(40.0), 1.2, ln(9.0), 0.0, 0.45, 2.0, ln(0.015)],
                [0.2, 0.0, 0.4, 0.0, 0.04, 0.0, 0.3],
            ),
        ),
    ];
    for (case, text, facts) in cases {
        let batch = asked(&facts, &text, 400_000);
        let found = viscosity(&batch);
        let middle = found.propagated.value.expect("a value").ln();
        assert!((middle - case.meant).abs() < 1e-3, "{middle}, {}", case.meant);
        check(&found.batch_to_batch, &case.making, crossed.draws);
        check(&found.drawn, &case.all, crossed.draws);
        // First order is visibly wrong here: an end of its interval from batch to batch lies off by more than a twentieth.
        let straight = [-1.0, 1.0].map(|side| case.meant + side * 1.96 * case.first_order);
        let off = (straight[0] - case.making.low).abs().max((straight[1] - case.making.high).abs());
        assert!(off > 0.05, "{off}");
    }
}

/// With weighing and lots made exact, what is left is the band of the assessment, and its middle the prediction.
#[test]
fn what_flow_leaves_open_is_the_band_of_the_assessment() {
    let facts = levigate_facts::shipped().expect("facts");
    for text in [steep(), gel()] {
        let text = text.replace("readability_g = 0.1", "readability_g = 0.000001");
        let batch = asked(&facts, &text, 1_000);
        let found = viscosity(&batch);
        let predicted = assess(&facts, DAY, "eu", "test", &formula_of(&text)).expect("an assessment");
        let brief = &predicted.assessment.flow.at_brief;
        let (low, high) = (brief.low.expect("low"), brief.high.expect("high"));
        let middle = found.propagated.value.expect("a value") / brief.value.expect("a value");
        // Where the assessment reads a table of the curve, the draws ask the laws themselves.
        assert!((middle - 1.0).abs() < 2e-3, "{middle}");
        let flow: f64 = found.propagated.terms[0].value;
        assert!((4.0 * flow / (high / low).ln() - 1.0).abs() < 0.12, "{flow}, {low} to {high}");
        assert!(found.batch_to_batch.terms[0].value < 0.1, "{:?}", found.batch_to_batch.terms);
    }
}

fn example(name: &str) -> String {
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../examples").join(name);
    std::fs::read_to_string(path).expect("a formula")
}

/// What a spindle shows of the laws of an assessed formula themselves, mPa s; the viscosity at 10 1/s where the brief names none.
fn by_the_laws(facts: &Facts, sheet: &Sheet, assessed: &Assessed<'_>) -> f64 {
    let blend = &assessed.flowing.blend;
    let numbers = blend.numbers();
    let laws = Numbered { blend, numbers: &numbers };
    let target = sheet.target.viscosity.as_ref();
    let dial = target.and_then(|target| {
        let rpm = target.speed_rpm?.to_f64()?;
        let highest = target.mpa_s[1].to_f64()? * 1e-3;
        let torque = facts.instruments.medium_torque_n_m()?;
        let spindles = facts.instruments.spindles.values();
        Some((chosen(target.spindle.as_deref()?, spindles, torque, Some((rpm, highest)))?, rpm))
    });
    1e3 * match dial {
        Some((choice, rpm)) => dial_viscosity(&laws, Some(choice.spindle), rpm),
        None => laws.viscosity(10.0),
    }
}

/// Gels of polyacids, mixtures of thickeners, drops and polyols: the draws ask the same laws as the assessment.
#[test]
fn the_middle_of_every_shipped_formula_is_its_prediction() {
    let facts = levigate_facts::shipped().expect("facts");
    let mut told = 0;
    for name in [
        "hand-gel-carbomer.toml",
        "night-toner-mandelic.toml",
        "zinc-balancing-serum.toml",
        "scenarios/1-niacinamide-gel-serum.toml",
        "scenarios/3-vitamin-c-serum.toml",
        "scenarios/4-peptide-eye-gel.toml",
        "scenarios/5-hypromellose-clear-gel.toml",
        "scenarios/6-sclerotium-gum-cream-gel.toml",
    ] {
        let text = example(name);
        let batch = asked(&facts, &text, 1_000);
        let Some(found) = batch.results.iter().find(|one| one.key == "viscosity") else { continue };
        let formula = formula_file::read(name, &text).expect("a formula");
        let facts = facts_for(&facts, name, &formula).expect("its own facts");
        let sheet = &formula.sheet;
        let inquiry = Inquiry { sheet, known: known(&facts), day: DAY, market: "eu" };
        let assessed = levigate_assess::assess(&inquiry).expect("an assessment");
        let middle = found.propagated.value.expect("a value");
        let laws = middle / by_the_laws(&facts, sheet, &assessed);
        assert!((laws - 1.0).abs() < 1e-3, "{name}: {laws} of the laws");
        // The assessment reads a table of the curve, at every second point where thickeners are mixed.
        let table = middle / assessed.assessment.flow.at_brief.value.expect("a value");
        assert!((table - 1.0).abs() < 0.03, "{name}: {table} of the table");
        told += 1;
    }
    assert!(told >= 5, "{told}");
}

#[test]
fn threads_change_no_bit_of_the_viscosity() {
    let facts = levigate_facts::shipped().expect("facts");
    let text = example("hand-gel-carbomer.toml");
    let written = |threads| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().expect("threads");
        serde_json::to_string(&pool.install(|| asked(&facts, &text, 3_000))).expect("JSON")
    };
    assert_eq!(written(1), written(2));
}
