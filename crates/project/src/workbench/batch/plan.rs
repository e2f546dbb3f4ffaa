//! The plan of a batch, from the batch sheet of a saved version with the lots that are to be taken.

use crate::batch_sheet::{BatchLine, BatchOrder, BatchSheet, BatchStep, Part, Practice, SheetCaution};
use crate::diagnostic::Diagnostic;
use crate::formula_file;
use crate::records::{FormulaVersion, Kept, Lot, LotTaken, Plan, PlanCaution, PlanLine, PlanStep, StepKind};
use crate::workbench::assess::{diagnose, facts_for, known};
use crate::workbench::draft::market_of;
use crate::workbench::keeping::{FieldFault, KeepError};
use crate::workbench::lots::lot_of;
use crate::workbench::sheet::{Balance, version_code};
use jiff::civil::Date;
use levigate_assess::Inquiry;
use levigate_facts::Facts;
use levigate_formula::sheet::{Sheet, Target};
use levigate_measure::weighing::BalanceRecord;
use rust_decimal::Decimal;

/// Name of a version's text in messages.
const FILE: &str = "formula";
/// From this temperature on, C, so much water goes off an open beaker that it is weighed back. Common practice, no source.
const WATER_GOES_OFF_C: Decimal = Decimal::from_parts(40, 0, 0, false, 0);

/// What a plan is made from.
#[derive(Clone, Debug)]
pub struct PlanOrder<'a> {
    /// Facts that count.
    pub facts: &'a Facts,
    /// The day.
    pub day: Date,
    /// The version that is made.
    pub version: &'a Kept<FormulaVersion>,
    /// Batch size, g; the formula's own when not given.
    pub size_g: Option<Decimal>,
    /// Balances; the formula's own when there is none.
    pub balances: &'a [BalanceRecord],
    /// Lots of the workspace.
    pub lots: &'a [Kept<Lot>],
    /// Lots to be taken, line by line from 0.
    pub taken: &'a [LotTaken],
}

/// Makes the plan.
///
/// # Errors
/// The version cannot be assessed or weighed in this size on this balance; each fault with its field.
pub fn plan(order: &PlanOrder<'_>) -> Result<Plan, KeepError> {
    let text = &order.version.what.text;
    let unreadable = |list: Vec<Diagnostic>| {
        let what = list.first().map(|one| one.what.clone()).unwrap_or_default();
        KeepError::from(FieldFault::new(
            "version",
            &format!("version {} cannot be made: {what}", order.version.number),
            "a plan is made from a formula that can be assessed",
            "mend the formula and save it, then start the batch",
        ))
    };
    let file = formula_file::read(FILE, text).map_err(unreadable)?;
    let facts = facts_for(order.facts, FILE, &file).map_err(unreadable)?;
    let mut sheet = file.sheet.clone();
    if let Some(size_g) = order.size_g {
        sheet.batch.size_g = size_g;
    }
    take_lots(&mut sheet, &facts, order);
    let market = market_of(&sheet, "eu", &facts.rules);
    let inquiry = Inquiry { sheet: &sheet, known: known(&facts), day: order.day, market };
    let assessed = levigate_assess::assess(&inquiry).map_err(|error| unreadable(diagnose(&file, &error)))?;
    let balances = balances(&sheet, order.balances)?;
    let first = balances.first().ok_or_else(|| no_balance("there is none", "name one"))?;
    let practice = Practice::shipped().map_err(|error| no_balance(&error.to_string(), "mend the facts"))?;
    let code = version_code(text);
    let made = BatchSheet::build(&BatchOrder {
        sheet: &sheet,
        composition: &assessed.composition,
        library: &facts.library,
        size_g: sheet.batch.size_g,
        balance: first,
        practice: &practice,
        procedure: None,
        version_code: &code,
        date: &order.day.to_string(),
    })
    .map_err(|error| {
        let why = "what is weighed must be a number that the balance can show";
        FieldFault::new("size", &error.to_string(), why, error.hint())
    })?;
    Ok(Plan {
        product: made.product.clone(),
        version: order.version.number,
        version_code: code,
        size_g: made.size_g,
        balances: balances.iter().map(|balance| balance.record().clone()).collect(),
        steps: steps(&made, &sheet.target),
    })
}

/// Names the lots on the lines of the sheet, and lets the assay of each on file decide where the line itself gives none.
fn take_lots(sheet: &mut Sheet, facts: &Facts, order: &PlanOrder<'_>) {
    let lines = sheet.phases.iter_mut().flat_map(|phase| &mut phase.lines);
    for (at, line) in lines.enumerate() {
        if let Some(taken) = order.taken.iter().find(|taken| taken.line == at) {
            line.lot = Some(taken.code.clone());
        }
        let Some(code) = &line.lot else { continue };
        let Ok(key) = facts.names.resolve_material(&line.material) else { continue };
        let has_active = facts.library.materials.get(key).is_some_and(|record| record.active.is_some());
        if has_active && line.assay_percent.is_none() {
            line.assay_percent = lot_of(order.lots, key, code).and_then(assay);
        }
    }
}

/// The assay of a lot, where it is a share.
pub(super) fn assay(lot: &Kept<Lot>) -> Option<Decimal> {
    let assay = lot.what.assay_percent.as_ref()?.value?;
    (assay > Decimal::ZERO && assay <= Decimal::ONE_HUNDRED).then_some(assay)
}

fn no_balance(what: &str, what_now: &str) -> KeepError {
    FieldFault::new("balance", what, "what is weighed is rounded to what the balance shows", what_now).into()
}

fn balances(sheet: &Sheet, given: &[BalanceRecord]) -> Result<Vec<Balance>, KeepError> {
    let checked = |balance: Result<Balance, levigate_measure::weighing::WeighingError>| {
        balance.map_err(|error| no_balance(&error.to_string(), error.hint()))
    };
    if given.is_empty() {
        return Ok(vec![checked(Balance::with_readability(sheet.batch.balance_g))?]);
    }
    given.iter().map(|record| checked(Balance::try_from(record.clone()))).collect()
}

/// One instruction after the other: per phase the lines, then what is done with them, then what is added to a pH; at the end the
/// water that went off, and the checks of the brief.
fn steps(made: &BatchSheet, target: &Target) -> Vec<PlanStep> {
    let mut steps = Vec::new();
    for phase in &made.steps {
        let (to_ph, weighed): (Vec<&BatchLine>, Vec<&BatchLine>) =
            phase.lines.iter().partition(|line| matches!(line.part, Part::ToPh { .. }));
        steps.extend(weighed.into_iter().map(|line| weighing(phase, line)));
        if let Some(work) = working(phase) {
            steps.push(work);
        }
        steps.extend(to_ph.into_iter().map(|line| weighing(phase, line)));
    }
    let hot = made.steps.iter().filter_map(|step| step.temperature_c).any(|hot| hot >= WATER_GOES_OFF_C);
    if hot {
        let text = "Weigh the vessel with the batch, give back the water that went off, stir it in";
        let why = "Water goes off an open hot vessel, and everything else becomes stronger by it.";
        steps.push(PlanStep { why: why.to_owned(), ..bare(StepKind::MakeUp, text) });
    }
    let checks = checks(target);
    if !checks.is_empty() {
        steps.push(PlanStep { checks, ..bare(StepKind::Check, "Check the batch against the brief") });
    }
    for (at, step) in steps.iter_mut().enumerate() {
        step.number = at + 1;
    }
    steps
}

fn bare(kind: StepKind, text: &str) -> PlanStep {
    PlanStep {
        number: 0,
        kind,
        phase: String::new(),
        text: text.to_owned(),
        why: String::new(),
        line: None,
        temperature_c: None,
        speed_rpm: None,
        hold_min: None,
        checks: Vec::new(),
        cautions: Vec::new(),
    }
}

fn cautions(list: &[SheetCaution]) -> Vec<PlanCaution> {
    let caution = |one: &SheetCaution| PlanCaution {
        hazard: one.hazard.clone(),
        text: one.text.clone(),
        source: one.source.clone(),
    };
    list.iter().map(caution).collect()
}

fn weighing(phase: &BatchStep, line: &BatchLine) -> PlanStep {
    let (kind, text, to_ph, first_g) = match &line.part {
        Part::ToPh { ph, first_g, .. } => {
            let text = format!("Add {} in portions until the pH is {ph}", line.name);
            (StepKind::Adjust, text, Some(*ph), Some(*first_g))
        }
        _ => (StepKind::Weigh, format!("Weigh {}", line.name), None, None),
    };
    let text = match &line.note {
        Some(note) => format!("{text} ({note})"),
        None => text,
    };
    let planned = PlanLine {
        number: line.number,
        material: line.material.clone(),
        name: line.name.clone(),
        percent: line.percent,
        grams: line.grams,
        tolerance_percent: line.tolerance_percent,
        tolerance_g: line.tolerance_g,
        remainder: line.part == Part::Remainder,
        to_ph,
        first_g,
        lot: line.lot.clone().unwrap_or_default(),
    };
    PlanStep {
        phase: phase.phase.clone(),
        line: Some(planned),
        cautions: cautions(&line.cautions),
        ..bare(kind, &text)
    }
}

fn working(phase: &BatchStep) -> Option<PlanStep> {
    if phase.instruction.is_none() && phase.temperature_c.is_none() && phase.cautions.is_empty() {
        return None;
    }
    let text = match (&phase.instruction, phase.temperature_c) {
        (Some(words), _) => words.clone(),
        (None, Some(celsius)) => format!("Bring phase {} to {celsius} \u{00B0}C", phase.phase),
        (None, None) => format!("Work phase {}", phase.phase),
    };
    Some(PlanStep {
        phase: phase.phase.clone(),
        temperature_c: phase.temperature_c,
        cautions: cautions(&phase.cautions),
        ..bare(StepKind::Work, &text)
    })
}

fn checks(target: &Target) -> Vec<String> {
    let mut checks = Vec::new();
    if let Some([low, high]) = target.ph {
        checks.push(format!("pH {low} to {high}"));
    }
    if let Some(viscosity) = &target.viscosity {
        let [low, high] = viscosity.mpa_s;
        let mut words = format!("viscosity {low} to {high} mPa\u{00B7}s");
        let spindle = viscosity.spindle.as_ref().map(|spindle| format!("spindle {spindle}"));
        let speed = viscosity.speed_rpm.map(|speed| format!("{speed} rpm"));
        let warm = viscosity.temperature_c.map(|celsius| format!("{celsius} \u{00B0}C"));
        let age = viscosity.age_h.map(|age| format!("after {age} h"));
        for condition in [spindle, speed, warm, age].into_iter().flatten() {
            words.push_str(", ");
            words.push_str(&condition);
        }
        checks.push(words);
    }
    if let Some(clarity) = &target.clarity {
        checks.push(format!("clarity: {clarity}"));
    }
    checks
}
