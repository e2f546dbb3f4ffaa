//! Lines and composition.

use super::results;
use crate::numbers;
use crate::paper::{Lean, Paper};
use levigate_assess::Assessment;
use levigate_formula::sheet::Sheet;

/// Longest exact percent that is written out; `--json` has every digit.
const LONGEST_EXACT: usize = 8;
/// Substances below this percent are counted, not listed.
const LEAST_LISTED_PERCENT: f64 = 0.001;

/// The lines as settled.
pub(crate) fn lines(paper: &mut Paper, sheet: &Sheet, assessment: &Assessment) {
    paper.heading("Lines", "% w/w as supplied");
    let rows: Vec<Vec<String>> = assessment
        .lines
        .iter()
        .map(|line| {
            let percent = &line.percent;
            let amount = match (&line.exact, percent.value) {
                (Some(exact), _) if exact.len() <= LONGEST_EXACT => exact.clone(),
                (_, Some(value)) => numbers::value(value, percent.low, percent.high),
                (_, None) => "–".to_owned(),
            };
            let active =
                line.active_percent.as_ref().and_then(|active| active.value.map(|value| (active, value)));
            let active = active.map(|(active, value)| numbers::value(value, active.low, active.high));
            vec![
                (line.line + 1).to_string(),
                sheet.phases.get(line.phase).map(|phase| phase.name.clone()).unwrap_or_default(),
                line.name.clone(),
                amount,
                active.unwrap_or_default(),
                how(assessment, line.line, line.basis),
            ]
        })
        .collect();
    paper.columns(
        &[
            ("", Lean::Right),
            ("phase", Lean::Left),
            ("raw material", Lean::Left),
            ("%", Lean::Right),
            ("active %", Lean::Right),
            ("how", Lean::Left),
        ],
        &rows,
    );
    paper.paragraph(2, &format!("Sum {} %", assessment.composition.total));
}

fn how(assessment: &Assessment, line: usize, basis: &str) -> String {
    match basis {
        "remainder" => "q.s. to 100".to_owned(),
        "from-active" => "from the active".to_owned(),
        "solved" => {
            let aim = assessment.adjusters.iter().find(|adjuster| adjuster.line == line);
            aim.map_or_else(|| "solved".to_owned(), |aim| format!("solved for pH {}", aim.to_ph))
        }
        _ => String::new(),
    }
}

/// What is in it.
pub(crate) fn composition(paper: &mut Paper, assessment: &Assessment) {
    let composition = &assessment.composition;
    paper.heading("Composition", "% w/w");
    let (listed, small): (Vec<_>, Vec<_>) = composition
        .substances
        .iter()
        .partition(|substance| substance.percent.percent >= LEAST_LISTED_PERCENT);
    let rows: Vec<Vec<String>> = listed
        .iter()
        .map(|substance| {
            let spread = substance.percent.low < substance.percent.high;
            let (low, high) = if spread {
                (Some(substance.percent.low), Some(substance.percent.high))
            } else {
                (None, None)
            };
            let range = levigate_measure::Outcome::new(
                substance.percent.percent,
                "",
                levigate_measure::Grade::Computed,
                "",
            );
            let range = if spread {
                range.within(substance.percent.low, substance.percent.high, None)
            } else {
                range
            };
            let from: Vec<String> = substance.from.iter().map(|(line, _)| (line + 1).to_string()).collect();
            vec![
                substance.inci.clone().unwrap_or_else(|| substance.name.clone()),
                numbers::value(substance.percent.percent, low, high),
                numbers::interval(&range).unwrap_or_default(),
                from.join(", "),
            ]
        })
        .collect();
    paper.columns(
        &[("INCI or name", Lean::Left), ("%", Lean::Right), ("range", Lean::Left), ("from line", Lean::Left)],
        &rows,
    );
    if !small.is_empty() {
        paper.paragraph(2, &format!("and {} below {LEAST_LISTED_PERCENT} %", small.len()));
    }
    let mut rows = vec![
        ("water from all lines", &composition.water),
        ("oil from all lines", &composition.oil_percent),
        ("density", &composition.density),
    ];
    if let Some(fill) = &composition.fill_mass {
        rows.push(("content of one pack", fill));
    }
    paper.gap();
    results(paper, &rows);
}
