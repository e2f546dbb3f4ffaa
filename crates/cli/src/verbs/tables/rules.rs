//! What the written rules say: limits, allergens, label, natural origin, cost.

use super::{notes, results};
use crate::numbers;
use crate::paper::{Lean, Paper};
use levigate_assess::verdicts::Verdicts;
use levigate_measure::Outcome;
use levigate_rules::allergens::{AllergenReading, Naming};
use levigate_rules::book::Standing;
use levigate_rules::label::IngredientList;
use levigate_rules::limits::{LimitReading, Verdict};

/// Limits that speak of something in the formula.
pub(crate) fn limits(paper: &mut Paper, rules: &Verdicts) {
    paper.heading("Limits", &format!("market {}", rules.market));
    if !rules.market_known {
        paper.paragraph(2, "No rules for this market are on file; nothing was compared.");
        return;
    }
    let (applied, silent): (Vec<_>, Vec<_>) =
        rules.limits.iter().partition(|limit| limit.verdict != Verdict::DoesNotApply);
    let rows: Vec<Vec<String>> = applied.iter().map(|limit| limit_row(limit)).collect();
    paper.columns(
        &[
            ("limit", Lean::Left),
            ("amount %", Lean::Right),
            ("most %", Lean::Right),
            ("verdict", Lean::Left),
            ("entry", Lean::Left),
        ],
        &rows,
    );
    for limit in &applied {
        for condition in limit.conditions.iter().filter(|condition| condition.met != Some(true)) {
            let word = if condition.met == Some(false) { "not met:" } else { "to decide:" };
            paper.hanging(2, word, &format!("{}: {} ({})", limit.name, condition.text, condition.why));
        }
    }
    if !silent.is_empty() {
        paper.paragraph(
            2,
            &format!(
                "{} entries name something in it but do not speak of this product or use.",
                silent.len()
            ),
        );
    }
    for unlisted in &rules.unlisted {
        paper.hanging(2, "note:", &format!("{} {}", unlisted.text, source(&unlisted.source)));
    }
}

fn limit_row(limit: &LimitReading) -> Vec<String> {
    let basis = limit.basis.as_ref().map(|basis| format!(", {basis}")).unwrap_or_default();
    let verdict = match limit.placing {
        Standing::InForce => limit.words.to_owned(),
        other => format!("{} ({})", limit.words, in_words(other)),
    };
    let row = limit.row.as_ref().map(|row| format!(" {row}")).unwrap_or_default();
    vec![
        format!("{}{basis}", limit.name),
        amount(&limit.amount),
        limit.maximum_percent.map(|most| most.to_string()).unwrap_or_default(),
        verdict,
        format!("{} {}{row}", limit.annex, limit.entry),
    ]
}

/// When a rule holds, in words; empty when it holds on the day.
fn in_words(standing: Standing) -> String {
    match standing {
        Standing::InForce => String::new(),
        Standing::Coming { from } => format!("from {from}"),
        Standing::Ended { on } => format!("until {on}"),
        Standing::NotKnown { before } => format!("not known before {before}"),
    }
}

fn amount(outcome: &Outcome) -> String {
    outcome.value.map_or_else(|| "–".to_owned(), |value| numbers::value(value, outcome.low, outcome.high))
}

fn source(key: &str) -> String {
    if key.is_empty() { String::new() } else { format!("[{key}]") }
}

/// Fragrance allergens.
pub(crate) fn allergens(paper: &mut Paper, rules: &Verdicts) {
    allergen_table(paper, &rules.allergens);
    for certificate in &rules.certificates {
        let text = match (certificate.maximum_percent, certificate.exceeds) {
            (Some(most), Some(true)) => {
                format!("{} % is above the {most} % of its certificate", amount(&certificate.amount))
            }
            (Some(most), _) => {
                format!("{} % of the {most} % its certificate allows", amount(&certificate.amount))
            }
            (None, _) => "no certificate with a category limit was entered".to_owned(),
        };
        paper.hanging(2, "certificate:", &format!("{}: {text}", certificate.name));
    }
}

/// Fragrance allergens, the largest first.
pub(crate) fn allergen_table(paper: &mut Paper, allergens: &[AllergenReading]) {
    if allergens.is_empty() {
        return;
    }
    paper.heading("Fragrance allergens", "summed over all oils and substances, % w/w");
    let rows: Vec<Vec<String>> = allergens
        .iter()
        .map(|allergen| {
            let naming = match allergen.naming {
                Naming::Name => "to be named",
                Naming::MayNeedNaming => "may need naming",
                Naming::NotNeeded => "below",
            };
            let lines: Vec<String> = allergen.from.iter().map(|from| (from.line + 1).to_string()).collect();
            let dates = [("new products", allergen.placing), ("products on the shelf", allergen.available)];
            let dates: Vec<String> = dates
                .iter()
                .filter(|(_, standing)| !standing.holds())
                .map(|(which, standing)| format!("{which} {}", in_words(*standing)))
                .collect();
            vec![
                allergen.label_name.clone(),
                amount(&allergen.amount),
                allergen.above_percent.to_string(),
                naming.to_owned(),
                lines.join(", "),
                if dates.is_empty() { "now".to_owned() } else { dates.join("; ") },
            ]
        })
        .collect();
    paper.columns(
        &[
            ("allergen", Lean::Left),
            ("amount", Lean::Right),
            ("above", Lean::Right),
            ("label", Lean::Left),
            ("line", Lean::Left),
            ("holds", Lean::Left),
        ],
        &rows,
    );
}

/// Ingredient list and warnings.
pub(crate) fn label(paper: &mut Paper, rules: &Verdicts) {
    let Some(label) = &rules.label else {
        paper.heading("Label", "no label rules for this market are on file");
        return;
    };
    ingredient_list(paper, label);
}

/// An ingredient list with its warnings and notes.
pub(crate) fn ingredient_list(paper: &mut Paper, label: &IngredientList) {
    paper.heading("Label", &format!("{}; {}", label.act, label.status.words()));
    paper.hanging(2, &format!("{}:", label.heading), &label.text);
    for warning in &label.warnings {
        let quoted = if warning.warning.quoted { "" } else { " (not quoted: take the wording from the act)" };
        let when = in_words(warning.placing);
        let when = if when.is_empty() { String::new() } else { format!(", {when}") };
        paper.hanging(2, "warning:", &format!("{}{quoted}; {}{when}", warning.warning.text, warning.because));
    }
    for entry in &label.entries {
        for remark in &entry.remarks {
            paper.hanging(2, "note:", &format!("{}: {remark}", entry.name));
        }
    }
    notes(paper, &label.notes);
}

/// Natural-origin content.
pub(crate) fn origin(paper: &mut Paper, rules: &Verdicts) {
    let natural = &rules.natural;
    paper.heading("Natural origin", "ISO 16128");
    results(
        paper,
        &[
            ("natural origin with water", &natural.with_water),
            ("natural origin without water", &natural.without_water),
        ],
    );
}

/// Cost.
pub(crate) fn cost(paper: &mut Paper, rules: &Verdicts) {
    let cost = &rules.cost;
    let oldest = cost.oldest_price.as_ref().map(|date| format!("oldest price {date}")).unwrap_or_default();
    paper.heading("Cost", &oldest);
    let mut rows = vec![("cost of one kilogram", &cost.per_kg)];
    if let Some(pack) = &cost.per_pack {
        rows.push(("cost of one filled pack", pack));
    }
    results(paper, &rows);
    let mut dear: Vec<_> = cost.lines.iter().filter_map(|line| Some((line.share_percent?, line))).collect();
    dear.sort_by(|a, b| b.0.total_cmp(&a.0));
    let dear: Vec<String> =
        dear.iter().take(3).map(|(share, line)| format!("{} {share:.0} %", line.name)).collect();
    if !dear.is_empty() {
        paper.paragraph(2, &format!("Most of it: {}.", dear.join(", ")));
    }
    if !cost.unpriced.is_empty() {
        let lines: Vec<String> = cost.unpriced.iter().map(|line| (line + 1).to_string()).collect();
        paper.paragraph(2, &format!("Without a price: line {}.", lines.join(", ")));
    }
}
