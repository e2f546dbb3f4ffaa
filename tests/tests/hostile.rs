//! Damaged formulas, solutions and facts: every door answers or says what is wrong, where, and what to do; nothing panics, hangs or shows
//! a number that is none.

use jiff::civil::{Date, date};
use levigate_evidence::damage::damaged;
use levigate_facts::{Facts, check::check, shipped, shipped_text};
use levigate_formula::library::Layer;
use levigate_project::diagnostic::Diagnostic;
use levigate_project::solution_file;
use levigate_project::workbench::making::{adjust::adjust, calibrate::calibrate};
use levigate_project::workbench::{assess::assess, label::label, sheet, titrate::titrate};
use proptest::prelude::*;
use serde_json::Value;
use std::path::Path;
use std::sync::LazyLock;

static FACTS: LazyLock<Facts> = LazyLock::new(|| shipped().expect("the shipped facts can be read"));
const DAY: Date = date(2026, 11, 26);

fn formulas() -> Vec<String> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("..");
    let mut paths: Vec<_> = ["examples", "examples/scenarios"]
        .iter()
        .flat_map(|folder| std::fs::read_dir(root.join(folder)).expect("examples are there"))
        .map(|entry| entry.expect("a file").path())
        .filter(|path| path.extension().is_some_and(|extension| extension == "toml"))
        .collect();
    paths.sort();
    let texts: Vec<String> =
        paths.iter().map(|path| std::fs::read_to_string(path).expect("an example can be read")).collect();
    assert!(texts.len() >= 10);
    texts
}

const OWN: &str = "\n[[price]]\nmaterial = \"Glycerin 99.5 %\"\nper_kg = \"1.80\"\ncurrency = \"EUR\"\ndate = \"2026-01-01\"\n\n[[material]]\n\
    key = \"house-lye\"\nname = \"House lye\"\nfunctions = [\"base\"]\nform = \"solution\"\nconstituents = [{ substance = \"sodium-hydroxide\", \
    min = 9, typical = 10, max = 11 }, { substance = \"water\", min = 89, typical = 90, max = 91 }]\ncomposition_source = \"from-memory\"\n";

const SOLUTIONS: [&str; 3] = [
    include_str!("../../fuzz/seeds/speciation/shipped-constants.toml"),
    include_str!("../../fuzz/seeds/speciation/own-constants.toml"),
    include_str!("../../fuzz/seeds/speciation/polyelectrolyte-and-chelant.toml"),
];

const BEAKERS: [&str; 2] = [
    "[calibration]\ntemperature_c = 25\npoints = [{ buffer = \"standard-phthalate\", mv = 174.6 },\n{ ph = 6.86, mv = 6.9 }]\n\
     check = { buffer = \"technical-4-00\", ph_read = 4.02 }\n[[sample]]\nmv = 100.0\ntemperature_c = 40\n",
    "[product]\nname = \"Toner\"\ntype = \"toner\"\nsite = \"face\"\nleave_on = true\n[batch]\nsize_g = 250\nbalance_g = 0.01\n\
     [[phase]]\nname = \"A\"\n[[phase.line]]\nmaterial = \"Water\"\nremainder = true\n[[phase.line]]\n\
     material = \"Glycolic acid 70 %\"\npercent = 10\n[adjust]\nwith = \"Sodium hydroxide 20 %\"\nwindow = [3.7, 3.9]\n\
     held_back_g = 24\nportion_g = 0.05\n[calibration]\ntemperature_c = 25\npoints = [\n{ ph = 4.0, mv = 174.6 }, { ph = 6.86, mv = 6.9 }]\n\
     [[bench]]\nmv = 290\n[[bench]]\nadd_g = 0.5\nwith = \"Citric acid 50 %\"\n[[bench]]\nadd_g = 19\n[[bench]]\n\
     trace = [[0, 3.70], [10, 3.64], [20, 3.62], [30, 3.61], [40, 3.61], [50, 3.61]]\ntemperature_c = 27\n",
];

fn at_the_beaker(text: &str) {
    match calibrate(&FACTS, ("x.toml", text)) {
        Ok(reading) => sound(&reading),
        Err(problems) => told(&problems, text),
    }
    match adjust(&FACTS, ("x.toml", text)) {
        Ok(reading) => sound(&reading),
        Err(problems) => told(&problems, text),
    }
}

/// A refusal says what, where and what to do.
fn told(problems: &[Diagnostic], text: &str) {
    assert!(!problems.is_empty());
    let lines = text.lines().count().max(1) + 1;
    for problem in problems {
        assert!(
            !problem.code.is_empty() && !problem.what.is_empty() && !problem.what_now.is_empty(),
            "{problem:?}"
        );
        assert!(problem.line <= lines, "{problem:?}");
    }
}

/// An answer shows no number that is none: a result without a value says why.
fn sound(answer: &impl serde::Serialize) {
    fn walk(value: &Value) {
        match value {
            Value::Object(fields) => {
                if fields.contains_key("grade") && fields.contains_key("method") {
                    assert_eq!(fields["value"].is_null(), fields.contains_key("refused"), "{value}");
                }
                fields.values().for_each(walk);
            }
            Value::Array(items) => items.iter().for_each(walk),
            _ => {}
        }
    }
    walk(&serde_json::to_value(answer).expect("an answer is JSON"));
}

fn every_verb(text: &str) {
    match assess(&FACTS, DAY, "eu", "x.toml", text) {
        Ok(assessed) => sound(&assessed.assessment),
        Err(problems) => told(&problems, text),
    }
    match sheet::batch_sheet(&FACTS, DAY, &sheet::Bench { size_g: None, balance: None }, "x.toml", text) {
        Ok(sheet) => sound(&sheet),
        Err(problems) => told(&problems, text),
    }
    match label(&FACTS, DAY, "eu", "x.toml", text) {
        Ok(label) => sound(&label),
        Err(problems) => told(&problems, text),
    }
    match titrate(&FACTS, "x.toml", text, "Sodium hydroxide 10 %", 6.into()) {
        Ok(titration) => sound(&titration),
        Err(problems) => told(&problems, text),
    }
}

fn speciated(text: &str) {
    match solution_file::speciate("x.toml", text, &FACTS) {
        Ok(report) => sound(&report),
        Err(problems) => told(&problems, text),
    }
}

fn laid_over(text: &str) {
    let mut facts = FACTS.clone();
    match facts.overlay(&[("own.toml", text)], Layer::Laboratory) {
        Ok(_) => {
            for finding in check(&facts) {
                assert!(!finding.flaw.hint().is_empty(), "{finding:?}");
            }
            // What was taken in must be borne by every verb.
            let toner = &formulas()[2];
            if let Err(problems) = assess(&facts, DAY, "eu", "x.toml", toner) {
                told(&problems, toner);
            }
        }
        Err(error) => {
            for fault in &error.faults {
                assert_eq!(&*fault.place().file, "own.toml", "{fault}");
                assert!(!fault.what().is_empty() && !fault.hint().is_empty(), "{fault}");
            }
        }
    }
}

/// The first records of some shipped files, keys changed or not: both replaced and new records are met.
fn records() -> Vec<String> {
    [
        "substances/chelants.toml",
        "materials/chelants.toml",
        "equilibria/inorganic.toml",
        "equilibria/polyacids.toml",
        "equilibria/components.toml",
    ]
    .iter()
    .map(|path| {
        let text = shipped_text(path).unwrap_or_else(|| panic!("{path} is shipped"));
        let records: Vec<&str> = text.split_inclusive("\n\n").take(12).collect();
        records.concat()
    })
    .chain([OWN.to_owned()])
    .collect()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 192, max_shrink_iters: 200, ..ProptestConfig::default() })]

    #[test]
    fn damaged_formulas(text in damaged(formulas())) {
        every_verb(&text);
    }

    #[test]
    fn damaged_formulas_with_facts_of_their_own(text in damaged(formulas().iter().take(3).map(|text| format!("{text}{OWN}")).collect())) {
        every_verb(&text);
    }

    #[test]
    fn damaged_facts(text in damaged(records())) {
        laid_over(&text);
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 600, max_shrink_iters: 400, ..ProptestConfig::default() })]

    #[test]
    fn damaged_solutions(text in damaged(SOLUTIONS.map(str::to_owned).to_vec())) {
        speciated(&text);
    }

    #[test]
    fn damaged_batches_at_the_beaker(text in damaged(BEAKERS.map(str::to_owned).to_vec())) {
        at_the_beaker(&text);
    }

    #[test]
    fn any_text_as_a_solution(text in "\\PC{0,300}") {
        speciated(&text);
    }
}

#[test]
fn the_undamaged_are_answered() {
    assert!(
        calibrate(&FACTS, ("x.toml", BEAKERS[0])).is_ok() && adjust(&FACTS, ("x.toml", BEAKERS[1])).is_ok()
    );
    for text in formulas().iter().filter(|text| text.contains("[product]")) {
        assert!(assess(&FACTS, DAY, "eu", "x.toml", text).is_ok());
    }
    for text in SOLUTIONS {
        solution_file::speciate("x.toml", text, &FACTS).unwrap_or_else(|problems| panic!("{problems:?}"));
    }
}

#[test]
fn very_many_lines_and_very_long_names() {
    let line = |material: &str, percent: &str| {
        format!("[[phase.line]]\nmaterial = \"{material}\"\npercent = {percent}\n")
    };
    let head = "[product]\nname = \"Test\"\ntype = \"serum\"\nsite = \"face\"\nleave_on = true\n[[phase]]\nname = \"A\"\n\
        [[phase.line]]\nmaterial = \"Water\"\nremainder = true\n";
    every_verb(&format!("{head}{}", line("Glycerin 99.5 %", "0.01").repeat(400)));
    let long = "x".repeat(1_000_000);
    every_verb(&format!("{head}{}", line(&long, "1")));
    every_verb(&format!("{head}{}", line("Glycerin 99.5 %", &format!("0.{}1", "0".repeat(1_000_000)))));
    every_verb(&head.replace("Test", &long));
    every_verb(&format!("{head}{}", line("Glycerin 99.5 %", "1e9999")));
    speciated(&format!("[[solute]]\nname = \"{long}\"\nmolality = 1\n"));
    speciated(&format!(
        "temperature_c = 1e9999\n{}",
        "[[solute]]\nname = \"NaCl\"\nmolality = 0.001\n".repeat(500)
    ));
    speciated(&format!(
        "[[solute]]\nname = \"NaCl\"\nmolality = {}1\n",
        "0.".to_owned() + &"0".repeat(1_000_000)
    ));
    laid_over(&format!("[[substance]]\nkey = \"x\"\nname = \"{long}\"\n"));
}
