//! One entry turned into points and statements.

use super::bench_file::{Disc, Entry, Instrument};
use super::together::plate_run;
use super::{BY_GEOMETRY, COVERAGE, EntryReading, PointRead, Statement, Trouble};
use crate::flow_file::USUAL_DENSITY;
use levigate_measure::{Grade, Note, Outcome};
use levigate_process::flow::band::Spread;
use levigate_process::flow::cup::{CupEquation, FlowCup};
use levigate_process::flow::rotor::{CoaxialCylinders, RotorError, RotorPoint, Turn};
use levigate_process::flow::run::Timed;
use levigate_process::flow::spindle::ACCURACY;
use levigate_process::flow::stated::{ReadWith, StatedViscosity};

/// The case of cups and cylinders.
pub(super) const PROOF: &str = "tests/published/flow_instruments.toml";
/// The cases of the geometries, closed forms and computed forward.
const PROOF_ROTOR: &str = "crates/engine/process/src/flow/rotor.rs";
const PROOF_RUN: &str = "crates/engine/process/src/flow/run.rs";
/// How far representative values of a narrow gap may lie off the curve, for a flow index from 0.3 up.
const REPRESENTATIVE: f64 = 0.01;
/// Share of the weight the jet may take before the number hangs on the correction.
const MUCH_JET: f64 = 0.1;

/// How a point came about.
struct Made<'a> {
    method: &'static str,
    equation: &'static str,
    range: &'static str,
    grade: Grade,
    proof: &'static str,
    source: Option<&'a str>,
    /// What the error of the reading makes of shear rate, stress and viscosity, relative; nothing where none was typed.
    errors: [f64; 3],
}

impl Made<'_> {
    /// A result: limits of the method widened by the error of what was read.
    fn outcome(&self, of: Spread, unit: &'static str, error: f64) -> Outcome {
        let mut outcome = Outcome::new(of.value, unit, self.grade, self.method)
            .by(self.equation)
            .valid_for(self.range)
            .proved_by(self.proof);
        if let Some(source) = self.source {
            outcome = outcome.source(source);
        }
        if of.low < of.high || error > 0.0 {
            let coverage = (error > 0.0).then_some(COVERAGE);
            outcome = outcome.within(of.low * (1.0 - error).max(0.0), of.high * (1.0 + error), coverage);
        }
        outcome
    }

    fn point(&self, shear_rate: Spread, stress: Spread, viscosity: Spread) -> PointRead {
        PointRead {
            shear_rate: self.outcome(shear_rate, "1/s", self.errors[0]),
            stress: self.outcome(stress, "Pa", self.errors[1]),
            viscosity: self.outcome(viscosity, "Pa s", self.errors[2]),
        }
    }
}

fn alone(value: f64) -> Spread {
    Spread { value, low: value, high: value }
}

fn off(value: f64, relative: f64) -> Spread {
    Spread { value, low: value * (1.0 - relative), high: value * (1.0 + relative) }
}

fn between(value: f64, other: f64) -> Spread {
    Spread { value, low: value.min(other), high: value.max(other) }
}

/// The answer to one entry.
pub(super) fn entry_reading(entry: &Entry) -> EntryReading {
    let mut answer = EntryReading {
        entry: entry.field.clone(),
        name: entry.name.clone(),
        with: String::new(),
        temperature_c: entry.temperature_c,
        age_h: entry.age_h,
        points: Vec::new(),
        statements: Vec::new(),
        notes: Vec::new(),
        trouble: None,
    };
    let done = match &entry.instrument {
        Instrument::Cup { cup, time_s } => cup_reading(entry, cup, *time_s, &mut answer),
        Instrument::Run { timed, tilt_deg, .. } => run_reading(entry, *timed, *tilt_deg, &mut answer),
        Instrument::Coaxial { cylinders, end_effect_assumed, turns } => {
            coaxial(entry, cylinders, *end_effect_assumed, turns, &mut answer)
        }
        Instrument::Cone { cone, turns } => {
            answer.with =
                format!("cone and plate, {} mm, {} degrees", millimetres(cone.radius_m), cone.angle_deg);
            let method = "cone and plate";
            let made =
                by_geometry(entry, method, "tau = 3 M/(2 pi R^3), g = w/alpha", "angles up to 4 degrees");
            rotor(&made, cone.points(turns), 0.0, &mut answer)
        }
        Instrument::Plates { plates, turns } => {
            let [radius, gap] = [plates.radius_m, plates.gap_m].map(millimetres);
            answer.with = format!("parallel plates, {radius} mm, gap {gap} mm");
            let method = "parallel plates, at the rim by the local slope";
            let equation = "tau = M/(2 pi R^3) (3 + d ln M/d ln w), g = w R/h";
            let made = by_geometry(entry, method, equation, "no slip, no edge that dries or breaks");
            rotor(&made, plates.rim_points(turns), 0.0, &mut answer)
        }
        Instrument::Disc(disc) => disc_reading(entry, disc, &mut answer),
    };
    if let Err(trouble) = done {
        answer.trouble = Some(trouble);
    }
    if entry.error_percent.is_none() && !answer.points.is_empty() {
        let text = "no error of what was read is given (error_percent): the interval is that of the conversion alone, \
                    and there is none where the conversion is exact";
        answer.notes.push(Note::new("error-not-stated", text));
    }
    answer
}

/// Millimetres for people: what is typed comes back without the dust of the conversion.
fn millimetres(metres: f64) -> f64 {
    (metres * 1e9).round() / 1e6
}

fn relative_error(entry: &Entry) -> f64 {
    entry.error_percent.map_or(0.0, |percent| percent / 100.0)
}

/// A torque read makes stress and viscosity uncertain, not the shear rate that was set.
fn of_torque(entry: &Entry) -> [f64; 3] {
    let error = relative_error(entry);
    [0.0, error, error]
}

fn density(entry: &Entry, notes: &mut Vec<Note>) -> f64 {
    entry.density_kg_m3.unwrap_or_else(|| {
        let text = format!("no density was given: that of water, {USUAL_DENSITY} kg/m3, is taken");
        notes.push(Note::new("assumed", text));
        USUAL_DENSITY
    })
}

fn stated(entry: &Entry, viscosity_pa_s: f64, read_with: ReadWith) -> StatedViscosity {
    let (temperature_c, age_h) = (entry.temperature_c, entry.age_h);
    let read_with = Some(read_with);
    StatedViscosity { viscosity_pa_s, read_with, rpm: None, percent: None, temperature_c, age_h }
}

fn statement(viscosity: Outcome, stated: StatedViscosity) -> Statement {
    Statement { viscosity, words: stated.statement(), stated }
}

fn cup_reading(entry: &Entry, cup: &FlowCup, time_s: f64, answer: &mut EntryReading) -> Result<(), Trouble> {
    answer.with.clone_from(&cup.name);
    let density = density(entry, &mut answer.notes);
    let reading = cup
        .reading(time_s, density)
        .map_err(|error| Trouble { what: error.to_string(), what_now: error.hint().to_owned() })?;
    // How much faster the viscosity changes than the time, which the jet shortens.
    let grows = match cup.equation {
        CupEquation::Nozzle { .. } => (1.0 + reading.jet_share) / (1.0 - reading.jet_share),
        CupEquation::Line { .. } => 1.0 / (1.0 - reading.jet_share),
    };
    let error = relative_error(entry);
    let made = Made {
        method: "flow cup",
        equation: "nu = a t - b/t, or k (t - c); g = 4 V/(pi R^3 t) (3n + 1)/(4n)",
        range: "times the cup is made for; flow index 1 to 0.3; no yield stress",
        grade: Grade::Correlated,
        proof: PROOF,
        source: (cup.source != "measured").then_some(cup.source.as_str()),
        errors: [error, (grows - 1.0) * error, grows * error],
    };
    let [slow, fast] = reading.shear_rates;
    let viscosity = reading.viscosity_pa_s;
    let point = made.point(
        between(slow, fast),
        alone(reading.wall_stress_pa),
        between(viscosity, viscosity * slow / fast),
    );
    answer.notes.push(Note::new("not-at-one-shear-rate", reading.statement));
    if reading.jet_share > MUCH_JET {
        let text = format!(
            "{:.0} % of the weight went into the jet: the number hangs on that correction; take a smaller nozzle",
            100.0 * reading.jet_share
        );
        answer.notes.push(Note::new("kinetic-correction", text));
    }
    let of = stated(entry, viscosity, ReadWith::Cup { words: cup.name.clone() });
    answer.statements.push(statement(point.viscosity.clone(), of));
    answer.points.push(point);
    Ok(())
}

fn run_reading(entry: &Entry, timed: Timed, tilt_deg: f64, answer: &mut EntryReading) -> Result<(), Trouble> {
    let what = match timed {
        Timed::Mark { thickness_m } => format!("mark on a film of {} mm", millimetres(thickness_m)),
        Timed::Front { thickness_m } => format!("front of a film of {} mm", millimetres(thickness_m)),
        Timed::Dose { volume_per_width_m2 } => {
            format!("front of a dose of {} mm2", millimetres(volume_per_width_m2 * 1e3))
        }
    };
    answer.with = format!("{what} on a plate at {tilt_deg} degrees");
    density(entry, &mut answer.notes);
    let Some(run) = plate_run(entry) else { return Ok(()) };
    let point = run
        .point()
        .map_err(|error| Trouble { what: error.to_string(), what_now: error.hint().to_owned() })?;
    let error = relative_error(entry);
    let made = Made {
        method: "timed run on an inclined plate",
        equation: "mark tau = G h, g = 2 u/h; front g = 3 u/h; dose tau = 3/2 G A/x, g = 2/3 x^2/(t A); at flow index 1",
        range: "slow, wide against its thickness, no slip, no yield stress; a dose that has run far; flow index 1 to 0.3",
        grade: BY_GEOMETRY,
        proof: PROOF_RUN,
        source: Some(if matches!(timed, Timed::Dose { .. }) { "huppert-1982" } else { "jeffreys-1930" }),
        errors: [error, 0.0, error],
    };
    let [viscosity, rate] = point.thinnest;
    let read = made.point(
        between(point.shear_rate, rate),
        between(point.stress_pa, viscosity * rate),
        between(point.viscosity_pa_s, viscosity),
    );
    answer.notes.push(Note::new(
        "not-at-one-shear-rate",
        "exact for a liquid of one viscosity; for one that thins the limits are those of a flow index of 0.3, and runs of other tilt or thickness \
         under the same name give the index",
    ));
    let of = stated(entry, point.viscosity_pa_s, ReadWith::Cup { words: answer.with.clone() });
    answer.statements.push(statement(read.viscosity.clone(), of));
    answer.points.push(read);
    Ok(())
}

fn by_geometry(
    entry: &Entry,
    method: &'static str,
    equation: &'static str,
    range: &'static str,
) -> Made<'static> {
    let errors = of_torque(entry);
    Made { method, equation, range, grade: BY_GEOMETRY, proof: PROOF_ROTOR, source: None, errors }
}

/// Points of a rotor; each sets its shear rate, so each is a statement.
fn rotor(
    made: &Made<'_>,
    points: Result<Vec<RotorPoint>, RotorError>,
    method_off: f64,
    answer: &mut EntryReading,
) -> Result<(), Trouble> {
    let points =
        points.map_err(|error| Trouble { what: error.to_string(), what_now: error.hint().to_owned() })?;
    for point in points {
        let viscosity = point.stress_pa / point.shear_rate;
        let read =
            made.point(alone(point.shear_rate), off(point.stress_pa, method_off), off(viscosity, method_off));
        let with = ReadWith::ShearRate { shear_rate: four_figures(point.shear_rate) };
        let (temperature_c, age_h) = (answer.temperature_c, answer.age_h);
        let of = StatedViscosity {
            viscosity_pa_s: viscosity,
            read_with: Some(with),
            rpm: None,
            percent: None,
            temperature_c,
            age_h,
        };
        answer.statements.push(statement(read.viscosity.clone(), of));
        answer.points.push(read);
    }
    Ok(())
}

/// As many figures as a statement has use for.
fn four_figures(value: f64) -> f64 {
    format!("{value:.3e}").parse().unwrap_or(value)
}

fn coaxial(
    entry: &Entry,
    cylinders: &CoaxialCylinders,
    end_effect_assumed: bool,
    turns: &[Turn],
    answer: &mut EntryReading,
) -> Result<(), Trouble> {
    let [inner, outer, length] =
        [cylinders.inner_radius_m, cylinders.outer_radius_m, cylinders.length_m].map(millimetres);
    answer.with = format!("coaxial cylinders, {inner} in {outer} mm, {length} mm long");
    if end_effect_assumed {
        let text = format!(
            "an end effect of {:.2} is assumed, that of a bob with a cone of 120 degrees, three radii long",
            cylinders.end_effect
        );
        answer.notes.push(Note::new("assumed", text));
    }
    let wide = cylinders.wide();
    let by_slope = wide && turns.len() > 1;
    if wide && !by_slope {
        let text = format!(
            "the ratio of the radii, {:.3}, is beyond 1.2, where representative values are not meant; read at two speeds or more",
            cylinders.ratio()
        );
        answer.notes.push(Note::new("out-of-range", text));
    }
    if by_slope {
        let equation = "tau = M/(2 pi L Ri^2 cL), g = (2 w/n)/(1 - d^(-2/n))";
        let method = "coaxial cylinders, at the inner wall by the local slope";
        let made = by_geometry(entry, method, equation, "no slip, all of the gap flows");
        rotor(&made, cylinders.inner_points(turns), 0.0, answer)?;
    } else {
        let equation = "tau = (1 + d^2)/(2 d^2) M/(2 pi L Ri^2 cL), g = w (1 + d^2)/(d^2 - 1)";
        let method = "coaxial cylinders, representative values";
        let range = "ratio of radii up to 1.2, flow index from 0.3 up";
        let made = Made { proof: PROOF, ..by_geometry(entry, method, equation, range) };
        let off = if wide { 0.0 } else { REPRESENTATIVE };
        rotor(&made, cylinders.representative_points(turns), off, answer)?;
    }
    vortices(entry, cylinders, turns, answer);
    Ok(())
}

/// Warns of vortices, once, at the speed where they are strongest.
fn vortices(entry: &Entry, cylinders: &CoaxialCylinders, turns: &[Turn], answer: &mut EntryReading) {
    let density = entry.density_kg_m3.unwrap_or(USUAL_DENSITY);
    let strongest = turns.iter().filter_map(|turn| {
        let point = cylinders.representative_points(&[*turn]).ok()?.pop()?;
        let viscosity = point.stress_pa / point.shear_rate;
        Some((cylinders.taylor_number(turn.rad_per_s, density, viscosity), turn.rad_per_s, viscosity))
    });
    let strongest = strongest.max_by(|a, b| a.0.total_cmp(&b.0));
    let warning = strongest.and_then(|(_, speed, viscosity)| cylinders.vortices(speed, density, viscosity));
    if let Some(warning) = warning {
        answer.notes.push(Note::new("vortices", warning));
    }
}

fn disc_reading(entry: &Entry, disc: &Disc, answer: &mut EntryReading) -> Result<(), Trouble> {
    let spindle = &disc.spindle;
    answer.with = format!("{}, {:.1} uN m", spindle.words(), disc.torque_n_m * 1e6);
    answer.notes.extend(disc.assumptions.iter().map(|text| Note::new("assumed", text.clone())));
    let mut made = Made {
        method: "as the instrument shows it",
        equation: "A/100 F M/M_ref/N",
        range: "this spindle, speed, temperature and age",
        grade: Grade::Measured,
        proof: "crates/engine/process/src/flow/spindle.rs",
        source: Some(spindle.source.as_str()),
        errors: of_torque(entry),
    };
    for reading in &disc.readings {
        let shown = spindle.dial_viscosity(*reading, disc.torque_n_m);
        let of = StatedViscosity {
            rpm: Some(reading.rpm),
            percent: Some(four_figures(reading.percent)),
            ..stated(
                entry,
                shown,
                ReadWith::Spindle {
                    words: spindle.words(),
                    diameter_mm: Some(spindle.diameter_mm),
                    torque_n_m: disc.torque_said.then_some(disc.torque_n_m),
                },
            )
        };
        let mut viscosity = made.outcome(alone(shown), "Pa s", made.errors[2]);
        for doubt in of.doubts() {
            viscosity = viscosity.note("doubt", doubt);
        }
        answer.statements.push(statement(viscosity, of));
    }
    made.method = "disc spindle, by the local slope";
    made.equation = "tau = k_a A M/M_ref, g = k_N(n) N, n = d ln tau/d ln N";
    made.range = "a vessel wide against the disc; flow index 0.1 to 1";
    made.grade = Grade::Correlated;
    made.proof = "tests/tests/flow_instruments.rs";
    let points = spindle
        .flow_points(&disc.readings, disc.torque_n_m)
        .map_err(|error| Trouble { what: error.to_string(), what_now: error.hint().to_owned() })?;
    if points.iter().any(|point| point.held) {
        let text = "where the stress rises faster than the speed or hardly at all, the flow index was held at the end of the table, 1 or 0.1";
        answer.notes.push(Note::new("out-of-range", text));
    }
    answer.points = points
        .into_iter()
        .map(|point| {
            let viscosity = point.stress_pa / point.shear_rate;
            made.point(alone(point.shear_rate), off(point.stress_pa, ACCURACY), off(viscosity, ACCURACY))
        })
        .collect();
    Ok(())
}
