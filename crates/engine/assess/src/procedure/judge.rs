//! Holds steps against the demands: what they break, where, and what that does.

use super::Work;
use super::constraint::{Constraint, Demand, Event, Mark};
use super::handling::Asks;
use super::plan::Planned;
use super::reading::Broken;
use super::words::{SAME_SHARE, celsius, mark_name};
use crate::finding::Gravity;
use crate::findings::digits;
use levigate_formula::sheet::StepKind;

/// Shares are as typed, to less than a thousandth of a percent.
const SHARE_DOUBT: f64 = 1e-5;
/// Temperatures are as typed.
const DOUBT_C: f64 = 1e-9;

/// A place: step, then position in it.
pub(super) type At = (usize, usize);

/// Where everything stands.
pub(super) struct Placed<'p> {
    planned: &'p [Planned],
    /// Temperature of the batch in each step, C; of a premix in its own vessel.
    temperature_c: Vec<[f64; 2]>,
    /// Step that adds the premix made in a step.
    added_in: Vec<Option<At>>,
}

/// An event stands behind all that goes in with it.
const BEHIND: usize = usize::MAX;

impl<'p> Placed<'p> {
    pub(super) fn of(work: &Work<'_>, planned: &'p [Planned]) -> Self {
        let mut here = work.usual.room_c;
        let mut temperature_c = Vec::with_capacity(planned.len());
        for step in planned {
            let said = step.temperature_c.unwrap_or(match step.does {
                StepKind::Hold => [work.usual.hold_c, work.usual.hold_c],
                StepKind::Heat => [work.usual.hold_c, work.usual.hold_c],
                StepKind::Cool | StepKind::Premix => work.usual.room_c,
                _ => here,
            });
            temperature_c.push(said);
            if step.does != StepKind::Premix {
                here = said;
            }
        }
        let mut added_in = vec![None; planned.len()];
        for (at, step) in planned.iter().enumerate() {
            for (nth, premix) in step.premixes.iter().enumerate() {
                if let Some(place) = added_in.get_mut(*premix) {
                    place.get_or_insert((at, step.parts.len() + nth));
                }
            }
        }
        Self { planned, temperature_c, added_in }
    }

    /// Where the parts of a line join the batch.
    fn joins(&self, line: usize) -> Vec<At> {
        let mut found = Vec::new();
        for (at, step) in self.planned.iter().enumerate() {
            for (nth, _) in step.parts.iter().enumerate().filter(|(_, (own, _))| *own == line) {
                if step.does == StepKind::Premix {
                    found.extend(self.added_in.get(at).copied().flatten());
                } else {
                    found.push((at, nth));
                }
            }
        }
        found.sort_unstable();
        found
    }

    pub(super) fn at(&self, mark: Mark, last: bool) -> Option<At> {
        let step = |event: Event| {
            let mut steps = (0..self.planned.len()).filter(|at| self.planned[*at].is(event));
            if last { steps.next_back() } else { steps.next() }
        };
        match mark {
            Mark::Line(line) => self.joins(line).first().copied(),
            Mark::Portion(line, _) => self.joins(line).last().copied(),
            Mark::Event(event) => step(event).map(|at| (at, BEHIND)),
        }
    }

    /// The premix in which both lines meet in a vessel of their own, and whether the first is in it first.
    fn meet(&self, first: Mark, then: Mark) -> Option<(usize, bool)> {
        let (first, then) = (first.line()?, then.line()?);
        self.planned.iter().enumerate().filter(|(_, step)| step.does == StepKind::Premix).find_map(
            |(at, step)| {
                let place = |line: usize| step.parts.iter().position(|(own, _)| *own == line);
                Some((at, place(first)? < place(then)?))
            },
        )
    }

    /// Steps that hold a line, or are an event.
    fn steps_with(&self, mark: Mark) -> Vec<usize> {
        (0..self.planned.len())
            .filter(|at| match mark {
                Mark::Event(event) => self.planned[*at].is(event),
                Mark::Line(line) | Mark::Portion(line, _) => {
                    self.planned[*at].parts.iter().any(|(own, _)| *own == line)
                }
            })
            .collect()
    }
}

/// What the steps break, the gravest first.
pub(super) fn broken(work: &Work<'_>, planned: &[Planned]) -> Vec<Broken> {
    let placed = Placed::of(work, planned);
    let mut found = unused(work, planned);
    found.extend(missing_steps(work, planned));
    found.extend(bold(work, planned));
    for one in &work.held.constraints {
        if let Some((number, text)) = breach(work, &placed, one) {
            found.push(Broken {
                rule: one.rule.clone(),
                gravity: one.gravity,
                number: Some(number + 1),
                found: text,
                breaks: one.breaks.clone(),
                why: one.why.clone(),
                sources: one.sources.clone(),
            });
        }
    }
    found.sort_by(|a, b| (a.gravity, a.number, &a.rule).cmp(&(b.gravity, b.number, &b.rule)));
    found.dedup_by(|a, b| a.number == b.number && a.rule == b.rule && a.found == b.found);
    found
}

/// Whether a demand is kept by the steps.
pub(super) fn keeps(work: &Work<'_>, placed: &Placed<'_>, one: &Constraint) -> bool {
    breach(work, placed, one).is_none()
}

/// The step that breaks a demand, and how.
fn breach(work: &Work<'_>, placed: &Placed<'_>, one: &Constraint) -> Option<(usize, String)> {
    let name = |mark: Mark| mark_name(work, mark);
    match one.demand {
        // What is nowhere breaks nothing here: it is told as missing.
        Demand::Before(first, then) => {
            let (a, b) = (placed.at(first, true)?, placed.at(then, false)?);
            let (a, b) = match (first, then) {
                (_, Mark::Event(_)) => (a, placed.at(then, true)?),
                (Mark::Event(_), _) => (placed.at(first, false)?, b),
                _ => (placed.at(first, false)?, b),
            };
            match placed.meet(first, then) {
                // What can hurt somebody in the batch can in a small vessel too.
                Some((at, false)) if one.gravity == Gravity::Stop => {
                    let text = format!(
                        "{} is in the vessel of the premix before {}.",
                        capital(&name(then)),
                        name(first)
                    );
                    return Some((at, text));
                }
                // They join the batch together, and were in the right order before.
                Some((_, true)) if a == b => return None,
                _ => {}
            }
            (a >= b).then(|| {
                let text = if a.0 == b.0 {
                    format!("{} stands before {} in the same step.", capital(&name(then)), name(first))
                } else {
                    format!(
                        "{} stands in step {}, before {} in step {}.",
                        capital(&name(then)),
                        b.0 + 1,
                        name(first),
                        a.0 + 1
                    )
                };
                (b.0, text)
            })
        }
        Demand::Together(mark, with) => {
            let (own, other) = (placed.steps_with(mark), placed.steps_with(with));
            let first = own.first().or(other.first()).copied()?;
            let in_a_vessel_of_its_own = |at: &&usize| {
                matches!((mark, with), (Mark::Event(_), _) | (_, Mark::Event(_)))
                    || placed.planned[**at].does == StepKind::Premix
            };
            let met = own.iter().filter(in_a_vessel_of_its_own).any(|at| other.contains(at));
            (!met).then(|| {
                let text = format!("{} meets the batch without {}.", capital(&name(mark)), name(with));
                (first, text)
            })
        }
        Demand::AtLeast(mark, least) => {
            let (step, _) = placed.at(mark, false)?;
            let [low, high] = placed.temperature_c[step];
            (low < least - DOUBT_C).then(|| {
                let text = format!(
                    "{} stands in a step at {}; it needs {} C.",
                    capital(&name(mark)),
                    celsius([low, high]),
                    super::words::whole(least)
                );
                (step, text)
            })
        }
        Demand::KeepBelow(mark, most) => {
            let (from, _) = placed.at(mark, false)?;
            let own_vessel = placed.steps_with(mark).into_iter().filter(|at| {
                placed.planned[*at].does == StepKind::Premix && placed.temperature_c[*at][1] > most + DOUBT_C
            });
            let later = (from..placed.planned.len()).filter(|at| {
                placed.planned[*at].does != StepKind::Premix && placed.temperature_c[*at][1] > most + DOUBT_C
            });
            let step = own_vessel.chain(later).next()?;
            let text = format!(
                "Step {} is worked at {}; {} bears {} C.",
                step + 1,
                celsius(placed.temperature_c[step]),
                name(mark),
                super::words::whole(most)
            );
            Some((step, text))
        }
    }
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// Lines that go in less than once, or more; premixes nobody adds.
fn unused(work: &Work<'_>, planned: &[Planned]) -> Vec<Broken> {
    let tell = |rule: &str, number: Option<usize>, found: String, breaks: &str| Broken {
        rule: rule.to_owned(),
        gravity: Gravity::Stop,
        number,
        found,
        breaks: breaks.to_owned(),
        why: "The procedure is that of the formula: every line goes in once.".to_owned(),
        sources: Vec::new(),
    };
    let mut found = Vec::new();
    for one in work.batch.lines.iter().filter(|one| one.percent > 0.0) {
        let parts = || planned.iter().flat_map(|step| &step.parts).filter(|(line, _)| *line == one.line);
        let sum: f64 = parts().map(|(_, share)| share).sum();
        if (sum - 1.0).abs() > SHARE_DOUBT {
            let text = if parts().next().is_none() {
                format!("{} goes in nowhere.", one.name())
            } else {
                format!("{:.4} % of {} goes in.", 100.0 * sum, one.name())
            };
            let last = planned.iter().rposition(|step| step.parts.iter().any(|(line, _)| *line == one.line));
            let breaks = "What is made is not the formula.";
            found.push(tell("each-line-once", last.map(|at| at + 1), text, breaks));
        }
    }
    for (at, step) in planned.iter().enumerate().filter(|(_, step)| step.does == StepKind::Premix) {
        let times = planned.iter().flat_map(|other| &other.premixes).filter(|premix| **premix == at).count();
        if times != 1 {
            let name = step.name.as_deref().unwrap_or("The premix");
            let text = if times == 0 {
                format!("{name} is added nowhere.")
            } else {
                format!("{name} is added {times} times.")
            };
            found.push(tell(
                "each-premix-once",
                Some(at + 1),
                text,
                "What is in it does not reach the batch as it should.",
            ));
        }
    }
    found
}

/// More of an acid or base before the pH is read than keeps to the far edge of the window.
fn bold(work: &Work<'_>, planned: &[Planned]) -> Option<Broken> {
    let first = work.first.as_ref()?;
    let read = planned.iter().position(|step| step.is(Event::AdjustPh))?;
    let parts =
        || planned.iter().take(read).flat_map(|step| &step.parts).filter(|(line, _)| *line == first.line);
    let share: f64 = parts().map(|(_, share)| share).sum();
    let last =
        planned.iter().take(read).rposition(|step| step.parts.iter().any(|(line, _)| *line == first.line))?;
    (share > first.share + SAME_SHARE).then(|| Broken {
        rule: "first-portion".to_owned(),
        gravity: Gravity::Change,
        number: Some(last + 1),
        found: format!(
            "{} g of {} go in before the pH is read.",
            digits(share * first.whole_g),
            mark_name(work, Mark::Line(first.line))
        ),
        breaks: "The batch may run past its window before anybody reads it.".to_owned(),
        why: format!("{}. {}", first.stands, first.why),
        sources: vec![first.source.clone()],
    })
}

/// Steps that are needed and are not there.
fn missing_steps(work: &Work<'_>, planned: &[Planned]) -> Vec<Broken> {
    let mut found = Vec::new();
    for rule in work.asked.handling.rules.values() {
        let Asks::Needs { event } = rule.asks else { continue };
        if super::rules::applies(rule, &work.batch) && !planned.iter().any(|step| step.is(event)) {
            found.push(Broken {
                rule: rule.key.clone(),
                gravity: rule.gravity,
                number: None,
                found: format!("No step is {}.", mark_name(work, Mark::Event(event))),
                breaks: rule.breaks.clone(),
                why: rule.why.clone(),
                sources: vec![rule.source.clone()],
            });
        }
    }
    found
}
