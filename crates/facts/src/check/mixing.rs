//! Impellers whose numbers stand in their ranges, vessels that can be.

use levigate_process::impeller::Number;

use super::{Desk, Flaw};

pub(super) fn look(desk: &mut Desk<'_>) {
    impellers(desk);
    vessels(desk);
    hydration(desk);
}

fn number(desk: &mut Desk<'_>, key: &str, field: &str, number: Option<&Number>, range: (f64, f64)) {
    number_of(desk, ("impeller", key), field, number, range);
}

fn number_of(
    desk: &mut Desk<'_>,
    (table, key): (&'static str, &str),
    field: &str,
    number: Option<&Number>,
    range: (f64, f64),
) {
    let Some(number) = number else { return };
    for value in [number.low, number.value, number.high] {
        desk.within(table, key, field, value, range, "");
    }
    for (low, high) in [(number.low, number.value), (number.value, number.high)] {
        if low > high {
            desk.report(table, key, field, Flaw::Order { low, high });
        }
    }
}

fn hydration(desk: &mut Desk<'_>) {
    const TABLE: &str = "hydration";
    let facts = desk.facts;
    for (key, gum) in &facts.mixing.hydration {
        desk.kebab(TABLE, key);
        number_of(desk, (TABLE, key), "wetting", gum.wetting.as_ref(), (0.5, 100.0));
        number_of(desk, (TABLE, key), "minutes", Some(&gum.minutes), (0.1, 10_000.0));
        number_of(desk, (TABLE, key), "tip_m_s", Some(&gum.tip_m_s), (0.05, 50.0));
        desk.within(TABLE, key, "grain_um", gum.grain_um, (1.0, 5000.0), "um");
        desk.within(TABLE, key, "temperature_c", gum.temperature_c, (0.0, 100.0), "deg C");
        desk.within(TABLE, key, "measure_after_h", gum.measure_after_h, (0.1, 1000.0), "h");
        for family in &gum.families {
            if !facts.flow.families.contains_key(family) {
                let flaw = Flaw::UnknownSubstance { substance: family.clone() };
                desk.report(TABLE, key, "families", flaw);
            }
        }
    }
}

fn impellers(desk: &mut Desk<'_>) {
    let facts = desk.facts;
    for (key, kind) in &facts.mixing.impellers {
        desk.kebab("impeller", key);
        number(desk, key, "turbulent", kind.turbulent.as_ref(), (0.05, 20.0));
        number(desk, key, "laminar", kind.laminar.as_ref(), (5.0, 2000.0));
        number(desk, key, "pumping", kind.pumping.as_ref(), (0.05, 3.0));
        number(desk, key, "shear", Some(&kind.shear), (1.0, 200.0));
        number(desk, key, "suspending", kind.suspending.as_ref(), (1.0, 20.0));
        desk.within("impeller", key, "blade_ratio", kind.blade_ratio, (0.01, 2.0), "");
        desk.within("impeller", key, "angle_deg", kind.angle_deg, (5.0, 90.0), "degrees");
        let [low, high] = kind.diameter_ratio;
        if low > high {
            desk.report("impeller", key, "diameter_ratio", Flaw::Order { low, high });
        }
    }
}

fn vessels(desk: &mut Desk<'_>) {
    let facts = desk.facts;
    for (key, size) in &facts.mixing.vessels {
        desk.kebab("vessel", key);
        let made = match facts.mixing.made(size) {
            Ok(vessel) => vessel,
            Err(error) => {
                desk.report("vessel", key, error.field().unwrap_or(""), Flaw::Vessel { error });
                continue;
            }
        };
        // What people call it goes in, and not twice.
        let brim = 1e3 * made.brim_m3();
        desk.within("vessel", key, "nominal_l", size.nominal_l, (0.45 * brim, brim), "L");
    }
    for (key, material) in &facts.mixing.wall_materials {
        desk.kebab("wall_material", key);
        for (field, value, range, unit) in [
            ("conductivity_w_m_k", material.conductivity_w_m_k, (0.01, 500.0), "W/(m K)"),
            ("density_kg_m3", material.density_kg_m3, (100.0, 25_000.0), "kg/m3"),
            ("heat_capacity_j_kg_k", material.heat_capacity_j_kg_k, (100.0, 5000.0), "J/(kg K)"),
            ("emissivity", material.emissivity, (0.01, 1.0), ""),
        ] {
            desk.within("wall_material", key, field, value, range, unit);
        }
    }
}
