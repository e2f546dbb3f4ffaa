//! A recovery after a strong shear, as `flow fit` tells it.

use super::fit::short;
use crate::numbers;
use crate::paper::{Lean, Paper};
use crate::verbs::tables::results;
use levigate_measure::Outcome;
use levigate_project::workbench::flow_fit::{LawReading, RecoveryFit};

/// One recovery: what it was read at, the laws, what they say.
pub(super) fn page(paper: &mut Paper, fit: &RecoveryFit) {
    let name = if fit.name.is_empty() { "Recovery after shear" } else { &fit.name };
    let mut remark = format!("{} readings", fit.measured);
    if let (Some(first), Some(last)) = (fit.points.first(), fit.points.last()) {
        let ends = [first.time_s, last.time_s].map(|time| numbers::value(time, None, None));
        remark.push_str(&format!(", {} to {} s after the shear", ends[0], ends[1]));
    }
    for (outcome, words) in [(&fit.at, "read at"), (&fit.strong, "after")] {
        if let Some(value) = outcome.value {
            remark.push_str(&format!(", {words} {} {}", numbers::value(value, None, None), outcome.unit));
        }
    }
    if let Some(temperature) = fit.temperature_c {
        remark.push_str(&format!(", {temperature:.1} °C"));
    }
    paper.heading(name, &remark);
    if let Some(gathered) = &fit.gathered {
        paper.hanging(2, "note:", gathered);
    }
    if let Some(trouble) = &fit.trouble {
        paper.hanging(2, "no fit:", &format!("{}; {}", trouble.what, trouble.what_now));
        return;
    }
    laws(paper, fit);
    let Some(taken) = &fit.taken else { return };
    paper.gap();
    paper.hanging(2, "taken:", &format!("{}: {}", taken.name, taken.why));
    for why in &taken.not_settled {
        paper.hanging(2, "not settled:", why);
    }
    let outliers: Vec<String> = fit
        .laws
        .first()
        .into_iter()
        .flat_map(|law| &law.outliers)
        .filter_map(|at| fit.points.get(*at))
        .map(|point| format!("line {} ({} s)", point.line, numbers::value(point.time_s, None, None)))
        .collect();
    if !outliers.is_empty() {
        paper.hanging(2, "apart:", &format!("{} lie beyond 3.5 robust deviations", outliers.join(", ")));
    }
    let mut rows = vec![
        ("viscosity in the end", &fit.in_the_end),
        ("time constant", &fit.time_constant),
        ("nine tenths back after", &fit.nine_tenths),
        ("share of the way at the last reading", &fit.reached),
    ];
    let of_before: [(&str, &Outcome); 2] =
        [("viscosity before the shear", &fit.before), ("last reading over before", &fit.share_of_before)];
    rows.extend(of_before.into_iter().filter(|(_, outcome)| outcome.value.is_some()));
    results(paper, &rows);
}

fn laws(paper: &mut Paper, fit: &RecoveryFit) {
    let rows: Vec<Vec<String>> = fit.laws.iter().map(|law| row(law, fit)).collect();
    let heads = [
        ("", Lean::Left),
        ("law", Lean::Left),
        ("AICc", Lean::Right),
        ("rms", Lean::Right),
        ("constants, SI, ± standard error", Lean::Left),
    ];
    paper.columns(&heads, &rows);
}

fn row(law: &LawReading, fit: &RecoveryFit) -> Vec<String> {
    let taken = fit.taken.as_ref().is_some_and(|taken| taken.law == law.law);
    let constants: Vec<String> = law.parameters.iter().map(short).collect();
    vec![
        if taken { "taken".to_owned() } else { String::new() },
        law.name.to_owned(),
        law.aicc.map_or_else(|| "–".to_owned(), |aicc| format!("{aicc:.1}")),
        format!("{:.4}", law.root_mean_square),
        constants.join("; "),
    ]
}
