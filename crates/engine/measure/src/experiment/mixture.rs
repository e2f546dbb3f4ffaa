//! Blends of a simplex and the terms of models over them.
//!
//! ```text
//! linear          sum b_i x_i
//! quadratic       + sum b_ij x_i x_j
//! special cubic   + sum b_ijk x_i x_j x_k
//! full cubic      + sum d_ij x_i x_j (x_i - x_j)
//! ```
//!
//! Source: Scheffe, J. R. Stat. Soc. B 20 (1958) 344 and 25 (1963) 235, from memory; NIST/SEMATECH e-Handbook 5.5.4. Cases:
//! `tests/published/mixtures.toml`.

use thiserror::Error;

/// How near to one shares must add up.
const WHOLE: f64 = 1e-6;
/// Most blends a grid is laid out for.
const MOST: usize = 2_000_000;

/// Why blends cannot be laid out.
#[derive(Clone, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum MixtureError {
    /// Fewer than two parts, or more than there is room for.
    #[error("a mixture of {parts} parts cannot be laid out here")]
    Parts {
        /// Parts.
        parts: usize,
    },
    /// Bounds that no blend keeps.
    #[error("part {part}: no blend keeps {low} to {high} beside the bounds of the others")]
    NoRoom {
        /// Part, from one.
        part: usize,
        /// Least share.
        low: f64,
        /// Most.
        high: f64,
    },
    /// A grid too fine.
    #[error("a grid of steps of {step} has more than {most} blends")]
    TooFine {
        /// Step.
        step: f64,
        /// Most blends.
        most: usize,
    },
    /// Shares that do not add up.
    #[error("blend {blend}: its shares add up to {sum}, not to one")]
    NotWhole {
        /// Blend, from one.
        blend: usize,
        /// Their sum.
        sum: f64,
    },
}

impl MixtureError {
    /// What to do about it.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            Self::Parts { .. } => "take two parts to twelve; hold the others fixed",
            Self::NoRoom { .. } => {
                "widen a bound: the least of all must not exceed one together, nor the most fall short of it"
            }
            Self::TooFine { .. } => "take a wider step",
            Self::NotWhole { .. } => {
                "correct the shares; parts held fixed are left out and the rest counted as one"
            }
        }
    }
}

/// Which terms a model has.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Model {
    /// Every part by itself.
    Linear,
    /// And every two together.
    Quadratic,
    /// And every three together.
    SpecialCubic,
    /// And how two together lean to one side.
    FullCubic,
}

impl Model {
    /// The terms of a blend.
    #[must_use]
    pub fn terms(self, blend: &[f64]) -> Vec<f64> {
        let parts = blend.len();
        let mut terms = blend.to_vec();
        if self == Self::Linear {
            return terms;
        }
        for i in 0..parts {
            terms.extend((i + 1..parts).map(|j| blend[i] * blend[j]));
        }
        if self == Self::Quadratic {
            return terms;
        }
        if self == Self::FullCubic {
            for i in 0..parts {
                terms.extend((i + 1..parts).map(|j| blend[i] * blend[j] * (blend[i] - blend[j])));
            }
        }
        for i in 0..parts {
            for j in i + 1..parts {
                terms.extend((j + 1..parts).map(|k| blend[i] * blend[j] * blend[k]));
            }
        }
        terms
    }

    /// Names of the terms, the parts counted from one: `x1`, `x1 x2`.
    #[must_use]
    pub fn names(self, parts: usize) -> Vec<String> {
        let labels: Vec<String> = (1..=parts).map(|i| format!("x{i}")).collect();
        self.named(&labels, " ")
    }

    /// Names of the terms by those of the parts, with what stands between the factors of a product.
    #[must_use]
    pub fn named(self, labels: &[String], between: &str) -> Vec<String> {
        let parts = labels.len();
        let pairs = || (0..parts).flat_map(move |i| (i + 1..parts).map(move |j| (i, j)));
        let mut names = labels.to_vec();
        if self == Self::Linear {
            return names;
        }
        names.extend(pairs().map(|(i, j)| format!("{}{between}{}", labels[i], labels[j])));
        if self == Self::Quadratic {
            return names;
        }
        if self == Self::FullCubic {
            names.extend(pairs().map(|(i, j)| {
                let (one, other) = (&labels[i], &labels[j]);
                format!("{one}{between}{other}{between}({one} - {other})")
            }));
        }
        for (i, j) in pairs() {
            names.extend(
                (j + 1..parts).map(|k| format!("{}{between}{}{between}{}", labels[i], labels[j], labels[k])),
            );
        }
        names
    }
}

/// Least and most share of every part.
#[derive(Clone, Debug, PartialEq)]
pub struct Bounds(pub Vec<[f64; 2]>);

impl Bounds {
    /// Refuses bounds that no blend keeps.
    ///
    /// # Errors
    /// The part that finds no room.
    pub fn check(&self) -> Result<(), MixtureError> {
        let parts = self.0.len();
        if !(2..=12).contains(&parts) {
            return Err(MixtureError::Parts { parts });
        }
        let (least, most) =
            self.0.iter().fold((0.0, 0.0), |(least, most), [low, high]| (least + low, most + high));
        for (place, [low, high]) in self.0.iter().enumerate() {
            let own = (0.0..=1.0).contains(low) && low <= high && *high <= 1.0 + WHOLE;
            if !own || least > 1.0 + WHOLE || most < 1.0 - WHOLE {
                return Err(MixtureError::NoRoom { part: place + 1, low: *low, high: *high });
            }
        }
        Ok(())
    }

    /// Whether a blend keeps them.
    #[must_use]
    pub fn hold(&self, blend: &[f64]) -> bool {
        blend.iter().zip(&self.0).all(|(share, [low, high])| (low - 1e-9..=high + 1e-9).contains(share))
    }
}

/// The blends whose shares are whole steps of one over `steps`: `(parts + steps - 1)!/(steps! (parts - 1)!)` of them.
///
/// # Errors
/// Fewer than two parts, no step, or too many blends.
pub fn lattice(parts: usize, steps: u32) -> Result<Vec<Vec<f64>>, MixtureError> {
    within(&Bounds(vec![[0.0, 1.0]; parts]), 1.0 / f64::from(steps.max(1)))
}

/// The blends of a grid with a step that keep bounds.
///
/// # Errors
/// Bounds that no blend keeps, or too many blends.
pub fn within(bounds: &Bounds, step: f64) -> Result<Vec<Vec<f64>>, MixtureError> {
    bounds.check()?;
    if !(step > 1e-6 && step <= 1.0) {
        return Err(MixtureError::TooFine { step, most: MOST });
    }
    #[expect(clippy::cast_possible_truncation, reason = "at most a million steps")]
    let whole = |share: f64, up: bool| {
        if up { (share / step - 1e-6).ceil() as i64 } else { (share / step + 1e-6).floor() as i64 }
    };
    let ranges: Vec<[i64; 2]> =
        bounds.0.iter().map(|[low, high]| [whole(*low, true), whole(*high, false)]).collect();
    let all = whole(1.0, false);
    let mut found = Vec::new();
    let mut steps = Vec::with_capacity(ranges.len());
    lay(&ranges, all, &mut steps, &mut |steps| {
        #[expect(clippy::cast_precision_loss, reason = "at most a million steps")]
        found.push(steps.iter().map(|count| *count as f64 / all as f64).collect::<Vec<f64>>());
        found.len() < MOST
    })
    .then_some(())
    .ok_or(MixtureError::TooFine { step, most: MOST })?;
    Ok(found)
}

/// Lays out whole steps that add up to `left`; `false` where `take` has had enough.
fn lay(ranges: &[[i64; 2]], left: i64, steps: &mut Vec<i64>, take: &mut impl FnMut(&[i64]) -> bool) -> bool {
    let place = steps.len();
    if place + 1 == ranges.len() {
        if !(ranges[place][0]..=ranges[place][1]).contains(&left) {
            return true;
        }
        steps.push(left);
        let on = take(steps);
        steps.pop();
        return on;
    }
    for count in ranges[place][0]..=ranges[place][1].min(left) {
        steps.push(count);
        let on = lay(ranges, left - count, steps, take);
        steps.pop();
        if !on {
            return false;
        }
    }
    true
}

/// Every part alone, every two in equal shares, every three, and so on: `2^parts - 1` blends.
///
/// # Errors
/// Fewer than two parts, or more than twelve.
pub fn centroid(parts: usize) -> Result<Vec<Vec<f64>>, MixtureError> {
    if !(2..=12).contains(&parts) {
        return Err(MixtureError::Parts { parts });
    }
    Ok((1_u32..1 << parts)
        .map(|set| {
            let share = 1.0 / f64::from(set.count_ones());
            (0..parts).map(|part| if set >> part & 1 == 1 { share } else { 0.0 }).collect()
        })
        .collect())
}

/// Refuses blends whose shares do not add up to one.
///
/// # Errors
/// The blend and its sum.
pub fn whole(blends: &[Vec<f64>]) -> Result<(), MixtureError> {
    for (place, blend) in blends.iter().enumerate() {
        let sum: f64 = blend.iter().sum();
        if (sum - 1.0).abs() > WHOLE || sum.is_nan() {
            return Err(MixtureError::NotWhole { blend: place + 1, sum });
        }
    }
    Ok(())
}

/// A side condition: the sum of shares times factors is at least a number.
#[derive(Clone, Debug, PartialEq)]
pub struct Condition {
    /// Factor of every part.
    pub factors: Vec<f64>,
    /// Least of the sum.
    pub least: f64,
}

impl Condition {
    /// Whether a blend keeps it.
    #[must_use]
    pub fn holds(&self, blend: &[f64]) -> bool {
        self.factors.iter().zip(blend).map(|(factor, share)| factor * share).sum::<f64>() >= self.least - 1e-9
    }
}

/// Most sets of faces that are looked at.
const MOST_FACES: usize = 5_000_000;

/// The corners of the region that bounds and conditions leave: every blend that lies on as many faces as settle it.
///
/// # Errors
/// Bounds that no blend keeps; more faces than can be looked at.
pub fn vertices(bounds: &Bounds, conditions: &[Condition]) -> Result<Vec<Vec<f64>>, MixtureError> {
    bounds.check()?;
    let parts = bounds.0.len();
    let mut faces: Vec<Condition> = Vec::new();
    for (part, [low, high]) in bounds.0.iter().enumerate() {
        let unit =
            |sign: f64| (0..parts).map(|other| if other == part { sign } else { 0.0 }).collect::<Vec<f64>>();
        faces.push(Condition { factors: unit(1.0), least: *low });
        faces.push(Condition { factors: unit(-1.0), least: -*high });
    }
    faces.extend(conditions.iter().cloned());
    let mut found: Vec<Vec<f64>> = Vec::new();
    let mut looked = 0_usize;
    let mut picked = Vec::with_capacity(parts - 1);
    let done = pick(faces.len(), parts - 1, &mut picked, &mut |places| {
        looked += 1;
        // A part cannot stand at both of its bounds.
        let twice =
            places.windows(2).any(|pair| pair[1] == pair[0] + 1 && pair[0] % 2 == 0 && pair[1] < 2 * parts);
        if !twice {
            let rows = places.iter().map(|place| (faces[*place].factors.as_slice(), faces[*place].least));
            if let Some(blend) = meeting(parts, rows)
                && faces.iter().all(|face| face.holds(&blend))
                && !found
                    .iter()
                    .any(|other| other.iter().zip(&blend).all(|(one, two)| (one - two).abs() < 1e-7))
            {
                found.push(blend);
            }
        }
        looked < MOST_FACES
    });
    if done { Ok(found) } else { Err(MixtureError::Parts { parts }) }
}

/// Every choice of `left` of the places, rising; `false` where `take` has had enough.
fn pick(
    places: usize,
    left: usize,
    picked: &mut Vec<usize>,
    take: &mut impl FnMut(&[usize]) -> bool,
) -> bool {
    if left == 0 {
        return take(picked);
    }
    let from = picked.last().map_or(0, |last| last + 1);
    for place in from..=places - left {
        picked.push(place);
        let on = pick(places, left - 1, picked, take);
        picked.pop();
        if !on {
            return false;
        }
    }
    true
}

/// The blend that lies on all of these faces and adds up to one; `None` where they do not settle it.
fn meeting<'f>(parts: usize, faces: impl Iterator<Item = (&'f [f64], f64)>) -> Option<Vec<f64>> {
    let mut rows: Vec<Vec<f64>> = faces.map(|(factors, least)| [factors, &[least]].concat()).collect();
    rows.push(vec![1.0; parts + 1]);
    for column in 0..parts {
        let pivot = (column..parts)
            .max_by(|one, other| rows[*one][column].abs().total_cmp(&rows[*other][column].abs()))?;
        if rows[pivot][column].abs() < 1e-10 {
            return None;
        }
        rows.swap(column, pivot);
        for row in 0..parts {
            if row != column && rows[row][column] != 0.0 {
                let factor = rows[row][column] / rows[column][column];
                let own = rows[column].clone();
                for (cell, above) in rows[row].iter_mut().zip(&own).skip(column) {
                    *cell -= factor * above;
                }
            }
        }
    }
    // What rounding leaves of nothing is nothing.
    let share = |part: usize| rows[part][parts] / rows[part][part];
    Some((0..parts).map(share).map(|share| if share.abs() < 1e-12 { 0.0 } else { share }).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn as_many_blends_as_the_handbook_counts() {
        // NIST/SEMATECH e-Handbook 5.5.4.2.
        for (parts, steps, count) in [(3, 2, 6), (3, 3, 10), (4, 2, 10), (4, 3, 20), (5, 2, 15)] {
            let blends = lattice(parts, steps).expect("a lattice");
            assert_eq!(blends.len(), count, "{parts} {steps}");
            assert_eq!(whole(&blends), Ok(()));
        }
        assert_eq!(centroid(4).map(|blends| blends.len()), Ok(15));
        assert_eq!(Model::FullCubic.terms(&[0.2, 0.3, 0.5]).len(), Model::FullCubic.names(3).len());
    }

    #[test]
    fn published_regions_have_their_corners() {
        // Piepel 1988, by enumeration of the constraint set carried by MIXEXP.
        let bounds = Bounds(vec![[0.1, 0.5], [0.1, 0.7], [0.0, 0.7]]);
        let conditions = [
            Condition { factors: vec![0.85, 0.9, 1.0], least: 0.9 },
            Condition { factors: vec![-0.85, -0.9, -1.0], least: -0.95 },
            Condition { factors: vec![0.7, 0.0, 1.0], least: 0.4 },
        ];
        let corners = vertices(&bounds, &conditions).expect("corners");
        let printed = [
            [0.1, 0.35, 0.55],
            [0.1, 0.57, 0.33],
            [0.266_667, 0.1, 0.633_333],
            [0.333_333, 0.5, 0.166_667],
            [0.5, 0.1, 0.4],
            [0.5, 0.25, 0.25],
        ];
        assert_eq!(corners.len(), printed.len(), "{corners:?}");
        for corner in printed {
            let near =
                |found: &Vec<f64>| found.iter().zip(&corner).all(|(one, two)| (one - two).abs() < 1e-6);
            assert!(corners.iter().any(near), "{corner:?}");
        }
        // Snee and Marquardt 1976: eight parts, 182 corners.
        let eight = Bounds(vec![
            [0.1, 0.45],
            [0.05, 0.5],
            [0.0, 0.1],
            [0.0, 0.1],
            [0.1, 0.6],
            [0.05, 0.2],
            [0.0, 0.05],
            [0.0, 0.05],
        ]);
        assert_eq!(vertices(&eight, &[]).map(|corners| corners.len()), Ok(182));
    }

    #[test]
    fn rows_that_do_not_add_up_are_told() {
        // A published set of a propellant holds such a row.
        let blends = [vec![0.3, 0.7], vec![0.664, 0.289, 0.170]];
        assert!(
            matches!(whole(&blends), Err(MixtureError::NotWhole { blend: 2, sum }) if (sum - 1.123).abs() < 1e-9)
        );
        let tight = Bounds(vec![[0.6, 0.9], [0.5, 0.8]]);
        assert!(matches!(tight.check(), Err(MixtureError::NoRoom { .. })));
    }
}
