//! Settled readings of one pH, repeated, as one piece of evidence.
//!
//! ```text
//! odd        |R_i - median| > 3.5 max(s_r, 1.4826 median|R_i - median|)         of three or more
//! mean       R = sum R_i / n,                 u = max(s_r, s) / sqrt(n)
//! drift      R_i = a + b t_i + e_i,           |b| > 1.96 max(s_r, s_e) / sqrt(sum (t_i - mean t)^2)
//!            then R = a + b t_n,              u = max(s_r, s_e) sqrt(1/n + (t_n - mean t)^2 / sum (t_i - mean t)^2)
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | R_i, t_i | settled reading, time of it | pH, s |
//! | s_r | repeatability of the meter | pH |
//! | s, s_e | scatter of the readings about their mean, about the line; zero where there are too few to say | pH |
//!
//! Range: readings of one sample by one electrode, read one way at one temperature, with nothing put in between. A digit of the display is not told
//! from a reading, so that u is never less than a digit over the root of twelve. Source: means and straight lines by least squares (JCGM 100, H.3,
//! from memory), median and its scatter as a guard against single slips (common practice). Proof: `tests/cross/repeated_ph.toml`.

/// Readings further from the median than this many times the scatter are odd.
const ODD: f64 = 3.5;
/// From the median distance to the standard deviation of a normal distribution.
const OF_MEDIAN: f64 = 1.4826;
/// A slope this many times its uncertainty is a drift.
const DRIFTS: f64 = 1.959_964;

/// A settled reading.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stood {
    /// When, s.
    pub time_s: f64,
    /// pH.
    pub ph: f64,
}

/// What repeated readings say together.
#[derive(Clone, Debug, PartialEq)]
pub struct Repeated {
    /// pH; where the readings drift, that of the last moment.
    pub ph: f64,
    /// Standard uncertainty by scatter and display, pH.
    pub uncertainty: f64,
    /// Readings that count.
    pub count: usize,
    /// How far the readings moved from the first to the last that counts, where that is more than scatter, pH.
    pub drift: Option<f64>,
    /// Places of the readings that stand far off the others.
    pub odd: Vec<usize>,
}

/// Combines settled readings in the order of their times; none where there is no number among them. `repeatability` is the scatter of the
/// meter from reading to reading, `digit` the last digit of its display.
#[must_use]
pub fn repeated(readings: &[Stood], repeatability: f64, digit: f64) -> Option<Repeated> {
    let sound = |one: &Stood| one.ph.is_finite() && one.time_s.is_finite();
    let all: Vec<(usize, Stood)> =
        readings.iter().copied().enumerate().filter(|(_, one)| sound(one)).collect();
    let middle = median(all.iter().map(|(_, one)| one.ph).collect())?;
    let apart = median(all.iter().map(|(_, one)| (one.ph - middle).abs()).collect())?;
    let far = ODD * repeatability.max(OF_MEDIAN * apart);
    let (odd, kept): (Vec<_>, Vec<_>) =
        all.into_iter().partition(|(_, one)| readings.len() > 2 && (one.ph - middle).abs() > far);
    let kept: Vec<Stood> = kept.into_iter().map(|(_, one)| one).collect();
    let count = kept.len() as f64;
    let mean = |of: &dyn Fn(&Stood) -> f64| kept.iter().map(of).sum::<f64>() / count;
    let (ph, time) = (mean(&|one| one.ph), mean(&|one| one.time_s));
    let spread = |squares: f64, free: f64| if free > 0.0 { (squares / free).sqrt() } else { 0.0 };
    let scatter = spread(kept.iter().map(|one| (one.ph - ph).powi(2)).sum(), count - 1.0);
    let times: f64 = kept.iter().map(|one| (one.time_s - time).powi(2)).sum();
    let least = digit / 12f64.sqrt();
    let odd = odd.into_iter().map(|(at, _)| at).collect();
    let (Some(first), Some(last)) = (kept.first(), kept.last()) else { return None };
    if times > 0.0 {
        let slope = kept.iter().map(|one| (one.time_s - time) * (one.ph - ph)).sum::<f64>() / times;
        let left = |one: &Stood| one.ph - ph - slope * (one.time_s - time);
        let about = repeatability.max(spread(kept.iter().map(|one| left(one).powi(2)).sum(), count - 2.0));
        if slope.abs() > DRIFTS * about / times.sqrt() {
            let off = last.time_s - time;
            return Some(Repeated {
                ph: ph + slope * off,
                uncertainty: (about * (1.0 / count + off * off / times).sqrt()).max(least),
                count: kept.len(),
                drift: Some(slope * (last.time_s - first.time_s)),
                odd,
            });
        }
    }
    Some(Repeated {
        ph,
        uncertainty: (repeatability.max(scatter) / count.sqrt()).max(least),
        count: kept.len(),
        drift: None,
        odd,
    })
}

/// The middle of some numbers; none where there are none.
fn median(mut numbers: Vec<f64>) -> Option<f64> {
    numbers.sort_by(f64::total_cmp);
    let half = numbers.len() / 2;
    let upper = *numbers.get(half)?;
    Some(if numbers.len() % 2 == 1 { upper } else { 0.5 * (numbers[half - 1] + upper) })
}
