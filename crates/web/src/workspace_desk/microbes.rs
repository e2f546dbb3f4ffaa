//! Counts of a finished product, from the routes to the verb and back.

use super::WorkspaceDesk;
use super::folders::{id_of, newest};
use super::judging::value;
use super::troubles::{diagnosed, not_kept, stored};
use crate::desk::Answer;
use crate::microbes::{MicrobesDesk, MicrobesPage};
use async_trait::async_trait;
use levigate_project::records::{Kept, Trial};
use levigate_project::workbench::citations::citations_in;
use levigate_project::workbench::complaint::sentence;
use levigate_project::workbench::proof::microbes::{TypedMicrobes, microbes_typed, read_typed};

#[async_trait]
impl MicrobesDesk for WorkspaceDesk {
    async fn microbes(&self, formula: &str, typed: &TypedMicrobes) -> Answer<MicrobesPage> {
        let (desk, id) = (&self.inner, id_of(formula)?);
        let version = newest(desk, id).await?;
        let formula = desk.workspace.get(id).await.map_err(|error| stored(&error))?;
        let trials: Vec<Kept<Trial>> = desk.workspace.of(id).await.map_err(|error| stored(&error))?;
        let typed = typed.clone();
        self.work(move |desk| {
            let facts = desk.shelf.facts();
            let asked = read_typed(&facts.rules, &typed).map_err(|error| not_kept("counts", &error))?;
            let text = ("formula", version.what.text.as_str());
            let reading = microbes_typed(&facts, (desk.day(), &desk.setup.market), &asked, text)
                .map_err(|problems| diagnosed("formula-file", &problems))?;
            Ok(MicrobesPage {
                formula: id.to_string(),
                name: formula.what.name,
                trials: trials.iter().rev().map(|one| (one.id, one.number, one.what.version)).collect(),
                platings: facts
                    .rules
                    .plating
                    .values()
                    .map(|one| (one.key.clone(), sentence(&one.words).trim_end_matches('.').to_owned()))
                    .collect(),
                sources: citations_in(&facts, &value(&reading)),
                reading,
            })
        })
        .await?
    }
}
