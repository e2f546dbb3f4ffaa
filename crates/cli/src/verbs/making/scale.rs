//! `scale`: from the bench to the plant.

use super::mix::stirred;
use super::{Texts, Written};
use crate::answer::{Answer, Failure};
use crate::arguments::{Common, MakingOfFormula};
use crate::input;
use crate::numbers;
use crate::paper::{Lean, Look, Paper};
use crate::verbs::tables::results;
use crate::verbs::{USUAL_MARKET, day};
use levigate_measure::Outcome;
use levigate_project::workbench::making::mix::StirReading;
use levigate_project::workbench::making::scale::{
    self as of, AdditionReading, BatchCost, BuyReading, HeatedScale, RuleRow, ScaledUp, StepReading,
};

/// Answers.
pub(crate) fn scale(common: &Common, asked: &MakingOfFormula, look: Look) -> Result<Answer, Failure> {
    let (facts, used) = input::facts(&common.facts)?;
    let texts = Texts::read(asked)?;
    let when = (day(None), USUAL_MARKET);
    let answered = of::scale(&facts, when, texts.question.pair(), texts.formula())
        .map_err(|problems| texts.refused(problems))?;
    if common.json {
        return Answer::json(&Written { reading: &answered, facts: &used });
    }
    let mut paper = Paper::new(look);
    paper.title("From the bench to the plant");
    paper.paragraph(0, &format!("Flow curve: {}.", answered.liquid.from));
    page(&mut paper, &answered.reading);
    if let Some(remark) = used.remark() {
        paper.heading("", &remark);
    }
    Ok(Answer::text(paper.finish()))
}

fn page(paper: &mut Paper, reading: &ScaledUp) {
    let scale = &reading.scale;
    for step in &scale.steps {
        step_page(paper, step, &scale.bench);
    }
    stirred(paper, &format!("The bench: {}", scale.bench_vessel), &scale.bench);
    for step in &scale.steps {
        if let Some(at) = &step.at_recommended {
            stirred(paper, &format!("{} at the speed to begin with", first_capital(&step.words)), at);
        }
    }
    heating(paper, reading);
    paper.heading("What does not scale", "");
    for line in &scale.does_not_scale {
        paper.hanging(2, "-", line);
    }
    if let Some(cost) = &reading.cost {
        cost_page(paper, cost, &reading.cost_from);
    } else if !reading.cost_from.is_empty() {
        paper.heading("Cost of the plant batch", &reading.cost_from);
    }
    for buy in &reading.buy {
        buy_page(paper, buy);
    }
}

fn first_capital(words: &str) -> String {
    let mut letters = words.chars();
    letters
        .next()
        .map_or_else(String::new, |first| first.to_uppercase().collect::<String>() + letters.as_str())
}

const RULE_HEADS: [(&str, Lean); 8] = [
    ("", Lean::Left),
    ("rpm", Lean::Right),
    ("tip m/s", Lean::Right),
    ("W/m3", Lean::Right),
    ("W", Lean::Right),
    ("Re", Lean::Right),
    ("flow", Lean::Left),
    ("blend s", Lean::Right),
];

fn short(outcome: &Outcome) -> String {
    outcome.value.map_or_else(
        || "–".to_owned(),
        |value| {
            if value != 0.0 && !(0.01..100_000.0).contains(&value.abs()) {
                return format!("{value:.1e}");
            }
            let places = (2 - value.abs().max(1e-9).log10().floor() as i32).clamp(0, 3);
            format!("{value:.*}", usize::try_from(places).unwrap_or(0))
        },
    )
}

fn rule_row(row: &RuleRow) -> Vec<String> {
    let mut cells = vec![row.words.to_owned()];
    cells.extend([&row.speed, &row.tip_speed, &row.power_per_volume, &row.power, &row.reynolds].map(short));
    cells.push(row.regime.map_or("–", |regime| regime.word()).to_owned());
    cells.push(short(&row.blend_time));
    cells
}

fn bench_row(bench: &StirReading) -> Vec<String> {
    let mut cells = vec!["the bench".to_owned()];
    cells.extend(
        [&bench.speed, &bench.tip_speed, &bench.power_per_volume, &bench.power, &bench.reynolds].map(short),
    );
    cells.push(bench.regime.word().to_owned());
    cells.push(short(&bench.blend_time));
    cells
}

fn step_page(paper: &mut Paper, step: &StepReading, bench: &StirReading) {
    paper.heading(&first_capital(&step.words), &step.vessel);
    match (&step.recommended.value, &step.recommended.refused) {
        (Some(_), _) => {
            paper.hanging(2, "begin with:", &format!("{}.", numbers::result(&step.recommended, true)));
        }
        (None, Some(why)) => paper.hanging(2, "no speed:", why),
        (None, None) => {}
    }
    for why in &step.because {
        paper.hanging(2, "because:", why);
    }
    if let Some(speed) = &step.by_exponent {
        let exponent = step.exponent.as_ref().map_or_else(String::new, short);
        let text = format!("{} rpm, by the exponent {exponent} of the two smaller scales.", short(speed));
        paper.hanging(2, "or:", &text);
    }
    paper.gap();
    let mut rows = vec![bench_row(bench)];
    rows.extend(step.rules.iter().map(rule_row));
    paper.columns(&RULE_HEADS, &rows);
    for row in &step.rules {
        let check = row.turbulent_check.value.map_or_else(String::new, |_| {
            format!(" Turbulent power law alone: {} rpm.", short(&row.turbulent_check))
        });
        paper.hanging(2, &format!("{}:", row.words), &format!("keeps {}.{check}", row.keeps));
    }
    paper.gap();
    results(
        paper,
        &[
            ("impeller, times that of the bench", &step.ratio),
            ("free surface over volume", &step.surface_per_volume),
            ("wetted wall over volume", &step.wall_per_volume),
            ("slower through the wall, times", &step.slower_through_wall),
            ("bubbles take longer, times", &step.bubbles_slower),
        ],
    );
    for addition in &step.additions {
        let rate = addition
            .rate
            .as_ref()
            .map_or_else(String::new, |rate| format!(", {}", numbers::result(rate, true)));
        paper.hanging(
            2,
            &format!("{}:", addition.words),
            &format!("{}{rate}{}.", numbers::result(&addition.time, true), unmixed(addition)),
        );
    }
}

/// How much of an addition stands unmixed, and what an acid or base asks for.
fn unmixed(addition: &AdditionReading) -> String {
    let share = addition.unmixed.as_ref().map_or_else(String::new, |share| {
        format!("; at a time {} of it stand unmixed where it goes in", numbers::result(share, true))
    });
    let least = addition
        .least
        .as_ref()
        .filter(|_| !addition.notes.is_empty())
        .map_or_else(String::new, |least| format!("; at least {}", numbers::result(least, true)));
    let notes: String =
        addition.notes.iter().map(|note| format!(". {}", note.text.trim_end_matches('.'))).collect();
    format!("{share}{least}{notes}")
}

const HEAT_HEADS: [(&str, Lean); 7] = [
    ("", Lean::Left),
    ("warm min", Lean::Right),
    ("hold min", Lean::Right),
    ("cool min", Lean::Right),
    ("in all min", Lean::Right),
    ("times bench", Lean::Right),
    ("water lost %", Lean::Right),
];

fn heating(paper: &mut Paper, reading: &ScaledUp) {
    paper.heading("Warming and cooling", &reading.course);
    if reading.heating.is_empty() {
        return;
    }
    let of = |outcome: &Option<Outcome>| outcome.as_ref().map_or_else(|| "–".to_owned(), short);
    let row = |scale: &HeatedScale| {
        let mut cells = vec![scale.words.clone()];
        cells.extend([&scale.warm, &scale.hold].map(short));
        cells.extend([
            of(&scale.cool),
            short(&scale.time),
            of(&scale.times_bench),
            short(&scale.water_percent),
        ]);
        cells
    };
    paper.columns(&HEAT_HEADS, &reading.heating.iter().map(row).collect::<Vec<_>>());
    for scale in &reading.heating {
        match (&scale.time.refused, numbers::interval(&scale.time)) {
            (Some(why), _) => paper.hanging(2, &format!("{}:", scale.words), why),
            (None, Some(ends)) => {
                paper.hanging(2, &format!("{}:", scale.words), &format!("in all {ends} min."))
            }
            (None, None) => {}
        }
    }
    let mut said: Vec<&str> = Vec::new();
    for note in reading.heating.iter().flat_map(|scale| &scale.notes) {
        if !said.contains(&note.text.as_str()) {
            said.push(&note.text);
            paper.hanging(2, "mind:", &note.text);
        }
    }
    if reading.vessel_hours.value.is_some() {
        results(paper, &[("hours of the plant vessel", &reading.vessel_hours)]);
    }
}

fn cost_page(paper: &mut Paper, cost: &BatchCost, cost_from: &str) {
    paper
        .heading("Cost of the plant batch", &format!("in the currency of the prices; material: {cost_from}"));
    let money = |value: Option<rust_decimal::Decimal>| {
        value.map_or_else(|| "–".to_owned(), |value| value.round_dp(4).normalize().to_string())
    };
    let rows = [
        ("good, kg", money(Some(cost.good_kg))),
        ("in a unit, g", money(cost.fill_g)),
        ("units filled", money(cost.units)),
        ("material", money(cost.material)),
        ("of it lost", money(cost.lost)),
        ("of it given away", money(cost.given_away)),
        ("people and vessels", money(Some(cost.work))),
        ("good bulk, each kg", money(cost.good_per_kg)),
        ("a unit: bulk", money(cost.unit_bulk)),
        ("a unit: pack", money(Some(cost.unit_pack))),
        ("a unit: people and vessels", money(cost.unit_work)),
        ("a unit: tests and release", money(cost.unit_fixed)),
        ("a unit", money(cost.unit)),
        ("a unit with overhead", money(cost.unit_with_overhead)),
    ]
    .map(|(name, value)| vec![name.to_owned(), value]);
    paper.columns(&[("", Lean::Left), ("", Lean::Right)], &rows);
}

fn buy_page(paper: &mut Paper, buy: &BuyReading) {
    paper.heading("Buying", &buy.words);
    let rows: Vec<Vec<String>> = buy
        .ways
        .iter()
        .map(|way| {
            [way.order_kg, way.per_kg, way.paid, way.per_kg_used, way.left_kg]
                .map(|value| value.round_dp(4).normalize().to_string())
                .to_vec()
        })
        .collect();
    paper.columns(
        &[
            ("order kg", Lean::Right),
            ("each kg", Lean::Right),
            ("paid", Lean::Right),
            ("each kg used", Lean::Right),
            ("left kg", Lean::Right),
        ],
        &rows,
    );
    paper.paragraph(2, "A lower price for more pays only if the rest is used before its retest date.");
}
