//! A stability study answered: which batches may share a line, how long the confidence limit stays within the limits, and what may be stated.
//!
//! The statistics are borrowed from pharmacy (ICH Q1E); nothing binds a cosmetic to them. What is stated is never more than the data carry by
//! the rule of [`levigate_rules::extrapolation`].

mod checks;

use levigate_measure::distribution::{Confidence, Sides};
use levigate_measure::elementary::Elementary as _;
use levigate_measure::written::{Described, Description, Figure};
use levigate_measure::{Grade, Note, Outcome};
use levigate_process::stability::{Batch, Crossing, Limits, Line, Model, Pooling, PoolingError, Test};
use levigate_rules::extrapolation::{Harsher, Reach, reach};
use serde::{Deserialize, Serialize};

/// The published sets and what another program makes of them.
const PROOF: &str = "tests/published/shelf_life.toml";
/// Points of the drawn line.
const DRAWN: u16 = 61;

/// In which scale the attribute is taken to move along a line.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Scale {
    /// As it is.
    #[default]
    Plain,
    /// Its natural logarithm: an equal share is lost in equal times.
    Logarithm,
    /// Its square root.
    SquareRoot,
}

impl Scale {
    /// The words of a file.
    pub const WORDS: [&'static str; 3] = ["plain", "logarithm", "square-root"];

    /// By its word.
    #[must_use]
    pub fn of(word: &str) -> Option<Self> {
        [Self::Plain, Self::Logarithm, Self::SquareRoot]
            .into_iter()
            .zip(Self::WORDS)
            .find(|(_, own)| *own == word)
            .map(|(of, _)| of)
    }

    fn to(self, value: f64) -> f64 {
        match self {
            Self::Plain => value,
            Self::Logarithm => value.log_e(),
            Self::SquareRoot => value.sqrt(),
        }
    }

    fn back(self, value: f64) -> f64 {
        match self {
            Self::Plain => value,
            Self::Logarithm => value.exp_e(),
            // A limit that runs below nothing is nothing.
            Self::SquareRoot => value.max(0.0) * value.max(0.0),
        }
    }
}

/// A study of one attribute at one storage condition.
#[derive(Clone, Debug, PartialEq)]
pub struct Study {
    /// What was measured, in words.
    pub attribute: String,
    /// Its unit.
    pub unit: String,
    /// Where and how it was kept, in words.
    pub condition: String,
    /// Batches: name, readings as months and value.
    pub batches: Vec<(String, Vec<(f64, f64)>)>,
    /// Limits it must keep.
    pub limits: Limits,
    /// Scale in which it moves along a line.
    pub scale: Scale,
    /// Whether it may drift either way, so that both confidence limits count.
    pub either_way: bool,
    /// Probability that the confidence limit holds.
    pub confidence: f64,
    /// Level at which a difference between batches stands.
    pub level: f64,
    /// What is known besides.
    pub harsher: Harsher,
    /// Shelf life somebody would like to state, months.
    pub wanted_months: Option<f64>,
}

/// A difference between batches, tested.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TestReading {
    /// Mean square of the difference over that of the full model.
    pub ratio: Outcome,
    /// Probability of it without a difference.
    pub beyond: Outcome,
    /// Whether the difference stands at the level.
    pub stands: bool,
}

/// A batch of a study.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BatchReading {
    /// Name.
    pub batch: String,
    /// Readings.
    pub readings: Outcome,
    /// Last month measured.
    pub last: Outcome,
    /// What its line says at the start, in the scale of the lines.
    pub start: Outcome,
    /// Change per month, in the scale of the lines.
    pub slope: Outcome,
    /// When the confidence limit leaves the limits.
    pub leaves: Outcome,
    /// The same, were this batch the only one.
    pub leaves_alone: Outcome,
}

/// Whether what is wanted may be stated.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Support {
    /// The data carry it by the rule named.
    Carried,
    /// The confidence limit has left the limits by then.
    LimitLeft,
    /// It reaches further beyond the data than the rule allows.
    BeyondTheData,
}

/// What is wanted, judged.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct WantedReading {
    /// Months wanted.
    pub months: Outcome,
    /// Judgement.
    pub support: Support,
    /// In words.
    pub words: String,
}

/// A point of a drawn line.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Drawn {
    /// Months.
    pub months: Figure,
    /// The line, with its confidence limits.
    pub value: Outcome,
}

/// A study, answered.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ShelfLifeReading {
    /// What was measured.
    pub attribute: String,
    /// Where it was kept.
    pub condition: String,
    /// Scale of the lines.
    pub scale: Scale,
    /// One confidence limit or two.
    pub sides: Sides,
    /// What the batches may share.
    pub model: Model,
    /// Do the slopes differ, given separate heights; absent for one batch.
    pub slopes: Option<TestReading>,
    /// Do the heights differ, given one slope; absent for one batch.
    pub heights: Option<TestReading>,
    /// Batches, in the order given.
    pub batches: Vec<BatchReading>,
    /// Standard deviation of one reading about its line, in the scale of the lines.
    pub scatter: Outcome,
    /// Whether readings lie off a straight line by more than repeated readings differ; refused where none were repeated.
    pub lack_of_fit: Outcome,
    /// The reading that lies furthest from its line.
    pub furthest: Option<checks::Furthest>,
    /// When the confidence limit of the first batch leaves the limits.
    pub leaves: Outcome,
    /// How far beyond the data a shelf life may be stated.
    pub reach: Outcome,
    /// What may be stated: the earlier of the two.
    pub stated: Outcome,
    /// What is wanted, judged.
    pub wanted: Option<WantedReading>,
    /// The line of the batch that leaves first, drawn to its end.
    pub drawn: Vec<Drawn>,
    /// What must be known.
    pub notes: Vec<Note>,
}

struct Months;
impl Described for Months {
    const OF: Description = Description::computed("month", "time since the start");
}

/// Answers a study.
///
/// # Errors
/// Batches that carry no line, each with the batch and what to do.
pub fn shelf_life<'r>(
    study: &Study,
    rows: impl IntoIterator<Item = &'r Reach>,
) -> Result<ShelfLifeReading, PoolingError> {
    let sides = if study.either_way { Sides::Two } else { Sides::One };
    let Some(confidence) = Confidence::new(study.confidence, sides) else {
        return Err(PoolingError::Confidence { share: study.confidence });
    };
    let scaled: Vec<Vec<(f64, f64)>> = study
        .batches
        .iter()
        .map(|(_, readings)| readings.iter().map(|(t, y)| (*t, study.scale.to(*y))).collect())
        .collect();
    let batches: Vec<Batch> = scaled
        .iter()
        .enumerate()
        .map(|(place, readings)| Batch::of(place, readings))
        .collect::<Result<_, _>>()?;
    let pooling = Pooling::of(&batches)?;
    let model = pooling.model(study.level);
    let lines = pooling.lines(model);
    let limits = Limits {
        lower: study.limits.lower.map(|limit| study.scale.to(limit)),
        upper: study.limits.upper.map(|limit| study.scale.to(limit)),
    };
    let crossings: Vec<Crossing> = lines.iter().map(|line| line.leaves(limits, &confidence)).collect();
    let (first, crossing) = earliest(&crossings);
    let last = batches.iter().map(Batch::last).fold(f64::INFINITY, f64::min);
    let reach = reach(rows, study.harsher, last);
    let stated = stated(crossing, &reach, last);
    let readings = study
        .batches
        .iter()
        .zip(&batches)
        .zip(lines.iter().zip(&crossings))
        .map(|(((name, _), batch), (line, crossing))| BatchReading {
            batch: name.clone(),
            readings: Outcome::new(number(batch.count()), "", Grade::Measured, "readings given"),
            last: Outcome::new(batch.last(), "month", Grade::Measured, "last month measured"),
            start: start_of(line, &confidence),
            slope: slope_of(line, &confidence),
            leaves: leaving(*crossing, line, &confidence),
            leaves_alone: alone(batch, limits, &confidence),
        })
        .collect();
    let drawn_to = crossing.months().map_or(2.0 * last, |months| months.max(last) * 1.1).min(5.0 * last);
    Ok(ShelfLifeReading {
        attribute: study.attribute.clone(),
        condition: study.condition.clone(),
        scale: study.scale,
        sides,
        model,
        slopes: pooling
            .slopes()
            .map(|test| tested(test, study.level, "do the slopes differ, given separate heights")),
        heights: pooling
            .heights()
            .map(|test| tested(test, study.level, "do the heights differ, given one slope")),
        batches: readings,
        scatter: Outcome::new(
            lines[first].scatter,
            "",
            Grade::Calibrated,
            "standard deviation of one reading about its line",
        )
        .proved_by(PROOF)
        .source("ich-q1e"),
        lack_of_fit: checks::lack_of_fit(&scaled, &lines, model),
        furthest: checks::furthest(study, &scaled, &lines),
        leaves: leaving(crossing, &lines[first], &confidence),
        wanted: study.wanted_months.map(|wanted| judged(wanted, crossing, &reach, last)),
        reach,
        stated,
        drawn: drawn(&lines[first], (study.scale, &study.unit), drawn_to, &confidence),
        notes: notes(study, &lines[first], model, crossing, last),
    })
}

fn earliest(crossings: &[Crossing]) -> (usize, Crossing) {
    let months = |crossing: &Crossing| crossing.months().unwrap_or(f64::INFINITY);
    let first = (0..crossings.len())
        .min_by(|one, other| months(&crossings[*one]).total_cmp(&months(&crossings[*other])));
    first.map_or((0, Crossing::Never), |place| (place, crossings[place]))
}

fn tested(test: Test, level: f64, method: &'static str) -> TestReading {
    let outcome = |value: f64| {
        Outcome::new(value, "", Grade::Computed, method)
            .by("F = ((R_reduced - R_full)/(k - 1)) / (R_own/(N - 2k))")
            .proved_by(PROOF)
            .source("ich-q1e")
            .input("degrees of the difference", number(test.above), "", None)
            .input("degrees of the full model", number(test.below), "", None)
    };
    TestReading {
        ratio: outcome(test.ratio),
        beyond: outcome(test.beyond).input("level", level, "", None),
        stands: test.beyond < level || test.ratio.is_nan(),
    }
}

fn of_line(
    value: f64,
    unit: &'static str,
    half: f64,
    line: &Line,
    confidence: &Confidence,
    method: &'static str,
) -> Outcome {
    Outcome::new(value, unit, Grade::Calibrated, method)
        .within(value - half, value + half, Some(confidence.both()))
        .by("y = a + b t")
        .proved_by(PROOF)
        .source("ich-q1e")
        .input("degrees of freedom", number(line.degrees), "", None)
}

fn start_of(line: &Line, confidence: &Confidence) -> Outcome {
    let half = confidence.factor(line.degrees) * line.standard_error(0.0);
    of_line(line.intercept, "", half, line, confidence, "the line at the start")
}

fn slope_of(line: &Line, confidence: &Confidence) -> Outcome {
    let half = confidence.factor(line.degrees) * line.slope_error();
    let slope = of_line(line.slope, "per month", half, line, confidence, "slope of the line");
    if line.slope.abs() > half {
        slope
    } else {
        slope.note("no-trend", "no change is told from none; a crossing says how little is known by then")
    }
}

fn leaving(crossing: Crossing, line: &Line, confidence: &Confidence) -> Outcome {
    let method = "first time at which the confidence limit of the line is not within the limits";
    let outcome = match crossing {
        Crossing::Outside => {
            Outcome::refuse("month", method, "the confidence limit lies outside the limits at the start")
        }
        Crossing::At(months) => Outcome::new(months, "month", Grade::Calibrated, method),
        Crossing::Never => Outcome::refuse(
            "month",
            method,
            "the line moves away from the limits, or none is set: it is never left by these data",
        ),
    };
    outcome
        .by("(b^2 - c/S) z^2 + 2 b u z + u^2 - c/n = 0")
        .proved_by(PROOF)
        .source("ich-q1e")
        .input("confidence", confidence.share(), "", None)
        .input("degrees of freedom", number(line.degrees), "", None)
        .input("scatter", line.scatter, "", None)
}

fn alone(batch: &Batch, limits: Limits, confidence: &Confidence) -> Outcome {
    match batch.alone() {
        Some(line) => leaving(line.leaves(limits, confidence), &line, confidence),
        None => {
            Outcome::refuse("month", "this batch by itself", "two readings leave none to tell the scatter by")
        }
    }
}

/// Whole months by which both the confidence limit and the rule still hold.
fn stated(crossing: Crossing, reach: &Outcome, last: f64) -> Outcome {
    let method = "the earlier of the crossing and the reach beyond the data, in whole months";
    let furthest = reach.value.unwrap_or(last);
    let months = match crossing {
        Crossing::Outside => {
            return Outcome::refuse(
                "month",
                method,
                "the confidence limit lies outside the limits at the start: nothing may be stated",
            );
        }
        Crossing::At(months) => months.min(furthest),
        Crossing::Never => furthest,
    };
    let outcome = Outcome::new(months.floor(), "month", Grade::Calibrated, method)
        .proved_by("tests/published/extrapolation.toml")
        .source("ich-q1e")
        .input("reach", furthest, "month", None)
        .input("last month measured by every batch", last, "month", None);
    if months > last {
        outcome.note(
            "extrapolated",
            "beyond the last month measured: true only while nothing new happens; go on measuring",
        )
    } else {
        outcome
    }
}

fn judged(wanted: f64, crossing: Crossing, reach: &Outcome, last: f64) -> WantedReading {
    let furthest = reach.value.unwrap_or(last);
    let leaves = crossing.months().unwrap_or(f64::INFINITY);
    let (support, words) = if leaves < wanted {
        let words = format!(
            "not carried: by {wanted} months the confidence limit has left the limits ({leaves:.1} months)"
        );
        (Support::LimitLeft, words)
    } else if furthest < wanted {
        let words =
            format!("not carried: the data end at {last:.1} months and may be stretched to {furthest:.1}");
        (Support::BeyondTheData, words)
    } else if wanted > last {
        (
            Support::Carried,
            format!("carried by these data under the rule named, beyond the {last:.1} months measured"),
        )
    } else {
        (Support::Carried, "carried by these data, within the months measured".to_owned())
    };
    let months = Outcome::new(wanted, "month", Grade::Measured, "wanted");
    WantedReading { months, support, words }
}

fn drawn(line: &Line, (scale, unit): (Scale, &str), to: f64, confidence: &Confidence) -> Vec<Drawn> {
    (0..DRAWN)
        .map(|step| {
            let months = to * f64::from(step) / f64::from(DRAWN - 1);
            let (low, high) = line.band(months, confidence);
            Drawn {
                months: Figure::new(months, const { &Months::OF }),
                value: Outcome::new(
                    scale.back(line.at(months)),
                    unit.to_owned(),
                    Grade::Calibrated,
                    "mean by the line",
                )
                .within(scale.back(low), scale.back(high), Some(confidence.both()))
                .proved_by(PROOF),
            }
        })
        .collect()
}

fn notes(study: &Study, line: &Line, model: Model, crossing: Crossing, last: f64) -> Vec<Note> {
    let mut notes = vec![Note::new(
        "borrowed",
        "the arithmetic is that of stability studies of medicines; nothing binds a cosmetic to it, and who signs the shelf life decides",
    )];
    if study.batches.len() < 3 {
        notes.push(Note::new(
            "few-batches",
            format!(
                "{} of the three batches the method asks for: how batches differ is not in these data",
                study.batches.len()
            ),
        ));
    }
    if model == Model::OwnLines {
        notes.push(Note::new("own-lines", "the batches do not share a slope: the one that leaves first speaks for all, and why they differ is to be found"));
    }
    if let Some(months) = crossing.months()
        && months > 2.0 * last
    {
        notes.push(Note::new(
            "far",
            format!("the crossing lies {:.1} times as far as the data reach", months / last),
        ));
    }
    if line.degrees < 4 {
        notes.push(Note::new(
            "few-readings",
            "so few readings leave the scatter hardly known: the limits are wide for that reason",
        ));
    }
    notes
}

fn number(count: usize) -> f64 {
    #[expect(clippy::cast_precision_loss, reason = "counts of readings are far below 2^53")]
    let value = count as f64;
    value
}
