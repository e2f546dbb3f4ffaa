//! The batch record before anything is made: every step with its target and boxes to write in. It works when every screen is dark.

use super::SPACE;
use crate::document::{Block, Cell, Document, Section, StepBlock, StepLine, WriteIn};
use levigate_project::paper_code;
use levigate_project::records::{PlanLine, PlanStep, StepKind};
use levigate_project::workbench::batch::{BatchRecord, day_of};

/// How the sheet is filled.
const HOW: [&str; 5] = [
    "Write what the balance shows, with all its digits. With a boat: reading 1 empty, reading 2 full. Without one: reading 2 alone.",
    "One weighing, one line. Where a line takes several portions, write the others beside the boxes with a + before each.",
    "A wrong figure is struck through once so that it can still be read; the right one stands beside it with initials and the reason.",
    "What the sheet does not foresee goes to the end, under what went otherwise.",
    "Afterwards the figures are typed back by the number of the line; the code at the foot of each page says which batch they belong to.",
];

/// The record of a batch to be filled by hand.
#[must_use]
pub fn blank_record(record: &BatchRecord) -> Document {
    let (plan, state) = (&record.plan, &record.state);
    let balances = plan.balances.iter().map(|balance| {
        let name = balance.name.as_deref().unwrap_or("balance");
        format!("{name}, reads {}{SPACE}g", balance.readability_g)
    });
    Document {
        kind: "Batch record to be filled by hand".to_owned(),
        title: plan.product.clone(),
        date: day_of(state.when).to_string(),
        running: format!("{}, batch {}, {}{SPACE}g", plan.product, state.code, plan.size_g),
        code: paper_code::of_batch("blank", &state.code, &plan.version_code),
        particulars: vec![
            ("Batch".to_owned(), state.code.clone()),
            ("To make".to_owned(), format!("{}{SPACE}g", plan.size_g)),
            ("Version".to_owned(), format!("{} ({})", plan.version, plan.version_code)),
            ("Trial".to_owned(), state.trial_number.to_string()),
            ("Balance".to_owned(), balances.collect::<Vec<_>>().join("; ")),
        ],
        sections: vec![
            Section {
                name: "Before the first line".to_owned(),
                blocks: vec![Block::blanks(
                    &[
                        "Made by",
                        "Date",
                        "Bench and tools clean, initials",
                        "Balance checked, g",
                        "pH meter: slope and buffers",
                        "Vessel and stirrer, empty, g",
                    ],
                    3,
                )],
            },
            Section {
                name: "Steps".to_owned(),
                blocks: plan.steps.iter().map(|planned| Block::Step(Box::new(step(planned)))).collect(),
            },
            Section {
                name: "At the end".to_owned(),
                blocks: vec![Block::blanks(
                    &[
                        "Vessel with product, g",
                        "Good product, g",
                        "Samples taken, g",
                        "Left in vessel and tools, g",
                        "Retained sample, label",
                        "Retained sample stands",
                    ],
                    3,
                )],
            },
            Section {
                name: "What went otherwise".to_owned(),
                blocks: vec![Block::blanks(&["What", "Why", "What was decided, initials"].repeat(3), 3)],
            },
            Section {
                name: "How this sheet is filled".to_owned(),
                blocks: HOW.iter().map(|words| Block::words(*words)).collect(),
            },
            Section {
                name: "Signed".to_owned(),
                blocks: vec![Block::blanks(
                    &[
                        "Made: name and signature",
                        "Date and time",
                        "Reviewed: name and signature",
                        "Date and time",
                    ],
                    2,
                )],
            },
        ],
    }
}

fn step(planned: &PlanStep) -> StepBlock {
    let named = |number: &Option<rust_decimal::Decimal>, unit: &str| {
        number.map(|number| format!("{}{SPACE}{unit}", number.normalize()))
    };
    let how = [
        named(&planned.temperature_c, "\u{00B0}C"),
        named(&planned.speed_rpm, "rpm"),
        named(&planned.hold_min, "min"),
    ];
    let line = planned.line.as_ref();
    StepBlock {
        number: planned.number.to_string(),
        phase: planned.phase.clone(),
        // The name of the raw material is the instruction where a line is only weighed.
        text: match line {
            Some(line) if planned.text == format!("Weigh {}", line.name) => line.name.clone(),
            _ => planned.text.clone(),
        },
        how: how.into_iter().flatten().collect::<Vec<_>>().join(", "),
        cautions: planned.cautions.iter().map(|caution| caution.text.clone()).collect(),
        checks: planned.checks.clone(),
        boxes: boxes(planned.kind, line),
        line: line.map(step_line),
    }
}

fn step_line(line: &PlanLine) -> StepLine {
    let share = match (line.remainder, line.to_ph) {
        (true, _) => format!("{}{SPACE}%, q.s. to 100", line.percent),
        (_, Some(ph)) => {
            format!("about {}{SPACE}%, to pH{SPACE}{}; the meter decides", line.percent, ph.normalize())
        }
        _ => format!("{}{SPACE}%", line.percent),
    };
    let tolerance = match (line.to_ph, line.first_g) {
        (Some(_), Some(first)) if first.is_zero() => "read first".to_owned(),
        (Some(_), Some(first)) => format!("first {first}{SPACE}g"),
        _ if line.tolerance_g.is_zero() => "as near as the balance shows".to_owned(),
        _ => format!("\u{00B1}{SPACE}{}{SPACE}g", line.tolerance_g),
    };
    StepLine {
        number: line.number.to_string(),
        name: line.name.clone(),
        grams: Cell::number(line.grams),
        tolerance,
        share,
    }
}

fn boxes(kind: StepKind, line: Option<&PlanLine>) -> Vec<Vec<WriteIn>> {
    let lot = |share: f64| WriteIn {
        filled: line.map(|line| line.lot.clone()).unwrap_or_default(),
        ..WriteIn::empty("Lot", share)
    };
    let signed = || [WriteIn::empty("Time", 1.9), WriteIn::empty("Initials", 2.1)];
    let weighing = || {
        let mut row =
            vec![WriteIn::empty("Reading 1, g", 3.0), WriteIn::empty("Reading 2, g", 3.0), lot(3.4)];
        row.extend(signed());
        row
    };
    match kind {
        _ if line.is_some_and(|line| line.to_ph.is_some()) => {
            let portions = (1..=4).flat_map(|number| {
                [WriteIn::empty(&format!("{number}: g"), 1.2), WriteIn::empty("then pH", 1.0)]
            });
            vec![weighing(), portions.collect()]
        }
        _ if line.is_some() => vec![weighing()],
        StepKind::MakeUp => {
            let mut row = vec![
                WriteIn::empty("Vessel with batch, g", 3.0),
                WriteIn::empty("Water given back, g", 3.0),
                WriteIn::empty("Lot of the water", 3.4),
            ];
            row.extend(signed());
            vec![row]
        }
        StepKind::Check => {
            let mut row = vec![WriteIn::empty("Instruments", 9.4)];
            row.extend(signed());
            vec![row]
        }
        _ => vec![vec![
            WriteIn::empty("From", 2.0),
            WriteIn::empty("To", 2.0),
            WriteIn::empty("Temperature, \u{00B0}C", 2.9),
            WriteIn::empty("Speed, rpm", 2.5),
            WriteIn::empty("Seen", 1.9),
            WriteIn::empty("Initials", 2.1),
        ]],
    }
}
