//! Formulas, their versions and the drafts kept against a crash.

use super::troubles::{diagnosed, stored, unreadable};
use super::{Inner, WorkspaceDesk};
use crate::desk::{
    Answer, Difference, Draft, DraftOutcome, KeepDraft, KeptDraft, OpenFormula, SaveOutcome, SaveVersion,
    Saved, VersionCard,
};
use crate::draft_sheet;
use crate::trouble::{Kind, Trouble};
use jiff::Timestamp;
use levigate_project::formula_file::{self, FormulaFile};
use levigate_project::records::{Draft as Stored, Formula, FormulaVersion, Id, Kept};
use levigate_project::store::{DraftKey, StoreError};
use levigate_project::workbench::assess::facts_for;
use levigate_project::workbench::difference::difference as compare;
use levigate_project::workspace::{Save, VersionText};
use std::sync::atomic::Ordering;

/// The page keeps one draft per formula, whichever tab it comes from.
const TAB: &str = "page";
/// Digits of a content code.
const CODE: usize = 12;
/// Name of a formula text in messages.
pub(super) const FILE: &str = "formula";

pub(super) fn id_of(text: &str) -> Answer<Id<Formula>> {
    text.parse().map_err(|_| Trouble::not_found("There is no such formula."))
}

pub(super) fn card(version: &Kept<FormulaVersion>) -> VersionCard {
    VersionCard {
        version: version.number,
        saved: version.when.to_string(),
        who: version.who.clone(),
        reason: version.what.reason.clone(),
        code: version.what.sha256.chars().take(CODE).collect(),
    }
}

/// All versions, oldest first; at least one.
async fn all_versions(desk: &Inner, id: Id<Formula>) -> Answer<Vec<Kept<FormulaVersion>>> {
    let versions: Vec<Kept<FormulaVersion>> = desk.workspace.of(id).await.map_err(|error| stored(&error))?;
    if versions.is_empty() { Err(Trouble::not_found("There is no such formula.")) } else { Ok(versions) }
}

pub(super) async fn newest(desk: &Inner, id: Id<Formula>) -> Answer<Kept<FormulaVersion>> {
    all_versions(desk, id).await?.pop().ok_or_else(Trouble::broken)
}

pub(super) async fn one_version(desk: &Inner, id: Id<Formula>, number: u32) -> Answer<Kept<FormulaVersion>> {
    desk.workspace.version(id, number).await.map_err(|error| match error {
        StoreError::Missing { .. } => {
            Trouble::not_found(format!("There is no version {number} of this formula."))
        }
        other => stored(&other),
    })
}

/// A formula text as a draft.
pub(super) fn draft_of(text: &str) -> Answer<Draft> {
    formula_file::read(FILE, text)
        .map(|file| draft_of_file(&file))
        .map_err(|list| diagnosed("formula-file", &list))
}

fn draft_of_file(file: &FormulaFile) -> Draft {
    Draft { own_facts: file.own_facts.clone().unwrap_or_default(), ..draft_sheet::write(&file.sheet) }
}

/// A draft as a formula text, which reads back as the same sheet.
pub(super) fn text_of(desk: &Inner, draft: &Draft) -> Answer<String> {
    let reading = draft_sheet::read(draft).map_err(|remarks| unreadable(&remarks, "written"))?;
    let own = Some(draft.own_facts.as_str()).filter(|own| !own.trim().is_empty());
    if own.is_some() {
        desk.shelf.facts_with(&draft.own_facts).map_err(|remarks| unreadable(&remarks, "written"))?;
    }
    let text = formula_file::write(&reading.sheet, own).map_err(|why| {
        Trouble::new(
            Kind::BadInput,
            "not-writable",
            "The formula cannot be written as a file.",
            why,
            "Take unusual signs out of names and remarks.",
        )
    })?;
    // What could not be read again would be lost to everybody.
    formula_file::read(FILE, &text).map_err(|list| diagnosed("not-readable-again", &list))?;
    Ok(text)
}

/// A formula file of somebody else as a draft.
pub(super) fn import(desk: &Inner, text: &str) -> Answer<Draft> {
    let file = formula_file::read(FILE, text).map_err(|list| diagnosed("formula-file", &list))?;
    facts_for(&desk.shelf.facts(), FILE, &file).map_err(|list| diagnosed("own-facts", &list))?;
    Ok(draft_of_file(&file))
}

pub(super) async fn open(desk: &Inner, id: &str) -> Answer<OpenFormula> {
    let id = id_of(id)?;
    let newest = newest(desk, id).await?;
    let draft = draft_of(&newest.what.text)?;
    let kept = kept(desk, id).await?.filter(|kept| kept.base != newest.number || kept.draft != draft);
    Ok(OpenFormula {
        id: id.to_string(),
        version: newest.number,
        saved: newest.when.to_string(),
        draft,
        kept,
    })
}

/// The draft kept of a formula. One that an older program kept in a form unknown now is passed over.
pub(super) async fn kept(desk: &Inner, id: Id<Formula>) -> Answer<Option<KeptDraft>> {
    let drafts = desk.workspace.drafts(Some(id)).await.map_err(|error| stored(&error))?;
    let draft = drafts.into_iter().rev().find(|draft| draft.tab == TAB);
    Ok(draft.and_then(|stored| {
        let draft = serde_json::from_str(&stored.text).ok()?;
        Some(KeptDraft { draft, base: stored.based_on, kept_at: stored.when.to_string() })
    }))
}

/// Now, and the number of an edit made now: edits are counted by the clock, and by one where two fall into one millisecond or the clock is
/// set back.
pub(super) fn edit(desk: &Inner) -> (Timestamp, u64) {
    let when = desk.workspace.clock().now();
    let now = u64::try_from(when.as_millisecond()).unwrap_or(0);
    let mut edit = now;
    let _ = desk.last_edit.fetch_update(Ordering::Relaxed, Ordering::Relaxed, |last| {
        edit = now.max(last + 1);
        Some(edit)
    });
    (when, edit)
}

pub(super) async fn keep_draft(desk: &Inner, id: &str, keep: &KeepDraft) -> Answer<DraftOutcome> {
    let id = id_of(id)?;
    newest(desk, id).await?;
    let _alone = desk.drafting.lock().await;
    if let Some(after) = &keep.after
        && let Some(there) = kept(desk, id).await?
        && there.kept_at != *after
        && there.draft != keep.draft
    {
        return Ok(DraftOutcome::Elsewhere { kept_at: there.kept_at });
    }
    let (when, edit) = edit(desk);
    // What stands in the fields is kept as it stands: half a number is no formula file yet.
    let text = serde_json::to_string(&keep.draft).map_err(|_| Trouble::broken())?;
    let draft = Stored {
        formula: Some(id),
        tab: TAB.to_owned(),
        edit,
        based_on: keep.base,
        text,
        who: desk.setup.person.clone(),
        when,
    };
    desk.workspace.keep_draft(&draft).await.map_err(|error| stored(&error))?;
    Ok(DraftOutcome::Kept { kept_at: when.to_string() })
}

pub(super) async fn drop_draft(desk: &Inner, id: &str) -> Answer<()> {
    let key = DraftKey { formula: Some(id_of(id)?), tab: TAB.to_owned() };
    desk.workspace.discard_draft(&key).await.map_err(|error| stored(&error))
}

fn version_text(desk: &Inner, draft: &Draft, reason: &str) -> Answer<VersionText> {
    Ok(VersionText {
        text: text_of(desk, draft)?,
        reason: reason.trim().to_owned(),
        engine_version: env!("CARGO_PKG_VERSION").to_owned(),
        data_version: desk.shelf.facts().version(),
    })
}

pub(super) async fn begin(desk: &Inner, draft: &Draft, reason: &str) -> Answer<Saved> {
    let name = draft.product.name.trim();
    if name.is_empty() {
        return Err(Trouble::new(
            Kind::BadInput,
            "no-name",
            "The product has no name yet.",
            "It is found by its name in the list.",
            "Type a name at the head of the sheet.",
        )
        .in_field("product.name"));
    }
    let first = version_text(desk, draft, reason)?;
    let head = desk
        .workspace
        .create_formula(&desk.setup.person, name, first)
        .await
        .map_err(|error| stored(&error))?;
    Ok(Saved {
        id: head.formula.id.to_string(),
        version: head.newest.number,
        saved: head.newest.when.to_string(),
    })
}

pub(super) async fn save(desk: &Inner, id: &str, save: &SaveVersion) -> Answer<SaveOutcome> {
    let formula = id_of(id)?;
    let save = Save {
        formula,
        based_on: save.base,
        parent: save.base,
        version: version_text(desk, &save.draft, &save.reason)?,
        tab: Some(TAB.to_owned()),
    };
    // A version that is not there is no base: the newest one tells where the page stands.
    let newest = newest(desk, formula).await?;
    if save.based_on > newest.number || save.based_on == 0 {
        return Ok(SaveOutcome::Conflict { newest: card(&newest) });
    }
    match desk.workspace.save_version(&desk.setup.person, save).await {
        Ok(version) => Ok(SaveOutcome::Saved(Saved {
            id: formula.to_string(),
            version: version.number,
            saved: version.when.to_string(),
        })),
        Err(StoreError::Moved { .. }) => {
            Ok(SaveOutcome::Conflict { newest: card(&self::newest(desk, formula).await?) })
        }
        Err(error) => Err(stored(&error)),
    }
}

pub(super) async fn versions(desk: &Inner, id: &str) -> Answer<Vec<VersionCard>> {
    Ok(all_versions(desk, id_of(id)?).await?.iter().rev().map(card).collect())
}

pub(super) async fn version(desk: &Inner, id: &str, number: u32) -> Answer<Draft> {
    draft_of(&one_version(desk, id_of(id)?, number).await?.what.text)
}

pub(super) async fn difference(desk: &WorkspaceDesk, id: &str, left: u32, right: u32) -> Answer<Difference> {
    let id = id_of(id)?;
    let older = one_version(&desk.inner, id, left).await?;
    let newer = one_version(&desk.inner, id, right).await?;
    let (left, right) = (card(&older), card(&newer));
    let found = desk
        .work(move |desk| {
            let names = (format!("version {}", older.number), format!("version {}", newer.number));
            compare(
                &desk.shelf.facts(),
                desk.day(),
                &desk.setup.market,
                (&names.0, &older.what.text),
                (&names.1, &newer.what.text),
            )
        })
        .await?
        .map_err(|list| diagnosed("formula-file", &list))?;
    Ok(Difference { left, right, found })
}
