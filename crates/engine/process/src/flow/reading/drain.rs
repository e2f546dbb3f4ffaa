//! Over the skin: does it run off, how far does a dose run, does it stand, does it level, what does the finger feel.

use super::{CROSS, Known, Verdict, Way, figures};
use crate::flow::band::{Holds, Spread};
use crate::flow::dose::Patch;
use crate::flow::film::{GRAVITY_M_S2, Incline};
use crate::flow::heap::{Heap, puddle_height};
use crate::flow::levelling::Marks;
use crate::flow::settings::{Draining, OnHand};
use crate::flow::spreading::Finger;
use levigate_measure::Outcome;
use serde::Serialize;

/// What it does on a surface.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct DrainReading {
    /// Thickest film that stays on the slope, mm.
    pub thickest_film: Outcome,
    /// Speed of the surface of the film as put on, mm/s.
    pub surface_speed: Outcome,
    /// Thickness left at the distance after the time, mm; never more than was put on.
    pub left: Outcome,
    /// Time until the film has drained to the thickness asked for, s.
    pub drain_time: Outcome,
    /// How far the dose runs in the time, mm.
    pub run: Outcome,
    /// How far it runs until a yield stress stops it, mm.
    pub run_to_rest: Outcome,
    /// Height of the dose on a level hand, mm.
    pub heap_height: Outcome,
    /// Width of the dose on a level hand, mm.
    pub heap_width: Outcome,
    /// Yield stress from which the dose stands as put, Pa.
    pub yield_to_stand: Outcome,
    /// Height at which surface tension alone holds a puddle, mm.
    pub puddle_height: Outcome,
    /// Time until the marks of the finger have fallen to the share asked for, s.
    pub level_time: Outcome,
    /// Half the height of the marks that stay for good, um.
    pub marks_left: Outcome,
    /// Shear rate under the finger, 1/s.
    pub finger_rate: Outcome,
    /// Stress on the skin under the finger, Pa.
    pub drag: Outcome,
    /// Force along the skin, N.
    pub drag_force: Outcome,
    /// Mean pressure by which the film carries a slanting finger, kPa.
    pub wedge_pressure: Outcome,
    /// Whether the film stays, whether the dose runs, whether it stands, whether it levels.
    pub verdicts: Vec<Verdict>,
}

const FILM_RANGE: &str =
    "film thin against its length, no inertia, no surface tension at the front, nothing dries";
const FILM_SOURCES: &[&str] = &["jeffreys-1930"];
const THICKEST: Way = Way {
    method: "yield stress against the weight along the slope",
    equation: "h0 = tau0 / (rho g sin(theta))",
    range: FILM_RANGE,
    proof: Some("crates/engine/process/src/flow/film.rs"),
    sources: FILM_SOURCES,
};
const SURFACE: Way = Way {
    method: "film on an incline",
    equation: "us = 1/G integral from 0 to G h of g(tau) dtau, G = rho g sin(theta)",
    range: FILM_RANGE,
    proof: Some(CROSS),
    sources: FILM_SOURCES,
};
const LEFT: Way = Way {
    method: "draining wave of a film on an incline",
    equation: "x / t = h g(G h)",
    range: FILM_RANGE,
    proof: Some("crates/engine/process/src/flow/film.rs"),
    sources: FILM_SOURCES,
};
const RUN: Way = Way {
    method: "gravity current of a patch that keeps its width",
    equation: "(h c - q) t = V / w, x = c t, c = dq/dh",
    range: "upper bound: no inertia, no sideways spread, no surface tension at the rim, which may hold a small dose of a thin liquid altogether",
    proof: Some(CROSS),
    sources: &["huppert-1982"],
};
const TO_REST: Way = Way {
    method: "volume over the film that the yield stress holds",
    equation: "x = V / (w h0)",
    proof: Some(CROSS),
    ..RUN
};
const HEAP: Way = Way {
    method: "heap held by its yield stress",
    equation: "R = (225 rho g V^2 / (128 pi^2 tau0))^(1/5), h = sqrt(2 tau0 R / (rho g)); as put from tau0 = rho g H / sqrt(3)",
    range: "much wider than tall, or standing as put; between the two an estimate; no surface tension",
    proof: Some(CROSS),
    sources: &["roussel-coussot-2005"],
};
const STAND: Way = Way {
    method: "column that carries its own weight",
    equation: "tau0 = rho g H / sqrt(3), H the height of the dose as a ball",
    range: "a dose as tall as wide",
    proof: None,
    sources: &["roussel-coussot-2005"],
};
const PUDDLE: Way = Way {
    method: "surface tension against weight",
    equation: "hc = 2 sqrt(sigma / (rho g)) sin(theta_c / 2)",
    range: "a puddle wide against its height; the contact angle on skin differs from person to person",
    proof: Some("crates/engine/process/src/flow/heap.rs"),
    sources: &["de-gennes-2004"],
};
const LEVEL: Way = Way {
    method: "decay of a wave in a film by surface tension and weight",
    equation: "da/dt = -k q(tau_w), tau_w = h k a (sigma k^2 + rho g)",
    range: "marks low against the film and far apart against its thickness, level surface, nothing dries",
    proof: Some(CROSS),
    sources: &["orchard-1962"],
};
const MARKS_LEFT: Way = Way {
    method: "stress of the marks against the yield stress",
    equation: "a = tau0 / (h k (sigma k^2 + rho g))",
    proof: Some("crates/engine/process/src/flow/levelling.rs"),
    ..LEVEL
};
const FINGER: Way = Way {
    method: "plane Couette flow under the finger",
    equation: "g = U / h, tau = tau(g)",
    range: "smooth surfaces that do not give way, no slip; skin is rough and soft",
    proof: Some("crates/engine/process/src/flow/spreading.rs"),
    sources: &[],
};
const WEDGE: Way = Way {
    method: "wedge of a slanting finger, viscosity at its mean shear rate",
    equation: "p = 6 eta U l / (h1 - h2)^2 (ln(h1/h2) - 2 (h1 - h2)/(h1 + h2))",
    range: "Newtonian without flow to the sides: an upper bound; an estimate for other liquids",
    proof: Some(CROSS),
    sources: &["reynolds-1886"],
};

/// Way of a front that is seen as running, mm: common practice, no source.
const SEEN_MM: f64 = 1.0;

const STAYS: &str = "never: the yield stress holds the film";
const NO_REST: &str = "without a yield stress nothing brings it to rest but the rim and drying";
const NO_HEAP: &str = "without a yield stress it spreads until surface tension holds it";
const NEVER_LEVEL: &str = "never: the yield stress keeps higher marks than that";

fn incline(angle_deg: f64, density_kg_m3: f64) -> Incline {
    Incline { angle_deg, density_kg_m3, gravity_m_s2: GRAVITY_M_S2 }
}

fn patch(dose: &OnHand) -> Patch {
    Patch { volume_m3: 1e-6 * dose.dose_ml, width_m: 1e-3 * dose.width_mm, length_m: 1e-3 * dose.length_mm }
}

/// Answers for a surface.
#[must_use]
pub fn drain(known: &Known<'_>, set: &Draining) -> DrainReading {
    let (film, hand) = (film(known, set), hand(known, set));
    let (marks, finger) = (marks(known, set), finger(known, set));
    let [thickest_film, surface_speed, left, drain_time] = film.0;
    let [run, run_to_rest, heap_height, heap_width, yield_to_stand, puddle_height] = hand.0;
    let [level_time, marks_left] = marks.0;
    let [finger_rate, drag, drag_force, wedge_pressure] = finger;
    DrainReading {
        thickest_film,
        surface_speed,
        left,
        drain_time,
        run,
        run_to_rest,
        heap_height,
        heap_width,
        yield_to_stand,
        puddle_height,
        level_time,
        marks_left,
        finger_rate,
        drag,
        drag_force,
        wedge_pressure,
        verdicts: [film.1, hand.1, marks.1].concat(),
    }
}

fn film(known: &Known<'_>, set: &Draining) -> ([Outcome; 4], Vec<Verdict>) {
    let on = &set.film;
    let (thick_m, distance_m) = (1e-3 * on.thickness_mm, 1e-3 * on.distance_mm);
    let wall = incline(on.angle_deg, known.density_kg_m3.value).pull_pa_m() * thick_m;
    let rate = known.band.middle.rate(wall);
    let drained = known.band.middle.rate(wall * on.down_to_mm / on.thickness_mm);
    let thickest =
        known.with_density(|liquid, density| 1e3 * incline(on.angle_deg, density).thickest_at_rest(liquid));
    let speed = known.with_density(|liquid, density| {
        1e3 * incline(on.angle_deg, density).surface_speed_of(liquid, thick_m)
    });
    let left = known.with_density(|liquid, density| {
        let left = incline(on.angle_deg, density).drained_thickness_of(liquid, distance_m, on.time_s);
        1e3 * left.min(thick_m)
    });
    let time = known.with_density(|liquid, density| {
        incline(on.angle_deg, density).time_to_drain_to(liquid, distance_m, 1e-3 * on.down_to_mm)
    });
    let with = |outcome: Outcome| {
        outcome.input("angle against the horizontal", on.angle_deg, "degrees", None).input(
            "density",
            known.density_kg_m3.value,
            "kg/m3",
            None,
        )
    };
    let at_edge =
        |outcome: Outcome| with(outcome).input("distance from the upper edge", on.distance_mm, "mm", None);
    // The film stays where the thickest that stays is not thinner than it.
    let verdict = Verdict {
        question: "a yield stress holds the film on the slope for ever",
        holds: Holds::within(thickest, Some(on.thickness_mm), None),
        because: format!(
            "{} mm stay at {} degrees; it is {} mm thick",
            figures(thickest.value),
            figures(on.angle_deg),
            figures(on.thickness_mm)
        ),
    };
    let outcomes = [
        with(known.outcome(&THICKEST, "mm", thickest, None, "")),
        with(known.outcome(&SURFACE, "mm/s", speed, Some(rate), "")).input(
            "thickness",
            on.thickness_mm,
            "mm",
            None,
        ),
        at_edge(known.outcome(&LEFT, "mm", left, Some(rate), "")).input("time", on.time_s, "s", None),
        at_edge(known.outcome(&LEFT, "s", time, Some(drained), STAYS)).input(
            "down to",
            on.down_to_mm,
            "mm",
            None,
        ),
    ];
    (outcomes, vec![verdict])
}

fn hand(known: &Known<'_>, set: &Draining) -> ([Outcome; 6], Vec<Verdict>) {
    let (dose, rim) = (&set.dose, &set.marks);
    let lies = patch(dose);
    let middle = incline(dose.angle_deg, known.density_kg_m3.value);
    let ran = lies.run(known.band.middle, &middle, dose.time_s);
    let rate = known.band.middle.rate(middle.pull_pa_m() * ran.front_m);
    // Nothing slides faster than without friction.
    let slide = 0.5 * middle.pull_pa_m() / known.density_kg_m3.value * dose.time_s.powi(2);
    let run = known.with_density(|liquid, density| {
        let way = lies.run(liquid, &incline(dose.angle_deg, density), dose.time_s).way_m;
        1e3 * way.min(slide)
    });
    let rest = known
        .with_density(|liquid, density| 1e3 * lies.run_to_rest(liquid, &incline(dose.angle_deg, density)));
    let heap = |density: f64, yield_pa: f64| Heap::of(yield_pa, density, lies.volume_m3);
    let height = known.with_density(|liquid, density| 1e3 * heap(density, liquid.yield_stress()).height_m);
    let width = known.with_density(|liquid, density| 2e3 * heap(density, liquid.yield_stress()).radius_m);
    let stand = known.with_density(|_, density| Heap::yield_to_stand(density, lies.volume_m3));
    let puddle = known.with_density(|_, density| {
        1e3 * puddle_height(1e-3 * rim.surface_tension_mn_m, density, rim.contact_angle_deg)
    });
    let with = |outcome: Outcome| outcome.input("dose", dose.dose_ml, "mL", None);
    let tilted = |outcome: Outcome| {
        with(outcome)
            .input("width of the patch", dose.width_mm, "mm", None)
            .input("length of the patch", dose.length_mm, "mm", None)
            .input("tilt", dose.angle_deg, "degrees", None)
    };
    let mut ran_outcome =
        tilted(known.outcome(&RUN, "mm", run, Some(rate), "")).input("time", dose.time_s, "s", None);
    if ran.reynolds > 1.0 {
        ran_outcome = ran_outcome.note(
            "inertia",
            format!(
                "the film at the front has a Reynolds number of {}: inertia slows it, the run is an upper bound",
                figures(ran.reynolds)
            ),
        );
    }
    let heap_outcome = |spread: Spread| {
        let outcome = with(known.outcome(&HEAP, "mm", spread, None, NO_HEAP));
        if height.value > 0.0 && height.value < puddle.value {
            outcome.note(
                "surface-tension",
                "lower than the puddle that surface tension holds: the rim decides, not the yield stress",
            )
        } else {
            outcome
        }
    };
    let stands = Verdict {
        question: "the dose stands as put",
        holds: Holds::within(known.band.spread(|liquid| liquid.yield_stress()), Some(stand.value), None),
        because: format!(
            "it takes a yield stress of {} Pa; it has {} Pa",
            figures(stand.value),
            figures(known.band.middle.yield_stress())
        ),
    };
    let runs = Verdict {
        question: "the dose is seen to run",
        holds: Holds::within(run, Some(SEEN_MM), None),
        because: format!(
            "its front moves {} mm ({} to {}) in {} s; seen from {SEEN_MM} mm on",
            figures(run.value),
            figures(run.low),
            figures(run.high),
            figures(dose.time_s)
        ),
    };
    let outcomes = [
        ran_outcome,
        tilted(known.outcome(&TO_REST, "mm", rest, None, NO_REST)),
        heap_outcome(height),
        heap_outcome(width),
        with(known.outcome(&STAND, "Pa", stand, None, "")),
        known
            .outcome(&PUDDLE, "mm", puddle, None, "")
            .input("surface tension", rim.surface_tension_mn_m, "mN/m", None)
            .input("contact angle", rim.contact_angle_deg, "degrees", None),
    ];
    (outcomes, vec![runs, stands])
}

fn marks(known: &Known<'_>, set: &Draining) -> ([Outcome; 2], Vec<Verdict>) {
    let on = &set.marks;
    let marks = |density_kg_m3: f64| Marks {
        film_m: 1e-6 * on.film_um,
        wavelength_m: 1e-3 * on.wavelength_mm,
        amplitude_m: 1e-6 * on.amplitude_um,
        surface_tension_n_m: 1e-3 * on.surface_tension_mn_m,
        density_kg_m3,
    };
    let share = 0.01 * on.left_percent;
    let rate = known.band.middle.rate(marks(known.density_kg_m3.value).wall_stress());
    let time = known.with_density(|liquid, density| marks(density).time_to(liquid, share));
    let left = known.with_density(|liquid, density| 1e6 * marks(density).amplitude_at_rest(liquid));
    let with = |outcome: Outcome| {
        outcome
            .input("film", on.film_um, "um", None)
            .input("distance of the marks", on.wavelength_mm, "mm", None)
            .input("half their height", on.amplitude_um, "um", None)
            .input("surface tension", on.surface_tension_mn_m, "mN/m", None)
    };
    let because = if time.value.is_finite() {
        format!(
            "it takes {} s ({} to {}); the film sets in {} s",
            figures(time.value),
            figures(time.low),
            if time.high.is_finite() { figures(time.high) } else { "never".to_owned() },
            figures(on.sets_s)
        )
    } else {
        format!("the yield stress keeps {} um of {} um", figures(left.value), figures(on.amplitude_um))
    };
    let verdict = Verdict {
        question: "the marks of the finger level out before the film sets",
        holds: Holds::within(time, None, Some(on.sets_s)),
        because,
    };
    let outcomes = [
        with(known.outcome(&LEVEL, "s", time, Some(rate), NEVER_LEVEL)).input(
            "left",
            on.left_percent,
            "%",
            None,
        ),
        with(known.outcome(&MARKS_LEFT, "um", left, None, "")),
    ];
    (outcomes, vec![verdict])
}

fn finger(known: &Known<'_>, set: &Draining) -> [Outcome; 4] {
    let on = &set.finger;
    let finger = Finger {
        speed_m_s: on.speed_m_s,
        film_m: 1e-6 * on.film_um,
        length_m: 1e-3 * on.length_mm,
        width_m: 1e-3 * on.width_mm,
    };
    let value = finger.shear_rate();
    let at = Some(value);
    let with = |outcome: Outcome| {
        outcome.input("speed", on.speed_m_s, "m/s", None).input("film", on.film_um, "um", None)
    };
    let sized = |outcome: Outcome| {
        with(outcome).input("length of the contact", on.length_mm, "mm", None).input(
            "width of the contact",
            on.width_mm,
            "mm",
            None,
        )
    };
    [
        with(known.outcome(&FINGER, "1/s", Spread { value, low: value, high: value }, at, "")),
        with(known.outcome(&FINGER, "Pa", known.band.spread(|liquid| finger.drag(liquid)), at, "")),
        sized(known.outcome(&FINGER, "N", known.band.spread(|liquid| finger.force(liquid)), at, "")),
        sized(known.outcome(
            &WEDGE,
            "kPa",
            known.band.spread(|liquid| 1e-3 * finger.wedge_pressure(liquid, on.opening)),
            at,
            "",
        ))
        .input("opening", on.opening, "", None),
    ]
}
