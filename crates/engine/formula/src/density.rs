//! How heavy a millilitre of the product is: volumes of the constituents added up.
//!
//! Equation: `1/rho = sum of w_s * v_s`, with the mass fraction `w_s` and the specific volume `v_s` of each constituent.
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | rho | density of the product, 20-25 C | g/mL |
//! | w_s | mass fraction of constituent s | 1 |
//! | v_s | specific volume: 1/density for a liquid, apparent volume in solution for a solid | mL/g |
//!
//! Valid for water-based products without air. Liquids take their own density; a dissolved solid without one takes an apparent
//! specific volume of 0.70 mL/g (0.45 for salts to 0.85 for amides, from memory). Polyols and alcohols contract in water, which
//! additivity does not know: glycerol at 50 % is 1.2 % heavier than the sum of volumes says, so the interval widens by
//! `5 % * w_l * (1 - w_l)` with the share `w_l` of liquids other than water, on top of 0.3 %.
//! Proof: `tests/published/density.toml` (glycerol in water; the interval must hold the published value).

use crate::composition::Composition;
use crate::library::{InWater, Library};
use levigate_measure::{Grade, Outcome};

const SOLID_VOLUME_ML_G: [f64; 3] = [0.45, 0.70, 0.85];
const WATER_DENSITY_G_ML: f64 = 0.9975;

/// Density of the product in g/mL, or a refusal for an empty one.
#[must_use]
pub fn density(composition: &Composition, library: &Library) -> Outcome {
    let mut volume = [0.0_f64; 3];
    let mut total = 0.0;
    let mut liquids = 0.0;
    let mut without_density = 0.0;
    let mut sources: Vec<&str> = Vec::new();
    for (key, share) in &composition.substances {
        total += share.percent;
        let substance = library.substances.get(key);
        let known = substance.and_then(|substance| substance.density_kg_m3.as_ref());
        if matches!(substance.map(|substance| &substance.in_water), Some(InWater::Water)) {
            volume.iter_mut().for_each(|sum| *sum += share.percent / WATER_DENSITY_G_ML);
        } else if let Some(known) = known {
            liquids += share.percent;
            volume.iter_mut().for_each(|sum| *sum += share.percent * 1000.0 / known.value);
            if share.percent >= 0.5 {
                sources.push(&known.source);
            }
        } else {
            without_density += share.percent;
            for (sum, specific) in volume.iter_mut().zip(SOLID_VOLUME_ML_G) {
                *sum += share.percent * specific;
            }
        }
    }
    const METHOD: &str = "volumes of the constituents added up";
    if total <= 0.0 {
        return Outcome::refuse("g/mL", METHOD, "nothing is in the formula");
    }
    let fraction = liquids / total;
    let model = 0.003 + 0.05 * fraction * (1.0 - fraction);
    let mut outcome = Outcome::new(total / volume[1], "g/mL", Grade::RuleOfThumb, METHOD)
        .within(total / volume[2] * (1.0 - model), total / volume[0] * (1.0 + model), None)
        .by("1/rho = sum of w_s * v_s")
        .valid_for("water-based, without air, 20-25 C")
        .proved_by("tests/published/density.toml")
        .source("from-memory")
        .input("liquids other than water", liquids, "%", None)
        .input("solids taken at 0.70 mL/g", without_density, "%", None)
        .note("air", "air drawn in while stirring makes the product lighter; weigh a filled cup to know");
    for source in sources {
        outcome = outcome.source(source);
    }
    outcome
}

/// What is open about the density of a product, g/mL: by name, what one standard uncertainty does, with its sign.
///
/// ```text
/// contraction of liquid i in water:  rho 0.05 w_i (1 - w) (A_i + B_i (1 - 2 w)),   w = sum of w_i
/// ```
///
/// The volume of every solid without a density of its own is a doubt of its own. How a liquid contracts is expanded as mixtures are (Redlich and
/// Kister, from memory) with two numbers `A_i`, `B_i` that lie evenly between -1 and 1, so that two products with one liquid share most of it, though
/// not all; what additivity does not know besides, 0.3 %, all products share.
#[must_use]
pub fn density_doubts(composition: &Composition, library: &Library) -> Vec<(String, f64)> {
    let Some(density) = density(composition, library).value else { return Vec::new() };
    let total: f64 = composition.substances.values().map(|share| share.percent).sum();
    let even = |half: f64| half / 3.0_f64.sqrt();
    let mut liquids: Vec<(&str, f64)> = Vec::new();
    let mut doubts = Vec::new();
    for (key, share) in &composition.substances {
        let substance = library.substances.get(key);
        if matches!(substance.map(|substance| &substance.in_water), Some(InWater::Water)) {
            continue;
        }
        let name = substance.map_or(key, |substance| &substance.name);
        let fraction = share.percent / total;
        if substance.is_some_and(|substance| substance.density_kg_m3.is_some()) {
            liquids.push((name, fraction));
        } else {
            let volume = even(0.5 * (SOLID_VOLUME_ML_G[2] - SOLID_VOLUME_ML_G[0]));
            doubts.push((format!("volume of {name}"), -density * density * fraction * volume));
        }
    }
    let all: f64 = liquids.iter().map(|(_, fraction)| fraction).sum();
    for (name, fraction) in liquids {
        let pull = density * even(0.05 * fraction * (1.0 - all));
        doubts.push((format!("contraction of {name}"), pull));
        doubts.push((format!("course of the contraction of {name}"), pull * (1.0 - 2.0 * all)));
    }
    doubts.push(("volumes added up".to_owned(), density * even(0.003)));
    doubts.retain(|(_, pull)| *pull != 0.0);
    doubts
}
