//! The shapes of the facts the engine needs about substances, raw materials and preservatives.
//!
//! A fact that is absent is `None` or empty: empty beats guessed. Every number carries the key of its source.
//! These types are the schema of the TOML files in `data/`: fields may be left out where absence means "not known",
//! and a field that is not named here is refused.

use levigate_measure::Sourced;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// One chemical substance, or one polymer or oil treated as such.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Substance {
    /// Stable key, kebab-case (`citric-acid`).
    pub key: String,
    /// Plain name (`citric acid`).
    pub name: String,
    /// INCI name, absent for what has none (a metal salt used only in water analysis).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub inci: Option<String>,
    /// CAS numbers, check digits proved when the facts are loaded.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub cas: Vec<String>,
    /// Chemical formula, for substances people name by it (`NaOH`).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub formula: Option<String>,
    /// Other names a person may type.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub aliases: Vec<String>,
    /// What it does: `acid`, `base`, `buffer`, `chelant`, `preservative`, `humectant`, ...
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub roles: Vec<String>,
    /// Molar mass, g/mol; absent for polymers and mixtures.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub molar_mass_g_mol: Option<Sourced<f64>>,
    /// How it behaves in water; `unknown` when not given.
    #[serde(default)]
    pub in_water: InWater,
    /// log10 of the octanol-water partition coefficient of the neutral form.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub log_p: Option<Sourced<f64>>,
    /// Density of the liquid, kg/m3, near 20-25 C.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub density_kg_m3: Option<Sourced<f64>>,
    /// Known solubilities of the neutral or salt form in water.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub solubility: Vec<Solubility>,
    /// Natural-origin index after ISO 16128, 0 to 1, where published.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub natural_origin_index: Option<Sourced<f64>>,
    /// Layer the record came from; set by the loader.
    #[serde(default)]
    pub layer: Layer,
}

impl Substance {
    /// Components of the equilibrium model that it gives.
    pub fn components(&self) -> impl Iterator<Item = &String> {
        let gives = match &self.in_water {
            InWater::Components { gives, .. } | InWater::Polyion { gives_mol_per_kg: gives, .. } => {
                Some(gives)
            }
            _ => None,
        };
        gives.into_iter().flat_map(BTreeMap::keys)
    }
}

/// How a substance behaves in the water phase.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", tag = "kind", deny_unknown_fields)]
pub enum InWater {
    /// It is water.
    Water,
    /// It dissolves into components of the equilibrium model; one mole gives these amounts (negative H+ for a base).
    Components {
        /// Component name and moles per mole of substance.
        gives: BTreeMap<String, f64>,
        /// Moles of crystal water per mole.
        #[serde(default)]
        crystal_water: f64,
    },
    /// A weak polyacid or its salt: charged units carried by a chain.
    Polyion {
        /// Component name and moles per kg of dry substance.
        gives_mol_per_kg: BTreeMap<String, f64>,
        /// Source of the unit mass.
        source: String,
    },
    /// It dissolves without ionising between pH 2 and 12.
    Neutral,
    /// A polymer that counts as mass only (nonionic gum, or of unknown charge density).
    Polymer,
    /// It belongs to the oil.
    Oil,
    /// A solid that does not dissolve.
    Insoluble,
    /// Not known; the readings say so.
    #[default]
    Unknown,
}

/// One solubility value.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Solubility {
    /// Species the value is for: `neutral` (the undissociated form) or `as-is` (the substance as supplied).
    pub of: String,
    /// Grams per kilogram of water.
    pub g_per_kg_water: f64,
    /// Temperature, C.
    pub temperature_c: f64,
    /// Source key.
    pub source: String,
}

/// A raw material as bought: a mixture of substances with ranges.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Material {
    /// Stable key, kebab-case (`panthenol-75`).
    pub key: String,
    /// Trade-neutral name (`Panthenol 75 % in water`).
    pub name: String,
    /// Other names a person may type.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub aliases: Vec<String>,
    /// Functions: `humectant`, `thickener`, `preservative`, ...
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub functions: Vec<String>,
    /// Physical form.
    pub form: Form,
    /// What it consists of.
    pub constituents: Vec<Constituent>,
    /// Source of the composition.
    pub composition_source: String,
    /// Key of the constituent that `active_percent` and `assay_percent` speak of.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub active: Option<String>,
    /// Constituent that fills up when an assay is given (`water` for solutions).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub balance: Option<String>,
    /// Not above this temperature, C.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub heat_limit_c: Option<Sourced<f64>>,
    /// pH range in which it does its work.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ph_works: Option<Range>,
    /// pH range it survives for the life of the product.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ph_survives: Option<Range>,
    /// Charge of the functional part.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub charge: Option<Charge>,
    /// What must be done to get it into water.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub wetting: Option<Wetting>,
    /// How much salt it bears.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub electrolyte_tolerance: Option<Tolerance>,
    /// Natural-origin index of the material as supplied, after ISO 16128, where published.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub natural_origin_index: Option<Sourced<f64>>,
    /// Density as supplied, kg/m3.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub density_kg_m3: Option<Sourced<f64>>,
    /// Flash point, C.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub flash_point_c: Option<Sourced<f64>>,
    /// Usual level in the product, % as supplied.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub use_level_percent: Option<Range>,
    /// Cautions shown where the material is handled.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub cautions: Vec<Caution>,
    /// Free remarks with their sources.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub remarks: Vec<Sourced<String>>,
    /// Category limit on an IFRA certificate the user entered, % of the material in the product.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub ifra_limits: Vec<IfraLimit>,
    /// Dated prices, user data; shipped materials have none.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub prices: Vec<Price>,
    /// Documents the user filed.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub documents: Vec<Document>,
    /// Layer the record came from; set by the loader.
    #[serde(default)]
    pub layer: Layer,
}

/// Physical form of a raw material as bought.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Form {
    /// Fine powder.
    Powder,
    /// Granules, crystals or pellets.
    Granules,
    /// Liquid without added water.
    Liquid,
    /// Solution in water or another solvent.
    Solution,
    /// Dispersion or emulsion.
    Dispersion,
    /// Paste or gel.
    Paste,
    /// Wax or flakes.
    Wax,
}

/// One constituent of a raw material, percent w/w.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Constituent {
    /// Substance key.
    pub substance: String,
    /// Least.
    pub min: f64,
    /// Typical; the typical values of a material sum to 100.
    pub typical: f64,
    /// Most.
    pub max: f64,
}

/// A closed range with its source.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Range {
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
    /// Source key.
    pub source: String,
}

/// Charge of the functional part of a material.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Charge {
    /// Negative.
    Anionic,
    /// Positive.
    Cationic,
    /// None.
    Nonionic,
    /// Both.
    Amphoteric,
}

/// What must be done to bring a material into water.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Wetting {
    /// Dissolves or mixes on stirring.
    None,
    /// Slurry in a polyol first, or sift into a vortex, then let it hydrate.
    PreWet,
    /// Disperse in hot water, hydrate on cooling.
    HotDispersion,
    /// Surface-treated: wet cold at neutral pH, then raise the pH to hydrate.
    RaisePh,
    /// Dissolve in oil, alcohol or a solubiliser first.
    Premix,
}

/// Graded tolerance to electrolyte.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Tolerance {
    /// `low`, `medium` or `high`.
    pub class: String,
    /// Ionic strength (mol/kg water) above which loss of viscosity is to be expected, where known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ionic_strength_mol_kg: Option<f64>,
    /// Source key.
    pub source: String,
}

/// A caution with the hazard and what to do.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Caution {
    /// `caustic`, `acid`, `oxidiser`, `flammable`, `dust`, `sensitiser`, `eye`, ...
    pub hazard: String,
    /// Plain words.
    pub text: String,
    /// Source key.
    pub source: String,
}

/// A use limit on a fragrance certificate.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct IfraLimit {
    /// Category of the certificate (`5B`).
    pub category: String,
    /// Most of the material in the product, %.
    pub max_percent: f64,
    /// Amendment number on the certificate.
    pub amendment: u32,
    /// Date on the certificate, ISO.
    pub date: String,
}

/// A dated price.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Price {
    /// Price per kilogram as supplied, as typed.
    pub per_kg: rust_decimal::Decimal,
    /// ISO 4217 code.
    pub currency: String,
    /// ISO date of the quotation.
    pub date: String,
    /// Supplier, order size or other condition.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

/// A document on file.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Document {
    /// `CoA`, `SDS`, `TDS`, `IFRA certificate`, `composition statement`, ...
    pub kind: String,
    /// ISO date.
    pub date: String,
    /// ISO date after which it must be renewed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub valid_to: Option<String>,
    /// Where it is kept.
    pub place: String,
}

/// Where a fact came from: shipped with the program, a laboratory's own folder, the workspace, or the formula file itself.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Layer {
    /// Shipped in the binary.
    #[default]
    Shipped,
    /// A laboratory's own folder.
    Laboratory,
    /// The workspace.
    Workspace,
    /// The formula file, for this formula alone.
    Formula,
}

impl Layer {
    /// The word written in answers.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Shipped => "shipped",
            Self::Laboratory => "laboratory",
            Self::Workspace => "workspace",
            Self::Formula => "formula",
        }
    }
}

/// What a substance does against microbes.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Preservative {
    /// Substance key as weighed (`sodium-benzoate`).
    pub substance: String,
    /// Substance key of the form that acts and that MICs speak of (`benzoic-acid`).
    pub acts_as: String,
    /// Which form does the work.
    pub working_form: WorkingForm,
    /// pH window in which suppliers and handbooks use it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ph_window: Option<Range>,
    /// Usual level, %.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub use_percent: Option<Range>,
    /// Strength per group: `good`, `fair`, `weak`, `none`; absent is unknown.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub spectrum: BTreeMap<String, String>,
    /// Listed in the EU list of permitted preservatives (Annex V).
    pub listed_eu: bool,
    /// Add below this temperature, C.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub add_below_c: Option<Sourced<f64>>,
    /// What takes it out of action, in words.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub inactivation: Option<Sourced<String>>,
    /// Source of window and spectrum.
    pub source: String,
    /// Layer the record came from; set by the loader.
    #[serde(default)]
    pub layer: Layer,
}

/// Which form of a preservative does the work.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", tag = "kind", deny_unknown_fields)]
pub enum WorkingForm {
    /// The undissociated acid: species `species` of the equilibrium model.
    Undissociated {
        /// Species name in the equilibrium model (`HBenzoate`).
        species: String,
    },
    /// The whole substance, whatever the pH.
    Whole,
    /// The cation.
    Cation,
}

/// A published minimum inhibitory concentration. It ranks; it never passes.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct InhibitoryConcentration {
    /// Substance key the value is expressed as.
    pub substance: String,
    /// `s-aureus`, `p-aeruginosa`, `e-coli`, `c-albicans`, `a-brasiliensis`.
    pub organism: String,
    /// Lowest published value, mg/L.
    pub low_mg_l: f64,
    /// Highest published value, mg/L.
    pub high_mg_l: f64,
    /// pH of the test, absent when not published.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub test_ph: Option<f64>,
    /// Source key.
    pub source: String,
}

/// All facts of the standing pot, by key, in stable order.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Library {
    /// Substances.
    pub substances: BTreeMap<String, Substance>,
    /// Raw materials.
    pub materials: BTreeMap<String, Material>,
    /// Preservatives by the substance weighed.
    pub preservatives: BTreeMap<String, Preservative>,
    /// Published MICs.
    pub inhibitory: Vec<InhibitoryConcentration>,
}
