//! Finding a record by what a person types: key, name, other name, INCI name, CAS number or formula, whatever the capitals.
//!
//! A name that fits several records goes to the one it fits best: key before name before other names before INCI name, CAS
//! number and formula; an anhydrous substance before its hydrates; the purest grade before weaker ones. A name that still
//! fits several is not guessed: all of them are offered.

use crate::library::{InWater, Library, Material, Substance};
use std::collections::{BTreeMap, BTreeSet};

/// A material without a stated active goes by its main constituent only from this share on, %.
const NEARLY_PURE_PERCENT: f64 = 95.0;
/// How many near names are offered.
const OFFERED: usize = 5;

/// How a record goes by a name; the smaller, the stronger.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum By {
    Key,
    Name,
    Alias,
    Inci,
    Number,
    Formula,
}

/// One way to a record.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
struct Way {
    by: By,
    /// Preferred among equals when smaller: crystal water of a substance, impurity of a material, both in thousandths.
    burden: u32,
    key: String,
}

/// One kind of record.
#[derive(Clone, Debug, Default, PartialEq)]
struct Index {
    ways: BTreeMap<String, BTreeSet<Way>>,
    /// Shown name by key.
    shown: BTreeMap<String, String>,
}

/// The names of all substances and raw materials of a library.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Names {
    substances: Index,
    materials: Index,
}

impl Names {
    /// Gathers the names of a library.
    #[must_use]
    pub fn of(library: &Library) -> Self {
        let mut names = Self::default();
        for substance in library.substances.values() {
            names.substances.add_substance(substance);
        }
        for material in library.materials.values() {
            names.materials.add_material(material, library);
        }
        names
    }

    /// Key of the substance a person means.
    ///
    /// # Errors
    /// Up to five names that come near, best first.
    pub fn resolve_substance(&self, typed: &str) -> Result<&str, Vec<String>> {
        self.substances.resolve(typed)
    }

    /// Key of the raw material a person means.
    ///
    /// # Errors
    /// Up to five names that come near, best first.
    pub fn resolve_material(&self, typed: &str) -> Result<&str, Vec<String>> {
        self.materials.resolve(typed)
    }
}

impl Index {
    fn add(&mut self, name: &str, by: By, burden: u32, key: &str) {
        let folded = folded(name);
        if !folded.is_empty() {
            self.ways.entry(folded).or_default().insert(Way { by, burden, key: key.to_owned() });
        }
    }

    fn add_substance(&mut self, substance: &Substance) {
        let key = &substance.key;
        let water = match &substance.in_water {
            InWater::Components { crystal_water, .. } => thousandths(*crystal_water),
            _ => 0,
        };
        self.shown.insert(key.clone(), substance.name.clone());
        self.add(key, By::Key, water, key);
        self.add(&substance.name, By::Name, water, key);
        for alias in &substance.aliases {
            self.add(alias, By::Alias, water, key);
        }
        if let Some(inci) = &substance.inci {
            self.add(inci, By::Inci, water, key);
        }
        for number in &substance.cas {
            self.add(number, By::Number, water, key);
        }
        if let Some(formula) = &substance.formula {
            self.add(formula, By::Formula, water, key);
        }
    }

    fn add_material(&mut self, material: &Material, library: &Library) {
        let key = &material.key;
        self.shown.insert(key.clone(), material.name.clone());
        self.add(key, By::Key, 0, key);
        self.add(&material.name, By::Name, 0, key);
        for alias in &material.aliases {
            self.add(alias, By::Alias, 0, key);
        }
        let main = material.active.as_ref().map_or_else(
            || material.constituents.iter().max_by(|a, b| a.typical.total_cmp(&b.typical)),
            |active| material.constituents.iter().find(|part| part.substance == *active),
        );
        let Some(main) = main else { return };
        // An oil is not its largest constituent: linalyl acetate is not clary sage.
        if material.active.is_none() && main.typical < NEARLY_PURE_PERCENT {
            return;
        }
        let Some(substance) = library.substances.get(&main.substance) else { return };
        let impurity = thousandths(100.0 - main.typical);
        self.add(&substance.name, By::Inci, impurity, key);
        if let Some(inci) = &substance.inci {
            self.add(inci, By::Inci, impurity, key);
        }
        for number in &substance.cas {
            self.add(number, By::Number, impurity, key);
        }
    }

    fn resolve(&self, typed: &str) -> Result<&str, Vec<String>> {
        let wanted = folded(typed);
        let Some(ways) = self.ways.get(&wanted) else { return Err(self.nearest(&wanted)) };
        let Some(best) = ways.first() else { return Err(Vec::new()) };
        let equals: BTreeSet<&str> = ways
            .iter()
            .take_while(|way| (way.by, way.burden) == (best.by, best.burden))
            .map(|way| way.key.as_str())
            .collect();
        if equals.len() > 1 {
            return Err(equals
                .iter()
                .take(OFFERED)
                .filter_map(|key| self.shown.get(*key).cloned())
                .collect());
        }
        Ok(&best.key)
    }

    /// Names within a third of their length of what was typed, or that contain it.
    fn nearest(&self, wanted: &str) -> Vec<String> {
        let wanted: Vec<char> = wanted.chars().take(80).collect();
        if wanted.is_empty() {
            return Vec::new();
        }
        let most = (wanted.len() / 3).max(2);
        let text: String = wanted.iter().collect();
        let mut best: BTreeMap<&str, usize> = BTreeMap::new();
        for (name, ways) in &self.ways {
            let distance = if wanted.len() >= 4 && name.contains(&text) {
                1
            } else {
                let Some(distance) = distance_within(&wanted, name, most) else { continue };
                distance
            };
            for way in ways {
                let entry = best.entry(&way.key).or_insert(distance);
                *entry = distance.min(*entry);
            }
        }
        let mut ranked: Vec<(usize, &String)> =
            best.into_iter().filter_map(|(key, distance)| Some((distance, self.shown.get(key)?))).collect();
        ranked.sort();
        ranked.dedup();
        ranked.into_iter().take(OFFERED).map(|(_, name)| name.clone()).collect()
    }
}

#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped to a range that fits")]
fn thousandths(value: f64) -> u32 {
    (value * 1000.0).clamp(0.0, 1e6).round() as u32
}

/// A name as it is compared: small letters, one blank for blanks and hyphens, American spelling of two element words.
#[must_use]
pub fn folded(name: &str) -> String {
    let mut text = String::with_capacity(name.len());
    for letter in name.trim().chars().flat_map(char::to_lowercase) {
        match letter {
            '·' | '•' => text.push('.'),
            '’' => text.push('\''),
            letter if letter.is_whitespace() || matches!(letter, '-' | '_' | '\u{2010}'..='\u{2014}') => {
                if !text.ends_with(' ') {
                    text.push(' ');
                }
            }
            letter => text.push(letter),
        }
    }
    text.replace("sulph", "sulf").replace("aluminium", "aluminum").trim_end().to_owned()
}

/// Edits (insert, delete, change, swap of neighbours) between two words if there are no more than `most`.
fn distance_within(wanted: &[char], name: &str, most: usize) -> Option<usize> {
    let name: Vec<char> = name.chars().collect();
    if name.len().abs_diff(wanted.len()) > most {
        return None;
    }
    let mut before: Vec<usize> = Vec::new();
    let mut last: Vec<usize> = (0..=name.len()).collect();
    for (row, letter) in wanted.iter().enumerate() {
        let mut this = vec![row + 1];
        for (column, other) in name.iter().enumerate() {
            let change = last[column] + usize::from(letter != other);
            let mut least = change.min(last[column + 1] + 1).min(this[column] + 1);
            let swapped = row > 0 && column > 0 && *letter == name[column - 1] && wanted[row - 1] == *other;
            if swapped {
                least = least.min(before[column - 1] + 1);
            }
            this.push(least);
        }
        if this.iter().min().is_some_and(|least| *least > most) {
            return None;
        }
        before = std::mem::replace(&mut last, this);
    }
    last.last().copied().filter(|distance| *distance <= most)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::library::{Constituent, Form, Layer};

    fn substance(key: &str, name: &str, inci: &str, formula: &str, crystal_water: f64) -> Substance {
        Substance {
            key: key.into(),
            name: name.into(),
            inci: Some(inci.into()),
            formula: Some(formula.into()),
            in_water: InWater::Components { gives: BTreeMap::new(), crystal_water },
            ..Substance::default()
        }
    }

    fn material(key: &str, name: &str, parts: &[(&str, f64)], active: Option<&str>) -> Material {
        Material {
            key: key.into(),
            name: name.into(),
            aliases: Vec::new(),
            functions: Vec::new(),
            form: Form::Solution,
            constituents: parts
                .iter()
                .map(|(substance, typical)| Constituent {
                    substance: (*substance).into(),
                    min: *typical,
                    typical: *typical,
                    max: *typical,
                })
                .collect(),
            composition_source: "invented".into(),
            active: active.map(Into::into),
            balance: None,
            heat_limit_c: None,
            ph_works: None,
            ph_survives: None,
            charge: None,
            wetting: None,
            electrolyte_tolerance: None,
            natural_origin_index: None,
            density_kg_m3: None,
            flash_point_c: None,
            use_level_percent: None,
            cautions: Vec::new(),
            remarks: Vec::new(),
            ifra_limits: Vec::new(),
            prices: Vec::new(),
            documents: Vec::new(),
            layer: Layer::Shipped,
        }
    }

    fn library() -> Library {
        let mut library = Library::default();
        let mut disodium = substance("disodium-edta", "disodium EDTA", "Disodium EDTA", "C10H14N2Na2O8", 0.0);
        disodium.cas = vec!["139-33-3".into()];
        for entry in [
            disodium,
            substance(
                "disodium-edta-dihydrate",
                "disodium EDTA dihydrate",
                "Disodium EDTA",
                "C10H14N2Na2O8.2H2O",
                2.0,
            ),
            substance("sodium-hydroxide", "sodium hydroxide", "Sodium Hydroxide", "NaOH", 0.0),
            substance("glucose", "glucose", "Glucose", "C6H12O6", 0.0),
            substance("fructose", "fructose", "Fructose", "C6H12O6", 0.0),
            substance("magnesium-sulfate", "magnesium sulfate", "Magnesium Sulfate", "MgSO4", 0.0),
        ] {
            library.substances.insert(entry.key.clone(), entry);
        }
        for entry in [
            material(
                "naoh-10",
                "Sodium hydroxide 10 %",
                &[("sodium-hydroxide", 10.0), ("water", 90.0)],
                Some("sodium-hydroxide"),
            ),
            material("naoh", "Sodium hydroxide pellets", &[("sodium-hydroxide", 98.5), ("water", 1.5)], None),
        ] {
            library.materials.insert(entry.key.clone(), entry);
        }
        library
    }

    #[test]
    fn every_kind_of_name_is_understood_whatever_the_capitals() {
        let names = Names::of(&library());
        for typed in ["disodium-edta", "Disodium EDTA", " DISODIUM  EDTA ", "139-33-3", "c10h14n2na2o8"] {
            assert_eq!(names.resolve_substance(typed), Ok("disodium-edta"), "{typed}");
        }
        assert_eq!(names.resolve_substance("Disodium EDTA dihydrate"), Ok("disodium-edta-dihydrate"));
        assert_eq!(names.resolve_substance("C10H14N2Na2O8·2H2O"), Ok("disodium-edta-dihydrate"));
        assert_eq!(names.resolve_substance("Magnesium sulphate"), Ok("magnesium-sulfate"));
    }

    #[test]
    fn a_formula_of_several_substances_is_not_guessed() {
        let names = Names::of(&library());
        assert_eq!(names.resolve_substance("C6H12O6"), Err(vec!["fructose".into(), "glucose".into()]));
    }

    #[test]
    fn a_substance_name_finds_the_purest_grade() {
        let names = Names::of(&library());
        assert_eq!(names.resolve_material("Sodium Hydroxide"), Ok("naoh"));
        assert_eq!(names.resolve_material("sodium hydroxide 10 %"), Ok("naoh-10"));
    }

    #[test]
    fn a_slip_is_answered_with_near_names() {
        let names = Names::of(&library());
        assert_eq!(names.resolve_substance("glucsoe"), Err(vec!["glucose".into()]));
        let offered = names.resolve_material("sodium hydroxid 10%").unwrap_err();
        assert_eq!(offered.first().map(String::as_str), Some("Sodium hydroxide 10 %"), "{offered:?}");
        assert_eq!(names.resolve_substance("zzzzzzzzzzzz"), Err(Vec::new()));
        assert_eq!(names.resolve_substance("  "), Err(Vec::new()));
    }

    #[test]
    fn distances_count_swaps_once() {
        let letters: Vec<char> = "abcd".chars().collect();
        assert_eq!(distance_within(&letters, "abdc", 2), Some(1));
        assert_eq!(distance_within(&letters, "abcd", 2), Some(0));
        assert_eq!(distance_within(&letters, "wxyz", 2), None);
    }
}
