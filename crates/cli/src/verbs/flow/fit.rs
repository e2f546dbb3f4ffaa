//! `flow fit`: flow models on measured curves.

use crate::answer::{Answer, Failure};
use crate::arguments::{Common, DecimalSignTyped, FitWeights, FlowFit as Asked, TableAsked};
use crate::input::{self, InputBytes};
use crate::numbers;
use crate::paper::{Lean, Look, Paper};
use crate::verbs::flow::recovery;
use crate::verbs::tables::results;
use levigate_project::flow_table::{Choices, ColumnChoice, TorqueFloor};
use levigate_project::records::DecimalSign;
use levigate_project::workbench::flow_fit::{
    self, CurveFit, FlowFit, ModelReading, ParameterReading, Weights,
};

/// Points left out that are named on the screen; all are in the JSON.
const NAMED: usize = 5;
/// Bytes of a text that is shown with a complaint.
const SHOWN: usize = 4 * 1024 * 1024;

/// Fits a measured table.
pub(crate) fn fit(common: &Common, asked: &Asked, look: Look) -> Result<Answer, Failure> {
    let (facts, _) = input::facts(&common.facts)?;
    let question = question(asked.model.as_deref().unwrap_or_default(), &asked.table)?;
    let input = InputBytes::measured(&asked.file)?;
    let fit = flow_fit::flow_fit(&facts, &input.name, &input.bytes, &question).map_err(|problems| {
        let shown = &input.bytes[..input.bytes.len().min(SHOWN)];
        let text = std::str::from_utf8(shown).ok().map(|text| (input.name.as_str(), text));
        Failure::bad_input(problems, text)
    })?;
    if common.json {
        return Answer::json(&fit);
    }
    Ok(Answer::text(page(&fit, look)))
}

/// The question as typed.
pub(crate) fn question(model: &str, asked: &TableAsked) -> Result<flow_fit::Asked, Failure> {
    let columns = asked.columns.iter().map(|text| {
        ColumnChoice::read(text)
            .map_err(|(what, what_now)| Failure::bad_option("not-a-column", "--column", what, what_now))
    });
    Ok(flow_fit::Asked {
        model: model.to_owned(),
        weights: match asked.weights {
            FitWeights::Log => Weights::Log,
            FitWeights::Relative => Weights::Relative,
            FitWeights::Linear => Weights::Linear,
        },
        shear: asked.shear.as_deref().map_or(Ok([None, None]), window)?,
        spindle: asked.spindle.clone(),
        table: Choices {
            sheet: asked.sheet.clone(),
            columns: columns.collect::<Result<_, _>>()?,
            decimal: asked.decimal.map(|sign| match sign {
                DecimalSignTyped::Point => DecimalSign::Point,
                DecimalSignTyped::Comma => DecimalSign::Comma,
            }),
            split_sweeps: !asked.together,
            torque_floor: asked.least_torque.as_deref().map(torque).transpose()?,
            shear_ended_s: asked.shear_ended.map(seconds).transpose()?,
        },
    })
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
        number => {
            let rate = number.parse::<f64>().ok().filter(|rate| rate.is_finite() && *rate >= 0.0);
            rate.map(Some).ok_or_else(|| wrong(format!("\"{number}\" is not a shear rate")))
        }
    };
    let (low, high) = (end(low)?, end(high)?);
    if low.zip(high).is_some_and(|(low, high)| low >= high) {
        return Err(wrong(format!("the window {text} is empty")));
    }
    Ok([low, high])
}

/// When the strong shear ended.
fn seconds(time: f64) -> Result<f64, Failure> {
    if time.is_finite() && time >= 0.0 {
        return Ok(time);
    }
    let what = format!("{time} s cannot be when the strong shear ended");
    Err(Failure::bad_option(
        "not-a-time",
        "--shear-ended",
        what,
        "give seconds on the clock of the file, from 0",
    ))
}

/// `10%`, `0.5uN.m`.
fn torque(text: &str) -> Result<TorqueFloor, Failure> {
    let unit_at = text.find(|sign: char| !(sign.is_ascii_digit() || sign == '.')).unwrap_or(text.len());
    let (number, unit) = text.split_at(unit_at);
    match (number.parse::<f64>(), unit.trim()) {
        (Ok(value), unit) if !unit.is_empty() => Ok(TorqueFloor { value, unit: unit.to_owned() }),
        _ => Err(Failure::bad_option(
            "not-a-torque",
            "--least-torque",
            format!("\"{text}\" is not a torque"),
            "write it like 10% or 0.5uN.m",
        )),
    }
}

fn page(fit: &FlowFit, look: Look) -> String {
    let mut paper = Paper::new(look);
    let file = if fit.file == "-" { "standard input" } else { &fit.file };
    let what = if fit.curves.is_empty() { "Recovery" } else { "Flow curves" };
    paper.title(&format!("{what} of {file}"));
    understood(&mut paper, fit);
    for curve in &fit.curves {
        curve_page(&mut paper, curve);
    }
    for one in &fit.recoveries {
        recovery::page(&mut paper, one);
    }
    together(&mut paper, fit);
    paper.finish()
}

fn understood(paper: &mut Paper, fit: &FlowFit) {
    let used =
        fit.understood.iter().filter(|column| !column.unit.is_empty() || column.meaning.units().is_empty());
    let rows: Vec<Vec<String>> = used
        .map(|column| {
            vec![
                column.name.clone(),
                column.words.to_owned(),
                column.unit.clone(),
                column.factor.map_or_else(String::new, |factor| numbers::value(factor, None, None)),
                if column.sure { String::new() } else { "to be confirmed".to_owned() },
            ]
        })
        .collect();
    if !rows.is_empty() {
        paper.heading("Columns", "as understood; --column NAME=MEANING:UNIT says otherwise");
        paper.columns(
            &[
                ("name", Lean::Left),
                ("holds", Lean::Left),
                ("unit", Lean::Left),
                ("factor to SI", Lean::Right),
                ("", Lean::Left),
            ],
            &rows,
        );
    }
    for doubt in &fit.to_confirm {
        paper.hanging(2, "confirm:", doubt);
    }
    for remark in &fit.remarks {
        paper.hanging(2, "note:", remark);
    }
    if fit.left_out.count > 0 {
        paper.heading("Left out", &format!("{} rows or points", fit.left_out.count));
        for left in &fit.left_out.by_reason {
            paper.hanging(2, &format!("{} times:", left.count), &left.why);
        }
        for left in fit.left_out.first.iter().take(NAMED) {
            paper.hanging(
                4,
                &format!("line {}:", left.line),
                format!("{} \"{}\"", left.name, left.text).trim(),
            );
        }
    }
}

fn curve_page(paper: &mut Paper, fit: &CurveFit) {
    let name = if fit.name.is_empty() { "Curve" } else { &fit.name };
    let mut remark = match fit.measured - fit.outside {
        fitted if fit.outside > 0 => format!("{fitted} of {} points", fit.measured),
        all => format!("{all} points"),
    };
    if let Some(window) = &fit.window {
        let ends = [window.from, window.to].map(|rate| numbers::value(rate, None, None));
        remark.push_str(&format!(", {} to {} 1/s", ends[0], ends[1]));
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
    models(paper, fit);
    if let Some(taken) = &fit.taken {
        taken_page(paper, fit, taken);
    }
    for without in &fit.without {
        paper.hanging(2, "no fit:", &format!("{}: {}", without.name, without.why));
    }
}

/// What several curves say together.
fn together(paper: &mut Paper, fit: &FlowFit) {
    for reading in &fit.loops {
        paper.heading("Loop", &format!("{} against {}", reading.up, reading.down));
        results(paper, &[("area", &reading.area), ("rising over falling stress", &reading.ratio)]);
    }
    if let Some(reading) = &fit.temperature {
        paper.heading("Temperature", &format!("{} curves", reading.curves.len()));
        results(
            paper,
            &[("at shear rate", &reading.shear_rate), ("activation energy", &reading.activation_energy)],
        );
    }
}

fn models(paper: &mut Paper, fit: &CurveFit) {
    let rows: Vec<Vec<String>> = fit.models.iter().map(|model| row(model, fit)).collect();
    paper.columns(
        &[
            ("", Lean::Left),
            ("model", Lean::Left),
            ("AICc", Lean::Right),
            ("rms", Lean::Right),
            ("parameters, SI, ± standard error", Lean::Left),
        ],
        &rows,
    );
}

fn row(model: &ModelReading, fit: &CurveFit) -> Vec<String> {
    let taken = fit.taken.as_ref().is_some_and(|taken| taken.model == model.model);
    let parameters: Vec<String> = model.parameters.iter().map(short).collect();
    vec![
        if taken { "taken".to_owned() } else { String::new() },
        model.name.to_owned(),
        model.aicc.map_or_else(|| "–".to_owned(), |aicc| format!("{aicc:.1}")),
        format!("{:.4}", model.root_mean_square),
        parameters.join("; "),
    ]
}

/// `tau0 5.2 ± 0.1`; what the points do not settle is not named.
pub(super) fn short(parameter: &ParameterReading) -> String {
    let symbol = parameter.symbol;
    match (parameter.estimate.value, parameter.standard_error.value) {
        _ if parameter.not_settled.is_some() => format!("{symbol} not settled"),
        (None, _) => symbol.to_owned(),
        (Some(value), Some(error)) => {
            format!("{symbol} {} ± {}", numbers::value(value, None, None), two_figures(error))
        }
        (Some(value), None) => format!("{symbol} {}", numbers::value(value, None, None)),
    }
}

fn two_figures(value: f64) -> String {
    numbers::value(value, Some(value - 0.06 * value.abs()), None)
}

fn taken_page(paper: &mut Paper, fit: &CurveFit, taken: &flow_fit::Taken) {
    paper.gap();
    paper.hanging(2, "taken:", &format!("{}: {}", taken.name, taken.why));
    for why in &taken.not_settled {
        paper.hanging(2, "not settled:", why);
    }
    if let Some(pattern) = &taken.pattern {
        paper.hanging(2, "doubt:", pattern);
    }
    let Some(model) = fit.models.iter().find(|model| model.model == taken.model) else { return };
    let outliers: Vec<String> = model
        .outliers
        .iter()
        .filter_map(|at| fit.points.get(*at))
        .map(|point| format!("line {} ({} 1/s)", point.line, numbers::value(point.shear_rate, None, None)))
        .collect();
    if !outliers.is_empty() {
        paper.hanging(2, "apart:", &format!("{} lie beyond 3.5 robust deviations", outliers.join(", ")));
    }
    results(paper, &[("yield stress", &fit.yield_stress), ("viscosity at rest", &fit.viscosity_at_rest)]);
}
