//! What a pH that moved stands for: the acid or base that would have had to form by the formula's own buffer, and what may stand behind it.

use super::StudyRecords;
use super::practice::{Cause, StudyPractice};
use super::series::judge;
use super::trend::Unanswered;
use crate::diagnostic::Diagnostic;
use crate::formula_file;
use crate::records::{FormulaVersion, Kept, START};
use crate::workbench::assess::{diagnose, facts_for, known};
use levigate_assess::ph_shift::{PhShift, ph_shift};
use levigate_facts::Facts;
use serde::Serialize;

/// What a pH that moved stands for.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct StudyShift {
    /// Batch with the largest shift.
    pub batch: String,
    /// The last pull it was read at, in words.
    pub pull: String,
    /// In numbers.
    pub shift: Option<PhShift>,
    /// What may stand behind it, of what is in the product and of what may be in any.
    pub causes: Vec<Cause>,
    /// Why there are no numbers.
    pub refused: Option<Unanswered>,
}

/// The largest shift of a pH between the start and the last pull at a condition, over the batches. `None` where the plan reads no pH so
/// named.
///
/// # Errors
/// The text of the version cannot be read or has no answer.
pub fn study_shift(
    facts: &Facts,
    records: &StudyRecords,
    version: &Kept<FormulaVersion>,
    (attribute, pack, condition): (&str, &str, &str),
) -> Result<Option<StudyShift>, Vec<Diagnostic>> {
    let plan = records.plan();
    let known_attribute = plan.attributes.iter().any(|it| it.name == attribute);
    if !known_attribute || levigate_formula::names::folded(attribute) != "ph" {
        return Ok(None);
    }
    let read: Vec<_> = records
        .counted()
        .filter(|kept| kept.what.attribute == attribute && kept.what.pack == pack)
        .map(|kept| judge(records, kept))
        .collect();
    let mut largest: Option<(f64, f64, String, String)> = None;
    for batch in &plan.batches {
        let of = || read.iter().filter(|judged| judged.kept.what.batch == batch.name);
        let start = of().find(|judged| judged.kept.what.condition == START).and_then(|judged| judged.value);
        let last = of()
            .filter(|judged| judged.kept.what.condition == condition && judged.value.is_some())
            .max_by(|one, other| one.months.total_cmp(&other.months));
        let (Some(start), Some(last)) = (start, last) else { continue };
        let Some(now) = last.value else { continue };
        if largest.as_ref().is_none_or(|(from, to, ..)| (now - start).abs() > (to - from).abs()) {
            let pull =
                last.kept.what.pull.map_or_else(|| last.kept.what.on.to_string(), |pull| pull.to_string());
            largest = Some((start, now, batch.name.clone(), pull));
        }
    }
    let Some((from, to, batch, pull)) = largest else {
        let refused = Unanswered::new(
            "the pH of no batch was read both at the start and at this condition",
            "enter the start and a pull",
        );
        return Ok(Some(StudyShift {
            batch: String::new(),
            pull: String::new(),
            shift: None,
            causes: Vec::new(),
            refused: Some(refused),
        }));
    };
    let practice = StudyPractice::shipped();
    let formula = formula_file::read("formula", &version.what.text)?;
    let facts = facts_for(facts, "formula", &formula)?;
    let shift = ph_shift(&formula.sheet, &known(&facts), (from, to), practice.shift.reading_ph)
        .map_err(|error| diagnose(&formula, &error))?;
    let way = if to < from { "acid" } else { "base" };
    let causes = practice
        .causes
        .iter()
        .filter(|cause| cause.way == way || cause.way == "either")
        .filter(|cause| {
            cause.substances.is_empty() || cause.substances.iter().any(|key| shift.substances.contains(key))
        })
        .map(|cause| {
            let here = cause.substances.iter().filter(|key| shift.substances.contains(*key));
            Cause { substances: here.cloned().collect(), ..cause.clone() }
        })
        .collect();
    Ok(Some(StudyShift { batch, pull, shift: Some(shift), causes, refused: None }))
}
