//! The frame of a margin of safety: how much of a substance is applied per kg of body weight and day.
//!
//! Equations: `applied = E * C / 100`, `SED = E * C / 100 * D / 100`, `MoS = POD / SED`.
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | `E` | default exposure to the product type | mg/kg bw/d |
//! | `C` | content in the product | % w/w |
//! | `D` | dermal absorption | % |
//! | `POD` | systemic point of departure | mg/kg bw/d |
//!
//! Source: SCCS/1647/22, Table 3, as summarised on a public page. The table's mg/kg column is not its g/d column divided by 60 kg;
//! the mg/kg column is used and both are shown. No default exists for eye-contour care: the amount is asked for, not invented. A
//! frame is no assessment: that is the work of a qualified safety assessor. Proved by `tests/published/rules_exposure.toml`.

use levigate_measure::{Grade, Outcome};
use serde::Serialize;

use crate::book::{Exposure, Market, Status};
use crate::usage::{Category, Usage};

/// The default exposure chosen for a product.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ExposureFrame {
    /// Row of the table, absent when the table has none for the product.
    pub row: Option<Exposure>,
    /// Exposure to the product after retention, mg/kg bw/d.
    pub product: Outcome,
}

/// Default exposures for the product, one per product type it falls into.
#[must_use]
pub fn frames(usage: &Usage, market: &Market) -> Vec<ExposureFrame> {
    let mut frames: Vec<ExposureFrame> = usage
        .categories
        .iter()
        .flat_map(|category| {
            let rows: Vec<ExposureFrame> = market
                .exposure
                .values()
                .filter(|row| row.categories.contains(category))
                .map(|row| of_row(row, usage))
                .collect();
            if rows.is_empty() { vec![without_row(*category)] } else { rows }
        })
        .collect();
    if frames.is_empty() {
        frames.push(ExposureFrame {
            row: None,
            product: Outcome::refuse(
                "mg/kg bw/d",
                "default exposure of the product type",
                "the product type is not known; name the site on the sheet or enter the amount applied per day",
            ),
        });
    }
    frames
}

fn without_row(category: Category) -> ExposureFrame {
    ExposureFrame {
        row: None,
        product: Outcome::refuse(
            "mg/kg bw/d",
            "default exposure of the product type",
            format!(
                "no default amount is held for {}; enter the amount applied in mg per kg of body weight and day, with its source",
                category.words()
            ),
        ),
    }
}

fn of_row(row: &Exposure, usage: &Usage) -> ExposureFrame {
    let method = format!("default exposure, {}", row.product);
    let retained = row.exposure_mg_kg_day;
    let applied = row.applied_mg_kg_day;
    let mut product = match retained {
        Some(value) => Outcome::new(value, "mg/kg bw/d", Grade::Correlated, method),
        None => Outcome::refuse("mg/kg bw/d", method, "the table gives no figure per kg of body weight"),
    }
    .source(row.source.clone())
    .proved_by("tests/published/rules_exposure.toml");
    let figures = [
        ("applied", applied, "mg/kg bw/d"),
        ("applied", row.applied_g_day, "g/d"),
        ("retention factor", row.retention, ""),
        ("after retention", row.exposure_g_day, "g/d"),
        ("skin area", row.area_cm2, "cm2"),
        ("applications", row.frequency_per_day, "1/d"),
    ];
    for (name, value, unit) in figures {
        if let Some(value) = value {
            product = product.input(name, value, unit, Some(&row.source));
        }
    }
    if row.status == Status::FromMemory {
        product = product.note(
            "from-memory",
            "This row is recalled, not read: check it in the committee's table before use.",
        );
    }
    if usage.categories.contains(&Category::FaceCare) && row.product.to_lowercase().contains("face cream") {
        product = product.note(
            "nearest-row",
            "The table has no row for a serum or gel; face cream is used (common practice).",
        );
    }
    if usage.leave_on && row.retention.is_some_and(|retention| retention < 1.0) {
        product = product.note(
            "retention",
            "The row assumes that most is wiped or rinsed off; a product that stays on needs the amount applied instead.",
        );
    }
    ExposureFrame { row: Some(row.clone()), product }
}

/// Dose of a substance applied with the product, mg/kg bw/d, before absorption.
#[must_use]
pub fn applied_dose(product: &Outcome, substance: &str, percent: f64) -> Outcome {
    let Some(exposure) = product.value else {
        return Outcome::refuse(
            "mg/kg bw/d",
            "exposure times content",
            product.refused.clone().unwrap_or_else(|| "the exposure is not known".to_owned()),
        );
    };
    let mut outcome = Outcome::new(
        exposure * percent / 100.0,
        "mg/kg bw/d",
        Grade::Correlated,
        "exposure times content, before absorption",
    )
    .by("E·C/100")
    .proved_by("tests/published/rules_exposure.toml")
    .input("exposure to the product", exposure, "mg/kg bw/d", product.sources.first().map(String::as_str))
    .input(format!("content of {substance}"), percent, "% w/w", None)
    .note("frame-only", "A frame for the assessor: absorption and the point of departure are not in it.");
    outcome.sources.clone_from(&product.sources);
    outcome.notes.extend(product.notes.iter().cloned());
    outcome
}

/// Systemic exposure dose, mg/kg bw/d.
#[must_use]
pub fn systemic_dose(exposure_mg_kg_day: f64, content_percent: f64, absorption_percent: f64) -> Outcome {
    let method = "exposure times content times absorption";
    let good = exposure_mg_kg_day >= 0.0
        && (0.0..=100.0).contains(&content_percent)
        && (0.0..=100.0).contains(&absorption_percent);
    if !good {
        return Outcome::refuse(
            "mg/kg bw/d",
            method,
            "exposure must not be negative, content and absorption lie between 0 and 100 %",
        );
    }
    Outcome::new(
        exposure_mg_kg_day * content_percent / 100.0 * absorption_percent / 100.0,
        "mg/kg bw/d",
        Grade::Computed,
        method,
    )
    .by("SED = E·C/100·D/100")
    .proved_by("tests/published/rules_exposure.toml")
    .input("exposure to the product", exposure_mg_kg_day, "mg/kg bw/d", None)
    .input("content", content_percent, "% w/w", None)
    .input("dermal absorption", absorption_percent, "%", None)
}

/// Margin of safety from a systemic point of departure.
#[must_use]
pub fn margin(point_of_departure_mg_kg_day: f64, dose: &Outcome) -> Outcome {
    let method = "point of departure over dose";
    match dose.value {
        Some(value) if value > 0.0 && point_of_departure_mg_kg_day > 0.0 => Outcome::new(
            point_of_departure_mg_kg_day / value,
            "",
            Grade::Computed,
            method,
        )
        .by("MoS = POD/SED")
        .proved_by("tests/published/rules_exposure.toml")
        .input("point of departure", point_of_departure_mg_kg_day, "mg/kg bw/d", None)
        .input("systemic exposure dose", value, "mg/kg bw/d", None)
        .note(
            "assessor",
            "100 is the usual yardstick but not always the one applied; the judgement is the safety assessor's.",
        ),
        _ => Outcome::refuse("", method, "the dose or the point of departure is not a positive number"),
    }
}
