//! How far readings lay from what was foretold of them, in their order: each with the band it was expected in.

use super::axis::{Axis, figure, rounded};
use super::canvas::{Hold, Ink, Lettering, Shape, Stroke};
use super::places::{Area, Places};
use super::plot::{Frame, Plot};
use super::{Rendition, Span, Table};

/// A reading beside what was foretold.
#[derive(Clone, Debug, PartialEq)]
pub struct ForesightPoint {
    /// Trial in words.
    pub trial: String,
    /// Foretold, as told.
    pub foretold: f64,
    /// Read.
    pub read: f64,
    /// Read less foretold, in the unit of the errors.
    pub error: f64,
    /// Ends of the band about the foretold, in the same unit.
    pub band: Option<[f64; 2]>,
    /// Mean error without its sign, this one and up to four before.
    pub running: f64,
}

/// The figure.
#[derive(Clone, Debug, PartialEq)]
pub struct ForesightFigure {
    /// Name that is unique on the page.
    pub id: String,
    /// What it shows.
    pub title: String,
    /// Attribute.
    pub attribute: String,
    /// Unit of what is read.
    pub unit: String,
    /// Unit of the errors.
    pub error_unit: String,
    /// Readings in their order.
    pub points: Vec<ForesightPoint>,
}

const WIDTH: f64 = 760.0;
const HEIGHT: f64 = 380.0;
const FRAME: Frame = Frame { left: 72.0, top: 56.0, right: 738.0, bottom: 316.0 };
/// Trials are named below their marks up to so many.
const MOST_NAMED: usize = 12;
/// The axis reaches so far at least, so that its ticks are whole readings.
const LEAST_ACROSS: f64 = 8.0;

impl ForesightFigure {
    /// The figure as SVG.
    #[must_use]
    pub fn svg(&self, rendition: Rendition) -> String {
        let last = self.points.len() as f64;
        let x = Axis::linear("Readings in their order", "", Span::new(0.0, (last + 1.0).max(LEAST_ACROSS)));
        // A band far wider than every error would press the errors flat: it leaves the frame instead.
        let most = self.points.iter().map(|point| point.error.abs()).fold(0.0, f64::max);
        let ends = self.points.iter().flat_map(|point| point.band.unwrap_or([0.0, 0.0]));
        let shown = ends.map(|end| end.clamp(-3.0 * most - 1e-9, 3.0 * most + 1e-9));
        let heights: Vec<f64> =
            self.points.iter().map(|point| point.error).chain(shown).chain([0.0]).collect();
        let y = Axis::linear("Read less foretold", &self.error_unit, Axis::around(heights));
        let mut plot = Plot::new(&self.id, (WIDTH, HEIGHT), FRAME, x, y, rendition);
        plot.axes();
        let level = plot.at_y(0.0);
        plot.canvas.line((FRAME.left, level), (FRAME.right, level), Stroke::plain(Ink::Soft, 1.25));
        let mut places =
            Places::new(Area { left: FRAME.left, top: FRAME.top, right: FRAME.right, bottom: FRAME.bottom });
        for (at, point) in self.points.iter().enumerate() {
            let across = (at + 1) as f64;
            let spot = plot.at(across, point.error);
            if let Some(band) = point.band {
                let [low, high] = band.map(|end| end.clamp(plot.y.span.low, plot.y.span.high));
                let (from, to) = (plot.at(across, low), plot.at(across, high));
                plot.canvas.line(from, to, Stroke::plain(Ink::Soft, 6.0));
            }
            let outside = point.band.is_some_and(|[low, high]| point.error < low || point.error > high);
            plot.canvas.shape(spot, if outside { Shape::Square } else { Shape::Ring }, Ink::Main);
            places.take(Area::around(spot, 8.0));
        }
        let running: Vec<(f64, f64)> =
            self.points.iter().enumerate().map(|(at, point)| ((at + 1) as f64, point.running)).collect();
        if running.len() > 1 {
            plot.curve(&running, &[], Stroke { dash: Some("7 4"), ..Stroke::plain(Ink::Pen, 2.0) });
        }
        for &(across, mean) in &running {
            places.take(Area::around(plot.at(across, mean), 5.0));
        }
        if self.points.len() <= MOST_NAMED
            && self.points.iter().all(|point| point.trial.starts_with("trial "))
        {
            for (at, point) in self.points.iter().enumerate() {
                let spot = plot.at((at + 1) as f64, point.error);
                if let Some(at) = places.beside(&point.trial, 0.0, &[Area::around(spot, 10.0)]) {
                    plot.canvas.text_over(at, &point.trial, Lettering::soft(Hold::Start));
                }
            }
        }
        plot.finish(&self.title, &self.description())
    }

    /// The same in words, for those who hear it.
    #[must_use]
    pub fn description(&self) -> String {
        let outside = self
            .points
            .iter()
            .filter(|point| point.band.is_some_and(|[low, high]| point.error < low || point.error > high))
            .count();
        format!(
            "{} readings of {}, {outside} outside the band they were foretold in.",
            self.points.len(),
            self.attribute
        )
    }

    /// The numbers.
    #[must_use]
    pub fn table(&self) -> Table {
        let with = |words: &str, unit: &str| {
            if unit.is_empty() { words.to_owned() } else { format!("{words}, {unit}") }
        };
        let mut table = Table::new(
            &self.title,
            &[
                "No.",
                "Trial",
                &with("Foretold", &self.unit),
                &with("Read", &self.unit),
                &with("Error", &self.error_unit),
                &with("Band from", &self.error_unit),
                &with("Band to", &self.error_unit),
                &with("Mean of the last five", &self.error_unit),
            ],
        );
        for (at, point) in self.points.iter().enumerate() {
            let band =
                point.band.map_or([String::new(), String::new()], |band| band.map(|end| rounded(end, 3)));
            let [low, high] = band;
            table.rows.push(vec![
                figure((at + 1) as f64, 0),
                point.trial.clone(),
                rounded(point.foretold, 4),
                rounded(point.read, 5),
                rounded(point.error, 3),
                low,
                high,
                rounded(point.running, 3),
            ]);
        }
        table
    }
}
