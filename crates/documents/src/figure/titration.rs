//! A titration curve: pH against the amount of an acid or base, its doubt around it, the window wanted across it, and
//! marks for the formula as it stands and for the amount that reaches a pH.

use super::axis::{Axis, figure, significant};
use super::canvas::{Hold, Ink, Lettering, Stroke, TEXT_SIZE, width_of};
use super::plot::{Frame, Plot};
use super::{Rendition, Span, Table};

/// One point of the curve.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TitrationPoint {
    /// Amount.
    pub amount: f64,
    /// pH there.
    pub ph: f64,
    /// Lower end of its interval.
    pub low: Option<f64>,
    /// Upper end of its interval.
    pub high: Option<f64>,
}

/// A point worth a word.
#[derive(Clone, Debug, PartialEq)]
pub struct Mark {
    /// Amount.
    pub amount: f64,
    /// pH.
    pub ph: f64,
    /// Word beside it (`as written`).
    pub label: String,
}

/// The figure.
#[derive(Clone, Debug, PartialEq)]
pub struct TitrationFigure {
    /// Name that is unique on the page.
    pub id: String,
    /// What it shows.
    pub title: String,
    /// What is added (`Citric acid, 50 % in water`).
    pub titrant: String,
    /// Unit of the amount (`% of the product`).
    pub unit: String,
    /// Curve, amounts ascending.
    pub points: Vec<TitrationPoint>,
    /// Window of the product.
    pub target: Option<Span>,
    /// Marks.
    pub marks: Vec<Mark>,
}

const WIDTH: f64 = 760.0;
const HEIGHT: f64 = 440.0;
const FRAME: Frame = Frame { left: 62.0, top: 56.0, right: 738.0, bottom: 376.0 };

impl TitrationFigure {
    /// The figure as SVG.
    #[must_use]
    pub fn svg(&self, rendition: Rendition) -> String {
        let x = Axis::linear(&self.titrant, &self.unit, Axis::around(self.amounts()));
        let y = Axis::linear("pH", "", Axis::around(self.heights()));
        let mut plot = Plot::new(&self.id, (WIDTH, HEIGHT), FRAME, x, y, rendition);
        let band =
            self.target.filter(|target| target.is_finite()).and_then(|target| plot.band_across(target));
        plot.axes();
        let points: Vec<(f64, f64)> = self.points.iter().map(|point| (point.amount, point.ph)).collect();
        let around: Vec<(f64, f64, f64)> =
            self.points.iter().filter_map(|point| Some((point.amount, point.low?, point.high?))).collect();
        plot.curve(&points, &around, Stroke::plain(Ink::Pen, 2.5));
        if let (Some((top, bottom)), Some(target)) = (band, self.target) {
            self.name_band(&mut plot, target, top, bottom);
        }
        for mark in self.marks.iter().filter(|mark| mark.amount.is_finite() && mark.ph.is_finite()) {
            self.mark(&mut plot, mark);
        }
        plot.finish(&self.title, &self.description())
    }

    /// The name of the band stands at the end where the curve is not.
    fn name_band(&self, plot: &mut Plot, target: Span, top: f64, bottom: f64) {
        let label = format!("wanted: pH {} to {}", figure(target.low, 1), figure(target.high, 1));
        let middle = 0.5 * (target.low + target.high);
        let near =
            |point: Option<&TitrationPoint>| point.map_or(f64::INFINITY, |point| (point.ph - middle).abs());
        let at_right = near(self.points.last()) >= near(self.points.first());
        let y = 0.5 * (top + bottom) + 0.34 * TEXT_SIZE;
        if at_right {
            plot.canvas.text_over((FRAME.right - 8.0, y), &label, Lettering::label(Hold::End));
        } else {
            plot.canvas.text_over((FRAME.left + 10.0, y), &label, Lettering::label(Hold::Start));
        }
    }

    fn mark(&self, plot: &mut Plot, mark: &Mark) {
        let (x, y) = plot.at(mark.amount, mark.ph);
        let dash = Stroke { dash: Some("2 4"), ..Stroke::plain(Ink::Main, 1.25) };
        plot.canvas.line((x, y), (x, FRAME.bottom), dash);
        plot.canvas.mark((x, y), Ink::Main);
        let words = format!(
            "{}: {} {}, pH {}",
            mark.label,
            significant(mark.amount, 3),
            self.unit.split(' ').next().unwrap_or(""),
            figure(mark.ph, 2)
        );
        let words = words.replace(" ,", ",");
        let room = FRAME.right - x;
        let hold = if room > width_of(&words, TEXT_SIZE) + 16.0 { Hold::Start } else { Hold::End };
        let dx = if matches!(hold, Hold::Start) { 10.0 } else { -10.0 };
        let dy = if y - FRAME.top < 2.0 * TEXT_SIZE { 1.5 * TEXT_SIZE } else { -0.7 * TEXT_SIZE };
        plot.canvas.text_over((x + dx, y + dy), &words, Lettering::strong(hold));
    }

    fn amounts(&self) -> impl Iterator<Item = f64> {
        self.points.iter().map(|point| point.amount).chain(self.marks.iter().map(|mark| mark.amount))
    }

    fn heights(&self) -> impl Iterator<Item = f64> {
        let target = self.target.map_or([f64::NAN; 2], |target| [target.low, target.high]);
        self.points
            .iter()
            .flat_map(|point| [Some(point.ph), point.low, point.high])
            .flatten()
            .chain(self.marks.iter().map(|mark| mark.ph))
            .chain(target)
    }

    /// The same in words, for those who hear it.
    #[must_use]
    pub fn description(&self) -> String {
        let mut words = String::new();
        if let (Some(first), Some(last)) = (self.points.first(), self.points.last()) {
            words = format!(
                "pH runs from {} at {} to {} at {} {} of {}. ",
                figure(first.ph, 2),
                significant(first.amount, 3),
                figure(last.ph, 2),
                significant(last.amount, 3),
                self.unit,
                self.titrant
            );
        }
        if let Some(target) = self.target {
            words.push_str(&format!("Wanted: pH {} to {}. ", figure(target.low, 2), figure(target.high, 2)));
        }
        for mark in &self.marks {
            words.push_str(&format!(
                "{}: {} {}, pH {}. ",
                mark.label,
                significant(mark.amount, 3),
                self.unit,
                figure(mark.ph, 2)
            ));
        }
        words.trim_end().to_owned()
    }

    /// The numbers.
    #[must_use]
    pub fn table(&self) -> Table {
        let amount = format!("{}, {}", self.titrant, self.unit);
        let mut table = Table::new(&self.title, &[amount.as_str(), "pH", "pH from", "pH to"]);
        let end = |end: Option<f64>| end.map_or_else(String::new, |end| figure(end, 2));
        for point in &self.points {
            table.rows.push(vec![
                significant(point.amount, 4),
                figure(point.ph, 2),
                end(point.low),
                end(point.high),
            ]);
        }
        table
    }
}
