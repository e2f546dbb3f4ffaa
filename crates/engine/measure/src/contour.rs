//! Lines of equal height over a plane laid out in triangles.
//!
//! Within a triangle the height is taken as the plane through its three corners, so that a line of equal height is straight there; of a plane
//! it is exact, of a curved surface it comes nearer with the square of the step. A region is cut out by straight sides, and what is drawn
//! ends on them. Cases: the tests here (plane and paraboloid by hand: lengths, areas).

use std::collections::BTreeMap;

/// A place of the plane.
pub type Point = [f64; 2];

/// Places nearer than this are one, in units of the plane.
const SAME: f64 = 1e-7;
/// Pieces smaller than this are nothing.
const NOTHING: f64 = 1e-13;

/// A straight side: kept is where `a x + b y + c` is not below nothing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Side([f64; 3]);

impl Side {
    /// The side of a quantity that is straight over the plane, by its values at three places that do not lie on a line.
    #[must_use]
    pub fn through([p, q, r]: [Point; 3], [at_p, at_q, at_r]: [f64; 3]) -> Self {
        let (ax, ay, bx, by) = (q[0] - p[0], q[1] - p[1], r[0] - p[0], r[1] - p[1]);
        let twice = ax * by - ay * bx;
        let (f, g) = (at_q - at_p, at_r - at_p);
        let (a, b) = ((f * by - g * ay) / twice, (g * ax - f * bx) / twice);
        Self([a, b, at_p - a * p[0] - b * p[1]])
    }

    /// The quantity at a place.
    #[must_use]
    pub fn at(self, [x, y]: Point) -> f64 {
        let Self([a, b, c]) = self;
        a * x + b * y + c
    }
}

/// What is left of an outline on one side; nothing where all of it lies beyond.
#[must_use]
pub fn cut(outline: &[Point], side: Side) -> Vec<Point> {
    let mut kept = Vec::with_capacity(outline.len() + 1);
    for (place, here) in outline.iter().enumerate() {
        let next = outline[(place + 1) % outline.len()];
        let (own, other) = (side.at(*here), side.at(next));
        if own >= -1e-12 {
            kept.push(*here);
        }
        if (own > 1e-12 && other < -1e-12) || (own < -1e-12 && other > 1e-12) {
            kept.push(between(*here, next, own / (own - other)));
        }
    }
    kept
}

/// Area of an outline.
#[must_use]
pub fn area(outline: &[Point]) -> f64 {
    let last = outline.len().wrapping_sub(1);
    let turned = outline.iter().enumerate().map(|(place, [x, y])| {
        let [px, py] = outline[if place == 0 { last } else { place - 1 }];
        px * y - x * py
    });
    0.5 * turned.sum::<f64>().abs()
}

/// Length of a line.
#[must_use]
pub fn length(line: &[Point]) -> f64 {
    line.windows(2).map(|pair| away(pair[0], pair[1])).sum()
}

fn between([x, y]: Point, [to_x, to_y]: Point, share: f64) -> Point {
    [x + share * (to_x - x), y + share * (to_y - y)]
}

fn away([x, y]: Point, [to_x, to_y]: Point) -> f64 {
    ((to_x - x) * (to_x - x) + (to_y - y) * (to_y - y)).sqrt()
}

/// A plane laid out in triangles.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Mesh {
    /// Places.
    pub points: Vec<Point>,
    /// Corners of every triangle.
    pub triangles: Vec<[usize; 3]>,
}

/// A mesh in the making.
#[derive(Default)]
struct Laying {
    mesh: Mesh,
    known: BTreeMap<[i64; 2], usize>,
}

impl Laying {
    fn point(&mut self, at: Point) -> usize {
        #[expect(clippy::cast_possible_truncation, reason = "the plane is a few units wide")]
        let key = at.map(|x| (x / SAME).round() as i64);
        *self.known.entry(key).or_insert_with(|| {
            self.mesh.points.push(at);
            self.mesh.points.len() - 1
        })
    }

    /// A triangle as far as it lies within all sides.
    fn triangle(&mut self, corners: [Point; 3], sides: &[Side]) {
        let mut outline = corners.to_vec();
        for side in sides {
            outline = cut(&outline, *side);
        }
        for place in 1..outline.len().saturating_sub(1) {
            let piece = [outline[0], outline[place], outline[place + 1]];
            if area(&piece) > NOTHING {
                let places = piece.map(|at| self.point(at));
                if places[0] != places[1] && places[1] != places[2] && places[0] != places[2] {
                    self.mesh.triangles.push(places);
                }
            }
        }
    }
}

impl Mesh {
    /// A triangle in steps, as far as it lies within all sides.
    #[must_use]
    pub fn of_triangle([a, b, c]: [Point; 3], steps: u32, sides: &[Side]) -> Self {
        let mut laying = Laying::default();
        let step = 1.0 / f64::from(steps.max(1));
        let at = |i: u32, j: u32| {
            let (along, across) = (f64::from(i) * step, f64::from(j) * step);
            [0, 1].map(|of| a[of] + along * (b[of] - a[of]) + across * (c[of] - a[of]))
        };
        for i in 0..steps {
            for j in 0..steps - i {
                laying.triangle([at(i, j), at(i + 1, j), at(i, j + 1)], sides);
                if i + j + 1 < steps {
                    laying.triangle([at(i + 1, j), at(i + 1, j + 1), at(i, j + 1)], sides);
                }
            }
        }
        laying.mesh
    }

    /// The square of unit side in steps, as far as it lies within all sides.
    #[must_use]
    pub fn of_square(steps: u32, sides: &[Side]) -> Self {
        let mut laying = Laying::default();
        let at = |i: u32, j: u32| [i, j].map(|place| f64::from(place) / f64::from(steps.max(1)));
        for i in 0..steps {
            for j in 0..steps {
                let [low, right, far, up] = [at(i, j), at(i + 1, j), at(i + 1, j + 1), at(i, j + 1)];
                // Diagonals in turn, so that no direction is preferred.
                let halves = if (i + j) % 2 == 0 {
                    [[low, right, far], [low, far, up]]
                } else {
                    [[low, right, up], [right, far, up]]
                };
                for half in halves {
                    laying.triangle(half, sides);
                }
            }
        }
        laying.mesh
    }

    /// The lines on which the height is `level`, each from end to end; a closed one ends where it begins. `heights` has one for every point.
    #[must_use]
    pub fn lines(&self, heights: &[f64], level: f64) -> Vec<Vec<Point>> {
        let mut crossings = Crossings::new();
        for triangle in &self.triangles {
            if !triangle.iter().all(|place| heights.get(*place).is_some_and(|height| height.is_finite())) {
                continue;
            }
            let crossed: Vec<(usize, usize)> = [(0, 1), (1, 2), (2, 0)]
                .into_iter()
                .map(|(one, other)| (triangle[one], triangle[other]))
                .filter(|(one, other)| (heights[*one] >= level) != (heights[*other] >= level))
                .map(|(one, other)| (one.min(other), one.max(other)))
                .collect();
            let [first, second] = crossed[..] else { continue };
            for (own, other) in [(first, second), (second, first)] {
                let (low, high) = (heights[own.0], heights[own.1]);
                let at = between(self.points[own.0], self.points[own.1], (level - low) / (high - low));
                crossings.entry(own).or_insert_with(|| (at, Vec::new())).1.push(other);
            }
        }
        joined(crossings)
    }

    /// What lies from `low` up to `high`, as outlines of its pieces.
    #[must_use]
    pub fn band(&self, heights: &[f64], low: f64, high: f64) -> Vec<Vec<Point>> {
        let piece = |triangle: &[usize; 3]| {
            let own = triangle.map(|place| heights.get(place).copied().unwrap_or(f64::NAN));
            if !own.iter().all(|height| height.is_finite()) {
                return None;
            }
            let corners = triangle.map(|place| self.points[place]);
            let (least, most) =
                own.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), x| (l.min(*x), h.max(*x)));
            if least >= low && most <= high {
                return Some(corners.to_vec());
            }
            if most < low || least > high {
                return None;
            }
            let above = Side::through(corners, own.map(|height| height - low));
            let below = Side::through(corners, own.map(|height| high - height));
            let left = cut(&cut(&corners, above), below);
            (left.len() > 2 && area(&left) > NOTHING).then_some(left)
        };
        self.triangles.iter().filter_map(piece).collect()
    }
}

/// An edge between two points.
type Edge = (usize, usize);
/// Where a line crosses edges, and which edges it crosses next to each.
type Crossings = BTreeMap<Edge, (Point, Vec<Edge>)>;

/// Crossings of edges put in a row, open lines first.
fn joined(mut crossings: Crossings) -> Vec<Vec<Point>> {
    let mut lines = Vec::new();
    for ends_only in [true, false] {
        let starts: Vec<(usize, usize)> = crossings
            .iter()
            .filter(|(_, (_, others))| !ends_only || others.len() == 1)
            .map(|(edge, _)| *edge)
            .collect();
        for start in starts {
            let Some((at, others)) = crossings.remove(&start) else { continue };
            let mut line = vec![at];
            let mut next = others.into_iter().find(|edge| crossings.contains_key(edge));
            while let Some(edge) = next {
                let Some((at, others)) = crossings.remove(&edge) else { break };
                line.push(at);
                next = others.into_iter().find(|edge| crossings.contains_key(edge));
            }
            if !ends_only {
                line.push(at);
            }
            if line.len() > 1 {
                lines.push(line);
            }
        }
    }
    lines
}

/// Round numbers between two heights, about as many as wanted: 1, 2, 2.5 or 5 times a power of ten apart.
#[must_use]
pub fn levels(low: f64, high: f64, wanted: f64) -> Vec<f64> {
    use crate::elementary::Elementary as _;
    let wide = high - low;
    if !(wide > 1e-9 * low.abs().max(high.abs()) && wide.is_finite() && wanted >= 1.0) {
        return Vec::new();
    }
    let rough = wide / wanted;
    let power = 10.0_f64.to_the(rough.log_10().floor());
    let factors = [1.0, 2.0, 2.5, 5.0, 10.0];
    let step = factors.into_iter().map(|factor| factor * power).find(|step| *step >= 0.999 * rough);
    let step = step.unwrap_or(10.0 * power);
    let first = (low / step).ceil();
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a dozen or two")]
    let count = ((high / step).floor() - first + 1.0).clamp(0.0, 100.0) as u32;
    (0..count).map(|place| (first + f64::from(place)) * step).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    const HIGH: f64 = 0.866_025_403_784_438_6;
    const TRIANGLE: [Point; 3] = [[0.5, HIGH], [0.0, 0.0], [1.0, 0.0]];

    fn heights(mesh: &Mesh, of: impl Fn(Point) -> f64) -> Vec<f64> {
        mesh.points.iter().map(|point| of(*point)).collect()
    }

    #[test]
    fn of_a_plane_lines_and_areas_are_exact() {
        let mesh = Mesh::of_triangle(TRIANGLE, 13, &[]);
        let whole: f64 = mesh.triangles.iter().map(|piece| area(&piece.map(|at| mesh.points[at]))).sum();
        assert!((whole - 0.5 * HIGH).abs() < 1e-12);
        // The share of the first part: a line across at half the height is half as long as the base, and cuts a quarter of the area off.
        let share = heights(&mesh, |[_, y]| y / HIGH);
        let lines = mesh.lines(&share, 0.5);
        assert_eq!(lines.len(), 1);
        assert!((length(&lines[0]) - 0.5).abs() < 1e-12 && lines[0].len() > 7);
        assert!(lines[0].iter().all(|[_, y]| (y - 0.5 * HIGH).abs() < 1e-12));
        let above: f64 = mesh.band(&share, 0.5, 2.0).iter().map(|piece| area(piece)).sum();
        assert!((above - 0.125 * HIGH).abs() < 1e-12);
        // Aslant, by hand: x - y = 0.3 enters the square at (0.3, 0) and leaves it at (1, 0.7).
        let square = Mesh::of_square(10, &[]);
        let slant = heights(&square, |[x, y]| x - y);
        let lines = square.lines(&slant, 0.3);
        assert!((length(&lines[0]) - 0.7 * 2.0_f64.sqrt()).abs() < 1e-12);
        let below: f64 = square.band(&slant, -1.0, 0.3).iter().map(|piece| area(piece)).sum();
        assert!((below - (1.0 - 0.5 * 0.7 * 0.7)).abs() < 1e-12);
        assert!(square.lines(&slant, 3.0).is_empty() && square.band(&slant, 3.0, 4.0).is_empty());
    }

    #[test]
    fn of_a_paraboloid_they_come_nearer_with_the_square_of_the_step() {
        let radius = 0.35;
        let missed = |steps: u32| {
            let mesh = Mesh::of_square(steps, &[]);
            let bowl = heights(&mesh, |[x, y]| (x - 0.5) * (x - 0.5) + (y - 0.5) * (y - 0.5));
            let lines = mesh.lines(&bowl, radius * radius);
            assert_eq!(lines.len(), 1, "one closed line");
            assert_eq!(lines[0].first(), lines[0].last());
            let around = 2.0 * std::f64::consts::PI * radius;
            let within: f64 = mesh.band(&bowl, 0.0, radius * radius).iter().map(|one| area(one)).sum();
            let circle = std::f64::consts::PI * radius * radius;
            [(length(&lines[0]) - around).abs() / around, (within - circle).abs() / circle]
        };
        let (coarse, fine) = (missed(20), missed(40));
        for of in 0..2 {
            assert!(fine[of] < 3e-3 && fine[of] < 0.4 * coarse[of], "{coarse:?} {fine:?}");
        }
    }

    #[test]
    fn a_region_is_cut_out_by_its_sides() {
        // No more than half of the first part, at least a tenth of the third: corners by hand.
        let first = Side::through(TRIANGLE, [-0.5, 0.5, 0.5]);
        let third = Side::through(TRIANGLE, [-0.1, -0.1, 0.9]);
        let outline = cut(&cut(&TRIANGLE, first), third);
        assert_eq!(outline.len(), 4);
        // 1 less the tip (1/4) less the strip along the second corner, (1 - 0.9^2), and the tip they share, 0.25 - 0.16.
        let expected = 0.5 * HIGH * (1.0 - 0.25 - 0.19 + 0.09);
        assert!((area(&outline) - expected).abs() < 1e-12);
        let mesh = Mesh::of_triangle(TRIANGLE, 17, &[first, third]);
        let whole: f64 = mesh.triangles.iter().map(|piece| area(&piece.map(|at| mesh.points[at]))).sum();
        assert!((whole - expected).abs() < 1e-10);
        // A line goes through without a break, however the sides cut the triangles.
        let share = heights(&mesh, |[_, y]| y / HIGH);
        assert_eq!(mesh.lines(&share, 0.23).len(), 1);
        assert!(cut(&TRIANGLE, Side::through(TRIANGLE, [-1.0, -1.0, -1.0])).is_empty());
    }

    #[test]
    fn levels_are_round() {
        assert_eq!(levels(0.0, 1.0, 5.0), [0.0, 0.2, 0.4, 0.6000000000000001, 0.8, 1.0]);
        assert_eq!(levels(3.1, 6.9, 4.0), [4.0, 5.0, 6.0]);
        assert!(levels(2.0, 2.0, 5.0).is_empty() && levels(f64::NAN, 1.0, 5.0).is_empty());
    }
}
