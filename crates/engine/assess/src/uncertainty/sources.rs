//! Everything that is uncertain about a batch, one entry each.

use super::balances::Balances;
use super::{Ask, BatchError};
use crate::assess::Assessed;
use levigate_formula::aqueous::SolventShift;
use levigate_formula::aqueous::interval::coefficient_uncertainty;
use levigate_measure::elementary::Elementary as _;
use levigate_measure::uncertainty::{Scatter, UncertaintyError};
use levigate_measure::weighing::Balance;
use serde::{Deserialize, Serialize};

/// What moves a constant's pH by less than this is left out one by one.
const LITTLE_PH: f64 = 1e-4;

/// A balance and what is weighed on it.
#[derive(Clone, Debug, PartialEq)]
pub struct Assigned {
    /// The balance.
    pub balance: Balance,
    /// Lines, from 0.
    pub lines: Vec<usize>,
    /// What weighs no more than this goes onto it, g, where no balance is named for its line.
    pub up_to_g: Option<f64>,
}

/// How a content lies about its value, percentage points.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub enum Spread {
    /// Somewhere within this half-width.
    HalfWidth(f64),
    /// Normal, with this standard uncertainty.
    Standard(f64),
}

impl Spread {
    pub(super) fn check(self) -> Result<(), UncertaintyError> {
        self.scatter().check()
    }

    fn scatter(self) -> Scatter {
        match self {
            Self::HalfWidth(half) => Scatter::rectangular(half),
            Self::Standard(sd) => Scatter::normal(sd),
        }
    }
}

/// What the certificate of a lot says of the active substance of a line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LotSpread {
    /// Line, from 0.
    pub line: usize,
    /// Spread of its assay.
    pub spread: Spread,
}

/// Whether something differs from batch to batch or is common to all batches of the formula.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Group {
    /// Weighing.
    Weighing,
    /// Lots of raw materials.
    Lots,
    /// Prices.
    Prices,
    /// The prediction of the equilibrium: constants, coefficients.
    Prediction,
    /// The prediction of the flow: grade and parameters of the thickeners, their laws, the solvent.
    Flow,
}

impl Group {
    pub(super) fn of_making(self) -> bool {
        !matches!(self, Self::Prediction | Self::Flow)
    }
}

/// What a source moves.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Moves {
    /// Mass of a line, g.
    Mass(usize),
    /// Content of a constituent of a line, percentage points; place among the effects of the pot.
    Content(usize),
    /// Price of a line, relative.
    Price(usize),
    /// log10 of the constant of a species.
    Constant(usize),
    /// Apparent pKa of a polyacid.
    Polyacid(usize),
    /// log10 of the coefficient of a single charge, and of a neutral species.
    Charged,
    Neutral,
    /// Share of the shift of the mixed solvent.
    Solvent,
    /// pH scale.
    Scale,
    /// What is open about the flow; place among its parts.
    Flow(usize),
}

/// One uncertain thing.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Source {
    /// Fixes its draws.
    pub(super) name: String,
    /// In words.
    pub(super) words: String,
    pub(super) group: Group,
    pub(super) line: Option<usize>,
    pub(super) moves: Moves,
    pub(super) scatter: Scatter,
}

/// What a content that is off by one percentage point changes in its line: the constituents it touches, by percentage points.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Effect {
    pub(super) line: usize,
    /// Places among the constituents of the line.
    pub(super) changes: Vec<(usize, f64)>,
}

/// Weighing of a line as its draws are called, the same wherever the line stands.
pub(super) fn weighing_names(assessed: &Assessed<'_>) -> Vec<String> {
    let mut names: Vec<String> = Vec::new();
    for line in &assessed.composition.lines {
        let times =
            names.iter().filter(|name| name.starts_with(&format!("weighing of {}#", line.material))).count();
        names.push(format!("weighing of {}#{times}", line.material));
    }
    names
}

/// Weighing, lots and prices.
pub(super) fn of_making(
    ask: &Ask<'_>,
    assessed: &Assessed<'_>,
    (balances, masses): (&Balances<'_>, &[f64]),
    priced: &[bool],
) -> Result<(Vec<Source>, Vec<Effect>), BatchError> {
    let mut sources = Vec::new();
    let mut effects = Vec::new();
    let names = weighing_names(assessed);
    for (place, (line, mass)) in assessed.composition.lines.iter().zip(masses).enumerate() {
        if *mass <= 0.0 {
            continue;
        }
        let scatter = balances.scatter(line.line, *mass);
        let called = &assessed.settled.materials[place].name;
        let mut push = |name: String, words: String, group, moves, scatter: Scatter| {
            if scatter.standard_deviation() > 0.0 {
                sources.push(Source { name, words, group, line: Some(line.line), moves, scatter });
            }
        };
        push(
            names[place].clone(),
            format!("weighing of {called}"),
            Group::Weighing,
            Moves::Mass(place),
            scatter,
        );
        if let Some(percent) = ask.price_half_width_percent.filter(|_| priced[place]) {
            push(
                format!("price, {}", names[place]),
                format!("price of {called}"),
                Group::Prices,
                Moves::Price(place),
                Scatter::rectangular(percent / 100.0),
            );
        }
        let lot = ask.lots.iter().find(|lot| lot.line == line.line);
        let material = assessed.settled.materials[place];
        let active = material.active.as_deref();
        if lot.is_some() && active.is_none() {
            return Err(BatchError::NoActive { line: line.line, material: material.name.clone() });
        }
        for (part, share) in line.constituents.iter().enumerate() {
            let is_active = active == Some(share.substance.as_str());
            let scatter = match lot.filter(|_| is_active) {
                Some(lot) => lot.spread.scatter(),
                None => Scatter::rectangular(0.5 * (share.high - share.low).max(0.0)),
            };
            let balance = material.balance.as_deref();
            if scatter.standard_deviation() <= 0.0
                || (balance == Some(share.substance.as_str()) && !is_active)
            {
                continue;
            }
            effects.push(Effect { line: place, changes: changes(line, part, balance) });
            let moves = Moves::Content(effects.len() - 1);
            let substance = ask.inquiry.known.library.substances.get(&share.substance);
            let of = substance.map_or(share.substance.as_str(), |one| one.name.as_str());
            push(
                format!("content of {}, {}", share.substance, names[place]),
                format!("content of {of} in {called}"),
                Group::Lots,
                moves,
                scatter,
            );
        }
    }
    Ok((sources, effects))
}

/// One point more of a constituent: the balance constituent gives way, else the others by their shares.
fn changes(
    line: &levigate_formula::composition::SettledLine,
    part: usize,
    balance: Option<&str>,
) -> Vec<(usize, f64)> {
    let parts = &line.constituents;
    let mut changes = vec![(part, 1.0)];
    let taking_up =
        parts.iter().position(|one| Some(one.substance.as_str()) == balance).filter(|at| *at != part);
    if let Some(at) = taking_up {
        changes.push((at, -1.0));
        return changes;
    }
    let others: f64 =
        parts.iter().enumerate().filter(|(at, _)| *at != part).map(|(_, one)| one.typical).sum();
    if others > 1e-9 {
        let give = parts.iter().enumerate().filter(|(at, _)| *at != part);
        changes.extend(give.map(|(at, one)| (at, -one.typical / others)));
    }
    changes
}

/// What the prediction leaves open about the equilibrium; `kept` are species whose constants count however little they move the pH.
pub(super) fn of_equilibrium(assessed: &Assessed<'_>, solvent: SolventShift, kept: &[usize]) -> Vec<Source> {
    let mixture = &assessed.mixture;
    let (system, slopes) = (&mixture.system, &mixture.sensitivities);
    let strength = mixture.speciation.ionic_strength;
    let mut sources = Vec::new();
    let mut push = |name: String, moves, sd: f64| {
        if sd > 0.0 {
            let scatter = Scatter::normal(sd);
            let words = name.clone();
            sources.push(Source { name, words, group: Group::Prediction, line: None, moves, scatter });
        }
    };
    for (place, (fact, slope)) in system.species().iter().zip(&slopes.by_constant).enumerate() {
        if (slope * fact.uncertainty_log10).abs() > LITTLE_PH || kept.contains(&place) {
            push(format!("constant of {}", fact.name), Moves::Constant(place), fact.uncertainty_log10);
        }
    }
    let outside = if mixture.speciation.polyacid_outside { 2.0 } else { 1.0 };
    for chain in 0..system.polyacids() {
        if let Some((name, doubt)) = system.polyacid_doubt(chain, strength.log_e()) {
            push(format!("apparent pKa of {name}"), Moves::Polyacid(chain), doubt * outside);
        }
    }
    if system.conditions().activity != levigate_formula::aqueous::ActivityModel::Ideal {
        push("activity coefficients of ions".to_owned(), Moves::Charged, coefficient_uncertainty(strength));
        push("activity coefficients of neutral species".to_owned(), Moves::Neutral, 0.1 * strength.min(1.0));
    }
    if solvent.fraction > 0.0 {
        push("mixed solvent".to_owned(), Moves::Solvent, 1.0);
    }
    push("pH scale".to_owned(), Moves::Scale, 0.01);
    sources
}
