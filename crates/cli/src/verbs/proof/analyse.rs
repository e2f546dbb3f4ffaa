//! `analyse`: what runs say of blends, or an equation of data.

use crate::answer::{Answer, Failure};
use crate::arguments::{AnalyseFile, Common, PlaneAsked};
use crate::input::InputBytes;
use crate::numbers;
use crate::paper::{Lean, Look, Paper};
use crate::verbs::tables::{notes, results};
use crate::writing::write_whole;
use levigate_documents::figure::Rendition;
use levigate_documents::sight::drawn;
use levigate_measure::Outcome;
use levigate_project::workbench::experiments::Looking;
use levigate_project::workbench::proof::analyse::{
    self as of, Analysed, AnalysisReading, BestReading, EQUATION, EquationReading, Named, ResponseReading,
    Said,
};

/// Answers.
pub(crate) fn analyse(common: &Common, asked: &AnalyseFile, look: Look) -> Result<Answer, Failure> {
    let input = InputBytes::measured(&asked.file)?;
    let said = Said {
        responses: asked.response.clone(),
        settings: asked.setting.clone(),
        model: asked.model.clone(),
        equation: asked.equation.clone(),
        start: asked.start.clone(),
        profile: asked.profile,
        grid: asked.grid,
        wishes: asked.wish.clone(),
    };
    if let Some(file) = &asked.plot {
        let seen = of::analyse_seen((&input.name, &input.bytes), &said, &looking(&asked.plane, ""))
            .map_err(|problems| Failure::bad_input(problems, None))?;
        write_whole(file, drawn("plot", &seen, Rendition::Print).svg.as_bytes())?;
    }
    let reading = of::analyse((&input.name, &input.bytes), &said).map_err(|problems| {
        let of_equation = problems.iter().any(|problem| problem.file == EQUATION);
        let text = std::str::from_utf8(&input.bytes).ok().map(|text| (input.name.as_str(), text));
        let typed = asked.equation.as_deref().map(|text| (EQUATION, text));
        Failure::bad_input(problems, if of_equation { typed } else { text })
    })?;
    if common.json {
        return Answer::json(&reading);
    }
    let mut paper = Paper::new(look);
    match &reading {
        Analysed::Runs(reading) => runs(&mut paper, reading),
        Analysed::Equation(reading) => equation(&mut paper, reading),
    }
    Ok(Answer::text(paper.finish()))
}

/// What a figure shall show.
pub(crate) fn looking(asked: &PlaneAsked, model: &str) -> Looking {
    Looking {
        of: asked.of.clone(),
        across: asked.across.clone(),
        held: asked.held.clone(),
        model: model.to_owned(),
    }
}

fn short(outcome: &Outcome) -> String {
    let Some(value) = outcome.value else { return "–".to_owned() };
    let text = numbers::value(value, outcome.low, outcome.high);
    // A little below nothing is nothing in the digits that are known.
    if text == "-0" { "0".to_owned() } else { text }
}

fn limits(outcome: &Outcome) -> String {
    numbers::interval(outcome).unwrap_or_default()
}

/// A probability: very small ones only as that.
fn probability(outcome: &Outcome) -> String {
    match outcome.value {
        Some(chance) if chance < 0.001 => "below 0.001".to_owned(),
        Some(chance) => format!("{chance:.3}"),
        None => "–".to_owned(),
    }
}

fn titled(what: &str, title: &str) -> String {
    if title.is_empty() { what.to_owned() } else { format!("{what}: {title}") }
}

fn levels(levels: &[Named]) -> String {
    let one = |level: &Named| {
        format!(
            "{} {}",
            level.name,
            level.value.value.map_or_else(String::new, |value| format!("{value:.3}"))
        )
    };
    levels.iter().map(one).collect::<Vec<_>>().join(", ")
}

pub(crate) fn runs(paper: &mut Paper, reading: &AnalysisReading) {
    paper.title(&titled("What the runs say", &reading.title));
    for response in &reading.responses {
        of_response(paper, response);
    }
    if let Some(best) = &reading.best {
        best_of(paper, best);
    }
    if !reading.grid.is_empty() {
        let heads: Vec<(&str, Lean)> = reading
            .parts
            .iter()
            .map(String::as_str)
            .chain(reading.responses.iter().map(|response| response.name.as_str()))
            .map(|name| (name, Lean::Right))
            .collect();
        let rows: Vec<Vec<String>> = reading
            .grid
            .iter()
            .map(|point| {
                let parts =
                    point.levels.iter().map(|level| format!("{:.3}", level.value.unwrap_or_default()));
                parts.chain(point.values.iter().map(short)).collect()
            })
            .collect();
        paper.heading("Region", "means of the models");
        paper.columns(&heads, &rows);
    }
    paper.heading("Mind", "");
    notes(paper, &reading.notes);
}

fn of_response(paper: &mut Paper, response: &ResponseReading) {
    let unit = if response.unit.is_empty() { String::new() } else { format!(", {}", response.unit) };
    paper.heading(&format!("{}{unit}", response.name), &response.words);
    let heads = [
        ("term", Lean::Left),
        ("coefficient", Lean::Right),
        ("interval", Lean::Left),
        ("error", Lean::Right),
        ("by chance", Lean::Right),
    ];
    let rows: Vec<Vec<String>> = response
        .terms
        .iter()
        .map(|term| {
            let chance = term.chance.as_ref().map_or_else(String::new, probability);
            let (value, error) = (&term.coefficient, &term.error);
            vec![term.name.clone(), short(value), limits(value), short(error), chance]
        })
        .collect();
    paper.columns(&heads, &rows);
    paper.gap();
    let fit = &response.fit;
    results(
        paper,
        &[
            ("scatter of a run about the model", &fit.scatter),
            ("scatter of repeated runs", &fit.pure),
            ("misfit, by chance", &fit.lack_of_fit),
            ("explained (R²)", &fit.explained),
            ("explained, adjusted", &fit.adjusted),
            ("foretold of runs left out", &fit.foretold),
        ],
    );
    notes(paper, &response.notes);
    paper.gap();
    let heads = [
        ("model", Lean::Left),
        ("terms", Lean::Right),
        ("left", Lean::Right),
        ("criterion", Lean::Right),
        ("adds, by chance", Lean::Right),
    ];
    let rows: Vec<Vec<String>> = response
        .steps
        .iter()
        .map(|step| {
            let whole = |outcome: &Outcome| {
                outcome.value.map_or_else(|| "–".to_owned(), |count| format!("{count:.0}"))
            };
            let mark = if step.model == response.model { " (taken)" } else { "" };
            let criterion =
                step.criterion.value.map_or_else(|| "–".to_owned(), |value| format!("{value:.1}"));
            let name = format!("{}{mark}", step.model);
            vec![name, whole(&step.terms), whole(&step.degrees), criterion, probability(&step.adds)]
        })
        .collect();
    paper.columns(&heads, &rows);
    paper.gap();
    let heads = [
        ("run", Lean::Right),
        ("measured", Lean::Right),
        ("model", Lean::Right),
        ("difference", Lean::Right),
        ("leverage", Lean::Right),
        ("apart", Lean::Right),
        ("", Lean::Left),
    ];
    let rows: Vec<Vec<String>> = response
        .runs
        .iter()
        .map(|run| {
            let two = |outcome: &Outcome| {
                outcome.value.map_or_else(|| "–".to_owned(), |value| format!("{value:.2}"))
            };
            let word = if run.stands_apart { "stands apart" } else { "" };
            vec![
                run.number.to_string(),
                short(&run.measured),
                short(&run.fitted),
                short(&run.residual),
                two(&run.leverage),
                two(&run.apart),
                word.to_owned(),
            ]
        })
        .collect();
    paper.columns(&heads, &rows);
    for asked in &response.asked {
        paper.gap();
        paper.hanging(2, "asked:", &levels(&asked.levels));
        results(paper, &[("mean", &asked.mean), ("next batch", &asked.next)]);
        if let Some(measured) = &asked.measured {
            let verdict = match asked.within {
                Some(true) => "within the limits of the next batch: the model holds here",
                Some(false) => {
                    "outside the limits of the next batch: the model does not hold here, or the batch is not like the runs"
                }
                None => "no limits are known to hold it against",
            };
            paper.hanging(2, "check batch:", &format!("{}, {verdict}", numbers::result(measured, true)));
        }
    }
}

fn best_of(paper: &mut Paper, best: &BestReading) {
    paper.heading("Best blend by the wishes", &levels(&best.levels));
    let heads = [
        ("", Lean::Left),
        ("mean", Lean::Right),
        ("interval", Lean::Left),
        ("next batch", Lean::Left),
        ("wish met", Lean::Right),
    ];
    let met = |outcome: &Outcome| outcome.value.map_or_else(|| "–".to_owned(), |value| format!("{value:.3}"));
    let mut rows: Vec<Vec<String>> = best
        .wishes
        .iter()
        .map(|wish| {
            vec![wish.name.clone(), short(&wish.mean), limits(&wish.mean), limits(&wish.next), met(&wish.met)]
        })
        .collect();
    rows.push(vec!["together".to_owned(), String::new(), String::new(), String::new(), met(&best.worth)]);
    paper.columns(&heads, &rows);
    notes(paper, &best.notes);
}

fn equation(paper: &mut Paper, reading: &EquationReading) {
    paper.title(&titled("An equation fitted", &reading.title));
    paper.paragraph(2, &reading.equation);
    let how = if reading.solved_at_once {
        "straight in its parameters: solved at once, no start is needed"
    } else {
        "searched from the start"
    };
    paper.heading("Parameters", how);
    let profiled = reading.parameters.iter().any(|parameter| parameter.profile.is_some());
    let mut heads = vec![
        ("", Lean::Left),
        ("value", Lean::Right),
        ("interval", Lean::Left),
        ("error", Lean::Right),
        ("start", Lean::Right),
    ];
    if profiled {
        heads.push(("along the profile", Lean::Left));
    }
    let rows: Vec<Vec<String>> = reading
        .parameters
        .iter()
        .map(|parameter| {
            let start = parameter.start.as_ref().map_or_else(String::new, short);
            let mut row = vec![
                parameter.name.clone(),
                short(&parameter.value),
                limits(&parameter.value),
                short(&parameter.error),
                start,
            ];
            if profiled {
                row.push(parameter.profile.as_ref().map_or_else(String::new, limits));
            }
            row
        })
        .collect();
    paper.columns(&heads, &rows);
    notes(paper, reading.parameters.iter().flat_map(|parameter| &parameter.value.notes));
    notes(
        paper,
        reading
            .parameters
            .iter()
            .filter_map(|parameter| parameter.profile.as_ref())
            .flat_map(|one| &one.notes),
    );
    paper.heading("How well it fits", "");
    results(
        paper,
        &[
            ("scatter of a row about it", &reading.scatter),
            ("sum of squares", &reading.residual_sum),
            ("explained", &reading.explained),
        ],
    );
    paper.heading("Rows", "as they stand to the left");
    let heads = [
        ("row", Lean::Right),
        ("observed", Lean::Right),
        ("equation", Lean::Right),
        ("difference", Lean::Right),
        ("apart", Lean::Right),
        ("", Lean::Left),
    ];
    let rows: Vec<Vec<String>> = reading
        .rows
        .iter()
        .map(|row| {
            let apart = row.apart.value.map_or_else(|| "–".to_owned(), |value| format!("{value:.2}"));
            let word = if row.stands_apart { "stands apart" } else { "" };
            let [observed, fitted, residual] = [&row.observed, &row.fitted, &row.residual].map(short);
            vec![row.number.to_string(), observed, fitted, residual, apart, word.to_owned()]
        })
        .collect();
    paper.columns(&heads, &rows);
    paper.heading("Mind", "");
    notes(paper, &reading.notes);
}
