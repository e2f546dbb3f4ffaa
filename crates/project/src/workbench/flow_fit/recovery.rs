//! The recovery after a strong shear: laws fitted to readings over time, and what they say.

use super::gathering::{Gathered, gathered_over_time};
use super::report::is_one;
use super::{PROOF_RECOVERY, ParameterReading, Trouble, parameter_reading};
use crate::flow_table::{Held, Meaning, MeasuredRecovery};
use levigate_measure::{Grade, Outcome};
use levigate_process::flow::thixotropy::{Before, Followed, Recovery, RecoveryLaw, recoveries, recovery};
use serde::Serialize;

/// A recovery with the laws fitted to it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RecoveryFit {
    /// What tells it from the others of the file.
    pub name: String,
    /// Name of the sample, where the file says one.
    pub sample: String,
    /// Temperature, C, where the file says one.
    pub temperature_c: Option<f64>,
    /// What its two columns hold: the time, and the viscosity, stress or reading.
    pub meanings: [Meaning; 2],
    /// Shear rate or speed it was read at.
    pub at: Outcome,
    /// Shear rate or speed of the strong shear before it.
    pub strong: Outcome,
    /// Readings after the strong shear.
    pub measured: usize,
    /// How many readings were gathered into fewer, and how, in words.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub gathered: Option<String>,
    /// The readings fitted, by rising time.
    pub points: Vec<TimedReading>,
    /// Laws fitted, the one taken first.
    pub laws: Vec<LawReading>,
    /// The law to take and why.
    pub taken: Option<LawTaken>,
    /// Viscosity in the end.
    pub in_the_end: Outcome,
    /// Time constant of the law.
    pub time_constant: Outcome,
    /// Time to nine tenths of the way back.
    pub nine_tenths: Outcome,
    /// Share of the way back at the last reading.
    pub reached: Outcome,
    /// Viscosity before the strong shear.
    pub before: Outcome,
    /// Viscosity at the last reading over that before the strong shear.
    pub share_of_before: Outcome,
    /// Why it could not be fitted.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub trouble: Option<Trouble>,
}

/// A reading over time as fitted.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TimedReading {
    /// Line of the file, from 1; of the first, where several were gathered.
    pub line: usize,
    /// Time from the end of the strong shear, s.
    pub time_s: f64,
    /// Viscosity, Pa s.
    pub viscosity: f64,
    /// Readings it stands for.
    #[serde(skip_serializing_if = "is_one")]
    pub count: usize,
}

/// A fitted law.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LawReading {
    /// The law.
    pub law: RecoveryLaw,
    /// Its name for people.
    pub name: &'static str,
    /// Its constants.
    pub parameters: Vec<ParameterReading>,
    /// Corrected Akaike criterion; absent where the readings do not suffice.
    pub aicc: Option<f64>,
    /// Root of the mean square of the residuals.
    pub root_mean_square: f64,
    /// Residuals ln(law / reading), in the order of the points.
    pub residuals: Vec<f64>,
    /// Viscosities of the law at the points, Pa s.
    pub fitted_viscosity: Vec<f64>,
    /// Readings that stand apart, by their place in `points`, from 0.
    pub outliers: Vec<usize>,
}

/// The law to take.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LawTaken {
    /// The law.
    pub law: RecoveryLaw,
    /// Its name for people.
    pub name: &'static str,
    /// Why, in words.
    pub why: String,
    /// What the readings do not settle about it, in words.
    pub not_settled: Vec<String>,
}

/// The word a law is called by on the command line and in JSON.
#[must_use]
pub fn law_word(law: RecoveryLaw) -> String {
    serde_json::to_value(law).ok().and_then(|word| word.as_str().map(str::to_owned)).unwrap_or_default()
}

const METHOD: &str = "law of recovery taken";
const NO_LAW: &str = "no law was fitted";

fn held(held: Option<Held>, why: &str) -> Outcome {
    let method = "as measured";
    match held {
        Some(held) => Outcome::new(held.value, held.unit, Grade::Measured, method),
        None => Outcome::refuse("1/s", method, why.to_owned()),
    }
}

fn refused(unit: &'static str, why: &str) -> Outcome {
    Outcome::refuse(unit, METHOD, why.to_owned())
}

/// Fits one recovery: the law asked for, or both.
pub(crate) fn recovered(measured: MeasuredRecovery, law: Option<RecoveryLaw>) -> RecoveryFit {
    let count = measured.points.len();
    let mut points = measured.points;
    points.sort_by(|a, b| a.time_s.total_cmp(&b.time_s));
    let Gathered { points, words: gathered } = gathered_over_time(points);
    let before = Before::of(&measured.before);
    let mut reading = RecoveryFit {
        name: measured.name,
        sample: measured.sample,
        temperature_c: measured.temperature_c,
        meanings: measured.meanings,
        at: held(measured.at, "the file does not say at which shear rate it was read"),
        strong: held(measured.strong, "the file does not hold the strong shear"),
        measured: count,
        gathered,
        points,
        laws: Vec::new(),
        taken: None,
        in_the_end: refused("Pa s", NO_LAW),
        time_constant: refused("s", NO_LAW),
        nine_tenths: refused("s", NO_LAW),
        reached: refused("", NO_LAW),
        before: before_outcome(before.as_ref()),
        share_of_before: refused("", NO_LAW),
        trouble: None,
    };
    let pairs: Vec<(f64, f64)> = reading.points.iter().map(|point| (point.time_s, point.viscosity)).collect();
    let found = match law {
        None => recoveries(&pairs),
        Some(law) => recovery(&pairs, law).map(|found| vec![found]),
    };
    match found {
        Ok(found) => told(&mut reading, &found, before.as_ref(), law.is_some()),
        Err(error) => {
            reading.trouble = Some(Trouble { what: error.to_string(), what_now: error.hint().to_owned() });
        }
    }
    reading
}

fn before_outcome(before: Option<&Before>) -> Outcome {
    let Some(before) = before else {
        return refused("Pa s", "the file holds no readings before the strong shear");
    };
    let outcome = Outcome::new(
        before.viscosity_pa_s,
        "Pa s",
        Grade::Measured,
        "geometric mean of the later half of the readings before the strong shear",
    );
    match before.limits() {
        Some([low, high]) => outcome.within(low, high, Some(0.95)),
        None => outcome,
    }
}

fn told(reading: &mut RecoveryFit, found: &[Recovery], before: Option<&Before>, asked: bool) {
    let Some(taken) = found.first() else { return };
    reading.taken = Some(law_taken(found, asked));
    reading.laws = found.iter().map(|found| law_reading(found, reading)).collect();
    let named = |place: usize, unit: &'static str| match taken.parameters.get(place) {
        None => refused(unit, NO_LAW),
        Some(parameter) => match &parameter.not_settled {
            Some(why) => refused(unit, why),
            None => parameter_reading(parameter, PROOF_RECOVERY).estimate,
        },
    };
    reading.in_the_end = named(1, "Pa s");
    reading.time_constant = named(2, "s");
    reading.nine_tenths = match &reading.time_constant.refused {
        Some(why) => refused("s", why),
        None => followed(
            taken.nine_tenths_s,
            "s",
            "time to nine tenths of the way back",
            "t = tau (ln 10)^(1 / b)",
        ),
    };
    reading.reached =
        followed(taken.reached, "", "share of the way back at the last reading", "1 - exp(-(t / tau)^b)")
            .input("last reading", taken.window_s[1], "s", None);
    reading.share_of_before = match before {
        None => refused("", "the file holds no readings before the strong shear"),
        Some(before) => followed(
            taken.share_of(before),
            "",
            "viscosity at the last reading over that before the strong shear",
            "eta(t) / eta_before",
        )
        .input("last reading", taken.window_s[1], "s", None)
        .input("viscosity before", before.viscosity_pa_s, "Pa s", None),
    };
}

fn followed(followed: Followed, unit: &'static str, method: &'static str, equation: &'static str) -> Outcome {
    let outcome =
        Outcome::new(followed.value, unit, Grade::Calibrated, method).by(equation).proved_by(PROOF_RECOVERY);
    match followed.limits {
        Some([low, high]) => outcome.within(low, high, Some(0.95)),
        None => outcome,
    }
}

fn law_taken(found: &[Recovery], asked: bool) -> LawTaken {
    let taken = &found[0];
    let why = if asked {
        "it was asked for".to_owned()
    } else {
        match (taken.law, found.get(1)) {
            (_, None) => "the other law found no fit".to_owned(),
            (RecoveryLaw::Stretched, _) => {
                "its corrected Akaike criterion is lower by more than 2: one time constant does not describe the readings".to_owned()
            }
            (RecoveryLaw::FirstOrder, _) => {
                "the stretched law does not lower the corrected Akaike criterion by more than 2, and it has one constant more".to_owned()
            }
        }
    };
    let not_settled = taken.parameters.iter().filter_map(|parameter| {
        let why = parameter.not_settled.as_ref()?;
        Some(format!("{} ({}): {why}", parameter.words, parameter.symbol))
    });
    LawTaken { law: taken.law, name: taken.law.words(), why, not_settled: not_settled.collect() }
}

fn law_reading(found: &Recovery, reading: &RecoveryFit) -> LawReading {
    LawReading {
        law: found.law,
        name: found.law.words(),
        parameters: found.parameters.iter().map(|one| parameter_reading(one, PROOF_RECOVERY)).collect(),
        aicc: found.aicc,
        root_mean_square: found.root_mean_square,
        residuals: found.residuals.clone(),
        fitted_viscosity: reading.points.iter().map(|point| found.viscosity(point.time_s)).collect(),
        outliers: found.outliers.clone(),
    }
}
