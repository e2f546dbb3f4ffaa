//! How an organism dies: logarithms of its counts over days, counts below their floor by a shape of their own on the level of that floor, the straight
//! line through them and, where there is one, the line with one bend.

use super::axis::{Axis, figure};
use super::canvas::{Hold, Ink, Lettering, Shape, Stroke};
use super::places::{Area, Places};
use super::plot::{Frame, Plot};
use super::{Rendition, Span, Table};

/// A count.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct KillingPoint {
    /// Day.
    pub day: f64,
    /// Decimal logarithm of the count, or of its floor.
    pub log: f64,
    /// It lies below its floor.
    pub below: bool,
}

/// A point of the lines.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct KillingLine {
    /// Day.
    pub day: f64,
    /// By the straight line.
    pub straight: Option<f64>,
    /// By the line with one bend.
    pub bent: Option<f64>,
}

/// The figure.
#[derive(Clone, Debug, PartialEq)]
pub struct KillingFigure {
    /// Name that is unique on the page.
    pub id: String,
    /// What it shows.
    pub title: String,
    /// Unit of the counts.
    pub unit: String,
    /// Counts, the start first.
    pub points: Vec<KillingPoint>,
    /// The lines, days ascending.
    pub lines: Vec<KillingLine>,
}

const WIDTH: f64 = 560.0;
const HEIGHT: f64 = 340.0;
const FRAME: Frame = Frame { left: 62.0, top: 52.0, right: 540.0, bottom: 276.0 };
const BEND: &str = "7 5";
const FLOOR: &str = "2 4";

impl KillingFigure {
    /// The figure as SVG.
    #[must_use]
    pub fn svg(&self, rendition: Rendition) -> String {
        let last = self.points.iter().map(|point| point.day).fold(1.0, f64::max);
        let most = self.points.iter().map(|point| point.log).fold(1.0, f64::max);
        let x = Axis::linear("Days", "", Axis::around([0.0, last]));
        let y = Axis::linear("log10 of the count", &self.unit, Span::new(0.0, (most + 0.5).ceil()));
        let mut plot = Plot::new(&self.id, (WIDTH, HEIGHT), FRAME, x, y, rendition);
        plot.axes();
        let mut places =
            Places::new(Area { left: FRAME.left, top: FRAME.top, right: FRAME.right, bottom: FRAME.bottom });
        let floor = self.floor();
        if let Some(floor) = floor {
            let level = plot.at_y(floor);
            plot.canvas.line(
                (FRAME.left, level),
                (FRAME.right, level),
                Stroke { dash: Some(FLOOR), ..Stroke::plain(Ink::Soft, 1.25) },
            );
        }
        let along = |of: fn(&KillingLine) -> Option<f64>| -> Vec<(f64, f64)> {
            self.lines.iter().filter_map(|point| Some((point.day, of(point)?))).collect()
        };
        let (straight, bent) = (along(|point| point.straight), along(|point| point.bent));
        plot.curve(&straight, &[], Stroke::plain(Ink::Pen, 2.0));
        plot.curve(&bent, &[], Stroke { dash: Some(BEND), ..Stroke::plain(Ink::Main, 1.75) });
        for &(day, log) in straight.iter().chain(&bent) {
            places.take(Area::around(plot.at(day, log), 5.0));
        }
        for point in &self.points {
            let at = plot.at(point.day, point.log);
            plot.canvas.shape(at, if point.below { Shape::Triangle } else { Shape::Ring }, Ink::Main);
            places.take(Area::around(at, 8.0));
        }
        let said = |line: &[(f64, f64)], share: usize| line.get(line.len() * share / 8).copied();
        let labels = [
            ("straight", said(&straight, 5)),
            ("with one bend", said(&bent, 3)),
            ("floor", floor.map(|floor| (0.1 * last, floor))),
        ];
        for (text, at) in labels {
            let shown = at.filter(|(_, log)| *log >= 0.0);
            let Some((day, log)) = shown else { continue };
            if let Some(at) = places.beside(text, 0.0, &[Area::around(plot.at(day, log), 8.0)]) {
                plot.canvas.text_over(at, text, Lettering::soft(Hold::Start));
            }
        }
        plot.finish(&self.title, &self.description())
    }

    /// The level of the floor: the highest of the counts that lie below theirs.
    fn floor(&self) -> Option<f64> {
        self.points.iter().filter(|point| point.below).map(|point| point.log).max_by(f64::total_cmp)
    }

    /// The same in words, for those who hear it.
    #[must_use]
    pub fn description(&self) -> String {
        let told = self.points.iter().map(|point| {
            let below = if point.below { "below " } else { "" };
            format!("day {}: {below}{}", figure(point.day, 0), figure(point.log, 2))
        });
        format!("Decimal logarithms of the counts. {}.", told.collect::<Vec<_>>().join(", "))
    }

    /// The numbers.
    #[must_use]
    pub fn table(&self) -> Table {
        let mut table = Table::new(
            &self.title,
            &["Day", &format!("log10 of the count, {}", self.unit), "", "straight line", "with one bend"],
        );
        let text = |value: Option<f64>| value.map_or_else(String::new, |value| figure(value, 2));
        for point in &self.points {
            let near = self
                .lines
                .iter()
                .min_by(|one, other| (one.day - point.day).abs().total_cmp(&(other.day - point.day).abs()))
                .filter(|line| (line.day - point.day).abs() < 1e-6);
            table.rows.push(vec![
                figure(point.day, 0),
                figure(point.log, 2),
                if point.below { "below this floor".to_owned() } else { String::new() },
                text(near.and_then(|line| line.straight)),
                text(near.and_then(|line| line.bent)),
            ]);
        }
        table
    }
}
