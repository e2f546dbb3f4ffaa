//! Measured tables to curves, models and figures.

mod over_time;

use super::Inner;
use super::judging::value;
use super::plates::{plate, scope};
use crate::desk::{Answer, Plate};
use crate::measurement::{Measured, MeasuredReading, TableTrouble};
use crate::trouble::Place;
use levigate_documents::figure::{
    Along, FlowCurve, FlowFigure, FlowMeasured, FlowPoint, FlowSeries, Rendition, Residual, ResidualFigure,
    Settled, Span, Upright,
};
use levigate_project::diagnostic::Diagnostic;
use levigate_project::workbench::complaint::sentence;
use levigate_project::workbench::flow_drawing::{DrawnFit, drawn, model_of};
use levigate_project::workbench::flow_fit::{
    Asked, CurveFit, FlowFit, ModelReading, ParameterReading, flow_fit, model_word,
};
use serde_json::{Value, json};

/// Reads a table and draws what is in it.
pub(super) fn measure(desk: &Inner, measured: &Measured) -> Answer<MeasuredReading> {
    let bytes = measured.table()?;
    // A closer look at a figure needs no other model than the one that is shown.
    let model = if measured.only.is_empty() { String::new() } else { measured.model.clone() };
    let asked = Asked { model, ..measured.asked.clone() };
    let fits = match flow_fit(&desk.shelf.facts(), &measured.file, &bytes, &asked) {
        Ok(fits) => fits,
        Err(list) => {
            let troubles = list.iter().map(trouble).collect();
            return Ok(MeasuredReading { troubles, ..MeasuredReading::default() });
        }
    };
    let names = fits.curves.iter().map(|fit| &fit.name).chain(fits.recoveries.iter().map(|fit| &fit.name));
    let mut reading = MeasuredReading {
        curves: names.cloned().collect(),
        columns: fits.understood.clone(),
        to_confirm: fits.to_confirm.iter().map(|text| sentence(text)).collect(),
        remarks: fits.remarks.iter().map(|text| sentence(text)).collect(),
        left_out: fits.left_out.clone(),
        together: together(&fits),
        ..MeasuredReading::default()
    };
    let over_time = fits.recoveries.iter().find(|fit| fit.name == measured.curve);
    let curve_named =
        fits.curves.iter().find(|fit| fit.name == measured.curve).or_else(|| fits.curves.first());
    let fit = match (over_time, curve_named) {
        (None, Some(fit)) => fit,
        (over_time, _) => {
            if let Some(fit) = over_time.or_else(|| fits.recoveries.first()) {
                over_time::show(&mut reading, measured, fit);
            }
            return Ok(reading);
        }
    };
    let shown = model_of(fit, &measured.model).or_else(|| model_of(fit, ""));
    let laid = shown.and_then(|shown| drawn(fit, shown));
    reading.plates = [flow(measured, fit, shown, laid.as_ref()), residuals(shown, laid.as_ref())]
        .into_iter()
        .flatten()
        .filter(|plate| measured.only.is_empty() || measured.only == plate.id)
        .collect();
    reading.curve = Some(curve(fit, shown, laid.as_ref()));
    Ok(reading)
}

/// Loops between sweeps, and how temperature thins.
fn together(fits: &FlowFit) -> Vec<Value> {
    let loops = fits.loops.iter().map(|one| {
        json!({
            "title": format!("{} against {}", one.up, one.down),
            "says": [
                { "words": "area of the loop", "estimate": value(&one.area) },
                { "words": "rising over falling stress", "estimate": value(&one.ratio) },
            ],
        })
    });
    let temperature = fits.temperature.iter().map(|one| {
        json!({
            "title": format!("Temperature, from {} curves", one.curves.len()),
            "says": [
                { "words": "at a shear rate of", "estimate": value(&one.shear_rate) },
                { "words": "activation energy", "estimate": value(&one.activation_energy) },
            ],
        })
    });
    loops.chain(temperature).collect()
}

fn trouble(one: &Diagnostic) -> TableTrouble {
    let place = Place {
        line: Some(one.line).filter(|line| *line > 0),
        column: Some(one.column).filter(|column| *column > 0),
        field: None,
    };
    TableTrouble {
        code: one.code.clone(),
        what: sentence(&one.what),
        why: if one.field.is_empty() {
            String::new()
        } else {
            sentence(&format!("It stands in {}", one.field))
        },
        what_now: sentence(&one.what_now),
        place: Some(place).filter(|place| place.line.is_some()),
    }
}

/// A shear rate with three figures and no noughts after them.
fn spoken(rate: f64) -> String {
    let text = format!("{rate:.2e}");
    text.parse::<f64>().map_or(text, |rounded| format!("{rounded}"))
}

/// A model or law by its word, as the page lists it.
fn model(word: &str, name: &str, parameters: &[ParameterReading], aicc: Option<f64>, rms: f64) -> Value {
    let parameters: Vec<Value> = parameters
        .iter()
        .map(|parameter| {
            json!({
                "symbol": parameter.symbol,
                "words": parameter.words,
                "estimate": value(&parameter.estimate),
                "not_settled": parameter.not_settled,
            })
        })
        .collect();
    json!({
        "model": word,
        "name": sentence(name).trim_end_matches('.'),
        "parameters": parameters,
        "aicc": aicc,
        "root_mean_square": rms,
    })
}

fn flow_model(one: &ModelReading) -> Value {
    model(&model_word(one.model), one.name, &one.parameters, one.aicc, one.root_mean_square)
}

/// What a reading that stands apart lies off by.
fn off_by(ln_ratio: f64) -> String {
    let side = if ln_ratio < 0.0 { "thicker" } else { "thinner" };
    format!("{:.0} % {side}", 100.0 * (-ln_ratio).exp_m1().abs())
}

fn curve(fit: &CurveFit, shown: Option<&ModelReading>, laid: Option<&DrawnFit>) -> Value {
    let apart: Vec<Value> = laid
        .map(|laid| laid.left.iter())
        .into_iter()
        .flatten()
        .filter(|(_, _, apart)| *apart)
        .map(|(rate, ln_ratio, _)| {
            json!({ "words": format!("at {} 1/s it was measured {} than the model says", spoken(*rate), off_by(*ln_ratio)) })
        })
        .collect();
    json!({
        "kind": "curve",
        "name": fit.name,
        "points": fit.points.len(),
        "measured": fit.measured,
        "outside": fit.outside,
        "gathered": fit.gathered,
        "temperature_c": fit.temperature_c,
        "trouble": fit.trouble.as_ref().map(|one| format!("{} {}", sentence(&one.what), sentence(&one.what_now))),
        "window": fit.window.as_ref().map(|window| json!({ "from": spoken(window.from), "to": spoken(window.to) })),
        "models": fit.models.iter().map(flow_model).collect::<Vec<_>>(),
        "without": fit.without.iter().map(|one| json!({ "name": one.name, "why": one.why })).collect::<Vec<_>>(),
        "taken": fit.taken.as_ref().map(|taken| json!({ "model": model_word(taken.model), "name": sentence(taken.name).trim_end_matches('.'), "why": taken.why, "not_settled": taken.not_settled })),
        "shown": shown.map(flow_model),
        "apart": apart,
    })
}

fn flow(
    measured: &Measured,
    fit: &CurveFit,
    shown: Option<&ModelReading>,
    laid: Option<&DrawnFit>,
) -> Option<Plate> {
    let look = measured.looks.get("flow").cloned().unwrap_or_default();
    let upright = if look.upright == "stress" { Upright::Stress } else { Upright::Viscosity };
    let apart: Vec<usize> = shown.map(|shown| shown.outliers.clone()).unwrap_or_default();
    let points = fit.points.iter().enumerate().map(|(at, point)| FlowMeasured {
        shear_rate: point.shear_rate,
        viscosity: point.stress / point.shear_rate,
        apart: apart.contains(&at),
    });
    let points = points.collect();
    let curves = laid.zip(shown).map(|(laid, shown)| FlowCurve {
        name: shown.name.to_owned(),
        points: laid
            .curve
            .iter()
            .map(|&[shear_rate, viscosity]| FlowPoint { shear_rate, viscosity, low: None, high: None })
            .collect(),
        evidence: Some(Span::new(laid.window[0], laid.window[1])),
    });
    let settled = laid.map(|laid| {
        let yields = laid.yield_stress.map(Settled::YieldStress);
        yields.or_else(|| laid.at_rest.map(Settled::AtRest))
    });
    let name = if fit.name.is_empty() { "measured".to_owned() } else { fit.name.clone() };
    let figure = FlowFigure {
        id: "measured-flow".to_owned(),
        title: "Measured flow curve".to_owned(),
        upright,
        curves: curves.into_iter().collect(),
        measured: vec![FlowSeries { name, points }],
        life: Vec::new(),
        targets: Vec::new(),
        settled: settled.flatten().into_iter().collect(),
        scope: scope(&look),
    };
    let caption = shown.map_or_else(String::new, |shown| {
        format!(
            "Points as measured; the line is {} fitted to them, dashed outside the shear rates fitted.",
            shown.name
        )
    });
    let mut plate =
        plate("flow", figure.title.clone(), caption, figure.svg(Rendition::Screen), figure.table());
    plate.choices = super::plates::uprights();
    plate.chosen = if upright == Upright::Stress { "stress" } else { "viscosity" }.to_owned();
    plate.zooms = true;
    Some(plate)
}

fn residuals(shown: Option<&ModelReading>, laid: Option<&DrawnFit>) -> Option<Plate> {
    let (shown, laid) = (shown?, laid?);
    let points: Vec<Residual> =
        laid.left.iter().map(|&(at, ln_ratio, apart)| Residual { at, ln_ratio, apart }).collect();
    Some(left_over(shown.name, Along::ShearRate, points))
}

/// What a model or law leaves over.
fn left_over(name: &str, along: Along, points: Vec<Residual>) -> Plate {
    let squares: f64 = points.iter().map(|point| point.ln_ratio * point.ln_ratio).sum();
    let figure = ResidualFigure {
        id: "left-over".to_owned(),
        title: format!("What {name} leaves over"),
        along,
        scatter: Some((squares / points.len().max(1) as f64).sqrt()),
        points,
    };
    let caption = "ln of model over measured; the band is the root mean square. Points that scatter without a bend say the model has the right form.".to_owned();
    plate("residuals", figure.title.clone(), caption, figure.svg(Rendition::Screen), figure.table())
}
