//! Preservation and the pH windows laid over each other.

use super::line_names;
use crate::numbers;
use crate::paper::{Lean, Paper};
use levigate_assess::Assessment;
use levigate_assess::preserving::PreservationAt;
use levigate_formula::preservation::{PreservativeReading, WindowKind};

/// Acids with less of them undissociated are not listed.
const LEAST_SHARE: f64 = 1e-6;

/// pH windows: target, preservatives, raw materials, and what they share.
pub(crate) fn windows(paper: &mut Paper, assessment: &Assessment) {
    let overlap = &assessment.windows;
    if overlap.windows.is_empty() {
        return;
    }
    let shared = match overlap.shared {
        Some([low, high]) => format!("all share {} to {}", two(low), two(high)),
        None => "nothing is shared by all".to_owned(),
    };
    paper.heading("pH windows", &shared);
    let rows: Vec<Vec<String>> = overlap
        .windows
        .iter()
        .map(|window| {
            let why = match window.kind {
                WindowKind::Target => "wanted",
                WindowKind::Works => "works",
                WindowKind::Survives => "survives",
                WindowKind::Preserves => "preserves",
            };
            let source = window.source.clone().unwrap_or_default();
            let line = window.line.map(|line| (line + 1).to_string()).unwrap_or_default();
            vec![
                line,
                window.name.clone(),
                format!("{} to {}", two(window.low), two(window.high)),
                why.to_owned(),
                source,
            ]
        })
        .collect();
    paper.columns(
        &[
            ("", Lean::Right),
            ("of", Lean::Left),
            ("pH", Lean::Left),
            ("", Lean::Left),
            ("source", Lean::Left),
        ],
        &rows,
    );
    for removal in &overlap.removals {
        let text = format!(
            "change {}: then {} to {} is shared",
            removal.names.join(" and "),
            two(removal.low),
            two(removal.high)
        );
        paper.hanging(2, "way out:", &text);
    }
}

/// A pH or a share without idle zeros.
fn two(number: f64) -> String {
    let text = format!("{number:.2}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// What each preservative still does at the edges of the window and as the product stands.
pub(crate) fn preservation(paper: &mut Paper, assessment: &Assessment) {
    let reading = &assessment.preservatives;
    paper.heading("Preservation", "");
    paper.paragraph(2, reading.words);
    for at in &reading.at {
        at_one_ph(paper, at);
    }
    let Some(stands) = reading.at.iter().find(|at| at.edge == "as it stands").or(reading.at.first()) else {
        return;
    };
    let covered: Vec<String> =
        reading.coverage.iter().map(|(group, strength)| format!("{group} {strength}")).collect();
    if !covered.is_empty() {
        paper.hanging(2, "published strength:", &covered.join(", "));
    }
    for preservative in &stands.preservatives {
        about(paper, assessment, preservative);
    }
    let hurdles = reading.hurdles.iter().filter(|hurdle| hurdle.met == Some(true));
    for hurdle in hurdles {
        paper.hanging(2, "hurdle:", &format!("{} [{}]", hurdle.text, hurdle.source));
    }
}

fn at_one_ph(paper: &mut Paper, at: &PreservationAt) {
    if at.preservatives.is_empty() {
        return;
    }
    paper.gap();
    paper.paragraph(2, &format!("pH {}, {}", two(at.ph), at.edge));
    let rows: Vec<Vec<String>> = at
        .preservatives
        .iter()
        .map(|preservative| {
            let share = preservative
                .share
                .value
                .map(|share| format!("{} %", numbers::value(share * 100.0, None, None)));
            let window = preservative.window.as_ref().map(|window| {
                let inside = if window.inside { "" } else { ", outside" };
                format!("{} to {}{inside}", two(window.low), two(window.high))
            });
            vec![
                preservative.name.clone(),
                numbers::value(preservative.weighed_percent, None, None),
                share.unwrap_or_else(|| "–".to_owned()),
                numbers::result(&preservative.working, false),
                preservative
                    .in_water
                    .value
                    .map(|_| numbers::result(&preservative.in_water, false))
                    .unwrap_or_default(),
                window.unwrap_or_default(),
            ]
        })
        .collect();
    paper.columns(
        &[
            ("preservative", Lean::Left),
            ("weighed %", Lean::Right),
            ("works", Lean::Right),
            ("working %", Lean::Right),
            ("mg/L in water", Lean::Right),
            ("used at pH", Lean::Left),
        ],
        &rows,
    );
}

fn about(paper: &mut Paper, assessment: &Assessment, preservative: &PreservativeReading) {
    if !preservative.listed_eu {
        paper.hanging(2, "note:", &format!("{} is not a listed preservative in the EU", preservative.name));
    }
    if let Some(inactivation) = &preservative.inactivation {
        paper.hanging(
            2,
            "note:",
            &format!("{}: {} [{}]", preservative.name, inactivation.value, inactivation.source),
        );
    }
    if !preservative.binders.is_empty() {
        let lines = line_names(assessment, &preservative.binders);
        paper.hanging(2, "note:", &format!("{} may be bound by line {lines}", preservative.name));
    }
    if let Some(below) = &preservative.add_below_c {
        paper.hanging(
            2,
            "note:",
            &format!("{}: add below {} °C [{}]", preservative.name, below.value, below.source),
        );
    }
}

/// Weak acids and what lies near its solubility.
pub(crate) fn acids_and_crystals(paper: &mut Paper, assessment: &Assessment) {
    if !assessment.acids.is_empty() {
        paper.heading("Weak acids", "undissociated at the pH of the product");
        let rows: Vec<Vec<String>> = assessment
            .acids
            .iter()
            .filter(|acid| acid.share.value.is_none_or(|share| share >= LEAST_SHARE))
            .map(|acid| {
                let share =
                    acid.share.value.map(|share| format!("{} %", numbers::value(share * 100.0, None, None)));
                vec![
                    acid.name.clone(),
                    acid.total_percent.map(|total| numbers::value(total, None, None)).unwrap_or_default(),
                    share.unwrap_or_else(|| "–".to_owned()),
                    acid.free_percent.as_ref().map(|free| numbers::result(free, false)).unwrap_or_default(),
                ]
            })
            .collect();
        paper.columns(
            &[("acid", Lean::Left), ("all %", Lean::Right), ("free", Lean::Right), ("free %", Lean::Right)],
            &rows,
        );
    }
    let near = |when: &str, degrees: &[levigate_assess::saturation::DegreeReading]| -> Vec<Vec<String>> {
        degrees
            .iter()
            .map(|degree| vec![degree.name.clone(), when.to_owned(), numbers::result(&degree.degree, false)])
            .collect()
    };
    let mut rows = near("25 °C", &assessment.saturation.at_25_c);
    rows.extend(near("5 °C", &assessment.saturation.cold));
    if !rows.is_empty() {
        paper.heading("Near its solubility", "amount over solubility; above 1 crystals are possible");
        paper.columns(&[("substance", Lean::Left), ("at", Lean::Left), ("degree", Lean::Left)], &rows);
    }
}
