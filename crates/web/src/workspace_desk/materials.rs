//! Raw materials, shipped and own.

use super::judging::value;
use super::list::summarised;
use super::shelf::Shelf;
use super::troubles::{refused, stored};
use super::{Inner, WorkspaceDesk};
use crate::desk::{Answer, MaterialCard, MaterialHit, OwnMaterial};
use crate::trouble::Trouble;
use levigate_project::facts::{Facts, Layer};
use levigate_project::records::{MaterialOverlay, OverlaySort};
use levigate_project::workbench::citations::citations_in;
use levigate_project::workbench::materials::{find_materials, hit_of};
use levigate_project::workbench::own_material;

/// Most hits of one search.
const MOST: usize = 500;

/// Finds raw materials; when nothing has all the words, those whose names come near.
pub(super) fn search(desk: &Inner, words: &str, most: usize) -> Vec<MaterialHit> {
    let facts = desk.shelf.facts();
    let most = most.min(MOST);
    let found = find_materials(&facts.library, words, most);
    let near = found.nearest.iter().filter_map(|name| facts.names.resolve_material(name).ok()).map(|key| {
        MaterialHit { matched: "a name that comes near".to_owned(), ..shown(&facts, key).unwrap_or_default() }
    });
    found.materials.into_iter().chain(near).take(most).collect()
}

fn shown(facts: &Facts, key: &str) -> Option<MaterialHit> {
    hit_of(&facts.library, key)
}

/// One raw material with the formulas that use it.
pub(super) async fn card(desk: &WorkspaceDesk, key: &str) -> Answer<MaterialCard> {
    let facts = desk.inner.shelf.facts();
    let material = facts.library.materials.get(key);
    let (Some(material), Some(hit)) = (material, shown(&facts, key)) else {
        return Err(Trouble::not_found("There is no such raw material."));
    };
    let record = value(material);
    let used_in = summarised(desk)
        .await?
        .into_iter()
        .filter(|(_, summary)| summary.materials.contains(key))
        .map(|(head, summary)| (head.formula.id.to_string(), summary.name))
        .collect();
    Ok(MaterialCard {
        hit,
        sources: citations_in(&facts, &record),
        record,
        used_in,
        own: material.layer == Layer::Workspace,
    })
}

/// Keeps an own raw material and lays it over the facts.
pub(super) async fn save(desk: &WorkspaceDesk, typed: &OwnMaterial) -> Answer<MaterialCard> {
    let form = typed.clone();
    let record = desk
        .work(move |desk| own_material::own_material(&desk.shelf.facts(), desk.day(), &form))
        .await?
        .map_err(|faults| refused("own-material", &faults))?;
    let overlay = MaterialOverlay {
        sort: OverlaySort::Material,
        key: record.key.clone(),
        text: record.text,
        withdrawn: false,
    };
    let inner = &desk.inner;
    inner.workspace.add(&inner.setup.person, overlay).await.map_err(|error| stored(&error))?;
    let texts = Shelf::texts(&inner.workspace).await?;
    desk.work(move |desk| desk.shelf.lay(&texts)).await?;
    card(desk, &record.key).await
}
