//! `flow dispense`, `flow drain`, `flow cream`, `flow life`: what a flow curve means for the person.

use crate::answer::{Answer, Failure};
use crate::arguments::{Common, FlowLife, FlowUse};
use crate::input::{self, FactsUsed, Input};
use crate::numbers;
use crate::paper::{Lean, Look, Paper};
use crate::verbs::tables::{notes, results};
use levigate_facts::Facts;
use levigate_measure::Outcome;
use levigate_project::diagnostic::Diagnostic;
use levigate_project::workbench::flow_use::{
    self, Answered, CreamReading, DispenseReading, DrainReading, File, LifeReading, StageReading, Verdict,
    WordReading,
};
use serde::Serialize;

#[derive(Serialize)]
struct Written<'a, R> {
    #[serde(flatten)]
    answered: &'a Answered<R>,
    facts: &'a FactsUsed,
}

type Ask<R> = fn(&Facts, File<'_>, Option<File<'_>>) -> Result<Answered<R>, Vec<Diagnostic>>;

/// Out of the pack.
pub(crate) fn dispense(common: &Common, asked: &FlowUse, look: Look) -> Result<Answer, Failure> {
    ask(common, asked, look, flow_use::dispense, "Out of the pack", dispense_page)
}

/// Over the skin.
pub(crate) fn drain(common: &Common, asked: &FlowUse, look: Look) -> Result<Answer, Failure> {
    ask(common, asked, look, flow_use::drain, "Over the skin", drain_page)
}

/// On the shelf.
pub(crate) fn cream(common: &Common, asked: &FlowUse, look: Look) -> Result<Answer, Failure> {
    ask(common, asked, look, flow_use::cream, "On the shelf", cream_page)
}

/// Along the life.
pub(crate) fn life(common: &Common, asked: &FlowLife, look: Look) -> Result<Answer, Failure> {
    let (facts, used) = input::facts(&common.facts)?;
    let input = Input::read(&asked.file)?;
    let answered = flow_use::life(&facts, input.pair()).map_err(|problems| input.refused(problems))?;
    tell(common, look, &answered, &used, "Along the life of the product", life_page)
}

fn ask<R: Serialize>(
    common: &Common,
    asked: &FlowUse,
    look: Look,
    verb: Ask<R>,
    title: &str,
    page: fn(&mut Paper, &R),
) -> Result<Answer, Failure> {
    let (facts, used) = input::facts(&common.facts)?;
    let input = Input::read(&asked.file)?;
    let sizes = asked.sizes.as_deref().map(Input::read).transpose()?;
    let answered = verb(&facts, input.pair(), sizes.as_ref().map(Input::pair)).map_err(|problems| {
        // Complaints are about one of the two texts.
        let about = sizes.as_ref().filter(|sizes| problems.iter().any(|problem| problem.file == sizes.name));
        about.unwrap_or(&input).refused(problems)
    })?;
    tell(common, look, &answered, &used, title, page)
}

fn tell<R: Serialize>(
    common: &Common,
    look: Look,
    answered: &Answered<R>,
    used: &FactsUsed,
    title: &str,
    page: fn(&mut Paper, &R),
) -> Result<Answer, Failure> {
    if common.json {
        return Answer::json(&Written { answered, facts: used });
    }
    let mut paper = Paper::new(look);
    paper.title(title);
    paper.paragraph(0, &format!("Flow curve: {}.", answered.liquid.from));
    paper.gap();
    results(
        &mut paper,
        &[("density", &answered.liquid.density), ("yield stress", &answered.liquid.yield_stress)],
    );
    page(&mut paper, &answered.reading);
    if let Some(remark) = used.remark() {
        paper.heading("", &remark);
    }
    Ok(Answer::text(paper.finish()))
}

fn verdicts(paper: &mut Paper, verdicts: &[Verdict]) {
    paper.heading("Verdicts", "");
    for verdict in verdicts {
        paper.hanging(
            2,
            &format!("{}:", verdict.holds.word()),
            &format!("{}; {}", verdict.question, verdict.because),
        );
    }
}

fn dispense_page(paper: &mut Paper, reading: &DispenseReading) {
    verdicts(paper, &reading.verdicts);
    paper.heading("Pack", "");
    let mut rows = vec![
        ("flow at the pressure of the hand", &reading.flow),
        ("dose of a stroke", &reading.dose),
        ("mass of it", &reading.mass),
        ("pressure for the full stroke", &reading.pressure),
        ("force on the piston for it", &reading.force),
        ("pressure at which it starts", &reading.start_pressure),
    ];
    rows.extend(reading.refill.iter().map(|refill| ("time to fill again", refill)));
    results(paper, &rows);
    for tube in &reading.tubes {
        paper.heading(tube.name, "at the flow of the full stroke");
        results(
            paper,
            &[
                ("shear rate at the wall", &tube.shear_rate),
                ("stress at the wall", &tube.stress),
                ("viscosity there", &tube.viscosity),
                ("mean speed", &tube.speed),
                ("Reynolds number", &tube.reynolds),
            ],
        );
    }
}

fn drain_page(paper: &mut Paper, reading: &DrainReading) {
    verdicts(paper, &reading.verdicts);
    paper.heading("Film on a slope", "");
    results(
        paper,
        &[
            ("thickest film that stays", &reading.thickest_film),
            ("speed of the surface", &reading.surface_speed),
            ("left after the time", &reading.left),
            ("time to drain", &reading.drain_time),
        ],
    );
    paper.heading("Dose on the hand", "");
    results(
        paper,
        &[
            ("run", &reading.run),
            ("run until it rests", &reading.run_to_rest),
            ("height on a level hand", &reading.heap_height),
            ("width on a level hand", &reading.heap_width),
            ("yield stress to stand as put", &reading.yield_to_stand),
            ("puddle held by surface tension", &reading.puddle_height),
        ],
    );
    paper.heading("Marks of the finger", "");
    results(paper, &[("time to level", &reading.level_time), ("marks that stay", &reading.marks_left)]);
    paper.heading("Finger on the skin", "");
    results(
        paper,
        &[
            ("shear rate", &reading.finger_rate),
            ("stress on the skin", &reading.drag),
            ("force along the skin", &reading.drag_force),
            ("pressure under a slanting finger", &reading.wedge_pressure),
        ],
    );
}

fn cream_page(paper: &mut Paper, reading: &CreamReading) {
    verdicts(paper, &reading.verdicts);
    paper.heading("Drops", "upwards above zero");
    results(
        paper,
        &[
            ("stress of the median drop", &reading.drop_stress),
            ("speed of the median drop", &reading.speed),
            ("its way over the shelf life", &reading.way),
            ("volume that has left its place", &reading.share_gone),
            ("yield stress to hold it", &reading.yield_to_hold),
            ("largest drop held", &reading.largest_held),
        ],
    );
    paper.heading("Centrifuge", "");
    results(
        paper,
        &[
            ("force", &reading.force),
            ("months by force alone", &reading.months_by_force),
            ("months with the viscosities", &reading.months),
            ("viscosity at rest over that in it", &reading.factor),
        ],
    );
    if reading.bubbles.is_empty() {
        return;
    }
    paper.heading("Bubbles", "");
    let rows: Vec<Vec<String>> = reading
        .bubbles
        .iter()
        .map(|bubble| {
            vec![
                numbers::result(&bubble.diameter, false),
                numbers::result(&bubble.time, false),
                bubble.leaves.holds.word().to_owned(),
            ]
        })
        .collect();
    paper.columns(
        &[("mm", Lean::Right), ("hours to rise", Lean::Left), ("leaves in time", Lean::Left)],
        &rows,
    );
    notes(paper, reading.bubbles.iter().flat_map(|bubble| &bubble.time.notes));
}

fn life_page(paper: &mut Paper, reading: &LifeReading) {
    paper.heading("Stages", "");
    let rows: Vec<Vec<String>> = reading.life.iter().map(stage_row).collect();
    paper.columns(
        &[
            ("", Lean::Left),
            ("1/s", Lean::Right),
            ("from", Lean::Right),
            ("to", Lean::Right),
            ("Pa", Lean::Right),
            ("mPa s", Lean::Right),
        ],
        &rows,
    );
    paper.heading("Words", "a convention of this product, no facts");
    for word in &reading.words {
        paper.hanging(2, &format!("{}:", word.holds.word()), &word_line(word));
    }
}

fn short(value: Option<f64>) -> String {
    value.map_or_else(
        || "–".to_owned(),
        |value| if value == 0.0 { "0".to_owned() } else { format!("{value:.2e}") },
    )
}

fn stage_row(stage: &StageReading) -> Vec<String> {
    let end = |pick: fn(&Outcome) -> Option<f64>| short(pick(&stage.shear_rate));
    vec![
        stage.name.clone(),
        short(stage.shear_rate.value),
        end(|rate| rate.low),
        end(|rate| rate.high),
        short(stage.stress.value),
        short(stage.viscosity.value),
    ]
}

fn word_line(word: &WordReading) -> String {
    let bands: Vec<String> =
        word.bands.iter().map(|band| format!("{} {}", band.of, band.within.because)).collect();
    format!("{}; {}", word.words, bands.join("; "))
}
