//! What a model leaves of every run, over what it says of it: a good one leaves points without a bend or a fan.

use super::axis::{Axis, rounded};
use super::canvas::{Hold, Ink, Lettering, Shape};
use super::places::{Area, Places};
use super::plot::{Frame, Plot};
use super::{Rendition, Span, Table};

/// A run.
#[derive(Clone, Debug, PartialEq)]
pub struct Leftover {
    /// Its number.
    pub run: String,
    /// What the model says.
    pub fitted: f64,
    /// Measured less model.
    pub left: f64,
    /// It stands apart by more than chance.
    pub apart: bool,
}

/// The figure.
#[derive(Clone, Debug, PartialEq)]
pub struct LeftoverFigure {
    /// Name that is unique on the page.
    pub id: String,
    /// What it shows.
    pub title: String,
    /// Reading.
    pub name: String,
    /// Its unit.
    pub unit: String,
    /// Runs.
    pub runs: Vec<Leftover>,
    /// Standard deviation of one run about the model, drawn as a band.
    pub scatter: Option<f64>,
}

const SIZE: (f64, f64) = (620.0, 330.0);
const FRAME: Frame = Frame { left: 72.0, top: 56.0, right: 600.0, bottom: 262.0 };

impl LeftoverFigure {
    /// The figure as SVG.
    #[must_use]
    pub fn svg(&self, rendition: Rendition) -> String {
        let scatter = self.scatter.filter(|scatter| *scatter > 0.0 && scatter.is_finite());
        let most = self.runs.iter().map(|run| run.left.abs()).chain(scatter).fold(0.0_f64, f64::max);
        let most = if most > 0.0 { 1.15 * most } else { 1.0 };
        let x = Axis::around(self.runs.iter().map(|run| run.fitted));
        let x = Axis::linear(&format!("{} by the model", self.name), &self.unit, x);
        let y = Axis::linear("Measured less model", &self.unit, Axis::around([-most, most]));
        let mut plot = Plot::new(&self.id, SIZE, FRAME, x, y, rendition);
        if let Some(scatter) = scatter {
            plot.band_across(Span::new(-scatter, scatter));
        }
        plot.axes();
        let mut places =
            Places::new(Area { left: FRAME.left, top: FRAME.top, right: FRAME.right, bottom: FRAME.bottom });
        let spots: Vec<(f64, f64)> = self.runs.iter().map(|run| plot.at(run.fitted, run.left)).collect();
        for spot in &spots {
            places.take(Area::around(*spot, 6.0));
        }
        for (run, spot) in self.runs.iter().zip(spots) {
            plot.canvas.shape(spot, if run.apart { Shape::Square } else { Shape::Ring }, Ink::Main);
            let words = if run.apart { format!("run {} stands apart", run.run) } else { run.run.clone() };
            let lettering =
                if run.apart { Lettering::strong(Hold::Start) } else { Lettering::soft(Hold::Start) };
            if let Some(at) = places.beside(&words, 0.0, &[Area::around(spot, 6.0)]) {
                plot.canvas.text_over(at, &words, lettering);
            }
        }
        plot.finish(&self.title, &format!("{} runs about the model.", self.runs.len()))
    }

    /// The numbers, smallest prediction first.
    #[must_use]
    pub fn table(&self) -> Table {
        let unit = if self.unit.is_empty() { String::new() } else { format!(", {}", self.unit) };
        let heads = [format!("By the model{unit}"), format!("Measured less model{unit}"), "Run".to_owned()];
        let mut table = Table::new(&self.title, &heads.each_ref().map(String::as_str));
        let mut runs: Vec<&Leftover> = self.runs.iter().collect();
        runs.sort_by(|one, other| one.fitted.total_cmp(&other.fitted));
        let row = |run: &Leftover| vec![rounded(run.fitted, 5), rounded(run.left, 4), run.run.clone()];
        table.rows = runs.into_iter().map(row).collect();
        table
    }
}
