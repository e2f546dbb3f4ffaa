//! The working share of each preservative against pH, with the window of the product upright across it.

use super::axis::{Axis, figure, significant};
use super::canvas::{Hold, Ink, Lettering, Stroke};
use super::plot::{Frame, Plot, SideLabel};
use super::windows::cut;
use super::{Rendition, Span, Table};
use std::collections::BTreeSet;

/// One point of a curve.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SharePoint {
    /// pH.
    pub ph: f64,
    /// Share that does the work, percent of what is in the formula.
    pub percent: f64,
    /// Lower end of its interval.
    pub low: Option<f64>,
    /// Upper end of its interval.
    pub high: Option<f64>,
}

/// The curve of one preservative.
#[derive(Clone, Debug, PartialEq)]
pub struct ShareCurve {
    /// Name (`benzoic acid`).
    pub name: String,
    /// Points, pH ascending.
    pub points: Vec<SharePoint>,
}

/// The figure.
#[derive(Clone, Debug, PartialEq)]
pub struct WorkingShareFigure {
    /// Name that is unique on the page.
    pub id: String,
    /// What it shows.
    pub title: String,
    /// Curves.
    pub curves: Vec<ShareCurve>,
    /// Window of the product.
    pub window: Option<Span>,
    /// Shows the small shares: a logarithmic axis from 0.1 %.
    pub logarithmic: bool,
}

const WIDTH: f64 = 760.0;
const HEIGHT: f64 = 450.0;
const FRAME: Frame = Frame { left: 62.0, top: 66.0, right: 560.0, bottom: 386.0 };
/// Curves differ by their dashes, so that they stay apart without colour.
const DASHES: [Option<&str>; 5] = [None, Some("10 5"), Some("3 4"), Some("12 4 3 4"), Some("6 3")];

impl ShareCurve {
    /// Share at a pH, between the points.
    #[must_use]
    pub fn at(&self, ph: f64) -> Option<f64> {
        self.between(ph, |point| Some(point.percent))
    }

    fn between(&self, ph: f64, of: impl Fn(&SharePoint) -> Option<f64>) -> Option<f64> {
        let pair = self.points.windows(2).find(|pair| pair[0].ph <= ph && ph <= pair[1].ph)?;
        let width = pair[1].ph - pair[0].ph;
        let part = if width > 0.0 { (ph - pair[0].ph) / width } else { 0.0 };
        let (left, right) = (of(&pair[0])?, of(&pair[1])?);
        Some(left + part * (right - left)).filter(|share| share.is_finite())
    }

    /// Whether its points carry intervals.
    fn has_doubt(&self) -> bool {
        self.points.iter().any(|point| point.low.is_some() && point.high.is_some())
    }
}

impl WorkingShareFigure {
    /// The figure as SVG.
    #[must_use]
    pub fn svg(&self, rendition: Rendition) -> String {
        let x = Axis::linear("pH", "", self.range());
        let y = if self.logarithmic {
            Axis::logarithmic("Share at work", "%", Span { low: 0.1, high: 100.0 })
        } else {
            Axis::linear("Share at work", "%", Span { low: 0.0, high: 100.0 })
        };
        let mut plot = Plot::new(&self.id, (WIDTH, HEIGHT), FRAME, x, y, rendition);
        let band =
            self.window.filter(|window| window.is_finite()).and_then(|window| plot.band_upright(window));
        plot.axes();
        if let (Some((left, right)), Some(window)) = (band, self.window) {
            let label = format!("product pH {} to {}", figure(window.low, 1), figure(window.high, 1));
            let at = (0.5 * (left + right), FRAME.top - 14.0);
            plot.canvas.text_over(at, &label, Lettering::strong(Hold::Middle));
        }
        let mut labels = Vec::new();
        for (curve, dash) in self.curves.iter().zip(DASHES.into_iter().cycle()) {
            let points: Vec<(f64, f64)> =
                curve.points.iter().map(|point| (point.ph, point.percent)).collect();
            let around: Vec<(f64, f64, f64)> =
                curve.points.iter().filter_map(|point| Some((point.ph, point.low?, point.high?))).collect();
            plot.curve(&points, &around, Stroke { dash, ..Stroke::plain(Ink::Pen, 2.5) });
            if let Some(label) = self.label(&plot, curve, dash) {
                labels.push(label);
            }
        }
        plot.side_labels(labels);
        for curve in &self.curves {
            self.edge_marks(&mut plot, curve);
        }
        plot.finish(&self.title, &self.description())
    }

    /// The label hangs on the curve where it leaves the window, else in the middle of the axis.
    fn label(&self, plot: &Plot, curve: &ShareCurve, dash: Option<&'static str>) -> Option<SideLabel> {
        let window = self.window.filter(|window| window.is_finite());
        let edges = window.and_then(|window| Some((curve.at(window.low)?, curve.at(window.high)?)));
        let (ph, values) = match (window, edges) {
            (Some(window), Some((low, high))) => {
                (window.high, format!("{} % to {} %", significant(low, 2), significant(high, 2)))
            }
            _ => (0.5 * (plot.x.span.low + plot.x.span.high), String::new()),
        };
        let (x, y) = plot.at(ph, curve.at(ph)?);
        let point = (x.clamp(FRAME.left, FRAME.right), y.clamp(FRAME.top, FRAME.bottom));
        Some(SideLabel { point, name: cut(&curve.name, 18), values, dash })
    }

    /// A ring at both edges of the window.
    fn edge_marks(&self, plot: &mut Plot, curve: &ShareCurve) {
        let Some(window) = self.window.filter(|window| window.is_finite()) else { return };
        for edge in [window.low, window.high] {
            if let Some(share) = curve.at(edge) {
                let (x, y) = plot.at(edge, share);
                if y <= FRAME.bottom + 1.0 && (FRAME.left - 1.0..=FRAME.right + 1.0).contains(&x) {
                    plot.canvas.mark((x, y), Ink::Main);
                }
            }
        }
    }

    fn range(&self) -> Span {
        let ends = self.curves.iter().flat_map(|curve| curve.points.iter().map(|point| point.ph));
        Axis::around(ends)
    }

    /// The same in words, for those who hear it.
    #[must_use]
    pub fn description(&self) -> String {
        let mut words = String::new();
        if let Some(window) = self.window {
            words = format!("Product window pH {} to {}. ", figure(window.low, 2), figure(window.high, 2));
            for curve in &self.curves {
                if let (Some(low), Some(high)) = (curve.at(window.low), curve.at(window.high)) {
                    words.push_str(&format!(
                        "{}: {} % at the lower edge, {} % at the upper. ",
                        curve.name,
                        significant(low, 2),
                        significant(high, 2)
                    ));
                }
            }
        }
        words.push_str("A share that is at work is not a passed challenge test.");
        words
    }

    /// The numbers: a column for each curve, and two for the ends of its interval where it has one, at every pH any of them has.
    #[must_use]
    pub fn table(&self) -> Table {
        let mut head = vec!["pH".to_owned()];
        for curve in &self.curves {
            head.push(format!("{}, %", curve.name));
            if curve.has_doubt() {
                head.extend(["from, %".to_owned(), "to, %".to_owned()]);
            }
        }
        let mut table = Table { caption: self.title.clone(), head, rows: Vec::new() };
        let hundredths: BTreeSet<i64> = self
            .curves
            .iter()
            .flat_map(|curve| &curve.points)
            .filter(|point| point.ph.is_finite() && point.ph.abs() < 1e6)
            .map(|point| (100.0 * point.ph).round() as i64)
            .collect();
        for hundredth in hundredths {
            let ph = hundredth as f64 / 100.0;
            let mut row = vec![figure(ph, 2)];
            let shown = |share: Option<f64>| share.map_or_else(String::new, |share| significant(share, 3));
            for curve in &self.curves {
                row.push(shown(curve.at(ph)));
                if curve.has_doubt() {
                    row.push(shown(curve.between(ph, |point| point.low)));
                    row.push(shown(curve.between(ph, |point| point.high)));
                }
            }
            table.rows.push(row);
        }
        table
    }
}
