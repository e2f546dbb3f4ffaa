//! Readings over time after a strong shear: the laws fitted to them, and the figures.

use super::{left_over, model, off_by, spoken, value};
use crate::desk::Plate;
use crate::measurement::{Measured, MeasuredReading};
use crate::workspace_desk::plates::{plate, scope};
use levigate_documents::figure::{Along, RecoveryFigure, RecoveryPoint, Rendition, Residual};
use levigate_project::workbench::complaint::sentence;
use levigate_project::workbench::flow_drawing::{DrawnRecovery, drawn_recovery, law_of};
use levigate_project::workbench::flow_fit::{LawReading, RecoveryFit, law_word};
use serde_json::{Value, json};

/// Shows a recovery.
pub(super) fn show(reading: &mut MeasuredReading, measured: &Measured, fit: &RecoveryFit) {
    let shown = law_of(fit, &measured.model).or_else(|| law_of(fit, ""));
    let laid = shown.map(|shown| drawn_recovery(fit, shown));
    let left = shown.zip(laid.as_ref()).map(|(shown, laid)| {
        let point = |&(at, ln_ratio, apart): &(f64, f64, bool)| Residual { at, ln_ratio, apart };
        left_over(shown.name, Along::Time, laid.left.iter().map(point).collect())
    });
    reading.plates = std::iter::once(recovery(measured, fit, shown, laid.as_ref()))
        .chain(left)
        .filter(|plate| measured.only.is_empty() || measured.only == plate.id)
        .collect();
    reading.curve = Some(told(fit, shown, laid.as_ref()));
}

fn law(one: &LawReading) -> Value {
    model(&law_word(one.law), one.name, &one.parameters, one.aicc, one.root_mean_square)
}

fn told(fit: &RecoveryFit, shown: Option<&LawReading>, laid: Option<&DrawnRecovery>) -> Value {
    let apart: Vec<Value> = laid
        .map(|laid| laid.left.iter())
        .into_iter()
        .flatten()
        .filter(|(_, _, apart)| *apart)
        .map(|(time, ln_ratio, _)| {
            json!({ "words": format!("after {} s it was measured {} than the law says", spoken(*time), off_by(*ln_ratio)) })
        })
        .collect();
    let ends = fit.points.first().zip(fit.points.last());
    let says = [
        ("read at", &fit.at),
        ("after a shear at", &fit.strong),
        ("viscosity in the end", &fit.in_the_end),
        ("nine tenths back after", &fit.nine_tenths),
        ("share of the way back at the last reading", &fit.reached),
        ("viscosity before the shear", &fit.before),
        ("last reading over that before the shear", &fit.share_of_before),
    ];
    let of_file = [
        "read at",
        "after a shear at",
        "viscosity before the shear",
        "last reading over that before the shear",
    ];
    let says: Vec<Value> = says
        .into_iter()
        // What the file does not hold is no answer; what the readings do not settle is one.
        .filter(|(words, outcome)| outcome.value.is_some() || !of_file.contains(words))
        .map(|(words, outcome)| json!({ "words": words, "estimate": value(outcome) }))
        .collect();
    json!({
        "kind": "recovery",
        "name": fit.name,
        "points": fit.points.len(),
        "measured": fit.measured,
        "outside": 0,
        "gathered": fit.gathered,
        "temperature_c": fit.temperature_c,
        "trouble": fit.trouble.as_ref().map(|one| format!("{} {}", sentence(&one.what), sentence(&one.what_now))),
        "window": ends.map(|(first, last)| json!({ "from": spoken(first.time_s), "to": spoken(last.time_s) })),
        "models": fit.laws.iter().map(law).collect::<Vec<_>>(),
        "without": [],
        "taken": fit.taken.as_ref().map(|taken| json!({ "model": law_word(taken.law), "name": sentence(taken.name).trim_end_matches('.'), "why": taken.why, "not_settled": taken.not_settled })),
        "shown": shown.map(law),
        "says": says,
        "apart": apart,
    })
}

fn recovery(
    measured: &Measured,
    fit: &RecoveryFit,
    shown: Option<&LawReading>,
    laid: Option<&DrawnRecovery>,
) -> Plate {
    let look = measured.looks.get("recovery").cloned().unwrap_or_default();
    let points = fit.points.iter().enumerate().map(|(at, point)| RecoveryPoint {
        time_s: point.time_s,
        viscosity: point.viscosity,
        law: shown.and_then(|shown| shown.fitted_viscosity.get(at).copied()),
        apart: shown.is_some_and(|shown| shown.outliers.contains(&at)),
    });
    let figure = RecoveryFigure {
        id: "recovery".to_owned(),
        title: "Recovery after shear".to_owned(),
        law: shown.map_or_else(String::new, |shown| shown.name.to_owned()),
        curve: laid.map(|laid| laid.curve.clone()).unwrap_or_default(),
        points: points.collect(),
        in_the_end: laid.and_then(|laid| laid.in_the_end),
        before: fit.before.value,
        across: scope(&look).map(|scope| scope.shear_rate),
    };
    let caption = shown.map_or_else(
        || "Readings as measured; no law is laid through them.".to_owned(),
        |shown| {
            format!(
                "Readings as measured; the line is the law ({}) fitted to them, dashed beyond the last.",
                shown.name
            )
        },
    );
    let mut plate =
        plate("recovery", figure.title.clone(), caption, figure.svg(Rendition::Screen), figure.table());
    plate.zooms = true;
    plate
}
