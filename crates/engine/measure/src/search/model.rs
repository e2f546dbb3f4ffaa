//! The straight problem about a point, put to the mixed-integer linear solver.
//!
//! Parts are counted in their most (`u = x / high`), readings in the scale of their wish, so that no coefficient is far from one. Every
//! wish carries a slack that costs the penalty: the straight problem always has an answer, also where the wishes have none.

use super::space::{Aim, Point, Problem};
use microlp::{ComparisonOp, OptimizationDirection, Problem as Linear, SolveOptions, Variable};

/// Branches at most; what was found by then is taken.
const MOST_NODES: u64 = 4_000;
/// A coefficient below this is nothing: the solver wants them within six orders of magnitude.
const NOTHING: f64 = 1e-7;

/// The readings about a point, as straight.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Local {
    pub(super) point: Point,
    /// Of every reading, by every part.
    pub(super) slopes: Vec<Vec<f64>>,
}

impl Local {
    /// Readings expected elsewhere.
    pub(super) fn expected(&self, problem: &Problem, at: &[f64]) -> Point {
        let on = |at: &[f64]| at.iter().filter(|value| **value > 0.0).count();
        #[expect(clippy::cast_precision_loss, reason = "counts of parts")]
        let counts = on(at) as f64 - on(&self.point.at) as f64;
        let readings =
            self.point.readings.iter().zip(&self.slopes).enumerate().map(|(place, (value, slopes))| {
                let moved = at.iter().zip(&self.point.at).map(|(to, from)| to - from);
                let counted = if problem.space.counted == Some(place) { counts } else { 0.0 };
                value + counted + moved.zip(slopes).map(|(by, slope)| by * slope).sum::<f64>()
            });
        let readings = readings.collect();
        problem.judged(at.to_vec(), readings)
    }
}

/// What a straight problem is restricted to.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Within<'w> {
    /// Share of the range of every part around the point.
    pub(super) radius: Option<f64>,
    /// Which parts are in; open where not given.
    pub(super) on: Option<&'w [bool]>,
    /// Choices of parts that are not wanted again.
    pub(super) not: &'w [Vec<bool>],
    /// On the steps, at most so many of them away from the point.
    pub(super) steps: Option<f64>,
}

struct Laid {
    linear: Linear,
    /// Per part: the variable, and what one of it is worth.
    parts: Vec<(Variable, f64)>,
    switches: Vec<Option<Variable>>,
}

/// The best point of the straight problem; nothing where groups, room and restrictions leave none.
pub(super) fn straight(
    problem: &Problem,
    local: &Local,
    penalty: f64,
    within: &Within<'_>,
) -> Option<Vec<f64>> {
    let laid = lay(problem, local, penalty, within)?;
    let mut options = SolveOptions::default();
    options.node_limit = Some(MOST_NODES);
    options.mip_gap = 1e-9;
    let solution = laid.linear.solve_with(options).ok()?.into_solution().ok()?;
    let found = laid.parts.iter().zip(&laid.switches).zip(&problem.space.parts).enumerate();
    Some(
        found
            .map(|(place, (((variable, worth), switch), part))| {
                let value = solution.var_value(*variable);
                let off = match switch {
                    Some(switch) => solution.var_value(*switch) < 0.5,
                    None => within.on.is_some_and(|on| !on[place]),
                };
                match (off, within.steps, part.step) {
                    (true, ..) => 0.0,
                    (false, Some(_), Some(step)) => value.round() * step,
                    _ => (value * worth).clamp(part.low, part.high),
                }
            })
            .collect(),
    )
}

fn lay(problem: &Problem, local: &Local, penalty: f64, within: &Within<'_>) -> Option<Laid> {
    let space = &problem.space;
    let (aims, counts_in_aim) = aim_slopes(problem, local);
    let mut linear = Linear::new(OptimizationDirection::Minimize);
    let (mut parts, mut switches) = (Vec::new(), Vec::new());
    for (place, part) in space.parts.iter().enumerate() {
        let here = local.point.at[place];
        let forced = within.on.map(|on| on[place]);
        let open = part.may_be_off && forced.is_none();
        let [mut low, mut high] = if within.steps.is_some() { part.ends() } else { [part.low, part.high] };
        if forced == Some(false) {
            (low, high) = (0.0, 0.0);
        } else {
            // A part that is out comes in by no more than the radius above its least.
            let centre = if here > 0.0 || !part.may_be_off { here } else { part.low };
            let reach = match (within.steps, part.step) {
                (Some(steps), Some(step)) => Some(steps * step),
                (Some(_), None) => Some(0.1 * part.range()),
                (None, _) => within.radius.map(|radius| radius * part.range()),
            };
            if let Some(reach) = reach {
                let [least, most] = [low, high];
                low = (centre - reach).clamp(least, most);
                high = (centre + reach).clamp(least, most);
            }
        }
        let step = part.step.filter(|_| within.steps.is_some());
        let worth = step.unwrap_or(part.high.max(1e-9));
        let slope = aims[place] * worth;
        let variable = if step.is_some() {
            let ends = [(low / worth - 1e-6).ceil(), (high / worth + 1e-6).floor()];
            let least = if open { 0.0 } else { ends[0] };
            if ends[0] > ends[1] || ends[1] > f64::from(i32::MAX) {
                return None;
            }
            (low, high) = (ends[0] * worth, ends[1] * worth);
            #[expect(clippy::cast_possible_truncation, reason = "checked above")]
            linear.add_integer_var(slope, (least as i32, ends[1] as i32))
        } else {
            linear.add_var(slope, (if open { 0.0 } else { low / worth }, high / worth))
        };
        let switch =
            open.then(|| linear.add_binary_var(if counts_in_aim == 0.0 { 0.0 } else { counts_in_aim }));
        if let Some(switch) = switch {
            linear.add_constraint([(variable, 1.0), (switch, -low / worth)], ComparisonOp::Ge, 0.0);
            linear.add_constraint([(variable, 1.0), (switch, -high / worth)], ComparisonOp::Le, 0.0);
        }
        parts.push((variable, worth));
        switches.push(switch);
    }
    let mut laid = Laid { linear, parts, switches };
    structure(problem, within, &mut laid)?;
    wishes(problem, local, penalty, &mut laid);
    Some(laid)
}

/// Slopes of the aim by every part, and what one more part that is in adds to it.
fn aim_slopes(problem: &Problem, local: &Local) -> (Vec<f64>, f64) {
    match &problem.aim {
        Aim::Reading { reading, most, scale } => {
            let sign = if *most { -1.0 } else { 1.0 } / scale;
            let counted = if problem.space.counted == Some(*reading) { sign } else { 0.0 };
            (local.slopes[*reading].iter().map(|slope| sign * slope).collect(), counted)
        }
        Aim::Readings(factors) => {
            let slope = |part: usize| -> f64 {
                factors.iter().map(|(reading, factor)| factor * local.slopes[*reading][part]).sum()
            };
            let counted = factors.iter().filter(|(reading, _)| problem.space.counted == Some(*reading));
            let slopes = (0..problem.space.parts.len()).map(slope).collect();
            (slopes, counted.map(|(_, factor)| factor).sum())
        }
        Aim::Parts(factors) => (factors.clone(), 0.0),
        Aim::Nothing => (vec![0.0; problem.space.parts.len()], 0.0),
    }
}

/// Groups, room, and choices that are not wanted again.
fn structure(problem: &Problem, within: &Within<'_>, laid: &mut Laid) -> Option<()> {
    let space = &problem.space;
    for group in &space.groups {
        #[expect(clippy::cast_precision_loss, reason = "counts of parts")]
        let (least, most) = (group.least as f64, group.most as f64);
        let mut sum: Vec<(Variable, f64)> = Vec::new();
        let mut sure = 0.0;
        for part in &group.parts {
            match laid.switches[*part] {
                Some(switch) => sum.push((switch, 1.0)),
                None if within.on.is_none_or(|on| on[*part]) => sure += 1.0,
                None => {}
            }
        }
        if sum.is_empty() {
            if sure < least || sure > most {
                return None;
            }
            continue;
        }
        laid.linear.add_constraint(sum.clone(), ComparisonOp::Ge, least - sure);
        laid.linear.add_constraint(sum, ComparisonOp::Le, most - sure);
    }
    if let Some((factors, most)) = &space.room {
        let scale = most.abs().max(1.0);
        let sum = laid
            .parts
            .iter()
            .zip(factors)
            .map(|((variable, worth), factor)| (*variable, factor * worth / scale));
        let sum: Vec<_> = sum.filter(|(_, factor)| factor.abs() > NOTHING).collect();
        if sum.is_empty() && *most < 0.0 {
            return None;
        }
        laid.linear.add_constraint(sum, ComparisonOp::Le, most / scale);
    }
    for known in within.not {
        let mut right = -1.0;
        let mut sum: Vec<(Variable, f64)> = Vec::new();
        for (switch, on) in laid.switches.iter().zip(known) {
            let Some(switch) = switch else { continue };
            sum.push((*switch, if *on { 1.0 } else { -1.0 }));
            right += if *on { 1.0 } else { 0.0 };
        }
        if sum.is_empty() {
            return None;
        }
        laid.linear.add_constraint(sum, ComparisonOp::Le, right);
    }
    Some(())
}

fn wishes(problem: &Problem, local: &Local, penalty: f64, laid: &mut Laid) {
    for wish in &problem.wishes {
        let slopes = &local.slopes[wish.reading];
        let mut sum: Vec<(Variable, f64)> = Vec::new();
        let mut here = local.point.readings[wish.reading] / wish.scale;
        for ((variable, worth), (slope, at)) in laid.parts.iter().zip(slopes.iter().zip(&local.point.at)) {
            let factor = slope * worth / wish.scale;
            if factor.abs() > NOTHING {
                sum.push((*variable, factor));
                here -= slope * at / wish.scale;
            }
        }
        if problem.space.counted == Some(wish.reading) {
            for (switch, at) in laid.switches.iter().zip(&local.point.at) {
                if let Some(switch) = switch {
                    sum.push((*switch, 1.0 / wish.scale));
                    here -= if *at > 0.0 { 1.0 / wish.scale } else { 0.0 };
                }
            }
        }
        let slack = laid.linear.add_var(penalty, (0.0, f64::INFINITY));
        let with = |sign: f64| {
            let mut all = sum.clone();
            all.push((slack, sign));
            all
        };
        if let Some(low) = wish.low {
            laid.linear.add_constraint(with(1.0), ComparisonOp::Ge, low / wish.scale - here);
        }
        if let Some(high) = wish.high {
            laid.linear.add_constraint(with(-1.0), ComparisonOp::Le, high / wish.scale - here);
        }
    }
}
