//! Too much of a line went in: what each way out of it means in grams, and what no way can undo.

use super::progress::{LineProgress, Progress};
use crate::records::{OverWay, Plan};
use levigate_measure::written::{Described, Description, result};
use rust_decimal::Decimal;
use serde::Serialize;

/// A ratio this near a power of ten is likelier a sign in the wrong place than a hand: 10 %. Common practice, no source.
const NEAR_TEN: (Decimal, Decimal) =
    (Decimal::from_parts(9, 0, 0, false, 1), Decimal::from_parts(11, 0, 0, false, 1));

/// The case that proves the arithmetic.
const CASE: &str = "tests/cross/batches.toml";

struct Size;
impl Described for Size {
    const OF: Description = Description::computed("g", "batch size after the decision")
        .by("accept: B + m - t; rescale: B m / t; from the q.s. line: B")
        .proved_by(CASE);
}

struct Target;
impl Described for Target {
    const OF: Description = Description::computed("g", "target after the decision, rounded to the balance")
        .by("accept: t_j; rescale: t_j m / t; from the q.s. line: q.s. - (m - t)")
        .proved_by(CASE);
}

struct Share;
impl Described for Share {
    const OF: Description =
        Description::computed("% w/w", "share of what the batch then is, with what is in already")
            .by("100 max(t_j, m_j) / sum of max(t_j, m_j)")
            .proved_by(CASE);
}

struct ToAdd;
impl Described for ToAdd {
    const OF: Description =
        Description::computed("g", "target after the decision, less what is in").by("t' - m").proved_by(CASE);
}

struct Above;
impl Described for Above {
    const OF: Description = Description::computed("g", "what is in, less the target after the decision")
        .by("m - t'")
        .proved_by(CASE);
}

/// One way out.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct WayOut {
    /// What is decided.
    pub way: OverWay,
    /// In words.
    pub words: String,
    /// What the batch becomes.
    #[serde(serialize_with = "result::<Size, _, _>")]
    pub size: Decimal,
    /// What becomes of the lines, in the order of the plan.
    pub lines: Vec<LineAfter>,
    /// What it cannot make good, in words; empty when nothing.
    pub left: Vec<String>,
}

/// A line after a decision.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LineAfter {
    /// Number, from 1.
    pub line: usize,
    /// Name of the raw material.
    pub name: String,
    /// Target.
    #[serde(serialize_with = "result::<Target, _, _>")]
    pub target: Decimal,
    /// Share in the batch.
    #[serde(serialize_with = "result::<Share, _, _>")]
    pub percent: Decimal,
    /// Still to go in.
    #[serde(serialize_with = "result::<ToAdd, _, _>")]
    pub to_add: Decimal,
    /// Already in above the target: it cannot be taken out again.
    #[serde(serialize_with = "result::<Above, _, _>")]
    pub above: Option<Decimal>,
}

/// The ways out for a line of which too much is in; empty where there is none too much.
pub(super) fn ways_out(plan: &Plan, progress: &Progress, at: usize) -> Vec<WayOut> {
    let over = progress.lines.get(at).is_some_and(|line| line.over_g().is_some());
    let ways = [OverWay::Accept, OverWay::Rescale, OverWay::FromRemainder];
    ways.into_iter().filter(|_| over).filter_map(|way| way_out(plan, progress, at, way)).collect()
}

fn way_out(plan: &Plan, progress: &Progress, at: usize, way: OverWay) -> Option<WayOut> {
    let over = progress.lines.get(at)?;
    let (size_g, targets) = progress.targets_after(plan, at, way, over.actual_g())?;
    // What is already in stays in, whatever the targets say.
    let become_g = |line: &LineProgress, target: Decimal| target.max(line.actual_g());
    let total: Decimal =
        progress.lines.iter().zip(&targets).map(|(line, target)| become_g(line, *target)).sum();
    let mut left = Vec::new();
    let lines = progress
        .lines
        .iter()
        .zip(&targets)
        .map(|(line, target)| {
            let above = line.actual_g() - *target;
            let tolerance = line.tolerance_g;
            if above > tolerance && line.planned.number != over.planned.number {
                left.push(format!(
                    "{} is in already with {} g, {above} g above what it would be: it cannot be taken out.",
                    line.planned.name,
                    line.actual_g()
                ));
            } else if line.is_in() && -above > tolerance {
                left.push(format!("{} is in already and would need {} g more.", line.planned.name, -above));
            }
            let percent = (become_g(line, *target) * Decimal::ONE_HUNDRED).checked_div(total);
            LineAfter {
                line: line.planned.number,
                name: line.planned.name.clone(),
                target: *target,
                percent: percent.unwrap_or_default().round_dp(6).normalize(),
                to_add: (*target - line.actual_g()).max(Decimal::ZERO),
                above: (above > Decimal::ZERO).then_some(above),
            }
        })
        .collect();
    Some(WayOut { way, words: words(way, over, size_g), size: size_g, lines, left })
}

fn words(way: OverWay, line: &LineProgress, size_g: Decimal) -> String {
    let (name, over) = (&line.planned.name, line.actual_g() - line.target_g);
    match way {
        OverWay::Accept => {
            format!(
                "Leave the {over} g of {name} in; all others stay, and become a little less of {size_g} g."
            )
        }
        OverWay::Rescale => {
            format!("Make all others more, so that every share is as planned: {size_g} g in all.")
        }
        OverWay::FromRemainder => {
            format!(
                "Take the {over} g from the q.s. line: the batch stays {size_g} g, all other shares as planned."
            )
        }
    }
}

/// Whether what went in looks like a slip of the decimal sign, in words.
pub(super) fn slip(line: &LineProgress) -> Option<String> {
    let alone = line.planned_portions <= 1 && line.portions.len() == 1 && line.planned.to_ph.is_none();
    slipped(line.actual_g(), line.target_g, alone)
}

/// The same for a weight against a target. What is far too little is a slip only where nothing more is to come.
pub(super) fn slipped(actual: Decimal, target: Decimal, alone: bool) -> Option<String> {
    let ratio = actual.checked_div(target).filter(|ratio| *ratio > Decimal::ZERO)?;
    let near = |ten: Decimal| ratio >= ten * NEAR_TEN.0 && ratio <= ten * NEAR_TEN.1;
    for (ten, words) in [(10, "ten times"), (100, "a hundred times")] {
        let ten = Decimal::from(ten);
        if near(ten) {
            return Some(format!(
                "{actual} g is {words} the target of {target} g: has the decimal sign slipped?"
            ));
        }
        if near(Decimal::ONE / ten) && alone {
            let words = if ten == Decimal::TEN { "a tenth" } else { "a hundredth" };
            return Some(format!(
                "{actual} g is {words} of the target of {target} g: has the decimal sign slipped?"
            ));
        }
    }
    None
}
