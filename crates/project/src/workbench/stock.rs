//! Lots on the shelf: whether they may be used, how much is left, and which one to take first.

use super::keeping::{Form, KeepError, Struck, TypedDevice, keep_sent, short, struck};
use super::lots::{LotCard, dates, lot_keys, lot_of, lot_root};
use crate::records::{
    AgainstSpecification, FromDevice, Id, Kept, Lot, LotStatus, Status, StockMovement, TypedMass,
    TypedNumber, WEIGHT_UNITS, in_force,
};
use crate::store::{StoreError, TracedUse};
use crate::workspace::{KeptOnce, Workspace};
use jiff::Timestamp;
use jiff::civil::Date;
use levigate_facts::Facts;
use levigate_measure::{Grade, Outcome};
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// What was decided last about each lot, by its first entry. A lot nobody decided about is not in it.
///
/// # Errors
/// The workspace cannot be read.
pub async fn statuses(workspace: &Workspace) -> Result<BTreeMap<Id<Lot>, Status>, StoreError> {
    let decided: Vec<Kept<LotStatus>> = workspace.latest().await?;
    Ok(decided.into_iter().map(|kept| (kept.what.lot, kept.what.status)).collect())
}

/// A decision about a lot as typed.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct TypedStatus {
    /// Identity and moment from the device.
    #[serde(flatten)]
    pub device: TypedDevice,
    /// `quarantine`, `released`, `rejected` or `used_up`.
    pub status: String,
    /// Why.
    pub reason: String,
}

/// Keeps a decision about a lot, once, however often a device sends it.
///
/// # Errors
/// What was typed cannot be kept, another record has its identity, there is no such lot, or the workspace refused.
pub async fn decide_lot(
    workspace: &Workspace,
    who: &str,
    lot: Id<Lot>,
    typed: &TypedStatus,
) -> Result<KeptOnce<LotStatus>, KeepError> {
    let mut form = Form::default();
    let root = root_of(workspace, lot).await?;
    let (id, from) = form.sent(&typed.device, root.uuid(), typed, None);
    let status = Status::from_word(typed.status.trim());
    if status.is_none() {
        let what = format!("\"{}\" is no status of a lot", short(&typed.status));
        let why = "a lot waits, may be used, may not, or is used up";
        form.fault("status", &what, why, "choose quarantine, released, rejected or used_up");
    }
    let why = "whoever takes the lot must know what the decision rests on";
    let reason = form.needed("reason", &typed.reason, why, "write why in a few words");
    let status = form.done(status)?.unwrap_or(Status::Quarantine);
    let decided = LotStatus { lot: root, status, reason, from };
    keep_sent(workspace, who, id, (decided, None), |decided| &decided.from).await
}

/// A movement as typed.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct TypedMovement {
    /// Identity and moment from the device.
    #[serde(flatten)]
    pub device: TypedDevice,
    /// How much; with a minus it was taken.
    pub net: String,
    /// Unit; grams when empty.
    pub unit: String,
    /// Why.
    pub reason: String,
    /// Remark.
    pub note: String,
}

/// Keeps what was put to a lot or taken from it by hand, once, however often a device sends it.
///
/// # Errors
/// What was typed cannot be kept, another record has its identity, there is no such lot, or the workspace refused.
pub async fn move_stock(
    workspace: &Workspace,
    who: &str,
    lot: Id<Lot>,
    typed: &TypedMovement,
) -> Result<KeptOnce<StockMovement>, KeepError> {
    let mut form = Form::default();
    let lot = root_of(workspace, lot).await?;
    let (id, from) = form.sent(&typed.device, lot.uuid(), typed, None);
    let text = typed.net.trim().replace('\u{2212}', "-");
    let (taken, digits) = match text.strip_prefix('-') {
        Some(digits) => (true, digits),
        None => (false, text.strip_prefix('+').unwrap_or(&text)),
    };
    let why = "it is what is put to the lot, or with a minus what is taken from it";
    if digits.trim().is_empty() {
        form.fault("net", "no weight is typed", why, "type it like 500 or -12.5");
    }
    let limits = (Decimal::ZERO, Decimal::from(100_000_000));
    let net = form.number("net", digits, limits, why);
    let unit = unit(&mut form, &typed.unit);
    let why = "a count that differs has a cause";
    let reason = form.needed("reason", &typed.reason, why, "write why: counted, spilled, given away");
    let () = form.done(())?;
    let mass = TypedMass { net, unit, ..TypedMass::default() };
    let note = typed.note.trim().to_owned();
    let moved = StockMovement { lot, mass, taken, reason, note, from };
    keep_sent(workspace, who, id, (moved, None), |moved| &moved.from).await
}

/// Takes a movement back by its opposite, which names it.
///
/// # Errors
/// No such movement, without a reason, or the workspace refused.
pub async fn take_back_movement(
    workspace: &Workspace,
    who: &str,
    id: Id<StockMovement>,
    reason: &str,
) -> Result<Kept<StockMovement>, KeepError> {
    let reason = super::readings::reasoned(reason)?;
    let what = workspace.get(id).await?.what;
    let nothing = TypedNumber { typed: "0".to_owned(), value: Some(Decimal::ZERO) };
    let mass = TypedMass { net: Some(nothing), unit: "g".to_owned(), ..TypedMass::default() };
    let what = StockMovement { mass, from: FromDevice::default(), ..what };
    Ok(workspace.correct(who, id, reason, what).await?)
}

pub(super) fn unit(form: &mut Form, typed: &str) -> String {
    let unit = Some(typed.trim()).filter(|unit| !unit.is_empty()).unwrap_or("g");
    if !WEIGHT_UNITS.iter().any(|(known, _)| *known == unit) {
        let what = format!("\"{}\" is not a unit of weight here", short(unit));
        form.fault("unit", &what, "a balance shows mass", "choose mg, g or kg");
    }
    unit.to_owned()
}

async fn root_of(workspace: &Workspace, id: Id<Lot>) -> Result<Id<Lot>, StoreError> {
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
        lots.sort_by_key(|(lot, against)| {
            let expiry = day_of(lot);
            (!against.is_empty(), expiry.is_none(), expiry, lot.number)
        });
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
        let grams = found.used.grams().to_f64().unwrap_or(f64::NAN);
        Self {
            batch: found.batch.to_string(),
            code: found.code,
            grams: Outcome::new(grams, "g", Grade::Computed, "net weight of the entry")
                .proved_by("exact decimal"),
            who: found.who,
            when: found.when,
            struck: found.struck,
        }
    }
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
    let strikes = struck(&movements);
    let uses = super::trace::uses(workspace, &stock.lots, &lot).await?;
    Ok(LotStock {
        card: super::lots::card_of(facts, day, &stock.lots, &lot),
        status: decided.last().map(|last| last.what.status),
        left: stock.left(&lot),
        specification: lot.what.certificate.iter().map(crate::records::CoaValue::against).collect(),
        against: stock.against(&lot, day, Decimal::ZERO),
        decisions: decided
            .into_iter()
            .map(|kept| Decision {
                status: kept.what.status,
                reason: kept.what.reason,
                who: kept.who,
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
    })
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
