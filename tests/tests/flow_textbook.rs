//! Flow against worked examples of textbooks and published parameter sets.

#![expect(clippy::unwrap_used, reason = "tests stop at the first surprise")]

use levigate_process::flow::pipe::{HerschelBulkley, Tube};
use levigate_process::flow::suspension::Particle;
use levigate_process::flow::temperature::{TemperatureLaw, law_through};
use levigate_process::flow::{Curve, FlowModel, Liquid, Weights, fit_model};
use std::f64::consts::PI;
use std::path::Path;
use toml::Table;

fn here(path: &str) -> String {
    std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join(path)).unwrap()
}

/// A table of the cases, its numbers by name.
struct Case(Table);

impl Case {
    fn of(name: &str) -> Self {
        Self(cases()[name].as_table().unwrap().clone())
    }

    fn all(name: &str) -> Vec<Self> {
        cases()[name].as_array().unwrap().iter().map(|case| Self(case.as_table().unwrap().clone())).collect()
    }

    fn at(&self, name: &str) -> f64 {
        self.0[name].as_float().unwrap()
    }

    fn list(&self, name: &str) -> Vec<f64> {
        self.0[name].as_array().unwrap().iter().map(|value| value.as_float().unwrap()).collect()
    }
}

fn cases() -> Table {
    here("published/flow_textbook.toml").parse().unwrap()
}

#[track_caller]
fn near(ours: f64, printed: f64, relative: f64) {
    assert!((ours / printed - 1.0).abs() < relative, "{ours} against {printed}");
}

/// Half a unit of the last of some digits, relative.
const THREE_DIGITS: f64 = 5e-3;
const FOUR_DIGITS: f64 = 5e-4;

fn power(consistency: f64, index: f64) -> HerschelBulkley {
    HerschelBulkley { yield_pa: 0.0, consistency, index }
}

/// Speed in the middle of a tube: `R / tau_w` times the integral of the shear rate over the stress.
fn middle_speed(tube: &Tube, liquid: &dyn Liquid, wall_stress: f64) -> f64 {
    const PIECES: i32 = 200_000;
    let step = wall_stress / f64::from(PIECES);
    let sum: f64 = (0..PIECES).map(|k| liquid.rate(step * (f64::from(k) + 0.5)) * step).sum();
    tube.radius_m / wall_stress * sum
}

#[test]
fn laminar_flow_of_a_power_law_in_a_pipe() {
    let case = Case::of("power_law_pipe");
    let index = case.at("index");
    let consistency = case.at("consistency_8v_d") / ((3.0 * index + 1.0) / (4.0 * index)).powf(index);
    let liquid = power(consistency, index);
    let tube = Tube { radius_m: 0.5 * case.at("diameter_m"), length_m: case.at("length_m") };
    let speed = case.at("speed_m_s");
    let flow = speed * PI * tube.radius_m.powi(2);
    let wall = tube.wall_stress_for(&liquid, flow).unwrap();
    near(tube.pressure(wall), case.at("pressure_pa"), case.at("pressure_tolerance"));
    let reynolds = tube.reynolds(&liquid, case.at("density_kg_m3"), speed);
    near(reynolds, case.at("reynolds"), case.at("reynolds_tolerance"));
    near(tube.reynolds_of(case.at("density_kg_m3"), flow, wall), reynolds, 1e-6);
}

#[test]
fn friction_and_wall_stress_beyond_laminar_flow() {
    let case = Case::of("turbulent_pipe");
    let tube = Tube { radius_m: 0.5 * case.at("diameter_m"), length_m: case.at("length_m") };
    let wall = case.at("friction") * 0.5 * case.at("density_kg_m3") * case.at("speed_m_s").powi(2);
    near(tube.pressure(wall), case.at("pressure_pa"), FOUR_DIGITS);

    let case = Case::of("bingham_slurry");
    let tube = Tube { radius_m: 0.5 * case.at("diameter_m"), length_m: 1.0 };
    let flow = case.at("speed_m_s") * PI * tube.radius_m.powi(2);
    let wall = tube.wall_stress(case.at("pressure_per_length_pa_m"));
    let reynolds = tube.reynolds_of(case.at("density_kg_m3"), flow, wall);
    // The friction factor is 16 over this number by its definition, laminar or not; above 2000 the flow is not.
    near(16.0 / reynolds, case.at("friction"), 1e-3);
    assert!(reynolds > 2000.0);

    let case = Case::of("friction_laminar");
    let (tube, density, viscosity) = (Tube { radius_m: 0.01, length_m: 1.0 }, 1000.0, 0.01);
    let speed = case.at("reynolds") * viscosity / density / 0.02;
    let wall = tube.wall_stress_for(&power(viscosity, 1.0), speed * PI * 1e-4).unwrap();
    near(8.0 * wall / (density * speed * speed), case.at("darcy"), 1e-9);
}

#[test]
fn a_bingham_line_through_a_power_law() {
    let case = Case::of("bingham_from_power_law");
    let liquid = power(case.at("consistency"), case.at("index"));
    let rates = case.list("rates");
    let stresses: Vec<f64> = rates.iter().map(|rate| liquid.stress(*rate)).collect();
    let plastic = (stresses[1] - stresses[0]) / (rates[1] - rates[0]);
    let yield_pa = stresses[0] - plastic * rates[0];
    near(plastic, case.at("plastic_viscosity"), FOUR_DIGITS);
    near(yield_pa, case.at("yield_pa"), FOUR_DIGITS);
    // A Bingham fit of the two points is the same line.
    let fit =
        fit_model(&Curve::new(&rates, &stresses).unwrap(), FlowModel::Bingham, Weights::Linear).unwrap();
    near(fit.values()[0], yield_pa, 1e-6);
    near(fit.values()[1], plastic, 1e-6);
    let tube = Tube { radius_m: case.at("radius_m"), length_m: case.at("length_m") };
    let wall = tube.wall_stress(case.at("pressure_pa"));
    near(middle_speed(&tube, &liquid, wall), case.at("middle_speed_m_s"), THREE_DIGITS);
    let bingham = HerschelBulkley { yield_pa, consistency: plastic, index: 1.0 };
    near(middle_speed(&tube, &bingham, wall), case.at("bingham_middle_speed_m_s"), THREE_DIGITS);
}

#[test]
fn a_thinning_liquid_flows_less_at_a_pressure_below_the_one_where_it_is_as_thin() {
    let case = Case::of("same_pressure");
    let index = case.at("index");
    let thinning = power(case.at("viscosity_pa_s") * case.at("equal_at_rate").powf(1.0 - index), index);
    let tube = Tube { radius_m: 0.5 * case.at("diameter_m"), length_m: case.at("length_m") };
    let wall = tube.wall_stress(case.at("pressure_pa"));
    let ratio = tube.flow(&thinning, wall) / tube.flow(&power(case.at("viscosity_pa_s"), 1.0), wall);
    near(ratio, case.at("flow_ratio"), 1e-3);
}

/// Points of a sample of the textbook curves.
fn points(file: &str, sample: &str) -> (Vec<f64>, Vec<f64>) {
    here(&format!("cross/flow/{file}"))
        .lines()
        .filter_map(|line| line.strip_prefix(sample)?.strip_prefix(',')?.split_once(','))
        .map(|(rate, stress)| (rate.parse::<f64>().unwrap(), stress.parse::<f64>().unwrap()))
        .unzip()
}

#[test]
fn power_laws_of_a_rotor_and_of_a_capillary() {
    let file = "textbook_flow_curves_brodkey_hershey.csv";
    let of = |sample: &str| {
        let (rates, stresses) = points(file, sample);
        fit_model(&Curve::new(&rates, &stresses).unwrap(), FlowModel::PowerLaw, Weights::Log)
            .unwrap()
            .values()
    };
    let (case, found) = (Case::of("brodkey_power_law"), of("ex15_1"));
    near(found[0], case.at("consistency"), THREE_DIGITS / 5.0);
    near(found[1], case.at("index"), FOUR_DIGITS);
    // Of a capillary the apparent rates are read; the consistency is that of the true ones.
    let (case, found) = (Case::of("brodkey_capillary"), of("ex15_2_pseudoshear"));
    near(found[0], case.at("apparent_consistency"), FOUR_DIGITS);
    near(found[1], case.at("index"), FOUR_DIGITS);
    let index = found[1];
    let factor = (3.0 * index + 1.0) / (4.0 * index);
    // Printed from the rounded apparent consistency: two roundings of the fourth digit.
    near(found[0] / factor, case.at("consistency_without_power"), 2.0 * FOUR_DIGITS);
    let true_consistency = found[0] / factor.powf(index);
    // The tube gives the apparent curve back from the true one.
    let tube = Tube { radius_m: 1e-3, length_m: 0.1 };
    let wall = 20.0;
    let apparent = tube.apparent_wall_rate(tube.flow(&power(true_consistency, index), wall));
    near(found[0] * apparent.powf(index), wall, 1e-9);
}

#[test]
fn fits_of_an_emulsion_move_with_their_window_as_published() {
    let (rates, stresses) = points("mineral_oil_emulsion_75pct_40C.csv", "emulsion_75");
    for case in Case::all("emulsion_window") {
        let (from, to) = (case.at("from"), case.at("to"));
        let within: (Vec<f64>, Vec<f64>) =
            rates.iter().zip(&stresses).filter(|point| *point.0 > from && *point.0 < to).unzip();
        let curve = Curve::new(&within.0, &within.1).unwrap();
        let fit = fit_model(&curve, FlowModel::HerschelBulkley, Weights::Relative).unwrap();
        for (ours, printed) in fit.values().into_iter().zip(case.list("values")) {
            near(ours, printed, 1e-5);
        }
        // What it was fitted on stands with it.
        assert!(fit.window[0] > from && fit.window[1] < to);
        assert_eq!(fit.weights, Weights::Relative);
    }
}

#[test]
fn published_cross_curves() {
    for case in Case::all("cross") {
        // Published with the flow index; the exponent is one less it.
        let parameters = [case.at("eta0"), case.at("eta_inf"), case.at("lambda"), 1.0 - case.at("n")];
        for (rate, printed) in [0.1, 1.0, 10.0, 100.0, 1000.0].into_iter().zip(case.list("viscosities")) {
            let ours = FlowModel::Cross.viscosity(&parameters, rate);
            assert!((ours - printed).abs() < 6e-6, "{rate}: {ours} against {printed}");
        }
    }
}

#[test]
fn methylcellulose_follows_its_published_laws() {
    for case in Case::all("methylcellulose") {
        let at = |celsius: f64| {
            let kelvin = celsius + 273.15;
            [case.at("a") * (3379.7 / kelvin).exp(), 0.00223 * kelvin + case.at("b")]
        };
        let printed = case.list("values");
        let [consistency, index] = at(25.0);
        near(consistency, printed[0], 1e-3);
        near(index, printed[1], 1e-3);
        near(FlowModel::PowerLaw.viscosity(&[consistency, index], 1000.0), printed[2], 3e-3);
        // Its consistencies over the temperatures it was measured at have the activation energy of the law.
        let values: Vec<(f64, f64)> =
            [22.0, 27.0, 32.0, 37.0].map(|celsius| (celsius, at(celsius)[0])).to_vec();
        let law = law_through(&values, TemperatureLaw::Arrhenius, 25.0).unwrap();
        near(law.parameters[0].value, consistency, 1e-9);
        near(law.parameters[1].value, 3379.7 * 8.314_462_618, 1e-9);
    }
}

#[test]
fn balls_and_beads() {
    let case = Case::of("settling_ball");
    let ball = Particle {
        diameter_m: case.at("diameter_m"),
        density_difference_kg_m3: case.at("density_kg_m3") - case.at("liquid_density_kg_m3"),
        inner_viscosity_pa_s: None,
    };
    let stokes = -ball.speed(case.at("viscosity_pa_s"), 0.0);
    let printed = case.at("speed_m_s");
    let reynolds = case.at("liquid_density_kg_m3") * printed * ball.diameter_m / case.at("viscosity_pa_s");
    // At this Reynolds number a drag law takes 24/Re (1 + 0.15 Re^0.687) instead of 24/Re.
    assert!(reynolds > 1.0);
    near(stokes / (1.0 + 0.15 * reynolds.powf(0.687)), printed, 2e-2);

    let case = Case::of("suspension");
    let bead = Particle {
        diameter_m: 2.0 * case.at("radius_m"),
        density_difference_kg_m3: case.at("density_difference_kg_m3"),
        inner_viscosity_pa_s: None,
    };
    near(bead.yield_stress_to_hold(), case.at("yield_pa"), 1e-3);
}
