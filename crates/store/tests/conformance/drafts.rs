//! Drafts: one per tab, the latest edit wins, a save makes them superfluous.

use levigate_project::records::{Draft, Formula, Id};
use levigate_project::store::{DraftKey, StoreError};
use levigate_project::workspace::{Save, Workspace};

use super::{begun, text};

fn draft(workspace: &Workspace, formula: Option<Id<Formula>>, tab: &str, edit: u64, words: &str) -> Draft {
    let when = workspace.clock().now();
    Draft {
        formula,
        tab: tab.to_owned(),
        edit,
        based_on: 1,
        text: words.to_owned(),
        who: "Ilse".to_owned(),
        when,
    }
}

async fn texts(workspace: &Workspace, formula: Option<Id<Formula>>) -> Vec<(String, String)> {
    let drafts = workspace.drafts(formula).await.unwrap();
    drafts.into_iter().map(|draft| (draft.tab, draft.text)).collect()
}

fn pairs(expected: &[(&str, &str)]) -> Vec<(String, String)> {
    expected.iter().map(|(tab, words)| ((*tab).to_owned(), (*words).to_owned())).collect()
}

pub(super) async fn two_tabs_are_never_mixed(workspace: &Workspace) {
    let formula = Some(begun(workspace, "Toner").await.formula.id);
    workspace.keep_draft(&draft(workspace, formula, "left", 1, "l")).await.unwrap();
    workspace.keep_draft(&draft(workspace, formula, "right", 1, "r")).await.unwrap();
    workspace.keep_draft(&draft(workspace, None, "left", 1, "new sheet")).await.unwrap();
    workspace.keep_draft(&draft(workspace, formula, "left", 2, "left again")).await.unwrap();
    assert_eq!(texts(workspace, formula).await, pairs(&[("right", "r"), ("left", "left again")]));
    assert_eq!(texts(workspace, None).await, pairs(&[("left", "new sheet")]));
    workspace.discard_draft(&DraftKey { formula, tab: "right".to_owned() }).await.unwrap();
    assert_eq!(texts(workspace, formula).await, pairs(&[("left", "left again")]));
    // Typing is no record.
    assert_eq!(workspace.store().head().await.unwrap().length, 2);
    let nameless = draft(workspace, formula, "", 3, "x");
    assert!(matches!(workspace.keep_draft(&nameless).await, Err(StoreError::Unfit(_))));
}

pub(super) async fn an_older_edit_never_overwrites_a_newer_one(workspace: &Workspace) {
    let kept = draft(workspace, None, "tab", 5, "five");
    workspace.keep_draft(&kept).await.unwrap();
    workspace.keep_draft(&draft(workspace, None, "tab", 4, "four, late on the way")).await.unwrap();
    workspace.keep_draft(&draft(workspace, None, "tab", 5, "five, sent twice")).await.unwrap();
    assert_eq!(workspace.drafts(None).await.unwrap(), [kept]);
}

pub(super) async fn a_save_discards_its_own_draft_only(workspace: &Workspace) {
    let id = begun(workspace, "Toner").await.formula.id;
    for tab in ["left", "right"] {
        workspace.keep_draft(&draft(workspace, Some(id), tab, 1, tab)).await.unwrap();
    }
    let save = |tab: &str| Save {
        formula: id,
        based_on: 1,
        parent: 1,
        version: text("# saved\n"),
        tab: Some(tab.to_owned()),
    };
    workspace.save_version("Ilse", save("left")).await.unwrap();
    assert!(matches!(workspace.save_version("Ilse", save("right")).await, Err(StoreError::Moved { .. })));
    // The save that was refused keeps what was typed.
    assert_eq!(texts(workspace, Some(id)).await, pairs(&[("right", "right")]));
}
