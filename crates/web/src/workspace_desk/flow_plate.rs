//! The flow curve under the sheet.

use super::Inner;
use super::folders::id_of;
use super::judging::value;
use super::plates::{plate, scope, uprights};
use super::troubles::stored;
use crate::desk::{Answer, Draft, InUse, Level, Looking, Plate};
use crate::draft_sheet;
use levigate_documents::figure::{
    FlowCurve, FlowFigure, FlowMeasured, FlowPoint, FlowSeries, FlowTarget, Rendition, Settled, ShearSpan,
    Span, Upright,
};
use levigate_project::workbench::assess::Bench;
use levigate_project::workbench::citations::citations_in;
use levigate_project::workbench::complaint::sentence;
use levigate_project::workbench::draft::market_of;
use levigate_project::workbench::flow_in_use::sheet_in_use;
use levigate_project::workbench::flow_level::sheet_level;
use levigate_project::workbench::flow_sheet::{FlowSheet, MeasuredOnTrial, measured_on_trials};

use std::collections::BTreeMap;

/// The name the figure has on a page.
pub(super) const FLOW: &str = "flow";
/// Shear rates that are shown however slow a stage is, 1/s.
const SLOWEST: f64 = 1e-5;
const FASTEST: f64 = 1e5;

/// The figure with what was measured on trials; none where nothing is known and nothing was measured.
pub(super) fn flow(shown: &FlowSheet, measured: &[MeasuredOnTrial], looking: &Looking) -> Option<Plate> {
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
        measured: measured.iter().map(series).collect(),
        life: shown.life.iter().filter_map(stage).collect(),
        targets: target.into_iter().collect(),
        settled: settled.into_iter().collect(),
        scope: scope(&look),
    };
    let mut plate = plate(
        FLOW,
        figure.title.clone(),
        caption(shown, measured),
        figure.svg(Rendition::Screen),
        figure.table(),
    );
    plate.choices = uprights();
    plate.chosen = if upright == Upright::Stress { "stress" } else { "viscosity" }.to_owned();
    plate.zooms = true;
    Some(plate)
}

/// What was measured on the trials of a formula; nothing for one that is not kept yet.
pub(super) async fn measured(desk: &Inner, formula: &str) -> Answer<Vec<MeasuredOnTrial>> {
    if formula.is_empty() {
        return Ok(Vec::new());
    }
    measured_on_trials(&desk.workspace, id_of(formula)?).await.map_err(|error| stored(&error))
}

fn series(measured: &MeasuredOnTrial) -> FlowSeries {
    let point = |&[shear_rate, viscosity]: &[f64; 2]| FlowMeasured { shear_rate, viscosity, apart: false };
    FlowSeries { name: measured.name.clone(), points: measured.points.iter().map(point).collect() }
}

fn caption(shown: &FlowSheet, measured: &[MeasuredOnTrial]) -> String {
    let celsius = shown.temperature_c;
    if let (true, Some(why)) = (shown.curve.is_empty(), &shown.refused) {
        return format!("Measured on trials. Nothing is predicted: {}", sentence(why));
    }
    let mut caption = format!(
        "Predicted from the composition at {celsius} °C, with the band that holds it 95 times in 100; dashed outside the shear rates the evidence covers. Under the axis what shears the product in its life."
    );
    if !measured.is_empty() {
        caption.push_str(" Marks are what was measured on trials, each at its own temperature and age.");
    }
    if shown.wanted.is_some() {
        caption.push_str(&format!(
            " The box is the window of the brief, where the curve has what is read ({}).",
            shown.condition
        ));
    }
    caption
}

/// The level of the thickener in a line of a draft; nothing where the draft cannot be assessed or the line is not in it.
pub(super) fn level(desk: &Inner, bench: Bench<'_>, draft: &Draft, line: &str, mpa_s: f64) -> Option<Level> {
    let facts = desk.shelf.facts_with(&draft.own_facts).ok()?;
    let reading = draft_sheet::read(draft).ok()?;
    let line = reading.line_ids.iter().position(|id| id == line)?;
    let mpa_s = Some(mpa_s).filter(|mpa_s| *mpa_s > 0.0 && mpa_s.is_finite())?;
    let market = market_of(&reading.sheet, &desk.setup.market, &facts.rules);
    let asked = (desk.day(), market);
    let found = sheet_level(&facts, asked, &reading.sheet, Some(bench), line, mpa_s).ok()?;
    let sources = citations_in(&facts, &value(&found));
    Some(Level { found, sources })
}

/// What the flow of a draft means in use.
pub(super) fn in_use(
    desk: &Inner,
    bench: Bench<'_>,
    draft: &Draft,
    sizes: &BTreeMap<String, f64>,
) -> Option<InUse> {
    let facts = desk.shelf.facts_with(&draft.own_facts).ok()?;
    let reading = draft_sheet::read(draft).ok()?;
    let market = market_of(&reading.sheet, &desk.setup.market, &facts.rules);
    let found = sheet_in_use(&facts, desk.day(), market, &reading.sheet, Some(bench), sizes).ok()?;
    let sources = citations_in(&facts, &value(&found));
    Some(InUse { found, sources })
}
