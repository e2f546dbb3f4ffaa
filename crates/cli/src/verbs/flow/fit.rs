//! `flow fit`: flow models on a measured curve.

use crate::answer::{Answer, Failure};
use crate::arguments::{Common, FitWeights, FlowFit as Asked};
use crate::input::InputBytes;
use crate::numbers;
use crate::paper::{Lean, Look, Paper};
use levigate_measure::Outcome;
use levigate_project::workbench::flow_fit::{self, CurveFit, FlowFit, ModelReading, Weights};

/// Fits a measured table.
pub(crate) fn fit(common: &Common, asked: &Asked, look: Look) -> Result<Answer, Failure> {
    let input = InputBytes::measured(&asked.file)?;
    let question = flow_fit::Asked {
        model: asked.model.clone().unwrap_or_default(),
        weights: match asked.weights {
            FitWeights::Log => Weights::Log,
            FitWeights::Relative => Weights::Relative,
            FitWeights::Linear => Weights::Linear,
        },
        window: asked.shear.as_deref().map_or(Ok([None, None]), window)?,
    };
    let fit = flow_fit::flow_fit(&input.name, &input.bytes, &question)
        .map_err(|problems| Failure::bad_input(problems, None))?;
    if common.json {
        return Answer::json(&fit);
    }
    Ok(Answer::text(page(&fit, look)))
}

/// `MIN..MAX`, either of which may be left out.
fn window(text: &str) -> Result<[Option<f64>; 2], Failure> {
    let wrong = |what: String| {
        Failure::bad_option("not-a-window", "--shear", what, "write it like 0.1..100, ..100 or 0.1..")
    };
    let Some((low, high)) = text.split_once("..") else {
        return Err(wrong(format!("\"{text}\" has no two points between two shear rates")));
    };
    let end = |text: &str| match text.trim() {
        "" => Ok(None),
        number => number
            .parse::<f64>()
            .ok()
            .filter(|rate| rate.is_finite() && *rate >= 0.0)
            .map(Some)
            .ok_or(number.to_owned()),
    };
    let ends = [end(low), end(high)]
        .map(|end| end.map_err(|number| wrong(format!("\"{number}\" is not a shear rate"))));
    let [low, high] = ends;
    let (low, high) = (low?, high?);
    if low.zip(high).is_some_and(|(low, high)| low >= high) {
        return Err(wrong(format!("the window {text} is empty")));
    }
    Ok([low, high])
}

fn page(fit: &FlowFit, look: Look) -> String {
    let mut paper = Paper::new(look);
    paper.title(&format!("Flow curves of {}", fit.file));
    for curve in &fit.curves {
        curve_page(&mut paper, curve);
    }
    paper.finish()
}

fn curve_page(paper: &mut Paper, fit: &CurveFit) {
    let ends = [&fit.window.from, &fit.window.to].map(plain);
    paper.heading(
        &fit.curve.name,
        &format!("{} points, {} to {} 1/s", fit.curve.points.len(), ends[0], ends[1]),
    );
    let rows: Vec<Vec<String>> = fit.models.iter().map(|model| row(model, fit)).collect();
    paper.columns(
        &[("", Lean::Left), ("model", Lean::Left), ("AICc", Lean::Right), ("parameters, SI", Lean::Left)],
        &rows,
    );
    if let Some(taken) = &fit.taken {
        paper.hanging(2, "taken:", &taken.why);
    }
    for without in &fit.without {
        paper.hanging(2, "no fit:", &format!("{}: {}", without.model.words(), without.why));
    }
}

fn plain(outcome: &Outcome) -> String {
    outcome.value.map_or_else(String::new, |value| numbers::value(value, None, None))
}

fn row(model: &ModelReading, fit: &CurveFit) -> Vec<String> {
    let taken = fit.taken.as_ref().is_some_and(|taken| taken.model == model.model);
    let parameters: Vec<String> = model
        .parameters
        .iter()
        .map(|parameter| {
            let doubt = if parameter.not_settled.is_some() { " (not settled)" } else { "" };
            format!("{} {}{doubt}", parameter.symbol, numbers::result(&parameter.estimate, true))
        })
        .collect();
    vec![
        if taken { "taken".to_owned() } else { String::new() },
        model.name.to_owned(),
        model.aicc.map_or_else(|| "–".to_owned(), |aicc| format!("{aicc:.1}")),
        parameters.join("; "),
    ]
}
