//! The shear rates a product meets in its life, as named spans under the axis: lanes, so that none covers another.

use super::Span;
use super::axis::Axis;
use super::canvas::{Canvas, Hold, Ink, Lettering, Stroke, TEXT_SIZE, width_of};
use super::flow::ShearSpan;

/// Height of a lane, px.
pub(super) const LANE: f64 = 24.0;
/// Room between two spans of a lane, px.
const GAP: f64 = 16.0;

/// A span with its lane, px.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct LaidSpan {
    name: String,
    left: f64,
    right: f64,
    /// Left end of the name.
    text: f64,
    /// Whether the name stands on the line rather than beside it.
    on_line: bool,
    /// The ends that lie outside the axis.
    open: (bool, bool),
    /// Lane, from the top.
    pub(super) lane: usize,
}

/// The spans that can be seen on the axis, in the first lane with room for line and name.
pub(super) fn lanes(spans: &[ShearSpan], axis: &Axis, (left, right): (f64, f64)) -> Vec<LaidSpan> {
    let mut order: Vec<&ShearSpan> = spans.iter().filter(|span| shown(span.shear_rate, axis)).collect();
    order.sort_by(|a, b| a.shear_rate.low.total_cmp(&b.shear_rate.low));
    let at = |rate: f64| left + axis.position(rate).clamp(0.0, 1.0) * (right - left);
    let mut taken: Vec<Vec<(f64, f64)>> = Vec::new();
    order
        .into_iter()
        .map(|span| {
            let (from, to) = (at(span.shear_rate.low), at(span.shear_rate.high));
            let width = width_of(&span.name, TEXT_SIZE);
            let on_line = to - from > width + 24.0;
            let text = if on_line {
                0.5 * (from + to - width)
            } else if to + 8.0 + width <= right + 6.0 {
                to + 8.0
            } else {
                from - 8.0 - width
            };
            let (start, end) = (from.min(text), to.max(text + width));
            let free = |lane: &Vec<(f64, f64)>| {
                lane.iter().all(|(from, to)| end + GAP <= *from || start >= to + GAP)
            };
            let lane = taken.iter().position(free).unwrap_or(taken.len());
            if lane == taken.len() {
                taken.push(Vec::new());
            }
            taken[lane].push((start, end));
            let open = (span.shear_rate.low < axis.span.low, span.shear_rate.high > axis.span.high);
            LaidSpan { name: span.name.clone(), left: from, right: to, text, on_line, open, lane }
        })
        .collect()
}

fn shown(span: Span, axis: &Axis) -> bool {
    span.is_finite()
        && span.low > 0.0
        && span.low < span.high
        && span.shared(axis.span).is_some_and(|part| part.low < part.high)
}

impl LaidSpan {
    /// Draws the line with its ends and the name; `top` is the upper edge of the first lane.
    pub(super) fn draw(&self, canvas: &mut Canvas, top: f64) {
        let y = top + LANE * (self.lane as f64 + 0.5);
        let stroke = Stroke::plain(Ink::Soft, 1.5);
        canvas.line((self.left, y), (self.right, y), stroke);
        for (x, open) in [(self.left, self.open.0), (self.right, self.open.1)] {
            if !open {
                canvas.line((x, y - 5.0), (x, y + 5.0), stroke);
            }
        }
        let at = (self.text, y + 0.34 * TEXT_SIZE);
        if self.on_line {
            canvas.text_on(at, &self.name, Lettering::label(Hold::Start));
        } else {
            canvas.text(at, &self.name, Lettering::label(Hold::Start));
        }
    }
}
