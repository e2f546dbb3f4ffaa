//! How much of a thickener gives the viscosity wanted, and which levels to make when that is not sure.
//!
//! ```text
//! eta_z(p) = eta wanted        z = -2, 0, 2: the edges of the band and its middle, p the percent of the line
//! ```
//!
//! The formula is settled, solved and predicted anew for every level tried, so that what the thickener does to pH, salt and water counts. The
//! remainder takes up the difference. Levels are first tried in steps of a quarter over three decades; the lowest at which the viscosity rises
//! through the one wanted is then found by bracketing. Range: that of the prediction. Case: scenario 5, point 1, in
//! `tests/cross/scenarios.toml`.

use super::learning::{How, spindle_of};
use super::outcomes::STATED_RATE;
use super::{Flowing, brief_temperature, flowing_at};
use crate::assess::{AssessError, Inquiry, Known, assess};
use jiff::civil::Date;
use levigate_formula::sheet::{Amount, Sheet, ViscosityTarget};
use levigate_measure::elementary::Elementary as _;
use levigate_measure::root::bracketed;
use levigate_measure::{Grade, Outcome};
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;
use serde::Serialize;

/// Lowest level tried, %.
const LEAST_PERCENT: f64 = 0.01;
/// Highest level tried, %.
const MOST_PERCENT: f64 = 12.0;
/// Factor from one level tried to the next.
const STRIDE: f64 = 1.25;
/// A level known within this factor from end to end needs no ladder.
const SURE: f64 = 1.08;
/// Widest step of a ladder from its middle, as a factor: beyond it the curve between the rungs is no longer straight.
const WIDEST: f64 = 1.4;

/// What is wanted.
#[derive(Clone, Copy, Debug)]
pub struct LevelAsk<'a> {
    /// The formula.
    pub sheet: &'a Sheet,
    /// The line whose level is sought, from 0.
    pub line: usize,
    /// Conditions of the viscosity wanted; its window is not looked at.
    pub conditions: Option<&'a ViscosityTarget>,
    /// Shear rate instead of spindle and speed, 1/s.
    pub shear_rate: Option<f64>,
    /// Viscosity wanted, mPa s.
    pub mpa_s: f64,
    /// What is known.
    pub known: Known<'a>,
    /// Day.
    pub day: Date,
    /// Market.
    pub market: &'a str,
}

/// The level that gives a viscosity.
#[derive(Clone, Debug, Serialize)]
pub struct Level {
    /// Line, from 0.
    pub line: usize,
    /// Raw material as the line names it.
    pub material: String,
    /// How the viscosity is meant.
    pub condition: String,
    /// Viscosity wanted, mPa s.
    pub wanted: Outcome,
    /// Level, % of the product.
    pub level: Outcome,
    /// Levels to make, lowest first: one where the level is sure, three where it is not, none where it is refused.
    pub ladder: Vec<Rung>,
    /// Why so many, and what then.
    pub advice: String,
}

/// One level to make.
#[derive(Clone, Debug, Serialize)]
pub struct Rung {
    /// Level, %, as it can be weighed.
    pub percent: Outcome,
    /// Viscosity predicted there, mPa s.
    pub viscosity: Outcome,
}

/// ln of the viscosity at a level: lower edge, middle, upper edge.
type Three = [f64; 3];

struct Search<'a, 'q> {
    ask: &'q LevelAsk<'a>,
    how: How<'a>,
    temperature_c: f64,
}

impl Search<'_, '_> {
    /// Whether a level lies outside the doses, pH or salt that the evidence of its thickener covers.
    fn outside(&self, percent: f64) -> Result<bool, AssessError> {
        self.tried(percent, |flowing| {
            let sought = flowing.thickeners.iter().find(|one| one.lines.contains(&self.ask.line));
            sought.is_some_and(|one| !one.outside.is_empty())
        })
    }

    fn at(&self, percent: f64) -> Result<Three, AssessError> {
        self.tried(percent, |flowing| {
            let prediction = flowing.blend.predict();
            [-2.0, 0.0, 2.0].map(|z| self.how.shows(&prediction.edge(z)).log_e())
        })
    }

    /// The formula with another level, ready for its flow to be read.
    fn tried<T>(&self, percent: f64, read: impl FnOnce(&Flowing<'_>) -> T) -> Result<T, AssessError> {
        let ask = self.ask;
        let mut sheet = ask.sheet.clone();
        let line = sheet.phases.iter_mut().flat_map(|phase| &mut phase.lines).nth(ask.line);
        if let (Some(line), Ok(percent)) = (line, Decimal::try_from(percent)) {
            line.amount = Amount::Percent(percent.round_dp(6));
        }
        let inquiry = Inquiry { sheet: &sheet, known: ask.known, day: ask.day, market: ask.market };
        let assessed = assess(&inquiry)?;
        Ok(read(&flowing_at(&assessed, &sheet, &ask.known, self.temperature_c)))
    }

    /// The lowest level at which an edge rises through the viscosity wanted, out of the levels tried.
    fn crossing(&self, tried: &[(f64, Three)], edge: usize, ln_wanted: f64) -> Option<f64> {
        if tried.first().is_some_and(|(_, three)| three[edge] >= ln_wanted) {
            return None;
        }
        let pair =
            tried.windows(2).find(|pair| pair[0].1[edge] < ln_wanted && pair[1].1[edge] >= ln_wanted)?;
        let miss =
            |ln_percent: f64| self.at(ln_percent.exp_e()).map_or(f64::NAN, |three| three[edge] - ln_wanted);
        bracketed(miss, pair[0].0.log_e(), pair[1].0.log_e(), 1e-5, 60).ok().map(f64::exp_e)
    }
}

/// Seeks the level.
///
/// # Errors
/// [`AssessError`] where the formula cannot be assessed as it stands.
pub fn level(ask: &LevelAsk<'_>) -> Result<Level, AssessError> {
    let now = assess(&Inquiry { sheet: ask.sheet, known: ask.known, day: ask.day, market: ask.market })?;
    let temperature_c = brief_temperature(ask.conditions);
    let (how, condition, notes) = condition(ask, temperature_c);
    let material = ask.sheet.lines().nth(ask.line).map(|(_, line)| line.material.clone()).unwrap_or_default();
    let wanted = Outcome::new(ask.mpa_s, "mPa s", Grade::Measured, "as wanted").proved_by("as typed");
    let refused = |why: &str| Level {
        line: ask.line,
        material: material.clone(),
        condition: condition.clone(),
        wanted: wanted.clone(),
        level: Outcome::refuse("%", METHOD, why),
        ladder: Vec::new(),
        advice: String::new(),
    };
    let flowing = flowing_at(&now, ask.sheet, &ask.known, temperature_c);
    if let Some((_, name)) = flowing.not_known.first() {
        return Ok(refused(&format!("nothing is known of how {name} thickens")));
    }
    if !flowing.thickeners.iter().any(|one| one.lines.contains(&ask.line)) {
        return Ok(refused(&format!("{material} is no thickener whose law is known")));
    }
    let search = Search { ask, how, temperature_c };
    let mut tried: Vec<(f64, Three)> = Vec::new();
    let mut percent = LEAST_PERCENT;
    while percent <= MOST_PERCENT {
        // Above what the remainder leaves, the sheet no longer settles.
        let Ok(three) = search.at(percent) else { break };
        tried.push((percent, three));
        percent *= STRIDE;
    }
    let ln_wanted = (ask.mpa_s / 1e3).log_e();
    let Some(middle) = search.crossing(&tried, 1, ln_wanted) else {
        let (first, last) =
            (tried.first().map(|(_, three)| three[1]), tried.last().map(|(_, three)| three[1]));
        let reach = |ln: Option<f64>| ln.map_or(0.0, |ln| ln.exp_e() * 1e3);
        return Ok(refused(&format!(
            "no level between {LEAST_PERCENT} and {:.1} % gives {} mPa s: they give {:.0} to {:.0}",
            tried.last().map_or(LEAST_PERCENT, |(percent, _)| *percent),
            ask.mpa_s,
            reach(first),
            reach(last)
        )));
    };
    // The thick edge of the band needs least.
    let ends = [search.crossing(&tried, 2, ln_wanted), search.crossing(&tried, 0, ln_wanted)];
    let grade = if flowing.learned.is_some() { Grade::Calibrated } else { Grade::RuleOfThumb };
    let mut level = Outcome::new(middle, "%", grade, METHOD)
        .within(ends[0].unwrap_or(f64::NEG_INFINITY), ends[1].unwrap_or(f64::INFINITY), Some(0.95))
        .by("eta(p) = eta wanted")
        .valid_for("the evidence of the thickener; after a night's rest")
        .proved_by("tests/cross/scenarios.toml")
        .input("viscosity wanted", ask.mpa_s, "mPa s", None)
        .input("temperature", temperature_c, "C", None)
        .input_text("condition", condition.clone());
    for note in notes {
        level = level.note("assumed", note);
    }
    if let Some(learned) = &flowing.learned {
        level = level.note("learned", learned.clone());
    }
    if search.outside(middle)? {
        level = level.note(
            "outside-evidence",
            "at this level the thickener stands outside what its evidence covers; the interval is wider for it",
        );
    }
    let (ladder, advice) = ladder(&search, middle, ends)?;
    Ok(Level { line: ask.line, material, condition, wanted, level, ladder, advice })
}

const METHOD: &str = "the formula predicted anew at every level tried";

/// How the viscosity is meant, in words, and what was assumed for it.
fn condition<'a>(ask: &LevelAsk<'a>, temperature_c: f64) -> (How<'a>, String, Vec<String>) {
    if let Some(rate) = ask.shear_rate {
        return (How::ShearRate(rate), format!("at {rate} 1/s, {temperature_c} °C"), Vec::new());
    }
    let words = ask.conditions.and_then(|conditions| conditions.spindle.as_deref());
    let rpm = ask.conditions.and_then(|conditions| conditions.speed_rpm?.to_f64()).filter(|rpm| *rpm > 0.0);
    if let (Some(words), Some(rpm)) = (words, rpm)
        && let Some((spindle, assumed)) = spindle_of(&ask.known.flow, words, rpm, ask.mpa_s / 1e3)
    {
        let condition = format!("{} at {rpm} rpm, {temperature_c} °C", spindle.words());
        return (How::Dial(Some(spindle), rpm), condition, assumed);
    }
    let note =
        format!("no spindle known here and speed are named: the viscosity at {STATED_RATE} 1/s is meant");
    (How::ShearRate(STATED_RATE), format!("at {STATED_RATE} 1/s, {temperature_c} °C"), vec![note])
}

/// Step in which a level is weighed: 1, 2 or 5 times a power of ten, near a twentieth of it.
fn step_for(percent: f64) -> f64 {
    let rough = percent / 20.0;
    let decade = 10f64.to_the(rough.log_10().floor());
    let factor = match rough / decade {
        f if f < 1.5 => 1.0,
        f if f < 3.5 => 2.0,
        f if f < 7.5 => 5.0,
        _ => 10.0,
    };
    factor * decade
}

fn ladder(
    search: &Search<'_, '_>,
    middle: f64,
    ends: [Option<f64>; 2],
) -> Result<(Vec<Rung>, String), AssessError> {
    let step = step_for(middle);
    let round = |percent: f64| (percent / step).round() * step;
    let (low, high) = (ends[0].unwrap_or(middle / WIDEST), ends[1].unwrap_or(middle * WIDEST));
    let sure = high / low <= SURE;
    let rungs = if sure {
        vec![round(middle)]
    } else {
        let centre = round(middle);
        let below = round(low.max(middle / WIDEST)).min(centre - step).max(step);
        let above = round(high.min(middle * WIDEST)).max(centre + step);
        vec![below, centre, above]
    };
    let mut ladder = Vec::new();
    for percent in rungs {
        let [low, value, high] = search.at(percent)?.map(|ln| ln.exp_e() * 1e3);
        ladder.push(Rung {
            percent: Outcome::new(percent, "%", Grade::Computed, "rounded to what is weighed")
                .by("1, 2 or 5 times a power of ten, near a twentieth of the level")
                .proved_by("exact arithmetic"),
            viscosity: Outcome::new(value, "mPa s", Grade::RuleOfThumb, METHOD)
                .within(low, high, Some(0.95))
                .proved_by("tests/cross/scenarios.toml"),
        });
    }
    let advice = if sure {
        "The level is known well enough to make it at once.".to_owned()
    } else {
        "The level is not sure: make these three, read all alike after a night's rest, and enter the readings; the next level asked for is then tighter.".to_owned()
    };
    Ok((ladder, advice))
}
