//! Axes: from data to pixels, and the ticks a person would have chosen.

use super::Span;

/// How an axis runs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Scale {
    /// Equal steps are equal lengths.
    Linear,
    /// Equal factors are equal lengths; only above zero.
    Logarithmic,
}

/// An axis with its name and unit.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Axis {
    /// Name (`pH`, `Citric acid`).
    pub(super) name: String,
    /// Unit, empty for a pure number.
    pub(super) unit: String,
    /// Range shown.
    pub(super) span: Span,
    /// How it runs.
    pub(super) scale: Scale,
}

/// A tick with its label.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Tick {
    pub(super) value: f64,
    /// Figures, or the exponent of ten where so many noughts cannot be counted at a glance.
    pub(super) label: Figures,
}

/// A number beside an axis.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Figures {
    /// As it is written.
    Plain(String),
    /// A power of ten.
    Power(i32),
}

impl Axis {
    /// A linear axis.
    #[must_use]
    pub(super) fn linear(name: &str, unit: &str, span: Span) -> Self {
        Self { name: name.to_owned(), unit: unit.to_owned(), span: drawable(span), scale: Scale::Linear }
    }

    /// A logarithmic axis; a range that touches zero or below is moved up to six decades under its upper end.
    #[must_use]
    pub(super) fn logarithmic(name: &str, unit: &str, span: Span) -> Self {
        let span = drawable(span);
        let high = if span.high > 0.0 { span.high } else { 1.0 };
        let low = if span.low > 0.0 { span.low } else { high * 1e-6 };
        Self {
            name: name.to_owned(),
            unit: unit.to_owned(),
            span: Span { low, high },
            scale: Scale::Logarithmic,
        }
    }

    /// The range a linear axis should show for these numbers: from tick to tick, never empty.
    #[must_use]
    pub(super) fn around(values: impl IntoIterator<Item = f64>) -> Span {
        let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
        for value in values.into_iter().filter(|value| value.is_finite() && value.abs() < 1e12) {
            low = low.min(value);
            high = high.max(value);
        }
        if low > high {
            return Span { low: 0.0, high: 1.0 };
        }
        if high - low < 1e-9 * high.abs().max(1e-9) {
            let half = (0.1 * high.abs()).max(0.5);
            (low, high) = (low - half, high + half);
        }
        let step = step(high - low, 6.0);
        Span { low: (low / step).floor() * step, high: (high / step).ceil() * step }
    }

    /// Position from 0 (lower end) to 1; outside values lie outside.
    pub(super) fn position(&self, value: f64) -> f64 {
        let Span { low, high } = self.span;
        let (value, low, high) = match self.scale {
            Scale::Linear => (value, low, high),
            Scale::Logarithmic => (value.max(low * 1e-9).log10(), low.log10(), high.log10()),
        };
        let width = high - low;
        if width.abs() > 0.0 && width.is_finite() { (value - low) / width } else { 0.0 }
    }

    /// Ticks inside the range, about as many as wanted.
    pub(super) fn ticks(&self, wanted: f64) -> Vec<Tick> {
        match self.scale {
            Scale::Linear => linear_ticks(self.span, wanted),
            Scale::Logarithmic => decade_ticks(self.span),
        }
    }

    /// Name with unit, as written along the axis.
    pub(super) fn title(&self) -> String {
        if self.unit.is_empty() { self.name.clone() } else { format!("{}, {}", self.name, self.unit) }
    }
}

/// A range that can be drawn: ordered, finite, not empty.
fn drawable(span: Span) -> Span {
    let fits = |end: f64| end.is_finite() && end.abs() <= 1e12;
    let enough = span.high - span.low > 1e-12 * span.high.abs().max(span.low.abs()).max(1e-9);
    if fits(span.low) && fits(span.high) && enough { span } else { Span { low: 0.0, high: 1.0 } }
}

/// The nearest of 1, 2 and 5 times a power of ten.
fn step(width: f64, wanted: f64) -> f64 {
    let rough = width / wanted.max(1.0);
    if !(rough > 0.0 && rough.is_finite()) {
        return 1.0;
    }
    let decade = 10f64.powf(rough.log10().floor());
    let factor = match rough / decade {
        f if f < 1.5 => 1.0,
        f if f < 3.5 => 2.0,
        f if f < 7.5 => 5.0,
        _ => 10.0,
    };
    factor * decade
}

fn linear_ticks(span: Span, wanted: f64) -> Vec<Tick> {
    const MOST: usize = 60;
    let step = step(span.high - span.low, wanted);
    let digits = usize::try_from((-step.log10().floor()).clamp(0.0, 9.0) as i64).unwrap_or(0);
    let first = (span.low / step - 1e-9).ceil();
    let last = (span.high / step + 1e-9).floor();
    let count = (last - first).clamp(-1.0, MOST as f64) as i64;
    (0..=count)
        .map(|at| {
            let value = (first + at as f64) * step;
            Tick { value, label: Figures::Plain(figure(value, digits)) }
        })
        .collect()
}

/// Decades whose noughts are written out.
const WRITTEN_OUT: std::ops::RangeInclusive<i32> = -3..=4;

fn decade_ticks(span: Span) -> Vec<Tick> {
    // Within less than a decade the ticks of a linear axis are the ones a person looks for.
    if span.high < 9.0 * span.low {
        return linear_ticks(span, 5.0);
    }
    let (first, last) = (span.low.log10().floor() as i32, span.high.log10().ceil() as i32);
    let few = last - first <= 3;
    let mut ticks = Vec::new();
    for decade in first..=last.min(first + 40) {
        for factor in if few { [1.0, 2.0, 5.0].as_slice() } else { [1.0].as_slice() } {
            let value = factor * 10f64.powi(decade);
            if value >= span.low * (1.0 - 1e-9) && value <= span.high * (1.0 + 1e-9) {
                let digits = usize::try_from((-decade).clamp(0, 9)).unwrap_or(0);
                let label = if few || WRITTEN_OUT.contains(&decade) {
                    Figures::Plain(figure(value, digits))
                } else {
                    Figures::Power(decade)
                };
                ticks.push(Tick { value, label });
            }
        }
    }
    ticks
}

/// A number with fixed digits and a true minus sign.
pub(super) fn figure(value: f64, digits: usize) -> String {
    if !value.is_finite() {
        return "\u{2013}".to_owned();
    }
    let text = if value.abs() < 1e9 { format!("{value:.digits$}") } else { format!("{value:.2e}") };
    match text.strip_prefix('-') {
        Some(rest) if rest.chars().all(|c| c == '0' || c == '.') => rest.to_owned(),
        Some(rest) => format!("\u{2212}{rest}"),
        None => text,
    }
}

/// A number with so many significant figures and noughts after them.
pub(super) fn rounded(value: f64, figures: i32) -> String {
    if value == 0.0 || !value.is_finite() {
        return significant(value, figures);
    }
    if !(1e-4..1e7).contains(&value.abs()) {
        return format!("{:.*e}", usize::try_from(figures - 1).unwrap_or(0), value);
    }
    let unit = 10f64.powi(value.abs().log10().floor() as i32 + 1 - figures);
    significant((value / unit).round() * unit, figures)
}

/// A number for a table: three significant figures, as a power of ten where it is very small or large.
pub(super) fn tabled(value: f64) -> String {
    if value != 0.0 && value.is_finite() && !(1e-3..1e6).contains(&value.abs()) {
        format!("{value:.2e}")
    } else {
        rounded(value, 3)
    }
}

/// A number with about so many significant figures.
pub(super) fn significant(value: f64, figures: i32) -> String {
    if value == 0.0 || !value.is_finite() {
        return "0".to_owned();
    }
    let magnitude = value.abs().log10().floor() as i32;
    figure(value, usize::try_from((figures - 1 - magnitude).clamp(0, 9)).unwrap_or(0))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn labels(axis: &Axis, wanted: f64) -> Vec<String> {
        let written = |label| match label {
            Figures::Plain(text) => text,
            Figures::Power(power) => format!("10^{power}"),
        };
        axis.ticks(wanted).into_iter().map(|tick| written(tick.label)).collect()
    }

    #[test]
    fn ticks_are_round_numbers() {
        let axis = Axis::linear("pH", "", Span::new(3.0, 7.0));
        assert_eq!(labels(&axis, 4.0), ["3", "4", "5", "6", "7"]);
        let axis = Axis::linear("Acid", "%", Span::new(0.0, 0.2));
        assert_eq!(labels(&axis, 4.0), ["0.00", "0.05", "0.10", "0.15", "0.20"]);
        let axis = Axis::linear("", "", Span::new(-1.0, 1.0));
        assert_eq!(labels(&axis, 2.0), ["\u{2212}1", "0", "1"]);
        let axis = Axis::logarithmic("Share", "%", Span::new(0.01, 100.0));
        assert_eq!(labels(&axis, 5.0), ["0.01", "0.1", "1", "10", "100"]);
        let axis = Axis::logarithmic("Shear rate", "1/s", Span::new(1e-5, 1e5));
        assert_eq!(labels(&axis, 5.0)[..3], ["10^-5", "10^-4", "0.001"]);
        assert_eq!(labels(&axis, 5.0).last().map(String::as_str), Some("10^5"));
        let axis = Axis::logarithmic("Shear rate", "1/s", Span::new(3.0, 5.0));
        assert_eq!(labels(&axis, 5.0), ["3.0", "3.5", "4.0", "4.5", "5.0"]);
    }

    #[test]
    fn an_empty_or_endless_range_still_has_an_axis() {
        assert_eq!(Axis::around([]), Span { low: 0.0, high: 1.0 });
        let one = Axis::around([5.0, f64::NAN, f64::INFINITY]);
        assert!(one.low < 5.0 && one.high > 5.0);
        for span in [Span::new(1.0, 1.0), Span::new(f64::NAN, 1.0), Span::new(0.0, f64::INFINITY)] {
            assert!(Axis::linear("", "", span).ticks(5.0).len() < 100);
            assert!(Axis::logarithmic("", "", span).ticks(5.0).len() < 200);
        }
    }

    #[test]
    fn positions_run_from_nought_to_one() {
        let axis = Axis::logarithmic("", "", Span::new(1.0, 100.0));
        assert!((axis.position(10.0) - 0.5).abs() < 1e-12);
        assert!((axis.position(1.0)).abs() < 1e-12);
        let axis = Axis::linear("", "", Span::new(2.0, 4.0));
        assert!((axis.position(3.5) - 0.75).abs() < 1e-12);
    }
}
