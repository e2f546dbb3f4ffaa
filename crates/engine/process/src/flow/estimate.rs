//! What a fit says of a parameter: value, standard error, limits by two ways, and why it is not to be named, where it is not.
//!
//! ```text
//! covariance  p +- t s_p                               symmetric, in the logarithm where the parameter was searched by it
//! profile     S(p) = S_min (1 + t^2 / nu)               all others fitted anew at every p; a side may stay open
//! AICc = N ln(S / N) + 2 k + 2 k (k + 1) / (N - k - 1)     k = parameters + 1
//! ```
//!
//! `t` is the two-sided 95 % factor of Student for `nu` degrees of freedom, `S` the sum of squares. The two agree where the model is as good as
//! linear within the limits; where they differ, the profile is right. Sources: Bates and Watts, Nonlinear Regression Analysis (1988), ch. 6;
//! Hurvich and Tsai, Biometrika 76 (1989) 297; both from memory. Case: `tests/cross/flow_profiles.toml`.

use super::model::Parameter;
use levigate_measure::elementary::Elementary as _;
use levigate_measure::least_squares::Fit;
use serde::Serialize;

/// Above this condition of the derivatives their columns cannot be told apart.
const ILL_CONDITIONED: f64 = 1e8;

/// A parameter of a fit.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Fitted {
    /// Symbol.
    pub symbol: &'static str,
    /// Meaning in words.
    pub words: &'static str,
    /// Unit.
    pub unit: &'static str,
    /// Value, SI.
    pub value: f64,
    /// Standard error, SI; absent where the data do not settle it.
    pub standard_error: Option<f64>,
    /// 95 % limits by the covariance.
    pub limits: Option<[f64; 2]>,
    /// 95 % limits by the profile of the sum of squares, where they were asked for.
    pub profile: Option<ProfileLimits>,
    /// Why the value is not to be named, where it is not.
    pub not_settled: Option<String>,
}

/// 95 % limits by the profile of the sum of squares.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct ProfileLimits {
    /// Lower limit; absent where the data set none within the bounds of the model.
    pub low: Option<f64>,
    /// Upper limit; absent where the data set none.
    pub high: Option<f64>,
}

/// Parameters of a fit, without a judgement that needs to know what they mean.
pub(crate) fn fitted<const P: usize>(meant: &[Parameter], fit: &Fit<P>) -> Vec<Fitted> {
    let covariance = fit.covariance();
    let factor = student_95(fit.points.saturating_sub(fit.free()));
    let ill = fit.condition().is_none_or(|condition| condition > ILL_CONDITIONED);
    meant
        .iter()
        .enumerate()
        .map(|(j, parameter)| {
            let found = fit.parameters[j];
            let back = |value: f64| if parameter.by_logarithm { value.exp_e() } else { value };
            let value = back(found);
            let deviation = covariance
                .filter(|_| !fit.at_bound[j])
                .map(|covariance| covariance[j][j].sqrt())
                .filter(|deviation| deviation.is_finite() && *deviation > 0.0);
            let relative = deviation
                .map(|deviation| if parameter.by_logarithm { deviation } else { deviation / value.abs() });
            let not_settled = if fit.at_bound[j] {
                Some("it stands at the bound of what is allowed; the data do not ask for it")
            } else if fit.sum > 0.0 && (deviation.is_none() || ill) {
                Some("the data do not settle it beside the other parameters")
            } else if relative.is_some_and(|relative| relative > 1.0) {
                Some("its standard error is larger than itself")
            } else {
                None
            };
            Fitted {
                symbol: parameter.symbol,
                words: parameter.words,
                unit: parameter.unit,
                value,
                standard_error: deviation
                    .map(|deviation| if parameter.by_logarithm { value * deviation } else { deviation }),
                limits: deviation
                    .map(|deviation| [-1.0, 1.0].map(|side| back(found + side * factor * deviation)))
                    .filter(|limits| limits.iter().all(|limit| limit.is_finite())),
                profile: None,
                not_settled: not_settled.map(str::to_owned),
            }
        })
        .collect()
}

/// Akaike's criterion corrected for few points; `None` where the points do not suffice.
pub(crate) fn aicc(points: usize, parameters: usize, sum: f64) -> Option<f64> {
    let (points, k) = (points as f64, (parameters + 1) as f64);
    let left = points - k - 1.0;
    (left > 0.0).then(|| points * (sum / points).max(1e-300).log_e() + 2.0 * k + 2.0 * k * (k + 1.0) / left)
}

/// Points beyond 3.5 robust deviations (median of the absolute deviations times 1.4826).
pub(crate) fn outliers(residuals: &[f64]) -> Vec<usize> {
    if residuals.len() < 5 {
        return Vec::new();
    }
    let median = |values: &mut Vec<f64>| {
        values.sort_by(f64::total_cmp);
        let half = values.len() / 2;
        if values.len() % 2 == 1 { values[half] } else { 0.5 * (values[half - 1] + values[half]) }
    };
    let centre = median(&mut residuals.to_vec());
    let spread = 1.4826 * median(&mut residuals.iter().map(|r| (r - centre).abs()).collect());
    if spread <= 0.0 {
        return Vec::new();
    }
    (0..residuals.len()).filter(|i| (residuals[*i] - centre).abs() > 3.5 * spread).collect()
}

/// Two-sided 95 % factor of Student's t: tabled up to twelve degrees, beyond them the Cornish-Fisher expansion (Abramowitz and Stegun
/// 26.7.5) to its fourth term, good to five decimals.
pub(crate) fn student_95(degrees: usize) -> f64 {
    const FEW: [f64; 12] = [
        12.706_204_7,
        4.302_652_73,
        3.182_446_31,
        2.776_445_11,
        2.570_581_84,
        2.446_911_85,
        2.364_624_25,
        2.306_004_14,
        2.262_157_16,
        2.228_138_85,
        2.200_985_16,
        2.178_812_83,
    ];
    if degrees == 0 {
        return f64::INFINITY;
    }
    if let Some(tabled) = FEW.get(degrees - 1) {
        return *tabled;
    }
    let (z, n) = (1.959_963_985_f64, degrees as f64);
    let (z3, z5, z7, z9) = (z.powi(3), z.powi(5), z.powi(7), z.powi(9));
    z + (z3 + z) / (4.0 * n)
        + (5.0 * z5 + 16.0 * z3 + 3.0 * z) / (96.0 * n * n)
        + (3.0 * z7 + 19.0 * z5 + 17.0 * z3 - 15.0 * z) / (384.0 * n.powi(3))
        + (79.0 * z9 + 776.0 * z7 + 1482.0 * z5 - 1920.0 * z3 - 945.0 * z) / (92_160.0 * n.powi(4))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn students_t_has_its_published_values() {
        for (degrees, value) in [
            (1, 12.706_205),
            (5, 2.570_582),
            (10, 2.228_139),
            (13, 2.160_369),
            (20, 2.085_963),
            (50, 2.008_559),
        ] {
            assert!((student_95(degrees) - value).abs() < 3e-6, "{degrees}: {}", student_95(degrees));
        }
    }

    #[test]
    fn a_point_far_off_is_named() {
        assert_eq!(outliers(&[0.01, -0.02, 0.015, 0.9, -0.01, 0.0]), [3]);
        assert!(outliers(&[0.0; 8]).is_empty());
    }
}
