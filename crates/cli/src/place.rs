//! Where a workspace lives when nobody says.

use std::ffi::OsString;
use std::path::{Path, PathBuf};

/// The folder of the sample workspace: `levigate/sample` in the place the system keeps a person's data.
pub(crate) fn sample() -> Option<PathBuf> {
    data(|name| std::env::var_os(name)).map(|data| data.join("levigate").join("sample"))
}

/// `XDG_DATA_HOME`, else the system's own place below the person's home.
fn data(variable: impl Fn(&str) -> Option<OsString>) -> Option<PathBuf> {
    let folder = |name: &str| variable(name).map(PathBuf::from).filter(|path| path.is_absolute());
    if let Some(folder) = folder("XDG_DATA_HOME") {
        return Some(folder);
    }
    if cfg!(windows) {
        folder("LOCALAPPDATA")
    } else if cfg!(target_os = "macos") {
        folder("HOME").map(|home| home.join("Library").join("Application Support"))
    } else {
        folder("HOME").map(|home| home.join(".local").join("share"))
    }
}

/// Whether a workspace may be made in a folder: it is not there, or it holds nothing but what a workspace begun and broken off
/// leaves behind.
pub(crate) fn is_free(folder: &Path) -> bool {
    let Ok(entries) = std::fs::read_dir(folder) else { return !folder.exists() };
    entries.filter_map(Result::ok).all(|entry| {
        let name = entry.file_name();
        let ours =
            [levigate_store::folder::LOCK, levigate_store::folder::FACTS, levigate_store::folder::BACKUPS];
        ours.iter().any(|own| name == *own)
    })
}

/// Whether there is a workspace in a folder.
pub(crate) fn is_workspace(folder: &Path) -> bool {
    folder.join(levigate_store::folder::DATABASE).is_file()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_data_folder_is_the_persons_choice_first() {
        let choose = |name: &str| match name {
            "XDG_DATA_HOME" => Some(OsString::from(if cfg!(windows) { "C:\\data" } else { "/data" })),
            _ => Some(OsString::from("elsewhere")),
        };
        assert!(data(choose).unwrap().ends_with("data"));
        assert_eq!(data(|_| None), None);
        assert_eq!(data(|_| Some(OsString::from("not/absolute"))), None);
    }

    #[test]
    fn a_folder_with_somebodys_files_is_not_free() {
        let folder = tempfile::tempdir().unwrap();
        assert!(is_free(folder.path()));
        assert!(is_free(&folder.path().join("new")));
        std::fs::create_dir(folder.path().join("facts")).unwrap();
        assert!(is_free(folder.path()));
        std::fs::write(folder.path().join("notes.txt"), "mine").unwrap();
        assert!(!is_free(folder.path()));
    }
}
