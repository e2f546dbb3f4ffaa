//! What is asked, and its problem laid out for the search.

use super::quantity::Quantity;
use crate::assess::{AssessError, Inquiry, assess, resolve};
use levigate_formula::settle::{Basis, active_share};
use levigate_formula::sheet::Amount;
use levigate_measure::search::{Aim, Group, Part, Problem, SearchError, Space, Wish};
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;
use thiserror::Error;

/// A line that may move. Where the line is solved for a pH, it is that pH that moves.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Move {
    /// Line, from 0.
    pub line: usize,
    /// Least where it is in: percent as the line is typed, or pH.
    pub low: Decimal,
    /// Most.
    pub high: Decimal,
    /// It stands on multiples of this.
    pub step: Decimal,
    /// It may be left out.
    pub may_be_off: bool,
}

/// What is aimed at.
#[derive(Clone, Debug, PartialEq)]
pub struct AimAsked {
    /// Of what.
    pub of: Quantity,
    /// In words.
    pub name: String,
    /// As much as can be.
    pub most: bool,
}

/// What a wish is held against.
#[derive(Clone, Debug, PartialEq)]
pub struct WishOn {
    /// Of what.
    pub of: Quantity,
    /// In words.
    pub name: String,
}

/// A wish.
#[derive(Clone, Debug, PartialEq)]
pub struct WishAsked {
    /// Of what.
    pub on: WishOn,
    /// Least.
    pub least: Option<f64>,
    /// Most.
    pub most: Option<f64>,
}

/// What is asked.
#[derive(Clone, Debug, PartialEq)]
pub struct Asked {
    /// Lines that may move.
    pub moves: Vec<Move>,
    /// Groups of lines: how many of them are in, least and most.
    pub groups: Vec<(Vec<usize>, usize, usize)>,
    /// One aim, or two or three against each other.
    pub aims: Vec<AimAsked>,
    /// Wishes.
    pub wishes: Vec<WishAsked>,
    /// Other answers sought.
    pub others: usize,
    /// By how much of the aim another answer may be worse, percent.
    pub near_percent: f64,
    /// Limits held between the ends of a front.
    pub rungs: Option<usize>,
    /// Seed.
    pub seed: u64,
}

/// Why there is no answer.
#[derive(Clone, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum BetterError {
    /// The formula as typed.
    #[error("the formula cannot be assessed as it is typed")]
    Assess(AssessError),
    /// A line that cannot move.
    #[error("line {} cannot move: {why}", line + 1)]
    Line {
        /// Line.
        line: usize,
        /// Why.
        why: String,
    },
    /// A quantity that has no value.
    #[error("{name} has no value here: {why}")]
    NoValue {
        /// Name.
        name: String,
        /// Why.
        why: String,
    },
    /// The search.
    #[error("{0}")]
    Search(#[from] SearchError),
}

impl BetterError {
    /// What to do.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            Self::Assess(_) => "mend it first: levigate assess says what is wrong",
            Self::Line { .. } => "name a line with a percent of its own, or one that is solved for a pH",
            Self::NoValue { .. } => "enter what is missing, or ask for something else",
            Self::Search(SearchError::NoPlace { .. }) => "take a finer step or a wider range",
            Self::Search(SearchError::NoChoice) => {
                "widen the groups or the ranges: the least of every line must fit into 100"
            }
            Self::Search(SearchError::Unreadable { .. }) => {
                "no formula in these ranges can be solved; look whether the pH aimed at can be reached with the adjuster there is"
            }
            Self::Search(_) => "give it more time",
        }
    }
}

/// The problem.
pub(super) struct Laid {
    pub(super) problem: Problem,
    /// Aims in the order asked.
    pub(super) aims: Vec<Aim>,
    pub(super) start: Vec<f64>,
    /// Quantities in the order of the readings.
    pub(super) quantities: Vec<Quantity>,
}

/// Lays the problem out.
pub(super) fn laid(inquiry: &Inquiry<'_>, asked: &Asked) -> Result<Laid, BetterError> {
    let lines: Vec<_> = inquiry.sheet.lines().map(|(_, line)| line).collect();
    let mut parts = Vec::new();
    let mut start = Vec::new();
    let mut factors = Vec::new();
    for one in &asked.moves {
        let refused = |why: &str| BetterError::Line { line: one.line, why: why.to_owned() };
        let line = lines.get(one.line).ok_or_else(|| refused("the formula has no such line"))?;
        let material =
            resolve(&inquiry.known, &line.material).map_err(|_| refused("its raw material is not known"))?;
        let (typed, factor) = match line.amount {
            Amount::Percent(percent) => (percent, 1.0),
            Amount::ActivePercent(percent) => {
                let assay =
                    line.assay_percent.and_then(|assay| assay.to_f64()).or_else(|| active_share(material));
                (percent, 100.0 / assay.filter(|assay| *assay > 0.0).unwrap_or(100.0))
            }
            Amount::ToPh(_) if one.may_be_off => {
                return Err(refused("the adjuster of a pH cannot be left out"));
            }
            Amount::ToPh(ph) => (ph, 0.0),
            Amount::Remainder(_) => return Err(refused("it takes up what the others leave")),
        };
        let number = |decimal: Decimal| decimal.to_f64().unwrap_or(f64::NAN);
        if one.may_be_off && one.low <= Decimal::ZERO {
            return Err(refused("a line that may be left out needs a least above zero for when it is in"));
        }
        parts.push(Part {
            low: number(one.low),
            high: number(one.high),
            step: Some(number(one.step)),
            may_be_off: one.may_be_off,
        });
        start.push(number(typed));
        factors.push(factor);
    }
    let place = |line: usize| asked.moves.iter().position(|one| one.line == line);
    let groups = asked.groups.iter().map(|(lines, least, most)| {
        let parts = lines.iter().map(|line| {
            place(*line).ok_or_else(|| BetterError::Line {
                line: *line,
                why: "it stands in a group, but is no line that may move".to_owned(),
            })
        });
        Ok(Group { parts: parts.collect::<Result<_, _>>()?, least: *least, most: *most })
    });
    let groups = groups.collect::<Result<Vec<_>, BetterError>>()?;
    let mut quantities: Vec<Quantity> = Vec::new();
    let mut reading = |of: &Quantity| {
        quantities.iter().position(|known| known == of).unwrap_or_else(|| {
            quantities.push(of.clone());
            quantities.len() - 1
        })
    };
    let at_start = AtStart::of(inquiry, asked);
    let mut aims = Vec::new();
    for aim in &asked.aims {
        let value = at_start.value(&aim.of, &aim.name)?;
        let scale = aim.of.inner(value.unwrap_or(1.0)).abs().max(1e-3);
        aims.push(Aim::Reading { reading: reading(&aim.of), most: aim.most, scale });
    }
    let mut wishes = Vec::new();
    for wish in &asked.wishes {
        at_start.value(&wish.on.of, &wish.on.name)?;
        let of = &wish.on.of;
        let limit = wish.most.or(wish.least).unwrap_or(0.0);
        wishes.push(Wish {
            reading: reading(of),
            low: wish.least.map(|least| of.inner(least)),
            high: wish.most.map(|most| of.inner(most)),
            scale: of.scale(limit),
            give: of.scale(limit),
        });
    }
    let counted = quantities.iter().position(|of| *of == Quantity::Plain("materials"));
    let space = Space { parts, groups, room: Some((factors, room(inquiry, asked)?)), counted };
    let aim = aims.first().cloned().unwrap_or(Aim::Nothing);
    Ok(Laid { problem: Problem { space, aim, wishes }, aims, start, quantities })
}

/// What the lines that may move may be together: what the others leave of 100.
fn room(inquiry: &Inquiry<'_>, asked: &Asked) -> Result<f64, BetterError> {
    let mut sheet = inquiry.sheet.clone();
    for (at, line) in sheet.phases.iter_mut().flat_map(|phase| &mut phase.lines).enumerate() {
        if asked.moves.iter().any(|one| one.line == at) && !matches!(line.amount, Amount::ToPh(_)) {
            line.amount = Amount::Percent(Decimal::ZERO);
        }
    }
    let settled = levigate_formula::settle::settle(&sheet, |typed| resolve(&inquiry.known, typed))
        .map_err(|errors| BetterError::Assess(AssessError::Settle(errors)))?;
    let rest = settled.lines.iter().zip(&settled.basis).find(|(_, basis)| **basis == Basis::Remainder);
    Ok(rest.map_or(0.0, |(line, _)| line.percent))
}

/// The formula as typed, where it can be assessed.
struct AtStart<'a>(Option<crate::Assessed<'a>>);

impl<'a> AtStart<'a> {
    fn of(inquiry: &Inquiry<'a>, _: &Asked) -> Self {
        Self(assess(inquiry).ok())
    }

    /// The value as typed; refused where a reading has none for a reason that moving lines does not mend.
    fn value(&self, of: &Quantity, name: &str) -> Result<Option<f64>, BetterError> {
        let Some(assessed) = &self.0 else { return Ok(None) };
        let lines: Vec<usize> = (0..assessed.settled.lines.len()).collect();
        let told = of.told(assessed, &lines, f64::NAN);
        let is_read = !matches!(
            of,
            Quantity::Sum(_)
                | Quantity::Ratio(..)
                | Quantity::ViscosityAt(_)
                | Quantity::Plain("adjuster_percent" | "limit_use_percent" | "materials" | "stops")
        );
        match (told.value, told.refused) {
            (None, Some(why)) if is_read => Err(BetterError::NoValue { name: name.to_owned(), why }),
            (value, _) => Ok(value),
        }
    }
}
