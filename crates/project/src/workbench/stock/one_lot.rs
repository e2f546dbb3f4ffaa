//! One lot with all that happened to it: decisions, what came and went as a ledger, and the batches that hold it.

use super::{Stock, gather_stock};
use crate::records::{
    AgainstSpecification, Batch, Id, Kept, Lot, LotStatus, Status, StockMovement, TypedMass, in_force,
};
use crate::store::{StoreError, TracedUse};
use crate::workbench::keeping::{Struck, struck};
use crate::workbench::lots::{LotCard, card_of, lot_root};
use crate::workspace::Workspace;
use jiff::Timestamp;
use jiff::civil::Date;
use levigate_facts::Facts;
use levigate_measure::{Grade, Outcome};
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;
use serde::Serialize;
use std::collections::BTreeMap;
use uuid::Uuid;

/// A lot with its stock.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LotStock {
    /// The lot.
    #[serde(flatten)]
    pub card: LotCard,
    /// What was decided last; none before anything was.
    pub status: Option<Status>,
    /// What is left.
    pub left: Outcome,
    /// When it expires or is to be tested again, told from the day; empty where no day is on file.
    pub until: String,
    /// How each value of the certificate stands to the specification.
    pub specification: Vec<AgainstSpecification>,
    /// What speaks against taking it.
    pub against: Vec<String>,
    /// Decisions, in order.
    pub decisions: Vec<Decision>,
    /// What was moved by hand, in order.
    pub movements: Vec<Movement>,
    /// Batches that took of it, in order.
    pub uses: Vec<Used>,
    /// All that came and went, with what was left after it.
    pub ledger: Vec<LedgerLine>,
    /// The batches that hold it, each once, in the order they first took of it.
    pub held_in: Vec<HeldIn>,
}

/// A decision about a lot.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Decision {
    /// Status.
    pub status: Status,
    /// Why.
    pub reason: String,
    /// Who.
    pub who: String,
    /// How it is known who that was, in words.
    pub known_by: &'static str,
    /// When.
    pub when: Timestamp,
}

/// A movement.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Movement {
    /// Identity.
    pub id: Id<StockMovement>,
    /// Who.
    pub who: String,
    /// When.
    pub when: Timestamp,
    /// What struck it out.
    pub struck: Option<Struck>,
    /// What was kept.
    #[serde(flatten)]
    pub movement: StockMovement,
}

/// A use of a lot.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Used {
    /// Batch.
    pub batch: String,
    /// Its code.
    pub code: String,
    /// How much.
    pub grams: Outcome,
    /// Who entered it.
    pub who: String,
    /// When.
    pub when: Timestamp,
    /// The entry was struck out.
    pub struck: bool,
}

impl From<TracedUse> for Used {
    fn from(found: TracedUse) -> Self {
        let method = "net weight of the entry";
        Self {
            batch: found.batch.to_string(),
            code: found.code,
            grams: grams(found.used.grams(), method),
            who: found.who,
            when: found.when,
            struck: found.struck,
        }
    }
}

/// By what a line of the ledger came about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Moved {
    /// It came into the house.
    Received,
    /// It was put to the lot or taken from it by hand.
    ByHand,
    /// A batch took of it.
    Batch,
}

/// A line of the ledger.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LedgerLine {
    /// By what it came about.
    pub moved: Moved,
    /// The movement, of one by hand.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub id: Option<Id<StockMovement>>,
    /// The batch, where one took of it.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub batch: String,
    /// Code of that batch.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub code: String,
    /// When it was written down.
    pub when: Timestamp,
    /// The day it is about, where another is on file: that of the receipt.
    pub day: Option<Date>,
    /// Who wrote it down.
    pub who: String,
    /// How much came; with a minus, went.
    pub grams: Outcome,
    /// What was left after it; of a struck line, as if it had not been.
    pub left: Outcome,
    /// Why.
    pub reason: String,
    /// Remark.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub note: String,
    /// It counts; otherwise it was struck out and stays to be seen.
    pub counts: bool,
    /// What struck it out, where that is a record about the lot; a use is struck on its batch.
    pub struck: Option<Struck>,
    #[serde(skip)]
    by: Decimal,
}

/// A batch that holds a lot.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct HeldIn {
    /// The batch.
    pub batch: String,
    /// Its code.
    pub code: String,
    /// Name of the product.
    pub product: String,
    /// How much of the lot it holds.
    pub grams: Outcome,
    /// Some of the lot is in it; otherwise all uses were struck out.
    pub holds: bool,
}

fn grams(of: Decimal, method: &'static str) -> Outcome {
    Outcome::new(of.to_f64().unwrap_or(f64::NAN), "g", Grade::Computed, method).proved_by("exact decimal")
}

/// A lot with its stock and all that happened to it.
///
/// # Errors
/// There is no such lot, or the workspace cannot be read.
pub async fn lot_stock(
    workspace: &Workspace,
    facts: &Facts,
    day: Date,
    id: Id<Lot>,
) -> Result<LotStock, StoreError> {
    let stock = gather_stock(workspace).await?;
    let lot = workspace.get(id).await?;
    let root = lot_root(&stock.lots, id);
    let decided: Vec<Kept<LotStatus>> = workspace.of(root).await?;
    let movements: Vec<Kept<StockMovement>> = workspace.of(root).await?;
    let uses = crate::workbench::trace::uses(workspace, &stock.lots, &lot).await?;
    let ledger = ledger(&stock, root, &movements, &uses);
    let held_in = held_in(workspace, &uses).await?;
    let strikes = struck(&movements);
    Ok(LotStock {
        card: card_of(facts, day, &stock.lots, &lot),
        status: decided.last().map(|last| last.what.status),
        left: stock.left(&lot),
        until: super::standing::until(&lot.what, day),
        specification: lot.what.certificate.iter().map(crate::records::CoaValue::against).collect(),
        against: stock.against(&lot, day, Decimal::ZERO),
        decisions: decided
            .into_iter()
            .map(|kept| Decision {
                status: kept.what.status,
                reason: kept.what.reason,
                who: kept.who,
                known_by: kept.how.words(),
                when: kept.when,
            })
            .collect(),
        movements: movements
            .into_iter()
            .map(|kept| Movement {
                id: kept.id,
                who: kept.who,
                when: kept.when,
                struck: strikes.get(&kept.id).cloned(),
                movement: kept.what,
            })
            .collect(),
        uses: uses.into_iter().map(Used::from).collect(),
        ledger,
        held_in,
    })
}

/// All that came and went: the receipt first, then in the order it was written down.
fn ledger(
    stock: &Stock,
    root: Id<Lot>,
    movements: &[Kept<StockMovement>],
    uses: &[TracedUse],
) -> Vec<LedgerLine> {
    let strikes = struck(movements);
    // What only takes another movement back is told on the line it strikes.
    let by_hand = movements
        .iter()
        .filter(|kept| {
            kept.corrects.is_none() || kept.what.mass.net_g().is_some_and(|net| net != Decimal::ZERO)
        })
        .map(|kept| {
            let net = kept.what.mass.net_g().unwrap_or_default();
            let by = if kept.what.taken { -net } else { net };
            let strike = strikes.get(&kept.id).cloned();
            LedgerLine {
                id: Some(kept.id),
                reason: kept.what.reason.clone(),
                note: kept.what.note.clone(),
                counts: strike.is_none(),
                struck: strike,
                ..line(Moved::ByHand, (kept.when, &kept.who), by, "as typed")
            }
        });
    let by_batches = uses.iter().map(|used| LedgerLine {
        batch: used.batch.to_string(),
        code: used.code.clone(),
        counts: !used.struck,
        ..line(Moved::Batch, (used.when, &used.who), -used.used.grams(), "net weight of the entry")
    });
    let mut after: Vec<LedgerLine> = by_hand.chain(by_batches).collect();
    after.sort_by_key(|line| line.when);
    let mut lines = receipts(&stock.lots, root);
    lines.append(&mut after);
    let mut left: Option<Decimal> = None;
    for line in &mut lines {
        if line.counts {
            left = match line.moved {
                Moved::Received => Some(line.by),
                _ => left.map(|left| left + line.by),
            };
        }
        let method = "received, and what was moved by hand, less what batches took, up to this line";
        line.left = match left {
            Some(left) => grams(left, method).by("left = received + moved - used"),
            None => Outcome::refuse("g", method, "it is not on file how much was received"),
        };
    }
    lines
}

fn line(moved: Moved, (when, who): (Timestamp, &str), by: Decimal, method: &'static str) -> LedgerLine {
    LedgerLine {
        moved,
        id: None,
        batch: String::new(),
        code: String::new(),
        when,
        day: None,
        who: who.to_owned(),
        grams: grams(by, method),
        left: Outcome::refuse("g", method, "nothing is counted yet"),
        reason: String::new(),
        note: String::new(),
        counts: true,
        struck: None,
        by,
    }
}

/// What came: the weight on the entry in force, and before it those of struck entries that said another.
fn receipts(lots: &[Kept<Lot>], root: Id<Lot>) -> Vec<LedgerLine> {
    let chain: Vec<&Kept<Lot>> = lots.iter().filter(|lot| lot_root(lots, lot.id) == root).collect();
    let strikes = struck(lots);
    let weight = |lot: &Kept<Lot>| lot.what.quantity.as_ref().and_then(TypedMass::net_g);
    let newest = in_force(lots).into_iter().find(|lot| lot_root(lots, lot.id) == root).and_then(weight);
    chain
        .into_iter()
        .filter_map(|lot| Some((lot, weight(lot)?)))
        .filter(|(lot, net)| !strikes.contains_key(&lot.id) || Some(*net) != newest)
        .map(|(lot, net)| {
            let strike = strikes.get(&lot.id).cloned();
            LedgerLine {
                day: lot.what.received,
                reason: lot.what.supplier.clone(),
                counts: strike.is_none(),
                struck: strike,
                ..line(Moved::Received, (lot.when, &lot.who), net, "as typed")
            }
        })
        .collect()
}

async fn held_in(workspace: &Workspace, uses: &[TracedUse]) -> Result<Vec<HeldIn>, StoreError> {
    let mut order: Vec<Uuid> = Vec::new();
    let mut sums: BTreeMap<Uuid, (String, Decimal, bool)> = BTreeMap::new();
    for used in uses {
        let sum = sums.entry(used.batch).or_insert_with(|| {
            order.push(used.batch);
            (used.code.clone(), Decimal::ZERO, false)
        });
        if !used.struck {
            sum.1 += used.used.grams();
            sum.2 = true;
        }
    }
    let mut held = Vec::new();
    for id in order {
        let Some((code, sum, holds)) = sums.remove(&id) else { continue };
        let batch: Kept<Batch> = workspace.get(Id::from_uuid(id)).await?;
        held.push(HeldIn {
            batch: id.to_string(),
            code,
            product: batch.what.plan.product,
            grams: grams(sum, "net weights of its entries that stand"),
            holds,
        });
    }
    Ok(held)
}
