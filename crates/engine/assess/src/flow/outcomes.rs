//! Numbers of a prediction as results that explain themselves.

use super::reading::{CurvePoint, FlowReading, ThickenerReading};
use super::{Flowing, KnownFlow, Prediction, ThickenerIn};
use crate::findings::digits;
use levigate_formula::sheet::ViscosityTarget;
use levigate_measure::{Grade, Outcome};
use levigate_process::flow::Liquid as _;
use levigate_process::flow::blend::Dosed;
use levigate_process::flow::datasheet::{GradeWord, dial_viscosity};
use levigate_process::flow::prediction::rate_at;
use levigate_process::flow::spindle::{Choice, DiscSpindle, chosen};
use rust_decimal::prelude::ToPrimitive;

/// Shear rate at which a viscosity is stated where the brief names no spindle and speed, 1/s: near that of a disc at 20 rpm.
pub(crate) const STATED_RATE: f64 = 10.0;
/// Standard deviation of ln viscosity at rest above which no number is given.
const MOST_SPREAD_AT_REST: f64 = 1.0;
/// Shear rate at which a weak gel is asked what it holds, 1/s, and the viscosity from which it is asked, Pa s.
const SLOW: f64 = 0.01;
const STIFF_PA_S: f64 = 20.0;
const PROOF: &str = "tests/published/flow_prediction.toml";
const METHOD: &str = "flow of the composition";
const EQUATION: &str = "eta = k eta_s (1 + E), sum of c_i / C_i(E) = 1";
const RANGE: &str = "water phases, up to 10 % oil in drops, after 24 h of rest";

/// A number in Pa s or Pa with its two edges.
type Three = [f64; 3];

struct Speaker<'r, 'a> {
    flowing: &'r Flowing<'a>,
    refusal: Option<String>,
    grade: Grade,
}

impl Speaker<'_, '_> {
    fn outcome(&self, [low, value, high]: Three, unit: &'static str, method: &'static str) -> Outcome {
        let outcome = match &self.refusal {
            Some(refusal) => Outcome::refuse(unit, method, refusal.clone()),
            None => Outcome::new(value, unit, self.grade, method).within(low, high, Some(0.95)),
        };
        self.explain(outcome.by(EQUATION).valid_for(RANGE).proved_by(PROOF))
    }

    fn explain(&self, mut outcome: Outcome) -> Outcome {
        outcome = outcome.input("temperature", self.flowing.temperature_c, "C", None).input(
            "viscosity of the solvent",
            self.flowing.solvent_pa_s[1] * 1e3,
            "mPa.s",
            None,
        );
        for (one, dosed) in self.flowing.thickeners.iter().zip(&self.flowing.blend.thickeners) {
            outcome =
                outcome.input(one.name.clone(), dosed.dose_g_dl, "g/dL", Some(&one.known.family.source));
            if let Some(share) = one.dissociated {
                outcome = outcome.input(format!("dissociated share of {}", one.name), share, "", None);
            }
            for sheet in &one.known.record.datasheet {
                outcome = outcome.source(sheet.source.clone());
            }
            outcome = outcome.source(one.known.family.source.clone());
        }
        if self.flowing.oil_share > 0.0 {
            outcome =
                outcome.input("volume share of the oil", self.flowing.oil_share, "", Some("from-memory"));
        }
        self.notes(outcome)
    }

    fn notes(&self, mut outcome: Outcome) -> Outcome {
        for one in &self.flowing.thickeners {
            for way in &one.outside {
                let (what, unit) = way.what.words();
                outcome = outcome.note(
                    "outside-evidence",
                    format!(
                        "{}: {what} {} {unit} lies beyond {}, where its evidence ends; the band is wider for it",
                        one.name,
                        digits(way.here),
                        digits(way.covered)
                    ),
                );
            }
        }
        for (_, name) in &self.flowing.not_predicted {
            outcome = outcome.note("not-predicted", format!("what {name} does to the flow is not predicted"));
        }
        if let Some(learned) = &self.flowing.learned {
            outcome = outcome.note("learned", learned.clone());
        }
        if self.flowing.thickeners.is_empty() {
            return outcome;
        }
        outcome.note(
            "read-after-24-h",
            "holds after a night's rest: read gels and gums 24 h after making (common practice, no source)",
        )
    }
}

/// What a prediction may say of itself.
fn speaker<'r, 'a>(flowing: &'r Flowing<'a>) -> Speaker<'r, 'a> {
    let refusal = (!flowing.not_known.is_empty()).then(|| {
        let names: Vec<&str> = flowing.not_known.iter().map(|(_, name)| name.as_str()).collect();
        format!(
            "nothing is known of how {} thickens; enter a [[thickener]] with a value from its datasheet: range, percent, temperature, speed",
            names.join(", ")
        )
    });
    let grade = flowing
        .thickeners
        .iter()
        .map(|one| match one.known.family.grade {
            GradeWord::Correlated => Grade::Correlated,
            GradeWord::RuleOfThumb => Grade::RuleOfThumb,
        })
        .fold(Grade::Correlated, Grade::weaker);
    let grade =
        if flowing.thickeners.iter().any(|one| !one.outside.is_empty()) { Grade::RuleOfThumb } else { grade };
    let grade = if flowing.learned.is_some() { Grade::Calibrated } else { grade };
    Speaker { flowing, refusal, grade }
}

/// Viscosity at a shear rate.
pub(super) fn viscosity_at(flowing: &Flowing<'_>, prediction: &Prediction, shear_rate: f64) -> Outcome {
    let [least, most] = prediction.window();
    let outcome = speaker(flowing).outcome(prediction.viscosity_within(shear_rate), "Pa s", METHOD).input(
        "shear rate",
        shear_rate,
        "1/s",
        None,
    );
    if (least..=most).contains(&shear_rate) {
        return outcome;
    }
    outcome.note(
        "outside-evidence",
        format!(
            "{} 1/s lies outside the {} to {} 1/s that the evidence covers; the band is wider for it",
            digits(shear_rate),
            digits(least),
            digits(most)
        ),
    )
}

/// The reading of a prediction.
pub(super) fn reading(
    flowing: &Flowing<'_>,
    prediction: &Prediction,
    target: Option<&ViscosityTarget>,
    known: &KnownFlow<'_>,
) -> FlowReading {
    let speaker = speaker(flowing);
    let edges = [prediction.edge(-2.0), prediction.edge(2.0)];
    let (condition, at_brief) = at_brief(&speaker, prediction, &edges, target, known);
    let three = |of: &dyn Fn(&Prediction) -> f64| [of(&edges[0]), of(prediction), of(&edges[1])];
    let at_rest = at_rest(&speaker, prediction, &edges);
    let yield_stress = speaker.outcome(three(&|one| one.yield_stress()), "Pa", METHOD);
    let yield_stress = holds(prediction, yield_stress);
    let curve = if speaker.refusal.is_some() { Vec::new() } else { curve(prediction) };
    FlowReading {
        temperature_c: flowing.temperature_c,
        condition,
        at_brief,
        solvent: solvent(flowing),
        at_rest,
        yield_stress,
        thickeners: thickeners(flowing),
        curve,
        window: prediction.window(),
    }
}

/// What a prediction says at the conditions of a brief or a reading.
pub(super) fn at_conditions(
    flowing: &Flowing<'_>,
    prediction: &Prediction,
    target: Option<&ViscosityTarget>,
    known: &KnownFlow<'_>,
) -> (String, Outcome) {
    let edges = [prediction.edge(-2.0), prediction.edge(2.0)];
    at_brief(&speaker(flowing), prediction, &edges, target, known)
}

/// Viscosity at rest, or why none can be named.
fn at_rest(speaker: &Speaker<'_, '_>, prediction: &Prediction, edges: &[Prediction; 2]) -> Outcome {
    if prediction.yield_stress() > 0.0 {
        return speaker.explain(Outcome::refuse(
            "Pa s",
            METHOD,
            "below the yield stress it does not flow within the time of a measurement: there is no viscosity at rest",
        ));
    }
    if prediction.spread(rate_at(0)) > MOST_SPREAD_AT_REST {
        return speaker.explain(Outcome::refuse(
            "Pa s",
            METHOD,
            "the viscosity goes on rising down to shear rates that no datasheet reaches: a plateau is likely, its height is not known within a factor of seven either way",
        ));
    }
    let three = [&edges[0], prediction, &edges[1]].map(|one| one.viscosity(rate_at(0)));
    speaker.outcome(three, "Pa s", METHOD).input("shear rate", rate_at(0), "1/s", None)
}

/// What a liquid without a yield stress that is stiff at rest still holds up.
fn holds(prediction: &Prediction, yield_stress: Outcome) -> Outcome {
    if prediction.yield_stress() > 0.0 || prediction.viscosity(SLOW) < STIFF_PA_S {
        return yield_stress;
    }
    yield_stress.note(
        "no-yield-stress",
        format!(
            "no yield stress in the strict sense (it creeps below every stress), but at {SLOW} 1/s it answers with {} Pa: what exerts less moves by less than a hundredth of itself in a second",
            digits(prediction.stress(SLOW))
        ),
    )
}

/// The viscosity a prediction gives at a shear rate.
pub(super) fn at_shear_rate(flowing: &Flowing<'_>, prediction: &Prediction, shear_rate: f64) -> Outcome {
    speaker(flowing)
        .outcome(prediction.viscosity_within(shear_rate).map(|one| one * 1e3), "mPa s", METHOD)
        .input("shear rate", shear_rate, "1/s", None)
}

/// Two points per decade from 1e-4 to 1e5 1/s.
fn curve(prediction: &Prediction) -> Vec<CurvePoint> {
    (8..=44)
        .step_by(2)
        .map(rate_at)
        .map(|shear_rate| CurvePoint { shear_rate, viscosity_pa_s: prediction.viscosity_within(shear_rate) })
        .collect()
}

/// The spindle and the speed a brief speaks of, where both are understood.
pub(crate) fn dial_of<'a>(
    target: Option<&ViscosityTarget>,
    known: &KnownFlow<'a>,
) -> Option<(&'a DiscSpindle, f64)> {
    choice_of(target, known).map(|(choice, rpm)| (choice.spindle, rpm))
}

fn choice_of<'a>(target: Option<&ViscosityTarget>, known: &KnownFlow<'a>) -> Option<(Choice<'a>, f64)> {
    let target = target?;
    let rpm = target.speed_rpm.and_then(|rpm| rpm.to_f64()).filter(|rpm| *rpm > 0.0)?;
    let highest = target.mpa_s[1].to_f64()? * 1e-3;
    let choice =
        chosen(target.spindle.as_deref()?, known.spindles.values(), known.torque_n_m?, Some((rpm, highest)))?;
    Some((choice, rpm))
}

fn at_brief(
    speaker: &Speaker<'_, '_>,
    prediction: &Prediction,
    edges: &[Prediction; 2],
    target: Option<&ViscosityTarget>,
    known: &KnownFlow<'_>,
) -> (String, Outcome) {
    let words = target.and_then(|target| target.spindle.as_deref());
    let Some((choice, rpm)) = choice_of(target, known) else {
        let factor = 1e3;
        let mut outcome = speaker
            .outcome(prediction.viscosity_within(STATED_RATE).map(|one| one * factor), "mPa s", METHOD)
            .input("shear rate", STATED_RATE, "1/s", None);
        outcome = match words {
            Some(words) => outcome.note(
                "spindle-not-understood",
                format!("\"{words}\" is no disc spindle known here or has no speed: the viscosity at {STATED_RATE} 1/s stands instead, which a dial does not show"),
            ),
            None => outcome.note(
                "stated-shear-rate",
                format!("the brief names no spindle and speed: this is the viscosity at {STATED_RATE} 1/s"),
            ),
        };
        return (format!("viscosity at {STATED_RATE} 1/s"), outcome);
    };
    let spindle = choice.spindle;
    let shown = |one: &Prediction| dial_viscosity(one, Some(spindle), rpm) * 1e3;
    let three = [shown(&edges[0]), shown(prediction), shown(&edges[1])];
    let percent = three[1] / 1e3 / spindle.full_scale(rpm, choice.torque_n_m) * 100.0;
    let mut outcome = speaker
        .outcome(three, "mPa s", "flow of the composition, as the disc spindle shows it")
        .source(spindle.source.clone())
        .input("speed", rpm, "1/min", None)
        .input("share of the full torque", percent, "%", None)
        .note(
            "dial-reading",
            "what the dial shows, through the constants of the spindle; it is no viscosity at one shear rate",
        );
    for assumption in choice.assumptions {
        outcome = outcome.note("assumed", assumption);
    }
    if speaker.refusal.is_none() && !(10.0..=100.0).contains(&percent) {
        outcome = outcome.note(
            "torque-out-of-reach",
            format!(
                "the reading lies at {} % of the full torque; it is trusted from 10 to 100 %",
                digits(percent)
            ),
        );
    }
    (format!("{} at {} rpm", spindle.words(), digits(rpm)), outcome)
}

fn solvent(flowing: &Flowing<'_>) -> Outcome {
    let [low, value, high] = flowing.solvent_pa_s.map(|one| one * 1e3);
    let mut outcome =
        Outcome::new(value, "mPa s", Grade::Correlated, "mixture with water, each polyol by its own law")
            .within(low, high, Some(0.95))
            .by("ln mu/mu_w = sum of (w_i/w) f_i(w, T)")
            .valid_for("0 to 80 C")
            .proved_by("tests/published/glycerol_water_viscosity.csv")
            .source("cheng-2008")
            .input("temperature", flowing.temperature_c, "C", None);
    for (cosolvent, share) in &flowing.cosolvents {
        outcome = outcome
            .input(
                cosolvent.substance.clone(),
                100.0 * share,
                "% of the solvent",
                Some(&cosolvent.mixture_source),
            )
            .source(cosolvent.source.clone())
            .source(cosolvent.mixture_source.clone());
    }
    if flowing.other_solids > 0.0 {
        outcome = outcome.source("from-memory").input("other dissolved solids", 100.0 * flowing.other_solids, "%", None).note(
            "assumed",
            "dissolved solids without a law of their own thicken by 1.8 per mass fraction, somewhere between urea and sugar",
        );
    }
    outcome
}

fn thickeners(flowing: &Flowing<'_>) -> Vec<ThickenerReading> {
    let pairs = flowing.thickeners.iter().zip(&flowing.blend.thickeners);
    pairs.map(|(one, dosed)| thickener(one, dosed, flowing)).collect()
}

fn thickener(one: &ThickenerIn<'_>, dosed: &Dosed<'_>, flowing: &Flowing<'_>) -> ThickenerReading {
    let alone = dosed.response().stress(STATED_RATE) / STATED_RATE + flowing.solvent_pa_s[1];
    ThickenerReading {
        lines: one.lines.clone(),
        material: one.known.record.material.clone(),
        name: one.name.clone(),
        family: one.known.family.name.clone(),
        dose: Outcome::new(dosed.dose_g_dl, "g/dL", Grade::Computed, "polymer in the water phase")
            .by("c = 100 p a / V")
            .proved_by("exact arithmetic"),
        alone: Outcome::new(alone * 1e3, "mPa s", Grade::RuleOfThumb, "this thickener alone in the solvent")
            .by("eta = eta_s + tau_p(r) / r")
            .proved_by(PROOF)
            .source(one.known.family.source.clone())
            .input("shear rate", STATED_RATE, "1/s", None),
    }
}
