//! Trials, readings, observations, photos and lots, from the pages to the verbs and back.

use super::folders::id_of;
use super::people::denied;
use super::troubles::{not_kept, stored};
use super::{Inner, WorkspaceDesk, held};
use crate::desk::{
    Answer, Correction, Effects, Entered, LotCard, TrialBook, TypedLot, TypedObservation, TypedReading,
    TypedTrial,
};
use crate::trouble::Trouble;
use jiff::civil::Date;
use levigate_project::records::{Id, Kept, Lot, Observation, Photo, Reading, Trial};
use levigate_project::workbench::people::PeopleError;
use levigate_project::workbench::trials::FlowBook;
use levigate_project::workbench::{lots as shelf_of_lots, readings, trials as verbs};
use levigate_project::workspace::KeptOnce;
use std::sync::Arc;

/// An identity from an address.
pub(super) fn entry<T>(text: &str) -> Answer<Id<T>> {
    text.parse().map_err(|_| Trouble::not_found("There is no such entry.").in_field("address"))
}

pub(super) fn entered<T>(kept: &Kept<T>) -> Entered {
    Entered { id: kept.id.to_string(), number: kept.number, already: false }
}

/// The same of what a device may send again.
pub(super) fn entered_once<T>(once: &KeptOnce<T>) -> Entered {
    Entered { already: once.already, ..entered(&once.kept) }
}

pub(super) async fn trials(desk: &WorkspaceDesk, id: &str) -> Answer<TrialBook> {
    let id = id_of(id)?;
    let records = verbs::gather(&desk.inner.workspace, id).await.map_err(|error| stored(&error))?;
    let flow = flow(desk).await?;
    desk.work(move |desk| {
        verbs::trial_book(&desk.shelf.facts(), desk.day(), &desk.setup.market, &records, &flow)
    })
    .await
}

pub(super) async fn trial_effects(desk: &WorkspaceDesk, id: &str, pair: [u32; 2]) -> Answer<Effects> {
    let id = id_of(id)?;
    let records = verbs::gather(&desk.inner.workspace, id).await.map_err(|error| stored(&error))?;
    let bench = verbs::gather_bench(&desk.inner.workspace).await.map_err(|error| stored(&error))?;
    desk.work(move |desk| {
        verbs::trial_effects(&desk.shelf.facts(), desk.day(), &desk.setup.market, (&records, &bench), pair)
    })
    .await?
    .map_err(|missing| Trouble::not_found(format!("The formula has no trial {missing}.")).in_field("address"))
}

/// What the trials teach about flow, kept until a record or a fact is added or another day begins.
#[derive(Default)]
pub(super) struct FlowKnown {
    of: Option<(u64, u64, Date)>,
    book: Arc<FlowBook>,
}

/// What the trials of the workspace teach about flow.
pub(super) async fn flow(desk: &WorkspaceDesk) -> Answer<Arc<FlowBook>> {
    let inner = &desk.inner;
    let head = inner.workspace.store().head().await.map_err(|error| stored(&error))?;
    let of = (head.length, inner.shelf.generation(), inner.day());
    {
        let known = held(&inner.flow);
        if known.of == Some(of) {
            return Ok(Arc::clone(&known.book));
        }
    }
    let all = verbs::gather_bench(&inner.workspace).await.map_err(|error| stored(&error))?;
    desk.work(move |desk| {
        let book = Arc::new(verbs::flow_book(&desk.shelf.facts(), of.2, &desk.setup.market, &all));
        *held(&desk.flow) = FlowKnown { of: Some(of), book: Arc::clone(&book) };
        book
    })
    .await
}

pub(super) async fn begin_trial(desk: &Inner, id: &str, typed: &TypedTrial) -> Answer<Entered> {
    let formula = id_of(id)?;
    let trial = verbs::begin_trial(&desk.workspace, &desk.setup.person, formula, typed).await;
    trial.map(|kept| entered(&kept)).map_err(|error| not_kept("trial", &error))
}

pub(super) async fn add_reading(desk: &Inner, trial: &str, typed: &TypedReading) -> Answer<Entered> {
    let trial: Id<Trial> = entry(trial)?;
    let reading = readings::add_reading(&desk.workspace, &desk.setup.person, trial, typed).await;
    reading.map(|once| entered_once(&once)).map_err(|error| not_kept("reading", &error))
}

pub(super) async fn correct_reading(
    desk: &Inner,
    id: &str,
    correction: &Correction<TypedReading>,
) -> Answer<Entered> {
    let id: Id<Reading> = entry(id)?;
    let (reason, instead) = (&correction.reason, correction.instead.as_ref());
    let reading = readings::correct_reading(&desk.workspace, &desk.setup.person, id, reason, instead).await;
    reading.map(|kept| entered(&kept)).map_err(|error| not_kept("reading", &error))
}

pub(super) async fn observe(
    desk: &Inner,
    trial: &str,
    typed: &TypedObservation,
    photo: Option<Vec<u8>>,
) -> Answer<Entered> {
    let trial: Id<Trial> = entry(trial)?;
    let seen = readings::observe(&desk.workspace, &desk.setup.person, trial, typed, photo).await;
    seen.map(|once| entered_once(&once)).map_err(|error| not_kept("observation", &error))
}

pub(super) async fn correct_observation(
    desk: &Inner,
    id: &str,
    correction: &Correction<TypedObservation>,
) -> Answer<Entered> {
    let id: Id<Observation> = entry(id)?;
    let (reason, instead) = (&correction.reason, correction.instead.as_ref());
    let seen = readings::correct_observation(&desk.workspace, &desk.setup.person, id, reason, instead).await;
    seen.map(|kept| entered(&kept)).map_err(|error| not_kept("observation", &error))
}

pub(super) async fn photo(desk: &Inner, id: &str) -> Answer<Photo> {
    desk.workspace.photo(entry(id)?).await.map_err(|error| stored(&error))
}

pub(super) async fn lots(desk: &Inner, material: Option<&str>) -> Answer<Vec<LotCard>> {
    let facts = desk.shelf.facts();
    shelf_of_lots::lots(&desk.workspace, &facts, desk.day(), material).await.map_err(|error| stored(&error))
}

pub(super) async fn keep_lot(desk: &Inner, typed: &TypedLot) -> Answer<Entered> {
    let (workspace, facts) = (&desk.workspace, desk.shelf.facts());
    let lot = shelf_of_lots::keep_lot(workspace, &facts, &desk.setup.person, typed, None).await;
    lot.map(|kept| entered(&kept)).map_err(|error| not_kept("lot", &error))
}

pub(super) async fn correct_lot(
    desk: &Inner,
    id: &str,
    correction: &Correction<TypedLot>,
) -> Answer<Entered> {
    let id: Id<Lot> = entry(id)?;
    let Some(typed) = &correction.instead else {
        return Err(Trouble::new(
            crate::trouble::Kind::BadInput,
            "lot",
            "There is no lot in the place of the struck one.",
            "A lot that was on the shelf stays on record.",
            "Correct what is wrong with it.",
        )
        .in_field("instead"));
    };
    let (workspace, facts, of) = (&desk.workspace, desk.shelf.facts(), (id, correction.reason.as_str()));
    let lot = shelf_of_lots::correct_lot(workspace, &facts, &desk.hand, typed, of).await;
    lot.map(|kept| entered(&kept)).map_err(|error| match &error {
        PeopleError::Denied(it) => denied(it),
        PeopleError::Keep(error) => not_kept("lot", error),
    })
}
