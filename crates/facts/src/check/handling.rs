//! Handling: keys, raw materials and substances that exist, ways to stir that exist, sentences that say something.

use super::{Desk, Flaw};
use levigate_assess::procedure::handling::{Asks, Who};

pub(super) fn look(desk: &mut Desk<'_>) {
    let handling = &desk.facts.handling;
    for (key, rule) in &handling.rules {
        desk.kebab("handling_rule", key);
        if rule.why.trim().is_empty() || rule.breaks.trim().is_empty() {
            desk.report("handling_rule", key, "why", Flaw::Empty);
        }
        let meant: Vec<&Who> = match &rule.asks {
            Asks::Before { first, then } => vec![first, then],
            Asks::With { what, carriers, .. } => std::iter::once(what).chain(carriers).collect(),
            Asks::AtLeast { what, .. } | Asks::KeepBelow { what, .. } => vec![what],
            Asks::Needs { .. } => Vec::new(),
        };
        meant.into_iter().for_each(|who| substances(desk, "handling_rule", key, who));
    }
    for (key, record) in &handling.swelling {
        desk.kebab("swelling", key);
        substances(desk, "swelling", key, &record.who);
        for way in [&record.disperse_stirring, &record.hydrate_stirring] {
            if !handling.stirring.contains_key(way) {
                desk.report("swelling", key, "disperse_stirring", Flaw::Empty);
            }
        }
    }
    for key in handling.stirring.keys() {
        desk.kebab("stirring", key);
    }
    for (key, question) in &handling.questions {
        desk.kebab("handling_question", key);
        substances(desk, "handling_question", key, &question.who);
        for answer in question.answers.iter().filter(|one| !desk.facts.library.materials.contains_key(*one)) {
            let flaw = Flaw::UnknownMaterial { material: answer.clone() };
            desk.report("handling_question", key, "answers", flaw);
        }
    }
    for key in handling.checks.keys() {
        desk.kebab("step_check", key);
    }
}

fn substances(desk: &mut Desk<'_>, table: &'static str, key: &str, who: &Who) {
    for substance in who.holds.iter().chain(&who.holds_any).chain(&who.holds_no) {
        if !desk.facts.library.substances.contains_key(substance) {
            let flaw = Flaw::UnknownSubstance { substance: substance.clone() };
            desk.report(table, key, "asks", flaw);
        }
    }
}
