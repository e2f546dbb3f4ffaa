//! Warming, holding and cooling answered as results that explain themselves.

use super::medium::{MediumReading, medium};
use super::{Batch, JacketFlow, LossParts, Losses, Plate, Source, State};
use crate::flow::reading::figures;
use crate::heat::evaporation::{Room, Surface};
use crate::heat::film::{Film, Passage};
use crate::heat::settings::HeatLoss;
use crate::properties::BatchLiquid;
use crate::properties::water;
use levigate_measure::course::{Course, CourseError};
use levigate_measure::root::bracketed;
use levigate_measure::{Grade, Note, Outcome};
use serde::Serialize;

/// The case of the room.
const CROSS: &str = "tests/cross/heat.toml";
const METHOD: &str = "heat balance followed over time";
/// Distance to boiling below which it is said, K.
const NEAR_BOILING_K: f64 = 5.0;
/// Points of the course that are told, at most, of each stage.
const TOLD: usize = 12;
/// Temperature from which a vessel burns, C (common practice, no source).
const BURNS_C: f64 = 50.0;

/// What warms or cools.
#[derive(Clone)]
pub enum Warmer<'l> {
    /// A hot plate.
    Plate(Plate),
    /// A jacket: what flows, how heat passes, area in m2.
    Jacket(JacketFlow, Passage<'l>, f64),
    /// The room alone.
    Room,
}

/// What is to be reached.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Goal {
    /// Temperature at the start, C.
    pub from_c: f64,
    /// To be reached, C.
    pub to_c: f64,
    /// To be held, s.
    pub hold_s: f64,
    /// To be cooled to, C.
    pub down_to_c: Option<f64>,
}

/// What is asked.
#[derive(Clone)]
pub struct Asked<'l> {
    /// Mass, kg.
    pub batch_kg: f64,
    /// Its liquid.
    pub liquid: BatchLiquid,
    /// Heat capacity of the vessel, J/K.
    pub vessel_j_k: f64,
    /// Power of the stirrer that becomes heat, W.
    pub stirrer_w: f64,
    /// The surface.
    pub surface: Surface,
    /// Wall that loses heat while it warms and while it cools, m2.
    pub wall_m2: [f64; 2],
    /// The room.
    pub room: Room,
    /// How it loses heat.
    pub losses: &'l HeatLoss,
    /// What is to be reached.
    pub goal: Goal,
    /// What warms it.
    pub warmer: Warmer<'l>,
    /// What cools it.
    pub cooler: Warmer<'l>,
    /// How far film and contact may be off, part of one.
    pub doubt: f64,
    /// Sources of what it is computed with.
    pub sources: Vec<String>,
    /// What was assumed.
    pub assumed: Vec<Note>,
}

/// A stage.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct StageReading {
    /// Time, min.
    pub time: Outcome,
    /// Heat used, kJ.
    pub heat: Outcome,
    /// Water lost, g.
    pub water: Outcome,
}

/// Losses at the temperature to be reached.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LossReading {
    /// Through the wall, W.
    pub wall: Outcome,
    /// From the surface by convection, W.
    pub convection: Outcome,
    /// By radiation, W.
    pub radiation: Outcome,
    /// By evaporation, W.
    pub evaporation: Outcome,
    /// All: the power that holds it, W.
    pub total: Outcome,
}

/// How heat passes the wall, half way up.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FilmReading {
    /// Reynolds number.
    pub reynolds: Outcome,
    /// Viscosity at the impeller, mPa s.
    pub viscosity: Outcome,
    /// Film of the batch, W/(m2 K).
    pub inside: Outcome,
    /// Overall coefficient, W/(m2 K).
    pub overall: Outcome,
}

/// A point of the course.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PathPoint {
    /// Time, min.
    pub time: Outcome,
    /// Temperature, C.
    pub temperature: Outcome,
}

/// Warming, holding and cooling.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct HeatReading {
    /// Boiling point of the batch, C.
    pub boils: Outcome,
    /// Distance to it at the temperature to be reached, K.
    pub margin: Outcome,
    /// Temperature it would come to in the end, C.
    pub reachable: Outcome,
    /// Warming.
    pub heat_up: StageReading,
    /// Holding; the time as asked.
    pub hold: StageReading,
    /// Cooling, where it was asked.
    pub cool_down: Option<StageReading>,
    /// How far it would overshoot when the plate is switched off at the temperature to be reached, K.
    pub overshoot: Option<Outcome>,
    /// Temperature at which to switch the plate off instead, C.
    pub switch_off: Option<Outcome>,
    /// Losses.
    pub losses: LossReading,
    /// How heat passes the wall of a jacket, where it is computed.
    pub film: Option<FilmReading>,
    /// What flows through the jacket, where its flow is known: heating, cooling.
    pub medium: Vec<MediumReading>,
    /// The whole course.
    pub path: Vec<PathPoint>,
    /// What must be known of the whole.
    pub notes: Vec<Note>,
}

/// How the doubtful numbers lean: the warmer, the losses.
#[derive(Clone, Copy)]
struct Lean {
    source: f64,
    losses: f64,
}

impl Lean {
    const MIDDLE: Self = Self { source: 1.0, losses: 1.0 };
}

impl<'l> Asked<'l> {
    fn losses_of(&self, wall_m2: f64, lean: f64) -> Losses {
        Losses {
            wall_w_k: self.losses.wall_w_m2_k * wall_m2,
            surface_w_k: self.losses.surface_w_m2_k * self.surface.area_m2,
            emissivity: self.losses.emissivity,
            surface: self.surface,
            room: self.room,
            lean,
        }
    }

    fn batch(&self, by: &Warmer<'l>, wall_m2: f64, lean: Lean) -> Batch<'l> {
        let source = match by {
            Warmer::Plate(plate) => {
                Source::Plate(Plate { contact_w_k: lean.source * plate.contact_w_k, ..*plate })
            }
            Warmer::Jacket(flow, passage, area) => Source::Jacket(*flow, passage.clone(), *area, lean.source),
            Warmer::Room => Source::Room,
        };
        Batch {
            mass_kg: self.batch_kg,
            liquid: self.liquid,
            vessel_j_k: self.vessel_j_k,
            stirrer_w: self.stirrer_w,
            losses: self.losses_of(wall_m2, lean.losses),
            source,
        }
    }

    fn warming(&self, lean: Lean) -> Batch<'l> {
        self.batch(&self.warmer, self.wall_m2[0], lean)
    }

    fn cooling(&self, lean: Lean) -> Batch<'l> {
        self.batch(&self.cooler, self.wall_m2[1], lean)
    }

    /// The middle, the quickest and the slowest; losses help to cool.
    fn leans(&self, cools: bool) -> [Lean; 3] {
        let (source, losses) = (self.doubt, 0.01 * self.losses.doubt_percent);
        let sign = if cools { 1.0 } else { -1.0 };
        let of = |way: f64| Lean { source: 1.0 + way * source, losses: 1.0 + sign * way * losses };
        [Lean::MIDDLE, of(1.0), of(-1.0)]
    }

    /// Power that holds the batch at its goal against a loss, W: what the batch loses, and what the plate itself loses while it gives that.
    fn holding_w(&self, loss_w: f64) -> f64 {
        let given = (loss_w - self.stirrer_w).max(0.0);
        match &self.warmer {
            Warmer::Plate(plate) if given > 0.0 => {
                let plate_c = self.goal.to_c + given / plate.contact_w_k;
                given + plate.loss_w_k * (plate_c - self.room.air.temperature_c)
            }
            _ => given,
        }
    }

    pub(super) fn graded(&self, value: f64, unit: &'static str) -> Outcome {
        let mut outcome = Outcome::new(value, unit, Grade::Correlated, METHOD)
            .by("(m c_p + C_v) dT/dt = q + P_s - losses(T)")
            .valid_for("a batch stirred to one temperature, below boiling")
            .proved_by(CROSS);
        outcome.sources.clone_from(&self.sources);
        outcome
    }

    pub(super) fn spread(&self, [value, one, other]: [f64; 3], unit: &'static str) -> Outcome {
        let outcome = self.graded(value, unit);
        // Ends that are the value itself, but for its last bits, say nothing.
        if (one - other).abs() <= 1e-5 * value.abs() {
            outcome
        } else {
            outcome.within(one.min(other), one.max(other), None)
        }
    }
}

/// Answers how a batch is warmed, held and cooled.
///
/// # Errors
/// [`CourseError`] when a course cannot be followed.
pub fn heat(asked: &Asked<'_>) -> Result<HeatReading, CourseError> {
    let goal = asked.goal;
    let boils_c =
        water::boiling_c(asked.room.air.pressure_pa, asked.surface.water_activity).unwrap_or(f64::NAN);
    // Never as far as boiling: there the loss has no bound.
    let top_c = boils_c - 0.05;
    let reachable = reachable(asked, top_c);
    let mut notes = asked.assumed.clone();
    let (heat_up, warmed) = warm(asked, boils_c, &reachable, top_c)?;
    // What is never reached is neither held nor cooled from.
    let never = heat_up.time.refused.clone().filter(|_| goal.to_c > goal.from_c);
    let (cool_down, cooled) = match goal.down_to_c {
        Some(_) if never.is_some() => (never.as_deref().map(refused_stage), None),
        Some(down_to_c) => {
            let (stage, course) = cool(asked, down_to_c)?;
            (Some(stage), course)
        }
        None => (None, None),
    };
    let (overshoot, switch_off) = plate_hint(asked, warmed.as_ref())?;
    let at = asked.losses_of(asked.wall_m2[0], 1.0).at(goal.to_c.min(top_c));
    if goal.to_c.max(goal.from_c) >= BURNS_C {
        notes.push(Note::new(
            "hot",
            "hot vessel, liquid and steam burn: gloves and eyes covered, no closed vessel without relief, by the rules of your house and people trained \
             for it",
        ));
    }
    let plenty =
        |warmer: &Warmer<'_>| matches!(warmer, Warmer::Jacket(JacketFlow { flow_w_k: None, .. }, ..));
    if plenty(&asked.warmer) || goal.down_to_c.is_some() && plenty(&asked.cooler) {
        notes.push(Note::new(
            "plenty-of-flow",
            "where no flow through the jacket is given it is taken as plenty, or as steam: a pump that gives less makes it slower",
        ));
    }
    notes.push(Note::new(
        "one-temperature",
        "the batch is taken as stirred to one temperature: a thick gel at rest is hotter at the wall and colder within",
    ));
    Ok(HeatReading {
        boils: asked.graded(boils_c, "C").input("pressure", asked.room.air.pressure_pa, "Pa", None),
        margin: margin(asked, boils_c),
        reachable,
        heat_up,
        hold: never.as_deref().map_or_else(|| hold(asked, &at), refused_stage),
        cool_down,
        overshoot,
        switch_off,
        losses: loss_reading(asked, &at),
        film: film_reading(asked),
        medium: media(asked),
        path: path(asked, warmed.as_ref(), cooled.as_ref()),
        notes,
    })
}

fn margin(asked: &Asked<'_>, boils_c: f64) -> Outcome {
    let margin = asked.graded(boils_c - asked.goal.to_c, "K");
    if boils_c - asked.goal.to_c < NEAR_BOILING_K {
        return margin.note(
            "near-boiling",
            "near boiling: at the hot wall it boils already, foams and loses far more water than told",
        );
    }
    margin
}

fn reachable(asked: &Asked<'_>, top_c: f64) -> Outcome {
    let each = asked.leans(false).map(|lean| asked.warming(lean).settles_c(asked.goal.from_c, top_c));
    let outcome = asked.spread(each, "C");
    match each {
        [middle, ..] if middle >= top_c => outcome.note("boils", "it would go on to boil"),
        [_, quick, _] if quick >= top_c => {
            outcome.note("perhaps-boils", "at the most that the losses leave it would go on to boil")
        }
        _ => outcome,
    }
}

type Warmed = Option<Course<6>>;

fn refused_stage(why: &str) -> StageReading {
    let of = |unit: &'static str| Outcome::refuse(unit, METHOD, why);
    StageReading { time: of("min"), heat: of("kJ"), water: of("g") }
}

/// A stage by the middle and both ends; an end that never arrives leaves its interval open.
fn stage(asked: &Asked<'_>, courses: &[Course<6>; 3]) -> StageReading {
    let each = |of: fn(f64, State) -> f64| {
        [0, 1, 2].map(|which| {
            let (time, state) = courses[which].end();
            if courses[which].reached { of(time, state) } else { f64::INFINITY }
        })
    };
    let with = |outcome: Outcome| {
        if courses[2].reached {
            outcome
        } else {
            outcome.note(
                "perhaps-never",
                "at the worst of what the losses and coefficients may be it never gets there",
            )
        }
    };
    StageReading {
        time: with(asked.spread(each(|time, _| time / 60.0), "min")),
        heat: with(asked.spread(each(|_, state| 1e-3 * state[4].abs()), "kJ")),
        water: with(asked.spread(each(|_, state| 1e3 * state[5]), "g")),
    }
}

fn warm(
    asked: &Asked<'_>,
    boils_c: f64,
    reachable: &Outcome,
    top_c: f64,
) -> Result<(StageReading, Warmed), CourseError> {
    let Goal { from_c, to_c, .. } = asked.goal;
    let reachable_c = reachable.value.unwrap_or(from_c);
    let why = if to_c <= from_c {
        Some(format!("it is at {} C already", figures(from_c)))
    } else if to_c >= top_c {
        Some(format!("it boils at {} C", figures(boils_c)))
    } else if to_c >= reachable_c {
        let perhaps = match (reachable.low, reachable.high) {
            (Some(low), Some(high)) => {
                format!(" (between {} and {} C by what is known of it)", figures(low), figures(high))
            }
            _ => String::new(),
        };
        Some(format!(
            "it comes to {} C at most{perhaps}, where the losses take all that is given: cover it, insulate it, or use a hotter or stronger source",
            figures(reachable_c)
        ))
    } else {
        None
    };
    if let Some(why) = why {
        return Ok((refused_stage(&why), None));
    }
    let [middle, quick, slow] =
        asked.leans(false).map(|lean| asked.warming(lean).until(Batch::start(from_c), to_c));
    let courses = [middle?, quick?, slow?];
    let stage = stage(asked, &courses);
    let [middle, ..] = courses;
    Ok((stage, Some(middle)))
}

fn cool(asked: &Asked<'_>, down_to_c: f64) -> Result<(StageReading, Warmed), CourseError> {
    let from_c = asked.goal.to_c;
    let batch = asked.cooling(Lean::MIDDLE);
    let coldest = match &asked.cooler {
        Warmer::Jacket(flow, ..) => flow.in_c.min(asked.room.air.temperature_c),
        Warmer::Plate(_) | Warmer::Room => asked.room.air.temperature_c,
    };
    let rests_c = batch.settles_c(coldest - 30.0, from_c);
    if down_to_c >= from_c || down_to_c <= rests_c {
        let why = if down_to_c >= from_c {
            format!("it starts at {} C", figures(from_c))
        } else {
            format!("it cools to {} C at the least: use something colder", figures(rests_c))
        };
        return Ok((refused_stage(&why), None));
    }
    let [middle, quick, slow] =
        asked.leans(true).map(|lean| asked.cooling(lean).until(Batch::start(from_c), down_to_c));
    let courses = [middle?, quick?, slow?];
    let stage = stage(asked, &courses);
    let [middle, ..] = courses;
    Ok((stage, Some(middle)))
}

fn hold(asked: &Asked<'_>, at: &LossParts) -> StageReading {
    let hold_s = asked.goal.hold_s;
    let doubt = 0.01 * asked.losses.doubt_percent;
    let each = |of: &dyn Fn(f64) -> f64| [1.0, 1.0 - doubt, 1.0 + doubt].map(of);
    StageReading {
        time: Outcome::new(hold_s / 60.0, "min", Grade::Computed, "as typed"),
        heat: asked.spread(each(&|lean| 1e-3 * asked.holding_w(lean * at.total()) * hold_s), "kJ"),
        water: asked.spread(each(&|lean| 1e3 * lean * at.water_kg_s * hold_s), "g"),
    }
}

/// How far the heat stored in a plate carries the batch on, and where to switch it off.
fn plate_hint(
    asked: &Asked<'_>,
    warmed: Option<&Course<6>>,
) -> Result<(Option<Outcome>, Option<Outcome>), CourseError> {
    let (Warmer::Plate(plate), Some(warmed)) = (&asked.warmer, warmed) else { return Ok((None, None)) };
    let off = Batch { source: Source::PlateOff(*plate), ..asked.warming(Lean::MIDDLE) };
    let peak = |state: State| off.until_rest(state).map(|course| course.end().1[0]);
    let overshoot = (peak(warmed.end().1)? - asked.goal.to_c).max(0.0);
    let on = asked.warming(Lean::MIDDLE);
    let miss = |celsius: f64| {
        on.until(Batch::start(asked.goal.from_c), celsius)
            .and_then(|course| peak(course.end().1))
            .map_or(f64::NAN, |peak| peak - asked.goal.to_c)
    };
    let switch = if overshoot > 0.0 {
        bracketed(miss, asked.goal.from_c, asked.goal.to_c, 0.01, 60).unwrap_or(asked.goal.from_c)
    } else {
        asked.goal.to_c
    };
    let hint = "read the thermometer: plates differ widely in what they store";
    let of = |value: f64, unit: &'static str| {
        let mut outcome = asked.graded(value, unit).note("stored", hint);
        outcome.grade = Grade::RuleOfThumb;
        outcome.input("heat capacity of the plate", plate.heat_capacity_j_k, "J/K", None)
    };
    Ok((Some(of(overshoot, "K")), Some(of(switch, "C"))))
}

fn loss_reading(asked: &Asked<'_>, at: &LossParts) -> LossReading {
    let doubt = 0.01 * asked.losses.doubt_percent;
    let with = |value: f64| {
        asked
            .spread([value, value * (1.0 - doubt), value * (1.0 + doubt)], "W")
            .input("room", asked.room.air.temperature_c, "C", None)
            .source(&asked.losses.source)
    };
    LossReading {
        wall: with(at.wall),
        convection: with(at.convection),
        radiation: with(at.radiation),
        evaporation: with(at.evaporation),
        total: with(at.total()),
    }
}

fn media(asked: &Asked<'_>) -> Vec<MediumReading> {
    let goal = asked.goal;
    let heats = medium(asked, "heats", &asked.warmer, [goal.from_c, goal.to_c]);
    let cools = goal.down_to_c.and_then(|down| medium(asked, "cools", &asked.cooler, [goal.to_c, down]));
    heats.into_iter().chain(cools).collect()
}

fn film_reading(asked: &Asked<'_>) -> Option<FilmReading> {
    let Warmer::Jacket(flow, passage @ Passage::Films(stirred, _), _) = &asked.warmer else { return None };
    let middle_c = 0.5 * (asked.goal.from_c + asked.goal.to_c);
    let overall =
        [1.0, 1.0 + asked.doubt, 1.0 - asked.doubt].map(|lean| passage.overall(middle_c, flow.in_c, lean));
    let Film { w_m2_k, reynolds, viscosity_pa_s, within, .. } = stirred.film(middle_c, middle_c);
    let with = |outcome: Outcome| {
        let outcome = outcome.input("at", middle_c, "C", None);
        if within {
            outcome
        } else {
            outcome.note("outside-range", "the Reynolds number lies outside of what the film was measured for: take it as an order of magnitude")
        }
    };
    Some(FilmReading {
        reynolds: with(asked.graded(reynolds, "")),
        viscosity: with(asked.graded(1e3 * viscosity_pa_s, "mPa s")),
        inside: with(
            asked.spread([w_m2_k, w_m2_k * (1.0 + asked.doubt), w_m2_k * (1.0 - asked.doubt)], "W/(m2 K)"),
        ),
        overall: with(asked.spread(overall, "W/(m2 K)")),
    })
}

/// The course of all stages, thinned out.
fn path(asked: &Asked<'_>, warmed: Option<&Course<6>>, cooled: Option<&Course<6>>) -> Vec<PathPoint> {
    let mut points: Vec<(f64, f64)> = Vec::new();
    let mut since = 0.0;
    if let Some(course) = warmed {
        points.extend(thinned(course));
        since = course.end().0 + asked.goal.hold_s;
        if asked.goal.hold_s > 0.0 {
            points.push((since, asked.goal.to_c));
        }
    }
    if let Some(course) = cooled {
        let skipped = usize::from(!points.is_empty());
        points
            .extend(thinned(course).into_iter().skip(skipped).map(|(time, celsius)| (since + time, celsius)));
    }
    points
        .into_iter()
        .map(|(time, celsius)| PathPoint {
            time: asked.graded(time / 60.0, "min"),
            temperature: asked.graded(celsius, "C"),
        })
        .collect()
}

fn thinned(course: &Course<6>) -> Vec<(f64, f64)> {
    let last = course.points.len().saturating_sub(1);
    let every = last.div_ceil(TOLD).max(1);
    let keep = |at: &usize| at.is_multiple_of(every) || *at == last;
    (0..=last).filter(keep).map(|at| (course.points[at].0, course.points[at].1[0])).collect()
}
