//! Lots on the shelf: whether they may be used, how much is left, and which one to take first.

mod deciding;
mod moving;
mod one_lot;
mod standing;

pub use deciding::{TypedStatus, decide_lot, may_decide};
pub use moving::{TypedMovement, move_stock, take_back_movement};
pub use one_lot::{Decision, HeldIn, LedgerLine, LotStock, Moved, Movement, Used, lot_stock};
pub use standing::{ShelfLot, shelf_lots};

use super::keeping::{Form, KeepError, short};
use super::lots::{dates, lot_keys, lot_of, lot_root};
use crate::records::{
    AgainstSpecification, Id, Kept, Lot, LotStatus, Status, StockMovement, TypedMass, WEIGHT_UNITS, in_force,
};
use crate::store::StoreError;
use crate::workspace::Workspace;
use jiff::civil::Date;
use levigate_facts::Facts;
use levigate_measure::{Grade, Outcome};
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;
use serde::Serialize;
use std::collections::BTreeMap;

/// What was decided last about each lot, by its first entry. A lot nobody decided about is not in it.
///
/// # Errors
/// The workspace cannot be read.
pub async fn statuses(workspace: &Workspace) -> Result<BTreeMap<Id<Lot>, Status>, StoreError> {
    let decided: Vec<Kept<LotStatus>> = workspace.latest().await?;
    Ok(decided.into_iter().map(|kept| (kept.what.lot, kept.what.status)).collect())
}

pub(super) fn unit(form: &mut Form, typed: &str) -> String {
    let unit = Some(typed.trim()).filter(|unit| !unit.is_empty()).unwrap_or("g");
    if !WEIGHT_UNITS.iter().any(|(known, _)| *known == unit) {
        let what = format!("\"{}\" is not a unit of weight here", short(unit));
        form.fault("unit", &what, "a balance shows mass", "choose mg, g or kg");
    }
    unit.to_owned()
}

/// The first entry of a lot.
pub(super) async fn root_of(workspace: &Workspace, id: Id<Lot>) -> Result<Id<Lot>, StoreError> {
    let mut lot = workspace.get(id).await?;
    while let Some(correction) = &lot.corrects {
        lot = workspace.get(correction.supersedes).await?;
    }
    Ok(lot.id)
}

/// Everything the workspace holds that decides what is left of its lots.
#[derive(Clone, Debug)]
pub struct Stock {
    /// All lots.
    pub lots: Vec<Kept<Lot>>,
    /// What was decided last, by first entry.
    pub statuses: BTreeMap<Id<Lot>, Status>,
    /// Place of that decision in the log.
    decided: BTreeMap<Id<Lot>, u64>,
    moved: BTreeMap<Id<Lot>, Vec<Kept<StockMovement>>>,
    used: BTreeMap<String, i64>,
}

/// Reads it.
///
/// # Errors
/// The workspace cannot be read.
pub async fn gather_stock(workspace: &Workspace) -> Result<Stock, StoreError> {
    let mut moved: BTreeMap<Id<Lot>, Vec<Kept<StockMovement>>> = BTreeMap::new();
    for movement in workspace.all::<StockMovement>().await? {
        moved.entry(movement.what.lot).or_default().push(movement);
    }
    let decided: Vec<Kept<LotStatus>> = workspace.latest().await?;
    Ok(Stock {
        lots: workspace.all().await?,
        statuses: decided.iter().map(|kept| (kept.what.lot, kept.what.status)).collect(),
        decided: decided.iter().map(|kept| (kept.what.lot, kept.sequence)).collect(),
        moved,
        used: workspace.store().used().await?,
    })
}

impl Stock {
    /// What is left of a lot, g: received, and what was moved by hand, less what batches took. None where it is not known how much
    /// was received.
    #[must_use]
    pub fn left_g(&self, lot: &Kept<Lot>) -> Option<Decimal> {
        let root = lot_root(&self.lots, lot.id);
        let received = lot.what.quantity.as_ref()?.net_g()?;
        Some(received + self.moved_g(root) - self.used_g(lot))
    }

    fn moved_g(&self, root: Id<Lot>) -> Decimal {
        let movements = self.moved.get(&root).map(Vec::as_slice).unwrap_or_default();
        in_force(movements)
            .into_iter()
            .map(|movement| {
                let grams = movement.what.mass.net_g().unwrap_or_default();
                if movement.what.taken { -grams } else { grams }
            })
            .sum()
    }

    /// What batches took, g, before the lot was on file too.
    fn used_g(&self, lot: &Kept<Lot>) -> Decimal {
        let used = |key: &String| Decimal::new(self.used.get(key).copied().unwrap_or_default(), 6);
        lot_keys(&self.lots, lot).iter().map(used).sum::<Decimal>().normalize()
    }

    /// The same with what it came from.
    #[must_use]
    pub fn left(&self, lot: &Kept<Lot>) -> Outcome {
        let method = "received, and what was moved by hand, less what batches took";
        let root = lot_root(&self.lots, lot.id);
        let plain = |grams: Decimal| grams.to_f64().unwrap_or(f64::NAN);
        match (self.left_g(lot), lot.what.quantity.as_ref().and_then(TypedMass::net_g)) {
            (Some(left), Some(received)) => Outcome::new(plain(left), "g", Grade::Computed, method)
                .by("left = received + moved - used")
                .proved_by("exact decimal")
                .input("received", plain(received), "g", None)
                .input("moved by hand", plain(self.moved_g(root)), "g", None)
                .input("used in batches", plain(self.used_g(lot)), "g", None),
            _ => Outcome::refuse("g", method, "it is not on file how much was received"),
        }
    }

    /// Why a lot should not be taken on a day for so many grams; empty when nothing speaks against it.
    #[must_use]
    pub fn against(&self, lot: &Kept<Lot>, day: Date, grams: Decimal) -> Vec<String> {
        let mut against = Vec::new();
        let root = lot_root(&self.lots, lot.id);
        match self.statuses.get(&root) {
            // Whoever released it has seen another expiry, assay or certificate.
            Some(Status::Released) if self.decided.get(&root).is_some_and(|at| *at < lot.sequence) => {
                against.push("What is on file about it was corrected after it was released.".to_owned());
            }
            None | Some(Status::Released) => {}
            Some(status) => against.push(format!("It is {}.", status.words())),
        }
        let dates = dates(&lot.what, day);
        if !dates.is_empty() {
            against.push(dates);
        }
        if let Some(left) = self.left_g(lot).filter(|left| *left < grams) {
            against.push(format!("{left} g are left of it, {grams} g are needed."));
        }
        for value in &lot.what.certificate {
            let stands = match value.against() {
                AgainstSpecification::Below => "below the least",
                AgainstSpecification::Above => "above the most",
                _ => continue,
            };
            against.push(format!(
                "{} {} {} is {stands} the specification allows.",
                value.name, value.value.typed, value.unit
            ));
        }
        against
    }

    /// The lots of a raw material, the one to take first in front: usable ones by the day they expire, those without a day last, then
    /// those something speaks against.
    #[must_use]
    pub fn first_expired_first(&self, material: &str, day: Date, grams: Decimal) -> Vec<Suggested> {
        let day_of = |lot: &Kept<Lot>| lot.what.expiry.or(lot.what.retest);
        let mut lots: Vec<(&Kept<Lot>, Vec<String>)> = in_force(&self.lots)
            .into_iter()
            .filter(|lot| lot.what.material == material)
            .map(|lot| (lot, self.against(lot, day, grams)))
            .collect();
        lots.sort_by_key(|(lot, against)| turn(lot, against.is_empty()));
        lots.into_iter()
            .map(|(lot, against)| (lot, day_of(lot), against))
            .map(|(lot, expiry, against)| Suggested {
                id: lot.id,
                code: lot.what.code.clone(),
                assay: lot.what.assay_percent.as_ref().map(|it| it.typed.clone()).unwrap_or_default(),
                expiry,
                location: lot.what.location.clone(),
                left: self.left(lot),
                why: why(expiry, &against),
                usable: against.is_empty(),
                against,
                target: None,
            })
            .collect()
    }
}

/// By what the lots of a raw material stand in a row: the one to take first in front.
fn turn(lot: &Kept<Lot>, usable: bool) -> (bool, bool, Option<Date>, u32) {
    let day = lot.what.expiry.or(lot.what.retest);
    (!usable, day.is_none(), day, lot.number)
}

fn why(expiry: Option<Date>, against: &[String]) -> String {
    match (against.is_empty(), expiry) {
        (false, _) => "Something speaks against it.".to_owned(),
        (true, Some(day)) => format!("Of those that can be taken, by its day: {day}."),
        (true, None) => {
            "It has no day of expiry on file, so it comes last of those that can be taken.".to_owned()
        }
    }
}

/// A lot that could be taken.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Suggested {
    /// Its entry in force.
    pub id: Id<Lot>,
    /// Code.
    pub code: String,
    /// Assay as typed; empty when not on file.
    pub assay: String,
    /// The day it expires, or is to be tested again.
    pub expiry: Option<Date>,
    /// Where it stands.
    pub location: String,
    /// What is left of it.
    pub left: Outcome,
    /// Nothing speaks against it.
    pub usable: bool,
    /// Why it stands here.
    pub why: String,
    /// What speaks against it.
    pub against: Vec<String>,
    /// Of a line: what should be weighed of it; none where its assay changes nothing.
    pub target: Option<Outcome>,
}

/// The lots that could be taken for a line of a batch, the one to take first in front, each with what should then be weighed.
///
/// # Errors
/// There is no such batch or line, or the workspace cannot be read.
pub async fn lots_for_line(
    workspace: &Workspace,
    facts: &Facts,
    day: Date,
    records: &super::batch::BatchRecords,
    line: usize,
) -> Result<Vec<Suggested>, KeepError> {
    let progress = super::batch::Progress::of(&records.batch.what.plan, &records.entries);
    let Some(of) = progress.lines.iter().find(|of| of.planned.number == line) else {
        let fault = super::keeping::FieldFault::new(
            "line",
            &format!("the plan has no line {line}"),
            "a lot is taken for a line",
            "open the batch again",
        );
        return Err(fault.into());
    };
    let stock = gather_stock(workspace).await?;
    suggested(workspace, facts, day, records, (&stock, of)).await
}

/// The same for every line, by its number, with one look at the stock.
///
/// # Errors
/// The workspace cannot be read.
pub async fn lots_for_lines(
    workspace: &Workspace,
    facts: &Facts,
    day: Date,
    records: &super::batch::BatchRecords,
) -> Result<BTreeMap<usize, Vec<Suggested>>, KeepError> {
    let progress = super::batch::Progress::of(&records.batch.what.plan, &records.entries);
    let stock = gather_stock(workspace).await?;
    let mut lots = BTreeMap::new();
    for of in &progress.lines {
        let found = suggested(workspace, facts, day, records, (&stock, of)).await?;
        lots.insert(of.planned.number, found);
    }
    Ok(lots)
}

async fn suggested(
    workspace: &Workspace,
    facts: &Facts,
    day: Date,
    records: &super::batch::BatchRecords,
    (stock, of): (&Stock, &super::batch::LineProgress),
) -> Result<Vec<Suggested>, KeepError> {
    let line = of.planned.number;
    let mut suggested = stock.first_expired_first(&of.planned.material, day, of.missing_g());
    for one in &mut suggested {
        let target = super::batch::target_with_lot(workspace, facts, day, records, line, &one.code).await?;
        one.target = target.map(|grams| {
            let assay = lot_of(&records.lots, &of.planned.material, &one.code)
                .and_then(|lot| lot.what.assay_percent.as_ref().map(|it| it.typed.clone()));
            Outcome::new(
                grams.to_f64().unwrap_or(f64::NAN),
                "g",
                Grade::Computed,
                "the plan made anew with the assay of this lot, in a batch of the planned size",
            )
            .proved_by("tests/published/weighing.toml")
            .input_text("assay", assay.unwrap_or_default())
            .input("without it", of.planned.grams.to_f64().unwrap_or(f64::NAN), "g", None)
        });
    }
    Ok(suggested)
}
