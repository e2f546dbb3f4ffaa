//! Stability studies in a workspace: planned, read, corrected, drawn; against numbers another program worked out.

#![expect(clippy::unwrap_used, reason = "a test that cannot go on shall stop where it is")]

use jiff::civil::{Date, date};
use levigate_project::clock::{LoadedDice, SteppingClock};
use levigate_project::facts::{Facts, shipped};
use levigate_project::records::{Formula, Id, Kept, PlannedPull, PullUnit, Study, StudyReading};
use levigate_project::workbench::keeping::KeepError;
use levigate_project::workbench::studies::{
    PullState, StudyRecords, TypedPull, TypedStudy, TypedStudyAttribute, TypedStudyBatch,
    TypedStudyCondition, TypedStudyPack, TypedValue, Verdict, bring_readings, change_study,
    correct_study_reading, due_pulls, gather_study, give_up_study, keep_pull, look_at_readings, plan_study,
    samples_needed, study_book, study_losses, study_trend, typed_of,
};
use levigate_project::workspace::{VersionText, Workspace};
use levigate_store::SqliteStore;
use serde::Deserialize;
use std::collections::BTreeMap;
use std::sync::{Arc, LazyLock};

static FACTS: LazyLock<Facts> = LazyLock::new(|| shipped().unwrap());
const WHO: &str = "Ines Marrow";
const TODAY: Date = date(2026, 11, 27);
const ROOM: &str = "25 °C, 60 % r.h.";

/// `tests/cross/studies.toml`.
#[derive(Deserialize)]
struct Cases {
    start: String,
    days: Vec<String>,
    months: Vec<f64>,
    assay: Assay,
    percent: BTreeMap<String, [f64; 3]>,
    colour: BTreeMap<String, Colour>,
    due: Vec<Due>,
    samples: Samples,
}

#[derive(Deserialize)]
struct Assay {
    lower: f64,
    slopes_chance: f64,
    heights_chance: f64,
    slope: f64,
    leaves: Vec<f64>,
    #[serde(flatten)]
    read: BTreeMap<String, Vec<f64>>,
}

#[derive(Deserialize)]
struct Colour {
    start: [f64; 3],
    now: [f64; 3],
    distance: f64,
}

#[derive(Deserialize)]
struct Due {
    start: String,
    after: u32,
    unit: String,
    day: String,
}

#[derive(Deserialize)]
struct Samples {
    needed: f64,
}

fn cases() -> Cases {
    toml::from_str(include_str!("../../../tests/cross/studies.toml")).unwrap()
}

async fn workspace() -> (Workspace, Id<Formula>) {
    let store = SqliteStore::in_memory().await.unwrap();
    let clock = SteppingClock::new("2026-11-27T08:00:00Z".parse().unwrap(), 1);
    let workspace = Workspace::new(Arc::new(store), Arc::new(clock), Arc::new(LoadedDice::new(7)));
    let text = VersionText {
        text: include_str!("../../../examples/zinc-balancing-serum.toml").to_owned(),
        reason: "first".to_owned(),
        engine_version: "test".to_owned(),
        data_version: "test".to_owned(),
    };
    let head = workspace.create_formula(WHO, "Serum", text).await.unwrap();
    (workspace, head.formula.id)
}

fn attribute(name: &str, reads: &str, unit: &str, limits: [&str; 2]) -> TypedStudyAttribute {
    TypedStudyAttribute {
        name: name.to_owned(),
        reads: reads.to_owned(),
        unit: unit.to_owned(),
        lower: limits[0].to_owned(),
        upper: limits[1].to_owned(),
        ..TypedStudyAttribute::default()
    }
}

fn typed() -> TypedStudy {
    let batch = |name: &str| TypedStudyBatch { name: name.to_owned(), trial: String::new() };
    let condition = |name: &str, temperature_c: &str, role: &str, pulls: &str| TypedStudyCondition {
        name: name.to_owned(),
        temperature_c: temperature_c.to_owned(),
        role: role.to_owned(),
        pulls: pulls.to_owned(),
        ..TypedStudyCondition::default()
    };
    let mut viscosity = attribute("Viscosity", "percent-of-start", "mPa·s", ["80", "120"]);
    viscosity.measured_at.insert("speed".to_owned(), "12 rpm".to_owned());
    TypedStudy {
        version: 1,
        name: "Serum in glass".to_owned(),
        why: "Launch in spring".to_owned(),
        start: cases().start,
        batches: vec![batch("A"), batch("B"), batch("C")],
        packs: vec![TypedStudyPack { name: "Glass".to_owned(), ..TypedStudyPack::default() }],
        conditions: vec![
            condition(ROOM, "25", "storage", "4, 13, 26 weeks, 2 months"),
            condition("40 °C", "40", "accelerated", "13, 26 weeks"),
        ],
        attributes: vec![
            attribute("Assay of niacinamide", "", "% of label", ["95", ""]),
            viscosity,
            attribute("Colour", "colour", "", ["", "2"]),
            TypedStudyAttribute {
                steps: vec!["odour".to_owned()],
                ..attribute("Odour", "scale", "", ["", "1"])
            },
            attribute("pH", "", "", ["5,2", "5.8"]),
        ],
        wanted_months: "9".to_owned(),
        ..TypedStudy::default()
    }
}

fn value(batch: &str, attribute: &str, value: &str) -> TypedValue {
    TypedValue {
        batch: batch.to_owned(),
        pack: "Glass".to_owned(),
        attribute: attribute.to_owned(),
        value: value.to_owned(),
        ..TypedValue::default()
    }
}

fn pull(condition: &str, pull: &str, on: &str, values: Vec<TypedValue>) -> TypedPull {
    TypedPull { condition: condition.to_owned(), pull: pull.to_owned(), on: on.to_owned(), values }
}

async fn begun() -> (Workspace, Kept<Study>) {
    let (workspace, formula) = workspace().await;
    let study = plan_study(&workspace, WHO, formula, &typed()).await.unwrap().kept;
    (workspace, study)
}

async fn keep(workspace: &Workspace, study: &Kept<Study>, typed: &TypedPull) -> Vec<Kept<StudyReading>> {
    keep_pull(workspace, (WHO, TODAY), study.id, typed).await.unwrap()
}

fn faults(error: KeepError) -> String {
    match error {
        KeepError::Typed(faults) => faults
            .iter()
            .map(|it| format!("{}: {} {}", it.field, it.what, it.what_now))
            .collect::<Vec<_>>()
            .join("\n"),
        KeepError::Store(error) => error.to_string(),
    }
}

fn near(found: f64, expected: f64, within: f64) {
    assert!((found - expected).abs() <= within * expected.abs().max(1.0), "{found} instead of {expected}");
}

async fn records(workspace: &Workspace, study: &Kept<Study>) -> StudyRecords {
    gather_study(workspace, study.id).await.unwrap()
}

#[test]
fn pulls_are_due_on_the_days_of_the_calendar() {
    for due in cases().due {
        let unit = match due.unit.as_str() {
            "days" => PullUnit::Days,
            "weeks" => PullUnit::Weeks,
            _ => PullUnit::Months,
        };
        let pull = PlannedPull { after: due.after, unit };
        assert_eq!(pull.due(due.start.parse().unwrap()).to_string(), due.day, "{pull} after {}", due.start);
    }
}

#[tokio::test]
async fn the_packs_needed_are_counted() {
    let (workspace, formula) = workspace().await;
    let mut plan = typed();
    plan.batches.pop();
    plan.packs.push(TypedStudyPack { name: "Pump".to_owned(), ..TypedStudyPack::default() });
    plan.conditions[0].pulls = "4, 13, 26 weeks".to_owned();
    plan.units_per_pull = "2".to_owned();
    let study = plan_study(&workspace, WHO, formula, &plan).await.unwrap().kept;
    assert_eq!(samples_needed(&study.what).value, Some(cases().samples.needed));
}

#[tokio::test]
async fn an_assay_of_three_batches_has_the_line_another_program_finds() {
    let (workspace, study) = begun().await;
    let cases = cases();
    let pulls =
        [("start", "start"), (ROOM, "4 weeks"), (ROOM, "2 months"), (ROOM, "13 weeks"), (ROOM, "26 weeks")];
    for (at, (condition, time)) in pulls.into_iter().enumerate() {
        let values = cases
            .assay
            .read
            .iter()
            .map(|(batch, read)| value(batch, "Assay of niacinamide", &read[at].to_string()));
        keep(&workspace, &study, &pull(condition, time, &cases.days[at], values.collect())).await;
    }
    let records = records(&workspace, &study).await;
    let trend = study_trend(&FACTS, &records, ("Assay of niacinamide", "Glass", ROOM)).unwrap();
    for (point, months) in trend.batches[0].points.iter().zip(&cases.months) {
        near(point.months, *months, 1e-12);
    }
    assert_eq!(trend.lower, Some(cases.assay.lower));
    let answer = trend.answer.unwrap();
    near(answer.slopes.unwrap().beyond.value.unwrap(), cases.assay.slopes_chance, 1e-8);
    near(answer.heights.unwrap().beyond.value.unwrap(), cases.assay.heights_chance, 1e-8);
    for (batch, leaves) in answer.batches.iter().zip(&cases.assay.leaves) {
        near(batch.slope.value.unwrap(), cases.assay.slope, 1e-9);
        near(batch.leaves.value.unwrap(), *leaves, 1e-8);
    }
    // Nothing was looked at harsher than storage, so nothing is stated beyond the last pull.
    assert_eq!(answer.stated.value, Some(5.0));
    assert!(answer.notes.iter().any(|note| note.code == "borrowed"));
    // One temperature is no law.
    let losses = study_losses(&records, ("Assay of niacinamide", "Glass")).unwrap();
    assert!(losses.answer.is_none() && losses.refused.is_some());
}

#[tokio::test]
async fn what_is_judged_against_the_start_is_what_another_program_finds() {
    let (workspace, study) = begun().await;
    let cases = cases();
    let three = |numbers: [f64; 3]| numbers.map(|number| number.to_string()).join(" ");
    let values = |at: usize| -> Vec<TypedValue> {
        let viscosity =
            cases.percent.iter().map(|(batch, read)| value(batch, "Viscosity", &read[at].to_string()));
        let colour = cases
            .colour
            .iter()
            .map(|(batch, of)| value(batch, "Colour", &three(if at == 0 { of.start } else { of.now })));
        viscosity.chain(colour).collect()
    };
    keep(&workspace, &study, &pull("start", "start", &cases.days[0], values(0))).await;
    keep(&workspace, &study, &pull(ROOM, "13 weeks", &cases.days[3], values(1))).await;
    let book = study_book(&records(&workspace, &study).await, TODAY);
    let read = |attribute: &str, batch: &str| {
        let found = book
            .readings
            .iter()
            .find(|it| it.attribute == attribute && it.batch == batch && it.pull == "13 weeks");
        found.unwrap()
    };
    for (batch, expected) in &cases.percent {
        near(read("Viscosity", batch).judged.value.unwrap(), expected[2], 1e-12);
    }
    for (batch, expected) in &cases.colour {
        near(read("Colour", batch).judged.value.unwrap(), expected.distance, 1e-12);
    }
    assert_eq!(read("Colour", "A").verdict, Verdict::Within);
    assert_eq!(read("Colour", "B").verdict, Verdict::Above);
    assert_eq!(book.card.outside, 1);
    assert!(book.first.starts_with("Outside its limits: Colour of B"), "{}", book.first);
}

#[tokio::test]
async fn a_pull_is_kept_whole_or_not_at_all_and_once() {
    let (workspace, study) = begun().await;
    let before = workspace.store().head().await.unwrap().length;
    let by = (WHO, TODAY);
    let wrong = pull(
        ROOM,
        "4 weeks",
        "",
        vec![value("A", "pH", "5,50"), value("B", "pH", "550"), value("C", "Odour", "7")],
    );
    let told = faults(keep_pull(&workspace, by, study.id, &wrong).await.unwrap_err());
    assert!(told.contains("B | Glass | pH") && told.contains("C | Glass | Odour"), "{told}");
    assert_eq!(workspace.store().head().await.unwrap().length, before);
    let right =
        pull(ROOM, "4 weeks", "2026-06-30", vec![value("A", "pH", "5,50; 5,52"), value("B", "pH", "5.48")]);
    assert_eq!(keep(&workspace, &study, &right).await.len(), 2);
    let told = faults(keep_pull(&workspace, by, study.id, &right).await.unwrap_err());
    assert!(told.contains("is read already"), "{told}");
    for (typed, words) in [
        (pull("sauna", "", "", vec![value("A", "pH", "5")]), "not a condition"),
        (pull(ROOM, "5 weeks", "", vec![value("A", "pH", "5")]), "4 weeks, 2 months, 13, 26 weeks"),
        (pull(ROOM, "13 weeks", "2026-05-01", vec![value("A", "pH", "5")]), "before the start"),
        (pull(ROOM, "13 weeks", "2027-05-01", vec![value("A", "pH", "5")]), "has not come"),
        (pull(ROOM, "13 weeks", "", vec![value("Z", "pH", "5")]), "not a batch"),
        (pull(ROOM, "13 weeks", "", vec![value("A", "Taste", "5")]), "not read in this study"),
        (pull(ROOM, "13 weeks", "", vec![value("A", "Colour", "62.1 3")]), "three numbers"),
        (pull(ROOM, "13 weeks", "", Vec::new()), "nothing is typed"),
    ] {
        let told = faults(keep_pull(&workspace, by, study.id, &typed).await.unwrap_err());
        assert!(told.to_lowercase().contains(words), "{words}: {told}");
    }
    let book = study_book(&records(&workspace, &study).await, TODAY);
    let first = &book.readings[0];
    assert_eq!((first.typed.as_str(), first.late.as_str()), ("5,50; 5,52", "4 days late"));
    near(first.judged.value.unwrap(), 5.51, 1e-12);
}

#[tokio::test]
async fn a_struck_reading_stays_and_counts_no_more() {
    let (workspace, study) = begun().await;
    let kept = keep(&workspace, &study, &pull(ROOM, "4 weeks", "", vec![value("A", "pH", "5.94")])).await;
    let by = (WHO, TODAY);
    let instead = TypedValue { value: "5.49".to_owned(), ..TypedValue::default() };
    assert!(correct_study_reading(&workspace, by, kept[0].id, " ", Some(&instead)).await.is_err());
    let right =
        correct_study_reading(&workspace, by, kept[0].id, "digits exchanged", Some(&instead)).await.unwrap();
    let book = study_book(&records(&workspace, &study).await, TODAY);
    assert_eq!(book.readings.len(), 2);
    assert_eq!(book.readings[0].struck.as_ref().unwrap().reason, "digits exchanged");
    assert_eq!(book.readings[1].corrects, Some(1));
    assert_eq!(book.card.outside, 0);
    // A second correction corrects the correction.
    assert!(correct_study_reading(&workspace, by, kept[0].id, "again", None).await.is_err());
    correct_study_reading(&workspace, by, right.id, "wrong jar", None).await.unwrap();
    let records = records(&workspace, &study).await;
    let trend = study_trend(&FACTS, &records, ("pH", "Glass", ROOM)).unwrap();
    assert!(trend.batches.is_empty() && trend.refused.is_some());
    // Its place is free again.
    keep(&workspace, &study, &pull(ROOM, "4 weeks", "", vec![value("A", "pH", "5.50")])).await;
    workspace.verify().await.unwrap();
}

#[tokio::test]
async fn a_changed_plan_keeps_its_reason_and_what_was_read_keeps_its_place() {
    let (workspace, study) = begun().await;
    keep(&workspace, &study, &pull(ROOM, "4 weeks", "", vec![value("A", "pH", "5.50")])).await;
    let mut plan = typed_of(&study.what);
    plan.conditions[1].pulls = "8, 13, 26 weeks".to_owned();
    change_study(&workspace, WHO, study.id, "one more pull", &plan).await.unwrap();
    let records = records(&workspace, &study).await;
    let book = study_book(&records, TODAY);
    assert_eq!((book.changes.len(), book.changes[0].reason.as_str()), (1, "one more pull"));
    assert!(book.pulls.iter().any(|pull| pull.pull == "8 weeks") && book.readings.len() == 1);
    for (change, words) in [
        (
            Box::new(|plan: &mut TypedStudy| plan.batches.truncate(0)) as Box<dyn Fn(&mut TypedStudy)>,
            "a batch",
        ),
        (Box::new(|plan: &mut TypedStudy| plan.batches[0].name = "A1".to_owned()), "has readings"),
        (Box::new(|plan: &mut TypedStudy| plan.start = "2026-06-01".to_owned()), "the start is moved"),
        (Box::new(|plan: &mut TypedStudy| plan.attributes[0].unit.clear()), "has no unit"),
        (Box::new(|plan: &mut TypedStudy| plan.conditions[0].pulls = "4 moons".to_owned()), "time of a pull"),
        (Box::new(|plan: &mut TypedStudy| plan.attributes[4].lower = "6".to_owned()), "exchanged"),
    ] {
        let mut plan = typed_of(&study.what);
        change(&mut plan);
        let told = faults(change_study(&workspace, WHO, study.id, "why", &plan).await.unwrap_err());
        assert!(told.to_lowercase().contains(words), "{words}: {told}");
    }
    give_up_study(&workspace, WHO, study.id, "formula changed").await.unwrap();
    assert!(due_pulls(&workspace, TODAY, 400).await.unwrap().is_empty());
    let told = faults(
        keep_pull(
            &workspace,
            (WHO, TODAY),
            study.id,
            &pull(ROOM, "26 weeks", "", vec![value("A", "pH", "5")]),
        )
        .await
        .unwrap_err(),
    );
    assert!(told.contains("given up"), "{told}");
}

#[tokio::test]
async fn the_calendar_says_what_is_overdue_due_and_coming() {
    let (workspace, study) = begun().await;
    let due = due_pulls(&workspace, TODAY, 14).await.unwrap();
    let states: Vec<(String, PullState)> =
        due.iter().map(|it| (format!("{} {}", it.pull.condition, it.pull.pull), it.pull.state)).collect();
    assert_eq!(states.last().unwrap().1, PullState::Due, "{states:?}");
    assert_eq!(states.iter().filter(|(_, state)| *state == PullState::Overdue).count(), 5, "{states:?}");
    let early = due_pulls(&workspace, date(2026, 11, 19), 14).await.unwrap();
    assert!(early.iter().any(|it| it.pull.pull == "26 weeks" && it.pull.state == PullState::Coming));
    let two_months = due.iter().find(|it| it.pull.pull == "2 months").unwrap();
    assert_eq!((two_months.pull.due, two_months.pull.weekend), (date(2026, 7, 29), None));
    assert_eq!(two_months.number, study.number);
}

#[tokio::test]
async fn what_carries_no_line_says_why() {
    let (workspace, study) = begun().await;
    let by = (WHO, TODAY);
    keep(
        &workspace,
        &study,
        &pull(
            "start",
            "start",
            "2026-05-29",
            vec![value("A", "Viscosity", "4200"), value("A", "Odour", "0")],
        ),
    )
    .await;
    let refused = |records: &StudyRecords, attribute: &str| {
        let trend = study_trend(&FACTS, records, (attribute, "Glass", ROOM)).unwrap();
        trend.refused.map(|it| it.what).unwrap_or_default()
    };
    let now = records(&workspace, &study).await;
    assert!(refused(&now, "Viscosity").contains("one time only"), "{}", refused(&now, "Viscosity"));
    assert!(refused(&now, "Odour").contains("words in an order"));
    assert!(refused(&now, "pH").contains("Nothing is read"));
    let other = TypedValue {
        measured_at: [("speed".to_owned(), "60 rpm".to_owned())].into(),
        ..value("A", "Viscosity", "2100")
    };
    keep_pull(&workspace, by, study.id, &pull(ROOM, "13 weeks", "", vec![other])).await.unwrap();
    let now = records(&workspace, &study).await;
    assert!(refused(&now, "Viscosity").contains("different ways"), "{}", refused(&now, "Viscosity"));
    assert!(study_trend(&FACTS, &now, ("Taste", "Glass", ROOM)).is_none());
}

#[tokio::test]
async fn a_table_is_kept_whole_or_not_at_all() {
    let (workspace, study) = begun().await;
    let by = (WHO, TODAY);
    let before = workspace.store().head().await.unwrap().length;
    let right = "condition;weeks;day;batch;pH;Viscosity (mPa·s)\n;0;2026-05-29;A;5,50; 4200\n25/60;4;2026-06-26;A;5.48;4180\n\
        40 °C;13;;B;5,31;\n";
    for (from, to, words) in [
        ("mPa·s", "Pa·s", "convert it there"),
        ("pH", "acidity", "is not understood"),
        (";4;2026-06-26", ";5;2026-06-26", "not a pull planned"),
        ("40 °C", "sauna", "not a condition"),
        (";B;5,31", ";A;5,31\n40 °C;13;;A;5,32", "stands in the table twice"),
        ("2026-06-26", "2026-05-01", "before the start"),
        ("weeks", "pulse", "is not understood"),
    ] {
        let wrong = right.replacen(from, to, 1);
        let table = ("list.csv", wrong.as_bytes());
        let told = faults(bring_readings(&workspace, by, study.id, table).await.unwrap_err());
        assert!(told.to_lowercase().contains(words), "{words}: {told}");
        assert!(!look_at_readings(&records(&workspace, &study).await, TODAY, table).unwrap().ready);
    }
    assert_eq!(workspace.store().head().await.unwrap().length, before);
    let kept = bring_readings(&workspace, by, study.id, ("list.csv", right.as_bytes())).await.unwrap();
    assert_eq!(kept.len(), 5);
    let guessed = kept.iter().find(|reading| reading.what.batch == "B").unwrap();
    assert_eq!((guessed.what.on, guessed.what.condition.as_str()), (date(2026, 8, 28), "40 °C"));
    assert!(guessed.what.note.contains("no day in the table"));
    let told =
        faults(bring_readings(&workspace, by, study.id, ("list.csv", right.as_bytes())).await.unwrap_err());
    assert!(told.contains("is read already"), "{told}");
}
