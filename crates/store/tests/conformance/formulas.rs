//! Formulas and their versions: numbered without a gap, never overwritten.

use levigate_project::audit::content_hash;
use levigate_project::records::{Formula, FormulaVersion, Id, Kind, Lot, TypedNumber};
use levigate_project::store::StoreError;
use levigate_project::workspace::{Save, Workspace};

use super::{begun, ph, text, trial};

pub(super) async fn versions_are_numbered_and_read_back_byte_for_byte(workspace: &Workspace) {
    let head = begun(workspace, "Toner").await;
    assert_eq!((head.newest.number, head.newest.what.parent), (1, None));
    let odd = "name = \"a\u{0}b\r\n\t\u{feff}'; DROP TABLE record; -- \u{1F9EA}\"\n\n\n";
    let save = Save { formula: head.formula.id, based_on: 1, parent: 1, version: text(odd), tab: None };
    let second = workspace.save_version("Ilse", save).await.unwrap();
    assert_eq!((second.number, second.what.parent), (2, Some(1)));
    // A version edited from the first while the second is known: branches are allowed, silence is not.
    let save =
        Save { formula: head.formula.id, based_on: 2, parent: 1, version: text("# three\n"), tab: None };
    assert_eq!(workspace.save_version("Ben", save).await.unwrap().what.parent, Some(1));
    let versions: Vec<_> = workspace.of::<FormulaVersion, _>(head.formula.id).await.unwrap();
    assert_eq!(versions.iter().map(|version| version.number).collect::<Vec<_>>(), [1, 2, 3]);
    assert_eq!(versions[1].what.text, odd);
    assert_eq!(versions[1].what.sha256, content_hash(odd.as_bytes()));
    assert_eq!((versions[2].who.as_str(), versions[2].what.reason.as_str()), ("Ben", "because"));
    assert_eq!(workspace.version(head.formula.id, 2).await.unwrap(), versions[1]);
    assert_eq!(workspace.get(versions[1].id).await.unwrap(), versions[1]);
    assert!(matches!(workspace.version(head.formula.id, 4).await, Err(StoreError::Missing { .. })));
}

pub(super) async fn the_later_of_two_saves_is_told(workspace: &Workspace) {
    let formula = begun(workspace, "Gel").await.formula.id;
    let save = |words: &str| Save { formula, based_on: 1, parent: 1, version: text(words), tab: None };
    let first = workspace.save_version("Ilse", save("# hers\n")).await.unwrap();
    let refused = workspace.save_version("Ben", save("# his\n")).await.unwrap_err();
    assert_eq!(refused, StoreError::Moved { yours: 1, theirs: 2, by: "Ilse".to_owned(), when: first.when });
    assert_eq!(workspace.formulas().await.unwrap()[0].newest.what.text, "# hers\n");
    assert_eq!(workspace.of::<FormulaVersion, _>(formula).await.unwrap().len(), 2);
    // A version that is not there yet is no better.
    let early = Save { based_on: 7, ..save("# his\n") };
    assert!(matches!(
        workspace.save_version("Ben", early).await,
        Err(StoreError::Moved { yours: 7, theirs: 2, .. })
    ));
    let again = Save { based_on: 2, ..save("# his\n") };
    assert_eq!(workspace.save_version("Ben", again).await.unwrap().number, 3);
}

pub(super) async fn formulas_are_listed_with_their_newest_version(workspace: &Workspace) {
    assert!(workspace.formulas().await.unwrap().is_empty());
    let (one, two) = (begun(workspace, "One").await, begun(workspace, "Two").await);
    let save = Save { formula: one.formula.id, based_on: 1, parent: 1, version: text("# 1.2\n"), tab: None };
    workspace.save_version("Ilse", save).await.unwrap();
    let list = workspace.formulas().await.unwrap();
    let seen: Vec<_> =
        list.iter().map(|head| (head.formula.what.name.as_str(), head.newest.number)).collect();
    assert_eq!(seen, [("One", 2), ("Two", 1)]);
    assert_eq!((list[0].formula.number, list[1].formula.number), (1, 2));
    assert_eq!(list[1], two);
}

pub(super) async fn what_a_record_mentions_must_exist(workspace: &Workspace) {
    let formula = begun(workspace, "Toner").await.formula.id;
    let nobody: Id<Formula> = Id::new(workspace.clock().now(), workspace.dice()).unwrap();
    let missing = |kind: Kind| move |error: StoreError| matches!(error, StoreError::Missing { kind: k, .. } if k == kind);
    let orphan = Save { formula: nobody, based_on: 0, parent: 0, version: text("# x\n"), tab: None };
    assert!(workspace.save_version("Ilse", orphan).await.is_err_and(missing(Kind::Formula)));
    assert!(workspace.add("Ilse", trial(formula, 2)).await.is_err_and(missing(Kind::FormulaVersion)));
    let made = workspace.add("Ilse", trial(formula, 1)).await.unwrap();
    // The identity of a formula is no trial, and another formula's trial is no parent.
    let mistaken = Id::from_uuid(formula.uuid());
    assert!(workspace.add("Ilse", ph(mistaken, "5.2")).await.is_err_and(missing(Kind::Trial)));
    assert!(workspace.get::<Lot>(Id::from_uuid(made.id.uuid())).await.is_err_and(missing(Kind::Lot)));
    let other = begun(workspace, "Gel").await.formula.id;
    let mut copy = trial(other, 1);
    copy.parent = Some(made.id);
    assert!(workspace.add("Ilse", copy).await.is_err_and(missing(Kind::Trial)));
    let mut lot = Lot {
        material: "citric-acid".to_owned(),
        code: "L-17".to_owned(),
        supplier: String::new(),
        assay_percent: Some(TypedNumber::read("-1", Default::default())),
        certificate: Vec::new(),
        received: None,
        expiry: None,
        retest: None,
        documents: Vec::new(),
        note: String::new(),
        ..Lot::default()
    };
    assert!(matches!(workspace.add("Ilse", lot.clone()).await, Err(StoreError::Unfit(_))));
    lot.assay_percent = Some(TypedNumber::read("99.7", Default::default()));
    assert!(matches!(workspace.add(" ", lot.clone()).await, Err(StoreError::Unfit(_))));
    let kept = workspace.add("Ilse", lot.clone()).await.unwrap();
    assert_eq!(workspace.get(kept.id).await.unwrap().what, lot);
}

pub(super) async fn a_write_is_whole_or_nothing(workspace: &Workspace) {
    let before = workspace.store().head().await.unwrap();
    // The second version is no fit text, so neither the formula nor the first version may be there afterwards.
    let unfit = levigate_project::workspace::VersionText { reason: String::new(), ..text("# x\n") };
    let sample = levigate_project::workspace::SampleFormula {
        name: "Sample".to_owned(),
        versions: vec![text("#"), unfit],
    };
    assert!(matches!(workspace.seed("Ilse", &[sample]).await, Err(StoreError::Unfit(_))));
    assert_eq!(workspace.store().head().await.unwrap(), before);
    // The same inside the store: a second entry that collides takes the first with it.
    let formula = begun(workspace, "Toner").await.formula.id;
    let log = workspace.store().read(&levigate_project::store::Select::All).await.unwrap();
    let again = |entry: &levigate_project::store::LogEntry, based_on| levigate_project::store::NewEntry {
        entry: levigate_project::store::Entry {
            id: Id::<Formula>::new(workspace.clock().now(), workspace.dice()).unwrap().uuid(),
            ..entry.entry.clone()
        },
        photo: None,
        based_on,
        uses: Vec::new(),
    };
    let entries = vec![again(&log[0], None), again(&log[1], Some(0))];
    let write = levigate_project::store::Write { entries, ..Default::default() };
    assert!(matches!(
        workspace.store().write(&write).await,
        Err(StoreError::Moved { yours: 0, theirs: 1, .. })
    ));
    assert_eq!(workspace.store().read(&levigate_project::store::Select::All).await.unwrap(), log);
    assert_eq!(workspace.all::<Formula>().await.unwrap()[0].id, formula);
    workspace.verify().await.unwrap();
}
