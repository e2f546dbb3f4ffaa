//! `calibrate`: what buffers say of a pH electrode.

use super::Written;
use crate::answer::{Answer, Failure};
use crate::arguments::{Common, MakingFile};
use crate::input::{self, Input};
use crate::paper::{Look, Paper};
use crate::verbs::tables::{notes, results};
use levigate_measure::Outcome;
use levigate_project::workbench::making::calibrate::{self as of, CalibrationReading};

/// Answers.
pub(crate) fn calibrate(common: &Common, asked: &MakingFile, look: Look) -> Result<Answer, Failure> {
    let (facts, used) = input::facts(&common.facts)?;
    let input = Input::read(&asked.file)?;
    let reading = of::calibrate(&facts, input.pair()).map_err(|problems| input.refused(problems))?;
    if common.json {
        return Answer::json(&Written { reading: &reading, facts: &used });
    }
    let mut paper = Paper::new(look);
    paper.title(&format!("Calibration at {} \u{b0}C", reading.temperature_c));
    page(&mut paper, &reading);
    if !reading.samples.is_empty() {
        paper.heading("Samples", "pH at their own temperature");
        let names: Vec<String> =
            (1..=reading.samples.len()).map(|number| format!("sample {number}")).collect();
        let rows: Vec<(&str, &Outcome)> =
            names.iter().map(String::as_str).zip(reading.samples.iter().map(|sample| &sample.ph)).collect();
        results(&mut paper, &rows);
    }
    if let Some(remark) = used.remark() {
        paper.heading("", &remark);
    }
    Ok(Answer::text(paper.finish()))
}

/// The electrode, its buffers and the rules.
pub(super) fn page(paper: &mut Paper, reading: &CalibrationReading) {
    let mut rows = vec![
        ("slope", &reading.slope),
        ("of the ideal one", &reading.slope_percent),
        ("offset at pH 7", &reading.offset),
        ("zero point", &reading.zero_point),
    ];
    rows.extend(reading.electrode.iter().map(|size| ("standard uncertainty of a pH", size)));
    rows.extend(reading.check.iter().map(|check| ("check buffer, shown less true", check)));
    results(paper, &rows);
    paper.heading("Buffers", "reading less line");
    let rows: Vec<(&str, &Outcome)> =
        reading.points.iter().map(|point| (point.name.as_str(), &point.residual)).collect();
    results(paper, &rows);
    paper.heading("Rules", "");
    for rule in &reading.rules {
        let points: Vec<String> = rule
            .points
            .iter()
            .map(|point| if point.holds { point.words.clone() } else { format!("not kept: {}", point.words) })
            .collect();
        let word = if rule.holds { "holds:" } else { "does not hold:" };
        paper.hanging(2, word, &format!("{}; {}", rule.name, points.join("; ")));
    }
    notes(paper, &reading.notes);
}
