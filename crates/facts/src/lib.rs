//! Text to facts: reads the strict TOML of `data/` into the types of the engine, embeds it, and lays a laboratory's own
//! folder and the workspace over it. Opens no file at run time.

pub mod check;
mod equilibria;
mod fault;
mod flow;
mod flow_use;
mod handling;
mod instruments;
mod making;
mod mixing;
mod ph_bench;
mod preservatives;
mod records;
mod rules;
mod settings;
mod source;
mod text;

pub use fault::{FactsError, Fault};
pub use flow_use::FlowUse;
pub use instruments::Instruments;
pub use making::Making;
pub use mixing::Mixing;
pub use ph_bench::PhBench;
pub use records::Override;
pub use source::{Read, Source};
pub use text::{Place, Placed, Tables, place_of_field};

use levigate_assess::procedure::Handling;
use levigate_assess::weighability::WeighingPractice;
use levigate_formula::aqueous::chemistry::{Chemistry, EquilibriumFile};
use levigate_formula::library::{Layer, Library};
use levigate_formula::names::Names;
use levigate_formula::preservation::PreservationFacts;
use levigate_process::flow::datasheet::FlowFacts;
use levigate_rules::book::RuleBook;
use sha2::{Digest, Sha256};
use std::collections::BTreeMap;

include!(concat!(env!("OUT_DIR"), "/shipped.rs"));

/// All facts, of all layers.
#[derive(Clone, Debug, Default)]
pub struct Facts {
    /// Code of the content: [`SHIPPED_CODE`], and with texts laid over it a code of both.
    pub code: String,
    /// Substances, raw materials, preservatives.
    pub library: Library,
    /// Names of substances and raw materials, for finding them.
    pub names: Names,
    /// Components, reactions and what else the equilibrium of the water phase needs, checked.
    pub chemistry: Chemistry,
    /// The rows the chemistry is built from.
    pub equilibria: EquilibriumFile,
    /// Organisms, measurements and hurdles of preservation.
    pub preservation: PreservationFacts,
    /// Written rules by market, and pairs that do not go together.
    pub rules: RuleBook,
    /// Spindles of the viscometer and common full-scale torques.
    pub instruments: Instruments,
    /// Life of a product, words of a brief, usual sizes.
    pub flow_use: FlowUse,
    /// Vessels and impellers.
    pub mixing: Mixing,
    /// Organisms in heat and whatever else belongs to making.
    pub making: Making,
    /// Buffers, rules for a calibration, conventions of adjusting a pH.
    pub ph_bench: PhBench,
    /// Solvents and thickeners.
    pub flow: FlowFacts,
    /// How a batch is handled: rules, swelling, stirring, questions.
    pub handling: Handling,
    /// How lines are weighed, out of the settings.
    pub weighing: WeighingPractice,
    /// Atomic weights by symbol, for proving molar masses.
    pub elements: BTreeMap<String, f64>,
    /// Publications and marks that stand beside the values.
    pub sources: BTreeMap<String, Source>,
    /// Records of a later layer that replaced earlier ones.
    pub overrides: Vec<Override>,
    /// Source keys found beside values of all layers, with the first place of each.
    pub cited: BTreeMap<String, Place>,
    /// Where each record was read: by table and key.
    pub places: BTreeMap<(String, String), (Layer, Place)>,
}

/// Code of facts with texts laid over them, in their order; where the texts came from does not matter.
fn code_over<'t>(below: &str, texts: impl Iterator<Item = &'t str>) -> String {
    let mut content = Sha256::new();
    content.update(below.as_bytes());
    for text in texts {
        content.update([0]);
        content.update(text.as_bytes());
    }
    content.finalize().iter().take(6).map(|byte| format!("{byte:02x}")).collect()
}

/// These texts are settings read by the part of the program that they speak to, not records.
const SETTINGS: [&str; 4] =
    ["methods/balances.toml", "methods/batch_sheet.toml", "methods/models.toml", "methods/stability.toml"];

/// A shipped text by its path below `data/`.
#[must_use]
pub fn shipped_text(path: &str) -> Option<&'static str> {
    FILES.iter().find(|(name, _)| *name == path).map(|(_, text)| *text)
}

/// Facts as shipped in the binary.
///
/// # Errors
/// When a shipped text does not follow the schema, which the tests of this crate exclude.
pub fn shipped() -> Result<Facts, FactsError> {
    let mut facts = Facts::default();
    let (settings, records): (Vec<_>, Vec<_>) =
        FILES.iter().copied().partition(|(name, _)| SETTINGS.contains(name));
    facts.overlay(&records, Layer::Shipped)?;
    facts.code = SHIPPED_CODE.to_owned();
    facts.weighing = settings::weighing()?;
    for (key, place) in Tables::split(&settings).citations() {
        facts.cited.entry(key).or_insert(place);
    }
    Ok(facts)
}

impl Facts {
    /// Lays further texts (name and content) over the facts: records replace earlier ones of the same key and carry their
    /// layer. Returns what was replaced; on an error nothing is changed.
    ///
    /// # Errors
    /// Every fault in the texts, each with its place.
    pub fn overlay<N: AsRef<str>, T: AsRef<str>>(
        &mut self,
        texts: &[(N, T)],
        layer: Layer,
    ) -> Result<Vec<Override>, FactsError> {
        let texts: Vec<(&str, &str)> =
            texts.iter().map(|(name, text)| (name.as_ref(), text.as_ref())).collect();
        let replaced = self.lay(Tables::split(&texts), layer)?;
        self.code = code_over(&self.code, texts.iter().map(|(_, text)| *text));
        Ok(replaced)
    }

    /// Version of the program with the code of the facts, as kept beside what was computed with them.
    #[must_use]
    pub fn version(&self) -> String {
        format!("{}+{}", env!("CARGO_PKG_VERSION"), self.code)
    }

    /// Lays the records of some tables of a text over the facts; what else the text holds is somebody else's. So the places of
    /// faults are those of the whole text. The code of the facts stays: what the text says is known by the text's own code.
    ///
    /// # Errors
    /// Every fault in those tables, each with its place.
    pub fn overlay_part(
        &mut self,
        (name, text): (&str, &str),
        tables: &[&str],
        layer: Layer,
    ) -> Result<Vec<Override>, FactsError> {
        self.lay(Tables::split_part((name, text), tables), layer)
    }

    fn lay(&mut self, mut tables: Tables<'_>, layer: Layer) -> Result<Vec<Override>, FactsError> {
        let mut next = self.clone();
        for (key, place) in tables.citations() {
            next.cited.entry(key).or_insert(place);
        }
        // Records may change what a name means; user data are taken in after them and gather the names anew.
        next.names = Names::default();
        let replaced = next.take_in(&mut tables, layer);
        let faults = tables.finish();
        if !faults.is_empty() {
            return Err(FactsError { faults });
        }
        next.overrides.extend(replaced.iter().cloned());
        if next.names == Names::default() {
            next.names = Names::of(&next.library);
        }
        *self = next;
        Ok(replaced)
    }
}
