//! pH windows laid over each other: what the product, its preservatives, chelants, thickeners and actives have in common.
//!
//! The shared window is `[max of the lower ends, min of the upper ends]`. Where it is empty, every line is left out in turn: a line
//! whose removal opens a window is one to change.

use levigate_measure::written::{Described, Description, result};
use serde::Serialize;

use crate::composition::Composition;
use crate::library::Library;

/// What a window is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum WindowKind {
    /// The product's target.
    Target,
    /// The raw material does its work there.
    Works,
    /// The raw material survives there.
    Survives,
    /// The preservative is used there.
    Preserves,
}

/// One pH window.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Window {
    /// Line; absent for the target.
    pub line: Option<usize>,
    /// Raw material or substance.
    pub name: String,
    /// What it is about.
    pub kind: WindowKind,
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
    /// Source key, absent for the target.
    pub source: Option<String>,
}

struct Shared;
impl Described for Shared {
    const OF: Description =
        Description::computed("", "what all windows have in common; its middle stands for it")
            .by("[max of the lower ends, min of the upper ends]")
            .proved_by("exact arithmetic");
}

struct SharedEdge;
impl Described for SharedEdge {
    const OF: Description = Description::computed("", "edge of what the other windows have in common")
        .proved_by("exact arithmetic");
}

/// A line whose change opens a window.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Removal {
    /// Lines to change together; empty when it is the target that must move.
    pub lines: Vec<usize>,
    /// Names of what must change.
    pub names: Vec<String>,
    /// Lower end of the window that opens.
    #[serde(serialize_with = "result::<SharedEdge, _, _>")]
    pub low: f64,
    /// Upper end.
    #[serde(serialize_with = "result::<SharedEdge, _, _>")]
    pub high: f64,
}

/// All windows and what they share.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Overlap {
    /// The windows: target first, then by line.
    pub windows: Vec<Window>,
    /// What they share, absent when nothing.
    #[serde(serialize_with = "result::<Shared, _, _>")]
    pub shared: Option<[f64; 2]>,
    /// What the lines share when the target is left aside.
    #[serde(serialize_with = "result::<Shared, _, _>")]
    pub shared_by_lines: Option<[f64; 2]>,
    /// Smallest sets of lines (or the target) whose change opens a window; empty when there is one.
    pub removals: Vec<Removal>,
}

/// Lays the windows over each other.
#[must_use]
pub fn overlap(composition: &Composition, library: &Library, target: Option<(f64, f64)>) -> Overlap {
    let mut windows = Vec::new();
    if let Some((low, high)) = target {
        windows.push(Window {
            line: None,
            name: "target".to_owned(),
            kind: WindowKind::Target,
            low: low.min(high),
            high: low.max(high),
            source: None,
        });
    }
    for line in composition.lines.iter().filter(|line| line.percent > 0.0) {
        let Some(material) = library.materials.get(&line.material) else { continue };
        for (kind, range) in
            [(WindowKind::Works, &material.ph_works), (WindowKind::Survives, &material.ph_survives)]
        {
            if let Some(range) = range {
                windows.push(Window {
                    line: Some(line.line),
                    name: material.name.clone(),
                    kind,
                    low: range.low,
                    high: range.high,
                    source: Some(range.source.clone()),
                });
            }
        }
        for part in line.constituents.iter().filter(|part| part.typical > 0.0) {
            if let Some(range) =
                library.preservatives.get(&part.substance).and_then(|record| record.ph_window.as_ref())
            {
                // The raw material and the preservative in it often carry the same window; once is enough.
                let told = windows.iter().any(|window| {
                    window.line == Some(line.line) && (window.low, window.high) == (range.low, range.high)
                });
                if told {
                    continue;
                }
                let name = library
                    .substances
                    .get(&part.substance)
                    .map_or_else(|| part.substance.clone(), |substance| substance.name.clone());
                windows.push(Window {
                    line: Some(line.line),
                    name,
                    kind: WindowKind::Preserves,
                    low: range.low,
                    high: range.high,
                    source: Some(range.source.clone()),
                });
            }
        }
    }
    let shared = intersect(windows.iter());
    let shared_by_lines = intersect(windows.iter().filter(|window| window.line.is_some()));
    let removals = if shared.is_none() && !windows.is_empty() { removals(&windows) } else { Vec::new() };
    Overlap { windows, shared, shared_by_lines, removals }
}

/// A window narrower than this cannot be held by a batch and a pH meter, pH units (common practice, no source).
const LEAST_WIDTH: f64 = 0.1;

/// What windows share. Nothing at all shares nothing.
fn intersect<'a>(windows: impl Iterator<Item = &'a Window>) -> Option<[f64; 2]> {
    let mut ends: Option<[f64; 2]> = None;
    for window in windows {
        ends = Some(match ends {
            None => [window.low, window.high],
            Some([low, high]) => [low.max(window.low), high.min(window.high)],
        });
    }
    ends.filter(|[low, high]| high - low >= LEAST_WIDTH * (1.0 - 1e-9))
}

/// Single owners (a line, or the target) whose removal opens a window; if there are none, pairs of them.
fn removals(windows: &[Window]) -> Vec<Removal> {
    let mut owners: Vec<Option<usize>> = windows.iter().map(|window| window.line).collect();
    owners.sort_unstable();
    owners.dedup();
    let singles: Vec<Removal> = owners.iter().filter_map(|owner| without(windows, &[*owner])).collect();
    if !singles.is_empty() {
        return singles;
    }
    let mut pairs = Vec::new();
    for (at, first) in owners.iter().enumerate() {
        for second in owners.iter().skip(at + 1) {
            pairs.extend(without(windows, &[*first, *second]));
        }
    }
    pairs
}

fn without(windows: &[Window], owners: &[Option<usize>]) -> Option<Removal> {
    let [low, high] = intersect(windows.iter().filter(|window| !owners.contains(&window.line)))?;
    let mut names: Vec<String> = windows
        .iter()
        .filter(|window| owners.contains(&window.line))
        .map(|window| window.name.clone())
        .collect();
    names.dedup();
    Some(Removal { lines: owners.iter().copied().flatten().collect(), names, low, high })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn window(line: usize, low: f64, high: f64) -> Window {
        Window {
            line: Some(line),
            name: format!("line {line}"),
            kind: WindowKind::Works,
            low,
            high,
            source: None,
        }
    }

    #[test]
    fn the_one_line_that_closes_the_window_is_named() {
        let windows = [window(0, 3.0, 5.0), window(1, 4.0, 6.0), window(2, 6.5, 9.0)];
        assert_eq!(intersect(windows.iter()), None);
        let removals = removals(&windows);
        assert_eq!(removals.len(), 1);
        assert_eq!(removals[0].lines, [2]);
        assert_eq!([removals[0].low, removals[0].high], [4.0, 5.0]);
    }

    #[test]
    fn pairs_are_named_where_no_single_line_helps() {
        let windows = [window(0, 1.0, 2.0), window(1, 3.0, 4.0), window(2, 5.0, 6.0)];
        let removals = removals(&windows);
        assert_eq!(removals.len(), 3);
        assert!(removals.iter().all(|removal| removal.lines.len() == 2));
    }
}
