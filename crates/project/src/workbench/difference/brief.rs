//! What of the brief and of the making changed between two sheets.

use super::{Change, LineChange};
use crate::sheet::ph_read_in_words;
use levigate_formula::sheet::{Phase, Sheet, Target};
use rust_decimal::Decimal;

fn changed(phase: &str, what: &str, left: String, right: String) -> Option<LineChange> {
    (left != right).then(|| LineChange {
        phase: phase.to_owned(),
        material: what.to_owned(),
        change: match (left.is_empty(), right.is_empty()) {
            (true, _) => Change::Added,
            (_, true) => Change::Removed,
            _ => Change::Changed,
        },
        left,
        right,
        left_percent: None,
        right_percent: None,
    })
}

/// Changed points of the brief.
pub(super) fn brief(left: &Sheet, right: &Sheet) -> Vec<LineChange> {
    let (older, newer) = (points(left), points(right));
    older
        .into_iter()
        .zip(newer)
        .filter_map(|((what, left), (_, right))| changed("brief", what, left, right))
        .collect()
}

/// The points of a brief, always the same ones in the same order.
fn points(sheet: &Sheet) -> Vec<(&'static str, String)> {
    let (product, target) = (&sheet.product, &sheet.target);
    let text = |text: &Option<String>| text.clone().unwrap_or_default();
    let number = |number: Option<Decimal>, unit: &str| {
        number.map(|number| format!("{} {unit}", number.normalize())).unwrap_or_default()
    };
    vec![
        ("name", product.name.clone()),
        ("product type", product.kind.clone()),
        ("site", product.site.clone()),
        ("use", if product.leave_on { "leave-on" } else { "rinse-off" }.to_owned()),
        ("markets", product.markets.join(", ")),
        ("client", text(&product.client)),
        ("remark", text(&product.note)),
        ("pH window", window(target.ph, "")),
        ("pH read", target.ph.map(|_| ph_read_in_words(&target.ph_read)).unwrap_or_default()),
        ("viscosity", viscosity(target)),
        ("clarity", text(&target.clarity)),
        (
            "cost per kg",
            target
                .cost_per_kg
                .as_ref()
                .map(|money| format!("{} {}", money.amount.normalize(), money.currency))
                .unwrap_or_default(),
        ),
        ("natural origin", number(target.natural_origin_percent, "%")),
        ("free from", target.free_from.join(", ")),
        ("shelf life", number(target.shelf_life_months, "months")),
        ("pack", pack(target)),
        (
            "metals expected",
            target
                .metals_mg_kg
                .iter()
                .map(|(ion, mg)| format!("{ion} {} mg/kg", mg.normalize()))
                .collect::<Vec<_>>()
                .join(", "),
        ),
        (
            "bench",
            format!(
                "{} g on a balance that reads to {} g",
                sheet.batch.size_g.normalize(),
                sheet.batch.balance_g.normalize()
            ),
        ),
        ("count of the water", number(sheet.batch.water_cfu_per_ml, "CFU/mL")),
    ]
}

fn window(window: Option<[Decimal; 2]>, unit: &str) -> String {
    window
        .map(|[low, high]| {
            format!("{} to {} {unit}", low.normalize(), high.normalize()).trim_end().to_owned()
        })
        .unwrap_or_default()
}

fn viscosity(target: &Target) -> String {
    let Some(viscosity) = &target.viscosity else { return String::new() };
    let mut words = window(Some(viscosity.mpa_s), "mPa·s");
    if let Some(spindle) = &viscosity.spindle {
        words.push_str(&format!(", {spindle}"));
    }
    for (number, unit) in
        [(viscosity.speed_rpm, "rpm"), (viscosity.temperature_c, "°C"), (viscosity.age_h, "h")]
    {
        if let Some(number) = number {
            words.push_str(&format!(", {} {unit}", number.normalize()));
        }
    }
    words
}

fn pack(target: &Target) -> String {
    let Some(pack) = &target.pack else { return String::new() };
    let airless = if pack.airless { ", airless" } else { "" };
    let cost = pack
        .cost
        .as_ref()
        .map(|cost| format!(", {} {}", cost.amount.normalize(), cost.currency))
        .unwrap_or_default();
    let unit = crate::formula_writer::unit(pack.unit);
    format!("{}, {} {unit}{airless}{cost}", pack.name, pack.fill.normalize())
}

/// Whether the steps are a person's own; temperature and step of phases that both have.
pub(super) fn steps(left: &Sheet, right: &Sheet) -> Vec<LineChange> {
    let mut out = Vec::new();
    if left.steps != right.steps {
        let own = |sheet: &Sheet| match sheet.steps.len() {
            0 => "proposed".to_owned(),
            1 => "1 step of its own".to_owned(),
            many => format!("{many} steps of its own"),
        };
        let (was, now) = (own(left), own(right));
        let now = if was == now { format!("{now}, changed") } else { now };
        out.extend(changed("making", "procedure", was, now));
    }
    for newer in &right.phases {
        let Some(older) = left.phases.iter().find(|older| older.name == newer.name) else { continue };
        let degrees = |phase: &Phase| {
            phase.temperature_c.map(|degrees| format!("{} °C", degrees.normalize())).unwrap_or_default()
        };
        let step = |phase: &Phase| phase.step.clone().unwrap_or_default();
        out.extend(changed(&newer.name, "temperature", degrees(older), degrees(newer)));
        out.extend(changed(&newer.name, "step", step(older), step(newer)));
    }
    out
}
