//! `speciate`: species, pH and free metals of a bare solution.

use super::tables::{notes, results};
use crate::answer::{Answer, Failure};
use crate::arguments::{Common, Speciate};
use crate::input::{self, FactsUsed, Input};
use crate::numbers;
use crate::paper::{Lean, Look, Paper};
use levigate_formula::aqueous::ActivityModel;
use levigate_project::solution_file::{self, SolutionReport};
use serde::Serialize;

#[derive(Serialize)]
struct Written<'a> {
    #[serde(flatten)]
    report: &'a SolutionReport,
    facts: &'a FactsUsed,
}

/// Speciates a solution.
pub(crate) fn speciate(common: &Common, asked: &Speciate, look: Look) -> Result<Answer, Failure> {
    let (facts, used) = input::facts(&common.facts)?;
    let input = Input::read(&asked.solution)?;
    let report = solution_file::speciate(&input.name, &input.text, &facts)
        .map_err(|problems| input.refused(problems))?;
    if common.json {
        return Answer::json(&Written { report: &report, facts: &used });
    }
    Ok(Answer::text(page(&report, &used, look)))
}

fn activity_word(model: ActivityModel) -> &'static str {
    match model {
        ActivityModel::Davies => "Davies",
        ActivityModel::Extended => "extended Debye-Hückel",
        ActivityModel::Ideal => "ideal",
    }
}

fn page(report: &SolutionReport, used: &FactsUsed, look: Look) -> String {
    let mut paper = Paper::new(look);
    let air = report.log10_pco2_atm.map_or_else(
        || "closed to the air".to_owned(),
        |pressure| format!("open to carbon dioxide at 10^{pressure} atm"),
    );
    let own = if report.constants == "replace" { "; constants of the file" } else { "" };
    paper.title(&format!("Solution at {} °C", report.temperature_c));
    paper.paragraph(0, &format!("{air}; activity: {}{own}", activity_word(report.activity)));
    paper.gap();
    results(
        &mut paper,
        &[
            ("pH", &report.ph),
            ("ionic strength", &report.ionic_strength),
            ("water activity", &report.water_activity),
            ("osmolality", &report.osmolality),
            ("buffer capacity", &report.buffer_capacity),
        ],
    );
    paper.heading("Species", "mol per kg of water");
    let rows: Vec<Vec<String>> = report
        .species
        .iter()
        .map(|species| {
            vec![
                species.name.clone(),
                format!("{:.3e}", species.molality),
                species.charge.to_string(),
                format!("{:.4}", species.log10_gamma),
            ]
        })
        .collect();
    paper.columns(
        &[
            ("species", Lean::Left),
            ("molality", Lean::Right),
            ("charge", Lean::Right),
            ("log γ", Lean::Right),
        ],
        &rows,
    );
    if !report.free_metals.is_empty() {
        paper.heading("Free metals", "mol per kg of water");
        let rows: Vec<Vec<String>> = report
            .free_metals
            .iter()
            .map(|(ion, molality)| {
                vec![ion.clone(), format!("{molality:.3e}"), numbers::value(molality.log10(), None, None)]
            })
            .collect();
        paper.columns(&[("ion", Lean::Left), ("molality", Lean::Right), ("log10", Lean::Right)], &rows);
    }
    paper.gap();
    notes(&mut paper, &report.notes);
    paper.paragraph(
        2,
        &format!(
            "{} iterations; the balances close to {:.1e} (mass) and {:.1e} (protons).",
            report.iterations, report.residuals.mass_balance, report.residuals.proton_balance
        ),
    );
    if let Some(remark) = used.remark() {
        paper.paragraph(2, &remark);
    }
    paper.finish()
}
