//! What trials and certificates taught, for people: in one sentence, with the numbers that moved.

use super::super::foresight::FlowNumber;
use super::FlowBook;
use crate::formula_file;
use crate::workbench::assess::facts_for;
use levigate_assess::flow::Experience;
use levigate_assess::flow::learning::{Lesson, Story};
use levigate_facts::Facts;
use levigate_measure::Outcome;
use serde::Serialize;

/// What the readings of a trial taught.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FlowLesson {
    /// In one sentence.
    pub words: String,
    /// Numbers it moved, most moved first.
    pub moved: Vec<MovedNumber>,
}

/// A number that a trial moved.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct MovedNumber {
    /// What of.
    pub of: String,
    /// The number, in words.
    pub number: String,
    /// Before the trial.
    pub before: Outcome,
    /// After it.
    pub after: Outcome,
}

/// A lesson, and the trial or the certificate that gave it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TaughtBy {
    /// In words: `trial 2 of Cooling hand gel`, `certificate of Carbomer, lot 7`.
    pub source: String,
    /// The formula the trial is of; none for a certificate.
    pub formula: Option<String>,
    /// Number of the trial; none for a certificate.
    pub number: Option<u32>,
    /// The lesson.
    #[serde(flatten)]
    pub lesson: FlowLesson,
}

/// A lesson with the raw materials it speaks of.
#[derive(Clone, Debug)]
pub(super) struct Told {
    pub(super) materials: Vec<String>,
    pub(super) taught: TaughtBy,
}

impl FlowBook {
    /// Every number that viscosities moved, as it stands now, with what it was before the first of them; of one formula where its text is given.
    pub(in crate::workbench::trials) fn numbers(
        &self,
        facts: &Facts,
        formula: Option<&str>,
    ) -> Vec<FlowNumber> {
        let materials = formula.map(|text| materials_of(facts, ("formula", text)));
        let speaks = |told: &&Told| {
            materials.as_ref().is_none_or(|wanted| told.materials.iter().any(|one| wanted.contains(one)))
        };
        let mut found: Vec<FlowNumber> = Vec::new();
        for told in self.told.iter().filter(speaks) {
            for moved in &told.taught.lesson.moved {
                let source = told.taught.source.clone();
                let same = |one: &&mut FlowNumber| one.of == moved.of && one.number == moved.number;
                // What the laws miss in "this formula" is another number in another formula.
                if moved.of == "this formula" {
                    continue;
                }
                match found.iter_mut().find(same) {
                    Some(one) => {
                        one.after = moved.after.clone();
                        if !one.from.contains(&source) {
                            one.from.push(source);
                        }
                    }
                    None => found.push(FlowNumber {
                        of: moved.of.clone(),
                        number: moved.number.clone(),
                        before: moved.before.clone(),
                        after: moved.after.clone(),
                        from: vec![source],
                    }),
                }
            }
        }
        found
    }

    /// What was learned about the thickeners of a formula, and from which trial or certificate, in the order it came; nothing for a text that
    /// is no formula.
    #[must_use]
    pub fn taught_about(&self, facts: &Facts, formula: (&str, &str)) -> Vec<TaughtBy> {
        let materials = materials_of(facts, formula);
        let speaks = |told: &&Told| told.materials.iter().any(|one| materials.contains(one));
        self.told.iter().filter(speaks).map(|told| told.taught.clone()).collect()
    }

    /// Learns from the certificate of a lot.
    pub(super) fn learn_certificate(&mut self, certificate: &Lesson<'_>) {
        let (lesson, materials) = learned(&mut self.experience, certificate);
        let taught = TaughtBy { source: certificate.trial.clone(), formula: None, number: None, lesson };
        self.told.push(Told { materials, taught });
    }
}

/// Keys of the raw materials of a formula; nothing for a text that is no formula.
fn materials_of(facts: &Facts, (file, text): (&str, &str)) -> Vec<String> {
    let Ok(formula) = formula_file::read(file, text) else { return Vec::new() };
    let Ok(facts) = facts_for(facts, file, &formula) else { return Vec::new() };
    let lines = formula.sheet.lines();
    lines
        .filter_map(|(_, line)| facts.names.resolve_material(&line.material).ok().map(str::to_owned))
        .collect()
}

/// Learns from a trial or a certificate: what that taught, and the raw materials it spoke of.
pub(super) fn learned(experience: &mut Experience, lesson: &Lesson<'_>) -> (FlowLesson, Vec<String>) {
    let story = experience.learn(lesson);
    (told_as(&story, lesson.flowing.temperature_c), story.materials)
}

fn told_as(story: &Story, celsius: f64) -> FlowLesson {
    let words = match (&story.refused, story.readings.len()) {
        (Some(why), _) => format!("Nothing was learned from it: {why}."),
        (None, count) => {
            let values = if count == 1 { "The value".to_owned() } else { format!("The {count} values") };
            let surprise = story.readings.iter().map(|one| one.surprise.abs()).fold(0.0, f64::max);
            let so = if story.readings.iter().any(|one| one.contradicts()) {
                "against what was believed; look at the reading, the lot and the record before trusting either"
            } else if surprise > 1.0 {
                "within what was left open, though not near the middle"
            } else {
                "near what was expected"
            };
            format!("{values} read at {celsius} °C lay {so} ({surprise:.1} standard deviations).")
        }
    };
    let moved = story
        .moved
        .iter()
        .map(|one| MovedNumber {
            of: one.of.clone(),
            number: one.number.to_owned(),
            before: one.stated(0),
            after: one.stated(1),
        })
        .collect();
    FlowLesson { words, moved }
}
