//! What readings of the pH teach: against the whole posterior by another program, laboratories whose truth is drawn from the belief itself, and readings with one
//! known cause.

#![expect(clippy::unwrap_used, reason = "tests stop at the first surprise")]

use levigate_assess::adjusting::Convention;
use levigate_assess::ph_learning::{Experience, Foretold, Lesson, Making, NoPot, Pot, Read, ReadHow};
use levigate_facts::Facts;
use levigate_formula::sheet::Sheet;
use levigate_project::formula_file;
use levigate_project::workbench::assess::known;
use serde::Deserialize;
use std::path::Path;
use std::sync::OnceLock;

fn facts() -> &'static Facts {
    static FACTS: OnceLock<Facts> = OnceLock::new();
    FACTS.get_or_init(|| levigate_facts::shipped().unwrap())
}

fn convention() -> &'static Convention {
    facts().ph_bench.convention.as_ref().unwrap()
}

/// Water with so many percent of each raw material.
fn sheet(lines: &[(&str, f64)]) -> Sheet {
    let mut text = "[product]\nname = \"Toner\"\ntype = \"toner\"\nsite = \"face\"\nleave_on = true\nmarkets = [\"eu\"]\n\
         [[phase]]\nname = \"A\"\n[[phase.line]]\nmaterial = \"Water\"\nremainder = true\n"
        .to_owned();
    for (material, percent) in lines {
        text.push_str(&format!("[[phase.line]]\nmaterial = \"{material}\"\npercent = {percent:.5}\n"));
    }
    formula_file::read("toner.toml", &text).unwrap().sheet
}

fn pot_of(sheet: &Sheet, formula: &str, how: ReadHow) -> Pot {
    let making = Making { formula, name: formula };
    Pot::of(sheet, &known(facts()), convention(), &making, how).unwrap()
}

fn pot(lines: &[(&str, f64)]) -> Pot {
    pot_of(&sheet(lines), "toner", ReadHow::USUAL)
}

fn lactic(acid: f64, soda: f64) -> Pot {
    pot(&[("lactic-acid-90", acid), ("sodium-hydroxide-10", soda)])
}

fn still(pot: &Pot) -> f64 {
    Experience::default().foretell(pot).unwrap().ph
}

fn learn(experience: &mut Experience, trial: &str, pot: Pot, ph: f64) -> Option<String> {
    let lesson = Lesson { trial: trial.to_owned(), readings: vec![Read { pot, ph }] };
    experience.learn(&lesson).remove(0).refused
}

#[derive(Deserialize)]
struct Cross {
    case: Vec<Case>,
}

#[derive(Deserialize)]
struct Case {
    name: String,
    readings: Vec<[f64; 3]>,
    following: [f64; 2],
    still: f64,
    lactic_percent: [f64; 2],
    soda_percent: [f64; 2],
    electrode_ph: [f64; 2],
    quantiles: [f64; 3],
}

#[test]
fn the_most_probable_numbers_are_those_of_the_whole_posterior() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("cross/ph_learning.toml");
    let cross: Cross = toml::from_str(&std::fs::read_to_string(path).unwrap()).unwrap();
    assert_eq!(cross.case.len(), 4);
    for case in &cross.case {
        let mut experience = Experience::default();
        for (at, [acid, soda, away]) in case.readings.iter().enumerate() {
            let pot = lactic(*acid, *soda);
            let ph = still(&pot) + away;
            assert_eq!(learn(&mut experience, &format!("trial {at}"), pot, ph), None);
        }
        let numbers = experience.numbers();
        let number = |words: &str| {
            let one = numbers.iter().find(|one| one.of.contains(words)).unwrap();
            let (value, high) = (one.after.value.unwrap(), one.after.high.unwrap());
            [value, (high - value) / 1.959_964]
        };
        let mut near = |name: &str, ours: [f64; 2], theirs: [f64; 2]| {
            println!("{}, {name}: {ours:.4?} {theirs:.4?}", case.name);
            // The middle within a tenth of its deviation, the deviation within a twentieth.
            assert!((ours[0] - theirs[0]).abs() < 0.1 * theirs[1], "{}, {name}: {ours:?} {theirs:?}", case.name);
            assert!((ours[1] / theirs[1] - 1.0).abs() < 0.05, "{}, {name}: {ours:?} {theirs:?}", case.name);
        };
        near("lactic acid", number("Lactic"), case.lactic_percent);
        near("soda", number("Sodium hydroxide"), case.soda_percent);
        if numbers.iter().any(|one| one.of == "the electrode") {
            near("electrode", number("the electrode"), case.electrode_ph);
        }
        let following = lactic(case.following[0], case.following[1]);
        let at = still(&following);
        assert!((at - case.still).abs() < 0.02, "{}: {at} {}", case.name, case.still);
        let Foretold { ph, low, high, .. } = experience.foretell(&following).unwrap();
        println!("{}: {:.4} {:.4} {:.4}, {:.4?}", case.name, low - at, ph - at, high - at, case.quantiles);
        let width = case.quantiles[2] - case.quantiles[0];
        for (ours, theirs) in [low - at, ph - at, high - at].into_iter().zip(case.quantiles) {
            assert!((ours - theirs).abs() < 0.05 * width, "{}: {ours} {theirs}", case.name);
        }
    }
}

#[test]
fn a_line_solved_for_a_ph_and_what_has_no_constants_teach_nothing() {
    let mut solved = sheet(&[("lactic-acid-90", 2.0), ("sodium-hydroxide-10", 4.0)]);
    solved.phases[0].lines[2].amount = levigate_formula::sheet::Amount::ToPh("4.2".parse().unwrap());
    let making = Making { formula: "toner", name: "Toner" };
    let refused = Pot::of(&solved, &known(facts()), convention(), &making, ReadHow::USUAL).unwrap_err();
    assert!(matches!(&refused, NoPot::Solved { material } if material == "sodium-hydroxide-10"));
    assert!(refused.words().contains("not on file"), "{}", refused.words());
}

#[test]
fn a_slip_teaches_nothing_and_a_reading_that_says_nothing_changes_nothing() {
    let mut experience = Experience::default();
    let why = learn(&mut experience, "trial 1", lactic(2.0, 4.5), still(&lactic(2.0, 4.5)) + 2.0).unwrap();
    assert!(why.contains("slip"), "{why}");
    assert!(experience.numbers().is_empty());
    assert!(!experience.speaks_of(&lactic(2.0, 4.5)));
    let before = experience.foretell(&lactic(2.0, 4.5));
    assert_eq!(before, Experience::default().foretell(&lactic(2.0, 4.5)));
}
