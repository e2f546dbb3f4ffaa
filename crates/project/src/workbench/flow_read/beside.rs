//! Entries side by side: what keeps their viscosities from being compared.

use super::{BY_GEOMETRY, EntryReading, Statement};
use levigate_measure::Outcome;
use levigate_measure::elementary::Elementary as _;
use levigate_process::flow::stated::{ReadWith, Unlike};
use serde::Serialize;

/// Two viscosities of two entries side by side.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Compared {
    /// Names of the entries with their places in the file.
    pub entries: [String; 2],
    /// Their statements.
    pub statements: [String; 2],
    /// First over second, as shown.
    pub ratio: Outcome,
    /// Conditions that differ or are not known.
    pub unlike: Vec<Unlike>,
}

/// Every two entries by their statements nearest in speed or shear rate.
pub(super) fn compared(entries: &[EntryReading]) -> Vec<Compared> {
    let mut all = Vec::new();
    for (at, first) in entries.iter().enumerate() {
        for second in &entries[at + 1..] {
            all.extend(nearest(first, second).map(|pair| beside([first, second], pair)));
        }
    }
    all
}

fn nearest<'e>(first: &'e EntryReading, second: &'e EntryReading) -> Option<[&'e Statement; 2]> {
    let pairs = first.statements.iter().flat_map(|a| second.statements.iter().map(move |b| [a, b]));
    pairs.min_by(|a, b| apart(a).total_cmp(&apart(b)))
}

/// How far apart in speed or shear rate; what has neither is not nearer or further.
fn apart([first, second]: &[&Statement; 2]) -> f64 {
    let (a, b) = (&first.stated, &second.stated);
    let pair = match (&a.read_with, &b.read_with) {
        (Some(ReadWith::ShearRate { shear_rate: a }), Some(ReadWith::ShearRate { shear_rate: b })) => {
            Some((*a, *b))
        }
        _ => a.rpm.zip(b.rpm),
    };
    pair.map_or(0.0, |(a, b)| (a.log_e() - b.log_e()).abs())
}

/// Name and place: readings of one sample have one name.
fn told(entry: &EntryReading) -> String {
    if entry.name.is_empty() { entry.entry.clone() } else { format!("{} ({})", entry.name, entry.entry) }
}

fn beside(entries: [&EntryReading; 2], [first, second]: [&Statement; 2]) -> Compared {
    let of = first.stated.beside(&second.stated);
    let mut ratio =
        Outcome::new(of.ratio, "", BY_GEOMETRY, "first over second, as shown").proved_by("exact arithmetic");
    let ends = |statement: &Statement| statement.viscosity.low.zip(statement.viscosity.high);
    if let (Some(first_ends), Some(second_ends)) = (ends(first), ends(second)) {
        let coverage = first.viscosity.coverage.and(second.viscosity.coverage);
        ratio = ratio.within(first_ends.0 / second_ends.1, first_ends.1 / second_ends.0, coverage);
    }
    if let Some(warning) = of.warning {
        ratio = ratio.note("not-the-same-conditions", warning);
    }
    Compared {
        entries: entries.map(told),
        statements: [first, second].map(|statement| statement.words.clone()),
        ratio,
        unlike: of.unlike,
    }
}
