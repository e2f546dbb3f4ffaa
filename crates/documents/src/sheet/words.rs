//! What the batch sheet says, ready to be set: every figure already a text with its unit.

use levigate_project::batch_sheet::{BatchLine, BatchSheet, BatchStep, MakingStep, Part, RemedyKind};
use rust_decimal::Decimal;
use serde::Serialize;

/// Keeps a figure and its unit on one line.
const SPACE: char = '\u{00A0}';

/// The whole sheet in words.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub(super) struct Printed {
    pub(super) product: String,
    pub(super) client: Option<String>,
    pub(super) version: String,
    pub(super) date: String,
    pub(super) size: String,
    /// Line that stands on every page.
    pub(super) running: String,
    /// Label and value, in reading order.
    pub(super) particulars: Vec<(String, String)>,
    pub(super) steps: Vec<PrintedStep>,
    pub(super) making: Vec<PrintedMaking>,
    pub(super) total: String,
    /// Lines with more than one remedy, or one that did not fit beside the line.
    pub(super) remedies: Vec<PrintedRemedies>,
    pub(super) legend: Vec<String>,
    pub(super) notes: Vec<String>,
    pub(super) has_adjuster: bool,
}

/// A step in words.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub(super) struct PrintedStep {
    pub(super) phase: String,
    pub(super) temperature: Option<String>,
    pub(super) instruction: Option<String>,
    pub(super) cautions: Vec<PrintedCaution>,
    pub(super) lines: Vec<PrintedLine>,
    pub(super) subtotal: String,
}

/// A step of the making in words.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub(super) struct PrintedMaking {
    pub(super) number: String,
    pub(super) instruction: String,
    /// Temperature, time and stirring.
    pub(super) how: String,
    /// What goes in, each with its number and grams.
    pub(super) lines: Vec<String>,
    pub(super) checks: Vec<String>,
    pub(super) cautions: Vec<String>,
}

/// A caution with the lines it concerns; none means the whole step.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub(super) struct PrintedCaution {
    pub(super) concerns: Option<String>,
    pub(super) text: String,
}

/// A line in words.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub(super) struct PrintedLine {
    pub(super) number: String,
    pub(super) name: String,
    pub(super) grams: String,
    pub(super) tolerance: String,
    /// Percent, q.s., or the pH it is added to.
    pub(super) share: String,
    /// How well the share will be known.
    pub(super) known: String,
    pub(super) lot: String,
    pub(super) note: Option<String>,
    /// What is weak about it, in words.
    pub(super) weak: Option<String>,
    /// How an adjuster goes in.
    pub(super) adjust: Option<String>,
    pub(super) has_caution: bool,
}

/// Remedies of one line in words.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub(super) struct PrintedRemedies {
    pub(super) line: String,
    pub(super) verdict: String,
    pub(super) ways: Vec<(String, String)>,
}

impl Printed {
    pub(super) fn of(sheet: &BatchSheet) -> Self {
        let size = format!("{}\u{00A0}g", sheet.size_g);
        Self {
            product: sheet.product.clone(),
            client: sheet.client.clone(),
            version: sheet.version_code.clone(),
            date: sheet.date.clone(),
            running: format!("{}, {size}, version {}", sheet.product, sheet.version_code),
            particulars: particulars(sheet),
            steps: sheet.steps.iter().filter(|step| is_worth_printing(step)).map(step).collect(),
            making: sheet.making.iter().map(making).collect(),
            total: format!("{}\u{00A0}g", sheet.total_g),
            remedies: sheet.weak_lines().map(remedies).collect(),
            legend: legend(sheet).iter().map(|text| bound(text)).collect(),
            notes: sheet.notes.iter().map(|note| bound(&note.text)).collect(),
            has_adjuster: sheet.lines().any(|line| matches!(line.part, Part::ToPh { .. })),
            size,
        }
    }
}

fn particulars(sheet: &BatchSheet) -> Vec<(String, String)> {
    let mut rows = vec![("Batch".to_owned(), format!("{}\u{00A0}g", sheet.size_g))];
    let balance = match &sheet.balance.name {
        Some(name) => format!("{name}, reads {} g", sheet.balance.readability_g),
        None => format!("reads {} g", sheet.balance.readability_g),
    };
    rows.push(("Balance".to_owned(), balance));
    rows.push(("Vessel".to_owned(), bound(&sheet.vessel.text)));
    if let Some(client) = &sheet.client {
        rows.push(("For".to_owned(), client.clone()));
    }
    rows.push(("Version".to_owned(), sheet.version_code.clone()));
    rows.push(("Date".to_owned(), sheet.date.clone()));
    rows
}

fn is_worth_printing(step: &BatchStep) -> bool {
    !step.lines.is_empty() || step.instruction.is_some()
}

fn step(step: &BatchStep) -> PrintedStep {
    PrintedStep {
        phase: step.phase.clone(),
        temperature: step.temperature_c.map(|celsius| format!("{}\u{00A0}\u{00B0}C", celsius.normalize())),
        instruction: step.instruction.as_deref().map(bound),
        cautions: cautions(step),
        lines: step.lines.iter().map(line).collect(),
        subtotal: format!("{}\u{00A0}g", step.subtotal_g),
    }
}

fn making(step: &MakingStep) -> PrintedMaking {
    let lines = step.lines.iter().map(|line| {
        let part = if line.part { "part of line" } else { "line" };
        format!("{part}{SPACE}{} {}, {}{SPACE}g", line.number, line.name, line.grams)
    });
    let bounds = |texts: &[String]| texts.iter().map(|text| bound(text)).collect::<Vec<_>>();
    PrintedMaking {
        number: step.number.to_string(),
        instruction: bound(&step.instruction),
        how: bound(&step.how),
        lines: lines.map(|line| capitalised(&line)).collect(),
        checks: bounds(&step.checks),
        cautions: bounds(&step.cautions),
    }
}

/// Cautions of the step, then those of its lines; one that several lines share is said once and names them.
fn cautions(step: &BatchStep) -> Vec<PrintedCaution> {
    let mut said: Vec<(String, Vec<usize>)> =
        step.cautions.iter().map(|caution| (caution.text.clone(), Vec::new())).collect();
    for line in &step.lines {
        for caution in &line.cautions {
            match said.iter_mut().find(|(text, numbers)| *text == caution.text && !numbers.is_empty()) {
                Some((_, numbers)) if !numbers.contains(&line.number) => numbers.push(line.number),
                Some(_) => {}
                None => said.push((caution.text.clone(), vec![line.number])),
            }
        }
    }
    // Sentences about the same lines stand together.
    let mut grouped: Vec<(Vec<usize>, Vec<String>)> = Vec::new();
    for (text, numbers) in said {
        match grouped.iter_mut().find(|(known, _)| *known == numbers) {
            Some((_, texts)) => texts.push(text),
            None => grouped.push((numbers, vec![text])),
        }
    }
    grouped
        .into_iter()
        .map(|(numbers, texts)| PrintedCaution { concerns: named(&numbers), text: bound(&texts.join(" ")) })
        .collect()
}

fn named(numbers: &[usize]) -> Option<String> {
    let list = numbers.iter().map(usize::to_string).collect::<Vec<_>>();
    match list.as_slice() {
        [] => None,
        [one] => Some(format!("Line {one}")),
        [most @ .., last] => Some(format!("Lines {} and {last}", most.join(", "))),
    }
}

fn line(line: &BatchLine) -> PrintedLine {
    let share = match &line.part {
        Part::Remainder => format!("{}{SPACE}%, q.s. to 100", line.percent),
        Part::ToPh { ph, .. } => format!("about {}{SPACE}%, to pH{SPACE}{}", line.percent, ph.normalize()),
        Part::Fixed => format!("{}{SPACE}%", line.percent),
    };
    let known = line.expanded.value.map(|percent| format!("known within {}{SPACE}%", two_figures(percent)));
    PrintedLine {
        number: line.number.to_string(),
        name: line.name.clone(),
        grams: line.grams.to_string(),
        tolerance: tolerance(line),
        share,
        known: known.unwrap_or_default(),
        lot: line.lot.clone().unwrap_or_default(),
        note: line.note.clone(),
        weak: line.weighable.is_weak().then(|| weak(line)),
        adjust: adjust(line),
        has_caution: !line.cautions.is_empty(),
    }
}

fn tolerance(line: &BatchLine) -> String {
    if line.tolerance_g.is_zero() {
        let mut division = Decimal::ONE;
        let _ = division.set_scale(line.grams.scale());
        format!("\u{00B1}\u{00A0}under\u{00A0}{division}")
    } else {
        format!("\u{00B1}\u{00A0}{}", line.tolerance_g)
    }
}

/// The verdict and, in short, the first way out; how a stock is made stands at the end of the sheet.
fn weak(line: &BatchLine) -> String {
    let verdict = bound(&capitalised(&line.verdict));
    let Some(first) = line.remedies.first() else { return format!("{verdict}.") };
    let grams = first.grams.map(|grams| grams.to_string()).unwrap_or_default();
    let instead = match (first.kind, &first.dilution) {
        (RemedyKind::Stock | RemedyKind::Premix, Some(made)) => {
            let what = if first.kind == RemedyKind::Stock { "stock" } else { "premix" };
            let off = first.carrier_number.map_or_else(String::new, |number| {
                format!(", and {}{SPACE}g less of line{SPACE}{number}", made.carrier_in_portion_g)
            });
            format!(
                "{}{SPACE}g of a {}{SPACE}% {what}{off}. How to make it: end of the sheet",
                made.portion_g, made.strength_percent
            )
        }
        (RemedyKind::LargerBatch, _) => format!("a batch of {grams}{SPACE}g"),
        _ => format!("a balance that reads {grams}{SPACE}g"),
    };
    format!("{verdict}. Instead: {instead}.")
}

fn adjust(line: &BatchLine) -> Option<String> {
    let Part::ToPh { ph, first_percent, why, first_g, rest_g } = &line.part else { return None };
    let ph = ph.normalize();
    Some(bound(&if first_g.is_zero() {
        format!("Read the pH first, then towards pH {ph} in small portions, reading after each. {why}")
            .trim_end()
            .to_owned()
    } else if rest_g.is_zero() {
        format!("All {first_g} g first, stir, measure; more only by the meter, towards pH {ph}. {why}")
    } else {
        format!(
            "First addition {first_g} g ({} %), stir, measure. Then towards pH {ph} in small portions; {rest_g} g are left of the \
             computed amount. {why}",
            first_percent.normalize()
        )
    }))
}

fn remedies(line: &BatchLine) -> PrintedRemedies {
    let ways =
        line.remedies.iter().map(|remedy| (way(remedy.kind).to_owned(), bound(&remedy.text))).collect();
    PrintedRemedies {
        line: format!("{}  {}", line.number, line.name),
        verdict: bound(&capitalised(&line.verdict)),
        ways,
    }
}

fn way(kind: RemedyKind) -> &'static str {
    match kind {
        RemedyKind::Stock => "Stock",
        RemedyKind::Premix => "Premix",
        RemedyKind::FinerBalance => "Finer balance",
        RemedyKind::LargerBatch => "Larger batch",
    }
}

fn legend(sheet: &BatchSheet) -> Vec<String> {
    let mut legend = vec![
        "\u{201C}Known within\u{201D} is the expanded uncertainty (k = 2, about 95 %) of the share this line has in the \
         finished batch, from the balance alone."
            .to_owned(),
        "\u{00B1} is the tolerance of the line in grams. Write what the balance shows, not what was wanted.".to_owned(),
    ];
    if let Some(least) = sheet.pharmacy_minimum.value {
        legend.push(format!(
            "For information: at the 0.10 % of USP <41> this balance would weigh {} g or more; {} of {} lines are below. That \
             figure is borrowed from pharmacy; nothing binds cosmetics to it.",
            plain(least),
            sheet.below_pharmacy_minimum,
            sheet.lines().count()
        ));
    }
    legend
}

/// Keeps figures and their units on one line.
fn bound(text: &str) -> String {
    let mut bound = String::with_capacity(text.len() + 8);
    let mut rest = text;
    while let Some(at) = rest.find(' ') {
        let (before, after) = rest.split_at(at);
        let after = &after[1..];
        let unit = after.split([' ', '.', ',', ';', ':', ')']).next().unwrap_or("");
        let counts = before.ends_with(|c: char| c.is_ascii_digit());
        let binds = counts
            && matches!(unit, "g" | "mg" | "kg" | "%" | "mL" | "L" | "\u{00B0}C" | "C" | "minutes" | "rpm");
        bound.push_str(before);
        bound.push(if binds { SPACE } else { ' ' });
        rest = after;
    }
    bound.push_str(rest);
    bound
}

fn capitalised(text: &str) -> String {
    let mut characters = text.chars();
    characters.next().map_or_else(String::new, |first| first.to_uppercase().chain(characters).collect())
}

/// Two significant figures, for an uncertainty.
fn two_figures(percent: f64) -> String {
    match percent {
        p if p >= 9.95 => format!("{p:.0}"),
        p if p >= 0.995 => format!("{p:.1}"),
        p if p >= 0.0995 => format!("{p:.2}"),
        p => format!("{p:.3}"),
    }
}

fn plain(number: f64) -> String {
    let text = format!("{number:.4}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_figure_stays_with_its_unit() {
        assert_eq!(
            bound("add 0.50 g, to 5 % at 40 \u{00B0}C in line 3 of 4"),
            "add 0.50\u{00A0}g, to 5\u{00A0}% at 40\u{00A0}\u{00B0}C in line 3 of 4"
        );
        assert_eq!(bound("two  blanks "), "two  blanks ");
    }

    #[test]
    fn lines_are_named_as_people_list_them() {
        assert_eq!(named(&[]), None);
        assert_eq!(named(&[3]).as_deref(), Some("Line 3"));
        assert_eq!(named(&[3, 4, 9]).as_deref(), Some("Lines 3, 4 and 9"));
    }
}
