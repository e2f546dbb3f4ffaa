//! The procedures of two versions side by side.

#![expect(clippy::unwrap_used, reason = "a test that cannot go on shall stop where it is")]

use jiff::civil::date;
use levigate_assess::procedure::StepKind;
use levigate_facts::{Facts, shipped};
use levigate_project::workbench::difference::{Change, FormulaDifference, difference};
use std::sync::LazyLock;

static FACTS: LazyLock<Facts> = LazyLock::new(|| shipped().unwrap());

const OLD: &str = r#"
[product]
name = "Test toner"
type = "toner"
site = "face"
leave_on = true
markets = ["eu"]

[target]
ph = [4.0, 4.6]

[[phase]]
name = "A"

[[phase.line]]
material = "Water"
remainder = true

[[phase.line]]
material = "Glycerin"
percent = 3.00

[[phase.line]]
material = "Sodium benzoate"
percent = 0.40

[[phase]]
name = "B"

[[phase.line]]
material = "Citric acid"
to_ph = 4.4
"#;

fn between(left: &str, right: &str) -> FormulaDifference {
    difference(&FACTS, date(2026, 11, 24), "eu", ("old", left), ("new", right)).unwrap()
}

fn changes(right: &str) -> FormulaDifference {
    between(OLD, right)
}

#[test]
fn a_step_that_came_moved_or_is_done_otherwise_is_told_by_its_kind_and_what_goes_in() {
    let same = changes(OLD);
    assert!(!same.steps.is_empty() && same.steps.iter().all(|step| step.change == Change::Same));
    // A gum brings a slurry in part of the glycerin, its dispersion, swelling and de-airing; the first addition takes less glycerin.
    let gum = "[[phase.line]]\nmaterial = \"Xanthan gum\"\npercent = 0.3\n\n[[phase]]\nname = \"B\"";
    let with_gum = OLD.replace("3.00", "9.00").replace("[[phase]]\nname = \"B\"", gum);
    let found = changes(&with_gum);
    let of = |change: Change| -> Vec<StepKind> {
        found.steps.iter().filter(|step| step.change == change).map(|step| step.does).collect()
    };
    for kind in [StepKind::Premix, StepKind::Disperse, StepKind::Hydrate, StepKind::DeAir] {
        assert!(of(Change::Added).contains(&kind), "{kind:?}: {:?}", found.steps);
    }
    assert!(of(Change::Removed).is_empty(), "{:?}", found.steps);
    let numbers: Vec<usize> = found.steps.iter().filter_map(|step| step.right_number).collect();
    assert_eq!(numbers, (1..=numbers.len()).collect::<Vec<_>>());
    // The other way round the same steps are gone, each where it was.
    let back = between(&with_gum, OLD);
    let gone: Vec<StepKind> =
        back.steps.iter().filter(|step| step.change == Change::Removed).map(|step| step.does).collect();
    assert_eq!(gone.len(), of(Change::Added).len());
    assert!(back.steps.last().unwrap().change != Change::Removed, "the check stays the last");
    // Steps of one's own in place of the proposal.
    let own = format!(
        "{OLD}\n[[step]]\ndoes = \"add\"\nnote = \"All at once\"\nlines = [{{ material = \"Water\" }}, {{ material = \"Glycerin\" }}, {{ material = \"Sodium benzoate\" }}, {{ material = \"Citric acid\" }}]\n"
    );
    let found = changes(&own);
    let first = &found.lines[0];
    assert_eq!(
        (first.material.as_str(), first.left.as_str(), first.right.as_str()),
        ("procedure", "proposed", "1 step of its own")
    );
    assert!(found.steps.iter().any(|step| step.right.starts_with("All at once")));
}
