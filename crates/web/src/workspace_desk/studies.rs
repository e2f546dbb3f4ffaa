//! Stability studies, from the pages to the verbs and back, with their figures.

use super::WorkspaceDesk;
use super::bench::{entered, entered_once, entry};
use super::folders::{id_of, newest};
use super::judging::value;
use super::plates::plate;
use super::troubles::{diagnosed, not_kept, stored};
use crate::desk::{Answer, Correction, Entered, MeasuredFile, Plate};
use crate::studies::{
    DuePull, LossesTold, PullKept, ReadingsTable, ShiftTold, StudyCard, StudyDesk, StudyGround, StudyOpened,
    TrendAsked, TrendTold, TrialChoice, TypedPull, TypedStudy, TypedValue,
};
use crate::trouble::Trouble;
use async_trait::async_trait;
use levigate_documents::figure::{RateAt, RatesFigure, Rendition, TrendFigure, TrendPoint, TrendSeries};
use levigate_project::records::{Id, Kept, Study, Trial};
use levigate_project::workbench::batch::made_on;
use levigate_project::workbench::citations::citations_in;
use levigate_project::workbench::proof::arrhenius::Order;
use levigate_project::workbench::studies::{
    StudyLosses, StudyRecords, StudyTrend, bring_readings, change_study, correct_study_reading, due_pulls,
    gather_study, give_up_study, keep_pull, look_at_readings, plan_study, study_book, study_cards,
    study_losses, study_shift, study_trend,
};

const CODE: &str = "study";

async fn records(desk: &WorkspaceDesk, id: &str) -> Answer<StudyRecords> {
    gather_study(&desk.inner.workspace, entry(id)?).await.map_err(|error| stored(&error))
}

fn no_such() -> Trouble {
    Trouble::not_found("The plan has no such attribute, pack or condition.").in_field("attribute")
}

#[async_trait]
impl StudyDesk for WorkspaceDesk {
    async fn studies(&self) -> Answer<Vec<StudyCard>> {
        let cards = study_cards(&self.inner.workspace, self.inner.day()).await;
        cards.map_err(|error| stored(&error))
    }

    async fn due(&self, days_ahead: i64) -> Answer<Vec<DuePull>> {
        let due = due_pulls(&self.inner.workspace, self.inner.day(), days_ahead).await;
        due.map_err(|error| stored(&error))
    }

    async fn study_ground(&self, formula: &str) -> Answer<StudyGround> {
        let (desk, id) = (&self.inner, id_of(formula)?);
        let newest = newest(desk, id).await?;
        let kept = desk.workspace.get(id).await.map_err(|error| stored(&error))?;
        let trials: Vec<Kept<Trial>> = desk.workspace.of(id).await.map_err(|error| stored(&error))?;
        let mut choices = Vec::new();
        for trial in trials {
            let made = made_on(&desk.workspace, trial.id).await.map_err(|error| stored(&error))?;
            let name = made.map_or_else(|| format!("trial {}", trial.number), |(batch, _)| batch.what.code);
            choices.push(TrialChoice { id: trial.id.to_string(), name, version: trial.what.version });
        }
        Ok(StudyGround {
            formula: id.to_string(),
            name: kept.what.name,
            version: newest.number,
            today: desk.day().to_string(),
            trials: choices,
        })
    }

    async fn study(&self, id: &str) -> Answer<StudyOpened> {
        let book = study_book(&records(self, id).await?, self.inner.day());
        let sources = citations_in(&self.inner.shelf.facts(), &value(&book));
        Ok(StudyOpened { book, today: self.inner.day().to_string(), sources })
    }

    async fn plan_study(&self, formula: &str, typed: &TypedStudy) -> Answer<Entered> {
        let (desk, formula) = (&self.inner, id_of(formula)?);
        let kept = plan_study(&desk.workspace, &desk.setup.person, formula, typed).await;
        kept.map(|once| entered_once(&once)).map_err(|error| not_kept(CODE, &error))
    }

    async fn change_study(&self, id: &str, correction: &Correction<TypedStudy>) -> Answer<Entered> {
        let (desk, id): (_, Id<Study>) = (&self.inner, entry(id)?);
        let (who, reason) = (&desk.setup.person, correction.reason.as_str());
        let kept = match &correction.instead {
            Some(typed) => change_study(&desk.workspace, who, id, reason, typed).await,
            None => give_up_study(&desk.workspace, who, id, reason).await,
        };
        kept.map(|kept| entered(&kept)).map_err(|error| not_kept(CODE, &error))
    }

    async fn keep_pull(&self, id: &str, typed: &TypedPull) -> Answer<PullKept> {
        let desk = &self.inner;
        let by = (desk.setup.person.as_str(), desk.day());
        let kept = keep_pull(&desk.workspace, by, entry(id)?, typed).await;
        kept.map(|kept| PullKept { readings: kept.len() }).map_err(|error| not_kept("pull", &error))
    }

    async fn look_at_readings(&self, id: &str, file: MeasuredFile) -> Answer<ReadingsTable> {
        let records = records(self, id).await?;
        self.work(move |desk| {
            look_at_readings(&records, desk.day(), (&file.name, &file.bytes))
                .map_err(|problems| diagnosed("table", &problems).in_field("file"))
        })
        .await?
    }

    async fn bring_readings(&self, id: &str, file: MeasuredFile) -> Answer<PullKept> {
        let desk = &self.inner;
        let by = (desk.setup.person.as_str(), desk.day());
        let kept = bring_readings(&desk.workspace, by, entry(id)?, (&file.name, &file.bytes)).await;
        kept.map(|kept| PullKept { readings: kept.len() }).map_err(|error| not_kept("table", &error))
    }

    async fn correct_study_reading(&self, id: &str, correction: &Correction<TypedValue>) -> Answer<Entered> {
        let desk = &self.inner;
        let by = (desk.setup.person.as_str(), desk.day());
        let (reason, instead) = (&correction.reason, correction.instead.as_ref());
        let kept = correct_study_reading(&desk.workspace, by, entry(id)?, reason, instead).await;
        kept.map(|kept| entered(&kept)).map_err(|error| not_kept("reading", &error))
    }

    async fn study_trend(&self, id: &str, of: &TrendAsked) -> Answer<TrendTold> {
        let (records, of) = (records(self, id).await?, of.clone());
        self.work(move |desk| {
            let facts = desk.shelf.facts();
            let trend = study_trend(&facts, &records, (&of.attribute, &of.pack, &of.condition))
                .ok_or_else(no_such)?;
            let sources = citations_in(&facts, &value(&trend));
            Ok(TrendTold { plate: trend_plate(&trend), trend, sources })
        })
        .await?
    }

    async fn study_shift(&self, id: &str, of: &TrendAsked) -> Answer<ShiftTold> {
        let (records, of) = (records(self, id).await?, of.clone());
        let plan = records.plan();
        let version = self.inner.workspace.version(plan.formula, plan.version).await;
        let version = version.map_err(|error| stored(&error))?;
        self.work(move |desk| {
            let facts = desk.shelf.facts();
            let of = (of.attribute.as_str(), of.pack.as_str(), of.condition.as_str());
            let shift = study_shift(&facts, &records, &version, of)
                .map_err(|problems| diagnosed("formula-file", &problems))?
                .ok_or_else(no_such)?;
            let sources = citations_in(&facts, &value(&shift));
            Ok(ShiftTold { shift, sources })
        })
        .await?
    }

    async fn study_losses(&self, id: &str, of: &TrendAsked) -> Answer<LossesTold> {
        let (records, of) = (records(self, id).await?, of.clone());
        self.work(move |desk| {
            let losses = study_losses(&records, (&of.attribute, &of.pack)).ok_or_else(no_such)?;
            let sources = citations_in(&desk.shelf.facts(), &value(&losses));
            Ok(LossesTold { plate: rates_plate(&losses), losses, sources })
        })
        .await?
    }
}

fn trend_plate(trend: &StudyTrend) -> Option<Plate> {
    if trend.batches.is_empty() {
        return None;
    }
    let answer = trend.answer.as_ref();
    let series = |batch: &levigate_project::workbench::studies::TrendBatch| {
        let line = answer.and_then(|answer| {
            let of = answer.batches.iter().find(|it| it.batch == batch.name)?;
            of.start.value.zip(of.slope.value)
        });
        let points = batch.points.iter().map(|point| (point.months, point.value)).collect();
        TrendSeries { name: batch.name.clone(), points, line }
    };
    let band = |point: &levigate_project::workbench::proof::shelf_life::Drawn| {
        let value = point.value.value?;
        let (low, high) = (point.value.low.unwrap_or(value), point.value.high.unwrap_or(value));
        Some(TrendPoint { months: point.months.number()?, value, low, high })
    };
    let figure = TrendFigure {
        id: "trend".to_owned(),
        title: format!("{} over time", trend.attribute),
        attribute: trend.attribute.clone(),
        unit: trend.unit.clone(),
        batches: trend.batches.iter().map(series).collect(),
        band: answer.map(|answer| answer.drawn.iter().filter_map(band).collect()).unwrap_or_default(),
        lower: trend.lower,
        upper: trend.upper,
        leaves: answer.and_then(|answer| answer.leaves.value),
        wanted: answer.and_then(|answer| answer.wanted.as_ref()?.months.value),
    };
    let mut caption = format!("Kept in {} at {}.", trend.pack, trend.condition.trim_end_matches('.'));
    caption.push_str(match answer {
        Some(_) => " The heavy line is that of the batch that leaves its limits first, with the confidence limits of its mean; the limits of the plan are the ends of the band.",
        None => " No line is laid through the readings.",
    });
    Some(plate("trend", figure.title.clone(), caption, figure.svg(Rendition::Screen), figure.table()))
}

fn rates_plate(losses: &StudyLosses) -> Option<Plate> {
    let laws = &losses.answer.as_ref()?.laws;
    let law = laws.iter().find(|law| law.order == Order::First).or_else(|| laws.first())?;
    let read = law.rates.iter().filter_map(|own| {
        let rate = own.by_steps.as_ref().filter(|rate| rate.value.is_some()).unwrap_or(&own.rate);
        Some(RateAt { celsius: own.temperature.value?, rate: rate.value?, low: rate.low, high: rate.high })
    });
    let stored: Vec<RateAt> = law
        .stored
        .iter()
        .filter_map(|stored| {
            let rate = &stored.rate;
            Some(RateAt {
                celsius: stored.temperature.value?,
                rate: rate.value?,
                low: rate.low,
                high: rate.high,
            })
        })
        .collect();
    let unit = law.rates.first().map(|own| own.rate.unit.to_string()).unwrap_or_default();
    let energy =
        law.energy.value.map(|energy| if law.energy.unit == "J/mol" { energy / 1000.0 } else { energy });
    let figure = RatesFigure {
        id: "rates".to_owned(),
        title: format!("How fast {} is lost, against temperature", losses.attribute),
        unit,
        rates: read.collect(),
        law: energy.zip(stored.first().copied()),
        stored,
    };
    let caption = format!(
        "In {}; warm to the left, cold to the right. A straight line is the law of Arrhenius; bars are intervals of 95 %.",
        losses.pack
    );
    Some(plate("rates", figure.title.clone(), caption, figure.svg(Rendition::Screen), figure.table()))
}
