//! What the models say over three parts of the region, over two axes or along one, all else held: heights to draw lines of.
//!
//! Three parts span a triangle, the others held: a corner is as much of one part as the others' least leave. Two settings, or a mixture of two
//! parts and a setting, span a square; one of them alone a line.

use super::{AnalysisError, Asked, Fitted, best, fits};
use levigate_measure::contour::{Mesh, Point, Side, cut};
use levigate_measure::desirability::{Wish, together};
use levigate_measure::experiment::{Bounds, Condition, Region};

/// Steps of the triangles that lines are drawn through.
const FINE: u32 = 40;
/// Steps of the places whose numbers are told.
const TOLD: u32 = 20;
/// Half the height of the triangle of unit side, doubled: the root of three over two.
const HIGH: f64 = 0.866_025_403_784_438_6;
/// The corners of the triangle: the first part up, the second left, the third right.
pub(super) const CORNERS: [Point; 3] = [[0.5, HIGH], [0.0, 0.0], [1.0, 0.0]];
/// Levels nearer than this share of their range are the same.
const SAME: f64 = 1e-6;

impl AnalysisError {
    /// What to do about it.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            Self::Region(error) => error.hint(),
            Self::NoModel { hint, .. } => hint,
            Self::NothingSeen { .. } => "hold the others at other levels, or look across other parts",
        }
    }
}

impl std::fmt::Display for AnalysisError {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Region(error) => error.fmt(out),
            Self::NoModel { response, why, .. } => write!(out, "{response}: {why}"),
            Self::NothingSeen { why } => out.write_str(why),
        }
    }
}

/// What is varied: places among parts and settings, parts first.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Across {
    /// Three parts, up, left and right.
    Triangle([usize; 3]),
    /// One to the right, one up: settings, or a part of a mixture of two.
    Square([usize; 2]),
    /// One alone.
    Line(usize),
}

/// Where it is looked at.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Sight {
    /// What is varied; the first three parts, or what there is, where it is left out.
    pub across: Option<Across>,
    /// Levels of what is held, in the unit of the runs; the middle of the region for the others.
    pub held: Vec<(usize, f64)>,
}

/// One axis or corner.
#[derive(Clone, Debug, PartialEq)]
pub struct Along {
    /// Its place among parts and settings.
    pub place: usize,
    /// Name.
    pub name: String,
    /// Level where the others have all, or at the lower end.
    pub low: f64,
    /// Level at its corner, or at the upper end.
    pub high: f64,
}

/// What the models say at a place.
#[derive(Clone, Debug, PartialEq)]
pub struct SeenAt {
    /// Place of the plane.
    pub at: Point,
    /// Levels of all parts and settings.
    pub levels: Vec<f64>,
    /// For every response the mean, and how far the limits of the mean and of the next measurement lie from it.
    pub says: Vec<(f64, [f64; 2])>,
    /// How well the wishes are met together.
    pub worth: Option<f64>,
}

/// A run that lies in the plane.
#[derive(Clone, Debug, PartialEq)]
pub struct Mark {
    /// Its place among the runs.
    pub run: usize,
    /// Place of the plane.
    pub at: Point,
}

/// What is seen.
#[derive(Clone, Debug, PartialEq)]
pub struct Seen {
    /// What is varied.
    pub across: Across,
    /// Its corners or axes.
    pub along: Vec<Along>,
    /// What is held: place and level.
    pub held: Vec<(usize, f64)>,
    /// The region within the plane.
    pub outline: Vec<Point>,
    /// The region in triangles; along a line it has none.
    pub mesh: Mesh,
    /// Mean of every response at the points of the mesh.
    pub means: Vec<Vec<f64>>,
    /// How well the wishes are met at the points of the mesh; empty where nothing is wished.
    pub worths: Vec<f64>,
    /// Places whose numbers are told.
    pub points: Vec<SeenAt>,
    /// Runs that lie in the plane.
    pub marks: Vec<Mark>,
    /// The best blend by the wishes, where it lies in the plane.
    pub best: Option<Point>,
}

/// Looks.
///
/// # Errors
/// [`AnalysisError`]; nothing of the region lies there.
pub fn sight(asked: &Asked, look: &Sight) -> Result<Seen, AnalysisError> {
    let fitted: Vec<Fitted<'_>> = fits(asked)?.into_iter().map(|(one, ..)| one).collect();
    let parts = asked.parts.len();
    let settings = asked.settings.iter().map(|(_, ends)| *ends).collect();
    let region = Region::of(Bounds(asked.bounds.clone()), asked.conditions.clone(), settings)
        .map_err(AnalysisError::Region)?;
    let across = match look.across {
        Some(across) => across,
        None if parts > 2 => Across::Triangle([0, 1, 2]),
        None => {
            let free: Vec<usize> =
                (0..parts + asked.settings.len()).filter(|place| parts != 2 || *place != 1).collect();
            match free[..] {
                [one, other, ..] => Across::Square([one, other]),
                _ => Across::Line(free.first().copied().unwrap_or(0)),
            }
        }
    };
    let plane = Plane::of(asked, &region, across, &look.held)?;
    let says = |at: Point| {
        let levels = plane.levels(at);
        let coded = asked.coded(&levels);
        let says: Vec<(f64, [f64; 2])> = fitted.iter().map(|one| one.says(&coded)).collect();
        (levels, says)
    };
    let wished: Vec<(usize, Wish)> =
        asked.responses.iter().enumerate().filter_map(|(at, one)| Some((at, one.wish?))).collect();
    let wishes: Vec<Wish> = wished.iter().map(|(_, wish)| *wish).collect();
    let worth = |says: &[(f64, [f64; 2])]| {
        let values: Vec<f64> = wished.iter().map(|(at, _)| says[*at].0).collect();
        (!wishes.is_empty()).then(|| together(&wishes, &values))
    };
    let mesh = plane.mesh(FINE);
    let all: Vec<Vec<(f64, [f64; 2])>> = mesh.points.iter().map(|at| says(*at).1).collect();
    let told = if mesh.triangles.is_empty() { mesh.points.clone() } else { plane.mesh(TOLD).points };
    let mut points: Vec<SeenAt> = told
        .into_iter()
        .map(|at| {
            let (levels, says) = says(at);
            let worth = worth(&says);
            let levels = plane.shown(asked, &levels);
            SeenAt { at, levels, says, worth }
        })
        .collect();
    // Row by row, the upper rows first.
    points.sort_by(|one, other| other.at[1].total_cmp(&one.at[1]).then(one.at[0].total_cmp(&other.at[0])));
    Ok(Seen {
        across,
        along: plane.along(asked),
        held: plane.held(asked),
        outline: plane.outline.clone(),
        means: (0..fitted.len()).map(|of| all.iter().map(|says| says[of].0).collect()).collect(),
        worths: if wishes.is_empty() {
            Vec::new()
        } else {
            all.iter().map(|says| worth(says).unwrap_or(0.0)).collect()
        },
        mesh,
        points,
        best: if wishes.is_empty() { None } else { best_in(asked, &plane, &fitted)? },
        marks: asked
            .runs
            .iter()
            .enumerate()
            .filter_map(|(run, levels)| Some(Mark { run, at: plane.place(levels)? }))
            .collect(),
    })
}

/// Where the best blend lies; nothing where that is off the plane or no wish is met.
fn best_in(asked: &Asked, plane: &Plane, fitted: &[Fitted<'_>]) -> Result<Option<Point>, AnalysisError> {
    let settings = vec![[-1.0, 1.0]; asked.settings.len()];
    let region = Region::of(Bounds(asked.bounds.clone()), asked.conditions.clone(), settings)
        .map_err(AnalysisError::Region)?;
    let best = best::best(asked, &region, fitted);
    if best.worth.value.is_none_or(|worth| worth <= 0.0) {
        return Ok(None);
    }
    let level = |(at, one): (usize, &super::Named)| {
        let value = one.value.value.unwrap_or(f64::NAN);
        if at < asked.parts.len() { value / asked.total } else { value }
    };
    Ok(plane.place(&best.levels.iter().enumerate().map(level).collect::<Vec<_>>()))
}

/// The plane that is looked at: three runs (shares and settings as they are), the others between them.
struct Plane {
    across: Across,
    /// Levels at the corners of the triangle, or at the origin and the two ends of the square; of a line the last is not used.
    at: [Vec<f64>; 3],
    /// Places of the three.
    corners: [Point; 3],
    sides: Vec<Side>,
    outline: Vec<Point>,
    parts: usize,
}

impl Plane {
    fn of(
        asked: &Asked,
        region: &Region,
        across: Across,
        held: &[(usize, f64)],
    ) -> Result<Self, AnalysisError> {
        let parts = asked.parts.len();
        let corners = region.corners();
        let count = super::number(corners.len().max(1));
        let mut middle: Vec<f64> =
            (0..parts).map(|part| corners.iter().map(|corner| corner[part]).sum::<f64>() / count).collect();
        middle.extend(asked.settings.iter().map(|(_, [low, high])| 0.5 * (low + high)));
        let wide = middle.len();
        let varied: Vec<usize> = match across {
            Across::Triangle(three) => three.to_vec(),
            Across::Square(two) => two.to_vec(),
            Across::Line(one) => vec![one],
        };
        let twice = varied.iter().enumerate().any(|(at, place)| varied[..at].contains(place));
        let fits = |place: &usize| match across {
            Across::Triangle(_) => *place < parts,
            // The second of two parts is what the first leaves.
            Across::Square(_) | Across::Line(_) => {
                *place < wide && (*place >= parts || (parts == 2 && *place == 0))
            }
        };
        if twice || !varied.iter().all(fits) {
            let why = "these cannot be laid across: three different parts, two different settings, or the first of two parts can";
            return Err(AnalysisError::NothingSeen { why: why.to_owned() });
        }
        for (place, level) in held.iter().filter(|(place, _)| *place < wide && !varied.contains(place)) {
            // What two parts make together is fixed: the second follows.
            if parts == 2 && *place == 1 {
                continue;
            }
            let (low, high, value, name) = if *place < parts {
                let [low, high] = asked.bounds[*place];
                (low, high, level / asked.total, &asked.parts[*place])
            } else {
                let (name, [low, high]) = &asked.settings[*place - parts];
                (*low, *high, *level, name)
            };
            let slack = SAME * (high - low).abs().max(SAME);
            if !(low - slack..=high + slack).contains(&value) {
                let scale = if *place < parts { asked.total } else { 1.0 };
                let why =
                    format!("{name} is held at {level}, outside its {} to {}", low * scale, high * scale);
                return Err(AnalysisError::NothingSeen { why });
            }
            middle[*place] = value;
            if parts == 2 && *place == 0 {
                middle[1] = 1.0 - value;
            }
        }
        let mut plane = match across {
            Across::Triangle(three) => {
                let others: f64 =
                    (0..parts).filter(|part| !three.contains(part)).map(|part| middle[part]).sum();
                let whole = Self::triangle(asked, three, &middle, [0.0; 3], 1.0 - others);
                // The triangle is drawn as small as the region allows.
                let least = three.map(|part| {
                    whole.outline.iter().map(|at| whole.levels(*at)[part]).fold(f64::INFINITY, f64::min)
                });
                let size = 1.0 - others - least.iter().sum::<f64>();
                if whole.outline.len() < 3 || size < 1e-9 {
                    let why = "nothing of the region lies there: what is held leaves no room for the three parts within their bounds";
                    return Err(AnalysisError::NothingSeen { why: why.to_owned() });
                }
                Self::triangle(asked, three, &middle, least, size)
            }
            Across::Square(two) => Self::square(asked, &two, &middle),
            Across::Line(one) => Self::square(asked, &[one], &middle),
        };
        plane.across = across;
        if plane.outline.len() < 2 {
            let why = "nothing of the region lies there";
            return Err(AnalysisError::NothingSeen { why: why.to_owned() });
        }
        Ok(plane)
    }

    fn triangle(asked: &Asked, three: [usize; 3], middle: &[f64], least: [f64; 3], size: f64) -> Self {
        let at = [0, 1, 2].map(|own: usize| {
            let mut run = middle.to_vec();
            for (other, part) in three.into_iter().enumerate() {
                run[part] = least[other] + if other == own { size } else { 0.0 };
            }
            run
        });
        let mut plane = Self {
            across: Across::Triangle(three),
            at,
            corners: CORNERS,
            sides: Vec::new(),
            outline: CORNERS.to_vec(),
            parts: asked.parts.len(),
        };
        plane.bound(asked, &three);
        plane
    }

    fn square(asked: &Asked, axes: &[usize], middle: &[f64]) -> Self {
        let parts = asked.parts.len();
        let ends = |place: usize| {
            if place < parts { asked.bounds[place] } else { asked.settings[place - parts].1 }
        };
        let with = |upper: &[bool]| {
            let mut run = middle.to_vec();
            for (axis, upper) in axes.iter().zip(upper) {
                run[*axis] = ends(*axis)[usize::from(*upper)];
                if parts == 2 && *axis == 0 {
                    run[1] = 1.0 - run[0];
                }
            }
            run
        };
        let outline = if axes.len() == 1 {
            vec![[0.0, 0.0], [1.0, 0.0]]
        } else {
            vec![[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]]
        };
        let mut plane = Self {
            across: Across::Line(0),
            at: [with(&[false, false]), with(&[true, false]), with(&[false, true])],
            corners: [[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]],
            sides: Vec::new(),
            outline,
            parts,
        };
        if parts == 2 && axes.contains(&0) {
            plane.bound(asked, &[0, 1]);
        }
        plane
    }

    /// Cuts by the bounds of parts and by the conditions.
    fn bound(&mut self, asked: &Asked, free: &[usize]) {
        let mut faces: Vec<Condition> = Vec::new();
        for part in free {
            let unit = |sign: f64| (0..self.parts).map(|one| if one == *part { sign } else { 0.0 }).collect();
            let [low, high] = asked.bounds[*part];
            faces.push(Condition { factors: unit(1.0), least: low });
            faces.push(Condition { factors: unit(-1.0), least: -high });
        }
        faces.extend(asked.conditions.iter().cloned());
        for face in faces {
            let value = |run: &Vec<f64>| {
                face.factors.iter().zip(run).map(|(factor, share)| factor * share).sum::<f64>() - face.least
            };
            let values = [value(&self.at[0]), value(&self.at[1]), value(&self.at[2])];
            if values.iter().all(|value| *value >= -1e-12) {
                continue;
            }
            let side = Side::through(self.corners, values);
            self.outline = cut(&self.outline, side);
            self.sides.push(side);
        }
    }

    fn mesh(&self, steps: u32) -> Mesh {
        match self.across {
            Across::Triangle(_) => Mesh::of_triangle(self.corners, steps, &self.sides),
            Across::Square(_) => Mesh::of_square(steps, &self.sides),
            Across::Line(_) => {
                let ends = self.outline.iter().map(|[x, _]| *x);
                let (low, high) = ends.fold((1.0_f64, 0.0_f64), |(low, high), x| (low.min(x), high.max(x)));
                let at = |place: u32| [low + f64::from(place) / f64::from(2 * FINE) * (high - low), 0.0];
                Mesh { points: (0..=2 * FINE).map(at).collect(), triangles: Vec::new() }
            }
        }
    }

    /// Shares of the three corners at a place.
    fn weights(&self, [x, y]: Point) -> [f64; 3] {
        match self.across {
            Across::Triangle(_) => {
                let up = y / HIGH;
                let right = x - 0.5 * up;
                [up, 1.0 - up - right, right]
            }
            Across::Square(_) | Across::Line(_) => [1.0 - x - y, x, y],
        }
    }

    /// Shares and settings at a place.
    fn levels(&self, at: Point) -> Vec<f64> {
        let weights = self.weights(at);
        (0..self.at[0].len())
            .map(|place| self.at.iter().zip(weights).map(|(run, weight)| run[place] * weight).sum())
            .collect()
    }

    /// The same in the unit of the runs.
    fn shown(&self, asked: &Asked, levels: &[f64]) -> Vec<f64> {
        levels.iter().enumerate().map(|(at, x)| if at < self.parts { x * asked.total } else { *x }).collect()
    }

    fn varied(&self) -> Vec<usize> {
        match self.across {
            Across::Triangle(three) => three.to_vec(),
            Across::Square(two) => two.to_vec(),
            Across::Line(one) => vec![one],
        }
    }

    fn along(&self, asked: &Asked) -> Vec<Along> {
        let labels = asked.labels();
        let scale = |place: usize| if place < self.parts { asked.total } else { 1.0 };
        let one = |(own, place): (usize, usize)| {
            let (low, high) = match self.across {
                Across::Triangle(_) => (self.at[(own + 1) % 3][place], self.at[own][place]),
                Across::Square(_) | Across::Line(_) => (self.at[0][place], self.at[own + 1][place]),
            };
            let name = labels.get(place).cloned().unwrap_or_default();
            Along { place, name, low: low * scale(place), high: high * scale(place) }
        };
        self.varied().into_iter().enumerate().map(one).collect()
    }

    fn held(&self, asked: &Asked) -> Vec<(usize, f64)> {
        let varied = self.varied();
        let follows = |place: usize| self.parts == 2 && place == 1 && varied.contains(&0);
        let shown = self.shown(asked, &self.at[0]);
        (0..shown.len())
            .filter(|place| !varied.contains(place) && !follows(*place))
            .map(|place| (place, shown[place]))
            .collect()
    }

    /// The place of a run; nothing for one that lies off the plane.
    fn place(&self, run: &[f64]) -> Option<Point> {
        let at = match self.across {
            Across::Triangle([first, _, third]) => {
                let size = self.at[0][first] - self.at[1][first];
                let up = (run[first] - self.at[1][first]) / size;
                let right = (run[third] - self.at[1][third]) / size;
                [right + 0.5 * up, HIGH * up]
            }
            Across::Square([one, other]) => [
                (run[one] - self.at[0][one]) / (self.at[1][one] - self.at[0][one]),
                (run[other] - self.at[0][other]) / (self.at[2][other] - self.at[0][other]),
            ],
            Across::Line(one) => [(run[one] - self.at[0][one]) / (self.at[1][one] - self.at[0][one]), 0.0],
        };
        let there = self.levels(at);
        let near =
            |(own, other): (&f64, &f64)| (own - other).abs() <= 1e-4 * own.abs().max(other.abs()).max(1e-3);
        there.iter().zip(run).all(near).then_some(at)
    }
}
