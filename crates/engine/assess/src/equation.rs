//! A typed equation fitted to data: parameters with their intervals, what the data do not settle, rows that stand apart.

use levigate_measure::distribution::{Confidence, Sides};
use levigate_measure::equation::{Equation, Found, Refused, fit, profile};
use levigate_measure::experiment::analysis::{apart, chance};
use levigate_measure::{Grade, Note, Outcome};
use serde::Serialize;

/// Typed equations against the reference sets of NIST.
const PROOF: &str = "tests/published/nist_strd.toml";
/// Profiles by another program.
const CROSS: &str = "tests/cross/profile.toml";
/// Parameters that move together more than this hang on each other.
const TOGETHER: f64 = 0.98;
/// A condition beyond this leaves few digits.
const STRAINED: f64 = 1e7;
/// Below this chance a row stands apart.
const LEVEL: f64 = 0.05;

/// What is asked.
#[derive(Clone, Debug, PartialEq)]
pub struct Asked {
    /// What it is about, in words.
    pub title: String,
    /// The equation as typed.
    pub text: String,
    /// The equation.
    pub equation: Equation,
    /// Names of the columns.
    pub columns: Vec<String>,
    /// Parameters with their starting values.
    pub parameters: Vec<(String, f64)>,
    /// Rows with a value in every column the equation reads, and their numbers.
    pub rows: Vec<(usize, Vec<f64>)>,
    /// Probability that limits hold.
    pub confidence: f64,
    /// Whether the limits are sought along the profile too.
    pub profile: bool,
    /// What the reader of the data has to say.
    pub notes: Vec<Note>,
}

/// A parameter.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ParameterReading {
    /// Name.
    pub name: String,
    /// Where the search began; absent where the equation was solved at once.
    pub start: Option<Outcome>,
    /// Value with the limits that follow from its standard error.
    pub value: Outcome,
    /// Standard error.
    pub error: Outcome,
    /// Value with the limits of its profile, where that was asked for.
    pub profile: Option<Outcome>,
}

/// Two parameters that hang on each other.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Pair {
    /// One.
    pub one: String,
    /// The other.
    pub other: String,
    /// Correlation of their errors.
    pub together: Outcome,
}

/// A row against the equation.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RowReading {
    /// Number of the row, from one.
    pub number: usize,
    /// What was observed, as it stands to the left.
    pub observed: Outcome,
    /// What the equation says.
    pub fitted: Outcome,
    /// The difference.
    pub residual: Outcome,
    /// The difference by the scatter of the others.
    pub apart: Outcome,
    /// Whether it stands apart by more than chance.
    pub stands_apart: bool,
}

/// A fitted equation.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct EquationReading {
    /// What it is about.
    pub title: String,
    /// The equation as typed.
    pub equation: String,
    /// Whether it is straight in its parameters and was solved at once.
    pub solved_at_once: bool,
    /// Parameters.
    pub parameters: Vec<ParameterReading>,
    /// Pairs of parameters that hang on each other.
    pub pairs: Vec<Pair>,
    /// Sum of the squared residuals.
    pub residual_sum: Outcome,
    /// Standard deviation of one row about the equation.
    pub scatter: Outcome,
    /// Share of the spread about the mean that is explained.
    pub explained: Outcome,
    /// Condition of the derivatives.
    pub condition: Option<Outcome>,
    /// Evaluations of the search.
    pub evaluations: Option<Outcome>,
    /// Rows.
    pub rows: Vec<RowReading>,
    /// What must be known.
    pub notes: Vec<Note>,
}

fn computed(value: Option<f64>, method: &'static str, why_not: &str) -> Outcome {
    value.filter(|value| value.is_finite()).map_or_else(
        || Outcome::refuse("", method, why_not),
        |value| Outcome::new(value, "", Grade::Computed, method).proved_by(PROOF),
    )
}

/// Fits.
///
/// # Errors
/// [`Refused`]; rows are numbered among those that are fitted.
pub fn equation(asked: &Asked) -> Result<EquationReading, Refused> {
    let rows: Vec<Vec<f64>> = asked.rows.iter().map(|(_, row)| row.clone()).collect();
    let start: Vec<f64> = asked.parameters.iter().map(|(_, start)| *start).collect();
    let found = fit(&asked.equation, &rows, &start)?;
    let factor = Confidence::new(asked.confidence, Sides::Two)
        .map_or(f64::NAN, |confidence| confidence.factor(found.degrees));
    let unsettled = "the data do not settle it: another parameter can take its place";
    let nothing_left = "as many rows as parameters: nothing is left to tell the scatter by";
    let why_not = if found.degrees == 0 { nothing_left } else { unsettled };
    let at_once = found.evaluations.is_none();
    let parameters = asked
        .parameters
        .iter()
        .enumerate()
        .map(|(at, (name, start))| {
            let (value, error) = (found.parameters[at], found.error(at));
            let half = factor * error.unwrap_or(f64::NAN);
            let method = if at_once { "linear least squares" } else { "least squares from a start" };
            let of = |method: &'static str| Outcome::new(value, "", Grade::Calibrated, method);
            let mut outcome = of(method)
                .within(value - half, value + half, half.is_finite().then_some(asked.confidence))
                .proved_by(PROOF);
            if error.is_none() && found.degrees > 0 {
                outcome = outcome.note("not-settled", format!("{name} is not settled by these data."));
            }
            ParameterReading {
                name: name.clone(),
                start: (!at_once).then(|| Outcome::new(*start, "", Grade::Measured, "as typed")),
                value: outcome,
                error: computed(error, "standard error", why_not),
                profile: asked.profile.then(|| {
                    // Where the equation is straight both ways of asking give the same limits.
                    let ends = if at_once {
                        [value - half, value + half].map(Some)
                    } else {
                        profile(&asked.equation, &rows, &found, at, factor)
                    };
                    let [low, high] = ends.map(|end| end.unwrap_or(f64::NAN));
                    let coverage = (low.is_finite() || high.is_finite()).then_some(asked.confidence);
                    let mut outcome =
                        of("limits where the best sum of squares has risen as far as chance lets it")
                            .within(low, high, coverage)
                            .proved_by(CROSS);
                    if !(low.is_finite() && high.is_finite()) {
                        outcome = outcome.note(
                            "open",
                            format!("The interval of {name} is open: the data do not bound it."),
                        );
                    }
                    outcome
                }),
            }
        })
        .collect();
    Ok(EquationReading {
        title: asked.title.clone(),
        equation: asked.text.clone(),
        solved_at_once: at_once,
        parameters,
        pairs: pairs(asked, &found),
        residual_sum: computed(Some(found.residual_sum), "sum of the squared residuals", ""),
        scatter: computed(
            found.variance().map(f64::sqrt),
            "standard deviation of one row about the equation",
            nothing_left,
        ),
        explained: computed(
            (found.total_sum > 0.0).then(|| 1.0 - found.residual_sum / found.total_sum),
            "share of the spread about the mean that is explained",
            "all rows gave the same",
        ),
        condition: (!at_once).then(|| {
            computed(
                found.condition,
                "condition of the derivatives, every parameter in its own size",
                unsettled,
            )
        }),
        evaluations: found
            .evaluations
            .map(|count| Outcome::new(number(count), "", Grade::Computed, "evaluations of the search")),
        rows: rows_of(asked, &found),
        notes: notes(asked, &found),
    })
}

fn pairs(asked: &Asked, found: &Found) -> Vec<Pair> {
    let count = asked.parameters.len();
    let mut pairs = Vec::new();
    for one in 0..count {
        for other in one + 1..count {
            if let Some(together) = found.together(one, other).filter(|together| together.abs() >= TOGETHER) {
                pairs.push(Pair {
                    one: asked.parameters[one].0.clone(),
                    other: asked.parameters[other].0.clone(),
                    together: computed(Some(together), "correlation of the errors of two parameters", ""),
                });
            }
        }
    }
    pairs
}

fn rows_of(asked: &Asked, found: &Found) -> Vec<RowReading> {
    let of = |at: usize| apart(found.residuals[at], found.leverages[at], found.residual_sum, found.degrees);
    asked
        .rows
        .iter()
        .enumerate()
        .map(|(at, (number, _))| {
            let (observed, residual) = (found.observed[at], found.residuals[at]);
            let own = of(at);
            RowReading {
                number: *number,
                observed: Outcome::new(observed, "", Grade::Measured, "what stands to the left"),
                fitted: computed(Some(observed - residual), "what the equation says", ""),
                residual: computed(Some(residual), "observed less equation", ""),
                apart: computed(
                    own,
                    "residual by the scatter of the other rows",
                    "nothing tells the scatter of the others",
                ),
                stands_apart: own.is_some_and(|own| chance(own, asked.rows.len(), found.degrees) < LEVEL),
            }
        })
        .collect()
}

fn notes(asked: &Asked, found: &Found) -> Vec<Note> {
    let mut notes = asked.notes.clone();
    let unsettled = found.error(0).is_none() && found.degrees > 0;
    if unsettled {
        notes.push(Note::new(
            "not-settled",
            "The data do not settle the parameters one by one: several sets of them fit alike. Take one away, hold one at a known value, or measure where they differ.",
        ));
    }
    for Pair { one, other, together } in pairs(asked, found) {
        notes.push(Note::new(
            "together",
            format!(
                "{one} and {other} hang on each other (correlation {:.3}): an error of one is made up by the other, so that neither is known as well as it looks. The curve may be.",
                together.value.unwrap_or_default()
            ),
        ));
    }
    if found.condition.is_some_and(|condition| condition > STRAINED) && !unsettled {
        notes.push(Note::new(
            "strained",
            "Small changes of the data change the parameters much: fewer digits hold than are shown.",
        ));
    }
    if asked.equation.plain_log {
        notes.push(Note::new(
            "log",
            "log was read as the natural logarithm; write log10 for the decimal one.",
        ));
    }
    if found.evaluations.is_some() {
        notes.push(Note::new(
            "start",
            "A search from a start ends in the nearest valley: try another start, and see whether it ends in the same place.",
        ));
        notes.push(Note::new(
            "limits",
            "The limits take the equation as straight near the solution; along the profile they need not be the same on both sides.",
        ));
    }
    notes
}

fn number(count: usize) -> f64 {
    #[expect(clippy::cast_precision_loss, reason = "counts of evaluations")]
    let value = count as f64;
    value
}
