//! The solution file: a bare solution to speciate, so that the equilibrium can be held against references.
//!
//! ```toml
//! temperature_c = 25.0
//! log10_pco2_atm = -3.377      # leave out for a closed solution
//! activity = "davies"          # or "extended", "ideal"
//! [[solute]]
//! name = "citric acid"         # substance, INCI name, formula or other name; anhydrous unless a hydrate is named
//! molality = 0.01              # mol per kg of water, or percent (w/w; the rest is water)
//! ```
//!
//! With `constants = "replace"` only the `[[reaction]]` rows of the file count; components are whatever they name. An acid or base that
//! none of them names is an error unless `inert = ["its name"]` says that it shall take no part.

mod speciate;

pub use speciate::speciate;

use crate::diagnostic::{Diagnostic, at};
use crate::toml_reader::{Reader, parsed};
use levigate_facts::Facts;
use levigate_formula::aqueous::chemistry::{Chemistry, Component, Gas, Reaction};
use levigate_formula::aqueous::names::charge_of_name;
use levigate_formula::aqueous::speciation::Residuals;
use levigate_formula::aqueous::{
    ActivityModel, AqueousError, Conditions, Doubt, SolventShift, SpeciesAmount, System, Workspace,
    water_activity,
};
use levigate_formula::library::InWater;
use levigate_formula::water_phase::WATER_G_MOL;
use levigate_measure::written::{Described, Description, Figure, result};
use levigate_measure::{Grade, Note, Outcome};
use serde::{Serialize, Serializer};
use std::collections::{BTreeMap, BTreeSet};
use std::ops::Range;
use toml::de::{DeTable, DeValue};

const TOP: &[&str] = &[
    "temperature_c",
    "log10_pco2_atm",
    "activity",
    "constants",
    "inert",
    "title",
    "solute",
    "reaction",
    "component",
    "gas",
];
const SOLUTE: &[&str] = &["name", "molality", "percent", "gives", "note"];
const REACTION: &[&str] = &[
    "product",
    "from",
    "log10_k",
    "enthalpy_kj_mol",
    "heat_capacity_j_mol_k",
    "uncertainty_log10",
    "source",
    "quality",
    "note",
];
const COMPONENT: &[&str] = &["name", "charge", "label", "aliases", "chelant", "molar_mass_g_mol"];
const GAS: &[&str] = &["name", "into", "log10_k", "enthalpy_kj_mol", "heat_capacity_j_mol_k", "source"];

/// A bare solution as read from text.
#[derive(Clone, Debug)]
pub struct SolutionFile {
    conditions: Conditions,
    solutes: Vec<Solute>,
    own: Option<Chemistry>,
    own_gas: bool,
    inert: Vec<Inert>,
    file: String,
    text: String,
}

/// A solute or component that shall take no part, and where that is said.
#[derive(Clone, Debug)]
struct Inert {
    name: String,
    place: Range<usize>,
}

#[derive(Clone, Debug)]
struct Solute {
    name: Option<String>,
    gives: BTreeMap<String, f64>,
    amount: Amount,
    place: Range<usize>,
    field: String,
}

#[derive(Clone, Copy, Debug)]
enum Amount {
    Molality(f64),
    Percent(f64),
}

struct FreeMetal;
impl Described for FreeMetal {
    const OF: Description = MOLALITY;
}

struct ComponentTotal;
impl Described for ComponentTotal {
    const OF: Description =
        Description::computed("mol/kg water", "sum over all solutes").proved_by("exact arithmetic");
}

struct Slope;
impl Described for Slope {
    const OF: Description =
        Description::computed("(kg/mol)^0.5", "density and permittivity of water at the temperature")
            .graded(Grade::Correlated)
            .proved_by("tests/published/aqueous_water.toml");
}

const MOLALITY: Description = Description::computed("mol/kg water", "equilibrium of the water phase")
    .by("m = K * product of activities / activity coefficient")
    .proved_by("tests/cross/aqueous_reference.toml");
const LOG10_GAMMA: Description =
    Description::computed("", "activity model at the ionic strength of the solution")
        .graded(Grade::Correlated)
        .proved_by("tests/cross/aqueous_reference.toml");

#[derive(Serialize)]
struct SpeciesWritten<'a> {
    name: &'a str,
    molality: Figure,
    charge: i32,
    components: &'a BTreeMap<String, i32>,
    log10_gamma: Figure,
}

fn species_as_results<S: Serializer>(species: &[SpeciesAmount], serializer: S) -> Result<S::Ok, S::Error> {
    serializer.collect_seq(species.iter().map(|row| SpeciesWritten {
        name: &row.name,
        molality: Figure::new(row.molality, &MOLALITY),
        charge: row.charge,
        components: &row.components,
        log10_gamma: Figure::new(row.log10_gamma, &LOG10_GAMMA),
    }))
}

/// A speciated solution.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SolutionReport {
    /// Temperature, C.
    pub temperature_c: f64,
    /// log10 of the pressure of carbon dioxide in atm, absent for a closed solution.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub log10_pco2_atm: Option<f64>,
    /// Activity model.
    pub activity: ActivityModel,
    /// `shipped`, or `replace` where the file brought its own constants.
    pub constants: &'static str,
    /// pH with its interval.
    pub ph: Outcome,
    /// Ionic strength.
    pub ionic_strength: Outcome,
    /// Water activity with its equation.
    pub water_activity: Outcome,
    /// Osmolality, osmotic coefficients taken as one.
    pub osmolality: Outcome,
    /// Buffer capacity.
    pub buffer_capacity: Outcome,
    /// Dissolved species, most abundant first.
    #[serde(serialize_with = "species_as_results")]
    pub species: Vec<SpeciesAmount>,
    /// Free metal ions, mol/kg water, by component name.
    #[serde(serialize_with = "result::<FreeMetal, _, _>")]
    pub free_metals: BTreeMap<String, f64>,
    /// Totals of the components, mol/kg water.
    #[serde(serialize_with = "result::<ComponentTotal, _, _>")]
    pub totals: BTreeMap<String, f64>,
    /// Debye-Huckel slope A, log10.
    #[serde(serialize_with = "result::<Slope, _, _>")]
    pub debye_huckel_a: f64,
    /// How well the balances close.
    pub residuals: Residuals,
    /// Iterations of the solver.
    pub iterations: usize,
    /// What the reader must know.
    pub notes: Vec<Note>,
}

/// Reads a solution file. `file` is only used in messages.
///
/// # Errors
/// Everything that is wrong with the text, each with its place.
pub fn read(file: &str, text: &str) -> Result<SolutionFile, Vec<Diagnostic>> {
    let root = parsed(file, text)?;
    let mut reader = Reader::new(file, text);
    let table = root.get_ref();
    reader.known_fields(table, "", TOP);
    let conditions = read_conditions(&mut reader, table);
    let replace =
        reader.choice(table, "", "constants", &["replace", "shipped"]).as_deref() == Some("replace");
    let solutes = reader
        .tables(table, "", "solute")
        .into_iter()
        .enumerate()
        .filter_map(|(index, (row, span))| read_solute(&mut reader, row, &span, index))
        .collect();
    let rows = read_reactions(&mut reader, table);
    let components = read_components(&mut reader, table);
    let gases = read_gases(&mut reader, table);
    if !replace {
        for key in ["reaction", "component", "gas"] {
            if table.contains_key(key) {
                let what = format!("[[{key}]] rows count only with constants = \"replace\"");
                reader.wrong(table, "", key, what, "add constants = \"replace\", or take the rows out");
            }
        }
    }
    let inert: Vec<Inert> = reader
        .strings_with_places(table, "", "inert")
        .into_iter()
        .map(|(name, place)| Inert { name, place })
        .collect();
    if !replace && table.contains_key("inert") {
        let what = "inert counts only with constants = \"replace\"".to_owned();
        reader.wrong(table, "", "inert", what, "add constants = \"replace\", or take it out");
    }
    let own_gas = !gases.is_empty();
    let mut problems = reader.finish();
    let mut own = None;
    if replace && problems.is_empty() {
        match own_chemistry(rows, components, gases) {
            Ok(chemistry) => own = Some(chemistry),
            Err((error, hint, name)) => {
                let start = text.find(&format!("\"{name}\"")).unwrap_or(0);
                problems.push(at((file, text), &(start..start), "constants", "reaction", error, hint));
            }
        }
    }
    if problems.is_empty() {
        Ok(SolutionFile {
            conditions,
            solutes,
            own,
            own_gas,
            inert,
            file: file.to_owned(),
            text: text.to_owned(),
        })
    } else {
        Err(problems)
    }
}

fn read_conditions(reader: &mut Reader<'_>, table: &DeTable<'_>) -> Conditions {
    let temperature_c = number(reader, table, "", "temperature_c").unwrap_or(25.0);
    if !(0.0..=95.0).contains(&temperature_c) {
        let what = format!("{temperature_c} C is outside the range of the model");
        reader.wrong(table, "", "temperature_c", what, "give a temperature from 0 to 95 C");
    }
    let activity = match reader.choice(table, "", "activity", &["davies", "extended", "ideal"]).as_deref() {
        Some("extended") => ActivityModel::Extended,
        Some("ideal") => ActivityModel::Ideal,
        _ => ActivityModel::Davies,
    };
    let log10_pco2_atm = number(reader, table, "", "log10_pco2_atm");
    if log10_pco2_atm.is_some_and(|value| !(-12.0..=1.0).contains(&value)) {
        let what = "the logarithm of a pressure of carbon dioxide in atm is expected".to_owned();
        reader.wrong(table, "", "log10_pco2_atm", what, "write -3.377 for air, or a value from -12 to 1");
    }
    Conditions { temperature_c, activity, log10_pco2_atm }
}

fn read_solute(
    reader: &mut Reader<'_>,
    row: &DeTable<'_>,
    span: &Range<usize>,
    index: usize,
) -> Option<Solute> {
    let path = format!("solute {}", index + 1);
    reader.known_fields(row, &path, SOLUTE);
    let name = reader.string(row, &path, "name");
    let gives = counts(reader, row, &path, "gives").unwrap_or_default();
    if name.is_none() && gives.is_empty() && !row.contains_key("name") {
        reader.missing(span, &path, "name", "name the substance, or give its components under gives");
    }
    let molality = number(reader, row, &path, "molality");
    let percent = number(reader, row, &path, "percent");
    let key = if percent.is_some() { "percent" } else { "molality" };
    let amount = match (molality, percent) {
        (Some(value), None) => Amount::Molality(value),
        (None, Some(value)) => Amount::Percent(value),
        (None, None) => {
            if !row.contains_key("molality") && !row.contains_key("percent") {
                reader.missing(
                    span,
                    &path,
                    "molality",
                    "give molality (mol per kg of water) or percent (w/w)",
                );
            }
            return None;
        }
        (Some(_), Some(_)) => {
            let what = "molality and percent are both given".to_owned();
            reader.wrong(row, &path, "percent", what, "keep one of the two");
            return None;
        }
    };
    let (value, most) = match amount {
        Amount::Molality(value) => (value, 1000.0),
        Amount::Percent(value) => (value, 100.0),
    };
    if !(0.0..most).contains(&value) {
        let what = format!("{value} cannot be the amount of a solute");
        reader.wrong(row, &path, key, what, &format!("give a number from 0 to below {most}"));
        return None;
    }
    if let (Some(_), false) = (&name, gives.is_empty()) {
        let what = "both a name and components are given".to_owned();
        reader.wrong(row, &path, "gives", what, "keep one of the two");
        return None;
    }
    if let (Amount::Percent(_), false) = (amount, gives.is_empty()) {
        let what = "a solute without a name has no molar mass".to_owned();
        reader.wrong(row, &path, "percent", what, "give its molality");
        return None;
    }
    let place = reader.span(row, "name").unwrap_or_else(|| span.clone());
    (name.is_some() || !gives.is_empty()).then_some(Solute { name, gives, amount, place, field: path })
}

fn read_reactions(reader: &mut Reader<'_>, table: &DeTable<'_>) -> Vec<Reaction> {
    let mut rows = Vec::new();
    for (index, (row, span)) in reader.tables(table, "", "reaction").into_iter().enumerate() {
        let path = format!("reaction {}", index + 1);
        reader.known_fields(row, &path, REACTION);
        let product = reader.required_string(
            row,
            &path,
            "product",
            &span,
            "name the species with its charge (\"CaOH+\")",
        );
        let from = whole_counts(reader, row, &path, "from");
        if !row.contains_key("from") {
            reader.missing(&span, &path, "from", "write from = { \"Ca+2\" = 1, \"H+\" = -1 }");
        }
        if !row.contains_key("log10_k") {
            reader.missing(&span, &path, "log10_k", "give log10 of the formation constant at 25 C, I = 0");
        }
        let log10_k = number(reader, row, &path, "log10_k");
        let uncertainty_log10 = number(reader, row, &path, "uncertainty_log10");
        let quality = reader.string(row, &path, "quality");
        let (enthalpy_kj_mol, heat_capacity_j_mol_k) = (
            number(reader, row, &path, "enthalpy_kj_mol"),
            number(reader, row, &path, "heat_capacity_j_mol_k"),
        );
        let (source, note) = (reader.string(row, &path, "source"), reader.string(row, &path, "note"));
        if let (Some(product), Some(from), Some(log10_k)) = (product, from, log10_k) {
            // A constant given without its uncertainty is taken as it stands.
            let quality = quality.or_else(|| uncertainty_log10.is_none().then(|| "ref".to_owned()));
            rows.push(Reaction {
                product,
                from,
                log10_k,
                enthalpy_kj_mol,
                heat_capacity_j_mol_k,
                uncertainty_log10,
                source: source.unwrap_or_default(),
                quality,
                note,
            });
        }
    }
    rows
}

fn read_components(reader: &mut Reader<'_>, table: &DeTable<'_>) -> Vec<Component> {
    let mut rows = Vec::new();
    for (index, (row, span)) in reader.tables(table, "", "component").into_iter().enumerate() {
        let path = format!("component {}", index + 1);
        reader.known_fields(row, &path, COMPONENT);
        let name = reader.required_string(row, &path, "name", &span, "name it with its charge (\"Ca+2\")");
        let charge = number(reader, row, &path, "charge");
        let label = reader.string(row, &path, "label").unwrap_or_default();
        let aliases = reader.strings(row, &path, "aliases");
        let chelant = reader.bool(row, &path, "chelant").unwrap_or(false);
        let molar_mass_g_mol = number(reader, row, &path, "molar_mass_g_mol");
        if let Some(name) = name {
            #[expect(
                clippy::cast_possible_truncation,
                reason = "a charge; anything else fails the check of the name"
            )]
            let charge = charge.map_or_else(|| charge_of_name(&name), |charge| charge.round() as i32);
            rows.push(Component { name, charge, label, aliases, chelant, molar_mass_g_mol });
        }
    }
    rows
}

fn read_gases(reader: &mut Reader<'_>, table: &DeTable<'_>) -> Vec<Gas> {
    let mut rows = Vec::new();
    for (index, (row, span)) in reader.tables(table, "", "gas").into_iter().enumerate() {
        let path = format!("gas {}", index + 1);
        reader.known_fields(row, &path, GAS);
        let name = reader.required_string(row, &path, "name", &span, "write name = \"CO2\"");
        let into = whole_counts(reader, row, &path, "into");
        let log10_k = number(reader, row, &path, "log10_k");
        let (enthalpy_kj_mol, heat_capacity_j_mol_k) = (
            number(reader, row, &path, "enthalpy_kj_mol"),
            number(reader, row, &path, "heat_capacity_j_mol_k"),
        );
        let source = reader.string(row, &path, "source").unwrap_or_default();
        if let (Some(name), Some(into), Some(log10_k)) = (name, into, log10_k) {
            rows.push(Gas { name, into, log10_k, enthalpy_kj_mol, heat_capacity_j_mol_k, source });
        } else {
            reader.missing(&span, &path, "into", "give name, into and log10_k");
        }
    }
    rows
}

/// A plain finite number of any size (chemistry needs 1e-14, which is why these are not decimals).
fn number(reader: &mut Reader<'_>, table: &DeTable<'_>, path: &str, key: &str) -> Option<f64> {
    let value = table.get(key)?;
    match numeric(value.get_ref()) {
        Some(number) if number.is_finite() => Some(number),
        _ => {
            let what = "a finite number is expected".to_owned();
            reader.wrong(table, path, key, what, "write it without quotes and with a decimal point");
            None
        }
    }
}

fn numeric(value: &DeValue<'_>) -> Option<f64> {
    match value {
        DeValue::Integer(digits) if digits.radix() == 10 => digits.as_str().replace('_', "").parse().ok(),
        DeValue::Float(digits) => digits.as_str().replace('_', "").parse().ok(),
        _ => None,
    }
}

fn counts(
    reader: &mut Reader<'_>,
    table: &DeTable<'_>,
    path: &str,
    key: &str,
) -> Option<BTreeMap<String, f64>> {
    let (inner, _) = reader.table(table, path, key)?;
    let mut counts = BTreeMap::new();
    for (name, value) in inner.iter() {
        match numeric(value.get_ref()).filter(|number| number.is_finite() && number.abs() <= 100.0) {
            Some(number) => {
                counts.insert(name.get_ref().to_string(), number);
            }
            None => {
                let what = format!("the number of {} is not a number below 100", name.get_ref());
                reader.wrong(table, path, key, what, "write { \"Ca+2\" = 1, \"H+\" = -1 }");
            }
        }
    }
    Some(counts)
}

fn whole_counts(
    reader: &mut Reader<'_>,
    table: &DeTable<'_>,
    path: &str,
    key: &str,
) -> Option<BTreeMap<String, i32>> {
    let counts = counts(reader, table, path, key)?;
    let mut whole = BTreeMap::new();
    for (name, value) in counts {
        if value.fract() != 0.0 {
            let what = format!("the number of {name} is not whole");
            reader.wrong(table, path, key, what, "write whole numbers; H+ may be negative");
        }
        #[expect(clippy::cast_possible_truncation, reason = "below 100")]
        whole.insert(name, value as i32);
    }
    Some(whole)
}

type OwnChemistry = Result<Chemistry, (String, &'static str, String)>;

fn own_chemistry(reactions: Vec<Reaction>, components: Vec<Component>, gases: Vec<Gas>) -> OwnChemistry {
    let name = |text: &str| text.split('`').nth(1).unwrap_or_default().to_owned();
    match Chemistry::from_reactions(reactions, components) {
        Ok(mut chemistry) => {
            chemistry.gases = gases;
            Ok(chemistry)
        }
        Err(error) => {
            let text = error.to_string();
            let name = name(&text);
            Err((text, error.hint(), name))
        }
    }
}
