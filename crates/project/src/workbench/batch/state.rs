//! A batch as it stands, laid out for whoever shows it: every number with its unit, method and what is open about it.

mod entry;

pub use entry::EntryState;

use super::BatchRecords;
use super::composed::{Balanced, OnBalances, finished_g, share};
use super::over::{WayOut, slip, ways_out};
use super::portion_state::PortionState;
use super::progress::{LineProgress, Progress, Stands, StepProgress};
use crate::records::{
    Batch, BatchEntry, Did, Formula, Id, Kept, Kind, LotNamed, OverWay, PlanCaution, PlanProcedure, PlanStep,
    Reading, RetainedSample, SignOff, StepKind, Trial,
};
use crate::workbench::keeping::{Struck, struck};
use crate::workbench::lots::{dates, lot_of};
use jiff::Timestamp;
use jiff::civil::Date;
use levigate_measure::Outcome;
use levigate_measure::weighing::BalanceRecord;
use levigate_measure::written::{Described, Description, result};
use rust_decimal::Decimal;
use serde::Serialize;

/// Band of what is accounted for outside which the rest is looked for, percent. Common practice, no source.
const ACCOUNTED: (Decimal, Decimal) =
    (Decimal::from_parts(98, 0, 0, false, 0), Decimal::from_parts(102, 0, 0, false, 0));
/// The case that proves the arithmetic.
const CASE: &str = "tests/cross/batches.toml";

/// Names quantities that follow from the entries by sums and differences of decimals.
macro_rules! described {
    ($($name:ident: $unit:literal, $method:literal, $equation:literal;)+) => {
        $(struct $name;
        impl Described for $name {
            const OF: Description = Description::computed($unit, $method).by($equation).proved_by(CASE);
        })+
    };
}
described! {
    Size: "g", "size of the plan, and what was decided since", "B";
    First: "g", "first share of the amount solved for the pH", "m_1";
    Target: "g", "target of the plan, with the assay of the lot and what was decided since", "t";
    Tolerance: "g", "tolerance of the line in whole divisions of the balance", "p t / 100";
    Actual: "g", "sum of what was weighed for it", "m = sum of net weights";
    Missing: "g", "target less what went in", "t - m";
    Deviation: "%", "what went in, less the target, in the target", "100 (m - t) / t";
    Share: "% w/w", "grams of it in grams of the finished batch", "100 m / B";
    Vessel: "g", "empty vessel as weighed", "V";
    Should: "g", "empty vessel and what went in, less samples, without water given back", "V + in - out";
    WentOff: "g", "tare arithmetic; what clings to tools counts as gone off", "w = V + in - out - G";
    GiveBack: "g", "what went off, less what was given back", "w - given back";
    Given: "g", "sum of the water given back", "sum of net weights";
    Charged: "g", "everything that went in, less what went off", "in - w";
    Good: "g", "good product as weighed", "sum of net weights";
    Samples: "g", "sum of the samples", "sum of net weights";
    Lost: "g", "sum of the known losses", "sum of net weights";
    Unexplained: "g", "charged, less good product, samples and known losses", "charged - good - samples - lost";
    Yield: "%", "good product in what was charged", "100 good / charged";
    Accounted: "%", "good product, samples and known losses in what was charged", "100 (good + samples + lost) / charged";
}

/// How a batch stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Standing {
    /// Nothing was entered yet.
    Started,
    /// Being made.
    Making,
    /// Every step is done or left out.
    Made,
    /// Signed off.
    SignedOff,
}

/// A batch.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BatchState {
    /// Identity.
    pub id: Id<Batch>,
    /// Code.
    pub code: String,
    /// Its trial.
    pub trial: Id<Trial>,
    /// Number of the trial.
    pub trial_number: u32,
    /// Its formula.
    pub formula: Id<Formula>,
    /// Name of the product.
    pub product: String,
    /// Version that is made.
    pub version: u32,
    /// Who started it.
    pub who: String,
    /// When.
    pub when: Timestamp,
    /// How it stands.
    pub standing: Standing,
    /// Remark.
    pub note: String,
    /// Version of the program and of the facts the plan rests on.
    pub made_with: [String; 2],
    /// Balances of the plan.
    pub balances: Vec<BalanceRecord>,
    /// Size it is made to now.
    #[serde(serialize_with = "result::<Size, _, _>")]
    pub size: Decimal,
    /// The next step, from 1; none when all are done or left out.
    pub next: Option<usize>,
    /// Steps in order.
    pub steps: Vec<StepState>,
    /// Lines in the order of the plan.
    pub lines: Vec<LineState>,
    /// What went in besides.
    pub added: Vec<AddedState>,
    /// Water that went off.
    pub water: WaterState,
    /// Yield and reconciliation; none before good product was weighed.
    pub balanced: Option<BalancedState>,
    /// What deviated, by the numbers of the entries.
    pub deviations: Vec<u32>,
    /// Everything that was entered, in the order it was kept.
    pub entries: Vec<EntryState>,
    /// Signatures.
    pub sign_offs: Vec<SignOffState>,
    /// Whether somebody other than the maker has looked at it, in a sentence; empty before anybody signed.
    pub seen_by: String,
    /// Somebody other than the maker has reviewed or released it, with a password.
    pub seen_by_another: bool,
    /// Samples that are kept.
    pub samples: Vec<SampleState>,
    /// What was read on its trial.
    pub readings: Vec<ReadingState>,
}

/// A step as it stands.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct StepState {
    /// Number, from 1.
    pub number: usize,
    /// What it is about.
    pub kind: StepKind,
    /// Phase.
    pub phase: String,
    /// What is done.
    pub text: String,
    /// Why it stands here.
    pub why: String,
    /// Number of the line to weigh.
    pub line: Option<usize>,
    /// Temperature to be reached, C, as planned.
    pub temperature_c: Option<Decimal>,
    /// Speed, rpm, as planned.
    pub speed_rpm: Option<Decimal>,
    /// How long, minutes, as planned.
    pub hold_min: Option<Decimal>,
    /// What to look at.
    pub checks: Vec<String>,
    /// What to heed.
    pub cautions: Vec<PlanCaution>,
    /// `open`, `started`, `done` or `skipped`.
    pub stands: &'static str,
    /// Why it was left out.
    pub skipped: String,
    /// When it was begun: its timer runs from here.
    pub started: Option<Timestamp>,
    /// When it was finished.
    pub finished: Option<Timestamp>,
    /// Where a portion of a line goes in: how it stands.
    pub portion: Option<PortionState>,
    /// What the procedure says of it; none in plans made from the phases alone.
    pub procedure: Option<PlanProcedure>,
}

/// A line as it stands.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LineState {
    /// Number, from 1.
    pub number: usize,
    /// Key of the raw material.
    pub material: String,
    /// Its name.
    pub name: String,
    /// Lot intended.
    pub lot: String,
    /// It is the q.s. line.
    pub remainder: bool,
    /// The pH it is added to, as typed in the formula.
    pub to_ph: Option<Decimal>,
    /// Of a line added to a pH: what goes in first.
    #[serde(serialize_with = "result::<First, _, _>")]
    pub first: Option<Decimal>,
    /// Target as it stands now.
    #[serde(serialize_with = "result::<Target, _, _>")]
    pub target: Decimal,
    /// Tolerance as it stands now.
    #[serde(serialize_with = "result::<Tolerance, _, _>")]
    pub tolerance: Decimal,
    /// What went in; none before anything did.
    #[serde(serialize_with = "result::<Actual, _, _>")]
    pub actual: Option<Decimal>,
    /// What is still to go in.
    #[serde(serialize_with = "result::<Missing, _, _>")]
    pub missing: Decimal,
    /// Share in the finished batch.
    pub percent: Outcome,
    /// What went in against the target, percent of it; none before it is in.
    #[serde(serialize_with = "result::<Deviation, _, _>")]
    pub deviation: Option<Decimal>,
    /// `open`, `short`, `within`, `over`.
    pub verdict: &'static str,
    /// Suspicion of a slip of the decimal sign; empty when none.
    pub slip: String,
    /// What was decided about too much of it.
    pub decided: Option<OverWay>,
    /// Ways out where too much is in and nothing is decided.
    pub ways: Vec<WayOut>,
    /// What is to be known of the lots taken.
    pub remarks: Vec<String>,
}

/// Something that went in besides.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct AddedState {
    /// Key of the raw material.
    pub material: String,
    /// How much.
    #[serde(serialize_with = "result::<Actual, _, _>")]
    pub actual: Decimal,
    /// Share in the finished batch.
    #[serde(serialize_with = "result::<Share, _, _>")]
    pub percent: Option<Decimal>,
}

/// Tare arithmetic.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct WaterState {
    /// The empty vessel.
    #[serde(serialize_with = "result::<Vessel, _, _>")]
    pub vessel: Option<Decimal>,
    /// What the full vessel should weigh now.
    #[serde(serialize_with = "result::<Should, _, _>")]
    pub should_weigh: Option<Decimal>,
    /// What went off until it was last weighed.
    #[serde(serialize_with = "result::<WentOff, _, _>")]
    pub went_off: Option<Decimal>,
    /// Water to give back now.
    #[serde(serialize_with = "result::<GiveBack, _, _>")]
    pub to_give_back: Option<Decimal>,
    /// Water given back so far.
    #[serde(serialize_with = "result::<Given, _, _>")]
    pub given_back: Decimal,
    /// What must be weighed before the rest can be told; empty when nothing.
    pub needs: String,
}

/// Yield and reconciliation.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BalancedState {
    /// What is in the vessel when nothing is taken out.
    #[serde(serialize_with = "result::<Charged, _, _>")]
    pub charged: Decimal,
    /// Good product.
    #[serde(serialize_with = "result::<Good, _, _>")]
    pub good: Decimal,
    /// Samples.
    #[serde(serialize_with = "result::<Samples, _, _>")]
    pub samples: Decimal,
    /// Known losses.
    #[serde(serialize_with = "result::<Lost, _, _>")]
    pub lost: Decimal,
    /// The rest.
    #[serde(serialize_with = "result::<Unexplained, _, _>")]
    pub unexplained: Decimal,
    /// Good product in what was charged.
    #[serde(serialize_with = "result::<Yield, _, _>")]
    pub r#yield: Option<Decimal>,
    /// Accounted for in what was charged.
    #[serde(serialize_with = "result::<Accounted, _, _>")]
    pub accounted: Option<Decimal>,
    /// What is to be looked for, in words; empty when nothing.
    pub remark: String,
}

/// A signature.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SignOffState {
    /// Identity.
    pub id: Id<SignOff>,
    /// Who.
    pub who: String,
    /// When.
    pub when: Timestamp,
    /// As what, in words.
    pub signed_as: &'static str,
    /// How the program knows who it was, in words.
    pub known_by: String,
    /// How many records it covers.
    pub records: usize,
    /// Hash over them.
    pub content_sha256: String,
    /// Versions of program and facts.
    pub made_with: [String; 2],
    /// Remark.
    pub note: String,
    /// Why the maker signs alone; empty where somebody else signs, or for having made it.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub alone: String,
    /// Entries kept after it.
    pub entries_after: usize,
    /// Samples, readings, observations and curves kept after it, corrections of earlier ones among them.
    pub others_after: usize,
}

/// A sample that is kept.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SampleState {
    /// Identity.
    pub id: Id<RetainedSample>,
    /// Number on the batch.
    pub number: u32,
    /// Who kept it.
    pub who: String,
    /// When.
    pub when: Timestamp,
    /// What struck it out.
    pub struck: Option<Struck>,
    /// What was kept.
    #[serde(flatten)]
    pub sample: RetainedSample,
}

/// A reading of the trial.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ReadingState {
    /// Identity.
    pub id: Id<Reading>,
    /// Number on the trial.
    pub number: u32,
    /// Who read it.
    pub who: String,
    /// When it was typed, else when it was kept.
    pub when: Timestamp,
    /// What struck it out.
    pub struck: Option<Struck>,
    /// What was kept.
    #[serde(flatten)]
    pub reading: Reading,
}

/// Lays a batch out as it stands on a day.
#[must_use]
pub fn batch_state(records: &BatchRecords, day: Date) -> BatchState {
    let (batch, plan) = (&records.batch, &records.batch.what.plan);
    let progress = Progress::of(plan, &records.entries);
    let on_balances = OnBalances::of(plan, &progress);
    let weighing = on_balances.weighing();
    let next = progress.next_step();
    let lines = (0..progress.lines.len())
        .map(|at| LineState {
            percent: share(&progress, weighing.as_ref(), at),
            ways: ways_out(plan, &progress, at),
            ..line_state(records, &progress.lines[at], day)
        })
        .collect();
    let deviations = entries_in_force(records)
        .filter(|entry| matches!(entry.what.did, Did::Deviation { .. }))
        .map(|entry| entry.number)
        .collect();
    let (seen_by, seen_by_another) = super::second_eyes::seen_by(records);
    BatchState {
        id: batch.id,
        code: batch.what.code.clone(),
        trial: records.trial.id,
        trial_number: records.trial.number,
        formula: records.trial.what.formula,
        product: plan.product.clone(),
        version: plan.version,
        who: batch.who.clone(),
        when: batch.when,
        standing: standing(records, next),
        note: batch.what.note.clone(),
        made_with: [batch.what.engine_version.clone(), batch.what.data_version.clone()],
        balances: plan.balances.clone(),
        size: progress.size_g,
        next,
        steps: plan.steps.iter().zip(&progress.steps).map(|(step, at)| step_state(step, at)).collect(),
        lines,
        added: added(&progress),
        water: water(&progress),
        balanced: Balanced::of(&progress).map(|balanced| balanced_state(&balanced)),
        deviations,
        entries: entry::entries(&records.entries),
        sign_offs: sign_offs(records),
        seen_by,
        seen_by_another,
        samples: samples(&records.samples),
        readings: readings(&records.readings),
    }
}

fn entries_in_force(records: &BatchRecords) -> impl Iterator<Item = &Kept<BatchEntry>> {
    crate::records::in_force(&records.entries).into_iter().filter(|entry| !entry.what.withdrawn)
}

fn standing(records: &BatchRecords, next: Option<usize>) -> Standing {
    match (records.sign_offs.is_empty(), records.entries.is_empty(), next) {
        (false, _, _) => Standing::SignedOff,
        (_, true, _) => Standing::Started,
        (_, _, None) => Standing::Made,
        _ => Standing::Making,
    }
}

fn line_state(records: &BatchRecords, line: &LineProgress, day: Date) -> LineState {
    let planned = &line.planned;
    let actual = line.actual_g();
    let nothing = line.portions.is_empty();
    let deviation = ((actual - line.target_g) * Decimal::ONE_HUNDRED)
        .checked_div(line.target_g)
        .map(|percent| percent.round_dp(4).normalize())
        .filter(|_| !nothing && line.is_in() && planned.to_ph.is_none());
    let verdict = match (nothing, line.over_g()) {
        (true, _) => "open",
        (_, Some(_)) => "over",
        _ if line.by_the_meter || line.is_in() => "within",
        _ => "short",
    };
    LineState {
        number: planned.number,
        material: planned.material.clone(),
        name: planned.name.clone(),
        lot: planned.lot.clone(),
        remainder: planned.remainder,
        to_ph: planned.to_ph,
        first: planned.first_g,
        target: line.target_g,
        tolerance: line.tolerance_g,
        actual: (!nothing).then_some(actual),
        missing: line.missing_g(),
        percent: Outcome::refuse("% w/w", "", "not computed"),
        deviation,
        verdict,
        slip: slip(line).unwrap_or_default(),
        decided: line.decided,
        ways: Vec::new(),
        remarks: remarks(records, planned.number, day),
    }
}

/// What is to be known of the lots that were taken for a line, and of weights that contradict themselves.
fn remarks(records: &BatchRecords, number: usize, day: Date) -> Vec<String> {
    let mut remarks = Vec::new();
    for entry in entries_in_force(records) {
        let Did::Weighed { line, material, lot, mass, .. } = &entry.what.did else {
            continue;
        };
        if *line != number {
            continue;
        }
        if let Some(difference) = mass.contradicts() {
            remarks.push(format!(
                "Entry {}: gross less tare is {difference} g, but {} {} net was typed; the net weight counts.",
                entry.number,
                mass.net.as_ref().map(|net| net.typed.as_str()).unwrap_or_default(),
                mass.unit
            ));
        }
        if let Some(lot) = lot {
            remarks.extend(lot_remark(records, material, lot, day));
        }
    }
    remarks
}

fn lot_remark(records: &BatchRecords, material: &str, lot: &LotNamed, day: Date) -> Option<String> {
    let Some(found) = lot_of(&records.lots, material, &lot.code) else {
        return Some(format!("Lot {} is not on file: enter it, so that it can be traced.", lot.code));
    };
    let status = records.statuses.get(&crate::workbench::lots::lot_root(&records.lots, found.id));
    let refused = status.filter(|status| !matches!(status, crate::records::Status::Released));
    let dates = dates(&found.what, day);
    match (refused, dates.is_empty()) {
        (Some(status), _) => Some(format!("Lot {} is {}.", lot.code, status.words())),
        (None, false) => Some(format!("Lot {}: {dates}", lot.code)),
        (None, true) => None,
    }
}

fn step_state(step: &PlanStep, at: &StepProgress) -> StepState {
    let (stands, skipped) = match &at.stands {
        Stands::Open => ("open", String::new()),
        Stands::Started => ("started", String::new()),
        Stands::Done => ("done", String::new()),
        Stands::Skipped(reason) => ("skipped", reason.clone()),
    };
    StepState {
        number: step.number,
        kind: step.kind,
        phase: step.phase.clone(),
        text: step.text.clone(),
        why: step.why.clone(),
        line: step.line.as_ref().map(|line| line.number),
        temperature_c: step.temperature_c,
        speed_rpm: step.speed_rpm,
        hold_min: step.hold_min,
        checks: step.checks.clone(),
        cautions: step.cautions.clone(),
        stands,
        skipped,
        started: at.started,
        finished: at.finished,
        portion: step.line.as_ref().and_then(|line| PortionState::of(line, at)),
        procedure: step.procedure.clone(),
    }
}

fn added(progress: &Progress) -> Vec<AddedState> {
    let all = finished_g(progress);
    let one = |added: &super::progress::AddedProgress| {
        let actual: Decimal = added.portions.iter().map(|portion| portion.grams).sum();
        let percent = (actual * Decimal::ONE_HUNDRED).checked_div(all).map(|it| it.round_dp(6).normalize());
        AddedState { material: added.material.clone(), actual, percent }
    };
    progress.added.iter().map(one).collect()
}

fn water(progress: &Progress) -> WaterState {
    let given_back: Decimal = progress.water.iter().map(|portion| portion.grams).sum();
    let needs = match (progress.vessel_g, &progress.gross) {
        (None, _) => "The empty vessel must be weighed.",
        (_, None) => "The vessel with the batch in it must be weighed.",
        _ => "",
    };
    WaterState {
        vessel: progress.vessel_g,
        should_weigh: progress
            .vessel_g
            .map(|vessel| vessel + progress.total_in_g() - given_back - progress.samples_g),
        went_off: progress.went_off_g(),
        to_give_back: progress.water_missing_g().map(|missing| missing.max(Decimal::ZERO)),
        given_back,
        needs: needs.to_owned(),
    }
}

fn balanced_state(balanced: &Balanced) -> BalancedState {
    let accounted = balanced.accounted_percent();
    let odd = accounted.filter(|accounted| *accounted < ACCOUNTED.0 || *accounted > ACCOUNTED.1);
    let short = |percent: Option<Decimal>| percent.map(|percent| percent.round_dp(4).normalize());
    BalancedState {
        charged: balanced.charged_g,
        good: balanced.good_g,
        samples: balanced.samples_g,
        lost: balanced.lost_g,
        unexplained: balanced.unexplained_g,
        r#yield: short(balanced.yield_percent()),
        accounted: short(accounted),
        remark: odd.map_or_else(String::new, |accounted| {
            format!(
                "{} % is accounted for, outside {} to {} %: look for the rest before the batch goes on.",
                accounted.round_dp(1),
                ACCOUNTED.0,
                ACCOUNTED.1
            )
        }),
    }
}

fn sign_offs(records: &BatchRecords) -> Vec<SignOffState> {
    let after = |signed: &Kept<SignOff>| {
        records.entries.iter().filter(|entry| entry.sequence > signed.what.through).count()
    };
    let others = |signed: &Kept<SignOff>| {
        let other = |(kind, at): &&(Kind, u64)| *kind != Kind::BatchEntry && *at > signed.what.through;
        records.places.iter().filter(other).count()
    };
    let one = |signed: &Kept<SignOff>| SignOffState {
        id: signed.id,
        who: signed.who.clone(),
        when: signed.when,
        signed_as: signed.what.signed_as.words(),
        known_by: signed.what.known_by.clone(),
        records: signed.what.records,
        content_sha256: signed.what.content_sha256.clone(),
        made_with: [signed.what.engine_version.clone(), signed.what.data_version.clone()],
        note: signed.what.note.clone(),
        alone: signed.what.alone.clone(),
        entries_after: after(signed),
        others_after: others(signed),
    };
    records.sign_offs.iter().map(one).collect()
}

fn readings(all: &[Kept<Reading>]) -> Vec<ReadingState> {
    let strikes = struck(all);
    let one = |reading: &Kept<Reading>| ReadingState {
        id: reading.id,
        number: reading.number,
        who: reading.who.clone(),
        when: reading.what.from.device_time.unwrap_or(reading.when),
        struck: strikes.get(&reading.id).cloned(),
        reading: reading.what.clone(),
    };
    all.iter().filter(|reading| !reading.what.withdrawn).map(one).collect()
}

fn samples(all: &[Kept<RetainedSample>]) -> Vec<SampleState> {
    let strikes = struck(all);
    let one = |sample: &Kept<RetainedSample>| SampleState {
        id: sample.id,
        number: sample.number,
        who: sample.who.clone(),
        when: sample.when,
        struck: strikes.get(&sample.id).cloned(),
        sample: sample.what.clone(),
    };
    all.iter().filter(|sample| !sample.what.withdrawn).map(one).collect()
}
