//! Out of the pack.

use super::{CROSS, Known, Verdict, Way, figures};
use crate::flow::band::{Holds, Spread};
use crate::flow::film::GRAVITY_M_S2;
use crate::flow::line::Line;
use crate::flow::liquid::Liquid;
use crate::flow::pipe::Tube;
use crate::flow::settings::{Bore, Dispensing, Drive};
use core::cell::RefCell;
use core::f64::consts::PI;
use levigate_measure::Outcome;
use serde::Serialize;

/// Reynolds number up to which a tube is taken as laminar.
const LAMINAR: f64 = 2000.0;

/// What comes out of the pack.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct DispenseReading {
    /// Flow that the pressure of the hand gives, mL/s.
    pub flow: Outcome,
    /// Volume of a stroke, mL: what is pushed in its time, what was drawn before, at most its full volume.
    pub dose: Outcome,
    /// Mass of that dose, g.
    pub mass: Outcome,
    /// Pressure that gives the full stroke in its time, kPa.
    pub pressure: Outcome,
    /// Force of the finger for it, N.
    pub force: Outcome,
    /// Pressure up to which nothing comes out, kPa.
    pub start_pressure: Outcome,
    /// Time in which the chamber of a pump fills again, s; nothing for a squeezed bottle.
    pub refill: Option<Outcome>,
    /// Whether the hand pushes the full stroke, whether the pump fills in time, whether the flow is laminar.
    pub verdicts: Vec<Verdict>,
    /// Each tube at the flow of the full stroke.
    pub tubes: Vec<TubeReading>,
}

/// A tube at the flow of the full stroke.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TubeReading {
    /// Which.
    pub name: &'static str,
    /// Shear rate at its wall, 1/s.
    pub shear_rate: Outcome,
    /// Stress at its wall, Pa.
    pub stress: Outcome,
    /// Viscosity at its wall, mPa s.
    pub viscosity: Outcome,
    /// Mean speed, m/s.
    pub speed: Outcome,
    /// Reynolds number.
    pub reynolds: Outcome,
}

const RANGE: &str =
    "laminar, no slip at the wall, long tubes; valves and entries take more, a gel that slips takes less";
const SOURCES: &[&str] = &["metzner-reed-1955", "rabinowitsch-1929"];

const FLOW: Way = Way {
    method: "flow through tubes in series",
    equation: "dP = sum of 2 L tau_w(Q) / R + rho g z, at most Q = A sqrt(2 dP / rho)",
    range: RANGE,
    proof: Some(CROSS),
    sources: SOURCES,
};
const DOSE: Way = Way {
    method: "least of the stroke, what the hand pushes and what was drawn",
    equation: "V = min(stroke, Q t, drawn)",
    range: RANGE,
    proof: Some(CROSS),
    sources: SOURCES,
};
const MASS: Way = Way {
    method: "volume times density",
    equation: "m = rho V",
    range: RANGE,
    proof: Some(CROSS),
    sources: SOURCES,
};
const PRESSURE: Way = Way { method: "pressure for the flow of a full stroke", ..FLOW };
const FORCE: Way = Way {
    method: "pressure times the area of the piston",
    equation: "F = dP pi d^2 / 4",
    range: "without friction of the piston and without its spring",
    proof: Some(CROSS),
    sources: SOURCES,
};
const START: Way = Way {
    method: "pressure at which the yield stress gives way in every tube",
    equation: "dP = sum of 2 L tau0 / R + rho g z",
    range: RANGE,
    proof: Some("crates/engine/process/src/flow/line.rs"),
    sources: SOURCES,
};
const REFILL: Way = Way {
    method: "full stroke through the dip tube at the suction of the pump",
    equation: "t = V / Q(suction)",
    range: RANGE,
    proof: Some(CROSS),
    sources: SOURCES,
};
const WALL: Way = Way {
    method: "at the wall of the tube",
    equation: "Q = pi R^3 / tau_w^3 integral of tau^2 g(tau)",
    range: RANGE,
    proof: Some(CROSS),
    sources: SOURCES,
};
const SPEED: Way = Way {
    method: "flow over the area of the tube",
    equation: "V = Q / (pi R^2)",
    range: "any flow",
    proof: Some("exact arithmetic"),
    sources: &[],
};
const REYNOLDS: Way = Way {
    method: "Reynolds number by the stress at the wall",
    equation: "Re = 8 rho V^2 / tau_w",
    range: "laminar below about 2000",
    proof: Some("crates/engine/process/src/flow/pipe.rs"),
    sources: &["metzner-reed-1955"],
};

const NO_FLOW: &str = "nothing flows: the pressure does not overcome the yield stress in the tubes";
const NO_REFILL: &str =
    "the suction does not overcome the yield stress in the dip tube: the pump does not fill";

fn tube(bore: &Bore) -> Tube {
    Tube { radius_m: 0.5e-3 * bore.bore_mm, length_m: 1e-3 * bore.length_mm }
}

/// Flow that a pressure gives where all of it becomes speed in the narrowest tube, `Q = A sqrt(2 dP / rho)`: no liquid is faster.
fn freely(line: &Line, pressure_pa: f64) -> f64 {
    let area = line.tubes.iter().map(|tube| PI * tube.radius_m.powi(2)).fold(f64::INFINITY, f64::min);
    area * (2.0 * (pressure_pa - line.lift()).max(0.0) / line.density_kg_m3).sqrt()
}

struct Pack<'a> {
    known: &'a Known<'a>,
    set: &'a Dispensing,
}

impl Pack<'_> {
    fn line(&self, tubes: Vec<Tube>, rise_mm: f64, density_kg_m3: f64) -> Line {
        Line { tubes, rise_m: 1e-3 * rise_mm, density_kg_m3 }
    }

    /// What the hand pushes through.
    fn out(&self, density: f64) -> Line {
        match self.set.drive {
            Drive::Pump => self.line(vec![tube(&self.set.nozzle)], 0.0, density),
            Drive::Squeeze => {
                self.line(vec![tube(&self.set.dip_tube), tube(&self.set.nozzle)], self.set.rise_mm, density)
            }
        }
    }

    /// What the pump draws through.
    fn back(&self, density: f64) -> Line {
        self.line(vec![tube(&self.set.dip_tube)], self.set.rise_mm, density)
    }

    fn stroke_m3(&self) -> f64 {
        1e-6 * self.set.stroke_ml
    }

    fn full_flow(&self) -> f64 {
        self.stroke_m3() / self.set.stroke_s
    }

    fn pushed(&self, liquid: &dyn Liquid, density: f64) -> f64 {
        let (line, pressure) = (self.out(density), 1e3 * self.set.pressure_kpa);
        line.flow_for(liquid, pressure).map_or(f64::NAN, |flow| flow.min(freely(&line, pressure)))
    }

    fn refill_s(&self, liquid: &dyn Liquid, density: f64) -> f64 {
        let (line, suction) = (self.back(density), 1e3 * self.set.suction_kpa);
        let drawn = line.flow_for(liquid, suction).map(|flow| flow.min(freely(&line, suction)));
        drawn.map_or(f64::NAN, |flow| self.stroke_m3() / flow)
    }

    fn pause_s(&self) -> f64 {
        (self.set.interval_s - self.set.stroke_s).max(0.0)
    }

    /// Pushed flow and refill time of each edge at a density; what a dose needs is worked out once.
    fn moves(&self, density: f64) -> [Moves; 3] {
        self.known.band.each(|liquid| Moves {
            pushed: self.pushed(liquid, density),
            refill_s: match self.set.drive {
                Drive::Pump => self.refill_s(liquid, density),
                Drive::Squeeze => 0.0,
            },
        })
    }

    /// Volume of a stroke, m3.
    fn dose(&self, moves: Moves) -> f64 {
        let drawn = if moves.refill_s > 0.0 {
            self.stroke_m3() * (self.pause_s() / moves.refill_s).min(1.0)
        } else {
            self.stroke_m3()
        };
        self.stroke_m3().min(moves.pushed * self.set.stroke_s).min(drawn)
    }

    fn tube_reading(&self, at: &TubeAt) -> TubeReading {
        let (known, tube, flow) = (self.known, at.tube, self.full_flow());
        let [stress, rate, viscosity] = [
            Spread::of(at.walls.map(|wall| wall.stress)),
            Spread::of(at.walls.map(|wall| wall.rate)),
            Spread::of(at.walls.map(|wall| 1e3 * wall.stress / wall.rate)),
        ];
        let reynolds = known.over_density(|density| {
            Spread::of(at.walls.map(|wall| tube.reynolds_of(density, flow, wall.stress)))
        });
        let decides = Some(rate.value);
        let speed = tube.speed(flow);
        TubeReading {
            name: at.name,
            shear_rate: known.outcome(&WALL, "1/s", rate, decides, NO_FLOW),
            stress: known.outcome(&WALL, "Pa", stress, decides, NO_FLOW),
            viscosity: known.outcome(&WALL, "mPa s", viscosity, decides, NO_FLOW),
            speed: known.outcome(&SPEED, "m/s", Spread { value: speed, low: speed, high: speed }, None, ""),
            reynolds: known.outcome(&REYNOLDS, "", reynolds, decides, NO_FLOW),
        }
    }

    fn tube_at(&self, name: &'static str, bore: &Bore) -> TubeAt {
        let tube = tube(bore);
        let walls = self.known.band.each(|liquid| {
            let stress = tube.wall_stress_of(liquid, self.full_flow()).unwrap_or(f64::NAN);
            Wall { stress, rate: liquid.rate(stress) }
        });
        TubeAt { name, tube, walls }
    }
}

/// What a liquid does in the pack.
#[derive(Clone, Copy)]
struct Moves {
    pushed: f64,
    refill_s: f64,
}

/// The wall of a tube at the flow of the full stroke.
#[derive(Clone, Copy)]
struct Wall {
    stress: f64,
    rate: f64,
}

/// A tube with its wall for the thin edge, the liquid itself and the thick edge.
struct TubeAt {
    name: &'static str,
    tube: Tube,
    walls: [Wall; 3],
}

/// Answers for a pack.
#[must_use]
pub fn dispense(known: &Known<'_>, set: &Dispensing) -> DispenseReading {
    let pack = Pack { known, set };
    let (dip, nozzle) = (pack.tube_at("dip tube", &set.dip_tube), pack.tube_at("nozzle", &set.nozzle));
    // The hand feels the nozzle of a pump first, the dip tube of a bottle.
    let order = match set.drive {
        Drive::Pump => [&nozzle, &dip],
        Drive::Squeeze => [&dip, &nozzle],
    };
    let tubes = order.map(|at| pack.tube_reading(at)).to_vec();
    let (decides, in_dip) = (Some(nozzle.walls[1].rate), Some(dip.walls[1].rate));
    // Every answer below needs them at the same few densities: worked out once.
    let worked_out = RefCell::new(Vec::<(f64, [Moves; 3])>::new());
    let moves_at = |density: f64| {
        let known = worked_out.borrow().iter().find(|(at, _)| *at == density).map(|(_, moves)| *moves);
        known.unwrap_or_else(|| {
            let moves = pack.moves(density);
            worked_out.borrow_mut().push((density, moves));
            moves
        })
    };
    let of_moves = |number: &dyn Fn(Moves, f64) -> f64| {
        known.over_density(|density| Spread::of(moves_at(density).map(|moves| number(moves, density))))
    };
    let flow = of_moves(&|moves, _| moves.pushed);
    let dose = of_moves(&|moves, _| pack.dose(moves));
    let mass = of_moves(&|moves, density| pack.dose(moves) * density);
    let refill = of_moves(&|moves, _| moves.refill_s);
    let pushed_through: &[&TubeAt] = match set.drive {
        Drive::Pump => &[&nozzle],
        Drive::Squeeze => &[&dip, &nozzle],
    };
    let pressure = known.over_density(|density| {
        let lift = pack.out(density).lift();
        Spread::of([0, 1, 2].map(|edge| {
            lift + pushed_through.iter().map(|at| at.tube.pressure(at.walls[edge].stress)).sum::<f64>()
        }))
    });
    let area = PI / 4.0 * (1e-3 * set.piston_mm).powi(2);
    let start = known.with_density(|liquid, density| pack.out(density).start_pressure(liquid));
    let refill_reading = (set.drive == Drive::Pump).then(|| {
        let mut outcome = known.outcome(&REFILL, "s", refill, in_dip, NO_REFILL);
        outcome = outcome.input("suction", set.suction_kpa, "kPa", None);
        outcome.input("stroke", set.stroke_ml, "mL", None)
    });
    let mut verdicts = vec![pushes(set, pressure)];
    if set.drive == Drive::Pump {
        verdicts.push(fills(&pack, refill));
    }
    verdicts.push(laminar(&tubes));
    DispenseReading {
        flow: at_speed(known, set, &pack, flow, decides),
        dose: known
            .outcome(&DOSE, "mL", dose.times(1e6), decides, NO_FLOW)
            .input("stroke", set.stroke_ml, "mL", None)
            .input("time of a stroke", set.stroke_s, "s", None)
            .input("time to the next", set.interval_s, "s", None),
        mass: known.outcome(&MASS, "g", mass.times(1e3), decides, NO_FLOW).input(
            "density",
            known.density_kg_m3.value,
            "kg/m3",
            None,
        ),
        pressure: known
            .outcome(&PRESSURE, "kPa", pressure.times(1e-3), decides, NO_FLOW)
            .input("stroke", set.stroke_ml, "mL", None)
            .input("time of a stroke", set.stroke_s, "s", None),
        force: known.outcome(&FORCE, "N", pressure.times(area), decides, NO_FLOW).input(
            "diameter of the piston",
            set.piston_mm,
            "mm",
            None,
        ),
        start_pressure: known.outcome(&START, "kPa", start.times(1e-3), None, NO_FLOW),
        refill: refill_reading,
        verdicts,
        tubes,
    }
}

/// The flow, with a note where the liquid is so thin that its own mass holds it back and not the tubes.
fn at_speed(
    known: &Known<'_>,
    set: &Dispensing,
    pack: &Pack<'_>,
    flow: Spread,
    decides: Option<f64>,
) -> Outcome {
    let outcome = known.outcome(&FLOW, "mL/s", flow.times(1e6), decides, NO_FLOW).input(
        "pressure of the hand",
        set.pressure_kpa,
        "kPa",
        None,
    );
    let bound = freely(&pack.out(known.density_kg_m3.value), 1e3 * set.pressure_kpa);
    if flow.value < 0.5 * bound {
        return outcome;
    }
    outcome.note(
        "inertia",
        "so fast that its own mass and not the tubes hold it back: an upper bound; a hand never presses a thin liquid that hard",
    )
}

fn pushes(set: &Dispensing, pressure: Spread) -> Verdict {
    let holds = Holds::within(pressure, None, Some(1e3 * set.pressure_kpa));
    Verdict {
        question: "the hand pushes the full stroke in its time",
        holds,
        because: format!(
            "it takes {} kPa ({} to {}); the hand has {} kPa",
            figures(1e-3 * pressure.value),
            figures(1e-3 * pressure.low),
            figures(1e-3 * pressure.high),
            figures(set.pressure_kpa)
        ),
    }
}

fn fills(pack: &Pack<'_>, refill: Spread) -> Verdict {
    let pause = pack.pause_s();
    let because = if refill.value.is_finite() {
        format!(
            "it takes {} s ({} to {}); the pause is {} s",
            figures(refill.value),
            figures(refill.low),
            if refill.high.is_finite() { figures(refill.high) } else { "never".to_owned() },
            figures(pause)
        )
    } else {
        let start = pack.known.band.middle.yield_stress() * 2.0 * pack.set.dip_tube.length_mm
            / (0.5 * pack.set.dip_tube.bore_mm);
        let lift = pack.known.density_kg_m3.value * GRAVITY_M_S2 * 1e-3 * pack.set.rise_mm;
        format!(
            "the suction of {} kPa does not overcome the {} kPa that yield stress and column take",
            figures(pack.set.suction_kpa),
            figures(1e-3 * (start + lift))
        )
    };
    Verdict {
        question: "the pump fills before the next stroke",
        holds: Holds::within(refill, None, Some(pause)),
        because,
    }
}

fn laminar(tubes: &[TubeReading]) -> Verdict {
    let worst = tubes
        .iter()
        .filter_map(|tube| {
            let value = tube.reynolds.value?;
            let spread = Spread {
                value,
                low: tube.reynolds.low.unwrap_or(value),
                high: tube.reynolds.high.unwrap_or(value),
            };
            Some((tube.name, spread))
        })
        .max_by(|a, b| a.1.high.total_cmp(&b.1.high));
    match worst {
        Some((name, spread)) => Verdict {
            question: "the flow is laminar, so that these numbers hold",
            holds: Holds::within(spread, None, Some(LAMINAR)),
            because: format!(
                "Reynolds number {} in the {name}; laminar below about {LAMINAR}",
                figures(spread.value)
            ),
        },
        None => Verdict {
            question: "the flow is laminar, so that these numbers hold",
            holds: Holds::Perhaps,
            because: "the Reynolds number could not be computed".to_owned(),
        },
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::flow::band::Band;
    use crate::flow::pipe::HerschelBulkley;
    use levigate_measure::Grade;

    fn pack() -> Dispensing {
        let bore = |bore_mm, length_mm| Bore { bore_mm, length_mm };
        Dispensing {
            drive: Drive::Pump,
            stroke_ml: 0.5,
            stroke_s: 0.5,
            interval_s: 1.5,
            pressure_kpa: 60.0,
            piston_mm: 12.0,
            suction_kpa: 30.0,
            rise_mm: 80.0,
            dip_tube: bore(2.5, 110.0),
            nozzle: bore(1.5, 25.0),
            reason: String::new(),
            source: String::new(),
        }
    }

    fn read(consistency: f64, set: &Dispensing) -> DispenseReading {
        let liquid = HerschelBulkley { yield_pa: 0.0, consistency, index: 1.0 };
        let known = Known {
            band: Band::exact(&liquid),
            density_kg_m3: Spread { value: 1000.0, low: 990.0, high: 1010.0 },
            grade: Grade::Computed,
            coverage: None,
            window: None,
            from: String::new(),
        };
        dispense(&known, set)
    }

    #[test]
    fn water_is_no_faster_than_its_pressure_makes_it() {
        let reading = read(1e-3, &pack());
        // 1.5 mm, 60 kPa: pi / 4 d^2 sqrt(2 dP / rho) = 19.36 mL/s.
        assert!((reading.flow.value.unwrap() - 19.36).abs() < 0.01, "{:?}", reading.flow.value);
        assert!(reading.flow.notes.iter().any(|note| note.code == "inertia"));
        assert_eq!(reading.dose.value, Some(0.5));
    }

    #[test]
    fn a_thick_liquid_gives_what_hagen_and_poiseuille_say_and_a_pump_that_is_not_full_gives_less() {
        let reading = read(0.5, &pack());
        // 1.5 mm by 25 mm, 0.5 Pa s, 1 mL/s: 8 eta L Q / (pi R^4) = 100.6 kPa; 60 kPa give 0.596 mL/s and 0.298 mL in half a second.
        assert!((reading.pressure.value.unwrap() - 100.6).abs() < 0.1, "{:?}", reading.pressure.value);
        assert!((reading.dose.value.unwrap() - 0.298).abs() < 0.001, "{:?}", reading.dose.value);
        let mass = &reading.mass;
        assert!((mass.value.unwrap() - 0.298).abs() < 0.001);
        assert!(mass.low.unwrap() < mass.value.unwrap() && mass.high.unwrap() > mass.value.unwrap());
        // Two strokes a second and a dip tube of 1 mm: what was drawn decides.
        let hasty =
            Dispensing { interval_s: 0.6, dip_tube: Bore { bore_mm: 1.0, length_mm: 110.0 }, ..pack() };
        assert!(read(0.5, &hasty).dose.value.unwrap() < 0.01);
        assert_eq!(read(0.5, &hasty).verdicts[1].holds, Holds::Not);
    }
}
