//! What `levigate data check` looks for beyond the schema: sources known and used, CAS check digits, ranges, sums, charges,
//! masses that follow from formulas, names that mean one thing, and records that refer to what exists.

mod cas;
mod equilibria;
mod flow;
mod flow_use;
mod handling;
mod instruments;
mod making;
mod materials;
mod mixing;
mod ph_bench;
mod preservatives;
mod rules;
mod sources;
mod substances;

pub use cas::check_digit;

use levigate_formula::names::folded;
use levigate_measure::Sourced;
use std::collections::BTreeMap;
use std::fmt;

use crate::Facts;
use crate::text::Place;

/// One flaw of one record.
#[derive(Clone, Debug, PartialEq)]
pub struct Finding {
    /// Where the record stands.
    pub place: Option<Place>,
    /// Table (`substance`, `material`, ...).
    pub table: &'static str,
    /// Key of the record.
    pub key: String,
    /// Field.
    pub field: String,
    /// What is wrong with it.
    pub flaw: Flaw,
}

/// What can be wrong with a record that follows the schema.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum Flaw {
    /// A source key that no `[[source]]` defines.
    #[error("source `{source_key}` is not defined")]
    UnknownSource {
        /// Key as written.
        source_key: String,
    },
    /// A source that stands beside no value.
    #[error("no value cites this source")]
    UnusedSource,
    /// A CAS number that is not one.
    #[error("`{number}` is not a CAS number")]
    CasForm {
        /// As written.
        number: String,
    },
    /// A CAS number whose check digit is wrong.
    #[error("CAS number {number} ends in {found}, its check digit is {expected}")]
    CasCheckDigit {
        /// As written.
        number: String,
        /// Last digit as written.
        found: u32,
        /// Digit that belongs there.
        expected: u32,
    },
    /// A CAS number that two substances claim.
    #[error("CAS number {number} is also given to {other}")]
    CasShared {
        /// Number.
        number: String,
        /// Key of the other substance.
        other: String,
    },
    /// A name that means two records.
    #[error("`{name}` also means {other}")]
    NameShared {
        /// Name.
        name: String,
        /// Key of the other record.
        other: String,
    },
    /// A key that is not kebab-case.
    #[error("a key is written in small letters, digits and hyphens")]
    KeyForm,
    /// An INCI name in capitals.
    #[error("`{inci}` is written in capitals")]
    Capitals {
        /// As written.
        inci: String,
    },
    /// A lower end above an upper end.
    #[error("{low} stands above {high}")]
    Order {
        /// What should be smaller.
        low: f64,
        /// What should be larger.
        high: f64,
    },
    /// A number outside what can be meant.
    #[error("{value} {unit} lies outside {low} to {high}")]
    Range {
        /// As written.
        value: f64,
        /// Least that can be meant.
        low: f64,
        /// Most that can be meant.
        high: f64,
        /// Unit.
        unit: &'static str,
    },
    /// A word that is not one of the words of the field.
    #[error("`{word}` is none of {}", known.join(", "))]
    Word {
        /// As written.
        word: String,
        /// The words there are.
        known: &'static [&'static str],
    },
    /// Typical shares that do not make one hundred.
    #[error("typical shares sum to {sum} %")]
    TypicalSum {
        /// Sum.
        sum: f64,
    },
    /// Nothing in a list that needs something.
    #[error("the list is empty")]
    Empty,
    /// The same entry twice.
    #[error("`{entry}` stands twice")]
    Twice {
        /// Entry.
        entry: String,
    },
    /// A component that the equilibrium model does not have.
    #[error("`{component}` is not a component of the equilibrium model")]
    UnknownComponent {
        /// Name.
        component: String,
    },
    /// A species that no reaction forms.
    #[error("no reaction forms the species `{species}`")]
    UnknownSpecies {
        /// Name.
        species: String,
    },
    /// A neutral substance that would give charge.
    #[error("what it gives carries charge {charge}")]
    Charge {
        /// Sum of charges.
        charge: f64,
    },
    /// A raw material that is not there.
    #[error("raw material `{material}` is not defined")]
    UnknownMaterial {
        /// Key as written.
        material: String,
    },
    /// A substance that no record defines.
    #[error("substance `{substance}` is not defined")]
    UnknownSubstance {
        /// Key.
        substance: String,
    },
    /// A role that needs the substance among the constituents.
    #[error("`{substance}` is not among the constituents")]
    NotAConstituent {
        /// Key.
        substance: String,
    },
    /// A formula that cannot be read.
    #[error("the formula `{formula}` cannot be read")]
    Formula {
        /// As written.
        formula: String,
    },
    /// A molar mass that does not follow from the formula.
    #[error("{given} g/mol is given, the formula makes {computed:.3} g/mol")]
    MolarMass {
        /// As written.
        given: f64,
        /// From the formula.
        computed: f64,
    },
    /// A date that is not one.
    #[error("`{date}` is not a date of the form 2026-01-31")]
    Date {
        /// As written.
        date: String,
    },
    /// A vessel that cannot be.
    #[error("{error}")]
    Vessel {
        /// Why.
        error: levigate_process::vessel::VesselError,
    },
    /// A constant without a stated uncertainty.
    #[error("no uncertainty is stated")]
    NoUncertainty,
}

impl Flaw {
    /// What to do about it.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            Self::UnknownSource { .. } => {
                "add a [[source]] with this key, or use from-memory or common-practice"
            }
            Self::UnusedSource => "remove the source, or cite it beside the value that comes from it",
            Self::CasForm { .. } | Self::CasCheckDigit { .. } => {
                "look the number up again; leave it out when in doubt"
            }
            Self::CasShared { .. } => {
                "a number belongs to one substance: correct one, or merge the two records"
            }
            Self::NameShared { .. } => {
                "give one of them another name, so that what a person types means one thing"
            }
            Self::KeyForm => "rename the key, and every reference to it",
            Self::Capitals { .. } => "write it as on a label in mixed case (`Sodium Hydroxide`)",
            Self::Order { .. } => "exchange the two, or correct one",
            Self::Range { .. } => "check the value and its unit",
            Self::Word { .. } => "use one of the words listed",
            Self::TypicalSum { .. } => "correct the shares, or name the rest as a constituent of its own",
            Self::Empty => "name at least one",
            Self::Twice { .. } => "keep one",
            Self::UnknownComponent { .. } => {
                "correct the spelling, or add a [[component]] with its reactions"
            }
            Self::UnknownSpecies { .. } => "correct the spelling, or add the [[reaction]] that forms it",
            Self::Charge { .. } => {
                "a substance is neutral: correct the numbers (a base takes H+, so H+ is negative)"
            }
            Self::UnknownMaterial { .. } => "correct the spelling, or add the [[material]]",
            Self::UnknownSubstance { .. } => "correct the spelling, or add the [[substance]]",
            Self::NotAConstituent { .. } => "name a constituent of this material",
            Self::Formula { .. } => {
                "write element symbols, numbers and brackets; crystal water after a point"
            }
            Self::MolarMass { .. } => "correct the mass or the formula",
            Self::Date { .. } => "write year, month and day with hyphens",
            Self::Vessel { error } => error.hint(),
            Self::NoUncertainty => "state uncertainty_log10; data/README.md gives our grading",
        }
    }
}

impl fmt::Display for Finding {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(place) = &self.place {
            write!(f, "{place}: ")?;
        }
        write!(f, "{} {}", self.table, self.key)?;
        if !self.field.is_empty() {
            write!(f, ", {}", self.field)?;
        }
        write!(f, ": {}", self.flaw)
    }
}

/// Looks through all facts. An empty list means that nothing was found, not that every value is true.
#[must_use]
pub fn check(facts: &Facts) -> Vec<Finding> {
    let mut desk = Desk { facts, findings: Vec::new() };
    sources::look(&mut desk);
    substances::look(&mut desk);
    materials::look(&mut desk);
    preservatives::look(&mut desk);
    equilibria::look(&mut desk);
    rules::look(&mut desk);
    handling::look(&mut desk);
    instruments::look(&mut desk);
    flow_use::look(&mut desk);
    mixing::look(&mut desk);
    flow::look(&mut desk);
    making::look(&mut desk);
    ph_bench::look(&mut desk);
    desk.findings
        .sort_by(|a, b| (&a.place, a.table, &a.key, &a.field).cmp(&(&b.place, b.table, &b.key, &b.field)));
    desk.findings
}

/// Where findings are gathered.
struct Desk<'f> {
    facts: &'f Facts,
    findings: Vec<Finding>,
}

impl Desk<'_> {
    fn report(&mut self, table: &'static str, key: &str, field: impl Into<String>, flaw: Flaw) {
        let place =
            self.facts.places.get(&(table.to_owned(), key.to_owned())).map(|(_, place)| place.clone());
        self.findings.push(Finding { place, table, key: key.to_owned(), field: field.into(), flaw });
    }

    fn within(
        &mut self,
        table: &'static str,
        key: &str,
        field: &str,
        value: f64,
        (low, high): (f64, f64),
        unit: &'static str,
    ) {
        if !(low..=high).contains(&value) {
            self.report(table, key, field, Flaw::Range { value, low, high, unit });
        }
    }

    fn sourced_within(
        &mut self,
        table: &'static str,
        key: &str,
        field: &str,
        value: Option<&Sourced<f64>>,
        range: (f64, f64),
        unit: &'static str,
    ) {
        if let Some(value) = value {
            self.within(table, key, field, value.value, range, unit);
        }
    }

    fn word(
        &mut self,
        table: &'static str,
        key: &str,
        field: &str,
        word: &str,
        known: &'static [&'static str],
    ) {
        if !known.contains(&word) {
            self.report(table, key, field, Flaw::Word { word: word.to_owned(), known });
        }
    }

    fn kebab(&mut self, table: &'static str, key: &str) {
        let good =
            |letter: char| letter.is_ascii_lowercase() || letter.is_ascii_digit() || "-,".contains(letter);
        if key.is_empty() || !key.chars().all(good) || key.starts_with('-') || key.ends_with('-') {
            self.report(table, key, "key", Flaw::KeyForm);
        }
    }

    /// Reports names of a record that mean another one too. `taken` holds the names so far with the key they mean.
    fn names<'n>(
        &mut self,
        table: &'static str,
        key: &'n str,
        own: impl Iterator<Item = &'n String>,
        taken: &mut BTreeMap<String, &'n str>,
    ) {
        for name in own {
            if let Some(other) = taken.insert(folded(name), key)
                && other != key
            {
                let flaw = Flaw::NameShared { name: name.clone(), other: other.to_owned() };
                self.report(table, key, "name", flaw);
            }
        }
    }

    fn date(&mut self, table: &'static str, key: &str, field: &str, date: &str) {
        if !is_date(date) {
            self.report(table, key, field, Flaw::Date { date: date.to_owned() });
        }
    }
}

/// Year, month and day that the calendar has.
fn is_date(text: &str) -> bool {
    let parts: Vec<&str> = text.split('-').collect();
    let [year, month, day] = parts.as_slice() else { return false };
    if (year.len(), month.len(), day.len()) != (4, 2, 2) {
        return false;
    }
    let number = |text: &str| {
        text.bytes().all(|byte| byte.is_ascii_digit()).then(|| text.parse::<u32>().ok()).flatten()
    };
    let (Some(year), Some(month), Some(day)) = (number(year), number(month), number(day)) else {
        return false;
    };
    let leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
    let longest = match month {
        2 if leap => 29,
        2 => 28,
        4 | 6 | 9 | 11 => 30,
        1..=12 => 31,
        _ => return false,
    };
    (1..=longest).contains(&day)
}
