//! Stirring as results that explain themselves: numbers with what follows from the limits of the batch and of the impeller, and verdicts.

use super::blend;
use super::stirred::{Edge, Pot, Regime, Stirred};
use super::surface::{Vortex, is_outside, onset_doubt};
use super::suspend::Grains;
use crate::flow::Liquid;
use crate::flow::band::{Holds, Spread};
use crate::flow::reading::{Known, Verdict, Way, figures};
use levigate_measure::{Grade, Outcome};
use serde::Serialize;

pub(crate) const CROSS: &str = "tests/cross/mixing.toml";
const TEXTBOOK: &str = "tests/published/mixing.toml";
const ANY: &str = "any flow";
const STIRRED: &str = "one impeller in a round vessel filled about as deep as wide; several are added up";

const fn way(
    method: &'static str,
    equation: &'static str,
    range: &'static str,
    proof: &'static str,
    sources: &'static [&'static str],
) -> Way {
    Way { method, equation, range, proof: Some(proof), sources }
}

const SHEAR: Way = way(
    "mean shear rate in the vessel",
    "g = k_s N",
    "slow flow; taken throughout",
    CROSS,
    &["metzner-otto-1957"],
);
const VISCOSITY: Way =
    way("of the flow curve at the mean shear rate", "mu(k_s N)", ANY, CROSS, &["metzner-otto-1957"]);
const REYNOLDS: Way =
    way("Reynolds number of the impeller", "Re = rho N d^2 / mu", ANY, TEXTBOOK, &["metzner-otto-1957"]);
const FROUDE: Way = way("Froude number", "Fr = N^2 d / g", ANY, TEXTBOOK, &[]);
const NUMBER: Way = way(
    "power number",
    "by the geometry of the blades, or between the two numbers of the kind",
    STIRRED,
    CROSS,
    &["furukawa-2012", "rushton-1950"],
);
const POWER: Way = way(
    "power number times speed and diameter",
    "P = N_P rho N^3 d^5",
    STIRRED,
    TEXTBOOK,
    &["furukawa-2012", "rushton-1950"],
);
const PER_VOLUME: Way =
    way("power over the volume", "P / V", STIRRED, TEXTBOOK, &["furukawa-2012", "rushton-1950"]);
const TORQUE: Way = way(
    "power over the angular speed",
    "M = P / (2 pi N)",
    "without friction of bearings and seal",
    TEXTBOOK,
    &["furukawa-2012"],
);
const ASKED: Way = way("as asked", "N", ANY, "exact arithmetic", &[]);
const TIP: Way = way("speed of the tip of a blade", "v = pi N d", ANY, "exact arithmetic", &[]);
const PUMPED: Way = way(
    "flow number",
    "Q = N_Q N d^3",
    "turbulent flow; below Re of 1000 less, as (Re/1000)^0.4, from memory",
    CROSS,
    &["from-memory"],
);
const TURNOVER: Way =
    way("volume over what is pumped", "t = V / Q", "turbulent flow", CROSS, &["from-memory"]);
const BLEND: Way = way(
    "time to 95 % blended",
    "t = Fo rho T^1.5 H^0.5 / mu, Fo = 5.20 / C or (183 / C)^2, C = N_P^(1/3) Re",
    "C from 200; the interval spans other rules in use, 5.9 for 5.20 and a textbook's 1.4 times as long; anchors and ribbons 35 to 100 turns, from memory",
    TEXTBOOK,
    &["grenville"],
);
const DEPTH: Way = way(
    "vortex from the wall to the axis",
    "z = w^2 r_c^2 / (2 g) (2 - (r_c/R)^2)",
    "no baffles, impeller in the middle, Re above 300; the interval is judgement: no measured scatter was read",
    CROSS,
    &["nagata-1975", "from-memory"],
);
const BELOW: Way = way(
    "vortex below the level at rest",
    "balance of volume under the vortex",
    "no baffles, impeller in the middle, Re above 300; the interval is judgement: no measured scatter was read",
    CROSS,
    &["nagata-1975", "from-memory"],
);
const AIR: Way = way(
    "speed from which air is drawn in",
    "vortex down at the impeller; with baffles N d^1.98 / T^1.1 = 1.65",
    "disc turbine of a third of the vessel in water for the last; the interval is judgement: no measured scatter was read",
    CROSS,
    &["nagata-1975", "greaves-kobbacy-1981", "from-memory"],
);
const CAVE: Way = way(
    "cave in a batch with a yield stress",
    "(D_c/d)^3 = 4 N_P rho N^2 d^2 / (pi^3 tau0)",
    "a ball that does not reach the wall",
    "crates/engine/process/src/mixing/cavern.rs",
    &["solomon-1981"],
);
const SUSPEND: Way = way(
    "speed that just suspends the grains",
    "N_js = S nu^0.1 d_p^0.2 (g drho/rho)^0.45 X^0.13 / d^0.85",
    "grains that sink and are wetted, with baffles",
    CROSS,
    &["zwietering-1958"],
);

/// Everything that follows from one speed in one vessel.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct StirReading {
    /// Speed, rpm.
    pub speed: Outcome,
    /// Speed of the tip, m/s.
    pub tip_speed: Outcome,
    /// Mean shear rate, 1/s.
    pub shear_rate: Outcome,
    /// Viscosity there, mPa s.
    pub viscosity: Outcome,
    /// Reynolds number.
    pub reynolds: Outcome,
    /// How it flows.
    pub regime: Regime,
    /// Froude number.
    pub froude: Outcome,
    /// Power number of one impeller.
    pub power_number: Outcome,
    /// Power into the batch, W.
    pub power: Outcome,
    /// Power over the volume, W/m3.
    pub power_per_volume: Outcome,
    /// Torque of the shaft, N m.
    pub torque: Outcome,
    /// What the impeller pumps, L/min.
    pub pumping: Outcome,
    /// Time to pump the batch once, s.
    pub turnover: Outcome,
    /// Time to 95 % blended, s.
    pub blend_time: Outcome,
    /// Depth of the vortex, mm.
    pub vortex: Outcome,
    /// The same below the level at rest, mm.
    pub vortex_below_rest: Outcome,
    /// Speed from which air is drawn in, rpm.
    pub air_from: Outcome,
    /// Cave in a batch with a yield stress, mm; absent without one.
    pub cave: Option<Outcome>,
    /// Speed that suspends the grains, rpm; absent where none were named.
    pub suspending: Option<Outcome>,
    /// Whether it blends everywhere, draws air, spills, suspends.
    pub verdicts: Vec<Verdict>,
}

/// A question of one pot.
#[derive(Clone, Debug)]
pub struct Asked<'a> {
    /// Vessel and batch.
    pub pot: &'a Pot<'a>,
    /// Speed, 1/s.
    pub speed: f64,
    /// Grains to be suspended, where somebody names them.
    pub grains: Option<Grains>,
}

/// Said of power that rests on thin blades in slow flow.
const THICK_HUB: &str = "computed for thin blades: thick blades on a thick hub took 1.5 to 1.9 times as much in simulations of slow flow, which the interval does not cover";

/// Said of power of an impeller too narrow or too wide for the correlation.
const OUTSIDE: &str = "the power number by the blades holds for impellers of 0.3 to 0.9 of the diameter of the vessel: state the power number of yours, or take this as a rough figure";

/// What an open impeller that does not blend needs instead.
pub const INSTEAD: &str = "take an anchor or a helical ribbon that sweeps the wall (95 % in 35 to 100 turns), or blend before it thickens";

impl Asked<'_> {
    /// A number of the batch at the edges of what it may be and of what the impeller may take. `follows` says by what power the number goes with the power
    /// number: 1, -1/3, 0.
    fn spread(&self, known: &Known<'_>, of: impl Fn(&Stirred) -> f64) -> Spread {
        let corner = |liquid: &dyn Liquid| {
            [Edge::Low, Edge::Usual, Edge::High].map(|edge| of(&self.pot.at(liquid, self.speed, edge)))
        };
        let all = known.band.each(corner);
        let every = || all.iter().flatten().copied();
        Spread {
            value: all[1][1],
            low: every().fold(f64::INFINITY, f64::min),
            high: every().fold(f64::NEG_INFINITY, f64::max),
        }
    }

    /// Answers everything.
    #[must_use]
    pub fn reading(&self, known: &Known<'_>) -> StirReading {
        let usual = self.pot.at(known.band.middle, self.speed, Edge::Usual);
        let rate = Some(usual.shear_rate);
        let number = |way: &Way, unit: &'static str, factor: f64, of: fn(&Stirred) -> f64| {
            correlated(known.outcome(way, unit, self.spread(known, of).times(factor), rate, ""))
        };
        let hub = self.pot.leaves_out_the_hub(usual.reynolds);
        let power = |way: &Way, unit: &'static str, of: fn(&Stirred) -> f64| {
            let mut outcome = number(way, unit, 1.0, of);
            if self.pot.is_outside() {
                outcome.grade = outcome.grade.weaker(Grade::RuleOfThumb);
                outcome = outcome.note("outside-range", OUTSIDE);
            }
            if hub { outcome.note("thick-hub", THICK_HUB) } else { outcome }
        };
        StirReading {
            speed: of_sizes(known.outcome(&ASKED, "rpm", exactly(60.0 * self.speed), None, "")),
            tip_speed: of_sizes(known.outcome(&TIP, "m/s", exactly(usual.tip_m_s), None, "")),
            shear_rate: self.shear(known),
            viscosity: number(&VISCOSITY, "mPa s", 1e3, |at| at.viscosity_pa_s),
            reynolds: number(&REYNOLDS, "", 1.0, |at| at.reynolds),
            regime: Regime::at(usual.reynolds),
            froude: of_sizes(known.outcome(&FROUDE, "", exactly(usual.froude), None, "")),
            power_number: power(&NUMBER, "", |at| at.power_number),
            power: power(&POWER, "W", |at| at.power_w),
            power_per_volume: power(&PER_VOLUME, "W/m3", |at| at.power_per_volume),
            torque: power(&TORQUE, "N m", |at| at.torque_n_m),
            pumping: self.pumping(known, &usual),
            turnover: self.turnover(known, &usual),
            blend_time: self.blend(known, &usual),
            vortex: self.vortex(known, &DEPTH, usual.reynolds, |one| one.depth_m),
            vortex_below_rest: self.vortex(known, &BELOW, usual.reynolds, |one| one.below_rest_m),
            air_from: self.air(known),
            cave: (known.band.middle.yield_stress() > 0.0).then(|| number(&CAVE, "mm", 1e3, |at| at.cave_m)),
            suspending: self.suspending(known),
            verdicts: self.verdicts(known),
        }
    }

    fn shear(&self, known: &Known<'_>) -> Outcome {
        let of = &self.pot.impeller.kind.shear;
        let spread = Spread { value: of.value, low: of.low, high: of.high }.times(self.speed);
        correlated(known.outcome(&SHEAR, "1/s", spread, Some(spread.value), ""))
    }

    fn pumping(&self, known: &Known<'_>, usual: &Stirred) -> Outcome {
        if usual.pumped_m3_s.is_none() {
            return Outcome::refuse("L/min", PUMPED.method, "no flow number is known for this kind");
        }
        let spread = self.pumped(known).times(6e4);
        correlated(known.outcome(&PUMPED, "L/min", spread, Some(usual.shear_rate), ""))
    }

    /// With the range of the flow number.
    fn pumped(&self, known: &Known<'_>) -> Spread {
        let of = self.spread(known, |at| at.pumped_m3_s.unwrap_or(f64::NAN));
        let pumping = self.pot.impeller.kind.pumping.as_ref();
        let [low, high] = pumping.map_or([1.0, 1.0], |n| [n.low / n.value, n.high / n.value]);
        Spread { value: of.value, low: of.low * low, high: of.high * high }
    }

    fn turnover(&self, known: &Known<'_>, usual: &Stirred) -> Outcome {
        if usual.pumped_m3_s.is_none() {
            return Outcome::refuse("s", TURNOVER.method, "no flow number is known for this kind");
        }
        let pumped = self.pumped(known);
        let volume = self.pot.filling.volume_m3;
        let spread =
            Spread { value: volume / pumped.value, low: volume / pumped.high, high: volume / pumped.low };
        correlated(known.outcome(&TURNOVER, "s", spread, Some(usual.shear_rate), ""))
    }

    fn blend(&self, known: &Known<'_>, usual: &Stirred) -> Outcome {
        if usual.blend_s.is_none() {
            let why = format!(
                "an open impeller does not blend this batch: N_P^(1/3) Re is {}, below {}; {INSTEAD}",
                figures(usual.blend_number),
                blend::LEAST
            );
            return Outcome::refuse("s", BLEND.method, why);
        }
        let mut spread = self.spread(known, |at| at.blend_s.unwrap_or(f64::INFINITY));
        // The turns of what sweeps the wall are a span already.
        if !self.pot.impeller.kind.family.sweeps_the_wall() {
            (spread.low, spread.high) = (spread.low / blend::SHORTER, spread.high * blend::LONGER);
        }
        correlated(known.outcome(&BLEND, "s", spread, Some(usual.shear_rate), ""))
    }

    /// A size of the vortex, mm, with what its core leaves open.
    fn vortex(&self, known: &Known<'_>, way: &Way, reynolds: f64, of: fn(&Vortex) -> f64) -> Outcome {
        let spread = self.vortex_spread(known, of).times(1e3);
        let outcome = correlated(known.outcome(way, "mm", spread, None, ""));
        if spread.high > 0.0 && is_outside(self.pot.vessel, self.pot.impeller, reynolds) {
            return outcome.note(
                "outside-range",
                "the impeller or the flow lies outside what the line of the core was drawn for: the interval is wider for it",
            );
        }
        outcome
    }

    fn vortex_spread(&self, known: &Known<'_>, of: fn(&Vortex) -> f64) -> Spread {
        Spread {
            value: of(&self.pot.at(known.band.middle, self.speed, Edge::Usual).vortex),
            low: self.spread(known, |at| of(&at.vortex_ends[0])).low,
            high: self.spread(known, |at| of(&at.vortex_ends[1])).high,
        }
    }

    /// Speed from which air is drawn in, 1/s, with what the correlation leaves open; endless where there is none.
    fn air_spread(&self, known: &Known<'_>) -> Spread {
        let at = |end: f64| {
            known.band.spread(|liquid| self.pot.speed_of_air_at(liquid, end).unwrap_or(f64::INFINITY))
        };
        Spread { value: at(0.0).value, low: at(1.0).low, high: at(-1.0).high }
    }

    fn air(&self, known: &Known<'_>) -> Outcome {
        let spread = self.air_spread(known).times(60.0);
        let outcome = correlated(known.outcome(
            &AIR,
            "rpm",
            spread,
            None,
            "no speed at which this one draws air is known",
        ));
        let viscosity = known.band.middle.viscosity(self.pot.impeller.kind.shear.value * spread.value / 60.0);
        let (_, outside) = onset_doubt(self.pot.vessel, self.pot.impeller, viscosity);
        if outcome.value.is_some() && outside && self.pot.vessel.swirl_is_broken() {
            return outcome.note(
                "outside-range",
                "drawn for a disc turbine of about a third of the vessel in water: the interval is wider for it",
            );
        }
        outcome
    }

    fn suspending(&self, known: &Known<'_>) -> Option<Outcome> {
        let grains = self.grains?;
        let Some(constant) = self.pot.impeller.kind.suspending.as_ref() else {
            return Some(Outcome::refuse(
                "rpm",
                SUSPEND.method,
                "no constant of suspending is known for this kind of impeller",
            ));
        };
        if grains.density_kg_m3 <= self.pot.density_kg_m3 {
            return Some(Outcome::refuse(
                "rpm",
                SUSPEND.method,
                "this powder floats: it is drawn down by a vortex or a high impeller, not lifted off the bottom",
            ));
        }
        let speed = |liquid: &dyn Liquid, constant: f64| 60.0 * self.just_suspended(liquid, grains, constant);
        let spread = Spread {
            value: speed(known.band.middle, constant.value),
            low: known.band.spread(|liquid| speed(liquid, constant.low)).low,
            high: known.band.spread(|liquid| speed(liquid, constant.high)).high,
        };
        let outcome = correlated(known.outcome(&SUSPEND, "rpm", spread, None, ""));
        Some(outcome.note(
            "floating",
            "holds for wetted grains that sink; dry gum floats at first and must be drawn down",
        ))
    }

    /// With the viscosity that belongs to the speed itself.
    fn just_suspended(&self, liquid: &dyn Liquid, grains: Grains, constant: f64) -> f64 {
        let mut speed = self.speed;
        for _ in 0..40 {
            let viscosity = liquid.viscosity(self.pot.impeller.kind.shear.value * speed);
            let next =
                grains.speed(constant, self.pot.impeller.diameter_m, viscosity, self.pot.density_kg_m3);
            if (next / speed - 1.0).abs() < 1e-12 {
                break;
            }
            speed = next;
        }
        speed
    }

    fn verdicts(&self, known: &Known<'_>) -> Vec<Verdict> {
        let mut verdicts = vec![self.blends(known), self.draws_air(known)];
        if self.pot.vessel.baffles().is_none() {
            verdicts.extend(self.spills(known));
        }
        if known.band.middle.yield_stress() > 0.0 {
            verdicts.push(self.moves_everywhere(known));
        }
        if let Some(suspending) = self.suspending(known).filter(|outcome| outcome.value.is_some()) {
            let end = |end: Option<f64>, value: f64| end.unwrap_or(value) / 60.0;
            let value = suspending.value.unwrap_or(f64::NAN);
            let spread = Spread {
                value: value / 60.0,
                low: end(suspending.low, value),
                high: end(suspending.high, value),
            };
            verdicts.push(Verdict {
                question: "grains are kept off the bottom",
                holds: Holds::within(spread, None, Some(self.speed)),
                because: format!("{} rpm just suspend them", figures(value)),
            });
        }
        verdicts
    }

    fn blends(&self, known: &Known<'_>) -> Verdict {
        let sweeps = self.pot.impeller.kind.family.sweeps_the_wall();
        let spread = self.spread(known, |at| at.blend_number);
        let holds = if sweeps { Holds::Surely } else { Holds::within(spread, Some(blend::LEAST), None) };
        let because = if sweeps {
            "it sweeps the whole vessel".to_owned()
        } else if holds == Holds::Surely {
            format!("N_P^(1/3) Re is {}, above {}", figures(spread.value), blend::LEAST)
        } else {
            format!(
                "N_P^(1/3) Re is {}; below {} it only stirs a cave: {INSTEAD}",
                figures(spread.value),
                blend::LEAST
            )
        };
        Verdict { question: "the whole batch is blended", holds, because }
    }

    fn draws_air(&self, known: &Known<'_>) -> Verdict {
        const QUESTION: &str = "air is drawn in";
        let from = self.air_spread(known);
        if !from.low.is_finite() {
            let because = "no vortex reaches down to it".to_owned();
            return Verdict { question: QUESTION, holds: Holds::Not, because };
        }
        let how = if self.pot.vessel.swirl_is_broken() {
            "the surface takes air from about"
        } else {
            "the vortex reaches the impeller from about"
        };
        let holds = Holds::within(from, None, Some(self.speed));
        let mut because = if from.value.is_finite() {
            format!("{how} {} rpm", figures(60.0 * from.value))
        } else {
            "only if the batch is as thin as it may be".to_owned()
        };
        if holds != Holds::Not {
            because.push_str(
                "; slower, a lower or slanted impeller or baffles; a batch that thickens keeps its bubbles",
            );
        }
        Verdict { question: QUESTION, holds, because }
    }

    fn spills(&self, known: &Known<'_>) -> Option<Verdict> {
        let free = self.pot.vessel.height_m() - self.pot.filling.depth_m;
        let rise = self.vortex_spread(known, |one| one.rise_m);
        (rise.high > 0.0).then(|| Verdict {
            question: "it stays below the rim",
            holds: Holds::within(rise, None, Some(free)),
            because: format!(
                "the batch rises {} mm at the wall, {} mm are free",
                figures(1e3 * rise.value),
                figures(1e3 * free)
            ),
        })
    }

    fn moves_everywhere(&self, known: &Known<'_>) -> Verdict {
        let width = self.pot.vessel.diameter_m();
        let cave = self.spread(known, |at| at.cave_m);
        let sweeps = self.pot.impeller.kind.family.sweeps_the_wall();
        Verdict {
            question: "nothing stands still at the wall",
            holds: if sweeps { Holds::Surely } else { Holds::within(cave, Some(width), None) },
            because: if sweeps {
                "the impeller passes close to the wall".to_owned()
            } else {
                format!(
                    "the yield stress leaves a moving cave of {} mm in a vessel of {} mm",
                    figures(1e3 * cave.value),
                    figures(1e3 * width)
                )
            },
        }
    }
}

/// A result of a published correlation is no better than that.
pub(crate) fn correlated(mut outcome: Outcome) -> Outcome {
    outcome.grade = outcome.grade.weaker(Grade::Correlated);
    outcome
}

/// A result of sizes and speed alone, whatever is known of the liquid.
pub(crate) fn of_sizes(mut outcome: Outcome) -> Outcome {
    outcome.grade = Grade::Computed;
    outcome
}

fn exactly(value: f64) -> Spread {
    Spread { value, low: value, high: value }
}
