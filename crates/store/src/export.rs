//! A whole workspace as plain files in a folder, readable without Levigate.

use std::fs;
use std::io::{self, Write as _};
use std::path::Path;

use levigate_project::store::StoreError;
use levigate_project::workspace::{ExportFile, Workspace};

/// Writes every formula version, record and photo into a new or empty folder and gives back the number of files.
///
/// # Errors
/// The folder holds something already, or could not be written.
pub async fn export_into(workspace: &Workspace, folder: &Path) -> Result<usize, StoreError> {
    let failed =
        |error: io::Error| StoreError::Folder { path: folder.display().to_string(), what: error.to_string() };
    fs::create_dir_all(folder).map_err(failed)?;
    if fs::read_dir(folder).map_err(failed)?.next().is_some() {
        let what = "the folder is not empty; an export never overwrites".to_owned();
        return Err(StoreError::Folder { path: folder.display().to_string(), what });
    }
    let mut count = 0;
    workspace
        .export(|file| {
            count += 1;
            write_file(folder, &file).map_err(failed)
        })
        .await?;
    Ok(count)
}

fn write_file(folder: &Path, file: &ExportFile) -> io::Result<()> {
    let path = folder.join(&file.path);
    if let Some(parent) = path.parent() {
        fs::create_dir_all(parent)?;
    }
    let mut opened = fs::File::create_new(path)?;
    opened.write_all(&file.bytes)?;
    opened.sync_all()
}
