//! A pH target that is read diluted or at another temperature: the product at the edges of the window is the same product.

use jiff::civil::date;
use levigate_assess::reading::PhReading;
use levigate_facts::Facts;
use levigate_project::workbench::assess::assess;

const READ: &str = "ph_read = { method = \"10 % in water\", temperature_c = 40 }";

/// The night toner with another target, its base led to a pH neat at 25 C.
fn toner(facts: &Facts, target: &str, to_ph: f64) -> PhReading {
    let path = format!("{}/../examples/night-toner-mandelic.toml", env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(path).expect("the example is there");
    let text = text.replace("ph = [3.6, 4.0]", target).replace("to_ph = 3.8", &format!("to_ph = {to_ph:.9}"));
    let assessed = assess(facts, date(2026, 11, 24), "eu", "toner", &text).expect("it is a formula");
    assessed.assessment.ph
}

fn value(outcome: Option<&levigate_measure::Outcome>) -> f64 {
    outcome.and_then(|outcome| outcome.value).expect("a value")
}

#[test]
fn read_as_usual_the_target_stands_as_typed() {
    let facts = levigate_facts::shipped().expect("the facts are whole");
    let ph = toner(
        &facts,
        "ph = [3.6, 4.0]\nph_read = { method = \"neat\", temperature_c = 25.0, age_h = 24 }",
        3.8,
    );
    assert_eq!((ph.target, ph.target_neat), (Some([3.6, 4.0]), Some([3.6, 4.0])));
    assert!(ph.at_target.is_none() && ph.target_read.is_none());
}

#[test]
fn a_tenth_at_25_c_is_the_tenth_that_is_always_told() {
    let facts = levigate_facts::shipped().expect("the facts are whole");
    let ph = toner(&facts, "ph = [3.7, 4.2]\nph_read = { method = \"10 % in water\" }", 3.8);
    let told = value(Some(&ph.ten_percent));
    assert!((value(ph.at_target.as_ref()) - told).abs() < 1e-6);
    assert_eq!(ph.target_read.as_deref(), Some("10 % in water, 25 \u{b0}C"));
}

#[test]
fn a_product_led_to_the_carried_edge_reads_the_edge_that_was_typed() {
    // Led there by the formula's own base, which brings sodium and water; the edges are carried by base alone.
    let facts = levigate_facts::shipped().expect("the facts are whole");
    let target = format!("ph = [3.6, 4.4]\n{READ}");
    let edges = toner(&facts, &target, 3.8).target_neat.expect("acid or base leads there");
    for (edge, typed) in edges.into_iter().zip([3.6, 4.4]) {
        let ph = toner(&facts, &target, edge);
        let read = value(ph.at_target.as_ref());
        assert!((read - typed).abs() < 0.01, "neat {edge} reads {read}, not {typed}");
        assert!((read - edge).abs() > 0.03, "the two windows are not the same: {edge} {read}");
    }
}

#[test]
fn the_finding_speaks_of_the_ph_as_it_is_read() {
    let facts = levigate_facts::shipped().expect("the facts are whole");
    let path = format!("{}/../examples/night-toner-mandelic.toml", env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(path).expect("the example is there");
    let text = text.replace("ph = [3.6, 4.0]", &format!("ph = [4.6, 4.8]\n{READ}"));
    let assessed = assess(&facts, date(2026, 11, 24), "eu", "toner", &text).expect("it is a formula");
    let found =
        assessed.assessment.findings.iter().find(|one| one.code == "ph-outside-target").expect("told");
    assert!(
        found.found.contains("read 10 % in water, 40 \u{b0}C lies outside the window 4.6 to 4.8"),
        "{}",
        found.found
    );
}
