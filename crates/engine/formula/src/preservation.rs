//! What is left of each preservative at a pH, beside what is published about its effect. Never a pass: a challenge test decides.
//!
//! Working amount: `w = c * a`, with `a` the share in the working form (the undissociated share of a weak acid; 1 where the pH does
//! not matter). In the water phase, with oil beside it: `C = m * a / (K * V_oil * a + V_water)`, which is the two-phase balance
//! `C_w = C (q + 1) / (K q + 1/a)` written in masses and volumes.
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | `c` | content, expressed as the form that acts | % w/w |
//! | `m` | the same in a kilogram of product | mg |
//! | `K` | oil-water partition of the neutral form | 1 |
//! | `V_oil`, `V_water` | volumes in a kilogram of product | L |
//! | `q` | `V_oil / V_water` | 1 |
//!
//! `K` is taken from the octanol-water log P only as a stand-in and flagged: real oils differ by factors. Valid for at most about
//! 10 % oil, no micelles; binding to surfactants is said, not computed, since no published constant is held. Published minimum
//! inhibitory concentrations (MIC) are brought to the working form at the pH of their test; where that pH is not published they are
//! not compared. A MIC ranks; it never passes. Source of the balance: classical two-phase relation, from memory. Proved by the
//! undissociated shares of `tests/published/preservation.toml`.

mod hurdles;
mod windows;

pub use hurdles::{Hurdle, HurdleReading, HurdleTrait, hurdles};
pub use windows::{Overlap, Removal, Window, WindowKind, overlap};

use levigate_measure::elementary::Elementary as _;
use levigate_measure::written::{Described, Description, result};
use levigate_measure::{Grade, Outcome, Sourced};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

use crate::composition::Composition;
use crate::library::{InWater, InhibitoryConcentration, Library, Preservative, Substance, WorkingForm};

/// A test organism.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Organism {
    /// Stable key (`p-aeruginosa`).
    pub key: String,
    /// Name as it is written.
    pub name: String,
    /// `gram-positive`, `gram-negative`, `yeast` or `mould`.
    pub group: String,
    /// Source key.
    pub source: String,
}

/// A published measurement that does not fit the picture that only the undissociated form counts.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CounterEvidence {
    /// Stable key.
    pub key: String,
    /// Substance key it is expressed as.
    pub substance: String,
    /// Organism in words.
    pub organism: String,
    /// Effect in words.
    pub effect: String,
    /// pH of the test.
    pub ph: f64,
    /// Total, % w/w.
    pub total_percent: f64,
    /// Undissociated, % w/w.
    pub undissociated_percent: f64,
    /// Source key.
    pub source: String,
}

/// Facts of preservation that belong to no single substance.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct PreservationFacts {
    /// Organisms by key.
    pub organisms: BTreeMap<String, Organism>,
    /// Counter-evidence by key.
    pub counter_evidence: BTreeMap<String, CounterEvidence>,
    /// Properties that make a product a low risk, by key.
    pub hurdles: BTreeMap<String, Hurdle>,
}

/// The acid of the equilibrium model behind a preservative.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Acid<'a> {
    /// Species that does the work (`HBenzoate`).
    pub species: &'a str,
    /// Component it is formed from (`Benzoate-`), where the facts give it.
    pub component: Option<&'a str>,
}

/// What the equilibrium says about an acid: its undissociated share in the product, and its pKa for the pH of a test.
pub trait Dissociation {
    /// Share in the working species at the pH of the question, 0 to 1.
    fn undissociated_share(&self, acid: Acid<'_>) -> Option<f64>;
    /// Interval of that share at the pH taken as exact, coverage 0.95; none where nothing is known of it.
    fn share_interval(&self, acid: Acid<'_>) -> Option<[f64; 2]>;
    /// pKa at 25 C and zero ionic strength, with its source.
    fn pka(&self, acid: Acid<'_>) -> Option<Sourced<f64>>;
}

/// The question at one pH.
#[derive(Clone, Copy)]
pub struct PreservationQuestion<'a> {
    /// What the product consists of.
    pub composition: &'a Composition,
    /// The facts about it.
    pub library: &'a Library,
    /// Facts of preservation.
    pub facts: &'a PreservationFacts,
    /// What the equilibrium says.
    pub dissociation: &'a dyn Dissociation,
    /// pH.
    pub ph: f64,
}

struct WorkingMic;
impl Described for WorkingMic {
    const OF: Description =
        Description::computed("mg/L", "published value times the working share at the pH of the test")
            .by("c = MIC * share(pH of the test)");
}

struct TimesMic;
impl Described for TimesMic {
    const OF: Description = Description::computed(
        "",
        "amount at work in the water phase over the published values; its middle stands for it",
    )
    .note("ranks", "ranks, never passes: only a challenge test does");
}

struct Weighed;
impl Described for Weighed {
    const OF: Description = Description::computed("% w/w", "sum over the lines that bring it, as supplied")
        .proved_by("exact arithmetic");
}

/// A published MIC beside the amount in the product.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct MicReading {
    /// Organism key.
    pub organism: String,
    /// Organism as it is written.
    pub name: String,
    /// Group of the organism.
    pub group: String,
    /// Published value, lowest, mg/L in total.
    pub total_low_mg_l: f64,
    /// Published value, highest.
    pub total_high_mg_l: f64,
    /// pH of the test.
    pub test_ph: Option<f64>,
    /// In the working form at the pH of the test, lowest, mg/L.
    #[serde(serialize_with = "result::<WorkingMic, _, _>")]
    pub working_low_mg_l: Option<f64>,
    /// In the working form, highest.
    #[serde(serialize_with = "result::<WorkingMic, _, _>")]
    pub working_high_mg_l: Option<f64>,
    /// Amount in the water phase over the highest and over the lowest published value; ranks, never passes.
    #[serde(serialize_with = "result::<TimesMic, _, _>")]
    pub times_mic: Option<[f64; 2]>,
    /// Why it is not compared.
    pub not_compared: Option<String>,
    /// Source key.
    pub source: String,
}

/// One preservative at one pH.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PreservativeReading {
    /// Substance key as weighed.
    pub substance: String,
    /// Name.
    pub name: String,
    /// Substance key of the form that acts.
    pub acts_as: String,
    /// Name of the form that acts.
    pub acts_as_name: String,
    /// Lines it comes from.
    pub lines: Vec<usize>,
    /// As weighed, % w/w.
    #[serde(serialize_with = "result::<Weighed, _, _>")]
    pub weighed_percent: f64,
    /// Expressed as the form that acts, % w/w.
    pub total: Outcome,
    /// Share in the working form, 0 to 1.
    pub share: Outcome,
    /// Working form, % w/w of the product, oil left aside.
    pub working: Outcome,
    /// Working form in the water phase after the oil took its part, mg/L of water phase.
    pub in_water: Outcome,
    /// pH window of use, and whether the pH lies in it.
    pub window: Option<WindowReading>,
    /// Strength by group as published.
    pub spectrum: BTreeMap<String, String>,
    /// Published MICs.
    pub mics: Vec<MicReading>,
    /// Measurements that do not fit the simple picture.
    pub counter_evidence: Vec<CounterEvidence>,
    /// What takes it out of action, in words.
    pub inactivation: Option<Sourced<String>>,
    /// Lines whose raw material may bind it.
    pub binders: Vec<usize>,
    /// Stands in the EU list of permitted preservatives.
    pub listed_eu: bool,
    /// Add below this temperature, C.
    pub add_below_c: Option<Sourced<f64>>,
}

/// A pH window and where the pH lies.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct WindowReading {
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
    /// The pH lies within.
    pub inside: bool,
    /// Source key.
    pub source: String,
}

/// Volumes of oil and water in a kilogram of product.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Phases {
    /// Oil, L.
    pub oil_l: f64,
    /// Water phase, L.
    pub water_l: f64,
    /// Oils without a density, taken as that of water.
    pub oils_without_density: Vec<String>,
}

impl Phases {
    /// Reads the phases of a composition. The water phase is everything that is neither oil nor insoluble, at 1 kg/L.
    #[must_use]
    pub fn of(composition: &Composition, library: &Library) -> Self {
        let mut phases = Self { oil_l: 0.0, water_l: 0.0, oils_without_density: Vec::new() };
        for (key, share) in &composition.substances {
            let kg = share.percent / 100.0;
            let substance = library.substances.get(key);
            match substance.map(|substance| &substance.in_water) {
                Some(InWater::Oil) => {
                    let density = substance.and_then(|substance| substance.density_kg_m3.as_ref());
                    match density.filter(|density| density.value > 0.0) {
                        Some(density) => phases.oil_l += kg * 1000.0 / density.value,
                        None => {
                            phases.oil_l += kg;
                            if kg > 0.0 {
                                phases.oils_without_density.push(key.clone());
                            }
                        }
                    }
                }
                Some(InWater::Insoluble) => {}
                _ => phases.water_l += kg,
            }
        }
        phases
    }
}

/// Reads every preservative and booster of the product at one pH, in the order of their keys.
#[must_use]
pub fn preservatives(question: &PreservationQuestion<'_>) -> Vec<PreservativeReading> {
    let phases = Phases::of(question.composition, question.library);
    question
        .composition
        .substances
        .iter()
        .filter(|(_, share)| share.percent > 0.0)
        .filter_map(|(key, share)| {
            let record = question.library.preservatives.get(key)?;
            let lines = share.from.iter().map(|from| from.line).collect();
            Some(read(question, &phases, record, share.percent, lines))
        })
        .collect()
}

fn read(
    question: &PreservationQuestion<'_>,
    phases: &Phases,
    record: &Preservative,
    percent: f64,
    mut lines: Vec<usize>,
) -> PreservativeReading {
    lines.sort_unstable();
    lines.dedup();
    let weighed = question.library.substances.get(&record.substance);
    let acting = question.library.substances.get(&record.acts_as);
    let total = total(record, weighed, acting, percent);
    let share = share(question, record, acting);
    let working = match (total.value, share.value) {
        (Some(amount), Some(part)) => {
            let method = "content times the share in the working form";
            let found = Outcome::new(amount * part, "% w/w", Grade::Computed, method)
                .by("w = c·a")
                .proved_by("tests/published/preservation.toml");
            // Ends are multiplied, so that the interval holds what both leave open.
            match (total.low.zip(share.low), total.high.zip(share.high)) {
                (Some((c_low, a_low)), Some((c_high, a_high))) => {
                    found.within(c_low * a_low, c_high * a_high, Some(0.95))
                }
                _ => match share.low.zip(share.high) {
                    Some((a_low, a_high)) => found.within(amount * a_low, amount * a_high, Some(0.95)),
                    None => found,
                },
            }
        }
        _ => Outcome::refuse(
            "% w/w",
            "content times the share in the working form",
            share.refused.clone().or_else(|| total.refused.clone()).unwrap_or_default(),
        ),
    };
    let in_water = in_water(phases, acting, total.value, share.value);
    let pka = match &record.working_form {
        WorkingForm::Undissociated { species } => {
            question.dissociation.pka(Acid { species, component: acting_component(acting) })
        }
        WorkingForm::Whole | WorkingForm::Cation => None,
    };
    let mics = question
        .library
        .inhibitory
        .iter()
        .filter(|mic| mic.substance == record.acts_as || mic.substance == record.substance)
        .map(|mic| read_mic(question, record, mic, pka.as_ref(), in_water.value))
        .collect();
    let plain = |substance: Option<&Substance>, key: &str| {
        substance.map_or_else(
            || key.to_owned(),
            |substance| substance.inci.clone().unwrap_or_else(|| substance.name.clone()),
        )
    };
    PreservativeReading {
        substance: record.substance.clone(),
        name: plain(weighed, &record.substance),
        acts_as: record.acts_as.clone(),
        acts_as_name: acting.map_or_else(|| record.acts_as.clone(), |substance| substance.name.clone()),
        weighed_percent: percent,
        total,
        share,
        working,
        in_water,
        window: record.ph_window.as_ref().map(|window| WindowReading {
            low: window.low,
            high: window.high,
            inside: (window.low..=window.high).contains(&question.ph),
            source: window.source.clone(),
        }),
        spectrum: record.spectrum.clone(),
        mics,
        counter_evidence: question
            .facts
            .counter_evidence
            .values()
            .filter(|evidence| evidence.substance == record.acts_as)
            .cloned()
            .collect(),
        inactivation: record.inactivation.clone(),
        binders: binders(question, record, &lines),
        listed_eu: record.listed_eu,
        add_below_c: record.add_below_c.clone(),
        lines,
    }
}

/// The content expressed as the form that acts.
fn total(
    record: &Preservative,
    weighed: Option<&Substance>,
    acting: Option<&Substance>,
    percent: f64,
) -> Outcome {
    if record.acts_as == record.substance {
        return Outcome::new(percent, "% w/w", Grade::Computed, "sum over all lines");
    }
    let method = format!("sum over all lines, expressed as {}", record.acts_as);
    let mass = |substance: Option<&Substance>| {
        substance.and_then(|substance| substance.molar_mass_g_mol.as_ref()).map(|mass| mass.value)
    };
    match (mass(weighed), mass(acting)) {
        (Some(of_weighed), Some(of_acting)) if of_weighed > 0.0 => {
            let molecules = molecules(weighed, acting);
            Outcome::new(percent * molecules * of_acting / of_weighed, "% w/w", Grade::Computed, method)
                .by("c = p·n·M(acting)/M(weighed)")
                .input("as weighed", percent, "% w/w", None)
                .input("M as weighed", of_weighed, "g/mol", None)
                .input("M of the form that acts", of_acting, "g/mol", None)
        }
        _ => Outcome::refuse("% w/w", method, "a molar mass is not known"),
    }
}

/// Molecules of the acting form that one of the weighed form gives, from their common component.
fn molecules(weighed: Option<&Substance>, acting: Option<&Substance>) -> f64 {
    let component = acting_component(acting);
    let per =
        |substance: Option<&Substance>| match (substance.map(|substance| &substance.in_water), component) {
            (Some(InWater::Components { gives, .. }), Some(component)) => gives.get(component).copied(),
            _ => None,
        };
    match (per(weighed), per(acting)) {
        (Some(of_weighed), Some(of_acting)) if of_acting > 0.0 => of_weighed / of_acting,
        _ => 1.0,
    }
}

/// The component of the equilibrium model an acid dissolves into, protons left aside.
#[must_use]
pub fn acting_component(acting: Option<&Substance>) -> Option<&str> {
    match &acting?.in_water {
        InWater::Components { gives, .. } => gives
            .iter()
            .filter(|(name, amount)| name.as_str() != "H+" && **amount > 0.0)
            .map(|(name, _)| name.as_str())
            .next(),
        _ => None,
    }
}

fn share(question: &PreservationQuestion<'_>, record: &Preservative, acting: Option<&Substance>) -> Outcome {
    match &record.working_form {
        WorkingForm::Whole | WorkingForm::Cation => {
            Outcome::new(1.0, "", Grade::Computed, "works whatever the pH within its window")
                .source(record.source.clone())
        }
        WorkingForm::Undissociated { species } => {
            let acid = Acid { species, component: acting_component(acting) };
            match question.dissociation.undissociated_share(acid) {
                Some(share) => {
                    let found = Outcome::new(
                        share.clamp(0.0, 1.0),
                        "",
                        Grade::Computed,
                        "undissociated share, from the equilibrium",
                    );
                    let found = match question.dissociation.share_interval(acid) {
                        Some([low, high]) => found
                            .within(low, high, Some(0.95))
                            .note("at-this-ph", "at this pH taken as exact; the interval is that of the constant and the coefficients"),
                        None => found,
                    };
                    found
                        .proved_by("tests/published/preservation.toml")
                        .input("pH", question.ph, "", None)
                        .input_text("species", species.clone())
                        .note(
                            "not-the-whole-story",
                            "The undissociated form does most of the work, but published tests show that it is not the whole of it.",
                        )
                }
                None => Outcome::refuse(
                    "",
                    "undissociated share, from the equilibrium",
                    format!("the equilibrium does not know {species}"),
                ),
            }
        }
    }
}

fn in_water(
    phases: &Phases,
    acting: Option<&Substance>,
    total_percent: Option<f64>,
    share: Option<f64>,
) -> Outcome {
    let method = "working form in the water phase";
    let (Some(total), Some(share)) = (total_percent, share) else {
        return Outcome::refuse("mg/L", method, "the working share is not known");
    };
    if phases.water_l <= 1e-9 {
        return Outcome::refuse("mg/L", method, "the product has no water phase");
    }
    let mg = total * 10_000.0;
    let log_p = acting.and_then(|substance| substance.log_p.as_ref());
    let partition = log_p.map(|log_p| 10f64.to_the(log_p.value));
    let concentration = |partition: f64| mg * share / (partition * phases.oil_l * share + phases.water_l);
    if phases.oil_l <= 1e-9 {
        return Outcome::new(concentration(0.0), "mg/L", Grade::Computed, method)
            .by("C = m·a/V(water)")
            .input("water phase", phases.water_l, "L/kg", None);
    }
    let Some((log_p, partition)) = log_p.zip(partition) else {
        return Outcome::new(concentration(0.0), "mg/L", Grade::RuleOfThumb, method)
            .within(f64::NAN, concentration(0.0), None)
            .by("C = m·a/V(water)")
            .note(
                "partition-unknown",
                "No partition is held, so what the oil takes is not counted: this is an upper bound.",
            );
    };
    let mut outcome = Outcome::new(concentration(partition), "mg/L", Grade::RuleOfThumb, method)
        .within(concentration(partition * 10.0), concentration(partition / 10.0), None)
        .by("C = m·a/(K·V(oil)·a + V(water))")
        .valid_for("up to about 10 % oil, no micelles")
        .input("log P", log_p.value, "", Some(&log_p.source))
        .input("oil", phases.oil_l, "L/kg", None)
        .input("water phase", phases.water_l, "L/kg", None)
        .note(
            "stand-in",
            "The octanol-water partition stands in for that of the oil; real oils differ by a factor of ten and more, which the interval carries.",
        );
    if !phases.oils_without_density.is_empty() {
        outcome = outcome.note(
            "density-assumed",
            format!("Taken with the density of water: {}.", phases.oils_without_density.join(", ")),
        );
    }
    outcome
}

fn read_mic(
    question: &PreservationQuestion<'_>,
    record: &Preservative,
    mic: &InhibitoryConcentration,
    pka: Option<&Sourced<f64>>,
    in_water_mg_l: Option<f64>,
) -> MicReading {
    let organism = question.facts.organisms.get(&mic.organism);
    let at_test = match &record.working_form {
        WorkingForm::Whole | WorkingForm::Cation => Ok(1.0),
        WorkingForm::Undissociated { .. } => match mic.test_ph {
            None => Err("the pH of the test is not published".to_owned()),
            Some(ph) => pka
                .map(|pka| 1.0 / (1.0 + 10f64.to_the(ph - pka.value)))
                .ok_or_else(|| "no pKa is held to bring the test to the working form".to_owned()),
        },
    };
    let working = at_test.as_ref().ok().map(|share| (mic.low_mg_l * share, mic.high_mg_l * share));
    MicReading {
        organism: mic.organism.clone(),
        name: organism.map_or_else(|| mic.organism.clone(), |organism| organism.name.clone()),
        group: organism.map_or_else(String::new, |organism| organism.group.clone()),
        total_low_mg_l: mic.low_mg_l,
        total_high_mg_l: mic.high_mg_l,
        test_ph: mic.test_ph,
        working_low_mg_l: working.map(|(low, _)| low),
        working_high_mg_l: working.map(|(_, high)| high),
        times_mic: working
            .zip(in_water_mg_l)
            .filter(|((low, _), _)| *low > 0.0)
            .map(|((low, high), amount)| [amount / high, amount / low]),
        not_compared: at_test.err(),
        source: mic.source.clone(),
    }
}

/// Lines with a surfactant, solubiliser or emulsifier, which may take part of the preservative away.
fn binders(question: &PreservationQuestion<'_>, record: &Preservative, own: &[usize]) -> Vec<usize> {
    if record.inactivation.is_none() {
        return Vec::new();
    }
    question
        .composition
        .lines
        .iter()
        .filter(|line| line.percent > 0.0 && !own.contains(&line.line))
        .filter(|line| {
            question.library.materials.get(&line.material).is_some_and(|material| {
                material
                    .functions
                    .iter()
                    .any(|function| matches!(function.as_str(), "surfactant" | "solubiliser" | "emulsifier"))
            })
        })
        .map(|line| line.line)
        .collect()
}

/// Groups of microbes a system must cover, in order.
pub const GROUPS: [&str; 4] = ["gram-positive", "gram-negative", "yeast", "mould"];

/// What is published against one group.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Coverage {
    /// Group.
    pub group: String,
    /// Preservatives with a published strength, best first.
    pub by: Vec<(String, String)>,
    /// Best published strength; absent when nothing is published.
    pub best: Option<String>,
    /// Nothing good or fair is published.
    pub gap: bool,
}

/// Coverage by group. A preservative outside its pH window, or with less than one part in a hundred left in its working form, does
/// not count.
#[must_use]
pub fn coverage(readings: &[PreservativeReading]) -> Vec<Coverage> {
    GROUPS
        .iter()
        .map(|group| {
            let mut by: Vec<(String, String)> = readings
                .iter()
                .filter(|reading| reading.window.as_ref().is_none_or(|window| window.inside))
                .filter(|reading| reading.share.value.is_some_and(|share| share >= 0.01))
                .filter_map(|reading| Some((reading.name.clone(), reading.spectrum.get(*group)?.clone())))
                .collect();
            by.sort_by(|a, b| strength(&b.1).cmp(&strength(&a.1)).then_with(|| a.0.cmp(&b.0)));
            let best = by.first().map(|(_, strength)| strength.clone());
            Coverage {
                group: (*group).to_owned(),
                gap: best.as_deref().map_or(0, strength) < strength("fair"),
                best,
                by,
            }
        })
        .collect()
}

fn strength(word: &str) -> u8 {
    match word {
        "good" => 3,
        "fair" => 2,
        "weak" => 1,
        _ => 0,
    }
}

/// What can be said in words. It never says that the product is preserved.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Statement {
    /// What the facts support.
    pub supported: Vec<String>,
    /// What is missing.
    pub missing: Vec<String>,
    /// What is required in any case.
    pub required: String,
}

/// Puts coverage and readings at the least favourable pH into words.
#[must_use]
pub fn statement(readings: &[PreservativeReading], coverage: &[Coverage]) -> Statement {
    let mut said = Statement {
        required: "A challenge test in a competent laboratory is required; nothing here replaces it."
            .to_owned(),
        ..Statement::default()
    };
    if readings.is_empty() {
        said.missing.push("No preservative known to the facts is in the formula.".to_owned());
    }
    for group in coverage {
        match (&group.best, group.gap) {
            (Some(best), false) => {
                let names: Vec<&str> = group
                    .by
                    .iter()
                    .filter(|(_, strength)| strength == best)
                    .map(|(name, _)| name.as_str())
                    .collect();
                said.supported.push(format!("{}: {} ({best}).", words(&group.group), names.join(", ")));
            }
            (Some(best), true) => {
                said.missing.push(format!("{}: only {best} is published.", words(&group.group)));
            }
            (None, _) => said
                .missing
                .push(format!("{}: nothing is published for what is in the formula.", words(&group.group))),
        }
    }
    for reading in readings {
        if let Some(window) = reading.window.as_ref().filter(|window| !window.inside) {
            said.missing.push(format!(
                "{} is used from pH {} to {}; the product leaves that window.",
                reading.name, window.low, window.high
            ));
        }
        if let Some(share) = reading.share.value.filter(|share| *share < 0.05) {
            said.missing.push(format!(
                "Of {} only {:.1} % is left in the working form.",
                reading.name,
                100.0 * share
            ));
        }
        if !reading.listed_eu {
            said.missing.push(format!("{} is not a listed preservative in the EU.", reading.name));
        }
        if !reading.binders.is_empty() {
            said.missing.push(format!(
                "How much of {} the surfactants and solubilisers bind is not known.",
                reading.name
            ));
        }
    }
    said
}

fn words(group: &str) -> &str {
    match group {
        "gram-positive" => "Gram-positive bacteria",
        "gram-negative" => "Gram-negative bacteria",
        "yeast" => "Yeasts",
        "mould" => "Moulds",
        other => other,
    }
}
