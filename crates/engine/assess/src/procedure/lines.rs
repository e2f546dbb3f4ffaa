//! What each line is, as far as handling asks: powder or liquid, salt, polyol, gum; and whether a rule means it.

use super::handling::{Handling, Is, Limit, Swelling, SwellingHow, Usual, When, Who};
use crate::saturation::Crystals;
use levigate_formula::library::{Form, InWater, Library, Material, WorkingForm};
use levigate_formula::settle::Settled;
use levigate_formula::sheet::{Amount, Sheet};
use levigate_measure::Sourced;
use rust_decimal::prelude::ToPrimitive;

/// Water from here on is what a raw material consists of, percent of it. Distillates of plants count as water.
const MOSTLY_WATER: f64 = 95.0;
/// A solvent that is water from here on is the water of a batch that has no plainer one, percent of it: a distillate kept with alcohol.
const WATERY_SOLVENT: f64 = 80.0;
/// A polyol for wetting holds less water than this, percent of it.
const LITTLE_WATER: f64 = 50.0;
/// A substance of a material from here on is what it consists of, percent of it.
const HOLDS_FROM: f64 = 1.0;
/// What wets a powder holds less of salts than this, percent of it (common practice, no source).
const WETTING_IONS_BELOW: f64 = 1.0;
/// Ions from here on are electrolyte to a gum, percent of the product (common practice, no source).
const ELECTROLYTE_FROM: f64 = 0.05;

/// One line with what handling asks about it.
#[derive(Clone, Debug)]
pub(super) struct LineFacts<'a> {
    pub(super) line: usize,
    pub(super) phase: usize,
    pub(super) material: &'a Material,
    /// As the formula names it.
    pub(super) typed: String,
    pub(super) percent: f64,
    pub(super) is: Vec<Is>,
    pub(super) swelling: Option<&'a Swelling>,
    add_below: Option<Sourced<f64>>,
}

impl LineFacts<'_> {
    pub(super) fn name(&self) -> &str {
        &self.material.name
    }

    /// As the formula names it, where that is a name.
    pub(super) fn called(&self) -> &str {
        let a_name = self.typed != self.material.key && self.typed.chars().any(char::is_alphabetic);
        if a_name { &self.typed } else { self.name() }
    }

    pub(super) fn is(&self, what: Is) -> bool {
        self.is.contains(&what)
    }

    pub(super) fn is_solid(&self) -> bool {
        matches!(self.material.form, Form::Powder | Form::Granules | Form::Wax)
    }

    /// Whether it is handled by itself, not together with others.
    pub(super) fn is_dangerous(&self) -> bool {
        const ALONE: [&str; 4] = ["acid", "caustic", "flammable", "oxidiser"];
        let named = self.material.cautions.iter().any(|caution| ALONE.contains(&caution.hazard.as_str()));
        named && !self.material.functions.iter().any(|function| function == "fragrance")
    }

    /// The upper temperature of a kind, C, with its source.
    pub(super) fn limit(&self, limit: Limit, usual: &Usual, source: &str) -> Option<(f64, String)> {
        let sourced = |value: &Sourced<f64>| (value.value, value.source.clone());
        match limit {
            Limit::HeatLimit => self.material.heat_limit_c.as_ref().map(sourced),
            Limit::AddBelow => self.add_below.as_ref().map(sourced),
            Limit::FlashPoint => match &self.material.flash_point_c {
                // What is flammable in the room itself is kept at room temperature: nothing can be asked below it.
                Some(flash) => {
                    let limit = (flash.value - usual.flash_margin_c).max(usual.room_c[1]);
                    Some((limit, flash.source.clone()))
                }
                // Flammable, and nobody knows from where on: it is not warmed at all.
                None => {
                    let flammable = self.material.cautions.iter().any(|one| one.hazard == "flammable");
                    flammable.then(|| (usual.room_c[1], source.to_owned()))
                }
            },
            Limit::Celsius(celsius) => Some((celsius, source.to_owned())),
        }
    }
}

/// What the batch as a whole is like.
#[derive(Clone, Debug)]
pub(super) struct Batch<'a> {
    pub(super) lines: Vec<LineFacts<'a>>,
    pub(super) when: Vec<When>,
}

/// Looks at every line of the formula.
pub(super) fn look<'a>(
    sheet: &Sheet,
    settled: &Settled<'a>,
    library: &Library,
    handling: &'a Handling,
    usual: &Usual,
    crystals: &Crystals,
) -> Batch<'a> {
    let typed: Vec<_> = sheet.lines().map(|(_, line)| line).collect();
    let mut lines: Vec<LineFacts<'a>> = settled
        .lines
        .iter()
        .zip(&settled.materials)
        .zip(&typed)
        .map(|((line, material), typed)| LineFacts {
            line: line.line,
            phase: line.phase,
            material,
            typed: typed.material.clone(),
            percent: line.percent,
            is: own_traits(material, line.percent, &typed.amount, library, usual),
            swelling: None,
            add_below: add_below(material, library),
        })
        .collect();
    let water = lines
        .iter()
        .filter(|one| is_watery(one.material, library))
        .max_by(|a, b| a.percent.total_cmp(&b.percent).then(b.line.cmp(&a.line)))
        .map(|one| one.line);
    for one in &mut lines {
        if Some(one.line) == water {
            one.is.push(Is::Water);
        }
        if one.is(Is::WeakAcidSalt) && crystals.lines.contains(&one.line) {
            one.is.push(Is::FallsOut);
        }
        one.swelling = handling.swelling.values().find(|record| matches(&record.who, one));
        if one.swelling.is_some() {
            one.is.push(Is::Swells);
        }
    }
    let when = whens(sheet, &lines, usual);
    Batch { lines, when }
}

fn own_traits(
    material: &Material,
    percent: f64,
    amount: &Amount,
    library: &Library,
    usual: &Usual,
) -> Vec<Is> {
    let does = |word: &str| material.functions.iter().any(|function| function == word);
    let mut is = Vec::new();
    let adjuster = matches!(amount, Amount::ToPh(_));
    if adjuster {
        is.push(Is::Adjuster);
    }
    let weak_salt = material.constituents.iter().any(|part| {
        part.typical >= HOLDS_FROM
            && library.preservatives.get(&part.substance).is_some_and(|one| {
                matches!(one.working_form, WorkingForm::Undissociated { .. }) && one.acts_as != one.substance
            })
    });
    if weak_salt {
        is.push(Is::WeakAcidSalt);
    }
    let ionic: f64 = material
        .constituents
        .iter()
        .filter(|part| {
            library.substances.get(&part.substance).is_some_and(|one| {
                matches!(one.in_water, InWater::Components { .. })
                    && one.components().any(|name| name != "H+" && name.contains('+'))
            })
        })
        .map(|part| part.typical)
        .sum();
    if !adjuster && !does("base") && ionic / 100.0 * percent >= ELECTROLYTE_FROM {
        is.push(Is::Electrolyte);
    }
    let polyol = matches!(material.form, Form::Liquid | Form::Solution)
        && (does("humectant") || does("solvent"))
        && !does("extract")
        // A salt in solution keeps the grains it wets from swelling.
        && ionic < WETTING_IONS_BELOW
        && !holds(material, "water", LITTLE_WATER)
        && !material.cautions.iter().any(|caution| caution.hazard == "flammable" || caution.hazard == "acid");
    if polyol {
        is.push(Is::Polyol);
    }
    if material.heat_limit_c.as_ref().is_some_and(|limit| limit.value < usual.hold_c) {
        is.push(Is::HeatSensitive);
    }
    is
}

/// Whether it can be the water of a batch.
fn is_watery(material: &Material, library: &Library) -> bool {
    let water = |key: &str| library.substances.get(key).is_some_and(|one| one.in_water == InWater::Water);
    let share: f64 =
        material.constituents.iter().filter(|part| water(&part.substance)).map(|part| part.typical).sum();
    let solvent = material.functions.iter().any(|function| function == "solvent");
    share >= MOSTLY_WATER || solvent && share >= WATERY_SOLVENT
}

fn holds(material: &Material, substance: &str, percent: f64) -> bool {
    material.constituents.iter().any(|part| part.substance == substance && part.typical >= percent)
}

fn add_below(material: &Material, library: &Library) -> Option<Sourced<f64>> {
    material
        .constituents
        .iter()
        .filter_map(|part| library.preservatives.get(&part.substance)?.add_below_c.as_ref())
        .min_by(|a, b| a.value.total_cmp(&b.value))
        .cloned()
}

fn whens(sheet: &Sheet, lines: &[LineFacts<'_>], usual: &Usual) -> Vec<When> {
    let adjusts = |function: &str| {
        lines
            .iter()
            .any(|one| one.is(Is::Adjuster) && one.material.functions.iter().any(|own| own == function))
    };
    let asked_hot = sheet.phases.iter().any(|phase| {
        let warm = phase.temperature_c.and_then(|celsius| celsius.to_f64());
        warm.is_some_and(|warm| warm >= usual.hot_from_c) && !phase.lines.is_empty()
    });
    let melts = lines.iter().any(|one| {
        one.material.form == Form::Wax
            && one.material.functions.iter().any(|own| own == "emollient" || own == "emulsifier")
    });
    let swells_hot =
        lines.iter().any(|one| one.swelling.is_some_and(|record| record.how == SwellingHow::Hot));
    let heated = asked_hot || melts || swells_hot;
    let gels_with_base = lines.iter().any(|one| one.swelling.is_some_and(|record| record.gels_with_base));
    let thick = lines.iter().any(|one| one.swelling.is_some());
    let mut when =
        vec![if thick { When::Thick } else { When::Thin }, if heated { When::Heated } else { When::Cold }];
    if adjusts("base") {
        when.push(When::BaseAdjusts);
    }
    if adjusts("acid") {
        when.push(When::AcidAdjusts);
    }
    if lines.iter().any(|one| one.is(Is::Adjuster)) {
        when.push(When::Adjusted);
    }
    if thick {
        when.push(if gels_with_base && adjusts("base") { When::GelsWithBase } else { When::GelsByItself });
    }
    when
}

/// Whether lines are meant, by what they are; steps are another matter.
pub(super) fn matches(who: &Who, one: &LineFacts<'_>) -> bool {
    let material = one.material;
    let any = |wanted: &[String], has: &dyn Fn(&String) -> bool| wanted.is_empty() || wanted.iter().any(has);
    who.event.is_none()
        && any(&who.functions, &|word| material.functions.contains(word))
        && !who.without.iter().any(|word| material.functions.contains(word))
        && (who.form.is_empty() || who.form.contains(&material.form))
        && (who.wetting.is_empty() || material.wetting.is_some_and(|own| who.wetting.contains(&own)))
        && (who.charge.is_empty() || material.charge.is_some_and(|own| who.charge.contains(&own)))
        && any(&who.holds, &|key| holds(material, key, HOLDS_FROM))
        && any(&who.holds_any, &|key| material.constituents.iter().any(|part| &part.substance == key))
        && !who.holds_no.iter().any(|key| material.constituents.iter().any(|part| &part.substance == key))
        && any(&who.hazard, &|word| material.cautions.iter().any(|caution| &caution.hazard == word))
        && who.is.iter().all(|what| one.is(*what))
        && !who.is_not.iter().any(|what| one.is(*what))
        && who.percent_from.is_none_or(|least| one.percent >= least)
}
