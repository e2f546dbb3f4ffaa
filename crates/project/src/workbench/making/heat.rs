//! How long a batch takes to warm and to cool, what it loses, how near it comes to boiling.

use super::needed;
use crate::diagnostic::{Diagnostic, at};
use crate::making_file::heat::{HeatFile, JacketFile, Usual, read};
use core::f64::consts::PI;
use levigate_facts::Facts;
use levigate_measure::Note;
use levigate_process::flow::{FlowModel, Liquid, Modelled};
use levigate_process::heat::evaporation::Surface;
use levigate_process::heat::film::{Barrier, Passage, Stirred};
use levigate_process::heat::warming::{self as of, Asked, JacketFlow, Plate, Warmer};
pub use levigate_process::heat::warming::{FilmReading, HeatReading, LossReading, PathPoint, StageReading};
use levigate_process::properties::water;

/// Activation energy of the viscosity of water between 25 and 75 C, kJ/mol: what a gel without an own one is taken to have.
const AS_WATER_KJ_MOL: f64 = 15.0;
/// Temperature of a flow curve that nobody gave one for, C.
const USUAL_CURVE_C: f64 = 25.0;

/// Warming, holding and cooling.
///
/// # Errors
/// All that is wrong with the text.
pub fn heat(facts: &Facts, (file, text): (&str, &str)) -> Result<HeatReading, Vec<Diagnostic>> {
    let making = &facts.making;
    let usual = Usual {
        room: needed((file, text), making.room.as_ref(), "room")?,
        losses: needed((file, text), making.heat_loss.as_ref(), "heat_loss")?,
        plate: needed((file, text), making.hot_plate.as_ref(), "hot_plate")?,
        side: needed((file, text), making.jacket_side.as_ref(), "jacket_side")?,
    };
    let question = read(file, text, facts, &usual)?;
    of_question(facts, &question, question.flow.as_ref().map(|typed| &typed.liquid as &dyn Liquid)).map_err(
        |Trouble { of_jacket, what, what_now }| {
            let span = text.find("[jacket]").filter(|_| of_jacket).map_or(0..0, |start| start..start + 8);
            let field = if of_jacket { "jacket" } else { "" };
            vec![at((file, text), &span, "no-course", field, what, what_now)]
        },
    )
}

/// Why there is no course of temperature.
pub(super) struct Trouble {
    of_jacket: bool,
    pub(super) what: String,
    pub(super) what_now: String,
}

/// Warming, holding and cooling of a question, its liquid by a flow curve where one is known.
pub(super) fn of_question(
    facts: &Facts,
    question: &HeatFile,
    curve: Option<&dyn Liquid>,
) -> Result<HeatReading, Trouble> {
    let trouble =
        |what: String, what_now: &str| Trouble { of_jacket: true, what, what_now: what_now.to_owned() };
    let as_water =
        Modelled { model: FlowModel::Newton, parameters: vec![water::viscosity_pa_s(USUAL_CURVE_C)] };
    let liquid: &dyn Liquid = curve.unwrap_or(&as_water);
    let mut asked = bare(question, question.plate.source.as_str());
    if let Some(jacket) = &question.jacket {
        let area_m2 = jacket.area_m2.unwrap_or(question.filling.jacketed_m2);
        if area_m2 <= 0.0 {
            let what = "the vessel has no jacket that the batch reaches".to_owned();
            return Err(trouble(what, "give area_m2, or a vessel with a jacket"));
        }
        let passage = passage(facts, question, jacket, (liquid, curve.is_some()), &mut asked)
            .map_err(|(what, what_now)| trouble(what, what_now))?;
        let flow = |in_c: f64, kg_h: Option<f64>| {
            let capacity = jacket
                .flow_heat_capacity_j_kg_k
                .unwrap_or_else(|| water::heat_capacity_j_kg_k(in_c.clamp(0.0, 100.0)));
            JacketFlow { in_c, flow_w_k: kg_h.map(|kg_h| kg_h / 3600.0 * capacity) }
        };
        let bare_wall = (question.filling.wetted_m2 - area_m2).max(0.0);
        asked.wall_m2[0] = bare_wall;
        if let Some(heat_c) = jacket.heat_c {
            let flow_kg_h = if jacket.steam { None } else { jacket.heat_flow_kg_h };
            asked.warmer = Warmer::Jacket(flow(heat_c, flow_kg_h), passage.clone(), area_m2);
        }
        if let Some(cool_c) = jacket.cool_c {
            asked.wall_m2[1] = bare_wall;
            // Whatever steam gave the outer film, what cools is a liquid.
            let passage = match passage {
                Passage::Films(stirred, barrier) if jacket.steam => {
                    let outside_w_m2_k = jacket.outside_w_m2_k.unwrap_or(question.side.liquid_w_m2_k);
                    Passage::Films(stirred, Barrier { outside_w_m2_k, ..barrier })
                }
                other => other,
            };
            asked.cooler = Warmer::Jacket(flow(cool_c, jacket.cool_flow_kg_h), passage, area_m2);
        }
    }
    of::heat(&asked).map_err(|error| Trouble {
        of_jacket: false,
        what: error.to_string(),
        what_now: error.hint().to_owned(),
    })
}

/// The question on a plate, cooled by the room.
fn bare<'q>(question: &'q HeatFile, plate_source: &str) -> Asked<'q> {
    let bottom_m2 = 0.25 * PI * question.vessel.diameter_m().powi(2);
    let filling = &question.filling;
    let vessel_j_k = question.vessel.wall().map_or(0.0, |wall| {
        wall.thickness_m
            * filling.wetted_m2
            * wall.material.density_kg_m3
            * wall.material.heat_capacity_j_kg_k
    });
    let mut assumed = Vec::new();
    if question.water_activity.is_none() {
        assumed.push(Note::new(
            "assumed",
            "no water activity was given: the batch is taken to evaporate and boil as water",
        ));
    }
    let plate = &question.plate;
    Asked {
        batch_kg: question.batch_kg,
        liquid: question.liquid,
        vessel_j_k,
        stirrer_w: question.stirrer_w,
        surface: Surface {
            area_m2: filling.surface_m2,
            open: question.open,
            water_activity: question.water_activity.unwrap_or(1.0),
        },
        wall_m2: [(filling.wetted_m2 - bottom_m2).max(0.0), filling.wetted_m2],
        room: question.room.room(),
        losses: &question.losses,
        goal: question.goal,
        warmer: Warmer::Plate(Plate {
            power_w: plate.power_w,
            heat_capacity_j_k: plate.heat_capacity_j_k,
            contact_w_k: plate.contact_w_m2_k * bottom_m2,
            loss_w_k: plate.loss_w_k,
            most_c: plate.most_c,
        }),
        cooler: Warmer::Room,
        doubt: 0.01 * plate.doubt_percent,
        sources: vec![plate_source.to_owned(), question.losses.source.clone()],
        assumed,
    }
}

/// How heat passes between batch and jacket.
fn passage<'l>(
    facts: &'l Facts,
    question: &HeatFile,
    jacket: &JacketFile,
    (liquid, measured): (&'l dyn Liquid, bool),
    asked: &mut Asked<'_>,
) -> Result<Passage<'l>, (String, &'static str)> {
    if let Some(overall) = jacket.u_w_m2_k {
        asked.doubt = 0.0;
        return Ok(Passage::Overall(overall));
    }
    const TYPE_IT: &str = "give u_w_m2_k of your vessel, or a vessel with an impeller of a kind whose film is known and its rpm";
    let Some((impeller, rpm)) = question.vessel.impeller().zip(question.rpm) else {
        let lacks = if question.rpm.is_none() { "rpm is missing" } else { "the vessel has no impeller" };
        return Err((format!("the film of the batch is not known: {lacks}"), TYPE_IT));
    };
    let Some(film) = facts.making.vessel_films.get(&impeller.kind.family) else {
        return Err((format!("no film is on file for {}", impeller.kind.words), TYPE_IT));
    };
    let side = &question.side;
    asked.doubt = 0.01 * side.doubt_percent;
    asked.sources = vec![film.source.clone(), side.source.clone(), question.losses.source.clone()];
    let mut assume = |text: String| asked.assumed.push(Note::new("assumed", text));
    if !measured {
        assume("no flow curve was given: the batch is taken as thin as water, so that it warms as fast as it can".to_owned());
    }
    if question.activation_kj_mol.is_none() {
        assume(format!(
            "no activation energy was given: the viscosity falls with temperature as that of water, {AS_WATER_KJ_MOL} kJ/mol"
        ));
    }
    let outside = if jacket.steam { side.steam_w_m2_k } else { side.liquid_w_m2_k };
    if jacket.outside_w_m2_k.is_none() {
        assume(format!("the film of the jacket is taken as {outside} W/(m2 K)"));
    }
    let wall = question.vessel.wall().map_or(0.0, |wall| wall.thickness_m / wall.material.conductivity_w_m_k);
    let stirred = Stirred {
        liquid,
        curve_c: question.liquid_at_c.unwrap_or(USUAL_CURVE_C),
        activation_j_mol: 1e3 * question.activation_kj_mol.unwrap_or(AS_WATER_KJ_MOL),
        properties: question.liquid,
        speed_1_s: rpm / 60.0,
        impeller_m: impeller.diameter_m,
        shear: impeller.kind.shear.value,
        vessel_m: question.vessel.diameter_m(),
        laws: &film.laws,
    };
    let barrier = Barrier {
        wall,
        lining: jacket.lining_m2_k_w,
        fouling: jacket.fouling_m2_k_w.unwrap_or(side.fouling_m2_k_w),
        outside_w_m2_k: jacket.outside_w_m2_k.unwrap_or(outside),
    };
    Ok(Passage::Films(stirred, barrier))
}
