//! Shear rates that are held, one after the other: the low and strong stretches of a test of recovery, told from a sweep.

/// Shear rates within this factor of a stretch's mean belong to it.
const HELD: f64 = 1.1;
/// Stretches within this factor are of one level.
const ONE_LEVEL: f64 = 1.3;
/// A shear is strong when it is this much above the other.
const STRONG: f64 = 3.0;
/// More stretches than this are no test of recovery.
const MOST: usize = 13;

/// Rows of a table read at one shear rate.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Stretch {
    /// Mean shear rate, or speed.
    pub(super) level: f64,
    /// Places of its readings among those handed in.
    pub(super) places: Vec<usize>,
}

/// Low and strong stretches in their order.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Stretches {
    /// The stretches; of neighbours one is strong and the other low.
    pub(super) all: Vec<Stretch>,
    /// Places of readings between two levels.
    pub(super) between: Vec<usize>,
}

impl Stretches {
    /// Whether a stretch is one of strong shear.
    pub(super) fn strong(&self, at: usize) -> bool {
        let low = self.all.iter().map(|one| one.level).fold(f64::INFINITY, f64::min);
        self.all.get(at).is_some_and(|one| one.level > STRONG * low)
    }
}

/// Parts readings by the shear rate they were taken at; none where more than two levels are held, or none is.
pub(super) fn stretches(rates: &[f64]) -> Option<Stretches> {
    let mut all: Vec<Stretch> = Vec::new();
    let mut held = 0;
    for (place, rate) in rates.iter().enumerate() {
        if let Some(last) = all.last_mut()
            && within(*rate, last.level, HELD)
        {
            let count = last.places.len() as f64;
            last.level += (rate - last.level) / (count + 1.0);
            last.places.push(place);
            held += usize::from(last.places.len() == 3);
            // A slow sweep is many short stretches.
            if held > MOST {
                return None;
            }
            continue;
        }
        all.push(Stretch { level: *rate, places: vec![place] });
    }
    let (kept, passed): (Vec<Stretch>, Vec<Stretch>) = all.into_iter().partition(|one| one.places.len() > 1);
    let between: Vec<usize> = passed.into_iter().flat_map(|one| one.places).collect();
    if between.len() > 2 + rates.len() / 10 {
        return None;
    }
    let mut all: Vec<Stretch> = Vec::new();
    for one in kept {
        match all.last_mut() {
            Some(last) if within(one.level, last.level, ONE_LEVEL) => last.places.extend(one.places),
            _ => all.push(one),
        }
    }
    let low = all.iter().map(|one| one.level).fold(f64::INFINITY, f64::min);
    let high = all.iter().map(|one| one.level).fold(0.0, f64::max);
    let two = |one: &Stretch| within(one.level, low, ONE_LEVEL) || within(one.level, high, ONE_LEVEL);
    let sound = !all.is_empty()
        && all.len() <= MOST
        && all.iter().all(two)
        && (all.len() == 1 || high > STRONG * low);
    sound.then_some(Stretches { all, between })
}

fn within(one: f64, other: f64, factor: f64) -> bool {
    one < other * factor && other < one * factor
}

#[cfg(test)]
mod tests {
    use super::*;

    fn levels(rates: &[f64]) -> Option<Vec<(f64, usize)>> {
        let found = stretches(rates)?;
        Some(found.all.iter().map(|one| (one.level.round(), one.places.len())).collect())
    }

    #[test]
    fn three_intervals_are_told_from_sweeps_and_steps() {
        let of = |parts: &[(f64, usize)]| -> Vec<f64> {
            parts.iter().flat_map(|(rate, count)| std::iter::repeat_n(*rate, *count)).collect()
        };
        assert_eq!(
            levels(&of(&[(1.0, 10), (1000.0, 5), (1.02, 40)])),
            Some(vec![(1.0, 10), (1000.0, 5), (1.0, 40)])
        );
        assert_eq!(levels(&of(&[(5.0, 9)])), Some(vec![(5.0, 9)]));
        // The motor passes other speeds on its way.
        let found = stretches(&of(&[(1000.0, 5), (40.0, 1), (1.3, 1), (1.0, 40)])).unwrap();
        assert_eq!((found.all.len(), found.between), (2, vec![5, 6]));
        // A step test, a ramp, a fine ramp, speeds read once.
        assert_eq!(levels(&of(&[(1.0, 10), (10.0, 10), (100.0, 10)])), None);
        assert_eq!(levels(&of(&[(1.0, 10), (2.0, 10)])), None);
        for steps in [10.0, 50.0, 500.0] {
            let ramp: Vec<f64> =
                (0..=(3.0 * steps) as i32).map(|k| 10f64.powf(f64::from(k) / steps)).collect();
            assert_eq!(levels(&ramp), None, "{steps} for each decade");
        }
        assert_eq!(levels(&[0.5, 1.0, 2.5, 5.0, 10.0, 20.0]), None);
        assert_eq!(levels(&[]), None);
    }
}
