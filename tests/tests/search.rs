//! The search for the best point: published problems, linear problems solved by another program, laws.

#![expect(clippy::unwrap_used, reason = "tests stop at the first surprise")]

use levigate_measure::search::conflict::conflict;
use levigate_measure::search::relax::{Bound, bindings};
use levigate_measure::search::{
    Aim, Answers, Effort, Group, Oracle, Part, Problem, SearchError, Side, Space, Wish, answers, front,
};
use proptest::prelude::*;
use serde::Deserialize;
use std::path::Path;

fn read<T: serde::de::DeserializeOwned>(file: &str) -> T {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(file);
    toml::from_str(&std::fs::read_to_string(path).unwrap()).unwrap()
}

/// Readings by a function.
struct By<F>(F);
impl<F: Fn(&[f64]) -> Vec<f64> + Sync> Oracle for By<F> {
    fn readings(&self, at: &[f64]) -> Option<Vec<f64>> {
        Some((self.0)(at))
    }
}

fn part(low: f64, high: f64) -> Part {
    Part { low, high, step: None, may_be_off: false }
}

fn wish(reading: usize, low: Option<f64>, high: Option<f64>) -> Wish {
    Wish { reading, low, high, scale: 1.0, give: 0.1 }
}

fn least(scale: f64) -> Aim {
    Aim::Reading { reading: 0, most: false, scale }
}

fn asked(problem: &Problem, oracle: &dyn Oracle, start: &[f64]) -> Answers {
    answers(problem, oracle, start, &Effort::default(), &mut |_, _| true).unwrap()
}

#[derive(Deserialize)]
struct Published {
    case: Vec<Case>,
}

#[derive(Deserialize)]
struct Case {
    name: String,
    problem: String,
    least: f64,
    at: Vec<f64>,
    #[serde(default)]
    on: Vec<bool>,
    within: f64,
}

/// The problem of a published case by its name: where, what, the start, and what a part is counted from.
fn published(name: &str) -> (Problem, Box<dyn Oracle>, Vec<f64>, f64) {
    match name {
        "71" => {
            let space = Space { parts: vec![part(1.0, 5.0); 4], ..Space::default() };
            let of = |x: &[f64]| {
                let product: f64 = x.iter().product();
                vec![x[0] * x[3] * (x[0] + x[1] + x[2]) + x[2], product, x.iter().map(|x| x * x).sum()]
            };
            let wishes = vec![wish(1, Some(25.0), None), wish(2, Some(40.0), Some(40.0))];
            (Problem { space, aim: least(1.0), wishes }, Box::new(By(of)), vec![1.0, 5.0, 5.0, 1.0], 0.0)
        }
        // Counted from -5, since a part is never below nothing.
        "43" => {
            let space = Space { parts: vec![part(0.0, 10.0); 4], ..Space::default() };
            let of = |u: &[f64]| {
                let x: Vec<f64> = u.iter().map(|u| u - 5.0).collect();
                let [a, b, c, d] = [x[0], x[1], x[2], x[3]];
                vec![
                    a * a + b * b + 2.0 * c * c + d * d - 5.0 * a - 5.0 * b - 21.0 * c + 7.0 * d,
                    8.0 - a * a - b * b - c * c - d * d - a + b - c + d,
                    10.0 - a * a - 2.0 * b * b - c * c - 2.0 * d * d + a + d,
                    5.0 - 2.0 * a * a - b * b - c * c - 2.0 * a + b + d,
                ]
            };
            let wishes = (1..4).map(|reading| wish(reading, Some(0.0), None)).collect();
            (Problem { space, aim: least(10.0), wishes }, Box::new(By(of)), vec![5.0; 4], -5.0)
        }
        _ => {
            let switch = Part { low: 1.0, high: 1.0, step: None, may_be_off: true };
            let parts = vec![part(0.0, 2.0), part(0.0, 2.0), part(0.0, 1.0), switch, switch, switch];
            let of = |v: &[f64]| {
                let (x, y) = v.split_at(3);
                let [one, other] = [(x[1] + 1.0).ln(), (x[0] - x[1] + 1.0).max(1e-6).ln()];
                vec![
                    5.0 * y[0] + 6.0 * y[1] + 8.0 * y[2] + 10.0 * x[0]
                        - 7.0 * x[2]
                        - 18.0 * one
                        - 19.2 * other
                        + 10.0,
                    0.8 * one + 0.96 * other - 0.8 * x[2],
                    one + 1.2 * other - x[2] - 2.0 * y[2],
                    x[1] - x[0],
                    x[1] - 2.0 * y[0],
                    x[0] - x[1] - 2.0 * y[1],
                ]
            };
            let groups = vec![Group { parts: vec![3, 4], least: 0, most: 1 }];
            let wishes = vec![
                wish(1, Some(0.0), None),
                wish(2, Some(-2.0), None),
                wish(3, None, Some(0.0)),
                wish(4, None, Some(0.0)),
                wish(5, None, Some(0.0)),
            ];
            let space = Space { parts, groups, ..Space::default() };
            (
                Problem { space, aim: least(1.0), wishes },
                Box::new(By(of)),
                vec![0.5, 0.2, 0.5, 1.0, 0.0, 1.0],
                0.0,
            )
        }
    }
}

#[test]
fn published_problems_are_solved() {
    for case in read::<Published>("published/search.toml").case {
        let (problem, oracle, start, from) = published(&case.problem);
        let found = asked(&problem, oracle.as_ref(), &start);
        let best = &found.best;
        assert!(best.keeps(), "{}: {best:?}", case.name);
        assert!(
            (best.readings[0] - case.least).abs() <= case.within * case.least.abs(),
            "{}: {} for {} after {} points",
            case.name,
            best.readings[0],
            case.least,
            found.read
        );
        for (found, known) in best.at.iter().zip(&case.at) {
            assert!((found + from - known).abs() < 30.0 * case.within, "{}: {:?}", case.name, best.at);
        }
        for (found, known) in best.at[best.at.len() - case.on.len()..].iter().zip(&case.on) {
            assert_eq!(*found > 0.0, *known, "{}", case.name);
        }
    }
}

#[derive(Deserialize)]
struct Linear {
    case: Vec<LinearCase>,
}

#[derive(Deserialize)]
struct LinearCase {
    price: Vec<f64>,
    low: Vec<f64>,
    high: Vec<f64>,
    may_be_off: Vec<bool>,
    group: Vec<Vec<usize>>,
    room: f64,
    least: Option<f64>,
    wish: Vec<LinearWish>,
}

#[derive(Deserialize)]
struct LinearWish {
    factors: Vec<f64>,
    low: f64,
    high: f64,
}

/// Readings that are sums.
struct Sums(Vec<Vec<f64>>);
impl Oracle for Sums {
    fn readings(&self, at: &[f64]) -> Option<Vec<f64>> {
        Some(
            self.0.iter().map(|factors| factors.iter().zip(at).map(|(factor, x)| factor * x).sum()).collect(),
        )
    }
}

impl LinearCase {
    fn asked(&self) -> (Problem, Sums) {
        let part = |place: usize| Part {
            low: self.low[place],
            high: self.high[place],
            step: Some(0.05),
            may_be_off: self.may_be_off[place],
        };
        let count = self.price.len();
        let groups =
            self.group.iter().map(|parts| Group { parts: parts.clone(), least: 1, most: 1 }).collect();
        let space = Space {
            parts: (0..count).map(part).collect(),
            groups,
            room: Some((vec![1.0; count], self.room)),
            counted: None,
        };
        let wishes = self.wish.iter().enumerate().map(|(place, wish)| Wish {
            reading: place + 1,
            low: (wish.low > 0.0).then_some(wish.low),
            high: (wish.high < 1e5).then_some(wish.high),
            scale: 1.0,
            give: 0.1,
        });
        let problem = Problem { space, aim: least(10.0), wishes: wishes.collect() };
        let mut sums = vec![self.price.clone()];
        sums.extend(self.wish.iter().map(|wish| wish.factors.clone()));
        (problem, Sums(sums))
    }

    fn start(&self) -> Vec<f64> {
        self.low.iter().zip(&self.may_be_off).map(|(low, off)| if *off { 0.0 } else { *low }).collect()
    }
}

#[test]
fn linear_problems_on_steps_have_the_answers_of_another_program() {
    let effort = Effort { choices: 64, others: 0, ..Effort::default() };
    for (place, case) in read::<Linear>("cross/search.toml").case.iter().enumerate() {
        let (problem, oracle) = case.asked();
        let found = answers(&problem, &oracle, &case.start(), &effort, &mut |_, _| true).unwrap();
        assert!(found.straight, "case {place}");
        match case.least {
            Some(least) => {
                assert!(found.best.keeps(), "case {place}: {:?}", found.best);
                let value = found.best.readings[0];
                assert!((value - least).abs() < 1e-6 * least.abs(), "case {place}: {value} for {least}");
            }
            None => assert!(!found.best.keeps(), "case {place}: {:?}", found.best),
        }
    }
}

#[test]
fn what_contradicts_cannot_be_had_and_without_any_one_of_it_the_rest_can() {
    let effort = Effort { choices: 64, others: 0, ..Effort::default() };
    for case in read::<Linear>("cross/search.toml").case.iter().filter(|case| case.least.is_none()) {
        let (problem, oracle) = case.asked();
        let said = conflict(&problem, &oracle, &case.start(), &effort, &mut |_, _| true).unwrap().unwrap();
        assert!(!said.wishes.is_empty() && !said.nearest.keeps() && said.whole && said.smallest);
        let with = |kept: Vec<Wish>| {
            let only = Problem { wishes: kept, ..problem.clone() };
            answers(&only, &oracle, &case.start(), &effort, &mut |_, _| true).unwrap().best.keeps()
        };
        let of = |places: &[usize]| places.iter().map(|place| problem.wishes[*place]).collect::<Vec<_>>();
        assert!(!with(of(&said.wishes)));
        for left_out in &said.wishes {
            let rest: Vec<usize> = said.wishes.iter().copied().filter(|place| place != left_out).collect();
            assert!(with(of(&rest)), "{:?} without {left_out}", said.wishes);
        }
    }
}

/// Fewest wishes that no point of the grid keeps together, by looking at every point for every set.
fn fewest(problem: &Problem, oracle: &dyn Oracle) -> usize {
    let [across, upright] = [0, 1].map(|place| {
        let part = &problem.space.parts[place];
        let step = part.step.unwrap();
        let count = ((part.high - part.low) / step).round() as usize;
        (0..=count).map(move |at| part.low + step * at as f64).collect::<Vec<_>>()
    });
    let kept: Vec<u32> = across
        .iter()
        .flat_map(|x| upright.iter().map(move |y| [*x, *y]))
        .map(|at| {
            let readings = oracle.readings(&at).unwrap();
            let kept = problem
                .wishes
                .iter()
                .enumerate()
                .filter(|(_, wish)| wish.missed(readings[wish.reading]) <= 1e-6);
            kept.fold(0, |bits, (place, _)| bits | (1 << place))
        })
        .collect();
    let sets = 1..(1_u32 << problem.wishes.len());
    let contradicts = sets.filter(|set| kept.iter().all(|kept| kept & set != *set));
    contradicts.map(u32::count_ones).min().unwrap() as usize
}

#[test]
fn no_fewer_wishes_contradict_than_are_named() {
    // Seven wishes on a grid of 21 by 21 whole steps, straight readings with whole slopes: two or more contradictions beside each other, so
    // that the one the order of wishes leads to is often not the smallest.
    let mut larger = 0;
    let mut looked = 0;
    for case in 0..60_u64 {
        let mut state = 977 + case;
        let mut draw = |most: u64| {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (state >> 33) % most
        };
        let slopes: Vec<Vec<f64>> =
            (0..7).map(|_| vec![draw(7) as f64 - 3.0, draw(7) as f64 - 3.0]).collect();
        let wishes = (0..7)
            .map(|reading| {
                // Each alone can be had: its limit lies within what the reading reaches.
                let end = |sign: f64| {
                    slopes[reading].iter().map(|slope| sign * (sign * slope).max(0.0) * 20.0).sum::<f64>()
                };
                let (low, high) = (end(-1.0), end(1.0));
                let share = (draw(8) + 3) as f64 / 10.0;
                if draw(2) == 0 {
                    wish(reading, Some((low + share * (high - low)).round()), None)
                } else {
                    wish(reading, None, Some((high - share * (high - low)).round()))
                }
            })
            .collect();
        let whole = |_| Part { low: 0.0, high: 20.0, step: Some(1.0), may_be_off: false };
        let space = Space { parts: (0..2).map(whole).collect(), ..Space::default() };
        let problem = Problem { space, aim: Aim::Nothing, wishes };
        let oracle = Sums(slopes);
        let Some(said) =
            conflict(&problem, &oracle, &[10.0, 10.0], &Effort::default(), &mut |_, _| true).unwrap()
        else {
            continue;
        };
        looked += 1;
        assert!(said.straight && said.whole && said.smallest, "case {case}: {said:?}");
        assert_eq!(said.wishes.len(), fewest(&problem, &oracle), "case {case}: {said:?}");
        larger += usize::from(said.wishes.len() >= 2);
    }
    assert!(looked >= 30 && larger >= 10, "{looked} contradictions, {larger} of two wishes or more");
}

#[test]
fn an_ended_search_names_no_contradiction_as_whole() {
    let space = Space { parts: vec![part(0.0, 3.0), part(0.0, 9.0)], ..Space::default() };
    let wishes = vec![wish(0, Some(40.0), None), wish(1, None, Some(1.0)), wish(1, Some(2.0), None)];
    let problem = Problem { space, aim: Aim::Nothing, wishes };
    let oracle = Sums(vec![vec![2.0, 3.0], vec![1.0, 1.0]]);
    let whole =
        conflict(&problem, &oracle, &[1.0, 1.0], &Effort::default(), &mut |_, _| true).unwrap().unwrap();
    assert!(whole.whole && whole.smallest);
    // 2 a + 3 b reaches 33 at most: one wish alone.
    assert_eq!(whole.wishes, [0]);
    // Wherever it is ended, it does not claim more than it looked at.
    let mut cut_short = 0;
    for most in 1..200 {
        let found = conflict(&problem, &oracle, &[1.0, 1.0], &Effort::default(), &mut |read, _| read < most);
        let Ok(Some(found)) = found else { continue };
        assert!(found.whole || !found.smallest, "ended after {most}: {found:?}");
        assert!(!found.smallest || found.wishes == [0], "ended after {most}: {found:?}");
        cut_short += usize::from(!found.whole);
    }
    assert!(cut_short > 0);
}

#[test]
fn what_a_limit_buys_is_what_solving_again_finds() {
    // 2 a + 3 b least with a + b >= 4 and a <= 3: a = 3, b = 1; one more of a buys one.
    let space = Space { parts: vec![part(0.0, 3.0), part(0.0, 9.0)], ..Space::default() };
    let problem = Problem { space, aim: least(1.0), wishes: vec![wish(1, Some(4.0), None)] };
    let oracle = Sums(vec![vec![2.0, 3.0], vec![1.0, 1.0]]);
    let best = asked(&problem, &oracle, &[1.0, 5.0]).best;
    assert!((best.aim - 9.0).abs() < 1e-6, "{best:?}");
    let (found, _) = bindings(&problem, &oracle, &best, &Effort::default(), &mut |_, _| true).unwrap();
    let gain = |bound: Bound| {
        let one = found.iter().find(|one| one.bound == bound).unwrap();
        one.gain / one.moved
    };
    assert!((gain(Bound::Wish(0, Side::Low)) - 3.0).abs() < 1e-6);
    assert!((gain(Bound::Part(0, Side::High)) - 1.0).abs() < 1e-6);
    assert_eq!(found.len(), 2);
}

#[test]
fn a_front_of_two_straight_aims_is_the_line_between_its_ends() {
    // Both least, together at least one: every point of the line a + b = 1.
    let space = Space { parts: vec![part(0.0, 1.0), part(0.0, 1.0)], ..Space::default() };
    let problem = Problem { space, aim: Aim::Nothing, wishes: vec![wish(2, Some(1.0), None)] };
    let oracle = Sums(vec![vec![1.0, 0.0], vec![0.0, 1.0], vec![1.0, 1.0]]);
    let aims = [0, 1].map(|reading| Aim::Reading { reading, most: false, scale: 1.0 });
    let found =
        front(&problem, &aims, 4, &oracle, &[0.5, 0.9], &Effort::default(), &mut |_, _| true).unwrap();
    assert_eq!(found.points.len(), 6, "{:?}", found.points);
    for (point, aims) in &found.points {
        assert!((point.at[0] + point.at[1] - 1.0).abs() < 1e-6, "{aims:?}");
    }
    assert!((found.widest_gap - 0.2).abs() < 1e-3);
    // A curved front: a circle about the origin from outside, a^2 + b^2 >= 1.
    let circle = By(|x: &[f64]| vec![x[0], x[1], x[0] * x[0] + x[1] * x[1]]);
    let found =
        front(&problem, &aims, 5, &circle, &[0.5, 0.9], &Effort::default(), &mut |_, _| true).unwrap();
    assert!(found.points.len() >= 6);
    for (_, aims) in &found.points {
        assert!((aims[0] * aims[0] + aims[1] * aims[1] - 1.0).abs() < 1e-4, "{aims:?}");
    }
}

#[test]
fn a_front_that_is_ended_keeps_what_it_found() {
    let space = Space { parts: vec![part(0.0, 1.0), part(0.0, 1.0)], ..Space::default() };
    let problem = Problem { space, aim: Aim::Nothing, wishes: vec![wish(2, Some(1.0), None)] };
    let circle = By(|x: &[f64]| vec![x[0], x[1], x[0] * x[0] + x[1] * x[1]]);
    let aims = [0, 1].map(|reading| Aim::Reading { reading, most: false, scale: 1.0 });
    let ended = |most: usize| {
        let mut read = 0;
        let mut watch = |_, _| {
            read += 1;
            read < most
        };
        front(&problem, &aims, 5, &circle, &[0.5, 0.9], &Effort::default(), &mut watch)
    };
    let mut before = 0;
    for most in 1..400 {
        match ended(most) {
            Ok(found) => {
                assert!(before == 0 || !found.points.is_empty(), "{most}: what was found is lost");
                assert!(found.points.iter().all(|(point, _)| point.keeps()), "{most}");
                before = before.max(found.points.len());
            }
            Err(SearchError::Ended) => assert_eq!(before, 0, "{most}: what was found is lost"),
            Err(other) => panic!("{most}: {other}"),
        }
    }
    assert!(before >= 2);
}

#[test]
fn a_front_of_three_aims_is_on_the_front_of_the_whole_grid() {
    // Three bent aims over a grid of 13 by 13 by 13 points: what is found is beaten by no point of the grid, and every corner of the grid's
    // own front (the best in one aim) is found.
    let bent = |at: &[f64]| {
        let [a, b, c] = [at[0] - 2.0, at[1] - 9.0, at[2] - 6.0];
        vec![
            a * a + 0.5 * at[1] + 0.2 * at[2],
            b * b + 0.3 * at[0] * at[2],
            c * c + 0.5 * (at[0] - at[1]).abs() + 0.2 * at[0],
            at[0] + at[1] + at[2],
        ]
    };
    let whole = |_| Part { low: 0.0, high: 12.0, step: Some(1.0), may_be_off: false };
    let space = Space { parts: (0..3).map(whole).collect(), ..Space::default() };
    let problem = Problem { space, aim: Aim::Nothing, wishes: vec![wish(3, Some(10.0), Some(24.0))] };
    let aims: Vec<Aim> = (0..3).map(|reading| Aim::Reading { reading, most: false, scale: 10.0 }).collect();
    let oracle = By(bent);
    let effort = Effort { others: 0, ..Effort::default() };
    let found = front(&problem, &aims, 3, &oracle, &[6.0, 6.0, 6.0], &effort, &mut |_, _| true).unwrap();
    let grid: Vec<Vec<f64>> = (0..13_u32.pow(3))
        .map(|place| [place % 13, place / 13 % 13, place / 169].map(f64::from))
        .map(|at| bent(&at))
        .filter(|readings| (10.0..=24.0).contains(&readings[3]))
        .map(|readings| readings[..3].to_vec())
        .collect();
    assert!(found.points.len() >= 8, "{}", found.points.len());
    for (point, _) in &found.points {
        assert!(point.keeps());
        let own = &point.readings[..3];
        let beaten = grid.iter().find(|other| {
            other.iter().zip(own).all(|(other, own)| other <= &(own + 1e-9))
                && other.iter().zip(own).any(|(other, own)| other < &(own - 1e-6))
        });
        assert!(beaten.is_none(), "{own:?} is beaten by {beaten:?}");
    }
    for aim in 0..3 {
        let best = grid.iter().map(|one| one[aim]).fold(f64::INFINITY, f64::min);
        let reached = found.points.iter().map(|(point, _)| point.readings[aim]).fold(f64::INFINITY, f64::min);
        assert!((best - reached).abs() < 1e-9, "aim {aim}: {reached} for {best}");
    }
}

#[test]
fn what_cannot_be_asked_is_refused_and_an_end_is_kept() {
    let oracle = Sums(vec![vec![1.0]]);
    let space = |part| Space { parts: vec![part], ..Space::default() };
    let none = Part { low: 0.01, high: 0.04, step: Some(0.05), may_be_off: false };
    let problem = Problem { space: space(none), aim: least(1.0), wishes: Vec::new() };
    let effort = Effort::default();
    assert_eq!(
        answers(&problem, &oracle, &[0.02], &effort, &mut |_, _| true),
        Err(SearchError::NoPlace { part: 0 })
    );
    struct Never;
    impl Oracle for Never {
        fn readings(&self, _: &[f64]) -> Option<Vec<f64>> {
            None
        }
    }
    let problem = Problem { space: space(part(0.0, 1.0)), aim: least(1.0), wishes: Vec::new() };
    assert!(matches!(
        answers(&problem, &Never, &[0.5], &effort, &mut |_, _| true),
        Err(SearchError::Unreadable { .. })
    ));
    let ended = answers(&problem, &oracle, &[0.5], &effort, &mut |_, _| false);
    assert!(ended.is_err() || ended.is_ok_and(|found| found.ended));
}

/// Curved readings over a few parts: a price, something like a pH, something like a viscosity.
fn curved(at: &[f64]) -> Vec<f64> {
    let [a, b, c] = [at[0], at[1], at[2]];
    vec![
        3.0 * a + 8.0 * b + 20.0 * c,
        5.0 + (0.2 + a).ln() - 0.3 * b,
        100.0 * (0.4 * b + 2.0 * c + 0.3 * b * c).exp(),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 32, ..ProptestConfig::default() })]

    /// No wish is ever broken, giving way never makes the aim worse, the order of the parts does not matter, steps are kept; and no point
    /// of the whole grid is better.
    #[test]
    fn laws_on_a_grid(least_ph in 3.8_f64..5.4, thick in 150.0_f64..900.0, switch in any::<bool>()) {
        let step = Some(0.25);
        let parts = vec![
            Part { low: 0.25, high: 2.5, step, may_be_off: false },
            Part { low: 0.5, high: 2.0, step, may_be_off: switch },
            Part { low: 0.25, high: 1.0, step, may_be_off: true },
        ];
        let of = |least_ph: f64| Problem {
            space: Space { parts: parts.clone(), ..Space::default() },
            aim: least(10.0),
            wishes: vec![
                Wish { reading: 1, low: Some(least_ph), high: None, scale: 0.1, give: 0.1 },
                Wish { reading: 2, low: Some(thick), high: Some(3.0 * thick), scale: 50.0, give: 50.0 },
            ],
        };
        let problem = of(least_ph);
        let oracle = By(curved);
        let start = [1.0, 1.0, 0.5];
        let found = asked(&problem, &oracle, &start);
        let places = |place: usize| -> Vec<f64> {
            let part = parts[place];
            let count = ((part.high - part.low) / 0.25).round() as usize;
            let on = (0..=count).map(|k| part.low + 0.25 * k as f64);
            if part.may_be_off { std::iter::once(0.0).chain(on).collect() } else { on.collect() }
        };
        let mut grid = f64::INFINITY;
        for a in places(0) { for b in places(1) { for c in places(2) {
            let point = problem.judged(vec![a, b, c], curved(&[a, b, c]));
            if point.keeps() { grid = grid.min(point.aim); }
        } } }
        if grid.is_finite() {
            prop_assert!(found.best.keeps());
            prop_assert!((found.best.aim - grid).abs() < 1e-9, "{} for {grid}: {:?}", found.best.aim, found.best);
            let given = asked(&of(least_ph - 0.2), &oracle, &start);
            prop_assert!(given.best.aim <= found.best.aim + 1e-12);
        } else {
            prop_assert!(!found.best.keeps());
        }
        for other in found.others.iter().chain([&found.best]) {
            prop_assert!(found.others.is_empty() || other.keeps());
            for (value, part) in other.at.iter().zip(&parts) {
                prop_assert!((value / 0.25 - (value / 0.25).round()).abs() < 1e-9);
                prop_assert!(*value == 0.0 && part.may_be_off || (part.low..=part.high).contains(value));
            }
        }
        let mirrored = Problem {
            space: Space { parts: parts.iter().rev().copied().collect(), ..Space::default() },
            ..problem.clone()
        };
        let other = By(|at: &[f64]| curved(&[at[2], at[1], at[0]]));
        let turned = asked(&mirrored, &other, &[0.5, 1.0, 1.0]);
        prop_assert!(turned.best.keeps() == found.best.keeps());
        if turned.best.keeps() {
            prop_assert!((turned.best.aim - found.best.aim).abs() < 1e-9);
        }
    }
}
