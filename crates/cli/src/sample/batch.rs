//! One finished batch of the sample workspace, invented like the rest: made from its plan, with a slip that was taken back, a
//! deviation, water given back, a signature and a sample that is kept.

use super::STUDIO;
use jiff::civil::Date;
use jiff::tz::Offset;
use jiff::{SignedDuration, Timestamp};
use levigate_facts::Facts;
use levigate_formula::sheet::StepKind as Does;
use levigate_project::people::Hand;
use levigate_project::records::{Batch, BatchEntry, Formula, Id, Kept, Plan, StepKind};
use levigate_project::store::StoreError;
use levigate_project::workbench::batch::{
    TypedBalance, TypedBatch, TypedEntry, TypedSample, TypedSignOff, TypedUndo, keep_entry, keep_sample,
    sign_off, start_batch, undo,
};
use levigate_project::workbench::keeping::KeepError;
use levigate_project::workbench::people::Signature;
use levigate_project::workbench::trials::TypedLotTaken;
use levigate_project::workspace::Workspace;
use rust_decimal::Decimal;

/// Code of the batch.
pub(crate) const CODE: &str = "QL-2611-04";
/// The line of the zinc salt, from 1, and its lot.
const ZINC: (usize, &str) = (6, "ZP-2608-02");
/// The empty beaker with its stirrer, g.
const BEAKER: Decimal = Decimal::from_parts(35_240, 0, 0, false, 2);
/// Minutes the making took: the batch was begun so long before the workspace.
const MINUTES: i64 = 180;

/// The bench on that day.
struct Bench<'a> {
    workspace: &'a Workspace,
    facts: &'a Facts,
    day: Date,
    batch: Id<Batch>,
    /// The clock of the device.
    at: Timestamp,
}

impl Bench<'_> {
    /// Enters something a few minutes after what was entered before.
    async fn enter(&mut self, minutes: i64, typed: TypedEntry) -> Result<Kept<BatchEntry>, StoreError> {
        self.at = later(self.at, minutes);
        let id: Id<BatchEntry> = Id::new(self.at, self.workspace.dice())?;
        let typed = TypedEntry { id: id.to_string(), at: self.at.to_string(), ..typed };
        let by = (STUDIO, self.day);
        let kept = keep_entry(self.workspace, self.facts, by, self.batch, (&typed, None)).await;
        kept.map(|once| once.kept).map_err(store_error)
    }
}

fn later(at: Timestamp, minutes: i64) -> Timestamp {
    at.checked_add(SignedDuration::from_mins(minutes)).unwrap_or(at)
}

/// A sample that is not fit to be kept is a mistake in this file; the tests would tell.
fn store_error(error: KeepError) -> StoreError {
    match error {
        KeepError::Store(error) => error,
        KeepError::Typed(_) => StoreError::Medium { doing: "make the sample", what: error.to_string() },
    }
}

fn entry(did: &str, step: usize) -> TypedEntry {
    TypedEntry { did: did.to_owned(), step, ..TypedEntry::default() }
}

fn on_the_balance(did: &str, net: Decimal) -> TypedEntry {
    TypedEntry { net: net.to_string(), instrument: "bench balance".to_owned(), ..entry(did, 0) }
}

/// Makes the batch.
pub(super) async fn make(
    workspace: &Workspace,
    facts: &Facts,
    formula: Id<Formula>,
) -> Result<(), StoreError> {
    let now = workspace.clock().now();
    let day = Offset::UTC.to_datetime(now).date();
    let typed = TypedBatch {
        version: 1,
        size: "200".to_owned(),
        code: CODE.to_owned(),
        process: "As planned; gum wetted first, anchor at 200 rpm".to_owned(),
        lots: vec![TypedLotTaken { line: ZINC.0 - 1, code: ZINC.1.to_owned() }],
        balances: vec![TypedBalance {
            name: "bench balance".to_owned(),
            readability_g: "0.01".to_owned(),
            repeatability_g: String::new(),
        }],
        ..TypedBatch::default()
    };
    let started = start_batch(workspace, facts, (STUDIO, day), formula, &typed).await.map_err(store_error)?;
    let plan = workspace.get(started.id).await?.what.plan;
    let at = later(now, -MINUTES);
    let mut bench = Bench { workspace, facts, day, batch: started.id, at };
    follow(&mut bench, &plan).await?;
    finish(&mut bench).await
}

/// Goes through the plan.
async fn follow(bench: &mut Bench<'_>, plan: &Plan) -> Result<(), StoreError> {
    let vessel = TypedEntry { gross: BEAKER.to_string(), ..on_the_balance("vessel", Decimal::ZERO) };
    bench.enter(0, TypedEntry { net: String::new(), ..vessel }).await?;
    let mut charged = Decimal::ZERO;
    for (at, step) in plan.steps.iter().enumerate() {
        let Some(line) = &step.line else {
            if step.kind == StepKind::MakeUp || step.kind == StepKind::Check {
                continue;
            }
            let rests = step.procedure.as_ref().is_some_and(|own| own.does == Does::DeAir);
            if rests {
                bench.enter(2, entry("started", step.number)).await?;
                bench.enter(20, entry("finished", step.number)).await?;
                continue;
            }
            bench.enter(2, entry("started", step.number)).await?;
            bench.enter(1, TypedEntry { value: "200".to_owned(), ..entry("speed", step.number) }).await?;
            bench
                .enter(9, TypedEntry { value: "24.5".to_owned(), ..entry("temperature", step.number) })
                .await?;
            bench.enter(8, entry("finished", step.number)).await?;
            continue;
        };
        let of_line = |did: &str, net: Decimal| TypedEntry {
            step: step.number,
            line: line.number,
            lot: if line.number == ZINC.0 { ZINC.1.to_owned() } else { String::new() },
            ..on_the_balance(did, net)
        };
        if line.number == ZINC.0 {
            // The sign slipped; it was seen at once.
            let slip = bench.enter(2, of_line("weighed", line.grams * Decimal::TEN)).await?;
            bench.at = later(bench.at, 1);
            let id: Id<BatchEntry> = Id::new(bench.at, bench.workspace.dice())?;
            let taken_back = TypedUndo {
                id: id.to_string(),
                entry: slip.id.to_string(),
                at: bench.at.to_string(),
                reason: "decimal sign slipped when typing; the boat held the right amount".to_owned(),
            };
            undo(bench.workspace, STUDIO, bench.batch, &taken_back).await.map_err(store_error)?;
        }
        let net = match line.first_g.filter(|first| *first > Decimal::ZERO) {
            // Most of the base at once, a little after the meter.
            Some(first) => {
                bench.enter(2, of_line("weighed", first)).await?;
                let rest = (line.grams - first).max(Decimal::new(1, 2));
                bench.enter(4, of_line("weighed", rest)).await?;
                bench.enter(2, entry("finished", step.number)).await?;
                first + rest
            }
            // A hundredth to either side where the line bears it.
            None => {
                let off = if line.tolerance_g >= Decimal::new(2, 2) { at % 3 } else { 1 };
                let net = line.grams + Decimal::new(1, 2) - Decimal::new(i64::try_from(off).unwrap_or(1), 2);
                bench.enter(2, of_line("weighed", net)).await?;
                if step.kind == StepKind::Adjust {
                    bench.enter(2, entry("finished", step.number)).await?;
                }
                net
            }
        };
        charged += net;
    }
    let deviation = TypedEntry {
        text: "Gum stirred 45 min instead of 30".to_owned(),
        reason: "a few soft lumps were left".to_owned(),
        decision: "Clear after that; goes on".to_owned(),
        ..entry("deviation", 0)
    };
    bench.enter(5, deviation).await?;
    // A gram and a bit went off; it is given back.
    let off = Decimal::new(118, 2);
    let gross = TypedEntry { gross: (BEAKER + charged - off).to_string(), ..on_the_balance("gross", off) };
    bench.enter(4, TypedEntry { net: String::new(), ..gross }).await?;
    bench.enter(3, on_the_balance("water", off)).await?;
    if let Some(check) = plan.steps.iter().find(|step| step.kind == StepKind::Check) {
        let looked = TypedEntry {
            text: "appearance".to_owned(),
            decision: "slight haze, as in the first trial".to_owned(),
            ..entry("checked", check.number)
        };
        bench.enter(6, looked).await?;
        bench.enter(1, entry("finished", check.number)).await?;
    }
    Ok(())
}

/// Weighs it out, signs and keeps a sample.
async fn finish(bench: &mut Bench<'_>) -> Result<(), StoreError> {
    let sample = TypedEntry {
        text: "for pH and viscosity".to_owned(),
        ..on_the_balance("sample", Decimal::new(600, 2))
    };
    bench.enter(2, sample).await?;
    bench.enter(8, on_the_balance("output", Decimal::new(19_085, 2))).await?;
    let lost =
        TypedEntry { text: "beaker and anchor".to_owned(), ..on_the_balance("lost", Decimal::new(210, 2)) };
    bench.enter(2, lost).await?;
    let kept = TypedSample {
        label: format!("{CODE} retained"),
        net: "30".to_owned(),
        container: "glass jar".to_owned(),
        location: "sample shelf 2".to_owned(),
        ..TypedSample::default()
    };
    keep_sample(bench.workspace, STUDIO, bench.batch, &kept).await.map_err(store_error)?;
    let signed =
        TypedSignOff { note: "Invented, like everything here".to_owned(), ..TypedSignOff::default() };
    let signature = Signature::of(&Hand::initialled(STUDIO), bench.workspace.clock().now());
    sign_off(bench.workspace, bench.facts, &signature, bench.batch, &signed).await.map_err(store_error)?;
    Ok(())
}
