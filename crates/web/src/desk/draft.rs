//! A formula as it stands in the fields of the page, every number as text exactly as typed.

use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// A formula as it stands in the fields of the page.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Draft {
    /// What it is.
    pub product: DraftProduct,
    /// What it shall be.
    pub target: DraftTarget,
    /// Phases in order of making.
    pub phases: Vec<DraftPhase>,
    /// What it is weighed on.
    pub bench: Bench,
    /// The procedure a person wrote; empty where it is the proposed one.
    pub steps: Vec<DraftStep>,
    /// Facts the formula brings along (`[[material]]`, `[[price]]`), as text; laid over all others for this formula only.
    pub own_facts: String,
}

/// The head of the sheet.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct DraftProduct {
    /// Name.
    pub name: String,
    /// Product type.
    #[serde(rename = "type")]
    pub kind: String,
    /// Site of use.
    pub site: String,
    /// Stays on the skin.
    pub leave_on: bool,
    /// Markets.
    pub markets: Vec<String>,
    /// Client or project.
    pub client: String,
    /// Remark.
    pub note: String,
}

impl Default for DraftProduct {
    fn default() -> Self {
        Self {
            name: String::new(),
            kind: "serum".to_owned(),
            site: "face".to_owned(),
            leave_on: true,
            markets: vec!["eu".to_owned()],
            client: String::new(),
            note: String::new(),
        }
    }
}

/// The target profile as typed; an empty text is a target not set.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct DraftTarget {
    /// Lower end of the pH window.
    pub ph_low: String,
    /// Upper end of the pH window.
    pub ph_high: String,
    /// How the pH is read: `neat` where empty, or `10 % in water`.
    pub ph_method: String,
    /// Temperature at which it is read, C.
    pub ph_temperature_c: String,
    /// Age of the sample it is read on, hours.
    pub ph_age_h: String,
    /// Lower end of the viscosity window, mPa·s.
    pub viscosity_low: String,
    /// Upper end of the viscosity window, mPa·s.
    pub viscosity_high: String,
    /// Spindle in words.
    pub viscosity_spindle: String,
    /// Speed, rpm.
    pub viscosity_rpm: String,
    /// Temperature, C.
    pub viscosity_temperature_c: String,
    /// Age of the sample, hours.
    pub viscosity_age_h: String,
    /// `clear`, `hazy`, `opaque` or empty.
    pub clarity: String,
    /// Most the bulk may cost per kg.
    pub cost_per_kg: String,
    /// ISO 4217 code.
    pub currency: String,
    /// Least natural-origin content, percent.
    pub natural_origin_percent: String,
    /// What must not be in it, separated by commas or semicolons.
    pub free_from: String,
    /// Shelf life, months.
    pub shelf_life_months: String,
    /// Pack in words.
    pub pack_name: String,
    /// Nominal content.
    pub pack_fill: String,
    /// `mL`, `g`, `oz weight`, `fl oz US`, `fl oz UK`.
    pub pack_unit: String,
    /// Cost of one pack.
    pub pack_cost: String,
    /// Keeps fingers and air out.
    pub pack_airless: bool,
    /// Metals expected in the product, mg per kg, by ion.
    pub metals_mg_kg: BTreeMap<String, String>,
}

/// One phase as typed.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct DraftPhase {
    /// Made by the page; stays with the phase while it is edited.
    pub id: String,
    /// Name.
    pub name: String,
    /// Temperature, C.
    pub temperature_c: String,
    /// What is done.
    pub step: String,
    /// Lines.
    pub lines: Vec<DraftLine>,
}

/// One line as typed.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct DraftLine {
    /// Made by the page; stays with the line while it is edited and moved.
    pub id: String,
    /// Raw material: key, name, INCI name or CAS number. Empty: the line is not there yet.
    pub material: String,
    /// How the amount is meant.
    pub kind: AmountKind,
    /// Amount; not used for the remainder.
    pub amount: String,
    /// Assay of the lot, percent.
    pub assay_percent: String,
    /// Lot.
    pub lot: String,
    /// Remark.
    pub note: String,
    /// Weighing tolerance, percent of the target.
    pub tolerance_percent: String,
}

/// One step of a procedure as typed.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct DraftStep {
    /// Made by the page; stays with the step while it is edited and moved.
    pub id: String,
    /// What is done: a word of the formula file.
    pub does: String,
    /// Name of a premix.
    pub name: String,
    /// Lines that go in.
    pub lines: Vec<DraftStepLine>,
    /// Ids of the steps whose premixes go in.
    pub premixes: Vec<String>,
    /// Temperature from, C.
    pub temperature_low: String,
    /// Temperature to, C.
    pub temperature_high: String,
    /// How it is stirred: a key of the facts or words.
    pub stirring: String,
    /// Minutes from.
    pub minutes_low: String,
    /// Minutes to.
    pub minutes_high: String,
    /// What is looked at.
    pub checks: Vec<String>,
    /// The instruction in own words.
    pub note: String,
}

/// A line in a step as typed.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct DraftStepLine {
    /// Id of the draft line.
    pub line: String,
    /// Share of it, percent; empty: all.
    pub share_percent: String,
}

/// How an amount is meant.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum AmountKind {
    /// Percent w/w as supplied.
    #[default]
    Percent,
    /// Percent w/w of the active substance.
    ActivePercent,
    /// q.s. to 100.
    Remainder,
    /// As much as brings the product to a pH.
    ToPh,
}

/// What the batch is weighed on.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Bench {
    /// Batch size, g.
    pub size_g: String,
    /// Readability of the balance, g.
    pub balance_g: String,
    /// Repeatability of the balance (standard deviation), g; empty: as its readability.
    pub repeatability_g: String,
    /// Count of the water it is made with, CFU/mL; empty: not measured.
    pub water_cfu_per_ml: String,
}

impl Default for Bench {
    fn default() -> Self {
        Self {
            size_g: "200".to_owned(),
            balance_g: "0.01".to_owned(),
            repeatability_g: String::new(),
            water_cfu_per_ml: String::new(),
        }
    }
}
