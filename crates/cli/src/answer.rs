//! What a verb answers, and how it leaves the program: text for people, JSON for programs, an exit code for both.

use crate::diagnostics;
use levigate_project::diagnostic::Diagnostic;
use serde::Serialize;
use std::io::{self, Write};

/// Done.
pub(crate) const DONE: u8 = 0;
/// It could not be done.
pub(crate) const COULD_NOT: u8 = 1;
/// The input is wrong.
pub(crate) const BAD_INPUT: u8 = 2;
/// Done, and a finding is as grave as `--fail-on` says.
pub(crate) const FOUND: u8 = 3;

/// What a verb has to say.
#[derive(Debug)]
pub(crate) struct Answer {
    /// For standard output.
    pub(crate) text: String,
    /// For standard error: what was written where, and the like.
    pub(crate) remarks: Vec<String>,
    /// Exit code.
    pub(crate) exit: u8,
}

impl Answer {
    /// A text.
    pub(crate) fn text(text: impl Into<String>) -> Self {
        Self { text: text.into(), remarks: Vec::new(), exit: DONE }
    }

    /// JSON.
    pub(crate) fn json(value: &impl Serialize) -> Result<Self, Failure> {
        let mut text = serde_json::to_string_pretty(value).map_err(|error| {
            Failure::could_not(
                "answer-not-json",
                error.to_string(),
                "report this; it is a mistake of Levigate",
            )
        })?;
        text.push('\n');
        Ok(Self::text(text))
    }
}

/// Why a verb has no answer.
#[derive(Debug)]
pub(crate) struct Failure {
    /// What is wrong.
    pub(crate) problems: Vec<Diagnostic>,
    /// The input they speak of: name and text.
    pub(crate) input: Option<(String, String)>,
    /// Exit code.
    pub(crate) exit: u8,
}

impl Failure {
    /// The input is wrong.
    pub(crate) fn bad_input(problems: Vec<Diagnostic>, input: Option<(&str, &str)>) -> Self {
        let input = input.map(|(name, text)| (name.to_owned(), text.to_owned()));
        Self { problems, input, exit: BAD_INPUT }
    }

    /// An option or argument is wrong.
    pub(crate) fn bad_option(
        code: &str,
        option: &str,
        what: impl Into<String>,
        what_now: impl Into<String>,
    ) -> Self {
        Self { problems: vec![complaint(code, "", option, what, what_now)], input: None, exit: BAD_INPUT }
    }

    /// It could not be done, though nothing is wrong with what was asked.
    pub(crate) fn could_not(code: &str, what: impl Into<String>, what_now: impl Into<String>) -> Self {
        Self { problems: vec![complaint(code, "", "", what, what_now)], input: None, exit: COULD_NOT }
    }
}

/// A complaint without a place in a text.
pub(crate) fn complaint(
    code: &str,
    file: &str,
    field: &str,
    what: impl Into<String>,
    what_now: impl Into<String>,
) -> Diagnostic {
    Diagnostic {
        code: code.to_owned(),
        file: file.to_owned(),
        line: 0,
        column: 0,
        field: field.to_owned(),
        what: what.into(),
        what_now: what_now.into(),
        sheet_line: None,
    }
}

#[derive(Serialize)]
struct Errors<'a> {
    errors: &'a [Diagnostic],
}

/// Hands the answer over and gives the exit code. A reader who has seen enough is no error.
pub(crate) fn deliver(answer: Result<Answer, Failure>, json: bool, colour: bool) -> u8 {
    match answer {
        Ok(answer) => {
            let written = write(&mut io::stdout().lock(), &answer.text);
            for remark in &answer.remarks {
                let _ = writeln!(io::stderr(), "{remark}");
            }
            written.unwrap_or(answer.exit)
        }
        Err(failure) => {
            if json {
                let errors = Errors { errors: &failure.problems };
                let text =
                    serde_json::to_string_pretty(&errors).unwrap_or_else(|_| "{\"errors\": []}".to_owned());
                write(&mut io::stdout().lock(), &format!("{text}\n")).unwrap_or(failure.exit)
            } else {
                let input = failure.input.as_ref().map(|(name, text)| (name.as_str(), text.as_str()));
                let text = diagnostics::rendered(&failure.problems, input, colour);
                let _ = write(&mut io::stderr().lock(), &text);
                failure.exit
            }
        }
    }
}

/// Writes everything; `Some` exit code when that decides it.
fn write(out: &mut impl Write, text: &str) -> Option<u8> {
    match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
        Ok(()) => None,
        Err(error) if error.kind() == io::ErrorKind::BrokenPipe => Some(DONE),
        Err(error) => {
            let _ = writeln!(io::stderr(), "The answer could not be written: {error}.");
            Some(COULD_NOT)
        }
    }
}
