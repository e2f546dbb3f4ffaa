//! Steps, reasons and conflicts in plain sentences.

use super::constraint::{Constraint, Demand, Event, Mark};
use super::handling::{Is, Told};
use super::instruction::{adding, cautions, instruction, parts, sources};
use super::judge::{Placed, keeps};
use super::lines::{LineFacts, matches};
use super::plan::Planned;
use super::reading::{Because, Broken, Conflict, Departure, Question, Step, StepLine, Stirred, Temperature};
use super::{Work, grams_per_percent};
use levigate_formula::sheet::StepKind;
use std::collections::BTreeSet;

/// More names than this are counted, not listed.
const LISTED: usize = 3;

/// Degrees of temperature without idle decimals.
pub(super) fn whole(celsius: f64) -> String {
    let text = format!("{celsius:.1}");
    text.strip_suffix(".0").map_or(text.clone(), str::to_owned)
}

/// A range of temperature.
pub(super) fn celsius([low, high]: [f64; 2]) -> String {
    if low == high { format!("{} C", whole(low)) } else { format!("{} to {} C", whole(low), whole(high)) }
}

pub(super) fn line<'w, 'a>(work: &'w Work<'a>, at: usize) -> Option<&'w LineFacts<'a>> {
    work.batch.lines.iter().find(|one| one.line == at)
}

/// What a mark is called in a sentence.
pub(super) fn mark_name(work: &Work<'_>, mark: Mark) -> String {
    let lines = |at: usize| line(work, at).map_or_else(String::new, |one| one.called().to_owned());
    match mark {
        Mark::Line(at) => lines(at),
        Mark::Portion(at, _) => {
            let rest = line(work, at).is_some_and(|one| one.is(Is::Adjuster))
                || matches!(mark, Mark::Portion(_, super::rules::COLD_REST));
            if rest { format!("the rest of {}", lines(at)) } else { lines(at) }
        }
        Mark::Event(event) => match event {
            Event::Hold => "the hold",
            Event::MakeUp => "the make-up of water",
            Event::DeAir => "the de-airing",
            Event::AdjustPh => "the setting of the pH",
        }
        .to_owned(),
    }
}

/// Names as people list them.
pub(super) fn listed(names: &[String]) -> String {
    match names {
        [] => String::new(),
        [one] => one.clone(),
        many if many.len() > LISTED => {
            format!("{}, {} and {} others", many[0], many[1], many.len() - 2)
        }
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

/// One step in words, with its reasons.
pub(super) fn step<'b>(
    work: &Work<'_>,
    planned: &[Planned],
    at: usize,
    step: &Planned,
    broken: impl Iterator<Item = &'b Broken>,
) -> Step {
    let per_percent = grams_per_percent(work.asked.sheet);
    let lines: Vec<StepLine> = step
        .parts
        .iter()
        .filter_map(|(number, share)| {
            let one = line(work, *number)?;
            let percent = one.percent * share;
            Some(StepLine {
                line: one.line,
                material: one.material.key.clone(),
                name: one.name().to_owned(),
                percent,
                grams: percent * per_percent,
                share_percent: (*share != 1.0).then_some(100.0 * share),
            })
        })
        .collect();
    let premixes: Vec<String> =
        step.premixes.iter().filter_map(|made| planned.get(*made)?.name.clone()).collect();
    let stirring = step.stirring.as_ref().map(|key| match work.asked.handling.stirring.get(key) {
        Some(way) => Stirred {
            key: Some(way.key.clone()),
            words: way.words.clone(),
            tip_speed: Some(way.tip_m_s),
            sources: vec![way.source.clone()],
        },
        None => Stirred { key: None, words: key.clone(), tip_speed: None, sources: Vec::new() },
    });
    let carried: Vec<&str> =
        step.parts.iter().filter_map(|(at, _)| line(work, *at)).map(LineFacts::name).collect();
    let key = std::iter::once(step.does.word().to_owned())
        .chain(step.parts.iter().map(|(line, _)| (line + 1).to_string()))
        .collect::<Vec<_>>()
        .join("-");
    Step {
        number: at + 1,
        key: if carried.is_empty() { format!("{key}-{}", nth_of_kind(planned, at)) } else { key },
        does: step.does,
        name: step.name.clone(),
        instruction: instruction(work, planned, at, step, &lines, &premixes),
        note: step.note.clone(),
        parts: parts(work, step),
        temperature: step.temperature_c.map(|celsius| Temperature { celsius }),
        stirring,
        minutes: step.minutes,
        adding: adding(work, step),
        bubbles: if step.does == StepKind::DeAir { work.bubbles.clone() } else { Vec::new() },
        checks: step.checks.clone(),
        cautions: cautions(work, planned, at),
        because: first_portion(work, planned, at).into_iter().chain(because(work, planned, at)).collect(),
        sources: sources(work, planned, at),
        broken: broken.cloned().collect(),
        lines,
        premixes,
    }
}

fn nth_of_kind(planned: &[Planned], at: usize) -> usize {
    planned.iter().take(at + 1).filter(|other| other.does == planned[at].does).count()
}

/// Marks of a step: what joins the batch in it, what is premixed in it, which event it is.
fn marks_of(work: &Work<'_>, planned: &[Planned], at: usize) -> BTreeSet<Mark> {
    let placed = Placed::of(work, planned);
    let step = &planned[at];
    let mut marks: BTreeSet<Mark> = work
        .held
        .marks
        .iter()
        .copied()
        .filter(|mark| match mark {
            Mark::Event(event) => step.is(*event),
            mark => placed.at(*mark, false).is_some_and(|(joins, _)| joins == at),
        })
        .collect();
    if step.does == StepKind::Premix {
        marks = step.parts.iter().map(|(line, _)| Mark::Line(*line)).collect();
    }
    marks
}

/// Shares are as typed, to less than a hundredth of a percent.
pub(super) const SAME_SHARE: f64 = 1e-4;

/// Why so much goes in before the pH is read, where it goes in.
fn first_portion(work: &Work<'_>, planned: &[Planned], at: usize) -> Option<Because> {
    let first = work.first.as_ref()?;
    let place = planned.iter().position(|step| step.parts.iter().any(|(line, _)| *line == first.line))?;
    let (_, share) = planned[place].parts.iter().find(|(line, _)| *line == first.line)?;
    let by_the_meter = planned[place].does == StepKind::AdjustPh && *share == 1.0;
    let own = by_the_meter || (share - first.share).abs() < SAME_SHARE;
    (place == at && own).then(|| Because {
        rule: "first-portion".to_owned(),
        stands: first.stands.clone(),
        why: first.why.clone(),
        sources: vec![first.source.clone()],
    })
}

/// Why a step stands where it does: the demands on it that it keeps.
fn because(work: &Work<'_>, planned: &[Planned], at: usize) -> Vec<Because> {
    let placed = Placed::of(work, planned);
    let own = marks_of(work, planned, at);
    let step = &planned[at];
    let premix = step.does == StepKind::Premix;
    let has = |mark: Mark| own.contains(&mark);
    let hottest =
        planned.iter().filter_map(|step| step.temperature_c).map(|[_, high]| high).fold(0.0, f64::max);
    let mut found: Vec<(String, Vec<String>, &Constraint)> = Vec::new();
    for one in
        work.held.constraints.iter().filter(|one| one.told != Told::Broken && keeps(work, &placed, one))
    {
        let (word, other) = match one.demand {
            Demand::Before(first, then) if !premix && has(then) && !has(first) => ("After".to_owned(), first),
            Demand::Before(first, then) if !premix && one.told == Told::Both && has(first) && !has(then) => {
                ("Before".to_owned(), then)
            }
            Demand::Together(mark, with) => {
                let [Some(a), Some(b)] = [mark.line(), with.line()] else { continue };
                if !(premix && has(Mark::Line(a)) && has(Mark::Line(b))) {
                    continue;
                }
                ("With its carrier:".to_owned(), mark)
            }
            Demand::AtLeast(mark, least)
                if has(mark) || step.does == StepKind::Heat && next_has(work, planned, at, mark) =>
            {
                (format!("At {} C or warmer, for", whole(least)), mark)
            }
            // What the batch never comes near goes without saying.
            Demand::KeepBelow(mark, most)
                if (most < hottest || most <= work.usual.cool_down_c)
                    && (!premix && has(mark)
                        || step.does == StepKind::Cool && next_has(work, planned, at, mark)) =>
            {
                (format!("Not above {} C from here on, for", whole(most)), mark)
            }
            _ => continue,
        };
        let other = mark_name(work, other);
        match found.iter_mut().find(|(said, _, same)| same.rule == one.rule && *said == word) {
            Some((_, others, _)) => {
                if !others.contains(&other) {
                    others.push(other);
                }
            }
            None => found.push((word, vec![other], one)),
        }
    }
    let nearly_all = work.batch.lines.len().saturating_sub(2).max(LISTED + 1);
    found
        .into_iter()
        .map(|(word, others, one)| Because {
            rule: one.rule.clone(),
            stands: if others.len() >= nearly_all {
                format!("{word} all other lines")
            } else {
                format!("{word} {}", listed(&others))
            },
            why: one.why.clone(),
            sources: one.sources.clone(),
        })
        .collect()
}

/// Whether the next step that adds something adds this.
fn next_has(work: &Work<'_>, planned: &[Planned], at: usize, mark: Mark) -> bool {
    let next = (at + 1..planned.len())
        .find(|next| !matches!(planned[*next].does, StepKind::Premix | StepKind::Heat | StepKind::Cool));
    next.is_some_and(|next| marks_of(work, planned, next).contains(&mark))
}

/// One demand as a sentence.
fn demand(work: &Work<'_>, one: &Constraint) -> Because {
    let name = |mark: Mark| mark_name(work, mark);
    let stands = match one.demand {
        Demand::Before(first, then) => format!("{} before {}", name(first), name(then)),
        Demand::Together(mark, with) => format!("{} together with {}", name(mark), name(with)),
        Demand::AtLeast(mark, least) => format!("{} at {} C or warmer", name(mark), whole(least)),
        Demand::KeepBelow(mark, most) => format!("{} never above {} C", name(mark), whole(most)),
    };
    Because { rule: one.rule.clone(), stands, why: one.why.clone(), sources: one.sources.clone() }
}

/// A set of demands that cannot be kept, in words.
pub(super) fn conflict(
    work: &Work<'_>,
    constraints: &[Constraint],
    set: &[usize],
    left_out: usize,
) -> Conflict {
    let demands = set.iter().filter_map(|at| constraints.get(*at)).map(|one| demand(work, one)).collect();
    let position = set.iter().position(|at| *at == left_out).map_or(0, |at| at + 1);
    let one = &constraints[left_out];
    Conflict { demands, left_out: position, breaks: one.breaks.clone(), gravity: one.gravity }
}

/// Where the phases as written break what the proposal keeps.
pub(super) fn departures(work: &Work<'_>) -> Vec<Departure> {
    let mut found: Vec<Departure> = Vec::new();
    for one in &work.held.constraints {
        let Demand::Before(first, then) = one.demand else { continue };
        let (Some(first), Some(then)) = (first.line(), then.line()) else { continue };
        let place = |at: usize| line(work, at).map(|one| (one.phase, one.line));
        let (Some(a), Some(b)) = (place(first), place(then)) else { continue };
        // Within a phase the order of the lines is mostly chance; a rule told twice is worth a word there too.
        if a <= b || (a.0 == b.0 && one.told != Told::Both) {
            continue;
        }
        let name = |at: usize| mark_name(work, Mark::Line(at));
        found.push(Departure {
            rule: one.rule.clone(),
            line: then,
            found: format!("As written, {} stands before {}; here it comes after.", name(then), name(first)),
            breaks: one.breaks.clone(),
            why: one.why.clone(),
            gravity: one.gravity,
            sources: one.sources.clone(),
        });
    }
    found.sort_by_key(|one| one.gravity);
    found
}

/// What must be known of the materials.
pub(super) fn questions(work: &Work<'_>) -> Vec<Question> {
    let library = work.asked.known.library;
    let mut found = Vec::new();
    for question in work.asked.handling.questions.values() {
        for one in work.batch.lines.iter().filter(|one| matches(&question.who, one)) {
            let names = question.answers.iter().filter(|key| **key != one.material.key);
            found.push(Question {
                key: question.key.clone(),
                line: one.line,
                asks: question.asks.replace("{what}", &one.typed),
                taken: one.name().to_owned(),
                otherwise: names.filter_map(|key| Some(library.materials.get(key)?.name.clone())).collect(),
                why: question.why.clone(),
                sources: vec![question.source.clone()],
            });
        }
    }
    found
}
