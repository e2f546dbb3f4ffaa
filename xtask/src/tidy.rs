//! What must hold for every file: a first line that says what it is for, no overlong files, no unfinished places, no paths
//! of one machine, no name of a package registry.

use std::path::{Path, PathBuf};

const LONGEST_RUST: usize = 700;
const LONGEST_ARCHITECTURE: usize = 150;
/// What is not ours to read; `.git` is a file in a second working tree.
const SKIPPED: &[&str] = &["target", "node_modules", ".git", "vendor", "shots"];

/// Files below a folder, sorted, without build output.
pub(crate) fn files_below(folder: &Path, found: &mut Vec<PathBuf>) {
    let Ok(entries) = std::fs::read_dir(folder) else { return };
    let mut entries: Vec<PathBuf> =
        entries.filter_map(|entry| entry.ok().map(|entry| entry.path())).collect();
    entries.sort();
    for path in entries {
        let name = path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
        if SKIPPED.contains(&name.as_str()) {
            continue;
        }
        if path.is_dir() {
            files_below(&path, found);
        } else {
            found.push(path);
        }
    }
}

/// Checks every text file of the repository.
pub(crate) fn check(root: &Path) -> Result<String, Vec<String>> {
    let mut files = Vec::new();
    files_below(root, &mut files);
    let mut complaints = Vec::new();
    let mut read = 0;
    for path in &files {
        let Ok(text) = std::fs::read_to_string(path) else { continue };
        read += 1;
        let name = path.strip_prefix(root).unwrap_or(path).to_string_lossy().into_owned();
        check_file(&name, &text, &mut complaints);
    }
    if read == 0 {
        complaints.push("tidy found no file to read".to_owned());
    }
    if complaints.is_empty() { Ok(format!("tidy: {read} files in order")) } else { Err(complaints) }
}

fn check_file(name: &str, text: &str, complaints: &mut Vec<String>) {
    let rust = name.ends_with(".rs");
    if rust && !text.starts_with("//!") && !name.ends_with("build.rs") {
        complaints.push(format!("{name}: begin with //! and one sentence that says what the file is for"));
    }
    if rust && text.lines().count() > LONGEST_RUST {
        complaints.push(format!("{name}: {} lines; is it still one room?", text.lines().count()));
    }
    if name == "ARCHITECTURE.md" && text.lines().count() > LONGEST_ARCHITECTURE {
        complaints
            .push(format!("{name}: at most {LONGEST_ARCHITECTURE} lines, it has {}", text.lines().count()));
    }
    if name.starts_with("xtask/") || name.ends_with(".lock") || name.ends_with("package-lock.json") {
        return;
    }
    // Written in two parts so that this list does not find itself in a copy of this file.
    let unfinished =
        [concat!("TO", "DO"), concat!("FIX", "ME"), concat!("todo", "!("), concat!("unimplemented", "!(")];
    let machine =
        [concat!("/wo", "rk/"), concat!("/ro", "ot/"), concat!("/ho", "me/"), concat!("../sha", "red")];
    let registries =
        [concat!("registry.npm", "js.org"), concat!("index.cra", "tes.io"), concat!("pypi", ".org/simple")];
    for (number, line) in text.lines().enumerate() {
        let mut say = |what: &str| complaints.push(format!("{name}:{}: {what}", number + 1));
        if rust && unfinished.iter().any(|word| line.contains(word)) {
            say("an unfinished place is not committed");
        }
        if rust && line.contains(concat!("#[ig", "nore")) {
            say("evidence is never ignored");
        }
        if machine.iter().any(|word| line.contains(word)) {
            say("a path of one machine");
        }
        if registries.iter().any(|word| line.contains(word)) {
            say("the name of a package registry");
        }
        if line.ends_with(' ') && !name.ends_with(".md") {
            say("white space at the end of the line");
        }
    }
}
