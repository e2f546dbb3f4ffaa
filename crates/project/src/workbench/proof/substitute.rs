//! What could stand in the place of a raw material.

use crate::diagnostic::Diagnostic;
use crate::formula_file;
use crate::workbench::assess::{Bench, diagnose, facts_for, known};
use crate::workbench::draft::market_of;
use crate::workbench::trials::FlowBook;
use jiff::civil::Date;
pub use levigate_assess::substitution::{
    BroughtReading, CandidateReading, ChangeReading, ConsequenceReading, PropertyReading, SubstitutionReading,
};
use levigate_assess::substitution::{Wanted, substitution};
use levigate_facts::Facts;
use levigate_formula::library::InWater;
use levigate_formula::sheet::Sheet;
use serde::Serialize;

/// What is to be substituted, as typed.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Substituted {
    /// Raw material that is gone.
    pub material: String,
    /// Raw materials to put in its place; the nearest ones where there are none.
    pub with: Vec<String>,
    /// How many of the nearest.
    pub most: usize,
}

/// A formula as a workspace keeps it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KeptFormula {
    /// Identity.
    pub id: String,
    /// Name in words, with the version: `Night toner, version 3`.
    pub name: String,
    /// Its newest text.
    pub text: String,
}

/// What could stand in its place in every formula of a workspace that uses it.
#[derive(Clone, Debug, Serialize)]
pub struct KeptSubstitution {
    /// What was found.
    #[serde(flatten)]
    pub reading: SubstitutionReading,
    /// Formulas that could not be read or assessed, with the reason.
    pub unread: Vec<Unread>,
}

/// A formula that could not be read or assessed.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Unread {
    /// Its name.
    pub formula: String,
    /// Why.
    pub why: String,
}

/// Finds candidates and puts them into the formulas. Facts that a formula brings along count for all of them.
///
/// # Errors
/// What is wrong with a formula, with its place; a raw material that is not known, with the nearest names.
pub fn substitute(
    facts: &Facts,
    (day, market): (Date, &str),
    formulas: &[(&str, &str)],
    asked: &Substituted,
) -> Result<SubstitutionReading, Vec<Diagnostic>> {
    let mut facts = std::borrow::Cow::Borrowed(facts);
    let mut files = Vec::new();
    for (file, text) in formulas {
        let formula = formula_file::read(file, text)?;
        if formula.own_facts.is_some() {
            facts = std::borrow::Cow::Owned(facts_for(&facts, file, &formula)?.into_owned());
        }
        files.push(formula);
    }
    let keys = Keys::of(&facts, asked)?;
    let sheets: Vec<_> = files.iter().map(|formula| &formula.sheet).collect();
    keys.put(&facts, None, (day, market), asked.most, &sheets).map_err(|failed| match failed {
        Some((place, error)) => diagnose(&files[place], &error),
        None => Vec::new(),
    })
}

/// Key of the substance a raw material is bought for; nothing where that is water or not known.
#[must_use]
pub fn main_substance(facts: &Facts, key: &str) -> Option<String> {
    let material = facts.library.materials.get(key)?;
    let substance = levigate_assess::substitution::main_substance(material, &facts.library)?;
    (!matches!(substance.in_water, InWater::Water)).then(|| substance.key.clone())
}

/// Candidates alone, the nearest first.
///
/// # Errors
/// A raw material that is not known, with the nearest names.
pub fn candidates(
    facts: &Facts,
    (day, market): (Date, &str),
    asked: &Substituted,
) -> Result<SubstitutionReading, Vec<Diagnostic>> {
    let keys = Keys::of(facts, asked)?;
    keys.put(facts, None, (day, market), asked.most, &[]).map_err(|_| Vec::new())
}

/// Puts candidates into one kept formula: each formula with the facts it brings along, for the market it names and with what its trials
/// taught.
///
/// # Errors
/// Why the formula, or one of the raw materials, cannot be read.
pub fn substitute_in(
    facts: &Facts,
    (day, market): (Date, &str),
    bench: Option<Bench<'_>>,
    formula: &KeptFormula,
    asked: &Substituted,
) -> Result<SubstitutionReading, String> {
    let first = |problems: Vec<Diagnostic>| {
        problems.first().map_or_else(|| "it cannot be read".to_owned(), |problem| problem.what.clone())
    };
    let file = formula_file::read(&formula.name, &formula.text).map_err(first)?;
    let facts = facts_for(facts, &formula.name, &file).map_err(first)?;
    let keys = Keys::of(&facts, asked).map_err(first)?;
    let market = market_of(&file.sheet, market, &facts.rules);
    let mut sheet = file.sheet.clone();
    sheet.product.name.clone_from(&formula.name);
    let mut reading =
        keys.put(&facts, bench, (day, market), asked.most, &[&sheet]).map_err(|failed| match failed {
            Some((_, error)) => first(diagnose(&file, &error)),
            None => first(Vec::new()),
        })?;
    // The sheet is the formula's own; only what is told of it says the version.
    for consequence in reading.candidates.iter_mut().flat_map(|one| &mut one.formulas) {
        if let Some(sheet) = &mut consequence.sheet {
            sheet.product.name.clone_from(&file.sheet.product.name);
        }
    }
    Ok(reading)
}

/// Puts candidates into every formula of a workspace. A formula that cannot be read is told, and the others are looked at.
///
/// # Errors
/// A raw material that is not known, with the nearest names.
pub fn substitute_kept(
    facts: &Facts,
    (day, market): (Date, &str),
    learned: Option<&FlowBook>,
    formulas: &[KeptFormula],
    asked: &Substituted,
) -> Result<KeptSubstitution, Vec<Diagnostic>> {
    let mut found =
        KeptSubstitution { reading: candidates(facts, (day, market), asked)?, unread: Vec::new() };
    let with: Vec<String> = found.reading.candidates.iter().map(|one| one.key.clone()).collect();
    for formula in formulas {
        let asked = Substituted { with: with.clone(), ..asked.clone() };
        let bench = learned.map(|book| book.for_formula(&formula.id));
        match substitute_in(facts, (day, market), bench, formula, &asked) {
            Ok(own) => {
                found.reading.without.extend(own.without);
                found.reading.also.extend(own.also);
                for one in own.candidates {
                    let same = found.reading.candidates.iter_mut().find(|known| known.key == one.key);
                    if let Some(same) = same {
                        same.formulas.extend(one.formulas);
                    }
                }
            }
            Err(why) => found.unread.push(Unread { formula: formula.name.clone(), why }),
        }
    }
    Ok(found)
}

/// The keys of the raw materials that are asked about.
struct Keys {
    gone: String,
    with: Vec<String>,
}

impl Keys {
    fn of(facts: &Facts, asked: &Substituted) -> Result<Self, Vec<Diagnostic>> {
        let key = |typed: &str| {
            facts.names.resolve_material(typed).map(ToOwned::to_owned).map_err(|nearest| {
                let what_now = if nearest.is_empty() {
                    "write its name, INCI name, CAS number or key".to_owned()
                } else {
                    format!("did you mean {}?", nearest.join(", "))
                };
                vec![Diagnostic {
                    code: "unknown-material".to_owned(),
                    file: String::new(),
                    line: 0,
                    column: 0,
                    field: "material".to_owned(),
                    what: format!("\"{typed}\" is no raw material known here"),
                    what_now,
                    sheet_line: None,
                }]
            })
        };
        let gone = key(&asked.material)?;
        let with = asked.with.iter().map(|typed| key(typed)).collect::<Result<Vec<_>, _>>()?;
        Ok(Self { gone, with })
    }

    fn put(
        self,
        facts: &Facts,
        bench: Option<Bench<'_>>,
        (day, market): (Date, &str),
        most: usize,
        sheets: &[&Sheet],
    ) -> Result<SubstitutionReading, Option<(usize, levigate_assess::AssessError)>> {
        let mut known = known(facts);
        known.flow.bench = bench;
        let wanted = Wanted { known, day, market, material: &self.gone, with: &self.with, most };
        let gone = facts.library.materials.get(&self.gone).ok_or(None)?;
        substitution(&wanted, gone, sheets).map_err(Some)
    }
}
