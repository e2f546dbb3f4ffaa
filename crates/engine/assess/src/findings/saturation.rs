//! Findings about crystals: in the cold store, in the finished product, on the way through the phases.

use super::digits;
use super::water::lines_with;
use crate::finding::{Concerns, Finding, Gravity};
use crate::saturation::{COLD_C, DegreeReading, SaturationReading};
use levigate_formula::composition::Composition;
use levigate_formula::library::{InWater, Library};
use levigate_formula::sheet::Sheet;

/// From here on a degree of saturation is a warning: solubilities are not known better.
const NEAR: f64 = 0.75;

/// A stage no worse than this share of itself in the finished product is no finding of its own.
pub(crate) const MUCH_THE_SAME: f64 = 0.85;

/// Findings about what may fall out.
pub(crate) fn findings(
    reading: &SaturationReading,
    sheet: &Sheet,
    composition: &Composition,
    library: &Library,
) -> Vec<Finding> {
    let mut found = Vec::new();
    let value = |degree: &DegreeReading| degree.degree.value.unwrap_or(0.0);
    let at_25 = |name: &str| reading.at_25_c.iter().find(|other| other.name == name).map_or(0.0, value);
    for degree in reading.at_25_c.iter().filter(|degree| value(degree) > 1.0 && !degree.component.is_empty())
    {
        found.push(finding(
            "above-its-solubility",
            Gravity::Change,
            degree,
            composition,
            library,
            format!("{} stands at {} times its solubility in water at 25 C.", degree.name, digits(value(degree))),
            "Use less of it, a higher pH, or show that the solvents of the formula hold it; they are not counted here.",
        ));
    }
    for degree in reading
        .cold
        .iter()
        .filter(|degree| value(degree) >= NEAR && !degree.component.is_empty() && at_25(&degree.name) <= 1.0)
    {
        let above = value(degree) > 1.0;
        found.push(
            finding(
                "crystals-in-the-cold",
                if above { Gravity::Change } else { Gravity::Check },
                degree,
                composition,
                library,
                format!(
                    "At {COLD_C} C {} stands at {} times its solubility; crystals on cold storage are to be expected{}.",
                    degree.name,
                    digits(value(degree)),
                    if above { "" } else { " if the solubility on file is a little high" }
                ),
                "Keep a sample at 4 C for a week and look for crystals; use less of it, a higher pH, or a solvent that holds it.",
            ),
        );
    }
    for degree in reading.at_25_c.iter().filter(|degree| value(degree) > 1.0 && degree.component.is_empty()) {
        found.push(finding(
            "salt-above-saturation",
            Gravity::Check,
            degree,
            composition,
            library,
            format!("{} stands at {} times its solubility product.", degree.name, digits(value(degree))),
            "Look for haze or a deposit after a week; fewer of its ions, or a chelant, keep it dissolved.",
        ));
    }
    found.extend(among_solvents(reading, composition, library));
    let mut told: Vec<&str> = Vec::new();
    for stage in &reading.on_the_way {
        for degree in
            stage.degrees.iter().filter(|degree| value(degree) >= NEAR && !degree.component.is_empty())
        {
            let in_product = at_25(&degree.name);
            if in_product >= value(degree) * MUCH_THE_SAME || told.contains(&degree.name.as_str()) {
                continue;
            }
            told.push(&degree.name);
            let phase = sheet.phases.get(stage.phase).map_or("", |phase| phase.name.as_str());
            found.push(finding(
                "falls-out-on-the-way",
                Gravity::Change,
                degree,
                composition,
                library,
                format!(
                    "At the end of phase {phase} the mixture stands at pH {:.2} and {} at {} times its solubility; in the finished product it is {}.",
                    stage.ph,
                    degree.name,
                    digits(value(degree)),
                    digits(in_product)
                ),
                "Add it after the pH has been raised, or before the acid, well diluted and slowly.",
            ));
        }
    }
    found
}

/// Solvents other than water from here on are worth a question, % w/w, when something stands beside them at this degree in water alone.
const MUCH_SOLVENT_PERCENT: f64 = 30.0;
const HALF_FULL: f64 = 0.5;

/// Solids that are well on their way to saturation in a product with much solvent: the solubility in water no longer speaks for it.
fn among_solvents(reading: &SaturationReading, composition: &Composition, library: &Library) -> Vec<Finding> {
    let solvent: f64 = composition
        .substances
        .iter()
        .filter(|(key, _)| {
            library.substances.get(*key).is_some_and(|one| {
                !matches!(one.in_water, InWater::Water) && one.roles.iter().any(|role| role == "solvent")
            })
        })
        .map(|(_, share)| share.percent)
        .sum();
    if solvent <= MUCH_SOLVENT_PERCENT {
        return Vec::new();
    }
    let half_full = |degree: &&DegreeReading| {
        !degree.component.is_empty()
            && degree.degree.value.is_some_and(|value| (HALF_FULL..=1.0).contains(&value))
    };
    reading
        .at_25_c
        .iter()
        .filter(half_full)
        .map(|degree| {
            finding(
                "solvents-may-hold-less",
                Gravity::Check,
                degree,
                composition,
                library,
                format!(
                    "{} stands at {} times its solubility in water alone, beside {} % of other solvents.",
                    degree.name,
                    digits(degree.degree.value.unwrap_or(f64::NAN)),
                    digits(solvent)
                ),
                "Glycols hold more of most organic acids but less of sugars and ascorbic acid; keep a sample at 4 C, or more water.",
            )
        })
        .collect()
}

fn finding(
    code: &'static str,
    gravity: Gravity,
    degree: &DegreeReading,
    composition: &Composition,
    library: &Library,
    found: String,
    change: &str,
) -> Finding {
    let lines = lines_with(composition, library, &degree.component);
    let mut finding = Finding::new(code, gravity, Concerns::lines(&lines), found, change)
        .rule("dissolved amount over solubility, from the equilibrium")
        .number("degree of saturation", degree.degree.value.unwrap_or(f64::NAN), "");
    for source in &degree.degree.sources {
        finding = finding.source(source);
    }
    finding
}
