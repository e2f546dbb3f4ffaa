//! The flow curve under the sheet.

use super::plates::{plate, scope, uprights};
use crate::desk::{Looking, Plate};
use levigate_documents::figure::{
    FlowCurve, FlowFigure, FlowPoint, FlowSeries, FlowTarget, Rendition, Settled, ShearSpan, Span, Upright,
};
use levigate_project::workbench::complaint::sentence;
use levigate_project::workbench::flow_sheet::FlowSheet;

/// The name the figure has on a page.
pub(super) const FLOW: &str = "flow";
/// Shear rates that are shown however slow a stage is, 1/s.
const SLOWEST: f64 = 1e-5;
const FASTEST: f64 = 1e5;

/// The figure with what was measured on trials; none where nothing is known and nothing was measured.
pub(super) fn flow(shown: &FlowSheet, measured: Vec<FlowSeries>, looking: &Looking) -> Option<Plate> {
    if shown.curve.is_empty() && measured.is_empty() {
        return None;
    }
    let look = looking.at(FLOW);
    let upright = if look.upright == "stress" { Upright::Stress } else { Upright::Viscosity };
    let points = shown.curve.iter().map(|point| {
        let [low, viscosity, high] = point.viscosity_pa_s;
        FlowPoint { shear_rate: point.shear_rate, viscosity, low: Some(low), high: Some(high) }
    });
    let curve = FlowCurve {
        name: "predicted".to_owned(),
        points: points.collect(),
        evidence: Some(Span::new(shown.window[0], shown.window[1])),
    };
    let stage = |(name, [low, high]): &(String, [f64; 2])| {
        let (low, high) = (low.max(SLOWEST), high.min(FASTEST));
        (low < high).then(|| ShearSpan { name: name.clone(), shear_rate: Span::new(low, high) })
    };
    let target = shown.wanted.as_ref().map(|wanted| FlowTarget {
        name: "brief".to_owned(),
        shear_rate: Span::new(wanted.shear_rate, wanted.shear_rate),
        viscosity: Span::new(1e-3 * wanted.mpa_s[0], 1e-3 * wanted.mpa_s[1]),
    });
    let settled = shown.yield_stress.map(Settled::YieldStress).or(shown.at_rest.map(Settled::AtRest));
    let figure = FlowFigure {
        id: FLOW.to_owned(),
        title: "How it flows".to_owned(),
        upright,
        curves: if shown.curve.is_empty() { Vec::new() } else { vec![curve] },
        measured,
        life: shown.life.iter().filter_map(stage).collect(),
        targets: target.into_iter().collect(),
        settled: settled.into_iter().collect(),
        scope: scope(&look),
    };
    let mut plate =
        plate(FLOW, figure.title.clone(), caption(shown), figure.svg(Rendition::Screen), figure.table());
    plate.choices = uprights();
    plate.chosen = if upright == Upright::Stress { "stress" } else { "viscosity" }.to_owned();
    plate.zooms = true;
    Some(plate)
}

fn caption(shown: &FlowSheet) -> String {
    let celsius = shown.temperature_c;
    if let (true, Some(why)) = (shown.curve.is_empty(), &shown.refused) {
        return format!("Measured on trials. Nothing is predicted: {}", sentence(why));
    }
    let mut caption = format!(
        "Predicted from the composition at {celsius} °C, with the band that holds it 95 times in 100; dashed outside the shear rates the evidence covers. Under the axis what shears the product in its life."
    );
    if shown.wanted.is_some() {
        caption.push_str(&format!(
            " The box is the window of the brief, where the curve has what is read ({}).",
            shown.condition
        ));
    }
    caption
}
