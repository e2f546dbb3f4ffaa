//! A whole workspace as plain files.

use super::{Workspace, open};
use crate::audit::FIRST_LINK;
use crate::records::{FormulaVersion, Kept, Kind, MediaType};
use crate::store::{LogEntry, Select, StoreError};

/// One file of an export.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ExportFile {
    /// Path inside the export, with `/`, made of plain letters, digits, `-`, `_` and `.` only.
    pub path: String,
    /// Its bytes.
    pub bytes: Vec<u8>,
}

impl Workspace {
    /// The whole workspace as plain files, handed over one by one: every formula version as the file it was saved as, every
    /// kind of record as JSON lines, every photo, and the end of the chain.
    ///
    /// # Errors
    /// The medium failed, or the receiver did.
    pub async fn export<E: From<StoreError>>(
        &self,
        mut receive: impl FnMut(ExportFile) -> Result<(), E> + Send,
    ) -> Result<(), E> {
        let log = self.store.read(&Select::All).await?;
        for kind in Kind::ALL {
            let mut lines = Vec::new();
            for found in log.iter().filter(|found| found.entry.kind == kind) {
                lines.extend_from_slice(json_line(found).as_bytes());
            }
            receive(ExportFile { path: format!("records/{}.jsonl", kind.word()), bytes: lines })?;
        }
        for found in log.iter().filter(|found| found.entry.kind == Kind::FormulaVersion) {
            let kept: Kept<FormulaVersion> = open(found)?;
            let path = format!("formulas/{}/version-{}.toml", kept.what.formula, kept.number);
            receive(ExportFile { path, bytes: kept.what.text.into_bytes() })?;
        }
        for found in log.iter().filter(|found| found.entry.photo_sha256.is_some()) {
            let Some(photo) = self.store.photo(found.entry.id).await? else { continue };
            let ending = MediaType::extension(photo.media());
            receive(ExportFile {
                path: format!("photos/{}.{ending}", found.entry.id),
                bytes: photo.bytes().to_vec(),
            })?;
        }
        let (length, link) = log.last().map_or((0, FIRST_LINK), |last| (last.sequence, last.link.as_str()));
        receive(ExportFile { path: "chain.txt".to_owned(), bytes: format!("{length} {link}\n").into_bytes() })
    }
}

/// A sealed record as one line of JSON. Its content stands last, byte for byte as it was kept, so that the hash can be proved
/// from the export alone.
fn json_line(found: &LogEntry) -> String {
    let entry = &found.entry;
    let envelope = serde_json::json!({
        "sequence": found.sequence,
        "id": entry.id.to_string(),
        "kind": entry.kind,
        "scope": entry.scope,
        "number": found.number,
        "belongs_to": entry.parent.map(|(_, id)| id.to_string()),
        "corrects": entry.corrects.as_ref().map(|(id, _)| id.to_string()),
        "reason_for_correction": entry.corrects.as_ref().map(|(_, reason)| reason),
        "who": entry.who,
        "how": entry.how,
        "when": entry.when,
        "photo_sha256": entry.photo_sha256,
        "hash": found.hash,
        "link": found.link,
    });
    let envelope = envelope.to_string();
    format!("{},\"what\":{}}}\n", envelope.trim_end_matches('}'), entry.body)
}
