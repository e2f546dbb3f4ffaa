//! The formula sheet as a person wrote it: product, target profile, phases, lines. Percentages are decimals, exactly as typed.

mod making;

pub use making::{StepKind, StepPart, WrittenStep};

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

/// A formula.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Sheet {
    /// What it is.
    pub product: Product,
    /// What it shall be.
    #[serde(default)]
    pub target: Target,
    /// Batch and balance at the bench.
    #[serde(default)]
    pub batch: Batch,
    /// Phases in order of making.
    #[serde(rename = "phase")]
    pub phases: Vec<Phase>,
    /// The procedure a person wrote; empty where it is the one that follows from the materials.
    #[serde(rename = "step", default, skip_serializing_if = "Vec::is_empty")]
    pub steps: Vec<WrittenStep>,
}

/// The bench batch and the balance it is weighed on.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Batch {
    /// Batch size, g.
    pub size_g: Decimal,
    /// Readability of the balance, g.
    pub balance_g: Decimal,
    /// Repeatability (standard deviation) of the balance, g; equal to the readability when not given.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub repeatability_g: Option<Decimal>,
    /// Count of the water it is made with, CFU/mL, where it was measured.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub water_cfu_per_ml: Option<Decimal>,
}

impl Default for Batch {
    /// 200 g on a 0.01 g balance, the usual first trial (common practice, no source).
    fn default() -> Self {
        Self {
            size_g: Decimal::from(200),
            balance_g: Decimal::new(1, 2),
            repeatability_g: None,
            water_cfu_per_ml: None,
        }
    }
}

/// What the product is.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Product {
    /// Name.
    pub name: String,
    /// Product type: `serum`, `gel`, `toner`, `lotion`, `cream`, ...
    #[serde(rename = "type")]
    pub kind: String,
    /// Site of use: `face`, `eye`, `body`, `hand`, `scalp`, ...
    pub site: String,
    /// Stays on the skin.
    pub leave_on: bool,
    /// Markets: `eu`, `uk`, `us`, ...
    #[serde(default)]
    pub markets: Vec<String>,
    /// Client or project, free text.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub client: Option<String>,
    /// Free remark.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

/// The numeric target profile.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Target {
    /// pH window, read as `ph_read` says.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub ph: Option<[Decimal; 2]>,
    /// How the pH of the window is read: neat at 25 C where nothing is said. Acid and base lines are solved for a pH read so in any case.
    #[serde(skip_serializing_if = "PhRead::says_nothing")]
    pub ph_read: PhRead,
    /// Viscosity with its conditions.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub viscosity: Option<ViscosityTarget>,
    /// `clear`, `hazy` or `opaque`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub clarity: Option<String>,
    /// Most the bulk may cost per kg.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub cost_per_kg: Option<Money>,
    /// Least natural-origin content wanted, percent after ISO 16128.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub natural_origin_percent: Option<Decimal>,
    /// What must not be in it: INCI names, substance names or functions.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub free_from: Vec<String>,
    /// Shelf life wanted, months.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub shelf_life_months: Option<Decimal>,
    /// Pack and fill.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub pack: Option<Pack>,
    /// Hardness and metals the water and raw materials may bring, for the chelant: mg per kg of product, by ion.
    #[serde(skip_serializing_if = "std::collections::BTreeMap::is_empty")]
    pub metals_mg_kg: std::collections::BTreeMap<String, Decimal>,
}

/// How a pH is read.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct PhRead {
    /// One part of product in nine of water, else neat.
    pub diluted: bool,
    /// Temperature, C; 25 where nothing is said.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub temperature_c: Option<Decimal>,
    /// Age of the sample, hours.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub age_h: Option<Decimal>,
}

impl PhRead {
    /// Whether nothing is said that differs from neat, 25 C, at any age.
    #[must_use]
    pub fn says_nothing(&self) -> bool {
        *self == Self::default()
    }
}

/// Viscosity with the conditions without which it means nothing.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ViscosityTarget {
    /// Window, mPa.s.
    pub mpa_s: [Decimal; 2],
    /// Spindle, in words.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub spindle: Option<String>,
    /// Speed, rpm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub speed_rpm: Option<Decimal>,
    /// Temperature, C.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub temperature_c: Option<Decimal>,
    /// Age of the sample, hours.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub age_h: Option<Decimal>,
}

/// An amount of money.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Money {
    /// Amount.
    pub amount: Decimal,
    /// ISO 4217 code.
    pub currency: String,
}

/// Pack and fill. Ounces of weight and fluid ounces are different units and never share a name.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Pack {
    /// Pack in words (`airless pump`).
    pub name: String,
    /// Nominal content.
    pub fill: Decimal,
    /// Unit of the content.
    pub unit: FillUnit,
    /// Cost of one empty pack with its filling.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cost: Option<Money>,
    /// Keeps fingers and air out: a hurdle for microbes.
    #[serde(default)]
    pub airless: bool,
}

/// Unit of a nominal content.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum FillUnit {
    /// Millilitre.
    #[serde(rename = "mL")]
    Millilitre,
    /// Gram.
    #[serde(rename = "g")]
    Gram,
    /// Ounce of weight (avoirdupois), 28.349523125 g.
    #[serde(rename = "oz weight")]
    OunceWeight,
    /// US fluid ounce, 29.5735295625 mL.
    #[serde(rename = "fl oz US")]
    FluidOunceUs,
    /// UK fluid ounce, 28.4130625 mL.
    #[serde(rename = "fl oz UK")]
    FluidOunceUk,
}

impl FillUnit {
    /// Size of one unit: grams for a unit of mass, millilitres for a unit of volume.
    #[must_use]
    pub fn size(self) -> f64 {
        match self {
            Self::Millilitre | Self::Gram => 1.0,
            Self::OunceWeight => 28.349_523_125,
            Self::FluidOunceUs => 29.573_529_562_5,
            Self::FluidOunceUk => 28.413_062_5,
        }
    }

    /// Whether the unit is one of volume.
    #[must_use]
    pub fn is_volume(self) -> bool {
        !matches!(self, Self::Gram | Self::OunceWeight)
    }
}

/// Raw materials added together.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Phase {
    /// Name (`A`).
    pub name: String,
    /// Temperature at which the phase is worked, C.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub temperature_c: Option<Decimal>,
    /// What is done, in words.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub step: Option<String>,
    /// Lines in order of addition.
    #[serde(rename = "line", default)]
    pub lines: Vec<Line>,
}

/// One line of the formula.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Line {
    /// Raw material: key, name, INCI name or CAS number.
    pub material: String,
    /// How much.
    #[serde(flatten)]
    pub amount: Amount,
    /// Assay of the lot in use, percent of the active substance.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub assay_percent: Option<Decimal>,
    /// Lot.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lot: Option<String>,
    /// Remark.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
    /// Weighing tolerance for this line, percent of the target.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tolerance_percent: Option<Decimal>,
}

/// How much of a line.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Amount {
    /// Percent w/w of the raw material as supplied.
    Percent(Decimal),
    /// Percent w/w of the active substance; the assay decides what is weighed.
    ActivePercent(Decimal),
    /// q.s. to 100.
    Remainder(bool),
    /// As much as brings the product to this pH.
    ToPh(Decimal),
}

impl Sheet {
    /// All lines in order with the index of their phase.
    pub fn lines(&self) -> impl Iterator<Item = (usize, &Line)> {
        self.phases
            .iter()
            .enumerate()
            .flat_map(|(index, phase)| phase.lines.iter().map(move |line| (index, line)))
    }

    /// The line a step means, from 0.
    #[must_use]
    pub fn line_of(&self, part: &StepPart) -> Option<usize> {
        let named = self.lines().enumerate().filter(|(_, (_, line))| line.material == part.material);
        named.map(|(at, _)| at).nth(part.nth.checked_sub(1)?)
    }

    /// How a step names a line, from 0.
    #[must_use]
    pub fn part_of(&self, line: usize, share_percent: Option<Decimal>) -> Option<StepPart> {
        let material = self.lines().nth(line)?.1.material.clone();
        let nth = self.lines().take(line + 1).filter(|(_, other)| other.material == material).count();
        Some(StepPart { material, nth, share_percent })
    }
}
