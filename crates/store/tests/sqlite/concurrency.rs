//! Many hands at once.

use std::collections::BTreeSet;
use std::sync::Arc;

use levigate_project::records::{FormulaVersion, Reading};
use levigate_project::store::{Head, StoreError};
use levigate_project::workspace::Save;
use levigate_store::{create_workspace, open_workspace, with_machine};

use crate::conformance::{begun, ph, text, trial};

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn eight_writers_lose_nothing_and_the_chain_holds() {
    let folder = tempfile::tempdir().unwrap();
    let workspace = with_machine(Arc::new(create_workspace(folder.path()).await.unwrap()));
    let formula = begun(&workspace, "Toner").await.formula.id;
    let made = workspace.add("Ilse", trial(formula, 1)).await.unwrap().id;
    let writers: Vec<_> = (0..8)
        .map(|writer| {
            let workspace = workspace.clone();
            tokio::spawn(async move {
                for count in 0..40 {
                    workspace
                        .add(&format!("writer {writer}"), ph(made, &format!("{writer}.{count}")))
                        .await
                        .unwrap();
                }
            })
        })
        .collect();
    for writer in writers {
        writer.await.unwrap();
    }
    let readings = workspace.of::<Reading, _>(made).await.unwrap();
    assert_eq!(
        readings.iter().map(|reading| reading.number).collect::<Vec<_>>(),
        (1..=320).collect::<Vec<_>>()
    );
    let typed: BTreeSet<_> = readings.iter().map(|reading| reading.what.value.typed.clone()).collect();
    assert_eq!(typed.len(), 320);
    let Head { length, .. } = workspace.verify().await.unwrap();
    assert_eq!(length, 323);
    drop(workspace);
    assert_eq!(
        with_machine(Arc::new(open_workspace(folder.path()).await.unwrap())).verify().await.unwrap().length,
        323
    );
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn of_eight_tabs_saving_at_once_one_wins_and_seven_are_told() {
    let folder = tempfile::tempdir().unwrap();
    let workspace = with_machine(Arc::new(create_workspace(folder.path()).await.unwrap()));
    let formula = begun(&workspace, "Gel").await.formula.id;
    for round in 1..=5_u32 {
        let tabs: Vec<_> = (0..8)
            .map(|tab| {
                let workspace = workspace.clone();
                let version = text(&format!("# round {round} tab {tab}\n"));
                let save =
                    Save { formula, based_on: round, parent: round, version, tab: Some(tab.to_string()) };
                tokio::spawn(async move { workspace.save_version(&format!("tab {tab}"), save).await })
            })
            .collect();
        let mut won = Vec::new();
        for tab in tabs {
            match tab.await.unwrap() {
                Ok(version) => won.push(version),
                Err(StoreError::Moved { yours, theirs, .. }) => {
                    assert_eq!((yours, theirs), (round, round + 1))
                }
                Err(other) => panic!("{other}"),
            }
        }
        assert_eq!(won.len(), 1);
        assert_eq!(workspace.version(formula, round + 1).await.unwrap(), won[0]);
    }
    assert_eq!(workspace.of::<FormulaVersion, _>(formula).await.unwrap().len(), 6);
}
