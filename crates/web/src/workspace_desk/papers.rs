//! Documents, from the routes to the verbs and onto paper.

use super::folders::{FILE, id_of};
use super::paper::order;
use super::troubles::{diagnosed, stored};
use super::{Inner, WorkspaceDesk};
use crate::desk::{Answer, BatchRequest};
use crate::papers::{Form, PaperDesk, no_such_paper};
use crate::trouble::{Kind, Trouble};
use async_trait::async_trait;
use jiff::civil::Date;
use levigate_documents::{
    Document, DocumentError, Paper, blank_record, deviation_list, document_xlsx, filled_record, label_text,
    sheet_document, specification_paper, submission_paper, two_trials,
};
use levigate_project::records::Formula;
use levigate_project::workbench::batch as verbs;
use levigate_project::workbench::complaint::sentence;
use levigate_project::workbench::label::label;
use levigate_project::workbench::sheet::{batch_sheet, version_code};
use levigate_project::workbench::specification::specification;
use levigate_project::workbench::submission::submission;

fn unmade(error: &DocumentError) -> Trouble {
    Trouble::new(
        Kind::Failed,
        "document",
        sentence(&error.to_string()),
        "The document could not be made.",
        sentence(error.hint()),
    )
}

#[cfg(feature = "pdf")]
fn pdf(document: &Document, paper: Paper) -> Answer<Vec<u8>> {
    levigate_documents::document_pdf(document, paper).map_err(|error| unmade(&error))
}

#[cfg(not(feature = "pdf"))]
fn pdf(_: &Document, _: Paper) -> Answer<Vec<u8>> {
    Err(super::paper::without_pdf())
}

fn written(document: &Document, (form, paper): (Form, Paper)) -> Answer<Vec<u8>> {
    match form {
        Form::Pdf => pdf(document, paper),
        Form::Workbook => document_xlsx(document, paper).map_err(|error| unmade(&error)),
    }
}

/// A document about the text of a formula.
fn about_formula(desk: &Inner, order: &super::paper::Order, what: &str) -> Answer<Document> {
    let (facts, day, market) = (desk.shelf.facts(), desk.day(), desk.setup.market.as_str());
    let text = &order.text;
    let document = match what {
        "sheet" => batch_sheet(&facts, day, &order.bench, FILE, text).map(|sheet| sheet_document(&sheet)),
        "specification" => specification(&facts, day, market, FILE, text).map(|of| specification_paper(&of)),
        "submission" => submission(&facts, day, market, FILE, text).map(|of| submission_paper(&of)),
        "label" => label(&facts, day, market, FILE, text).map(|of| label_text(&of, &version_code(text))),
        _ => return Err(no_such_paper()),
    };
    document.map_err(|list| diagnosed("batch-sheet", &list))
}

#[async_trait]
impl PaperDesk for WorkspaceDesk {
    async fn batch_paper(&self, batch: &str, what: &str, how: (Form, Paper)) -> Answer<Vec<u8>> {
        let workspace = &self.inner.workspace;
        let batch = verbs::batch_called(workspace, batch).await.map_err(|error| stored(&error))?;
        let document = match what {
            "deviations" => {
                let list = verbs::deviations_of(workspace, &batch).await.map_err(|error| stored(&error))?;
                deviation_list(&list)
            }
            "record" | "blank" => {
                let facts = self.inner.shelf.facts();
                let record = verbs::batch_record(workspace, &facts, batch.id).await;
                let record = record.map_err(|error| stored(&error))?;
                if what == "blank" { blank_record(&record) } else { filled_record(&record) }
            }
            _ => return Err(no_such_paper()),
        };
        self.work(move |_| written(&document, how)).await?
    }

    async fn formula_paper(&self, request: &BatchRequest, what: &str, how: (Form, Paper)) -> Answer<Vec<u8>> {
        let order = order(&self.inner, request).await?;
        let what = what.to_owned();
        self.work(move |desk| written(&about_formula(desk, &order, &what)?, how)).await?
    }

    async fn two_trials_paper(&self, formula: &str, pair: [u32; 2], how: (Form, Paper)) -> Answer<Vec<u8>> {
        let told = super::bench::trial_effects(self, formula, pair).await?;
        let id = id_of(formula)?;
        let kept = self.inner.workspace.get::<Formula>(id).await.map_err(|error| stored(&error))?;
        let day = self.inner.day();
        self.work(move |_| written(&two_trials(&told, &kept.what.name, day), how)).await?
    }

    async fn deviations_paper(&self, span: (Date, Date), how: (Form, Paper)) -> Answer<Vec<u8>> {
        let list = verbs::deviations_between(&self.inner.workspace, span).await;
        let list = list.map_err(|error| stored(&error))?;
        self.work(move |_| written(&deviation_list(&list), how)).await?
    }

    async fn version_code_of_batch(&self, batch: &str) -> Answer<String> {
        let found = verbs::batch_called(&self.inner.workspace, batch).await;
        let found = found.map_err(|error| stored(&error))?;
        Ok(found.what.plan.version_code)
    }
}
