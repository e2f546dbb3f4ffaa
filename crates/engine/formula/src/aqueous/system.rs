//! A prepared system: the reactions of chosen components at one temperature, laid out for fast solving.

use super::activity::{Activity, ActivityModel, CONVENTIONAL_SALTING_OUT};
use super::chemistry::{Chemistry, Gas, Reaction};
use super::error::AqueousError;
use super::layout::{Layout, Member, Plan, Term, order_of_elimination};
use super::polyacid::Chain;
use super::start::Grid;
use super::water;
use core::f64::consts::LN_10;
use levigate_measure::elementary::Elementary as _;
use serde::{Serialize, Serializer};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

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
    /// Components and how many of each; shared with every reading.
    #[serde(serialize_with = "shared")]
    pub components: Arc<BTreeMap<String, i32>>,
    /// log10 of the formation constant at the temperature, zero ionic strength.
    pub log10_k: f64,
    /// Standard uncertainty of `log10_k` at the temperature, by the row, its mark and its missing enthalpy.
    pub uncertainty_log10: f64,
    /// Source key of the constant, empty for a bare component.
    pub source: String,
    /// Evidence mark of the constant.
    pub quality: String,
}

/// Writes what is shared as if it were not.
pub(crate) fn shared<S: Serializer>(
    components: &Arc<BTreeMap<String, i32>>,
    serializer: S,
) -> Result<S::Ok, S::Error> {
    components.as_ref().serialize(serializer)
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

/// A prepared system.
#[derive(Clone, Debug)]
pub struct System {
    pub(crate) conditions: Conditions,
    pub(crate) names: Vec<String>,
    pub(crate) charges: Vec<i32>,
    pub(crate) roles: Vec<Role>,
    /// Species: the bare components and what they form with protons, then the complexes.
    pub(crate) facts: Vec<SpeciesFact>,
    /// Component of every unknown.
    pub(crate) solved: Vec<usize>,
    /// Place of the reaction of every species; none for a bare component and for hydroxide by the ion product of water.
    rows: Vec<Option<usize>>,
    /// How the species hang together; shared by copies, so that a workspace knows its system again.
    pub(crate) layout: Arc<Layout>,
    /// The species by their numbers.
    pub(crate) members: Vec<Member>,
    /// Species with a salting-out constant of its own, and its source.
    pub(crate) salting_out_sources: Vec<(String, String)>,
    pub(crate) gas: Option<GasLink>,
    pub(crate) chains: Vec<Chain>,
    pub(crate) chain_component: Vec<usize>,
    pub(crate) chain_products: Vec<String>,
    pub(crate) spectators: Vec<usize>,
    pub(crate) activity: Activity,
    pub(crate) grid: Grid,
}

/// Component whose activity is `exp(ln_constant) * a(H+)^-protons`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct GasLink {
    pub(crate) component: usize,
    pub(crate) protons: i32,
    pub(crate) water: i32,
    pub(crate) ln_constant: f64,
}

/// A reaction whose components are all there, and their places.
struct Forming<'c> {
    row: &'c Reaction,
    /// Its place among the reactions.
    place: usize,
    parts: Vec<(usize, i32)>,
}

impl<'c> Forming<'c> {
    fn of(place: usize, row: &'c Reaction, names: &[String]) -> Option<Self> {
        let known = |name: &String| name == "H2O" || place_of(names, name).is_some();
        if !row.from.keys().all(known) {
            return None;
        }
        let parts = row.from.iter().filter_map(|(name, &times)| Some((place_of(names, name)?, times)));
        Some(Self { row, place, parts: parts.collect() })
    }
}

/// One of 64 bits for a name, so that most reactions are passed over without comparing names.
fn mark(name: &str) -> u64 {
    let byte = |place: usize| name.as_bytes().get(place).copied().map_or(0, usize::from);
    1 << ((byte(0) * 7 + byte(2) * 3 + name.len()) % 64)
}

/// Place among names of which the first is H+ and the others stand in order.
fn place_of(names: &[String], name: &str) -> Option<usize> {
    let (first, others) = names.split_first()?;
    if first == name {
        return Some(0);
    }
    others.binary_search_by(|other| other.as_str().cmp(name)).ok().map(|place| place + 1)
}

/// A species on its way into the layout.
struct Formed {
    fact: SpeciesFact,
    /// Place of its reaction; none for a bare component and for hydroxide by the ion product of water.
    row: Option<usize>,
    plan: Plan,
}

/// Constants beyond this are held: the reach of floating-point numbers.
const LARGEST_LN_K: f64 = 690.0;
/// Standard uncertainty of the ion product of water.
const PKW_UNCERTAINTY: f64 = 0.003;

fn constant(ln_k: f64) -> f64 {
    ln_k.clamp(-LARGEST_LN_K, LARGEST_LN_K).exp_e()
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
        let gas_key = gas.map(|(_, key, _)| key);
        let marks = names.iter().fold(mark("H2O"), |marks, name| marks | mark(name));
        let may_form = |(_, row): &(usize, &Reaction)| row.from.keys().all(|name| marks & mark(name) != 0);
        let rows = chemistry.reactions.iter().enumerate().filter(may_form);
        let forming: Vec<Forming<'_>> =
            rows.filter_map(|(place, row)| Forming::of(place, row, &names)).collect();
        let mut system = Self {
            activity: Activity::new(conditions.activity, water::debye_huckel_a(temperature)),
            conditions: conditions.clone(),
            roles: Vec::with_capacity(names.len()),
            names,
            charges,
            facts: Vec::new(),
            rows: Vec::new(),
            solved: Vec::new(),
            layout: Arc::new(Layout::new(&[], &[], 0).0),
            members: Vec::new(),
            salting_out_sources: Vec::new(),
            gas: None,
            chains: Vec::new(),
            chain_component: Vec::new(),
            chain_products: Vec::new(),
            spectators: Vec::new(),
            grid: Grid::default(),
        };
        system.assign_roles(chemistry, &forming, gas_key);
        if let Some((row, key, pressure)) = gas {
            system.gas = system.gas_link(row, key, pressure);
        }
        let mut species = system.bare_species();
        species.extend(system.formed_species(&forming));
        system.take_salting_out(chemistry, &mut species);
        species.extend(system.gas.map(|link| system.bare(link.component)));
        system.lay_out(species);
        system.grid = Grid::of(&system);
        Ok(system)
    }

    fn assign_roles(&mut self, chemistry: &Chemistry, forming: &[Forming<'_>], gas_key: Option<&str>) {
        let bjerrum = water::bjerrum_length_nm(self.conditions.temperature_c);
        let mut reacts = vec![false; self.names.len()];
        reacts[0] = true;
        for &(component, _) in forming.iter().flat_map(|row| &row.parts) {
            reacts[component] = true;
        }
        let mut solved = Vec::new();
        for (index, name) in self.names.iter().enumerate() {
            let role = if gas_key == Some(name.as_str()) {
                Role::Gas
            } else if let Some(polyacid) = chemistry.polyacids.iter().find(|row| &row.component == name) {
                self.chains.push(Chain::new(polyacid, bjerrum));
                self.chain_component.push(index);
                self.chain_products.push(polyacid.product.clone());
                Role::Chain(self.chains.len() - 1)
            } else if reacts[index] {
                solved.push(index);
                Role::Solved(solved.len() - 1)
            } else {
                self.spectators.push(index);
                Role::Spectator
            };
            self.roles.push(role);
        }
        let mut together = vec![vec![false; solved.len()]; solved.len()];
        for row in forming {
            let slots = || row.parts.iter().filter_map(|&(component, _)| self.slot_of(component));
            for one in slots() {
                for other in slots() {
                    together[one][other] |= one != other;
                }
            }
        }
        let (order, dense) = order_of_elimination(&together);
        self.solved = order.iter().map(|&place| solved[place]).collect();
        for (slot, &component) in self.solved.iter().enumerate() {
            self.roles[component] = Role::Solved(slot);
        }
        self.layout = Arc::new(Layout::new(&[], &[], dense).0);
    }

    fn gas_link(&self, row: &Gas, key: &str, pressure: f64) -> Option<GasLink> {
        let log10_k = at_temperature(
            row.log10_k,
            row.enthalpy_kj_mol,
            row.heat_capacity_j_mol_k,
            self.conditions.temperature_c,
        );
        Some(GasLink {
            component: self.place(key)?,
            protons: row.into.get("H+").copied().unwrap_or(0),
            water: -row.into.get("H2O").copied().unwrap_or(0),
            ln_constant: LN_10 * (log10_k + pressure),
        })
    }

    /// The components that are solved for.
    fn bare_species(&self) -> Vec<Formed> {
        let mut solved = self.solved.clone();
        solved.sort_unstable();
        let bare = solved.into_iter().map(|component| self.bare(component));
        bare.collect()
    }

    fn bare(&self, component: usize) -> Formed {
        let name = self.names[component].clone();
        let fact = SpeciesFact {
            components: Arc::new(BTreeMap::from([(name.clone(), 1)])),
            name,
            charge: self.charges[component],
            log10_k: 0.0,
            uncertainty_log10: 0.0,
            source: String::new(),
            quality: String::new(),
        };
        self.formed(fact, None, &[(component, 1)], 0)
    }

    fn formed_species(&self, forming: &[Forming<'_>]) -> Vec<Formed> {
        let temperature = self.conditions.temperature_c;
        let mut formed = Vec::with_capacity(forming.len() + 1);
        if !forming.iter().any(|one| one.row.product == "OH-") {
            let fact = SpeciesFact {
                name: "OH-".to_owned(),
                charge: -1,
                components: Arc::new(BTreeMap::from([("H+".to_owned(), -1)])),
                log10_k: -water::pkw(temperature),
                uncertainty_log10: PKW_UNCERTAINTY,
                source: "iapws-r11-07".to_owned(),
                quality: "A".to_owned(),
            };
            formed.push(self.formed(fact, None, &[(0, -1)], 1));
        }
        for Forming { row, place, parts } in forming {
            let mut components = row.from.clone();
            components.remove("H2O");
            let fact = SpeciesFact {
                name: row.product.clone(),
                charge: super::names::charge_of_name(&row.product),
                components: Arc::new(components),
                log10_k: at_temperature(
                    row.log10_k,
                    row.enthalpy_kj_mol,
                    row.heat_capacity_j_mol_k,
                    temperature,
                ),
                uncertainty_log10: row.uncertainty_at(temperature),
                source: row.source.clone(),
                quality: row.quality.clone().unwrap_or_default(),
            };
            formed.push(self.formed(fact, Some(*place), parts, row.water()));
        }
        formed
    }

    /// Gives the neutral species that have a salting-out constant their multiple of the conventional coefficient.
    fn take_salting_out(&mut self, chemistry: &Chemistry, species: &mut [Formed]) {
        for row in &chemistry.salting_out {
            if let Some(one) = species.iter_mut().find(|one| one.fact.name == row.species) {
                one.plan.salting_out = row.kg_mol / CONVENTIONAL_SALTING_OUT;
                self.salting_out_sources.push((row.species.clone(), row.source.clone()));
            }
        }
    }

    /// A species with the component that a gas holds replaced by H+: `ln a(key) = ln K p - n ln a(H+) + w ln a(H2O)`.
    fn formed(&self, fact: SpeciesFact, row: Option<usize>, parts: &[(usize, i32)], water: i32) -> Formed {
        let mut plan = Plan {
            terms: Vec::new(),
            protons: 0,
            water,
            charge: fact.charge,
            salting_out: 1.0,
            constant: 1.0,
        };
        let mut ln_k = fact.log10_k * LN_10;
        for &(component, times) in parts {
            match self.roles[component] {
                Role::Solved(0) => plan.protons += times,
                Role::Solved(slot) => plan.terms.push(Term { slot, times }),
                Role::Gas => {
                    if let Some(link) = self.gas {
                        plan.protons -= times * link.protons;
                        plan.water += times * link.water;
                        ln_k += f64::from(times) * link.ln_constant;
                    }
                }
                Role::Spectator | Role::Chain(_) => {}
            }
        }
        plan.constant = constant(ln_k);
        Formed { fact, row, plan }
    }

    /// Puts species with the same terms side by side and lays them out.
    fn lay_out(&mut self, mut species: Vec<Formed>) {
        let solved = &self.solved;
        let by_terms = |terms: &[Term], others: &[Term]| {
            let (components, numbers) = (|term: &Term| solved[term.slot], |term: &Term| term.times);
            let length = terms.len().cmp(&others.len());
            length
                .then_with(|| terms.iter().map(components).cmp(others.iter().map(components)))
                .then_with(|| terms.iter().map(numbers).cmp(others.iter().map(numbers)))
        };
        species.sort_by(|a, b| by_terms(&a.plan.terms, &b.plan.terms));
        let mut plans = Vec::with_capacity(species.len());
        self.facts = Vec::with_capacity(species.len());
        for one in species {
            plans.push(one.plan);
            self.facts.push(one.fact);
            self.rows.push(one.row);
        }
        let charges: Vec<i32> = self.solved.iter().map(|&component| self.charges[component]).collect();
        let (layout, members) = Layout::new(&plans, &charges, self.layout.arrow.dense);
        (self.layout, self.members) = (Arc::new(layout), members);
    }

    /// Unknown of a component, where it has one.
    pub(crate) fn slot_of(&self, component: usize) -> Option<usize> {
        match self.roles[component] {
            Role::Solved(slot) => Some(slot),
            _ => None,
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
        place_of(&self.names, component)
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

    /// The reaction of a species in the chemistry the system was prepared from; none for a bare component and for hydroxide by the ion
    /// product of water.
    #[must_use]
    pub fn reaction_of<'c>(&self, chemistry: &'c Chemistry, species: usize) -> Option<&'c Reaction> {
        self.rows.get(species).copied().flatten().and_then(|row| chemistry.reactions.get(row))
    }

    /// The same system at another temperature: what hangs together stays, constants and coefficients move. `chemistry` is the one it was
    /// prepared from.
    ///
    /// # Errors
    /// As [`System::prepare`].
    pub fn at_temperature(&self, chemistry: &Chemistry, temperature_c: f64) -> Result<Self, AqueousError> {
        let conditions = Conditions { temperature_c, ..self.conditions.clone() };
        let within = (water::LEAST_TEMPERATURE_C..=water::MOST_TEMPERATURE_C).contains(&temperature_c);
        if self.gas.is_some() || !within {
            return Self::prepare(chemistry, self.names.iter().map(String::as_str), &conditions);
        }
        let mut system = self.clone();
        system.activity = Activity::new(conditions.activity, water::debye_huckel_a(temperature_c));
        system.conditions = conditions;
        for (species, (fact, member)) in system.facts.iter_mut().zip(&mut system.members).enumerate() {
            if let Some(row) = self.reaction_of(chemistry, species) {
                fact.log10_k = at_temperature(
                    row.log10_k,
                    row.enthalpy_kj_mol,
                    row.heat_capacity_j_mol_k,
                    temperature_c,
                );
                fact.uncertainty_log10 = row.uncertainty_at(temperature_c);
            } else if fact.name == "OH-" {
                fact.log10_k = -water::pkw(temperature_c);
            } else {
                continue;
            }
            member.constant = constant(fact.log10_k * LN_10);
        }
        let bjerrum = water::bjerrum_length_nm(temperature_c);
        for (chain, &component) in system.chains.iter_mut().zip(&self.chain_component) {
            if let Some(row) = chemistry.polyacids.iter().find(|row| row.component == self.names[component]) {
                *chain = Chain::new(row, bjerrum);
            }
        }
        system.grid = Grid::of(&system);
        Ok(system)
    }

    /// The same system with the constant of one species moved by `log10_shift`.
    #[must_use]
    pub fn with_shifted_constant(&self, species: &str, log10_shift: f64) -> Self {
        let mut system = self.clone();
        for (fact, member) in system.facts.iter_mut().zip(&mut system.members) {
            if fact.name == species {
                fact.log10_k += log10_shift;
                member.constant *= 10_f64.to_the(log10_shift);
            }
        }
        system
    }

    /// The same system with many constants moved at once: log10 of each in the order of [`System::species`], and `pk` of each polyacid in the
    /// order of their sensitivities. What is missing at the end of either stays.
    #[must_use]
    pub fn with_moved_constants(&self, log10_shifts: &[f64], polyacid_shifts: &[f64]) -> Self {
        let mut system = self.clone();
        for ((fact, member), shift) in system.facts.iter_mut().zip(&mut system.members).zip(log10_shifts) {
            if *shift != 0.0 {
                fact.log10_k += shift;
                member.constant *= 10_f64.to_the(*shift);
            }
        }
        for (chain, shift) in system.chains.iter_mut().zip(polyacid_shifts) {
            chain.shift += shift;
        }
        system
    }
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
        + capacity / water::GAS_CONSTANT * (t0 / t - 1.0 + (t / t0).log_e());
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
