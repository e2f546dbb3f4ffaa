//! Cautions at the place where the risk arises: on the line that is handled, on the step that is hot.

use super::practice::Practice;
pub use levigate_assess::procedure::Caution as SheetCaution;
use levigate_formula::library::{Library, Material};

/// What must be heeded when this material goes into a step worked at this temperature, C.
pub(crate) fn of_line(
    material: &Material,
    worked_c: Option<f64>,
    library: &Library,
    practice: &Practice,
) -> Vec<SheetCaution> {
    let mut cautions = Vec::new();
    let mut add = |hazard: &str, text: String, source: &str| {
        cautions.push(SheetCaution { hazard: hazard.to_owned(), text, source: source.to_owned() });
    };
    for caution in &material.cautions {
        // The material's own words are nearer to it; the words of the bench stand in where it has none.
        if !caution.text.trim().is_empty() {
            add(&caution.hazard, caution.text.clone(), &caution.source);
        } else if let Some(words) = practice.words(&caution.hazard) {
            add(&words.key, words.text.clone(), &words.source);
        }
    }
    let flash = material.flash_point_c.as_ref();
    if let Some(flash) = flash.filter(|flash| flash.value <= practice.flammable.flash_point_c) {
        let named = material.cautions.iter().any(|caution| caution.hazard == "flammable");
        if let (false, Some(words)) = (named, practice.words("flammable")) {
            add("flammable", words.text.clone(), &words.source);
        }
        if let Some(worked) = worked_c.filter(|worked| *worked >= flash.value - practice.flammable.margin_c) {
            add(
                "flammable",
                format!(
                    "Flash point {} \u{00B0}C, and this step is worked at {} \u{00B0}C: let it cool and add it away from the hot plate.",
                    plain(flash.value),
                    plain(worked)
                ),
                &flash.source,
            );
        }
    } else if flash.is_none()
        && material.cautions.iter().any(|caution| caution.hazard == "flammable")
        && let Some(worked) = worked_c.filter(|worked| *worked >= practice.flammable.warm_c)
    {
        add(
            "flammable",
            format!(
                "This step is worked at {} \u{00B0}C: let it cool and add it away from the hot plate.",
                plain(worked)
            ),
            "common-practice",
        );
    }
    if let (Some(limit), Some(worked)) = (&material.heat_limit_c, worked_c)
        && worked > limit.value
    {
        add("heat", too_warm(limit.value, worked), &limit.source);
    }
    let cool = material
        .constituents
        .iter()
        .filter_map(|part| library.preservatives.get(&part.substance)?.add_below_c.as_ref())
        .min_by(|a, b| a.value.total_cmp(&b.value));
    if let (Some(limit), Some(worked)) = (cool, worked_c)
        && worked > limit.value
        && material.heat_limit_c.as_ref().is_none_or(|own| worked <= own.value)
    {
        add("heat", too_warm(limit.value, worked), &limit.source);
    }
    cautions.dedup_by(|a, b| a.text == b.text);
    cautions
}

/// What must be heeded in a step as a whole, worked at this temperature, C.
pub(crate) fn of_step(worked_c: Option<f64>, practice: &Practice) -> Vec<SheetCaution> {
    worked_c
        .filter(|celsius| *celsius >= practice.hot.temperature_c)
        .map(|celsius| SheetCaution {
            hazard: "hot".to_owned(),
            text: format!(
                "Hot: {} \u{00B0}C scalds. Heat-proof gloves, cover the vessel, and lift nothing hot over people.",
                plain(celsius)
            ),
            source: practice.hot.source.clone(),
        })
        .into_iter()
        .collect()
}

fn too_warm(limit_c: f64, worked_c: f64) -> String {
    format!(
        "Not above {} \u{00B0}C, but this step is worked at {} \u{00B0}C: cool first, or move the line to a later phase.",
        plain(limit_c),
        plain(worked_c)
    )
}

fn plain(number: f64) -> String {
    let text = format!("{number:.1}");
    text.strip_suffix(".0").map_or(text.clone(), str::to_owned)
}
