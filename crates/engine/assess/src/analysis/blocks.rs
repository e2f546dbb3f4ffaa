//! Blocks of runs: days, batches of a raw material, hands. What they differ by is taken out of the terms of the blend.

use super::Asked;
use std::collections::BTreeSet;

/// The blocks of the runs that were measured: as many columns as there are blocks but one, each a block against the last, so that the
/// middle of all blocks has nothing in any of them.
pub(super) struct Blocks {
    known: Vec<u32>,
    /// Columns of every run.
    pub(super) rows: Vec<Vec<f64>>,
    /// Block of every run.
    pub(super) of_run: Vec<u32>,
}

impl Blocks {
    /// Of the runs at these places.
    pub(super) fn of(asked: &Asked, places: &[usize]) -> Self {
        let of_run: Vec<u32> =
            places.iter().map(|place| asked.blocks.get(*place).copied().unwrap_or_default()).collect();
        let known: Vec<u32> = of_run.iter().copied().collect::<BTreeSet<_>>().into_iter().collect();
        let (last, others) = known.split_last().map_or((0, &[][..]), |(last, others)| (*last, others));
        let column = |block: u32, own: u32| match block {
            _ if block == own => 1.0,
            _ if block == last => -1.0,
            _ => 0.0,
        };
        let rows =
            of_run.iter().map(|block| others.iter().map(|own| column(*block, *own)).collect()).collect();
        Self { known, rows, of_run }
    }

    /// How many columns there are.
    pub(super) fn count(&self) -> usize {
        self.known.len().saturating_sub(1)
    }

    /// Names of the columns.
    pub(super) fn names(&self) -> impl Iterator<Item = String> {
        self.known
            .iter()
            .take(self.count())
            .map(|block| format!("block {block} against the middle of the blocks"))
    }

    /// How far the furthest block lies from the middle; nothing where there is one.
    pub(super) fn furthest(&self, effects: &[f64]) -> Option<f64> {
        let last = -effects.iter().sum::<f64>();
        effects.iter().copied().chain((self.count() > 0).then_some(last)).map(f64::abs).reduce(f64::max)
    }
}
