//! `uncertainty`: a formula as it is, one with its balances and lots, one that names a formula file; complaints.

use crate::program::{run, run_with};
use serde_json::Value;

/// A toner with its own balances, prices, meter and a lot.
pub(crate) const TONER: &str = r#"
[product]
name = "Citrate toner"
type = "toner"
site = "face"
leave_on = true
[target]
ph = [4.1, 4.3]
cost_per_kg = { amount = 0.50, currency = "EUR" }
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
[[price]]
material = "Water"
per_kg = 0.10
currency = "EUR"
date = "2026-01-15"
[[price]]
material = "Sodium benzoate"
per_kg = 6.20
currency = "EUR"
date = "2026-01-15"
[[price]]
material = "Citric acid"
per_kg = 4.00
currency = "EUR"
date = "2026-01-15"
[uncertainty]
batch_g = 200
price_half_width_percent = 10
meter_ph = 0.02
[[uncertainty.balance]]
name = "platform"
readability_g = 0.1
[[uncertainty.balance]]
readability_g = 0.01
lines = [2, 3]
[[uncertainty.lot]]
line = 3
assay_percent = 99.8
standard = 0.1
"#;

#[test]
fn a_toner_is_told_with_all_it_brings() {
    let said = run_with(&["uncertainty", "-", "--draws", "20000", "--json"], TONER.as_bytes());
    assert_eq!(said.code, 0, "{}", said.err);
    let answer = said.json();
    let result = |key: &str| {
        let results = answer["results"].as_array().unwrap();
        results.iter().find(|one| one["key"] == key).cloned().unwrap_or(Value::Null)
    };
    // The price of water and of benzoate alone make the cost: 99.55 % at 0.10, 0.30 % at 6.20, 0.15 % at 4.00.
    let cost = result("cost");
    let value = cost["propagated"]["value"].as_f64().unwrap();
    assert!((value - (0.9955 * 0.10 + 0.003 * 6.20 + 0.0015 * 4.00)).abs() < 1e-4, "{value}");
    // An even spread of a tenth: 0.1/sqrt 3 of each price, added as squares; weighing adds little.
    let prices = [0.9955 * 0.10, 0.003 * 6.20, 0.0015 * 4.00].map(|part: f64| (part * 0.1).powi(2) / 3.0);
    let standard = cost["propagated"]["terms"][0]["value"].as_f64().unwrap();
    assert!((standard / prices.iter().sum::<f64>().sqrt() - 1.0).abs() < 0.01, "{standard}");
    assert!(cost["target"]["as_predicted"]["value"].as_f64().unwrap() > 99.0);
    let read = |key: &str| result(key)["drawn"].clone();
    let width = |one: Value| one["high"].as_f64().unwrap() - one["low"].as_f64().unwrap();
    assert!(width(read("ph-read")) > width(read("ph")));
    assert_eq!(answer["lines"][0]["balance"], "platform");
    assert_eq!(answer["lines"][1]["balance"], "0.01 g balance");
    let helped = &answer["helps"][0];
    assert!(helped["remedies"].as_array().unwrap().len() >= 2, "{helped}");
    // The same seed gives the same digits, another one others.
    let again = run_with(&["uncertainty", "-", "--draws", "20000", "--json"], TONER.as_bytes());
    assert_eq!(said.out, again.out);
    let other =
        run_with(&["uncertainty", "-", "--draws", "20000", "--seed", "2", "--json"], TONER.as_bytes());
    assert_ne!(said.out, other.out);
}

#[test]
fn a_class_counts_where_there_is_no_certificate_and_buoyancy_where_it_shows() {
    let ask = |text: &str| {
        let said = run_with(&["uncertainty", "-", "--draws", "2000", "--json"], text.as_bytes());
        assert_eq!(said.code, 0, "{}", said.err);
        said.json()
    };
    let bare = ask(TONER);
    let of_line =
        |answer: &Value, line: usize| answer["lines"][line]["expanded_percent"]["value"].as_f64().unwrap();
    let fine = "readability_g = 0.01\nlines = [2, 3]\n";
    let classed =
        ask(&TONER.replace(fine, "readability_g = 0.01\nclass = \"II\"\ninterval_g = 0.1\nlines = [2, 3]\n"));
    // 0.6 g of benzoate: s = d = 0.01, two roundings, and an even spread of 2 * 0.5 * 0.1 g: u^2 = 1e-4 (1 + 1/6) + 0.01/3.
    let u = (1e-4_f64 * (1.0 + 1.0 / 6.0) + 0.01 / 3.0).sqrt();
    assert!(
        (of_line(&classed, 1) / (100.0 * 1.959_964 * u / 0.6) - 1.0).abs() < 0.005,
        "{}",
        of_line(&classed, 1)
    );
    assert!(of_line(&bare, 1) < 0.3 * of_line(&classed, 1));
    assert!(classed["counted"].to_string().contains("class II"), "{}", classed["counted"]);
    assert_eq!(bare["buoyancy"]["applied"], false, "{}", bare["buoyancy"]);
    assert!(bare["not_counted"].to_string().contains("below the division"), "{}", bare["not_counted"]);
    // A tenth of glycerin in 100 kg on a balance of 0.01 g: that it floats less than the rest shows.
    let (heavy, _) = TONER.split_once("[[uncertainty.lot]]").unwrap();
    let heavy = heavy.replace("percent = 0.15", "percent = 10").replace("\"Citric acid\"", "\"Glycerin\"");
    let heavy = ask(&heavy.replace("batch_g = 200", "batch_g = 100000"));
    assert_eq!(heavy["buoyancy"]["applied"], true, "{}", heavy["buoyancy"]);
    assert!(heavy["counted"].to_string().contains("air buoyancy"), "{}", heavy["counted"]);
    let line = &heavy["lines"][2];
    assert_eq!(line["grams"]["value"].as_f64().unwrap(), 10_000.0, "the reading stays what is weighed");
}

#[test]
fn a_larger_batch_is_surer_line_by_line() {
    let lines = |batch: &str| {
        let said = run(&[
            "uncertainty",
            "examples/night-toner-mandelic.toml",
            "--batch",
            batch,
            "--draws",
            "2000",
            "--json",
        ]);
        assert_eq!(said.code, 0, "{}", said.err);
        let lines = said.json()["lines"].as_array().unwrap().clone();
        lines.iter().map(|line| line["expanded_percent"]["value"].as_f64().unwrap()).collect::<Vec<f64>>()
    };
    for (small, large) in lines("200").iter().zip(lines("2000")) {
        assert!((small / large - 10.0).abs() < 0.01, "{small} {large}");
    }
}

#[test]
fn a_page_says_what_helps_and_what_is_not_in_it() {
    let said = run_with(&["uncertainty", "-", "--draws", "2000"], TONER.as_bytes());
    assert_eq!(said.code, 0, "{}", said.err);
    for words in [
        "Citrate toner",
        "Targets",
        "Where it comes from",
        "What would help",
        "stock solution",
        "Not in it",
        "spillage",
    ] {
        assert!(said.out.contains(words), "{words}\n{}", said.out);
    }
    assert!(!said.out.contains("NaN") && !said.out.contains("inf"));
}

#[test]
fn another_file_may_hold_the_formula() {
    let folder = tempfile::tempdir().unwrap();
    let (formula, question) = TONER.split_once("[uncertainty]").unwrap();
    std::fs::write(folder.path().join("toner.toml"), formula).unwrap();
    let asked = folder.path().join("asked.toml");
    std::fs::write(&asked, format!("[uncertainty]\nformula = \"toner.toml\"{question}")).unwrap();
    let asked = asked.to_string_lossy().into_owned();
    let apart = run(&["uncertainty", &asked, "--draws", "2000", "--json"]);
    assert_eq!(apart.code, 0, "{}", apart.err);
    let together = run_with(&["uncertainty", "-", "--draws", "2000", "--json"], TONER.as_bytes());
    assert_eq!(apart.out, together.out);
}

#[test]
fn complaints_have_their_line_and_a_way_out() {
    let change = |from: &str, to: &str| {
        assert!(TONER.contains(from));
        run_with(&["uncertainty", "-"], TONER.replace(from, to).as_bytes())
    };
    for (from, to, words) in [
        ("lines = [2, 3]", "lines = [2, 9]", "line 9"),
        ("lines = [2, 3]", "lines = [0]", "count the lines of the formula from 1"),
        ("standard = 0.1", "", "half_width or standard"),
        ("batch_g = 200", "batch_g = 0", "batch_g is 0"),
        ("meter_ph = 0.02", "meter = 0.02", "meter"),
        ("readability_g = 0.1\n", "readability_g = 0.1\nclass = \"V\"\n", "class"),
        ("readability_g = 0.1\n", "readability_g = 0.1\ninterval_g = 1\n", "without a class"),
        ("readability_g = 0.1", "readability_g = 0", "readability"),
        ("percent = 0.30", "percent = 0,30", "standard input:17"),
    ] {
        let said = change(from, to);
        assert_eq!(said.code, 2, "{to}\n{}", said.out);
        assert!(said.err.contains(words), "{to}: {words}\n{}", said.err);
    }
    let said = run_with(&["uncertainty", "-", "--draws", "3"], TONER.as_bytes());
    assert_eq!(said.code, 2);
    assert!(said.err.contains("3 draws"), "{}", said.err);
}
