//! Which line does most to each target, and what would help there: everything drawn anew with what would be changed.

use super::balances::Balances;
use super::draws::{Manner, draw};
use super::help::{LARGER, finer_balances, stock_of};
use super::pot::Pot;
use super::reading::{ResultUncertainty, TargetHelp, TargetRemedy, spoken_of};
use super::sources::{Group, Moves};
use super::{Ask, BatchError};
use crate::assess::Assessed;
use levigate_measure::uncertainty::Scatter;

/// Chance of a target, from batch to batch, from which nothing needs help, %.
const SURE: f64 = 99.0;
/// Chance that is enough, %.
const ENOUGH: f64 = 95.0;
/// Draws behind each remedy: a chance is known to half of one in a hundred.
const DRAWS: usize = 10_000;
/// What a certificate leaves of the range of a grade: a fifth, common practice, no source.
const CERTIFIED: f64 = 0.2;

/// Scatters of all sources, nothing where one does not count.
type Scatters = Vec<Option<Scatter>>;

/// Gives every target that a batch may miss the line that does most to it and what would help.
pub(super) fn help_targets(
    ask: &Ask<'_>,
    assessed: &Assessed<'_>,
    (balances, pot): (&Balances<'_>, &Pot<'_>),
    results: &mut [ResultUncertainty],
) -> Result<(), BatchError> {
    let with_meter = usize::from(results.iter().any(|one| one.key == "ph-read"));
    for (place, result) in results.iter_mut().enumerate() {
        // The pH as read stands second and is no output of its own.
        let output = if place == 0 { 0 } else { place - with_meter };
        let Some(target) = result.target.as_mut().filter(|_| result.key != "ph-read") else { continue };
        let Some(leads) = result.from_making.iter().find(|one| one.line.is_some()) else { continue };
        if !target.aimed || target.batch_to_batch >= SURE {
            continue;
        }
        let (Some(line), group) = (leads.line, leads.group) else { continue };
        let Some(at) = assessed.composition.lines.iter().position(|one| one.line == line) else { continue };
        let name = assessed.settled.materials[at].name.clone();
        let trial = Trial { ask, assessed, balances, pot, output, line, at, ends: target.ends };
        let remedies = match group {
            Group::Weighing => trial.weighing()?,
            Group::Lots => trial.certificate(&name)?,
            _ => Vec::new(),
        };
        let percent = leads.percent;
        target.help = Some(TargetHelp { line, name, group, percent, remedies });
    }
    Ok(())
}

struct Trial<'t, 'a> {
    ask: &'t Ask<'a>,
    assessed: &'t Assessed<'a>,
    balances: &'t Balances<'t>,
    pot: &'t Pot<'a>,
    output: usize,
    line: usize,
    at: usize,
    /// Ends of the target as the draws are held against them.
    ends: [f64; 2],
}

impl Trial<'_, '_> {
    fn as_it_is(&self) -> Scatters {
        self.pot.sources.iter().map(|one| one.group.of_making().then_some(one.scatter)).collect()
    }

    fn tried(
        &self,
        key: &'static str,
        words: String,
        scatters: &Scatters,
    ) -> Result<TargetRemedy, BatchError> {
        let Ask { draws, coverage, seed, .. } = *self.ask;
        let manner = Manner { draws: draws.min(DRAWS), steady_digits: None, coverage, seed };
        let drawn = draw(self.pot, manner, scatters)?;
        let [low, high] = self.ends;
        Ok(TargetRemedy { key, words, batch_to_batch: 100.0 * drawn[self.output].within(low, high) })
    }

    /// As it is with another scatter of the mass of the line.
    fn weighed(&self, scatter: Scatter) -> Scatters {
        let mut scatters = self.as_it_is();
        for (one, source) in scatters.iter_mut().zip(&self.pot.sources) {
            if source.moves == Moves::Mass(self.at) {
                *one = Some(scatter);
            }
        }
        scatters
    }

    /// The same batch, the line weighed better.
    fn weighing(&self) -> Result<Vec<TargetRemedy>, BatchError> {
        let grams = self.pot.masses[self.at];
        let mut remedies = Vec::new();
        let mut last = None;
        for balance in finer_balances(self.ask, self.balances, self.line, grams) {
            let scatters = self.weighed(self.balances.scatter_on(&balance, self.line, grams));
            let words = format!("weigh line {} on {}", self.line + 1, spoken_of(&balance));
            let found = self.tried("finer-balance", words, &scatters)?;
            let enough = found.batch_to_batch >= ENOUGH;
            last = Some(found);
            if enough {
                break;
            }
        }
        remedies.extend(last);
        if let Some((_, words, scatter)) = stock_of(self.ask, self.assessed, self.line, grams) {
            remedies.push(self.tried("stock-solution", words, &self.weighed(scatter))?);
        }
        remedies.extend(self.larger()?);
        Ok(remedies)
    }

    /// A larger batch: every line weighs more on the balances it then goes onto, so each is surer in proportion.
    fn larger(&self) -> Result<Option<TargetRemedy>, BatchError> {
        let mut last = None;
        for factor in LARGER.into_iter().take(3) {
            let factor = f64::from(factor);
            let lines = &self.assessed.composition.lines;
            let mut scatters = self.as_it_is();
            let mut fits = true;
            for (one, source) in scatters.iter_mut().zip(&self.pot.sources) {
                if let Moves::Mass(place) = source.moves {
                    let (line, grams) = (lines[place].line, self.pot.masses[place] * factor);
                    let capacity = self.balances.of_line(line, grams).record().capacity_g;
                    fits &= capacity.is_none_or(|capacity| grams <= capacity);
                    let more = self.balances.scatter(line, grams);
                    // Seen in the batch as it is now: the shares are what counts.
                    *one = Some(Scatter {
                        normal: more.normal / factor,
                        triangular: more.triangular / factor,
                        rectangular: more.rectangular / factor,
                    });
                }
            }
            if !fits {
                break;
            }
            let words = format!("make {} g instead of {} g", self.ask.batch_g * factor, self.ask.batch_g);
            let found = self.tried("larger-batch", words, &scatters)?;
            let enough = found.batch_to_batch >= ENOUGH;
            last = Some(found);
            if enough {
                break;
            }
        }
        Ok(last)
    }

    /// The content of the line known from a certificate.
    fn certificate(&self, name: &str) -> Result<Vec<TargetRemedy>, BatchError> {
        // Where a certificate is in it already, there is no better one to name.
        if self.ask.lots.iter().any(|lot| lot.line == self.line) {
            return Ok(Vec::new());
        }
        let mut scatters = self.as_it_is();
        let mut half = 0.0_f64;
        for (one, source) in scatters.iter_mut().zip(&self.pot.sources) {
            if source.line == Some(self.line) && matches!(source.moves, Moves::Content(_)) {
                let least = source.scatter.rectangular.max(source.scatter.normal);
                half = half.max(CERTIFIED * least);
                *one = Some(Scatter::rectangular(CERTIFIED * least));
            }
        }
        let words = format!(
            "take a lot of {name} whose certificate says its content to {half:.2} points to either side"
        );
        Ok(vec![self.tried("certificate", words, &scatters)?])
    }
}
