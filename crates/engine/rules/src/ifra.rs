//! The limit on a fragrance certificate, per category, where the user entered one.
//!
//! Equation: `a = sum of the percentages of all lines with the same raw material`, against the certificate's most, strictly. No
//! certificate is held by the program: what was not entered is said to be missing. Proved by `tests/published/rules_allergens.toml`.

use levigate_measure::{Grade, Outcome};
use serde::Serialize;
use std::collections::BTreeMap;

use crate::question::{Question, exceeds};

/// What a certificate says about one raw material.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CertificateReading {
    /// Material key.
    pub material: String,
    /// Its name.
    pub name: String,
    /// Category on the certificate, absent when no certificate was entered.
    pub category: Option<String>,
    /// Percent of the material in the product.
    pub amount: Outcome,
    /// Most allowed, %.
    pub maximum_percent: Option<f64>,
    /// Above the certificate's maximum; nothing when there is none to compare with.
    pub exceeds: Option<bool>,
    /// Amendment and date of the certificate.
    pub certificate: Option<String>,
    /// Lines.
    pub lines: Vec<usize>,
}

/// Reads all fragrances and essential oils; `category` limits the reading to one category of the certificates.
#[must_use]
pub fn certificates(question: &Question<'_>, category: Option<&str>) -> Vec<CertificateReading> {
    let mut materials: BTreeMap<&str, (f64, Vec<usize>)> = BTreeMap::new();
    for line in &question.composition.lines {
        if line.percent > 0.0 {
            let entry = materials.entry(&line.material).or_default();
            entry.0 += line.percent;
            entry.1.push(line.line);
        }
    }
    let mut readings = Vec::new();
    for (key, (percent, lines)) in materials {
        let Some(material) = question.library.materials.get(key) else { continue };
        let fragrant = material.functions.iter().any(|function| function == "fragrance");
        let amount = || {
            Outcome::new(percent, "% w/w", Grade::Computed, "sum of the lines with this raw material")
                .proved_by("tests/published/rules_allergens.toml")
        };
        let wanted: Vec<_> = material
            .ifra_limits
            .iter()
            .filter(|limit| category.is_none_or(|category| limit.category.eq_ignore_ascii_case(category)))
            .collect();
        for limit in &wanted {
            readings.push(CertificateReading {
                material: key.to_owned(),
                name: material.name.clone(),
                category: Some(limit.category.clone()),
                amount: amount().input("maximum on the certificate", limit.max_percent, "% w/w", None),
                maximum_percent: Some(limit.max_percent),
                exceeds: Some(exceeds(percent, limit.max_percent)),
                certificate: Some(format!("amendment {}, {}", limit.amendment, limit.date)),
                lines: lines.clone(),
            });
        }
        if wanted.is_empty() && fragrant {
            let why = match category {
                Some(category) if !material.ifra_limits.is_empty() => format!(
                    "The certificate entered for {} has no limit for category {category}.",
                    material.name
                ),
                _ => format!("No certificate is entered for {}; ask the supplier for it.", material.name),
            };
            readings.push(CertificateReading {
                material: key.to_owned(),
                name: material.name.clone(),
                category: None,
                amount: amount().note("no-certificate", why),
                maximum_percent: None,
                exceeds: None,
                certificate: None,
                lines,
            });
        }
    }
    readings
}
