//! A drawing surface that writes SVG: lines, areas, shapes and escaped text, coordinates to a hundredth of a pixel.

use super::Rendition;
use super::axis::{Figures, figure};
use crate::escape::Markup;
use std::fmt::Write as _;

/// The inks of a figure, by what they are for.
#[derive(Clone, Copy, Debug)]
pub(super) enum Ink {
    /// Lines and words that matter.
    Main,
    /// Axes, ticks, secondary words.
    Soft,
    /// Hairlines.
    Hair,
    /// Bars that only give the background to what matters.
    Quiet,
    /// The window wanted.
    Target,
    /// How uncertain a line is.
    Doubt,
    /// The line the figure is about.
    Pen,
}

impl Ink {
    fn paint(self, rendition: Rendition) -> &'static str {
        match (rendition, self) {
            (Rendition::Screen, Self::Main) => "currentColor",
            (Rendition::Screen, Self::Soft) => "var(--ink-2, #525d57)",
            (Rendition::Screen, Self::Hair) => "var(--rule, #c3cac3)",
            (Rendition::Screen, Self::Quiet) => "var(--rule-2, #a9b3aa)",
            (Rendition::Screen, Self::Target) => "var(--band, #dfe9df)",
            (Rendition::Screen, Self::Doubt | Self::Pen) => "var(--pen, #1d4d8f)",
            (Rendition::Print, Self::Main | Self::Pen) => "#000",
            (Rendition::Print, Self::Soft) => "#3c3c3c",
            (Rendition::Print, Self::Hair) => "#b4b4b4",
            (Rendition::Print, Self::Quiet) => "#9c9c9c",
            (Rendition::Print, Self::Target) => "#e3e3e3",
            (Rendition::Print, Self::Doubt) => "#777",
        }
    }
}

/// Shapes of measured points; told apart without colour.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Shape {
    Ring,
    Square,
    Triangle,
    Diamond,
    /// What was set aside.
    Cross,
}

/// Where a text is held.
#[derive(Clone, Copy, Debug)]
pub(super) enum Hold {
    Start,
    Middle,
    End,
}

/// Strokes, thin to thick.
#[derive(Clone, Copy, Debug)]
pub(super) struct Stroke {
    pub(super) ink: Ink,
    pub(super) width: f64,
    pub(super) dash: Option<&'static str>,
}

impl Stroke {
    pub(super) fn plain(ink: Ink, width: f64) -> Self {
        Self { ink, width, dash: None }
    }
}

/// How words are set.
#[derive(Clone, Copy, Debug)]
pub(super) struct Lettering {
    pub(super) ink: Ink,
    pub(super) size: f64,
    pub(super) bold: bool,
    pub(super) hold: Hold,
}

impl Lettering {
    pub(super) fn label(hold: Hold) -> Self {
        Self { ink: Ink::Main, size: TEXT_SIZE, bold: false, hold }
    }

    pub(super) fn soft(hold: Hold) -> Self {
        Self { ink: Ink::Soft, size: TEXT_SIZE, bold: false, hold }
    }

    pub(super) fn strong(hold: Hold) -> Self {
        Self { ink: Ink::Main, size: TEXT_SIZE, bold: true, hold }
    }
}

/// Size of words in a figure, px of the view box.
pub(super) const TEXT_SIZE: f64 = 15.0;

/// Family of words in a figure: that of the page, else the nearest there is.
const FAMILY: &str =
    "Hyperlegible, 'Atkinson Hyperlegible Next', 'Atkinson Hyperlegible', Verdana, sans-serif";

/// An SVG in the making.
pub(super) struct Canvas {
    body: String,
    width: f64,
    height: f64,
    rendition: Rendition,
    id: String,
}

impl Canvas {
    /// A surface; the id keeps titles and clips apart when several figures stand on one page.
    pub(super) fn new(id: &str, width: f64, height: f64, rendition: Rendition) -> Self {
        let id: String = id
            .chars()
            .map(|c| if c.is_ascii_alphanumeric() { c.to_ascii_lowercase() } else { '-' })
            .take(60)
            .collect();
        let id = if id.is_empty() { "figure".to_owned() } else { format!("figure-{id}") };
        Self { body: String::new(), width, height, rendition, id }
    }

    pub(super) fn id(&self) -> &str {
        &self.id
    }

    pub(super) fn raw(&mut self, markup: &str) {
        self.body.push_str(markup);
    }

    pub(super) fn line(&mut self, from: (f64, f64), to: (f64, f64), stroke: Stroke) {
        let _ = write!(
            self.body,
            "<line x1=\"{:.2}\" y1=\"{:.2}\" x2=\"{:.2}\" y2=\"{:.2}\"",
            clean(from.0),
            clean(from.1),
            clean(to.0),
            clean(to.1)
        );
        self.stroked(stroke);
        self.body.push_str("/>\n");
    }

    /// A line through the points; a point that is no number interrupts it.
    pub(super) fn path(&mut self, points: impl IntoIterator<Item = (f64, f64)>, stroke: Stroke) {
        let mut data = String::new();
        let mut pen_down = false;
        for (x, y) in points {
            if !(x.is_finite() && y.is_finite()) {
                pen_down = false;
                continue;
            }
            let command = if pen_down { 'L' } else { 'M' };
            let _ = write!(data, "{command}{:.2} {:.2}", clean(x), clean(y));
            pen_down = true;
        }
        if data.is_empty() {
            return;
        }
        let _ = write!(self.body, "<path d=\"{data}\" fill=\"none\" stroke-linejoin=\"round\"");
        self.stroked(stroke);
        self.body.push_str("/>\n");
    }

    /// A filled outline.
    pub(super) fn area(&mut self, points: impl IntoIterator<Item = (f64, f64)>, ink: Ink, opacity: f64) {
        let mut data = String::new();
        for (x, y) in points.into_iter().filter(|(x, y)| x.is_finite() && y.is_finite()) {
            let command = if data.is_empty() { 'M' } else { 'L' };
            let _ = write!(data, "{command}{:.2} {:.2}", clean(x), clean(y));
        }
        if !data.is_empty() {
            let paint = ink.paint(self.rendition);
            let _ = writeln!(self.body, "<path d=\"{data}Z\" fill=\"{paint}\" fill-opacity=\"{opacity}\"/>");
        }
    }

    /// Pieces of one filled area: as one path, so that no seam shows between them.
    pub(super) fn areas(&mut self, pieces: &[Vec<(f64, f64)>], ink: Ink, opacity: f64) {
        let mut data = String::new();
        for piece in pieces {
            for (place, (x, y)) in piece.iter().enumerate() {
                let command = if place == 0 { 'M' } else { 'L' };
                let _ = write!(data, "{command}{:.1} {:.1}", clean(*x), clean(*y));
            }
            data.push('Z');
        }
        if !data.is_empty() {
            let paint = ink.paint(self.rendition);
            let _ = writeln!(self.body, "<path d=\"{data}\" fill=\"{paint}\" fill-opacity=\"{opacity}\"/>");
        }
    }

    pub(super) fn rect(&mut self, corner: (f64, f64), size: (f64, f64), ink: Ink) {
        let _ = writeln!(
            self.body,
            "<rect x=\"{:.2}\" y=\"{:.2}\" width=\"{:.2}\" height=\"{:.2}\" fill=\"{}\"/>",
            clean(corner.0),
            clean(corner.1),
            clean(size.0).max(0.0),
            clean(size.1).max(0.0),
            ink.paint(self.rendition)
        );
    }

    /// A broken outline, for a box that is filled already.
    pub(super) fn outline(&mut self, corner: (f64, f64), size: (f64, f64)) {
        let _ = writeln!(
            self.body,
            "<rect x=\"{:.2}\" y=\"{:.2}\" width=\"{:.2}\" height=\"{:.2}\" fill=\"none\" stroke=\"{}\" stroke-width=\"1.25\" stroke-dasharray=\"5 3\"/>",
            clean(corner.0),
            clean(corner.1),
            clean(size.0).max(0.0),
            clean(size.1).max(0.0),
            Ink::Soft.paint(self.rendition)
        );
    }

    /// A ring that hides what lies under it.
    pub(super) fn mark(&mut self, at: (f64, f64), ink: Ink) {
        let paper = match self.rendition {
            Rendition::Screen => "var(--paper, #fff)",
            Rendition::Print => "#fff",
        };
        let _ = writeln!(
            self.body,
            "<circle cx=\"{:.2}\" cy=\"{:.2}\" r=\"4.5\" fill=\"{paper}\" stroke=\"{}\" stroke-width=\"2\"/>",
            clean(at.0),
            clean(at.1),
            ink.paint(self.rendition)
        );
    }

    pub(super) fn text(&mut self, at: (f64, f64), text: &str, lettering: Lettering) {
        let anchor = match lettering.hold {
            Hold::Start => "start",
            Hold::Middle => "middle",
            Hold::End => "end",
        };
        let weight = if lettering.bold { " font-weight=\"600\"" } else { "" };
        let _ = writeln!(
            self.body,
            "<text x=\"{:.2}\" y=\"{:.2}\" font-size=\"{}\"{weight} text-anchor=\"{anchor}\" fill=\"{}\">{}</text>",
            clean(at.0),
            clean(at.1),
            lettering.size,
            lettering.ink.paint(self.rendition),
            Markup(text)
        );
    }

    /// The number at a tick.
    pub(super) fn tick(&mut self, at: (f64, f64), figures: &Figures, hold: Hold) {
        match figures {
            Figures::Plain(text) => self.text(at, text, Lettering::soft(hold)),
            Figures::Power(power) => self.power(at, *power, Lettering::soft(hold)),
        }
    }

    /// A power of ten with its exponent raised.
    pub(super) fn power(&mut self, at: (f64, f64), exponent: i32, lettering: Lettering) {
        let raised = Lettering { size: 0.74 * lettering.size, hold: Hold::Start, ..lettering };
        let text = figure(f64::from(exponent), 0);
        let (base, top) = (width_of("10", lettering.size), width_of(&text, raised.size));
        let left = match lettering.hold {
            Hold::Start => at.0,
            Hold::Middle => at.0 - 0.5 * (base + top),
            Hold::End => at.0 - base - top,
        };
        self.text((left, at.1), "10", Lettering { hold: Hold::Start, ..lettering });
        self.text((left + base + 0.5, at.1 - 0.36 * lettering.size), &text, raised);
    }

    /// The mark of a measured point, one shape for each series.
    pub(super) fn shape(&mut self, (x, y): (f64, f64), shape: Shape, ink: Ink) {
        let (data, filled) = match shape {
            Shape::Ring => return self.mark((x, y), ink),
            Shape::Square => (corners(&[(-4.2, -4.2), (4.2, -4.2), (4.2, 4.2), (-4.2, 4.2)], x, y), true),
            Shape::Triangle => (corners(&[(0.0, -5.4), (5.2, 3.9), (-5.2, 3.9)], x, y), true),
            Shape::Diamond => (corners(&[(0.0, -5.8), (5.8, 0.0), (0.0, 5.8), (-5.8, 0.0)], x, y), true),
            Shape::Cross => (crossed(x, y), false),
        };
        let fill = match self.rendition {
            _ if !filled => "none",
            Rendition::Screen => "var(--paper, #fff)",
            Rendition::Print => "#fff",
        };
        let paint = ink.paint(self.rendition);
        let _ = writeln!(
            self.body,
            "<path d=\"{data}\" fill=\"{fill}\" stroke=\"{paint}\" stroke-width=\"2\" stroke-linejoin=\"round\"/>"
        );
    }

    /// Words that interrupt the line they stand on.
    pub(super) fn text_on(&mut self, at: (f64, f64), text: &str, lettering: Lettering) {
        let paper = match self.rendition {
            Rendition::Screen => "var(--paper, #fff)",
            Rendition::Print => "#fff",
        };
        let _ = writeln!(
            self.body,
            "<rect x=\"{:.2}\" y=\"{:.2}\" width=\"{:.2}\" height=\"{:.2}\" fill=\"{paper}\"/>",
            clean(at.0 - 7.0),
            clean(at.1 - 0.9 * lettering.size),
            clean(width_of(text, lettering.size) + 14.0),
            1.2 * lettering.size
        );
        self.text(at, text, lettering);
    }

    /// Words over a line: a rim in the colour of the paper keeps them readable.
    pub(super) fn text_over(&mut self, at: (f64, f64), text: &str, lettering: Lettering) {
        let paper = match self.rendition {
            Rendition::Screen => "var(--paper, #fff)",
            Rendition::Print => "#fff",
        };
        let _ = write!(
            self.body,
            "<g paint-order=\"stroke\" stroke=\"{paper}\" stroke-width=\"4\" stroke-linejoin=\"round\">"
        );
        self.text(at, text, lettering);
        self.body.push_str("</g>");
    }

    fn stroked(&mut self, stroke: Stroke) {
        let paint = stroke.ink.paint(self.rendition);
        let _ = write!(self.body, " stroke=\"{paint}\" stroke-width=\"{}\"", stroke.width);
        if let Some(dash) = stroke.dash {
            let _ = write!(self.body, " stroke-dasharray=\"{dash}\"");
        }
    }

    /// The finished SVG with its title and description.
    pub(super) fn finish(self, title: &str, description: &str) -> String {
        let (width, height, id) = (self.width, self.height, &self.id);
        let background = match self.rendition {
            Rendition::Screen => String::new(),
            Rendition::Print => format!("<rect width=\"{width}\" height=\"{height}\" fill=\"#fff\"/>\n"),
        };
        let ink = match self.rendition {
            Rendition::Screen => "currentColor",
            Rendition::Print => "#000",
        };
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {width} {height}\" width=\"{width}\" height=\"{height}\" \
             role=\"img\" aria-labelledby=\"{id}-title {id}-description\" font-family=\"{FAMILY}\" font-variant-numeric=\"tabular-nums\" \
             color=\"{ink}\">\n<title id=\"{id}-title\">{}</title>\n<desc id=\"{id}-description\">{}</desc>\n{background}{}</svg>\n",
            Markup(title),
            Markup(description),
            self.body,
        )
    }
}

fn corners(offsets: &[(f64, f64)], x: f64, y: f64) -> String {
    let mut data = String::new();
    for (dx, dy) in offsets {
        let command = if data.is_empty() { 'M' } else { 'L' };
        let _ = write!(data, "{command}{:.2} {:.2}", clean(x + dx), clean(y + dy));
    }
    data.push('Z');
    data
}

fn crossed(x: f64, y: f64) -> String {
    let (x, y) = (clean(x), clean(y));
    format!(
        "M{:.2} {:.2}L{:.2} {:.2}M{:.2} {:.2}L{:.2} {:.2}",
        x - 4.5,
        y - 4.5,
        x + 4.5,
        y + 4.5,
        x - 4.5,
        y + 4.5,
        x + 4.5,
        y - 4.5
    )
}

/// A coordinate that can be written: no number becomes a place far outside, minus nought becomes nought.
fn clean(coordinate: f64) -> f64 {
    if coordinate.is_finite() { coordinate.clamp(-1e5, 1e5) + 0.0 } else { -1e5 }
}

/// About how wide words are, px: enough to keep labels apart.
pub(super) fn width_of(text: &str, size: f64) -> f64 {
    text.chars()
        .map(|c| match c {
            'i' | 'l' | 'j' | '.' | ',' | '\'' | ' ' | '|' => 0.3,
            'm' | 'w' | 'M' | 'W' | '%' => 0.86,
            c if c.is_uppercase() => 0.66,
            c if c.is_ascii_digit() => 0.6,
            _ => 0.55,
        })
        .sum::<f64>()
        * size
}
