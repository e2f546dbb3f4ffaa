//! What would help: a finer balance, a stock solution, a larger batch, each with everything computed anew.

use super::balances::Balances;
use super::lines::{Weighed, drawn, parts, relative, tolerance};
use super::reading::{Help, LineUncertainty, Remedy, ResultUncertainty, spoken_of};
use super::sources::Group;
use super::{Ask, BatchError};
use crate::assess::Assessed;
use levigate_measure::uncertainty::Scatter;
use levigate_measure::uncertainty::student::factor;
use levigate_measure::weighing::{Balance, Dilution};
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;

/// Chance of keeping within the tolerance below which a line needs help, %.
const NEEDS_HELP: f64 = 95.0;
/// Share of the batch-to-batch variance from which a line's weighing is worth a word, %.
const MUCH: f64 = 50.0;
/// Lines that are helped at most.
const MOST_HELPED: usize = 5;
/// Larger batches tried, as factors.
pub(super) const LARGER: [u32; 6] = [2, 5, 10, 20, 50, 100];

/// The lines that need help, the worst first.
pub(super) fn helps(
    ask: &Ask<'_>,
    assessed: &Assessed<'_>,
    (balances, masses): (&Balances<'_>, &[f64]),
    lines: &[LineUncertainty],
    results: &[ResultUncertainty],
) -> Result<Vec<Help>, BatchError> {
    let mut worst: Vec<&LineUncertainty> =
        lines.iter().filter(|line| line.within_tolerance.is_some_and(|chance| chance < NEEDS_HELP)).collect();
    worst.sort_by(|a, b| {
        let chance = |line: &LineUncertainty| line.within_tolerance.unwrap_or(100.0);
        chance(a).total_cmp(&chance(b)).then_with(|| a.line.cmp(&b.line))
    });
    let mut helps = Vec::new();
    for line in worst.into_iter().take(MOST_HELPED) {
        let why = format!(
            "keeps within its tolerance of {} % in {:.0} of 100 batches",
            line.tolerance_percent.unwrap_or_default(),
            line.within_tolerance.unwrap_or_default()
        );
        helps.push(help(ask, assessed, (balances, masses), line, why)?);
    }
    // What does not aim into its target is not missed by weighing.
    let missed = |one: &&ResultUncertainty| {
        one.target.as_ref().is_some_and(|target| target.aimed && target.batch_to_batch < NEEDS_HELP)
    };
    for result in results.iter().filter(missed) {
        let leads =
            result.from_making.first().filter(|one| one.group == Group::Weighing && one.percent >= MUCH);
        let line = leads.and_then(|one| lines.iter().find(|line| Some(line.line) == one.line));
        if let Some(line) = line.filter(|line| helps.iter().all(|help: &Help| help.line != line.line)) {
            let why = format!("its weighing decides how the {} differs from batch to batch", result.name);
            helps.push(help(ask, assessed, (balances, masses), line, why)?);
        }
    }
    Ok(helps)
}

fn help(
    ask: &Ask<'_>,
    assessed: &Assessed<'_>,
    (balances, masses): (&Balances<'_>, &[f64]),
    line: &LineUncertainty,
    why: String,
) -> Result<Help, BatchError> {
    let mut remedies = Vec::new();
    remedies.extend(finer(ask, assessed, (balances, masses), line)?);
    remedies.extend(stock(ask, assessed, (balances, masses), line)?);
    remedies.extend(larger(ask, assessed, (balances, masses), line)?);
    Ok(Help { line: line.line, name: line.name.clone(), why, remedies })
}

/// The remedy with the uncertainty and the chance of the line as `parts` has them.
fn remedy(
    ask: &Ask<'_>,
    parts: &[Weighed],
    line: usize,
    (key, words): (&'static str, String),
    stock: Option<Dilution>,
) -> Result<Option<Remedy>, BatchError> {
    let Some(place) = parts.iter().position(|one| one.line == line) else { return Ok(None) };
    let spread = drawn(parts, ask)?[place];
    Ok(Some(Remedy {
        key,
        words,
        expanded_percent: 100.0 * factor(ask.coverage, f64::INFINITY) * relative(parts, place),
        within_tolerance: spread.met.map(|met| 100.0 * met),
        stock,
    }))
}

fn enough(remedy: &Remedy) -> bool {
    remedy.within_tolerance.is_some_and(|chance| chance >= NEEDS_HELP)
}

/// The coarsest balance a decade or more finer on which the line keeps within its tolerance, else the finest tried: one of the laboratory's
/// own where it has one.
fn finer(
    ask: &Ask<'_>,
    assessed: &Assessed<'_>,
    (balances, masses): (&Balances<'_>, &[f64]),
    line: &LineUncertainty,
) -> Result<Option<Remedy>, BatchError> {
    let mut last = None;
    for balance in finer_balances(ask, balances, line.line, line.grams) {
        let parts = parts(assessed, masses, |at, grams| {
            if at == line.line {
                balances.scatter_on(&balance, at, grams)
            } else {
                balances.scatter(at, grams)
            }
        });
        let words = format!("weigh it on {}", spoken_of(&balance));
        last = remedy(ask, &parts, line.line, ("finer-balance", words), None)?;
        if last.as_ref().is_some_and(enough) {
            break;
        }
    }
    Ok(last)
}

/// A stock solution that carries the line, made and weighed on the same balance.
fn stock(
    ask: &Ask<'_>,
    assessed: &Assessed<'_>,
    (balances, masses): (&Balances<'_>, &[f64]),
    line: &LineUncertainty,
) -> Result<Option<Remedy>, BatchError> {
    let mut parts = parts(assessed, masses, |at, grams| balances.scatter(at, grams));
    let Some(one) = parts.iter_mut().find(|one| one.line == line.line) else { return Ok(None) };
    let Some((stock, words, scatter)) = stock_of(ask, assessed, line.line, one.part.value) else {
        return Ok(None);
    };
    one.part.scatter = scatter;
    remedy(ask, &parts, line.line, ("stock-solution", words), Some(stock))
}

/// Balances to try instead: the laboratory's own that are finer and take the line, then one, two and three decades finer.
pub(super) fn finer_balances(
    ask: &Ask<'_>,
    balances: &Balances<'_>,
    line: usize,
    grams: f64,
) -> Vec<Balance> {
    let now = balances.of_line(line, grams);
    let mut tried: Vec<Balance> = std::iter::once(&ask.balance)
        .chain(ask.others.iter().map(|other| &other.balance))
        .filter(|own| own.readability_g() < now.readability_g())
        .filter(|own| own.record().capacity_g.is_none_or(|capacity| capacity >= grams))
        .cloned()
        .collect();
    for decades in 1..=3 {
        let finer = now.readability() * Decimal::new(1, decades);
        tried.extend(Balance::with_readability(finer.normalize()));
    }
    tried
}

/// The stock solution that carries a line, what to do, and the scatter of what reaches the batch with it.
pub(super) fn stock_of(
    ask: &Ask<'_>,
    assessed: &Assessed<'_>,
    line: usize,
    grams: f64,
) -> Option<(Dilution, String, Scatter)> {
    let weighing = assessed.assessment.weighing.as_ref()?;
    // The sheet's own batch and balance chose it; another batch would want another.
    let stock = weighing.lines.iter().find(|one| one.line == line)?.stock.clone()?;
    if ask.inquiry.sheet.batch.size_g.to_f64() != Some(ask.batch_g) {
        return None;
    }
    let words = format!(
        "make a {} % stock solution ({} g with {} g of carrier) and weigh {} g of it",
        stock.strength_percent, stock.material_g, stock.carrier_g, stock.portion_g
    );
    // Three weighings joined, as a normal scatter of the amount that reaches the batch; the expanded one is two standard deviations.
    let scatter = Scatter::normal(0.005 * stock.expanded_percent * grams);
    Some((stock, words, scatter))
}

/// The smallest of the larger batches in which the line keeps within its tolerance; none where a hundred times does not do it.
fn larger(
    ask: &Ask<'_>,
    assessed: &Assessed<'_>,
    (balances, masses): (&Balances<'_>, &[f64]),
    line: &LineUncertainty,
) -> Result<Option<Remedy>, BatchError> {
    if tolerance(assessed, line.line).is_none() {
        return Ok(None);
    }
    for factor in LARGER.map(f64::from) {
        let more: Vec<f64> = masses.iter().map(|mass| mass * factor).collect();
        let fits = |capacity: f64| line.grams * factor <= capacity;
        if !balances.of_line(line.line, line.grams * factor).record().capacity_g.is_none_or(fits) {
            return Ok(None);
        }
        let parts = parts(assessed, &more, |at, grams| balances.scatter(at, grams));
        let words = format!("make {} g instead of {} g", ask.batch_g * factor, ask.batch_g);
        let found = remedy(ask, &parts, line.line, ("larger-batch", words), None)?;
        if found.as_ref().is_some_and(enough) {
            return Ok(found);
        }
    }
    Ok(None)
}
