//! What a rule is asked about: a composition with its facts, for a use, on a day, at a pH.

use jiff::civil::Date;
use levigate_formula::composition::{Composition, SettledLine};
use levigate_formula::library::{InWater, Library, Substance};
use levigate_measure::written::{Description, Figure};
use serde::{Serialize, Serializer};

use crate::usage::Usage;

/// The material of every question put to the rules.
#[derive(Clone, Copy, Debug)]
pub struct Question<'a> {
    /// What the product consists of.
    pub composition: &'a Composition,
    /// The facts about it.
    pub library: &'a Library,
    /// How it is used.
    pub usage: &'a Usage,
    /// The day for which the answer holds.
    pub day: Date,
    /// Lowest and highest pH of the product, where known.
    pub ph: Option<(f64, f64)>,
}

impl<'a> Question<'a> {
    /// A substance of the composition, absent for what has no record (`unidentified`).
    #[must_use]
    pub fn substance(&self, key: &str) -> Option<&'a Substance> {
        self.library.substances.get(key)
    }

    /// The name shown for a substance: its INCI name, else its plain name, else its key.
    #[must_use]
    pub fn name_of(&self, key: &str) -> String {
        self.substance(key).map_or_else(
            || key.to_owned(),
            |substance| substance.inci.clone().unwrap_or_else(|| substance.name.clone()),
        )
    }

    /// What names a substance, in lower case: CAS numbers, key, plain name, INCI name.
    #[must_use]
    pub fn identifiers(&self, key: &str) -> Vec<String> {
        let Some(substance) = self.substance(key) else { return vec![key.to_lowercase()] };
        let mut all = substance.cas.clone();
        all.push(substance.key.to_lowercase());
        all.push(substance.name.to_lowercase());
        all.extend(substance.inci.iter().map(|inci| inci.to_lowercase()));
        all
    }

    /// What names a raw material: key, name and aliases in lower case.
    #[must_use]
    pub fn material_identifiers(&self, key: &str) -> Vec<String> {
        let Some(material) = self.library.materials.get(key) else { return vec![key.to_lowercase()] };
        let mut all = vec![material.key.to_lowercase(), material.name.to_lowercase()];
        all.extend(material.aliases.iter().map(|alias| alias.to_lowercase()));
        all
    }

    /// Whether a substance has a role.
    #[must_use]
    pub fn has_role(&self, key: &str, role: &str) -> bool {
        self.substance(key).is_some_and(|substance| substance.roles.iter().any(|own| own == role))
    }

    /// Whether a substance is water.
    #[must_use]
    pub fn is_water(&self, key: &str) -> bool {
        self.substance(key).is_some_and(|substance| matches!(substance.in_water, InWater::Water))
    }

    /// Functions declared for the raw material of a line; nothing for an unknown material.
    #[must_use]
    pub fn functions(&self, line: &SettledLine) -> &'a [String] {
        self.library.materials.get(&line.material).map_or(&[], |material| material.functions.as_slice())
    }

    /// A line by its position in the sheet.
    #[must_use]
    pub fn line(&self, line: usize) -> Option<&'a SettledLine> {
        self.composition.lines.iter().find(|settled| settled.line == line)
    }

    /// The name of the raw material of a line.
    #[must_use]
    pub fn line_name(&self, line: usize) -> String {
        let Some(settled) = self.line(line) else { return format!("line {}", line + 1) };
        self.library
            .materials
            .get(&settled.material)
            .map_or_else(|| settled.material.clone(), |material| material.name.clone())
    }
}

/// An amount with its range, % w/w.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Amount {
    /// Typical.
    pub percent: f64,
    /// Least.
    pub low: f64,
    /// Most.
    pub high: f64,
}

impl Serialize for Amount {
    /// Written as the result it is: a sum over the lines with a hard range from the least and most of each grade.
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        const OF: Description = Description::computed("% w/w", "sum over the lines that bring it")
            .by("w = sum over lines of p_i * x_i / 100")
            .proved_by("exact arithmetic");
        Figure::new(self.percent, &OF).within(self.low, self.high).serialize(serializer)
    }
}

impl Amount {
    /// The sum of two amounts.
    #[must_use]
    pub fn plus(self, other: Self) -> Self {
        Self {
            percent: self.percent + other.percent,
            low: self.low + other.low,
            high: self.high + other.high,
        }
    }

    /// The amount times a factor.
    #[must_use]
    pub fn times(self, factor: f64) -> Self {
        Self { percent: self.percent * factor, low: self.low * factor, high: self.high * factor }
    }
}

/// Strictly more, beyond the rounding of binary arithmetic: 0.7 + 0.1 + 0.2 is not more than 1.
#[must_use]
pub fn exceeds(amount: f64, maximum: f64) -> bool {
    amount > maximum + maximum.abs() * 1e-9 + 1e-15
}
