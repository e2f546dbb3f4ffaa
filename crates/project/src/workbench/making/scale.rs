//! From the bench to the plant: speeds, times, warming and cooling, what the batch costs.

use super::heat;
use super::mix::too_full;
use crate::diagnostic::{Diagnostic, at};
use crate::formula_file;
use crate::making_file::heat::HeatFile;
use crate::making_file::scale::{Making, ScaleFile, ScaleOf, TypedFill, TypedWork, read};
use crate::workbench::assess::{Bench, diagnose, facts_for, known};
use crate::workbench::complaint::{Complaint, complaints, sentence};
use crate::workbench::flow_use::{Answered, File, answered, of_typed};
use crate::workbench::procedure::{StepsCourse, of_assessed};
use jiff::civil::Date;
use levigate_assess::flow_use::Flows;
use levigate_assess::{AssessError, Assessed, Inquiry, assess};
use levigate_facts::Facts;
use levigate_formula::sheet::Sheet;
use levigate_measure::{Grade, Outcome};
use levigate_process::flow::reading::Known;
use levigate_process::heat::warming::{Goal, HeatReading};
use levigate_process::mixing::reading::StirReading;
use levigate_process::mixing::stirred::Pot;
use levigate_process::properties::BatchLiquid;
pub use levigate_process::scale_up::heated::HeatedScale;
pub use levigate_process::scale_up::reading::{AdditionReading, RuleRow, ScaleReading, StepReading};
use levigate_process::scale_up::reading::{ScaleQuestion, Step, scale as scaled};
use levigate_process::vessel::VesselError;
pub use levigate_rules::batch_cost::{BatchCost, Purchase};
use levigate_rules::batch_cost::{BatchCostError, BatchQuestion, Fill, Work, batch_cost, purchases};
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
    /// Warming, holding and cooling, the bench first; empty where the batch is made cold.
    pub heating: Vec<HeatedScale>,
    /// Where the course of temperature comes from, or why there is none.
    pub course: String,
    /// Hours of the plant vessel: warming, holding, cooling and additions.
    pub vessel_hours: Outcome,
    /// What the plant batch costs; absent where nobody asked.
    pub cost: Option<BatchCost>,
    /// Where the price of the material comes from, or why there is no cost; empty where nobody asked for one.
    pub cost_from: String,
    /// Ways to buy what was named.
    pub buy: Vec<BuyReading>,
}

/// What a formula gives beside its flow.
struct OfFormula {
    course: Option<StepsCourse>,
    /// Percent.
    water: f64,
    /// Price of a kilogram with its currency, or why there is none.
    material: Result<(Decimal, String), String>,
}

/// From the bench to the plant; `formula` gives liquid, steps and prices where the file has none.
///
/// # Errors
/// All that is wrong with the texts.
pub fn scale(
    facts: &Facts,
    when: (Date, &str),
    file: File<'_>,
    formula: Option<File<'_>>,
) -> Result<Answered<ScaledUp>, Vec<Diagnostic>> {
    let question = read(file.0, file.1, facts, formula.is_some())?;
    match (&question.liquid, formula) {
        (Some(liquid), _) => {
            let Answered { liquid, reading } =
                of_typed(liquid, |known| answer(facts, &question, known, None));
            reading.map(|reading| Answered { liquid, reading }).map_err(|trouble| trouble.in_question(file))
        }
        (None, Some((name, text))) => {
            let formula = formula_file::read(name, text)?;
            let facts = facts_for(facts, name, &formula)?;
            let sheet = (&formula.sheet, None);
            of_sheet(&facts, when, sheet, &question).map_err(|trouble| match trouble {
                Trouble::Assess(error) => diagnose(&formula, &error),
                Trouble::NoFlow(why) => vec![formula.diagnose_line(
                    None,
                    "no-flow-curve",
                    format!("the flow of this formula is not predicted: {why}"),
                    "measure it and give the curve under [liquid] instead of the formula".to_owned(),
                )],
                other => other.in_question(file),
            })
        }
        (None, None) => Err(Vec::new()),
    }
}

/// A vessel of the facts that a batch can be stirred in.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct VesselChoice {
    /// Key.
    pub key: String,
    /// In words.
    pub words: String,
    /// It has a jacket.
    pub jacketed: bool,
    /// To its brim, L.
    pub holds_l: f64,
}

/// The vessels of the facts with an impeller, the smallest first.
#[must_use]
pub fn vessels(facts: &Facts) -> Vec<VesselChoice> {
    let known = facts.mixing.vessels.iter();
    let mut found: Vec<VesselChoice> = known
        .filter_map(|(key, size)| {
            let vessel = facts.mixing.made(size).ok().filter(|vessel| vessel.impeller().is_some())?;
            Some(VesselChoice {
                key: key.clone(),
                words: vessel.words().to_owned(),
                jacketed: vessel.jacket().is_some(),
                holds_l: 1e3 * vessel.brim_m3(),
            })
        })
        .collect();
    found.sort_by(|a, b| a.holds_l.total_cmp(&b.holds_l).then_with(|| a.key.cmp(&b.key)));
    found
}

/// What is wrong with a sheet, or with what was asked about it.
#[derive(Clone, Debug, PartialEq)]
pub enum SheetTrouble {
    /// The sheet.
    Sheet(Vec<Complaint>),
    /// The question.
    Question(Vec<Diagnostic>),
}

/// From the bench to the plant with a sheet as it stands on a page, and what the bench has taught about its flow.
///
/// # Errors
/// [`SheetTrouble`].
pub fn sheet_scale(
    facts: &Facts,
    when: (Date, &str),
    sheet: (&Sheet, Option<Bench<'_>>),
    file: File<'_>,
) -> Result<Answered<ScaledUp>, SheetTrouble> {
    let question = read(file.0, file.1, facts, true).map_err(SheetTrouble::Question)?;
    of_sheet(facts, when, sheet, &question).map_err(|trouble| match trouble {
        Trouble::Assess(error) => SheetTrouble::Sheet(complaints(&error)),
        Trouble::NoFlow(why) => SheetTrouble::Sheet(vec![Complaint {
            field: "sheet",
            what: sentence(&format!("the flow of this formula is not predicted: {why}")),
            why: "Every speed at another scale follows from how it flows.".to_owned(),
            what_now: "Measure its flow curve and keep it on a trial.".to_owned(),
            ..Complaint::default()
        }]),
        other => SheetTrouble::Question(other.in_question(file)),
    })
}

enum Trouble {
    Assess(AssessError),
    NoFlow(String),
    Vessel(&'static str, VesselError),
    Cost(BatchCostError),
}

impl Trouble {
    /// As complaints about the question.
    fn in_question(self, file: File<'_>) -> Vec<Diagnostic> {
        match self {
            Self::Vessel(scale, error) => vec![too_full(file, &error, &format!("{scale}, batch_kg"))],
            Self::Cost(error) => {
                let start = file.1.find("[making]").unwrap_or(0);
                vec![at(file, &(start..start), "no-cost", "making", error.to_string(), error.hint())]
            }
            // Both are told where the formula stands.
            Self::Assess(_) | Self::NoFlow(_) => Vec::new(),
        }
    }
}

fn of_sheet(
    facts: &Facts,
    (day, market): (Date, &str),
    (sheet, bench): (&Sheet, Option<Bench<'_>>),
    question: &ScaleFile,
) -> Result<Answered<ScaledUp>, Trouble> {
    let mut known = known(facts);
    known.flow.bench = bench;
    let assessed = assess(&Inquiry { sheet, known, day, market }).map_err(Trouble::Assess)?;
    let room_c = facts.handling.usual.as_ref().map_or(f64::INFINITY, |usual| usual.room_c[1]);
    let steps = of_assessed(facts, &known, sheet, &assessed).ok();
    let formula = OfFormula {
        course: steps.and_then(|steps| StepsCourse::of(&steps, room_c)),
        water: assessed.composition.percent("water"),
        material: price(&assessed),
    };
    let flows = Flows::of(&assessed).map_err(Trouble::NoFlow)?;
    let Answered { liquid, reading } =
        answered(&flows.known(), None, |known| answer(facts, question, known, Some(&formula)));
    reading.map(|reading| Answered { liquid, reading })
}

/// What a kilogram costs before losses.
fn price(assessed: &Assessed<'_>) -> Result<(Decimal, String), String> {
    let cost = &assessed.assessment.rules.cost;
    if !cost.unpriced.is_empty() {
        let names = cost.lines.iter().filter(|line| cost.unpriced.contains(&line.line));
        let names: Vec<&str> = names.map(|line| line.name.as_str()).collect();
        return Err(format!("no price is on file for {}", names.join(", ")));
    }
    cost.per_kg_exact
        .zip(cost.currency.clone())
        .ok_or_else(|| cost.per_kg.refused.clone().unwrap_or_else(|| "the formula has no price".to_owned()))
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

fn answer(
    facts: &Facts,
    question: &ScaleFile,
    known: &Known<'_>,
    formula: Option<&OfFormula>,
) -> Result<ScaledUp, Trouble> {
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
    let reading = scaled(known, &asked);
    let (course, goal) = course(question, formula);
    let heating = goal.map_or_else(Vec::new, |goal| {
        let mut pots = vec![("bench", &question.bench, &bench, Some(&reading.bench))];
        let larger = question.pilot.iter().map(|of| ("pilot", of)).chain([("plant", &question.plant)]);
        let stand = pilot.iter().chain([&plant]);
        for (((words, of), pot), step) in larger.zip(stand).zip(&reading.steps) {
            pots.push((words, of, pot, step.at_recommended.as_ref()));
        }
        Heated { facts, question, known, formula, goal }.all(&pots)
    });
    let vessel_hours = hours(&heating, reading.steps.last());
    let (mut cost, mut buy, mut cost_from) = (None, Vec::new(), String::new());
    if let Some(making) = &question.making {
        let material;
        (material, cost_from) = material_of(making, formula);
        match worked(making, &vessel_hours) {
            Ok(work) => {
                let of = (question.plant.batch_typed, density, material);
                cost = Some(priced(making, of, work).map_err(Trouble::Cost)?);
            }
            Err(why) => {
                cost_from = format!("none: the hours of the plant vessel are not known ({why})");
            }
        }
        for bought in &making.buy {
            let ways = purchases(bought.need_kg, &bought.offer).map_err(Trouble::Cost)?;
            buy.push(BuyReading { words: bought.words.clone(), ways });
        }
    }
    Ok(ScaledUp { scale: reading, heating, course, vessel_hours, cost, cost_from, buy })
}

/// What is to be reached, and where that comes from: the file over the steps of the formula.
fn course(question: &ScaleFile, formula: Option<&OfFormula>) -> (String, Option<Goal>) {
    let Some(heat) = &question.heat else {
        return ("the facts have no usual room".to_owned(), None);
    };
    let steps = formula.and_then(|formula| formula.course);
    let Some(to_c) = heat.to_c.or(steps.map(|steps| steps.to_c)) else {
        let why = match (heat.asked, formula) {
            (true, _) => "no temperature to be reached: give to_c under [heat]",
            (false, Some(_)) => "made cold: no step of the formula is warmer than the room",
            (false, None) => "not asked: [heat] with to_c asks for warming and cooling at every scale",
        };
        return (why.to_owned(), None);
    };
    let goal = Goal {
        from_c: heat.from_c.unwrap_or(heat.room.temperature_c).min(to_c),
        to_c,
        hold_s: 60.0 * heat.hold_min.or(steps.map(|steps| steps.hold_min)).unwrap_or(0.0),
        down_to_c: heat.down_to_c.or(steps.and_then(|steps| steps.down_to_c)),
    };
    let typed = [heat.to_c, heat.hold_min, heat.down_to_c].iter().any(Option::is_some);
    let from = match (typed, steps) {
        (true, Some(_)) => "as typed, the rest by the steps of the formula",
        (true, None) => "as typed",
        (false, _) => {
            "by the steps of the formula: the least its hottest step asks for, until the next cooler step may come"
        }
    };
    (from.to_owned(), Some(goal))
}

/// One scale: its name, what was typed of it, how the batch stands in it, what its stirrer does.
type At<'a> = (&'static str, &'a ScaleOf, &'a Pot<'a>, Option<&'a StirReading>);

/// What is the same at every scale.
struct Heated<'a> {
    facts: &'a Facts,
    question: &'a ScaleFile,
    known: &'a Known<'a>,
    formula: Option<&'a OfFormula>,
    goal: Goal,
}

impl Heated<'_> {
    fn all(&self, pots: &[At<'_>]) -> Vec<HeatedScale> {
        let mut bench = None;
        let mut scales = Vec::new();
        for (place, at) in pots.iter().enumerate() {
            match self.one(at) {
                Ok(reading) => {
                    scales.push(HeatedScale::of(at.0, at.1.batch_kg, &reading, bench.as_ref()));
                    if place == 0 {
                        bench = Some(reading);
                    }
                }
                Err(why) => scales.push(HeatedScale::refused(at.0, &why)),
            }
        }
        scales
    }

    fn one(&self, (words, of, pot, stirred): &At<'_>) -> Result<HeatReading, String> {
        let (Some(heat), Some(by)) = (&self.question.heat, &of.warmed_by) else {
            return Err("the facts have no usual room, losses and plate".to_owned());
        };
        if by.jacket.is_none() && pot.filling.jacketed_m2 > 0.0 {
            return Err(format!(
                "nothing says what its jacket is fed with: give [{words}.jacket] heat_c and cool_c"
            ));
        }
        let number = |pick: fn(&StirReading) -> &Outcome| stirred.and_then(|stirred| pick(stirred).value);
        let water = heat.water_percent.or(self.formula.map(|formula| formula.water));
        let file = HeatFile {
            batch_kg: of.batch_kg,
            liquid: BatchLiquid {
                water: 0.01 * water.unwrap_or(100.0),
                density_kg_m3: Some(self.known.density_kg_m3.value),
                heat_capacity_j_kg_k: None,
                conductivity_w_m_k: None,
            },
            water_activity: None,
            open: by.open,
            vessel: of.vessel.clone(),
            filling: pot.filling,
            goal: self.goal,
            rpm: number(|stirred| &stirred.speed),
            stirrer_w: number(|stirred| &stirred.power).unwrap_or(0.0),
            flow: None,
            liquid_at_c: heat.liquid_at_c,
            activation_kj_mol: heat.activation_kj_mol,
            room: heat.room.clone(),
            losses: heat.losses.clone(),
            plate: by.plate.clone(),
            jacket: by.jacket.clone(),
            side: heat.side.clone(),
        };
        heat::of_question(self.facts, &file, Some(self.known.band.middle))
            .map_err(|trouble| format!("{}: {}", trouble.what, trouble.what_now))
    }
}

/// Hours that the plant vessel is taken: what the batch is warmed, held and cooled, and what is added to it.
fn hours(heating: &[HeatedScale], plant: Option<&StepReading>) -> Outcome {
    const METHOD: &str = "warming, holding, cooling and additions, one after another";
    let additions = plant.map(|plant| plant.additions.as_slice()).unwrap_or_default();
    let warmed = heating.last().map(|scale| &scale.time);
    let parts: Vec<&Outcome> = warmed.into_iter().chain(additions.iter().map(|one| &one.time)).collect();
    if parts.is_empty() {
        return Outcome::refuse("h", METHOD, "neither warming nor an addition is known");
    }
    if let Some(why) = parts.iter().find_map(|part| part.refused.as_deref()) {
        return Outcome::refuse("h", METHOD, why);
    }
    let sum = |end: fn(&Outcome) -> Option<f64>| -> f64 {
        parts.iter().map(|part| end(part).or(part.value).unwrap_or(f64::NAN)).sum::<f64>() / 60.0
    };
    let mut hours = Outcome::new(sum(|part| part.value), "h", Grade::RuleOfThumb, METHOD)
        .valid_for("one vessel; without filling, emptying, cleaning, weighing and waiting")
        .by("sum of minutes / 60")
        .proved_by("crates/cli/tests/whole/making.rs");
    if parts.iter().any(|part| part.low.is_some()) {
        hours = hours.within(sum(|part| part.low), sum(|part| part.high), None);
    }
    hours
}

/// The price of a kilogram of material, and where it comes from.
fn material_of(making: &Making, formula: Option<&OfFormula>) -> (Option<Decimal>, String) {
    match (making.material_per_kg, formula.map(|formula| &formula.material)) {
        (Some(typed), _) => (Some(typed), "as typed".to_owned()),
        (None, Some(Ok((price, currency)))) => {
            (Some(*price), format!("prices of the formula, {currency}/kg before losses"))
        }
        (None, Some(Err(why))) => (None, format!("none: {why}")),
        (None, None) => (None, "none was given".to_owned()),
    }
}

/// People and vessels with their hours, or why those of the vessel are not known.
fn worked(making: &Making, hours: &Outcome) -> Result<Vec<Work>, String> {
    let known = || {
        let known = hours.value.and_then(Decimal::from_f64).map(|hours| hours.round_dp(3));
        known.ok_or_else(|| hours.refused.clone().unwrap_or_default())
    };
    let one = |typed: &TypedWork| {
        let hours = if typed.while_made { known()? } else { typed.work.hours };
        Ok(Work { hours, ..typed.work.clone() })
    };
    making.work.iter().map(one).collect()
}

fn priced(
    making: &Making,
    (batch_kg, density_kg_m3, material_per_kg): (Decimal, f64, Option<Decimal>),
    work: Vec<Work>,
) -> Result<BatchCost, BatchCostError> {
    // Six decimals of g/mL are finer than any density is known.
    let density = Decimal::from_f64(1e-3 * density_kg_m3).map(|density| density.round_dp(6));
    let density = density.ok_or(BatchCostError::OutOfRange)?;
    batch_cost(&BatchQuestion {
        batch_kg,
        material_per_kg,
        loss_percent: making.loss_percent,
        fill: making.fill.map(|fill| match fill {
            TypedFill::Millilitres(ml) => Fill::Volume { ml, density },
            TypedFill::Grams(grams) => Fill::Mass(grams),
        }),
        give_away_percent: making.give_away_percent,
        pack: making.pack.clone(),
        work,
        fixed: making.fixed,
        overhead_percent: making.overhead_percent,
    })
}
