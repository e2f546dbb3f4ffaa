//! Designed experiments, from the pages to the verbs and back, with their figures.

use super::WorkspaceDesk;
use super::bench::{entered, entered_once, entry};
use super::folders::{id_of, newest};
use super::judging::value;
use super::plates::plate;
use super::troubles::{diagnosed, not_kept, stored};
use crate::desk::{Answer, Correction, Entered, MeasuredFile, Plate};
use crate::experiments::{
    AnswerTold, Asking, ExperimentCard, ExperimentDesk, ExperimentGround, ExperimentOpened, LookTold,
    Looking, ReadingsTable, SeenTold, TypedExperiment, TypedMaking, TypedRunReading, TypedRunReadings,
};
use crate::studies::PullKept;
use async_trait::async_trait;
use levigate_documents::figure::{Leftover, LeftoverFigure, Rendition};
use levigate_documents::sight::{Sighted, sighted};
use levigate_project::records::{Experiment, Id};
use levigate_project::workbench::citations::citations_in;
use levigate_project::workbench::experiments::{
    ExperimentAnswer, ExperimentRecords, bring_run_readings, change_experiment, correct_experiment_reading,
    experiment_answer, experiment_book, experiment_cards, experiment_seen, gather_experiment,
    give_up_experiment, ground_lines, keep_run_readings, look_at_experiment, look_at_run_readings, make_run,
    plan_experiment, region_seen, time_of_choice,
};
use std::time::Instant;

const CODE: &str = "experiment";

async fn records(desk: &WorkspaceDesk, id: &str) -> Answer<ExperimentRecords> {
    gather_experiment(&desk.inner.workspace, entry(id)?).await.map_err(|error| stored(&error))
}

#[async_trait]
impl ExperimentDesk for WorkspaceDesk {
    async fn experiments(&self) -> Answer<Vec<ExperimentCard>> {
        experiment_cards(&self.inner.workspace).await.map_err(|error| stored(&error))
    }

    async fn experiment_ground(&self, formula: &str) -> Answer<ExperimentGround> {
        let (desk, id) = (&self.inner, id_of(formula)?);
        let newest = newest(desk, id).await?;
        let kept = desk.workspace.get(id).await.map_err(|error| stored(&error))?;
        let lines =
            ground_lines(&newest.what.text).map_err(|problems| diagnosed("formula-file", &problems))?;
        Ok(ExperimentGround { formula: id.to_string(), name: kept.what.name, version: newest.number, lines })
    }

    async fn look_at_experiment(&self, typed: &TypedExperiment) -> Answer<LookTold> {
        let began = Instant::now();
        let look = look_at_experiment(&self.inner.workspace, typed).await;
        let look = look.map_err(|error| not_kept(CODE, &error))?;
        let took = look.plan.as_ref().map(|_| time_of_choice(began.elapsed().as_secs_f64()));
        let seen = look.plan.as_ref().and_then(|plan| region_seen(typed, plan));
        let plate = seen.map(|seen| figure(sighted("region", &seen)));
        Ok(LookTold { look, took, plate })
    }

    async fn experiment(&self, id: &str) -> Answer<ExperimentOpened> {
        let book = experiment_book(&records(self, id).await?);
        let sources = citations_in(&self.inner.shelf.facts(), &value(&book));
        Ok(ExperimentOpened { book, sources })
    }

    async fn plan_experiment(&self, typed: &TypedExperiment) -> Answer<Entered> {
        let desk = &self.inner;
        let kept = plan_experiment(&desk.workspace, &desk.setup.person, typed).await;
        kept.map(|once| entered_once(&once)).map_err(|error| not_kept(CODE, &error))
    }

    async fn change_experiment(&self, id: &str, correction: &Correction<TypedExperiment>) -> Answer<Entered> {
        let (desk, id): (_, Id<Experiment>) = (&self.inner, entry(id)?);
        let (who, reason) = (&desk.setup.person, correction.reason.as_str());
        let kept = match &correction.instead {
            Some(typed) => change_experiment(&desk.workspace, who, id, reason, typed).await,
            None => give_up_experiment(&desk.workspace, who, id, reason).await,
        };
        kept.map(|kept| entered(&kept)).map_err(|error| not_kept(CODE, &error))
    }

    async fn make_run(&self, id: &str, typed: &TypedMaking) -> Answer<Entered> {
        let desk = &self.inner;
        let facts = desk.shelf.facts().version();
        let by = (desk.setup.person.as_str(), facts.as_str());
        let kept = make_run(&desk.workspace, by, entry(id)?, typed).await;
        kept.map(|kept| entered(&kept)).map_err(|error| not_kept("run", &error))
    }

    async fn keep_run_readings(&self, id: &str, typed: &TypedRunReadings) -> Answer<PullKept> {
        let desk = &self.inner;
        let kept = keep_run_readings(&desk.workspace, &desk.setup.person, entry(id)?, typed).await;
        kept.map(|kept| PullKept { readings: kept.len() }).map_err(|error| not_kept("reading", &error))
    }

    async fn look_at_run_readings(&self, id: &str, file: MeasuredFile) -> Answer<ReadingsTable> {
        let records = records(self, id).await?;
        self.work(move |_| {
            look_at_run_readings(&records, (&file.name, &file.bytes))
                .map_err(|problems| diagnosed("table", &problems).in_field("file"))
        })
        .await?
    }

    async fn bring_run_readings(&self, id: &str, file: MeasuredFile) -> Answer<PullKept> {
        let desk = &self.inner;
        let table = (file.name.as_str(), file.bytes.as_slice());
        let kept = bring_run_readings(&desk.workspace, &desk.setup.person, entry(id)?, table).await;
        kept.map(|kept| PullKept { readings: kept.len() }).map_err(|error| not_kept("table", &error))
    }

    async fn correct_experiment_reading(
        &self,
        id: &str,
        correction: &Correction<TypedRunReading>,
    ) -> Answer<Entered> {
        let desk = &self.inner;
        let (who, reason) = (&desk.setup.person, &correction.reason);
        let instead = correction.instead.as_ref();
        let kept = correct_experiment_reading(&desk.workspace, who, entry(id)?, reason, instead).await;
        kept.map(|kept| entered(&kept)).map_err(|error| not_kept("reading", &error))
    }

    async fn experiment_answer(&self, id: &str, asking: &Asking) -> Answer<AnswerTold> {
        let (records, asking) = (records(self, id).await?, asking.clone());
        self.work(move |desk| {
            let told = experiment_answer(&records, &asking).map_err(|error| not_kept("blend", &error))?;
            let sources = citations_in(&desk.shelf.facts(), &value(&told));
            Ok(AnswerTold { residuals: residuals(&told), told, sources })
        })
        .await?
    }

    async fn experiment_seen(&self, id: &str, looking: &Looking) -> Answer<SeenTold> {
        let (records, looking) = (records(self, id).await?, looking.clone());
        self.work(move |_| match experiment_seen(&records, &looking) {
            Ok(seen) => {
                let named = |place: &usize| seen.labels.get(*place).map(|(name, _)| name.clone());
                let held = seen.seen.held.iter().filter_map(|(place, level)| {
                    let (name, unit) = seen.labels.get(*place)?;
                    Some((name.clone(), shown(*level), unit.clone()))
                });
                let drawn = sighted("seen", &seen);
                SeenTold {
                    plane: drawn.plane,
                    across: seen.seen.along.iter().filter_map(|one| named(&one.place)).collect(),
                    held: held.collect(),
                    plate: Some(figure(drawn)),
                    refused: None,
                }
            }
            Err(refused) => SeenTold { refused: Some(refused), ..SeenTold::default() },
        })
        .await
    }
}

/// A level as it may be typed again.
fn shown(level: f64) -> String {
    let text = format!("{level:.4}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

fn figure(drawn: Sighted) -> Plate {
    plate(&drawn.id, drawn.title, drawn.caption, drawn.svg, drawn.table)
}

fn residuals(told: &ExperimentAnswer) -> Vec<Plate> {
    let Some(answer) = &told.answer else { return Vec::new() };
    let of = |(at, response): (usize, &levigate_project::workbench::proof::analyse::ResponseReading)| {
        let runs = response.runs.iter().filter_map(|run| {
            Some(Leftover {
                run: run.number.to_string(),
                fitted: run.fitted.value?,
                left: run.residual.value?,
                apart: run.stands_apart,
            })
        });
        let figure = LeftoverFigure {
            id: format!("left-{at}"),
            title: format!("What the model leaves of {}", response.name),
            name: response.name.clone(),
            unit: response.unit.clone(),
            runs: runs.collect(),
            scatter: response.fit.scatter.value,
        };
        let caption = "Numbers are those of the runs; the band is the scatter of one run. A bend asks for a larger model, a fan for a logarithm.";
        plate(
            &figure.id,
            figure.title.clone(),
            caption.to_owned(),
            figure.svg(Rendition::Screen),
            figure.table(),
        )
    };
    answer.responses.iter().enumerate().map(of).collect()
}
