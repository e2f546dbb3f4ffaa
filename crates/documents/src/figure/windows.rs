//! pH windows laid over each other: one row for each ingredient that has one, the window of the product as a band behind
//! them, and at the foot what all of them share, or that they share nothing.

use super::axis::{Axis, figure};
use super::canvas::{Canvas, Hold, Ink, Lettering, Stroke, TEXT_SIZE};
use super::{Rendition, Span, Table};

/// One row: the pH in which something works or survives.
#[derive(Clone, Debug, PartialEq)]
pub struct PhWindow {
    /// Ingredient (`Sodium benzoate`).
    pub name: String,
    /// Why it has a window (`preservative works`, `active survives`).
    pub why: String,
    /// Lower end; `None` when it has none that matters.
    pub low: Option<f64>,
    /// Upper end; `None` when it has none that matters.
    pub high: Option<f64>,
}

/// The figure.
#[derive(Clone, Debug, PartialEq)]
pub struct WindowsFigure {
    /// Name that is unique on the page.
    pub id: String,
    /// What it shows.
    pub title: String,
    /// Window of the product.
    pub target: Option<Span>,
    /// pH of the product as computed.
    pub ph: Option<f64>,
    /// Rows in reading order.
    pub windows: Vec<PhWindow>,
}

const WIDTH: f64 = 760.0;
const LEFT: f64 = 268.0;
const RIGHT: f64 = 654.0;
const TOP: f64 = 52.0;
const ROW: f64 = 46.0;

impl PhWindow {
    fn span(&self) -> Span {
        let end = |end: Option<f64>| end.filter(|end| end.is_finite());
        Span { low: end(self.low).unwrap_or(0.0), high: end(self.high).unwrap_or(14.0) }
    }

    fn words(&self) -> String {
        match (self.low, self.high) {
            (Some(low), Some(high)) => format!("{} to {}", figure(low, 1), figure(high, 1)),
            (Some(low), None) => format!("from {}", figure(low, 1)),
            (None, Some(high)) => format!("up to {}", figure(high, 1)),
            (None, None) => "any".to_owned(),
        }
    }

    fn against(&self, target: Option<Span>) -> &'static str {
        let Some(target) = target.filter(|target| target.is_finite()) else { return "" };
        let span = self.span();
        match span.shared(target) {
            None => "misses it",
            Some(shared) if shared == target => "covers it",
            Some(_) => "covers a part",
        }
    }
}

impl WindowsFigure {
    /// What all windows and the target share: `None` when they share nothing, the whole scale when there are none.
    #[must_use]
    pub fn shared(&self) -> Option<Span> {
        let start = self.target.filter(|target| target.is_finite()).unwrap_or(Span { low: 0.0, high: 14.0 });
        self.windows.iter().try_fold(start, |shared, window| shared.shared(window.span()))
    }

    /// One sentence: what they share, or that they share nothing.
    #[must_use]
    pub fn sentence(&self) -> String {
        match self.shared() {
            Some(shared) => {
                format!("All windows hold from pH {} to {}.", figure(shared.low, 2), figure(shared.high, 2))
            }
            None => "No pH lies in all windows.".to_owned(),
        }
    }

    /// The figure as SVG.
    #[must_use]
    pub fn svg(&self, rendition: Rendition) -> String {
        let rows = self.windows.len() as f64;
        let bottom = TOP + ROW * (rows + 1.0);
        let mut canvas = Canvas::new(&self.id, WIDTH, bottom + 58.0, rendition);
        let axis = Axis::linear("pH", "", self.range());
        let at = |ph: f64| LEFT + axis.position(ph.clamp(axis.span.low, axis.span.high)) * (RIGHT - LEFT);
        canvas.raw(&format!(
            "<g class=\"plot\" data-left=\"{LEFT}\" data-right=\"{RIGHT}\" data-top=\"{TOP}\" data-bottom=\"{bottom}\" \
             data-x-low=\"{}\" data-x-high=\"{}\">\n",
            axis.span.low, axis.span.high
        ));
        if let Some(target) = self.target.filter(|target| target.is_finite()) {
            canvas.rect((at(target.low), TOP), (at(target.high) - at(target.low), bottom - TOP), Ink::Target);
            let label = format!("product pH {} to {}", figure(target.low, 1), figure(target.high, 1));
            canvas.text(
                (0.5 * (at(target.low) + at(target.high)), TOP - 14.0),
                &label,
                Lettering::strong(Hold::Middle),
            );
            for edge in [target.low, target.high] {
                let stroke = Stroke { dash: Some("5 4"), ..Stroke::plain(Ink::Soft, 1.0) };
                canvas.line((at(edge), TOP), (at(edge), bottom), stroke);
            }
        }
        for (row, window) in self.windows.iter().enumerate() {
            self.row(&mut canvas, &axis, &at, window, TOP + ROW * (row as f64 + 0.5));
        }
        for tick in axis.ticks(8.0) {
            let x = at(tick.value);
            canvas.line((x, bottom), (x, bottom + 5.0), Stroke::plain(Ink::Soft, 1.0));
            canvas.tick((x, bottom + 8.0 + TEXT_SIZE), &tick.label, Hold::Middle);
        }
        canvas.line((LEFT, bottom), (RIGHT, bottom), Stroke::plain(Ink::Soft, 1.0));
        canvas.text((RIGHT, bottom + 14.0 + 2.1 * TEXT_SIZE), "pH", Lettering::label(Hold::End));
        if let Some(ph) = self.ph.filter(|ph| ph.is_finite()) {
            canvas.line((at(ph), TOP), (at(ph), bottom), Stroke::plain(Ink::Pen, 2.0));
            canvas.text_over(
                (at(ph), bottom + 14.0 + 2.1 * TEXT_SIZE),
                &format!("computed {}", figure(ph, 2)),
                Lettering::strong(Hold::Middle),
            );
        }
        self.foot(&mut canvas, &at, bottom - 0.5 * ROW);
        canvas.raw("</g>\n");
        canvas.finish(&self.title, &self.description())
    }

    fn row(&self, canvas: &mut Canvas, axis: &Axis, at: &dyn Fn(f64) -> f64, window: &PhWindow, y: f64) {
        canvas.text((0.0, y - 2.0), &cut(&window.name, 30), Lettering::strong(Hold::Start));
        canvas.text((0.0, y + TEXT_SIZE), &cut(&window.why, 36), Lettering::soft(Hold::Start));
        let span = window.span();
        let (left, right) = (at(span.low), at(span.high));
        canvas.line((LEFT, y), (RIGHT, y), Stroke::plain(Ink::Hair, 0.75));
        if span.shared(axis.span).is_some() {
            let misses = window.against(self.target) == "misses it";
            if misses {
                // Hollow: it is not there where the product is.
                for dy in [-6.0, 6.0] {
                    canvas.line((left, y + dy), (right, y + dy), Stroke::plain(Ink::Main, 1.75));
                }
            } else {
                canvas.rect((left, y - 4.0), (right - left, 8.0), Ink::Quiet);
                let inside = self.target.map_or(Some(span), |target| span.shared(target));
                if let Some(inside) = inside {
                    let (from, to) = (at(inside.low), at(inside.high));
                    canvas.rect((from, y - 6.5), ((to - from).max(2.0), 13.0), Ink::Main);
                }
            }
            for (end, x) in [(window.low, left), (window.high, right)] {
                if end.is_some_and(|end| end >= axis.span.low && end <= axis.span.high) {
                    canvas.line((x, y - 10.0), (x, y + 10.0), Stroke::plain(Ink::Main, 1.75));
                }
            }
        }
        canvas.text((RIGHT + 12.0, y - 2.0), &window.words(), Lettering::label(Hold::Start));
        canvas.text((RIGHT + 12.0, y + TEXT_SIZE), window.against(self.target), Lettering::soft(Hold::Start));
    }

    fn foot(&self, canvas: &mut Canvas, at: &dyn Fn(f64) -> f64, y: f64) {
        canvas.line((0.0, y - 0.5 * ROW), (WIDTH, y - 0.5 * ROW), Stroke::plain(Ink::Soft, 1.0));
        canvas.text((0.0, y + 0.34 * TEXT_SIZE), "shared by all", Lettering::strong(Hold::Start));
        if let Some(shared) = self.shared() {
            let (left, right) = (at(shared.low), at(shared.high));
            canvas.rect((left - 1.0, y - 8.0), ((right - left).max(2.0) + 2.0, 16.0), Ink::Pen);
            let words = if shared.high - shared.low < 0.05 {
                format!("only at {}", figure(shared.low, 1))
            } else {
                format!("{} to {}", figure(shared.low, 1), figure(shared.high, 1))
            };
            canvas.text((RIGHT + 12.0, y + 0.34 * TEXT_SIZE), &words, Lettering::strong(Hold::Start));
        } else {
            canvas.text_over(
                (RIGHT - 4.0, y + 0.34 * TEXT_SIZE),
                "no pH lies in all windows",
                Lettering::strong(Hold::End),
            );
            canvas.text((RIGHT + 12.0, y + 0.34 * TEXT_SIZE), "nothing", Lettering::strong(Hold::Start));
        }
    }

    /// From one below the lowest end to one above the highest, on whole numbers, inside 0 to 14.
    fn range(&self) -> Span {
        let ends = self
            .windows
            .iter()
            .flat_map(|window| [window.low, window.high])
            .chain([self.target.map(|target| target.low), self.target.map(|target| target.high), self.ph])
            .flatten()
            .filter(|end| end.is_finite());
        let (low, high) =
            ends.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), end| (low.min(end), high.max(end)));
        if low > high {
            return Span { low: 2.0, high: 9.0 };
        }
        let low = (low - 0.5).floor().clamp(0.0, 12.0);
        Span { low, high: (high + 0.5).ceil().clamp(low + 2.0, 14.0) }
    }

    /// The same in words, for those who hear it.
    #[must_use]
    pub fn description(&self) -> String {
        let mut words = match self.target {
            Some(target) => {
                format!("Product window pH {} to {}. ", figure(target.low, 1), figure(target.high, 1))
            }
            None => String::new(),
        };
        for window in &self.windows {
            words.push_str(&format!(
                "{}, {}: {} {}. ",
                window.name,
                window.why,
                window.words(),
                window.against(self.target)
            ));
        }
        words.push_str(&self.sentence());
        words
    }

    /// The numbers.
    #[must_use]
    pub fn table(&self) -> Table {
        let mut table =
            Table::new(&self.title, &["Ingredient", "Window", "From pH", "To pH", "Product window"]);
        let end = |end: Option<f64>| end.map_or_else(String::new, |end| figure(end, 2));
        for window in &self.windows {
            table.rows.push(vec![
                window.name.clone(),
                window.why.clone(),
                end(window.low),
                end(window.high),
                window.against(self.target).to_owned(),
            ]);
        }
        let shared = self.shared();
        table.rows.push(vec![
            "Shared by all".to_owned(),
            String::new(),
            end(shared.map(|shared| shared.low)),
            end(shared.map(|shared| shared.high)),
            if shared.is_some() { String::new() } else { "nothing".to_owned() },
        ]);
        table
    }
}

/// A name that fits its column; the table under the figure has it whole.
pub(super) fn cut(text: &str, most: usize) -> String {
    if text.chars().count() <= most {
        return text.to_owned();
    }
    let mut cut: String = text.chars().take(most - 1).collect();
    cut.push('\u{2026}');
    cut
}
