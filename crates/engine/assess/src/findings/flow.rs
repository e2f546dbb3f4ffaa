//! Findings about the flow: what the brief asks of it, and what keeps a thickener from its work.

use super::digits;
use crate::finding::{Concerns, Finding, Gravity};
use crate::flow::{FlowReading, Flowing, Outside, Quantity, ThickenerIn};
use levigate_formula::sheet::Sheet;
use levigate_process::flow::blend::Dosed;
use levigate_process::flow::thickener::{Law, neutralised, salted};
use rust_decimal::prelude::ToPrimitive;

/// A gel that keeps less of its strength than this is named.
const WORTH_NAMING: f64 = 0.6;
/// A gel that keeps less of its strength than this has failed, whatever the dose.
const FAILED: f64 = 0.1;
/// Hours a gel or gum rests before it is read: common practice, no source.
const REST_H: f64 = 24.0;

/// The flow against the brief and the thickeners against what is around them.
pub(crate) fn findings(sheet: &Sheet, flowing: &Flowing<'_>, reading: &FlowReading) -> Vec<Finding> {
    let mut found = Vec::new();
    found.extend(not_known(flowing));
    found.extend(against_brief(sheet, flowing, reading));
    found.extend(too_early(sheet, flowing));
    for (one, dosed) in flowing.thickeners.iter().zip(&flowing.blend.thickeners) {
        found.extend(gel(one, dosed));
        found.extend(one.outside.iter().filter_map(|way| outside(one, way)));
        found.extend(hot(one, flowing.temperature_c));
        found.extend(clouds(sheet, one, dosed));
    }
    found
}

fn not_known(flowing: &Flowing<'_>) -> Option<Finding> {
    let lines: Vec<usize> = flowing.not_known.iter().map(|(line, _)| *line).collect();
    let mut names: Vec<&str> = flowing.not_known.iter().map(|(_, name)| name.as_str()).collect();
    names.dedup();
    (!lines.is_empty()).then(|| {
        Finding::new(
            "thickener-not-known",
            Gravity::Know,
            Concerns::lines(&lines),
            format!("Nothing is known of how {} thickens: no viscosity is predicted.", names.join(", ")),
            "Enter a [[thickener]] with the viscosity on its datasheet: range, percent, temperature, spindle or shear rate; or measure the trial.",
        )
        .rule("bounds of this program")
    })
}

fn against_brief(sheet: &Sheet, flowing: &Flowing<'_>, reading: &FlowReading) -> Option<Finding> {
    let target = sheet.target.viscosity.as_ref()?;
    let [least, most] = target.mpa_s.map(|end| end.to_f64());
    let (least, most) = (least?, most?);
    let (value, low, high) = (reading.at_brief.value?, reading.at_brief.low?, reading.at_brief.high?);
    let as_shown = reading.at_brief.notes.iter().any(|note| note.code == "dial-reading");
    // A brief that names a spindle nobody understood speaks of a number that cannot be compared.
    if (!as_shown && target.spindle.is_some()) || (least..=most).contains(&value) {
        return None;
    }
    let (gravity, where_it_lies) = match (high < least || low > most, as_shown) {
        (true, true) => (Gravity::Change, "lies outside"),
        (true, false) => (Gravity::Check, "lies outside"),
        (false, _) => (Gravity::Know, "may miss"),
    };
    let lines: Vec<usize> = flowing.thickeners.iter().flat_map(|one| one.lines.iter().copied()).collect();
    let concerns = if lines.is_empty() { Concerns::target("viscosity") } else { Concerns::lines(&lines) };
    let change = if value < least { "More thickener" } else { "Less thickener" };
    Some(
        Finding::new(
            "viscosity-outside-brief",
            gravity,
            concerns,
            format!(
                "Predicted {} mPa.s ({} to {}; {}) {where_it_lies} the {} to {} mPa.s wanted.",
                digits(value),
                digits(low),
                digits(high),
                reading.condition,
                digits(least),
                digits(most)
            ),
            format!("{change}, or make three levels around it and enter their readings: the next prediction is narrower."),
        )
        .rule("flow of the composition")
        .number("predicted", value, "mPa.s")
        .number("low", low, "mPa.s")
        .number("high", high, "mPa.s"),
    )
}

fn too_early(sheet: &Sheet, flowing: &Flowing<'_>) -> Option<Finding> {
    let age = sheet.target.viscosity.as_ref()?.age_h?.to_f64()?;
    (age < REST_H && !flowing.thickeners.is_empty()).then(|| {
        Finding::new(
            "viscosity-read-too-early",
            Gravity::Know,
            Concerns::target("viscosity"),
            format!("The brief reads the viscosity {} h after making.", digits(age)),
            "Gels and gums go on swelling and recover from stirring: read after 24 h.",
        )
        .rule("gels and gums are read after 24 h")
        .source("common-practice")
    })
}

/// A thickener that clouds when it is warm, where the brief wants the product clear.
fn clouds(sheet: &Sheet, one: &ThickenerIn<'_>, dosed: &Dosed<'_>) -> Option<Finding> {
    let range = one.known.record.gels_above_c.as_ref()?;
    (sheet.target.clarity.as_deref() == Some("clear")).then(|| {
        Finding::new(
            "clouds-when-warm",
            Gravity::Know,
            Concerns::lines(&one.lines),
            format!(
                "{} clouds and gels when it is warmed: alone in water from {} to {} C. Salt brings that down; here the ionic strength is {} mol/kg.",
                one.name,
                digits(range.low),
                digits(range.high),
                digits(dosed.around.ionic_strength)
            ),
            "Give the clarity a limit in NTU, and look at it warm (45 C), at 25 C and cold (4 C), each time after the product has come to the temperature.",
        )
        .rule("clouding of cellulose ethers in warm water")
        .source(&range.source)
        .source("hpmc-salt-2014")
        .number("clouds from", range.low, "C")
        .number("ionic strength", dosed.around.ionic_strength, "mol/kg")
    })
}

fn gel(one: &ThickenerIn<'_>, dosed: &Dosed<'_>) -> Option<Finding> {
    if !matches!(dosed.law.law, Law::Microgel) {
        return None;
    }
    let (charged, left) =
        (neutralised(dosed.around.dissociated), salted(dosed.knowledge.theta[6], dosed.around.added_salt));
    let gravity = |share: f64| if share < FAILED { Gravity::Change } else { Gravity::Check };
    if one.known.family.neutralise && charged < WORTH_NAMING {
        return Some(
            Finding::new(
                "gel-not-neutralised",
                gravity(charged),
                Concerns::lines(&one.lines),
                format!(
                    "Only {} % of the acid groups of {} are dissociated: the gel has about {} % of its strength.",
                    digits(100.0 * dosed.around.dissociated),
                    one.name,
                    digits(100.0 * charged)
                ),
                "Raise the pH to 6 or above, or take a thickener that works in acid.",
            )
            .rule("rule of thumb on the dissociated share")
            .source("common-practice")
            .number("dissociated share", dosed.around.dissociated, ""),
        );
    }
    (left < WORTH_NAMING).then(|| {
        Finding::new(
            "gel-lost-to-salt",
            gravity(left),
            Concerns::lines(&one.lines),
            format!(
                "Salt of {} mol/kg beside the gel's own leaves {} about {} % of its strength.",
                digits(dosed.around.added_salt),
                one.name,
                digits(100.0 * left)
            ),
            "Take out salts, exchange the buffer, use a chelant or active with less sodium, or a thickener that bears salt.",
        )
        .rule("rule of thumb: strength halved by a salt of the family's own")
        .source("common-practice")
        .number("added ionic strength", dosed.around.added_salt, "mol/kg")
    })
}

fn outside(one: &ThickenerIn<'_>, way: &Outside) -> Option<Finding> {
    let evidence = &one.known.family.evidence;
    let (code, gravity, found, change) = match way.what {
        // What a gel loses there has its own finding.
        Quantity::Ph if one.known.family.neutralise && way.here < way.covered => return None,
        Quantity::Ph => (
            "thickener-outside-ph",
            Gravity::Check,
            format!(
                "{} at pH {}: its evidence covers {} to {}.",
                one.name,
                digits(way.here),
                evidence.ph[0],
                evidence.ph[1]
            ),
            "Follow the viscosity at 40 C over weeks, or take a thickener for this pH.".to_owned(),
        ),
        Quantity::Dose => (
            "thickener-level-outside",
            Gravity::Know,
            format!(
                "{} g/dL of {}: its evidence covers {} to {} g/dL; the band is wider.",
                digits(way.here),
                one.name,
                evidence.dose_g_dl[0],
                evidence.dose_g_dl[1]
            ),
            "Measure a trial and enter the reading.".to_owned(),
        ),
        Quantity::Temperature | Quantity::Salt | Quantity::Cosolvent => return None,
    };
    Some(
        Finding::new(code, gravity, Concerns::lines(&one.lines), found, change)
            .rule("evidence of the family")
            .source(&evidence.source)
            .number(way.what.words().0, way.here, way.what.words().1),
    )
}

fn hot(one: &ThickenerIn<'_>, temperature_c: f64) -> Option<Finding> {
    let range = one.known.record.gels_above_c.as_ref()?;
    (temperature_c >= range.low).then(|| {
        Finding::new(
            "thickener-gels-hot",
            Gravity::Check,
            Concerns::lines(&one.lines),
            format!(
                "{} comes out of water or gels from {} to {} C; the viscosity at {} C is not predicted well.",
                one.name,
                digits(range.low),
                digits(range.high),
                digits(temperature_c)
            ),
            "Read it cold.",
        )
        .rule("gel point on heating")
        .source(&range.source)
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use levigate_measure::elementary::Elementary as _;

    #[test]
    fn half_a_percent_in_one_percent_of_salt_is_lost() {
        // 1 % sodium chloride is 0.173 mol/kg; "more than 90 % lost" is what the rule was drawn from.
        assert!(salted(0.012_f64.log_e(), 0.173) < 0.1);
        assert!(neutralised(0.02) < 0.01 && neutralised(0.5) > 0.98);
    }
}
