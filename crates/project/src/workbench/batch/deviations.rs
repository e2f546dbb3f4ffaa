//! What went otherwise than planned, over one batch or over a span of days: what people wrote down, and what the record itself shows.

use super::record::planned_lines;
use super::{LineProgress, Progress, day_of};
use crate::records::{Batch, BatchEntry, Did, Kept, OverWay};
use crate::store::StoreError;
use crate::workbench::keeping::{Struck, struck};
use crate::workspace::Workspace;
use jiff::Timestamp;
use jiff::civil::Date;
use serde::Serialize;

/// Batches that are held at once; the plan of one is a few kilobytes.
const PAGE: u32 = 200;

/// A list of deviations.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct DeviationList {
    /// Code of the batch it is about; none for a span of days.
    pub batch: Option<String>,
    /// Code of the version of that batch.
    pub version_code: Option<String>,
    /// First day, where it is about a span.
    pub from: Option<Date>,
    /// Last day.
    pub to: Option<Date>,
    /// What went otherwise, the earliest first.
    pub rows: Vec<Deviated>,
    /// Batches gone through.
    pub batches: usize,
    /// The day it stands for: that of the last record gone through, or the last day of the span.
    pub day: Date,
}

/// Something that went otherwise than planned.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Deviated {
    /// Code of the batch.
    pub batch: String,
    /// Product.
    pub product: String,
    /// Version of the formula.
    pub version: u32,
    /// `written down`, `left out`, `too much` or `off target`.
    pub kind: &'static str,
    /// Number of the entry; none for what only the sums show.
    pub entry: Option<u32>,
    /// Step of the plan.
    pub step: Option<usize>,
    /// When it was done; that of the last entry of the batch for what only the sums show.
    pub when: Timestamp,
    /// Who entered it.
    pub who: String,
    /// How that is known.
    pub known_by: &'static str,
    /// What.
    pub text: String,
    /// Why, in the words of the person.
    pub reason: String,
    /// What was decided.
    pub decision: String,
    /// What struck it out.
    pub struck: Option<Struck>,
}

/// The deviations of one batch.
///
/// # Errors
/// The workspace cannot be read.
pub async fn deviations_of(workspace: &Workspace, batch: &Kept<Batch>) -> Result<DeviationList, StoreError> {
    let entries: Vec<Kept<BatchEntry>> = workspace.of(batch.id).await?;
    let last = entries.iter().map(|entry| entry.when).max().unwrap_or(batch.when);
    Ok(DeviationList {
        batch: Some(batch.what.code.clone()),
        version_code: Some(batch.what.plan.version_code.clone()),
        from: None,
        to: None,
        rows: deviated(batch, &entries),
        batches: 1,
        day: day_of(last),
    })
}

/// The deviations of all batches within a span of days, both included, by when they were done.
///
/// # Errors
/// The workspace cannot be read.
pub async fn deviations_between(
    workspace: &Workspace,
    (from, to): (Date, Date),
) -> Result<DeviationList, StoreError> {
    let (mut rows, mut looked_at, mut behind) = (Vec::new(), 0, 0);
    loop {
        let page: Vec<Kept<Batch>> = workspace.after(behind, PAGE).await?;
        let Some(last) = page.last() else { break };
        behind = last.sequence;
        // What was begun after the span cannot have gone wrong in it.
        for batch in page.iter().filter(|batch| day_of(batch.when) <= to) {
            looked_at += 1;
            let entries: Vec<Kept<BatchEntry>> = workspace.of(batch.id).await?;
            let own = deviated(batch, &entries).into_iter();
            rows.extend(own.filter(|row| (from..=to).contains(&day_of(row.when))));
        }
    }
    rows.sort_by(|one, other| {
        (one.when, &one.batch, one.entry).cmp(&(other.when, &other.batch, other.entry))
    });
    Ok(DeviationList {
        batch: None,
        version_code: None,
        from: Some(from),
        to: Some(to),
        rows,
        batches: looked_at,
        day: to,
    })
}

fn deviated(batch: &Kept<Batch>, entries: &[Kept<BatchEntry>]) -> Vec<Deviated> {
    let strikes = struck(entries);
    let mut rows: Vec<Deviated> = entries
        .iter()
        .filter(|entry| !entry.what.withdrawn)
        .filter_map(|entry| Some(Deviated { struck: strikes.get(&entry.id).cloned(), ..said(batch, entry)? }))
        .collect();
    if let Some(last) = entries.iter().max_by_key(|entry| entry.what.device_time) {
        let progress = Progress::of(&batch.what.plan, entries);
        let made = progress.next_step().is_none();
        rows.extend(progress.lines.iter().filter_map(|line| off((batch, last), line, made)));
    }
    rows.sort_by_key(|row| (row.when, row.entry));
    rows
}

fn bare(batch: &Kept<Batch>, entry: &Kept<BatchEntry>, kind: &'static str) -> Deviated {
    let plan = &batch.what.plan;
    Deviated {
        batch: batch.what.code.clone(),
        product: plan.product.clone(),
        version: plan.version,
        kind,
        entry: Some(entry.number),
        step: entry.what.step,
        when: entry.what.device_time,
        who: entry.who.clone(),
        known_by: entry.how.words(),
        text: String::new(),
        reason: String::new(),
        decision: String::new(),
        struck: None,
    }
}

fn said(batch: &Kept<Batch>, entry: &Kept<BatchEntry>) -> Option<Deviated> {
    let plan = &batch.what.plan;
    let row = |kind| bare(batch, entry, kind);
    match &entry.what.did {
        Did::Deviation { text, reason, decision } => Some(Deviated {
            text: text.clone(),
            reason: reason.clone(),
            decision: decision.clone(),
            ..row("written down")
        }),
        Did::Skipped { reason } => {
            let step = entry.what.step.and_then(|number| plan.steps.get(number.checked_sub(1)?));
            let text = step
                .map_or_else(|| "A step".to_owned(), |step| format!("Step {}: {}", step.number, step.text));
            Some(Deviated { text, reason: reason.clone(), ..row("left out") })
        }
        Did::Decided { line, way, seen_g } => {
            let planned = planned_lines(plan).find(|planned| planned.number == *line);
            let name = planned.map(|planned| planned.name.as_str()).unwrap_or_default();
            let decision = match way {
                OverWay::Accept => "it stays in; the others stay as planned",
                OverWay::Rescale => "all others become as much more",
                OverWay::FromRemainder => "it is taken from the q.s. line",
            };
            let text = format!("Too much of line {line}, {name}: {seen_g} g were in");
            Some(Deviated { text, decision: decision.to_owned(), ..row("too much") })
        }
        _ => None,
    }
}

/// A line that ended outside its tolerance. What is still missing may come as long as the batch is being made.
fn off(
    (batch, last): (&Kept<Batch>, &Kept<BatchEntry>),
    line: &LineProgress,
    made: bool,
) -> Option<Deviated> {
    let short = made && !line.portions.is_empty() && line.planned.to_ph.is_none() && !line.is_in();
    if !short && line.over_g().is_none() {
        return None;
    }
    let (actual, target) = (line.actual_g(), line.target_g);
    let sign = if actual < target { "\u{2212}" } else { "+" };
    let text = format!(
        "Line {}, {}: {actual} g weighed, {target} g asked for ({sign}{} g, tolerance {} g)",
        line.planned.number,
        line.planned.name,
        (actual - target).abs(),
        line.tolerance_g
    );
    Some(Deviated { entry: None, step: None, text, ..bare(batch, last, "off target") })
}
