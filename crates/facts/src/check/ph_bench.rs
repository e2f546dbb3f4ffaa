//! Buffers, rules for a calibration, conventions and drifts: numbers that can be, substances that exist.

use super::{Desk, Flaw};

pub(super) fn look(desk: &mut Desk<'_>) {
    let facts = desk.facts;
    for (key, buffer) in &facts.ph_bench.buffers {
        const TABLE: &str = "ph_buffer";
        desk.kebab(TABLE, key);
        desk.within(TABLE, key, "uncertainty", buffer.uncertainty, (1e-4, 0.2), "pH");
        if buffer.at.len() < 2 {
            desk.report(TABLE, key, "at", Flaw::Empty);
        }
        for pair in buffer.at.windows(2) {
            if pair[0][0] >= pair[1][0] {
                desk.report(TABLE, key, "at", Flaw::Order { low: pair[0][0], high: pair[1][0] });
            }
            // Between neighbouring temperatures no buffer moves by a tenth: a larger step is a slip of the pen.
            desk.within(TABLE, key, "at", (pair[1][1] - pair[0][1]).abs(), (0.0, 0.1), "pH between rows");
        }
        let nominal = buffer.ph_at(25.0).unwrap_or(f64::NAN);
        desk.within(TABLE, key, "nominal_ph", (nominal - buffer.nominal_ph).abs(), (0.0, 0.011), "pH");
    }
    for (key, rule) in &facts.ph_bench.rules {
        const TABLE: &str = "ph_meter_rule";
        desk.kebab(TABLE, key);
        let mut ends = vec![("slope_percent", rule.slope_percent, (50.0, 150.0), "%")];
        ends.extend(rule.offset_mv.map(|ends| ("offset_mv", ends, (-120.0, 120.0), "mV")));
        for (field, [low, high], limits, unit) in ends {
            desk.within(TABLE, key, field, low, limits, unit);
            desk.within(TABLE, key, field, high, limits, unit);
            if low >= high {
                desk.report(TABLE, key, field, Flaw::Order { low, high });
            }
        }
    }
    if let Some(held) = &facts.ph_bench.convention {
        const TABLE: &str = "ph_adjusting";
        for (field, value, most) in [
            ("excess_mmol_kg", held.excess_mmol_kg, 50.0),
            ("capacity_relative", held.capacity_relative, 1.0),
            ("strength_relative", held.strength_relative, 1.0),
            ("line_relative", held.line_relative, 1.0),
            ("reading_ph", held.reading_ph, 0.5),
            ("meter_ph", held.meter_ph, 1.0),
            ("target_ph", held.target_ph, 1.0),
            ("drop_g", held.drop_g, 1.0),
        ] {
            desk.within(TABLE, "convention", field, value, (1e-6, most), "");
        }
    }
    for (key, drift) in &facts.ph_bench.drifts {
        const TABLE: &str = "ph_drift";
        desk.kebab(TABLE, key);
        desk.within(TABLE, key, "within_days", drift.within_days, (1e-3, 3650.0), "days");
        if drift.substances.is_empty() {
            desk.report(TABLE, key, "substances", Flaw::Empty);
        }
        for substance in &drift.substances {
            if !facts.library.substances.contains_key(substance) {
                desk.report(
                    TABLE,
                    key,
                    "substances",
                    Flaw::UnknownSubstance { substance: substance.clone() },
                );
            }
        }
    }
}
