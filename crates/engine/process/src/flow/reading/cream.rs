//! On the shelf: does it hold its drops, what a centrifuge says, do the bubbles leave.

use super::{CROSS, Known, Verdict, Way, figures};
use crate::flow::band::{Holds, Spread};
use crate::flow::creaming::{Centrifuge, Equivalence, Layer, Sizes};
use crate::flow::film::GRAVITY_M_S2;
use crate::flow::settings::{Held, Standing};
use crate::flow::suspension::Particle;
use levigate_measure::Outcome;
use serde::Serialize;

/// Seconds of a month of a twelfth of 365.25 days.
const MONTH_S: f64 = 365.25 / 12.0 * 86_400.0;
const DAY_S: f64 = 86_400.0;
/// Factor between the viscosities up to which a centrifuge run is called equivalent.
const SAME: f64 = 1.1;
/// Density of the air in a bubble, kg/m3.
const AIR_KG_M3: f64 = 1.2;
/// Diameter below which Brownian motion begins to count, m.
const BROWNIAN_M: f64 = 0.5e-6;

/// What it does on the shelf.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CreamReading {
    /// Stress that a median drop exerts, Pa.
    pub drop_stress: Outcome,
    /// Speed of the median drop, um/day: upwards above zero.
    pub speed: Outcome,
    /// Way of the median drop over the shelf life, mm.
    pub way: Outcome,
    /// Share of the volume that has left its place for top or bottom, percent.
    pub share_gone: Outcome,
    /// Yield stress that holds the median drop with the safety factor, Pa.
    pub yield_to_hold: Outcome,
    /// Largest drop that the yield stress holds with the safety factor, um.
    pub largest_held: Outcome,
    /// Relative centrifugal force, times gravity.
    pub force: Outcome,
    /// Months that the run stands for by its force alone.
    pub months_by_force: Outcome,
    /// Months that it stands for with the viscosities at both stresses.
    pub months: Outcome,
    /// Viscosity at rest over that in the centrifuge.
    pub factor: Outcome,
    /// Bubbles by their diameter.
    pub bubbles: Vec<BubbleReading>,
    /// Whether the drops are held, whether the centrifuge is equivalent.
    pub verdicts: Vec<Verdict>,
}

/// A bubble.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BubbleReading {
    /// Diameter, mm, as typed.
    pub diameter: Outcome,
    /// Time to rise through the depth, h.
    pub time: Outcome,
    /// Whether it leaves in the time there is.
    pub leaves: Verdict,
}

const RANGE: &str = "slow, drops that do not merge or ripen, well above half a micrometre; the flow curve must be known at these low stresses";
const STOKES: &[&str] = &["stokes-1851", "richardson-zaki-1954"];
const STRESS: Way = Way {
    method: "weight of a drop over its surface",
    equation: "tau = drho g d / 6",
    range: "single drops",
    proof: Some("crates/engine/process/src/flow/suspension.rs"),
    sources: STOKES,
};
const SPEED: Way = Way {
    method: "Stokes' law with the viscosity at the stress of the drop, hindered by its like",
    equation: "v = d^2 drho g / (18 eta(tau)) (1 - phi)^4.65",
    range: RANGE,
    proof: Some("crates/engine/process/src/flow/suspension.rs"),
    sources: STOKES,
};
const GONE: Way = Way {
    method: "Stokes' law over the sizes of the drops",
    equation: "s = sum of f(d) min(1, v(d) t / H)",
    range: RANGE,
    proof: Some(CROSS),
    sources: STOKES,
};
const HOLD: Way = Way {
    method: "yield criterion with a safety factor",
    equation: "tau0 = factor drho g d / 21",
    range: "single particles; the yield stress must have been measured at low shear rates; published criteria lie between 0.05 and 0.15 drho g d",
    proof: Some("crates/engine/process/src/flow/suspension.rs"),
    sources: &["beris-1985"],
};
const FORCE: Way = Way {
    method: "relative centrifugal force",
    equation: "RCF = (2 pi N / 60)^2 r / g",
    range: "at the distance of the sample from the axis",
    proof: Some("crates/engine/process/src/flow/creaming.rs"),
    sources: &[],
};
const SPUN: Way = Way {
    method: "centrifuge run as standing time, for the median drop",
    equation: "t' = t RCF eta(tau) / eta(RCF tau)",
    range: "nothing but creaming: no merging, ripening or change of the thickener in months",
    proof: Some("crates/engine/process/src/flow/creaming.rs"),
    sources: STOKES,
};
const BUBBLE: Way = Way {
    method: "Stokes' law for a bubble with a stiff surface, dissolving left out",
    equation: "t = H 18 eta(tau) / (d^2 rho g)",
    range: "a moving surface rises up to 1.5 times faster; air that dissolves or grows is left out",
    proof: Some("tests/tests/flow_use.rs"),
    sources: STOKES,
};

const HELD: &str = "never: the yield stress holds it";

fn particle(held: &Held, density: f64) -> Particle {
    Particle {
        diameter_m: sizes_of(held).median(),
        density_difference_kg_m3: held.density_kg_m3 - density,
        inner_viscosity_pa_s: held.inner_viscosity_mpa_s.map(|value| 1e-3 * value),
    }
}

fn sizes_of(held: &Held) -> Sizes {
    if held.class.is_empty() {
        Sizes::LogNormal { median_m: 1e-6 * held.diameter_um, spread: held.spread }
    } else {
        Sizes::Table(
            held.class.iter().map(|class| (1e-6 * class.diameter_um, class.volume_percent)).collect(),
        )
    }
}

/// Answers for a shelf.
#[must_use]
pub fn cream(known: &Known<'_>, set: &Standing) -> CreamReading {
    let (drops, shelf) = (&set.drops, &set.shelf);
    let sizes = sizes_of(drops);
    let share = 0.01 * drops.volume_percent;
    let time_s = MONTH_S * shelf.months;
    let height_m = 1e-3 * shelf.height_mm;
    let middle = particle(drops, known.density_kg_m3.value);
    let rate = known.band.middle.rate(middle.stress());
    let at = Some(rate);
    let speed = known.with_density(|liquid, density| particle(drops, density).speed_in(liquid, share));
    let way = known.with_density(|liquid, density| {
        let way = particle(drops, density).speed_in(liquid, share).abs() * time_s;
        1e3 * way.min(height_m)
    });
    let layer = Layer { height_m, time_s, volume_share: share };
    let gone = known
        .with_density(|liquid, density| 100.0 * sizes.share_gone(&particle(drops, density), liquid, &layer));
    let stress = known.with_density(|_, density| particle(drops, density).stress());
    let hold = known
        .with_density(|_, density| shelf.safety_factor * particle(drops, density).yield_stress_to_hold());
    let largest = known.with_density(|liquid, density| {
        let per_metre = Particle { diameter_m: 1.0, ..particle(drops, density) }.yield_stress_to_hold();
        1e6 * liquid.yield_stress() / (shelf.safety_factor * per_metre)
    });
    let with = |outcome: Outcome| {
        outcome
            .input("median diameter", 1e6 * sizes.median(), "um", None)
            .input("density of the drops", drops.density_kg_m3, "kg/m3", None)
            .input("density of the product", known.density_kg_m3.value, "kg/m3", None)
    };
    let mut gone_outcome = with(known.outcome(&GONE, "%", gone, at, ""))
        .input("height", shelf.height_mm, "mm", None)
        .input("time", shelf.months, "months", None);
    if sizes.median() < BROWNIAN_M {
        gone_outcome = gone_outcome.note(
            "brownian",
            "drops this small are also held by Brownian motion: less creams than this says",
        );
    }
    let yield_stress = known.band.spread(|liquid| liquid.yield_stress());
    let bare = hold.value / shelf.safety_factor;
    let mut verdicts = vec![held(shelf.safety_factor, yield_stress, hold.value, bare)];
    let centrifuge = spun(known, set, &middle, share);
    verdicts.push(centrifuge.1);
    let [force, months_by_force, months, factor] = centrifuge.0;
    CreamReading {
        drop_stress: with(known.outcome(&STRESS, "Pa", stress, at, "")),
        speed: with(known.outcome(&SPEED, "um/day", speed.times(1e6 * DAY_S), at, "")).input(
            "volume of the drops",
            drops.volume_percent,
            "%",
            None,
        ),
        way: with(known.outcome(&SPEED, "mm", way, at, "")).input("time", shelf.months, "months", None),
        share_gone: gone_outcome,
        yield_to_hold: with(known.outcome(&HOLD, "Pa", hold, None, "")).input(
            "safety factor",
            shelf.safety_factor,
            "",
            Some("common-practice"),
        ),
        largest_held: known
            .outcome(&HOLD, "um", largest, None, "drops as dense as the product are held at any size")
            .input("safety factor", shelf.safety_factor, "", Some("common-practice")),
        force,
        months_by_force,
        months,
        factor,
        bubbles: set.bubbles.diameters_mm.iter().map(|diameter| bubble(known, set, *diameter)).collect(),
        verdicts,
    }
}

/// Held surely with the safety factor, perhaps without it.
fn held(safety_factor: f64, yield_stress: Spread, hold: f64, bare: f64) -> Verdict {
    let holds = if yield_stress.low >= hold {
        Holds::Surely
    } else if yield_stress.high < bare || yield_stress.high <= 0.0 {
        Holds::Not
    } else {
        Holds::Perhaps
    };
    Verdict {
        question: "a yield stress holds the median drop for ever",
        holds,
        because: format!(
            "it takes {} Pa, {} Pa with a safety factor of {}; the product has {} Pa",
            figures(bare),
            figures(hold),
            figures(safety_factor),
            figures(yield_stress.value)
        ),
    }
}

fn spun(known: &Known<'_>, set: &Standing, drop: &Particle, share: f64) -> ([Outcome; 4], Verdict) {
    let on = &set.centrifuge;
    let run = Centrifuge { radius_m: 1e-3 * on.radius_mm, rpm: on.rpm, time_s: 60.0 * on.minutes };
    let force = run.force();
    let exact = |value: f64| Spread { value, low: value, high: value };
    let nominal = run.time_s * force / MONTH_S;
    let equals = |liquid: &dyn crate::flow::Liquid| run.equivalent(drop, liquid, share);
    let (months, factor) = (
        known.band.spread(|liquid| match equals(liquid) {
            Equivalence::Standing { time_s, .. } => time_s / MONTH_S,
            Equivalence::TornLoose | Equivalence::HeldInBoth => f64::INFINITY,
        }),
        known.band.spread(|liquid| match equals(liquid) {
            Equivalence::Standing { factor, .. } => factor,
            Equivalence::TornLoose | Equivalence::HeldInBoth => f64::INFINITY,
        }),
    );
    let (holds, because, never) = match equals(known.band.middle) {
        Equivalence::Standing { factor: middle, .. } => {
            let holds = Holds::within(factor, Some(1.0 / SAME), Some(SAME));
            let because = format!(
                "the drop exerts {} Pa at rest and {} Pa in the centrifuge; the viscosity there is {} times lower",
                figures(drop.stress()),
                figures(drop.stress() * force),
                figures(middle)
            );
            (holds, because, "")
        }
        Equivalence::TornLoose => (
            Holds::Not,
            format!(
                "the yield stress of {} Pa holds the drop at rest, and {} Pa tear it loose in the centrifuge",
                figures(known.band.middle.yield_stress()),
                figures(drop.stress() * force)
            ),
            "no standing time: the drop is held at rest and torn loose in the centrifuge",
        ),
        Equivalence::HeldInBoth => (
            Holds::Not,
            format!(
                "the yield stress of {} Pa holds the drop at rest and in the centrifuge",
                figures(known.band.middle.yield_stress())
            ),
            "no standing time: the drop is held in both",
        ),
    };
    let with = |outcome: Outcome| {
        outcome.input("distance from the axis", on.radius_mm, "mm", None).input("speed", on.rpm, "rpm", None)
    };
    let timed = |outcome: Outcome| with(outcome).input("time", on.minutes, "min", None);
    let pulled = Some(known.band.middle.rate(drop.stress() * force));
    let outcomes = [
        with(known.outcome(&FORCE, "g", exact(force), None, "")),
        timed(known.outcome(&SPUN, "months", exact(nominal), None, "")).note(
            "force-alone",
            "holds only where the viscosity is the same at both stresses and no yield stress holds at rest",
        ),
        timed(known.outcome(&SPUN, "months", months, pulled, never)),
        with(known.outcome(&SPUN, "", factor, pulled, never)),
    ];
    (
        outcomes,
        Verdict { question: "the centrifuge run is equivalent to its force times its time", holds, because },
    )
}

fn bubble(known: &Known<'_>, set: &Standing, diameter_mm: f64) -> BubbleReading {
    let air = &set.bubbles;
    let of = |density: f64| Particle {
        diameter_m: 1e-3 * diameter_mm,
        density_difference_kg_m3: AIR_KG_M3 - density,
        inner_viscosity_pa_s: None,
    };
    let time = known
        .with_density(|liquid, density| 1e-3 * air.depth_mm / of(density).speed_in(liquid, 0.0) / 3600.0);
    let rate = known.band.middle.rate(of(known.density_kg_m3.value).stress());
    // A bubble larger than this rises faster than Stokes' law holds for: the number is then a bound from below.
    let speed = of(known.density_kg_m3.value).speed_in(known.band.middle, 0.0);
    let viscosity = of(known.density_kg_m3.value).stress() / rate;
    let reynolds = known.density_kg_m3.value * speed * 1e-3 * diameter_mm / viscosity;
    let mut outcome = known
        .outcome(&BUBBLE, "h", time, Some(rate), HELD)
        .input("diameter", diameter_mm, "mm", None)
        .input("depth", air.depth_mm, "mm", None)
        .input("gravity", GRAVITY_M_S2, "m/s2", None);
    if reynolds > 0.5 {
        outcome = outcome.note(
            "fast",
            format!(
                "the bubble has a Reynolds number of {}: it rises slower than this says",
                figures(reynolds)
            ),
        );
    }
    let leaves = Verdict {
        question: "it leaves in the time there is",
        holds: Holds::within(time, None, Some(air.hours)),
        because: if time.value.is_finite() {
            format!("it takes {} h; there are {} h", figures(time.value), figures(air.hours))
        } else {
            HELD.to_owned()
        },
    };
    let exact = Spread { value: diameter_mm, low: diameter_mm, high: diameter_mm };
    const TYPED: Way = Way {
        method: "as typed",
        equation: "d",
        range: "any",
        proof: Some("exact arithmetic"),
        sources: &[],
    };
    BubbleReading { diameter: known.outcome(&TYPED, "mm", exact, None, ""), time: outcome, leaves }
}
