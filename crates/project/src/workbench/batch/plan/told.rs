//! What is said against a procedure before it is frozen.

use crate::records::PlanTold;
use levigate_assess::procedure::{Broken, Conflict, Procedure};

/// All of it, the gravest first: sets of demands that no procedure keeps, then what the steps break.
pub(super) fn told(procedure: &Procedure) -> Vec<PlanTold> {
    let broken = procedure.steps.iter().flat_map(|step| &step.broken).chain(&procedure.broken);
    let mut told: Vec<_> = procedure
        .conflicts
        .iter()
        .map(|one| (one.gravity, conflict(one)))
        .chain(broken.map(|one| (one.gravity, of_broken(one))))
        .collect();
    told.sort_by_key(|(gravity, one)| (*gravity, one.number));
    told.into_iter().map(|(_, one)| one).collect()
}

fn of_broken(one: &Broken) -> PlanTold {
    PlanTold {
        gravity: one.gravity.word().to_owned(),
        number: one.number,
        found: one.found.clone(),
        breaks: one.breaks.clone(),
        why: one.why.clone(),
        sources: one.sources.clone(),
    }
}

fn conflict(one: &Conflict) -> PlanTold {
    let demands: Vec<&str> = one.demands.iter().map(|demand| demand.stands.as_str()).collect();
    let left_out = one.left_out.checked_sub(1).and_then(|at| one.demands.get(at));
    let mut sources: Vec<String> = Vec::new();
    for source in one.demands.iter().flat_map(|demand| &demand.sources) {
        if !sources.contains(source) {
            sources.push(source.clone());
        }
    }
    let not_kept = left_out.map(|demand| format!(" Not kept: {}.", demand.stands)).unwrap_or_default();
    PlanTold {
        gravity: one.gravity.word().to_owned(),
        number: None,
        found: format!("No procedure keeps all of these: {}.{not_kept}", demands.join("; ")),
        breaks: one.breaks.clone(),
        why: left_out.map(|demand| demand.why.clone()).unwrap_or_default(),
        sources,
    }
}
