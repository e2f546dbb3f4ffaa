//! The one program: reads what was typed, calls a verb, hands its answer over.

mod answer;
mod arguments;
mod browser;
mod diagnostics;
mod input;
mod lan;
mod numbers;
mod paper;
mod place;
mod sample;
mod serve;
mod shelf;
mod verbs;
mod writing;

use answer::{BAD_INPUT, DONE, Failure, complaint, deliver};
use arguments::Arguments;
use clap::Parser;
use clap::error::ErrorKind;
use paper::Look;
use std::process::ExitCode;

fn main() -> ExitCode {
    let look = Look::of_screen();
    let exit = match Arguments::try_parse() {
        Ok(arguments) => {
            let json = arguments.common.json;
            deliver(verbs::run(arguments, look), json, Look::of_messages().colour)
        }
        Err(error) => refuse(&error),
    };
    ExitCode::from(exit)
}

/// Help and version are answers; the rest is a wrong command line.
fn refuse(error: &clap::Error) -> u8 {
    let asked = matches!(
        error.kind(),
        ErrorKind::DisplayHelp
            | ErrorKind::DisplayVersion
            | ErrorKind::DisplayHelpOnMissingArgumentOrSubcommand
    );
    let json = std::env::args_os().any(|argument| argument == "--json");
    if json && !asked {
        let text = error.to_string();
        let what = text.lines().next().unwrap_or_default().trim_start_matches("error: ").to_owned();
        let problem = complaint("command-line", "", "", what, "see levigate --help");
        return deliver(Err(Failure::bad_input(vec![problem], None)), true, false);
    }
    // Where nobody reads any more, there is nobody to tell.
    let _ = error.print();
    if matches!(error.kind(), ErrorKind::DisplayHelp | ErrorKind::DisplayVersion) { DONE } else { BAD_INPUT }
}
