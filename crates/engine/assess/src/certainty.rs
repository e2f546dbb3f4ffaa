//! How sure the pH is: from the constants, from what the grades leave open, from the activity model and the mixed solvent.

use crate::mixture::{Mixture, direction};
use levigate_formula::aqueous::interval::{Contribution, Doubt, PhInterval, SolventShift};
use levigate_formula::aqueous::{Chemistry, System, Workspace};
use levigate_formula::composition::{Composition, Share};
use levigate_formula::library::{InWater, Library};
use levigate_formula::settle::Settled;
use levigate_formula::water_phase::WaterPhase;
use levigate_measure::Outcome;
use std::collections::BTreeMap;

/// Solvents below this share of the water phase are not worth a word, g per 100 g.
const LITTLE_SOLVENT_G: f64 = 0.5;

/// How sure the pH is.
pub(crate) struct Certainty {
    /// The interval of the pH of the product as such.
    pub(crate) interval: PhInterval,
    /// Whether the shift of the solvent is a guess for one of the solvents.
    pub(crate) guessed: bool,
    /// Standard uncertainty from what the grades leave open, which water and air do not change, pH.
    contents: f64,
}

impl Certainty {
    /// The interval of the pH of another state of the product, diluted or in air: its own constants and coefficients, the same contents.
    pub(crate) fn of_state(
        &self,
        outcome: Outcome,
        system: &System,
        totals: &[f64],
        workspace: &Workspace,
    ) -> Outcome {
        let sensitivities = system.sensitivities(workspace);
        let interval = system.ph_interval(totals, workspace, &sensitivities, &Doubt::default());
        let half = 2.0 * (interval.standard_uncertainty.powi(2) + self.contents.powi(2)).sqrt();
        outcome.within(interval.ph - half, interval.ph + half, Some(0.95)).term(
            "content of the raw materials",
            self.contents,
            "pH",
        )
    }
}

/// The interval of the pH of the product as such.
pub(crate) fn interval(
    mixture: &Mixture,
    composition: &Composition,
    library: &Library,
    chemistry: &Chemistry,
) -> Certainty {
    let (solvent, guessed) = solvent_shift(&mixture.phase, library, chemistry);
    let doubt = Doubt { solvent: (solvent.fraction > 0.0).then_some(solvent), ..Doubt::default() };
    let mut interval =
        mixture.system.ph_interval(&mixture.totals, &mixture.workspace, &mixture.sensitivities, &doubt);
    let mut contents: f64 = 0.0;
    for (key, share) in &composition.substances {
        if let Some(part) = amount(mixture, key, share, library) {
            contents += part.standard_uncertainty.powi(2);
            interval.contributions.push(part);
        }
    }
    interval.contributions.sort_by(|a, b| {
        b.standard_uncertainty.total_cmp(&a.standard_uncertainty).then_with(|| a.name.cmp(&b.name))
    });
    let variance: f64 = interval.contributions.iter().map(|part| part.standard_uncertainty.powi(2)).sum();
    interval.standard_uncertainty = variance.sqrt();
    interval.low = interval.ph - 2.0 * interval.standard_uncertainty;
    interval.high = interval.ph + 2.0 * interval.standard_uncertainty;
    Certainty { interval, guessed, contents: contents.sqrt() }
}

/// Shift of the acid constants by what mixes with the water of a phase, and whether a part of it is a guess.
pub(crate) fn solvent_shift(
    phase: &WaterPhase,
    library: &Library,
    chemistry: &Chemistry,
) -> (SolventShift, bool) {
    let hundred = phase.water_g + phase.neutral_g.values().sum::<f64>();
    let solvents: BTreeMap<String, f64> = phase
        .neutral_g
        .iter()
        .filter(|(key, grams)| {
            **grams >= LITTLE_SOLVENT_G / 100.0 * hundred && mixes_as_solvent(key, library)
        })
        .map(|(key, grams)| (key.clone(), *grams))
        .collect();
    SolventShift::of(chemistry, &solvents, phase.water_g)
}

/// Polyols, glycols and alcohols change the solvent; sugars, urea and amides count little and are left out.
fn mixes_as_solvent(key: &str, library: &Library) -> bool {
    library.substances.get(key).is_some_and(|substance| {
        substance
            .roles
            .iter()
            .any(|role| matches!(role.as_str(), "solvent" | "humectant" | "polyol" | "alcohol"))
            && substance.density_kg_m3.is_some()
    })
}

/// What the range of one substance's content does to the pH: the range is taken as a uniform spread, all that the substance
/// brings moves together.
fn amount(mixture: &Mixture, key: &str, share: &Share, library: &Library) -> Option<Contribution> {
    let (name, pull) = content_pull(mixture, key, share, library)?;
    let size = pull.abs();
    (size > 1e-6).then_some(Contribution { name, standard_uncertainty: size })
}

/// Name of the doubt about the content of a substance, and what one standard uncertainty of it does to the pH, with its sign.
pub(crate) fn content_pull(
    mixture: &Mixture,
    key: &str,
    share: &Share,
    library: &Library,
) -> Option<(String, f64)> {
    let half = 0.5 * (share.high - share.low);
    let substance = library.substances.get(key)?;
    let brings_ions = matches!(substance.in_water, InWater::Components { .. } | InWater::Polyion { .. });
    if half <= 0.0 || !brings_ions {
        return None;
    }
    let one_percent = WaterPhase::of_constituents(
        &[levigate_formula::composition::ConstituentShare {
            substance: key.to_owned(),
            low: 100.0,
            typical: 100.0,
            high: 100.0,
        }],
        library,
    );
    let pull = mixture.ph_slope(&one_percent) * half / 3f64.sqrt();
    pull.is_finite().then(|| (format!("content of {}", substance.name), pull))
}

/// The pH as a result for people.
pub(crate) fn neat(mixture: &Mixture, certainty: &Certainty) -> Outcome {
    let mut outcome = certainty.interval.outcome(&mixture.system, &mixture.speciation);
    if certainty.guessed {
        outcome = outcome.note(
            "assumed",
            "the shift of acid constants in this mixed solvent is a rule from memory; it widens the interval and does not move the value",
        );
    }
    if !mixture.not_in_model.is_empty() {
        let names: Vec<&str> = mixture.not_in_model.keys().map(String::as_str).collect();
        outcome = outcome.note("missing", format!("no constants are on file for {}", names.join(", ")));
    }
    outcome
}

/// The interval of an adjuster's amount: what the doubt about the pH is worth in percent of it.
pub(crate) fn adjuster(
    percent: Outcome,
    mixture: &Mixture,
    interval: &PhInterval,
    settled: &Settled<'_>,
    line: usize,
    library: &Library,
) -> Outcome {
    let Some(value) = percent.value else { return percent };
    let slope = mixture.ph_slope(&direction(settled, line, library));
    if slope == 0.0 || !slope.is_finite() {
        return percent;
    }
    let half = 2.0 * interval.standard_uncertainty / slope.abs();
    let mut outcome = percent
        .within((value - half).max(0.0), value + half, Some(0.95))
        .proved_by("tests/cross/scenarios.toml")
        .input("slope", slope, "pH per %", None)
        .note("titrate", "titrate a 50 g aliquot before the batch; add nine tenths first");
    for part in interval.contributions.iter().take(3) {
        outcome = outcome.term(part.name.clone(), part.standard_uncertainty / slope.abs(), "%");
    }
    outcome
}
