//! `adjust`: the next addition of an acid or base.

use super::{Written, calibrate};
use crate::answer::{Answer, Failure};
use crate::arguments::{Common, MakingFile};
use crate::input::{self, Input};
use crate::numbers;
use crate::paper::{Look, Paper};
use crate::verbs::tables::{notes, results};
use levigate_measure::Outcome;
use levigate_project::workbench::making::adjust::{self as of, AdjustReading};

/// Answers.
pub(crate) fn adjust(common: &Common, asked: &MakingFile, look: Look) -> Result<Answer, Failure> {
    let (facts, used) = input::facts(&common.facts)?;
    let input = Input::read(&asked.file)?;
    let reading = of::adjust(&facts, input.pair()).map_err(|problems| input.refused(problems))?;
    if common.json {
        return Answer::json(&Written { reading: &reading, facts: &used });
    }
    let mut paper = Paper::new(look);
    page(&mut paper, &reading);
    if let Some(remark) = used.remark() {
        paper.heading("", &remark);
    }
    Ok(Answer::text(paper.finish()))
}

pub(crate) fn page(paper: &mut Paper, reading: &AdjustReading) {
    let report = &reading.report;
    let edge = |end: Option<f64>| end.map_or_else(String::new, |end| format!("{end:.2}"));
    paper.title(&format!(
        "pH {} to {}, {}",
        edge(reading.window.low),
        edge(reading.window.high),
        reading.method
    ));
    paper.paragraph(0, &report.say);
    for reason in &report.because {
        paper.hanging(2, "because:", reason);
    }
    notes(paper, &report.notes);
    paper.heading("Now and then", "");
    let (now, then) = (rounded(&report.within_now, 1.0), rounded(&report.within_then, 1.0));
    let mut rows = vec![
        ("pH now", &report.ph_now),
        ("in the window now", &now),
        ("pH after the addition", &report.ph_then),
        ("in the window then", &then),
    ];
    rows.extend(report.warms_by.iter().map(|kelvin| ("warms by, all at once", kelvin)));
    results(paper, &rows);
    paper.heading(&report.adjuster, "");
    let portion = rounded(&report.portion, 0.001);
    results(
        paper,
        &[
            ("in the batch", &report.added),
            ("to the lower edge, in all", &report.to_edges[0]),
            ("to the upper edge, in all", &report.to_edges[1]),
            ("best place, in all", &report.best),
            ("most in this step, in all", &report.most),
            ("the smallest portion moves, pH", &portion),
        ],
    );
    let reading_size = rounded(&report.reading, 0.001);
    paper.heading("Learned", "");
    results(
        paper,
        &[
            ("buffer capacity in the window", &report.capacity),
            ("base needed beyond the model", &report.excess),
            ("electrode off by", &report.electrode),
            ("standard uncertainty of a reading", &reading_size),
        ],
    );
    for heard in &report.readings {
        paper.hanging(2, &format!("{}.", heard.number), &heard.words);
    }
    settling(paper, reading);
    counted(paper, reading);
    for drift in &report.drifts {
        paper.hanging(2, "later:", &drift.words);
    }
    if let Some(calibration) = &reading.calibration {
        paper.heading("Calibration", "");
        calibrate::page(paper, calibration);
    }
}

/// A result in the steps a person can use.
fn rounded(outcome: &Outcome, step: f64) -> Outcome {
    Outcome { value: outcome.value.map(|value| (value / step).round() * step), ..outcome.clone() }
}

fn settling(paper: &mut Paper, reading: &AdjustReading) {
    for trace in &reading.settling {
        let name = format!("Reading {}", trace.number);
        paper.heading(&name, "where it settles");
        let mut rows: Vec<(&str, &Outcome)> = vec![("settled pH", &trace.ph), ("wait", &trace.wait)];
        rows.extend(trace.time_constant.iter().map(|tau| ("time constant", tau)));
        results(paper, &rows);
        notes(paper, &trace.notes);
    }
}

fn counted(paper: &mut Paper, reading: &AdjustReading) {
    let report = &reading.report;
    if report.counted.is_empty() {
        return;
    }
    paper.heading("Counted into the formula", "the addition of now included");
    for adjuster in &report.counted {
        let brings: Vec<String> = adjuster
            .brings
            .iter()
            .map(|part| format!("{} {}", numbers::result(&part.amount, true), part.name))
            .collect();
        paper.hanging(
            2,
            &format!("{}:", adjuster.name),
            &format!(
                "{}, {}; brings {}",
                numbers::result(&adjuster.grams, true),
                numbers::result(&adjuster.percent, true),
                brings.join(", ")
            ),
        );
    }
    let mut rows = vec![
        ("water of the q.s. line still to add", &report.water_to_add),
        ("the other lines stand at", &report.others),
    ];
    rows.extend(report.wasted.iter().map(|wasted| ("neutralised each other", wasted)));
    results(paper, &rows);
}
