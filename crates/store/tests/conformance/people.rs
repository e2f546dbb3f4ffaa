//! People who log in.

use levigate_project::audit::entry_hash;
use levigate_project::people::password::PasswordHash;
use levigate_project::people::{Hand, Right};
use levigate_project::records::{How, Id, Kept, Lot, Person, Role};
use levigate_project::store::{Entry, Select, StoreError};
use levigate_project::workbench::keeping::KeepError;
use levigate_project::workbench::people::{
    PeopleError, PersonCard, PersonChange, Signature, TypedPerson, add, change, confirm, roll,
};
use levigate_project::workspace::{ExportFile, Workspace};

fn hash(workspace: &Workspace, password: &str) -> PasswordHash {
    PasswordHash::make(password, workspace.dice()).unwrap()
}

fn typed(name: &str, role: &str, password: &str) -> TypedPerson {
    TypedPerson {
        name: name.to_owned(),
        role: role.to_owned(),
        password: password.to_owned(),
        ..TypedPerson::default()
    }
}

async fn added(workspace: &Workspace, hand: &Hand, typed: &TypedPerson) -> Result<Kept<Person>, PeopleError> {
    add(workspace, hand, typed, &hash(workspace, &typed.password)).await
}

async fn hand_of(workspace: &Workspace, name: &str) -> Hand {
    Hand::of(roll(workspace).await.unwrap().called(name).unwrap())
}

/// The fields a refusal is about.
fn fields(refused: Result<Kept<Person>, PeopleError>) -> Vec<String> {
    match refused.unwrap_err() {
        PeopleError::Keep(KeepError::Typed(faults)) => faults.into_iter().map(|fault| fault.field).collect(),
        other => panic!("{other}"),
    }
}

const PASSWORD: &str = "grey pestle 41";

pub(crate) async fn a_password_is_kept_apart_and_never_leaves(workspace: &Workspace) {
    let first = typed("Ines Marrow", "admin", PASSWORD);
    let kept = added(workspace, &Hand::initialled("account"), &first).await.unwrap();
    assert_eq!((kept.what.initials.as_str(), kept.what.role, kept.how), ("IM", Role::Admin, How::Initialled));
    let phc = workspace.password_of(kept.id).await.unwrap();
    assert!(phc.holds(PASSWORD));
    let everything = workspace.store().read(&Select::All).await.unwrap();
    let mut texts = vec![format!("{everything:?}"), serde_json::to_string(&kept).unwrap()];
    let roll = roll(workspace).await.unwrap();
    let card = PersonCard::of(&roll.members()[0]);
    texts.push(serde_json::to_string(&card).unwrap());
    texts.push(format!("{roll:?} {first:?} {phc:?}"));
    workspace
        .export(|file: ExportFile| {
            texts.push(String::from_utf8_lossy(&file.bytes).into_owned());
            Ok::<(), StoreError>(())
        })
        .await
        .unwrap();
    for text in &texts {
        assert!(!text.contains("argon2") && !text.contains(PASSWORD), "{text}");
    }
    assert_eq!(card.password, "kept");
    assert!(texts.iter().any(|text| text.contains("\"password\":{\"kept\":\"")), "{texts:?}");
    workspace.verify().await.unwrap();
    let nobody: Id<Person> = "018f0000-0000-7000-8000-000000000001".parse().unwrap();
    assert!(matches!(workspace.password_of(nobody).await, Err(StoreError::Missing { .. })));
}

pub(crate) async fn how_a_writer_is_known_stands_on_the_record_and_in_the_chain(workspace: &Workspace) {
    let lot = |code: &str| Lot {
        material: "water".to_owned(),
        code: code.to_owned(),
        supplier: String::new(),
        assay_percent: None,
        certificate: Vec::new(),
        received: None,
        expiry: None,
        retest: None,
        documents: Vec::new(),
        note: String::new(),
        ..Lot::default()
    };
    let alone = workspace.add("Ines", lot("W-1")).await.unwrap();
    let known = workspace.known(How::Authenticated).add("Ines", lot("W-2")).await.unwrap();
    assert_eq!((alone.how, known.how), (How::Initialled, How::Authenticated));
    assert_eq!(workspace.get(known.id).await.unwrap(), known);
    workspace.verify().await.unwrap();
    let found = workspace.store().read(&Select::One(known.id.uuid())).await.unwrap().remove(0);
    let other = Entry { how: How::Initialled, ..found.entry.clone() };
    assert_eq!(entry_hash(&found.entry, found.number), found.hash);
    assert_ne!(entry_hash(&other, found.number), found.hash, "the label cannot be changed unseen");
}

pub(crate) async fn a_person_is_added_and_changed_under_the_rules(workspace: &Workspace) {
    let account = Hand::initialled("account");
    assert_eq!(fields(added(workspace, &account, &typed("Ines Marrow", "bench", PASSWORD)).await), ["role"]);
    assert_eq!(
        fields(added(workspace, &account, &typed(" ", "chief", "short")).await),
        ["name", "role", "password"]
    );
    let ines = added(workspace, &account, &typed(" Ines  Marrow ", "admin", PASSWORD)).await.unwrap();
    let admin = hand_of(workspace, "ines marrow").await;
    assert_eq!(
        (admin.name.as_str(), admin.how, admin.person),
        ("Ines Marrow", How::Authenticated, Some(ines.id))
    );
    let same = typed("INES MARROW", "bench", PASSWORD);
    assert_eq!(fields(added(workspace, &admin, &same).await), ["name", "initials"]);
    let ivo = added(workspace, &admin, &typed("Ivo Stone", "bench", PASSWORD)).await.unwrap();
    assert_eq!((ivo.who.as_str(), ivo.how), ("Ines Marrow", How::Authenticated));
    assert_eq!(hand_of(workspace, "is").await.name, "Ivo Stone", "initials will do");

    // Who is at the bench manages nobody, but changes their own password.
    let bench = hand_of(workspace, "Ivo Stone").await;
    let denied = added(workspace, &bench, &typed("Una Reed", "bench", PASSWORD)).await.unwrap_err();
    assert!(matches!(&denied, PeopleError::Denied(it) if it.right == Right::People), "{denied}");
    let to = |role: &str| PersonChange { role: Some(role.to_owned()), ..PersonChange::default() };
    assert!(matches!(
        change(workspace, &bench, ivo.id, &to("admin"), None).await,
        Err(PeopleError::Denied(_))
    ));
    let new = PersonChange { password: Some("slate and chalk 7".to_owned()), ..PersonChange::default() };
    let made = hash(workspace, "slate and chalk 7");
    assert!(matches!(
        change(workspace, &bench, ines.id, &new, Some(&made)).await,
        Err(PeopleError::Denied(_))
    ));
    let changed = change(workspace, &bench, ivo.id, &new, Some(&made)).await.unwrap();
    assert_eq!(changed.corrects.unwrap().reason, "a new password");

    // The identity of a person stays through changes, and so does a password that was not changed.
    change(workspace, &admin, ivo.id, &to("reviewer"), None).await.unwrap();
    let people = roll(workspace).await.unwrap();
    let member = people.active(ivo.id).unwrap();
    assert_eq!((member.newest.what.role, member.newest.number), (Role::Reviewer, 4));
    let kept = workspace.password_of(member.newest.id).await.unwrap();
    let signed = Signature::of(&confirm(member, &kept, "slate and chalk 7").unwrap(), member.since);
    assert_eq!(signed.words(), "reviewer, authenticated by password");
    assert!(confirm(member, &kept, PASSWORD).is_none());
    assert_eq!(Signature::of(&account, member.since).words(), "initialled, not authenticated");

    // Somebody can always manage people; a name stays with whoever bore it.
    assert_eq!(fields(change(workspace, &admin, ines.id, &to("bench"), None).await), ["role"]);
    let out = PersonChange { active: Some(false), ..PersonChange::default() };
    assert_eq!(fields(change(workspace, &admin, ines.id, &out, None).await), ["active"]);
    assert_eq!(fields(change(workspace, &admin, ines.id, &to("admin"), None).await), [""]);
    let renamed = PersonChange { name: Some("Ivo Reed".to_owned()), ..PersonChange::default() };
    change(workspace, &admin, ivo.id, &renamed, None).await.unwrap();
    assert_eq!(
        fields(added(workspace, &admin, &typed("Ivo Stone", "bench", PASSWORD)).await),
        ["name", "initials"]
    );
    change(workspace, &admin, ivo.id, &out, None).await.unwrap();
    let people = roll(workspace).await.unwrap();
    assert!(people.active(ivo.id).is_none() && people.called("Ivo Reed").is_none() && !people.is_empty());
    let unknown: Id<Person> = "018f0000-0000-7000-8000-000000000001".parse().unwrap();
    assert!(change(workspace, &admin, unknown, &out, None).await.is_err());
    workspace.verify().await.unwrap();
}
