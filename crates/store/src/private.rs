//! Files and folders that are the owner's alone on a system that knows owners: the records of a laboratory hold recipes, and the hashes
//! of passwords. What is there already keeps the permissions somebody gave it.

use std::fs::{DirBuilder, OpenOptions};
use std::io;
use std::path::Path;

/// Makes an empty file that only its owner reads and writes; one that is there stays as it is.
pub(crate) fn new_file(path: &Path) -> io::Result<()> {
    let mut options = OpenOptions::new();
    options.write(true).create_new(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    match options.open(path) {
        Err(error) if error.kind() == io::ErrorKind::AlreadyExists => Ok(()),
        other => other.map(|_| ()),
    }
}

/// Makes a folder that only its owner enters, and what is missing above it; what is there stays as it is.
pub(crate) fn folder(path: &Path) -> io::Result<()> {
    let mut builder = DirBuilder::new();
    builder.recursive(true);
    #[cfg(unix)]
    std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
    builder.create(path)
}

#[cfg(unix)]
#[cfg(test)]
mod tests {
    use crate::folder::{BACKUPS, DATABASE};
    use jiff::Timestamp;
    use std::os::unix::fs::PermissionsExt;
    use std::path::{Path, PathBuf};

    fn mode(path: &Path) -> u32 {
        std::fs::metadata(path).unwrap().permissions().mode() & 0o777
    }

    /// Every file and folder below a place.
    fn below(place: &Path) -> Vec<PathBuf> {
        let inside = std::fs::read_dir(place).unwrap().map(|found| found.unwrap().path());
        inside
            .flat_map(|path| {
                let further = if path.is_dir() { below(&path) } else { Vec::new() };
                std::iter::once(path).chain(further)
            })
            .collect()
    }

    #[tokio::test]
    async fn a_new_workspace_and_its_copies_are_the_owners_alone() {
        let home = tempfile::tempdir().unwrap();
        let place = home.path().join("new").join("workspace");
        let store = crate::create_workspace(&place).await.unwrap();
        assert_eq!(mode(&place), 0o700);
        for end in ["", "-wal", "-shm"] {
            assert_eq!(mode(&place.join(format!("{DATABASE}{end}"))), 0o600, "{end}");
        }
        let copied = crate::back_up(&place, None, Timestamp::UNIX_EPOCH).await.unwrap();
        assert!(copied.folder.starts_with(place.join(BACKUPS)));
        store.close().await;
        let restored = home.path().join("restored");
        crate::restore(&copied.folder, &restored).await.unwrap();
        assert_eq!(mode(&restored), 0o700);
        for path in below(&place).into_iter().chain(below(&restored)) {
            let databases = path.file_name().unwrap().to_string_lossy().starts_with(DATABASE);
            if path.is_dir() {
                assert_eq!(mode(&path), 0o700, "{}", path.display());
            } else if databases {
                assert_eq!(mode(&path), 0o600, "{}", path.display());
            }
        }
    }

    #[tokio::test]
    async fn what_is_there_keeps_its_permissions() {
        let home = tempfile::tempdir().unwrap();
        let place = home.path().join("shared");
        std::fs::create_dir(&place).unwrap();
        std::fs::set_permissions(&place, std::fs::Permissions::from_mode(0o750)).unwrap();
        crate::create_workspace(&place).await.unwrap().close().await;
        assert_eq!(mode(&place), 0o750);
        let file = place.join(DATABASE);
        assert_eq!(mode(&file), 0o600);
        std::fs::set_permissions(&file, std::fs::Permissions::from_mode(0o640)).unwrap();
        crate::open_workspace(&place).await.unwrap().close().await;
        assert_eq!(mode(&file), 0o640, "a group that shares it goes on sharing it");
    }
}
