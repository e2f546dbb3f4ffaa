//! Lines and composition as readings: what is weighed, what it adds up to, what one pack holds.

use crate::reading::{CompositionReading, LineReading, SubstanceReading};
use levigate_formula::composition::Composition;
use levigate_formula::density::density;
use levigate_formula::library::{InWater, Library};
use levigate_formula::settle::{Basis, Settled, active_share};
use levigate_formula::sheet::Sheet;
use levigate_measure::{Grade, Outcome};
use levigate_rules::question::Amount;
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;

/// The lines of a settled sheet.
#[must_use]
pub(crate) fn line_readings(settled: &Settled<'_>, sheet: &Sheet, library: &Library) -> Vec<LineReading> {
    let typed: Vec<_> = sheet.lines().map(|(_, line)| line).collect();
    settled
        .lines
        .iter()
        .zip(&settled.materials)
        .zip(&settled.basis)
        .map(|((line, material), basis)| {
            let assay =
                typed.get(line.line).and_then(|line| line.assay_percent).and_then(|assay| assay.to_f64());
            let mut inci: Vec<(f64, String)> = line
                .constituents
                .iter()
                .filter_map(|part| {
                    let substance = library.substances.get(&part.substance)?;
                    Some((part.typical, substance.inci.clone()?))
                })
                .collect();
            inci.sort_by(|a, b| b.0.total_cmp(&a.0));
            LineReading {
                line: line.line,
                phase: line.phase,
                material: material.key.clone(),
                name: material.name.clone(),
                inci: inci.into_iter().map(|(_, name)| name).collect(),
                functions: material.functions.clone(),
                percent: percent_outcome(line.percent, *basis, assay, material),
                active_percent: active_outcome(line, material),
                exact: line.exact.map(|exact| exact.normalize().to_string()),
                basis: basis.word(),
                layer: material.layer.word(),
            }
        })
        .collect()
}

fn percent_outcome(
    percent: f64,
    basis: Basis,
    assay: Option<f64>,
    material: &levigate_formula::library::Material,
) -> Outcome {
    match basis {
        Basis::Typed => {
            Outcome::new(percent, "% w/w", Grade::Measured, "as typed").proved_by("exact decimal")
        }
        Basis::FromActive => {
            let used = assay.or_else(|| active_share(material)).unwrap_or(f64::NAN);
            let outcome =
                Outcome::new(percent, "% w/w", Grade::Computed, "active wanted, divided by the assay")
                    .by("p = a * 100 / assay")
                    .input(
                        "assay",
                        used,
                        "%",
                        Some(if assay.is_some() { "lot" } else { &material.composition_source }),
                    )
                    .proved_by("examples/scenarios/1-niacinamide-gel-serum.toml");
            if assay.is_some() {
                outcome
            } else {
                outcome.note("assumed", "no assay given for the lot; the typical assay of the grade was used")
            }
        }
        Basis::Remainder => {
            Outcome::new(percent, "% w/w", Grade::Computed, "q.s.: 100 minus all other lines")
                .by("p = 100 - sum")
                .proved_by("exact decimal")
        }
        Basis::ToPh => {
            Outcome::new(percent, "% w/w", Grade::Computed, "solved by the equilibrium for the pH wanted")
                .by("pH(p) = pH wanted")
        }
    }
}

fn active_outcome(
    line: &levigate_formula::composition::SettledLine,
    material: &levigate_formula::library::Material,
) -> Option<Outcome> {
    let active = material.active.as_deref()?;
    let part = line.constituents.iter().find(|part| part.substance == active)?;
    let scale = line.percent / 100.0;
    Some(
        Outcome::new(
            scale * part.typical,
            "% w/w",
            Grade::Computed,
            "percent as supplied times the share of the active",
        )
        .within(scale * part.low, scale * part.high, None)
        .by("a = p * assay / 100")
        .input("share of the active", part.typical, "%", Some(&material.composition_source))
        .proved_by("exact arithmetic"),
    )
}

/// What the product consists of.
#[must_use]
pub(crate) fn composition_reading(
    settled: &Settled<'_>,
    composition: &Composition,
    sheet: &Sheet,
    library: &Library,
) -> CompositionReading {
    let mut substances: Vec<SubstanceReading> = composition
        .substances
        .iter()
        .map(|(key, share)| {
            let record = library.substances.get(key);
            SubstanceReading {
                substance: key.clone(),
                name: record.map_or_else(|| key.clone(), |record| record.name.clone()),
                inci: record.and_then(|record| record.inci.clone()),
                percent: Amount { percent: share.percent, low: share.low, high: share.high },
                from: share.from.iter().map(|part| (part.line, part.percent)).collect(),
            }
        })
        .collect();
    substances.sort_by(|a, b| {
        b.percent.percent.total_cmp(&a.percent.percent).then_with(|| a.substance.cmp(&b.substance))
    });
    let density = density(composition, library);
    let fill_mass = fill_mass(sheet, &density);
    CompositionReading {
        total: total(settled),
        substances,
        water: summed(composition, library, "water from all raw materials", |kind| {
            matches!(kind, InWater::Water)
        }),
        density,
        fill_mass,
        oil_percent: summed(composition, library, "oil from all raw materials", |kind| {
            matches!(kind, InWater::Oil)
        }),
    }
}

fn total(settled: &Settled<'_>) -> Decimal {
    // An amount solved for a pH is taken out of the q.s. line, so the sum of what was typed and the q.s. line stays 100.
    let exact: Option<Decimal> = settled.lines.iter().map(|line| line.exact).sum::<Option<Decimal>>();
    exact.unwrap_or(Decimal::ONE_HUNDRED).normalize()
}

fn summed(
    composition: &Composition,
    library: &Library,
    method: &'static str,
    counts: impl Fn(&InWater) -> bool,
) -> Outcome {
    let (mut percent, mut low, mut high) = (0.0, 0.0, 0.0);
    let mut lines: Vec<usize> = Vec::new();
    for (key, share) in &composition.substances {
        if library.substances.get(key).is_some_and(|substance| counts(&substance.in_water)) {
            percent += share.percent;
            low += share.low;
            high += share.high;
            lines.extend(share.from.iter().map(|part| part.line));
        }
    }
    let mut outcome = Outcome::new(percent, "% w/w", Grade::Computed, method)
        .within(low, high, None)
        .by("w = sum over lines of p_i * x_i / 100")
        .proved_by("exact arithmetic");
    lines.sort_unstable();
    lines.dedup();
    for line in lines {
        outcome = outcome.input_text(format!("line {}", line + 1), "contributes");
    }
    outcome
}

fn fill_mass(sheet: &Sheet, density: &Outcome) -> Option<Outcome> {
    let pack = sheet.target.pack.as_ref()?;
    let size = pack.fill.to_f64()? * pack.unit.size();
    if !pack.unit.is_volume() {
        return Some(
            Outcome::new(size, "g", Grade::Computed, "nominal content by mass")
                .input("nominal content", size, "g", Some("brief"))
                .proved_by("exact arithmetic"),
        );
    }
    let value = density.value?;
    let mut outcome =
        Outcome::new(size * value, "g", density.grade, "nominal content by volume times the density")
            .by("m = V * rho")
            .input("nominal content", size, "mL", Some("brief"))
            .input("density", value, "g/mL", None)
            .proved_by("tests/published/density.toml");
    if let (Some(low), Some(high)) = (density.low, density.high) {
        outcome = outcome.within(size * low, size * high, density.coverage);
    }
    Some(outcome)
}
