//! The frame of a figure with two axes: ticks, titles, bands, curves, direct labels.

use super::axis::{Axis, Scale};
use super::canvas::{Canvas, Hold, Ink, Lettering, Stroke, TEXT_SIZE};
use super::{Rendition, Span};
use std::fmt::Write as _;

/// Where the plot lies on the canvas, px.
#[derive(Clone, Copy, Debug)]
pub(super) struct Frame {
    pub(super) left: f64,
    pub(super) top: f64,
    pub(super) right: f64,
    pub(super) bottom: f64,
}

/// A figure with two axes in the making.
pub(super) struct Plot {
    pub(super) canvas: Canvas,
    pub(super) frame: Frame,
    pub(super) x: Axis,
    pub(super) y: Axis,
}

/// A label right of the frame, tied to a point of its curve.
pub(super) struct SideLabel {
    /// The point, px.
    pub(super) point: (f64, f64),
    pub(super) name: String,
    pub(super) values: String,
    pub(super) dash: Option<&'static str>,
}

impl Plot {
    pub(super) fn new(
        id: &str,
        size: (f64, f64),
        frame: Frame,
        x: Axis,
        y: Axis,
        rendition: Rendition,
    ) -> Self {
        let mut canvas = Canvas::new(id, size.0, size.1, rendition);
        let Frame { left, top, right, bottom } = frame;
        let mut defs = String::new();
        let _ = writeln!(
            defs,
            "<clipPath id=\"{}-clip\"><rect x=\"{left}\" y=\"{top}\" width=\"{}\" height=\"{}\"/></clipPath>",
            canvas.id(),
            right - left,
            bottom - top
        );
        let _ = writeln!(
            defs,
            "<g class=\"plot\" data-left=\"{left}\" data-right=\"{right}\" data-top=\"{top}\" data-bottom=\"{bottom}\" \
             data-x-low=\"{}\" data-x-high=\"{}\" data-y-low=\"{}\" data-y-high=\"{}\"{}{}>",
            x.span.low,
            x.span.high,
            y.span.low,
            y.span.high,
            if x.scale == Scale::Logarithmic { " data-x-scale=\"logarithmic\"" } else { "" },
            if y.scale == Scale::Logarithmic { " data-y-scale=\"logarithmic\"" } else { "" },
        );
        canvas.raw(&defs);
        Self { canvas, frame, x, y }
    }

    pub(super) fn at_x(&self, value: f64) -> f64 {
        self.frame.left + self.x.position(value) * (self.frame.right - self.frame.left)
    }

    pub(super) fn at_y(&self, value: f64) -> f64 {
        self.frame.bottom - self.y.position(value) * (self.frame.bottom - self.frame.top)
    }

    pub(super) fn at(&self, x: f64, y: f64) -> (f64, f64) {
        (self.at_x(x), self.at_y(y))
    }

    /// A window wanted on the vertical axis, as a band across.
    pub(super) fn band_across(&mut self, span: Span) -> Option<(f64, f64)> {
        let shown = span.shared(self.y.span)?;
        let (top, bottom) = (self.at_y(shown.high), self.at_y(shown.low));
        let Frame { left, right, .. } = self.frame;
        self.canvas.rect((left, top), (right - left, bottom - top), Ink::Target);
        for (value, y) in [(span.high, top), (span.low, bottom)] {
            if value == shown.high || value == shown.low {
                self.canvas.line(
                    (left, y),
                    (right, y),
                    Stroke { dash: Some("5 4"), ..Stroke::plain(Ink::Soft, 1.0) },
                );
            }
        }
        Some((top, bottom))
    }

    /// A window wanted on the horizontal axis, as a band upright.
    pub(super) fn band_upright(&mut self, span: Span) -> Option<(f64, f64)> {
        let shown = span.shared(self.x.span)?;
        let (left, right) = (self.at_x(shown.low), self.at_x(shown.high));
        let Frame { top, bottom, .. } = self.frame;
        self.canvas.rect((left, top), (right - left, bottom - top), Ink::Target);
        for (value, x) in [(span.low, left), (span.high, right)] {
            if value == shown.high || value == shown.low {
                self.canvas.line(
                    (x, top),
                    (x, bottom),
                    Stroke { dash: Some("5 4"), ..Stroke::plain(Ink::Soft, 1.0) },
                );
            }
        }
        Some((left, right))
    }

    /// Axes with ticks and titles: the vertical one speaks above itself, so that nothing is read sideways.
    pub(super) fn axes(&mut self) {
        let Frame { left, top, right, bottom } = self.frame;
        for tick in self.y.ticks(5.0) {
            let y = self.at_y(tick.value);
            self.canvas.line((left, y), (right, y), Stroke::plain(Ink::Hair, 0.75));
            self.canvas.tick((left - 9.0, y + 0.34 * TEXT_SIZE), &tick.label, Hold::End);
        }
        for tick in self.x.ticks(7.0) {
            let x = self.at_x(tick.value);
            self.canvas.line((x, bottom), (x, bottom + 5.0), Stroke::plain(Ink::Soft, 1.0));
            self.canvas.tick((x, bottom + 8.0 + TEXT_SIZE), &tick.label, Hold::Middle);
        }
        self.canvas.line((left, bottom), (right, bottom), Stroke::plain(Ink::Soft, 1.0));
        let (x_title, y_title) = (self.x.title(), self.y.title());
        self.canvas.text((right, bottom + 16.0 + 2.1 * TEXT_SIZE), &x_title, Lettering::label(Hold::End));
        self.canvas.text(
            (left - 9.0 - 3.0 * 0.6 * TEXT_SIZE, top - 34.0),
            &y_title,
            Lettering::label(Hold::Start),
        );
    }

    /// A curve with what surrounds it, cut at the frame.
    pub(super) fn curve(&mut self, points: &[(f64, f64)], around: &[(f64, f64, f64)], stroke: Stroke) {
        let clip = format!("<g clip-path=\"url(#{}-clip)\">\n", self.canvas.id());
        self.canvas.raw(&clip);
        let lower = around.iter().map(|(x, low, _)| self.at(*x, *low));
        let upper = around.iter().rev().map(|(x, _, high)| self.at(*x, *high));
        let outline: Vec<(f64, f64)> = lower.chain(upper).collect();
        self.canvas.area(outline, Ink::Doubt, 0.2);
        // The edges in the dashes of the curve, so that two bands that overlap stay apart in one grey.
        let edge = Stroke { ink: Ink::Doubt, width: 0.75, ..stroke };
        for end in 0..2 {
            let along: Vec<(f64, f64)> =
                around.iter().map(|(x, low, high)| self.at(*x, [*low, *high][end])).collect();
            self.canvas.path(along, edge);
        }
        let drawn: Vec<(f64, f64)> = points.iter().map(|(x, y)| self.at(*x, *y)).collect();
        self.canvas.path(drawn, stroke);
        self.canvas.raw("</g>\n");
    }

    /// Labels right of the frame, each led to from its point in the dashes of its curve and moved apart where they would touch.
    pub(super) fn side_labels(&mut self, mut labels: Vec<SideLabel>) {
        const GAP: f64 = TEXT_SIZE * 2.6;
        labels.sort_by(|a, b| a.point.1.total_cmp(&b.point.1));
        let mut places: Vec<f64> = labels.iter().map(|label| label.point.1).collect();
        let mut least = self.frame.top;
        for place in &mut places {
            *place = place.max(least);
            least = *place + GAP;
        }
        let mut most = self.frame.bottom - 0.8 * TEXT_SIZE;
        for place in places.iter_mut().rev() {
            *place = place.min(most);
            most = *place - GAP;
        }
        let right = self.frame.right;
        for (label, y) in labels.iter().zip(places) {
            let (from_x, from_y) = (label.point.0 + 6.0, label.point.1);
            let bend = (right - 8.0).max(from_x);
            self.canvas
                .path([(from_x, from_y), (bend, from_y), (right + 8.0, y)], Stroke::plain(Ink::Soft, 0.75));
            let sample = Stroke { dash: label.dash, ..Stroke::plain(Ink::Pen, 2.5) };
            self.canvas.line((right + 10.0, y), (right + 40.0, y), sample);
            let x = right + 46.0;
            self.canvas.text((x, y + 0.34 * TEXT_SIZE), &label.name, Lettering::strong(Hold::Start));
            self.canvas.text((x, y + 1.54 * TEXT_SIZE), &label.values, Lettering::label(Hold::Start));
        }
    }

    pub(super) fn finish(mut self, title: &str, description: &str) -> String {
        self.canvas.raw("</g>\n");
        self.canvas.finish(title, description)
    }
}
