//! One point of the search as a formula: its sheet, solved and read.

use super::asked::{Asked, Laid};
use super::quantity::{Quantity, Solved};
use crate::assess::{AssessError, Assessed, Inquiry, assess, solved};
use crate::finding::Gravity;
use levigate_formula::sheet::{Amount, Sheet};
use levigate_measure::search::Oracle;
use rust_decimal::Decimal;
use rust_decimal::prelude::FromPrimitive;
use std::collections::BTreeMap;
use std::sync::Mutex;

/// Digits of a level that the search may ask for between two steps.
const DIGITS: u32 = 9;

/// The formula with other levels.
pub(super) struct Pot<'p, 'a> {
    inquiry: &'p Inquiry<'a>,
    asked: &'p Asked,
    quantities: &'p [Quantity],
    /// Steps bring the search to the same formulas again and again.
    known: Mutex<BTreeMap<Vec<u64>, Option<Vec<f64>>>>,
}

impl<'p, 'a> Pot<'p, 'a> {
    pub(super) fn new(inquiry: &'p Inquiry<'a>, asked: &'p Asked, laid: &'p Laid) -> Self {
        Self { inquiry, asked, quantities: &laid.quantities, known: Mutex::default() }
    }

    /// The sheet at a point without the lines that are out, and the line of the whole sheet for every line it has.
    pub(super) fn sheet(&self, at: &[f64]) -> (Sheet, Vec<usize>) {
        let whole = self.inquiry.sheet;
        let mut sheet = whole.clone();
        let mut kept = Vec::new();
        let mut place = 0;
        for phase in &mut sheet.phases {
            phase.lines.retain_mut(|line| {
                let own = place;
                place += 1;
                let moved = self.asked.moves.iter().position(|one| one.line == own);
                if let Some(moved) = moved {
                    if at[moved] <= 0.0 && self.asked.moves[moved].may_be_off {
                        return false;
                    }
                    let level = Decimal::from_f64(at[moved]).unwrap_or_default().round_dp(DIGITS).normalize();
                    line.amount = match line.amount {
                        Amount::ActivePercent(_) => Amount::ActivePercent(level),
                        Amount::ToPh(_) => Amount::ToPh(level),
                        _ => Amount::Percent(level),
                    };
                }
                kept.push(own);
                true
            });
        }
        // Several adjusters share one aim: it moves for all of them.
        let aim = sheet.lines().enumerate().find_map(|(own, (_, line))| match line.amount {
            Amount::ToPh(ph) if self.asked.moves.iter().any(|one| one.line == kept[own]) => Some(ph),
            _ => None,
        });
        if let Some(aim) = aim {
            for line in sheet.phases.iter_mut().flat_map(|phase| &mut phase.lines) {
                if matches!(line.amount, Amount::ToPh(_)) {
                    line.amount = Amount::ToPh(aim);
                }
            }
        }
        if kept.len() < place {
            without_lines_out(&mut sheet, whole, &kept);
        }
        (sheet, kept)
    }

    /// The whole assessment at a point.
    pub(super) fn assessed<T>(
        &self,
        at: &[f64],
        tell: impl FnOnce(&Sheet, &[usize], &Assessed<'_>) -> T,
    ) -> Result<T, AssessError> {
        let (sheet, kept) = self.sheet(at);
        let assessed = assess(&Inquiry { sheet: &sheet, ..*self.inquiry })?;
        Ok(tell(&sheet, &kept, &assessed))
    }
}

/// Steps name lines: those that are out are named no more.
fn without_lines_out(sheet: &mut Sheet, whole: &Sheet, kept: &[usize]) {
    let mut steps = std::mem::take(&mut sheet.steps);
    for step in &mut steps {
        let parts = std::mem::take(&mut step.lines);
        step.lines = parts
            .into_iter()
            .filter_map(|part| {
                let own = kept.iter().position(|line| Some(*line) == whole.line_of(&part))?;
                sheet.part_of(own, part.share_percent)
            })
            .collect();
    }
    sheet.steps = steps;
}

impl Oracle for Pot<'_, '_> {
    fn readings(&self, at: &[f64]) -> Option<Vec<f64>> {
        let key: Vec<u64> = at.iter().map(|value| value.to_bits()).collect();
        if let Some(known) = self.known.lock().ok().and_then(|known| known.get(&key).cloned()) {
            return known;
        }
        let readings = self.solved(at);
        if let Ok(mut known) = self.known.lock() {
            known.insert(key, readings.clone());
        }
        readings
    }
}

impl Pot<'_, '_> {
    /// Formulas that were solved.
    pub(super) fn count(&self) -> usize {
        self.known.lock().map_or(0, |known| known.len())
    }

    fn solved(&self, at: &[f64]) -> Option<Vec<f64>> {
        let (sheet, lines) = self.sheet(at);
        let inquiry = Inquiry { sheet: &sheet, ..*self.inquiry };
        let (settled, composition, mixture) = solved(&sheet, &inquiry.known).ok()?;
        let own = Solved::new(&sheet, (&settled, &composition, &mixture), &lines);
        let stops = if self.quantities.iter().any(Quantity::needs_all) {
            let findings = assess(&inquiry).ok()?.assessment.findings;
            findings.iter().filter(|finding| finding.gravity == Gravity::Stop).count()
        } else {
            0
        };
        self.quantities
            .iter()
            .map(|of| {
                #[expect(clippy::cast_precision_loss, reason = "a count of findings")]
                let value = if of.needs_all() { Some(stops as f64) } else { of.of(&inquiry, &own) };
                value.map(|value| of.inner(value))
            })
            .collect()
    }
}
