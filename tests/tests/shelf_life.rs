//! Shelf lives from lines over time against ten published sets, and the laws the closed form must keep.

#![expect(clippy::unwrap_used, reason = "tests stop at the first surprise")]

use levigate_assess::shelf_life::{Scale, Study, shelf_life};
use levigate_measure::distribution::{Confidence, Sides};
use levigate_process::stability::pooling::CUSTOMARY_LEVEL;
use levigate_process::stability::{Batch, Crossing, Limits, Line, Model, Pooling, PoolingError};
use levigate_rules::extrapolation::{Harsher, Kept, Seen, reach};
use proptest::prelude::*;
use serde::Deserialize;
use std::collections::BTreeMap;
use std::path::Path;

#[derive(Deserialize)]
struct Sets {
    set: Vec<Set>,
    batch: BTreeMap<String, Vec<(f64, f64)>>,
}

#[derive(Deserialize)]
#[serde(untagged)]
enum Given {
    Shared(String),
    Here(Vec<(f64, f64)>),
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Set {
    name: String,
    #[serde(rename = "source")]
    _source: String,
    lower: Option<f64>,
    upper: Option<f64>,
    #[serde(default)]
    two_sided: bool,
    batches: Vec<Given>,
    model: String,
    test_slopes: Option<String>,
    test_heights: Option<String>,
    #[serde(default)]
    intercepts: Vec<f64>,
    #[serde(default)]
    slopes: Vec<f64>,
    #[serde(default)]
    life: Vec<String>,
    #[serde(default)]
    life_down_to_month: Vec<f64>,
    #[serde(default)]
    life_alone_down_to_month: Vec<f64>,
    shortest: Option<String>,
    shortest_alone: Option<String>,
    shortest_of_one_line: Option<String>,
    shortest_of_own_lines: Option<String>,
    leaves_lower: Option<String>,
    #[serde(default)]
    band: Vec<(f64, f64)>,
}

/// How near the program that prints ten decimals searches, in months.
const SEARCHED: f64 = 2e-5;

/// As near as the printed digits can say, or as they were searched for.
fn printed(found: f64, printed: &str, what: &str) {
    let decimals = printed.split('.').nth(1).map_or(0, str::len);
    let half = 0.5 * 10f64.powi(-i32::try_from(decimals).unwrap());
    let value: f64 = printed.parse().unwrap();
    let near = if decimals > 6 && value > 1.0 && !what.ends_with('F') { SEARCHED } else { half * 1.001 };
    assert!((found - value).abs() <= near, "{what}: {found} for {printed}");
}

fn months(line: &Line, limits: Limits, confidence: &Confidence) -> f64 {
    line.leaves(limits, confidence).months().unwrap()
}

fn shortest(lines: &[Line], limits: Limits, confidence: &Confidence) -> f64 {
    lines.iter().map(|line| months(line, limits, confidence)).fold(f64::INFINITY, f64::min)
}

fn read<T: serde::de::DeserializeOwned>(file: &str) -> T {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(file);
    toml::from_str(&std::fs::read_to_string(path).unwrap()).unwrap()
}

impl Sets {
    fn readings(&self, set: &Set) -> Vec<Vec<(f64, f64)>> {
        let readings = set.batches.iter().map(|given| match given {
            Given::Shared(shared) => &self.batch[shared],
            Given::Here(here) => here,
        });
        readings.cloned().collect()
    }

    fn batches(&self, set: &Set) -> Vec<Batch> {
        let readings = self.readings(set).into_iter().enumerate();
        readings.map(|(place, readings)| Batch::of(place, &readings).unwrap()).collect()
    }
}

impl Set {
    fn confidence(&self) -> Confidence {
        let sides = if self.two_sided { Sides::Two } else { Sides::One };
        Confidence::new(0.95, sides).unwrap()
    }

    fn limits(&self) -> Limits {
        Limits { lower: self.lower, upper: self.upper }
    }
}

#[derive(Deserialize)]
struct Searched {
    set: Vec<SearchedSet>,
}

#[derive(Deserialize)]
struct SearchedSet {
    name: String,
    one_line: Vec<f64>,
    one_slope: Vec<f64>,
    own_lines: Vec<f64>,
    alone: Vec<f64>,
}

#[test]
fn the_closed_form_is_what_a_search_with_fifty_digits_finds() {
    let sets: Sets = read("published/shelf_life.toml");
    let searched: Searched = read("cross/shelf_life.toml");
    assert_eq!(searched.set.len(), sets.set.len());
    for (set, found) in sets.set.iter().zip(&searched.set) {
        assert_eq!(set.name, found.name);
        let batches = sets.batches(set);
        let pooling = Pooling::of(&batches).unwrap();
        let alone: Vec<Line> = batches.iter().map(|batch| batch.alone().unwrap()).collect();
        for (lines, lives) in [
            (pooling.lines(Model::OneLine), &found.one_line),
            (pooling.lines(Model::OneSlope), &found.one_slope),
            (pooling.lines(Model::OwnLines), &found.own_lines),
            (alone, &found.alone),
        ] {
            for (line, life) in lines.iter().zip(lives) {
                let ours = months(line, set.limits(), &set.confidence());
                assert!((ours / life - 1.0).abs() < 1e-12, "{}: {ours} for {life}", set.name);
            }
        }
    }
}

#[test]
fn ten_published_sets() {
    let sets: Sets = read("published/shelf_life.toml");
    assert_eq!(sets.set.len(), 10);
    for set in &sets.set {
        let name = &set.name;
        let batches = sets.batches(set);
        let (confidence, limits) = (set.confidence(), set.limits());
        let pooling = Pooling::of(&batches).unwrap();
        let model = pooling.model(CUSTOMARY_LEVEL);
        assert_eq!(serde_json::to_value(model).unwrap(), set.model.as_str(), "{name}");
        if let Some(text) = &set.test_slopes {
            printed(pooling.slopes().unwrap().ratio, text, &format!("{name} F"));
        }
        if let Some(text) = &set.test_heights {
            printed(pooling.heights().unwrap().ratio, text, &format!("{name} F"));
        }
        let lines = pooling.lines(model);
        let alone: Vec<Line> = batches.iter().map(|batch| batch.alone().unwrap()).collect();
        for (line, intercept) in lines.iter().zip(&set.intercepts) {
            assert!((line.intercept - intercept).abs() < 6e-4, "{name}: {line:?}");
        }
        for (line, slope) in lines.iter().zip(&set.slopes) {
            assert!((line.slope - slope).abs() < 6e-7, "{name}: {line:?}");
        }
        for (line, life) in lines.iter().zip(&set.life) {
            printed(months(line, limits, &confidence), life, name);
        }
        for (these, whole) in [(&lines, &set.life_down_to_month), (&alone, &set.life_alone_down_to_month)] {
            for (line, life) in these.iter().zip(whole) {
                assert_eq!(months(line, limits, &confidence).floor(), *life, "{name}");
            }
        }
        for (these, text) in [
            (lines.clone(), &set.shortest),
            (alone, &set.shortest_alone),
            (pooling.lines(Model::OneLine), &set.shortest_of_one_line),
            (pooling.lines(Model::OwnLines), &set.shortest_of_own_lines),
        ] {
            if let Some(text) = text {
                printed(shortest(&these, limits, &confidence), text, name);
            }
        }
        if let Some(text) = &set.leaves_lower {
            let lower = Limits { upper: None, ..limits };
            printed(shortest(&lines, lower, &confidence), text, name);
        }
        for (at, low) in &set.band {
            let (found, _) = lines[0].band(*at, &confidence);
            assert!((found - low).abs() < 6e-6, "{name} at {at}: {found} {low}");
        }
    }
}

#[derive(Deserialize)]
struct Checked {
    set: Vec<CheckedSet>,
}

#[derive(Deserialize)]
struct CheckedSet {
    name: String,
    batch: usize,
    months: f64,
    t: f64,
    degrees: f64,
    lack_ratio: Option<f64>,
    lack_beyond: Option<f64>,
}

#[test]
fn lack_of_fit_and_the_furthest_reading_of_another_program() {
    let sets: Sets = read("published/shelf_life.toml");
    let checked: Checked = read("cross/shelf_life_checks.toml");
    for (set, wanted) in sets.set.iter().zip(&checked.set) {
        assert_eq!(set.name, wanted.name);
        let study = Study {
            attribute: String::new(),
            unit: String::new(),
            condition: String::new(),
            batches: sets
                .readings(set)
                .into_iter()
                .enumerate()
                .map(|(place, one)| (place.to_string(), one))
                .collect(),
            limits: set.limits(),
            scale: Scale::Plain,
            either_way: set.two_sided,
            confidence: 0.95,
            level: CUSTOMARY_LEVEL,
            harsher: Harsher::default(),
            wanted_months: None,
        };
        let reading = shelf_life(&study, []).unwrap();
        let furthest = reading.furthest.unwrap();
        assert_eq!(furthest.batch, wanted.batch.to_string(), "{}", set.name);
        assert_eq!(furthest.months.value, Some(wanted.months), "{}", set.name);
        assert!((furthest.chance.terms[0].value / wanted.t - 1.0).abs() < 1e-9, "{}", set.name);
        assert_eq!(furthest.chance.inputs[0].value, Some(wanted.degrees), "{}", set.name);
        assert_eq!(reading.lack_of_fit.value.is_some(), wanted.lack_ratio.is_some(), "{}", set.name);
        if let (Some(ratio), Some(beyond)) = (wanted.lack_ratio, wanted.lack_beyond) {
            assert!((reading.lack_of_fit.terms[0].value / ratio - 1.0).abs() < 1e-8, "{}", set.name);
            assert!((reading.lack_of_fit.value.unwrap() / beyond - 1.0).abs() < 1e-8, "{}", set.name);
        }
    }
}

#[derive(Deserialize)]
struct Reaches {
    row: Vec<ReachCase>,
}

#[derive(Deserialize)]
struct ReachCase {
    kept: Kept,
    #[serde(default)]
    accelerated: Seen,
    #[serde(default)]
    intermediate: Seen,
    last: f64,
    reach: f64,
}

#[test]
fn how_far_beyond_the_data_it_may_be_stated() {
    let facts = levigate_facts::shipped().unwrap();
    let cases: Reaches = read("published/extrapolation.toml");
    for case in &cases.row {
        let known =
            Harsher { kept: case.kept, accelerated: case.accelerated, intermediate: case.intermediate };
        let found = reach(facts.rules.extrapolation.values(), known, case.last);
        assert_eq!(found.value, Some(case.reach), "{known:?} {}", case.last);
    }
}

#[test]
fn what_cannot_carry_a_line_is_refused_in_words() {
    let one = Batch::of(2, &[(3.0, 99.0), (3.0, 98.0)]);
    assert_eq!(one, Err(PoolingError::OneTime { batch: 3, months: 3.0 }));
    assert!(one.unwrap_err().to_string().contains("batch 3 has been measured at one time only, 3 months"));
    assert_eq!(Batch::of(0, &[(-1.0, 5.0)]), Err(PoolingError::NotAReading { batch: 1, value: -1.0 }));
    let two = Batch::of(0, &[(0.0, 100.0), (3.0, 99.0)]).unwrap();
    assert!(two.alone().is_none());
    assert_eq!(Pooling::of(&[two]), Err(PoolingError::NoScatter { readings: 2, batches: 1 }));
    assert_eq!(Pooling::of(&[]), Err(PoolingError::Nothing));
    // One batch has nothing to be told apart from.
    let alone = Batch::of(0, &[(0.0, 100.0), (3.0, 99.2), (6.0, 98.1)]).unwrap();
    let pooling = Pooling::of(&[alone]).unwrap();
    assert_eq!((pooling.slopes(), pooling.model(CUSTOMARY_LEVEL)), (None, Model::OneLine));
}

#[test]
fn a_line_that_rises_never_leaves_a_lower_limit_and_one_that_starts_outside_has() {
    let confidence = Confidence::new(0.95, Sides::One).unwrap();
    let rising = Batch::of(0, &[(0.0, 100.0), (3.0, 101.1), (6.0, 101.9), (9.0, 103.0)]).unwrap();
    let line = rising.alone().unwrap();
    let lower = |least| Limits { lower: Some(least), upper: None };
    assert_eq!(line.leaves(lower(90.0), &confidence), Crossing::Never);
    assert_eq!(line.leaves(lower(101.0), &confidence), Crossing::Outside);
    assert_eq!(line.leaves(Limits::default(), &confidence), Crossing::Never);
}

proptest! {
    /// At the crossing the confidence limit is the limit, before it is inside, after it is outside; and mirrored data cross at the same time.
    #[test]
    fn the_crossing_is_where_the_band_meets_the_limit(
        slope in -2.0..0.5f64, scatter in 0.01..3.0f64, count in 3.0..40.0f64, middle in 0.0..20.0f64,
        spread in 5.0..2000.0f64, degrees in 1usize..38, room in 0.1..60.0f64,
    ) {
        let confidence = Confidence::new(0.95, Sides::One).unwrap();
        let line = Line { intercept: 100.0, slope, count, middle, spread, scatter, degrees };
        let limits = Limits { lower: Some(100.0 - room), upper: None };
        let inside = |t: f64| line.band(t, &confidence).0 - (100.0 - room);
        match line.leaves(limits, &confidence) {
            Crossing::Outside => prop_assert!(inside(0.0) < 0.0),
            Crossing::Never => prop_assert!((0..200).all(|t| inside(f64::from(t) * 10.0) >= -1e-9)),
            Crossing::At(t) => {
                let size = room + line.slope.abs() * t + line.standard_error(t) * confidence.factor(degrees);
                prop_assert!(inside(t).abs() < 1e-9 * size.max(1.0), "{} at {t}", inside(t));
                prop_assert!(inside(t * 0.999) >= -1e-9 && inside(t * 1.001 + 1e-9) <= 1e-9);
            }
        }
        let mirrored = Line { intercept: -100.0, slope: -slope, ..line };
        let above = Limits { lower: None, upper: Some(room - 100.0) };
        prop_assert_eq!(mirrored.leaves(above, &confidence), line.leaves(limits, &confidence));
    }

    /// Lines of one slope lie between: their sum of squares is that of the full model at the least, and the ratios are not negative.
    #[test]
    fn sums_of_squares_nest(values in prop::collection::vec((0.0..36.0f64, 80.0..110.0f64), 12..30)) {
        let third = values.len() / 3;
        let batches: Vec<Batch> = values.chunks(third).filter(|chunk| chunk.len() == third)
            .enumerate().map(|(place, chunk)| Batch::of(place, chunk).unwrap()).collect();
        let pooling = Pooling::of(&batches).unwrap();
        for test in [pooling.slopes().unwrap(), pooling.heights().unwrap()] {
            prop_assert!(test.ratio >= 0.0 && (0.0..=1.0).contains(&test.beyond));
        }
    }
}
