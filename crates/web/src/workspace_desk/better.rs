//! The better formula, from the routes to the verbs and back.

use super::bench::flow;
use super::folders::{FILE, draft_of, edit, id_of, kept, newest, text_of};
use super::judging::value;
use super::troubles::{diagnosed, refused, stored, unreadable};
use super::{Inner, WorkspaceDesk};
use crate::better::{BetterDesk, BetterForm, BetterGround, SearchFound, SearchView};
use crate::desk::{Answer, Draft};
use crate::draft_sheet;
use crate::trouble::Trouble;
use async_trait::async_trait;
use levigate_project::facts::Facts;
use levigate_project::formula_file::{self, FormulaFile};
use levigate_project::records::{Draft as Stored, Formula, Id};
use levigate_project::store::DraftKey;
use levigate_project::workbench::citations::citations_in;
use levigate_project::workbench::draft::market_of;
use levigate_project::workbench::proof::better_form::started;
use levigate_project::workbench::proof::optimise::{Optimised, WORDS, optimise_file};
use std::sync::Arc;

/// The question is kept as what is being typed beside the sheet, under a name of its own.
const TAB: &str = "better";

/// What is on the sheet: the draft kept, else the newest version.
async fn on_sheet(desk: &Inner, id: Id<Formula>) -> Answer<(String, Draft)> {
    let newest = newest(desk, id).await?;
    let draft = draft_of(&newest.what.text)?;
    Ok(match kept(desk, id).await?.filter(|kept| kept.draft != draft) {
        Some(kept) => (format!("the draft after version {}", kept.base), kept.draft),
        None => (format!("version {}", newest.number), draft),
    })
}

/// The question kept of a formula. One that an older program kept in a form unknown now is passed over.
async fn question(desk: &Inner, id: Id<Formula>) -> Answer<Option<BetterForm>> {
    let drafts = desk.workspace.drafts(Some(id)).await.map_err(|error| stored(&error))?;
    let found = drafts.into_iter().rev().find(|draft| draft.tab == TAB);
    Ok(found.and_then(|draft| serde_json::from_str(&draft.text).ok()))
}

/// A draft as a formula file with the facts it is read with.
fn read(desk: &Inner, draft: &Draft) -> Answer<(FormulaFile, Arc<Facts>)> {
    let text = text_of(desk, draft)?;
    let file = formula_file::read(FILE, &text).map_err(|list| diagnosed("formula-file", &list))?;
    let facts = desk.shelf.facts_with(&draft.own_facts).map_err(|remarks| unreadable(&remarks, "read"))?;
    Ok((file, facts))
}

#[async_trait]
impl BetterDesk for WorkspaceDesk {
    async fn better_ground(&self, formula: &str) -> Answer<BetterGround> {
        let id = id_of(formula)?;
        let (of, draft) = on_sheet(&self.inner, id).await?;
        let question = question(&self.inner, id).await?;
        let (formula, known) = (formula.to_owned(), flow(self).await?);
        self.work(move |desk| {
            let (file, facts) = read(desk, &draft)?;
            let market = market_of(&file.sheet, &desk.setup.market, &facts.rules);
            let bench = Some(known.for_formula(&formula));
            let started = started(&facts, (desk.day(), market), &file, bench, question.as_ref());
            let currency = facts.library.materials.values().flat_map(|one| &one.prices).next();
            let unit = |unit: &str| match currency {
                Some(price) => unit.replace("currency", &price.currency),
                None => unit.to_owned(),
            };
            Ok(BetterGround {
                id: formula,
                name: file.sheet.product.name.clone(),
                of,
                started,
                kept: question.is_some(),
                words: WORDS.iter().map(|(word, own, name)| (*word, unit(own), *name)).collect(),
            })
        })
        .await?
    }

    async fn keep_better(&self, formula: &str, form: &BetterForm) -> Answer<()> {
        let (desk, id) = (&self.inner, id_of(formula)?);
        let based_on = newest(desk, id).await?.number;
        let _alone = desk.drafting.lock().await;
        let (when, edit) = edit(desk);
        let text = serde_json::to_string(form).map_err(|_| Trouble::broken())?;
        let who = desk.setup.person.clone();
        let kept = Stored { formula: Some(id), tab: TAB.to_owned(), edit, based_on, text, who, when };
        desk.workspace.keep_draft(&kept).await.map_err(|error| stored(&error))
    }

    async fn forget_better(&self, formula: &str) -> Answer<()> {
        let key = DraftKey { formula: Some(id_of(formula)?), tab: TAB.to_owned() };
        self.inner.workspace.discard_draft(&key).await.map_err(|error| stored(&error))
    }

    async fn better_file(&self, formula: &str, form: &BetterForm) -> Answer<String> {
        let (_, draft) = on_sheet(&self.inner, id_of(formula)?).await?;
        let form = form.clone();
        self.work(move |desk| {
            let (file, facts) = read(desk, &draft)?;
            form.asked(&file, &facts).map_err(|faults| refused("better", &faults))?;
            let tables = form.tables(&file).map_err(|faults| refused("better", &faults))?;
            Ok(format!("{}\n{tables}", text_of(desk, &draft)?))
        })
        .await?
    }

    async fn begin_search(&self, formula: &str, form: &BetterForm) -> Answer<String> {
        let (_, draft) = on_sheet(&self.inner, id_of(formula)?).await?;
        let (formula, form, known) = (formula.to_owned(), form.clone(), flow(self).await?);
        let (file, facts, asked) = self
            .work(move |desk| {
                let (file, facts) = read(desk, &draft)?;
                let asked = form.asked(&file, &facts).map_err(|faults| refused("better", &faults))?;
                Ok::<_, Trouble>((file, facts, asked))
            })
            .await??;
        let (name, search) = self.inner.searches.begin()?;
        let desk = Arc::clone(&self.inner);
        tokio::task::spawn_blocking(move || {
            let asked_on = (desk.day(), market_of(&file.sheet, &desk.setup.market, &facts.rules));
            let bench = Some(known.for_formula(&formula));
            let mut watch = |read: usize, best: Option<f64>| search.goes_on(read, best);
            // A panic must not leave a search that seems to go on.
            let found = std::panic::catch_unwind(std::panic::AssertUnwindSafe(|| {
                optimise_file((&facts, bench), asked_on, &file, &asked, &mut watch)
            }));
            search.through(match found {
                Ok(Ok(found)) => Ok(told(&facts, &file, &found)),
                Ok(Err(list)) => Err(diagnosed("no-answer", &list)),
                Err(_) => Err(Trouble::broken()),
            });
        });
        Ok(name)
    }

    async fn search(&self, search: &str) -> Answer<SearchView> {
        self.inner.searches.view(search)
    }

    async fn end_search(&self, search: &str) -> Answer<SearchView> {
        self.inner.searches.end(search)
    }
}

/// What was found, in the shapes of the page.
fn told(facts: &Facts, file: &FormulaFile, found: &Optimised) -> SearchFound {
    let reading = value(&found.reading);
    let own_facts = file.own_facts.clone().unwrap_or_default();
    let drafts = found.reading.sheets.iter();
    SearchFound {
        drafts: drafts
            .map(|sheet| Draft { own_facts: own_facts.clone(), ..draft_sheet::write(sheet) })
            .collect(),
        sources: citations_in(facts, &reading),
        reading,
    }
}
