//! The chain that makes a silent change show: every record carries the hash of its own content and a link made from the link
//! before it. Both stores and the check use these functions, so that they cannot disagree.
//!
//! What it proves: no record was changed, dropped or slipped in by hand after it was written, as long as somebody noted a later
//! link elsewhere (it is in every export). What it does not: whoever may write the file can forge a whole new chain.

use sha2::{Digest, Sha256};

use crate::records::How;
use crate::store::Entry;

/// SHA-256, lower-case hexadecimal.
#[must_use]
pub fn content_hash(bytes: &[u8]) -> String {
    hexadecimal(&Sha256::digest(bytes))
}

/// The link before the first.
pub const FIRST_LINK: &str = "0000000000000000000000000000000000000000000000000000000000000000";

/// The hash of a record's content: every field with its length before it, so that no two contents run into each other. How it is
/// known who wrote it comes last, and only where somebody had logged in: records from before there were logins keep their hash.
#[must_use]
pub fn entry_hash(entry: &Entry, number: u32) -> String {
    let mut hasher = Sha256::new();
    let mut field = |bytes: &[u8]| {
        hasher.update(u64::try_from(bytes.len()).unwrap_or(u64::MAX).to_be_bytes());
        hasher.update(bytes);
    };
    field(entry.id.as_bytes());
    field(entry.kind.word().as_bytes());
    field(entry.scope.as_bytes());
    field(&number.to_be_bytes());
    if let Some((kind, id)) = entry.parent {
        field(kind.word().as_bytes());
        field(id.as_bytes());
    } else {
        field(b"");
        field(b"");
    }
    if let Some((id, reason)) = &entry.corrects {
        field(id.as_bytes());
        field(reason.as_bytes());
    } else {
        field(b"");
        field(b"");
    }
    field(entry.who.as_bytes());
    field(entry.when.to_string().as_bytes());
    field(entry.body.as_bytes());
    field(entry.photo_sha256.as_deref().unwrap_or("").as_bytes());
    if entry.how != How::Initialled {
        field(entry.how.word().as_bytes());
    }
    hexadecimal(&hasher.finalize())
}

/// The link of a record: from the link before it, its place and its content.
#[must_use]
pub fn link(before: &str, sequence: u64, entry_hash: &str) -> String {
    let mut hasher = Sha256::new();
    hasher.update(before.as_bytes());
    hasher.update(sequence.to_be_bytes());
    hasher.update(entry_hash.as_bytes());
    hexadecimal(&hasher.finalize())
}

fn hexadecimal(bytes: &[u8]) -> String {
    const DIGITS: &[u8; 16] = b"0123456789abcdef";
    bytes
        .iter()
        .flat_map(|byte| [byte >> 4, byte & 15])
        .map(|digit| char::from(DIGITS[usize::from(digit)]))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::records::Kind;
    use uuid::Uuid;

    /// Both computed by Python's hashlib 3.11 from the same fields, each behind its length as eight bytes: the first without any word
    /// of how the writer is known, as all records were before there were logins.
    const INITIALLED: &str = "deaa88f4dbf1df6f543acae287acfe9006a090c8ba6522e939e18eda3d598fe7";
    const AUTHENTICATED: &str = "0e10557ffc3eea2246d2dbdf75678d636d5dd9aaf972f45ef622d9723ce8f129";

    #[test]
    fn a_record_from_before_there_were_logins_keeps_its_hash() {
        let mut entry = Entry {
            id: Uuid::nil(),
            kind: Kind::Lot,
            scope: String::new(),
            parent: None,
            corrects: None,
            who: "Ines Marrow".to_owned(),
            how: How::Initialled,
            when: "2026-11-24T09:00:00Z".parse().unwrap(),
            body: "{}".to_owned(),
            photo_sha256: None,
        };
        assert_eq!(entry_hash(&entry, 1), INITIALLED);
        entry.how = How::Authenticated;
        assert_eq!(entry_hash(&entry, 1), AUTHENTICATED);
    }
}
