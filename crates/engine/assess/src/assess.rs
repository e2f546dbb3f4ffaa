//! The assessment: settle, solve, read, judge, and write the findings.

use crate::acidity::acidity;
use crate::acids::{acids, neutral_forms};
use crate::certainty;
use crate::contents::{composition_reading, line_readings};
use crate::findings;
use crate::flow::{self, Flowing, KnownFlow, Prediction};
use crate::metals::{brought, metals};
use crate::mixture::{self, Mixture, MixtureError};
use crate::preserving;
use crate::reading::{AdjusterReading, Assessment};
use crate::saturation;
use crate::verdicts::{Ask, verdicts};
use crate::warming::warming;
use crate::weighability::{WeighingPractice, weighing};
use jiff::civil::Date;
use levigate_formula::aqueous::{AqueousError, Chemistry};
use levigate_formula::composition::Composition;
use levigate_formula::library::{Library, Material};
use levigate_formula::names::Names;
use levigate_formula::preservation::PreservationFacts;
use levigate_formula::settle::{Basis, SettleError, Settled, settle};
use levigate_formula::sheet::Sheet;
use levigate_rules::book::RuleBook;
use rust_decimal::prelude::ToPrimitive;

/// All that is known besides the formula.
#[derive(Clone, Copy, Debug)]
pub struct Known<'a> {
    /// Substances, raw materials, preservatives.
    pub library: &'a Library,
    /// Their names.
    pub names: &'a Names,
    /// Equilibrium constants.
    pub chemistry: &'a Chemistry,
    /// Facts of preservation.
    pub preservation: &'a PreservationFacts,
    /// Rules.
    pub rules: &'a RuleBook,
    /// Flow.
    pub flow: KnownFlow<'a>,
    /// How the laboratory weighs.
    pub weighing: &'a WeighingPractice,
}

/// The question.
#[derive(Clone, Copy, Debug)]
pub struct Inquiry<'a> {
    /// The formula.
    pub sheet: &'a Sheet,
    /// What is known.
    pub known: Known<'a>,
    /// The day the rules are read for.
    pub day: Date,
    /// The market whose rules are read.
    pub market: &'a str,
}

/// Why a formula cannot be assessed.
#[derive(Clone, Debug, PartialEq)]
pub enum AssessError {
    /// The sheet cannot be settled; everything that is wrong with it.
    Settle(Vec<SettleError>),
    /// The mixture has no answer.
    Mixture(MixtureError),
}

impl From<MixtureError> for AssessError {
    fn from(error: MixtureError) -> Self {
        Self::Mixture(error)
    }
}

impl From<AqueousError> for AssessError {
    fn from(error: AqueousError) -> Self {
        Self::Mixture(MixtureError::Aqueous(error))
    }
}

/// An assessment with the intermediate results that other verbs build on.
#[derive(Clone, Debug)]
pub struct Assessed<'a> {
    /// The readings.
    pub assessment: Assessment,
    /// Settled lines, adjusters included.
    pub settled: Settled<'a>,
    /// Composition.
    pub composition: Composition,
    /// The solved water phase.
    pub mixture: Mixture,
    /// How it flows.
    pub flow: Prediction,
    /// What that was computed from, to compute it again with other parameters.
    pub flowing: Flowing<'a>,
}

/// A sheet settled with its adjusters, its composition and its solved water phase.
///
/// # Errors
/// [`AssessError`] for a sheet that cannot be settled or solved.
pub fn solved<'a>(
    sheet: &Sheet,
    known: &Known<'a>,
) -> Result<(Settled<'a>, Composition, Mixture), AssessError> {
    let mut settled = settle(sheet, |typed| resolve(known, typed)).map_err(AssessError::Settle)?;
    let (extra, _) = brought(sheet, known.chemistry);
    let mixture = mixture::solve(&mut settled, known.library, known.chemistry, &extra)?;
    let composition = Composition::of(settled.lines.clone());
    Ok((settled, composition, mixture))
}

pub(crate) fn resolve<'a>(known: &Known<'a>, typed: &str) -> Result<&'a Material, Vec<String>> {
    let key = known.names.resolve_material(typed)?;
    known.library.materials.get(key).ok_or_else(Vec::new)
}

/// Assesses a formula.
///
/// # Errors
/// [`AssessError`] for a sheet that cannot be settled or solved; a formula that is merely bad is assessed.
pub fn assess<'a>(inquiry: &Inquiry<'a>) -> Result<Assessed<'a>, AssessError> {
    let Inquiry { sheet, known, day, market } = *inquiry;
    let (settled, composition, mixture) = solved(sheet, &known)?;
    let (extra, not_known) = brought(sheet, known.chemistry);
    let mut lines = line_readings(&settled, sheet, known.library);
    let contents = composition_reading(&settled, &composition, sheet, known.library);
    let certainty = certainty::interval(&mixture, &composition, known.library, known.chemistry);
    let interval = &certainty.interval;
    for line in lines.iter_mut().filter(|line| line.basis == Basis::ToPh.word()) {
        line.percent =
            certainty::adjuster(line.percent.clone(), &mixture, interval, &settled, line.line, known.library);
    }
    let ph = acidity(sheet, &mixture, known.chemistry, &certainty)?;
    let window = ph.target_neat.map(|[low, high]| (low, high));
    // The rules and the chemistry of a known pH wait for nothing of each other and take about as long.
    let (by_rule, by_chemistry) = rayon::join(
        || {
            let verdicts = verdicts(&Ask {
                sheet,
                composition: &composition,
                library: known.library,
                rules: known.rules,
                day,
                market,
                ph: Some((interval.low, interval.high))
                    .filter(|(low, high)| low.is_finite() && high.is_finite())
                    .or(window),
                ionic_strength: ph.ionic_strength.value,
                density: &contents.density,
            });
            (verdicts, weighing(sheet, &settled, &composition, known.weighing))
        },
        || -> Result<_, AqueousError> {
            let metals = metals(&mixture, known.chemistry, &extra, not_known);
            let preservatives = preserving::preservation(
                &preserving::Ask {
                    composition: &composition,
                    library: known.library,
                    facts: known.preservation,
                    window: ph.target_neat,
                    water_activity: &ph.water_activity,
                },
                &mixture,
            );
            let forms = neutral_forms(&mixture.system, known.library);
            let acids = acids(&mixture, &forms, interval, &composition, known.library);
            let saturation = saturation::saturation(
                sheet,
                &mixture,
                &composition,
                &forms,
                known.library,
                known.chemistry,
            )?;
            let flow = flow::flow(&flow::Ask {
                sheet,
                composition: &composition,
                mixture: &mixture,
                library: known.library,
                density_g_ml: contents.density.value,
                known: known.flow,
            });
            let windows = preserving::windows(&composition, known.library, ph.target_neat);
            let adjusters = adjusters(&settled, &lines, &mixture, &known);
            Ok((metals, preservatives, acids, saturation, flow, windows, adjusters))
        },
    );
    let (verdicts, weighing) = by_rule;
    let (metals, preservatives, acids, saturation, (flowing, prediction, flow), windows, adjusters) =
        by_chemistry?;
    let mut found = findings::rules::findings(&verdicts);
    found.extend(findings::brief::findings(
        sheet,
        &composition,
        known.library,
        &contents,
        &lines,
        &ph,
        &verdicts,
    ));
    found.extend(findings::water::findings(
        &mixture,
        &composition,
        known.library,
        &ph,
        &metals,
        !sheet.target.metals_mg_kg.is_empty(),
    ));
    found.extend(findings::preserving::findings(&preservatives, &windows, &lines));
    found.extend(findings::saturation::findings(&saturation, sheet, &composition, known.library));
    found.extend(findings::flow::findings(sheet, &flowing, &flow));
    found.extend(findings::making::findings(sheet, &settled));
    found.extend(findings::making::warming(&adjusters));
    if let Some(weighing) = &weighing {
        found.extend(findings::weighing::findings(weighing, &lines));
    }
    findings::each_once(&mut found);
    let assessment = Assessment {
        as_of: day.to_string(),
        lines,
        composition: contents,
        ph,
        acids,
        adjusters,
        preservatives,
        windows,
        saturation,
        metals,
        flow,
        rules: verdicts,
        weighing,
        findings: findings::in_order(found),
    };
    Ok(Assessed { assessment, settled, composition, mixture, flow: prediction, flowing })
}

fn adjusters(
    settled: &Settled<'_>,
    lines: &[crate::reading::LineReading],
    mixture: &Mixture,
    known: &Known<'_>,
) -> Vec<AdjusterReading> {
    let Some((wanted, aim)) = &settled.to_ph else { return Vec::new() };
    let mut readings = Vec::new();
    for &line in wanted {
        let (Some(reading), Some(to_ph)) = (lines.get(line), aim.to_f64()) else { continue };
        let percent = settled.lines[line].percent;
        readings.push(AdjusterReading {
            line,
            name: reading.name.clone(),
            to_ph,
            percent: reading.percent.clone(),
            warms_by: warming(mixture, settled, line, percent, known.chemistry, known.library),
        });
    }
    readings
}
