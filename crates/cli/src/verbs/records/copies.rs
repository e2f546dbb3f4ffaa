//! `records check`, `backup`, `restore`: the records of a workspace as a whole.

use crate::answer::{Answer, Failure};
use crate::arguments::{Backup, Common, Restore, Where};
use crate::paper::{Look, Paper};
use crate::place;
use crate::shelf::{Shelf, Want, block_on, no_home, refused};
use jiff::Timestamp;
use levigate_project::store::StoreError;
use levigate_store::{Copied, back_up, restore};
use serde::Serialize;
use std::path::PathBuf;

#[derive(Serialize)]
struct Checked {
    holds: bool,
    records: u64,
    link: String,
    signatures: Vec<Signature>,
}

#[derive(Serialize)]
struct Signature {
    batch: String,
    who: String,
    signed_as: &'static str,
    records: usize,
    holds: bool,
}

/// Proves the records.
pub(crate) fn check(common: &Common, place: &Where, look: Look) -> Result<Answer, Failure> {
    block_on(async {
        let shelf = Shelf::open(common, place, Want::Read).await?;
        let head = shelf.workspace.verify().await.map_err(|error| damaged(&error))?;
        let signatures: Vec<Signature> = shelf
            .workspace
            .signatures()
            .await
            .map_err(|error| damaged(&error))?
            .into_iter()
            .map(|(batch, signed, holds)| Signature {
                batch,
                who: signed.who,
                signed_as: signed.what.signed_as.words(),
                records: signed.what.records,
                holds,
            })
            .collect();
        if let Some(broken) = signatures.iter().find(|one| !one.holds) {
            return Err(Failure::could_not(
                "signature-broken",
                format!(
                    "the signature of {} on batch {} does not hold what it covers",
                    broken.who, broken.batch
                ),
                "keep a copy of the folder and compare it with the last good backup",
            ));
        }
        let checked = Checked { holds: true, records: head.length, link: head.link, signatures };
        if common.json {
            return Answer::json(&checked);
        }
        let mut paper = Paper::new(look);
        paper.title("The records hold.");
        paper.paragraph(
            0,
            &format!(
                "{} records are as they were written: contents, chain, photos, the index of lots; {} signatures hold what they cover.",
                checked.records,
                checked.signatures.len()
            ),
        );
        paper.hanging(0, "last link:", &checked.link);
        paper.paragraph(
            0,
            "Note it elsewhere: whoever may write the file could make a whole new chain, but not this link again.",
        );
        Ok(Answer::text(paper.finish()))
    })
}

/// What does not hold is not the caller's input.
fn damaged(error: &StoreError) -> Failure {
    match error {
        StoreError::Damaged { .. } => Failure::could_not("records-damaged", error.to_string(), error.hint()),
        other => refused(other),
    }
}

#[derive(Serialize)]
struct Written {
    folder: String,
    records: u64,
    link: String,
    facts_files: usize,
}

impl From<&Copied> for Written {
    fn from(copied: &Copied) -> Self {
        Self {
            folder: copied.folder.display().to_string(),
            records: copied.head.length,
            link: copied.head.link.clone(),
            facts_files: copied.facts,
        }
    }
}

/// Copies a workspace.
pub(crate) fn backup(common: &Common, asked: &Backup, look: Look) -> Result<Answer, Failure> {
    let workspace: PathBuf = match &asked.place.workspace {
        Some(folder) => folder.clone(),
        None => place::sample().ok_or_else(no_home)?,
    };
    block_on(async {
        let copied = back_up(&workspace, asked.out.as_deref(), Timestamp::now()).await;
        answer(common, look, copied, "The copy is whole.")
    })
}

/// Restores a workspace.
pub(crate) fn restored(common: &Common, asked: &Restore, look: Look) -> Result<Answer, Failure> {
    block_on(async {
        let copied = restore(&asked.copy, &asked.folder).await;
        answer(common, look, copied, "The workspace is restored.")
    })
}

fn answer(
    common: &Common,
    look: Look,
    copied: Result<Copied, StoreError>,
    title: &str,
) -> Result<Answer, Failure> {
    let copied = copied.map_err(|error| damaged(&error))?;
    let written = Written::from(&copied);
    if common.json {
        return Answer::json(&written);
    }
    let mut paper = Paper::new(look);
    paper.title(title);
    paper.hanging(0, "folder:", &written.folder);
    paper.paragraph(
        0,
        &format!(
            "{} records, proved by opening it and walking the chain; {} files of own facts.",
            written.records, written.facts_files
        ),
    );
    paper.hanging(0, "last link:", &written.link);
    Ok(Answer::text(paper.finish()))
}
