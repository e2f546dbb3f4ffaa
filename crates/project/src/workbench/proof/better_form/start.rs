//! How the question begins for a formula: what it has now is the start, what it shall be are the wishes.
//!
//! Which lines move at first and how far is a habit, not a finding: what thickens, preserves, moistens or dissolves moves within its usual
//! level and from half to one and a half of what it is; anything else stays until a person lets it move.

use super::{AimField, BetterForm, LineField, May, WishField};
use crate::formula_file::FormulaFile;
use crate::workbench::assess::{Bench, facts_for, known};
use crate::workbench::draft::market_of;
use jiff::civil::Date;
use levigate_assess::Inquiry;
use levigate_assess::better::{Quantity, values};
use levigate_facts::Facts;
use levigate_formula::library::Material;
use levigate_formula::sheet::{Amount, Line};
use rust_decimal::prelude::FromPrimitive;
use rust_decimal::{Decimal, RoundingStrategy};
use serde::Serialize;

/// Functions whose lines move at first.
const MOVING: [&str; 5] = ["thickener", "preservative", "humectant", "emollient", "solvent"];
/// Steps by the level there is, percent: what a bench weighs without trouble.
const STEPS: [(Decimal, Decimal); 3] = [
    (Decimal::TWO, Decimal::from_parts(1, 0, 0, false, 1)),
    (Decimal::from_parts(5, 0, 0, false, 1), Decimal::from_parts(5, 0, 0, false, 2)),
    (Decimal::from_parts(1, 0, 0, false, 1), Decimal::from_parts(1, 0, 0, false, 2)),
];
/// Step of less than all of these.
const FINEST: Decimal = Decimal::from_parts(5, 0, 0, false, 3);
/// Step of a pH.
const PH_STEP: Decimal = Decimal::from_parts(5, 0, 0, false, 2);

/// The question for a formula, and what a page shows beside it.
#[derive(Clone, Debug, Default, Serialize)]
pub struct StartedForm {
    /// The question.
    pub form: BetterForm,
    /// Lines of the formula in its order.
    pub lines: Vec<LineShown>,
}

/// A line as it stands in the formula.
#[derive(Clone, Debug, Default, Serialize)]
pub struct LineShown {
    /// Raw material as its line names it.
    pub material: String,
    /// What it is now, in words: `0.35 %`, `to pH 3.8`, `q.s. 100`.
    pub now: String,
    /// Unit of its levels: `%`, `% active`, `pH`.
    pub unit: &'static str,
    /// Main function.
    pub function: String,
    /// Usual level, percent, where it is known.
    pub usual: Option<[f64; 2]>,
    /// Why it cannot move; empty where it can.
    pub stays: &'static str,
    /// Whether it may be left out.
    pub can_go: bool,
}

/// The question for a formula. `kept` is the one a person left: it stands again for the lines that are still there.
#[must_use]
pub fn started(
    facts: &Facts,
    (day, market): (Date, &str),
    formula: &FormulaFile,
    bench: Option<Bench<'_>>,
    kept: Option<&BetterForm>,
) -> StartedForm {
    let Ok(facts) = facts_for(facts, "formula", formula) else { return StartedForm::default() };
    let sheet = &formula.sheet;
    let material = |line: &Line| {
        let key = facts.names.resolve_material(&line.material).ok()?;
        facts.library.materials.get(key)
    };
    let mut form = BetterForm::default();
    let mut shown = Vec::new();
    let mut solved_once = false;
    for (_, line) in sheet.lines() {
        let own = material(line);
        let first_for_ph =
            matches!(line.amount, Amount::ToPh(_)) && !std::mem::replace(&mut solved_once, true);
        form.lines.push(line_field(line, own, sheet.target.ph.filter(|_| first_for_ph)));
        shown.push(line_shown(line, own));
    }
    if let Some(kept) = kept {
        form.lines = kept_lines(form.lines, &kept.lines);
        form.aims.clone_from(&kept.aims);
        form.wishes.clone_from(&kept.wishes);
        return StartedForm { form, lines: shown };
    }
    let preserving: Vec<usize> = sheet
        .lines()
        .enumerate()
        .filter(|(_, (_, line))| {
            material(line).is_some_and(|own| own.functions.iter().any(|one| one == "preservative"))
        })
        .map(|(place, _)| place)
        .collect();
    let plain = |word: &str| Quantity::plain(word);
    let mut asked: Vec<Quantity> = ["cost_per_kg", "viscosity_mpa_s", "natural_origin_percent"]
        .iter()
        .filter_map(|word| plain(word))
        .collect();
    asked.extend(preserving.iter().map(|line| Quantity::FreePreservative(*line)));
    let mut known = known(&facts);
    known.flow.bench = bench;
    let market = market_of(sheet, market, &facts.rules);
    let found = values(&Inquiry { sheet, known, day, market }, &asked).unwrap_or_default();
    let value = |place: usize| found.get(place).copied().flatten().filter(|value| value.is_finite());
    let aim = if value(0).is_some() { ("cost_per_kg", "least") } else { ("natural_origin_percent", "most") };
    form.aims.push(AimField { of: aim.0.to_owned(), want: aim.1.to_owned(), ..AimField::default() });
    let names: Vec<&str> = sheet.lines().map(|(_, line)| line.material.as_str()).collect();
    let mut wish = |of: &str, material: &str, least: Option<Decimal>, most: Option<Decimal>| {
        let typed = |end: Option<Decimal>| end.map(|end| end.normalize().to_string()).unwrap_or_default();
        let (of, material) = (of.to_owned(), material.to_owned());
        form.wishes.push(WishField {
            of,
            material,
            least: typed(least),
            most: typed(most),
            ..WishField::default()
        });
    };
    for (place, line) in preserving.iter().enumerate() {
        let once = names.iter().filter(|name| *name == &names[*line]).count() == 1;
        if let Some(free) = value(3 + place).filter(|free| *free > 0.0 && once) {
            wish("free_preservative_mg_kg", names[*line], digits(free, RoundingStrategy::ToZero), None);
        }
    }
    if let Some(target) = &sheet.target.viscosity {
        if value(1).is_some() {
            wish("viscosity_mpa_s", "", Some(target.mpa_s[0]), Some(target.mpa_s[1]));
        }
    } else if let Some(now) = value(1).filter(|now| *now > 10.0) {
        let end = |share: f64, how| digits(now * share, how);
        wish(
            "viscosity_mpa_s",
            "",
            end(0.8, RoundingStrategy::ToZero),
            end(1.25, RoundingStrategy::AwayFromZero),
        );
    }
    wish("limit_use_percent", "", None, Some(Decimal::ONE_HUNDRED));
    if let Some(least) = sheet.target.natural_origin_percent
        && aim.0 == "cost_per_kg"
    {
        wish("natural_origin_percent", "", Some(least), None);
    }
    StartedForm { form, lines: shown }
}

/// Lines as they were left, each for the same raw material in the same turn.
fn kept_lines(fresh: Vec<LineField>, kept: &[LineField]) -> Vec<LineField> {
    let mut left: Vec<&LineField> = kept.iter().collect();
    fresh
        .into_iter()
        .map(|line| match left.iter().position(|kept| kept.material == line.material) {
            Some(place) => left.remove(place).clone(),
            None => LineField { may: May::Stay, ..line },
        })
        .collect()
}

/// Two digits of a value.
fn digits(value: f64, how: RoundingStrategy) -> Option<Decimal> {
    Decimal::from_f64(value)?.round_sf_with_strategy(2, how)
}

fn line_field(line: &Line, material: Option<&Material>, window: Option<[Decimal; 2]>) -> LineField {
    let mut field = LineField { material: line.material.clone(), ..LineField::default() };
    let typed = |end: Decimal| end.normalize().to_string();
    match line.amount {
        Amount::ToPh(ph) => {
            let [low, high] = window.unwrap_or([ph - Decimal::new(2, 1), ph + Decimal::new(2, 1)]);
            (field.least, field.most, field.step) = (typed(low), typed(high), typed(PH_STEP));
            if window.is_some_and(|[low, high]| low < high) {
                field.may = May::Move;
            }
        }
        Amount::Percent(now) | Amount::ActivePercent(now) => {
            let step = STEPS.iter().find(|(from, _)| now >= *from).map_or(FINEST, |(_, step)| *step);
            let usual = material.and_then(|own| own.use_level_percent.as_ref());
            // The usual level speaks of the material as supplied.
            let usual = usual.filter(|_| matches!(line.amount, Amount::Percent(_)));
            let [mut low, mut high] = [now / Decimal::TWO, now * Decimal::new(15, 1)];
            if let Some([least, most]) =
                usual.and_then(|usual| Some([Decimal::from_f64(usual.low)?, Decimal::from_f64(usual.high)?]))
            {
                (low, high) = if now.is_zero() { (least, most) } else { (low.max(least), high.min(most)) };
            }
            if !now.is_zero() {
                (low, high) = (low.min(now), high.max(now));
            }
            let low = ((low / step).floor() * step).max(step);
            let high = ((high / step).ceil() * step).min(Decimal::ONE_HUNDRED).max(low);
            (field.least, field.most, field.step) = (typed(low), typed(high), typed(step));
            let main = material.and_then(|own| own.functions.first());
            if main.is_some_and(|main| MOVING.contains(&main.as_str())) && !now.is_zero() {
                field.may = May::Move;
            }
        }
        Amount::Remainder(_) => {}
    }
    field
}

fn line_shown(line: &Line, material: Option<&Material>) -> LineShown {
    let (now, unit, stays) = match line.amount {
        Amount::Percent(percent) => (format!("{} %", percent.normalize()), "%", ""),
        Amount::ActivePercent(percent) => (format!("{} % active", percent.normalize()), "% active", ""),
        Amount::ToPh(ph) => (format!("to pH {}", ph.normalize()), "pH", ""),
        Amount::Remainder(_) => ("q.s. 100".to_owned(), "%", "it takes up what the others leave"),
    };
    let usual = material.and_then(|own| own.use_level_percent.as_ref()).map(|usual| [usual.low, usual.high]);
    let stays =
        if material.is_none() && stays.is_empty() { "its raw material is not known here" } else { stays };
    LineShown {
        material: line.material.clone(),
        now,
        unit,
        function: material.and_then(|own| own.functions.first().cloned()).unwrap_or_default(),
        usual,
        stays,
        can_go: stays.is_empty() && !matches!(line.amount, Amount::ToPh(_)),
    }
}
