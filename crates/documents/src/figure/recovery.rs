//! A recovery after a strong shear: viscosity over time on linear axes, what was measured as points, the law through them as a line, dashed beyond
//! the last reading, and across it the viscosity in the end (only where the readings settle it) and the one before the shear.

use super::axis::{Axis, rounded, tabled};
use super::canvas::{Hold, Ink, Lettering, Shape, Stroke};
use super::places::{Area, Places};
use super::plot::{Frame, Plot};
use super::{Rendition, Span, Table};

/// One reading.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RecoveryPoint {
    /// Time after the shear, s.
    pub time_s: f64,
    /// Viscosity, Pa s.
    pub viscosity: f64,
    /// The law there, Pa s.
    pub law: Option<f64>,
    /// Marked as lying apart from the others; drawn as a cross.
    pub apart: bool,
}

/// The figure.
#[derive(Clone, Debug, PartialEq)]
pub struct RecoveryFigure {
    /// Name that is unique on the page.
    pub id: String,
    /// What it shows.
    pub title: String,
    /// Name of the law.
    pub law: String,
    /// The law as a line: time, s, and viscosity, Pa s; times ascending.
    pub curve: Vec<(f64, f64)>,
    /// The readings, times ascending.
    pub points: Vec<RecoveryPoint>,
    /// Viscosity in the end, Pa s, where the readings settle it.
    pub in_the_end: Option<f64>,
    /// Viscosity before the strong shear, Pa s.
    pub before: Option<f64>,
    /// The times that are looked at, s; `None`: all of them.
    pub across: Option<Span>,
}

const WIDTH: f64 = 760.0;
const HEIGHT: f64 = 440.0;
const FRAME: Frame = Frame { left: 82.0, top: 52.0, right: 738.0, bottom: 376.0 };
const BEYOND: &str = "5 6";
const LEVEL: &str = "2 4";

fn milli(viscosity: f64) -> f64 {
    1e3 * viscosity
}

impl RecoveryFigure {
    /// The figure as SVG.
    #[must_use]
    pub fn svg(&self, rendition: Rendition) -> String {
        let x = Axis::linear("Time after the shear", "s", self.times());
        let y = Axis::linear("Viscosity", "mPa\u{b7}s", self.heights(x.span));
        let mut plot = Plot::new(&self.id, (WIDTH, HEIGHT), FRAME, x, y, rendition);
        plot.axes();
        let mut places =
            Places::new(Area { left: FRAME.left, top: FRAME.top, right: FRAME.right, bottom: FRAME.bottom });
        let last = self.last();
        let line = |within: &dyn Fn(f64) -> bool| -> Vec<(f64, f64)> {
            let kept = self.curve.iter().filter(|(time, _)| within(*time));
            kept.map(|(time, viscosity)| (*time, milli(*viscosity))).collect()
        };
        plot.curve(&line(&|time| time <= last), &[], Stroke::plain(Ink::Pen, 2.5));
        plot.curve(
            &line(&|time| time >= last),
            &[],
            Stroke { dash: Some(BEYOND), ..Stroke::plain(Ink::Pen, 1.75) },
        );
        for &(time, viscosity) in &self.curve {
            let at = plot.at(time, milli(viscosity));
            if inside(at) {
                places.take(Area::around(at, 5.0));
            }
        }
        for point in self.seen() {
            let at = plot.at(point.time_s, milli(point.viscosity));
            if inside(at) {
                plot.canvas.shape(at, if point.apart { Shape::Cross } else { Shape::Ring }, Ink::Main);
                places.take(Area::around(at, 7.0));
            }
        }
        for (words, level) in self.levels() {
            let y = plot.at_y(milli(level));
            if !(FRAME.top..=FRAME.bottom).contains(&y) {
                continue;
            }
            let dash = Stroke { dash: Some(LEVEL), ..Stroke::plain(Ink::Main, 1.5) };
            plot.canvas.line((FRAME.left, y), (FRAME.right, y), dash);
            let anchors = [0.97, 0.7, 0.4, 0.1]
                .map(|share| Area::around((FRAME.left + share * (FRAME.right - FRAME.left), y), 6.0));
            let text = format!("{words} {} mPa\u{b7}s", rounded(milli(level), 3));
            if let Some(at) = places.beside(&text, 0.0, &anchors) {
                plot.canvas.text_over(at, &text, Lettering::label(Hold::Start));
            }
        }
        self.name_law(&mut plot, &mut places);
        plot.finish(&self.title, &self.description())
    }

    fn name_law(&self, plot: &mut Plot, places: &mut Places) {
        let shown: Vec<(f64, f64)> = self
            .curve
            .iter()
            .map(|(time, viscosity)| plot.at(*time, milli(*viscosity)))
            .filter(|at| inside(*at))
            .collect();
        let anchors: Vec<Area> = [0.5, 0.3, 0.7, 0.15, 0.85]
            .into_iter()
            .filter_map(|share| shown.get((share * shown.len() as f64) as usize))
            .map(|at| Area::around(*at, 8.0))
            .collect();
        if let Some(at) = places.beside(&self.law, 0.0, &anchors) {
            plot.canvas.text_over(at, &self.law, Lettering::strong(Hold::Start));
        }
    }

    fn seen(&self) -> impl Iterator<Item = &RecoveryPoint> {
        self.points.iter().filter(|point| {
            point.time_s.is_finite()
                && point.time_s >= 0.0
                && point.viscosity > 0.0
                && point.viscosity.is_finite()
        })
    }

    fn last(&self) -> f64 {
        self.seen().map(|point| point.time_s).fold(0.0, f64::max)
    }

    fn levels(&self) -> impl Iterator<Item = (&'static str, f64)> {
        [("in the end", self.in_the_end), ("before the shear", self.before)].into_iter().filter_map(
            |(words, level)| Some((words, level.filter(|level| *level > 0.0 && level.is_finite())?)),
        )
    }

    fn times(&self) -> Span {
        match self.across.filter(|span| span.low.is_finite() && span.high.is_finite() && span.low < span.high)
        {
            Some(span) => span,
            None => Axis::around([0.0, self.last()]),
        }
    }

    /// From nought to what stands highest within the times that are looked at.
    fn heights(&self, times: Span) -> Span {
        let shown = |time: f64| (times.low..=times.high).contains(&time);
        let points = self.seen().filter(|point| shown(point.time_s)).map(|point| point.viscosity);
        let curve = self.curve.iter().filter(|(time, _)| shown(*time)).map(|(_, viscosity)| *viscosity);
        let levels = self.levels().map(|(_, level)| level);
        Axis::around(points.chain(curve).chain(levels).map(milli).chain([0.0]))
    }

    /// The same in words, for those who hear it.
    #[must_use]
    pub fn description(&self) -> String {
        let mut words = String::new();
        let spoken = |viscosity: f64| format!("{} mPa\u{b7}s", rounded(milli(viscosity), 3));
        let mut seen = self.seen();
        if let Some(first) = seen.next() {
            let last = seen.last().unwrap_or(first);
            words.push_str(&format!(
                "{} readings from {} after {} s to {} after {} s. ",
                self.points.len(),
                spoken(first.viscosity),
                rounded(first.time_s, 3),
                spoken(last.viscosity),
                rounded(last.time_s, 3)
            ));
        }
        for (name, level) in self.levels() {
            words.push_str(&format!("{name} {}. ", spoken(level)));
        }
        let apart = self.points.iter().filter(|point| point.apart).count();
        if apart > 0 {
            words.push_str(&format!("Marked as apart: {apart}."));
        }
        words.trim_end().to_owned()
    }

    /// The numbers, whole whatever part is looked at.
    #[must_use]
    pub fn table(&self) -> Table {
        let law = format!("{}, mPa\u{b7}s", self.law);
        let head = ["Time after the shear, s", "measured, mPa\u{b7}s", law.as_str(), ""];
        let mut table = Table::new(&self.title, &head);
        for point in self.seen() {
            table.rows.push(vec![
                tabled(point.time_s),
                tabled(milli(point.viscosity)),
                point.law.map_or_else(String::new, |law| tabled(milli(law))),
                if point.apart { "apart".to_owned() } else { String::new() },
            ]);
        }
        table
    }
}

fn inside((x, y): (f64, f64)) -> bool {
    (FRAME.left - 0.5..=FRAME.right + 0.5).contains(&x) && (FRAME.top - 0.5..=FRAME.bottom + 0.5).contains(&y)
}
