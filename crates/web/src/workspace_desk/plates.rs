//! The figures under the sheet: what the verbs compute, drawn by `documents`.

use super::Inner;
use super::flow_plate::{FLOW, flow};
use crate::desk::{Draft, Look, Looking, Plate, PlateTable};
use crate::draft_sheet;
use levigate_documents::figure::{
    Mark, PhWindow, Rendition, Scope, ShareCurve, SharePoint, Span, Table, TitrationFigure, TitrationPoint,
    WindowsFigure, WorkingShareFigure,
};
use levigate_project::workbench::assess::Bench;
use levigate_project::workbench::complaint::sentence;
use levigate_project::workbench::draft::market_of;
use levigate_project::workbench::figures::{FigureData, figure_data, is_target, window_words};
use levigate_project::workbench::flow_sheet::{MeasuredOnTrial, flow_sheet};

/// The figures of a draft; none when it cannot be read or assessed.
pub(super) fn plates(
    desk: &Inner,
    bench: Bench<'_>,
    draft: &Draft,
    looking: &Looking,
    measured: &[MeasuredOnTrial],
) -> Vec<Plate> {
    let Ok(facts) = desk.shelf.facts_with(&draft.own_facts) else { return Vec::new() };
    let Ok(reading) = draft_sheet::read(draft) else { return Vec::new() };
    let market = market_of(&reading.sheet, &desk.setup.market, &facts.rules);
    let flow = || {
        let shown = flow_sheet(&facts, desk.day(), market, &reading.sheet, Some(bench)).ok()?;
        flow(&shown, measured, looking)
    };
    if looking.only == FLOW {
        return flow().into_iter().collect();
    }
    let Ok(data) = figure_data(&facts, desk.day(), market, &reading.sheet, Some(bench)) else {
        return Vec::new();
    };
    let mut plates: Vec<Plate> =
        [windows(&data), titration(&data), working_share(&data), flow()].into_iter().flatten().collect();
    plates.retain(|plate| looking.wants(&plate.id));
    plates
}

fn target(data: &FigureData) -> Option<Span> {
    data.target.map(|[low, high]| Span::new(low, high))
}

pub(super) fn plate(id: &str, title: String, caption: String, svg: String, table: Table) -> Plate {
    let table = PlateTable { caption: table.caption, head: table.head, rows: table.rows };
    Plate { id: id.to_owned(), title, caption, svg, table, ..Plate::default() }
}

/// The part of a figure that is looked at.
pub(super) fn scope(look: &Look) -> Option<Scope> {
    let [low, high] = look.across?;
    Some(Scope { shear_rate: Span::new(low, high), upright: None })
}

/// What can stand upright in a flow curve.
pub(super) fn uprights() -> Vec<(String, String)> {
    [("viscosity", "Viscosity"), ("stress", "Stress")]
        .map(|(key, words)| (key.to_owned(), words.to_owned()))
        .to_vec()
}

fn windows(data: &FigureData) -> Option<Plate> {
    let rows: Vec<PhWindow> = data
        .windows
        .windows
        .iter()
        .filter(|window| !is_target(window.kind))
        .map(|window| PhWindow {
            name: window.name.clone(),
            why: window_words(window.kind).to_owned(),
            low: Some(window.low),
            high: Some(window.high),
        })
        .collect();
    if rows.is_empty() {
        return None;
    }
    let figure = WindowsFigure {
        id: "windows".to_owned(),
        title: "pH windows laid over each other".to_owned(),
        target: target(data),
        ph: data.ph,
        windows: rows,
    };
    let mut caption = figure.sentence();
    let removals: Vec<String> = data
        .windows
        .removals
        .iter()
        .map(|removal| {
            format!("without {} pH {:.1} to {:.1}", removal.names.join(" and "), removal.low, removal.high)
        })
        .collect();
    if !removals.is_empty() {
        caption.push(' ');
        caption.push_str(&sentence(&format!("A window opens {}", removals.join(", or "))));
    }
    Some(plate("windows", figure.title.clone(), caption, figure.svg(Rendition::Screen), figure.table()))
}

fn titration(data: &FigureData) -> Option<Plate> {
    let titration = data.titration.as_ref()?;
    let points: Vec<TitrationPoint> = titration
        .curve
        .iter()
        .map(|point| TitrationPoint {
            amount: point.added_g_per_kg,
            ph: point.ph.value,
            low: Some(point.ph.low),
            high: Some(point.ph.high),
        })
        .collect();
    let marks = titration.amount.value.map(|amount| Mark {
        amount,
        ph: titration.to_ph,
        label: "as written".to_owned(),
    });
    let figure = TitrationFigure {
        id: "titration".to_owned(),
        title: format!("Titration with {}", titration.with),
        titrant: titration.with.clone(),
        unit: "g/kg of formula without adjusters".to_owned(),
        points,
        target: target(data),
        marks: marks.into_iter().collect(),
    };
    let end = match (&titration.amount.refused, titration.per_tenth.value) {
        (Some(why), _) => sentence(why),
        (None, Some(per_tenth)) => {
            format!("Near the pH wanted a tenth of a unit takes {per_tenth:.2} g/kg. The meter decides.")
        }
        (None, None) => "The meter decides.".to_owned(),
    };
    let caption = format!(
        "pH against what is added on top of the formula without its adjusters, 25 °C, no carbon dioxide from the air. The band is what the constants leave open, 95 %; what the grades leave open comes on top. {end}"
    );
    Some(plate("titration", figure.title.clone(), caption, figure.svg(Rendition::Screen), figure.table()))
}

fn working_share(data: &FigureData) -> Option<Plate> {
    if data.shares.is_empty() {
        return None;
    }
    let curves = data
        .shares
        .iter()
        .map(|share| ShareCurve {
            name: share.name.clone(),
            points: share
                .points
                .iter()
                .map(|point| SharePoint {
                    ph: point.ph,
                    percent: 100.0 * point.share,
                    low: Some(100.0 * point.interval[0]),
                    high: Some(100.0 * point.interval[1]),
                })
                .collect(),
        })
        .collect();
    let figure = WorkingShareFigure {
        id: "working-share".to_owned(),
        title: "Working share of the preservatives".to_owned(),
        curves,
        window: target(data),
        logarithmic: false,
    };
    let caption = "Share that is undissociated, 25 °C, from the equilibrium of this formula brought to each pH with a strong acid or base. The bands are what the constants leave open at that pH, 95 %. A share at work is not a passed challenge test.".to_owned();
    Some(plate("working-share", figure.title.clone(), caption, figure.svg(Rendition::Screen), figure.table()))
}
