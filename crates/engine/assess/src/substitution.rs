//! A raw material is gone or dear: what could stand in its place, and what that does to each formula that uses it.
//!
//! What could stand in its place shares its main function; how near it is, is told property by property (`nearness`). Each is put into
//! the formula and the whole is assessed anew. How much of it goes in follows a rule where there is one: a preservative in the amount that
//! gives the same working form where that is least, a thickener in the amount that gives the same viscosity, an acid or base in the amount
//! that gives the same pH; anything else in the same percent as supplied, and that is said. Nothing is called equal.

mod nearness;

pub use nearness::{PropertyReading, main_substance, nearness};

use crate::assess::{AssessError, Assessed, Inquiry, Known, assess, solved};
use crate::better::{FindingBrief, Quantity, Solved, beside, usual, weighty};
use crate::flow::level::{LevelAsk, level};
use jiff::civil::Date;
use levigate_formula::composition::Composition;
use levigate_formula::library::{InWater, Material};
use levigate_formula::settle::{Basis, active_share};
use levigate_formula::sheet::{Amount, Sheet};
use levigate_measure::elementary::Elementary as _;
use levigate_measure::root::bracketed;
use levigate_measure::{Grade, Note, Outcome};
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;
use serde::Serialize;

/// Percent between which an amount is sought.
const AMOUNTS: [f64; 2] = [0.005, 10.0];
/// Digits of a percent that is proposed.
const DIGITS: u32 = 3;

/// What is asked.
#[derive(Clone, Copy, Debug)]
pub struct Wanted<'w> {
    /// What is known.
    pub known: Known<'w>,
    /// Day.
    pub day: Date,
    /// Market.
    pub market: &'w str,
    /// Key of the raw material that is gone.
    pub material: &'w str,
    /// Keys of raw materials to put in its place; the nearest ones where there are none.
    pub with: &'w [String],
    /// How many of the nearest.
    pub most: usize,
}

/// What could stand in the place of a raw material.
#[derive(Clone, Debug, Serialize)]
pub struct SubstitutionReading {
    /// Raw material that is gone.
    pub material: String,
    /// Its functions, the main one first.
    pub functions: Vec<String>,
    /// Formulas that do not use it.
    pub without: Vec<String>,
    /// Other raw materials by which a formula has the same main substance: they are not exchanged.
    pub also: Vec<BroughtReading>,
    /// Candidates, the nearest first.
    pub candidates: Vec<CandidateReading>,
    /// What must be known.
    pub notes: Vec<Note>,
}

/// Another raw material by which a formula has the main substance of the one that is gone.
#[derive(Clone, Debug, Serialize)]
pub struct BroughtReading {
    /// Product.
    pub product: String,
    /// Line, from 0.
    pub line: usize,
    /// Raw material of the line.
    pub material: String,
    /// The substance.
    pub substance: String,
    /// Percent of it that the line brings.
    pub percent: Outcome,
}

/// One raw material that could stand in its place.
#[derive(Clone, Debug, Serialize)]
pub struct CandidateReading {
    /// Key.
    pub key: String,
    /// Name.
    pub material: String,
    /// How far it is, 0 to 1: the mean over the properties, one that is not known counted as half way.
    pub distance: Outcome,
    /// Property by property.
    pub properties: Vec<PropertyReading>,
    /// In each formula that uses the one that is gone.
    pub formulas: Vec<ConsequenceReading>,
}

/// What a substitution does to one formula.
#[derive(Clone, Debug, Serialize)]
pub struct ConsequenceReading {
    /// Product.
    pub product: String,
    /// Line, from 0.
    pub line: usize,
    /// Percent of the one that is gone, as supplied.
    pub before: Outcome,
    /// Percent proposed.
    pub amount: Outcome,
    /// By which rule.
    pub rule: String,
    /// Why it cannot be assessed, where it cannot.
    pub refused: Option<String>,
    /// What changes: name, before, after.
    pub changes: Vec<ChangeReading>,
    /// Ingredient list, where it changes.
    pub label: Option<String>,
    /// Findings that come.
    pub gained: Vec<FindingBrief>,
    /// Findings that go.
    pub lost: Vec<FindingBrief>,
    /// The formula then, where it can be assessed.
    #[serde(skip)]
    pub sheet: Option<Sheet>,
}

/// One reading before and after.
#[derive(Clone, Debug, Serialize)]
pub struct ChangeReading {
    /// Name.
    pub name: &'static str,
    /// Before.
    pub before: Outcome,
    /// After.
    pub after: Outcome,
}

/// Finds candidates and puts them into the formulas.
///
/// # Errors
/// [`AssessError`] with the place of the formula that cannot be assessed as it stands.
pub fn substitution(
    wanted: &Wanted<'_>,
    gone: &Material,
    sheets: &[&Sheet],
) -> Result<SubstitutionReading, (usize, AssessError)> {
    let known = &wanted.known;
    let mut candidates: Vec<(CandidateReading, &Material)> = known
        .library
        .materials
        .values()
        .filter(|other| other.key != gone.key)
        .filter(|other| {
            if wanted.with.is_empty() {
                gone.functions.first().is_some_and(|main| other.functions.contains(main))
            } else {
                wanted.with.contains(&other.key)
            }
        })
        .map(|other| {
            let (distance, properties) = nearness(gone, other, wanted);
            (
                CandidateReading {
                    key: other.key.clone(),
                    material: other.name.clone(),
                    distance,
                    properties,
                    formulas: Vec::new(),
                },
                other,
            )
        })
        .collect();
    let far = |one: &CandidateReading| one.distance.value.unwrap_or(1.0);
    candidates.sort_by(|a, b| far(&a.0).total_cmp(&far(&b.0)).then_with(|| a.1.key.cmp(&b.1.key)));
    if wanted.with.is_empty() {
        candidates.truncate(wanted.most);
    }
    let (mut without, mut also) = (Vec::new(), Vec::new());
    for (place, sheet) in sheets.iter().enumerate() {
        let inquiry = Inquiry { sheet, known: *known, day: wanted.day, market: wanted.market };
        let before = assess(&inquiry).map_err(|error| (place, error))?;
        let own: Vec<usize> = before
            .settled
            .lines
            .iter()
            .filter(|line| line.material == gone.key)
            .map(|line| line.line)
            .collect();
        also.extend(brought(wanted, gone, sheet, &before));
        if own.is_empty() {
            without.push(sheet.product.name.clone());
        }
        for line in own {
            for (reading, other) in &mut candidates {
                reading.formulas.push(consequence(&inquiry, &before, line, other));
            }
        }
    }
    Ok(SubstitutionReading {
        material: gone.name.clone(),
        functions: gone.functions.clone(),
        without,
        also,
        candidates: candidates.into_iter().map(|(reading, _)| reading).collect(),
        notes: vec![
            Note::new(
                "nothing-equal",
                "Near is not equal: what is not on file (feel, smell, colour, stability, how it is made) is not in the distance. Make the trial.",
            ),
            Note::new(
                "not-known",
                "A property that is not known of one of the two counts as half way, not as equal.",
            ),
        ],
    })
}

/// Lines of other raw materials that bring the main substance of the one that is gone.
fn brought(
    wanted: &Wanted<'_>,
    gone: &Material,
    sheet: &Sheet,
    before: &Assessed<'_>,
) -> Vec<BroughtReading> {
    let Some(substance) = main_substance(gone, wanted.known.library) else { return Vec::new() };
    if matches!(substance.in_water, InWater::Water) {
        return Vec::new();
    }
    let Some(share) = before.composition.substances.get(&substance.key) else { return Vec::new() };
    let found = share.from.iter().filter_map(|part| {
        let line = before.settled.lines.get(part.line).filter(|line| line.material != gone.key)?;
        Some(BroughtReading {
            product: sheet.product.name.clone(),
            line: part.line,
            material: wanted.known.library.materials.get(&line.material)?.name.clone(),
            substance: substance.name.clone(),
            percent: Outcome::new(part.percent, "% w/w", Grade::Computed, "its share of the line")
                .within(part.low, part.high, None)
                .proved_by("exact decimal"),
        })
    });
    found.collect()
}

/// Puts a raw material into a line and assesses the whole.
fn consequence(
    inquiry: &Inquiry<'_>,
    before: &Assessed<'_>,
    line: usize,
    other: &Material,
) -> ConsequenceReading {
    let was = before.settled.lines[line].percent;
    let percent = |value: f64, method: &'static str| Outcome::new(value, "% w/w", Grade::Computed, method);
    let (sheet, rule) = exchanged(inquiry, before, line, other);
    let after = assess(&Inquiry { sheet: &sheet, ..*inquiry });
    let mut reading = ConsequenceReading {
        product: inquiry.sheet.product.name.clone(),
        line,
        before: percent(was, "as the formula has it").proved_by("exact decimal"),
        amount: Outcome::refuse("% w/w", "as the formula then has it", "it cannot be assessed"),
        rule,
        refused: None,
        changes: Vec::new(),
        label: None,
        gained: Vec::new(),
        lost: Vec::new(),
        sheet: None,
    };
    let after = match after {
        Ok(after) => after,
        Err(error) => {
            reading.refused = Some(match error {
                AssessError::Settle(errors) => {
                    errors.iter().map(ToString::to_string).collect::<Vec<_>>().join("; ")
                }
                AssessError::Mixture(error) => error.to_string(),
            });
            return reading;
        }
    };
    reading.amount =
        percent(after.settled.lines[line].percent, "as the formula then has it").proved_by("exact decimal");
    let (one, two) = (&before.assessment, &after.assessment);
    reading.changes = usual(one)
        .into_iter()
        .zip(usual(two))
        .map(|(before, after)| ChangeReading {
            name: before.name,
            before: before.reading,
            after: after.reading,
        })
        .collect();
    let label =
        |assessment: &crate::Assessment| assessment.rules.label.as_ref().map(|label| label.text.clone());
    reading.label = label(two).filter(|text| Some(text) != label(one).as_ref());
    let all: Vec<usize> = (0..before.settled.lines.len()).collect();
    let (before, after) = (weighty(before, &all), weighty(&after, &all));
    reading.gained = beside(&after, &before);
    reading.lost = beside(&before, &after);
    reading.sheet = Some(sheet);
    reading
}

/// The sheet with another raw material in a line, and by which rule its amount was found.
fn exchanged(inquiry: &Inquiry<'_>, before: &Assessed<'_>, line: usize, other: &Material) -> (Sheet, String) {
    let name = match inquiry.known.names.resolve_material(&other.name) {
        Ok(key) if key == other.key => other.name.clone(),
        _ => other.key.clone(),
    };
    let mut sheet = inquiry.sheet.clone();
    let parts: Vec<Option<usize>> =
        sheet.steps.iter().flat_map(|step| &step.lines).map(|part| inquiry.sheet.line_of(part)).collect();
    let settled = &before.settled.lines[line];
    let same = Decimal::try_from(settled.percent).unwrap_or_default().round_dp(6).normalize();
    let typed = sheet.phases.iter_mut().flat_map(|phase| &mut phase.lines).nth(line);
    let Some(typed) = typed else { return (sheet, String::new()) };
    typed.material = name;
    (typed.lot, typed.assay_percent) = (None, None);
    let was = typed.amount;
    typed.amount = match was {
        Amount::ActivePercent(active) if active_share(other).is_some() => Amount::ActivePercent(active),
        Amount::ActivePercent(_) => Amount::Percent(same),
        amount => amount,
    };
    let now = typed.amount;
    // Steps name lines by their raw material.
    let named: Vec<_> =
        parts.into_iter().map(|part| part.and_then(|line| sheet.part_of(line, None))).collect();
    for (part, named) in sheet.steps.iter_mut().flat_map(|step| &mut step.lines).zip(named) {
        if let Some(named) = named {
            (part.material, part.nth) = (named.material, named.nth);
        }
    }
    match (before.settled.basis[line], now) {
        (Basis::ToPh, _) => (sheet, "same pH: solved by the equilibrium".to_owned()),
        (Basis::Remainder, _) => (sheet, "it takes up what the others leave".to_owned()),
        _ => match by_function(inquiry, before, line, &sheet) {
            Some((percent, rule)) => {
                set(&mut sheet, line, percent);
                (sheet, rule)
            }
            None if matches!(now, Amount::ActivePercent(_)) => {
                (sheet, "same percent of the active; no rule of equal function is known".to_owned())
            }
            None => (sheet, "same percent as supplied; no rule of equal function is known".to_owned()),
        },
    }
}

fn set(sheet: &mut Sheet, line: usize, percent: f64) {
    let level = Decimal::try_from(percent).unwrap_or_default().round_dp(DIGITS).normalize();
    if let Some(typed) = sheet.phases.iter_mut().flat_map(|phase| &mut phase.lines).nth(line) {
        typed.amount = Amount::Percent(level);
    }
}

/// The amount that does the same, where a rule says so.
fn by_function(
    inquiry: &Inquiry<'_>,
    before: &Assessed<'_>,
    line: usize,
    sheet: &Sheet,
) -> Option<(f64, String)> {
    let all: Vec<usize> = (0..before.settled.lines.len()).collect();
    let free = Quantity::FreePreservative(line);
    let own = Solved::new(inquiry.sheet, (&before.settled, &before.composition, &before.mixture), &all);
    let working = free.of(inquiry, &own).map(|working| working * of_line(inquiry, &before.composition, line));
    if let Some(working) = working.filter(|working| *working > 0.0) {
        let miss = |ln_percent: f64| {
            let mut tried = sheet.clone();
            set(&mut tried, line, ln_percent.exp_e());
            let Ok((settled, composition, mixture)) = solved(&tried, &inquiry.known) else { return f64::NAN };
            let own = Solved::new(&tried, (&settled, &composition, &mixture), &all);
            let value = free.of(&Inquiry { sheet: &tried, ..*inquiry }, &own).unwrap_or(0.0)
                * of_line(inquiry, &composition, line);
            (value.max(1e-9) / working).log_e()
        };
        let [low, high] = AMOUNTS.map(f64::log_e);
        let found = bracketed(miss, low, high, 1e-5, 60).ok()?.exp_e();
        let words = format!(
            "same working form where it is least over the pH of the brief, {} mg/kg; microbes answer each preservative differently",
            crate::findings::digits(working)
        );
        return Some((found, words));
    }
    let is_thickener = before.flowing.thickeners.iter().any(|one| one.lines.contains(&line));
    let wanted = before.assessment.flow.at_brief.value.filter(|_| is_thickener)?;
    let conditions = inquiry.sheet.target.viscosity.as_ref();
    let ask = LevelAsk {
        sheet,
        line,
        conditions,
        shear_rate: conditions.is_none().then_some(crate::flow::STATED_RATE),
        mpa_s: wanted,
        known: inquiry.known,
        day: inquiry.day,
        market: inquiry.market,
    };
    let percent = level(&ask).ok()?.level.value?;
    percent.to_f64().map(|percent| {
        (percent, format!("same viscosity as predicted, {} mPa s", crate::findings::digits(wanted)))
    })
}

/// Share of what a line brings of its preservative in all there is of it: another line may bring the same one.
fn of_line(inquiry: &Inquiry<'_>, composition: &Composition, line: usize) -> f64 {
    let own = composition.substances.iter().find_map(|(key, share)| {
        inquiry.known.library.preservatives.get(key)?;
        let from = share.from.iter().find(|part| part.line == line)?;
        (share.percent > 0.0).then(|| from.percent / share.percent)
    });
    own.unwrap_or(1.0)
}
