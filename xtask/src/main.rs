//! Recipes of the house: `cargo xtask` lists them, `cargo xtask check` is what CI runs.
#![expect(clippy::print_stdout, clippy::print_stderr, reason = "a recipe talks to the person who runs it")]

mod layers;
mod tidy;

use std::path::{Path, PathBuf};
use std::process::{Command, ExitCode};

const RECIPES: &str = "\
cargo xtask check    everything CI checks, in order of cost
cargo xtask layers   no crate depends upward, no module of the engine either
cargo xtask tidy     docs, sizes, words and paths that must not be in the repository
";

fn main() -> ExitCode {
    let root = root();
    let answer = match std::env::args().nth(1).as_deref() {
        Some("layers") => layers::check(&root),
        Some("tidy") => tidy::check(&root),
        Some("check") => check(&root),
        None => {
            print!("{RECIPES}");
            return ExitCode::SUCCESS;
        }
        Some(other) => Err(vec![format!("no recipe is called \"{other}\"\n{RECIPES}")]),
    };
    match answer {
        Ok(said) => {
            println!("{said}");
            ExitCode::SUCCESS
        }
        Err(complaints) => {
            for complaint in &complaints {
                eprintln!("{complaint}");
            }
            eprintln!("{} to mend", complaints.len());
            ExitCode::FAILURE
        }
    }
}

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().map(Path::to_path_buf).unwrap_or_default()
}

fn check(root: &Path) -> Result<String, Vec<String>> {
    let steps: [&[&str]; 5] = [
        &["fmt", "--all", "--check"],
        &["clippy", "--workspace", "--all-targets", "--locked", "--", "-D", "warnings"],
        &["doc", "--workspace", "--no-deps", "--locked", "--document-private-items"],
        &["test", "--workspace", "--locked"],
        &["run", "--locked", "--package", "levigate", "--", "data", "check"],
    ];
    layers::check(root)?;
    tidy::check(root)?;
    for step in steps {
        println!("cargo {}", step.join(" "));
        let done = Command::new(env!("CARGO"))
            .args(step)
            .current_dir(root)
            .env("RUSTDOCFLAGS", "-D warnings")
            .status();
        match done {
            Ok(status) if status.success() => {}
            Ok(_) => return Err(vec![format!("cargo {} failed", step.join(" "))]),
            Err(error) => return Err(vec![format!("cargo could not be started: {error}")]),
        }
    }
    Ok("all checks passed".to_owned())
}
