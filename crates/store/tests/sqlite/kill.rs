//! Pulled plugs: a program that saves and says so is killed again and again, and everything it said is there afterwards.

use std::io::{BufRead as _, BufReader, Write as _};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};

use levigate_project::records::{Draft, Formula, FormulaVersion, Observation, Photo};
use levigate_project::workspace::{Save, Workspace};
use levigate_store::{open_or_create_workspace, open_workspace, with_machine};

use crate::conformance::{PIXEL, text, trial};

const FOLDER: &str = "LEVIGATE_KILLED_WRITER";
const NAME: &str = "kill::what_was_acknowledged_survives_kill_nine";
const ROUNDS: u64 = 12;

/// The text of a version, long enough to fill several pages of the database.
fn long_text(number: u64) -> String {
    format!("# version {number}\n").repeat(usize::try_from(200 + number % 7 * 300).unwrap_or(200))
}

/// The writer: saves versions for ever, and says each number once the save has returned.
async fn save_for_ever(folder: &Path) {
    let workspace = with_machine(Arc::new(open_or_create_workspace(folder).await.unwrap()));
    let mut out = std::io::stdout();
    writeln!(out, "\nopen").unwrap();
    let head = match workspace.formulas().await.unwrap().pop() {
        Some(head) => head,
        None => workspace.create_formula("writer", "Toner", text(&long_text(1))).await.unwrap(),
    };
    let formula = head.formula.id;
    let made = workspace.add("writer", trial(formula, 1)).await.unwrap().id;
    for number in u64::from(head.newest.number) + 1.. {
        let known = u32::try_from(number - 1).unwrap();
        let when = workspace.clock().now();
        let words = long_text(number);
        let (tab, who) = ("tab".to_owned(), "writer".to_owned());
        let typed = Draft {
            formula: None,
            tab,
            edit: number,
            based_on: known,
            text: words.clone(),
            who: who.clone(),
            when,
        };
        workspace.keep_draft(&typed).await.unwrap();
        writeln!(out, "typed {number}").unwrap();
        let save = Save { formula, based_on: known, parent: known, version: text(&words), tab: None };
        workspace.save_version(&who, save).await.unwrap();
        writeln!(out, "saved {number}").unwrap();
        if number % 5 == 0 {
            workspace
                .observe(&who, Observation::in_words(made, "seen"), Some(Photo::new(PIXEL.to_vec()).unwrap()))
                .await
                .unwrap();
        }
        out.flush().unwrap();
    }
}

fn start(folder: &Path) -> Child {
    Command::new(std::env::current_exe().unwrap())
        .args(["--exact", NAME, "--nocapture", "--test-threads=1"])
        .env(FOLDER, folder)
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap()
}

/// What the writer acknowledged before it was killed: the last version saved, the last edit typed.
#[derive(Clone, Copy, Debug, Default)]
struct Acknowledged {
    saved: u64,
    typed: u64,
}

/// Lets the writer work for a while after its first save, kills it, and reads the rest of what it had said.
fn run_and_kill(folder: &Path, round: u64) -> Acknowledged {
    let mut child = start(folder);
    let lines = BufReader::new(child.stdout.take().unwrap()).lines();
    let (saved, typed) = (Arc::new(AtomicU64::new(0)), Arc::new(AtomicU64::new(0)));
    let heard = (saved.clone(), typed.clone());
    let listener = std::thread::spawn(move || {
        for line in lines.map_while(Result::ok) {
            if let Some(number) = line.strip_prefix("saved ").and_then(|number| number.parse().ok()) {
                heard.0.store(number, Ordering::SeqCst);
            }
            if let Some(number) = line.strip_prefix("typed ").and_then(|number| number.parse().ok()) {
                heard.1.store(number, Ordering::SeqCst);
            }
        }
    });
    let begun = Instant::now();
    while saved.load(Ordering::SeqCst) == 0 {
        assert!(begun.elapsed() < Duration::from_secs(60), "the writer does not write");
        assert!(child.try_wait().unwrap().is_none(), "the writer ended by itself");
        std::thread::sleep(Duration::from_millis(1));
    }
    // Not a round number of milliseconds of anything, so that the kill falls into different parts of a save.
    std::thread::sleep(Duration::from_micros(2_000 + round * 37_919 % 150_000));
    assert!(child.try_wait().unwrap().is_none(), "the writer ended by itself");
    child.kill().unwrap();
    child.wait().unwrap();
    listener.join().unwrap();
    Acknowledged { saved: saved.load(Ordering::SeqCst), typed: typed.load(Ordering::SeqCst) }
}

async fn everything_is_there(workspace: &Workspace, acknowledged: Acknowledged) {
    workspace.verify().await.unwrap();
    let formula = workspace.all::<Formula>().await.unwrap()[0].id;
    let versions = workspace.of::<FormulaVersion, _>(formula).await.unwrap();
    let kept = versions.len() as u64;
    // The last save may have reached the disk without the word of it reaching us; never the other way round.
    assert!(kept == acknowledged.saved || kept == acknowledged.saved + 1, "{kept} kept, {acknowledged:?}");
    for (place, version) in versions.iter().enumerate() {
        assert_eq!(version.number as usize, place + 1);
        assert_eq!(version.what.text, long_text(place as u64 + 1));
    }
    let typed = workspace.drafts(None).await.unwrap();
    assert!(
        typed[0].edit == acknowledged.typed || typed[0].edit == acknowledged.typed + 1,
        "{acknowledged:?}"
    );
    assert_eq!(typed[0].text, long_text(typed[0].edit));
}

#[test]
fn what_was_acknowledged_survives_kill_nine() {
    let runtime = tokio::runtime::Builder::new_multi_thread().worker_threads(2).enable_all().build().unwrap();
    if let Some(folder) = std::env::var_os(FOLDER) {
        runtime.block_on(save_for_ever(Path::new(&folder)));
        return;
    }
    let parent = tempfile::tempdir().unwrap();
    let folder = parent.path().join("lab");
    let mut before = 0;
    for round in 0..ROUNDS {
        let acknowledged = run_and_kill(&folder, round);
        assert!(acknowledged.saved > before, "round {round} saved nothing");
        before = acknowledged.saved;
        // The lock of the killed writer is gone with it.
        runtime.block_on(async {
            let workspace = with_machine(Arc::new(open_workspace(&folder).await.unwrap()));
            everything_is_there(&workspace, acknowledged).await;
        });
    }
    println!("{before} saves acknowledged in {ROUNDS} lives, none lost");
}

/// Killed in its first moments, before, while and after the database is made, a workspace still opens.
#[test]
fn a_workspace_killed_while_it_is_made_still_opens() {
    let runtime = tokio::runtime::Builder::new_multi_thread().worker_threads(2).enable_all().build().unwrap();
    let parent = tempfile::tempdir().unwrap();
    for round in 0..24_u64 {
        let folder = parent.path().join(round.to_string());
        let mut child = start(&folder);
        let begun = Instant::now();
        while !folder.join("levigate.lock").exists() && begun.elapsed() < Duration::from_secs(60) {
            std::hint::spin_loop();
        }
        std::thread::sleep(Duration::from_micros(round * 500));
        child.kill().unwrap();
        child.wait().unwrap();
        runtime.block_on(async {
            let workspace = with_machine(Arc::new(open_or_create_workspace(&folder).await.unwrap()));
            workspace.verify().await.unwrap();
        });
    }
}
