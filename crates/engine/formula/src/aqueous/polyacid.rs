//! Weak polyacids: the apparent pKa of the units rises with the charge of the chain, and part of the counter-ions stays with it.
//!
//! ```text
//! pH = pk + slope a + bend a^2 + log10(a / (1 - a))
//! a_free = min(a, b / l_B)
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | a | degree of ionisation of the units | - |
//! | pk, slope, bend | parameters at the ionic strength, interpolated in ln I between rows, held outside | - |
//! | b | distance of neighbouring units along the chain | nm |
//! | l_B | Bjerrum length | nm |
//! | a_free | charges per unit whose counter-ions are free | - |
//!
//! The apparent pKa as a polynomial of the second degree in `a` is Mandel's form (Eur. Polym. J. 6 (1970) 807) and, written otherwise,
//! Hogfeldt's three-parameter form, in which polyacrylates were measured (De Stefano and others, J. Chem. Eng. Data 45 (2000) 876). The
//! shipped parameters are the Poisson-Boltzmann potential of a charged rod (`tests/cross/polyion_titration.py`), which the form
//! follows within 0.07 in pH from I = 0.01 mol/kg up and 0.13 at 0.001. Counter-ions beyond one charge per Bjerrum length of chain are
//! condensed and do not count towards the ionic strength, nor does the chain itself (Manning, J. Chem. Phys. 51 (1969) 924). The pH
//! is the activity of H+; the parameters contain every other coefficient of the unit, so no Davies term is applied to it.
//! Range: chains long against the screening length, no divalent ions bound to the chain; the parameters say their ionic strengths.
//! Cases: `tests/cross/polyion_titration.toml`, `tests/published/polyacids.toml`.

use super::chemistry::{ApparentPk, Polyacid};
use core::f64::consts::LN_10;
use levigate_measure::elementary::Elementary as _;

/// A polyacid prepared for one temperature.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Chain {
    rows: Vec<ApparentPk>,
    ln_strength: Vec<f64>,
    /// Degree of ionisation from which further counter-ions are condensed.
    pub(crate) condensed_from: f64,
    /// Shift of `pk` from outside (solvent, sensitivity), pH units.
    pub(crate) shift: f64,
    /// Source keys of the parameters.
    pub(crate) sources: [String; 3],
}

/// Degree of ionisation with its derivatives.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Ionised {
    /// Degree of ionisation.
    pub(crate) degree: f64,
    /// One minus the degree, without cancellation.
    pub(crate) neutral: f64,
    /// Derivative with respect to ln a(H+).
    pub(crate) by_ln_proton: f64,
    /// Derivative with respect to ln I.
    pub(crate) by_ln_strength: f64,
    /// Derivative with respect to `pk`.
    pub(crate) by_pk: f64,
}

impl Chain {
    pub(crate) fn new(polyacid: &Polyacid, bjerrum_length_nm: f64) -> Self {
        Self {
            ln_strength: polyacid.at.iter().map(|row| row.ionic_strength.log_e()).collect(),
            rows: polyacid.at.clone(),
            condensed_from: (polyacid.unit_spacing_nm / bjerrum_length_nm).min(1.0),
            shift: 0.0,
            sources: [&polyacid.source, &polyacid.pk_source, &polyacid.unit_spacing_source]
                .map(String::clone),
        }
    }

    /// Parameters at ln I: `[pk, slope, bend, uncertainty]` and their derivatives with respect to ln I.
    fn parameters(&self, ln_strength: f64) -> ([f64; 4], [f64; 4]) {
        let pack = |row: &ApparentPk| [row.pk + self.shift, row.slope, row.bend, row.uncertainty];
        let last = self.rows.len() - 1;
        let above = self.ln_strength.partition_point(|&x| x <= ln_strength);
        if above == 0 {
            return (pack(&self.rows[0]), [0.0; 4]);
        }
        if above > last {
            return (pack(&self.rows[last]), [0.0; 4]);
        }
        let (x0, x1) = (self.ln_strength[above - 1], self.ln_strength[above]);
        let (low, high) = (pack(&self.rows[above - 1]), pack(&self.rows[above]));
        let share = (ln_strength - x0) / (x1 - x0);
        let slope = core::array::from_fn(|k| (high[k] - low[k]) / (x1 - x0));
        (core::array::from_fn(|k| low[k] + share * (high[k] - low[k])), slope)
    }

    /// Standard uncertainty of the apparent pKa at ln I.
    pub(crate) fn uncertainty(&self, ln_strength: f64) -> f64 {
        self.parameters(ln_strength).0[3]
    }

    /// Whether ln I lies within the rows (or there is only one row).
    pub(crate) fn covers(&self, ln_strength: f64) -> bool {
        let last = self.ln_strength.len() - 1;
        (self.ln_strength[0] - 0.7..=self.ln_strength[last] + 0.7).contains(&ln_strength)
    }

    /// Solves the equation of the module for the degree of ionisation.
    pub(crate) fn ionised(&self, ln_proton: f64, ln_strength: f64) -> Ionised {
        let ([pk, slope, bend, _], change) = self.parameters(ln_strength);
        let target = -ln_proton / LN_10 - pk;
        let rise = |degree: f64| degree * (slope + bend * degree);
        // In s = ln(a / (1 - a)) the left side is increasing: the rise of the pKa lies between nothing and that of the full charge.
        let (mut low, mut high) = ((target - rise(1.0)) * LN_10, target * LN_10);
        let mut s = 0.5 * (low + high);
        for _ in 0..60 {
            let degree = 1.0 / (1.0 + (-s).exp_e());
            let miss = s / LN_10 + rise(degree) - target;
            if miss > 0.0 {
                high = s;
            } else {
                low = s;
            }
            let steepness = 1.0 / LN_10 + (slope + 2.0 * bend * degree) * degree * (1.0 - degree);
            let next = s - miss / steepness;
            let next = if next > low && next < high { next } else { 0.5 * (low + high) };
            let done = (next - s).abs() <= 1e-15 * (1.0 + s.abs());
            s = next;
            if done {
                break;
            }
        }
        let degree = 1.0 / (1.0 + (-s).exp_e());
        let neutral = 1.0 / (1.0 + s.exp_e());
        let by_target = degree * neutral / (1.0 / LN_10 + (slope + 2.0 * bend * degree) * degree * neutral);
        Ionised {
            degree,
            neutral,
            by_ln_proton: -by_target / LN_10,
            by_ln_strength: -(change[0] + change[1] * degree + change[2] * degree * degree) * by_target,
            by_pk: -by_target,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn chain() -> Chain {
        Chain::new(
            &Polyacid {
                component: "A-".into(),
                product: "HA".into(),
                label: String::new(),
                unit_spacing_nm: 0.25,
                unit_spacing_source: String::new(),
                at: vec![
                    ApparentPk { ionic_strength: 0.01, pk: 4.5, slope: 2.0, bend: -0.8, uncertainty: 0.2 },
                    ApparentPk { ionic_strength: 0.1, pk: 4.3, slope: 1.2, bend: 0.3, uncertainty: 0.1 },
                ],
                source: String::new(),
                pk_source: String::new(),
                quality: None,
                note: None,
            },
            0.714,
        )
    }

    #[test]
    fn derivatives_agree_with_differences() {
        let chain = chain();
        for ph in [1.0, 4.0, 5.5, 9.0] {
            for strength in [0.02_f64, 0.05] {
                let (x, y) = (-ph * LN_10, strength.log_e());
                let here = chain.ionised(x, y);
                let step = 1e-5;
                let by_x =
                    (chain.ionised(x + step, y).degree - chain.ionised(x - step, y).degree) / (2.0 * step);
                let by_y =
                    (chain.ionised(x, y + step).degree - chain.ionised(x, y - step).degree) / (2.0 * step);
                assert!((here.by_ln_proton - by_x).abs() < 1e-8, "{ph}");
                assert!((here.by_ln_strength - by_y).abs() < 1e-8, "{ph}");
            }
        }
    }

    #[test]
    fn the_equation_holds_at_the_solution() {
        let chain = chain();
        let here = chain.ionised(-5.0 * LN_10, 0.1_f64.log_e());
        let ph = 4.3 + here.degree * (1.2 + 0.3 * here.degree) + (here.degree / here.neutral).log_10();
        assert!((ph - 5.0).abs() < 1e-12);
    }
}
