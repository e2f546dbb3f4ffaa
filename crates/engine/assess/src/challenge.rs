//! A challenge test answered: the criteria of standards side by side, and how fast each organism dies.

use levigate_measure::{Grade, Note, Outcome};
use levigate_process::killing::{Survivors, killing};
use levigate_rules::challenge::{Count, Criterion, Judged, Neutraliser, Series, judge};
use serde::Serialize;

/// Coverage of the limits of a time for one tenth.
const COVERAGE: f64 = 0.95;
/// Distance from the line, in decades, from which it is said to bend.
const BENT: f64 = 0.5;

/// A test.
#[derive(Clone, Debug, PartialEq)]
pub struct Test {
    /// What was tested, in words.
    pub title: String,
    /// Unit of the counts: CFU/g or CFU/mL.
    pub unit: String,
    /// Organisms.
    pub series: Vec<Series>,
    /// Whether the neutraliser was shown to work.
    pub neutraliser: Option<Neutraliser>,
}

/// How fast an organism dies.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Dying {
    /// Organism.
    pub organism: String,
    /// Hours for one tenth to survive.
    pub d: Outcome,
}

/// A test, answered.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ChallengeReading {
    /// What was tested.
    pub title: String,
    /// Criteria, in the order of their keys.
    pub criteria: Vec<Judged>,
    /// How fast each organism dies.
    pub dying: Vec<Dying>,
    /// What must be known.
    pub notes: Vec<Note>,
}

/// Answers a test by criteria.
#[must_use]
pub fn challenge<'c>(test: &Test, criteria: impl IntoIterator<Item = &'c Criterion>) -> ChallengeReading {
    ChallengeReading {
        title: test.title.clone(),
        criteria: criteria
            .into_iter()
            .map(|criterion| judge(criterion, &test.series, test.neutraliser))
            .collect(),
        dying: test.series.iter().map(dying).collect(),
        notes: vec![Note::new(
            "these-data",
            "A verdict speaks of these counts of this sample, its pH and its age: send the worst pH of the window, and an aged sample. \
             Whether a product is preserved is for the person who signs its assessment.",
        )],
    }
}

fn dying(one: &Series) -> Dying {
    let method = "straight line through the logarithms of the survivors, counts below their floor as such";
    let mut points = vec![Survivors { hours: 0.0, log: log(one.initial), below: false }];
    points.extend(one.counts.iter().map(|(day, count)| match count {
        Count::Found(value) => Survivors { hours: 24.0 * f64::from(*day), log: log(*value), below: false },
        Count::Below(floor) => Survivors { hours: 24.0 * f64::from(*day), log: log(*floor), below: true },
    }));
    let d = match killing(&points, COVERAGE) {
        Ok(line) => {
            let outcome = Outcome::new(line.d_hours, "h", Grade::Calibrated, method)
                .by("log10 N = a - t/D")
                .proved_by("tests/cross/killing.toml")
                .source("orth-enigl-1993")
                .input("counts found, the start among them", number(line.found), "", None)
                .input("counts below their floor", number(line.below), "", None)
                .term("largest distance from the line", line.largest, "log10");
            let outcome = match line.within {
                Some((low, high)) => outcome.within(low, high.unwrap_or(f64::INFINITY), Some(COVERAGE)),
                None => outcome.note("two-counts", "two counts give a line without an interval"),
            };
            if line.largest > BENT {
                outcome.note("bent", "counts lie more than half a decade from the line: the curve has a shoulder or a tail, and one number misleads")
            } else {
                outcome
            }
        }
        Err(error) => Outcome::refuse("h", method, format!("{error}; {}", error.hint())),
    };
    Dying { organism: one.organism.clone(), d }
}

fn log(value: f64) -> f64 {
    use levigate_measure::elementary::Elementary as _;
    value.log_10()
}

fn number(count: usize) -> f64 {
    #[expect(clippy::cast_precision_loss, reason = "a handful of counts")]
    let value = count as f64;
    value
}
