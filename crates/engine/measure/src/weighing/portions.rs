//! A batch whose lines were weighed in portions, each on a balance of its own.
//!
//! The portions of a line are independent weighings, so their variances add: `u_i^2 = sum over its portions of u^2`. What then
//! follows for the shares is the same as for lines weighed in one go.

use super::{Balance, Weighing};

impl<'a> Weighing<'a> {
    /// Lines as lists of portions: net mass and its standard uncertainty, g, such as
    /// [`Balance::standard_uncertainty_g`] of the balance it was weighed on. `balance` is the one the assumptions are told of. What is
    /// negative or not finite counts as nothing.
    #[must_use]
    pub fn in_portions(balance: &'a Balance, lines: &[Vec<(f64, f64)>]) -> Self {
        let sound = |number: f64| if number.is_finite() { number.max(0.0) } else { 0.0 };
        let masses_g: Vec<f64> =
            lines.iter().map(|line| line.iter().map(|(mass, _)| sound(*mass)).sum()).collect();
        let standard_g: Vec<f64> = lines
            .iter()
            .map(|line| line.iter().map(|(_, own)| sound(*own) * sound(*own)).sum::<f64>().sqrt())
            .collect();
        let variance_g2 = standard_g.iter().map(|own| own * own).sum();
        let batch_g = masses_g.iter().sum();
        Self { balance, masses_g, standard_g, variance_g2, batch_g }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_portion_each_is_the_same_as_weighed_in_one_go() {
        let balance = Balance::with_readability("0.01".parse().unwrap()).unwrap();
        let masses = [198.0, 1.0, 0.5];
        let portions: Vec<Vec<(f64, f64)>> =
            masses.iter().map(|mass| vec![(*mass, balance.standard_uncertainty_g(*mass))]).collect();
        let (once, again) = (Weighing::of(&balance, &masses), Weighing::in_portions(&balance, &portions));
        for line in 0..masses.len() {
            assert_eq!(once.relative_standard(line), again.relative_standard(line));
        }
        // Four portions of a small line double what one weighing leaves open, the share of the others aside.
        let four = vec![(0.25, balance.standard_uncertainty_g(0.25)); 4];
        let four = Weighing::in_portions(&balance, &[portions[0].clone(), four]);
        let one = Weighing::in_portions(&balance, &[portions[0].clone(), portions[1].clone()]);
        let (four, one) = (four.relative_standard(1).unwrap(), one.relative_standard(1).unwrap());
        assert!((four / one - 2.0).abs() < 1e-3, "{four} {one}");
    }
}
