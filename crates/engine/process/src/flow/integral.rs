//! Integrals over the shear rate that tubes, films and marks share, for a liquid of any flow curve.

use super::liquid::Liquid;
use levigate_measure::elementary::Elementary as _;

/// Five points and weights of Gauss and Legendre on 0 to 1.
pub(crate) const GAUSS: [(f64, f64); 5] = [
    (0.046_910_077_030_668, 0.118_463_442_528_094_5),
    (0.230_765_344_947_158_5, 0.239_314_335_249_683_2),
    (0.5, 0.284_444_444_444_444_4),
    (0.769_234_655_052_841_5, 0.239_314_335_249_683_2),
    (0.953_089_922_969_332, 0.118_463_442_528_094_5),
];

/// Integral of a function from one end to the other in a number of pieces.
pub(crate) fn over(low: f64, high: f64, pieces: u32, function: impl Fn(f64) -> f64) -> f64 {
    let width = (high - low) / f64::from(pieces);
    (0..pieces)
        .map(|piece| {
            let start = low + width * f64::from(piece);
            GAUSS.iter().map(|(place, weight)| weight * width * function(start + width * place)).sum::<f64>()
        })
        .sum()
}

/// The same between ends in their order, every piece halved until halving moves it by less than a share of the whole; at most `halvings`
/// times. A bend between the last place that is looked at and the end of a piece is not seen: known bends belong among the ends.
pub(crate) fn over_bends(ends: &[f64], share: f64, halvings: u32, function: impl Fn(f64) -> f64) -> f64 {
    fn halved(from: f64, to: f64, once: f64, least: f64, left: u32, function: &impl Fn(f64) -> f64) -> f64 {
        let middle = 0.5 * (from + to);
        let [first, second] = [over(from, middle, 1, function), over(middle, to, 1, function)];
        if left == 0 || (first + second - once).abs() <= least || !(first + second).is_finite() {
            return first + second;
        }
        halved(from, middle, first, 0.5 * least, left - 1, function)
            + halved(middle, to, second, 0.5 * least, left - 1, function)
    }
    let plain: Vec<([f64; 2], f64)> =
        ends.windows(2).map(|ends| ([ends[0], ends[1]], over(ends[0], ends[1], 1, &function))).collect();
    let whole: f64 = plain.iter().map(|(_, piece)| piece.abs()).sum();
    let least = share * whole / plain.iter().map(|_| 1.0).sum::<f64>();
    plain.iter().map(|([from, to], once)| halved(*from, *to, *once, least, halvings, &function)).sum()
}

/// Ends of the pieces in which an integral runs down from the wall, decades below it: finer where it gathers most, down to where a
/// constant stress leaves 1e-12 of it.
const DOWN: [f64; 18] =
    [0.0, 0.2, 0.4, 0.6, 0.8, 1.0, 1.25, 1.5, 1.75, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0];

/// `integral from 0 to at_wall of stress^power d(shear rate)`, in the logarithm of the shear rate.
pub(crate) fn of_stress(liquid: &dyn Liquid, at_wall: f64, power: i32) -> f64 {
    let top = at_wall.log_e();
    DOWN.windows(2)
        .map(|ends| {
            let [near, far] = [ends[0], ends[1]].map(|decades| top - decades * core::f64::consts::LN_10);
            over(far, near, 1, |ln_rate| {
                let rate = ln_rate.exp_e();
                liquid.stress(rate).powi(power) * rate
            })
        })
        .sum()
}
