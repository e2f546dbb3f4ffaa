//! Scale-up as results that explain themselves: each rule beside the others, the speed to begin with and why, times and rates.

use super::{Rule, extrapolated, speed};
use crate::flow::Liquid;
use crate::flow::band::Spread;
use crate::flow::reading::{Known, Way, figures};
use crate::mixing::blend;
use crate::mixing::reading::{Asked, CROSS, INSTEAD, StirReading, correlated, of_sizes};
use crate::mixing::stirred::{Edge, Pot, Regime, Stirred};
use crate::mixing::suspend::Grains;
use core::f64::consts::PI;
use levigate_measure::elementary::Elementary as _;
use levigate_measure::{Grade, Note, Outcome};
use serde::Serialize;

const TEXTBOOK: &str = "tests/published/mixing.toml";

const SOLVED: Way = Way {
    method: "speed at which the rule holds, with the power number and the viscosity of both scales",
    equation: "q(N2) = q(N1)",
    range: "as the power number and the mean shear rate hold",
    proof: Some(CROSS),
    sources: &["metzner-otto-1957", "furukawa-2012"],
};
const CHECK: Way = Way {
    method: "power of the ratio of diameters, for turbulent flow in similar vessels: a check only",
    equation: "N2 = N1 R^x",
    range: "constant power number, similar vessels",
    proof: Some(TEXTBOOK),
    sources: &["geankoplis-agitation"],
};
const AT: Way = Way {
    method: "at the speed of the rule",
    equation: "as for one vessel",
    range: "as for one vessel",
    proof: Some(CROSS),
    sources: &["metzner-otto-1957", "furukawa-2012"],
};
const SIZE: Way = Way {
    method: "of the sizes of vessel and batch",
    equation: "geometry",
    range: "any",
    proof: Some("crates/engine/process/src/vessel.rs"),
    sources: &[],
};
const EXPONENT: Way = Way {
    method: "exponent of the speed between two scales that both worked",
    equation: "x = ln(N1/N2) / ln(d2/d1), N3 = N2 (d2/d3)^x",
    range: "the same regime at all scales",
    proof: Some("crates/engine/process/src/scale_up.rs"),
    sources: &[],
};
const ADDING: Way = Way {
    method: "time of an addition in proportion to the time to blend",
    equation: "t2 = t1 t_blend2 / t_blend1",
    range: "liquids and solutions; a habit",
    proof: None,
    sources: &["common-practice"],
};
const UNMIXED: Way = Way {
    method: "time to blend over the time of the addition",
    equation: "e = t_blend / t",
    range: "an even flow; what went in within one time of blending stands unmixed where it went in",
    proof: Some("crates/cli/tests/whole/making.rs"),
    sources: &["common-practice"],
};
const LEAST: Way = Way {
    method: "ten times the time to blend",
    equation: "t >= 10 t_blend",
    range: "asked for feeds into a stirred vessel that runs on, where the whole volume passes in t; borrowed here for one addition",
    proof: Some("crates/cli/tests/whole/making.rs"),
    sources: &["roussinova-kresta-2008"],
};
const POURING: Way = Way {
    method: "powder for each area of surface and time kept the same",
    equation: "t2 = t1 (V2/V1) / (A2/A1)",
    range: "powders on the surface; a habit",
    proof: None,
    sources: &["common-practice"],
};

/// What turns with what limits it.
#[derive(Clone, Debug)]
pub struct ScaleQuestion<'a> {
    /// The bench, with the speed that works there, 1/s.
    pub bench: (&'a Pot<'a>, f64),
    /// Larger scales in their order, with a speed where one is known to work.
    pub steps: Vec<Step<'a>>,
    /// Grains, where somebody names them.
    pub grains: Option<Grains>,
    /// Speed of a tip that must not be passed, m/s.
    pub tip_limit_m_s: Option<f64>,
    /// What is added at the bench.
    pub additions: Vec<Addition>,
}

/// A larger scale.
#[derive(Clone, Debug)]
pub struct Step<'a> {
    /// What it is called.
    pub words: String,
    /// Vessel and batch.
    pub pot: &'a Pot<'a>,
    /// Speed that works there, 1/s.
    pub works_at: Option<f64>,
}

/// An addition at the bench.
#[derive(Clone, Debug, PartialEq)]
pub struct Addition {
    /// What.
    pub words: String,
    /// Time it takes at the bench, s.
    pub time_s: f64,
    /// Mass at the bench, kg, where it is known.
    pub mass_kg: Option<f64>,
    /// A powder onto the surface; else a liquid.
    pub powder: bool,
    /// An acid, a base or whatever else acts at once where it is not mixed in yet.
    pub acts_at_once: bool,
}

/// One rule and what it does to the others.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RuleRow {
    /// Rule.
    pub rule: Rule,
    /// Its name.
    pub words: &'static str,
    /// What it keeps.
    pub keeps: &'static str,
    /// Speed, rpm.
    pub speed: Outcome,
    /// The same by the power of the ratio of diameters, rpm.
    pub turbulent_check: Outcome,
    /// Speed of the tip, m/s.
    pub tip_speed: Outcome,
    /// Power over volume, W/m3.
    pub power_per_volume: Outcome,
    /// Power, W.
    pub power: Outcome,
    /// Reynolds number.
    pub reynolds: Outcome,
    /// How it flows; none where there is no speed.
    pub regime: Option<Regime>,
    /// Froude number.
    pub froude: Outcome,
    /// Time to blend, s.
    pub blend_time: Outcome,
    /// Vortex below the level at rest, mm.
    pub vortex_below_rest: Outcome,
}

/// An addition at the larger scale.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct AdditionReading {
    /// What.
    pub words: String,
    /// Time, min.
    pub time: Outcome,
    /// Rate, kg/min; absent where no mass was given.
    pub rate: Option<Outcome>,
    /// Shortest time that leaves little of it unmixed, min; absent for powders.
    pub least: Option<Outcome>,
    /// Share of it that stands unmixed at a time, %; absent for powders.
    pub unmixed: Option<Outcome>,
    /// What must be known.
    pub notes: Vec<Note>,
}

/// A larger scale.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct StepReading {
    /// What it is called.
    pub words: String,
    /// Vessel.
    pub vessel: String,
    /// Diameter of its impeller over that at the bench.
    pub ratio: Outcome,
    /// Each rule.
    pub rules: Vec<RuleRow>,
    /// Speed to begin with, rpm, between the least and most to try.
    pub recommended: Outcome,
    /// Why.
    pub because: Vec<String>,
    /// Everything at the speed to begin with; absent where there is none.
    pub at_recommended: Option<StirReading>,
    /// Speed by the exponent of two smaller scales, rpm; absent where they are not known.
    pub by_exponent: Option<Outcome>,
    /// The exponent.
    pub exponent: Option<Outcome>,
    /// Free surface over volume, 1/m: evaporation, cooling, bubbles.
    pub surface_per_volume: Outcome,
    /// Wetted wall over volume, 1/m: heating and cooling.
    pub wall_per_volume: Outcome,
    /// How many times as slow heating and cooling go through the wall, by area alone.
    pub slower_through_wall: Outcome,
    /// How many times as long a bubble rises through the depth.
    pub bubbles_slower: Outcome,
    /// Additions.
    pub additions: Vec<AdditionReading>,
}

/// From the bench up.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ScaleReading {
    /// The bench.
    pub bench: StirReading,
    /// Vessel of the bench.
    pub bench_vessel: String,
    /// Free surface over volume at the bench, 1/m.
    pub bench_surface_per_volume: Outcome,
    /// Larger scales.
    pub steps: Vec<StepReading>,
    /// What does not scale.
    pub does_not_scale: Vec<&'static str>,
}

/// What nobody can keep, or what never changes with size.
const DOES_NOT_SCALE: [&str; 6] = [
    "Power, pumping, highest shear and mean shear cannot all be kept in ratio: a rule keeps one and changes the others.",
    "Surface and wall for each kilogram fall with size: heating, cooling and the escape of air take longer, evaporation loses a smaller share.",
    "Times that belong to the material stay: hydration, a hold, the settling of pH, 24 hours before the viscosity is measured.",
    "Passes through a rotor and stator in a given time fall: count turnovers of the batch, not minutes.",
    "Temperatures, pH and percentages stay as they are; amounts that stick to vessel, pump and line are a number of kilograms, not of percent.",
    "An acid or base for the pH is added in steps of what was measured, never as the bench amount times the ratio at once.",
];

/// Speed of the tip that anchors and ribbons are seldom driven beyond, m/s: common practice.
const SWEEPER_TIP: f64 = 1.5;
/// Times of blending that a feed takes at least: Roussinova and Kresta (2008).
const TIMES_OF_BLENDING: f64 = 10.0;
/// Share of the speed of air that is kept below.
const BELOW_AIR: f64 = 0.8;

struct Scale<'a, 'k> {
    known: &'a Known<'k>,
    asked: &'a ScaleQuestion<'a>,
}

/// Answers everything.
#[must_use]
pub fn scale(known: &Known<'_>, asked: &ScaleQuestion<'_>) -> ScaleReading {
    let (bench, at) = asked.bench;
    let all = Scale { known, asked };
    let mut smaller: Vec<(f64, f64)> = vec![(bench.impeller.diameter_m, at)];
    let mut steps = Vec::new();
    for step in &asked.steps {
        steps.push(all.step(step, &smaller));
        smaller.extend(step.works_at.map(|speed| (step.pot.impeller.diameter_m, speed)));
    }
    ScaleReading {
        bench: Asked { pot: bench, speed: at, grains: asked.grains }.reading(known),
        bench_vessel: bench.vessel.words().to_owned(),
        bench_surface_per_volume: all.size("1/m", bench.filling.surface_m2 / bench.filling.volume_m3),
        steps,
        does_not_scale: DOES_NOT_SCALE.to_vec(),
    }
}

impl Scale<'_, '_> {
    fn size(&self, unit: &'static str, value: f64) -> Outcome {
        of_sizes(self.known.outcome(&SIZE, unit, Spread { value, low: value, high: value }, None, ""))
    }

    fn step(&self, step: &Step<'_>, smaller: &[(f64, f64)]) -> StepReading {
        let (bench, _) = self.asked.bench;
        let (here, there) = (&step.pot.filling, &bench.filling);
        let over = |area: f64, volume: f64| area / volume;
        let wall = over(here.wetted_m2, here.volume_m3);
        let (recommended, because, speed) = self.recommended(step.pot);
        let exponent = match smaller {
            [.., one, two] => super::exponent([*one, *two]),
            _ => None,
        };
        let last = smaller.last().copied();
        let exactly = |value: f64| Spread { value, low: value, high: value };
        StepReading {
            words: step.words.clone(),
            vessel: step.pot.vessel.words().to_owned(),
            ratio: self.size("", step.pot.impeller.diameter_m / bench.impeller.diameter_m),
            rules: Rule::ALL.into_iter().map(|rule| self.row(rule, step.pot)).collect(),
            at_recommended: speed
                .map(|speed| Asked { pot: step.pot, speed, grains: self.asked.grains }.reading(self.known)),
            recommended,
            because,
            by_exponent: exponent.zip(last).map(|(exponent, last)| {
                let speed = extrapolated(exponent, last, step.pot.impeller.diameter_m);
                of_sizes(self.known.outcome(&EXPONENT, "rpm", exactly(60.0 * speed), None, ""))
            }),
            exponent: exponent
                .map(|exponent| of_sizes(self.known.outcome(&EXPONENT, "", exactly(exponent), None, ""))),
            surface_per_volume: self.size("1/m", over(here.surface_m2, here.volume_m3)),
            wall_per_volume: self.size("1/m", wall),
            slower_through_wall: self.size("", over(there.wetted_m2, there.volume_m3) / wall),
            bubbles_slower: self.size("", here.depth_m / there.depth_m),
            additions: self
                .asked
                .additions
                .iter()
                .map(|addition| self.addition(addition, step.pot, speed))
                .collect(),
        }
    }

    /// The speed of a rule at each edge of the batch; NaN where there is none.
    fn solved(&self, rule: Rule, pot: &Pot<'_>) -> [f64; 3] {
        self.known.band.each(|liquid| speed(rule, liquid, self.asked.bench, pot).unwrap_or(f64::NAN))
    }

    fn row(&self, rule: Rule, pot: &Pot<'_>) -> RuleRow {
        let known = self.known;
        let (bench, at) = self.asked.bench;
        let ratio = pot.impeller.diameter_m / bench.impeller.diameter_m;
        let check = 60.0 * at * ratio.to_the(rule.turbulent_exponent());
        let speeds = self.solved(rule, pot);
        let liquids: [&dyn Liquid; 3] = [known.band.thin, known.band.middle, known.band.thick];
        let found = speeds[1].is_finite();
        // Every end of the liquid with every end of the power number.
        let stirred: Vec<Stirred> = liquids
            .iter()
            .zip(speeds)
            .filter(|(_, speed)| speed.is_finite())
            .flat_map(|(liquid, speed)| {
                [Edge::Low, Edge::Usual, Edge::High].map(|edge| pot.at(*liquid, speed, edge))
            })
            .collect();
        let middle = found.then(|| pot.at(known.band.middle, speeds[1], Edge::Usual));
        let none = "the bench does not blend by this measure, or no speed of this impeller reaches it";
        let of = |unit: &'static str, factor: f64, pick: &dyn Fn(&Stirred) -> f64| {
            let Some(middle) = &middle else { return Outcome::refuse(unit, AT.method, none) };
            let value = factor * pick(middle);
            let every = || stirred.iter().map(|at| factor * pick(at));
            let spread =
                Spread { value, low: every().fold(value, f64::min), high: every().fold(value, f64::max) };
            correlated(known.outcome(
                &AT,
                unit,
                spread,
                Some(middle.shear_rate),
                "it does not blend at this speed",
            ))
        };
        let mut blend_time = of("s", 1.0, &|at| at.blend_s.unwrap_or(f64::INFINITY));
        if !pot.impeller.kind.family.sweeps_the_wall() {
            blend_time.low = blend_time.low.map(|low| low / blend::SHORTER);
            blend_time.high = blend_time.high.map(|high| high * blend::LONGER);
        }
        let mut vortex_below_rest = of("mm", 1e3, &|at| at.vortex.below_rest_m);
        let ends = |end: usize| stirred.iter().map(move |at| 1e3 * at.vortex_ends[end].below_rest_m);
        vortex_below_rest.low = vortex_below_rest.low.map(|low| ends(0).fold(low, f64::min));
        vortex_below_rest.high = vortex_below_rest.high.map(|high| ends(1).fold(high, f64::max));
        let mut solved = of("rpm", 60.0, &|at| at.speed);
        if found {
            SOLVED.method.clone_into(solved.method.to_mut());
            solved.equation = Some(SOLVED.equation.into());
        }
        let mut turbulent_check =
            known.outcome(&CHECK, "rpm", Spread { value: check, low: check, high: check }, None, "");
        if middle.as_ref().is_none_or(|at| Regime::at(at.reynolds) != Regime::Turbulent)
            || Regime::at(bench.at(known.band.middle, at, Edge::Usual).reynolds) != Regime::Turbulent
        {
            turbulent_check.grade = Grade::RuleOfThumb;
            turbulent_check = turbulent_check.note(
                "not-turbulent",
                "the flow is not turbulent at both scales: this power does not hold here",
            );
        }
        RuleRow {
            rule,
            words: rule.words(),
            keeps: rule.keeps(),
            speed: solved,
            turbulent_check,
            tip_speed: of("m/s", 1.0, &|at| at.tip_m_s),
            power_per_volume: of("W/m3", 1.0, &|at| at.power_per_volume),
            power: of("W", 1.0, &|at| at.power_w),
            reynolds: of("", 1.0, &|at| at.reynolds),
            regime: middle.as_ref().map(|at| Regime::at(at.reynolds)),
            froude: of("", 1.0, &|at| at.froude),
            blend_time,
            vortex_below_rest,
        }
    }

    /// The speed to begin with, why, and as a number in 1/s.
    fn recommended(&self, pot: &Pot<'_>) -> (Outcome, Vec<String>, Option<f64>) {
        const METHOD: &str =
            "equal power per volume, kept below air and the limit of shear; equal tip speed as the least";
        let known = self.known;
        let d = pot.impeller.diameter_m;
        let mut because = Vec::new();
        let [_, by_power, _] = self.solved(Rule::PowerPerVolume, pot);
        let [_, by_tip, _] = self.solved(Rule::TipSpeed, pot);
        if !(by_power.is_finite() && by_tip.is_finite()) {
            let why = "no speed gives the power per volume or the tip speed of the bench";
            return (Outcome::refuse("rpm", METHOD, why), because, None);
        }
        let sweeps = pot.impeller.kind.family.sweeps_the_wall();
        let mut chosen = by_power;
        because.push(format!(
            "Equal power per volume asks for {} rpm, equal tip speed for {} rpm.",
            figures(60.0 * by_power),
            figures(60.0 * by_tip)
        ));
        let mut hold_below = |limit: f64, why: String| {
            if chosen > limit {
                chosen = limit;
                because.push(why);
            }
        };
        if sweeps {
            let limit = SWEEPER_TIP / (PI * d);
            hold_below(
                limit,
                format!(
                    "An impeller at the wall is held to a tip speed of {SWEEPER_TIP} m/s (common practice, no source)."
                ),
            );
        }
        if let Some(tip) = self.asked.tip_limit_m_s {
            hold_below(
                tip / (PI * d),
                format!("The tip speed is held to the {} m/s that the material stands.", figures(tip)),
            );
        }
        if let Some(air) = pot.speed_of_air(known.band.middle) {
            let limit = BELOW_AIR * air;
            hold_below(
                limit,
                format!(
                    "Above about {} rpm it draws air; {} rpm keep below.",
                    figures(60.0 * air),
                    figures(60.0 * limit)
                ),
            );
        }
        let there = pot.at(known.band.middle, chosen, Edge::Usual);
        let fastest = chosen.max(by_power.min(self.most(pot)));
        if there.blend_s.is_none() {
            let why = format!(
                "at {} rpm this open impeller does not blend the batch (N_P^(1/3) Re {}); {INSTEAD}",
                figures(60.0 * chosen),
                figures(there.blend_number)
            );
            return (Outcome::refuse("rpm", METHOD, why), because, None);
        }
        because.push(format!(
            "There it blends in {} s, at a tip speed of {} m/s and {} W/m3.",
            figures(there.blend_s.unwrap_or(f64::NAN)),
            figures(there.tip_m_s),
            figures(there.power_per_volume)
        ));
        let low = self.least(pot, by_tip, chosen, &mut because);
        let outcome = Outcome::new(60.0 * chosen, "rpm", Grade::RuleOfThumb, METHOD)
            .within(60.0 * low, 60.0 * fastest, None)
            .valid_for("a speed to begin with; look at the surface, the wall and the product")
            .source("common-practice")
            .note("range", "from equal tip speed to the speed taken: begin low, watch the surface");
        (outcome, because, Some(chosen))
    }

    /// The least to try, 1/s: equal tip speed, but not so slow that the batch is not blended; what makes that doubtful is said.
    fn least(&self, pot: &Pot<'_>, by_tip: f64, chosen: f64, because: &mut Vec<String>) -> f64 {
        let known = self.known;
        let (bench, at) = self.asked.bench;
        let there = bench.at(known.band.middle, at, Edge::Usual);
        if there.blend_s.is_none() {
            because.push(format!(
                "At the bench this impeller alone does not blend the batch (N_P^(1/3) Re {}): something else evened it out there, a spatula or time.",
                figures(there.blend_number)
            ));
        }
        let begins = pot.speed_that_blends(known.band.middle);
        if begins > by_tip {
            because.push(format!("Below {} rpm it does not blend the batch.", figures(60.0 * begins)));
        }
        if pot.at(known.band.thick, chosen, Edge::Low).blend_s.is_none() {
            because
                .push(format!("If the batch is as thick as it may be it is not blended there: {INSTEAD}."));
        }
        by_tip.max(begins).min(chosen)
    }

    /// The most that air and shear allow, 1/s.
    fn most(&self, pot: &Pot<'_>) -> f64 {
        let by_tip =
            self.asked.tip_limit_m_s.map_or(f64::INFINITY, |tip| tip / (PI * pot.impeller.diameter_m));
        let by_air = pot.speed_of_air(self.known.band.middle).map_or(f64::INFINITY, |air| BELOW_AIR * air);
        let by_wall = if pot.impeller.kind.family.sweeps_the_wall() {
            SWEEPER_TIP / (PI * pot.impeller.diameter_m)
        } else {
            f64::INFINITY
        };
        by_tip.min(by_air).min(by_wall)
    }

    fn addition(&self, addition: &Addition, pot: &Pot<'_>, speed: Option<f64>) -> AdditionReading {
        let (bench, at) = self.asked.bench;
        let (here, there) = (&pot.filling, &bench.filling);
        let way = if addition.powder { &POURING } else { &ADDING };
        let blend = |pot: &Pot<'_>, speed: f64| pot.at(self.known.band.middle, speed, Edge::Usual).blend_s;
        let blends_s = speed.and_then(|speed| blend(pot, speed)).filter(|_| !addition.powder);
        let times = if addition.powder {
            Some((here.volume_m3 / there.volume_m3) / (here.surface_m2 / there.surface_m2))
        } else {
            blend(bench, at).zip(blends_s).map(|(first, here)| here / first)
        };
        let Some(times) = times else {
            let why = "the batch is not blended at one of the scales, so that no time follows from blending";
            return AdditionReading {
                words: addition.words.clone(),
                time: Outcome::refuse("min", way.method, why),
                rate: None,
                least: None,
                unmixed: None,
                notes: Vec::new(),
            };
        };
        let thumb = |way: &Way, unit: &'static str, Spread { value, low, high }: Spread| {
            let mut outcome = self.known.outcome(way, unit, Spread { value, low, high }, None, "");
            outcome.grade = Grade::RuleOfThumb;
            outcome
        };
        let exactly = |value: f64| Spread { value, low: value, high: value };
        let by_habit = addition.time_s * times / 60.0;
        let least = blends_s.map(|seconds| TIMES_OF_BLENDING * seconds / 60.0);
        let held = least.filter(|least| addition.acts_at_once && *least > by_habit);
        let minutes = held.unwrap_or(by_habit);
        // What is not known of the time to blend is not known of these.
        let known_to = |value: f64| {
            if pot.impeller.kind.family.sweeps_the_wall() {
                let [few, many] = blend::TURNS_OF_SWEEPER;
                let middle = (few * many).sqrt();
                Spread { value, low: value * few / middle, high: value * many / middle }
            } else {
                Spread { value, low: value / blend::SHORTER, high: value * blend::LONGER }
            }
        };
        let mut time = thumb(if held.is_some() { &LEAST } else { way }, "min", exactly(minutes));
        if held.is_some() {
            time = time.note(
                "held-back",
                format!("the time of the bench in proportion would be {} min", figures(by_habit)),
            );
        }
        AdditionReading {
            words: addition.words.clone(),
            time,
            rate: addition.mass_kg.map(|mass| {
                let rate = mass * here.volume_m3 / there.volume_m3 / minutes;
                thumb(way, "kg/min", exactly(rate))
            }),
            least: least.map(|minutes| thumb(&LEAST, "min", known_to(minutes))),
            unmixed: blends_s.map(|seconds| {
                thumb(&UNMIXED, "%", known_to(100.0 * seconds / (60.0 * minutes))).note(
                    "where-it-goes-in",
                    "above a hundred: all of it is in before any of it is blended in",
                )
            }),
            notes: at_once(addition),
        }
    }
}

/// What an acid or base asks for while it goes in.
fn at_once(addition: &Addition) -> Vec<Note> {
    let note = || {
        Note {
        code: "acts-at-once".into(),
        text: "Where it is not mixed in yet the batch stands far from its pH: let it in close to the impeller, slowly, diluted where the formula allows it. \
               Strong acids and bases burn skin and eyes and warm what they meet: goggles and gloves, and the rules of the place."
            .into(),
    }
    };
    if addition.acts_at_once { vec![note()] } else { Vec::new() }
}
