//! `uncertainty`: how sure a batch is.

use super::Written;
use crate::answer::{Answer, Failure};
use crate::arguments::{Common, Uncertainty};
use crate::input::{self, Input};
use crate::numbers;
use crate::paper::{Lean, Look, Paper};
use crate::verbs::{USUAL_MARKET, day};
use levigate_project::making_file::uncertainty::{formula_of, read};
use levigate_project::workbench::making::uncertainty::{
    self as of, Help, LineUncertainty, ResultUncertainty, ShareOfVariance, TargetHelp, UncertaintyReading,
};
use std::path::Path;

/// Answers.
pub(crate) fn uncertainty(common: &Common, asked: &Uncertainty, look: Look) -> Result<Answer, Failure> {
    let (facts, used) = input::facts(&common.facts)?;
    let input = Input::read(&asked.file)?;
    let mut question = read(&input.name, &input.text).map_err(|problems| input.refused(problems))?;
    if let Some(draws) = asked.draws {
        (question.draws, question.steady_digits) = (draws, None);
    }
    question.seed = asked.seed.unwrap_or(question.seed);
    question.batch_g = asked.batch.or(question.batch_g);
    let formula = match &question.formula {
        Some(name) => Input::read(&asked.file.parent().unwrap_or(Path::new("")).join(name))?,
        None => Input { name: input.name.clone(), text: formula_of(&input.text) },
    };
    let market = asked.market.as_deref().unwrap_or(USUAL_MARKET);
    let reading = of::uncertainty(&facts, (day(None), market), formula.pair(), &question)
        .map_err(|problems| formula.refused(problems))?;
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

fn page(paper: &mut Paper, reading: &UncertaintyReading) {
    let batch = &reading.batch;
    let cover = format!("{:.4}", 100.0 * batch.coverage);
    let cover = cover.trim_end_matches('0').trim_end_matches('.');
    paper.title(&format!("{}: how sure a batch of {} g is", reading.product.name, batch.batch_g));
    paper.paragraph(
        0,
        &format!("Intervals hold {cover} of 100 batches. {} draws, seed {}.", batch.draws, batch.seed),
    );
    if let Some(digits) = batch.steady_digits {
        let words = if batch.not_steady.is_empty() {
            format!("Drawn until {digits} digits of every standard uncertainty stood still.")
        } else {
            format!(
                "Fewer than {digits} digits stand still in {}: more draws would tell.",
                batch.not_steady.join(", ")
            )
        };
        paper.paragraph(0, &words);
    }
    paper.heading("Lines", "share in the finished batch; U in percent of the line");
    paper.columns(&LINE_HEADS, &batch.lines.iter().map(line_row).collect::<Vec<_>>());
    paper.heading(
        "Results",
        "as predicted with all doubt, and from batch to batch by weighing and lots alone",
    );
    paper.columns(&RESULT_HEADS, &batch.results.iter().map(result_row).collect::<Vec<_>>());
    for result in batch.results.iter().filter(|result| !result.agree) {
        paper.hanging(
            2,
            "note:",
            &format!("{}: the law of propagation and the draws part; take the draws", result.name),
        );
    }
    targets(paper, &batch.results);
    paper.heading("Where it comes from", "shares of the variance");
    for result in batch.results.iter().filter(|result| !result.from.is_empty()) {
        paper.hanging(2, &format!("{}:", result.name), &sources(&result.from));
        if result.from_making.first().map(|one| &one.name) != result.from.first().map(|one| &one.name)
            && !result.from_making.is_empty()
        {
            paper.hanging(4, "from batch to batch:", &sources(&result.from_making));
        }
    }
    let helped = |result: &&ResultUncertainty| result.target.as_ref().is_some_and(|one| one.help.is_some());
    if !batch.helps.is_empty() || batch.results.iter().any(|result| helped(&result)) {
        paper.heading("What would help", "each computed anew");
        for result in batch.results.iter().filter(helped) {
            let found = result.target.as_ref().and_then(|target| target.help.as_ref());
            found.into_iter().for_each(|one| target_help(paper, &result.name, one));
        }
        batch.helps.iter().for_each(|one| help(paper, one));
    }
    paper.heading("In it", "");
    batch.counted.iter().for_each(|words| paper.hanging(2, "-", words));
    paper.heading("Not in it", "");
    batch.not_counted.iter().for_each(|words| paper.hanging(2, "-", words));
}

const LINE_HEADS: [(&str, Lean); 7] = [
    ("", Lean::Right),
    ("", Lean::Left),
    ("g", Lean::Right),
    ("% w/w", Lean::Right),
    ("U", Lean::Right),
    ("tolerance", Lean::Right),
    ("kept in", Lean::Right),
];

fn line_row(line: &LineUncertainty) -> Vec<String> {
    let percent = &line.percent;
    let value = percent.value.map(|value| numbers::value(value, percent.low, percent.high));
    vec![
        (line.line + 1).to_string(),
        if line.portions > 1 {
            format!("{} (in {} portions)", line.name, line.portions)
        } else {
            line.name.clone()
        },
        numbers::value(line.grams, None, None),
        value.unwrap_or_default(),
        format!("{} %", rough(line.expanded_percent)),
        line.tolerance_percent.map_or_else(String::new, |percent| format!("{percent} %")),
        line.within_tolerance.map_or_else(String::new, of_100),
    ]
}

const RESULT_HEADS: [(&str, Lean); 4] =
    [("", Lean::Left), ("value", Lean::Right), ("as predicted", Lean::Left), ("batch to batch", Lean::Left)];

fn result_row(result: &ResultUncertainty) -> Vec<String> {
    vec![
        result.name.clone(),
        numbers::result(&result.drawn, true),
        numbers::interval(&result.drawn).unwrap_or_default(),
        numbers::interval(&result.batch_to_batch).unwrap_or_default(),
    ]
}

/// An uncertainty, to two figures.
fn rough(value: f64) -> String {
    numbers::value(value, Some(0.9 * value), Some(1.1 * value))
}

/// A chance in whole batches of a hundred, never rounded to certainty.
fn of_100(percent: f64) -> String {
    match percent {
        least if least < 1.0 => "under 1 of 100".to_owned(),
        most if most > 99.0 => "over 99 of 100".to_owned(),
        between => format!("{between:.0} of 100"),
    }
}

fn targets(paper: &mut Paper, results: &[ResultUncertainty]) {
    let rows: Vec<Vec<String>> = results
        .iter()
        .filter_map(|result| {
            let target = result.target.as_ref()?;
            Some(vec![
                result.name.clone(),
                target.words.clone(),
                of_100(target.as_predicted),
                of_100(target.batch_to_batch),
            ])
        })
        .collect();
    if rows.is_empty() {
        return;
    }
    paper.heading("Targets", "how many batches of a hundred land in them");
    let heads = [
        ("", Lean::Left),
        ("target", Lean::Left),
        ("as predicted", Lean::Right),
        ("batch to batch", Lean::Right),
    ];
    paper.columns(&heads, &rows);
    for result in results.iter().filter(|one| one.target.as_ref().is_some_and(|target| !target.aimed)) {
        paper.hanging(
            2,
            "note:",
            &format!("{}: the formula itself does not aim into it; no weighing mends that", result.name),
        );
    }
}

fn sources(shares: &[ShareOfVariance]) -> String {
    let one = |share: &ShareOfVariance| format!("{} {:.0} %", share.name, share.percent);
    shares.iter().map(one).collect::<Vec<_>>().join(", ")
}

fn target_help(paper: &mut Paper, target: &str, help: &TargetHelp) {
    let most = format!(
        "most from line {}, {}: {:.0} % of the variance from batch to batch",
        help.line + 1,
        help.name,
        help.percent
    );
    paper.hanging(2, &format!("{target}:"), &most);
    for remedy in &help.remedies {
        let met = of_100(remedy.batch_to_batch);
        paper.hanging(4, "-", &format!("{}: in the target in {met}", remedy.words));
    }
}

fn help(paper: &mut Paper, help: &Help) {
    paper.hanging(2, &format!("{}:", help.name), &help.why);
    if help.remedies.is_empty() {
        paper.paragraph(4, "neither a finer balance, a stock solution nor a larger batch alone does it");
    }
    for remedy in &help.remedies {
        let chance = remedy
            .within_tolerance
            .map_or_else(String::new, |chance| format!(", within its tolerance in {}", of_100(chance)));
        let figure = format!("U {} %{chance}", rough(remedy.expanded_percent));
        paper.hanging(4, "-", &format!("{}: {figure}", remedy.words));
    }
}
