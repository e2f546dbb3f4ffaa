//! Where a label may stand: beside what it names, inside the frame, over nothing else.

use super::canvas::{TEXT_SIZE, width_of};

/// A rectangle, px.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Area {
    pub(super) left: f64,
    pub(super) top: f64,
    pub(super) right: f64,
    pub(super) bottom: f64,
}

impl Area {
    /// A square around a point.
    pub(super) fn around((x, y): (f64, f64), reach: f64) -> Self {
        Self { left: x - reach, top: y - reach, right: x + reach, bottom: y + reach }
    }

    fn shared(self, other: Self) -> f64 {
        let width = self.right.min(other.right) - self.left.max(other.left);
        let height = self.bottom.min(other.bottom) - self.top.max(other.top);
        if width > 0.0 && height > 0.0 { width * height } else { 0.0 }
    }

    fn size(self) -> f64 {
        (self.right - self.left) * (self.bottom - self.top)
    }
}

/// What is taken, and the frame labels stay in.
#[derive(Clone, Debug)]
pub(super) struct Places {
    bounds: Area,
    taken: Vec<Area>,
}

impl Places {
    pub(super) fn new(bounds: Area) -> Self {
        Self { bounds, taken: Vec::new() }
    }

    pub(super) fn take(&mut self, area: Area) {
        if [area.left, area.top, area.right, area.bottom].into_iter().all(f64::is_finite) {
            self.taken.push(area);
        }
    }

    /// Whether nothing stands there yet and it lies inside.
    pub(super) fn free(&self, area: Area) -> bool {
        let inside = area.left >= self.bounds.left
            && area.right <= self.bounds.right
            && area.top >= self.bounds.top
            && area.bottom <= self.bounds.bottom;
        inside && self.taken.iter().all(|taken| taken.shared(area) <= 0.0)
    }

    /// Left end of the base line for a text beside one of the areas: the first place that is free, else the one that covers least.
    pub(super) fn beside(&mut self, text: &str, indent: f64, anchors: &[Area]) -> Option<(f64, f64)> {
        self.led_to(text, indent, anchors).map(|(at, _)| at)
    }

    /// The same, and a line that leads from the text to the middle of its area where it does not stand close by.
    pub(super) fn led_to(
        &mut self,
        text: &str,
        indent: f64,
        anchors: &[Area],
    ) -> Option<((f64, f64), Leader)> {
        let (width, height) = (width_of(text, TEXT_SIZE) + indent, 1.25 * TEXT_SIZE);
        let mut best: Option<(f64, Area, Area)> = None;
        for (turn, anchor) in anchors.iter().enumerate() {
            let middle = 0.5 * (anchor.left + anchor.right);
            let level = 0.5 * (anchor.top + anchor.bottom - height);
            let corners = [
                (anchor.right + 6.0, level),
                (anchor.right + 4.0, anchor.top - height),
                (anchor.right + 4.0, anchor.bottom),
                (middle - 0.5 * width, anchor.top - height - 3.0),
                (middle - 0.5 * width, anchor.bottom + 3.0),
                (anchor.left - width - 6.0, level),
                (anchor.left - width - 4.0, anchor.top - height),
                (anchor.left - width - 4.0, anchor.bottom),
                // A little way off, with a line that leads there.
                (anchor.right + 14.0, anchor.top - 1.8 * height),
                (anchor.left - width - 14.0, anchor.bottom + 0.8 * height),
                (anchor.left - width - 14.0, anchor.top - 1.8 * height),
                (anchor.right + 14.0, anchor.bottom + 0.8 * height),
            ];
            for (x, y) in corners {
                let left = x.clamp(
                    self.bounds.left + 4.0,
                    (self.bounds.right - width - 4.0).max(self.bounds.left + 4.0),
                );
                let top = y.clamp(
                    self.bounds.top + 2.0,
                    (self.bounds.bottom - height - 2.0).max(self.bounds.top + 2.0),
                );
                let area = Area { left, top, right: left + width, bottom: top + height };
                let covered: f64 = self.taken.iter().map(|taken| taken.shared(area)).sum();
                let moved = (left - x).abs() + (top - y).abs();
                // A place far from what it names is worse than one a little way off; the first anchors are the better ones.
                let cost = covered / area.size().max(1.0) + 0.02 * moved + 0.01 * turn as f64;
                if cost.is_finite() && best.is_none_or(|(least, _, _)| cost < least - 1e-9) {
                    best = Some((cost, area, *anchor));
                }
            }
        }
        let (_, area, anchor) = best?;
        self.taken.push(area);
        Some(((area.left, area.top + 0.98 * TEXT_SIZE), Leader::between(area, anchor)))
    }
}

/// A line from a text to what it names.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Leader {
    pub(super) from: (f64, f64),
    pub(super) to: (f64, f64),
}

impl Leader {
    /// From the nearest edge of the text to the rim of the mark.
    fn between(text: Area, mark: Area) -> Self {
        const RIM: f64 = 6.0;
        let middle = (0.5 * (mark.left + mark.right), 0.5 * (mark.top + mark.bottom));
        let from = (
            middle.0.clamp(text.left - 2.0, text.right + 2.0),
            middle.1.clamp(text.top + 1.0, text.bottom - 1.0),
        );
        let (dx, dy) = (from.0 - middle.0, from.1 - middle.1);
        let length = dx.hypot(dy);
        let part = if length > 0.0 { (RIM / length).min(1.0) } else { 1.0 };
        Self { from, to: (middle.0 + part * dx, middle.1 + part * dy) }
    }

    pub(super) fn length(self) -> f64 {
        (self.to.0 - self.from.0).hypot(self.to.1 - self.from.1)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_label_avoids_what_is_taken_and_stays_inside() {
        let mut places = Places::new(Area { left: 0.0, top: 0.0, right: 200.0, bottom: 100.0 });
        let anchor = Area::around((100.0, 50.0), 5.0);
        let first = places.beside("name", 0.0, &[anchor]).unwrap();
        let second = places.beside("name", 0.0, &[anchor]).unwrap();
        assert!(
            (first.1 - second.1).abs() >= TEXT_SIZE
                || (first.0 - second.0).abs() >= width_of("name", TEXT_SIZE)
        );
        let edge = places.beside("a name of some length", 0.0, &[Area::around((199.0, 1.0), 5.0)]).unwrap();
        assert!(edge.0 + width_of("a name of some length", TEXT_SIZE) <= 200.0);
        assert!(Places::new(anchor).beside("x", 0.0, &[]).is_none());
    }
}
