//! From a formula with settled amounts to the lines of a batch sheet.

use super::{
    BatchLine, BatchOrder, BatchSheet, BatchSheetError, BatchStep, Part, Vessel, caution, making, remedy,
};
use levigate_formula::composition::SettledLine;
use levigate_formula::library::Material;
use levigate_formula::sheet::{Amount, Line, Phase};
use levigate_measure::rounding::{self, Absorbed, Apportioned};
use levigate_measure::weighing::{Weighable, Weighing};
use levigate_measure::{Note, Outcome};
use rust_decimal::Decimal;
use rust_decimal::prelude::{FromPrimitive, ToPrimitive};

/// A line on its way to the sheet.
pub(super) struct LineFacts<'a> {
    pub(super) number: usize,
    pub(super) phase: usize,
    pub(super) name: &'a str,
    pub(super) material: Option<&'a Material>,
    pub(super) grams: Decimal,
    pub(super) tolerance_percent: Decimal,
    pub(super) is_remainder: bool,
    pub(super) is_adjuster: bool,
}

impl BatchSheet {
    /// Makes the sheet.
    ///
    /// # Errors
    /// A formula and a composition that do not belong together, amounts that cannot be weighed, a size off the divisions
    /// of the balance; [`BatchSheetError::hint`] says what to do.
    pub fn build(order: &BatchOrder<'_>) -> Result<Self, BatchSheetError> {
        let pairs = pair_lines(order)?;
        let rounded = round(order, &pairs)?;
        let facts = facts(order, &pairs, &rounded)?;
        let masses: Vec<f64> = rounded.grams.iter().map(|grams| grams.to_f64().unwrap_or(0.0)).collect();
        let weighing = Weighing::of(order.balance, &masses);
        let bench = remedy::Bench {
            lines: &facts,
            library: order.library,
            balance: order.balance,
            weighing: &weighing,
            practice: order.practice,
        };
        let mut lines = Vec::with_capacity(facts.len());
        for (at, ((written, settled), facts)) in pairs.iter().zip(&facts).enumerate() {
            lines.push(batch_line(order, written, settled, facts, at, &weighing, &bench)?);
        }
        let pharmacy_minimum = order.balance.pharmacy_minimum_weight();
        let below =
            pharmacy_minimum.value.map_or(0, |least| masses.iter().filter(|mass| **mass < least).count());
        let rounding = in_words(&rounded, &facts);
        Ok(Self {
            product: order.sheet.product.name.clone(),
            client: order.sheet.product.client.clone(),
            version_code: order.version_code.to_owned(),
            date: order.date.to_owned(),
            size_g: rounding::to_division(order.size_g, order.balance.readability())?,
            balance: order.balance.record().clone(),
            repeatability_g: order.balance.repeatability_g(),
            making: order
                .procedure
                .map(|procedure| {
                    making::steps(procedure, &lines.iter().collect::<Vec<_>>(), order.balance.readability())
                })
                .unwrap_or_default(),
            steps: steps(order, &facts, lines),
            total_g: rounded.grams.iter().copied().sum(),
            absorbed: rounded.absorbed,
            vessel: vessel(order, &facts),
            pharmacy_minimum,
            below_pharmacy_minimum: below,
            notes: notes(order, &rounding, &facts),
            rounding,
        })
    }
}

type Pair<'a> = (&'a Line, &'a SettledLine);

fn pair_lines<'a>(order: &BatchOrder<'a>) -> Result<Vec<Pair<'a>>, BatchSheetError> {
    let written: Vec<&Line> = order.sheet.lines().map(|(_, line)| line).collect();
    let settled = &order.composition.lines;
    if written.len() != settled.len() {
        return Err(BatchSheetError::LinesDiffer { written: written.len(), settled: settled.len() });
    }
    if written.is_empty() {
        return Err(BatchSheetError::NoLines);
    }
    Ok(written.into_iter().zip(settled).collect())
}

/// Exact grams where the percentage is exact; otherwise the solved percentage to ten decimals of a gram.
fn round(order: &BatchOrder<'_>, pairs: &[Pair<'_>]) -> Result<Apportioned, BatchSheetError> {
    let mut targets = Vec::with_capacity(pairs.len());
    for (at, (_, settled)) in pairs.iter().enumerate() {
        let unusable = || BatchSheetError::NotAnAmount { number: at + 1, percent: settled.percent };
        let percent = settled.exact.or_else(|| Decimal::from_f64(settled.percent)).ok_or_else(unusable)?;
        if percent.is_sign_negative() && !percent.is_zero() || percent > Decimal::ONE_HUNDRED {
            return Err(unusable());
        }
        let grams = order.size_g.checked_mul(percent).ok_or_else(unusable)? / Decimal::ONE_HUNDRED;
        targets.push(grams.round_dp(10));
    }
    let remainder = pairs.iter().position(|(written, _)| written.amount == Amount::Remainder(true));
    Ok(rounding::apportion(&targets, order.size_g, order.balance.readability(), remainder)?)
}

fn facts<'a>(
    order: &BatchOrder<'a>,
    pairs: &[Pair<'a>],
    rounded: &Apportioned,
) -> Result<Vec<LineFacts<'a>>, BatchSheetError> {
    let mut facts = Vec::with_capacity(pairs.len());
    for (at, ((written, settled), grams)) in pairs.iter().zip(&rounded.grams).enumerate() {
        let material = order.library.materials.get(&settled.material);
        let tolerance_percent =
            written.tolerance_percent.unwrap_or_else(|| order.practice.tolerance.percent_of(material));
        if tolerance_percent <= Decimal::ZERO || tolerance_percent >= Decimal::ONE_HUNDRED {
            return Err(BatchSheetError::Tolerance { number: at + 1, percent: tolerance_percent });
        }
        facts.push(LineFacts {
            number: at + 1,
            phase: settled.phase,
            name: material.map_or(written.material.as_str(), |material| material.name.as_str()),
            material,
            grams: *grams,
            tolerance_percent,
            is_remainder: written.amount == Amount::Remainder(true),
            is_adjuster: matches!(written.amount, Amount::ToPh(_)),
        });
    }
    Ok(facts)
}

fn batch_line(
    order: &BatchOrder<'_>,
    written: &Line,
    settled: &SettledLine,
    facts: &LineFacts<'_>,
    at: usize,
    weighing: &Weighing<'_>,
    bench: &remedy::Bench<'_>,
) -> Result<BatchLine, BatchSheetError> {
    let division = order.balance.readability();
    let tolerance = facts.tolerance();
    let tolerance_g =
        rounding::down_to_division(facts.grams * facts.tolerance_percent / Decimal::ONE_HUNDRED, division)?;
    let weighable = weighing.judge(at, tolerance);
    let minimum_weight = order.balance.minimum_weight(tolerance);
    let part = part(order, written, facts, division)?;
    let cautions = facts
        .material
        .map(|material| {
            let worked_c = order.sheet.phases.get(settled.phase).and_then(worked_c);
            caution::of_line(material, worked_c, order.library, order.practice)
        })
        .unwrap_or_default();
    Ok(BatchLine {
        number: facts.number,
        material: settled.material.clone(),
        name: facts.name.to_owned(),
        lot: written.lot.clone(),
        note: written.note.clone(),
        percent: percent_shown(written, settled),
        part,
        grams: facts.grams,
        tolerance_percent: facts.tolerance_percent.normalize(),
        tolerance_g,
        expanded: weighing.expanded_percent(at),
        verdict: verdict(weighable, &minimum_weight, facts),
        minimum_weight,
        weighable,
        remedies: if weighable.is_weak() { bench.remedies(at) } else { Vec::new() },
        cautions,
    })
}

fn worked_c(phase: &Phase) -> Option<f64> {
    phase.temperature_c.and_then(|celsius| celsius.to_f64())
}

fn part(
    order: &BatchOrder<'_>,
    written: &Line,
    facts: &LineFacts<'_>,
    division: Decimal,
) -> Result<Part, BatchSheetError> {
    Ok(match written.amount {
        Amount::ToPh(ph) => {
            // Without a procedure nobody computed how much keeps to the window: the pH is read first.
            let first = order.procedure.and_then(|procedure| procedure.first.as_ref());
            let first = first.filter(|first| first.line + 1 == facts.number);
            let first_g = match first.and_then(|first| Decimal::from_f64(first.grams)) {
                // What cannot be weighed of the rest is none.
                Some(_) if first.is_some_and(|first| first.share >= 1.0) => facts.grams,
                Some(grams) => rounding::to_division(grams, division)?.min(facts.grams),
                None => rounding::to_division(Decimal::ZERO, division)?,
            };
            let percent =
                first_g.checked_mul(Decimal::ONE_HUNDRED).and_then(|part| part.checked_div(facts.grams));
            Part::ToPh {
                ph,
                first_percent: percent.unwrap_or_default().round_dp(1).normalize(),
                why: first.map(|first| first.why.clone()).unwrap_or_default(),
                first_g,
                rest_g: facts.grams - first_g,
            }
        }
        Amount::Remainder(true) => Part::Remainder,
        Amount::Percent(_) | Amount::ActivePercent(_) | Amount::Remainder(false) => Part::Fixed,
    })
}

/// Digits as typed; a q.s. line without idle zeros; a solved amount to four decimals.
fn percent_shown(written: &Line, settled: &SettledLine) -> Decimal {
    match (&written.amount, settled.exact) {
        (Amount::Percent(typed), _) => *typed,
        (_, Some(exact)) => exact.round_dp(4).normalize(),
        (_, None) => Decimal::from_f64(settled.percent).unwrap_or_default().round_dp(4).normalize(),
    }
}

fn verdict(weighable: Weighable, minimum: &Outcome, facts: &LineFacts<'_>) -> String {
    let word = weighable.word();
    match (weighable, minimum.value) {
        (Weighable::TooSmall | Weighable::Nothing, Some(least)) => format!(
            "{word}: it weighs {} g or more within {} %",
            three_figures(least),
            facts.tolerance_percent.normalize()
        ),
        (Weighable::AtTheLimit, _) => {
            format!("{word}: the uncertainty takes up the whole {} %", facts.tolerance_percent.normalize())
        }
        _ => word.to_owned(),
    }
}

fn three_figures(grams: f64) -> String {
    let digits = if grams > 0.0 { 2 - grams.log10().floor().clamp(-8.0, 2.0) as i32 } else { 0 };
    let text = format!("{grams:.*}", usize::try_from(digits).unwrap_or(0));
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

fn steps(order: &BatchOrder<'_>, facts: &[LineFacts<'_>], lines: Vec<BatchLine>) -> Vec<BatchStep> {
    let mut steps: Vec<BatchStep> = order
        .sheet
        .phases
        .iter()
        .enumerate()
        .map(|(at, phase)| BatchStep {
            number: at + 1,
            phase: phase.name.clone(),
            temperature_c: phase.temperature_c,
            instruction: phase.step.clone(),
            cautions: caution::of_step(worked_c(phase), order.practice),
            lines: Vec::new(),
            subtotal_g: Decimal::ZERO,
        })
        .collect();
    for (facts, line) in facts.iter().zip(lines) {
        if let Some(step) = steps.get_mut(facts.phase) {
            step.subtotal_g += line.grams;
            step.lines.push(line);
        }
    }
    steps
}

fn vessel(order: &BatchOrder<'_>, facts: &[LineFacts<'_>]) -> Vessel {
    let practice = &order.practice.vessel;
    let mut density_assumed = 0;
    let batch_ml: f64 = facts
        .iter()
        .map(|line| {
            let known = line.material.and_then(|material| material.density_kg_m3.as_ref());
            let density = known.map(|density| density.value).filter(|density| *density > 1.0);
            if density.is_none() {
                density_assumed += 1;
            }
            1000.0 * line.grams.to_f64().unwrap_or(0.0) / density.unwrap_or(practice.density_assumed_kg_m3)
        })
        .sum();
    let size_ml =
        practice.sizes_ml.iter().copied().find(|size| batch_ml <= size * practice.fill_percent / 100.0);
    let text = match size_ml {
        Some(size) => format!(
            "{} for about {} of product: {:.0} % full",
            volume(size),
            volume(batch_ml),
            100.0 * batch_ml / size
        ),
        None => format!(
            "at least {} for about {} of product, to be two thirds full",
            volume(batch_ml * 100.0 / practice.fill_percent),
            volume(batch_ml)
        ),
    };
    Vessel { batch_ml, size_ml, text, density_assumed }
}

fn volume(millilitres: f64) -> String {
    if millilitres >= 1000.0 {
        format!("{} L", three_figures(millilitres / 1000.0))
    } else {
        format!("{} mL", three_figures(millilitres))
    }
}

fn in_words(rounded: &Apportioned, facts: &[LineFacts<'_>]) -> String {
    let difference = rounded.difference.normalize();
    match rounded.absorbed {
        Absorbed::Remainder { line } => {
            let name = facts.get(line).map_or("", |facts| facts.name);
            if difference.is_zero() {
                format!("No rounding difference; it would have gone to line {} ({name}).", line + 1)
            } else {
                let sign = if difference.is_sign_negative() { "\u{2212}" } else { "+" };
                format!(
                    "The rounding difference, {sign}{} g, is in line {} ({name}).",
                    difference.abs().round_dp(6).normalize(),
                    line + 1
                )
            }
        }
        Absorbed::LargestRemainder if difference.is_zero() => "No rounding difference.".to_owned(),
        Absorbed::LargestRemainder => format!(
            "No q.s. line: {} g of rounding went to the lines with the largest remainders.",
            difference.round_dp(6).normalize()
        ),
    }
}

fn notes(order: &BatchOrder<'_>, rounding: &str, facts: &[LineFacts<'_>]) -> Vec<Note> {
    let mut notes = vec![
        Note::new("rounding", rounding.to_owned()),
        Note::new(
            "evaporation",
            "Evaporation is not included. Weigh vessel and stirrer empty and again at the end, and make up the loss with water \
             before the last pH reading.",
        ),
    ];
    if order.balance.record().repeatability_g.is_none() {
        notes.push(Note::new(
            "assumed",
            format!(
                "The repeatability of the balance is taken equal to its readability, {} g; ten weighings of one weight would measure it.",
                order.balance.readability()
            ),
        ));
    }
    if facts.iter().any(|line| line.is_adjuster) {
        notes.push(Note::new(
            "adjuster",
            "Amounts added to a pH are computed. The meter decides: write down what really went in.",
        ));
    }
    notes.push(Note::new(
        "care",
        "Follow the safety data sheets, local rules and the people qualified for this work; cautions here are not complete.",
    ));
    notes
}
