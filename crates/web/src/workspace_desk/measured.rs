//! Measured flow curves, from the pages to the verbs and back.

use super::bench::{entered, entered_once, entry};
use super::troubles::{measured_wrong, not_kept, stored};
use super::{Inner, WorkspaceDesk};
use crate::desk::{Answer, Entered, FlowAsked, FlowFit, KeptFit, MeasuredFile, TypedCurve};
use levigate_project::records::{FlowCurve, Id, Trial};
use levigate_project::workbench::{curves, flow_fit};

pub(super) async fn fit_flow(desk: &WorkspaceDesk, file: MeasuredFile, asked: FlowAsked) -> Answer<FlowFit> {
    desk.work(move |desk| {
        flow_fit::flow_fit(&desk.shelf.facts(), &file.name, &file.bytes, &asked)
            .map_err(|problems| measured_wrong(&problems))
    })
    .await?
}

pub(super) async fn keep_curve(
    desk: &Inner,
    trial: &str,
    file: &MeasuredFile,
    typed: &TypedCurve,
) -> Answer<Entered> {
    let trial: Id<Trial> = entry(trial)?;
    let (workspace, facts) = (&desk.workspace, desk.shelf.facts());
    let kept = curves::keep_curve(workspace, &facts, &desk.setup.person, trial, file, typed).await;
    kept.map(|once| entered_once(&once)).map_err(|error| not_kept("curve", &error))
}

pub(super) async fn correct_curve(
    desk: &Inner,
    id: &str,
    reason: &str,
    instead: Option<(MeasuredFile, TypedCurve)>,
) -> Answer<Entered> {
    let id: Id<FlowCurve> = entry(id)?;
    let (workspace, facts) = (&desk.workspace, desk.shelf.facts());
    let instead = instead.as_ref().map(|(file, typed)| (file, typed));
    let kept = curves::correct_curve(workspace, &facts, &desk.setup.person, id, reason, instead).await;
    kept.map(|kept| entered(&kept)).map_err(|error| not_kept("curve", &error))
}

pub(super) async fn curve_fit(desk: &WorkspaceDesk, id: &str) -> Answer<KeptFit> {
    let id: Id<FlowCurve> = entry(id)?;
    let kept = desk.inner.workspace.get(id).await.map_err(|error| stored(&error))?;
    desk.work(move |_| curves::fit_of(&kept.what).map_err(|problems| measured_wrong(&problems))).await?
}
