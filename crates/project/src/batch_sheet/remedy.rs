//! What to do about a line that the balance cannot weigh well: a stock in water, a premix with a carrier of the formula,
//! a larger batch, a finer balance. Each is computed, and each is left out where it does not help.

use super::build::LineFacts;
use super::practice::Practice;
use super::{Remedy, RemedyKind};
use levigate_formula::library::{Form, InWater, Library, Material, Wetting};
use levigate_measure::weighing::{Balance, Dilution, DilutionLimits, Weighing};
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;

/// How a material goes into water, as far as the facts say.
enum IntoWater {
    /// It does, up to a strength in percent as supplied.
    Dissolves { strongest_percent: f64, thickens: bool },
    /// It belongs to the oil, or stays a powder.
    Stays,
    /// Not known.
    Unknown,
}

/// Everything a remedy is computed from.
pub(super) struct Bench<'a> {
    pub(super) lines: &'a [LineFacts<'a>],
    pub(super) library: &'a Library,
    pub(super) balance: &'a Balance,
    pub(super) weighing: &'a Weighing<'a>,
    pub(super) practice: &'a Practice,
}

impl Bench<'_> {
    /// Remedies for a weak line, the least costly first.
    pub(super) fn remedies(&self, at: usize) -> Vec<Remedy> {
        let Some(line) = self.lines.get(at) else { return Vec::new() };
        let tolerance = line.tolerance();
        let mut remedies = Vec::new();
        // The q.s. line is water or the like; nobody dilutes it.
        if !line.is_remainder {
            remedies.extend(self.stock_or_premix(at, line, tolerance));
        }
        if let Some(readability) = self.weighing.finer_readability_g(at, tolerance) {
            remedies.push(Remedy {
                kind: RemedyKind::FinerBalance,
                text: format!("Weigh this line on a balance that reads {readability} g."),
                dilution: None,
                carrier_number: None,
                grams: Some(readability),
            });
        }
        if let Some(size) = self.weighing.larger_batch_g(at, tolerance) {
            remedies.push(Remedy {
                kind: RemedyKind::LargerBatch,
                text: format!("Make {size} g, the smallest round batch that helps."),
                dilution: None,
                carrier_number: None,
                grams: Some(size),
            });
        }
        remedies
    }

    fn stock_or_premix(&self, at: usize, line: &LineFacts<'_>, tolerance: f64) -> Option<Remedy> {
        match self.water_behaviour(line.material) {
            IntoWater::Dissolves { strongest_percent, thickens } => {
                let carrier = self.water_line(at)?;
                let dilution = self.dilution(line, carrier, strongest_percent, tolerance)?;
                Some(self.stock(line, carrier, dilution, thickens))
            }
            IntoWater::Stays | IntoWater::Unknown => {
                let carrier = self.premix_line(at, line)?;
                let dilution =
                    self.dilution(line, carrier, self.practice.stock.strongest_premix_percent, tolerance)?;
                Some(self.premix(line, carrier, dilution))
            }
        }
    }

    fn dilution(
        &self,
        line: &LineFacts<'_>,
        carrier: &LineFacts<'_>,
        strongest_percent: f64,
        tolerance: f64,
    ) -> Option<Dilution> {
        self.balance.dilution(&DilutionLimits {
            needed_g: line.grams,
            tolerance,
            strongest_percent,
            carrier_to_spare_g: carrier.grams,
        })
    }

    fn stock(&self, line: &LineFacts<'_>, carrier: &LineFacts<'_>, made: Dilution, thickens: bool) -> Remedy {
        let thick = if thickens { " Let it swell fully; it is thick." } else { "" };
        let text = format!(
            "Stock of {} %: {} g of it in {} g of water.{thick} Weigh {} g of the stock into the batch and take {} g off \
             line {} ({}). Expanded uncertainty then {} %. Make it fresh: a stock is not preserved.",
            made.strength_percent,
            made.material_g,
            made.carrier_g,
            made.portion_g,
            made.carrier_in_portion_g,
            carrier.number,
            carrier.name,
            two_figures(made.expanded_percent),
        );
        Remedy {
            kind: RemedyKind::Stock,
            text: if line.is_adjuster { format!("{text} Add it to the pH, as the step says.") } else { text },
            carrier_number: Some(carrier.number),
            grams: Some(made.portion_g),
            dilution: Some(made),
        }
    }

    fn premix(&self, line: &LineFacts<'_>, carrier: &LineFacts<'_>, made: Dilution) -> Remedy {
        let known = match self.water_behaviour(line.material) {
            IntoWater::Unknown => " How it behaves in water is not known here: try a few drops first.",
            _ => " Whether it stays even is not computed here: try a little first, and stir before weighing.",
        };
        Remedy {
            kind: RemedyKind::Premix,
            text: format!(
                "Premix of {} % with {}: {} g of it in {} g. Weigh {} g of the premix into the batch and take {} g off line {}. \
                 Expanded uncertainty then {} %.{known}",
                made.strength_percent,
                carrier.name,
                made.material_g,
                made.carrier_g,
                made.portion_g,
                made.carrier_in_portion_g,
                carrier.number,
                two_figures(made.expanded_percent),
            ),
            carrier_number: Some(carrier.number),
            grams: Some(made.portion_g),
            dilution: Some(made),
        }
    }

    fn water_behaviour(&self, material: Option<&Material>) -> IntoWater {
        let Some(material) = material else { return IntoWater::Unknown };
        if material.wetting == Some(Wetting::Premix) {
            return IntoWater::Stays;
        }
        let mut strongest = self.practice.stock.strongest_percent;
        let mut thickens = false;
        let mut unknown = material.constituents.is_empty();
        for part in &material.constituents {
            let Some(substance) = self.library.substances.get(&part.substance) else {
                unknown = true;
                continue;
            };
            match &substance.in_water {
                InWater::Oil | InWater::Insoluble => return IntoWater::Stays,
                InWater::Unknown => unknown = true,
                InWater::Polymer | InWater::Polyion { .. } => {
                    thickens = true;
                    let own = 100.0 * self.practice.stock.strongest_polymer_percent / part.typical.max(1.0);
                    strongest = strongest.min(own);
                }
                InWater::Water | InWater::Neutral | InWater::Components { .. } => {
                    let as_is = substance.solubility.iter().find(|value| value.of == "as-is");
                    if let Some(known) = as_is.or(substance.solubility.first()) {
                        let saturated = 100.0 * known.g_per_kg_water / (1000.0 + known.g_per_kg_water);
                        let own = self.practice.stock.share_of_solubility * saturated * 100.0
                            / part.typical.max(0.1);
                        strongest = strongest.min(own);
                    }
                }
            }
        }
        if unknown {
            IntoWater::Unknown
        } else {
            IntoWater::Dissolves { strongest_percent: strongest, thickens }
        }
    }

    /// The largest line that is nearly all water.
    fn water_line(&self, but: usize) -> Option<&LineFacts<'_>> {
        self.lines
            .iter()
            .enumerate()
            .filter(|(at, line)| *at != but && line.material.is_some_and(|material| self.is_water(material)))
            .map(|(_, line)| line)
            .max_by(|a, b| a.grams.cmp(&b.grams).then(b.number.cmp(&a.number)))
    }

    fn is_water(&self, material: &Material) -> bool {
        let water: f64 = material
            .constituents
            .iter()
            .filter(|part| {
                self.library.substances.get(&part.substance).is_some_and(|s| s.in_water == InWater::Water)
            })
            .map(|part| part.typical)
            .sum();
        water >= 95.0
    }

    /// The line a premix is made with: a liquid of the formula that is not water, of the same kind where the weak line is an
    /// oil, in the same phase where there is one, then the largest.
    fn premix_line(&self, but: usize, weak: &LineFacts<'_>) -> Option<&LineFacts<'_>> {
        let oily = weak.material.is_some_and(|material| self.is_oily(material));
        self.lines
            .iter()
            .enumerate()
            .filter(|(at, line)| {
                *at != but
                    && !line.is_adjuster
                    && line.material.is_some_and(|material| {
                        matches!(material.form, Form::Liquid)
                            && !self.is_water(material)
                            && (!oily || self.is_oily(material) || takes_up_oil(material))
                    })
            })
            .map(|(_, line)| line)
            .max_by(|a, b| {
                (a.phase == weak.phase)
                    .cmp(&(b.phase == weak.phase))
                    .then(a.grams.cmp(&b.grams))
                    .then(b.number.cmp(&a.number))
            })
    }

    fn is_oily(&self, material: &Material) -> bool {
        material.constituents.iter().any(|part| {
            part.typical >= 5.0
                && self.library.substances.get(&part.substance).is_some_and(|s| s.in_water == InWater::Oil)
        })
    }
}

fn takes_up_oil(material: &Material) -> bool {
    material.functions.iter().any(|function| function == "solubiliser" || function == "emulsifier")
}

/// Two significant figures, for an uncertainty.
fn two_figures(percent: f64) -> String {
    if percent >= 9.95 {
        format!("{percent:.0}")
    } else if percent >= 0.995 {
        format!("{percent:.1}")
    } else {
        format!("{percent:.2}")
    }
}

impl LineFacts<'_> {
    /// Tolerance as a fraction.
    pub(super) fn tolerance(&self) -> f64 {
        (self.tolerance_percent / Decimal::ONE_HUNDRED).to_f64().unwrap_or(0.05)
    }
}
