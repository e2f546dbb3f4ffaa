//! The cave an impeller stirs in a batch with a yield stress.
//!
//! ```text
//! (D_c / d)^3 = 4 N_P rho N^2 d^2 / (pi^3 tau0)
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | D_c, d | cave (a ball), impeller | m |
//! | N_P, rho, N | power number, density, speed | -, kg/m3, 1/s |
//! | tau0 | yield stress | Pa |
//!
//! Range: the torque is carried by the yield stress on a ball that does not reach the wall; outside it the batch stands still. The published lines lie
//! 20 % apart. Source: Solomon, Elson, Nienow and Pace, Chem. Eng. Commun. 11 (1981) 143, from memory. Case: the balance of torque, below.

use core::f64::consts::PI;
use levigate_measure::elementary::Elementary as _;

/// Diameter of the cave, m: at least that of the impeller. A yield stress of zero gives an endless one.
#[must_use]
pub fn diameter(power_number: f64, density_kg_m3: f64, speed: f64, impeller_m: f64, yield_pa: f64) -> f64 {
    let pressure = density_kg_m3 * (speed * impeller_m).powi(2);
    let cubed = 4.0 * power_number * pressure / (PI.powi(3) * yield_pa);
    impeller_m * cubed.to_the(1.0 / 3.0).max(1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_yield_stress_on_the_ball_carries_the_torque() {
        // Torque P / (2 pi N) against the yield stress over the ball, integral of tau0 r sin(a) dA = pi^2 tau0 D^3 / 8.
        let (np, rho, n, d, tau) = (1.3, 1000.0, 5.0_f64, 0.1_f64, 10.0);
        let cave = diameter(np, rho, n, d, tau);
        let torque = np * rho * n.powi(2) * d.powi(5) / (2.0 * PI);
        assert!((PI.powi(2) * tau * cave.powi(3) / 8.0 / torque - 1.0).abs() < 1e-9);
        assert!(diameter(np, rho, n, d, 0.0).is_infinite());
        assert_eq!(diameter(np, rho, 1e-3, d, tau), d);
    }
}
