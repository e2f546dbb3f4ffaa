//! Text to facts: reads the strict TOML of `data/` into the types of the engine, embeds it, and lays a laboratory's own
//! folder and the workspace over it. Opens no file at run time.

mod equilibria;
mod fault;
mod records;
mod source;
mod text;

pub use fault::{FactsError, Fault};
pub use records::Override;
pub use source::{Read, Source};
pub use text::{Place, Placed, Tables};

use levigate_formula::aqueous::chemistry::{Chemistry, EquilibriumFile};
use levigate_formula::library::{Layer, Library};
use std::collections::BTreeMap;

include!(concat!(env!("OUT_DIR"), "/shipped.rs"));

/// All facts, of all layers.
#[derive(Clone, Debug, Default)]
pub struct Facts {
    /// Substances, raw materials, preservatives.
    pub library: Library,
    /// Components, reactions and what else the equilibrium of the water phase needs, checked.
    pub chemistry: Chemistry,
    /// The rows the chemistry is built from.
    pub equilibria: EquilibriumFile,
    /// Publications and marks that stand beside the values.
    pub sources: BTreeMap<String, Source>,
    /// Records of a later layer that replaced earlier ones.
    pub overrides: Vec<Override>,
    /// Where each record was read: by table and key.
    pub places: BTreeMap<(String, String), (Layer, Place)>,
}

/// Facts as shipped in the binary.
///
/// # Errors
/// When a shipped text does not follow the schema, which the tests of this crate exclude.
pub fn shipped() -> Result<Facts, FactsError> {
    let mut facts = Facts::default();
    facts.overlay(FILES, Layer::Shipped)?;
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
        let mut tables = Tables::split(&texts);
        let mut next = self.clone();
        let replaced = next.take_in(&mut tables, layer);
        let faults = tables.finish();
        if !faults.is_empty() {
            return Err(FactsError { faults });
        }
        next.overrides.extend(replaced.iter().cloned());
        *self = next;
        Ok(replaced)
    }
}
