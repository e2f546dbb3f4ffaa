//! Preservation at both edges of the pH window and at the pH as it stands: working shares from the equilibrium at that pH.
//!
//! The mixture is brought to each pH with an inert strong acid or base (chloride, sodium) that is not part of the formula, as the
//! drift of a product in its window would be.

use crate::acids::share_interval;
use crate::mixture::Mixture;
use levigate_formula::aqueous::interval::coefficient_uncertainty;
use levigate_formula::aqueous::system::SpeciesFact;
use levigate_formula::aqueous::{Portion, Ray, Reach, System, Workspace};
use levigate_formula::composition::Composition;
use levigate_formula::library::{Library, WorkingForm};
use levigate_formula::preservation::{
    Acid, Dissociation, HurdleReading, Overlap, PreservationFacts, PreservationQuestion, PreservativeReading,
    hurdles, overlap, preservatives,
};
use levigate_measure::written::{Described, Description, result};
use levigate_measure::{Outcome, Sourced};
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};

/// Most strong acid or base tried, mol/kg water.
const MOST_SHIFT: f64 = 20.0;

/// Groups of microbes a preservation must cover.
pub const GROUPS: [&str; 4] = ["gram-positive", "gram-negative", "yeast", "mould"];

struct LookedAt;
impl Described for LookedAt {
    const OF: Description = Description::computed(
        "",
        "edge of the window wanted, or equilibrium of the water phase where the product stands",
    )
    .proved_by("tests/cross/aqueous_reference.toml");
}

/// Preservation of the product.
#[derive(Clone, Debug, Serialize)]
pub struct PreservationReading {
    /// At each pH looked at: the edges of the window and the pH as it stands.
    pub at: Vec<PreservationAt>,
    /// Groups of microbes and how strongly the preservatives on file cover them, best strength named.
    pub coverage: BTreeMap<String, String>,
    /// Properties of the product that hold microbes back.
    pub hurdles: Vec<HurdleReading>,
    /// What always must be said.
    pub words: &'static str,
}

/// Preservatives at one pH.
#[derive(Clone, Debug, Serialize)]
pub struct PreservationAt {
    /// `low edge`, `as it stands` or `high edge`.
    pub edge: &'static str,
    /// pH.
    #[serde(serialize_with = "result::<LookedAt, _, _>")]
    pub ph: f64,
    /// Readings.
    pub preservatives: Vec<PreservativeReading>,
}

/// What an equilibrium at one pH says about acids.
struct AtPh<'a> {
    system: &'a System,
    /// Molalities of the species, mol/kg water.
    molalities: &'a [f64],
    /// Totals of the components, mol/kg water.
    totals: &'a [f64],
    /// Standard uncertainty of log10 of an activity coefficient there.
    coefficient_log10: f64,
}

impl<'a> AtPh<'a> {
    fn as_it_stands(mixture: &'a Mixture) -> Self {
        Self {
            system: &mixture.system,
            molalities: mixture.workspace.molalities(),
            totals: &mixture.totals,
            coefficient_log10: coefficient_uncertainty(mixture.speciation.ionic_strength),
        }
    }

    fn shifted(mixture: &'a Mixture, workspace: &'a Workspace) -> Self {
        Self {
            system: &mixture.system,
            molalities: workspace.molalities(),
            totals: workspace.totals_given(),
            coefficient_log10: coefficient_uncertainty(workspace.ionic_strength()),
        }
    }

    /// The species of an acid, its place, and the component it is counted by.
    fn form<'s>(&'s self, acid: &Acid<'s>) -> Option<(usize, &'s SpeciesFact, &'s str)> {
        let facts = self.system.species();
        let place = facts.iter().position(|fact| fact.name == acid.species)?;
        let fact = &facts[place];
        let component = match acid.component {
            Some(component) => component,
            None => fact.components.keys().find(|name| *name != "H+")?,
        };
        Some((place, fact, component))
    }
}

impl Dissociation for AtPh<'_> {
    fn undissociated_share(&self, acid: Acid<'_>) -> Option<f64> {
        let (place, fact, component) = self.form(&acid)?;
        let count = f64::from(*fact.components.get(component)?);
        let total = self.totals[self.system.place(component)?];
        (total > 0.0).then(|| count * self.molalities[place] / total)
    }

    fn share_interval(&self, acid: Acid<'_>) -> Option<[f64; 2]> {
        let (_, fact, _) = self.form(&acid)?;
        Some(share_interval(self.undissociated_share(acid)?, fact, self.coefficient_log10))
    }

    fn pka(&self, acid: Acid<'_>) -> Option<Sourced<f64>> {
        let (_, fact, component) = self.form(&acid)?;
        let protons = fact.components.get("H+").copied()?;
        let below = self
            .system
            .species()
            .iter()
            .find(|other| {
                other.components.get(component) == fact.components.get(component)
                    && other.components.get("H+").copied().unwrap_or(0) == protons - 1
                    && other.components.keys().all(|name| *name == component || name == "H+")
            })
            .map_or(0.0, |other| other.log10_k);
        Some(Sourced { value: fact.log10_k - below, source: fact.source.clone() })
    }
}

/// The mixture at a pH it does not have by itself.
struct Shifter<'a> {
    mixture: &'a Mixture,
    base: Ray,
    acid: Ray,
}

impl<'a> Shifter<'a> {
    fn new(mixture: &'a Mixture) -> Self {
        // A mole of strong base or acid: its inert ion, and what it does to the protons.
        let with = |ion: &str, protons: f64| Ray {
            base: Portion::of_totals(&mixture.totals, mixture.neutral_molality),
            along: Portion::of_components(
                mixture
                    .system
                    .components()
                    .iter()
                    .map(|name| match name.as_str() {
                        "H+" => protons,
                        name if name == ion => 1.0,
                        _ => 0.0,
                    })
                    .collect(),
            ),
            most: MOST_SHIFT,
        };
        Self { mixture, base: with("Na+", -1.0), acid: with("Cl-", 1.0) }
    }

    /// Solves at a pH; `None` where no amount of strong acid or base brings the mixture there.
    fn at<'w>(&self, ph: f64, workspace: &'w mut Workspace) -> Option<AtPh<'w>>
    where
        'a: 'w,
    {
        let ray = if ph > self.mixture.speciation.ph { &self.base } else { &self.acid };
        match self.mixture.system.solve_to_ph(ray, ph, workspace) {
            Ok(Reach::At(_)) => Some(AtPh::shifted(self.mixture, workspace)),
            _ => None,
        }
    }
}

/// What preservation is asked about.
pub(crate) struct Ask<'a> {
    pub(crate) composition: &'a Composition,
    pub(crate) library: &'a Library,
    pub(crate) facts: &'a PreservationFacts,
    pub(crate) window: Option<[f64; 2]>,
    pub(crate) water_activity: &'a Outcome,
}

/// Reads preservation at the edges of the window and as it stands.
pub(crate) fn preservation(ask: &Ask<'_>, mixture: &Mixture) -> PreservationReading {
    let mut at = Vec::new();
    let question = |dissociation: &dyn Dissociation, ph: f64| -> Vec<PreservativeReading> {
        preservatives(&PreservationQuestion {
            composition: ask.composition,
            library: ask.library,
            facts: ask.facts,
            dissociation,
            ph,
        })
    };
    let stands = AtPh::as_it_stands(mixture);
    let as_it_stands = PreservationAt {
        edge: "as it stands",
        ph: mixture.speciation.ph,
        preservatives: question(&stands, mixture.speciation.ph),
    };
    let any = !as_it_stands.preservatives.is_empty();
    match ask.window {
        Some([low, high]) if any => {
            let shifter = Shifter::new(mixture);
            let mut workspace = Workspace::new();
            let mut edge = |name: &'static str, ph: f64| {
                let at = shifter.at(ph, &mut workspace)?;
                Some(PreservationAt { edge: name, ph, preservatives: question(&at, ph) })
            };
            at.extend(edge("low edge", low));
            at.push(as_it_stands);
            at.extend(edge("high edge", high));
        }
        _ => at.push(as_it_stands),
    }
    let hurdle_question = PreservationQuestion {
        composition: ask.composition,
        library: ask.library,
        facts: ask.facts,
        dissociation: &stands,
        ph: mixture.speciation.ph,
    };
    PreservationReading {
        coverage: coverage(at.last()),
        hurdles: hurdles(&hurdle_question, Some(ask.water_activity)),
        at,
        words: "A reading, not a pass: whether the product is preserved only a challenge test can show.",
    }
}

/// Best published strength per group among the preservatives that are inside their window.
fn coverage(at: Option<&PreservationAt>) -> BTreeMap<String, String> {
    let order = ["good", "fair", "weak", "none"];
    let mut best: BTreeMap<String, String> = BTreeMap::new();
    for group in GROUPS {
        let strengths: BTreeSet<usize> = at
            .map(|at| at.preservatives.as_slice())
            .unwrap_or_default()
            .iter()
            .filter(|reading| reading.window.as_ref().is_none_or(|window| window.inside))
            .filter_map(|reading| reading.spectrum.get(group))
            .filter_map(|strength| order.iter().position(|word| word == strength))
            .collect();
        let word = strengths.first().map_or("not known", |position| order[*position]);
        best.insert(group.to_owned(), word.to_owned());
    }
    best
}

/// pH windows laid over each other.
pub(crate) fn windows(composition: &Composition, library: &Library, window: Option<[f64; 2]>) -> Overlap {
    overlap(composition, library, window.map(|[low, high]| (low, high)))
}

/// One point of a curve of working shares; shares from 0 to 1.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct SharePoint {
    /// pH, taken as exact.
    pub ph: f64,
    /// Share.
    pub share: f64,
    /// Its interval from constant and activity coefficient, coverage 0.95.
    pub interval: [f64; 2],
}

/// Working share of every weak-acid preservative over a range of pH, at the ionic strength of the product.
#[derive(Clone, Debug, Serialize)]
pub struct ShareCurve {
    /// Substance key as weighed.
    pub substance: String,
    /// Name of the form that acts.
    pub name: String,
    /// Points, pH ascending.
    pub points: Vec<SharePoint>,
}

/// The curves from pH `low` to `high`.
pub fn share_curves(
    mixture: &Mixture,
    composition: &Composition,
    library: &Library,
    (low, high): (f64, f64),
    points: usize,
) -> Vec<ShareCurve> {
    let mut curves: Vec<(ShareCurve, &str)> = composition
        .substances
        .iter()
        .filter(|(_, share)| share.percent > 0.0)
        .filter_map(|(key, _)| {
            let record = library.preservatives.get(key)?;
            let WorkingForm::Undissociated { species } = &record.working_form else { return None };
            let name = library.substances.get(&record.acts_as).map_or(&record.acts_as, |one| &one.name);
            let curve = ShareCurve { substance: key.clone(), name: name.clone(), points: Vec::new() };
            Some((curve, species.as_str()))
        })
        .collect();
    if curves.is_empty() || points < 2 {
        return Vec::new();
    }
    let shifter = Shifter::new(mixture);
    let mut workspace = Workspace::new();
    for step in 0..points {
        #[expect(clippy::cast_precision_loss, reason = "a few dozen points")]
        let ph = low + (high - low) * step as f64 / (points - 1) as f64;
        if shifter.at(ph, &mut workspace).is_none() {
            continue;
        }
        let at = AtPh::shifted(mixture, &workspace);
        for (curve, species) in &mut curves {
            let acid = Acid { species, component: None };
            if let (Some(share), Some(interval)) = (at.undissociated_share(acid), at.share_interval(acid)) {
                curve.points.push(SharePoint { ph, share, interval });
            }
        }
    }
    curves.into_iter().map(|(curve, _)| curve).collect()
}
