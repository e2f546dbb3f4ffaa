//! Reading what was named on the command line: a file, standard input, folders of facts.

use crate::answer::{Failure, complaint};
use levigate_facts::{Facts, FactsError};
use levigate_formula::library::Layer;
use levigate_project::diagnostic::{Diagnostic, place};
use levigate_project::facts::diagnose;
use serde::Serialize;
use std::fs;
use std::io::{self, Read};
use std::path::{Path, PathBuf};

/// Most bytes of one input. A formula of 60 lines has about 6,000.
const MOST_BYTES: u64 = 8 * 1024 * 1024;
/// Most bytes of a measured file: a million rows with room to spare.
const MOST_MEASURED_BYTES: u64 = 256 * 1024 * 1024;
/// Most folders within folders that are looked into for facts.
const DEEPEST: usize = 8;

/// A text and the name it is spoken of by (`-` for standard input).
#[derive(Debug)]
pub(crate) struct Input {
    /// Name.
    pub(crate) name: String,
    /// Text.
    pub(crate) text: String,
}

impl Input {
    /// Reads a file, or standard input for `-`.
    pub(crate) fn read(path: &Path) -> Result<Self, Failure> {
        let InputBytes { name, bytes } = InputBytes::up_to(path, MOST_BYTES)?;
        Self::of_bytes(name, bytes)
    }

    fn of_bytes(name: String, bytes: Vec<u8>) -> Result<Self, Failure> {
        if bytes.len() as u64 > MOST_BYTES {
            return Err(too_large(&name, MOST_BYTES, "a formula is a small file; is this the right one?"));
        }
        String::from_utf8(bytes).map(|text| Self { name: name.clone(), text }).map_err(|error| {
            let valid = error.utf8_error().valid_up_to();
            let readable =
                String::from_utf8_lossy(error.as_bytes().get(..valid).unwrap_or_default()).into_owned();
            let (line, column) = place(&readable, valid);
            let mut problem =
                complaint("not-utf-8", &name, "", "a byte here is not text", "save the file as UTF-8");
            problem.line = line;
            problem.column = column;
            Failure::bad_input(vec![problem], Some((&name, &readable)))
        })
    }

    /// Name and text.
    pub(crate) fn pair(&self) -> (&str, &str) {
        (&self.name, &self.text)
    }

    /// Complaints about this text.
    pub(crate) fn refused(&self, problems: Vec<Diagnostic>) -> Failure {
        Failure::bad_input(problems, Some(self.pair()))
    }
}

/// Bytes that may be text or not, and the name they are spoken of by (`-` for standard input).
#[derive(Debug)]
pub(crate) struct InputBytes {
    /// Name.
    pub(crate) name: String,
    /// Bytes.
    pub(crate) bytes: Vec<u8>,
}

impl InputBytes {
    /// Reads a measured file, or standard input for `-`.
    pub(crate) fn measured(path: &Path) -> Result<Self, Failure> {
        let input = Self::up_to(path, MOST_MEASURED_BYTES)?;
        if input.bytes.len() as u64 > MOST_MEASURED_BYTES {
            return Err(too_large(
                &input.name,
                MOST_MEASURED_BYTES,
                "split the file, or leave out what is no flow curve",
            ));
        }
        Ok(input)
    }

    /// Reads one byte more than the most there may be, so that too much shows.
    fn up_to(path: &Path, most: u64) -> Result<Self, Failure> {
        let name = path.display().to_string();
        let mut bytes = Vec::new();
        let read = if name == "-" {
            io::stdin().lock().take(most + 1).read_to_end(&mut bytes)
        } else {
            fs::File::open(path).and_then(|file| file.take(most + 1).read_to_end(&mut bytes))
        };
        read.map_err(|error| {
            Failure::could_not(
                "unreadable-file",
                format!("{name} cannot be read: {error}"),
                "check the name; a file written as - is read from standard input",
            )
        })?;
        Ok(Self { name, bytes })
    }
}

fn too_large(name: &str, most: u64, what_now: &str) -> Failure {
    let what = format!("this is more than {} MB", most / 1024 / 1024);
    Failure::bad_input(vec![complaint("too-large", name, "", what, what_now)], None)
}

/// Which facts an answer rests on.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct FactsUsed {
    /// Version of the program, a plus sign, code of the shipped facts.
    pub(crate) shipped: String,
    /// The same with the code of what the answer rests on, folders included.
    pub(crate) version: String,
    /// Folders laid over them.
    pub(crate) folders: Vec<String>,
    /// Records of those folders that replaced shipped ones: `table key`.
    pub(crate) replaced: Vec<String>,
}

impl FactsUsed {
    /// One line for people; nothing when the facts are as shipped.
    pub(crate) fn remark(&self) -> Option<String> {
        if self.folders.is_empty() {
            return None;
        }
        let replaced = match self.replaced.as_slice() {
            [] => "nothing shipped is replaced".to_owned(),
            names => format!("replaced: {}", names.join(", ")),
        };
        let folders = self.folders.join(" and ");
        Some(format!("Facts {}: shipped, with {folders} laid over; {replaced}.", self.version))
    }
}

/// The shipped facts with a laboratory's folders laid over.
pub(crate) fn facts(folders: &[PathBuf]) -> Result<(Facts, FactsUsed), Failure> {
    let mut facts = levigate_facts::shipped().map_err(|error| refused_facts(&error, &[]))?;
    let shipped = facts.version();
    let replaced =
        if folders.is_empty() { Vec::new() } else { overlay(&mut facts, folders, Layer::Laboratory)? };
    let folders = folders.iter().map(|folder| folder.display().to_string()).collect();
    let version = facts.version();
    Ok((facts, FactsUsed { shipped, version, folders, replaced }))
}

/// Lays folders of facts over what is there and names the records they replace.
pub(crate) fn overlay(facts: &mut Facts, folders: &[PathBuf], layer: Layer) -> Result<Vec<String>, Failure> {
    let mut texts = Vec::new();
    for folder in folders {
        gather(folder, DEEPEST, &mut texts)?;
    }
    let replaced = facts.overlay(&texts, layer).map_err(|error| refused_facts(&error, &texts))?;
    Ok(replaced.iter().map(|replaced| format!("{} {}", replaced.table, replaced.key)).collect())
}

/// Every TOML file in a folder and the folders in it, by name.
fn gather(folder: &Path, depth: usize, texts: &mut Vec<(String, String)>) -> Result<(), Failure> {
    let unreadable = |error: &dyn std::fmt::Display| {
        Failure::could_not(
            "unreadable-folder",
            format!("the folder {} cannot be read: {error}", folder.display()),
            "name a folder of TOML files after --facts",
        )
    };
    let entries = fs::read_dir(folder).map_err(|error| unreadable(&error))?;
    let mut paths = Vec::new();
    for entry in entries {
        paths.push(entry.map_err(|error| unreadable(&error))?.path());
    }
    paths.sort();
    for path in paths {
        if path.is_dir() {
            if depth > 0 {
                gather(&path, depth - 1, texts)?;
            }
        } else if path.extension().is_some_and(|extension| extension == "toml") {
            let input = Input::read(&path)?;
            texts.push((input.name, input.text));
        }
    }
    Ok(())
}

fn refused_facts(error: &FactsError, texts: &[(String, String)]) -> Failure {
    let problems: Vec<Diagnostic> = error.faults.iter().map(diagnose).collect();
    let first = problems.first().map(|problem| problem.file.clone()).unwrap_or_default();
    let input =
        texts.iter().find(|(name, _)| *name == first).map(|(name, text)| (name.as_str(), text.as_str()));
    Failure::bad_input(problems, input)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bytes_that_are_no_text_are_refused_with_their_place() {
        let failure = Input::of_bytes("-".to_owned(), b"name = \"a\"\nx = \xff".to_vec()).unwrap_err();
        assert_eq!((failure.problems[0].line, failure.problems[0].column), (2, 5));
        assert_eq!(failure.problems[0].code, "not-utf-8");
    }
}
