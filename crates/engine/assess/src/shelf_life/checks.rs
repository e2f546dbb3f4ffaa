//! Do readings lie on straight lines, and does one of them stand apart.

use super::{Study, number};
use levigate_measure::distribution::{fisher_beyond, student_beyond};
use levigate_measure::exact::sum_of_squares;
use levigate_measure::regression::mean;
use levigate_measure::{Grade, Outcome};
use levigate_process::stability::{Line, Model};
use serde::Serialize;

/// Probability below which a reading is said to stand apart, after all readings had their chance.
const APART: f64 = 0.05;

/// The reading that lies furthest from its line.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Furthest {
    /// Batch.
    pub batch: String,
    /// When it was read.
    pub months: Outcome,
    /// What was read.
    pub value: Outcome,
    /// Probability that the furthest of so many lies so far by chance.
    pub chance: Outcome,
    /// Whether it stands apart.
    pub apart: bool,
}

/// Numbers a model fits besides the scatter.
fn terms(model: Model, batches: usize) -> usize {
    match model {
        Model::OneLine => 2,
        Model::OneSlope => batches + 1,
        Model::OwnLines => 2 * batches,
    }
}

/// Probability of such a departure from the lines where they are straight, judged by readings repeated at one time.
pub(super) fn lack_of_fit(batches: &[Vec<(f64, f64)>], lines: &[Line], model: Model) -> Outcome {
    let method = "do readings lie off their lines by more than repeated readings differ";
    let mut groups: Vec<(usize, f64, Vec<f64>)> = Vec::new();
    for (batch, readings) in batches.iter().enumerate() {
        for (months, value) in readings {
            match groups.iter_mut().find(|(of, at, _)| *of == batch && at == months) {
                Some((_, _, values)) => values.push(*value),
                None => groups.push((batch, *months, vec![*value])),
            }
        }
    }
    let readings: usize = batches.iter().map(Vec::len).sum();
    let pure_degrees = readings - groups.len();
    let Some(lack_degrees) =
        groups.len().checked_sub(terms(model, batches.len())).filter(|degrees| *degrees > 0)
    else {
        return Outcome::refuse(
            "",
            method,
            "as many times as the lines have numbers: nothing is left to judge by",
        );
    };
    if pure_degrees == 0 {
        return Outcome::refuse(
            "",
            method,
            "no reading was repeated: whether the lines are straight cannot be asked of these data",
        );
    }
    let within = groups.iter().map(|(_, _, values)| {
        let middle = mean(values);
        sum_of_squares(values.iter().map(|value| value - middle))
    });
    let pure: f64 = within.sum();
    let between = groups.iter().map(|(batch, months, values)| {
        let off = mean(values) - lines[*batch].at(*months);
        number(values.len()) * off * off
    });
    let lack: f64 = between.sum();
    let (above, below) = (number(lack_degrees), number(pure_degrees));
    let ratio = (lack / above) / (pure / below);
    let beyond = fisher_beyond(ratio, above, below);
    let outcome = Outcome::new(beyond, "", Grade::Computed, method)
        .by("F = (lack/(m - p)) / (pure/(N - m))")
        .proved_by("tests/cross/shelf_life_checks.toml")
        .term("F", ratio, "")
        .input("degrees of the lack of fit", above, "", None)
        .input("degrees of repetition", below, "", None);
    if beyond < APART {
        outcome.note(
            "bent",
            "the readings do not lie on straight lines: try the logarithm, or look at what happens at first",
        )
    } else {
        outcome
    }
}

/// The reading with the largest residual in its own standard errors, left out of its scatter.
pub(super) fn furthest(study: &Study, batches: &[Vec<(f64, f64)>], lines: &[Line]) -> Option<Furthest> {
    let readings: usize = batches.iter().map(Vec::len).sum();
    let each = batches.iter().enumerate().flat_map(|(batch, readings)| {
        readings.iter().enumerate().map(move |(place, reading)| (batch, place, *reading))
    });
    let (batch, place, t, degrees) = each
        .filter_map(|(batch, place, (months, value))| {
            let line = &lines[batch];
            let away = value - line.at(months);
            let error = line.standard_error(months) / line.scatter;
            let own = 1.0 - error * error;
            let variance = line.scatter * line.scatter;
            let degrees = line.degrees.checked_sub(1).filter(|degrees| *degrees > 0)?;
            let without = (variance * number(line.degrees) - away * away / own) / number(degrees);
            let t = away / (without * own).sqrt();
            (own > 1e-9 && without > 0.0 && t.is_finite()).then_some((batch, place, t.abs(), degrees))
        })
        .max_by(|one, other| one.2.total_cmp(&other.2))?;
    let chance = (2.0 * student_beyond(t, number(degrees)) * number(readings)).min(1.0);
    let (name, given) = &study.batches[batch];
    let (months, value) = given[place];
    let outcome =
        Outcome::new(chance, "", Grade::Computed, "two-sided, times the number of readings (Bonferroni)")
            .by("t = e/(s_(-i) sqrt(1 - h))")
            .proved_by("tests/cross/shelf_life_checks.toml")
            .term("t", t, "")
            .input("degrees of freedom", number(degrees), "", None)
            .input("readings", number(readings), "", None);
    Some(Furthest {
        batch: name.clone(),
        months: Outcome::new(months, "month", Grade::Measured, "as given"),
        value: Outcome::new(value, study.unit.clone(), Grade::Measured, "as given"),
        apart: chance < APART,
        chance: if chance < APART {
            outcome.note(
                "apart",
                "look for a reason before anything is left out; the shelf life is told with it",
            )
        } else {
            outcome
        },
    })
}
