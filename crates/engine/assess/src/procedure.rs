//! How a formula is made: steps proposed from its materials, each with why it stands there; and what a person's own steps break.
//!
//! Rules of handling (`handling`, data) become demands on lines and steps (`rules`, `constraint`), demands become an order or a smallest set
//! that no order keeps (`order`), the order becomes steps (`propose`), and steps of whatever origin are held against the demands (`judge`).
//! Not part of the assessment: it is asked for by itself. Times of heating and cooling and stirrer speeds in rpm are not known here.

pub mod constraint;
pub mod handling;
mod instruction;
mod judge;
mod lines;
mod offer;
pub mod order;
mod plan;
mod propose;
mod reading;
mod rules;
mod words;

pub use constraint::Event;
pub use handling::Handling;
pub use levigate_formula::sheet::{StepKind, StepPart, WrittenStep};
pub use reading::{
    Adding, Because, Broken, Caution, Conflict, Departure, Offer, Procedure, Question, Step, StepLine,
    Stirred, Temperature,
};

use crate::adjusting::{Convention, FirstPortion, first_portion};
use crate::assess::{Assessed, Known, solved};
use crate::finding::Gravity;
use crate::flow_use::Flows;
use crate::saturation::{Crystals, before_the_base};
use constraint::{Constraint, Mark};
use handling::{Is, Usual};
use levigate_formula::aqueous::AqueousError;
use levigate_formula::sheet::{Amount, Sheet};
use levigate_process::flow::reading::{BubbleReading, cream};
use levigate_process::flow::settings::Standing;
use lines::Batch;
use plan::Planned;
use rules::Held;
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;
use thiserror::Error;

/// What a procedure is asked of.
#[derive(Clone, Copy, Debug)]
pub struct Asked<'a> {
    /// The formula, with the steps a person wrote or without.
    pub sheet: &'a Sheet,
    /// The same, assessed.
    pub assessed: &'a Assessed<'a>,
    /// What is known besides.
    pub known: &'a Known<'a>,
    /// Rules of handling.
    pub handling: &'a Handling,
    /// Sizes of bubbles and the height of the vessel they rise in.
    pub standing: Option<&'a Standing>,
    /// How sure things are at the beaker, for what goes in before the pH is read; without it nothing does.
    pub convention: Option<&'a Convention>,
}

/// Why there is no procedure.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum ProcedureError {
    /// The facts have no usual temperatures.
    #[error("the facts have no [handling]")]
    NoHandling,
    /// A mixture on the way has no answer.
    #[error("the mixture before the base has no equilibrium: {0}")]
    Mixture(AqueousError),
}

impl ProcedureError {
    /// What to do about it.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            Self::NoHandling => "lay facts with this table over",
            Self::Mixture(_) => "look at the lines that give acids and bases",
        }
    }
}

/// Everything the parts of this module hand to each other.
pub(crate) struct Work<'a> {
    asked: Asked<'a>,
    usual: &'a Usual,
    batch: Batch<'a>,
    held: Held,
    bubbles: Vec<BubbleReading>,
    first: Option<FirstPortion>,
}

impl Work<'_> {
    /// Whether nothing went into the batch before this step.
    fn is_first_addition(&self, planned: &[Planned], at: usize) -> bool {
        planned
            .iter()
            .take(at)
            .all(|step| step.does == StepKind::Premix || step.parts.is_empty() && step.premixes.is_empty())
    }
}

/// The procedure of a formula: that of its steps where it has some, else the proposed one.
///
/// # Errors
/// [`ProcedureError`].
pub fn procedure(asked: &Asked<'_>) -> Result<Procedure, ProcedureError> {
    let usual = asked.handling.usual.as_ref().ok_or(ProcedureError::NoHandling)?;
    let known = asked.known;
    let crystals = if asked.sheet.lines().any(|(_, line)| matches!(line.amount, Amount::ToPh(_))) {
        before_the_base(asked.assessed, known.library, known.chemistry, usual.crystals_from)
            .map_err(ProcedureError::Mixture)?
    } else {
        Crystals::default()
    };
    let batch =
        lines::look(asked.sheet, &asked.assessed.settled, known.library, asked.handling, usual, &crystals);
    let first = first_of(asked);
    let share = first.as_ref().map_or(0.0, |first| first.share);
    let held = rules::held(&batch, asked.handling, usual, &crystals, share);
    let bubbles = match (asked.standing, Flows::of(asked.assessed)) {
        (Some(standing), Ok(flows)) => cream(&flows.known(), standing).bubbles,
        _ => Vec::new(),
    };
    let mut work = Work { asked: *asked, usual, batch, held, bubbles, first };
    let (kept, conflicts) = settle_conflicts(&work);
    let (places, all) = kept;
    work.held.constraints = all;
    let proposed = propose::steps(&work, &places);
    let written = !asked.sheet.steps.is_empty();
    let planned = if written { plan::of_written(&work, &asked.sheet.steps) } else { proposed };
    Ok(tell(&work, &planned, written, conflicts))
}

/// What goes in before the pH is read. Where the adjuster has no answer nothing does, with its reason.
fn first_of(asked: &Asked<'_>) -> Option<FirstPortion> {
    let (convention, settled) = (asked.convention?, &asked.assessed.settled);
    match first_portion(asked.sheet, settled, asked.known, convention) {
        Ok(first) => first,
        Err(trouble) => {
            let line = *settled.to_ph.as_ref()?.0.first()?;
            Some(FirstPortion {
                line,
                grams: 0.0,
                whole_g: settled.lines[line].percent * grams_per_percent(asked.sheet),
                share: 0.0,
                stands: "Nothing of acid or base before the pH is read".to_owned(),
                why: format!(
                    "How much may go in unread is not known, because {trouble}: {}.",
                    trouble.hint()
                ),
                source: convention.source.clone(),
            })
        }
    }
}

/// An order that keeps the demands; of each set that cannot be kept the mildest is left out.
fn settle_conflicts(work: &Work<'_>) -> ((order::Places, Vec<Constraint>), Vec<Conflict>) {
    let mut constraints = work.held.constraints.clone();
    let mut conflicts = Vec::new();
    loop {
        let demands: Vec<_> = constraints.iter().map(|one| one.demand).collect();
        match order::order(&work.held.marks, &demands, |mark| rank(work, mark)) {
            Ok(places) => return ((places, constraints), conflicts),
            Err(set) => {
                // The mildest, of equals the last: the loop ends because one is gone each time.
                let Some(left_out) =
                    set.iter().copied().max_by_key(|at| constraints.get(*at).map(|one| (one.gravity, *at)))
                else {
                    return ((Vec::new(), constraints), conflicts);
                };
                // What is only worth knowing gives way without a word.
                if constraints.get(left_out).is_some_and(|one| one.gravity < Gravity::Know) {
                    conflicts.push(words::conflict(work, &constraints, &set, left_out));
                }
                constraints.remove(left_out);
            }
        }
    }
}

/// What the person wrote first comes first; water before all else, steps that are no lines after them.
fn rank(work: &Work<'_>, mark: Mark) -> usize {
    let lines = work.batch.lines.len();
    match mark {
        Mark::Line(line) if work.batch.lines.iter().any(|one| one.line == line && one.is(Is::Water)) => {
            // The phase of the water keeps its place among the phases; in it the water is first.
            let phase = work.batch.lines.iter().find(|one| one.line == line).map_or(0, |one| one.phase);
            work.batch.lines.iter().find(|one| one.phase == phase).map_or(0, |one| 2 * one.line)
        }
        Mark::Line(line) => 2 * line + 1,
        // A carrier goes where what it carries goes.
        Mark::Portion(line, _) if work.held.premixes.iter().any(|premix| premix.carrier == line) => {
            usize::MAX
        }
        Mark::Portion(line, _) => 2 * line + 1,
        Mark::Event(event) => 2 * lines + 2 + event as usize,
    }
}

fn tell(work: &Work<'_>, planned: &[Planned], written: bool, conflicts: Vec<Conflict>) -> Procedure {
    let broken = judge::broken(work, planned);
    let steps = planned
        .iter()
        .enumerate()
        .map(|(at, step)| {
            words::step(work, planned, at, step, broken.iter().filter(|one| one.number == Some(at + 1)))
        })
        .collect();
    Procedure {
        product: work.asked.sheet.product.name.clone(),
        written,
        heated: work.batch.when.contains(&handling::When::Heated),
        steps,
        broken: broken.into_iter().filter(|one| one.number.is_none()).collect(),
        conflicts,
        departures: if written { Vec::new() } else { words::departures(work) },
        questions: words::questions(work),
        first: work.first.clone(),
        offer: if written { offer::offer(work, planned) } else { None },
    }
}

/// The procedure as steps of a formula file, to be changed by a person.
#[must_use]
pub fn written(procedure: &Procedure, sheet: &Sheet) -> Vec<WrittenStep> {
    let decimals = |[low, high]: [f64; 2]| {
        let one = |value: f64| Decimal::try_from(value).unwrap_or_default().round_dp(1).normalize();
        [one(low), one(high)]
    };
    procedure
        .steps
        .iter()
        .map(|step| WrittenStep {
            does: step.does,
            name: step.name.clone(),
            lines: step
                .lines
                .iter()
                .filter_map(|line| {
                    let share = line.share_percent.and_then(|share| Decimal::try_from(share).ok());
                    sheet.part_of(line.line, share.map(|share| share.round_dp(6).normalize()))
                })
                .collect(),
            premixes: step.premixes.clone(),
            temperature_c: step.temperature.map(|at| decimals(at.celsius)),
            stirring: step.stirring.as_ref().map(|way| way.key.clone().unwrap_or_else(|| way.words.clone())),
            minutes: step.minutes.map(decimals),
            checks: step.checks.clone(),
            note: step.note.clone(),
        })
        .collect()
}

/// Percent of the product per 0.05 pH: what the lines that set the pH need more to go that much further.
fn percent_per_step(work: &Work<'_>, line: usize) -> Option<f64> {
    let step = Decimal::new(5, 2);
    let mut sheet = work.asked.sheet.clone();
    let base = work
        .batch
        .lines
        .iter()
        .any(|one| one.line == line && one.material.functions.iter().any(|function| function == "base"));
    for phase in &mut sheet.phases {
        for line in &mut phase.lines {
            if let Amount::ToPh(ph) = &mut line.amount {
                *ph = if base { *ph + step } else { *ph - step };
            }
        }
    }
    let (settled, _, _) = solved(&sheet, work.asked.known).ok()?;
    let further = settled.lines.get(line)?.percent - work.asked.assessed.settled.lines.get(line)?.percent;
    Some(further).filter(|further| further.is_finite() && *further > 0.0)
}

/// Grams of the batch per percent of the product.
fn grams_per_percent(sheet: &Sheet) -> f64 {
    sheet.batch.size_g.to_f64().unwrap_or(0.0) / 100.0
}
