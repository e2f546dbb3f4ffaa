//! The temperature of a batch over time as a figure with what follows from it.

use super::judging::value;
use super::plates::plate;
use crate::desk::{HeldView, TemperatureView};
use levigate_documents::figure::{CourseFigure, CoursePoint, CourseStage, Rendition, Span};
use levigate_project::facts::Facts;
use levigate_project::workbench::batch::{CourseReading, TemperatureCourse};
use levigate_project::workbench::citations::citations_in;

/// Lays it out.
pub(super) fn view(facts: &Facts, code: &str, course: TemperatureCourse) -> TemperatureView {
    let point = |one: &CourseReading| CoursePoint { minute: one.minute, value: one.value, entry: one.entry };
    let figure = CourseFigure {
        id: "temperature".to_owned(),
        title: format!("Temperature of batch {code}"),
        planned: course
            .planned
            .iter()
            .map(|stage| CourseStage {
                name: stage.name.clone(),
                points: stage.points.clone(),
                known: stage.takes.value.is_some(),
                window_c: Span::new(stage.window_c[0], stage.window_c[1]),
            })
            .collect(),
        logged: course.logged.clone(),
        typed: course.typed.iter().map(point).collect(),
        speeds: course.speeds.iter().map(point).collect(),
    };
    let empty = figure.planned.is_empty() && figure.logged.is_empty() && figure.typed.is_empty();
    let begins =
        course.begins.map(|begins| format!(" Time runs from {} UTC.", begins.strftime("%Y-%m-%d %H:%M")));
    let caption = format!(
        "Dashed as planned, dotted where the time is not known, rings as typed, a full line as logged, triangles where the stirrer was set.{}",
        begins.unwrap_or_default()
    );
    let mut view = TemperatureView {
        plate: (!empty).then(|| {
            plate("temperature", figure.title.clone(), caption, figure.svg(Rendition::Screen), figure.table())
        }),
        vessels: facts.mixing.vessels.values().map(|one| (one.key.clone(), one.words.clone())).collect(),
        held: course
            .held
            .into_iter()
            .map(|one| HeldView {
                words: format!("{} min at {} \u{b0}C or above", one.planned_min, one.at_c),
                kept: one.kept,
            })
            .collect(),
        takes: course
            .planned
            .into_iter()
            .filter(|stage| stage.points.first().map(|one| one.1) != stage.points.last().map(|one| one.1))
            .map(|stage| (stage.name, stage.takes))
            .collect(),
        lethality: course.lethality,
        evaporates: course.evaporation.map(|reading| reading.loss),
        went_off: course.went_off,
        notes: course.notes,
        sources: Default::default(),
    };
    view.sources = citations_in(facts, &value(&view));
    view
}
