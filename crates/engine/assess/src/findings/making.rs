//! Findings about how the phases are worked: heat limits, flammables, wetting, salts of weak acids in strong acid.

use super::digits;
use crate::finding::{Concerns, Finding, Gravity};
use crate::reading::AdjusterReading;
use levigate_formula::library::{Form, Material, Wetting};
use levigate_formula::settle::Settled;
use levigate_formula::sheet::Sheet;
use rust_decimal::prelude::ToPrimitive;

/// A hot plate counts as one from here, C (common practice, no source).
const HOT_C: f64 = 60.0;

/// Findings phase by phase.
pub(crate) fn findings(sheet: &Sheet, settled: &Settled<'_>) -> Vec<Finding> {
    let mut found = Vec::new();
    for (line, material) in settled.lines.iter().zip(&settled.materials) {
        let phase = sheet.phases.get(line.phase);
        let temperature =
            phase.and_then(|phase| phase.temperature_c).and_then(|temperature| temperature.to_f64());
        let name = phase.map_or("", |phase| phase.name.as_str());
        if let Some(temperature) = temperature {
            found.extend(heat(line.line, material, temperature, name));
        }
        found.extend(flammable(line.line, line.percent, material, temperature));
        found.extend(unwetted(line.line, material, settled, line.phase));
        found.extend(undissolved(line.line, material, settled, line.phase));
    }
    found
}

/// Warming from here on is worth a word, K: an electrode and heat-sensitive lines feel it (common practice, no source).
const WARMS_K: f64 = 3.0;

/// Acid and base lines that warm the batch.
pub(crate) fn warming(adjusters: &[AdjusterReading]) -> Vec<Finding> {
    adjusters
        .iter()
        .filter_map(|adjuster| {
            let kelvin = adjuster.warms_by.value.filter(|kelvin| *kelvin >= WARMS_K)?;
            Some(
                Finding::new(
                    "warms-the-batch",
                    Gravity::Know,
                    Concerns::line(adjuster.line),
                    format!("All at once, {} warms the batch by about {:.0} K.", adjuster.name, kelvin),
                    "Add nine tenths slowly under stirring, gloves and goggles on; let it cool to 25 C before the pH is read, then go on in small steps.",
                )
                .rule("enthalpies of the reactions over the heat capacity of the product")
                .number("warming", kelvin, "K"),
            )
        })
        .collect()
}

fn heat(line: usize, material: &Material, temperature: f64, phase: &str) -> Option<Finding> {
    let limit = material.heat_limit_c.as_ref()?;
    (temperature > limit.value).then(|| {
        Finding::new(
            "too-hot",
            Gravity::Change,
            Concerns::line(line),
            format!(
                "{} stands in phase {phase} at {} C; it bears {} C.",
                material.name,
                digits(temperature),
                digits(limit.value)
            ),
            format!("Move it to a phase below {} C.", digits(limit.value)),
        )
        .rule("heat limit of the raw material")
        .source(&limit.source)
        .number("temperature", temperature, "C")
        .number("limit", limit.value, "C")
    })
}

fn flammable(line: usize, percent: f64, material: &Material, temperature: Option<f64>) -> Option<Finding> {
    let flash = material.flash_point_c.as_ref()?;
    if flash.value > HOT_C || percent <= 0.0 {
        return None;
    }
    let hot = temperature.is_some_and(|temperature| temperature >= flash.value);
    let gravity = match (hot, percent >= 1.0) {
        (true, true) => Gravity::Stop,
        (true, false) => Gravity::Change,
        (false, _) => Gravity::Know,
    };
    Some(
        Finding::new(
            "flammable",
            gravity,
            Concerns::line(line),
            format!("{} gives a flammable vapour from {} C on.", material.name, digits(flash.value)),
            "No open hot plate, no flame or sparks; add it below that temperature and ventilate. Follow the local rules for flammables.",
        )
        .rule("flash point of the raw material as supplied")
        .source(&flash.source)
        .number("flash point", flash.value, "C"),
    )
}

/// A powder that must be wetted first, in a phase without anything to wet it in.
fn unwetted(line: usize, material: &Material, settled: &Settled<'_>, phase: usize) -> Option<Finding> {
    if material.wetting != Some(Wetting::PreWet) || !matches!(material.form, Form::Powder | Form::Granules) {
        return None;
    }
    let wetter = settled.lines.iter().zip(&settled.materials).any(|(other, candidate)| {
        other.phase == phase
            && matches!(candidate.form, Form::Liquid)
            && candidate.functions.iter().any(|function| function == "humectant" || function == "solvent")
            && !candidate.constituents.iter().any(|part| part.substance == "water" && part.typical > 50.0)
    });
    (!wetter).then(|| {
        Finding::new(
            "wet-it-first",
            Gravity::Know,
            Concerns::line(line),
            format!("{} lumps when it meets water dry, and no polyol stands in its phase.", material.name),
            "Slurry it in a polyol of the formula moved to this phase, or sift it slowly into a vortex and give it time.",
        )
        .rule("powders of gums and gelling polymers are wetted before they meet water")
        .source("common-practice")
    })
}

/// A fragrance or essential oil that meets water with nothing to take it up: no solubiliser in its phase, no oil there or before.
fn undissolved(line: usize, material: &Material, settled: &Settled<'_>, phase: usize) -> Option<Finding> {
    let has = |material: &Material, words: &[&str]| {
        material.functions.iter().any(|function| words.contains(&function.as_str()))
    };
    if !has(material, &["fragrance"]) {
        return None;
    }
    let carried = settled.lines.iter().zip(&settled.materials).any(|(other, candidate)| {
        other.line != line
            && (other.phase == phase && has(candidate, &["solubiliser", "emulsifier", "surfactant"])
                || other.phase <= phase && has(candidate, &["emollient"]))
    });
    (!carried).then(|| {
        Finding::new(
            "dissolve-it-first",
            Gravity::Check,
            Concerns::line(line),
            format!("{} does not dissolve in water, and nothing in its phase takes it up.", material.name),
            "Stir it into a solubiliser first (five to ten parts to one, found by trial), then add the water slowly; look at the clarity at 4, 25 and 45 C.",
        )
        .rule("fragrance meets its solubiliser before the water")
        .source("common-practice")
    })
}
