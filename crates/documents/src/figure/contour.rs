//! A reading over three parts of a mixture, or over two axes: lines of equal height labelled with their numbers, the region they hold in, the
//! runs with what was read of them, the best blend.
//!
//! In the triangle a part grows from the side across to its own corner; its numbers stand where its lines leave the triangle. Shading only
//! follows the numbers on the lines: darker is more.

use super::axis::{Axis, figure, rounded};
use super::canvas::{Canvas, Hold, Ink, Lettering, Shape, Stroke, TEXT_SIZE, width_of};
use super::places::{Area, Places};
use super::plot::{Frame, Plot};
use super::{Rendition, Span, Table};
use levigate_measure::contour::{Mesh, Point, levels};
use std::fmt::Write as _;

/// An axis: of the triangle from the side across to the corner.
#[derive(Clone, Debug, PartialEq)]
pub struct ContourAxis {
    /// Name.
    pub name: String,
    /// Unit.
    pub unit: String,
    /// Number at the lower end.
    pub low: f64,
    /// Number at the upper end.
    pub high: f64,
}

/// A run.
#[derive(Clone, Debug, PartialEq)]
pub struct ContourMark {
    /// Its place.
    pub at: Point,
    /// What stands beside it; may be empty.
    pub words: String,
}

/// The figure. With three axes the plane is the triangle of unit side, with two the square.
#[derive(Clone, Debug, PartialEq)]
pub struct ContourFigure {
    /// Name that is unique on the page.
    pub id: String,
    /// What it shows.
    pub title: String,
    /// What the heights are.
    pub name: String,
    /// Their unit.
    pub unit: String,
    /// Axes: up, left and right, or across and up.
    pub axes: Vec<ContourAxis>,
    /// The region.
    pub outline: Vec<Point>,
    /// The region in triangles.
    pub mesh: Mesh,
    /// Height at every point of the mesh; empty where only the region is shown.
    pub heights: Vec<f64>,
    /// Runs.
    pub marks: Vec<ContourMark>,
    /// The best blend.
    pub best: Option<Point>,
    /// Places of the rows of the table, in their order.
    pub points: Vec<Point>,
    /// Numbers at these places.
    pub table: Table,
}

const WIDTH: f64 = 700.0;
const HEIGHT: f64 = 610.0;
/// Where the triangle lies, px: left corner and length of a side.
const SIDE: f64 = 500.0;
const LEFT: f64 = 100.0;
const TOP: f64 = 84.0;
const HIGH: f64 = 0.866_025_403_784_438_6;
const FRAME: Frame = Frame { left: 74.0, top: 58.0, right: 660.0, bottom: 520.0 };
/// Lines about so many.
const WANTED: f64 = 7.0;
/// Shade of the highest band.
const DARKEST: f64 = 0.34;

impl ContourFigure {
    /// The figure as SVG.
    #[must_use]
    pub fn svg(&self, rendition: Rendition) -> String {
        if self.axes.len() == 3 { self.triangle(rendition) } else { self.square(rendition) }
    }

    fn triangle(&self, rendition: Rendition) -> String {
        let mut canvas = Canvas::new(&self.id, WIDTH, HEIGHT, rendition);
        let at = |[x, y]: Point| (LEFT + x * SIDE, TOP + (HIGH - y) * SIDE);
        canvas.raw(&self.places(at));
        let corners = [at([0.5, HIGH]), at([0.0, 0.0]), at([1.0, 0.0])];
        let mut places =
            Places::new(Area { left: LEFT, top: TOP, right: LEFT + SIDE, bottom: TOP + HIGH * SIDE });
        self.shades(&mut canvas, at);
        self.grid(&mut canvas, &mut places, corners);
        self.drawn(&mut canvas, &mut places, at);
        let sides = [corners[0], corners[1], corners[2], corners[0]];
        canvas.path(sides, Stroke::plain(Ink::Soft, 1.25));
        let [top, left, right] = corners;
        let ends = [
            ((top.0, top.1 - 34.0), Hold::Middle),
            ((left.0 - 64.0, left.1 + 52.0), Hold::Start),
            ((right.0 + 64.0, right.1 + 52.0), Hold::End),
        ];
        for (axis, (place, hold)) in self.axes.iter().zip(ends) {
            canvas.text(place, &titled(axis), Lettering::strong(hold));
        }
        canvas.raw("</g>\n");
        canvas.finish(&self.title, &self.description())
    }

    fn square(&self, rendition: Rendition) -> String {
        let axis = |at: usize| {
            let axis = self.axes.get(at).cloned().unwrap_or_else(|| ContourAxis {
                name: String::new(),
                unit: String::new(),
                low: 0.0,
                high: 1.0,
            });
            Axis::linear(&axis.name, &axis.unit, Span::new(axis.low, axis.high))
        };
        let mut plot = Plot::new(&self.id, (WIDTH, HEIGHT), FRAME, axis(0), axis(1), rendition);
        let at = |[x, y]: Point| {
            (FRAME.left + x * (FRAME.right - FRAME.left), FRAME.bottom - y * (FRAME.bottom - FRAME.top))
        };
        plot.canvas.raw(&self.places(at));
        let area = Area { left: FRAME.left, top: FRAME.top, right: FRAME.right, bottom: FRAME.bottom };
        let mut places = Places::new(area);
        self.shades(&mut plot.canvas, at);
        plot.axes();
        self.drawn(&mut plot.canvas, &mut places, at);
        plot.canvas.raw("</g>\n");
        plot.finish(&self.title, &self.description())
    }

    /// Where the rows of the table lie, so that a page can find the one under a pointer.
    fn places(&self, at: impl Fn(Point) -> (f64, f64)) -> String {
        let mut text = "<g class=\"plane\" data-points=\"".to_owned();
        for (place, point) in self.points.iter().enumerate() {
            let (x, y) = at(*point);
            let _ = write!(text, "{}{x:.1} {y:.1}", if place == 0 { "" } else { ";" });
        }
        text.push_str("\">\n");
        text
    }

    fn levels(&self) -> Vec<f64> {
        let (low, high) = self.reach();
        levels(low, high, WANTED)
    }

    /// Least and most of the heights.
    fn reach(&self) -> (f64, f64) {
        let known = self.heights.iter().copied().filter(|height| height.is_finite());
        known.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), height| {
            (low.min(height), high.max(height))
        })
    }

    fn shades(&self, canvas: &mut Canvas, at: impl Fn(Point) -> (f64, f64)) {
        if self.heights.is_empty() {
            canvas.area(self.outline.iter().map(|point| at(*point)), Ink::Target, 1.0);
            return;
        }
        let (low, high) = self.reach();
        let mut ends = vec![low];
        ends.extend(self.levels().into_iter().filter(|level| *level > low && *level < high));
        ends.push(high);
        let bands = ends.len().saturating_sub(1).max(1) as f64;
        for (place, pair) in ends.windows(2).enumerate() {
            let pieces = self.mesh.band(&self.heights, pair[0], pair[1]);
            let opacity = DARKEST * (place as f64 + 0.3) / bands;
            let outlines: Vec<Vec<(f64, f64)>> =
                pieces.iter().map(|piece| piece.iter().map(|point| at(*point)).collect()).collect();
            canvas.areas(&outlines, Ink::Pen, (opacity * 1000.0).round() / 1000.0);
        }
    }

    /// Lines, outline, runs, labels.
    fn drawn(&self, canvas: &mut Canvas, places: &mut Places, at: impl Fn(Point) -> (f64, f64)) {
        let chosen = self.levels();
        let digits = digits_of(&chosen);
        let mut labels: Vec<(String, Vec<Area>)> = Vec::new();
        for level in &chosen {
            let mut longest: Vec<(f64, f64)> = Vec::new();
            for line in self.mesh.lines(&self.heights, *level) {
                let line: Vec<(f64, f64)> = line.into_iter().map(&at).collect();
                canvas.path(line.iter().copied(), Stroke::plain(Ink::Pen, 1.75));
                if reach_of(&line) > reach_of(&longest) {
                    longest = line;
                }
            }
            if reach_of(&longest) > 24.0 {
                let spots = [0.5, 0.35, 0.65, 0.22, 0.78, 0.12, 0.88];
                #[expect(
                    clippy::cast_possible_truncation,
                    clippy::cast_sign_loss,
                    reason = "places of a line"
                )]
                let spot = |share: f64| longest[((longest.len() - 1) as f64 * share) as usize];
                labels.push((
                    figure(*level, digits),
                    spots.map(|share| Area::around(spot(share), 1.0)).to_vec(),
                ));
            }
        }
        let closed: Vec<(f64, f64)> =
            self.outline.iter().chain(self.outline.first()).map(|point| at(*point)).collect();
        canvas.path(closed.iter().copied(), Stroke::plain(Ink::Main, 2.0));
        for mark in &self.marks {
            places.take(Area::around(at(mark.at), 7.0));
        }
        if let Some(best) = self.best {
            places.take(Area::around(at(best), 9.0));
        }
        for (text, spots) in labels {
            let place = on_line(places, &text, &spots);
            canvas.text_over(place, &text, Lettering::label(Hold::Middle));
        }
        for mark in &self.marks {
            let place = at(mark.at);
            canvas.shape(place, Shape::Ring, Ink::Main);
            if !mark.words.is_empty()
                && let Some(label) = places.beside(&mark.words, 0.0, &[Area::around(place, 6.0)])
            {
                canvas.text_over(label, &mark.words, Lettering::strong(Hold::Start));
            }
        }
        if let Some(best) = self.best {
            let place = at(best);
            canvas.shape(place, Shape::Diamond, Ink::Main);
            canvas.shape((place.0, place.1), Shape::Cross, Ink::Main);
            if let Some(label) = places.beside("best", 0.0, &[Area::around(place, 8.0)]) {
                canvas.text_over(label, "best", Lettering::strong(Hold::Start));
            }
        }
    }

    /// Lines of equal share of every part, and their numbers where they leave the triangle.
    fn grid(&self, canvas: &mut Canvas, places: &mut Places, corners: [(f64, f64); 3]) {
        let between = |from: (f64, f64), to: (f64, f64), share: f64| {
            (from.0 + share * (to.0 - from.0), from.1 + share * (to.1 - from.1))
        };
        for (own, axis) in self.axes.iter().enumerate() {
            let (to, near, far) = (corners[own], corners[(own + 1) % 3], corners[(own + 2) % 3]);
            let ticks = levels(axis.low, axis.high, 5.0);
            let digits = digits_of(&ticks);
            for tick in ticks {
                let share = (tick - axis.low) / (axis.high - axis.low);
                // Its numbers stand on the side that leads from the next corner to its own, so that each side has those of one part.
                let (start, end) = (between(near, to, share), between(far, to, share));
                if share > 0.001 && share < 0.999 {
                    canvas.line(start, end, Stroke { dash: Some("1 4"), ..Stroke::plain(Ink::Soft, 0.75) });
                }
                let away = (start.0 - end.0, start.1 - end.1);
                let wide = away.0.hypot(away.1).max(1.0);
                let unit = if share > 0.999 { outward(own) } else { (away.0 / wide, away.1 / wide) };
                canvas.line(
                    start,
                    (start.0 + 6.0 * unit.0, start.1 + 6.0 * unit.1),
                    Stroke::plain(Ink::Soft, 1.0),
                );
                let text = figure(tick, digits);
                let (hold, dx, dy) = match own {
                    0 => (Hold::End, -10.0, 0.34 * TEXT_SIZE),
                    1 => (Hold::Middle, 10.0, 8.0 + TEXT_SIZE),
                    _ => (Hold::Start, 8.0, -4.0),
                };
                let (x, y) = (start.0 + dx, start.1 + dy);
                canvas.text((x, y), &text, Lettering::soft(hold));
                let wide = width_of(&text, TEXT_SIZE);
                let left = match hold {
                    Hold::Start => x,
                    Hold::Middle => x - 0.5 * wide,
                    Hold::End => x - wide,
                };
                places.take(Area {
                    left: left - 2.0,
                    top: y - TEXT_SIZE,
                    right: left + wide + 2.0,
                    bottom: y + 3.0,
                });
            }
        }
    }

    /// The same in words, for those who hear it.
    #[must_use]
    pub fn description(&self) -> String {
        let names: Vec<&str> = self.axes.iter().map(|axis| axis.name.as_str()).collect();
        let mut words = format!("{} across {}.", self.name, names.join(", "));
        let (low, high) = self.reach();
        if low <= high {
            let unit = if self.unit.is_empty() { String::new() } else { format!(" {}", self.unit) };
            let _ =
                write!(words, " Within the region from {} to {}{unit}.", rounded(low, 3), rounded(high, 3));
        }
        let _ = write!(words, " {} runs lie here.", self.marks.len());
        words
    }
}

fn titled(axis: &ContourAxis) -> String {
    if axis.unit.is_empty() { axis.name.clone() } else { format!("{}, {}", axis.name, axis.unit) }
}

/// Which way a number at a corner stands out.
fn outward(own: usize) -> (f64, f64) {
    match own {
        0 => (-1.0, 0.0),
        1 => (0.5, HIGH),
        _ => (0.5, -HIGH),
    }
}

fn reach_of(line: &[(f64, f64)]) -> f64 {
    line.windows(2).map(|pair| (pair[1].0 - pair[0].0).hypot(pair[1].1 - pair[0].1)).sum()
}

/// Digits that tell round numbers apart.
fn digits_of(values: &[f64]) -> usize {
    let fits = |digits: &usize| {
        let scale = 10f64.powi(i32::try_from(*digits).unwrap_or(0));
        values.iter().all(|value| {
            ((value * scale).round() - value * scale).abs() < 1e-6 * (value * scale).abs().max(1.0)
        })
    };
    (0..7).find(fits).unwrap_or(7)
}

/// The middle of the base line for a number on its line: the first spot that is free.
fn on_line(places: &mut Places, text: &str, spots: &[Area]) -> (f64, f64) {
    let half = 0.5 * width_of(text, TEXT_SIZE) + 2.0;
    let area = |spot: &Area| {
        let (x, y) = (0.5 * (spot.left + spot.right), 0.5 * (spot.top + spot.bottom));
        Area { left: x - half, top: y - 0.6 * TEXT_SIZE, right: x + half, bottom: y + 0.6 * TEXT_SIZE }
    };
    let chosen = spots.iter().map(area).find(|area| places.free(*area)).or(spots.first().map(area));
    let Some(area) = chosen else { return (0.0, 0.0) };
    places.take(area);
    (0.5 * (area.left + area.right), area.top + 0.94 * TEXT_SIZE)
}

/// A reading along one part of two or one setting, with the limits of the mean and of the next batch.
#[derive(Clone, Debug, PartialEq)]
pub struct AlongFigure {
    /// Name that is unique on the page.
    pub id: String,
    /// What it shows.
    pub title: String,
    /// What is varied.
    pub axis: ContourAxis,
    /// What was read.
    pub name: String,
    /// Its unit.
    pub unit: String,
    /// Level, mean, and how far the limits of the mean and of the next batch lie from it.
    pub points: Vec<(f64, f64, [f64; 2])>,
    /// Runs: level and what was read.
    pub runs: Vec<(f64, f64)>,
}

impl AlongFigure {
    /// The figure as SVG.
    #[must_use]
    pub fn svg(&self, rendition: Rendition) -> String {
        let ends = self.points.iter().flat_map(|(_, mean, away)| {
            let away = if away[1].is_finite() { away[1] } else { 0.0 };
            [mean - away, mean + away]
        });
        let y = Axis::around(ends.chain(self.runs.iter().map(|run| run.1)));
        let x = Axis::linear(&self.axis.name, &self.axis.unit, Span::new(self.axis.low, self.axis.high));
        let y = Axis::linear(&self.name, &self.unit, y);
        let mut plot = Plot::new(&self.id, (WIDTH, 440.0), Frame { bottom: 370.0, ..FRAME }, x, y, rendition);
        plot.axes();
        let line: Vec<(f64, f64)> = self.points.iter().map(|(x, mean, _)| (*x, *mean)).collect();
        let band = |of: usize| -> Vec<(f64, f64, f64)> {
            let known = self.points.iter().filter(|point| point.2[of].is_finite());
            known.map(|(x, mean, away)| (*x, mean - away[of], mean + away[of])).collect()
        };
        plot.curve(&line, &band(1), Stroke { dash: Some("3 4"), ..Stroke::plain(Ink::Pen, 0.0) });
        plot.curve(&line, &band(0), Stroke::plain(Ink::Pen, 2.5));
        for (x, value) in &self.runs {
            let at = plot.at(*x, *value);
            plot.canvas.shape(at, Shape::Ring, Ink::Main);
        }
        plot.finish(
            &self.title,
            &format!("{} along {}; {} runs.", self.name, self.axis.name, self.runs.len()),
        )
    }
}
