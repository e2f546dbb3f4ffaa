//! The identifier that stands on every printed page, in letters and as a QR code, and by which a sheet that comes back is known.
//!
//! `LEVIGATE/RECORD/QL-2611-04/7F3A20C1D2E3/2` is page 2 of a batch record; a paper about a version has no batch in it. It is a name
//! and nothing to open: no address, nothing that leaves the house. Capital letters, digits and `/` keep the QR code coarse.

const HOUSE: &str = "LEVIGATE";

/// Identifier of a paper about a version of a formula.
#[must_use]
pub fn of_version(what: &str, version_code: &str) -> String {
    format!("{HOUSE}/{what}/{version_code}").to_uppercase()
}

/// Identifier of a paper about a batch.
#[must_use]
pub fn of_batch(what: &str, batch: &str, version_code: &str) -> String {
    format!("{HOUSE}/{what}/{batch}/{version_code}").to_uppercase()
}

/// What an identifier on a paper about a batch says.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PaperCode {
    /// Code of the batch.
    pub batch: String,
    /// Code of the version it is made of.
    pub version_code: String,
    /// Page, where it is in it.
    pub page: Option<u32>,
}

/// Reads the identifier of a paper about a batch, typed or from a reader that types; none where it is none. Case and blanks do not matter.
#[must_use]
pub fn read(typed: &str) -> Option<PaperCode> {
    let typed: String = typed.chars().filter(|sign| !sign.is_whitespace()).collect::<String>().to_uppercase();
    let parts: Vec<&str> = typed.split('/').collect();
    let (batch, version_code, page) = match parts.as_slice() {
        [house, _, batch, version] if *house == HOUSE => (batch, version, None),
        [house, _, batch, version, page] if *house == HOUSE => (batch, version, Some(page.parse().ok()?)),
        _ => return None,
    };
    let filled = !batch.is_empty() && !version_code.is_empty();
    filled.then(|| PaperCode { batch: (*batch).to_owned(), version_code: (*version_code).to_owned(), page })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_written_is_read_again_however_it_is_typed() {
        let code = of_batch("blank", "QL-2611-04", "7f3a20c1d2e3");
        assert_eq!(code, "LEVIGATE/BLANK/QL-2611-04/7F3A20C1D2E3");
        let read_back = read(&format!(" {}/2\n", code.to_lowercase())).unwrap();
        assert_eq!((read_back.batch.as_str(), read_back.page), ("QL-2611-04", Some(2)));
        assert_eq!(read_back.version_code, "7F3A20C1D2E3");
        for wrong in [
            "",
            "QL-2611-04",
            "LEVIGATE/BLANK//X",
            "LEVIGATE/SHEET/7F3A20C1D2E3",
            "LEVIGATE/A/B/C/no",
            "x/y/z/w",
        ] {
            assert_eq!(read(wrong), None, "{wrong}");
        }
    }
}
