//! Tables brought in, from the routes to the verbs and back.

use super::WorkspaceDesk;
use super::shelf::Shelf;
use super::troubles::stored;
use crate::bringing::{Asked, BringingDesk, Brought, Preview, What};
use crate::desk::{Answer, MeasuredFile};
use crate::trouble::{Kind, Place, Trouble};
use async_trait::async_trait;
use levigate_project::bringing::{BringError, bring, look, standing};
use levigate_project::diagnostic::Diagnostic;
use levigate_project::people::Right;
use levigate_project::workbench::complaint::sentence;

#[async_trait]
impl BringingDesk for WorkspaceDesk {
    async fn look_at_table(&self, file: MeasuredFile, asked: Asked) -> Answer<Preview> {
        let standing = standing(&self.inner.workspace, asked.what).await.map_err(|error| stored(&error))?;
        self.work(move |desk| {
            let facts = desk.shelf.facts();
            let on_file = standing.on_file(&facts, desk.day(), desk.hand.may(Right::JudgeLots).is_ok());
            look(&on_file, &file.name, &file.bytes, &asked).map_err(|problems| unreadable(&problems))
        })
        .await?
    }

    async fn bring_in(&self, file: MeasuredFile, asked: Asked) -> Answer<Brought> {
        let inner = &self.inner;
        let facts = inner.shelf.facts();
        let decides = inner.hand.may(Right::JudgeLots).is_ok();
        let brought = bring(
            &inner.workspace,
            (&facts, inner.day()),
            (&inner.setup.person, decides),
            (&file.name, &file.bytes),
            &asked,
        )
        .await
        .map_err(|error| not_brought(&error))?;
        if asked.what == What::Material {
            let texts = Shelf::texts(&inner.workspace).await?;
            self.work(move |desk| desk.shelf.lay(&texts)).await?;
        }
        Ok(brought)
    }
}

fn not_brought(error: &BringError) -> Trouble {
    match error {
        BringError::Table(problems) => unreadable(problems),
        BringError::NotReady(preview) => Trouble::new(
            Kind::BadInput,
            "not-ready",
            "Nothing was brought in.",
            preview.missing.join(" "),
            "Answer what is asked, and mend the rows that are not understood or leave them out.",
        )
        .in_field("rows"),
        BringError::Store(error) => stored(error),
    }
}

/// The table cannot be read at all.
pub(super) fn unreadable(problems: &[Diagnostic]) -> Trouble {
    let Some(first) = problems.first() else { return Trouble::broken() };
    // What was asked of the table does not fit it; the table itself can be read.
    let of_question = first.code.starts_with("no-such-");
    let usual = if of_question { "asked" } else { "file" };
    let place = Place {
        line: Some(first.line).filter(|line| *line > 0),
        column: None,
        field: Some(if first.field.is_empty() { usual.to_owned() } else { first.field.clone() }),
    };
    let why = if of_question {
        "The table stays as it was read before."
    } else {
        "The table cannot be read as it stands."
    };
    Trouble::new(Kind::BadInput, "table", sentence(&first.what), why, sentence(&first.what_now)).at(place)
}
