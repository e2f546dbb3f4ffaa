//! An entry of a batch as it is shown, and in words.

use crate::records::{BatchEntry, BufferRead, Did, Id, Kept};
use crate::workbench::keeping::{Struck, corrects, struck};
use jiff::Timestamp;
use serde::Serialize;

/// An entry as it is shown.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct EntryState {
    /// Identity.
    pub id: Id<BatchEntry>,
    /// Number on the batch.
    pub number: u32,
    /// Who.
    pub who: String,
    /// How that is known, in words.
    pub known_by: &'static str,
    /// When it was kept.
    pub when: Timestamp,
    /// Number of the entry it corrects, and why.
    pub corrects: Option<(u32, String)>,
    /// What struck it out.
    pub struck: Option<Struck>,
    /// What was kept.
    #[serde(flatten)]
    pub entry: BatchEntry,
}

impl EntryState {
    /// What was done, in words, with the instrument, the remark and the paper it came from.
    #[must_use]
    pub fn words(&self) -> String {
        let more = [&self.entry.instrument, &self.entry.note].map(String::as_str);
        let more = more.into_iter().filter(|text| !text.is_empty()).map(str::to_owned);
        std::iter::once(self.done()).chain(more).chain(self.from_paper()).collect::<Vec<_>>().join(", ")
    }

    /// What was done, in words, from the fields it was kept with, whatever kind it is of.
    #[must_use]
    pub fn done(&self) -> String {
        let fields = serde_json::to_value(&self.entry.did).unwrap_or_default();
        let mut words = vec![self.entry.did.word().to_owned()];
        let elsewhere = ["did", "mass", "material", "lot", "media", "taken_out", "buffers", "points"];
        let told = |name: &str| !elsewhere.contains(&name);
        for (name, value) in fields.as_object().into_iter().flatten().filter(|(name, _)| told(name)) {
            let text = match value {
                serde_json::Value::String(text) => text.clone(),
                other => other["typed"].as_str().map_or_else(|| other.to_string(), str::to_owned),
            };
            if !text.is_empty() {
                words.push(format!("{} {}", name.replace('_', " "), text.replace('_', " ")));
            }
        }
        if let Did::Calibrated { buffers, .. } = &self.entry.did {
            let read = |one: &BufferRead| {
                let name = one.ph.as_ref().map_or(one.buffer.as_str(), |ph| ph.typed.as_str());
                format!("{name}: {} mV", one.millivolt.typed)
            };
            words.extend(buffers.iter().map(read));
        }
        if let Some(lot) = self.entry.did.lot() {
            words.push(format!("lot {}", lot.code));
        }
        if let Some(mass) = self.entry.did.mass() {
            for (name, number) in [("tare", &mass.tare), ("gross", &mass.gross), ("net", &mass.net)] {
                words.extend(number.as_ref().map(|number| format!("{name} {} {}", number.typed, mass.unit)));
            }
        }
        words.join(", ")
    }

    /// That it was typed back from paper, with the initials and whether a time stands there; none for what was typed at the beaker.
    #[must_use]
    pub fn from_paper(&self) -> Option<String> {
        let paper = self.entry.paper.as_ref().filter(|_| !self.entry.withdrawn)?;
        let mut words = "typed back from paper".to_owned();
        if !paper.initials.is_empty() {
            words.push_str(&format!(", initials {}", paper.initials));
        }
        if !paper.timed {
            words.push_str(", no time on the sheet");
        }
        Some(words)
    }
}

/// All entries of a batch, struck ones among them.
pub(super) fn entries(all: &[Kept<BatchEntry>]) -> Vec<EntryState> {
    let strikes = struck(all);
    let one = |entry: &Kept<BatchEntry>| EntryState {
        id: entry.id,
        number: entry.number,
        who: entry.who.clone(),
        known_by: entry.how.words(),
        when: entry.when,
        corrects: corrects(all, entry)
            .zip(entry.corrects.as_ref().map(|correction| correction.reason.clone())),
        struck: strikes.get(&entry.id).cloned(),
        entry: entry.what.clone(),
    };
    all.iter().map(one).collect()
}
