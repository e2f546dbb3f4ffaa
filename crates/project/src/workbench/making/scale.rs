//! From the bench to the plant, with what the batch costs.

use super::mix::too_full;
use crate::diagnostic::{Diagnostic, at};
use crate::making_file::scale::{Making, ScaleFile, ScaleOf, TypedFill, read};
use crate::workbench::flow_use::{Answered, File, of_formula, of_typed};
use levigate_facts::Facts;
use levigate_process::flow::reading::Known;
use levigate_process::mixing::stirred::Pot;
pub use levigate_process::scale_up::reading::{AdditionReading, RuleRow, ScaleReading, StepReading};
use levigate_process::scale_up::reading::{ScaleQuestion, Step, scale as scaled};
use levigate_process::vessel::VesselError;
pub use levigate_rules::batch_cost::{BatchCost, Purchase};
use levigate_rules::batch_cost::{BatchCostError, BatchQuestion, Fill, batch_cost, purchases};
use rust_decimal::Decimal;
use rust_decimal::prelude::FromPrimitive;
use serde::Serialize;

/// Ways to buy something.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BuyReading {
    /// What.
    pub words: String,
    /// Ways, the cheapest in all first.
    pub ways: Vec<Purchase>,
}

/// The answer of `scale`.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ScaledUp {
    /// Speeds, times, sizes.
    #[serde(flatten)]
    pub scale: ScaleReading,
    /// What the plant batch costs; absent where nobody asked.
    pub cost: Option<BatchCost>,
    /// Ways to buy what was named.
    pub buy: Vec<BuyReading>,
}

/// From the bench to the plant; `formula` gives the liquid where the file has none.
///
/// # Errors
/// All that is wrong with the texts.
pub fn scale(
    facts: &Facts,
    file: File<'_>,
    formula: Option<File<'_>>,
) -> Result<Answered<ScaledUp>, Vec<Diagnostic>> {
    let question = read(file.0, file.1, &facts.mixing, formula.is_some())?;
    let answer = |known: &Known<'_>| answer(&question, known);
    let answered = match (&question.liquid, formula) {
        (Some(liquid), _) => of_typed(liquid, answer),
        (None, Some(formula)) => of_formula(facts, formula, |_, known| answer(known))?,
        (None, None) => return Err(Vec::new()),
    };
    let Answered { liquid, reading } = answered;
    match reading {
        Ok(reading) => Ok(Answered { liquid, reading }),
        Err(Trouble::Vessel(scale, error)) => {
            Err(vec![too_full(file, &error, &format!("{scale}, batch_kg"))])
        }
        Err(Trouble::Cost(error)) => {
            let start = file.1.find("[making]").unwrap_or(0);
            Err(vec![at(file, &(start..start), "no-cost", "making", error.to_string(), error.hint())])
        }
    }
}

enum Trouble {
    Vessel(&'static str, VesselError),
    Cost(BatchCostError),
}

fn pot<'a>(name: &'static str, scale: &'a ScaleOf, density: f64) -> Result<Pot<'a>, Trouble> {
    let filling =
        scale.vessel.filled(scale.batch_kg / density).map_err(|error| Trouble::Vessel(name, error))?;
    // The file was refused where a vessel has no impeller.
    Pot::new(&scale.vessel, filling, density).ok_or(Trouble::Vessel(
        name,
        VesselError::Unknown { key: String::new(), what: "an impeller", known: Vec::new() },
    ))
}

fn answer(question: &ScaleFile, known: &Known<'_>) -> Result<ScaledUp, Trouble> {
    let density = known.density_kg_m3.value;
    let bench = pot("bench", &question.bench, density)?;
    let pilot = question.pilot.as_ref().map(|pilot| pot("pilot", pilot, density)).transpose()?;
    let plant = pot("plant", &question.plant, density)?;
    let step = |words: &str, pot, of: &ScaleOf| Step {
        words: words.to_owned(),
        pot,
        works_at: of.speed_rpm.map(|rpm| rpm / 60.0),
    };
    let mut steps = Vec::new();
    if let (Some(pot), Some(of)) = (&pilot, &question.pilot) {
        steps.push(step("pilot", pot, of));
    }
    steps.push(step("plant", &plant, &question.plant));
    let asked = ScaleQuestion {
        bench: (&bench, question.bench_rpm / 60.0),
        steps,
        grains: question.grains,
        tip_limit_m_s: question.tip_limit_m_s,
        additions: question.additions.clone(),
    };
    let (mut cost, mut buy) = (None, Vec::new());
    if let Some(making) = &question.making {
        cost = Some(priced(making, question.plant.batch_typed, density).map_err(Trouble::Cost)?);
        for bought in &making.buy {
            let ways = purchases(bought.need_kg, &bought.offer).map_err(Trouble::Cost)?;
            buy.push(BuyReading { words: bought.words.clone(), ways });
        }
    }
    Ok(ScaledUp { scale: scaled(known, &asked), cost, buy })
}

fn priced(making: &Making, batch_kg: Decimal, density_kg_m3: f64) -> Result<BatchCost, BatchCostError> {
    // Six decimals of g/mL are finer than any density is known.
    let density = Decimal::from_f64(1e-3 * density_kg_m3).map(|density| density.round_dp(6));
    let density = density.ok_or(BatchCostError::OutOfRange)?;
    batch_cost(&BatchQuestion {
        batch_kg,
        material_per_kg: making.material_per_kg,
        loss_percent: making.loss_percent,
        fill: making.fill.map(|fill| match fill {
            TypedFill::Millilitres(ml) => Fill::Volume { ml, density },
            TypedFill::Grams(grams) => Fill::Mass(grams),
        }),
        give_away_percent: making.give_away_percent,
        pack: making.pack.clone(),
        work: making.work.clone(),
        fixed: making.fixed,
        overhead_percent: making.overhead_percent,
    })
}
