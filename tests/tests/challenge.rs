//! Challenge tests that were printed, held against the criteria of standards.

#![expect(clippy::unwrap_used, reason = "tests stop at the first surprise")]

use levigate_process::killing::{KillingError, Survivors, bent, killing};
use levigate_rules::challenge::{Count, Criterion, Judged, Kind, Neutraliser, Says, Series, judge};
use proptest::prelude::*;
use serde::Deserialize;
use std::collections::BTreeMap;
use std::path::Path;
use std::sync::LazyLock;

#[derive(Deserialize)]
struct Cases {
    test: Vec<Case>,
}

#[derive(Deserialize)]
struct Case {
    name: String,
    kind: Kind,
    counts: BTreeMap<String, f64>,
    #[serde(default)]
    below: BTreeMap<String, f64>,
    #[serde(default)]
    reductions: BTreeMap<String, f64>,
    #[serde(default)]
    notes: Vec<String>,
    #[serde(flatten)]
    says: BTreeMap<String, toml::Value>,
}

impl Case {
    fn series(&self) -> Series {
        let found = self.counts.iter().map(|(day, value)| (day.parse().unwrap(), Count::Found(*value)));
        let below = self.below.iter().map(|(day, floor)| (day.parse().unwrap(), Count::Below(*floor)));
        let mut counts: Vec<(u16, Count)> = found.chain(below).filter(|(day, _)| *day > 0).collect();
        counts.sort_by_key(|(day, _)| *day);
        Series { organism: self.name.clone(), kind: self.kind, initial: self.counts["0"], counts }
    }
}

fn criteria() -> &'static BTreeMap<String, Criterion> {
    static CRITERIA: LazyLock<BTreeMap<String, Criterion>> =
        LazyLock::new(|| levigate_facts::shipped().unwrap().rules.challenge);
    &CRITERIA
}

/// Only the cells of the organisms given count; what is missing of other kinds is told apart from it.
fn gravest(judged: &Judged) -> Says {
    judged.cells.iter().map(|cell| cell.says).max().unwrap_or(Says::Met)
}

const SHOWN: Option<Neutraliser> =
    Some(Neutraliser { recovered_percent: 82.0, alone_percent: 95.0, least_percent: 50.0 });

#[test]
fn printed_tests_are_judged_as_they_were() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("published/challenge.toml");
    let cases: Cases = toml::from_str(&std::fs::read_to_string(path).unwrap()).unwrap();
    let criteria = criteria();
    assert_eq!(criteria.len(), 5);
    for case in &cases.test {
        let series = [case.series()];
        for (key, says) in &case.says {
            let judged = judge(&criteria[key], &series, SHOWN);
            let found = serde_json::to_value(gravest(&judged)).unwrap();
            assert_eq!(found.as_str(), says.as_str(), "{} {key}: {:?}", case.name, judged.decided_by);
            assert_eq!(
                judged.verdict.contains("meets") && !judged.verdict.contains("not"),
                judged.says == Says::Met
            );
        }
        for (day, reduction) in &case.reductions {
            let day: u16 = day.parse().unwrap();
            let cells = criteria.values().flat_map(|one| judge(one, &series, SHOWN).cells);
            let mut told = cells.filter(|cell| cell.day == day && cell.asked.contains("reduction"));
            let Some(cell) = told.next() else { continue };
            assert!(
                (cell.found.value.unwrap() - reduction).abs() < 0.006,
                "{} day {day}: {:?}",
                case.name,
                cell.found.value
            );
            let below = case.below.contains_key(&day.to_string());
            assert_eq!(cell.found.low.is_some(), below, "a floor is at least");
        }
        let usp = judge(&criteria["usp-51-category-2"], &series, SHOWN);
        for note in &case.notes {
            assert!(usp.notes.iter().any(|told| told.code == note.as_str()), "{} {note}", case.name);
        }
    }
}

fn one(initial: f64, counts: &[(u16, Count)]) -> Series {
    Series { organism: "P. aeruginosa".to_owned(), kind: Kind::Bacteria, initial, counts: counts.to_vec() }
}

#[test]
fn two_point_six_is_never_three_and_the_other_reading_stands_beside() {
    let criteria = criteria();
    let near = one(1e6, &[(7, Count::Found(2512.0)), (14, Count::Found(10.0)), (28, Count::Below(10.0))]);
    let judged = judge(&criteria["iso-11930-a"], &[near], SHOWN);
    let cell = &judged.cells[0];
    assert!((cell.found.value.unwrap() - 2.6).abs() < 1e-3);
    assert_eq!((cell.says, cell.by_the_other_reading), (Says::NotMet, Some(Says::Met)));
    assert_eq!(judged.says, Says::NotMet);
    assert_eq!(judged.decided_by, ["P. aeruginosa, day 7: a reduction of 3 at least"]);
    // Half a decade more is no increase; the strict reading stands beside it.
    let risen = one(1e6, &[(7, Count::Found(100.0)), (14, Count::Found(300.0)), (28, Count::Found(320.0))]);
    let judged = judge(&criteria["iso-11930-a"], &[risen], SHOWN);
    let rise = judged.cells.iter().find(|cell| cell.asked.contains("since day 7")).unwrap();
    assert_eq!((rise.says, rise.by_the_other_reading), (Says::Met, Some(Says::NotMet)));
}

#[test]
fn what_was_not_counted_or_not_shown_is_said() {
    let criteria = criteria();
    let early = one(5e5, &[(7, Count::Below(10.0))]);
    let judged = judge(&criteria["iso-11930-a"], std::slice::from_ref(&early), None);
    assert_eq!(judged.says, Says::NotCounted);
    let codes: Vec<&str> = judged.notes.iter().map(|note| note.code.as_ref()).collect();
    assert!(codes.contains(&"neutraliser-not-shown") && codes.contains(&"kind-missing"), "{codes:?}");
    let poor = Neutraliser { recovered_percent: 31.0, alone_percent: 95.0, least_percent: 50.0 };
    let judged = judge(&criteria["iso-11930-a"], &[early], Some(poor));
    assert!(judged.notes.iter().any(|note| note.code == "neutraliser-fails" && note.text.contains("31 %")));
    assert_eq!(judged.says, Says::NotValid);
    // All is met, but by counts below their floor that nothing shows to be more than carry-over.
    let three = [Kind::Bacteria, Kind::Yeast, Kind::Mould].map(|kind| {
        let counts = [7, 14, 28].map(|day| (day, Count::Below(10.0))).to_vec();
        Series { organism: format!("{kind:?}"), kind, initial: 2e5, counts }
    });
    let says = |neutraliser| judge(&criteria["iso-11930-b"], &three, neutraliser).says;
    assert_eq!([says(SHOWN), says(None), says(Some(poor))], [Says::Met, Says::NotShown, Says::NotValid]);
    let rising = one(5e5, &[(7, Count::Found(10.0)), (14, Count::Found(5e4)), (28, Count::Found(5e5))]);
    let judged = judge(&criteria["usp-51-category-2"], &[rising], SHOWN);
    assert!(judged.notes.iter().any(|note| note.code == "rises"));
    assert_eq!(Count::mean(&[Count::Found(30.0), Count::Below(10.0)]), Some(Count::Found(20.0)));
    assert_eq!(Count::mean(&[Count::Below(10.0), Count::Below(10.0)]), Some(Count::Below(10.0)));
    assert_eq!(Count::mean(&[]), None);
}

#[derive(Deserialize)]
struct Lines {
    line: Vec<Line>,
}

#[derive(Deserialize)]
struct Line {
    name: String,
    found: Vec<(f64, f64)>,
    below: Vec<(f64, f64)>,
    start: f64,
    d_hours: f64,
    low: f64,
    high: Option<f64>,
    scatter: f64,
}

#[test]
fn lines_through_survivors_of_another_program() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("cross/killing.toml");
    let lines: Lines = toml::from_str(&std::fs::read_to_string(path).unwrap()).unwrap();
    for line in &lines.line {
        let points = |list: &[(f64, f64)], below: bool| -> Vec<Survivors> {
            list.iter().map(|(hours, count)| Survivors { hours: *hours, log: count.log10(), below }).collect()
        };
        let all = [points(&line.found, false), points(&line.below, true)].concat();
        let ours = killing(&all, 0.95).unwrap();
        let near = |what: &str, ours: f64, theirs: f64, least: f64| {
            assert!((ours / theirs - 1.0).abs() < least, "{} {what}: {ours} {theirs}", line.name);
        };
        near("start", ours.start, line.start, 1e-6);
        near("D", ours.d_hours, line.d_hours, 1e-6);
        near("scatter", ours.scatter, line.scatter, 1e-6);
        // Their curvature is by finite differences.
        let (low, high) = ours.within.unwrap();
        near("low", low, line.low, 1e-4);
        assert_eq!(high.is_some(), line.high.is_some(), "{}", line.name);
        if let (Some(ours), Some(theirs)) = (high, line.high) {
            near("high", ours, theirs, 1e-3);
        }
    }
}

#[derive(Deserialize)]
struct Curves {
    curve: Vec<Curve>,
}

#[derive(Deserialize)]
struct Curve {
    name: String,
    found: Vec<(f64, f64)>,
    below: Vec<(f64, f64)>,
    start: f64,
    three_log: f64,
    three_log_low: f64,
    three_log_high: f64,
    shape: f64,
    shape_low: f64,
    shape_high: f64,
    scatter: f64,
    gain: f64,
}

#[test]
fn bent_lines_through_survivors_of_another_program() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("cross/killing_shape.toml");
    let curves: Curves = toml::from_str(&std::fs::read_to_string(path).unwrap()).unwrap();
    for curve in &curves.curve {
        let points = |list: &[(f64, f64)], below: bool| -> Vec<Survivors> {
            list.iter().map(|(hours, count)| Survivors { hours: *hours, log: count.log10(), below }).collect()
        };
        let all = [points(&curve.found, false), points(&curve.below, true)].concat();
        let ours = bent(&all, 0.95).unwrap();
        let near = |what: &str, ours: f64, theirs: f64, least: f64| {
            assert!((ours / theirs - 1.0).abs() < least, "{} {what}: {ours} {theirs}", curve.name);
        };
        near("start", ours.start, curve.start, 1e-6);
        near("T", ours.three_log_hours, curve.three_log, 1e-6);
        near("p", ours.shape, curve.shape, 1e-6);
        near("scatter", ours.scatter, curve.scatter, 1e-6);
        near("gain", ours.gain.unwrap(), curve.gain, 1e-6);
        // Their curvature is by finite differences.
        let ((low, high), (flat, sharp)) = (ours.three_log_within.unwrap(), ours.shape_within.unwrap());
        near("low", low, curve.three_log_low, 1e-4);
        near("high", high, curve.three_log_high, 1e-4);
        near("flattest", flat, curve.shape_low, 1e-4);
        near("sharpest", sharp, curve.shape_high, 1e-4);
    }
}

#[test]
fn a_bend_needs_four_times_and_a_shape_that_the_counts_settle() {
    let point = |hours: f64, log: f64, below: bool| Survivors { hours, log, below };
    let three =
        [point(0.0, 6.0, false), point(48.0, 4.0, false), point(168.0, 2.0, false), point(336.0, 1.0, true)];
    assert_eq!(bent(&three, 0.95), Err(KillingError::TooFewTimes { times: 3 }));
    // All die between the first two counts and nothing after: the earlier the bend, the better.
    let fallen = [(0.0, 6.0), (48.0, 2.0), (168.0, 2.1), (336.0, 1.9), (672.0, 2.0)]
        .map(|(hours, log)| point(hours, log, false));
    assert_eq!(bent(&fallen, 0.95), Err(KillingError::NoShape));
    let growing =
        [(0.0, 3.0), (24.0, 3.4), (48.0, 4.1), (96.0, 5.5)].map(|(hours, log)| point(hours, log, false));
    assert!(matches!(bent(&growing, 0.95), Err(KillingError::NotFalling { .. } | KillingError::NoShape)));
    assert_eq!(bent(&[point(f64::NAN, 1.0, false)], 0.95), Err(KillingError::NotANumber));
}

#[test]
fn a_line_needs_two_counts_that_were_found() {
    let point = |hours: f64, log: f64, below: bool| Survivors { hours, log, below };
    let only_start = [point(0.0, 6.3, false), point(48.0, 0.0, true)];
    assert_eq!(killing(&only_start, 0.95), Err(KillingError::TooFewFound { found: 1 }));
    let two = [point(0.0, 6.0, false), point(10.0, 4.0, false), point(48.0, 1.0, true)];
    let line = killing(&two, 0.95).unwrap();
    assert!((line.d_hours - 5.0).abs() < 1e-12 && line.within.is_none() && line.below == 1);
    let growing = [point(0.0, 3.0, false), point(10.0, 4.0, false)];
    assert!(matches!(killing(&growing, 0.95), Err(KillingError::NotFalling { .. })));
    assert_eq!(killing(&[point(0.0, 3.0, false), point(0.0, 4.0, false)], 0.95), Err(KillingError::OneTime));
}

proptest! {
    /// Exact survivors give their D back, floors that they do run below change nothing, and a faster clock scales it.
    #[test]
    fn exact_survivors_give_their_d_back(d in 0.3..200.0f64, start in 4.0..7.0f64, faster in 0.1..10.0f64) {
        let at = |hours: f64| Survivors { hours: hours * d, log: start - hours, below: false };
        let found: Vec<Survivors> = [0.0, 0.5, 1.7, 2.9].map(at).to_vec();
        let line = killing(&found, 0.95).unwrap();
        prop_assert!((line.d_hours / d - 1.0).abs() < 1e-9);
        let quick: Vec<Survivors> = found.iter().map(|one| Survivors { hours: one.hours / faster, ..*one }).collect();
        prop_assert!((killing(&quick, 0.95).unwrap().d_hours * faster / d - 1.0).abs() < 1e-9);
    }

    /// Exact survivors give their bend back, whatever the clock; where there is none it is the straight line.
    #[test]
    fn exact_survivors_give_their_bend_back(three in 1.0..900.0f64, shape in 0.2..5.0f64, start in 4.0..7.0f64) {
        let at = |share: f64| Survivors { hours: share * three, log: start - 3.0 * share.powf(shape), below: false };
        let found: Vec<Survivors> = [0.0, 0.2, 0.5, 0.8, 1.1, 1.25].map(at).to_vec();
        let line = bent(&found, 0.95).unwrap();
        prop_assert!((line.three_log_hours / three - 1.0).abs() < 1e-5, "{} {three}", line.three_log_hours);
        prop_assert!((line.shape / shape - 1.0).abs() < 1e-5, "{} {shape}", line.shape);
        prop_assert!((line.at(three) - (start - 3.0)).abs() < 1e-5);
    }

    /// Fewer survivors never make a verdict graver, whatever the criterion.
    #[test]
    fn fewer_survivors_are_never_judged_harder(
        logs in prop::collection::vec(0.0..6.5f64, 4), less in 0.0..3.0f64, floors in prop::collection::vec(any::<bool>(), 4),
    ) {
        let criteria = criteria();
        let days = [2u16, 7, 14, 28];
        let count = |log: f64, floor: bool| if floor && log < 1.5 { Count::Below(10.0) } else { Count::Found(10f64.powf(log)) };
        let counts: Vec<(u16, Count)> = days.iter().zip(logs.iter().zip(&floors)).map(|(day, (log, floor))| (*day, count(*log, *floor))).collect();
        let whole = one(1e6, &counts);
        // The last day alone: later counts are held against earlier ones, so that fewer earlier on may well be graver.
        let mut fewer = whole.clone();
        if let Count::Found(value) = fewer.counts[3].1 {
            fewer.counts[3].1 = Count::Found(value * 10f64.powf(-less));
        }
        for criterion in criteria.values() {
            let (before, after) = (judge(criterion, std::slice::from_ref(&whole), SHOWN), judge(criterion, &[fewer.clone()], SHOWN));
            prop_assert!(after.says <= before.says, "{} {:?} {:?}", criterion.key, before.says, after.says);
        }
    }
}
