//! The workspace as a whole: samples, export, chain.

use levigate_project::audit::{FIRST_LINK, content_hash, link};
use levigate_project::records::{Kind, MaterialOverlay, Observation, OverlaySort, Photo};
use levigate_project::store::{Select, StoreError, Write};
use levigate_project::workspace::{ExportFile, SampleFormula, Save, Workspace};

use super::corrections::PIXEL;
use super::{begun, ph, text, trial};

pub(super) async fn the_chain_holds_and_starts_from_nothing(workspace: &Workspace) {
    assert_eq!(workspace.verify().await.unwrap().link, FIRST_LINK);
    begun(workspace, "One").await;
    begun(workspace, "Two").await;
    let head = workspace.verify().await.unwrap();
    let log = workspace.store().read(&Select::All).await.unwrap();
    let mut before = FIRST_LINK.to_owned();
    for (place, entry) in log.iter().enumerate() {
        assert_eq!(entry.sequence, place as u64 + 1);
        before = link(&before, entry.sequence, &entry.hash);
        assert_eq!(entry.link, before);
    }
    assert_eq!((head.length, head.link), (4, before));
}

pub(super) async fn a_sample_goes_into_an_empty_workspace_only(workspace: &Workspace) {
    let sample = |name: &str| SampleFormula {
        name: name.to_owned(),
        versions: vec![text("# first\n"), text("# second\n")],
    };
    let own = MaterialOverlay {
        sort: OverlaySort::Price,
        key: "water".to_owned(),
        text: "eur_per_kg = 1".to_owned(),
        withdrawn: false,
    };
    assert!(workspace.seed("Studio", &[sample("One"), sample("Two")]).await.unwrap());
    let list = workspace.formulas().await.unwrap();
    let seen: Vec<_> =
        list.iter().map(|head| (head.formula.what.name.as_str(), head.newest.number)).collect();
    assert_eq!(seen, [("One", 2), ("Two", 2)]);
    assert_eq!(list[0].newest.what.parent, Some(1));
    workspace.add("Ilse", own).await.unwrap();
    let before = workspace.store().head().await.unwrap();
    assert!(!workspace.seed("Studio", &[sample("Three")]).await.unwrap());
    assert_eq!(workspace.store().head().await.unwrap(), before);
    workspace.verify().await.unwrap();
}

pub(super) async fn a_write_that_knew_of_another_log_is_refused(workspace: &Workspace) {
    begun(workspace, "Toner").await;
    for (expected, taken) in [(0, false), (1, false), (3, false), (2, true)] {
        let write = Write { log_length: Some(expected), ..Write::default() };
        match workspace.store().write(&write).await {
            Ok(written) => assert!(taken && written.is_empty()),
            Err(error) => assert_eq!((taken, error), (false, StoreError::LogMoved { expected, found: 2 })),
        }
    }
}

pub(super) async fn an_export_holds_everything(workspace: &Workspace) {
    let formula = begun(workspace, "../../etc/passwd").await.formula.id;
    let save = Save { formula, based_on: 1, parent: 1, version: text("# two\r\n"), tab: None };
    workspace.save_version("Ilse", save).await.unwrap();
    let made = workspace.add("Ilse", trial(formula, 2)).await.unwrap().id;
    let wrong = workspace.add("Ilse", ph(made, "52")).await.unwrap().id;
    workspace.correct("Ilse", wrong, "slip", ph(made, "5.2")).await.unwrap();
    let photo = Photo::new(PIXEL.to_vec()).unwrap();
    let seen =
        workspace.observe("Ilse", Observation::in_words(made, "with a photo"), Some(photo)).await.unwrap().id;

    let mut files: Vec<ExportFile> = Vec::new();
    let received: Result<(), StoreError> = workspace
        .export(|file| {
            files.push(file);
            Ok(())
        })
        .await;
    received.unwrap();
    let bytes = |path: &str| files.iter().find(|file| file.path == path).map(|file| file.bytes.as_slice());
    assert_eq!(bytes(&format!("formulas/{formula}/version-2.toml")), Some(b"# two\r\n".as_slice()));
    assert_eq!(bytes(&format!("photos/{seen}.png")), Some(PIXEL));
    let tame = |sign: char| sign.is_ascii_alphanumeric() || "-_./".contains(sign);
    assert!(files.iter().all(|file| file.path.chars().all(tame) && !file.path.contains("..")));

    // Every record is there, and the chain can be walked from the export alone.
    let mut links: Vec<(u64, String, String)> = Vec::new();
    for kind in Kind::ALL {
        let lines = bytes(&format!("records/{}.jsonl", kind.word())).expect("one file per kind");
        for line in std::str::from_utf8(lines).unwrap().lines() {
            let record: serde_json::Value = serde_json::from_str(line).unwrap();
            let field = |name: &str| record[name].as_str().unwrap_or_default().to_owned();
            assert_eq!(field("kind"), kind.word());
            assert!(record["what"].is_object());
            links.push((record["sequence"].as_u64().unwrap(), field("hash"), field("link")));
        }
    }
    links.sort();
    let mut before = FIRST_LINK.to_owned();
    for (sequence, hash, found) in &links {
        before = link(&before, *sequence, hash);
        assert_eq!(&before, found);
    }
    assert_eq!(links.len(), 7);
    assert_eq!(bytes("chain.txt"), Some(format!("7 {before}\n").as_bytes()));
    assert_eq!(content_hash(b""), "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
}

pub(super) async fn the_same_work_gives_the_same_bits(one: &Workspace, other: &Workspace) {
    for workspace in [one, other] {
        let formula = begun(workspace, "Toner").await.formula.id;
        workspace.add("Ilse", trial(formula, 1)).await.unwrap();
    }
    assert_eq!(one.verify().await.unwrap(), other.verify().await.unwrap());
}
