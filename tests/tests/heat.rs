//! Batches that warm and cool, against textbooks, closed forms and another program (`cross/heat.py`).

use levigate_process::flow::{FlowModel, Liquid, Modelled};
use levigate_process::heat::evaporation::{Room, Surface};
use levigate_process::heat::film::{Barrier, FilmLaw, Passage, Stirred};
use levigate_process::heat::settings::HeatLoss;
use levigate_process::heat::warming::{
    Asked, Batch, Goal, HeatReading, JacketFlow, Losses, Plate, Source, Warmer, heat,
};
use levigate_process::properties::{Air, BatchLiquid};
use levigate_process::scale_up::heated::HeatedScale;
use proptest::prelude::*;
use serde::Deserialize;
use serde::de::DeserializeOwned;
use std::collections::BTreeMap;
use std::f64::consts::PI;

fn cases<T: DeserializeOwned>(file: &str) -> T {
    let path = format!("{}/{file}", env!("CARGO_MANIFEST_DIR"));
    toml::from_str(&std::fs::read_to_string(path).expect("the case file is there")).expect("it is TOML")
}

#[track_caller]
fn near(what: &str, ours: f64, theirs: f64, off: f64) {
    assert!((ours / theirs - 1.0).abs() <= off, "{what}: {ours} against {theirs}");
}

#[derive(Deserialize)]
struct Published {
    bath: Bath,
    overall: Vec<Overall>,
    coil: Coil,
    lumped: Lumped,
    tank: Tank,
    isothermal: Vec<Isothermal>,
    scale_up: ScaleUp,
}

#[derive(Deserialize)]
struct Bath {
    water_c: f64,
    area_m2: f64,
    emissivity: f64,
    walls_c: f64,
    radiation_w: f64,
}

#[derive(Deserialize)]
struct Overall {
    inside: f64,
    wall: f64,
    lining: f64,
    outside: f64,
    overall: f64,
}

#[derive(Deserialize)]
struct Coil {
    factor: f64,
    power: f64,
    density_kg_m3: f64,
    heat_capacity_j_kg_k: f64,
    conductivity_w_m_k: f64,
    viscosity_pa_s: f64,
    wall_viscosity_pa_s: f64,
    film: f64,
}

#[derive(Deserialize)]
struct Lumped {
    density_kg_m3: f64,
    heat_capacity_j_kg_k: f64,
    volume_m3: f64,
    area_m2: f64,
    w_m2_k: f64,
    from_c: f64,
    to_c: f64,
    air_c: f64,
    hours: f64,
    rate_1_s: f64,
}

#[derive(Deserialize)]
struct Tank {
    mass_kg: f64,
    from_c: f64,
    to_c: f64,
    power_w: f64,
    hours: f64,
}

#[derive(Deserialize)]
struct Isothermal {
    mass_kg: f64,
    area_m2: f64,
    overall: f64,
    jacket_c: f64,
    from_c: f64,
    to_c: f64,
    minutes: f64,
}

#[derive(Deserialize)]
struct ScaleUp {
    wall_per_volume_1_ft: [f64; 2],
    bench_minutes: f64,
    plant_minutes: f64,
    times: f64,
}

/// A case of `heat.py`: its name, and numbers by their names.
#[derive(Deserialize)]
struct Cross {
    case: Vec<BTreeMap<String, toml::Value>>,
}

fn case(name: &str) -> impl Fn(&str) -> f64 {
    let all: Cross = cases("cross/heat.toml");
    let found = all.case.into_iter().find(|case| case["name"].as_str() == Some(name)).expect("the case");
    move |field| found[field].as_float().expect(field)
}

fn room(air_c: f64) -> Room {
    Room { air: Air::of_humidity(air_c, 0.5, 101_325.0), speed_m_s: 0.0 }
}

fn surface(area_m2: f64, open: f64) -> Surface {
    Surface { area_m2, open, water_activity: 1.0 }
}

fn losses(wall_m2: f64, area_m2: f64, open: f64) -> Losses {
    Losses {
        wall_w_k: 10.0 * wall_m2,
        surface_w_k: 5.0 * area_m2,
        emissivity: 0.95,
        surface: surface(area_m2, open),
        room: room(22.0),
        lean: 1.0,
    }
}

fn batch<'l>(mass_kg: f64, losses: Losses, source: Source<'l>) -> Batch<'l> {
    Batch { mass_kg, liquid: BatchLiquid::WATER, vessel_j_k: 0.0, stirrer_w: 0.0, losses, source }
}

fn seconds(batch: &Batch<'_>, from_c: f64, to_c: f64) -> f64 {
    let course = batch.until(Batch::start(from_c), to_c).expect("a course");
    assert!(course.reached);
    course.end().0
}

const NO_LOSS: f64 = 0.0;
const STEADY: BatchLiquid = BatchLiquid { heat_capacity_j_kg_k: Some(4180.0), ..BatchLiquid::WATER };

#[test]
fn radiation_of_a_textbook_bath() {
    let bath = cases::<Published>("published/heat.toml").bath;
    let of = Losses {
        emissivity: bath.emissivity,
        room: room(bath.walls_c),
        ..losses(NO_LOSS, bath.area_m2, 1.0)
    };
    near("radiation", of.at(bath.water_c).radiation, bath.radiation_w, 1e-3);
}

#[test]
fn overall_coefficients_of_a_suppliers_note() {
    for case in cases::<Published>("published/heat.toml").overall {
        let barrier =
            Barrier { wall: case.wall, lining: case.lining, fouling: 0.0, outside_w_m2_k: case.outside };
        assert!((barrier.overall(case.inside) - case.overall).abs() <= 0.5, "{}", case.overall);
    }
}

#[test]
fn the_film_of_a_textbook_coil() {
    let coil = cases::<Published>("published/heat.toml").coil;
    let liquid = Modelled { model: FlowModel::Newton, parameters: vec![coil.viscosity_pa_s] };
    let laws = [FilmLaw { reynolds: [1.0, 1e9], factor: coil.factor, power: coil.power }];
    // The wall is colder: the activation energy that makes the acid there as thick as the book says.
    let (warm, cold) = (310.0_f64, 300.0_f64);
    let activation =
        8.314_462_618 * (coil.wall_viscosity_pa_s / coil.viscosity_pa_s).ln() / (1.0 / cold - 1.0 / warm);
    let stirred = Stirred {
        liquid: &liquid,
        curve_c: warm - 273.15,
        activation_j_mol: activation,
        properties: BatchLiquid {
            water: 1.0,
            density_kg_m3: Some(coil.density_kg_m3),
            heat_capacity_j_kg_k: Some(coil.heat_capacity_j_kg_k),
            conductivity_w_m_k: Some(coil.conductivity_w_m_k),
        },
        speed_1_s: 2.5,
        impeller_m: 0.3,
        shear: 10.0,
        vessel_m: 1.0,
        laws: &laws,
    };
    near("film", stirred.film(warm - 273.15, cold - 273.15).w_m2_k, coil.film, 2e-3);
}

#[test]
fn a_textbook_body_cools_as_printed() {
    let of = cases::<Published>("published/heat.toml").lumped;
    let losses = Losses {
        wall_w_k: of.w_m2_k * of.area_m2,
        surface_w_k: 0.0,
        room: room(of.air_c),
        ..losses(NO_LOSS, 1.0, 0.0)
    };
    let mass_kg = of.density_kg_m3 * of.volume_m3;
    let liquid = BatchLiquid { heat_capacity_j_kg_k: Some(of.heat_capacity_j_kg_k), ..BatchLiquid::WATER };
    let body = Batch { liquid, ..batch(mass_kg, losses, Source::Room) };
    near("rate", losses.wall_w_k / body.heat_capacity_j_k(30.0), of.rate_1_s, 1e-3);
    near("hours", seconds(&body, of.from_c, of.to_c) / 3600.0, of.hours, 3e-3);
}

/// Full cylinders as deep as wide, S/V = 5/D, in the same jacket without losses: warmed from 20 to 60 C and cooled back to 30 C.
fn cylinder(per_m: f64, overall: f64) -> (f64, HeatReading) {
    let no_loss = HeatLoss {
        wall_w_m2_k: 0.0,
        surface_w_m2_k: 0.0,
        emissivity: 0.0,
        doubt_percent: 0.0,
        reason: String::new(),
        source: String::new(),
    };
    let volume_m3 = PI / 4.0 * (5.0 / per_m).powi(3);
    let by = |in_c: f64| {
        let flow = JacketFlow { in_c, flow_w_k: None };
        Warmer::Jacket(flow, Passage::Overall(overall), per_m * volume_m3)
    };
    let mass_kg = 1000.0 * volume_m3;
    let asked = Asked {
        batch_kg: mass_kg,
        liquid: STEADY,
        vessel_j_k: 0.0,
        stirrer_w: 0.0,
        surface: surface(1e-9, 0.0),
        wall_m2: [0.0; 2],
        room: room(22.0),
        losses: &no_loss,
        goal: Goal { from_c: 20.0, to_c: 60.0, hold_s: 0.0, down_to_c: Some(30.0) },
        warmer: by(80.0),
        cooler: by(10.0),
        doubt: 0.0,
        sources: Vec::new(),
        assumed: Vec::new(),
    };
    (mass_kg, heat(&asked).expect("a course"))
}

/// Against its temperature marched along the wall by another program; a jacket stirred by its inlet comes back warmer.
#[test]
fn what_flows_through_a_jacket_comes_back_as_another_program_finds_it() {
    let none = HeatLoss {
        wall_w_m2_k: 0.0,
        surface_w_m2_k: 0.0,
        emissivity: 0.0,
        doubt_percent: 0.0,
        reason: String::new(),
        source: String::new(),
    };
    for (first, last) in [(20.0_f64, 75.0), (75.0, 20.0)] {
        let name = format!("jacket-returns-{first:.0}");
        let of = case(&name);
        let flow = JacketFlow { in_c: 95.0, flow_w_k: Some(of("flow_w_k")) };
        let asked = Asked {
            batch_kg: 1000.0,
            liquid: STEADY,
            vessel_j_k: 0.0,
            stirrer_w: 0.0,
            surface: surface(1e-9, 0.0),
            wall_m2: [0.0; 2],
            room: room(22.0),
            losses: &none,
            goal: Goal { from_c: 20.0, to_c: 75.0, hold_s: 0.0, down_to_c: None },
            warmer: Warmer::Jacket(flow, Passage::Overall(350.0), 4.41),
            cooler: Warmer::Room,
            doubt: 0.0,
            sources: Vec::new(),
            assumed: Vec::new(),
        };
        let found = heat(&asked).expect("a course");
        let medium = &found.medium[0];
        let returns = if first < last { &medium.returns_at_first } else { &medium.returns_at_last };
        near("returns", returns.value.unwrap(), of("returns_c"), 1e-6);
        assert!(returns.high > returns.value, "{returns:?}");
        assert!(!found.notes.iter().any(|note| note.code == "plenty-of-flow"));
        let plenty = Warmer::Jacket(JacketFlow { flow_w_k: None, ..flow }, Passage::Overall(350.0), 4.41);
        let found = heat(&Asked { warmer: plenty, ..asked }).expect("a course");
        assert!(found.medium.is_empty() && found.notes.iter().any(|note| note.code == "plenty-of-flow"));
    }
}

#[test]
fn six_times_less_wall_takes_six_times_as_long() {
    let of = cases::<Published>("published/heat.toml").scale_up;
    let [small, large] = of.wall_per_volume_1_ft.map(|per_ft| per_ft / 0.3048);
    // The coefficient that warms the small one in its time: U = m c_p ln(60/20) / (A t).
    let overall = 1000.0 * 4180.0 * 3.0_f64.ln() / (small * 60.0 * of.bench_minutes);
    let ((_, bench), (mass_kg, plant)) = (cylinder(small, overall), cylinder(large, overall));
    let plant = HeatedScale::of("plant", mass_kg, &plant, Some(&bench));
    let bench = HeatedScale::of("bench", 1.0, &bench, None);
    near("bench", bench.warm.value.unwrap(), of.bench_minutes, 1e-3);
    near("plant", plant.warm.value.unwrap(), of.plant_minutes, 1e-3);
    near("times", plant.times_bench.unwrap().value.unwrap(), of.times, 1e-3);
    // Cooling by the closed form: ln(50/20) against ln(60/20) of the warming.
    let cool = plant.cool.unwrap().value.unwrap();
    near("cool", cool, of.plant_minutes * 2.5_f64.ln() / 3.0_f64.ln(), 1e-3);
    near("all", plant.time.value.unwrap(), of.plant_minutes + cool, 1e-3);
}

#[test]
fn what_holds_a_batch_on_a_plate_settles_it_there() {
    let loss = HeatLoss {
        wall_w_m2_k: 10.0,
        surface_w_m2_k: 5.0,
        emissivity: 0.95,
        doubt_percent: 30.0,
        reason: String::new(),
        source: String::new(),
    };
    let plate =
        Plate { power_w: 600.0, heat_capacity_j_k: 800.0, contact_w_k: 3.0, loss_w_k: 0.8, most_c: 400.0 };
    let asked = Asked {
        batch_kg: 0.5,
        liquid: BatchLiquid::WATER,
        vessel_j_k: 0.0,
        stirrer_w: 0.0,
        surface: surface(0.006, 1.0),
        wall_m2: [0.02, 0.026],
        room: room(22.0),
        losses: &loss,
        goal: Goal { from_c: 22.0, to_c: 75.0, hold_s: 1000.0, down_to_c: None },
        warmer: Warmer::Plate(plate),
        cooler: Warmer::Room,
        doubt: 0.3,
        sources: Vec::new(),
        assumed: Vec::new(),
    };
    let reading = heat(&asked).expect("a course");
    // kJ in 1000 s are W: with that power the plate and the batch come to rest at 75 C.
    let held = reading.hold.heat.value.unwrap();
    let weak = Asked { warmer: Warmer::Plate(Plate { power_w: held, ..plate }), ..asked.clone() };
    let rest = heat(&weak).expect("a course").reachable;
    near("rest", rest.value.unwrap(), 75.0, 1e-4);
    assert!(held > reading.losses.total.value.unwrap(), "the plate loses too");
    let (low, high) = (rest.low.unwrap(), rest.high.unwrap());
    assert!(low < 75.0 && 75.0 < high, "{low} {high}");
    // One that comes to 75 C in the middle is refused 80 C, and told what it may come to.
    let goal = Goal { to_c: 80.0, ..asked.goal };
    let why = heat(&Asked { goal, ..weak }).expect("a course").heat_up.time.refused.unwrap();
    assert!(why.contains("between") && why.contains("75"), "{why}");
}

#[test]
fn a_textbook_tank_takes_its_power() {
    let of = cases::<Published>("published/heat.toml").tank;
    let tank = Batch { stirrer_w: of.power_w, ..batch(of.mass_kg, losses(NO_LOSS, 1e-9, 0.0), Source::Room) };
    near("hours", seconds(&tank, of.from_c, of.to_c) / 3600.0, of.hours, 2e-3);
    let beaker =
        Batch { stirrer_w: 150.0, liquid: STEADY, ..batch(0.2, losses(NO_LOSS, 1e-9, 0.0), Source::Room) };
    near("beaker", seconds(&beaker, 25.0, 75.0), 279.0, 2e-3);
}

#[test]
fn constant_coefficients_give_the_closed_forms() {
    let none = losses(NO_LOSS, 1e-9, 0.0);
    for case in cases::<Published>("published/heat.toml").isothermal {
        let flow = JacketFlow { in_c: case.jacket_c, flow_w_k: None };
        let source = Source::Jacket(flow, Passage::Overall(case.overall), case.area_m2, 1.0);
        let tonne = Batch { liquid: STEADY, ..batch(case.mass_kg, none, source) };
        let ours = seconds(&tonne, case.from_c, case.to_c);
        // Printed with three figures; the second, 55.4, is 55.32 by its own numbers.
        near("minutes", ours / 60.0, case.minutes, 2.5e-3);
        let share = ((case.jacket_c - case.from_c) / (case.jacket_c - case.to_c)).ln();
        let ua = case.overall * case.area_m2;
        near("closed form", ours, case.mass_kg * 4180.0 / ua * share, 1e-7);
        // With a flow W: beta/(beta - 1) m c_p/W ln(...), beta = exp(UA/W).
        let flow_w_k = 1500.0;
        let source = Source::Jacket(
            JacketFlow { flow_w_k: Some(flow_w_k), ..flow },
            Passage::Overall(case.overall),
            case.area_m2,
            1.0,
        );
        let slower = Batch { liquid: STEADY, ..batch(case.mass_kg, none, source) };
        let beta = (ua / flow_w_k).exp();
        let closed = beta / (beta - 1.0) * case.mass_kg * 4180.0 / flow_w_k * share;
        near("closed form with flow", seconds(&slower, case.from_c, case.to_c), closed, 1e-7);
    }
    // With losses UA_l to the room it settles at (UA T_j + UA_l T_a)/(UA + UA_l).
    let lossy = Losses { wall_w_k: 200.0, surface_w_k: 0.0, ..none };
    let source =
        Source::Jacket(JacketFlow { in_c: 95.0, flow_w_k: None }, Passage::Overall(350.0), 4.41, 1.0);
    let settles = batch(1000.0, lossy, source).settles_c(20.0, 99.0);
    near("settles", settles, (350.0 * 4.41 * 95.0 + 200.0 * 22.0) / (350.0 * 4.41 + 200.0), 1e-6);
}

fn plate(power_w: f64, area_m2: f64) -> Plate {
    Plate { power_w, heat_capacity_j_k: 900.0, contact_w_k: 300.0 * area_m2, loss_w_k: 1.0, most_c: 300.0 }
}

#[test]
fn a_beaker_on_a_plate_is_that_of_another_program() {
    let of = case("plate");
    let losses = losses(of("side_m2"), of("area_m2"), 1.0);
    let on = plate(300.0, of("area_m2"));
    let beaker = Batch { vessel_j_k: 30.0, ..batch(0.2, losses, Source::Plate(on)) };
    let course = beaker.until(Batch::start(22.0), 75.0).expect("a course");
    let (time, state) = course.end();
    near("time", time, of("time_s"), 2e-3);
    near("water", 1000.0 * state[5], of("water_g"), 1.5e-2);
    let off = Batch { source: Source::PlateOff(on), ..beaker };
    let peak = off.until_rest(state).expect("a course").end().1[0];
    assert!((peak - of("peak_c")).abs() < 0.05, "{peak}");
    let weak = batch(0.2, losses, Source::Plate(plate(40.0, of("area_m2"))));
    let settles = weak.settles_c(22.0, 99.0);
    assert!((settles - case("weak-plate")("settles_c")).abs() < 0.2, "{settles}");
}

fn gel() -> Modelled {
    Modelled { model: FlowModel::PowerLaw, parameters: vec![3.0, 0.4] }
}

fn stirred<'l>(liquid: &'l dyn Liquid, laws: &'l [FilmLaw], speed_1_s: f64) -> Stirred<'l> {
    Stirred {
        liquid,
        curve_c: 25.0,
        activation_j_mol: 18_000.0,
        properties: BatchLiquid::WATER,
        speed_1_s,
        impeller_m: 0.45,
        shear: 11.5,
        vessel_m: 1.1,
        laws,
    }
}

const LAWS: [FilmLaw; 1] = [FilmLaw { reynolds: [1.0, 1e6], factor: 0.53, power: 2.0 / 3.0 }];
const BARRIER: Barrier = Barrier { wall: 0.006 / 15.0, lining: 0.0, fouling: 0.0002, outside_w_m2_k: 3000.0 };

#[test]
fn a_tonne_in_a_jacket_is_that_of_another_program() {
    let liquid = gel();
    let passage = Passage::Films(stirred(&liquid, &LAWS, 1.0), BARRIER);
    let of = case("film");
    let film = stirred(&liquid, &LAWS, 1.0).film(of("at_c"), of("wall_c"));
    near("film", film.w_m2_k, of("inside"), 1e-3);
    near("overall", passage.overall(50.0, 95.0, 1.0), of("overall"), 2e-3);
    let losses = losses(0.0, core::f64::consts::PI * 0.55 * 0.55, 0.2);
    for (name, in_c, flow, from, to) in [
        ("jacket-up", 95.0, Some(12_000.0 / 3600.0 * 4180.0), 20.0, 75.0),
        ("jacket-down", 15.0, None, 75.0, 40.0),
    ] {
        let source = Source::Jacket(JacketFlow { in_c, flow_w_k: flow }, passage.clone(), 4.41, 1.0);
        let tonne = Batch { vessel_j_k: 50_000.0, stirrer_w: 300.0, ..batch(1000.0, losses, source) };
        let course = tonne.until(Batch::start(from), to).expect("a course");
        let (time, state) = course.end();
        near(name, time, case(name)("time_s"), 3e-3);
        near(name, 1000.0 * state[5], case(name)("water_g"), 1.5e-2);
    }
}

#[test]
fn free_cooling_is_that_of_another_program() {
    for name in ["beaker-open", "beaker-covered", "tonne-open", "tonne-covered"] {
        let of = case(name);
        let losses = losses(of("side_m2"), of("area_m2"), of("open"));
        let course =
            batch(of("mass_kg"), losses, Source::Room).until(Batch::start(75.0), 40.0).expect("a course");
        let (time, state) = course.end();
        near(name, time, of("time_s"), 5e-3);
        if of("open") > 0.0 {
            near(name, 1000.0 * state[5], of("water_g"), 1.5e-2);
        }
        // The table rounds, and does not say how much of the wall it counted.
        near(name, time / 3600.0, of("printed_h"), 0.1);
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn energy_closes_and_more_power_or_a_lid_is_never_slower(
        power in 150.0..1500.0_f64, mass in 0.1..0.6_f64, open in 0.1..1.0_f64, to in 40.0..70.0_f64,
    ) {
        let area = 0.0038;
        let of = |power, open| {
            let losses = losses(0.012, area, open);
            batch(mass, losses, Source::Plate(plate(power, area))).until(Batch::start(22.0), to).expect("a course")
        };
        let course = of(power, open);
        prop_assume!(course.reached);
        let (time, state) = course.end();
        // Heat given to the batch: stored in it and lost. Heat used: that, stored in the plate and lost by it.
        let capacities = (0..1000).map(|step| {
            BatchLiquid::WATER.heat_capacity_at(22.0 + (f64::from(step) + 0.5) / 1000.0 * (to - 22.0))
        });
        let stored = mass * capacities.sum::<f64>() / 1000.0 * (to - 22.0);
        prop_assert!((state[2] - state[3] - stored).abs() <= 1e-5 * state[2]);
        prop_assert!(state[4] > state[2] - 1e-6);
        let stronger = of(1.3 * power, open);
        prop_assert!(stronger.reached && stronger.end().0 <= time);
        let covered = of(power, 0.0);
        prop_assert!(covered.reached && covered.end().0 <= time + 1e-6);
        prop_assert!(covered.end().1[5] == 0.0 && state[5] > 0.0);
    }

    #[test]
    fn thicker_or_slower_stirred_never_warms_faster(speed in 0.3..3.0_f64, more in 1.1..3.0_f64, consistency in 0.01..30.0_f64) {
        let of = |consistency: f64| Modelled { model: FlowModel::PowerLaw, parameters: vec![consistency, 0.5] };
        let (thin, thick) = (of(consistency), of(consistency * more));
        let overall = |liquid: &dyn Liquid, speed| {
            Passage::Films(stirred(liquid, &LAWS, speed), BARRIER).overall(50.0, 90.0, 1.0)
        };
        prop_assert!(overall(&thick, speed) <= overall(&thin, speed));
        prop_assert!(overall(&thin, speed * more) >= overall(&thin, speed));
    }
}
