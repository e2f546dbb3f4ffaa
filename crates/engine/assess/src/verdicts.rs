//! What the written rules say: limits, allergens, label, fragrance certificates, natural origin, cost, exposure, pairs.

use jiff::civil::Date;
use levigate_formula::composition::Composition;
use levigate_formula::library::Library;
use levigate_formula::sheet::Sheet;
use levigate_measure::Outcome;
use levigate_rules::allergens::{AllergenReading, allergens};
use levigate_rules::book::RuleBook;
use levigate_rules::cost::{Cost, CostQuestion, Density, cost};
use levigate_rules::exposure::{ExposureFrame, applied_dose, frames};
use levigate_rules::ifra::{CertificateReading, certificates};
use levigate_rules::incompatibility::{IncompatibilityReading, incompatibilities};
use levigate_rules::label::{IngredientList, ingredient_list};
use levigate_rules::limits::{LimitReading, UnlistedReading, limits, unlisted_preservatives};
use levigate_rules::microbial::{MicrobialReading, microbial};
use levigate_rules::natural::{NaturalContent, natural_content};
use levigate_rules::question::Question;
use levigate_rules::usage::Usage;
use rust_decimal::prelude::ToPrimitive;
use serde::Serialize;

/// Everything the rules of one market say on one day.
#[derive(Clone, Debug, Serialize)]
pub struct Verdicts {
    /// Market.
    pub market: String,
    /// Whether rules for the market are on file.
    pub market_known: bool,
    /// Markets of the brief that no rules are on file for.
    pub markets_without_rules: Vec<String>,
    /// How the product is taken to be used.
    pub usage: Usage,
    /// Limits that speak of something in the formula.
    pub limits: Vec<LimitReading>,
    /// Substances that preserve without being listed as preservatives.
    pub unlisted: Vec<UnlistedReading>,
    /// Fragrance allergens.
    pub allergens: Vec<AllergenReading>,
    /// Ingredient list; absent where no label rules are on file.
    pub label: Option<IngredientList>,
    /// Fragrance certificates.
    pub certificates: Vec<CertificateReading>,
    /// Natural-origin content.
    pub natural: NaturalContent,
    /// Cost.
    pub cost: Cost,
    /// Frame for a margin of safety.
    pub exposure: Vec<ExposureReading>,
    /// Pairs that do not go together.
    pub pairs: Vec<IncompatibilityReading>,
    /// How many microbes the finished product may hold; absent where no class is on file.
    pub microbial: Option<MicrobialReading>,
}

/// Exposure to the product and to its actives.
#[derive(Clone, Debug, Serialize)]
pub struct ExposureReading {
    /// The default used.
    pub frame: ExposureFrame,
    /// Applied dose of the larger ingredients, by name.
    pub applied: Vec<(String, Outcome)>,
}

/// What the rules need to know besides the formula.
pub(crate) struct Ask<'a> {
    pub(crate) sheet: &'a Sheet,
    pub(crate) composition: &'a Composition,
    pub(crate) library: &'a Library,
    pub(crate) rules: &'a RuleBook,
    pub(crate) day: Date,
    pub(crate) market: &'a str,
    pub(crate) ph: Option<(f64, f64)>,
    pub(crate) ionic_strength: Option<f64>,
    pub(crate) density: &'a Outcome,
}

/// Applies the rules.
pub(crate) fn verdicts(ask: &Ask<'_>) -> Verdicts {
    let usage = Usage::of(&ask.sheet.product);
    let question = Question {
        composition: ask.composition,
        library: ask.library,
        usage: &usage,
        day: ask.day,
        ph: ask.ph,
    };
    let market = ask.rules.market(ask.market);
    let limit_readings = market.map(|market| limits(&question, market)).unwrap_or_default();
    let allergen_readings = market.map(|market| allergens(&question, market)).unwrap_or_default();
    let shelf_life = ask.sheet.target.shelf_life_months.and_then(|months| months.to_f64());
    let label = market.and_then(|market| {
        ingredient_list(&question, market, &limit_readings, &allergen_readings, shelf_life).ok()
    });
    let exposure = market
        .map(|market| frames(&usage, market))
        .unwrap_or_default()
        .into_iter()
        .map(|frame| ExposureReading { applied: applied(ask, &frame.product), frame })
        .collect();
    Verdicts {
        market: ask.market.to_owned(),
        market_known: market.is_some(),
        markets_without_rules: without_rules(ask),
        unlisted: market.map(|market| unlisted_preservatives(&question, market)).unwrap_or_default(),
        label,
        certificates: certificates(&question, None),
        natural: natural_content(&question),
        cost: cost(&CostQuestion {
            composition: ask.composition,
            library: ask.library,
            day: ask.day,
            loss_percent: None,
            pack: ask.sheet.target.pack.as_ref(),
            density: density_kg_m3(ask.density),
        }),
        exposure,
        microbial: microbial(
            &question,
            ask.rules.microbial.values(),
            ask.sheet.batch.water_cfu_per_ml.and_then(|count| count.to_f64()),
        ),
        pairs: incompatibilities(&question, ask.rules.incompatibilities.values(), ask.ionic_strength),
        limits: limit_readings,
        allergens: allergen_readings,
        usage,
    }
}

/// The market asked for and those of the brief, as far as nothing is on file for them.
fn without_rules(ask: &Ask<'_>) -> Vec<String> {
    let mut missing: Vec<String> = Vec::new();
    for market in std::iter::once(ask.market).chain(ask.sheet.product.markets.iter().map(String::as_str)) {
        let market = market.trim().to_lowercase();
        if ask.rules.market(&market).is_none() && !missing.contains(&market) {
            missing.push(market);
        }
    }
    missing
}

fn density_kg_m3(density: &Outcome) -> Option<Density> {
    Some(Density {
        low: density.low? * 1000.0,
        typical: density.value? * 1000.0,
        high: density.high? * 1000.0,
    })
}

/// Applied dose of what is in the product at one percent or more, water aside: what an assessor asks first.
fn applied(ask: &Ask<'_>, product: &Outcome) -> Vec<(String, Outcome)> {
    let mut doses: Vec<(f64, String, Outcome)> = ask
        .composition
        .substances
        .iter()
        .filter(|(_, share)| share.percent >= 1.0)
        .filter_map(|(key, share)| {
            let substance = ask.library.substances.get(key)?;
            if matches!(substance.in_water, levigate_formula::library::InWater::Water) {
                return None;
            }
            let name = substance.inci.clone().unwrap_or_else(|| substance.name.clone());
            Some((share.percent, name.clone(), applied_dose(product, &name, share.percent)))
        })
        .collect();
    doses.sort_by(|a, b| b.0.total_cmp(&a.0));
    doses.into_iter().map(|(_, name, dose)| (name, dose)).collect()
}
