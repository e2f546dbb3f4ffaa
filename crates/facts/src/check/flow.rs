//! Flow: references that exist, numbers within what can be meant, ranges in order.

use levigate_process::flow::datasheet::{Family, Understood};
use levigate_process::flow::solvent::SolventLaw;

use super::{Desk, Flaw};

const FAMILY: &str = "flow_family";
const THICKENER: &str = "thickener";
const COSOLVENT: &str = "cosolvent_viscosity";

pub(super) fn look(desk: &mut Desk<'_>) {
    let facts = desk.facts;
    for (key, cosolvent) in &facts.flow.cosolvents {
        if !facts.library.substances.contains_key(key) {
            desk.report(COSOLVENT, key, "substance", Flaw::UnknownSubstance { substance: key.clone() });
        }
        desk.within(COSOLVENT, key, "spread", cosolvent.spread, (0.0, 1.0), "");
        match &cosolvent.law {
            SolventLaw::Glycerol => {}
            SolventLaw::Liquid { pure, interaction, .. } => {
                if pure.is_empty() {
                    desk.report(COSOLVENT, key, "pure", Flaw::Empty);
                }
                desk.within(COSOLVENT, key, "interaction", *interaction, (-20.0, 20.0), "");
                for pair in pure.windows(2) {
                    if pair[0].temperature_c >= pair[1].temperature_c {
                        let (low, high) = (pair[0].temperature_c, pair[1].temperature_c);
                        desk.report(COSOLVENT, key, "pure", Flaw::Order { low, high });
                    }
                }
                for point in pure {
                    desk.within(COSOLVENT, key, "temperature_c", point.temperature_c, (-20.0, 150.0), "C");
                    desk.within(COSOLVENT, key, "mpa_s", point.mpa_s, (0.01, 1e6), "mPa.s");
                }
            }
            SolventLaw::Solute { rise, crowding } => {
                desk.within(COSOLVENT, key, "rise", *rise, (0.0, 20.0), "");
                desk.within(COSOLVENT, key, "crowding", *crowding, (0.0, 1.3), "");
            }
        }
    }
    for (key, family) in &facts.flow.families {
        one_family(desk, key, family);
    }
    for (key, thickener) in &facts.flow.thickeners {
        one_thickener(desk, key, thickener);
    }
    for synergy in &facts.flow.synergies {
        let name = synergy.between.join("/");
        for key in &synergy.between {
            if !facts.flow.families.contains_key(key) && !facts.library.materials.contains_key(key) {
                desk.report("synergy", &name, "between", Flaw::UnknownSubstance { substance: key.clone() });
            }
        }
        desk.within("synergy", &name, "strength", synergy.strength.value, (-5.0, 5.0), "");
        desk.within("synergy", &name, "spread", synergy.strength.spread, (0.0, 5.0), "");
    }
}

fn one_family(desk: &mut Desk<'_>, key: &str, family: &Family) {
    for (field, value, meant, unit) in [
        ("reference, dose_g_dl", family.reference.dose_g_dl, (1e-3, 100.0), "g/dL"),
        ("reference, ionic_strength", family.reference.ionic_strength, (0.0, 5.0), "mol/kg"),
        ("dose_exponent", family.dose_exponent.value, (-2.0, 8.0), ""),
        ("critical", family.critical.value, (1e-9, 1e6), "Pa or 1/s"),
        ("critical_exponent", family.critical_exponent.value, (-6.0, 6.0), ""),
        ("thinning", family.thinning.value, (0.0, 1.0), ""),
        ("heat_kj_mol", family.heat_kj_mol.value, (-100.0, 100.0), "kJ/mol"),
        ("model_spread", family.model_spread, (0.0, 3.0), ""),
        ("evidence, ionic_strength", family.evidence.ionic_strength, (0.0, 10.0), "mol/kg"),
    ] {
        desk.within(FAMILY, key, field, value, meant, unit);
    }
    for (field, spread) in [
        ("dose_exponent", family.dose_exponent.spread),
        ("critical_exponent", family.critical_exponent.spread),
        ("thinning", family.thinning.spread),
        ("heat_kj_mol", family.heat_kj_mol.spread),
    ] {
        desk.within(FAMILY, key, field, spread, (0.0, 50.0), "");
    }
    let evidence = &family.evidence;
    for (field, [low, high], meant, unit) in [
        ("evidence, dose_g_dl", evidence.dose_g_dl, (1e-4, 100.0), "g/dL"),
        ("evidence, shear_rate", evidence.shear_rate, (1e-7, 1e7), "1/s"),
        ("evidence, ph", evidence.ph, (0.0, 14.0), "pH"),
        ("evidence, temperature_c", evidence.temperature_c, (-10.0, 130.0), "C"),
    ] {
        desk.within(FAMILY, key, field, low, meant, unit);
        desk.within(FAMILY, key, field, high, meant, unit);
        if low > high {
            desk.report(FAMILY, key, field, Flaw::Order { low, high });
        }
    }
}

fn one_thickener(desk: &mut Desk<'_>, key: &str, thickener: &Understood) {
    for sheet in &thickener.record.datasheet {
        desk.within(THICKENER, key, "percent", sheet.percent, (1e-3, 60.0), "%");
        desk.within(THICKENER, key, "temperature_c", sheet.temperature_c, (0.0, 100.0), "C");
        for value in sheet.mpa_s {
            desk.within(THICKENER, key, "mpa_s", value, (0.5, 1e8), "mPa.s");
        }
    }
    if let Some(range) = &thickener.record.gels_above_c
        && range.low > range.high
    {
        desk.report(THICKENER, key, "gels_above_c", Flaw::Order { low: range.low, high: range.high });
    }
}
