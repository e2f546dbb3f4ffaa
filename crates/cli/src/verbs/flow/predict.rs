//! `flow predict`: how a formula flows, before it is made.

use crate::answer::{Answer, Failure};
use crate::arguments::{Common, FlowPredict as Asked};
use crate::input::FactsUsed;
use crate::paper::{Look, Paper};
use crate::verbs::flow::taught::{self, Asking, Learned};
use crate::verbs::tables::flow;
use crate::verbs::{USUAL_MARKET, day};
use levigate_project::workbench::flow_predict::{self, FlowPrediction};
use serde::Serialize;

/// Shear rates shown where nobody asks for any, 1/s.
const USUAL_RATES: [f64; 6] = [0.01, 0.1, 1.0, 10.0, 100.0, 1000.0];

#[derive(Serialize)]
struct Written<'a> {
    #[serde(flatten)]
    prediction: &'a FlowPrediction,
    #[serde(skip_serializing_if = "Option::is_none")]
    learned: Option<Learned>,
    facts: &'a FactsUsed,
}

/// Predicts the flow of a formula.
pub(crate) fn predict(common: &Common, asked: &Asked, look: Look) -> Result<Answer, Failure> {
    let asking = Asking::read(common, &asked.formula, asked.workspace.as_ref())?;
    let Asking { facts, used, input, .. } = &asking;
    let shear_rates = if asked.shear.is_empty() { USUAL_RATES.to_vec() } else { asked.shear.clone() };
    let question = flow_predict::Asked {
        temperature_c: asked.temperature,
        shear_rates,
        spindle: asked.spindle.clone(),
        speed_rpm: asked.speed,
        torque_un_m: asked.torque,
    };
    let prediction = asking
        .with_bench(|bench| {
            flow_predict::predict(facts, (day(None), USUAL_MARKET), input.pair(), &question, bench)
        })
        .map_err(|problems| input.refused(problems))?;
    let learned = asking.learned();
    if common.json {
        return Answer::json(&Written { prediction: &prediction, learned, facts: used });
    }
    let mut paper = Paper::new(look);
    paper.title(&prediction.product.name);
    flow::flow(&mut paper, &prediction.flow);
    flow::viscosities(&mut paper, "Viscosity over shear rate", &prediction.viscosities);
    if let Some(learned) = &learned {
        taught::learned(&mut paper, learned);
    }
    if let Some(remark) = used.remark() {
        paper.heading("", &remark);
    }
    Ok(Answer::text(paper.finish()))
}
