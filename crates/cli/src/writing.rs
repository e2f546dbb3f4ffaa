//! Writing a file whole or not at all.

use crate::answer::Failure;
use std::fs::{self, File};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

/// Writes a file beside its place and moves it there: whoever reads it sees the old one or the new one, never half of one.
pub(crate) fn write_whole(path: &Path, bytes: &[u8]) -> Result<(), Failure> {
    let beside = beside(path);
    let done = write_and_move(&beside, path, bytes);
    if done.is_err() {
        let _ = fs::remove_file(&beside);
    }
    done.map_err(|error| {
        Failure::could_not(
            "unwritable-file",
            format!("{} cannot be written: {error}", path.display()),
            "check the folder and its rights; a file that was there is still as it was",
        )
    })
}

fn write_and_move(beside: &Path, path: &Path, bytes: &[u8]) -> io::Result<()> {
    if path.is_dir() {
        return Err(io::Error::new(io::ErrorKind::IsADirectory, "it is a folder"));
    }
    let mut file = File::create_new(beside)?;
    file.write_all(bytes)?;
    file.sync_all()?;
    drop(file);
    fs::rename(beside, path)
}

fn beside(path: &Path) -> PathBuf {
    let name = path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
    path.with_file_name(format!(".{name}.{}.part", std::process::id()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_is_replaced_whole_and_nothing_is_left_beside_it() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("sheet.csv");
        write_whole(&path, b"old").unwrap();
        write_whole(&path, b"new").unwrap();
        assert_eq!(fs::read(&path).unwrap(), b"new");
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1);
    }

    #[test]
    fn a_place_that_cannot_be_written_is_told_and_left_clean() {
        let folder = tempfile::tempdir().unwrap();
        let failure = write_whole(folder.path(), b"x").unwrap_err();
        assert_eq!(failure.exit, crate::answer::COULD_NOT);
        assert!(write_whole(&folder.path().join("no/such/folder.csv"), b"x").is_err());
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 0);
    }
}
