//! Lots of raw materials: listed, kept and corrected.
//!
//! A lot is found by its raw material and its code as printed on the drum. Two lots in force of one raw material never have the
//! same code, so that a line that names a code means one lot.

use super::keeping::{FieldFault, Form, KeepError, Struck, corrects, short, struck};
use super::people::PeopleError;
use crate::people::{Hand, Right};
use crate::records::{CoaValue, Id, Kept, Lot, LotStatus, Status, TypedMass, TypedNumber, in_force};
use crate::store::StoreError;
use crate::workspace::Workspace;
use jiff::Timestamp;
use jiff::civil::Date;
use levigate_facts::Facts;
use levigate_formula::names::folded;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

/// A lot as typed.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct TypedLot {
    /// Raw material: key, name, INCI name or CAS number.
    pub material: String,
    /// Lot code as printed on the drum.
    pub code: String,
    /// Supplier.
    pub supplier: String,
    /// Assay of the active substance, percent.
    pub assay_percent: String,
    /// How much was received.
    pub quantity: String,
    /// Its unit: mg, g, kg; grams when empty.
    pub quantity_unit: String,
    /// Where it stands.
    pub location: String,
    /// Received on, ISO.
    pub received: String,
    /// Not to be used after, ISO.
    pub expiry: String,
    /// To be tested again on, ISO.
    pub retest: String,
    /// Values of the certificate of analysis; empty rows are passed over.
    pub certificate: Vec<TypedCoaValue>,
    /// Names of documents, separated by semicolons or lines.
    pub documents: String,
    /// Remark.
    pub note: String,
}

/// One value of a certificate as typed.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct TypedCoaValue {
    /// What was determined.
    pub name: String,
    /// The value as printed.
    pub value: String,
    /// Unit.
    pub unit: String,
    /// Least that the specification allows.
    pub least: String,
    /// Most that it allows.
    pub most: String,
}

/// A lot as it is shown.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LotCard {
    /// Identity.
    pub id: Id<Lot>,
    /// Number of the entry in the workspace.
    pub number: u32,
    /// What was kept.
    #[serde(flatten)]
    pub lot: Lot,
    /// Name of the raw material; its key where no record is found.
    pub material_name: String,
    /// Substance the assay speaks of, where the record names one.
    pub active: Option<String>,
    /// Who entered it.
    pub who: String,
    /// When.
    pub when: Timestamp,
    /// Number of the entry it corrects.
    pub corrects: Option<u32>,
    /// What struck it out.
    pub struck: Option<Struck>,
    /// What its dates say today; empty when nothing.
    pub dates: String,
}

/// All lots of the workspace, or of one raw material, struck ones too: by raw material, the last received first.
///
/// # Errors
/// The workspace cannot be read.
pub async fn lots(
    workspace: &Workspace,
    facts: &Facts,
    day: Date,
    material: Option<&str>,
) -> Result<Vec<LotCard>, StoreError> {
    let kept: Vec<Kept<Lot>> = workspace.all().await?;
    let key = material.map(|name| key_of(facts, name));
    let strikes = struck(&kept);
    let mut cards: Vec<LotCard> = kept
        .iter()
        .filter(|lot| key.as_ref().is_none_or(|key| lot.what.material == *key))
        .map(|lot| card(facts, day, &kept, lot, strikes.get(&lot.id)))
        .collect();
    cards.sort_by(|a, b| {
        folded(&a.material_name)
            .cmp(&folded(&b.material_name))
            .then_with(|| b.lot.received.cmp(&a.lot.received))
            .then_with(|| b.number.cmp(&a.number))
    });
    Ok(cards)
}

/// One lot as it is shown.
#[must_use]
pub fn card_of(facts: &Facts, day: Date, all: &[Kept<Lot>], lot: &Kept<Lot>) -> LotCard {
    card(facts, day, all, lot, struck(all).get(&lot.id))
}

fn card(facts: &Facts, day: Date, all: &[Kept<Lot>], lot: &Kept<Lot>, strike: Option<&Struck>) -> LotCard {
    let record = facts.library.materials.get(&lot.what.material);
    let active = record.and_then(|record| record.active.as_ref()).map(|key| {
        facts.library.substances.get(key).map_or_else(|| key.clone(), |substance| substance.name.clone())
    });
    LotCard {
        id: lot.id,
        number: lot.number,
        material_name: record.map_or_else(|| lot.what.material.clone(), |record| record.name.clone()),
        active,
        who: lot.who.clone(),
        when: lot.when,
        corrects: corrects(all, lot),
        struck: strike.cloned(),
        dates: if strike.is_some() { String::new() } else { dates(&lot.what, day) },
        lot: lot.what.clone(),
    }
}

/// What the dates of a lot say on a day; empty when nothing.
#[must_use]
pub fn dates(lot: &Lot, day: Date) -> String {
    match (lot.expiry, lot.retest) {
        (Some(expiry), _) if expiry < day => format!("Expired on {expiry}."),
        (_, Some(retest)) if retest <= day => format!("To be tested again since {retest}."),
        _ => String::new(),
    }
}

/// The lot in force of a raw material (by key) with a code.
#[must_use]
pub fn lot_of<'l>(lots: &'l [Kept<Lot>], material: &str, code: &str) -> Option<&'l Kept<Lot>> {
    let code = folded(code);
    in_force(lots).into_iter().find(|lot| lot.what.material == material && folded(&lot.what.code) == code)
}

/// The first entry of a lot: what it was kept as before anything corrected it. Under this one it is traced, judged and counted.
#[must_use]
pub fn lot_root(lots: &[Kept<Lot>], id: Id<Lot>) -> Id<Lot> {
    let mut root = id;
    // A chain of corrections is no longer than there are entries.
    for _ in 0..lots.len() {
        let earlier = lots.iter().find(|lot| lot.id == root).and_then(|lot| lot.corrects.as_ref());
        match earlier {
            Some(correction) => root = correction.supersedes,
            None => break,
        }
    }
    root
}

/// Under which a lot that is not on file is traced: raw material and code.
#[must_use]
pub fn named_key(material: &str, code: &str) -> String {
    format!("{material}/{}", folded(code))
}

/// Every key under which a lot on file is traced: its first entry, and raw material and code for what was taken of it before it was on
/// file.
#[must_use]
pub fn lot_keys(lots: &[Kept<Lot>], lot: &Kept<Lot>) -> [String; 2] {
    [lot_root(lots, lot.id).to_string(), named_key(&lot.what.material, &lot.what.code)]
}

/// Keeps a lot, or a corrected one beside the one it strikes out.
///
/// # Errors
/// What was typed cannot be kept, its code is taken, or the workspace refused.
pub async fn keep_lot(
    workspace: &Workspace,
    facts: &Facts,
    who: &str,
    typed: &TypedLot,
    correcting: Option<(Id<Lot>, &str)>,
) -> Result<Kept<Lot>, KeepError> {
    let lot = read_lot(facts, typed)?;
    let kept: Vec<Kept<Lot>> = workspace.all().await?;
    let same = lot_of(&kept, &lot.material, &lot.code);
    if let Some(same) = same.filter(|same| correcting.is_none_or(|(id, _)| id != same.id)) {
        let fault = FieldFault::new(
            "code",
            &format!("lot {} of this raw material is on file already", same.what.code),
            "a line that names a code must mean one lot",
            "correct the one on file, or type the code in full",
        );
        return Err(fault.into());
    }
    Ok(match correcting {
        Some((id, reason)) => workspace.correct(who, id, reason, lot).await?,
        None => workspace.add(who, lot).await?,
    })
}

/// Corrects a lot. One that is rejected takes another name, which would let its code stand for a new lot that nobody has judged, only
/// from whoever may take it up again.
///
/// # Errors
/// Whoever corrects may not, or as [`keep_lot`].
pub async fn correct_lot(
    workspace: &Workspace,
    facts: &Facts,
    hand: &Hand,
    typed: &TypedLot,
    (id, reason): (Id<Lot>, &str),
) -> Result<Kept<Lot>, PeopleError> {
    let (before, after) = (workspace.get(id).await?.what, read_lot(facts, typed)?);
    let renamed = before.material != after.material || folded(&before.code) != folded(&after.code);
    let root = super::stock::root_of(workspace, id).await?;
    let decided: Vec<Kept<LotStatus>> = workspace.of(root).await?;
    if renamed && decided.last().is_some_and(|last| last.what.status == Status::Rejected) {
        hand.may(Right::JudgeLots)?;
    }
    Ok(keep_lot(workspace, facts, &hand.name, typed, Some((id, reason))).await?)
}

/// Reads a lot from what was typed.
///
/// # Errors
/// Everything that is wrong with it, field by field.
pub fn read_lot(facts: &Facts, typed: &TypedLot) -> Result<Lot, KeepError> {
    let mut form = Form::default();
    let material = match facts.names.resolve_material(&typed.material) {
        Ok(key) => key.to_owned(),
        Err(nearest) => {
            let what_now = if nearest.is_empty() {
                "search the raw materials, or add your own first".to_owned()
            } else {
                format!("did you mean {}?", nearest.join(", "))
            };
            let what = format!("no raw material is called \"{}\"", short(&typed.material));
            form.fault("material", &what, "a lot belongs to a raw material on file", &what_now);
            String::new()
        }
    };
    let code = form.needed(
        "code",
        &typed.code,
        "a lot is found by its code",
        "type the lot code as printed on the drum or the certificate",
    );
    let assay_percent = form.number(
        "assay_percent",
        &typed.assay_percent,
        (Decimal::ZERO, Decimal::ONE_HUNDRED),
        "an assay is the share of the active substance in the lot, percent w/w",
    );
    if assay_percent.as_ref().is_some_and(|assay| assay.value == Some(Decimal::ZERO)) {
        form.fault(
            "assay_percent",
            "an assay of 0 % cannot be",
            "nothing of the active would be in it",
            "read the certificate again, or leave the field empty",
        );
    }
    let received = form.day("received", &typed.received);
    let (expiry, retest) = (form.day("expiry", &typed.expiry), form.day("retest", &typed.retest));
    for (field, day) in [("expiry", expiry), ("retest", retest)] {
        if let (Some(received), Some(day)) = (received, day)
            && day < received
        {
            form.fault(
                field,
                &format!("{day} is before the day it was received, {received}"),
                "it cannot end before it came",
                "correct one of the two days",
            );
        }
    }
    let mut certificate = Vec::new();
    for (at, row) in typed.certificate.iter().enumerate() {
        let (name, value) = (row.name.trim(), row.value.trim());
        if name.is_empty() && value.is_empty() {
            continue;
        }
        if name.is_empty() || value.is_empty() {
            let (field, what) = if name.is_empty() {
                ("name", "this value has no name")
            } else {
                ("value", "this has no value")
            };
            form.fault(
                &format!("certificate.{at}.{field}"),
                what,
                "a certificate value is a name and what was found",
                "fill it in, or empty the row",
            );
        }
        certificate.push(CoaValue {
            name: name.to_owned(),
            value: TypedNumber::read_either(value),
            unit: row.unit.trim().to_owned(),
            least: limit(&mut form, at, "least", &row.least),
            most: limit(&mut form, at, "most", &row.most),
        });
    }
    let limits = (Decimal::ZERO, Decimal::from(100_000_000));
    let net = form.number("quantity", &typed.quantity, limits, "it is the weight that was received");
    let unit = super::stock::unit(&mut form, &typed.quantity_unit);
    let documents = typed.documents.split([';', '\n']).map(str::trim).filter(|name| !name.is_empty());
    let lot = Lot {
        material,
        code,
        supplier: typed.supplier.trim().to_owned(),
        assay_percent,
        certificate,
        quantity: net.map(|net| TypedMass { net: Some(net), unit, ..TypedMass::default() }),
        location: typed.location.trim().to_owned(),
        received,
        expiry,
        retest,
        documents: documents.map(str::to_owned).collect(),
        note: typed.note.trim().to_owned(),
    };
    form.done(lot)
}

/// A limit of a specification, where one is typed.
fn limit(form: &mut Form, at: usize, field: &str, typed: &str) -> Option<TypedNumber> {
    if typed.trim().is_empty() {
        return None;
    }
    let limit = TypedNumber::read_either(typed);
    if limit.value.is_none() {
        form.fault(
            &format!("certificate.{at}.{field}"),
            &format!("\"{}\" is not a number", short(typed)),
            "a value is held against its limit",
            "type the number, with a comma or a point before the decimals",
        );
    }
    Some(limit)
}

/// Key of a raw material by any of its names; what was typed where no record is found.
fn key_of(facts: &Facts, name: &str) -> String {
    facts.names.resolve_material(name).map_or_else(|_| name.to_owned(), str::to_owned)
}
