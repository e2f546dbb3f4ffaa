//! A challenge test held against the criteria of standards: what each cell says, which one decides, what cannot be decided.
//!
//! ```text
//! R = log10 N0 - log10 N        N0 calculated initial count, N count of a day
//! ```
//!
//! A count that was not found stands at its detection floor, so that its reduction is one *at least*: enough where it reaches what is asked,
//! undecided where it does not. "No increase" allows for half a decade between two counts; reductions allow for nothing. Some readings
//! allow it for both: what that would change is told beside, and never taken. The rows are data (`data/rules/challenge.toml`).
//!
//! The verdict is "meets the criterion by these data": never that a product is preserved. Proved by `tests/published/challenge.toml`.

use crate::book::Status;
use levigate_measure::elementary::Elementary as _;
use levigate_measure::{Grade, Note, Outcome};
use serde::{Deserialize, Serialize};

/// Allowance of "no increase" between two counts, decades.
pub const ALLOWANCE: f64 = 0.5;
/// The case file.
const PROOF: &str = "tests/published/challenge.toml";

/// Kinds of organisms that criteria tell apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Kind {
    /// Bacteria.
    Bacteria,
    /// Yeasts.
    Yeast,
    /// Moulds.
    Mould,
}

/// What a criterion asks of a kind on a day.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Asked {
    /// Kind of organism.
    pub kind: Kind,
    /// Day.
    pub day: u16,
    /// Least reduction, decades.
    pub least_log: Option<f64>,
    /// No increase against this day; 0 is the calculated initial count.
    pub no_increase_from: Option<u16>,
}

/// A criterion of a standard.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Criterion {
    /// Key.
    pub key: String,
    /// The standard.
    pub standard: String,
    /// The criterion in words.
    pub words: String,
    /// What it asks.
    pub asked: Vec<Asked>,
    /// Least and most of the initial count of bacteria, CFU per g or mL.
    pub bacteria_inoculum: [f64; 2],
    /// The same of yeast and mould.
    pub fungi_inoculum: [f64; 2],
    /// Source key.
    pub source: String,
    /// How well the rows were read.
    pub status: Status,
}

/// What stops a preservative before counting: a hint for the order, never a proof.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct NeutraliserHint {
    /// Key.
    pub key: String,
    /// The neutraliser in words.
    pub words: String,
    /// Substances it is for, by key.
    pub substances: Vec<String>,
    /// Source key.
    pub source: String,
}

/// A count of a day.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Count {
    /// Found, CFU per g or mL.
    Found(f64),
    /// Not found above this floor.
    Below(f64),
}

impl Count {
    /// Mean of replicates. Where only some were found, the others stand at their floor: the mean is one at most.
    #[must_use]
    pub fn mean(counts: &[Self]) -> Option<Self> {
        let value = |count: &Self| match count {
            Self::Found(value) | Self::Below(value) => *value,
        };
        #[expect(clippy::cast_precision_loss, reason = "a handful of plates")]
        let mean = counts.iter().map(value).sum::<f64>() / counts.len() as f64;
        let all_below = counts.iter().all(|count| matches!(count, Self::Below(_)));
        (!counts.is_empty()).then_some(if all_below { Self::Below(mean) } else { Self::Found(mean) })
    }

    fn log(self) -> f64 {
        match self {
            Self::Found(value) | Self::Below(value) => value.log_10(),
        }
    }

    fn is_below(self) -> bool {
        matches!(self, Self::Below(_))
    }
}

/// One organism of a test.
#[derive(Clone, Debug, PartialEq)]
pub struct Series {
    /// Name.
    pub organism: String,
    /// Kind.
    pub kind: Kind,
    /// Calculated initial count, CFU per g or mL.
    pub initial: f64,
    /// Counts by day.
    pub counts: Vec<(u16, Count)>,
}

impl Series {
    fn on(&self, day: u16) -> Option<Count> {
        if day == 0 {
            return Some(Count::Found(self.initial));
        }
        self.counts.iter().find(|(of, _)| *of == day).map(|(_, count)| *count)
    }
}

/// Whether the neutraliser was shown to work.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Neutraliser {
    /// Recovered with product and neutraliser, % of the control.
    pub recovered_percent: f64,
    /// Recovered with the neutraliser alone, % of the control.
    pub alone_percent: f64,
    /// Least of either that counts as working, %.
    pub least_percent: f64,
}

impl Neutraliser {
    fn works(self) -> bool {
        self.recovered_percent >= self.least_percent && self.alone_percent >= self.least_percent
    }
}

/// What one cell says.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Says {
    /// Asked and met.
    Met,
    /// Nothing was counted on that day.
    NotCounted,
    /// The detection floor does not reach far enough.
    Undecided,
    /// Counts below their floor carry the verdict, and nothing shows that the preservative was neutralised before counting.
    NotShown,
    /// Asked and not met.
    NotMet,
    /// The neutraliser failed: no count is valid.
    NotValid,
}

/// One cell: an organism on a day.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Cell {
    /// Organism.
    pub organism: String,
    /// Day.
    pub day: u16,
    /// What is asked, in words.
    pub asked: String,
    /// What was found: the reduction, or the change since the other day.
    pub found: Outcome,
    /// What it says.
    pub says: Says,
    /// What it would say by the reading that allows half a decade for everything, where that differs.
    pub by_the_other_reading: Option<Says>,
}

/// A criterion, judged.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Judged {
    /// Key.
    pub key: String,
    /// The standard.
    pub standard: String,
    /// The criterion.
    pub words: String,
    /// The gravest of its cells.
    pub says: Says,
    /// Verdict in words.
    pub verdict: String,
    /// Cells, in the order asked.
    pub cells: Vec<Cell>,
    /// The cells that decide.
    pub decided_by: Vec<String>,
    /// What must be known.
    pub notes: Vec<Note>,
}

/// Judges a test by a criterion.
#[must_use]
pub fn judge(criterion: &Criterion, series: &[Series], neutraliser: Option<Neutraliser>) -> Judged {
    let mut cells = Vec::new();
    for asked in &criterion.asked {
        for one in series.iter().filter(|one| one.kind == asked.kind) {
            cells.extend(asked.least_log.map(|least| reduction(criterion, one, asked.day, least)));
            cells.extend(asked.no_increase_from.map(|from| increase(criterion, one, asked.day, from)));
        }
    }
    let mut notes = validity(criterion, series, neutraliser);
    let mut says = cells.iter().map(|cell| cell.says).max().unwrap_or(Says::NotCounted);
    for (kind, words) in [(Kind::Bacteria, "bacteria"), (Kind::Yeast, "yeast"), (Kind::Mould, "mould")] {
        let wanted = criterion.asked.iter().any(|asked| asked.kind == kind);
        if wanted && !series.iter().any(|one| one.kind == kind) {
            says = says.max(Says::NotCounted);
            notes.push(Note::new(
                "kind-missing",
                format!("no {words} among the organisms: what is asked of them is open"),
            ));
        }
    }
    let decided_by: Vec<String> = cells
        .iter()
        .filter(|cell| cell.says == says && says != Says::Met)
        .map(|cell| format!("{}, day {}: {}", cell.organism, cell.day, cell.asked))
        .collect();
    let rests_on_floors = series.iter().any(|one| one.counts.iter().any(|(_, count)| count.is_below()));
    match neutraliser {
        Some(shown) if !shown.works() => says = Says::NotValid,
        None if says == Says::Met && rests_on_floors => says = Says::NotShown,
        _ => {}
    }
    let verdict = match says {
        Says::NotValid => "not valid: the neutraliser failed, and no count says anything".to_owned(),
        Says::NotShown => format!(
            "{} of {} is open: counts below their floor carry it, and nothing shows that the preservative was neutralised",
            criterion.words, criterion.standard
        ),
        Says::Met => format!("meets {} of {} by these data", criterion.words, criterion.standard),
        Says::NotMet => format!("does not meet {} of {}", criterion.words, criterion.standard),
        Says::NotCounted => {
            format!("{} of {} is open: not all that it asks was counted", criterion.words, criterion.standard)
        }
        Says::Undecided => format!(
            "{} of {} cannot be decided: a count below its floor does not reach as far as is asked",
            criterion.words, criterion.standard
        ),
    };
    if criterion.status == Status::FromMemory {
        notes.push(Note::new(
            "from-memory",
            "The rows of this criterion are recalled, not read: check them in the standard before use.",
        ));
    }
    Judged {
        key: criterion.key.clone(),
        standard: criterion.standard.clone(),
        words: criterion.words.clone(),
        says,
        verdict,
        cells,
        decided_by,
        notes,
    }
}

fn outcome(criterion: &Criterion, value: f64, method: &'static str) -> Outcome {
    Outcome::new(value, "log10", Grade::Measured, method)
        .by("R = log10 N0 - log10 N")
        .proved_by(PROOF)
        .source(criterion.source.clone())
}

fn reduction(criterion: &Criterion, one: &Series, day: u16, least: f64) -> Cell {
    let asked = format!("a reduction of {least} at least");
    let method = "reduction since the calculated initial count";
    let Some(count) = one.on(day) else {
        let found = Outcome::refuse("log10", method, format!("nothing was counted on day {day}"));
        return Cell {
            organism: one.organism.clone(),
            day,
            asked,
            found,
            says: Says::NotCounted,
            by_the_other_reading: None,
        };
    };
    let found = one.initial.log_10() - count.log();
    // Counts are whole colonies: a reduction that misses by the rounding of a logarithm does not miss.
    let judged = |least: f64| {
        if found >= least - 1e-9 {
            Says::Met
        } else if count.is_below() {
            Says::Undecided
        } else {
            Says::NotMet
        }
    };
    let (says, other) = (judged(least), judged(least - ALLOWANCE));
    let mut told =
        outcome(criterion, found, method).input("calculated initial count", one.initial, "CFU", None);
    if count.is_below() {
        told.low = Some(found);
        told = told.note("at-least", "nothing was found above the floor: so much at least");
    }
    Cell {
        organism: one.organism.clone(),
        day,
        asked,
        found: told,
        says,
        by_the_other_reading: Some(other).filter(|other| *other != says),
    }
}

fn increase(criterion: &Criterion, one: &Series, day: u16, from: u16) -> Cell {
    let asked = match from {
        0 => "no increase since the start".to_owned(),
        _ => format!("no increase since day {from}"),
    };
    let method = "change between two counts";
    let (Some(later), Some(earlier)) = (one.on(day), one.on(from)) else {
        let missing = if one.on(day).is_none() { day } else { from };
        let found = Outcome::refuse("log10", method, format!("nothing was counted on day {missing}"));
        return Cell {
            organism: one.organism.clone(),
            day,
            asked,
            found,
            says: Says::NotCounted,
            by_the_other_reading: None,
        };
    };
    let change = later.log() - earlier.log();
    let judged = |allowed: f64| {
        if change <= allowed + 1e-9 || (later.is_below() && earlier.is_below()) {
            Says::Met
        } else if later.is_below() {
            Says::Undecided
        } else {
            Says::NotMet
        }
    };
    let (says, strict) = (judged(ALLOWANCE), judged(0.0));
    let mut told = outcome(criterion, change, method).by("log10 N - log10 N(earlier day)");
    match (earlier.is_below(), later.is_below()) {
        (true, true) => told = told.note("both-below", "both counts lie below their floors"),
        (true, false) => {
            told.low = Some(change);
            told = told.note("at-least", "the earlier count lies below its floor: so much at least");
        }
        (false, true) => {
            told.high = Some(change);
            told = told.note("at-most", "the later count lies below its floor: so much at most");
        }
        (false, false) => {}
    }
    Cell {
        organism: one.organism.clone(),
        day,
        asked,
        found: told,
        says,
        by_the_other_reading: Some(strict).filter(|strict| *strict != says),
    }
}

/// What makes a test doubtful before any cell is looked at.
fn validity(criterion: &Criterion, series: &[Series], neutraliser: Option<Neutraliser>) -> Vec<Note> {
    let mut notes = Vec::new();
    for one in series {
        let [least, most] =
            if one.kind == Kind::Bacteria { criterion.bacteria_inoculum } else { criterion.fungi_inoculum };
        if !(least..=most).contains(&one.initial) {
            let text = format!(
                "{}: {:e} at the start lies outside {least:e} to {most:e} of {}",
                one.organism, one.initial, criterion.standard
            );
            notes.push(Note::new("inoculum", text));
        }
    }
    match neutraliser {
        None => notes.push(Note::new(
            "neutraliser-not-shown",
            "Nothing shows that the preservative was neutralised before counting: counts below the floor may be carry-over.",
        )),
        Some(shown) => {
            for (percent, words) in [
                (shown.recovered_percent, "with product and neutraliser"),
                (shown.alone_percent, "with the neutraliser alone"),
            ] {
                if percent < shown.least_percent {
                    let text = format!(
                        "Recovery {words} is {percent} % of the control, below {} %: the counts are not valid, whatever they say.",
                        shown.least_percent
                    );
                    notes.push(Note::new("neutraliser-fails", text));
                }
            }
        }
    }
    for one in series {
        let rising = one
            .counts
            .windows(2)
            .find(|pair| pair[1].1.log() > pair[0].1.log() + ALLOWANCE && !pair[1].1.is_below());
        if let Some(pair) = rising {
            notes.push(Note::new(
                "rises",
                format!(
                    "{} rises between day {} and day {}: something grows, or a count is wrong",
                    one.organism, pair[0].0, pair[1].0
                ),
            ));
        }
    }
    notes
}
