//! Microbes of a finished product, with the formula beside them where one is named.

mod typed;

use crate::diagnostic::Diagnostic;
use crate::proof_file::microbes::{LowRisk, MicrobesFile, Water, read};
use crate::workbench::assess::assess;
use jiff::civil::Date;
use levigate_assess::Assessment;
use levigate_assess::microbes::{Brings, Counting, Microbes, microbes as answered};
pub use levigate_assess::microbes::{
    BringsReading, CountReading, LowRiskReading, MicrobesReading, OrganismReading, Stands,
};
use levigate_facts::Facts;
use levigate_formula::preservation::{Hurdle, HurdleReading, HurdleTrait};
pub use typed::{TypedCount, TypedLooked, TypedMicrobes, TypedPlates, read_typed};

/// Answers a question; of a formula, its class, water, pH and contents count.
///
/// # Errors
/// All that is wrong with the text or with the formula.
pub fn microbes(
    facts: &Facts,
    (day, market): (Date, &str),
    (file, text): (&str, &str),
    formula: Option<(&str, &str)>,
) -> Result<MicrobesReading, Vec<Diagnostic>> {
    let asked = read(file, text, &facts.rules, formula.is_some())?;
    let assessed = formula.map(|(file, text)| assess(facts, day, market, file, text)).transpose()?;
    answer(facts, file, &asked, assessed.as_ref().map(|assessed| &assessed.assessment))
}

/// Answers what was typed beside a formula; its class, water, pH and contents count.
///
/// # Errors
/// All that is wrong with the formula.
pub fn microbes_typed(
    facts: &Facts,
    (day, market): (Date, &str),
    asked: &MicrobesFile,
    (file, text): (&str, &str),
) -> Result<MicrobesReading, Vec<Diagnostic>> {
    let assessed = assess(facts, day, market, file, text)?;
    answer(facts, file, asked, Some(&assessed.assessment))
}

fn answer(
    facts: &Facts,
    file: &str,
    asked: &MicrobesFile,
    assessment: Option<&Assessment>,
) -> Result<MicrobesReading, Vec<Diagnostic>> {
    let of_formula = assessment.and_then(|one| one.rules.microbial.as_ref()).map(|one| &one.key);
    let class = asked.class.as_ref().or(of_formula).and_then(|key| facts.rules.microbial.get(key));
    let Some(class) = class else {
        return Err(vec![said(
            file,
            "class",
            "no class of products is on file for this formula",
            "write class, or lay facts with one over the shipped ones",
        )]);
    };
    let counts = asked
        .counts
        .iter()
        .filter_map(|row| {
            let plating = facts.rules.plating.get(&row.of)?;
            Some(Counting { plating, plated_ml: row.plated_ml, plates: row.plates.clone() })
        })
        .collect();
    let question = Microbes {
        title: asked.title.clone(),
        class,
        counts,
        looked: asked.looked.clone(),
        brings: brings(asked, assessment),
        low_risk: low_risk(facts, asked.low_risk, assessment),
    };
    answered(&question).map_err(|error| vec![said(file, "count", &error.to_string(), "correct the plates")])
}

fn said(file: &str, field: &str, what: &str, what_now: &str) -> Diagnostic {
    Diagnostic {
        file: file.to_owned(),
        line: 0,
        column: 0,
        field: field.to_owned(),
        code: "microbes".to_owned(),
        what: what.to_owned(),
        what_now: what_now.to_owned(),
        sheet_line: None,
    }
}

fn brings(asked: &MicrobesFile, assessment: Option<&Assessment>) -> Vec<Brings> {
    let of_formula = assessment.map(|one| {
        let lines =
            one.rules.microbial.as_ref().map(|limits| limits.water_lines.as_slice()).unwrap_or_default();
        let water = one.lines.iter().filter(|line| lines.contains(&line.line));
        water.filter_map(|line| line.percent.value).sum::<f64>()
    });
    let water = asked.water.and_then(|Water { cfu_per_ml, below, percent }| {
        let percent = percent.or(of_formula)?;
        Some(Brings { name: "Water".to_owned(), percent, cfu_per_g: cfu_per_ml, below })
    });
    water.into_iter().chain(asked.materials.iter().cloned()).collect()
}

/// The list, by the formula where one is named, else by what was typed.
fn low_risk(
    facts: &Facts,
    typed: Option<LowRisk>,
    assessment: Option<&Assessment>,
) -> Option<Vec<HurdleReading>> {
    let list = facts.preservation.hurdles.values();
    let Some(assessment) = assessment else {
        let typed = typed?;
        return Some(list.map(|hurdle| hurdle.read(of_typed(hurdle, &typed), None)).collect());
    };
    let fill = typed.and_then(|typed| typed.fill_c);
    let window = assessment.ph.target;
    let read = list.map(|hurdle| {
        let own = assessment.preservatives.hurdles.iter().find(|one| one.key == hurdle.key);
        match (hurdle.of, own) {
            (HurdleTrait::HotFillAbove, _) | (_, None) => {
                hurdle.read(fill.filter(|_| hurdle.of == HurdleTrait::HotFillAbove), None)
            }
            (HurdleTrait::PhAtMost | HurdleTrait::PhAtLeast, Some(_)) => {
                // A batch may come to stand anywhere in its window: the edge farthest from the property decides.
                let stands = assessment.ph.product.value;
                let edge =
                    window.map(|[low, high]| if hurdle.of == HurdleTrait::PhAtMost { high } else { low });
                let worst = match (stands, edge) {
                    (Some(stands), Some(edge)) if hurdle.of == HurdleTrait::PhAtMost => {
                        Some(stands.max(edge))
                    }
                    (Some(stands), Some(edge)) => Some(stands.min(edge)),
                    (stands, edge) => stands.or(edge),
                };
                hurdle.read(stands, worst)
            }
            (_, Some(own)) => own.clone(),
        }
    });
    Some(read.collect())
}

fn of_typed(hurdle: &Hurdle, typed: &LowRisk) -> Option<f64> {
    match hurdle.of {
        HurdleTrait::PhAtMost | HurdleTrait::PhAtLeast => typed.ph,
        HurdleTrait::WaterActivityAtMost => typed.water_activity,
        HurdleTrait::AlcoholAbove => typed.alcohol_percent,
        HurdleTrait::HotFillAbove => typed.fill_c,
        HurdleTrait::SubstanceAbove => typed.aluminium_chlorohydrate_percent,
        HurdleTrait::WaterAtMost => typed.water_percent,
    }
}
