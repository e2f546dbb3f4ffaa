//! Which batches hold a lot, and which lots are in a batch.

use super::lots::{lot_keys, lot_of, named_key};
use super::stock::Used;
use crate::records::{Batch, Id, Kept, Lot, in_force};
use crate::store::{StoreError, Trace, TracedUse};
use crate::workspace::Workspace;
use levigate_facts::Facts;
use levigate_formula::names::folded;
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};

/// A lot and the batches that hold it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Forward {
    /// Key of the raw material.
    pub material: String,
    /// Code of the lot.
    pub lot: String,
    /// Identity of the entry in force; none where the lot is not on file.
    pub id: Option<Id<Lot>>,
    /// Uses, in the order they were entered, struck ones too.
    pub uses: Vec<Used>,
}

/// A batch and the lots in it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Back {
    /// Code of the batch.
    pub batch: String,
    /// Its identity.
    pub id: Id<Batch>,
    /// Name of the product.
    pub product: String,
    /// Lots, in the order they were put in, struck ones too.
    pub lots: Vec<LotIn>,
}

/// A lot in a batch.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LotIn {
    /// Key of the raw material.
    pub material: String,
    /// Code.
    pub lot: String,
    /// It is on file.
    pub on_file: bool,
    /// The use.
    #[serde(flatten)]
    pub used: Used,
}

/// The lots a person means by a code, with the raw material or without: entries in force.
#[must_use]
pub fn lots_called<'l>(
    facts: &Facts,
    lots: &'l [Kept<Lot>],
    material: Option<&str>,
    code: &str,
) -> Vec<&'l Kept<Lot>> {
    if let Ok(id) = code.parse::<Id<Lot>>() {
        return lots.iter().filter(|lot| lot.id == id).collect();
    }
    if let Some(material) = material {
        let key = facts.names.resolve_material(material).unwrap_or(material);
        return lot_of(lots, key, code).into_iter().collect();
    }
    let wanted = folded(code);
    in_force(lots).into_iter().filter(|lot| folded(&lot.what.code) == wanted).collect()
}

/// Forward: the batches that hold a lot.
///
/// # Errors
/// The workspace cannot be read.
pub async fn forward(
    workspace: &Workspace,
    lots: &[Kept<Lot>],
    lot: &Kept<Lot>,
) -> Result<Forward, StoreError> {
    let found = uses(workspace, lots, lot).await?;
    Ok(Forward {
        material: lot.what.material.clone(),
        lot: lot.what.code.clone(),
        id: Some(lot.id),
        uses: found.into_iter().map(Used::from).collect(),
    })
}

/// Uses of a lot on file in the order they were kept, those from before it was on file too.
pub(super) async fn uses(
    workspace: &Workspace,
    lots: &[Kept<Lot>],
    lot: &Kept<Lot>,
) -> Result<Vec<TracedUse>, StoreError> {
    let mut found = Vec::new();
    for key in lot_keys(lots, lot) {
        found.extend(workspace.trace(&Trace::Lot(key)).await?);
    }
    found.sort_by_key(|used| used.when);
    Ok(found)
}

/// Forward from a code, with the raw material or without: every lot on file that has it, and every lot that batches name by it though
/// it is not on file. Empty where there is neither.
///
/// # Errors
/// The workspace cannot be read.
pub async fn forward_from(
    workspace: &Workspace,
    facts: &Facts,
    lots: &[Kept<Lot>],
    material: Option<&str>,
    code: &str,
) -> Result<Vec<Forward>, StoreError> {
    let on_file = lots_called(facts, lots, material, code);
    let mut told = Vec::new();
    for lot in &on_file {
        told.push(forward(workspace, lots, lot).await?);
    }
    let key = material.map(|name| facts.names.resolve_material(name).unwrap_or(name));
    let known = on_file.iter().map(|lot| lot.what.material.as_str()).collect();
    told.extend(forward_not_on_file(workspace, key, code, &known).await?);
    Ok(told)
}

/// Forward from a code that is not on file: whoever weighed it typed it, and it is in a batch all the same. Lots of the raw materials
/// named last are on file.
///
/// # Errors
/// The workspace cannot be read.
pub async fn forward_not_on_file(
    workspace: &Workspace,
    material: Option<&str>,
    code: &str,
    on_file: &BTreeSet<&str>,
) -> Result<Vec<Forward>, StoreError> {
    let wanted = folded(code);
    let used = workspace.store().lots_used().await?;
    let keys: BTreeSet<(&str, &str)> = used
        .iter()
        .filter_map(|lot| lot.split_once('/'))
        .filter(|(of, named)| *named == wanted && !on_file.contains(of))
        .filter(|(of, _)| material.is_none_or(|material| material == *of))
        .collect();
    let mut told = Vec::new();
    for (of, named) in keys {
        let found = workspace.trace(&Trace::Lot(named_key(of, named))).await?;
        let uses = found.into_iter().map(Used::from).collect();
        told.push(Forward { material: of.to_owned(), lot: code.trim().to_owned(), id: None, uses });
    }
    Ok(told)
}

/// Back: the lots in a batch.
///
/// # Errors
/// The workspace cannot be read.
pub async fn back(
    workspace: &Workspace,
    lots: &[Kept<Lot>],
    batch: &Kept<Batch>,
) -> Result<Back, StoreError> {
    let found = workspace.trace(&Trace::Batch(batch.id.uuid())).await?;
    let by_id: BTreeMap<String, &Kept<Lot>> = lots.iter().map(|lot| (lot.id.to_string(), lot)).collect();
    let lots = found
        .into_iter()
        .map(|used: TracedUse| {
            let known = by_id.get(&used.used.lot);
            let (material, lot) = match known {
                Some(lot) => (lot.what.material.clone(), newest(lots, lot).what.code.clone()),
                None => {
                    let (material, code) = used.used.lot.split_once('/').unwrap_or(("", &used.used.lot));
                    (material.to_owned(), code.to_owned())
                }
            };
            LotIn { material, lot, on_file: known.is_some(), used: Used::from(used) }
        })
        .collect();
    Ok(Back { batch: batch.what.code.clone(), id: batch.id, product: batch.what.plan.product.clone(), lots })
}

/// The entry of a lot that stands now.
fn newest<'l>(lots: &'l [Kept<Lot>], first: &'l Kept<Lot>) -> &'l Kept<Lot> {
    let mut at = first;
    for _ in 0..lots.len() {
        let next = lots.iter().find(|lot| lot.corrects.as_ref().is_some_and(|it| it.supersedes == at.id));
        match next {
            Some(next) => at = next,
            None => break,
        }
    }
    at
}
