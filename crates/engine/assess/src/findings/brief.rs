//! Findings against the brief: what was asked for and what the formula gives.

use super::digits;
use crate::finding::{Concerns, Finding, Gravity};
use crate::reading::{CompositionReading, LineReading, PhReading};
use crate::verdicts::Verdicts;
use levigate_formula::composition::Composition;
use levigate_formula::library::Library;
use levigate_formula::sheet::Sheet;
use rust_decimal::prelude::ToPrimitive;

/// Oil above this is outside what the product is meant for, %.
const MOST_OIL_PERCENT: f64 = 10.0;

/// The brief against the readings.
pub(crate) fn findings(
    sheet: &Sheet,
    composition: &Composition,
    library: &Library,
    contents: &CompositionReading,
    lines: &[LineReading],
    ph: &PhReading,
    verdicts: &Verdicts,
) -> Vec<Finding> {
    let mut found = Vec::new();
    found.extend(ph_window(ph, lines));
    found.extend(viscosity(sheet));
    found.extend(free_from(sheet, composition, library, lines));
    found.extend(cost(sheet, verdicts));
    found.extend(natural(sheet, verdicts));
    found.extend(shelf_life(sheet));
    if let Some(oil) = contents.oil_percent.value.filter(|oil| *oil > MOST_OIL_PERCENT) {
        found.push(
            Finding::new(
                "more-oil-than-meant",
                Gravity::Check,
                Concerns::Product,
                format!(
                    "{} % oil; above {MOST_OIL_PERCENT} % only composition, partition and label are read.",
                    digits(oil)
                ),
                "The stability of the emulsion is not predicted here; prove it by a stability study.",
            )
            .rule("bounds of this program"),
        );
    }
    found
}

fn ph_window(ph: &PhReading, lines: &[LineReading]) -> Option<Finding> {
    let [low, high] = ph.target?;
    let read = ph.at_target.as_ref().unwrap_or(&ph.neat);
    let how = ph.target_read.as_ref().map_or_else(String::new, |how| format!(" read {how}"));
    let value = read.value?;
    let (from, to) = (read.low.unwrap_or(value), read.high.unwrap_or(value));
    let adjusters: Vec<usize> =
        lines.iter().filter(|line| line.basis == "solved").map(|line| line.line).collect();
    let concerns = if adjusters.is_empty() { Concerns::target("ph") } else { Concerns::lines(&adjusters) };
    let finding = if value < low || value > high {
        Finding::new(
            "ph-outside-target",
            Gravity::Change,
            concerns,
            format!("pH {value:.2} ({from:.2} to {to:.2}){how} lies outside the window {low} to {high}."),
            if value < low {
                "Add a base line with to_ph inside the window, or less acid."
            } else {
                "Add an acid line with to_ph inside the window, or less base."
            },
        )
    } else if from < low || to > high {
        Finding::new(
            "ph-may-leave-target",
            Gravity::Know,
            concerns,
            format!(
                "pH {value:.2}{how} lies in the window {low} to {high}, its interval {from:.2} to {to:.2} does not."
            ),
            "Titrate a small aliquot before the batch, or aim further inside the window.",
        )
    } else {
        return None;
    };
    Some(
        finding
            .rule("equilibrium of the water phase")
            .number("pH", value, "")
            .number("low", from, "")
            .number("high", to, ""),
    )
}

fn viscosity(sheet: &Sheet) -> Option<Finding> {
    let target = sheet.target.viscosity.as_ref()?;
    let missing: Vec<&str> = [
        ("spindle", target.spindle.is_none()),
        ("speed", target.speed_rpm.is_none()),
        ("temperature", target.temperature_c.is_none()),
        ("age of the sample", target.age_h.is_none()),
    ]
    .into_iter()
    .filter_map(|(name, absent)| absent.then_some(name))
    .collect();
    (!missing.is_empty()).then(|| {
        Finding::new(
            "viscosity-without-conditions",
            Gravity::Check,
            Concerns::target("viscosity"),
            format!("The viscosity wanted has no {}.", missing.join(", no ")),
            "Write them down with the client; a shear-thinning gel has no viscosity without them.",
        )
        .rule("a viscosity is stated with spindle, speed, temperature and age")
        .source("common-practice")
    })
}

fn free_from(
    sheet: &Sheet,
    composition: &Composition,
    library: &Library,
    lines: &[LineReading],
) -> Vec<Finding> {
    let mut found = Vec::new();
    for wish in &sheet.target.free_from {
        let wanted = wish.trim().to_lowercase();
        let mut hits: Vec<usize> = Vec::new();
        for (key, share) in &composition.substances {
            let Some(substance) = library.substances.get(key) else { continue };
            let named = substance.name.to_lowercase() == wanted
                || substance.key == wanted
                || substance.inci.as_ref().is_some_and(|inci| inci.to_lowercase() == wanted)
                || substance.aliases.iter().any(|alias| alias.to_lowercase() == wanted)
                || substance.roles.iter().any(|role| role.to_lowercase() == wanted)
                || substance.cas.contains(&wanted);
            if named {
                hits.extend(share.from.iter().map(|from| from.line));
            }
        }
        hits.extend(
            lines
                .iter()
                .filter(|line| line.functions.iter().any(|function| function.to_lowercase() == wanted))
                .map(|line| line.line),
        );
        hits.sort_unstable();
        hits.dedup();
        if !hits.is_empty() {
            found.push(
                Finding::new(
                    "not-free-from",
                    Gravity::Change,
                    Concerns::lines(&hits),
                    format!("The brief says free from {wish}; it comes with line {}.", listed(&hits)),
                    "Replace the line, or strike the wish from the brief.",
                )
                .rule("free-from list of the brief"),
            );
        }
    }
    found
}

fn listed(lines: &[usize]) -> String {
    let numbers: Vec<String> = lines.iter().map(|line| (line + 1).to_string()).collect();
    numbers.join(", ")
}

fn cost(sheet: &Sheet, verdicts: &Verdicts) -> Vec<Finding> {
    let mut found = Vec::new();
    let cost = &verdicts.cost;
    if let (Some(ceiling), Some(per_kg)) = (&sheet.target.cost_per_kg, cost.per_kg_exact) {
        let same = cost.currency.as_ref().is_none_or(|currency| *currency == ceiling.currency);
        if same && per_kg > ceiling.amount {
            let dearest = cost
                .lines
                .iter()
                .filter(|line| line.share_percent.is_some())
                .max_by(|a, b| a.share_percent.unwrap_or(0.0).total_cmp(&b.share_percent.unwrap_or(0.0)));
            let mut finding = Finding::new(
                "over-the-cost-ceiling",
                Gravity::Change,
                Concerns::target("cost"),
                format!(
                    "{} {} per kg is above the ceiling of {}.",
                    per_kg.round_dp(2),
                    ceiling.currency,
                    ceiling.amount
                ),
                dearest.map_or_else(
                    || "Look for a cheaper grade.".to_owned(),
                    |line| {
                        format!(
                            "Begin with {}: it makes {:.0} % of the cost.",
                            line.name,
                            line.share_percent.unwrap_or(0.0)
                        )
                    },
                ),
            )
            .rule("cost ceiling of the brief");
            if let Some(value) = per_kg.to_f64() {
                finding = finding.number("cost per kg", value, "");
            }
            found.push(finding);
        }
    }
    if !cost.unpriced.is_empty() && sheet.target.cost_per_kg.is_some() {
        found.push(
            Finding::new(
                "price-missing",
                Gravity::Check,
                Concerns::lines(&cost.unpriced),
                format!(
                    "No price is on file for line {}; the cost is a lower bound.",
                    listed(&cost.unpriced)
                ),
                "Enter a dated price.",
            )
            .rule("cost from dated prices"),
        );
    }
    found
}

fn natural(sheet: &Sheet, verdicts: &Verdicts) -> Option<Finding> {
    let wanted = sheet.target.natural_origin_percent?.to_f64()?;
    let reading = &verdicts.natural.with_water;
    let (low, high) = (reading.low.or(reading.value)?, reading.high.or(reading.value)?);
    let (gravity, says) = if high < wanted {
        (Gravity::Change, "cannot be reached")
    } else if low < wanted {
        (Gravity::Check, "cannot be shown with the indices on file")
    } else {
        return None;
    };
    Some(
        Finding::new(
            "natural-origin",
            gravity,
            Concerns::target("natural"),
            format!(
                "Natural-origin content {} to {} % (water counted): the {} % wanted {says}.",
                digits(low),
                digits(high),
                digits(wanted)
            ),
            if verdicts.natural.unknown.is_empty() {
                "Replace what has an index of zero.".to_owned()
            } else {
                format!("Ask the suppliers for the index of {}.", verdicts.natural.unknown.join(", "))
            },
        )
        .rule("ISO 16128-2, content summed over the formula")
        .number("low", low, "%")
        .number("high", high, "%"),
    )
}

fn shelf_life(sheet: &Sheet) -> Option<Finding> {
    let months = sheet.target.shelf_life_months?;
    Some(
        Finding::new(
            "shelf-life-not-predicted",
            Gravity::Check,
            Concerns::target("shelf-life"),
            format!(
                "A shelf life of {months} months is wanted; nothing in a formula on paper supports a number."
            ),
            "Plan a stability study; only its data can carry a shelf life.",
        )
        .rule("shelf life needs data")
        .source("common-practice"),
    )
}
