//! `flow predict`: how a formula flows, before it is made.

use crate::answer::{Answer, Failure};
use crate::arguments::{Common, FlowPredict as Asked};
use crate::input::{self, FactsUsed, Input};
use crate::paper::{Look, Paper};
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
    facts: &'a FactsUsed,
}

/// Predicts the flow of a formula.
pub(crate) fn predict(common: &Common, asked: &Asked, look: Look) -> Result<Answer, Failure> {
    let (facts, used) = input::facts(&common.facts)?;
    let input = Input::read(&asked.formula)?;
    let shear_rates = if asked.shear.is_empty() { USUAL_RATES.to_vec() } else { asked.shear.clone() };
    let question = flow_predict::Asked {
        temperature_c: asked.temperature,
        shear_rates,
        spindle: asked.spindle.clone(),
        speed_rpm: asked.speed,
        torque_un_m: asked.torque,
    };
    let text = (input.name.as_str(), input.text.as_str());
    let prediction = flow_predict::predict(&facts, day(None), USUAL_MARKET, text, &question)
        .map_err(|problems| input.refused(problems))?;
    if common.json {
        return Answer::json(&Written { prediction: &prediction, facts: &used });
    }
    let mut paper = Paper::new(look);
    paper.title(&prediction.product.name);
    flow::flow(&mut paper, &prediction.flow);
    flow::viscosities(&mut paper, "Viscosity over shear rate", &prediction.viscosities);
    if let Some(remark) = used.remark() {
        paper.heading("", &remark);
    }
    Ok(Answer::text(paper.finish()))
}
