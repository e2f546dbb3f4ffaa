//! What the figures of a sheet show: pH windows laid over each other, the titration with its adjuster, the working share of
//! preservatives against pH. Only numbers and names; `documents` draws.

use super::assess::{Bench, known};
use super::complaint::{Complaint, complaints};
use jiff::civil::Date;
use levigate_assess::preserving::{ShareCurve, share_curves};
use levigate_assess::titration::{self, Titration};
use levigate_assess::{Assessed, Inquiry, Known};
use levigate_facts::Facts;
use levigate_formula::preservation::{Overlap, WindowKind};
use levigate_formula::sheet::{Amount, Sheet};
use rust_decimal::prelude::ToPrimitive;

/// Points of a curve of working shares.
const SHARE_POINTS: usize = 57;
/// pH over which working shares are drawn.
const SHARE_RANGE: (f64, f64) = (2.0, 9.0);

/// What the figures of a sheet show.
#[derive(Clone, Debug)]
pub struct FigureData {
    /// pH window of the product.
    pub target: Option<[f64; 2]>,
    /// pH as it stands.
    pub ph: Option<f64>,
    /// pH windows of the lines.
    pub windows: Overlap,
    /// Titration with the adjuster that does the work; absent where no line is q.s. to a pH.
    pub titration: Option<Titration>,
    /// Working shares against pH.
    pub shares: Vec<ShareCurve>,
}

/// Why a window is one, in words.
#[must_use]
pub fn window_words(kind: WindowKind) -> &'static str {
    match kind {
        WindowKind::Target => "product",
        WindowKind::Works => "works",
        WindowKind::Survives => "survives",
        WindowKind::Preserves => "preserves",
    }
}

/// Computes what the figures show.
///
/// # Errors
/// Everything that is wrong with the sheet.
pub fn figure_data(
    facts: &Facts,
    day: Date,
    market: &str,
    sheet: &Sheet,
    bench: Option<Bench<'_>>,
) -> Result<FigureData, Vec<Complaint>> {
    let mut known = known(facts);
    known.flow.bench = bench;
    let inquiry = Inquiry { sheet, known, day, market };
    let assessed = levigate_assess::assess(&inquiry).map_err(|error| complaints(&error))?;
    Ok(FigureData {
        target: assessed.assessment.ph.target_neat,
        ph: assessed.assessment.ph.neat.value,
        titration: titration(sheet, &known, &assessed),
        shares: shares(&known, &assessed),
        windows: assessed.assessment.windows,
    })
}

fn titration(sheet: &Sheet, known: &Known<'_>, assessed: &Assessed<'_>) -> Option<Titration> {
    let adjusters = &assessed.assessment.adjusters;
    let works = |percent: Option<f64>| percent.is_some_and(|percent| percent > 0.0);
    let adjuster =
        adjusters.iter().find(|adjuster| works(adjuster.percent.value)).or_else(|| adjusters.first())?;
    let (_, line) = sheet.lines().nth(adjuster.line)?;
    let Amount::ToPh(aim) = line.amount else { return None };
    let material = *assessed.settled.materials.get(adjuster.line)?;
    let assay = line.assay_percent.and_then(|assay| assay.to_f64());
    titration::titrate(sheet, known, material, assay, aim.to_f64()?).ok()
}

fn shares(known: &Known<'_>, assessed: &Assessed<'_>) -> Vec<ShareCurve> {
    let (mixture, composition) = (&assessed.mixture, &assessed.composition);
    let mut curves = share_curves(mixture, composition, known.library, SHARE_RANGE, SHARE_POINTS);
    curves.retain(|curve| curve.points.len() > 1);
    curves
}

/// Whether a window is that of the product itself.
#[must_use]
pub fn is_target(kind: WindowKind) -> bool {
    kind == WindowKind::Target
}
