//! Water lost from warm surfaces, against printed tables and another program (`cross/evaporation.py`).

use levigate_process::heat::TemperatureRecord;
use levigate_process::heat::evaporation::{Room, Surface, loss_kg};
use levigate_process::properties::Air;
use proptest::prelude::*;
use serde::Deserialize;
use serde::de::DeserializeOwned;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Cases {
    still: Vec<Still>,
    moving: Vec<Moving>,
    lost: Vec<Lost>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Still {
    water_c: f64,
    air_c: f64,
    humidity: f64,
    activity: f64,
    kg_m2_h: f64,
    printed: Option<f64>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Moving {
    water_c: f64,
    speed_m_s: f64,
    length_m: f64,
    kg_m2_h: f64,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Lost {
    name: String,
    points: Vec<(f64, f64)>,
    area_m2: f64,
    speed_m_s: f64,
    activity: f64,
    grams: f64,
    printed: Option<f64>,
}

#[derive(Deserialize)]
struct Published {
    open_tank: OpenTank,
    bath: Bath,
}

#[derive(Deserialize)]
struct OpenTank {
    air_c: f64,
    humidity: f64,
    water_c: Vec<f64>,
    kg_m2_h: Vec<f64>,
    deviation: [f64; 2],
}

#[derive(Deserialize)]
struct Bath {
    water_c: f64,
    area_m2: f64,
    air_c: f64,
    humidity: f64,
    pressure_pa: f64,
    evaporation_kg_h: f64,
}

fn cases<T: DeserializeOwned>(file: &str) -> T {
    let path = format!("{}/{file}", env!("CARGO_MANIFEST_DIR"));
    toml::from_str(&std::fs::read_to_string(path).expect("the case file is there")).expect("it is TOML")
}

fn room(air_c: f64, humidity: f64, pressure_pa: f64, speed_m_s: f64) -> Room {
    Room { air: Air::of_humidity(air_c, humidity, pressure_pa), speed_m_s }
}

fn record(points: &[(f64, f64)]) -> TemperatureRecord {
    let seconds = points.iter().map(|(minutes, temperature)| (60.0 * minutes, *temperature)).collect();
    TemperatureRecord::new(seconds).expect("a record")
}

#[track_caller]
fn near(what: &str, ours: f64, theirs: f64, off: f64) {
    assert!((ours / theirs - 1.0).abs() <= off, "{what}: {ours} against {theirs}");
}

#[test]
fn the_law_for_still_air_is_that_of_another_program() {
    let cases: Cases = cases("cross/evaporation.toml");
    assert_eq!(cases.still.len(), 10);
    for case in cases.still {
        let ours =
            3600.0 * room(case.air_c, case.humidity, 101_325.0, 0.0).still(case.water_c, case.activity);
        // Real moist air holds up to 1 % more vapour than an ideal mixture.
        near("still air", ours, case.kg_m2_h, 0.015);
        if let Some(printed) = case.printed {
            assert!((ours - printed).abs() <= 0.012, "{ours} against {printed}");
        }
    }
}

#[test]
fn moving_air_carries_away_what_another_program_says() {
    let cases: Cases = cases("cross/evaporation.toml");
    assert_eq!(cases.moving.len(), 4);
    for case in cases.moving {
        let ours =
            3600.0 * room(20.0, 0.5, 101_325.0, case.speed_m_s).moving(case.water_c, 1.0, case.length_m);
        near("moving air", ours, case.kg_m2_h, 0.02);
    }
}

#[test]
fn losses_over_a_record_are_those_of_another_program() {
    let cases: Cases = cases("cross/evaporation.toml");
    assert_eq!(cases.lost.len(), 3);
    for case in cases.lost {
        let surface = Surface { area_m2: case.area_m2, open: 1.0, water_activity: case.activity };
        let ours =
            1000.0 * loss_kg(&record(&case.points), &surface, &room(20.0, 0.5, 101_325.0, case.speed_m_s));
        near(&case.name, ours, case.grams, 0.015);
        if let Some(printed) = case.printed {
            near(&case.name, ours, printed, 0.01);
        }
    }
}

#[test]
fn a_published_table_of_open_tanks_lies_within_what_is_stated_of_it() {
    let tank = cases::<Published>("published/heat.toml").open_tank;
    let room = room(tank.air_c, tank.humidity, 101_325.0, 0.0);
    let [low, high] = tank.deviation;
    for (water, printed) in tank.water_c.iter().zip(&tank.kg_m2_h) {
        let off = 3600.0 * room.still(*water, 1.0) / printed - 1.0;
        assert!((low..=high).contains(&off), "{water} C: {off}");
    }
}

#[test]
fn a_textbook_bath_lies_within_the_interval() {
    let bath = cases::<Published>("published/heat.toml").bath;
    let room = room(bath.air_c, bath.humidity, bath.pressure_pa, 0.0);
    let ours = 3600.0 * room.still(bath.water_c, 1.0) * bath.area_m2;
    // 4.49 against 5.25 kg/h: 14 % less, within the 30 % that are told.
    assert!((bath.evaporation_kg_h - ours).abs() < 0.3 * ours, "{ours}");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn hotter_drier_faster_and_more_open_never_loses_less(
        water in 30.0..92.0_f64, air in 8.0..33.0_f64, humidity in 0.3..0.9_f64, speed in 0.0..3.0_f64, activity in 0.5..1.0_f64,
        area in 0.002..3.0_f64, open in 0.0..1.0_f64,
    ) {
        let surface = Surface { area_m2: area, open, water_activity: activity };
        let here = room(air, humidity, 101_325.0, speed);
        let plain = here.loss_kg_s(water, &surface);
        prop_assert!(plain >= 0.0 && plain.is_finite());
        let not_less = |other: f64| other >= plain * (1.0 - 1e-9);
        prop_assert!(not_less(here.loss_kg_s(water + 2.0, &surface)));
        prop_assert!(not_less(room(air, humidity - 0.1, 101_325.0, speed).loss_kg_s(water, &surface)));
        prop_assert!(not_less(room(air, humidity, 101_325.0, speed + 0.3).loss_kg_s(water, &surface)));
        let opened = Surface { open: 1.0, ..surface };
        let purer = Surface { water_activity: 1.0, ..surface };
        prop_assert!(not_less(here.loss_kg_s(water, &opened)));
        prop_assert!(not_less(here.loss_kg_s(water, &purer)));
        // A cut of the record changes nothing; a batch as warm and wet as the air loses nothing.
        let whole = loss_kg(&record(&[(0.0, water - 10.0), (60.0, water)]), &surface, &here);
        let cut = loss_kg(&record(&[(0.0, water - 10.0), (30.0, water - 5.0), (60.0, water)]), &surface, &here);
        prop_assert!((whole - cut).abs() <= 1e-5 * whole.max(1e-12));
        let wet = room(air, 1.0, 101_325.0, speed);
        prop_assert!(wet.loss_kg_s(air, &purer).abs() < 1e-12);
    }
}
