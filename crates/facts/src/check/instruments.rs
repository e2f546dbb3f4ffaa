//! Spindles and cups: dimensions and constants that can be, and that agree with each other.

use levigate_process::flow::cup::CupEquation;

use super::{Desk, Flaw};

const TABLE: &str = "spindle";

/// Full-scale range against stress and shear rate of a Newtonian liquid, relative: farther apart, one of them is mistyped.
const AGREE: f64 = 0.1;

pub(super) fn look(desk: &mut Desk<'_>) {
    spindles(desk);
    cups(desk);
}

fn cups(desk: &mut Desk<'_>) {
    const TABLE: &str = "flow_cup";
    let facts = desk.facts;
    for (key, cup) in &facts.instruments.cups {
        desk.kebab(TABLE, key);
        desk.within(TABLE, key, "orifice_mm", cup.orifice_mm, (0.5, 20.0), "mm");
        desk.within(TABLE, key, "volume_ml", cup.volume_ml, (1.0, 1000.0), "ml");
        if let Some(length) = cup.nozzle_mm {
            desk.within(TABLE, key, "nozzle_mm", length, (0.1, 100.0), "mm");
        }
        let (slope, other) = match cup.equation {
            CupEquation::Nozzle { a_mm2_s2, b_mm2 } => (a_mm2_s2, b_mm2),
            CupEquation::Line { k_mm2_s2, c_s } => (k_mm2_s2, c_s),
        };
        desk.within(TABLE, key, "equation", slope, (1e-3, 1e3), "mm2/s2");
        desk.within(TABLE, key, "equation", other, (0.0, 1e4), "mm2 or s");
        let [low, high] = cup.range_s;
        desk.within(TABLE, key, "range_s", low, (1.0, 3600.0), "s");
        desk.within(TABLE, key, "range_s", high, (1.0, 3600.0), "s");
        if low >= high {
            desk.report(TABLE, key, "range_s", Flaw::Order { low, high });
        }
        // At its shortest time a cup still shows a viscosity.
        desk.within(
            TABLE,
            key,
            "equation",
            cup.equation.viscosity_mm2_s(low),
            (0.1, 1e5),
            "mm2/s at its shortest time",
        );
    }
}

fn spindles(desk: &mut Desk<'_>) {
    let facts = desk.facts;
    let mut numbers = std::collections::BTreeMap::new();
    for (key, spindle) in &facts.instruments.spindles {
        desk.kebab(TABLE, key);
        for (field, value, range, unit) in [
            ("diameter_mm", spindle.diameter_mm, (0.5, 150.0), "mm"),
            ("thickness_mm", spindle.thickness_mm, (0.1, 150.0), "mm"),
            ("stress_pa_per_percent", spindle.stress_pa_per_percent, (1e-4, 1e3), "Pa"),
            ("full_scale_pa_s_rpm", spindle.full_scale_pa_s_rpm, (1e-2, 1e6), "Pa s rpm"),
            ("reference_torque_n_m", spindle.reference_torque_n_m, (1e-6, 1.0), "N m"),
        ] {
            desk.within(TABLE, key, field, value, range, unit);
        }
        for rate in spindle.rate_per_rpm {
            desk.within(TABLE, key, "rate_per_rpm", rate, (0.01, 20.0), "1/s per rpm");
        }
        // A thinner liquid at the wall turns faster there: the factor falls with the flow index.
        for pair in spindle.rate_per_rpm.windows(2) {
            if let [low, high] = pair
                && low <= high
            {
                desk.report(TABLE, key, "rate_per_rpm", Flaw::Order { low: *low, high: *high });
            }
        }
        let newtonian = 100.0 * spindle.stress_pa_per_percent / spindle.rate_per_rpm[9];
        let ends = (newtonian * (1.0 - AGREE), newtonian * (1.0 + AGREE));
        desk.within(TABLE, key, "full_scale_pa_s_rpm", spindle.full_scale_pa_s_rpm, ends, "Pa s rpm");
        if let Some(number) = spindle.number
            && let Some(other) = numbers.insert(number, key)
        {
            let flaw = Flaw::NameShared { name: format!("spindle {number}"), other: other.clone() };
            desk.report(TABLE, key, "number", flaw);
        }
    }
    for (key, torque) in &facts.instruments.torques_n_m {
        desk.within("torque_range", key, "full_scale_n_m", torque.value, (1e-6, 1.0), "N m");
    }
}
