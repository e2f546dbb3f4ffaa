//! A prepared system: the reactions of chosen components at one temperature, laid out for fast solving.

use super::activity::{Activity, ActivityModel, CONVENTIONAL_SALTING_OUT};
use super::chemistry::{Chemistry, Gas, Reaction};
use super::error::AqueousError;
use super::polyacid::Chain;
use super::water;
use core::f64::consts::LN_10;
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};

/// What a system is prepared for.
#[derive(Clone, Debug, PartialEq)]
pub struct Conditions {
    /// Temperature, C.
    pub temperature_c: f64,
    /// Activity coefficients.
    pub activity: ActivityModel,
    /// Carbon dioxide held at this pressure: log10 of atm. `None`: nothing enters or leaves.
    pub log10_pco2_atm: Option<f64>,
}

impl Default for Conditions {
    fn default() -> Self {
        Self { temperature_c: 25.0, activity: ActivityModel::Davies, log10_pco2_atm: None }
    }
}

impl Conditions {
    /// log10 of the pressure of carbon dioxide in air, atm: 420 ppm.
    pub const AIR_LOG10_PCO2: f64 = -3.377;

    /// The same in equilibrium with air.
    #[must_use]
    pub fn in_air(&self) -> Self {
        Self { log10_pco2_atm: Some(Self::AIR_LOG10_PCO2), ..self.clone() }
    }
}

/// Where a species or its constant comes from.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SpeciesFact {
    /// Name.
    pub name: String,
    /// Charge number.
    pub charge: i32,
    /// Components and how many of each.
    pub components: BTreeMap<String, i32>,
    /// log10 of the formation constant at the temperature, zero ionic strength.
    pub log10_k: f64,
    /// Standard uncertainty of `log10_k` at the temperature, by the row, its mark and its missing enthalpy.
    pub uncertainty_log10: f64,
    /// Source key of the constant, empty for a bare component.
    pub source: String,
    /// Evidence mark of the constant.
    pub quality: String,
}

/// How a component enters the computation.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Role {
    /// Unknown number so-and-so.
    Solved(usize),
    /// Takes part in nothing: its molality is its total.
    Spectator,
    /// Units of polyacid so-and-so.
    Chain(usize),
    /// Its activity follows from H+ and the pressure of a gas.
    Gas,
}

/// Coarse grid of pH on which every component's protonation is known beforehand, for the first guess.
pub(crate) const GRID_LEAST_PH: f64 = -1.5;
pub(crate) const GRID_STEP_PH: f64 = 0.5;
pub(crate) const GRID_POINTS: usize = 36;
const GRID_IONIC_STRENGTH: f64 = 0.05;

/// A prepared system.
#[derive(Clone, Debug)]
pub struct System {
    pub(crate) conditions: Conditions,
    pub(crate) names: Vec<String>,
    pub(crate) charges: Vec<i32>,
    pub(crate) roles: Vec<Role>,
    pub(crate) facts: Vec<SpeciesFact>,
    /// Component of every unknown.
    pub(crate) solved: Vec<usize>,
    /// Species of the unknowns: the bare components first, in the order of the unknowns, then the complexes.
    pub(crate) ln_k: Vec<f64>,
    pub(crate) water: Vec<f64>,
    pub(crate) charge_squared: Vec<f64>,
    /// Coefficient of a neutral species as a multiple of the conventional one; zero for ions.
    pub(crate) neutral: Vec<f64>,
    /// Species with a salting-out constant of its own, and its source.
    pub(crate) salting_out_sources: Vec<(String, String)>,
    pub(crate) protons: Vec<f64>,
    /// Terms other than H+: species `i` has the terms `starts[i]..starts[i + 1]`.
    pub(crate) starts: Vec<u32>,
    pub(crate) term_slot: Vec<u32>,
    pub(crate) term_count: Vec<f64>,
    /// Groups of species with the same terms: group `g` has the species `group_starts[g]..group_starts[g + 1]`.
    pub(crate) group_starts: Vec<u32>,
    /// Protons released per mole of the component whose activity a gas holds, and that component.
    pub(crate) gas: Option<GasLink>,
    pub(crate) chains: Vec<Chain>,
    pub(crate) chain_component: Vec<usize>,
    pub(crate) chain_products: Vec<String>,
    pub(crate) spectators: Vec<usize>,
    pub(crate) activity: Activity,
    /// Per unknown: average protonation and ln of the sum over its own forms on the grid.
    pub(crate) grid_protonation: Vec<[f64; GRID_POINTS]>,
    pub(crate) grid_ln_sum: Vec<[f64; GRID_POINTS]>,
    pub(crate) chain_grid: Vec<[f64; GRID_POINTS]>,
    /// H+ minus OH- on the grid.
    pub(crate) grid_free: [f64; GRID_POINTS],
    /// `ln_k` less the coefficients at the ionic strength of the grid.
    pub(crate) grid_ln_k: Vec<f64>,
    /// Pairs of unknowns with one-to-one complexes.
    pub(crate) pairs: Vec<Pair>,
    /// Unknown that the protons of a species are counted with, 0 for none.
    pub(crate) proton_owner: Vec<u32>,
}

/// Two unknowns and the species made of one of each (and protons).
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Pair {
    pub(crate) first: usize,
    pub(crate) second: usize,
    pub(crate) species: Vec<u32>,
}

/// Component whose activity is `exp(ln_constant) * a(H+)^-protons`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct GasLink {
    pub(crate) component: usize,
    pub(crate) protons: f64,
    pub(crate) ln_constant: f64,
}

impl System {
    /// Lays out the reactions of the named components. `H+` is always among them.
    ///
    /// # Errors
    /// [`AqueousError`] for a temperature outside 0-95 C, a component nobody defined, or a gas without a row.
    pub fn prepare<'a>(
        chemistry: &Chemistry,
        components: impl IntoIterator<Item = &'a str>,
        conditions: &Conditions,
    ) -> Result<Self, AqueousError> {
        let temperature = conditions.temperature_c;
        if !(water::LEAST_TEMPERATURE_C..=water::MOST_TEMPERATURE_C).contains(&temperature) {
            return Err(AqueousError::Temperature { value: temperature });
        }
        let mut wanted: BTreeSet<&str> = components.into_iter().collect();
        let gas = match conditions.log10_pco2_atm {
            None => None,
            Some(pressure) if pressure.is_finite() => Some(gas_row(chemistry, pressure)?),
            Some(pressure) => {
                return Err(AqueousError::NotUsable { what: "log10_pco2_atm".to_owned(), value: pressure });
            }
        };
        if let Some((_, key, _)) = &gas {
            wanted.insert(key);
        }
        wanted.remove("H+");
        let mut names = vec!["H+".to_owned()];
        let mut charges = vec![1];
        for name in wanted {
            let component = chemistry
                .components
                .get(name)
                .ok_or_else(|| AqueousError::UnknownComponent { name: name.to_owned() })?;
            names.push(component.name.clone());
            charges.push(component.charge);
        }
        let mut system = Self::empty(conditions.clone(), names, charges);
        system.assign_roles(chemistry, gas.as_ref().map(|(_, key, _)| *key));
        system.add_species(chemistry);
        system.take_salting_out(chemistry);
        if let Some((row, key, pressure)) = gas {
            system.hold_gas(row, key, pressure);
        }
        system.index_terms();
        system.group_species();
        system.index_pairs();
        system.fill_grid();
        Ok(system)
    }

    fn empty(conditions: Conditions, names: Vec<String>, charges: Vec<i32>) -> Self {
        let activity = Activity::new(conditions.activity, water::debye_huckel_a(conditions.temperature_c));
        Self {
            conditions,
            names,
            charges,
            roles: Vec::new(),
            facts: Vec::new(),
            solved: Vec::new(),
            ln_k: Vec::new(),
            water: Vec::new(),
            charge_squared: Vec::new(),
            neutral: Vec::new(),
            salting_out_sources: Vec::new(),
            protons: Vec::new(),
            starts: Vec::new(),
            term_slot: Vec::new(),
            term_count: Vec::new(),
            group_starts: Vec::new(),
            gas: None,
            chains: Vec::new(),
            chain_component: Vec::new(),
            chain_products: Vec::new(),
            spectators: Vec::new(),
            activity,
            grid_protonation: Vec::new(),
            grid_ln_sum: Vec::new(),
            chain_grid: Vec::new(),
            grid_free: [0.0; GRID_POINTS],
            grid_ln_k: Vec::new(),
            pairs: Vec::new(),
            proton_owner: Vec::new(),
        }
    }

    fn assign_roles(&mut self, chemistry: &Chemistry, gas_key: Option<&str>) {
        let bjerrum = water::bjerrum_length_nm(self.conditions.temperature_c);
        for (index, name) in self.names.iter().enumerate() {
            let role = if gas_key == Some(name.as_str()) {
                Role::Gas
            } else if let Some(polyacid) = chemistry.polyacids.iter().find(|row| &row.component == name) {
                self.chains.push(Chain::new(polyacid, bjerrum));
                self.chain_component.push(index);
                self.chain_products.push(polyacid.product.clone());
                Role::Chain(self.chains.len() - 1)
            } else if index == 0
                || chemistry.reactions.iter().any(|row| row.from.contains_key(name) && self.can_form(row))
            {
                self.solved.push(index);
                Role::Solved(self.solved.len() - 1)
            } else {
                self.spectators.push(index);
                Role::Spectator
            };
            self.roles.push(role);
        }
    }

    fn can_form(&self, row: &Reaction) -> bool {
        row.from.keys().all(|part| part == "H2O" || self.names.contains(part))
    }

    fn add_species(&mut self, chemistry: &Chemistry) {
        for index in self.solved.clone() {
            self.push_bare(index);
        }
        let own_water = chemistry.reactions.iter().any(|row| row.product == "OH-");
        if !own_water {
            let temperature = self.conditions.temperature_c;
            self.facts.push(SpeciesFact {
                name: "OH-".to_owned(),
                charge: -1,
                components: BTreeMap::from([("H+".to_owned(), -1)]),
                log10_k: -water::pkw(temperature),
                uncertainty_log10: 0.003,
                source: "iapws-r11-07".to_owned(),
                quality: "A".to_owned(),
            });
            self.push_numbers(-water::pkw(temperature) * LN_10, 1.0, -1);
        }
        for row in &chemistry.reactions {
            if !self.can_form(row) {
                continue;
            }
            let log10_k = at_temperature(
                row.log10_k,
                row.enthalpy_kj_mol,
                row.heat_capacity_j_mol_k,
                self.conditions.temperature_c,
            );
            let mut components = row.from.clone();
            components.remove("H2O");
            let charge = super::names::charge_of_name(&row.product);
            self.facts.push(SpeciesFact {
                name: row.product.clone(),
                charge,
                components,
                log10_k,
                uncertainty_log10: row.uncertainty_at(self.conditions.temperature_c),
                source: row.source.clone(),
                quality: row.quality.clone().unwrap_or_default(),
            });
            self.push_numbers(log10_k * LN_10, f64::from(row.water()), charge);
        }
    }

    fn push_bare(&mut self, component: usize) {
        let name = self.names[component].clone();
        let charge = self.charges[component];
        self.facts.push(SpeciesFact {
            components: BTreeMap::from([(name.clone(), 1)]),
            name,
            charge,
            log10_k: 0.0,
            uncertainty_log10: 0.0,
            source: String::new(),
            quality: String::new(),
        });
        self.push_numbers(0.0, 0.0, charge);
    }

    fn push_numbers(&mut self, ln_k: f64, water: f64, charge: i32) {
        self.ln_k.push(ln_k);
        self.water.push(water);
        self.charge_squared.push(f64::from(charge * charge));
        self.neutral.push(if charge == 0 { 1.0 } else { 0.0 });
    }

    /// Gives the neutral species that have a salting-out constant their multiple of the conventional coefficient.
    fn take_salting_out(&mut self, chemistry: &Chemistry) {
        for row in &chemistry.salting_out {
            if let Some(index) = self.facts.iter().position(|fact| fact.name == row.species) {
                self.neutral[index] = row.kg_mol / CONVENTIONAL_SALTING_OUT;
                self.salting_out_sources.push((row.species.clone(), row.source.clone()));
            }
        }
    }

    /// Replaces the component that the gas makes by H+ in every species: `ln a(key) = ln K p - n ln a(H+) + w ln a(H2O)`.
    fn hold_gas(&mut self, row: &Gas, key: &str, pressure: f64) {
        let ln_constant = LN_10
            * (at_temperature(
                row.log10_k,
                row.enthalpy_kj_mol,
                row.heat_capacity_j_mol_k,
                self.conditions.temperature_c,
            ) + pressure);
        let protons = f64::from(row.into.get("H+").copied().unwrap_or(0));
        let water = f64::from(-row.into.get("H2O").copied().unwrap_or(0));
        let Some(component) = self.names.iter().position(|name| name == key) else { return };
        self.push_bare(component);
        for (index, fact) in self.facts.iter().enumerate() {
            if let Some(&count) = fact.components.get(key) {
                self.ln_k[index] += f64::from(count) * ln_constant;
                self.water[index] += f64::from(count) * water;
            }
        }
        self.gas = Some(GasLink { component, protons, ln_constant });
    }

    fn index_terms(&mut self) {
        self.starts.push(0);
        for fact in &self.facts {
            let mut protons = f64::from(fact.components.get("H+").copied().unwrap_or(0));
            for (name, &count) in &fact.components {
                let Some(component) = self.names.iter().position(|other| other == name) else { continue };
                match self.roles[component] {
                    Role::Solved(0) => {}
                    Role::Solved(slot) => {
                        self.term_slot.push(u32::try_from(slot).unwrap_or(0));
                        self.term_count.push(f64::from(count));
                    }
                    Role::Gas => {
                        protons -= f64::from(count) * self.gas.map_or(0.0, |link| link.protons);
                    }
                    Role::Spectator | Role::Chain(_) => {}
                }
            }
            self.protons.push(protons);
            self.starts.push(u32::try_from(self.term_slot.len()).unwrap_or(0));
        }
    }

    /// Puts species with the same terms side by side, so that the solver adds them up together.
    fn group_species(&mut self) {
        let terms_of = |index: usize| {
            let terms = self.starts[index] as usize..self.starts[index + 1] as usize;
            let slots = self.term_slot[terms.clone()].to_vec();
            // Counts are small whole numbers; their bits order them.
            let counts: Vec<u64> = self.term_count[terms].iter().map(|count| count.to_bits()).collect();
            (slots.len(), slots, counts)
        };
        let mut order: Vec<usize> = (0..self.facts.len()).collect();
        order.sort_by_cached_key(|&index| (terms_of(index), index));
        let mut group_starts = Vec::new();
        for (position, &index) in order.iter().enumerate() {
            if position == 0 || terms_of(order[position - 1]) != terms_of(index) {
                group_starts.push(u32::try_from(position).unwrap_or(0));
            }
        }
        group_starts.push(u32::try_from(order.len()).unwrap_or(0));
        self.group_starts = group_starts;
        let moved = |values: &[f64]| order.iter().map(|&index| values[index]).collect::<Vec<f64>>();
        let (ln_k, water, protons) = (moved(&self.ln_k), moved(&self.water), moved(&self.protons));
        let (charge_squared, neutral) = (moved(&self.charge_squared), moved(&self.neutral));
        let facts = order.iter().map(|&index| self.facts[index].clone()).collect();
        let (mut starts, mut slots, mut counts) = (vec![0], Vec::new(), Vec::new());
        for &index in &order {
            let terms = self.starts[index] as usize..self.starts[index + 1] as usize;
            slots.extend_from_slice(&self.term_slot[terms.clone()]);
            counts.extend_from_slice(&self.term_count[terms]);
            starts.push(u32::try_from(slots.len()).unwrap_or(0));
        }
        (self.ln_k, self.water, self.protons) = (ln_k, water, protons);
        (self.charge_squared, self.neutral, self.facts) = (charge_squared, neutral, facts);
        (self.starts, self.term_slot, self.term_count) = (starts, slots, counts);
    }

    fn index_pairs(&mut self) {
        for index in 0..self.facts.len() {
            let terms = self.starts[index] as usize..self.starts[index + 1] as usize;
            let slots = &self.term_slot[terms.clone()];
            // Protons belong to the ligand, hydroxide to the metal.
            let wants_metal = self.protons[index] < 0.0;
            let owner = slots
                .iter()
                .find(|&&slot| (self.charges[self.solved[slot as usize]] > 0) == wants_metal)
                .or_else(|| slots.first());
            self.proton_owner.push(owner.copied().unwrap_or(0));
            if slots.len() == 2 && self.term_count[terms].iter().all(|&count| count == 1.0) {
                let (first, second) = (slots[0] as usize, slots[1] as usize);
                let species = u32::try_from(index).unwrap_or(0);
                match self.pairs.iter_mut().find(|pair| (pair.first, pair.second) == (first, second)) {
                    Some(pair) => pair.species.push(species),
                    None => self.pairs.push(Pair { first, second, species: vec![species] }),
                }
            }
        }
    }

    fn fill_grid(&mut self) {
        let gamma = self.activity.at(GRID_IONIC_STRENGTH);
        self.grid_ln_k = (0..self.facts.len())
            .map(|index| {
                self.ln_k[index]
                    - self.charge_squared[index] * gamma.charged
                    - self.neutral[index] * gamma.neutral
            })
            .collect();
        let slots = self.solved.len();
        self.grid_protonation = vec![[0.0; GRID_POINTS]; slots];
        self.grid_ln_sum = vec![[0.0; GRID_POINTS]; slots];
        self.chain_grid = vec![[0.0; GRID_POINTS]; self.chains.len()];
        for point in 0..GRID_POINTS {
            let ln_proton = -grid_ph(point) * LN_10;
            let mut sums = vec![(f64::NEG_INFINITY, 0.0, 0.0); slots];
            let mut free = 0.0;
            for index in 0..self.facts.len() {
                let terms = self.starts[index] as usize..self.starts[index + 1] as usize;
                let ln = self.grid_ln_k[index] + self.protons[index] * ln_proton;
                if terms.is_empty() {
                    free += self.protons[index] * ln.min(300.0).exp();
                } else if terms.len() == 1 && self.term_count[terms.start] == 1.0 {
                    let sum = &mut sums[self.term_slot[terms.start] as usize];
                    // Running sum of exp(ln) and of protons weighted with it, scaled by the largest term.
                    let top = sum.0.max(ln);
                    let (old, new) = ((sum.0 - top).exp(), (ln - top).exp());
                    *sum = (top, sum.1 * old + new, sum.2 * old + self.protons[index] * new);
                }
            }
            self.grid_free[point] = free;
            for (slot, &(top, total, weighted)) in sums.iter().enumerate().skip(1) {
                self.grid_ln_sum[slot][point] = top + total.ln();
                self.grid_protonation[slot][point] = weighted / total;
            }
            for (chain, grid) in self.chains.iter().zip(&mut self.chain_grid) {
                grid[point] = chain.ionised(ln_proton, GRID_IONIC_STRENGTH.ln()).neutral;
            }
        }
    }

    /// Names of the components; totals are given in this order.
    #[must_use]
    pub fn components(&self) -> &[String] {
        &self.names
    }

    /// Place of a component among the totals.
    #[must_use]
    pub fn place(&self, component: &str) -> Option<usize> {
        self.names.iter().position(|name| name == component)
    }

    /// Charge of the component at a place.
    #[must_use]
    pub fn charge(&self, place: usize) -> i32 {
        self.charges[place]
    }

    /// Conditions the system was prepared for.
    #[must_use]
    pub fn conditions(&self) -> &Conditions {
        &self.conditions
    }

    /// The species that can form (without spectators and units of polyacids).
    #[must_use]
    pub fn species(&self) -> &[SpeciesFact] {
        &self.facts
    }

    /// Debye-Huckel slope A (log10) at the temperature.
    #[must_use]
    pub fn debye_huckel_a(&self) -> f64 {
        water::debye_huckel_a(self.conditions.temperature_c)
    }

    /// Totals in the order of [`System::components`].
    ///
    /// # Errors
    /// [`AqueousError::UnknownComponent`] for a name the system was not prepared for, unless its total is zero.
    pub fn totals(&self, totals: &BTreeMap<String, f64>) -> Result<Vec<f64>, AqueousError> {
        let mut row = vec![0.0; self.names.len()];
        for (name, &value) in totals {
            match self.place(name) {
                Some(place) => row[place] = value,
                None if value == 0.0 => {}
                None => return Err(AqueousError::UnknownComponent { name: name.clone() }),
            }
        }
        Ok(row)
    }

    /// The same system with the constant of one species moved by `log10_shift`.
    #[must_use]
    pub fn with_shifted_constant(&self, species: &str, log10_shift: f64) -> Self {
        let mut system = self.clone();
        for (fact, ln_k) in system.facts.iter_mut().zip(&mut system.ln_k) {
            if fact.name == species {
                fact.log10_k += log10_shift;
                *ln_k += log10_shift * LN_10;
            }
        }
        system
    }
}

/// pH of a point of the grid.
pub(crate) fn grid_ph(point: usize) -> f64 {
    #[expect(clippy::cast_precision_loss, reason = "at most 36")]
    let point = point as f64;
    GRID_LEAST_PH + GRID_STEP_PH * point
}

/// `log10 K` at a temperature: van 't Hoff with constant heat capacity change.
///
/// `ln K = ln K0 - dH/R (1/T - 1/T0) + dCp/R (T0/T - 1 + ln(T/T0))`; a missing enthalpy or heat capacity counts as zero, and the
/// uncertainty grows instead.
#[must_use]
pub fn at_temperature(
    log10_k: f64,
    enthalpy_kj_mol: Option<f64>,
    heat_capacity_j_mol_k: Option<f64>,
    temperature_c: f64,
) -> f64 {
    let (t, t0) = (temperature_c + 273.15, 298.15);
    let enthalpy = enthalpy_kj_mol.unwrap_or(0.0) * 1000.0;
    let capacity = heat_capacity_j_mol_k.unwrap_or(0.0);
    let shift = -enthalpy / water::GAS_CONSTANT * (1.0 / t - 1.0 / t0)
        + capacity / water::GAS_CONSTANT * (t0 / t - 1.0 + (t / t0).ln());
    log10_k + shift / LN_10
}

impl Reaction {
    /// Water molecules in the law of mass action: as written, else one per hydroxide where the product is named with `OH`.
    #[must_use]
    pub fn water(&self) -> i32 {
        self.from.get("H2O").copied().unwrap_or_else(|| {
            let released = -self.from.get("H+").copied().unwrap_or(0);
            if released > 0 && self.product.contains("OH") { released } else { 0 }
        })
    }

    /// Standard uncertainty of `log10 K` at a temperature.
    ///
    /// The row's own value, else by its mark (`A` 0.03, `B` 0.1, `C` 0.3, `M` and anything else 0.5; `ref` 0); away from 25 C a
    /// missing enthalpy adds 10 kJ/mol, a missing heat capacity 120 J/(mol K), and one that is given 60 J/(mol K), since it is not
    /// constant in truth (the buffers drift by 0.05 to 0.12 pH at 95 C); all our convention.
    #[must_use]
    pub fn uncertainty_at(&self, temperature_c: f64) -> f64 {
        let quality = self.quality.as_deref().unwrap_or("M");
        let own = self.uncertainty_log10.unwrap_or(match quality {
            "A" => 0.03,
            "B" => 0.1,
            "C" => 0.3,
            "ref" => return 0.0,
            _ => 0.5,
        });
        let mut variance = own * own;
        if self.enthalpy_kj_mol.is_none() {
            variance += at_temperature(0.0, Some(10.0), None, temperature_c).powi(2);
        }
        let capacity = if self.heat_capacity_j_mol_k.is_some() { 60.0 } else { 120.0 };
        variance += at_temperature(0.0, None, Some(capacity), temperature_c).powi(2);
        variance.sqrt()
    }
}

/// The row of carbon dioxide, the component it makes, and the pressure.
fn gas_row(chemistry: &Chemistry, pressure: f64) -> Result<(&Gas, &str, f64), AqueousError> {
    let missing = || AqueousError::Gas { name: "CO2".to_owned() };
    let row = chemistry.gases.iter().find(|gas| gas.name.eq_ignore_ascii_case("co2")).ok_or_else(missing)?;
    let mut keys = row.into.iter().filter(|(name, _)| *name != "H+" && *name != "H2O");
    match (keys.next(), keys.next()) {
        (Some((key, 1)), None) => Ok((row, key, pressure)),
        _ => Err(missing()),
    }
}
