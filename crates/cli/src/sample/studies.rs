//! One stability study of the sample workspace, invented like the rest: begun half a year before the workspace, read at every pull until
//! now, so that what is due today is due today on any day.

use super::STUDIO;
use jiff::ToSpan as _;
use jiff::civil::Date;
use jiff::tz::Offset;
use levigate_project::records::{AttributeReads, Formula, Id, Kept, Study, StudyReading};
use levigate_project::store::StoreError;
use levigate_project::workbench::keeping::KeepError;
use levigate_project::workbench::studies::{
    StudyPractice, TypedPull, TypedStudy, TypedStudyAttribute, TypedStudyBatch, TypedStudyCondition,
    TypedStudyPack, TypedValue, correct_study_reading, keep_pull, plan_study,
};
use levigate_project::workspace::Workspace;

const BATCHES: [&str; 3] = ["QL-2605-01", "QL-2605-02", "QL-2605-03"];
const PACK: &str = "Airless pump";
const ROOM: &str = "25 °C, 60 % r.h.";
const WARM: &str = "40 °C, 75 % r.h.";
const COLD: &str = "2 to 8 °C";
/// Weeks before the workspace at which everything went to its place.
const AGO_WEEKS: i64 = 26;
/// A slip that was corrected: the digits were exchanged.
const SLIP: (&str, &str) = ("5.94", "5.49");

/// What was read at a pull: pH, viscosity, assay, colour, odour, weight, each of the three batches.
struct Pull {
    condition: &'static str,
    weeks: i64,
    read: [[&'static str; 3]; 6],
}

#[rustfmt::skip]
const PULLS: [Pull; 8] = [
    Pull { condition: "start", weeks: 0, read: [
        ["5.50; 5.51", "5.52; 5.52", "5.48; 5.49"], ["4200", "4350", "4080"], ["100.4", "99.8", "101.1"],
        ["92.1 -0.4 1.2", "92.0 -0.3 1.3", "92.2 -0.4 1.1"], ["0", "0", "0"], ["48.21", "48.35", "48.17"]] },
    Pull { condition: ROOM, weeks: 4, read: [
        ["5.48", "5.51", "5.47"], ["4180", "4310", "4050"], ["100.1", "99.9", "100.6"],
        ["92.1 -0.4 1.3", "91.9 -0.3 1.4", "92.1 -0.4 1.2"], ["0", "0", "0"], ["48.19", "48.33", "48.16"]] },
    Pull { condition: WARM, weeks: 4, read: [
        ["5.44", "5.45", "5.42"], ["4090", "4230", "3990"], ["99.3", "98.8", "99.9"],
        ["91.8 -0.4 1.6", "91.7 -0.3 1.7", "91.9 -0.4 1.5"], ["0", "0", "0"], ["48.05", "48.20", "48.01"]] },
    Pull { condition: ROOM, weeks: 8, read: [
        ["5.46", SLIP.0, "5.44"], ["4150", "4290", "4060"], ["99.9", "99.4", "100.5"],
        ["92.0 -0.4 1.3", "91.9 -0.3 1.5", "92.1 -0.4 1.3"], ["0", "0", "0"], ["48.17", "48.31", "48.13"]] },
    Pull { condition: WARM, weeks: 8, read: [
        ["5.38", "5.40", "5.36"], ["3960", "4110", "3850"], ["98.4", "97.7", "98.8"],
        ["91.5 -0.4 2.0", "91.4 -0.2 2.1", "91.6 -0.4 1.9"], ["0", "1", "0"], ["47.90", "48.06", "47.88"]] },
    Pull { condition: COLD, weeks: 13, read: [
        ["5.50", "5.51", "5.49"], ["4210", "4340", "4090"], ["100.3", "99.9", "100.8"],
        ["92.1 -0.4 1.2", "92.0 -0.3 1.3", "92.2 -0.4 1.1"], ["0", "0", "0"], ["48.21", "48.34", "48.17"]] },
    Pull { condition: ROOM, weeks: 13, read: [
        ["5.43", "5.46", "5.42"], ["4110", "4270", "4010"], ["99.6", "99.1", "100.1"],
        ["92.0 -0.4 1.4", "91.8 -0.3 1.5", "92.0 -0.4 1.4"], ["0", "0", "0"], ["48.15", "48.28", "48.10"]] },
    Pull { condition: WARM, weeks: 13, read: [
        ["5.31", "5.33", "5.28"], ["3820", "3960", "3700"], ["97.1", "96.6", "97.9"],
        ["91.1 -0.3 2.5", "91.0 -0.2 2.6", "91.2 -0.3 2.4"], ["1", "1", "1"], ["47.72", "47.85", "47.69"]] },
];

fn store_error(error: KeepError) -> StoreError {
    match error {
        KeepError::Store(error) => error,
        KeepError::Typed(_) => StoreError::Medium { doing: "make the sample", what: error.to_string() },
    }
}

/// Plans the study and enters what was read.
pub(super) async fn keep(workspace: &Workspace, formula: Id<Formula>) -> Result<(), StoreError> {
    let today = Offset::UTC.to_datetime(workspace.clock().now()).date();
    let start = today.checked_sub(AGO_WEEKS.weeks()).unwrap_or(today);
    let typed = plan(start);
    let study = plan_study(workspace, STUDIO, formula, &typed).await.map_err(store_error)?.kept;
    for pull in &PULLS {
        let kept = enter(workspace, &study, (start, today), pull).await?;
        let slip = kept.iter().find(|reading| reading.what.values.iter().any(|it| it.typed == SLIP.0));
        if let Some(slip) = slip {
            let instead = TypedValue { value: SLIP.1.to_owned(), ..TypedValue::default() };
            let reason = "Digits exchanged when copied from the meter";
            correct_study_reading(workspace, (STUDIO, today), slip.id, reason, Some(&instead))
                .await
                .map_err(store_error)?;
        }
    }
    Ok(())
}

async fn enter(
    workspace: &Workspace,
    study: &Kept<Study>,
    (start, today): (Date, Date),
    pull: &Pull,
) -> Result<Vec<Kept<StudyReading>>, StoreError> {
    let on = start.checked_add(pull.weeks.weeks()).unwrap_or(start);
    let values = study.what.attributes.iter().zip(&pull.read).flat_map(|(attribute, read)| {
        BATCHES.iter().zip(read).map(|(batch, value)| TypedValue {
            batch: (*batch).to_owned(),
            pack: PACK.to_owned(),
            attribute: attribute.name.clone(),
            value: (*value).to_owned(),
            ..TypedValue::default()
        })
    });
    let typed = TypedPull {
        condition: pull.condition.to_owned(),
        pull: if pull.weeks == 0 { "start".to_owned() } else { format!("{} weeks", pull.weeks) },
        on: on.to_string(),
        values: values.collect(),
    };
    keep_pull(workspace, (STUDIO, today), study.id, &typed).await.map_err(store_error)
}

fn plan(start: Date) -> TypedStudy {
    let practice = StudyPractice::shipped();
    let condition = |name: &str, pulls: &str| {
        let offer = practice.conditions.iter().find(|offer| offer.name == name).cloned().unwrap_or_default();
        TypedStudyCondition {
            name: name.to_owned(),
            temperature_c: offer.temperature_c,
            humidity_percent: offer.humidity_percent,
            role: offer.role,
            words: offer.words,
            pulls: pulls.to_owned(),
        }
    };
    let attribute = |name: &str, lower: &str, upper: &str| {
        let begins = if name.starts_with("Assay") { "Assay" } else { name };
        let offer =
            practice.attributes.iter().find(|offer| offer.name == begins).cloned().unwrap_or_default();
        let scale = AttributeReads::from_word(&offer.reads) == Some(AttributeReads::Scale);
        let disc = [("spindle", "disc, 30 mm"), ("speed", "12 rpm"), ("temperature", "25 °C")];
        let measured_at = disc.iter().filter(|_| name == "Viscosity");
        TypedStudyAttribute {
            name: name.to_owned(),
            reads: offer.reads,
            unit: offer.unit,
            lower: lower.to_owned(),
            upper: upper.to_owned(),
            either_way: offer.either_way,
            measured_at: measured_at.map(|(word, value)| ((*word).to_owned(), (*value).to_owned())).collect(),
            steps: if scale { vec![offer.scale] } else { Vec::new() },
        }
    };
    TypedStudy {
        version: 1,
        name: "Zinc serum in the airless pump".to_owned(),
        why: "Launch in spring; the client wants 24 months on the carton. Limits as agreed with Marl & Moss before the start."
            .to_owned(),
        start: start.to_string(),
        batches: BATCHES
            .map(|name| TypedStudyBatch { name: name.to_owned(), trial: String::new() })
            .to_vec(),
        packs: vec![TypedStudyPack {
            name: PACK.to_owned(),
            fill: "30 mL".to_owned(),
            material: "polypropylene".to_owned(),
        }],
        conditions: vec![
            condition(COLD, "13, 26, 52 weeks"),
            condition(ROOM, "4, 8, 13, 26, 39, 52 weeks"),
            condition(WARM, "4, 8, 13, 26 weeks"),
        ],
        attributes: vec![
            attribute("pH", "5.2", "5.8"),
            attribute("Viscosity", "80", "120"),
            attribute("Assay of niacinamide", "95", ""),
            attribute("Colour", "", "2"),
            attribute("Odour", "", "1"),
            attribute("Weight of the pack", "97", ""),
        ],
        wanted_months: "24".to_owned(),
        note: "The three batches were made before this workspace was begun.".to_owned(),
        ..TypedStudy::default()
    }
}
