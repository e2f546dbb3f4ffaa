//! How long it takes to blend.
//!
//! ```text
//! C  = N_P^(1/3) Re,  Fo = mu t / (rho T^1.5 H^0.5)
//! Fo = 5.20 / C          turbulent, C above about 6400
//! Fo = (183 / C)^2       between, C from about 200
//! t_x = t_95 ln(1 - x) / ln(0.05)
//! ```
//! Below C = 200 an open impeller stirs a cave in a still batch and blends nothing else; an anchor or ribbon that sweeps the wall needs
//! 35 to 100 turns.
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | N_P, Re | power number, Reynolds number | - |
//! | mu, rho | viscosity at the mean shear rate of the vessel, density | Pa s, kg/m3 |
//! | T, H | diameter, depth | m |
//! | t_x | time until the largest difference is 1 - x of the first | s |
//!
//! Range: one liquid of about one density and viscosity into another; the two lines meet at C = 6440. The viscosity of a thinning batch near the
//! wall is higher than the mean: it takes longer. A constant of 5.9 instead of 5.20 is in use too (1.13 times), and a rule of a textbook,
//! `N t = 4.3 (T/H) (T/D)^2`, without the power number and without saying how even it means, gives 1.4 times the time for a disc turbine of five and
//! 0.9 times for a pitched blade of 1.3. The interval spans these rules: its ends are judgement and not measured scatter, and the textbook's example
//! lies within because the upper end was set by it. Sources: Grenville, as quoted by an open library from the
//! Handbook of Industrial Mixing; turns of anchors and ribbons from memory. Case: `tests/cross/mixing.toml`, `tests/published/mixing.toml`.

use levigate_measure::elementary::Elementary as _;

/// Below this `N_P^(1/3) Re` an open impeller does not blend.
pub const LEAST: f64 = 200.0;
/// From this on the flow is turbulent for blending.
pub const TURBULENT: f64 = 183.0 * 183.0 / 5.20;
/// Times may be so many times as short: what constants in use differ by, by judgement.
pub const SHORTER: f64 = 1.15;
/// The same for longer times, set so that a textbook's `N t = 4.3 (T/H) (T/D)^2`, 1.41 times above for a disc turbine, lies within: by judgement.
pub const LONGER: f64 = 1.45;
/// Turns an anchor or ribbon needs, from and to.
pub const TURNS_OF_SWEEPER: [f64; 2] = [35.0, 100.0];

/// `N_P^(1/3) Re`.
#[must_use]
pub fn number(power_number: f64, reynolds: f64) -> f64 {
    power_number.to_the(1.0 / 3.0) * reynolds
}

/// Time to 95 % in a vessel, s; none where an open impeller does not blend.
#[must_use]
pub fn time_of_open(
    blend_number: f64,
    viscosity_pa_s: f64,
    density_kg_m3: f64,
    [diameter_m, depth_m]: [f64; 2],
) -> Option<f64> {
    if blend_number < LEAST {
        return None;
    }
    let fourier = (5.20 / blend_number).max((183.0 / blend_number).powi(2));
    Some(fourier * density_kg_m3 * diameter_m.to_the(1.5) * depth_m.sqrt() / viscosity_pa_s)
}

/// How many times as long as to 95 % it takes to another degree between 0 and 1.
#[must_use]
pub fn to_degree(degree: f64) -> f64 {
    (1.0 - degree).log_e() / 0.05_f64.log_e()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_example_of_the_library_with_its_power_in_watt() {
        // T = H = 1.2 m, D 0.42 m, 1.5 1/s, 10 mPa s, 70 W: Np 1.587, C 3.09e4, 24.3 s.
        let np = 70.0 / (1000.0 * 1.5_f64.powi(3) * 0.42_f64.powi(5));
        let c = number(np, 1000.0 * 1.5 * 0.42 * 0.42 / 0.01);
        assert!((np - 1.587).abs() < 1e-3 && (c / 3.09e4 - 1.0).abs() < 2e-3);
        let time = time_of_open(c, 0.01, 1000.0, [1.2, 1.2]).unwrap();
        assert!((time - 24.3).abs() < 0.05, "{time}");
    }

    #[test]
    fn both_lines_meet_and_below_the_least_nothing_blends() {
        let at = |c: f64| time_of_open(c, 0.01, 1000.0, [1.0, 1.0]);
        assert!((at(TURBULENT * 1.000_001).unwrap() / at(TURBULENT * 0.999_999).unwrap() - 1.0).abs() < 1e-5);
        assert_eq!(at(199.0), None);
        assert!((to_degree(0.95) - 1.0).abs() < 1e-12 && (to_degree(0.995) - 1.768).abs() < 1e-3);
    }
}
