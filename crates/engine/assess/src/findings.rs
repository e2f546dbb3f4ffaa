//! What a senior colleague would pencil into the margin, gathered from the readings and ordered by gravity.

pub(crate) mod brief;
pub(crate) mod flow;
pub(crate) mod making;
pub(crate) mod preserving;
pub(crate) mod rules;
pub(crate) mod saturation;
pub(crate) mod water;
pub(crate) mod weighing;

use crate::finding::{Concerns, Finding, Gravity};
use levigate_measure::elementary::Elementary as _;

/// What is true of most formulas on paper or mended at the balance stands after the chemistry of its gravity.
const LAST: &[&str] = &[
    "weighs-badly",
    "price-missing",
    "shelf-life-not-predicted",
    "challenge-test-required",
    "certificate-missing",
    "viscosity-without-conditions",
];

/// What the equilibrium computed takes the place of the rule of thumb about the same lines, unless the rule is graver: a chelant that the
/// metals of the formula use up is said once, with its numbers.
pub(crate) fn each_once(findings: &mut Vec<Finding>) {
    let computed: Vec<(Gravity, Concerns)> = findings
        .iter()
        .filter(|finding| finding.code == "chelant-used-up")
        .map(|finding| (finding.gravity, finding.concerns.clone()))
        .collect();
    findings.retain(|finding| {
        finding.code != "does-not-go-together"
            || !computed
                .iter()
                .any(|(gravity, concerns)| *gravity <= finding.gravity && *concerns == finding.concerns)
    });
}

/// Gravest first; among equals the chemistry before the balance and the paper, then in the order of the sheet.
pub(crate) fn in_order(mut findings: Vec<Finding>) -> Vec<Finding> {
    let last = |finding: &Finding| LAST.contains(&finding.code.as_ref());
    findings.sort_by(|a, b| {
        a.gravity
            .cmp(&b.gravity)
            .then_with(|| last(a).cmp(&last(b)))
            .then_with(|| a.concerns.cmp(&b.concerns))
            .then_with(|| a.code.cmp(&b.code))
    });
    findings
}

/// A number in as many digits as a sentence needs: three significant ones, no exponent in the everyday range.
pub(crate) fn digits(value: f64) -> String {
    if value == 0.0 {
        return "0".to_owned();
    }
    let size = value.abs();
    if !(1e-4..1e6).contains(&size) {
        return format!("{value:.1e}");
    }
    let decimals = (2 - size.log_10().floor() as i32).clamp(0, 6);
    let text = format!("{value:.*}", usize::try_from(decimals).unwrap_or(0));
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_pair_gives_way_to_what_was_computed_unless_it_is_graver() {
        let finding = |code, gravity, lines: &[usize]| {
            Finding::new(code, gravity, Concerns::lines(lines), "found", "change")
        };
        let mut findings = vec![
            finding("chelant-used-up", Gravity::Change, &[3, 5]),
            finding("does-not-go-together", Gravity::Change, &[3, 5]),
            finding("does-not-go-together", Gravity::Stop, &[3, 5]),
            finding("does-not-go-together", Gravity::Check, &[3, 6]),
        ];
        each_once(&mut findings);
        let left: Vec<Gravity> = findings.iter().map(|finding| finding.gravity).collect();
        assert_eq!(left, [Gravity::Change, Gravity::Stop, Gravity::Check]);
    }

    #[test]
    fn three_significant_digits_without_trailing_zeros() {
        assert_eq!(digits(0.5), "0.5");
        assert_eq!(digits(12.345), "12.3");
        assert_eq!(digits(0.001_234_5), "0.00123");
        assert_eq!(digits(123_456.0), "123456");
        assert_eq!(digits(2e-7), "2.0e-7");
    }
}
