//! What could stand in the place of a raw material, from the routes to the verbs and back.

use super::bench::flow;
use super::folders::{id_of, kept, newest};
use super::judging::value;
use super::list::summarised;
use super::{Inner, WorkspaceDesk};
use crate::desk::{Answer, Draft};
use crate::draft_sheet;
use crate::instead::{InsteadDesk, InsteadPage, InsteadTold, SameSubstance, UsedIn};
use crate::trouble::{Kind, Trouble};
use async_trait::async_trait;
use levigate_project::formula_file;
use levigate_project::workbench::citations::citations_in;
use levigate_project::workbench::complaint::sentence;
use levigate_project::workbench::materials::find_materials;
use levigate_project::workbench::proof::substitute::{
    KeptFormula, Substituted, SubstitutionReading, candidates, main_substance, substitute_in,
};

/// How many of the nearest.
const MOST: usize = 5;
/// Raw materials that can be named.
const MOST_NAMED: usize = 2_000;

fn asked(key: &str, with: &[String]) -> Substituted {
    Substituted { material: key.to_owned(), with: with.to_vec(), most: MOST }
}

fn unknown() -> Trouble {
    Trouble::not_found("There is no such raw material.")
}

#[async_trait]
impl InsteadDesk for WorkspaceDesk {
    async fn instead(&self, key: &str, with: &[String]) -> Answer<InsteadPage> {
        let (own, asked) = (key.to_owned(), asked(key, with));
        let (reading, brings, others) = self
            .work(move |desk| {
                let facts = desk.shelf.facts();
                let on = (desk.day(), desk.setup.market.as_str());
                let reading = candidates(&facts, on, &asked).map_err(|_| unknown())?;
                let named = find_materials(&facts.library, "", MOST_NAMED).materials;
                let others = named.into_iter().filter(|hit| hit.key != own).map(|hit| (hit.key, hit.name));
                let brings = main_substance(&facts, &own);
                Ok::<_, Trouble>((reading, brings, others.collect()))
            })
            .await??;
        let (mut formulas, mut same_substance) = (Vec::new(), Vec::new());
        let facts = self.inner.shelf.facts();
        for (head, summary) in summarised(self).await? {
            let id = head.formula.id.to_string();
            let others = summary.materials.iter().filter(|other| *other != key);
            same_substance.extend(others.filter_map(|other| facts.library.materials.get(other)).filter_map(
                |other| {
                    let has = other.constituents.iter().any(|part| Some(&part.substance) == brings.as_ref());
                    has.then(|| SameSubstance {
                        id: id.clone(),
                        name: summary.name.clone(),
                        material: other.name.clone(),
                    })
                },
            ));
            if summary.materials.contains(key) {
                let draft = kept(&self.inner, head.formula.id).await?.is_some();
                formulas.push(UsedIn { id, name: summary.name, version: head.newest.number, draft });
            }
        }
        Ok(InsteadPage { key: key.to_owned(), reading, formulas, same_substance, others })
    }

    async fn instead_in(&self, key: &str, formula: &str, with: &[String]) -> Answer<InsteadTold> {
        let reading = substituted(self, key, formula, with).await?;
        let facts = self.inner.shelf.facts();
        let sources = citations_in(&facts, &value(&reading));
        Ok(InsteadTold { reading, sources })
    }

    async fn instead_draft(&self, key: &str, formula: &str, line: usize, with: &str) -> Answer<Draft> {
        let own_facts = own_facts(&self.inner, formula).await?;
        let reading = substituted(self, key, formula, &[with.to_owned()]).await?;
        let lines = reading.candidates.into_iter().flat_map(|one| one.formulas);
        let sheet = lines.filter(|one| one.line == line).find_map(|one| one.sheet);
        let sheet = sheet.ok_or_else(|| {
            Trouble::new(
                Kind::BadInput,
                "no-such-formula",
                "There is no formula with it.",
                "The formula does not use the one that is gone, or cannot be solved with the other.",
                "Look at what the page says of this candidate.",
            )
            .in_field("with")
        })?;
        Ok(Draft { own_facts, ..draft_sheet::write(&sheet) })
    }
}

/// The facts the newest version of a formula brings along.
async fn own_facts(desk: &Inner, formula: &str) -> Answer<String> {
    let newest = newest(desk, id_of(formula)?).await?;
    let file = formula_file::read(formula, &newest.what.text).ok();
    Ok(file.and_then(|file| file.own_facts).unwrap_or_default())
}

/// Candidates put into the newest version of one formula.
async fn substituted(
    desk: &WorkspaceDesk,
    key: &str,
    formula: &str,
    with: &[String],
) -> Answer<SubstitutionReading> {
    let newest = newest(&desk.inner, id_of(formula)?).await?;
    let text = newest.what.text;
    let name = formula_file::read(formula, &text).map(|file| file.sheet.product.name).unwrap_or_default();
    let kept =
        KeptFormula { id: formula.to_owned(), name: format!("{name}, version {}", newest.number), text };
    let (asked, known) = (asked(key, with), flow(desk).await?);
    desk.work(move |desk| {
        let facts = desk.shelf.facts();
        let on = (desk.day(), desk.setup.market.as_str());
        substitute_in(&facts, on, Some(known.for_formula(&kept.id)), &kept, &asked).map_err(|why| {
            Trouble::new(
                Kind::BadInput,
                "not-read",
                format!("{} cannot be looked at.", kept.name),
                sentence(&why),
                "Open it and mend what its sheet says is wrong.",
            )
            .in_field("formula")
        })
    })
    .await?
}
