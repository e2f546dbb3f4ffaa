//! Water and moist air against two other programs: `cross/water_and_air.py` and what it printed.

use levigate_process::properties::{Air, air, water};
use serde::Deserialize;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Cases {
    water: Vec<Water>,
    air: Vec<MoistAir>,
}

/// Each value by CoolProp and by iapws.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Water {
    temperature_c: f64,
    vapour_pressure_pa: [f64; 2],
    density_kg_m3: [f64; 2],
    viscosity_pa_s: [f64; 2],
    conductivity_w_m_k: [f64; 2],
    heat_capacity_j_kg_k: [f64; 2],
    evaporation_j_kg: [f64; 2],
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct MoistAir {
    temperature_c: f64,
    humidity: f64,
    pressure_pa: f64,
    humidity_ratio: f64,
    density_kg_m3: f64,
    dry_kg_m3: f64,
    dry_viscosity_pa_s: f64,
    dry_conductivity_w_m_k: f64,
}

fn cases() -> Cases {
    let path = format!("{}/cross/water_and_air.toml", env!("CARGO_MANIFEST_DIR"));
    toml::from_str(&std::fs::read_to_string(path).expect("the case file is there")).expect("it is TOML")
}

#[track_caller]
fn near(what: &str, ours: f64, theirs: f64, off: f64) {
    assert!((ours / theirs - 1.0).abs() <= off, "{what}: {ours} against {theirs}");
}

#[test]
fn water_is_that_of_two_other_programs() {
    let cases = cases();
    assert_eq!(cases.water.len(), 14);
    for case in cases.water {
        let t = case.temperature_c;
        for of in [0, 1] {
            near("vapour pressure", water::vapour_pressure_pa(t), case.vapour_pressure_pa[of], 3e-4);
            near("density", water::density_kg_m3(t), case.density_kg_m3[of], 3e-5);
            near("viscosity", water::viscosity_pa_s(t), case.viscosity_pa_s[of], 3e-4);
            near("conductivity", water::conductivity_w_m_k(t), case.conductivity_w_m_k[of], 5e-4);
            near("heat capacity", water::heat_capacity_j_kg_k(t), case.heat_capacity_j_kg_k[of], 2e-4);
            near("heat of evaporation", water::evaporation_j_kg(t), case.evaporation_j_kg[of], 3e-5);
        }
    }
}

#[test]
fn moist_air_is_that_of_another_program() {
    let cases = cases();
    assert_eq!(cases.air.len(), 6);
    for case in cases.air {
        let moist = Air::of_humidity(case.temperature_c, case.humidity, case.pressure_pa);
        // The vapour is enhanced by half a percent in real air, which grows with its share of the pressure.
        near("humidity ratio", moist.humidity_ratio(), case.humidity_ratio, 0.013);
        near("density", moist.density_kg_m3(), case.density_kg_m3, 0.006);
        near("dry air", moist.dry_kg_m3(), case.dry_kg_m3, 0.01);
        near("viscosity", air::viscosity_pa_s(case.temperature_c), case.dry_viscosity_pa_s, 0.01);
        near("conductivity", air::conductivity_w_m_k(case.temperature_c), case.dry_conductivity_w_m_k, 0.011);
    }
}

#[test]
fn water_boils_where_its_vapour_presses_as_the_air() {
    let sea = water::boiling_c(101_325.0, 1.0).expect("it boils");
    assert!((sea - 99.974).abs() < 0.01, "{sea}");
    // Standard atmosphere at 1500 m: 84.556 kPa.
    let height = air::pressure_at_pa(1500.0);
    near("pressure", height, 84_556.0, 1e-4);
    let high = water::boiling_c(height, 1.0).expect("it boils");
    assert!((94.9..95.1).contains(&high), "{high}");
    assert!(water::boiling_c(101_325.0, 0.9).expect("it boils") > sea);
    assert_eq!(water::boiling_c(101_325.0, 0.0), None);
}
