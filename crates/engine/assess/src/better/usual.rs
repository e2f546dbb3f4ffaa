//! The readings that are looked at whatever is asked.

use crate::reading::Assessment;
use levigate_measure::Outcome;
use serde::Serialize;

/// A reading with its name.
#[derive(Clone, Debug, Serialize)]
pub struct NamedReading {
    /// Name.
    pub name: &'static str,
    /// Reading.
    pub reading: Outcome,
}

/// pH, viscosity, cost, natural origin and osmolality of an assessment.
pub(crate) fn usual(assessment: &Assessment) -> Vec<NamedReading> {
    let of = |name: &'static str, reading: &Outcome| NamedReading { name, reading: reading.clone() };
    vec![
        of("pH", &assessment.ph.neat),
        of("viscosity", &assessment.flow.at_brief),
        of("cost", &assessment.rules.cost.per_kg),
        of("natural origin", &assessment.rules.natural.with_water),
        of("osmolality", &assessment.ph.osmolality),
    ]
}
