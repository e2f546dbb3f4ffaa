//! Two or three aims against each other: points of which none is better than another in every aim.
//!
//! Each aim alone gives the ends; between them all aims but the first are held to a limit and the first is sought (epsilon constraint,
//! Haimes, Lasdon and Wismer, IEEE Trans. Syst. Man Cybern. 1 (1971) 296, from memory). A trifle of the other aims is sought with it, so that of
//! points alike in the first the one comes that no other beats (Mavrotas, Appl. Math. Comput. 213 (2009) 455, from memory). Points that another
//! one beats are left out.

use super::answers::Effort;
use super::climb::Search;
use super::space::{Aim, Oracle, Point, Problem, SearchError, Watch, Wish};

/// Aims of a point are the same below this share of their spread.
const SAME: f64 = 1e-6;
/// What the other aims weigh beside the one that is sought, each in its scale.
const TRIFLE: f64 = 1e-4;

/// Points none of which is beaten in every aim.
#[derive(Clone, Debug, PartialEq)]
pub struct Front {
    /// Points, the best in the first aim first, with their aims (each to be made small, in its scale).
    pub points: Vec<(Point, Vec<f64>)>,
    /// Largest gap between neighbours in one aim, as a share of its spread; the front may hide something there.
    pub widest_gap: f64,
    /// Points that were read.
    pub read: usize,
    /// It was ended before its time.
    pub ended: bool,
}

/// Finds the front of `problem` over `aims` (its own aim is not looked at), with so many limits per aim held.
///
/// # Errors
/// [`SearchError`]; where no point keeps all wishes, the front is empty.
pub fn front<'s>(
    problem: &Problem,
    aims: &[Aim],
    count: usize,
    oracle: &'s dyn Oracle,
    start: &[f64],
    effort: &Effort,
    watch: &'s mut Watch<'s>,
) -> Result<Front, SearchError> {
    let mut search = Search { oracle, watch, read: 0, best: None, ended: false };
    let effort = Effort { others: 0, ..*effort };
    let of =
        |point: &Point| -> Vec<f64> { aims.iter().map(|aim| aim.of(&point.at, &point.readings)).collect() };
    let with = |aim: usize, held: Vec<Wish>| {
        let wishes = problem.wishes.iter().copied().chain(held).collect();
        Problem { space: problem.space.clone(), aim: sought(aims, aim), wishes }
    };
    let mut points: Vec<Point> = Vec::new();
    let mut from = start.to_vec();
    for aim in 0..aims.len() {
        let end = match search.answers(&with(aim, Vec::new()), &from, &effort) {
            // What was found before it was ended stays found.
            Err(SearchError::Ended) if !points.is_empty() => break,
            end => end?,
        };
        if !end.best.keeps() {
            return Ok(Front { points: Vec::new(), widest_gap: 0.0, read: search.read, ended: search.ended });
        }
        from.clone_from(&end.best.at);
        points.push(problem.judged(end.best.at, end.best.readings));
    }
    let ends: Vec<Vec<f64>> = points.iter().map(of).collect();
    let spread = |aim: usize| {
        let values = ends.iter().map(|end| end[aim]);
        [values.clone().fold(f64::INFINITY, f64::min), values.fold(f64::NEG_INFINITY, f64::max)]
    };
    let spreads: Vec<[f64; 2]> = (0..aims.len()).map(spread).collect();
    for limits in ladder(&spreads[1..], count) {
        if search.ended {
            break;
        }
        let held = limits.iter().zip(&aims[1..]).filter_map(|(limit, aim)| held(aim, *limit)).collect();
        let asked = with(0, held);
        let near = nearest(&points, &limits, &of);
        let Ok(answer) = search.answers(&asked, &near, &effort) else { continue };
        if answer.best.keeps() {
            points.push(problem.judged(answer.best.at, answer.best.readings));
        }
    }
    let mut points: Vec<(Point, Vec<f64>)> =
        points.into_iter().map(|point| (of(&point), point)).map(|(aims, point)| (point, aims)).collect();
    points = unbeaten(points, &spreads);
    points.sort_by(|a, b| a.1[0].total_cmp(&b.1[0]).then_with(|| b.1[1].total_cmp(&a.1[1])));
    let widest_gap = widest_gap(&points, &spreads);
    Ok(Front { points, widest_gap, read: search.read, ended: search.ended })
}

/// One aim, with a trifle of the others.
fn sought(aims: &[Aim], which: usize) -> Aim {
    let weighed = aims.iter().enumerate().map(|(place, aim)| match aim {
        Aim::Reading { reading, most, scale } => {
            let weight = if place == which { 1.0 } else { TRIFLE };
            Some((*reading, if *most { -weight } else { weight } / scale))
        }
        _ => None,
    });
    weighed.collect::<Option<Vec<_>>>().map_or_else(|| aims[which].clone(), Aim::Readings)
}

/// An aim that may be no worse than this.
fn held(aim: &Aim, limit: f64) -> Option<Wish> {
    let Aim::Reading { reading, most, scale } = aim else { return None };
    let value = if *most { -limit * scale } else { limit * scale };
    Some(Wish {
        reading: *reading,
        low: most.then_some(value),
        high: (!most).then_some(value),
        scale: *scale,
        give: *scale,
    })
}

/// Limits between the ends, evenly; every pair where two aims are held.
fn ladder(spreads: &[[f64; 2]], count: usize) -> Vec<Vec<f64>> {
    #[expect(clippy::cast_precision_loss, reason = "a few limits")]
    let rungs = |[low, high]: [f64; 2]| -> Vec<f64> {
        (1..=count).map(|rung| low + (high - low) * rung as f64 / (count + 1) as f64).collect()
    };
    let mut all: Vec<Vec<f64>> = vec![Vec::new()];
    for (place, spread) in spreads.iter().enumerate() {
        let mut here = rungs(*spread);
        // Where two are held, one may also stand at its worst.
        if spreads.len() > 1 || place > 0 {
            here.push(spread[1]);
        }
        all = all
            .into_iter()
            .flat_map(|limits| here.iter().map(move |rung| [limits.clone(), vec![*rung]].concat()))
            .collect();
    }
    all
}

/// The point so far whose held aims are nearest to the limits.
fn nearest(points: &[Point], limits: &[f64], of: &impl Fn(&Point) -> Vec<f64>) -> Vec<f64> {
    let distance = |point: &Point| -> f64 {
        of(point)[1..].iter().zip(limits).map(|(aim, limit)| (aim - limit).abs()).sum()
    };
    let best = points.iter().min_by(|a, b| distance(a).total_cmp(&distance(b)));
    best.map(|point| point.at.clone()).unwrap_or_default()
}

fn unbeaten(points: Vec<(Point, Vec<f64>)>, spreads: &[[f64; 2]]) -> Vec<(Point, Vec<f64>)> {
    let slack: Vec<f64> = spreads.iter().map(|[low, high]| SAME * (high - low).max(1e-9)).collect();
    let mut kept: Vec<(Point, Vec<f64>)> = Vec::new();
    for (place, (point, aims)) in points.iter().enumerate() {
        let beaten = points.iter().enumerate().any(|(other, (_, theirs))| {
            let no_worse =
                theirs.iter().zip(aims).zip(&slack).all(|((theirs, own), slack)| *theirs <= own + slack);
            let better =
                theirs.iter().zip(aims).zip(&slack).any(|((theirs, own), slack)| *theirs < own - slack);
            // Of two that are alike the first stays.
            other != place && no_worse && (better || other < place)
        });
        if !beaten {
            kept.push((point.clone(), aims.clone()));
        }
    }
    kept
}

fn widest_gap(points: &[(Point, Vec<f64>)], spreads: &[[f64; 2]]) -> f64 {
    let mut widest: f64 = 0.0;
    for (aim, [low, high]) in spreads.iter().enumerate() {
        let mut values: Vec<f64> = points.iter().map(|(_, aims)| aims[aim]).collect();
        values.sort_by(f64::total_cmp);
        for pair in values.windows(2) {
            widest = widest.max((pair[1] - pair[0]) / (high - low).max(1e-12));
        }
    }
    widest
}
