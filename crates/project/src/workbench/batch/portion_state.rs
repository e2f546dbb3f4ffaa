//! How a portion of a line stands.

use super::progress::StepProgress;
use crate::records::PlanLine;
use levigate_measure::written::{Described, Description, result};
use rust_decimal::Decimal;
use serde::Serialize;

/// The case that proves the arithmetic of lines; portions share their target.
const CASE: &str = "exact decimal";

/// Names quantities that follow from plan and entries by sums and shares of decimals.
macro_rules! described {
    ($($name:ident: $unit:literal, $method:literal, $equation:literal;)+) => {
        $(struct $name;
        impl Described for $name {
            const OF: Description = Description::computed($unit, $method).by($equation).proved_by(CASE);
        })+
    };
}
described! {
    Planned: "g", "share of the line that goes in by itself", "t_i";
    Target: "g", "share of the portion in what is left of the target of its line", "t_i (t - in) / sum of what is to come";
    Tolerance: "g", "tolerance of the portion in whole divisions of the balance", "p t_i / 100";
    Actual: "g", "sum of what was weighed for it", "m_i = sum of net weights";
    Missing: "g", "target less what went in", "t_i - m_i";
}

/// A portion of a line as it stands.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PortionState {
    /// Which, from 1.
    pub number: usize,
    /// Of how many.
    pub of: usize,
    /// Target as planned, by which the target of the line is shared among its portions.
    #[serde(serialize_with = "result::<Planned, _, _>")]
    pub planned: Decimal,
    /// Target as it stands now.
    #[serde(serialize_with = "result::<Target, _, _>")]
    pub target: Decimal,
    /// Tolerance, percent of it.
    pub tolerance_percent: Decimal,
    /// Tolerance as it stands now.
    #[serde(serialize_with = "result::<Tolerance, _, _>")]
    pub tolerance: Decimal,
    /// What went in; none before anything did.
    #[serde(serialize_with = "result::<Actual, _, _>")]
    pub actual: Option<Decimal>,
    /// What is still to go in.
    #[serde(serialize_with = "result::<Missing, _, _>")]
    pub missing: Decimal,
}

impl PortionState {
    /// None for a line that goes in at once.
    pub(super) fn of(line: &PlanLine, at: &StepProgress) -> Option<Self> {
        let (portion, amount) = (line.portion.as_ref()?, at.amount?);
        Some(Self {
            number: portion.number,
            of: portion.of,
            planned: line.grams,
            target: amount.target_g,
            tolerance_percent: line.tolerance_percent,
            tolerance: amount.tolerance_g,
            actual: amount.actual_g,
            missing: amount.missing_g(),
        })
    }
}
