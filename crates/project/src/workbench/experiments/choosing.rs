//! The grid runs are chosen from, why none can be chosen, and a chosen run as it stands on the sheet.

use crate::proof_file::design::refused;
use crate::records::{ExperimentPart, ExperimentRun, TypedNumber};
use crate::workbench::keeping::{FieldFault, KeepError};
use crate::workbench::proof::design::rounded;
use levigate_assess::blends::BlendsError;
use levigate_measure::Outcome;
use levigate_measure::experiment::MixtureError;
use rust_decimal::Decimal;
use rust_decimal::prelude::{FromPrimitive as _, ToPrimitive as _};

/// Decimals of the level of a setting on the sheet.
const SETTING_DECIMALS: u32 = 6;
/// How often the step of a grid is halved at most.
const MOST_HALVINGS: u32 = 12;
/// Blends of a grid that are worth choosing from, and as many as are still quickly chosen from.
const FEWEST_BLENDS: f64 = 12.0;
const MOST_BLENDS: f64 = 3000.0;
/// The nearest binary number of one as typed; nought where it is none.
pub(super) fn nearest(number: Option<&TypedNumber>) -> f64 {
    number.and_then(|it| it.value).and_then(|value| value.to_f64()).unwrap_or(0.0)
}

/// Step of the grid that runs are chosen from, percent of the product: a twentieth of what the parts make together, and finer where they move
/// little of that, so that the narrowest has some levels between its ends.
pub(super) fn step_of(parts: &[ExperimentPart], total: f64) -> f64 {
    let mut widths: Vec<f64> =
        parts.iter().map(|part| nearest(Some(&part.most)) - nearest(Some(&part.least))).collect();
    widths.sort_by(f64::total_cmp);
    // What the widest takes follows from the others.
    widths.pop();
    let narrowest = widths.iter().copied().find(|width| *width > 0.0).unwrap_or(total);
    let blends = |step: f64| widths.iter().map(|width| (width / step).floor() + 1.0).product::<f64>();
    let mut step = total / 20.0;
    for _ in 0..MOST_HALVINGS {
        let coarse = narrowest / step < 4.0 || blends(step) < FEWEST_BLENDS;
        if !coarse || blends(0.5 * step) > MOST_BLENDS {
            break;
        }
        step *= 0.5;
    }
    step
}

pub(super) fn unchosen(error: &BlendsError, parts: &[ExperimentPart]) -> KeepError {
    let told = refused("experiment", "", error);
    let told = told.first().map_or(("no runs can be chosen", ""), |one| (&one.what, &one.what_now));
    let without_room = match error {
        BlendsError::Region(MixtureError::NoRoom { part, .. }) => {
            part.checked_sub(1).and_then(|at| parts.get(at))
        }
        _ => None,
    };
    let what = without_room.map_or_else(
        || told.0.to_owned(),
        |part| {
            let (least, most) = (&part.least.typed, &part.most.typed);
            format!(
                "{}: no blend keeps its {least} to {most} % beside the least and most of the others",
                part.name
            )
        },
    );
    FieldFault::new("parts", &what, "runs are chosen within the least and most of all parts", told.1).into()
}

/// A run as it stands on the sheet: percents that make together what they should, to the last digit.
pub(super) fn planned(run: &levigate_assess::blends::Run, total: Decimal) -> ExperimentRun {
    let mut percent = rounded(&run.percent.iter().map(|one| one.value.unwrap_or(0.0)).collect::<Vec<_>>());
    let left = total - percent.iter().sum::<Decimal>();
    if let Some(largest) = percent.iter_mut().max() {
        *largest += left;
    }
    let level = |one: &Outcome| {
        one.value.and_then(Decimal::from_f64).unwrap_or_default().round_dp(SETTING_DECIMALS).normalize()
    };
    ExperimentRun {
        number: u32::try_from(run.number).unwrap_or(u32::MAX),
        block: run.block.and_then(|block| u32::try_from(block).ok()),
        percent,
        settings: run.settings.iter().map(level).collect(),
    }
}
