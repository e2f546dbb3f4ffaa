//! What may be aimed at or wished of a formula, read by the functions of an assessment.

use crate::assess::Assessed;
use crate::assess::Inquiry;
use crate::flow::{self, at_shear_rate, ready};
use crate::mixture::Mixture;
use crate::preserving;
use levigate_formula::composition::Composition;
use levigate_formula::density::density;
use levigate_formula::library::InWater;
use levigate_formula::settle::{Basis, Settled};
use levigate_formula::sheet::Sheet;
use levigate_measure::elementary::Elementary as _;
use levigate_measure::{Grade, Outcome};
use levigate_rules::cost::{CostQuestion, cost};
use levigate_rules::limits::{LimitReading, Verdict, limits};
use levigate_rules::natural::natural_content;
use levigate_rules::question::Question;
use levigate_rules::usage::Usage;
use rust_decimal::prelude::ToPrimitive;
use std::cell::OnceCell;

/// Parts per million of a percent.
const MG_KG_PER_PERCENT: f64 = 1e4;
/// Share of a maximum that stands for "not permitted at all", percent.
const FORBIDDEN: f64 = 1e4;

/// Words of the quantities with unit and name.
pub const WORDS: [(&str, &str, &str); 15] = [
    ("cost_per_kg", "currency/kg", "cost"),
    ("natural_origin_percent", "%", "natural origin"),
    ("natural_origin_dry_percent", "%", "natural origin without water"),
    ("ph", "", "pH"),
    ("viscosity_mpa_s", "mPa s", "viscosity"),
    ("free_preservative_mg_kg", "mg/kg", "free preservative"),
    ("adjuster_percent", "%", "acid or base for the pH"),
    ("osmolality_mol_kg", "mol/kg water", "osmolality"),
    ("ionic_strength_mol_kg", "mol/kg water", "ionic strength"),
    ("buffer_mmol_kg", "mmol/kg per pH", "buffer capacity"),
    ("water_percent", "% w/w", "water"),
    ("oil_percent", "% w/w", "oil"),
    ("limit_use_percent", "%", "use of the nearest legal limit"),
    ("materials", "", "count of materials"),
    ("stops", "", "findings that say stop"),
];

/// What may be aimed at or wished.
#[derive(Clone, Debug, PartialEq)]
pub enum Quantity {
    /// One of [`WORDS`] that needs nothing else.
    Plain(&'static str),
    /// Viscosity at a shear rate, 1/s.
    ViscosityAt(f64),
    /// Working form of what the line holds as a preservative.
    FreePreservative(usize),
    /// Percent of lines as supplied, each times its factor.
    Sum(Vec<(usize, f64)>),
    /// Percent of some lines over percent of others.
    Ratio(Vec<usize>, Vec<usize>),
}

/// A formula as far as it must be solved to be read.
pub(crate) struct Solved<'s, 'a> {
    sheet: &'s Sheet,
    settled: &'s Settled<'a>,
    composition: &'s Composition,
    mixture: &'s Mixture,
    lines: &'s [usize],
    /// Asked for by several quantities, and the dearest of them all.
    preservation: OnceCell<preserving::PreservationReading>,
}

impl Quantity {
    /// The quantity of a word that needs nothing else.
    #[must_use]
    pub fn plain(word: &str) -> Option<Self> {
        let known = WORDS.iter().find(|(known, ..)| *known == word && *known != "free_preservative_mg_kg");
        known.map(|(known, ..)| Self::Plain(known))
    }

    /// Whether more of it is usually wanted.
    #[must_use]
    pub fn usually_most(&self) -> bool {
        matches!(self, Self::FreePreservative(_))
            || matches!(self, Self::Plain(word) if word.starts_with("natural") || word.starts_with("buffer"))
    }

    /// Unit.
    #[must_use]
    pub fn unit(&self) -> &'static str {
        match self {
            Self::Plain(word) => {
                WORDS.iter().find(|(known, ..)| known == word).map_or("", |(_, unit, _)| *unit)
            }
            Self::ViscosityAt(_) => "mPa s",
            Self::FreePreservative(_) => "mg/kg",
            Self::Sum(_) => "%",
            Self::Ratio(..) => "",
        }
    }

    /// Read on a logarithmic scale in the search: there a viscosity is nearly straight.
    pub(super) fn is_logarithmic(&self) -> bool {
        matches!(self, Self::ViscosityAt(_) | Self::Plain("viscosity_mpa_s"))
    }

    /// What the search reads for a value.
    pub(super) fn inner(&self, value: f64) -> f64 {
        if self.is_logarithmic() { value.max(1e-9).log_e() } else { value }
    }

    /// The value of what the search reads.
    pub(super) fn outer(&self, inner: f64) -> f64 {
        if self.is_logarithmic() { inner.exp_e() } else { inner }
    }

    /// What counts as one unit of it beside a limit.
    pub(super) fn scale(&self, limit: f64) -> f64 {
        match self {
            Self::Plain("ph") => 0.1,
            Self::Plain("materials" | "stops") => 1.0,
            quantity if quantity.is_logarithmic() => 0.05,
            _ => (0.05 * limit.abs()).max(1e-4),
        }
    }

    /// Whether only a whole assessment says it.
    pub(super) fn needs_all(&self) -> bool {
        matches!(self, Self::Plain("stops"))
    }

    /// Its value in a formula that is solved.
    pub(crate) fn of(&self, inquiry: &Inquiry<'_>, solved: &Solved<'_, '_>) -> Option<f64> {
        let known = &inquiry.known;
        let Solved { sheet, settled, composition, mixture, .. } = solved;
        let usage = Usage::of(&sheet.product);
        let ph = mixture.speciation.ph;
        let question = Question {
            composition,
            library: known.library,
            usage: &usage,
            day: inquiry.day,
            ph: Some((ph, ph)),
        };
        let percent = |line: usize| solved.percent(line);
        match self {
            Self::Plain("cost_per_kg") => {
                let asked = CostQuestion {
                    composition,
                    library: known.library,
                    day: inquiry.day,
                    loss_percent: None,
                    pack: None,
                    density: None,
                };
                cost(&asked).per_kg.value
            }
            Self::Plain("natural_origin_percent") => proven(&natural_content(&question).with_water),
            Self::Plain("natural_origin_dry_percent") => proven(&natural_content(&question).without_water),
            Self::Plain("ph") => Some(ph),
            Self::Plain("viscosity_mpa_s") => {
                let ready = solved.flow(inquiry);
                if ready.not_known.is_empty() {
                    let target = sheet.target.viscosity.clone();
                    return match target {
                        Some(conditions) => flow::at_conditions(&ready, &conditions, &known.flow).1.value,
                        None => at_shear_rate(&ready, flow::STATED_RATE).value,
                    };
                }
                None
            }
            Self::ViscosityAt(rate) => at_shear_rate(&solved.flow(inquiry), *rate).value,
            Self::FreePreservative(line) => {
                // A line that is out brings nothing.
                let Some(place) = solved.lines.iter().position(|own| own == line) else { return Some(0.0) };
                let settled = &settled.lines[place];
                let reading = solved.preservation(inquiry);
                let keys: Vec<&str> =
                    settled.constituents.iter().map(|part| part.substance.as_str()).collect();
                least_working(reading, &keys).or(Some(0.0))
            }
            Self::Plain("adjuster_percent") => {
                let solved =
                    settled.lines.iter().zip(&settled.basis).filter(|(_, basis)| **basis == Basis::ToPh);
                Some(solved.map(|(line, _)| line.percent).sum())
            }
            Self::Plain("osmolality_mol_kg") => Some(mixture.speciation.sum_of_molalities),
            Self::Plain("ionic_strength_mol_kg") => Some(mixture.speciation.ionic_strength),
            Self::Plain("buffer_mmol_kg") => {
                Some(mixture.sensitivities.buffer_capacity * mixture.phase.water_g / 100.0 * 1000.0)
            }
            Self::Plain("water_percent") => {
                Some(solved.sum_of(inquiry, |kind| matches!(kind, InWater::Water)))
            }
            Self::Plain("oil_percent") => Some(solved.sum_of(inquiry, |kind| matches!(kind, InWater::Oil))),
            Self::Plain("limit_use_percent") => {
                let market = known.rules.market(inquiry.market)?;
                Some(largest_use(&limits(&question, market)))
            }
            #[expect(clippy::cast_precision_loss, reason = "a count of lines")]
            Self::Plain("materials") => {
                Some(settled.lines.iter().filter(|line| line.percent > 0.0).count() as f64)
            }
            Self::Plain(_) => None,
            Self::Sum(lines) => Some(lines.iter().map(|(line, factor)| factor * percent(*line)).sum()),
            Self::Ratio(over, under) => {
                let sum = |lines: &[usize]| lines.iter().map(|line| percent(*line)).sum::<f64>();
                // Of nothing there is no ratio; far beyond any limit, it is not sought there.
                Some(sum(over) / sum(under).max(1e-6))
            }
        }
    }

    /// Its result in a formula that was assessed.
    pub(super) fn told(&self, assessed: &Assessed<'_>, lines: &[usize], value: f64) -> Outcome {
        let reading = &assessed.assessment;
        let plain = |method: &'static str| Outcome::new(value, self.unit(), Grade::Computed, method);
        match self {
            Self::Plain("cost_per_kg") => reading.rules.cost.per_kg.clone(),
            Self::Plain("natural_origin_percent") => by_bound(&reading.rules.natural.with_water),
            Self::Plain("natural_origin_dry_percent") => by_bound(&reading.rules.natural.without_water),
            Self::Plain("ph") => reading.ph.neat.clone(),
            Self::Plain("viscosity_mpa_s") => reading.flow.at_brief.clone(),
            Self::Plain("osmolality_mol_kg") => reading.ph.osmolality.clone(),
            Self::Plain("ionic_strength_mol_kg") => reading.ph.ionic_strength.clone(),
            Self::Plain("buffer_mmol_kg") => reading.ph.buffer_capacity.clone(),
            Self::Plain("water_percent") => reading.composition.water.clone(),
            Self::Plain("oil_percent") => reading.composition.oil_percent.clone(),
            Self::FreePreservative(line) => {
                let place = lines.iter().position(|own| own == line);
                let keys: Vec<&str> = place
                    .map(|place| &assessed.settled.lines[place])
                    .iter()
                    .flat_map(|line| &line.constituents)
                    .map(|part| part.substance.as_str())
                    .collect();
                let least = least_working(&reading.preservatives, &keys).unwrap_or(0.0);
                Outcome::new(
                    least,
                    self.unit(),
                    Grade::Computed,
                    "working form at the pH of the window where it is least",
                )
                .by("w * share * 10^4")
                .proved_by("tests/published/preservation.toml")
            }
            Self::Plain("adjuster_percent") => plain("solved by the equilibrium for the pH wanted"),
            Self::Plain("limit_use_percent") => plain("largest share of a maximum that is used up"),
            Self::Plain("materials" | "stops") => plain("counted"),
            Self::ViscosityAt(_) => {
                plain("flow of the composition").proved_by("tests/published/flow_prediction.toml")
            }
            Self::Plain(_) | Self::Sum(_) | Self::Ratio(..) => {
                plain("from the percent of the lines as supplied").proved_by("exact arithmetic")
            }
        }
    }
}

impl<'s, 'a> Solved<'s, 'a> {
    /// A sheet with what was solved of it; `lines` are those of the whole sheet for its own.
    pub(crate) fn new(
        sheet: &'s Sheet,
        (settled, composition, mixture): (&'s Settled<'a>, &'s Composition, &'s Mixture),
        lines: &'s [usize],
    ) -> Self {
        Self { sheet, settled, composition, mixture, lines, preservation: OnceCell::new() }
    }

    fn preservation(&self, inquiry: &Inquiry<'_>) -> &preserving::PreservationReading {
        self.preservation.get_or_init(|| {
            let window = self.sheet.target.ph.and_then(|[low, high]| Some([low.to_f64()?, high.to_f64()?]));
            let ask = preserving::Ask {
                composition: self.composition,
                library: inquiry.known.library,
                facts: inquiry.known.preservation,
                window,
                water_activity: &Outcome::refuse("", "not asked", "not asked"),
            };
            preserving::preservation(&ask, self.mixture)
        })
    }

    /// Percent of a line of the whole sheet as supplied; nothing where it is out.
    fn percent(&self, line: usize) -> f64 {
        let place = self.lines.iter().position(|own| *own == line);
        place.map_or(0.0, |place| self.settled.lines[place].percent)
    }

    fn flow(&self, inquiry: &Inquiry<'a>) -> flow::Flowing<'a> {
        let ask = flow::Ask {
            sheet: self.sheet,
            composition: self.composition,
            mixture: self.mixture,
            library: inquiry.known.library,
            density_g_ml: density(self.composition, inquiry.known.library).value,
            known: inquiry.known.flow,
        };
        ready(&ask, flow::brief_temperature(self.sheet.target.viscosity.as_ref()))
    }

    fn sum_of(&self, inquiry: &Inquiry<'_>, counts: impl Fn(&InWater) -> bool) -> f64 {
        let substances = &inquiry.known.library.substances;
        let counted = |key: &String| substances.get(key).is_some_and(|substance| counts(&substance.in_water));
        self.composition
            .substances
            .iter()
            .filter(|(key, _)| counted(key))
            .map(|(_, share)| share.percent)
            .sum()
    }
}

/// A content, or the least of it that is proved where something has no index.
fn proven(content: &Outcome) -> Option<f64> {
    content.value.or(content.low)
}

fn by_bound(content: &Outcome) -> Outcome {
    match (content.value, content.low) {
        (None, Some(low)) => Outcome::new(
            low,
            content.unit.clone(),
            content.grade,
            "least that is proved: what has no index counts as none",
        )
        .within(low, content.high.unwrap_or(f64::INFINITY), None)
        .proved_by("tests/published/rules_natural.toml"),
        _ => content.clone(),
    }
}

/// Least working form of a preservative over the pH looked at, mg per kg of product.
fn least_working(reading: &preserving::PreservationReading, keys: &[&str]) -> Option<f64> {
    let at = |at: &preserving::PreservationAt| {
        let own = at.preservatives.iter().find(|one| keys.contains(&one.substance.as_str()))?;
        own.working.value.map(|percent| percent * MG_KG_PER_PERCENT)
    };
    reading.at.iter().filter_map(at).reduce(f64::min)
}

/// Largest share of a maximum that is used up, percent.
fn largest_use(limits: &[LimitReading]) -> f64 {
    let of = |limit: &LimitReading| match limit.verdict {
        Verdict::Prohibited | Verdict::NotPermittedHere => Some(FORBIDDEN),
        Verdict::DoesNotApply => None,
        _ => {
            let most = limit.maximum_percent.filter(|most| *most > 0.0)?;
            limit.amount.value.map(|amount| 100.0 * amount / most)
        }
    };
    limits.iter().filter_map(of).fold(0.0, f64::max)
}
