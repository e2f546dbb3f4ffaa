//! A flow curve, both axes logarithmic: what is predicted as a line with its band, what was measured as points with a mark for
//! each series, what is wanted as boxes at the shear rate it is wanted at, and under the axis the shear rates a product meets
//! in its life. A yield stress or a plateau is named only where the caller hands one over as settled.

use super::axis::{Axis, rounded, tabled};
use super::canvas::{Hold, Ink, Lettering, Shape, Stroke};
use super::life::{LANE, LaidSpan, lanes};
use super::places::{Area, Places};
use super::plot::{Frame, Plot};
use super::{Rendition, Span, Table};

/// One point of a curve.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FlowPoint {
    /// Shear rate, 1/s.
    pub shear_rate: f64,
    /// Viscosity there, Pa s.
    pub viscosity: f64,
    /// Lower end of its interval, Pa s.
    pub low: Option<f64>,
    /// Upper end of its interval, Pa s.
    pub high: Option<f64>,
}

/// A curve with its band.
#[derive(Clone, Debug, PartialEq)]
pub struct FlowCurve {
    /// Name (`predicted`).
    pub name: String,
    /// Points, shear rates ascending.
    pub points: Vec<FlowPoint>,
    /// Shear rates it rests on, 1/s; dashed outside them. `None`: all of it.
    pub evidence: Option<Span>,
}

/// One measured point.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FlowMeasured {
    /// Shear rate, 1/s.
    pub shear_rate: f64,
    /// Viscosity, Pa s.
    pub viscosity: f64,
    /// Marked as lying apart from the others; drawn as a cross.
    pub apart: bool,
}

/// Measured points of one trial.
#[derive(Clone, Debug, PartialEq)]
pub struct FlowSeries {
    /// Name (`trial 3, 28 d`).
    pub name: String,
    /// Points.
    pub points: Vec<FlowMeasured>,
}

/// Shear rates something in the life of the product works at.
#[derive(Clone, Debug, PartialEq)]
pub struct ShearSpan {
    /// Name (`spreading`).
    pub name: String,
    /// Shear rates, 1/s.
    pub shear_rate: Span,
}

/// A viscosity wanted at some shear rates.
#[derive(Clone, Debug, PartialEq)]
pub struct FlowTarget {
    /// Name (`brief`).
    pub name: String,
    /// Shear rates, 1/s; both ends the same for one shear rate.
    pub shear_rate: Span,
    /// Viscosity, Pa s.
    pub viscosity: Span,
}

/// What a curve settles beyond its points.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Settled {
    /// Yield stress, Pa.
    YieldStress(f64),
    /// Viscosity at rest, Pa s.
    AtRest(f64),
}

/// What stands upright.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Upright {
    /// Viscosity, mPa s.
    #[default]
    Viscosity,
    /// Stress, Pa.
    Stress,
}

/// The part of the figure that is looked at.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Scope {
    /// Shear rates, 1/s.
    pub shear_rate: Span,
    /// Ends of the upright axis in its unit; `None`: as the curves in it need.
    pub upright: Option<Span>,
}

/// The figure.
#[derive(Clone, Debug, PartialEq)]
pub struct FlowFigure {
    /// Name that is unique on the page.
    pub id: String,
    /// What it shows.
    pub title: String,
    /// What stands upright.
    pub upright: Upright,
    /// Curves.
    pub curves: Vec<FlowCurve>,
    /// Measured points.
    pub measured: Vec<FlowSeries>,
    /// The life of the product.
    pub life: Vec<ShearSpan>,
    /// What is wanted.
    pub targets: Vec<FlowTarget>,
    /// What is settled beyond the points.
    pub settled: Vec<Settled>,
    /// The part looked at; `None`: all that matters.
    pub scope: Option<Scope>,
}

const WIDTH: f64 = 760.0;
const FRAME: Frame = Frame { left: 68.0, top: 52.0, right: 738.0, bottom: 384.0 };
const SHAPES: [Shape; 4] = [Shape::Ring, Shape::Square, Shape::Triangle, Shape::Diamond];
/// Curves differ by their dashes too.
const DASHES: [Option<&str>; 3] = [None, Some("12 4 3 4"), Some("3 4")];
const BEYOND: &str = "5 6";
/// Shear rates an axis may reach, 1/s.
const WIDEST: Span = Span { low: 1e-8, high: 1e8 };

impl Upright {
    fn of(self, shear_rate: f64, viscosity: f64) -> f64 {
        match self {
            Self::Viscosity => 1e3 * viscosity,
            Self::Stress => viscosity * shear_rate,
        }
    }

    fn name(self) -> &'static str {
        match self {
            Self::Viscosity => "Viscosity",
            Self::Stress => "Stress",
        }
    }

    fn unit(self) -> &'static str {
        match self {
            Self::Viscosity => "mPa\u{b7}s",
            Self::Stress => "Pa",
        }
    }
}

impl FlowCurve {
    /// Viscosity at a shear rate between the points, Pa s.
    #[must_use]
    pub fn at(&self, shear_rate: f64) -> Option<f64> {
        let pair = self
            .points
            .windows(2)
            .find(|pair| pair[0].shear_rate <= shear_rate && shear_rate <= pair[1].shear_rate)?;
        let width = (pair[1].shear_rate / pair[0].shear_rate).ln();
        let part = if width > 0.0 { (shear_rate / pair[0].shear_rate).ln() / width } else { 0.0 };
        let ln = (1.0 - part) * pair[0].viscosity.ln() + part * pair[1].viscosity.ln();
        Some(ln.exp()).filter(|viscosity| viscosity.is_finite())
    }

    /// The points inside (or outside, below or above) some shear rates, its ends read between points.
    fn piece(&self, span: Span) -> Vec<(f64, f64)> {
        let end = |rate: f64| self.at(rate).map(|viscosity| (rate, viscosity));
        let inside = self
            .points
            .iter()
            .filter(|point| point.shear_rate > span.low && point.shear_rate < span.high)
            .map(|point| (point.shear_rate, point.viscosity));
        end(span.low).into_iter().chain(inside).chain(end(span.high)).collect()
    }
}

impl FlowFigure {
    /// The figure as SVG.
    #[must_use]
    pub fn svg(&self, rendition: Rendition) -> String {
        let (x, y) = self.axes();
        let laid = lanes(&self.life, &x, (FRAME.left, FRAME.right));
        let rows = laid.iter().map(|span| span.lane + 1).max().unwrap_or(0);
        let height = FRAME.bottom + 62.0 + if rows > 0 { 10.0 + LANE * rows as f64 } else { 0.0 };
        let mut plot = Plot::new(&self.id, (WIDTH, height), FRAME, x, y, rendition);
        let mut places =
            Places::new(Area { left: FRAME.left, top: FRAME.top, right: FRAME.right, bottom: FRAME.bottom });
        let boxes: Vec<(Area, &FlowTarget)> = self
            .targets
            .iter()
            .filter_map(|target| Some((self.target(&mut plot, target)?, target)))
            .collect();
        plot.axes();
        for &(area, _) in &boxes {
            plot.canvas.outline((area.left, area.top), (area.right - area.left, area.bottom - area.top));
            places.take(area);
        }
        for (curve, dash) in self.curves.iter().zip(DASHES.into_iter().cycle()) {
            self.curve(&mut plot, &mut places, curve, dash);
        }
        self.points(&mut plot, &mut places);
        for &(area, target) in &boxes {
            let text = self.wanted(target);
            if let Some((at, leader)) = places.led_to(&text, 0.0, &[area]) {
                if leader.length() > 10.0 {
                    plot.canvas.line(leader.from, leader.to, Stroke::plain(Ink::Soft, 1.0));
                }
                plot.canvas.text_over(at, &text, Lettering::strong(Hold::Start));
            }
        }
        for &settled in &self.settled {
            self.settle(&mut plot, &mut places, settled);
        }
        for (curve, dash) in self.curves.iter().zip(DASHES.into_iter().cycle()) {
            self.name_curve(&mut plot, &mut places, curve, dash);
        }
        self.life(&mut plot, &laid);
        plot.finish(&self.title, &self.description())
    }

    fn life(&self, plot: &mut Plot, laid: &[LaidSpan]) {
        if laid.is_empty() {
            return;
        }
        let top = FRAME.bottom + 62.0;
        plot.canvas.text(
            (FRAME.left, FRAME.bottom + 47.5),
            "Shear in the life of the product",
            Lettering::soft(Hold::Start),
        );
        for span in laid {
            span.draw(&mut plot.canvas, top);
        }
    }

    /// A box at the shear rate it is wanted at; at one shear rate it is as wide as a mark.
    fn target(&self, plot: &mut Plot, target: &FlowTarget) -> Option<Area> {
        const LEAST: f64 = 18.0;
        let rates = [target.shear_rate.low, target.shear_rate.high];
        let wanted = [target.viscosity.low, target.viscosity.high];
        if !rates.into_iter().chain(wanted).all(|end| end > 0.0 && end.is_finite()) {
            return None;
        }
        // A stress box leans with the shear rate; its ends at the middle of it are what can be drawn as a box.
        let middle = (rates[0] * rates[1]).sqrt();
        let (left, right) = (plot.at_x(rates[0]), plot.at_x(rates[1]));
        let short = (0.5 * (LEAST - (right - left))).max(0.0);
        let (left, right) = ((left - short).max(FRAME.left), (right + short).min(FRAME.right));
        let top = plot.at_y(self.upright.of(middle, wanted[1])).max(FRAME.top);
        let bottom = plot.at_y(self.upright.of(middle, wanted[0])).min(FRAME.bottom);
        if left >= right || top > bottom {
            return None;
        }
        let area = Area { left, top, right, bottom: bottom.max(top + 2.0) };
        plot.canvas.rect(
            (area.left, area.top),
            (area.right - area.left, area.bottom - area.top),
            Ink::Target,
        );
        Some(area)
    }

    fn wanted(&self, target: &FlowTarget) -> String {
        let middle = (target.shear_rate.low * target.shear_rate.high).sqrt();
        let end = |viscosity: f64| {
            let text = rounded(self.upright.of(middle, viscosity), 3);
            if text.contains('.') {
                text.trim_end_matches('0').trim_end_matches('.').to_owned()
            } else {
                text
            }
        };
        format!(
            "{}: {} to {} {}",
            target.name,
            end(target.viscosity.low),
            end(target.viscosity.high),
            self.upright.unit()
        )
    }

    fn curve(&self, plot: &mut Plot, places: &mut Places, curve: &FlowCurve, dash: Option<&'static str>) {
        let of = |(rate, viscosity): (f64, f64)| (rate, self.upright.of(rate, viscosity));
        let around: Vec<(f64, f64, f64)> = curve
            .points
            .iter()
            .filter_map(|point| {
                let end = |viscosity| self.upright.of(point.shear_rate, viscosity);
                Some((point.shear_rate, end(point.low?), end(point.high?)))
            })
            .collect();
        let all = Span { low: 0.0, high: f64::INFINITY };
        let evidence = curve.evidence.filter(|span| span.is_finite()).unwrap_or(all);
        let inside: Vec<(f64, f64)> = curve.piece(evidence).into_iter().map(of).collect();
        plot.curve(&inside, &around, Stroke { dash, ..Stroke::plain(Ink::Pen, 2.5) });
        for beyond in
            [Span { low: 0.0, high: evidence.low }, Span { low: evidence.high, high: f64::INFINITY }]
        {
            let outside: Vec<(f64, f64)> = curve.piece(beyond).into_iter().map(of).collect();
            plot.curve(&outside, &[], Stroke { dash: Some(BEYOND), ..Stroke::plain(Ink::Pen, 1.75) });
        }
        // As close together as no label can slip between, whatever part is looked at.
        let Span { low, high } = plot.x.span;
        for step in 0..=90 {
            let rate = low * (high / low).powf(f64::from(step) / 90.0);
            let at = curve.at(rate).map(|viscosity| plot.at(rate, self.upright.of(rate, viscosity)));
            if let Some(at) = at.filter(|at| inside_frame(*at)) {
                places.take(Area::around(at, 5.0));
            }
        }
    }

    /// The name stands where the curve leaves room for it, the middle of what it rests on first.
    fn name_curve(
        &self,
        plot: &mut Plot,
        places: &mut Places,
        curve: &FlowCurve,
        dash: Option<&'static str>,
    ) {
        let evidence = curve.evidence.filter(|span| span.is_finite());
        let shown = evidence.and_then(|span| span.shared(plot.x.span)).unwrap_or(plot.x.span);
        let anchors: Vec<Area> = [0.5, 0.3, 0.7, 0.15, 0.85, 0.02, 0.98]
            .into_iter()
            .filter_map(|share| {
                let rate = shown.low * (shown.high / shown.low).powf(share);
                let at = plot.at(rate, self.upright.of(rate, curve.at(rate)?));
                inside_frame(at).then(|| Area::around(at, 8.0))
            })
            .collect();
        let sample = if self.curves.len() > 1 { 34.0 } else { 0.0 };
        if let Some((x, y)) = places.beside(&curve.name, sample, &anchors) {
            if sample > 0.0 {
                let stroke = Stroke { dash, ..Stroke::plain(Ink::Pen, 2.5) };
                plot.canvas.line((x, y - 5.0), (x + sample - 6.0, y - 5.0), stroke);
            }
            plot.canvas.text_over((x + sample, y), &curve.name, Lettering::strong(Hold::Start));
        }
    }

    /// All marks first, so that no name lies on one of them.
    fn points(&self, plot: &mut Plot, places: &mut Places) {
        let mut named = Vec::new();
        for (series, shape) in self.measured.iter().zip(SHAPES.into_iter().cycle()) {
            let mut anchors = Vec::new();
            for point in &series.points {
                let at = plot.at(point.shear_rate, self.upright.of(point.shear_rate, point.viscosity));
                if !(point.viscosity > 0.0 && point.shear_rate > 0.0 && inside_frame(at)) {
                    continue;
                }
                plot.canvas.shape(at, if point.apart { Shape::Cross } else { shape }, Ink::Main);
                places.take(Area::around(at, 7.0));
                anchors.push(Area::around(at, 8.0));
            }
            named.push((series, anchors));
        }
        for (series, anchors) in named {
            let middle = anchors.len() / 2;
            let order = [0, anchors.len().saturating_sub(1), middle, middle / 2, middle + middle / 2];
            let anchors: Vec<Area> = order.into_iter().filter_map(|at| anchors.get(at).copied()).collect();
            if let Some((at, leader)) = places.led_to(&series.name, 0.0, &anchors) {
                plot.canvas.line(leader.from, leader.to, Stroke::plain(Ink::Soft, 1.0));
                plot.canvas.text_over(at, &series.name, Lettering::label(Hold::Start));
            }
        }
    }

    /// The line the curve leans on, and what it is called.
    fn settle(&self, plot: &mut Plot, places: &mut Places, settled: Settled) {
        let span = plot.x.span;
        let level = |rate: f64| match (settled, self.upright) {
            (Settled::YieldStress(pa), upright) => upright.of(rate, pa / rate),
            (Settled::AtRest(pa_s), upright) => upright.of(rate, pa_s),
        };
        // As far as the curve keeps to it within a factor of two; a third of the axis where there is no curve.
        let steps: Vec<f64> =
            (0..=60).map(|step| span.low * (span.high / span.low).powf(f64::from(step) / 60.0)).collect();
        let near = |rate: f64| match self.curves.first().and_then(|curve| curve.at(rate)) {
            Some(viscosity) => (self.upright.of(rate, viscosity) / level(rate)).ln().abs() < 0.7,
            None => rate <= span.low * (span.high / span.low).cbrt(),
        };
        let along: Vec<(f64, f64)> = steps
            .into_iter()
            .skip_while(|rate| !near(*rate))
            .take_while(|rate| near(*rate))
            .map(|rate| plot.at(rate, level(rate)))
            .filter(|at| inside_frame(*at))
            .collect();
        let Some(&last) = along.last() else { return };
        plot.canvas
            .path(along.iter().copied(), Stroke { dash: Some("2 4"), ..Stroke::plain(Ink::Main, 1.5) });
        let anchors = [last, along[along.len() / 2], along[0]].map(|at| Area::around(at, 9.0));
        let text = settled.words();
        if let Some(at) = places.beside(&text, 0.0, &anchors) {
            plot.canvas.text_over(at, &text, Lettering::label(Hold::Start));
        }
    }

    fn axes(&self) -> (Axis, Axis) {
        let rates = self.scope.map_or_else(|| self.rates(), |scope| drawable(scope.shear_rate));
        let upright = self.scope.and_then(|scope| scope.upright).map(drawable);
        let upright = upright.unwrap_or_else(|| self.heights(rates));
        (
            Axis::logarithmic("Shear rate", "1/s", rates),
            Axis::logarithmic(self.upright.name(), self.upright.unit(), upright),
        )
    }

    /// Shear rates worth showing: where something was measured, is wanted, is met in use or is known.
    fn rates(&self) -> Span {
        let ends = self
            .measured
            .iter()
            .flat_map(|series| series.points.iter().map(|point| point.shear_rate))
            .chain(self.life.iter().flat_map(|span| [span.shear_rate.low, span.shear_rate.high]))
            .chain(self.targets.iter().flat_map(|target| [target.shear_rate.low, target.shear_rate.high]))
            .chain(
                self.curves.iter().filter_map(|curve| curve.evidence).flat_map(|span| [span.low, span.high]),
            );
        let curves =
            || self.curves.iter().flat_map(|curve| curve.points.iter().map(|point| point.shear_rate));
        decades(ends, 2.0).or_else(|| decades(curves(), 2.0)).map_or(
            Span { low: 0.01, high: 1000.0 },
            |span| Span { low: span.low.max(WIDEST.low), high: span.high.min(WIDEST.high) },
        )
    }

    fn heights(&self, rates: Span) -> Span {
        let shown = |rate: f64| rate >= rates.low * (1.0 - 1e-9) && rate <= rates.high * (1.0 + 1e-9);
        let curves = self.curves.iter().flat_map(|curve| {
            let ends = [rates.low, rates.high].into_iter().filter_map(|rate| Some((rate, curve.at(rate)?)));
            let points = curve.points.iter().flat_map(|point| {
                [Some(point.viscosity), point.low, point.high]
                    .into_iter()
                    .flatten()
                    .map(|viscosity| (point.shear_rate, viscosity))
            });
            ends.chain(points)
        });
        let measured = self
            .measured
            .iter()
            .flat_map(|series| series.points.iter().map(|point| (point.shear_rate, point.viscosity)));
        let wanted = self.targets.iter().flat_map(|target| {
            let rate = (target.shear_rate.low * target.shear_rate.high).sqrt();
            [(rate, target.viscosity.low), (rate, target.viscosity.high)]
        });
        let all = curves
            .chain(measured)
            .chain(wanted)
            .filter(|(rate, _)| shown(*rate))
            .map(|(rate, viscosity)| self.upright.of(rate, viscosity));
        // A yield stress makes the viscosity at rest endless: what is above the eighth decade runs out of the frame.
        let span = decades(all, 2.0).unwrap_or(Span { low: 1.0, high: 1000.0 });
        let low = span.low.max(1e-9);
        Span { low, high: span.high.min(1e8 * low) }
    }

    /// The same in words, for those who hear it.
    #[must_use]
    pub fn description(&self) -> String {
        let mut words = String::new();
        let reading = |rate: f64, viscosity: f64| {
            let value = rounded(self.upright.of(rate, viscosity), 3);
            format!("{value} {} at {} 1/s", self.upright.unit(), rounded(rate, 3))
        };
        for curve in &self.curves {
            let span = curve.evidence.unwrap_or_else(|| self.rates());
            let ends = curve.piece(span);
            if let (Some(first), Some(last)) = (ends.first(), ends.last()) {
                let (name, from, to) = (&curve.name, reading(first.0, first.1), reading(last.0, last.1));
                words.push_str(&format!(
                    "{name}: {} from {from} to {to}. ",
                    self.upright.name().to_lowercase()
                ));
            }
        }
        for settled in &self.settled {
            words.push_str(&format!("{}. ", settled.words()));
        }
        for series in &self.measured {
            let apart = series.points.iter().filter(|point| point.apart).count();
            words.push_str(&format!("{}: {} points measured", series.name, series.points.len()));
            words.push_str(&if apart > 0 { format!(", {apart} of them apart. ") } else { ". ".to_owned() });
        }
        for target in &self.targets {
            words.push_str(&format!("Wanted, {}. ", self.wanted(target)));
        }
        for span in &self.life {
            let (low, high) = (rounded(span.shear_rate.low, 2), rounded(span.shear_rate.high, 2));
            words.push_str(&format!("{}: {low} to {high} 1/s. ", span.name));
        }
        words.trim_end().to_owned()
    }

    /// The numbers, whole whatever part is looked at: a row for every shear rate of any curve or series.
    #[must_use]
    pub fn table(&self) -> Table {
        let unit = self.upright.unit();
        let mut head = vec!["Shear rate, 1/s".to_owned()];
        for curve in &self.curves {
            head.extend([format!("{}, {unit}", curve.name), "from".to_owned(), "to".to_owned()]);
        }
        head.extend(self.measured.iter().map(|series| format!("{}, {unit}", series.name)));
        let mut table = Table { caption: self.title.clone(), head, rows: Vec::new() };
        let columns = table.head.len();
        let mut rows: Vec<(f64, Vec<String>)> = Vec::new();
        let mut put = |rate: f64, at: usize, cells: &[Option<f64>]| {
            if !(rate.is_finite() && rate > 0.0) {
                return;
            }
            let mut row = vec![String::new(); columns];
            row[0] = tabled(rate);
            for (place, value) in row[at..].iter_mut().zip(cells) {
                let shown = value.map(|viscosity| self.upright.of(rate, viscosity));
                *place = shown.filter(|value| value.is_finite()).map_or_else(String::new, tabled);
            }
            rows.push((rate, row));
        };
        for (at, curve) in self.curves.iter().enumerate() {
            for point in &curve.points {
                put(point.shear_rate, 1 + 3 * at, &[Some(point.viscosity), point.low, point.high]);
            }
        }
        for (at, series) in self.measured.iter().enumerate() {
            for point in &series.points {
                put(point.shear_rate, 1 + 3 * self.curves.len() + at, &[Some(point.viscosity)]);
            }
        }
        rows.sort_by(|a, b| a.0.total_cmp(&b.0));
        table.rows = rows.into_iter().map(|(_, row)| row).collect();
        table
    }
}

impl Settled {
    fn words(self) -> String {
        match self {
            Self::YieldStress(pa) => format!("yield stress {} Pa", rounded(pa, 2)),
            Self::AtRest(pa_s) if pa_s < 10.0 => format!("at rest {} mPa\u{b7}s", rounded(1e3 * pa_s, 2)),
            Self::AtRest(pa_s) => format!("at rest {} Pa\u{b7}s", rounded(pa_s, 2)),
        }
    }
}

fn inside_frame((x, y): (f64, f64)) -> bool {
    (FRAME.left - 0.5..=FRAME.right + 0.5).contains(&x) && (FRAME.top - 0.5..=FRAME.bottom + 0.5).contains(&y)
}

/// A range a logarithmic axis can show: ordered, above zero, at least a factor of 1.5 wide.
fn drawable(span: Span) -> Span {
    let end =
        |end: f64, instead: f64| if end.is_finite() && end > 0.0 { end.clamp(1e-9, 1e12) } else { instead };
    let low = end(span.low.min(span.high), 1e-3).min(5e11);
    Span { low, high: end(span.low.max(span.high), 1e3).max(1.5 * low) }
}

/// Whole decades around some numbers, at least so many; `None` without a number above zero.
fn decades(values: impl Iterator<Item = f64>, least: f64) -> Option<Span> {
    let (low, high) = values
        .filter(|value| value.is_finite() && *value > 1e-12 && *value < 1e14)
        .fold((f64::INFINITY, 0.0_f64), |(low, high), value| (low.min(value), high.max(value)));
    if low > high {
        return None;
    }
    let (mut first, mut last) = ((low.log10() + 1e-9).floor(), (high.log10() - 1e-9).ceil());
    while last - first < least {
        first -= 1.0;
        last += if last - first < least { 1.0 } else { 0.0 };
    }
    Some(Span { low: 10f64.powf(first), high: 10f64.powf(last) })
}
