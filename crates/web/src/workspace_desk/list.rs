//! The list of formulas. What stands beside a name comes from an assessment; it is kept per version, so that the list opens
//! without assessing everything again.

use super::folders::{FILE, kept};
use super::troubles::stored;
use super::{Inner, WorkspaceDesk, held};
use crate::desk::{Answer, FormulaCard};
use jiff::civil::Date;
use levigate_project::workbench::summary::{Summary, summarise};
use levigate_project::workbench::trials::trial_counts;
use levigate_project::workspace::FormulaHead;
use std::collections::BTreeMap;

/// Summaries by the content of a version, all for one day and one state of the facts.
#[derive(Default)]
pub(super) struct Summaries {
    of: Option<(Date, u64)>,
    by_content: BTreeMap<String, Summary>,
}

/// All formulas, the last touched first.
pub(super) async fn cards(desk: &WorkspaceDesk) -> Answer<Vec<FormulaCard>> {
    let mut cards = Vec::new();
    let trials = trial_counts(&desk.inner.workspace).await.map_err(|error| stored(&error))?;
    for (head, summary) in summarised(desk).await? {
        let draft = kept(&desk.inner, head.formula.id).await?;
        let newest = &head.newest;
        let touched =
            draft.as_ref().map(|kept| kept.kept_at.clone()).unwrap_or_default().max(newest.when.to_string());
        cards.push((
            touched,
            FormulaCard {
                id: head.formula.id.to_string(),
                name: if summary.name.is_empty() { head.formula.what.name } else { summary.name },
                kind: summary.kind,
                client: summary.client,
                version: newest.number,
                saved: newest.when.to_string(),
                lines: summary.lines,
                first: summary.first,
                gravity: summary.gravity.to_owned(),
                ph: summary.ph.map(|ph| format!("{ph:.1}")).unwrap_or_default(),
                draft: draft.is_some(),
                trials: trials.get(&head.formula.id).copied().unwrap_or_default(),
            },
        ));
    }
    cards.sort_by(|(left, _), (right, _)| right.cmp(left));
    Ok(cards.into_iter().map(|(_, card)| card).collect())
}

/// All formulas with a summary of their newest version.
pub(super) async fn summarised(desk: &WorkspaceDesk) -> Answer<Vec<(FormulaHead, Summary)>> {
    let heads = desk.inner.workspace.formulas().await.map_err(|error| stored(&error))?;
    desk.work(move |desk| {
        heads
            .into_iter()
            .map(|head| {
                let summary = summary(desk, &head.newest.what.sha256, &head.newest.what.text);
                (head, summary)
            })
            .collect()
    })
    .await
}

fn summary(desk: &Inner, sha256: &str, text: &str) -> Summary {
    let of = (desk.day(), desk.shelf.generation());
    {
        let mut ready = held(&desk.summaries);
        if ready.of != Some(of) {
            *ready = Summaries { of: Some(of), by_content: BTreeMap::new() };
        }
        if let Some(summary) = ready.by_content.get(sha256) {
            return summary.clone();
        }
    }
    let made = summarise(&desk.shelf.facts(), of.0, &desk.setup.market, FILE, text);
    let mut ready = held(&desk.summaries);
    if ready.of == Some(of) {
        ready.by_content.insert(sha256.to_owned(), made.clone());
    }
    made
}
