//! Batches, stock and tracing, from the pages to the verbs and back.

use super::bench::{entered, entered_once, entry};
use super::folders::id_of;
use super::judging::value;
use super::people::denied;
use super::troubles::{not_kept, stored};
use super::{Inner, WorkspaceDesk};
use crate::desk::{
    Answer, BatchCard, BatchDesk, BatchState, BenchAdvice, Entered, EntryCorrection, KeptEntry, LotStock,
    PlanBefore, ShelfLot, Started, Suggested, TemperatureView, Traced, TypedBatch, TypedEntry, TypedMovement,
    TypedSample, TypedSignOff, TypedStatus, TypedUndo, TypedVessel,
};
use crate::trouble::{Kind, Trouble};
use async_trait::async_trait;
use levigate_project::records::{Batch, BatchEntry, Did, Id, Kept, Lot};
use levigate_project::workbench::citations::citations_in;
use levigate_project::workbench::keeping::KeepError;
use levigate_project::workbench::people::{PeopleError, Signature};
use levigate_project::workbench::{batch as verbs, stock, trace};
use levigate_project::workspace::KeptOnce;
use std::collections::BTreeMap;

const CODE: &str = "batch";

/// The entry as the device is told of it, with the line it was about as that stands now.
async fn told(
    desk: &Inner,
    batch: Id<Batch>,
    once: Result<KeptOnce<BatchEntry>, KeepError>,
) -> Answer<KeptEntry> {
    let once = once.map_err(|error| not_kept(CODE, &error))?;
    let records = verbs::gather_batch(&desk.workspace, batch).await.map_err(|error| stored(&error))?;
    let state = verbs::batch_state(&records, desk.day());
    let line = match &once.kept.what.did {
        Did::Weighed { line, .. } | Did::Decided { line, .. } => Some(*line),
        _ => None,
    };
    Ok(KeptEntry {
        id: once.kept.id.to_string(),
        number: once.kept.number,
        already: once.already,
        next: state.next,
        line: state.lines.into_iter().find(|of| Some(of.number) == line),
    })
}

/// Who enters and on which day.
fn by(desk: &Inner) -> (&str, jiff::civil::Date) {
    (&desk.setup.person, desk.day())
}

#[async_trait]
impl BatchDesk for WorkspaceDesk {
    async fn start_batch(&self, formula: &str, typed: &TypedBatch) -> Answer<Started> {
        let (desk, formula) = (&self.inner, id_of(formula)?);
        let facts = desk.shelf.facts();
        let started = verbs::start_batch(&desk.workspace, &facts, by(desk), formula, typed).await;
        started.map_err(|error| not_kept(CODE, &error))
    }

    async fn plan_before(&self, formula: &str, typed: &TypedBatch) -> Answer<PlanBefore> {
        let (desk, formula) = (&self.inner, id_of(formula)?);
        let facts = desk.shelf.facts();
        let plan = verbs::plan_before(&desk.workspace, &facts, desk.day(), formula, typed).await;
        let plan = plan.map_err(|error| not_kept(CODE, &error))?;
        let sources = citations_in(&facts, &value(&plan.told));
        let steps = plan.steps.into_iter().map(|step| step.text).collect();
        Ok(PlanBefore { steps, told: plan.told, sources })
    }

    async fn sources_of(&self, batch: &BatchState) -> BTreeMap<String, String> {
        citations_in(&self.inner.shelf.facts(), &value(&batch.steps))
    }

    async fn temperatures(&self, batch: &str, vessel: &TypedVessel) -> Answer<TemperatureView> {
        let records = verbs::gather_batch(&self.inner.workspace, entry(batch)?).await;
        let records = records.map_err(|error| stored(&error))?;
        let vessel = vessel.clone();
        self.work(move |desk| {
            let facts = desk.shelf.facts();
            verbs::temperature_course(&facts, &records, &vessel)
                .map(|course| super::course::view(&facts, &records.batch.what.code, course))
        })
        .await?
        .map_err(|error| not_kept(CODE, &error))
    }

    async fn batches(&self, most: u32) -> Answer<Vec<BatchCard>> {
        verbs::batches(&self.inner.workspace, most).await.map_err(|error| stored(&error))
    }

    async fn batch(&self, name: &str) -> Answer<BatchState> {
        let workspace = &self.inner.workspace;
        let batch = verbs::batch_called(workspace, name).await.map_err(|error| stored(&error))?;
        let records = verbs::gather_batch(workspace, batch.id).await.map_err(|error| stored(&error))?;
        Ok(verbs::batch_state(&records, self.inner.day()))
    }

    async fn batch_entry(
        &self,
        batch: &str,
        typed: &TypedEntry,
        photo: Option<Vec<u8>>,
    ) -> Answer<KeptEntry> {
        let (desk, batch) = (&self.inner, entry(batch)?);
        let facts = desk.shelf.facts();
        let kept = verbs::keep_entry(&desk.workspace, &facts, by(desk), batch, (typed, photo)).await;
        told(desk, batch, kept).await
    }

    async fn undo_entry(&self, batch: &str, typed: &TypedUndo) -> Answer<KeptEntry> {
        let (desk, batch) = (&self.inner, entry(batch)?);
        let kept = verbs::undo(&desk.workspace, &desk.setup.person, batch, typed).await;
        told(desk, batch, kept).await
    }

    async fn bench_advice(&self, batch: &str, step: usize, with: &str) -> Answer<BenchAdvice> {
        let (desk, batch) = (&self.inner, entry(batch)?);
        let records = verbs::gather_batch(&desk.workspace, batch).await.map_err(|error| stored(&error))?;
        let beaker = verbs::gather_beaker(&desk.workspace, desk.day(), records).await;
        let beaker = beaker.map_err(|error| stored(&error))?;
        let with = with.to_owned();
        let told = self.work(move |desk| verbs::advise(&desk.shelf.facts(), &beaker, step, &with)).await?;
        told.ok_or_else(|| Trouble::not_found("The step does not add to a pH.").in_field("step"))
    }

    async fn correct_entry(&self, batch: &str, correction: &EntryCorrection) -> Answer<KeptEntry> {
        let (desk, batch) = (&self.inner, entry(batch)?);
        let struck: Id<BatchEntry> = correction
            .entry
            .trim()
            .parse()
            .map_err(|_| Trouble::not_found("There is no such entry.").in_field("entry"))?;
        let facts = desk.shelf.facts();
        let of = (struck, correction.reason.as_str());
        let kept =
            verbs::correct_entry(&desk.workspace, &facts, by(desk), batch, of, &correction.instead).await;
        told(desk, batch, kept).await
    }

    async fn sign_off(&self, batch: &str, typed: &TypedSignOff, signature: &Signature) -> Answer<Entered> {
        let (desk, batch) = (&self.inner, entry(batch)?);
        let facts = desk.shelf.facts();
        let signed = verbs::sign_off(&desk.workspace, &facts, signature, batch, typed).await;
        signed.map(|kept| entered(&kept)).map_err(|error| not_kept(CODE, &error))
    }

    async fn retain_sample(&self, batch: &str, typed: &TypedSample) -> Answer<Entered> {
        let (desk, batch) = (&self.inner, entry(batch)?);
        let kept = verbs::keep_sample(&desk.workspace, &desk.setup.person, batch, typed).await;
        kept.map(|once| entered_once(&once)).map_err(|error| not_kept(CODE, &error))
    }

    async fn lots_for_line(&self, batch: &str, line: usize) -> Answer<Vec<Suggested>> {
        let (desk, batch) = (&self.inner, entry(batch)?);
        let facts = desk.shelf.facts();
        let records = verbs::gather_batch(&desk.workspace, batch).await.map_err(|error| stored(&error))?;
        let lots = stock::lots_for_line(&desk.workspace, &facts, desk.day(), &records, line).await;
        lots.map_err(|error| not_kept(CODE, &error))
    }

    async fn lots_for_lines(&self, batch: &str) -> Answer<BTreeMap<usize, Vec<Suggested>>> {
        let (desk, batch) = (&self.inner, entry(batch)?);
        let facts = desk.shelf.facts();
        let records = verbs::gather_batch(&desk.workspace, batch).await.map_err(|error| stored(&error))?;
        let lots = stock::lots_for_lines(&desk.workspace, &facts, desk.day(), &records).await;
        lots.map_err(|error| not_kept(CODE, &error))
    }

    async fn next_batch(&self, batch: &str) -> Answer<TypedBatch> {
        let records = verbs::gather_batch(&self.inner.workspace, entry(batch)?).await;
        records.map(|records| verbs::next_of(&records)).map_err(|error| stored(&error))
    }

    async fn shelf_lots(&self) -> Answer<Vec<ShelfLot>> {
        let desk = &self.inner;
        let facts = desk.shelf.facts();
        stock::shelf_lots(&desk.workspace, &facts, desk.day()).await.map_err(|error| stored(&error))
    }

    async fn lot(&self, id: &str) -> Answer<LotStock> {
        let desk = &self.inner;
        let facts = desk.shelf.facts();
        let found = stock::lot_stock(&desk.workspace, &facts, desk.day(), entry(id)?).await;
        found.map_err(|error| stored(&error))
    }

    async fn decide_lot(&self, id: &str, typed: &TypedStatus) -> Answer<Entered> {
        let desk = &self.inner;
        let kept = stock::decide_lot(&desk.workspace, &desk.hand, entry(id)?, typed).await;
        kept.map(|once| entered_once(&once)).map_err(|error| match &error {
            PeopleError::Denied(it) => denied(it),
            PeopleError::Keep(error) => not_kept("lot", error),
        })
    }

    async fn move_stock(&self, id: &str, typed: &TypedMovement) -> Answer<Entered> {
        let desk = &self.inner;
        let kept = stock::move_stock(&desk.workspace, &desk.setup.person, entry(id)?, typed).await;
        kept.map(|once| entered_once(&once)).map_err(|error| not_kept("lot", &error))
    }

    async fn take_back_movement(&self, id: &str, reason: &str) -> Answer<Entered> {
        let desk = &self.inner;
        let kept = stock::take_back_movement(&desk.workspace, &desk.setup.person, entry(id)?, reason).await;
        kept.map(|kept| entered(&kept)).map_err(|error| not_kept("movement", &error))
    }

    async fn trace(&self, material: &str, lot: &str, batch: &str) -> Answer<Traced> {
        let workspace = &self.inner.workspace;
        if lot.is_empty() && batch.is_empty() {
            return Err(Trouble::new(
                Kind::BadInput,
                "trace",
                "Nothing to trace is named.",
                "A lot is traced forward to the batches that hold it, a batch back to its lots.",
                "Name a lot, a batch, or both.",
            )
            .in_field("lot"));
        }
        let lots: Vec<Kept<Lot>> = workspace.all().await.map_err(|error| stored(&error))?;
        let mut traced = Traced::default();
        if !lot.is_empty() {
            let facts = self.inner.shelf.facts();
            let material = Some(material).filter(|name| !name.is_empty());
            let forward = trace::forward_from(workspace, &facts, &lots, material, lot).await;
            traced.forward = forward.map_err(|error| stored(&error))?;
            if traced.forward.is_empty() {
                let what = "No lot on file has this code, and no batch names it.";
                return Err(Trouble::not_found(what).in_field("lot"));
            }
        }
        if !batch.is_empty() {
            let batch = verbs::batch_called(workspace, batch).await.map_err(|error| stored(&error))?;
            traced.back = Some(trace::back(workspace, &lots, &batch).await.map_err(|error| stored(&error))?);
        }
        Ok(traced)
    }
}
