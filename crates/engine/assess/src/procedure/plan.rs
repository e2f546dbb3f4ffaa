//! Steps before they are worded: those that were proposed and those a person wrote have the same shape.

use super::Work;
use super::constraint::Event;
use levigate_formula::sheet::{StepKind, WrittenStep};
use rust_decimal::prelude::ToPrimitive;

/// A step.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Planned {
    pub(super) does: StepKind,
    /// Name of a premix.
    pub(super) name: Option<String>,
    /// Lines with the share of each that goes in.
    pub(super) parts: Vec<(usize, f64)>,
    /// Positions of the steps that make the premixes added here.
    pub(super) premixes: Vec<usize>,
    pub(super) temperature_c: Option<[f64; 2]>,
    pub(super) stirring: Option<String>,
    pub(super) minutes: Option<[f64; 2]>,
    pub(super) checks: Vec<String>,
    pub(super) note: Option<String>,
}

impl Planned {
    pub(super) fn new(does: StepKind) -> Self {
        Self {
            does,
            name: None,
            parts: Vec::new(),
            premixes: Vec::new(),
            temperature_c: None,
            stirring: None,
            minutes: None,
            checks: Vec::new(),
            note: None,
        }
    }

    /// Whether it is this step.
    pub(super) fn is(&self, event: Event) -> bool {
        self.does
            == match event {
                Event::Hold => StepKind::Hold,
                Event::MakeUp => StepKind::MakeUp,
                Event::DeAir => StepKind::DeAir,
                Event::AdjustPh => StepKind::AdjustPh,
            }
    }
}

/// A person's steps.
pub(super) fn of_written(work: &Work<'_>, steps: &[WrittenStep]) -> Vec<Planned> {
    let number = |pair: [rust_decimal::Decimal; 2]| {
        Some([pair[0].to_f64()?, pair[1].to_f64()?]).filter(|[low, high]| low.is_finite() && high.is_finite())
    };
    let mut planned: Vec<Planned> = Vec::new();
    for step in steps {
        let parts = step
            .lines
            .iter()
            .filter_map(|part| {
                let share =
                    part.share_percent.and_then(|share| share.to_f64()).map_or(1.0, |share| share / 100.0);
                Some((work.asked.sheet.line_of(part)?, share))
            })
            .collect();
        let premixes = step
            .premixes
            .iter()
            .filter_map(|name| {
                planned
                    .iter()
                    .position(|made| made.does == StepKind::Premix && made.name.as_ref() == Some(name))
            })
            .collect();
        planned.push(Planned {
            does: step.does,
            name: step.name.clone(),
            parts,
            premixes,
            temperature_c: step.temperature_c.and_then(number),
            stirring: step.stirring.clone(),
            minutes: step.minutes.and_then(number),
            checks: step.checks.clone(),
            note: step.note.clone(),
        });
    }
    planned
}
