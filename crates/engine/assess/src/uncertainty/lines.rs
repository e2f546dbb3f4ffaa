//! Every line as a share of the batch: its interval, and how often it keeps within its tolerance.

use super::balances::Balances;
use super::reading::LineUncertainty;
use super::sources::weighing_names;
use super::{Ask, BatchError};
use crate::assess::Assessed;
use levigate_measure::uncertainty::Scatter;
use levigate_measure::uncertainty::shares::{Part, Spread, shares};

/// A line on its way to the balance.
#[derive(Clone, Debug)]
pub(super) struct Weighed {
    /// Line of the sheet.
    pub(super) line: usize,
    pub(super) part: Part,
}

/// Lines with something in them as parts of the batch, their tolerances as aims.
pub(super) fn parts(
    assessed: &Assessed<'_>,
    masses: &[f64],
    scatter: impl Fn(usize, f64) -> Scatter,
) -> Vec<Weighed> {
    let names = weighing_names(assessed);
    let lines = assessed.composition.lines.iter().zip(masses).zip(names);
    lines
        .filter(|((_, mass), _)| **mass > 0.0)
        .map(|((line, mass), name)| {
            let tolerance = tolerance(assessed, line.line);
            // The share that is meant; buoyancy may put the masses a little off it.
            let share = line.percent / 100.0;
            Weighed {
                line: line.line,
                part: Part {
                    name,
                    value: *mass,
                    scatter: scatter(line.line, *mass),
                    aim: tolerance.map(|tolerance| [share * (1.0 - tolerance), share * (1.0 + tolerance)]),
                },
            }
        })
        .collect()
}

/// Relative tolerance of a line.
pub(super) fn tolerance(assessed: &Assessed<'_>, line: usize) -> Option<f64> {
    let weighing = assessed.assessment.weighing.as_ref()?;
    let own = weighing.lines.iter().find(|one| one.line == line)?;
    Some(own.tolerance_percent / 100.0).filter(|tolerance| *tolerance > 0.0)
}

/// Relative standard uncertainty of the share of a part by the law of propagation:
/// `(u(w)/w)^2 = (1 - w)^2 (u_i/m_i)^2 + sum over the others (u_j/B)^2`.
pub(super) fn relative(parts: &[Weighed], place: usize) -> f64 {
    let total: f64 = parts.iter().map(|one| one.part.value).sum();
    let mut variance = 0.0;
    for (other, one) in parts.iter().enumerate() {
        let u = one.part.scatter.standard_deviation();
        let slope = if other == place { 1.0 / one.part.value - 1.0 / total } else { 1.0 / total };
        variance += slope * slope * u * u;
    }
    variance.sqrt()
}

/// Draws the shares.
pub(super) fn drawn(parts: &[Weighed], ask: &Ask<'_>) -> Result<Vec<Spread>, BatchError> {
    let parts: Vec<Part> = parts.iter().map(|one| one.part.clone()).collect();
    Ok(shares(&parts, ask.draws, ask.coverage, ask.seed)?)
}

/// Tells every line of the batch.
pub(super) fn weighed(
    ask: &Ask<'_>,
    assessed: &Assessed<'_>,
    balances: &Balances<'_>,
    (masses, readings): (&[f64], &[f64]),
) -> Result<Vec<LineUncertainty>, BatchError> {
    let parts = parts(assessed, masses, |line, grams| balances.scatter(line, grams));
    let spreads = drawn(&parts, ask)?;
    let lines = parts.iter().zip(&spreads).enumerate();
    Ok(lines
        .map(|(place, (one, spread))| {
            let at = one.line_place(assessed);
            let balance = balances.of_line(one.line, readings[at]);
            let material = assessed.settled.materials[at];
            let name = material.name.clone();
            let substances = &ask.inquiry.known.library.substances;
            let assay_of = material.active.as_ref().and_then(|key| substances.get(key));
            let told = LineUncertainty::of(
                ask,
                one,
                (name, readings[at]),
                (balance, balances.portions(one.line)),
                relative(&parts, place),
                spread,
                tolerance(assessed, one.line),
            );
            LineUncertainty { assay_of: assay_of.map(|one| one.name.clone()), ..told }
        })
        .collect())
}

impl Weighed {
    /// Place of the line among the settled ones.
    pub(super) fn line_place(&self, assessed: &Assessed<'_>) -> usize {
        assessed.composition.lines.iter().position(|line| line.line == self.line).unwrap_or(0)
    }
}
