//! The step that sets the pH, offered to a procedure a person wrote without one. Nothing is added by itself.

use super::Work;
use super::constraint::Event;
use super::plan::Planned;
use super::reading::Offer;
use super::words::line;
use levigate_formula::sheet::StepKind;
use rust_decimal::Decimal;

/// The offer; none where a step sets the pH already, or nothing is added to one.
pub(super) fn offer(work: &Work<'_>, planned: &[Planned]) -> Option<Offer> {
    let (lines, to_ph) = work.asked.assessed.settled.to_ph.as_ref()?;
    if planned.iter().any(|step| step.is(Event::AdjustPh)) {
        return None;
    }
    // Behind all that goes in and all that is done to the batch, before the air leaves it and it is looked at.
    let after = planned.iter().rposition(|step| !matches!(step.does, StepKind::DeAir | StepKind::Check));
    let number = after.map_or(1, |at| at + 2);
    let adjuster = *lines.first()?;
    let name = line(work, adjuster).map_or("the acid or base", |one| one.called());
    let places: Vec<(usize, f64)> = planned
        .iter()
        .enumerate()
        .flat_map(|(at, step)| step.parts.iter().map(move |(line, share)| (at, *line, *share)))
        .filter(|(_, line, _)| *line == adjuster)
        .map(|(at, _, share)| (at, share))
        .collect();
    let joins = |step: &Planned| {
        !(step.does == StepKind::Premix || step.parts.is_empty() && step.premixes.is_empty())
    };
    let first = work.first.as_ref().filter(|first| first.line == adjuster);
    // What stands behind the acid or base may need it: then its first portion stays there.
    let (stays, brings) = match (places.as_slice(), lines.len()) {
        ([], 1) => (None, true),
        (&[(at, 1.0)], 1) if planned[at].does != StepKind::Premix => {
            let later = planned.iter().skip(at + 1).any(joins);
            match first.map(|first| first.share).filter(|share| later && *share > 0.0) {
                None => (None, true),
                Some(share) if share >= 1.0 => (Some(Decimal::ONE_HUNDRED), false),
                Some(share) => {
                    (Decimal::try_from(100.0 * share).ok().map(|share| share.round_dp(6).normalize()), true)
                }
            }
        }
        _ => (Some(Decimal::ONE_HUNDRED), false),
    };
    let how = match (stays, brings) {
        (Some(share), true) => {
            format!("{} % of {name} stay where they stand, the rest goes in by the meter", share.round_dp(1))
        }
        (_, true) => format!("{name} goes in there, by the meter"),
        (_, false) => format!("{name} stays where it stands, and the meter has the last word"),
    };
    let (why, source) = first.map_or_else(
        || (String::new(), "common-practice".to_owned()),
        |first| (format!("{}. {}", first.stands, first.why), first.source.clone()),
    );
    Some(Offer {
        number,
        line: adjuster,
        says: format!("A step more, as step {number}: set the pH to {}; {how}.", to_ph.normalize()),
        why: format!("The amount on paper is computed; without the meter the pH is a guess. {why}")
            .trim_end()
            .to_owned(),
        stays_percent: stays.filter(|_| brings).map(|share| share.to_string()).unwrap_or_default(),
        brings,
        sources: vec![source],
    })
}
