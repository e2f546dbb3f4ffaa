//! A challenge test answered: the criteria of standards side by side, and how fast each organism dies.

use levigate_measure::elementary::Elementary as _;
use levigate_measure::written::{Described, Description, Figure};
use levigate_measure::{Grade, Note, Outcome};
use levigate_process::killing::{Bent, Killing, Survivors, bent, killing};
use levigate_rules::challenge::{Count, Criterion, Judged, Neutraliser, Series, judge};
use serde::Serialize;

/// Coverage of the limits of a time for one tenth.
const COVERAGE: f64 = 0.95;
/// Distance from the line, in decades, from which it is said to bend.
const BENT: f64 = 0.5;

/// Difference of AICc from which one line is said to describe better than the other.
const TOLD_APART: f64 = 2.0;
/// Points of the drawn lines.
const DRAWN: u16 = 57;
/// The cases of the straight line, and of the line with one bend.
const STRAIGHT_PROOF: &str = "tests/cross/killing.toml";
const BENT_PROOF: &str = "tests/cross/killing_shape.toml";

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
    /// Hours for one tenth to survive, by the straight line.
    pub d: Outcome,
    /// Hours for a thousandth to survive, by the straight line.
    pub three_log: Outcome,
    /// The line with one bend beside it.
    pub bend: Bend,
    /// Both lines, drawn to the last count.
    pub drawn: Vec<Drawn>,
}

/// The line with one bend.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Bend {
    /// Shape: above 1 a shoulder, below 1 a tail.
    pub shape: Outcome,
    /// Hours for a thousandth to survive.
    pub three_log: Outcome,
    /// AICc of the straight line less that of this one.
    pub gain: Outcome,
    /// What it says, in words.
    pub words: String,
}

/// A point of the drawn lines: decimal logarithms of the survivors.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Drawn {
    /// Days since the start.
    pub days: Figure,
    /// By the straight line.
    pub straight: Option<Figure>,
    /// By the line with one bend.
    pub bent: Option<Figure>,
}

struct Days;
impl Described for Days {
    const OF: Description = Description::computed("d", "time since the start");
}

struct Straight;
impl Described for Straight {
    const OF: Description =
        Description::computed("log10", "straight line through the logarithms of the survivors")
            .graded(Grade::Calibrated)
            .proved_by(STRAIGHT_PROOF);
}

struct WithBend;
impl Described for WithBend {
    const OF: Description =
        Description::computed("log10", "line with one bend through the logarithms of the survivors")
            .graded(Grade::Calibrated)
            .proved_by(BENT_PROOF);
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
    let mut points = vec![Survivors { hours: 0.0, log: one.initial.log_10(), below: false }];
    points.extend(one.counts.iter().map(|(day, count)| {
        let (value, below) = match count {
            Count::Found(value) => (value, false),
            Count::Below(floor) => (floor, true),
        };
        Survivors { hours: 24.0 * f64::from(*day), log: value.log_10(), below }
    }));
    let (straight, curve) = (killing(&points, COVERAGE), bent(&points, COVERAGE));
    let last_found = points.iter().filter(|point| !point.below).map(|point| point.hours).fold(0.0, f64::max);
    let method = "straight line through the logarithms of the survivors, counts below their floor as such";
    let (d, three_log) = match &straight {
        Ok(line) => (
            of_the_line(line, 1.0, method, "log10 N = a - t/D"),
            beyond(of_the_line(line, 3.0, method, "log10 N = a - t/D; 3 D"), last_found),
        ),
        Err(error) => {
            let refused = || Outcome::refuse("h", method, format!("{error}; {}", error.hint()));
            (refused(), refused())
        }
    };
    Dying {
        organism: one.organism.clone(),
        d,
        three_log,
        bend: bend(&curve, last_found),
        drawn: drawn(straight.ok(), curve.ok(), &points),
    }
}

/// A time by the straight line, so many decades long.
fn of_the_line(line: &Killing, decades: f64, method: &'static str, equation: &'static str) -> Outcome {
    let outcome = Outcome::new(decades * line.d_hours, "h", Grade::Calibrated, method)
        .by(equation)
        .proved_by(STRAIGHT_PROOF)
        .source("orth-enigl-1993")
        .input("counts found, the start among them", number(line.found), "", None)
        .input("counts below their floor", number(line.below), "", None)
        .term("largest distance from the line", line.largest, "log10");
    let outcome = match line.within {
        Some((low, high)) => {
            outcome.within(decades * low, high.map_or(f64::INFINITY, |high| decades * high), Some(COVERAGE))
        }
        None => outcome.note("two-counts", "two counts give a line without an interval"),
    };
    if line.largest > BENT {
        outcome.note("bent", "counts lie more than half a decade from the line: the curve has a shoulder or a tail, and one number misleads")
    } else {
        outcome
    }
}

fn beyond(outcome: Outcome, last_found: f64) -> Outcome {
    if outcome.value.is_some_and(|hours| hours > last_found) {
        outcome.note(
            "beyond-the-counts",
            "this time lies beyond the last count that was found: the line is drawn on",
        )
    } else {
        outcome
    }
}

fn bend(curve: &Result<Bent, levigate_process::killing::KillingError>, last_found: f64) -> Bend {
    let method =
        "line with one bend through the logarithms of the survivors, counts below their floor as such";
    let weighing = "AICc of the straight line less that of the line with one bend";
    let line = match curve {
        Ok(line) => line,
        Err(error) => {
            let refused = |unit: &'static str, method| {
                Outcome::refuse(unit, method, format!("{error}; {}", error.hint()))
            };
            return Bend {
                shape: refused("", method),
                three_log: refused("h", method),
                gain: refused("", weighing),
                words: format!("no bend is told: {error}"),
            };
        }
    };
    let told = |value: f64, unit: &'static str, within: Option<(f64, f64)>| {
        let outcome = Outcome::new(value, unit, Grade::Calibrated, method)
            .by("log10 N = a - 3 (t/T)^p")
            .proved_by(BENT_PROOF)
            .source("mafart-2002")
            .term("deviation of one count about the line", line.scatter, "log10");
        match within {
            Some((low, high)) => outcome.within(low, high, Some(COVERAGE)),
            None => outcome.note("no-interval", "the counts lie on the line: they tell no interval"),
        }
    };
    let gain = match line.gain {
        Some(gain) => Outcome::new(gain, "", Grade::Computed, weighing)
            .by("AICc = 2 k - 2 ln L + 2 k (k + 1)/(n - k - 1)")
            .proved_by(BENT_PROOF)
            .note(
                "above-two",
                "above 2 the bend describes the counts better, below -2 the straight line does",
            ),
        None => Outcome::refuse(
            "",
            weighing,
            "five counts or fewer cannot be weighed: the bend has four parameters",
        ),
    };
    Bend {
        shape: told(line.shape, "", line.shape_within),
        three_log: beyond(told(line.three_log_hours, "h", line.three_log_within), last_found),
        gain,
        words: words(line),
    }
}

/// What the bend says: its form by the limits of the shape, and whether the counts pay for it.
fn words(line: &Bent) -> String {
    let form = match line.shape_within {
        Some((low, _)) if low > 1.0 => "a shoulder: slow at first, faster later",
        Some((_, high)) if high < 1.0 => "a tail: fast at first, the last ones stay",
        _ if line.shape > 1.0 => "a shoulder, if any: the limits of the shape hold the straight line",
        _ => "a tail, if any: the limits of the shape hold the straight line",
    };
    let better = match line.gain {
        Some(gain) if gain > TOLD_APART => "the bend describes the counts better",
        Some(gain) if gain < -TOLD_APART => {
            "so few counts do not pay for a bend: by AICc the straight line is enough"
        }
        Some(_) => "neither line describes the counts better",
        None => "too few counts to weigh one line against the other",
    };
    format!("{form}; {better}")
}

/// Both lines from the start to the last count, at even steps and at every count.
fn drawn(straight: Option<Killing>, curve: Option<Bent>, points: &[Survivors]) -> Vec<Drawn> {
    if straight.is_none() && curve.is_none() {
        return Vec::new();
    }
    let last = points.iter().map(|point| point.hours).fold(0.0, f64::max);
    let even = (0..DRAWN).map(|step| last * f64::from(step) / f64::from(DRAWN - 1));
    let mut hours: Vec<f64> = even.chain(points.iter().map(|point| point.hours)).collect();
    hours.sort_by(f64::total_cmp);
    hours.dedup();
    hours
        .into_iter()
        .map(|hours| Drawn {
            days: Figure::new(hours / 24.0, const { &Days::OF }),
            straight: straight
                .map(|one| Figure::new(one.start - hours / one.d_hours, const { &Straight::OF })),
            bent: curve.map(|one| Figure::new(one.at(hours), const { &WithBend::OF })),
        })
        .collect()
}

fn number(count: usize) -> f64 {
    #[expect(clippy::cast_precision_loss, reason = "a handful of counts")]
    let value = count as f64;
    value
}
