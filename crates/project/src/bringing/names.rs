//! Which raw material a row means.
//!
//! A name on file is taken as it is taken everywhere. One that is not is never replaced by what its INCI name or CAS number would give:
//! another grade would be another assay. Those are offered, first among the candidates, and a person picks.

use super::table::Row;
use super::{Asked, Desk, Field};
use crate::workbench::materials::nearest_names;
use levigate_facts::Facts;
use levigate_formula::library::Material;
use levigate_formula::names::folded;
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};

/// Most candidates offered.
const OFFERED: usize = 6;
/// Most names for which candidates are looked for.
const MOST_SEARCHED: usize = 500;

/// A name that is not on file.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct UnknownName {
    /// As it stands in the table.
    pub name: String,
    /// The rows it stands in.
    pub lines: Vec<usize>,
    /// What it may mean, best first.
    pub offers: Vec<NameOffer>,
    /// What was picked for it; empty for nothing.
    pub picked: String,
}

/// A raw material that may be meant.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct NameOffer {
    /// Key.
    pub key: String,
    /// Name.
    pub name: String,
    /// Why it is offered.
    pub why: String,
}

/// Names that are not on file, in the order they came.
#[derive(Debug, Default)]
pub(super) struct Unknown {
    names: Vec<UnknownName>,
    places: BTreeMap<String, usize>,
}

impl Unknown {
    pub(super) fn list(self, asked: &Asked) -> Vec<UnknownName> {
        let mut names = self.names;
        for name in &mut names {
            name.picked = pick(asked, &name.name).unwrap_or_default().to_owned();
        }
        names
    }
}

/// The raw material a row means.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Meant {
    /// One on file.
    Known(String),
    /// A new one of the laboratory's own, made like one on file.
    Like(String),
    /// None on file.
    Unknown(Vec<NameOffer>),
}

fn pick<'a>(asked: &'a Asked, name: &str) -> Option<&'a str> {
    let wanted = folded(name);
    asked.picks.iter().find(|(typed, _)| folded(typed) == wanted).map(|(_, picked)| picked.trim())
}

/// The raw material of a name; signs of writing are no difference: `99,5%` is `99.5 %`.
fn resolved<'f>(facts: &'f Facts, name: &str) -> Option<&'f str> {
    facts.names.resolve_material(name).or_else(|_| facts.names.resolve_material(&respelled(name))).ok()
}

/// A name with a point in its numbers and a blank before the percent sign.
fn respelled(name: &str) -> String {
    let signs: Vec<char> = name.chars().collect();
    let digit = |at: Option<usize>| at.and_then(|at| signs.get(at)).is_some_and(char::is_ascii_digit);
    let mut out = String::new();
    for (at, sign) in signs.iter().enumerate() {
        match sign {
            ',' if digit(at.checked_sub(1)) && digit(Some(at + 1)) => out.push('.'),
            '%' if digit(at.checked_sub(1)) => out.push_str(" %"),
            other => out.push(*other),
        }
    }
    out
}

/// How many words and numbers two names share.
fn shared(one: &str, other: &str) -> usize {
    let words = |text: &str| -> Vec<String> {
        let text = respelled(&text.to_lowercase());
        let words = text.split(|sign: char| !sign.is_alphanumeric() && sign != '.').map(str::to_owned);
        words.filter(|word| !word.is_empty()).collect()
    };
    let others = words(other);
    words(one).iter().filter(|word| others.contains(word)).count()
}

impl Desk<'_> {
    /// The name a row gives its raw material: the trade name, else the INCI name, else the CAS number.
    pub(super) fn name_of<'c>(&self, row: &'c Row) -> (&'c str, Field) {
        [Field::Material, Field::Inci, Field::Cas]
            .into_iter()
            .map(|field| (self.text(row, field), field))
            .find(|(text, _)| !text.is_empty())
            .unwrap_or(("", Field::Material))
    }

    /// What the name of a row means. One that is not on file is noted for the list of those.
    pub(super) fn meant(&mut self, row: &Row, name: &str) -> Meant {
        let facts = self.on_file.facts;
        let on_file = |key: &str| facts.library.materials.contains_key(key);
        let picked = pick(self.asked, name).filter(|picked| !picked.is_empty());
        let key = |picked: &str| {
            let known =
                if on_file(picked) { Some(picked) } else { facts.names.resolve_material(picked).ok() };
            known.map(str::to_owned)
        };
        let there = resolved(facts, name).map(|key| Meant::Known(key.to_owned()));
        let found = match picked.map(|picked| (picked, picked.strip_prefix("like:"))) {
            // What is on file by its name is not made once more.
            Some((_, Some(_))) if there.is_some() => there.clone(),
            Some((_, Some(like))) => key(like).map(Meant::Like),
            Some((picked, None)) => key(picked).map(Meant::Known).or_else(|| there.clone()),
            None => there.clone(),
        };
        if there.is_some()
            && let Some(found) = found
        {
            return found;
        }
        let place = match self.unknown.places.get(&folded(name)) {
            Some(place) => *place,
            None => {
                // A table of nothing but strange names is not searched through for each of them.
                let many = self.unknown.names.len() >= MOST_SEARCHED;
                let offers = if many { Vec::new() } else { self.offers(facts, row, name) };
                let (lines, picked) = (Vec::new(), String::new());
                self.unknown.names.push(UnknownName { name: name.to_owned(), lines, offers, picked });
                self.unknown.places.insert(folded(name), self.unknown.names.len() - 1);
                self.unknown.names.len() - 1
            }
        };
        if let Some(unknown) = self.unknown.names.get_mut(place) {
            unknown.lines.push(row.line);
            return found.unwrap_or_else(|| Meant::Unknown(unknown.offers.clone()));
        }
        found.unwrap_or(Meant::Unknown(Vec::new()))
    }

    fn offers(&self, facts: &Facts, row: &Row, name: &str) -> Vec<NameOffer> {
        let blend = nearest_blend(facts, name, self.text(row, Field::Inci));
        let mut offers: Vec<NameOffer> = Vec::new();
        let mut offer = |key: &str, why: String| {
            if let Some(material) = facts.library.materials.get(key)
                && offers.len() < 4 * OFFERED
                && offers.iter().all(|offer| offer.key != key)
            {
                offers.push(NameOffer { key: key.to_owned(), name: material.name.clone(), why });
            }
        };
        if let Some((key, why)) = &blend {
            offer(key, why.clone());
        }
        for (field, words) in [(Field::Inci, "its INCI name"), (Field::Cas, "its CAS number")] {
            let text = self.text(row, field);
            if text.is_empty() || text == name {
                continue;
            }
            match facts.names.resolve_material(text) {
                Ok(key) => offer(key, format!("has {words}, {text}")),
                Err(nearest) => {
                    for near in nearest {
                        if let Ok(key) = facts.names.resolve_material(&near) {
                            offer(key, format!("near {words}, {text}"));
                        }
                    }
                }
            }
        }
        let near = facts.names.resolve_material(name).err().unwrap_or_default();
        for near in near.into_iter().chain(nearest_names(&facts.library, name, OFFERED)) {
            if let Ok(key) = facts.names.resolve_material(&near) {
                offer(key, "has a name that comes near".to_owned());
            }
        }
        // What holds the same substances comes first; of grades of one substance, the one whose words and strength stand in the name.
        let is_blend = |offer: &NameOffer| blend.as_ref().is_some_and(|(key, _)| *key == offer.key);
        offers.sort_by_key(|offer| std::cmp::Reverse((is_blend(offer), shared(name, &offer.name))));
        offers.truncate(OFFERED);
        offers
    }
}

/// The raw material on file that holds most of the substances of a blend and least besides, and why it is offered. Water alone in common
/// says nothing, and what has less than half in common is none; of equals, the one whose words stand in the name.
fn nearest_blend(facts: &Facts, called: &str, inci: &str) -> Option<(String, String)> {
    let names = parts(inci);
    if names.len() < 2 {
        return None;
    }
    let water = facts.names.resolve_substance("water").ok();
    let known: BTreeMap<&str, &str> =
        names.iter().filter_map(|name| Some((facts.names.resolve_substance(name).ok()?, *name))).collect();
    let held = |material: &Material| -> BTreeSet<String> {
        material.constituents.iter().map(|part| part.substance.clone()).collect()
    };
    let mut best: Option<(usize, usize, &Material)> = None;
    let words = |material: &Material| shared(called, &material.name);
    for material in facts.library.materials.values() {
        let held = held(material);
        let common = known.keys().filter(|key| held.contains(**key)).count();
        let telling = known.keys().any(|key| held.contains(*key) && Some(*key) != water);
        let all = names.len() + held.len() - common;
        // More in common of less in all is nearer; products keep it in whole numbers.
        let nearer = best.is_none_or(|(best, of, other)| {
            (common * of).cmp(&(best * all)).then_with(|| words(material).cmp(&words(other))).is_gt()
        });
        if telling && common >= 2 && 2 * common >= all && nearer {
            best = Some((common, all, material));
        }
    }
    let (common, _, material) = best?;
    let held = held(material);
    let of = |key: &String| {
        facts
            .library
            .substances
            .get(key)
            .map_or(key.clone(), |one| one.inci.clone().unwrap_or_else(|| one.name.clone()))
    };
    let besides: Vec<String> = held.iter().filter(|key| !known.contains_key(key.as_str())).map(of).collect();
    let without: Vec<&str> = names
        .iter()
        .copied()
        .filter(|name| facts.names.resolve_substance(name).map_or(true, |key| !held.contains(key)))
        .collect();
    let mut why = if without.is_empty() {
        format!("holds all {common} substances of its INCI name")
    } else {
        format!(
            "holds {common} of the {} substances of its INCI name, without {}",
            names.len(),
            without.join(", ")
        )
    };
    if !besides.is_empty() {
        why.push_str(&format!(", and {} besides", besides.join(", ")));
    }
    Some((material.key.clone(), why))
}

/// The substances of an INCI name: `Aqua (and) Glycerin`, `Aqua, Glycerin`, `Aqua; Glycerin`.
pub(super) fn parts(inci: &str) -> Vec<&str> {
    let mut parts = vec![inci];
    for mark in ["(and)", "(AND)", "(And)", ";", " & ", ", ", " + "] {
        parts = parts.into_iter().flat_map(|part| part.split(mark)).collect();
    }
    parts.into_iter().map(str::trim).filter(|part| !part.is_empty()).collect()
}

/// The names of offers in one sentence of what to do.
pub(super) fn what_now(offers: &[NameOffer]) -> String {
    if offers.is_empty() {
        return "add it as your own raw material first, or pick the one that is meant".to_owned();
    }
    let names: Vec<&str> = offers.iter().map(|offer| offer.name.as_str()).collect();
    format!("pick what is meant: {}", names.join("; "))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn signs_of_writing_are_no_difference() {
        assert_eq!(respelled("Glycerin 99,5%"), "Glycerin 99.5 %");
        assert_eq!(respelled("1,3-Propanediol, pure"), "1.3-Propanediol, pure");
        let facts = levigate_facts::shipped().unwrap();
        assert_eq!(resolved(&facts, "Glycerin 99,5%"), facts.names.resolve_material("Glycerin 99.5 %").ok());
        assert!(
            resolved(&facts, "1,3-Propanediol").is_some()
                == facts.names.resolve_material("1,3-Propanediol").is_ok()
        );
        assert_eq!(shared("Citric acid 50% sol.", "Citric acid 50 % solution"), 3);
    }
}
