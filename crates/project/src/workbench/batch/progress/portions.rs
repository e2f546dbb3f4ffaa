//! Lines that go in by portions: what was weighed for which, and how much of each is still to go in.
//!
//! The portions share the target of their line as planned. What is in with more or less than its share moves what is still to come, so that
//! the line as a whole comes out right; only where nothing is to come any more is the line itself short or over.

use super::{Progress, Stands, StepProgress, tolerance};
use crate::records::{Plan, PlanLine, PlanStep, StepKind};
use levigate_measure::rounding;
use rust_decimal::Decimal;

/// One portion as it stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct StepAmount {
    /// Target as it stands now, g.
    pub target_g: Decimal,
    /// Tolerance as it stands now, g.
    pub tolerance_g: Decimal,
    /// What was weighed for it; none before anything was.
    pub actual_g: Option<Decimal>,
}

impl StepAmount {
    /// Whether anything was weighed for it.
    #[must_use]
    pub fn is_begun(&self) -> bool {
        self.actual_g.is_some()
    }

    /// What is still to go in, g.
    #[must_use]
    pub fn missing_g(&self) -> Decimal {
        (self.target_g - self.actual_g.unwrap_or_default()).max(Decimal::ZERO)
    }

    /// Whether enough is in.
    #[must_use]
    pub fn is_in(&self) -> bool {
        self.is_begun() && self.missing_g() <= self.tolerance_g
    }
}

/// A step before anything was entered.
pub(super) fn untouched(step: &PlanStep) -> StepProgress {
    let amount = step.line.as_ref().filter(|line| line.portion.is_some()).map(|line| StepAmount {
        target_g: line.grams,
        tolerance_g: line.tolerance_g,
        actual_g: None,
    });
    StepProgress { amount, ..StepProgress::default() }
}

impl Progress {
    /// Counts a weighing to its portion: that of the step it was entered in, else the first that is not in yet.
    pub(super) fn weighed_for(&mut self, plan: &Plan, number: usize, step: Option<usize>, net_g: Decimal) {
        let of_line = |at: &usize| plan.steps[*at].line.as_ref().is_some_and(|line| line.number == number);
        let own: Vec<usize> = (0..plan.steps.len().min(self.steps.len())).filter(of_line).collect();
        let entered = step.and_then(|step| step.checked_sub(1)).filter(|at| own.contains(at));
        let open = |at: &&usize| self.steps[**at].amount.is_some_and(|amount| !amount.is_in());
        let at = entered.or_else(|| own.iter().find(open).copied()).or_else(|| own.last().copied());
        let Some(at) = at else { return };
        if let Some(amount) = &mut self.steps[at].amount {
            amount.actual_g = Some(amount.actual_g.unwrap_or_default() + net_g);
        }
        if plan.steps[at].kind == StepKind::Adjust
            && let Some(line) = self.lines.iter_mut().find(|line| line.planned.number == number)
        {
            line.by_the_meter = true;
        }
    }

    /// Shares the target of each line among its portions as they stand.
    pub(super) fn divide(&mut self, plan: &Plan) {
        let division = plan.balances.first().map_or(Decimal::ZERO, |balance| balance.readability_g);
        for line in &mut self.lines {
            let own: Vec<(usize, &PlanLine)> = plan
                .steps
                .iter()
                .enumerate()
                .filter_map(|(at, step)| Some((at, step.line.as_ref()?)))
                .filter(|(_, one)| one.number == line.planned.number && one.portion.is_some())
                .collect();
            // What is in, or was given up, says first what is left for the others.
            let settled = |at: usize, steps: &[StepProgress]| {
                let step = &steps[at];
                step.amount.is_some_and(|amount| amount.is_begun())
                    || matches!(step.stands, Stands::Done | Stands::Skipped(_))
            };
            let (first, then): (Vec<_>, Vec<_>) = own.iter().partition(|(at, _)| settled(*at, &self.steps));
            let mut left_g = line.target_g;
            line.open_portions = 0;
            let mut planned_g: Decimal = own.iter().map(|(_, one)| one.grams).sum();
            for (nth, (at, one)) in first.iter().chain(&then).enumerate() {
                let target_g = if nth + 1 == own.len() {
                    left_g
                } else {
                    let exact = left_g.checked_mul(one.grams).and_then(|it| it.checked_div(planned_g));
                    let exact = exact.unwrap_or(one.grams);
                    rounding::to_division(exact, division).unwrap_or(exact)
                }
                .max(Decimal::ZERO);
                planned_g -= one.grams;
                let step = &mut self.steps[*at];
                let Some(amount) = &mut step.amount else { continue };
                amount.target_g = target_g;
                amount.tolerance_g =
                    if target_g == one.grams { one.tolerance_g } else { tolerance(one, target_g) };
                let closed = amount.is_in() || matches!(step.stands, Stands::Done | Stands::Skipped(_));
                line.open_portions += usize::from(!closed && target_g > Decimal::ZERO);
                left_g -= if closed { amount.actual_g.unwrap_or_default() } else { target_g };
            }
            // More than what goes in before the meter can only have gone in by it, wherever it was entered.
            let before = own.iter().filter(|(at, _)| plan.steps[*at].kind == StepKind::Weigh);
            let before_g: Decimal = before.map(|(_, one)| one.grams + one.tolerance_g).sum();
            let adjusted = own.iter().any(|(at, _)| {
                plan.steps[*at].kind == StepKind::Adjust
                    && (line.actual_g() > before_g || self.steps[*at].stands == Stands::Done)
            });
            line.by_the_meter |= adjusted && !line.portions.is_empty();
        }
    }
}
