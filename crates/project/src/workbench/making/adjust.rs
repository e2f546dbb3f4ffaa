//! The next addition at the beaker.

use super::calibrate::{self, CalibrationReading};
use crate::diagnostic::{Diagnostic, at};
use crate::making_file::adjust::{AdjustFile, Entry, Happened, MethodTyped, Shown, read};
use crate::workbench::assess::{diagnose, facts_for, known};
use levigate_assess::Known;
use levigate_assess::adjusting::{
    Addition, Batch, Bench, Convention, Dosing, Meter, Method, Reading, Report, Setting, Trouble, Window,
};
use levigate_facts::Facts;
use levigate_formula::aqueous::interval::PH_SCALE;
use levigate_formula::library::Material;
use levigate_formula::sheet::PhRead;
use levigate_measure::elementary::Elementary as _;
use levigate_measure::ph_meter::Calibration;
use levigate_measure::weighing::{Balance, BalanceRecord};
use levigate_measure::{Grade, Note, Outcome};
use levigate_process::settling::{Settled, settle};
use rust_decimal::prelude::ToPrimitive;
use serde::Serialize;

/// Last digit of a pH display. A reading is settled where it is within one digit of where it ends: nobody sees it move any more.
const DIGIT: f64 = 0.01;

/// What to do next at the beaker.
#[derive(Clone, Debug, Serialize)]
pub struct AdjustReading {
    /// The advice.
    #[serde(flatten)]
    pub report: Report,
    /// The window, as typed.
    pub window: Outcome,
    /// How it is read.
    pub method: String,
    /// The finished batch, as typed.
    pub batch: Outcome,
    /// Of the q.s. line not in yet.
    pub held_back: Outcome,
    /// The meter; absent where no calibration is given.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub calibration: Option<CalibrationReading>,
    /// Traces: where each reading ends and how long to wait.
    pub settling: Vec<SettlingReading>,
}

/// A drifting reading.
#[derive(Clone, Debug, Serialize)]
pub struct SettlingReading {
    /// Entry at the bench, from 1.
    pub number: usize,
    /// Settled pH.
    pub ph: Outcome,
    /// Time to wait after the last of its readings, s.
    pub wait: Outcome,
    /// Time constant, s; absent where it stands.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub time_constant: Option<Outcome>,
    /// What the person must know.
    pub notes: Vec<Note>,
}

/// The next addition of an acid or base.
///
/// # Errors
/// All that is wrong with the text; a formula without an answer; an adjuster that does nothing.
pub fn adjust(facts: &Facts, (file, text): (&str, &str)) -> Result<AdjustReading, Vec<Diagnostic>> {
    advise(facts, &read(file, text, &facts.ph_bench)?)
}

/// The next addition, from a question that was read or put together.
pub(crate) fn advise(facts: &Facts, typed: &AdjustFile) -> Result<AdjustReading, Vec<Diagnostic>> {
    let facts = facts_for(facts, &typed.file, &typed.formula)?;
    let Some(convention) = &facts.ph_bench.convention else {
        return Err(vec![typed.complain(
            "no-convention",
            "with",
            "the facts have no [ph_adjusting]".to_owned(),
            "lay the shipped facts below your own",
        )]);
    };
    let known = known(&facts);
    let window = window(typed)?;
    let batch = batch(typed, &known);
    let dosing = dosing(typed, material(&facts, &typed.with).ok(), convention)?;
    let calibration = match &typed.calibration {
        Some(of) => Some((of, calibrate::line(of, typed.text())?)),
        None => None,
    };
    let middle = 0.5 * (window.ph[0] + window.ph[1]);
    let offset_uncertainty = calibration.as_ref().map_or(convention.meter_ph, |(of, line)| {
        line.uncertainty_at(middle, 0.0, of.temperature_c).root_sum_square(PH_SCALE)
    });
    let told = hear(
        typed,
        &facts,
        &window,
        convention,
        calibration.as_ref().map(|(of, line)| (line, of.uncertainty_mv)),
    )?;
    let setting = Setting {
        adjusters: told.adjusters,
        batch,
        window,
        meter: Meter { offset_uncertainty },
        dosing,
        temperatures_c: told.readings.iter().map(|reading| reading.method.temperature_c).collect(),
    };
    let trouble = |error: Trouble| match error {
        Trouble::Formula(error) => diagnose(&typed.formula, &error),
        other => vec![typed.complain("no-advice", "with", other.to_string(), other.hint())],
    };
    let mut bench = Bench::of(&typed.formula.sheet, known, setting, convention).map_err(trouble)?;
    let drifts: Vec<_> = facts.ph_bench.drifts.values().collect();
    let mut report = bench.report(&told.additions, &told.readings, &drifts).map_err(trouble)?;
    if calibration.is_none() {
        report.notes.push(Note::new(
            "no-calibration",
            format!(
                "No calibration is given: the electrode is taken to be off by \u{b1}{:.2} (a convention). Read two buffers around the window.",
                1.96 * convention.meter_ph
            ),
        ));
    }
    if told.settling.iter().any(|settling| settling.ph.value.is_none()) {
        report.notes.push(Note::new("not-settled", "A trace that has not settled is not used: read on."));
    }
    Ok(AdjustReading {
        report,
        window: typed_outcome(middle, "").within(window.ph[0], window.ph[1], None),
        method: window.method.words(),
        batch: typed_outcome(batch.finished_g, "g"),
        held_back: if typed.held_back_g.is_some() {
            typed_outcome(batch.held_back_g, "g")
        } else {
            Outcome::new(
                batch.held_back_g,
                "g",
                Grade::Computed,
                "what the acid and base lines of the formula are expected to take",
            )
        },
        calibration: calibration.as_ref().map(|(of, line)| {
            let of = crate::making_file::calibration::CalibrationFile {
                window: of.window.or(Some(window.ph)),
                ..(*of).clone()
            };
            calibrate::reading(&facts.ph_bench, &of, line)
        }),
        settling: told.settling,
    })
}

fn typed_outcome(value: f64, unit: &'static str) -> Outcome {
    Outcome::new(value, unit, Grade::Measured, "as typed")
}

fn window(typed: &AdjustFile) -> Result<Window, Vec<Diagnostic>> {
    let of_formula =
        typed.formula.sheet.target.ph.and_then(|[low, high]| Some([low.to_f64()?, high.to_f64()?]));
    let ph = typed.window.or(of_formula).filter(|[low, high]| low < high && *low >= 0.0 && *high <= 14.0);
    let Some(ph) = ph else {
        return Err(vec![typed.complain(
            "no-window",
            "window",
            "no window of pH is given, or it is empty".to_owned(),
            "write window = [3.7, 3.9] under [adjust], or ph under [target]",
        )]);
    };
    // A window of its own is read as it says itself; that of the formula as the formula says, where [adjust] does not.
    let of_formula = match typed.window {
        Some(_) => Method::of(&PhRead::default()),
        None => Method::of(&typed.formula.sheet.target.ph_read),
    };
    let method = Method {
        diluted: typed.method.diluted.unwrap_or(of_formula.diluted),
        temperature_c: typed.method.temperature_c.unwrap_or(of_formula.temperature_c),
        age_h: typed.method.age_h.or(of_formula.age_h),
    };
    Ok(Window { ph, method })
}

/// The batch; what is held back of the q.s. line is the place of the formula's own acid and base lines where nobody says.
fn batch(typed: &AdjustFile, known: &Known<'_>) -> Batch {
    let sheet = &typed.formula.sheet;
    let finished_g = typed.batch_g.or_else(|| sheet.batch.size_g.to_f64()).unwrap_or(0.0);
    let held_back_g = typed.held_back_g.unwrap_or_else(|| {
        let Ok((settled, _, _)) = levigate_assess::solved(sheet, known) else { return 0.0 };
        let lines = settled.to_ph.iter().flat_map(|(lines, _)| lines);
        lines.map(|&line| settled.lines[line].percent / 100.0 * finished_g).sum()
    });
    Batch { finished_g, held_back_g }
}

/// How finely the adjuster can be weighed.
fn dosing(
    typed: &AdjustFile,
    adjuster: Option<&Material>,
    convention: &Convention,
) -> Result<Dosing, Vec<Diagnostic>> {
    let batch = &typed.formula.sheet.batch;
    let readability_g = typed.balance_g.unwrap_or(batch.balance_g);
    let repeatability_g =
        batch.repeatability_g.and_then(|value| value.to_f64()).filter(|_| typed.balance_g.is_none());
    let record =
        BalanceRecord { name: None, readability_g, repeatability_g, capacity_g: None, certificate: None };
    let balance = Balance::try_from(record)
        .map_err(|error| vec![typed.complain("no-balance", "balance_g", error.to_string(), error.hint())])?;
    let dosing = Dosing::with(&balance, adjuster, convention);
    Ok(Dosing { portion_g: typed.portion_g.unwrap_or(dosing.portion_g), ..dosing })
}

/// What happened, in the terms of the engine.
struct Heard<'a> {
    adjusters: Vec<(&'a Material, Option<f64>)>,
    additions: Vec<Addition>,
    readings: Vec<Reading>,
    settling: Vec<SettlingReading>,
}

fn hear<'a>(
    typed: &AdjustFile,
    facts: &'a Facts,
    window: &Window,
    convention: &Convention,
    meter: Option<(&Calibration, f64)>,
) -> Result<Heard<'a>, Vec<Diagnostic>> {
    let mut problems = Vec::new();
    let mut heard =
        Heard { adjusters: Vec::new(), additions: Vec::new(), readings: Vec::new(), settling: Vec::new() };
    match material(facts, &typed.with) {
        Ok(material) => heard.adjusters.push((material, typed.assay_percent)),
        Err(what_now) => {
            let what = format!("no raw material is called \"{}\"", typed.with);
            return Err(vec![typed.complain("unknown-material", "with", what, &what_now)]);
        }
    }
    let mut names = vec![typed.with.clone()];
    for (number, entry) in typed.entries.iter().enumerate() {
        match &entry.happened {
            Happened::Added { grams, with } => {
                let name = with.as_ref().unwrap_or(&typed.with);
                let place = names.iter().position(|known| known == name);
                let adjuster = match (place, material(facts, name)) {
                    (Some(place), _) => place,
                    (None, Ok(material)) => {
                        // The same material by another of its names is the same adjuster.
                        let same = heard.adjusters.iter().position(|(known, _)| known.key == material.key);
                        if same.is_none() {
                            names.push(name.clone());
                            heard.adjusters.push((material, None));
                        }
                        same.unwrap_or(heard.adjusters.len() - 1)
                    }
                    (None, Err(what_now)) => {
                        let what = format!("no raw material is called \"{name}\"");
                        problems.push(complaint(typed, entry, "unknown-material", what, &what_now));
                        continue;
                    }
                };
                heard.additions.push(Addition { adjuster, grams: *grams });
            }
            Happened::Read { shown, scatter, method } => {
                let method = method_of(method, &window.method);
                let after = heard.additions.len();
                match shown {
                    Shown::Ph(ph) => {
                        heard.readings.push(Reading { after, ph: *ph, scatter: *scatter, method })
                    }
                    Shown::Millivolt(millivolt) => match meter {
                        Some((line, uncertainty)) => {
                            let ph = line.read(*millivolt, uncertainty, method.temperature_c).ph;
                            let own = uncertainty / line.slope_mv;
                            let scatter = Some(scatter.unwrap_or_else(|| own.max(convention.reading_ph)));
                            heard.readings.push(Reading { after, ph, scatter, method });
                        }
                        None => problems.push(complaint(
                            typed,
                            entry,
                            "no-calibration",
                            "millivolts mean nothing without a calibration".to_owned(),
                            "add [calibration], or give the pH",
                        )),
                    },
                    Shown::Trace(moments) => match settle(moments, DIGIT, DIGIT) {
                        Ok(settled) => {
                            let scatter = Some(
                                scatter.unwrap_or_else(|| settled.uncertainty.max(convention.reading_ph)),
                            );
                            heard.readings.push(Reading { after, ph: settled.ph, scatter, method });
                            heard.settling.push(settled_reading(number + 1, &settled));
                        }
                        Err(error) => heard.settling.push(SettlingReading {
                            number: number + 1,
                            ph: Outcome::refuse("", SETTLING, error.to_string()),
                            wait: Outcome::refuse("s", SETTLING, error.to_string()),
                            time_constant: None,
                            notes: vec![Note::new("not-settled", format!("{error}: {}", error.hint()))],
                        }),
                    },
                }
            }
        }
    }
    if problems.is_empty() { Ok(heard) } else { Err(problems) }
}

const SETTLING: &str = "exponential approach of the electrode, robust against single readings";

fn settled_reading(number: usize, settled: &Settled) -> SettlingReading {
    const PROOF: &str = "tests/cross/settling.toml";
    let mut notes = Vec::new();
    if !settled.odd.is_empty() {
        let odd: Vec<String> = settled.odd.iter().map(|at| (at + 1).to_string()).collect();
        notes.push(Note::new(
            "odd-readings",
            format!("readings {} of the trace stand far off the others and count little", odd.join(", ")),
        ));
    }
    if settled.all_the_same {
        notes.push(Note::new(
            "all-the-same",
            "every reading is the same: make sure that the display is not on hold",
        ));
    }
    SettlingReading {
        number,
        ph: Outcome::new(settled.ph, "", Grade::Measured, SETTLING)
            .within(settled.interval[0], settled.interval[1], Some(0.95))
            .by("R(t) = R_end + sum A exp(-t / tau)")
            .proved_by(PROOF)
            .input("terms", settled.terms as f64, "", None)
            .input("still to go", settled.to_go, "pH", None),
        wait: Outcome::new(settled.wait_s, "s", Grade::Measured, SETTLING).proved_by(PROOF).input(
            "tolerance",
            DIGIT,
            "pH",
            Some("convention"),
        ),
        time_constant: settled
            .time_constant_s
            .map(|tau| Outcome::new(tau, "s", Grade::Measured, SETTLING).proved_by(PROOF)),
        notes,
    }
}

fn method_of(typed: &MethodTyped, wanted: &Method) -> Method {
    Method {
        diluted: typed.diluted.unwrap_or(wanted.diluted),
        temperature_c: typed.temperature_c.unwrap_or(wanted.temperature_c),
        age_h: typed.age_h,
    }
}

fn material<'a>(facts: &'a Facts, name: &str) -> Result<&'a Material, String> {
    let nearest = match facts.names.resolve_material(name) {
        Ok(key) => match facts.library.materials.get(key) {
            Some(material) => return Ok(material),
            None => Vec::new(),
        },
        Err(nearest) => nearest,
    };
    Err(if nearest.is_empty() {
        "search the raw materials for an acid or base".to_owned()
    } else {
        format!("did you mean {}?", nearest.join(", "))
    })
}

fn complaint(typed: &AdjustFile, entry: &Entry, code: &str, what: String, what_now: &str) -> Diagnostic {
    at(typed.text(), &entry.place, code, entry.field.clone(), what, what_now)
}
