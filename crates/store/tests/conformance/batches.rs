//! Batches: entries are kept once however often they are sent, lots are traced, signatures hold what they cover.

use levigate_project::clock::Dice as _;
use levigate_project::clock::LoadedDice;
use levigate_project::records::{
    Batch, BatchEntry, Correction, Did, FlowCurve, FromDevice, Id, Kept, Lot, LotNamed, LotStatus,
    Observation, Photo, Plan, PlanLine, PlanStep, Reading, Record, RetainedSample, SignOff, SignedAs, Status,
    StepKind, StockMovement, TypedMass, TypedNumber,
};
use levigate_project::store::{StoreError, Trace};
use levigate_project::workbench::batch::{Progress, deviations_between};
use levigate_project::workbench::lots::named_key;
use levigate_project::workbench::stock::gather_stock;
use levigate_project::workbench::trace::{forward, forward_not_on_file};
use levigate_project::workspace::{KeptOnce, Workspace};
use rust_decimal::Decimal;
use std::collections::BTreeSet;
use uuid::Uuid;

use super::corrections::{PIXEL, curve};
use super::{begun, ph, trial};

fn plan() -> Plan {
    let step = |number: usize, material: &str, grams: i64| PlanStep {
        number,
        kind: StepKind::Weigh,
        phase: "A".to_owned(),
        text: format!("Weigh {material}"),
        why: String::new(),
        line: Some(PlanLine {
            number,
            material: material.to_owned(),
            name: material.to_owned(),
            percent: Decimal::from(grams / 2),
            grams: Decimal::from(grams),
            tolerance_percent: Decimal::ONE,
            tolerance_g: Decimal::ZERO,
            remainder: number == 1,
            to_ph: None,
            first_g: None,
            lot: String::new(),
            portion: None,
        }),
        temperature_c: None,
        speed_rpm: None,
        hold_min: None,
        checks: Vec::new(),
        cautions: Vec::new(),
        procedure: None,
    };
    Plan {
        product: "Toner".to_owned(),
        version: 1,
        version_code: "0".repeat(12),
        size_g: Decimal::from(200),
        balances: vec![serde_json::from_value(serde_json::json!({ "readability_g": "0.01" })).unwrap()],
        steps: vec![step(1, "water", 190), step(2, "mandelic-acid", 10)],
        told: Vec::new(),
    }
}

pub(crate) async fn started(workspace: &Workspace, code: &str) -> Kept<Batch> {
    let formula = match workspace.formulas().await.unwrap().first() {
        Some(head) => head.formula.id,
        None => begun(workspace, "Toner").await.formula.id,
    };
    let batch = |trial| Batch {
        trial,
        code: code.to_owned(),
        plan: plan(),
        engine_version: "test".to_owned(),
        data_version: "test".to_owned(),
        sent_sha256: String::new(),
        note: String::new(),
    };
    workspace.begin_batch("Ilse", trial(formula, 1), None, batch).await.unwrap().1
}

pub(crate) fn weighed(batch: Id<Batch>, second: i64, lot: &LotNamed, net: &str) -> BatchEntry {
    let did = Did::Weighed {
        line: 2,
        material: "mandelic-acid".to_owned(),
        lot: Some(lot.clone()),
        corrected_g: None,
        mass: TypedMass {
            net: Some(TypedNumber::read_either(net)),
            unit: "g".to_owned(),
            ..TypedMass::default()
        },
    };
    BatchEntry {
        batch,
        device_time: jiff::Timestamp::from_second(1_772_000_000 + second).unwrap(),
        paper: None,
        step: Some(2),
        instrument: "balance".to_owned(),
        note: String::new(),
        did,
        sent_sha256: format!("{second} {net}"),
        after_sign_off: false,
        withdrawn: false,
    }
}

pub(crate) async fn lot(workspace: &Workspace, code: &str) -> (Kept<Lot>, LotNamed) {
    let what = Lot {
        material: "mandelic-acid".to_owned(),
        code: code.to_owned(),
        quantity: Some(TypedMass {
            net: Some(TypedNumber::read_either("0,5")),
            unit: "kg".to_owned(),
            ..TypedMass::default()
        }),
        ..Lot::default()
    };
    let kept = workspace.add("Ilse", what).await.unwrap();
    let named = LotNamed { code: code.to_owned(), key: kept.id.to_string(), on_file: Some(kept.id) };
    (kept, named)
}

pub(crate) fn id<T>(number: u128) -> Id<T> {
    Id::from_uuid(Uuid::from_u128(0x0700_0000_0000_0000_0000_0000_0000 + number))
}

pub(crate) async fn send(
    workspace: &Workspace,
    id: Id<BatchEntry>,
    entry: &BatchEntry,
    corrects: Option<Id<BatchEntry>>,
) -> Result<KeptOnce<BatchEntry>, StoreError> {
    let correction = corrects.map(|supersedes| Correction { supersedes, reason: "slip".to_owned() });
    let same = |there: &BatchEntry| there.sent_sha256 == entry.sent_sha256;
    workspace.keep_once("Ilse", id, entry.clone(), (correction, None), same).await
}

pub(super) async fn a_batch_begins_with_its_trial_or_not_at_all(workspace: &Workspace) {
    let batch = started(workspace, "260302-01").await;
    let trial = workspace.get(batch.what.trial).await.unwrap();
    assert_eq!((trial.sequence + 1, trial.number), (batch.sequence, 1));
    assert_eq!(workspace.batch_of_code("260302-01").await.unwrap(), batch);
    assert_eq!(workspace.belonging_to::<Batch, _>(trial.id).await.unwrap(), std::slice::from_ref(&batch));
    let before = workspace.store().head().await.unwrap();
    let again = |trial| Batch { trial, ..batch.what.clone() };
    let taken = workspace.begin_batch("Ben", trial.what.clone(), None, again).await.unwrap_err();
    assert!(matches!(taken, StoreError::Moved { .. }), "{taken}");
    let lower = |trial| Batch { trial, code: "no good".to_owned(), ..batch.what.clone() };
    assert!(matches!(
        workspace.begin_batch("Ben", trial.what.clone(), None, lower).await,
        Err(StoreError::Unfit(_))
    ));
    assert_eq!(workspace.store().head().await.unwrap(), before, "no trial without its batch");
    let second = started(workspace, "260302-02").await;
    let newest = workspace.newest::<Batch>(1).await.unwrap();
    assert_eq!(newest, std::slice::from_ref(&second));
    assert_eq!(workspace.after::<Batch>(0, 1).await.unwrap(), std::slice::from_ref(&batch));
    assert_eq!(workspace.after::<Batch>(batch.sequence, 9).await.unwrap(), [second]);
    workspace.verify().await.unwrap();
}

pub(super) async fn a_list_of_deviations_goes_through_every_batch(workspace: &Workspace) {
    // More than are held at once; something went otherwise in the first and in the last.
    let told = [0, 203];
    for number in 0..=203 {
        let batch = started(workspace, &format!("B-{number}")).await;
        if told.contains(&number) {
            let did = Did::Deviation {
                text: format!("stirred longer in {number}"),
                reason: "lumps".to_owned(),
                decision: "goes on".to_owned(),
            };
            let (_, named) = lot(workspace, &format!("M-{number}")).await;
            let entry = BatchEntry { did, ..weighed(batch.id, number, &named, "10") };
            let mark = if number == 0 { id(1) } else { id(2) };
            send(workspace, mark, &entry, None).await.unwrap();
        }
    }
    let days = (jiff::civil::date(2000, 1, 1), jiff::civil::date(2100, 1, 1));
    let list = deviations_between(workspace, days).await.unwrap();
    assert_eq!(list.batches, 204);
    let texts: Vec<&str> = list.rows.iter().map(|row| row.text.as_str()).collect();
    assert_eq!(texts, ["stirred longer in 0", "stirred longer in 203"]);
}

pub(super) async fn an_entry_sent_twice_is_kept_once(workspace: &Workspace) {
    let batch = started(workspace, "B-1").await;
    let (_, lot) = lot(workspace, "M-1").await;
    let entry = weighed(batch.id, 1, &lot, "9.98");
    let first = send(workspace, id(1), &entry, None).await.unwrap();
    assert!(!first.already);
    assert_eq!(first.kept.id, id(1));
    let head = workspace.store().head().await.unwrap();
    let again = send(workspace, id(1), &entry, None).await.unwrap();
    assert!(again.already);
    assert_eq!(again.kept, first.kept);
    let other = send(workspace, id(1), &weighed(batch.id, 1, &lot, "9.99"), None).await.unwrap_err();
    assert!(matches!(other, StoreError::IdentityTaken { .. }), "{other}");
    let elsewhere: Id<BatchEntry> = Id::from_uuid(batch.id.uuid());
    assert!(matches!(send(workspace, elsewhere, &entry, None).await, Err(StoreError::IdentityTaken { .. })));
    assert_eq!(workspace.store().head().await.unwrap(), head);
    // The same at the same moment, from two devices.
    let both = weighed(batch.id, 2, &lot, "0.02");
    let (one, two) = tokio::join!(send(workspace, id(2), &both, None), send(workspace, id(2), &both, None));
    let (one, two) = (one.unwrap(), two.unwrap());
    assert_eq!(one.kept, two.kept);
    assert!(one.already != two.already);
    // What it belongs to and mentions must exist.
    let nowhere = weighed(id(99), 3, &lot, "1");
    assert!(matches!(send(workspace, id(3), &nowhere, None).await, Err(StoreError::Missing { .. })));
    let stranger = LotNamed { on_file: Some(id(98)), ..lot.clone() };
    let mentions = weighed(batch.id, 3, &stranger, "1");
    assert!(matches!(send(workspace, id(3), &mentions, None).await, Err(StoreError::Missing { .. })));
    let photo = Photo::new(PIXEL.to_vec()).unwrap();
    let seen = BatchEntry {
        did: Did::Photo { shows: "lumps".to_owned(), media: photo.media(), taken_out: Vec::new() },
        ..entry
    };
    let kept = workspace.keep_once("Ilse", id(4), seen, (None, Some(photo.clone())), |_| true).await.unwrap();
    assert_eq!(workspace.store().photo(kept.kept.id.uuid()).await.unwrap(), Some(photo));
    workspace.verify().await.unwrap();
}

/// The queue of a device: entries, undos of them, undos of those, in the order they were made.
fn queue(batch: Id<Batch>, lot: &LotNamed) -> Vec<(Id<BatchEntry>, BatchEntry, Option<Id<BatchEntry>>)> {
    let mut queue = Vec::new();
    for number in 0..6_u32 {
        let entry = weighed(batch, i64::from(number), lot, &format!("{}.0{number}", number + 1));
        queue.push((id(100 + u128::from(number)), entry.clone(), None));
        let mut of = entry;
        // Some are taken back, some of these undos are, and so on.
        for depth in 0..number % 4 {
            let number = u128::from(number);
            of = BatchEntry {
                withdrawn: !of.withdrawn,
                sent_sha256: format!("undo {number} {depth}"),
                ..of.clone()
            };
            let place = 200 + 10 * number + u128::from(depth);
            let struck = if depth == 0 { 100 + number } else { place - 1 };
            queue.push((id(place), of.clone(), Some(id(struck))));
        }
    }
    queue
}

pub(super) async fn replays_in_any_order_end_the_same(fresh: &[Workspace]) {
    let mut ends = Vec::new();
    for (seed, workspace) in fresh.iter().enumerate() {
        let batch = started(workspace, "B-1").await;
        let (_, lot) = lot(workspace, "M-1").await;
        let mut waiting = queue(batch.id, &lot);
        let dice = LoadedDice::new(seed as u64);
        let roll = |sides: usize| {
            let mut byte = [0_u8; 2];
            dice.roll(&mut byte).unwrap();
            usize::from(u16::from_le_bytes(byte)) % sides
        };
        let mut acknowledged = Vec::new();
        // The first device is orderly; the others shuffle, and send again what was kept long ago.
        while !waiting.is_empty() {
            let at = if seed == 0 { 0 } else { roll(waiting.len()) };
            let (id, entry, corrects) = waiting[at].clone();
            match send(workspace, id, &entry, corrects).await {
                Ok(_) => acknowledged.push(waiting.remove(at)),
                // Before what it takes back: to be sent again later.
                Err(StoreError::Missing { .. }) => assert!(seed > 0),
                Err(error) => panic!("{error}"),
            }
            if seed > 0 && !acknowledged.is_empty() && roll(3) == 0 {
                let (id, entry, corrects) = &acknowledged[roll(acknowledged.len())];
                assert!(send(workspace, *id, entry, *corrects).await.unwrap().already);
            }
        }
        let entries: Vec<Kept<BatchEntry>> = workspace.of(batch.id).await.unwrap();
        assert_eq!(entries.len(), queue(batch.id, &lot).len());
        workspace.verify().await.unwrap();
        let used = workspace.store().used().await.unwrap();
        ends.push((Progress::of(&plan(), &entries), used.into_values().collect::<Vec<_>>()));
    }
    assert!(ends.windows(2).all(|pair| pair[0] == pair[1]));
    // By hand: entries 1, 5 (not touched), 3 (its undo undone) stand; 2, 4 and 6 are taken back.
    assert_eq!(ends[0].0.lines[1].actual_g().to_string(), "9.06");
    assert_eq!(ends[0].1, [9_060_000]);
}

pub(super) async fn lots_are_traced_forward_and_back(workspace: &Workspace) {
    let (one, two) = (started(workspace, "B-1").await, started(workspace, "B-2").await);
    let (kept, first) = lot(workspace, "M-1").await;
    let (_, second) = lot(workspace, "M-2").await;
    let nowhere = LotNamed { code: "M-9".to_owned(), key: named_key("mandelic-acid", "M-9"), on_file: None };
    let put = async |number: u128, batch: &Kept<Batch>, lot: &LotNamed, net: &str| {
        let second = i64::try_from(number).unwrap();
        send(workspace, id(number), &weighed(batch.id, second, lot, net), None).await.unwrap();
    };
    put(1, &one, &first, "4.000001").await;
    put(2, &one, &second, "6").await;
    put(3, &two, &first, "10").await;
    put(4, &two, &nowhere, "1").await;
    // It was another lot: the struck use stays on record as struck.
    let other = BatchEntry { sent_sha256: "x".to_owned(), ..weighed(two.id, 3, &second, "10") };
    send(workspace, id(5), &other, Some(id(3))).await.unwrap();
    let traced = workspace.trace(&Trace::Lot(kept.id.to_string())).await.unwrap();
    let told: Vec<_> =
        traced.iter().map(|it| (it.code.as_str(), it.used.grams().to_string(), it.struck)).collect();
    assert_eq!(told, [("B-1", "4.000001".to_owned(), false), ("B-2", "10".to_owned(), true)]);
    assert_eq!((traced[0].batch, traced[0].trial), (one.id.uuid(), one.what.trial.uuid()));
    let mut used = [&first.key, &second.key, &nowhere.key].map(String::clone);
    used.sort();
    assert_eq!(workspace.store().lots_used().await.unwrap(), used);
    let back = workspace.trace(&Trace::Batch(two.id.uuid())).await.unwrap();
    let lots: Vec<_> = back.iter().map(|it| (it.used.lot.clone(), it.struck)).collect();
    assert_eq!(lots, [(first.key.clone(), true), (nowhere.key, false), (second.key.clone(), false)]);
    let stock = gather_stock(workspace).await.unwrap();
    assert_eq!(stock.left_g(&kept).unwrap().to_string(), "495.999999");
    // A code that is not on file is found all the same, by itself and with its raw material.
    let lots: Vec<Kept<Lot>> = workspace.all().await.unwrap();
    for material in [None, Some("mandelic-acid")] {
        let found = forward_not_on_file(workspace, material, "M-9", &BTreeSet::new()).await.unwrap();
        assert_eq!(found.len(), 1);
        assert_eq!(
            (found[0].material.as_str(), found[0].lot.as_str(), found[0].id),
            ("mandelic-acid", "M-9", None)
        );
        assert_eq!((found[0].uses.len(), found[0].uses[0].code.as_str()), (1, "B-2"));
    }
    for (material, code) in [(Some("water"), "M-9"), (None, "M-1"), (None, "M-99")] {
        assert!(forward_not_on_file(workspace, material, code, &BTreeSet::new()).await.unwrap().is_empty());
    }
    assert_eq!(forward(workspace, &lots, &kept).await.unwrap().uses.len(), 2);
    // Put on file later, what was taken of it before is counted: 500 g less 1 g.
    let (late, _) = lot(workspace, "M-9").await;
    let lots: Vec<Kept<Lot>> = workspace.all().await.unwrap();
    assert_eq!(forward(workspace, &lots, &late).await.unwrap().uses[0].code, "B-2");
    let stock = gather_stock(workspace).await.unwrap();
    assert_eq!(stock.left_g(&late).unwrap(), Decimal::from(499));
    let spilled = StockMovement {
        lot: kept.id,
        mass: TypedMass {
            net: Some(TypedNumber::read_either("5")),
            unit: "g".to_owned(),
            ..TypedMass::default()
        },
        taken: true,
        reason: "spilled".to_owned(),
        note: String::new(),
        from: FromDevice::default(),
    };
    workspace.add("Ilse", spilled).await.unwrap();
    let from = FromDevice::default;
    let decided =
        |status, reason: &str| LotStatus { lot: kept.id, status, reason: reason.to_owned(), from: from() };
    let status = decided(Status::Rejected, "wet");
    workspace.add("Ilse", status).await.unwrap();
    let stock = gather_stock(workspace).await.unwrap();
    assert_eq!(stock.left_g(&kept).unwrap().to_string(), "490.999999");
    assert_eq!(stock.statuses.get(&kept.id), Some(&Status::Rejected));
    // A release is of what was on file then.
    let day = jiff::civil::date(2026, 3, 2);
    let release = || decided(Status::Released, "dried");
    workspace.add("Una", release()).await.unwrap();
    let against =
        async |lot: &Kept<Lot>| gather_stock(workspace).await.unwrap().against(lot, day, Decimal::ONE);
    assert!(against(&kept).await.is_empty());
    let other = Lot { supplier: "another".to_owned(), ..kept.what.clone() };
    let corrected = workspace.correct("Ilse", kept.id, "misread", other).await.unwrap();
    assert_eq!(against(&corrected).await, ["What is on file about it was corrected after it was released."]);
    workspace.add("Una", release()).await.unwrap();
    assert!(against(&corrected).await.is_empty());
    workspace.verify().await.unwrap();
}

pub(super) async fn a_signature_holds_what_it_covers(workspace: &Workspace) {
    let batch = started(workspace, "B-1").await;
    let (_, lot) = lot(workspace, "M-1").await;
    send(workspace, id(1), &weighed(batch.id, 1, &lot, "9.98"), None).await.unwrap();
    let sample = RetainedSample {
        batch: batch.id,
        label: "B-1".to_owned(),
        mass: None,
        container: "jar".to_owned(),
        location: "shelf 2".to_owned(),
        until: None,
        note: String::new(),
        from: FromDevice::default(),
        withdrawn: false,
    };
    workspace.add("Ilse", sample).await.unwrap();
    let asked = SignOff {
        batch: batch.id,
        signed_as: SignedAs::Made,
        known_by: "initialled, not authenticated".to_owned(),
        through: 0,
        records: 0,
        content_sha256: String::new(),
        engine_version: "test".to_owned(),
        data_version: "test".to_owned(),
        note: String::new(),
        alone: String::new(),
    };
    let signed = workspace.sign_off("Ilse", &batch, asked).await.unwrap();
    // The trial, the batch, the entry, the sample.
    assert_eq!((signed.what.records, signed.what.through + 1), (4, signed.sequence));
    assert!(workspace.sign_off_holds(&batch, &signed.what).await.unwrap());
    // What comes later breaks nothing.
    let late = BatchEntry { withdrawn: true, after_sign_off: true, ..weighed(batch.id, 1, &lot, "9.98") };
    send(workspace, id(2), &late, Some(id(1))).await.unwrap();
    assert!(workspace.sign_off_holds(&batch, &signed.what).await.unwrap());
    let other = SignOff { content_sha256: "0".repeat(64), ..signed.what.clone() };
    assert!(!workspace.sign_off_holds(&batch, &other).await.unwrap());
    let fewer = SignOff { through: signed.what.through - 1, ..signed.what.clone() };
    assert!(!workspace.sign_off_holds(&batch, &fewer).await.unwrap());
    let all = workspace.signatures().await.unwrap();
    assert_eq!(all, [("B-1".to_owned(), signed, true)]);
    workspace.verify().await.unwrap();
}

/// Sends a record of a kind twice, then another under its identity, then the first again at the same moment from two sides.
async fn twice<T: Record + Clone + PartialEq + std::fmt::Debug>(
    workspace: &Workspace,
    number: u128,
    one: T,
    other: T,
    from: fn(&T) -> &FromDevice,
) {
    let keep = async |what: &T| {
        let sent = from(what).sent_sha256.clone();
        let same = move |there: &T| from(there).sent_sha256 == sent;
        workspace.keep_once("Ilse", id(number), what.clone(), (None, None), same).await
    };
    let (first, again) = tokio::join!(keep(&one), keep(&one));
    let (first, again) = (first.unwrap(), again.unwrap());
    assert!(first.already != again.already, "one of two sendings is the first");
    assert_eq!(first.kept, again.kept);
    assert!(keep(&one).await.unwrap().already);
    let refused = keep(&other).await.unwrap_err();
    assert!(matches!(refused, StoreError::IdentityTaken { .. }), "{refused}");
    let all: Vec<Kept<T>> = workspace.all().await.unwrap();
    assert_eq!(all.iter().filter(|kept| kept.id == id(number)).count(), 1);
    assert_eq!(all.len(), 1, "kept once");
    assert_eq!(from(&all[0].what).device_time, from(&one).device_time);
}

pub(super) async fn what_a_device_sends_is_kept_once_whatever_it_is(workspace: &Workspace) {
    let batch = started(workspace, "B-7").await;
    let (lot, _) = lot(workspace, "M-7").await;
    let from = |mark: &str| FromDevice {
        device_time: Some(jiff::Timestamp::from_second(1_772_000_000).unwrap()),
        sent_sha256: mark.to_owned(),
    };
    let reading = |mark: &str| Reading { from: from(mark), ..ph(batch.what.trial, "3,83") };
    twice(workspace, 71, reading("a"), reading("b"), |reading| &reading.from).await;
    let seen =
        |mark: &str| Observation { from: from(mark), ..Observation::in_words(batch.what.trial, "a haze") };
    twice(workspace, 72, seen("a"), seen("b"), |seen| &seen.from).await;
    let sample = |mark: &str| RetainedSample {
        batch: batch.id,
        label: "B-7".to_owned(),
        mass: None,
        container: "jar".to_owned(),
        location: "shelf 2".to_owned(),
        until: None,
        note: String::new(),
        from: from(mark),
        withdrawn: false,
    };
    twice(workspace, 73, sample("a"), sample("b"), |sample| &sample.from).await;
    let moved = |mark: &str| StockMovement {
        lot: lot.id,
        mass: TypedMass {
            net: Some(TypedNumber::read_either("5")),
            unit: "g".to_owned(),
            ..TypedMass::default()
        },
        taken: true,
        reason: "spilled".to_owned(),
        note: String::new(),
        from: from(mark),
    };
    twice(workspace, 74, moved("a"), moved("b"), |moved| &moved.from).await;
    assert_eq!(gather_stock(workspace).await.unwrap().left_g(&lot).unwrap(), Decimal::from(495));
    let decided = |mark: &str| LotStatus {
        lot: lot.id,
        status: Status::Released,
        reason: "looked through".to_owned(),
        from: from(mark),
    };
    twice(workspace, 75, decided("a"), decided("b"), |decided| &decided.from).await;
    let measured = |mark: &str| FlowCurve { from: from(mark), ..curve(batch.what.trial) };
    twice(workspace, 76, measured("a"), measured("b"), |curve| &curve.from).await;
    // An identity that another kind of record has is taken too.
    let entry =
        weighed(batch.id, 1, &LotNamed { code: "M".to_owned(), key: "M".to_owned(), on_file: None }, "1");
    let taken = send(workspace, id(71), &entry, None).await.unwrap_err();
    assert!(matches!(taken, StoreError::IdentityTaken { .. }), "{taken}");
    workspace.verify().await.unwrap();
}
