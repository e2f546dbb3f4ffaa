//! Findings about lines the balance cannot weigh well.

use super::digits;
use crate::finding::{Concerns, Finding, Gravity};
use crate::reading::LineReading;
use crate::weighability::WeighingReading;

/// From this expanded uncertainty on a weak line must change, percent of it; below, it is worth a look (common practice, no source).
const BADLY_PERCENT: f64 = 10.0;

/// One finding per weak line.
pub(crate) fn findings(weighing: &WeighingReading, lines: &[LineReading]) -> Vec<Finding> {
    weighing
        .lines
        .iter()
        .filter(|line| line.weighable.is_weak() && line.grams > 0.0)
        .filter_map(|line| {
            let reading = lines.get(line.line)?;
            if reading.basis == "solved" || reading.basis == "remainder" {
                return None;
            }
            let expanded = line.expanded_percent.value.unwrap_or(f64::NAN);
            let gravity = if expanded >= BADLY_PERCENT { Gravity::Change } else { Gravity::Check };
            let mut ways = Vec::new();
            if let Some(stock) = &line.stock {
                ways.push(format!(
                    "weigh {} g of a {} % stock solution (uncertainty {} %) and take {} g off the q.s. line",
                    stock.portion_g,
                    stock.strength_percent,
                    digits(stock.expanded_percent),
                    stock.carrier_in_portion_g
                ));
            }
            if let Some(finer) = line.finer_balance_g {
                ways.push(format!("weigh this line on a {} g balance", digits(finer)));
            }
            if let Some(batch) = line.larger_batch_g {
                ways.push(format!("make {} g", digits(batch)));
            }
            let change = if ways.is_empty() {
                "Use a finer balance for this line.".to_owned()
            } else {
                let mut text = ways.join("; or ");
                if let Some(first) = text.get(..1).map(str::to_uppercase) {
                    text.replace_range(..1, &first);
                }
                format!("{text}.")
            };
            Some(
                Finding::new(
                    "weighs-badly",
                    gravity,
                    Concerns::line(line.line),
                    format!(
                        "{} g of {} in {} g on a {} g balance is uncertain by {} %, its tolerance is {} %.",
                        digits(line.grams),
                        reading.name,
                        digits(weighing.batch_g),
                        digits(weighing.readability_g),
                        digits(expanded),
                        digits(line.tolerance_percent)
                    ),
                    change,
                )
                .rule("minimum weight 2 s / p with the tolerance of the line")
                .source("masscor")
                .number("target", line.grams, "g")
                .number("expanded uncertainty", expanded, "%")
                .number("tolerance", line.tolerance_percent, "%"),
            )
        })
        .collect()
}
