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
use std::collections::BTreeMap;
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
        let near = |name: &str, ours: [f64; 2], theirs: [f64; 2]| {
            println!("{}, {name}: {ours:.4?} {theirs:.4?}", case.name);
            // The middle within a tenth of its deviation, the deviation within a twentieth.
            assert!(
                (ours[0] - theirs[0]).abs() < 0.1 * theirs[1],
                "{}, {name}: {ours:?} {theirs:?}",
                case.name
            );
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

/// Normal numbers from a seed (a linear congruence and Box and Muller's turn).
struct Chance(u64);

impl Chance {
    fn even(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        ((self.0 >> 11) as f64 + 0.5) / (1_u64 << 53) as f64
    }

    fn normal(&mut self) -> f64 {
        (-2.0 * self.even().ln()).sqrt() * (2.0 * std::f64::consts::PI * self.even()).cos()
    }
}

/// A laboratory with a truth of its own.
struct Laboratory {
    truth: BTreeMap<String, f64>,
    chance: Chance,
}

impl Laboratory {
    fn new(seed: u64) -> Self {
        let mut chance = Chance(seed.wrapping_mul(7919) + 17);
        (0..20).for_each(|_| {
            chance.even();
        });
        Self { truth: BTreeMap::new(), chance }
    }

    /// What it reads of a making; what belongs to a trial alone is drawn anew.
    fn reads(&mut self, pot: &Pot) -> f64 {
        let (truth, chance) = (&mut self.truth, &mut self.chance);
        let ph = pot.reads(|name| {
            if name.starts_with("Trial") {
                chance.normal()
            } else {
                *truth.entry(name.to_owned()).or_insert_with(|| chance.normal())
            }
        });
        ph.unwrap() + pot.noise() * self.chance.normal()
    }
}

#[test]
fn the_band_holds_what_is_read_as_often_as_it_says_and_the_errors_shrink() {
    // A buffer, one nearly used up, a weak one, and two materials that never meet in the first two.
    let makings = [
        vec![("lactic-acid-90", 2.0), ("sodium-hydroxide-10", 4.5)],
        vec![("lactic-acid-90", 2.0), ("sodium-hydroxide-10", 7.3)],
        vec![("lactic-acid-90", 0.3), ("Sodium lactate 60 %", 3.0)],
        vec![("citric-acid", 0.5), ("sodium-hydroxide-10", 1.5), ("Sodium benzoate", 0.4)],
    ];
    let pots: Vec<Pot> = makings.iter().map(|lines| pot(lines)).collect();
    let (laboratories, rounds) = (150, 3);
    let (mut held, mut error) = (vec![0_u32; rounds * pots.len()], vec![0.0; rounds * pots.len()]);
    for seed in 0..laboratories {
        let mut laboratory = Laboratory::new(seed);
        let mut experience = Experience::default();
        for at in 0..rounds * pots.len() {
            let pot = &pots[at % pots.len()];
            let ph = laboratory.reads(pot);
            let Foretold { ph: foretold, low, high, .. } = experience.foretell(pot).unwrap();
            held[at] += u32::from(low <= ph && ph <= high);
            error[at] += (ph - foretold).abs();
            learn(&mut experience, &format!("trial {at}"), pot.clone(), ph);
        }
    }
    let all: u32 = held.iter().sum();
    let count = f64::from(u32::try_from(laboratories as usize * held.len()).unwrap());
    println!("held {:.4} of {count}; errors {:.3?}", f64::from(all) / count, error);
    // Readings of one laboratory hang together: the laboratories count, not the readings. Four standard deviations of a trial's share.
    let far = 4.0 * (0.95_f64 * 0.05 / f64::from(u32::try_from(laboratories).unwrap())).sqrt();
    for (at, held) in held.iter().enumerate() {
        let share = f64::from(*held) / laboratories as f64;
        assert!((share - 0.95).abs() < far, "trial {at}: {share}");
    }
    assert!((f64::from(all) / count - 0.95).abs() < 0.02, "{}", f64::from(all) / count);
    let (first, last): (f64, f64) = (error[..4].iter().sum(), error[8..].iter().sum());
    assert!(last < 0.75 * first, "{first} {last}");
}

#[test]
fn the_material_that_is_wrong_is_blamed_and_not_another() {
    // Sodium lactate with three standard uncertainties less base bound in it than its paper says; the rest as written.
    let buffer = pot(&[("lactic-acid-90", 0.4), ("Sodium lactate 60 %", 6.0)]);
    let without = pot(&[("lactic-acid-90", 2.0), ("sodium-hydroxide-10", 4.5)]);
    let truth = |name: &str| if name.contains("bound base") { -3.0 / 2_f64.sqrt() } else { 0.0 };
    let mut experience = Experience::default();
    for at in 0..8 {
        let pot = if at % 2 == 0 { &buffer } else { &without };
        assert_eq!(
            learn(&mut experience, &format!("trial {at}"), pot.clone(), pot.reads(truth).unwrap()),
            None
        );
    }
    let numbers = experience.numbers();
    for number in &numbers {
        println!("{}", number.words);
    }
    let blamed: Vec<&str> =
        numbers.iter().filter(|one| one.differs).map(|one| one.material.as_str()).collect();
    assert_eq!(blamed, ["sodium-lactate-60"], "{numbers:#?}");
    let lactate = numbers.iter().find(|one| one.differs).unwrap();
    assert!(lactate.what.contains("bound"), "{}", lactate.what);
    // Three standard uncertainties of 2 % are 6 %.
    let (value, low, high) =
        (lactate.after.value.unwrap(), lactate.after.low.unwrap(), lactate.after.high.unwrap());
    assert!(low < -6.0 && -6.0 < high && value < -3.5, "{value} {low} {high}");
    assert!(lactate.trials.contains(&"trial 0".to_owned()), "{:?}", lactate.trials);
    assert!(!lactate.trials.contains(&"trial 7".to_owned()), "{:?}", lactate.trials);
}

#[test]
fn what_cannot_be_told_apart_is_said_to_be_so() {
    // Acid and base that never part: too much of one is too little of the other.
    let mut experience = Experience::default();
    for at in 0..4 {
        let pot = lactic(2.0, 4.5 + 0.1 * f64::from(at));
        let ph = still(&pot) + 0.12;
        learn(&mut experience, &format!("trial {at}"), pot, ph);
    }
    let numbers = experience.numbers();
    let soda = numbers.iter().find(|one| one.material == "sodium-hydroxide-10").unwrap();
    println!("{}", soda.words);
    assert!(soda.not_told_apart.iter().any(|other| other.contains("Lactic acid")), "{soda:#?}");
    assert!(soda.words.contains("cannot tell it apart"), "{}", soda.words);
}

#[test]
fn two_hundred_readings_leave_a_belief_that_still_foretells() {
    let pots =
        [lactic(2.0, 4.5), lactic(2.0, 7.3), pot(&[("lactic-acid-90", 0.4), ("Sodium lactate 60 %", 6.0)])];
    let mut experience = Experience::default();
    let mut chance = Chance(3);
    let mut widths = Vec::new();
    for at in 0..200 {
        let pot = &pots[at % 3];
        let foretold = experience.foretell(pot).unwrap();
        widths.push(foretold.high - foretold.low);
        learn(&mut experience, &format!("trial {at}"), pot.clone(), still(pot) + 0.04 * chance.normal());
    }
    // What belongs to a day, a weighing and a reading is never learned away: a band ends at its width.
    let mean = |widths: &[f64]| widths.iter().sum::<f64>() / widths.len() as f64;
    assert!(mean(&widths[150..]) < 0.8 * mean(&widths[..9]), "{widths:?}");
    assert!(widths[195..].iter().all(|width| *width > 0.13), "{widths:?}");
}
