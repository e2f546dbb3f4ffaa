//! How far a model lies from what was measured: ln(model / measured) over the shear rate, or over the time. A good model leaves
//! points that scatter around nought without a bend.

use super::axis::{Axis, figure, rounded, tabled};
use super::canvas::{Hold, Ink, Lettering, Shape, Stroke};
use super::places::{Area, Places};
use super::plot::{Frame, Plot};
use super::{Rendition, Span, Table};

/// One point.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Residual {
    /// Shear rate, 1/s, or time, s.
    pub at: f64,
    /// ln(model / measured).
    pub ln_ratio: f64,
    /// Marked as lying apart from the others.
    pub apart: bool,
}

/// What residuals are laid along.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Along {
    /// The shear rate, on a logarithmic axis.
    #[default]
    ShearRate,
    /// The time, on a linear one.
    Time,
}

impl Along {
    fn name(self) -> (&'static str, &'static str) {
        match self {
            Self::ShearRate => ("Shear rate", "1/s"),
            Self::Time => ("Time after the shear", "s"),
        }
    }
}

/// The figure.
#[derive(Clone, Debug, PartialEq)]
pub struct ResidualFigure {
    /// Name that is unique on the page.
    pub id: String,
    /// What it shows.
    pub title: String,
    /// What the points are laid along.
    pub along: Along,
    /// Points in any order.
    pub points: Vec<Residual>,
    /// Root mean square of what is left, drawn as a band.
    pub scatter: Option<f64>,
}

const WIDTH: f64 = 760.0;
const HEIGHT: f64 = 300.0;
const FRAME: Frame = Frame { left: 68.0, top: 52.0, right: 738.0, bottom: 240.0 };

impl ResidualFigure {
    /// The figure as SVG.
    #[must_use]
    pub fn svg(&self, rendition: Rendition) -> String {
        let (name, unit) = self.along.name();
        let x = match self.along {
            Along::ShearRate => Axis::logarithmic(name, unit, self.rates()),
            Along::Time => {
                Axis::linear(name, unit, Axis::around(self.seen().map(|point| point.at).chain([0.0])))
            }
        };
        let most = self.seen().map(|point| point.ln_ratio.abs()).chain(self.scatter).fold(0.02_f64, f64::max);
        let y = Axis::linear("ln (model / measured)", "", Axis::around([-1.1 * most, 1.1 * most]));
        let mut plot = Plot::new(&self.id, (WIDTH, HEIGHT), FRAME, x, y, rendition);
        let scatter = self.scatter.filter(|scatter| *scatter > 0.0 && scatter.is_finite());
        if let Some(scatter) = scatter {
            plot.band_across(Span::new(-scatter, scatter));
        }
        plot.axes();
        let level = plot.at_y(0.0);
        plot.canvas.line((FRAME.left, level), (FRAME.right, level), Stroke::plain(Ink::Main, 1.25));
        let mut places =
            Places::new(Area { left: FRAME.left, top: FRAME.top, right: FRAME.right, bottom: FRAME.bottom });
        for point in self.seen() {
            let at = plot.at(point.at, point.ln_ratio);
            plot.canvas.shape(at, if point.apart { Shape::Cross } else { Shape::Ring }, Ink::Main);
            places.take(Area::around(at, 6.0));
        }
        for point in self.seen().filter(|point| point.apart) {
            let at = plot.at(point.at, point.ln_ratio);
            let text = format!("apart: {}", percent(point.ln_ratio));
            if let Some(at) = places.beside(&text, 0.0, &[Area::around(at, 8.0)]) {
                plot.canvas.text_over(at, &text, Lettering::strong(Hold::Start));
            }
        }
        plot.canvas.text(
            (FRAME.right, FRAME.top - 34.0),
            "above the line the model is thicker than what was measured",
            Lettering::soft(Hold::End),
        );
        plot.finish(&self.title, &self.description())
    }

    fn seen(&self) -> impl Iterator<Item = &Residual> {
        self.points.iter().filter(|point| {
            let placed = point.at > 0.0 || (self.along == Along::Time && point.at == 0.0);
            placed && point.at.is_finite() && point.ln_ratio.abs() < 50.0
        })
    }

    fn rates(&self) -> Span {
        let (low, high) = self
            .seen()
            .fold((f64::INFINITY, 0.0_f64), |(low, high), point| (low.min(point.at), high.max(point.at)));
        if low > high { Span { low: 0.01, high: 1000.0 } } else { Span { low: low / 1.5, high: high * 1.5 } }
    }

    /// The same in words, for those who hear it.
    #[must_use]
    pub fn description(&self) -> String {
        let worst = self.seen().max_by(|a, b| a.ln_ratio.abs().total_cmp(&b.ln_ratio.abs()));
        let apart = self.points.iter().filter(|point| point.apart).count();
        let mut words = format!("{} points.", self.points.len());
        if let Some(worst) = worst {
            words.push_str(&format!(
                " The model lies farthest off, {}, at {} {}.",
                percent(worst.ln_ratio),
                rounded(worst.at, 3),
                self.along.name().1
            ));
        }
        if apart > 0 {
            words.push_str(&format!(" Marked as apart: {apart}."));
        }
        words
    }

    /// The numbers.
    #[must_use]
    pub fn table(&self) -> Table {
        let (name, unit) = self.along.name();
        let mut table = Table::new(
            &self.title,
            &[&format!("{name}, {unit}"), "ln (model / measured)", "Model against measured", ""],
        );
        let mut points = self.points.clone();
        points.sort_by(|a, b| a.at.total_cmp(&b.at));
        for point in points {
            table.rows.push(vec![
                tabled(point.at),
                figure(point.ln_ratio, 4),
                percent(point.ln_ratio),
                if point.apart { "apart".to_owned() } else { String::new() },
            ]);
        }
        table
    }
}

/// A logarithmic ratio as a person says it.
fn percent(ln_ratio: f64) -> String {
    let percent = 100.0 * ln_ratio.exp_m1();
    let text = figure(percent, if percent.abs() < 9.95 { 1 } else { 0 });
    if percent > 0.0 { format!("+{text} %") } else { format!("{text} %") }
}
