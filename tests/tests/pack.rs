//! Oxygen and water of packs against printed numbers: `published/pack.toml`.

use levigate_process::pack::{
    Asked, OxygenAsked, Place, TakesUp, oxygen_dissolved_mol_kg, oxygen_in_air_mol, pack, water_factor,
};
use serde::Deserialize;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Cases {
    air: Air,
    bottle: Bottle,
    dissolved: Vec<Dissolved>,
    water: Water,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Air {
    volume_ml: f64,
    temperature_c: f64,
    oxygen_mmol: f64,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Bottle {
    fill_g: f64,
    percent: f64,
    molar_mass_g_mol: f64,
    per_oxygen: [f64; 2],
    headspace_mg: [f64; 2],
    doses_mg: [f64; 2],
    doses_percent: [f64; 2],
    doses: f64,
    air_per_dose_ml: f64,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Dissolved {
    temperature_c: f64,
    mg_kg: f64,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Water {
    tested: [f64; 2],
    stored: [f64; 2],
    factor: f64,
}

fn cases() -> Cases {
    let path = format!("{}/published/pack.toml", env!("CARGO_MANIFEST_DIR"));
    toml::from_str(&std::fs::read_to_string(path).expect("the case file is there")).expect("it is TOML")
}

#[track_caller]
fn near(ours: f64, theirs: f64, off: f64) {
    assert!((ours / theirs - 1.0).abs() <= off, "{ours} against {theirs}");
}

fn asked(bottle: &Bottle, oxygen: OxygenAsked) -> Asked {
    Asked {
        title: String::new(),
        temperature_c: 25.0,
        humidity: 0.0,
        fill_g: bottle.fill_g,
        water_percent: None,
        oxygen: Some(oxygen),
        takes_up: vec![TakesUp {
            name: "ascorbic acid".to_owned(),
            percent: bottle.percent,
            molar_mass_g_mol: bottle.molar_mass_g_mol,
            per_oxygen: bottle.per_oxygen,
        }],
        water: None,
    }
}

#[test]
fn the_oxygen_of_a_bottle_takes_what_the_author_of_the_scenario_says() {
    let cases = cases();
    let dry = Place { temperature_c: cases.air.temperature_c, humidity: 0.0 };
    near(1000.0 * oxygen_in_air_mol(cases.air.volume_ml, &dry), cases.air.oxygen_mmol, 0.012);
    let closed = OxygenAsked {
        headspace_ml: [cases.air.volume_ml; 2],
        doses: 0.0,
        air_per_dose_ml: [0.0; 2],
        ingress_ul_day: [0.0; 2],
        months: 0.0,
    };
    let used = OxygenAsked {
        headspace_ml: [0.0; 2],
        doses: cases.bottle.doses,
        air_per_dose_ml: [cases.bottle.air_per_dose_ml; 2],
        ..closed.clone()
    };
    for (oxygen, mg, percent) in [
        (closed, cases.bottle.headspace_mg, None),
        (used, cases.bottle.doses_mg, Some(cases.bottle.doses_percent)),
    ] {
        let told = pack(&asked(&cases.bottle, oxygen));
        let taken = told.taken.first().expect("it is told");
        near(taken.mass.low.expect("from"), mg[0], 0.02);
        near(taken.mass.high.expect("to"), mg[1], 0.02);
        if let Some(percent) = percent {
            near(taken.share.low.expect("from"), percent[0], 0.02);
            near(taken.share.high.expect("to"), percent[1], 0.02);
        }
    }
}

#[test]
fn water_in_air_holds_the_oxygen_of_the_tables() {
    for case in cases().dissolved {
        let [low, high] = oxygen_dissolved_mol_kg(case.temperature_c).map(|mol| 31_998.0 * mol);
        // The law is one of first order in 1/T: two per cent beside its own range.
        assert!(
            low * 0.98 <= case.mg_kg && case.mg_kg <= high * 1.02,
            "{}: {low} {high}",
            case.temperature_c
        );
        assert!(high / low < 1.1);
    }
}

#[test]
fn water_lost_follows_the_difference_of_vapour_and_the_wall() {
    let water = cases().water;
    let place = |[temperature_c, humidity]: [f64; 2]| Place { temperature_c, humidity };
    let (tested, stored) = (place(water.tested), place(water.stored));
    let [low, high] = water_factor(&tested, &stored, 1.0, [0.0, 0.0]);
    near(low, water.factor, 1e-4);
    assert_eq!(low, high);
    // A wall that is tighter when cool loses less; by Arrhenius over 15 K and 40 kJ/mol 2.166 times.
    let [tight, _] = water_factor(&tested, &stored, 1.0, [0.0, 40_000.0]);
    near(low / tight, (40_000.0_f64 / 8.314_462_618 * (1.0 / 298.15 - 1.0 / 313.15)).exp(), 1e-12);
    // There and back is once; air as moist as the product takes none.
    let [back, _] = water_factor(&stored, &tested, 1.0, [0.0, 0.0]);
    near(low * back, 1.0, 1e-12);
    assert!(water_factor(&tested, &Place { humidity: 1.0, ..stored }, 1.0, [0.0, 0.0])[1] <= 0.0);
}

#[test]
fn no_more_is_taken_than_there_is() {
    let bottle = cases().bottle;
    let air = OxygenAsked {
        headspace_ml: [1e4; 2],
        doses: 0.0,
        air_per_dose_ml: [0.0; 2],
        ingress_ul_day: [0.0; 2],
        months: 0.0,
    };
    let told = pack(&asked(&bottle, air));
    let taken = told.taken.first().expect("it is told");
    assert_eq!(taken.share.high, Some(100.0));
    assert!(taken.share.notes.iter().any(|note| note.code == "more-than-there-is"));
}
