//! The differences between two sheets as changes of the first that can be made one by one.

use super::super::book::SheetMade;
use super::first;
use crate::workbench::difference::words as amount_words;
use levigate_assess::Known;
use levigate_formula::sheet::{Amount, Line, Sheet};
use rust_decimal::Decimal;
use rust_decimal::prelude::{FromPrimitive, ToPrimitive};
use std::collections::BTreeMap;

/// A line weighed nearer than this, relative, to the same line of the other trial was meant to be the same. A judgement, no source.
const WEIGHED_ALIKE: f64 = 0.01;

/// A change of the sheet that can be made by itself.
pub(super) struct Patch {
    pub(super) what: String,
    pub(super) was: String,
    pub(super) now: String,
    /// Lines of the older that give way, with the line that stands there instead, if any.
    lines: Vec<(usize, Option<Line>)>,
    /// Lines that are new, with the name of their phase.
    added: Vec<(String, Line)>,
    /// Metals of the brief, where they differ.
    metals: Option<BTreeMap<String, Decimal>>,
    /// Water that went off, percent of what went in, where that differs.
    lost_percent: Option<Decimal>,
}

/// The line as it decides what is read: amount and assay, and the lot where its strength is a number of its own.
fn deciding(line: &Line, thickens: bool) -> (Amount, Option<Decimal>, Option<&str>) {
    let plain = |amount: Amount| match amount {
        Amount::Percent(percent) => Amount::Percent(percent.normalize()),
        Amount::ActivePercent(percent) => Amount::ActivePercent(percent.normalize()),
        Amount::ToPh(ph) => Amount::ToPh(ph.normalize()),
        Amount::Remainder(rest) => Amount::Remainder(rest),
    };
    let lot = line.lot.as_deref().filter(|_| thickens);
    (plain(line.amount), line.assay_percent.map(|assay| assay.normalize()), lot)
}

fn weighed_alike(left: &Line, right: &Line, thickens: bool) -> bool {
    let (Amount::Percent(was), Amount::Percent(now)) = (&left.amount, &right.amount) else { return false };
    let (was, now) = (was.to_f64().unwrap_or(0.0), now.to_f64().unwrap_or(0.0));
    let alike = left.assay_percent == right.assay_percent && (!thickens || left.lot == right.lot);
    alike && (now - was).abs() <= WEIGHED_ALIKE * was.abs().max(now.abs())
}

/// The sheet as it went in, before water went off, with what its acid and base lines come to in their place, so that each is a difference
/// like any other.
pub(super) fn as_it_went_in(made: &SheetMade, known: &Known<'_>) -> Result<Sheet, String> {
    let mut sheet = weighed_out(made, known)?;
    scale(&mut sheet, (Decimal::ONE_HUNDRED - made.lost_percent(), Decimal::ONE_HUNDRED));
    Ok(sheet)
}

/// Every line but the q.s. one by a ratio.
fn scale(sheet: &mut Sheet, (over, under): (Decimal, Decimal)) {
    if over == under {
        return;
    }
    for line in sheet.phases.iter_mut().flat_map(|phase| &mut phase.lines) {
        if let Amount::Percent(percent) | Amount::ActivePercent(percent) = &mut line.amount {
            let scaled = percent.checked_mul(over).and_then(|all| all.checked_div(under));
            *percent = scaled.map_or(*percent, |scaled| scaled.round_dp(10).normalize());
        }
    }
}

/// The sheet of what is left when so many percent of what went in went off as water: every line but the q.s. one has more of it.
pub(in crate::workbench::trials) fn with_water_lost(sheet: &mut Sheet, lost_percent: Decimal) {
    scale(sheet, (Decimal::ONE_HUNDRED, Decimal::ONE_HUNDRED - lost_percent));
}

fn weighed_out(made: &SheetMade, known: &Known<'_>) -> Result<Sheet, String> {
    let mut sheet = made.sheet.clone();
    if sheet.lines().all(|(_, line)| !matches!(line.amount, Amount::ToPh(_))) {
        return Ok(sheet);
    }
    let (settled, _, _) = levigate_assess::solved(&sheet, known).map_err(|error| first(&error))?;
    let lines = sheet.phases.iter_mut().flat_map(|phase| &mut phase.lines);
    for (line, settled) in lines.zip(&settled.lines) {
        if matches!(line.amount, Amount::ToPh(_)) {
            line.amount = Amount::Percent(Decimal::from_f64(settled.percent).unwrap_or_default());
        }
    }
    Ok(sheet)
}

/// The differences between two sheets as changes of the first that can be made one by one. What is q.s. is one of them: a sheet has just one such
/// line.
pub(super) fn patches(
    [from, to]: [&SheetMade; 2],
    [old, new]: [&Sheet; 2],
    thickens: impl Fn(&str) -> bool,
) -> Vec<Patch> {
    let (target_was, target_now) = (&old.target, &new.target);
    let old: Vec<&Line> = old.lines().map(|(_, line)| line).collect();
    let new: Vec<(usize, &Line)> = new.lines().collect();
    let mut partner: Vec<Option<usize>> = vec![None; new.len()];
    let mut taken = vec![false; old.len()];
    for (at, of) in partner.iter_mut().enumerate() {
        let key = &to.lines()[at].key;
        let found = (0..old.len()).find(|other| !taken[*other] && from.lines()[*other].key == *key);
        if let Some(other) = found {
            taken[other] = true;
            *of = Some(other);
        }
    }
    let empty = |what: &str| Patch {
        what: what.to_owned(),
        was: String::new(),
        now: String::new(),
        lines: Vec::new(),
        added: Vec::new(),
        metals: None,
        lost_percent: None,
    };
    // As the formula writes it; of what was solved for a pH, what that comes to.
    let told = |line: &Line, written: &Line, with_lot: bool| match written.amount {
        Amount::ToPh(ph) => match line.amount {
            Amount::Percent(percent) => {
                format!("{} % for pH {}", percent.round_sf(3).unwrap_or(percent).normalize(), ph.normalize())
            }
            _ => String::new(),
        },
        _ => {
            let lot = line.lot.clone().filter(|_| with_lot);
            let amount = match line.amount {
                // Scaled to what went in, an amount has more decimals than anybody weighed.
                Amount::Percent(percent) if percent.scale() > 4 => {
                    Amount::Percent(percent.round_sf(5).unwrap_or(percent).normalize())
                }
                amount => amount,
            };
            amount_words(&Line { lot, note: None, tolerance_percent: None, amount, ..line.clone() }, true)
        }
    };
    let (wrote, writes): (Vec<&Line>, Vec<&Line>) = (
        from.sheet.lines().map(|(_, line)| line).collect(),
        to.sheet.lines().map(|(_, line)| line).collect(),
    );
    let mut found: Vec<Patch> = Vec::new();
    let mut pools = [empty("what is q.s."), empty("weighings")];
    let pool_of = |was: Option<&Line>, now: Option<&Line>, thickens: bool| {
        let rest = |line: &Line| matches!(line.amount, Amount::Remainder(_));
        if was.into_iter().chain(now).any(rest) {
            Some(0)
        } else {
            was.zip(now).is_some_and(|(was, now)| weighed_alike(was, now, thickens)).then_some(1)
        }
    };
    let both = |words: &mut String, more: String| {
        *words = if words.is_empty() { more } else { format!("{words}; {more}") };
    };
    let came = (0..new.len()).map(|at| (partner[at], Some(at)));
    let went = (0..old.len()).filter(|other| !taken[*other]).map(|other| (Some(other), None));
    for (was, now) in came.chain(went) {
        let (old_line, new_line) = (was.map(|at| old[at]), now.map(|at| new[at].1));
        let key = now.map(|at| &to.lines()[at].key).or(was.map(|at| &from.lines()[at].key));
        let strong = key.is_some_and(|key| thickens(key));
        if old_line.zip(new_line).is_some_and(|(was, now)| deciding(was, strong) == deciding(now, strong)) {
            continue;
        }
        let Some(line) = new_line.or(old_line) else { continue };
        let with_lot = strong && old_line.zip(new_line).is_some_and(|(was, now)| was.lot != now.lot);
        let pool = pool_of(old_line, new_line, strong);
        let mut patch = empty(&line.material);
        let into = pool.map_or(&mut patch, |pool| &mut pools[pool]);
        let named = |line: &Line, written: &Line| {
            let amount = told(line, written, with_lot);
            if pool == Some(0) { format!("{} {amount}", line.material) } else { amount }
        };
        if let Some(at) = was {
            both(&mut into.was, named(old[at], wrote[at]));
        }
        if let Some(at) = now {
            both(&mut into.now, named(new[at].1, writes[at]));
        }
        match (was, now) {
            (Some(other), _) => into.lines.push((other, new_line.cloned())),
            (None, Some(at)) => into.added.push((to.sheet.phases[new[at].0].name.clone(), line.clone())),
            (None, None) => {}
        }
        if pool.is_none() {
            found.push(patch);
        }
    }
    let [_, alike] = &mut pools;
    (alike.was, alike.now) = (String::new(), format!("{} weighed within 1 % of the same", alike.lines.len()));
    found.extend(pools.into_iter().filter(|pool| !(pool.lines.is_empty() && pool.added.is_empty())));
    let (was, now) = (&target_was.metals_mg_kg, &target_now.metals_mg_kg);
    if was != now {
        let metals = |of: &BTreeMap<String, Decimal>| {
            of.iter()
                .map(|(ion, mg)| format!("{ion} {} mg/kg", mg.normalize()))
                .collect::<Vec<_>>()
                .join(", ")
        };
        let (was, words) = (metals(was), metals(now));
        found.push(Patch { was, now: words, metals: Some(now.clone()), ..empty("metals expected") });
    }
    let (was, now) = (from.lost_percent(), to.lost_percent());
    if was != now {
        let words = |lost: Decimal| format!("{} %", lost.round_sf(3).unwrap_or(lost).normalize());
        found.push(Patch {
            was: words(was),
            now: words(now),
            lost_percent: Some(now),
            ..empty("water that went off and was not given back")
        });
    }
    found
}

/// The sheet with changes made in it, and what is left of it when water went off: `lost_percent` where no change says otherwise.
pub(super) fn patched<'p>(
    from: &Sheet,
    mut lost_percent: Decimal,
    chosen: impl Iterator<Item = &'p Patch>,
) -> Sheet {
    let mut sheet = from.clone();
    let mut replaced: BTreeMap<usize, Option<Line>> = BTreeMap::new();
    let mut added: Vec<&(String, Line)> = Vec::new();
    for patch in chosen {
        replaced.extend(patch.lines.iter().cloned());
        added.extend(&patch.added);
        if let Some(metals) = &patch.metals {
            sheet.target.metals_mg_kg.clone_from(metals);
        }
        lost_percent = patch.lost_percent.unwrap_or(lost_percent);
    }
    let mut at = 0;
    for phase in &mut sheet.phases {
        phase.lines = std::mem::take(&mut phase.lines)
            .into_iter()
            .filter_map(|line| {
                let kept = replaced.remove(&at).unwrap_or(Some(line));
                at += 1;
                kept
            })
            .collect();
    }
    for (name, line) in added {
        let place =
            sheet.phases.iter().position(|phase| phase.name == *name).or(sheet.phases.len().checked_sub(1));
        if let Some(phase) = place.and_then(|place| sheet.phases.get_mut(place)) {
            phase.lines.push(line.clone());
        }
    }
    // How it is made plays no part in the equilibrium, and its steps mean lines by their places.
    sheet.steps.clear();
    with_water_lost(&mut sheet, lost_percent);
    sheet
}
