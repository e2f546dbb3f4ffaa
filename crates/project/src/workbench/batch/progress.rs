//! What follows from the plan and the entries in force, in decimals: targets, what went in, which step is next, what water is
//! missing. It depends on what was entered and when the device says it was, never on the order in which it arrived.

mod portions;

pub use portions::StepAmount;

use crate::records::{BatchEntry, Did, Id, Kept, OverWay, Plan, PlanLine, StepKind, TypedMass, in_force};
use jiff::Timestamp;
use levigate_measure::rounding;
use rust_decimal::Decimal;
use std::collections::BTreeMap;

/// An entry in force at the place where the first of its corrections stands.
#[derive(Clone, Copy, Debug)]
pub struct Done<'e> {
    /// The entry that counts.
    pub entry: &'e Kept<BatchEntry>,
    /// When it was done, by the device.
    pub at: Timestamp,
}

/// The entries in force in the order they were done.
#[must_use]
pub fn in_order(entries: &[Kept<BatchEntry>]) -> Vec<Done<'_>> {
    let by_id: BTreeMap<Id<BatchEntry>, &Kept<BatchEntry>> =
        entries.iter().map(|entry| (entry.id, entry)).collect();
    let mut done: Vec<(Timestamp, Id<BatchEntry>, Done<'_>)> = in_force(entries)
        .into_iter()
        .filter(|entry| !entry.what.withdrawn)
        .map(|entry| {
            let mut first = entry;
            for _ in 0..entries.len() {
                let earlier = first.corrects.as_ref().and_then(|it| by_id.get(&it.supersedes));
                match earlier {
                    Some(earlier) => first = earlier,
                    None => break,
                }
            }
            let at = first.what.device_time;
            (at, first.id, Done { entry, at })
        })
        .collect();
    done.sort_by_key(|(at, first, _)| (*at, *first));
    done.into_iter().map(|(_, _, done)| done).collect()
}

/// How a step stands.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub enum Stands {
    /// Nothing was done.
    #[default]
    Open,
    /// Begun.
    Started,
    /// Done.
    Done,
    /// Left out, and why.
    Skipped(String),
}

/// One step.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct StepProgress {
    /// How it stands.
    pub stands: Stands,
    /// When it was begun.
    pub started: Option<Timestamp>,
    /// When it was finished.
    pub finished: Option<Timestamp>,
    /// Where a portion of a line goes in: how much of it.
    pub amount: Option<StepAmount>,
}

/// One portion that went in: grams, and on what it was weighed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Portion {
    /// Grams.
    pub grams: Decimal,
    /// Balance as the person calls it.
    pub instrument: String,
}

/// One line.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LineProgress {
    /// The line as planned.
    pub planned: PlanLine,
    /// Target as it stands now, g.
    pub target_g: Decimal,
    /// Tolerance as it stands now, g.
    pub tolerance_g: Decimal,
    /// What went in.
    pub portions: Vec<Portion>,
    /// What was decided last about too much of it.
    pub decided: Option<OverWay>,
    /// Into how many portions the plan divides it.
    pub planned_portions: usize,
    /// How many of them are still to go in: a small one can be less than the tolerance of the line.
    pub open_portions: usize,
    /// Some of it went in by the meter.
    pub by_the_meter: bool,
}

impl LineProgress {
    /// What went in, g.
    #[must_use]
    pub fn actual_g(&self) -> Decimal {
        self.portions.iter().map(|portion| portion.grams).sum()
    }

    /// What is still to go in, g.
    #[must_use]
    pub fn missing_g(&self) -> Decimal {
        (self.target_g - self.actual_g()).max(Decimal::ZERO)
    }

    /// What is counted as still to come, g: nothing once enough is in, or once something is of a line that is added to a pH, whose
    /// amount the meter decides.
    #[must_use]
    pub fn to_come_g(&self) -> Decimal {
        if self.is_in() || self.by_the_meter { Decimal::ZERO } else { self.missing_g() }
    }

    /// What went in above target and tolerance, and nothing was decided yet, g.
    #[must_use]
    pub fn over_g(&self) -> Option<Decimal> {
        let over = self.actual_g() - self.target_g;
        (self.planned.to_ph.is_none() && over > self.tolerance_g).then_some(over)
    }

    /// Whether enough is in.
    #[must_use]
    pub fn is_in(&self) -> bool {
        !self.portions.is_empty() && self.open_portions == 0 && self.missing_g() <= self.tolerance_g
    }
}

/// Something outside the plan that went in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct AddedProgress {
    /// Raw material, by key.
    pub material: String,
    /// What went in.
    pub portions: Vec<Portion>,
}

/// The vessel with the batch in it on the balance.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct GrossRead {
    /// Gross weight, g.
    pub gross_g: Decimal,
    /// What had gone into the vessel until then, g.
    pub in_before_g: Decimal,
    /// What had been taken out as samples, g.
    pub out_before_g: Decimal,
    /// When.
    pub at: Timestamp,
}

/// Where a batch stands.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Progress {
    /// Size it is made to now, g.
    pub size_g: Decimal,
    /// Lines in the order of the plan.
    pub lines: Vec<LineProgress>,
    /// What went in besides.
    pub added: Vec<AddedProgress>,
    /// Water given back.
    pub water: Vec<Portion>,
    /// The empty vessel, g.
    pub vessel_g: Option<Decimal>,
    /// The last weighing of the full one.
    pub gross: Option<GrossRead>,
    /// Samples taken out, g.
    pub samples_g: Decimal,
    /// Good product, g; none before it was weighed.
    pub output_g: Option<Decimal>,
    /// Known losses, g.
    pub lost_g: Decimal,
    /// Steps in the order of the plan.
    pub steps: Vec<StepProgress>,
}

impl Progress {
    /// Follows the plan through the entries.
    #[must_use]
    pub fn of(plan: &Plan, entries: &[Kept<BatchEntry>]) -> Self {
        let mut progress = Self::planned(plan);
        let done = in_order(entries);
        progress.take_lots(&done);
        let mut after_all: BTreeMap<usize, Decimal> = BTreeMap::new();
        for one in &done {
            if let Did::Weighed { line, mass, .. } = &one.entry.what.did {
                *after_all.entry(*line).or_default() += mass.net_g().unwrap_or_default();
            }
        }
        for one in &done {
            progress.follow(plan, one, &after_all);
        }
        progress.divide(plan);
        progress.settle_steps(plan);
        progress
    }

    fn planned(plan: &Plan) -> Self {
        let line = |planned: PlanLine| LineProgress {
            target_g: planned.grams,
            tolerance_g: planned.tolerance_g,
            portions: Vec::new(),
            decided: None,
            planned_portions: plan.portions().filter(|one| one.number == planned.number).count(),
            open_portions: 0,
            by_the_meter: false,
            planned,
        };
        Self {
            size_g: plan.size_g,
            lines: plan.lines().into_iter().map(line).collect(),
            added: Vec::new(),
            water: Vec::new(),
            vessel_g: None,
            gross: None,
            samples_g: Decimal::ZERO,
            output_g: None,
            lost_g: Decimal::ZERO,
            steps: plan.steps.iter().map(portions::untouched).collect(),
        }
    }

    /// Everything that went into the vessel, g.
    #[must_use]
    pub fn total_in_g(&self) -> Decimal {
        let lines: Decimal = self.lines.iter().map(LineProgress::actual_g).sum();
        let others = self.added.iter().flat_map(|added| &added.portions).chain(&self.water);
        lines + others.map(|portion| portion.grams).sum::<Decimal>()
    }

    /// What went off until the vessel was last weighed, g: tare arithmetic. None where a weighing is missing.
    #[must_use]
    pub fn went_off_g(&self) -> Option<Decimal> {
        let (vessel, gross) = (self.vessel_g?, self.gross.as_ref()?);
        Some(vessel + gross.in_before_g - gross.out_before_g - gross.gross_g)
    }

    /// Water to give back now, g: what had gone off when the vessel was last weighed, less all that was given back for it.
    #[must_use]
    pub fn water_missing_g(&self) -> Option<Decimal> {
        let given: Decimal = self.water.iter().map(|portion| portion.grams).sum();
        Some(self.went_off_g()? - given)
    }

    /// The first step that is neither done nor left out, from 1.
    #[must_use]
    pub fn next_step(&self) -> Option<usize> {
        self.steps
            .iter()
            .position(|step| matches!(step.stands, Stands::Open | Stands::Started))
            .map(|at| at + 1)
    }

    /// The last lot of a line that has another assay than planned moves its target, and the q.s. line the other way.
    fn take_lots(&mut self, done: &[Done<'_>]) {
        let mut corrected: BTreeMap<usize, Decimal> = BTreeMap::new();
        for one in done {
            if let Did::Weighed { line, corrected_g: Some(grams), .. } = &one.entry.what.did {
                corrected.insert(*line, *grams);
            }
        }
        let mut moved = Decimal::ZERO;
        for line in &mut self.lines {
            if let Some(grams) = corrected.get(&line.planned.number).filter(|_| !line.planned.remainder) {
                moved += *grams - line.target_g;
                line.target_g = *grams;
                line.tolerance_g = tolerance(&line.planned, *grams);
            }
        }
        if let Some(remainder) = self.lines.iter_mut().find(|line| line.planned.remainder) {
            remainder.target_g = (remainder.target_g - moved).max(Decimal::ZERO);
        }
    }

    fn follow(&mut self, plan: &Plan, one: &Done<'_>, after_all: &BTreeMap<usize, Decimal>) {
        let entry = &one.entry.what;
        let portion = |mass: &TypedMass| Portion {
            grams: mass.net_g().unwrap_or_default(),
            instrument: entry.instrument.clone(),
        };
        match &entry.did {
            Did::Weighed { line, mass, .. } => {
                if let Some(line) = self.lines.iter_mut().find(|known| known.planned.number == *line) {
                    line.portions.push(portion(mass));
                }
                self.weighed_for(plan, *line, entry.step, mass.net_g().unwrap_or_default());
            }
            Did::Added { material, mass, .. } => {
                match self.added.iter_mut().find(|added| added.material == *material) {
                    Some(added) => added.portions.push(portion(mass)),
                    None => self
                        .added
                        .push(AddedProgress { material: material.clone(), portions: vec![portion(mass)] }),
                }
            }
            Did::Water { mass, .. } => self.water.push(portion(mass)),
            Did::Vessel { mass } => self.vessel_g = mass.gross_g().or(mass.net_g()),
            Did::Gross { mass } => {
                self.gross = mass.gross_g().or(mass.net_g()).map(|gross_g| GrossRead {
                    gross_g,
                    in_before_g: self.total_in_g(),
                    out_before_g: self.samples_g,
                    at: one.at,
                });
            }
            Did::Sample { mass, .. } => self.samples_g += mass.net_g().unwrap_or_default(),
            Did::Output { mass } => {
                self.output_g = Some(self.output_g.unwrap_or_default() + mass.net_g().unwrap_or_default());
            }
            Did::Lost { mass, .. } => self.lost_g += mass.net_g().unwrap_or_default(),
            Did::Decided { line, way, seen_g } => self.decide(plan, (*line, *way), *seen_g, after_all),
            Did::Started | Did::Finished | Did::Skipped { .. } => self.step(one),
            Did::Temperature { value } => self.reached(plan, one, value.value),
            Did::Speed { .. }
            | Did::Calibrated { .. }
            | Did::Ph { .. }
            | Did::TemperatureLog { .. }
            | Did::Checked { .. }
            | Did::Note { .. }
            | Did::Deviation { .. }
            | Did::Photo { .. } => {}
        }
    }

    fn step(&mut self, one: &Done<'_>) {
        let at = one.entry.what.step.and_then(|step| step.checked_sub(1));
        let Some(step) = at.and_then(|at| self.steps.get_mut(at)) else { return };
        match &one.entry.what.did {
            Did::Started => {
                (step.stands, step.started, step.finished) = (Stands::Started, Some(one.at), None);
            }
            Did::Finished => (step.stands, step.finished) = (Stands::Done, Some(one.at)),
            Did::Skipped { reason } => step.stands = Stands::Skipped(reason.clone()),
            _ => {}
        }
    }

    /// The time of a hold runs from the first reading that has reached its temperature, where nobody began it by hand.
    fn reached(&mut self, plan: &Plan, one: &Done<'_>, celsius: Option<Decimal>) {
        let at = one.entry.what.step.and_then(|step| step.checked_sub(1));
        let Some((planned, step)) = at.and_then(|at| Some((plan.steps.get(at)?, self.steps.get_mut(at)?)))
        else {
            return;
        };
        let reaches = celsius.is_some_and(|celsius| planned.reaches(celsius));
        if planned.hold_min.is_some() && step.stands == Stands::Open && reaches {
            (step.stands, step.started) = (Stands::Started, Some(one.at));
        }
    }

    /// Moves the targets as was decided, for what was seen then. A decision whose ground is gone, because less is in after all,
    /// changes nothing.
    fn decide(
        &mut self,
        plan: &Plan,
        (number, way): (usize, OverWay),
        seen_g: Decimal,
        after_all: &BTreeMap<usize, Decimal>,
    ) {
        let Some(at) = self.lines.iter().position(|line| line.planned.number == number) else { return };
        let holds = after_all.get(&number).is_some_and(|in_it| *in_it >= seen_g);
        if !holds || seen_g <= self.lines[at].target_g {
            return;
        }
        let Some((size_g, targets)) = self.targets_after(plan, at, way, seen_g) else { return };
        self.lines[at].decided = Some(way);
        self.size_g = size_g;
        for (line, target_g) in self.lines.iter_mut().zip(targets) {
            line.target_g = target_g;
            line.tolerance_g = tolerance(&line.planned, target_g);
        }
    }

    /// Batch size and targets of all lines if a decision were taken about the line in this place, of which so much is in; none where it
    /// cannot be.
    #[must_use]
    pub fn targets_after(
        &self,
        plan: &Plan,
        at: usize,
        way: OverWay,
        actual: Decimal,
    ) -> Option<(Decimal, Vec<Decimal>)> {
        let target = self.lines.get(at)?.target_g;
        let over = actual.checked_sub(target)?;
        let mut targets: Vec<Decimal> = self.lines.iter().map(|line| line.target_g).collect();
        let mut size_g = self.size_g;
        match way {
            OverWay::Accept => size_g = size_g.checked_add(over)?,
            OverWay::Rescale => {
                let factor = actual.checked_div(target).filter(|factor| *factor > Decimal::ONE)?;
                let division = plan.balances.first()?.readability_g;
                for grams in &mut targets {
                    *grams = rounding::to_division(grams.checked_mul(factor)?, division).ok()?;
                }
                targets[at] = actual;
                size_g = targets.iter().copied().sum();
            }
            OverWay::FromRemainder => {
                let remainder = self.lines.iter().position(|line| line.planned.remainder && !line.is_in())?;
                let left = targets[remainder].checked_sub(over)?;
                if remainder == at || left < self.lines[remainder].actual_g() {
                    return None;
                }
                targets[remainder] = left;
            }
        }
        targets[at] = actual;
        Some((size_g, targets))
    }

    /// What nobody finished by hand but is done all the same: a line that is in.
    fn settle_steps(&mut self, plan: &Plan) {
        for (planned, step) in plan.steps.iter().zip(&mut self.steps) {
            let Some(number) = planned.line.as_ref().map(|line| line.number) else { continue };
            let Some(line) = self.lines.iter().find(|line| line.planned.number == number) else { continue };
            let (begun, is_in) = match &step.amount {
                Some(amount) => (amount.is_begun(), amount.is_in()),
                None => (!line.portions.is_empty(), line.is_in()),
            };
            if step.stands == Stands::Done || !begun {
                continue;
            }
            step.stands =
                if planned.kind == StepKind::Weigh && is_in { Stands::Done } else { Stands::Started };
        }
    }
}

/// The tolerance of a line for another target, in whole divisions as finely as the plan has them.
pub(super) fn tolerance(planned: &PlanLine, target_g: Decimal) -> Decimal {
    let exact = target_g.saturating_mul(planned.tolerance_percent) / Decimal::ONE_HUNDRED;
    exact.round_dp_with_strategy(planned.grams.scale(), rust_decimal::RoundingStrategy::ToZero)
}
