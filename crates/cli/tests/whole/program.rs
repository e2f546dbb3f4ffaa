//! Runs the built program as a person or a script would.

use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

/// The program, with a quiet environment: no colour wishes, a usual width.
pub(crate) fn program() -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_levigate"));
    command.env_remove("NO_COLOR").env_remove("COLUMNS").env("TERM", "xterm").current_dir(root());
    command
}

/// The repository.
pub(crate) fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..").canonicalize().unwrap()
}

/// What came back.
#[derive(Debug)]
pub(crate) struct Said {
    pub(crate) code: i32,
    pub(crate) out: String,
    pub(crate) err: String,
}

impl Said {
    pub(crate) fn of(output: &Output) -> Self {
        Self {
            code: output.status.code().expect("the program ended by itself"),
            out: String::from_utf8(output.stdout.clone()).expect("standard output is UTF-8"),
            err: String::from_utf8(output.stderr.clone()).expect("standard error is UTF-8"),
        }
    }

    /// Standard output as JSON.
    pub(crate) fn json(&self) -> serde_json::Value {
        serde_json::from_str(&self.out).unwrap_or_else(|error| panic!("{error}\n{}\n{}", self.out, self.err))
    }
}

/// Runs the program with arguments.
pub(crate) fn run(arguments: &[&str]) -> Said {
    Said::of(&program().args(arguments).stdin(Stdio::null()).output().unwrap())
}

/// Runs the program with something on standard input.
pub(crate) fn run_with(arguments: &[&str], input: &[u8]) -> Said {
    let mut child = program()
        .args(arguments)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    // A program that has read enough closes its end; that is its right.
    let _ = child.stdin.take().unwrap().write_all(input);
    Said::of(&child.wait_with_output().unwrap())
}

/// The text of an example.
pub(crate) fn example(name: &str) -> String {
    std::fs::read_to_string(root().join("examples").join(name)).unwrap()
}

/// Runs the program at a home with something on standard input.
#[cfg(unix)]
pub(crate) fn at(home: &Path, arguments: &[&str], input: &str) -> Said {
    let mut child = program()
        .args(arguments)
        .env("XDG_DATA_HOME", home)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let _ = child.stdin.take().unwrap().write_all(input.as_bytes());
    Said::of(&child.wait_with_output().unwrap())
}
