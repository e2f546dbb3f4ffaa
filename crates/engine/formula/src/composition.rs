//! Composition: every raw material opened to its constituents, summed over all lines, traceable line by line.
//!
//! Equation: `w_s = sum over lines i of p_i * x_(i,s) / 100`, with the line's percentage `p_i` (% w/w of the product) and the
//! constituent's share `x_(i,s)` (% w/w of the raw material). Bounds use the minimum and maximum of each share; water is a
//! constituent like any other, so water carried in by solutions is counted.

use serde::Serialize;
use std::collections::BTreeMap;

/// One line of the formula with its amount settled.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SettledLine {
    /// Position among all lines of the sheet, from 0.
    pub line: usize,
    /// Position of its phase, from 0.
    pub phase: usize,
    /// Key of the raw material.
    pub material: String,
    /// Percent w/w of the product, as supplied.
    pub percent: f64,
    /// The same where it is exact: what the person typed, or 100 minus what was typed.
    pub exact: Option<rust_decimal::Decimal>,
    /// Constituents with the lot's assay applied, % w/w of the raw material.
    pub constituents: Vec<ConstituentShare>,
}

/// Share of one constituent in one raw material, % w/w.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ConstituentShare {
    /// Substance key.
    pub substance: String,
    /// Least.
    pub low: f64,
    /// Typical.
    pub typical: f64,
    /// Most.
    pub high: f64,
}

/// What one line brings of one substance, % w/w of the product.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Contribution {
    /// Line, from 0.
    pub line: usize,
    /// Typical.
    pub percent: f64,
    /// Least.
    pub low: f64,
    /// Most.
    pub high: f64,
}

/// One substance in the product, % w/w.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Share {
    /// Typical.
    pub percent: f64,
    /// Least.
    pub low: f64,
    /// Most.
    pub high: f64,
    /// The lines it comes from.
    pub from: Vec<Contribution>,
}

/// What the product consists of.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Composition {
    /// Lines with settled amounts, in the order of the sheet.
    pub lines: Vec<SettledLine>,
    /// Substances by key.
    pub substances: BTreeMap<String, Share>,
}

impl Composition {
    /// Sums the lines into substances.
    #[must_use]
    pub fn of(lines: Vec<SettledLine>) -> Self {
        let mut substances: BTreeMap<String, Share> = BTreeMap::new();
        for line in &lines {
            for part in &line.constituents {
                let scale = line.percent / 100.0;
                let contribution = Contribution {
                    line: line.line,
                    percent: scale * part.typical,
                    low: scale * part.low,
                    high: scale * part.high,
                };
                if let Some(share) = substances.get_mut(&part.substance) {
                    share.percent += contribution.percent;
                    share.low += contribution.low;
                    share.high += contribution.high;
                    share.from.push(contribution);
                } else {
                    substances.insert(
                        part.substance.clone(),
                        Share {
                            percent: contribution.percent,
                            low: contribution.low,
                            high: contribution.high,
                            from: vec![contribution],
                        },
                    );
                }
            }
        }
        Self { lines, substances }
    }

    /// Percent of a substance, zero when absent.
    #[must_use]
    pub fn percent(&self, substance: &str) -> f64 {
        self.substances.get(substance).map_or(0.0, |share| share.percent)
    }
}
