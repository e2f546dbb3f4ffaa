//! Things that do not go together, graded by how much of each is there rather than answered with yes or no.
//!
//! A rule names two sides by substance, role, component, function or charge, says how the pair is measured, and grades the measure.
//! Sizes: amount of substance `n = 10 * p / M * 1000` in mmol per kg of product (p in % w/w, M in g/mol; for a polyion the charged
//! units), the ratio of two such amounts, a percentage, or the ionic strength against what a thickener bears.
//! Proved by the mole balance of `tests/published/rules_incompatibilities.toml`.

use levigate_formula::library::{Charge, InWater, Material, Substance};
use levigate_measure::written::{Described, Description, result};
use levigate_measure::{Grade, Outcome};
use serde::{Deserialize, Serialize};

use crate::book::Status;
use crate::question::Question;

/// How grave a pair is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Severity {
    /// Do not make it like this.
    Stop,
    /// Likely to fail or to harm the product; change it or prove it.
    Serious,
    /// Watch it in the trial.
    Watch,
}

/// One side of a pair. Substance criteria (any of names, roles, components) and material criteria (functions, charge) must both
/// hold where both are given.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Selector {
    /// Substance keys, INCI names, plain names or CAS numbers.
    #[serde(default)]
    pub names: Vec<String>,
    /// Roles of the substance.
    #[serde(default)]
    pub roles: Vec<String>,
    /// Components of the equilibrium model it dissolves into.
    #[serde(default)]
    pub components: Vec<String>,
    /// Functions of the raw material.
    #[serde(default)]
    pub functions: Vec<String>,
    /// Charge of the functional part of the raw material.
    #[serde(default)]
    pub charge: Option<Charge>,
    /// Only polymers and polyions.
    #[serde(default)]
    pub polymer: bool,
    /// Never these.
    #[serde(default)]
    pub except: Vec<String>,
}

/// How the size of a pair is measured.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Measure {
    /// Both are there.
    Presence,
    /// mmol/kg of the first over mmol/kg of the second.
    MoleRatio,
    /// The smaller of the two, mmol/kg.
    SmallerMmol,
    /// The first, % w/w.
    FirstPercent,
    /// The second, % w/w.
    SecondPercent,
    /// Ionic strength over what the first bears; the second side is not used.
    IonicStrength,
}

/// Grade from a size upwards.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct GradeFrom {
    /// Size from which it holds.
    pub from: f64,
    /// Gravity.
    pub severity: Severity,
}

/// A pair that does not go together.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct IncompatibilityRule {
    /// Stable key.
    pub key: String,
    /// Title.
    pub title: String,
    /// First side.
    pub first: Selector,
    /// Second side.
    #[serde(default)]
    pub second: Selector,
    /// Measure.
    pub measure: Measure,
    /// Grades, any order; the one with the largest `from` reached holds.
    #[serde(rename = "grade")]
    pub grades: Vec<GradeFrom>,
    /// Ionic strength borne by a tolerance class without a figure, mol/kg water.
    #[serde(default)]
    pub class_limits: std::collections::BTreeMap<String, f64>,
    /// Only above this pH.
    #[serde(default)]
    pub above_ph: Option<f64>,
    /// Only below this pH.
    #[serde(default)]
    pub below_ph: Option<f64>,
    /// What happens.
    pub why: String,
    /// What to change.
    pub change: String,
    /// Source keys.
    #[serde(rename = "source")]
    pub sources: Vec<String>,
    /// How well it is known.
    pub status: Status,
}

struct SidePercent;
impl Described for SidePercent {
    const OF: Description =
        Description::computed("% w/w", "percent of the line times the share in the raw material")
            .proved_by("exact arithmetic");
}

struct SideMmol;
impl Described for SideMmol {
    const OF: Description = Description::computed("mmol/kg", "amount of substance, or of charged units")
        .by("n = w / M")
        .proved_by("exact arithmetic");
}

/// One substance or material on a side of a pair.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SideItem {
    /// Line.
    pub line: usize,
    /// Substance key.
    pub substance: String,
    /// Name.
    pub name: String,
    /// Percent of the product.
    #[serde(serialize_with = "result::<SidePercent, _, _>")]
    pub percent: f64,
    /// Amount of substance, or of charged units, mmol/kg; absent without a molar mass.
    #[serde(serialize_with = "result::<SideMmol, _, _>")]
    pub mmol_per_kg: Option<f64>,
}

/// A pair found in a formula.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct IncompatibilityReading {
    /// Key of the rule.
    pub key: String,
    /// Title.
    pub title: String,
    /// Gravity.
    pub severity: Severity,
    /// First side.
    pub first: Vec<SideItem>,
    /// Second side.
    pub second: Vec<SideItem>,
    /// Size of the pair.
    pub size: Outcome,
    /// What happens.
    pub why: String,
    /// What to change.
    pub change: String,
    /// Lines of both sides.
    pub lines: Vec<usize>,
    /// How well it is known.
    pub status: Status,
}

/// Reads every rule that finds both its sides in the product. `ionic_strength` in mol/kg water, where it is known.
#[must_use]
pub fn incompatibilities<'r>(
    question: &Question<'_>,
    rules: impl IntoIterator<Item = &'r IncompatibilityRule>,
    ionic_strength: Option<f64>,
) -> Vec<IncompatibilityReading> {
    let parts = parts(question);
    let mut readings: Vec<IncompatibilityReading> = rules
        .into_iter()
        .filter(|rule| ph_fits(question, rule))
        .flat_map(|rule| {
            if rule.measure == Measure::IonicStrength {
                against_salt(question, rule, ionic_strength)
            } else {
                pair(question, &parts, rule).into_iter().collect()
            }
        })
        .collect();
    readings.sort_by(|a, b| a.severity.cmp(&b.severity).then_with(|| a.key.cmp(&b.key)));
    readings
}

/// A pH condition fits when any part of the window meets it; an unknown pH fits.
fn ph_fits(question: &Question<'_>, rule: &IncompatibilityRule) -> bool {
    let Some((low, high)) = question.ph else { return true };
    rule.above_ph.is_none_or(|limit| high > limit) && rule.below_ph.is_none_or(|limit| low < limit)
}

/// One constituent of one line with its records, looked up once for all rules.
struct Part<'a> {
    line: usize,
    key: &'a str,
    percent: f64,
    substance: Option<&'a Substance>,
    material: Option<&'a Material>,
}

/// All constituents that could stand on a side: water never does.
fn parts<'a>(question: &Question<'a>) -> Vec<Part<'a>> {
    let composition = question.composition;
    let mut parts = Vec::new();
    for line in composition.lines.iter().filter(|line| line.percent > 0.0) {
        let material = question.library.materials.get(&line.material);
        for constituent in &line.constituents {
            let percent = constituent.typical * line.percent / 100.0;
            let substance = question.substance(&constituent.substance);
            let water = substance.is_some_and(|substance| matches!(substance.in_water, InWater::Water));
            if percent > 0.0 && !water {
                let key = constituent.substance.as_str();
                parts.push(Part { line: line.line, key, percent, substance, material });
            }
        }
    }
    parts
}

fn pair(
    question: &Question<'_>,
    parts: &[Part<'_>],
    rule: &IncompatibilityRule,
) -> Option<IncompatibilityReading> {
    let first = side(question, parts, &rule.first);
    if first.is_empty() {
        return None;
    }
    let mut second = side(question, parts, &rule.second);
    second.retain(|item| {
        !first.iter().any(|other| other.line == item.line && other.substance == item.substance)
    });
    if first.is_empty() || second.is_empty() {
        return None;
    }
    let size = size_of(rule.measure, &first, &second);
    let severity = grade(rule, &size)?;
    Some(reading(rule, severity, first, second, size))
}

fn reading(
    rule: &IncompatibilityRule,
    severity: Severity,
    first: Vec<SideItem>,
    second: Vec<SideItem>,
    size: Outcome,
) -> IncompatibilityReading {
    let mut lines: Vec<usize> = first.iter().chain(&second).map(|item| item.line).collect();
    lines.sort_unstable();
    lines.dedup();
    let mut size = size.proved_by("tests/published/rules_incompatibilities.toml");
    for source in &rule.sources {
        size = size.source(source.clone());
    }
    IncompatibilityReading {
        key: rule.key.clone(),
        title: rule.title.clone(),
        severity,
        first,
        second,
        size,
        why: rule.why.clone(),
        change: rule.change.clone(),
        lines,
        status: rule.status,
    }
}

/// The grade of a size; a size that could not be computed takes the mildest grade rather than none.
fn grade(rule: &IncompatibilityRule, size: &Outcome) -> Option<Severity> {
    let Some(value) = size.value else {
        return rule.grades.iter().map(|grade| grade.severity).max();
    };
    rule.grades
        .iter()
        .filter(|grade| value >= grade.from)
        .max_by(|a, b| a.from.total_cmp(&b.from))
        .map(|grade| grade.severity)
}

fn side(question: &Question<'_>, parts: &[Part<'_>], selector: &Selector) -> Vec<SideItem> {
    parts
        .iter()
        .filter(|part| material_fits(selector, part.material) && substance_fits(selector, part))
        .map(|part| SideItem {
            line: part.line,
            substance: part.key.to_owned(),
            name: question.name_of(part.key),
            percent: part.percent,
            mmol_per_kg: mmol_per_kg(question, part.key, part.percent),
        })
        .collect()
}

fn material_fits(selector: &Selector, material: Option<&Material>) -> bool {
    if selector.functions.is_empty() && selector.charge.is_none() {
        return true;
    }
    let Some(material) = material else { return false };
    selector.charge.is_none_or(|charge| material.charge == Some(charge))
        && (selector.functions.is_empty()
            || material.functions.iter().any(|function| selector.functions.contains(function)))
}

fn substance_fits(selector: &Selector, part: &Part<'_>) -> bool {
    let named = |list: &[String]| list.iter().any(|name| goes_by(part, name));
    if named(&selector.except) {
        return false;
    }
    if selector.polymer
        && !part
            .substance
            .is_some_and(|substance| matches!(substance.in_water, InWater::Polyion { .. } | InWater::Polymer))
    {
        return false;
    }
    if selector.names.is_empty() && selector.roles.is_empty() && selector.components.is_empty() {
        // Only material criteria were given: the dissolved helpers of the material do not count, its functional part does.
        return part.substance.is_none_or(|substance| {
            !substance.roles.iter().any(|role| role == "solvent" || role == "humectant")
        });
    }
    named(&selector.names)
        || part.substance.is_some_and(|substance| {
            selector.roles.iter().any(|role| substance.roles.contains(role))
                || match &substance.in_water {
                    InWater::Components { gives, .. } => selector
                        .components
                        .iter()
                        .any(|component| gives.get(component).is_some_and(|amount| *amount > 0.0)),
                    _ => false,
                }
        })
}

/// Whether a constituent goes by a name: key, plain name, INCI name or CAS number, whatever the capitals.
fn goes_by(part: &Part<'_>, name: &str) -> bool {
    part.key.eq_ignore_ascii_case(name)
        || part.substance.is_some_and(|substance| {
            substance.name.eq_ignore_ascii_case(name)
                || substance.inci.as_ref().is_some_and(|inci| inci.eq_ignore_ascii_case(name))
                || substance.cas.iter().any(|cas| cas == name)
        })
}

fn mmol_per_kg(question: &Question<'_>, key: &str, percent: f64) -> Option<f64> {
    let substance = question.substance(key)?;
    let grams_per_kg = 10.0 * percent;
    if let InWater::Polyion { gives_mol_per_kg, .. } = &substance.in_water {
        let units: f64 = gives_mol_per_kg
            .iter()
            .filter(|(component, amount)| {
                **amount > 0.0 && !matches!(component.as_str(), "H+" | "Na+" | "K+")
            })
            .map(|(_, amount)| *amount)
            .sum();
        return Some(grams_per_kg * units);
    }
    let mass = substance.molar_mass_g_mol.as_ref()?.value;
    (mass > 0.0).then(|| grams_per_kg / mass * 1000.0)
}

fn total_mmol(items: &[SideItem]) -> Option<f64> {
    items.iter().map(|item| item.mmol_per_kg).sum()
}

fn total_percent(items: &[SideItem]) -> f64 {
    items.iter().map(|item| item.percent).sum()
}

fn size_of(measure: Measure, first: &[SideItem], second: &[SideItem]) -> Outcome {
    let both = total_mmol(first).zip(total_mmol(second));
    let refuse = |unit: &'static str, method: &'static str| {
        Outcome::refuse(
            unit,
            method,
            "no molar mass is known for one of the two, so the amounts cannot be weighed up",
        )
    };
    let mut outcome = match measure {
        Measure::Presence | Measure::IonicStrength => {
            Outcome::new(1.0, "", Grade::RuleOfThumb, "both are in the product")
        }
        Measure::MoleRatio => match both {
            Some((first, second)) if second > 0.0 => {
                Outcome::new(first / second, "mol/mol", Grade::Computed, "ratio of amounts of substance")
                    .by("n1/n2, n = 10·p/M·1000")
            }
            _ => refuse("mol/mol", "ratio of amounts of substance"),
        },
        Measure::SmallerMmol => match both {
            Some((first, second)) => Outcome::new(
                first.min(second),
                "mmol/kg",
                Grade::Computed,
                "the smaller of the two amounts of substance",
            ),
            None => refuse("mmol/kg", "the smaller of the two amounts of substance"),
        },
        Measure::FirstPercent => {
            Outcome::new(total_percent(first), "% w/w", Grade::Computed, "content of the first")
        }
        Measure::SecondPercent => {
            Outcome::new(total_percent(second), "% w/w", Grade::Computed, "content of the second")
        }
    };
    for item in first.iter().chain(second) {
        outcome = match item.mmol_per_kg {
            Some(mmol) => outcome.input(item.name.clone(), mmol, "mmol/kg", None),
            None => outcome.input(item.name.clone(), item.percent, "% w/w", None),
        };
    }
    outcome
}

/// Each thickener against the ionic strength of the water phase.
fn against_salt(
    question: &Question<'_>,
    rule: &IncompatibilityRule,
    ionic_strength: Option<f64>,
) -> Vec<IncompatibilityReading> {
    let Some(ionic_strength) = ionic_strength else { return Vec::new() };
    let mut readings = Vec::new();
    for line in question.composition.lines.iter().filter(|line| line.percent > 0.0) {
        let Some(material) = question.library.materials.get(&line.material) else { continue };
        let Some(tolerance) = &material.electrolyte_tolerance else { continue };
        if !material_fits(&rule.first, Some(material)) {
            continue;
        }
        let (limit, grade_of_limit) = match tolerance.ionic_strength_mol_kg {
            Some(limit) => (limit, Grade::Correlated),
            None => match rule.class_limits.get(&tolerance.class) {
                Some(limit) => (*limit, Grade::RuleOfThumb),
                None => continue,
            },
        };
        if limit <= 0.0 {
            continue;
        }
        let size = Outcome::new(
            ionic_strength / limit,
            "",
            grade_of_limit,
            "ionic strength over what the thickener bears",
        )
        .by("I/I(borne)")
        .input("ionic strength", ionic_strength, "mol/kg water", None)
        .input("borne", limit, "mol/kg water", Some(&tolerance.source))
        .input_text("tolerance", tolerance.class.clone());
        let Some(severity) = grade(rule, &size) else { continue };
        let item = SideItem {
            line: line.line,
            substance: line.material.clone(),
            name: material.name.clone(),
            percent: line.percent,
            mmol_per_kg: None,
        };
        readings.push(reading(rule, severity, vec![item], Vec::new(), size));
    }
    readings
}
