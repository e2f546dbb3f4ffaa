//! `flow level`: from a viscosity back to a level, and what it says where there is none.

use crate::program::run;

const GEL: &str = "examples/scenarios/5-hypromellose-clear-gel.toml";

fn number(of: &serde_json::Value, key: &str) -> f64 {
    of[key].as_f64().unwrap_or(f64::NAN)
}

#[test]
fn the_level_gives_back_the_viscosity_it_was_asked_for() {
    let said = run(&["flow", "level", GEL, "--target", "4000", "--shear", "1", "--json"]);
    assert_eq!(said.code, 0, "{}", said.err);
    let answer = said.json();
    let level = &answer["level"];
    assert!(number(level, "low") < number(level, "value") && number(level, "value") < number(level, "high"));
    let ladder = answer["ladder"].as_array().unwrap();
    assert_eq!(ladder.len(), 3, "a datasheet alone leaves the level open");
    let viscosities: Vec<f64> = ladder.iter().map(|rung| number(&rung["viscosity"], "value")).collect();
    assert!(viscosities[0] < 4000.0 && viscosities[2] > 4000.0, "the ladder brackets it: {viscosities:?}");
    let asked_more = run(&["flow", "level", GEL, "--target", "8000", "--shear", "1", "--json"]).json();
    assert!(number(&asked_more["level"], "value") > number(level, "value"));
}

#[test]
fn a_level_outside_the_evidence_says_so() {
    let notes = |target: &str| {
        let said = run(&["flow", "level", GEL, "--target", target, "--shear", "1", "--json"]);
        let level = said.json()["level"].clone();
        let outside =
            level["notes"].as_array().unwrap().iter().any(|note| note["code"] == "outside-evidence");
        (number(&level, "value"), outside)
    };
    // The evidence of hypromellose ends at 3 g in a decilitre of water phase.
    let (usual, inside) = notes("4000");
    assert!(usual < 2.5 && !inside, "{usual}");
    let (much, outside) = notes("1000000");
    assert!(much > 3.2 && outside, "{much}");
}

#[test]
fn what_cannot_be_reached_is_refused_and_what_is_not_there_is_said() {
    let said = run(&["flow", "level", GEL, "--target", "1e12"]);
    assert_eq!(said.code, 0, "{}", said.err);
    assert!(said.out.contains("no level between"), "{}", said.out);
    for (arguments, code) in [
        (&["--material", "Carbomer"][..], "not-in-formula"),
        (&["--target", "-5"][..], "no-viscosity-wanted"),
    ] {
        let said = run(&[&["flow", "level", GEL][..], arguments].concat());
        assert_eq!(said.code, 2, "{}", said.out);
        assert!(said.err.contains(code), "{}", said.err);
    }
    let said = run(&["flow", "level", GEL, "--material", "Glycerin"]);
    assert!(said.out.contains("no thickener"), "{}", said.out);
}
