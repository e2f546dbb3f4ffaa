//! What differences did to the pH: sharing out held against a game with a printed answer, doubts against constants really moved, the next trial
//! against the normal distribution it speaks of.

use levigate_assess::Known;
use levigate_assess::effects::{MOST_TOGETHER, Stand, next_trial, ph_stand, shared_out, weighing_doubt};
use levigate_facts::shipped;
use levigate_formula::sheet::Sheet;
use levigate_project::formula_file;
use levigate_project::workbench::assess::known;
use proptest::prelude::*;
use std::convert::Infallible;

fn bare(value: f64) -> Result<Stand, Infallible> {
    Ok(Stand { value, ..Stand::default() })
}

#[test]
fn a_runway_is_paid_for_by_those_who_need_its_length() {
    // Littlechild and Owen, Management Science 20 (1973) 370: who needs a piece of the runway shares its cost alike. Costs 1, 2, 4 and 7.
    let costs = [1.0, 2.0, 4.0, 7.0];
    let shares = shared_out(4, |marks| {
        bare(
            costs
                .iter()
                .zip(marks)
                .filter(|(_, mark)| **mark)
                .fold(0.0, |most: f64, (cost, _)| most.max(*cost)),
        )
    });
    let shares = shares.unwrap_or_default();
    let printed = [0.25, 0.25 + 1.0 / 3.0, 0.25 + 1.0 / 3.0 + 1.0, 0.25 + 1.0 / 3.0 + 1.0 + 3.0];
    for (share, printed) in shares.iter().zip(printed) {
        assert!((share.value - printed).abs() < 1e-12, "{} {printed}", share.value);
    }
}

proptest! {
    #[test]
    fn what_adds_up_is_found_again_however_many_there_are(
        parts in proptest::collection::vec(-3.0..3.0_f64, 1..14), with in -1.0..1.0_f64,
    ) {
        let many = parts.len();
        let shares = shared_out(many, |marks| {
            let sum: f64 = parts.iter().zip(marks).filter(|(_, mark)| **mark).map(|(part, _)| part).sum();
            let pair = if many > 1 && marks[0] && marks[many - 1] { with } else { 0.0 };
            bare(sum + pair)
        });
        let shares = shares.unwrap_or_default();
        for (at, (share, part)) in shares.iter().zip(&parts).enumerate() {
            let of_the_pair = many > 1 && (at == 0 || at == many - 1);
            let expected = part + if of_the_pair { 0.5 * with } else { 0.0 };
            prop_assert!((share.value - expected).abs() < 1e-9, "{} of {many} ({MOST_TOGETHER}): {} {expected}", at, share.value);
        }
    }
}

fn sheet(base: &str, benzoate: &str) -> Sheet {
    let text = include_str!("../../examples/night-toner-mandelic.toml")
        .replace("to_ph = 3.8", &format!("percent = {base}"))
        .replace("percent = 0.35", &format!("percent = {benzoate}"));
    formula_file::read("toner", &text).expect("it is a formula").sheet
}

/// Its pH with the constant of a species moved by so much.
fn moved(sheet: &Sheet, known: &Known<'_>, species: &str, shift: f64) -> f64 {
    let (_, _, mixture) = levigate_assess::solved(sheet, known).expect("it has an equilibrium");
    let mut workspace = mixture.workspace.clone();
    let system = mixture.system.with_shifted_constant(species, shift);
    system.solve(&mixture.totals, mixture.neutral_molality, &mut workspace).expect("it has one here too");
    workspace.ph()
}

#[test]
fn a_change_feels_a_constant_as_far_as_it_moves_one_side_more_than_the_other() {
    let facts = shipped().expect("the facts are whole");
    let known = known(&facts);
    let (from, to) = (sheet("2.0", "0.35"), sheet("4.5", "0.70"));
    let (before, after) = (ph_stand(&from, &known).expect("a pH"), ph_stand(&to, &known).expect("a pH"));
    let change = Stand::change(&before, &after);
    let (_, _, mixture) = levigate_assess::solved(&from, &known).expect("it has an equilibrium");
    let mut felt = 0;
    for fact in mixture.system.species().iter().filter(|fact| fact.uncertainty_log10 > 0.0) {
        let pull = change.pulls.get(&format!("constant of {}", fact.name)).copied().unwrap_or(0.0);
        // By a hundredth of the doubt, so that what is first order is first order.
        let part = 0.01 * fact.uncertainty_log10;
        let really =
            (moved(&to, &known, &fact.name, part) - moved(&from, &known, &fact.name, part)) - change.value;
        assert!(
            (100.0 * really - pull).abs() < 2e-3 * pull.abs() + 2e-5,
            "{}: {pull} {}",
            fact.name,
            100.0 * really
        );
        felt += usize::from(pull.abs() > 1e-3);
    }
    assert!(felt >= 1, "a test that feels nothing tests nothing");
    // What both share cancels: the change is known better than either pH.
    assert!(change.uncertainty() < before.uncertainty().min(after.uncertainty()));
    assert!(change.value > 0.3, "{}", change.value);
}

#[test]
fn a_line_weighed_off_moves_the_ph_by_what_the_doubt_of_weighing_says() {
    let facts = shipped().expect("the facts are whole");
    let known = known(&facts);
    let relative = 0.005;
    let at = |factor: f64, which: &str| {
        let base = if which == "base" { 3.0 * factor } else { 3.0 };
        let text = include_str!("../../examples/night-toner-mandelic.toml")
            .replace("to_ph = 3.8", &format!("percent = {base:.9}"));
        let scaled = |text: String, was: f64, line: &str| {
            let factor = if which == line { factor } else { 1.0 };
            text.replace(&format!("percent = {was:.2}\n"), &format!("percent = {:.9}\n", was * factor))
        };
        let text = scaled(scaled(scaled(text, 0.35, "benzoate"), 0.20, "two"), 3.00, "betaine");
        let text = if which == "acid" {
            text.replace("active_percent = 5.00", &format!("active_percent = {:.9}", 5.0 * factor))
        } else {
            text
        };
        ph_stand(&formula_file::read("toner", &text).expect("it is a formula").sheet, &known)
            .expect("a pH")
            .value
    };
    let plain = at(1.0, "none");
    let doubt = weighing_doubt(
        &formula_file::read(
            "toner",
            &include_str!("../../examples/night-toner-mandelic.toml").replace("to_ph = 3.8", "percent = 3.0"),
        )
        .expect("it is a formula")
        .sheet,
        &known,
        relative,
    )
    .expect("a doubt");
    // The large ones by hand; sorbate and chelant share a percentage and move together here, which only makes the sum larger.
    let squares: f64 = ["base", "acid", "benzoate", "two"]
        .iter()
        .map(|which| ((at(1.0 + 0.1 * relative, which) - plain) / 0.1).powi(2))
        .sum();
    assert!((doubt / squares.sqrt() - 1.0).abs() < 0.05, "{doubt} {}", squares.sqrt());
}

#[test]
fn the_next_trial_is_the_one_a_normal_distribution_gives() {
    // Three effects, independent, their sum known; a fourth reading of one of them with noise: conditioned one after the other.
    let deviations = [0.10, 0.30, 0.20];
    let reading = 0.05;
    let next = next_trial(&deviations, reading).expect("there is one to advise");
    let all: f64 = deviations.iter().map(|one| one * one).sum();
    let given_sum = |at: usize| {
        let own = deviations[at] * deviations[at];
        own - own * own / all
    };
    let best = (0..3).max_by(|a, b| given_sum(*a).total_cmp(&given_sum(*b))).expect("three");
    assert_eq!((next.difference, best), (1, 1));
    let noise = 2.0 * reading * reading;
    let then = given_sum(1) - given_sum(1).powi(2) / (given_sum(1) + noise);
    assert!((next.open - given_sum(1).sqrt()).abs() < 1e-12);
    assert!((next.open_then - then.sqrt()).abs() < 1e-12);
    // One alone is known once the sum is; what a reading cannot see is not advised.
    assert_eq!(next_trial(&deviations[..1], reading), None);
    assert_eq!(next_trial(&deviations, 1.0), None);
    assert_eq!(next_trial(&[0.0; 3], reading), None);
}
