//! The water phase: acidity, adjusters, metals and chelants.

use super::results;
use crate::numbers;
use crate::paper::{Lean, Paper};
use levigate_assess::Assessment;

/// Acidity and what hangs on it.
pub(crate) fn acidity(paper: &mut Paper, assessment: &Assessment) {
    let ph = &assessment.ph;
    let how = ph.target_read.as_ref().map_or_else(String::new, |how| format!(", {how}"));
    let target = ph.target.map(|[low, high]| format!("wanted {low} to {high}{how}")).unwrap_or_default();
    paper.heading("Acidity", &target);
    let mut rows = vec![("pH of the product", &ph.neat)];
    if let Some(read) = &ph.at_target {
        rows.push(("pH read as it is wanted", read));
    }
    if let Some(in_air) = &ph.in_air {
        rows.push(("pH after standing open to the air", in_air));
    }
    rows.extend([
        ("pH of 10 % in water", &ph.ten_percent),
        ("buffer capacity", &ph.buffer_capacity),
        ("ionic strength", &ph.ionic_strength),
        ("water activity", &ph.water_activity),
        ("osmolality", &ph.osmolality),
    ]);
    results(paper, &rows);
}

/// Acid and base lines whose amount was solved.
pub(crate) fn adjusters(paper: &mut Paper, assessment: &Assessment) {
    if assessment.adjusters.is_empty() {
        return;
    }
    paper.heading("Adjusters", "");
    let named: Vec<_> = assessment
        .adjusters
        .iter()
        .flat_map(|adjuster| {
            let line = format!("line {} {}", adjuster.line + 1, adjuster.name);
            [
                (format!("{line} to pH {}", adjuster.to_ph), &adjuster.percent),
                (format!("{line} added at once warms the batch by"), &adjuster.warms_by),
            ]
        })
        .collect();
    let rows: Vec<_> = named.iter().map(|(name, outcome)| (name.as_str(), *outcome)).collect();
    results(paper, &rows);
}

/// Metals and chelants.
pub(crate) fn metals(paper: &mut Paper, assessment: &Assessment) {
    let reading = &assessment.metals;
    if !reading.metals.is_empty() {
        paper.heading("Metals", "mmol per kg of product; free: mol per kg of water");
        let rows: Vec<Vec<String>> = reading
            .metals
            .iter()
            .map(|metal| {
                let held = metal.held_by.iter().map(|(by, percent)| format!("{by} {}", share(*percent)));
                vec![
                    metal.label.clone(),
                    numbers::value(metal.total_mmol_kg, None, None),
                    numbers::result(&metal.free, false),
                    metal.held_percent.value.map(share).unwrap_or_default(),
                    held.collect::<Vec<_>>().join(", "),
                ]
            })
            .collect();
        let heads = [
            ("metal", Lean::Left),
            ("total", Lean::Right),
            ("free", Lean::Right),
            ("held", Lean::Right),
            ("by", Lean::Left),
        ];
        paper.columns(&heads, &rows);
    }
    if !reading.chelants.is_empty() {
        paper.heading("Chelants", "mmol per kg of product");
        let rows: Vec<Vec<String>> = reading
            .chelants
            .iter()
            .map(|chelant| {
                let holds = chelant
                    .holds
                    .iter()
                    .map(|(metal, amount)| format!("{metal} {}", numbers::value(*amount, None, None)));
                let capacity = chelant.calcium_capacity.as_ref();
                vec![
                    chelant.label.clone(),
                    numbers::value(chelant.total_mmol_kg, None, None),
                    chelant.free_percent.value.map(share).unwrap_or_default(),
                    capacity.map(|capacity| numbers::result(capacity, true)).unwrap_or_default(),
                    holds.collect::<Vec<_>>().join(", "),
                ]
            })
            .collect();
        let heads = [
            ("chelant", Lean::Left),
            ("total", Lean::Right),
            ("idle", Lean::Right),
            ("calcium it could still hold", Lean::Left),
            ("holds", Lean::Left),
        ];
        paper.columns(&heads, &rows);
    }
    if !reading.not_known.is_empty() {
        paper.hanging(2, "note:", &format!("not in the equilibrium model: {}", reading.not_known.join(", ")));
    }
}

/// A share in percent; the ends are not rounded up or down to all or nothing.
fn share(percent: f64) -> String {
    if percent > 99.9 && percent < 100.0 {
        "> 99.9 %".to_owned()
    } else if percent < 0.1 && percent > 0.0 {
        "< 0.1 %".to_owned()
    } else {
        format!("{percent:.1} %")
    }
}
