//! The readings of an assessment, in the order a formulator asks for them.

use crate::acids::AcidReading;
use crate::finding::Finding;
use crate::flow::FlowReading;
use crate::metals::MetalsReading;
use crate::preserving::PreservationReading;
use crate::saturation::SaturationReading;
use crate::verdicts::Verdicts;
use crate::weighability::WeighingReading;
use levigate_formula::preservation::Overlap;
use levigate_measure::Outcome;
use levigate_measure::written::{Described, Description, result};
use levigate_rules::question::Amount;
use rust_decimal::Decimal;
use serde::Serialize;

/// Everything the engine can say about a formula as it stands.
#[derive(Clone, Debug, Serialize)]
pub struct Assessment {
    /// Date the rules were read for, ISO.
    pub as_of: String,
    /// The lines with their settled amounts.
    pub lines: Vec<LineReading>,
    /// What is in it.
    pub composition: CompositionReading,
    /// Acidity.
    pub ph: PhReading,
    /// Undissociated share of every weak acid.
    pub acids: Vec<AcidReading>,
    /// Acid and base lines whose amount was solved.
    pub adjusters: Vec<AdjusterReading>,
    /// Preservation at the edges of the window and as it stands.
    pub preservatives: PreservationReading,
    /// pH windows laid over each other.
    pub windows: Overlap,
    /// What may fall out.
    pub saturation: SaturationReading,
    /// Metals and chelants.
    pub metals: MetalsReading,
    /// How it flows.
    pub flow: FlowReading,
    /// Limits, allergens, label, natural origin, cost, exposure and pairs.
    #[serde(flatten)]
    pub rules: Verdicts,
    /// How well each line can be weighed; absent when the balance on the sheet cannot be one.
    pub weighing: Option<WeighingReading>,
    /// Findings, gravest first.
    pub findings: Vec<Finding>,
}

/// One line of the sheet as settled.
#[derive(Clone, Debug, Serialize)]
pub struct LineReading {
    /// Position from 0.
    pub line: usize,
    /// Phase position from 0.
    pub phase: usize,
    /// Raw material key.
    pub material: String,
    /// Raw material name.
    pub name: String,
    /// INCI names of its constituents, main one first.
    pub inci: Vec<String>,
    /// Functions.
    pub functions: Vec<String>,
    /// Percent w/w as supplied.
    pub percent: Outcome,
    /// Percent of the active substance, where the material has one.
    pub active_percent: Option<Outcome>,
    /// The same percent as exact decimal text, where it is exact.
    pub exact: Option<String>,
    /// `typed`, `from-active`, `remainder` or `solved`.
    pub basis: &'static str,
    /// Layer of the material record: `shipped`, `laboratory`, `workspace` or `formula`.
    pub layer: &'static str,
}

struct FromLine;
impl Described for FromLine {
    const OF: Description =
        Description::computed("% w/w", "percent of the line times the share in the raw material")
            .by("p_i * x_i / 100")
            .proved_by("exact arithmetic");
}

struct TargetNeat;
impl Described for TargetNeat {
    const OF: Description = Description::computed(
        "",
        "edges of the target carried to the product neat at 25 C: the same product stands at them; their middle stands for them",
    )
    .by("pH neat with the strong base that brings the product, as it is read, to an edge")
    .proved_by("tests/tests/wanted.rs");
}

struct Total;
impl Described for Total {
    const OF: Description = Description::computed("% w/w", "sum of all lines").proved_by("exact decimal");
}

/// Composition.
#[derive(Clone, Debug, Serialize)]
pub struct CompositionReading {
    /// Sum of the lines, % w/w.
    #[serde(serialize_with = "result::<Total, _, _>")]
    pub total: Decimal,
    /// Substances, largest first.
    pub substances: Vec<SubstanceReading>,
    /// Water from all sources.
    pub water: Outcome,
    /// Density of the bulk.
    pub density: Outcome,
    /// Mass of product in one pack, where a pack is given.
    pub fill_mass: Option<Outcome>,
    /// Share of the oil.
    pub oil_percent: Outcome,
}

/// One substance in the product.
#[derive(Clone, Debug, Serialize)]
pub struct SubstanceReading {
    /// Substance key.
    pub substance: String,
    /// Name.
    pub name: String,
    /// INCI name.
    pub inci: Option<String>,
    /// Percent w/w with its range.
    pub percent: Amount,
    /// Contributions `(line, percent)`.
    #[serde(serialize_with = "result::<FromLine, _, _>")]
    pub from: Vec<(usize, f64)>,
}

/// Acidity and what hangs on it.
#[derive(Clone, Debug, Serialize)]
pub struct PhReading {
    /// The pH itself: the same as `neat`, so that the reading as a whole is a result with its value and interval.
    #[serde(flatten)]
    pub product: Outcome,
    /// pH of the product as such, without carbon dioxide from the air.
    pub neat: Outcome,
    /// pH after standing open to the air, where that differs.
    pub in_air: Option<Outcome>,
    /// pH of 10 % product in water.
    pub ten_percent: Outcome,
    /// Buffer capacity, mmol per kg of product and pH unit.
    pub buffer_capacity: Outcome,
    /// Ionic strength, mol per kg of water.
    pub ionic_strength: Outcome,
    /// Water activity.
    pub water_activity: Outcome,
    /// Osmolality.
    pub osmolality: Outcome,
    /// Target window as typed, if one is set.
    pub target: Option<[f64; 2]>,
    /// How the target is read, in words, where that is not neat at 25 C.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub target_read: Option<String>,
    /// pH that is expected to be read so.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub at_target: Option<Outcome>,
    /// The target as a window of the product neat at 25 C, which everything else is told in; none where no acid or base leads there.
    #[serde(serialize_with = "result::<TargetNeat, _, _>")]
    pub target_neat: Option<[f64; 2]>,
}

/// One solved acid or base line.
#[derive(Clone, Debug, Serialize)]
pub struct AdjusterReading {
    /// Line.
    pub line: usize,
    /// Raw material name.
    pub name: String,
    /// pH aimed at.
    pub to_ph: f64,
    /// Percent w/w that reaches it.
    pub percent: Outcome,
    /// How much the batch warms when it goes in all at once.
    pub warms_by: Outcome,
}
