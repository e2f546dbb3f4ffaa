//! Raw materials, shipped and own.

use super::judging::value;
use super::list::summarised;
use super::shelf::Shelf;
use super::troubles::stored;
use super::{Inner, WorkspaceDesk};
use crate::desk::{Answer, MaterialCard, MaterialHit, OwnMaterial};
use crate::trouble::{Kind, Trouble};
use levigate_project::facts::{Facts, Layer};
use levigate_project::records::{MaterialOverlay, OverlaySort};
use levigate_project::workbench::citations::citations_in;
use levigate_project::workbench::materials::{MaterialHit as Found, find_materials, hit_of};
use levigate_project::workbench::own_material::{self, OwnFault};

/// Most hits of one search.
const MOST: usize = 500;

fn hit(found: Found) -> MaterialHit {
    MaterialHit {
        key: found.key,
        name: found.name,
        inci: found.inci,
        cas: found.cas,
        functions: found.functions,
        form: found.form,
        layer: found.layer,
        matched: found.matched,
    }
}

/// Finds raw materials; when nothing has all the words, those whose names come near.
pub(super) fn search(desk: &Inner, words: &str, most: usize) -> Vec<MaterialHit> {
    let facts = desk.shelf.facts();
    let most = most.min(MOST);
    let found = find_materials(&facts.library, words, most);
    let near = found.nearest.iter().filter_map(|name| facts.names.resolve_material(name).ok()).map(|key| {
        MaterialHit { matched: "a name that comes near".to_owned(), ..shown(&facts, key).unwrap_or_default() }
    });
    found.materials.into_iter().map(hit).chain(near).take(most).collect()
}

fn shown(facts: &Facts, key: &str) -> Option<MaterialHit> {
    hit_of(&facts.library, key).map(hit)
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
    let form = form(typed);
    let record = desk
        .work(move |desk| own_material::own_material(&desk.shelf.facts(), desk.day(), &form))
        .await?
        .map_err(|faults| refused(&faults))?;
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

fn form(typed: &OwnMaterial) -> own_material::OwnMaterial {
    let typed = typed.clone();
    own_material::OwnMaterial {
        key: typed.key,
        from: typed.from,
        name: typed.name,
        form: typed.form,
        functions: typed.functions,
        constituents: typed
            .constituents
            .into_iter()
            .map(|part| own_material::OwnConstituent {
                substance: part.substance,
                min: part.min,
                typical: part.typical,
                max: part.max,
            })
            .collect(),
        active: typed.active,
        balance: typed.balance,
        composition_source: typed.composition_source,
        price_per_kg: typed.price_per_kg,
        currency: typed.currency,
        price_date: typed.price_date,
        price_note: typed.price_note,
        ph_works_low: typed.ph_works_low,
        ph_works_high: typed.ph_works_high,
        heat_limit_c: typed.heat_limit_c,
    }
}

fn refused(faults: &[OwnFault]) -> Trouble {
    let Some(first) = faults.first() else { return super::troubles::broken() };
    let others: Vec<String> =
        faults.iter().skip(1).map(|fault| format!("{}: {}", fault.field, fault.what)).collect();
    let why = if others.is_empty() {
        first.why.clone()
    } else {
        format!("{} Also {}", first.why, others.join(" "))
    };
    Trouble::new(Kind::BadInput, "own-material", first.what.clone(), why, first.what_now.clone())
        .in_field(first.field.clone())
}
