//! From what was typed to what is weighed: assay corrections, q.s. and the lines still to be solved for a pH.
//!
//! Decimal arithmetic throughout, so that a sum of 100 is 100. Equation for an active line: `p = a * 100 / assay`, with the
//! percent `a` of the active substance wanted and the assay (% of the active in the raw material, the lot's own where given).

use crate::composition::{ConstituentShare, SettledLine};
use crate::library::Material;
use crate::sheet::{Amount, Line, Sheet};
use rust_decimal::Decimal;
use rust_decimal::prelude::{FromPrimitive, ToPrimitive};
use thiserror::Error;

/// Substance key for what an assay leaves unnamed.
pub const UNIDENTIFIED: &str = "unidentified";

/// Why a sheet cannot be settled. Lines count from 0.
#[derive(Clone, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum SettleError {
    /// No record of that name.
    #[error("no raw material is called \"{name}\"")]
    UnknownMaterial {
        /// Line.
        line: usize,
        /// What was typed.
        name: String,
        /// Names that come close.
        nearest: Vec<String>,
    },
    /// An amount below zero.
    #[error("{percent} % is below zero")]
    BelowZero {
        /// Line.
        line: usize,
        /// What was typed.
        percent: Decimal,
    },
    /// An amount above one hundred.
    #[error("{percent} % is more than the whole product")]
    AboveHundred {
        /// Line.
        line: usize,
        /// What was typed, or what the assay makes of it.
        percent: Decimal,
    },
    /// `active_percent` on a material without a stated active.
    #[error("the record of \"{material}\" names no active substance, so a percent of active means nothing")]
    NoActive {
        /// Line.
        line: usize,
        /// Material name.
        material: String,
    },
    /// An assay outside 0 to 100.
    #[error("an assay of {assay} % cannot be")]
    AssayOutOfRange {
        /// Line.
        line: usize,
        /// What was typed.
        assay: Decimal,
    },
    /// More than one q.s. line.
    #[error("two lines are q.s. to 100; only one can take up the rest")]
    TwoRemainders {
        /// The first.
        first: usize,
        /// The second.
        second: usize,
    },
    /// No q.s. line.
    #[error("no line is q.s. to 100; the lines add up to {total} %")]
    NoRemainder {
        /// Sum of the lines.
        total: Decimal,
    },
    /// The lines leave less than nothing for the q.s. line.
    #[error("the other lines add up to {total} %, so nothing is left for the q.s. line")]
    OverHundred {
        /// Line that is q.s.
        line: usize,
        /// Sum of the others.
        total: Decimal,
    },
    /// Two adjusters with different aims.
    #[error("two lines are to bring the product to different pH values ({first_ph} and {second_ph})")]
    TwoAims {
        /// The second line.
        line: usize,
        /// Aim of the first.
        first_ph: Decimal,
        /// Aim of the second.
        second_ph: Decimal,
    },
    /// A pH that cannot be.
    #[error("pH {ph} is outside 0 to 14")]
    PhOutOfRange {
        /// Line.
        line: usize,
        /// What was typed.
        ph: Decimal,
    },
    /// No line at all.
    #[error("the formula has no lines")]
    Empty,
}

impl SettleError {
    /// The line it is about, from 0.
    #[must_use]
    pub fn line(&self) -> Option<usize> {
        match *self {
            Self::UnknownMaterial { line, .. }
            | Self::BelowZero { line, .. }
            | Self::AboveHundred { line, .. }
            | Self::NoActive { line, .. }
            | Self::AssayOutOfRange { line, .. }
            | Self::OverHundred { line, .. }
            | Self::TwoAims { line, .. }
            | Self::PhOutOfRange { line, .. } => Some(line),
            Self::TwoRemainders { second, .. } => Some(second),
            Self::NoRemainder { .. } | Self::Empty => None,
        }
    }

    /// The field of the line it is about.
    #[must_use]
    pub fn field(&self) -> &'static str {
        match self {
            Self::UnknownMaterial { .. } => "material",
            Self::BelowZero { .. } | Self::AboveHundred { .. } => "percent",
            Self::NoActive { .. } => "active_percent",
            Self::AssayOutOfRange { .. } => "assay_percent",
            Self::TwoRemainders { .. } | Self::OverHundred { .. } => "remainder",
            Self::TwoAims { .. } | Self::PhOutOfRange { .. } => "to_ph",
            Self::NoRemainder { .. } | Self::Empty => "phase",
        }
    }

    /// What to do.
    #[must_use]
    pub fn hint(&self) -> String {
        match self {
            Self::UnknownMaterial { nearest, .. } if nearest.is_empty() => {
                "search the raw materials, or add your own grade".to_owned()
            }
            Self::UnknownMaterial { nearest, .. } => format!("did you mean {}?", nearest.join(", ")),
            Self::BelowZero { .. } => "type a percent of zero or more".to_owned(),
            Self::AboveHundred { .. } => "type a percent of at most 100, or check the assay".to_owned(),
            Self::NoActive { .. } => {
                "give the percent as supplied, or name the active in the record".to_owned()
            }
            Self::AssayOutOfRange { .. } => {
                "an assay is more than 0 and at most 100 percent; take it from the lot's certificate"
                    .to_owned()
            }
            Self::TwoRemainders { first, .. } => {
                format!("give line {} or this line a percent", first + 1)
            }
            Self::NoRemainder { .. } => "mark one line, usually the water, with remainder = true".to_owned(),
            Self::OverHundred { total, .. } => {
                format!("take at least {} % out of the other lines", total - Decimal::ONE_HUNDRED)
            }
            Self::TwoAims { .. } => {
                "an acid and a base line may share one aim; give both the same pH".to_owned()
            }
            Self::PhOutOfRange { .. } => "type a pH between 0 and 14".to_owned(),
            Self::Empty => "add at least one line that is q.s. to 100".to_owned(),
        }
    }
}

/// Where the amount of a line came from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Basis {
    /// Typed as supplied.
    Typed,
    /// From the percent of active and the assay.
    FromActive,
    /// q.s. to 100.
    Remainder,
    /// To be solved for a pH.
    ToPh,
}

impl Basis {
    /// The word in results.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Typed => "typed",
            Self::FromActive => "from-active",
            Self::Remainder => "remainder",
            Self::ToPh => "solved",
        }
    }
}

/// A sheet whose typed amounts are settled; adjuster lines still stand at zero.
#[derive(Clone, Debug, PartialEq)]
pub struct Settled<'a> {
    /// Lines in order.
    pub lines: Vec<SettledLine>,
    /// Their materials.
    pub materials: Vec<&'a Material>,
    /// Where each amount came from.
    pub basis: Vec<Basis>,
    /// The q.s. line.
    pub remainder: usize,
    /// Lines to be solved and the pH they aim at.
    pub to_ph: Option<(Vec<usize>, Decimal)>,
    /// Sum of all lines but the q.s. line and the adjusters.
    pub fixed_total: Decimal,
}

impl Settled<'_> {
    /// Sets an adjuster line to `percent`, taken from the q.s. line.
    pub fn set_adjuster(&mut self, line: usize, percent: f64) {
        let moved = percent - self.lines[line].percent;
        self.lines[line].percent = percent;
        self.lines[line].exact = None;
        self.lines[self.remainder].percent -= moved;
        self.lines[self.remainder].exact = None;
    }
}

/// Settles a sheet against the raw materials it names.
///
/// `resolve` finds a material by what was typed, or gives the nearest names.
///
/// # Errors
/// All that is wrong with the sheet, not only the first thing.
pub fn settle<'a>(
    sheet: &Sheet,
    resolve: impl Fn(&str) -> Result<&'a Material, Vec<String>>,
) -> Result<Settled<'a>, Vec<SettleError>> {
    let mut errors = Vec::new();
    let count = sheet.lines().count();
    let mut lines = Vec::with_capacity(count);
    let mut materials = Vec::with_capacity(count);
    let mut basis = Vec::with_capacity(count);
    let mut remainder: Option<usize> = None;
    let mut to_ph: Option<(Vec<usize>, Decimal)> = None;
    let mut fixed_total = Decimal::ZERO;
    for (index, (phase, line)) in sheet.lines().enumerate() {
        let material = match resolve(&line.material) {
            Ok(material) => Some(material),
            Err(nearest) => {
                errors.push(SettleError::UnknownMaterial {
                    line: index,
                    name: line.material.clone(),
                    nearest,
                });
                None
            }
        };
        let percent = match settle_amount(index, line, material) {
            Ok(percent) => percent,
            Err(error) => {
                errors.push(error);
                None
            }
        };
        let line_basis = match line.amount {
            Amount::Percent(_) => Basis::Typed,
            Amount::ActivePercent(_) => Basis::FromActive,
            Amount::Remainder(_) => {
                match remainder {
                    Some(first) => errors.push(SettleError::TwoRemainders { first, second: index }),
                    None => remainder = Some(index),
                }
                Basis::Remainder
            }
            Amount::ToPh(ph) => {
                match &mut to_ph {
                    Some((_, aim)) if *aim != ph => {
                        errors.push(SettleError::TwoAims { line: index, first_ph: *aim, second_ph: ph });
                    }
                    Some((wanted, _)) => wanted.push(index),
                    None => to_ph = Some((vec![index], ph)),
                }
                Basis::ToPh
            }
        };
        if let Some(percent) = percent {
            // Saturating only guards against absurd input; a sum beyond 100 is an error below.
            fixed_total = fixed_total.saturating_add(percent);
        }
        if let Some(material) = material {
            lines.push(SettledLine {
                line: index,
                phase,
                material: material.key.clone(),
                percent: percent.and_then(|p| p.to_f64()).unwrap_or(0.0),
                exact: percent,
                constituents: with_assay(material, line.assay_percent.and_then(|a| a.to_f64())),
            });
            materials.push(material);
            basis.push(line_basis);
        }
    }
    if count == 0 {
        errors.push(SettleError::Empty);
    } else {
        match remainder {
            None => errors.push(SettleError::NoRemainder { total: fixed_total }),
            Some(line) if fixed_total > Decimal::ONE_HUNDRED => {
                errors.push(SettleError::OverHundred { line, total: fixed_total });
            }
            Some(line) if errors.is_empty() => {
                let rest = Decimal::ONE_HUNDRED - fixed_total;
                lines[line].percent = rest.to_f64().unwrap_or(0.0);
                lines[line].exact = Some(rest);
            }
            Some(_) => {}
        }
    }
    match (errors.is_empty(), remainder) {
        (true, Some(remainder)) => Ok(Settled { lines, materials, basis, remainder, to_ph, fixed_total }),
        _ => Err(errors),
    }
}

fn settle_amount(
    index: usize,
    line: &Line,
    material: Option<&Material>,
) -> Result<Option<Decimal>, SettleError> {
    if let Some(assay) = line.assay_percent
        && (assay <= Decimal::ZERO || assay > Decimal::ONE_HUNDRED)
    {
        return Err(SettleError::AssayOutOfRange { line: index, assay });
    }
    let checked = |percent: Decimal| {
        if percent < Decimal::ZERO {
            Err(SettleError::BelowZero { line: index, percent })
        } else if percent > Decimal::ONE_HUNDRED {
            Err(SettleError::AboveHundred { line: index, percent: percent.round_dp(4) })
        } else {
            Ok(Some(percent))
        }
    };
    match line.amount {
        Amount::Percent(percent) => checked(percent),
        Amount::ActivePercent(active) => {
            let Some(material) = material else { return Ok(None) };
            let typical = active_share(material).and_then(Decimal::from_f64);
            match line.assay_percent.or(typical) {
                Some(assay) if assay > Decimal::ZERO && material.active.is_some() => {
                    // Twelve decimals are far below any balance and keep the sum exact in decimal arithmetic.
                    let weighed = active.saturating_mul(Decimal::ONE_HUNDRED).checked_div(assay);
                    checked(weighed.unwrap_or(Decimal::MAX).round_dp(12).normalize())
                }
                _ => Err(SettleError::NoActive { line: index, material: material.name.clone() }),
            }
        }
        Amount::Remainder(_) => Ok(None),
        Amount::ToPh(ph) if ph < Decimal::ZERO || ph > Decimal::from(14) => {
            Err(SettleError::PhOutOfRange { line: index, ph })
        }
        Amount::ToPh(_) => Ok(None),
    }
}

/// Typical share of the active in a material, %.
#[must_use]
pub fn active_share(material: &Material) -> Option<f64> {
    let active = material.active.as_ref()?;
    material.constituents.iter().find(|part| part.substance == *active).map(|part| part.typical)
}

/// Constituents of a material with the assay of the lot applied.
///
/// The active takes the assay. The balance constituent (water in a solution) takes up the difference; without one, the other
/// constituents scale to fill; without others, the rest is [`UNIDENTIFIED`].
#[must_use]
pub fn with_assay(material: &Material, assay_percent: Option<f64>) -> Vec<ConstituentShare> {
    let mut parts: Vec<ConstituentShare> = material
        .constituents
        .iter()
        .map(|part| ConstituentShare {
            substance: part.substance.clone(),
            low: part.min,
            typical: part.typical,
            high: part.max,
        })
        .collect();
    let (Some(assay), Some(active)) = (assay_percent, material.active.as_deref()) else { return parts };
    let Some(position) = parts.iter().position(|part| part.substance == active) else { return parts };
    let change = assay - parts[position].typical;
    parts[position] =
        ConstituentShare { substance: active.to_owned(), low: assay, typical: assay, high: assay };
    let balance = material.balance.as_deref().filter(|key| *key != active);
    if let Some(part) = balance.and_then(|key| parts.iter_mut().find(|part| part.substance == key)) {
        let typical = (part.typical - change).max(0.0);
        *part = ConstituentShare { low: typical, typical, high: typical, ..part.clone() };
    } else if let Some(key) = balance {
        let typical = (100.0 - parts.iter().map(|part| part.typical).sum::<f64>()).max(0.0);
        parts.push(ConstituentShare { substance: key.to_owned(), low: typical, typical, high: typical });
    } else {
        let others: f64 = parts.iter().map(|part| part.typical).sum::<f64>() - assay;
        let rest = (100.0 - assay).max(0.0);
        if others > 1e-9 {
            let scale = rest / others;
            for part in parts.iter_mut().filter(|part| part.substance != active) {
                part.low *= scale;
                part.typical *= scale;
                part.high *= scale;
            }
        } else if rest > 1e-9 {
            parts.push(ConstituentShare {
                substance: UNIDENTIFIED.to_owned(),
                low: rest,
                typical: rest,
                high: rest,
            });
        }
    }
    parts
}
