//! Which blends to make.

use crate::diagnostic::Diagnostic;
use crate::formula_file;
use crate::proof_file::design::{no_line, read, refused, unwritable};
pub use levigate_assess::blends::{BlendsReading, Run};
use levigate_formula::sheet::{Amount, Sheet};
use rust_decimal::Decimal;
use rust_decimal::prelude::FromPrimitive as _;

/// Decimals of a percent in the formula of a run.
const DECIMALS: u32 = 4;

/// Plans runs.
///
/// # Errors
/// All that is wrong with the text, or why no runs can be chosen.
pub fn design((file, text): (&str, &str)) -> Result<BlendsReading, Vec<Diagnostic>> {
    let asked = read(file, text)?;
    levigate_assess::blends::blends(&asked).map_err(|error| refused(file, text, &error))
}

/// A formula for every run: the base with the percents of the parts in their lines; what is left goes to the line that takes up the rest.
/// Each as the name of its file and its text.
///
/// # Errors
/// What is wrong with the base; a part that has no line of its own in it.
pub fn run_sheets(
    reading: &BlendsReading,
    (file, text): (&str, &str),
) -> Result<Vec<(String, String)>, Vec<Diagnostic>> {
    let base = formula_file::read(file, text)?;
    let mut problems = Vec::new();
    let lines: Vec<usize> = reading
        .parts
        .iter()
        .map(|part| {
            let of_part: Vec<usize> = base
                .sheet
                .lines()
                .enumerate()
                .filter(|(_, (_, line))| line.material.eq_ignore_ascii_case(part))
                .map(|(at, _)| at)
                .collect();
            let in_percent = |at: &usize| {
                let line = base.sheet.lines().nth(*at);
                line.is_some_and(|(_, line)| {
                    matches!(line.amount, Amount::Percent(_) | Amount::ActivePercent(_))
                })
            };
            match of_part[..] {
                [at] if in_percent(&at) => at,
                _ => {
                    problems.push(no_line(file, part, of_part.len()));
                    0
                }
            }
        })
        .collect();
    if !problems.is_empty() {
        return Err(problems);
    }
    let width = reading.runs.len().to_string().len().max(2);
    reading
        .runs
        .iter()
        .map(|run| {
            let sheet = of_run(reading, run, &base.sheet, &lines);
            let text = formula_file::write(&sheet, base.own_facts.as_deref())
                .map_err(|error| vec![unwritable(file, &error)])?;
            Ok((format!("run-{:0width$}.toml", run.number), text))
        })
        .collect()
}

fn of_run(reading: &BlendsReading, run: &Run, base: &Sheet, lines: &[usize]) -> Sheet {
    let mut sheet = base.clone();
    let percents =
        rounded(&run.percent.iter().map(|percent| percent.value.unwrap_or(0.0)).collect::<Vec<_>>());
    let mut all: Vec<_> = sheet.phases.iter_mut().flat_map(|phase| &mut phase.lines).collect();
    for (at, percent) in lines.iter().zip(percents) {
        let amount = &mut all[*at].amount;
        *amount = match amount {
            Amount::ActivePercent(_) => Amount::ActivePercent(percent),
            _ => Amount::Percent(percent),
        };
    }
    let levels = reading.settings.iter().zip(&run.settings);
    let levels: Vec<String> =
        levels.filter_map(|(name, level)| Some(format!("{name} {}", level.value?))).collect();
    let title = if reading.title.is_empty() { "a design" } else { &reading.title };
    let mut note = format!("Run {} of {title}", run.number);
    for more in run.block.map(|block| format!("block {block}")).iter().chain(&levels) {
        note += &format!("; {more}");
    }
    sheet.product.note = Some(match &base.product.note {
        Some(own) => format!("{note}. {own}"),
        None => format!("{note}."),
    });
    sheet.product.name = format!("{}, run {}", base.product.name, run.number);
    sheet
}

/// Percents in as many digits as a formula wants; the largest takes up what rounding leaves, so that they make together what they did.
pub(crate) fn rounded(percents: &[f64]) -> Vec<Decimal> {
    let decimal = |value: f64| Decimal::from_f64(value).unwrap_or_default().round_dp(DECIMALS);
    let mut found: Vec<Decimal> = percents.iter().map(|percent| decimal(*percent)).collect();
    let left = decimal(percents.iter().sum()) - found.iter().sum::<Decimal>();
    if let Some(largest) = found.iter_mut().max() {
        *largest += left;
    }
    found.into_iter().map(|percent| percent.normalize()).collect()
}
