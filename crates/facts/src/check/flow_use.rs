//! Stages and words: keys, words that mean one thing, bands that ask for something.

use super::{Desk, Flaw};
use std::collections::BTreeMap;

pub(super) fn look(desk: &mut Desk<'_>) {
    let facts = desk.facts;
    for key in facts.flow_use.stages.keys() {
        desk.kebab("life_stage", key);
    }
    let mut said = BTreeMap::new();
    for (key, word) in &facts.flow_use.words {
        desk.kebab("flow_word", key);
        if word.band.is_empty() {
            desk.report("flow_word", key, "band", Flaw::Empty);
        }
        for band in &word.band {
            match (band.low, band.high) {
                (None, None) => desk.report("flow_word", key, "band", Flaw::Empty),
                (Some(low), Some(high)) if low > high => {
                    desk.report("flow_word", key, "band", Flaw::Order { low, high });
                }
                _ => {}
            }
        }
        if let Some(other) = said.insert(word.words.to_lowercase(), key) {
            let flaw = Flaw::NameShared { name: word.words.clone(), other: other.clone() };
            desk.report("flow_word", key, "words", flaw);
        }
    }
}
