//! Loss at several temperatures, answered: laws of decay side by side, what they say at the temperature of storage, what they cannot say.

use super::kinetics::{Kinetics, KineticsError, Loss, Order, TwoStep, mean_kinetic_temperature_c, two_step};
use levigate_measure::distribution::{Confidence, Sides};
use levigate_measure::{Grade, Note, Outcome};
use serde::Serialize;

/// Textbook answers, and joint fits of another program.
const PROOF: &str = "tests/cross/kinetics.toml";
/// Share by which a storage temperature may lie outside those measured, in kelvin, before it is said.
const BEYOND_K: f64 = 1.0;

/// What is asked.
#[derive(Clone, Debug, PartialEq)]
pub struct Asked {
    /// What was measured, in words.
    pub attribute: String,
    /// Its unit.
    pub unit: String,
    /// Readings: temperature in C, months, content.
    pub readings: Vec<Loss>,
    /// Law; all three side by side, where it is left out.
    pub order: Option<Order>,
    /// Least content that may be left.
    pub lower: Option<f64>,
    /// Temperatures of storage, C.
    pub store_c: Vec<f64>,
    /// Temperatures that each last equally long in storage, C; empty where none are given.
    pub seasons_c: Vec<f64>,
    /// Probability that the intervals hold.
    pub confidence: f64,
}

/// What a law says at a temperature of storage.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct StoredReading {
    /// Temperature.
    pub temperature: Outcome,
    /// Rate.
    pub rate: Outcome,
    /// Time until the least content is reached; absent where none is given.
    pub time_to_limit: Option<Outcome>,
    /// How many times faster ten kelvin above.
    pub ten_kelvin: Outcome,
}

/// A rate by itself.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct OwnRate {
    /// Temperature.
    pub temperature: Outcome,
    /// Rate, with the start that all share.
    pub rate: Outcome,
    /// Rate in a line of its own with a start of its own.
    pub by_steps: Option<Outcome>,
}

/// A law fitted.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LawReading {
    /// Law.
    pub order: Order,
    /// Content at the start.
    pub start: Outcome,
    /// Activation energy.
    pub energy: Outcome,
    /// The same by two steps.
    pub energy_by_steps: Outcome,
    /// Standard deviation of one reading about the law.
    pub scatter: Outcome,
    /// Probability of such a bend where Arrhenius' law holds; refused with two temperatures.
    pub bend: Outcome,
    /// Rates by themselves.
    pub rates: Vec<OwnRate>,
    /// Storage.
    pub stored: Vec<StoredReading>,
    /// The steady temperature that stands for the seasons; absent without them.
    pub seasons: Option<Outcome>,
}

/// All of it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct DecayReading {
    /// What was measured.
    pub attribute: String,
    /// Laws, the one that scatters least first.
    pub laws: Vec<LawReading>,
    /// What must be known.
    pub notes: Vec<Note>,
}

/// Unit of a rate of a law.
fn unit_of(order: Order, unit: &str) -> String {
    match order {
        Order::Zero => format!("{unit} per month"),
        Order::First => "per month".to_owned(),
        Order::Second => format!("per {unit} and month"),
    }
}

/// Answers.
///
/// # Errors
/// Readings from which no law can be had, with the reason.
pub fn decay(asked: &Asked) -> Result<DecayReading, KineticsError> {
    let Some(confidence) = Confidence::new(asked.confidence, Sides::Two) else {
        return Err(KineticsError::Confidence { share: asked.confidence });
    };
    let orders =
        asked.order.map_or_else(|| vec![Order::Zero, Order::First, Order::Second], |order| vec![order]);
    let mut fits: Vec<Kinetics> =
        orders.into_iter().map(|order| Kinetics::fit(order, &asked.readings)).collect::<Result<_, _>>()?;
    fits.sort_by(|one, other| one.scatter.total_cmp(&other.scatter));
    let laws = fits.iter().map(|fit| law(asked, fit, &confidence)).collect();
    Ok(DecayReading { attribute: asked.attribute.clone(), laws, notes: notes(asked, &fits) })
}

fn fitted(value: f64, unit: impl Into<std::borrow::Cow<'static, str>>, method: &'static str) -> Outcome {
    Outcome::new(value, unit, Grade::Calibrated, method).proved_by(PROOF)
}

fn law(asked: &Asked, fit: &Kinetics, confidence: &Confidence) -> LawReading {
    let factor = confidence.factor(fit.degrees);
    let around = |value: f64, error: f64, unit: String, method: &'static str| {
        fitted(value, unit, method)
            .within(value - factor * error, value + factor * error, Some(confidence.share()))
            .input("degrees of freedom", number(fit.degrees), "", None)
    };
    let steps = two_step(fit.order, &asked.readings);
    LawReading {
        order: fit.order,
        start: around(
            fit.start,
            fit.covariance[0][0].sqrt(),
            asked.unit.clone(),
            "content at the start, all readings together",
        ),
        energy: around(
            1e-3 * fit.energy_j_mol,
            1e-3 * fit.covariance[2][2].sqrt(),
            "kJ/mol".to_owned(),
            "activation energy, all readings together",
        )
        .by("k(T) = k(Tm) exp(-E/R (1/T - 1/Tm))"),
        energy_by_steps: by_steps(&steps, confidence),
        scatter: fitted(fit.scatter, asked.unit.clone(), "standard deviation of one reading about the law"),
        bend: bent(fit),
        rates: own_rates(asked, fit, steps.as_ref().ok()),
        stored: asked.store_c.iter().map(|c| stored(asked, fit, *c, confidence)).collect(),
        seasons: seasons(asked, fit),
    }
}

fn by_steps(steps: &Result<TwoStep, KineticsError>, confidence: &Confidence) -> Outcome {
    let method =
        "activation energy by two steps: a rate per temperature, then a line through their logarithms";
    match steps {
        Ok(steps) => {
            let energy = 1e-3 * steps.energy_j_mol;
            let outcome = fitted(energy, "kJ/mol", method).by("ln k = ln A - E/(R T)");
            match steps.energy_error.map(|error| 1e-3 * error) {
                Some(error) => {
                    let half = confidence.factor(steps.rates.len().saturating_sub(2)) * error;
                    outcome.within(energy - half, energy + half, Some(confidence.share()))
                }
                None => outcome.note("two-temperatures", "a line through two points has no interval"),
            }
        }
        Err(error) => Outcome::refuse("kJ/mol", method, error.to_string()),
    }
}

fn bent(fit: &Kinetics) -> Outcome {
    let method = "do rates of their own at each temperature say more than one activation energy";
    match fit.bend {
        Some(bend) => {
            let outcome = Outcome::new(bend.beyond, "", Grade::Computed, method)
                .by("F = ((R_law - R_own)/(m - 2)) / (R_own/(N - m - 1))")
                .proved_by(PROOF)
                .term("F", bend.ratio, "")
                .input("degrees of the difference", number(bend.above), "", None)
                .input("degrees left", number(bend.below), "", None);
            if bend.beyond < 0.05 {
                outcome.note("bent", "one activation energy does not do: another thing happens at the hot end; do not carry it to storage")
            } else {
                outcome
            }
        }
        None => Outcome::refuse(
            "",
            method,
            "two temperatures always agree with Arrhenius' law: whether it holds cannot be asked of them",
        ),
    }
}

fn own_rates(asked: &Asked, fit: &Kinetics, steps: Option<&TwoStep>) -> Vec<OwnRate> {
    let unit = unit_of(fit.order, &asked.unit);
    fit.rates
        .iter()
        .enumerate()
        .map(|(place, own)| OwnRate {
            temperature: Outcome::new(own.temperature_c, "C", Grade::Measured, "as given"),
            rate: fitted(own.rate, unit.clone(), "rate by itself, the start shared").input(
                "readings",
                number(own.readings),
                "",
                None,
            ),
            by_steps: steps
                .and_then(|steps| steps.rates.get(place))
                .map(|step| fitted(step.rate, unit.clone(), "rate by itself, its own start")),
        })
        .collect()
}

fn stored(asked: &Asked, fit: &Kinetics, temperature_c: f64, confidence: &Confidence) -> StoredReading {
    let (coldest, hottest) =
        asked.readings.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), one| {
            (low.min(one.temperature_c), high.max(one.temperature_c))
        });
    let outside = temperature_c < coldest - BEYOND_K || temperature_c > hottest + BEYOND_K;
    let marked = |outcome: Outcome| {
        let outcome = outcome.input("temperature", temperature_c, "C", None);
        if outside {
            outcome.note("extrapolated", format!("outside the temperatures measured, {coldest} to {hottest} C: true only for the same mechanism"))
        } else {
            outcome
        }
    };
    let (low, high) = fit.rate_within(temperature_c, confidence);
    let method = "time until the least content is reached, by the law";
    let time_to_limit = asked.lower.map(|level| match fit.time_to(level, temperature_c, confidence) {
        Some((time, earliest, latest)) => {
            let longest = asked.readings.iter().map(|one| one.time).fold(0.0, f64::max);
            let outcome = fitted(time, "month", method)
                .within(earliest, latest, Some(confidence.share()))
                .input("least content", level, asked.unit.clone(), None);
            let outcome = if time > 2.0 * longest {
                outcome.note("far", format!("{:.1} times as long as anything was measured", time / longest))
            } else {
                outcome
            };
            marked(outcome)
        }
        None => Outcome::refuse("month", method, "the content at the start is not above the least content"),
    });
    StoredReading {
        temperature: Outcome::new(temperature_c, "C", Grade::Measured, "asked"),
        rate: marked(
            fitted(fit.rate(temperature_c), unit_of(fit.order, &asked.unit), "rate by the law")
                .within(low, high, Some(confidence.share()))
                .by("k(T) = k(Tm) exp(-E/R (1/T - 1/Tm))"),
        ),
        time_to_limit,
        ten_kelvin: fitted(
            fit.ten_kelvin_factor(temperature_c),
            "",
            "how many times faster ten kelvin above",
        )
        .proved_by("tests/published/kinetics.toml"),
    }
}

fn seasons(asked: &Asked, fit: &Kinetics) -> Option<Outcome> {
    let method = "steady temperature at which as much is lost as over the temperatures given";
    let mean = (!asked.seasons_c.is_empty())
        .then(|| mean_kinetic_temperature_c(&asked.seasons_c, fit.energy_j_mol))?;
    Some(match mean {
        Some(mean) => Outcome::new(mean, "C", Grade::Calibrated, method)
            .by("T = (E/R)/(-ln mean exp(-E/(R T_i)))")
            .proved_by("tests/published/kinetics.toml")
            .input("activation energy", 1e-3 * fit.energy_j_mol, "kJ/mol", None),
        None => {
            Outcome::refuse("C", method, "the activation energy is not above zero, or a temperature is none")
        }
    })
}

fn notes(asked: &Asked, fits: &[Kinetics]) -> Vec<Note> {
    let mut notes = vec![Note::new(
        "real-time",
        "a forecast from warm storage never stands for real time: texture, colour and microbes do not follow this law",
    )];
    if fits.first().is_some_and(|fit| fit.rates.len() == 2) {
        notes.push(Note::new(
            "two-temperatures",
            "two temperatures: the law is drawn through them, not tested; a third would test it",
        ));
    }
    if let [best, second, ..] = fits
        && second.scatter < 1.1 * best.scatter
    {
        notes.push(Note::new(
            "orders",
            "the laws scatter alike: so little was lost that these data do not choose between them",
        ));
    }
    let deepest = asked.readings.iter().map(|one| one.content).fold(f64::INFINITY, f64::min);
    if fits.first().is_some_and(|fit| deepest > 0.97 * fit.start) {
        notes.push(Note::new(
            "little-lost",
            "less than 3 % was lost anywhere: the rates rest on the scatter of the method",
        ));
    }
    notes
}

fn number(count: usize) -> f64 {
    #[expect(clippy::cast_precision_loss, reason = "counts of readings are far below 2^53")]
    let value = count as f64;
    value
}
