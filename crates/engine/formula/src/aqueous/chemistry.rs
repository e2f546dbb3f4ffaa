//! The shapes of the facts of aqueous chemistry: components, reactions, weak polyacids, gases, solids, solubilities.
//!
//! A *component* is a building stone (bare cation, fully deprotonated ligand, neutral base, and always `H+`); a *reaction* forms
//! one species from components at zero ionic strength and 25 C: `log10 K = log10 a(product) - sum of nu log10 a(component)`.
//! A hydroxo species takes negative `H+` (`OH-` is `{ "H+" = -1 }`); water is written as `"H2O"` where its activity is meant to
//! enter the law of mass action, and needs no entry otherwise. `H+` and `OH-` need no rows: the ionic product of water is built in.
//!
//! The same rows are read from the shipped data and from a person's own constants, so the serde shape lives here.

use super::names::charge_of_name;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use thiserror::Error;

/// A building stone of the equilibrium model.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Component {
    /// Name with its charge as suffix (`Citrate-3`, `Ca+2`, `Tris`).
    pub name: String,
    /// Charge number; must agree with the suffix of the name.
    pub charge: i32,
    /// Word shown to people (`citrate`).
    #[serde(default)]
    pub label: String,
    /// Other names a person may type (`Edta-4`, `edta`).
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub aliases: Vec<String>,
    /// Added to a formula to bind metals.
    #[serde(default)]
    pub chelant: bool,
    /// Molar mass of the bare ion, g/mol, for contents given by mass (`iupac-atomic-weights`).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub molar_mass_g_mol: Option<f64>,
}

/// Formation of one species from components.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Reaction {
    /// Species formed, with its charge as suffix (`CaH(EDTA)-`).
    pub product: String,
    /// Components and how many of each; `H+` may be negative; `H2O` is water.
    pub from: BTreeMap<String, i32>,
    /// Decadic logarithm of the overall formation constant at zero ionic strength and 25 C.
    pub log10_k: f64,
    /// Enthalpy of formation from components, kJ/mol.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub enthalpy_kj_mol: Option<f64>,
    /// Heat capacity change of formation from components, J/(mol K).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub heat_capacity_j_mol_k: Option<f64>,
    /// Standard uncertainty of `log10_k`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub uncertainty_log10: Option<f64>,
    /// Source key.
    #[serde(default)]
    pub source: String,
    /// `A` reviewed, `B` one reviewed value or converted, `C` scattered, `M` from memory, `ref` reference runs only.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub quality: Option<String>,
    /// Remark.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

/// A weak polyacid: units with one charge each whose apparent pKa rises with the charge of the chain.
///
/// See `aqueous::polyacid` for the equation. Rows of `at` are given for rising ionic strength.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Polyacid {
    /// Component name of the charged unit (`Acrylate-`), charge -1.
    pub component: String,
    /// Species name of the neutral unit (`HAcrylate`).
    pub product: String,
    /// Word shown to people (`carbomer`).
    #[serde(default)]
    pub label: String,
    /// Distance between neighbouring ionisable units along the chain, nm; gives the share of counter-ions that count.
    pub unit_spacing_nm: f64,
    /// Source key of the distance.
    #[serde(default)]
    pub unit_spacing_source: String,
    /// Parameters of the apparent pKa at one or more ionic strengths.
    pub at: Vec<ApparentPk>,
    /// Source key of the rise of the apparent pKa with the charge.
    #[serde(default)]
    pub source: String,
    /// Source key of the constant of the unit without charge.
    #[serde(default)]
    pub pk_source: String,
    /// Evidence mark as for reactions.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub quality: Option<String>,
    /// Remark.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

/// Parameters of `pH = pk + slope alpha + bend alpha^2 + log10(alpha / (1 - alpha))` at one ionic strength.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ApparentPk {
    /// Ionic strength of the medium, mol/kg.
    pub ionic_strength: f64,
    /// The constant `pk`.
    pub pk: f64,
    /// The slope with the degree of ionisation, not negative.
    #[serde(default)]
    pub slope: f64,
    /// The curvature with the degree of ionisation, not below `-slope / 2`: the apparent pKa never falls.
    #[serde(default)]
    pub bend: f64,
    /// Standard uncertainty of the pKa read from the model, in pH.
    pub uncertainty: f64,
}

/// A gas that may be held at a partial pressure: `a(gas) K = product of a(component)^nu`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Gas {
    /// Name (`CO2`).
    pub name: String,
    /// Components formed when one mole dissolves (`{ "CO3-2" = 1, "H+" = 2 }`; water may be named, negative).
    pub into: BTreeMap<String, i32>,
    /// log10 of the dissolution constant, pressure in atm, at 25 C.
    pub log10_k: f64,
    /// Enthalpy of dissolution, kJ/mol.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub enthalpy_kj_mol: Option<f64>,
    /// Heat capacity change of dissolution, J/(mol K).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub heat_capacity_j_mol_k: Option<f64>,
    /// Source key.
    #[serde(default)]
    pub source: String,
}

/// A salt that may fall out: saturation index = log10(ion product) - log10 Ksp. Nothing precipitates in the model.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Solid {
    /// Name (`calcium carbonate (calcite)`).
    pub name: String,
    /// Components it dissolves into; `H+` may be negative; `H2O` is water.
    pub into: BTreeMap<String, i32>,
    /// log10 of the solubility product at 25 C.
    pub log10_ksp: f64,
    /// Enthalpy of dissolution, kJ/mol.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub enthalpy_kj_mol: Option<f64>,
    /// Source key.
    #[serde(default)]
    pub source: String,
    /// Evidence mark as for reactions.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub quality: Option<String>,
}

/// Solubility of one dissolved species (the neutral form of a weak acid) at one temperature.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SpeciesSolubility {
    /// Species (`HBenzoate`).
    pub species: String,
    /// Most of it that dissolves, mol/kg water.
    pub mol_per_kg_water: f64,
    /// Temperature, C.
    pub temperature_c: f64,
    /// Source key.
    #[serde(default)]
    pub source: String,
}

/// Norrish constant of a non-electrolyte: `a_w = x_w exp(-K x_s^2)`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct NorrishConstant {
    /// Substance key (`glycerol`).
    pub substance: String,
    /// K.
    pub k: f64,
    /// Source key.
    #[serde(default)]
    pub source: String,
}

/// How an organic co-solvent shifts acid constants in water.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Cosolvent {
    /// Substance key (`ethanol`).
    pub substance: String,
    /// Shift of pKa of a neutral or anionic acid per unit mass fraction of the co-solvent in the solvent.
    pub acid_shift_per_fraction: f64,
    /// Shift of pKa of a cationic acid (protonated amine) per unit mass fraction.
    pub base_shift_per_fraction: f64,
    /// Mass fraction up to which the shift is meant.
    pub up_to_fraction: f64,
    /// Source key.
    #[serde(default)]
    pub source: String,
    /// Evidence mark as for reactions.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub quality: Option<String>,
}

/// How salt drives one uncharged species out of water: `log10 gamma = kg_mol I`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SaltingOut {
    /// Species or component name without charge (`HBenzoate`, `NH3`).
    pub species: String,
    /// Constant that goes with the Davies coefficients of the ions, kg/mol; see `docs/decisions/coefficient-of-neutral-species.md`.
    pub kg_mol: f64,
    /// Source key.
    #[serde(default)]
    pub source: String,
    /// Evidence mark as for reactions.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub quality: Option<String>,
}

/// One file of equilibrium data as written.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct EquilibriumFile {
    /// Rows `[[component]]`.
    #[serde(rename = "component")]
    pub components: Vec<Component>,
    /// Rows `[[reaction]]`.
    #[serde(rename = "reaction")]
    pub reactions: Vec<Reaction>,
    /// Rows `[[polyacid]]`.
    #[serde(rename = "polyacid")]
    pub polyacids: Vec<Polyacid>,
    /// Rows `[[gas]]`.
    #[serde(rename = "gas")]
    pub gases: Vec<Gas>,
    /// Rows `[[solid]]`.
    #[serde(rename = "solid")]
    pub solids: Vec<Solid>,
    /// Rows `[[solubility]]`.
    #[serde(rename = "solubility")]
    pub solubilities: Vec<SpeciesSolubility>,
    /// Rows `[[salting_out]]`.
    pub salting_out: Vec<SaltingOut>,
    /// Rows `[[norrish]]`.
    #[serde(rename = "norrish")]
    pub norrish: Vec<NorrishConstant>,
    /// Rows `[[cosolvent]]`.
    #[serde(rename = "cosolvent")]
    pub cosolvents: Vec<Cosolvent>,
}

/// Everything known about reactions in water, checked, in stable order.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Chemistry {
    /// Components by name; `H+` is always there.
    pub components: BTreeMap<String, Component>,
    /// Reactions in the order given.
    pub reactions: Vec<Reaction>,
    /// Weak polyacids.
    pub polyacids: Vec<Polyacid>,
    /// Gases.
    pub gases: Vec<Gas>,
    /// Salts that may fall out.
    pub solids: Vec<Solid>,
    /// Solubilities of species.
    pub solubilities: Vec<SpeciesSolubility>,
    /// Salting-out constants; a neutral species without one takes the convention of `aqueous::activity`.
    pub salting_out: Vec<SaltingOut>,
    /// Norrish constants.
    pub norrish: Vec<NorrishConstant>,
    /// Co-solvents.
    pub cosolvents: Vec<Cosolvent>,
}

/// A row of equilibrium data that cannot be right.
#[derive(Clone, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum ChemistryError {
    /// The charge of a component does not agree with its name.
    #[error("component `{name}` is given charge {charge}, its name says {by_name}")]
    ComponentCharge {
        /// Name.
        name: String,
        /// Charge of the row.
        charge: i32,
        /// Charge by the suffix.
        by_name: i32,
    },
    /// The charge of a product does not follow from its components.
    #[error("`{product}` has charge {by_name} by its name but {by_components} by its components")]
    ProductCharge {
        /// Product.
        product: String,
        /// Charge by the suffix.
        by_name: i32,
        /// Sum over components.
        by_components: i32,
    },
    /// A reaction names a component that no row defines.
    #[error("`{product}` is formed from `{component}`, which is not a component")]
    UnknownComponent {
        /// Product, gas or solid.
        product: String,
        /// The name that is missing.
        component: String,
    },
    /// The same component or product stands twice.
    #[error("`{name}` is defined twice")]
    Duplicate {
        /// Name.
        name: String,
    },
    /// A number that is not finite or outside what can be meant.
    #[error("`{name}`: {what} is {value}")]
    Number {
        /// Row.
        name: String,
        /// Field.
        what: &'static str,
        /// Value.
        value: f64,
    },
    /// A row whose stoichiometry is empty, absurd, or meets a polyacid unit.
    #[error("`{name}`: {why}")]
    Stoichiometry {
        /// Row.
        name: String,
        /// Why it cannot be used.
        why: &'static str,
    },
}

impl ChemistryError {
    /// What to do about it.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            Self::ComponentCharge { .. } => {
                "write the charge as the suffix of the name says it (`Ca+2` is 2, `EDTA-4` is -4)"
            }
            Self::ProductCharge { .. } => "correct the suffix of the product or the numbers in `from`",
            Self::UnknownComponent { .. } => "add a [[component]] row, or correct the spelling",
            Self::Duplicate { .. } => "keep one of the two rows: constants of two sets must not be mixed",
            Self::Number { .. } => "give a finite number in the usual range (|log10 K| below 200)",
            Self::Stoichiometry { .. } => {
                "name at least one component other than H2O, each with a whole number from -12 to 12"
            }
        }
    }
}

impl Chemistry {
    /// Joins files into one checked body of facts.
    ///
    /// # Errors
    /// [`ChemistryError`] naming the first row that cannot be right.
    pub fn from_files(files: impl IntoIterator<Item = EquilibriumFile>) -> Result<Self, ChemistryError> {
        let mut chemistry = Self::default();
        let proton = Component {
            name: "H+".to_owned(),
            charge: 1,
            label: "hydrogen ion".to_owned(),
            aliases: Vec::new(),
            chelant: false,
            molar_mass_g_mol: None,
        };
        chemistry.components.insert(proton.name.clone(), proton);
        for file in files {
            for component in file.components {
                if component.name == "H+" {
                    continue;
                }
                let by_name = charge_of_name(&component.name);
                if by_name != component.charge {
                    return Err(ChemistryError::ComponentCharge {
                        name: component.name,
                        charge: component.charge,
                        by_name,
                    });
                }
                let name = component.name.clone();
                if chemistry.components.insert(name.clone(), component).is_some() {
                    return Err(ChemistryError::Duplicate { name });
                }
            }
            chemistry.reactions.extend(file.reactions);
            chemistry.polyacids.extend(file.polyacids);
            chemistry.gases.extend(file.gases);
            chemistry.solids.extend(file.solids);
            chemistry.solubilities.extend(file.solubilities);
            chemistry.salting_out.extend(file.salting_out);
            chemistry.norrish.extend(file.norrish);
            chemistry.cosolvents.extend(file.cosolvents);
        }
        chemistry.check()?;
        Ok(chemistry)
    }

    /// Builds facts from reactions alone: components are whatever the reactions name, charges come from the names.
    ///
    /// # Errors
    /// [`ChemistryError`] naming the first row that cannot be right.
    pub fn from_reactions(
        reactions: Vec<Reaction>,
        components: Vec<Component>,
    ) -> Result<Self, ChemistryError> {
        let mut file = EquilibriumFile { components, reactions, ..EquilibriumFile::default() };
        let mut named: BTreeMap<String, i32> = BTreeMap::new();
        for reaction in &file.reactions {
            for name in reaction.from.keys() {
                named.insert(name.clone(), charge_of_name(name));
            }
        }
        for (name, charge) in named {
            let known = file.components.iter().any(|component| component.name == name);
            if !known && name != "H2O" && name != "H+" {
                file.components.push(Component {
                    label: name.clone(),
                    name,
                    charge,
                    aliases: Vec::new(),
                    chelant: false,
                    molar_mass_g_mol: None,
                });
            }
        }
        Self::from_files([file])
    }

    fn check(&self) -> Result<(), ChemistryError> {
        let mut seen: BTreeMap<&str, ()> = self.components.keys().map(|name| (name.as_str(), ())).collect();
        for reaction in &self.reactions {
            if seen.insert(&reaction.product, ()).is_some() {
                return Err(ChemistryError::Duplicate { name: reaction.product.clone() });
            }
            finite(&reaction.product, "log10_k", Some(reaction.log10_k), 200.0)?;
            finite(&reaction.product, "enthalpy_kj_mol", reaction.enthalpy_kj_mol, 1000.0)?;
            finite(&reaction.product, "heat_capacity_j_mol_k", reaction.heat_capacity_j_mol_k, 10_000.0)?;
            finite(&reaction.product, "uncertainty_log10", reaction.uncertainty_log10, 20.0)?;
            let charge = self.charge_of(&reaction.product, &reaction.from)?;
            let by_name = charge_of_name(&reaction.product);
            if charge != by_name {
                return Err(ChemistryError::ProductCharge {
                    product: reaction.product.clone(),
                    by_name,
                    by_components: charge,
                });
            }
        }
        for polyacid in &self.polyacids {
            self.check_polyacid(polyacid)?;
        }
        for row in &self.salting_out {
            let known = self.components.contains_key(&row.species)
                || self.reactions.iter().any(|reaction| reaction.product == row.species);
            if !known || charge_of_name(&row.species) != 0 {
                return Err(ChemistryError::Stoichiometry {
                    name: row.species.clone(),
                    why: "a salting-out constant belongs to an uncharged component or product of a reaction",
                });
            }
            finite(&row.species, "kg_mol", Some(row.kg_mol), 1.0)?;
        }
        for gas in &self.gases {
            finite(&gas.name, "log10_k", Some(gas.log10_k), 200.0)?;
            if self.charge_of(&gas.name, &gas.into)? != 0 {
                return Err(ChemistryError::Stoichiometry {
                    name: gas.name.clone(),
                    why: "a gas must dissolve into components of no net charge",
                });
            }
        }
        for solid in &self.solids {
            finite(&solid.name, "log10_ksp", Some(solid.log10_ksp), 200.0)?;
            if self.charge_of(&solid.name, &solid.into)? != 0 {
                return Err(ChemistryError::Stoichiometry {
                    name: solid.name.clone(),
                    why: "a solid must dissolve into components of no net charge",
                });
            }
        }
        Ok(())
    }

    fn check_polyacid(&self, polyacid: &Polyacid) -> Result<(), ChemistryError> {
        let name = &polyacid.component;
        let bad = |why| Err(ChemistryError::Stoichiometry { name: name.clone(), why });
        match self.components.get(name) {
            None => {
                return Err(ChemistryError::UnknownComponent {
                    product: polyacid.product.clone(),
                    component: name.clone(),
                });
            }
            Some(component) if component.charge != -1 => {
                return bad("the unit of a polyacid carries charge -1");
            }
            Some(_) => {}
        }
        if self.reactions.iter().any(|reaction| reaction.from.contains_key(name)) {
            return bad("the unit of a polyacid takes part in no other reaction of this model");
        }
        if polyacid.at.is_empty() {
            return bad("a polyacid needs at least one row of parameters in `at`");
        }
        if !polyacid.at.is_sorted_by(|a, b| a.ionic_strength < b.ionic_strength) {
            return bad("rows of `at` must stand in order of rising ionic strength");
        }
        for row in &polyacid.at {
            let numbers = [row.ionic_strength, row.pk, row.slope, row.bend, row.uncertainty];
            let rising = row.slope >= 0.0 && row.slope + 2.0 * row.bend >= -1e-9;
            let positive = row.ionic_strength > 0.0 && row.uncertainty >= 0.0;
            if !(rising && positive && numbers.iter().all(|x| x.is_finite())) {
                return bad(
                    "ionic strength must be positive, uncertainty not negative, the apparent pKa must not fall with the \
                     degree of ionisation (slope >= 0, bend >= -slope / 2), all finite",
                );
            }
        }
        finite(name, "unit_spacing_nm", Some(polyacid.unit_spacing_nm), 100.0)?;
        if polyacid.unit_spacing_nm <= 0.0 {
            return bad("the distance between units must be positive");
        }
        Ok(())
    }

    fn charge_of(&self, product: &str, from: &BTreeMap<String, i32>) -> Result<i32, ChemistryError> {
        let mut charge = 0;
        let mut named = 0;
        for (name, &count) in from {
            if name == "H2O" {
                continue;
            }
            let component = self.components.get(name).ok_or_else(|| ChemistryError::UnknownComponent {
                product: product.to_owned(),
                component: name.clone(),
            })?;
            if count == 0 || !(-12..=12).contains(&count) {
                return Err(ChemistryError::Stoichiometry {
                    name: product.to_owned(),
                    why: "a coefficient is zero or beyond 12",
                });
            }
            if count < 0 && name != "H+" {
                return Err(ChemistryError::Stoichiometry {
                    name: product.to_owned(),
                    why: "only H+ and H2O may be negative",
                });
            }
            named += 1;
            charge += count * component.charge;
        }
        if named == 0 {
            return Err(ChemistryError::Stoichiometry {
                name: product.to_owned(),
                why: "no component is named",
            });
        }
        Ok(charge)
    }
}

fn finite(name: &str, what: &'static str, value: Option<f64>, most: f64) -> Result<(), ChemistryError> {
    match value {
        Some(value) if !value.is_finite() || value.abs() > most => {
            Err(ChemistryError::Number { name: name.to_owned(), what, value })
        }
        _ => Ok(()),
    }
}
