//! Challenge tests, from the routes to the verbs and back.

use super::WorkspaceDesk;
use super::bench::{entered, entered_once, entry};
use super::bringing::unreadable;
use super::folders::id_of;
use super::plates::plate;
use super::troubles::{not_kept, stored};
use crate::challenge::{ChallengeDesk, ChallengePage};
use crate::desk::{Answer, Correction, Entered, MeasuredFile, Plate};
use async_trait::async_trait;
use levigate_documents::figure::{KillingFigure, KillingLine, KillingPoint, Rendition};
use levigate_project::bringing::{CountTable, count_table};
use levigate_project::records::{ChallengeTest, Id};
use levigate_project::workbench::challenge_tests::{
    ChallengeRead, TypedChallenge, challenge_book, correct_challenge, gather_challenge, keep_challenge,
    lines_of, points_of,
};
use levigate_project::workbench::complaint::sentence;

#[async_trait]
impl ChallengeDesk for WorkspaceDesk {
    async fn challenge_tests(&self, formula: &str) -> Answer<ChallengePage> {
        let id = id_of(formula)?;
        let records = gather_challenge(&self.inner.workspace, id).await.map_err(|error| stored(&error))?;
        self.work(move |desk| {
            let book = challenge_book(&desk.shelf.facts(), &records);
            let plates = book.tests.iter().map(drawn).collect();
            ChallengePage { book, plates }
        })
        .await
    }

    async fn keep_challenge(&self, formula: &str, typed: &TypedChallenge) -> Answer<Entered> {
        let (desk, formula) = (&self.inner, id_of(formula)?);
        let kept = keep_challenge(&desk.workspace, &desk.setup.person, formula, typed).await;
        kept.map(|once| entered_once(&once)).map_err(|error| not_kept("challenge test", &error))
    }

    async fn correct_challenge(&self, id: &str, correction: &Correction<TypedChallenge>) -> Answer<Entered> {
        let (desk, id): (_, Id<ChallengeTest>) = (&self.inner, entry(id)?);
        let (reason, instead) = (&correction.reason, correction.instead.as_ref());
        let kept = correct_challenge(&desk.workspace, &desk.setup.person, id, reason, instead).await;
        kept.map(|kept| entered(&kept)).map_err(|error| not_kept("challenge test", &error))
    }

    async fn challenge_table(&self, file: MeasuredFile) -> Answer<CountTable> {
        self.work(move |_| count_table(&file.name, &file.bytes).map_err(|problems| unreadable(&problems)))
            .await?
    }
}

/// One figure per organism of a test that stands.
fn drawn(read: &ChallengeRead) -> Vec<Plate> {
    let Some(reading) = &read.reading else { return Vec::new() };
    points_of(&read.test)
        .into_iter()
        .enumerate()
        .map(|(place, (organism, points))| {
            let dying = reading.dying.iter().find(|one| one.organism == organism);
            let lines = dying.map(lines_of).unwrap_or_default();
            let figure = KillingFigure {
                id: format!("killing-{}-{place}", read.number),
                title: organism,
                unit: read.test.unit.clone(),
                points: points
                    .into_iter()
                    .map(|one| KillingPoint { day: f64::from(one.day), log: one.log, below: one.below })
                    .collect(),
                lines: lines
                    .into_iter()
                    .map(|(day, straight, bent)| KillingLine { day, straight, bent })
                    .collect(),
            };
            let told = dying.map_or_else(String::new, |one| sentence(&one.bend.words));
            let caption = format!("Rings were counted, triangles lie below the floor they stand on. {told}");
            plate(&figure.id, figure.title.clone(), caption, figure.svg(Rendition::Screen), figure.table())
        })
        .collect()
}
