//! The batches of a workspace, and a batch taken up again: as what was really made, and as the next trial.

use super::composed::{LotOfLine, finished_g, sheet_as_weighed};
use super::progress::{Progress, in_order};
use super::{BatchRecords, TypedBalance, TypedBatch, lots_of_lines};
use crate::records::{Batch, BatchEntry, Did, Id, Kept, Lot, SignOff, Trial};
use crate::store::StoreError;
use crate::workbench::trials::TypedLotTaken;
use crate::workspace::Workspace;
use jiff::Timestamp;
use levigate_facts::Facts;
use levigate_formula::sheet::Sheet;
use rust_decimal::Decimal;
use serde::Serialize;

/// A batch in a list.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BatchCard {
    /// Identity.
    pub id: Id<Batch>,
    /// Code.
    pub code: String,
    /// Its trial.
    pub trial: Id<Trial>,
    /// Name of the product.
    pub product: String,
    /// Version that is made.
    pub version: u32,
    /// Size of the plan, g.
    pub size_g: Decimal,
    /// Who started it.
    pub who: String,
    /// When.
    pub when: Timestamp,
    /// Steps done or left out, of all.
    pub steps: [usize; 2],
    /// Signed as, in words; empty when it is not signed off.
    pub signed: String,
}

/// The newest batches, the newest first.
///
/// # Errors
/// The workspace cannot be read.
pub async fn batches(workspace: &Workspace, most: u32) -> Result<Vec<BatchCard>, StoreError> {
    let mut cards = Vec::new();
    for batch in workspace.newest::<Batch>(most).await? {
        let entries: Vec<Kept<BatchEntry>> = workspace.of(batch.id).await?;
        let signed: Vec<Kept<SignOff>> = workspace.of(batch.id).await?;
        let progress = Progress::of(&batch.what.plan, &entries);
        let open = progress
            .steps
            .iter()
            .filter(|step| matches!(step.stands, super::Stands::Open | super::Stands::Started))
            .count();
        let all = progress.steps.len();
        cards.push(BatchCard {
            id: batch.id,
            trial: batch.what.trial,
            product: batch.what.plan.product.clone(),
            version: batch.what.plan.version,
            size_g: batch.what.plan.size_g,
            who: batch.who.clone(),
            when: batch.when,
            steps: [all - open, all],
            signed: signed.last().map(|last| last.what.signed_as.words().to_owned()).unwrap_or_default(),
            code: batch.what.code,
        });
    }
    Ok(cards)
}

/// What was made on a trial: where its batch stands, and the lots that were taken.
#[derive(Clone, Debug)]
pub struct BatchMade {
    /// Code of the batch.
    pub code: String,
    /// Where it stands.
    pub progress: Progress,
    /// The lots that were taken, line by line.
    pub lots: Vec<LotOfLine>,
}

impl BatchMade {
    /// Follows a batch through its entries.
    #[must_use]
    pub fn of(facts: &Facts, batch: &Batch, entries: &[Kept<BatchEntry>], lots: &[Kept<Lot>]) -> Self {
        Self {
            code: batch.code.clone(),
            progress: Progress::of(&batch.plan, entries),
            lots: lots_of_lines(facts, entries, lots),
        }
    }

    /// The formula that was really made; none before every line is in.
    #[must_use]
    pub fn sheet(&self, of: &Sheet) -> Option<Sheet> {
        let in_it =
            |line: &super::LineProgress| !line.portions.is_empty() && line.to_come_g() == Decimal::ZERO;
        if !self.progress.lines.iter().all(in_it) {
            return None;
        }
        sheet_as_weighed(of, &self.progress, &self.lots)
    }

    /// Water that went off and was not given back, percent of everything that went in; nothing where the vessel was not weighed empty and full.
    #[must_use]
    pub fn water_lost_percent(&self) -> Decimal {
        let missing = self.progress.water_missing_g().unwrap_or_default();
        let all = finished_g(&self.progress) + missing;
        let percent = missing.checked_mul(Decimal::ONE_HUNDRED).and_then(|part| part.checked_div(all));
        percent.map_or(Decimal::ZERO, |percent| percent.round_dp(4).clamp(Decimal::ZERO, Decimal::from(50)))
    }
}

/// A batch with what was done on it, struck entries too.
pub type BatchFilled = (Kept<Batch>, Vec<Kept<BatchEntry>>);

/// The batch of a trial with its entries; none where the trial has none.
///
/// # Errors
/// The workspace cannot be read.
pub async fn made_on(workspace: &Workspace, trial: Id<Trial>) -> Result<Option<BatchFilled>, StoreError> {
    let found: Vec<Kept<Batch>> = workspace.belonging_to(trial).await?;
    let Some(batch) = found.into_iter().next() else { return Ok(None) };
    let entries = workspace.of(batch.id).await?;
    Ok(Some((batch, entries)))
}

/// The next batch after this one: the same version, size, balances and the lots that were really taken, going on from its trial. What
/// is changed is the person's to say.
#[must_use]
pub fn next_of(records: &BatchRecords) -> TypedBatch {
    let (trial, plan) = (&records.trial.what, &records.batch.what.plan);
    let mut lots: Vec<TypedLotTaken> =
        trial.lots.iter().map(|taken| TypedLotTaken { line: taken.line, code: taken.code.clone() }).collect();
    for one in in_order(&records.entries) {
        if let Did::Weighed { line, lot: Some(lot), .. } = &one.entry.what.did {
            let at = line.saturating_sub(1);
            lots.retain(|taken| taken.line != at);
            lots.push(TypedLotTaken { line: at, code: lot.code.clone() });
        }
    }
    lots.sort_by_key(|taken| taken.line);
    TypedBatch {
        version: trial.version,
        parent: records.trial.id.to_string(),
        size: plan.size_g.to_string(),
        unit: "g".to_owned(),
        process: trial.process.clone(),
        lots,
        balances: plan
            .balances
            .iter()
            .map(|balance| TypedBalance {
                name: balance.name.clone().unwrap_or_default(),
                readability_g: balance.readability_g.to_string(),
                repeatability_g: balance.repeatability_g.map(|it| it.to_string()).unwrap_or_default(),
            })
            .collect(),
        ..TypedBatch::default()
    }
}
