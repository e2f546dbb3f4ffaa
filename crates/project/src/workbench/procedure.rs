//! How a formula is made: the proposed steps, or those the formula brings along held against what handling asks.

use super::assess::{Bench, known, with_assessed};
use super::complaint::{Complaint, complaints};
use crate::batch_sheet::{Practice, caution};
use crate::diagnostic::Diagnostic;
use jiff::civil::Date;
pub use levigate_assess::procedure::Procedure;
use levigate_assess::procedure::{self, Asked, Caution, ProcedureError, Step, StepKind, WrittenStep};
use levigate_assess::{Assessed, Inquiry, Known};
use levigate_facts::Facts;
use levigate_formula::sheet::Sheet;

/// A day and a market change nothing about how a formula is made; the assessment asks for them.
const ANY_DAY: Date = Date::constant(2026, 1, 1);

/// The procedure of a formula file, with the steps as a file would hold them.
///
/// # Errors
/// Everything that is wrong with the text.
pub fn procedure(
    facts: &Facts,
    file: &str,
    text: &str,
) -> Result<(Procedure, Vec<WrittenStep>), Vec<Diagnostic>> {
    with_assessed(facts, (ANY_DAY, ""), file, text, |formula, facts, assessed| {
        let sheet = &formula.sheet;
        let found = of_assessed(facts, &known(facts), sheet, assessed).map_err(|error| {
            vec![formula.diagnose_line(None, "no-procedure", error.to_string(), error.hint().to_owned())]
        })?;
        let written = procedure::written(&found, sheet);
        Ok((found, written))
    })
}

/// Steps as a formula file holds them.
#[must_use]
pub fn as_text(steps: &[WrittenStep]) -> String {
    let mut text = String::new();
    // Writing into a string does not fail.
    let _ = crate::formula_file::steps::write(&mut text, steps);
    text.trim_start().to_owned()
}

/// The procedure of a sheet as it stands on a page, with its steps as a sheet would hold them.
///
/// # Errors
/// Everything that is wrong with the sheet.
pub fn sheet_procedure(
    facts: &Facts,
    sheet: &Sheet,
    bench: Option<Bench<'_>>,
) -> Result<(Procedure, Vec<WrittenStep>), Vec<Complaint>> {
    let mut known = known(facts);
    known.flow.bench = bench;
    let inquiry = Inquiry { sheet, known, day: ANY_DAY, market: "" };
    let assessed = levigate_assess::assess(&inquiry).map_err(|error| complaints(&error))?;
    let found = of_assessed(facts, &known, sheet, &assessed).map_err(|error| {
        vec![Complaint {
            line: None,
            field: "sheet",
            what: super::complaint::sentence(&error.to_string()),
            why: String::new(),
            what_now: super::complaint::sentence(error.hint()),
            offers: Vec::new(),
        }]
    })?;
    let written = procedure::written(&found, sheet);
    Ok((found, written))
}

/// The procedure of an assessed formula, its steps with the cautions of the bench.
///
/// # Errors
/// [`ProcedureError`].
pub(crate) fn of_assessed(
    facts: &Facts,
    known: &Known<'_>,
    sheet: &Sheet,
    assessed: &Assessed<'_>,
) -> Result<Procedure, ProcedureError> {
    let practice = Practice::shipped().ok();
    let mut found = procedure::procedure(&Asked {
        sheet,
        assessed,
        known,
        handling: &facts.handling,
        standing: facts.flow_use.standing.as_ref(),
        convention: facts.ph_bench.convention.as_ref(),
    })?;
    if let Some(practice) = &practice {
        let room_c = facts.handling.usual.as_ref().map_or(f64::INFINITY, |usual| usual.room_c[1]);
        cautions(&mut found, facts, practice, room_c);
    }
    Ok(found)
}

/// The course of temperature that steps ask for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct StepsCourse {
    /// To be reached, C: the least that the hottest step asks for.
    pub(crate) to_c: f64,
    /// Minutes of the steps that are as hot, in the middle of what they may take.
    pub(crate) hold_min: f64,
    /// To be cooled to, C: the most that the next cooler step may have.
    pub(crate) down_to_c: Option<f64>,
}

impl StepsCourse {
    /// Of the steps that are warmer than the room; none where none is.
    pub(crate) fn of(found: &Procedure, room_c: f64) -> Option<Self> {
        // A premix is warmed in a vessel of its own.
        let low = |step: &Step| {
            let own = step.temperature.filter(|_| step.does != StepKind::Premix);
            own.map(|at| at.celsius[0]).filter(|celsius| *celsius > room_c)
        };
        let to_c = found.steps.iter().filter_map(low).max_by(f64::total_cmp)?;
        let hot = |step: &Step| low(step).is_some_and(|celsius| celsius >= to_c);
        let (first, last) = (found.steps.iter().position(hot)?, found.steps.iter().rposition(hot)?);
        // A heating step takes what the vessel needs; its own minutes are none of the hold.
        let held = found.steps[first..=last].iter().filter(|step| step.does != StepKind::Heat);
        let middle = |step: &Step| step.minutes.map_or(0.0, |[low, high]| 0.5 * (low + high));
        let cooler = |step: &Step| step.temperature.map(|at| at.celsius[1]).filter(|celsius| *celsius < to_c);
        Some(Self {
            to_c,
            hold_min: held.map(middle).sum(),
            down_to_c: found.steps[last + 1..].iter().find_map(cooler),
        })
    }
}

/// Puts each caution on the step where the risk arises, once.
fn cautions(found: &mut Procedure, facts: &Facts, practice: &Practice, room_c: f64) {
    let mut scalds = false;
    for step in &mut found.steps {
        let worked_c = step.temperature.map(|at| at.celsius[1]).filter(|celsius| *celsius > room_c);
        let hot = caution::of_step(worked_c, practice);
        if !scalds && !hot.is_empty() {
            scalds = true;
            step.cautions.extend(hot);
        }
        for line in &step.lines {
            let Some(material) = facts.library.materials.get(&line.material) else { continue };
            let own = caution::of_line(material, worked_c, &facts.library, practice);
            // What it bears is held against the steps themselves.
            let own = own.into_iter().filter(|caution: &Caution| caution.hazard != "heat");
            for caution in own {
                if !step.cautions.iter().any(|known| known.text == caution.text) {
                    step.cautions.push(caution);
                }
            }
        }
    }
}
