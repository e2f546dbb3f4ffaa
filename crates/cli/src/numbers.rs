//! Numbers in the digits that are known: the interval decides how many are written.

use levigate_measure::{Grade, Outcome};

/// Significant digits of a number whose uncertainty nobody stated.
const DIGITS_WITHOUT_INTERVAL: i32 = 4;
/// Most decimals ever written out; smaller numbers are written with a power of ten.
const MOST_DECIMALS: i32 = 6;

/// Factor between the ends of an interval from which it is one of factors and not of differences.
const BY_FACTOR: f64 = 4.0;

/// A value in the digits its interval allows.
pub(crate) fn value(value: f64, low: Option<f64>, high: Option<f64>) -> String {
    match (low, high) {
        (Some(low), Some(high)) if by_factor(low, high) => two_figures(value),
        _ => written(value, decimals(value, low, high)),
    }
}

/// Whether an interval says within which factor a number is known: then two figures of each of its numbers are, whatever their size.
fn by_factor(low: f64, high: f64) -> bool {
    low > 0.0 && high.is_finite() && high > BY_FACTOR * low
}

fn two_figures(value: f64) -> String {
    let magnitude = if value == 0.0 { 0 } else { whole(value.abs().log10().floor()) };
    written(value, 1 - magnitude)
}

/// Value, unit and interval of a result, or why there is none. The unit can be left out where a heading says it.
pub(crate) fn result(outcome: &Outcome, with_unit: bool) -> String {
    let Some(number) = outcome.value else {
        return outcome
            .refused
            .as_ref()
            .map_or_else(|| "not known".to_owned(), |why| format!("no value: {why}"));
    };
    let unit =
        if with_unit && !outcome.unit.is_empty() { format!(" {}", outcome.unit) } else { String::new() };
    let text = format!("{}{unit}", value(number, outcome.low, outcome.high));
    match interval(outcome) {
        Some(interval) => format!("{text} ({interval})"),
        None => text,
    }
}

/// The interval of a result, where it has one that is more than a point.
pub(crate) fn interval(outcome: &Outcome) -> Option<String> {
    let number = outcome.value?;
    let places = decimals(number, outcome.low, outcome.high);
    match (outcome.low, outcome.high) {
        (Some(low), Some(high)) if by_factor(low, high) => {
            Some(format!("{} to {}", two_figures(low), two_figures(high)))
        }
        (Some(low), Some(high)) if low < high => {
            Some(format!("{} to {}", written(low, places), written(high, places)))
        }
        (Some(low), None) => Some(format!("at least {}", written(low, places))),
        (None, Some(high)) => Some(format!("at most {}", written(high, places))),
        _ => None,
    }
}

/// The mark of an evidence grade, always followed by its word somewhere near.
pub(crate) fn mark(grade: Grade) -> &'static str {
    match grade {
        Grade::Measured => "●",
        Grade::Calibrated => "◉",
        Grade::Computed => "○",
        Grade::Correlated => "◌",
        Grade::RuleOfThumb => "~",
    }
}

/// Mark and word of an evidence grade; nothing for a refusal, which rests on no evidence.
pub(crate) fn grade(outcome: &Outcome) -> String {
    match outcome.value {
        Some(_) => format!("{} {}", mark(outcome.grade), outcome.grade.word()),
        None => String::new(),
    }
}

/// Decimals so that the half width of the interval keeps one figure, two when it begins with 1.
fn decimals(value: f64, low: Option<f64>, high: Option<f64>) -> i32 {
    let half = [low.map(|low| value - low), high.map(|high| high - value)]
        .into_iter()
        .flatten()
        .map(f64::abs)
        .fold(0.0, f64::max);
    if half > 0.0 && half.is_finite() {
        let exponent = half.log10().floor();
        let first = half / 10_f64.powf(exponent);
        let extra = i32::from(first < 2.0);
        return extra - whole(exponent);
    }
    if value == 0.0 || !value.is_finite() {
        return 0;
    }
    DIGITS_WITHOUT_INTERVAL - 1 - whole(value.abs().log10().floor())
}

/// The whole number of an already rounded one.
fn whole(rounded: f64) -> i32 {
    #[expect(clippy::cast_possible_truncation, reason = "exponents of finite numbers are within 400")]
    let whole = rounded.clamp(-400.0, 400.0) as i32;
    whole
}

fn written(value: f64, decimals: i32) -> String {
    if value == 0.0 {
        return "0".to_owned();
    }
    if decimals < 0 {
        let step = 10_f64.powi(-decimals);
        return format!("{:.0}", (value / step).round() * step);
    }
    let magnitude = whole(value.abs().log10().floor());
    if magnitude < -4 && decimals + magnitude >= 0 {
        let figures = usize::try_from((decimals + magnitude).clamp(0, 4)).unwrap_or(0);
        return trimmed_power(&format!("{value:.figures$e}"));
    }
    let places = usize::try_from(decimals.min(MOST_DECIMALS - magnitude.min(0))).unwrap_or(0);
    let text = format!("{value:.places$}");
    if text.trim_start_matches('-').chars().all(|sign| matches!(sign, '0' | '.')) {
        "0".to_owned()
    } else {
        text
    }
}

/// `1.200e-7` as `1.2e-7`.
fn trimmed_power(text: &str) -> String {
    match text.split_once('e') {
        Some((digits, power)) if digits.contains('.') => {
            format!("{}e{power}", digits.trim_end_matches('0').trim_end_matches('.'))
        }
        _ => text.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_interval_decides_the_digits() {
        assert_eq!(value(5.512_345, Some(5.43), Some(5.6)), "5.51");
        assert_eq!(value(5.512_345, Some(5.50), Some(5.52)), "5.512");
        assert_eq!(value(1234.5, Some(1100.0), Some(1400.0)), "1230");
        assert_eq!(value(0.35, None, None), "0.3500");
        assert_eq!(value(0.0, None, None), "0");
        assert_eq!(value(1.234_56e-9, None, None), "1.235e-9");
        assert_eq!(value(123_456.0, None, None), "123500");
        assert_eq!(value(-0.000_01, Some(-0.4), Some(0.4)), "0");
    }

    #[test]
    fn an_interval_of_factors_keeps_two_figures_of_each_number() {
        let drained = Outcome::new(1234.5, "s", Grade::Computed, "test").within(12.34, 412_345_678.0, None);
        assert_eq!(result(&drained, true), "1200 s (12 to 410000000)");
        let hours = Outcome::new(7.63, "h", Grade::Computed, "test").within(2.51, 30.4, None);
        assert_eq!(result(&hours, true), "7.6 h (2.5 to 30)");
    }

    #[test]
    fn an_outcome_says_its_interval_and_a_refusal_its_reason() {
        let outcome = Outcome::new(5.512, "", Grade::Computed, "test").within(5.43, 5.6, Some(0.95));
        assert_eq!(result(&outcome, true), "5.51 (5.43 to 5.60)");
        assert_eq!(grade(&outcome), "○ computed");
        let refused = Outcome::refuse("mPa·s", "test", "no data");
        assert_eq!(result(&refused, true), "no value: no data");
        assert_eq!(grade(&refused), "");
    }

    proptest::proptest! {
        #[test]
        fn any_number_can_be_written(number in proptest::num::f64::ANY, low in proptest::num::f64::ANY, high in proptest::num::f64::ANY) {
            let text = value(number, Some(low), Some(high));
            proptest::prop_assert!(text.len() < 400);
            let text = value(number, None, None);
            if number.is_finite() && number != 0.0 {
                let read: f64 = text.parse().unwrap();
                proptest::prop_assert!((read - number).abs() <= number.abs() * 0.001 || read == 0.0, "{text}");
            }
        }
    }
}
