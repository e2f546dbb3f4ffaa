//! Free acids: how much of every weak acid stands undissociated at the pH of the product.
//!
//! ```text
//! a = m_0 / T                    odds = a / (1 - a)
//! d lg a / d lg K_j = [j = 0] - w_j - n d pH/d lg K_j        n = p_0 - sum of w_j p_j
//! d lg a / d pH     = -n
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | a | share of the acid that stands in its uncharged form 0 | - |
//! | T | all of the acid | mol/kg water |
//! | w_j, p_j | share of the acid in form j and the protons of that form | - |
//! | K_j | formation constant of form j | - |
//!
//! The interval is that of the odds: the constants of all forms, the coefficients, and everything else that makes the computed pH
//! uncertain, each counted once although it moves both the pH and the share. The amount adds the range of the raw materials, which is
//! all that is left for an acid that hardly dissociates.

use crate::mixture::Mixture;
use levigate_formula::aqueous::System;
use levigate_formula::aqueous::interval::{PhInterval, coefficient_uncertainty};
use levigate_formula::aqueous::system::SpeciesFact;
use levigate_formula::composition::Composition;
use levigate_formula::library::{InWater, Library, Substance};
use levigate_measure::elementary::Elementary as _;
use levigate_measure::written::{Described, Description, result};
use levigate_measure::{Grade, Outcome};
use serde::Serialize;
use std::collections::BTreeMap;

struct TotalPercent;
impl Described for TotalPercent {
    const OF: Description = Description::computed("% w/w", "sum over all raw materials, as the free acid")
        .by("w = n * M")
        .proved_by("exact arithmetic");
}

/// One weak acid.
#[derive(Clone, Debug, Serialize)]
pub struct AcidReading {
    /// Component of the equilibrium model.
    pub component: String,
    /// Name of the acid.
    pub name: String,
    /// Undissociated share, 0 to 1.
    pub share: Outcome,
    /// Undissociated acid, % w/w of the product.
    pub free_percent: Option<Outcome>,
    /// All of it as acid, % w/w of the product.
    #[serde(serialize_with = "result::<TotalPercent, _, _>")]
    pub total_percent: Option<f64>,
}

/// Interval of an undissociated share (0 to 1) at a given pH, coverage 0.95: the odds of the form move with the uncertainty of its
/// constant and of the activity coefficient, both in log10.
pub(crate) fn share_interval(share: f64, fact: &SpeciesFact, coefficient_log10: f64) -> [f64; 2] {
    let slope = 10f64.to_the(2.0 * fact.uncertainty_log10.root_sum_square(coefficient_log10));
    let odds = share / (1.0 - share).max(f64::MIN_POSITIVE);
    [odds / slope, odds * slope].map(|odds| odds / (1.0 + odds))
}

/// The uncharged species made of one unit of a component and protons only.
#[derive(Clone, Copy, Debug)]
pub(crate) struct NeutralForm<'m> {
    /// Place among the species of the system.
    pub(crate) place: usize,
    pub(crate) fact: &'m SpeciesFact,
    pub(crate) component: &'m str,
    /// The substance that it is by itself: benzoic acid for benzoate and one proton.
    pub(crate) substance: Option<&'m Substance>,
}

/// The neutral forms of a system, with their substances.
pub(crate) fn neutral_forms<'m>(system: &'m System, library: &'m Library) -> Vec<NeutralForm<'m>> {
    let mut forms: Vec<NeutralForm<'m>> = Vec::new();
    let mut of_component: BTreeMap<&str, usize> = BTreeMap::new();
    for (place, fact) in system.species().iter().enumerate() {
        let Some(component) = only_component(&fact.components).filter(|_| fact.charge == 0) else { continue };
        of_component.insert(component, forms.len());
        forms.push(NeutralForm { place, fact, component, substance: None });
    }
    for substance in library.substances.values() {
        let InWater::Components { gives, crystal_water: 0.0 } = &substance.in_water else { continue };
        let Some(form) = only_component(gives).and_then(|component| of_component.get(component)) else {
            continue;
        };
        let form = &mut forms[*form];
        let parts = &form.fact.components;
        let same = parts.len() == gives.len()
            && parts.iter().all(|(name, count)| gives.get(name) == Some(&f64::from(*count)));
        if same && form.substance.is_none() {
            form.substance = Some(substance);
        }
    }
    forms
}

/// The one component of a species besides protons, where it holds one unit of it.
fn only_component<N: PartialEq + From<u8>>(parts: &BTreeMap<String, N>) -> Option<&str> {
    let mut others = parts.iter().filter(|(name, _)| *name != "H+");
    match (others.next(), others.next()) {
        (Some((name, count)), None) if *count == N::from(1) => Some(name),
        _ => None,
    }
}

/// Reads every acid of the product that has an uncharged form, the largest first.
pub(crate) fn acids(
    mixture: &Mixture,
    forms: &[NeutralForm<'_>],
    interval: &PhInterval,
    composition: &Composition,
    library: &Library,
) -> Vec<AcidReading> {
    let doubts = Doubts::of(composition, library);
    let mut found: Vec<(f64, AcidReading)> = Vec::new();
    for (form, balance) in balances(mixture, forms) {
        let total = balance.total;
        let [low, high] = balance.bounds(mixture, interval);
        let off = [-0.1, 0.1].map(|by_ph| balance.shifted(mixture, by_ph));
        let mass = form.substance.and_then(|one| one.molar_mass_g_mol.as_ref());
        // Percent of the product for each mol per kg of water.
        let percent = mass.map(|mass| mass.value * mixture.phase.water_g / 1000.0);
        let outcome = |scale: f64, unit: &'static str, low: f64, high: f64| {
            Outcome::new(balance.share * scale, unit, Grade::Computed, "equilibrium of the water phase")
                .within(low, high, Some(0.95))
                .by("share of the acid's units that stand in the uncharged form")
                .proved_by("tests/cross/scenarios.toml")
                .source(form.fact.source.clone())
                .input("pH", mixture.speciation.ph, "", None)
                .input(format!("log10 K of {}", form.fact.name), form.fact.log10_k, "", Some(&form.fact.source))
                .term("0.1 lower in pH", off[0] * scale, unit)
                .term("0.1 higher in pH", off[1] * scale, unit)
                .note(
                    "doubt-of-ph",
                    "the interval counts what makes the computed pH uncertain; the terms say what a pH meter off by 0.1 does",
                )
        };
        let free_percent = percent.map(|percent| {
            let content = doubts.relative(form.component);
            let spread = |bound: f64| (bound / balance.share).log_e().root_sum_square(2.0 * content).exp_e();
            let value = percent * total * balance.share;
            outcome(percent * total, "% w/w", value / spread(low), value * spread(high))
        });
        found.push((
            total,
            AcidReading {
                component: form.component.to_owned(),
                name: form.substance.map_or_else(|| form.fact.name.clone(), |one| one.name.clone()),
                share: outcome(1.0, "", low, high),
                free_percent,
                total_percent: percent.map(|percent| percent * total),
            },
        ));
    }
    found.sort_by(|a, b| b.0.total_cmp(&a.0));
    found.into_iter().map(|(_, reading)| reading).collect()
}

fn protons(fact: &SpeciesFact) -> f64 {
    f64::from(fact.components.get("H+").copied().unwrap_or(0))
}

/// How one acid is spread over its forms.
struct Balance {
    /// All of it, mol/kg water.
    total: f64,
    /// Share of the uncharged form.
    share: f64,
    /// Share of all other forms.
    rest: f64,
    /// Place and share of every form.
    forms: Vec<(usize, f64)>,
    /// Place of the uncharged form.
    neutral: usize,
    /// Protons that a unit takes up on its way to the uncharged form.
    taken_up: f64,
    /// Mean of the squared charges.
    charge_squared: f64,
}

/// The acids that are present, with their balances.
fn balances<'f, 'm>(
    mixture: &Mixture,
    forms: &'f [NeutralForm<'m>],
) -> impl Iterator<Item = (&'f NeutralForm<'m>, Balance)> {
    let mut balances = Vec::new();
    let mut of_component: BTreeMap<&str, usize> = BTreeMap::new();
    // A neutral base stands as its own component; its uncharged form is no acid.
    for form in forms.iter().filter(|form| protons(form.fact) >= 1.0) {
        let total = mixture.system.place(form.component).map_or(0.0, |place| mixture.totals[place]);
        if total > 0.0 {
            of_component.insert(form.component, balances.len());
            balances.push((form, Balance::empty(form, total)));
        }
    }
    let rows = mixture.system.species().iter().zip(&mixture.speciation.species);
    for (place, (fact, row)) in rows.enumerate() {
        for (component, count) in fact.components.iter() {
            if let Some(at) = of_component.get(component.as_str()) {
                balances[*at].1.add(place, fact, f64::from(*count) * row.molality);
            }
        }
    }
    balances.into_iter()
}

impl Balance {
    fn empty(form: &NeutralForm<'_>, total: f64) -> Self {
        Self {
            total,
            share: 0.0,
            rest: 0.0,
            forms: Vec::new(),
            neutral: form.place,
            taken_up: protons(form.fact),
            charge_squared: 0.0,
        }
    }

    fn add(&mut self, place: usize, fact: &SpeciesFact, amount: f64) {
        let share = amount / self.total;
        if place == self.neutral {
            self.share += share;
        } else {
            self.rest += share;
        }
        self.taken_up -= share * protons(fact);
        self.charge_squared += share * f64::from(fact.charge * fact.charge);
        self.forms.push((place, share));
    }

    /// The share when the pH moves a little: each form by its protons, all else as it stands.
    fn shifted(&self, mixture: &Mixture, by_ph: f64) -> f64 {
        let (mut neutral, mut all) = (0.0, 0.0);
        for (place, share) in &self.forms {
            let moved = share * 10f64.to_the(-by_ph * protons(&mixture.system.species()[*place]));
            all += moved;
            if *place == self.neutral {
                neutral = moved;
            }
        }
        neutral / all
    }

    /// The share at both ends of the interval of its odds.
    fn bounds(&self, mixture: &Mixture, interval: &PhInterval) -> [f64; 2] {
        if self.rest <= 0.0 {
            return [self.share; 2];
        }
        let answers = &mixture.sensitivities;
        let mut variance = (self.taken_up * interval.standard_uncertainty).powi(2);
        // What moves the share directly moves the pH as well: its part in the doubt about the pH is replaced by both together.
        let mut replace = |direct: f64, of_ph: f64, doubt: f64| {
            let through_ph = self.taken_up * of_ph;
            variance += ((direct - through_ph).powi(2) - through_ph.powi(2)) * doubt * doubt;
        };
        for (place, share) in &self.forms {
            let direct = if *place == self.neutral { 1.0 - share } else { -share };
            let doubt = mixture.system.species()[*place].uncertainty_log10;
            replace(direct, answers.by_constant[*place], doubt);
        }
        replace(
            self.charge_squared,
            answers.by_charged_coefficient,
            coefficient_uncertainty(mixture.speciation.ionic_strength),
        );
        let odds = self.share / self.rest;
        let spread = 10f64.to_the(2.0 * variance.max(0.0).sqrt() / self.rest);
        [odds / spread, odds * spread].map(|odds| odds / (1.0 + odds))
    }
}

/// How sure it is how much the raw materials bring of each component.
struct Doubts<'m>(BTreeMap<&'m str, Brought>);

/// What all substances together bring of one component, mol per 100 g of product, and its variance: the range of every substance is
/// taken as a uniform spread.
#[derive(Default)]
struct Brought {
    amount: f64,
    variance: f64,
}

impl<'m> Doubts<'m> {
    fn of(composition: &Composition, library: &'m Library) -> Self {
        let mut brought: BTreeMap<&str, Brought> = BTreeMap::new();
        for (key, share) in &composition.substances {
            let Some(substance) = library.substances.get(key) else { continue };
            let InWater::Components { gives, .. } = &substance.in_water else { continue };
            let Some(mass) = &substance.molar_mass_g_mol else { continue };
            for (component, times) in gives {
                let of_it = brought.entry(component).or_default();
                of_it.amount += share.percent * times / mass.value;
                let half = 0.5 * (share.high - share.low) * times / mass.value;
                of_it.variance += half * half / 3.0;
            }
        }
        Self(brought)
    }

    /// Relative standard uncertainty of the amount of a component.
    fn relative(&self, component: &str) -> f64 {
        let known = self.0.get(component).filter(|brought| brought.amount > 0.0);
        known.map_or(0.0, |brought| brought.variance.sqrt() / brought.amount)
    }
}
