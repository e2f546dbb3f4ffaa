//! An attribute over the months of a study: what was read by batch, the lines, the confidence limits of the batch that leaves first, and
//! the limits it must stay within. And the rates of a loss against temperature, laid along 1/T.

use super::axis::{Axis, figure, rounded, tabled};
use super::canvas::{Hold, Ink, Lettering, Shape, Stroke, TEXT_SIZE, width_of};
use super::places::{Area, Places};
use super::plot::{Frame, Plot};
use super::{Rendition, Span, Table};

/// What was read of a batch, and its line.
#[derive(Clone, Debug, PartialEq)]
pub struct TrendSeries {
    /// Name of the batch.
    pub name: String,
    /// Months and value, earliest first.
    pub points: Vec<(f64, f64)>,
    /// Its line as start and slope per month, where it has one.
    pub line: Option<(f64, f64)>,
}

/// A point of the line that leaves first, with its confidence limits.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TrendPoint {
    /// Months.
    pub months: f64,
    /// The line.
    pub value: f64,
    /// Lower confidence limit.
    pub low: f64,
    /// Upper confidence limit.
    pub high: f64,
}

/// The figure.
#[derive(Clone, Debug, PartialEq)]
pub struct TrendFigure {
    /// Name that is unique on the page.
    pub id: String,
    /// What it shows.
    pub title: String,
    /// Attribute.
    pub attribute: String,
    /// Unit of the values.
    pub unit: String,
    /// Batches.
    pub batches: Vec<TrendSeries>,
    /// The line that leaves first.
    pub band: Vec<TrendPoint>,
    /// Least that is within.
    pub lower: Option<f64>,
    /// Most that is within.
    pub upper: Option<f64>,
    /// When the confidence limit leaves, months.
    pub leaves: Option<f64>,
    /// What is wanted, months.
    pub wanted: Option<f64>,
}

const WIDTH: f64 = 760.0;
const HEIGHT: f64 = 440.0;
const FRAME: Frame = Frame { left: 68.0, top: 56.0, right: 738.0, bottom: 376.0 };
const SHAPES: [Shape; 4] = [Shape::Ring, Shape::Square, Shape::Triangle, Shape::Diamond];
const DASHES: [&str; 4] = ["7 4", "2 4", "9 3 2 3", "4 4"];

impl TrendFigure {
    /// The figure as SVG.
    #[must_use]
    pub fn svg(&self, rendition: Rendition) -> String {
        let x = Axis::linear("Time", "months", Axis::around(self.months()));
        let y = Axis::linear(&self.attribute, &self.unit, Axis::around(self.heights()));
        let mut plot = Plot::new(&self.id, (WIDTH, HEIGHT), FRAME, x, y, rendition);
        let open = |end: Option<f64>, other: f64| end.unwrap_or(other);
        if self.lower.is_some() || self.upper.is_some() {
            let (low, high) = (open(self.lower, plot.y.span.low), open(self.upper, plot.y.span.high));
            plot.band_across(Span::new(low, high));
        }
        plot.axes();
        let mut places =
            Places::new(Area { left: FRAME.left, top: FRAME.top, right: FRAME.right, bottom: FRAME.bottom });
        self.lines(&mut plot);
        for (at, batch) in self.batches.iter().enumerate() {
            for (months, value) in finite(&batch.points) {
                let at_point = plot.at(months, value);
                plot.canvas.shape(at_point, SHAPES[at % SHAPES.len()], Ink::Main);
                places.take(Area::around(at_point, 6.0));
            }
        }
        self.moments(&mut plot, &mut places);
        self.limits(&mut plot, &mut places);
        self.names(&mut plot);
        plot.finish(&self.title, &self.description())
    }

    fn lines(&self, plot: &mut Plot) {
        let band: Vec<&TrendPoint> = self.band.iter().filter(|point| point.value.is_finite()).collect();
        let points: Vec<(f64, f64)> = band.iter().map(|point| (point.months, point.value)).collect();
        let around: Vec<(f64, f64, f64)> =
            band.iter().map(|point| (point.months, point.low, point.high)).collect();
        let end = points.last().map_or(0.0, |point| point.0);
        let mut drawn: Vec<(f64, f64)> = Vec::new();
        for (at, batch) in self.batches.iter().enumerate() {
            let Some((start, slope)) = batch.line else { continue };
            // Batches that share a line have one drawn, with its confidence limits.
            let of_band = points.first().is_some_and(|first| close(first.1, start))
                && points.last().is_some_and(|last| close(last.1, start + slope * last.0));
            if of_band || drawn.iter().any(|line| close(line.0, start) && close(line.1, slope)) {
                continue;
            }
            drawn.push((start, slope));
            let dash = Some(DASHES[at % DASHES.len()]);
            plot.curve(
                &[(0.0, start), (end, start + slope * end)],
                &[],
                Stroke { dash, ..Stroke::plain(Ink::Soft, 1.5) },
            );
        }
        plot.curve(&points, &around, Stroke::plain(Ink::Pen, 2.5));
    }

    /// When the confidence limit leaves, and what is wanted, as lines upright.
    fn moments(&self, plot: &mut Plot, places: &mut Places) {
        for (moment, words, dash) in [(self.leaves, "limit reached", "2 4"), (self.wanted, "wanted", "7 4")] {
            let Some(months) = moment.filter(|months| *months <= plot.x.span.high && *months >= 0.0) else {
                continue;
            };
            let x = plot.at_x(months);
            let stroke = Stroke { dash: Some(dash), ..Stroke::plain(Ink::Main, 1.25) };
            plot.canvas.line((x, FRAME.top), (x, FRAME.bottom), stroke);
            let text = format!("{words}: {} months", figure(months, 1));
            let anchors = [0.92, 0.84, 0.06, 0.14]
                .map(|share| Area::around((x, FRAME.top + share * (FRAME.bottom - FRAME.top)), 4.0));
            if let Some(at) = places.beside(&text, 0.0, &anchors) {
                plot.canvas.text_over(at, &text, Lettering::strong(Hold::Start));
            }
        }
    }

    fn limits(&self, plot: &mut Plot, places: &mut Places) {
        for (limit, words) in [(self.lower, "least"), (self.upper, "most")] {
            let Some(limit) = limit.filter(|limit| *limit > plot.y.span.low && *limit < plot.y.span.high)
            else {
                continue;
            };
            let y = plot.at_y(limit);
            let text = format!("{words} {}", rounded(limit, 3));
            let anchors = [0.9, 0.02, 0.6]
                .map(|share| Area::around((FRAME.left + share * (FRAME.right - FRAME.left), y), 3.0));
            if let Some(at) = places.beside(&text, 0.0, &anchors) {
                plot.canvas.text_over(at, &text, Lettering::label(Hold::Start));
            }
        }
    }

    /// Which shape is which batch, above the frame.
    fn names(&self, plot: &mut Plot) {
        let mut x = FRAME.right;
        for (at, batch) in self.batches.iter().enumerate().rev() {
            let name: String = batch.name.chars().take(24).collect();
            x -= width_of(&name, TEXT_SIZE);
            if x < FRAME.left + 0.35 * (FRAME.right - FRAME.left) {
                break;
            }
            plot.canvas.text((x, FRAME.top - 12.0), &name, Lettering::label(Hold::Start));
            x -= 12.0;
            plot.canvas.shape((x, FRAME.top - 17.0), SHAPES[at % SHAPES.len()], Ink::Main);
            x -= 18.0;
        }
    }

    fn months(&self) -> impl Iterator<Item = f64> {
        let read = self.batches.iter().flat_map(|batch| finite(&batch.points)).map(|point| point.0);
        let wanted = self.wanted.filter(|wanted| *wanted <= 120.0);
        read.chain(self.band.iter().map(|point| point.months)).chain(wanted).chain([0.0])
    }

    fn heights(&self) -> impl Iterator<Item = f64> {
        let read = self.batches.iter().flat_map(|batch| finite(&batch.points)).map(|point| point.1);
        let band = self.band.iter().flat_map(|point| [point.low, point.high]);
        read.chain(band).chain(self.lower).chain(self.upper)
    }

    /// The same in words, for those who hear it.
    #[must_use]
    pub fn description(&self) -> String {
        let count: usize = self.batches.iter().map(|batch| batch.points.len()).sum();
        let mut words = format!("{count} readings of {} batches.", self.batches.len());
        for (limit, word) in [(self.lower, "least"), (self.upper, "most")] {
            if let Some(limit) = limit {
                words.push_str(&format!(" At {word} {} {}.", rounded(limit, 3), self.unit));
            }
        }
        match (self.band.is_empty(), self.leaves) {
            (true, _) => words.push_str(" No line is laid through them."),
            (false, Some(months)) => words.push_str(&format!(
                " The confidence limit leaves the limits after {} months.",
                figure(months, 1)
            )),
            (false, None) => words.push_str(" The confidence limit stays within the limits as far as drawn."),
        }
        words
    }

    /// The numbers, times ascending: what was read, and the line.
    #[must_use]
    pub fn table(&self) -> Table {
        let value = format!(
            "{}{}",
            self.attribute,
            if self.unit.is_empty() { String::new() } else { format!(", {}", self.unit) }
        );
        let mut table = Table::new(
            &self.title,
            &["Time, months", "Batch", &value, "Line", "Lower confidence limit", "Upper confidence limit"],
        );
        let mut rows: Vec<(f64, Vec<String>)> = Vec::new();
        for batch in &self.batches {
            for (months, value) in finite(&batch.points) {
                let read = [figure(months, 2), batch.name.clone(), rounded(value, 5)];
                rows.push((months, read.into_iter().chain(std::iter::repeat_n(String::new(), 3)).collect()));
            }
        }
        for point in &self.band {
            let line = [point.value, point.low, point.high].map(|value| rounded(value, 5));
            let row = [figure(point.months, 2), String::new(), String::new()].into_iter().chain(line);
            rows.push((point.months, row.collect()));
        }
        rows.sort_by(|one, other| one.0.total_cmp(&other.0));
        table.rows = rows.into_iter().map(|(_, row)| row).collect();
        table
    }
}

fn finite(points: &[(f64, f64)]) -> impl Iterator<Item = (f64, f64)> {
    points.iter().copied().filter(|(x, y)| x.is_finite() && y.is_finite())
}

fn close(one: f64, other: f64) -> bool {
    (one - other).abs() <= 1e-6 * one.abs().max(other.abs()).max(1e-6)
}

/// A rate at a temperature.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RateAt {
    /// Temperature, C.
    pub celsius: f64,
    /// Rate.
    pub rate: f64,
    /// Lower end.
    pub low: Option<f64>,
    /// Upper end.
    pub high: Option<f64>,
}

/// Rates of a loss along 1/T, with the law through them.
#[derive(Clone, Debug, PartialEq)]
pub struct RatesFigure {
    /// Name that is unique on the page.
    pub id: String,
    /// What it shows.
    pub title: String,
    /// Unit of the rates.
    pub unit: String,
    /// Rates read at their temperatures.
    pub rates: Vec<RateAt>,
    /// What the law says at temperatures of storage.
    pub stored: Vec<RateAt>,
    /// Activation energy, kJ/mol, and a rate the law goes through.
    pub law: Option<(f64, RateAt)>,
}

/// Gas constant, kJ/(mol K), the exact product of the constants of the SI.
const GAS_KJ: f64 = 8.314_462_618e-3;
const KELVIN: f64 = 273.15;

/// A temperature without noughts that say nothing.
fn degrees(celsius: f64) -> String {
    figure(celsius, usize::from(celsius.fract().abs() > 0.05))
}

fn inverse(celsius: f64) -> f64 {
    1000.0 / (celsius + KELVIN)
}

impl RatesFigure {
    /// The figure as SVG.
    #[must_use]
    pub fn svg(&self, rendition: Rendition) -> String {
        let x = Axis::linear("1000 / temperature", "1/K", self.across());
        let seen: Vec<f64> = self
            .shown()
            .flat_map(|rate| [Some(rate.rate), rate.low, rate.high])
            .flatten()
            .filter(|rate| *rate > 0.0 && rate.is_finite())
            .collect();
        let low = seen.iter().copied().fold(f64::INFINITY, f64::min);
        let high = seen.iter().copied().fold(0.0_f64, f64::max);
        let span = if low > high { Span::new(0.01, 1.0) } else { Span::new(low / 1.6, high * 1.6) };
        let y = Axis::logarithmic("Rate", &self.unit, span);
        let mut plot = Plot::new(&self.id, (WIDTH, HEIGHT), FRAME, x, y, rendition);
        plot.axes();
        let line = self.line();
        plot.curve(&line, &[], Stroke::plain(Ink::Pen, 2.5));
        let mut places =
            Places::new(Area { left: FRAME.left, top: FRAME.top, right: FRAME.right, bottom: FRAME.bottom });
        for (x, y) in &line {
            places.take(Area::around(plot.at(*x, *y), 3.0));
        }
        for (rates, shape, words) in
            [(&self.rates, Shape::Ring, ""), (&self.stored, Shape::Diamond, ", by the law")]
        {
            for rate in rates.iter().filter(|rate| rate.rate > 0.0 && rate.rate.is_finite()) {
                let across = inverse(rate.celsius);
                if let (Some(low), Some(high)) = (rate.low, rate.high)
                    && low > 0.0
                {
                    let (from, to) = (plot.at(across, low), plot.at(across, high));
                    plot.canvas.line(from, to, Stroke::plain(Ink::Soft, 1.5));
                    let (top, bottom) = (from.1.min(to.1), from.1.max(to.1));
                    places.take(Area { left: from.0 - 3.0, top, right: from.0 + 3.0, bottom });
                }
                let at = plot.at(across, rate.rate);
                plot.canvas.shape(at, shape, Ink::Main);
                places.take(Area::around(at, 6.0));
                let text = format!("{} \u{b0}C{words}", degrees(rate.celsius));
                if let Some(at) = places.beside(&text, 0.0, &[Area::around(at, 10.0)]) {
                    plot.canvas.text_over(at, &text, Lettering::label(Hold::Start));
                }
            }
        }
        plot.finish(&self.title, &self.description())
    }

    fn shown(&self) -> impl Iterator<Item = &RateAt> {
        self.rates.iter().chain(&self.stored)
    }

    fn across(&self) -> Span {
        let ends: Vec<f64> = self.shown().map(|rate| inverse(rate.celsius)).collect();
        let low = ends.iter().copied().fold(f64::INFINITY, f64::min);
        let high = ends.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        if low > high { Span::new(3.1, 3.6) } else { Span::new(low - 0.03, high + 0.03) }
    }

    /// The law from end to end: `k = k1 exp(-E/R (1/T - 1/T1))`.
    fn line(&self) -> Vec<(f64, f64)> {
        const STEPS: u32 = 40;
        let Some((energy, through)) = self.law else { return Vec::new() };
        let span = self.across();
        let at = |step: u32| {
            let x = span.low + (span.high - span.low) * f64::from(step) / f64::from(STEPS);
            let power = -energy / GAS_KJ * (x - inverse(through.celsius)) / 1000.0;
            (x, through.rate * power.exp())
        };
        (0..=STEPS).map(at).filter(|(_, rate)| rate.is_finite() && *rate > 0.0).collect()
    }

    /// The same in words, for those who hear it.
    #[must_use]
    pub fn description(&self) -> String {
        let said = |rate: &RateAt| format!("{} at {} \u{b0}C", tabled(rate.rate), degrees(rate.celsius));
        let read: Vec<String> = self.rates.iter().map(said).collect();
        let stored: Vec<String> = self.stored.iter().map(said).collect();
        let mut words = format!("Rates read, {}: {}.", self.unit, read.join(", "));
        if !stored.is_empty() {
            words.push_str(&format!(" By the law: {}.", stored.join(", ")));
        }
        words
    }

    /// The numbers.
    #[must_use]
    pub fn table(&self) -> Table {
        let rate = format!("Rate, {}", self.unit);
        let mut table = Table::new(
            &self.title,
            &["1000 / temperature, 1/K", "Temperature, \u{b0}C", &rate, "Low", "High", "From"],
        );
        for (rates, from) in [(&self.rates, "readings at this temperature"), (&self.stored, "the law")] {
            for rate in rates {
                let end = |end: Option<f64>| end.map(tabled).unwrap_or_default();
                table.rows.push(vec![
                    figure(inverse(rate.celsius), 4),
                    degrees(rate.celsius),
                    tabled(rate.rate),
                    end(rate.low),
                    end(rate.high),
                    from.to_owned(),
                ]);
            }
        }
        table
    }
}
